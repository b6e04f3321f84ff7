/* The table for bad visibility: bearing, distance and height from turn to turn. */
#include "sheet.h"

#include <math.h>
#include <stdio.h>
#include <stdlib.h>

/* The line lies nowhere further from the straight sections: less than the edge distance that
 * legs are told with by default. */
#define TOLERANCE_M 25.0
#define COLUMNS 3 /* of the page */
#define GAP 14.0
#define ROW 10.5

typedef struct section {
    const brant_read_point *from, *to;
    double bearing_deg, metres, up_m, down_m;
    bool unknown_height, first; /* opens a segment */
} section;

/* Up and down along the line between its ends, as all sums of height are counted. */
static brant_status add_heights(brant_sheet *s, section *row)
{
    size_t count = (size_t)(row->to - row->from) + 1;
    float *elevation = brant_alloc(s->ctx, count, sizeof *elevation);
    if (!elevation)
        return BRANT_ERR_MEMORY;
    for (size_t i = 0; i < count; i++) {
        elevation[i] = (float)row->from[i].elevation_m;
        row->unknown_height |= isnan(elevation[i]) != 0;
    }
    brant_climb(elevation, count, BRANT_CLIMB_HYSTERESIS, &row->up_m, &row->down_m);
    free(elevation);
    return BRANT_OK;
}

/* The sections of the points [first, end), appended. */
static brant_status add_segment(brant_sheet *s, size_t first, size_t end, size_t *turns,
                                section *rows, size_t *count)
{
    const brant_read_point *points = s->tour->points;
    size_t found = 0;
    brant_status status = brant_sections(s->ctx, points, first, end, TOLERANCE_M, turns, &found);
    for (size_t i = 1; i < found && status == BRANT_OK; i++) {
        section *row = &rows[(*count)++];
        row->from = &points[turns[i - 1]];
        row->to = &points[turns[i]];
        row->first = i == 1;
        row->metres = brant_geodesic(row->from->lon, row->from->lat, row->to->lon, row->to->lat,
                                     &row->bearing_deg);
        status = add_heights(s, row);
    }
    return status;
}

static brant_status find_sections(brant_sheet *s, section **rows, size_t *count)
{
    const brant_read_tour *tour = s->tour;
    size_t *turns = brant_alloc(s->ctx, tour->point_count, sizeof *turns);
    *rows = brant_alloc(s->ctx, tour->point_count, sizeof **rows);
    brant_status status = turns && *rows ? BRANT_OK : BRANT_ERR_MEMORY;
    for (size_t first = 0; first < tour->point_count && status == BRANT_OK;) {
        size_t end = first + 1;
        while (end < tour->point_count && !tour->points[end].first)
            end++;
        status = add_segment(s, first, end, turns, *rows, count);
        first = end;
    }
    free(turns);
    return status;
}

/* ---- drawing ------------------------------------------------------------ */

/* Whole degrees from 000 to 359. */
static void add_bearing(double degrees, char text[16])
{
    double turned = fmod(round(degrees) + 720, 360);
    snprintf(text, 16, "%03.0f\u00B0", turned);
}

static void draw_cell(brant_sheet *s, bool bold, double right, double y, const char *text)
{
    brant_style style = bold ? brant_style_bold : brant_style_body;
    style.right = true;
    brant_sheet_label(s, &style, right, y, text, true);
}

/* Right edges of the cells within a column of the page. */
enum { FROM, TRUE_BEARING, MAGNETIC, METRES, UP, DOWN, CELLS };
static const double edge_of[CELLS] = {30, 62, 92, 122, 146, 170};

static void draw_titles(brant_sheet *s, double x, double y)
{
    static const char *const titles[CELLS] = {"km", "true", "magn.", "m", "up", "down"};
    for (int i = 0; i < CELLS; i++)
        if (i != MAGNETIC || !isnan(s->options->declination_deg))
            draw_cell(s, true, x + edge_of[i], y, titles[i]);
}

static void draw_section(brant_sheet *s, const section *row, double x, double y)
{
    char text[CELLS][24];
    brant_text km = {0};
    brant_text_number(&km, row->from->along_m / 1000, 2);
    snprintf(text[FROM], sizeof text[FROM], "%s", km.failed ? "" : km.data);
    brant_sheet_drop(s, &km);
    add_bearing(row->bearing_deg, text[TRUE_BEARING]);
    add_bearing(row->bearing_deg - s->options->declination_deg, text[MAGNETIC]);
    snprintf(text[METRES], sizeof text[METRES], "%.0f", row->metres);
    snprintf(text[UP], sizeof text[UP], "%.0f", row->up_m);
    snprintf(text[DOWN], sizeof text[DOWN], "%.0f", row->down_m);
    if (row->unknown_height) {
        snprintf(text[UP], sizeof text[UP], "?");
        snprintf(text[DOWN], sizeof text[DOWN], "?");
    }
    for (int i = 0; i < CELLS; i++)
        if (i != MAGNETIC || !isnan(s->options->declination_deg))
            draw_cell(s, i == TRUE_BEARING, x + edge_of[i], y, text[i]);
}

static void draw_intro(brant_sheet *s)
{
    brant_text line = {0};
    brant_text_add(&line, "From turn to turn, true north");
    if (!isnan(s->options->declination_deg))
        brant_text_add(&line, " and magnetic (declination %.4g\u00B0 %s)",
                       fabs(s->options->declination_deg),
                       s->options->declination_deg < 0 ? "west" : "east");
    brant_text_add(&line, "; metres straight ahead, metres up and down. km: where the section "
                          "begins. The drawn line lies within %.0f" FIRM "m of the sections; what "
                          "lies beside it was not looked at from there. ?: height not known",
                   TOLERANCE_M);
    brant_sheet_paragraph_of(s, "BEARINGS", &line);
}

/* Column after column, as many rows as the page holds. */
static size_t draw_page(brant_sheet *s, const section *rows, size_t count)
{
    size_t fit = (size_t)fmax(1, floor((s->bottom - s->y - 14) / ROW));
    size_t all = count < fit * COLUMNS ? count : fit * COLUMNS;
    size_t tall = (all + COLUMNS - 1) / COLUMNS;
    double width = (brant_sheet_inner(s) - GAP * (COLUMNS - 1)) / COLUMNS;
    for (size_t i = 0; i < all; i++) {
        double x = BRANT_SHEET_LEFT + (double)(i / tall) * (width + GAP);
        double y = s->y + 12 + (double)(i % tall) * ROW;
        if (i % tall == 0)
            draw_titles(s, x, s->y);
        if (rows[i].first && i > 0) {
            cairo_move_to(s->cr, x, y);
            cairo_rel_line_to(s->cr, width, 0);
            cairo_set_source_rgb(s->cr, 0, 0, 0);
            cairo_set_line_width(s->cr, 0.6);
            cairo_stroke(s->cr);
        }
        draw_section(s, &rows[i], x, y);
    }
    s->y += 12 + (double)tall * ROW + 6;
    return all;
}

void brant_sheet_bearings(brant_sheet *s)
{
    section *rows = NULL;
    size_t count = 0, drawn = 0;
    if (s->status != BRANT_OK)
        return;
    s->status = find_sections(s, &rows, &count);
    if (s->status == BRANT_OK) {
        s->y += 6;
        brant_sheet_need(s, 90);
        brant_sheet_rule(s, s->y, 1.0);
        s->y += 3;
        draw_intro(s);
    }
    while (drawn < count && s->status == BRANT_OK) {
        brant_sheet_need(s, 40);
        drawn += draw_page(s, rows + drawn, count - drawn);
    }
    free(rows);
}
