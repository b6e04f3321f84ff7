/* The files that a model is made of. */
#include "tiles.h"

#include <stdlib.h>
#include <string.h>

brant_status brant_tiles_add(brant_context *ctx, brant_tiles *tiles, const brant_tile *tile)
{
    brant_tile copy = *tile;
    brant_status status = brant_grow(ctx, &tiles->tile, &tiles->capacity, tiles->count + 1,
                                     sizeof *tiles->tile);
    if (status != BRANT_OK)
        return status;
    copy.path = brant_strdup(ctx, tile->path);
    copy.nodata = brant_alloc(ctx, tile->nodata_count, sizeof *copy.nodata);
    if (!copy.path || !copy.nodata) {
        free(copy.path);
        free(copy.nodata);
        return BRANT_ERR_MEMORY;
    }
    if (tile->nodata_count > 0)
        memcpy(copy.nodata, tile->nodata, tile->nodata_count * sizeof *copy.nodata);
    tiles->tile[tiles->count++] = copy;
    return BRANT_OK;
}

void brant_tiles_clear(brant_tiles *tiles)
{
    for (size_t i = 0; i < tiles->count; i++) {
        free(tiles->tile[i].path);
        free(tiles->tile[i].nodata);
    }
    free(tiles->tile);
    memset(tiles, 0, sizeof *tiles);
}
