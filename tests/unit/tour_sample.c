/* Sampling: along geodesics, no further apart than asked, lengths exact. */
#include "tour_scene.h"

#include <geodesic.h>

/* WGS 84's semi-major axis and its quarter meridian (Karney, GeographicLib's
 * documentation: 10001965.729 m). */
#define WGS84_A 6378137.0
#define WGS84_F (1 / 298.257223563)
#define QUARTER_MERIDIAN 10001965.729

#define COUNT(array) (sizeof(array) / sizeof(array)[0])

static int setup(void **state)
{
    scene *s = malloc(sizeof *s);
    if (!s)
        return -1;
    scene_open(s, 100, 100, NULL);
    *state = s;
    return 0;
}

static int teardown(void **state)
{
    scene_close(*state);
    free(*state);
    return 0;
}

static brant_gpx one_segment(const brant_gpx_point *points, size_t count,
                             brant_gpx_segment *segment, brant_gpx_route *route)
{
    *segment = (brant_gpx_segment){.count = count};
    *route = (brant_gpx_route){.segments = 1};
    return (brant_gpx){.points = (brant_gpx_point *)points, .point_count = count,
                       .segments = segment, .segment_count = 1, .routes = route, .route_count = 1};
}

static void sample(scene *s, const brant_gpx_point *points, size_t count, double step_m,
                   brant_track *track)
{
    brant_gpx_segment segment;
    brant_gpx_route route;
    brant_gpx gpx = one_segment(points, count, &segment, &route);
    must(&s->ctx, brant_track_sample(&s->ctx, &gpx, 0, s->locator, step_m, track));
}

static double proj_distance(const brant_sample *a, const brant_sample *b)
{
    struct geod_geodesic earth;
    double metres;
    geod_init(&earth, WGS84_A, WGS84_F);
    geod_inverse(&earth, a->lat, a->lon, b->lat, b->lon, &metres, NULL, NULL);
    return metres;
}

/* A degree of the equator is a * pi / 180; pole and antimeridian on the way. */
static void test_published_lengths(void **state)
{
    scene *s = *state;
    brant_track track;
    sample(s, (brant_gpx_point[]){{9, 0}, {10, 0}}, 2, 100, &track);
    assert_close(track.length_m, WGS84_A * M_PI / 180, 1e-6);
    brant_track_clear(&track);
    sample(s, (brant_gpx_point[]){{9, 0}, {9, 90}, {-171, 0}}, 3, 5000, &track);
    assert_close(track.length_m, 2 * QUARTER_MERIDIAN, 2e-3);
    brant_track_clear(&track);
    sample(s, (brant_gpx_point[]){{179.5, 0}, {-179.5, 0}, {180, 0}, {-180, 0}}, 4, 100, &track);
    assert_close(track.length_m, 1.5 * WGS84_A * M_PI / 180, 1e-6);
    assert_int_equal(track.points, 3); /* 180 and -180 are one place */
    brant_track_clear(&track);
}

/* Against PROJ's geodesics: the steps, and where they lie. */
static void test_samples(void **state)
{
    scene *s = *state;
    static const brant_gpx_point points[] = {
        {9.0, 46.5},      {9.001, 46.5005}, {9.001, 46.5005}, {9.0010001, 46.5005},
        {9.0075, 46.499}, {9.0073, 46.503}, {8.999, 46.50301}};
    brant_track track;
    const double step = 7;
    double sum = 0;
    size_t vertex = 0;
    sample(s, points, COUNT(points), step, &track);
    assert_int_equal(track.points, 6);
    for (size_t i = 0; i < track.count; i++) {
        const brant_sample *at = &track.samples[i];
        assert_int_equal(at->first, i == 0);
        if (i > 0) {
            double metres = proj_distance(at - 1, at);
            assert_true(metres <= step + 1e-9 && metres > 0);
            assert_close(at->along_m - at[-1].along_m, metres, 1e-7);
            sum += metres;
        }
        while (vertex < COUNT(points) && at->lon == points[vertex].lon &&
               at->lat == points[vertex].lat)
            vertex++; /* every GPX point is a sample, in order */
        double col, row;
        brant_locator_to_grid(s->locator, at->lon, at->lat, &col, &row);
        assert_true(at->col == col && at->row == row);
    }
    assert_int_equal(vertex, COUNT(points));
    assert_close(track.length_m, sum, 1e-6);
    assert_true(track.samples[track.count - 1].along_m == track.length_m);
    assert_string_equal(track.name, "route 1");
    /* no more samples than needed: whole steps on each of the five stretches */
    assert_true((double)track.count <= sum / step + 6);
    brant_track_clear(&track);
}

static void test_segments(void **state)
{
    scene *s = *state;
    brant_gpx_point points[] = {{9, 46}, {9, 46},    {9, 46},              /* goes nowhere */
                                {9, 46}, {9, 46.01}, {9, 46.01},           /* 0.01 degrees */
                                {8, 45},                                   /* one point */
                                {9, 47}, {9, 47.01}};                      /* after a gap */
    brant_gpx_segment segments[] = {{0, 3}, {3, 0}, {3, 3}, {6, 1}, {7, 2}};
    brant_gpx_route routes[] = {{.name = (char *)"", .segments = 1},
                                {.name = (char *)"Tallis Horn", .first_segment = 1, .segments = 4}};
    brant_gpx gpx = {.points = points, .point_count = COUNT(points), .segments = segments,
                     .segment_count = COUNT(segments), .routes = routes, .route_count = 2};
    brant_track track;
    must(&s->ctx, brant_track_sample(&s->ctx, &gpx, 0, s->locator, 50, &track));
    assert_int_equal(track.count, 0);
    assert_int_equal(track.points, 0);
    assert_string_equal(track.name, "route 1");
    brant_track_clear(&track);

    must(&s->ctx, brant_track_sample(&s->ctx, &gpx, 1, s->locator, 50, &track));
    assert_string_equal(track.name, "Tallis Horn");
    assert_int_equal(track.points, 4);
    size_t starts = 0, second = 0;
    for (size_t i = 0; i < track.count; i++) {
        starts += track.samples[i].first;
        second = track.samples[i].first ? i : second;
    }
    assert_int_equal(starts, 2);
    assert_true(track.samples[second].along_m == track.samples[second - 1].along_m);
    assert_close(track.length_m,
                       proj_distance(&track.samples[0], &track.samples[second - 1]) +
                           proj_distance(&track.samples[second], &track.samples[track.count - 1]),
                       1e-6);
    brant_track_clear(&track);
}

/* Half-way round the world in steps of a centimetre is refused at once. */
static void test_too_long(void **state)
{
    scene *s = *state;
    brant_gpx_segment segment;
    brant_gpx_route route;
    brant_gpx_point points[] = {{0, 0}, {90, 0}};
    brant_gpx gpx = one_segment(points, 2, &segment, &route);
    gpx.file = "far.gpx";
    brant_track track;
    assert_int_equal(brant_track_sample(&s->ctx, &gpx, 0, s->locator, 0.01, &track),
                     BRANT_ERR_INPUT);
    assert_string_equal(brant_message(&s->ctx),
                        "far.gpx: route 1: too long: it needs more than 150000 samples 0.01 m apart");
    assert_null(track.samples);
}

#define CASE(name) cmocka_unit_test_setup_teardown(name, setup, teardown)

int main(void)
{
    const struct CMUnitTest tests[] = {
        CASE(test_published_lengths),
        CASE(test_samples),
        CASE(test_segments),
        CASE(test_too_long),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
