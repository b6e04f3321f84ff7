/* Metres climbed: turning points, hysteresis, unknown elevations. The rule is
 * brant's own (day.h: common practice, no source); the checks stand on profiles
 * whose climb is plain, and on up - down = last - first. */
#include "brant/day.h"

#include <math.h>
#include <setjmp.h>
#include <stdlib.h>

#include <cmocka.h>

/* cmocka's assert_float_equal compares as float */
#define assert_close(a, b, within) assert_true(fabs((a) - (b)) <= (within))
#define COUNT(array) (sizeof(array) / sizeof(array)[0])

static void check(const float *z, size_t count, double up, double down)
{
    double got_up = -1, got_down = -1;
    brant_climb(z, count, 10, &got_up, &got_down);
    assert_close(got_up, up, 1e-9);
    assert_close(got_down, down, 1e-9);
}

static void test_plain_profiles(void **state)
{
    (void)state;
    check((float[]){0, 100, 50, 80, 20}, 5, 130, 110);
    check((float[]){500, 400, 300}, 3, 0, 200);
    check((float[]){300, 400, 500}, 3, 200, 0);
    check((float[]){700}, 1, 0, 0);
    check(NULL, 0, 0, 0);
}

/* What stays within 10 m is no change of direction; more than 10 m is one. */
static void test_hysteresis(void **state)
{
    (void)state;
    check((float[]){0, 50, 40, 90}, 4, 90, 0);
    check((float[]){0, 50, 39.5f, 90}, 4, 100.5, 10.5);
    check((float[]){100, 50, 60, 10}, 4, 0, 90);
    check((float[]){5, 0, 100}, 3, 95, 0); /* the dip at the start is noise */
    check((float[]){0, 100, 95}, 3, 95, 0);
    check((float[]){100, 104, 97, 101}, 4, 1, 0);
    check((float[]){0, 9, 18, 27, 36}, 5, 36, 0); /* small steps add up */
}

static void test_unknown_is_skipped(void **state)
{
    (void)state;
    check((float[]){NAN, 10, NAN, NAN, 60, NAN, 30, NAN}, 8, 50, 30);
    check((float[]){NAN, NAN}, 2, 0, 0);
}

/* Three waves of 100 m with 4 m of noise: 300 m up, each turning point off by
 * the noise at most. Without the hysteresis the noise alone climbs far more. */
static void test_noise_does_not_climb(void **state)
{
    (void)state;
    float z[3001];
    unsigned seed = 7;
    for (size_t i = 0; i < COUNT(z); i++) {
        seed = seed * 1103515245u + 12345u;
        double noise = (double)(seed >> 16 & 0x7fff) / 0x7fff * 8 - 4;
        z[i] = (float)(1000 - 50 * cos(2 * M_PI * (double)i / 1000) + noise);
    }
    double up, down;
    brant_climb(z, COUNT(z), 10, &up, &down);
    assert_true(fabs(up - 300) <= 6 * 4);
    assert_close(up - down, (double)z[3000] - (double)z[0], 1e-6);
    brant_climb(z, COUNT(z), 0, &up, &down);
    assert_true(up > 2000);
}

/* On any profile the climb is the net height, and no more than the sum of all
 * steps; it never grows with the hysteresis. */
static void test_random_profiles(void **state)
{
    (void)state;
    unsigned seed = 11;
    for (int round = 0; round < 500; round++) {
        float z[60];
        double rises = 0, before = INFINITY;
        for (size_t i = 0; i < COUNT(z); i++) {
            seed = seed * 1103515245u + 12345u;
            z[i] = (float)(seed >> 16 & 0x3f);
            if (i > 0 && z[i] > z[i - 1])
                rises += (double)(z[i] - z[i - 1]);
        }
        for (double hysteresis = 0; hysteresis < 70; hysteresis += 7) {
            double up, down;
            brant_climb(z, COUNT(z), hysteresis, &up, &down);
            assert_close(up - down, (double)z[59] - (double)z[0], 1e-9);
            assert_true(up <= before && up <= rises);
            if (hysteresis == 0)
                assert_close(up, rises, 1e-9);
            before = up;
        }
    }
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(test_plain_profiles),      cmocka_unit_test(test_hysteresis),
        cmocka_unit_test(test_unknown_is_skipped),  cmocka_unit_test(test_noise_does_not_climb),
        cmocka_unit_test(test_random_profiles),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
