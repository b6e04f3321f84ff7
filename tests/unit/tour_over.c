/* Above one's own line: a made zigzag. Row 30 crosses zone 1 at columns 40-49; further
 * down the route turns back and passes under it on row 70. */
#include "tour_scene.h"

#define COLS 100

typedef struct made_world {
    scene s;
    brant_hit hits[2 * COLS];
} made_world;

static void hit_row(made_world *w, int row, int first, int end, uint32_t zone, float deg)
{
    for (int col = first; col < end; col++)
        w->hits[w->s.meeting.hit_count++] = (brant_hit){col, row, zone, deg, 10};
    w->s.meeting.hits = w->hits;
}

static void open_world(made_world *w)
{
    memset(w, 0, sizeof *w);
    scene_open(&w->s, COLS, COLS, NULL);
    for (int row = 0; row < COLS; row++)
        for (int col = 0; col < COLS; col++)
            w->s.field.elevation[scene_cell(&w->s, col, row)] = (float)(2000 - 6 * row);
    scene_zone(&w->s, 1, 10000, 10000);
    scene_patch(&w->s, (brant_window){40, 25, 10, 11}, 35, 1);
}

static void walk(scene *s, const double (*at)[2], size_t count, brant_tour *tour)
{
    brant_track track;
    scene_track(s, at, count, 5, &track);
    scene_tour(s, &track, tour);
}

static const double zigzag[4][2] = {{20.5, 30.5}, {80.5, 30.5}, {80.5, 70.5}, {20.5, 70.5}};

static const brant_leg *leg_of(const brant_tour *tour, uint32_t number)
{
    return &tour->legs[number - 1];
}

static void test_zigzag(void **state)
{
    (void)state;
    made_world w;
    brant_tour tour;
    open_world(&w);
    hit_row(&w, 70, 35, 55, 1, 27);
    walk(&w.s, zigzag, 4, &tour);
    must(&w.s.ctx, brant_tour_overs(&w.s.ctx, NULL, 0, &tour));
    assert_int_equal(tour.over_count, 3); /* edge, crosses, edge above the leg that is under */
    for (size_t i = 0; i < 3; i++) {
        const brant_over *over = &tour.overs[i];
        assert_true(over->upper_tour == BRANT_OWN && over->lower_tour == BRANT_OWN);
        assert_int_equal(leg_of(&tour, over->lower)->kind, BRANT_KIND_UNDER);
        assert_int_equal(leg_of(&tour, over->upper)->kind,
                         i == 1 ? BRANT_KIND_CROSSES : BRANT_KIND_EDGE);
        assert_true(i == 0 || over->upper > tour.overs[i - 1].upper);
    }
    brant_tour_clear(&tour);
    w.s.meeting.options.reach_angle_deg = 28; /* reached at 27 */
    walk(&w.s, zigzag, 4, &tour);
    must(&w.s.ctx, brant_tour_overs(&w.s.ctx, NULL, 0, &tour));
    assert_int_equal(tour.over_count, 0);
    brant_tour_clear(&tour);
    scene_close(&w.s);
}

/* What a zone reaches is told by the zone's own reach angle, where it has one. */
static void test_own_angle(void **state)
{
    (void)state;
    made_world w;
    brant_tour tour;
    open_world(&w);
    hit_row(&w, 70, 35, 55, 1, 21);
    w.s.zones.zones[0].reach_angle_deg = 20;
    walk(&w.s, zigzag, 4, &tour);
    must(&w.s.ctx, brant_tour_overs(&w.s.ctx, NULL, 0, &tour));
    assert_int_equal(tour.over_count, 3);
    brant_tour_clear(&tour);
    w.s.zones.zones[0].reach_angle_deg = 24;
    w.s.meeting.options.reach_angle_deg = 18;
    walk(&w.s, zigzag, 4, &tour);
    must(&w.s.ctx, brant_tour_overs(&w.s.ctx, NULL, 0, &tour));
    assert_int_equal(tour.over_count, 0);
    brant_tour_clear(&tour);
    scene_close(&w.s);
}

/* Two legs that two zones join are one pair; pairs come by the lower leg, then the upper. */
static void test_each_pair_once(void **state)
{
    (void)state;
    made_world w;
    brant_tour tour;
    open_world(&w);
    scene_zone(&w.s, 2, 10000, 10000);
    scene_patch(&w.s, (brant_window){50, 25, 5, 11}, 35, 2);
    for (int col = 30; col < 60; col++)
        for (uint32_t zone = 1; zone <= 2; zone++)
            if (col < 42 || col > 47) /* two legs that are under both */
                w.hits[w.s.meeting.hit_count++] = (brant_hit){col, 70, zone, 27, 10};
    w.s.meeting.hits = w.hits;
    w.s.meeting.options.edge_m = 10; /* so that the gap stays */
    walk(&w.s, zigzag, 4, &tour);
    must(&w.s.ctx, brant_tour_overs(&w.s.ctx, NULL, 0, &tour));
    assert_int_equal(tour.over_count, 6); /* edge, crosses, edge above each of two legs */
    for (size_t i = 0; i < 6; i++) {
        const brant_over *over = &tour.overs[i];
        assert_int_equal(leg_of(&tour, over->lower)->kind, BRANT_KIND_UNDER);
        if (i > 0)
            assert_true(over->lower > over[-1].lower ||
                        (over->lower == over[-1].lower && over->upper > over[-1].upper));
    }
    brant_tour_clear(&tour);
    scene_close(&w.s);
}

/* Where the height of what is reached is not known (its row and the next are void), all that
 * releases may be above it, lower ground, too. */
static void test_unknown_height_below(void **state)
{
    (void)state;
    made_world w;
    brant_tour tour;
    open_world(&w);
    hit_row(&w, 20, 35, 55, 1, 27);
    const double above_it[4][2] = {{20.5, 30.5}, {80.5, 30.5}, {80.5, 20.5}, {20.5, 20.5}};
    walk(&w.s, above_it, 4, &tour);
    must(&w.s.ctx, brant_tour_overs(&w.s.ctx, NULL, 0, &tour));
    assert_int_equal(tour.over_count, 0); /* it runs above the zone */
    brant_tour_clear(&tour);
    for (int col = 0; col < COLS; col++)
        for (int row = 19; row < 22; row++)
            w.s.field.elevation[scene_cell(&w.s, col, row)] = NAN;
    walk(&w.s, above_it, 4, &tour);
    must(&w.s.ctx, brant_tour_overs(&w.s.ctx, NULL, 0, &tour));
    assert_true(tour.over_count >= 3); /* edge, crosses, edge */
    brant_tour_clear(&tour);
    scene_close(&w.s);
}

/* The zone reaches the edge leg of the very route that crosses it; and a zone that only
 * reaches, with nobody on it, is not above the own line. */
static void test_its_own_slope(void **state)
{
    (void)state;
    made_world w;
    brant_tour tour;
    open_world(&w);
    hit_row(&w, 30, 37, 40, 1, 40);
    walk(&w.s, zigzag, 2, &tour);
    must(&w.s.ctx, brant_tour_overs(&w.s.ctx, NULL, 0, &tour));
    assert_int_equal(tour.over_count, 0);
    brant_tour_clear(&tour);
    walk(&w.s, zigzag + 2, 2, &tour);
    must(&w.s.ctx, brant_tour_overs(&w.s.ctx, NULL, 0, &tour));
    assert_int_equal(tour.over_count, 0);
    brant_tour_clear(&tour);
    scene_close(&w.s);
}

/* Two parties: theirs above mine, and mine above theirs; what is theirs alone is not told. */
static void test_others(void **state)
{
    (void)state;
    made_world w;
    brant_tour upper, lower;
    open_world(&w);
    hit_row(&w, 70, 35, 55, 1, 27);
    walk(&w.s, zigzag, 2, &upper);
    walk(&w.s, zigzag + 2, 2, &lower);
    must(&w.s.ctx, brant_tour_overs(&w.s.ctx, &upper, 1, &lower));
    assert_int_equal(lower.over_count, 3);
    assert_true(lower.overs[1].upper_tour == 0 && lower.overs[1].lower_tour == BRANT_OWN);
    assert_int_equal(leg_of(&upper, lower.overs[1].upper)->kind, BRANT_KIND_CROSSES);
    must(&w.s.ctx, brant_tour_overs(&w.s.ctx, &lower, 1, &upper));
    assert_int_equal(upper.over_count, 3);
    assert_true(upper.overs[1].upper_tour == BRANT_OWN && upper.overs[1].lower_tour == 0);
    brant_tour_clear(&upper);
    brant_tour both[2] = {lower};
    walk(&w.s, zigzag, 2, &both[1]);
    const double away[2][2] = {{5.5, 5.5}, {15.5, 5.5}};
    brant_tour third;
    walk(&w.s, away, 2, &third);
    must(&w.s.ctx, brant_tour_overs(&w.s.ctx, both, 2, &third));
    assert_int_equal(third.over_count, 0);
    brant_tour_clear(&third);
    brant_tour_clear(&both[0]);
    brant_tour_clear(&both[1]);
    scene_close(&w.s);
}

/* A leg below the other is not above it, though a zone that reaches both is. */
static void test_nowhere_higher(void **state)
{
    (void)state;
    made_world w;
    brant_tour tour;
    open_world(&w);
    hit_row(&w, 70, 35, 55, 1, 27);
    for (int row = 0; row < COLS; row++)
        for (int col = 0; col < COLS; col++)
            w.s.field.elevation[scene_cell(&w.s, col, row)] = (float)(2000 + 6 * row);
    walk(&w.s, zigzag, 4, &tour);
    must(&w.s.ctx, brant_tour_overs(&w.s.ctx, NULL, 0, &tour));
    assert_int_equal(tour.over_count, 0);
    brant_tour_clear(&tour);
    scene_close(&w.s);
}

/* Is leg `upper` told to be above leg `lower`? */
static bool told(const brant_tour *tour, uint32_t upper, uint32_t lower)
{
    for (size_t i = 0; i < tour->over_count; i++)
        if (tour->overs[i].upper == upper && tour->overs[i].lower == lower)
            return true;
    return false;
}

/* The last leg is judged where it is: beside the zone at its end, under it before. Legs: none-found, edge,
 * crosses, edge, none-found, then one all along zone 2's edge, with zone 1 at its far end. */
static void test_parts_of_a_leg(void **state)
{
    (void)state;
    const double down[4][2] = {{20.5, 30.5}, {80.5, 30.5}, {80.5, 70.5}, {52.5, 70.5}};
    made_world w;
    brant_tour tour;
    open_world(&w);
    scene_zone(&w.s, 2, 10000, 10000);
    scene_patch(&w.s, (brant_window){50, 72, 35, 3}, 35, 2);
    scene_patch(&w.s, (brant_window){40, 68, 11, 3}, 35, 1); /* 15 m from the end */
    hit_row(&w, 70, 45, 70, 1, 27);
    walk(&w.s, down, 4, &tour);
    must(&w.s.ctx, brant_tour_overs(&w.s.ctx, NULL, 0, &tour));
    uint32_t last = (uint32_t)tour.leg_count;
    const brant_leg *leg = leg_of(&tour, last);
    assert_int_equal(leg->kind, BRANT_KIND_EDGE);
    const brant_above *above = &tour.above[leg->first_above];
    above += above->zone->number == 1 ? 0 : 1;
    assert_true(above->zone->number == 1 && above->edge && above->reached_at_deg == 27);
    assert_close((double)above->low_m, 2000 - 6 * 70, 0.1);
    assert_close((double)above->high_m, 2000 - 6 * 70, 0.1);
    for (uint32_t upper = 2; upper <= 4; upper++)
        assert_true(told(&tour, upper, last));
    assert_false(told(&tour, last, last));
    brant_tour_clear(&tour);

    /* reached only where it is at the edge */
    w.s.meeting.hit_count = 0;
    hit_row(&w, 70, 45, 53, 1, 27);
    walk(&w.s, down, 4, &tour);
    must(&w.s.ctx, brant_tour_overs(&w.s.ctx, NULL, 0, &tour));
    assert_int_equal(tour.over_count, 0);
    brant_tour_clear(&tour);
    scene_close(&w.s);
}

/* Both do both: each leg is above the other where it is higher on the zone than the other is
 * under it. And a height that is not known may be higher. */
static void test_heights_where_they_count(void **state)
{
    (void)state;
    made_world w;
    brant_tour tour;
    open_world(&w);
    hit_row(&w, 70, 35, 55, 1, 27);
    for (int col = 35; col < 55; col++) /* the leg is lower elsewhere, not where it is reached */
        for (int row = 68; row < 73; row++)
            w.s.field.elevation[scene_cell(&w.s, col, row)] = 1900;
    walk(&w.s, zigzag, 4, &tour);
    must(&w.s.ctx, brant_tour_overs(&w.s.ctx, NULL, 0, &tour));
    assert_int_equal(tour.over_count, 0);
    brant_tour_clear(&tour);
    w.s.field.elevation[scene_cell(&w.s, 45, 30)] = NAN; /* on the zone */
    walk(&w.s, zigzag, 4, &tour);
    must(&w.s.ctx, brant_tour_overs(&w.s.ctx, NULL, 0, &tour));
    assert_int_equal(tour.over_count, 1);
    assert_int_equal(leg_of(&tour, tour.overs[0].upper)->kind, BRANT_KIND_CROSSES);
    brant_tour_clear(&tour);
    scene_close(&w.s);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(test_zigzag),
        cmocka_unit_test(test_own_angle),
        cmocka_unit_test(test_each_pair_once),
        cmocka_unit_test(test_unknown_height_below),
        cmocka_unit_test(test_its_own_slope),
        cmocka_unit_test(test_others),
        cmocka_unit_test(test_nowhere_higher),
        cmocka_unit_test(test_parts_of_a_leg),
        cmocka_unit_test(test_heights_where_they_count),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
