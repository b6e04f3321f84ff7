/* What terrain does to a shadow, on other grids: azimuths that are no multiples of 15,
 * cells of 2, 10 and 30 m on UTM, and geographic cells of 21 m by 31 m. The ground is the
 * same in metres, but that features grow with cells above 10 m: a gully one cell wide is no
 * gully. Expected distances are plain geometry of the energy line. */
#include "runout_world.h"

/* A surface and its starts, turned: `down` is the distance along `azimuth_deg`, `left` to
 * the left of it, both in units of `scale` metres; heights are scaled as well. */
typedef struct turned {
    double azimuth_deg, scale;
    double (*height)(double down, double left);
    double from_down, to_down, half_width; /* starts: a box about the middle line */
} turned;

static void to_own(const turned *t, double east, double north, double *down, double *left)
{
    double s = sin(t->azimuth_deg * RAD), c = cos(t->azimuth_deg * RAD);
    *down = (east * s + north * c) / t->scale;
    *left = (north * s - east * c) / t->scale;
}

static double turned_height(const void *self, double east, double north)
{
    const turned *t = self;
    double down, left;
    to_own(t, east, north, &down, &left);
    return t->scale * t->height(down, left);
}

static bool turned_start(const void *self, double east, double north)
{
    const turned *t = self;
    double down, left;
    to_own(t, east, north, &down, &left);
    return down >= t->from_down && down <= t->to_down && fabs(left) <= t->half_width;
}

typedef struct grid_kind {
    double cell, azimuth_deg;
    bool geographic;
} grid_kind;

static const grid_kind kinds[] = {{2, 37, false}, {10, 53, false}, {10, 101, false},
                                  {30, 200, false}, {31, 301, true}};
enum { KINDS = sizeof kinds / sizeof *kinds };

/* A world that reaches `half` units to each side of its middle, and what it is reached by. */
static outcome search_turned(world *w, const grid_kind *kind, turned *t, double half)
{
    double second = 1.0 / 3600.0, geographic[6] = {10.0, second, 0.0, 46.5, 0.0, -second};
    t->azimuth_deg = kind->azimuth_deg;
    t->scale = fmax(1.0, kind->cell / 10.0);
    int rows = 2 * (int)ceil(half * t->scale / kind->cell) + 1;
    if (kind->geographic)
        world_open_on(w, "EPSG:4326", geographic, rows * 3 / 2, rows, turned_height, t);
    else
        world_open(w, kind->cell, rows, turned_height, t);
    return world_search(w, turned_start, t);
}

/* Reached at, in the cell at (down, left). */
static float reached_at(const world *w, const turned *t, const outcome *o, double down, double left)
{
    double nearest = INFINITY;
    float reached = 0.0f;
    for (int r = 0; r < w->grid.rows; r++)
        for (int c = 0; c < w->grid.cols; c++) {
            double e, n, d, l;
            world_place(w, c, r, &e, &n);
            to_own(t, e, n, &d, &l);
            if (hypot(d - down, l - left) < nearest) {
                nearest = hypot(d - down, l - left);
                reached = o->reached[(size_t)r * (size_t)w->grid.cols + (size_t)c];
            }
        }
    assert_true(nearest * t->scale < brant_matrix_cell_height(&w->m));
    return reached;
}

/* Furthest reached at 25 degrees within a cell of the middle line; no gap before it. */
static double furthest(const world *w, const turned *t, const outcome *o)
{
    double cell = brant_matrix_cell_height(&w->m) / t->scale, last = -INFINITY, gap = INFINITY;
    for (int r = 0; r < w->grid.rows; r++)
        for (int c = 0; c < w->grid.cols; c++) {
            double e, n, d, l;
            world_place(w, c, r, &e, &n);
            to_own(t, e, n, &d, &l);
            if (fabs(l) > 0.75 * cell || d < t->from_down)
                continue;
            if (o->reached[(size_t)r * (size_t)w->grid.cols + (size_t)c] >= 25.0f)
                last = fmax(last, d);
            else
                gap = fmin(gap, d);
        }
    assert_true(gap > last - 1.5 * cell);
    return last;
}

/* ---- along a slope --------------------------------------------------------- */

static double foot(double down) /* 35 degrees down to 0, then flat */
{
    return down < 0.0 ? -down * tan(35 * RAD) : 0.0;
}

static double plain(double down, double left)
{
    (void)left;
    return foot(down);
}

static double terrace(double down, double left)
{
    (void)left; /* a road: level for 20 m */
    return foot(down > -210.0 && down < -190.0 ? -190.0 : down);
}

static double lake(double down, double left)
{
    return hypot(down - 100.0, left) < 100.0 ? -15.0 : foot(down);
}

static double pit(double down, double left)
{
    double off = fmin(hypot(down + 200.0, left), hypot(down - 60.0, left));
    return foot(down) - (off < 30.0 ? 30.0 * (1.0 - off / 30.0) : 0.0);
}

static double counter_slope(double down, double left)
{
    (void)left; /* 30 degrees up again behind a flat of 100 m */
    return down < 100.0 ? foot(down) : (down - 100.0) * tan(30 * RAD);
}

static void check_stop(double (*height)(double, double), double stop)
{
    for (size_t i = 0; i < KINDS; i++) {
        turned t = {.height = height, .from_down = -410.0, .to_down = -370.0, .half_width = 30.0};
        world w;
        outcome o = search_turned(&w, &kinds[i], &t, 460.0);
        double cell = brant_matrix_cell_height(&w.m) / t.scale;
        /* the highest start lies up to a cell below the box's upper edge; the line from
         * there stops up to as far below `stop` */
        assert_float_equal(furthest(&w, &t, &o), stop, 1.5 * cell);
        free(o.reached);
        world_close(&w);
    }
}

static void test_slopes(void **state)
{
    (void)state;
    double drop = 410.0 * tan(35 * RAD), flat = drop / tan(25 * RAD) - 410.0; /* 205.7 m out */
    check_stop(plain, flat);
    check_stop(terrace, flat);
    check_stop(lake, flat);
    check_stop(pit, flat);
    /* up the counter-slope: drop - (410 + x) tan 25 = (x - 100) tan 30 */
    check_stop(counter_slope, (drop - 410.0 * tan(25 * RAD) + 100.0 * tan(30 * RAD)) /
                                  (tan(25 * RAD) + tan(30 * RAD)));
}

/* ---- the fan ------------------------------------------------------------- */

static double plane(double down, double left)
{
    (void)left;
    return -down * tan(35 * RAD);
}

static void test_fan(void **state)
{
    (void)state;
    for (size_t i = 0; i < KINDS; i++) {
        double cell = kinds[i].cell, left = 0.0, right = 0.0;
        turned t = {.height = plane, .half_width = 0.45 * cell, .from_down = -0.45 * cell,
                    .to_down = 0.45 * cell};
        if (cell > 10.0) { /* one cell, in units */
            t.half_width = t.to_down = 4.5;
            t.from_down = -4.5;
        }
        world w;
        outcome o = search_turned(&w, &kinds[i], &t, cell > 2.0 ? 820.0 : 260.0);
        double from = cell > 2.0 ? 400.0 : 120.0;
        size_t starts = 0, holes = 0;
        for (int r = 0; r < w.grid.rows; r++)
            for (int c = 0; c < w.grid.cols; c++) {
                double e, n, d, l;
                world_place(&w, c, r, &e, &n);
                to_own(&t, e, n, &d, &l);
                float reached = o.reached[(size_t)r * (size_t)w.grid.cols + (size_t)c];
                starts += reached == 90.0f;
                double off = atan2(l, d) / RAD;
                if (hypot(d, l) < from || hypot(d, l) > 2.0 * from)
                    continue;
                if (reached >= 25.0f) {
                    left = fmin(left, off);
                    right = fmax(right, off);
                } else if (fabs(off) < 18.0) {
                    holes++;
                }
            }
        assert_in_range(starts, 1, 2);
        assert_int_equal(holes, 0);
        assert_true(left >= -22.0 && left <= -18.0 && right <= 22.0 && right >= 18.0);
        free(o.reached);
        world_close(&w);
    }
}

/* ---- ground that steers ---------------------------------------------------- */

/* A gully's floor, 40 m wide and falling at 30 degrees, turns to the left at (0, 0) and
 * goes on at 25.5 degrees; walls of 40 degrees, 120 m high. */
static double gully(double down, double left)
{
    double off, run; /* metres from its line, and along it from the bend */
    if (down < 0.0 && fabs(left) < fabs(down)) {
        off = fabs(left);
        run = down;
    } else {
        off = left > 0.0 ? fabs(down) : hypot(down, left);
        run = left > 0.0 ? left : 0.0;
    }
    double floor = run < 0.0 ? -run * tan(30 * RAD) : -run * tan(25.5 * RAD);
    double wall = (off - 20.0) * tan(40 * RAD);
    return floor + fmax(0.0, fmin(wall, 120.0));
}

static void test_gully_bend(void **state)
{
    (void)state;
    for (size_t i = 0; i < KINDS; i++) {
        turned t = {.height = gully, .from_down = -590.0, .to_down = -550.0, .half_width = 20.0};
        world w;
        outcome o = search_turned(&w, &kinds[i], &t, 800.0);
        assert_true(reached_at(&w, &t, &o, -300.0, 0.0) >= 25.0f);
        assert_true(reached_at(&w, &t, &o, 0.0, 300.0) >= 25.0f);
        assert_true(reached_at(&w, &t, &o, 0.0, 500.0) >= 25.0f);
        /* straight on: the line is 590 (tan 30 - tan 25) = 66 m above the floor and meets
         * the wall 20 + 66 / (tan 40 + tan 25) = 69 m on */
        assert_true(reached_at(&w, &t, &o, 50.0, 0.0) >= 25.0f);
        assert_true(reached_at(&w, &t, &o, 90.0, 0.0) < 25.0f);
        /* beyond its walls nothing */
        assert_true(reached_at(&w, &t, &o, -300.0, 300.0) < 25.0f);
        assert_true(reached_at(&w, &t, &o, -300.0, -300.0) < 25.0f);
        assert_true(reached_at(&w, &t, &o, 300.0, 300.0) < 25.0f);
        free(o.reached);
        world_close(&w);
    }
}

static double ridge(double down, double left)
{
    double side = fabs(left - 80.0); /* along the fall line, 69 m high */
    return foot(down) + (side < 40.0 ? (40.0 - side) * tan(60 * RAD) : 0.0);
}

static void test_ridge(void **state)
{
    (void)state;
    for (size_t i = 0; i < KINDS; i++) {
        turned t = {.height = ridge, .from_down = -410.0, .to_down = -390.0, .half_width = 10.0};
        world w;
        outcome o = search_turned(&w, &kinds[i], &t, 560.0);
        assert_true(reached_at(&w, &t, &o, -150.0, 0.0) >= 25.0f);
        /* the line has not gained the crest's 69 m before it has run 300 m */
        for (double down = -400.0; down <= -150.0; down += 50.0)
            for (double left = 130.0; left <= 280.0; left += 50.0)
                assert_true(reached_at(&w, &t, &o, down, left) < 25.0f);
        free(o.reached);
        world_close(&w);
    }
}

static double hole_at;
static double holed(double down, double left)
{
    return fabs(down - hole_at) < 15.0 && fabs(left) < 40.0 ? NAN : foot(down);
}

static void test_void(void **state)
{
    (void)state;
    static const double places[] = {1e9, -200.0, 420.0}; /* none; in the way; out of reach */
    for (size_t i = 0; i < KINDS; i++)
        for (size_t k = 0; k < 3; k++) {
            turned t = {.height = holed, .from_down = -410.0, .to_down = -370.0,
                        .half_width = 20.0};
            world w;
            hole_at = places[k];
            outcome o = search_turned(&w, &kinds[i], &t, 460.0);
            assert_int_equal(o.truncated, k == 1);
            free(o.reached);
            world_close(&w);
        }
}

/* ---- every shadow ---------------------------------------------------------- */

static double hills(double down, double left)
{
    return 900.0 - 0.72 * down + 90.0 * sin(left / 130.0 + 0.3) + 60.0 * cos((left - down) / 90.0) +
           25.0 * sin((2 * left + down) / 41.0);
}

static void test_nesting_and_release(void **state)
{
    (void)state;
    for (size_t i = 0; i < KINDS; i++) {
        turned t = {.height = hills, .from_down = -340.0, .to_down = -260.0, .half_width = 60.0};
        brant_reach_options high = {30.0, 20.0, 24.0};
        world w;
        outcome a = search_turned(&w, &kinds[i], &t, 500.0);
        outcome b = world_search_with(&w, &high, turned_start, &t);
        size_t differ = 0;
        for (int r = 0; r < w.grid.rows; r++)
            for (int c = 0; c < w.grid.cols; c++) {
                size_t at = (size_t)r * (size_t)w.grid.cols + (size_t)c;
                double e, n;
                world_place(&w, c, r, &e, &n);
                assert_int_equal(a.reached[at] == 90.0f, turned_start(&t, e, n));
                differ += a.reached[at] >= 24.0f && a.reached[at] != b.reached[at];
                differ += b.reached[at] > 0.0f && a.reached[at] != b.reached[at];
            }
        assert_int_equal(differ, 0); /* exactly, not nearly */
        assert_true(a.count > b.count && b.count > 300);
        free(a.reached);
        free(b.reached);
        world_close(&w);
    }
}

/* ---- metres run ------------------------------------------------------------ */

/* One start on the ramp: the metres run are the distance from it, within a cell. */
static void test_run_on_the_ramp(void **state)
{
    (void)state;
    for (size_t i = 0; i < KINDS; i++) {
        turned t = {.height = plain, .from_down = -410.0, .to_down = -370.0, .half_width = 30.0};
        brant_reach_options options = BRANT_REACH_OPTIONS_DEFAULT;
        brant_search *search;
        brant_reach_result result;
        world w;
        free(search_turned(&w, &kinds[i], &t, 460.0).reached);
        brant_start start = {w.grid.cols / 2, w.grid.rows / 2, 300.0f}; /* 300 m above the foot */
        double e0, n0, e, n, most = 0.0;
        world_place(&w, start.col, start.row, &e0, &n0);
        assert_int_equal(brant_search_create(&w.ctx, w.flow, &options, &search), BRANT_OK);
        assert_int_equal(brant_search_run(&w.ctx, search, &start, 1, &result), BRANT_OK);
        for (size_t k = 0; k < result.count; k++) {
            world_place(&w, result.cells[k].col, result.cells[k].row, &e, &n);
            double run = hypot(e - e0, n - n0);
            assert_float_equal(result.cells[k].run_m, run, brant_matrix_cell_height(&w.m));
            most = fmax(most, run);
        }
        assert_true(most > 400.0 && result.cells[0].run_m == 0.0f);
        brant_search_destroy(search);
        world_close(&w);
    }
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(test_slopes),
        cmocka_unit_test(test_fan),
        cmocka_unit_test(test_gully_bend),
        cmocka_unit_test(test_ridge),
        cmocka_unit_test(test_void),
        cmocka_unit_test(test_nesting_and_release),
        cmocka_unit_test(test_run_on_the_ramp),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
