/* Contours by marching squares: each level's lines are followed from square to square, lines
 * that end first, then rings. */
#include "map_parts.h"

#include <math.h>
#include <stdlib.h>
#include <string.h>

/* A level at work. An edge of the lattice is named by its first node: 2 * node for the one to
 * the east, 2 * node + 1 for the one to the south. */
/* The known heights of BLOCK squares of a row: most blocks hold no line of a level. */
#define BLOCK 32
typedef struct span {
    float low, high;
} span;

typedef struct level {
    brant_context *ctx;
    brant_map_contours *out;
    const float *z;
    int cols, rows;
    double height;
    uint8_t *done; /* of edges */
    span *spans;   /* of the heights in blocks of squares, row by row */
    int blocks;    /* in a row */
    brant_status status;
} level;

static float node(const level *l, int i, int j)
{
    return l->z[(size_t)j * (size_t)l->cols + (size_t)i];
}

static bool above(const level *l, int i, int j)
{
    return (double)node(l, i, j) >= l->height;
}

static size_t edge_at(const level *l, int i, int j, bool down)
{
    return 2 * ((size_t)j * (size_t)l->cols + (size_t)i) + down;
}

/* Square (i, j) lies between the nodes i, i + 1 and j, j + 1. */
static bool known(const level *l, int i, int j)
{
    return i >= 0 && j >= 0 && i < l->cols - 1 && j < l->rows - 1 && !isnan(node(l, i, j)) &&
           !isnan(node(l, i + 1, j)) && !isnan(node(l, i, j + 1)) && !isnan(node(l, i + 1, j + 1));
}

/* A square's sides: 0 north, 1 east, 2 south, 3 west. */
static size_t side_edge(const level *l, int i, int j, int side)
{
    return edge_at(l, side == 1 ? i + 1 : i, side == 2 ? j + 1 : j, side & 1);
}

static bool crossed(const level *l, int i, int j, int side)
{
    int c = side == 1 ? i + 1 : i, r = side == 2 ? j + 1 : j;
    return above(l, c, r) != above(l, side & 1 ? c : c + 1, side & 1 ? r + 1 : r);
}

/* The side through which a line that came in through `from` leaves. Where all four are
 * crossed, the mean of the corners says which corner is cut off. */
static int leave(const level *l, int i, int j, int from)
{
    static const int cut_nw[4] = {3, 2, 1, 0}, cut_ne[4] = {1, 0, 3, 2};
    int other = -1, sides = 0;
    for (int side = 0; side < 4; side++)
        if (side != from && crossed(l, i, j, side)) {
            other = side;
            sides++;
        }
    if (sides < 3)
        return other;
    double middle = ((double)node(l, i, j) + (double)node(l, i + 1, j) +
                     (double)node(l, i, j + 1) + (double)node(l, i + 1, j + 1)) / 4;
    return above(l, i, j) == (middle >= l->height) ? cut_ne[from] : cut_nw[from];
}

static void add_point(level *l, int i, int j, int side)
{
    brant_map_contours *out = l->out;
    int c = side == 1 ? i + 1 : i, r = side == 2 ? j + 1 : j;
    double a = (double)node(l, c, r);
    double b = (double)node(l, side & 1 ? c : c + 1, side & 1 ? r + 1 : r);
    double t = (l->height - a) / (b - a);
    if (l->status == BRANT_OK)
        l->status = brant_grow(l->ctx, &out->points, &out->point_capacity, out->point_count + 1,
                               sizeof *out->points);
    if (l->status == BRANT_OK)
        out->points[out->point_count++] =
            (brant_map_point){side & 1 ? c : c + t, side & 1 ? r + t : r};
}

/* Follow a line from a side of a square until it ends or closes. */
static void follow(level *l, int i, int j, int side)
{
    brant_map_contours *out = l->out;
    size_t first = out->point_count, begin = side_edge(l, i, j, side);
    add_point(l, i, j, side);
    l->done[begin] = 1;
    while (known(l, i, j)) {
        side = leave(l, i, j, side);
        size_t edge = side_edge(l, i, j, side);
        add_point(l, i, j, side);
        if (l->done[edge])
            break; /* the ring is closed */
        l->done[edge] = 1;
        i += (side == 1) - (side == 3);
        j += (side == 2) - (side == 0);
        side ^= 2;
    }
    if (l->status == BRANT_OK)
        l->status = brant_grow(l->ctx, &out->lines, &out->line_capacity, out->line_count + 1,
                               sizeof *out->lines);
    if (l->status == BRANT_OK)
        out->lines[out->line_count++] =
            (brant_map_line){l->height, first, out->point_count - first};
}

static void begin_at(level *l, int i, int j, bool rings)
{
    static const int beyond[4][2] = {{0, -1}, {1, 0}, {0, 1}, {-1, 0}};
    if (!known(l, i, j))
        return;
    for (int side = 0; side < 4 && l->status == BRANT_OK; side++) {
        if (!crossed(l, i, j, side) || l->done[side_edge(l, i, j, side)])
            continue;
        if (rings || !known(l, i + beyond[side][0], j + beyond[side][1]))
            follow(l, i, j, side);
    }
}

static void trace_block(level *l, int first, int j, bool rings)
{
    int end = first + BLOCK < l->cols - 1 ? first + BLOCK : l->cols - 1;
    bool nw = above(l, first, j), sw = above(l, first, j + 1);
    for (int i = first; i < end; i++) {
        bool ne = above(l, i + 1, j), se = above(l, i + 1, j + 1);
        if (nw != ne || nw != sw || nw != se) /* few squares of a level are more than this */
            begin_at(l, i, j, rings);
        nw = ne;
        sw = se;
    }
}

static void trace_level(level *l, bool rings)
{
    for (int j = 0; j < l->rows - 1; j++)
        for (int block = 0; block < l->blocks; block++) {
            const span *s = &l->spans[(size_t)j * (size_t)l->blocks + (size_t)block];
            if ((double)s->low < l->height && (double)s->high >= l->height)
                trace_block(l, block * BLOCK, j, rings);
        }
}

static brant_status find_spans(level *l)
{
    l->blocks = (l->cols - 1 + BLOCK - 1) / BLOCK;
    l->spans = brant_alloc(l->ctx, (size_t)l->blocks * (size_t)l->rows, sizeof *l->spans);
    if (!l->spans)
        return BRANT_ERR_MEMORY;
    for (int j = 0; j < l->rows - 1; j++)
        for (int block = 0; block < l->blocks; block++) {
            span s = {INFINITY, -INFINITY};
            int last = (block + 1) * BLOCK < l->cols - 1 ? (block + 1) * BLOCK : l->cols - 1;
            for (int i = block * BLOCK; i <= last; i++)
                for (int down = 0; down < 2; down++) { /* NaN is passed over */
                    s.low = fminf(s.low, node(l, i, j + down));
                    s.high = fmaxf(s.high, node(l, i, j + down));
                }
            l->spans[(size_t)j * (size_t)l->blocks + (size_t)block] = s;
        }
    return BRANT_OK;
}

brant_status brant_map_trace(brant_context *ctx, const float *z, int cols, int rows,
                             double interval, brant_map_contours *contours)
{
    size_t nodes = (size_t)cols * (size_t)rows;
    double low = INFINITY, high = -INFINITY;
    level l = {.ctx = ctx, .out = contours, .z = z, .cols = cols, .rows = rows};
    l.done = brant_alloc(ctx, nodes, 2);
    l.status = l.done && cols > 0 ? find_spans(&l) : BRANT_ERR_MEMORY;
    for (size_t i = 0; i < nodes; i++) {
        low = fmin(low, (double)z[i]); /* NaN is passed over */
        high = fmax(high, (double)z[i]);
    }
    for (double n = ceil(low / interval); n * interval <= high && l.status == BRANT_OK; n++) {
        l.height = n * interval;
        memset(l.done, 0, 2 * nodes);
        trace_level(&l, false);
        trace_level(&l, true);
        if (l.status == BRANT_OK)
            l.status = brant_check_stop(ctx);
    }
    free(l.done);
    free(l.spans);
    return l.status;
}

void brant_map_contours_clear(brant_map_contours *contours)
{
    free(contours->points);
    free(contours->lines);
    memset(contours, 0, sizeof *contours);
}
