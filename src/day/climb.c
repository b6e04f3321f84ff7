/* Metres climbed and descended. */
#include "brant/day.h"

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
    int direction;    /* 1 rising, -1 falling, 0 not known yet */
    double up, down;
} climb;

static void add_stretch(climb *c, double to)
{
    if (to > c->turn)
        c->up += to - c->turn;
    else
        c->down += c->turn - to;
    c->turn = to;
}

/* Turn at the extreme behind us and set off the other way, now at `z`. The first
 * stretch sets off from the start itself: a dip within the hysteresis is noise. */
static void turn_round(climb *c, int direction, double z)
{
    if (c->direction > 0)
        add_stretch(c, c->high);
    else if (c->direction < 0)
        add_stretch(c, c->low);
    c->direction = direction;
    c->low = c->high = z;
}

static void step(climb *c, double z)
{
    if (z > c->high)
        c->high = z;
    if (z < c->low)
        c->low = z;
    if (c->direction <= 0 && z - c->low > c->hysteresis)
        turn_round(c, 1, z);
    else if (c->direction >= 0 && c->high - z > c->hysteresis)
        turn_round(c, -1, z);
}

void brant_climb(const float *elevation, size_t count, double hysteresis_m, double *up,
                 double *down)
{
    climb c = {.hysteresis = hysteresis_m};
    double last = 0;
    bool started = false;
    for (size_t i = 0; i < count; i++) {
        double z = (double)elevation[i];
        if (isnan(z))
            continue;
        if (!started)
            c.turn = c.low = c.high = z;
        started = true;
        step(&c, z);
        last = z;
    }
    if (started)
        add_stretch(&c, last);
    *up = c.up;
    *down = c.down;
}
