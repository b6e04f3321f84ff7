/* One tour: sample it, read the corridor, number its zones, trace their shadows,
 * and ask each point of the route what it meets. */
#include "below.h"
#include "day.h"
#include "lines.h"
#include "searches.h"

#include <math.h>
#include <stdlib.h>
#include <string.h>

/* Lines of other parties count this far beyond the routes' box. */
#define AROUND_OTHERS_M 1000.0

typedef struct stage {
    const brant_plan_request *request;
    brant_plan *plan;
    brant_track *tracks; /* one a route of the GPX */
    brant_track *others; /* one a route of the other GPX, or NULL */
    uint8_t *route;      /* cells of the window that a sample stands on */
    corridor corridor;
    bool *wanted;
} stage;

/* ---- sampling ----------------------------------------------------------- */

static size_t count_others(const brant_plan_request *q)
{
    return q->others ? q->others->route_count : 0;
}

static brant_status sample_routes(brant_context *ctx, stage *st)
{
    const brant_plan_request *q = st->request;
    brant_locator *locator = NULL;
    double step = 0.0;
    st->tracks = brant_alloc(ctx, q->gpx->route_count, sizeof *st->tracks);
    if (q->others)
        st->others = brant_alloc(ctx, count_others(q), sizeof *st->others);
    if (!st->tracks || (q->others && !st->others))
        return BRANT_ERR_MEMORY;
    brant_status status = brant_locator_create(ctx, q->dem->name, &q->dem->grid, &locator);
    if (status == BRANT_OK) {
        step = brant_lines_step(q->dem, q->gpx, locator);
        status = brant_lines_sample(ctx, q->gpx, locator, step, st->tracks);
    }
    if (status == BRANT_OK && q->others)
        status = brant_lines_sample(ctx, q->others, locator, step, st->others);
    brant_locator_destroy(locator);
    return status;
}

/* What of the routes nothing can be said of. Once it is known that there is something
 * to say at all: bad input gets one line. */
static void warn_of_gaps(brant_context *ctx, const stage *st)
{
    const brant_plan_request *q = st->request;
    for (size_t i = 0; i < q->gpx->route_count; i++) {
        const brant_track *track = &st->tracks[i];
        if (track->count == 0)
            brant_warn(ctx, "%s: route %zu%s%s has no two points: left out", q->gpx_name, i + 1,
                       *q->gpx->routes[i].name ? ", " : "", q->gpx->routes[i].name);
        double outside = brant_metres_outside(&q->dem->grid, track);
        if (outside > 0.0)
            brant_warn(ctx, "%s: %s: %.0f m of %.0f m lie outside %s: unknown", q->gpx_name,
                       track->name, outside, track->length_m, q->dem->name);
    }
}

/* ---- the window --------------------------------------------------------- */

/* The samples' box on the grid with its margin. */
static brant_status find_window(brant_context *ctx, stage *st)
{
    const brant_plan_request *q = st->request;
    double around = q->others ? AROUND_OTHERS_M
                    : q->day.bulletin ? BRANT_AROUND_ROUTE_RATED_M : BRANT_AROUND_ROUTE_M;
    return brant_lines_window(ctx, q->dem, q->gpx_name, st->tracks, q->gpx->route_count,
                              fmax(q->map_margin_m, around), &st->plan->window);
}

static brant_status mark_route(brant_context *ctx, stage *st)
{
    const brant_window *w = &st->plan->window;
    st->route = brant_alloc(ctx, (size_t)w->cols * (size_t)w->rows, 1);
    if (!st->route)
        return BRANT_ERR_MEMORY;
    brant_lines_mark(&st->request->dem->grid, st->tracks, st->request->gpx->route_count, w,
                     st->route);
    return BRANT_OK;
}

/* ---- lines of other parties ---------------------------------------------- */

static bool is_looked_at(const stage *st, const brant_sample *sample)
{
    return brant_on_grid(&st->request->dem->grid, sample) &&
           brant_window_has(&st->plan->window, (int)sample->col, (int)sample->row);
}

/* Hits are wanted on their cells, too; what lies outside the window is left out. */
static void mark_others(brant_context *ctx, stage *st)
{
    const brant_window *w = &st->plan->window;
    for (size_t t = 0; t < count_others(st->request); t++) {
        const brant_track *track = &st->others[t];
        double outside = 0.0;
        for (size_t i = 0; i < track->count; i++) {
            const brant_sample *s = &track->samples[i];
            if (!is_looked_at(st, s))
                outside += brant_sample_metres(track, i);
            else
                st->route[(size_t)((int)s->row - w->row) * (size_t)w->cols +
                          (size_t)((int)s->col - w->col)] = 1;
        }
        if (outside > 0.0)
            brant_warn(ctx, "%s: %s: %.0f m of %.0f m lie outside %s or more than %.0f m from the "
                       "routes' box: not looked at", st->request->others_name, track->name,
                       outside, track->length_m, st->request->dem->name, AROUND_OTHERS_M);
    }
}

/* ---- zones and shadows -------------------------------------------------- */

static brant_source *source_of(const brant_plan_request *q)
{
    return (brant_source *)&q->dem->source; /* reading a source changes nothing a caller sees */
}

static brant_status number_zones(brant_context *ctx, stage *st)
{
    const brant_plan_request *q = st->request;
    if (q->zones) {
        brant_status status = brant_zone_file_zones(ctx, q->zones, q->dem, st->wanted, &q->zone,
                                                    &st->plan->zones);
        brant_zone_file_drop_outlines(q->zones); /* all cells that will be asked for are read */
        return status;
    }
    return brant_zone_set_build(ctx, source_of(q), q->dem->ground, st->wanted, &q->zone,
                                &st->plan->zones);
}

/* The route's cells and those within the edge distance: the shadow is wanted on them, for
 * where to wait. */
static uint8_t *widen_route(brant_context *ctx, const stage *st)
{
    const brant_window *w = &st->plan->window;
    const size_t cols = (size_t)w->cols;
    brant_matrix m;
    uint8_t *wide = brant_alloc(ctx, cols * (size_t)w->rows, 1);
    if (!wide)
        return NULL;
    for (int row = 0; row < w->rows; row++)
        for (int col = 0; col < w->cols; col++) {
            if (!st->route[(size_t)row * cols + (size_t)col])
                continue;
            brant_ground_matrix(st->request->dem->ground, w->col + col, w->row + row, &m);
            int dc = (int)ceil(st->request->meet.edge_m / brant_matrix_cell_width(&m)) + 1;
            int dr = (int)ceil(st->request->meet.edge_m / brant_matrix_cell_height(&m)) + 1;
            int first = col > dc ? col - dc : 0, end = col + dc < w->cols ? col + dc + 1 : w->cols;
            for (int r = row > dr ? row - dr : 0; r <= row + dr && r < w->rows; r++)
                memset(wide + (size_t)r * cols + (size_t)first, 1, (size_t)(end - first));
        }
    return wide;
}

static brant_status find_corridor(brant_context *ctx, stage *st)
{
    const brant_plan_request *q = st->request;
    brant_squares squares;
    /* no reach is lost of a zone whose own angle is below the floor */
    double flattest = fmin(q->reach.floor_deg, brant_zone_file_flattest(q->zones));
    uint8_t *wide = q->shadow_everywhere ? NULL : widen_route(ctx, st);
    brant_status status = wide || q->shadow_everywhere ? BRANT_OK : BRANT_ERR_MEMORY;
    if (status == BRANT_OK)
        status = brant_squares_of(ctx, q->dem->grid.cols, q->dem->grid.rows, &squares);
    if (status == BRANT_OK)
        status = brant_corridor_of(ctx, q->dem->ground, &st->plan->field, wide, &st->corridor);
    free(wide);
    if (status == BRANT_OK)
        status = brant_corridor_squares(ctx, source_of(q), &st->corridor, &squares, q->void_rise_m,
                                  tan(flattest * M_PI / 180.0), &st->wanted);
    return status;
}

static brant_status trace_shadows(brant_context *ctx, stage *st)
{
    const brant_plan_request *q = st->request;
    brant_plan *plan = st->plan;
    brant_status status = brant_shadow_create(ctx, &plan->window, q->reach.reach_angle_deg,
                                              &plan->shadow);
    if (status != BRANT_OK)
        return status;
    searches s = {.source = source_of(q), .ground = q->dem->ground, .reach = q->reach,
                  .void_rise_m = q->void_rise_m, .corridor = &st->corridor,
                  .flattest_deg = brant_zone_file_flattest(q->zones),
                  .zones = &plan->zones, .wanted = st->wanted,
                  .shadow = &plan->shadow, .route = st->route};
    status = brant_searches_run(ctx, &s);
    plan->hits = s.hits;
    plan->hit_count = s.hit_count;
    plan->zones_searched = s.zones_searched;
    plan->visits = s.visits;
    return status;
}

/* ---- legs --------------------------------------------------------------- */

static brant_status build_each(brant_context *ctx, const brant_meeting *meeting,
                               brant_track *tracks, size_t count, brant_tour **tours,
                               size_t *tour_count)
{
    brant_status status = BRANT_OK;
    *tours = brant_alloc(ctx, count, sizeof **tours);
    if (!*tours)
        return BRANT_ERR_MEMORY;
    for (size_t i = 0; i < count && status == BRANT_OK; i++) {
        brant_fact *facts = NULL;
        if (tracks[i].count == 0)
            continue;
        status = brant_meet(ctx, meeting, &tracks[i], &facts);
        if (status == BRANT_OK)
            status = brant_tour_build(ctx, meeting, &tracks[i], &facts, &(*tours)[*tour_count]);
        if (status == BRANT_OK)
            ++*tour_count;
        free(facts);
    }
    return status;
}

static brant_status build_tours(brant_context *ctx, stage *st)
{
    brant_plan *plan = st->plan;
    const brant_plan_request *q = st->request;
    brant_status status = BRANT_OK;
    brant_day day = q->day;
    day.zone_danger = (const brant_danger(*)[BRANT_PERIODS])plan->zone_danger;
    brant_meeting meeting = {.field = &plan->field, .ground = q->dem->ground,
                             .zones = &plan->zones, .hits = plan->hits,
                             .hit_count = plan->hit_count,
                             .reached_at = plan->shadow.reached_at,
                             .zones_above = plan->shadow.zones_above,
                             .unknown_above = plan->shadow.unknown_above, .day = &day,
                             .options = q->meet};
    status = build_each(ctx, &meeting, st->tracks, q->gpx->route_count, &plan->tours,
                        &plan->tour_count);
    if (status == BRANT_OK && q->others)
        status = build_each(ctx, &meeting, st->others, count_others(q), &plan->others,
                            &plan->other_count);
    for (size_t i = 0; i < plan->tour_count && status == BRANT_OK; i++)
        status = brant_tour_day(ctx, &meeting, source_of(q), &plan->tours[i]);
    for (size_t i = 0; i < plan->tour_count && status == BRANT_OK; i++)
        status = brant_tour_overs(ctx, plan->others, plan->other_count, &plan->tours[i]);
    return status;
}

brant_status brant_plan_run(brant_context *ctx, const brant_plan_request *request,
                            brant_plan *plan)
{
    stage st = {.request = request, .plan = plan};
    memset(plan, 0, sizeof *plan);
    brant_status status = sample_routes(ctx, &st);
    if (status == BRANT_OK)
        status = find_window(ctx, &st);
    if (status == BRANT_OK)
        warn_of_gaps(ctx, &st);
    if (status == BRANT_OK)
        status = brant_field_read(ctx, source_of(request), request->dem->ground, &plan->window,
                                  false, &plan->field);
    if (status == BRANT_OK)
        status = mark_route(ctx, &st);
    if (status == BRANT_OK)
        status = find_corridor(ctx, &st);
    if (status == BRANT_OK)
        mark_others(ctx, &st);
    if (status == BRANT_OK)
        status = number_zones(ctx, &st);
    if (status == BRANT_OK)
        status = trace_shadows(ctx, &st);
    if (status == BRANT_OK)
        status = brant_day_dangers(ctx, request, plan);
    if (status == BRANT_OK)
        status = build_tours(ctx, &st);
    if (status == BRANT_OK)
        status = brant_below_run(ctx, source_of(request), request->dem->ground, &request->reach,
                                 &plan->shadow, plan->tours, plan->tour_count);
    if (status == BRANT_OK)
        status = brant_day_sun(ctx, request, plan);
    for (size_t i = 0; st.tracks && i < request->gpx->route_count; i++)
        brant_track_clear(&st.tracks[i]);
    free(st.tracks);
    for (size_t i = 0; st.others && i < count_others(request); i++)
        brant_track_clear(&st.others[i]);
    free(st.others);
    free(st.route);
    free(st.wanted);
    brant_corridor_clear(&st.corridor);
    if (status != BRANT_OK)
        brant_plan_clear(plan);
    return status;
}

void brant_plan_clear(brant_plan *plan)
{
    for (size_t i = 0; i < plan->tour_count; i++)
        brant_tour_clear(&plan->tours[i]);
    free(plan->tours);
    for (size_t i = 0; i < plan->other_count; i++)
        brant_tour_clear(&plan->others[i]);
    free(plan->others);
    free(plan->hits);
    free(plan->zone_danger);
    brant_field_clear(&plan->field);
    brant_zone_set_clear(&plan->zones);
    brant_shadow_clear(&plan->shadow);
    memset(plan, 0, sizeof *plan);
}
