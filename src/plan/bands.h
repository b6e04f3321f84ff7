/* Elevations of a window, one band of rows after the other, each cell read once. */
#ifndef BRANT_PLAN_BANDS_H
#define BRANT_PLAN_BANDS_H

#include "brant/plan.h"

/* A band is BRANT_BLOCK rows (the last one less). What is held is cut as the files
 * are: in panels as wide as their blocks, read in units as high as them, so that no block
 * is read, or unpacked, twice. Two units are held: that of the band, and the one that its
 * lowest row's neighbour lies in. Where that would be too much, a unit is a band, and of the
 * next one its first row alone is held: its blocks are read again as their band comes. And
 * where a band would still be too much, it comes in spans of columns, one after the other. */
typedef struct brant_bands {
    brant_source *source;
    brant_window window;
    int panel;        /* columns of a panel; the margins are panels of one column */
    int height;       /* rows of a unit, a multiple of BRANT_BLOCK */
    int group;        /* rows read at once */
    bool tight;       /* of the next unit there is one row */
    int span;         /* columns at a time, a multiple of BRANT_BLOCK, or all */
    int band;         /* the one that can be asked for; -1 at first */
    int col, cols;    /* columns of the window that can be asked for */
    float *unit[2];   /* unit u in [u % 2], panel after panel */
    float *above;     /* the row above the band's first unit, margins included */
    float *last;      /* tight: what will be above the next one */
    int reading, rows;/* the unit being read, and how many rows of it */
} brant_bands;

#define BRANT_BANDS_BUDGET ((size_t)72 << 20)

/* The window's own neighbours belong to it: a column or row to each side, void beyond the
 * grid. The budget, at least a block's bytes, is for what is held; it leaves no trace in what
 * is read. */
brant_status brant_bands_open(brant_context *ctx, brant_dem *dem, const brant_window *window,
                              size_t budget_bytes, brant_bands *bands);
/* Go on to the next band, or span of it, on ctx->threads threads. */
brant_status brant_bands_next(brant_context *ctx, brant_bands *bands);
/* n cells of row `row` (-1..BRANT_BLOCK) of the band from column `col` of the window on, both
 * ends at most one column outside what is at hand. Any number of threads. */
void brant_bands_row(const brant_bands *bands, int row, int col, int n, float *out);
void brant_bands_close(brant_bands *bands);

#endif
