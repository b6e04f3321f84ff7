/* The table of legs: what each meets, what hangs above it and what lies below. */
#include "sheet.h"

#include <math.h>
#include <string.h>

#define PAD 5.0
#define MOST_WIDTH 420.0
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

static void add_run(long long from, long long to, brant_text *out)
{
    if (from < 1)
        return;
    brant_text_add(out, "%s%lld", out->length > 0 ? "," FIRM : "", from);
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

static void add_above_legs(const char *legs, brant_text *out)
{
    brant_text list = {0};
    list_above_legs(legs, &list);
    if (list.data)
        brant_text_add(out, "%syour line above: leg%s %s", out->length > 0 ? "; " : "",
                       strpbrk(list.data, ",-") ? "s" : "", list.data);
    out->failed |= list.failed;
    brant_text_clear(&list);
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
        add_above_legs(leg->above_legs, out);
}

static void below_cell(const brant_sheet *s, const brant_read_leg *leg, brant_text *out)
{
    (void)s;
    if (isnan(leg->in_gully)) {
        if (leg->kind == BRANT_KIND_UNKNOWN)
            brant_text_add(out, "not known");
        return;
    }
    for (const char *c = leg->below ? leg->below : "nothing found"; *c; c++) /* "30 m" together */
        brant_text_add_bytes(out, c[0] == ' ' && c[1] == 'm' && !c[2] ? FIRM
                                  : c[0] == ' ' && strncmp(c, " m then", 7) == 0 ? FIRM : c, 1);
    if (leg->in_gully > 0)
        brant_text_add(out, "; you are in a gully");
}

/* ---- columns ------------------------------------------------------------ */

typedef struct column {
    const char *title;
    cell_fn cell;
    double width; /* points, at least */
    double share; /* weight in what is left over; 0: the width is as it is */
} column;

#define COLUMNS 9
static const column all_columns[COLUMNS] = {
    {"leg", leg_cell, 20, 0},
    {"kind", kind_cell, 60, 0},
    {"km, hours\nplanned-late", place_cell, 58, 0},
    {"you: height,\nsteepest", ground_cell, 64, 0},
    {"level, problem; limit\n(rule for dry slabs)", level_cell, 84, 1},
    {"sun on\nit from", sun_cell, 34, 0},
    {"wind", wind_cell, 46, 0},
    {"slope that counts most of all that the leg meets; all that reach it", above_cell, 100, 1},
    {"below you", below_cell, 54, 0.6},
};

typedef struct table {
    column columns[COLUMNS];
    int count;
} table;

/* A column in which no leg has anything is left out. */
static bool has_any(brant_sheet *s, cell_fn cell)
{
    bool any = false;
    if (cell == wind_cell && !s->plan->wind_from)
        return false;
    for (size_t i = 0; i < s->tour->leg_count && !any; i++) {
        brant_text text = {0};
        cell(s, &s->tour->legs[i], &text);
        any = text.length > 0;
        brant_sheet_drop(s, &text);
    }
    return any;
}

/* How wide a column would be if nothing in it were folded; no wider than it is of use. */
static double natural_width(brant_sheet *s, const column *c)
{
    double width = 0;
    for (size_t i = 0; i < s->tour->leg_count; i++) {
        brant_text text = {0};
        c->cell(s, &s->tour->legs[i], &text);
        if (text.data && !text.failed)
            width = fmax(width, brant_sheet_label(s, &brant_style_body, 0, 0, text.data, false));
        brant_sheet_drop(s, &text);
    }
    return fmin(width + PAD, MOST_WIDTH);
}

/* What is left over goes where there is most to say. */
static void choose_columns(brant_sheet *s, table *t)
{
    double left = brant_sheet_inner(s), shares = 0;
    for (int i = 0; i < COLUMNS; i++) {
        column c = all_columns[i];
        if (!has_any(s, c.cell))
            continue;
        if (c.cell == place_cell && !s->plan->start.has_offset)
            c.title = "km";
        if (c.share > 0)
            c.share *= fmax(0.01, natural_width(s, &c) - c.width);
        t->columns[t->count++] = c;
        left -= c.width;
        shares += c.share;
    }
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
