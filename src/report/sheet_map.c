/* The sheet's map: what it shows of a tour. */
#include "sheet_map.h"

brant_status brant_sheet_map(brant_sheet *s, double x, double y, double width, double height)
{
    cairo_rectangle(s->cr, x, y, width, height);
    cairo_set_source_rgb(s->cr, 0, 0, 0);
    cairo_set_line_width(s->cr, 0.5);
    cairo_stroke(s->cr);
    return BRANT_OK;
}
