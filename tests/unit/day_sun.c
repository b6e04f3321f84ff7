/* The sun: its position against the worked example of the Solar Position Algorithm
 * and an ephemeris, the light on a slope, and sun on zones behind walls and ridges. */
#include "terrain_world.h"

#include "brant/day.h"

#include "near.h"

#define COUNT(array) (sizeof(array) / sizeof(array)[0])
#define HOUR 3600.0
#define DAY 86400.0

/* ---- position ------------------------------------------------------------ */

/* Reda & Andreas 2004, Solar Energy 76(5):577-589, worked example: 2003-10-17
 * 12:30:30 (UTC-7), 39.742476 N 105.1786 W: topocentric altitude 39.872046 without
 * refraction, zenith 50.111622 with it (820 hPa, 11 C), azimuth 194.340241; incidence on a
 * slope of 30 degrees turned 10 degrees east of south 25.187000; sunrise 06:12:43,
 * sunset 17:20:19: both are those of the day in UTC, on which the sun set on the
 * evening of the 16th. */
static void test_worked_example(void **state)
{
    (void)state;
    const double utc = 1066419030.0, lon = -105.1786, lat = 39.742476;
    const double midnight = 1066374000.0; /* 00:00 UTC-7 */
    brant_sun sun = brant_sun_at(utc, lon, lat);
    assert_near(sun.altitude_deg, 39.872046, 0.01);
    assert_near(90.0 - sun.apparent_deg, 50.111622, 0.01);
    assert_near(sun.azimuth_deg, 194.340241, 0.01);
    assert_near(acos(brant_sun_incidence(&sun, 30.0, 170.0)) / RADIANS, 25.187, 0.01);
    double rise, set;
    assert_int_equal(brant_sun_daylight(midnight, midnight + DAY, lon, lat, &rise, &set),
                     BRANT_DAYLIGHT_RISES_OR_SETS);
    assert_near(rise - midnight, 6 * HOUR + 12 * 60 + 43, 15.0);
    assert_int_equal(brant_sun_daylight(midnight - DAY, midnight, lon, lat, &rise, &set),
                     BRANT_DAYLIGHT_RISES_OR_SETS);
    assert_near(set - (midnight - DAY), 17 * HOUR + 20 * 60 + 19, 15.0);
}

/* Altitude without refraction and azimuth by libastro 3.7.7 (VSOP87; PyEphem 4.1.4), at
 * random in 2000-2100, latitudes to 85. All of 20,000 such positions agreed within 0.009
 * degrees of arc. */
static void test_a_century(void **state)
{
    (void)state;
    const double rows[][5] = {
        {2070761820, -102.816, 72.671, 2.63466, 312.21090},
        {3956935920, -56.576, 84.537, 21.67810, 259.27882},
        {1786666560, -156.082, 70.3, 31.73125, 210.79882},
        {3671550240, 21.07, 68.734, 3.23807, 310.85281},
        {1966383780, -136.028, 73.879, 17.92491, 254.46596},
        {3449212200, -90.339, 84.598, 9.53612, 66.49952},
        {2008925640, -9.508, -69.811, 8.99563, 26.21460},
        {3088068360, -112.424, -78.743, 15.29017, 100.09699},
        {3566653500, 135.512, -65.299, 0.42522, 152.33375},
        {2135027700, 100.708, 55.568, 7.47220, 83.78852},
        {2200564680, 26.052, 64.994, 21.10349, 209.79355},
        {3727399740, 140.148, 56.278, 15.97691, 209.21626},
        {3751158660, 55.43, 49.446, 7.77374, 130.12152},
        {3812243640, 128.273, 62.914, 14.52162, 200.94462},
        {2854678320, -155.91, 64.825, 10.55823, 303.56513},
        {3183136920, -91.641, 59.087, 5.16585, 220.37340},
        {3547806240, -128.182, 52.534, 10.88301, 67.02809},
        {1900906500, 42.432, 56.315, 21.13625, 118.58961},
        {1777484400, -120.665, -35.761, 29.70982, 39.70525},
        {2546100960, -148.781, 17.995, 35.75800, 95.45460},
        {3831620580, -40.345, -42.691, 8.15045, 49.27387},
        {2184509700, -24.825, -57.575, 24.17691, 318.39361},
        {2151136200, 6.794, 25.16, 47.31800, 135.29102},
        {2474966220, -23.067, 15.091, 48.31009, 72.74268},
    };
    for (size_t i = 0; i < COUNT(rows); i++) {
        brant_sun sun = brant_sun_at(rows[i][0], rows[i][1], rows[i][2]);
        assert_near(sun.altitude_deg, rows[i][3], 0.01);
        assert_near(turn(sun.azimuth_deg, rows[i][4]) * cos(rows[i][3] * RADIANS), 0.0, 0.01);
    }
}

/* 46.5 N 10 E, 2024-03-15 08:00 UTC: altitude 23.47 and azimuth 120.61, and the cosine on
 * slopes of 38 degrees (computed with an implementation of the Solar Position
 * Algorithm). Below 0 a slope turns its back. */
static void test_incidence(void **state)
{
    (void)state;
    brant_sun sun = brant_sun_at(1710489600.0, 10.0, 46.5);
    assert_near(sun.altitude_deg, 23.47, 0.05);
    assert_near(sun.azimuth_deg, 120.61, 0.02);
    const double cosines[][2] = {{0, 0.026}, {45, 0.454}, {90, 0.800},
                                 {135, 0.861}, {180, 0.601}, {270, -0.172}};
    for (size_t i = 0; i < COUNT(cosines); i++)
        assert_near(brant_sun_incidence(&sun, 38.0, cosines[i][0]), cosines[i][1], 0.001);
    assert_near(brant_sun_incidence(&sun, 0.0, NAN), sin(sun.apparent_deg * RADIANS), 1e-12);
    assert_nan(brant_sun_incidence(&sun, 38.0, NAN));
    assert_nan(brant_sun_incidence(&sun, NAN, NAN));
}

/* Refraction as tabled: 34.5' at the horizon, 9.9' at 5, 5.3' at 10 and 1.0' at 45
 * degrees (standard tables of navigation, from memory); it never makes the sun fall
 * while it rises. */
static void test_refraction(void **state)
{
    (void)state;
    double last = -90.0;
    for (double utc = 1710460800.0; utc < 1710460800.0 + 11 * HOUR; utc += 20.0) {
        brant_sun sun = brant_sun_at(utc, 10.0, 46.5);
        double lift = (sun.apparent_deg - sun.altitude_deg) * 60.0;
        if (fabs(sun.apparent_deg) < 0.05)
            assert_near(lift, 34.5, 1.5);
        if (fabs(sun.apparent_deg - 5.0) < 0.05)
            assert_near(lift, 9.9, 0.3);
        if (fabs(sun.apparent_deg - 10.0) < 0.05)
            assert_near(lift, 5.3, 0.2);
        assert_true(sun.apparent_deg > last && lift >= 0.0);
        last = sun.apparent_deg;
    }
    assert_true(last > 30.0);
}

/* Sunrise and sunset by libastro for the same altitude, -0.833 degrees: 46.5 N, 68.35 N in
 * February, 43.6 S (its day begins the evening before by UTC). */
static void test_daylight(void **state)
{
    (void)state;
    const double rows[][5] = {
        {1710460800, 10.0, 46.5, 1710480730, 1710523571},
        {1802476800, 18.83, 68.35, 1802502905, 1802529838},
        {1911816000, 170.1, -43.6, 1911844337, 1911879601},
    };
    for (size_t i = 0; i < COUNT(rows); i++) {
        double rise, set;
        assert_int_equal(brant_sun_daylight(rows[i][0], rows[i][0] + DAY, rows[i][1], rows[i][2],
                                            &rise, &set), BRANT_DAYLIGHT_RISES_OR_SETS);
        assert_near(rise, rows[i][3], 15.0);
        assert_near(set, rows[i][4], 15.0);
    }
}

static const double june = 1718928000.0, december = 1734739200.0; /* 21st of 2024, 00:00 UTC */

static void test_polar_day_and_night(void **state)
{
    (void)state;
    double rise, set;
    assert_int_equal(brant_sun_daylight(june, june + DAY, 15.6, 78.2, &rise, &set),
                     BRANT_DAYLIGHT_ALL);
    assert_nan(rise);
    assert_nan(set);
    assert_int_equal(brant_sun_daylight(december, december + DAY, 15.6, 78.2, &rise, &set),
                     BRANT_DAYLIGHT_NONE);
    assert_int_equal(brant_sun_daylight(december, december + DAY, 15.6, -78.2, &rise, &set),
                     BRANT_DAYLIGHT_ALL);
    assert_nan(rise);
}

/* ---- sun on a zone ------------------------------------------------------- */

static brant_skyline *relief_of(world *w, double reach_m)
{
    brant_window all = {0, 0, w->grid.cols, w->grid.rows};
    brant_skyline *relief = NULL;
    if (brant_skyline_create(&w->ctx, &w->source, w->ground, &all, reach_m, &relief) != BRANT_OK)
        fail_msg("%s", brant_message(&w->ctx));
    return relief;
}

#define LON 10.0
#define LAT 46.5

static void sun_on_zone(const brant_skyline *relief, double lon, double lat,
                        const brant_zone_cell *cells, size_t count, double area_m2, double from,
                        double to, brant_sun_on *out)
{
    brant_context ctx;
    brant_sun_course course = {.from = from};
    brant_context_init(&ctx);
    assert_int_equal(brant_sun_course_follow(&ctx, relief, lon, lat, cells, count, area_m2, to,
                                             &course), BRANT_OK);
    brant_sun_course_until(&course, to, out);
    brant_sun_course_clear(&course);
    brant_context_clear(&ctx);
}

/* One cell of 100 m2. */
static brant_sun_on on_cell(const brant_skyline *relief, brant_zone_cell cell, double from,
                            double to)
{
    brant_sun_on on;
    sun_on_zone(relief, LON, LAT, &cell, 1, 100.0, from, to, &on);
    return on;
}

/* The first minute at which the sun stands higher than a wall to the south whose top is
 * `ratio` as high as the wall is far: along an azimuth the wall is further by its cosine,
 * and by `more` of its distance. */
static double first_over_wall(double day, double ratio, double more)
{
    for (double t = day; t < day + DAY; t += 60.0) {
        brant_sun sun = brant_sun_at(t, LON, LAT);
        double south = cos((sun.azimuth_deg - 180.0) * RADIANS);
        if (sun.apparent_deg > 0.0 &&
            tan(sun.apparent_deg * RADIANS) > ratio / (1.0 / south + more))
            return t;
    }
    return NAN;
}

/* On the shortest day the sun comes up in the south-east, behind a wall 200 m to the
 * south that stands 5, 10 or 15 degrees high, and clears it when geometry says: not before
 * it clears a wall one cell further away, nor after it clears this one (and a minute for
 * horizons every ten). */
static void test_a_wall_delays_the_sun(void **state)
{
    (void)state;
    double last = 0.0;
    for (double height = 5.0; height <= 15.0; height += 5.0) {
        world w;
        double ratio = tan(height * RADIANS);
        world_open_local(&w, 10.0, 301, 61);
        for (int r = 30; r < 61; r++)
            for (int c = 0; c < 301; c++)
                *world_z(&w, c, r) = (float)(200.0 * ratio);
        brant_skyline *relief = relief_of(&w, 2000.0);
        brant_zone_cell flat = {150, 10, 0.0f, NAN};
        brant_sun_on on = on_cell(relief, flat, december, december + DAY / 2);
        assert_in_range((long)on.certain.first,
                        (long)first_over_wall(december, ratio, 10.0 / 200.0) - 60,
                        (long)first_over_wall(december, ratio, 0.0) + 60);
        assert_false(on.unknown);
        assert_near(on.possible.first, on.certain.first, 0.0);
        /* from then on till noon there is sun */
        assert_near(on.certain.seconds, december + DAY / 2 - on.certain.first, 0.0);
        assert_true(on.certain.first > last + 900.0); /* each wall delays it further */
        last = on.certain.first;
        brant_skyline_destroy(relief);
        world_close(&w);
    }
}

/* Without a horizon: from sunrise (of the disc's centre) to sunset; asked up to 9:00
 * no later than that; from 9:00 on there already. */
static void test_flat_ground(void **state)
{
    (void)state;
    world w;
    world_open_local(&w, 10.0, 101, 101);
    brant_skyline *relief = relief_of(&w, 300.0);
    brant_zone_cell flat = {50, 50, 0.0f, NAN};
    double first = NAN, minutes = 0.0;
    for (double t = december; t < december + DAY; t += 60.0)
        if (brant_sun_at(t, LON, LAT).apparent_deg > 0.0) {
            first = isnan(first) ? t : first;
            minutes++;
        }
    brant_sun_on on = on_cell(relief, flat, december, december + DAY);
    assert_near(on.certain.first, first, 0.0);
    assert_near(on.certain.seconds, minutes * 60.0, 0.0);
    assert_false(on.unknown);
    double nine = december + 9 * HOUR;
    on = on_cell(relief, flat, december, nine);
    assert_near(on.certain.seconds, nine - first, 0.0);
    on = on_cell(relief, flat, nine, nine + 605.0); /* eleven minutes begin in it */
    assert_near(on.certain.first, nine, 0.0);
    assert_near(on.certain.seconds, 660.0, 0.0);
    on = on_cell(relief, flat, december, december);
    assert_nan(on.certain.first);
    on = on_cell(relief, flat, december, december + 3 * HOUR); /* night */
    assert_nan(on.possible.first);
    assert_near(on.possible.seconds, 0.0, 0.0);
    brant_skyline_destroy(relief);
    world_close(&w);
}

/* A plane of 40 degrees shades itself: to the north it has no sun on the shortest day;
 * to the east and west the sun comes and goes as the cosine says, in the plane's
 * own horizon as well. */
static void test_self_shadow(void **state)
{
    (void)state;
    for (int aspect = 0; aspect < 360; aspect += 90) {
        world w;
        plane p = {40.0, aspect, 2000.0};
        world_open_local(&w, 10.0, 101, 101);
        world_lay_local(&w, plane_at, &p);
        brant_skyline *relief = relief_of(&w, 300.0);
        brant_zone_cell cell = {50, 50, 40.0f, (float)aspect};
        brant_sun_on on = on_cell(relief, cell, december, december + DAY);
        double first = NAN, minutes = 0.0;
        for (double t = december; t < december + DAY; t += 60.0) {
            brant_sun sun = brant_sun_at(t, LON, LAT);
            if (sun.apparent_deg > 0.0 && brant_sun_incidence(&sun, 40.0, aspect) > 0.0) {
                first = isnan(first) ? t : first;
                minutes++;
            }
        }
        assert_false(on.unknown);
        if (aspect == 0) {
            assert_nan(on.certain.first);
            assert_near(on.certain.seconds, 0.0, 0.0);
            assert_near(minutes, 0.0, 0.0);
        } else {
            assert_near(on.certain.first, first, 120.0);
            assert_near(on.certain.seconds / 60.0, minutes, 4.0);
        }
        brant_skyline_destroy(relief);
        world_close(&w);
    }
}

/* Four cells of 100 m2 are a patch, three are not; half of a zone smaller than 800. */
static void test_patch(void **state)
{
    (void)state;
    world w;
    world_open_local(&w, 10.0, 101, 101);
    brant_skyline *relief = relief_of(&w, 300.0);
    double from = 1710460800.0, to = from + 14 * HOUR;
    brant_zone_cell cells[10];
    double firsts[5];
    for (int east = 0; east <= 4; east++) {
        brant_sun_on on;
        for (int i = 0; i < 10; i++)
            cells[i] = (brant_zone_cell){45 + i, 50, 40.0f, i < east ? 90.0f : 270.0f};
        sun_on_zone(relief, LON, LAT, cells, 10, 1000.0, from, to, &on);
        firsts[east] = on.certain.first;
    }
    for (int east = 1; east < 4; east++)
        assert_near(firsts[east], firsts[0], 0.0);
    assert_true(firsts[4] < firsts[0] - 3 * HOUR);
    brant_sun_on on;
    sun_on_zone(relief, LON, LAT, cells + 2, 4, 400.0, from, to, &on); /* two of four */
    assert_near(on.certain.first, firsts[4], 0.0);
    sun_on_zone(relief, LON, LAT, cells + 3, 4, 400.0, from, to, &on); /* one of four */
    assert_near(on.certain.first, firsts[0], 0.0);
    sun_on_zone(relief, LON, LAT, cells + 3, 4, 40000.0, from, to, &on); /* 10,000 m2 each */
    assert_near(on.certain.first, firsts[4], 0.0);
    sun_on_zone(relief, LON, LAT, cells, 0, 0.0, from, to, &on);
    assert_nan(on.possible.first);
    brant_skyline_destroy(relief);
    world_close(&w);
}

/* A void where a wall could be: the sun may come at sunrise or as late as over a wall
 * as high as the highest ground; a cell that faces no known way may have it, and no
 * relief is no horizon known. */
static void test_unknown(void **state)
{
    (void)state;
    world w;
    world_open_local(&w, 10.0, 301, 61);
    for (int c = 0; c < 301; c++) {
        *world_z(&w, c, 0) = (float)(200.0 * tan(10.0 * RADIANS)); /* in the north */
        *world_z(&w, c, 30) = NAN;
    }
    brant_skyline *relief = relief_of(&w, 480.0);
    brant_zone_cell flat = {150, 10, 0.0f, NAN};
    double noon = december + DAY / 2;
    brant_sun_on on = on_cell(relief, flat, december, noon);
    assert_true(on.unknown);
    double sunrise = first_over_wall(december, 0.0, 0.0);
    assert_near(on.possible.first, sunrise, 0.0);
    assert_in_range((long)on.certain.first,
                    (long)first_over_wall(december, tan(10.0 * RADIANS), 0.05) - 60,
                    (long)first_over_wall(december, tan(10.0 * RADIANS), -0.06) + 60);
    assert_near(on.possible.seconds - on.certain.seconds, on.certain.first - sunrise, 0.0);
    brant_skyline_destroy(relief);

    on = on_cell(NULL, flat, december, noon);
    assert_nan(on.certain.first);
    assert_near(on.possible.first, sunrise, 0.0);
    assert_true(on.unknown);
    on = on_cell(NULL, (brant_zone_cell){150, 10, 40.0f, 0.0f}, december, noon);
    assert_nan(on.possible.first); /* a north face in December, whatever stands around */
    assert_false(on.unknown);

    for (int c = 0; c < 301; c++)
        *world_z(&w, c, 30) = *world_z(&w, c, 0) = 0.0f;
    relief = relief_of(&w, 480.0);
    on = on_cell(relief, (brant_zone_cell){150, 30, NAN, NAN}, december, noon);
    assert_nan(on.certain.first);
    assert_near(on.possible.first, sunrise, 0.0);
    assert_true(on.unknown);
    brant_skyline_destroy(relief);
    world_close(&w);
}

/* At 78 N: sun all day on the flat in June, on a north face from some hour on; none
 * in December. */
static void test_far_north(void **state)
{
    (void)state;
    world w;
    world_open_local(&w, 10.0, 101, 101);
    brant_skyline *relief = relief_of(&w, 300.0);
    brant_zone_cell flat = {50, 50, 0.0f, NAN}, south = {50, 50, 40.0f, 180.0f};
    brant_sun_on on;
    sun_on_zone(relief, 15.6, 78.2, &flat, 1, 100.0, june, june + DAY, &on);
    assert_near(on.certain.first, june, 0.0);
    assert_near(on.certain.seconds, DAY, 0.0);
    sun_on_zone(relief, 15.6, 78.2, &south, 1, 100.0, june, june + DAY, &on);
    assert_true(on.certain.first > june + HOUR); /* the midnight sun stands behind it */
    sun_on_zone(relief, 15.6, 78.2, &flat, 1, 100.0, december, december + DAY, &on);
    assert_nan(on.possible.first);
    assert_near(on.possible.seconds, 0.0, 0.0);
    brant_skyline_destroy(relief);
    world_close(&w);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(test_worked_example),
        cmocka_unit_test(test_a_century),
        cmocka_unit_test(test_incidence),
        cmocka_unit_test(test_refraction),
        cmocka_unit_test(test_daylight),
        cmocka_unit_test(test_polar_day_and_night),
        cmocka_unit_test(test_a_wall_delays_the_sun),
        cmocka_unit_test(test_flat_ground),
        cmocka_unit_test(test_self_shadow),
        cmocka_unit_test(test_patch),
        cmocka_unit_test(test_unknown),
        cmocka_unit_test(test_far_north),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
