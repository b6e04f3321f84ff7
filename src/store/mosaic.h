/* Mosaics (VRT): what they may name, and where they hold nothing. Private to the
 * room. */
#ifndef BRANT_STORE_MOSAIC_H
#define BRANT_STORE_MOSAIC_H

#include "tiles.h"

/* Mosaics within mosaics; deeper ones name themselves. */
#define BRANT_MOSAIC_DEEPEST 8

/* Does the VRT driver take the file? Call within brant_gdal_begin. */
bool brant_is_mosaic(const char *path);

/* Every source of the mosaic at `path` and of the mosaics in it, appended to
 * `*files` (for CSLDestroy) unless that is NULL. Refuses one that is no file on
 * this machine, or not of a kind that is read. Call within brant_gdal_begin. */
brant_status brant_mosaic_sources(brant_context *ctx, const char *path, char ***files);

/* Where the mosaic at `path` declares no nodata value, GDAL reads 0 in gaps
 * between sources and where a source is void: then replace `*dataset` by the same
 * mosaic with a nodata value that no elevation has. Call within brant_gdal_begin;
 * `path` has been opened by the VRT driver. */
brant_status brant_mosaic_prepare(brant_context *ctx, const char *path, GDALDatasetH *dataset);

/* Take the mosaic's band apart into the files that it lays side by side, mosaics
 * in it, too; a file that is not there is left out, with a warning. `*apart` is
 * false, and nothing done, where it does more than that: warps, rescales,
 * computes, masks. Call within brant_gdal_begin. */
brant_status brant_mosaic_take_apart(brant_context *ctx, const char *path, int band,
                                     brant_tiles *tiles, bool *apart);

/* Refuse a mosaic that is read as a whole if one of its sources has voids that GDAL
 * hands on as 0, or is resampled in a way that depends on the window read. Call within
 * brant_gdal_begin. */
brant_status brant_mosaic_check_sources(brant_context *ctx, const char *path);

#endif
