/* Zone numbers from a raster on the working grid, or from polygons. */
#include "polygons.h"
#include "pool.h"

#include <cpl_conv.h>
#include <math.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

struct brant_zone_file {
    brant_polygons *polygons; /* NULL: a raster */
    brant_pool pool;
    brant_tiles tiles; /* the one file */
    int cols, rows;
    bool has_nodata;
    double nodata;
};

/* ---- is it on the working grid? ----------------------------------------- */

static brant_status other_grid(brant_context *ctx, const char *path, const brant_dem *dem,
                               const char *what)
{
    return brant_fail(ctx, BRANT_ERR_INPUT, "%s: not on the working grid of %s (%s)", path,
                      dem->name, what);
}

/* The furthest that a corner of the raster is off, in cells. */
static double worst_corner(const double t[6], const brant_grid *grid)
{
    double worst = 0;
    const double *g = grid->transform;
    double determinant = g[1] * g[5] - g[2] * g[4];
    for (int i = 0; i < 4; i++) {
        double col = i % 2 * grid->cols, row = i / 2 * grid->rows;
        double dx = t[0] - g[0] + col * (t[1] - g[1]) + row * (t[2] - g[2]);
        double dy = t[3] - g[3] + col * (t[4] - g[4]) + row * (t[5] - g[5]);
        double dcol = (dx * g[5] - dy * g[2]) / determinant;
        double drow = (dy * g[1] - dx * g[4]) / determinant;
        double off = fmax(fabs(dcol), fabs(drow));
        worst = off > worst || isnan(off) ? off : worst;
    }
    return worst;
}

/* Same place up to what is lost in storing the transform: a cell step is off by
 * at most a millionth of a cell, the far corner by that for each cell. */
static bool same_transform(const double t[6], const brant_grid *grid)
{
    double cells = grid->cols > grid->rows ? grid->cols : grid->rows;
    return worst_corner(t, grid) <= fmin(1e-6 * cells, 0.01);
}

static brant_status check_grid(brant_context *ctx, const char *path, GDALDatasetH dataset,
                               const brant_dem *dem)
{
    double t[6];
    char what[128];
    int cols = GDALGetRasterXSize(dataset), rows = GDALGetRasterYSize(dataset);
    if (cols != dem->grid.cols || rows != dem->grid.rows) {
        snprintf(what, sizeof what, "%d x %d cells, not %d x %d", cols, rows, dem->grid.cols,
                 dem->grid.rows);
        return other_grid(ctx, path, dem, what);
    }
    if (GDALGetGeoTransform(dataset, t) != CE_None)
        return other_grid(ctx, path, dem, "it has no geotransform");
    if (!same_transform(t, &dem->grid)) {
        snprintf(what, sizeof what, "its corners are up to %.3g cells off",
                 worst_corner(t, &dem->grid));
        return other_grid(ctx, path, dem, what);
    }
    if (!brant_gdal_same_crs(GDALGetSpatialRef(dataset), dem->grid.crs))
        return other_grid(ctx, path, dem, "another coordinate reference system");
    return BRANT_OK;
}

/* ---- opening and reading ------------------------------------------------ */

static brant_status describe(brant_context *ctx, const char *path, GDALDatasetH dataset,
                             const brant_dem *dem, brant_zone_file *file)
{
    int has = 0;
    brant_status status = check_grid(ctx, path, dataset, dem);
    if (status != BRANT_OK)
        return status;
    if (GDALGetRasterCount(dataset) < 1)
        return brant_fail(ctx, BRANT_ERR_INPUT, "%s: holds no raster band", path);
    GDALRasterBandH band = GDALGetRasterBand(dataset, 1);
    if (GDALDataTypeIsComplex(GDALGetRasterDataType(band)))
        return brant_fail(ctx, BRANT_ERR_INPUT, "%s: holds complex numbers, no zones", path);
    file->cols = dem->grid.cols;
    file->rows = dem->grid.rows;
    file->nodata = GDALGetRasterNoDataValue(band, &has);
    file->has_nodata = has;
    return BRANT_OK;
}

static brant_status open_raster(brant_context *ctx, const char *path, const brant_dem *dem,
                                brant_zone_file *file)
{
    brant_gdal_call call;
    GDALDatasetH dataset = NULL;
    brant_tile tile = {.path = (char *)(uintptr_t)path, .band = 1};
    brant_status status = brant_gdal_open(ctx, path, false, &dataset);
    brant_pool_init(&file->pool);
    if (status == BRANT_OK)
        status = brant_tiles_add(ctx, &file->tiles, &tile);
    if (status == BRANT_OK) {
        brant_gdal_begin(&call);
        status = describe(ctx, path, dataset, dem, file);
        brant_gdal_end(&call);
    }
    brant_gdal_close(dataset);
    return status;
}

brant_status brant_zone_file_open(brant_context *ctx, const char *path, const brant_dem *dem,
                                  double reach_angle_deg, brant_zone_file **out)
{
    *out = NULL;
    brant_zone_file *file = brant_alloc(ctx, 1, sizeof *file);
    if (!file)
        return BRANT_ERR_MEMORY;
    brant_status status =
        brant_polygons_format(path) != BRANT_POLYGONS_NONE
            ? brant_polygons_open(ctx, path, dem, reach_angle_deg, &file->polygons)
            : open_raster(ctx, path, dem, file);
    if (status != BRANT_OK)
        brant_zone_file_close(file);
    else
        *out = file;
    return status;
}

static bool is_number(double value)
{
    return value >= 0 && value <= UINT32_MAX && value == floor(value);
}

/* Take over one row; the first cell that is no zone number is an error. */
static brant_status take_row(brant_context *ctx, const brant_zone_file *file, int col, int row,
                             const double *values, int count, uint32_t *out)
{
    for (int i = 0; i < count; i++) {
        double value = values[i];
        if (isnan(value) || (file->has_nodata && value == file->nodata))
            value = 0;
        if (!is_number(value))
            return brant_fail(ctx, BRANT_ERR_INPUT,
                              "%s: column %d, row %d holds %.9g, which is no zone number",
                              file->tiles.tile[0].path, col + i, row, value);
        out[i] = (uint32_t)value;
    }
    return BRANT_OK;
}

static brant_status read_rows(brant_context *ctx, brant_zone_file *file, GDALRasterBandH band,
                              const brant_window *window, const brant_window *on, double *values,
                              uint32_t *out)
{
    brant_gdal_call call;
    brant_status status = BRANT_OK;
    for (int row = on->row; status == BRANT_OK && row < on->row + on->rows; row++) {
        brant_gdal_begin(&call);
        if (GDALRasterIO(band, GF_Read, on->col, row, on->cols, 1, values, on->cols, 1,
                         GDT_Float64, 0, 0) != CE_None || call.failed)
            status = brant_fail(ctx, BRANT_ERR_IO, "%s: cannot read row %d: %s",
                                file->tiles.tile[0].path, row,
                                brant_gdal_text(&call, "unknown failure"));
        brant_gdal_end(&call);
        if (status == BRANT_OK)
            status = take_row(ctx, file, on->col, row, values, on->cols,
                              out + (size_t)(row - window->row) * (size_t)window->cols +
                                  (size_t)(on->col - window->col));
    }
    return status;
}

brant_status brant_zone_file_read(void *self, brant_context *ctx, const brant_window *window,
                                  uint32_t *out)
{
    brant_zone_file *file = self;
    brant_handle *handle = NULL;
    if (file->polygons)
        return brant_polygons_read(file->polygons, ctx, window, out);
    brant_window on = brant_window_clip(*window, file->cols, file->rows);
    memset(out, 0, (size_t)window->cols * (size_t)window->rows * sizeof *out);
    if (on.cols < 1 || on.rows < 1)
        return BRANT_OK;
    double *values = brant_alloc(ctx, (size_t)on.cols, sizeof *values);
    brant_status status = values ? brant_pool_take(ctx, &file->pool, &file->tiles.tile[0], &handle)
                                 : BRANT_ERR_MEMORY;
    if (status == BRANT_OK)
        status = read_rows(ctx, file, handle->band, window, &on, values, out);
    brant_pool_give(&file->pool, handle);
    free(values);
    return status;
}

brant_status brant_zone_file_zones(brant_context *ctx, brant_zone_file *file,
                                   const brant_dem *dem, const bool *wanted,
                                   const brant_zone_options *options, brant_zone_set *set)
{
    /* reading a source changes nothing that a caller sees */
    brant_source *source = (brant_source *)(uintptr_t)&dem->source;
    brant_status status = brant_zone_set_from_numbers(ctx, source, dem->ground, wanted, options,
                                                      brant_zone_file_read, file, set);
    for (size_t i = 0; status == BRANT_OK && file->polygons && i < set->count; i++)
        set->zones[i].reach_angle_deg =
            brant_polygons_reach_angle(file->polygons, set->zones[i].number);
    return status;
}

double brant_zone_file_flattest(const brant_zone_file *file)
{
    return file && file->polygons ? brant_polygons_flattest(file->polygons) : INFINITY;
}

double brant_zone_file_reach_angle(const brant_zone_file *file, uint32_t number)
{
    return file->polygons ? brant_polygons_reach_angle(file->polygons, number) : 0.0;
}

bool brant_zone_file_is_drawn(const brant_zone_file *file)
{
    return file->polygons != NULL;
}

void brant_zone_file_drop_outlines(brant_zone_file *file)
{
    if (file->polygons)
        brant_polygons_drop_outlines(file->polygons);
}

void brant_zone_file_close(brant_zone_file *file)
{
    if (!file)
        return;
    brant_polygons_close(file->polygons);
    brant_pool_clear(&file->pool);
    brant_tiles_clear(&file->tiles);
    free(file);
}
