/* Metres climbed and descended. */
#include "climb.h"

#include <math.h>

/* A climb in progress. The profile is cut at turning points: its first and last
 * known elevation, and between them every highest (lowest) point from which it
 * falls (rises) by more than the hysteresis before it is passed again. Metres up
 * are the sum of the rises between successive turning points, metres down that
 * of the falls, so that up - down is always last - first. Noise that stays
 * within the hysteresis has no turning point and adds nothing. */
typedef struct climb {
    double hysteresis;
    double turn;      /* elevation of the last turning point */
    double low, high; /* extremes since then */
    size_t low_at, high_at; /* indices of those */
    int direction;    /* 1 rising, -1 falling, 0 not known yet */
    double up, down;
    size_t *turns;    /* indices of the turning points passed; NULL: not kept */
    size_t count;
} climb;

static void add_stretch(climb *c, double to, size_t at)
{
    if (to > c->turn)
        c->up += to - c->turn;
    else
        c->down += c->turn - to;
    c->turn = to;
    if (c->turns)
        c->turns[c->count++] = at;
}

/* Turn at the extreme behind us and set off the other way, now at `z`. The first
 * stretch sets off from the start itself: a dip within the hysteresis is noise. */
static void turn_round(climb *c, int direction, double z, size_t at)
{
    if (c->direction > 0)
        add_stretch(c, c->high, c->high_at);
    else if (c->direction < 0)
        add_stretch(c, c->low, c->low_at);
    c->direction = direction;
    c->low = c->high = z;
    c->low_at = c->high_at = at;
}

static void step(climb *c, double z, size_t at)
{
    if (z > c->high) {
        c->high = z;
        c->high_at = at;
    }
    if (z < c->low) {
        c->low = z;
        c->low_at = at;
    }
    if (c->direction <= 0 && z - c->low > c->hysteresis)
        turn_round(c, 1, z, at);
    else if (c->direction >= 0 && c->high - z > c->hysteresis)
        turn_round(c, -1, z, at);
}

/* All of a profile: the start is a turning point, and so is the last known point. */
static void walk(climb *c, const float *elevation, size_t count)
{
    size_t last = count;
    for (size_t i = 0; i < count; i++) {
        double z = (double)elevation[i];
        if (isnan(z))
            continue;
        if (last == count) {
            c->turn = c->low = c->high = z;
            c->low_at = c->high_at = i;
            if (c->turns)
                c->turns[c->count++] = i;
        }
        step(c, z, i);
        last = i;
    }
    if (last < count)
        add_stretch(c, (double)elevation[last], last);
}

size_t brant_turning_points(const float *elevation, size_t count, double hysteresis_m, size_t *at)
{
    climb c = {.hysteresis = hysteresis_m, .turns = at};
    walk(&c, elevation, count);
    return c.count;
}

void brant_climb(const float *elevation, size_t count, double hysteresis_m, double *up,
                 double *down)
{
    climb c = {.hysteresis = hysteresis_m};
    walk(&c, elevation, count);
    *up = c.up;
    *down = c.down;
}
