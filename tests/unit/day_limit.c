/* The elementary reduction rule: the whole truth table. Limits and grounds: Munter
 * 1995 as a South Tyrolean avalanche course page cites it (2 below 40, 3 below 35,
 * 4 below 30; track, slope, catchment), 'within 20 m of the track' second-hand. */
#include "brant/day.h"

#include <setjmp.h>
#include <stdlib.h>
#include <string.h>

#include <cmocka.h>

#define COUNT(array) (sizeof(array) / sizeof(array)[0])

enum { DRY, MIXED, WET, KINDS };
static const unsigned kinds[KINDS] = {
    [DRY] = BRANT_KIND_BIT(BRANT_WIND_SLAB),
    [MIXED] = BRANT_KIND_BIT(BRANT_WET_SNOW) | BRANT_KIND_BIT(BRANT_NEW_SNOW),
    [WET] = BRANT_KIND_BIT(BRANT_WET_SNOW)};

/* Level by level: the limit, the ground, and whether the level ranks first. */
static const struct {
    double limit;
    brant_limit_ground ground;
    bool first;
} expected[BRANT_LEVELS] = {
    [BRANT_LEVEL_NONE] = {NAN, BRANT_LIMIT_NOWHERE, false},
    [BRANT_LEVEL_1] = {NAN, BRANT_LIMIT_NOWHERE, false},
    [BRANT_LEVEL_2] = {40, BRANT_LIMIT_TRACK, false},
    [BRANT_LEVEL_3] = {35, BRANT_LIMIT_SLOPE, false},
    [BRANT_LEVEL_4] = {30, BRANT_LIMIT_CATCHMENT, false},
    [BRANT_LEVEL_5] = {NAN, BRANT_LIMIT_NOWHERE, true},
    [BRANT_LEVEL_NO_SNOW] = {NAN, BRANT_LIMIT_NOWHERE, false},
    [BRANT_LEVEL_NO_RATING] = {NAN, BRANT_LIMIT_NOWHERE, true},
    [BRANT_LEVEL_NOT_STATED] = {NAN, BRANT_LIMIT_NOWHERE, true},
};

static const double steps[] = {20, 29.9, 30, 34.9, 35, 39.9, 40, 50, NAN};

static double wider(double a, double b)
{
    return isnan(a) ? b : isnan(b) || a > b ? a : b;
}

static void check(brant_level level, int kind, const brant_steepest *s)
{
    brant_limit got = brant_limit_of(level, kinds[kind], s);
    const double grounds[] = {s->track_deg, wider(s->track_deg, s->slope_deg),
                              wider(wider(s->track_deg, s->slope_deg), s->catchment_deg)};
    const bool unknown[] = {isnan(s->track_deg), isnan(s->track_deg) || isnan(s->slope_deg),
                            isnan(s->track_deg) || isnan(s->slope_deg) ||
                                isnan(s->catchment_deg)};
    assert_true(got.reason && got.reason[0]);
    assert_int_equal(got.first, expected[level].first);
    bool applies = !isnan(expected[level].limit) && kind != WET;
    if (!applies) {
        assert_true(isnan(got.limit_deg) && isnan(got.steepest_deg));
        assert_int_equal(got.ground, BRANT_LIMIT_NOWHERE);
        assert_false(got.over || got.unknown);
        if (!isnan(expected[level].limit))
            assert_non_null(strstr(got.reason, "dry slabs, not applied"));
        return;
    }
    int ground = (int)expected[level].ground - 1;
    bool over = grounds[ground] >= expected[level].limit; /* "below 40": 40 is over */
    assert_true(got.limit_deg == expected[level].limit);
    assert_int_equal(got.ground, expected[level].ground);
    assert_int_equal(got.over, over);
    assert_int_equal(got.unknown, !over && unknown[ground]);
    assert_int_equal(got.note != NULL, kind == MIXED);
}

static void test_truth_table(void **state)
{
    (void)state;
    for (int level = 0; level < BRANT_LEVELS; level++)
        for (int kind = 0; kind < KINDS; kind++)
            for (size_t t = 0; t < COUNT(steps); t++)
                for (size_t s = 0; s < COUNT(steps); s++)
                    for (size_t c = 0; c < COUNT(steps); c++)
                        check((brant_level)level, kind,
                              &(brant_steepest){steps[t], steps[s], steps[c]});
}

/* The same, spelt out, so that the table above is not all there is. */
static void test_spelt_out(void **state)
{
    (void)state;
    static const struct {
        brant_level level;
        brant_steepest steepest;
        bool over, unknown;
        double at;
    } cases[] = {
        {2, {39.9, 50, 50}, false, false, 39.9}, {2, {40, 20, 20}, true, false, 40},
        {3, {20, 34.9, 50}, false, false, 34.9}, {3, {20, 35, 20}, true, false, 35},
        {3, {36, NAN, 20}, true, false, 36},     {3, {20, NAN, 50}, false, true, 20},
        {4, {20, 20, 29.9}, false, false, 29.9}, {4, {20, 20, 30}, true, false, 30},
        {4, {30, 20, 20}, true, false, 30},      {2, {NAN, 50, 50}, false, true, NAN},
    };
    for (size_t i = 0; i < COUNT(cases); i++) {
        brant_limit got = brant_limit_of(cases[i].level, 0, &cases[i].steepest);
        assert_int_equal(got.over, cases[i].over);
        assert_int_equal(got.unknown, cases[i].unknown);
        assert_true(isnan(cases[i].at) ? isnan(got.steepest_deg)
                                       : got.steepest_deg == cases[i].at);
    }
    const brant_steepest steep = {45, 45, 45};
    assert_string_equal(brant_limit_of(3, 0, &steep).reason, "level 3: whole slope below 35");
    assert_string_equal(brant_limit_ground_text(BRANT_LIMIT_CATCHMENT), "whole catchment");
}

/* Which problems leave the rule in force: gliding snow and cornices are no slabs,
 * 'no distinct problem' is no statement about wet snow. */
static void test_kinds(void **state)
{
    (void)state;
    const brant_steepest steep = {45, 45, 45};
    for (unsigned mask = 0; mask < 1u << BRANT_PROBLEM_KINDS; mask++) {
        unsigned wet = BRANT_KIND_BIT(BRANT_WET_SNOW) | BRANT_KIND_BIT(BRANT_GLIDING_SNOW);
        unsigned others = mask & ~wet & ~BRANT_KIND_BIT(BRANT_CORNICES);
        bool applies = !(mask & wet) || others;
        brant_limit got = brant_limit_of(BRANT_LEVEL_3, mask, &steep);
        assert_int_equal(!isnan(got.limit_deg), applies);
        assert_int_equal(got.over, applies);
        assert_int_equal(got.note != NULL, applies && (mask & wet));
    }
}

/* Over at one level is over at the next, up to 4, on whatever ground. */
static void test_monotone(void **state)
{
    (void)state;
    for (size_t t = 0; t < COUNT(steps); t++)
        for (size_t s = 0; s < COUNT(steps); s++)
            for (size_t c = 0; c < COUNT(steps); c++) {
                const brant_steepest steepest = {steps[t], steps[s], steps[c]};
                for (brant_level level = BRANT_LEVEL_1; level < BRANT_LEVEL_4; level++) {
                    brant_limit low = brant_limit_of(level, 0, &steepest);
                    brant_limit high = brant_limit_of(level + 1, 0, &steepest);
                    assert_true(!low.over || high.over);
                    assert_true(!low.unknown || high.unknown || high.over);
                }
            }
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(test_truth_table),
        cmocka_unit_test(test_spelt_out),
        cmocka_unit_test(test_kinds),
        cmocka_unit_test(test_monotone),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
