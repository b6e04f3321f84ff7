/* The shadow against a published run-out rule: alpha = 0.96 beta - 1.4 degrees (Bakkehoi,
 * Domaas and Lied 1983, Annals of Glaciology 4:24-29, in its one-variable form), and the
 * four-variable form of Lied and Bakkehoi 1980 (Journal of Glaciology 26(94):165-177) for
 * the worked profile. beta is the angle from the profile's point of 10 degrees up to its
 * top; the rule's alpha is an angle from the top as well, so a shadow at that reach angle
 * must end where the rule says: the rule is measured here by the raster, not by the search.
 *
 * The profiles are parabolas z = H (1 - x / L)^2, flat from their vertex on; the worked
 * one, 1000 - 0.8 x + 0.00016 x^2, has H 1,000 m and L 2,500 m. */
#include "../unit/runout_world.h"

typedef struct parabola {
    double high_m, long_m, azimuth_deg;
} parabola;

static double along(const parabola *p, double east, double north)
{
    return 0.5 * p->long_m + east * sin(p->azimuth_deg * RAD) + north * cos(p->azimuth_deg * RAD);
}

static double across(const parabola *p, double east, double north)
{
    return east * cos(p->azimuth_deg * RAD) - north * sin(p->azimuth_deg * RAD);
}

static double profile(const parabola *p, double x)
{
    double t = 1.0 - fmax(0.0, fmin(x, p->long_m)) / p->long_m;
    return p->high_m * t * t;
}

static double height(const void *self, double east, double north)
{
    return profile(self, along(self, east, north));
}

/* Release: the uppermost 15 % of the profile. */
static bool release(const void *self, double east, double north)
{
    const parabola *p = self;
    double x = along(p, east, north);
    return x >= 0.0 && x <= 0.15 * p->long_m && fabs(across(p, east, north)) <= 150.0;
}

static double beta_deg(const parabola *p)
{
    /* slope 2 H / L (1 - x / L) is tan 10 degrees */
    double x = p->long_m * (1.0 - tan(10 * RAD) * p->long_m / (2.0 * p->high_m));
    return atan((p->high_m - profile(p, x)) / x) / RAD;
}

/* Where a line at `angle` from the top meets the profile. */
static double stop(const parabola *p, double angle)
{
    double t = tan(angle * RAD), x = p->long_m * (2.0 - t * p->long_m / p->high_m);
    return x > p->long_m ? p->high_m / t : x;
}

/* The furthest cell of the middle line that is reached at `angle`. */
static double furthest(const world *w, const parabola *p, const outcome *o, double angle)
{
    double last = -INFINITY;
    for (int r = 0; r < w->grid.rows; r++)
        for (int c = 0; c < w->grid.cols; c++) {
            double e, n;
            world_place(w, c, r, &e, &n);
            if (fabs(across(p, e, n)) <= 0.75 * brant_matrix_cell_height(&w->m) &&
                o->reached[(size_t)r * (size_t)w->grid.cols + (size_t)c] >= (float)angle)
                last = fmax(last, along(p, e, n));
        }
    return last;
}

static void check(parabola p, double cell, bool geographic, const double *angles, int count)
{
    double second = 1.0 / 3600.0, transform[6] = {10.0, second, 0.0, 46.5, 0.0, -second};
    int rows = 2 * (int)ceil(0.85 * p.long_m / cell) + 1;
    world w;
    if (geographic)
        world_open_on(&w, "EPSG:4326", transform, rows * 3 / 2, rows, height, &p);
    else
        world_open(&w, cell, rows, height, &p);
    outcome o = world_search(&w, release, &p);
    for (int i = 0; i < count; i++)
        assert_float_equal(furthest(&w, &p, &o, angles[i]), stop(&p, angles[i]), 1.5 * cell);
    free(o.reached);
    world_close(&w);
}

/* beta 26.0199 degrees, so alpha 23.579, and the stop at 2,272.2 m; one standard deviation
 * (2.3 degrees) longer 21.279 and 2,567.6 m. Lied and Bakkehoi 1980 give 22.133 and 2,457.9 m.
 * Worked by hand from the formulas. */
static void test_worked_profile(void **state)
{
    (void)state;
    parabola p = {1000.0, 2500.0, 53.0};
    double angles[] = {0.96 * beta_deg(&p) - 1.4, 0.96 * beta_deg(&p) - 3.7, 22.133};
    assert_float_equal(beta_deg(&p), 26.0199, 1e-4);
    assert_float_equal(stop(&p, angles[0]), 2272.2, 0.1);
    assert_float_equal(stop(&p, angles[1]), 2567.6, 0.1);
    assert_float_equal(stop(&p, angles[2]), 2457.9, 0.1);
    check(p, 10.0, false, angles, 3);
    p.azimuth_deg = 107.0;
    check(p, 10.0, false, angles, 3);
    check(p, 30.0, false, angles, 3);
    check(p, 31.0, true, angles, 3);
    p.azimuth_deg = 341.0;
    check(p, 5.0, false, angles, 3);
}

static void test_other_parabolas(void **state)
{
    (void)state;
    static const parabola profiles[] = {{600.0, 1400.0, 19.0}, {900.0, 2000.0, 128.0},
                                        {1400.0, 3600.0, 247.0}};
    for (size_t i = 0; i < 3; i++) {
        double alpha = 0.96 * beta_deg(&profiles[i]) - 1.4;
        assert_true(alpha > 20.0 && alpha < 35.0);
        check(profiles[i], 10.0, false, &alpha, 1);
    }
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(test_worked_profile),
        cmocka_unit_test(test_other_parabolas),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
