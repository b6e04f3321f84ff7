/* Handles of one raster, one for each concurrent reader: GDAL's handles are not
 * for two threads at once. Private to the room. */
#ifndef BRANT_STORE_POOL_H
#define BRANT_STORE_POOL_H

#include "gdal_call.h"

typedef struct brant_handle {
    GDALDatasetH dataset;
    GDALRasterBandH band;
    struct brant_handle *next;
} brant_handle;

typedef struct brant_pool {
    char *path;
    int band;
    pthread_mutex_t lock;
    brant_handle *idle;
} brant_pool;

brant_status brant_pool_init(brant_context *ctx, const char *path, int band, brant_pool *pool);
/* An idle handle, or a new one. Give it back. */
brant_status brant_pool_take(brant_context *ctx, brant_pool *pool, brant_handle **handle);
void brant_pool_give(brant_pool *pool, brant_handle *handle);
/* Every handle must have been given back. */
void brant_pool_clear(brant_pool *pool);

#endif
