/* What lies below a leg: where snow that carries a person off it goes at the reach angle,
 * and the first cliff, gully or abrupt flat on its way.
 *
 * A search tells for each cell the run of the path that reaches it at the steepest angle,
 * which may come from the leg's far end. So a leg is searched from in short pieces, and a
 * cell counts with the shortest run of any. */
#include "below.h"

#include <math.h>
#include <stdlib.h>
#include <string.h>

#define FLOW_BUDGET ((size_t)128 << 20)
#define PIECE_M 50.0   /* of a leg, searched from at once */
#define STRETCH_M 500.0 /* of a leg, whose ground is held at once */
#define MARGIN_M (BRANT_FLAT_WITHIN_M + 30.0) /* that landforms look around */

/* A cell reached, or a start. */
typedef struct reached {
    int col, row;
    float run_m;
    float from_m; /* the highest ground that its piece of the leg stands on */
} reached;

/* One worker's things. */
typedef struct bench {
    brant_search *search; /* made on demand */
    double search_deg;    /* the reach angle that it is for */
    brant_start *starts;
    size_t start_count, start_capacity;
    reached *cells; /* of all pieces of a stretch */
    size_t count, capacity;
    brant_window box;
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
        *from_m = fmaxf(*from_m, fact->elevation_m); /* fmaxf passes NaN over */
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

static int by_run(const void *a, const void *b)
{
    const reached *x = a, *y = b;
    if (x->run_m != y->run_m)
        return x->run_m < y->run_m ? -1 : 1;
    if (x->row != y->row)
        return x->row < y->row ? -1 : 1;
    return (x->col > y->col) - (x->col < y->col);
}

typedef struct look {
    brant_relief relief;
    float *elevation;
    uint8_t *path;  /* 1: reached */
    brant_below *below;
} look;

static brant_status open_look(brant_context *ctx, const run *r, const bench *b, look *l)
{
    brant_matrix m;
    brant_ground_matrix(r->ground, b->box.col + b->box.cols / 2.0, b->box.row + b->box.rows / 2.0,
                        &m);
    int dc = (int)ceil(MARGIN_M / brant_matrix_cell_width(&m)) + 3;
    int dr = (int)ceil(MARGIN_M / brant_matrix_cell_height(&m)) + 3;
    brant_window w = {b->box.col - dc, b->box.row - dr, b->box.cols + 2 * dc, b->box.rows + 2 * dr};
    size_t cells = (size_t)w.cols * (size_t)w.rows;
    l->elevation = brant_alloc(ctx, cells, sizeof *l->elevation);
    l->path = brant_alloc(ctx, cells, 1);
    if (!l->elevation || !l->path)
        return BRANT_ERR_MEMORY;
    brant_status status = r->source->read(r->source, ctx, &w, l->elevation);
    for (size_t i = 0; i < b->count; i++)
        l->path[(size_t)(b->cells[i].row - w.row) * (size_t)w.cols +
                (size_t)(b->cells[i].col - w.col)] = 1;
    return status == BRANT_OK ? brant_relief_open(ctx, r->ground, &w, l->elevation, &l->relief)
                              : status;
}

static void close_look(look *l)
{
    brant_relief_close(&l->relief);
    free(l->elevation);
    free(l->path);
}

static bool nearer(float a, float b)
{
    return isnan(b) || a < b;
}

static void found(look *l, brant_below_kind kind, brant_landform_answer answer, float run_m)
{
    if (answer == BRANT_LANDFORM_NO)
        return;
    float *first = &l->below->run_m[answer == BRANT_LANDFORM_YES ? kind : BRANT_BELOW_UNKNOWN];
    if (nearer(run_m, *first))
        *first = run_m;
}

/* The first known landform there is, metres; NaN none. */
static float first_known(const brant_below *below)
{
    return fminf(below->run_m[BRANT_BELOW_CLIFF],
                 fminf(below->run_m[BRANT_BELOW_GULLY], below->run_m[BRANT_BELOW_FLAT]));
}

/* One cell that is reached, nearest first. What rises above the leg is not below it, but
 * what a void there hides may be. */
static void look_at(look *l, const reached *cell)
{
    brant_relief *relief = &l->relief;
    const brant_window *w = &relief->window;
    size_t at = (size_t)(cell->row - w->row) * (size_t)w->cols + (size_t)(cell->col - w->col);
    bool above = l->elevation[at] > cell->from_m; /* false for a void */
    /* a leg's own ground is a flat by what is above it */
    const uint8_t *path = cell->run_m > 0 ? l->path : NULL;
    brant_landform_answer cliff = brant_relief_cliff(relief, cell->col, cell->row);
    if (cliff == BRANT_LANDFORM_UNKNOWN || !above)
        found(l, BRANT_BELOW_CLIFF, cliff, cell->run_m);
    if (above)
        return;
    if (first_known(l->below) < cell->run_m)
        return; /* false for NaN */
    found(l, BRANT_BELOW_GULLY, brant_relief_gully(relief, cell->col, cell->row), cell->run_m);
    found(l, BRANT_BELOW_FLAT, brant_relief_flat(relief, cell->col, cell->row, path),
          cell->run_m);
}

/* Metres of the leg in a gully, over samples first..end-1. */
static void measure_gully(const run *r, look *l, const brant_tour *tour, size_t first, size_t end)
{
    for (size_t i = first; i < end; i++) {
        const brant_sample *sample = &tour->track.samples[i];
        if (has_cell(r, sample) && brant_relief_gully(&l->relief, (int)sample->col,
                                                      (int)sample->row) == BRANT_LANDFORM_YES)
            l->below->gully_m += brant_sample_metres(&tour->track, i);
    }
}

static brant_status look_below(brant_context *ctx, const run *r, bench *b, const item *it,
                               size_t first, size_t end)
{
    look l = {.below = &it->leg->below};
    if (b->count == 0) { /* off the model */
        found(&l, BRANT_BELOW_UNKNOWN, BRANT_LANDFORM_UNKNOWN, 0);
        return BRANT_OK;
    }
    brant_status status = open_look(ctx, r, b, &l);
    if (status == BRANT_OK) {
        qsort(b->cells, b->count, sizeof *b->cells, by_run);
        for (size_t i = 0; i < b->count; i++) {
            if (l.below->run_m[BRANT_BELOW_CLIFF] <= b->cells[i].run_m)
                break; /* false for NaN */
            look_at(&l, &b->cells[i]);
        }
        measure_gully(r, &l, it->tour, first, end);
    }
    close_look(&l);
    return status;
}

/* ---- legs --------------------------------------------------------------- */

static bool is_sought(brant_kind kind)
{
    return kind == BRANT_KIND_CROSSES || kind == BRANT_KIND_OVER_BAND ||
           kind == BRANT_KIND_EDGE || kind == BRANT_KIND_UNDER;
}

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

static brant_status below_leg(brant_context *ctx, void *user, int worker, int64_t index)
{
    const run *r = user;
    const item *it = &r->items[index];
    const brant_track *track = &it->tour->track;
    bench *b = &r->bench[worker];
    size_t end = it->leg->first_sample + it->leg->samples;
    brant_status status = take_search(ctx, r, b, angle_of_leg(r, it));
    it->leg->below = (brant_below){.sought = true, .run_m = {NAN, NAN, NAN, NAN}};
    for (size_t first = it->leg->first_sample, next; first < end && status == BRANT_OK;
         first = next) {
        next = cut(track, first, end, STRETCH_M);
        b->count = 0;
        b->box = (brant_window){0};
        for (size_t piece = first, after; piece < next && status == BRANT_OK; piece = after) {
            after = cut(track, piece, next, PIECE_M);
            status = search_piece(ctx, r, b, it->tour, piece, after);
        }
        if (status == BRANT_OK)
            status = look_below(ctx, r, b, it, first, next);
    }
    if ((it->leg->is & BRANT_UNKNOWN_ABOVE) && isnan(first_known(&it->leg->below)))
        it->leg->below.run_m[BRANT_BELOW_UNKNOWN] = 0; /* how high it comes is not known */
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
            if (is_sought(tours[t].legs[i].kind))
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
        status = brant_flow_create(ctx, source, ground, FLOW_BUDGET, &r.flow);
    if (status == BRANT_OK)
        status = brant_run(ctx, "below the legs", items, below_leg, NULL, &r);
    for (int i = 0; r.bench && i < workers; i++) {
        brant_search_destroy(r.bench[i].search);
        free(r.bench[i].starts);
        free(r.bench[i].cells);
    }
    free(r.bench);
    free(r.items);
    brant_flow_destroy(r.flow);
    return status;
}
