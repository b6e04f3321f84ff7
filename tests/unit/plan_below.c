/* What lies below a leg, on analytic slopes that fall to the east: the first of each kind, what
 * is not known, and when nothing is found. Worked out by hand from brant.1's words. */
#include "terrain_world.h"

#include "../../src/plan/below.h"

enum { SIDE = 150, LINE = 30, MOST = 90 }; /* the legs run down column LINE */

/* Of a place `x` metres east of the line (its cells' centres) and `y` north of the middle. */
typedef double (*slope_of)(double x, double y);

/* 36 degrees, from 200 m on 21: too flat to go on beyond some 800 m, too steep for a flat. */
static double to_gentle(double x, double y)
{
    (void)y;
    return 3000 - 0.7265 * fmin(x, 200) - 0.38 * fmax(x - 200, 0);
}

static double with_cliff(double x, double y)
{
    return to_gentle(x, y) - (x > 155 ? 60 : 0);
}

static double void_past_cliff(double x, double y)
{
    return x > 250 && x < 280 ? NAN : with_cliff(x, y);
}

static double void_before_cliff(double x, double y)
{
    return x > 65 && x < 95 && y > 0 ? NAN : with_cliff(x, y);
}

static double void_and_no_cliff(double x, double y)
{
    return x > 255 && x < 285 ? NAN : to_gentle(x, y);
}

static double void_too_far(double x, double y)
{
    return x > 900 ? NAN : to_gentle(x, y);
}

static double cliff_too_far(double x, double y)
{
    return to_gentle(x, y) - (x > 875 ? 60 : 0);
}

/* 36 degrees, from 100 m on level for 40 m, then 36 degrees to 400 m. */
static double with_terrace(double x, double y)
{
    (void)y;
    double fall = fmin(x, 100) + fmax(x - 140, 0) - fmax(x - 400, 0);
    return 3000 - 0.7265 * fall - 0.3 * fmax(x - 400, 0);
}

static double terrace_and_void(double x, double y)
{
    return x > 255 && x < 285 ? NAN : with_terrace(x, y);
}

/* North of the middle the void is before the cliff, south of it there is none. */
static double terrace_void_cliff(double x, double y)
{
    return y > 100 ? terrace_and_void(x, y) : with_terrace(x, y) - (x > 355 ? 60 : 0);
}

static double terrace_cliff_void(double x, double y)
{
    return x > 455 && x < 485 ? NAN : with_terrace(x, y) - (x > 355 ? 60 : 0);
}

/* A void further down than the cliff, which is south of it. */
static double terrace_cliff_or_void(double x, double y)
{
    if (y > -300)
        return x > 455 && x < 485 ? NAN : with_terrace(x, y);
    return with_terrace(x, y) - (x > 355 ? 60 : 0);
}

/* A valley that is 100 m away; its far side rises past the leg, with a cliff higher up. */
static double far_side(double x, double y)
{
    (void)y;
    return 3000 - 0.7265 * (x < 100 ? x : 200 - x) + (x > 225 ? 60 : 0);
}

/* The leg is in a gully that ends 100 m below it. */
static double from_gully(double x, double y)
{
    return terrace_and_void(x, y) + 0.6 * fmin(fabs(y), 60) * fmin(fmax(1 - x / 100, 0), 1);
}

/* A level valley along the middle: 10 m higher within 50 m on both sides for |y| < 16.7 m. */
static double along_gully(double x, double y)
{
    (void)x;
    return 3000 + 0.6 * fabs(y);
}

static double half_known_gully(double x, double y)
{
    return x < 35 && fabs(y) > 15 ? NAN : along_gully(x, y);
}

/* A terrace 70 m wide, from steep ground 45 m above the leg. */
static double on_terrace(double x, double y)
{
    (void)y;
    return 3000 - 0.7265 * (fmin(x + 45, 0) + fmax(x - 25, 0));
}

/* Void right above the leg, whose heights are not known between cells there. */
static double below_a_void(double x, double y)
{
    return x < -5 ? NAN : with_cliff(x, y);
}

typedef struct scene {
    world w;
    brant_shadow shadow;
    brant_tour tour;
    brant_leg legs[2];
    brant_sample samples[MOST];
    brant_fact facts[MOST];
    int way;
} scene;

/* A leg of `count` samples 10 m apart, in the middle of cells, from the `first` along the line
 * on. */
static void add_leg(scene *s, int first, int count)
{
    size_t from = s->tour.track.count;
    s->legs[s->tour.leg_count++] = (brant_leg){.kind = BRANT_KIND_CROSSES, .first_sample = from,
                                               .samples = (size_t)count};
    for (int i = 0; i < count; i++) {
        double down = LINE + 0.5, along = first + i + 0.5;
        brant_sample *sample = &s->samples[s->tour.track.count];
        *sample = (brant_sample){.col = down, .row = along,
                                 .along_m = 10.0 * (double)s->tour.track.count};
        if (s->way % 2 == 1)
            sample->col = SIDE - down;
        if (s->way >= 2) {
            sample->row = sample->col;
            sample->col = along;
        }
        s->facts[s->tour.track.count++].elevation_m = 3000;
    }
}

/* `way`: it falls to the east, west, south, north. */
static void open_turned(scene *s, slope_of height, int way)
{
    const brant_window all = {0, 0, SIDE, SIDE};
    memset(s, 0, sizeof *s);
    s->way = way;
    world_open_local(&s->w, 10, SIDE, SIDE);
    for (int row = 0; row < SIDE; row++)
        for (int col = 0; col < SIDE; col++) {
            int down = way < 2 ? col : row, along = way < 2 ? row : col;
            if (way % 2 == 1)
                down = SIDE - 1 - down;
            *world_z(&s->w, col, row) =
                (float)height((down - LINE) * 10.0, (SIDE / 2 - along) * 10.0);
        }
    assert_int_equal(brant_shadow_create(&s->w.ctx, &all, 25, &s->shadow), BRANT_OK);
    s->tour.track.samples = s->samples;
    s->tour.facts = s->facts;
    s->tour.legs = s->legs;
}

static void open_scene(scene *s, slope_of height)
{
    open_turned(s, height, 0);
}

static void look_below(scene *s)
{
    const brant_reach_options reach = BRANT_REACH_OPTIONS_DEFAULT;
    assert_int_equal(brant_below_run(&s->w.ctx, &s->w.source, s->w.ground, &reach, &s->shadow,
                                     &s->tour, 1), BRANT_OK);
}

static void close_scene(scene *s)
{
    brant_shadow_clear(&s->shadow);
    world_close(&s->w);
}

/* `metres`, or up to `nearer` less; NaN: none. */
static void assert_found(const brant_below *below, brant_below_kind kind, double metres,
                         double nearer)
{
    double found = (double)below->run_m[kind];
    if (isnan(metres) ? !isnan(found) : !(found <= metres && found >= metres - nearer))
        fail_msg("kind %d: %g m, not %g", (int)kind, found, metres);
}

/* Whichever way it falls, from 20 m before a void on: cells whose flow it has a part in. */
static void before_a_void(void **state)
{
    (void)state;
    assert_int_equal(brant_flow_around(10), 2);
    for (int way = 0; way < 4; way++) {
        scene s;
        open_turned(&s, terrace_and_void, way);
        add_leg(&s, 70, 3);
        look_below(&s);
        assert_found(&s.legs[0].below, BRANT_BELOW_FLAT, 110, 10);
        assert_found(&s.legs[0].below, BRANT_BELOW_UNKNOWN, 240, 0);
        close_scene(&s);
    }
}

static void the_first_of_each(void **state)
{
    static const struct {
        slope_of height;
        double cliff, flat, unknown; /* 20 m before a void; 50 m where gullies are looked for */
        bool beyond;
    } cases[] = {
        {to_gentle, NAN, NAN, NAN, false},
        {void_too_far, NAN, NAN, NAN, false},
        {cliff_too_far, NAN, NAN, NAN, false},
        {with_cliff, 150, NAN, NAN, false},
        {void_past_cliff, 150, NAN, NAN, false},
        {void_before_cliff, 150, NAN, 20, false},
        {void_and_no_cliff, NAN, NAN, 210, false},
        {with_terrace, NAN, 110, NAN, false},
        {terrace_and_void, NAN, 110, 240, true},
        {terrace_void_cliff, 350, 110, 240, true},
        {terrace_cliff_void, 350, 110, NAN, false},
    };
    (void)state;
    for (size_t i = 0; i < sizeof cases / sizeof *cases; i++) {
        scene s;
        open_scene(&s, cases[i].height);
        add_leg(&s, 58, 35);
        look_below(&s);
        const brant_below *below = &s.legs[0].below;
        assert_true(below->sought);
        assert_found(below, BRANT_BELOW_CLIFF, cases[i].cliff, 0);
        assert_found(below, BRANT_BELOW_GULLY, NAN, 0);
        assert_found(below, BRANT_BELOW_FLAT, cases[i].flat, 10);
        assert_found(below, BRANT_BELOW_UNKNOWN, cases[i].unknown, 0);
        assert_int_equal(below->unknown_beyond, cases[i].beyond);
        assert_true(below->gully_m == 0);
        close_scene(&s);
    }
}

/* One leg's unknown ground is not another's, and its cells are not. */
static void legs_have_their_own(void **state)
{
    scene s;
    (void)state;
    open_scene(&s, terrace_void_cliff);
    add_leg(&s, 30, 10); /* y 450 to 360: over the void alone */
    add_leg(&s, 100, 10); /* y -250 to -340: over the cliff alone */
    look_below(&s);
    assert_found(&s.legs[0].below, BRANT_BELOW_CLIFF, NAN, 0);
    assert_found(&s.legs[0].below, BRANT_BELOW_UNKNOWN, 240, 0);
    assert_true(s.legs[0].below.unknown_beyond);
    assert_found(&s.legs[1].below, BRANT_BELOW_CLIFF, 350, 0);
    assert_found(&s.legs[1].below, BRANT_BELOW_FLAT, 110, 10);
    assert_found(&s.legs[1].below, BRANT_BELOW_UNKNOWN, NAN, 0);
    assert_false(s.legs[1].below.unknown_beyond);
    close_scene(&s);
}

/* A leg longer than what is looked at at once: the cliff is below its end. */
static void all_of_a_long_leg(void **state)
{
    scene s;
    (void)state;
    open_scene(&s, terrace_void_cliff);
    add_leg(&s, 20, 80); /* y 550 to -240 */
    look_below(&s);
    assert_found(&s.legs[0].below, BRANT_BELOW_CLIFF, 350, 0);
    assert_found(&s.legs[0].below, BRANT_BELOW_UNKNOWN, 240, 0);
    assert_true(s.legs[0].below.unknown_beyond);
    close_scene(&s);
    open_scene(&s, terrace_cliff_or_void);
    add_leg(&s, 35, 85); /* y 400 to -440 */
    look_below(&s);
    assert_found(&s.legs[0].below, BRANT_BELOW_CLIFF, 350, 0);
    assert_false(s.legs[0].below.unknown_beyond);
    close_scene(&s);
}

static void kinds_that_are_sought(void **state)
{
    (void)state;
    for (int kind = 0; kind < BRANT_KINDS; kind++) {
        scene s;
        open_scene(&s, with_cliff);
        add_leg(&s, 70, 3);
        s.legs[0].kind = (brant_kind)kind;
        look_below(&s);
        assert_int_equal(s.legs[0].below.sought,
                         kind != BRANT_KIND_REMOTE && kind != BRANT_KIND_NONE_FOUND);
        if (s.legs[0].below.sought)
            assert_found(&s.legs[0].below, BRANT_BELOW_CLIFF, 150, 0);
        close_scene(&s);
    }
}

/* What comes from above is as high already: by the leg's own head or that of the shadow. */
static void a_head_goes_further(void **state)
{
    scene s;
    (void)state;
    for (int way = 0; way < 3; way++) {
        open_scene(&s, cliff_too_far);
        add_leg(&s, 70, 3);
        for (int i = 0; i < 3; i++) {
            if (way == 1)
                s.facts[i].head_m = 30;
            if (way == 2)
                s.shadow.head[(70 + i) * SIDE + LINE] = 30;
        }
        look_below(&s);
        assert_found(&s.legs[0].below, BRANT_BELOW_CLIFF, way > 0 ? 870 : NAN, 0);
        close_scene(&s);
    }
}

/* A reach angle that a zone has of its own counts for legs on it, at its edge, or under it. */
static void a_zones_own_reach_angle(void **state)
{
    static const struct {
        brant_above above;
        bool lower;
    } cases[] = {
        {{.on = true, .reached_at_deg = 90}, true}, {{.edge = true}, true},
        {{.reached_at_deg = 24}, true},             {{.reached_at_deg = 23}, true},
        {{.reached_at_deg = 22.5f}, false},         {{.remote = true}, false},
    };
    const brant_zone plain = {.number = 1}, own = {.number = 2, .reach_angle_deg = 23};
    (void)state;
    for (size_t i = 0; i < sizeof cases / sizeof *cases; i++) {
        brant_above above[3] = {{.zone = &plain, .on = true}, cases[i].above,
                                {.zone = &plain, .on = true}};
        scene s;
        open_scene(&s, cliff_too_far);
        above[1].zone = &own;
        add_leg(&s, 70, 3);
        add_leg(&s, 76, 3);
        s.tour.above = above;
        s.tour.above_count = 3;
        s.legs[0].aboves = 3;
        look_below(&s);
        assert_found(&s.legs[0].below, BRANT_BELOW_CLIFF, cases[i].lower ? 870 : NAN, 0);
        assert_found(&s.legs[1].below, BRANT_BELOW_CLIFF, NAN, 0);
        close_scene(&s);
    }
}

static void what_rises_above_the_leg_is_not_below(void **state)
{
    scene s;
    (void)state;
    open_scene(&s, far_side);
    add_leg(&s, 70, 3);
    for (int i = 0; i < 3; i++)
        s.facts[i].head_m = 300;
    look_below(&s);
    assert_found(&s.legs[0].below, BRANT_BELOW_CLIFF, NAN, 0);
    assert_found(&s.legs[0].below, BRANT_BELOW_GULLY, 100, 50);
    close_scene(&s);
}

static void where_it_is_not_known(void **state)
{
    scene s;
    (void)state;
    open_scene(&s, to_gentle); /* how high it comes */
    add_leg(&s, 70, 3);
    s.legs[0].is = BRANT_UNKNOWN_ABOVE;
    look_below(&s);
    assert_found(&s.legs[0].below, BRANT_BELOW_UNKNOWN, 0, 0);
    assert_false(s.legs[0].below.unknown_beyond);
    close_scene(&s);
    open_scene(&s, with_terrace);
    add_leg(&s, 70, 3);
    s.legs[0].is = BRANT_UNKNOWN_ABOVE;
    look_below(&s);
    assert_found(&s.legs[0].below, BRANT_BELOW_FLAT, 110, 10);
    assert_true(s.legs[0].below.unknown_beyond);
    close_scene(&s);
    open_scene(&s, terrace_cliff_void);
    add_leg(&s, 100, 3);
    s.legs[0].is = BRANT_UNKNOWN_ABOVE;
    look_below(&s);
    assert_found(&s.legs[0].below, BRANT_BELOW_CLIFF, 350, 0);
    assert_false(s.legs[0].below.unknown_beyond);
    close_scene(&s);
    for (int way = 0; way < 5; way++) { /* off the model, all of it or its last sample */
        open_scene(&s, with_cliff);
        add_leg(&s, 70, 3);
        for (int i = way < 4 ? 0 : 2; i < 3; i++) {
            if (way < 2)
                s.samples[i].col = way == 0 ? -0.5 : SIDE;
            else
                s.samples[i].row = way == 3 ? SIDE + 0.5 : -0.5;
        }
        look_below(&s);
        assert_found(&s.legs[0].below, BRANT_BELOW_UNKNOWN, 0, 0);
        assert_found(&s.legs[0].below, BRANT_BELOW_CLIFF, way < 4 ? NAN : 150, 0);
        assert_true(isnan(s.legs[0].below.gully_m));
        close_scene(&s);
    }
}

/* By the steep ground above it, which is no part of the way down. */
static void a_flat_that_the_leg_is_on(void **state)
{
    scene s;
    (void)state;
    open_scene(&s, on_terrace);
    add_leg(&s, 70, 3);
    look_below(&s);
    assert_found(&s.legs[0].below, BRANT_BELOW_FLAT, 0, 0);
    assert_true(s.legs[0].below.gully_m == 0);
    close_scene(&s);
}

/* A gully is a first thing, too: no flat is told past it, but what is not known. */
static void past_a_gully(void **state)
{
    scene s;
    (void)state;
    open_scene(&s, from_gully);
    add_leg(&s, SIDE / 2 - 1, 3);
    look_below(&s);
    assert_found(&s.legs[0].below, BRANT_BELOW_GULLY, 0, 0);
    assert_found(&s.legs[0].below, BRANT_BELOW_FLAT, NAN, 0);
    assert_found(&s.legs[0].below, BRANT_BELOW_CLIFF, NAN, 0);
    assert_found(&s.legs[0].below, BRANT_BELOW_UNKNOWN, 240, 0);
    assert_true(s.legs[0].below.unknown_beyond);
    close_scene(&s);
}

/* A leg whose heights are not known: what is below it is told all the same. */
static void from_unknown_heights(void **state)
{
    scene s;
    (void)state;
    for (int all = 0; all < 2; all++) {
        open_scene(&s, below_a_void);
        add_leg(&s, 70, 3);
        for (int i = 0; i < 3; i++)
            s.facts[i].elevation_m = all || i == 1 ? NAN : 2700;
        look_below(&s);
        assert_found(&s.legs[0].below, BRANT_BELOW_UNKNOWN, 0, 0);
        assert_found(&s.legs[0].below, BRANT_BELOW_CLIFF, 150, 0);
        close_scene(&s);
    }
}

static void metres_in_a_gully(void **state)
{
    scene s;
    (void)state;
    open_scene(&s, along_gully);
    add_leg(&s, 60, 31);
    look_below(&s);
    assert_true(s.legs[0].below.gully_m == 30); /* the samples at y -10, 0, 10 */
    assert_found(&s.legs[0].below, BRANT_BELOW_GULLY, 0, 0);
    close_scene(&s);
    open_scene(&s, along_gully); /* some of it off the model */
    add_leg(&s, 60, 31);
    s.samples[0].row = -0.5;
    look_below(&s);
    assert_true(s.legs[0].below.gully_m == 30);
    close_scene(&s);
    open_scene(&s, half_known_gully);
    add_leg(&s, 74, 3);
    look_below(&s);
    assert_true(isnan(s.legs[0].below.gully_m));
    assert_found(&s.legs[0].below, BRANT_BELOW_UNKNOWN, 0, 0);
    close_scene(&s);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(before_a_void),
        cmocka_unit_test(the_first_of_each),
        cmocka_unit_test(legs_have_their_own),
        cmocka_unit_test(all_of_a_long_leg),
        cmocka_unit_test(kinds_that_are_sought),
        cmocka_unit_test(a_head_goes_further),
        cmocka_unit_test(a_zones_own_reach_angle),
        cmocka_unit_test(what_rises_above_the_leg_is_not_below),
        cmocka_unit_test(where_it_is_not_known),
        cmocka_unit_test(a_flat_that_the_leg_is_on),
        cmocka_unit_test(past_a_gully),
        cmocka_unit_test(from_unknown_heights),
        cmocka_unit_test(metres_in_a_gully),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
