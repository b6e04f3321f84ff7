/* Horn's estimate on surfaces whose slope is known by formula.
 *
 * Gaussian hill: z = 500 exp(-(x2+y2)/(2*300^2)). Ellipsoid x2/400^2 + y2/300^2 +
 * z2/300^2 = 1: Zhou & Liu 2004, Computers & Geosciences 30(4):369-378 (form of
 * the surface; parameters from memory). The synthetic surface: same paper. The
 * errors expected were computed from the formulas with another program in double
 * precision; Horn's error must fall as the square of the cell. */
#include "terrain_world.h"

typedef struct formula {
    surface z;
    void (*gradient)(double x, double y, double *east, double *north);
    double reach;      /* the grid's cells lie within |x|, |y| up to here, metres */
    double every;      /* 0: all of them are compared; else those at multiples of this */
    double least;      /* degrees of slope from which cells are compared */
} formula;

static double hill_at(const void *self, double x, double y)
{
    (void)self;
    return 500.0 * exp(-(x * x + y * y) / (2.0 * 300.0 * 300.0));
}

static void hill_gradient(double x, double y, double *east, double *north)
{
    double z = hill_at(NULL, x, y);
    *east = -x / (300.0 * 300.0) * z;
    *north = -y / (300.0 * 300.0) * z;
}

static double ellipsoid_at(const void *self, double x, double y)
{
    (void)self;
    return 300.0 * sqrt(1.0 - x * x / (400.0 * 400.0) - y * y / (300.0 * 300.0));
}

static void ellipsoid_gradient(double x, double y, double *east, double *north)
{
    double z = ellipsoid_at(NULL, x, y);
    *east = -300.0 * 300.0 / (400.0 * 400.0) * x / z;
    *north = -y / z;
}

/* Times 100; z of u = x/500, v = y/500. */
static double synthetic_at(const void *self, double x, double y)
{
    double u = x / 500.0, v = y / 500.0;
    (void)self;
    return 100.0 * (3.0 * (1 - u) * (1 - u) * exp(-u * u - (v + 1) * (v + 1)) -
                    10.0 * (0.2 * u - u * u * u - pow(v, 5)) * exp(-u * u - v * v) -
                    exp(-(u + 1) * (u + 1) - v * v) / 3.0);
}

static void synthetic_gradient(double x, double y, double *east, double *north)
{
    double u = x / 500.0, v = y / 500.0;
    double a = exp(-u * u - (v + 1) * (v + 1)), b = exp(-u * u - v * v);
    double c = exp(-(u + 1) * (u + 1) - v * v), inner = 0.2 * u - u * u * u - pow(v, 5);
    double du = 3.0 * a * (-2.0 * (1 - u) - 2.0 * u * (1 - u) * (1 - u)) -
                10.0 * b * (0.2 - 3.0 * u * u - 2.0 * u * inner) + 2.0 / 3.0 * (u + 1) * c;
    double dv = -6.0 * a * (v + 1) * (1 - u) * (1 - u) -
                10.0 * b * (-5.0 * pow(v, 4) - 2.0 * v * inner) + 2.0 / 3.0 * v * c;
    *east = 100.0 / 500.0 * du;
    *north = 100.0 / 500.0 * dv;
}

static const formula hill = {hill_at, hill_gradient, 900.0, 0.0, 1.0};
static const formula ellipsoid = {ellipsoid_at, ellipsoid_gradient, 150.0, 0.0, 0.0};
static const formula points = {ellipsoid_at, ellipsoid_gradient, 160.0, 20.0, 0.0};
static const formula synthetic = {synthetic_at, synthetic_gradient, 1000.0, 0.0, 0.0};

typedef struct errors {
    double slope_rmse, slope_max, aspect_rmse;
} errors;

static bool at_multiple(double x, double every)
{
    return every == 0.0 || fabs(remainder(x, every)) < 1e-6;
}

/* The grid is centred on the origin; its outermost cells have no slope. */
static errors errors_of(const formula *f, double cell)
{
    const int size = (int)(2.0 * f->reach / cell) + 1;
    double sum = 0.0, aspects = 0.0;
    errors e = {0};
    size_t n = 0;
    world w;
    world_open_local(&w, cell, size, size);
    world_lay_local(&w, f->z, NULL);
    brant_field field = world_field(&w, false);
    for (int r = 1; r < size - 1; r++)
        for (int c = 1; c < size - 1; c++) {
            double x = (c + 0.5 - size / 2.0) * cell, y = (size / 2.0 - r - 0.5) * cell;
            double east, north;
            f->gradient(x, y, &east, &north);
            double slope = atan(hypot(east, north)) / RADIANS;
            size_t i = (size_t)r * (size_t)size + (size_t)c;
            double off = field.slope[i] - slope;
            if (!(slope > f->least) || !at_multiple(x, f->every) || !at_multiple(y, f->every))
                continue;
            double turned = turn(field.aspect[i], atan2(-east, -north) / RADIANS);
            sum += off * off;
            aspects += turned * turned;
            e.slope_max = fmax(e.slope_max, fabs(off));
            n++;
        }
    e.slope_rmse = sqrt(sum / (double)n);
    e.aspect_rmse = sqrt(aspects / (double)n);
    brant_field_clear(&field);
    world_close(&w);
    return e;
}

static void expect(const char *what, double cell, double is, double expected, double unit)
{
    if (!(fabs(is - expected) <= unit))
        fail_msg("%s at %g m: %.5f, expected %.4f", what, cell, is, expected);
}

static void expect_fourfold(const char *what, double fine, double coarse)
{
    if (!(fabs(coarse / fine - 4.0) <= 0.1))
        fail_msg("%s: %.5f to %.5f is a ratio of %.3f", what, fine, coarse, coarse / fine);
}

static void test_gaussian_hill(void **state)
{
    static const double cells[] = {5.0, 10.0, 20.0, 30.0};
    static const errors expected[] = {{0.0022, 0.0054, 0.0014},
                                      {0.0087, 0.0217, 0.0057},
                                      {0.0351, 0.0865, 0.0227},
                                      {0.0791, 0.1943, 0.0502}};
    errors got[4];
    (void)state;
    for (int i = 0; i < 4; i++) {
        got[i] = errors_of(&hill, cells[i]);
        expect("hill, slope RMSE", cells[i], got[i].slope_rmse, expected[i].slope_rmse, 1e-4);
        expect("hill, slope max", cells[i], got[i].slope_max, expected[i].slope_max, 2e-4);
        expect("hill, aspect RMSE", cells[i], got[i].aspect_rmse, expected[i].aspect_rmse, 2e-4);
    }
    for (int i = 0; i < 2; i++) {
        expect_fourfold("hill, slope RMSE", got[i].slope_rmse, got[i + 1].slope_rmse);
        expect_fourfold("hill, slope max", got[i].slope_max, got[i + 1].slope_max);
    }
}

static void test_ellipsoid(void **state)
{
    static const double cells[] = {5.0, 10.0, 20.0}, rmse[] = {0.0044, 0.0170, 0.0641};
    (void)state;
    for (int i = 0; i < 3; i++)
        expect("ellipsoid, slope RMSE", cells[i], errors_of(&ellipsoid, cells[i]).slope_rmse,
               rmse[i], 1e-4);
    for (int i = 0; i < 2; i++) { /* at the same points */
        errors fine = errors_of(&points, cells[i]), coarse = errors_of(&points, cells[i + 1]);
        expect_fourfold("ellipsoid, slope RMSE", fine.slope_rmse, coarse.slope_rmse);
        expect_fourfold("ellipsoid, slope max", fine.slope_max, coarse.slope_max);
    }
}

static void test_synthetic(void **state)
{
    static const double cells[] = {10.0, 20.0};
    static const errors expected[] = {{0.0172, 0.0544, 0}, {0.0689, 0.2131, 0}};
    (void)state;
    for (int i = 0; i < 2; i++) {
        errors got = errors_of(&synthetic, cells[i]);
        expect("synthetic, slope RMSE", cells[i], got.slope_rmse, expected[i].slope_rmse, 1e-4);
        expect("synthetic, slope max", cells[i], got.slope_max, expected[i].slope_max, 2e-4);
    }
}

/* Values at points, by the formulas. */
static void test_formulas(void **state)
{
    double east, north;
    (void)state;
    hill_gradient(300.0, 0.0, &east, &north);
    assert_true(fabs(atan(hypot(east, north)) / RADIANS - 45.310125) < 1e-6);
    assert_true(fabs(ellipsoid_at(NULL, 100.0, 100.0) - 272.717803) < 1e-6);
    ellipsoid_gradient(100.0, 100.0, &east, &north);
    assert_true(fabs(atan(hypot(east, north)) / RADIANS - 22.816913) < 1e-6);
    assert_true(turn(atan2(-east, -north) / RADIANS, 29.357754) < 1e-6);
    for (double x = -900.0; x < 1000.0; x += 130.0) { /* against differences */
        synthetic_gradient(x, 0.3 * x + 50.0, &east, &north);
        double e = synthetic_at(NULL, x + 0.01, 0.3 * x + 50.0) -
                   synthetic_at(NULL, x - 0.01, 0.3 * x + 50.0);
        double n = synthetic_at(NULL, x, 0.3 * x + 50.01) - synthetic_at(NULL, x, 0.3 * x + 49.99);
        assert_true(fabs(e / 0.02 - east) < 1e-6 && fabs(n / 0.02 - north) < 1e-6);
    }
}

/* What a file keeps of angles: 1/128 of a degree, cut off; nodata for void. */
static void test_kept(void **state)
{
    (void)state;
    static const float given[] = {0,    30,   29.9999f, 30.0077f, 30.0079f,
                                  45.5f, 359.9999f, NAN, BRANT_NODATA, 89.004f};
    static const float kept[] = {0,    30,   29 + 127 / 128.0f, 30, 30 + 1 / 128.0f,
                                 45.5f, 359 + 127 / 128.0f, BRANT_NODATA, BRANT_NODATA, 89};
    float angles[10];
    for (int n = 0; n <= 10; n++) { /* and nothing beyond the row */
        memcpy(angles, given, sizeof angles);
        brant_kept_row(angles, n);
        for (int i = 0; i < 10; i++)
            assert_true(same_number(angles[i], i < n ? kept[i] : given[i]));
    }
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(test_kept),
        cmocka_unit_test(test_formulas),
        cmocka_unit_test(test_gaussian_hill),
        cmocka_unit_test(test_ellipsoid),
        cmocka_unit_test(test_synthetic),
    };
    return cmocka_run_group_tests_name("terrain_surfaces", tests, NULL, NULL);
}
