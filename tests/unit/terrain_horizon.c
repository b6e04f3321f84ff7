/* The terrain horizon on walls, bowls and hills whose horizon geometry says, and
 * what is said of it beside voids and the raster's edge. */
#include "terrain_world.h"

#include "near.h"

/* A strip of ground that runs north to south, wide enough for the relief's cells of
 * 160 m; looked over along its middle. */
#define STRIP_COLS 81
#define MIDDLE 40

static void strip_open(world *w, double cell, int rows)
{
    world_open_local(w, cell, STRIP_COLS, rows);
}

static brant_skyline *relief_of(world *w, double reach_m)
{
    brant_window all = {0, 0, w->grid.cols, w->grid.rows};
    brant_skyline *relief = NULL;
    if (brant_skyline_create(&w->ctx, &w->source, w->ground, &all, reach_m, &relief) != BRANT_OK)
        fail_msg("%s", brant_message(&w->ctx));
    return relief;
}

static brant_horizon look(world *w, double reach_m, int col, int row, double azimuth,
                          double least_deg)
{
    brant_skyline *relief = relief_of(w, reach_m);
    brant_horizon h = brant_skyline_horizon(relief, col, row, azimuth, least_deg);
    brant_skyline_destroy(relief);
    return h;
}

/* A wall 200 m high, thick, whose foot is `distance` south of the cell looked from. */
static void test_wall_to_the_south(void **state)
{
    (void)state;
    const int distances[] = {50, 500, 990, 1500, 3000, 7000};
    for (size_t i = 0; i < sizeof distances / sizeof *distances; i++) {
        world w;
        int from = 10, foot = from + distances[i] / 10;
        strip_open(&w, 10.0, foot + 100);
        for (int r = foot; r < w.grid.rows; r++)
            for (int c = 0; c < STRIP_COLS; c++)
                *world_z(&w, c, r) = 200.0f;
        brant_horizon h = look(&w, 20000.0, MIDDLE, from, 180.0, 0.0);
        double d = distances[i], exact = (200.0 - 6.8e-8 * d * d) / d;
        /* within the cell of the relief that holds the wall's foot: 1/100 to 2/100 */
        assert_near(tan(h.known_deg * RADIANS), exact, d < 1000 ? 1e-5 : 0.02 * exact);
        assert_near(h.possible_deg, h.known_deg, 0.0); /* nothing higher can be beyond */
        world_close(&w);
    }
}

/* On a bowl z = q d^2 the furthest ground stands highest. Drop of 6.8 m at 10 km and
 * 170.7 m at 50 km: d^2 (1 - 0.13) / 2R, the usual formula of levelling. */
static void test_curvature_and_refraction(void **state)
{
    (void)state;
    const double q = 5e-6, reach = 9920.0; /* where a ray has a height: 8000 + 12 * 160 */
    world w;
    strip_open(&w, 10.0, 1100);
    for (int r = 0; r < w.grid.rows; r++)
        for (int c = 0; c < STRIP_COLS; c++)
            *world_z(&w, c, r) = (float)(q * pow((r - 10) * 10.0, 2));
    brant_horizon h = look(&w, reach, MIDDLE, 10, 180.0, 0.0);
    double drop = q * reach * reach - reach * tan(h.known_deg * RADIANS);
    assert_near(drop, 6.83 * pow(reach / 10000.0, 2), 0.1);
    assert_near(drop, 170.7 * pow(reach / 50000.0, 2), 0.1);
    world_close(&w);
}

/* Never below what is asked for, and the same above it. */
static void test_least(void **state)
{
    (void)state;
    world w;
    world_open_local(&w, 10.0, 81, 81);
    *world_z(&w, 40, 60) = 50.0f; /* 200 m south: 14.04 degrees */
    brant_skyline *relief = relief_of(&w, 380.0);
    assert_near(brant_skyline_horizon(relief, 40, 40, 180.0, 0.0).known_deg,
                atan(0.25) / RADIANS, 1e-3);
    assert_near(brant_skyline_horizon(relief, 40, 40, 180.0, 10.0).known_deg,
                atan(0.25) / RADIANS, 1e-3);
    assert_near(brant_skyline_horizon(relief, 40, 40, 180.0, 20.0).known_deg, 20.0, 1e-5);
    assert_near(brant_skyline_horizon(relief, 40, 40, 0.0, 0.0).known_deg, 0.0, 0.0);
    /* on flat ground without a floor: level, less what the nearest cell drops */
    assert_near(brant_skyline_horizon(relief, 40, 40, 0.0, -5.0).known_deg, 0.0, 1e-3);
    brant_skyline_destroy(relief);
    world_close(&w);
}

/* A slope is its own horizon: a plane of 30 degrees that falls north hides what is
 * lower than 30 degrees in the south, atan(tan 30 cos 45) in the south-east. */
static void test_a_slope_hides_what_is_behind_it(void **state)
{
    (void)state;
    world w;
    plane p = {30.0, 0.0, 1000.0};
    world_open_local(&w, 10.0, 101, 101);
    world_lay_local(&w, plane_at, &p);
    brant_skyline *relief = relief_of(&w, 300.0);
    assert_near(brant_skyline_horizon(relief, 50, 50, 180.0, 0.0).known_deg, 30.0, 0.01);
    assert_near(brant_skyline_horizon(relief, 50, 50, 135.0, 0.0).known_deg,
                atan(tan(30.0 * RADIANS) * cos(45.0 * RADIANS)) / RADIANS, 0.01);
    assert_near(brant_skyline_horizon(relief, 50, 50, 0.0, 0.0).known_deg, 0.0, 0.0);
    brant_skyline_destroy(relief);
    world_close(&w);
}

/* ---- the unknown --------------------------------------------------------- */

/* Flat, a hill of 100 m in the north; a void 300 m in the south could hide one
 * as high: at most atan(100 / 290), at least atan(100 / 310) where it begins. */
static void check_void_on_the_way(float base)
{
    world w;
    strip_open(&w, 10.0, 200);
    for (int i = 0; i < STRIP_COLS * 200; i++)
        w.z[i] = base;
    for (int c = 0; c < STRIP_COLS; c++) {
        *world_z(&w, c, 2) = base + 100.0f;
        *world_z(&w, c, 130) = NAN;
    }
    brant_horizon h = look(&w, 600.0, MIDDLE, 100, 180.0, 0.0);
    assert_near(h.known_deg, 0.0, 0.0);
    assert_in_range((int)(h.possible_deg * 1000), (int)(atan(100.0 / 310.0) / RADIANS * 1000),
                    (int)(atan(100.0 / 290.0) / RADIANS * 1000));
    /* a floor above what could stand there: nothing is missing */
    h = look(&w, 600.0, MIDDLE, 100, 180.0, 25.0);
    assert_near(h.possible_deg, h.known_deg, 0.0);
    /* a wall in front of it, as high as the hill: nor is it then */
    for (int c = 0; c < STRIP_COLS; c++)
        *world_z(&w, c, 120) = base + 100.0f;
    h = look(&w, 600.0, MIDDLE, 100, 180.0, 0.0);
    assert_near(h.known_deg, atan(0.5) / RADIANS, 1e-3);
    assert_near(h.possible_deg, h.known_deg, 0.0);
    /* a known wall behind the void stands, and the void may still be higher */
    for (int c = 0; c < STRIP_COLS; c++) {
        *world_z(&w, c, 120) = base;
        *world_z(&w, c, 150) = base + 100.0f;
    }
    h = look(&w, 600.0, MIDDLE, 100, 180.0, 0.0);
    assert_near(h.known_deg, atan(0.2) / RADIANS, 0.002); /* a drop of 17 mm */
    assert_true(h.possible_deg > h.known_deg + 5.0f);
    world_close(&w);
}

static void test_void_on_the_way(void **state)
{
    (void)state;
    check_void_on_the_way(0.0f);
    check_void_on_the_way(1500.0f);
}

/* Beyond the raster ground may be as high as any that was read. */
static void test_edge_of_the_raster(void **state)
{
    (void)state;
    world w;
    strip_open(&w, 10.0, 200);
    for (int c = 0; c < STRIP_COLS; c++)
        *world_z(&w, c, 2) = 100.0f;
    brant_horizon h = look(&w, 5000.0, MIDDLE, 150, 180.0, 0.0); /* the edge is 495 m away */
    assert_near(h.known_deg, 0.0, 0.0);
    assert_near(h.possible_deg, atan(100.0 / 500.0) / RADIANS, 0.3);
    /* within the reach asked for all is known */
    h = look(&w, 490.0, MIDDLE, 150, 180.0, 0.0);
    assert_near(h.possible_deg, 0.0, 0.0);
    world_close(&w);
}

/* Far away a lone void is averaged over; a hole of a relief's cell is not, nor is one of
 * which every second column is known. */
static void test_voids_far_away(void **state)
{
    (void)state;
    for (int k = 0; k < 3; k++) {
        const int hole = k == 0 ? 1 : 16;
        world w;
        strip_open(&w, 10.0, 800);
        for (int c = 0; c < STRIP_COLS; c++) {
            *world_z(&w, c, 2) = 500.0f;
            for (int r = 512; r < 512 + hole; r++)
                if (k == 0 ? c == MIDDLE : k == 1 || c % 2 == 0)
                    *world_z(&w, c, r) = NAN;
        }
        brant_horizon h = look(&w, 5500.0, MIDDLE, 100, 180.0, 0.0); /* 4,120 m away */
        assert_near(h.known_deg, 0.0, 0.0);
        if (hole == 1)
            assert_near(h.possible_deg, 0.0, 0.0);
        else
            assert_near(tan(h.possible_deg * RADIANS), 500.0 / 4120.0, 0.005);
        world_close(&w);
    }
}

static void test_cells_that_cannot_look(void **state)
{
    (void)state;
    world w;
    world_open_local(&w, 10.0, 60, 60);
    *world_z(&w, 30, 30) = NAN;
    const int cells[][2] = {{30, 30}, {-1, 5}, {5, 60}};
    for (int i = 0; i < 3; i++) {
        brant_horizon h = look(&w, 300.0, cells[i][0], cells[i][1], 90.0, 2.0);
        assert_near(h.known_deg, 2.0, 1e-6);
        assert_near(h.possible_deg, 90.0, 0.0);
    }
    world_close(&w);
}

/* ---- any grid, any direction --------------------------------------------- */

/* Hills of 300 to 900 m around a cell, smooth. */
static double hills(const void *self, double east, double north)
{
    (void)self;
    return 300.0 * sin(east / 700.0 + 1.0) * cos(north / 900.0) +
           150.0 * sin(east / 310.0 - north / 420.0) + north * 0.02;
}

/* The horizon by the formula, every 2 m. */
static double horizon_of(double azimuth, double nearest, double reach)
{
    double best = 0.0, z = hills(NULL, 0, 0);
    for (double d = nearest; d <= reach; d += 2.0)
        best = fmax(best, (hills(NULL, d * sin(azimuth * RADIANS), d * cos(azimuth * RADIANS)) -
                           6.8e-8 * d * d - z) / d);
    return atan(best) / RADIANS;
}

static void compare_around(world *w, const double *places, double cell, double tolerance)
{
    world_lay_at(w, places, hills, NULL);
    int c = w->grid.cols / 2, r = w->grid.rows / 2;
    brant_window one = {c, r, 1, 1};
    brant_skyline *relief = NULL;
    assert_int_equal(brant_skyline_create(&w->ctx, &w->source, w->ground, &one, 5000.0, &relief),
                     BRANT_OK);
    for (int azimuth = 0; azimuth < 360; azimuth += 7) {
        brant_horizon h = brant_skyline_horizon(relief, c, r, azimuth, 0.0);
        /* a ray's first and last heights lie within a cell of these distances */
        double low = horizon_of(azimuth, 2.0 * cell, 4900.0);
        double high = horizon_of(azimuth, cell, 5000.0);
        assert_true(h.known_deg >= low - tolerance && h.known_deg <= high + tolerance);
    }
    brant_skyline_destroy(relief);
}

static void test_every_grid(void **state)
{
    (void)state;
    const double s = 1.0 / 3600.0, c = cos(20.0 * RADIANS) * 10.0, q = sin(20.0 * RADIANS) * 10.0;
    const struct {
        const char *crs;
        double transform[6];
        int cols, rows;
        double lat, lon, cell, tolerance;
    } grids[] = {
        /* the middle of the middle cell is the local origin */
        {"EPSG:4326", {10.0 - 300.5 * s, s, 0, 46.5 + 200.5 * s, 0, -s},
         601, 401, 46.5, 10.0, 21.3, 0.05},
        /* UTM 32 turned by 20 degrees, 10 m: 10 E 46.5 N is 576731.690 E 5150089.104 N (PROJ) */
        {"EPSG:32632",
         {576731.690 - 600.5 * c - 600.5 * q, c, q, 5150089.104 - 600.5 * q + 600.5 * c, q, -c},
         1201, 1201, 46.5, 10.0, 10.0, 0.05},
    };
    for (size_t i = 0; i < 2; i++) {
        world w;
        world_open(&w, grids[i].crs, grids[i].transform, grids[i].cols, grids[i].rows);
        double *places = malloc((size_t)w.grid.cols * (size_t)w.grid.rows * 2 * sizeof *places);
        assert_non_null(places);
        world_places(&w, grids[i].lat, grids[i].lon, places);
        size_t middle = (size_t)(w.grid.rows / 2) * (size_t)w.grid.cols + (size_t)(w.grid.cols / 2);
        assert_near(hypot(places[2 * middle], places[2 * middle + 1]), 0.0, 0.5);
        compare_around(&w, places, grids[i].cell, grids[i].tolerance);
        free(places);
        world_close(&w);
    }
}

/* The horizon over all cells, every half a cell, bilinear: as if nothing were averaged. */
static double horizon_of_all_cells(world *w, int col, int row, double azimuth, double reach)
{
    double best = 0.0, here = *world_z(w, col, row);
    for (double d = 10.0; d <= reach; d += 5.0) {
        double x = col + d / 10.0 * sin(azimuth * RADIANS);
        double y = row - d / 10.0 * cos(azimuth * RADIANS);
        int c = (int)floor(x), r = (int)floor(y);
        double right = x - c, down = y - r;
        if (c < 0 || r < 0 || c + 1 >= w->grid.cols || r + 1 >= w->grid.rows)
            break;
        double z = (1 - down) * ((1 - right) * *world_z(w, c, r) + right * *world_z(w, c + 1, r)) +
                   down * ((1 - right) * *world_z(w, c, r + 1) + right * *world_z(w, c + 1, r + 1));
        best = fmax(best, (z - 6.8e-8 * d * d - here) / d); /* a void is passed over */
    }
    return atan(best) / RADIANS;
}

/* On rough ground (2 m of noise on every cell, hills of 160 m across) what is averaged
 * with distance costs little: nothing near, and some tenths of a degree where noise on
 * a distant crest makes the horizon. */
static void test_averaging_costs_little(void **state)
{
    (void)state;
    world w;
    double sum = 0.0;
    int rays = 0;
    world_open_local(&w, 10.0, 1000, 1000);
    world_lay_rough(&w, 77);
    brant_skyline *relief = relief_of(&w, 4500.0);
    uint64_t seed = 5;
    for (int i = 0; i < 300; i++) {
        int col = 450 + (int)(100 * next_random(&seed));
        int row = 450 + (int)(100 * next_random(&seed));
        double azimuth = 360.0 * next_random(&seed);
        if (isnan(*world_z(&w, col, row)))
            continue;
        double off = (double)brant_skyline_horizon(relief, col, row, azimuth, 0.0).known_deg -
                     horizon_of_all_cells(&w, col, row, azimuth, 4500.0);
        assert_true(off > -0.6 && off < 0.1);
        sum += off;
        rays++;
    }
    assert_true(rays > 290);
    assert_near(sum / rays, 0.0, 0.05);
    brant_skyline_destroy(relief);
    world_close(&w);
}

/* The window asked for, and the number of threads, leave no trace. */
static void test_window_and_threads_leave_no_trace(void **state)
{
    (void)state;
    world w;
    world_open_local(&w, 10.0, 500, 400);
    world_lay_rough(&w, 5);
    brant_window windows[] = {{200, 180, 1, 1}, {150, 150, 200, 100}, {0, 0, 500, 400}};
    brant_horizon first[12];
    for (int i = 0; i < 3; i++) {
        brant_skyline *relief = NULL;
        w.ctx.threads = 1 + 3 * (i % 2);
        assert_int_equal(brant_skyline_create(&w.ctx, &w.source, w.ground, &windows[i], 6000.0,
                                             &relief), BRANT_OK);
        for (int k = 0; k < 12; k++) {
            brant_horizon h = brant_skyline_horizon(relief, 200, 180, k * 30.0, 0.0);
            if (i == 0)
                first[k] = h;
            assert_memory_equal(&h, &first[k], sizeof h);
        }
        brant_skyline_destroy(relief);
    }
    world_close(&w);
}

/* ---- a zone's cells ------------------------------------------------------ */

static void test_zone_cells(void **state)
{
    (void)state;
    world w;
    world_open_local(&w, 10.0, 200, 150);
    world_lay_rough(&w, 9);
    brant_zone_options options = BRANT_ZONE_OPTIONS_DEFAULT;
    brant_zone_set set;
    bool wanted = true;
    assert_int_equal(brant_zone_set_build(&w.ctx, &w.source, w.ground, &wanted, &options, &set),
                     BRANT_OK);
    brant_field field = world_field(&w, false);
    bool large = false;
    for (size_t z = 0; z < set.count; z++) {
        brant_zone_cell cells[BRANT_ZONE_CELLS];
        size_t count;
        assert_int_equal(brant_zone_cells(&w.ctx, &w.source, w.ground, &set, &set.zones[z],
                                          BRANT_ZONE_CELLS, cells, &count), BRANT_OK);
        large |= set.zones[z].cells > 2 * BRANT_ZONE_CELLS;
        assert_int_equal(count, set.zones[z].cells < BRANT_ZONE_CELLS ? set.zones[z].cells
                                                                      : BRANT_ZONE_CELLS);
        for (size_t i = 0; i < count; i++) {
            size_t at = (size_t)cells[i].row * 200 + (size_t)cells[i].col;
            assert_int_equal(brant_zone_set_at(&set, cells[i].col, cells[i].row),
                             set.zones[z].number);
            assert_true(same_number(cells[i].slope_deg, field.slope[at]));
            assert_true(same_number(cells[i].aspect_deg, field.aspect[at]));
            if (i > 0) /* rising, so each once */
                assert_true(cells[i].row * 200 + cells[i].col >
                            cells[i - 1].row * 200 + cells[i - 1].col);
        }
    }
    assert_true(large);
    brant_field_clear(&field);
    brant_zone_set_clear(&set);
    world_close(&w);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(test_wall_to_the_south),
        cmocka_unit_test(test_curvature_and_refraction),
        cmocka_unit_test(test_least),
        cmocka_unit_test(test_a_slope_hides_what_is_behind_it),
        cmocka_unit_test(test_void_on_the_way),
        cmocka_unit_test(test_edge_of_the_raster),
        cmocka_unit_test(test_voids_far_away),
        cmocka_unit_test(test_cells_that_cannot_look),
        cmocka_unit_test(test_every_grid),
        cmocka_unit_test(test_averaging_costs_little),
        cmocka_unit_test(test_window_and_threads_leave_no_trace),
        cmocka_unit_test(test_zone_cells),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
