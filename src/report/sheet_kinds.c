/* A leg's kind as colour and hatching: told apart in grey, too. */
#include "sheet.h"

#include "palette.h"

#include <math.h>

typedef enum hatch { PLAIN, CROSSED, LEVEL, RISING, FALLING, DOTS, MARKS } hatch;

/* In the colours of the map's route: severe kinds on the full colour with light lines, the
 * others on a tint of it with lines of the colour, so that severer is darker in grey, too. */
static const struct {
    double tint; /* of the ground: 1 the colour itself, 0 white */
    hatch hatch;
    double step, width;
} looks[BRANT_KINDS] = {
    [BRANT_KIND_UNKNOWN] = {0.08, MARKS, 6.0, 0.8},
    [BRANT_KIND_CROSSES] = {1.0, CROSSED, 4.0, 0.5},
    [BRANT_KIND_OVER_BAND] = {1.0, LEVEL, 2.5, 0.6},
    [BRANT_KIND_EDGE] = {0.45, RISING, 3.2, 0.8},
    [BRANT_KIND_UNDER] = {0.25, FALLING, 4.5, 0.7},
    [BRANT_KIND_REMOTE] = {0.15, DOTS, 3.6, 1.1},
    [BRANT_KIND_NONE_FOUND] = {0, PLAIN, 0, 0},
};

/* Between white (0) and a colour (1). */
static void set_tint(cairo_t *cr, const double *colour, double tint)
{
    cairo_set_source_rgb(cr, 1 - tint * (1 - colour[0]), 1 - tint * (1 - colour[1]),
                         1 - tint * (1 - colour[2]));
}

typedef struct extent {
    double left, top, right, bottom;
} extent;

/* Parallel lines anchored to the page, so that neighbours of one kind join. `rise`: -1, 0,
 * 1; a line's foot moves by the extent's height. */
static void lines(cairo_t *cr, const extent *e, double step, int rise)
{
    double height = e->bottom - e->top;
    if (rise == 0) {
        for (double y = ceil(e->top / step) * step; y <= e->bottom; y += step) {
            cairo_move_to(cr, e->left, y);
            cairo_line_to(cr, e->right, y);
        }
        return;
    }
    double shift = rise > 0 ? e->bottom : -e->top; /* x + y or x - y is a multiple of step */
    double from = e->left - height + shift, to = e->right + height + shift;
    for (double c = floor(from / step) * step; c <= to; c += step) {
        cairo_move_to(cr, c - shift, rise > 0 ? e->bottom : e->top);
        cairo_line_to(cr, c - shift + height, rise > 0 ? e->top : e->bottom);
    }
}

static void dots(cairo_t *cr, const extent *e, double step)
{
    int row = 0;
    for (double y = ceil(e->top / step) * step; y <= e->bottom; y += step, row++) {
        double first = ceil(e->left / step) * step + (row % 2) * step / 2;
        for (double x = first; x <= e->right; x += step) {
            cairo_move_to(cr, x, y);
            cairo_close_path(cr); /* with round caps a dot */
        }
    }
}

/* Little crosses. */
static void marks(cairo_t *cr, const extent *e, double step)
{
    double arm = step / 4;
    for (double y = floor(e->top / step) * step; y <= e->bottom + arm; y += step) {
        for (double x = floor(e->left / step) * step; x <= e->right + arm; x += step) {
            cairo_move_to(cr, x - arm, y - arm);
            cairo_line_to(cr, x + arm, y + arm);
            cairo_move_to(cr, x - arm, y + arm);
            cairo_line_to(cr, x + arm, y - arm);
        }
    }
}

void brant_kind_fill(cairo_t *cr, brant_kind kind)
{
    extent e;
    const double *colour = brant_palette_kind[kind];
    cairo_save(cr);
    cairo_path_extents(cr, &e.left, &e.top, &e.right, &e.bottom);
    set_tint(cr, colour, looks[kind].tint);
    cairo_fill_preserve(cr);
    cairo_clip(cr);
    cairo_new_path(cr);
    switch (looks[kind].hatch) {
    case CROSSED:
        lines(cr, &e, looks[kind].step, 1);
        lines(cr, &e, looks[kind].step, -1);
        break;
    case LEVEL: lines(cr, &e, looks[kind].step, 0); break;
    case RISING: lines(cr, &e, looks[kind].step, 1); break;
    case FALLING: lines(cr, &e, looks[kind].step, -1); break;
    case DOTS: dots(cr, &e, looks[kind].step); break;
    case MARKS: marks(cr, &e, looks[kind].step); break;
    case PLAIN: break;
    }
    set_tint(cr, colour, looks[kind].tint < 1 ? 1 : 0);
    cairo_set_line_width(cr, looks[kind].width);
    cairo_set_line_cap(cr, looks[kind].hatch == DOTS ? CAIRO_LINE_CAP_ROUND
                                                     : CAIRO_LINE_CAP_BUTT);
    cairo_stroke(cr);
    cairo_restore(cr);
}

void brant_kind_swatch(cairo_t *cr, brant_kind kind, double x, double y, double width,
                       double height)
{
    cairo_rectangle(cr, x, y, width, height);
    brant_kind_fill(cr, kind);
    cairo_rectangle(cr, x, y, width, height);
    cairo_set_source_rgb(cr, 0, 0, 0);
    cairo_set_line_width(cr, 0.4);
    cairo_stroke(cr);
}

/* The map's sign: an hourglass. */
void brant_wait_sign(cairo_t *cr, double x, double y)
{
    const double half = 3, height = 7.5;
    cairo_move_to(cr, x - half, y);
    cairo_rel_line_to(cr, 2 * half, 0);
    cairo_rel_line_to(cr, -2 * half, height);
    cairo_rel_line_to(cr, 2 * half, 0);
    cairo_close_path(cr);
    cairo_set_source_rgb(cr, 1, 1, 1);
    cairo_fill_preserve(cr);
    cairo_set_source_rgb(cr, 0, 0, 0);
    cairo_set_line_width(cr, 0.8);
    cairo_stroke(cr);
}
