/* What the model says at each sample of a route. */
#include "brant/tour.h"
#include "ground_bits.h"
#include "place.h"

#include <math.h>
#include <stdlib.h>
#include <string.h>

#define ON_RELEASE (BRANT_IS(BRANT_KIND_CROSSES) | BRANT_IS(BRANT_KIND_OVER_BAND))

const char *brant_kind_name(brant_kind kind)
{
    static const char *const names[BRANT_KINDS] = {"unknown", "crosses", "over-band",  "edge",
                                                   "under",   "remote",  "none-found"};
    return (unsigned)kind < BRANT_KINDS ? names[kind] : "";
}

/* Room for the search of connected ground, kept from sample to sample. */
typedef struct meeter {
    brant_context *ctx;
    const brant_meeting *meeting;
    brant_ground_bits bits;
    uint8_t *seen; /* the window with a frame of one cell, which counts as seen */
    int *queue;    /* cells of it, row by row */
    size_t seen_capacity, queue_capacity;
    double far_m; /* remote release ground is looked for up to here */
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

static brant_status make_room(meeter *m, const brant_window *around)
{
    size_t across = (size_t)around->cols + 2, rows = (size_t)around->rows + 2;
    size_t cells = across * rows;
    brant_status status =
        brant_grow(m->ctx, &m->seen, &m->seen_capacity, cells, sizeof *m->seen);
    if (status == BRANT_OK)
        status = brant_grow(m->ctx, &m->queue, &m->queue_capacity, cells, sizeof *m->queue);
    if (status != BRANT_OK)
        return status;
    memset(m->seen, 1, cells);
    for (size_t row = 1; row + 1 < rows; row++)
        memset(m->seen + row * across + 1, 0, across - 2);
    return BRANT_OK;
}

/* May there be any remote release ground around? Most samples are told by this. */
static bool may_be_remote(const meeter *m, const brant_place *place, const brant_window *around)
{
    if (brant_ground_bits_within(&m->bits, around) & BRANT_GROUND_FAR)
        return true;
    const brant_window near = brant_place_around(place, m->meeting->options.remote_m);
    return brant_ground_bits_within(&m->bits, &near) & BRANT_GROUND_RELEASE;
}

/* A neighbour of a connected cell: true if it is release ground, whose zone is then *zone;
 * else it joins the queue's end if it is steep. */
static bool look_at_neighbour(meeter *m, const brant_place *place, int col, int row, int cell,
                              size_t *end, uint32_t *zone)
{
    const brant_meeting *meeting = m->meeting;
    const unsigned is = brant_ground_bits_at(&m->bits, col, row);
    if (!(is & (BRANT_GROUND_RELEASE | BRANT_GROUND_STEEP)) ||
        !brant_place_within(place, col, row, m->far_m))
        return false;
    if ((is & BRANT_GROUND_FAR) ||
        ((is & BRANT_GROUND_RELEASE) &&
         brant_place_within(place, col, row, meeting->options.remote_m))) {
        *zone = brant_zone_set_at(meeting->zones, col, row);
        return true;
    }
    if (is & BRANT_GROUND_STEEP)
        m->queue[(*end)++] = cell;
    return false;
}

static bool spread(meeter *m, const brant_place *place, const brant_window *around, int at,
                   size_t *end, uint32_t *zone)
{
    const int across = around->cols + 2;
    const int col = around->col + at % across - 1, row = around->row + at / across - 1;
    for (int r = -1; r <= 1; r++)
        for (int c = -1; c <= 1; c++) {
            const int cell = at + r * across + c;
            if (m->seen[cell])
                continue;
            m->seen[cell] = 1;
            if (look_at_neighbour(m, place, col + c, row + r, cell, end, zone))
                return true;
        }
    return false;
}

/* Breadth first over ground that is steep enough to carry a fracture, from the
 * sample's cell on (which may be gentler) and no further than the distance. */
static brant_status look_for_remote(meeter *m, const brant_place *place, brant_fact *fact)
{
    brant_window around = brant_place_around(place, m->far_m);
    if (around.cols == 0 || (fact->is & ON_RELEASE) || !may_be_remote(m, place, &around))
        return BRANT_OK;
    brant_status status = make_room(m, &around);
    if (status)
        return status;
    size_t end = 0;
    int start = (place->row - around.row + 1) * (around.cols + 2) + place->col - around.col + 1;
    m->seen[start] = 1;
    m->queue[end++] = start;
    for (size_t next = 0; next < end; next++) {
        if (spread(m, place, &around, m->queue[next], &end, &fact->remote_zone)) {
            fact->is |= BRANT_IS(BRANT_KIND_REMOTE);
            break;
        }
    }
    return BRANT_OK;
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
    if (fact->kind == BRANT_KIND_REMOTE && fact->remote_zone > 0)
        fact->zone = fact->remote_zone;
}

static brant_status meet_sample(meeter *m, const brant_sample *sample, brant_fact *fact)
{
    brant_place place;
    brant_status status = BRANT_OK;
    *fact = (brant_fact){.elevation_m = NAN, .slope_deg = NAN, .aspect_deg = NAN};
    brant_place_of(m->meeting, sample, &place);
    if (place.on_earth) {
        look_at_cell(&place, fact);
        look_around(m, &place, fact);
        look_above(&place, fact);
        status = look_for_remote(m, &place, fact);
    } else {
        fact->is = BRANT_IS(BRANT_KIND_UNKNOWN) | BRANT_UNKNOWN_ABOVE;
    }
    name_kind(fact);
    return status;
}

brant_status brant_meet(brant_context *ctx, const brant_meeting *meeting, const brant_track *track,
                        brant_fact **facts)
{
    meeter m = {.ctx = ctx, .meeting = meeting, .far_m = meeting->options.remote_m};
    brant_status status = BRANT_OK;
    *facts = brant_alloc(ctx, track->count, sizeof **facts);
    if (!*facts)
        return BRANT_ERR_MEMORY;
    status = brant_ground_bits_of(ctx, meeting, track, &m.bits);
    if (m.bits.rated)
        m.far_m = fmax(m.far_m, BRANT_REMOTE_FAR_M);
    for (size_t i = 0; i < track->count && status == BRANT_OK; i++) {
        if (i % 256 == 0)
            status = brant_check_stop(ctx);
        if (status == BRANT_OK)
            status = meet_sample(&m, &track->samples[i], &(*facts)[i]);
    }
    brant_ground_bits_clear(&m.bits);
    free(m.seen);
    free(m.queue);
    if (status) {
        free(*facts);
        *facts = NULL;
    }
    return status;
}
