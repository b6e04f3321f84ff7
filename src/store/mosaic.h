/* Mosaics (VRT): what they may name, and where they hold nothing. Private to the
 * room. */
#ifndef BRANT_STORE_MOSAIC_H
#define BRANT_STORE_MOSAIC_H

#include "gdal_call.h"

/* Names that GDAL would take for something else than a file on this machine. */
bool brant_is_address(const char *name);

/* Refuse a mosaic with a source that is no local file. Where it declares no
 * nodata value, GDAL reads 0 in gaps between sources and where a source is void:
 * then replace `*dataset` by the same mosaic with a nodata value that no
 * elevation has. Call within brant_gdal_begin; `path` has been opened by the VRT
 * driver. */
brant_status brant_mosaic_prepare(brant_context *ctx, const char *path, GDALDatasetH *dataset);

#endif
