/* A circuit as a row: columns, values, order, CSV. */
#include "circuits.h"

#include "day_words.h"

#include <math.h>
#include <stdlib.h>
#include <string.h>

#define AS_COLUMN(name, type, decimals) {#name, BRANT_FIELD_##type},
#define AS_DECIMALS(name, type, decimals) decimals,

const brant_column brant_circuit_columns[BRANT_CIRCUIT_COLUMNS] = {BRANT_CIRCUIT_LIST(AS_COLUMN)};
static const signed char decimals[] = {BRANT_CIRCUIT_LIST(AS_DECIMALS)};
const brant_table brant_circuit_table = {brant_circuit_columns, decimals, CIRCUIT_COUNT};

_Static_assert((int)CIRCUIT_COUNT == BRANT_CIRCUIT_COLUMNS, "the header says how many");

int brant_circuit_column(const char *name)
{
    for (int i = 0; i < CIRCUIT_COUNT; i++)
        if (strcmp(brant_circuit_columns[i].name, name) == 0)
            return i;
    return -1;
}

/* ---- filling ------------------------------------------------------------ */

static void begin(brant_circuit *circuit)
{
    memset(circuit, 0, sizeof *circuit);
    for (int i = 0; i < CIRCUIT_COUNT; i++)
        circuit->value[i].number = NAN;
}

void brant_circuit_clear(brant_circuit *circuit)
{
    for (int i = 0; i < CIRCUIT_COUNT; i++)
        free((char *)circuit->value[i].text); /* the row's own */
    begin(circuit);
}

/* Keep what `text` holds, if anything; it is cleared. */
static brant_status keep(brant_context *ctx, brant_circuit *circuit, int column, brant_text *text)
{
    brant_status status = brant_text_status(ctx, text);
    if (status == BRANT_OK && text->length > 0) {
        circuit->value[column].text = brant_strdup(ctx, text->data);
        status = circuit->value[column].text ? BRANT_OK : BRANT_ERR_MEMORY;
    }
    brant_text_clear(text);
    return status;
}

static brant_status keep_text(brant_context *ctx, brant_circuit *circuit, int column,
                              const char *text)
{
    brant_text copy = {0};
    brant_text_add(&copy, "%s", text);
    return keep(ctx, circuit, column, &copy);
}

static bool is_met(const brant_leg *leg)
{
    return leg->kind != BRANT_KIND_NONE_FOUND;
}

static void fill_ground(const brant_report *report, const brant_tour *tour, brant_circuit *circuit)
{
    static const int kinds[BRANT_KINDS] = {CIRCUIT_unknown_m, CIRCUIT_crosses_m,
                                           CIRCUIT_over_band_m, CIRCUIT_edge_m, CIRCUIT_under_m,
                                           CIRCUIT_remote_m, CIRCUIT_none_found_m};
    static const int classes[BRANT_CLASSES] = {-1, -1, -1, CIRCUIT_on_30_35_m,
                                               CIRCUIT_on_35_40_m, CIRCUIT_on_40_45_m,
                                               CIRCUIT_on_over_45_m, CIRCUIT_on_over_45_m};
    brant_value *value = circuit->value;
    double steepest = -INFINITY;
    for (int i = CIRCUIT_on_30_35_m; i <= CIRCUIT_on_over_45_m; i++)
        value[i].number = 0;
    for (size_t i = 0; i < tour->track.count; i++) {
        int column = classes[brant_class_of(tour->facts[i].slope_deg)];
        steepest = fmax(steepest, (double)tour->facts[i].slope_deg); /* NaN is passed over */
        if (column >= 0)
            value[column].number += brant_sample_metres(&tour->track, i);
    }
    for (int i = 0; i < BRANT_KINDS; i++)
        value[kinds[i]].number = tour->metres[i];
    if (!isinf(steepest))
        value[CIRCUIT_steepest_deg].number = steepest;
    for (int i = 0; i < BRANT_SHOWN_ANGLES; i++)
        value[CIRCUIT_under_at_30_m + i].number = brant_words_reached(report, tour, i);
    value[CIRCUIT_unknown_above_m].number = 0;
    for (size_t i = 0; i < tour->leg_count; i++)
        value[CIRCUIT_unknown_above_m].number += tour->legs[i].unknown_above_m;
}

static int by_number(const void *a, const void *b)
{
    const brant_zone *x = *(const brant_zone *const *)a, *y = *(const brant_zone *const *)b;
    return (x->number > y->number) - (x->number < y->number);
}

/* The zones that reach it from above, each once, and the largest face of all it meets. */
static brant_status fill_above(brant_context *ctx, const brant_report *report,
                               const brant_tour *tour, brant_circuit *circuit)
{
    const brant_zone **zones = brant_alloc(ctx, tour->above_count, sizeof *zones);
    size_t count = 0;
    double area = 0, face = 0;
    if (!zones)
        return BRANT_ERR_MEMORY;
    for (size_t i = 0; i < tour->above_count; i++) {
        const brant_above *above = &tour->above[i];
        bool reaches = (double)above->reached_at_deg >=
                       brant_zone_reach_angle(above->zone, report->reach_angle_deg);
        if (above->on || above->edge || reaches)
            face = fmax(face, above->zone->face_m2);
        if (reaches && !above->on)
            zones[count++] = above->zone;
    }
    if (count > 0)
        qsort(zones, count, sizeof *zones, by_number);
    for (size_t i = 0; i < count; i++)
        if (i == 0 || zones[i]->number != zones[i - 1]->number)
            area += zones[i]->area_m2;
    free(zones);
    circuit->value[CIRCUIT_area_above_m2].number = area;
    circuit->value[CIRCUIT_largest_face_m2].number = face;
    return BRANT_OK;
}

/* The earliest sun on the slope above a leg, before one is past it. */
static brant_status fill_sun(brant_context *ctx, const brant_report *report,
                             const brant_tour *tour, brant_circuit *circuit)
{
    double first = NAN;
    brant_text text = {0};
    for (size_t i = 0; i < tour->leg_count; i++)
        if (tour->legs[i].sun_sought)
            first = fmin(first, tour->legs[i].sun.possible.first); /* NaN is passed over */
    if (!brant_words_has_hours(report) || isnan(first))
        return BRANT_OK;
    brant_time moment = brant_words_moment(report, first - (double)report->day->start.utc_s);
    brant_text_iso_time(&text, &moment);
    return keep(ctx, circuit, CIRCUIT_sun_from, &text);
}

static brant_status fill_day(brant_context *ctx, const brant_report *report,
                             const brant_tour *tour, brant_circuit *circuit)
{
    const brant_bulletin *bulletin = brant_words_bulletin(report);
    brant_level highest = BRANT_LEVEL_NONE;
    uint32_t problems = 0;
    bool limited = false;
    brant_text text = {0};
    if (tour->seconds) {
        double seconds = tour->seconds[tour->track.count - 1];
        circuit->value[CIRCUIT_hours].number = seconds / 3600;
        circuit->value[CIRCUIT_hours_late].number = seconds * BRANT_LATE / 3600;
    }
    for (size_t i = 0; i < tour->leg_count; i++) {
        const brant_leg *leg = &tour->legs[i];
        if (!is_met(leg))
            continue;
        highest = brant_level_higher(highest, leg->level);
        problems |= leg->problems;
        limited |= leg->limit.over || leg->limit.unknown || !isnan(leg->limit.limit_deg);
    }
    circuit->level_rank = brant_level_rank(highest);
    circuit->unjudged = tour->metres[BRANT_KIND_UNKNOWN] > 0 || tour->limit_unknown_m > 0 ||
                        (bulletin && circuit->level_rank >= BRANT_RANK_FIRST);
    if (!bulletin)
        return BRANT_OK;
    circuit->value[CIRCUIT_limit_unknown_m].number = tour->limit_unknown_m;
    if (limited || circuit->level_rank < BRANT_RANK_FIRST)
        circuit->value[CIRCUIT_over_limit_m].number = tour->over_m;
    brant_status status = keep_text(ctx, circuit, CIRCUIT_level, brant_level_text(highest));
    if (status != BRANT_OK)
        return status;
    brant_text_kinds(&text, brant_problem_kinds(bulletin, problems));
    return keep(ctx, circuit, CIRCUIT_problems, &text);
}

/* "; part", where there is one: that of an unknown leg begins with "; " itself. */
static void add_part(brant_text *text, brant_text *part)
{
    if (part->length > 0)
        brant_text_add(text, "%s%s", strncmp(part->data, "; ", 2) == 0 ? "" : "; ", part->data);
    text->failed |= part->failed;
    brant_text_clear(part);
}

/* "8 crosses 6.10-6.55 km, level 3 on NE, ...; 38 deg NE, face 6 ha" */
static brant_status fill_governing(brant_context *ctx, const brant_report *report,
                                   const brant_tour *tour, brant_circuit *circuit)
{
    brant_text text = {0};
    brant_leg leg = tour->legs[tour->rank[0]];
    leg.below.sought = false; /* it is not always looked for */
    if (is_met(&leg)) {
        circuit->value[CIRCUIT_governing_leg].number = leg.number;
        brant_text_add(&text, "%s ", brant_kind_name(leg.kind));
        brant_words_stretch(&text, leg.from_m, leg.to_m);
        if (leg.kind == BRANT_KIND_UNKNOWN) {
            brant_text_add(&text, ": ");
            brant_words_reasons(brant_words_unknown(report, tour, &leg), &text);
        }
        brant_text part = {0};
        brant_words_day(report, tour, &leg, &part);
        add_part(&text, &part);
        brant_words_detail(report, tour, &leg, &part);
        add_part(&text, &part);
    }
    for (size_t i = 0; i < text.length && !text.failed; i++)
        if (text.data[i] == *FIRM)
            text.data[i] = ' ';
    return keep(ctx, circuit, CIRCUIT_governing, &text);
}

static brant_status fill_names(brant_context *ctx, const brant_report *report, size_t tour,
                               const char *file, const char *same_as, brant_circuit *circuit)
{
    const brant_tour *t = &report->tours[tour];
    brant_text name = {0}, status_text = {0}, why = {0};
    brant_words_route(report, tour, &name);
    brant_status status = keep(ctx, circuit, CIRCUIT_route, &name);
    if (status == BRANT_OK)
        status = keep_text(ctx, circuit, CIRCUIT_file, file);
    if (status == BRANT_OK && same_as)
        status = keep_text(ctx, circuit, CIRCUIT_same_as, same_as);
    if (status != BRANT_OK)
        return status;
    brant_text_add(&status_text, "%s", t->metres[BRANT_KIND_UNKNOWN] > 0 ? "unknown parts" : "");
    if (brant_words_bulletin(report) && brant_words_has_hours(report) && t->seconds) {
        int64_t start = report->day->start.utc_s;
        double end = t->seconds[t->track.count - 1] * BRANT_LATE;
        if (!brant_bulletin_covers(report->day->bulletin, start, start + (int64_t)ceil(end),
                                   report->day->start.offset_min, &why))
            brant_text_add(&status_text, "%sbulletin does not cover it",
                           status_text.length > 0 ? "; " : "");
        brant_text_clear(&why);
    }
    if (status_text.length == 0)
        brant_text_add(&status_text, "ok");
    return keep(ctx, circuit, CIRCUIT_status, &status_text);
}

brant_status brant_circuit_of(brant_context *ctx, const brant_report *report, size_t tour,
                              const char *file, const char *same_as, brant_circuit *circuit)
{
    const brant_tour *t = &report->tours[tour];
    begin(circuit);
    circuit->value[CIRCUIT_length_m].number = t->track.length_m;
    circuit->value[CIRCUIT_climb_m].number = t->climb_m;
    circuit->value[CIRCUIT_descent_m].number = t->descent_m;
    circuit->value[CIRCUIT_legs].number = (double)t->leg_count;
    circuit->value[CIRCUIT_start_lon].number = t->track.samples[0].lon;
    circuit->value[CIRCUIT_start_lat].number = t->track.samples[0].lat;
    fill_ground(report, t, circuit);
    brant_status status = fill_names(ctx, report, tour, file, same_as, circuit);
    if (status == BRANT_OK)
        status = fill_above(ctx, report, t, circuit);
    if (status == BRANT_OK)
        status = fill_day(ctx, report, t, circuit);
    if (status == BRANT_OK)
        status = fill_sun(ctx, report, t, circuit);
    if (status == BRANT_OK)
        status = fill_governing(ctx, report, t, circuit);
    for (int i = 0; i < CIRCUIT_COUNT; i++)
        if (!isnan(circuit->value[i].number))
            circuit->value[i].number = brant_round(circuit->value[i].number, decimals[i]);
    if (status != BRANT_OK)
        brant_circuit_clear(circuit);
    return status;
}

brant_status brant_circuit_failed(brant_context *ctx, const char *file, const char *route,
                                  const char *status, brant_circuit *circuit)
{
    begin(circuit);
    circuit->failed = true;
    brant_status done = keep_text(ctx, circuit, CIRCUIT_file, file);
    if (done == BRANT_OK)
        done = keep_text(ctx, circuit, CIRCUIT_route, route);
    if (done == BRANT_OK)
        done = keep_text(ctx, circuit, CIRCUIT_status, status);
    if (done != BRANT_OK)
        brant_circuit_clear(circuit);
    return done;
}

/* ---- order -------------------------------------------------------------- */

/* Larger numbers first, what is not known before all. */
static int by_value(double a, double b)
{
    if (isnan(a) || isnan(b))
        return (isnan(b) != 0) - (isnan(a) != 0);
    return (a < b) - (a > b);
}

static int by_text(const char *a, const char *b)
{
    if (!a || !b)
        return (a != NULL) - (b != NULL);
    return strcmp(a, b);
}

static double beside(const brant_circuit *c)
{
    return c->value[CIRCUIT_crosses_m].number + c->value[CIRCUIT_over_band_m].number +
           c->value[CIRCUIT_edge_m].number;
}

static int by_place(const brant_circuit *a, const brant_circuit *b)
{
    int order = by_text(a->value[CIRCUIT_file].text, b->value[CIRCUIT_file].text);
    return order ? order : (a->place > b->place) - (a->place < b->place);
}

static int by_rank(const brant_circuit *a, const brant_circuit *b)
{
    if (a->failed != b->failed)
        return a->failed ? -1 : 1;
    if (a->unjudged != b->unjudged)
        return a->unjudged ? -1 : 1;
    int order = by_value(a->value[CIRCUIT_over_limit_m].number,
                         b->value[CIRCUIT_over_limit_m].number);
    if (order == 0)
        order = by_value(beside(a), beside(b));
    if (order == 0)
        order = by_value(a->value[CIRCUIT_under_m].number, b->value[CIRCUIT_under_m].number);
    return order ? order : by_place(a, b);
}

static int by_column(const brant_circuit *a, const brant_circuit *b, int column)
{
    const brant_value *v = &a->value[column], *w = &b->value[column];
    if (column == CIRCUIT_level && v->text && w->text)
        return (a->level_rank < b->level_rank) - (a->level_rank > b->level_rank);
    return brant_circuit_columns[column].type == BRANT_FIELD_TEXT ? by_text(v->text, w->text)
                                                                  : by_value(v->number, w->number);
}

static int compare(const void *x, const void *y)
{
    const brant_circuit *a = x, *b = y;
    int order = a->column < 0 ? 0 : by_column(a, b, a->column);
    return order ? order : by_rank(a, b);
}

void brant_circuits_sort(brant_circuit *circuits, size_t count, int column)
{
    for (size_t i = 0; i < count; i++) {
        circuits[i].place = i;
        circuits[i].column = column;
    }
    if (count > 0)
        qsort(circuits, count, sizeof *circuits, compare);
}

/* ---- CSV ---------------------------------------------------------------- */

void brant_report_circuits_csv(const brant_circuits *all, brant_text *out)
{
    brant_table_header(&brant_circuit_table, out);
    for (size_t i = 0; i < all->count; i++)
        brant_table_row(&brant_circuit_table, all->circuits[i].value, out);
}
