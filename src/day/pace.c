/* How long a route takes. */
#include "climb.h"

#include <math.h>
#include <stdlib.h>
#include <string.h>

#define FLAT_LENGTH 500.0 /* metres of ground plan that stay within the hysteresis */
#define HOUR 3600.0
#define RATE_LOW 0.1
#define RATE_HIGH 100.0
/* DIN 33466, an hour */
#define WALK_UP 300.0
#define WALK_DOWN 500.0
#define WALK_KM 4.0

/* ---- the option ---------------------------------------------------------- */

bool brant_pace_parse(const char *text, brant_pace *pace)
{
    double rates[3];
    char part[32];
    if (strcmp(text, "walk") == 0) {
        *pace = BRANT_PACE_DEFAULT;
        pace->walk = true;
        return true;
    }
    for (int i = 0; i < 3; i++) {
        size_t length = strcspn(text, ",");
        if (length >= sizeof part || (text[length] == ',') != (i < 2))
            return false;
        memcpy(part, text, length);
        part[length] = '\0';
        if (!brant_parse_number(part, &rates[i]) || rates[i] < RATE_LOW || rates[i] > RATE_HIGH)
            return false;
        text += length + 1; /* past the end after the third, and not read */
    }
    *pace = (brant_pace){false, rates[0], rates[1], rates[2]};
    return true;
}

/* ---- the profile --------------------------------------------------------- */

/* One segment, `count` samples. */
typedef struct profile {
    size_t count;
    const double *along;
    const float *known; /* NaN unknown */
    float *z;           /* bridged */
    double *level;      /* levelled: only rises, or only falls, between turning points */
    bool *flat;         /* the ground from a sample to the next */
    size_t *turns;      /* count + 1 */
    size_t *queue;      /* scratch, 2 * count */
} profile;

/* Straight from sample `a` to `b`, both known, along the ground plan. */
static void bridge(profile *p, size_t a, size_t b)
{
    double length = p->along[b] - p->along[a];
    for (size_t i = a + 1; i < b; i++) {
        double w = length > 0.0 ? (p->along[i] - p->along[a]) / length : 0.0;
        p->z[i] = (float)((double)p->known[a] + w * (double)(p->known[b] - p->known[a]));
    }
}

static void bridge_unknown(profile *p)
{
    size_t last = p->count; /* known; none yet */
    for (size_t i = 0; i < p->count; i++) {
        p->z[i] = last < p->count ? p->known[last] : 0.0f;
        if (isnan(p->known[i]))
            continue;
        p->z[i] = p->known[i];
        if (last < p->count)
            bridge(p, last, i);
        else
            for (size_t k = 0; k < i; k++)
                p->z[k] = p->known[i];
        last = i;
    }
}

/* From turning point `a` to `b`: the highest (lowest) reached so far, at most that of b. */
static void level_run(profile *p, size_t a, size_t b)
{
    double from = (double)p->z[a], to = (double)p->z[b], reached = from;
    p->level[a] = from;
    for (size_t i = a + 1; i <= b; i++) {
        if (to > from)
            reached = fmin(to, fmax(reached, (double)p->z[i]));
        else
            reached = fmax(to, fmin(reached, (double)p->z[i]));
        p->level[i] = reached;
    }
}

/* A queue of indices with the window's extreme in front: the largest of sign * level. */
typedef struct extreme {
    size_t *at, first, end;
    double sign;
} extreme;

static double extreme_of(const extreme *e, const double *level)
{
    return level[e->at[e->first]];
}

static void extreme_enter(extreme *e, const double *level, size_t i)
{
    while (e->end > e->first && e->sign * level[e->at[e->end - 1]] <= e->sign * level[i])
        e->end--;
    e->at[e->end++] = i;
}

static void extreme_leave(extreme *e, size_t i)
{
    if (e->end > e->first && e->at[e->first] == i)
        e->first++;
}

/* For each sample the longest stretch from it on that stays within the hysteresis. */
static void find_flats(profile *p)
{
    extreme high = {.at = p->queue, .sign = 1.0};
    extreme low = {.at = p->queue + p->count, .sign = -1.0};
    size_t next = 0, marked = 0; /* the stretch is i..next-1 */
    for (size_t i = 0; i < p->count; i++)
        p->flat[i] = false;
    for (size_t i = 0; i < p->count; i++) {
        while (next < p->count) {
            extreme_enter(&high, p->level, next);
            extreme_enter(&low, p->level, next);
            if (extreme_of(&high, p->level) - extreme_of(&low, p->level) >
                BRANT_CLIMB_HYSTERESIS)
                break; /* entered once more for the next i: an equal one takes its place */
            next++;
        }
        if (p->along[next - 1] - p->along[i] >= FLAT_LENGTH)
            for (marked = marked > i ? marked : i; marked + 1 < next; marked++)
                p->flat[marked] = true;
        extreme_leave(&high, i);
        extreme_leave(&low, i);
    }
}

/* ---- time ---------------------------------------------------------------- */

/* Hours of the trade's units; `way` 1 on rising, -1 on falling, 0 on flat ground. */
static double units(const brant_pace *pace, double km, double rise, int way)
{
    double rate = way > 0 ? pace->up : way < 0 ? pace->down : pace->flat;
    return (km + fabs(rise) / 100.0) / rate;
}

/* Hours of DIN 33466 for height alone. */
static double walk_height(double rise)
{
    return rise > 0.0 ? rise / WALK_UP : -rise / WALK_DOWN;
}

typedef struct timing {
    const brant_pace *pace;
    brant_pace_sums sums;
    double now; /* seconds at the last sample timed */
} timing;

static void add_sums(brant_pace_sums *s, double length, double rise, int way, bool unknown)
{
    *(rise > 0.0 ? &s->up_m : &s->down_m) += fabs(rise);
    *(way > 0 ? &s->rising_m : way < 0 ? &s->falling_m : &s->flat_m) += length;
    if (unknown)
        s->unknown_m += length;
}

/* The stretch between turning points `a` and `b`. */
static void time_run(timing *t, const profile *p, size_t a, size_t b, double *seconds)
{
    double net = p->level[b] - p->level[a];
    bool steep = walk_height(net) >= (p->along[b] - p->along[a]) / 1000.0 / WALK_KM;
    for (size_t i = a; i < b; i++) {
        double length = p->along[i + 1] - p->along[i], rise = p->level[i + 1] - p->level[i];
        double height = walk_height(rise), distance = length / 1000.0 / WALK_KM;
        int way = p->flat[i] ? 0 : (net > 0.0) - (net < 0.0);
        if (!t->pace->walk)
            t->now += HOUR * units(t->pace, length / 1000.0, rise, way);
        else
            t->now += HOUR * (steep ? height + distance / 2.0 : distance + height / 2.0);
        add_sums(&t->sums, length, rise, way, isnan(p->known[i]) || isnan(p->known[i + 1]));
        seconds[i + 1] = t->now;
    }
}

static void time_segment(timing *t, profile *p, double *seconds)
{
    bridge_unknown(p);
    size_t turns = brant_turning_points(p->z, p->count, BRANT_CLIMB_HYSTERESIS, p->turns);
    for (size_t k = 0; k + 1 < turns; k++)
        level_run(p, p->turns[k], p->turns[k + 1]);
    find_flats(p);
    seconds[0] = t->now;
    for (size_t k = 0; k + 1 < turns; k++)
        time_run(t, p, p->turns[k], p->turns[k + 1], seconds);
}

static void profile_clear(profile *p)
{
    free(p->z);
    free(p->level);
    free(p->flat);
    free(p->turns);
    free(p->queue);
}

brant_status brant_pace_times(brant_context *ctx, const brant_pace *pace, size_t count,
                              const double *along_m, const float *elevation_m, const bool *first,
                              double *seconds, brant_pace_sums *sums)
{
    timing t = {.pace = pace};
    profile p = {.z = brant_alloc(ctx, count, sizeof *p.z),
                 .level = brant_alloc(ctx, count, sizeof *p.level),
                 .flat = brant_alloc(ctx, count, sizeof *p.flat),
                 .turns = brant_alloc(ctx, count + 1, sizeof *p.turns),
                 .queue = brant_alloc(ctx, 2 * count, sizeof *p.queue)};
    brant_status status = BRANT_ERR_MEMORY;
    if (!p.z || !p.level || !p.flat || !p.turns || !p.queue)
        goto done;
    for (size_t start = 0, next; start < count; start = next) {
        for (next = start + 1; next < count && !(first && first[next]); next++)
            ;
        p.count = next - start;
        p.along = along_m + start;
        p.known = elevation_m + start;
        time_segment(&t, &p, seconds + start);
    }
    if (sums)
        *sums = t.sums;
    status = BRANT_OK;
done:
    profile_clear(&p);
    return status;
}

/* ---- reading the times --------------------------------------------------- */

double brant_pace_at(size_t count, const double *along_m, const double *seconds, double along)
{
    size_t low = 0, high = count - 1; /* the sample sought lies in low..high */
    while (low < high) {
        size_t middle = low + (high - low) / 2;
        if (along_m[middle] < along)
            low = middle + 1;
        else
            high = middle;
    }
    /* the first sample that is not before `along`, else the last */
    if (low == 0 || along >= along_m[low])
        return seconds[low];
    double length = along_m[low] - along_m[low - 1];
    return seconds[low - 1] +
           (seconds[low] - seconds[low - 1]) * (along - along_m[low - 1]) / length;
}

double brant_latest_leave(const double *seconds, size_t from, size_t to, double by)
{
    return by - BRANT_LATE * (seconds[to] - seconds[from]);
}
