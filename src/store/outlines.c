/* Outlines of numbered patches, by GDALPolygonize. */
#include "outlines.h"

#include <cpl_conv.h>
#include <cpl_string.h>
#include <gdal_alg.h>
#include <stdlib.h>
#include <string.h>

/* One connected piece of a number, and its place in GDAL's order. */
typedef struct piece {
    uint32_t number;
    size_t order;
    OGRGeometryH shape;
} piece;

/* A raster over the caller's numbers, nothing copied; its coordinates are those
 * of the whole grid. */
static GDALDatasetH wrap(const brant_window *window, const uint32_t *numbers)
{
    char address[64] = {0};
    double place[6] = {window->col, 1, 0, window->row, 0, 1};
    GDALDriverH driver = GDALGetDriverByName("MEM");
    GDALDatasetH dataset =
        driver ? GDALCreate(driver, "", window->cols, window->rows, 0, GDT_UInt32, NULL) : NULL;
    if (!dataset)
        return NULL;
    CPLPrintPointer(address, (void *)(uintptr_t)numbers, sizeof address - 1);
    char **options = CSLSetNameValue(NULL, "DATAPOINTER", address);
    CPLErr added = GDALAddBand(dataset, GDT_UInt32, options);
    CSLDestroy(options);
    GDALSetGeoTransform(dataset, place);
    if (added == CE_None)
        return dataset;
    GDALClose(dataset);
    return NULL;
}

static OGRLayerH make_layer(GDALDatasetH holder)
{
    OGRLayerH layer = GDALDatasetCreateLayer(holder, "pieces", NULL, wkbPolygon, NULL);
    OGRFieldDefnH field = OGR_Fld_Create("number", OFTInteger64);
    if (layer && OGR_L_CreateField(layer, field, FALSE) != OGRERR_NONE)
        layer = NULL;
    OGR_Fld_Destroy(field);
    return layer;
}

static brant_status take_pieces(brant_context *ctx, OGRLayerH layer, piece **pieces, size_t *count)
{
    size_t capacity = 0;
    OGRFeatureH feature;
    brant_status status = BRANT_OK;
    OGR_L_ResetReading(layer);
    while (status == BRANT_OK && (feature = OGR_L_GetNextFeature(layer))) {
        status = brant_grow(ctx, pieces, &capacity, *count + 1, sizeof **pieces);
        if (status == BRANT_OK) {
            uint32_t number = (uint32_t)OGR_F_GetFieldAsInteger64(feature, 0);
            (*pieces)[*count] = (piece){number, *count, OGR_F_StealGeometry(feature)};
            ++*count;
        }
        OGR_F_Destroy(feature);
    }
    return status;
}

static brant_status polygonize(brant_context *ctx, const brant_window *window,
                               const uint32_t *numbers, piece **pieces, size_t *count)
{
    brant_status status = BRANT_ERR_INTERNAL;
    GDALDriverH driver = GDALGetDriverByName("Memory");
    GDALDatasetH holder = driver ? GDALCreate(driver, "", 0, 0, 0, GDT_Unknown, NULL) : NULL;
    GDALDatasetH raster = wrap(window, numbers);
    OGRLayerH layer = holder ? make_layer(holder) : NULL;
    if (raster && layer) {
        GDALRasterBandH band = GDALGetRasterBand(raster, 1);
        /* the numbers are their own mask: 0 gets no outline */
        if (GDALPolygonize(band, band, layer, 0, NULL, NULL, NULL) == CE_None)
            status = take_pieces(ctx, layer, pieces, count);
    }
    if (status == BRANT_ERR_INTERNAL)
        brant_fail(ctx, status, "cannot outline zones: %s", CPLGetLastErrorMsg());
    if (raster)
        GDALClose(raster);
    if (holder)
        GDALClose(holder);
    return status;
}

static int by_number(const void *a, const void *b)
{
    const piece *p = a, *q = b;
    if (p->number != q->number)
        return p->number < q->number ? -1 : 1;
    return p->order < q->order ? -1 : p->order > q->order;
}

/* Join pieces[0..count) into one multipolygon; takes their shapes. GDAL cuts a
 * patch that touches itself at a corner into pieces that share a side, which a
 * valid multipolygon must not: those are dissolved. */
static OGRGeometryH join(piece *pieces, size_t count)
{
    OGRGeometryH all = OGR_G_CreateGeometry(wkbMultiPolygon);
    for (size_t i = 0; i < count; i++) {
        OGR_G_AddGeometryDirectly(all, pieces[i].shape);
        pieces[i].shape = NULL;
    }
    if (count == 1 || OGR_G_IsValid(all))
        return all;
    OGRGeometryH whole = OGR_G_UnionCascaded(all);
    if (!whole)
        return all;
    OGR_G_DestroyGeometry(all);
    return OGR_G_ForceToMultiPolygon(whole);
}

static brant_status group(brant_context *ctx, piece *pieces, size_t count,
                          brant_outline **outlines, size_t *out)
{
    *outlines = brant_alloc(ctx, count, sizeof **outlines);
    if (!*outlines)
        return BRANT_ERR_MEMORY;
    qsort(pieces, count, sizeof *pieces, by_number);
    for (size_t i = 0, next; i < count; i = next) {
        for (next = i + 1; next < count && pieces[next].number == pieces[i].number; next++)
            ;
        (*outlines)[*out].number = pieces[i].number;
        (*outlines)[(*out)++].shape = join(&pieces[i], next - i);
    }
    return BRANT_OK;
}

brant_status brant_outlines_trace(brant_context *ctx, const brant_window *window,
                                  const uint32_t *numbers, brant_outline **outlines,
                                  size_t *count)
{
    piece *pieces = NULL;
    size_t piece_count = 0;
    *outlines = NULL;
    *count = 0;
    brant_status status = polygonize(ctx, window, numbers, &pieces, &piece_count);
    if (status == BRANT_OK && piece_count > 0)
        status = group(ctx, pieces, piece_count, outlines, count);
    for (size_t i = 0; i < piece_count; i++)
        OGR_G_DestroyGeometry(pieces[i].shape); /* NULL once joined */
    free(pieces);
    return status;
}

void brant_outlines_free(brant_outline *outlines, size_t count)
{
    for (size_t i = 0; i < count; i++)
        OGR_G_DestroyGeometry(outlines[i].shape);
    free(outlines);
}
