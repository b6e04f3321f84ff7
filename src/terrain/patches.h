/* A square's release ground as a list of cells, cut into connected parts. */
#ifndef BRANT_PATCHES_H
#define BRANT_PATCHES_H

#include "brant/grid.h"

/* The cells by raster order, and the part that each belongs to. Parts count from
 * 0 in raster order of their first cells. */
typedef struct brant_patches {
    int cols, rows;      /* the square's */
    const uint32_t *at;  /* over the square: 1 + the cell's place in the list, 0 none; borrowed */
    uint32_t count;      /* cells in the list */
    const uint32_t *cell; /* row*cols + col of each; borrowed */
    const double *area;  /* m2 of each; borrowed */
    uint32_t *part;      /* the part of each; owned by the caller */
    uint32_t parts;
} brant_patches;

/* Parts are cells of equal `key` connected side by side. */
void brant_patches_label(brant_patches *patches, const uint32_t *key);

/* Parts below `min_area_m2` join the neighbour (side by side) with the longest
 * shared edge, of equals the one whose first cell comes first; the smallest part
 * first, until none below has a neighbour. With `owner` (one a cell, or NULL)
 * only parts of the same owner are neighbours. A cell is width x height metres. */
brant_status brant_patches_join(brant_context *ctx, brant_patches *patches,
                                const uint32_t *owner, double min_area_m2, double width,
                                double height);

/* Cut parts above `max_area_m2` along contours into bands of equal area, as few
 * as keep below it; bits of a cut part below `min_area_m2` join their neighbours
 * in the same part again. `z` is each cell's elevation. */
brant_status brant_patches_split(brant_context *ctx, brant_patches *patches, const float *z,
                                 double min_area_m2, double max_area_m2, double width,
                                 double height);

#endif
