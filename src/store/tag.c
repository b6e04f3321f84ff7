/* What a raster, or a GeoPackage, says of itself. */
#include "polygons.h"

#include <string.h>

brant_status brant_raster_tag(brant_context *ctx, const char *path, const char *key,
                              brant_text *value)
{
    brant_gdal_call call;
    GDALDatasetH dataset = NULL;
    brant_gdal_begin(&call);
    brant_status status = brant_polygons_begin(path)
                              ? brant_polygons_dataset(ctx, path, &dataset)
                              : brant_gdal_open(ctx, path, &dataset);
    if (status == BRANT_OK) {
        const char *text = GDALGetMetadataItem(dataset, key, NULL);
        if (text)
            brant_text_add_bytes(value, text, strlen(text));
        status = brant_text_status(ctx, value);
    }
    brant_gdal_close(dataset);
    brant_gdal_end(&call);
    return status;
}
