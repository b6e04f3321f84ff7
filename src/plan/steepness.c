/* The rasters of steepness: slope, aspect and class from one reading of the model, block by
 * block in the files' order. A worker holds one block, computed in place. */
#include "bands.h"
#include "rasters.h"

#include <math.h>
#include <stdlib.h>
#include <string.h>

static const brant_band_spec elevation_band = {"elevation_m", "m", true, BRANT_NODATA, NULL, NULL};
static const brant_band_spec slope_band = {"slope_deg", "deg", true, BRANT_NODATA, NULL, NULL};
static const brant_band_spec aspect_band = {"aspect_deg", "deg", true, BRANT_NODATA, NULL, NULL};

#define BLOCK_CELLS ((size_t)BRANT_BLOCK * BRANT_BLOCK)

enum { ELEVATION, SLOPE, ASPECT, CLASSES, SHEETS };

/* One worker's block. */
typedef struct bench {
    float lines[3][BRANT_BLOCK + 2]; /* elevations: row r in [(r + 1) % 3], a cell to each side */
    float elevation[BLOCK_CELLS], slope[BLOCK_CELLS], aspect[BLOCK_CELLS];
    uint8_t classes[BLOCK_CELLS];
} bench;

typedef struct steepness {
    brant_dem *dem;
    brant_window window;
    const brant_field *field; /* the whole window, or NULL: it is read */
    brant_bands bands;
    int band, across;         /* blocks in a band */
    int first;                /* of the blocks at hand */
    bool edges;
    const char *class_names[BRANT_CLASSES + 1]; /* NULL-terminated */
    brant_raster *raster[SHEETS];
    bench *bench;             /* one a worker */
} steepness;

/* ---- one block ---------------------------------------------------------- */

static void mark_voids(float *values, int n)
{
    for (int i = 0; i < n; i++)
        values[i] = isnan(values[i]) ? BRANT_NODATA : values[i];
}

/* The part of the window in block `item` of the band, in grid coordinates. */
static brant_window block_window(const steepness *job, int64_t item)
{
    brant_window block = {(job->first + (int)item) * BRANT_BLOCK, job->band * BRANT_BLOCK,
                          BRANT_BLOCK, BRANT_BLOCK};
    block = brant_window_clip(block, job->window.cols, job->window.rows);
    block.col += job->window.col;
    block.row += job->window.row;
    return block;
}

static void load_line(const steepness *job, bench *b, const brant_window *block, int row)
{
    brant_bands_row(&job->bands, row, block->col - job->window.col - 1, block->cols + 2,
                    b->lines[(row + 1) % 3]);
}

static void compute_row(const steepness *job, bench *b, const brant_window *block, int row)
{
    size_t at = (size_t)row * BRANT_BLOCK;
    load_line(job, b, block, row + 1);
    const float *here = b->lines[(row + 1) % 3];
    if (job->raster[ELEVATION])
        memcpy(b->elevation + at, here + 1, (size_t)block->cols * sizeof(float));
    brant_steepness_row(job->dem->ground, block->col, block->row + row, block->cols,
                        b->lines[row % 3], here, b->lines[(row + 2) % 3], job->edges,
                        b->slope + at, b->aspect + at);
}

/* The same from a field in memory. */
static void copy_row(const steepness *job, bench *b, const brant_window *block, int row)
{
    const brant_window *w = &job->field->window;
    size_t from = (size_t)(block->row + row - w->row) * (size_t)w->cols +
                  (size_t)(block->col - w->col);
    size_t at = (size_t)row * BRANT_BLOCK, bytes = (size_t)block->cols * sizeof(float);
    memcpy(b->elevation + at, job->field->elevation + from, bytes);
    memcpy(b->slope + at, job->field->slope + from, bytes);
    memcpy(b->aspect + at, job->field->aspect + from, bytes);
}

/* Finish a row in place: classes from the slope, voids as nodata. */
static void finish_row(const steepness *job, bench *b, size_t at, int n)
{
    brant_class_row(b->slope + at, n, b->classes + at);
    brant_kept_row(b->slope + at, n);
    brant_kept_row(b->aspect + at, n);
    if (job->raster[ELEVATION])
        mark_voids(b->elevation + at, n);
}

static brant_status make_block(brant_context *ctx, void *user, int worker, int64_t item)
{
    const steepness *job = user;
    bench *b = &job->bench[worker];
    brant_window block = block_window(job, item);
    (void)ctx;
    for (int row = -1; row < 1 && !job->field; row++)
        load_line(job, b, &block, row);
    for (int row = 0; row < block.rows; row++) {
        if (job->field)
            copy_row(job, b, &block, row);
        else
            compute_row(job, b, &block, row);
        finish_row(job, b, (size_t)row * BRANT_BLOCK, block.cols);
    }
    return BRANT_OK;
}

/* A step a raster: two threads write two of them at once. */
static brant_status write_block(brant_context *ctx, void *user, int worker, int64_t item,
                                int sheet)
{
    steepness *job = user;
    const bench *b = &job->bench[worker];
    const void *cells[SHEETS] = {b->elevation, b->slope, b->aspect, b->classes};
    if (!job->raster[sheet])
        return BRANT_OK;
    return brant_raster_block(ctx, job->raster[sheet], 1, job->first + (int)item, job->band,
                              cells[sheet]);
}

/* ---- all of them -------------------------------------------------------- */

/* A band, span by span of what is read at once. */
static brant_status make_band(brant_context *ctx, steepness *job)
{
    int count = job->across;
    brant_status status = BRANT_OK;
    for (job->first = 0; status == BRANT_OK && job->first < job->across; job->first += count) {
        if (!job->field) {
            status = brant_bands_next(ctx, &job->bands);
            count = (job->bands.cols - 1) / BRANT_BLOCK + 1;
        }
        if (status == BRANT_OK)
            status = brant_run_steps(ctx, NULL, count, make_block, write_block, SHEETS, job);
    }
    return status;
}

static brant_status make_bands(brant_context *ctx, steepness *job)
{
    int down = (job->window.rows - 1) / BRANT_BLOCK + 1;
    brant_status status = BRANT_OK;
    if (!job->field)
        status = brant_bands_open(ctx, job->dem, &job->window, BRANT_BANDS_BUDGET, &job->bands);
    for (job->band = 0; status == BRANT_OK && job->band < down; job->band++) {
        status = make_band(ctx, job);
        brant_progress(ctx, "slope", (job->band + 1.0) / down);
    }
    brant_bands_close(&job->bands);
    return status;
}

static brant_status open_sheets(brant_context *ctx, steepness *job,
                                const brant_steepness_paths *paths, brant_packing packing,
                                const brant_tags *tags)
{
    brant_band_spec class_band = {"class", "", false, 0, job->class_names,
                                  brant_class_colours};
    const char *path[SHEETS] = {paths->elevation, paths->slope, paths->aspect, paths->classes};
    brant_raster_spec spec[SHEETS] = {
        brant_spec_of("Elevation", BRANT_CELL_FLOAT32, 1, &elevation_band, packing,
                      BRANT_RESAMPLE_AVERAGE, tags),
        brant_spec_of("Slope", BRANT_CELL_FLOAT32, 1, &slope_band, packing,
                      BRANT_RESAMPLE_NEAREST, tags),
        brant_spec_of("Aspect, downslope, from true north", BRANT_CELL_FLOAT32, 1, &aspect_band,
                      packing, BRANT_RESAMPLE_NEAREST, tags),
        brant_spec_of("Steepness classes, degrees", BRANT_CELL_BYTE, 1, &class_band, packing,
                      BRANT_RESAMPLE_NEAREST, tags),
    };
    void (*const style[SHEETS])(brant_text *out) = {NULL, brant_style_slope, brant_style_aspect,
                                                    brant_style_classes};
    brant_status status = BRANT_OK;
    for (int i = 0; i < SHEETS; i++)
        spec[i].style = style[i];
    for (int i = 0; i < BRANT_CLASSES; i++)
        job->class_names[i] = brant_class_name((brant_class)i);
    for (int i = 0; i < SHEETS && status == BRANT_OK; i++)
        if (path[i])
            status = brant_raster_create(ctx, path[i], &job->dem->grid, &job->window,
                                         &spec[i], &job->raster[i]);
    return status;
}

static brant_status close_sheets(brant_context *ctx, steepness *job)
{
    brant_status status = BRANT_OK;
    for (int i = 0; i < SHEETS && status == BRANT_OK; i++) {
        brant_raster *raster = job->raster[i];
        job->raster[i] = NULL;
        if (raster)
            status = brant_raster_close(ctx, raster);
    }
    return status;
}

brant_status brant_write_steepness(brant_context *ctx, brant_dem *dem, const brant_window *window,
                                   const brant_field *field, bool edges,
                                   const brant_steepness_paths *paths, brant_packing packing,
                                   const brant_tags *tags)
{
    steepness job = {.dem = dem, .window = *window, .field = field, .edges = edges,
                     .across = (window->cols - 1) / BRANT_BLOCK + 1};
    job.bench = brant_alloc(ctx, (size_t)ctx->threads, sizeof *job.bench);
    brant_status status = job.bench ? BRANT_OK : BRANT_ERR_MEMORY;
    if (status == BRANT_OK)
        status = open_sheets(ctx, &job, paths, packing, tags);
    if (status == BRANT_OK)
        status = make_bands(ctx, &job);
    if (status == BRANT_OK)
        status = close_sheets(ctx, &job);
    for (int i = 0; i < SHEETS; i++)
        brant_raster_abandon(job.raster[i]);
    free(job.bench);
    return status;
}
