/* The sheet's head: tour, day, bulletin, what the route meets, model. */
#include "day_words.h"
#include "sheet.h"

#include <math.h>
#include <string.h>

/* Climb and descent that differ by less are one number. */
#define SAME_CLIMB_M 20.0
/* The most leg numbers in a list. */
#define LISTED 24
/* The most with the place of each. */
#define PLACED 5

void brant_sheet_clock(const brant_sheet *s, const brant_time *time, brant_text *out)
{
    if (!time->has_offset)
        return;
    /* to the minute, rounded: a plan to the second would be none */
    brant_time moment = brant_time_at((time->utc_s + 30) / 60 * 60, time->offset_min);
    const brant_time *start = &s->plan->start;
    if (start->has_offset && brant_time_midnight(&moment) != brant_time_midnight(start))
        brant_text_day_clock(out, &moment);
    else
        brant_text_clock(out, &moment);
}

/* ---- tour and day ------------------------------------------------------- */

static void add_hour(brant_sheet *s, const char *what, const brant_time *planned,
                     const brant_time *late, brant_text *line)
{
    brant_text_add(line, ". %s ", what);
    brant_sheet_clock(s, planned, line);
    brant_text_add(line, " (late" FIRM);
    brant_sheet_clock(s, late, line);
    brant_text_add(line, ")");
}

static void add_heights(const brant_read_tour *tour, brant_text *line)
{
    double low = INFINITY, high = -INFINITY;
    size_t unknown = 0;
    for (size_t i = 0; i < tour->point_count; i++) {
        low = fmin(low, tour->points[i].elevation_m);
        high = fmax(high, tour->points[i].elevation_m);
        unknown += isnan(tour->points[i].elevation_m) != 0;
    }
    if (unknown == tour->point_count) {
        brant_text_add(line, ", heights not known");
        return;
    }
    brant_text_add(line, ", ");
    brant_text_thousands(line, tour->up_m);
    if (fabs(tour->up_m - tour->down_m) <= SAME_CLIMB_M) {
        brant_text_add(line, FIRM "m up and down");
    } else {
        brant_text_add(line, FIRM "m up, ");
        brant_text_thousands(line, tour->down_m);
        brant_text_add(line, FIRM "m down");
    }
    brant_text_add(line, ", at" FIRM);
    brant_words_heights(line, low, high);
    brant_text_add(line, "%s", unknown > 0 ? " (known heights only)" : "");
}

static void add_size(brant_sheet *s)
{
    const brant_read_tour *tour = s->tour;
    const brant_read_leg *last = &tour->legs[tour->leg_count - 1];
    brant_text line = {0};
    brant_words_km(&line, tour->length_m);
    brant_text_add(&line, FIRM "km");
    add_heights(tour, &line);
    if (tour->high_arrive.has_offset && tour->high_point > 0 &&
        tour->high_point + 1 < tour->point_count)
        add_hour(s, "High point", &tour->high_arrive, &tour->high_arrive_late, &line);
    if (last->leave.has_offset)
        add_hour(s, "End", &last->leave, &last->leave_late, &line);
    if (last->leave.has_offset && s->plan->out_by.has_offset) {
        brant_text hour = {0};
        brant_sheet_clock(s, &s->plan->out_by, &hour);
        brant_words_out_by(&hour, last->leave.utc_s <= s->plan->out_by.utc_s,
                           last->leave_late.utc_s <= s->plan->out_by.utc_s, &line);
    }
    if (tour->timed_as_straight_m > 0) {
        brant_text_add(&line, "; ");
        brant_words_km(&line, tour->timed_as_straight_m);
        brant_text_add(&line, FIRM "km of unknown height timed as if straight");
    }
    brant_sheet_paragraph_of(s, "", &line);
}

/* Name on the left, date and start on the right. */
static void add_title(brant_sheet *s)
{
    brant_style when = brant_style_head;
    brant_text day = {0};
    double room = 0;
    when.size = 11;
    when.right = true;
    if (s->plan->start.has_offset) {
        brant_text_day(&day, &s->plan->start);
        brant_text_add(&day, ", start" FIRM);
        brant_text_clock(&day, &s->plan->start);
        if (!day.failed)
            room = 12 + brant_sheet_label(s, &when, s->width - BRANT_SHEET_MARGIN, s->y + 3,
                                          day.data, true);
    }
    const char *name = s->tour->route[0] ? s->tour->route : "Route without a name";
    s->y += 2 + brant_sheet_text(s, &brant_style_head, BRANT_SHEET_LEFT, s->y,
                                 brant_sheet_inner(s) - room, name);
    brant_sheet_drop(s, &day);
}

/* ---- the bulletin ------------------------------------------------------- */

static void add_validity(brant_sheet *s, brant_text *line)
{
    const brant_bulletin *bulletin = &s->plan->bulletin;
    if (bulletin->by_hand)
        return;
    brant_text_add(line, ", ");
    if (s->plan->start.has_offset) {
        brant_text_validity(line, bulletin, s->plan->start.offset_min);
        return;
    }
    brant_text_validity_dates(line, bulletin);
    brant_text_add(line, " (no start given: whether that covers the tour is not known)");
}

static void add_not_covered(brant_sheet *s)
{
    const brant_time *start = &s->plan->start;
    const brant_time *end = &s->tour->legs[s->tour->leg_count - 1].leave_late;
    brant_text why = {0}, line = {0};
    if (!start->has_offset || !end->has_offset)
        return;
    if (!brant_bulletin_covers(&s->plan->bulletin, start->utc_s, end->utc_s, start->offset_min,
                               &why))
        brant_text_add(&line, "%s", why.failed ? "" : why.data);
    brant_sheet_paragraph_of(s, "THE BULLETIN DOES NOT COVER THE TOUR", &line);
    brant_sheet_drop(s, &why);
}

static void add_bulletin(brant_sheet *s)
{
    const brant_bulletin *bulletin = &s->plan->bulletin;
    brant_text line = {0};
    if (!s->plan->has_bulletin) {
        brant_sheet_paragraph(s, "BULLETIN", "none given: levels and limits not shown");
        return;
    }
    brant_text_region(&line, bulletin);
    add_validity(s, &line);
    brant_text_add(&line, ": danger level ");
    brant_text_ratings(&line, bulletin);
    brant_sheet_paragraph_of(s, "BULLETIN", &line);
    for (size_t i = 0; i < bulletin->problem_count; i++) {
        brant_text_add(&line, "%s", i > 0 ? "; " : "");
        brant_text_problem(&line, &bulletin->problems[i]);
    }
    brant_sheet_paragraph_of(s, "PROBLEMS", &line);
    add_not_covered(s);
}

/* ---- what the route meets ----------------------------------------------- */

static void add_route(brant_sheet *s)
{
    static const brant_kind order[BRANT_KINDS] = {
        BRANT_KIND_CROSSES, BRANT_KIND_OVER_BAND, BRANT_KIND_EDGE, BRANT_KIND_UNDER,
        BRANT_KIND_REMOTE,  BRANT_KIND_UNKNOWN,   BRANT_KIND_NONE_FOUND,
    };
    brant_text line = {0};
    for (int i = 0; i < BRANT_KINDS; i++) {
        double metres = s->tour->metres[order[i]];
        if (!(metres > 0))
            continue;
        brant_text_add(&line, "%s%s" FIRM, line.length > 0 ? ", " : "",
                       order[i] == BRANT_KIND_NONE_FOUND ? "none found"
                                                         : brant_kind_name(order[i]));
        brant_words_km(&line, metres);
        brant_text_add(&line, FIRM "km");
    }
    brant_sheet_paragraph_of(s, "ROUTE", &line);
}

#define UNKNOWN "unknown"     /* ground */
#define ABOVE "unknown above" /* of a leg that another kind names */

/* Does the leg stand so to the limit, or is it unknown? A leg where nothing is met is not held
 * against what is not stated. */
static bool is_so(const brant_read_leg *leg, const char *how)
{
    if (strcmp(how, UNKNOWN) == 0)
        return leg->kind == BRANT_KIND_UNKNOWN;
    if (strcmp(how, ABOVE) == 0)
        return leg->kind != BRANT_KIND_UNKNOWN && leg->unknown_above_m > 0;
    if (!leg->limit || strcmp(leg->limit, how) != 0)
        return false;
    return leg->kind != BRANT_KIND_NONE_FOUND || strcmp(how, "not judged") != 0;
}

static double metres_so(const brant_read_leg *leg, const char *how)
{
    if (strcmp(how, ABOVE) == 0)
        return leg->unknown_above_m;
    if (strcmp(how, "over") == 0 && !isnan(leg->over_limit_m))
        return leg->over_limit_m;
    return leg->to_m - leg->from_m;
}

/* "over: 0.9 km, legs 8 4 ..." behind what `line` holds, worst first; nothing if there are
 * none. */
static void list_legs(const brant_read_tour *tour, const char *how, const char *words,
                      brant_text *line)
{
    brant_text numbers = {0};
    double metres = 0;
    size_t count = 0;
    for (size_t i = 0; i < tour->leg_count; i++) {
        const brant_read_leg *leg = &tour->legs[tour->ranked[i]];
        if (!is_so(leg, how))
            continue;
        metres += metres_so(leg, how);
        if (count++ < LISTED)
            brant_text_add(&numbers, " %u", leg->number);
        if (count <= PLACED && strcmp(how, UNKNOWN) == 0) {
            brant_text_add(&numbers, FIRM "(");
            brant_words_stretch(&numbers, leg->from_m, leg->to_m);
            brant_text_add(&numbers, ")");
        }
    }
    if (count > 0) {
        brant_text_add(line, "%s%s: ", line->length > 0 ? ". " : "", words);
        brant_words_km(line, metres);
        brant_text_add(line, FIRM "km, leg%s%s", count > 1 ? "s" : "",
                       numbers.failed ? "" : numbers.data);
        if (count > LISTED)
            brant_text_add(line, " and %zu more", count - LISTED);
    }
    line->failed |= numbers.failed;
    brant_text_clear(&numbers);
}

/* What could not be judged comes first: it is not what is not over. */
static void add_limits(brant_sheet *s)
{
    const brant_read_tour *tour = s->tour;
    brant_text line = {0};
    list_legs(tour, UNKNOWN, "Ground, or what lies above it", &line);
    list_legs(tour, ABOVE, "Above legs of another kind", &line);
    brant_sheet_paragraph_of(s, "UNKNOWN", &line);
    if (!s->plan->has_bulletin)
        return;
    list_legs(tour, "not judged", "Not judged, as the level is no number or 5", &line);
    list_legs(tour, "not known", "Not known whether over, as steepness is not", &line);
    size_t before = line.length;
    list_legs(tour, "over", "Over the elementary limit, worst first", &line);
    if (line.length == before)
        brant_text_add(&line, "%sNo leg found over the elementary limit, of those that have one "
                              "and could be judged", before > 0 ? ". " : "");
    brant_sheet_paragraph_of(s, "LIMIT", &line);
}

/* ---- model and options -------------------------------------------------- */

static void add_model(brant_sheet *s)
{
    const brant_read_plan *plan = s->plan;
    brant_text line = {0};
    double cell = fmax(plan->cell_m[0], plan->cell_m[1]);
    brant_text_add(&line, "%s, cells of %.*f" FIRM "m%s: pitches under %.0f" FIRM
                          "m may be missed. Start zones %.4g-%.4g\u00B0, reach angle %.4g\u00B0, "
                          "spread %.4g\u00B0, edge %.4g" FIRM "m",
                   plan->model, cell < 9.95 ? 1 : 0, cell,
                   plan->cells_averaged > 1 ? " (averaged)" : "", 2 * cell, plan->band_deg[0],
                   plan->band_deg[1], plan->reach_angle_deg, plan->spread_deg, plan->edge_m);
    if (plan->zones_from)
        brant_text_add(&line, ", zones from %s", plan->zones_from);
    if (plan->own_angles > 0)
        brant_text_add(&line, ", some with a reach angle of their own");
    brant_words_other_reach(&line, plan->reach_angle_deg, plan->own_angles > 0, "\u00B0");
    if (plan->vertical_unit && strstr(plan->vertical_unit, "assumed"))
        brant_text_add(&line, ". Height unit: %s", plan->vertical_unit);
    if (isnan(plan->datum_accuracy_m))
        brant_text_add(&line, ". Datum shift of unstated accuracy");
    else if (plan->datum_accuracy_m > 1)
        brant_text_add(&line, ". Datum shift good to %.0f" FIRM "m", plan->datum_accuracy_m);
    brant_sheet_paragraph_of(s, "MODEL", &line);
}

void brant_sheet_head(brant_sheet *s)
{
    add_title(s);
    add_size(s);
    add_model(s);
    add_bulletin(s);
    add_route(s);
    add_limits(s);
    s->y += 2;
}
