/* A feature's geometry as patches on the grid. Private to the room. */
#ifndef BRANT_STORE_POLYGON_SHAPE_H
#define BRANT_STORE_POLYGON_SHAPE_H

#include "burn.h"
#include "gdal_call.h"

/* Where a layer's coordinates go. */
typedef struct brant_placing {
    const char *path;       /* in messages */
    const brant_grid *grid;
    brant_locator *locator; /* NULL: the layer is in the grid's own CRS */
    size_t cuts;            /* of edges, in the file so far */
} brant_placing;

typedef struct brant_patches {
    brant_patch *patch; /* owned */
    size_t count, capacity;
} brant_patches;

void brant_patches_clear(brant_patches *patches);

/* What became of a shape. */
typedef enum brant_shape_fate {
    BRANT_SHAPE_TAKEN,
    BRANT_SHAPE_REPAIRED, /* it crossed itself */
    BRANT_SHAPE_EMPTY     /* nothing in it: passed over */
} brant_shape_fate;

/* Add a feature's polygons, one patch each. Takes `shape` (NULL allowed). Curves become
 * chords of one degree; an edge of another CRS is cut until it lies within a hundredth of
 * a cell of where it belongs. Refuses, naming the feature: lines and points, a shape
 * without area, a vertex without a place on the grid's plane, edges that take too many cuts. */
brant_status brant_shape_patches(brant_context *ctx, brant_placing *placing, long long feature,
                                 OGRGeometryH shape, brant_patches *patches,
                                 brant_shape_fate *fate);

#endif
