/* Positions: against published coordinates, round trips, and refusals. */
#include "grid_world.h"

#include <unistd.h>

static brant_locator *locator_of(const brant_grid *grid)
{
    brant_context ctx;
    brant_locator *locator;
    brant_context_init(&ctx);
    if (brant_locator_create(&ctx, "grid.tif", grid, &locator) != BRANT_OK)
        fail_msg("%s", brant_message(&ctx));
    brant_context_clear(&ctx);
    return locator;
}

/* Where WGS 84 lon, lat falls in a CRS, through a grid of 1-unit cells around
 * `x`, `y`: within `off` units of them. */
static double lands(const char *crs, double lon, double lat, double x, double y, double off)
{
    brant_grid grid = north_up(crs, x - 500, y + 500, 1, 1000, 1000);
    brant_locator *locator = locator_of(&grid);
    double col, row, accuracy = brant_locator_accuracy(locator, NULL);
    brant_locator_to_grid(locator, lon, lat, &col, &row);
    assert_near(col - 500, 0, off);
    assert_near(500 - row, 0, off);
    brant_locator_destroy(locator);
    brant_grid_clear(&grid);
    return accuracy;
}

/* ---- published coordinates ---------------------------------------------- */

static void published_positions(void **state)
{
    (void)state;
    /* GDA technical manual: Flinders Peak; GDA94 is taken for WGS 84 (EPSG 1150) */
    double accuracy = lands("EPSG:28355", dms(144, 25, 29.5244), -dms(37, 57, 3.7203), 273741.297,
                            5796489.777, 1e-3);
    assert_true(accuracy > 0 && accuracy <= 3);
    /* swisstopo, Formulas and constants for the Swiss conformal cylindrical
     * projection (2016), numerical example: 46 02 38.86 N 8 43 49.80 E is 2700000,
     * 1100000, where 0.01" is 0.3 m, and the 15 mm/km of LV95's datum shift are
     * the published accuracy of 1 m */
    accuracy = lands("EPSG:2056", dms(8, 43, 49.80), dms(46, 2, 38.86), 2700000, 1100000, 0.5);
    assert_near(accuracy, 1, 0);
    /* the older frame, distorted against it by up to 1.6 m */
    lands("EPSG:21781", dms(8, 43, 49.80), dms(46, 2, 38.86), 700000, 100000, 1.6);
    /* PROJ: UTM 32 at 46.5 N 10 E; same datum, so nothing is lost */
    accuracy = lands("EPSG:32632", 10, 46.5, 576731.690, 5150089.104, 1e-3);
    assert_near(accuracy, 0, 0);
    lands("EPSG:32632+5773", 10, 46.5, 576731.690, 5150089.104, 1e-3);
}

/* IOGP guidance note 373-7-2, geocentric translations: WGS 84 53 48 33.82 N
 * 2 07 46.38 E is 53 48 36.565 N 2 07 51.477 E on ED50 with dX 84.87, dY 96.49,
 * dZ 116.95 m (so -84.87 and so on towards WGS 84). A file that states its own
 * shift: PROJ knows no accuracy for it. */
static void a_shift_in_the_file_is_used(void **state)
{
    brant_grid grid = north_up("+proj=longlat +ellps=intl +towgs84=-84.87,-96.49,-116.95 +type=crs",
                               2, 54, 1 / 3600.0, 3600, 3600);
    brant_locator *locator = locator_of(&grid);
    const char *name = NULL;
    double col, row;
    (void)state;
    brant_locator_to_grid(locator, dms(2, 7, 46.38), dms(53, 48, 33.82), &col, &row);
    assert_near(col, dms(0, 7, 51.477) * 3600, 1e-3); /* 0.001", 2 cm */
    assert_near(3600 - row, dms(0, 48, 36.565) * 3600, 1e-3);
    assert_true(brant_locator_accuracy(locator, &name) < 0);
    assert_non_null(name);
    brant_locator_destroy(locator);
    brant_grid_clear(&grid);
}

/* Metres east and north from WGS 84 to NAD27 coordinates: the abridged Molodensky
 * formulas of NIMA TR8350.2, with the shifts towards WGS 84 of EPSG operation
 * 1175 (contiguous USA west of the Mississippi), da -69.4 m, df -3.7264639e-5. */
static void molodensky(double lon, double lat, double *east, double *north)
{
    const double rad = 3.14159265358979323846 / 180, dx = -8, dy = 159, dz = 175;
    const double a = 6378206.4, f = 1 / 294.978698214, da = -69.4, df = -3.7264639e-5;
    double l = lon * rad, p = lat * rad;
    *east = -(-dx * sin(l) + dy * cos(l));
    *north = -(-dx * sin(p) * cos(l) - dy * sin(p) * sin(l) + dz * cos(p) +
               (a * df + f * da) * sin(2 * p));
}

static const char *nad27(double lon, double lat, double *east, double *north, double *accuracy)
{
    static char kept[256];
    const char *name = NULL;
    brant_grid grid = north_up("EPSG:4267", lon - 0.5, lat + 0.5, 1e-4, 10000, 10000);
    brant_locator *locator = locator_of(&grid);
    double col, row, azimuth;
    brant_locator_to_grid(locator, lon, lat, &col, &row);
    double metres = brant_geodesic(lon, lat, lon - 0.5 + col * 1e-4, lat + 0.5 - row * 1e-4,
                                   &azimuth);
    *east = metres * sin(azimuth * 3.14159265358979323846 / 180);
    *north = metres * cos(azimuth * 3.14159265358979323846 / 180);
    *accuracy = brant_locator_accuracy(locator, &name);
    assert_non_null(name);
    snprintf(kept, sizeof kept, "%s", name);
    brant_locator_destroy(locator);
    brant_grid_clear(&grid);
    return kept;
}

/* NAD27 lies tens of metres from WGS 84; a ballpark operation would say 0. */
static void nad27_is_shifted(void **state)
{
    double east, north, accuracy, want_east, want_north;
    const char *name = nad27(-107.5, 39, &east, &north, &accuracy);
    (void)state;
    molodensky(-107.5, 39, &want_east, &want_north);
    /* 1 m for the abridged formulas; where a shift grid is installed PROJ uses
     * that, and the sets differ by the 5 to 10 m of their stated accuracies */
    double off = strstr(name, "(6)") ? 1 : 12;
    assert_true(hypot(want_east, want_north) > 40);
    assert_near(east, want_east, off);
    assert_near(north, want_north, off);
    assert_true(accuracy > 0 && accuracy <= 10);
    assert_non_null(strstr(name, "NAD27"));
    assert_null(strstr(name, "axis order"));
    /* In the Canadian Rockies EPSG's sets say 69 to 81 m: (13), which PROJ takes by
     * its bounding box, 69; (10), which is meant for these provinces, 80 */
    nad27(-117, 51, &east, &north, &accuracy);
    assert_near(hypot(east, north), 75, 8);
    assert_true(accuracy > 0 && accuracy <= 20);
}

/* ---- round trips -------------------------------------------------------- */

static void there_and_back(void **state)
{
    static const struct {
        const char *crs;
        double x, y, cell;
    } grids[] = {
        {"EPSG:32632", 600000, 5200000, 10},    {"EPSG:4326", 10, 47, 1 / 3600.0},
        {"EPSG:3857", 1113194, 5860000, 10},    {"EPSG:2056", 2600000, 1200000, 10},
        {"EPSG:21781", 600000, 200000, 10},     {"EPSG:25832", 600000, 5200000, 10},
        {"EPSG:26911", 500000, 5700000, 10},    {"EPSG:26711", 500000, 5700000, 10},
        {"EPSG:4267", -117, 51, 1 / 3600.0},    {"EPSG:2225", 6500000, 2200000, 10},
        {"EPSG:3035", 4300000, 2700000, 10},    {"EPSG:27572", 900000, 2100000, 10},
        {"EPSG:4807", 5, 52, 1e-4},             {"EPSG:31254", 0, 200000, 10},
        {"EPSG:27700", 300000, 800000, 10},     {"EPSG:6340", 500000, 4300000, 10},
        {"EPSG:2193", 1300000, 5100000, 10},    {"EPSG:32633", 500000, 8700000, 10},
        {"EPSG:3413", 1000000, -200000, 10},    {"EPSG:4979", 10, 47, 1 / 3600.0},
    };
    (void)state;
    for (size_t i = 0; i < sizeof grids / sizeof *grids; i++) {
        brant_grid grid = north_up(grids[i].crs, grids[i].x, grids[i].y, grids[i].cell, 2000, 2000);
        brant_locator *locator = locator_of(&grid);
        for (int p = 0; p <= 20; p++) {
            double lon, lat, col, row, c = p * 100, r = 2000 - p * 97.3;
            brant_locator_to_lonlat(locator, c, r, &lon, &lat);
            brant_locator_to_grid(locator, lon, lat, &col, &row);
            /* a Helmert shift drops the height that it makes: some 0.1 mm */
            if (!(fabs(col - c) < 1e-3 && fabs(row - r) < 1e-3))
                fail_msg("%s: %g, %g is back at %g, %g", grids[i].crs, c, r, col, row);
            assert_true(lon >= -180 && lon < 180 && fabs(lat) <= 90);
        }
        brant_locator_destroy(locator);
        brant_grid_clear(&grid);
    }
}

static void any_transform_is_inverted(void **state)
{
    static const double steps[][4] = {
        {10, 0, 0, 10}, {0, 10, 10, 0}, {8, 6, 6, -8}, {10, 5, 0, -20}};
    (void)state;
    for (size_t i = 0; i < sizeof steps / sizeof *steps; i++) {
        const double *s = steps[i];
        brant_grid grid = {.cols = 100,
                           .rows = 100,
                           .transform = {576731.690, s[0], s[1], 5150089.104, s[2], s[3]},
                           .crs = wkt_of("EPSG:32632")};
        brant_locator *locator = locator_of(&grid);
        double lon, lat, col, row;
        brant_locator_to_lonlat(locator, 0, 0, &lon, &lat);
        assert_near(lon, 10, 1e-8);
        assert_near(lat, 46.5, 1e-8);
        brant_locator_to_lonlat(locator, 70, 20, &lon, &lat);
        brant_locator_to_grid(locator, lon, lat, &col, &row);
        assert_near(col, 70, 1e-6);
        assert_near(row, 20, 1e-6);
        brant_locator_destroy(locator);
        brant_grid_clear(&grid);
    }
}

/* ---- longitude ---------------------------------------------------------- */

static void column_of(brant_locator *locator, double lon, double expected)
{
    double col, row;
    brant_locator_to_grid(locator, lon, -17, &col, &row);
    assert_near(col, expected, 1e-6);
}

static void longitude_is_wrapped_to_the_grid(void **state)
{
    /* across the antimeridian, counted from either side */
    static const double west[] = {179, -181};
    double lon, lat, col, row;
    (void)state;
    for (int i = 0; i < 2; i++) {
        brant_grid grid = north_up("EPSG:4326", west[i], -16, 0.001, 2000, 2000);
        brant_locator *locator = locator_of(&grid);
        column_of(locator, 179.5, 500);
        column_of(locator, 180, 1000);
        column_of(locator, -180, 1000);
        column_of(locator, -179.5, 1500);
        column_of(locator, 180.5, 1500);
        brant_locator_to_lonlat(locator, 500, 1000, &lon, &lat);
        assert_near(lon, 179.5, 1e-9);
        brant_locator_to_lonlat(locator, 1500, 1000, &lon, &lat);
        assert_near(lon, -179.5, 1e-9);
        brant_locator_to_lonlat(locator, 1000, 1000, &lon, &lat);
        assert_near(lon, -180, 0);
        brant_locator_destroy(locator);
        brant_grid_clear(&grid);
    }
    /* a world that runs from 0 to 360 */
    brant_grid world = north_up("EPSG:4326", 0, 90, 0.25, 1440, 720);
    brant_locator *locator = locator_of(&world);
    column_of(locator, -90, 1080);
    column_of(locator, 90, 360);
    column_of(locator, 0, 0);
    column_of(locator, -0.25, 1439);
    brant_locator_destroy(locator);
    brant_grid_clear(&world);
    /* and one from -180 to 180 */
    world = north_up("EPSG:4326", -180, 90, 0.25, 1440, 720);
    locator = locator_of(&world);
    column_of(locator, -180, 0);
    column_of(locator, 179.75, 1439);
    brant_locator_destroy(locator);
    brant_grid_clear(&world);
    /* parts of one that runs from 0 to 360: over Greenwich, and where the datum shifts */
    brant_grid part = north_up("EPSG:4326", 359, -16, 0.001, 2000, 2000);
    locator = locator_of(&part);
    column_of(locator, -0.5, 500);
    column_of(locator, 0.5, 1500);
    brant_locator_destroy(locator);
    brant_grid_clear(&part);
    part = north_up("EPSG:4267", 249, 46, 0.001, 2000, 2000);
    locator = locator_of(&part);
    brant_locator_to_grid(locator, -110, 45, &col, &row);
    assert_near(col, 1000, 2); /* NAD27 lies within 100 m there */
    assert_near(row, 1000, 2);
    brant_locator_destroy(locator);
    brant_grid_clear(&part);
    /* UTM zone 60 reaches over the antimeridian */
    brant_grid zone = north_up("EPSG:32660", 700000, 5800000, 10, 2000, 2000);
    locator = locator_of(&zone);
    brant_locator_to_lonlat(locator, 1000, 1000, &lon, &lat);
    assert_true(lon > -180 && lon < -179 + 2);
    brant_locator_to_grid(locator, lon, lat, &col, &row);
    assert_near(col, 1000, 1e-4);
    brant_locator_destroy(locator);
    brant_grid_clear(&zone);
}

static void impossible_places_are_nan(void **state)
{
    static const double bad[][2] = {{10, 90.001}, {10, -91}, {NAN, 46}, {10, NAN},
                                    {INFINITY, 46}, {10, INFINITY}};
    brant_grid grid = north_up("EPSG:32632", 576731.690, 5150089.104, 10, 100, 100);
    brant_locator *locator = locator_of(&grid);
    double col, row, lon, lat;
    (void)state;
    for (size_t i = 0; i < sizeof bad / sizeof *bad; i++) {
        col = row = 0;
        brant_locator_to_grid(locator, bad[i][0], bad[i][1], &col, &row);
        assert_nan(col);
        assert_nan(row);
    }
    brant_locator_to_lonlat(locator, NAN, 5, &lon, &lat);
    assert_nan(lon);
    brant_locator_to_lonlat(locator, 1e9, 1e9, &lon, &lat);
    assert_nan(lat);
    /* and the next good one is good */
    brant_locator_to_grid(locator, 10, 46.5, &col, &row);
    assert_near(col, 0, 1e-3);
    brant_locator_destroy(locator);
    brant_grid_clear(&grid);
}

/* ---- refusals ----------------------------------------------------------- */

static void refuses(brant_grid *grid, const char *part)
{
    brant_context ctx;
    brant_locator *locator = (brant_locator *)grid;
    brant_context_init(&ctx);
    assert_int_equal(brant_locator_create(&ctx, "dem.tif", grid, &locator), BRANT_ERR_INPUT);
    assert_null(locator);
    if (strncmp(brant_message(&ctx), "dem.tif: ", 9) != 0 || !strstr(brant_message(&ctx), part))
        fail_msg("message '%s' lacks '%s'", brant_message(&ctx), part);
    brant_context_clear(&ctx);
}

static void no_datum_is_guessed(void **state)
{
    /* an ellipsoid alone is no datum; PROJ would take it for WGS 84 */
    static const char *const unknown[] = {"+proj=utm +zone=32 +ellps=GRS80 +type=crs",
                                          "+proj=utm +zone=32 +ellps=intl +type=crs",
                                          "+proj=utm +zone=32 +ellps=WGS84 +type=crs",
                                          "+proj=merc +R=6371000 +type=crs"};
    (void)state;
    for (size_t i = 0; i < sizeof unknown / sizeof *unknown; i++) {
        brant_grid grid = north_up(unknown[i], 500000, 5200000, 10, 100, 100);
        refuses(&grid, "is unknown");
        brant_grid_clear(&grid);
    }
    /* a known datum far from everywhere its operations are for */
    brant_grid grid = north_up("EPSG:4267", 10, 47, 1e-3, 1000, 1000);
    refuses(&grid, "North American Datum 1927");
    brant_grid_clear(&grid);
}

static void what_has_no_place_is_refused(void **state)
{
    brant_grid grid = {.cols = 10, .rows = 10, .transform = {0, 10, 0, 0, 0, -10}};
    (void)state;
    refuses(&grid, "no coordinate reference system");
    grid.crs = wkt_of("EPSG:4978");
    refuses(&grid, "has no place on an ellipsoid");
    brant_grid_clear(&grid);
    grid = north_up("EPSG:32632", 1e12, 1e12, 10, 10, 10);
    refuses(&grid, "outside");
    brant_grid_clear(&grid);
}

/* PROJ writes to stderr unless told otherwise. */
static void proj_is_silent(void **state)
{
    static char junk[] = "no such thing";
    brant_grid bad = {.cols = 10, .rows = 10, .transform = {0, 10, 0, 0, 0, -10}, .crs = junk};
    brant_grid unknown = north_up("+proj=utm +zone=32 +ellps=intl +type=crs", 5e5, 5.2e6, 10, 9, 9);
    brant_grid good = north_up("EPSG:32632", 5e5, 5.2e6, 10, 100, 100);
    FILE *caught = tmpfile();
    (void)state;
    assert_non_null(caught);
    fflush(stderr);
    int before = dup(2);
    assert_true(before >= 0 && dup2(fileno(caught), 2) >= 0);
    brant_context ctx;
    brant_ground *ground;
    brant_locator *locator = NULL;
    double col, row;
    brant_context_init(&ctx);
    int statuses = brant_ground_create(&ctx, "a", &bad, &ground) == BRANT_ERR_INPUT;
    statuses += brant_locator_create(&ctx, "a", &unknown, &locator) == BRANT_ERR_INPUT;
    brant_forgive(&ctx);
    statuses += brant_locator_create(&ctx, "a", &good, &locator) == BRANT_OK;
    if (locator) {
        brant_locator_to_lonlat(locator, 1e12, 1e12, &col, &row);
        brant_locator_to_grid(locator, -170, 0, &col, &row);
    }
    brant_locator_destroy(locator);
    brant_context_clear(&ctx);
    fflush(stderr);
    dup2(before, 2);
    close(before);
    assert_int_equal(statuses, 3);
    fseek(caught, 0, SEEK_END);
    assert_int_equal(ftell(caught), 0);
    fclose(caught);
    brant_grid_clear(&unknown);
    brant_grid_clear(&good);
}

/* ---- geodesics ---------------------------------------------------------- */

static void geodesics(void **state)
{
    double azimuth, lon, lat;
    (void)state;
    /* Karney's GeodSolve manual page, its first example: 003:18:29.9 15347628 */
    double lon1 = -dms(73, 46, 44), lat1 = dms(40, 38, 23), lon2 = dms(103, 59, 22);
    double lat2 = dms(1, 21, 33);
    assert_near(brant_geodesic(lon1, lat1, lon2, lat2, &azimuth), 15347628, 0.5);
    assert_near(azimuth, dms(3, 18, 29.9), 0.05 / 3600);
    /* one degree of latitude at 45 N is 111.132 km, of longitude at 0 N 111.320 */
    assert_near(brant_geodesic(7, 44.5, 7, 45.5, &azimuth), 111132, 0.5);
    assert_near(azimuth, 0, 0);
    assert_near(brant_geodesic(7, 0, 6, 0, &azimuth), 111319.491, 1e-3);
    assert_near(azimuth, 270, 1e-12);
    assert_near(brant_geodesic(7, 45.5, 7, 44.5, &azimuth), 111132, 0.5);
    assert_near(azimuth, 180, 1e-12);
    /* no distance, no azimuth needed, the antimeridian */
    assert_near(brant_geodesic(10, 46.5, 10, 46.5, NULL), 0, 0);
    assert_near(brant_geodesic(179.9, 0, -179.9, 0, NULL), 0.2 * 111319.491, 1e-3);

    brant_geodesic_point(lon1, lat1, lon2, lat2, 0, &lon, &lat);
    assert_near(lon, lon1, 1e-12);
    assert_near(lat, lat1, 1e-12);
    brant_geodesic_point(lon1, lat1, lon2, lat2, 15347628.4, &lon, &lat);
    assert_near(lon, lon2, 1e-5);
    assert_near(lat, lat2, 1e-5);
    brant_geodesic_point(7, 44.5, 7, 45.5, 111131.8 / 2, &lon, &lat);
    assert_near(lat, 45, 1e-4);
    brant_geodesic_point(179.9, 0, -179.9, 0, 0.15 * 111319.491, &lon, &lat);
    assert_near(lon, -179.95, 1e-9);
    brant_geodesic_point(179.9, 0, -179.9, 0, 0.1 * 111319.4907932, &lon, &lat);
    assert_true(lon >= -180 && lon < 180);
    brant_geodesic_point(10, 46.5, 10, 46.5, 0, &lon, &lat); /* two equal points */
    assert_near(lon, 10, 1e-12);
    assert_near(lat, 46.5, 1e-12);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(published_positions),
        cmocka_unit_test(a_shift_in_the_file_is_used),
        cmocka_unit_test(nad27_is_shifted),
        cmocka_unit_test(there_and_back),
        cmocka_unit_test(any_transform_is_inverted),
        cmocka_unit_test(longitude_is_wrapped_to_the_grid),
        cmocka_unit_test(impossible_places_are_nan),
        cmocka_unit_test(no_datum_is_guessed),
        cmocka_unit_test(what_has_no_place_is_refused),
        cmocka_unit_test(proj_is_silent),
        cmocka_unit_test(geodesics),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
