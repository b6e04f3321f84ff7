/* Lines on the grid: what lies outside it, the window around them, the step along them. */
#include "../../src/plan/lines.h"

#include <math.h>
#include <setjmp.h>
#include <stdarg.h>
#include <string.h>

#include <cmocka.h>

enum { COLS = 300, ROWS = 340 };

static void open_dem(brant_context *ctx, brant_dem *dem, const char *crs, const double *transform)
{
    brant_context_init(ctx);
    *dem = (brant_dem){.name = (char *)"lines.tif",
                       .grid = {.cols = COLS, .rows = ROWS, .crs = (char *)crs}};
    memcpy(dem->grid.transform, transform, sizeof dem->grid.transform);
    assert_int_equal(brant_ground_create(ctx, dem->name, &dem->grid, &dem->ground), BRANT_OK);
}

static void close_dem(brant_context *ctx, brant_dem *dem)
{
    brant_ground_destroy(dem->ground);
    brant_context_clear(ctx);
}

/* 10 m cells around the central meridian. */
static void open_plain(brant_context *ctx, brant_dem *dem)
{
    static const double plain[6] = {498500, 10, 0, 5200000, 0, -10};
    open_dem(ctx, dem, "EPSG:32632", plain);
}

static void test_on_grid(void **state)
{
    (void)state;
    const brant_grid grid = {.cols = COLS, .rows = ROWS};
    static const struct {
        double col, row;
        bool on;
    } cases[] = {{0, 0, true},           {299.999, 339.999, true}, {300, 10, false},
                 {10, 340, false},       {-1e-9, 10, false},       {10, -1e-9, false},
                 {NAN, 10, false},       {10, NAN, false}};
    for (size_t i = 0; i < sizeof cases / sizeof cases[0]; i++) {
        brant_sample sample = {.col = cases[i].col, .row = cases[i].row};
        assert_int_equal(brant_on_grid(&grid, &sample), cases[i].on);
    }
}

/* 100 m half outside, 100 m inside, 2,960 m half outside, a break, 100 m half without a place. */
static brant_sample way[] = {
    {.col = -5.5, .row = 10.5, .along_m = 0, .first = true},
    {.col = 4.5, .row = 10.5, .along_m = 100},
    {.col = 14.5, .row = 10.5, .along_m = 200},
    {.col = 310.5, .row = 10.5, .along_m = 3160},
    {.col = 299.5, .row = 20.5, .along_m = 3300, .first = true},
    {.col = NAN, .row = NAN, .along_m = 3400},
};
static const brant_track over_the_edge = {.samples = way, .count = 6};

static void test_metres_outside(void **state)
{
    (void)state;
    const brant_grid grid = {.cols = COLS, .rows = ROWS};
    assert_true(fabs(brant_metres_outside(&grid, &over_the_edge) - (50 + 1480 + 50)) < 1e-9);
    const brant_track inside = {.samples = way + 1, .count = 2};
    assert_true(brant_metres_outside(&grid, &inside) == 0);
}

/* From `low` to `high`, and at most three cells more to each side, but on the grid. */
static void assert_range(int first, int count, double low, double high, int cells)
{
    int from = low < 0 ? 0 : (int)low, to = high >= cells ? cells - 1 : (int)high;
    assert_true(first <= from && first >= (from < 3 ? 0 : from - 3));
    assert_true(first + count - 1 >= to && first + count - 1 <= to + 3);
    assert_true(first + count <= cells);
}

static void test_window(void **state)
{
    (void)state;
    brant_context ctx;
    brant_dem dem;
    brant_window w;
    brant_sample diagonal[] = {{.col = 160.5, .row = 150.5}, {.col = 100.5, .row = 170.5}};
    const brant_track tracks[] = {{.samples = diagonal, .count = 1},
                                  {.samples = diagonal + 1, .count = 1}, over_the_edge};
    open_plain(&ctx, &dem);
    assert_int_equal(brant_lines_window(&ctx, &dem, "a.gpx", tracks, 2, 200, &w), BRANT_OK);
    assert_range(w.col, w.cols, 80.5, 180.5, COLS);
    assert_range(w.row, w.rows, 130.5, 190.5, ROWS);
    assert_int_equal(brant_lines_window(&ctx, &dem, "a.gpx", tracks + 2, 1, 200, &w), BRANT_OK);
    assert_range(w.col, w.cols, -15.5, 319.5, COLS);
    assert_range(w.row, w.rows, -9.5, 40.5, ROWS);
    const brant_track outside = {.samples = way, .count = 1};
    assert_int_equal(brant_lines_window(&ctx, &dem, "a.gpx", &outside, 1, 200, &w),
                     BRANT_ERR_INPUT);
    assert_string_equal(brant_message(&ctx), "a.gpx: the route lies wholly outside lines.tif");
    close_dem(&ctx, &dem);
}

/* The cells that samples stand on, and those alone. */
static void test_mark(void **state)
{
    (void)state;
    const brant_grid grid = {.cols = COLS, .rows = ROWS};
    const brant_window w = {4, 10, 296, 11};
    static uint8_t cells[296 * 11];
    size_t marked = 0;
    brant_lines_mark(&grid, &over_the_edge, 1, &w, cells);
    for (size_t i = 0; i < sizeof cells; i++)
        marked += cells[i] != 0;
    assert_int_equal(marked, 3);
    assert_true(cells[0] && cells[10] && cells[10 * 296 + 295]);
    memset(cells, 0, sizeof cells);
    const brant_window narrow = {5, 11, 294, 9}; /* none of the three is in it */
    brant_lines_mark(&grid, &over_the_edge, 1, &narrow, cells);
    for (size_t i = 0; i < sizeof cells; i++)
        assert_int_equal(cells[i], 0);
}

/* Half the side of a cell along a parallel of WGS 84, metres. */
static double half_width(double degrees, double lat)
{
    const double a = 6378137, e2 = 0.00669437999014, s = sin(lat * M_PI / 180);
    return degrees * M_PI / 180 * a / sqrt(1 - e2 * s * s) * cos(lat * M_PI / 180) / 2;
}

/* 5 E to 8 E and 67.6 N down to 64.2 N in cells of 0.01 degrees: the northernmost point that
 * is on the grid counts, wherever it is in the file; without any, the grid's middle. */
static void test_step(void **state)
{
    (void)state;
    static const double degrees[6] = {5, 0.01, 0, 67.6, 0, -0.01};
    brant_context ctx;
    brant_dem dem;
    brant_locator *locator;
    brant_gpx_point points[] = {{.lon = 6, .lat = 65}, {.lon = 7, .lat = 67.5},
                                {.lon = 6, .lat = 66}, {.lon = 6, .lat = 75},
                                {.lon = 4, .lat = 67.58}, {.lon = 9, .lat = 67.58},
                                {.lon = 6, .lat = 60}};
    const brant_gpx gpx = {.points = points, .point_count = 7};
    const brant_gpx outside = {.points = points + 3, .point_count = 4};
    open_dem(&ctx, &dem, "EPSG:4326", degrees);
    assert_int_equal(brant_locator_create(&ctx, dem.name, &dem.grid, &locator), BRANT_OK);
    assert_true(fabs(brant_lines_step(&dem, &gpx, locator) / half_width(0.01, 67.5) - 1) < 1e-4);
    assert_true(fabs(brant_lines_step(&dem, &outside, locator) / half_width(0.01, 65.9) - 1) <
                1e-4);
    brant_locator_destroy(locator);
    close_dem(&ctx, &dem);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(test_on_grid), cmocka_unit_test(test_metres_outside),
        cmocka_unit_test(test_window),  cmocka_unit_test(test_mark),
        cmocka_unit_test(test_step),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
