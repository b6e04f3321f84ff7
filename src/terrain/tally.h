/* The ground of a square with its margin, and what is summed up of a zone. */
#ifndef BRANT_TALLY_H
#define BRANT_TALLY_H

#include "brant/terrain.h"

/* Elevation, gradient and slope of a square and some cells around it, NaN where
 * unknown. Rows and columns of the arrays are those of `wide`; owned. */
typedef struct brant_square_ground {
    brant_window square, wide;
    float *z, *rise_east, *rise_north, *slope;
} brant_square_ground;

/* A margin of at least one cell on each side. */
brant_status brant_square_ground_read(brant_context *ctx, brant_source *source,
                                      const brant_ground *ground, const brant_window *square,
                                      int margin_cols, int margin_rows, brant_square_ground *out);
void brant_square_ground_clear(brant_square_ground *g);

/* Where the cell (col, row) of the square, both counted from its corner, lies in
 * the arrays; -1 and the square's size reach into the margin. */
static inline size_t brant_square_at(const brant_square_ground *g, int col, int row)
{
    return (size_t)(row + g->square.row - g->wide.row) * (size_t)g->wide.cols +
           (size_t)(col + g->square.col - g->wide.col);
}

/* The cell or one of its eight neighbours has no slope. */
bool brant_square_at_void(const brant_square_ground *g, int col, int row);

/* A zone while its cells are being counted. */
typedef struct brant_tally {
    brant_zone zone;                  /* without means and shares */
    double known_m2, slope_m2;        /* area of known slope; sum of slope times area */
    double steep_m2;                  /* area above 45 degrees */
    double aspect_east, aspect_north; /* sum of unit vectors down the slope */
} brant_tally;

brant_tally brant_tally_start(uint32_t number);
/* Count a cell of the square (col, row from its corner) of `area` m2. */
void brant_tally_cell(brant_tally *tally, const brant_square_ground *g, int col, int row,
                      double area);
/* Add what was counted of the same zone in a later square. */
void brant_tally_add(brant_tally *tally, const brant_tally *later);
brant_zone brant_tally_zone(const brant_tally *tally, const brant_zone_options *options);

#endif
