/* The files that a model is made of, and where each lies on it. Private to the
 * room. */
#ifndef BRANT_STORE_TILES_H
#define BRANT_STORE_TILES_H

#include "gdal_call.h"

/* One file; a model that is a single file is one tile. */
typedef struct brant_tile {
    char *path;
    bool remote;            /* an address that the user typed */
    int band;
    brant_window on;        /* where it lies on the model */
    int from_col, from_row; /* the file's cell at on.col, on.row */
    double *nodata;         /* void in it beside what the file itself declares */
    size_t nodata_count;
} brant_tile;

/* In the order of precedence: where tiles overlap, the last that has an
 * elevation counts. Zero it to start. */
typedef struct brant_tiles {
    brant_tile *tile;
    size_t count, capacity;
    int cols, rows; /* of the model */
} brant_tiles;

/* Append a copy of `tile`; its path and nodata are copied, too. */
brant_status brant_tiles_add(brant_context *ctx, brant_tiles *tiles, const brant_tile *tile);
void brant_tiles_clear(brant_tiles *tiles);

#endif
