/* The day joined to a tour: the ground that the limit considers on made-up slopes, levels,
 * hours, ranks. Rules: day.h and tour.h; every expected value follows from them by hand. */
#include "tour_scene.h"

#include "../../src/tour/day.h"

#define STEP 5.0

/* ---- the whole slope ---------------------------------------------------- */

/* A strip of 5 columns; rows downhill. 10 m cells. */
enum { ACROSS = 5, ROWS = 40 };
typedef struct strip {
    float slope[ROWS * ACROSS];
    uint8_t marks[ROWS * ACROSS];
    brant_whole_slope out;
} strip;

static void set_rows(strip *s, int first, int end, float slope)
{
    for (int i = first * ACROSS; i < end * ACROSS; i++)
        s->slope[i] = slope;
}

static void mark_row(strip *s, int row, uint8_t mark)
{
    for (int i = row * ACROSS; i < (row + 1) * ACROSS; i++)
        s->marks[i] |= mark;
}

/* As it is, and with rows for columns, which changes nothing. */
static void look(strip *s)
{
    const brant_window window = {0, 0, ACROSS, ROWS}, turned = {0, 0, ROWS, ACROSS};
    const brant_matrix m = {.col_east = 10, .row_north = -10};
    const brant_matrix turned_m = {.row_east = 10, .col_north = -10};
    brant_context ctx;
    strip t;
    for (int i = 0; i < ROWS * ACROSS; i++) {
        const int at = i % ACROSS * ROWS + i / ACROSS;
        t.slope[at] = s->slope[i];
        t.marks[at] = s->marks[i];
    }
    brant_context_init(&ctx);
    must(&ctx, brant_whole_slope_of(&ctx, &window, &m, s->slope, s->marks, &s->out));
    must(&ctx, brant_whole_slope_of(&ctx, &turned, &turned_m, t.slope, t.marks, &t.out));
    assert_true(s->out.steepest_deg == t.out.steepest_deg);
    assert_true(s->out.unknown == t.out.unknown && s->out.cut == t.out.cut);
    brant_context_clear(&ctx);
}

/* A slope of 34 degrees in rows 5-14 with 37 on top, 20 degrees below it, the leg on row 30,
 * and `flat` cells of 3 degrees between. */
static double under_with_flat(int flat, float below)
{
    strip s = {0};
    set_rows(&s, 0, ROWS, 20);
    set_rows(&s, 5, 7, 37);
    set_rows(&s, 7, 15, 34);
    set_rows(&s, 18, 18 + flat, below);
    for (int row = 5; row < 15; row++)
        mark_row(&s, row, BRANT_MARK_TARGET);
    s.marks[30 * ACROSS + 2] = BRANT_MARK_WAY;
    look(&s);
    assert_false(s.out.unknown || s.out.cut == (s.out.steepest_deg == 0));
    return s.out.steepest_deg;
}

static void test_flat_between(void **state)
{
    (void)state;
    assert_true(under_with_flat(0, 3) == 37);
    assert_true(under_with_flat(4, 3) == 37); /* 40 m */
    assert_true(under_with_flat(5, 3) == 0);  /* 50 m */
    assert_true(under_with_flat(6, 3) == 0);  /* 60 m */
    assert_true(under_with_flat(6, 10) == 37); /* not flat */
    assert_true(under_with_flat(6, NAN) == 37); /* the unknown does not part */
}

/* 28 degrees connect, 27.9 do not; corners do. */
static void test_connected(void **state)
{
    (void)state;
    for (int gentle = 0; gentle < 2; gentle++) {
        strip s = {0};
        set_rows(&s, 5, 10, 36);
        set_rows(&s, 10, 15, gentle ? 27.9f : 28.0f);
        set_rows(&s, 15, 20, 31);
        s.marks[19 * ACROSS + 2] = BRANT_MARK_NEAR;
        look(&s);
        assert_true(s.out.steepest_deg == (gentle ? 31 : 36));
        assert_false(s.out.unknown);
    }
    strip s = {0};
    s.slope[10 * ACROSS + 1] = 30;
    s.slope[11 * ACROSS + 2] = 39;
    s.marks[10 * ACROSS + 1] = BRANT_MARK_NEAR;
    look(&s);
    assert_true(s.out.steepest_deg == 39);
    assert_false(s.out.cut);
}

static void test_unknown_ground(void **state)
{
    (void)state;
    strip s = {0};
    set_rows(&s, 5, 10, 33);
    s.marks[7 * ACROSS] = BRANT_MARK_NEAR;
    s.slope[11 * ACROSS + 2] = NAN; /* a cell away from the slope */
    look(&s);
    assert_true(s.out.steepest_deg == 33 && !s.out.unknown);
    s.slope[10 * ACROSS + 2] = NAN; /* beside it */
    look(&s);
    assert_true(s.out.unknown);
    strip none = {0};
    none.marks[0] = BRANT_MARK_NEAR;
    look(&none);
    assert_true(none.out.steepest_deg == 0 && !none.out.unknown && !none.out.cut);
}

/* ---- a tour ------------------------------------------------------------- */

/* Walked eastwards on row 50 from column 10 to 90, 2 m up a column. Release ground: zone 1
 * in columns 30-39, zone 2 in 60-69. The source's ground is a ramp: no slope there, so
 * that the track alone is steep. */
typedef struct tour_day {
    scene s;
    brant_bulletin bulletin;
    brant_rating rating;
    brant_problem problems[2];
    brant_danger danger[2][BRANT_PERIODS];
    brant_day day;
    brant_source source;
} tour_day;

static int setup(void **state)
{
    tour_day *t = calloc(1, sizeof *t);
    if (!t)
        return -1;
    scene_open(&t->s, 100, 100, NULL);
    scene_zone(&t->s, 1, 5000, 5000);
    scene_zone(&t->s, 2, 9000, 9000);
    scene_patch(&t->s, (brant_window){30, 45, 10, 11}, 36, 1);
    scene_patch(&t->s, (brant_window){60, 45, 10, 11}, 38, 2);
    t->s.zones.zones[0].steepest_deg = 36;
    t->s.zones.zones[1].steepest_deg = 38;
    t->s.zones.zones[0].box = (brant_window){30, 45, 10, 11};
    t->s.zones.zones[1].box = (brant_window){60, 45, 10, 11};
    for (int row = 0; row < 100; row++)
        for (int col = 0; col < 100; col++)
            t->s.field.elevation[scene_cell(&t->s, col, row)] = (float)(1000 + 2 * (col + 0.5));
    brant_source_array(&t->source, t->s.field.elevation, 100, 100);
    t->rating = (brant_rating){BRANT_LEVEL_1, {BRANT_ASPECTS_ALL, NAN, NAN, false, false,
                                               BRANT_ALL_DAY}};
    t->problems[0] = (brant_problem){.kind = BRANT_WIND_SLAB, .extent = t->rating.extent};
    t->problems[1] = (brant_problem){.kind = BRANT_WET_SNOW, .extent = t->rating.extent};
    t->bulletin = (brant_bulletin){.ratings = &t->rating, .rating_count = 1,
                                   .problems = t->problems, .problem_count = 2};
    t->day = BRANT_DAY_NONE;
    t->day.bulletin = &t->bulletin;
    t->day.zone_danger = (const brant_danger(*)[BRANT_PERIODS])t->danger;
    t->s.meeting.day = &t->day;
    *state = t;
    return 0;
}

static int teardown(void **state)
{
    tour_day *t = *state;
    scene_close(&t->s);
    free(t);
    return 0;
}

static void rate(tour_day *t, int zone, brant_level earlier, brant_level later, uint32_t problems)
{
    t->danger[zone - 1][0] = (brant_danger){earlier, false, problems};
    t->danger[zone - 1][1] = (brant_danger){later, false, problems};
}

static void walk(tour_day *t, brant_tour *tour)
{
    const double way[2][2] = {{10, 50.5}, {90, 50.5}};
    brant_track track;
    scene_track(&t->s, way, 2, STEP, &track);
    scene_tour(&t->s, &track, tour);
    must(&t->s.ctx, brant_tour_day(&t->s.ctx, &t->s.meeting, &t->source, tour));
}

static const brant_leg *crossing(const brant_tour *tour, uint32_t zone)
{
    for (size_t i = 0; i < tour->leg_count; i++)
        if (tour->legs[i].kind == BRANT_KIND_CROSSES && tour->legs[i].zone == zone)
            return &tour->legs[i];
    fail_msg("zone %u is not crossed", zone);
    return NULL;
}

static size_t place_in_rank(const brant_tour *tour, const brant_leg *leg)
{
    for (size_t i = 0; i < tour->leg_count; i++)
        if (&tour->legs[tour->rank[i]] == leg)
            return i;
    fail_msg("not ranked");
    return 0;
}

/* The levels' limits on the same ground: beside the track and in the catchment 36 and 38
 * degrees, and no whole slope steeper than the track. */
static void test_limits(void **state)
{
    tour_day *t = *state;
    static const struct {
        brant_level level;
        uint32_t problems;
        double limit_deg;
        bool over, first;
    } cases[] = {
        {BRANT_LEVEL_1, 0, NAN, false, false}, {BRANT_LEVEL_2, 0, 40, false, false},
        {BRANT_LEVEL_3, 0, 35, true, false},   {BRANT_LEVEL_4, 0, 30, true, false},
        {BRANT_LEVEL_5, 0, NAN, false, true},  {BRANT_LEVEL_NO_RATING, 0, NAN, false, true},
        {BRANT_LEVEL_3, 1, 35, true, false},   {BRANT_LEVEL_3, 2, NAN, false, false},
        {BRANT_LEVEL_3, 3, 35, true, false},   {BRANT_LEVEL_NOT_STATED, 0, NAN, false, true},
    };
    for (size_t i = 0; i < sizeof cases / sizeof cases[0]; i++) {
        brant_tour tour;
        rate(t, 1, cases[i].level, cases[i].level, cases[i].problems);
        rate(t, 2, BRANT_LEVEL_1, BRANT_LEVEL_1, 0);
        walk(t, &tour);
        const brant_leg *leg = crossing(&tour, 1);
        assert_int_equal(leg->level, cases[i].level);
        assert_int_equal(leg->problems, cases[i].problems);
        assert_int_equal(leg->periods, BRANT_ALL_DAY);
        assert_true(leg->limit.limit_deg == cases[i].limit_deg ||
                    (isnan(leg->limit.limit_deg) && isnan(cases[i].limit_deg)));
        assert_int_equal(leg->limit.over, cases[i].over);
        assert_int_equal(leg->limit.first, cases[i].first);
        assert_false(leg->limit.unknown);
        assert_true(leg->over_limit_m == (cases[i].over ? leg->to_m - leg->from_m : 0));
        assert_int_equal(leg->governing->number, 1);
        assert_int_equal(crossing(&tour, 2)->level, BRANT_LEVEL_1);
        assert_true(isnan(leg->arrive_s) && !tour.seconds);
        assert_int_equal(tour.over_if_later.legs, 0);
        brant_tour_clear(&tour);
    }
}

/* At level 2 only the metres that have 40 degrees within 20 m count. */
static void test_metres_at_level_2(void **state)
{
    tour_day *t = *state;
    brant_tour tour;
    scene_patch(&t->s, (brant_window){36, 45, 1, 11}, 41, 1);
    rate(t, 1, BRANT_LEVEL_2, BRANT_LEVEL_2, 0);
    rate(t, 2, BRANT_LEVEL_2, BRANT_LEVEL_2, 0);
    walk(t, &tour);
    const brant_leg *leg = crossing(&tour, 1);
    assert_true(leg->limit.over);
    assert_int_equal(leg->limit.ground, BRANT_LIMIT_TRACK);
    assert_close(leg->over_limit_m, 50, STEP + 0.1); /* 20 m, the cell, 20 m */
    assert_false(crossing(&tour, 2)->limit.over);
    assert_close(tour.over_m, leg->over_limit_m, 1e-9);
    /* at 3 it is the whole leg, and zone 2 at 38 degrees is over as well; at 1 nothing is */
    assert_true(tour.over_if_higher.legs >= 1);
    bool found = false;
    for (size_t i = 0; i < tour.over_if_higher.legs; i++) {
        found |= tour.over_if_higher.leg[i] == crossing(&tour, 2)->number;
        assert_true(tour.over_if_higher.leg[i] != leg->number);
    }
    assert_true(found);
    brant_tour_clear(&tour);
}

/* A void beside the track: not known, unless what is known exceeds the limit. */
static void test_unknown_limit(void **state)
{
    tour_day *t = *state;
    for (int over = 0; over < 2; over++) {
        brant_tour tour;
        if (over)
            scene_patch(&t->s, (brant_window){36, 45, 1, 11}, 41, 1);
        t->s.field.slope[scene_cell(&t->s, 35, 49)] = NAN;
        rate(t, 1, BRANT_LEVEL_2, BRANT_LEVEL_2, 0);
        rate(t, 2, BRANT_LEVEL_1, BRANT_LEVEL_1, 0);
        walk(t, &tour);
        const brant_leg *leg = crossing(&tour, 1);
        assert_int_equal(leg->limit.over, over);
        assert_int_equal(leg->limit.unknown, !over);
        assert_true(over ? tour.limit_unknown_m == 0 : tour.limit_unknown_m > 90);
        brant_tour_clear(&tour);
    }
}

/* ---- rank --------------------------------------------------------------- */

static void test_rank(void **state)
{
    tour_day *t = *state;
    static const brant_level rising[] = {BRANT_LEVEL_NO_SNOW, BRANT_LEVEL_1, BRANT_LEVEL_2,
                                         BRANT_LEVEL_3, BRANT_LEVEL_4, BRANT_LEVEL_5};
    static const brant_level missing[] = {BRANT_LEVEL_NO_RATING, BRANT_LEVEL_NOT_STATED};
    for (size_t other = 0; other < 6; other++) {
        size_t before = SIZE_MAX;
        rate(t, 2, rising[other], rising[other], 0);
        for (size_t i = 0; i < 8; i++) {
            brant_level level = i < 6 ? rising[i] : missing[i - 6];
            brant_tour tour;
            rate(t, 1, BRANT_LEVEL_NO_SNOW, level, 0);
            walk(t, &tour);
            size_t place = place_in_rank(&tour, crossing(&tour, 1));
            assert_true(place <= before); /* never later for a higher or a missing level */
            before = place;
            if (i >= 5 && other < 5)
                assert_true(place < place_in_rank(&tour, crossing(&tour, 2)));
            bool ended = false;
            for (size_t k = 0; k < tour.leg_count; k++) {
                bool nothing = tour.legs[tour.rank[k]].is == BRANT_IS(BRANT_KIND_NONE_FOUND);
                assert_true(nothing || !ended);
                ended = nothing;
            }
            brant_tour_clear(&tour);
        }
    }
}

/* By level, among those that exceed their limit as among those that have none; without a
 * difference zone 2 comes first, which has the larger face. */
static void test_rank_by_level(void **state)
{
    tour_day *t = *state;
    static const brant_level pairs[][2] = {{BRANT_LEVEL_4, BRANT_LEVEL_3},
                                           {BRANT_LEVEL_1, BRANT_LEVEL_NO_SNOW}};
    for (size_t i = 0; i < 2; i++)
        for (int which = 0; which < 3; which++) {
            const brant_level *pair = pairs[i];
            brant_tour tour;
            rate(t, 1, pair[which != 0], pair[which != 0], 0);
            rate(t, 2, pair[which != 1], pair[which != 1], 0);
            walk(t, &tour);
            const brant_leg *one = crossing(&tour, 1), *two = crossing(&tour, 2);
            assert_true(one->limit.over == (i == 0) && two->limit.over == (i == 0));
            assert_int_equal(place_in_rank(&tour, one) < place_in_rank(&tour, two), which == 0);
            brant_tour_clear(&tour);
        }
}

/* What cannot be judged comes first: a leg that is unknown for what lies above it, too, its own
 * slope known. */
static void test_rank_of_unknown_above(void **state)
{
    tour_day *t = *state;
    brant_tour tour;
    rate(t, 1, BRANT_LEVEL_4, BRANT_LEVEL_4, 0);
    rate(t, 2, BRANT_LEVEL_4, BRANT_LEVEL_4, 0);
    for (int col = 80; col < 88; col++)
        t->s.unknown[scene_cell(&t->s, col, 50)] = 1;
    walk(t, &tour);
    const brant_leg *first = &tour.legs[tour.rank[0]];
    assert_int_equal(first->kind, BRANT_KIND_UNKNOWN);
    assert_int_equal(first->is, BRANT_UNKNOWN_ABOVE);
    brant_tour_clear(&tour);
}

/* Without a bulletin the order is that of the ground alone. */
static void test_no_bulletin(void **state)
{
    tour_day *t = *state;
    brant_tour tour, plain;
    t->day = BRANT_DAY_NONE;
    walk(t, &tour);
    t->s.meeting.day = NULL;
    walk(t, &plain);
    assert_int_equal(tour.leg_count, plain.leg_count);
    assert_memory_equal(tour.rank, plain.rank, tour.leg_count * sizeof *tour.rank);
    for (size_t i = 0; i < tour.leg_count; i++) {
        assert_int_equal(tour.legs[i].level, BRANT_LEVEL_NONE);
        assert_true(isnan(tour.legs[i].limit.limit_deg) && isnan(tour.legs[i].arrive_s));
        assert_ptr_equal(tour.legs[i].governing, plain.legs[i].governing);
        assert_int_equal(tour.legs[i].kind, plain.legs[i].kind);
    }
    brant_tour_clear(&tour);
    brant_tour_clear(&plain);
}

/* ---- hours -------------------------------------------------------------- */

/* 1 unit is 1 km or 100 m of height: 10 m across and 2 m up is 0.03 units, at 3 an hour 36 s
 * a column. Zone 1 in columns 30-39 is crossed from 720 s on; zone 2 in 60-69 from 1800 s. */
static void test_hours(void **state)
{
    tour_day *t = *state;
    brant_tour tour;
    assert_true(brant_time_parse("2027-02-13T07:30+01:00", &t->day.start));
    t->day.pace = (brant_pace){false, 3, 10, 6};
    t->day.later_from = 8 * 60; /* 1800 s after the start */
    t->day.out_by = (double)t->day.start.utc_s + 7200;
    rate(t, 1, BRANT_LEVEL_2, BRANT_LEVEL_4, 0);
    rate(t, 2, BRANT_LEVEL_2, BRANT_LEVEL_4, 0);
    walk(t, &tour);
    const brant_leg *one = crossing(&tour, 1), *two = crossing(&tour, 2);
    assert_close(one->arrive_s, 720, 15);
    assert_close(one->leave_s, 1080, 15);
    assert_close(two->arrive_s, 1800, 15);
    assert_int_equal(one->periods, BRANT_EARLIER); /* late out at 1404 s */
    assert_int_equal(one->level, BRANT_LEVEL_2);
    assert_int_equal(two->level, BRANT_LEVEL_4);
    assert_true(two->periods & BRANT_LATER);
    assert_true(isnan(one->limit.limit_deg) == false && !one->limit.over);
    assert_true(two->limit.over);
    /* an hour later leg one is over, too */
    bool found = false;
    for (size_t i = 0; i < tour.over_if_later.legs; i++)
        found |= tour.over_if_later.leg[i] == one->number;
    assert_true(found);

    /* the place to wait before zone 2: past it by 08:00, and out in two hours, at 1.3 */
    assert_true(tour.stretch_count == 2 && tour.stretches[1].before != BRANT_NO_WAIT);
    const brant_wait *wait = &tour.waits[tour.stretches[1].before];
    size_t last = tour.track.count - 1;
    double out = t->day.out_by - 1.3 * (tour.seconds[last] - tour.seconds[wait->sample]);
    double later = (double)t->day.start.utc_s + 1800;
    assert_true(wait->leave_by_utc < out);
    assert_true(wait->leave_by_utc < later);
    for (size_t i = 0; i < tour.leg_count; i++)
        if (tour.legs[i].from_m < tour.stretches[1].to_m)
            last = tour.legs[i].first_sample + tour.legs[i].samples - 1;
    double past = later - 1.3 * (tour.seconds[last] - tour.seconds[wait->sample]);
    assert_true(wait->leave_by_utc >= past - 1e-6 && wait->leave_by_utc < past + 1.3 * 36 * 7);
    const brant_wait *end = &tour.waits[tour.wait_count - 1];
    assert_close(end->leave_by_utc,
                 t->day.out_by - 1.3 * (tour.seconds[tour.track.count - 1] -
                                        tour.seconds[end->sample]),
                 1e-6);
    assert_int_equal(tour.facts[0].level, BRANT_LEVEL_1);
    assert_true(tour.unknown_pace_m == 0);
    brant_tour_clear(&tour);
}

/* A stay that begins half a second before the day's later part falls in both. */
static void test_parts_of_seconds(void **state)
{
    tour_day *t = *state;
    double seconds = 0;
    const brant_tour tour = {.seconds = &seconds}, none = {0};
    assert_true(brant_time_parse("2027-02-13T07:30+01:00", &t->day.start));
    t->day.later_from = 8 * 60; /* 1800 s after the start; what is late takes 1.3 */
    assert_int_equal(brant_day_periods(&t->day, &tour, 1799.5, 1800, 0), BRANT_ALL_DAY);
    assert_int_equal(brant_day_periods(&t->day, &tour, 1800, 1800, 0), BRANT_LATER);
    assert_int_equal(brant_day_periods(&t->day, &tour, 0, 1380, 0), BRANT_EARLIER);
    assert_int_equal(brant_day_periods(&t->day, &tour, 0, 1385, 0), BRANT_ALL_DAY);
    assert_int_equal(brant_day_periods(&t->day, &tour, 0, 1380, 10), BRANT_ALL_DAY);
    assert_int_equal(brant_day_periods(&t->day, &tour, 0, 1380, 1800), BRANT_LATER);
    assert_int_equal(brant_day_periods(&t->day, &none, 0, 1380, 0), BRANT_ALL_DAY);
}

/* Over a break in the track, here with 500 m of height, no time goes by. */
static void test_hours_over_a_break(void **state)
{
    tour_day *t = *state;
    const double way[2][2] = {{10, 50.5}, {90, 50.5}};
    brant_track track;
    brant_tour tour;
    assert_true(brant_time_parse("2027-02-13T07:30+01:00", &t->day.start));
    t->day.pace = (brant_pace){false, 3, 10, 6};
    rate(t, 1, BRANT_LEVEL_2, BRANT_LEVEL_2, 0);
    rate(t, 2, BRANT_LEVEL_2, BRANT_LEVEL_2, 0);
    scene_track(&t->s, way, 2, STEP, &track);
    size_t middle = track.count / 2, last = track.count - 1;
    track.samples[middle].first = true;
    scene_tour(&t->s, &track, &tour);
    for (size_t i = middle; i <= last; i++)
        tour.facts[i].elevation_m += 500;
    must(&t->s.ctx, brant_tour_day(&t->s.ctx, &t->s.meeting, &t->source, &tour));
    assert_true(tour.seconds[middle] == tour.seconds[middle - 1]);
    assert_close(tour.seconds[last], 80 * 36 - 18, 5); /* less the 5 m of the break */
    brant_tour_clear(&tour);
}

/* The later part of the day begins at 08:00 with a higher level in one zone, or on one column of
 * the leg's own ground, alone: the last sample of the last leg that has it is to be left before. */
static void test_leave_before_it_rises(void **state)
{
    tour_day *t = *state;
    brant_rating ratings[2] = {t->rating, t->rating};
    ratings[1].level = BRANT_LEVEL_4;
    ratings[1].extent.aspects = 1u << 2; /* E */
    ratings[1].extent.periods = BRANT_LATER;
    t->bulletin.ratings = ratings;
    t->bulletin.rating_count = 2;
    assert_true(brant_time_parse("2027-02-13T07:30+01:00", &t->day.start));
    t->day.pace = (brant_pace){false, 3, 10, 6};
    t->day.later_from = 8 * 60;
    for (int which = 0; which < 4; which++) { /* zone 1, zone 2, ground in zone 2; nothing */
        brant_tour tour;
        rate(t, 1, BRANT_LEVEL_2, which == 0 ? BRANT_LEVEL_4 : BRANT_LEVEL_2, 0);
        rate(t, 2, BRANT_LEVEL_2, which == 1 ? BRANT_LEVEL_4 : BRANT_LEVEL_2, 0);
        t->s.field.aspect[scene_cell(&t->s, 65, 50)] = which == 2 ? 90 : 180;
        walk(t, &tour);
        assert_int_equal(tour.stretch_count, 2);
        const brant_leg *leg = crossing(&tour, which == 0 ? 1 : 2);
        leg += which < 2; /* at its edge, too */
        assert_int_equal(leg->kind, which < 2 ? BRANT_KIND_EDGE : BRANT_KIND_CROSSES);
        size_t last = leg->first_sample + leg->samples - 1;
        size_t before = which == 3 ? SIZE_MAX : tour.stretches[which > 0].before;
        for (size_t i = 0; i < tour.wait_count; i++) {
            const brant_wait *wait = &tour.waits[i];
            if (i == before)
                assert_close(wait->leave_by_utc,
                             (double)t->day.start.utc_s + 1800 -
                                 1.3 * (tour.seconds[last] - tour.seconds[wait->sample]), 1e-6);
            else
                assert_true(isnan(wait->leave_by_utc));
        }
        assert_true(which == 3 || before < tour.wait_count);
        brant_tour_clear(&tour);
    }
}

/* ---- remote ------------------------------------------------------------- */

/* Ground of 25 degrees from the sample to zone 1, whose near side is `metres` away. */
static uint32_t remote_at(tour_day *t, double metres)
{
    double col = 40 + metres / 10 * UTM_SCALE;
    return scene_look(&t->s, col, 50.5).is & BRANT_IS(BRANT_KIND_REMOTE);
}

static void test_remote(void **state)
{
    tour_day *t = *state;
    scene_patch(&t->s, (brant_window){40, 40, 60, 30}, 25, 0);
    static const struct {
        brant_level earlier, later;
        uint32_t problems;
        bool far;
    } cases[] = {{BRANT_LEVEL_3, BRANT_LEVEL_3, 0, false}, {BRANT_LEVEL_4, BRANT_LEVEL_4, 0, true},
                 {BRANT_LEVEL_2, BRANT_LEVEL_4, 0, true},  {BRANT_LEVEL_2, BRANT_LEVEL_2, 1, true},
                 {BRANT_LEVEL_3, BRANT_LEVEL_3, 2, false}, {BRANT_LEVEL_5, BRANT_LEVEL_5, 0, true}};
    t->problems[0].kind = BRANT_PERSISTENT_WEAK_LAYER;
    for (size_t i = 0; i < sizeof cases / sizeof cases[0]; i++) {
        rate(t, 1, cases[i].earlier, cases[i].later, cases[i].problems);
        assert_true(remote_at(t, 99));
        assert_int_equal(remote_at(t, 101) != 0, cases[i].far);
        assert_int_equal(remote_at(t, 299) != 0, cases[i].far);
        assert_false(remote_at(t, 301));
    }
    t->day.bulletin = NULL;
    t->day.zone_danger = NULL;
    assert_true(remote_at(t, 99));
    assert_false(remote_at(t, 101));
}

/* Of all that is near and connected the highest level counts, not that of the first; and on
 * release ground, too. Problems are those of all. */
static void test_all_remote(void **state)
{
    tour_day *t = *state;
    brant_tour tour;
    scene_patch(&t->s, (brant_window){40, 45, 20, 11}, 25, 0);
    rate(t, 1, BRANT_LEVEL_2, BRANT_LEVEL_2, 1);
    rate(t, 2, BRANT_LEVEL_4, BRANT_LEVEL_4, 2);
    walk(t, &tour);
    const brant_leg *on = crossing(&tour, 1), *beside = on + 1, *before = on - 1;
    assert_int_equal(beside->kind, BRANT_KIND_EDGE);
    assert_int_equal(beside->level, BRANT_LEVEL_4);
    assert_int_equal(beside->problems, 3);
    assert_int_equal(beside->governing->number, 2);
    assert_int_equal(on->level, BRANT_LEVEL_4);
    assert_int_equal(on->problems, 3);
    assert_int_equal(before->kind, BRANT_KIND_EDGE); /* 300 m from it from column 30 on */
    assert_int_equal(before->level, BRANT_LEVEL_2);
    assert_int_equal(before->problems, 1);
    brant_tour_clear(&tour);
}

/* Release ground that no zone holds (zones from a file) has the level of its own. */
static void test_unnumbered(void **state)
{
    tour_day *t = *state;
    brant_tour tour;
    scene_patch(&t->s, (brant_window){35, 45, 5, 11}, 36, 0);
    t->rating.level = BRANT_LEVEL_3;
    rate(t, 1, BRANT_LEVEL_2, BRANT_LEVEL_2, 0);
    rate(t, 2, BRANT_LEVEL_2, BRANT_LEVEL_2, 0);
    walk(t, &tour);
    assert_int_equal(crossing(&tour, 1)->level, BRANT_LEVEL_3);
    assert_int_equal(crossing(&tour, 1)->problems, 3);
    assert_int_equal(crossing(&tour, 2)->level, BRANT_LEVEL_2);
    assert_int_equal(crossing(&tour, 2)->problems, 0);
    brant_tour_clear(&tour);
}

#define CASE(test) cmocka_unit_test_setup_teardown(test, setup, teardown)

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(test_flat_between),
        cmocka_unit_test(test_connected),
        cmocka_unit_test(test_unknown_ground),
        CASE(test_limits),
        CASE(test_metres_at_level_2),
        CASE(test_unknown_limit),
        CASE(test_rank),
        CASE(test_rank_by_level),
        CASE(test_rank_of_unknown_above),
        CASE(test_no_bulletin),
        CASE(test_hours),
        CASE(test_parts_of_seconds),
        CASE(test_hours_over_a_break),
        CASE(test_leave_before_it_rises),
        CASE(test_remote),
        CASE(test_all_remote),
        CASE(test_unnumbered),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
