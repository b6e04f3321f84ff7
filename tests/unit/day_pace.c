/* Hours: the published examples, what is flat, noise, the unknown, segments. */
#include "brant/day.h"

#include <math.h>
#include <setjmp.h>
#include <stdlib.h>
#include <string.h>

#include <cmocka.h>

#include "near.h"

#define COUNT(array) (sizeof(array) / sizeof(array)[0])
#define SAMPLES 2001

typedef struct route {
    brant_context ctx;
    size_t count;
    double along[SAMPLES], seconds[SAMPLES];
    float z[SAMPLES];
    bool first[SAMPLES];
    brant_pace_sums sums;
} route;

/* Straight from the last sample to `metres` further and `rise` higher, in `steps`. */
static void go(route *r, double metres, double rise, size_t steps)
{
    if (r->count == 0) {
        r->z[0] = 1000.0f;
        r->along[0] = 0.0;
        r->count = 1;
    }
    double along = r->along[r->count - 1], z = (double)r->z[r->count - 1];
    for (size_t i = 1; i <= steps; i++, r->count++) {
        assert_true(r->count < SAMPLES);
        r->along[r->count] = along + metres * (double)i / (double)steps;
        r->z[r->count] = (float)(z + rise * (double)i / (double)steps);
    }
}

static void timed(route *r, brant_pace pace)
{
    brant_context_init(&r->ctx);
    assert_int_equal(brant_pace_times(&r->ctx, &pace, r->count, r->along, r->z, r->first,
                                      r->seconds, &r->sums), BRANT_OK);
    assert_near(r->seconds[0], 0.0, 0.0);
    for (size_t i = 1; i < r->count; i++)
        assert_true(r->seconds[i] >= r->seconds[i - 1]);
    brant_context_clear(&r->ctx);
}

static double hours(route *r, brant_pace pace)
{
    timed(r, pace);
    return r->seconds[r->count - 1] / 3600.0;
}

static const brant_pace walk = {.walk = true};

/* The trade's units (Munter), examples of the literature: 9.5 km and 500 m at 4 an hour
 * 3 h 37.5, at 10 an hour 1 h 27; 6 km and 900 m up 3 h 45. */
static void test_units(void **state)
{
    (void)state;
    route r = {0};
    go(&r, 9500, 500, 950);
    assert_near(hours(&r, BRANT_PACE_DEFAULT), 3.0 + 37.5 / 60, 1e-6);
    assert_near(r.sums.rising_m, 9500, 1e-6);
    r = (route){0};
    go(&r, 9500, -500, 950);
    assert_near(hours(&r, BRANT_PACE_DEFAULT), 1.45, 1e-6);
    assert_near(r.sums.falling_m, 9500, 1e-6);
    r = (route){0};
    go(&r, 6000, 900, 600);
    assert_near(hours(&r, BRANT_PACE_DEFAULT), 3.75, 1e-6);
    r = (route){0};
    go(&r, 9000, 0, 900); /* flat, 6 an hour: by the formula */
    assert_near(hours(&r, BRANT_PACE_DEFAULT), 1.5, 1e-6);
    assert_near(r.sums.flat_m, 9000, 1e-6);
    /* a party's own rates */
    r = (route){0};
    go(&r, 6000, 900, 600);
    assert_near(hours(&r, (brant_pace){false, 5, 12, 7}), 3.0, 1e-6);
}

/* DIN 33466, examples as the alpine clubs print them: 1,200 m up and 10 km 5.25 h; 900 m
 * up and 8 km 4 h (AV-Wegekonzept 2009). 1,200 m down and 10 km: max(2.4, 2.5) + half of
 * 2.4 = 3.7 h; the page that prints 3.6 took the height for the larger, a slip.
 * 1,200 m up and down and 12 km 7.9 h (computed from the formula). */
static void test_walk(void **state)
{
    (void)state;
    route r = {0};
    go(&r, 10000, 1200, 1000);
    assert_near(hours(&r, walk), 5.25, 1e-6);
    r = (route){0};
    go(&r, 8000, 900, 800);
    assert_near(hours(&r, walk), 4.0, 1e-6);
    r = (route){0};
    go(&r, 10000, -1200, 1000);
    assert_near(hours(&r, walk), 3.7, 1e-6);
    assert_true(fabs(hours(&r, walk) - 3.6) > 0.09); /* the slip */
    r = (route){0};
    go(&r, 6000, 1200, 600);
    go(&r, 6000, -1200, 600);
    assert_near(hours(&r, walk), 7.9, 1e-6);
    assert_near(r.seconds[600] / 3600, 4.75, 1e-6);
    /* the profile of a route that only rises leaves no trace in its total */
    r = (route){0};
    go(&r, 6000, 100, 100);
    go(&r, 3000, 1100, 100);
    go(&r, 1000, 0, 100);
    assert_near(hours(&r, walk), 5.25, 1e-6);
}

/* Ground that stays within 10 m over 500 m is flat; a shorter shelf is not. */
static void test_flat_ground(void **state)
{
    (void)state;
    route r = {0};
    go(&r, 2000, 400, 200);
    go(&r, 1200, 6, 120); /* a valley floor that rises a little */
    go(&r, 2000, 400, 200);
    timed(&r, BRANT_PACE_DEFAULT);
    /* so do its ends: 500 m that reach up to 38 m into a slope of 20 % stay within 10 m */
    assert_true(r.sums.flat_m >= 1200 - 1e-6 && r.sums.flat_m <= 1200 + 2 * 38);
    assert_near(r.sums.rising_m + r.sums.flat_m, 5200, 1e-6);
    double km = r.sums.flat_m / 1000, units = km + 0.06 + 2 * (km - 1.2); /* 6 m, and 20 % */
    assert_near(r.seconds[r.count - 1] / 3600, (5.2 + 8.06 - units) / 4 + units / 6, 1e-6);
    r = (route){0};
    go(&r, 2000, 400, 200);
    go(&r, 400, 0, 40);
    go(&r, 2000, 400, 200);
    timed(&r, BRANT_PACE_DEFAULT);
    assert_near(r.sums.flat_m, 0, 0);
    assert_near(r.sums.rising_m, 4400, 1e-6);
    /* across a col's turning point, too: 300 m that rise 3 m, 300 m that fall 3 m */
    r = (route){0};
    go(&r, 1000, 300, 100);
    go(&r, 300, 3, 30);
    go(&r, 300, -3, 30);
    go(&r, 1000, -300, 100);
    timed(&r, BRANT_PACE_DEFAULT);
    assert_true(r.sums.flat_m >= 600 && r.sums.flat_m <= 600 + 2 * 34);
    /* 2 % on and on: every 500 m rise 10; 3 % is a climb */
    r = (route){0};
    go(&r, 3000, 59, 300);
    timed(&r, BRANT_PACE_DEFAULT);
    assert_near(r.sums.flat_m, 3000, 1e-6);
    r = (route){0};
    go(&r, 3000, 90, 300);
    timed(&r, BRANT_PACE_DEFAULT);
    assert_near(r.sums.rising_m, 3000, 1e-6);
}

/* 4 m of noise on 1,000 m of climb over 5 km do not climb, nor make the climb longer; on
 * the flat they do not climb at all. */
static void test_noise(void **state)
{
    (void)state;
    route r = {0};
    unsigned seed = 3;
    go(&r, 5000, 1000, 2000);
    double still = hours(&r, BRANT_PACE_DEFAULT);
    for (size_t i = 0; i < r.count; i++) {
        seed = seed * 1103515245u + 12345u;
        r.z[i] += (float)((double)(seed >> 16 & 0x7fff) / 0x7fff * 8 - 4);
    }
    double up, down;
    brant_climb(r.z, r.count, BRANT_CLIMB_HYSTERESIS, &up, &down);
    assert_near(hours(&r, BRANT_PACE_DEFAULT), still, 8.0 / 100 / 4);
    assert_near(r.sums.up_m, up, 1e-3);
    r = (route){0};
    go(&r, 5000, 0, 2000);
    for (size_t i = 0; i < r.count; i++) {
        seed = seed * 1103515245u + 12345u;
        r.z[i] += (float)((double)(seed >> 16 & 0x7fff) / 0x7fff * 8 - 4);
    }
    assert_near(hours(&r, BRANT_PACE_DEFAULT), (5.0 + 0.08) / 6, 0.08 / 6);
}

/* The sums are brant_climb's on any profile, unknown elevations among them. */
static void test_agrees_with_climb(void **state)
{
    (void)state;
    unsigned seed = 21;
    for (int round = 0; round < 300; round++) {
        route r = {.count = 300};
        double z = 1000;
        for (size_t i = 0; i < r.count; i++) {
            seed = seed * 1103515245u + 12345u;
            z += (double)(seed >> 16 & 0xff) / 255 * 12 - 6;
            r.along[i] = (double)i * 25;
            r.z[i] = (seed >> 24) % 7 == 0 ? NAN : (float)z;
        }
        double up, down, units;
        brant_climb(r.z, r.count, BRANT_CLIMB_HYSTERESIS, &up, &down);
        timed(&r, BRANT_PACE_DEFAULT);
        assert_near(r.sums.up_m, up, 1e-2);
        assert_near(r.sums.down_m, down, 1e-2);
        assert_near(r.sums.rising_m + r.sums.falling_m + r.sums.flat_m, 299 * 25, 1e-6);
        /* never faster than all of it at the fastest rate, nor slower than at the slowest */
        units = 299 * 0.025 + (up + down) / 100;
        assert_true(r.seconds[299] <= units / 4 * 3600 + 1 &&
                    r.seconds[299] >= units / 10 * 3600 - 1);
    }
}

/* Unknown elevations are bridged, and said. */
static void test_unknown(void **state)
{
    (void)state;
    route r = {0};
    go(&r, 6000, 900, 600);
    double whole = hours(&r, BRANT_PACE_DEFAULT);
    for (size_t i = 200; i < 300; i++)
        r.z[i] = NAN;
    assert_near(hours(&r, BRANT_PACE_DEFAULT), whole, 1e-4); /* a straight slope anyway */
    assert_near(r.sums.unknown_m, 1010, 1e-6);
    assert_near(r.seconds[250], whole * 3600 * 250 / 600, 1);
    /* at the ends: flat */
    for (size_t i = 0; i < 100; i++)
        r.z[i] = r.z[600 - i] = NAN;
    timed(&r, BRANT_PACE_DEFAULT);
    assert_near(r.sums.up_m, 600, 0.01);
    assert_true(r.sums.flat_m >= 2000 - 1e-6 && r.sums.flat_m < 2150);
    /* none known at all: flat throughout, all of it said */
    for (size_t i = 0; i < r.count; i++)
        r.z[i] = NAN;
    assert_near(hours(&r, BRANT_PACE_DEFAULT), 1.0, 1e-6);
    assert_near(r.sums.unknown_m, 6000, 1e-6);
    /* shorter than 500 m it is flat, too */
    r = (route){0};
    go(&r, 300, 0, 30);
    assert_near(hours(&r, BRANT_PACE_DEFAULT), 0.05, 1e-6);
}

/* A gap between segments takes no time and is not climbed. */
static void test_segments(void **state)
{
    (void)state;
    route r = {0};
    go(&r, 2000, 300, 200);
    size_t gap = r.count;
    go(&r, 0, 500, 1); /* the next segment starts 500 m higher at the same metre */
    go(&r, 2000, -300, 200);
    r.first[0] = r.first[gap] = true;
    timed(&r, BRANT_PACE_DEFAULT);
    assert_near(r.seconds[gap - 1] / 3600, 5.0 / 4, 1e-6);
    assert_near(r.seconds[gap], r.seconds[gap - 1], 0);
    assert_near(r.seconds[r.count - 1] / 3600, 5.0 / 4 + 5.0 / 10, 1e-6);
    assert_near(r.sums.up_m, 300, 1e-3);
    assert_near(r.sums.down_m, 300, 1e-3);
    /* without flags it is one segment, and the step is climbed */
    double with_flags = r.seconds[r.count - 1];
    brant_pace pace = BRANT_PACE_DEFAULT;
    brant_context ctx;
    brant_context_init(&ctx);
    assert_int_equal(brant_pace_times(&ctx, &pace, r.count, r.along, r.z, NULL, r.seconds,
                                      NULL), BRANT_OK);
    assert_true(r.seconds[r.count - 1] > with_flags + 3600.0);
    /* segments of one sample, and no route at all */
    r = (route){.count = 3, .along = {0, 0, 0}, .z = {1, 2, 3}, .first = {true, true, true}};
    timed(&r, walk);
    assert_near(r.seconds[2], 0, 0);
    assert_int_equal(brant_pace_times(&ctx, &pace, 0, NULL, NULL, NULL, NULL, &r.sums),
                     BRANT_OK);
    brant_context_clear(&ctx);
    assert_near(r.sums.flat_m, 0, 0);
}

static void test_reading_the_times(void **state)
{
    (void)state;
    const double along[] = {0, 100, 100, 300}, seconds[] = {0, 60, 60, 260};
    assert_near(brant_pace_at(4, along, seconds, 50), 30, 1e-9);
    assert_near(brant_pace_at(4, along, seconds, 100), 60, 1e-9);
    assert_near(brant_pace_at(4, along, seconds, 150), 110, 1e-9);
    assert_near(brant_pace_at(4, along, seconds, -5), 0, 0);
    assert_near(brant_pace_at(4, along, seconds, 999), 260, 0);
    assert_near(brant_pace_at(1, along, seconds, 50), 0, 0);
    /* 200 s at the late pace are 260; nothing left to go takes nothing */
    assert_near(brant_latest_leave(seconds, 1, 3, 10000), 10000 - 260, 1e-9);
    assert_near(brant_latest_leave(seconds, 3, 3, 10000), 10000, 1e-9);
}

static void test_option(void **state)
{
    (void)state;
    brant_pace p;
    assert_true(brant_pace_parse("4,10,6", &p));
    assert_false(p.walk);
    assert_true(p.up == 4 && p.down == 10 && p.flat == 6);
    assert_true(brant_pace_parse("3.5,12,0.1", &p));
    assert_true(p.up == 3.5 && p.down == 12 && p.flat == 0.1);
    assert_true(brant_pace_parse("walk", &p));
    assert_true(p.walk);
    const char *const bad[] = {"", "4", "4,10", "4,10,6,", "4,10,6,2", ",,", "4,10,0", "4,-1,6",
                               "4,10,101", "4,10,x", "Walk", "walk ", "4;10;6", "4,10,nan",
                               "4,10,0.05", "4,10,6666666666666666666666666666666666666666"};
    for (size_t i = 0; i < COUNT(bad); i++)
        if (brant_pace_parse(bad[i], &p))
            fail_msg("%s is taken", bad[i]);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(test_units),       cmocka_unit_test(test_walk),
        cmocka_unit_test(test_flat_ground), cmocka_unit_test(test_noise),
        cmocka_unit_test(test_agrees_with_climb), cmocka_unit_test(test_unknown),
        cmocka_unit_test(test_segments),    cmocka_unit_test(test_reading_the_times),
        cmocka_unit_test(test_option),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
