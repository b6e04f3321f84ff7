/* What GDAL keeps for the whole process, not for us: only a program sets it. */
#include "gdal_call.h"

#include <stdlib.h>
#include <string.h>

void brant_store_cache_limit(size_t bytes)
{
    if (!getenv("GDAL_CACHEMAX"))
        GDALSetCacheMax64((GIntBig)bytes);
}

static bool is_own(const char *name)
{
    /* HFA: side-cars (.aux) of other programs, which may declare nodata */
    static const char *const others[] = {"GPKG", "GeoJSON", "COG", "MEM", "Memory", "HFA", NULL};
    for (int i = 0; brant_elevation_drivers[i]; i++)
        if (strcmp(name, brant_elevation_drivers[i]) == 0)
            return true;
    for (int i = 0; others[i]; i++)
        if (strcmp(name, others[i]) == 0)
            return true;
    return false;
}

void brant_store_own_drivers(void)
{
    brant_gdal_register();
    for (int i = GDALGetDriverCount() - 1; i >= 0; i--) {
        GDALDriverH driver = GDALGetDriver(i);
        if (is_own(GDALGetDriverShortName(driver)))
            continue;
        GDALDeregisterDriver(driver);
        GDALDestroyDriver(driver);
    }
}
