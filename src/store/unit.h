/* Vertical units. Private to the room. */
#ifndef BRANT_STORE_UNIT_H
#define BRANT_STORE_UNIT_H

#include "gdal_call.h"

/* Metres in one of the unit that `text` names; false if it names none we know. */
bool brant_unit_metres(const char *text, double *metres);

/* Where a model's unit may be stated, besides the option. */
typedef struct brant_unit_places {
    OGRSpatialReferenceH crs;  /* NULL: none */
    GDALRasterBandH band;
    GDALRasterBandH tile_band; /* of a mosaic's first tile, or NULL: asked where the mosaic is
                                  silent */
    const char *geotiff;       /* path of the file whose GeoKeys count */
} brant_unit_places;

/* Metres in one unit of the heights, and where that was read: the option, the CRS,
 * the band, the GeoKeys, or nowhere (metres, with a note). Where two places differ,
 * a warning says so. `from` is static. Call within brant_gdal_begin. */
brant_status brant_vertical_unit(brant_context *ctx, const char *name, const char *option,
                                 const brant_unit_places *places, double *metres,
                                 const char **from);

#endif
