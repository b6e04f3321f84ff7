/* Levels and limits: the bulletin joined to each leg and to all the ground it meets. */
#include "day.h"
#include "place.h"

#include <math.h>
#include <stdlib.h>

/* How a leg is judged: as it is, one level more, or some hours later. */
typedef struct view {
    bool higher;
    double later_s;
} view;

typedef struct joiner {
    brant_context *ctx;
    const brant_meeting *meeting;
    const brant_leg_ground *grounds;
    const float *track_deg;
    brant_tour *tour;
} joiner;

/* What comes of it. */
typedef struct verdict {
    unsigned periods;
    brant_danger danger;          /* of all that counts */
    brant_limit limit;
    const brant_above *governing; /* NULL: the leg meets nothing */
    brant_danger of_governing;
    bool governing_over;
} verdict;

bool brant_above_counts(const brant_meeting *meeting, const brant_above *above)
{
    return above->on || above->edge || above->remote ||
           (double)above->reached_at_deg >=
               brant_zone_reach_angle(above->zone, meeting->options.reach_angle_deg);
}

brant_danger brant_day_zone(const brant_meeting *meeting, const brant_zone *zone,
                            unsigned periods)
{
    const brant_danger *of = meeting->day->zone_danger[zone - meeting->zones->zones];
    brant_danger danger = {.level = BRANT_LEVEL_NONE};
    for (int p = 0; p < BRANT_PERIODS; p++)
        if (periods >> p & 1u)
            danger = brant_danger_join(danger, of[p]);
    if (danger.level == BRANT_LEVEL_NONE)
        danger.level = BRANT_LEVEL_NOT_STATED;
    return danger;
}

static brant_danger seen(brant_danger danger, const view *v)
{
    if (v->higher)
        danger.level = brant_level_more(danger.level);
    return danger;
}

/* Is the sample on release ground that no zone holds? Zones of a file may leave some out. */
static bool is_unnumbered(const joiner *j, size_t sample)
{
    brant_place place;
    brant_place_of(j->meeting, &j->tour->track.samples[sample], &place);
    return (j->tour->facts[sample].is &
            (BRANT_IS(BRANT_KIND_CROSSES) | BRANT_IS(BRANT_KIND_OVER_BAND))) &&
           brant_zone_set_at(j->meeting->zones, place.col, place.row) == 0;
}

/* Of the leg's own samples, all or those on release ground that no zone holds; level NONE
 * without any. */
static brant_danger own_ground(const joiner *j, const brant_leg *leg, bool all, const view *v,
                               unsigned periods)
{
    brant_danger danger = {.level = BRANT_LEVEL_NONE};
    for (size_t i = leg->first_sample; i < leg->first_sample + leg->samples; i++) {
        const brant_fact *fact = &j->tour->facts[i];
        if (all || is_unnumbered(j, i))
            danger = brant_danger_join(
                danger, brant_bulletin_at(j->meeting->day->bulletin, (double)fact->aspect_deg,
                                          (double)fact->elevation_m, periods));
    }
    return seen(danger, v);
}

/* ---- the limit ---------------------------------------------------------- */

/* Unknown ground makes no difference where the known is steep enough. */
static double known_enough(const brant_leg_ground *ground, int which, double limit_deg)
{
    double deg = ground->steepest_deg[which];
    return ground->unknown[which] && deg < limit_deg ? NAN : deg;
}

static brant_limit limit_on(const joiner *j, brant_danger danger, const brant_leg_ground *ground)
{
    unsigned kinds = brant_problem_kinds(j->meeting->day->bulletin, danger.problems);
    brant_steepest steepest = {0};
    double limit_deg = brant_limit_of(danger.level, kinds, &steepest).limit_deg;
    steepest = (brant_steepest){known_enough(ground, 0, limit_deg),
                                known_enough(ground, 1, limit_deg),
                                known_enough(ground, 2, limit_deg)};
    return brant_limit_of(danger.level, kinds, &steepest);
}

/* Lower comes first. A zone whose only problem is wet does not take the limit from one where
 * the rule holds. */
static int order_of(const brant_limit *limit)
{
    if (limit->first)
        return 0;
    return limit->over ? 1 : limit->unknown ? 2 : isnan(limit->limit_deg) ? 4 : 3;
}

static brant_limit stricter(brant_limit a, brant_limit b)
{
    int x = order_of(&a), y = order_of(&b);
    if (x != y)
        return x < y ? a : b;
    return b.limit_deg < a.limit_deg ? b : a;
}

static double over_metres(const joiner *j, const brant_leg *leg, const brant_limit *limit)
{
    double metres = 0;
    if (!limit->over)
        return 0;
    if (limit->ground != BRANT_LIMIT_TRACK)
        return leg->to_m - leg->from_m;
    for (size_t k = 0; k < leg->samples; k++)
        if ((double)j->track_deg[leg->first_sample + k] >= limit->limit_deg)
            metres += brant_sample_metres(&j->tour->track, leg->first_sample + k);
    return metres;
}

/* ---- the governing slope ------------------------------------------------ */

/* Does the zone itself exceed the limit of its level? At level 2 the track counts. */
static bool zone_over(const joiner *j, const brant_above *above, brant_danger danger,
                      const brant_leg_ground *ground)
{
    double steepest = (double)above->zone->steepest_deg;
    double track = above->on || above->edge ? fmin(ground->steepest_deg[0], steepest) : 0;
    brant_leg_ground of_zone = {.steepest_deg = {track, steepest, steepest}};
    return limit_on(j, danger, &of_zone).over;
}

static bool governs(const brant_above *a, brant_danger danger, bool over, const verdict *v)
{
    const brant_above *b = v->governing;
    if (!b)
        return true;
    int x = brant_level_rank(danger.level), y = brant_level_rank(v->of_governing.level);
    if (x != y)
        return x > y;
    if (over != v->governing_over)
        return over;
    if (a->zone->face_m2 != b->zone->face_m2)
        return a->zone->face_m2 > b->zone->face_m2;
    if (a->reached_at_deg != b->reached_at_deg)
        return a->reached_at_deg > b->reached_at_deg;
    return a->zone->number < b->zone->number;
}

/* ---- a leg -------------------------------------------------------------- */

static void add_danger(const joiner *j, brant_danger danger, const brant_leg_ground *ground,
                       verdict *out)
{
    brant_limit limit = limit_on(j, danger, ground);
    out->limit = out->danger.level == BRANT_LEVEL_NONE ? limit : stricter(out->limit, limit);
    out->danger = brant_danger_join(out->danger, danger);
}

static verdict judge(const joiner *j, const brant_leg *leg, view v)
{
    const brant_leg_ground *ground = &j->grounds[leg - j->tour->legs];
    verdict out = {.periods = brant_day_periods(j->meeting->day, j->tour, leg->arrive_s,
                                                leg->leave_s, v.later_s)};
    for (size_t k = 0; k < leg->aboves; k++) {
        const brant_above *above = &j->tour->above[leg->first_above + k];
        if (!brant_above_counts(j->meeting, above))
            continue;
        brant_danger danger = seen(brant_day_zone(j->meeting, above->zone, out.periods), &v);
        bool over = zone_over(j, above, danger, ground);
        add_danger(j, danger, ground, &out);
        if (governs(above, danger, over, &out)) {
            out.governing = above;
            out.of_governing = danger;
            out.governing_over = over;
        }
    }
    /* ground of unknown slope may be of any aspect, whatever lies above it */
    bool all = !out.governing || (leg->is & BRANT_IS(BRANT_KIND_UNKNOWN));
    brant_danger own = own_ground(j, leg, all, &v, out.periods);
    if (all || own.level != BRANT_LEVEL_NONE)
        add_danger(j, own, ground, &out);
    return out;
}

static void join_leg(const joiner *j, brant_leg *leg)
{
    verdict v = judge(j, leg, (view){false, 0});
    leg->periods = v.periods;
    leg->level = v.danger.level;
    leg->level_lowered = v.danger.lowered;
    leg->problems = v.danger.problems;
    leg->limit = v.limit;
    leg->governing = v.governing ? v.governing->zone : NULL;
    leg->over_limit_m = over_metres(j, leg, &leg->limit);
    j->tour->over_m += leg->over_limit_m;
    if (leg->limit.unknown)
        j->tour->limit_unknown_m += leg->to_m - leg->from_m;
    for (size_t k = 0; k < leg->aboves; k++) {
        brant_above *above = &j->tour->above[leg->first_above + k];
        above->danger = brant_day_zone(j->meeting, above->zone, leg->periods);
    }
}

static void join_samples(const joiner *j)
{
    const brant_day *day = j->meeting->day;
    for (size_t i = 0; i < j->tour->track.count; i++) {
        brant_fact *fact = &j->tour->facts[i];
        double at = j->tour->seconds ? j->tour->seconds[i] : NAN;
        unsigned periods = brant_day_periods(day, j->tour, at, at, 0);
        fact->level = brant_bulletin_at(day->bulletin, (double)fact->aspect_deg,
                                        (double)fact->elevation_m, periods)
                          .level;
    }
}

/* ---- what if ------------------------------------------------------------ */

static brant_status what_if(const joiner *j, view v, brant_what_if *out)
{
    size_t capacity = 0;
    brant_status status = BRANT_OK;
    for (size_t i = 0; i < j->tour->leg_count && status == BRANT_OK; i++) {
        const brant_leg *leg = &j->tour->legs[i];
        if (leg->limit.over)
            continue;
        brant_limit limit = judge(j, leg, v).limit;
        if (!limit.over)
            continue;
        status = brant_grow(j->ctx, &out->leg, &capacity, out->legs + 1, sizeof *out->leg);
        if (status == BRANT_OK) {
            out->leg[out->legs++] = leg->number;
            out->metres += over_metres(j, leg, &limit);
        }
    }
    return status;
}

brant_status brant_day_levels(brant_context *ctx, const brant_meeting *meeting,
                              const brant_leg_ground *grounds, const float *track_deg,
                              brant_tour *tour)
{
    joiner j = {ctx, meeting, grounds, track_deg, tour};
    for (size_t i = 0; i < tour->leg_count; i++)
        join_leg(&j, &tour->legs[i]);
    join_samples(&j);
    brant_status status = what_if(&j, (view){true, 0}, &tour->over_if_higher);
    if (status == BRANT_OK && tour->seconds)
        status = what_if(&j, (view){false, 3600}, &tour->over_if_later);
    return status;
}
