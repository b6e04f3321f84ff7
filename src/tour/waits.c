/* Where to wait: places outside the shadow that bracket the exposed stretches. */
#include "legs.h"
#include "place.h"

#include <math.h>
#include <stdlib.h>

/* Two places to wait closer than this many edge widths are one. */
#define ONE_PLACE 2.0

typedef struct seeker {
    brant_context *ctx;
    const brant_meeting *meeting;
    brant_tour *tour;
    uint32_t *leg;  /* index of each sample's leg */
    size_t ahead;   /* the first exposed leg that ends less than the edge before the sample, or
                       after it; the count of legs: none */
    size_t wait_capacity, stretch_capacity;
} seeker;

/* ---- one sample --------------------------------------------------------- */

/* Does nothing, known or unknown, reach the cell at BRANT_WAIT_DEG, nor at a reach angle
 * that holds and is lower? A cell off the field is not known. */
static bool is_out_of_reach(const brant_meeting *meeting, int col, int row)
{
    const brant_window *w = &meeting->field->window;
    if (!brant_window_has(w, col, row))
        return false;
    size_t at = (size_t)(row - w->row) * (size_t)w->cols + (size_t)(col - w->col);
    return (double)meeting->reached_at[at] < BRANT_WAIT_DEG && meeting->zones_above[at] == 0 &&
           !meeting->unknown_above[at];
}

static bool is_exposed(const brant_leg *leg)
{
    return leg->kind != BRANT_KIND_NONE_FOUND;
}

/* Within the edge distance along the route nothing is exposed. Asked sample after sample:
 * legs follow each other, so the first that is not yet passed is the one to look at. */
static bool is_set_back(seeker *s, size_t i)
{
    const brant_tour *tour = s->tour;
    double along = tour->track.samples[i].along_m, edge = s->meeting->options.edge_m;
    while (s->ahead < tour->leg_count && !(is_exposed(&tour->legs[s->ahead]) &&
                                           tour->legs[s->ahead].to_m > along - edge))
        s->ahead++;
    return s->ahead == tour->leg_count || tour->legs[s->ahead].from_m >= along + edge;
}

/* A drawn line is good to the edge's width: the route and the ground that near count as
 * well. */
static bool is_wait(seeker *s, size_t i)
{
    const brant_fact *fact = &s->tour->facts[i];
    brant_place place;
    if (fact->is != BRANT_IS(BRANT_KIND_NONE_FOUND) || !is_set_back(s, i) ||
        (double)fact->reached_at_deg >= BRANT_WAIT_DEG)
        return false;
    brant_place_of(s->meeting, &s->tour->track.samples[i], &place);
    if (!place.on_earth)
        return false;
    brant_window around = brant_place_around(&place, s->meeting->options.edge_m);
    for (int row = around.row; row < around.row + around.rows; row++)
        for (int col = around.col; col < around.col + around.cols; col++)
            if (!is_out_of_reach(s->meeting, col, row) &&
                brant_place_within(&place, col, row, s->meeting->options.edge_m))
                return false;
    return true;
}

/* ---- a segment's stretches ---------------------------------------------- */

static brant_status add_wait(seeker *s, size_t sample, size_t *index)
{
    brant_tour *tour = s->tour;
    double along = tour->track.samples[sample].along_m;
    brant_status status = brant_grow(s->ctx, &tour->waits, &s->wait_capacity,
                                     tour->wait_count + 1, sizeof *tour->waits);
    if (status != BRANT_OK)
        return status;
    *index = tour->wait_count;
    tour->waits[tour->wait_count++] = (brant_wait){sample, along, NAN, NAN, NAN};
    return BRANT_OK;
}

/* The place before a stretch is the last one seen, `last`; one that is close to the place
 * after the stretch before (`after`, if there is one) is that. */
static brant_status place_before(seeker *s, size_t last, size_t after, size_t *index)
{
    const brant_tour *tour = s->tour;
    *index = BRANT_NO_WAIT;
    if (last == BRANT_NO_WAIT)
        return BRANT_OK;
    if (after != BRANT_NO_WAIT &&
        tour->track.samples[last].along_m - tour->waits[after].along_m <=
            ONE_PLACE * s->meeting->options.edge_m) {
        *index = after;
        return BRANT_OK;
    }
    return add_wait(s, last, index);
}

/* Add leg `index` to the stretch that is open, or open one. */
static brant_status expose(seeker *s, uint32_t index, bool open, size_t last, size_t after)
{
    brant_tour *tour = s->tour;
    const brant_leg *leg = &tour->legs[index];
    if (!open) {
        size_t before;
        brant_status status = brant_grow(s->ctx, &tour->stretches, &s->stretch_capacity,
                                         tour->stretch_count + 1, sizeof *tour->stretches);
        if (status == BRANT_OK)
            status = place_before(s, last, after, &before);
        if (status != BRANT_OK)
            return status;
        tour->stretches[tour->stretch_count++] =
            (brant_stretch){leg->from_m, leg->to_m, 0, before, BRANT_NO_WAIT};
    }
    brant_stretch *stretch = &tour->stretches[tour->stretch_count - 1];
    stretch->to_m = leg->to_m;
    stretch->exposed_m += leg->to_m - leg->from_m;
    return BRANT_OK;
}

/* Samples first..end-1 are one segment: what happens before or after a break in the
 * track is not known. */
static brant_status seek_segment(seeker *s, size_t first, size_t end)
{
    brant_tour *tour = s->tour;
    size_t last = BRANT_NO_WAIT, after = BRANT_NO_WAIT;
    bool open = false; /* a stretch that has no place after it yet */
    brant_status status = BRANT_OK;
    for (size_t i = first; i < end && status == BRANT_OK; i++) {
        const brant_leg *leg = &tour->legs[s->leg[i]];
        if (is_exposed(leg)) {
            if (i == leg->first_sample) {
                status = expose(s, s->leg[i], open, last, after);
                open = true;
            }
        } else if (is_wait(s, i)) {
            last = i;
            if (open)
                status = add_wait(s, i, &after);
            if (open && status == BRANT_OK)
                tour->stretches[tour->stretch_count - 1].after = after;
            open = false;
        }
    }
    return status;
}

/* ---- the tour ----------------------------------------------------------- */

/* The way from each place to the next, and the exposed part of it. */
static void measure_ways(brant_tour *tour)
{
    for (size_t i = 0; i + 1 < tour->wait_count; i++) {
        brant_wait *wait = &tour->waits[i];
        bool broken = false;
        for (size_t k = wait->sample + 1; k <= wait[1].sample; k++)
            broken |= tour->track.samples[k].first;
        if (broken)
            continue;
        wait->next_m = wait[1].along_m - wait->along_m;
        wait->exposed_m = 0;
    }
    for (size_t k = 0; k < tour->stretch_count; k++) {
        const brant_stretch *stretch = &tour->stretches[k];
        if (stretch->before != BRANT_NO_WAIT && !isnan(tour->waits[stretch->before].next_m))
            tour->waits[stretch->before].exposed_m = stretch->exposed_m;
    }
}

brant_status brant_legs_waits(brant_context *ctx, const brant_meeting *meeting, brant_tour *tour)
{
    seeker s = {.ctx = ctx, .meeting = meeting, .tour = tour};
    const brant_track *track = &tour->track;
    brant_status status = BRANT_OK;
    tour->waits_unknown = meeting->options.floor_deg > BRANT_WAIT_DEG;
    if (tour->waits_unknown || track->count == 0)
        return BRANT_OK;
    s.leg = brant_alloc(ctx, track->count, sizeof *s.leg);
    if (!s.leg)
        return BRANT_ERR_MEMORY;
    for (size_t i = 0; i < tour->leg_count; i++)
        for (size_t k = 0; k < tour->legs[i].samples; k++)
            s.leg[tour->legs[i].first_sample + k] = (uint32_t)i;
    for (size_t first = 0, end; first < track->count && status == BRANT_OK; first = end) {
        for (end = first + 1; end < track->count && !track->samples[end].first;)
            end++;
        status = seek_segment(&s, first, end);
    }
    if (status == BRANT_OK)
        measure_ways(tour);
    free(s.leg);
    return status;
}
