/* Elevations of a file's own cells in metres, voids as NaN. Private to the room. */
#ifndef BRANT_STORE_CELLS_H
#define BRANT_STORE_CELLS_H

#include "pool.h"

typedef struct brant_cells {
    brant_pool pool;
    int cols, rows;
    int block_cols, block_rows;
    bool wide;             /* the band's type needs double */
    double scale, offset;  /* metres = stored * scale + offset */
    double *nodata;        /* void values, as the band's type holds them */
    size_t nodata_count;
    bool huge_nodata;      /* one of them is beyond 1e30: so is every such value */
    bool masked;           /* a mask or alpha band says what is void */
    bool gaps;             /* blocks without data would read as 0 */
    atomic_bool warned;    /* about a void value that nobody declared */
} brant_cells;

/* Everything but scale and offset. `dataset` is an open handle of `path`, the
 * caller's. */
brant_status brant_cells_init(brant_context *ctx, const char *path, GDALDatasetH dataset, int band,
                              const double *nodata, size_t nodata_count, brant_cells *cells);
/* Cells of `window`, which lies on the raster, into out[row*stride + col]. Any
 * number of threads at once. */
brant_status brant_cells_read(brant_context *ctx, brant_cells *cells, const brant_window *window,
                              float *out, size_t stride);
void brant_cells_clear(brant_cells *cells);

#endif
