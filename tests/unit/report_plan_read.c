/* plan.json read back. The writer is the other side of the check: what it writes is read,
 * with the numbers that it was given; and each member of it is taken away and spoilt in
 * turn. */
#include "report_tour.h"

#include "../../src/report/plan_read.h"

#include <jansson.h>
#include <stdio.h>

static const char bulletin_json[] =
    "{\"bulletins\": [{\"bulletinID\": \"x\","
    "\"validTime\": {\"startTime\": \"2027-02-12T17:00:00+01:00\","
    " \"endTime\": \"2027-02-13T17:00:00+01:00\"},"
    "\"regions\": [{\"regionID\": \"QQ-05-01\", \"name\": \"East Quern\"}],"
    "\"dangerRatings\": ["
    " {\"mainValue\": \"considerable\", \"elevation\": {\"lowerBound\": \"treeline\"},"
    "  \"aspects\": [\"N\", \"NE\"]},"
    " {\"mainValue\": \"moderate\", \"validTimePeriod\": \"later\"}],"
    "\"avalancheProblems\": [{\"problemType\": \"wind_slab\", \"snowpackStability\": \"poor\","
    " \"validTimePeriod\": \"earlier\","
    " \"elevation\": {\"lowerBound\": \"2200\"}, \"avalancheSize\": 2}]}]}";

typedef struct scene {
    made m;
    brant_zone zone;
    brant_context ctx;
    brant_bulletin bulletin;
    brant_day day;
    double seconds[MADE_LEGS * MADE_SAMPLES];
    brant_wait waits[1];
    brant_stretch stretches[2];
    uint32_t higher[1];
    brant_text json;
} scene;

/* 1 none found, 2 under, over the limit, 3 unknown; a break before the last. */
static void make_scene(scene *s)
{
    brant_bulletin_options options = BRANT_BULLETIN_OPTIONS;
    memset(s, 0, sizeof *s);
    brant_context_init(&s->ctx);
    options.treeline_m = 1900;
    assert_int_equal(brant_bulletin_parse(&s->ctx, "b.json", bulletin_json,
                                          strlen(bulletin_json), &options, &s->bulletin),
                     BRANT_OK);
    s->day = BRANT_DAY_NONE;
    s->day.bulletin = &s->bulletin;
    assert_true(brant_time_parse("2027-02-13T06:30+01:00", &s->day.start));
    s->zone = made_zone(4000000000u, 140000.4, 41.05, 350, 2000.1, 2360.3);
    made_begin(&s->m, "Tallis Horn");
    for (int i = 0; i < 3; i++) {
        static const brant_kind kinds[] = {BRANT_KIND_NONE_FOUND, BRANT_KIND_UNDER,
                                           BRANT_KIND_UNKNOWN};
        brant_leg *leg = made_leg(&s->m, kinds[i], 1000 * (i + 1));
        leg->level = BRANT_LEVEL_3;
        leg->arrive_s = 1200 * i;
        leg->leave_s = 1200 * (i + 1);
        leg->shelter.mean_deg = NAN;
        leg->limit.limit_deg = NAN;
        if (i != 1)
            continue;
        brant_steepest steepest = {41, 41, 41};
        leg->limit = brant_limit_of(BRANT_LEVEL_3, 0, &steepest);
        leg->over_limit_m = 400;
        leg->problems = 1;
        leg->reached_m[2] = 450.3;
        leg->unknown_above_m = 12.34;
        leg->below.sought = true;
        leg->below.run_m[BRANT_BELOW_CLIFF] = 30;
        leg->below.run_m[BRANT_BELOW_GULLY] = leg->below.run_m[BRANT_BELOW_FLAT] =
            leg->below.run_m[BRANT_BELOW_UNKNOWN] = NAN;
        leg->sun_sought = leg->sun.unknown = true;
        leg->sun.possible = (brant_sunshine){(double)s->day.start.utc_s + 600, 1800};
        leg->sun.certain = (brant_sunshine){NAN, 0};
        made_above(&s->m, &s->zone, 33.3, 80, false, false);
    }
    made_void(&s->m, true);
    made_rank(&s->m, (const uint32_t[]){3, 2, 0});
    s->m.samples[10].first = true;
    for (size_t i = 0; i < s->m.tour.track.count; i++)
        s->seconds[i] = s->m.samples[i].along_m * 1.2;
    s->m.tour.seconds = s->seconds;
    s->waits[0] = (brant_wait){.sample = 1, .along_m = 375, .next_m = NAN, .exposed_m = NAN,
                               .leave_by_utc = (double)s->day.start.utc_s + 3600};
    s->m.tour.waits = s->waits;
    s->m.tour.wait_count = 1;
    s->stretches[0] = s->stretches[1] = (brant_stretch){375, 750, 300, 0, BRANT_NO_WAIT};
    s->m.tour.stretches = s->stretches;
    s->m.tour.stretch_count = 2;
    s->higher[0] = 3;
    s->m.tour.over_if_higher = (brant_what_if){1, 120.5, s->higher};
    brant_report report = made_report(&s->m.tour, 1);
    report.day = &s->day;
    report.signs.new_snow_cm = 30;
    assert_int_equal(brant_report_json(&s->ctx, &report, &s->json), BRANT_OK);
}

static void clear_scene(scene *s)
{
    brant_text_clear(&s->json);
    brant_bulletin_clear(&s->bulletin);
    brant_context_clear(&s->ctx);
}

static void assert_near(double value, double expected)
{
    assert_true(fabs(value - expected) < 1e-9);
}

static void test_what_was_written(void **state)
{
    (void)state;
    static scene s;
    brant_read_plan plan;
    make_scene(&s);
    assert_int_equal(brant_plan_read(&s.ctx, "plan.json", s.json.data, s.json.length, &plan),
                     BRANT_OK);
    assert_string_equal(plan.model, "quern.tif");
    assert_near(plan.reach_angle_deg, 25);
    assert_true(isnan(plan.vertical_error_m));
    assert_int_equal(plan.start.utc_s, s.day.start.utc_s);
    assert_int_equal(plan.start.offset_min, 60);
    assert_near(plan.new_snow_cm, 30);
    assert_string_equal(plan.signs[0].title, brant_signs[0].title);
    assert_non_null(plan.signs[0].known);
    assert_null(plan.signs[1].known);
    assert_int_equal(plan.tour_count, 1);
    const brant_read_tour *tour = &plan.tours[0];
    assert_string_equal(tour->route, "Tallis Horn");
    assert_near(tour->length_m, 3000);
    assert_near(tour->metres[BRANT_KIND_UNDER], 1000);
    assert_near(tour->reached_m[2], 450.3);
    assert_int_equal(tour->leg_count, 3);
    assert_int_equal(tour->ranked[0], 2);
    assert_int_equal(tour->point_count, 12);
    assert_true(tour->points[10].first && tour->points[0].first && !tour->points[9].first);
    assert_true(isnan(tour->points[11].elevation_m));
    assert_int_equal(tour->high_point, 7);
    assert_int_equal(tour->high_arrive.utc_s, s.day.start.utc_s + 2250);
    assert_int_equal(tour->wait_count, 1);
    assert_int_equal(tour->exposed_count, 2);
    assert_near(tour->waits[0].along_m, 375);
    assert_int_equal(tour->waits[0].leave_by.utc_s, s.day.start.utc_s + 3600);
    assert_true(tour->if_one_level_more.known && tour->if_one_level_more.leg[0] == 3);
    const brant_read_leg *leg = &tour->legs[1];
    assert_int_equal(leg->kind, BRANT_KIND_UNDER);
    assert_near(leg->reached_at_deg, 33.3);
    assert_near(leg->governing_zone, 4000000000.0);
    assert_near(leg->unknown_above_m, 12.3);
    assert_string_equal(leg->level, "3");
    assert_string_equal(leg->limit, "over");
    assert_string_equal(leg->below, "cliff 30 m");
    assert_int_equal(leg->sun_from.utc_s, s.day.start.utc_s + 600);
    assert_true(leg->sun_unknown > 0 && !leg->sun_certain_from.has_offset);
    assert_null(tour->legs[0].unknown_because);
    assert_non_null(tour->legs[2].unknown_because);
    brant_plan_read_clear(&plan);
    clear_scene(&s);
}

/* The bulletin says the same in the same words as the one that was written. */
static void test_bulletin(void **state)
{
    (void)state;
    static scene s;
    brant_read_plan plan;
    brant_text was = {0}, is = {0};
    make_scene(&s);
    assert_int_equal(brant_plan_read(&s.ctx, "plan.json", s.json.data, s.json.length, &plan),
                     BRANT_OK);
    assert_true(plan.has_bulletin);
    brant_text_region(&was, &s.bulletin);
    brant_text_validity(&was, &s.bulletin, 60);
    brant_text_ratings(&was, &s.bulletin);
    brant_text_problem(&was, &s.bulletin.problems[0]);
    brant_text_region(&is, &plan.bulletin);
    brant_text_validity(&is, &plan.bulletin, 60);
    brant_text_ratings(&is, &plan.bulletin);
    brant_text_problem(&is, &plan.bulletin.problems[0]);
    assert_string_equal(is.data, was.data);
    assert_non_null(strstr(is.data, "tree line (1,900 m)"));
    brant_text_clear(&was);
    brant_text_clear(&is);
    brant_plan_read_clear(&plan);
    clear_scene(&s);
}

/* ---- spoilt ------------------------------------------------------------- */

/* Members that nothing is drawn from, by what they are in: whatever they hold is passed over. */
static const struct {
    const char *in, *keys;
} passed_over[] = {
    {"model", " datum_operation "},
    {"options", " void_rise_m "},
    {"day", " pace late_factor "},
    {"bulletin", " file id source published next_update highlights "},
    {"ratings", " treeline "},
    {"problems", " treeline comment "},
    {"tours", " name metres_where above_own_line "},
    {"high_point", " elevation_m "},
    {"exposed", " from_m to_m exposed_m wait_before wait_after between_m "},
    {"waits", " wait elevation_m next_m exposed_m "},
    {"points", " slope_deg aspect_deg zone reached_at_deg head_m level "},
    {"legs", " length_m steepest_error_deg aspect_deg zone head_m unknown_above governing_mean_deg "
             "from_lon from_lat to_lon to_lat shelter_deg above problem_numbers limit_note "},
};

static bool is_passed_over(const char *in, const char *key)
{
    char word[64];
    snprintf(word, sizeof word, " %.50s ", key);
    for (size_t i = 0; i < sizeof passed_over / sizeof *passed_over; i++)
        if (strcmp(passed_over[i].in, in) == 0 && strstr(passed_over[i].keys, word))
            return true;
    return false;
}

typedef struct spoiler {
    scene *s;
    json_t *root;
    size_t refused, accepted;
} spoiler;

/* Is the plan as it now stands refused, in one line that names file and `key`? */
static bool is_refused(spoiler *spoil, const char *key)
{
    brant_read_plan plan;
    char *text = json_dumps(spoil->root, JSON_REAL_PRECISION(12));
    assert_non_null(text);
    brant_status status = brant_plan_read(&spoil->s->ctx, "dir/plan.json", text, strlen(text),
                                          &plan);
    free(text);
    if (status == BRANT_OK) {
        brant_plan_read_clear(&plan);
        return false;
    }
    const char *message = brant_message(&spoil->s->ctx);
    assert_int_equal(status, BRANT_ERR_INPUT);
    if (strncmp(message, "dir/plan.json: ", 15) != 0 || !strstr(message, key) ||
        strchr(message, '\n'))
        fail_msg("%s: %s", key, message);
    assert_null(plan.tours);
    brant_forgive(&spoil->s->ctx);
    return true;
}

static void spoil_member(spoiler *spoil, const char *in, json_t *object, const char *key)
{
    json_t *value = json_incref(json_object_get(object, key));
    json_object_del(object, key);
    bool refused = is_refused(spoil, key);
    json_object_set_new(object, key, json_true());
    if (!json_is_boolean(value))
        refused = is_refused(spoil, key) && refused;
    json_object_set_new(object, key, json_pack("[i]", -7));
    refused = is_refused(spoil, key) && refused;
    json_object_set_new(object, key, value);
    if (!refused && !is_passed_over(in, key))
        fail_msg("%s of %s: was taken away or spoilt, and nobody noticed", key, in);
    spoil->refused += refused;
    spoil->accepted += !refused;
}

/* The names first: a member that is put back stands at the end, and would come round again. */
static void spoil_all(spoiler *spoil, const char *in, json_t *value)
{
    char names[64][40];
    size_t count = 0, index;
    const char *key;
    json_t *inner;
    json_object_foreach(value, key, inner) {
        assert_true(count < 64);
        snprintf(names[count++], sizeof names[0], "%s", key);
    }
    for (size_t i = 0; i < count; i++) {
        spoil_member(spoil, in, value, names[i]);
        if (!is_passed_over(in, names[i]))
            spoil_all(spoil, names[i], json_object_get(value, names[i]));
    }
    json_array_foreach(value, index, inner) {
        spoil_all(spoil, in, inner);
    }
}

static void test_each_member_counts(void **state)
{
    (void)state;
    static scene s;
    make_scene(&s);
    spoiler spoil = {&s, json_loads(s.json.data, 0, NULL), 0, 0};
    assert_non_null(spoil.root);
    assert_false(is_refused(&spoil, ""));
    spoil_all(&spoil, "plan", spoil.root);
    assert_false(is_refused(&spoil, "")); /* all is back in its place */
    assert_true(spoil.refused > 150);     /* 3 legs of 38 members, and the rest */
    json_decref(spoil.root);
    clear_scene(&s);
}

/* ---- what hangs together ------------------------------------------------ */

static void assert_bad(scene *s, const char *text, size_t size, const char *word)
{
    brant_read_plan plan;
    assert_int_equal(brant_plan_read(&s->ctx, "plan.json", text, size, &plan), BRANT_ERR_INPUT);
    if (!strstr(brant_message(&s->ctx), word))
        fail_msg("%s: %s", word, brant_message(&s->ctx));
    brant_forgive(&s->ctx);
}

/* `old` of the plan's text replaced by `now`, once. */
static void assert_bad_with(scene *s, const char *old, const char *now, const char *word)
{
    brant_text text = {0};
    const char *at = strstr(s->json.data, old);
    if (!at)
        fail_msg("no %s in the plan", old);
    brant_text_add_bytes(&text, s->json.data, (size_t)(at - s->json.data));
    brant_text_add(&text, "%s%s", now, at + strlen(old));
    assert_bad(s, text.data, text.length, word);
    brant_text_clear(&text);
}

static void test_what_does_not_fit(void **state)
{
    (void)state;
    static scene s;
    make_scene(&s);
    assert_bad(&s, "", 0, "no JSON");
    assert_bad(&s, "[]", 2, "no JSON object");
    assert_bad(&s, "{}", 2, "brant");
    assert_bad(&s, s.json.data, s.json.length / 2, "no JSON");
    assert_bad_with(&s, "\"brant\": \"0.1.0\"", "\"brant\": \"0.0.9\"", "0.0.9");
    assert_bad_with(&s, "\"leg\": 2", "\"leg\": 3", "legs[1]");
    assert_bad_with(&s, "\"kind\": \"under\"", "\"kind\": \"safe\"", "legs[1].kind");
    assert_bad_with(&s, "\"from_m\": 1000.0", "\"from_m\": 2500.0", "legs[1]");
    assert_bad_with(&s, "\"reached_at_deg\": 33.3", "\"reached_at_deg\": 93.3", "not within");
    assert_bad_with(&s, "\"reach_angle_deg\": 25.0", "\"reach_angle_deg\": 25e300", "not within");
    assert_bad_with(&s, "\"aspects\": \"N-NE\"", "\"aspects\": \"N-NX\"", "ratings[0].aspects");
    assert_bad_with(&s, "\"start\": \"2027-02-13T06:30:00+01:00\"",
                    "\"start\": \"2027-02-13T06:30:00\"", "day.start");
    assert_bad_with(&s, "Tallis Horn\",\n   \"route\": \"Tallis", "\",\"route\": \"Tal\\u001blis",
                    "control");
    clear_scene(&s);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(test_what_was_written),
        cmocka_unit_test(test_bulletin),
        cmocka_unit_test(test_each_member_counts),
        cmocka_unit_test(test_what_does_not_fit),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
