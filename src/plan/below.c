/* What lies below a leg: where snow that carries a person off it goes at the reach angle,
 * and the first cliff, gully or abrupt flat on its way.
 *
 * A search tells for each cell the run of the path that reaches it at the steepest angle,
 * which may come from the leg's far end. So a leg is searched from in short pieces, and a
 * cell counts with the shortest run of any.
 */
#include "below.h"
#include "below_look.h"
#include "searches.h"

#include <math.h>
#include <stdlib.h>
#include <string.h>

#define PIECE_M 50.0   /* of a leg, searched from at once */
#define STRETCH_M 500.0 /* of a leg, whose ground is held at once */

/* One worker's things. */
typedef struct bench {
    brant_search *search; /* made on demand */
    double search_deg;    /* the reach angle that it is for */
    brant_start *starts;
    size_t start_count, start_capacity;
    reached *cells; /* of all pieces of a stretch */
    size_t count, capacity;
    brant_window box;
    unknown_runs unknown; /* of all stretches of a leg */
} bench;

typedef struct item {
    const brant_tour *tour;
    brant_leg *leg;
} item;

typedef struct run {
    brant_source *source;
    const brant_ground *ground;
    const brant_reach_options *reach;
    const brant_shadow *shadow;
    brant_flow *flow;
    item *items;
    bench *bench;
} run;

/* ---- searching ---------------------------------------------------------- */

static bool has_cell(const run *r, const brant_sample *sample)
{
    return sample->col >= 0 && sample->row >= 0 && sample->col < r->source->cols &&
           sample->row < r->source->rows; /* false for NaN */
}

/* The head over a cell, of whatever zone: on a zone's own ground, too, for what starts at its
 * top has it by the time it is down here. */
static float head_at(const brant_shadow *shadow, int col, int row)
{
    const brant_window *w = &shadow->window;
    return brant_window_has(w, col, row)
               ? shadow->head[(size_t)(row - w->row) * (size_t)w->cols + (size_t)(col - w->col)]
               : 0.0f;
}

/* Samples first..end-1 as starts: what comes from above is as high already. */
static brant_status starts_of_piece(brant_context *ctx, const run *r, bench *b,
                                    const brant_tour *tour, size_t first, size_t end, float *from_m)
{
    b->start_count = 0;
    *from_m = -INFINITY;
    if (brant_grow(ctx, &b->starts, &b->start_capacity, end - first, sizeof *b->starts) != BRANT_OK)
        return BRANT_ERR_MEMORY;
    for (size_t i = first; i < end; i++) {
        const brant_sample *sample = &tour->track.samples[i];
        const brant_fact *fact = &tour->facts[i];
        if (!has_cell(r, sample))
            continue;
        brant_start start = {(int)sample->col, (int)sample->row, 0.0f};
        start.rise_m = fmaxf(fact->head_m, head_at(r->shadow, start.col, start.row));
        const brant_start *last = b->start_count > 0 ? &b->starts[b->start_count - 1] : NULL;
        /* nothing is above a leg whose height is not known */
        *from_m = isnan(fact->elevation_m) ? INFINITY : fmaxf(*from_m, fact->elevation_m);
        if (!last || last->col != start.col || last->row != start.row)
            b->starts[b->start_count++] = start;
    }
    return BRANT_OK;
}

static brant_status keep(brant_context *ctx, bench *b, int col, int row, float run_m, float from_m)
{
    brant_status status =
        brant_grow(ctx, &b->cells, &b->capacity, b->count + 1, sizeof *b->cells);
    if (status != BRANT_OK)
        return status;
    b->cells[b->count++] = (reached){col, row, run_m, from_m};
    b->box = brant_window_union(b->box, (brant_window){col, row, 1, 1});
    return BRANT_OK;
}

static brant_status search_piece(brant_context *ctx, const run *r, bench *b,
                                 const brant_tour *tour, size_t first, size_t end)
{
    brant_reach_result result = {0};
    float from_m;
    brant_status status = starts_of_piece(ctx, r, b, tour, first, end, &from_m);
    if (status == BRANT_OK)
        status = brant_search_run(ctx, b->search, b->starts, b->start_count, &result);
    for (size_t i = 0; i < b->start_count && status == BRANT_OK; i++)
        status = keep(ctx, b, b->starts[i].col, b->starts[i].row, 0, INFINITY);
    for (size_t i = 0; i < result.count && status == BRANT_OK; i++)
        status = keep(ctx, b, result.cells[i].col, result.cells[i].row, result.cells[i].run_m,
                      from_m);
    return status;
}

/* The end of the run of samples from `first` on, before `end`, that is `metres` long. */
static size_t cut(const brant_track *track, size_t first, size_t end, double metres)
{
    size_t next = first + 1;
    while (next < end && track->samples[next].along_m - track->samples[first].along_m < metres)
        next++;
    return next;
}

/* ---- looking ------------------------------------------------------------ */

/* Metres of the leg in a gully, over samples first..end-1; adds to *unknown_m where it may be
 * in one. */
static void measure_gully(const run *r, brant_relief *relief, const item *it, size_t first,
                          size_t end, double *unknown_m)
{
    for (size_t i = first; i < end; i++) {
        const brant_sample *sample = &it->tour->track.samples[i];
        if (!has_cell(r, sample))
            continue;
        brant_landform_answer gully =
            brant_relief_gully(relief, (int)sample->col, (int)sample->row);
        if (gully == BRANT_LANDFORM_YES)
            it->leg->below.gully_m += brant_sample_metres(&it->tour->track, i);
        else if (gully == BRANT_LANDFORM_UNKNOWN)
            *unknown_m += brant_sample_metres(&it->tour->track, i);
    }
}

static brant_status look_below(brant_context *ctx, const run *r, bench *b, const item *it,
                               size_t first, size_t end, double *unknown_m)
{
    look l = {0};
    if (b->count == 0) /* off the model */
        return BRANT_OK;
    brant_status status =
        brant_look_open(ctx, r->source, r->ground, &b->box, b->cells, b->count, &l);
    if (status == BRANT_OK)
        status = brant_look_down(ctx, &l, b->cells, b->count, &it->leg->below, &b->unknown);
    if (status == BRANT_OK)
        measure_gully(r, &l.relief, it, first, end, unknown_m);
    brant_look_close(&l);
    return status;
}

/* ---- legs --------------------------------------------------------------- */

/* The reach angle below a leg: the lowest of the run's and of those that zones have of their
 * own which the leg is on, at the edge of, or under. */
static double angle_of_leg(const run *r, const item *it)
{
    double run_deg = r->reach->reach_angle_deg, lowest = run_deg;
    for (size_t i = 0; i < it->leg->aboves; i++) {
        const brant_above *above = &it->tour->above[it->leg->first_above + i];
        double deg = brant_zone_reach_angle(above->zone, run_deg);
        if (above->on || above->edge || (double)above->reached_at_deg >= deg)
            lowest = fmin(lowest, deg);
    }
    return lowest;
}

static brant_status take_search(brant_context *ctx, const run *r, bench *b, double deg)
{
    brant_reach_options options = *r->reach;
    options.reach_angle_deg = options.floor_deg = deg;
    if (b->search && b->search_deg == deg)
        return BRANT_OK;
    brant_search_destroy(b->search);
    b->search = NULL;
    b->search_deg = deg;
    return brant_search_create(ctx, r->flow, &options, &b->search);
}

/* Samples first..end-1 of a leg: a stretch, whose ground is held at once. */
static brant_status below_stretch(brant_context *ctx, const run *r, bench *b, const item *it,
                                  size_t first, size_t end, double *unknown_m)
{
    const brant_track *track = &it->tour->track;
    brant_status status = BRANT_OK;
    b->count = 0;
    b->box = (brant_window){0};
    for (size_t i = first; i < end; i++)
        if (!has_cell(r, &track->samples[i])) {
            *unknown_m += brant_sample_metres(track, i);
            brant_below_found(&it->leg->below, BRANT_BELOW_UNKNOWN, 0);
        }
    for (size_t piece = first, after; piece < end && status == BRANT_OK; piece = after) {
        after = cut(track, piece, end, PIECE_M);
        status = search_piece(ctx, r, b, it->tour, piece, after);
    }
    return status == BRANT_OK ? look_below(ctx, r, b, it, first, end, unknown_m) : status;
}

/* Is it known how it goes on past the first thing that is known, up to the first cliff? Not
 * past unknown ground, nor where how high it comes is not known. */
static void look_beyond(const unknown_runs *unknown, brant_leg *leg)
{
    brant_below *below = &leg->below;
    float first = brant_below_first_known(below), cliff = below->run_m[BRANT_BELOW_CLIFF];
    bool unknown_head = leg->is & BRANT_UNKNOWN_ABOVE;
    if (isnan(first)) {
        if (unknown_head)
            brant_below_found(below, BRANT_BELOW_UNKNOWN, 0);
        return;
    }
    below->unknown_beyond = unknown_head && isnan(cliff);
    for (size_t i = 0; i < unknown->count; i++)
        below->unknown_beyond |= unknown->run_m[i] > first && !(unknown->run_m[i] >= cliff);
}

static brant_status below_leg(brant_context *ctx, void *user, int worker, int64_t index)
{
    const run *r = user;
    const item *it = &r->items[index];
    bench *b = &r->bench[worker];
    brant_below *below = &it->leg->below;
    size_t end = it->leg->first_sample + it->leg->samples;
    double unknown_m = 0;
    brant_status status = take_search(ctx, r, b, angle_of_leg(r, it));
    *below = (brant_below){.sought = true, .run_m = {NAN, NAN, NAN, NAN}};
    b->unknown.count = 0;
    for (size_t first = it->leg->first_sample, next; first < end && status == BRANT_OK;
         first = next) {
        next = cut(&it->tour->track, first, end, STRETCH_M);
        status = below_stretch(ctx, r, b, it, first, next, &unknown_m);
    }
    look_beyond(&b->unknown, it->leg);
    if (below->gully_m == 0 && unknown_m > 0)
        below->gully_m = NAN;
    return status;
}

static brant_status list_legs(brant_context *ctx, run *r, brant_tour *tours, size_t count,
                              int64_t *items)
{
    size_t legs = 0;
    *items = 0;
    for (size_t t = 0; t < count; t++)
        legs += tours[t].leg_count;
    r->items = brant_alloc(ctx, legs ? legs : 1, sizeof *r->items);
    if (!r->items)
        return BRANT_ERR_MEMORY;
    for (size_t t = 0; t < count; t++)
        for (size_t i = 0; i < tours[t].leg_count; i++)
            if (brant_kind_seeks_below(tours[t].legs[i].kind))
                r->items[(*items)++] = (item){&tours[t], &tours[t].legs[i]};
    return BRANT_OK;
}

brant_status brant_below_run(brant_context *ctx, brant_source *source, const brant_ground *ground,
                             const brant_reach_options *reach, const brant_shadow *shadow,
                             brant_tour *tours, size_t count)
{
    run r = {.source = source, .ground = ground, .reach = reach, .shadow = shadow};
    int workers = ctx->threads < 1 ? 1 : ctx->threads;
    int64_t items = 0;
    r.bench = brant_alloc(ctx, (size_t)workers, sizeof *r.bench);
    brant_status status = r.bench ? list_legs(ctx, &r, tours, count, &items) : BRANT_ERR_MEMORY;
    if (status == BRANT_OK)
        status = brant_flow_create(ctx, source, ground, BRANT_FLOW_BUDGET, &r.flow);
    if (status == BRANT_OK)
        status = brant_run(ctx, "below the legs", items, below_leg, NULL, &r);
    for (int i = 0; r.bench && i < workers; i++) {
        brant_search_destroy(r.bench[i].search);
        free(r.bench[i].starts);
        free(r.bench[i].cells);
        free(r.bench[i].unknown.run_m);
    }
    free(r.bench);
    free(r.items);
    brant_flow_destroy(r.flow);
    return status;
}
