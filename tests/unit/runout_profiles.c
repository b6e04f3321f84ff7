/* The runout shadow on surfaces whose answer geometry gives: ramps, the parabola,
 * counter-slopes, terraces, at many azimuths and cell sizes. */
#include "runout_world.h"

/* A profile along the fall line, laid out at an azimuth. `along` is the ground
 * distance from the middle of the grid in the downhill direction, plus `origin`. */
typedef struct profile {
    double azimuth_deg, origin;
    double (*height)(double s);
    double start_from, start_to; /* starts where s is in here */
    double half_width;           /* ... and this close to the middle line; 0: all */
} profile;

static double along(const profile *p, double east, double north)
{
    return p->origin + east * sin(p->azimuth_deg * RAD) + north * cos(p->azimuth_deg * RAD);
}

static double across(const profile *p, double east, double north)
{
    return east * cos(p->azimuth_deg * RAD) - north * sin(p->azimuth_deg * RAD);
}

static double profile_height(const void *self, double east, double north)
{
    const profile *p = self;
    return p->height(along(p, east, north));
}

static bool profile_start(const void *self, double east, double north)
{
    const profile *p = self;
    double s = along(p, east, north);
    return s >= p->start_from && s <= p->start_to &&
           (p->half_width == 0.0 || fabs(across(p, east, north)) <= p->half_width);
}

/* Where a line falling at `angle` from the profile at `from` meets the profile. */
static double line_stop(const profile *p, double from, double angle)
{
    double s = from + 1.0;
    while (p->height(from) - (s - from) * tan(angle * RAD) > p->height(s))
        s += 0.01;
    return s;
}

/* How far down the middle line the shadow at `angle` goes, less how far the line from
 * its highest start goes: metres too long (positive) or too short. No cell before the
 * last may be missing. */
static double excess(const world *w, const profile *p, const outcome *o, double angle)
{
    double cell = brant_matrix_cell_width(&w->m), first = INFINITY, last = -INFINITY;
    double gap = INFINITY;
    for (int r = 0; r < w->grid.rows; r++)
        for (int c = 0; c < w->grid.cols; c++) {
            double e, n;
            world_place(w, c, r, &e, &n);
            double s = along(p, e, n);
            float reached = o->reached[(size_t)r * (size_t)w->grid.cols + (size_t)c];
            if (fabs(across(p, e, n)) > 0.75 * cell || s < p->start_from)
                continue;
            if (profile_start(p, e, n))
                first = fmin(first, s);
            if (reached >= angle)
                last = fmax(last, s);
            else
                gap = fmin(gap, s);
        }
    assert_true(gap > last - 1.5 * cell);
    return last - line_stop(p, first, angle);
}

static double ramp35(double s) /* 35 degrees over 1,000 m, then flat */
{
    return s < 0.0 ? tan(35 * RAD) * 1000 : s > 1000.0 ? 0.0 : tan(35 * RAD) * (1000.0 - s);
}

/* Drop 700.21 m; at 25 degrees the line stops 1,501.60 m from the top: plain geometry,
 * drop / tan(reach angle). */
static void test_ramp_at_azimuths(void **state)
{
    (void)state;
    static const double angles[] = {30.0, 25.0, 20.0};
    for (double azimuth = 0.0; azimuth <= 97.5; azimuth += 7.5) {
        profile p = {azimuth, 1000.0, ramp35, 0.0, 1000.0, 400.0};
        world w;
        assert_float_equal(line_stop(&p, 0.0, 25.0), 1501.60, 0.02);
        world_open(&w, 10.0, 420, profile_height, &p);
        outcome o = world_search(&w, profile_start, &p);
        for (int i = 0; i < 3; i++)
            assert_float_equal(excess(&w, &p, &o, angles[i]), 0.0, 10.0);
        free(o.reached);
        world_close(&w);
    }
}

/* z = 1000 - 0.8 x + 0.00016 x^2, flat from its vertex at 2,500 m on. A line at 25
 * degrees from the top stops at 2,085.58 m (the quadratic solved); at 23.579 degrees,
 * which is 0.96 beta - 1.4 with beta = 26.02 (Bakkehoi, Domaas and Lied 1983, the
 * one-variable form), at 2,272.2 m. */
static double parabola(double s)
{
    return s < 0.0 ? 1000.0 : s > 2500.0 ? 0.0 : 1000.0 - 0.8 * s + 0.00016 * s * s;
}

/* A ramp that keeps its shape whatever the cell: 35 degrees over 100 cells. */
static double ramp_scale;
static double scaled_ramp(double s)
{
    return ramp_scale * ramp35(s / ramp_scale);
}

/* The same metres on small and large cells, and on a geographic grid whose cells are
 * 21 m by 31 m: within one cell of drop / tan(reach angle), at odd azimuths. */
static void test_ramp_on_grids(void **state)
{
    (void)state;
    double second = 1.0 / 3600.0;
    double geographic[6] = {10.0, second, 0.0, 46.5, 0.0, -second};
    struct { double cell; bool geographic; } grids[] = {{2, 0}, {10, 0}, {30, 0}, {31, 1}};
    for (size_t g = 0; g < sizeof grids / sizeof *grids; g++)
        for (double azimuth = 4.0; azimuth < 360.0; azimuth += 49.0) {
            ramp_scale = grids[g].cell / 10.0;
            profile p = {azimuth, 1000.0 * ramp_scale, scaled_ramp, 0.0, 1000.0 * ramp_scale,
                         400.0 * ramp_scale};
            world w;
            if (grids[g].geographic)
                world_open_on(&w, "EPSG:4326", geographic, 600, 420, profile_height, &p);
            else
                world_open(&w, grids[g].cell, 420, profile_height, &p);
            outcome o = world_search(&w, profile_start, &p);
            assert_float_equal(excess(&w, &p, &o, 25.0), 0.0, grids[g].cell);
            free(o.reached);
            world_close(&w);
        }
}

static void test_parabola(void **state)
{
    (void)state;
    for (double azimuth = 3.0; azimuth <= 93.0; azimuth += 30.0) {
        /* 30 degrees and more down to s = (0.8 - tan 30) / 0.00032 = 695.8 */
        profile p = {azimuth, 1300.0, parabola, 0.0, 695.8, 300.0};
        world w;
        assert_float_equal(line_stop(&p, 0.0, 25.0), 2085.58, 0.02);
        assert_float_equal(line_stop(&p, 0.0, 23.579), 2272.2, 0.1);
        world_open(&w, 10.0, 440, profile_height, &p);
        outcome o = world_search(&w, profile_start, &p);
        assert_float_equal(excess(&w, &p, &o, 25.0), 0.0, 10.0);
        assert_float_equal(excess(&w, &p, &o, 23.579), 0.0, 10.0);
        free(o.reached);
        world_close(&w);
    }
}

static double counter_slope_deg;
static double counter(double s) /* ramp of 35 degrees, 600 m; flat 200 m; up again */
{
    if (s < 0.0)
        return tan(35 * RAD) * 600;
    if (s < 600.0)
        return tan(35 * RAD) * (600.0 - s);
    return s < 800.0 ? 0.0 : (s - 800.0) * tan(counter_slope_deg * RAD);
}

static void test_counter_slope(void **state)
{
    (void)state;
    static const double up[] = {8.0, 30.0, 60.0};
    for (size_t i = 0; i < 3; i++)
        for (double azimuth = 10.0; azimuth < 100.0; azimuth += 22.0) {
            counter_slope_deg = up[i];
            profile p = {azimuth, 500.0, counter, 0.0, 600.0, 200.0};
            world w;
            world_open(&w, 10.0, 300, profile_height, &p);
            outcome o = world_search(&w, profile_start, &p);
            assert_float_equal(excess(&w, &p, &o, 25.0), 0.0, 10.0);
            free(o.reached);
            world_close(&w);
        }
}

/* One start on a plane: the fan's half-angles, and that it has no holes. */
static double plane_slope_deg = 35.0, noise_m;
static uint32_t noise_state;
static double plane_height(const void *self, double east, double north)
{
    const profile *p = self;
    noise_state = noise_state * 1664525u + 1013904223u;
    double a = (noise_state >> 8) / 16777216.0;
    noise_state = noise_state * 1664525u + 1013904223u;
    double b = (noise_state >> 8) / 16777216.0;
    double gauss = sqrt(-2.0 * log(a + 1e-9)) * cos(2 * M_PI * b);
    return 3000.0 - along(p, east, north) * tan(plane_slope_deg * RAD) + noise_m * gauss;
}

static bool at_middle(const void *self, double east, double north)
{
    double half = *(const double *)((const char *)self + sizeof(profile));
    return fabs(east) < half && fabs(north) < half;
}

static void fan(double azimuth, double cell, double from, double to, double *left, double *right,
                size_t *holes, double *count)
{
    struct { profile p; double half; } q = {{azimuth, 0.0, NULL, 0, 0, 0}, cell * 0.5};
    world w;
    world_open(&w, cell, (int)(2.6 * to / cell) | 1, plane_height, &q);
    outcome o = world_search(&w, at_middle, &q);
    *left = *right = 0.0;
    *holes = 0;
    *count = (double)o.count;
    for (int r = 0; r < w.grid.rows; r++)
        for (int c = 0; c < w.grid.cols; c++) {
            double e, n;
            world_place(&w, c, r, &e, &n);
            double d = hypot(e, n), off = remainder(atan2(e, n) / RAD - azimuth, 360.0);
            if (d < from || d > to)
                continue;
            if (o.reached[(size_t)r * (size_t)w.grid.cols + (size_t)c] >= 25.0f) {
                *left = fmin(*left, off);
                *right = fmax(*right, off);
            } else if (fabs(off) < 18.0) {
                ++*holes;
            }
        }
    free(o.reached);
    world_close(&w);
}

static void test_fan(void **state)
{
    (void)state;
    noise_m = 0.0;
    for (double azimuth = 0.0; azimuth < 360.0; azimuth += 11.0) {
        double left, right, count;
        size_t holes;
        fan(azimuth, 10.0, 400.0, 800.0, &left, &right, &holes, &count);
        assert_true(left >= -22.0 && left <= -18.0 && right <= 22.0 && right >= 18.0);
        assert_int_equal(holes, 0);
    }
}

static void test_fan_on_noise(void **state)
{
    (void)state;
    noise_m = 0.5;
    for (double azimuth = 0.0; azimuth < 360.0; azimuth += 11.0) {
        double left, right, count;
        size_t holes;
        noise_state = (uint32_t)azimuth + 7u;
        fan(azimuth, 10.0, 400.0, 800.0, &left, &right, &holes, &count);
        assert_true(left >= -25.0 && left <= -15.0 && right <= 25.0 && right >= 15.0);
    }
    noise_m = 0.0;
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(test_ramp_at_azimuths),
        cmocka_unit_test(test_ramp_on_grids),
        cmocka_unit_test(test_parabola),
        cmocka_unit_test(test_counter_slope),
        cmocka_unit_test(test_fan),
        cmocka_unit_test(test_fan_on_noise),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
