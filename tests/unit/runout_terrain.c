/* The runout shadow where terrain steers or stops it: bends, pits, terraces, ridges,
 * voids; and what holds of every shadow: nesting, union, quarter turns. Surfaces are
 * analytic; the expected distances are plain geometry of the energy line. */
#include "runout_world.h"

typedef struct patch {
    double east, north, half; /* starts: a square around this point */
} patch;

static bool in_patch(const void *self, double east, double north)
{
    const patch *p = self;
    return fabs(east - p->east) <= p->half && fabs(north - p->north) <= p->half;
}

static float reached_at(const world *w, const outcome *o, double east, double north)
{
    for (int r = 0; r < w->grid.rows; r++)
        for (int c = 0; c < w->grid.cols; c++) {
            double e, n;
            world_place(w, c, r, &e, &n);
            if (fabs(e - east) <= 5.01 && fabs(n - north) <= 5.01)
                return o->reached[(size_t)r * (size_t)w->grid.cols + (size_t)c];
        }
    fail_msg("no cell at %g, %g", east, north);
    return 0.0f;
}

/* ---- a gully with a right-angle bend ------------------------------------ */

/* The floor, 40 m wide and falling at 30 degrees, comes from the north, turns to the
 * west at (0, 0) and goes on at 25 degrees; walls of 40 degrees, 120 m high. */
static double gully(const void *self, double east, double north)
{
    (void)self;
    double from_north = fabs(east), down_north = 600.0 - north; /* metres from its line, along it */
    double from_west = fabs(north), down_west = 600.0 - east;
    double off = north > 0.0 && from_north < from_west ? from_north : east < 0.0 ? from_west
                                                                 : hypot(east, north);
    double down = north > 0.0 && from_north < from_west ? down_north : east < 0.0 ? down_west : 600.0;
    double floor = down < 600.0 ? (600.0 - down) * tan(30 * RAD) : -(down - 600.0) * tan(25.5 * RAD);
    double wall = (off - 20.0) * tan(40 * RAD);
    return floor + (wall < 0.0 ? 0.0 : wall > 120.0 ? 120.0 : wall);
}

static void test_gully_bend(void **state)
{
    (void)state;
    world w;
    patch top = {0.0, 570.0, 20.0};
    world_open(&w, 10.0, 161, gully, NULL);
    outcome o = world_search(&w, in_patch, &top);
    /* down the gully, before and after the bend */
    assert_true(reached_at(&w, &o, 0.0, 300.0) >= 25.0f);
    assert_true(reached_at(&w, &o, -300.0, 0.0) >= 25.0f);
    assert_true(reached_at(&w, &o, -500.0, 0.0) >= 25.0f);
    /* straight on: at the bend the line at 25 degrees is about 590 (tan 30 - tan 25) =
     * 66 m above the floor and meets the wall, 20 m + 66 / (tan 40 + tan 25) = 69 m on */
    assert_true(reached_at(&w, &o, 0.0, -50.0) >= 25.0f);
    assert_true(reached_at(&w, &o, 0.0, -90.0) < 25.0f);
    /* the ground beyond the walls, to the side, is not reached: the line is nowhere
     * 120 m above the floor at 25 degrees */
    assert_true(reached_at(&w, &o, 300.0, 300.0) < 25.0f);
    assert_true(reached_at(&w, &o, -300.0, 300.0) < 25.0f);
    assert_true(reached_at(&w, &o, -300.0, -300.0) < 25.0f);
    free(o.reached);
    /* at 29 degrees the line is 13 m above the floor at the bend, and nothing unknown is met */
    brant_reach_options steep = {29.0, 20.0, 18.0};
    o = world_search_with(&w, &steep, in_patch, &top);
    assert_true(reached_at(&w, &o, 0.0, 0.0) >= 29.0f);
    assert_false(o.truncated);
    free(o.reached);
    world_close(&w);
}

/* ---- things in the way -------------------------------------------------- */

static double slope35(double north)
{
    return north > 0.0 ? north * tan(35 * RAD) : 0.0;
}

static double with_pit(const void *self, double east, double north)
{
    (void)self; /* a hole 30 m deep and 60 m across in the slope, another on the flat */
    double pit = fmin(hypot(east, north - 200.0), hypot(east, north + 60.0));
    return slope35(north) - (pit < 30.0 ? 30.0 * (1.0 - pit / 30.0) : 0.0);
}

static double with_terrace(const void *self, double east, double north)
{
    (void)self;
    (void)east; /* a road: level for 20 m, cut into the slope at 190-210 m */
    return north > 190.0 && north < 210.0 ? slope35(190.0) : slope35(north);
}

static double with_lake(const void *self, double east, double north)
{
    (void)self; /* the slope ends in a lake 15 m below its shores */
    return hypot(east, north + 100.0) < 100.0 ? -15.0 : slope35(north);
}

static double plain_slope(const void *self, double east, double north)
{
    (void)self;
    (void)east;
    return slope35(north);
}

/* The southernmost cell reached at 25 degrees on the middle line. */
static double southmost(const world *w, const outcome *o)
{
    double south = INFINITY;
    for (int r = 0; r < w->grid.rows; r++) {
        double e, n;
        int c = w->grid.cols / 2;
        world_place(w, c, r, &e, &n);
        if (o->reached[(size_t)r * (size_t)w->grid.cols + (size_t)c] >= 25.0f)
            south = fmin(south, n);
    }
    return south;
}

static void test_pits_lakes_terraces(void **state)
{
    (void)state;
    static const surface surfaces[] = {plain_slope, with_pit, with_terrace, with_lake};
    patch top = {0.0, 390.0, 20.0};
    double z0 = slope35(410.0), expected = 410.0 - z0 / tan(25 * RAD); /* plain: -205.7 */
    for (size_t i = 0; i < 4; i++) {
        world w;
        world_open(&w, 10.0, 101, surfaces[i], NULL);
        outcome o = world_search(&w, in_patch, &top);
        assert_float_equal(southmost(&w, &o), expected, 10.0);
        free(o.reached);
        world_close(&w);
    }
}

/* A ridge along the fall line, 60 m to the side: where the line at 25 degrees is lower
 * than its crest it must not be crossed. */
static double with_ridge(const void *self, double east, double north)
{
    (void)self;
    double side = fabs(east - 80.0);
    return slope35(north) + (side < 40.0 ? (40.0 - side) * tan(60 * RAD) : 0.0);
}

static void test_ridge_is_not_crossed(void **state)
{
    (void)state;
    world w;
    patch top = {0.0, 400.0, 10.0};
    world_open(&w, 10.0, 101, with_ridge, NULL);
    outcome o = world_search(&w, in_patch, &top);
    /* the line gains at most 410 (tan 35 - tan 25) = 96 m: beyond a crest of 69 m it can
     * be only where it has run 300 m; above that, nothing beyond the crest */
    for (double north = 150.0; north <= 400.0; north += 10.0)
        for (double east = 130.0; east <= 300.0; east += 10.0)
            assert_true(reached_at(&w, &o, east, north) < 25.0f);
    assert_true(reached_at(&w, &o, 0.0, 150.0) >= 25.0f);
    free(o.reached);
    world_close(&w);
}

static double void_at_north = 1e9;
static double slope_with_void(const void *self, double east, double north)
{
    (void)self;
    return fabs(north - void_at_north) < 15.0 && fabs(east) < 40.0 ? NAN : slope35(north);
}

static void test_void_in_the_way_is_reported(void **state)
{
    (void)state;
    patch top = {0.0, 390.0, 20.0};
    static const double places[] = {1e9, 200.0, -450.0}; /* none; in the way; out of reach */
    static const bool truncated[] = {false, true, false};
    for (size_t i = 0; i < 3; i++) {
        world w;
        void_at_north = places[i];
        world_open(&w, 10.0, 101, slope_with_void, NULL);
        outcome o = world_search(&w, in_patch, &top);
        assert_int_equal(o.truncated, truncated[i]);
        free(o.reached);
        world_close(&w);
    }
    /* the raster's edge: the same slope on a grid that ends 150 m below the toe, where
     * the shadow would go on to 206 m */
    world w;
    void_at_north = 1e9;
    patch near = {0.0, 130.0, 15.0}; /* this one stops 73 m out */
    world_open(&w, 10.0, 31, plain_slope, NULL);
    outcome o = world_search(&w, in_patch, &near);
    assert_false(o.truncated);
    free(o.reached);
    near.north = 150.0;
    near.half = 5.0;
    brant_reach_options low = {18.0, 20.0, 18.0};
    o = world_search_with(&w, &low, in_patch, &near); /* at 18 degrees it runs 173 m out */
    assert_true(o.truncated);
    free(o.reached);
    world_close(&w);
}

/* ---- every shadow ------------------------------------------------------- */

/* Rolling ground of no particular shape. */
static double hills(const void *self, double east, double north)
{
    (void)self;
    return 900.0 + 0.72 * north + 90.0 * sin(east / 130.0 + 0.3) + 60.0 * cos((east + north) / 90.0) +
           25.0 * sin((2 * east - north) / 41.0);
}

static bool hill_start(const void *self, double east, double north)
{
    (void)self;
    return fabs(east) < 60.0 && fabs(north - 300.0) < 40.0;
}

static void test_shadows_nest(void **state)
{
    (void)state;
    world w;
    world_open(&w, 10.0, 121, hills, NULL);
    brant_reach_options low = {25.0, 20.0, 18.0}, high = {30.0, 20.0, 24.0};
    outcome a = world_search_with(&w, &low, hill_start, NULL);
    outcome b = world_search_with(&w, &high, hill_start, NULL);
    size_t cells = (size_t)w.grid.cols * (size_t)w.grid.rows, differ = 0;
    for (size_t i = 0; i < cells; i++) {
        if (b.reached[i] > 0.0f && b.reached[i] != a.reached[i])
            differ++;
        if (a.reached[i] >= 24.0f && b.reached[i] == 0.0f)
            differ++;
        double e, n;
        world_place(&w, (int)(i % 121), (int)(i / 121), &e, &n);
        assert_int_equal(a.reached[i] == 90.0f, hill_start(NULL, e, n)); /* release is complete */
    }
    assert_int_equal(differ, 0); /* exactly, not nearly */
    assert_true(a.count > b.count && b.count > 500);
    free(a.reached);
    free(b.reached);
    world_close(&w);
}

/* The same ground under a raster whose rows run east, north, west and south. */
static void test_quarter_turns(void **state)
{
    (void)state;
    enum { N = 120 };
    double x = 500000.0, y = 5094000.0, half = 10.0 * N / 2;
    double transforms[4][6] = {{x - half, 10, 0, y + half, 0, -10},
                               {x + half, 0, -10, y + half, -10, 0},
                               {x + half, -10, 0, y - half, 0, 10},
                               {x - half, 0, 10, y - half, 10, 0}};
    outcome plain = {0};
    for (int turn = 0; turn < 4; turn++) {
        world w;
        world_open_on(&w, "EPSG:32632", transforms[turn], N, N, hills, NULL);
        outcome o = world_search(&w, hill_start, NULL);
        size_t moved = 0;
        for (int r = 0; r < N && turn > 0; r++)
            for (int c = 0; c < N; c++) {
                int row = r, col = c;
                for (int i = 0; i < turn; i++) { /* the same ground's cell of the turned raster */
                    int before = row;
                    row = N - 1 - col;
                    col = before;
                }
                moved += (plain.reached[r * N + c] >= 25.0f) != (o.reached[row * N + col] >= 25.0f);
            }
        print_message("turned %d times: %zu of %zu cells move\n", turn, moved, o.count);
        assert_true(o.count > 1000);
        assert_true((double)moved <= o.count / 1000.0);
        world_close(&w);
        if (turn == 0)
            plain = o;
        else
            free(o.reached);
    }
    free(plain.reached);
}

static void test_union_has_no_order(void **state)
{
    (void)state;
    world w;
    world_open(&w, 10.0, 121, hills, NULL);
    brant_window all = {0, 0, 121, 121};
    brant_shadow forth, back;
    brant_search *search[3];
    brant_reach_result result[3];
    brant_reach_options options = BRANT_REACH_OPTIONS_DEFAULT;
    assert_int_equal(brant_shadow_create(&w.ctx, &all, 25.0, &forth), BRANT_OK);
    assert_int_equal(brant_shadow_create(&w.ctx, &all, 25.0, &back), BRANT_OK);
    for (int i = 0; i < 3; i++) {
        brant_start starts[30];
        for (int k = 0; k < 30; k++)
            starts[k] = (brant_start){45 + 6 * i + k % 6, 26 + k / 6, 0.0f};
        assert_int_equal(brant_search_create(&w.ctx, w.flow, &options, &search[i]), BRANT_OK);
        assert_int_equal(brant_search_run(&w.ctx, search[i], starts, 30, &result[i]), BRANT_OK);
    }
    for (int i = 0; i < 3; i++)
        brant_shadow_add_at(&forth, (uint32_t)(10 + i), 25.0, &result[i]);
    for (int i = 2; i >= 0; i--)
        brant_shadow_add_at(&back, (uint32_t)(10 + i), 25.0, &result[i]);
    size_t cells = 121 * 121;
    int most = 0;
    for (size_t i = 0; i < cells; i++)
        most = forth.zones_above[i] > most ? forth.zones_above[i] : most;
    assert_true(most >= 2);
    assert_memory_equal(forth.reached_at, back.reached_at, cells * sizeof(float));
    assert_memory_equal(forth.head, back.head, cells * sizeof(float));
    assert_memory_equal(forth.zone, back.zone, cells * sizeof(uint32_t));
    assert_memory_equal(forth.zones_above, back.zones_above, cells * sizeof(uint16_t));
    for (int i = 0; i < 3; i++)
        brant_search_destroy(search[i]);
    brant_shadow_clear(&forth);
    brant_shadow_clear(&back);
    world_close(&w);
}

/* ---- the rim of the unknown --------------------------------------------- */

static double flat(const void *self, double east, double north)
{
    const double *half_hole = self;
    return fabs(east) < *half_hole && fabs(north) < *half_hole ? NAN : 1000.0;
}

/* On flat ground a rise of 300 m behind the rim reaches 300 / tan 25 = 643 m. */
static void test_rim_reaches_as_far_as_its_rise(void **state)
{
    (void)state;
    double half_hole = 5.0; /* one cell */
    world w;
    world_open(&w, 10.0, 301, flat, &half_hole);
    brant_window inner = {100, 100, 101, 101}; /* the border is not in it */
    brant_start *starts;
    size_t count;
    assert_int_equal(brant_rim_starts(&w.ctx, &w.source, &inner, BRANT_VOID_RISE,
                                      &starts, &count), BRANT_OK);
    assert_int_equal(count, 8);
    brant_reach_options options = {25.0, 180.0, 25.0};
    brant_search *search;
    brant_reach_result result;
    assert_int_equal(brant_search_create(&w.ctx, w.flow, &options, &search), BRANT_OK);
    assert_int_equal(brant_search_run(&w.ctx, search, starts, count, &result), BRANT_OK);
    double nearest_missed = INFINITY, furthest = 0.0;
    uint8_t *hit = calloc(301 * 301, 1);
    for (size_t i = 0; i < result.count; i++)
        hit[result.cells[i].row * 301 + result.cells[i].col] = 1;
    for (int r = 0; r < 301; r++)
        for (int c = 0; c < 301; c++) {
            double e, n;
            world_place(&w, c, r, &e, &n);
            if (r == 150 && c == 150)
                continue;
            if (hit[r * 301 + c])
                furthest = fmax(furthest, hypot(e, n));
            else
                nearest_missed = fmin(nearest_missed, hypot(e, n));
        }
    assert_float_equal(furthest, 643.0 + 10.0, 15.0); /* the rim is a cell out */
    assert_true(nearest_missed > 620.0);              /* every way, without a gap */
    free(hit);
    free(starts);
    brant_search_destroy(search);
    /* the raster's border is a rim as well */
    brant_window corner = {0, 0, 50, 50};
    assert_int_equal(brant_rim_starts(&w.ctx, &w.source, &corner, BRANT_VOID_RISE,
                                      &starts, &count), BRANT_OK);
    assert_int_equal(count, 99);
    free(starts);
    world_close(&w);
}

/* A search every way: what starts reach together is no less than what each reaches alone.
 * (With fans about headings it was: starts took cells from each other.) */
static void check_more_is_never_less(double reach_angle)
{
    enum { N = 121, STARTS = 9 };
    world w;
    world_open(&w, 10.0, N, hills, NULL);
    brant_reach_options options = {reach_angle, 180.0, reach_angle};
    brant_start starts[STARTS];
    brant_search *search;
    brant_reach_result result;
    uint8_t *together = calloc(N * N, 1);
    size_t alone = 0, lost = 0;
    for (int i = 0; i < STARTS; i++)
        starts[i] = (brant_start){20 + 9 * i, 30 + 17 * i % 60, BRANT_VOID_RISE};
    assert_int_equal(brant_search_create(&w.ctx, w.flow, &options, &search), BRANT_OK);
    assert_int_equal(brant_search_run(&w.ctx, search, starts, STARTS, &result), BRANT_OK);
    for (size_t i = 0; i < result.count; i++)
        together[result.cells[i].row * N + result.cells[i].col] = 1;
    for (int i = 0; i < STARTS; i++) {
        assert_int_equal(brant_search_run(&w.ctx, search, &starts[i], 1, &result), BRANT_OK);
        alone += result.count;
        for (size_t k = 0; k < result.count; k++)
            lost += !together[result.cells[k].row * N + result.cells[k].col];
    }
    assert_true(alone > 10000);
    assert_int_equal(lost, 0);
    free(together);
    brant_search_destroy(search);
    world_close(&w);
}

static void test_more_unknown_is_never_less(void **state)
{
    (void)state;
    check_more_is_never_less(25.0);
    check_more_is_never_less(18.0);
    check_more_is_never_less(35.0);
}

static double corridor(const void *self, double east, double north)
{
    (void)self;
    (void)north; /* level, three cells wide, between walls that no line clears */
    return fabs(east) < 16.0 ? 1000.0 : 2000.0;
}

/* A high start 700 m up a corridor, a low one in it. Near the low one its own line is the
 * steeper, but at 18 degrees only the other's goes on: 300 / tan 18 = 923 m. */
static void test_a_low_start_does_not_stop_a_high_one(void **state)
{
    (void)state;
    enum { N = 201 };
    world w;
    world_open(&w, 10.0, N, corridor, NULL);
    brant_reach_options options = {18.0, 180.0, 18.0};
    brant_start starts[2] = {{N / 2, 30, 300.0f}, {N / 2, 100, 20.0f}};
    brant_search *search;
    brant_reach_result result;
    int furthest = 0;
    assert_int_equal(brant_search_create(&w.ctx, w.flow, &options, &search), BRANT_OK);
    assert_int_equal(brant_search_run(&w.ctx, search, starts, 2, &result), BRANT_OK);
    for (size_t i = 0; i < result.count; i++)
        furthest = result.cells[i].row > furthest ? result.cells[i].row : furthest;
    assert_float_equal((furthest - 30) * 10.0, 923.0, 10.0);
    brant_search_destroy(search);
    world_close(&w);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(test_gully_bend),
        cmocka_unit_test(test_pits_lakes_terraces),
        cmocka_unit_test(test_ridge_is_not_crossed),
        cmocka_unit_test(test_void_in_the_way_is_reported),
        cmocka_unit_test(test_shadows_nest),
        cmocka_unit_test(test_quarter_turns),
        cmocka_unit_test(test_union_has_no_order),
        cmocka_unit_test(test_rim_reaches_as_far_as_its_rise),
        cmocka_unit_test(test_more_unknown_is_never_less),
        cmocka_unit_test(test_a_low_start_does_not_stop_a_high_one),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
