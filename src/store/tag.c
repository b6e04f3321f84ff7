/* What a raster, or a GeoPackage, says of itself. */
#include "polygons.h"

#include <string.h>

brant_status brant_raster_tag(brant_context *ctx, const char *path, const char *key,
                              brant_text *value)
{
    brant_gdal_call call;
    GDALDatasetH dataset = NULL;
    brant_polygon_format format = brant_polygons_format(path);
    if (format == BRANT_POLYGONS_GEOJSON)
        return BRANT_OK; /* it has no place for any, and would be parsed whole */
    brant_gdal_begin(&call);
    brant_status status = format == BRANT_POLYGONS_GEOPACKAGE
                              ? brant_polygons_dataset(ctx, path, &dataset)
                              : brant_gdal_open(ctx, path, false, &dataset);
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
