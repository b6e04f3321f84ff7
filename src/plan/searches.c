#include "searches.h"

#include "bench.h"

#include <math.h>
#include <stdlib.h>

#define EVERY_WAY_DEG 180.0 /* what comes out of the unknown has no known direction */

typedef struct run {
    searches *s;
    brant_flow *flow;
    bench *bench;
    const brant_reach_options *options;
    pthread_mutex_t lock;
} run;

/* ---- zones -------------------------------------------------------------- */

static brant_status starts_of_zone(brant_context *ctx, const searches *s, const brant_zone *zone,
                                   bench *b, size_t *count)
{
    *count = 0;
    if (brant_grow(ctx, &b->starts, &b->capacity, zone->cells, sizeof *b->starts) != BRANT_OK)
        return BRANT_ERR_MEMORY;
    for (int r = zone->box.row; r < zone->box.row + zone->box.rows; r++)
        for (int c = zone->box.col; c < zone->box.col + zone->box.cols; c++)
            if (brant_zone_set_at(s->zones, c, r) == zone->number && *count < zone->cells)
                b->starts[(*count)++] = (brant_start){c, r, 0.0f};
    return BRANT_OK;
}

/* Is this reached cell one that the route stands on, and not the zone's own ground? */
static bool is_hit(const searches *s, const brant_reached *cell, uint32_t zone)
{
    const brant_window *w = &s->shadow->window;
    if (!s->route || !brant_window_has(w, cell->col, cell->row))
        return false;
    size_t at = (size_t)(cell->row - w->row) * (size_t)w->cols + (size_t)(cell->col - w->col);
    return s->route[at] && brant_zone_set_at(s->zones, cell->col, cell->row) != zone;
}

static brant_status keep_hits(brant_context *ctx, run *r, uint32_t zone,
                              const brant_reach_result *result)
{
    searches *s = r->s;
    brant_status status = BRANT_OK;
    pthread_mutex_lock(&r->lock);
    s->visits += result->visits;
    s->zones_searched++;
    for (size_t i = 0; i < result->count && status == BRANT_OK; i++) {
        const brant_reached *cell = &result->cells[i];
        if (!is_hit(s, cell, zone))
            continue;
        status = brant_grow(ctx, &s->hits, &s->hit_capacity, s->hit_count + 1, sizeof *s->hits);
        if (status == BRANT_OK)
            s->hits[s->hit_count++] = (brant_hit){cell->col, cell->row, zone,
                                                  cell->reached_at_deg, cell->head_m};
    }
    pthread_mutex_unlock(&r->lock);
    return status;
}

static brant_status search_zone(brant_context *ctx, void *user, int worker, int64_t item)
{
    run *r = user;
    bench *b = &r->bench[worker];
    brant_zone *zone = &r->s->zones->zones[item];
    brant_reach_options options = brant_options_of_zone(r->options, zone->reach_angle_deg);
    double tan_floor = tan(options.floor_deg * M_PI / 180.0);
    brant_reach_result result, beyond;
    size_t count;
    if (r->s->only && !r->s->only[item])
        return BRANT_OK;
    if (r->s->corridor &&
        !brant_corridor_within_reach(r->s->corridor, &zone->box, zone->high_m, tan_floor))
        return BRANT_OK;
    brant_status status = starts_of_zone(ctx, r->s, zone, b, &count);
    if (status != BRANT_OK)
        return status;
    brant_search_set(b->search, &options);
    brant_search_carry(b->search, r->s->void_rise_m);
    status = brant_search_run(ctx, b->search, b->starts, count, &result);
    if (status != BRANT_OK)
        return status;
    if (result.truncated)
        zone->flags |= BRANT_ZONE_TRUNCATED;
    brant_shadow_add_at(r->s->shadow, zone->number, options.reach_angle_deg, &result);
    status = keep_hits(ctx, r, zone->number, &result);
    if (status == BRANT_OK)
        status = brant_bench_beyond(ctx, b, &options, &result, &beyond);
    if (status == BRANT_OK)
        brant_shadow_add_unknown_at(r->s->shadow, options.reach_angle_deg, &beyond);
    return status;
}

/* ---- rims --------------------------------------------------------------- */

static brant_status search_rim(brant_context *ctx, void *user, int worker, int64_t item)
{
    run *r = user;
    searches *s = r->s;
    bench *b = &r->bench[worker];
    brant_reach_result result, beyond;
    if (s->wanted && !s->wanted[item])
        return BRANT_OK;
    brant_window square = brant_square_window(&s->zones->squares, (int)item, s->source->cols,
                                              s->source->rows);
    brant_status status = brant_bench_rim(ctx, b, r->options, s->source, &square,
                                          s->void_rise_m, &result);
    if (status == BRANT_OK)
        brant_shadow_add_unknown_at(s->shadow, r->options->reach_angle_deg, &result);
    if (status == BRANT_OK)
        status = brant_bench_beyond(ctx, b, r->options, &result, &beyond);
    if (status == BRANT_OK)
        brant_shadow_add_unknown_at(s->shadow, r->options->reach_angle_deg, &beyond);
    return status;
}

/* ---- both --------------------------------------------------------------- */

static int by_place(const void *a, const void *b)
{
    const brant_hit *x = a, *y = b;
    if (x->row != y->row)
        return x->row < y->row ? -1 : 1;
    if (x->col != y->col)
        return x->col < y->col ? -1 : 1;
    return x->zone < y->zone ? -1 : x->zone > y->zone;
}

/* Run `work` for `count` items, with a search of `options` for each worker. */
static brant_status run_searches(brant_context *ctx, run *r, const char *stage, int64_t count,
                                 brant_work_fn work, const brant_reach_options *options)
{
    int workers = ctx->threads < 1 ? 1 : ctx->threads;
    r->options = options;
    r->bench = brant_benches_create(ctx, r->flow, options, workers);
    if (!r->bench)
        return BRANT_ERR_MEMORY;
    for (int i = 0; i < workers; i++)
        brant_search_keep(r->bench[i].search, &r->s->shadow->window);
    brant_status status = brant_run(ctx, stage, count, work, NULL, r);
    brant_benches_destroy(r->bench, workers);
    return status;
}

brant_status brant_searches_run(brant_context *ctx, searches *s)
{
    run r = {.s = s};
    brant_reach_options rim = s->reach;
    rim.spread_deg = EVERY_WAY_DEG;
    if (s->flattest_deg > 0.0)
        rim.reach_angle_deg = fmin(rim.reach_angle_deg, s->flattest_deg);
    rim.floor_deg = rim.reach_angle_deg; /* a flag for that angle, nothing below */
    int64_t squares = (int64_t)s->zones->squares.across * s->zones->squares.down;
    brant_status status = brant_flow_create(ctx, s->source, s->ground, BRANT_FLOW_BUDGET, &r.flow);
    if (status != BRANT_OK)
        return status;
    pthread_mutex_init(&r.lock, NULL);
    status = run_searches(ctx, &r, "runout", (int64_t)s->zones->count, search_zone, &s->reach);
    if (status == BRANT_OK)
        status = run_searches(ctx, &r, "unknown ground", squares, search_rim, &rim);
    pthread_mutex_destroy(&r.lock);
    brant_flow_destroy(r.flow);
    if (status == BRANT_OK && s->hit_count > 0)
        qsort(s->hits, s->hit_count, sizeof *s->hits, by_place);
    return status;
}
