/* How a finished raster lies in its file: overviews, the cloud optimized order, and
 * whether all of it is there. Private to the room. */
#ifndef BRANT_STORE_PACKING_H
#define BRANT_STORE_PACKING_H

#include "brant/store.h"

#include <gdal.h>

/* A file under way, as messages name it. */
typedef struct brant_packed {
    const char *path, *name;
    int cols, rows, bands;
    bool floating; /* type of its cells */
    brant_packing packing;
    brant_resampling resampling;
} brant_packed;

/* GDAL's options of writing, for CSLDestroy: of the file whose blocks come one by one, and
 * of the cloud optimized one. */
char **brant_packing_options(const brant_packed *file, int threads);
char **brant_packing_cog_options(const brant_packed *file, int threads);

/* Half, a quarter, ... until a tile holds all. Call within brant_gdal_begin. */
brant_status brant_packing_overviews(brant_context *ctx, const brant_packed *file,
                                     GDALDatasetH dataset);
/* Remove the file at `flat` and its side-car, which holds category names. */
void brant_packing_remove_flat(const char *flat);
/* Make the file, cloud optimized, of the finished one at `flat`, and remove that. */
brant_status brant_packing_cog(brant_context *ctx, const brant_packed *file, const char *flat);
/* Add all category names: they are in a side-car, which GDAL writes at closing and whose loss
 * it tells nobody. */
brant_status brant_packing_names(brant_context *ctx, GDALDatasetH dataset, brant_text *names);
/* Read the directory back: every block must lie within the file, and the names must be there. */
brant_status brant_packing_check(brant_context *ctx, const brant_packed *file,
                                 const brant_text *names);

#endif
