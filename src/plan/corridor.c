#include "corridor.h"

#include <math.h>
#include <stdlib.h>
#include <string.h>

#define BLOCK 64
#define HIGHEST_M 9000.0 /* no ground is higher */
#define BESIDE_M 350.0   /* what lies this near is looked at however low: edges, remote */

/* The shortest that one step of length 1 in the grid can be on the ground: the
 * matrix's smaller singular value. A little is taken off for its change over the
 * corridor (a geographic grid at 60 degrees: 1 % over 40 km). */
static double shortest_step(const brant_matrix *m)
{
    double a = m->col_east, b = m->row_east, c = m->col_north, d = m->row_north;
    double sum = a * a + b * b + c * c + d * d, det = a * d - b * c;
    double inner = sum * sum - 4.0 * det * det;
    return 0.98 * sqrt((sum - sqrt(inner > 0.0 ? inner : 0.0)) / 2.0);
}

/* The block's lowest known elevation (INFINITY: none), looking at cells in `mask`. */
static float lowest(const brant_field *field, const uint8_t *mask, const brant_window *box,
                    bool *touched)
{
    float low = INFINITY;
    *touched = mask == NULL;
    for (int r = 0; r < box->rows; r++)
        for (int c = 0; c < box->cols; c++) {
            size_t at = (size_t)(box->row + r - field->window.row) * (size_t)field->window.cols +
                        (size_t)(box->col + c - field->window.col);
            if (mask && !mask[at])
                continue;
            *touched = true;
            low = fminf(low, field->elevation[at]); /* fminf passes NaN over */
        }
    return low;
}

brant_status brant_corridor_of(brant_context *ctx, const brant_ground *ground,
                               const brant_field *field, const uint8_t *mask, corridor *out)
{
    const brant_window *w = &field->window;
    size_t capacity = 0;
    brant_matrix m;
    memset(out, 0, sizeof *out);
    out->low_m = INFINITY;
    brant_ground_matrix(ground, w->col + w->cols / 2.0, w->row + w->rows / 2.0, &m);
    out->cell_m = shortest_step(&m);
    for (int r = 0; r < w->rows; r += BLOCK)
        for (int c = 0; c < w->cols; c += BLOCK) {
            bool touched;
            target t = {.box = {w->col + c, w->row + r, w->cols - c < BLOCK ? w->cols - c : BLOCK,
                                w->rows - r < BLOCK ? w->rows - r : BLOCK}};
            t.low_m = lowest(field, mask, &t.box, &touched);
            if (!touched || isinf(t.low_m))
                continue;
            if (brant_grow(ctx, &out->targets, &capacity, out->count + 1, sizeof t) != BRANT_OK) {
                brant_corridor_clear(out);
                return BRANT_ERR_MEMORY;
            }
            out->targets[out->count++] = t;
            out->low_m = fminf(out->low_m, t.low_m);
            out->box = brant_window_union(out->box, t.box);
        }
    return BRANT_OK;
}

void brant_corridor_clear(corridor *c)
{
    free(c->targets);
    memset(c, 0, sizeof *c);
}

/* Cells between two spans; 0 where they touch or overlap. */
static double span_gap(int a, int a_length, int b, int b_length)
{
    double gap = a > b ? (double)a - b - b_length : (double)b - a - a_length;
    return gap > 0.0 ? gap : 0.0;
}

double brant_corridor_gap(const corridor *c, const brant_window *a, const brant_window *b)
{
    return c->cell_m * hypot(span_gap(a->col, a->cols, b->col, b->cols),
                             span_gap(a->row, a->rows, b->row, b->rows));
}

bool brant_corridor_within_reach(const corridor *c, const brant_window *box, float high_m,
                           double tan_angle)
{
    if (isnan(high_m))
        return false;
    if (high_m - c->low_m < brant_corridor_gap(c, box, &c->box) * tan_angle)
        return false;
    for (size_t i = 0; i < c->count; i++)
        if (high_m - c->targets[i].low_m >=
            brant_corridor_gap(c, box, &c->targets[i].box) * tan_angle)
            return true;
    return false;
}

/* ---- squares ------------------------------------------------------------ */

bool brant_corridor_may_want(const corridor *c, const brant_window *box, double rise_m,
                             double tan_angle)
{
    return brant_corridor_within_reach(c, box, (float)(HIGHEST_M + rise_m), tan_angle);
}

bool brant_corridor_wants(const corridor *c, const brant_window *box, float high_m, double rise_m,
                          double tan_angle)
{
    return brant_corridor_gap(c, box, &c->box) < BESIDE_M ||
           brant_corridor_within_reach(c, box, high_m + (float)rise_m, tan_angle);
}

brant_status brant_square_high(brant_context *ctx, brant_source *source, const brant_window *box,
                               float *buffer, float *high_m)
{
    *high_m = NAN;
    brant_status status = source->read(source, ctx, box, buffer);
    size_t cells = (size_t)box->cols * (size_t)box->rows;
    for (size_t i = 0; i < cells && status == BRANT_OK; i++)
        *high_m = fmaxf(*high_m, buffer[i]); /* fmaxf passes NaN over */
    return status;
}

typedef struct heights {
    brant_source *source;
    const corridor *corridor;
    const brant_squares *squares;
    double rise_m, tan_angle;
    bool *wanted;
    float **buffer; /* one a worker */
} heights;

static brant_status look_at_square(brant_context *ctx, void *user, int worker, int64_t item)
{
    heights *h = user;
    brant_window box = brant_square_window(h->squares, (int)item, h->source->cols, h->source->rows);
    float high_m;
    if (!brant_corridor_may_want(h->corridor, &box, h->rise_m, h->tan_angle))
        return BRANT_OK;
    if (!h->buffer[worker])
        h->buffer[worker] = brant_alloc(ctx, (size_t)BRANT_SQUARE * BRANT_SQUARE, sizeof(float));
    if (!h->buffer[worker])
        return BRANT_ERR_MEMORY;
    brant_status status = brant_square_high(ctx, h->source, &box, h->buffer[worker], &high_m);
    if (status == BRANT_OK)
        h->wanted[item] = brant_corridor_wants(h->corridor, &box, high_m, h->rise_m, h->tan_angle);
    return status;
}

brant_status brant_corridor_squares(brant_context *ctx, brant_source *source, const corridor *c,
                              const brant_squares *squares, double rise_m, double tan_angle,
                              bool **wanted)
{
    size_t count = (size_t)squares->across * (size_t)squares->down;
    int workers = ctx->threads < 1 ? 1 : ctx->threads;
    heights h = {.source = source, .corridor = c, .squares = squares, .rise_m = rise_m,
                 .tan_angle = tan_angle};
    brant_status status = BRANT_ERR_MEMORY;
    h.wanted = brant_alloc(ctx, count, sizeof *h.wanted);
    h.buffer = brant_alloc(ctx, (size_t)workers, sizeof *h.buffer);
    if (h.wanted && h.buffer)
        status = brant_run(ctx, "looking for high ground", (int64_t)count, look_at_square, NULL,
                           &h);
    for (int i = 0; h.buffer && i < workers; i++)
        free(h.buffer[i]);
    free(h.buffer);
    if (status != BRANT_OK) {
        free(h.wanted);
        h.wanted = NULL;
    }
    *wanted = h.wanted;
    return status;
}
