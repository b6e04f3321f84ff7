/* What the model says at each sample of a route. */
#include "brant/tour.h"
#include "remote.h"

#include <math.h>
#include <stdlib.h>

#define ON_RELEASE (BRANT_IS(BRANT_KIND_CROSSES) | BRANT_IS(BRANT_KIND_OVER_BAND))

const char *brant_kind_name(brant_kind kind)
{
    static const char *const names[BRANT_KINDS] = {"unknown", "crosses", "over-band",  "edge",
                                                   "under",   "remote",  "none-found"};
    return (unsigned)kind < BRANT_KINDS ? names[kind] : "";
}

bool brant_kind_seeks_below(brant_kind kind)
{
    return kind != BRANT_KIND_REMOTE && kind != BRANT_KIND_NONE_FOUND;
}

typedef struct meeter {
    const brant_meeting *meeting;
    brant_ground_bits bits;
    brant_remote remote;
} meeter;

/* ---- the sample's own cell ---------------------------------------------- */

/* Bilinear between the four nearest cell centres, NaN if one that counts is void. */
static float elevation_at(const brant_place *place)
{
    const brant_field *field = place->meeting->field;
    double u = place->at_col - 0.5, v = place->at_row - 0.5, sum = 0;
    int col = (int)floor(u), row = (int)floor(v);
    u -= col;
    v -= row;
    double weights[4] = {(1 - u) * (1 - v), u * (1 - v), (1 - u) * v, u * v};
    for (int i = 0; i < 4; i++)
        if (weights[i] > 0)
            sum += weights[i] * (double)brant_cell_value(field, field->elevation, col + i % 2,
                                                         row + i / 2);
    return (float)sum;
}

static void look_at_cell(const brant_place *place, brant_fact *fact)
{
    const brant_meeting *meeting = place->meeting;
    const brant_field *field = meeting->field;
    const brant_window *window = &field->window;
    const brant_band *band = &meeting->options.band;
    fact->elevation_m = elevation_at(place);
    fact->slope_deg = brant_cell_value(field, field->slope, place->col, place->row);
    fact->aspect_deg = brant_cell_value(field, field->aspect, place->col, place->row);
    fact->zone = brant_zone_set_at(meeting->zones, place->col, place->row);
    if (isnan(fact->slope_deg))
        fact->is |= BRANT_IS(BRANT_KIND_UNKNOWN);
    else if (fact->slope_deg > band->high)
        fact->is |= BRANT_IS(BRANT_KIND_OVER_BAND);
    else if (fact->slope_deg >= band->low || fact->zone > 0) /* a zone drawn on gentle ground */
        fact->is |= BRANT_IS(BRANT_KIND_CROSSES);
    if (brant_window_has(window, place->col, place->row) &&
        meeting->unknown_above[(size_t)(place->row - window->row) * (size_t)window->cols +
                               (size_t)(place->col - window->col)])
        fact->is |= BRANT_UNKNOWN_ABOVE;
}

/* ---- the edge ----------------------------------------------------------- */

/* Release ground and unknown ground within the edge distance. A cell without a
 * slope may be release ground: void, beside a void, or off the raster. */
static void look_around(const meeter *m, const brant_place *place, brant_fact *fact)
{
    const brant_meeting *meeting = place->meeting;
    double edge = meeting->options.edge_m, nearest = INFINITY;
    brant_window around = brant_place_around(place, edge);
    uint32_t nearest_zone = 0;
    for (int row = around.row; row < around.row + around.rows; row++) {
        for (int col = around.col; col < around.col + around.cols; col++) {
            const unsigned is = brant_ground_bits_at(&m->bits, col, row);
            const bool releases = is & BRANT_GROUND_RELEASE;
            if (!(is & (BRANT_GROUND_UNKNOWN | BRANT_GROUND_RELEASE)) ||
                !brant_place_within(place, col, row, edge))
                continue;
            if (is & BRANT_GROUND_UNKNOWN)
                fact->is |= BRANT_UNKNOWN_ABOVE;
            if (releases && !(fact->is & ON_RELEASE))
                fact->is |= BRANT_IS(BRANT_KIND_EDGE);
            uint32_t zone = releases ? brant_zone_set_at(meeting->zones, col, row) : 0;
            double distance = zone > 0 ? brant_place_distance(place, col, row) : INFINITY;
            if (zone > 0 && (distance < nearest || (distance == nearest && zone < nearest_zone))) {
                nearest = distance;
                nearest_zone = zone;
            }
        }
    }
    if (fact->zone == 0)
        fact->zone = nearest_zone;
}

/* ---- from above --------------------------------------------------------- */

static void look_above(const brant_place *place, brant_fact *fact)
{
    const brant_meeting *meeting = place->meeting;
    size_t first, count;
    uint32_t steepest_zone = 0;
    brant_place_hits(place, &first, &count);
    fact->first_hit = (uint32_t)first;
    fact->hits = (uint32_t)count;
    for (size_t i = first; i < first + count; i++) {
        const brant_hit *hit = &meeting->hits[i];
        if (hit->reached_at_deg > fact->reached_at_deg) { /* hits are by rising zone */
            fact->reached_at_deg = hit->reached_at_deg;
            steepest_zone = hit->zone;
        }
        const brant_zone *zone = brant_zone_set_find(meeting->zones, hit->zone);
        double reach_angle = meeting->options.reach_angle_deg;
        if (zone)
            reach_angle = brant_zone_reach_angle(zone, reach_angle);
        if ((double)hit->reached_at_deg < reach_angle)
            continue;
        fact->is |= BRANT_IS(BRANT_KIND_UNDER);
        if (hit->head_m > fact->head_m)
            fact->head_m = hit->head_m;
    }
    if (fact->zone == 0)
        fact->zone = steepest_zone;
}

/* ---- remote ------------------------------------------------------------- */

static brant_status look_for_remote(brant_context *ctx, meeter *m, const brant_place *place,
                                    brant_fact *fact)
{
    bool any = false;
    brant_status status = BRANT_OK;
    if (!(fact->is & ON_RELEASE))
        status = brant_remote_look(ctx, &m->remote, place, &any);
    if (any)
        fact->is |= BRANT_IS(BRANT_KIND_REMOTE);
    return status;
}

/* ---- all of it ---------------------------------------------------------- */

/* The first kind that holds. Where none does and something unknown may lie
 * above, that is not 'none found'. */
static void name_kind(brant_fact *fact)
{
    if (fact->is == 0)
        fact->is = BRANT_IS(BRANT_KIND_NONE_FOUND);
    fact->kind = BRANT_KIND_UNKNOWN;
    for (int kind = 0; kind < BRANT_KINDS; kind++) {
        if (fact->is & BRANT_IS(kind)) {
            fact->kind = (brant_kind)kind;
            break;
        }
    }
}

static brant_status meet_sample(brant_context *ctx, meeter *m, const brant_sample *sample,
                                brant_fact *fact)
{
    brant_place place;
    brant_status status = BRANT_OK;
    *fact = (brant_fact){.elevation_m = NAN, .slope_deg = NAN, .aspect_deg = NAN};
    brant_place_of(m->meeting, sample, &place);
    if (place.on_earth) {
        look_at_cell(&place, fact);
        look_around(m, &place, fact);
        look_above(&place, fact);
        status = look_for_remote(ctx, m, &place, fact);
    } else {
        fact->is = BRANT_IS(BRANT_KIND_UNKNOWN) | BRANT_UNKNOWN_ABOVE;
    }
    name_kind(fact);
    if (fact->kind == BRANT_KIND_REMOTE) {
        const uint32_t zone = brant_remote_nearest(&m->remote, &place);
        fact->zone = zone > 0 ? zone : fact->zone;
    }
    return status;
}

brant_status brant_meet(brant_context *ctx, const brant_meeting *meeting, const brant_track *track,
                        brant_fact **facts)
{
    meeter m = {.meeting = meeting};
    brant_status status = BRANT_OK;
    *facts = brant_alloc(ctx, track->count, sizeof **facts);
    if (!*facts)
        return BRANT_ERR_MEMORY;
    status = brant_ground_bits_of(ctx, meeting, track, &m.bits);
    if (status == BRANT_OK)
        status = brant_remote_create(ctx, &m.bits, &m.remote);
    for (size_t i = 0; i < track->count && status == BRANT_OK; i++) {
        if (i % 256 == 0)
            status = brant_check_stop(ctx);
        if (status == BRANT_OK)
            status = meet_sample(ctx, &m, &track->samples[i], &(*facts)[i]);
    }
    brant_ground_bits_clear(&m.bits);
    brant_remote_clear(&m.remote);
    if (status) {
        free(*facts);
        *facts = NULL;
    }
    return status;
}
