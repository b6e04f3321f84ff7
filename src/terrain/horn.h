/* Horn's gradient, and the angles made of it: one arithmetic for slope rasters,
 * fields and zones, so that a cell's slope has the same bits in all of them. */
#ifndef BRANT_HORN_H
#define BRANT_HORN_H

#include "angles.h"
#include "brant/terrain.h"

/* True areas of a row of cells in m2, n out. */
void brant_area_row(const brant_ground *ground, int col, int row, int n, double *area);

#endif
