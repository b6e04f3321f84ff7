/* Waypoints: GPX 1.1. The schema is the format's published one, gpx11.xsd of
 * topografix.com; where it or xmllint is absent, that check is skipped. */
#include "report_tour.h"

#include <stdio.h>
#include <unistd.h>

static char *waypoints_of(const brant_report *report)
{
    brant_text out = {0};
    brant_report_waypoints(report, &out);
    assert_false(out.failed);
    return out.data;
}

/* The text of the `index`-th element `name`, "" if there is none. */
static void element(const char *xml, const char *name, int index, char *text, size_t size)
{
    char open[40], close[40];
    snprintf(open, sizeof open, "<%s>", name);
    snprintf(close, sizeof close, "</%s>", name);
    text[0] = '\0';
    for (int i = 0; (xml = strstr(xml, open)); i++) {
        xml += strlen(open);
        if (i == index) {
            snprintf(text, size, "%.*s", (int)(strstr(xml, close) - xml), xml);
            return;
        }
    }
}

typedef struct scene {
    made m;
    brant_zone ne, north;
} scene;

static void make_scene(scene *s, const char *name)
{
    s->ne = made_zone(7, 60000, 43, 45, 2300, 2660);
    s->north = made_zone(9, 140000, 41, 350, 2000, 2360);
    made_begin(&s->m, name);
    made_leg(&s->m, BRANT_KIND_NONE_FOUND, 3200);
    made_leg(&s->m, BRANT_KIND_UNDER, 3650);
    made_above(&s->m, &s->north, 33.2, 80, false, false);
    made_leg(&s->m, BRANT_KIND_OVER_BAND, 3700)->aspect_deg = 50;
    made_above(&s->m, &s->ne, 90, NAN, true, false);
    made_leg(&s->m, BRANT_KIND_UNKNOWN, 3800);
    made_void(&s->m, true);
    made_leg(&s->m, BRANT_KIND_REMOTE, 3900);
    made_leg(&s->m, BRANT_KIND_CROSSES, 4000);
    made_above(&s->m, &s->ne, 90, NAN, true, false);
    made_rank(&s->m, (const uint32_t[]){3, 6, 2, 5, 0});
}

static void test_one(void **state)
{
    (void)state;
    static scene s;
    make_scene(&s, "Tallis Horn");
    s.m.tour.leg_count = 2;
    brant_report report = made_report(&s.m.tour, 1);
    char *xml = waypoints_of(&report);
    const char *first = strstr(xml, "  <wpt");
    assert_non_null(first);
    assert_string_equal(first,
                        "  <wpt lat=\"46.5000000\" lon=\"10.0320000\">\n"
                        "    <ele>1325.6</ele>\n"
                        "    <name>2 UNDER N face</name>\n"
                        "    <desc>3.20-3.65 km, you at 1,320-1,365 m: above: 41 deg N, "
                        "2,000-2,360 m, face 14 ha, reached at 33 deg</desc>\n"
                        "    <type>under</type>\n"
                        "  </wpt>\n"
                        "</gpx>\n");
    free(xml);
}

static void test_names(void **state)
{
    (void)state;
    static scene s;
    char name[100];
    make_scene(&s, "Tallis Horn");
    static const char *const expected[] = {"2 UNDER N face", "3 OVER NE face", "4 UNKNOWN", "5 REMOTE",
                                           "6 CROSSES E", ""};
    brant_report report = made_report(&s.m.tour, 1);
    char *xml = waypoints_of(&report);
    for (int i = 0; i < 6; i++) {
        element(xml, "name", i, name, sizeof name);
        assert_string_equal(name, expected[i]);
    }
    element(xml, "ele", 2, name, sizeof name);
    assert_string_equal(name, "1381.3"); /* leg 5: the unknown leg has none */
    free(xml);
}

/* Names stay within 15 bytes and apart, however many legs and tours. */
static void test_long_names(void **state)
{
    (void)state;
    enum { TOURS = 30 };
    static scene s;
    static brant_tour tours[TOURS];
    char name[100], names[TOURS * 5][16];
    make_scene(&s, "Tallis Horn");
    for (int i = 0; i < 6; i++)
        s.m.legs[i].number += 4000000;
    for (int i = 0; i < TOURS; i++)
        tours[i] = s.m.tour;
    brant_report report = made_report(tours, TOURS);
    char *xml = waypoints_of(&report);
    for (int i = 0; i < TOURS * 5; i++) {
        element(xml, "name", i, name, sizeof name);
        assert_in_range(strlen(name), 1, 15);
        strcpy(names[i], name);
        for (int k = 0; k < i; k++)
            assert_string_not_equal(names[k], name);
    }
    assert_string_equal(names[0], "A4000002 UNDER");
    assert_string_equal(names[5 * 26 + 4], "AA4000006 CROSS");
    free(xml);
}

static void test_escapes(void **state)
{
    (void)state;
    static scene s, t;
    char desc[400];
    make_scene(&s, "a<b> & \"c\" 'd'\n\x01\xEF\xBF\xBF\xC3\xA4\xFF");
    make_scene(&t, "other");
    brant_tour tours[2] = {s.m.tour, t.m.tour};
    brant_report report = made_report(tours, 2);
    char *xml = waypoints_of(&report);
    element(xml, "desc", 1, desc, sizeof desc); /* 0 is the file's */
    const char *expected = "a&lt;b&gt; &amp; &quot;c&quot; &apos;d&apos;  \xC3\xA4\xEF\xBF\xBD, ";
    assert_memory_equal(desc, expected, strlen(expected));
    for (const char *c = xml; *c; c++)
        assert_true((unsigned char)*c >= 0x20 || *c == '\n');
    assert_non_null(strstr(xml, "None found is not safe."));
    free(xml);
}

/* The schema's longitudes are -180 to below 180. */
static void test_antimeridian(void **state)
{
    (void)state;
    static scene s;
    make_scene(&s, "Tallis Horn");
    s.m.legs[1].from_lon = 180;
    s.m.legs[2].from_lon = 179.99999999;
    s.m.legs[3].from_lon = -180;
    s.m.legs[4].from_lon = 179.9999999;
    s.m.legs[4].from_lat = -90;
    brant_report report = made_report(&s.m.tour, 1);
    char *xml = waypoints_of(&report);
    assert_null(strstr(xml, "lon=\"180"));
    const char *last = strstr(xml, "lon=\"179.9999999\"");
    assert_non_null(last);
    int west = 0;
    for (const char *c = xml; (c = strstr(c, "lon=\"-180.0000000\"")); c++)
        west++;
    assert_int_equal(west, 3);
    free(xml);
}

static bool valid(const char *schema, const char *xml)
{
    char path[] = "/tmp/brant-waypoints-XXXXXX", command[2048];
    int file = mkstemp(path);
    assert_true(file >= 0);
    assert_int_equal(write(file, xml, strlen(xml)), (int)strlen(xml));
    close(file);
    snprintf(command, sizeof command, "xmllint --noout --nonet --schema '%s' %s 2>/dev/null",
             schema, path);
    bool ok = system(command) == 0;
    unlink(path);
    return ok;
}

static void test_schema(void **state)
{
    (void)state;
    static scene s, t, none;
    char schema[1024];
    const char *data = getenv("BRANT_SHARED_DATA");
    snprintf(schema, sizeof schema, "%s/../schemas/gpx11.xsd", data ? data : ".");
    if (access(schema, R_OK) != 0 || system("xmllint --version >/dev/null 2>&1") != 0) {
        print_message("gpx11.xsd or xmllint is absent\n");
        skip();
    }
    assert_false(valid(schema, "<gpx/>"));
    make_scene(&s, "a<b> & \"c\" 'd'\n\x01\xEF\xBF\xBE\xC3\xA4\xFF");
    s.m.legs[1].from_lon = 180;
    make_scene(&t, "other");
    made_begin(&none.m, "nothing");
    brant_tour tours[3] = {s.m.tour, t.m.tour, none.m.tour};
    brant_report report = made_report(tours, 3);
    char *xml = waypoints_of(&report);
    assert_true(valid(schema, xml));
    free(xml);
    report.tour_count = 0;
    xml = waypoints_of(&report);
    assert_true(valid(schema, xml));
    free(xml);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(test_one),     cmocka_unit_test(test_names),
        cmocka_unit_test(test_long_names), cmocka_unit_test(test_escapes),
        cmocka_unit_test(test_antimeridian), cmocka_unit_test(test_schema),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
