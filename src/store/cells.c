/* A file's own cells: read, and told apart from voids.
 *
 * Void is: NaN, infinity, a declared nodata value, a cell that the mask or alpha
 * band hides, a block or mosaic part without data (GDAL reads 0 there), and a
 * height that the earth's ski terrain does not have. */
#include "cells.h"

#include <cpl_string.h>
#include <float.h>
#include <math.h>
#include <stdlib.h>
#include <string.h>

/* Metres outside of which a value is no elevation to ski on but a nodata value
 * that nobody declared: the highest summit is 8849 m, the lowest land -430 m. */
#define HIGHEST 9000.0
#define LOWEST (-500.0)

/* ---- what is void ------------------------------------------------------- */

/* `value` as the band's type would hold it: nodata is written as text and read
 * as double, a Float32 cell holds the nearest float. */
static double as_stored(GDALDataType type, double value)
{
    if (type == GDT_Float32 && fabs(value) <= FLT_MAX)
        return (double)(float)value;
    return value;
}

static bool declared_nodata(GDALRasterBandH band, double *value)
{
    int has = 0;
    GDALDataType type = GDALGetRasterDataType(band);
    if (type == GDT_Int64)
        *value = (double)GDALGetRasterNoDataValueAsInt64(band, &has);
    else if (type == GDT_UInt64)
        *value = (double)GDALGetRasterNoDataValueAsUInt64(band, &has);
    else
        *value = GDALGetRasterNoDataValue(band, &has);
    return has;
}

static void add_nodata(brant_cells *cells, GDALDataType type, double value)
{
    if (isnan(value))
        return; /* every NaN is void */
    cells->nodata[cells->nodata_count++] = as_stored(type, value);
    cells->huge_nodata |= fabs(value) > 1e30;
}

/* Does a mask say more than the nodata value does? */
static bool has_mask(GDALRasterBandH band)
{
    int flags = GDALGetMaskFlags(band);
    return !(flags & GMF_ALL_VALID) && flags != GMF_NODATA;
}

static bool is_driver(GDALDatasetH dataset, const char *name)
{
    return strcmp(GDALGetDriverShortName(GDALGetDatasetDriver(dataset)), name) == 0;
}

/* A warped or computed mosaic without a nodata value has 0 where it holds
 * nothing; the plain ones have been given one (mosaic.h). */
static bool hides_voids(const brant_cells *cells, GDALDatasetH dataset, bool declared)
{
    return !declared && !cells->masked && is_driver(dataset, "VRT");
}

static bool is_wide(GDALDataType type)
{
    return type != GDT_Byte && type != GDT_UInt16 && type != GDT_Int16 && type != GDT_Float32;
}

static brant_status fill(brant_context *ctx, GDALDatasetH dataset, GDALRasterBandH band,
                         const double *nodata, size_t nodata_count, brant_cells *cells)
{
    double value;
    GDALDataType type = GDALGetRasterDataType(band);
    bool declared = declared_nodata(band, &value);
    cells->nodata = brant_alloc(ctx, nodata_count + 1, sizeof *cells->nodata);
    if (!cells->nodata)
        return BRANT_ERR_MEMORY;
    if (declared)
        add_nodata(cells, type, value);
    for (size_t i = 0; i < nodata_count; i++)
        add_nodata(cells, type, nodata[i]);
    cells->cols = GDALGetRasterBandXSize(band);
    cells->rows = GDALGetRasterBandYSize(band);
    GDALGetBlockSize(band, &cells->block_cols, &cells->block_rows);
    cells->wide = is_wide(type);
    cells->masked = has_mask(band);
    /* with nodata declared, GDAL fills gaps with it */
    cells->gaps = !declared && is_driver(dataset, "GTiff");
    if (nodata_count == 0 && hides_voids(cells, dataset, declared))
        return brant_fail(ctx, BRANT_ERR_INPUT,
                          "%s: a warped or computed mosaic without a nodata value: its voids would "
                          "read as 0 (build it with one, or name one with --nodata)",
                          cells->pool.path);
    return BRANT_OK;
}

brant_status brant_cells_init(brant_context *ctx, const char *path, GDALDatasetH dataset, int band,
                              const double *nodata, size_t nodata_count, brant_cells *cells)
{
    brant_gdal_call call;
    memset(cells, 0, sizeof *cells);
    brant_status status = brant_pool_init(ctx, path, band, &cells->pool);
    if (status != BRANT_OK)
        return status;
    brant_gdal_begin(&call);
    status = fill(ctx, dataset, GDALGetRasterBand(dataset, band), nodata, nodata_count, cells);
    brant_gdal_end(&call);
    cells->scale = 1;
    return status;
}

void brant_cells_clear(brant_cells *cells)
{
    brant_pool_clear(&cells->pool);
    free(cells->nodata);
    memset(cells, 0, sizeof *cells);
}

/* ---- stored values to metres -------------------------------------------- */

/* One value that nobody declared void, as a sentence, once a file. */
static void warn_implausible(brant_context *ctx, brant_cells *cells, double stored, double metres)
{
    if (atomic_exchange(&cells->warned, true))
        return;
    brant_warn(ctx,
               "%s: holds %.9g (%.0f m), which is no elevation; such cells are taken as unknown "
               "(--nodata %.9g declares them)",
               cells->pool.path, stored, metres, stored);
}

static float to_metres(brant_context *ctx, brant_cells *cells, double stored)
{
    if (!isfinite(stored) || (cells->huge_nodata && fabs(stored) > 1e30))
        return NAN;
    for (size_t i = 0; i < cells->nodata_count; i++)
        if (stored == cells->nodata[i])
            return NAN;
    double metres = stored * cells->scale + cells->offset;
    if (metres >= LOWEST && metres <= HIGHEST)
        return (float)metres;
    warn_implausible(ctx, cells, stored, metres);
    return NAN;
}

static brant_status failed_read(brant_context *ctx, const brant_cells *cells,
                                const brant_window *window, const brant_gdal_call *call)
{
    return brant_fail(ctx, BRANT_ERR_IO, "%s: cannot read cells from column %d, row %d: %s",
                      cells->pool.path, window->col, window->row,
                      brant_gdal_text(call, "unknown failure"));
}

static bool read_raw(GDALRasterBandH band, const brant_window *w, void *out, GDALDataType type,
                     size_t stride)
{
    int size = GDALGetDataTypeSizeBytes(type);
    return GDALRasterIOEx(band, GF_Read, w->col, w->row, w->cols, w->rows, out, w->cols, w->rows,
                          type, size, (GSpacing)stride * size, NULL) == CE_None;
}

/* Types that a float holds exactly: read into `out`, converted in place. */
static bool read_narrow(brant_context *ctx, brant_cells *cells, GDALRasterBandH band,
                        const brant_window *w, float *out, size_t stride)
{
    if (!read_raw(band, w, out, GDT_Float32, stride))
        return false;
    for (int row = 0; row < w->rows; row++)
        for (int col = 0; col < w->cols; col++) {
            float *cell = &out[(size_t)row * stride + (size_t)col];
            *cell = to_metres(ctx, cells, *cell);
        }
    return true;
}

/* The others by way of doubles; `raw` holds window->cols*window->rows. */
static bool read_wide(brant_context *ctx, brant_cells *cells, GDALRasterBandH band,
                      const brant_window *w, float *out, size_t stride, double *raw)
{
    if (!read_raw(band, w, raw, GDT_Float64, (size_t)w->cols))
        return false;
    for (int row = 0; row < w->rows; row++)
        for (int col = 0; col < w->cols; col++)
            out[(size_t)row * stride + (size_t)col] =
                to_metres(ctx, cells, raw[(size_t)row * (size_t)w->cols + (size_t)col]);
    return true;
}

/* ---- masks and gaps ----------------------------------------------------- */

static bool apply_mask(GDALRasterBandH band, const brant_window *w, float *out, size_t stride,
                       uint8_t *mask)
{
    if (!read_raw(GDALGetMaskBand(band), w, mask, GDT_Byte, (size_t)w->cols))
        return false;
    for (int row = 0; row < w->rows; row++)
        for (int col = 0; col < w->cols; col++)
            if (!mask[(size_t)row * (size_t)w->cols + (size_t)col])
                out[(size_t)row * stride + (size_t)col] = NAN;
    return true;
}

/* Make void what lies in blocks that were never written: a sparse GeoTIFF has no
 * offset for them. (GDALGetDataCoverageStatus also takes zeros for missing that
 * the file system merely stores as a hole: a sea would come and go with copying.) */
static void void_gaps(const brant_cells *cells, GDALRasterBandH band, const brant_window *w,
                      float *out, size_t stride)
{
    char key[64];
    int across = cells->block_cols, down = cells->block_rows;
    for (int by = w->row / down; by <= (w->row + w->rows - 1) / down; by++)
        for (int bx = w->col / across; bx <= (w->col + w->cols - 1) / across; bx++) {
            snprintf(key, sizeof key, "BLOCK_OFFSET_%d_%d", bx, by);
            if (GDALGetMetadataItem(band, key, "TIFF"))
                continue;
            brant_window gap = {bx * across - w->col, by * down - w->row, across, down};
            gap = brant_window_clip(gap, w->cols, w->rows);
            for (int row = gap.row; row < gap.row + gap.rows; row++)
                for (int col = gap.col; col < gap.col + gap.cols; col++)
                    out[(size_t)row * stride + (size_t)col] = NAN;
        }
}

/* ---- reading ------------------------------------------------------------ */

static bool read_all(brant_context *ctx, brant_cells *cells, GDALRasterBandH band,
                     const brant_window *window, float *out, size_t stride, void *room)
{
    if (cells->wide) {
        if (!read_wide(ctx, cells, band, window, out, stride, room))
            return false;
    } else if (!read_narrow(ctx, cells, band, window, out, stride))
        return false;
    if (cells->masked && !apply_mask(band, window, out, stride, room))
        return false;
    if (cells->gaps)
        void_gaps(cells, band, window, out, stride);
    return true;
}

brant_status brant_cells_read(brant_context *ctx, brant_cells *cells, const brant_window *window,
                              float *out, size_t stride)
{
    brant_handle *handle = NULL;
    void *room = NULL;
    brant_gdal_call call;
    size_t count = (size_t)window->cols * (size_t)window->rows;
    if (count == 0)
        return BRANT_OK;
    if (cells->wide || cells->masked) {
        room = brant_alloc(ctx, count, cells->wide ? sizeof(double) : 1);
        if (!room)
            return BRANT_ERR_MEMORY;
    }
    brant_status status = brant_pool_take(ctx, &cells->pool, &handle);
    if (status == BRANT_OK) {
        brant_gdal_begin(&call);
        if (!read_all(ctx, cells, handle->band, window, out, stride, room))
            status = failed_read(ctx, cells, window, &call);
        brant_gdal_end(&call);
    }
    brant_pool_give(&cells->pool, handle);
    free(room);
    return status;
}
