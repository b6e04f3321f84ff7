/* The runout shadow of a whole model, whatever its size: zones by batches of squares, their
 * shadows in a store that spills (spill.h). A zone is searched as a whole all the same: of
 * zones that a person drew over a square's line, the cells are kept until the end. */
#include "bench.h"
#include "numbered.h"
#include "rasters.h"
#include "spill.h"

#include <math.h>
#include <stdlib.h>
#include <string.h>

/* What the budget is for, beside the store: pages of ground; squares at a time. */
#define BATCH 2
#define EVERY_WAY_DEG 180.0 /* what comes out of the unknown has no known direction */

/* Cells, by zone; zone i has those from first[i] to first[i + 1]. */
typedef struct zone_list {
    numbered_cell *cells;
    size_t count, capacity;
    size_t *first;
    size_t zones, first_capacity;
} zone_list;

typedef struct whole {
    const brant_runout_request *request;
    brant_source *source;
    numbered numbered;
    brant_flow *flow;
    spill *spill;
    bench *bench;
    const brant_reach_options *options; /* the request's, or rim */
    brant_reach_options rim;  /* of unknown ground */
    int at;                   /* first square of the batch */
    zone_list batch[BATCH];   /* a square's, those of zones in several squares behind the others */
    size_t all[BATCH];        /* cells, these included */
    zone_list many;           /* of zones in several squares */
    size_t truncated;
    double flattest_deg;      /* the lowest reach angle that a zone has of its own; INFINITY: none */
    pthread_mutex_t lock;
} whole;

static void list_clear(zone_list *list)
{
    free(list->cells);
    free(list->first);
    list->cells = NULL;
    list->first = NULL;
    list->count = list->capacity = list->zones = list->first_capacity = 0;
}

static brant_status list_add(brant_context *ctx, zone_list *list, const numbered_cell *cells,
                             size_t count)
{
    brant_status status = brant_grow(ctx, &list->cells, &list->capacity, list->count + count,
                                     sizeof *list->cells);
    if (status != BRANT_OK || count == 0)
        return status;
    memcpy(list->cells + list->count, cells, count * sizeof *cells);
    list->count += count;
    return BRANT_OK;
}

/* Where each zone's cells begin, and where the last's end. */
static brant_status list_zones(brant_context *ctx, zone_list *list)
{
    list->zones = 0;
    for (size_t i = 0; i <= list->count; i++) {
        if (i > 0 && i < list->count && list->cells[i].number == list->cells[i - 1].number)
            continue;
        if (brant_grow(ctx, &list->first, &list->first_capacity, list->zones + 1,
                       sizeof *list->first) != BRANT_OK)
            return BRANT_ERR_MEMORY;
        list->first[list->zones++] = i;
    }
    list->zones = list->count ? list->zones - 1 : 0;
    return BRANT_OK;
}

/* ---- searches ------------------------------------------------------------ */

static brant_status search_cells(brant_context *ctx, whole *w, int worker,
                                 const numbered_cell *cells, size_t count)
{
    bench *b = &w->bench[worker];
    brant_reach_options options = brant_options_of_zone(
        w->options, brant_zone_file_reach_angle(w->numbered.file, cells[0].number));
    brant_reach_result result, beyond;
    brant_status status = brant_grow(ctx, &b->starts, &b->capacity, count, sizeof *b->starts);
    for (size_t i = 0; i < count && status == BRANT_OK; i++)
        b->starts[i] = (brant_start){cells[i].col, cells[i].row, 0.0f};
    brant_search_set(b->search, &options);
    brant_search_carry(b->search, w->request->void_rise_m);
    if (status == BRANT_OK)
        status = brant_search_run(ctx, b->search, b->starts, count, &result);
    if (status == BRANT_OK)
        status = brant_spill_add(ctx, w->spill, cells[0].number, options.reach_angle_deg,
                                 &result);
    if (status == BRANT_OK)
        status = brant_bench_beyond(ctx, b, &options, &result, &beyond);
    if (status == BRANT_OK)
        status = brant_spill_add(ctx, w->spill, 0, options.reach_angle_deg, &beyond);
    if (status == BRANT_OK && result.truncated) {
        pthread_mutex_lock(&w->lock);
        w->truncated++;
        pthread_mutex_unlock(&w->lock);
    }
    return status;
}

static brant_status search_single(brant_context *ctx, void *user, int worker, int64_t item)
{
    whole *w = user;
    const zone_list *square = w->batch;
    for (; item >= (int64_t)square->zones; square++)
        item -= (int64_t)square->zones;
    const size_t *first = square->first + item;
    return search_cells(ctx, w, worker, square->cells + first[0], first[1] - first[0]);
}

static brant_status search_many(brant_context *ctx, void *user, int worker, int64_t item)
{
    whole *w = user;
    const size_t *first = w->many.first + item;
    return search_cells(ctx, w, worker, w->many.cells + first[0], first[1] - first[0]);
}

static brant_status search_rim(brant_context *ctx, void *user, int worker, int64_t item)
{
    whole *w = user;
    brant_window square = brant_square_window(&w->numbered.squares, (int)item, w->source->cols,
                                              w->source->rows);
    bench *b = &w->bench[worker];
    brant_reach_result result, beyond;
    brant_status status = brant_bench_rim(ctx, b, w->options, w->source, &square,
                                          w->request->void_rise_m, &result);
    if (status == BRANT_OK)
        status = brant_spill_add(ctx, w->spill, 0, w->options->reach_angle_deg, &result);
    if (status == BRANT_OK)
        status = brant_bench_beyond(ctx, b, w->options, &result, &beyond);
    if (status == BRANT_OK)
        status = brant_spill_add(ctx, w->spill, 0, w->options->reach_angle_deg, &beyond);
    return status;
}

/* ---- batches ------------------------------------------------------------- */

static brant_status read_square(brant_context *ctx, void *user, int worker, int64_t item)
{
    whole *w = user;
    zone_list *square = &w->batch[item];
    (void)worker;
    brant_status status = brant_numbered_cells(ctx, &w->numbered, w->at + (int)item,
                                               &square->cells, &square->count, &w->all[item]);
    return status == BRANT_OK ? list_zones(ctx, square) : status;
}

/* In the order of the squares: what comes of it depends on nothing else. */
static brant_status take_square(brant_context *ctx, void *user, int worker, int64_t item)
{
    whole *w = user;
    const zone_list *square = &w->batch[item];
    (void)worker;
    return list_add(ctx, &w->many, square->cells + square->count, w->all[item] - square->count);
}

static brant_status search_batch(brant_context *ctx, whole *w, int squares)
{
    int64_t count = squares - w->at < BATCH ? squares - w->at : BATCH, zones = 0;
    brant_status status = brant_run(ctx, NULL, count, read_square, take_square, w);
    for (int i = 0; i < BATCH; i++)
        zones += (int64_t)w->batch[i].zones;
    if (status == BRANT_OK)
        status = brant_run(ctx, NULL, zones, search_single, NULL, w);
    for (int i = 0; i < BATCH; i++)
        list_clear(&w->batch[i]);
    w->at += (int)count;
    brant_progress(ctx, "runout", (double)w->at / squares);
    return status;
}

static brant_status search_zones(brant_context *ctx, whole *w, int squares)
{
    brant_status status = BRANT_OK;
    while (w->at < squares && status == BRANT_OK)
        status = search_batch(ctx, w, squares);
    brant_numbered_sort(w->many.cells, w->many.count);
    if (status == BRANT_OK)
        status = list_zones(ctx, &w->many);
    if (status == BRANT_OK)
        status = brant_run(ctx, NULL, (int64_t)w->many.zones, search_many, NULL, w);
    return status;
}

/* Everything that is searched from, with benches for each kind. */
static brant_status search_all(brant_context *ctx, whole *w)
{
    int squares = w->numbered.squares.across * w->numbered.squares.down;
    int workers = ctx->threads < 1 ? 1 : ctx->threads;
    w->rim = w->request->reach;
    w->rim.spread_deg = EVERY_WAY_DEG;
    w->rim.reach_angle_deg = fmin(w->rim.reach_angle_deg, w->flattest_deg);
    w->rim.floor_deg = w->rim.reach_angle_deg; /* a flag for that angle, nothing below */
    w->options = &w->request->reach;
    w->bench = brant_benches_create(ctx, w->flow, w->options, workers);
    brant_status status = w->bench ? search_zones(ctx, w, squares) : BRANT_ERR_MEMORY;
    brant_benches_destroy(w->bench, workers);
    list_clear(&w->many);
    if (status != BRANT_OK)
        return status;
    w->options = &w->rim;
    w->bench = brant_benches_create(ctx, w->flow, w->options, workers);
    status = w->bench ? brant_run(ctx, "unknown ground", squares, search_rim, NULL, w)
                      : BRANT_ERR_MEMORY;
    brant_benches_destroy(w->bench, workers);
    return status;
}

/* ---- the raster ---------------------------------------------------------- */

typedef struct spilled {
    spill *spill;
    brant_shadow piece;
} spilled;

static brant_status shadow_of_piece(brant_context *ctx, void *self, const brant_window *piece,
                                    const brant_shadow **shadow)
{
    spilled *s = self;
    *shadow = &s->piece;
    return brant_spill_read(ctx, s->spill, piece, &s->piece);
}

static brant_status write_spilled(brant_context *ctx, brant_dem *dem, spill *store,
                                  const brant_runout_request *request)
{
    brant_window all = {0, 0, dem->grid.cols, dem->grid.rows};
    pieces p = brant_pieces_of(&all);
    brant_window largest = brant_piece_window(&p, 0);
    spilled s = {.spill = store};
    brant_status status = brant_shadow_create(ctx, &largest, request->reach.reach_angle_deg,
                                              &s.piece);
    if (status == BRANT_OK)
        status = brant_write_shadow_pieces(ctx, dem, &all, shadow_of_piece, &s, request->path,
                                           request->packing, request->tags);
    brant_shadow_clear(&s.piece);
    return status;
}

brant_status brant_plan_runout(brant_context *ctx, brant_dem *dem, brant_zone_file *zones,
                               const brant_runout_request *request, brant_runout_counts *counts)
{
    whole w = {.request = request, .source = &dem->source,
               .flattest_deg = brant_zone_file_flattest(zones)};
    brant_text shadow_path = {0}, numbers_path = {0};
    *counts = (brant_runout_counts){0};
    brant_text_add(&shadow_path, "%s.shadow", request->path);
    brant_text_add(&numbers_path, "%s.numbers", request->path);
    brant_status status = brant_text_status(ctx, &shadow_path);
    if (status == BRANT_OK)
        status = brant_text_status(ctx, &numbers_path);
    if (status == BRANT_OK)
        status = brant_numbered_open(ctx, zones, dem, numbers_path.data, &w.numbered);
    if (status == BRANT_OK)
        status = brant_flow_create(ctx, w.source, dem->ground, request->budget_bytes / 2, &w.flow);
    if (status == BRANT_OK)
        status = brant_spill_create(ctx, &dem->grid, request->reach.reach_angle_deg,
                                    request->budget_bytes / 2, shadow_path.data, &w.spill);
    pthread_mutex_init(&w.lock, NULL);
    if (status == BRANT_OK)
        status = search_all(ctx, &w);
    pthread_mutex_destroy(&w.lock);
    *counts = (brant_runout_counts){w.numbered.count, w.truncated};
    brant_flow_destroy(w.flow);
    brant_numbered_clear(&w.numbered);
    if (status == BRANT_OK)
        status = write_spilled(ctx, dem, w.spill, request);
    brant_spill_destroy(w.spill);
    brant_text_clear(&shadow_path);
    brant_text_clear(&numbers_path);
    return status;
}
