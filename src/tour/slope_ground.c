/* The whole slope: a flood over steep ground, from the leg or from what lies above it. */
#include "slope_ground.h"

#include <math.h>
#include <stdlib.h>
#include <string.h>

typedef struct flood {
    const brant_window *window;
    const brant_matrix *matrix;
    const float *slope;
    uint8_t *marks;
    int *anchor;         /* of a cell on a way: the last one that was not flat; -1 no way yet */
    size_t sought;       /* targets to which no way is found yet */
    int *queue;          /* a ring; a cell is in it once at most */
    size_t cells, first, count;
} flood;

static void push(flood *f, int cell)
{
    if (f->marks[cell] & BRANT_MARK_QUEUED)
        return;
    f->marks[cell] |= BRANT_MARK_QUEUED;
    f->queue[(f->first + f->count++) % f->cells] = cell;
}

static int pop(flood *f)
{
    int cell = f->queue[f->first];
    f->first = (f->first + 1) % f->cells;
    f->count--;
    f->marks[cell] &= (uint8_t)~BRANT_MARK_QUEUED;
    return cell;
}

/* The cell and its neighbours: those inside the window; how many. */
static int around(const flood *f, int cell, int near[9])
{
    int cols = f->window->cols, rows = f->window->rows, col = cell % cols, row = cell / cols;
    int count = 0;
    for (int r = row > 0 ? row - 1 : 0; r <= row + 1 && r < rows; r++)
        for (int c = col > 0 ? col - 1 : 0; c <= col + 1 && c < cols; c++)
            near[count++] = r * cols + c;
    return count;
}

static double metres(const flood *f, int a, int b)
{
    int cols = f->window->cols;
    return brant_matrix_distance(f->matrix, b % cols - a % cols, b / cols - a / cols);
}

/* ---- ways up ------------------------------------------------------------ */

static void arrive(flood *f, int cell, int anchor)
{
    if (f->anchor[cell] < 0 && (f->marks[cell] & BRANT_MARK_TARGET))
        f->sought--;
    f->anchor[cell] = anchor;
}

/* From `at` to `next`: true if that is a way, or a shorter flat on it. The distance from
 * centre to centre is the flat's width up to the far edge of `next`. */
static bool leads(flood *f, int at, int next)
{
    bool flat = f->slope[next] < BRANT_FLAT_DEG; /* false for NaN */
    int anchor = flat ? f->anchor[at] : next;
    if (f->anchor[next] == anchor)
        return false;
    double run = flat ? metres(f, anchor, next) : 0.0;
    if (run >= BRANT_SLOPE_FLAT_M)
        return false;
    if (f->anchor[next] >= 0 && run >= metres(f, f->anchor[next], next))
        return false;
    arrive(f, next, anchor);
    return true;
}

static void begin_ways(flood *f)
{
    memset(f->anchor, 0xff, f->cells * sizeof *f->anchor); /* -1 */
    for (size_t i = 0; i < f->cells; i++)
        if (f->marks[i] & BRANT_MARK_WAY) {
            arrive(f, (int)i, (int)i);
            push(f, (int)i);
        }
}

/* Until there is one to every target: where else they lead is not asked. */
static void follow_ways(flood *f)
{
    int near[9];
    for (size_t i = 0; i < f->cells; i++)
        f->sought += (f->marks[i] & BRANT_MARK_TARGET) != 0;
    if (f->sought == 0)
        return;
    begin_ways(f);
    while (f->count > 0) {
        int at = pop(f), count = f->sought > 0 ? around(f, at, near) : 0;
        for (int i = 0; i < count; i++)
            if (near[i] != at && leads(f, at, near[i]))
                push(f, near[i]);
    }
}

/* ---- the slope ---------------------------------------------------------- */

static void add_cell(flood *f, int cell, brant_whole_slope *out)
{
    f->marks[cell] |= BRANT_MARK_SLOPE;
    out->steepest_deg = fmax(out->steepest_deg, (double)f->slope[cell]);
    push(f, cell);
}

static void seed(flood *f, brant_whole_slope *out)
{
    for (size_t i = 0; i < f->cells; i++) {
        if (!(f->marks[i] & (BRANT_MARK_NEAR | BRANT_MARK_TARGET)))
            continue;
        bool met = (f->marks[i] & BRANT_MARK_NEAR) || f->anchor[i] >= 0;
        if (met && isnan(f->slope[i]))
            out->unknown = true;
        if (met && f->slope[i] >= BRANT_SLOPE_DEG)
            add_cell(f, (int)i, out);
    }
}

static void spread(flood *f, brant_whole_slope *out)
{
    int near[9];
    while (f->count > 0) {
        int count = around(f, pop(f), near);
        out->cut |= count < 9;
        for (int i = 0; i < count; i++)
            if (isnan(f->slope[near[i]]))
                out->unknown = true;
            else if (f->slope[near[i]] >= BRANT_SLOPE_DEG &&
                     !(f->marks[near[i]] & BRANT_MARK_SLOPE))
                add_cell(f, near[i], out);
    }
}

brant_status brant_whole_slope_of(brant_context *ctx, const brant_window *window,
                                  const brant_matrix *matrix, const float *slope, uint8_t *marks,
                                  brant_whole_slope *out)
{
    size_t cells = (size_t)window->cols * (size_t)window->rows;
    flood f = {.window = window, .matrix = matrix, .slope = slope, .marks = marks,
               .cells = cells};
    *out = (brant_whole_slope){0};
    f.anchor = brant_alloc(ctx, cells, sizeof *f.anchor);
    f.queue = brant_alloc(ctx, cells, sizeof *f.queue);
    if (f.anchor && f.queue) {
        follow_ways(&f);
        seed(&f, out);
        spread(&f, out);
    }
    brant_status status = f.anchor && f.queue ? BRANT_OK : BRANT_ERR_MEMORY;
    free(f.anchor);
    free(f.queue);
    return status;
}
