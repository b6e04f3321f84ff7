/* Polygons to cells. Private to the room; knows no file and no GDAL. */
#ifndef BRANT_STORE_BURN_H
#define BRANT_STORE_BURN_H

#include "brant/grid.h"

/* A segment of an outline, grid coordinates. */
typedef struct brant_edge {
    double col0, row0, col1, row1;
} brant_edge;

/* One polygon with its holes: all edges of its closed rings in any order; what an odd
 * number of them shuts in is inside. */
typedef struct brant_patch {
    brant_edge *edges; /* owned */
    size_t count, capacity;
    double low_col, high_col, low_row, high_row; /* kept by brant_patch_add */
    bool touched; /* too small to hold a cell's centre: takes the cells it touches instead */
} brant_patch;

brant_status brant_patch_add(brant_context *ctx, brant_patch *patch, brant_edge edge);
/* Give back the room for edges that do not come: of 100,000 small polygons, half of 50 MB. */
void brant_patch_fit(brant_patch *patch);
void brant_patch_clear(brant_patch *patch);

/* Takes cells [from, to) of a row. */
typedef void (*brant_span_fn)(void *self, int row, int from, int to);

/* The patch's cells within `window`: those whose centres it holds (a centre on its line
 * belongs to the side of greater columns and rows), or those it touches. A cell's answer
 * does not depend on the window; of two patches that share a side, each centre near it is
 * in exactly one. A touched cell may be told twice. */
brant_status brant_patch_cells(brant_context *ctx, const brant_patch *patch,
                               const brant_window *window, brant_span_fn take, void *self);

#endif
