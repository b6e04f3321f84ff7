/* The grid-to-ground matrix against published figures, closed forms, and
 * geodesics. Degree lengths: WGS 84 radii of curvature, which round to the
 * published table (Wikipedia, "Latitude" and "Longitude": 45 degrees 111.132 and
 * 78.847 km). */
#include "grid_world.h"

#include <geodesic.h>

#define RAD (M_PI / 180)

static brant_ground *ground_of(const brant_grid *grid)
{
    brant_context ctx;
    brant_ground *ground;
    brant_context_init(&ctx);
    if (brant_ground_create(&ctx, "grid.tif", grid, &ground) != BRANT_OK)
        fail_msg("%s", brant_message(&ctx));
    brant_context_clear(&ctx);
    return ground;
}

/* The matrix of a grid at grid coordinates; the grid is cleared. */
static brant_matrix matrix_of(brant_grid grid, double col, double row)
{
    brant_matrix m;
    brant_ground *ground = ground_of(&grid);
    brant_ground_matrix(ground, col, row, &m);
    brant_ground_destroy(ground);
    brant_grid_clear(&grid);
    return m;
}

/* Degrees from true north, clockwise, of one step up the raster (row - 1). */
static double up_azimuth(const brant_matrix *m)
{
    return atan2(-m->row_east, -m->row_north) / RAD;
}

/* ---- geographic --------------------------------------------------------- */

static void degree_lengths(void **state)
{
    static const struct {
        double lat, lat_metres, lon_metres; /* of one degree */
    } table[] = {{0, 110574.276, 111319.491},  {15, 110648.696, 107550.489},
                 {30, 110852.442, 96486.280},  {45, 111131.777, 78846.835},
                 {46.5, 111161.084, 76762.593}, {60, 111412.287, 55800.002},
                 {75, 111618.384, 28902.006},  {-45, 111131.777, 78846.835}};
    (void)state;
    for (size_t i = 0; i < sizeof table / sizeof *table; i++) {
        /* a lattice node at the latitude itself */
        brant_matrix m = matrix_of(north_up("EPSG:4326", 10, table[i].lat, 1e-3, 100, 100), 0, 0);
        assert_near(m.col_east, table[i].lon_metres / 1000, 1e-6);
        assert_near(m.row_north, -table[i].lat_metres / 1000, 1e-6);
        assert_near(m.col_north, 0, 1e-9);
        assert_near(m.row_east, 0, 1e-9);
        assert_near(brant_matrix_area(&m), table[i].lon_metres * table[i].lat_metres * 1e-6, 1e-3);
    }
}

/* One arc second at 46.5 N: 30.8781 x 21.3229 m. Between nodes, from a
 * latitude-first WKT as EPSG defines it, west and east of the antimeridian. */
static void an_arc_second(void **state)
{
    static const double west[] = {10, 179.5, -180.5, 359.5};
    (void)state;
    for (size_t i = 0; i < sizeof west / sizeof *west; i++) {
        brant_matrix m = matrix_of(north_up("EPSG:4326", west[i], 47, 1 / 3600.0, 3600, 3600), 1800,
                                   1800);
        assert_near(m.col_east, 21.3229, 21.3229 * 2e-5);
        assert_near(m.row_north, -30.8781, 30.8781 * 2e-5);
    }
}

/* Grads: EPSG:4902 counts from Paris in units of 0.9 degrees, on the Plessis
 * ellipsoid; EPSG:4807 on Clarke 1880 (IGN): a 6378249.2, b 6356515.0 m. */
static void grads(void **state)
{
    brant_matrix m = matrix_of(north_up("EPSG:4807", 5, 50, 1e-3, 100, 100), 0, 0);
    double a = 6378249.2, b = 6356515.0, e2 = 1 - b / a * (b / a); /* 50 gon = 45 degrees */
    double w = sqrt(1 - e2 * 0.5);
    (void)state;
    assert_near(m.col_east, a / w * sqrt(0.5) * 9e-4 * RAD, 1e-6);
    assert_near(m.row_north, -a * (1 - e2) / (w * w * w) * 9e-4 * RAD, 1e-6);
}

static void a_sphere(void **state)
{
    brant_matrix m = matrix_of(north_up("+proj=longlat +R=6371000 +type=crs", 5, 60, 1e-3, 9, 9), 0,
                               0);
    (void)state;
    assert_near(m.col_east, 6371000 * 0.5 * 1e-3 * RAD, 1e-6);
    assert_near(m.row_north, -6371000 * 1e-3 * RAD, 1e-6);
}

static void the_poles_have_no_east(void **state)
{
    brant_grid grid = north_up("EPSG:4326", -180, 90, 0.05, 7200, 3600);
    brant_ground *ground = ground_of(&grid);
    brant_matrix m;
    (void)state;
    brant_ground_matrix(ground, 100, 0.5, &m);
    assert_nan(m.col_east);
    brant_ground_matrix(ground, 100, 3599.5, &m);
    assert_nan(m.row_north);
    brant_ground_matrix(ground, 100, 20, &m); /* 89 N */
    assert_near(m.row_north, -0.05 * 111694, 0.05 * 111694 * 1e-4); /* as at 90 N */
    assert_near(m.col_east, 0.05 * 111319.491 * cos(89 * RAD) * 1.00336, 0.02);
    brant_ground_destroy(ground);
    brant_grid_clear(&grid);
}

/* A rotated pole: one step along its rotated meridian is one along a great
 * circle of the sphere. North pole of the rotated system at 39.25 N 162 W. */
static void a_rotated_pole(void **state)
{
    const double cell = 0.01, R = 6371229;
    brant_matrix m = matrix_of(
        north_up("+proj=ob_tran +o_proj=longlat +o_lon_p=0 +o_lat_p=39.25 +lon_0=18 +R=6371229 "
                 "+type=crs",
                 0, 0, cell, 100, 100),
        0, 0);
    (void)state;
    /* at rotated 0, 0 (50.75 N 18 E) the two meridians coincide */
    assert_near(brant_matrix_cell_width(&m), R * cell * RAD, 1e-3);
    assert_near(brant_matrix_cell_height(&m), R * cell * RAD, 1e-3);
    assert_near(up_azimuth(&m), 0, 1e-6);
    /* away from it they do not */
    brant_matrix away = matrix_of(
        north_up("+proj=ob_tran +o_proj=longlat +o_lon_p=0 +o_lat_p=39.25 +lon_0=18 +R=6371229 "
                 "+type=crs",
                 10, 0, cell, 100, 100),
        0, 0);
    /* spherical triangle pole, rotated pole, point at 90 degrees from the latter:
     * Napier: tan(angle at the point) = sin(10) tan(50.75) */
    assert_near(fabs(up_azimuth(&away)), atan(sin(10 * RAD) * tan(50.75 * RAD)) / RAD, 1e-4);
    assert_near(brant_matrix_area(&away), pow(R * cell * RAD, 2), 1);
}

/* ---- projected ---------------------------------------------------------- */

/* Convergence and point scale at a lattice node, 1 m cells or cells of `metres`. */
static void conformal(const char *crs, double x, double y, double metres, double convergence,
                      double convergence_off, double scale, double scale_off)
{
    brant_matrix m = matrix_of(north_up(crs, x, y, metres, 100, 100), 0, 0);
    assert_near(up_azimuth(&m), convergence, convergence_off);
    assert_near(metres / brant_matrix_cell_width(&m), scale, scale_off);
    assert_near(metres / brant_matrix_cell_height(&m), scale, scale_off);
    assert_near(m.col_east * m.row_east + m.col_north * m.row_north, 0, 1e-6 * metres * metres);
    assert_near(brant_matrix_area(&m), metres * metres / (scale * scale), metres * metres * 1e-6);
}

static void transverse_mercator(void **state)
{
    (void)state;
    /* Grid convergence gamma = atan(tan(lon - lon0) sin(lat)) is the true azimuth
     * of grid north: a step up the raster points gamma east of true north, and
     * true azimuth = grid azimuth + gamma. */
    /* Snyder 1987, USGS PP 1395, p. 269: Clarke 1866, 40.5 N 73.5 W, lon0 -75 */
    conformal("+proj=tmerc +lat_0=0 +lon_0=-75 +k=0.9996 +ellps=clrk66 +type=crs", 127106.5,
              4484124.4, 10, atan(tan(1.5 * RAD) * sin(40.5 * RAD)) / RAD, 2e-5, 0.9997989, 5e-8);
    /* GDA technical manual, Flinders Peak in MGA zone 55: -1 35 03.65 (the manual
     * counts the other way) and 1.00023056 */
    conformal("EPSG:28355", 273741.297, 5796489.777, 5, dms(1, 35, 3.65), 0.01 / 3600, 1.00023056,
              1e-8);
    /* PROJ's proj_factors, which differentiates the formulas: Buninyong in MGA
     * zone 54 (the manual's k is the same), the Ordnance Survey guide's point
     * 52 39 27.2531 N 1 43 04.5177 E, and UTM 32 at 46.5 N 10 E and 11.9 E */
    conformal("EPSG:28354", 758173.797, 5828674.340, 5, -1.78871123, 1e-7, 1.00042107, 1e-8);
    conformal("EPSG:27700", 651409.903, 313177.270, 5, 2.95737669, 1e-7, 1.00037732, 1e-8);
    conformal("EPSG:32632", 576731.690, 5150089.104, 10, 0.72540961, 1e-7, 0.99967237, 1e-8);
    conformal("EPSG:32632", 722517.609, 5153689.881, 10, 2.10444520, 1e-7, 1.00020866, 1e-8);
}

/* UTM 60 reaches over the antimeridian: 180 E is 3 degrees from its middle, and
 * longitude jumps there. */
static void the_antimeridian(void **state)
{
    PJ_CONTEXT *context = proj_context_create();
    PJ *as_defined = proj_create_crs_to_crs(context, "EPSG:4326", "EPSG:32660", NULL);
    PJ *to = proj_normalize_for_visualization(context, as_defined);
    PJ_COORD at = proj_trans(to, PJ_FWD, proj_coord(180, 52, 0, 0));
    brant_matrix m = matrix_of(north_up("EPSG:32660", at.xy.x, at.xy.y, 10, 100, 100), 0, 0);
    (void)state;
    assert_near(up_azimuth(&m), atan(tan(3 * RAD) * sin(52 * RAD)) / RAD, 1e-3);
    assert_near(brant_matrix_cell_width(&m), 10, 0.01);
    proj_destroy(to);
    proj_destroy(as_defined);
    proj_context_destroy(context);
}

/* Snyder 1987, p. 295-296: Lambert conformal conic, Clarke 1866, parallels 33 and
 * 45, origin 23 N 96 W; 35 N 75 W is x 1894410.9, y 1564649.5, k 0.9970171, and
 * convergence n (lon - lon0) with n 0.6304965. */
static void lambert_conic(void **state)
{
    (void)state;
    conformal("+proj=lcc +lat_1=33 +lat_2=45 +lat_0=23 +lon_0=-96 +ellps=clrk66 +type=crs",
              1894410.9, 1564649.5, 30, 0.6304965 * 21, 2e-5, 0.9970171, 1e-7);
}

/* US survey feet (1200/3937 m): California zone 1 has its standard parallels,
 * where k is 1, at 40 and 41 2/3 N. On them a cell of 10 ft is 3.048006 m. */
static void us_survey_feet(void **state)
{
    static const double parallels[] = {40, 41 + 2 / 3.0};
    PJ_CONTEXT *context = proj_context_create();
    PJ *as_defined = proj_create_crs_to_crs(context, "EPSG:4269", "EPSG:2225", NULL);
    PJ *to = proj_normalize_for_visualization(context, as_defined);
    (void)state;
    for (int i = 0; i < 2; i++) {
        PJ_COORD at = proj_trans(to, PJ_FWD, proj_coord(-121.5, parallels[i], 0, 0));
        brant_matrix m = matrix_of(north_up("EPSG:2225", at.xy.x, at.xy.y, 10, 100, 100), 0, 0);
        assert_near(brant_matrix_cell_width(&m), 3.048006, 1e-6);
        assert_near(brant_matrix_cell_height(&m), 3.048006, 1e-6);
        assert_true(up_azimuth(&m) > 0.3); /* lon0 is 122 W */
    }
    proj_destroy(to);
    proj_destroy(as_defined);
    proj_context_destroy(context);
}

/* Web Mercator's formulas are the sphere's of radius a, its latitudes the
 * ellipsoid's: a cell of 10 is 10 N cos(phi)/a wide and 10 M cos(phi)/a high,
 * with the degree lengths at 46.5 N from above. */
static void web_mercator(void **state)
{
    double a_degree = 111319.491, y = 6378137 * log(tan((45 + 46.5 / 2) * RAD));
    brant_matrix m = matrix_of(north_up("EPSG:3857", 1113194.908, y, 10, 100, 100), 0, 0);
    (void)state;
    assert_near(m.col_east, 10 * 76762.593 / a_degree, 1e-6);
    assert_near(m.row_north, -10 * 111161.084 * cos(46.5 * RAD) / a_degree, 1e-6);
    assert_near(up_azimuth(&m), 0, 1e-7);
    assert_near(10 / m.col_east, 1.45, 0.001); /* so slope would be 35 where 45 is */
}

/* Equal area: whatever happens to directions, a cell keeps its area. */
static void equal_area(void **state)
{
    brant_grid grid = north_up("EPSG:3035", 3900000, 3000000, 25, 20000, 20000);
    brant_ground *ground = ground_of(&grid);
    (void)state;
    for (int i = 0; i < 20; i++) {
        brant_matrix m;
        brant_ground_matrix(ground, i * 1000 + 333.3, 20000 - i * 987, &m);
        assert_near(brant_matrix_area(&m), 625, 625 * 2e-5);
    }
    brant_ground_destroy(ground);
    brant_grid_clear(&grid);
}

/* A height or a compound around the CRS changes nothing; nor does a datum shift
 * in the file. */
static void only_the_horizontal_part_counts(void **state)
{
    static const char *const crs[] = {"EPSG:32632+5773",
                                      "+proj=utm +zone=32 +ellps=WGS84 +towgs84=50,60,70 +type=crs",
                                      "EPSG:25832+7837"};
    brant_matrix plain = matrix_of(north_up("EPSG:32632", 700000, 5150000, 10, 100, 100), 50, 50);
    (void)state;
    for (size_t i = 0; i < sizeof crs / sizeof *crs; i++) {
        brant_matrix m = matrix_of(north_up(crs[i], 700000, 5150000, 10, 100, 100), 50, 50);
        assert_near(m.col_east, plain.col_east, 1e-8);
        assert_near(m.row_east, plain.row_east, 1e-8);
    }
    brant_matrix flat = matrix_of(north_up("EPSG:4326", 10, 46.5, 1e-3, 100, 100), 50, 50);
    brant_matrix high = matrix_of(north_up("EPSG:4979", 10, 46.5, 1e-3, 100, 100), 50, 50);
    assert_near(high.col_east, flat.col_east, 1e-9);
    assert_near(high.row_north, flat.row_north, 1e-9);
}

/* ---- transforms --------------------------------------------------------- */

/* South-up, mirrored, rotated and oblong grids: the chain rule on the north-up
 * grid's matrix at the same place. */
static void any_transform_follows_the_chain_rule(void **state)
{
    const double x = 722517.609, y = 5153689.881, turn = 30 * RAD;
    double steps[][4] = {
        {10, 0, 0, 10},                                     /* south-up */
        {-10, 0, 0, -10},                                   /* mirrored */
        {0, 10, 10, 0},                                     /* on its side */
        {10 * cos(turn), 10 * sin(turn), 10 * sin(turn), -10 * cos(turn)}, /* 30 degrees */
        {10, 5, 0, -20},                                    /* oblong and sheared */
    };
    brant_matrix unit = matrix_of(north_up("EPSG:32632", x, y, 1, 100, 100), 0, 0);
    (void)state;
    for (size_t i = 0; i < sizeof steps / sizeof *steps; i++) {
        double *s = steps[i]; /* x a col, x a row, y a col, y a row */
        brant_grid grid = {.cols = 100,
                           .rows = 100,
                           .transform = {x, s[0], s[1], y, s[2], s[3]},
                           .crs = wkt_of("EPSG:32632")};
        brant_matrix m = matrix_of(grid, 0, 0);
        assert_near(m.col_east, unit.col_east * s[0] - unit.row_east * s[2], 1e-6);
        assert_near(m.row_east, unit.col_east * s[1] - unit.row_east * s[3], 1e-6);
        assert_near(m.col_north, unit.col_north * s[0] - unit.row_north * s[2], 1e-6);
        assert_near(m.row_north, unit.col_north * s[1] - unit.row_north * s[3], 1e-6);
        assert_near(brant_matrix_area(&m),
                    fabs(s[0] * s[3] - s[1] * s[2]) * brant_matrix_area(&unit), 1e-4);
        assert_near(brant_matrix_distance(&m, 3, 4),
                    hypot(3 * m.col_east + 4 * m.row_east, 3 * m.col_north + 4 * m.row_north),
                    1e-9);
    }
}

/* ---- the lattice -------------------------------------------------------- */

/* Metres east and north of one step (dcol, drow) at grid coordinates, from
 * Karney's geodesics over 100 m to each side: no radii of curvature, no lattice. */
static void geodesic_step(PJ *to_lonlat, const struct geod_geodesic *earth, const brant_grid *grid,
                          double col, double row, double dcol, double drow, double *east,
                          double *north)
{
    const double *t = grid->transform;
    PJ_COORD p[3];
    for (int i = 0; i < 3; i++) {
        double c = col + (i - 1) * dcol, r = row + (i - 1) * drow;
        p[i] = proj_trans(to_lonlat, PJ_FWD,
                          proj_coord(t[0] + c * t[1] + r * t[2], t[3] + c * t[4] + r * t[5], 0, 0));
    }
    *east = *north = 0;
    for (int side = 0; side <= 2; side += 2) {
        double metres, azimuth;
        geod_inverse(earth, p[1].xy.y, p[1].xy.x, p[side].xy.y, p[side].xy.x, &metres, &azimuth,
                     NULL);
        *east += (side - 1) * metres * sin(azimuth * RAD) / 2;
        *north += (side - 1) * metres * cos(azimuth * RAD) / 2;
    }
}

static double next_random(uint64_t *state) /* [0, 1) */
{
    *state = *state * 6364136223846793005u + 1442695040888963407u; /* Knuth, TAOCP 3.3.4 */
    return (double)(*state >> 11) / 9007199254740992.0;
}

/* The largest error over 300 random points, in parts of a cell. */
static double worst_error(brant_grid *grid, const char *base, double a, double rf)
{
    PJ_CONTEXT *context = proj_context_create();
    PJ *from = proj_create(context, grid->crs), *own = proj_create(context, base);
    PJ *as_defined = proj_create_crs_to_crs_from_pj(context, from, own, NULL, NULL);
    PJ *to_lonlat = proj_normalize_for_visualization(context, as_defined);
    struct geod_geodesic earth;
    brant_ground *ground = ground_of(grid);
    uint64_t random = 46;
    double worst = 0;
    assert_non_null(to_lonlat);
    geod_init(&earth, a, 1 / rf);
    for (int i = 0; i < 300; i++) {
        brant_matrix m;
        double e1, n1, e2, n2, col = next_random(&random) * grid->cols;
        double row = next_random(&random) * grid->rows;
        brant_ground_matrix(ground, col, row, &m);
        double k = 100 / brant_matrix_cell_width(&m);
        geodesic_step(to_lonlat, &earth, grid, col, row, k, 0, &e1, &n1);
        geodesic_step(to_lonlat, &earth, grid, col, row, 0, k, &e2, &n2);
        worst = fmax(worst, hypot(m.col_east - e1 / k, m.col_north - n1 / k) /
                                brant_matrix_cell_width(&m));
        worst = fmax(worst, hypot(m.row_east - e2 / k, m.row_north - n2 / k) /
                                brant_matrix_cell_height(&m));
    }
    brant_ground_destroy(ground);
    proj_destroy(to_lonlat);
    proj_destroy(as_defined);
    proj_destroy(own);
    proj_destroy(from);
    proj_context_destroy(context);
    return worst;
}

static void interpolation_stays_below_2e5(void **state)
{
    static const struct {
        const char *crs, *base;
        double x, y, cell;
        int cols, rows;
        double rf; /* of an ellipsoid with a as below */
    } grids[] = {
        {"EPSG:32632", "EPSG:4326", 300000, 5400000, 10, 40000, 40000, 298.257223563},
        {"EPSG:32633", "EPSG:4326", 300000, 8900000, 20, 20000, 20000, 298.257223563}, /* 76-80 N */
        {"EPSG:3857", "EPSG:4326", 500000, 6200000, 5, 100000, 100000, 298.257223563},
        {"EPSG:4326", "EPSG:4326", 5, 49, 1 / 3600.0, 36000, 18000, 298.257223563},
        {"EPSG:4326", "EPSG:4326", 5, 80, 1 / 1200.0, 12000, 12000, 298.257223563},
        {"EPSG:3035", "EPSG:4258", 2600000, 5400000, 100, 48000, 40000, 298.257222101},
        {"EPSG:3413", "EPSG:4326", -2500000, -800000, 100, 30000, 20000, 298.257223563},
        {"EPSG:32632", "EPSG:4326", 300000, 5400000, 1000, 400, 400, 298.257223563},
        {"EPSG:3035", "EPSG:4258", 2600000, 5400000, 10000, 400, 300, 298.257222101},
        {"EPSG:32632", "EPSG:4326", 600000, 5200000, 0.5, 10000, 10000, 298.257223563},
    };
    (void)state;
    for (size_t i = 0; i < sizeof grids / sizeof *grids; i++) {
        brant_grid grid = north_up(grids[i].crs, grids[i].x, grids[i].y, grids[i].cell,
                                   grids[i].cols, grids[i].rows);
        double worst = worst_error(&grid, grids[i].base, 6378137, grids[i].rf);
        print_message("%-10s cell %-9.4g worst error %.2g of a cell\n", grids[i].crs,
                      grids[i].cell, worst);
        if (!(worst < 2e-5))
            fail_msg("%s, cell %g: %g", grids[i].crs, grids[i].cell, worst);
        brant_grid_clear(&grid);
    }
    /* rotated, on another ellipsoid (Bessel 1841), Swiss oblique Mercator */
    brant_grid turned = {.cols = 20000,
                         .rows = 20000,
                         .transform = {2550000, 6, 8, 1150000, 8, -6},
                         .crs = wkt_of("EPSG:2056")};
    assert_true(worst_error(&turned, "EPSG:4150", 6377397.155, 299.1528128) < 2e-5);
    brant_grid_clear(&turned);
}

/* Near a pole no lattice is fine enough: said, not hidden. */
static void count_warnings(void *user, brant_log_level level, const char *text)
{
    int *warnings = user;
    *warnings += level == BRANT_LOG_WARNING && strstr(text, "pole.tif: ") &&
                 strstr(text, "of a cell");
}

static void a_coarse_lattice_is_warned_of(void **state)
{
    brant_grid grid = north_up("EPSG:3413", -50000, 50000, 10000, 10, 10);
    brant_context ctx;
    brant_ground *ground;
    int warnings = 0;
    (void)state;
    brant_context_init(&ctx);
    ctx.log = count_warnings;
    ctx.user = &warnings;
    assert_int_equal(brant_ground_create(&ctx, "pole.tif", &grid, &ground), BRANT_OK);
    assert_int_equal(warnings, 1);
    brant_ground_destroy(ground);
    brant_grid_clear(&grid);
    brant_context_clear(&ctx);
}

/* ---- rows --------------------------------------------------------------- */

static brant_matrix step(const brant_matrix m[2], int i)
{
    return (brant_matrix){m[0].col_east + i * m[1].col_east, m[0].row_east + i * m[1].row_east,
                          m[0].col_north + i * m[1].col_north,
                          m[0].row_north + i * m[1].row_north};
}

static double apart(const brant_matrix *a, const brant_matrix *b)
{
    return fmax(fmax(fabs(a->col_east - b->col_east), fabs(a->row_east - b->row_east)),
                fmax(fabs(a->col_north - b->col_north), fabs(a->row_north - b->row_north)));
}

/* Fill cells [from, to) of a row's matrices, by pieces. */
static void fill_row(const brant_ground *ground, int row, int from, int to, int low,
                     brant_matrix *cells)
{
    for (int col = from; col < to;) {
        brant_matrix m[2];
        int n = brant_ground_row(ground, col, row, m);
        assert_true(n >= 1 && n <= BRANT_GROUND_STEP);
        for (int i = 0; i < n && col + i < to; i++)
            cells[col + i - low] = step(m, i);
        col += n;
    }
}

static void rows_agree_with_points_however_cut(void **state)
{
    enum { LOW = -200, HIGH = 3200 }; /* beyond the grid, both sides */
    static brant_matrix whole[HIGH - LOW], cut[HIGH - LOW];
    static const double cells[] = {10, 1000, 7000}; /* lattice wider and finer than the step */
    (void)state;
    for (size_t c = 0; c < sizeof cells / sizeof *cells; c++) {
        brant_grid grid = north_up("EPSG:3035", 3000000, 4000000, cells[c], 200, 150);
        grid.cols = c == 0 ? 3000 : c == 1 ? 1000 : 140;
        brant_ground *ground = ground_of(&grid);
        int high = grid.cols + 200, row = 77;
        fill_row(ground, row, LOW, high, LOW, whole);
        for (int col = LOW; col < high; col++) {
            brant_matrix m;
            brant_ground_matrix(ground, col + 0.5, row + 0.5, &m);
            assert_near(apart(&m, &whole[col - LOW]), 0, cells[c] * 1e-13);
        }
        /* cuts at multiples of BRANT_GROUND_STEP change nothing */
        for (int from = 0; from < high; from += BRANT_GROUND_STEP) {
            int to = from + BRANT_GROUND_STEP < high ? from + BRANT_GROUND_STEP : high;
            fill_row(ground, row, from, to, LOW, cut);
            assert_memory_equal(&cut[from - LOW], &whole[from - LOW],
                                (size_t)(to - from) * sizeof *cut);
        }
        /* other cuts nothing beyond the last bit */
        for (int from = LOW; from < high; from += 17) {
            fill_row(ground, row, from, from + 17 < high ? from + 17 : high, LOW, cut);
            for (int col = from; col < from + 17 && col < high; col++)
                assert_near(apart(&cut[col - LOW], &whole[col - LOW]), 0, cells[c] * 1e-13);
        }
        brant_ground_destroy(ground);
        brant_grid_clear(&grid);
    }
}

/* ---- refusals ----------------------------------------------------------- */

static void refuses(brant_grid *grid, const char *part)
{
    brant_context ctx;
    brant_ground *ground = (brant_ground *)grid;
    brant_context_init(&ctx);
    assert_int_equal(brant_ground_create(&ctx, "dem.tif", grid, &ground), BRANT_ERR_INPUT);
    assert_null(ground);
    if (strncmp(brant_message(&ctx), "dem.tif: ", 9) != 0 || !strstr(brant_message(&ctx), part) ||
        strchr(brant_message(&ctx), '\n'))
        fail_msg("message '%s' lacks '%s'", brant_message(&ctx), part);
    brant_context_clear(&ctx);
}

static void what_has_no_place_is_refused(void **state)
{
    static char local[] = "LOCAL_CS[\"site\",UNIT[\"metre\",1]]", junk[] = "no such thing",
                empty[] = "";
    brant_grid grid = {.cols = 10, .rows = 10, .transform = {0, 10, 0, 0, 0, -10}};
    (void)state;
    refuses(&grid, "no coordinate reference system");
    grid.crs = empty;
    refuses(&grid, "no coordinate reference system");
    grid.crs = junk;
    refuses(&grid, "not understood");
    grid.crs = local;
    refuses(&grid, "'site' has no place on an ellipsoid");
    grid.crs = wkt_of("EPSG:4978"); /* geocentric */
    refuses(&grid, "has no place on an ellipsoid");
    brant_grid_clear(&grid);

    grid = north_up("EPSG:5773", 0, 0, 10, 10, 10); /* heights alone */
    refuses(&grid, "has no place on an ellipsoid");
    brant_grid_clear(&grid);

    grid = north_up("EPSG:32632", 1e12, 1e12, 10, 10, 10);
    refuses(&grid, "outside");
    brant_grid_clear(&grid);
}

static void a_transform_must_span_a_plane(void **state)
{
    static const double bad[][6] = {{0, 0, 0, 0, 0, 0},        {0, 10, 0, 0, 0, 0},
                                    {0, 10, 10, 0, 10, 10},    {0, 10, 0, NAN, 0, -10},
                                    {0, INFINITY, 0, 0, 0, 1}, {0, NAN, 0, 0, 0, -10}};
    brant_grid grid = north_up("EPSG:32632", 500000, 5e6, 10, 10, 10);
    (void)state;
    for (size_t i = 0; i < sizeof bad / sizeof *bad; i++) {
        memcpy(grid.transform, bad[i], sizeof bad[i]);
        refuses(&grid, "geotransform");
    }
    brant_grid_clear(&grid);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(degree_lengths),
        cmocka_unit_test(an_arc_second),
        cmocka_unit_test(grads),
        cmocka_unit_test(a_sphere),
        cmocka_unit_test(the_poles_have_no_east),
        cmocka_unit_test(a_rotated_pole),
        cmocka_unit_test(transverse_mercator),
        cmocka_unit_test(the_antimeridian),
        cmocka_unit_test(lambert_conic),
        cmocka_unit_test(us_survey_feet),
        cmocka_unit_test(web_mercator),
        cmocka_unit_test(equal_area),
        cmocka_unit_test(only_the_horizontal_part_counts),
        cmocka_unit_test(any_transform_follows_the_chain_rule),
        cmocka_unit_test(interpolation_stays_below_2e5),
        cmocka_unit_test(a_coarse_lattice_is_warned_of),
        cmocka_unit_test(rows_agree_with_points_however_cut),
        cmocka_unit_test(what_has_no_place_is_refused),
        cmocka_unit_test(a_transform_must_span_a_plane),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
