/* A group of circuits that share ground.
 *
 * The ground is looked at as one plan would with all their routes: the squares that any of
 * them wants are numbered once, each zone that any of them could be reached by is searched
 * once. Zones and searches depend on nothing but the ground, so what reaches a cell is the
 * same for one circuit and for all. Three things of a plan do depend on how far it looks, and
 * each circuit gets its own: which squares it knows, the faces over those squares, and which
 * zones were searched at all (whether a shadow is cut off is not known of the others). */
#include "below.h"
#include "day.h"
#include "lines.h"
#include "screen.h"
#include "searches.h"

#include <math.h>
#include <stdlib.h>
#include <string.h>

/* One worker's view of the zones: as one circuit alone knows them. */
typedef struct view {
    brant_zone_set set;       /* zones in the group's order */
    bool *wanted;             /* the squares that its faces are over */
    bool made;
} view;

typedef struct group {
    screen *s;
    const brant_plan_request *request;
    circuit **members;
    size_t count;
    brant_plan plan;          /* of all of them; its tours are theirs, with gaps */
    size_t routes;
    bool *wanted;             /* squares: any of theirs */
    bool *only;               /* zones: those within reach of any of them */
    uint8_t *route;
    brant_touch *touches;
    size_t touch_count;
    size_t *truncated;        /* zones so flagged, by place */
    size_t truncated_count;
    view *views;
    float **buffers;          /* one a worker */
} group;

static brant_source *source_of(const group *g)
{
    return (brant_source *)&g->request->dem->source; /* reading changes nothing */
}

static size_t square_count(const group *g)
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
    return brant_field_read(ctx, source_of(g), g->request->dem->ground, &w, false,
                            &g->plan.field);
}

/* ---- squares ------------------------------------------------------------ */

/* The rows of `values` (over `from`) that lie in `to`; `size` bytes a cell. */
static void cut_out(const brant_window *from, const void *values, size_t size,
                    const brant_window *to, void *out)
{
    for (int r = 0; r < to->rows; r++)
        memcpy((char *)out + (size_t)r * (size_t)to->cols * size,
               (const char *)values + ((size_t)(to->row + r - from->row) * (size_t)from->cols +
                                       (size_t)(to->col - from->col)) * size,
               (size_t)to->cols * size);
}

/* What its plan's maps would want shadows on. */
static brant_status find_corridor(brant_context *ctx, void *user, int worker, int64_t item)
{
    group *g = user;
    circuit *c = g->members[item];
    size_t cells = (size_t)c->window.cols * (size_t)c->window.rows;
    brant_field field = {.window = c->window,
                         .elevation = brant_alloc(ctx, cells, sizeof(float))};
    (void)worker;
    c->wanted = brant_alloc(ctx, square_count(g), sizeof *c->wanted);
    brant_status status = field.elevation && c->wanted ? BRANT_OK : BRANT_ERR_MEMORY;
    if (status == BRANT_OK) {
        cut_out(&g->plan.window, g->plan.field.elevation, sizeof(float), &c->window,
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
    brant_window box = brant_square_window(&s->squares, (int)item, source_of(g)->cols,
                                           source_of(g)->rows);
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
    return brant_square_high(ctx, source_of(g), &box, g->buffers[worker], &s->high_m[item]);
}

static brant_status choose_squares(brant_context *ctx, void *user, int worker, int64_t item)
{
    group *g = user;
    screen *s = g->s;
    circuit *c = g->members[item];
    (void)ctx;
    (void)worker;
    for (size_t i = 0; i < square_count(g); i++) {
        brant_window box = brant_square_window(&s->squares, (int)i, source_of(g)->cols,
                                               source_of(g)->rows);
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
    g->wanted = brant_alloc(ctx, square_count(g), sizeof *g->wanted);
    if (!g->buffers || !g->wanted)
        return BRANT_ERR_MEMORY;
    brant_status status = brant_run(ctx, NULL, (int64_t)g->count, find_corridor, NULL, g);
    if (status == BRANT_OK)
        status = brant_run(ctx, "looking for high ground", (int64_t)square_count(g),
                           look_at_square, NULL, g);
    for (int i = 0; i < ctx->threads; i++)
        free(g->buffers[i]);
    if (status == BRANT_OK)
        status = brant_run(ctx, NULL, (int64_t)g->count, choose_squares, NULL, g);
    for (size_t m = 0; m < g->count && status == BRANT_OK; m++)
        for (size_t i = 0; i < square_count(g); i++)
            g->wanted[i] |= g->members[m]->wanted[i];
    return status;
}

/* ---- zones and shadows -------------------------------------------------- */

static size_t square_of(const group *g, const brant_zone *zone)
{
    return zone->number / g->s->squares.stride;
}

/* Would the circuit's plan search this zone? */
static bool is_searched(const group *g, const circuit *c, const brant_zone *zone)
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
        g->only[item] = is_searched(g, g->members[i], &g->plan.zones.zones[item]);
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
    searches s = {.source = source_of(g), .ground = q->dem->ground, .reach = q->reach,
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

/* ---- the zones as one circuit knows them --------------------------------- */

static brant_status make_view(brant_context *ctx, const group *g, view *v)
{
    const brant_zone_set *set = &g->plan.zones;
    size_t squares = square_count(g);
    v->set = *set;
    v->set.zones = brant_alloc(ctx, set->count, sizeof *set->zones);
    v->set.square = brant_alloc(ctx, squares, sizeof *set->square);
    v->wanted = brant_alloc(ctx, squares, sizeof *v->wanted);
    if (!v->set.zones || !v->set.square || !v->wanted)
        return BRANT_ERR_MEMORY;
    if (set->count > 0)
        memcpy(v->set.zones, set->zones, set->count * sizeof *set->zones);
    memcpy(v->set.square, set->square, squares * sizeof *set->square);
    return BRANT_OK;
}

static void clear_view(view *v)
{
    free(v->set.zones);
    free(v->set.square);
    free(v->wanted);
}

static brant_status see(brant_context *ctx, const group *g, view *v, const circuit *c)
{
    const brant_zone_set *set = &g->plan.zones;
    size_t squares = square_count(g);
    brant_status status = v->set.zones ? BRANT_OK : make_view(ctx, g, v);
    if (status == BRANT_OK && (!v->made || memcmp(v->wanted, c->wanted, squares) != 0)) {
        memcpy(v->wanted, c->wanted, squares);
        for (size_t i = 0; i < squares; i++)
            v->set.square[i].number = c->wanted[i] ? set->square[i].number : NULL;
        status = brant_zone_faces(ctx, set, g->touches, g->touch_count, c->wanted, v->set.zones);
        v->made = status == BRANT_OK;
    }
    for (size_t i = 0; i < g->truncated_count && status == BRANT_OK; i++) {
        brant_zone *zone = &v->set.zones[g->truncated[i]];
        zone->flags |= BRANT_ZONE_TRUNCATED;
        if (!is_searched(g, c, zone))
            zone->flags &= ~(uint32_t)BRANT_ZONE_TRUNCATED;
    }
    return status;
}

static int by_number(const void *a, const void *b)
{
    const brant_zone *x = a, *y = b;
    return (x->number > y->number) - (x->number < y->number);
}

static const brant_zone *copy_of(const circuit *c, size_t count, const brant_zone *zone)
{
    return zone ? bsearch(zone, c->zones, count, sizeof *zone, by_number) : NULL;
}

/* Copies of the zones that its tours meet, for the view goes on to another circuit. */
static brant_status keep_zones(brant_context *ctx, circuit *c)
{
    size_t met = 0, count = 0;
    for (size_t t = 0; t < c->tour_count; t++)
        met += c->tours[t].above_count;
    c->zones = brant_alloc(ctx, met, sizeof *c->zones);
    if (!c->zones)
        return BRANT_ERR_MEMORY;
    met = 0;
    for (size_t t = 0; t < c->tour_count; t++)
        for (size_t i = 0; i < c->tours[t].above_count; i++)
            c->zones[met++] = *c->tours[t].above[i].zone;
    if (met > 0)
        qsort(c->zones, met, sizeof *c->zones, by_number);
    for (size_t i = 0; i < met; i++)
        if (count == 0 || c->zones[count - 1].number != c->zones[i].number)
            c->zones[count++] = c->zones[i];
    for (size_t t = 0; t < c->tour_count; t++) {
        for (size_t i = 0; i < c->tours[t].above_count; i++)
            c->tours[t].above[i].zone = copy_of(c, count, c->tours[t].above[i].zone);
        for (size_t i = 0; i < c->tours[t].leg_count; i++)
            c->tours[t].legs[i].governing = copy_of(c, count, c->tours[t].legs[i].governing);
    }
    return BRANT_OK;
}

/* ---- the ground that one circuit knows ----------------------------------- */

/* Of a circuit that leaves the model, samples outside may come close to it again beyond its
 * window, where its plan would know nothing. */
typedef struct ground_cut {
    brant_field field;
    float *reached_at;
    uint16_t *zones_above;
    uint8_t *unknown_above;
} ground_cut;

static bool leaves_model(const group *g, const circuit *c)
{
    bool leaves = false;
    for (size_t i = 0; i < g->s->request->files[c->file].gpx->route_count; i++)
        leaves |= c->outside_m[i] > 0.0;
    return leaves;
}

static brant_status cut_ground(brant_context *ctx, const group *g, const brant_window *to,
                               ground_cut *cut)
{
    const brant_plan *plan = &g->plan;
    const brant_window *from = &plan->window;
    size_t cells = (size_t)to->cols * (size_t)to->rows;
    *cut = (ground_cut){.field = {.window = *to,
                                  .elevation = brant_alloc(ctx, cells, sizeof(float)),
                                  .slope = brant_alloc(ctx, cells, sizeof(float)),
                                  .aspect = brant_alloc(ctx, cells, sizeof(float))},
                        .reached_at = brant_alloc(ctx, cells, sizeof(float)),
                        .zones_above = brant_alloc(ctx, cells, sizeof(uint16_t)),
                        .unknown_above = brant_alloc(ctx, cells, 1)};
    if (!cut->field.elevation || !cut->field.slope || !cut->field.aspect || !cut->reached_at ||
        !cut->zones_above || !cut->unknown_above)
        return BRANT_ERR_MEMORY;
    cut_out(from, plan->field.elevation, sizeof(float), to, cut->field.elevation);
    cut_out(from, plan->field.slope, sizeof(float), to, cut->field.slope);
    cut_out(from, plan->field.aspect, sizeof(float), to, cut->field.aspect);
    cut_out(from, plan->shadow.reached_at, sizeof(float), to, cut->reached_at);
    cut_out(from, plan->shadow.zones_above, sizeof(uint16_t), to, cut->zones_above);
    cut_out(from, plan->shadow.unknown_above, 1, to, cut->unknown_above);
    return BRANT_OK;
}

static void clear_cut(ground_cut *cut)
{
    brant_field_clear(&cut->field);
    free(cut->reached_at);
    free(cut->zones_above);
    free(cut->unknown_above);
}

/* ---- tours -------------------------------------------------------------- */

static brant_status build_tour(brant_context *ctx, const group *g, const brant_meeting *meeting,
                               brant_track *track, brant_tour *tour)
{
    brant_fact *facts = NULL;
    brant_status status = brant_meet(ctx, meeting, track, &facts);
    if (status == BRANT_OK)
        status = brant_tour_build(ctx, meeting, track, &facts, tour);
    free(facts);
    if (status == BRANT_OK)
        status = brant_tour_day(ctx, meeting, source_of(g), tour);
    if (status == BRANT_OK)
        status = brant_tour_overs(ctx, NULL, 0, tour);
    return status;
}

static brant_status build_member(brant_context *ctx, void *user, int worker, int64_t item)
{
    group *g = user;
    circuit *c = g->members[item];
    view *v = &g->views[worker];
    const brant_plan *plan = &g->plan;
    size_t routes = g->s->request->files[c->file].gpx->route_count;
    brant_day day = g->request->day;
    ground_cut cut = {0};
    bool leaves = leaves_model(g, c);
    brant_status status = see(ctx, g, v, c);
    if (status == BRANT_OK && leaves)
        status = cut_ground(ctx, g, &c->window, &cut);
    day.zone_danger = (const brant_danger(*)[BRANT_PERIODS])plan->zone_danger;
    brant_meeting meeting = {
        .field = leaves ? &cut.field : &plan->field,
        .ground = g->request->dem->ground,
        .zones = &v->set,
        .hits = plan->hits,
        .hit_count = plan->hit_count,
        .reached_at = leaves ? cut.reached_at : plan->shadow.reached_at,
        .zones_above = leaves ? cut.zones_above : plan->shadow.zones_above,
        .unknown_above = leaves ? cut.unknown_above : plan->shadow.unknown_above,
        .day = &day,
        .options = g->request->meet};
    for (size_t i = 0; i < routes && status == BRANT_OK; i++)
        if (c->tracks[i].count > 0)
            status = build_tour(ctx, g, &meeting, &c->tracks[i], &c->tours[c->tour_count++]);
    clear_cut(&cut);
    return status == BRANT_OK ? keep_zones(ctx, c) : status;
}

static brant_status build_tours(brant_context *ctx, group *g)
{
    size_t routes = 0;
    for (size_t i = 0; i < g->count; i++)
        routes += g->s->request->files[g->members[i]->file].gpx->route_count;
    g->plan.tours = brant_alloc(ctx, routes, sizeof *g->plan.tours);
    g->views = brant_alloc(ctx, (size_t)ctx->threads, sizeof *g->views);
    if (!g->plan.tours || !g->views)
        return BRANT_ERR_MEMORY;
    g->plan.tour_count = routes; /* those of routes without two points stay empty */
    routes = 0;
    for (size_t i = 0; i < g->count; i++) {
        g->members[i]->tours = g->plan.tours + routes;
        g->members[i]->tour_count = 0;
        routes += g->s->request->files[g->members[i]->file].gpx->route_count;
    }
    return brant_run(ctx, "legs", (int64_t)g->count, build_member, NULL, g);
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
        status = brant_zone_set_build(ctx, source_of(g), q->dem->ground, g->wanted, &q->zone,
                                      &g->plan.zones);
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

static brant_status tell(brant_context *ctx, const group *g)
{
    brant_status status = BRANT_OK;
    for (size_t i = 0; i < g->count && status == BRANT_OK; i++) {
        const circuit *c = g->members[i];
        brant_screened screened = {.file = c->file, .tours = c->tours,
                                   .tour_count = c->tour_count, .empty = c->empty,
                                   .outside_m = c->outside_m};
        status = g->s->request->done(ctx, g->s->request->user, &screened);
        g->s->done++;
    }
    return status;
}

brant_status brant_screen_group(brant_context *ctx, screen *s, circuit **members, size_t count)
{
    group g = {.s = s, .request = &s->request->plan, .members = members, .count = count};
    const brant_plan_request *q = g.request;
    brant_status status = look_at_ground(ctx, &g);
    if (status == BRANT_OK)
        status = build_tours(ctx, &g);
    if (status == BRANT_OK && s->request->below)
        status = brant_below_run(ctx, source_of(&g), q->dem->ground, &q->reach, &g.plan.shadow,
                                 g.plan.tours, g.plan.tour_count);
    if (status == BRANT_OK)
        status = brant_day_sun(ctx, q, &g.plan);
    if (status == BRANT_OK)
        status = tell(ctx, &g);
    for (int i = 0; g.views && i < ctx->threads; i++)
        clear_view(&g.views[i]);
    free(g.views);
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
