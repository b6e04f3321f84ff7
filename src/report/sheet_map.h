/* The sheet's map. */
#ifndef BRANT_REPORT_SHEET_MAP_H
#define BRANT_REPORT_SHEET_MAP_H

#include "sheet.h"

/* Draw it into a box of the page. */
brant_status brant_sheet_map(brant_sheet *s, double x, double y, double width, double height);
/* The scale at which it would be drawn, INFINITY (and s->status) if at none: 25000 for 1:25,000. */
double brant_sheet_map_scale(brant_sheet *s, double width, double height);

#endif
