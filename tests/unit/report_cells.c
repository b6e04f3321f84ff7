/* What the sheet's cells say of a leg. The words are the project's own; what must stand in
 * them is what legs.csv says (brant-route(1)). */
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>

#include <cmocka.h>

#include "../../src/report/sheet_cells.h"

#include <math.h>
#include <string.h>

#define COUNT(a) (sizeof(a) / sizeof((a)[0]))

/* A leg of which nothing but its kind and place is known. */
static brant_read_leg bare(brant_kind kind)
{
    return (brant_read_leg){
        .number = 3, .kind = kind, .from_m = 6100, .to_m = 6550, .steepest_deg = NAN,
        .low_m = NAN, .high_m = NAN, .zones_above = 0, .area_above_m2 = NAN,
        .reached_at_deg = NAN, .unknown_above_m = 0, .governing_zone = NAN,
        .governing_face_m2 = NAN, .governing_steepest_deg = NAN, .governing_low_m = NAN,
        .governing_high_m = NAN, .limit_deg = NAN, .over_limit_m = NAN,
        .limit_steepest_deg = NAN, .sun_minutes = NAN, .sheltered = NAN, .in_gully = NAN};
}

/* The cell's words, a FIRM blank as a blank. */
static void says(brant_cell cell, const brant_read_leg *leg, const char *expected)
{
    static brant_read_plan plan;
    brant_sheet s;
    brant_text text = {0};
    memset(&s, 0, sizeof s);
    s.plan = &plan;
    cell(&s, leg, &text);
    assert_false(text.failed);
    for (size_t i = 0; i < text.length; i++)
        if (text.data[i] == *FIRM)
            text.data[i] = ' ';
    assert_string_equal(text.data ? text.data : "", expected);
    brant_text_clear(&text);
}

static void test_level_and_limit(void **state)
{
    (void)state;
    static const struct {
        const char *level, *problems, *limit, *ground;
        double limit_deg, steepest_deg;
        const char *says, *in_short;
    } cases[] = {
        {NULL, NULL, NULL, NULL, NAN, NAN, "", ""},
        {"3", "persistent weak layer;gliding snow;wind slab", "over", "whole slope", 35, 38.2,
         "3 weak layer, gliding, wind slab\nOVER 35\u00B0 (slope 38\u00B0)", "3, OVER 35\u00B0"},
        {"4", NULL, "over", "whole catchment", 30, 41, "4\nOVER 30\u00B0 (catchment 41\u00B0)",
         "4, OVER 30\u00B0"},
        {"2", "wet snow", "over", "within 20 m of the track", 40, 44,
         "2 wet\nOVER 40\u00B0 (track 44\u00B0)", "2, OVER 40\u00B0"},
        {"2", NULL, "not over", "within 20 m of the track", 40, 33, "2\nnot over 40\u00B0",
         "2, not over 40\u00B0"},
        {"3", NULL, "not known", "whole slope", 35, NAN, "3\nnot known if over 35\u00B0",
         "3, not known if over 35\u00B0"},
        {"3", NULL, "fine", "whole slope", 35, 20, "3\nnot known if over 35\u00B0",
         "3, not known if over 35\u00B0"},
        {"not stated", NULL, "not judged", NULL, NAN, NAN, "not stated\nlimit not judged",
         "not stated, not judged"},
        {"5", NULL, "not judged", NULL, NAN, NAN, "5\nlimit not judged", "5, not judged"},
        {"3", "wet snow", NULL, NULL, NAN, NAN, "3 wet\nlimit not applied (no dry slab named)",
         "3, limit not applied"},
        {"1", NULL, NULL, NULL, NAN, NAN, "1", "1"},
        {"no snow", NULL, NULL, NULL, NAN, NAN, "no snow", "no snow"},
    };
    for (size_t i = 0; i < COUNT(cases); i++) {
        brant_read_leg leg = bare(BRANT_KIND_CROSSES);
        leg.level = cases[i].level;
        leg.problems = cases[i].problems;
        leg.limit = cases[i].limit;
        leg.limit_ground = cases[i].ground;
        leg.limit_deg = cases[i].limit_deg;
        leg.limit_steepest_deg = cases[i].steepest_deg;
        says(brant_cell_level, &leg, cases[i].says);
        says(brant_cell_level_short, &leg, cases[i].in_short);
    }
    brant_read_leg leg = bare(BRANT_KIND_CROSSES);
    leg.level = "2";
    leg.level_lowered = true;
    leg.limit = "not over";
    leg.limit_deg = 40;
    says(brant_cell_level, &leg, "2 (one lower, not stated)\nnot over 40\u00B0");
}

/* What lies below is told though it is not known whether the leg itself is in a gully. */
static void test_below(void **state)
{
    (void)state;
    static const struct {
        brant_kind kind;
        const char *below;
        double in_gully;
        const char *says;
    } cases[] = {
        {BRANT_KIND_CROSSES, NULL, 0, "nothing found"},
        {BRANT_KIND_CROSSES, "cliff 30 m", 0, "cliff 30 m"},
        {BRANT_KIND_CROSSES, "gully 70 m then cliff 220 m", 0, "gully 70 m, cliff 220 m"},
        {BRANT_KIND_CROSSES, "gully then cliff 30 m", 1, "in a gully, cliff 30 m"},
        {BRANT_KIND_UNDER, "gully", 1, "in a gully"},
        {BRANT_KIND_UNDER, "flat 40 m", 1, "in a gully; flat 40 m"},
        {BRANT_KIND_UNDER, NULL, 1, "in a gully"},
        {BRANT_KIND_CROSSES, "cliff 30 m", NAN, "cliff 30 m"},
        {BRANT_KIND_UNDER, "unknown then gully 80 m", NAN, "unknown, gully 80 m"},
        {BRANT_KIND_UNKNOWN, "unknown then cliff 90 m", NAN, "unknown, cliff 90 m"},
        {BRANT_KIND_UNKNOWN, "unknown", NAN, "not known"},
        {BRANT_KIND_UNKNOWN, NULL, NAN, "not known"},
        {BRANT_KIND_EDGE, NULL, NAN, "not known"},
        {BRANT_KIND_REMOTE, NULL, NAN, ""},     /* not sought */
        {BRANT_KIND_NONE_FOUND, NULL, NAN, ""},
    };
    for (size_t i = 0; i < COUNT(cases); i++) {
        brant_read_leg leg = bare(cases[i].kind);
        leg.below = cases[i].below;
        leg.in_gully = cases[i].in_gully;
        says(brant_cell_below, &leg, cases[i].says);
    }
}

static void test_above(void **state)
{
    (void)state;
    brant_read_leg leg = bare(BRANT_KIND_UNDER);
    says(brant_cell_above, &leg, "");
    leg.governing_zone = 9;
    leg.governing_steepest_deg = 41.04;
    leg.governing_aspect = "N";
    leg.governing_face_m2 = 140000;
    says(brant_cell_above, &leg, "41\u00B0 N, face 14 ha");
    leg.governing_low_m = 2000;
    leg.governing_high_m = 2360;
    leg.zones_above = 1;
    leg.area_above_m2 = 70000;
    leg.reached_at_deg = 33.96; /* is not reached at 34 */
    says(brant_cell_above, &leg,
         "41\u00B0 N, 2,000-2,360 m, face 14 ha; 1 zone above, 7 ha, at 33\u00B0");
    leg.zones_above = 2;
    leg.unknown_above_m = 120;
    leg.above_legs = "15;19;20;21;Second party 3.20-3.65 km";
    says(brant_cell_above, &leg,
         "41\u00B0 N, 2,000-2,360 m, face 14 ha; 2 zones above, 7 ha, at 33\u00B0; unknown above for "
         "120 m; line above: 15, 19-21, Second party 3.20-3.65 km");
    says(brant_cell_above_short, &leg,
         "41\u00B0 N, face 14 ha; 2 zones above, 7 ha, at 33\u00B0; unknown above for 120 m");
    leg = bare(BRANT_KIND_UNKNOWN);
    leg.unknown_above_m = 450;
    says(brant_cell_above, &leg, "UNKNOWN: ground not known");
    leg.unknown_because = "hole in the model";
    leg.governing_zone = 9;
    leg.governing_steepest_deg = 41;
    leg.governing_face_m2 = 140000;
    says(brant_cell_above, &leg, "UNKNOWN: hole in the model; 41\u00B0, face 14 ha");
}

static void test_ground_sun_and_wind(void **state)
{
    (void)state;
    brant_read_leg leg = bare(BRANT_KIND_NONE_FOUND);
    says(brant_cell_kind, &leg, "none found");
    says(brant_cell_km, &leg, "6.10-6.55");
    says(brant_cell_ground, &leg, "height not known\nslope not known");
    says(brant_cell_sun, &leg, "");
    says(brant_cell_wind, &leg, ""); /* no slope to be sheltered */
    leg.low_m = 1610;
    leg.high_m = 1655;
    leg.steepest_deg = 38.3;
    leg.aspect = "NE";
    says(brant_cell_ground_line, &leg, "1,610-1,655 m, 38\u00B0 NE");
    leg.governing_zone = 9;
    says(brant_cell_wind, &leg, "not known");
    leg.sheltered = 0;
    says(brant_cell_wind, &leg, "not sheltered");
    leg.sheltered = 1;
    says(brant_cell_wind, &leg, "sheltered");
    leg.sun_minutes = 0;
    says(brant_cell_sun, &leg, "after you");
    assert_true(brant_time_parse("2027-02-13T08:20+01:00", &leg.sun_from));
    says(brant_cell_sun, &leg, "08:20");
    leg.sun_unknown = 1;
    says(brant_cell_sun, &leg, "08:20\n(?)");
    assert_true(brant_time_parse("2027-02-13T09:05+01:00", &leg.sun_certain_from));
    says(brant_cell_sun, &leg, "08:20\n(09:05)");
    leg.arrive = leg.sun_from;
    leg.arrive_late = leg.sun_certain_from;
    says(brant_cell_place, &leg, "6.10-6.55\n08:20-09:05");
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(test_level_and_limit),
        cmocka_unit_test(test_below),
        cmocka_unit_test(test_above),
        cmocka_unit_test(test_ground_sun_and_wind),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
