/* Lines carried over voids: where they are cut off, how far they go, and that they end.
 * Expected heights and distances are plain geometry of the energy line. */
#include "runout_world.h"

/* ---- how far they go ------------------------------------------------------ */

/* Islands in a void, at these distances east of the middle. */
typedef struct island {
    double east_m, height_m;
} island;

static const island islands[] = {{0.0, 1000.0}, {2000.0, 300.0}, {3700.0, -400.0},
                                 {3700.0, -300.0}, {6000.0, 0.0}};
enum { ISLANDS = sizeof islands / sizeof *islands };

#define CELL 50.0
#define RISE 400.0f

/* Each a few cells wide; the two at one distance lie north of each other. */
static double scattered(const void *self, double east, double north)
{
    (void)self;
    for (int i = 0; i < ISLANDS; i++)
        if (fabs(east - islands[i].east_m) < 140.0 && fabs(north - (i == 3 ? 400.0 : 0.0)) < 140.0)
            return islands[i].height_m;
    return NAN;
}

/* Where on an island the line from (0, 0) comes down: reached as far as 1,400 m less its height
 * over tan 25, and within a cell of it. */
static void check_island(const world *w, const uint8_t *hit, double height_m)
{
    double reach = (1000.0 + RISE - height_m) / tan(25.0 * RAD);
    for (int r = 0; r < w->grid.rows; r++)
        for (int c = 0; c < w->grid.cols; c++) {
            double e, n;
            size_t at = (size_t)r * (size_t)w->grid.cols + (size_t)c;
            world_place(w, c, r, &e, &n);
            if (w->z[at] == (float)height_m && fabs(hypot(e, n) - reach) > CELL)
                assert_int_equal(hit[at], hypot(e, n) < reach);
        }
}

/* Search every way and over voids from a cell, at 25 degrees; how often each cell is told of, and
 * the visits. */
static double cross(world *w, int col, int row, uint8_t *hit)
{
    const int cols = w->grid.cols, rows = w->grid.rows;
    brant_reach_options every_way = {25.0, 180.0, 25.0};
    brant_start start = {col, row, RISE};
    brant_search *search;
    brant_reach_result result;
    assert_non_null(hit);
    assert_int_equal(brant_search_create(&w->ctx, w->flow, &every_way, &search), BRANT_OK);
    brant_search_cross(search);
    assert_int_equal(brant_search_run(&w->ctx, search, &start, 1, &result), BRANT_OK);
    for (size_t i = 0; i < result.count; i++) {
        const brant_reached *cell = &result.cells[i];
        assert_true(cell->col >= 0 && cell->col < cols && cell->row >= 0 && cell->row < rows);
        hit[(size_t)cell->row * (size_t)cols + (size_t)cell->col]++;
    }
    const double visits = (double)result.visits;
    brant_search_destroy(search);
    return visits;
}

/* Ground beyond a void is reached however low the void might lie, and what can reach no dry
 * land any more is not followed: at 1,400 m, 25 degrees, to 1,900 / tan 25 = 4,075 m. */
static void test_lines_over_a_wide_void_end(void **state)
{
    (void)state;
    enum { N = 1101 };
    world w;
    world_open(&w, CELL, N, scattered, NULL);
    uint8_t *hit = calloc((size_t)N * N, 1);
    const double visits = cross(&w, N / 2, N / 2, hit);
    for (int i = 0; i < ISLANDS; i++)
        check_island(&w, hit, islands[i].height_m);
    double cells = 1900.0 / tan(25.0 * RAD) / CELL;
    assert_true(visits > 0.95 * M_PI * cells * cells);
    assert_true(visits < 1.05 * M_PI * cells * cells);
    free(hit);
    world_close(&w);
}

/* Unknown but for one cell, at 1,000 m, and the raster's own rim, at sea level. */
typedef struct rim {
    double half_m, cell_m, east, north; /* of the raster; of its cells; where the one is */
} rim;

static double rim_alone(const void *self, double east, double north)
{
    const rim *r = self;
    if (hypot(east - r->east, north - r->north) < r->cell_m / 2.0)
        return 1000.0;
    return fmax(fabs(east), fabs(north)) > r->half_m - r->cell_m ? 0.0 : NAN;
}

/* Lines over voids end at the raster, which is as large as a page of the ground: of its rim all
 * is reached that lies within 1,400 m / tan 25 = 3,002 m of a cell near its southern side. */
static void test_lines_over_a_void_end_at_the_raster(void **state)
{
    (void)state;
    enum { N = 128, COL = 64, ROW = 100 };
    const rim r = {64 * 40.0, 40.0, 20.0, -36.5 * 40.0};
    const double reach = (1000.0 + RISE) / tan(25.0 * RAD);
    world w;
    world_open(&w, r.cell_m, N, rim_alone, &r);
    uint8_t *hit = calloc((size_t)N * N, 1);
    cross(&w, COL, ROW, hit);
    assert_int_equal(hit[ROW * N + COL], 1);
    for (int row = 0; row < N; row++)
        for (int col = 0; col < N; col++) {
            double e, n;
            size_t at = (size_t)row * N + (size_t)col;
            world_place(&w, col, row, &e, &n);
            double far = hypot(e - r.east, n - r.north);
            assert_true(hit[at] <= 1);
            if (w.z[at] == 0.0f && fabs(far - reach) > r.cell_m)
                assert_int_equal(hit[at], far < reach);
        }
    free(hit);
    world_close(&w);
}

/* ---- where they are cut off ----------------------------------------------- */

#define STEEP tan(35.0 * RAD)
#define REACH tan(25.0 * RAD)

/* A slope of 35 degrees towards south with a strip of unknown ground across it. */
static double slope_with_strip(const void *self, double east, double north)
{
    (void)self;
    (void)east;
    return north < -500.0 && north > -600.0 ? NAN : 1000.0 + north * STEEP;
}

/* At `cut` the line from the middle stands so far over the ground, metres, by its way over the
 * ground plan. */
static double line_over(const world *w, const brant_start *cut)
{
    double east, north;
    world_place(w, cut->col, cut->row, &east, &north);
    return -north * STEEP - hypot(east, north) * REACH;
}

/* Every cell on the strip's rim, within 15 degrees of the fall line, from which the line goes on
 * more than `above_m` over the ground, is there, with that height; and no lower one. */
static void check_cuts(const world *w, const brant_reach_result *result, double above_m)
{
    int there = 0, found = 0;
    for (int c = 0; c < w->grid.cols; c++)
        for (int r = 0; r + 1 < w->grid.rows; r++) {
            double east, north;
            size_t at = (size_t)r * (size_t)w->grid.cols + (size_t)c;
            world_place(w, c, r, &east, &north);
            there += !isnan(w->z[at]) && isnan(w->z[at + (size_t)w->grid.cols]) &&
                   fabs(east) < -north * tan(15.0 * RAD) &&
                   line_over(w, &(brant_start){c, r, 0.0f}) > above_m;
        }
    for (size_t i = 0; i < result->cut_count; i++) {
        const brant_start *cut = &result->cut[i];
        double east, north;
        world_place(w, cut->col, cut->row, &east, &north);
        assert_true(north > -500.0 && north < -500.0 + CELL);
        assert_true(fabs((double)cut->rise_m - line_over(w, cut)) < 0.2);
        assert_true((double)cut->rise_m > above_m);
        found += fabs(east) < -north * tan(15.0 * RAD);
    }
    assert_int_equal(found, there);
}

static void test_where_lines_are_cut_off(void **state)
{
    (void)state;
    enum { N = 41 };
    /* everywhere on the rim; in its middle alone; nowhere */
    static const double above_m[] = {0.0, 100.0, 130.0};
    const double middle_m = 475.0 * (STEEP - REACH); /* what stands there: 111 m */
    world w;
    world_open(&w, CELL, N, slope_with_strip, NULL);
    brant_reach_options options = BRANT_REACH_OPTIONS_DEFAULT;
    brant_start start = {N / 2, N / 2, 0.0f};
    brant_search *search;
    brant_reach_result result;
    assert_int_equal(brant_search_create(&w.ctx, w.flow, &options, &search), BRANT_OK);
    size_t cells = 0;
    for (int i = 0; i < 3; i++) {
        brant_search_carry(search, above_m[i]);
        assert_int_equal(brant_search_run(&w.ctx, search, &start, 1, &result), BRANT_OK);
        assert_true(result.truncated);
        assert_true((result.cut_count > 0) == (above_m[i] < middle_m));
        check_cuts(&w, &result, above_m[i]);
        assert_true(i == 0 || result.count == cells);
        cells = result.count;
    }
    brant_search_carry(search, 0.0);
    brant_search_cross(search);
    brant_search_set(search, &options); /* nothing carried or crossed any more */
    assert_int_equal(brant_search_run(&w.ctx, search, &start, 1, &result), BRANT_OK);
    assert_true(result.truncated && result.cut_count == 0 && result.count == cells);
    brant_search_destroy(search);
    world_close(&w);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(test_lines_over_a_wide_void_end),
        cmocka_unit_test(test_lines_over_a_void_end_at_the_raster),
        cmocka_unit_test(test_where_lines_are_cut_off),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
