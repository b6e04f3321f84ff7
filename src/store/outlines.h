/* Outlines of numbered patches. Private to the room. */
#ifndef BRANT_STORE_OUTLINES_H
#define BRANT_STORE_OUTLINES_H

#include "gdal_call.h"

#include <ogr_api.h>

/* The outline of one number: a multipolygon in grid coordinates, owned. */
typedef struct brant_outline {
    uint32_t number;
    OGRGeometryH shape;
} brant_outline;

/* The outlines of all numbers but 0, by rising number. The caller frees with
 * brant_outlines_free. Call within brant_gdal_begin. */
brant_status brant_outlines_trace(brant_context *ctx, const brant_window *window,
                                  const uint32_t *numbers, brant_outline **outlines,
                                  size_t *count);
void brant_outlines_free(brant_outline *outlines, size_t count);

#endif
