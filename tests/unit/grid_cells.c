/* Grids, windows, squares, the source over an array: whole numbers. */
#include "brant/grid.h"

#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>

#include <cmocka.h>

#include <limits.h>
#include <math.h>
#include <stdlib.h>
#include <string.h>

static void same_window(brant_window w, int col, int row, int cols, int rows)
{
    if (w.col != col || w.row != row || w.cols != cols || w.rows != rows)
        fail_msg("window %d %d %d %d, not %d %d %d %d", w.col, w.row, w.cols, w.rows, col, row,
                 cols, rows);
}

static void a_grid_gives_back_its_text(void **state)
{
    brant_grid grid = {.cols = 3, .rows = 2, .crs = strdup("GEOGCRS[]")};
    (void)state;
    assert_non_null(grid.crs);
    brant_grid_clear(&grid);
    assert_null(grid.crs);
    assert_int_equal(grid.cols, 0);
    brant_grid_clear(&grid); /* twice does no harm */
}

static void a_window_has_its_cells(void **state)
{
    brant_window w = {-2, 5, 4, 3}, far = {INT_MAX - 1, INT_MIN, 1, 2}, none = {0, 0, 0, 5};
    (void)state;
    assert_true(brant_window_has(&w, -2, 5));
    assert_true(brant_window_has(&w, 1, 7));
    assert_false(brant_window_has(&w, 2, 7));
    assert_false(brant_window_has(&w, 1, 8));
    assert_false(brant_window_has(&w, -3, 5));
    assert_false(brant_window_has(&w, -2, 4));
    assert_true(brant_window_has(&far, INT_MAX - 1, INT_MIN + 1));
    assert_false(brant_window_has(&far, INT_MIN, INT_MIN)); /* no wrapping round */
    assert_false(brant_window_has(&none, 0, 0));
}

static void windows_are_clipped(void **state)
{
    (void)state;
    const brant_window one = {-2, 3, 6, 5}, other = {1, -4, 9, 9}, apart = {4, 3, 2, 2};
    same_window(brant_window_common(&one, &other), 1, 3, 3, 2);
    same_window(brant_window_common(&other, &one), 1, 3, 3, 2);
    assert_int_equal(brant_window_common(&one, &apart).cols, 0); /* side by side */
    same_window(brant_window_clip((brant_window){2, 3, 4, 5}, 10, 10), 2, 3, 4, 5);
    same_window(brant_window_clip((brant_window){-3, -4, 5, 6}, 10, 10), 0, 0, 2, 2);
    same_window(brant_window_clip((brant_window){8, 9, 5, 6}, 10, 10), 8, 9, 2, 1);
    same_window(brant_window_clip((brant_window){-5, -5, 100, 100}, 10, 7), 0, 0, 10, 7);
    same_window(brant_window_clip((brant_window){10, 0, 5, 5}, 10, 10), 0, 0, 0, 0);
    same_window(brant_window_clip((brant_window){0, -5, 5, 5}, 10, 10), 0, 0, 0, 0);
    same_window(brant_window_clip((brant_window){INT_MAX - 1, 0, INT_MAX, 5}, 10, 10), 0, 0, 0, 0);
    same_window(brant_window_clip((brant_window){-1, -1, INT_MAX, INT_MAX}, INT_MAX, 10), 0, 0,
                INT_MAX - 1, 10);
}

static void windows_are_joined(void **state)
{
    brant_window a = {2, 3, 4, 5}, b = {-1, 10, 2, 1}, none = {100, 100, 0, 0};
    (void)state;
    same_window(brant_window_union(a, b), -1, 3, 7, 8);
    same_window(brant_window_union(b, a), -1, 3, 7, 8);
    same_window(brant_window_union(a, none), 2, 3, 4, 5);
    same_window(brant_window_union(none, a), 2, 3, 4, 5);
    same_window(brant_window_union(a, (brant_window){3, 4, 1, 1}), 2, 3, 4, 5);
}

static void an_array_is_read_by_window(void **state)
{
    static const float z[6] = {1, 2, 3, 4, 5, 6}; /* 3 x 2 */
    static const float expected[20] = {
        NAN, NAN, NAN, NAN, NAN, /* row -1 */
        NAN, 1,   2,   3,   NAN, /* */
        NAN, 4,   5,   6,   NAN, /* */
        NAN, NAN, NAN, NAN, NAN};
    float out[20];
    brant_source source;
    brant_context ctx;
    brant_window all = {-1, -1, 5, 4}, part = {1, 1, 2, 1}, outside = {3, 0, 2, 2};
    (void)state;
    brant_context_init(&ctx);
    brant_source_array(&source, z, 3, 2);
    assert_int_equal(source.cols, 3);
    assert_int_equal(source.rows, 2);
    memset(out, 0, sizeof out);
    assert_int_equal(source.read(&source, &ctx, &all, out), BRANT_OK);
    for (int i = 0; i < 20; i++)
        if (isnan(expected[i]) ? !isnan(out[i]) : out[i] != expected[i])
            fail_msg("cell %d is %g", i, (double)out[i]);
    assert_int_equal(source.read(&source, &ctx, &part, out), BRANT_OK);
    assert_true(out[0] == 5 && out[1] == 6 && isnan(out[2])); /* no more than the window */
    assert_int_equal(source.read(&source, &ctx, &outside, out), BRANT_OK);
    for (int i = 0; i < 4; i++)
        assert_true(isnan(out[i]));
    brant_context_clear(&ctx);
}

static void strides(int cols, int rows, int across, int down, uint32_t stride)
{
    brant_context ctx;
    brant_squares squares;
    brant_context_init(&ctx);
    assert_int_equal(brant_squares_of(&ctx, cols, rows, &squares), BRANT_OK);
    assert_int_equal(squares.across, across);
    assert_int_equal(squares.down, down);
    assert_int_equal(squares.stride, stride);
    /* the largest zone number there can be fits */
    uint64_t count = (uint64_t)across * (uint64_t)down;
    assert_true(count * stride - 1 <= UINT32_MAX);
    brant_context_clear(&ctx);
}

static void a_grid_is_cut_into_squares(void **state)
{
    brant_context ctx;
    brant_squares squares;
    (void)state;
    strides(1, 1, 1, 1, 1000000);
    strides(1024, 1024, 1, 1, 1000000);
    strides(1025, 1024, 2, 1, 1000000);
    strides(4294 * 1024, 1, 4294, 1, 1000000); /* 4,294,000,000 < 2^32 */
    strides(4294 * 1024 + 1, 1, 4295, 1, 100000);
    strides(42949 * 1024, 1, 42949, 1, 100000);
    strides(1, 42949 * 1024 + 1, 1, 42950, 10000);
    strides(655 * 1024, 655 * 1024, 655, 655, 10000);
    brant_context_init(&ctx);
    assert_int_equal(brant_squares_of(&ctx, 656 * 1024, 656 * 1024, &squares), BRANT_ERR_INPUT);
    assert_non_null(strstr(brant_message(&ctx), "671744 x 671744"));
    brant_forgive(&ctx);
    assert_int_equal(brant_squares_of(&ctx, INT_MAX, INT_MAX, &squares), BRANT_ERR_INPUT);
    brant_context_clear(&ctx);
}

static void squares_cover_the_grid(void **state)
{
    brant_context ctx;
    brant_squares squares;
    int64_t cells = 0;
    (void)state;
    brant_context_init(&ctx);
    assert_int_equal(brant_squares_of(&ctx, 2500, 1500, &squares), BRANT_OK);
    for (int i = 0; i < squares.across * squares.down; i++) {
        brant_window w = brant_square_window(&squares, i, 2500, 1500);
        cells += (int64_t)w.cols * w.rows;
        assert_int_equal(w.col % BRANT_SQUARE, 0);
        assert_int_equal(w.row % BRANT_SQUARE, 0);
    }
    assert_int_equal(cells, 2500 * 1500);
    same_window(brant_square_window(&squares, 0, 2500, 1500), 0, 0, 1024, 1024);
    same_window(brant_square_window(&squares, 2, 2500, 1500), 2048, 0, 452, 1024);
    same_window(brant_square_window(&squares, 5, 2500, 1500), 2048, 1024, 452, 476);
    brant_context_clear(&ctx);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(a_grid_gives_back_its_text),
        cmocka_unit_test(a_window_has_its_cells),
        cmocka_unit_test(windows_are_clipped),
        cmocka_unit_test(windows_are_joined),
        cmocka_unit_test(an_array_is_read_by_window),
        cmocka_unit_test(a_grid_is_cut_into_squares),
        cmocka_unit_test(squares_cover_the_grid),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
