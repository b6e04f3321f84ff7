/* Polygons to cells: a scan line through each row of cell centres. */
#include "burn.h"

#include <math.h>
#include <stdlib.h>

brant_status brant_patch_add(brant_context *ctx, brant_patch *patch, brant_edge edge)
{
    brant_status status = brant_grow(ctx, &patch->edges, &patch->capacity, patch->count + 1,
                                     sizeof *patch->edges);
    if (status != BRANT_OK)
        return status;
    if (patch->count == 0) {
        patch->low_col = patch->low_row = INFINITY;
        patch->high_col = patch->high_row = -INFINITY;
    }
    patch->low_col = fmin(patch->low_col, fmin(edge.col0, edge.col1));
    patch->high_col = fmax(patch->high_col, fmax(edge.col0, edge.col1));
    patch->low_row = fmin(patch->low_row, fmin(edge.row0, edge.row1));
    patch->high_row = fmax(patch->high_row, fmax(edge.row0, edge.row1));
    patch->edges[patch->count++] = edge;
    return BRANT_OK;
}

void brant_patch_fit(brant_patch *patch)
{
    brant_edge *fitting = patch->count ? realloc(patch->edges, patch->count * sizeof *fitting)
                                       : NULL;
    if (!fitting)
        return;
    patch->edges = fitting;
    patch->capacity = patch->count;
}

void brant_patch_clear(brant_patch *patch)
{
    free(patch->edges);
    *patch = (brant_patch){0};
}

/* ---- spans -------------------------------------------------------------- */

typedef struct range {
    int from, to; /* [from, to) */
} range;

/* The part of [from, to) in the span of `length` that begins at `start`. */
static range clip(double from, double to, int start, int length)
{
    double end = (double)start + length;
    range r = {start, start};
    if (from < end && to > start) {
        r.from = from > start ? (int)from : start;
        r.to = to < end ? (int)to : (int)end;
    }
    return r;
}

/* Ordered by row, then column, so that a side that two patches share is crossed at the
 * same place for both. */
static brant_edge downwards(brant_edge e)
{
    bool turned = e.row0 > e.row1 || (e.row0 == e.row1 && e.col0 > e.col1);
    return turned ? (brant_edge){e.col1, e.row1, e.col0, e.row0} : e;
}

static double column_at(const brant_edge *e, double row)
{
    return e->col0 + (row - e->row0) * ((e->col1 - e->col0) / (e->row1 - e->row0));
}

/* ---- centres ------------------------------------------------------------ */

typedef struct crossing {
    int row;
    double col;
} crossing;

static int by_place(const void *a, const void *b)
{
    const crossing *x = a, *y = b;
    if (x->row != y->row)
        return x->row < y->row ? -1 : 1;
    return x->col < y->col ? -1 : x->col > y->col;
}

/* Where the patch's edges cross the rows of centres in `window`. */
static brant_status find_crossings(brant_context *ctx, const brant_patch *patch,
                                   const brant_window *window, crossing **found, size_t *count)
{
    size_t capacity = 0;
    for (size_t i = 0; i < patch->count; i++) {
        brant_edge e = downwards(patch->edges[i]);
        range rows = clip(ceil(e.row0 - 0.5), ceil(e.row1 - 0.5), window->row, window->rows);
        if (rows.from >= rows.to)
            continue;
        brant_status status = brant_grow(ctx, found, &capacity,
                                         *count + (size_t)(rows.to - rows.from), sizeof **found);
        if (status != BRANT_OK)
            return status;
        for (int row = rows.from; row < rows.to; row++)
            (*found)[(*count)++] = (crossing){row, column_at(&e, row + 0.5)};
    }
    return BRANT_OK;
}

static brant_status take_centres(brant_context *ctx, const brant_patch *patch,
                                 const brant_window *window, brant_span_fn take, void *self)
{
    crossing *found = NULL;
    size_t count = 0;
    brant_status status = find_crossings(ctx, patch, window, &found, &count);
    if (status == BRANT_OK && count > 0)
        qsort(found, count, sizeof *found, by_place);
    /* closed rings cross a row an even number of times */
    for (size_t i = 0; status == BRANT_OK && i + 1 < count; i += 2) {
        range cols = clip(ceil(found[i].col - 0.5), ceil(found[i + 1].col - 0.5), window->col,
                          window->cols);
        if (cols.from < cols.to)
            take(self, found[i].row, cols.from, cols.to);
    }
    free(found);
    return status;
}

/* ---- touched cells ------------------------------------------------------ */

/* Cells that [low, high] has more than a point of, or the one it lies in. */
static range cells_between(double low, double high, int start, int length)
{
    double first = floor(low), end = fmax(ceil(high), first + 1);
    return clip(first, end, start, length);
}

static void take_touched(const brant_patch *patch, const brant_window *window,
                         brant_span_fn take, void *self)
{
    for (size_t i = 0; i < patch->count; i++) {
        brant_edge e = downwards(patch->edges[i]);
        range rows = cells_between(e.row0, e.row1, window->row, window->rows);
        for (int row = rows.from; row < rows.to; row++) {
            double a = e.row0 < row ? column_at(&e, row) : e.col0;
            double b = e.row1 > row + 1 ? column_at(&e, row + 1) : e.col1;
            range cols = cells_between(fmin(a, b), fmax(a, b), window->col, window->cols);
            if (cols.from < cols.to)
                take(self, row, cols.from, cols.to);
        }
    }
}

brant_status brant_patch_cells(brant_context *ctx, const brant_patch *patch,
                               const brant_window *window, brant_span_fn take, void *self)
{
    if (patch->count == 0 || patch->high_col < window->col || patch->high_row < window->row ||
        patch->low_col > (double)window->col + window->cols ||
        patch->low_row > (double)window->row + window->rows)
        return BRANT_OK;
    if (!patch->touched)
        return take_centres(ctx, patch, window, take, self);
    take_touched(patch, window, take, self);
    return BRANT_OK;
}
