/* A line in straight sections. Expected turns by construction; lines on the equator, where
 * a degree is the same east and north but for the earth's flattening. */
#include "report_tour.h"

#include "../../src/report/sheet.h"

#define METRES(value) ((value) / 111200.0)

static size_t sections_of(const brant_read_point *points, size_t count, double tolerance_m,
                          size_t *turns)
{
    brant_context ctx;
    size_t found = 99;
    brant_context_init(&ctx);
    assert_int_equal(brant_sections(&ctx, points, 0, count, tolerance_m, turns, &found), BRANT_OK);
    brant_context_clear(&ctx);
    return found;
}

/* East 1 km, then north 500 m, a point every 100 m, each off the line by up to 20 m. */
static size_t make_corner(brant_read_point *points, double lon0)
{
    size_t count = 0;
    memset(points, 0, 32 * sizeof *points);
    for (int i = 0; i <= 10; i++, count++) {
        points[count].lon = lon0 + METRES(i * 100.0);
        points[count].lat = i % 2 && i < 10 ? METRES(20.0) : 0;
    }
    for (int i = 1; i <= 5; i++, count++) {
        points[count].lon = lon0 + METRES(1000.0);
        points[count].lat = METRES(i * 100.0);
    }
    for (size_t i = 0; i < count; i++)
        if (points[i].lon >= 180)
            points[i].lon -= 360;
    return count;
}

/* No point is further than the tolerance from the line through its section's ends. */
static void assert_within(const brant_read_point *points, const size_t *turns, size_t found,
                          double tolerance_m)
{
    for (size_t k = 1; k < found; k++) {
        const brant_read_point *a = &points[turns[k - 1]], *b = &points[turns[k]];
        double east = remainder(b->lon - a->lon, 360), north = b->lat - a->lat;
        for (size_t i = turns[k - 1]; i <= turns[k]; i++) {
            double x = remainder(points[i].lon - a->lon, 360), y = points[i].lat - a->lat;
            double off = fabs(x * north - y * east) / hypot(east, north);
            assert_true(off * 111200 <= tolerance_m + 0.01);
        }
    }
}

static void test_a_corner(void **state)
{
    (void)state;
    brant_read_point points[32];
    size_t turns[32];
    static const double starts[] = {7.5, 179.995}; /* and across the antimeridian */
    for (int i = 0; i < 2; i++) {
        size_t count = make_corner(points, starts[i]);
        assert_int_equal(sections_of(points, count, 25, turns), 3);
        assert_int_equal(turns[0], 0);
        assert_int_equal(turns[1], 10);
        assert_int_equal(turns[2], count - 1);
        size_t found = sections_of(points, count, 15, turns); /* some of the wiggles */
        assert_true(found > 6 && found < count);
        assert_within(points, turns, found, 15);
    }
}

/* Out and back: the ends are one place, the turn lies between. */
static void test_out_and_back(void **state)
{
    (void)state;
    brant_read_point points[3] = {{.lon = 1, .lat = 0}, {.lon = 1.01, .lat = 0},
                                  {.lon = 1, .lat = 0}};
    size_t turns[3];
    assert_int_equal(sections_of(points, 3, 25, turns), 3);
    assert_int_equal(turns[1], 1);
}

/* Beyond the end of a section is off it, though it is on its line. */
static void test_overshoot(void **state)
{
    (void)state;
    brant_read_point points[3] = {{.lon = 0}, {.lon = METRES(400.0)}, {.lon = METRES(300.0)}};
    size_t turns[3];
    assert_int_equal(sections_of(points, 3, 25, turns), 3);
}

static void test_too_short(void **state)
{
    (void)state;
    brant_read_point points[1] = {{.lon = 0}};
    size_t turns[1];
    assert_int_equal(sections_of(points, 1, 25, turns), 0);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(test_a_corner),
        cmocka_unit_test(test_out_and_back),
        cmocka_unit_test(test_overshoot),
        cmocka_unit_test(test_too_short),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
