/* GDAL's block cache is the process's, not ours: only a program sets it. */
#include "brant/store.h"

#include <gdal.h>
#include <stdlib.h>

void brant_store_cache_limit(size_t bytes)
{
    if (!getenv("GDAL_CACHEMAX"))
        GDALSetCacheMax64((GIntBig)bytes);
}
