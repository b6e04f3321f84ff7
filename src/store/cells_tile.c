/* A tile's cells: read, and told apart from voids.
 *
 * Void is: NaN, infinity, a declared nodata value, a cell that the mask or alpha
 * band hides, a block that was never written, a height that the earth's ski terrain
 * does not have, and a value that the survey of the model found to be void. */
#include "cells.h"
#include "unit.h"

#include <cpl_string.h>
#include <float.h>
#include <math.h>
#include <stdlib.h>
#include <string.h>

/* Larger blocks are read through GDAL's cache: not every window wants all of one. */
#define DIRECT_CELLS ((int64_t)1 << 20)

/* ---- what is void in a tile --------------------------------------------- */

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

static void add_nodata(brant_handle *handle, GDALDataType type, double value)
{
    if (isnan(value))
        return; /* every NaN is void */
    handle->nodata[handle->nodata_count++] = as_stored(type, value);
    handle->huge_nodata |= fabs(value) > 1e30;
}

/* The mask, where it says more than the nodata value does, else an alpha band. (GDAL
 * takes an alpha band for a mask only where it holds bytes; warping a Float32 model
 * to one with alpha leaves floats in it.) */
static GDALRasterBandH find_mask(GDALDatasetH dataset, GDALRasterBandH band)
{
    int flags = GDALGetMaskFlags(band);
    if (!(flags & GMF_ALL_VALID) && flags != GMF_NODATA)
        return GDALGetMaskBand(band);
    for (int b = 1; b <= GDALGetRasterCount(dataset); b++) {
        GDALRasterBandH other = GDALGetRasterBand(dataset, b);
        if (other != band && GDALGetRasterColorInterpretation(other) == GCI_AlphaBand)
            return other;
    }
    return NULL;
}

static bool is_driver(GDALDatasetH dataset, const char *name)
{
    return strcmp(GDALGetDriverShortName(GDALGetDatasetDriver(dataset)), name) == 0;
}

static bool is_wide(GDALDataType type)
{
    return type != GDT_Byte && type != GDT_UInt16 && type != GDT_Int16 && type != GDT_Float32;
}

/* A tile that has become smaller than its mosaic says has no cells to read. */
static brant_status check_size(brant_context *ctx, const brant_handle *handle)
{
    const brant_tile *tile = handle->tile;
    if (tile->from_col + tile->on.cols > GDALGetRasterBandXSize(handle->band) ||
        tile->from_row + tile->on.rows > GDALGetRasterBandYSize(handle->band))
        return brant_fail(ctx, BRANT_ERR_INPUT,
                          "%s: has %d x %d cells, fewer than its mosaic takes", tile->path,
                          GDALGetRasterBandXSize(handle->band),
                          GDALGetRasterBandYSize(handle->band));
    if (GDALDataTypeIsComplex(GDALGetRasterDataType(handle->band)))
        return brant_fail(ctx, BRANT_ERR_INPUT, "%s: band %d holds complex numbers, no elevation",
                          tile->path, tile->band);
    return BRANT_OK;
}

/* A tile of a mosaic that states another unit than was taken for all. */
static brant_status check_unit(brant_context *ctx, const brant_cells *cells,
                               const brant_handle *handle)
{
    double metres;
    const char *unit = GDALGetRasterUnitType(handle->band);
    if (cells->tiles.count < 2 || !(cells->unit_m > 0) || !unit || !unit[0] ||
        (brant_unit_metres(unit, &metres) && fabs(metres - cells->unit_m) < 1e-9))
        return BRANT_OK;
    return brant_fail(ctx, BRANT_ERR_INPUT,
                      "%s: %.300s has heights in '%s', other tiles in units of %.7g m "
                      "(--vertical-unit)",
                      cells->name, handle->tile->path, unit, cells->unit_m);
}

/* A tile of a mosaic with another scale or offset than was taken for all. */
static brant_status check_scale(brant_context *ctx, const brant_cells *cells,
                                const brant_handle *handle)
{
    double scale = GDALGetRasterScale(handle->band, NULL);
    double offset = GDALGetRasterOffset(handle->band, NULL);
    bool silent = scale == 1 && offset == 0;
    if (cells->tiles.count < 2 || !cells->one_scale || (silent && cells->mosaic_scale) ||
        (scale == cells->stored_scale && offset == cells->stored_offset))
        return BRANT_OK;
    return brant_fail(ctx, BRANT_ERR_INPUT,
                      "%s: %.300s has heights x %g + %g, other tiles x %g + %g", cells->name,
                      handle->tile->path, scale, offset, cells->stored_scale,
                      cells->stored_offset);
}

static brant_status describe(brant_context *ctx, const brant_cells *cells, brant_handle *handle)
{
    double value;
    GDALDataType type = GDALGetRasterDataType(handle->band);
    bool declared = declared_nodata(handle->band, &value);
    brant_status status = check_size(ctx, handle);
    if (status == BRANT_OK)
        status = check_unit(ctx, cells, handle);
    if (status == BRANT_OK)
        status = check_scale(ctx, cells, handle);
    if (status != BRANT_OK)
        return status;
    handle->nodata = brant_alloc(ctx, 1 + cells->nodata_count + handle->tile->nodata_count,
                                 sizeof *handle->nodata);
    if (!handle->nodata)
        return BRANT_ERR_MEMORY;
    if (declared)
        add_nodata(handle, type, value);
    for (size_t i = 0; i < cells->nodata_count; i++)
        add_nodata(handle, type, cells->nodata[i]);
    for (size_t i = 0; i < handle->tile->nodata_count; i++)
        add_nodata(handle, type, handle->tile->nodata[i]);
    GDALGetBlockSize(handle->band, &handle->block_cols, &handle->block_rows);
    handle->wide = is_wide(type);
    handle->direct = type == GDT_Float32 && is_driver(handle->dataset, "GTiff") &&
                     (int64_t)handle->block_cols * handle->block_rows <= DIRECT_CELLS;
    handle->mask = find_mask(handle->dataset, handle->band);
    /* with nodata declared, GDAL fills gaps with it, or with what the type has nearest: 0
     * for a -9999 in whole numbers without a sign */
    handle->gaps = !(declared && GDALAdjustValueToDataType(type, value, NULL, NULL) == value) &&
                   is_driver(handle->dataset, "GTiff");
    /* a warped or computed mosaic without a nodata value has 0 where it holds
     * nothing; the plain ones have been given one (mosaic.h) */
    if (!declared && !handle->mask && !cells->nodata_given && is_driver(handle->dataset, "VRT"))
        return brant_fail(ctx, BRANT_ERR_INPUT,
                          "%s: a warped or computed mosaic without a nodata value: its voids would "
                          "read as 0 (build it with one, or name one with --nodata)",
                          handle->tile->path);
    handle->described = true;
    return BRANT_OK;
}

/* ---- reading a tile ----------------------------------------------------- */

/* What one read of one tile needs; `w` in the file's own cells, `out` and stride
 * where it goes. */
typedef struct job {
    brant_context *ctx;
    brant_cells *cells;
    brant_handle *handle;
    brant_window w;
    float *out;
    size_t stride;
    void *room; /* w.cols*w.rows doubles or mask bytes, where needed */
    brant_void_tally *tally;
} job;

static bool read_raw(GDALRasterBandH band, const brant_window *w, void *out, GDALDataType type,
                     size_t stride)
{
    int size = GDALGetDataTypeSizeBytes(type);
    return GDALRasterIOEx(band, GF_Read, w->col, w->row, w->cols, w->rows, out, w->cols, w->rows,
                          type, size, (GSpacing)stride * size, NULL) == CE_None;
}

/* Does the window hold whole blocks only? (The last ones end with the raster.) */
static bool whole_blocks(const job *j)
{
    const brant_handle *h = j->handle;
    int right = j->w.col + j->w.cols, below = j->w.row + j->w.rows;
    return j->w.col % h->block_cols == 0 && j->w.row % h->block_rows == 0 &&
           (right % h->block_cols == 0 || right == GDALGetRasterBandXSize(h->band)) &&
           (below % h->block_rows == 0 || below == GDALGetRasterBandYSize(h->band));
}

/* Block by block: each is read once, so that GDAL's cache would only copy it. */
static bool read_blocks(const job *j, const brant_plain_rules *plain)
{
    const brant_handle *h = j->handle;
    brant_window all = {0, 0, j->w.cols, j->w.rows};
    for (int by = 0; by < j->w.rows; by += h->block_rows)
        for (int bx = 0; bx < j->w.cols; bx += h->block_cols) {
            brant_window b = {bx, by, h->block_cols, h->block_rows};
            b = brant_window_clip(b, all.cols, all.rows);
            if (GDALReadBlock(h->band, (j->w.col + bx) / h->block_cols,
                              (j->w.row + by) / h->block_rows, h->block) != CE_None)
                return false;
            for (int row = 0; row < b.rows; row++)
                brant_cells_row(j->ctx, j->cells, h, plain,
                                h->block + (size_t)row * (size_t)h->block_cols, b.cols,
                                j->out + (size_t)(by + row) * j->stride + (size_t)bx, j->tally);
        }
    return true;
}

/* Types that a float holds exactly: read into `out`, converted in place. */
static bool read_narrow(const job *j)
{
    brant_plain_rules plain = brant_plain_of(j->cells, j->handle);
    if (j->handle->direct && whole_blocks(j))
        return read_blocks(j, &plain);
    if (!read_raw(j->handle->band, &j->w, j->out, GDT_Float32, j->stride))
        return false;
    for (int row = 0; row < j->w.rows; row++) {
        float *line = j->out + (size_t)row * j->stride;
        brant_cells_row(j->ctx, j->cells, j->handle, &plain, line, j->w.cols, line, j->tally);
    }
    return true;
}

/* The others by way of doubles. */
static bool read_wide(const job *j)
{
    const double *raw = j->room;
    if (!read_raw(j->handle->band, &j->w, j->room, GDT_Float64, (size_t)j->w.cols))
        return false;
    for (int row = 0; row < j->w.rows; row++)
        for (int col = 0; col < j->w.cols; col++)
            j->out[(size_t)row * j->stride + (size_t)col] =
                brant_cells_metres(j->ctx, j->cells, j->handle,
                          raw[(size_t)row * (size_t)j->w.cols + (size_t)col], j->tally);
    return true;
}

static bool apply_mask(const job *j)
{
    const uint8_t *mask = j->room;
    if (!mask || !read_raw(j->handle->mask, &j->w, j->room, GDT_Byte, (size_t)j->w.cols))
        return false;
    for (int row = 0; row < j->w.rows; row++)
        for (int col = 0; col < j->w.cols; col++)
            if (!mask[(size_t)row * (size_t)j->w.cols + (size_t)col])
                j->out[(size_t)row * j->stride + (size_t)col] = NAN;
    return true;
}

/* Make void what lies in blocks that were never written: a sparse GeoTIFF has no
 * offset for them. (GDALGetDataCoverageStatus also takes zeros for missing that
 * the file system merely stores as a hole: a sea would come and go with copying.) */
static void void_gaps(const job *j)
{
    char key[64];
    const brant_window *w = &j->w;
    int across = j->handle->block_cols, down = j->handle->block_rows;
    for (int by = w->row / down; by <= (w->row + w->rows - 1) / down; by++)
        for (int bx = w->col / across; bx <= (w->col + w->cols - 1) / across; bx++) {
            snprintf(key, sizeof key, "BLOCK_OFFSET_%d_%d", bx, by);
            if (GDALGetMetadataItem(j->handle->band, key, "TIFF"))
                continue;
            brant_window gap = {bx * across - w->col, by * down - w->row, across, down};
            gap = brant_window_clip(gap, w->cols, w->rows);
            for (int row = gap.row; row < gap.row + gap.rows; row++)
                for (int col = gap.col; col < gap.col + gap.cols; col++)
                    j->out[(size_t)row * j->stride + (size_t)col] = NAN;
        }
}

static bool read_all(const job *j)
{
    if (!(j->handle->wide ? read_wide(j) : read_narrow(j)))
        return false;
    if (j->handle->mask && !apply_mask(j))
        return false;
    if (j->handle->gaps)
        void_gaps(j);
    return true;
}

static brant_status run_job(job *j)
{
    brant_gdal_call call;
    brant_status status = BRANT_OK;
    brant_handle *h = j->handle;
    if (h->direct && !h->block) {
        h->block = brant_alloc(j->ctx, (size_t)h->block_cols * (size_t)h->block_rows,
                               sizeof *h->block);
        if (!h->block)
            return BRANT_ERR_MEMORY;
    }
    if (j->handle->wide || j->handle->mask) {
        size_t count = (size_t)j->w.cols * (size_t)j->w.rows;
        j->room = brant_alloc(j->ctx, count, j->handle->wide ? sizeof(double) : 1);
        if (!j->room)
            return BRANT_ERR_MEMORY;
    }
    brant_gdal_begin(&call);
    if (j->handle->tile->remote)
        brant_gdal_allow(j->handle->tile->path);
    if (!read_all(j) || call.failed)
        status = brant_fail(j->ctx, BRANT_ERR_IO,
                            "%s: cannot read cells from column %d, row %d: %s",
                            j->handle->tile->path, j->w.col, j->w.row,
                            brant_gdal_text(&call, "unknown failure"));
    brant_gdal_end(&call);
    free(j->room);
    return status;
}

/* A described handle of the tile; give it back. */
static brant_status take(brant_context *ctx, brant_cells *cells, const brant_tile *tile,
                         brant_handle **handle)
{
    brant_gdal_call call;
    *handle = NULL;
    brant_status status = brant_pool_take(ctx, &cells->pool, tile, handle);
    if (status != BRANT_OK || (*handle)->described)
        return status;
    brant_gdal_begin(&call);
    if (tile->remote)
        brant_gdal_allow(tile->path);
    status = describe(ctx, cells, *handle);
    if (status == BRANT_OK)
        status = brant_gdal_all_read(ctx, tile->path, &call);
    brant_gdal_end(&call);
    return status;
}

brant_status brant_cells_read_tile(brant_context *ctx, brant_cells *cells, const brant_tile *tile,
                              const brant_window *w, float *out, size_t stride,
                              brant_void_tally *tally)
{
    brant_handle *handle;
    brant_status status = take(ctx, cells, tile, &handle);
    if (status == BRANT_OK) {
        brant_window own = {w->col - tile->on.col + tile->from_col,
                            w->row - tile->on.row + tile->from_row, w->cols, w->rows};
        status = run_job(&(job){ctx, cells, handle, own, out, stride, NULL, tally});
    }
    brant_pool_give(&cells->pool, handle);
    return status;
}

brant_status brant_cells_blocks(brant_context *ctx, brant_cells *cells, const brant_tile *tile,
                                int *cols, int *rows)
{
    brant_handle *handle;
    brant_status status = take(ctx, cells, tile, &handle);
    if (status == BRANT_OK) {
        *cols = handle->block_cols;
        *rows = handle->block_rows;
    }
    brant_pool_give(&cells->pool, handle);
    return status;
}
