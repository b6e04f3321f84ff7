/* The ground that the limit considers, leg by leg. */
#include "day.h"
#include "place.h"

#include <math.h>
#include <stdlib.h>
#include <string.h>

#define PIECE_M 1000.0             /* of a leg, whose surroundings are held at once */
#define AROUND_M 100.0             /* read around a piece and the zones above it */
#define MOST_CELLS 4e6             /* a slope larger than this many cells is not followed */
#define STEEPEST_LIMIT 40.0        /* the limit at level 2: steeper makes no difference */

/* The ground of all zones of a face. */
typedef struct face_ground {
    bool unknown;
    double steepest_deg;
} face_ground;

typedef struct grounds {
    brant_context *ctx;
    const brant_meeting *meeting;
    brant_source *source;
    const brant_tour *tour;
    face_ground *faces; /* of a face at the place of the zone that it is named after */
} grounds;

static void add(brant_leg_ground *ground, int which, double deg, bool unknown)
{
    ground->steepest_deg[which] = fmax(ground->steepest_deg[which], deg); /* passes NaN over */
    ground->unknown[which] |= unknown;
}

/* ---- beside the track --------------------------------------------------- */

static float beside(const brant_meeting *meeting, const brant_sample *sample, bool *unknown)
{
    const brant_field *field = meeting->field;
    brant_place place;
    float steepest = 0;
    brant_place_of(meeting, sample, &place);
    *unknown = !place.on_earth;
    brant_window around = brant_place_around(&place, BRANT_TRACK_M);
    for (int row = around.row; row < around.row + around.rows; row++)
        for (int col = around.col; col < around.col + around.cols; col++) {
            if (!brant_place_within(&place, col, row, BRANT_TRACK_M))
                continue;
            float slope = brant_cell_value(field, field->slope, col, row);
            *unknown |= isnan(slope);
            steepest = fmaxf(steepest, slope);
        }
    return steepest;
}

static void add_track(const grounds *g, const brant_leg *leg, brant_leg_ground *ground,
                      float *track_deg)
{
    for (size_t k = 0; k < leg->samples; k++) {
        size_t i = leg->first_sample + k;
        bool unknown;
        track_deg[i] = beside(g->meeting, &g->tour->track.samples[i], &unknown);
        add(ground, 0, (double)track_deg[i], unknown);
    }
}

/* ---- the whole slope ---------------------------------------------------- */

static bool reaches(const brant_meeting *meeting, const brant_hit *hit, const brant_zone **zone)
{
    *zone = brant_zone_set_find(meeting->zones, hit->zone);
    return *zone && (double)hit->reached_at_deg >=
                        brant_zone_reach_angle(*zone, meeting->options.reach_angle_deg);
}

/* Samples first..end-1 and the zones that reach them, with a margin. */
static brant_window box_of_piece(const grounds *g, size_t first, size_t end)
{
    brant_window box = {0}, margin;
    const brant_zone *zone;
    brant_place place = {0};
    double around = fmax(g->meeting->options.edge_m, AROUND_M);
    for (size_t i = first; i < end; i++) {
        const brant_fact *fact = &g->tour->facts[i];
        brant_place_of(g->meeting, &g->tour->track.samples[i], &place);
        margin = brant_place_around(&place, around);
        box = brant_window_union(box, margin);
        for (size_t k = 0; k < fact->hits; k++)
            if (reaches(g->meeting, &g->meeting->hits[fact->first_hit + k], &zone))
                box = brant_window_union(box, zone->box);
    }
    return box;
}

static void mark_zone(const grounds *g, const brant_window *w, const brant_zone *zone,
                      uint8_t *marks)
{
    const brant_window part = brant_window_common(w, &zone->box);
    for (int row = part.row; row < part.row + part.rows; row++)
        for (int col = part.col, n; col < part.col + part.cols; col += n) {
            n = part.col + part.cols - col;
            const uint32_t *number = brant_zone_set_along(g->meeting->zones, col, row, &n);
            uint8_t *mark = &marks[(size_t)(row - w->row) * (size_t)w->cols +
                                   (size_t)(col - w->col)];
            for (int i = 0; number && i < n; i++)
                mark[i] |= number[i] == zone->number ? BRANT_MARK_TARGET : 0;
        }
}

static void mark_near(const brant_place *place, double edge_m, const brant_window *w,
                      uint8_t *marks)
{
    brant_window around = brant_place_around(place, edge_m);
    for (int row = around.row; row < around.row + around.rows; row++)
        for (int col = around.col; col < around.col + around.cols; col++) {
            if (!brant_window_has(w, col, row))
                continue;
            uint8_t *mark = &marks[(size_t)(row - w->row) * (size_t)w->cols +
                                   (size_t)(col - w->col)];
            if (!(*mark & BRANT_MARK_NEAR) && brant_place_within(place, col, row, edge_m))
                *mark |= BRANT_MARK_NEAR;
        }
}

static void mark_sample(const grounds *g, size_t i, const brant_window *w, uint8_t *marks)
{
    const brant_fact *fact = &g->tour->facts[i];
    const brant_zone *zone;
    brant_place place;
    brant_place_of(g->meeting, &g->tour->track.samples[i], &place);
    if (!place.on_earth)
        return;
    mark_near(&place, g->meeting->options.edge_m, w, marks);
    for (size_t k = 0; k < fact->hits; k++) {
        if (!reaches(g->meeting, &g->meeting->hits[fact->first_hit + k], &zone))
            continue;
        size_t at = (size_t)(zone->high_row - w->row) * (size_t)w->cols +
                    (size_t)(zone->high_col - w->col);
        if (!brant_window_has(w, zone->high_col, zone->high_row) ||
            !(marks[at] & BRANT_MARK_TARGET)) /* else it is marked already */
            mark_zone(g, w, zone, marks);
        if (brant_window_has(w, place.col, place.row))
            marks[(size_t)(place.row - w->row) * (size_t)w->cols +
                  (size_t)(place.col - w->col)] |= BRANT_MARK_WAY;
    }
}

static brant_status look_in(const grounds *g, const brant_window *w, size_t first, size_t end,
                            brant_whole_slope *slope)
{
    brant_field field;
    brant_matrix m;
    brant_ground_matrix(g->meeting->ground, w->col + w->cols / 2.0, w->row + w->rows / 2.0, &m);
    uint8_t *marks = brant_alloc(g->ctx, (size_t)w->cols * (size_t)w->rows, 1);
    if (!marks)
        return BRANT_ERR_MEMORY;
    brant_status status =
        brant_field_read(g->ctx, g->source, g->meeting->ground, w, false, &field);
    if (status == BRANT_OK) {
        for (size_t i = first; i < end; i++)
            mark_sample(g, i, w, marks);
        status = brant_whole_slope_of(g->ctx, w, &m, field.slope, marks, slope);
        brant_field_clear(&field);
    }
    free(marks);
    return status;
}

/* Half as much again on every side, and no further than the raster and a cell more. */
static brant_window grown(const brant_window *w, const brant_source *source)
{
    brant_window out = {w->col - w->cols / 2, w->row - w->rows / 2, w->cols * 2, w->rows * 2};
    brant_window all = {-1, -1, source->cols + 2, source->rows + 2};
    return brant_window_union(*w, brant_window_common(&out, &all));
}

static bool too_large(const brant_window *w)
{
    return (double)w->cols * w->rows > MOST_CELLS;
}

/* Look in a larger and larger window, until the slope ends in it or is steep enough. */
static brant_status add_slope(const grounds *g, size_t first, size_t end,
                              brant_leg_ground *ground)
{
    brant_window w = box_of_piece(g, first, end);
    brant_whole_slope slope = {.unknown = true};
    brant_status status = BRANT_OK;
    if (w.cols == 0 || too_large(&w)) {
        add(ground, 1, NAN, true);
        return BRANT_OK;
    }
    for (;;) {
        status = look_in(g, &w, first, end, &slope);
        brant_window more = grown(&w, g->source);
        if (status != BRANT_OK || !slope.cut || slope.steepest_deg >= STEEPEST_LIMIT ||
            too_large(&more) || (more.cols == w.cols && more.rows == w.rows))
            break;
        w = more;
    }
    add(ground, 1, slope.steepest_deg, slope.unknown || slope.cut);
    return status;
}

static brant_status add_slopes(const grounds *g, const brant_leg *leg, brant_leg_ground *ground)
{
    const brant_sample *samples = g->tour->track.samples;
    size_t first = leg->first_sample, after = first + leg->samples;
    brant_status status = BRANT_OK;
    for (size_t end; first < after && status == BRANT_OK; first = end) {
        end = first + 1;
        while (end < after && samples[end].along_m - samples[first].along_m < PIECE_M)
            end++;
        status = add_slope(g, first, end, ground);
    }
    return status;
}

/* ---- the catchment ------------------------------------------------------ */

/* Where a face is held. */
static face_ground *face_of(const grounds *g, uint32_t face)
{
    const brant_zone *first = brant_zone_set_find(g->meeting->zones, face);
    return first ? &g->faces[first - g->meeting->zones->zones] : NULL;
}

/* Once for all legs: many meet the same faces, and a set may hold thousands of zones. */
static brant_status gather_faces(grounds *g)
{
    const brant_zone_set *set = g->meeting->zones;
    g->faces = brant_alloc(g->ctx, set->count, sizeof *g->faces);
    for (size_t i = 0; g->faces && i < set->count; i++) {
        const brant_zone *zone = &set->zones[i];
        face_ground *face = zone->face == zone->number ? &g->faces[i] : face_of(g, zone->face);
        if (!face)
            continue;
        face->unknown |= (zone->flags & (BRANT_ZONE_AT_VOID | BRANT_ZONE_TRUNCATED)) != 0;
        face->steepest_deg = fmax(face->steepest_deg, (double)zone->steepest_deg); /* no NaN */
    }
    return g->faces ? BRANT_OK : BRANT_ERR_MEMORY;
}

/* All zones that the leg meets, with their faces. Ground of their runouts that is steep
 * enough to exceed the limit is release ground itself. */
static void add_catchment(const grounds *g, const brant_leg *leg, brant_leg_ground *ground)
{
    for (size_t k = 0; k < leg->aboves; k++) {
        const brant_above *above = &g->tour->above[leg->first_above + k];
        if (!brant_above_counts(g->meeting, above))
            continue;
        const face_ground *face = face_of(g, above->zone->face);
        add(ground, 2, face ? face->steepest_deg : NAN, !face || face->unknown);
    }
    if (leg->is & (BRANT_UNKNOWN_ABOVE | BRANT_IS(BRANT_KIND_UNKNOWN)))
        ground->unknown[1] = ground->unknown[2] = true;
}

/* ---- all legs ----------------------------------------------------------- */

brant_status brant_leg_grounds(brant_context *ctx, const brant_meeting *meeting,
                               brant_source *source, const brant_tour *tour,
                               brant_leg_ground **legs, float **track_deg)
{
    grounds g = {.ctx = ctx, .meeting = meeting, .source = source, .tour = tour};
    *legs = brant_alloc(ctx, tour->leg_count, sizeof **legs);
    *track_deg = brant_alloc(ctx, tour->track.count, sizeof **track_deg);
    brant_status status = *legs && *track_deg ? gather_faces(&g) : BRANT_ERR_MEMORY;
    for (size_t i = 0; i < tour->leg_count && status == BRANT_OK; i++) {
        brant_leg_ground *ground = &(*legs)[i];
        add_track(&g, &tour->legs[i], ground, *track_deg);
        status = add_slopes(&g, &tour->legs[i], ground);
        add_catchment(&g, &tour->legs[i], ground);
        for (int k = 1; k < 3; k++) /* each holds the one before */
            add(ground, k, ground->steepest_deg[k - 1], ground->unknown[k - 1]);
    }
    free(g.faces);
    if (status != BRANT_OK) {
        free(*legs);
        free(*track_deg);
        *legs = NULL;
        *track_deg = NULL;
    }
    return status;
}
