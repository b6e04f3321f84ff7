/* The summary: what it says and what it must never say. Expected texts follow
 * the project's own model of a summary; there is no outside source for them. */
#include "report_tour.h"

#include "../../src/report/words.h"

#include <stdio.h>

typedef struct scene {
    made m;
    brant_zone ne, north, west;
} scene;

static char *summary_of(const brant_report *report)
{
    brant_text out = {0};
    brant_report_summary(report, &out);
    assert_false(out.failed);
    assert_non_null(out.data);
    return out.data;
}

static char *summary_of_tour(const made *m)
{
    brant_report report = made_report(&m->tour, 1);
    return summary_of(&report);
}

static void assert_has(const char *text, const char *part)
{
    if (!text || !strstr(text, part))
        fail_msg("no \"%s\" in:\n%s", part, text ? text : "");
}

static void assert_lacks(const char *text, const char *part)
{
    if (!text || strstr(text, part))
        fail_msg("\"%s\" in:\n%s", part, text ? text : "");
}

/* Columns by counting all bytes but UTF-8 continuation and ANSI sequences. */
static void assert_no_line_over(const char *text, int columns)
{
    int width = 0;
    for (const char *c = text; *c; c++) {
        if (*c == '\x1b') {
            c = strchr(c, 'm');
            continue;
        }
        width = *c == '\n' ? 0 : width + (((unsigned char)*c & 0xC0) != 0x80);
        if (width > columns)
            fail_msg("a line over %d columns in:\n%s", columns, text);
    }
}

static void make_scene(scene *s)
{
    made *m = &s->m;
    s->ne = made_zone(7, 60000, 43, 45, 2300, 2660);
    s->north = made_zone(9, 140000, 41, 350, 2000, 2360);
    s->west = made_zone(12, 9000, 36.2, 270, 1800, 1830);
    made_begin(m, "Tallis Horn from Marrow Hut");
    m->tour.steeper_m = 400;
    made_leg(m, BRANT_KIND_NONE_FOUND, 3200);
    brant_leg *under = made_leg(m, BRANT_KIND_UNDER, 3650);
    under->reached_m[0] = 120;
    under->reached_m[1] = under->reached_m[2] = 450;
    made_above(m, &s->north, 33.2, 80, false, false);
    made_above(m, &s->west, 27, 20, false, false);
    made_leg(m, BRANT_KIND_NONE_FOUND, 6100)->reached_m[2] = 700;
    brant_leg *crosses = made_leg(m, BRANT_KIND_CROSSES, 6550);
    crosses->steepest_deg = 38.3f;
    crosses->aspect_deg = 50;
    for (int i = 0; i < 3; i++)
        crosses->reached_m[i] = 450;
    made_above(m, &s->ne, 90, NAN, true, false);
    made_leg(m, BRANT_KIND_EDGE, 7000);
    made_above(m, &s->ne, 0, NAN, false, true);
    made_leg(m, BRANT_KIND_NONE_FOUND, 8100);
    made_leg(m, BRANT_KIND_UNKNOWN, 8400);
    made_void(m, true);
    made_leg(m, BRANT_KIND_NONE_FOUND, 14200);
    made_rank(m, (const uint32_t[]){4, 5, 2, 0});
    m->tour.climb_m = 1240;
    m->tour.descent_m = 1236;
}

static void test_reads_like_this(void **state)
{
    (void)state;
    static scene s;
    make_scene(&s);
    char *text = summary_of_tour(&s.m);
    assert_string_equal(
        text,
        "Tallis Horn from Marrow Hut\n"
        "14.2 km, 1,240 m up and down, at 1,040-2,348 m (known heights only)\n"
        "BULLETIN none given: levels and limits not shown\n"
        "ROUTE crosses 0.5 km, edge 0.5, under 0.5, unknown 0.3, none found 12.6\n"
        "UNKNOWN leg 7, 8.10-8.40 km: hole in the model\n"
        "FIRST (slopes by their steepest part)\n"
        " 4 crosses   6.10-6.55 km, you at 1,610-1,655 m\n"
        "             38 deg NE, face 6 ha\n"
        " 5 edge      6.55-7.00 km, you at 1,655-1,700 m\n"
        "             beside: 43 deg NE, 2,300-2,660 m, face 6 ha\n"
        " 2 under     3.20-3.65 km, you at 1,320-1,365 m\n"
        "             above: 41 deg N, 2,000-2,360 m, face 14 ha, reached at 33 deg;\n"
        "             2 zones and 7.5 ha in all\n"
        "REACH on release ground or under it at 30: 0.6 km, at 25: 0.9, at 20: 1.6\n"
        "IF reach angle 20: 0.7 km more under. Slope +2 deg: 0.4 km more crosses\n"
        "MODEL quern.tif, 10 m cells: pitches under 20 m may be missed\n"
        "ASKED start zones 30-45 deg, reach angle 25 deg, spread 20 deg, edge 30 m\n"
        "Terrain screening only. The model misses what its cell size hides. Trees,\n"
        "glaciers, cornices, crevasses: not known. The bulletin, the day's conditions,\n"
        "local rules and a licensed guide's judgement decide. None found is not safe.\n");
    free(text);
}

static void test_up_and_down_differ(void **state)
{
    (void)state;
    static scene s;
    make_scene(&s);
    s.m.tour.descent_m = 1219; /* 21 m less */
    char *text = summary_of_tour(&s.m);
    assert_has(text, "\n14.2 km, 1,240 m up, 1,219 m down, at ");
    free(text);
    s.m.tour.descent_m = 1261; /* 21 m more */
    text = summary_of_tour(&s.m);
    assert_has(text, "\n14.2 km, 1,240 m up, 1,261 m down, at ");
    free(text);
}

/* Short stretches keep a figure: nothing that is there is 0.0 km. */
static void test_short_legs(void **state)
{
    (void)state;
    static made m;
    brant_zone zone = made_zone(1, 450, 35, 180, 900, 920);
    made_begin(&m, "short");
    made_leg(&m, BRANT_KIND_CROSSES, 4);
    made_above(&m, &zone, 90, NAN, true, false);
    made_leg(&m, BRANT_KIND_UNDER, 4.3)->reached_m[1] = 0.3;
    made_leg(&m, BRANT_KIND_EDGE, 44);
    made_leg(&m, BRANT_KIND_NONE_FOUND, 150);
    made_rank(&m, (const uint32_t[]){1, 2, 3, 0});
    char *text = summary_of_tour(&m);
    assert_has(text, "ROUTE crosses 0.004 km, edge 0.04, under <0.001, none found 0.1\n");
    assert_has(text, "crosses   0.000-0.004 km");
    assert_has(text, "under     0.004 km,"); /* 0.3 m long */
    assert_has(text, "edge      0.00-0.04 km");
    assert_has(text, "face 450 m2");
    assert_has(text, "at 25: <0.001");
    assert_lacks(text, " 0.0 ");
    assert_lacks(text, " 0.0,");
    free(text);
}

static void test_reasons_for_unknown(void **state)
{
    (void)state;
    static made m;
    brant_zone zone = made_zone(3, 31000, 38, 200, 1900, 1990);
    made_begin(&m, "unknown");
    made_leg(&m, BRANT_KIND_UNKNOWN, 100); /* columns 10 to 20 */
    made_void(&m, true);
    made_leg(&m, BRANT_KIND_NONE_FOUND, 200);
    made_leg(&m, BRANT_KIND_UNKNOWN, 250)->is |= BRANT_UNKNOWN_ABOVE;
    made_leg(&m, BRANT_KIND_NONE_FOUND, 300);
    made_leg(&m, BRANT_KIND_UNKNOWN, 400);
    made_void(&m, false);
    made_leg(&m, BRANT_KIND_NONE_FOUND, 500);
    made_leg(&m, BRANT_KIND_UNKNOWN, 600); /* columns 60 to 70 */
    made_void(&m, true);
    made_above(&m, &zone, 31, 20, false, false);
    made_leg(&m, BRANT_KIND_NONE_FOUND, 700);
    made_leg(&m, BRANT_KIND_UNKNOWN, 990); /* columns 80 to 109 */
    made_void(&m, true);
    made_rank(&m, NULL);
    brant_report report = made_report(&m.tour, 1);
    report.cols = 75;
    char *text = summary_of(&report);
    assert_has(text, "UNKNOWN leg 9, 0.70-0.99 km: outside the model\n"
                     "        hole in the model: legs 1 (0.00-0.10 km), 7 (0.50-0.60 km; above:\n"
                     "        38 deg S, 1,900-1,990 m, face 3.1 ha, reached at 31 deg)\n");
    assert_has(text, "\n        leg 3, 0.20-0.25 km: unknown above or beside");
    assert_has(text, "\n        leg 5, 0.30-0.40 km: beside a hole in the model\n");
    assert_has(text, "FIRST no release ground found on, beside or above the route where the ground "
                     "is\n"
                     "  known\n");
    free(text);
}

/* Beside the edge there is a height and no slope: Horn's window needs a cell on each side. */
static void test_the_models_edge(void **state)
{
    (void)state;
    static made m;
    made_begin(&m, "edge");
    made_leg(&m, BRANT_KIND_UNKNOWN, 40); /* columns 10 to 14 */
    made_void(&m, false);
    made_rank(&m, NULL);
    brant_report report = made_report(&m.tour, 1);
    static const struct {
        double move, row;
        const char *says;
    } cases[] = {{-11, 5.5, "outside the model and beside a hole in the model"}, /* from -0.5 on */
                 {-10, 5.5, "at the model's edge and beside a hole in the model"},
                 {0, 0.5, "at the model's edge"}, {0, 1, "beside a hole in the model"},
                 {0, 398.5, "beside a hole in the model"}, {0, 399, "at the model's edge"},
                 {0, 400, "outside the model"}, {NAN, 5.5, "outside the model"}};
    for (size_t i = 0; i < sizeof cases / sizeof cases[0]; i++) {
        char line[100];
        for (int k = 0; k < MADE_SAMPLES; k++) {
            m.samples[k].col = 10.5 + k + cases[i].move;
            m.samples[k].row = cases[i].row;
        }
        report.columns = 100;
        char *text = summary_of(&report);
        snprintf(line, sizeof line, "UNKNOWN leg 1, 0.00-0.04 km: %s\n", cases[i].says);
        assert_has(text, line);
        free(text);
    }
}

/* A route of unknown ground alone: nothing may sound like a finding. */
static void test_unknown_is_not_none(void **state)
{
    (void)state;
    static made m;
    made_begin(&m, "void");
    made_leg(&m, BRANT_KIND_UNKNOWN, 1500);
    made_void(&m, true);
    made_rank(&m, NULL);
    char *text = summary_of_tour(&m);
    assert_has(text, "\n1.5 km, heights not known\n");
    assert_has(text, "ROUTE unknown 1.5 km\n");
    assert_lacks(text, "none found");
    assert_lacks(text, "none-found");
    assert_lacks(text, "no release ground");
    assert_ends_with_caution(text);
    free(text);
}

/* Many unknown legs are counted where they are not listed. */
static void test_many_unknown(void **state)
{
    (void)state;
    static made m;
    made_begin(&m, "holes");
    for (int i = 0; i < 30; i++) {
        made_leg(&m, BRANT_KIND_UNKNOWN, 200 * i + 100);
        made_void(&m, true);
        made_leg(&m, BRANT_KIND_NONE_FOUND, 200 * i + 200);
    }
    made_rank(&m, NULL);
    char *text = summary_of_tour(&m);
    assert_has(text, "UNKNOWN hole in the model: legs 1 (0.00-0.10 km), 3 (");
    assert_has(text, "23 (2.20-2.30 km) and 18 more, 3.0 km in all\n");
    assert_no_line_over(text, 79);
    free(text);
}

static void test_the_rest_is_listed(void **state)
{
    (void)state;
    static made m;
    brant_zone zone = made_zone(3, 31000, 38, 200, 1900, 1990);
    uint32_t order[23] = {0};
    made_begin(&m, "long");
    for (uint32_t i = 0; i < 11; i++) {
        made_leg(&m, BRANT_KIND_UNDER, 200 * i + 100);
        made_above(&m, &zone, 36.9 - i, 12, false, false); /* told rounded down */
        order[i] = 2 * i + 1;
        made_leg(&m, BRANT_KIND_NONE_FOUND, 200 * i + 200);
    }
    m.legs[20].unknown_above_m = 30;
    made_leg(&m, BRANT_KIND_REMOTE, 2500);
    order[11] = 23;
    made_rank(&m, order);
    char *text = summary_of_tour(&m);
    assert_has(text, "FIRST 8 of 12 legs (");
    assert_has(text, "\n15 under ");
    assert_lacks(text, "\n17 under ");
    assert_has(text, "\nAlso under: legs 17 19 21, reached at 26-28 deg\n"
                     "Also remote: leg 23\nAlso unknown above: leg 21\nREACH");
    free(text);
}

/* A list of a hundred numbers helps nobody. */
static void test_many_legs(void **state)
{
    (void)state;
    static made m;
    brant_zone zone = made_zone(3, 31000, 38, 200, 1900, 1990);
    uint32_t order[32] = {0};
    made_begin(&m, "many");
    for (uint32_t i = 0; i < 31; i++) {
        made_leg(&m, BRANT_KIND_UNDER, 200 * i + 100)->unknown_above_m = 20;
        made_above(&m, &zone, 26.96, 12, false, false);
        order[i] = 2 * i + 1;
        made_leg(&m, BRANT_KIND_NONE_FOUND, 200 * i + 200);
    }
    made_rank(&m, order);
    char *text = summary_of_tour(&m);
    assert_has(text, "\nAlso under: 23 legs, 2.3 km, reached at 26 deg, "
                     "first 17 19 21 23 25 27 29 31\n"
                     "  33 35 37 39\nAlso unknown above: 23 legs, 0.5 km, first 17");
    free(text);
}

/* What holds beside the kind is said with the leg. */
static void test_a_leg_says_all(void **state)
{
    (void)state;
    static scene s;
    make_scene(&s);
    static made m;
    made_begin(&m, "all at once");
    brant_leg *leg = made_leg(&m, BRANT_KIND_CROSSES, 1000);
    leg->steepest_deg = 38;
    leg->unknown_above_m = 120;
    s.west.flags = BRANT_ZONE_AT_VOID;
    made_above(&m, &s.west, 90, NAN, true, false);
    made_above(&m, &s.north, 33, 10, false, false);
    brant_zone far = made_zone(20, 900000, 44, 0, 2500, 2900);
    made_above(&m, &far, 21, -4, false, false); /* not at the reach angle */
    made_leg(&m, BRANT_KIND_EDGE, 1500)->unknown_above_m = 500;
    made_above(&m, &s.ne, 34, 10, false, true);
    brant_zone part = made_zone(8, 60000, 35, 90, 2200, 2300); /* of the same face */
    part.face = s.ne.face;
    part.flags = BRANT_ZONE_AT_VOID;
    made_above(&m, &part, 20, -5, false, false);
    made_leg(&m, BRANT_KIND_REMOTE, 1600);
    made_rank(&m, (const uint32_t[]){1, 2, 3, 0});
    char *text = summary_of_tour(&m);
    assert_has(text, "             38 deg E, face 0.9 ha or more; above: 41 deg N, 2,000-2,360 m,\n"
                     "             face 14 ha, reached at 33 deg; unknown above for 120 m\n");
    assert_has(text, "beside: 43 deg NE, 2,300-2,660 m, face 6 ha or more;\n"
                     "             reached at 34 deg; unknown above\n");
    assert_has(text, "remote triggering of release ground, near and connected;");
    free(text);
}

static void test_several_tours(void **state)
{
    (void)state;
    static scene a, b, c;
    make_scene(&a);
    make_scene(&b);
    made_begin(&c.m, "empty");
    brant_tour tours[3] = {a.m.tour, b.m.tour, c.m.tour};
    brant_report report = made_report(tours, 3);
    char *text = summary_of(&report);
    assert_has(text, "Tallis Horn from Marrow Hut\n14.2");
    assert_has(text, "\n\nTallis Horn from Marrow Hut (2)\n14.2");
    assert_has(text, "\n\nempty\nNo two points: no route to look at\n\nMODEL");
    char *model = strstr(text, "\nMODEL");
    assert_null(strstr(model + 1, "\nMODEL"));
    assert_ends_with_caution(text);
    free(text);
}

/* "Unique within the report": a number that makes another track's name is passed over. */
static void test_names_are_unique(void **state)
{
    (void)state;
    static made m[4];
    static const char *const names[] = {"Horn (2)", "Horn", "Horn", "Horn"};
    static const char *const told[] = {"Horn (2)", "Horn", "Horn (3)", "Horn (4)"};
    brant_tour tours[4];
    for (int i = 0; i < 4; i++) {
        made_begin(&m[i], names[i]);
        tours[i] = m[i].tour;
    }
    brant_report report = made_report(tours, 4);
    for (size_t i = 0; i < 4; i++) {
        brant_text out = {0};
        brant_words_route(&report, i, &out);
        assert_string_equal(out.data, told[i]);
        brant_text_clear(&out);
    }
}

static void test_bold_heads(void **state)
{
    (void)state;
    static scene s;
    make_scene(&s);
    brant_report report = made_report(&s.m.tour, 1);
    report.bold = true;
    char *text = summary_of(&report);
    assert_has(text, "\n\x1b[1m 4 crosses   6.10-6.55 km, you at 1,610-1,655 m\x1b[0m\n   ");
    int marks = 0;
    for (const char *c = text; (c = strstr(c, "\x1b[1m")); c++)
        marks++;
    assert_int_equal(marks, 3);
    assert_no_line_over(text, 79);
    free(text);
}

static void test_width(void **state)
{
    (void)state;
    static scene s;
    make_scene(&s);
    memset(s.m.name, 'x', 200); /* one long word, then many of two bytes a letter */
    for (int i = 200; i < 500; i += 10)
        memcpy(s.m.name + i, " \xC3\xA4\xC3\xB6\xC3\xBC\xC3\xA9z", 10);
    s.m.name[500] = '\0';
    brant_report report = made_report(&s.m.tour, 1);
    static const int columns[] = {0, 79, 60, 40, 30, 5};
    for (size_t i = 0; i < sizeof columns / sizeof columns[0]; i++) {
        report.columns = columns[i];
        char *text = summary_of(&report);
        assert_no_line_over(text, columns[i] == 0 ? 79 : columns[i] < 30 ? 30 : columns[i]);
        assert_has(text, "\nTerrain screening only. ");
        assert_string_equal(text + strlen(text) - 6, "safe.\n");
        free(text);
    }
    const char *wide = "\xE5\xB1\xB1"; /* U+5C71, two columns by Unicode's UAX #11 */
    for (int i = 0; i < 60; i++)
        memcpy(s.m.name + 3 * i, wide, 4);
    report.columns = 0;
    char *text = summary_of(&report);
    assert_int_equal(strchr(text, '\n') - text, 39 * 3);
    free(text);
}

/* A name must not move the cursor, start a line or turn the writing round. */
static void test_hostile_name(void **state)
{
    (void)state;
    static scene s;
    make_scene(&s);
    strcpy(s.m.name, "a\nb\tc\x1b[2J\x7F\xC2\x9B" "d\xE2\x80\xAE" "e\xFF" "f\x01g\xED\xA0\x80");
    char *text = summary_of_tour(&s.m);
    assert_has(text, "a b c [2J  d e\xEF\xBF\xBD" "f g\xEF\xBF\xBD");
    assert_null(strchr(text, '\x1b'));
    assert_null(strchr(text, '\x01'));
    free(text);
}

static void test_model_line(void **state)
{
    (void)state;
    static scene s;
    make_scene(&s);
    brant_report report = made_report(&s.m.tour, 1);
    report.cell_m[0] = 21.3;
    report.cell_m[1] = 30.9;
    report.vertical_unit = "m (assumed)";
    report.datum_accuracy_m = 5;
    report.floor_deg = 22;
    report.zones_from = "mine.gpkg";
    char *text = summary_of(&report);
    assert_has(text, "MODEL quern.tif, 21 x 31 m cells: pitches under 62 m may be missed. Height\n"
                     "  unit: m (assumed). Datum shift good to 5 m\n");
    assert_has(text, "at 25: 0.9, at 20: not\n  searched\n");
    assert_has(text, "zones from mine.gpkg\n");
    free(text);
    report.own_angles = 3;
    text = summary_of(&report);
    assert_has(text, "3 with their own reach angle. At other");
    assert_has(text, " of what is reached is missed\n");
    free(text);
    report.own_angles = 1;
    text = summary_of(&report);
    assert_has(text, "1 with its own reach angle. At other");
    free(text);
    report.vertical_error_m = 1.5;
    report.cell_m[0] = report.cell_m[1] = 5;
    report.factor = 10;
    report.datum_accuracy_m = -1;
    text = summary_of(&report);
    assert_has(text, "5 m cells (mean of 10 x 10 in the file): pitches under 10 m\n"
                     "  may be missed.");
    assert_has(text, "Datum shift of unstated accuracy");
    assert_has(text, "IF slope +one error (heights +-1.5 m): 0.4 km more crosses\n");
    free(text);
}

/* Facts, not verdicts: outside the caution none of these words stands. */
static void test_no_verdicts(void **state)
{
    (void)state;
    static scene s;
    make_scene(&s);
    static const char *const verdicts[] = {"safe", "clear", " go ", "danger", "OK", "score", "risk",
                                           "warning"};
    char *text = summary_of_tour(&s.m);
    text[strlen(text) - strlen(brant_caution)] = '\0';
    for (size_t i = 0; i < sizeof verdicts / sizeof verdicts[0]; i++)
        assert_lacks(text, verdicts[i]);
    free(text);
    assert_no_line_over(brant_caution, 79);
    assert_int_equal(brant_caution[strlen(brant_caution) - 1], '\n');
}

/* ---- words ---------------------------------------------------------------- */

static void says(brant_text *out, const char *expected)
{
    assert_string_equal(out->data ? out->data : "", expected);
    brant_text_clear(out);
}

/* As words.h has them; a FIRM blank is \x01. */
static void test_numbers_in_words(void **state)
{
    (void)state;
    static const struct {
        void (*add)(brant_text *out, double value);
        double value;
        const char *text;
    } cases[] = {
        {brant_words_area, 0.5, "less than 1\x01m2"}, {brant_words_area, 1, "1\x01m2"},
        {brant_words_area, 999, "999\x01m2"},         {brant_words_area, 1000, "0.1\x01ha"},
        {brant_words_area, 14000, "1.4\x01ha"},       {brant_words_area, 20000, "2\x01ha"},
        {brant_words_area, 94000, "9.4\x01ha"},       {brant_words_area, 96000, "10\x01ha"},
        {brant_words_area, 2.5e7, "2,500\x01ha"},
        {brant_words_length, 0.5, "under 1\x01m"},    {brant_words_length, 1, "1\x01m"},
        {brant_words_length, 949, "949\x01m"},        {brant_words_length, 951, "1.0\x01km"},
        {brant_words_length, 1240, "1.2\x01km"},
        {brant_words_km, 0, "0"},                     {brant_words_km, 0.4, "<0.001"},
        {brant_words_km, 9.4, "0.009"},               {brant_words_km, 94, "0.09"},
        {brant_words_km, 96, "0.1"},                  {brant_words_km, 14200, "14.2"},
    };
    for (size_t i = 0; i < sizeof cases / sizeof cases[0]; i++) {
        brant_text out = {0};
        cases[i].add(&out, cases[i].value);
        says(&out, cases[i].text);
    }
    static const struct {
        double low, high;
        const char *text;
    } heights[] = {
        {2420, 2590, "2,420-2,590\x01m"}, {2420.4, 2419.6, "2,420\x01m"},
        {-120, -80, "-120\x01to\x01-80\x01m"}, {0, 80, "0-80\x01m"},
        {NAN, 80, ""}, {80, NAN, ""},
    };
    for (size_t i = 0; i < sizeof heights / sizeof heights[0]; i++) {
        brant_text out = {0};
        brant_words_heights(&out, heights[i].low, heights[i].high);
        says(&out, heights[i].text);
    }
}

/* RFC 3629: the first and last code points of each length. */
static void test_names_of_any_letters(void **state)
{
    (void)state;
    static const char letters[] = "\xC2\xA0\xDF\xBF\xE0\xA0\x80\xEF\xBF\xBD\xF0\x90\x80\x80"
                                  "\xF4\x8F\xBF\xBF~";
    brant_text out = {0};
    brant_words_clean(&out, letters, " ");
    says(&out, letters);
    brant_words_clean(&out, "\xC1\xBF\xE0\x9F\xBF\xF0\x8F\xBF\xBF\xF4\x90\x80\x80\xF5", "");
    for (size_t i = 0; i < out.length; i++) /* overlong, beyond U+10FFFF: a U+FFFD each byte */
        assert_int_equal((unsigned char)out.data[i], (unsigned char)"\xEF\xBF\xBD"[i % 3]);
    assert_int_equal(out.length, 14 * 3);
    brant_text_clear(&out);
}

/* "Of those it is on or at the edge of the one with the largest face, else the governing". */
static void test_the_zone_that_speaks(void **state)
{
    (void)state;
    static const struct {
        brant_kind kind;
        bool on, edge, remote, speaks;
    } cases[] = {
        {BRANT_KIND_CROSSES, true, false, false, true},
        {BRANT_KIND_CROSSES, false, true, true, false},
        {BRANT_KIND_OVER_BAND, true, false, false, true},
        {BRANT_KIND_EDGE, false, true, false, true},
        {BRANT_KIND_EDGE, true, false, false, true},
        {BRANT_KIND_EDGE, false, false, true, false},
        {BRANT_KIND_REMOTE, false, false, true, true},
        {BRANT_KIND_REMOTE, true, true, false, false},
        {BRANT_KIND_UNDER, true, true, true, false},
    };
    for (size_t i = 0; i < sizeof cases / sizeof cases[0]; i++) {
        static made m;
        brant_zone small = made_zone(1, 500, 35, 45, 1900, 1990);
        brant_zone large = made_zone(2, 9000, 38, 135, 1900, 1990);
        brant_zone governing = made_zone(3, 100, 36, 225, 1900, 1990);
        made_begin(&m, "zones");
        made_leg(&m, BRANT_KIND_NONE_FOUND, 100);
        made_above(&m, &governing, 26, 5, true, true); /* another leg's */
        brant_leg *leg = made_leg(&m, cases[i].kind, 200);
        for (int k = 0; k < 3; k++) {
            made_above(&m, k == 1 ? &large : &small, 26, 5, cases[i].on, cases[i].edge);
            m.above[1 + k].remote = cases[i].remote;
        }
        leg->governing = &governing;
        const brant_zone *zone = brant_words_zone(&m.tour, leg);
        assert_ptr_equal(zone, cases[i].speaks ? &large : &governing);
        bool own = leg->kind == BRANT_KIND_CROSSES || leg->kind == BRANT_KIND_OVER_BAND;
        assert_string_equal(brant_words_aspect(&m.tour, leg),
                            own ? "E" : zone == &large ? "SE" : "SW");
    }
}

/* ---- waits, below, the own line ----------------------------------------- */

static void test_waits(void **state)
{
    (void)state;
    static made m;
    brant_wait waits[2] = {{1, 875, 2500, 400, NAN}, {9, 3375, NAN, NAN, NAN}};
    brant_stretch stretches[2] = {{1000, 1400, 400, 0, 1}, {4000, 5000, 1000, 1, BRANT_NO_WAIT}};
    made_begin(&m, "Waits");
    made_leg(&m, BRANT_KIND_NONE_FOUND, 1000);
    made_leg(&m, BRANT_KIND_UNDER, 1400);
    made_leg(&m, BRANT_KIND_NONE_FOUND, 4000);
    made_leg(&m, BRANT_KIND_UNDER, 5000);
    made_rank(&m, NULL);
    m.tour.waits = waits;
    m.tour.wait_count = 2;
    m.tour.stretches = stretches;
    m.tour.stretch_count = 2;
    char *text = summary_of_tour(&m);
    assert_has(text, "WAIT  0.88, 3.38 km: outside reach at 20; no place after 4.00-5.00 km\n");
    free(text);
    m.tour.wait_count = 0;
    stretches[0].before = stretches[0].after = stretches[1].before = BRANT_NO_WAIT;
    text = summary_of_tour(&m);
    assert_has(text, "WAIT  no place found outside reach at 20\n");
    free(text);
    m.tour.stretch_count = 1; /* one side has a place */
    stretches[0].before = 0;
    m.tour.wait_count = 1;
    text = summary_of_tour(&m);
    assert_has(text, "WAIT  0.88 km: outside reach at 20; no place after 1.00-1.40 km\n");
    free(text);
    brant_wait many[14];
    brant_stretch lacking[14];
    for (int i = 0; i < 14; i++) {
        many[i] = (brant_wait){(uint32_t)i, 100 * i, NAN, NAN, NAN};
        lacking[i] = (brant_stretch){1000 + 20 * i, 1010 + 20 * i, 10, 0, BRANT_NO_WAIT};
    }
    m.tour.waits = many;
    m.tour.stretches = lacking;
    m.tour.wait_count = m.tour.stretch_count = 14;
    text = summary_of_tour(&m);
    assert_has(text, "1.10 km\n      and 2 more: outside reach at 20; no place after");
    assert_has(text, "1.22-1.23 km and 2 more\n");
    free(text);
    m.tour.wait_count = m.tour.stretch_count = 12;
    text = summary_of_tour(&m);
    assert_has(text, "1.10 km: outside reach at 20; no place after");
    assert_has(text, "1.22-1.23 km\n");
    free(text);
    m.tour.wait_count = 0;
    m.tour.waits_unknown = true;
    text = summary_of_tour(&m);
    assert_has(text, "WAIT  not known: the shadow at 20 was not searched\n");
    free(text);
    m.tour.waits_unknown = false;
    m.tour.stretch_count = 0;
    text = summary_of_tour(&m);
    assert_lacks(text, "WAIT");
    free(text);
}

static void says_below(float cliff, float gully, float flat, float unknown, bool beyond,
                       const char *expected)
{
    brant_below below = {true, {cliff, gully, flat, unknown}, 0, beyond};
    char text[BRANT_BELOW_MAX];
    brant_words_below(&below, text);
    assert_string_equal(text, expected);
}

static void test_below(void **state)
{
    (void)state;
    says_below(NAN, NAN, NAN, NAN, false, "");
    says_below(27, NAN, NAN, NAN, false, "cliff 30 m");
    says_below(2, 40, NAN, NAN, false, "cliff 10 m");
    says_below(220, 80, 400, NAN, false, "gully 80 m then cliff 220 m");
    says_below(NAN, 0, 0, NAN, false, "gully");
    says_below(NAN, NAN, 249, 300, false, "flat 250 m");
    says_below(90, NAN, NAN, 40, false, "unknown then cliff 90 m");
    says_below(NAN, NAN, NAN, 0, false, "unknown");
    says_below(NAN, 80, NAN, NAN, true, "gully 80 m then unknown");
    says_below(NAN, NAN, 0, 0, true, "flat then unknown");
    says_below(15220, 11080, NAN, 20, true,
               "unknown then gully 11080 m then unknown then cliff 15220 m");
    static made m;
    made_begin(&m, "Below");
    brant_leg *leg = made_leg(&m, BRANT_KIND_CROSSES, 1000);
    leg->below = (brant_below){true, {27, 0, NAN, NAN}, 120, false};
    made_rank(&m, NULL);
    brant_report report = made_report(&m.tour, 1);
    report.columns = 200;
    char *text = summary_of(&report);
    assert_has(text, "below you: gully then cliff 30 m; you are in a gully for 120 m");
    free(text);
    leg = made_leg(&m, BRANT_KIND_CROSSES, 1200); /* all of it */
    leg->below = (brant_below){true, {NAN, NAN, NAN, NAN}, 200, false};
    leg->unknown_above_m = 200;
    made_rank(&m, NULL);
    text = summary_of(&report);
    assert_has(text, "20 deg E; unknown above; you are in a gully\n");
    free(text);
}

static void test_own_line(void **state)
{
    (void)state;
    static made m, other;
    brant_over overs[] = {{-1, -1, 2, 4}, {-1, -1, 1, 5}, {-1, -1, 3, 5}, {-1, -1, 4, 5},
                          {0, -1, 1, 5},  {-1, 0, 2, 1}};
    made_begin(&other, "Second party");
    made_leg(&other, BRANT_KIND_CROSSES, 450);
    made_begin(&m, "Own");
    for (int i = 1; i <= 5; i++)
        made_leg(&m, i < 4 ? BRANT_KIND_CROSSES : BRANT_KIND_UNDER, i * 1000);
    made_rank(&m, NULL);
    m.tour.overs = overs;
    m.tour.over_count = sizeof overs / sizeof overs[0];
    brant_report report = made_report(&m.tour, 1);
    report.others = &other.tour;
    report.other_count = 1;
    report.columns = 200;
    char *text = summary_of(&report);
    assert_has(text, "LINE  leg 2 above leg 4; legs 1 3-4, Second party 0.00-0.45 km above leg 5; "
                     "leg 2 above Second party 0.00-0.45 km\n");
    free(text);
    brant_text csv = {0};
    brant_report_legs_csv(&report, &csv);
    assert_has(csv.data, ",1;3;4;Second party 0.00-0.45 km,");
    brant_text_clear(&csv);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(test_reads_like_this),
        cmocka_unit_test(test_up_and_down_differ),
        cmocka_unit_test(test_short_legs),
        cmocka_unit_test(test_reasons_for_unknown),
        cmocka_unit_test(test_the_models_edge),
        cmocka_unit_test(test_unknown_is_not_none),
        cmocka_unit_test(test_many_unknown),
        cmocka_unit_test(test_the_rest_is_listed),
        cmocka_unit_test(test_many_legs),
        cmocka_unit_test(test_a_leg_says_all),
        cmocka_unit_test(test_several_tours),
        cmocka_unit_test(test_names_are_unique),
        cmocka_unit_test(test_bold_heads),
        cmocka_unit_test(test_width),
        cmocka_unit_test(test_hostile_name),
        cmocka_unit_test(test_model_line),
        cmocka_unit_test(test_no_verdicts),
        cmocka_unit_test(test_numbers_in_words),
        cmocka_unit_test(test_names_of_any_letters),
        cmocka_unit_test(test_the_zone_that_speaks),
        cmocka_unit_test(test_waits),
        cmocka_unit_test(test_below),
        cmocka_unit_test(test_own_line),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
