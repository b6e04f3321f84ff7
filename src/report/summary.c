/* The summary: what a guide reads first, by headlamp. */
#include "summary.h"

#include "day_words.h"
#include "fold.h"

#include <math.h>
#include <string.h>

/* Legs told in full; the rest are listed. */
#define FULL_LEGS 8
#define LISTED_LEGS BRANT_LISTED_LEGS
/* Legs told that are below others. */
#define TOLD_OVERS 6
#define DEFAULT_COLUMNS 79
#define LEAST_COLUMNS 30
/* Climb and descent that differ by less are one number. */
#define SAME_CLIMB_M 20.0

typedef brant_summary summary;

static void start_anew(summary *s)
{
    s->line.length = 0;
    brant_text_add(&s->line, "%s", ""); /* ends the text here */
}

static void flush(summary *s, int indent, bool bold)
{
    brant_summary_flush(s, indent, bold);
}

void brant_summary_flush(summary *s, int indent, bool bold)
{
    if (s->line.failed)
        s->out->failed = true;
    else
        brant_fold(s->out, s->line.data, s->columns, indent, bold);
    start_anew(s);
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
    flush(s, 2, false);
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
        flush(s, 2, false);
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
    flush(s, 2, false);
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
    flush(s, 2, false);
}

/* ---- unknown ------------------------------------------------------------ */

static bool is_unknown_so(const summary *s, const brant_leg *leg, unsigned reasons)
{
    return leg->kind == BRANT_KIND_UNKNOWN &&
           brant_words_unknown(s->report, s->tour, leg) == reasons;
}

/* "11 (8.10-8.40 km), 14 (9.00-9.02 km; above: ...)": the unknown legs that are so
 * for these reasons. */
static void list_unknown(summary *s, unsigned reasons, size_t count)
{
    size_t told = 0;
    double metres = 0;
    for (size_t i = 0; i < s->tour->leg_count; i++) {
        const brant_leg *leg = &s->tour->legs[i];
        if (!is_unknown_so(s, leg, reasons))
            continue;
        metres += leg->to_m - leg->from_m;
        if (told++ >= LISTED_LEGS)
            continue;
        brant_text_add(&s->line, told > 1 ? ", %u" FIRM "(" : "%u" FIRM "(", leg->number);
        brant_words_stretch(&s->line, leg->from_m, leg->to_m);
        brant_words_detail(s->report, s->tour, leg, &s->line);
        brant_text_add(&s->line, ")");
    }
    if (count > LISTED_LEGS) {
        brant_text_add(&s->line, " and %zu more, ", count - LISTED_LEGS);
        brant_words_km(&s->line, metres);
        brant_text_add(&s->line, FIRM "km in all");
    }
}

static void add_unknown_group(summary *s, unsigned reasons, bool first)
{
    const brant_leg *leg = NULL; /* the last of them */
    size_t count = 0;
    for (size_t i = 0; i < s->tour->leg_count; i++) {
        if (is_unknown_so(s, &s->tour->legs[i], reasons)) {
            leg = &s->tour->legs[i];
            count++;
        }
    }
    brant_text_add(&s->line, "%-7s ", first ? "UNKNOWN" : "");
    if (count == 1) {
        brant_text_add(&s->line, "leg" FIRM "%u, ", leg->number);
        brant_words_stretch(&s->line, leg->from_m, leg->to_m);
        brant_text_add(&s->line, ": ");
        brant_words_reasons(reasons, &s->line);
        brant_words_detail(s->report, s->tour, leg, &s->line);
    } else {
        brant_words_reasons(reasons, &s->line);
        brant_text_add(&s->line, ": legs" FIRM);
        list_unknown(s, reasons, count);
    }
    flush(s, 8, false);
}

static void add_unknown(summary *s)
{
    uint64_t present = 0; /* a bit for each set of reasons */
    bool first = true;
    for (size_t i = 0; i < s->tour->leg_count; i++)
        if (s->tour->legs[i].kind == BRANT_KIND_UNKNOWN)
            present |= UINT64_C(1)
                       << brant_words_unknown(s->report, s->tour, &s->tour->legs[i]);
    for (unsigned reasons = 0; reasons < 64; reasons++) {
        if (present & UINT64_C(1) << reasons) {
            add_unknown_group(s, reasons, first);
            first = false;
        }
    }
}

/* ---- legs --------------------------------------------------------------- */

static bool is_told(const brant_leg *leg)
{
    return leg->kind != BRANT_KIND_NONE_FOUND && leg->kind != BRANT_KIND_UNKNOWN;
}

static size_t count_told(const brant_tour *tour)
{
    size_t count = 0;
    for (size_t i = 0; i < tour->leg_count; i++)
        count += is_told(&tour->legs[i]);
    return count;
}

/* Digits of the largest leg number, at least 2. */
static int number_width(const brant_tour *tour)
{
    int width = 1;
    for (size_t count = tour->leg_count; count >= 10; count /= 10)
        width++;
    return width < 2 ? 2 : width;
}

static void add_leg(summary *s, const brant_leg *leg)
{
    int width = number_width(s->tour);
    int indent = width + 11; /* number, blank, kind of at most 9 letters, blank */
    brant_text_add(&s->line, "%*u %-9s ", width, leg->number, brant_kind_name(leg->kind));
    brant_words_stretch(&s->line, leg->from_m, leg->to_m);
    if (brant_words_has_hours(s->report) && !isnan(leg->arrive_s)) {
        brant_text_add(&s->line, ", ");
        brant_words_hours(s->report, leg, &s->line);
    }
    if (!isnan(leg->low_m) && !isnan(leg->high_m)) {
        brant_text_add(&s->line, ", you at" FIRM);
        brant_words_heights(&s->line, leg->low_m, leg->high_m);
    }
    flush(s, indent, s->report->bold);
    brant_text_add(&s->line, "%*s", indent, "");
    size_t before = s->line.length;
    brant_words_day(s->report, s->tour, leg, &s->line);
    if (s->line.length > before)
        flush(s, indent, false);
    start_anew(s);
    brant_text_add(&s->line, "%*s", indent, "");
    before = s->line.length;
    brant_words_detail(s->report, s->tour, leg, &s->line);
    if (s->line.length > before)
        flush(s, indent, false);
    start_anew(s);
}

/* Legs that are not told in full, gathered for one line. */
typedef struct gathered {
    brant_text numbers; /* " 2 6 15", at most LISTED_LEGS */
    size_t count;
    double metres;
    float low_deg, high_deg; /* reached at */
    brant_level level;       /* the highest */
} gathered;

static void gather(gathered *g, const brant_leg *leg, double metres)
{
    if (g->count++ < LISTED_LEGS)
        brant_text_add(&g->numbers, " %u", leg->number);
    g->metres += metres;
    g->low_deg = fminf(g->low_deg, leg->reached_at_deg);
    g->high_deg = fmaxf(g->high_deg, leg->reached_at_deg);
    g->level = brant_level_higher(g->level, leg->level);
}

/* "Also under: legs 2 6 15, reached at 25-27 deg"; of many "Also under: 57 legs,
 * 3.1 km, reached at 25-46 deg, first 2 6 15 ..." */
static void add_gathered(summary *s, const char *what, gathered *g, bool reached)
{
    bool many = g->count > LISTED_LEGS;
    if (g->count > 0 && !g->numbers.failed) {
        brant_text_add(&s->line, "Also %s: ", what);
        if (many) {
            brant_text_add(&s->line, "%zu" FIRM "legs, ", g->count);
            brant_words_km(&s->line, g->metres);
            brant_text_add(&s->line, FIRM "km");
        } else {
            brant_text_add(&s->line, "leg%s%s", g->count > 1 ? "s" : "", g->numbers.data);
        }
        if (reached) {
            brant_text_add(&s->line, ", reached at" FIRM "%.0f", (double)g->low_deg);
            if (round(g->low_deg) != round(g->high_deg))
                brant_text_add(&s->line, "-%.0f", (double)g->high_deg);
            brant_text_add(&s->line, FIRM "deg");
        }
        if (brant_words_bulletin(s->report) && g->level != BRANT_LEVEL_NONE) {
            brant_text_add(&s->line, g->count > 1 ? ", highest" FIRM : ", ");
            brant_words_level(g->level, false, &s->line);
        }
        brant_text_add(&s->line, "%s%s", many ? ", first" : "", many ? g->numbers.data : "");
        flush(s, 2, false);
    }
    s->out->failed |= g->numbers.failed;
    brant_text_clear(&g->numbers);
}

/* Those of one kind from rank `from` on. */
static void add_also(summary *s, size_t from, brant_kind kind)
{
    gathered g = {.low_deg = INFINITY};
    for (size_t i = from; i < s->tour->leg_count; i++) {
        const brant_leg *leg = &s->tour->legs[s->tour->rank[i]];
        if (leg->kind == kind)
            gather(&g, leg, leg->to_m - leg->from_m);
    }
    add_gathered(s, brant_kind_name(kind), &g, kind == BRANT_KIND_UNDER);
}

/* Unknown above legs that are named by another kind, from rank `from` on: those
 * before it say so themselves. */
static void add_unknown_above(summary *s, size_t from)
{
    gathered g = {.low_deg = INFINITY};
    for (size_t i = from; i < s->tour->leg_count; i++) {
        const brant_leg *leg = &s->tour->legs[s->tour->rank[i]];
        if (is_told(leg) && leg->unknown_above_m > 0)
            gather(&g, leg, leg->unknown_above_m);
    }
    add_gathered(s, "unknown above", &g, false);
}

static void add_first(summary *s)
{
    const brant_tour *tour = s->tour;
    size_t told = count_told(tour), full = 0, rank = 0;
    if (told == 0 && !(tour->metres[BRANT_KIND_NONE_FOUND] > 0))
        return; /* all unknown, which was said */
    if (told == 0) {
        brant_text_add(&s->line, "FIRST no release ground found on, beside or above the route");
        if (tour->metres[BRANT_KIND_UNKNOWN] > 0)
            brant_text_add(&s->line, " where the ground is known");
        flush(s, 2, false);
        return;
    }
    brant_text_add(&s->line, "FIRST");
    if (told > FULL_LEGS)
        brant_text_add(&s->line, " %d of %zu legs", FULL_LEGS, told);
    brant_text_add(&s->line, brant_words_has_hours(s->report)
                                 ? " (times planned-late; slopes by their steepest part)"
                                 : " (slopes by their steepest part)");
    flush(s, 2, false);
    for (; rank < tour->leg_count && full < FULL_LEGS; rank++) {
        const brant_leg *leg = &tour->legs[tour->rank[rank]];
        if (is_told(leg)) {
            add_leg(s, leg);
            full++;
        }
    }
    for (brant_kind kind = BRANT_KIND_CROSSES; kind <= BRANT_KIND_REMOTE; kind++)
        add_also(s, rank, kind);
    add_unknown_above(s, rank);
    brant_summary_sun_note(s);
}

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
    flush(s, 2, false);
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
    flush(s, 2, false);
}

/* ---- above your own line ------------------------------------------------ */

/* Legs `first`..end-1 of tour->overs, which are above one: "legs 17 21-23 above leg 26".
 * Own legs come before others'. */
static void add_overs_of_one(summary *s, size_t first, size_t end)
{
    const brant_over *overs = s->tour->overs, *lower = &overs[first];
    for (size_t i = first; i < end; i++) {
        size_t last = i;
        while (overs[i].upper_tour == BRANT_OWN && last + 1 < end &&
               overs[last + 1].upper_tour == BRANT_OWN &&
               overs[last + 1].upper == overs[last].upper + 1)
            last++;
        if (overs[i].upper_tour != BRANT_OWN)
            brant_text_add(&s->line, i > first ? ", " : "");
        else if (i > first)
            brant_text_add(&s->line, FIRM);
        else
            brant_text_add(&s->line, end > first + 1 && overs[first + 1].upper_tour == BRANT_OWN
                                         ? "legs" FIRM : "leg" FIRM);
        brant_words_over(s->report, overs[i].upper_tour, overs[i].upper, &s->line);
        if (last > i)
            brant_text_add(&s->line, "-%u", overs[last].upper);
        i = last;
    }
    brant_text_add(&s->line, lower->lower_tour == BRANT_OWN ? " above leg" FIRM : " above ");
    brant_words_over(s->report, lower->lower_tour, lower->lower, &s->line);
}

static bool same_lower(const brant_over *a, const brant_over *b)
{
    return a->lower_tour == b->lower_tour && a->lower == b->lower;
}

/* "LINE  leg 8 above leg 4; legs 22 24 above leg 26" */
static void add_overs(summary *s)
{
    const brant_tour *tour = s->tour;
    size_t lower = 0, first, end;
    if (tour->over_count == 0)
        return;
    brant_text_add(&s->line, "LINE  ");
    for (first = 0; first < tour->over_count; first = end) {
        for (end = first + 1;
             end < tour->over_count && same_lower(&tour->overs[first], &tour->overs[end]);)
            end++;
        if (lower++ >= TOLD_OVERS)
            continue;
        brant_text_add(&s->line, "%s", first > 0 ? "; " : "");
        add_overs_of_one(s, first, end);
    }
    if (lower > TOLD_OVERS)
        brant_text_add(&s->line, "; and above %zu more", lower - TOLD_OVERS);
    flush(s, 6, false);
}

/* ---- where to wait ------------------------------------------------------ */

/* "3.05, 3.80 km"; of many the first and how many more. */
static void list_waits(summary *s)
{
    const brant_tour *tour = s->tour;
    bool told_km = false;
    for (size_t i = 0; i < tour->wait_count && i < LISTED_LEGS; i++) {
        brant_text_add(&s->line, "%s", i > 0 ? ", " : "");
        brant_text_number(&s->line, tour->waits[i].along_m / 1000.0, 2);
        told_km = brant_summary_leave_by(s, &tour->waits[i]);
    }
    if (!told_km)
        brant_text_add(&s->line, FIRM "km");
    if (tour->wait_count > LISTED_LEGS)
        brant_text_add(&s->line, " and %zu more", tour->wait_count - LISTED_LEGS);
    brant_text_add(&s->line, ": outside reach at" FIRM "%.0f", BRANT_WAIT_DEG);
}

/* "; no place before 0.00-1.34 km": the exposed stretches that lack one on this side. Not
 * "none found", which is said of ground. */
static void list_without(summary *s, bool before)
{
    size_t count = 0;
    for (size_t i = 0; i < s->tour->stretch_count; i++) {
        const brant_stretch *stretch = &s->tour->stretches[i];
        if ((before ? stretch->before : stretch->after) != BRANT_NO_WAIT)
            continue;
        if (count++ == 0)
            brant_text_add(&s->line, s->tour->wait_count > 0 ? "; no place %s " : "no place %s ",
                           before ? "before" : "after");
        else if (count <= LISTED_LEGS)
            brant_text_add(&s->line, ", ");
        if (count <= LISTED_LEGS)
            brant_words_stretch(&s->line, stretch->from_m, stretch->to_m);
    }
    if (count > LISTED_LEGS)
        brant_text_add(&s->line, " and %zu more", count - LISTED_LEGS);
}

static void add_waits(summary *s)
{
    const brant_tour *tour = s->tour;
    if (tour->waits_unknown) {
        brant_text_add(&s->line, "WAIT  not known: the shadow at" FIRM "%.0f was not searched",
                       BRANT_WAIT_DEG);
    } else {
        size_t nowhere = 0;
        for (size_t i = 0; i < tour->stretch_count; i++)
            nowhere += tour->stretches[i].before == BRANT_NO_WAIT &&
                       tour->stretches[i].after == BRANT_NO_WAIT;
        if (tour->stretch_count == 0)
            return;
        brant_text_add(&s->line, "WAIT  ");
        if (tour->wait_count > 0)
            list_waits(s);
        if (nowhere == tour->stretch_count) {
            brant_text_add(&s->line, "no place found outside reach at" FIRM "%.0f", BRANT_WAIT_DEG);
        } else {
            list_without(s, true);
            list_without(s, false);
        }
    }
    flush(s, 6, false);
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
    flush(s, 2, false);
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
    flush(s, 2, false);
}

static void add_tour(summary *s, size_t index)
{
    s->tour = &s->report->tours[index];
    add_title(s, index);
    if (s->tour->leg_count == 0) {
        brant_text_add(&s->line, "No two points: no route to look at");
        flush(s, 2, false);
    } else {
        add_size(s);
        brant_summary_hours(s);
        brant_summary_bulletin(s);
        add_route(s);
        brant_summary_over(s);
        add_unknown(s);
        add_first(s);
        add_overs(s);
        add_waits(s);
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
    flush(s, 0, false);
}

void brant_report_summary(const brant_report *report, brant_text *out)
{
    summary s = {.report = report, .out = out, .columns = report->columns};
    start_anew(&s);
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
