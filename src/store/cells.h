/* Elevations of a model's own cells in metres, voids as NaN. Private to the room. */
#ifndef BRANT_STORE_CELLS_H
#define BRANT_STORE_CELLS_H

#include "pool.h"
#include "voids.h"

typedef struct brant_cells {
    const char *name;      /* the model's, for messages; borrowed */
    brant_tiles tiles;
    brant_pool pool;
    double scale, offset;  /* metres = stored * scale + offset */
    double unit_m;         /* of the unit that was stated or assumed; 0: the user's word counts */
    /* of a mosaic taken apart: the scale and offset that its tiles must have, where they have
     * any; where the mosaic itself states none, all must have the first one's */
    bool one_scale, mosaic_scale;
    double stored_scale, stored_offset;
    double *nodata;        /* void values besides what each tile declares */
    size_t nodata_count;
    bool nodata_given;     /* the user named some of them */
    brant_void_rules rules; /* what the survey found out; zero before */
    uint8_t *fills;        /* cell by cell, 1 where a stored 0 is a fill; or NULL */
    atomic_bool warned, warned_cliff;
} brant_cells;

/* Takes `tiles` over (and empties it). scale 1, no rules. */
brant_status brant_cells_init(brant_context *ctx, const char *name, brant_tiles *tiles,
                              const double *nodata, size_t nodata_count, brant_cells *cells);
/* A further value that is void. */
brant_status brant_cells_add_nodata(brant_context *ctx, brant_cells *cells, double value);
/* Cells of `window`, which lies on the model, into out[row*stride + col]. Any
 * number of threads at once. With `tally` (one thread), values that are no
 * elevation are counted there and not warned about. */
brant_status brant_cells_read(brant_context *ctx, brant_cells *cells, const brant_window *window,
                              float *out, size_t stride, brant_void_tally *tally);
/* The part `w` (of the model) of one tile, which holds all of it. In cells_tile.c. */
brant_status brant_cells_read_tile(brant_context *ctx, brant_cells *cells, const brant_tile *tile,
                                   const brant_window *w, float *out, size_t stride,
                                   brant_void_tally *tally);
/* The rows and columns that are cheap to read together in the tile. */
brant_status brant_cells_blocks(brant_context *ctx, brant_cells *cells, const brant_tile *tile,
                                int *cols, int *rows);
void brant_cells_clear(brant_cells *cells);

/* ---- a row of cells ------------------------------------------------------ */

#define BRANT_PLAIN_NODATA 2

/* What is void where the stored values are metres and floats. */
typedef struct brant_plain_rules {
    bool holds;                       /* false: go the slow way always */
    float nodata[BRANT_PLAIN_NODATA]; /* NaN where there are fewer */
    float largest;                    /* beyond it a value is nodata, not told of */
    const float *undeclared;          /* the model's */
    int undeclared_count;
} brant_plain_rules;

brant_plain_rules brant_plain_of(const brant_cells *cells, const brant_handle *handle);
/* n stored values to metres, voids as NaN; `out` may be `raw`. */
void brant_cells_row(brant_context *ctx, brant_cells *cells, const brant_handle *handle,
                     const brant_plain_rules *plain, const float *raw, int n, float *out,
                     brant_void_tally *tally);
/* One of them, of any type. */
float brant_cells_metres(brant_context *ctx, brant_cells *cells, const brant_handle *handle,
                         double stored, brant_void_tally *tally);

#endif
