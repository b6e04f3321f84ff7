/* The grid itself, windows, fixed squares, and a source over an array. */
#include "brant/grid.h"

#include <math.h>
#include <stdlib.h>
#include <string.h>

/* ---- the grid ----------------------------------------------------------- */

void brant_grid_clear(brant_grid *grid)
{
    free(grid->crs);
    memset(grid, 0, sizeof *grid);
}

/* ---- windows ------------------------------------------------------------ */

bool brant_window_has(const brant_window *window, int col, int row)
{
    /* 64 bits: a window may reach over the border of the largest grid */
    int64_t c = (int64_t)col - window->col, r = (int64_t)row - window->row;
    return c >= 0 && c < window->cols && r >= 0 && r < window->rows;
}

/* Cut the span [*start, *start + *count) to [0, limit). */
static void clip_span(int *start, int *count, int limit)
{
    int64_t low = *start, high = low + *count;
    if (low < 0)
        low = 0;
    if (high > limit)
        high = limit;
    if (high <= low) {
        *start = 0;
        *count = 0;
        return;
    }
    *start = (int)low;
    *count = (int)(high - low);
}

brant_window brant_window_clip(brant_window window, int cols, int rows)
{
    clip_span(&window.col, &window.cols, cols);
    clip_span(&window.row, &window.rows, rows);
    if (window.cols == 0 || window.rows == 0)
        return (brant_window){0, 0, 0, 0};
    return window;
}

brant_window brant_window_common(const brant_window *a, const brant_window *b)
{
    brant_window at = {a->col - b->col, a->row - b->row, a->cols, a->rows};
    at = brant_window_clip(at, b->cols, b->rows);
    at.col += b->col;
    at.row += b->row;
    return at;
}

/* Widen the span to hold [other, other + other_count) too. */
static void join_span(int *start, int *count, int other, int other_count)
{
    int64_t end = (int64_t)*start + *count, other_end = (int64_t)other + other_count;
    int64_t low = other < *start ? other : *start;
    int64_t high = other_end > end ? other_end : end;
    *start = (int)low;
    *count = (int)(high - low);
}

brant_window brant_window_union(brant_window a, brant_window b)
{
    if (a.cols <= 0 || a.rows <= 0)
        return b;
    if (b.cols <= 0 || b.rows <= 0)
        return a;
    join_span(&a.col, &a.cols, b.col, b.cols);
    join_span(&a.row, &a.rows, b.row, b.rows);
    return a;
}

/* ---- the source of elevations ------------------------------------------- */

static brant_status read_array(brant_source *source, brant_context *ctx,
                               const brant_window *window, float *out)
{
    const float *z = source->self;
    brant_window inside = brant_window_clip(*window, source->cols, source->rows);
    size_t cells = (size_t)window->cols * (size_t)window->rows;
    (void)ctx;
    for (size_t i = 0; i < cells; i++)
        out[i] = NAN;
    for (int r = inside.row; r < inside.row + inside.rows; r++) {
        size_t to = (size_t)(r - window->row) * (size_t)window->cols +
                    (size_t)(inside.col - window->col);
        size_t from = (size_t)r * (size_t)source->cols + (size_t)inside.col;
        memcpy(out + to, z + from, (size_t)inside.cols * sizeof *out);
    }
    return BRANT_OK;
}

void brant_source_array(brant_source *source, const float *z, int cols, int rows)
{
    /* `self` is not const because other sources need it so; read_array only reads */
    *source = (brant_source){.cols = cols, .rows = rows, .read = read_array, .self = (void *)z};
}

/* ---- squares ------------------------------------------------------------ */

brant_status brant_squares_of(brant_context *ctx, int cols, int rows, brant_squares *squares)
{
    /* A power of ten, so that a zone number reads as square|number; the largest
     * that keeps every number within 32 bits. */
    static const uint32_t strides[] = {1000000, 100000, 10000};
    int64_t across = ((int64_t)cols + BRANT_SQUARE - 1) / BRANT_SQUARE;
    int64_t down = ((int64_t)rows + BRANT_SQUARE - 1) / BRANT_SQUARE;
    int64_t count = across * down;
    for (size_t i = 0; i < sizeof strides / sizeof *strides; i++)
        if (count <= UINT32_MAX / strides[i]) {
            *squares = (brant_squares){(int)across, (int)down, strides[i]};
            return BRANT_OK;
        }
    return brant_fail(ctx, BRANT_ERR_INPUT,
                      "a grid of %d x %d cells has %lld squares of %d cells, too many for 32-bit "
                      "zone numbers (at most %lu)",
                      cols, rows, (long long)count, BRANT_SQUARE,
                      (unsigned long)(UINT32_MAX / strides[2]));
}

brant_window brant_square_window(const brant_squares *squares, int index, int cols, int rows)
{
    int col = index % squares->across * BRANT_SQUARE, row = index / squares->across * BRANT_SQUARE;
    return (brant_window){
        .col = col,
        .row = row,
        .cols = cols - col < BRANT_SQUARE ? cols - col : BRANT_SQUARE,
        .rows = rows - row < BRANT_SQUARE ? rows - row : BRANT_SQUARE,
    };
}
