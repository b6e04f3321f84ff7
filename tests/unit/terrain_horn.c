/* Horn's slope and aspect, the one-sided estimate, classes and octants.
 *
 * Published windows: the worked examples of a general GIS vendor's help pages
 * "How Slope works" and "How Aspect works", and a window of a university's
 * lecture slides (is.muni.cz). To more digits than the pages print the values
 * are their formula's; gdaldem 3.6.2 gives the same. */
#include "terrain_world.h"
#include "../../src/terrain/angles.h"

/* ---- single windows ----------------------------------------------------- */

static void horn_of(const float z[9], double cell, float *slope, float *aspect)
{
    world w;
    world_open_local(&w, cell, 3, 3);
    brant_horn_row(w.ground, 1, 1, 1, z, z + 3, z + 6, slope, aspect);
    world_close(&w);
}

static void test_published_windows(void **state)
{
    static const struct {
        float z[9];
        double cell, slope, aspect;
    } windows[] = {
        {{50, 45, 50, 30, 30, 30, 8, 10, 10}, 5.0, 75.25766, 180.75385},
        {{101, 92, 85, 101, 92, 85, 101, 91, 84}, 1.0, 82.99089, 92.64255},
        {{80, 74, 63, 69, 67, 56, 60, 52, 48}, 1.0, 85.24917, 145.15427},
    };
    (void)state;
    for (size_t i = 0; i < sizeof windows / sizeof windows[0]; i++) {
        float slope, aspect;
        horn_of(windows[i].z, windows[i].cell, &slope, &aspect);
        assert_true(fabs(slope - windows[i].slope) < 1e-4);
        assert_true(fabs(aspect - windows[i].aspect) < 1e-4);
    }
}

static void test_flat_has_slope_and_no_aspect(void **state)
{
    const float z[9] = {700, 700, 700, 700, 700, 700, 700, 700, 700};
    float slope, aspect;
    (void)state;
    horn_of(z, 10.0, &slope, &aspect);
    assert_true(slope == 0.0f);
    assert_true(isnan(aspect));
}

static void test_absurd_rise_stays_below_90(void **state)
{
    const float z[9] = {9e8f, 9e8f, 9e8f, 0, 0, 0, -9e8f, -9e8f, -9e8f};
    float slope, aspect;
    (void)state;
    horn_of(z, 1.0, &slope, &aspect);
    assert_true(slope > 89.9f && slope < 90.0f);
    assert_true(turn(aspect, 180.0) < 1e-3);
}

/* Every one of the nine cells, the unused centre included, makes the slope unknown. */
static void test_void_window_has_no_slope(void **state)
{
    (void)state;
    for (int k = 0; k < 9; k++) {
        float z[9] = {50, 45, 50, 30, 30, 30, 8, 10, 10}, slope = 0, aspect = 0;
        z[k] = NAN;
        horn_of(z, 5.0, &slope, &aspect);
        assert_true(isnan(slope));
        assert_true(isnan(aspect));
    }
}

/* Due north must come out as 0, not as 360. */
static void test_aspect_below_360(void **state)
{
    const float z[9] = {-10, -10, -10.0001f, 0, 0, 0, 10, 10, 10};
    float slope, aspect;
    (void)state;
    horn_of(z, 10.0, &slope, &aspect);
    assert_true(aspect >= 0.0f && aspect < 360.0f);
    assert_true(turn(aspect, 0.0) < 1e-3);
}

/* ---- planes on real grids ----------------------------------------------- */

static void check_planes(const char *crs, const double transform[6], double lat, double lon)
{
    world w;
    double places[2 * 24 * 24];
    world_open(&w, crs, transform, 24, 24);
    world_places(&w, lat, lon, places);
    for (double slope = 5.0; slope <= 65.0; slope += 15.0)
        for (double azimuth = 0.0; azimuth < 360.0; azimuth += 7.5) {
            plane p = {slope, azimuth, 2000.0};
            world_lay_at(&w, places, plane_at, &p);
            brant_field f = world_field(&w, false);
            for (int r = 1; r < 23; r++)
                for (int c = 1; c < 23; c++) {
                    size_t i = (size_t)r * 24 + (size_t)c;
                    if (fabs(f.slope[i] - slope) > 2e-3 || turn(f.aspect[i], azimuth) > 0.02)
                        fail_msg("%s cell %d %d: slope %.5f for %g, aspect %.5f for %g", crs, c,
                                 r, f.slope[i], slope, f.aspect[i], azimuth);
                }
            brant_field_clear(&f);
        }
    world_close(&w);
}

/* The grid's middle at lat, lon; steps given in CRS units. */
static void place(const char *crs, double lat, double lon, const double steps[4], double t[6])
{
    PJ_CONTEXT *pc = proj_context_create();
    PJ *raw = proj_create_crs_to_crs(pc, "EPSG:4326", crs, NULL);
    PJ *pj = proj_normalize_for_visualization(pc, raw);
    PJ_COORD at = proj_trans(pj, PJ_FWD, proj_coord(lon, lat, 0, 0));
    t[1] = steps[0];
    t[2] = steps[1];
    t[4] = steps[2];
    t[5] = steps[3];
    t[0] = at.xy.x - 12 * (t[1] + t[2]);
    t[3] = at.xy.y - 12 * (t[4] + t[5]);
    proj_destroy(pj);
    proj_destroy(raw);
    proj_context_destroy(pc);
}

/* A plane in true metres and true azimuth reads as itself on every grid. The
 * surface goes through PROJ cell by cell, the answer through brant's matrix. */
static void test_planes_on_grids(void **state)
{
    static const struct {
        const char *crs;
        double lat, lon, steps[4];
    } grids[] = {
        {"EPSG:32632", 46.5, 9.0, {10, 0, 0, -10}},   /* central meridian: scale 0.9996 */
        {"EPSG:32632", 47.0, 11.9, {10, 0, 0, -10}},  /* convergence 2.1 degrees */
        {"EPSG:32632", 47.0, 11.9, {10, 0, 0, 10}},   /* south-up */
        {"EPSG:32632", 47.0, 11.9, {8, 6, 6, -8}},    /* rotated */
        {"EPSG:4326", 46.0, 9.0, {1 / 3600.0, 0, 0, -1 / 3600.0}},
        {"EPSG:4326", -41.0, 173.0, {1 / 10800.0, 0, 0, -1 / 10800.0}},
        {"EPSG:3857", 46.5, 9.0, {15, 0, 0, -15}},    /* scale 1.45 */
    };
    (void)state;
    for (size_t i = 0; i < sizeof grids / sizeof grids[0]; i++) {
        double t[6];
        place(grids[i].crs, grids[i].lat, grids[i].lon, grids[i].steps, t);
        check_planes(grids[i].crs, t, grids[i].lat, grids[i].lon);
    }
}

/* Against the C library in double precision, over gradients from 1e-4 to 100 in all
 * directions. Slope and aspect are promised to 0.001 degrees; this is the arithmetic's own
 * error. */
static void test_angles_against_the_c_library(void **state)
{
    uint64_t seed = 7;
    double worst_slope = 0, worst_aspect = 0;
    (void)state;
    for (int i = 0; i < 2000000; i++) {
        double azimuth = 2 * M_PI * next_random(&seed), rise = pow(10, -4 + 6 * next_random(&seed));
        float east = (float)(rise * sin(azimuth)), north = (float)(rise * cos(azimuth));
        double slope = atan(hypot(east, north)) * 180 / M_PI;
        double aspect = atan2(-(double)east, -(double)north) * 180 / M_PI;
        worst_slope = fmax(worst_slope, fabs((double)brant_slope_of(east, north) - slope));
        worst_aspect = fmax(worst_aspect, turn(brant_aspect_of(east, north), aspect));
    }
    print_message("worst slope %.2g, aspect %.2g degrees\n", worst_slope, worst_aspect);
    assert_true(worst_slope < 2e-5);
    assert_true(worst_aspect < 4e-5);
}

/* The rows, on whatever lanes this machine has, against one cell at a time: the same bits. */
static void test_rows_have_the_bits_of_single_cells(void **state)
{
    enum { COLS = 700 };
    const double t[6] = {600000, 9.7, 0.4, 5200000, -0.3, -10.2};
    float slope[COLS - 2], aspect[COLS - 2], east[COLS - 2], north[COLS - 2];
    uint64_t seed = 23;
    world w;
    (void)state;
    world_open(&w, "EPSG:32632", t, COLS, 3);
    for (int i = 0; i < 3 * COLS; i++)
        w.z[i] = i % 97 == 0 ? NAN : (float)(1500.0 + (i % 50 > 30 ? 0.0 : 60.0) * next_random(&seed));
    const float *z[3] = {w.z, w.z + COLS, w.z + 2 * COLS};
    brant_horn_row(w.ground, 1, 1, COLS - 2, z[0], z[1], z[2], slope, aspect);
    for (int c = 0; c < COLS - 2; c++) {
        brant_gradient_row(w.ground, 1 + c, 1, 1, z[0] + c, z[1] + c, z[2] + c, east, north);
        float s = brant_slope_of(*east, *north), a = brant_aspect_of(*east, *north);
        assert_true(isnan(s) ? isnan(slope[c]) : s == slope[c]);
        assert_true(isnan(a) ? isnan(aspect[c]) : a == aspect[c]);
    }
    world_close(&w);
}

/* Where a caller cuts a row does not change a bit. */
static void test_cuts_leave_no_trace(void **state)
{
    enum { COLS = 700 };
    const double t[6] = {9.0, 1 / 3600.0, 0, 46.0, 0, -1 / 3600.0};
    float whole[2][COLS - 2], pieces[2][COLS - 2];
    uint64_t seed = 11;
    world w;
    (void)state;
    world_open(&w, "EPSG:4326", t, COLS, 3);
    for (int i = 0; i < 3 * COLS; i++)
        w.z[i] = (float)(2000.0 + 40.0 * next_random(&seed));
    const float *z[3] = {w.z, w.z + COLS, w.z + 2 * COLS};
    brant_horn_row(w.ground, 1, 1, COLS - 2, z[0], z[1], z[2], whole[0], whole[1]);
    for (int length = 1; length <= 131; length += 13) {
        for (int c = 0; c < COLS - 2; c += length) {
            int n = COLS - 2 - c < length ? COLS - 2 - c : length;
            brant_horn_row(w.ground, 1 + c, 1, n, z[0] + c, z[1] + c, z[2] + c, pieces[0] + c,
                           pieces[1] + c);
        }
        assert_memory_equal(whole, pieces, sizeof whole);
    }
    world_close(&w);
}

/* ---- the one-sided estimate --------------------------------------------- */

/* gdaldem slope -compute_edges (GDAL 3.6.2) on the first published window. */
static void test_edges_as_reference_tool(void **state)
{
    static const float z[9] = {50, 45, 50, 30, 30, 30, 8, 10, 10};
    static const double expected[9] = {75.19379, 74.05460, 75.19379, 76.61573, 75.25766,
                                       75.99001, 76.92176, 76.30871, 75.96375};
    world w;
    (void)state;
    world_open_local(&w, 5.0, 3, 3);
    memcpy(w.z, z, sizeof z);
    brant_field f = world_field(&w, true);
    for (int k = 0; k < 9; k++)
        assert_true(fabs(f.slope[k] - expected[k]) < 1e-4);
    brant_field_clear(&f);
    world_close(&w);
}

/* The same with the window's north-east cell void: 73.28754 at the centre. */
static void test_lone_void_as_reference_tool(void **state)
{
    float z[9] = {50, 45, NAN, 30, 30, 30, 8, 10, 10}, slope, aspect;
    (void)state;
    assert_true(brant_complete_window(z));
    horn_of(z, 5.0, &slope, &aspect);
    assert_true(fabs(slope - 73.28754) < 1e-4);
}

static void test_nothing_to_estimate_from(void **state)
{
    float centre[9] = {1, 2, 3, 4, NAN, 6, 7, 8, 9};
    float alone[9] = {NAN, NAN, NAN, NAN, 5, NAN, NAN, NAN, NAN};
    float line[9] = {NAN, NAN, NAN, 4, 5, 6, NAN, NAN, NAN};
    float diagonal[9] = {1, NAN, NAN, NAN, 5, NAN, NAN, NAN, 9};
    float corner[9] = {NAN, NAN, NAN, NAN, 5, 6, NAN, 8, NAN};
    (void)state;
    assert_false(brant_complete_window(centre));
    assert_false(brant_complete_window(alone));
    assert_false(brant_complete_window(line));
    assert_false(brant_complete_window(diagonal));
    assert_true(brant_complete_window(corner));
}

/* Along a border a plane is itself; without the option the border has no slope. */
static void test_plane_along_border(void **state)
{
    plane p = {35.0, 250.0, 1000.0};
    world w;
    (void)state;
    world_open_local(&w, 10.0, 9, 7);
    world_lay_local(&w, plane_at, &p);
    brant_field with = world_field(&w, true), without = world_field(&w, false);
    for (int r = 0; r < 7; r++)
        for (int c = 0; c < 9; c++) {
            size_t i = (size_t)r * 9 + (size_t)c;
            bool side = c == 0 || c == 8, end = r == 0 || r == 6;
            if (!(side && end))
                assert_true(fabs(with.slope[i] - 35.0) < 1e-3);
            assert_int_equal(isnan(without.slope[i]), side || end);
            assert_int_equal(isnan(without.aspect[i]), side || end);
        }
    brant_field_clear(&with);
    brant_field_clear(&without);
    world_close(&w);
}

/* ---- fields ------------------------------------------------------------- */

/* A window that reaches over the border has the same cells as the whole, voids
 * beyond, and the strips it is read by do not show. */
static void test_field_windows(void **state)
{
    enum { COLS = 70, ROWS = 300 };
    world w;
    uint64_t seed = 5;
    (void)state;
    world_open_local(&w, 10.0, COLS, ROWS);
    for (int i = 0; i < COLS * ROWS; i++)
        w.z[i] = next_random(&seed) < 0.01 ? NAN : (float)(900.0 + 9.0 * next_random(&seed));
    brant_field all = world_field(&w, false), part;
    brant_window over = {-3, 120, COLS + 6, ROWS};
    assert_int_equal(brant_field_read(&w.ctx, &w.source, w.ground, &over, false, &part), BRANT_OK);
    for (int r = 0; r < over.rows; r++)
        for (int c = 0; c < over.cols; c++) {
            size_t i = (size_t)r * (size_t)over.cols + (size_t)c;
            int gc = over.col + c, gr = over.row + r;
            if (gc < 0 || gr < 0 || gc >= COLS || gr >= ROWS) {
                assert_true(isnan(part.elevation[i]) && isnan(part.slope[i]));
                continue;
            }
            size_t j = (size_t)gr * COLS + (size_t)gc;
            assert_memory_equal(&part.elevation[i], &all.elevation[j], sizeof(float));
            assert_true(part.slope[i] == all.slope[j] ||
                        (isnan(part.slope[i]) && isnan(all.slope[j])));
            assert_true(part.aspect[i] == all.aspect[j] ||
                        (isnan(part.aspect[i]) && isnan(all.aspect[j])));
        }
    brant_field_clear(&all);
    brant_field_clear(&part);
    world_close(&w);
}

/* ---- classes and octants ------------------------------------------------ */

static void test_classes(void **state)
{
    static const struct {
        float slope;
        const char *name;
    } rows[] = {{NAN, "unknown"},   {0.0f, "below 25"}, {24.999f, "below 25"}, {25.0f, "25-30"},
                {29.999f, "25-30"}, {30.0f, "30-35"},   {35.0f, "35-40"},      {40.0f, "40-45"},
                {45.0f, "45-55"},   {54.999f, "45-55"}, {55.0f, "above 55"},   {89.0f, "above 55"}};
    (void)state;
    for (size_t i = 0; i < sizeof rows / sizeof rows[0]; i++)
        assert_string_equal(brant_class_name(brant_class_of(rows[i].slope)), rows[i].name);
}

static void test_octants(void **state)
{
    static const struct {
        float aspect;
        const char *name;
    } rows[] = {{0.0f, "N"},     {22.4f, "N"},    {22.5f, "NE"},  {67.4f, "NE"}, {90.0f, "E"},
                {135.0f, "SE"},  {180.0f, "S"},   {225.0f, "SW"}, {270.0f, "W"}, {337.4f, "NW"},
                {337.5f, "N"},   {359.99f, "N"}};
    (void)state;
    for (size_t i = 0; i < sizeof rows / sizeof rows[0]; i++)
        assert_string_equal(brant_octant_name(brant_octant(rows[i].aspect)), rows[i].name);
    assert_int_equal(brant_octant(NAN), -1);
    assert_string_equal(brant_octant_name(-1), "");
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(test_published_windows),
        cmocka_unit_test(test_flat_has_slope_and_no_aspect),
        cmocka_unit_test(test_absurd_rise_stays_below_90),
        cmocka_unit_test(test_void_window_has_no_slope),
        cmocka_unit_test(test_aspect_below_360),
        cmocka_unit_test(test_planes_on_grids),
        cmocka_unit_test(test_angles_against_the_c_library),
        cmocka_unit_test(test_rows_have_the_bits_of_single_cells),
        cmocka_unit_test(test_cuts_leave_no_trace),
        cmocka_unit_test(test_edges_as_reference_tool),
        cmocka_unit_test(test_lone_void_as_reference_tool),
        cmocka_unit_test(test_nothing_to_estimate_from),
        cmocka_unit_test(test_plane_along_border),
        cmocka_unit_test(test_field_windows),
        cmocka_unit_test(test_classes),
        cmocka_unit_test(test_octants),
    };
    return cmocka_run_group_tests_name("terrain_horn", tests, NULL, NULL);
}
