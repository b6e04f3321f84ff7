/* The day in the reports. Expected texts follow the project's own model of a
 * summary; there is no outside source for them. */
#include "report_tour.h"

#include <stdio.h>

static const char bulletin_json[] =
    "{\"bulletins\": [{\"bulletinID\": \"x\", \"publicationTime\": \"2027-02-12T16:30:00+01:00\","
    "\"validTime\": {\"startTime\": \"2027-02-12T17:00:00+01:00\","
    " \"endTime\": \"2027-02-13T17:00:00+01:00\"},"
    "\"regions\": [{\"regionID\": \"QQ-05-01\", \"name\": \"East\\u001bQuern\"}],"
    "\"dangerRatings\": ["
    " {\"mainValue\": \"considerable\", \"elevation\": {\"lowerBound\": \"2200\"}},"
    " {\"mainValue\": \"moderate\", \"elevation\": {\"upperBound\": \"2200\"}}],"
    "\"avalancheProblems\": [{\"problemType\": \"wind_slab\","
    " \"elevation\": {\"lowerBound\": \"2200\"}, \"avalancheSize\": 2}]}]}";

typedef struct scene {
    made m;
    brant_zone ne, north;
    brant_context ctx;
    brant_bulletin bulletin;
    brant_day day;
    brant_wind wind;
    double seconds[MADE_LEGS * MADE_SAMPLES];
    brant_wait waits[2];
    brant_stretch stretch;
    uint32_t higher[1];
    brant_report report;
} scene;

static brant_limit limit_at(brant_level level, double steepest_deg)
{
    brant_steepest steepest = {steepest_deg, steepest_deg, steepest_deg};
    return brant_limit_of(level, 0, &steepest);
}

/* 1 none found, 2 crosses at level 3 and over, 3 none found, 4 under at level 2,
 * 5 edge where nothing is stated, 6 unknown. A step of 1 km is one of 20 min. */
static void make_scene(scene *s)
{
    static const brant_level levels[] = {BRANT_LEVEL_2, BRANT_LEVEL_3, BRANT_LEVEL_2,
                                         BRANT_LEVEL_2, BRANT_LEVEL_NOT_STATED, BRANT_LEVEL_3};
    static const brant_kind kinds[] = {BRANT_KIND_NONE_FOUND, BRANT_KIND_CROSSES,
                                       BRANT_KIND_NONE_FOUND, BRANT_KIND_UNDER, BRANT_KIND_EDGE,
                                       BRANT_KIND_UNKNOWN};
    memset(s, 0, sizeof *s);
    assert_int_equal(brant_bulletin_parse(&s->ctx, "b.json", bulletin_json,
                                          strlen(bulletin_json), &BRANT_BULLETIN_OPTIONS,
                                          &s->bulletin), BRANT_OK);
    s->day = BRANT_DAY_NONE;
    s->day.bulletin = &s->bulletin;
    assert_true(brant_time_parse("2027-02-13T06:30+01:00", &s->day.start));
    s->ne = made_zone(7, 60000, 43, 45, 2300, 2660);
    s->north = made_zone(9, 140000, 41, 350, 2000, 2360);
    made_begin(&s->m, "Tallis Horn");
    for (int i = 0; i < 6; i++) {
        brant_leg *leg = made_leg(&s->m, kinds[i], 1000 * (i + 1));
        leg->level = levels[i];
        leg->problems = levels[i] == BRANT_LEVEL_3 ? 1 : 0;
        leg->limit = limit_at(levels[i], i == 1 ? 40.4 : 33);
        leg->arrive_s = 1200 * i;
        leg->leave_s = 1200 * (i + 1);
        leg->shelter.mean_deg = NAN;
        if (i == 1)
            made_above(&s->m, &s->ne, 90, NAN, true, false);
        if (i == 1)
            s->m.above[0].danger = (brant_danger){BRANT_LEVEL_3, false, 1};
        if (i == 3 || i == 4)
            made_above(&s->m, &s->north, i == 3 ? 33.2 : 0, 80, false, i == 4);
    }
    made_void(&s->m, true);
    s->m.legs[1].over_limit_m = 400;
    s->m.legs[1].sun_sought = true;
    s->m.legs[1].sun.possible = s->m.legs[1].sun.certain =
        (brant_sunshine){(double)s->day.start.utc_s + 600, 1800};
    s->m.legs[5].limit.unknown = true;
    for (size_t i = 0; i < s->m.tour.track.count; i++)
        s->seconds[i] = s->m.samples[i].along_m * 1.2;
    s->m.tour.seconds = s->seconds;
    made_rank(&s->m, (const uint32_t[]){5, 2, 4, 0});
    s->higher[0] = 4;
    s->m.tour.over_if_higher = (brant_what_if){1, 1000, s->higher};
    s->report = made_report(&s->m.tour, 1);
    s->report.day = &s->day;
    s->report.signs.new_snow_cm = NAN;
}

static char *summary_of(const brant_report *report)
{
    brant_text out = {0};
    brant_report_summary(report, &out);
    assert_false(out.failed);
    return out.data;
}

static void end_scene(scene *s, char *text)
{
    free(text);
    brant_bulletin_clear(&s->bulletin);
}

static void assert_has(const char *text, const char *part)
{
    assert_non_null(text);
    if (!strstr(text, part))
        fail_msg("no \"%s\" in:\n%s", part, text);
}

/* The same, wherever lines are folded. */
static void assert_says(const char *text, const char *part)
{
    char *one = calloc(strlen(text) + 1, 1), *to = one;
    for (const char *c = text; *c; c++)
        if ((*c != '\n' && *c != ' ') || to == one || to[-1] != ' ')
            *to++ = *c == '\n' ? ' ' : *c;
    assert_has(one, part);
    free(one);
}

static void assert_lacks(const char *text, const char *part)
{
    if (strstr(text, part))
        fail_msg("\"%s\" in:\n%s", part, text);
}

static void test_reads_like_this(void **state)
{
    (void)state;
    static scene s;
    make_scene(&s);
    char *text = summary_of(&s.report);
    assert_string_equal(
        text,
        "Tallis Horn  Sat 13 Feb 2027, start 06:30\n"
        "6.0 km, 0 m up and down, at 1,013-1,488 m (known heights only)\n"
        "High point 08:08 (late 08:37), end 08:28 (09:03)\n"
        "BULLETIN East Quern, valid Fri 17:00 - Sat 17:00\n"
        "  3 above 2,200 m; 2 below 2,200 m\n"
        "  Wind slab above 2,200 m, size 2\n"
        "ROUTE crosses 1.0 km, edge 1.0, under 1.0, unknown 1.0, none found 2.0\n"
        "OVER  not judged (not stated: the rule needs a level): 1.0 km, leg 5\n"
        "OVER  not known, as steepness is not (level 3: whole slope below 35): 1.0 km,\n"
        "      leg 6\n"
        "OVER  the elementary limit (level 3: whole slope below 35): 0.4 km, leg 2\n"
        "UNKNOWN leg 6, 5.00-6.00 km: hole in the model\n"
        "FIRST (times planned-late; slopes by their steepest part)\n"
        " 5 edge      4.00-5.00 km, 07:50-08:14, you at 1,400-1,500 m\n"
        "             level not stated; limit not judged\n"
        "             beside: 41 deg N, 2,000-2,360 m, face 14 ha\n"
        " 2 crosses   1.00-2.00 km, 06:50-06:56, you at 1,100-1,200 m\n"
        "             level 3 on NE, 2,300-2,660 m: wind slab; over the limit 35 deg for\n"
        "             400 m (whole slope: 40 deg); clear-sky sun from 06:40\n"
        "             20 deg E, face 6 ha\n"
        " 4 under     3.00-4.00 km, 07:30-07:48, you at 1,300-1,400 m\n"
        "             level 2\n"
        "             above: 41 deg N, 2,000-2,360 m, face 14 ha, reached at 33 deg\n"
        "REACH on release ground or under it at 30: 0 km, at 25: 0, at 20: 0\n"
        "IF one level more: leg 4 over too, 1.0 km. Reach angle 20: 0 km more under.\n"
        "  Slope +2 deg: 0 km more crosses\n"
        "SIGNS [ ] New snow in 24 h [ ] Wind [ ] Rising temperature [ ] Fresh avalanches\n"
        "      [ ] Whumpfs and cracks\n"
        "KIT   [ ] Transceiver [ ] Transceiver battery [ ] Transceiver check [ ] Probe\n"
        "      [ ] Shovel [ ] Phone\n"
        "MODEL quern.tif, 10 m cells: pitches under 20 m may be missed\n"
        "ASKED start zones 30-45 deg, reach angle 25 deg, spread 20 deg, edge 30 m\n"
        "Terrain screening only. The model misses what its cell size hides. Trees,\n"
        "glaciers, cornices, crevasses: not known. The bulletin, the day's conditions,\n"
        "local rules and a licensed guide's judgement decide. None found is not safe.\n");
    end_scene(&s, text);
}

/* Facts, not verdicts, and no control of the bulletin's reaches the terminal. */
static void test_no_verdicts(void **state)
{
    (void)state;
    static const char *const verdicts[] = {"safe", " go ", "danger", "OK", "score", "risk",
                                           "allowed", "forbidden", "recommend", "\x1b"};
    static scene s;
    make_scene(&s);
    char *text = summary_of(&s.report);
    *strstr(text, "Terrain screening only") = '\0'; /* the caution says 'not safe' */
    for (size_t i = 0; i < sizeof verdicts / sizeof verdicts[0]; i++)
        assert_lacks(text, verdicts[i]);
    end_scene(&s, text);
}

static void test_another_day(void **state)
{
    (void)state;
    static scene s;
    make_scene(&s);
    assert_true(brant_time_parse("2027-02-15T23:30+01:00", &s.day.start));
    s.m.legs[1].sun_sought = false;
    char *text = summary_of(&s.report);
    assert_says(text, "DOES NOT COVER THE TOUR: valid Fri 12 Feb 2027 17:00 - Sat 13 Feb 2027 "
                      "17:00, the tour is Mon 15 Feb 2027 23:30 - Tue 16 Feb 2027 02:0");
    assert_has(text, "Tue 01:28"); /* past midnight the day is named */
    end_scene(&s, text);
}

/* Whether it covers a tour without a start is not known; dates are written out. */
static void test_without_start(void **state)
{
    (void)state;
    static scene s;
    make_scene(&s);
    s.day.start = (brant_time){0, 0, false};
    s.m.tour.seconds = NULL;
    char *text = summary_of(&s.report);
    assert_has(text, "Tallis Horn\n");
    assert_says(text, "BULLETIN East Quern, valid Fri 12 Feb 2027 17:00 - Sat 13 Feb 2027 17:00; "
                      "no start given: whether that covers the tour is not known ");
    assert_lacks(text, "planned");
    assert_lacks(text, "clear-sky");
    free(text);
    static const char *const says[] = { /* the schema lets a bulletin leave out either end */
        "BULLETIN East Quern, valid time not stated; no start given",
        "BULLETIN East Quern, valid from Fri 12 Feb 2027 17:00; no start given",
        "BULLETIN East Quern, valid until Sat 13 Feb 2027 17:00; no start given"};
    for (int ends = 0; ends < 3; ends++) {
        s.bulletin.valid_from.has_offset = ends == 1;
        s.bulletin.valid_to.has_offset = ends == 2;
        text = summary_of(&s.report);
        assert_says(text, says[ends]);
        free(text);
    }
    end_scene(&s, NULL);
}

static void test_by_hand_and_none_over(void **state)
{
    (void)state;
    static scene s;
    make_scene(&s);
    brant_bulletin_clear(&s.bulletin);
    assert_int_equal(brant_bulletin_by_hand(&s.ctx, 2, 1800, NAN, "NW-NE",
                                            &BRANT_BULLETIN_OPTIONS, &s.bulletin), BRANT_OK);
    for (int i = 0; i < 6; i++) {
        s.m.legs[i].level = BRANT_LEVEL_2;
        s.m.legs[i].problems = 0;
        s.m.legs[i].limit = limit_at(BRANT_LEVEL_2, 33);
        s.m.legs[i].over_limit_m = 0;
    }
    s.m.legs[3].level_lowered = true;
    char *text = summary_of(&s.report);
    assert_has(text, "BULLETIN by hand\n  2 above 1,800 m NW-N-NE; elsewhere not stated\n");
    assert_has(text, "OVER  no leg found over the elementary limit, of those that have one and "
                     "could\n      be judged\n");
    assert_has(text, "level 2 (one lower, not stated)\n");
    end_scene(&s, text);
}

/* What is not stated ranks first and does not hide a level that is. */
static void test_not_stated_hides_nothing(void **state)
{
    (void)state;
    static scene s;
    make_scene(&s);
    brant_above *beside = &s.m.above[s.m.legs[4].first_above];
    beside->danger.level = BRANT_LEVEL_4;
    char *text = summary_of(&s.report);
    assert_says(text, "level not stated; level 4 on N, 2,000-2,360 m, too; limit not judged");
    end_scene(&s, text);
}

/* A problem of the leg that is none of its governing slope is not said of that. */
static void test_problem_of_other_ground(void **state)
{
    (void)state;
    static scene s;
    make_scene(&s);
    s.m.above[0].danger.problems = 0;
    char *text = summary_of(&s.report);
    assert_says(text, "level 3 on NE, 2,300-2,660 m; other ground: wind slab; over the limit");
    end_scene(&s, text);
}

static void test_wet_snow(void **state)
{
    (void)state;
    static scene s;
    make_scene(&s);
    brant_steepest steep = {42, 42, 42};
    s.m.legs[1].limit = brant_limit_of(BRANT_LEVEL_3, BRANT_KIND_BIT(BRANT_WET_SNOW), &steep);
    s.m.legs[3].limit = brant_limit_of(BRANT_LEVEL_2, BRANT_KIND_BIT(BRANT_WET_SNOW) |
                                                          BRANT_KIND_BIT(BRANT_WIND_SLAB), &steep);
    char *text = summary_of(&s.report);
    assert_says(text, "limit not applied (no dry slab named)");
    assert_says(text, "the limit says nothing of the wet or gliding snow that is named, too: legs 4 ");
    end_scene(&s, text);
}

static void test_sun_and_wind(void **state)
{
    (void)state;
    static scene s;
    make_scene(&s);
    assert_true(brant_wind_parse("W", &s.wind));
    s.day.wind = &s.wind;
    s.report.signs = (brant_signs_known){30, "W", true};
    brant_leg *crosses = &s.m.legs[1], *under = &s.m.legs[3];
    crosses->sun.certain.first = NAN;
    crosses->sun.unknown = true;
    crosses->shelter = (brant_shelter){12.4f, 60, 0, true};
    under->sun_sought = true;
    under->sun.possible.first = under->sun.certain.first = NAN;
    under->shelter = (brant_shelter){-3.2f, 60, 0, false};
    char *text = summary_of(&s.report);
    assert_says(text, "clear-sky sun possible from 06:40; "
                      "sheltered (Sx 12) ");
    assert_says(text, "Sun 'possible': beyond the model");
    assert_says(text, "no clear-sky sun on it before you are past; not sheltered (Sx -3) ");
    assert_says(text, "shelter from wind not known "); /* leg 5 */
    assert_says(text, "New snow in 24 h: 30 cm (given)");
    assert_says(text, "Wind: from W (given)");
    assert_says(text, "Rising temperature: a rise is expected (given)");
    assert_lacks(text, "unloaded");
    end_scene(&s, text);
}

static void test_leave_by(void **state)
{
    (void)state;
    static scene s;
    make_scene(&s);
    double start = (double)s.day.start.utc_s;
    s.waits[0] = (brant_wait){2, 630, 1750, 1000, start + 3600.9};
    s.waits[1] = (brant_wait){9, 2380, NAN, NAN, start + 1800}; /* planned there at 47 min */
    s.stretch = (brant_stretch){1000, 2000, 1000, 0, 1};
    s.m.tour.waits = s.waits;
    s.m.tour.wait_count = 2;
    s.m.tour.stretches = &s.stretch;
    s.m.tour.stretch_count = 1;
    char *text = summary_of(&s.report);
    assert_says(text, "WAIT 0.63 km (leave by 07:30), 2.38 km (leave by 07:00, before you are "
                      "there): outside reach at 20");
    end_scene(&s, text);
}

/* The hour to be out by, whether or not there is a place to leave. */
static void test_out_by(void **state)
{
    (void)state;
    static const struct {
        int minutes; /* from 06:30; the end is at 08:28 (09:03) */
        const char *says;
    } cases[] = {{90, "end 08:28 (09:03); NOT out by 08:00 BULLETIN"},
                 {120, "; out by 08:30, not if late BULLETIN"},
                 {155, "; out by 09:05, late too BULLETIN"}};
    static scene s;
    for (size_t i = 0; i < sizeof cases / sizeof *cases; i++) {
        make_scene(&s);
        s.day.out_by = (double)s.day.start.utc_s + 60.0 * cases[i].minutes;
        char *text = summary_of(&s.report);
        assert_says(text, cases[i].says);
        end_scene(&s, text);
    }
}

/* Of many legs the first twelve by rank, and how many more. */
static void test_many_over(void **state)
{
    (void)state;
    static scene s;
    static uint32_t higher[15];
    make_scene(&s);
    made_begin(&s.m, "Many");
    for (uint32_t i = 0; i < 15; i++) {
        brant_leg *leg = made_leg(&s.m, BRANT_KIND_CROSSES, 100 * (i + 1));
        leg->level = BRANT_LEVEL_3;
        leg->limit = limit_at(BRANT_LEVEL_3, 38);
        leg->limit.note = "a note";
        leg->over_limit_m = 20;
        leg->shelter.mean_deg = NAN;
        higher[i] = 15 - i;
    }
    made_rank(&s.m, (const uint32_t[]){15, 14, 0});
    s.m.tour.over_if_higher = s.m.tour.over_if_later = (brant_what_if){15, 1500, higher};
    s.day.later_from = 600;
    char *text = summary_of(&s.report);
    assert_says(text, "OVER the elementary limit (level 3: whole slope below 35): 0.3 km, legs 15 "
                      "14 1 2 3 4 5 6 7 8 9 10 and 3 more a note: legs 15 14 1 2 3 4 5 6 7 8 9 10 "
                      "and 3 more ");
    assert_says(text, "IF one level more: legs 15 14 13 12 11 10 9 8 7 6 5 4 and 3 more over too, "
                      "1.5 km. One hour later: legs 15 14 13 12 11 10 9 8 7 6 5 4 and 3 more over "
                      "too, 1.5 km. Reach angle 20");
    assert_says(text, "Also crosses: legs 7 8 9 10 11 12 13, highest level 3 REACH");
    free(text);
    s.m.tour.leg_count = 9;
    made_rank(&s.m, NULL);
    s.m.legs[8].level = BRANT_LEVEL_NOT_STATED;
    text = summary_of(&s.report);
    assert_says(text, "Also crosses: leg 9, level not stated REACH");
    end_scene(&s, text);
}

/* Rows: moments with their offset; nothing where nothing is known. */
static void test_rows(void **state)
{
    (void)state;
    static scene s;
    make_scene(&s);
    s.m.facts[4].level = BRANT_LEVEL_3;
    brant_text legs = {0}, points = {0};
    brant_steepest gentle = {33, 33, 33};
    s.m.legs[3].limit = brant_limit_of(BRANT_LEVEL_2, BRANT_KIND_BIT(BRANT_WET_SNOW), &gentle);
    brant_report_legs_csv(&s.report, &legs);
    /* a rule that is not applied is no 'not over' */
    assert_has(legs.data, ",,,,,2027-02-13T07:50:00+01:00,2027-02-13T08:14:00+01:00,");
    brant_text_clear(&legs);
    s.m.legs[3].limit = limit_at(BRANT_LEVEL_2, 33);
    brant_report_legs_csv(&s.report, &legs);
    assert_has(legs.data, ",within 20 m of the track,not over,33.0,2027-02-13T07:50:00+01:00,");
    brant_report_points_csv(&s.report, &points);
    assert_has(legs.data, ",3,wind slab,35.0,400.0,2027-02-13T06:50:00+01:00,"
                          "2027-02-13T06:56:00+01:00,2027-02-13T06:40:00+01:00,");
    assert_has(legs.data, ",whole slope,over,40.4,2027-02-13T07:10:00+01:00,"
                          "2027-02-13T07:22:00+01:00,30,0,,\n");
    assert_has(legs.data, ",not stated,,,,2027"); /* no limit */
    assert_has(legs.data, ",3,wind slab,35.0,,2027"); /* not known whether over: not 0 */
    assert_has(legs.data, ",2,,40.0,0.0,2027");
    assert_has(points.data, "crosses,,,,3\n");
    brant_text_clear(&legs);
    brant_text_clear(&points);
    end_scene(&s, NULL);
}

static void test_json(void **state)
{
    (void)state;
    static const char *const parts[] = {
        "\"start\": \"2027-02-13T06:30:00+01:00\"", "\"pace\": \"4,10,6\"",
        "\"name\": \"East Quern\"", "\"level\": \"not stated\"", "\"above_m\": 2200",
        "\"problem\": \"wind slab\"", "\"title\": \"Whumpfs and cracks\"",
        "\"title\": \"Probe\"", "\"by_hand\": false", "\"if_one_hour_later\"",
    };
    static scene s;
    make_scene(&s);
    brant_text out = {0};
    assert_int_equal(brant_report_json(&s.ctx, &s.report, &out), BRANT_OK);
    for (size_t i = 0; i < sizeof parts / sizeof parts[0]; i++)
        assert_has(out.data, parts[i]);
    brant_text_clear(&out);
    s.report.day = NULL;
    assert_int_equal(brant_report_json(&s.ctx, &s.report, &out), BRANT_OK);
    assert_has(out.data, "\"bulletin\": null");
    assert_has(out.data, "\"start\": null");
    brant_text_clear(&out);
    end_scene(&s, NULL);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(test_reads_like_this),  cmocka_unit_test(test_no_verdicts),
        cmocka_unit_test(test_another_day),      cmocka_unit_test(test_without_start),
        cmocka_unit_test(test_by_hand_and_none_over), cmocka_unit_test(test_problem_of_other_ground),
        cmocka_unit_test(test_wet_snow),
        cmocka_unit_test(test_not_stated_hides_nothing),
        cmocka_unit_test(test_sun_and_wind),     cmocka_unit_test(test_leave_by),
        cmocka_unit_test(test_out_by),           cmocka_unit_test(test_many_over),
        cmocka_unit_test(test_rows),
        cmocka_unit_test(test_json),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
