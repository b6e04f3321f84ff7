/* Where to wait: places that bracket the exposed stretches of a made-up route. */
#include "tour_scene.h"

static int setup(void **state)
{
    scene *s = malloc(sizeof *s);
    if (!s)
        return -1;
    scene_open(s, 200, 60, NULL);
    *state = s;
    return 0;
}

static int teardown(void **state)
{
    scene_close(*state);
    free(*state);
    return 0;
}

#define STEP 5.0
/* Metres along the walk, eastwards from column 10 on row 30, at a grid column. */
#define AT(col) (((col) - 10) * 10 / UTM_SCALE)

/* Everything in columns first..end-1 is reached, at `deg`. */
static void reach(scene *s, int first, int end, float deg)
{
    for (int row = 0; row < 60; row++)
        for (int col = first; col < end; col++)
            s->reached_at[scene_cell(s, col, row)] = deg;
}

static void walk(scene *s, double from_col, double to_col, brant_tour *tour)
{
    const double at[2][2] = {{from_col, 30.5}, {to_col, 30.5}};
    brant_track track;
    scene_track(s, at, 2, STEP, &track);
    scene_tour(s, &track, tour);
}

/* Release ground in columns 60-69 and 150-159: legs remote, edge, crosses, edge, remote
 * if the ground between is steep enough to carry a fracture; here it is not. */
static void two_slopes(scene *s)
{
    scene_zone(s, 1, 10000, 10000);
    scene_zone(s, 2, 10000, 10000);
    scene_patch(s, (brant_window){60, 0, 10, 60}, 35, 1);
    scene_patch(s, (brant_window){150, 0, 10, 60}, 35, 2);
    reach(s, 60, 70, 90);
    reach(s, 150, 160, 90);
}

/* The edge begins 30 m before the slope, a place to wait 30 m before the edge; the reach
 * at 20 and its 30 m of error push it further. */
static void test_bracket(void **state)
{
    scene *s = *state;
    brant_tour tour;
    two_slopes(s);
    reach(s, 70, 90, 21);  /* beyond the first slope */
    reach(s, 90, 95, 19);  /* counts for nothing */
    walk(s, 10.5, 189.5, &tour);
    assert_false(tour.waits_unknown);
    assert_int_equal(tour.stretch_count, 2);
    assert_int_equal(tour.wait_count, 4);
    assert_close(tour.waits[0].along_m, AT(59.5) - 60, 2 * STEP);
    assert_true(tour.waits[0].along_m <= AT(59.5) - 60);
    assert_close(tour.waits[1].along_m, AT(89.5) + 30, 2 * STEP);
    assert_true(tour.waits[1].along_m >= AT(89.5) + 30);
    assert_close(tour.waits[2].along_m, AT(149.5) - 60, 2 * STEP);
    assert_close(tour.waits[3].along_m, AT(159.5) + 60, 2 * STEP);
    for (size_t i = 0; i < 2; i++) {
        const brant_stretch *stretch = &tour.stretches[i];
        assert_int_equal(stretch->before, 2 * i);
        assert_int_equal(stretch->after, 2 * i + 1);
        assert_close(stretch->exposed_m, 160 / UTM_SCALE, 2 * STEP);
        assert_close(stretch->to_m - stretch->from_m, stretch->exposed_m, 1e-9);
        assert_close(tour.waits[2 * i].exposed_m, stretch->exposed_m, 1e-9);
    }
    assert_close(tour.waits[0].next_m, tour.waits[1].along_m - tour.waits[0].along_m, 1e-9);
    assert_true(tour.waits[1].exposed_m == 0 && isnan(tour.waits[3].next_m));
    brant_tour_clear(&tour);
}

/* A gap of 100 m between exposed legs has one place, one of 100 m reached at 20 none. */
static void test_shared_and_none(void **state)
{
    scene *s = *state;
    brant_tour tour;
    two_slopes(s);
    scene_zone(s, 3, 10000, 10000);
    scene_patch(s, (brant_window){86, 0, 10, 60}, 35, 3);
    reach(s, 86, 96, 90);
    walk(s, 10.5, 130.5, &tour);
    assert_int_equal(tour.stretch_count, 2);
    assert_int_equal(tour.wait_count, 3);
    assert_int_equal(tour.stretches[0].after, 1);
    assert_int_equal(tour.stretches[1].before, 1);
    brant_tour_clear(&tour);
    reach(s, 70, 86, 20);
    walk(s, 10.5, 130.5, &tour);
    assert_int_equal(tour.stretch_count, 1);
    assert_int_equal(tour.wait_count, 2);
    assert_close(tour.stretches[0].exposed_m, 320 / UTM_SCALE, 4 * STEP);
    assert_true(tour.stretches[0].to_m - tour.stretches[0].from_m > tour.stretches[0].exposed_m);
    brant_tour_clear(&tour);
}

/* What lies between two segments is not known, so there is no way from a place on one to the
 * next on the other; the place may be the first of its segment. */
static void test_break_between(void **state)
{
    scene *s = *state;
    two_slopes(s);
    size_t middle = 0, next = 0;
    for (int round = 0; round < 3; round++) { /* whole; broken between; broken at the place */
        const double at[2][2] = {{20.5, 30.5}, {190.5, 30.5}};
        brant_track track;
        brant_tour tour;
        scene_track(s, at, 2, STEP, &track);
        if (round > 0)
            track.samples[round == 1 ? middle : next].first = true;
        scene_tour(s, &track, &tour);
        assert_int_equal(tour.wait_count, 4);
        next = tour.waits[2].sample;
        middle = (tour.waits[1].sample + next) / 2;
        for (size_t i = 0; i < 3; i++) {
            double next_m = tour.waits[i + 1].along_m - tour.waits[i].along_m;
            if (round > 0 && i == 1)
                assert_true(isnan(tour.waits[i].next_m) && isnan(tour.waits[i].exposed_m));
            else
                assert_close(tour.waits[i].next_m, next_m, 1e-9);
        }
        brant_tour_clear(&tour);
    }
}

/* A route that begins and ends exposed has no place there. */
static void test_starts_exposed(void **state)
{
    scene *s = *state;
    brant_tour tour;
    two_slopes(s);
    walk(s, 65.5, 155.5, &tour);
    assert_int_equal(tour.stretch_count, 2);
    assert_int_equal(tour.wait_count, 2);
    assert_true(tour.stretches[0].before == BRANT_NO_WAIT && tour.stretches[0].after == 0);
    assert_true(tour.stretches[1].before == 1 && tour.stretches[1].after == BRANT_NO_WAIT);
    brant_tour_clear(&tour);
}

/* What is not known is not outside: unknown above beside the route, a void, and a shadow
 * that was not searched down to 20. */
static void test_unknown(void **state)
{
    scene *s = *state;
    brant_tour tour;
    two_slopes(s);
    for (int col = 0; col < 57; col++)
        s->unknown[scene_cell(s, col, 28)] = 1; /* 20 m beside the route */
    walk(s, 10.5, 120.5, &tour);
    assert_int_equal(tour.stretch_count, 1);
    assert_true(tour.stretches[0].before == BRANT_NO_WAIT && tour.stretches[0].after == 0);
    brant_tour_clear(&tour);
    scene_void(s, (brant_window){75, 0, 125, 60});
    walk(s, 10.5, 120.5, &tour);
    assert_int_equal(tour.wait_count, 0);
    brant_tour_clear(&tour);
    s->meeting.options.floor_deg = 22;
    walk(s, 10.5, 120.5, &tour);
    assert_true(tour.waits_unknown);
    assert_true(tour.wait_count == 0 && tour.stretch_count == 0);
    brant_tour_clear(&tour);
    s->meeting.options.floor_deg = 20;
    walk(s, 10.5, 120.5, &tour);
    assert_false(tour.waits_unknown);
    brant_tour_clear(&tour);
}

/* A zone whose own reach angle, or a run whose reach angle, is below 20 reaches further
 * than 20 says: beside the route that counts as well. */
static void test_a_lower_angle(void **state)
{
    scene *s = *state;
    brant_tour tour;
    two_slopes(s);
    reach(s, 0, 60, 17);
    walk(s, 10.5, 120.5, &tour);
    assert_true(tour.stretches[0].before == 0 && tour.stretches[0].after == 1);
    brant_tour_clear(&tour);
    for (int col = 0; col < 57; col++)
        s->zones_above[scene_cell(s, col, 28)] = 1; /* 20 m beside the route, at 17 */
    walk(s, 10.5, 120.5, &tour);
    assert_true(tour.stretches[0].before == BRANT_NO_WAIT && tour.stretches[0].after == 0);
    brant_tour_clear(&tour);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test_setup_teardown(test_bracket, setup, teardown),
        cmocka_unit_test_setup_teardown(test_shared_and_none, setup, teardown),
        cmocka_unit_test_setup_teardown(test_break_between, setup, teardown),
        cmocka_unit_test_setup_teardown(test_starts_exposed, setup, teardown),
        cmocka_unit_test_setup_teardown(test_a_lower_angle, setup, teardown),
        cmocka_unit_test_setup_teardown(test_unknown, setup, teardown),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
