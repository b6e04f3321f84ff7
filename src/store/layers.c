/* Vector layers out: GeoPackage and GeoJSON. */
#include "layer_styles.h"
#include "outlines.h"

#include <cpl_string.h>
#include <math.h>
#include <stdlib.h>
#include <string.h>

struct brant_layers {
    char *name;           /* in messages */
    char *path;
    bool geojson;
    GIntBig features;     /* written so far, all layers */
    GDALDatasetH dataset;
    bool in_transaction;
    /* the layer under way; made in the file with its first feature, when its CRS
     * is known */
    char *layer_name;
    int layer_count;
    brant_shape shape;
    const brant_column *columns;
    int column_count;
    OGRLayerH layer;
    brant_value *values;  /* column_count of them, for outlines */
    brant_kept_styles styles; /* of all layers; the last may be of the one under way */
};

static brant_status failed(brant_context *ctx, const brant_layers *layers,
                           const brant_gdal_call *call)
{
    return brant_fail(ctx, BRANT_ERR_IO, "%s: cannot write: %s", layers->name,
                      brant_gdal_text(call, "unknown failure"));
}

/* ---- creating ----------------------------------------------------------- */

static void release(brant_layers *layers)
{
    free(layers->name);
    free(layers->path);
    free(layers->layer_name);
    free(layers->values);
    brant_kept_styles_clear(&layers->styles);
    free(layers);
}

static brant_status create(brant_context *ctx, brant_layers *layers)
{
    brant_gdal_call call;
    brant_status status = BRANT_OK;
    brant_gdal_begin(&call);
    GDALDriverH driver = GDALGetDriverByName(layers->geojson ? "GeoJSON" : "GPKG");
    if (driver)
        layers->dataset = GDALCreate(driver, layers->path, 0, 0, 0, GDT_Unknown, NULL);
    if (layers->dataset && !layers->geojson) /* one transaction: a commit per row is slow */
        layers->in_transaction =
            GDALDatasetStartTransaction(layers->dataset, FALSE) == OGRERR_NONE;
    if (!layers->dataset || call.failed)
        status = failed(ctx, layers, &call);
    brant_gdal_end(&call);
    return status;
}

brant_status brant_layers_create(brant_context *ctx, const char *path, const char *target,
                                 brant_layers **out)
{
    *out = NULL;
    bool geojson = brant_ends_in(target, ".geojson") || brant_ends_in(target, ".json");
    if (!geojson && !brant_ends_in(target, ".gpkg"))
        return brant_fail(ctx, BRANT_ERR_USAGE,
                          "%s: layers go to .gpkg, .geojson or .json files", target);
    brant_layers *layers = brant_alloc(ctx, 1, sizeof *layers);
    if (!layers)
        return BRANT_ERR_MEMORY;
    layers->geojson = geojson;
    layers->name = brant_strdup(ctx, target);
    layers->path = brant_strdup(ctx, path);
    brant_status status =
        layers->name && layers->path ? create(ctx, layers) : BRANT_ERR_MEMORY;
    if (status != BRANT_OK)
        brant_layers_abandon(layers);
    else
        *out = layers;
    return status;
}

brant_status brant_layers_metadata(brant_context *ctx, brant_layers *layers,
                                   const char *const *lines)
{
    brant_gdal_call call;
    brant_status status = BRANT_OK;
    if (layers->geojson)
        return BRANT_OK;
    brant_gdal_begin(&call);
    if (GDALSetMetadata(layers->dataset, (char **)(uintptr_t)lines, NULL) != CE_None ||
        call.failed)
        status = failed(ctx, layers, &call);
    brant_gdal_end(&call);
    return status;
}

/* ---- the layer under way ------------------------------------------------ */

static bool add_fields(brant_layers *layers)
{
    static const OGRFieldType types[] = {
        [BRANT_FIELD_TEXT] = OFTString,
        [BRANT_FIELD_INTEGER] = OFTInteger64,
        [BRANT_FIELD_REAL] = OFTReal,
    };
    bool ok = true;
    for (int i = 0; ok && i < layers->column_count; i++) {
        OGRFieldDefnH field = OGR_Fld_Create(layers->columns[i].name,
                                             types[layers->columns[i].type]);
        ok = OGR_L_CreateField(layers->layer, field, FALSE) == OGRERR_NONE;
        OGR_Fld_Destroy(field);
    }
    return ok;
}

static OGRwkbGeometryType geometry_type(brant_shape shape)
{
    return shape == BRANT_SHAPE_POINT  ? wkbPoint
           : shape == BRANT_SHAPE_LINE ? wkbLineString
                                       : wkbMultiPolygon;
}

/* Make the layer in the file unless it is there; `crs` is WKT or an authority's
 * code. Call within brant_gdal_begin. */
static bool open_layer(brant_layers *layers, const char *crs)
{
    if (layers->layer)
        return true;
    OGRSpatialReferenceH srs = brant_gdal_crs(layers->geojson ? "OGC:CRS84" : crs);
    if (!srs)
        return false;
    const char *description = brant_kept_description(&layers->styles, layers->layer_name);
    char **options = layers->geojson ? CSLSetNameValue(NULL, "RFC7946", "YES") : NULL;
    if (description)
        options = CSLSetNameValue(options, "DESCRIPTION", description);
    layers->layer = GDALDatasetCreateLayer(layers->dataset, layers->layer_name, srs,
                                           geometry_type(layers->shape), options);
    CSLDestroy(options);
    OSRDestroySpatialReference(srs);
    return layers->layer && add_fields(layers);
}

/* A layer without any feature is a layer all the same. */
static brant_status finish_layer(brant_context *ctx, brant_layers *layers)
{
    brant_gdal_call call;
    brant_status status = BRANT_OK;
    if (!layers->layer_name)
        return BRANT_OK;
    brant_gdal_begin(&call);
    if (!open_layer(layers, "EPSG:4326") || call.failed)
        status = failed(ctx, layers, &call);
    brant_gdal_end(&call);
    layers->layer = NULL; /* the dataset's */
    free(layers->layer_name);
    free(layers->values);
    layers->layer_name = NULL;
    layers->values = NULL;
    return status;
}

brant_status brant_layers_add(brant_context *ctx, brant_layers *layers, const char *name,
                              brant_shape shape, const brant_column *columns, int column_count)
{
    if (layers->geojson && layers->layer_count > 0)
        return brant_fail(ctx, BRANT_ERR_USAGE,
                          "%s: a GeoJSON file holds one layer; name a .gpkg file for more",
                          layers->name);
    brant_status status = finish_layer(ctx, layers);
    if (status != BRANT_OK)
        return status;
    layers->layer_name = brant_strdup(ctx, name);
    layers->values = brant_alloc(ctx, (size_t)column_count, sizeof *layers->values);
    if (!layers->layer_name || !layers->values)
        return BRANT_ERR_MEMORY;
    layers->shape = shape;
    layers->columns = columns;
    layers->column_count = column_count;
    layers->layer_count++;
    return BRANT_OK;
}

brant_status brant_layers_style(brant_context *ctx, brant_layers *layers,
                                const brant_layer_style *style)
{
    if (!layers->layer_name || layers->layer)
        return brant_fail(ctx, BRANT_ERR_INTERNAL, "%s: no layer waits for a style", layers->name);
    if (layers->geojson)
        return BRANT_OK;
    return brant_kept_styles_add(ctx, &layers->styles, layers->layer_name, style);
}

/* ---- features ----------------------------------------------------------- */

static void set_fields(const brant_layers *layers, OGRFeatureH feature, const brant_value *values)
{
    for (int i = 0; i < layers->column_count; i++) {
        brant_field_type type = layers->columns[i].type;
        if (type == BRANT_FIELD_TEXT ? !values[i].text : isnan(values[i].number))
            OGR_F_SetFieldNull(feature, i);
        else if (type == BRANT_FIELD_TEXT)
            OGR_F_SetFieldString(feature, i, values[i].text);
        else if (type == BRANT_FIELD_INTEGER)
            OGR_F_SetFieldInteger64(feature, i, llround(values[i].number));
        else
            OGR_F_SetFieldDouble(feature, i, values[i].number);
    }
}

/* Takes `shape` (NULL: a row without a place). Call within brant_gdal_begin. */
static bool write_feature(brant_layers *layers, OGRGeometryH shape, const brant_value *values)
{
    OGRFeatureH feature = OGR_F_Create(OGR_L_GetLayerDefn(layers->layer));
    if (!feature) {
        OGR_G_DestroyGeometry(shape);
        return false;
    }
    set_fields(layers, feature, values);
    bool ok = !shape || OGR_F_SetGeometryDirectly(feature, shape) == OGRERR_NONE;
    ok = ok && OGR_L_CreateFeature(layers->layer, feature) == OGRERR_NONE;
    OGR_F_Destroy(feature);
    layers->features += ok;
    return ok;
}

/* A line needs two points; NULL for fewer. */
static OGRGeometryH make_shape(brant_shape shape, const double *lonlat, size_t points)
{
    if (points < (shape == BRANT_SHAPE_LINE ? 2 : 1))
        return NULL;
    OGRGeometryH geometry = OGR_G_CreateGeometry(geometry_type(shape));
    if (shape == BRANT_SHAPE_POINT)
        points = 1;
    for (size_t i = 0; i < points; i++)
        OGR_G_SetPoint_2D(geometry, (int)i, lonlat[2 * i], lonlat[2 * i + 1]);
    return geometry;
}

brant_status brant_layers_feature(brant_context *ctx, brant_layers *layers, const double *lonlat,
                                  size_t points, const brant_value *values)
{
    brant_gdal_call call;
    brant_status status = BRANT_OK;
    if (!layers->layer_name || layers->shape == BRANT_SHAPE_AREA || points > INT32_MAX)
        return brant_fail(ctx, BRANT_ERR_INTERNAL, "%s: no layer for points and lines is open",
                          layers->name);
    brant_gdal_begin(&call);
    if (!open_layer(layers, "EPSG:4326") ||
        !write_feature(layers, make_shape(layers->shape, lonlat, points), values) || call.failed)
        status = failed(ctx, layers, &call);
    brant_gdal_end(&call);
    return status;
}

/* ---- outlines ----------------------------------------------------------- */

/* Where grid coordinates go: into the grid's CRS, or through the locator to
 * longitude and latitude. */
typedef struct placer {
    const double *transform;
    brant_locator *locator; /* NULL: the grid's own CRS */
} placer;

static void place_ring(const placer *p, OGRGeometryH ring)
{
    int count = OGR_G_GetPointCount(ring);
    for (int i = 0; i < count; i++) {
        double x, y;
        double col = OGR_G_GetX(ring, i), row = OGR_G_GetY(ring, i);
        if (p->locator)
            brant_locator_to_lonlat(p->locator, col, row, &x, &y);
        else {
            x = p->transform[0] + col * p->transform[1] + row * p->transform[2];
            y = p->transform[3] + col * p->transform[4] + row * p->transform[5];
        }
        OGR_G_SetPoint_2D(ring, i, x, y);
    }
}

/* Polygons of a multipolygon, rings of a polygon. */
static void place_shape(const placer *p, OGRGeometryH shape)
{
    int parts = OGR_G_GetGeometryCount(shape);
    for (int i = 0; i < parts; i++)
        place_shape(p, OGR_G_GetGeometryRef(shape, i));
    if (parts == 0)
        place_ring(p, shape);
}

static brant_status write_outlines(brant_context *ctx, brant_layers *layers,
                                   const brant_grid *grid, const placer *p,
                                   brant_outline *outlines, size_t count, brant_values_fn values,
                                   void *self)
{
    brant_gdal_call call;
    brant_status status = BRANT_OK;
    brant_gdal_begin(&call);
    bool ok = open_layer(layers, grid->crs);
    for (size_t i = 0; ok && i < count; i++) {
        for (int c = 0; c < layers->column_count; c++)
            layers->values[c] = (brant_value){NULL, NAN};
        values(self, outlines[i].number, layers->values);
        place_shape(p, outlines[i].shape);
        ok = write_feature(layers, outlines[i].shape, layers->values);
        outlines[i].shape = NULL;
    }
    if (!ok || call.failed)
        status = failed(ctx, layers, &call);
    brant_gdal_end(&call);
    return status;
}

brant_status brant_layers_outlines(brant_context *ctx, brant_layers *layers,
                                   const brant_grid *grid, const brant_window *window,
                                   const uint32_t *numbers, brant_values_fn values, void *self)
{
    brant_gdal_call call;
    brant_outline *outlines = NULL;
    size_t count = 0;
    placer p = {grid->transform, NULL};
    brant_status status = BRANT_OK;
    if (!layers->layer_name || layers->shape != BRANT_SHAPE_AREA)
        return brant_fail(ctx, BRANT_ERR_INTERNAL, "%s: no layer for areas is open", layers->name);
    if (layers->geojson)
        status = brant_locator_create(ctx, layers->name, grid, &p.locator);
    if (status == BRANT_OK) {
        brant_gdal_begin(&call);
        status = brant_outlines_trace(ctx, window, numbers, &outlines, &count);
        brant_gdal_end(&call);
    }
    if (status == BRANT_OK)
        status = write_outlines(ctx, layers, grid, &p, outlines, count, values, self);
    brant_outlines_free(outlines, count);
    brant_locator_destroy(p.locator);
    return status;
}

/* ---- closing ------------------------------------------------------------ */

static brant_status write_styles(brant_context *ctx, const brant_layers *layers)
{
    brant_gdal_call call;
    brant_status status = BRANT_OK;
    brant_gdal_begin(&call);
    if (!brant_kept_styles_write(&layers->styles, layers->dataset) || call.failed)
        status = failed(ctx, layers, &call);
    brant_gdal_end(&call);
    return status;
}

/* GDAL's GeoJSON writer does not look whether its writes succeed: read the file
 * back. Cut short it is no JSON, or holds fewer features. */
static brant_status check_geojson(brant_context *ctx, const brant_layers *layers)
{
    static const char *const drivers[] = {"GeoJSON", NULL};
    brant_gdal_call call;
    bool whole = false;
    brant_gdal_begin(&call);
    GDALDatasetH dataset = GDALOpenEx(layers->path, GDAL_OF_VECTOR | GDAL_OF_READONLY, drivers,
                                      NULL, NULL);
    if (dataset) {
        whole = GDALDatasetGetLayerCount(dataset) == 1 &&
                OGR_L_GetFeatureCount(GDALDatasetGetLayer(dataset, 0), TRUE) == layers->features;
        GDALClose(dataset);
    }
    brant_gdal_end(&call);
    if (!whole)
        return brant_fail(ctx, BRANT_ERR_IO, "%s: cannot write: the file did not come out whole",
                          layers->name);
    return BRANT_OK;
}

brant_status brant_layers_close(brant_context *ctx, brant_layers *layers)
{
    brant_gdal_call call;
    brant_status status = finish_layer(ctx, layers);
    if (status == BRANT_OK)
        status = write_styles(ctx, layers);
    brant_gdal_begin(&call);
    if (layers->in_transaction && GDALDatasetCommitTransaction(layers->dataset) != OGRERR_NONE &&
        status == BRANT_OK)
        status = failed(ctx, layers, &call);
    GDALFlushCache(layers->dataset);
    GDALClose(layers->dataset);
    if (call.failed && status == BRANT_OK)
        status = failed(ctx, layers, &call);
    brant_gdal_end(&call);
    if (status == BRANT_OK && layers->geojson)
        status = check_geojson(ctx, layers);
    release(layers);
    return status;
}

void brant_layers_abandon(brant_layers *layers)
{
    if (!layers)
        return;
    brant_gdal_close(layers->dataset);
    release(layers);
}
