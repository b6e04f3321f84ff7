/* A layer of polygons as its file holds it: which layer, its CRS, its columns. */
#include "polygon_layer.h"
#include "polygons.h"

#include <cpl_conv.h>
#include <math.h>
#include <ogr_api.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <strings.h>

static const char *const polygon_drivers[] = {"GPKG", "GeoJSON", NULL};

/* What a person may give as a zone's reach angle, as --reach-angle. */
#define LOWEST_DEG 10.0
#define HIGHEST_DEG 60.0

typedef struct reading {
    brant_context *ctx;
    const char *path;
    brant_polygon_layer *out;
    brant_placing placing;
    int number_column, angle_column; /* -1: none */
    size_t empty, repaired;          /* features passed over; mended */
    long long first_empty, first_repaired;
} reading;

/* ---- the file ------------------------------------------------------------ */

brant_status brant_polygons_dataset(brant_context *ctx, const char *path, GDALDatasetH *dataset)
{
    brant_gdal_call call;
    *dataset = NULL;
    brant_status status = brant_gdal_check_path(ctx, path);
    if (status != BRANT_OK)
        return status;
    brant_gdal_begin(&call);
    *dataset = GDALOpenEx(path, GDAL_OF_VECTOR | GDAL_OF_READONLY | GDAL_OF_VERBOSE_ERROR,
                          polygon_drivers, NULL, NULL);
    if (!*dataset && strstr(brant_gdal_text(&call, ""), "not recognized"))
        status = brant_fail(ctx, BRANT_ERR_INPUT,
                            "%s: no polygons of a kind that is read (GeoPackage, GeoJSON)", path);
    else if (!*dataset)
        status = brant_fail(ctx, BRANT_ERR_INPUT, "%s: cannot open: %s", path,
                            brant_gdal_text(&call, "no polygons"));
    brant_gdal_end(&call);
    return status;
}

/* ---- which layer -------------------------------------------------------- */

static bool is_candidate(OGRLayerH layer, bool any_shape)
{
    OGRwkbGeometryType type = wkbFlatten(OGR_L_GetGeomType(layer));
    if (any_shape)
        return type == wkbUnknown;
    return type == wkbPolygon || type == wkbMultiPolygon || type == wkbCurvePolygon ||
           type == wkbMultiSurface;
}

/* How many layers of polygons, or (any_shape) of shapes of any kind; *first is one. */
static int count_candidates(GDALDatasetH dataset, bool any_shape, OGRLayerH *first)
{
    int count = 0;
    for (int i = 0; i < GDALDatasetGetLayerCount(dataset); i++) {
        OGRLayerH layer = GDALDatasetGetLayer(dataset, i);
        if (is_candidate(layer, any_shape) && count++ == 0)
            *first = layer;
    }
    return count;
}

static brant_status no_choice(brant_context *ctx, const char *path, GDALDatasetH dataset)
{
    brant_text names = {0};
    for (int i = 0; i < GDALDatasetGetLayerCount(dataset); i++)
        brant_text_add(&names, "%s%s", i ? ", " : "",
                       OGR_L_GetName(GDALDatasetGetLayer(dataset, i)));
    brant_status status = brant_fail(ctx, BRANT_ERR_INPUT,
                                     "%s: none of its layers is named zones, and not just one "
                                     "holds polygons: %.400s", path,
                                     names.data ? names.data : "it has no layer");
    brant_text_clear(&names);
    return status;
}

static brant_status choose_layer(brant_context *ctx, const char *path, GDALDatasetH dataset,
                                 OGRLayerH *layer)
{
    *layer = GDALDatasetGetLayerByName(dataset, "zones");
    if (*layer)
        return BRANT_OK;
    if (GDALDatasetGetLayerCount(dataset) == 1) {
        *layer = GDALDatasetGetLayer(dataset, 0);
        return BRANT_OK;
    }
    int count = count_candidates(dataset, false, layer);
    if (count == 0)
        count = count_candidates(dataset, true, layer);
    return count == 1 ? BRANT_OK : no_choice(ctx, path, dataset);
}

/* ---- where its coordinates go ------------------------------------------- */

static void tell_operation(brant_context *ctx, const char *path, const brant_locator *locator)
{
    const char *name;
    double accuracy = brant_locator_accuracy(locator, &name);
    if (accuracy < 0)
        brant_note(ctx, "%s: placed on the model by '%s', of unstated accuracy", path, name);
    else if (accuracy > 0)
        brant_note(ctx, "%s: placed on the model by '%s', good to %.3g m", path, name, accuracy);
}

/* A GeoPackage calls what it does not know 'undefined': such a layer has no CRS. */
static brant_status find_placing(brant_context *ctx, const brant_dem *dem, OGRLayerH layer,
                                 brant_placing *placing)
{
    char *wkt = NULL;
    OGRSpatialReferenceH crs = OGR_L_GetSpatialRef(layer);
    if (!crs || OSRIsLocal(crs) || strncasecmp(OSRGetName(crs), "undefined", 9) == 0)
        return brant_fail(ctx, BRANT_ERR_INPUT,
                          "%s: layer %s has no coordinate reference system", placing->path,
                          OGR_L_GetName(layer));
    if (brant_gdal_same_crs(crs, dem->grid.crs))
        return BRANT_OK;
    if (OSRExportToWktEx(crs, &wkt, (const char *const[]){"FORMAT=WKT2_2019", NULL}) !=
        OGRERR_NONE) {
        CPLFree(wkt);
        return brant_fail(ctx, BRANT_ERR_INPUT,
                          "%s: its coordinate reference system is not understood", placing->path);
    }
    brant_status status = brant_locator_create_from(ctx, placing->path, &dem->grid, wkt,
                                                    &placing->locator);
    CPLFree(wkt);
    if (status == BRANT_OK)
        tell_operation(ctx, placing->path, placing->locator);
    return status;
}

/* ---- columns ------------------------------------------------------------ */

static int find_column(OGRFeatureDefnH fields, const char *name)
{
    return OGR_FD_GetFieldIndex(fields, name); /* exactly, else in any case */
}

/* A field as a number, NaN where it is not set; a text may be one. */
static bool field_number(OGRFeatureH feature, int column, double *value)
{
    OGRFieldType type = OGR_Fld_GetType(OGR_F_GetFieldDefnRef(feature, column));
    *value = NAN;
    if (!OGR_F_IsFieldSetAndNotNull(feature, column))
        return true;
    if (type == OFTString) {
        const char *text = OGR_F_GetFieldAsString(feature, column);
        return !*text || brant_parse_number(text, value);
    }
    if (type != OFTInteger && type != OFTInteger64 && type != OFTReal)
        return false;
    *value = OGR_F_GetFieldAsDouble(feature, column);
    return isfinite(*value);
}

static brant_status bad_field(const reading *r, OGRFeatureH feature, int column, const char *why)
{
    return brant_fail(r->ctx, BRANT_ERR_INPUT, "%s: feature %lld: %s '%.40s' %s", r->path,
                      (long long)OGR_F_GetFID(feature),
                      OGR_Fld_GetNameRef(OGR_F_GetFieldDefnRef(feature, column)),
                      OGR_F_GetFieldAsString(feature, column), why);
}

static brant_status read_columns(const reading *r, OGRFeatureH feature, brant_polygon *polygon)
{
    double value;
    if (r->number_column >= 0) {
        if (!field_number(feature, r->number_column, &value) ||
            (!isnan(value) && !(value >= 1 && value <= UINT32_MAX && value == floor(value))))
            return bad_field(r, feature, r->number_column,
                             "is no zone number (a whole number from 1 to 4294967295)");
        polygon->number = isnan(value) ? 0 : (uint32_t)value;
    }
    if (r->angle_column >= 0) {
        if (!field_number(feature, r->angle_column, &value) ||
            (!isnan(value) && !(value >= LOWEST_DEG && value <= HIGHEST_DEG)))
            return bad_field(r, feature, r->angle_column,
                             "is no reach angle (10 to 60 degrees)");
        polygon->reach_angle_deg = isnan(value) ? 0 : value;
    }
    return BRANT_OK;
}

/* ---- features ----------------------------------------------------------- */

static brant_status take_feature(reading *r, OGRFeatureH feature)
{
    brant_polygon_layer *out = r->out;
    brant_polygon polygon = {.feature = OGR_F_GetFID(feature), .first = out->patches.count};
    brant_shape_fate fate;
    brant_status status = brant_check_stop(r->ctx);
    if (status == BRANT_OK)
        status = read_columns(r, feature, &polygon);
    if (status == BRANT_OK)
        status = brant_shape_patches(r->ctx, &r->placing, polygon.feature,
                                     OGR_F_StealGeometry(feature), &out->patches, &fate);
    if (status != BRANT_OK)
        return status;
    if (fate == BRANT_SHAPE_EMPTY && r->empty++ == 0)
        r->first_empty = polygon.feature;
    if (fate == BRANT_SHAPE_REPAIRED && r->repaired++ == 0)
        r->first_repaired = polygon.feature;
    if (fate == BRANT_SHAPE_EMPTY)
        return BRANT_OK;
    polygon.count = out->patches.count - polygon.first;
    status = brant_grow(r->ctx, &out->polygons, &out->capacity, out->count + 1,
                        sizeof *out->polygons);
    if (status == BRANT_OK)
        out->polygons[out->count++] = polygon;
    return status;
}

static brant_status read_features(reading *r, OGRLayerH layer)
{
    brant_gdal_call call;
    OGRFeatureH feature;
    brant_status status = BRANT_OK;
    OGR_L_ResetReading(layer);
    do {
        brant_gdal_begin(&call);
        feature = OGR_L_GetNextFeature(layer);
        if (call.failed)
            status = brant_fail(r->ctx, BRANT_ERR_INPUT, "%s: cannot read layer %s: %s", r->path,
                                OGR_L_GetName(layer), brant_gdal_text(&call, "unknown failure"));
        brant_gdal_end(&call);
        if (feature && status == BRANT_OK)
            status = take_feature(r, feature);
        OGR_F_Destroy(feature);
    } while (feature && status == BRANT_OK);
    return status;
}

static void warn_of_features(const reading *r)
{
    if (r->empty > 0)
        brant_warn(r->ctx, "%s: %zu of %zu features have no outline and are passed over: "
                   "feature %lld %s", r->path, r->empty, r->out->count + r->empty,
                   r->first_empty, r->empty > 1 ? "first" : "alone");
    if (r->repaired > 0)
        brant_warn(r->ctx, "%s: %zu of %zu polygons cross themselves and were mended; look at "
                   "feature %lld%s", r->path, r->repaired, r->out->count, r->first_repaired,
                   r->repaired > 1 ? " and others" : "");
}

/* Within brant_gdal_begin. */
static brant_status read_dataset(reading *r, const brant_dem *dem, GDALDatasetH dataset)
{
    OGRLayerH layer = NULL;
    brant_status status = choose_layer(r->ctx, r->path, dataset, &layer);
    if (status == BRANT_OK)
        status = find_placing(r->ctx, dem, layer, &r->placing);
    if (status != BRANT_OK)
        return status;
    OGRFeatureDefnH fields = OGR_L_GetLayerDefn(layer);
    r->number_column = find_column(fields, "number");
    if (r->number_column < 0)
        r->number_column = find_column(fields, "zone");
    r->angle_column = find_column(fields, "reach_angle");
    r->out->numbered = r->number_column >= 0;
    status = read_features(r, layer);
    if (status == BRANT_OK && r->out->count == 0)
        status = brant_fail(r->ctx, BRANT_ERR_INPUT, "%s: layer %s holds no polygon", r->path,
                            OGR_L_GetName(layer));
    return status;
}

brant_status brant_polygon_layer_read(brant_context *ctx, const char *path, const brant_dem *dem,
                                      brant_polygon_layer *layer)
{
    brant_gdal_call call;
    GDALDatasetH dataset = NULL;
    reading r = {.ctx = ctx, .path = path, .out = layer, .placing = {path, &dem->grid, NULL, 0}};
    *layer = (brant_polygon_layer){0};
    brant_status status = brant_polygons_dataset(ctx, path, &dataset);
    if (status == BRANT_OK) {
        brant_gdal_begin(&call);
        status = read_dataset(&r, dem, dataset);
        GDALClose(dataset);
        brant_gdal_end(&call);
    }
    brant_locator_destroy(r.placing.locator);
    if (status == BRANT_OK)
        warn_of_features(&r);
    else
        brant_polygon_layer_clear(layer);
    return status;
}

void brant_polygon_layer_clear(brant_polygon_layer *layer)
{
    brant_patches_clear(&layer->patches);
    free(layer->polygons);
    *layer = (brant_polygon_layer){0};
}
