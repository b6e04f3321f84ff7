/* The ground in pages. The direction of flow is the fall line of the gradient averaged over
 * about 30 m (page.c): what that comes to on planes, beside a lone spike and on a saw is worked
 * out from Horn's weights (1, 2, 1 over 8 cells). */
#include "runout_world.h"

#include "../../src/runout/flow.h"

/* ---- the direction of flow -------------------------------------------------- */

enum { N = 41 };

/* Flow at a cell of a small world. */
static void check_flow(world *w, int col, int row, double east, double north)
{
    const flow_page *page;
    assert_int_equal(brant_flow_pin(&w->ctx, w->flow, 0, 0, &page), BRANT_OK);
    size_t at = (size_t)row * PAGE + (size_t)col;
    assert_true(fabs((double)page->east[at] - east) < 1e-3);
    assert_true(fabs((double)page->north[at] - north) < 1e-3);
    brant_flow_unpin(w->flow, 0, 0);
}

/* A plane that falls south at `deg`, with a spike and a hole in it (each in one cell). */
typedef struct spiked {
    double deg, cell_m;
    double spike_east, hole_east;
} spiked;

static double spiked_plane(const void *self, double east, double north)
{
    const spiked *p = self;
    bool middle = fabs(north) < p->cell_m / 2.0;
    if (middle && fabs(east - p->hole_east) < p->cell_m / 2.0)
        return NAN;
    return north * tan(p->deg * RAD) +
           (middle && fabs(east - p->spike_east) < p->cell_m / 2.0 ? p->cell_m : 0.0);
}

#define NOWHERE 1e9

static void test_flow_above_10_degrees(void **state)
{
    (void)state;
    static const double deg[] = {0.0, 5.0, 9.9, 10.1, 35.0, 80.0};
    for (size_t i = 0; i < sizeof deg / sizeof *deg; i++) {
        const spiked plane = {deg[i], 10.0, NOWHERE, NOWHERE};
        world w;
        world_open(&w, plane.cell_m, N, spiked_plane, &plane);
        check_flow(&w, N / 2, N / 2, 0.0, deg[i] > 10.0 ? -1.0 : 0.0);
        check_flow(&w, 0, N / 2, 0.0, 0.0); /* the raster's border has no slope */
        world_close(&w);
    }
}

/* Of 3 x 3 cells of 10 m those within one cell of the spike have it in their windows: two cells
 * east of it a column with weights 1, 2, 1, in all 4/8 of the spike over the cell, and a ninth
 * of that in the mean. Of 7 x 7 cells of 4.5 m that is so four cells off, and a 49th. Cells of
 * 20 m and more stand alone. */
static void test_flow_is_a_mean(void **state)
{
    (void)state;
    static const struct {
        double cell_m;
        int off, cells;
    } rows[] = {{10.0, 2, 9}, {4.5, 4, 49}, {20.0, 2, 0}};
    for (size_t i = 0; i < sizeof rows / sizeof *rows; i++) {
        const spiked plane = {35.0, rows[i].cell_m, 0.0, NOWHERE};
        world w;
        world_open(&w, plane.cell_m, N, spiked_plane, &plane);
        double east = rows[i].cells ? 0.5 / rows[i].cells : 0.0, north = tan(35.0 * RAD);
        double length = hypot(east, north);
        check_flow(&w, N / 2 + rows[i].off, N / 2, east / length, -north / length);
        check_flow(&w, N / 2 - rows[i].off, N / 2, -east / length, -north / length);
        check_flow(&w, N / 2 + rows[i].off + 1, N / 2, 0.0, -1.0);
        assert_int_equal(brant_flow_around(rows[i].cell_m),
                         rows[i].cells ? rows[i].off : rows[i].off - 1);
        world_close(&w);
    }
}

/* A cell without a slope has no flow and no part in the mean. */
static void test_flow_beside_a_void(void **state)
{
    (void)state;
    const spiked plane = {12.0, 10.0, NOWHERE, 0.0};
    world w;
    world_open(&w, plane.cell_m, N, spiked_plane, &plane);
    for (int row = N / 2 - 3; row <= N / 2 + 3; row++)
        for (int col = N / 2 - 3; col <= N / 2 + 3; col++) {
            bool beside = abs(row - N / 2) <= 1 && abs(col - N / 2) <= 1;
            check_flow(&w, col, row, 0.0, beside ? 0.0 : -1.0);
        }
    world_close(&w);
}

/* Heights 0, 4, 8 and again 0, 4, 8 m towards east: slopes of 21.8 and twice 11.3 degrees, whose
 * mean over three cells is none. So each cell's own counts. */
static double saw(const void *self, double east, double north)
{
    (void)self;
    (void)north;
    return 4.0 * ((int)floor(east / 10.0 + N / 2.0) % 3);
}

static void test_flow_of_a_cell_alone(void **state)
{
    (void)state;
    world w;
    world_open(&w, 10.0, N, saw, NULL);
    check_flow(&w, 12, 9, 1.0, 0.0);
    check_flow(&w, 13, 9, -1.0, 0.0);
    check_flow(&w, 14, 9, 1.0, 0.0);
    world_close(&w);
}

/* ---- the cache -------------------------------------------------------------- */

/* So many pages, and room for so many, that some in the cache meet in a bucket of it. */
enum { ACROSS = 25, DOWN = 20, PAGES = ACROSS * DOWN, ROOM = 300 };

/* Cells of 100 m; the ground falls towards west at 45 degrees, and pages below each other
 * differ as well. */
static float height_of(int col, int row)
{
    return (float)(100.0 * col + 0.5 * row);
}

static int reads;

static brant_status read_plane(brant_source *source, brant_context *ctx,
                               const brant_window *window, float *out)
{
    (void)ctx;
    reads++;
    for (int r = window->row; r < window->row + window->rows; r++)
        for (int c = window->col; c < window->col + window->cols; c++)
            *out++ = c < 0 || r < 0 || c >= source->cols || r >= source->rows ? NAN
                                                                             : height_of(c, r);
    return BRANT_OK;
}

static void check_page(const flow_page *page, int pcol, int prow)
{
    for (int k = 0; k < PAGE; k += 9) {
        int down = k * 5 % PAGE, col = pcol * PAGE + k, row = prow * PAGE + down;
        size_t at = (size_t)down * PAGE + (size_t)k;
        assert_true(page->elevation[at] == height_of(col, row));
        /* the raster's border has no slope, so no direction of flow */
        bool inner = col > 0 && row > 0 && col + 1 < ACROSS * PAGE && row + 1 < DOWN * PAGE;
        assert_true(inner ? page->east[at] < -0.99f : page->east[at] == 0.0f);
    }
}

/* Pin page number `i`, look at it, and let it go. */
static void visit(brant_context *ctx, brant_flow *flow, int i)
{
    const flow_page *page;
    assert_int_equal(brant_flow_pin(ctx, flow, i % ACROSS, i / ACROSS, &page), BRANT_OK);
    check_page(page, i % ACROSS, i / ACROSS);
    brant_flow_unpin(flow, i % ACROSS, i / ACROSS);
}

/* Whatever was dropped for want of room, and in whatever order pages are asked for, each holds
 * its own place's ground, and what is pinned stays. */
static void test_pages(void **state)
{
    (void)state;
    char crs[] = "EPSG:32632";
    brant_grid grid = {.cols = ACROSS * PAGE, .rows = DOWN * PAGE, .crs = crs,
                       .transform = {400000.0, 100.0, 0.0, 5200000.0, 0.0, -100.0}};
    brant_source source = {.cols = grid.cols, .rows = grid.rows, .read = read_plane};
    brant_context ctx;
    brant_ground *ground;
    brant_flow *flow;
    const flow_page *kept;
    brant_context_init(&ctx);
    assert_int_equal(brant_ground_create(&ctx, "test", &grid, &ground), BRANT_OK);
    assert_int_equal(brant_flow_create(&ctx, &source, ground, ROOM * sizeof(flow_page), &flow),
                     BRANT_OK);
    assert_int_equal(brant_flow_pin(&ctx, flow, 3, 2, &kept), BRANT_OK);
    for (int i = 0; i < PAGES; i++)
        visit(&ctx, flow, i);
    assert_int_equal(reads, PAGES);
    check_page(kept, 3, 2);
    brant_flow_unpin(flow, 3, 2);
    /* beside the pinned one those used last are there still, and no others: nothing is kept over
     * the budget */
    for (int i = PAGES - ROOM + 1; i < PAGES; i++)
        visit(&ctx, flow, i);
    assert_int_equal(reads, PAGES);
    for (int i = 0; i < ROOM; i++)
        visit(&ctx, flow, i);
    assert_int_equal(reads, PAGES + ROOM);
    brant_flow_destroy(flow);
    brant_ground_destroy(ground);
    brant_context_clear(&ctx);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(test_flow_above_10_degrees), cmocka_unit_test(test_flow_is_a_mean),
        cmocka_unit_test(test_flow_beside_a_void),    cmocka_unit_test(test_flow_of_a_cell_alone),
        cmocka_unit_test(test_pages),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
