/* Lines carried over voids: how far they go, and that they end. Expected distances are plain
 * geometry of the energy line. */
#include "runout_world.h"

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

/* Ground beyond a void is reached however low the void might lie, and what can reach no dry
 * land any more is not followed: at 1,400 m, 25 degrees, to 1,900 / tan 25 = 4,075 m. */
static void test_lines_over_a_wide_void_end(void **state)
{
    (void)state;
    enum { N = 1101 };
    world w;
    world_open(&w, CELL, N, scattered, NULL);
    brant_reach_options every_way = {25.0, 180.0, 25.0};
    brant_start start = {N / 2, N / 2, RISE};
    brant_search *search;
    brant_reach_result result;
    uint8_t *hit = calloc((size_t)N * N, 1);
    assert_int_equal(brant_search_create(&w.ctx, w.flow, &every_way, &search), BRANT_OK);
    brant_search_cross(search);
    assert_int_equal(brant_search_run(&w.ctx, search, &start, 1, &result), BRANT_OK);
    for (size_t i = 0; i < result.count; i++)
        hit[(size_t)result.cells[i].row * N + (size_t)result.cells[i].col] = 1;
    for (int i = 0; i < ISLANDS; i++)
        check_island(&w, hit, islands[i].height_m);
    double cells = 1900.0 / tan(25.0 * RAD) / CELL;
    assert_true((double)result.visits > 0.95 * M_PI * cells * cells);
    assert_true((double)result.visits < 1.05 * M_PI * cells * cells);
    free(hit);
    brant_search_destroy(search);
    world_close(&w);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(test_lines_over_a_wide_void_end),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
