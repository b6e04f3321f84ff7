/* Cliffs, gullies and abrupt flats on analytic surfaces: what they are follows from the
 * surface alone, at any azimuth, on cells of 2, 10 and 30 m. */
#include "brant/terrain.h"

#include <math.h>
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include <cmocka.h>

static const char utm_32n[] =
    "PROJCS[\"WGS 84 / UTM zone 32N\",GEOGCS[\"WGS 84\",DATUM[\"WGS_1984\",SPHEROID[\"WGS 84\","
    "6378137,298.257223563]],PRIMEM[\"Greenwich\",0],UNIT[\"degree\",0.0174532925199433]],"
    "PROJECTION[\"Transverse_Mercator\"],PARAMETER[\"latitude_of_origin\",0],"
    "PARAMETER[\"central_meridian\",9],PARAMETER[\"scale_factor\",0.9996],"
    "PARAMETER[\"false_easting\",500000],PARAMETER[\"false_northing\",0],UNIT[\"metre\",1]]";

#define HALF_M 280.0  /* the ground is a square of twice that */
#define INNER_M 120.0 /* cells looked at: others are near the window's edge */
#define TAN(deg) tan((deg) * M_PI / 180)

static const double azimuths[] = {0, 17, 33, 45, 61, 90, 200};
static const double cells[] = {2, 10, 30};
#define EACH(array) (int)(sizeof array / sizeof array[0])

/* Metres up the fall line and across it, from the middle of the ground. */
typedef double (*surface)(double up, double across, double parameter);

typedef struct world {
    brant_context ctx;
    brant_ground *ground;
    brant_relief relief;
    float *z;
    int cols;
    double cell, sine, cosine;
} world;

static double noise(unsigned *seed) /* near enough normal, 0.5 m */
{
    double sum = 0;
    for (int i = 0; i < 12; i++) {
        *seed = *seed * 1103515245u + 12345u;
        sum += (double)(*seed >> 8 & 0xffff) / 0x10000;
    }
    return (sum - 6) * 0.5;
}

static void place(const world *w, int col, int row, double *up, double *across)
{
    /* the origin is no cell's centre; the scale factor makes cells larger on the ground by 1 in 2,500 */
    double east = (col + 0.5 - w->cols / 2.0) * w->cell / 0.9996;
    double north = (w->cols / 2.0 - row - 0.5) * w->cell / 0.9996;
    *up = east * w->sine + north * w->cosine + 0.31 * w->cell;
    *across = east * w->cosine - north * w->sine;
}

static void make(world *w, double cell, double azimuth, surface f, double parameter, bool noisy)
{
    unsigned seed = 7;
    *w = (world){.cell = cell, .cols = 2 * (int)ceil(HALF_M / cell) + 1,
                 .sine = sin(azimuth * M_PI / 180), .cosine = cos(azimuth * M_PI / 180)};
    brant_grid grid = {.cols = w->cols, .rows = w->cols, .crs = (char *)utm_32n,
                       .transform = {500000, cell, 0, 5150000, 0, -cell}};
    brant_window all = {0, 0, w->cols, w->cols};
    brant_context_init(&w->ctx);
    assert_int_equal(brant_ground_create(&w->ctx, "made", &grid, &w->ground), BRANT_OK);
    w->z = malloc((size_t)w->cols * (size_t)w->cols * sizeof *w->z);
    assert_non_null(w->z);
    for (int row = 0; row < w->cols; row++)
        for (int col = 0; col < w->cols; col++) {
            double up, across;
            place(w, col, row, &up, &across);
            w->z[row * w->cols + col] =
                (float)(1500 + f(up, across, parameter) + (noisy ? noise(&seed) : 0));
        }
    assert_int_equal(brant_relief_open(&w->ctx, w->ground, &all, w->z, &w->relief), BRANT_OK);
}

static void clear(world *w)
{
    brant_relief_close(&w->relief);
    brant_ground_destroy(w->ground);
    brant_context_clear(&w->ctx);
    free(w->z);
}

enum { CLIFF, GULLY, FLAT };

/* Cells are looked at some 6 m apart: nearer ones say the same, slowly. */
static int step_of(const world *w)
{
    return w->cell < 3 ? 3 : 1;
}

static brant_landform_answer ask(world *w, int what, int col, int row)
{
    switch (what) {
    case CLIFF: return brant_relief_cliff(&w->relief, col, row);
    case GULLY: return brant_relief_gully(&w->relief, col, row);
    default: return brant_relief_flat(&w->relief, col, row, NULL);
    }
}

/* How many of the cells with `up` in [low, high] are that landform, of how many. */
static int count_of(world *w, int what, double low, double high, int *of)
{
    int count = 0;
    *of = 0;
    for (int row = 0; row < w->cols; row += step_of(w))
        for (int col = 0; col < w->cols; col += step_of(w)) {
            double up, across;
            place(w, col, row, &up, &across);
            if (fabs(across) > INNER_M || up < low || up > high)
                continue;
            ++*of;
            count += ask(w, what, col, row) == BRANT_LANDFORM_YES;
        }
    return count;
}

/* Cells whose |up| (or |across|) lies within [low, high] all answer `expected`. */
static void all_are(world *w, int what, bool along, double low, double high,
                    brant_landform_answer expected)
{
    int looked = 0, wrong = 0;
    for (int row = 0; row < w->cols; row += step_of(w))
        for (int col = 0; col < w->cols; col += step_of(w)) {
            double up, across;
            place(w, col, row, &up, &across);
            double at = along ? up : fabs(across);
            if (fabs(up) > INNER_M || fabs(across) > INNER_M || at < low || at > high)
                continue;
            looked++;
            wrong += ask(w, what, col, row) != expected;
        }
    assert_true(looked > 0);
    if (wrong)
        fail_msg("%d of %d cells of %g m wrong: landform %d, %g to %g m, azimuth sine %g", wrong,
                 looked, w->cell, what, low, high, w->sine);
}

/* ---- cliffs ------------------------------------------------------------- */

static double step(double up, double across, double height)
{
    (void)across;
    return TAN(30) * up + (up > 0 ? height : 0);
}

static double plane(double up, double across, double degrees)
{
    (void)across;
    return TAN(degrees) * up;
}

/* The brink is a cliff, wherever a cell below it is beside it; a cell and a half up it is
 * not, and the foot is not. */
static void test_a_step_is_a_cliff(void **state)
{
    static const double heights[] = {12, 20, 60}; /* steeper than 55 degrees over a side */
    (void)state;
    for (int c = 0; c < EACH(cells); c++)
        for (int a = 0; a < EACH(azimuths); a++) {
            world w;
            make(&w, cells[c], azimuths[a], step, heights[c], false);
            double side = cells[c] < 5 ? 6 : cells[c]; /* whole cells, 5 m or more */
            double beside = side * fmax(fabs(w.sine), fabs(w.cosine));
            all_are(&w, CLIFF, true, 0.01, 0.99 * beside, BRANT_LANDFORM_YES);
            all_are(&w, CLIFF, true, 1.5 * side, INNER_M, BRANT_LANDFORM_NO);
            all_are(&w, CLIFF, true, -INNER_M, -0.01, BRANT_LANDFORM_NO);
            clear(&w);
        }
}

static double kerb(double up, double across, double height)
{
    (void)across;
    return up > 0 ? height : 0;
}

static void test_a_low_step_is_none(void **state)
{
    (void)state;
    for (int a = 0; a < EACH(azimuths); a++) {
        world w;
        make(&w, 5, azimuths[a], kerb, 9.5, false); /* steep enough */
        all_are(&w, CLIFF, true, -INNER_M, INNER_M, BRANT_LANDFORM_NO);
        clear(&w);
        make(&w, 5, azimuths[a], kerb, 10.5, false);
        all_are(&w, CLIFF, true, 0.01, 3, BRANT_LANDFORM_YES);
        clear(&w);
    }
}

static void test_steepness_alone(void **state)
{
    (void)state;
    for (int c = 0; c < EACH(cells); c++)
        for (int a = 0; a < EACH(azimuths); a++) {
            world w;
            make(&w, cells[c], azimuths[a], plane, 54.8, false);
            all_are(&w, CLIFF, true, -INNER_M, INNER_M, BRANT_LANDFORM_NO);
            clear(&w);
            make(&w, cells[c], azimuths[a], plane, 55.2, false);
            all_are(&w, CLIFF, true, -INNER_M, INNER_M, BRANT_LANDFORM_YES);
            clear(&w);
        }
}

/* ---- gullies ------------------------------------------------------------ */

static double vee(double up, double across, double wall)
{
    return TAN(20) * up + TAN(wall) * fabs(across);
}

static double saddle(double up, double across, double by)
{
    return by * (across * across - up * up);
}

/* In a V a cell `x` off the bottom has its far side (50 - 2x) tan(wall) above it. */
static void test_a_vee_is_a_gully(void **state)
{
    (void)state;
    for (int c = 0; c < EACH(cells); c++)
        for (int a = 0; a < EACH(azimuths); a++) {
            world w;
            make(&w, cells[c], azimuths[a], vee, 35, false);
            all_are(&w, GULLY, false, 0, 12, BRANT_LANDFORM_YES);
            all_are(&w, GULLY, false, 25, INNER_M, BRANT_LANDFORM_NO);
            clear(&w);
            make(&w, cells[c], azimuths[a], vee, 8, false); /* 7 m at 50 m */
            all_are(&w, GULLY, false, 0, INNER_M, BRANT_LANDFORM_NO);
            clear(&w);
        }
}

static void test_no_gully(void **state)
{
    (void)state;
    for (int c = 0; c < EACH(cells); c++)
        for (int a = 0; a < EACH(azimuths); a++) {
            world w;
            make(&w, cells[c], azimuths[a], saddle, 0.006, false); /* 15 m at 50 m */
            assert_int_equal(ask(&w, GULLY, w.cols / 2, w.cols / 2), BRANT_LANDFORM_NO);
            clear(&w);
            for (int deg = 0; deg <= 40; deg += 20) {
                make(&w, cells[c], azimuths[a], plane, deg, true);
                all_are(&w, GULLY, true, -INNER_M, INNER_M, BRANT_LANDFORM_NO);
                all_are(&w, CLIFF, true, -INNER_M, INNER_M, BRANT_LANDFORM_NO);
                all_are(&w, FLAT, true, -INNER_M, INNER_M, BRANT_LANDFORM_NO);
                clear(&w);
            }
        }
}

/* ---- flats -------------------------------------------------------------- */

static double lake(double up, double across, double degrees)
{
    (void)across;
    return up > 0 ? TAN(degrees) * up : 0;
}

static double bench(double up, double across, double width)
{
    (void)across;
    return TAN(35) * (up > 0 ? up : up > -width ? 0 : up + width);
}

static void test_a_lake(void **state)
{
    (void)state;
    for (int c = 0; c < EACH(cells); c++)
        for (int a = 0; a < EACH(azimuths); a++)
            for (int noisy = 0; noisy < 2; noisy++) {
                world w;
                make(&w, cells[c], azimuths[a], lake, 35, noisy);
                int of, count = count_of(&w, FLAT, -45, -20.5, &of);
                if (cells[c] < 20) /* larger cells show the slope's foot late */
                    all_are(&w, FLAT, true, -35, -20.5, BRANT_LANDFORM_YES);
                assert_true(count > 0 && 2 * count > of);
                all_are(&w, FLAT, true, 25, INNER_M, BRANT_LANDFORM_NO);
                all_are(&w, FLAT, true, -INNER_M, -82, BRANT_LANDFORM_NO);
                clear(&w);
            }
}

static void test_no_abrupt_flat(void **state)
{
    (void)state;
    for (int a = 0; a < EACH(azimuths); a++) {
        world w;
        make(&w, 2, azimuths[a], bench, 12, false); /* a road */
        all_are(&w, FLAT, true, -INNER_M, INNER_M, BRANT_LANDFORM_NO);
        clear(&w);
        make(&w, 10, azimuths[a], lake, 18, false); /* from a gentle slope */
        all_are(&w, FLAT, true, -INNER_M, INNER_M, BRANT_LANDFORM_NO);
        clear(&w);
    }
}

/* Steep ground counts only on the path, if there is one. */
static void test_a_path(void **state)
{
    (void)state;
    world w;
    make(&w, 10, 0, lake, 35, false);
    size_t count = (size_t)w.cols * (size_t)w.cols;
    uint8_t *path = calloc(count, 1);
    assert_non_null(path);
    int middle = w.cols / 2, row = middle + 3; /* north is up: 30 m below the slope's foot */
    assert_int_equal(brant_relief_flat(&w.relief, middle, row, NULL), BRANT_LANDFORM_YES);
    assert_int_equal(brant_relief_flat(&w.relief, middle, row, path), BRANT_LANDFORM_NO);
    memset(path, 1, count);
    assert_int_equal(brant_relief_flat(&w.relief, middle, row, path), BRANT_LANDFORM_YES);
    free(path);
    clear(&w);
}

/* ---- the unknown -------------------------------------------------------- */

/* Beside a void, and at the window's edge, nothing is ruled out. */
static void test_voids(void **state)
{
    (void)state;
    world w;
    make(&w, 10, 0, plane, 5, false);
    int middle = w.cols / 2;
    w.z[middle * w.cols + middle] = NAN;
    for (int what = CLIFF; what <= FLAT; what++) {
        assert_int_equal(ask(&w, what, middle, middle), BRANT_LANDFORM_UNKNOWN);
        /* a gully has two sides, and the other is known to be none */
        assert_int_equal(ask(&w, what, middle + 1, middle + 1),
                         what == GULLY ? BRANT_LANDFORM_NO : BRANT_LANDFORM_UNKNOWN);
        assert_int_equal(ask(&w, what, 0, 0), BRANT_LANDFORM_UNKNOWN);
        assert_int_equal(ask(&w, what, middle + 8, middle + 8), BRANT_LANDFORM_NO);
    }
    clear(&w);
    make(&w, 10, 0, vee, 35, false);
    assert_int_equal(ask(&w, GULLY, middle, middle), BRANT_LANDFORM_YES);
    for (int row = 0; row < w.cols; row++)
        for (int col = middle + 1; col < w.cols; col++)
            w.z[row * w.cols + col] = NAN;
    assert_int_equal(ask(&w, GULLY, middle, middle), BRANT_LANDFORM_UNKNOWN);
    clear(&w);
    make(&w, 10, 0, vee, 20, false); /* north, up the V, it may fall as from a saddle */
    memset(w.z, 0xff, (size_t)(middle + 2) * (size_t)w.cols * sizeof *w.z); /* NaN */
    assert_int_equal(ask(&w, GULLY, middle, middle + 5), BRANT_LANDFORM_UNKNOWN);
    assert_int_equal(ask(&w, GULLY, middle, middle + 8), BRANT_LANDFORM_YES);
    clear(&w);
}

static double flight(double up, double across, double rise)
{
    (void)across;
    return rise * fmin(fmax(ceil(up / 5), -2), 0); /* two steps of a cell each */
}

/* A steep face that goes on into a void two cells away may be a cliff. */
static void test_a_face_into_a_void(void **state)
{
    (void)state;
    world w;
    make(&w, 5, 0, flight, 8, false);
    int col = w.cols / 2, brink = 0;
    for (int row = 0; row + 1 < w.cols; row++)
        if (w.z[row * w.cols + col] - w.z[(row + 1) * w.cols + col] > 7.9f && brink == 0)
            brink = row;
    assert_int_equal(ask(&w, CLIFF, col, brink), BRANT_LANDFORM_YES);
    for (int c = 0; c < w.cols; c++)
        w.z[(brink + 2) * w.cols + c] = NAN;
    assert_int_equal(ask(&w, CLIFF, col, brink), BRANT_LANDFORM_UNKNOWN);
    assert_int_equal(ask(&w, CLIFF, col, brink - 2), BRANT_LANDFORM_NO);
    clear(&w);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(test_a_step_is_a_cliff), cmocka_unit_test(test_a_low_step_is_none),
        cmocka_unit_test(test_steepness_alone),   cmocka_unit_test(test_a_vee_is_a_gully),
        cmocka_unit_test(test_no_gully),          cmocka_unit_test(test_a_lake),
        cmocka_unit_test(test_no_abrupt_flat),    cmocka_unit_test(test_a_path),
        cmocka_unit_test(test_voids),             cmocka_unit_test(test_a_face_into_a_void),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
