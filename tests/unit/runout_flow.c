/* The cache of pages of ground: whatever was dropped for want of room, and in whatever order
 * pages are asked for, each holds its own place's ground, and what is pinned stays. */
#include "runout_world.h"

#include "../../src/runout/flow.h"

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
    const struct CMUnitTest tests[] = {cmocka_unit_test(test_pages)};
    return cmocka_run_group_tests(tests, NULL, NULL);
}
