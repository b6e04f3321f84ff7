/* A pool of GDAL handles. */
#include "pool.h"

#include <stdlib.h>
#include <string.h>

brant_status brant_pool_init(brant_context *ctx, const char *path, int band, brant_pool *pool)
{
    memset(pool, 0, sizeof *pool);
    pool->path = brant_strdup(ctx, path);
    if (!pool->path)
        return BRANT_ERR_MEMORY;
    pool->band = band;
    pthread_mutex_init(&pool->lock, NULL);
    return BRANT_OK;
}

static brant_status open_handle(brant_context *ctx, const brant_pool *pool, brant_handle **handle)
{
    brant_handle *fresh = brant_alloc(ctx, 1, sizeof *fresh);
    if (!fresh)
        return BRANT_ERR_MEMORY;
    brant_status status = brant_gdal_open(ctx, pool->path, &fresh->dataset);
    if (status != BRANT_OK) {
        free(fresh);
        return status;
    }
    if (pool->band <= GDALGetRasterCount(fresh->dataset))
        fresh->band = GDALGetRasterBand(fresh->dataset, pool->band);
    if (!fresh->band) {
        brant_gdal_close(fresh->dataset);
        free(fresh);
        return brant_fail(ctx, BRANT_ERR_INPUT, "%s: has no band %d", pool->path, pool->band);
    }
    *handle = fresh;
    return BRANT_OK;
}

brant_status brant_pool_take(brant_context *ctx, brant_pool *pool, brant_handle **handle)
{
    pthread_mutex_lock(&pool->lock);
    *handle = pool->idle;
    if (pool->idle)
        pool->idle = pool->idle->next;
    pthread_mutex_unlock(&pool->lock);
    return *handle ? BRANT_OK : open_handle(ctx, pool, handle);
}

void brant_pool_give(brant_pool *pool, brant_handle *handle)
{
    if (!handle)
        return;
    pthread_mutex_lock(&pool->lock);
    handle->next = pool->idle;
    pool->idle = handle;
    pthread_mutex_unlock(&pool->lock);
}

void brant_pool_clear(brant_pool *pool)
{
    if (!pool->path)
        return;
    while (pool->idle) {
        brant_handle *next = pool->idle->next;
        brant_gdal_close(pool->idle->dataset);
        free(pool->idle);
        pool->idle = next;
    }
    pthread_mutex_destroy(&pool->lock);
    free(pool->path);
    memset(pool, 0, sizeof *pool);
}
