/* What every call into GDAL stands in: drivers registered once, GDAL's own
 * messages caught instead of printed, its network closed. Private to the room. */
#ifndef BRANT_STORE_GDAL_CALL_H
#define BRANT_STORE_GDAL_CALL_H

#include "brant/store.h"

#include <gdal.h>
#include <ogr_srs_api.h>

/* GDAL's state of this thread while we are in it. Begin and end on one thread,
 * in one function; may be nested. */
typedef struct brant_gdal_call {
    char **options;  /* the thread's configuration before; owned */
    bool failed;     /* GDAL reported a failure since begin */
    char text[512];  /* the first failure it reported */
} brant_gdal_call;

void brant_gdal_begin(brant_gdal_call *call);
void brant_gdal_end(brant_gdal_call *call);
/* GDAL's first failure, else `otherwise`. */
const char *brant_gdal_text(const brant_gdal_call *call, const char *otherwise);

/* Open a raster of the elevation formats read-only; one line on refusal:
 * missing, a folder, another format, an address on a network or inside an
 * archive, a mosaic that names one. Closed with brant_gdal_close. */
brant_status brant_gdal_open(brant_context *ctx, const char *path, GDALDatasetH *dataset);
void brant_gdal_close(GDALDatasetH dataset); /* NULL allowed */

/* A CRS of WKT (or an authority's code) with x before y; NULL if it is none. For
 * OSRDestroySpatialReference. Call within brant_gdal_begin. */
OGRSpatialReferenceH brant_gdal_crs(const char *text);

/* Is the CRS the one of `wkt`, heights aside? NULL is not. Call within
 * brant_gdal_begin. */
bool brant_gdal_same_crs(OGRSpatialReferenceH theirs, const char *wkt);

/* A regular file on this machine; and the same with one line on refusal. */
bool brant_gdal_is_file(const char *path);
brant_status brant_gdal_check_path(brant_context *ctx, const char *path);

/* The files behind `path` if it is such a raster (itself, side-cars, a mosaic's
 * tiles), for CSLDestroy; NULL if it is none. Never fails. */
char **brant_gdal_files(const char *path);

#endif
