/* The sheet's map. */
#ifndef BRANT_REPORT_SHEET_MAP_H
#define BRANT_REPORT_SHEET_MAP_H

#include "sheet.h"

/* Draw it into a box of the page. */
brant_status brant_sheet_map(brant_sheet *s, double x, double y, double width, double height);

#endif
