/* The summary: what a guide reads first, by headlamp. */
#include "summary.h"

#include "day_words.h"
#include "fold.h"

#include <math.h>
#include <string.h>

#define DEFAULT_COLUMNS 79
#define LEAST_COLUMNS 30
/* Climb and descent that differ by less are one number. */
#define SAME_CLIMB_M 20.0

typedef brant_summary summary;

void brant_summary_start(brant_summary *s)
{
    s->line.length = 0;
    brant_text_add(&s->line, "%s", ""); /* ends the text here */
}

void brant_summary_flush(brant_summary *s, int indent, bool bold)
{
    if (s->line.failed)
        s->out->failed = true;
    else
        brant_fold(s->out, s->line.data, s->columns, indent, bold);
    brant_summary_start(s);
}

/* ---- the head ----------------------------------------------------------- */

static void add_title(summary *s, size_t index)
{
    brant_text name = {0};
    brant_words_route(s->report, index, &name);
    if (name.data)
        brant_words_clean(&s->line, name.data, " ");
    s->line.failed |= name.failed;
    brant_text_clear(&name);
    brant_summary_title_day(s);
    brant_summary_flush(s, 2, false);
}

static bool some_heights_unknown(const brant_tour *tour, bool *all)
{
    size_t unknown = 0;
    for (size_t i = 0; i < tour->track.count; i++)
        unknown += isnan(tour->facts[i].elevation_m) != 0;
    *all = unknown == tour->track.count;
    return unknown > 0;
}

static void add_height_range(summary *s)
{
    float low = INFINITY, high = -INFINITY;
    for (size_t i = 0; i < s->tour->track.count; i++) {
        float elevation = s->tour->facts[i].elevation_m;
        if (elevation < low)
            low = elevation;
        if (elevation > high)
            high = elevation;
    }
    brant_text_add(&s->line, ", at" FIRM);
    brant_words_heights(&s->line, low, high);
}

/* "14.2 km, 1,240 m up and down, at 1,410-2,650 m" */
static void add_size(summary *s)
{
    const brant_tour *tour = s->tour;
    bool all_unknown = false;
    bool some_unknown = some_heights_unknown(tour, &all_unknown);
    brant_words_km(&s->line, tour->track.length_m);
    brant_text_add(&s->line, FIRM "km, ");
    if (all_unknown) {
        brant_text_add(&s->line, "heights not known");
        brant_summary_flush(s, 2, false);
        return;
    }
    brant_text_thousands(&s->line, tour->climb_m);
    if (fabs(tour->climb_m - tour->descent_m) <= SAME_CLIMB_M) {
        brant_text_add(&s->line, FIRM "m up and down");
    } else {
        brant_text_add(&s->line, FIRM "m" FIRM "up, ");
        brant_text_thousands(&s->line, tour->descent_m);
        brant_text_add(&s->line, FIRM "m" FIRM "down");
    }
    add_height_range(s);
    if (some_unknown)
        brant_text_add(&s->line, " (known heights only)");
    brant_summary_flush(s, 2, false);
}

static void add_route(summary *s)
{
    static const brant_kind order[BRANT_KINDS] = {
        BRANT_KIND_CROSSES, BRANT_KIND_OVER_BAND, BRANT_KIND_EDGE, BRANT_KIND_UNDER,
        BRANT_KIND_REMOTE,  BRANT_KIND_UNKNOWN,   BRANT_KIND_NONE_FOUND,
    };
    bool first = true;
    brant_text_add(&s->line, "ROUTE");
    for (int i = 0; i < BRANT_KINDS; i++) {
        double metres = s->tour->metres[order[i]];
        if (!(metres > 0))
            continue;
        brant_text_add(&s->line, "%s ", first ? "" : ",");
        if (order[i] == BRANT_KIND_NONE_FOUND)
            brant_text_add(&s->line, "none" FIRM "found" FIRM);
        else
            brant_text_add(&s->line, "%s" FIRM, brant_kind_name(order[i]));
        brant_words_km(&s->line, metres);
        brant_text_add(&s->line, first ? FIRM "km" : "");
        first = false;
    }
    brant_summary_flush(s, 2, false);
}

/* ---- what would change it -------------------------------------------------- */

static void add_reach(summary *s)
{
    brant_text_add(&s->line, "REACH");
    for (int i = 0; i < BRANT_SHOWN_ANGLES; i++) {
        double metres = brant_words_reached(s->report, s->tour, i);
        brant_text_add(&s->line, i == 0 ? " on release ground or under it at" FIRM "%.0f:" FIRM
                                        : ", at" FIRM "%.0f:" FIRM,
                       brant_words_angles[i]);
        if (isnan(metres)) {
            brant_text_add(&s->line, "not searched");
        } else {
            brant_words_km(&s->line, metres);
            brant_text_add(&s->line, i == 0 ? FIRM "km" : "");
        }
    }
    brant_summary_flush(s, 2, false);
}

/* "Reach angle 20: 1.3 km more under", where the shadow is known at both. */
static void add_if_flatter(summary *s)
{
    int last = BRANT_SHOWN_ANGLES - 1;
    double more = brant_words_reached(s->report, s->tour, last) -
                  brant_words_reached(s->report, s->tour, last - 1);
    if (isnan(more) || fabs(s->report->reach_angle_deg - brant_words_angles[last - 1]) > 0)
        return;
    brant_text_add(&s->line, s->line.length > strlen("IF ") ? "Reach" FIRM "angle" FIRM "%.0f: "
                                                            : "reach" FIRM "angle" FIRM "%.0f: ",
                   brant_words_angles[last]);
    brant_words_km(&s->line, more);
    brant_text_add(&s->line, FIRM "km more under. ");
}

/* What a little more would change. */
static void add_if(summary *s)
{
    brant_text_add(&s->line, "IF ");
    brant_summary_what_if(s);
    add_if_flatter(s);
    brant_text_add(&s->line, "%s +", s->line.length > strlen("IF ") ? "Slope" : "slope");
    if (isnan(s->report->vertical_error_m))
        brant_text_add(&s->line, "%.0f" FIRM "deg: ", BRANT_STEEPER_DEG);
    else
        brant_text_add(&s->line, "one error (heights +-%.4g" FIRM "m): ",
                       s->report->vertical_error_m);
    brant_words_km(&s->line, s->tour->steeper_m);
    brant_text_add(&s->line, FIRM "km more crosses");
    brant_summary_flush(s, 2, false);
}

/* ---- the model ---------------------------------------------------------- */

static void add_metres(brant_text *out, double metres)
{
    brant_text_number(out, metres, metres < 9.5 && fabs(metres - round(metres)) > 0.05 ? 1 : 0);
}

/* Two cells: from trials with pitches of 38 to 45 degrees on cell-mean models, a
 * pitch of that length keeps 30 degrees in most positions, a shorter one does not. */
static void add_cells(summary *s)
{
    double width = s->report->cell_m[0], height = s->report->cell_m[1];
    double larger = fmax(width, height);
    if (fabs(width - height) > 0.05 * larger) {
        add_metres(&s->line, width);
        brant_text_add(&s->line, FIRM "x" FIRM);
        add_metres(&s->line, height);
    } else {
        add_metres(&s->line, larger);
    }
    brant_text_add(&s->line, FIRM "m" FIRM "cells");
    if (s->report->factor > 1)
        brant_text_add(&s->line, " (mean of %d" FIRM "x" FIRM "%d in the file)", s->report->factor,
                       s->report->factor);
    brant_text_add(&s->line, ": pitches under ");
    add_metres(&s->line, 2 * larger);
    brant_text_add(&s->line, FIRM "m may be missed");
}

static void add_model(summary *s)
{
    const brant_report *report = s->report;
    brant_text_add(&s->line, "MODEL ");
    if (report->model)
        brant_words_clean(&s->line, report->model, " ");
    brant_text_add(&s->line, ", ");
    add_cells(s);
    if (report->vertical_unit && strstr(report->vertical_unit, "assumed"))
        brant_text_add(&s->line, ". Height unit: %s", report->vertical_unit);
    if (report->datum_accuracy_m > 1) {
        brant_text_add(&s->line, ". Datum shift good to ");
        add_metres(&s->line, report->datum_accuracy_m);
        brant_text_add(&s->line, FIRM "m");
    } else if (report->datum_accuracy_m < 0) {
        brant_text_add(&s->line, ". Datum shift of unstated accuracy");
    }
    brant_summary_flush(s, 2, false);
}

static void add_asked(summary *s)
{
    const brant_report *report = s->report;
    brant_text_add(&s->line, "ASKED start zones %.4g-%.4g" FIRM "deg, reach angle" FIRM "%.4g"
                   FIRM "deg, spread" FIRM "%.4g" FIRM "deg, edge" FIRM "%.4g" FIRM "m",
                   (double)report->band.low, (double)report->band.high, report->reach_angle_deg,
                   report->spread_deg, report->edge_m);
    if (report->zones_from) {
        brant_text_add(&s->line, ", zones from ");
        brant_words_clean(&s->line, report->zones_from, " ");
        if (report->own_angles > 0)
            brant_text_add(&s->line, ", %zu" FIRM "with %s own reach angle", report->own_angles,
                           report->own_angles > 1 ? "their" : "its");
    }
    brant_words_other_reach(&s->line, report->reach_angle_deg, report->own_angles > 0, FIRM "deg");
    brant_summary_flush(s, 2, false);
}

static void add_tour(summary *s, size_t index)
{
    s->tour = &s->report->tours[index];
    add_title(s, index);
    if (s->tour->leg_count == 0) {
        brant_text_add(&s->line, "No two points: no route to look at");
        brant_summary_flush(s, 2, false);
    } else {
        add_size(s);
        brant_summary_hours(s);
        brant_summary_bulletin(s);
        add_route(s);
        brant_summary_over(s);
        brant_summary_unknown(s);
        brant_summary_first(s);
        brant_summary_overs(s);
        brant_summary_waits(s);
        add_reach(s);
        add_if(s);
    }
}

/* The caution's lines as they are, or folded anew where they are too long. */
static void add_caution(summary *s)
{
    if (s->columns >= DEFAULT_COLUMNS) {
        brant_text_add(s->out, "%s", brant_caution);
        return;
    }
    for (const char *c = brant_caution; *c; c++)
        brant_text_add_bytes(&s->line, *c == '\n' ? " " : c, 1);
    brant_summary_flush(s, 0, false);
}

void brant_report_summary(const brant_report *report, brant_text *out)
{
    summary s = {.report = report, .out = out, .columns = report->columns};
    brant_summary_start(&s);
    if (s.columns <= 0)
        s.columns = DEFAULT_COLUMNS;
    if (s.columns < LEAST_COLUMNS)
        s.columns = LEAST_COLUMNS;
    for (size_t i = 0; i < report->tour_count; i++) {
        add_tour(&s, i);
        if (report->tour_count > 1)
            brant_text_add(out, "\n");
    }
    brant_summary_signs(&s);
    add_model(&s);
    add_asked(&s);
    add_caution(&s);
    brant_text_clear(&s.line);
}
