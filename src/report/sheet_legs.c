/* The table of legs: what each meets, what hangs above it and what lies below. */
#include "sheet.h"

#include <math.h>
#include <string.h>

#define PAD 2.5
#define SWATCH 9.0

typedef void (*cell_fn)(const brant_sheet *s, const brant_read_leg *leg, brant_text *out);

/* ---- cells -------------------------------------------------------------- */

static void add_degrees(brant_text *out, double degrees, const char *aspect)
{
    brant_text_number(out, degrees, 0);
    brant_text_add(out, "\u00B0");
    if (aspect)
        brant_text_add(out, FIRM "%s", aspect);
}

static void leg_cell(const brant_sheet *s, const brant_read_leg *leg, brant_text *out)
{
    (void)s;
    brant_text_add(out, "%u", leg->number);
}

static void kind_cell(const brant_sheet *s, const brant_read_leg *leg, brant_text *out)
{
    (void)s;
    brant_text_add(out, "%s",
                   leg->kind == BRANT_KIND_NONE_FOUND ? "none found" : brant_kind_name(leg->kind));
}

static void km_cell(const brant_sheet *s, const brant_read_leg *leg, brant_text *out)
{
    (void)s;
    brant_text stretch = {0};
    brant_words_stretch(&stretch, leg->from_m, leg->to_m);
    if (!stretch.failed) /* the column's title says km */
        brant_text_add_bytes(out, stretch.data, stretch.length - strlen(FIRM "km"));
    out->failed |= stretch.failed;
    brant_text_clear(&stretch);
}

/* Where and when: two lines. */
static void place_cell(const brant_sheet *s, const brant_read_leg *leg, brant_text *out)
{
    km_cell(s, leg, out);
    if (!leg->arrive.has_offset)
        return;
    brant_text_add(out, "\n");
    brant_sheet_clock(s, &leg->arrive, out);
    brant_text_add(out, "-");
    brant_sheet_clock(s, &leg->arrive_late, out);
}

/* Where one is oneself, and how steep it is at the steepest. */
static void ground_cell(const brant_sheet *s, const brant_read_leg *leg, brant_text *out)
{
    (void)s;
    if (isnan(leg->low_m) || isnan(leg->high_m))
        brant_text_add(out, "height not known");
    else
        brant_words_heights(out, leg->low_m, leg->high_m);
    brant_text_add(out, "\n");
    if (isnan(leg->steepest_deg))
        brant_text_add(out, "slope not known");
    else
        add_degrees(out, leg->steepest_deg, leg->aspect);
}

static void add_limit(const brant_read_leg *leg, brant_text *out)
{
    if (!leg->limit) {
        if (leg->level && strchr("234", leg->level[0]) && !leg->level[1])
            brant_text_add(out, "; limit not applied (no dry slab named)");
    } else if (strcmp(leg->limit, "not judged") == 0) {
        brant_text_add(out, "; limit not judged");
    } else {
        bool over = strcmp(leg->limit, "over") == 0;
        bool unknown = strcmp(leg->limit, "not known") == 0;
        brant_text_add(out, "; %s" FIRM "%.0f\u00B0",
                       over ? "OVER" : unknown ? "not known whether over" : "not" FIRM "over",
                       leg->limit_deg);
        if (over && !isnan(leg->limit_steepest_deg) && leg->limit_ground) {
            brant_text_add(out, " (%s" FIRM, leg->limit_ground);
            add_degrees(out, leg->limit_steepest_deg, NULL);
            brant_text_add(out, ")");
        }
    }
}

static void level_cell(const brant_sheet *s, const brant_read_leg *leg, brant_text *out)
{
    (void)s;
    if (!leg->level)
        return;
    brant_text_add(out, "%s%s", leg->level, leg->level_lowered ? " (one lower, not stated)" : "");
    if (leg->problems)
        brant_text_add(out, " %s", leg->problems);
    add_limit(leg, out);
}

/* The earliest that the sun can be there counts; the certain one beside it. */
static void sun_cell(const brant_sheet *s, const brant_read_leg *leg, brant_text *out)
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

static void wind_cell(const brant_sheet *s, const brant_read_leg *leg, brant_text *out)
{
    (void)s;
    if (!isnan(leg->governing_zone))
        brant_text_add(out, "%s", isnan(leg->sheltered)  ? "not known"
                                  : leg->sheltered > 0 ? "sheltered"
                                                       : "not sheltered");
}

/* The slope that counts most of all that the leg meets. */
static void add_governing(const brant_read_leg *leg, brant_text *out)
{
    if (isnan(leg->governing_zone))
        return;
    add_degrees(out, leg->governing_steepest_deg, leg->governing_aspect);
    if (!isnan(leg->governing_low_m) && !isnan(leg->governing_high_m)) {
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
        brant_text_add(out, ", reached at" FIRM);
        /* down: what is not reached at an angle is not said to be */
        brant_text_number(out, floor(leg->reached_at_deg), 0);
        brant_text_add(out, "\u00B0");
    }
}

static void above_cell(const brant_sheet *s, const brant_read_leg *leg, brant_text *out)
{
    (void)s;
    if (leg->kind == BRANT_KIND_UNKNOWN)
        brant_text_add(out, "UNKNOWN: %s",
                       leg->unknown_because ? leg->unknown_because : "ground not known");
    if (leg->kind == BRANT_KIND_UNKNOWN && !isnan(leg->governing_zone))
        brant_text_add(out, "; ");
    add_governing(leg, out);
    add_zones(leg, out);
    if (leg->kind != BRANT_KIND_UNKNOWN && leg->unknown_above_m > 0) {
        brant_text_add(out, "%sunknown above for" FIRM, out->length > 0 ? "; " : "");
        brant_words_length(out, leg->unknown_above_m);
    }
    if (leg->above_legs)
        brant_text_add(out, "%syour line above: legs %s", out->length > 0 ? "; " : "",
                       leg->above_legs);
    for (size_t i = 0; leg->above_legs && !out->failed && i < out->length; i++)
        if (out->data[i] == ';' && out->data[i + 1] != ' ')
            out->data[i] = ','; /* between legs */
}

static void below_cell(const brant_sheet *s, const brant_read_leg *leg, brant_text *out)
{
    (void)s;
    if (isnan(leg->in_gully)) {
        if (leg->kind == BRANT_KIND_UNKNOWN)
            brant_text_add(out, "not known");
        return;
    }
    brant_text_add(out, "%s", leg->below ? leg->below : "nothing found");
    if (leg->in_gully > 0)
        brant_text_add(out, "; you are in a gully");
}

/* ---- columns ------------------------------------------------------------ */

typedef struct column {
    const char *title;
    cell_fn cell;
    double width; /* points, at least */
    double share; /* of what is left over */
} column;

#define COLUMNS 9
static const column all_columns[COLUMNS] = {
    {"leg", leg_cell, 20, 0},
    {"kind", kind_cell, 60, 0},
    {"km, hours\nplanned-late", place_cell, 58, 0},
    {"you: height,\nsteepest", ground_cell, 64, 0},
    {"level, problem;\nlimit (rule for dry slabs)", level_cell, 90, 2},
    {"sun on\nit from", sun_cell, 34, 0},
    {"wind", wind_cell, 46, 0},
    {"slope that counts most of all that the leg meets; all that reach it", above_cell, 100, 3},
    {"below you", below_cell, 54, 0.6},
};

typedef struct table {
    column columns[COLUMNS];
    int count;
} table;

/* A column in which no leg has anything is left out. */
static bool has_any(const brant_sheet *s, cell_fn cell)
{
    bool any = false;
    if (cell == wind_cell && !s->plan->wind_from)
        return false;
    for (size_t i = 0; i < s->tour->leg_count && !any; i++) {
        brant_text text = {0};
        cell(s, &s->tour->legs[i], &text);
        any = text.length > 0;
        brant_text_clear(&text);
    }
    return any;
}

static void choose_columns(const brant_sheet *s, table *t)
{
    double width = 0, shares = 0;
    for (int i = 0; i < COLUMNS; i++) {
        const column *c = &all_columns[i];
        if (!has_any(s, c->cell))
            continue;
        t->columns[t->count++] = *c;
        width += c->width;
        shares += c->share;
    }
    double left = brant_sheet_inner(s) - width;
    for (int i = 0; i < t->count && shares > 0; i++)
        t->columns[i].width += left * t->columns[i].share / shares;
}

/* ---- rows --------------------------------------------------------------- */

static void draw_titles(brant_sheet *s, const table *t)
{
    double x = BRANT_SHEET_LEFT, height = 0;
    for (int i = 0; i < t->count; i++) {
        double h = brant_sheet_text(s, &brant_style_bold, x, s->y, t->columns[i].width - PAD,
                                    t->columns[i].title);
        height = fmax(height, h);
        x += t->columns[i].width;
    }
    s->y += height + 1;
    brant_sheet_rule(s, s->y, 0.8);
    s->y += 1.5;
}

/* Draw a row at s->y; its height. */
static double draw_row(brant_sheet *s, const table *t, const brant_read_leg *leg)
{
    double x = BRANT_SHEET_LEFT, height = 0;
    for (int i = 0; i < t->count; i++) {
        const column *c = &t->columns[i];
        brant_text text = {0};
        double indent = c->cell == kind_cell ? SWATCH + 3 : 0;
        c->cell(s, leg, &text);
        if (indent > 0)
            brant_kind_swatch(s->cr, leg->kind, x, s->y + 1, SWATCH, 7.5);
        if (text.failed && s->status == BRANT_OK)
            s->status = brant_fail(s->ctx, BRANT_ERR_MEMORY, "not enough memory for the sheet");
        else if (text.data)
            height = fmax(height, brant_sheet_text(s, i == 0 ? &brant_style_bold
                                                             : &brant_style_body,
                                                   x + indent, s->y, c->width - PAD - indent,
                                                   text.data));
        brant_text_clear(&text);
        x += c->width;
    }
    return height;
}

/* The same where nothing of it is seen. */
static double row_height(brant_sheet *s, const table *t, const brant_read_leg *leg)
{
    cairo_t *page = s->cr;
    bool trial = s->trial;
    cairo_surface_t *nothing = cairo_recording_surface_create(CAIRO_CONTENT_COLOR_ALPHA, NULL);
    s->cr = cairo_create(nothing);
    s->trial = true;
    double height = draw_row(s, t, leg);
    cairo_destroy(s->cr);
    cairo_surface_destroy(nothing);
    s->cr = page;
    s->trial = trial;
    return height;
}

void brant_sheet_legs(brant_sheet *s)
{
    table t = {.count = 0};
    choose_columns(s, &t);
    brant_sheet_need(s, 60);
    draw_titles(s, &t);
    for (size_t i = 0; i < s->tour->leg_count && s->status == BRANT_OK; i++) {
        const brant_read_leg *leg = &s->tour->legs[i];
        if (s->y + 60 > s->bottom && brant_sheet_need(s, row_height(s, &t, leg) + 2))
            draw_titles(s, &t);
        s->y += draw_row(s, &t, leg) + 1;
        brant_sheet_rule(s, s->y, 0);
        s->y += 1;
    }
    s->y += 3;
}
