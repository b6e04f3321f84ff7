/* An elevation model: opened, placed, given a unit and a working grid. */
#include "gather.h"
#include "model.h"
#include "survey.h"
#include "unit.h"

#include <cpl_conv.h>
#include <cpl_string.h>
#include <math.h>
#include <stdlib.h>
#include <string.h>

typedef brant_model model;

/* ---- the source over the working grid ----------------------------------- */

/* The mean of the k x k cells of each of `cols` working cells of one row; NaN
 * where one of them is void. `strip` holds k rows of cols*k. */
static void average_row(const float *strip, int cols, int k, float *out)
{
    size_t width = (size_t)cols * (size_t)k;
    for (int col = 0; col < cols; col++) {
        double sum = 0;
        for (int i = 0; i < k; i++)
            for (int j = 0; j < k; j++)
                sum += (double)strip[(size_t)i * width + (size_t)col * (size_t)k + (size_t)j];
        out[col] = (float)(sum / ((double)k * k));
    }
}

/* Working rows to average at once, so that a strip stays near 4 MiB. */
static int strip_rows(int cols, int k)
{
    size_t one = (size_t)cols * (size_t)k * (size_t)k;
    size_t rows = ((size_t)1 << 20) / one;
    return rows < 1 ? 1 : rows > 4096 ? 4096 : (int)rows;
}

static brant_status read_averaged(brant_context *ctx, model *m, const brant_window *w, float *out,
                                  size_t stride)
{
    int k = m->factor;
    int step = strip_rows(w->cols, k);
    if (step > w->rows)
        step = w->rows;
    size_t width = (size_t)w->cols * (size_t)k;
    float *strip = brant_alloc(ctx, width * (size_t)k, (size_t)step * sizeof *strip);
    brant_status status = strip ? BRANT_OK : BRANT_ERR_MEMORY;
    for (int row = 0; status == BRANT_OK && row < w->rows; row += step) {
        int rows = w->rows - row < step ? w->rows - row : step;
        brant_window native = {w->col * k, (w->row + row) * k, w->cols * k, rows * k};
        status = brant_cells_read(ctx, &m->cells, &native, strip, width, NULL);
        for (int i = 0; status == BRANT_OK && i < rows; i++)
            average_row(strip + (size_t)i * (size_t)k * width, w->cols, k,
                        out + (size_t)(row + i) * stride);
    }
    free(strip);
    return status;
}

static brant_status read_source(brant_source *source, brant_context *ctx,
                                const brant_window *window, float *out)
{
    model *m = source->self;
    size_t stride = (size_t)window->cols;
    brant_window on = brant_window_clip(*window, source->cols, source->rows);
    if (on.cols != window->cols || on.rows != window->rows)
        for (size_t i = 0; i < stride * (size_t)window->rows; i++)
            out[i] = NAN;
    if (on.cols < 1 || on.rows < 1)
        return BRANT_OK;
    float *first = out + (size_t)(on.row - window->row) * stride + (size_t)(on.col - window->col);
    if (m->factor == 1)
        return brant_cells_read(ctx, &m->cells, &on, first, stride, NULL);
    return read_averaged(ctx, m, &on, first, stride);
}

/* ---- geometry ----------------------------------------------------------- */

static brant_status read_transform(brant_context *ctx, const brant_gathered *g, brant_dem *dem)
{
    memcpy(dem->grid.transform, g->transform, sizeof g->transform);
    if (g->placed)
        return BRANT_OK;
    if (GDALGetGCPCount(g->lead) > 0)
        return brant_fail(ctx, BRANT_ERR_INPUT,
                          "%s: placed by ground control points only; warp it to a grid first",
                          dem->name);
    return brant_fail(ctx, BRANT_ERR_INPUT, "%s: no geotransform, its cells have no place",
                      dem->name);
}

/* The horizontal CRS as WKT: heights become metres, so that a vertical part
 * would be wrong for what we write. */
static brant_status read_crs(brant_context *ctx, OGRSpatialReferenceH stated, brant_dem *dem)
{
    static const char *const form[] = {"FORMAT=WKT2_2019", NULL};
    char *wkt = NULL;
    OGRSpatialReferenceH flat = stated ? OSRClone(stated) : NULL;
    if (!flat)
        return brant_fail(ctx, BRANT_ERR_INPUT, "%s: no coordinate reference system", dem->name);
    brant_status status = BRANT_OK;
    if (OSRIsCompound(flat))
        OSRStripVertical(flat);
    OSRDemoteTo2D(flat, NULL);
    if (OSRExportToWktEx(flat, &wkt, form) == OGRERR_NONE && wkt && wkt[0]) {
        dem->grid.crs = brant_strdup(ctx, wkt);
        if (!dem->grid.crs)
            status = BRANT_ERR_MEMORY;
    } else
        status = brant_fail(ctx, BRANT_ERR_INPUT,
                            "%s: coordinate reference system not understood", dem->name);
    CPLFree(wkt);
    OSRDestroySpatialReference(flat);
    return status;
}

/* How many cells go into a working cell: `wanted` metres over the cell's. Ties,
 * with 3 % to spare for a projection's scale, go to the finer grid: 2 m cells
 * give 4 m everywhere, not 4 m here and 6 m there. */
static int working_factor(double cell, double scale_m)
{
    double wanted = scale_m > 0 ? scale_m : 5.0;
    if (scale_m < 0 || (scale_m == 0 && cell >= 4.0) || !(cell > 0))
        return 1;
    double k = ceil(wanted / cell - 0.53);
    return k < 1 ? 1 : k > 10000 ? 10000 : (int)k;
}

/* A working cell is a whole number of the file's cells: say where that is not
 * what was asked for. */
static void note_other_cell(brant_context *ctx, const brant_dem *dem, double scale_m, double cell)
{
    if (scale_m > 0 && fabs(cell - scale_m) > 0.25 * scale_m)
        brant_note(ctx, "%s: working cell %.3g m, not %.3g m: it is a whole number of the file's "
                   "cells", dem->name, cell, scale_m);
}

/* The matrix of the file's grid gives the cell's size; average to the working
 * grid and make its matrix. */
static brant_status make_working_grid(brant_context *ctx, double scale_m, brant_dem *dem)
{
    brant_matrix m;
    brant_grid *grid = &dem->grid;
    brant_status status = brant_ground_create(ctx, dem->name, grid, &dem->ground);
    if (status != BRANT_OK)
        return status;
    brant_ground_matrix(dem->ground, grid->cols / 2.0, grid->rows / 2.0, &m);
    double cell = sqrt(brant_matrix_area(&m));
    dem->factor = working_factor(cell, scale_m);
    note_other_cell(ctx, dem, scale_m, cell * dem->factor);
    if (dem->factor == 1)
        return BRANT_OK;
    if (grid->cols < dem->factor || grid->rows < dem->factor)
        return brant_fail(ctx, BRANT_ERR_INPUT,
                          "%s: %d x %d cells of %.3g m are less than one working cell", dem->name,
                          grid->cols, grid->rows, cell);
    grid->cols /= dem->factor; /* what is left over at the far border is no whole cell */
    grid->rows /= dem->factor;
    for (int i = 1; i < 6; i++)
        if (i != 3)
            grid->transform[i] *= dem->factor;
    brant_ground_destroy(dem->ground);
    dem->ground = NULL;
    return brant_ground_create(ctx, dem->name, grid, &dem->ground);
}

/* Two cells: pitches of 38 to 45 degrees on models of cell means keep 30 degrees in
 * most positions if they are that long (trials). 64 %: a central difference's share of a
 * sine's steepest gradient, sin(2 pi/n) / (2 pi/n) for a wave of n = 4 cells. */
static void warn_coarse(brant_context *ctx, const brant_dem *dem, double cell)
{
    if (cell > 12)
        brant_warn(ctx,
                   "%s: cells of %.0f m: pitches shorter than %.0f m may be missed, and rolls %.0f "
                   "m long show 64 %% of their gradient",
                   dem->name, cell, 2 * cell, 4 * cell);
}

/* ---- the band ----------------------------------------------------------- */

/* Bands that are not there to say what is void. */
static int data_bands(GDALDatasetH dataset)
{
    int count = 0;
    for (int b = 1; b <= GDALGetRasterCount(dataset); b++)
        count += GDALGetRasterColorInterpretation(GDALGetRasterBand(dataset, b)) != GCI_AlphaBand;
    return count;
}

static brant_status choose_band(brant_context *ctx, GDALDatasetH dataset, int wanted,
                                brant_dem *dem)
{
    int bands = GDALGetRasterCount(dataset);
    if (bands < 1)
        return brant_fail(ctx, BRANT_ERR_INPUT, "%s: holds no raster band", dem->name);
    if (wanted < 0 || wanted > bands)
        return brant_fail(ctx, BRANT_ERR_USAGE, "%s: has %d band%s, no band %d", dem->name, bands,
                          bands == 1 ? "" : "s", wanted);
    if (wanted == 0 && data_bands(dataset) > 1)
        brant_warn(ctx, "%s: has %d bands, band 1 taken as the elevation (--band-number)",
                   dem->name, bands);
    dem->band = wanted ? wanted : 1;
    GDALDataType type = GDALGetRasterDataType(GDALGetRasterBand(dataset, dem->band));
    if (GDALDataTypeIsComplex(type))
        return brant_fail(ctx, BRANT_ERR_INPUT, "%s: band %d holds complex numbers, no elevation",
                          dem->name, dem->band);
    return BRANT_OK;
}

/* A mosaic that states no unit, or no scale, speaks for its tiles. */
static GDALRasterBandH tile_band(const brant_gathered *g, const brant_cells *cells)
{
    int band = g->tile ? cells->tiles.tile[0].band : 0;
    return band > 0 && band <= GDALGetRasterCount(g->tile) ? GDALGetRasterBand(g->tile, band)
                                                           : NULL;
}

static double scale_or_offset(double (*get)(GDALRasterBandH, int *), GDALRasterBandH band,
                              GDALRasterBandH tile, double otherwise)
{
    double value = get(band, NULL);
    return value == otherwise && tile ? get(tile, NULL) : value;
}

static brant_status read_scale(brant_context *ctx, const brant_gathered *g, const char *unit,
                               brant_dem *dem)
{
    double metres = 1;
    brant_cells *cells = &((model *)dem->self)->cells;
    GDALRasterBandH band = GDALGetRasterBand(g->lead, dem->band), tile = tile_band(g, cells);
    brant_unit_places places = {GDALGetSpatialRef(g->lead), band, tile,
                                cells->tiles.tile[0].path};
    brant_status status = brant_vertical_unit(ctx, dem->name, unit, &places, &metres,
                                              &dem->unit_from);
    if (status != BRANT_OK)
        return status;
    double scale = scale_or_offset(GDALGetRasterScale, band, tile, 1);
    double offset = scale_or_offset(GDALGetRasterOffset, band, tile, 0);
    if (!isfinite(scale) || scale == 0 || !isfinite(offset))
        return brant_fail(ctx, BRANT_ERR_INPUT, "%s: band %d has scale %g and offset %g",
                          dem->name, dem->band, scale, offset);
    dem->to_metres = scale * metres;
    cells->scale = dem->to_metres;
    cells->offset = offset * metres;
    cells->unit_m = unit ? 0 : metres;
    cells->one_scale = tile != NULL;
    cells->mosaic_scale = GDALGetRasterScale(band, NULL) != 1 ||
                          GDALGetRasterOffset(band, NULL) != 0;
    cells->stored_scale = scale;
    cells->stored_offset = offset;
    return BRANT_OK;
}

/* ---- opening ------------------------------------------------------------ */

/* More than any model has, less than what makes tables of its blocks as large as memory: the
 * world at 1 arc second is 1,296,000 x 648,000. A header may claim anything. */
#define SIDE_MAX (1 << 24)
#define CELLS_MAX ((int64_t)1 << 40)

static brant_status check_size(brant_context *ctx, const brant_dem *dem)
{
    int64_t cols = dem->grid.cols, rows = dem->grid.rows;
    if (cols <= SIDE_MAX && rows <= SIDE_MAX && cols * rows <= CELLS_MAX)
        return BRANT_OK;
    return brant_fail(ctx, BRANT_ERR_INPUT,
                      "%s: says it has %d x %d cells: larger than the limit of %d a side and 2^40 "
                      "in all", dem->name, dem->grid.cols, dem->grid.rows, SIDE_MAX);
}

static brant_status describe(brant_context *ctx, brant_gathered *g,
                             const brant_dem_options *options, brant_dem *dem)
{
    model *m = dem->self;
    dem->driver = brant_strdup(ctx, GDALGetDriverShortName(GDALGetDatasetDriver(g->lead)));
    if (!dem->driver)
        return BRANT_ERR_MEMORY;
    dem->tiles = g->tiles.count;
    dem->grid.cols = g->tiles.cols;
    dem->grid.rows = g->tiles.rows;
    brant_status status = check_size(ctx, dem);
    if (status == BRANT_OK)
        status = choose_band(ctx, g->lead, options->band, dem);
    if (status == BRANT_OK)
        status = read_crs(ctx, GDALGetSpatialRef(g->lead), dem);
    if (status == BRANT_OK)
        status = read_transform(ctx, g, dem);
    if (status == BRANT_OK)
        status = brant_cells_init(ctx, dem->name, &g->tiles, options->nodata,
                                  options->nodata_count, &m->cells);
    if (status == BRANT_OK)
        status = read_scale(ctx, g, options->vertical_unit, dem);
    return status;
}

static bool any_valid(const float *z, size_t count)
{
    for (size_t i = 0; i < count; i++)
        if (!isnan(z[i]))
            return true;
    return false;
}

/* Refuse a model without any elevation; stops at the first cell that has one. Windows as
 * wide as the file's strips, or GDAL's cache would fill with parts of them. */
static brant_status find_elevation(brant_context *ctx, brant_dem *dem)
{
    enum { CELLS = 1 << 18, WIDTH = 1024 };
    bool found = false;
    brant_status status = BRANT_OK;
    int width = dem->block_cols > WIDTH ? dem->block_cols : WIDTH;
    int height = width < CELLS ? CELLS / width : 1;
    float *z = brant_alloc(ctx, (size_t)width * (size_t)height, sizeof *z);
    if (!z)
        return BRANT_ERR_MEMORY;
    for (int64_t row = 0; row < dem->grid.rows && !found; row += height)
        for (int64_t col = 0; col < dem->grid.cols && !found; col += width) {
            brant_window w = {(int)col, (int)row, width, height};
            w = brant_window_clip(w, dem->grid.cols, dem->grid.rows);
            status = brant_check_stop(ctx);
            if (status == BRANT_OK)
                status = dem->source.read(&dem->source, ctx, &w, z);
            if (status != BRANT_OK)
                goto done;
            found = any_valid(z, (size_t)w.cols * (size_t)w.rows);
        }
    if (!found)
        status = brant_fail(ctx, BRANT_ERR_INPUT, "%s: no elevation in it, every cell is void",
                            dem->name);
done:
    free(z);
    return status;
}

/* Look the model over before its first use. */
static brant_status look_over(brant_context *ctx, const brant_dem_options *options,
                              brant_dem *dem)
{
    brant_matrix m;
    model *own = dem->self;
    brant_ground_matrix(dem->ground, dem->grid.cols / 2.0, dem->grid.rows / 2.0, &m);
    warn_coarse(ctx, dem, sqrt(brant_matrix_area(&m)));
    brant_status status = brant_survey_run(ctx, &own->cells, &m, dem->factor,
                                           options->vertical_unit ? NULL : dem->unit_from,
                                           &dem->unit_doubted);
    dem->undeclared = own->cells.rules.undeclared;
    dem->undeclared_count = (size_t)own->cells.rules.undeclared_count;
    return status == BRANT_OK ? find_elevation(ctx, dem) : status;
}

static brant_status find_blocks(brant_context *ctx, brant_dem *dem)
{
    brant_cells *cells = &((model *)dem->self)->cells;
    int cols = 1, rows = 1;
    brant_status status = brant_cells_blocks(ctx, cells, &cells->tiles.tile[0], &cols, &rows);
    dem->block_cols = (cols - 1) / dem->factor + 1;
    dem->block_rows = (rows - 1) / dem->factor + 1;
    return status;
}

static brant_status open_model(brant_context *ctx, const char *path,
                               const brant_dem_options *options, brant_dem *dem)
{
    brant_gdal_call call;
    brant_gathered gathered = {0};
    model *m = brant_alloc(ctx, 1, sizeof *m);
    dem->self = m;
    dem->name = m ? brant_strdup(ctx, path) : NULL;
    if (!dem->name)
        return BRANT_ERR_MEMORY;
    brant_status status = brant_gather(ctx, path, options->band > 0 ? options->band : 1,
                                       &gathered);
    if (status == BRANT_OK) {
        brant_gdal_begin(&call);
        status = describe(ctx, &gathered, options, dem);
        brant_gdal_end(&call);
    }
    brant_gathered_clear(&gathered);
    if (status == BRANT_OK)
        status = make_working_grid(ctx, options->scale_m, dem);
    if (status != BRANT_OK)
        return status;
    m->factor = dem->factor;
    dem->source = (brant_source){dem->grid.cols, dem->grid.rows, read_source, m};
    status = find_blocks(ctx, dem);
    return status == BRANT_OK ? look_over(ctx, options, dem) : status;
}

brant_status brant_dem_open(brant_context *ctx, const char *path, const brant_dem_options *options,
                            brant_dem *dem)
{
    memset(dem, 0, sizeof *dem);
    brant_status status = open_model(ctx, path, options, dem);
    if (status != BRANT_OK)
        brant_dem_close(dem);
    return status;
}

void brant_dem_close(brant_dem *dem)
{
    model *m = dem->self;
    if (m)
        brant_cells_clear(&m->cells);
    free(m);
    brant_ground_destroy(dem->ground);
    brant_grid_clear(&dem->grid);
    free(dem->name);
    free(dem->driver);
    memset(dem, 0, sizeof *dem);
}
