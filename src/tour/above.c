/* The zones that each leg meets: on it, at its edge, or reaching it from above. */
#include "legs.h"
#include "remote.h"

#include <limits.h>
#include <math.h>
#include <stdlib.h>
#include <string.h>

/* What one sample, then one leg, has to do with a zone. */
typedef struct meeting_zone {
    uint32_t zone;
    float reached_at_deg; /* 0: it does not reach */
    float head_m;         /* NaN: it does not reach */
    bool on, edge, remote;
    float high_m, low_m;  /* as in brant_above */
} meeting_zone;

/* How many may come together before they are merged. */
#define MERGE_FROM ((size_t)1 << 14)

typedef struct collector {
    brant_context *ctx;
    const brant_meeting *meeting;
    brant_tour *tour;
    meeting_zone *found;
    size_t count, capacity;
    size_t above_capacity;
    brant_remote remote;
    brant_plane from_leg; /* release ground that can be triggered from the leg */
    int first_row, end_row; /* of it, all else is 0 */
} collector;

/* ---- collecting --------------------------------------------------------- */

/* A zone that is met, nothing said yet. */
static meeting_zone met(uint32_t zone)
{
    return (meeting_zone){.zone = zone, .head_m = NAN, .high_m = NAN, .low_m = NAN};
}

static meeting_zone met_on(uint32_t zone, float elevation_m, bool on)
{
    meeting_zone found = met(zone);
    found.on = on;
    found.edge = !on;
    found.high_m = isnan(elevation_m) ? INFINITY : elevation_m;
    return found;
}

static brant_status add_found(collector *c, meeting_zone found)
{
    brant_status status =
        brant_grow(c->ctx, &c->found, &c->capacity, c->count + 1, sizeof *c->found);
    if (status == BRANT_OK)
        c->found[c->count++] = found;
    return status;
}

/* The zone underfoot, and the other zones within the edge distance. */
static brant_status collect_near(collector *c, const brant_place *place, float elevation_m)
{
    double edge = c->meeting->options.edge_m;
    brant_window around = brant_place_around(place, edge);
    uint32_t own = brant_zone_set_at(c->meeting->zones, place->col, place->row), last = 0;
    brant_status status = BRANT_OK;
    if (own > 0)
        status = add_found(c, met_on(own, elevation_m, true));
    for (int row = around.row; row < around.row + around.rows; row++) {
        for (int col = around.col; col < around.col + around.cols && status == BRANT_OK; col++) {
            uint32_t zone = brant_zone_set_at(c->meeting->zones, col, row);
            if (zone == 0 || zone == own || zone == last ||
                !brant_place_within(place, col, row, edge))
                continue;
            last = zone; /* merge() takes care of the rest, this of most */
            status = add_found(c, met_on(zone, elevation_m, false));
        }
    }
    return status;
}

static bool reaches(const brant_meeting *meeting, const brant_zone *zone, float reached_at_deg)
{
    return (double)reached_at_deg >=
           brant_zone_reach_angle(zone, meeting->options.reach_angle_deg);
}

/* Is the zone among what was found from `first` on, before `end`? */
static bool is_among(const collector *c, size_t first, size_t end, uint32_t zone)
{
    for (size_t i = first; i < end; i++)
        if (c->found[i].zone == zone)
            return true;
    return false;
}

/* The zones that reach the sample. Those found from `first` to here are the ones that it is
 * on or at the edge of. */
static brant_status collect_hits(collector *c, const brant_fact *fact, size_t first)
{
    brant_status status = BRANT_OK;
    size_t near = c->count;
    float low_m = isnan(fact->elevation_m) ? -INFINITY : fact->elevation_m;
    for (size_t i = 0; i < fact->hits && status == BRANT_OK; i++) {
        const brant_hit *hit = &c->meeting->hits[fact->first_hit + i];
        const brant_zone *zone = brant_zone_set_find(c->meeting->zones, hit->zone);
        meeting_zone found = met(hit->zone);
        found.reached_at_deg = hit->reached_at_deg;
        found.head_m = hit->head_m;
        if (zone && reaches(c->meeting, zone, hit->reached_at_deg) &&
            !is_among(c, first, near, hit->zone))
            found.low_m = low_m;
        status = add_found(c, found);
    }
    return status;
}

/* On release ground nobody looked yet. */
static bool may_be_remote(const brant_fact *fact)
{
    return fact->is & (BRANT_IS(BRANT_KIND_REMOTE) | BRANT_IS(BRANT_KIND_CROSSES) |
                       BRANT_IS(BRANT_KIND_OVER_BAND));
}

/* Release ground that can be triggered from the sample, wherever that is. */
static brant_status collect_remote(collector *c, const brant_place *place)
{
    bool any;
    const brant_remote *r = &c->remote;
    const brant_window *around = &r->around;
    brant_status status = brant_remote_look(c->ctx, &c->remote, place, &any);
    if (status != BRANT_OK || !any)
        return status;
    const brant_window on = brant_window_common(around, &c->from_leg.window);
    for (int row = on.row; row < on.row + on.rows; row++)
        brant_plane_add(&c->from_leg, around->col, row, around->cols,
                        r->found + (size_t)(row - around->row) * r->words);
    c->first_row = on.row < c->first_row ? on.row : c->first_row;
    c->end_row = on.row + on.rows > c->end_row ? on.row + on.rows : c->end_row;
    return BRANT_OK;
}

/* The zones of some cells of a row, a bit each. */
static brant_status add_zones(collector *c, size_t first, int col, int row, uint64_t cells)
{
    uint32_t last = 0;
    brant_status status = BRANT_OK;
    for (; cells && status == BRANT_OK; cells &= cells - 1) {
        const uint32_t zone =
            brant_zone_set_at(c->meeting->zones, col + __builtin_ctzll(cells), row);
        if (zone == 0 || zone == last || is_among(c, first, c->count, zone))
            continue;
        meeting_zone remote = met(zone);
        remote.remote = true;
        last = zone;
        status = add_found(c, remote);
    }
    return status;
}

/* The leg's remote zones, each once; then none is noted any more. */
static brant_status take_remote(collector *c)
{
    const brant_plane *plane = &c->from_leg;
    const size_t first = c->count;
    brant_status status = BRANT_OK;
    for (int row = c->first_row; row < c->end_row; row++) {
        uint64_t *cells = brant_plane_row(plane, row);
        for (size_t k = 0; k < plane->words && status == BRANT_OK; k++)
            if (cells[k])
                status = add_zones(c, first, plane->window.col + 64 * (int)k, row, cells[k]);
        memset(cells, 0, plane->words * sizeof *cells);
    }
    c->first_row = INT_MAX;
    c->end_row = INT_MIN;
    return status;
}

/* ---- one entry a zone --------------------------------------------------- */

static int by_zone(const void *a, const void *b)
{
    const meeting_zone *x = a, *y = b;
    return (x->zone > y->zone) - (x->zone < y->zone);
}

static void merge(collector *c)
{
    size_t merged = 0;
    if (c->count > 0)
        qsort(c->found, c->count, sizeof *c->found, by_zone);
    for (size_t i = 0; i < c->count; i++) {
        const meeting_zone *from = &c->found[i];
        if (merged == 0 || c->found[merged - 1].zone != from->zone) {
            c->found[merged++] = *from;
            continue;
        }
        meeting_zone *to = &c->found[merged - 1];
        to->reached_at_deg = fmaxf(to->reached_at_deg, from->reached_at_deg);
        to->head_m = fmaxf(to->head_m, from->head_m); /* fmaxf passes NaN over */
        to->on |= from->on;
        to->edge |= from->edge;
        to->remote |= from->remote;
        to->high_m = fmaxf(to->high_m, from->high_m);
        to->low_m = fminf(to->low_m, from->low_m);
    }
    c->count = merged;
}

/* All that the leg's samples meet. */
static brant_status collect(collector *c, const brant_leg *leg)
{
    brant_place place;
    brant_status status = BRANT_OK;
    size_t merge_from = MERGE_FROM;
    c->count = 0;
    for (size_t k = 0; k < leg->samples && status == BRANT_OK; k++) {
        size_t i = leg->first_sample + k;
        brant_place_of(c->meeting, &c->tour->track.samples[i], &place);
        if (!place.on_earth)
            continue;
        const brant_fact *fact = &c->tour->facts[i];
        size_t first = c->count;
        status = collect_near(c, &place, fact->elevation_m);
        if (status == BRANT_OK)
            status = collect_hits(c, fact, first);
        if (status == BRANT_OK && may_be_remote(fact))
            status = collect_remote(c, &place);
        if (c->count >= merge_from) {
            merge(c);
            merge_from = MERGE_FROM + 2 * c->count;
        }
    }
    if (status == BRANT_OK)
        status = take_remote(c);
    merge(c);
    return status;
}

static int by_reach(const void *a, const void *b)
{
    const brant_above *x = a, *y = b;
    if (x->reached_at_deg != y->reached_at_deg)
        return x->reached_at_deg < y->reached_at_deg ? 1 : -1;
    return (x->zone->number > y->zone->number) - (x->zone->number < y->zone->number);
}

static brant_status add_above(collector *c, brant_leg *leg)
{
    brant_tour *tour = c->tour;
    brant_status status = brant_grow(c->ctx, &tour->above, &c->above_capacity,
                                     tour->above_count + c->count, sizeof *tour->above);
    if (status)
        return status;
    leg->first_above = tour->above_count;
    leg->aboves = c->count;
    for (size_t i = 0; i < c->count; i++) {
        const meeting_zone *found = &c->found[i];
        const brant_zone *zone = brant_zone_set_find(c->meeting->zones, found->zone);
        if (!zone)
            return brant_fail(c->ctx, BRANT_ERR_INTERNAL, "zone %lu is met but not known",
                              (unsigned long)found->zone);
        tour->above[tour->above_count++] =
            (brant_above){.leg = leg->number,
                          .zone = zone,
                          .reached_at_deg = found->on ? 90 : found->reached_at_deg,
                          .head_m = found->head_m,
                          .on = found->on,
                          .edge = found->edge,
                          .remote = found->remote && !found->on,
                          .high_m = found->high_m,
                          .low_m = found->low_m,
                          .sun = BRANT_NO_SUN,
                          .shelter = {.mean_deg = NAN}};
    }
    if (c->count > 0)
        qsort(tour->above + leg->first_above, c->count, sizeof *tour->above, by_reach);
    return BRANT_OK;
}

/* ---- what follows for the leg ------------------------------------------- */

/* True if `a` says more about the leg than `b`: larger face, then steeper reach,
 * then lower number. */
static bool governs(const brant_above *a, const brant_above *b)
{
    if (a->zone->face_m2 != b->zone->face_m2)
        return a->zone->face_m2 > b->zone->face_m2;
    if (a->reached_at_deg != b->reached_at_deg)
        return a->reached_at_deg > b->reached_at_deg;
    return a->zone->number < b->zone->number;
}

static void conclude(const brant_meeting *meeting, const brant_above *above, brant_leg *leg)
{
    const brant_above *governing = NULL;
    for (size_t i = 0; i < leg->aboves; i++, above++) {
        bool reached = reaches(meeting, above->zone, above->reached_at_deg);
        if (!above->on) {
            leg->reached_at_deg = fmaxf(leg->reached_at_deg, above->reached_at_deg);
            if (reached) {
                leg->zones_above++;
                leg->area_above_m2 += above->zone->area_m2;
                leg->head_m = fmaxf(leg->head_m, above->head_m);
            }
        }
        if ((reached || above->on || above->edge) && (!governing || governs(above, governing)))
            governing = above;
    }
    leg->governing = governing ? governing->zone : NULL;
}

static brant_status begin(collector *c)
{
    brant_ground_bits bits;
    brant_status status = brant_ground_bits_of(c->ctx, c->meeting, &c->tour->track, &bits);
    if (status == BRANT_OK)
        status = brant_remote_create(c->ctx, &bits, &c->remote);
    if (status == BRANT_OK)
        status = brant_plane_create(c->ctx, &bits.window, &c->from_leg);
    brant_ground_bits_clear(&bits);
    return status;
}

brant_status brant_legs_above(brant_context *ctx, const brant_meeting *meeting, brant_tour *tour)
{
    collector c = {.ctx = ctx, .meeting = meeting, .tour = tour, .first_row = INT_MAX,
                   .end_row = INT_MIN};
    brant_status status = begin(&c);
    for (size_t i = 0; i < tour->leg_count && status == BRANT_OK; i++) {
        status = collect(&c, &tour->legs[i]);
        if (status == BRANT_OK)
            status = add_above(&c, &tour->legs[i]);
        if (status == BRANT_OK)
            conclude(meeting, tour->above + tour->legs[i].first_above, &tour->legs[i]);
    }
    brant_remote_clear(&c.remote);
    brant_plane_clear(&c.from_leg);
    free(c.found);
    return status;
}
