/* Legs: they tile the route whatever the samples are, and each says all that is
 * true of it. */
#include "tour_scene.h"

#define IS(kind) BRANT_IS(BRANT_KIND_##kind)

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

/* ---- any samples -------------------------------------------------------- */

/* Some segments of samples at no place on the grid, with any kinds. Even a
 * segment of one sample, which the sampler does not make. */
static void random_track(unsigned *seed, brant_track *track, brant_fact **facts)
{
    size_t segments = 1 + (size_t)(random_unit(seed) * 4);
    *track = (brant_track){.name = must_have(strdup("random"))};
    track->samples = must_have(calloc(segments * 40, sizeof *track->samples));
    *facts = must_have(calloc(segments * 40, sizeof **facts));
    for (size_t k = 0; k < segments; k++) {
        size_t count = 1 + (size_t)(random_unit(seed) * 39);
        for (size_t i = 0; i < count; i++) {
            brant_kind kind = (brant_kind)(random_unit(seed) * 7);
            if (i > 0)
                track->length_m += random_unit(seed) * 5 + 0.01;
            if (i > 0 && random_unit(seed) < 0.6)
                kind = (*facts)[track->count - 1].kind;
            (*facts)[track->count] = (brant_fact){
                .elevation_m = NAN, .slope_deg = NAN, .aspect_deg = NAN, .kind = kind,
                .is = BRANT_IS(kind) | (random_unit(seed) < 0.3 ? IS(UNDER) : 0)};
            track->samples[track->count++] = (brant_sample){.along_m = track->length_m,
                                                            .lon = 9 + track->length_m * 1e-5,
                                                            .lat = 46, .col = NAN, .row = NAN,
                                                            .first = i == 0};
        }
    }
}

/* A leg's name may be worse than what holds at a sample in it, never milder; and
 * unknown ground takes nothing's name but none-found's. */
static bool is_no_milder(brant_kind leg, brant_kind sample)
{
    if (leg == sample)
        return true;
    if (leg == BRANT_KIND_UNKNOWN)
        return sample == BRANT_KIND_NONE_FOUND;
    return sample != BRANT_KIND_UNKNOWN && leg < sample;
}

static void check_tiling(const brant_tour *tour)
{
    double end = 0, metres = 0;
    size_t sample = 0;
    for (size_t i = 0; i < tour->leg_count; i++) {
        const brant_leg *leg = &tour->legs[i];
        const brant_sample *first = &tour->track.samples[sample];
        assert_int_equal(leg->number, i + 1);
        assert_int_equal(leg->first_sample, sample);
        assert_true(leg->samples > 0);
        assert_true(leg->from_m == end && leg->to_m >= leg->from_m);
        assert_true(i == 0 || first->first || leg[-1].kind != leg->kind);
        for (size_t k = 0; k < leg->samples; k++) {
            assert_true(is_no_milder(leg->kind, tour->facts[sample + k].kind));
            assert_true(k == 0 || !first[k].first);
            assert_true(first[k].along_m >= leg->from_m && first[k].along_m <= leg->to_m);
            assert_int_equal(tour->facts[sample + k].is & ~leg->is, 0);
        }
        if (first->first)
            assert_true(leg->from_m == first->along_m && leg->from_lon == first->lon);
        sample += leg->samples;
        end = leg->to_m;
        metres += leg->to_m - leg->from_m;
    }
    assert_int_equal(sample, tour->track.count);
    assert_true(end == tour->track.length_m);
    assert_close(metres, tour->track.length_m, 1e-9);
}

/* By the legs' names, and by what holds at each sample, for half-way to its neighbours. */
static void check_sums(const brant_tour *tour)
{
    double kinds[BRANT_KINDS] = {0}, holds[BRANT_KINDS] = {0}, sum = 0;
    for (size_t i = 0; i < tour->leg_count; i++)
        kinds[tour->legs[i].kind] += tour->legs[i].to_m - tour->legs[i].from_m;
    for (size_t i = 0; i < tour->track.count; i++) {
        const brant_sample *at = &tour->track.samples[i];
        double metres = 0;
        if (!at->first)
            metres += (at->along_m - at[-1].along_m) / 2;
        if (i + 1 < tour->track.count && !at[1].first)
            metres += (at[1].along_m - at->along_m) / 2;
        for (int kind = 0; kind < BRANT_KINDS; kind++)
            if (tour->facts[i].is & BRANT_IS(kind))
                holds[kind] += metres;
    }
    for (int kind = 0; kind < BRANT_KINDS; kind++) {
        assert_close(tour->metres[kind], kinds[kind], 1e-9);
        assert_close(tour->is_metres[kind], holds[kind], 1e-9);
        sum += tour->metres[kind];
    }
    assert_close(sum, tour->track.length_m, 1e-9);
}

static void check_rank(const brant_tour *tour)
{
    bool seen[200] = {false}, ended = false;
    assert_true(tour->leg_count <= sizeof seen);
    for (size_t i = 0; i < tour->leg_count; i++) {
        const brant_leg *leg = &tour->legs[tour->rank[i]];
        assert_false(seen[tour->rank[i]]);
        seen[tour->rank[i]] = true;
        bool nothing = leg->is == IS(NONE_FOUND);
        assert_true(nothing || !ended);
        ended = nothing;
    }
}

static void test_any_samples(void **state)
{
    scene *s = *state;
    unsigned seed = 1;
    for (int round = 0; round < 400; round++) {
        brant_track track;
        brant_fact *facts;
        brant_tour tour;
        random_track(&seed, &track, &facts);
        must(&s->ctx, brant_tour_build(&s->ctx, &s->meeting, &track, &facts, &tour));
        assert_null(track.samples);
        assert_null(facts);
        check_tiling(&tour);
        check_sums(&tour);
        check_rank(&tour);
        assert_true(isnan(tour.legs[0].low_m) && isnan(tour.legs[0].steepest_deg));
        brant_tour_clear(&tour);
    }
}

static void test_no_samples(void **state)
{
    scene *s = *state;
    brant_track track = {.name = must_have(strdup("empty"))};
    brant_tour tour;
    scene_tour(s, &track, &tour);
    assert_int_equal(tour.leg_count, 0);
    assert_true(tour.climb_m == 0);
    brant_tour_clear(&tour);
}

/* ---- a made-up slope ---------------------------------------------------- */

#define STEP 5.0
/* Metres along the walk at a grid column. */
#define AT(col) (((col) - 10) * 10 / UTM_SCALE)

/* Walked eastwards on row 50 from column 10 to 90, on ground that rises 2 m a
 * column:
 *   columns 20-29  reached by zone 2 at 22 degrees, less than the reach angle
 *           30-44  reached by zone 2 at 33, head 12 m
 *           40-49  on zone 1, 35 degrees, its column 45 42 degrees facing east
 *           50-54  on zone 3, 38 degrees
 *           70-71  something unknown above */
static void make_slope(scene *s, brant_hit hits[25])
{
    for (int row = 0; row < 100; row++)
        for (int col = 0; col < 100; col++)
            s->field.elevation[scene_cell(s, col, row)] = (float)(1000 + 2 * (col + 0.5));
    scene_zone(s, 1, 1100, 1650);
    scene_zone(s, 2, 9000, 30000);
    scene_zone(s, 3, 550, 1650);
    scene_patch(s, (brant_window){40, 45, 10, 11}, 35, 1);
    scene_patch(s, (brant_window){45, 45, 1, 11}, 42, 1);
    scene_patch(s, (brant_window){50, 45, 5, 11}, 38, 3);
    for (int row = 45; row < 56; row++)
        s->field.aspect[scene_cell(s, 45, row)] = 90;
    for (int col = 20; col < 45; col++)
        hits[col - 20] = (brant_hit){col, 50, 2, col < 30 ? 22 : 33, col < 30 ? -3 : 12};
    s->unknown[scene_cell(s, 70, 50)] = s->unknown[scene_cell(s, 71, 50)] = 1;
    s->meeting.hits = hits;
    s->meeting.hit_count = 25;
}

/* A boundary lies half-way between two samples: half a step off at most. */
static void check_leg(const brant_leg *leg, brant_kind kind, uint32_t is, double from, double to)
{
    assert_string_equal(brant_kind_name(leg->kind), brant_kind_name(kind));
    assert_int_equal(leg->is, is);
    assert_close(leg->from_m, AT(from), STEP / 2 + 1e-3);
    assert_close(leg->to_m, AT(to), STEP / 2 + 1e-3);
}

static void check_above(const brant_above *above, uint32_t zone, float reached, float head,
                        bool on, bool edge)
{
    assert_int_equal(above->zone->number, zone);
    assert_true(above->reached_at_deg == reached);
    assert_true(above->head_m == head || (isnan(head) && isnan(above->head_m)));
    assert_int_equal(above->on, on);
    assert_int_equal(above->edge, edge);
}

static double length(const brant_leg *leg)
{
    return leg->to_m - leg->from_m;
}

static void walk(scene *s, brant_tour *tour)
{
    brant_track track;
    const double way[2][2] = {{10, 50.5}, {90, 50.5}};
    scene_track(s, way, 2, STEP, &track);
    scene_tour(s, &track, tour);
}

static void check_kinds(const brant_tour *tour)
{
    static const double edge = 30 * UTM_SCALE / 10;
    const brant_leg *leg = tour->legs;
    assert_int_equal(tour->leg_count, 8);
    check_leg(&leg[0], BRANT_KIND_NONE_FOUND, IS(NONE_FOUND), 10, 30);
    check_leg(&leg[1], BRANT_KIND_UNDER, IS(UNDER), 30, 40 - edge);
    check_leg(&leg[2], BRANT_KIND_EDGE, IS(EDGE) | IS(UNDER) | IS(REMOTE), 40 - edge, 40);
    check_leg(&leg[3], BRANT_KIND_CROSSES, IS(CROSSES) | IS(UNDER), 40, 55);
    check_leg(&leg[4], BRANT_KIND_EDGE, IS(EDGE) | IS(REMOTE), 55, 55 + edge);
    check_leg(&leg[5], BRANT_KIND_NONE_FOUND, IS(NONE_FOUND), 55 + edge, 70);
    check_leg(&leg[6], BRANT_KIND_UNKNOWN, BRANT_UNKNOWN_ABOVE, 70, 72);
    check_leg(&leg[7], BRANT_KIND_NONE_FOUND, IS(NONE_FOUND), 72, 90);
    assert_true(leg[7].to_m == tour->track.length_m);
    assert_close(leg[7].to_m, AT(90), 1e-3);
}

static void check_ground(const brant_tour *tour)
{
    const brant_leg *crosses = &tour->legs[3];
    assert_true(crosses->steepest_deg == 42 && crosses->aspect_deg == 90);
    assert_close((double)crosses->low_m, 1080, 1.01);
    assert_close((double)crosses->high_m, 1110, 1.01);
    assert_int_equal(crosses->zone, 1);
    assert_int_equal(tour->legs[1].zone, 2);
    assert_int_equal(tour->legs[4].zone, 3);
    assert_int_equal(tour->legs[7].zone, 0);
    assert_close(tour->climb_m, 160, 1e-3);
    assert_true(tour->descent_m == 0);
}

static void check_met(const brant_tour *tour)
{
    const brant_leg *leg = tour->legs;
    const brant_above *above = tour->above;
    assert_int_equal(tour->above_count, 1 + 1 + 2 + 3 + 2);

    assert_int_equal(leg[0].aboves, 1); /* reached, but not at the reach angle */
    check_above(&above[leg[0].first_above], 2, 22, -3, false, false);
    assert_null(leg[0].governing);
    assert_int_equal(leg[0].zones_above, 0);
    assert_true(leg[0].reached_at_deg == 22 && leg[0].head_m == 0 && leg[0].area_above_m2 == 0);

    assert_int_equal(leg[1].aboves, 1);
    check_above(&above[leg[1].first_above], 2, 33, 12, false, false);
    assert_int_equal(leg[1].governing->number, 2);
    assert_int_equal(leg[1].zones_above, 1);
    assert_true(leg[1].area_above_m2 == 9000 && leg[1].head_m == 12);

    assert_int_equal(leg[2].aboves, 2);
    check_above(&above[leg[2].first_above], 2, 33, 12, false, false);
    check_above(&above[leg[2].first_above + 1], 1, 0, NAN, false, true);

    assert_int_equal(leg[3].aboves, 3); /* each is the other's edge as well */
    check_above(&above[leg[3].first_above], 1, 90, NAN, true, true);
    check_above(&above[leg[3].first_above + 1], 3, 90, NAN, true, true);
    check_above(&above[leg[3].first_above + 2], 2, 33, 12, false, false);
    assert_int_equal(leg[3].governing->number, 2); /* the largest face */
    assert_int_equal(leg[3].zones_above, 1);
    assert_true(leg[3].reached_at_deg == 33 && leg[3].head_m == 12);
    assert_true(leg[3].area_above_m2 == 9000);

    assert_int_equal(leg[4].aboves, 2); /* over zone 3 it is connected to zone 1, 70 m away */
    assert_true(above[leg[4].first_above].remote && above[leg[4].first_above + 1].remote);
    check_above(&above[leg[4].first_above], 1, 0, NAN, false, false);
    assert_int_equal(leg[4].governing->number, 3);
    assert_int_equal(leg[4].zones_above, 0);
    assert_true(leg[4].reached_at_deg == 0 && leg[4].head_m == 0);
    assert_int_equal(leg[5].aboves, 0);
    for (size_t i = 0; i < tour->leg_count; i++)
        for (size_t k = 0; k < leg[i].aboves; k++)
            assert_int_equal(above[leg[i].first_above + k].leg, i + 1);
}

static void check_metres(const brant_tour *tour)
{
    const brant_leg *leg = tour->legs;
    assert_close(leg[0].reached_m[2], AT(30) - AT(20), STEP);
    assert_true(leg[0].reached_m[1] == 0 && leg[0].reached_m[0] == 0);
    for (int i = 0; i < 3; i++) {
        assert_close(leg[1].reached_m[i], length(&leg[1]), 1e-9);
        assert_close(leg[3].reached_m[i], length(&leg[3]), 1e-9); /* on release ground */
        assert_true(leg[4].reached_m[i] == 0);
    }
    assert_close(leg[6].unknown_above_m, length(&leg[6]), 1e-9);
    assert_close(tour->is_metres[BRANT_KINDS], length(&leg[6]), 1e-9);
    assert_close(tour->is_metres[BRANT_KIND_UNDER], AT(45) - AT(30), STEP);
    assert_close(tour->is_metres[BRANT_KIND_CROSSES], AT(55) - AT(40), STEP);
    assert_close(tour->metres[BRANT_KIND_CROSSES], length(&leg[3]), 1e-9);
    assert_close(tour->metres[BRANT_KIND_EDGE], length(&leg[2]) + length(&leg[4]), 1e-9);
}

static void test_slope(void **state)
{
    scene *s = *state;
    brant_hit hits[25];
    brant_tour tour;
    static const uint32_t rank[8] = {3, 2, 4, 1, 6, 0, 7, 5};
    make_slope(s, hits);
    walk(s, &tour);
    check_tiling(&tour);
    check_kinds(&tour);
    check_ground(&tour);
    check_met(&tour);
    check_metres(&tour);
    for (size_t i = 0; i < 8; i++)
        assert_int_equal(tour.rank[i], rank[i]);
    brant_tour_clear(&tour);
}

/* 28.5 degrees would be release ground at 2 degrees more; at one error of the heights
 * where that is known: 0.433 * 3 m / 10 m cell / (1 + tan2 28.5) = 5.7 degrees, so that 26
 * degrees would be, too. Unknown ground has no slope that could be more. */
static void test_a_little_steeper(void **state)
{
    scene *s = *state;
    brant_tour tour;
    scene_zone(s, 6, 1000, 1000);
    scene_patch(s, (brant_window){10, 40, 10, 21}, 35, 6);
    scene_patch(s, (brant_window){40, 40, 10, 21}, 28.5f, 0);
    scene_patch(s, (brant_window){60, 40, 5, 21}, 26, 0);
    scene_patch(s, (brant_window){70, 40, 5, 21}, NAN, 0);
    walk(s, &tour);
    assert_close(tour.steeper_m, AT(50) - AT(40), STEP);
    assert_true(isnan(tour.legs[0].steepest_error_deg));
    brant_tour_clear(&tour);
    s->meeting.options.vertical_error_m = 3;
    walk(s, &tour);
    assert_close(tour.steeper_m, AT(50) - AT(40) + AT(65) - AT(60), 2 * STEP);
    for (size_t i = 0; i < tour.leg_count; i++) {
        const brant_leg *leg = &tour.legs[i];
        brant_matrix m;
        brant_ground_matrix(s->ground, 50, 50, &m);
        double error = brant_slope_error(&m, (double)leg->steepest_deg, (double)leg->aspect_deg, 3);
        assert_true(isnan(leg->steepest_deg) ? isnan(leg->steepest_error_deg)
                                             : fabs((double)leg->steepest_error_deg - error) < 0.01);
    }
    brant_tour_clear(&tour);
}

/* Ground that a leg stands on is not its edge. */
static void test_on_is_not_edge(void **state)
{
    scene *s = *state;
    brant_tour tour;
    scene_zone(s, 6, 1000, 1000);
    scene_patch(s, (brant_window){40, 45, 20, 11}, 35, 6);
    walk(s, &tour);
    assert_int_equal(tour.leg_count, 5);
    assert_int_equal(tour.above_count, 3);
    check_above(&tour.above[0], 6, 0, NAN, false, true);
    check_above(&tour.above[1], 6, 90, NAN, true, false);
    check_above(&tour.above[2], 6, 0, NAN, false, true);
    brant_tour_clear(&tour);
}

/* Where a leg ends and the next begins is one place, on the geodesic. */
static void test_boundaries(void **state)
{
    scene *s = *state;
    brant_hit hits[25];
    brant_tour tour;
    make_slope(s, hits);
    walk(s, &tour);
    for (size_t i = 0; i < tour.leg_count; i++) {
        const brant_leg *leg = &tour.legs[i];
        const brant_sample *start = &tour.track.samples[0];
        assert_close(brant_geodesic(start->lon, start->lat, leg->to_lon, leg->to_lat, NULL),
                     leg->to_m, 1e-6);
        if (i > 0)
            assert_true(leg->from_lon == leg[-1].to_lon && leg->from_lat == leg[-1].to_lat);
    }
    brant_tour_clear(&tour);
}

/* A gap between two segments is no leg, is not climbed, and joins nothing. */
static void test_gap(void **state)
{
    scene *s = *state;
    brant_gpx_point points[4];
    brant_gpx_segment segments[2] = {{0, 2}, {2, 2}};
    brant_gpx_route route = {.segments = 2};
    brant_gpx gpx = {.points = points, .point_count = 4, .segments = segments,
                     .segment_count = 2, .routes = &route, .route_count = 1};
    static const double col[4] = {10, 20, 60, 50};
    brant_track track;
    brant_tour tour;
    for (int i = 0; i < 4; i++)
        brant_locator_to_lonlat(s->locator, col[i], 50.5, &points[i].lon, &points[i].lat);
    for (int row = 0; row < 100; row++)
        for (int c = 0; c < 100; c++)
            s->field.elevation[scene_cell(s, c, row)] = (float)(1000 + 5 * (c + 0.5));
    must(&s->ctx, brant_track_sample(&s->ctx, &gpx, 0, s->locator, STEP, &track));
    scene_tour(s, &track, &tour);
    check_tiling(&tour);
    assert_int_equal(tour.leg_count, 2);
    assert_int_equal(tour.legs[0].kind, BRANT_KIND_NONE_FOUND);
    assert_int_equal(tour.legs[1].kind, BRANT_KIND_NONE_FOUND);
    assert_close(tour.legs[0].to_m, 100 / UTM_SCALE, 1e-3);
    assert_true(tour.legs[1].from_m == tour.legs[0].to_m);
    assert_true(tour.legs[1].from_lon == points[2].lon);
    assert_close(tour.climb_m, 50, 1e-2);
    assert_close(tour.descent_m, 50, 1e-2);
    brant_tour_clear(&tour);
}

/* On failure the track and its facts stay the caller's. */
static void test_failure(void **state)
{
    scene *s = *state;
    brant_hit hits[] = {{20, 50, 77, 30, 3}};
    const double way[2][2] = {{10, 50.5}, {30, 50.5}};
    brant_track track;
    brant_fact *facts;
    brant_tour tour;
    s->meeting.hits = hits;
    s->meeting.hit_count = 1;
    scene_track(s, way, 2, STEP, &track);
    must(&s->ctx, brant_meet(&s->ctx, &s->meeting, &track, &facts));
    assert_int_equal(brant_tour_build(&s->ctx, &s->meeting, &track, &facts, &tour),
                     BRANT_ERR_INTERNAL);
    assert_string_equal(brant_message(&s->ctx), "zone 77 is met but not known");
    assert_non_null(track.samples);
    assert_non_null(facts);
    assert_null(tour.legs);
    free(facts);
    brant_track_clear(&track);
}

/* ---- dips --------------------------------------------------------------- */

/* One letter a sample, 5 m each: what holds there, and the legs that come of it. */
static void check_dips(scene *s, const char *holds, const char *expected)
{
    static const char letters[] = "?COEUR."; /* by brant_kind */
    size_t count = strlen(holds);
    brant_track track = {.name = must_have(strdup("dips")), .count = count};
    brant_fact *facts = must_have(calloc(count, sizeof *facts));
    brant_tour tour;
    track.samples = must_have(calloc(count, sizeof *track.samples));
    for (size_t i = 0; i < count; i++) {
        brant_kind kind = (brant_kind)(strchr(letters, holds[i]) - letters);
        track.samples[i] = (brant_sample){.along_m = 5.0 * (double)i, .lon = 9, .lat = 46,
                                          .col = NAN, .row = NAN, .first = i == 0};
        track.length_m = 5.0 * (double)i;
        facts[i] = (brant_fact){.elevation_m = NAN, .slope_deg = NAN, .aspect_deg = NAN,
                                .kind = kind, .is = BRANT_IS(kind)};
    }
    must(&s->ctx, brant_tour_build(&s->ctx, &s->meeting, &track, &facts, &tour));
    char legs[64] = "";
    for (size_t i = 0; i < tour.leg_count; i++)
        legs[i] = letters[tour.legs[i].kind];
    assert_string_equal(legs, expected);
    brant_tour_clear(&tour);
}

/* Twice the edge is 60 m: 12 samples of 5 m are 60 m, 11 are 55 m. */
static void test_dips(void **state)
{
    scene *s = *state;
    check_dips(s, "CCCCEEEEEEEEEEECCCC", "C");            /* 55 m of edge between crossings */
    check_dips(s, "CCCCEEEEEEEEEEEECCCC", "CEC");         /* 60 m is a leg */
    check_dips(s, "CCCCUUUUEEEE", "CE");                  /* the milder of both sides */
    check_dips(s, "CCCC....UUUU", "CU");
    check_dips(s, "....CC....", ".C.");                   /* worse than both: stays */
    check_dips(s, "....EE....CCCC", ".EC");               /* the dip behind it goes with it */
    check_dips(s, "CCCCEEEE....", "CE.");                 /* a step is no dip */
    check_dips(s, "CCCC????CCCC", "C?C");                 /* unknown stays unknown */
    check_dips(s, "????CC????", "?C?");                   /* and takes nothing that was found */
    check_dips(s, "????RR????", "?R?");
    check_dips(s, "????..????", "?");
    check_dips(s, "UUUU..????", "U?");
}

#define CASE(name) cmocka_unit_test_setup_teardown(name, setup, teardown)

int main(void)
{
    const struct CMUnitTest tests[] = {
        CASE(test_any_samples), CASE(test_no_samples), CASE(test_slope), CASE(test_a_little_steeper), CASE(test_on_is_not_edge),
        CASE(test_boundaries),  CASE(test_gap),        CASE(test_failure),
        CASE(test_dips),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
