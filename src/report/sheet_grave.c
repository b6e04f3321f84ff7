/* Which legs come first on paper: their numbers are white on black, on the map, above the
 * profile and in the tables, and the front names the worst of them. */
#include "sheet_cells.h"

#include <math.h>
#include <stdio.h>
#include <string.h>

bool brant_sheet_is_grave(const brant_read_leg *leg)
{
    if (leg->kind == BRANT_KIND_UNKNOWN)
        return true;
    if (!leg->limit || strcmp(leg->limit, "not over") == 0)
        return false;
    /* a leg where nothing is met is not held against a level that is not stated */
    return leg->kind != BRANT_KIND_NONE_FOUND || strcmp(leg->limit, "not judged") != 0;
}

const char *brant_sheet_grave_words(const brant_sheet *s)
{
    bool limit = false, unknown = false;
    for (size_t i = 0; i < s->tour->leg_count; i++) {
        const brant_read_leg *leg = &s->tour->legs[i];
        bool over = leg->limit && strcmp(leg->limit, "over") == 0;
        limit |= over;
        unknown |= brant_sheet_is_grave(leg) && !over;
    }
    return limit && unknown ? "over limit, or unknown" : limit ? "over limit"
                                                      : unknown ? "unknown"
                                                                : NULL;
}

/* ---- numbers ------------------------------------------------------------ */

#define RIM 2.0

/* Set the number: bold, but of a leg where nothing is found. */
static brant_style set_number(const brant_read_leg *leg, char number[16])
{
    snprintf(number, 16, "%u", (unsigned)leg->number);
    return leg->kind == BRANT_KIND_NONE_FOUND ? brant_style_body : brant_style_bold;
}

double brant_sheet_number_width(brant_sheet *s, const brant_read_leg *leg)
{
    char number[16];
    brant_style style = set_number(leg, number);
    return brant_sheet_label(s, &style, 0, 0, number, false) +
           (brant_sheet_is_grave(leg) ? 2 * RIM : 0);
}

double brant_sheet_number(brant_sheet *s, const brant_read_leg *leg, double x, double y,
                          bool centred)
{
    char number[16];
    brant_style style = set_number(leg, number);
    bool grave = brant_sheet_is_grave(leg);
    double width = brant_sheet_number_width(s, leg), left = centred ? x - width / 2 : x;
    if (grave) {
        cairo_rectangle(s->cr, left, y + 0.2, width, 9.3);
        cairo_set_source_rgb(s->cr, 0, 0, 0);
        cairo_fill(s->cr);
        style.grey = 1;
    }
    brant_sheet_label(s, &style, left + (grave ? RIM : 0), y, number, true);
    return width;
}

/* ---- the worst ---------------------------------------------------------- */

#define SWATCH_AT 19.0
#define KIND_AT 34.0
#define GAP 5.0

static const struct {
    const char *title;
    brant_cell cell;
    double width; /* 0: what is left over */
} columns[] = {
    {"km", brant_cell_km, 52},
    {"in-out, planned", brant_cell_planned, 73},
    {"in-out, late", brant_cell_late, 62},
    {"level, limit", brant_cell_level_short, 62},
    {"slope that counts most; all above, reached at", brant_cell_above_short, 0},
};
#define COLUMNS (sizeof columns / sizeof *columns)
#define FIRST_COLUMN 82.0

static bool is_met(const brant_read_leg *leg)
{
    return leg->kind != BRANT_KIND_NONE_FOUND && leg->kind != BRANT_KIND_UNKNOWN;
}

static bool is_left_out(const brant_sheet *s, brant_cell cell)
{
    if (cell == brant_cell_planned || cell == brant_cell_late)
        return !s->plan->start.has_offset;
    return cell == brant_cell_level_short && !s->plan->has_bulletin;
}

/* One row at s->y, of `leg` or of the titles; its height. */
static double draw_row(brant_sheet *s, const brant_read_leg *leg)
{
    double x = BRANT_SHEET_LEFT + FIRST_COLUMN, height = 0;
    for (size_t i = 0; i < COLUMNS; i++) {
        double width = columns[i].width;
        brant_text text = {0};
        if (is_left_out(s, columns[i].cell))
            continue;
        if (width <= 0)
            width = s->width - BRANT_SHEET_MARGIN - x + GAP;
        if (leg)
            columns[i].cell(s, leg, &text);
        const char *words = !leg ? columns[i].title : text.failed ? NULL : text.data;
        height = fmax(height, brant_sheet_text(s, leg ? &brant_style_body : &brant_style_bold, x,
                                               s->y, width - GAP, words));
        brant_sheet_drop(s, &text);
        x += width;
    }
    return height;
}

static void draw_leg(brant_sheet *s, const brant_read_leg *leg)
{
    double left = BRANT_SHEET_LEFT;
    double number = brant_sheet_number(s, leg, left, s->y, false);
    double shift = fmax(0, number + 2 - SWATCH_AT);
    brant_kind_swatch(s->cr, leg->kind, left + SWATCH_AT + shift, s->y + 1, 12, 7.5);
    brant_sheet_label(s, &brant_style_body, left + KIND_AT + shift, s->y,
                      brant_kind_name(leg->kind), true);
    s->y += draw_row(s, leg) + 0.6;
}

void brant_sheet_first(brant_sheet *s, int most)
{
    const brant_read_tour *tour = s->tour;
    size_t met = 0;
    int shown = 0;
    char title[64];
    for (size_t i = 0; i < tour->leg_count; i++)
        met += is_met(&tour->legs[i]);
    if (met == 0)
        return;
    if (met > (size_t)most)
        snprintf(title, sizeof title, "FIRST %d of %zu", most, met);
    else
        snprintf(title, sizeof title, "FIRST");
    brant_sheet_label(s, &brant_style_bold, BRANT_SHEET_LEFT, s->y, title, true);
    s->y += draw_row(s, NULL) + 0.6;
    for (size_t i = 0; i < tour->leg_count && shown < most; i++) {
        const brant_read_leg *leg = &tour->legs[tour->ranked[i]];
        if (is_met(leg)) {
            draw_leg(s, leg);
            shown++;
        }
    }
    s->y += 2;
}
