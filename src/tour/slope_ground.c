/* The whole slope: a flood over steep ground, from the leg or from what lies above it. */
#include "slope_ground.h"

#include <math.h>
#include <stdlib.h>
#include <string.h>

/* What is known of a cell, beside the caller's marks. */
enum {
    STEEP = 1 << 8,
    FLAT = 1 << 9,
    UNKNOWN = 1 << 10,
    OUTSIDE = 1 << 11, /* of the window */
    REACHED = 1 << 12, /* by a way */
    QUEUED = 1 << 13,
    SLOPE = 1 << 14    /* part of the whole slope */
};

/* The window with a frame of one cell, so that no neighbour needs to be asked for. */
typedef struct flood {
    const brant_window *window;
    const brant_matrix *matrix;
    const float *slope;  /* the window's own, without a frame */
    int across;          /* with the frame */
    size_t cells;
    int near[8];         /* from a cell to those around it, row by row */
    uint16_t *is;
    int *anchor;         /* of a cell on a way: the last one that was not flat */
    size_t sought;       /* targets to which no way is found yet */
    int *queue;          /* a ring; a cell is in it once at most */
    size_t first, count;
} flood;

static void push(flood *f, int cell)
{
    size_t at = f->first + f->count++;
    f->queue[at < f->cells ? at : at - f->cells] = cell;
}

static int pop(flood *f)
{
    int cell = f->queue[f->first];
    f->first = f->first + 1 < f->cells ? f->first + 1 : 0;
    f->count--;
    return cell;
}

static double metres(const flood *f, int a, int b)
{
    return brant_matrix_distance(f->matrix, b % f->across - a % f->across,
                                 b / f->across - a / f->across);
}

/* ---- the ground --------------------------------------------------------- */

static uint16_t kind_of(float slope)
{
    return (uint16_t)((slope >= BRANT_SLOPE_DEG ? STEEP : 0) |
                      (slope < BRANT_FLAT_DEG ? FLAT : 0) | (isnan(slope) ? UNKNOWN : 0));
}

static void lay_ground(flood *f, const uint8_t *marks)
{
    int cols = f->window->cols, rows = f->window->rows;
    for (int k = 0; k < 8; k++) {
        int step = k < 4 ? k : k + 1; /* not the cell itself */
        f->near[k] = (step / 3 - 1) * f->across + step % 3 - 1;
    }
    for (size_t i = 0; i < f->cells; i++)
        f->is[i] = OUTSIDE;
    for (int row = 0; row < rows; row++) {
        uint16_t *is = f->is + (size_t)(row + 1) * (size_t)f->across + 1;
        const size_t from = (size_t)row * (size_t)cols;
        for (int col = 0; col < cols; col++)
            is[col] = (uint16_t)(kind_of(f->slope[from + (size_t)col]) | marks[from + (size_t)col]);
    }
}

/* ---- ways up ------------------------------------------------------------ */

static void arrive(flood *f, int cell, int anchor)
{
    if ((f->is[cell] & (REACHED | BRANT_MARK_TARGET)) == BRANT_MARK_TARGET)
        f->sought--;
    f->is[cell] |= REACHED;
    f->anchor[cell] = anchor;
}

/* From `at` to `next`, which is flat: true if that is a way, or a shorter one. The distance
 * from centre to centre is the flat's width up to the far edge of `next`. */
static bool crosses(const flood *f, int at, int next)
{
    int anchor = f->anchor[at];
    double run = metres(f, anchor, next);
    if (run >= BRANT_SLOPE_FLAT_M)
        return false;
    return !(f->is[next] & REACHED) ||
           (f->anchor[next] != anchor && run < metres(f, f->anchor[next], next));
}

static void go_on(flood *f, int next, int anchor)
{
    arrive(f, next, anchor);
    if (!(f->is[next] & QUEUED))
        push(f, next);
    f->is[next] |= QUEUED;
}

static void leave(flood *f, int at)
{
    for (int k = 0; k < 8; k++) {
        int next = at + f->near[k];
        unsigned is = f->is[next];
        if (is & OUTSIDE)
            continue;
        if (!(is & FLAT)) {
            if (!(is & REACHED))
                go_on(f, next, next);
        } else if (crosses(f, at, next)) {
            go_on(f, next, f->anchor[at]);
        }
    }
}

/* Until there is one to every target: where else they lead is not asked. */
static void follow_ways(flood *f)
{
    for (size_t i = 0; i < f->cells; i++)
        f->sought += (f->is[i] & BRANT_MARK_TARGET) != 0;
    if (f->sought == 0)
        return;
    for (size_t i = 0; i < f->cells; i++)
        if (f->is[i] & BRANT_MARK_WAY)
            go_on(f, (int)i, (int)i);
    while (f->count > 0 && f->sought > 0) {
        int at = pop(f);
        f->is[at] &= (uint16_t)~QUEUED;
        leave(f, at);
    }
    f->first = f->count = 0;
}

/* ---- the slope ---------------------------------------------------------- */

static void add_cell(flood *f, int cell)
{
    f->is[cell] |= SLOPE;
    push(f, cell);
}

/* What the leg is on or at the edge of, and what a way leads to. */
static bool is_met(unsigned is)
{
    return (is & BRANT_MARK_NEAR) || ((is & BRANT_MARK_TARGET) && (is & REACHED));
}

static void seed(flood *f, brant_whole_slope *out)
{
    for (size_t i = 0; i < f->cells; i++) {
        if (!is_met(f->is[i]))
            continue;
        if (f->is[i] & UNKNOWN)
            out->unknown = true;
        if (f->is[i] & STEEP)
            add_cell(f, (int)i);
    }
}

static void spread(flood *f, brant_whole_slope *out)
{
    unsigned met = 0;
    while (f->count > 0) {
        int at = pop(f);
        for (int k = 0; k < 8; k++) {
            int next = at + f->near[k];
            unsigned is = f->is[next];
            met |= is;
            if ((is & (STEEP | SLOPE)) == STEEP)
                add_cell(f, next);
        }
    }
    out->unknown |= (met & UNKNOWN) != 0;
    out->cut = (met & OUTSIDE) != 0;
}

static double steepest(const flood *f)
{
    int cols = f->window->cols, rows = f->window->rows;
    float most = 0.0f;
    for (int row = 0; row < rows; row++) {
        const uint16_t *is = f->is + (size_t)(row + 1) * (size_t)f->across + 1;
        const float *slope = f->slope + (size_t)row * (size_t)cols;
        for (int col = 0; col < cols; col++)
            most = (is[col] & SLOPE) && slope[col] > most ? slope[col] : most;
    }
    return (double)most;
}

brant_status brant_whole_slope_of(brant_context *ctx, const brant_window *window,
                                  const brant_matrix *matrix, const float *slope,
                                  const uint8_t *marks, brant_whole_slope *out)
{
    flood f = {.window = window, .matrix = matrix, .slope = slope, .across = window->cols + 2,
               .cells = ((size_t)window->cols + 2) * ((size_t)window->rows + 2)};
    *out = (brant_whole_slope){0};
    f.is = brant_alloc(ctx, f.cells, sizeof *f.is);
    f.anchor = brant_alloc(ctx, f.cells, sizeof *f.anchor);
    f.queue = brant_alloc(ctx, f.cells, sizeof *f.queue);
    brant_status status = f.is && f.anchor && f.queue ? BRANT_OK : BRANT_ERR_MEMORY;
    if (status == BRANT_OK) {
        lay_ground(&f, marks);
        follow_ways(&f);
        seed(&f, out);
        spread(&f, out);
        out->steepest_deg = steepest(&f);
    }
    free(f.is);
    free(f.anchor);
    free(f.queue);
    return status;
}
