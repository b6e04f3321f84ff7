/* A group of circuits that share ground.
 *
 * The ground is looked at as one plan would with all their routes: the squares that any of
 * them wants are numbered once, each zone that any of them could be reached by is searched
 * once. Zones and searches depend on nothing but the ground, so what reaches a cell is the
 * same for one circuit and for all. Three things of a plan do depend on how far it looks, and
 * each circuit gets its own: which squares it knows, the faces over those squares, and which
 * zones were searched at all (whether a shadow is cut off is not known of the others). */
#include "lines.h"
#include "screen_group.h"
#include "searches.h"

#include <math.h>
#include <stdlib.h>
#include <string.h>

brant_source *brant_group_source(const group *g)
{
    return (brant_source *)&g->request->dem->source; /* reading changes nothing */
}

size_t brant_group_squares(const group *g)
{
    return (size_t)g->s->squares.across * (size_t)g->s->squares.down;
}

/* ---- the window --------------------------------------------------------- */

static brant_status sample_member(brant_context *ctx, void *user, int worker, int64_t item)
{
    group *g = user;
    return brant_screen_sample(ctx, g->s, worker, g->members[item]);
}

static brant_status read_window(brant_context *ctx, group *g)
{
    brant_window w = g->members[0]->window;
    for (size_t i = 1; i < g->count; i++)
        w = brant_window_union(w, g->members[i]->window);
    g->plan.window = w;
    g->route = brant_alloc(ctx, (size_t)w.cols * (size_t)w.rows, 1);
    if (!g->route)
        return BRANT_ERR_MEMORY;
    for (size_t i = 0; i < g->count; i++)
        brant_lines_mark(&g->request->dem->grid, g->members[i]->tracks,
                         g->s->request->files[g->members[i]->file].gpx->route_count, &w, g->route);
    return brant_field_read(ctx, brant_group_source(g), g->request->dem->ground, &w, false,
                            &g->plan.field);
}

/* ---- squares ------------------------------------------------------------ */

/* What its plan's maps would want shadows on. */
static brant_status find_corridor(brant_context *ctx, void *user, int worker, int64_t item)
{
    group *g = user;
    circuit *c = g->members[item];
    size_t cells = (size_t)c->window.cols * (size_t)c->window.rows;
    brant_field field = {.window = c->window,
                         .elevation = brant_alloc(ctx, cells, sizeof(float))};
    (void)worker;
    c->wanted = brant_alloc(ctx, brant_group_squares(g), sizeof *c->wanted);
    brant_status status = field.elevation && c->wanted ? BRANT_OK : BRANT_ERR_MEMORY;
    if (status == BRANT_OK) {
        brant_cut_out(&g->plan.window, g->plan.field.elevation, sizeof(float), &c->window,
                field.elevation);
        status = brant_corridor_of(ctx, g->request->dem->ground, &field, NULL, &c->corridor);
    }
    free(field.elevation);
    return status;
}

static brant_status look_at_square(brant_context *ctx, void *user, int worker, int64_t item)
{
    group *g = user;
    screen *s = g->s;
    brant_window box = brant_square_window(&s->squares, (int)item, brant_group_source(g)->cols,
                                           brant_group_source(g)->rows);
    bool may = false;
    for (size_t i = 0; i < g->count && !may && !s->looked_at[item]; i++)
        may = brant_corridor_may_want(&g->members[i]->corridor, &box, g->request->void_rise_m,
                                      s->tan_floor);
    if (!may)
        return BRANT_OK;
    if (!g->buffers[worker])
        g->buffers[worker] = brant_alloc(ctx, (size_t)BRANT_SQUARE * BRANT_SQUARE, sizeof(float));
    if (!g->buffers[worker])
        return BRANT_ERR_MEMORY;
    s->looked_at[item] = true;
    return brant_square_high(ctx, brant_group_source(g), &box, g->buffers[worker],
                             &s->high_m[item]);
}

static brant_status choose_squares(brant_context *ctx, void *user, int worker, int64_t item)
{
    group *g = user;
    screen *s = g->s;
    circuit *c = g->members[item];
    (void)ctx;
    (void)worker;
    for (size_t i = 0; i < brant_group_squares(g); i++) {
        brant_window box = brant_square_window(&s->squares, (int)i, brant_group_source(g)->cols,
                                               brant_group_source(g)->rows);
        double rise = g->request->void_rise_m;
        c->wanted[i] = s->looked_at[i] &&
                       brant_corridor_may_want(&c->corridor, &box, rise, s->tan_floor) &&
                       brant_corridor_wants(&c->corridor, &box, s->high_m[i], rise, s->tan_floor);
    }
    return BRANT_OK;
}

static brant_status find_squares(brant_context *ctx, group *g)
{
    g->buffers = brant_alloc(ctx, (size_t)ctx->threads, sizeof *g->buffers);
    g->wanted = brant_alloc(ctx, brant_group_squares(g), sizeof *g->wanted);
    if (!g->buffers || !g->wanted)
        return BRANT_ERR_MEMORY;
    brant_status status = brant_run(ctx, NULL, (int64_t)g->count, find_corridor, NULL, g);
    if (status == BRANT_OK)
        status = brant_run(ctx, "looking for high ground", (int64_t)brant_group_squares(g),
                           look_at_square, NULL, g);
    for (int i = 0; i < ctx->threads; i++)
        free(g->buffers[i]);
    if (status == BRANT_OK)
        status = brant_run(ctx, NULL, (int64_t)g->count, choose_squares, NULL, g);
    for (size_t m = 0; m < g->count && status == BRANT_OK; m++)
        for (size_t i = 0; i < brant_group_squares(g); i++)
            g->wanted[i] |= g->members[m]->wanted[i];
    return status;
}

/* ---- zones and shadows -------------------------------------------------- */

static size_t square_of(const group *g, const brant_zone *zone)
{
    return zone->number / g->s->squares.stride;
}

bool brant_group_searches(const group *g, const circuit *c, const brant_zone *zone)
{
    return c->wanted[square_of(g, zone)] &&
           brant_corridor_within_reach(&c->corridor, &zone->box, zone->high_m, g->s->tan_floor);
}

static brant_status choose_zone(brant_context *ctx, void *user, int worker, int64_t item)
{
    group *g = user;
    (void)ctx;
    (void)worker;
    for (size_t i = 0; i < g->count && !g->only[item]; i++)
        g->only[item] = brant_group_searches(g, g->members[i], &g->plan.zones.zones[item]);
    return BRANT_OK;
}

static brant_status trace_shadows(brant_context *ctx, group *g)
{
    const brant_plan_request *q = g->request;
    brant_plan *plan = &g->plan;
    g->only = brant_alloc(ctx, plan->zones.count, sizeof *g->only);
    if (!g->only)
        return BRANT_ERR_MEMORY;
    brant_status status = brant_run(ctx, NULL, (int64_t)plan->zones.count, choose_zone, NULL, g);
    if (status == BRANT_OK)
        status = brant_shadow_create(ctx, &plan->window, q->reach.reach_angle_deg, &plan->shadow);
    if (status != BRANT_OK)
        return status;
    searches s = {.source = brant_group_source(g), .ground = q->dem->ground, .reach = q->reach,
                  .void_rise_m = q->void_rise_m, .only = g->only, .zones = &plan->zones,
                  .wanted = g->wanted, .shadow = &plan->shadow, .route = g->route};
    status = brant_searches_run(ctx, &s);
    plan->hits = s.hits;
    plan->hit_count = s.hit_count;
    plan->zones_searched = s.zones_searched;
    plan->visits = s.visits;
    return status;
}

static brant_status list_truncated(brant_context *ctx, group *g)
{
    const brant_zone_set *set = &g->plan.zones;
    g->truncated = brant_alloc(ctx, set->count, sizeof *g->truncated);
    if (!g->truncated)
        return BRANT_ERR_MEMORY;
    for (size_t i = 0; i < set->count; i++)
        if (set->zones[i].flags & BRANT_ZONE_TRUNCATED)
            g->truncated[g->truncated_count++] = i;
    return BRANT_OK;
}

/* ---- all of it ---------------------------------------------------------- */

static brant_status look_at_ground(brant_context *ctx, group *g)
{
    const brant_plan_request *q = g->request;
    brant_status status = brant_run(ctx, NULL, (int64_t)g->count, sample_member, NULL, g);
    if (status == BRANT_OK)
        status = read_window(ctx, g);
    if (status == BRANT_OK)
        status = find_squares(ctx, g);
    if (status == BRANT_OK)
        status = brant_zone_set_build(ctx, brant_group_source(g), q->dem->ground, g->wanted,
                                      &q->zone, &g->plan.zones);
    if (status == BRANT_OK)
        status = brant_zone_touches(ctx, &g->plan.zones, &g->touches, &g->touch_count);
    if (status == BRANT_OK)
        status = trace_shadows(ctx, g);
    if (status == BRANT_OK)
        status = list_truncated(ctx, g);
    if (status == BRANT_OK)
        status = brant_day_dangers(ctx, q, &g->plan);
    return status;
}

void brant_group_progress(brant_context *ctx, const group *g, double from, double to)
{
    double files = (double)g->s->request->file_count, count = (double)g->count;
    brant_progress(ctx, BRANT_SCREEN_DONE, (g->begun + from * count) / files);
    brant_progress(ctx, BRANT_SCREEN_NEXT, (g->begun + to * count) / files);
}

brant_status brant_screen_group(brant_context *ctx, screen *s, circuit **members, size_t count)
{
    group g = {.s = s, .request = &s->request->plan, .members = members, .count = count,
               .begun = (double)s->done};
    brant_group_progress(ctx, &g, 0.0, BRANT_GROUND_SHARE);
    brant_status status = look_at_ground(ctx, &g);
    if (status == BRANT_OK)
        status = brant_group_tours(ctx, &g);
    free(g.buffers);
    free(g.wanted);
    free(g.only);
    free(g.route);
    free(g.touches);
    free(g.truncated);
    brant_plan_clear(&g.plan);
    for (size_t i = 0; i < count; i++)
        brant_screen_forget(s, members[i]);
    return status;
}
