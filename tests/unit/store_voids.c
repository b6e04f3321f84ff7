/* Undeclared voids: the rules on arrays. Analytic surfaces; thresholds as brant.1
 * states them. */
#include "../../src/store/voids.h"

#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>

#include <cmocka.h>

#include <math.h>
#include <stdlib.h>
#include <string.h>

enum { N = 60 };

typedef float (*surface)(int col, int row);

static float z[N * N];

static void fill(surface height)
{
    for (int row = 0; row < N; row++)
        for (int col = 0; col < N; col++)
            z[row * N + col] = height(col, row);
}

/* Decide for what `z` holds, stored in units of `scale` metres, at cells of `cell_m`. */
static brant_void_rules decide_stored(double scale, double cell_m, bool whole, int64_t *counts)
{
    brant_void_rules rules;
    brant_void_survey *survey = malloc(sizeof *survey);
    assert_non_null(survey);
    brant_void_survey_begin(survey, 0, cell_m);
    brant_void_survey_add(survey, z, N, N);
    brant_void_survey_decide(survey, whole, scale, 0, &rules, counts);
    free(survey);
    return rules;
}

/* Decide for the surface in metres. */
static brant_void_rules decide(surface height, double cell_m, bool whole, int64_t *counts)
{
    fill(height);
    return decide_stored(1, cell_m, whole, counts);
}

static float high_slope(int col, int row)
{
    return 900.0f + 7.0f * (float)col + 0.3f * (float)row;
}

static float sea_and_slope(int col, int row)
{
    float up = 6.0f * (float)(col - 20) + 0.1f * (float)row;
    return up > 0 ? up : 0;
}

static float collar(int col, int row)
{
    return col + row < 30 ? 0 : high_slope(col, row);
}

static float collar_of_low_ground(int col, int row)
{
    return col + row < 30 ? 0 : 31.0f + (float)col / 10 + (float)row / 7;
}

static float sea_and_hole(int col, int row)
{
    return col >= 55 && row == 30 ? 0 : sea_and_slope(col, row);
}

static float nothing_but_0(int col, int row)
{
    (void)col;
    (void)row;
    return 0;
}

static float half_0_half_void(int col, int row)
{
    (void)row;
    return col < 30 ? NAN : 0;
}

static float sea_with_voids(int col, int row)
{
    return col < 18 && (col + row) % 2 ? NAN : sea_and_slope(col, row);
}

static float with_void(int col, int row)
{
    return col < 30 ? NAN : high_slope(col, row);
}

static float fill_of_99(int col, int row)
{
    return row == 3 && col > 4 && col < 9 ? 99 : high_slope(col, row);
}

static float ground_at_99(int col, int row)
{
    return 60.0f + (float)col + 0.5f * (float)(row % 2);
}

static void zero_is_void_where_the_ground_does_not_come_down_to_it(void **state)
{
    static const struct {
        surface height;
        double cell_m;
        bool whole, undeclared, watched;
        int64_t cells;
    } cases[] = {
        {high_slope, 10, true, false, false, 0},
        {high_slope, 10, false, true, false, 0}, /* none met, but it would be one */
        {sea_and_slope, 10, true, false, false, 0},
        {sea_and_slope, 10, false, false, true, 0},
        {collar, 10, true, true, false, 465}, /* 30 + 29 + ... + 1 */
        {collar, 90, true, true, false, 465},
        {collar_of_low_ground, 10, true, true, false, 465}, /* 31 m and more */
        {collar_of_low_ground, 90, true, false, false, 0},  /* within half a cell */
        {sea_and_hole, 10, true, false, true, 0},
        {nothing_but_0, 10, true, false, false, 0},
        {nothing_but_0, 10, false, false, true, 0},
        {with_void, 10, true, false, false, 0},
        {half_0_half_void, 10, true, false, false, 0}, /* voids are no ground */
        {sea_with_voids, 10, true, false, false, 0},   /* nor a shore */
    };
    (void)state;
    for (size_t i = 0; i < sizeof cases / sizeof *cases; i++) {
        int64_t counts[BRANT_UNDECLARED_MAX] = {0};
        brant_void_rules rules = decide(cases[i].height, cases[i].cell_m, cases[i].whole, counts);
        /* "none met, but it would be one": to be told when it is met */
        assert_int_equal(rules.zero_unmet, cases[i].undeclared && cases[i].cells == 0);
        /* "more than 150 m (or five cells' width) higher" */
        assert_true(rules.cliff_m == (cases[i].cell_m > 30 ? 5 * cases[i].cell_m : 150));
        if (rules.undeclared_count != cases[i].undeclared ||
            rules.watch_zero != cases[i].watched || counts[0] != cases[i].cells)
            fail_msg("case %d: %d undeclared, %d cells, watched %d", (int)i,
                     rules.undeclared_count, (int)counts[0], rules.watch_zero);
    }
}

static void customary_fills_are_void_where_nothing_is_near(void **state)
{
    int64_t counts[BRANT_UNDECLARED_MAX] = {0};
    (void)state;
    brant_void_rules rules = decide(fill_of_99, 10, true, counts);
    assert_int_equal(rules.undeclared_count, 1);
    assert_true(rules.undeclared[0] == 99 && rules.undeclared_m[0] == 99.0f);
    assert_int_equal(counts[0], 4);
    rules = decide(ground_at_99, 10, true, counts);
    assert_int_equal(rules.undeclared_count, 0);
    fill(fill_of_99); /* two heights in one metre: ground */
    z[3 * N + 6] = 99.5f;
    rules = decide_stored(1, 10, true, counts);
    assert_int_equal(rules.undeclared_count, 0);
}

/* The ends of the number types of 8, 16 bits, and nines: as many as make a fill that nobody
 * declared; in a unit that puts each where it could be a height. From memory. */
static void each_customary_fill(void **state)
{
    static const double stored[] = {-1,    -9,    -99, -999, -9999, -99999, -32767, -32768,
                                    99,    255,   999, 9999, 32767, 32768,  65535};
    (void)state;
    for (size_t i = 0; i < sizeof stored / sizeof *stored; i++) {
        int64_t counts[BRANT_UNDECLARED_MAX] = {0};
        double size = fabs(stored[i]), scale = size < 500 ? 1 : 400 / size;
        fill(high_slope);
        z[7 * N + 7] = z[7 * N + 8] = (float)(stored[i] * scale);
        brant_void_rules rules = decide_stored(scale, 10, true, counts);
        assert_int_equal(rules.undeclared_count, 1);
        assert_true(rules.undeclared[0] == stored[i]);
        assert_int_equal(counts[0], 2);
    }
}

/* A fill is none near a sea: its 0 is ground, too. */
static void a_fill_beside_a_sea(void **state)
{
    static const float metres[] = {-9, -99, -400}; /* stored: -9, -99, -32768 */
    (void)state;
    for (int i = 0; i < 3; i++) {
        int64_t counts[BRANT_UNDECLARED_MAX] = {0};
        fill(sea_and_slope);
        z[7 * N + 7] = z[7 * N + 8] = metres[i];
        brant_void_rules rules = decide_stored(i < 2 ? 1 : 400.0 / 32768, 10, true, counts);
        assert_int_equal(rules.undeclared_count, i == 2);
    }
}

/* "Any other constant: a fiftieth of the model and more, 300 m below or above the rest." */
static void another_constant(void **state)
{
    static const struct {
        int cells; /* of 3,600 */
        float metres;
        bool undeclared;
    } cases[] = { /* the ground: 900 to 1,331 m */
        {71, 590, false}, {100, 590, true}, {100, 610, false}, {100, 1640, true},
        {100, 1620, false}, {100, 1640.25f, true},
    };
    (void)state;
    for (size_t i = 0; i < sizeof cases / sizeof *cases; i++) {
        int64_t counts[BRANT_UNDECLARED_MAX] = {0};
        fill(high_slope);
        for (int k = 0; k < cases[i].cells; k++)
            z[300 + k] = cases[i].metres;
        brant_void_rules rules = decide_stored(1, 10, true, counts);
        assert_int_equal(rules.undeclared_count, cases[i].undeclared);
        assert_int_equal(counts[0], cases[i].undeclared ? cases[i].cells : 0);
        assert_true(!cases[i].undeclared || rules.undeclared_m[0] == cases[i].metres);
    }
}

/* Whatever window is cut, a cell's answer is the same. */
static void walls_are_the_same_in_every_window(void **state)
{
    enum { W = 7, H = 5 };
    static float whole[N * N], wide[(N + 2) * (N + 2)];
    (void)state;
    fill(sea_and_hole);
    memcpy(whole, z, sizeof z);
    for (int i = 0; i < (N + 2) * (N + 2); i++)
        wide[i] = NAN;
    for (int row = 0; row < N; row++)
        memcpy(&wide[(row + 1) * (N + 2) + 1], &z[row * N], N * sizeof *z);
    /* columns 55 to 59 of the hole stand beside 210 m and more */
    assert_int_equal(brant_void_cliffs(wide, N, N, 0, 150, whole, N), 5);
    for (int row = 0; row + H <= N; row++)
        for (int col = 0; col + W <= N; col++) {
            float part[(W + 2) * (H + 2)], out[W * H];
            for (int r = 0; r < H + 2; r++)
                memcpy(&part[r * (W + 2)], &wide[(row + r) * (N + 2) + col],
                       (W + 2) * sizeof *part);
            for (int r = 0; r < H; r++)
                memcpy(&out[r * W], &z[(row + r) * N + col], W * sizeof *out);
            brant_void_cliffs(part, W, H, 0, 150, out, W);
            for (int r = 0; r < H; r++)
                for (int c = 0; c < W; c++)
                    assert_int_equal(isnan(out[r * W + c]) != 0,
                                     isnan(whole[(row + r) * N + col + c]) != 0);
        }
}

/* The sea stays, the hole in the high ground does not. */
static void a_patch_is_judged_by_its_own_shore(void **state)
{
    int64_t cells = 0;
    brant_context ctx;
    uint8_t fills[N * N] = {0};
    brant_void_survey *survey = malloc(sizeof *survey);
    (void)state;
    assert_non_null(survey);
    brant_context_init(&ctx);
    fill(sea_and_hole);
    brant_void_survey_begin(survey, 0, 10);
    assert_int_equal(brant_void_patches(&ctx, z, N, N, survey, fills, &cells), BRANT_OK);
    assert_int_equal(cells, 5);
    for (int i = 0; i < N * N; i++)
        assert_int_equal(fills[i], i / N == 30 && i % N >= 55);
    brant_context_clear(&ctx);
    free(survey);
}

static void values_are_counted_one_by_one(void **state)
{
    brant_void_tally tally = {0};
    (void)state;
    for (int i = 0; i < 40; i++)
        brant_void_count(&tally, -1000.0 - i % 20, -1000.0 - i % 20);
    assert_int_equal(tally.distinct, BRANT_TALLY_MAX);
    assert_int_equal(tally.count[0], 2);
    assert_int_equal(tally.others, 8);
    assert_true(tally.lowest == -1019 && tally.highest == -1000);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(zero_is_void_where_the_ground_does_not_come_down_to_it),
        cmocka_unit_test(customary_fills_are_void_where_nothing_is_near),
        cmocka_unit_test(each_customary_fill),
        cmocka_unit_test(a_fill_beside_a_sea),
        cmocka_unit_test(another_constant),
        cmocka_unit_test(walls_are_the_same_in_every_window),
        cmocka_unit_test(a_patch_is_judged_by_its_own_shore),
        cmocka_unit_test(values_are_counted_one_by_one),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
