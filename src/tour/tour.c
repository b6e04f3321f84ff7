/* A met track made a tour. */
#include "day.h"
#include "legs.h"

#include <stdlib.h>
#include <string.h>

/* ---- rank --------------------------------------------------------------- */

/* A leg's place among the legs: lower group first, then larger keys. */
typedef struct standing {
    uint32_t index;
    int tier, level; /* of the day: lower tier first, then higher level; 0 without a bulletin */
    int group;
    double keys[3];
} standing;

#define NOTHING 5 /* the group of legs on which nothing is found */

/* By what holds on the leg, not by the kind that names it: ground of unknown
 * slope right under a face ranks with that face. */
static standing stand_by_ground(const brant_leg *leg, uint32_t index)
{
    double length = leg->to_m - leg->from_m;
    double face = leg->governing ? leg->governing->face_m2 : 0;
    if (leg->is & (BRANT_IS(BRANT_KIND_CROSSES) | BRANT_IS(BRANT_KIND_OVER_BAND)))
        return (standing){index, 0, 0, 0, {face, length, 0}};
    if (leg->is & BRANT_IS(BRANT_KIND_EDGE))
        return (standing){index, 0, 0, 1, {face, length, 0}};
    if (leg->is & BRANT_IS(BRANT_KIND_UNDER))
        return (standing){index, 0, 0, 2, {(double)leg->reached_at_deg, face, length}};
    if (leg->is & BRANT_IS(BRANT_KIND_REMOTE))
        return (standing){index, 0, 0, 3, {length, 0, 0}};
    return (standing){index, 0, 0, leg->kind == BRANT_KIND_UNKNOWN ? 4 : NOTHING, {length, 0, 0}};
}

/* With a bulletin: first what cannot be judged, then what exceeds the limit or may, then by
 * level. A leg that meets nothing never comes before one that does. */
static standing stand(const brant_leg *leg, uint32_t index)
{
    standing s = stand_by_ground(leg, index);
    if (leg->level == BRANT_LEVEL_NONE)
        return s;
    bool unknown = leg->kind == BRANT_KIND_UNKNOWN || (leg->is & BRANT_IS(BRANT_KIND_UNKNOWN));
    if (s.group == NOTHING)
        s.tier = 3;
    else if (unknown || brant_level_rank(leg->level) >= BRANT_RANK_FIRST)
        s.tier = 0;
    else
        s.tier = leg->limit.over || leg->limit.unknown ? 1 : 2;
    if (s.tier == 1 || s.tier == 2)
        s.level = brant_level_rank(leg->level);
    return s;
}

static int by_standing(const void *a, const void *b)
{
    const standing *x = a, *y = b;
    if (x->tier != y->tier)
        return x->tier < y->tier ? -1 : 1;
    if (x->level != y->level)
        return x->level > y->level ? -1 : 1;
    if (x->group != y->group)
        return x->group < y->group ? -1 : 1;
    for (int i = 0; i < 3; i++)
        if (x->keys[i] != y->keys[i])
            return x->keys[i] > y->keys[i] ? -1 : 1;
    return (x->index > y->index) - (x->index < y->index);
}

brant_status brant_legs_rank(brant_context *ctx, brant_tour *tour)
{
    standing *order = brant_alloc(ctx, tour->leg_count, sizeof *order);
    tour->rank = brant_alloc(ctx, tour->leg_count, sizeof *tour->rank);
    if (!order || !tour->rank) {
        free(order);
        return BRANT_ERR_MEMORY;
    }
    for (size_t i = 0; i < tour->leg_count; i++)
        order[i] = stand(&tour->legs[i], (uint32_t)i);
    qsort(order, tour->leg_count, sizeof *order, by_standing);
    for (size_t i = 0; i < tour->leg_count; i++)
        tour->rank[i] = order[i].index;
    free(order);
    return BRANT_OK;
}

/* ---- the tour ----------------------------------------------------------- */

brant_status brant_tour_build(brant_context *ctx, const brant_meeting *meeting,
                              brant_track *track, brant_fact **facts, brant_tour *tour)
{
    memset(tour, 0, sizeof *tour);
    tour->track = *track;
    tour->facts = *facts;
    brant_status status = brant_legs_cut(ctx, meeting, tour);
    if (status == BRANT_OK)
        status = brant_legs_measure(ctx, meeting, tour);
    if (status == BRANT_OK)
        status = brant_legs_above(ctx, meeting, tour);
    if (status == BRANT_OK)
        status = brant_legs_waits(ctx, meeting, tour);
    if (status == BRANT_OK)
        status = brant_legs_rank(ctx, tour);
    if (status) { /* track and facts stay the caller's */
        memset(&tour->track, 0, sizeof tour->track);
        tour->facts = NULL;
        brant_tour_clear(tour);
        return status;
    }
    memset(track, 0, sizeof *track);
    *facts = NULL;
    return BRANT_OK;
}

brant_status brant_tour_day(brant_context *ctx, const brant_meeting *meeting,
                            brant_source *source, brant_tour *tour)
{
    brant_leg_ground *grounds = NULL;
    float *track_deg = NULL;
    if (!meeting->day)
        return BRANT_OK;
    brant_status status = brant_day_hours(ctx, meeting, tour);
    if (status == BRANT_OK && meeting->day->bulletin) {
        status = brant_leg_grounds(ctx, meeting, source, tour, &grounds, &track_deg);
        if (status == BRANT_OK)
            status = brant_day_levels(ctx, meeting, grounds, track_deg, tour);
        free(grounds);
        free(track_deg);
    }
    if (status != BRANT_OK)
        return status;
    brant_day_leave(meeting, tour);
    free(tour->rank);
    return brant_legs_rank(ctx, tour);
}

void brant_tour_clear(brant_tour *tour)
{
    brant_track_clear(&tour->track);
    free(tour->facts);
    free(tour->legs);
    free(tour->above);
    free(tour->rank);
    free(tour->waits);
    free(tour->overs);
    free(tour->stretches);
    free(tour->seconds);
    free(tour->over_if_higher.leg);
    free(tour->over_if_later.leg);
    memset(tour, 0, sizeof *tour);
}
