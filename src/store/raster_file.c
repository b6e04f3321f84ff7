/* Rasters that brant wrote, read again by windows. Unlike a model they need no survey: what
 * they hold was declared when they were written. */
#include "gdal_call.h"

#include <cpl_conv.h>
#include <math.h>
#include <stdlib.h>

struct brant_raster_file {
    char *path;
    GDALDatasetH dataset;
    brant_grid grid;
};

static brant_status describe(brant_context *ctx, brant_raster_file *file)
{
    brant_grid *grid = &file->grid;
    char *wkt = NULL;
    if (GDALGetGeoTransform(file->dataset, grid->transform) != CE_None)
        return brant_fail(ctx, BRANT_ERR_INPUT, "%s: no geotransform", file->path);
    grid->cols = GDALGetRasterXSize(file->dataset);
    grid->rows = GDALGetRasterYSize(file->dataset);
    OGRSpatialReferenceH crs = GDALGetSpatialRef(file->dataset);
    if (!crs || OSRExportToWktEx(crs, &wkt, NULL) != OGRERR_NONE)
        return brant_fail(ctx, BRANT_ERR_INPUT, "%s: no coordinate reference system", file->path);
    grid->crs = brant_strdup(ctx, wkt);
    CPLFree(wkt);
    return grid->crs ? BRANT_OK : BRANT_ERR_MEMORY;
}

brant_status brant_raster_file_open(brant_context *ctx, const char *path,
                                    brant_raster_file **file)
{
    brant_gdal_call call;
    *file = NULL;
    brant_raster_file *opened = brant_alloc(ctx, 1, sizeof *opened);
    if (!opened)
        return BRANT_ERR_MEMORY;
    brant_gdal_begin(&call);
    opened->path = brant_strdup(ctx, path);
    brant_status status = opened->path ? BRANT_OK : BRANT_ERR_MEMORY;
    if (status == BRANT_OK)
        status = brant_gdal_open(ctx, path, false, &opened->dataset);
    if (status == BRANT_OK)
        status = describe(ctx, opened);
    brant_gdal_end(&call);
    if (status != BRANT_OK) {
        brant_raster_file_close(opened);
        return status;
    }
    *file = opened;
    return BRANT_OK;
}

const brant_grid *brant_raster_file_grid(const brant_raster_file *file)
{
    return &file->grid;
}

/* The part that is on the raster, into its place; then its nodata is NaN. */
static bool read_part(GDALRasterBandH band, const brant_window *window, const brant_window *on,
                      float *out)
{
    int has = 0;
    double nodata = GDALGetRasterNoDataValue(band, &has);
    size_t stride = (size_t)window->cols;
    float *first = out + (size_t)(on->row - window->row) * stride + (on->col - window->col);
    if (GDALRasterIO(band, GF_Read, on->col, on->row, on->cols, on->rows, first, on->cols,
                     on->rows, GDT_Float32, 0, (int)(stride * sizeof *out)) != CE_None)
        return false;
    for (int row = 0; has && row < on->rows; row++)
        for (int col = 0; col < on->cols; col++) {
            float *value = first + (size_t)row * stride + col;
            *value = *value == (float)nodata ? NAN : *value;
        }
    return true;
}

brant_status brant_raster_file_read(brant_context *ctx, brant_raster_file *file, int band,
                                    const brant_window *window, float *out)
{
    brant_gdal_call call;
    brant_status status = BRANT_OK;
    brant_window on = brant_window_clip(*window, file->grid.cols, file->grid.rows);
    for (size_t i = 0; i < (size_t)window->cols * (size_t)window->rows; i++)
        out[i] = NAN;
    if (on.cols < 1 || on.rows < 1)
        return BRANT_OK;
    brant_gdal_begin(&call);
    if (band > GDALGetRasterCount(file->dataset))
        status = brant_fail(ctx, BRANT_ERR_INPUT, "%s: no band %d", file->path, band);
    else if (!read_part(GDALGetRasterBand(file->dataset, band), window, &on, out) || call.failed)
        status = brant_fail(ctx, BRANT_ERR_IO, "%s: cannot be read: %s", file->path,
                            brant_gdal_text(&call, "unknown reason"));
    brant_gdal_end(&call);
    return status;
}

void brant_raster_file_close(brant_raster_file *file)
{
    brant_gdal_call call;
    if (!file)
        return;
    brant_gdal_begin(&call);
    brant_gdal_close(file->dataset);
    brant_gdal_end(&call);
    brant_grid_clear(&file->grid);
    free(file->path);
    free(file);
}
