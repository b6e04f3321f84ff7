/* Columns and rows of the tables, and their CSV. Zone numbers are those of the
 * zone raster, so that rows join with it; only the summary leaves them out. */
#include "table.h"

#include "day_words.h"

#include <math.h>
#include <string.h>

/* X(name, type, decimals): metres, degrees 1; areas 0; positions 7 (1 cm). */
#define LEG_COLUMNS(X)                                                                             \
    X(route, TEXT, 0) X(leg, INTEGER, 0) X(kind, TEXT, 0) X(from_m, REAL, 1) X(to_m, REAL, 1)      \
    X(length_m, REAL, 1) X(steepest_deg, REAL, 1) X(steepest_error_deg, REAL, 1)                   \
    X(aspect_deg, REAL, 1) X(aspect, TEXT, 0) X(low_m, REAL, 1) X(high_m, REAL, 1)                 \
    X(zone, INTEGER, 0) X(zones_above, INTEGER, 0) X(area_above_m2, REAL, 0)                       \
    X(reached_at_deg, REAL, 1) X(head_m, REAL, 1) X(unknown_above, INTEGER, 0)                     \
    X(governing_zone, INTEGER, 0) X(governing_face_m2, REAL, 0) X(governing_mean_deg, REAL, 1)     \
    X(governing_steepest_deg, REAL, 1) X(governing_aspect, TEXT, 0) X(governing_low_m, REAL, 1)    \
    X(governing_high_m, REAL, 1) X(level, TEXT, 0) X(problems, TEXT, 0) X(limit_deg, REAL, 1)      \
    X(over_limit_m, REAL, 1) X(arrive, TEXT, 0) X(arrive_late, TEXT, 0) X(sun_from, TEXT, 0)       \
    X(below, TEXT, 0) X(from_lon, REAL, 7) X(from_lat, REAL, 7) X(to_lon, REAL, 7)                 \
    X(to_lat, REAL, 7) X(in_gully, INTEGER, 0) X(above_legs, TEXT, 0)                         \
    X(limit_ground, TEXT, 0) X(limit, TEXT, 0) X(limit_steepest_deg, REAL, 1)                      \
    X(leave, TEXT, 0) X(leave_late, TEXT, 0)    \
    X(sun_minutes, REAL, 0) X(sun_unknown, INTEGER, 0) X(shelter_deg, REAL, 1)                     \
    X(sheltered, INTEGER, 0)

#define POINT_COLUMNS(X)                                                                           \
    X(route, TEXT, 0) X(point, INTEGER, 0) X(along_m, REAL, 1) X(lon, REAL, 7) X(lat, REAL, 7)     \
    X(elevation_m, REAL, 1) X(slope_deg, REAL, 1) X(aspect_deg, REAL, 1) X(kind, TEXT, 0)          \
    X(zone, INTEGER, 0) X(reached_at_deg, REAL, 1) X(head_m, REAL, 1) X(level, TEXT, 0)

#define ABOVE_COLUMNS(X)                                                                           \
    X(route, TEXT, 0) X(leg, INTEGER, 0) X(zone, INTEGER, 0) X(on, INTEGER, 0)                     \
    X(edge, INTEGER, 0) X(reached_at_deg, REAL, 1) X(head_m, REAL, 1) X(area_m2, REAL, 0)          \
    X(face_m2, REAL, 0) X(mean_deg, REAL, 1) X(steepest_deg, REAL, 1) X(aspect_deg, REAL, 1)       \
    X(aspect, TEXT, 0) X(low_m, REAL, 1) X(high_m, REAL, 1) X(flags, TEXT, 0) \
    X(remote, INTEGER, 0) X(level, TEXT, 0) X(shelter_deg, REAL, 1)

#define WAIT_COLUMNS(X)                                                                            \
    X(route, TEXT, 0) X(wait, INTEGER, 0) X(along_m, REAL, 1) X(lon, REAL, 7) X(lat, REAL, 7)      \
    X(elevation_m, REAL, 1) X(next_m, REAL, 1) X(exposed_m, REAL, 1) X(leave_by, TEXT, 0)

#define ZONE_COLUMNS(X)                                                                            \
    X(number, INTEGER, 0) X(area_m2, REAL, 0) X(mean_deg, REAL, 1) X(steepest_deg, REAL, 1)        \
    X(aspect_deg, REAL, 1) X(aspect, TEXT, 0) X(low_m, REAL, 1) X(high_m, REAL, 1)                 \
    X(high_lon, REAL, 7) X(high_lat, REAL, 7) X(above45_share, REAL, 3) X(flags, TEXT, 0)  \
    X(reach_angle, REAL, 3)

#define AS_COLUMN(name, type, decimals) {#name, BRANT_FIELD_##type},
#define AS_DECIMALS(name, type, decimals) decimals,
#define AS_LEG(name, type, decimals) LEG_##name,
#define AS_POINT(name, type, decimals) POINT_##name,
#define AS_ABOVE(name, type, decimals) ABOVE_##name,
#define AS_WAIT(name, type, decimals) WAIT_##name,
#define AS_ZONE(name, type, decimals) ZONE_##name,

enum { LEG_COLUMNS(AS_LEG) LEG_COUNT };
enum { POINT_COLUMNS(AS_POINT) POINT_COUNT };
enum { ABOVE_COLUMNS(AS_ABOVE) ABOVE_COUNT };
enum { WAIT_COLUMNS(AS_WAIT) WAIT_COUNT };
enum { ZONE_COLUMNS(AS_ZONE) ZONE_COUNT };

const brant_column brant_file_leg_columns[] = {{"file", BRANT_FIELD_TEXT},
                                               LEG_COLUMNS(AS_COLUMN)};
static const brant_column point_columns[] = {POINT_COLUMNS(AS_COLUMN)};
static const brant_column above_columns[] = {ABOVE_COLUMNS(AS_COLUMN)};
static const brant_column wait_columns[] = {WAIT_COLUMNS(AS_COLUMN)};
const brant_column brant_zone_columns[] = {ZONE_COLUMNS(AS_COLUMN)};
const int brant_zone_column_count = ZONE_COUNT;

static const signed char leg_decimals[] = {LEG_COLUMNS(AS_DECIMALS)};
static const signed char point_decimals[] = {POINT_COLUMNS(AS_DECIMALS)};
static const signed char above_decimals[] = {ABOVE_COLUMNS(AS_DECIMALS)};
static const signed char wait_decimals[] = {WAIT_COLUMNS(AS_DECIMALS)};
static const signed char zone_decimals[] = {ZONE_COLUMNS(AS_DECIMALS)};

const brant_table brant_leg_table = {brant_file_leg_columns + 1, leg_decimals, LEG_COUNT};
const brant_table brant_point_table = {point_columns, point_decimals, POINT_COUNT};
const brant_table brant_above_table = {above_columns, above_decimals, ABOVE_COUNT};
const brant_table brant_wait_table = {wait_columns, wait_decimals, WAIT_COUNT};
const brant_table brant_zone_table = {brant_zone_columns, zone_decimals, ZONE_COUNT};

_Static_assert((int)LEG_COUNT <= BRANT_TABLE_MAX, "a row of legs has no room");

/* ---- values ------------------------------------------------------------- */

double brant_round(double value, int decimals)
{
    static const double scale[] = {1, 1e1, 1e2, 1e3, 1e4, 1e5, 1e6, 1e7};
    double rounded = round(value * scale[decimals]) / scale[decimals];
    return rounded == 0 ? 0 : rounded; /* no -0 */
}

/* All empty, and after filling all rounded: an azimuth of 359.96 is north. */
static void clear_values(const brant_table *table, brant_value *values)
{
    for (int i = 0; i < table->count; i++)
        values[i] = (brant_value){NULL, NAN};
}

static void round_values(const brant_table *table, brant_value *values)
{
    for (int i = 0; i < table->count; i++) {
        double *number = &values[i].number;
        if (isnan(*number))
            continue;
        *number = brant_round(*number, table->decimals[i]);
        if (strcmp(table->columns[i].name, "aspect_deg") == 0 && *number >= 360)
            *number = 0;
    }
}

static const char *octant_or_null(float aspect_deg)
{
    const char *name = brant_octant_name(brant_octant(aspect_deg));
    return *name ? name : NULL;
}

static double number_or_nan(uint32_t number)
{
    return number ? (double)number : (double)NAN;
}

/* "small cut truncated at-void", "" for none. */
static void flags_text(uint32_t flags, char text[BRANT_FLAGS_MAX])
{
    static const struct {
        uint32_t flag;
        const char *name;
    } names[] = {
        {BRANT_ZONE_SMALL, "small"},
        {BRANT_ZONE_CUT, "cut"},
        {BRANT_ZONE_TRUNCATED, "truncated"},
        {BRANT_ZONE_AT_VOID, "at-void"},
    };
    text[0] = '\0';
    for (size_t i = 0; i < sizeof names / sizeof names[0]; i++) {
        if (flags & names[i].flag) {
            strcat(text, text[0] ? " " : "");
            strcat(text, names[i].name);
        }
    }
}

/* What reaches a place. 0 stands for 'not reached' in the structures and is
 * left empty here; the head is that at the reach angle, and so is empty where
 * the place is reached at flatter angles alone (not `under`). */
static void reach_values(bool under, double reached_at_deg, double head_m, brant_value *reached,
                         brant_value *head)
{
    if (!(reached_at_deg > 0))
        return;
    /* down: 24.96 is not reached at 25; but a float a hair below 33.3 is 33.3 */
    reached->number = floor(reached_at_deg * 10.0 + 1e-4) / 10.0;
    if (under)
        head->number = head_m;
}

static void governing_values(const brant_zone *zone, brant_value *values)
{
    values[LEG_governing_zone].number = zone->number;
    values[LEG_governing_face_m2].number = zone->face_m2;
    values[LEG_governing_mean_deg].number = zone->mean_deg;
    values[LEG_governing_steepest_deg].number = zone->steepest_deg;
    values[LEG_governing_aspect].text = octant_or_null(zone->aspect_deg);
    values[LEG_governing_low_m].number = zone->low_m;
    values[LEG_governing_high_m].number = zone->high_m;
}

/* Nothing found above an unknown leg is not 'none': it stays empty. And what is
 * above ground that is not known is not known either. */
static void above_leg_values(const brant_leg *leg, brant_value *values)
{
    bool unknown = leg->kind == BRANT_KIND_UNKNOWN;
    if (!unknown || leg->zones_above > 0) {
        values[LEG_zones_above].number = leg->zones_above;
        values[LEG_area_above_m2].number = leg->area_above_m2;
    }
    values[LEG_unknown_above].number = unknown || (leg->is & BRANT_UNKNOWN_ABOVE);
}

/* "4;6;Second party 3.20-3.65 km": what is above the leg. */
static void above_legs_value(const brant_report *report, const brant_tour *tour,
                             const brant_leg *leg, brant_text *text, brant_value *value)
{
    text->length = 0;
    for (size_t i = 0; i < tour->over_count; i++) {
        const brant_over *over = &tour->overs[i];
        if (over->lower_tour != BRANT_OWN || over->lower != leg->number)
            continue;
        brant_text_add(text, "%s", text->length > 0 ? ";" : "");
        brant_words_over(report, over->upper_tour, over->upper, text);
    }
    for (size_t i = 0; i < text->length; i++)
        if (text->data[i] == *FIRM)
            text->data[i] = ' ';
    if (text->length > 0 && !text->failed)
        value->text = text->data;
}

/* ---- the day of a leg --------------------------------------------------- */

static const char *level_text(brant_level level)
{
    const char *text = brant_level_text(level);
    return *text ? text : NULL;
}

/* The kinds of problem, joined by "; ". Every kind's name fits, each once. */
static const char *problems_text(const brant_report *report, const brant_leg *leg, char text[256])
{
    const brant_bulletin *bulletin = brant_words_bulletin(report);
    unsigned kinds = bulletin ? brant_problem_kinds(bulletin, leg->problems) : 0;
    text[0] = '\0';
    for (int kind = 0; kind < BRANT_PROBLEM_KINDS; kind++) {
        if (kinds & BRANT_KIND_BIT(kind)) {
            strcat(text, text[0] ? "; " : "");
            strcat(text, brant_problem_kind_text((brant_problem_kind)kind));
        }
    }
    return text[0] ? text : NULL;
}

static double start_s(const brant_report *report)
{
    return brant_words_has_hours(report) ? (double)report->day->start.utc_s : (double)NAN;
}

static bool has_wind(const brant_report *report)
{
    return report->day && report->day->wind;
}

/* "2027-02-13T07:30:00+01:00", `seconds` after the start; NULL where not known. */
static const char *time_text(const brant_report *report, double seconds,
                             char text[BRANT_TIME_MAX])
{
    if (!brant_words_has_hours(report) || isnan(seconds))
        return NULL;
    brant_time moment = brant_words_moment(report, seconds);
    brant_iso_time(text, &moment);
    return text;
}

/* How the leg stands to the limit; NULL where there is none. */
static const char *limit_text(const brant_limit *limit)
{
    if (limit->first)
        return "not judged";
    if (isnan(limit->limit_deg))
        return NULL;
    return limit->over ? "over" : limit->unknown ? "not known" : "not over";
}

static void day_values(const brant_report *report, const brant_leg *leg, brant_leg_texts *texts,
                       brant_value *values)
{
    if (leg->level != BRANT_LEVEL_NONE) {
        const brant_limit *limit = &leg->limit;
        const char *ground = brant_limit_ground_text(limit->ground);
        values[LEG_level].text = level_text(leg->level);
        values[LEG_problems].text = problems_text(report, leg, texts->problems);
        values[LEG_limit_deg].number = limit->limit_deg;
        if (!isnan(limit->limit_deg)) {
            if (limit->over || !limit->unknown)
                values[LEG_over_limit_m].number = leg->over_limit_m;
            values[LEG_limit_ground].text = *ground ? ground : NULL;
            values[LEG_limit_steepest_deg].number = limit->steepest_deg;
        }
        values[LEG_limit].text = limit_text(limit);
    }
    values[LEG_arrive].text = time_text(report, leg->arrive_s, texts->arrive);
    values[LEG_arrive_late].text =
        time_text(report, leg->arrive_s * BRANT_LATE, texts->arrive_late);
    values[LEG_leave].text = time_text(report, leg->leave_s, texts->leave);
    values[LEG_leave_late].text = time_text(report, leg->leave_s * BRANT_LATE, texts->leave_late);
    if (leg->sun_sought) { /* the earlier of what is certain and what is possible */
        values[LEG_sun_from].text = time_text(
            report, leg->sun.possible.first - start_s(report), texts->sun_from);
        values[LEG_sun_minutes].number = leg->sun.possible.seconds / 60;
        values[LEG_sun_unknown].number = leg->sun.unknown;
    }
    if (has_wind(report) && !isnan(leg->shelter.mean_deg)) {
        values[LEG_shelter_deg].number = leg->shelter.mean_deg;
        values[LEG_sheltered].number = leg->shelter.sheltered;
    }
}

void brant_leg_values(const brant_report *report, const brant_tour *tour, const char *route,
                      const brant_leg *leg, brant_leg_texts *texts, brant_value *values)
{
    clear_values(&brant_leg_table, values);
    values[LEG_route].text = route;
    values[LEG_leg].number = leg->number;
    values[LEG_kind].text = brant_kind_name(leg->kind);
    values[LEG_from_m].number = leg->from_m;
    values[LEG_to_m].number = leg->to_m;
    values[LEG_length_m].number = leg->to_m - leg->from_m;
    values[LEG_steepest_deg].number = leg->steepest_deg;
    values[LEG_steepest_error_deg].number = leg->steepest_error_deg;
    values[LEG_aspect_deg].number = leg->aspect_deg;
    values[LEG_aspect].text = octant_or_null(leg->aspect_deg);
    values[LEG_low_m].number = leg->low_m;
    values[LEG_high_m].number = leg->high_m;
    values[LEG_zone].number = number_or_nan(leg->zone);
    above_leg_values(leg, values);
    reach_values(leg->zones_above > 0, leg->reached_at_deg, leg->head_m,
                 &values[LEG_reached_at_deg], &values[LEG_head_m]);
    if (leg->governing)
        governing_values(leg->governing, values);
    if (leg->below.sought) {
        brant_words_below(&leg->below, texts->below);
        values[LEG_below].text = texts->below[0] ? texts->below : NULL;
        values[LEG_in_gully].number =
            isnan(leg->below.gully_m) ? (double)NAN : leg->below.gully_m > 0;
    }
    above_legs_value(report, tour, leg, &texts->above, &values[LEG_above_legs]);
    day_values(report, leg, texts, values);
    values[LEG_from_lon].number = leg->from_lon;
    values[LEG_from_lat].number = leg->from_lat;
    values[LEG_to_lon].number = leg->to_lon;
    values[LEG_to_lat].number = leg->to_lat;
    round_values(&brant_leg_table, values);
}

void brant_point_values(const brant_report *report, const char *route, const brant_tour *tour,
                        size_t point, brant_value *values)
{
    const brant_sample *sample = &tour->track.samples[point];
    const brant_fact *fact = &tour->facts[point];
    (void)report;
    clear_values(&brant_point_table, values);
    values[POINT_route].text = route;
    values[POINT_point].number = (double)(point + 1);
    values[POINT_along_m].number = sample->along_m;
    values[POINT_lon].number = sample->lon;
    values[POINT_lat].number = sample->lat;
    values[POINT_elevation_m].number = fact->elevation_m;
    values[POINT_slope_deg].number = fact->slope_deg;
    values[POINT_aspect_deg].number = fact->aspect_deg;
    values[POINT_kind].text = brant_kind_name(fact->kind);
    values[POINT_zone].number = number_or_nan(fact->zone);
    reach_values(fact->is & BRANT_IS(BRANT_KIND_UNDER), fact->reached_at_deg, fact->head_m,
                 &values[POINT_reached_at_deg], &values[POINT_head_m]);
    values[POINT_level].text = level_text(fact->level);
    round_values(&brant_point_table, values);
}

void brant_above_values(const brant_report *report, const char *route, const brant_above *above,
                        char flags[BRANT_FLAGS_MAX], brant_value *values)
{
    const brant_zone *zone = above->zone;
    clear_values(&brant_above_table, values);
    flags_text(zone->flags, flags);
    values[ABOVE_route].text = route;
    values[ABOVE_leg].number = above->leg;
    values[ABOVE_zone].number = zone->number;
    values[ABOVE_on].number = above->on;
    values[ABOVE_edge].number = above->edge;
    reach_values((double)above->reached_at_deg >=
                     brant_zone_reach_angle(zone, report->reach_angle_deg),
                 above->reached_at_deg, above->head_m, &values[ABOVE_reached_at_deg],
                 &values[ABOVE_head_m]);
    values[ABOVE_area_m2].number = zone->area_m2;
    values[ABOVE_face_m2].number = zone->face_m2;
    values[ABOVE_mean_deg].number = zone->mean_deg;
    values[ABOVE_steepest_deg].number = zone->steepest_deg;
    values[ABOVE_aspect_deg].number = zone->aspect_deg;
    values[ABOVE_aspect].text = octant_or_null(zone->aspect_deg);
    values[ABOVE_low_m].number = zone->low_m;
    values[ABOVE_high_m].number = zone->high_m;
    values[ABOVE_flags].text = flags[0] ? flags : NULL;
    values[ABOVE_remote].number = above->remote;
    values[ABOVE_level].text = level_text(above->danger.level);
    if (has_wind(report))
        values[ABOVE_shelter_deg].number = above->shelter.mean_deg;
    round_values(&brant_above_table, values);
}

void brant_wait_values(const brant_report *report, const char *route, const brant_tour *tour,
                       size_t wait, char leave_by[BRANT_TIME_MAX], brant_value *values)
{
    const brant_wait *place = &tour->waits[wait];
    const brant_sample *sample = &tour->track.samples[place->sample];
    clear_values(&brant_wait_table, values);
    values[WAIT_route].text = route;
    values[WAIT_wait].number = (double)(wait + 1);
    values[WAIT_along_m].number = place->along_m;
    values[WAIT_lon].number = sample->lon;
    values[WAIT_lat].number = sample->lat;
    values[WAIT_elevation_m].number = tour->facts[place->sample].elevation_m;
    values[WAIT_next_m].number = place->next_m;
    values[WAIT_exposed_m].number = place->exposed_m;
    values[WAIT_leave_by].text = time_text(report, place->leave_by_utc - start_s(report), leave_by);
    round_values(&brant_wait_table, values);
}

void brant_zone_values(const brant_zone *zone, double lon, double lat,
                       char flags[BRANT_FLAGS_MAX], brant_value *values)
{
    flags_text(zone->flags, flags);
    clear_values(&brant_zone_table, values);
    values[ZONE_number].number = zone->number;
    values[ZONE_area_m2].number = zone->area_m2;
    values[ZONE_mean_deg].number = zone->mean_deg;
    values[ZONE_steepest_deg].number = zone->steepest_deg;
    values[ZONE_aspect_deg].number = zone->aspect_deg;
    values[ZONE_aspect].text = octant_or_null(zone->aspect_deg);
    values[ZONE_low_m].number = zone->low_m;
    values[ZONE_high_m].number = zone->high_m;
    values[ZONE_high_lon].number = lon;
    values[ZONE_high_lat].number = lat;
    values[ZONE_above45_share].number = zone->above45;
    if (zone->reach_angle_deg > 0)
        values[ZONE_reach_angle].number = zone->reach_angle_deg;
    values[ZONE_flags].text = zone->flags ? flags : NULL;
    round_values(&brant_zone_table, values);
}

/* ---- CSV ---------------------------------------------------------------- */

void brant_table_header(const brant_table *table, brant_text *out)
{
    for (int i = 0; i < table->count; i++)
        brant_text_add(out, "%s%s", i ? "," : "", table->columns[i].name);
    brant_text_add(out, "\n");
}

void brant_table_row(const brant_table *table, const brant_value *values, brant_text *out)
{
    for (int i = 0; i < table->count; i++) {
        if (i > 0)
            brant_text_add(out, ",");
        if (table->columns[i].type != BRANT_FIELD_TEXT)
            brant_text_number(out, values[i].number, table->decimals[i]);
        else if (values[i].text)
            brant_text_csv(out, values[i].text);
    }
    brant_text_add(out, "\n");
}

/* The route's name, kept in `name`; never NULL. */
static const char *route_name(const brant_report *report, size_t tour, brant_text *name,
                              brant_text *out)
{
    name->length = 0;
    brant_text_add(name, "%s", "");
    brant_words_route(report, tour, name);
    out->failed |= name->failed;
    return name->failed ? "" : name->data;
}

void brant_report_legs_csv(const brant_report *report, brant_text *out)
{
    brant_value values[BRANT_TABLE_MAX];
    brant_leg_texts texts = {0};
    brant_text name = {0};
    brant_table_header(&brant_leg_table, out);
    for (size_t t = 0; t < report->tour_count; t++) {
        const brant_tour *tour = &report->tours[t];
        const char *route = route_name(report, t, &name, out);
        for (size_t i = 0; i < tour->leg_count; i++) {
            brant_leg_values(report, tour, route, &tour->legs[i], &texts, values);
            brant_table_row(&brant_leg_table, values, out);
        }
    }
    out->failed |= texts.above.failed;
    brant_text_clear(&texts.above);
    brant_text_clear(&name);
}

void brant_report_points_csv(const brant_report *report, brant_text *out)
{
    brant_value values[BRANT_TABLE_MAX];
    brant_text name = {0};
    brant_table_header(&brant_point_table, out);
    for (size_t t = 0; t < report->tour_count; t++) {
        const brant_tour *tour = &report->tours[t];
        const char *route = route_name(report, t, &name, out);
        for (size_t i = 0; i < tour->track.count; i++) {
            brant_point_values(report, route, tour, i, values);
            brant_table_row(&brant_point_table, values, out);
        }
    }
    brant_text_clear(&name);
}

void brant_report_above_csv(const brant_report *report, brant_text *out)
{
    brant_value values[BRANT_TABLE_MAX];
    char flags[BRANT_FLAGS_MAX];
    brant_text name = {0};
    brant_table_header(&brant_above_table, out);
    for (size_t t = 0; t < report->tour_count; t++) {
        const brant_tour *tour = &report->tours[t];
        const char *route = route_name(report, t, &name, out);
        for (size_t i = 0; i < tour->above_count; i++) {
            brant_above_values(report, route, &tour->above[i], flags, values);
            brant_table_row(&brant_above_table, values, out);
        }
    }
    brant_text_clear(&name);
}

void brant_zone_csv_header(brant_text *out)
{
    brant_table_header(&brant_zone_table, out);
}

void brant_zone_csv_row(const brant_zone *zone, double lon, double lat, brant_text *out)
{
    brant_value values[ZONE_COUNT];
    char flags[BRANT_FLAGS_MAX];
    brant_zone_values(zone, lon, lat, flags, values);
    brant_table_row(&brant_zone_table, values, out);
}
