/* Handles of a model's tiles, one for each concurrent reader: GDAL's handles are
 * not for two threads at once. Private to the room. */
#ifndef BRANT_STORE_POOL_H
#define BRANT_STORE_POOL_H

#include "tiles.h"

/* Idle handles that stay open; with one a thread in use, that is all there are. */
#define BRANT_POOL_IDLE 64

typedef struct brant_handle {
    const brant_tile *tile;
    GDALDatasetH dataset;
    GDALRasterBandH band;
    /* what is void in it, and how it is stored: cells.c */
    bool described;
    double *nodata;
    size_t nodata_count;
    bool huge_nodata; /* one of them is beyond 1e30: so is every such value */
    bool wide;        /* the band's type needs double */
    GDALRasterBandH mask; /* says by 0 what is void; NULL: nothing does */
    bool gaps;        /* blocks without data would read as 0 */
    int block_cols, block_rows;
    bool direct;      /* whole blocks are read past GDAL's cache */
    float *block;     /* room for one, where direct; made on first use */
    struct brant_handle *next;
} brant_handle;

typedef struct brant_pool {
    bool open; /* false: nothing to clear */
    pthread_mutex_t lock;
    brant_handle *idle; /* the latest used first */
    int idle_count;
} brant_pool;

void brant_pool_init(brant_pool *pool);
/* An idle handle of the tile, or a new one. Give it back. */
brant_status brant_pool_take(brant_context *ctx, brant_pool *pool, const brant_tile *tile,
                             brant_handle **handle);
void brant_pool_give(brant_pool *pool, brant_handle *handle);
/* Every handle must have been given back. */
void brant_pool_clear(brant_pool *pool);

#endif
