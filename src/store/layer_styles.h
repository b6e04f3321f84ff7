/* The styles of layers, kept until the file is closed. Private to the room. */
#ifndef BRANT_STORE_LAYER_STYLES_H
#define BRANT_STORE_LAYER_STYLES_H

#include "gdal_call.h"

typedef struct brant_kept_style {
    char *layer, *description, *qml, *sld;
} brant_kept_style;

/* Zero to start. */
typedef struct brant_kept_styles {
    brant_kept_style *style;
    size_t count, capacity;
} brant_kept_styles;

/* Copies the texts. */
brant_status brant_kept_styles_add(brant_context *ctx, brant_kept_styles *styles,
                                   const char *layer, const brant_layer_style *style);
/* What is said of the layer; NULL if nothing. */
const char *brant_kept_description(const brant_kept_styles *styles, const char *layer);
/* Make the table `layer_styles` of a GeoPackage, unless there is none to write; false if that
 * fails. Call within brant_gdal_begin. */
bool brant_kept_styles_write(const brant_kept_styles *styles, GDALDatasetH dataset);
void brant_kept_styles_clear(brant_kept_styles *styles);

#endif
