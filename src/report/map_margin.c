/* The kilometre grid and its numbers. */
#include "map_parts.h"

#include <math.h>

double brant_map_grid_step(double scale)
{
    return scale < 100000 ? 1000 : scale < 200000 ? 2000 : scale < 500000 ? 5000 :
           scale < 1000000 ? 10000 : scale / 50;
}

/* Ticks on the frame for tenths of a kilometre, where they stand 4 mm apart or more. */
#define TICK_M 100.0
#define TICK_SCALE 25000.0

/* ---- lines -------------------------------------------------------------- */

typedef struct bounds {
    double west, south, east, north;
} bounds;

static bounds bounds_of(const brant_map_frame *frame)
{
    bounds b;
    const brant_map_box *box = &frame->box;
    brant_map_from_page(frame, box->x, box->y, &b.west, &b.north);
    brant_map_from_page(frame, box->x + box->width, box->y + box->height, &b.east, &b.south);
    return b;
}

static void ticks(cairo_t *cr, const brant_map_frame *frame, const bounds *b)
{
    const brant_map_box *box = &frame->box;
    double x, y;
    for (double e = ceil(b->west / TICK_M) * TICK_M; e < b->east; e += TICK_M) {
        brant_map_to_page(frame, e, b->north, &x, &y);
        cairo_move_to(cr, x, box->y);
        cairo_rel_line_to(cr, 0, 2.5);
        cairo_move_to(cr, x, box->y + box->height);
        cairo_rel_line_to(cr, 0, -2.5);
    }
    for (double n = ceil(b->south / TICK_M) * TICK_M; n < b->north; n += TICK_M) {
        brant_map_to_page(frame, b->west, n, &x, &y);
        cairo_move_to(cr, box->x, y);
        cairo_rel_line_to(cr, 2.5, 0);
        cairo_move_to(cr, box->x + box->width, y);
        cairo_rel_line_to(cr, -2.5, 0);
    }
    cairo_set_line_width(cr, 0.4);
    cairo_stroke(cr);
}

void brant_map_grid(cairo_t *cr, const brant_map_frame *frame)
{
    double step = brant_map_grid_step(frame->scale), x, y;
    bounds b = bounds_of(frame);
    const brant_map_box *box = &frame->box;
    for (double e = ceil(b.west / step) * step; e < b.east; e += step) {
        brant_map_to_page(frame, e, b.north, &x, &y);
        cairo_move_to(cr, x, box->y);
        cairo_line_to(cr, x, box->y + box->height);
    }
    for (double n = ceil(b.south / step) * step; n < b.north; n += step) {
        brant_map_to_page(frame, b.west, n, &x, &y);
        cairo_move_to(cr, box->x, y);
        cairo_line_to(cr, box->x + box->width, y);
    }
    cairo_set_source_rgb(cr, brant_palette_grid[0], brant_palette_grid[1], brant_palette_grid[2]);
    cairo_set_line_width(cr, 0.3);
    cairo_stroke(cr);
    if (frame->scale <= TICK_SCALE)
        ticks(cr, frame, &b);
    cairo_rectangle(cr, box->x, box->y, box->width, box->height);
    cairo_set_line_width(cr, 0.9);
    cairo_stroke(cr);
}

/* ---- numbers ------------------------------------------------------------ */

/* Kilometres: "445", the first of a row with what it counts: "445 km E". */
static double set_number(brant_map_labels *labels, double metres, const char *counts)
{
    brant_text text = {0};
    brant_text_number(&text, metres / 1000, 0);
    brant_text_add(&text, "%s", counts);
    labels->starved |= text.failed;
    double width = text.failed ? 0 : brant_map_words(labels, text.data, false);
    brant_text_clear(&text);
    return width;
}

void brant_map_margins(const brant_map_frame *frame, brant_map_labels *labels)
{
    cairo_t *cr = labels->cr;
    const brant_map_box *box = &frame->box;
    double step = brant_map_grid_step(frame->scale), x, y;
    bounds b = bounds_of(frame);
    const char *counts = " km E";
    cairo_set_source_rgb(cr, 0, 0, 0);
    for (double e = ceil(b.west / step) * step; e < b.east; e += step, counts = "") {
        double width = set_number(labels, e, counts);
        brant_map_to_page(frame, e, b.north, &x, &y);
        x = fmin(fmax(x - width / 2, box->x), box->x + box->width - width);
        brant_map_write(labels, x, box->y - BRANT_MAP_LINE, 0);
    }
    counts = " km N";
    for (double n = ceil(b.south / step) * step; n < b.north; n += step, counts = "") {
        double width = set_number(labels, n, counts);
        brant_map_to_page(frame, b.west, n, &x, &y);
        y = fmin(fmax(y + width / 2, box->y + width), box->y + box->height);
        cairo_save(cr);
        cairo_translate(cr, box->x - BRANT_MAP_LINE, y);
        cairo_rotate(cr, -M_PI / 2);
        brant_map_write(labels, 0, 0, 0);
        cairo_restore(cr);
    }
}
