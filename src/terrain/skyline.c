/* Heights around a window, coarser with distance, and rays over them. */
#include "skyline.h"

#include <math.h>
#include <stdlib.h>
#include <string.h>

#define RADIANS (M_PI / 180.0)

/* ---- reading ------------------------------------------------------------- */

static int floor_to(int value, int unit) /* also for negative values */
{
    int rest = value % unit;
    return value - (rest < 0 ? rest + unit : rest);
}

static double shorter_side(const brant_matrix *m)
{
    return fmin(brant_matrix_cell_width(m), brant_matrix_cell_height(m));
}

/* Sides of cells over a window, metres, by its corners and its middle. */
typedef struct sides {
    double width, height; /* the least */
    double low, high;     /* the least and the largest of the shorter sides */
    double longest;
} sides;

static sides measure(const brant_ground *ground, const brant_window *w)
{
    sides s = {INFINITY, INFINITY, INFINITY, 0.0, 0.0};
    for (int i = 0; i < 5; i++) {
        brant_matrix m;
        double x = i < 4 ? i % 2 : 0.5, y = i < 4 ? i / 2 : 0.5;
        brant_ground_matrix(ground, w->col + x * w->cols, w->row + y * w->rows, &m);
        double width = brant_matrix_cell_width(&m), height = brant_matrix_cell_height(&m);
        s.width = fmin(s.width, width); /* NaN is passed over */
        s.height = fmin(s.height, height);
        s.low = fmin(s.low, shorter_side(&m));
        s.high = fmax(s.high, shorter_side(&m));
        s.longest = fmax(s.longest, fmax(width, height));
    }
    return s;
}

static int clamp_int(double value, int low, int high)
{
    return value < low ? low : value > high ? high : (int)value;
}

/* The cells of the grid within `metres` of `w`, its first ones at a multiple of `unit`. */
static brant_window grown(const brant_window *w, double metres, const sides *s, int unit, int cols,
                          int rows)
{
    double dc = ceil(1.02 * metres / s->width) + 2.0, dr = ceil(1.02 * metres / s->height) + 2.0;
    int left = clamp_int(w->col - dc, 0, cols), top = clamp_int(w->row - dr, 0, rows);
    int right = clamp_int(w->col + w->cols + dc, 0, cols);
    int bottom = clamp_int(w->row + w->rows + dr, 0, rows);
    left = floor_to(left, unit);
    top = floor_to(top, unit);
    return (brant_window){left, top, right - left, bottom - top};
}

/* Cells of the grid that are read, and begin, together: whole cells of every level. */
static int block_of(int level)
{
    return 1 << level > RELIEF_BLOCK ? 1 << level : RELIEF_BLOCK;
}

/* What the levels cover; the last level's window, in cells of the grid, is what is read. */
static brant_status lay_out(brant_context *ctx, brant_skyline *relief, int cols, int rows,
                            brant_window *all)
{
    sides s = measure(relief->ground, &relief->window);
    if (!(s.low > 0.0) || isinf(s.low)) /* beside a pole */
        return brant_fail(ctx, BRANT_ERR_INPUT, "relief: the cells there have no size");
    for (int l = 0; l < RELIEF_LEVELS; l++) {
        int unit = 1 << l;
        /* a block more to each side, for whole blocks and the interpolation */
        double metres = fmin(RELIEF_STEPS * s.high * unit, relief->reach_m) +
                        block_of(l) * s.longest;
        *all = grown(&relief->window, metres, &s, block_of(l), cols, rows);
        brant_window w = {all->col / unit, all->row / unit, (all->cols + unit - 1) / unit,
                          (all->rows + unit - 1) / unit};
        relief->level[l].window = w;
        relief->level[l].z = brant_alloc(ctx, (size_t)w.cols * (size_t)w.rows, sizeof(float));
        if (!relief->level[l].z)
            return BRANT_ERR_MEMORY;
        relief->levels = l + 1;
        if (RELIEF_STEPS * s.low * unit >= relief->reach_m)
            break;
    }
    return BRANT_OK;
}

/* The mean of the known of 2 x 2 heights; void if two or more are. */
static float mean_of_four(const float *upper, const float *lower)
{
    const float four[4] = {upper[0], upper[1], lower[0], lower[1]};
    double sum = 0.0;
    int known = 0;
    for (int i = 0; i < 4; i++)
        if (!isnan(four[i])) {
            sum += (double)four[i];
            known++;
        }
    return known >= 3 ? (float)(sum / known) : NAN;
}

/* In place: rows x cols heights (both even) become rows/2 x cols/2. */
static void halve(float *z, int cols, int rows)
{
    for (int r = 0; r < rows / 2; r++)
        for (int c = 0; c < cols / 2; c++) {
            const float *upper = z + (size_t)(2 * r) * (size_t)cols + 2 * c;
            z[(size_t)r * (size_t)(cols / 2) + (size_t)c] = mean_of_four(upper, upper + cols);
        }
}

/* The part of a strip (rows x cols heights from `at` on, in cells of the level) that
 * the level covers. */
static void keep(relief_level *level, const brant_window *strip, const float *z)
{
    const brant_window *w = &level->window, both = brant_window_common(w, strip);
    for (int r = both.row; r < both.row + both.rows; r++)
        memcpy(level->z + (size_t)(r - w->row) * (size_t)w->cols + (size_t)(both.col - w->col),
               z + (size_t)(r - strip->row) * (size_t)strip->cols +
                   (size_t)(both.col - strip->col),
               (size_t)both.cols * sizeof *z);
}

typedef struct reading {
    brant_skyline *relief;
    brant_source *source;
    brant_window all;    /* begins at multiples of a strip's height */
    int height;          /* of a strip, and of its blocks: a multiple of RELIEF_BLOCK */
    brant_window blocks; /* that `all` covers, in blocks of RELIEF_BLOCK */
    float *highest;      /* by block */
} reading;

static void note_highest(reading *job, const brant_window *strip, const float *z)
{
    for (int r = 0; r < strip->rows; r++) {
        int row = (strip->row + r) / RELIEF_BLOCK - job->blocks.row;
        float *highest = job->highest + (size_t)row * (size_t)job->blocks.cols;
        for (int c = 0; c < strip->cols; c++) {
            float height = z[(size_t)r * (size_t)strip->cols + (size_t)c];
            if (height > highest[c / RELIEF_BLOCK])
                highest[c / RELIEF_BLOCK] = height;
        }
    }
}

static brant_status read_strip(brant_context *ctx, void *user, int worker, int64_t item)
{
    reading *job = user;
    brant_skyline *relief = job->relief;
    brant_window strip = {job->all.col, job->all.row + (int)item * job->height,
                          job->blocks.cols * RELIEF_BLOCK, job->height};
    (void)worker;
    float *z = brant_alloc(ctx, (size_t)strip.cols * (size_t)strip.rows, sizeof *z);
    if (!z)
        return BRANT_ERR_MEMORY;
    brant_status status = job->source->read(job->source, ctx, &strip, z);
    if (status == BRANT_OK) {
        note_highest(job, &strip, z);
        for (int l = 0; l < relief->levels; l++) {
            if (l > 0) {
                halve(z, strip.cols, strip.rows);
                strip = (brant_window){strip.col / 2, strip.row / 2, strip.cols / 2,
                                       strip.rows / 2};
            }
            keep(&relief->level[l], &strip, z);
        }
    }
    free(z);
    return status;
}

/* In blocks of RELIEF_BLOCK; cells are not negative. */
static brant_window blocks_of(const brant_window *cells)
{
    int col = cells->col / RELIEF_BLOCK, row = cells->row / RELIEF_BLOCK;
    return (brant_window){col, row, (cells->col + cells->cols - 1) / RELIEF_BLOCK + 1 - col,
                          (cells->row + cells->rows - 1) / RELIEF_BLOCK + 1 - row};
}

/* Of all blocks within reach of a block. What is read around a larger window makes no
 * difference: the same ground has the same bound, whoever asks. */
static float highest_around(const reading *job, int col, int row)
{
    brant_matrix m;
    brant_window block = {col * RELIEF_BLOCK, row * RELIEF_BLOCK, RELIEF_BLOCK, RELIEF_BLOCK};
    brant_ground_matrix(job->relief->ground, block.col + 0.5 * RELIEF_BLOCK,
                        block.row + 0.5 * RELIEF_BLOCK, &m);
    int dc = (int)fmin(1.01 * job->relief->reach_m / brant_matrix_cell_width(&m) + 2.0, 1e6);
    int dr = (int)fmin(1.01 * job->relief->reach_m / brant_matrix_cell_height(&m) + 2.0, 1e6);
    brant_window around = {block.col - dc, block.row - dr, block.cols + 2 * dc,
                           block.rows + 2 * dr};
    around = brant_window_clip(around, job->source->cols, job->source->rows);
    around = blocks_of(&around);
    float highest = -INFINITY;
    for (int r = around.row; r < around.row + around.rows; r++)
        for (int c = around.col; c < around.col + around.cols; c++)
            if (brant_window_has(&job->blocks, c, r))
                highest = fmaxf(highest, job->highest[(size_t)(r - job->blocks.row) *
                                                          (size_t)job->blocks.cols +
                                                      (size_t)(c - job->blocks.col)]);
    return highest;
}

static brant_status bound_blocks(brant_context *ctx, const reading *job)
{
    brant_skyline *relief = job->relief;
    relief->blocks = blocks_of(&relief->window);
    size_t cols = (size_t)relief->blocks.cols, rows = (size_t)relief->blocks.rows;
    relief->highest = brant_alloc(ctx, cols * rows, sizeof *relief->highest);
    if (!relief->highest)
        return BRANT_ERR_MEMORY;
    for (size_t i = 0; i < cols * rows; i++)
        relief->highest[i] = highest_around(job, relief->blocks.col + (int)(i % cols),
                                            relief->blocks.row + (int)(i / cols));
    return BRANT_OK;
}

static brant_status read_all(brant_context *ctx, reading *job)
{
    job->height = block_of(job->relief->levels - 1);
    int strips = (job->all.rows + job->height - 1) / job->height;
    int across = (job->all.cols + job->height - 1) / job->height;
    int blocks = job->height / RELIEF_BLOCK;
    job->blocks = (brant_window){job->all.col / RELIEF_BLOCK, job->all.row / RELIEF_BLOCK,
                                 across * blocks, strips * blocks};
    size_t count = (size_t)job->blocks.cols * (size_t)job->blocks.rows;
    job->highest = brant_alloc(ctx, count, sizeof *job->highest);
    if (!job->highest)
        return BRANT_ERR_MEMORY;
    for (size_t i = 0; i < count; i++)
        job->highest[i] = -INFINITY;
    brant_status status = brant_run(ctx, NULL, strips, read_strip, NULL, job);
    if (status == BRANT_OK)
        status = bound_blocks(ctx, job);
    free(job->highest);
    return status;
}

brant_status brant_skyline_create(brant_context *ctx, brant_source *source,
                                 const brant_ground *ground, const brant_window *window,
                                 double reach_m, brant_skyline **relief)
{
    reading job = {.source = source};
    *relief = job.relief = brant_alloc(ctx, 1, sizeof **relief);
    if (!job.relief)
        return BRANT_ERR_MEMORY;
    job.relief->ground = ground;
    job.relief->window = brant_window_clip(*window, source->cols, source->rows);
    job.relief->reach_m = reach_m;
    brant_status status = BRANT_OK;
    if (job.relief->window.cols > 0 && job.relief->window.rows > 0)
        status = lay_out(ctx, job.relief, source->cols, source->rows, &job.all);
    if (status == BRANT_OK && job.relief->levels > 0)
        status = read_all(ctx, &job);
    if (status != BRANT_OK) {
        brant_skyline_destroy(job.relief);
        *relief = NULL;
    }
    return status;
}

void brant_skyline_destroy(brant_skyline *relief)
{
    for (int l = 0; relief && l < RELIEF_LEVELS; l++)
        free(relief->level[l].z);
    if (relief)
        free(relief->highest);
    free(relief);
}

/* ---- rays ---------------------------------------------------------------- */

static double height_at(const relief_level *level, int col, int row)
{
    const brant_window *w = &level->window;
    if (!brant_window_has(w, col, row))
        return NAN;
    return (double)level->z[(size_t)(row - w->row) * (size_t)w->cols + (size_t)(col - w->col)];
}

/* (1 - w) a + w b; a void does not count where its weight is rounding alone. */
static double blend(double a, double b, double w)
{
    return w < 1e-6 ? a : w > 1.0 - 1e-6 ? b : a + (b - a) * w;
}

/* Bilinear between cell centres, at grid coordinates. */
static double height_between(const relief_level *level, double col, double row)
{
    const brant_window *w = &level->window;
    double x = col - 0.5, y = row - 0.5;
    /* also false for NaN; the conversions below are floor() from here on */
    if (!(x >= w->col && y >= w->row && x < w->col + w->cols && y < w->row + w->rows))
        return NAN;
    int c = (int)x, r = (int)y;
    bool last_col = c + 1 == w->col + w->cols, last_row = r + 1 == w->row + w->rows;
    const float *at = level->z + (size_t)(r - w->row) * (size_t)w->cols + (size_t)(c - w->col);
    const float *below = last_row ? NULL : at + w->cols;
    double upper = blend((double)at[0], last_col ? NAN : (double)at[1], x - c);
    if (!below)
        return blend(upper, NAN, y - r);
    return blend(upper, blend((double)below[0], last_col ? NAN : (double)below[1], x - c), y - r);
}

relief_ray brant_skyline_ray(const brant_skyline *relief, int col, int row, double azimuth)
{
    relief_ray ray = {.relief = relief, .col = col + 0.5, .row = row + 0.5, .here = NAN,
                      .highest = INFINITY};
    brant_matrix m;
    if (!brant_window_has(&relief->window, col, row))
        return ray;
    brant_ground_matrix(relief->ground, ray.col, ray.row, &m);
    double east = sin(azimuth * RADIANS), north = cos(azimuth * RADIANS);
    double det = m.col_east * m.row_north - m.row_east * m.col_north;
    if (!(fabs(det) > 0.0))
        return ray;
    ray.dcol = (east * m.row_north - north * m.row_east) / det;
    ray.drow = (north * m.col_east - east * m.col_north) / det;
    ray.here = height_at(&relief->level[0], col, row);
    ray.highest = (double)relief->highest[(size_t)(row / RELIEF_BLOCK - relief->blocks.row) *
                                              (size_t)relief->blocks.cols +
                                          (size_t)(col / RELIEF_BLOCK - relief->blocks.col)];
    ray.cell_m = shorter_side(&m);
    ray.halves = 2;
    return ray;
}

bool brant_skyline_next(relief_ray *ray, double end_m, double *z)
{
    const brant_skyline *relief = ray->relief;
    if (ray->halves > 2 * RELIEF_STEPS) {
        ray->level++;
        ray->halves = RELIEF_STEPS + 2;
    }
    if (ray->level >= relief->levels)
        return false;
    double unit = (double)(1 << ray->level);
    double distance = ray->halves * 0.5 * ray->cell_m * unit;
    if (distance > fmin(end_m, relief->reach_m) * (1.0 + 1e-6)) /* 50.000001 m is 50 m */
        return false;
    ray->distance_m = distance;
    ray->halves += ray->level == 0 && ray->halves < 2 * RELIEF_FINE ? 1 : 2;
    *z = height_between(&relief->level[ray->level], (ray->col + ray->dcol * distance) / unit,
                        (ray->row + ray->drow * distance) / unit);
    return true;
}
