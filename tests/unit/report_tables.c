/* legs.csv, points.csv, above.csv and zones.csv, read back by a reader of RFC
 * 4180 (sections 2.5 to 2.7: quoted fields, doubled quotes). */
#include "report_tour.h"

enum { FIELDS_MAX = 60, ROWS_MAX = 60 };

typedef struct sheet {
    char *cell[ROWS_MAX][FIELDS_MAX];
    int fields[ROWS_MAX];
    int rows;
    char *data;
} sheet;

/* Takes `text` over and cuts it up in place. */
static void parse(char *text, sheet *s)
{
    memset(s, 0, sizeof *s);
    s->data = text;
    char *read = text, *write = text;
    while (*read) {
        assert_true(s->rows < ROWS_MAX && s->fields[s->rows] < FIELDS_MAX);
        s->cell[s->rows][s->fields[s->rows]++] = write;
        bool quoted = *read == '"';
        read += quoted;
        while (quoted ? read[0] != '"' || read[1] == '"' : *read != ',' && *read != '\n') {
            assert_true(*read != '\0' && (quoted || *read != '"'));
            read += quoted && *read == '"';
            *write++ = *read++;
        }
        read += quoted;
        char end = *read++;
        assert_true(end == ',' || end == '\n');
        *write++ = '\0';
        s->rows += end == '\n';
    }
}

static const char *at(const sheet *s, int row, const char *column)
{
    for (int i = 0; i < s->fields[0]; i++)
        if (strcmp(s->cell[0][i], column) == 0)
            return s->cell[row][i];
    fail_msg("no column %s", column);
    return NULL;
}

static void read_back(void (*write)(const brant_report *, brant_text *),
                      const brant_report *report, const char *header, sheet *s)
{
    brant_text out = {0};
    write(report, &out);
    assert_false(out.failed);
    assert_null(strchr(out.data, '\r'));
    assert_memory_equal(out.data, header, strlen(header));
    assert_int_equal(out.data[strlen(header)], '\n');
    parse(out.data, s);
    for (int i = 1; i < s->rows; i++)
        assert_int_equal(s->fields[i], s->fields[0]);
}

/* The project's contract for the columns. */
static const char legs_header[] =
    "route,leg,kind,from_m,to_m,length_m,steepest_deg,steepest_error_deg,aspect_deg,aspect,low_m,"
    "high_m,zone,zones_above,area_above_m2,reached_at_deg,head_m,unknown_above,governing_zone,"
    "governing_face_m2,governing_mean_deg,governing_steepest_deg,governing_aspect,governing_low_m,"
    "governing_high_m,level,problems,limit_deg,over_limit_m,arrive,arrive_late,sun_from,below,"
    "from_lon,from_lat,to_lon,to_lat,in_gully,above_legs,limit_ground,limit,limit_steepest_deg,leave,"
    "leave_late,sun_minutes,sun_unknown,shelter_deg,sheltered";
static const char points_header[] =
    "route,point,along_m,lon,lat,elevation_m,slope_deg,aspect_deg,kind,zone,reached_at_deg,head_m,"
    "level";
static const char above_header[] =
    "route,leg,zone,on,edge,reached_at_deg,head_m,area_m2,face_m2,mean_deg,steepest_deg,"
    "aspect_deg,aspect,low_m,high_m,flags,remote,level,shelter_deg";

typedef struct scene {
    made m;
    brant_zone big, small;
} scene;

static void make_scene(scene *s, const char *name)
{
    s->big = made_zone(4000000000u, 140000, 41, 359.97, 2000, 2360);
    s->big.flags = BRANT_ZONE_CUT | BRANT_ZONE_TRUNCATED | BRANT_ZONE_AT_VOID;
    s->small = made_zone(12, 390.6, 36.25, 270, -12.34, 1830);
    s->small.flags = BRANT_ZONE_SMALL;
    made_begin(&s->m, name);
    brant_leg *leg = made_leg(&s->m, BRANT_KIND_CROSSES, 333.33);
    leg->zone = 12;
    leg->is |= BRANT_UNKNOWN_ABOVE;
    leg->aspect_deg = 359.96f;
    made_above(&s->m, &s->small, 90, NAN, true, false);
    made_above(&s->m, &s->big, 33.26, 80.04, false, false);
    made_leg(&s->m, BRANT_KIND_EDGE, 500);
    made_above(&s->m, &s->small, 0, NAN, false, true);
    made_above(&s->m, &s->big, 21, -8, false, false); /* flatter than the reach angle */
    made_leg(&s->m, BRANT_KIND_UNKNOWN, 600);
    made_void(&s->m, true);
    made_leg(&s->m, BRANT_KIND_NONE_FOUND, 900);
    s->m.facts[1].zone = 12;
    s->m.facts[1].reached_at_deg = 33.26f;
    s->m.facts[1].is |= BRANT_IS(BRANT_KIND_UNDER);
    s->m.facts[1].head_m = 80.04f;
    s->m.facts[5].reached_at_deg = 21;
    s->m.samples[0].lon = -179.99999996;
    s->m.samples[0].lat = -0.00000001;
}

static void test_legs(void **state)
{
    (void)state;
    static scene s;
    static sheet csv;
    make_scene(&s, "Tallis");
    brant_report report = made_report(&s.m.tour, 1);
    read_back(brant_report_legs_csv, &report, legs_header, &csv);
    assert_int_equal(csv.rows, 5);
    assert_string_equal(at(&csv, 1, "route"), "Tallis");
    assert_string_equal(at(&csv, 1, "leg"), "1");
    assert_string_equal(at(&csv, 1, "kind"), "crosses");
    assert_string_equal(at(&csv, 1, "to_m"), "333.3");
    assert_string_equal(at(&csv, 2, "length_m"), "166.7");
    assert_string_equal(at(&csv, 1, "steepest_deg"), "20.0");
    assert_string_equal(at(&csv, 1, "aspect_deg"), "0.0"); /* 359.96 is north, not 360.0 */
    assert_string_equal(at(&csv, 1, "aspect"), "N");
    assert_string_equal(at(&csv, 1, "zone"), "12");
    assert_string_equal(at(&csv, 1, "zones_above"), "1");
    assert_string_equal(at(&csv, 1, "area_above_m2"), "70000");
    assert_string_equal(at(&csv, 1, "reached_at_deg"), "33.2");
    assert_string_equal(at(&csv, 1, "head_m"), "80.0");
    assert_string_equal(at(&csv, 1, "unknown_above"), "1");
    assert_string_equal(at(&csv, 1, "governing_zone"), "4000000000");
    assert_string_equal(at(&csv, 1, "governing_face_m2"), "140000");
    assert_string_equal(at(&csv, 1, "governing_mean_deg"), "37.0");
    assert_string_equal(at(&csv, 1, "governing_steepest_deg"), "41.0");
    assert_string_equal(at(&csv, 1, "governing_aspect"), "N");
    assert_string_equal(at(&csv, 1, "governing_low_m"), "2000.0");
    assert_string_equal(at(&csv, 1, "governing_high_m"), "2360.0");
    assert_string_equal(at(&csv, 1, "to_lon"), "10.0033333");
    assert_string_equal(at(&csv, 2, "unknown_above"), "0");
    assert_string_equal(at(&csv, 2, "reached_at_deg"), "21.0");
    assert_string_equal(at(&csv, 2, "head_m"), "");
    assert_string_equal(at(&csv, 4, "kind"), "none-found");
    assert_string_equal(at(&csv, 4, "zones_above"), "0");
    assert_string_equal(at(&csv, 4, "governing_zone"), "");
    static const char *const later[] = {"steepest_error_deg", "level", "problems", "limit_deg",
                                        "over_limit_m", "arrive", "arrive_late", "sun_from",
                                        "below"};
    for (int row = 1; row < 5; row++)
        for (size_t i = 0; i < sizeof later / sizeof later[0]; i++)
            assert_string_equal(at(&csv, row, later[i]), "");
    free(csv.data);
}

/* Unknown ground has no slope, no height and no count of what is above: empty,
 * never 0; and what is above it is not known. */
static void test_unknown_leg(void **state)
{
    (void)state;
    static scene s;
    static sheet csv;
    make_scene(&s, "Tallis");
    brant_report report = made_report(&s.m.tour, 1);
    read_back(brant_report_legs_csv, &report, legs_header, &csv);
    static const char *const empty[] = {"steepest_deg", "aspect_deg", "aspect", "low_m", "high_m",
                                        "zone", "zones_above", "area_above_m2", "reached_at_deg",
                                        "head_m"};
    assert_string_equal(at(&csv, 3, "kind"), "unknown");
    for (size_t i = 0; i < sizeof empty / sizeof empty[0]; i++)
        assert_string_equal(at(&csv, 3, empty[i]), "");
    assert_string_equal(at(&csv, 3, "unknown_above"), "1");
    free(csv.data);
}

static void test_points(void **state)
{
    (void)state;
    static scene s;
    static sheet csv;
    make_scene(&s, "Tallis");
    brant_report report = made_report(&s.m.tour, 1);
    read_back(brant_report_points_csv, &report, points_header, &csv);
    assert_int_equal(csv.rows, 1 + 4 * MADE_SAMPLES);
    assert_string_equal(at(&csv, 1, "point"), "1");
    assert_string_equal(at(&csv, 1, "lon"), "-180.0000000");
    assert_string_equal(at(&csv, 1, "lat"), "0.0000000");
    assert_string_equal(at(&csv, 1, "along_m"), "41.7");
    assert_string_equal(at(&csv, 1, "elevation_m"), "1004.2");
    assert_string_equal(at(&csv, 1, "zone"), "");
    assert_string_equal(at(&csv, 1, "reached_at_deg"), "");
    assert_string_equal(at(&csv, 1, "level"), "");
    assert_string_equal(at(&csv, 2, "zone"), "12");
    assert_string_equal(at(&csv, 2, "reached_at_deg"), "33.2");
    assert_string_equal(at(&csv, 2, "head_m"), "80.0");
    assert_string_equal(at(&csv, 6, "kind"), "edge");
    assert_string_equal(at(&csv, 6, "reached_at_deg"), "21.0");
    assert_string_equal(at(&csv, 6, "head_m"), "");
    assert_string_equal(at(&csv, 9, "kind"), "unknown");
    assert_string_equal(at(&csv, 9, "slope_deg"), "");
    assert_string_equal(at(&csv, 9, "elevation_m"), "");
    free(csv.data);
}

static void test_above(void **state)
{
    (void)state;
    static scene s;
    static sheet csv;
    make_scene(&s, "Tallis");
    brant_report report = made_report(&s.m.tour, 1);
    read_back(brant_report_above_csv, &report, above_header, &csv);
    assert_int_equal(csv.rows, 5);
    assert_string_equal(at(&csv, 1, "on"), "1");
    assert_string_equal(at(&csv, 1, "reached_at_deg"), "90.0");
    assert_string_equal(at(&csv, 1, "head_m"), "");
    assert_string_equal(at(&csv, 1, "area_m2"), "195");
    assert_string_equal(at(&csv, 1, "face_m2"), "391");
    assert_string_equal(at(&csv, 1, "low_m"), "-12.3");
    assert_string_equal(at(&csv, 1, "flags"), "small");
    assert_string_equal(at(&csv, 1, "remote"), "0");
    assert_string_equal(at(&csv, 2, "zone"), "4000000000");
    assert_string_equal(at(&csv, 2, "aspect_deg"), "0.0");
    assert_string_equal(at(&csv, 2, "low_m"), "2000.0");
    assert_string_equal(at(&csv, 2, "high_m"), "2360.0");
    assert_string_equal(at(&csv, 2, "head_m"), "80.0");
    assert_string_equal(at(&csv, 2, "flags"), "cut truncated at-void");
    assert_string_equal(at(&csv, 3, "leg"), "2");
    assert_string_equal(at(&csv, 3, "edge"), "1");
    assert_string_equal(at(&csv, 3, "reached_at_deg"), "");
    assert_string_equal(at(&csv, 4, "reached_at_deg"), "21.0");
    assert_string_equal(at(&csv, 4, "head_m"), "");
    free(csv.data);
}

static void test_awkward_names(void **state)
{
    (void)state;
    static const char *const names[] = {
        "quote \" and, comma", "two\nlines", "K\xC3\xA4sgrat", "", " blanks ", "'=1+1",
    };
    enum { COUNT = sizeof names / sizeof names[0] };
    static scene s[COUNT];
    static sheet csv;
    brant_tour tours[COUNT];
    for (int i = 0; i < COUNT; i++) {
        make_scene(&s[i], names[i]);
        tours[i] = s[i].m.tour;
    }
    brant_report report = made_report(tours, COUNT);
    read_back(brant_report_legs_csv, &report, legs_header, &csv);
    assert_int_equal(csv.rows, 1 + 4 * COUNT);
    for (int i = 0; i < COUNT; i++)
        assert_string_equal(at(&csv, 1 + 4 * i, "route"), names[i]);
    free(csv.data);
}

/* A name that the file repeats is told apart, and from names that look so. */
static void test_repeated_names(void **state)
{
    (void)state;
    static const char *const names[] = {"a", "a", "a (2)", "a", "a (2)"};
    static const char *const routes[] = {"a", "a (3)", "a (2)", "a (4)", "a (2) (2)"};
    static scene s[5];
    static sheet csv;
    brant_tour tours[5];
    for (int i = 0; i < 5; i++) {
        make_scene(&s[i], names[i]);
        tours[i] = s[i].m.tour;
    }
    brant_report report = made_report(tours, 5);
    read_back(brant_report_legs_csv, &report, legs_header, &csv);
    for (int i = 0; i < 5; i++)
        assert_string_equal(at(&csv, 1 + 4 * i, "route"), routes[i]);
    free(csv.data);
}

static void test_zones(void **state)
{
    (void)state;
    static scene s;
    brant_text out = {0};
    make_scene(&s, "Tallis");
    brant_zone_csv_header(&out);
    s.small.reach_angle_deg = 22;
    brant_zone_csv_row(&s.big, 10.123456789, -46.5, &out);
    brant_zone_csv_row(&s.small, 179.99999999, 46.5, &out);
    assert_string_equal(out.data,
                        "number,area_m2,mean_deg,steepest_deg,aspect_deg,aspect,low_m,high_m,"
                        "high_lon,high_lat,above45_share,flags,reach_angle\n"
                        "4000000000,70000,37.0,41.0,0.0,N,2000.0,2360.0,10.1234568,-46.5000000,"
                        "0.250,cut truncated at-void,\n"
                        "12,195,32.3,36.3,270.0,W,-12.3,1830.0,180.0000000,46.5000000,0.250,"
                        "small,22.000\n");
    brant_text_clear(&out);
}

/* The layer's values are the row's. */
static void test_zone_values(void **state)
{
    (void)state;
    static scene s;
    char flags[BRANT_FLAGS_MAX];
    brant_value values[FIELDS_MAX];
    make_scene(&s, "Tallis");
    assert_int_equal(brant_zone_column_count, 13);
    assert_string_equal(brant_zone_columns[11].name, "flags");
    brant_zone_values(&s.big, 10.5, 46.5, flags, values);
    assert_true(values[0].number == 4000000000.0);
    assert_true(values[1].number == 70000);
    assert_string_equal(values[5].text, "N");
    assert_string_equal(values[11].text, "cut truncated at-void");
    s.big.flags = 0;
    s.big.aspect_deg = NAN;
    brant_zone_values(&s.big, 10.5, 46.5, flags, values);
    assert_null(values[5].text);
    assert_true(isnan(values[4].number));
    assert_null(values[11].text);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(test_legs),           cmocka_unit_test(test_unknown_leg),
        cmocka_unit_test(test_points),         cmocka_unit_test(test_above),
        cmocka_unit_test(test_awkward_names),  cmocka_unit_test(test_repeated_names),
        cmocka_unit_test(test_zones),          cmocka_unit_test(test_zone_values),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
