/* The rasters of steepness: slope, aspect and class from one reading of the model. Each
 * worker holds one piece: a strip of elevations, read once, and the piece's blocks as the
 * files take them, computed in place. Memory does not depend on the raster's size. */
#include "rasters.h"

#include <math.h>
#include <stdlib.h>
#include <string.h>

/* Pale to dark, even steps of lightness from L* 96 to 11, so that the order can
 * be read without colours. Cubehelix (Green 2011, Bull. Astr. Soc. India
 * 39:289-295), start 0, rotations -0.3, hue 1.3, gamma 1, at lambda = 0.94 - 0.83
 * i/6. Unknown is a warm grey, apart from every step also under simulated
 * protanopia, deuteranopia and tritanopia. */
static const uint8_t class_colours[BRANT_CLASSES][4] = {
    {168, 160, 150, 255}, {224, 249, 236, 255}, {157, 228, 208, 255}, {105, 198, 192, 255},
    {69, 159, 179, 255},  {48, 114, 156, 255},  {34, 68, 118, 255},   {20, 26, 59, 255}};

static const brant_band_spec elevation_band = {"elevation_m", "m", true, BRANT_NODATA, NULL, NULL};
static const brant_band_spec slope_band = {"slope_deg", "deg", true, BRANT_NODATA, NULL, NULL};
static const brant_band_spec aspect_band = {"aspect_deg", "deg", true, BRANT_NODATA, NULL, NULL};

#define BLOCK_CELLS ((size_t)BRANT_BLOCK * BRANT_BLOCK)
#define STRIP_CELLS ((size_t)(PIECE_BLOCKS * BRANT_BLOCK + 2) * (BRANT_BLOCK + 2))

enum { ELEVATION, SLOPE, ASPECT, CLASSES, SHEETS };

/* One worker's piece. */
typedef struct bench {
    float *strip;                     /* elevations, one cell more to each side */
    float *elevation, *slope, *aspect; /* PIECE_BLOCKS blocks, one after the other */
    uint8_t *classes;
} bench;

typedef struct steepness {
    brant_dem *dem;
    pieces pieces;
    const brant_field *field; /* the whole window, or NULL: it is read */
    bool edges;
    const char *class_names[BRANT_CLASSES + 1]; /* NULL-terminated */
    brant_raster *raster[SHEETS];
    bench *bench;             /* one a worker */
} steepness;

/* ---- one piece ---------------------------------------------------------- */

/* Slopes and aspects are kept in steps of 1/128 degree, a hundredth of what a metre of
 * height error makes of a slope at 10 m cells: a file half the size. Rounded down, so that
 * no slope comes up to a whole degree that it does not have: 29.999 stays below 30. */
#define STEPS 128.0f

static void round_down(float *values, int n)
{
    for (int i = 0; i < n; i++) {
        const float known = isnan(values[i]) ? 0.0f : values[i];
        const float rounded = (float)(int)(known * STEPS) * (1.0f / STEPS); /* both >= 0 */
        values[i] = isnan(values[i]) ? BRANT_NODATA : rounded;
    }
}

static void mark_voids(float *values, int n)
{
    for (int i = 0; i < n; i++)
        values[i] = isnan(values[i]) ? BRANT_NODATA : values[i];
}

/* Finish a row of a block in place: classes from the slope, voids as nodata. */
static void finish_row(bench *b, size_t at, int n)
{
    brant_class_row(b->slope + at, n, b->classes + at);
    mark_voids(b->elevation + at, n);
    round_down(b->slope + at, n);
    round_down(b->aspect + at, n);
}

/* The row's cells of block `i`, from the strip. */
static void compute_row(const steepness *job, bench *b, const brant_window *piece, int i, int row, int n)
{
    size_t wide = (size_t)piece->cols + 2;
    const float *north = b->strip + (size_t)row * wide + (size_t)i * BRANT_BLOCK;
    size_t at = (size_t)i * BLOCK_CELLS + (size_t)row * BRANT_BLOCK;
    memcpy(b->elevation + at, north + wide + 1, (size_t)n * sizeof(float));
    brant_steepness_row(job->dem->ground, piece->col + i * BRANT_BLOCK, piece->row + row, n, north,
                        north + wide, north + 2 * wide, job->edges, b->slope + at,
                        b->aspect + at);
}

/* The same from a field in memory. */
static void copy_row(const steepness *job, bench *b, const brant_window *piece, int i, int row, int n)
{
    const brant_window *w = &job->field->window;
    size_t from = (size_t)(piece->row + row - w->row) * (size_t)w->cols +
                  (size_t)(piece->col + i * BRANT_BLOCK - w->col);
    size_t at = (size_t)i * BLOCK_CELLS + (size_t)row * BRANT_BLOCK, bytes = (size_t)n * sizeof(float);
    memcpy(b->elevation + at, job->field->elevation + from, bytes);
    memcpy(b->slope + at, job->field->slope + from, bytes);
    memcpy(b->aspect + at, job->field->aspect + from, bytes);
}

static brant_status make_piece(brant_context *ctx, void *user, int worker, int64_t item)
{
    steepness *job = user;
    bench *b = &job->bench[worker];
    brant_window piece = brant_piece_window(&job->pieces, item);
    brant_window around = {piece.col - 1, piece.row - 1, piece.cols + 2, piece.rows + 2};
    brant_status status = brant_check_stop(ctx);
    if (status == BRANT_OK && !job->field)
        status = job->dem->source.read(&job->dem->source, ctx, &around, b->strip);
    if (status != BRANT_OK)
        return status;
    for (int row = 0; row < piece.rows; row++)
        for (int i = 0; i * BRANT_BLOCK < piece.cols; i++) {
            int left = piece.cols - i * BRANT_BLOCK, n = left < BRANT_BLOCK ? left : BRANT_BLOCK;
            if (job->field)
                copy_row(job, b, &piece, i, row, n);
            else
                compute_row(job, b, &piece, i, row, n);
            finish_row(b, (size_t)i * BLOCK_CELLS + (size_t)row * BRANT_BLOCK, n);
        }
    return BRANT_OK;
}

static brant_status write_piece(brant_context *ctx, void *user, int worker, int64_t item)
{
    steepness *job = user;
    const bench *b = &job->bench[worker];
    const float *values[SHEETS] = {b->elevation, b->slope, b->aspect, NULL};
    brant_window piece = brant_piece_window(&job->pieces, item);
    int first = (piece.col - job->pieces.window.col) / BRANT_BLOCK;
    int by = (piece.row - job->pieces.window.row) / BRANT_BLOCK;
    brant_status status = BRANT_OK;
    for (int sheet = 0; sheet < SHEETS; sheet++)
        for (int i = 0; job->raster[sheet] && i * BRANT_BLOCK < piece.cols && status == BRANT_OK;
             i++) {
            size_t at = (size_t)i * BLOCK_CELLS;
            const void *cells = sheet == CLASSES ? (const void *)(b->classes + at)
                                                 : (const void *)(values[sheet] + at);
            status = brant_raster_block(ctx, job->raster[sheet], 1, first + i, by, cells);
        }
    return status;
}

/* ---- all of them -------------------------------------------------------- */

static brant_status make_benches(brant_context *ctx, steepness *job)
{
    job->bench = brant_alloc(ctx, (size_t)ctx->threads, sizeof *job->bench);
    for (int i = 0; job->bench && i < ctx->threads; i++) {
        bench *b = &job->bench[i];
        b->strip = job->field ? NULL : brant_alloc(ctx, STRIP_CELLS, sizeof *b->strip);
        b->elevation = brant_alloc(ctx, PIECE_BLOCKS * BLOCK_CELLS, sizeof *b->elevation);
        b->slope = brant_alloc(ctx, PIECE_BLOCKS * BLOCK_CELLS, sizeof *b->slope);
        b->aspect = brant_alloc(ctx, PIECE_BLOCKS * BLOCK_CELLS, sizeof *b->aspect);
        b->classes = brant_alloc(ctx, PIECE_BLOCKS * BLOCK_CELLS, sizeof *b->classes);
        if ((!job->field && !b->strip) || !b->elevation || !b->slope || !b->aspect || !b->classes)
            return BRANT_ERR_MEMORY;
    }
    return job->bench ? BRANT_OK : BRANT_ERR_MEMORY;
}

static void clear_benches(steepness *job, int threads)
{
    for (int i = 0; job->bench && i < threads; i++) {
        free(job->bench[i].strip);
        free(job->bench[i].elevation);
        free(job->bench[i].slope);
        free(job->bench[i].aspect);
        free(job->bench[i].classes);
    }
    free(job->bench);
}

static brant_status open_sheets(brant_context *ctx, steepness *job, const brant_steepness_paths *paths,
                                brant_packing packing, const brant_tags *tags)
{
    brant_band_spec class_band = {"class", "", false, 0, job->class_names, class_colours};
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
    brant_status status = BRANT_OK;
    for (int i = 0; i < BRANT_CLASSES; i++)
        job->class_names[i] = brant_class_name((brant_class)i);
    for (int i = 0; i < SHEETS && status == BRANT_OK; i++)
        if (path[i])
            status = brant_raster_create(ctx, path[i], &job->dem->grid, &job->pieces.window,
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
    steepness job = {.dem = dem, .pieces = brant_pieces_of(window), .field = field, .edges = edges};
    brant_status status = make_benches(ctx, &job);
    if (status == BRANT_OK)
        status = open_sheets(ctx, &job, paths, packing, tags);
    if (status == BRANT_OK)
        status = brant_run(ctx, "slope", job.pieces.count, make_piece, write_piece, &job);
    if (status == BRANT_OK)
        status = close_sheets(ctx, &job);
    for (int i = 0; i < SHEETS; i++)
        brant_raster_abandon(job.raster[i]);
    clear_benches(&job, ctx->threads);
    return status;
}
