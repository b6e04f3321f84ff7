/* plan.json, read back with jansson, and its bytes. */
#include "report_tour.h"

#include <jansson.h>
#include <locale.h>
#include <stdio.h>

typedef struct scene {
    made m;
    brant_zone zone;
} scene;

static void make_scene(scene *s, const char *name)
{
    s->zone = made_zone(4000000000u, 140000.4, 41.05, 350, 2000.1, 2360.3);
    made_begin(&s->m, name);
    made_leg(&s->m, BRANT_KIND_NONE_FOUND, 3200.1);
    brant_leg *leg = made_leg(&s->m, BRANT_KIND_UNDER, 3650.4);
    leg->reached_m[0] = 100.04;
    leg->reached_m[1] = leg->reached_m[2] = 450.3;
    leg->from_lon = 179.1234567;
    made_above(&s->m, &s->zone, 33.3, 0.3, false, false);
    made_leg(&s->m, BRANT_KIND_UNKNOWN, 3700);
    made_void(&s->m, true);
    made_rank(&s->m, (const uint32_t[]){2, 0});
    s->m.tour.climb_m = 0.1 + 0.2;
    s->m.tour.descent_m = -0.01;
}

static char *json_of(const brant_report *report)
{
    brant_context ctx;
    brant_text out = {0};
    brant_context_init(&ctx);
    assert_int_equal(brant_report_json(&ctx, report, &out), BRANT_OK);
    brant_context_clear(&ctx);
    return out.data;
}

static json_t *get(json_t *from, const char *key)
{
    json_t *value = json_object_get(from, key);
    if (!value)
        fail_msg("no key %s", key);
    return value;
}

static void assert_real(json_t *from, const char *key, double expected)
{
    assert_true(json_is_real(get(from, key)));
    assert_true(json_real_value(get(from, key)) == expected);
}

static void test_content(void **state)
{
    (void)state;
    static scene s;
    json_error_t error;
    make_scene(&s, "Tallis \"Horn\"\nK\xC3\xA4sgrat");
    brant_report report = made_report(&s.m.tour, 1);
    report.datum_accuracy_m = -1;
    char *text = json_of(&report);
    json_t *root = json_loads(text, JSON_REJECT_DUPLICATES, &error);
    assert_non_null(root);
    assert_string_equal(json_string_value(get(root, "brant")), brant_version());
    assert_string_equal(json_string_value(get(get(root, "model"), "file")), "quern.tif");
    assert_true(json_is_null(get(get(root, "model"), "datum_accuracy_m")));
    assert_real(get(root, "options"), "reach_angle_deg", 25);
    assert_true(json_is_null(get(get(root, "options"), "zones_from")));
    assert_int_equal(json_array_size(get(root, "tours")), 1);
    json_t *tour = json_array_get(get(root, "tours"), 0);
    assert_string_equal(json_string_value(get(tour, "name")), "Tallis \"Horn\" K\xC3\xA4sgrat");
    assert_real(tour, "up_m", 0.3);
    assert_real(get(tour, "metres"), "under", 450.3);
    assert_real(get(tour, "metres"), "crosses", 0);
    assert_real(get(tour, "reached_m"), "30", 100);
    assert_real(get(tour, "reached_m"), "20", 450.3);
    assert_int_equal(json_integer_value(json_array_get(get(tour, "ranked"), 0)), 2);
    assert_int_equal(json_array_size(get(tour, "legs")), 3);
    json_t *leg = json_array_get(get(tour, "legs"), 1);
    assert_string_equal(json_string_value(get(leg, "kind")), "under");
    assert_real(leg, "from_m", 3200.1);
    assert_real(leg, "from_lon", 179.1234567);
    assert_true(json_is_null(get(leg, "level")));
    assert_true(json_integer_value(get(leg, "governing_zone")) == 4000000000);
    assert_int_equal(json_array_size(get(leg, "above")), 1);
    json_t *above = json_array_get(get(leg, "above"), 0);
    assert_real(above, "reached_at_deg", 33.3);
    assert_int_equal(json_integer_value(get(above, "face_m2")), 140000);
    json_t *unknown = json_array_get(get(tour, "legs"), 2);
    assert_true(json_is_null(get(unknown, "steepest_deg")));
    assert_true(json_is_null(get(unknown, "zones_above")));
    json_t *points = get(tour, "points");
    assert_int_equal(json_array_size(get(points, "along_m")), 3 * MADE_SAMPLES);
    assert_int_equal(json_array_size(get(points, "kind")), 3 * MADE_SAMPLES);
    assert_true(json_is_null(json_array_get(get(points, "slope_deg"), 2 * MADE_SAMPLES)));
    const char *caution = json_string_value(get(root, "caution"));
    assert_int_equal(strlen(caution), strlen(brant_caution) - 1);
    assert_memory_equal(caution, "Terrain screening only. ", 24);
    void *key = json_object_iter(root), *last = key; /* the caution ends the report */
    for (; key; key = json_object_iter_next(root, key))
        last = key;
    assert_string_equal(json_object_iter_key(last), "caution");
    json_decref(root);
    free(text);
}

/* The keys of a leg are the columns of legs.csv, in their order, without route. */
static void test_keys_are_columns(void **state)
{
    (void)state;
    static scene s;
    brant_text csv = {0};
    make_scene(&s, "Tallis");
    brant_report report = made_report(&s.m.tour, 1);
    char *text = json_of(&report);
    json_t *root = json_loads(text, 0, NULL);
    json_t *tour = json_array_get(get(root, "tours"), 0);
    json_t *leg = json_array_get(get(tour, "legs"), 0);
    brant_report_legs_csv(&report, &csv);
    csv.data[strcspn(csv.data, "\n")] = '\0';
    void *key = json_object_iter(leg);
    strtok(csv.data, ","); /* route */
    for (char *column = strtok(NULL, ","); column; column = strtok(NULL, ",")) {
        assert_non_null(key);
        assert_string_equal(json_object_iter_key(key), column);
        key = json_object_iter_next(leg, key);
    }
    assert_string_equal(json_object_iter_key(key), "above");
    json_decref(root);
    free(text);
    brant_text_clear(&csv);
}

/* No 0.30000000000000004, no 450.30000000000001. */
static void test_rounded(void **state)
{
    (void)state;
    static scene s;
    make_scene(&s, "Tallis");
    brant_report report = made_report(&s.m.tour, 1);
    char *text = json_of(&report);
    for (const char *c = text; (c = strchr(c, '.')); c++)
        if (c[1] >= '0' && c[1] <= '9' && strspn(c + 1, "0123456789") > 7)
            fail_msg("unrounded: %.30s", c - 10);
    assert_non_null(strstr(text, "\"up_m\": 0.3,"));
    assert_non_null(strstr(text, "\"down_m\": 0.0,"));
    free(text);
}

static void test_not_searched_is_null(void **state)
{
    (void)state;
    static scene s;
    make_scene(&s, "Tallis");
    brant_report report = made_report(&s.m.tour, 1);
    report.floor_deg = 22;
    report.model = "bad\xFFname"; /* JSON is UTF-8 */
    char *text = json_of(&report);
    json_t *root = json_loads(text, 0, NULL);
    assert_non_null(root);
    json_t *reached = get(json_array_get(get(root, "tours"), 0), "reached_m");
    assert_true(json_is_null(get(reached, "20")));
    assert_real(reached, "25", 450.3);
    json_decref(root);
    free(text);
}

/* The same bytes twice, and where the locale writes a decimal comma. */
static void test_any_locale(void **state)
{
    (void)state;
    static scene s;
    static const char *const comma[] = {"de_DE.UTF-8", "de_AT.UTF-8", "fr_FR.UTF-8", "sv_SE.UTF-8",
                                        "it_IT.UTF-8"};
    make_scene(&s, "Tallis");
    brant_report report = made_report(&s.m.tour, 1);
    char *text = json_of(&report), *again = json_of(&report);
    assert_string_equal(text, again);
    free(again);
    const char *found = NULL;
    for (size_t i = 0; !found && i < sizeof comma / sizeof comma[0]; i++)
        found = setlocale(LC_ALL, comma[i]);
    if (!found) {
        free(text);
        print_message("no locale with a decimal comma is installed\n");
        skip();
    }
    char sign[8];
    snprintf(sign, sizeof sign, "%.1f", 0.5);
    assert_string_equal(sign, "0,5");
    again = json_of(&report);
    setlocale(LC_ALL, "C");
    assert_string_equal(text, again);
    free(again);
    free(text);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(test_content),
        cmocka_unit_test(test_keys_are_columns),
        cmocka_unit_test(test_rounded),
        cmocka_unit_test(test_not_searched_is_null),
        cmocka_unit_test(test_any_locale),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
