/* The plan's rasters at the pixels of the map's picture: read tile by tile, only what is seen.
 * Where a pixel holds several cells, it takes the steepest class and the farthest reaching
 * shadow among them, and an unknown cell hides gentle ground, never steep one. */
#include "map_parts.h"

#include <math.h>
#include <stdlib.h>
#include <string.h>

#define TILE 64                        /* pixels a side */
#define TILE_CELLS ((size_t)1 << 22)   /* cells read at once; more, and the tile is quartered */

enum { ELEVATION, CLASS, REACHED, ABOVE, SHEETS }; /* what is read */

typedef struct reader {
    brant_context *ctx;
    brant_map_ground *ground;
    brant_raster_file *file[SHEETS]; /* ABOVE is REACHED's */
    brant_map_warp warp;
    double cells;        /* of a pixel's side */
    double reach_angle;
    brant_window window; /* in memory */
    float *values[SHEETS];
    size_t capacity[SHEETS];
} reader;

static const int band_of[SHEETS] = {1, 1, 1, 5}; /* of a runout raster: reached at, unknown above */

/* ---- one pixel ---------------------------------------------------------- */

static float value_at(const reader *r, int sheet, int col, int row)
{
    /* brant_window_has, written out: it is asked 20 times a pixel */
    const brant_window *w = &r->window;
    int64_t c = (int64_t)col - w->col, l = (int64_t)row - w->row;
    if (c < 0 || c >= w->cols || l < 0 || l >= w->rows)
        return NAN;
    return r->values[sheet][l * w->cols + c];
}

/* Catmull and Rom's weights (1974) at t of the way from the second of four to the third. */
static void cubic(double t, double weight[4])
{
    weight[0] = ((2 - t) * t - 1) * t / 2;
    weight[1] = ((3 * t - 5) * t * t + 2) / 2;
    weight[2] = ((4 - 3 * t) * t + 1) * t / 2;
    weight[3] = (t - 1) * t * t / 2;
}

/* Of the four cell centres around, smoothed by the sixteen where they are known; NaN where
 * one of the four is void. */
static float interpolate(const reader *r, double col, double row)
{
    double wide[4], high[4], sum = 0;
    int c = (int)floor(col - 0.5), w = (int)floor(row - 0.5);
    double s = col - 0.5 - c, t = row - 0.5 - w;
    cubic(s, wide);
    cubic(t, high);
    for (int i = 0; i < 4; i++)
        for (int j = 0; j < 4; j++)
            sum += high[i] * wide[j] * (double)value_at(r, ELEVATION, c - 1 + j, w - 1 + i);
    if (!isnan(sum))
        return (float)sum;
    double north = (1 - s) * (double)value_at(r, ELEVATION, c, w) +
                   s * (double)value_at(r, ELEVATION, c + 1, w);
    double south = (1 - s) * (double)value_at(r, ELEVATION, c, w + 1) +
                   s * (double)value_at(r, ELEVATION, c + 1, w + 1);
    return (float)((1 - t) * north + t * south);
}

/* The cells whose centres are in a pixel around `at`, the nearest always among them. */
static void cells_in(double at, double side, int *first, int *last)
{
    int nearest = (int)floor(at);
    *first = (int)ceil(at - side / 2 - 0.5);
    *last = (int)ceil(at + side / 2 - 0.5) - 1;
    *first = *first < nearest ? *first : nearest;
    *last = *last > nearest ? *last : nearest;
}

static uint8_t class_at(const reader *r, int col, int row)
{
    float value = value_at(r, CLASS, col, row);
    bool known = value >= 0 && value < BRANT_CLASSES;
    return known && !isnan(value_at(r, REACHED, col, row)) ? (uint8_t)value : BRANT_CLASS_UNKNOWN;
}

static uint8_t shadow_at(const reader *r, int col, int row)
{
    double reached = (double)value_at(r, REACHED, col, row);
    if (reached >= r->reach_angle)
        return reached >= 30 ? BRANT_MAP_REACHED_30 : BRANT_MAP_REACHED;
    return value_at(r, ABOVE, col, row) > 0 ? BRANT_MAP_UNKNOWN_ABOVE : BRANT_MAP_LIT;
}

/* How much a class has to say: gentle ground least, then the unknown, then steep ground. */
static int weight_of(uint8_t class)
{
    return class == BRANT_CLASS_UNKNOWN ? 2 * BRANT_CLASS_25_30 + 1 : 2 * class;
}

static float mean(const reader *r, const int cols[2], const int rows[2])
{
    double sum = 0;
    for (int row = rows[0]; row <= rows[1]; row++)
        for (int col = cols[0]; col <= cols[1]; col++)
            sum += (double)value_at(r, ELEVATION, col, row);
    return (float)(sum / ((double)(cols[1] - cols[0] + 1) * (rows[1] - rows[0] + 1)));
}

static void fill_pixel(const reader *r, int i, int j)
{
    double col, row;
    int cols[2], rows[2];
    const brant_grid *grid = brant_raster_file_grid(r->file[ELEVATION]);
    brant_map_ground *g = r->ground;
    size_t at = (size_t)j * (size_t)g->cols + (size_t)i;
    brant_map_warp_at(&r->warp, i, j, &col, &row);
    if (!(col >= 0 && col < grid->cols && row >= 0 && row < grid->rows))
        return; /* as it is: outside */
    cells_in(col, r->cells, &cols[0], &cols[1]);
    cells_in(row, r->cells, &rows[0], &rows[1]);
    g->classes[at] = class_at(r, (int)col, (int)row);
    for (int y = rows[0]; y <= rows[1]; y++)
        for (int x = cols[0]; x <= cols[1]; x++) {
            if (!(x >= 0 && x < grid->cols && y >= 0 && y < grid->rows))
                continue;
            uint8_t class = class_at(r, x, y), shadow = shadow_at(r, x, y);
            if (weight_of(class) > weight_of(g->classes[at]))
                g->classes[at] = class;
            if (shadow > g->shadow[at])
                g->shadow[at] = shadow;
        }
    g->elevation[at] = r->cells > 2 ? mean(r, cols, rows) : interpolate(r, col, row);
}

/* ---- tiles -------------------------------------------------------------- */

/* A tile of pixels, and the cells that it needs; none where it is outside. */
typedef struct tile {
    int i, j, cols, rows;
} tile;

static brant_window window_of(const reader *r, const tile *t)
{
    double low[2] = {INFINITY, INFINITY}, high[2] = {-INFINITY, -INFINITY};
    const brant_grid *grid = brant_raster_file_grid(r->file[ELEVATION]);
    for (int j = 0; j < t->rows; j++)
        for (int i = 0; i < t->cols; i++) {
            double at[2];
            brant_map_warp_at(&r->warp, t->i + i, t->j + j, &at[0], &at[1]);
            for (int axis = 0; axis < 2; axis++) {
                double limit = axis ? grid->rows : grid->cols;
                double inside = fmin(fmax(at[axis], -1), limit + 1); /* NaN: -1 */
                low[axis] = fmin(low[axis], inside);
                high[axis] = fmax(high[axis], inside);
            }
        }
    double around = 3 + r->cells;
    brant_window w = {(int)floor(low[0] - around), (int)floor(low[1] - around), 0, 0};
    w.cols = (int)ceil(high[0] + around) - w.col;
    w.rows = (int)ceil(high[1] + around) - w.row;
    return brant_window_clip(w, grid->cols, grid->rows);
}

static brant_status load(reader *r, const brant_window *window)
{
    brant_status status = BRANT_OK;
    size_t count = (size_t)window->cols * (size_t)window->rows;
    r->window = *window;
    for (int sheet = 0; sheet < SHEETS && status == BRANT_OK; sheet++) {
        status = brant_grow(r->ctx, &r->values[sheet], &r->capacity[sheet], count,
                            sizeof *r->values[sheet]);
        if (status == BRANT_OK)
            status = brant_raster_file_read(r->ctx, r->file[sheet], band_of[sheet], window,
                                            r->values[sheet]);
    }
    return status;
}

static brant_status read_tile(reader *r, const tile *t)
{
    brant_status status = brant_check_stop(r->ctx);
    brant_window window = window_of(r, t);
    if (status != BRANT_OK || window.cols < 1 || window.rows < 1)
        return status;
    if ((size_t)window.cols * (size_t)window.rows > TILE_CELLS && (t->cols > 1 || t->rows > 1)) {
        int cols = (t->cols + 1) / 2, rows = (t->rows + 1) / 2;
        for (int part = 0; part < 4 && status == BRANT_OK; part++) {
            bool east = part & 1, south = part & 2;
            tile quarter = {t->i + (east ? cols : 0), t->j + (south ? rows : 0),
                            east ? t->cols - cols : cols, south ? t->rows - rows : rows};
            if (quarter.cols > 0 && quarter.rows > 0)
                status = read_tile(r, &quarter);
        }
        return status;
    }
    status = load(r, &window);
    for (int j = 0; j < t->rows && status == BRANT_OK; j++)
        for (int i = 0; i < t->cols; i++)
            fill_pixel(r, t->i + i, t->j + j);
    return status;
}

static brant_status read_tiles(reader *r)
{
    const brant_map_ground *g = r->ground;
    brant_status status = BRANT_OK;
    for (int j = 0; j < g->rows; j += TILE)
        for (int i = 0; i < g->cols && status == BRANT_OK; i += TILE) {
            tile t = {i, j, g->cols - i < TILE ? g->cols - i : TILE,
                      g->rows - j < TILE ? g->rows - j : TILE};
            status = read_tile(r, &t);
        }
    return status;
}

/* ---- files -------------------------------------------------------------- */

static bool same_grid(const brant_grid *a, const brant_grid *b)
{
    bool same = a->cols == b->cols && a->rows == b->rows;
    for (int k = 0; k < 6; k++)
        same = same && a->transform[k] == b->transform[k];
    return same;
}

static brant_status open_files(brant_context *ctx, reader *r, const brant_map_scene *scene)
{
    const char *path[ABOVE] = {scene->elevation, scene->classes, scene->runout};
    brant_status status = BRANT_OK;
    for (int i = 0; i < ABOVE && status == BRANT_OK; i++)
        status = brant_raster_file_open(ctx, path[i], &r->file[i]);
    for (int i = 1; i < ABOVE && status == BRANT_OK; i++) {
        if (!same_grid(brant_raster_file_grid(r->file[0]), brant_raster_file_grid(r->file[i])))
            status = brant_fail(ctx, BRANT_ERR_INPUT, "%s: not on the grid of %s", path[i],
                                path[0]);
    }
    r->file[ABOVE] = r->file[REACHED];
    return status;
}

static brant_status make_pixels(brant_context *ctx, const brant_map_frame *frame,
                                brant_map_ground *g)
{
    g->cols = (int)ceil(frame->box.width / BRANT_MAP_PIXEL);
    g->rows = (int)ceil(frame->box.height / BRANT_MAP_PIXEL);
    size_t count = (size_t)g->cols * (size_t)g->rows;
    g->elevation = brant_alloc(ctx, count, sizeof *g->elevation);
    g->classes = brant_alloc(ctx, count, 1);
    g->shadow = brant_alloc(ctx, count, 1);
    if (!g->elevation || !g->classes || !g->shadow)
        return BRANT_ERR_MEMORY;
    memset(g->classes, BRANT_MAP_OUTSIDE, count);
    for (size_t i = 0; i < count; i++)
        g->elevation[i] = NAN;
    return BRANT_OK;
}

/* Cells along a pixel's side, in the picture's middle. */
static double cells_of(const brant_map_warp *warp, const brant_map_ground *g)
{
    double a[2], b[2], c[2];
    brant_map_warp_at(warp, g->cols / 2, g->rows / 2, &a[0], &a[1]);
    brant_map_warp_at(warp, g->cols / 2 + 1, g->rows / 2, &b[0], &b[1]);
    brant_map_warp_at(warp, g->cols / 2, g->rows / 2 + 1, &c[0], &c[1]);
    double cells = fmax(hypot(b[0] - a[0], b[1] - a[1]), hypot(c[0] - a[0], c[1] - a[1]));
    return isfinite(cells) ? cells : 1;
}

brant_status brant_map_ground_read(brant_context *ctx, const brant_map_scene *scene,
                                   const brant_map_frame *frame, brant_map_ground *ground)
{
    reader r = {.ctx = ctx, .ground = ground, .reach_angle = scene->reach_angle_deg};
    memset(ground, 0, sizeof *ground);
    brant_status status = make_pixels(ctx, frame, ground);
    if (status == BRANT_OK)
        status = open_files(ctx, &r, scene);
    if (status == BRANT_OK)
        status = brant_map_warp_make(ctx, scene->elevation,
                                     brant_raster_file_grid(r.file[ELEVATION]), frame,
                                     ground->cols, ground->rows, &r.warp);
    if (status == BRANT_OK) {
        r.cells = cells_of(&r.warp, ground);
        status = read_tiles(&r);
    }
    for (int i = 0; i < SHEETS; i++)
        free(r.values[i]);
    for (int i = 0; i < ABOVE; i++)
        brant_raster_file_close(r.file[i]);
    brant_map_warp_clear(&r.warp);
    return status;
}

void brant_map_ground_clear(brant_map_ground *ground)
{
    free(ground->elevation);
    free(ground->classes);
    free(ground->shadow);
    memset(ground, 0, sizeof *ground);
}
