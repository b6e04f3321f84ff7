/* The table of legs: what each meets, what hangs above it and what lies below. */
#include "sheet.h"
#include "sheet_cells.h"

#include <math.h>

#define PAD 5.0
#define MOST_WIDTH 420.0
/* From a line to the next. */
#define LINE 9.3
#define SWATCH 14.0
/* A text and its width in the face that the widths of columns are meant for. */
#define SAMPLE "nothing found 0123456789"
#define SAMPLE_WIDTH 98.5
#define MOST_STRETCH 1.12 /* more would not fit the page */

/* ---- columns ------------------------------------------------------------ */

typedef struct column {
    const char *title;
    brant_cell cell;
    double width; /* points, at least */
    double share; /* weight in what is left over; 0: the width is as it is */
} column;

#define COLUMNS 8
static const column all_columns[COLUMNS] = {
    {"leg,\nkind", brant_cell_kind, 48, 0},
    {"km, hours\nplanned-late", brant_cell_place, 57, 0},
    {"you: height,\nsteepest", brant_cell_ground, 63, 0},
    {"level, problem; limit\n(rule for dry slabs)", brant_cell_level, 90, 0},
    {"sun on\nit from", brant_cell_sun, 33, 0},
    {"wind", brant_cell_wind, 46, 0},
    {"slope that counts most, at its steepest;\nall above, reached at; own line above",
     brant_cell_above, 100, 1},
    {"below\nyou", brant_cell_below, 54, 0.3},
};

typedef struct table {
    column columns[COLUMNS];
    int count;
    bool wide; /* without a day there is room for rows of one line */
} table;

/* A column in which no leg has anything is left out. */
static bool has_any(brant_sheet *s, brant_cell cell)
{
    bool any = false;
    if (cell == brant_cell_wind && !s->plan->wind_from)
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

/* Columns are as wide as their words in the condensed face that `.ci/install` brings; where
 * there is none, by how much wider the letters are. */
static double stretch(brant_sheet *s)
{
    double width = brant_sheet_label(s, &brant_style_body, 0, 0, SAMPLE, false);
    return fmin(fmax(1, width / SAMPLE_WIDTH), MOST_STRETCH);
}

/* What is left over goes where there is most to say. */
static void choose_columns(brant_sheet *s, table *t)
{
    double left = brant_sheet_inner(s), shares = 0, wider = stretch(s);
    t->wide = !s->plan->has_bulletin && !s->plan->start.has_offset;
    for (int i = 0; i < COLUMNS; i++) {
        column c = all_columns[i];
        if (!has_any(s, c.cell))
            continue;
        if (c.cell == brant_cell_place && !s->plan->start.has_offset)
            c.title = "km";
        if (t->wide && c.cell == brant_cell_kind)
            c.title = "leg, kind", c.width = 84;
        if (t->wide && c.cell == brant_cell_ground)
            c = (column){"you: height, steepest", brant_cell_ground_line, 98, 0};
        c.width = PAD + (c.width - PAD) * wider;
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

/* The leg's number and a field of its kind; beside or below them the kind's name. */
static double draw_kind(brant_sheet *s, const brant_read_leg *leg, double x, bool beside,
                        const char *name)
{
    double swatch = x + fmax(brant_sheet_number(s, leg, x, s->y, false), 14) + 3;
    double left = beside ? swatch + SWATCH + 3 : x, down = beside ? 0 : LINE;
    brant_kind_swatch(s->cr, leg->kind, swatch, s->y + 1, SWATCH, 7.5);
    brant_sheet_label(s, &brant_style_body, left, s->y + down, name, true);
    return down + LINE;
}

/* Draw a row at s->y; its height. */
static double draw_row(brant_sheet *s, const table *t, const brant_read_leg *leg)
{
    double x = BRANT_SHEET_LEFT, height = 0;
    for (int i = 0; i < t->count; i++) {
        const column *c = &t->columns[i];
        brant_text text = {0};
        c->cell(s, leg, &text);
        if (text.failed && s->status == BRANT_OK)
            s->status = brant_fail(s->ctx, BRANT_ERR_MEMORY, "not enough memory for the sheet");
        else if (c->cell == brant_cell_kind)
            height = fmax(height, draw_kind(s, leg, x, t->wide, text.data));
        else if (text.data)
            height = fmax(height, brant_sheet_text(s, &brant_style_body, x, s->y, c->width - PAD,
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
        s->y += draw_row(s, &t, leg) + 0.8;
        brant_sheet_rule(s, s->y, 0);
        s->y += 0.8;
    }
    s->y += 3;
}
