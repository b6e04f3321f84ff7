/* The first cliff, gully or abrupt flat among the cells that a search down from a leg
 * reached.
 *
 * A void or the model's edge takes away what lies in it, and it bends the flow of the cells
 * beside it, so that the search may miss what lies beyond. So each cell that is reached and
 * whose flow such ground has a part in is unknown ground: whatever a void can take away is
 * reached past one of these, and is told as unknown. */
#include "below_look.h"

#include <math.h>
#include <stdlib.h>

#define MARGIN_M (BRANT_FLAT_WITHIN_M + 30.0) /* that landforms look around */

static int by_run(const void *a, const void *b)
{
    const reached *x = a, *y = b;
    if (x->run_m != y->run_m)
        return x->run_m < y->run_m ? -1 : 1;
    if (x->row != y->row)
        return x->row < y->row ? -1 : 1;
    return (x->col > y->col) - (x->col < y->col);
}

/* Set all that lie within `reach` of one that is set, along a line of `count` bytes, `step`
 * apart. */
static void widen(uint8_t *line, size_t count, size_t step, int reach)
{
    int ahead = 0, behind = 0; /* how many more to set, 2 for now */
    for (size_t i = 0; i < count; i++) {
        uint8_t *forth = line + i * step, *back = line + (count - 1 - i) * step;
        ahead = *forth == 1 ? reach + 1 : ahead - 1;
        if (ahead > 0 && *forth == 0)
            *forth = 2;
        behind = *back == 1 ? reach + 1 : behind - 1;
        if (behind > 0 && *back == 0)
            *back = 2;
    }
    for (size_t i = 0; i < count; i++)
        line[i * step] = line[i * step] > 0;
}

static void mark_unsure(const look *l, const brant_window *w, const brant_matrix *m)
{
    size_t cols = (size_t)w->cols, rows = (size_t)w->rows;
    for (size_t i = 0; i < cols * rows; i++)
        l->unsure[i] = isnan(l->elevation[i]);
    for (size_t row = 0; row < rows; row++)
        widen(l->unsure + row * cols, cols, 1, brant_flow_around(brant_matrix_cell_width(m)));
    for (size_t col = 0; col < cols; col++)
        widen(l->unsure + col, rows, cols, brant_flow_around(brant_matrix_cell_height(m)));
}

brant_status brant_look_open(brant_context *ctx, brant_source *source, const brant_ground *ground,
                             const brant_window *box, const reached *cells, size_t count, look *l)
{
    brant_matrix m;
    brant_ground_matrix(ground, box->col + box->cols / 2.0, box->row + box->rows / 2.0, &m);
    int dc = (int)ceil(MARGIN_M / brant_matrix_cell_width(&m)) + 3;
    int dr = (int)ceil(MARGIN_M / brant_matrix_cell_height(&m)) + 3;
    brant_window w = {box->col - dc, box->row - dr, box->cols + 2 * dc, box->rows + 2 * dr};
    size_t size = (size_t)w.cols * (size_t)w.rows;
    l->elevation = brant_alloc(ctx, size, sizeof *l->elevation);
    l->path = brant_alloc(ctx, size, 1);
    l->unsure = brant_alloc(ctx, size, 1);
    if (!l->elevation || !l->path || !l->unsure)
        return BRANT_ERR_MEMORY;
    brant_status status = source->read(source, ctx, &w, l->elevation);
    if (status != BRANT_OK)
        return status;
    mark_unsure(l, &w, &m);
    for (size_t i = 0; i < count; i++)
        l->path[(size_t)(cells[i].row - w.row) * (size_t)w.cols +
                (size_t)(cells[i].col - w.col)] = 1;
    return brant_relief_open(ctx, ground, &w, l->elevation, &l->relief);
}

void brant_look_close(look *l)
{
    brant_relief_close(&l->relief);
    free(l->elevation);
    free(l->path);
    free(l->unsure);
}

void brant_below_found(brant_below *below, brant_below_kind kind, float run_m)
{
    if (!(below->run_m[kind] <= run_m)) /* true for NaN */
        below->run_m[kind] = run_m;
}

static void answered(brant_below *below, brant_below_kind kind, brant_landform_answer answer,
                     float run_m)
{
    if (answer != BRANT_LANDFORM_NO)
        brant_below_found(below, answer == BRANT_LANDFORM_YES ? kind : BRANT_BELOW_UNKNOWN, run_m);
}

float brant_below_first_known(const brant_below *below)
{
    return fminf(below->run_m[BRANT_BELOW_CLIFF],
                 fminf(below->run_m[BRANT_BELOW_GULLY], below->run_m[BRANT_BELOW_FLAT]));
}

/* From a cell on, that far along the path, a cliff cannot be ruled out. */
static brant_status not_known(brant_context *ctx, unknown_runs *unknown, brant_below *below,
                              float run_m)
{
    brant_below_found(below, BRANT_BELOW_UNKNOWN, run_m);
    brant_status status = brant_grow(ctx, &unknown->run_m, &unknown->capacity, unknown->count + 1,
                                     sizeof *unknown->run_m);
    if (status == BRANT_OK)
        unknown->run_m[unknown->count++] = run_m;
    return status;
}

/* One cell that is reached, nearest first. What rises above the leg is not below it, but
 * what a void there hides may be. */
static brant_status look_at(brant_context *ctx, look *l, const reached *cell, brant_below *below,
                            unknown_runs *unknown)
{
    brant_relief *relief = &l->relief;
    const brant_window *w = &relief->window;
    size_t at = (size_t)(cell->row - w->row) * (size_t)w->cols + (size_t)(cell->col - w->col);
    bool above = l->elevation[at] > cell->from_m; /* false for a void */
    /* a leg's own ground is a flat by what is above it */
    const uint8_t *path = cell->run_m > 0 ? l->path : NULL;
    brant_landform_answer cliff = brant_relief_cliff(relief, cell->col, cell->row);
    brant_status status = BRANT_OK;
    if (cliff == BRANT_LANDFORM_UNKNOWN || l->unsure[at])
        status = not_known(ctx, unknown, below, cell->run_m);
    if (status != BRANT_OK || above)
        return status;
    if (cliff == BRANT_LANDFORM_YES)
        brant_below_found(below, BRANT_BELOW_CLIFF, cell->run_m);
    if (brant_below_first_known(below) < cell->run_m)
        return BRANT_OK; /* false for NaN */
    answered(below, BRANT_BELOW_GULLY, brant_relief_gully(relief, cell->col, cell->row), cell->run_m);
    answered(below, BRANT_BELOW_FLAT, brant_relief_flat(relief, cell->col, cell->row, path),
             cell->run_m);
    return BRANT_OK;
}

brant_status brant_look_down(brant_context *ctx, look *l, reached *cells, size_t count,
                             brant_below *below, unknown_runs *unknown)
{
    brant_status status = BRANT_OK;
    qsort(cells, count, sizeof *cells, by_run);
    for (size_t i = 0; i < count && status == BRANT_OK; i++) {
        if (below->run_m[BRANT_BELOW_CLIFF] <= cells[i].run_m)
            break; /* false for NaN */
        status = look_at(ctx, l, &cells[i], below, unknown);
    }
    return status;
}
