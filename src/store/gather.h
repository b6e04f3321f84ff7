/* From what the user names to the files that make the model up: a file, a mosaic,
 * a folder or a list of tiles, an address. Private to the room. */
#ifndef BRANT_STORE_GATHER_H
#define BRANT_STORE_GATHER_H

#include "tiles.h"

typedef struct brant_gathered {
    brant_tiles tiles;
    double transform[6]; /* of the model, where `placed` */
    bool placed;
    GDALDatasetH lead;   /* says the CRS, the band, the unit: the file, or the first tile */
    GDALDatasetH tile;   /* first tile of a mosaic that may not repeat what its tiles say; or
                            NULL */
} brant_gathered;

/* `band`: 1.., the one that will be read. Clear it when done, also on failure. */
brant_status brant_gather(brant_context *ctx, const char *path, int band,
                          brant_gathered *gathered);
void brant_gathered_clear(brant_gathered *gathered);

/* ---- its parts ---------------------------------------------------------- */

/* The tiles in a folder, by name in C order, or the paths in a list, in its order
 * (CSLDestroy). */
brant_status brant_folder_tiles(brant_context *ctx, const char *folder, char ***paths);
brant_status brant_list_tiles(brant_context *ctx, const char *list, char ***paths);
bool brant_is_list(const char *path); /* by its suffix */

/* Put tiles of one CRS, cell size and alignment on one grid; refuses two that
 * differ by their names. */
brant_status brant_join(brant_context *ctx, const char *name, char **paths, int band,
                        brant_gathered *gathered);

#endif
