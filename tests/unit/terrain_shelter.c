/* Maximum upwind slope Sx (Winstral, Elder & Davis 2002, J. Hydrometeorol. 3:524-538)
 * on surfaces whose Sx follows from its definition, on any grid, beside voids; and
 * the option's text. */
#include "terrain_world.h"

#include "near.h"

static brant_skyline *relief_of(world *w)
{
    brant_window all = {0, 0, w->grid.cols, w->grid.rows};
    brant_skyline *relief = NULL;
    if (brant_skyline_create(&w->ctx, &w->source, w->ground, &all, 2000.0, &relief) != BRANT_OK)
        fail_msg("%s", brant_message(&w->ctx));
    return relief;
}

/* One ray, no height offset: as in 2002 but for the window. */
static brant_wind ray_from(double azimuth, double distance)
{
    return (brant_wind){.from_deg = azimuth, .distance_m = distance};
}

static double sx(world *w, int col, int row, brant_wind wind)
{
    brant_skyline *relief = relief_of(w);
    double value = (double)brant_skyline_shelter(relief, col, row, &wind);
    brant_skyline_destroy(relief);
    return value;
}

/* A lone ridge +20 m at 50 m upwind: atan(20 / 50) = 21.8014, whatever dmax is from
 * 50 m on; nearer it is not seen. Downwind it counts for nothing. */
static void test_lone_ridge(void **state)
{
    (void)state;
    world w;
    world_open_local(&w, 10.0, 151, 151);
    for (int r = 0; r < 151; r++)
        *world_z(&w, 70, r) = 20.0f; /* 50 m west of the middle */
    assert_near(sx(&w, 75, 75, ray_from(270.0, 50.0)), 21.8014, 1e-3);
    assert_near(sx(&w, 75, 75, ray_from(270.0, 300.0)), 21.8014, 1e-3);
    assert_near(sx(&w, 75, 75, ray_from(270.0, 40.0)), 0.0, 1e-6);
    assert_near(sx(&w, 75, 75, ray_from(90.0, 300.0)), 0.0, 1e-6);
    /* with 8 m of offset: atan(12 / 50) */
    brant_wind wind = ray_from(270.0, 300.0);
    wind.offset_m = 8.0;
    assert_near(sx(&w, 75, 75, wind), atan(12.0 / 50.0) / RADIANS, 1e-3);
    world_close(&w);
}

/* On the flat Sx is 0, and with an offset -atan(8 / dmax): the furthest cell is the
 * largest of -atan(8 / d). */
static void test_flat(void **state)
{
    (void)state;
    world w;
    world_open_local(&w, 10.0, 151, 151);
    brant_wind wind = ray_from(200.0, 300.0);
    assert_near(sx(&w, 75, 75, wind), 0.0, 1e-6);
    wind.offset_m = 8.0;
    assert_near(sx(&w, 75, 75, wind), -atan(8.0 / 300.0) / RADIANS, 1e-4);
    wind.distance_m = 100.0;
    assert_near(sx(&w, 75, 75, wind), -atan(8.0 / 100.0) / RADIANS, 1e-4);
    world_close(&w);
}

/* A plane that falls upwind at 10 degrees: -10 at every dmax; one that rises: +10;
 * along its contour 0; at 60 degrees to the fall line atan(tan 10 cos 60). */
static void test_plane(void **state)
{
    (void)state;
    for (double azimuth = 0.0; azimuth < 360.0; azimuth += 23.0) {
        world w;
        plane p = {10.0, azimuth, 0.0};
        world_open_local(&w, 10.0, 261, 261);
        world_lay_local(&w, plane_at, &p);
        for (double dmax = 50.0; dmax <= 1000.0; dmax *= 2.0)
            assert_near(sx(&w, 130, 130, ray_from(azimuth, dmax)), -10.0, 1e-3);
        assert_near(sx(&w, 130, 130, ray_from(azimuth + 180.0, 300.0)), 10.0, 1e-3);
        assert_near(sx(&w, 130, 130, ray_from(azimuth + 90.0, 300.0)), 0.0, 1e-3);
        assert_near(sx(&w, 130, 130, ray_from(azimuth + 60.0, 300.0)),
                    -atan(tan(10.0 * RADIANS) * 0.5) / RADIANS, 1e-3);
        world_close(&w);
    }
}

/* The mean over the rays, every 5 degrees from -15 to 15: on a plane that falls
 * upwind at 30 degrees, atan(tan 30 cos x) for each. */
static void test_mean_over_the_window(void **state)
{
    (void)state;
    world w;
    plane p = {30.0, 270.0, 0.0};
    world_open_local(&w, 10.0, 151, 151);
    world_lay_local(&w, plane_at, &p);
    brant_wind wind;
    assert_true(brant_wind_parse("W", &wind));
    wind.offset_m = 0.0;
    double sum = 0.0;
    for (int x = -15; x <= 15; x += 5)
        sum -= atan(tan(30.0 * RADIANS) * cos(x * RADIANS)) / RADIANS;
    assert_near(sx(&w, 75, 75, wind), sum / 7, 1e-3);
    /* 33 degrees are 8 rays, the ends among them */
    wind = (brant_wind){.from_deg = 250.0, .width_deg = 33.0, .distance_m = 300.0};
    sum = 0.0;
    for (int i = 0; i < 8; i++)
        sum -= atan(tan(30.0 * RADIANS) * cos((-20.0 + 33.0 * i / 7) * RADIANS)) / RADIANS;
    assert_near(sx(&w, 75, 75, wind), sum / 8, 1e-3);
    /* 4 degrees are the two ends */
    wind = (brant_wind){.from_deg = 300.0, .width_deg = 4.0, .distance_m = 300.0};
    sum = -atan(tan(30.0 * RADIANS) * cos(30.0 * RADIANS)) / RADIANS -
          atan(tan(30.0 * RADIANS) * cos(34.0 * RADIANS)) / RADIANS;
    assert_near(sx(&w, 75, 75, wind), sum / 2, 1e-3);
    world_close(&w);
}

/* The same planes on a geographic grid at 46.5 N (cells 21 x 31 m), on one that is
 * stored south up, and on UTM 60 km east of its meridian turned by 20 degrees. */
static void test_every_grid(void **state)
{
    (void)state;
    const double s = 1.0 / 3600.0, c = cos(20.0 * RADIANS) * 10.0, q = sin(20.0 * RADIANS) * 10.0;
    const struct {
        const char *crs;
        double transform[6];
    } grids[] = {
        {"EPSG:4326", {10.0 - 50.5 * s, s, 0, 46.5 + 50.5 * s, 0, -s}},
        {"EPSG:4326", {10.0 - 50.5 * s, s, 0, 46.5 - 50.5 * s, 0, s}},
        {"EPSG:32632",
         {576731.690 - 50.5 * c - 50.5 * q, c, q, 5150089.104 - 50.5 * q + 50.5 * c, q, -c}},
    };
    for (size_t i = 0; i < 3; i++) {
        world w;
        double *places = malloc(101 * 101 * 2 * sizeof *places);
        assert_non_null(places);
        world_open(&w, grids[i].crs, grids[i].transform, 101, 101);
        world_places(&w, 46.5, 10.0, places);
        for (double azimuth = 0.0; azimuth < 360.0; azimuth += 29.0) {
            plane p = {10.0, azimuth, 500.0};
            world_lay_at(&w, places, plane_at, &p);
            assert_near(sx(&w, 50, 50, ray_from(azimuth, 300.0)), -10.0, 0.01);
            assert_near(sx(&w, 50, 50, ray_from(azimuth + 180.0, 300.0)), 10.0, 0.01);
            assert_near(sx(&w, 50, 50, ray_from(azimuth + 90.0, 300.0)), 0.0, 0.01);
        }
        free(places);
        world_close(&w);
    }
}

/* What stands in a void or beyond the raster is not known, so Sx is not; downwind
 * of the cell, and beyond dmax, a void does not matter. */
static void test_unknown_upwind(void **state)
{
    (void)state;
    world w;
    world_open_local(&w, 10.0, 151, 151);
    *world_z(&w, 60, 75) = NAN; /* 150 m west of the middle */
    assert_nan(sx(&w, 75, 75, ray_from(270.0, 300.0)));
    assert_near(sx(&w, 75, 75, ray_from(270.0, 130.0)), 0.0, 1e-6);
    assert_near(sx(&w, 75, 75, ray_from(90.0, 300.0)), 0.0, 1e-6);
    assert_nan(sx(&w, 5, 40, ray_from(270.0, 300.0))); /* the edge is 55 m away */
    assert_nan(sx(&w, 60, 75, ray_from(90.0, 300.0))); /* no height here */
    assert_nan(sx(&w, 151, 75, ray_from(270.0, 300.0)));
    assert_nan(sx(&w, 75, 75, ray_from(90.0, 2001.0))); /* further than the relief reaches */

    brant_skyline *relief = relief_of(&w);
    brant_zone_cell cells[] = {{75, 75, 35, 90}, {75, 40, 35, 90}, {5, 40, 35, 90}};
    brant_wind wind;
    assert_true(brant_wind_parse("W", &wind));
    brant_shelter zone = brant_zone_shelter(relief, cells, 3, &wind);
    assert_int_equal(zone.known, 1);
    assert_int_equal(zone.unknown, 2);
    assert_near(zone.mean_deg, -atan(8.0 / 300.0) / RADIANS, 1e-4);
    assert_false(zone.sheltered);
    zone = brant_zone_shelter(relief, cells + 2, 1, &wind);
    assert_nan(zone.mean_deg);
    assert_false(zone.sheltered);
    brant_skyline_destroy(relief);
    world_close(&w);
}

/* A ridge that runs north to south, 35 degrees to both sides: with wind from the west
 * its east side is sheltered and its west side is not. */
static double ridge_at(const void *self, double east, double north)
{
    (void)self, (void)north;
    return 1000.0 - tan(35.0 * RADIANS) * fabs(east);
}

static void test_zone(void **state)
{
    (void)state;
    world w;
    world_open_local(&w, 10.0, 151, 151);
    world_lay_local(&w, ridge_at, NULL);
    brant_skyline *relief = relief_of(&w);
    brant_zone_cell lee[3] = {{80, 75, 35, 90}, {85, 75, 35, 90}, {90, 80, 35, 90}};
    brant_zone_cell windward[3] = {{70, 75, 35, 270}, {65, 75, 35, 270}, {60, 80, 35, 270}};
    brant_wind wind = ray_from(270.0, 300.0);
    brant_shelter s = brant_zone_shelter(relief, lee, 3, &wind);
    /* 5, 10, 15 cells east of the ridge; the slope rises up to it, all of them see 35 */
    assert_near(s.mean_deg, 35.0, 0.01);
    assert_true(s.sheltered);
    s = brant_zone_shelter(relief, windward, 3, &wind);
    assert_near(s.mean_deg, -35.0, 0.01);
    assert_false(s.sheltered);
    wind.sheltered_deg = 40.0;
    assert_false(brant_zone_shelter(relief, lee, 3, &wind).sheltered);
    brant_skyline_destroy(relief);
    world_close(&w);
}

static void test_option(void **state)
{
    (void)state;
    const struct {
        const char *text;
        double from, width;
    } good[] = {
        {"W", 255, 30},      {"N", 345, 30},    {"NNE", 7.5, 30}, {"270", 255, 30},
        {"360", 345, 30},    {"0", 345, 30},    {"240-300", 240, 60}, {"300-20", 300, 80},
        {"W-NNW", 270, 67.5}, {"NW-45", 315, 90}, {"10-5", 10, 355}, {"22.5", 7.5, 30},
    };
    const char *const bad[] = {"",       "w",      "-90",     "361",   "W-W",  "0-360", "240-",
                               "-",      "WEST",   "240-300-20", "nan", "240--300", "240 300",
                               "1e400",  "270,0",  "aaaaaaaaaaaaaaaaaaaaaaaaaaaaaaaaaaaaaaaaa"};
    brant_wind wind;
    for (size_t i = 0; i < sizeof good / sizeof *good; i++) {
        if (!brant_wind_parse(good[i].text, &wind))
            fail_msg("%s is refused", good[i].text);
        assert_near(wind.from_deg, good[i].from, 1e-9);
        assert_near(wind.width_deg, good[i].width, 1e-9);
        /* Winstral, Jonas & Helbig 2017, JHM 18:335-348 */
        assert_near(wind.distance_m, 300.0, 0.0);
        assert_near(wind.offset_m, 8.0, 0.0);
        assert_near(wind.sheltered_deg, 0.0, 0.0);
    }
    for (size_t i = 0; i < sizeof bad / sizeof *bad; i++)
        if (brant_wind_parse(bad[i], &wind))
            fail_msg("%s is taken", bad[i]);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(test_lone_ridge),      cmocka_unit_test(test_flat),
        cmocka_unit_test(test_plane),           cmocka_unit_test(test_mean_over_the_window),
        cmocka_unit_test(test_every_grid),      cmocka_unit_test(test_unknown_upwind),
        cmocka_unit_test(test_zone),            cmocka_unit_test(test_option),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
