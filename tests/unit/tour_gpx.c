/* The GPX reader on the oddities that real files show, rebuilt by hand, and on
 * real files where they are present. What is right follows from the GPX 1.0 and
 * 1.1 schemas (topografix.com/GPX/1/0/gpx.xsd, /1/1/gpx.xsd) and XML 1.0. */
#include "brant/tour.h"

#include <math.h>
#include <setjmp.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include <cmocka.h>

#define HEAD "<?xml version=\"1.0\" encoding=\"UTF-8\"?>\n"
#define NS11 " version=\"1.1\" creator=\"t\" xmlns=\"http://www.topografix.com/GPX/1/1\""
#define NS10 " version=\"1.0\" creator=\"t\" xmlns=\"http://www.topografix.com/GPX/1/0\""
#define P1 "<trkpt lat=\"46.5\" lon=\"9.5\"/>"
#define P2 "<trkpt lat=\"46.6\" lon=\"9.6\"/>"
#define TRACK(points) "<trk><trkseg>" points "</trkseg></trk>"

typedef struct fixture {
    brant_context ctx;
    brant_gpx gpx;
} fixture;

static int setup(void **state)
{
    fixture *f = calloc(1, sizeof *f);
    if (!f)
        return -1;
    brant_context_init(&f->ctx);
    *state = f;
    return 0;
}

static int teardown(void **state)
{
    fixture *f = *state;
    brant_gpx_clear(&f->gpx);
    brant_context_clear(&f->ctx);
    free(f);
    return 0;
}

static void parse_bytes(fixture *f, const char *data, size_t size)
{
    brant_gpx_clear(&f->gpx);
    brant_forgive(&f->ctx);
    /* a copy without a NUL after it: reading past the end shows under ASan */
    char *copy = malloc(size ? size : 1);
    assert_non_null(copy);
    memcpy(copy, data, size);
    brant_status status = brant_gpx_parse(&f->ctx, "t.gpx", copy, size, &f->gpx);
    free(copy);
    if (status)
        fail_msg("%s", brant_message(&f->ctx));
}

static void parse(fixture *f, const char *text)
{
    parse_bytes(f, text, strlen(text));
}

static void check_refused(fixture *f, const char *data, size_t size, const char *message)
{
    brant_gpx_clear(&f->gpx);
    brant_forgive(&f->ctx);
    assert_int_equal(brant_gpx_parse(&f->ctx, "t.gpx", data, size, &f->gpx), BRANT_ERR_INPUT);
    assert_string_equal(brant_message(&f->ctx), message);
    assert_null(f->gpx.points);
    assert_null(f->gpx.routes);
}

static void refused(fixture *f, const char *text, const char *message)
{
    check_refused(f, text, strlen(text), message);
}

static void check_two_points(const brant_gpx *gpx)
{
    assert_int_equal(gpx->route_count, 1);
    assert_int_equal(gpx->segment_count, 1);
    assert_int_equal(gpx->segments[0].count, 2);
    assert_int_equal(gpx->point_count, 2);
    assert_true(gpx->points[0].lat == 46.5 && gpx->points[0].lon == 9.5);
    assert_true(gpx->points[1].lat == 46.6 && gpx->points[1].lon == 9.6);
}

/* ---- what is read ------------------------------------------------------- */

static void test_versions_and_namespaces(void **state)
{
    fixture *f = *state;
    parse(f, HEAD "<gpx" NS11 ">" TRACK(P1 P2) "</gpx>");
    check_two_points(&f->gpx);
    parse(f, HEAD "<gpx" NS10 ">" TRACK(P1 P2) "</gpx>");
    check_two_points(&f->gpx);
    parse(f, "<gpx>" TRACK(P1 P2) "</gpx>");
    check_two_points(&f->gpx);
    parse(f, "<g:gpx xmlns:g=\"http://www.topografix.com/GPX/1/1\"><g:trk><g:trkseg>"
             "<g:trkpt lat='46.5' lon='9.5'/><g:trkpt lat='46.6' lon='9.6'></g:trkpt>"
             "</g:trkseg></g:trk></g:gpx>");
    check_two_points(&f->gpx);
}

static void test_tracks_routes_and_segments(void **state)
{
    fixture *f = *state;
    parse(f, HEAD "<gpx" NS11 "><wpt lat='1' lon='2'><name>hut</name></wpt>\n"
                  "<rte><name>plan</name><rtept lat='1' lon='2'><name>turn</name></rtept>"
                  "<rtept lat='3' lon='4'/></rte>"
                  "<trk><trkseg>" P1 "</trkseg><trkseg></trkseg><trkseg/>"
                  "<trkseg>" P1 P2 P2 "</trkseg></trk><trk><name>empty</name></trk></gpx>");
    const brant_gpx *gpx = &f->gpx;
    assert_int_equal(gpx->waypoints, 1);
    assert_int_equal(gpx->route_count, 3);
    assert_int_equal(gpx->segment_count, 5);
    assert_int_equal(gpx->point_count, 6);
    assert_true(gpx->routes[0].planned && !gpx->routes[1].planned);
    assert_string_equal(gpx->routes[0].name, "plan");
    assert_string_equal(gpx->routes[1].name, "");
    assert_string_equal(gpx->routes[2].name, "empty");
    assert_int_equal(gpx->routes[1].first_segment, 1);
    assert_int_equal(gpx->routes[1].segments, 4);
    assert_int_equal(gpx->routes[2].segments, 0);
    static const size_t first[5] = {0, 2, 3, 3, 3}, count[5] = {2, 1, 0, 0, 3};
    for (int i = 0; i < 5; i++) {
        assert_int_equal(gpx->segments[i].first, first[i]);
        assert_int_equal(gpx->segments[i].count, count[i]);
    }
}

/* Only the track's own points and name count, whatever other elements hold. */
static void test_look_alikes(void **state)
{
    fixture *f = *state;
    parse(f, "<gpx xmlns:x='urn:x'><metadata><name>file</name></metadata>"
             "<extensions><trk><trkseg>" P1 P2 "</trkseg></trk></extensions>"
             "<trk><x:name>foreign</x:name><link href='h'><text>t</text><name>no</name></link>"
             "<name>own</name><name>second</name><extensions><name>no</name></extensions>"
             "<x:trkseg>" P1 "</x:trkseg><trkseg>" P1
             "<extensions><trkpt lat='0' lon='0'/></extensions><x:trkpt lat='x' lon='y'/>"
             "<trkpt lat='46.6' lon='9.6'><ele>bad data</ele><time>never</time>"
             "<extensions><x:trkpt lat='7' lon='7'/></extensions></trkpt></trkseg></trk></gpx>");
    check_two_points(&f->gpx);
    assert_string_equal(f->gpx.routes[0].name, "own");
}

static void test_numbers(void **state)
{
    fixture *f = *state;
    parse(f, "<gpx>" TRACK("<trkpt lat='52.53394' lon='-9.0E-4'/>"
                           "<trkpt lon=' 180\t' lat='+1e1'/><trkpt lat='-90' lon='-180.000'/>"
                           "<trkpt lat='90.' lon='.5'/>") "</gpx>");
    const brant_gpx_point *p = f->gpx.points;
    assert_int_equal(f->gpx.point_count, 4);
    assert_true(p[0].lat == 52.53394 && p[0].lon == -9.0e-4);
    assert_true(p[1].lat == 10 && p[1].lon == 180);
    assert_true(p[2].lat == -90 && p[2].lon == -180);
    assert_true(p[3].lat == 90 && p[3].lon == 0.5);
}

static void test_encodings(void **state)
{
    fixture *f = *state;
    parse(f, "\xef\xbb\xbf" HEAD "<gpx>" TRACK(P1 P2) "</gpx>"); /* byte order mark */
    check_two_points(&f->gpx);
    parse(f, "<?xml version='1.0' encoding='ISO-8859-1'?><gpx><trk><name>Gr\xfc\xdf"
             "e</name><trkseg>" P1 P2 "</trkseg></trk></gpx>");
    check_two_points(&f->gpx);
    assert_string_equal(f->gpx.routes[0].name, "Gr\xc3\xbc\xc3\x9f"
                                               "e");
    /* 0x80 the euro sign, 0x92 a right quote, 0xe9 as in Latin-1 (CP1252.TXT) */
    parse(f, "<?xml version='1.0' encoding='Windows-1252'?><gpx><trk><name>\x80\x92\xe9</name>"
             "<trkseg>" P1 P2 "</trkseg></trk></gpx>");
    assert_string_equal(f->gpx.routes[0].name, "\xe2\x82\xac\xe2\x80\x99\xc3\xa9");

    const char *text = "<?xml version='1.0' encoding='UTF-16'?><gpx>" TRACK(P1 P2) "</gpx>";
    char wide[1024] = "\xff\xfe";
    size_t length = 2;
    for (const char *c = text; *c; c++, length += 2) {
        wide[length] = *c;
        wide[length + 1] = '\0';
    }
    parse_bytes(f, wide, length);
    check_two_points(&f->gpx);
}

/* White space, control characters (also as a terminal may obey them: CSI is
 * U+009B), entities, CDATA; too long is cut between characters. */
static void test_names(void **state)
{
    fixture *f = *state;
    parse(f, "<gpx><trk><name>\n  Col &amp;<![CDATA[ <Tal>]]>\t &#x9b;\n Nord \n</name><trkseg>"
             P1 P2 "</trkseg></trk></gpx>");
    assert_string_equal(f->gpx.routes[0].name, "Col & <Tal> Nord");
    parse(f, "<gpx><trk><name> \n </name><trkseg>" P1 P2 "</trkseg></trk></gpx>");
    assert_string_equal(f->gpx.routes[0].name, "");

    char text[8192] = "<gpx><trk><name>x";
    for (int i = 0; i < 3000; i++)
        strcat(text, "\xc3\xbc");
    strcat(text, "</name><trkseg>" P1 P2 "</trkseg></trk></gpx>");
    parse(f, text);
    assert_int_equal(strlen(f->gpx.routes[0].name), 199); /* 1 + 99 times 2 */
}

/* Repeated points are the sampler's business; the parser keeps them. */
static void test_large(void **state)
{
    fixture *f = *state;
    enum { POINTS = 60000 };
    size_t size = (size_t)POINTS * 40 + 100, length = 0;
    char *text = malloc(size);
    assert_non_null(text);
    length += (size_t)snprintf(text, size, "<gpx><trk><trkseg>");
    for (int i = 0; i < POINTS; i++)
        length += (size_t)snprintf(text + length, size - length,
                                   "<trkpt lat=\"%d.5\" lon=\"%d.25\"/>\n", i % 90, i % 180);
    length += (size_t)snprintf(text + length, size - length, "</trkseg></trk></gpx>");
    assert_true(length > 1 << 20); /* more than one chunk */
    parse_bytes(f, text, length);
    free(text);
    assert_int_equal(f->gpx.point_count, POINTS);
    for (int i = 0; i < POINTS; i++)
        assert_true(f->gpx.points[i].lat == i % 90 + 0.5 && f->gpx.points[i].lon == i % 180 + 0.25);
}

/* ---- what is refused ---------------------------------------------------- */

static void test_bad_coordinates(void **state)
{
    fixture *f = *state;
    refused(f, "<gpx>\n<trk><trkseg>\n<trkpt lat=\"undefined\" lon=\"1\"/></trkseg></trk></gpx>",
            "t.gpx:3: lat=\"undefined\" is not a number");
    refused(f, "<gpx>" TRACK(P1 "\n\n<trkpt lat='46,5' lon='1'/>") "</gpx>",
            "t.gpx:3: lat=\"46,5\" is not a number");
    refused(f, "<gpx>" TRACK(P1 "<trkpt lat='91' lon='1'/>") "</gpx>",
            "t.gpx:1: lat=\"91\" is outside -90 to 90");
    refused(f, "<gpx>" TRACK(P1 "<trkpt lat='1' lon='-180.1'/>") "</gpx>",
            "t.gpx:1: lon=\"-180.1\" is outside -180 to 180");
    refused(f, "<gpx>" TRACK(P1 "<trkpt lat='1'/>") "</gpx>", "t.gpx:1: trkpt without lon");
    refused(f, "<gpx><rte>\n<rtept lon='1'/></rte></gpx>", "t.gpx:2: rtept without lat");
    static const char *const bad[] = {"",   " ",     "nan",      "inf", "1e999", "0x10",
                                      "1 2", "1d",    "--1",      "1e",  "12°",   "1;2"};
    for (size_t i = 0; i < sizeof bad / sizeof bad[0]; i++) {
        char text[200], message[200];
        snprintf(text, sizeof text, "<gpx>" TRACK("<trkpt lat='%s' lon='1'/>") "</gpx>", bad[i]);
        snprintf(message, sizeof message, "t.gpx:1: lat=\"%s\" is not a number", bad[i]);
        refused(f, text, message);
    }
    /* a long or odd value is shown in part, on one line */
    refused(f, "<gpx>" TRACK("<trkpt lat='a&#10;bcdefghijklmnopqrstuvwxyz0123456789&#252;&#252;'"
                             " lon='1'/>") "</gpx>",
            "t.gpx:1: lat=\"a bcdefghijklmnopqrstuvwxyz0123456789\xc3\xbc\" is not a number");
}

static void test_nothing_to_plan(void **state)
{
    fixture *f = *state;
    refused(f, "<gpx></gpx>", "t.gpx: no track or route in it");
    refused(f, "<gpx><wpt lat='1' lon='1'/></gpx>",
            "t.gpx: no track or route in it (1 waypoint only)");
    refused(f, "<gpx><wpt lat='x'/><wpt lat='1' lon='1'/></gpx>",
            "t.gpx: no track or route in it (2 waypoints only)");
    refused(f, "<gpx>" TRACK(P1) "</gpx>",
            "t.gpx: no track or route with two different points in it (1 point)");
    refused(f, "<gpx>" TRACK(P1 P1 P1) TRACK(P2) "</gpx>",
            "t.gpx: no track or route with two different points in it (4 points)");
    refused(f, "<gpx><trk/><rte/></gpx>",
            "t.gpx: no track or route with two different points in it (0 points)");
}

static void test_not_gpx(void **state)
{
    fixture *f = *state;
    refused(f, "<kml>\n</kml>", "t.gpx:1: not GPX: the root element is <kml>");
    refused(f, "\n<GPX/>", "t.gpx:2: not GPX: the root element is <GPX>");
    refused(f, "", "t.gpx:1: not readable as XML: no element found");
    refused(f, "lat,lon\n46.5,9.5\n", "t.gpx:1: not readable as XML: syntax error");
    refused(f, "<gpx>\n<trk>\n</gpx>", "t.gpx:3: not readable as XML: mismatched tag");
    refused(f, "<gpx>" TRACK(P1 P2) "\n", "t.gpx:2: not readable as XML: no element found");
    refused(f, "<gpx><trk><trkseg>" P1 "\n<trkpt lat='46",
            "t.gpx:2: not readable as XML: unclosed token");
    refused(f, "<gpx>" TRACK(P1 P2) "</gpx>\n<gpx/>",
            "t.gpx:2: not readable as XML: junk after document element");
    refused(f, "<gpx>\n" TRACK("<trkpt lat='1' lat='2' lon='3'/>") "</gpx>",
            "t.gpx:2: not readable as XML: duplicate attribute");
    refused(f, "<gpx><trk><name>\xff</name></trk></gpx>",
            "t.gpx:1: not readable as XML: not well-formed (invalid token)");
    refused(f, "<?xml version='1.0' encoding='EBCDIC-US'?>\n<gpx/>",
            "t.gpx:1: not readable as XML: unknown encoding");
    refused(f, "<?xml version='1.0' encoding='windows-1252'?><gpx><trk><name>\x81</name></trk>",
            "t.gpx:1: not readable as XML: not well-formed (invalid token)");
    check_refused(f, "<gpx>\0</gpx>", 12,
                  "t.gpx:1: not readable as XML: not well-formed (invalid token)");
}

static void test_hostile(void **state)
{
    fixture *f = *state;
    refused(f,
            "<?xml version='1.0'?>\n<!DOCTYPE gpx [\n<!ENTITY a 'aaaaaaaaaa'>\n"
            "<!ENTITY b '&a;&a;&a;&a;&a;&a;&a;&a;'>\n]>\n<gpx><trk><name>&b;</name></trk></gpx>",
            "t.gpx:3: declares the entity \"a\": GPX has none");
    refused(f, "<!DOCTYPE gpx [\n<!ENTITY x SYSTEM 'file:///etc/hostname'>]><gpx>&x;</gpx>",
            "t.gpx:2: declares the entity \"x\": GPX has none");
    refused(f, "<!DOCTYPE gpx [<!ENTITY % p SYSTEM 'http://localhost/'> %p;]><gpx/>",
            "t.gpx:1: declares the entity \"p\": GPX has none");
    refused(f, "<!DOCTYPE gpx SYSTEM 'gpx.dtd'>\n<gpx>" TRACK(P1 "<trkpt lat='4&x;6' lon='1'/>")
               "</gpx>",
            "t.gpx:1: refers to a DTD outside the file: GPX has none");
    refused(f, "<gpx>" TRACK(P1 "<trkpt lat='4&x;6' lon='1'/>") "</gpx>",
            "t.gpx:1: not readable as XML: undefined entity");
    char deep[1000] = "<gpx>";
    for (int i = 0; i < 70; i++)
        strcat(deep, "\n<a>");
    refused(f, deep, "t.gpx:65: elements nested more than 64 deep");
}

static void test_stop(void **state)
{
    fixture *f = *state;
    const char *text = "<gpx>" TRACK(P1 P2) "</gpx>";
    static const atomic_int asked = 1;
    f->ctx.stop = &asked;
    assert_int_equal(brant_gpx_parse(&f->ctx, "t.gpx", text, strlen(text), &f->gpx),
                     BRANT_ERR_INTERRUPTED);
}

/* Any bytes are parsed, or refused in one line that names the file. */
static void test_any_bytes(void **state)
{
    fixture *f = *state;
    static const char whole[] =
        HEAD "<!DOCTYPE gpx [<!ELEMENT gpx ANY>]>\n<gpx" NS11 ">\n<wpt lat='1' lon='2'/>"
        "<rte><name>a &amp; b</name><rtept lat='1' lon='2'/></rte>\n" TRACK(P1 P2) "</gpx>\n";
    enum { SIZE = sizeof whole - 1 };
    unsigned seed = 9;
    int parsed = 0;
    for (int round = 0; round < 20000; round++) {
        char data[SIZE];
        memcpy(data, whole, SIZE);
        for (int i = 0; i < round % 4; i++) {
            seed = seed * 1103515245u + 12345u;
            data[(seed >> 8) % SIZE] = (char)(seed >> 24);
        }
        seed = seed * 1103515245u + 12345u;
        size_t size = round % 8 == 0 ? (seed >> 8) % SIZE : SIZE;
        brant_gpx_clear(&f->gpx);
        brant_forgive(&f->ctx);
        brant_status status = brant_gpx_parse(&f->ctx, "t.gpx", data, size, &f->gpx);
        assert_true(status == BRANT_OK || status == BRANT_ERR_INPUT);
        if (status)
            assert_memory_equal(brant_message(&f->ctx), "t.gpx:", 6);
        for (size_t i = 0; i < f->gpx.point_count; i++)
            assert_true(fabs(f->gpx.points[i].lat) <= 90 && fabs(f->gpx.points[i].lon) <= 180);
        parsed += status == BRANT_OK;
    }
    assert_true(parsed > 1000 && parsed < 19000);
}

/* ---- real files --------------------------------------------------------- */

typedef struct real_file {
    const char *name;
    size_t routes, segments, points, waypoints;
    bool planned;
    const char *message; /* a refusal, after the file's name */
} real_file;

/* Counts by searching the files' text for their tags. */
static const real_file real_files[] = {
    {"alpine_hike_gpx10.gpx", 1, 1, 184, 0, false, NULL},
    {"davos_ride_2_segments_leaves_dem.gpx", 1, 2, 400, 2, false, NULL},
    {"empty_segment.gpx", 1, 2, 9, 0, false, NULL},
    {"exponent_coordinates.gpx", 10, 10, 1140, 0, false, NULL},
    {"northshore_climb.gpx", 1, 1, 100, 5, false, NULL},
    {"route_120_points_gpx10.gpx", 1, 1, 120, 0, true, NULL},
    {"two_tracks_ten_segments.gpx", 2, 10, 46, 0, false, NULL},
    {"bad_lat_undefined.gpx", 0, 0, 0, 0, false, ":5: lat=\"undefined\" is not a number"},
    {"bad_not_well_formed.gpx", 0, 0, 0, 0, false, ":39: not readable as XML: mismatched tag"},
    {"bom.gpx", 0, 0, 0, 0, false, ": no track or route in it (1 waypoint only)"},
    {"iso8859_1.gpx", 0, 0, 0, 0, false, ": no track or route in it (8 waypoints only)"},
    {"waypoints_only.gpx", 0, 0, 0, 0, false, ": no track or route in it (82 waypoints only)"},
};

static char *read_file(const char *name, size_t *size)
{
    const char *folder = getenv("BRANT_SHARED_DATA");
    char path[4096];
    snprintf(path, sizeof path, "%s/gpx/%s", folder ? folder : "", name);
    FILE *file = folder ? fopen(path, "rb") : NULL;
    if (!file)
        return NULL;
    char *data = malloc(1 << 22);
    *size = data ? fread(data, 1, 1 << 22, file) : 0;
    fclose(file);
    return data;
}

static void check_real(fixture *f, const real_file *file, const char *data, size_t size)
{
    char message[200];
    if (file->message) {
        brant_gpx_clear(&f->gpx);
        brant_forgive(&f->ctx);
        assert_int_equal(brant_gpx_parse(&f->ctx, file->name, data, size, &f->gpx),
                         BRANT_ERR_INPUT);
        snprintf(message, sizeof message, "%s%s", file->name, file->message);
        assert_string_equal(brant_message(&f->ctx), message);
        return;
    }
    parse_bytes(f, data, size);
    assert_int_equal(f->gpx.route_count, file->routes);
    assert_int_equal(f->gpx.segment_count, file->segments);
    assert_int_equal(f->gpx.point_count, file->points);
    assert_int_equal(f->gpx.waypoints, file->waypoints);
    assert_int_equal(f->gpx.routes[0].planned, file->planned);
}

static void test_real_files(void **state)
{
    fixture *f = *state;
    size_t read = 0, size = 0;
    for (size_t i = 0; i < sizeof real_files / sizeof real_files[0]; i++) {
        char *data = read_file(real_files[i].name, &size);
        if (!data)
            continue;
        read++;
        check_real(f, &real_files[i], data, size);
        free(data);
    }
    if (read == 0) {
        print_message("no real GPX files in BRANT_SHARED_DATA: skipped\n");
        skip();
    }
    assert_int_equal(read, sizeof real_files / sizeof real_files[0]);
}

#define CASE(name) cmocka_unit_test_setup_teardown(name, setup, teardown)

int main(void)
{
    const struct CMUnitTest tests[] = {
        CASE(test_versions_and_namespaces),
        CASE(test_tracks_routes_and_segments),
        CASE(test_look_alikes),
        CASE(test_numbers),
        CASE(test_encodings),
        CASE(test_names),
        CASE(test_large),
        CASE(test_bad_coordinates),
        CASE(test_nothing_to_plan),
        CASE(test_not_gpx),
        CASE(test_hostile),
        CASE(test_stop),
        CASE(test_any_bytes),
        CASE(test_real_files),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
