/* The table of circuits: what brant-screen(1) says of its columns, and its order. */
#include "report_tour.h"

#include <stdio.h>

#define COUNT(a) (sizeof(a) / sizeof((a)[0]))

typedef struct scene {
    made m;
    brant_zone on, twice, steep, far;
    brant_bulletin bulletin;
    brant_problem problems[2];
    brant_day day;
    double seconds[MADE_LEGS * MADE_SAMPLES];
    brant_context ctx;
    brant_report report;
    brant_circuit row;
} scene;

/* 1 none found, 2 crosses at level 3, 3 under at level 2, 4 none found at level 4 */
static void make_scene(scene *s)
{
    static const float slopes[] = {33, 35, 40, 45}; /* of leg 2 */
    memset(s, 0, sizeof *s);
    s->on = made_zone(7, 60000, 43, 45, 2300, 2660);
    s->twice = made_zone(9, 140000, 41, 350, 2000, 2360);
    s->steep = made_zone(10, 8000, 38, 350, 2000, 2360);
    s->far = made_zone(12, 900000, 36, 270, 1800, 1830);
    made_begin(&s->m, "Tallis Horn");
    made_leg(&s->m, BRANT_KIND_NONE_FOUND, 1000);
    brant_leg *crosses = made_leg(&s->m, BRANT_KIND_CROSSES, 1400);
    made_above(&s->m, &s->on, 90, NAN, true, false);
    made_above(&s->m, &s->twice, 33, 80, false, false);
    for (int i = 0; i < 4; i++)
        s->m.facts[4 + i].slope_deg = slopes[i];
    crosses->level = BRANT_LEVEL_3;
    crosses->problems = 1;
    crosses->unknown_above_m = 50;
    for (int i = 0; i < 3; i++)
        crosses->reached_m[i] = 400;
    brant_leg *under = made_leg(&s->m, BRANT_KIND_UNDER, 2000);
    made_above(&s->m, &s->steep, 25, 80, false, false);
    made_above(&s->m, &s->twice, 30, 80, false, false); /* again */
    made_above(&s->m, &s->far, 24.9, -3, false, false); /* not at the reach angle */
    under->level = BRANT_LEVEL_2;
    under->problems = 2;
    under->unknown_above_m = 30;
    under->reached_m[1] = under->reached_m[2] = 600;
    brant_leg *none = made_leg(&s->m, BRANT_KIND_NONE_FOUND, 3000);
    none->level = BRANT_LEVEL_4; /* nothing is met there */
    none->problems = 2;
    for (size_t i = 0; i < s->m.tour.leg_count; i++) {
        s->m.legs[i].limit.limit_deg = NAN;
        s->m.legs[i].shelter.mean_deg = NAN;
        s->m.legs[i].sun.possible.first = NAN;
    }
    s->m.tour.climb_m = 1240;
    s->m.tour.descent_m = 1236;
    made_rank(&s->m, (const uint32_t[]){2, 3, 0});
    s->report = made_report(&s->m.tour, 1);
}

static void with_day(scene *s)
{
    s->problems[0].kind = BRANT_WIND_SLAB;
    s->problems[1].kind = BRANT_WET_SNOW;
    s->bulletin.problems = s->problems;
    s->bulletin.problem_count = 2;
    s->bulletin.by_hand = true;
    s->bulletin.name = (char *)"b.json";
    s->day = BRANT_DAY_NONE;
    s->day.bulletin = &s->bulletin;
    assert_true(brant_time_parse("2027-02-13T06:30+01:00", &s->day.start));
    for (size_t i = 0; i < s->m.tour.track.count; i++)
        s->seconds[i] = 3600.0 * (double)i / (double)(s->m.tour.track.count - 1);
    s->m.tour.seconds = s->seconds;
    s->report.day = &s->day;
}

static const brant_value *column(const brant_circuit *row, const char *name)
{
    int at = brant_circuit_column(name);
    if (at < 0)
        fail_msg("no column %s", name);
    return &row->value[at];
}

static void assert_number(const brant_circuit *row, const char *name, double value)
{
    double got = column(row, name)->number;
    if (!(got == value || (isnan(got) && isnan(value))))
        fail_msg("%s is %g, not %g", name, got, value);
}

static void assert_words(const brant_circuit *row, const char *name, const char *words)
{
    const char *got = column(row, name)->text;
    if (!(words ? got && strcmp(got, words) == 0 : got == NULL))
        fail_msg("%s is '%s', not '%s'", name, got ? got : "", words ? words : "");
}

static const brant_circuit *row_of(scene *s)
{
    brant_circuit_clear(&s->row);
    assert_int_equal(brant_circuit_of(&s->ctx, &s->report, 0, "a/horn.gpx", NULL, &s->row),
                     BRANT_OK);
    return &s->row;
}

static void test_the_ground(void **state)
{
    (void)state;
    static scene s;
    make_scene(&s);
    const brant_circuit *row = row_of(&s);
    /* samples stand at 1050, 1150, 1250, 1350; beside them at 875 and 1475 */
    static const struct {
        const char *name;
        double value;
    } numbers[] = {
        {"length_m", 3000}, {"climb_m", 1240}, {"descent_m", 1236}, {"legs", 4},
        {"unknown_m", 0}, {"crosses_m", 400}, {"over_band_m", 0}, {"edge_m", 0},
        {"under_m", 600}, {"remote_m", 0}, {"none_found_m", 2000}, {"steepest_deg", 45},
        {"on_30_35_m", 137.5}, {"on_35_40_m", 100}, {"on_40_45_m", 100}, {"on_over_45_m", 112.5},
        {"under_at_30_m", 400}, {"under_at_25_m", 1000}, {"under_at_20_m", 1000},
        {"area_above_m2", 74000}, /* half of 140,000, once, and of 8,000 */
        {"largest_face_m2", 140000}, {"unknown_above_m", 80}, {"governing_leg", 2},
        {"start_lat", 46.5},
        /* without a day */
        {"hours", NAN}, {"hours_late", NAN}, {"over_limit_m", NAN}, {"limit_unknown_m", NAN},
    };
    for (size_t i = 0; i < COUNT(numbers); i++)
        assert_number(row, numbers[i].name, numbers[i].value);
    assert_words(row, "route", "Tallis Horn");
    assert_words(row, "file", "a/horn.gpx");
    assert_words(row, "status", "ok");
    assert_words(row, "same_as", NULL);
    assert_words(row, "level", NULL);
    assert_words(row, "sun_from", NULL);
    assert_words(row, "governing", "crosses 1.00-1.40 km; 20 deg E, face 6 ha; above: 41 deg N, "
                                   "2,000-2,360 m, face 14 ha, reached at 33 deg; unknown above "
                                   "for 50 m");
    assert_false(row->unjudged || row->failed);
    s.report.floor_deg = 22; /* "empty below --floor" */
    assert_number(row_of(&s), "under_at_20_m", NAN);
    /* slopes that are not known are none */
    for (size_t i = 0; i < s.m.tour.track.count; i++)
        s.m.facts[i].slope_deg = NAN;
    assert_number(row_of(&s), "steepest_deg", NAN);
    brant_circuit_clear(&s.row);
}

static void test_the_day(void **state)
{
    (void)state;
    static scene s;
    make_scene(&s);
    with_day(&s);
    s.m.legs[2].sun_sought = s.m.legs[1].sun_sought = true;
    s.m.legs[2].sun.possible.first = (double)s.day.start.utc_s + 6000;
    s.m.tour.over_m = 250;
    s.m.tour.limit_unknown_m = 0;
    const brant_circuit *row = row_of(&s);
    assert_number(row, "hours", 1);
    assert_number(row, "hours_late", 1.3);
    assert_words(row, "level", "3"); /* the highest that is met: not that of leg 4 */
    assert_words(row, "problems", "wind slab, wet snow");
    brant_text legs = {0};
    s.m.legs[1].problems = 3;
    brant_report_legs_csv(&s.report, &legs);
    assert_non_null(strstr(legs.data, ",3,wind slab; wet snow,"));
    assert_non_null(strstr(legs.data, ",2,wet snow,"));
    brant_text_clear(&legs);
    assert_number(row, "over_limit_m", 250);
    assert_number(row, "limit_unknown_m", 0);
    assert_words(row, "sun_from", "2027-02-13T08:10:00+01:00");
    assert_words(row, "status", "ok");
    s.m.legs[1].sun.possible.first = (double)s.day.start.utc_s + 600; /* "the first" */
    assert_words(row_of(&s), "sun_from", "2027-02-13T06:40:00+01:00");
    s.m.legs[1].sun_sought = s.m.legs[2].sun_sought = false;
    assert_words(row_of(&s), "sun_from", NULL);
    /* only the late pace is back after the bulletin's end */
    s.bulletin.by_hand = false;
    s.bulletin.valid_from = s.day.start;
    s.bulletin.valid_to = s.day.start;
    s.bulletin.valid_to.utc_s += 4679;
    assert_words(row_of(&s), "status", "bulletin does not cover it");
    s.bulletin.valid_to.utc_s++;
    assert_words(row_of(&s), "status", "ok");
    brant_circuit_clear(&s.row);
}

/* "It meets level 5, no rating, not stated or unknown ground", or ground of unknown limit. */
static void test_what_cannot_be_judged(void **state)
{
    (void)state;
    static const struct {
        brant_level level; /* of the leg that is under */
        const char *text;
        bool unjudged;
    } cases[] = {
        {BRANT_LEVEL_1, "1", false},         {BRANT_LEVEL_4, "4", false},
        {BRANT_LEVEL_5, "5", true},          {BRANT_LEVEL_NO_RATING, "no rating", true},
        {BRANT_LEVEL_NOT_STATED, "not stated", true}, {BRANT_LEVEL_NO_SNOW, "no snow", false},
    };
    static scene s;
    for (size_t i = 0; i < COUNT(cases); i++) {
        make_scene(&s);
        with_day(&s);
        s.m.legs[1].level = BRANT_LEVEL_NO_SNOW;
        s.m.legs[2].level = cases[i].level;
        const brant_circuit *row = row_of(&s);
        assert_words(row, "level", cases[i].text);
        assert_int_equal(row->unjudged, cases[i].unjudged);
        /* what is beyond the rule has no metres over it */
        assert_number(row, "over_limit_m", cases[i].unjudged ? NAN : 0);
        /* but another leg's limit holds */
        s.m.legs[1].limit.limit_deg = 40;
        assert_number(row_of(&s), "over_limit_m", 0);
        brant_circuit_clear(&s.row);
    }
    make_scene(&s); /* unknown ground: with and without a bulletin */
    made_leg(&s.m, BRANT_KIND_UNKNOWN, 3000.4); /* however little */
    made_void(&s.m, true);
    made_rank(&s.m, (const uint32_t[]){5, 2, 3, 0});
    assert_true(row_of(&s)->unjudged);
    assert_words(&s.row, "status", "unknown parts");
    assert_words(&s.row, "governing", "unknown 3.000 km: hole in the model");
    with_day(&s);
    assert_true(row_of(&s)->unjudged);
    s.bulletin.by_hand = false;
    assert_words(row_of(&s), "status", "unknown parts; bulletin does not cover it");
    brant_circuit_clear(&s.row);
    make_scene(&s);
    with_day(&s);
    s.m.tour.limit_unknown_m = 10;
    assert_true(row_of(&s)->unjudged);
    brant_circuit_clear(&s.row);
}

/* ---- order --------------------------------------------------------------- */

typedef struct ordered {
    const char *file;
    bool failed, unjudged;
    double over_limit_m, crosses_m, over_band_m, edge_m, under_m;
} ordered;

/* "First what was not screened, then what cannot be judged, each by metres over the limit, on
 * or beside release ground, and under it." */
static const ordered ranked[] = {
    {"c failed", true, false, NAN, NAN, NAN, NAN, NAN},
    {"d unjudged, empty", false, true, NAN, 0, 0, 0, 0},
    {"a unjudged", false, true, 100, 0, 0, 0, 0},
    {"y over", false, false, 900, 0, 0, 0, 0},
    {"x over", false, false, 300, 0, 0, 0, 0},
    {"k beside", false, false, 0, 50, 60, 70, 0},
    {"j beside", false, false, 0, 100, 0, 0, 900},
    {"i beside", false, false, 0, 0, 90, 0, 0},
    {"h beside", false, false, 0, 0, 0, 80, 0},
    {"g under", false, false, 0, 0, 0, 0, 700},
    {"f under", false, false, 0, 0, 0, 0, 600},
    {"b nothing", false, false, 0, 0, 0, 0, 0},
    {"e nothing", false, false, 0, 0, 0, 0, 0},
};

static void make_row(const ordered *from, brant_circuit *row)
{
    brant_context ctx;
    brant_context_init(&ctx);
    assert_int_equal(brant_circuit_failed(&ctx, from->file, "", "error: gone", row), BRANT_OK);
    brant_context_clear(&ctx);
    assert_true(row->failed);
    row->failed = from->failed;
    row->unjudged = from->unjudged;
    row->value[brant_circuit_column("over_limit_m")].number = from->over_limit_m;
    row->value[brant_circuit_column("crosses_m")].number = from->crosses_m;
    row->value[brant_circuit_column("over_band_m")].number = from->over_band_m;
    row->value[brant_circuit_column("edge_m")].number = from->edge_m;
    row->value[brant_circuit_column("under_m")].number = from->under_m;
}

static void test_order(void **state)
{
    (void)state;
    enum { N = COUNT(ranked) };
    for (size_t turn = 0; turn < N; turn++) { /* whatever order they come in */
        brant_circuit rows[N];
        for (size_t i = 0; i < N; i++)
            make_row(&ranked[(i * 5 + turn) % N], &rows[i]);
        brant_circuits_sort(rows, N, -1);
        for (size_t i = 0; i < N; i++)
            assert_words(&rows[i], "file", ranked[i].file);
        /* "what is empty first, then numbers from the largest" */
        brant_circuits_sort(rows, N, brant_circuit_column("under_m"));
        assert_words(&rows[0], "file", "c failed");
        assert_words(&rows[1], "file", "j beside");
        assert_words(&rows[2], "file", "g under");
        brant_circuits_sort(rows, N, brant_circuit_column("file")); /* "texts from A" */
        for (size_t i = 1; i < N; i++)
            assert_true(strcmp(column(&rows[i - 1], "file")->text,
                               column(&rows[i], "file")->text) < 0);
        for (size_t i = 0; i < N; i++)
            brant_circuit_clear(&rows[i]);
    }
}

/* Routes of one file stay as they stand in it, whatever else is equal. */
static void test_order_within_a_file(void **state)
{
    (void)state;
    static const ordered one = {"one.gpx", false, false, 0, 0, 0, 0, 0};
    brant_circuit rows[20];
    for (int column = -1; column < 2; column++) {
        for (int i = 0; i < 20; i++) {
            make_row(&one, &rows[i]);
            rows[i].value[brant_circuit_column("length_m")].number = i;
        }
        brant_circuits_sort(rows, 20, column);
        for (int i = 0; i < 20; i++) {
            assert_number(&rows[i], "length_m", i);
            brant_circuit_clear(&rows[i]);
        }
    }
    /* by its first column, too */
    enum { N = 4 };
    static const char *const routes[N] = {"Third", "First", NULL, "Second"};
    for (int i = 0; i < N; i++) {
        make_row(&one, &rows[i]);
        rows[i].value[0].text = routes[i] ? strdup(routes[i]) : NULL;
    }
    brant_circuits_sort(rows, N, brant_circuit_column("route"));
    assert_words(&rows[0], "route", NULL); /* "what is empty first" */
    assert_words(&rows[1], "route", "First");
    assert_words(&rows[2], "route", "Second");
    for (int i = 0; i < N; i++)
        brant_circuit_clear(&rows[i]);
}

static void test_csv(void **state)
{
    (void)state;
    static scene s;
    brant_text out = {0};
    make_scene(&s);
    brant_circuit rows[2] = {*row_of(&s)};
    make_row(&ranked[0], &rows[1]);
    brant_circuits all = {.report = &s.report, .circuits = rows, .count = 2, .failed = 1};
    brant_report_circuits_csv(&all, &out);
    static const char first[] = "\nTallis Horn,a/horn.gpx,ok,3000.0,1240,1236,,,0.0,400.0,";
    static const char last[] = "\n,c failed,error: gone,,,,,,,,,,,,,,,,,,,,,,,,,,,,,,,,,,\n";
    int lines = 0;
    for (const char *c = out.data; *c; c++)
        lines += *c == '\n';
    assert_int_equal(lines, 3);
    assert_int_equal(strncmp(out.data, "route,file,status,length_m,", 27), 0);
    assert_non_null(strstr(out.data, first));
    assert_string_equal(out.data + out.length - strlen(last), last);
    brant_text_clear(&out);
    for (int i = 0; i < 2; i++)
        brant_circuit_clear(&rows[i]);
}

/* "Levels from the highest"; what is not stated is not below one that is. */
static void test_order_by_level(void **state)
{
    (void)state;
    static const brant_level levels[] = {BRANT_LEVEL_2, BRANT_LEVEL_NOT_STATED, BRANT_LEVEL_4,
                                         BRANT_LEVEL_NO_SNOW};
    static const char *const order[] = {"not stated", "4", "2", "no snow"};
    static scene s[COUNT(levels)];
    brant_circuit rows[COUNT(levels)];
    for (size_t i = 0; i < COUNT(levels); i++) {
        make_scene(&s[i]);
        with_day(&s[i]);
        s[i].m.legs[1].level = s[i].m.legs[2].level = levels[i];
        rows[i] = *row_of(&s[i]);
    }
    brant_circuits_sort(rows, COUNT(rows), brant_circuit_column("level"));
    for (size_t i = 0; i < COUNT(rows); i++) {
        assert_words(&rows[i], "level", order[i]);
        brant_circuit_clear(&rows[i]);
    }
}

/* ---- on a terminal -------------------------------------------------------- */

/* Expected texts are the project's own. */
static void test_on_a_terminal(void **state)
{
    (void)state;
    static scene s, none;
    brant_circuit rows[3];
    brant_text out = {0};
    make_scene(&s);
    with_day(&s);
    s.m.legs[1].level = BRANT_LEVEL_NOT_STATED;
    s.m.legs[1].limit.first = true;
    s.m.tour.limit_unknown_m = 400;
    s.m.tour.metres[BRANT_KIND_OVER_BAND] = 300; /* told with crosses */
    s.m.legs[1].sun_sought = true;
    s.m.legs[1].sun.possible.first = (double)s.day.start.utc_s + 6000;
    make_scene(&none);
    made_begin(&none.m, "Nothing");
    made_leg(&none.m, BRANT_KIND_NONE_FOUND, 3040);
    made_rank(&none.m, NULL);
    with_day(&none);
    none.m.tour.seconds = NULL;
    make_row(&ranked[0], &rows[0]);
    rows[1] = *row_of(&s);
    rows[2] = *row_of(&none);
    brant_circuits all = {.report = &s.report, .circuits = rows, .count = 3, .failed = 1,
                          .waiting = 2, .ranked = true};
    brant_report_circuits_text(&all, &out);
    assert_false(out.failed);
    const char *expected =
        "3 circuits, 1 with an error, PARTIAL: 2 not come to. Model quern.tif, bulletin "
        "b.json, start\n"
        "      2027-02-13T06:30:00+01:00\n"
        "\n"
        "NOT SCREENED\n"
        "      c failed: error: gone\n"
        "\n"
        "CANNOT BE JUDGED (level 5, not rated or not stated, or ground that is not known)\n"
        "    # circuit                   km  up m     h  over cross  edge under  unkn "
        "deg    ha lvl   sun\n"
        "    2 Tallis Horn              3.0  1240   1.0     -   0.7     0   0.6     0  "
        "45    14   ? 08:10\n"
        "      leg 2 crosses 1.00-1.40 km; level not stated: wind slab; limit not "
        "judged; clear-sky sun from\n"
        "      08:10; 20 deg E, face 6 ha; above: 41 deg N, 2,000-2,360 m, face 14 ha, "
        "reached at 33 deg;\n"
        "      unknown above for 50 m\n"
        "\n"
        "JUDGED BY THE MODEL, what is over the limit first, then crossing, then under\n"
        "    # circuit                   km  up m     h  over cross  edge under  unkn "
        "deg    ha lvl   sun\n"
        "    3 Nothing                  3.0     0     -     0     0     0     0     0  "
        "20     0   -     -\n"
        "      no release ground found on, beside or above it\n"
        "\n";
    if (strncmp(out.data, expected, strlen(expected)) != 0)
        fail_msg("%s", out.data);
    assert_ends_with_caution(out.data);
    brant_text_clear(&out);
    s.report.day = NULL; /* and a circuit without a name goes by its file's */
    free((char *)(uintptr_t)rows[2].value[0].text);
    rows[2].value[brant_circuit_column("route")].text = NULL;
    brant_report_circuits_text(&all, &out);
    assert_non_null(strstr(out.data, "Model quern.tif, no bulletin\n\nNOT"));
    assert_non_null(strstr(out.data, "\n    3 horn.gpx  "));
    brant_text_clear(&out);
    for (int i = 0; i < 3; i++)
        brant_circuit_clear(&rows[i]);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(test_the_ground),
        cmocka_unit_test(test_the_day),
        cmocka_unit_test(test_what_cannot_be_judged),
        cmocka_unit_test(test_order),
        cmocka_unit_test(test_order_within_a_file),
        cmocka_unit_test(test_csv),
        cmocka_unit_test(test_order_by_level),
        cmocka_unit_test(test_on_a_terminal),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
