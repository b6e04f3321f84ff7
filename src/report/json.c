/* plan.json: the whole result, by one serialiser. Keys stand in a fixed order
 * and numbers are rounded before they are written, so the same result gives the
 * same bytes in any locale (jansson puts the decimal point back itself; a test
 * holds it to that). */
#include "table.h"

#include "day_words.h"

#include <jansson.h>
#include <limits.h>
#include <math.h>
#include <stdio.h>
#include <string.h>

/* Significant digits: longitudes have three and seven decimals. */
#define DIGITS 12

typedef struct writer {
    bool failed; /* an allocation failed; what was built is thrown away */
} writer;

/* Puts `value` (its reference is taken) under `key`. */
static void put(writer *w, json_t *object, const char *key, json_t *value)
{
    if (!value || json_object_set_new(object, key, value) != 0)
        w->failed = true;
}

static void append(writer *w, json_t *array, json_t *value)
{
    if (!value || json_array_append_new(array, value) != 0)
        w->failed = true;
}

/* A number that is not known is null, one without decimals a whole number. */
static json_t *number(double value, int decimals)
{
    if (isnan(value) || isinf(value))
        return json_null();
    value = brant_round(value, decimals);
    return decimals == 0 ? json_integer((json_int_t)value) : json_real(value);
}

/* Texts come from files and may be no UTF-8, which JSON must be. Controls in
 * names are kept by escapes elsewhere and have no meaning: blanks here. */
static json_t *string(const char *text)
{
    if (!text)
        return json_null();
    brant_text clean = {0};
    brant_text_add(&clean, "%s", "");
    brant_words_clean(&clean, text, " ");
    json_t *value = clean.failed ? NULL : json_stringn(clean.data, clean.length);
    brant_text_clear(&clean);
    return value;
}

/* The text, which is cleared. */
static json_t *made(brant_text *text)
{
    json_t *value = text->failed ? NULL : string(text->data ? text->data : "");
    brant_text_clear(text);
    return value;
}

/* ---- rows --------------------------------------------------------------- */

static json_t *cell(const brant_table *table, int column, const brant_value *values)
{
    if (table->columns[column].type == BRANT_FIELD_TEXT)
        return string(values[column].text);
    return number(values[column].number, table->decimals[column]);
}

/* A row as an object; its first `skip` columns stand further out. */
static json_t *row(writer *w, const brant_table *table, int skip, const brant_value *values)
{
    json_t *object = json_object();
    for (int i = skip; object && i < table->count; i++)
        put(w, object, table->columns[i].name, cell(table, i, values));
    return object;
}

static json_t *time_json(const brant_time *time)
{
    brant_text text = {0};
    if (!time->has_offset)
        return json_null();
    brant_text_iso_time(&text, time);
    return made(&text);
}

/* A moment in UTC seconds, NaN for none, in the start's offset. */
static json_t *moment_json(const brant_report *report, double utc_s)
{
    if (isnan(utc_s) || !brant_words_has_hours(report))
        return json_null();
    brant_time moment = brant_words_moment(report, utc_s - (double)report->day->start.utc_s);
    return time_json(&moment);
}

/* What the columns leave out: which problems of the bulletin, counted from 1; why this
 * limit or none; the sun that is certain beside the one that is possible. */
static void put_leg_day(writer *w, json_t *object, const brant_report *report,
                        const brant_leg *leg)
{
    const brant_bulletin *bulletin = brant_words_bulletin(report);
    json_t *problems = bulletin ? json_array() : json_null();
    for (size_t i = 0; bulletin && i < bulletin->problem_count; i++)
        if (leg->problems & 1u << i)
            append(w, problems, json_integer((json_int_t)i + 1));
    put(w, object, "problem_numbers", problems);
    put(w, object, "level_lowered", bulletin ? json_boolean(leg->level_lowered) : json_null());
    put(w, object, "limit_reason", string(bulletin ? leg->limit.reason : NULL));
    put(w, object, "limit_note", string(bulletin ? leg->limit.note : NULL));
    put(w, object, "sun_certain_from",
        leg->sun_sought ? moment_json(report, leg->sun.certain.first) : json_null());
}

/* Why the ground of an unknown leg is not known; and how much lies under the unknown. */
static void put_leg_unknown(writer *w, json_t *object, const brant_report *report,
                            const brant_tour *tour, const brant_leg *leg)
{
    brant_text why = {0};
    if (leg->kind == BRANT_KIND_UNKNOWN)
        brant_words_reasons(brant_words_unknown(report, tour, leg), &why);
    w->failed |= why.failed;
    put(w, object, "unknown_because", why.length > 0 ? made(&why) : json_null());
    put(w, object, "unknown_above_m", number(leg->unknown_above_m, 1));
}

static json_t *leg_json(writer *w, const brant_report *report, const brant_tour *tour,
                        const brant_leg *leg)
{
    brant_value values[BRANT_TABLE_MAX];
    char flags[BRANT_FLAGS_MAX];
    brant_leg_texts texts = {0};
    brant_leg_values(report, tour, "", leg, &texts, values);
    json_t *object = row(w, &brant_leg_table, 1, values);
    w->failed |= texts.above.failed;
    brant_text_clear(&texts.above);
    json_t *above = json_array();
    for (size_t i = 0; object && above && i < leg->aboves; i++) {
        brant_above_values(report, "", &tour->above[leg->first_above + i], flags, values);
        append(w, above, row(w, &brant_above_table, 2, values));
    }
    put(w, object, "above", above);
    put_leg_day(w, object, report, leg);
    put_leg_unknown(w, object, report, tour, leg);
    return object;
}

/* Points by column: a list for each column of points.csv but route. */
static json_t *points_json(writer *w, const brant_report *report, const brant_tour *tour)
{
    const brant_table *table = &brant_point_table;
    brant_value values[BRANT_TABLE_MAX];
    json_t *object = json_object();
    json_t *lists[BRANT_TABLE_MAX] = {NULL}; /* borrowed from object */
    for (int i = 1; object && i < table->count; i++) {
        lists[i] = json_array();
        put(w, object, table->columns[i].name, lists[i]);
    }
    for (size_t p = 0; !w->failed && object && p < tour->track.count; p++) {
        brant_point_values(report, "", tour, p, values);
        for (int i = 1; i < table->count; i++)
            append(w, lists[i], cell(table, i, values));
    }
    return object;
}

/* The numbers of the points that open a segment: between it and the point before there is
 * a break. */
static json_t *segments_json(writer *w, const brant_tour *tour)
{
    json_t *starts = json_array();
    for (size_t i = 0; !w->failed && i < tour->track.count; i++)
        if (tour->track.samples[i].first || i == 0)
            append(w, starts, json_integer((json_int_t)i + 1));
    return starts;
}

/* The highest point, and when one is there; null where no height is known. */
static json_t *high_point_json(writer *w, const brant_report *report, const brant_tour *tour)
{
    size_t top = brant_words_highest(tour);
    if (tour->track.count == 0 || isnan(tour->facts[top].elevation_m))
        return json_null();
    json_t *object = json_object();
    double start = brant_words_has_hours(report) ? (double)report->day->start.utc_s : (double)NAN;
    double seconds = tour->seconds ? tour->seconds[top] : (double)NAN;
    put(w, object, "point", json_integer((json_int_t)top + 1));
    put(w, object, "elevation_m", number(tour->facts[top].elevation_m, 1));
    put(w, object, "arrive", moment_json(report, start + seconds));
    put(w, object, "arrive_late", moment_json(report, start + seconds * BRANT_LATE));
    return object;
}

/* ---- a tour ------------------------------------------------------------- */

static json_t *metres_by_kind(writer *w, const double *metres, bool unknown_above)
{
    json_t *object = json_object();
    for (brant_kind kind = 0; object && kind < BRANT_KINDS; kind++)
        put(w, object, brant_kind_name(kind), number(metres[kind], 1));
    if (object && unknown_above)
        put(w, object, "unknown-above", number(metres[BRANT_KINDS], 1));
    return object;
}

static json_t *waits_json(writer *w, const brant_report *report, const brant_tour *tour)
{
    brant_value values[BRANT_TABLE_MAX];
    char leave_by[BRANT_TIME_MAX];
    json_t *waits = tour->waits_unknown ? json_null() : json_array();
    for (size_t i = 0; !w->failed && i < tour->wait_count; i++) {
        brant_wait_values(report, "", tour, i, leave_by, values);
        append(w, waits, row(w, &brant_wait_table, 1, values));
    }
    return waits;
}

/* The number of a place to wait, null for none. */
static json_t *wait_number(size_t wait)
{
    return wait == BRANT_NO_WAIT ? json_null() : json_integer((json_int_t)wait + 1);
}

static json_t *stretches_json(writer *w, const brant_tour *tour)
{
    json_t *stretches = tour->waits_unknown ? json_null() : json_array();
    for (size_t i = 0; !w->failed && i < tour->stretch_count; i++) {
        const brant_stretch *stretch = &tour->stretches[i];
        json_t *object = json_object();
        double between = stretch->before == BRANT_NO_WAIT || stretch->after == BRANT_NO_WAIT
                             ? (double)NAN
                             : tour->waits[stretch->after].along_m -
                                   tour->waits[stretch->before].along_m;
        put(w, object, "from_m", number(stretch->from_m, 1));
        put(w, object, "to_m", number(stretch->to_m, 1));
        put(w, object, "exposed_m", number(stretch->exposed_m, 1));
        put(w, object, "wait_before", wait_number(stretch->before));
        put(w, object, "wait_after", wait_number(stretch->after));
        put(w, object, "between_m", number(between, 1));
        append(w, stretches, object);
    }
    return stretches;
}

/* A leg of this tour by its number; one of another by name and place. */
static json_t *over_leg_json(writer *w, const brant_report *report, int tour, uint32_t number_of)
{
    if (tour == BRANT_OWN)
        return json_integer(number_of);
    const brant_tour *other = &report->others[tour];
    const brant_leg *leg = &other->legs[number_of - 1];
    json_t *object = json_object();
    put(w, object, "other", string(other->track.name));
    put(w, object, "from_m", number(leg->from_m, 1));
    put(w, object, "to_m", number(leg->to_m, 1));
    return object;
}

static json_t *overs_json(writer *w, const brant_report *report, const brant_tour *tour)
{
    json_t *overs = json_array();
    for (size_t i = 0; !w->failed && i < tour->over_count; i++) {
        const brant_over *over = &tour->overs[i];
        json_t *object = json_object();
        put(w, object, "above", over_leg_json(w, report, over->upper_tour, over->upper));
        put(w, object, "below", over_leg_json(w, report, over->lower_tour, over->lower));
        append(w, overs, object);
    }
    return overs;
}

/* Metres by reach angle; null where nothing was searched. */
static json_t *reached_json(writer *w, const brant_report *report, const brant_tour *tour)
{
    char name[16];
    json_t *object = json_object();
    for (int i = 0; object && i < BRANT_SHOWN_ANGLES; i++) {
        snprintf(name, sizeof name, "%.0f", brant_words_angles[i]);
        put(w, object, name, number(brant_words_reached(report, tour, i), 1));
    }
    return object;
}

static json_t *route_json(const brant_report *report, size_t index)
{
    brant_text name = {0};
    brant_text_add(&name, "%s", "");
    brant_words_route(report, index, &name);
    json_t *value = name.failed ? NULL : string(name.data);
    brant_text_clear(&name);
    return value;
}

/* What more would be over the limit. */
static json_t *what_if_json(writer *w, const brant_what_if *more)
{
    json_t *object = json_object(), *legs = json_array();
    for (size_t i = 0; i < more->legs; i++)
        append(w, legs, json_integer(more->leg[i]));
    put(w, object, "legs", legs);
    put(w, object, "over_limit_m", number(more->metres, 1));
    return object;
}

static json_t *tour_json(writer *w, const brant_report *report, size_t index)
{
    const brant_tour *tour = &report->tours[index];
    json_t *object = json_object();
    json_t *legs = json_array(), *ranked = json_array();
    bool day = brant_words_bulletin(report) != NULL;
    put(w, object, "name", string(tour->track.name ? tour->track.name : ""));
    put(w, object, "route", route_json(report, index));
    put(w, object, "length_m", number(tour->track.length_m, 1));
    put(w, object, "up_m", number(tour->climb_m, 1));
    put(w, object, "down_m", number(tour->descent_m, 1));
    put(w, object, "metres", metres_by_kind(w, tour->metres, false));
    put(w, object, "metres_where", metres_by_kind(w, tour->is_metres, true));
    put(w, object, "reached_m", reached_json(w, report, tour));
    put(w, object, "steeper_m", number(tour->steeper_m, 1));
    put(w, object, "over_limit_m", number(day ? tour->over_m : (double)NAN, 1));
    put(w, object, "limit_unknown_m", number(day ? tour->limit_unknown_m : (double)NAN, 1));
    put(w, object, "if_one_level_more", day ? what_if_json(w, &tour->over_if_higher) : json_null());
    put(w, object, "if_one_hour_later",
        day && tour->seconds ? what_if_json(w, &tour->over_if_later) : json_null());
    put(w, object, "timed_as_straight_m",
        number(tour->seconds ? tour->unknown_pace_m : (double)NAN, 1));
    put(w, object, "above_own_line", overs_json(w, report, tour));
    put(w, object, "waits", waits_json(w, report, tour));
    put(w, object, "exposed", stretches_json(w, tour));
    for (size_t i = 0; !w->failed && i < tour->leg_count; i++) {
        append(w, ranked, json_integer(tour->legs[tour->rank[i]].number));
        append(w, legs, leg_json(w, report, tour, &tour->legs[i]));
    }
    put(w, object, "ranked", ranked);
    put(w, object, "legs", legs);
    put(w, object, "high_point", high_point_json(w, report, tour));
    put(w, object, "segment_starts", segments_json(w, tour));
    put(w, object, "points", points_json(w, report, tour));
    return object;
}

/* ---- the day ------------------------------------------------------------ */

/* A bound in metres; "treeline" is metres by now, and said beside it. */
static void put_extent(writer *w, json_t *object, const brant_extent *extent)
{
    brant_text aspects = {0};
    brant_text_aspects(&aspects, extent->aspects);
    put(w, object, "aspects", made(&aspects));
    put(w, object, "above_m", number(extent->lower_m, 0));
    put(w, object, "below_m", number(extent->upper_m, 0));
    put(w, object, "treeline", json_boolean(extent->lower_treeline || extent->upper_treeline));
    put(w, object, "above_treeline", json_boolean(extent->lower_treeline));
    put(w, object, "below_treeline", json_boolean(extent->upper_treeline));
    put(w, object, "earlier", json_boolean(extent->periods & BRANT_EARLIER));
    put(w, object, "later", json_boolean(extent->periods & BRANT_LATER));
}

static json_t *problem_json(writer *w, const brant_problem *problem)
{
    json_t *object = json_object();
    put(w, object, "problem", string(brant_problem_kind_text(problem->kind)));
    put_extent(w, object, &problem->extent);
    put(w, object, "size", number(problem->size, 1));
    put(w, object, "stability", string(problem->stability));
    put(w, object, "frequency", string(problem->frequency));
    put(w, object, "level", problem->level == BRANT_LEVEL_NONE
                                ? json_null()
                                : string(brant_level_text(problem->level)));
    put(w, object, "comment", string(problem->comment));
    return object;
}

static json_t *regions_json(writer *w, const brant_bulletin *bulletin)
{
    json_t *regions = json_array();
    for (size_t i = 0; i < bulletin->region_count; i++) {
        json_t *object = json_object();
        put(w, object, "id", string(bulletin->regions[i].id));
        put(w, object, "name", string(bulletin->regions[i].name));
        put(w, object, "chosen", json_boolean(bulletin->chosen_region == (long long)i));
        append(w, regions, object);
    }
    return regions;
}

static json_t *bulletin_json(writer *w, const brant_bulletin *bulletin)
{
    if (!bulletin)
        return json_null();
    json_t *object = json_object(), *ratings = json_array(), *problems = json_array();
    put(w, object, "by_hand", json_boolean(bulletin->by_hand));
    put(w, object, "file", bulletin->by_hand ? json_null() : string(bulletin->name));
    put(w, object, "id", string(bulletin->id));
    put(w, object, "source", string(bulletin->source));
    put(w, object, "published", time_json(&bulletin->published));
    put(w, object, "valid_from", time_json(&bulletin->valid_from));
    put(w, object, "valid_to", time_json(&bulletin->valid_to));
    put(w, object, "next_update", time_json(&bulletin->next_update));
    put(w, object, "regions", regions_json(w, bulletin));
    put(w, object, "highlights", string(bulletin->highlights));
    put(w, object, "outside_core_lower", json_boolean(bulletin->outside_core_lower));
    for (size_t i = 0; i < bulletin->rating_count; i++) {
        json_t *rating = json_object();
        put(w, rating, "level", string(brant_level_text(bulletin->ratings[i].level)));
        put_extent(w, rating, &bulletin->ratings[i].extent);
        append(w, ratings, rating);
    }
    put(w, object, "ratings", ratings);
    for (size_t i = 0; i < bulletin->problem_count; i++)
        append(w, problems, problem_json(w, &bulletin->problems[i]));
    put(w, object, "problems", problems);
    return object;
}

static json_t *minutes_json(int minutes)
{
    brant_text text = {0};
    if (minutes < 0)
        return json_null();
    brant_text_add(&text, "%02d:%02d", minutes / 60, minutes % 60);
    return made(&text);
}

static json_t *pace_json(const brant_pace *pace)
{
    brant_text text = {0};
    if (pace->walk) {
        brant_text_add(&text, "walk");
    } else {
        const double rates[] = {pace->up, pace->down, pace->flat};
        for (int i = 0; i < 3; i++) {
            brant_text_add(&text, "%s", i > 0 ? "," : "");
            brant_text_number(&text, rates[i], rates[i] == round(rates[i]) ? 0 : 2);
        }
    }
    return made(&text);
}

static json_t *items_json(writer *w, const brant_check_item *items, int count,
                          const brant_signs_known *known)
{
    json_t *list = json_array();
    for (int i = 0; i < count && items[i].title; i++) {
        json_t *object = json_object();
        put(w, object, "title", string(items[i].title));
        put(w, object, "check", string(items[i].text));
        if (known) {
            brant_text text = {0};
            brant_text_sign_known(&text, i, known);
            if (text.length > 0) {
                put(w, object, "known", made(&text));
            } else {
                w->failed |= text.failed;
                put(w, object, "known", json_null());
            }
        }
        append(w, list, object);
    }
    return list;
}

static json_t *day_json(writer *w, const brant_report *report)
{
    json_t *object = json_object();
    bool hours = brant_words_has_hours(report);
    put(w, object, "bulletin", bulletin_json(w, brant_words_bulletin(report)));
    put(w, object, "start", hours ? time_json(&report->day->start) : json_null());
    put(w, object, "pace", hours ? pace_json(&report->day->pace) : json_null());
    put(w, object, "late_factor", hours ? number(BRANT_LATE, 1) : json_null());
    put(w, object, "later_from", minutes_json(hours ? report->day->later_from : -1));
    put(w, object, "out_by", hours ? moment_json(report, report->day->out_by) : json_null());
    put(w, object, "wind_from", string(report->signs.wind));
    put(w, object, "new_snow_cm", number(report->signs.new_snow_cm, 0));
    put(w, object, "warming", json_boolean(report->signs.warming));
    put(w, object, "signs", items_json(w, brant_signs, BRANT_SIGNS, &report->signs));
    put(w, object, "kit", items_json(w, brant_kit, INT_MAX, NULL));
    return object;
}

/* ---- the whole ---------------------------------------------------------- */

static json_t *model_json(writer *w, const brant_report *report)
{
    json_t *object = json_object(), *cell_m = json_array();
    append(w, cell_m, number(report->cell_m[0], 3));
    append(w, cell_m, number(report->cell_m[1], 3));
    put(w, object, "file", string(report->model));
    put(w, object, "cell_m", cell_m);
    put(w, object, "cells_averaged", json_integer(report->factor));
    put(w, object, "vertical_unit", string(report->vertical_unit));
    put(w, object, "datum_operation", string(report->datum_operation));
    /* negative: the accuracy is not stated */
    put(w, object, "datum_accuracy_m",
        number(report->datum_accuracy_m < 0 ? (double)NAN : report->datum_accuracy_m, 3));
    return object;
}

static json_t *options_json(writer *w, const brant_report *report)
{
    json_t *object = json_object(), *band = json_array();
    append(w, band, number(report->band.low, 3));
    append(w, band, number(report->band.high, 3));
    put(w, object, "band_deg", band);
    put(w, object, "reach_angle_deg", number(report->reach_angle_deg, 3));
    put(w, object, "spread_deg", number(report->spread_deg, 3));
    put(w, object, "floor_deg", number(report->floor_deg, 3));
    put(w, object, "edge_m", number(report->edge_m, 3));
    put(w, object, "vertical_error_m", number(report->vertical_error_m, 3));
    put(w, object, "void_rise_m", number(report->void_rise_m, 3));
    put(w, object, "zones_from", string(report->zones_from));
    put(w, object, "zones_with_own_reach_angle", json_integer((json_int_t)report->own_angles));
    return object;
}

static json_t *caution_json(void)
{
    brant_text line = {0};
    brant_text_add(&line, "%.*s", (int)strlen(brant_caution) - 1, brant_caution);
    json_t *value = line.failed ? NULL : string(line.data); /* line ends become blanks */
    brant_text_clear(&line);
    return value;
}

static int to_text(const char *bytes, size_t count, void *text)
{
    brant_text_add_bytes(text, bytes, count);
    return ((brant_text *)text)->failed ? -1 : 0;
}

brant_status brant_report_json(brant_context *ctx, const brant_report *report, brant_text *out)
{
    writer w = {false};
    json_t *root = json_object(), *tours = json_array();
    put(&w, root, "brant", string(brant_version()));
    put(&w, root, "model", model_json(&w, report));
    put(&w, root, "options", options_json(&w, report));
    put(&w, root, "day", day_json(&w, report));
    for (size_t i = 0; !w.failed && i < report->tour_count; i++)
        append(&w, tours, tour_json(&w, report, i));
    put(&w, root, "tours", tours);
    put(&w, root, "caution", caution_json());
    if (!w.failed &&
        json_dump_callback(root, to_text, out, JSON_INDENT(1) | JSON_REAL_PRECISION(DIGITS)) != 0)
        w.failed = true;
    brant_text_add(out, "\n");
    json_decref(root);
    if (w.failed || out->failed)
        return brant_fail(ctx, BRANT_ERR_MEMORY, "not enough memory for the plan as JSON");
    return BRANT_OK;
}
