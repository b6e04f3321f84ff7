/* A pool of GDAL handles. */
#include "pool.h"

#include <stdlib.h>
#include <string.h>

void brant_pool_init(brant_pool *pool)
{
    memset(pool, 0, sizeof *pool);
    pthread_mutex_init(&pool->lock, NULL);
    pool->open = true;
}

static void close_handle(brant_handle *handle)
{
    brant_gdal_close(handle->dataset);
    free(handle->nodata);
    free(handle->block);
    free(handle);
}

static brant_status open_handle(brant_context *ctx, const brant_tile *tile, brant_handle **handle)
{
    brant_handle *fresh = brant_alloc(ctx, 1, sizeof *fresh);
    if (!fresh)
        return BRANT_ERR_MEMORY;
    fresh->tile = tile;
    brant_status status = brant_gdal_open(ctx, tile->path, tile->remote, &fresh->dataset);
    if (status != BRANT_OK) {
        free(fresh);
        return status;
    }
    if (tile->band <= GDALGetRasterCount(fresh->dataset))
        fresh->band = GDALGetRasterBand(fresh->dataset, tile->band);
    if (!fresh->band) {
        close_handle(fresh);
        return brant_fail(ctx, BRANT_ERR_INPUT, "%s: has no band %d", tile->path, tile->band);
    }
    *handle = fresh;
    return BRANT_OK;
}

brant_status brant_pool_take(brant_context *ctx, brant_pool *pool, const brant_tile *tile,
                             brant_handle **handle)
{
    pthread_mutex_lock(&pool->lock);
    brant_handle **link = &pool->idle;
    while (*link && (*link)->tile != tile)
        link = &(*link)->next;
    *handle = *link;
    if (*handle) {
        *link = (*handle)->next;
        pool->idle_count--;
    }
    pthread_mutex_unlock(&pool->lock);
    return *handle ? BRANT_OK : open_handle(ctx, tile, handle);
}

/* Unlink the handle that has been idle longest. */
static brant_handle *drop_last(brant_pool *pool)
{
    brant_handle **link = &pool->idle;
    while ((*link)->next)
        link = &(*link)->next;
    brant_handle *last = *link;
    *link = NULL;
    pool->idle_count--;
    return last;
}

void brant_pool_give(brant_pool *pool, brant_handle *handle)
{
    brant_handle *surplus = NULL;
    if (!handle)
        return;
    pthread_mutex_lock(&pool->lock);
    handle->next = pool->idle;
    pool->idle = handle;
    if (++pool->idle_count > BRANT_POOL_IDLE)
        surplus = drop_last(pool);
    pthread_mutex_unlock(&pool->lock);
    if (surplus)
        close_handle(surplus);
}

void brant_pool_clear(brant_pool *pool)
{
    if (!pool->open)
        return;
    while (pool->idle) {
        brant_handle *next = pool->idle->next;
        close_handle(pool->idle);
        pool->idle = next;
    }
    pthread_mutex_destroy(&pool->lock);
    memset(pool, 0, sizeof *pool);
}
