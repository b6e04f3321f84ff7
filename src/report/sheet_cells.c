/* What the sheet says of a leg: the cells of its tables. */
#include "sheet_cells.h"

#include <math.h>
#include <string.h>

static void add_degrees(brant_text *out, double degrees, const char *aspect)
{
    brant_text_number(out, brant_text_whole(degrees), 0);
    brant_text_add(out, "\u00B0");
    if (aspect)
        brant_text_add(out, FIRM "%s", aspect);
}

/* ---- where and when ----------------------------------------------------- */

void brant_cell_kind(const brant_sheet *s, const brant_read_leg *leg, brant_text *out)
{
    (void)s;
    brant_text_add(out, "%s", leg->kind == BRANT_KIND_NONE_FOUND ? "none" FIRM "found"
                                                                 : brant_kind_name(leg->kind));
}

void brant_cell_km(const brant_sheet *s, const brant_read_leg *leg, brant_text *out)
{
    (void)s;
    brant_text stretch = {0};
    brant_words_stretch(&stretch, leg->from_m, leg->to_m);
    if (!stretch.failed) /* the column's title says km */
        brant_text_add_bytes(out, stretch.data, stretch.length - strlen(FIRM "km"));
    out->failed |= stretch.failed;
    brant_text_clear(&stretch);
}

static void add_hours(const brant_sheet *s, const brant_time *from, const brant_time *to,
                      brant_text *out)
{
    if (!from->has_offset || !to->has_offset)
        return;
    brant_sheet_clock(s, from, out);
    brant_text_add(out, "-");
    brant_sheet_clock(s, to, out);
}

void brant_cell_place(const brant_sheet *s, const brant_read_leg *leg, brant_text *out)
{
    brant_cell_km(s, leg, out);
    if (leg->arrive.has_offset)
        brant_text_add(out, "\n");
    add_hours(s, &leg->arrive, &leg->arrive_late, out);
}

void brant_cell_planned(const brant_sheet *s, const brant_read_leg *leg, brant_text *out)
{
    add_hours(s, &leg->arrive, &leg->leave, out);
}

void brant_cell_late(const brant_sheet *s, const brant_read_leg *leg, brant_text *out)
{
    add_hours(s, &leg->arrive_late, &leg->leave_late, out);
}

static void add_ground(const brant_read_leg *leg, const char *between, brant_text *out)
{
    if (isnan(leg->low_m) || isnan(leg->high_m))
        brant_text_add(out, "height not known");
    else
        brant_words_heights(out, leg->low_m, leg->high_m);
    brant_text_add(out, "%s", between);
    if (isnan(leg->steepest_deg))
        brant_text_add(out, "slope not known");
    else
        add_degrees(out, leg->steepest_deg, leg->aspect);
}

void brant_cell_ground(const brant_sheet *s, const brant_read_leg *leg, brant_text *out)
{
    (void)s;
    add_ground(leg, "\n", out);
}

void brant_cell_ground_line(const brant_sheet *s, const brant_read_leg *leg, brant_text *out)
{
    (void)s;
    add_ground(leg, ", ", out);
}

/* ---- level and limit ---------------------------------------------------- */

/* Does the rule have a limit for the level? Then none was applied for want of a dry slab. */
static bool is_without_slab(const brant_read_leg *leg)
{
    return !leg->limit && leg->level && leg->level[0] && strchr("234", leg->level[0]) &&
           !leg->level[1];
}

/* A word that somebody wrote into the plan is no 'not over'. */
static const char *name_limit(const brant_read_leg *leg)
{
    return strcmp(leg->limit, "over") == 0       ? "OVER"
           : strcmp(leg->limit, "not over") == 0 ? "not" FIRM "over"
                                                 : "not known if over";
}

static const char *name_ground(const char *ground)
{
    return !ground                               ? "to"
           : strcmp(ground, "whole slope") == 0     ? "slope"
           : strcmp(ground, "whole catchment") == 0 ? "catchment"
                                                    : "track";
}

static void add_limit(const brant_read_leg *leg, brant_text *out)
{
    if (!leg->limit) {
        if (is_without_slab(leg))
            brant_text_add(out, "\nlimit not applied (no dry slab named)");
    } else if (strcmp(leg->limit, "not judged") == 0) {
        brant_text_add(out, "\nlimit not judged");
    } else {
        brant_text_add(out, "\n%s" FIRM "%.0f\u00B0", name_limit(leg), leg->limit_deg);
        if (strcmp(leg->limit, "over") == 0 && !isnan(leg->limit_steepest_deg)) {
            brant_text_add(out, " (%s" FIRM, name_ground(leg->limit_ground));
            add_degrees(out, leg->limit_steepest_deg, NULL);
            brant_text_add(out, ")");
        }
    }
}

/* "persistent weak layer;gliding snow" as "weak layer, gliding": the head has them in full. */
static void add_problems(const char *problems, brant_text *out)
{
    static const char *const shorter[][2] = {{"persistent weak layer", "weak layer"},
                                             {"gliding snow", "gliding"},
                                             {"wet snow", "wet"}};
    for (bool first = true; *problems; first = false) {
        size_t length = strcspn(problems, ";");
        const char *name = problems;
        size_t letters = length;
        for (size_t i = 0; i < sizeof shorter / sizeof *shorter; i++)
            if (strlen(shorter[i][0]) == length && strncmp(problems, shorter[i][0], length) == 0)
                name = shorter[i][1], letters = strlen(name);
        brant_text_add(out, first ? " " : ", ");
        brant_text_add_bytes(out, name, letters);
        problems += length;
        problems += strspn(problems, "; ");
    }
}

void brant_cell_level(const brant_sheet *s, const brant_read_leg *leg, brant_text *out)
{
    (void)s;
    if (!leg->level)
        return;
    brant_text_add(out, "%s%s", leg->level, leg->level_lowered ? " (one lower, not stated)" : "");
    if (leg->problems)
        add_problems(leg->problems, out);
    add_limit(leg, out);
}

void brant_cell_level_short(const brant_sheet *s, const brant_read_leg *leg, brant_text *out)
{
    (void)s;
    if (!leg->level)
        return;
    brant_text_add(out, "%s", leg->level);
    if (leg->limit && strcmp(leg->limit, "not judged") == 0)
        brant_text_add(out, ", not judged");
    else if (leg->limit)
        brant_text_add(out, ", %s" FIRM "%.0f\u00B0", name_limit(leg), leg->limit_deg);
    else if (is_without_slab(leg))
        brant_text_add(out, ", limit not applied");
}

/* ---- sun and wind ------------------------------------------------------- */

/* The earliest that the sun can be there counts; the certain one beside it. */
void brant_cell_sun(const brant_sheet *s, const brant_read_leg *leg, brant_text *out)
{
    if (isnan(leg->sun_minutes))
        return;
    if (!leg->sun_from.has_offset) {
        brant_text_add(out, "after you");
        return;
    }
    brant_sheet_clock(s, &leg->sun_from, out);
    if (leg->sun_unknown > 0 && leg->sun_certain_from.has_offset) {
        brant_text_add(out, "\n(");
        brant_sheet_clock(s, &leg->sun_certain_from, out);
        brant_text_add(out, ")");
    } else if (leg->sun_unknown > 0) {
        brant_text_add(out, "\n(?)");
    }
}

void brant_cell_wind(const brant_sheet *s, const brant_read_leg *leg, brant_text *out)
{
    (void)s;
    if (!isnan(leg->governing_zone))
        brant_text_add(out, "%s", isnan(leg->sheltered)  ? "not known"
                                  : leg->sheltered > 0 ? "sheltered"
                                                       : "not sheltered");
}

/* ---- above -------------------------------------------------------------- */

/* The slope that counts most of all that the leg meets. */
static void add_governing(const brant_read_leg *leg, bool heights, brant_text *out)
{
    if (isnan(leg->governing_zone))
        return;
    add_degrees(out, leg->governing_steepest_deg, leg->governing_aspect);
    if (heights && !isnan(leg->governing_low_m) && !isnan(leg->governing_high_m)) {
        brant_text_add(out, ", ");
        brant_words_heights(out, leg->governing_low_m, leg->governing_high_m);
    }
    brant_text_add(out, ", face" FIRM);
    brant_words_area(out, leg->governing_face_m2);
}

static void add_zones(const brant_read_leg *leg, brant_text *out)
{
    if (!(leg->zones_above > 0))
        return;
    brant_text_add(out, "%s%.0f" FIRM "zone%s above, ", out->length > 0 ? "; " : "",
                   leg->zones_above, leg->zones_above > 1 ? "s" : "");
    brant_words_area(out, leg->area_above_m2);
    if (!isnan(leg->reached_at_deg)) {
        brant_text_add(out, ", at" FIRM);
        brant_text_number(out, brant_words_reached_at(leg->reached_at_deg), 0);
        brant_text_add(out, "\u00B0");
    }
}

static void add_run(long long from, long long to, brant_text *out)
{
    if (from < 1)
        return;
    brant_text_add(out, "%s%lld", out->length > 0 ? ", " : "", from);
    if (to > from)
        brant_text_add(out, "-%lld", to);
}

/* "15;19;20;Second party 3.20-3.65 km" as "15, 19-20, Second party 3.20-3.65 km". */
static void list_above_legs(const char *legs, brant_text *out)
{
    long long from = -1, to = -1; /* a run of numbers that is not yet written */
    while (*legs) {
        brant_text word = {0};
        long long number = -1;
        size_t length = strcspn(legs, ";");
        brant_text_add_bytes(&word, legs, length);
        legs += length + (legs[length] == ';');
        bool is_number = word.data && brant_parse_integer(word.data, 1, INT32_MAX, &number);
        if (!is_number || number != to + 1 || from < 1) {
            add_run(from, to, out);
            from = is_number ? number : -1;
        }
        to = number;
        if (!is_number && word.data)
            brant_text_add(out, "%s%s", out->length > 0 ? ", " : "", word.data);
        out->failed |= word.failed;
        brant_text_clear(&word);
    }
    add_run(from, to, out);
}

/* Where one's own line passes above. */
static void add_above_legs(const char *legs, brant_text *out)
{
    brant_text list = {0};
    list_above_legs(legs, &list);
    if (list.data)
        brant_text_add(out, "%sline" FIRM "above: %s", out->length > 0 ? "; " : "", list.data);
    out->failed |= list.failed;
    brant_text_clear(&list);
}

static void add_unknown(const brant_read_leg *leg, brant_text *out)
{
    if (leg->kind == BRANT_KIND_UNKNOWN || !(leg->unknown_above_m > 0))
        return;
    brant_text_add(out, "%sunknown" FIRM "above for" FIRM, out->length > 0 ? "; " : "");
    brant_words_length(out, leg->unknown_above_m);
}

void brant_cell_above(const brant_sheet *s, const brant_read_leg *leg, brant_text *out)
{
    (void)s;
    if (leg->kind == BRANT_KIND_UNKNOWN)
        brant_text_add(out, "UNKNOWN: %s",
                       leg->unknown_because ? leg->unknown_because : "ground not known");
    if (leg->kind == BRANT_KIND_UNKNOWN && !isnan(leg->governing_zone))
        brant_text_add(out, "; ");
    add_governing(leg, true, out);
    add_zones(leg, out);
    add_unknown(leg, out);
    if (leg->above_legs)
        add_above_legs(leg->above_legs, out);
}

void brant_cell_above_short(const brant_sheet *s, const brant_read_leg *leg, brant_text *out)
{
    (void)s;
    add_governing(leg, false, out);
    add_zones(leg, out);
    add_unknown(leg, out);
}

/* ---- below -------------------------------------------------------------- */

/* Metres stay with what they belong to, and are told apart by a comma: "gully 70 m, cliff
 * 220 m". */
static void add_below(const char *below, brant_text *out)
{
    while (*below) {
        if (strncmp(below, " then ", 6) == 0) {
            brant_text_add(out, ", ");
            below += 6;
        } else if (strcmp(below, " m") == 0 || strncmp(below, " m ", 3) == 0) {
            brant_text_add(out, FIRM "m");
            below += 2;
        } else {
            bool number = below[0] == ' ' && below[1] >= '0' && below[1] <= '9';
            brant_text_add_bytes(out, number ? FIRM : below, 1);
            below++;
        }
    }
}

void brant_cell_below(const brant_sheet *s, const brant_read_leg *leg, brant_text *out)
{
    (void)s;
    const char *below = leg->below ? leg->below : "";
    if (isnan(leg->in_gully)) { /* not known, or not sought */
        if (strcmp(below, "unknown") == 0 || (!*below && brant_kind_seeks_below(leg->kind)))
            brant_text_add(out, "not known");
        else
            add_below(below, out);
        return;
    }
    if (leg->in_gully > 0) { /* the gully of no metres is this one */
        bool same = strcmp(below, "gully") == 0 || strncmp(below, "gully then ", 11) == 0;
        brant_text_add(out, "in" FIRM "a" FIRM "gully");
        below += same ? strlen("gully") : 0;
        if (*below && !same)
            brant_text_add(out, "; ");
    } else if (!*below) {
        brant_text_add(out, "nothing" FIRM "found");
    }
    add_below(below, out);
}
