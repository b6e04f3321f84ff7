/* The tours of a group's circuits, each with the zones and the ground as it knows them. */
#include "below.h"
#include "screen_group.h"

#include <stdlib.h>
#include <string.h>

/* Circuits at a time: told as soon as they are done, should the rest be stopped, and let go
 * of. A further circuit costs a hundredth of the ground; more at a time gain little. */
#define TOGETHER 32

void brant_cut_out(const brant_window *from, const void *values, size_t size,
                   const brant_window *to, void *out)
{
    for (int r = 0; r < to->rows; r++)
        memcpy((char *)out + (size_t)r * (size_t)to->cols * size,
               (const char *)values + ((size_t)(to->row + r - from->row) * (size_t)from->cols +
                                       (size_t)(to->col - from->col)) * size,
               (size_t)to->cols * size);
}

/* ---- the zones as one circuit knows them --------------------------------- */

static brant_status make_view(brant_context *ctx, const group *g, view *v)
{
    const brant_zone_set *set = &g->plan.zones;
    size_t squares = brant_group_squares(g);
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
    size_t squares = brant_group_squares(g);
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
        if (!brant_group_searches(g, c, zone))
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
    brant_cut_out(from, plan->field.elevation, sizeof(float), to, cut->field.elevation);
    brant_cut_out(from, plan->field.slope, sizeof(float), to, cut->field.slope);
    brant_cut_out(from, plan->field.aspect, sizeof(float), to, cut->field.aspect);
    brant_cut_out(from, plan->shadow.reached_at, sizeof(float), to, cut->reached_at);
    brant_cut_out(from, plan->shadow.zones_above, sizeof(uint16_t), to, cut->zones_above);
    brant_cut_out(from, plan->shadow.unknown_above, 1, to, cut->unknown_above);
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
        status = brant_tour_day(ctx, meeting, brant_group_source(g), tour);
    if (status == BRANT_OK)
        status = brant_tour_overs(ctx, NULL, 0, tour);
    return status;
}

static brant_status build_member(brant_context *ctx, void *user, int worker, int64_t item)
{
    group *g = user;
    circuit *c = g->members[g->first + (size_t)item];
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

static size_t routes_of(const group *g, const circuit *c)
{
    return g->s->request->files[c->file].gpx->route_count;
}

static brant_status build_tours(brant_context *ctx, group *g)
{
    size_t routes = 0;
    for (size_t i = g->first; i < g->end; i++)
        routes += routes_of(g, g->members[i]);
    g->plan.tours = brant_alloc(ctx, routes, sizeof *g->plan.tours);
    if (!g->plan.tours)
        return BRANT_ERR_MEMORY;
    g->plan.tour_count = routes; /* those of routes without two points stay empty */
    routes = 0;
    for (size_t i = g->first; i < g->end; i++) {
        g->members[i]->tours = g->plan.tours + routes;
        g->members[i]->tour_count = 0;
        routes += routes_of(g, g->members[i]);
    }
    return brant_run(ctx, "legs", (int64_t)(g->end - g->first), build_member, NULL, g);
}

static brant_status tell(brant_context *ctx, const group *g)
{
    brant_status status = BRANT_OK;
    for (size_t i = g->first; i < g->end && status == BRANT_OK; i++) {
        const circuit *c = g->members[i];
        brant_screened screened = {.file = c->file, .tours = c->tours,
                                   .tour_count = c->tour_count, .empty = c->empty,
                                   .outside_m = c->outside_m};
        status = g->s->request->done(ctx, g->s->request->user, &screened);
        g->s->done++;
    }
    return status;
}

static void forget(group *g)
{
    for (size_t i = 0; i < g->plan.tour_count; i++)
        brant_tour_clear(&g->plan.tours[i]);
    free(g->plan.tours);
    g->plan.tours = NULL;
    g->plan.tour_count = 0;
    for (size_t i = g->first; i < g->end; i++)
        brant_screen_forget(g->s, g->members[i]);
}

static brant_status screen_some(brant_context *ctx, group *g)
{
    const brant_plan_request *q = g->request;
    brant_status status = build_tours(ctx, g);
    if (status == BRANT_OK && g->s->request->below)
        status = brant_below_run(ctx, brant_group_source(g), q->dem->ground, &q->reach,
                                 &g->plan.shadow, g->plan.tours, g->plan.tour_count);
    if (status == BRANT_OK)
        status = brant_sky_look(ctx, g->sky, g->plan.tours, g->plan.tour_count);
    if (status == BRANT_OK)
        status = tell(ctx, g);
    forget(g);
    return status;
}

/* Of a group's time, once so many of its members are told. */
static double share_done(const group *g, size_t members)
{
    return BRANT_GROUND_SHARE +
           (1.0 - BRANT_GROUND_SHARE) * (double)members / (double)g->count;
}

brant_status brant_group_tours(brant_context *ctx, group *g)
{
    g->views = brant_alloc(ctx, (size_t)ctx->threads, sizeof *g->views);
    brant_status status = g->views ? BRANT_OK : BRANT_ERR_MEMORY;
    if (status == BRANT_OK)
        status = brant_sky_create(ctx, g->request, &g->plan.zones, &g->plan.window, &g->sky);
    for (g->first = 0; g->first < g->count && status == BRANT_OK; g->first = g->end) {
        g->end = g->first + TOGETHER < g->count ? g->first + TOGETHER : g->count;
        brant_group_progress(ctx, g, share_done(g, g->first), share_done(g, g->end));
        status = screen_some(ctx, g);
    }
    brant_sky_destroy(g->sky);
    for (int i = 0; g->views && i < ctx->threads; i++)
        clear_view(&g->views[i]);
    free(g->views);
    return status;
}
