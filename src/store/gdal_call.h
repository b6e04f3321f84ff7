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
    bool failed;     /* GDAL reported a failure since begin, or something that it could not read
                        and went on without */
    char text[512];  /* the first failure it reported */
} brant_gdal_call;

void brant_gdal_begin(brant_gdal_call *call);
void brant_gdal_end(brant_gdal_call *call);
/* GDAL's first failure, else `otherwise`. */
const char *brant_gdal_text(const brant_gdal_call *call, const char *otherwise);
/* BRANT_ERR_INPUT if GDAL reported a failure since begin, whatever its call returned: it reads on
 * without a tag, and takes any bytes for cells, where the disk did not give what it asked for. */
brant_status brant_gdal_all_read(brant_context *ctx, const char *path,
                                 const brant_gdal_call *call);

/* The drivers that read elevation models, NULL-terminated. */
extern const char *const brant_elevation_drivers[];

/* Names that GDAL would take for something else than a file on this machine. */
bool brant_is_address(const char *name);
/* An address that a user may type for a model: http(s)://... or the same behind
 * /vsicurl/; and how GDAL names it (free() it). */
bool brant_is_remote(const char *name);
char *brant_remote_name(brant_context *ctx, const char *name);
/* Until brant_gdal_end, this one remote file may be read, and no other. */
void brant_gdal_allow(const char *remote_name);

/* Open a raster of the elevation formats read-only; one line on refusal:
 * missing, a folder, another format, an address on a network or inside an
 * archive, a mosaic that names one. `remote`: `path` is a brant_remote_name. Closed
 * with brant_gdal_close. */
brant_status brant_gdal_open(brant_context *ctx, const char *path, bool remote,
                             GDALDatasetH *dataset);
void brant_gdal_close(GDALDatasetH dataset); /* NULL allowed */

/* A CRS of WKT (or an authority's code) with x before y; NULL if it is none. For
 * OSRDestroySpatialReference. Call within brant_gdal_begin. */
OGRSpatialReferenceH brant_gdal_crs(const char *text);

/* Is the CRS the one of `wkt`, heights aside? NULL is not. Call within
 * brant_gdal_begin. */
bool brant_gdal_same_crs(OGRSpatialReferenceH theirs, const char *wkt);

/* Register all drivers, once. */
void brant_gdal_register(void);

/* Refuse a file that is cut off, or whose side-cars (a mask, PATH.aux.xml) GDAL could not read
 * and so left out. In check_whole.c. */
brant_status brant_gdal_check_whole(brant_context *ctx, const char *path, GDALDatasetH dataset);

/* A regular file on this machine; and the same with one line on refusal. */
bool brant_gdal_is_file(const char *path);
brant_status brant_gdal_check_path(brant_context *ctx, const char *path);

/* The files behind `path` if it is such a raster, a folder or a list of them
 * (itself, side-cars, a mosaic's tiles), for CSLDestroy; NULL if it is none. Never
 * fails. In gather.c. */
char **brant_gdal_files(const char *path);

#endif
