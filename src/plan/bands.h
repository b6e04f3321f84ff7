/* Elevations of a window, one band of rows after the other, each cell read once. */
#ifndef BRANT_PLAN_BANDS_H
#define BRANT_PLAN_BANDS_H

#include "brant/plan.h"

/* A band is BRANT_BLOCK rows (the last one less). What is held is cut as the files
 * are: in panels as wide as their blocks, read in units as high as them, so that no block
 * is read, or unpacked, twice. Two units are held: that of the band, and the one that its
 * lowest row's neighbour lies in. */
typedef struct brant_bands {
    brant_source *source;
    brant_window window;
    int panel;        /* columns of a panel; the margins are panels of one column */
    int panels;       /* margins included */
    int height;       /* rows of a unit, a multiple of BRANT_BLOCK */
    int group;        /* rows read at once */
    int band;         /* the one that can be asked for; -1 at first */
    int read;         /* units read */
    float *unit[2];   /* unit u in [u % 2], panel after panel */
    float *above;     /* the row above the band's first unit, margins included */
    int reading;      /* the unit being read */
} brant_bands;

/* The window's own neighbours belong to it: a column or row to each side, void beyond the
 * grid. */
brant_status brant_bands_open(brant_context *ctx, brant_dem *dem, const brant_window *window,
                              brant_bands *bands);
/* Go on to the next band, on ctx->threads threads. */
brant_status brant_bands_next(brant_context *ctx, brant_bands *bands);
/* n cells of row `row` (-1..BRANT_BLOCK) of the band from column `col` (-1..) of the window
 * on, margins included. Any number of threads. */
void brant_bands_row(const brant_bands *bands, int row, int col, int n, float *out);
void brant_bands_close(brant_bands *bands);

#endif
