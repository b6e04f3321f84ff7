/* The ground that the limit considers, leg by leg, on heights whose slopes are known: a ridge
 * like a roof, a cone, and slopes that fall south. Rules: slope_ground.h. */
#include "tour_scene.h"

#include "../../src/tour/slope_ground.h"

enum { SIDE = 100 };
#define TRACK_SLOPE 31.0f /* of the meeting's field in zone 1: beside the track */

/* Walked eastwards on row 50. The source has heights of its own, so that what it tells is not
 * what the field does: 5 degrees everywhere, but in zone 1. */
typedef struct ground_scene {
    scene s;
    brant_source source;
    float z[SIDE * SIDE];
    brant_tour tour;
    brant_leg_ground *legs;
    float *track_deg;
} ground_scene;

/* Zone 1 in columns 30-39, from row `row` on, as high. */
static void open_scene(ground_scene *g, int row, int rows)
{
    memset(g, 0, sizeof *g);
    scene_open(&g->s, SIDE, SIDE, NULL);
    scene_zone(&g->s, 1, 5000, 5000);
    scene_zone(&g->s, 2, 5000, 5000);
    scene_patch(&g->s, (brant_window){30, row, 10, rows}, TRACK_SLOPE, 1);
    g->s.zones.zones[0].box = (brant_window){30, row, 10, rows};
    g->s.zones.zones[0].high_col = 30;
    g->s.zones.zones[0].high_row = row;
    g->s.zones.zones[0].steepest_deg = TRACK_SLOPE;
    brant_source_array(&g->source, g->z, SIDE, SIDE);
}

static void close_scene(ground_scene *g)
{
    scene_close(&g->s);
}

/* The leg that is on column `col` of the way. */
static brant_leg_ground ground_at(ground_scene *g, double col)
{
    const double way[2][2] = {{10, 50.5}, {90, 50.5}};
    brant_leg_ground found = {{NAN, NAN, NAN}, {false, false, false}};
    brant_track track;
    scene_track(&g->s, way, 2, 5, &track);
    scene_tour(&g->s, &track, &g->tour);
    must(&g->s.ctx, brant_leg_grounds(&g->s.ctx, &g->s.meeting, &g->source, &g->tour, &g->legs,
                                      &g->track_deg));
    for (size_t i = 0; i < g->tour.leg_count; i++) {
        const brant_leg *leg = &g->tour.legs[i];
        const brant_sample *samples = &g->tour.track.samples[leg->first_sample];
        if (samples[0].col <= col && samples[leg->samples - 1].col >= col)
            found = g->legs[i];
    }
    free(g->legs);
    free(g->track_deg);
    brant_tour_clear(&g->tour);
    return found;
}

static void assert_slope(double deg, double wanted, double less)
{
    if (!(deg <= wanted + 0.05 && deg >= wanted - less))
        fail_msg("%g degrees, not %g", deg, wanted);
}

/* ---- on the slope ------------------------------------------------------- */

/* A ridge 30 m high along column 34 from row 50 up to row `top`, 33 degrees to all sides, and,
 * if `cone`, one of 38 degrees, 80 m high, on its northern end. */
static void lay_ridge(ground_scene *g, double top, bool cone)
{
    for (int row = 0; row < SIDE; row++)
        for (int col = 0; col < SIDE; col++) {
            double beyond = row < top ? top - row : row > 50 ? row - 50 : 0;
            double roof = 30 - tan(33 * M_PI / 180) * 10 * hypot(col - 34, beyond);
            double tip = 80 - tan(38 * M_PI / 180) * 10 * hypot(col - 34, row - top);
            g->z[row * SIDE + col] = (float)fmax(fmax(roof, cone ? tip : 0), 0);
        }
}

/* It is followed to its end, 400 m from the way; what it does beyond the model, and in a void,
 * is not known. */
static void test_slope_goes_on(void **state)
{
    static ground_scene g;
    (void)state;
    open_scene(&g, 45, 11);
    lay_ridge(&g, 12, false);
    brant_leg_ground ground = ground_at(&g, 35);
    assert_true(ground.steepest_deg[0] == (double)TRACK_SLOPE && !ground.unknown[0]);
    assert_slope(ground.steepest_deg[1], 33, 0.05);
    assert_slope(ground.steepest_deg[2], 33, 0.05);
    assert_false(ground.unknown[1] || ground.unknown[2]);
    ground = ground_at(&g, 70); /* nothing steep there */
    assert_true(ground.steepest_deg[1] == 5 && !ground.unknown[1]);

    lay_ridge(&g, 12, true);
    ground = ground_at(&g, 35);
    assert_slope(ground.steepest_deg[1], 38, 0.5);
    assert_false(ground.unknown[1]);

    lay_ridge(&g, 12, false);
    g.z[20 * SIDE + 36] = NAN;
    ground = ground_at(&g, 35);
    assert_slope(ground.steepest_deg[1], 33, 0.05);
    assert_true(!ground.unknown[0] && ground.unknown[1] && ground.unknown[2]);

    lay_ridge(&g, -10, false);
    ground = ground_at(&g, 35);
    assert_slope(ground.steepest_deg[1], 33, 0.05);
    assert_true(!ground.unknown[0] && ground.unknown[1] && ground.unknown[2]);
    close_scene(&g);
}

/* ---- from above --------------------------------------------------------- */

/* Falls south: rows 20-29 at 37 degrees, rows `flat`.. 44 not at all, the rest at 15. Slope is
 * over three rows: `flat`.. 45 are gentler than 10 degrees, from 41 on that is 50 m. */
static void lay_slope(ground_scene *g, int flat)
{
    double z = 2000;
    for (int row = 0; row < SIDE; row++) {
        double deg = row >= 20 && row < 30 ? 37 : row >= flat && row < 45 ? 0 : 15;
        for (int col = 0; col < SIDE; col++)
            g->z[row * SIDE + col] = (float)z;
        z -= 10 * tan(deg * M_PI / 180);
    }
}

/* Zone 1 lies in rows 22-27, 200 m up, and its runout comes down on columns 40-49 of the way,
 * seen from there at `deg`. The slope that reaches the leg from there counts, but for a flat
 * of 50 m; one that does not reach it at the zone's angle does not. */
static void test_slope_above(void **state)
{
    static const struct {
        float deg, zone_deg;
        int flat;
        bool counts;
    } cases[] = {{25, 0, 45, true},     {24.99f, 0, 45, false}, {29.99f, 30, 45, false},
                 {30, 30, 45, true},    {22, 22, 45, true},     {28, 0, 42, true},
                 {28, 0, 41, false}};
    static ground_scene g;
    (void)state;
    open_scene(&g, 22, 6);
    brant_hit hits[10];
    for (int i = 0; i < 10; i++) {
        hits[i] = (brant_hit){40 + i, 50, 1, 0, 10};
        g.s.zones_above[scene_cell(&g.s, 40 + i, 50)] = 1;
    }
    g.s.meeting.hits = hits;
    g.s.meeting.hit_count = 10;
    for (size_t i = 0; i < sizeof cases / sizeof cases[0]; i++) {
        for (int k = 0; k < 10; k++) {
            hits[k].reached_at_deg = cases[i].deg;
            g.s.reached_at[scene_cell(&g.s, 40 + k, 50)] = cases[i].deg;
        }
        g.s.zones.zones[0].reach_angle_deg = cases[i].zone_deg;
        lay_slope(&g, cases[i].flat);
        brant_leg_ground ground = ground_at(&g, 45);
        assert_true(ground.steepest_deg[0] == 5 && !ground.unknown[0]);
        if (cases[i].counts)
            assert_slope(ground.steepest_deg[1], 37, 0.05);
        else
            assert_true(ground.steepest_deg[1] == 5);
        assert_int_equal(ground.unknown[1], cases[i].counts); /* it goes on beyond the model */
        assert_true(ground_at(&g, 20).steepest_deg[1] == 5);
    }
    close_scene(&g);
}

/* ---- the catchment ------------------------------------------------------ */

/* Of the zone that is met with all of its face, and of no other. */
static void test_catchment(void **state)
{
    static ground_scene g;
    (void)state;
    open_scene(&g, 45, 11);
    brant_zone *two = &g.s.zones.zones[1];
    two->steepest_deg = 39;
    brant_leg_ground ground = ground_at(&g, 35);
    assert_true(ground.steepest_deg[2] == (double)TRACK_SLOPE && !ground.unknown[2]);
    two->flags = BRANT_ZONE_AT_VOID | BRANT_ZONE_TRUNCATED;
    assert_false(ground_at(&g, 35).unknown[2]);
    two->face = 1;
    for (int i = 0; i < 4; i++) {
        static const uint32_t flags[4] = {0, BRANT_ZONE_AT_VOID, BRANT_ZONE_TRUNCATED,
                                          BRANT_ZONE_CUT};
        two->flags = flags[i];
        ground = ground_at(&g, 35);
        assert_true(ground.steepest_deg[2] == 39);
        assert_true(ground.steepest_deg[1] == (double)TRACK_SLOPE && !ground.unknown[1]);
        assert_int_equal(ground.unknown[2], i == 1 || i == 2);
        assert_true(ground_at(&g, 70).steepest_deg[2] == 5);
    }
    two->flags = 0;
    two->steepest_deg = NAN;
    ground = ground_at(&g, 35);
    assert_true(ground.steepest_deg[2] == (double)TRACK_SLOPE);
    close_scene(&g);
}

/* What may lie above a leg is not known: nor are the slope and the catchment. */
static void test_unknown_above(void **state)
{
    static ground_scene g;
    (void)state;
    open_scene(&g, 45, 11);
    for (int col = 60; col < 80; col++)
        g.s.unknown[scene_cell(&g.s, col, 50)] = 1;
    brant_leg_ground ground = ground_at(&g, 70);
    assert_true(!ground.unknown[0] && ground.unknown[1] && ground.unknown[2]);
    assert_false(ground_at(&g, 15).unknown[2]);
    close_scene(&g);
}

/* Off the grid nothing is known; without a place at all, neither. */
static void test_no_place(void **state)
{
    static ground_scene g;
    (void)state;
    for (int earth = 0; earth < 2; earth++) {
        brant_sample sample = {.col = earth ? 150 : NAN, .row = earth ? 50.5 : NAN, .first = true};
        brant_track track = {.samples = must_have(malloc(sizeof sample)), .count = 1};
        brant_leg_ground *legs;
        float *track_deg;
        open_scene(&g, 45, 11);
        track.samples[0] = sample;
        scene_tour(&g.s, &track, &g.tour);
        must(&g.s.ctx, brant_leg_grounds(&g.s.ctx, &g.s.meeting, &g.source, &g.tour, &legs,
                                         &track_deg));
        assert_int_equal(g.tour.leg_count, 1);
        assert_true(legs[0].unknown[0] && legs[0].unknown[1] && legs[0].unknown[2]);
        free(legs);
        free(track_deg);
        brant_tour_clear(&g.tour);
        close_scene(&g);
    }
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(test_slope_goes_on), cmocka_unit_test(test_slope_above),
        cmocka_unit_test(test_catchment),     cmocka_unit_test(test_unknown_above),
        cmocka_unit_test(test_no_place),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
