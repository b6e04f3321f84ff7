/* Many circuits: look where they lie, and take those together that share ground. */
#include "screen.h"
#include "lines.h"

#include <math.h>
#include <stdlib.h>
#include <string.h>

/* A group's ground: 28 bytes a cell of its window for field and shadow, and 20 bytes for
 * each zone that reaches a cell of a route (a dozen on steep ground, two samples a cell). */
#define GROUP_CELLS 5e6
#define GROUP_SAMPLES 300000

/* ---- one circuit -------------------------------------------------------- */

static const brant_gpx *gpx_of(const screen *s, const circuit *c)
{
    return s->request->files[c->file].gpx;
}

brant_status brant_screen_sample(brant_context *ctx, screen *s, int worker, circuit *c)
{
    const brant_gpx *gpx = gpx_of(s, c);
    brant_locator *locator = s->locators[worker];
    c->tracks = brant_alloc(ctx, gpx->route_count, sizeof *c->tracks);
    if (!c->tracks)
        return BRANT_ERR_MEMORY;
    return brant_lines_sample(ctx, gpx, locator,
                              brant_lines_step(s->request->plan.dem, gpx, locator), c->tracks);
}

void brant_screen_forget(const screen *s, circuit *c)
{
    size_t routes = c->tracks ? gpx_of(s, c)->route_count : 0;
    for (size_t i = 0; i < routes; i++)
        brant_track_clear(&c->tracks[i]);
    free(c->tracks);
    free(c->wanted);
    free(c->zones);
    brant_corridor_clear(&c->corridor);
    c->tracks = NULL;
    c->wanted = NULL;
    c->zones = NULL;
    c->tours = NULL;
}

/* ---- where they lie ----------------------------------------------------- */

/* The bits of `value`, every other one left free. */
static uint64_t spread_bits(uint32_t value)
{
    uint64_t bits = value;
    bits = (bits | bits << 16) & UINT64_C(0x0000FFFF0000FFFF);
    bits = (bits | bits << 8) & UINT64_C(0x00FF00FF00FF00FF);
    bits = (bits | bits << 4) & UINT64_C(0x0F0F0F0F0F0F0F0F);
    bits = (bits | bits << 2) & UINT64_C(0x3333333333333333);
    return (bits | bits << 1) & UINT64_C(0x5555555555555555);
}

static uint64_t order_of(const brant_window *w)
{
    return spread_bits((uint32_t)(w->col + w->cols / 2)) |
           spread_bits((uint32_t)(w->row + w->rows / 2)) << 1;
}

/* As brant-plan looks around a tour, its maps included, so that the same squares are read. */
static brant_status measure(brant_context *ctx, screen *s, circuit *c)
{
    const brant_plan_request *q = &s->request->plan;
    size_t routes = gpx_of(s, c)->route_count;
    double around = q->day.bulletin ? BRANT_AROUND_ROUTE_RATED_M : BRANT_AROUND_ROUTE_M;
    c->empty = brant_alloc(ctx, routes, sizeof *c->empty);
    c->outside_m = brant_alloc(ctx, routes, sizeof *c->outside_m);
    if (!c->empty || !c->outside_m)
        return BRANT_ERR_MEMORY;
    for (size_t i = 0; i < routes; i++) {
        c->samples += c->tracks[i].count;
        c->empty[i] = c->tracks[i].count == 0;
        c->outside_m[i] = brant_metres_outside(&q->dem->grid, &c->tracks[i]);
    }
    brant_status status = brant_lines_window(ctx, q->dem, s->request->files[c->file].name,
                                             c->tracks, routes, fmax(q->map_margin_m, around),
                                             &c->window);
    if (status == BRANT_OK)
        c->order = order_of(&c->window);
    return status;
}

/* In a context of its own: what is wrong with one file stops no other. */
static brant_status survey(brant_context *ctx, void *user, int worker, int64_t item)
{
    screen *s = user;
    circuit *c = &s->circuits[item];
    brant_context own;
    if (!gpx_of(s, c))
        return BRANT_OK;
    brant_context_init(&own);
    own.stop = ctx->stop;
    brant_status status = brant_screen_sample(&own, s, worker, c);
    if (status == BRANT_OK)
        status = measure(&own, s, c);
    if (status == BRANT_ERR_INPUT) {
        c->error = brant_strdup(ctx, brant_message(&own));
        status = c->error ? BRANT_OK : BRANT_ERR_MEMORY;
    } else if (status != BRANT_OK) {
        status = brant_fail(ctx, status, "%s", brant_message(&own));
    }
    brant_context_clear(&own);
    brant_screen_forget(s, c);
    return status;
}

/* ---- groups ------------------------------------------------------------- */

static int by_order(const void *a, const void *b)
{
    const circuit *x = *(circuit *const *)a, *y = *(circuit *const *)b;
    if (x->order != y->order)
        return x->order < y->order ? -1 : 1;
    return (x->file > y->file) - (x->file < y->file);
}

/* The end of the group that begins with member `first`. */
static size_t end_of_group(circuit **members, size_t count, size_t first)
{
    brant_window all = members[first]->window;
    size_t samples = members[first]->samples, end = first + 1;
    for (; end < count; end++) {
        all = brant_window_union(all, members[end]->window);
        samples += members[end]->samples;
        if ((double)all.cols * all.rows > GROUP_CELLS || samples > GROUP_SAMPLES)
            break;
    }
    return end;
}

static brant_status tell_error(brant_context *ctx, screen *s, const circuit *c)
{
    brant_screened screened = {.file = c->file, .error = c->error};
    s->done++;
    return s->request->done(ctx, s->request->user, &screened);
}

static brant_status run_groups(brant_context *ctx, screen *s)
{
    size_t files = s->request->file_count, count = 0;
    circuit **members = brant_alloc(ctx, files, sizeof *members);
    brant_status status = members ? BRANT_OK : BRANT_ERR_MEMORY;
    for (size_t i = 0; i < files && status == BRANT_OK; i++) {
        circuit *c = &s->circuits[i];
        if (c->error)
            status = tell_error(ctx, s, c);
        else if (gpx_of(s, c))
            members[count++] = c;
        else
            s->done++;
    }
    if (count > 0)
        qsort(members, count, sizeof *members, by_order);
    for (size_t first = 0, end; first < count && status == BRANT_OK; first = end) {
        end = end_of_group(members, count, first);
        status = brant_screen_group(ctx, s, members + first, end - first);
    }
    free(members);
    return status;
}

/* ---- all of it ---------------------------------------------------------- */

static brant_status open_screen(brant_context *ctx, screen *s)
{
    const brant_plan_request *q = &s->request->plan;
    size_t files = s->request->file_count;
    brant_status status = brant_squares_of(ctx, q->dem->grid.cols, q->dem->grid.rows, &s->squares);
    if (status != BRANT_OK)
        return status;
    size_t squares = (size_t)s->squares.across * (size_t)s->squares.down;
    s->tan_floor = tan(q->reach.floor_deg * M_PI / 180.0);
    s->circuits = brant_alloc(ctx, files, sizeof *s->circuits);
    s->high_m = brant_alloc(ctx, squares, sizeof *s->high_m);
    s->looked_at = brant_alloc(ctx, squares, sizeof *s->looked_at);
    s->locators = brant_alloc(ctx, (size_t)ctx->threads, sizeof(brant_locator *));
    if (!s->circuits || !s->high_m || !s->looked_at || !s->locators)
        return BRANT_ERR_MEMORY;
    for (size_t i = 0; i < files; i++)
        s->circuits[i].file = i;
    for (int i = 0; i < ctx->threads && status == BRANT_OK; i++)
        status = brant_locator_create(ctx, q->dem->name, &q->dem->grid, &s->locators[i]);
    return status;
}

static void close_screen(screen *s, int threads)
{
    for (size_t i = 0; s->circuits && i < s->request->file_count; i++) {
        brant_screen_forget(s, &s->circuits[i]);
        free(s->circuits[i].error);
        free(s->circuits[i].empty);
        free(s->circuits[i].outside_m);
    }
    free(s->circuits);
    free(s->high_m);
    free(s->looked_at);
    for (int i = 0; s->locators && i < threads; i++)
        brant_locator_destroy(s->locators[i]);
    free(s->locators);
}

brant_status brant_screen_run(brant_context *ctx, const brant_screen_request *request)
{
    screen s = {.request = request};
    brant_status status = open_screen(ctx, &s);
    if (status == BRANT_OK)
        status = brant_run(ctx, NULL, (int64_t)request->file_count, survey, NULL, &s);
    if (status == BRANT_OK)
        status = run_groups(ctx, &s);
    close_screen(&s, ctx->threads);
    return status;
}
