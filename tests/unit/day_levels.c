/* The level of the ground. The rules are those of day.h (level, margins, 400 m2,
 * gaps); every expected value here follows from them by hand. */
#include "day_bulletin.h"

enum { N = 1, NE = 2, E = 4, SE = 8, S = 16, SW = 32, W = 64, NW = 128 };

typedef struct scene {
    brant_bulletin bulletin;
    brant_rating ratings[8];
    brant_problem problems[4];
} scene;

static void add(scene *s, brant_level level, double lower, double upper, brant_aspects aspects,
                unsigned periods)
{
    s->ratings[s->bulletin.rating_count++] = (brant_rating){
        .level = level,
        .extent = {.aspects = aspects, .lower_m = lower, .upper_m = upper, .periods = periods}};
    s->bulletin.ratings = s->ratings;
}

/* 3 above 2200 on W-N-E, 2 elsewhere. */
static scene core(void)
{
    scene s = {0};
    add(&s, BRANT_LEVEL_3, 2200, NAN, W | NW | N | NE | E, BRANT_ALL_DAY);
    add(&s, BRANT_LEVEL_2, 2200, NAN, SE | S | SW, BRANT_ALL_DAY);
    add(&s, BRANT_LEVEL_2, NAN, 2200, BRANT_ASPECTS_ALL, BRANT_ALL_DAY);
    s.problems[0] = (brant_problem){.kind = BRANT_PERSISTENT_WEAK_LAYER,
                                    .extent = s.ratings[0].extent};
    s.problems[1] = (brant_problem){
        .kind = BRANT_WET_SNOW,
        .extent = {.aspects = S, .lower_m = NAN, .upper_m = 1800, .periods = BRANT_LATER}};
    s.bulletin.problems = s.problems;
    s.bulletin.problem_count = 2;
    return s;
}

static brant_level at(scene *s, double aspect, double elevation, unsigned periods)
{
    s->bulletin.ratings = s->ratings; /* a scene may have been copied */
    s->bulletin.problems = s->problems;
    return brant_bulletin_at(&s->bulletin, aspect, elevation, periods).level;
}

static void test_margins(void **state)
{
    (void)state;
    scene s = core();
    static const struct {
        double aspect, elevation;
        brant_level level;
    } cases[] = {
        {0, 2200, 3},       {0, 2500, 3},      {0, 2100, 3}, /* 100 m below still */
        {0, 2099, 2},       {359, 2150, 3},    {270, 2300, 3},
        {180, 2500, 2},     {112.4, 2500, 3},  {122.5, 2500, 3}, /* 10 degrees beyond E's edge */
        {122.6, 2500, 2},   {237.5, 2500, 3},  {237.4, 2500, 2},
        {122, 2120, 3},     /* both margins at once */
        {NAN, 2500, 3},     {NAN, 2000, 2},    {0, NAN, 3},
        {180, NAN, 2},      {NAN, NAN, 3},     {-90, 2300, 3}, {450, 2300, 3},
    };
    for (size_t i = 0; i < COUNT(cases); i++)
        assert_int_equal(at(&s, cases[i].aspect, cases[i].elevation, BRANT_ALL_DAY),
                         cases[i].level);
    assert_true(brant_bulletin_states_all(&s.bulletin, BRANT_ALL_DAY));
}

/* "Within 10 degrees of a sector's edge": 32.5 from its middle, of every sector. */
static void test_each_sector_s_margin(void **state)
{
    (void)state;
    scene s = core();
    s.bulletin.ratings = s.ratings;
    s.bulletin.problems = s.problems;
    s.bulletin.problem_count = 1;
    for (int sector = 0; sector < 8; sector++) {
        s.problems[0].extent = (brant_extent){.aspects = 1u << sector, .lower_m = NAN,
                                              .upper_m = NAN, .periods = BRANT_ALL_DAY};
        for (int aside = -33; aside <= 33; aside++)
            for (int turn = -1; turn <= 1; turn++)
                assert_int_equal(brant_bulletin_at(&s.bulletin, 45 * sector + aside + 360 * turn,
                                                   2000, BRANT_EARLIER).problems,
                                 abs(aside) < 33);
    }
}

static void test_problems(void **state)
{
    (void)state;
    scene s = core();
    s.bulletin.ratings = s.ratings;
    s.bulletin.problems = s.problems;
    static const struct {
        double aspect, elevation;
        unsigned periods;
        uint32_t problems;
    } cases[] = {
        {0, 2300, BRANT_EARLIER, 1},   {0, 2100, BRANT_LATER, 1},   {0, 2099, BRANT_ALL_DAY, 0},
        {180, 1700, BRANT_EARLIER, 0}, {180, 1700, BRANT_LATER, 2}, {180, 1900, BRANT_ALL_DAY, 2},
        {180, 1901, BRANT_ALL_DAY, 0}, {147.5, 1700, BRANT_LATER, 2}, {147.4, 1700, BRANT_LATER, 0},
        {NAN, NAN, BRANT_ALL_DAY, 3},  {NAN, 1700, BRANT_ALL_DAY, 2},
    };
    for (size_t i = 0; i < COUNT(cases); i++)
        assert_int_equal(brant_bulletin_at(&s.bulletin, cases[i].aspect, cases[i].elevation,
                                           cases[i].periods).problems,
                         cases[i].problems);
    s.problems[1].extent = s.problems[0].extent; /* two at one place are both named */
    assert_int_equal(brant_bulletin_at(&s.bulletin, 0, 2300, BRANT_EARLIER).problems, 3);
    assert_int_equal(brant_problem_kinds(&s.bulletin, 3),
                     BRANT_KIND_BIT(BRANT_PERSISTENT_WEAK_LAYER) | BRANT_KIND_BIT(BRANT_WET_SNOW));
    assert_int_equal(brant_problem_kinds(&s.bulletin, 0), 0);
    assert_int_equal(brant_problem_kinds(NULL, 3), 0);
    brant_text text = {0};
    brant_text_kinds(&text, 0);
    assert_null(text.data);
    brant_text_kinds(&text, brant_problem_kinds(&s.bulletin, 3));
    assert_string_equal(text.data, "persistent weak layer, wet snow");
    brant_text_clear(&text);
}

static void test_periods(void **state)
{
    (void)state;
    scene s = {0};
    add(&s, BRANT_LEVEL_1, NAN, NAN, BRANT_ASPECTS_ALL, BRANT_EARLIER);
    add(&s, BRANT_LEVEL_3, NAN, 2400, E | SE | S, BRANT_LATER);
    assert_int_equal(at(&s, 180, 2000, BRANT_EARLIER), BRANT_LEVEL_1);
    assert_int_equal(at(&s, 180, 2000, BRANT_LATER), BRANT_LEVEL_3);
    assert_int_equal(at(&s, 180, 2000, BRANT_ALL_DAY), BRANT_LEVEL_3);
    assert_int_equal(at(&s, 0, 2000, BRANT_EARLIER), BRANT_LEVEL_1);
    assert_int_equal(at(&s, 0, 2000, BRANT_LATER), BRANT_LEVEL_NOT_STATED);
    assert_int_equal(at(&s, 0, 2000, BRANT_ALL_DAY), BRANT_LEVEL_NOT_STATED);
    assert_true(brant_bulletin_states_all(&s.bulletin, BRANT_EARLIER));
    assert_false(brant_bulletin_states_all(&s.bulletin, BRANT_LATER));
    assert_false(brant_bulletin_states_all(&s.bulletin, BRANT_ALL_DAY));
}

static void test_gaps(void **state)
{
    (void)state;
    scene s = {0};
    add(&s, BRANT_LEVEL_3, 1800, NAN, NW | N | NE, BRANT_ALL_DAY);
    static const struct {
        double aspect, elevation;
        brant_level silent, lower;
        bool lowered;
    } cases[] = {
        {0, 1900, 3, 3, false},
        {0, 1800, 3, 3, false},
        {0, 1750, BRANT_LEVEL_NOT_STATED, 3, false}, /* a gap, within the margin of 3 */
        {0, 1600, BRANT_LEVEL_NOT_STATED, 2, true},
        {180, 2500, BRANT_LEVEL_NOT_STATED, 2, true},
        {77, 2500, BRANT_LEVEL_NOT_STATED, 3, false},
        {NAN, 2500, BRANT_LEVEL_NOT_STATED, 3, false},
        {NAN, 1000, BRANT_LEVEL_NOT_STATED, 2, true},
        {0, NAN, BRANT_LEVEL_NOT_STATED, 3, false},
    };
    for (size_t i = 0; i < COUNT(cases); i++) {
        for (int lower = 0; lower < 2; lower++) {
            s.bulletin.outside_core_lower = lower;
            brant_danger danger = brant_bulletin_at(&s.bulletin, cases[i].aspect,
                                                    cases[i].elevation, BRANT_ALL_DAY);
            assert_int_equal(danger.level, lower ? cases[i].lower : cases[i].silent);
            assert_int_equal(danger.lowered, lower && cases[i].lowered);
        }
    }
    /* one lower than 1 is 1, than 5 it is 4; one lower than no number is not stated */
    static const brant_level own[] = {1, 5, BRANT_LEVEL_NO_RATING, BRANT_LEVEL_NO_SNOW};
    static const brant_level out[] = {1, 4, BRANT_LEVEL_NOT_STATED, BRANT_LEVEL_NOT_STATED};
    for (size_t i = 0; i < COUNT(own); i++) {
        s.ratings[0].level = own[i];
        assert_int_equal(at(&s, 180, 2500, BRANT_ALL_DAY), out[i]);
    }
    /* beside a 5 the 5 is said; nothing rated at all is not stated; no bulletin none */
    s.bulletin.outside_core_lower = false;
    s.ratings[0].level = BRANT_LEVEL_5;
    assert_int_equal(at(&s, 0, 1750, BRANT_ALL_DAY), BRANT_LEVEL_5);
    s.bulletin.rating_count = 0;
    assert_int_equal(at(&s, 0, 1750, BRANT_ALL_DAY), BRANT_LEVEL_NOT_STATED);
    assert_int_equal(brant_bulletin_at(NULL, 0, 1750, BRANT_ALL_DAY).level, BRANT_LEVEL_NONE);
}

/* All is stated only if each height is: a gap at any of them, and on one sector, counts. */
static void test_gaps_of_elevation(void **state)
{
    (void)state;
    static const struct {
        double upper, lower; /* of the lower rating; of the upper one */
        brant_aspects aspects; /* of the upper one */
        bool all;
    } cases[] = {
        {2200, 2200, BRANT_ASPECTS_ALL, true}, {2300, 2200, BRANT_ASPECTS_ALL, true},
        {2000, 2200, BRANT_ASPECTS_ALL, false}, {NAN, 2200, N, true},
        {2200, 2200, BRANT_ASPECTS_ALL & ~S, false},
    };
    for (size_t i = 0; i < COUNT(cases); i++) {
        for (int turned = 0; turned < 2; turned++) { /* in either order */
            scene s = {0};
            if (turned)
                add(&s, BRANT_LEVEL_3, cases[i].lower, NAN, cases[i].aspects, BRANT_ALL_DAY);
            add(&s, BRANT_LEVEL_2, NAN, cases[i].upper, BRANT_ASPECTS_ALL, BRANT_ALL_DAY);
            if (!turned)
                add(&s, BRANT_LEVEL_3, cases[i].lower, NAN, cases[i].aspects, BRANT_ALL_DAY);
            s.bulletin.ratings = s.ratings;
            assert_int_equal(brant_bulletin_states_all(&s.bulletin, BRANT_ALL_DAY), cases[i].all);
        }
    }
    scene low = {0}, high = {0}; /* nothing above, nothing below */
    add(&low, BRANT_LEVEL_2, NAN, 2200, BRANT_ASPECTS_ALL, BRANT_ALL_DAY);
    assert_false(brant_bulletin_states_all(&low.bulletin, BRANT_ALL_DAY));
    add(&high, BRANT_LEVEL_2, 2200, NAN, BRANT_ASPECTS_ALL, BRANT_ALL_DAY);
    assert_false(brant_bulletin_states_all(&high.bulletin, BRANT_ALL_DAY));
}

static void test_names_and_order(void **state)
{
    (void)state;
    static const brant_level rising[] = {BRANT_LEVEL_NONE, BRANT_LEVEL_NO_SNOW, 1, 2, 3, 4,
                                         BRANT_LEVEL_NOT_STATED, BRANT_LEVEL_NO_RATING, 5};
    static const char *const texts[] = {"",  "no snow",    "1",         "2", "3",
                                        "4", "not stated", "no rating", "5"};
    for (int i = 0; i < (int)COUNT(rising); i++) {
        assert_string_equal(brant_level_text(rising[i]), texts[i]);
        assert_int_equal(brant_level_rank(rising[i]), i < 6 ? i : BRANT_RANK_FIRST);
        for (int k = 0; k < (int)COUNT(rising); k++)
            assert_int_equal(brant_level_higher(rising[i], rising[k]), rising[i > k ? i : k]);
    }
}

static void test_more_and_remote(void **state)
{
    (void)state;
    static const brant_level more[BRANT_LEVELS] = {
        BRANT_LEVEL_NONE, 2, 3, 4, 5, 5, BRANT_LEVEL_NO_SNOW, BRANT_LEVEL_NO_RATING,
        BRANT_LEVEL_NOT_STATED};
    scene s = core();
    s.bulletin.problems = s.problems;
    for (brant_level level = 0; level < BRANT_LEVELS; level++) {
        bool high = level == BRANT_LEVEL_4 || level == BRANT_LEVEL_5;
        assert_int_equal(brant_level_more(level), more[level]);
        assert_int_equal(brant_danger_remote(NULL, (brant_danger){.level = level}), high);
        assert_int_equal(
            brant_danger_remote(&s.bulletin, (brant_danger){.level = level, .problems = 2}), high);
        assert_true(
            brant_danger_remote(&s.bulletin, (brant_danger){.level = level, .problems = 3}));
    }
}

static void test_zone(void **state)
{
    (void)state;
    scene s = core();
    s.bulletin.ratings = s.ratings;
    s.bulletin.problems = s.problems;
    for (int high = 0; high <= 8; high++) { /* cells of 100 m2 at level 3; the rest at 2 */
        brant_danger_tally zone = {0}, small = {0};
        for (int i = 0; i < 8; i++) {
            brant_danger_add(&zone, &s.bulletin, 0, i < high ? 2300 : 1900, 100);
            if (i >= 5)
                brant_danger_add(&small, &s.bulletin, 0, i < high ? 2300 : 1900, 100);
        }
        brant_danger danger = brant_danger_of(&zone, BRANT_EARLIER);
        assert_int_equal(danger.level, high >= 4 ? 3 : 2);
        assert_int_equal(danger.problems, high >= 4 ? 1 : 0);
        assert_int_equal(brant_danger_of(&zone, BRANT_LATER).level, danger.level);
        /* of a zone below 400 m2 any cell counts */
        assert_int_equal(brant_danger_of(&small, BRANT_EARLIER).level, high > 5 ? 3 : 2);
    }
    /* each problem for itself */
    brant_danger_tally south = {0};
    brant_danger_add(&south, &s.bulletin, 180, 1700, 400);
    assert_int_equal(brant_danger_of(&south, BRANT_LATER).problems, 2);
    assert_int_equal(brant_danger_of(&south, BRANT_EARLIER).problems, 0);
    /* "it or a higher one": 300 m2 of 4 and 200 of 3 are 3 */
    scene m = {0};
    add(&m, BRANT_LEVEL_4, 2000, NAN, BRANT_ASPECTS_ALL, BRANT_ALL_DAY);
    add(&m, BRANT_LEVEL_3, 1000, 2000, BRANT_ASPECTS_ALL, BRANT_ALL_DAY);
    add(&m, BRANT_LEVEL_1, NAN, 1000, BRANT_ASPECTS_ALL, BRANT_ALL_DAY);
    brant_danger_tally tally = {0};
    brant_danger_add(&tally, &m.bulletin, 0, 2500, 300);
    brant_danger_add(&tally, &m.bulletin, 0, 1500, 200);
    brant_danger_add(&tally, &m.bulletin, 0, 500, 5000);
    assert_int_equal(brant_danger_of(&tally, BRANT_ALL_DAY).level, BRANT_LEVEL_3);
    tally = (brant_danger_tally){0};
    assert_int_equal(brant_danger_of(&tally, BRANT_ALL_DAY).level, BRANT_LEVEL_NONE);
    brant_danger_add(&tally, NULL, 0, 2500, 500);
    assert_int_equal(brant_danger_of(&tally, BRANT_ALL_DAY).level, BRANT_LEVEL_NONE);
}

/* As many as a bulletin may have, each somewhere. */
static void test_zone_of_many_problems(void **state)
{
    (void)state;
    scene s = core();
    static brant_problem problems[BRANT_PROBLEMS_MAX];
    s.bulletin.ratings = s.ratings;
    s.bulletin.problems = problems;
    s.bulletin.problem_count = BRANT_PROBLEMS_MAX;
    for (int i = 0; i < BRANT_PROBLEMS_MAX; i++)
        problems[i].extent = (brant_extent){.aspects = BRANT_ASPECTS_ALL, .lower_m = 1000 + 300 * i,
                                            .upper_m = NAN, .periods = BRANT_ALL_DAY};
    for (int i = 0; i < BRANT_PROBLEMS_MAX; i++) {
        brant_danger_tally tally = {0};
        brant_danger_add(&tally, &s.bulletin, 0, 1000 + 300 * i, 400);
        assert_int_equal(brant_danger_of(&tally, BRANT_EARLIER).problems, UINT32_MAX >> (31 - i));
    }
}

static void test_zone_by_hours_and_lowered(void **state)
{
    (void)state;
    scene s = {0};
    add(&s, BRANT_LEVEL_2, NAN, NAN, BRANT_ASPECTS_ALL, BRANT_EARLIER);
    add(&s, BRANT_LEVEL_4, 2000, NAN, S, BRANT_LATER);
    s.bulletin.outside_core_lower = true;
    brant_danger_tally tally = {0};
    brant_danger_add(&tally, &s.bulletin, 0, 2500, 1000);
    brant_danger_add(&tally, &s.bulletin, 180, 2500, 300);
    brant_danger earlier = brant_danger_of(&tally, BRANT_EARLIER);
    brant_danger later = brant_danger_of(&tally, BRANT_LATER);
    assert_true(earlier.level == BRANT_LEVEL_2 && !earlier.lowered);
    assert_true(later.level == BRANT_LEVEL_3 && later.lowered);
    brant_danger_add(&tally, &s.bulletin, 180, 2500, 100);
    later = brant_danger_of(&tally, BRANT_ALL_DAY);
    assert_true(later.level == BRANT_LEVEL_4 && !later.lowered);
}

static void test_windows(void **state)
{
    (void)state;
    brant_time start;
    assert_true(brant_time_parse("2027-02-13T06:30+01:00", &start));
    int64_t day = brant_time_midnight(&start);
    static const struct {
        int later_from, from, to; /* minutes of the day */
        unsigned periods;
    } cases[] = {
        {-1, 390, 800, BRANT_ALL_DAY}, {660, 390, 659, BRANT_EARLIER},
        {660, 390, 660, BRANT_ALL_DAY}, {660, 660, 700, BRANT_LATER},
        {660, 659, 660, BRANT_ALL_DAY}, {0, 390, 400, BRANT_LATER},
        {660, 700, 1439, BRANT_LATER}, {660, 700, 1440, BRANT_ALL_DAY},
        {660, -1, 600, BRANT_ALL_DAY},
    };
    for (size_t i = 0; i < COUNT(cases); i++)
        assert_int_equal(brant_periods_in(&start, cases[i].later_from, day + cases[i].from * 60,
                                          day + cases[i].to * 60),
                         cases[i].periods);
}

/* ---- more danger never ranks lower -------------------------------------- */

static unsigned random_below(unsigned *seed, unsigned below)
{
    *seed = *seed * 1103515245u + 12345u;
    return (*seed >> 16 & 0x7fff) % below;
}

/* A bulletin that states everything, by sector and elevation band, one rating each
 * (`whole`), and one rating more. */
static scene random_scene(unsigned *seed)
{
    scene s = {0};
    static const brant_level levels[] = {1, 2, 3, 4, 5, BRANT_LEVEL_NO_SNOW,
                                         BRANT_LEVEL_NO_RATING};
    double bound = 1500 + 100 * random_below(seed, 10);
    brant_aspects some = random_below(seed, 256);
    add(&s, levels[random_below(seed, 7)], bound, NAN, some, BRANT_ALL_DAY);
    add(&s, levels[random_below(seed, 7)], bound, NAN, ~some & BRANT_ASPECTS_ALL, BRANT_ALL_DAY);
    add(&s, levels[random_below(seed, 7)], NAN, bound, some, BRANT_EARLIER);
    add(&s, levels[random_below(seed, 7)], NAN, bound, some, BRANT_LATER);
    add(&s, levels[random_below(seed, 7)], NAN, bound, ~some & BRANT_ASPECTS_ALL, BRANT_ALL_DAY);
    s.bulletin.outside_core_lower = false;
    return s;
}

static double random_aspect(unsigned *seed)
{
    unsigned a = random_below(seed, 3650);
    return a >= 3600 ? NAN : a / 10.0;
}

static double random_elevation(unsigned *seed)
{
    unsigned z = random_below(seed, 1600);
    return z >= 1550 ? NAN : 1000.0 + z;
}

static void test_monotone(void **state)
{
    (void)state;
    unsigned seed = 3;
    for (int round = 0; round < 40000; round++) {
        scene s = random_scene(&seed);
        size_t which = random_below(&seed, 5);
        double aspect = random_aspect(&seed), elevation = random_elevation(&seed);
        unsigned periods = 1 + random_below(&seed, 3);
        int before = brant_level_rank(at(&s, aspect, elevation, periods));
        assert_true(brant_bulletin_states_all(&s.bulletin, BRANT_ALL_DAY));

        scene more = s; /* one level more */
        brant_level *level = &more.ratings[which].level;
        *level = *level == BRANT_LEVEL_NO_SNOW ? BRANT_LEVEL_1
                 : *level < BRANT_LEVEL_5      ? *level + 1
                                               : *level;
        assert_true(brant_level_rank(at(&more, aspect, elevation, periods)) >= before);

        scene wider = s; /* more aspects */
        wider.ratings[which].extent.aspects |= random_below(&seed, 256);
        assert_true(brant_level_rank(at(&wider, aspect, elevation, periods)) >= before);

        scene taller = s; /* more elevations */
        taller.ratings[which].extent.lower_m = NAN;
        assert_true(brant_level_rank(at(&taller, aspect, elevation, periods)) >= before);

        scene longer = s; /* the whole day */
        longer.ratings[which].extent.periods = BRANT_ALL_DAY;
        assert_true(brant_level_rank(at(&longer, aspect, elevation, periods)) >= before);
        assert_true(brant_level_rank(at(&s, aspect, elevation, BRANT_ALL_DAY)) >= before);
    }
}

/* A rating that is missing, where it spoke: never lower than it said. */
static void test_missing_rating(void **state)
{
    (void)state;
    unsigned seed = 5;
    int first = 0;
    for (int round = 0; round < 40000; round++) {
        scene s = random_scene(&seed);
        size_t which = random_below(&seed, 5);
        double aspect = random_aspect(&seed), elevation = random_elevation(&seed);
        scene less = s;
        memmove(&less.ratings[which], &less.ratings[which + 1],
                (4 - which) * sizeof less.ratings[0]);
        less.bulletin.rating_count--;
        for (unsigned period = BRANT_EARLIER; period <= BRANT_LATER; period++) {
            const brant_extent *e = &s.ratings[which].extent;
            bool here = (e->periods & period) && !isnan(aspect) &&
                        e->aspects >> (int)((aspect + 22.5) / 45) % 8 & 1u &&
                        !(elevation <= e->lower_m) && !(elevation >= e->upper_m);
            int before = brant_level_rank(at(&s, aspect, elevation, period));
            int after = brant_level_rank(at(&less, aspect, elevation, period));
            if (here) {
                assert_true(after >= before);
                assert_int_equal(after, BRANT_RANK_FIRST);
                first++;
            }
        }
    }
    assert_true(first > 5000);
}

/* Unknown height is the highest over all heights; no aspect over all sectors. */
static void test_unknown_is_the_highest_it_may_be(void **state)
{
    (void)state;
    unsigned seed = 9;
    for (int round = 0; round < 300; round++) {
        scene s = random_scene(&seed);
        for (int i = 0; i < 5; i++) /* with gaps */
            s.ratings[i].extent.aspects &= random_below(&seed, 256);
        s.ratings[2].extent.lower_m = 1200;
        s.ratings[0].extent.upper_m = s.ratings[1].extent.upper_m = 2700;
        s.problems[0].extent = s.ratings[0].extent;
        s.problems[0].extent.lower_m = 600; /* a band where no rating ends */
        s.problems[0].extent.upper_m = 700;
        s.problems[1].extent = s.ratings[2].extent;
        s.bulletin.problem_count = 2;
        s.bulletin.ratings = s.ratings;
        s.bulletin.problems = s.problems;
        double aspect = random_below(&seed, 360), elevation = 1000 + random_below(&seed, 1600);
        brant_danger high = {0}, flat = {0};
        for (double z = 0; z < 3000; z += 12.5)
            high = brant_danger_join(high,
                                     brant_bulletin_at(&s.bulletin, aspect, z, BRANT_EARLIER));
        for (int sector = 0; sector < 8; sector++)
            flat = brant_danger_join(
                flat, brant_bulletin_at(&s.bulletin, sector * 45, elevation, BRANT_EARLIER));
        brant_danger got = brant_bulletin_at(&s.bulletin, aspect, NAN, BRANT_EARLIER);
        assert_int_equal(got.level, high.level);
        assert_int_equal(got.problems, high.problems);
        got = brant_bulletin_at(&s.bulletin, NAN, elevation, BRANT_EARLIER);
        assert_int_equal(got.level, flat.level);
        assert_int_equal(got.problems, flat.problems);
    }
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(test_margins),  cmocka_unit_test(test_each_sector_s_margin),
        cmocka_unit_test(test_problems),
        cmocka_unit_test(test_periods),  cmocka_unit_test(test_gaps),
        cmocka_unit_test(test_gaps_of_elevation),
        cmocka_unit_test(test_names_and_order), cmocka_unit_test(test_more_and_remote),
        cmocka_unit_test(test_zone), cmocka_unit_test(test_zone_of_many_problems),
        cmocka_unit_test(test_zone_by_hours_and_lowered), cmocka_unit_test(test_windows),
        cmocka_unit_test(test_monotone), cmocka_unit_test(test_missing_rating),
        cmocka_unit_test(test_unknown_is_the_highest_it_may_be),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
