/* The union of shadows, cell by cell: what results set by hand must come to by the words of
 * brant/runout.h (the steepest angle, of equals the lowest zone; the largest head and the
 * count at the reach angle). */
#include "runout_world.h"

/* Off the grid's corner and oblong, so that no row is taken for a column. */
static const brant_window window = {10, 20, 3, 2};
enum { CELLS = 6 };

static int setup(void **state)
{
    static brant_context ctx;
    brant_shadow *shadow = malloc(sizeof *shadow);
    brant_context_init(&ctx);
    if (!shadow || brant_shadow_create(&ctx, &window, 25.0, shadow) != BRANT_OK)
        return -1;
    *state = shadow;
    return 0;
}

static int teardown(void **state)
{
    brant_shadow_clear(*state);
    free(*state);
    return 0;
}

static void add(brant_shadow *s, uint32_t zone, double reach_angle, const brant_reached *cells,
                size_t count)
{
    const brant_reach_result result = {.cells = cells, .count = count};
    brant_shadow_add_at(s, zone, reach_angle, &result);
}

static void check(const brant_shadow *s, size_t cell, float reached_at, float head, uint32_t zone,
                  uint16_t above)
{
    assert_true(s->reached_at[cell] == reached_at);
    assert_true(s->head[cell] == head);
    assert_int_equal(s->zone[cell], zone);
    assert_int_equal(s->zones_above[cell], above);
}

static void test_cells_in_their_place(void **state)
{
    brant_shadow *s = *state;
    for (size_t i = 0; i < CELLS; i++)
        check(s, i, 0, 0, 0, 0);
    const brant_reached cells[] = {{10, 20, 30, 3, 0}, {12, 20, 31, 4, 0}, {11, 21, 32, 5, 0},
                                   {12, 21, 33, 6, 0}, /* and around the window: */
                                   {9, 21, 80, 9, 0}, {13, 20, 80, 9, 0}, {11, 19, 80, 9, 0},
                                   {11, 22, 80, 9, 0}};
    add(s, 7, 25.0, cells, sizeof cells / sizeof *cells);
    check(s, 0, 30, 3, 7, 1);
    check(s, 1, 0, 0, 0, 0);
    check(s, 2, 31, 4, 7, 1);
    check(s, 3, 0, 0, 0, 0);
    check(s, 4, 32, 5, 7, 1);
    check(s, 5, 33, 6, 7, 1);
}

/* The steepest zone need not be the one with the largest head. */
static void test_zones_on_one_cell(void **state)
{
    brant_shadow *s = *state;
    add(s, 5, 25.0, &(brant_reached){11, 20, 28, 40, 0}, 1);
    add(s, 4, 25.0, &(brant_reached){11, 20, 35, 8, 0}, 1);
    check(s, 1, 35, 40, 4, 2);
    add(s, 3, 25.0, &(brant_reached){11, 20, 35, 9, 0}, 1);
    check(s, 1, 35, 40, 3, 3);
    add(s, 6, 25.0, &(brant_reached){11, 20, 35, 1, 0}, 1);
    check(s, 1, 35, 40, 3, 4);
}

/* Reached at the reach angle itself is reached; below it only the angle and its zone count.
 * A zone with an angle of its own is held against that. */
static void test_reach_angle(void **state)
{
    brant_shadow *s = *state;
    add(s, 2, 25.0, &(brant_reached){10, 20, 24.99f, -1, 0}, 1);
    check(s, 0, 24.99f, 0, 2, 0);
    add(s, 3, 25.0, &(brant_reached){10, 20, 25, 0.5f, 0}, 1);
    check(s, 0, 25, 0.5f, 3, 1);
    add(s, 4, 20.0, &(brant_reached){11, 20, 22, 2, 0}, 1);
    check(s, 1, 22, 2, 4, 1);
    add(s, 5, 32.0, &(brant_reached){12, 20, 30, 2, 0}, 1);
    check(s, 2, 30, 0, 5, 0);
}

static void test_count_stays_at_its_end(void **state)
{
    brant_shadow *s = *state;
    for (uint32_t zone = 1; zone <= 70000; zone++) {
        add(s, zone, 25.0, &(brant_reached){10, 21, 30, 2, 0}, 1);
        if (zone == 65534)
            check(s, 3, 30, 2, 1, 65534);
    }
    check(s, 3, 30, 2, 1, 65535);
}

static void test_unknown(void **state)
{
    brant_shadow *s = *state;
    const brant_reached cells[] = {{10, 20, 24.99f, 0, 0}, {12, 20, 25, 0, 0}, {11, 21, 90, 0, 0},
                                   {9, 21, 90, 0, 0}, {13, 20, 90, 0, 0}};
    static const uint8_t at_25[CELLS] = {0, 0, 1, 0, 1, 0}, at_20[CELLS] = {1, 0, 1, 0, 1, 0};
    const brant_reach_result result = {.cells = cells, .count = sizeof cells / sizeof *cells};
    brant_shadow_add_unknown_at(s, 25.0, &result);
    assert_memory_equal(s->unknown_above, at_25, CELLS);
    brant_shadow_add_unknown_at(s, 20.0, &result);
    brant_shadow_add_unknown_at(s, 25.0, &result);
    assert_memory_equal(s->unknown_above, at_20, CELLS);
    for (size_t i = 0; i < CELLS; i++)
        check(s, i, 0, 0, 0, 0);
}

/* ---- what a search keeps ---------------------------------------------------- */

static double slope(const void *self, double east, double north)
{
    (void)self;
    (void)east;
    return 1000.0 + north * tan(35.0 * RAD);
}

/* The line's height over the ground at 25 degrees, by the way over the ground plan. */
static void check_head(const world *w, const brant_reached *cell)
{
    double e0, n0, e, n;
    world_place(w, w->grid.cols / 2, w->grid.rows / 2, &e0, &n0);
    world_place(w, cell->col, cell->row, &e, &n);
    double run = hypot(e - e0, n - n0);
    assert_true(fabs((double)cell->run_m - run) < 0.1);
    assert_true(fabs((double)cell->head_m - (n0 - n) * tan(35.0 * RAD) + run * tan(25.0 * RAD)) <
                0.1);
}

/* A window's results are those of the whole that lie in it, no matter that paths lead out of
 * it and in again. */
static void test_kept_window(void **state)
{
    (void)state;
    enum { N = 81 };
    const brant_window keep = {N / 2 - 3, N / 2 + 5, 6, 7};
    brant_reach_options options = BRANT_REACH_OPTIONS_DEFAULT;
    brant_start start = {N / 2, N / 2, 0.0f};
    brant_reach_result result;
    brant_reached *whole = calloc((size_t)N * N, sizeof *whole);
    world w;
    world_open(&w, 10.0, N, slope, NULL);
    brant_search *search;
    assert_int_equal(brant_search_create(&w.ctx, w.flow, &options, &search), BRANT_OK);
    assert_int_equal(brant_search_run(&w.ctx, search, &start, 1, &result), BRANT_OK);
    size_t in = 0, all = result.count;
    for (size_t i = 0; i < all; i++) {
        const brant_reached *cell = &result.cells[i];
        bool has = cell->col >= keep.col && cell->col < keep.col + keep.cols &&
                   cell->row >= keep.row && cell->row < keep.row + keep.rows;
        if (has)
            whole[in++] = *cell;
    }
    for (size_t i = 0; i < all; i++)
        check_head(&w, &result.cells[i]);
    uint64_t visits = result.visits;
    brant_search_keep(search, &keep);
    assert_int_equal(brant_search_run(&w.ctx, search, &start, 1, &result), BRANT_OK);
    assert_true(in > 20 && in < all && result.visits == visits);
    assert_int_equal(result.count, in);
    assert_memory_equal(result.cells, whole, in * sizeof *whole);
    brant_search_destroy(search);
    free(whole);
    world_close(&w);
}

#define CASE(name) cmocka_unit_test_setup_teardown(name, setup, teardown)

int main(void)
{
    const struct CMUnitTest tests[] = {
        CASE(test_cells_in_their_place), CASE(test_zones_on_one_cell), CASE(test_reach_angle),
        CASE(test_count_stays_at_its_end), CASE(test_unknown),
        cmocka_unit_test(test_kept_window),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
