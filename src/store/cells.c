/* A model's own cells: its tiles laid over each other. Void is what no tile has an
 * elevation for, and 0 where the survey found it to be a fill. */
#include "cells.h"

#include <math.h>
#include <stdlib.h>
#include <string.h>

/* ---- the model ---------------------------------------------------------- */

brant_status brant_cells_init(brant_context *ctx, const char *name, brant_tiles *tiles,
                              const double *nodata, size_t nodata_count, brant_cells *cells)
{
    brant_status status = BRANT_OK;
    memset(cells, 0, sizeof *cells);
    cells->name = name;
    cells->tiles = *tiles;
    memset(tiles, 0, sizeof *tiles);
    brant_pool_init(&cells->pool);
    cells->scale = 1;
    cells->nodata_given = nodata_count > 0;
    for (size_t i = 0; status == BRANT_OK && i < nodata_count; i++)
        status = brant_cells_add_nodata(ctx, cells, nodata[i]);
    return status;
}

brant_status brant_cells_add_nodata(brant_context *ctx, brant_cells *cells, double value)
{
    size_t capacity = cells->nodata_count;
    brant_status status = brant_grow(ctx, &cells->nodata, &capacity, cells->nodata_count + 1,
                                     sizeof *cells->nodata);
    if (status == BRANT_OK)
        cells->nodata[cells->nodata_count++] = value;
    return status;
}

void brant_cells_clear(brant_cells *cells)
{
    brant_pool_clear(&cells->pool);
    brant_tiles_clear(&cells->tiles);
    free(cells->nodata);
    free(cells->fills);
    memset(cells, 0, sizeof *cells);
}

/* ---- reading the model -------------------------------------------------- */

static bool same_window(const brant_window *a, const brant_window *b)
{
    return a->col == b->col && a->row == b->row && a->cols == b->cols && a->rows == b->rows;
}

static void empty(float *out, size_t stride, const brant_window *w)
{
    for (int row = 0; row < w->rows; row++)
        for (int col = 0; col < w->cols; col++)
            out[(size_t)row * stride + (size_t)col] = NAN;
}

/* Lay the tile's elevations over what is there. `part` holds at least part.cols *
 * part.rows cells. */
static void lay_over(const float *part, const brant_window *on, const brant_window *window,
                     float *out, size_t stride)
{
    for (int row = 0; row < on->rows; row++)
        for (int col = 0; col < on->cols; col++) {
            float z = part[(size_t)row * (size_t)on->cols + (size_t)col];
            if (!isnan(z))
                out[(size_t)(on->row - window->row + row) * stride +
                    (size_t)(on->col - window->col + col)] = z;
        }
}

static brant_status read_over(brant_context *ctx, brant_cells *cells, const brant_tile *tile,
                              const brant_window *on, const brant_window *window, float *out,
                              size_t stride, brant_void_tally *tally)
{
    float *part = brant_alloc(ctx, (size_t)on->cols * (size_t)on->rows, sizeof *part);
    if (!part)
        return BRANT_ERR_MEMORY;
    brant_status status =
        brant_cells_read_tile(ctx, cells, tile, on, part, (size_t)on->cols, tally);
    if (status == BRANT_OK)
        lay_over(part, on, window, out, stride);
    free(part);
    return status;
}

static brant_status compose(brant_context *ctx, brant_cells *cells, const brant_window *window,
                            float *out, size_t stride, brant_void_tally *tally)
{
    bool clean = false; /* `out` holds something */
    brant_status status = BRANT_OK;
    for (size_t i = 0; status == BRANT_OK && i < cells->tiles.count; i++) {
        const brant_tile *tile = &cells->tiles.tile[i];
        brant_window on = brant_window_common(window, &tile->on);
        if (on.cols < 1 || on.rows < 1)
            continue;
        if (!clean && same_window(&on, window))
            status = brant_cells_read_tile(ctx, cells, tile, window, out, stride, tally);
        else {
            if (!clean)
                empty(out, stride, window);
            status = read_over(ctx, cells, tile, &on, window, out, stride, tally);
        }
        clean = true;
    }
    if (!clean)
        empty(out, stride, window);
    return status;
}

/* ---- zeros beside high ground ------------------------------------------- */

static bool holds(const float *out, size_t stride, const brant_window *w, float value)
{
    for (int row = 0; row < w->rows; row++)
        for (int col = 0; col < w->cols; col++)
            if (out[(size_t)row * stride + (size_t)col] == value)
                return true;
    return false;
}

/* Read again with a cell to each side, so that a window's rim is judged as its
 * middle is. */
static brant_status watch_zero(brant_context *ctx, brant_cells *cells, const brant_window *window,
                               float *out, size_t stride, int64_t *voided)
{
    brant_window wide = {window->col - 1, window->row - 1, window->cols + 2, window->rows + 2};
    brant_window all = {0, 0, cells->tiles.cols, cells->tiles.rows};
    size_t wide_stride = (size_t)wide.cols;
    float zero = (float)cells->offset;
    float *z = brant_alloc(ctx, (size_t)wide.cols * (size_t)wide.rows, sizeof *z);
    if (!z)
        return BRANT_ERR_MEMORY;
    brant_window on = brant_window_common(&wide, &all);
    empty(z, wide_stride, &wide);
    brant_status status =
        compose(ctx, cells, &on,
                z + (size_t)(on.row - wide.row) * wide_stride + (size_t)(on.col - wide.col),
                wide_stride, NULL);
    int64_t cliffs = 0;
    if (status == BRANT_OK)
        cliffs = brant_void_cliffs(z, window->cols, window->rows, zero, cells->rules.cliff_m, out,
                                   stride);
    *voided += cliffs;
    if (cliffs > 0 && !cells->rules.cliff_told && !atomic_exchange(&cells->warned_cliff, true))
        brant_warn(ctx,
                   "%s: holds 0 beside ground more than %.0f m higher; such cells are taken as "
                   "unknown (--nodata 0, if 0 is no sea)",
                   cells->name, cells->rules.cliff_m);
    free(z);
    return status;
}

static int64_t void_fills(const brant_cells *cells, const brant_window *w, float *out,
                          size_t stride)
{
    int64_t voided = 0;
    float zero = (float)cells->offset;
    for (int row = 0; row < w->rows; row++)
        for (int col = 0; col < w->cols; col++) {
            float *here = &out[(size_t)row * stride + (size_t)col];
            size_t at = (size_t)(w->row + row) * (size_t)cells->tiles.cols + (size_t)(w->col + col);
            if (*here == zero && cells->fills[at]) {
                *here = NAN;
                voided++;
            }
        }
    return voided;
}

brant_status brant_cells_read(brant_context *ctx, brant_cells *cells, const brant_window *window,
                              float *out, size_t stride, brant_void_tally *tally)
{
    if (window->cols < 1 || window->rows < 1)
        return BRANT_OK;
    int64_t voided = 0;
    brant_status status = compose(ctx, cells, window, out, stride, tally);
    if (status == BRANT_OK && cells->rules.watch_zero &&
        holds(out, stride, window, (float)cells->offset))
        status = watch_zero(ctx, cells, window, out, stride, &voided);
    if (status == BRANT_OK && cells->fills)
        voided += void_fills(cells, window, out, stride);
    if (tally)
        tally->fills += voided;
    return status;
}
