/* Cliffs, gullies and abrupt flats, cell by cell. Distances are metres on the ground,
 * so that a finer or turned grid tells the same, as far as its cells show it. */
#include "brant/terrain.h"

#include <math.h>
#include <stdlib.h>
#include <string.h>

/* Slopes of flats are those of the plane that fits the elevations this far around, which
 * half a metre of noise does not tilt by a degree; never fewer than 3 x 3 cells. */
#define FIT_RADIUS_M 20.0
/* Cliffs are steep over no less: on finer cells half a metre of noise is steep. */
#define CLIFF_STEP_M 5.0
#define AXES 36              /* directions across a gully, 4 m apart at its sides; even */
#define LEAST_STEP_M 5.0     /* along them, or half a cell */
#define SADDLE_FALL_M (BRANT_GULLY_RISE_M / 4.0f)
#define RADIAN (M_PI / 180.0)
#define NOT_YET (-1.0f)

typedef struct offset {
    int col, row;
    float east, north; /* weight of the cell's elevation in the plane's gradient */
} offset;

struct brant_relief_scratch {
    double det;            /* of the matrix */
    int reach;             /* cells along the sides of a cliff's triangles */
    offset *fit;           /* the cells that a plane is fitted to */
    size_t fits;
    float *slope;          /* of that plane, NOT_YET; NaN unknown */
    uint32_t *seen, stamp; /* cells of the patch that is being walked carry the stamp */
    int *queue;            /* cells of the window, row by row */
    int steps;             /* along an axis, to either side */
    float (*along)[2];     /* AXES * steps grid offsets; the other side is their negative */
};

/* ---- the window --------------------------------------------------------- */

static size_t cell_of(const brant_relief *r, int col, int row)
{
    return (size_t)(row - r->window.row) * (size_t)r->window.cols + (size_t)(col - r->window.col);
}

static float height(const brant_relief *r, int col, int row)
{
    return brant_window_has(&r->window, col, row) ? r->elevation[cell_of(r, col, row)] : NAN;
}

/* Bilinear between cell centres; `col`, `row` count from cell centres. */
static float height_at(const brant_relief *r, float col, float row)
{
    float left = floorf(col), top = floorf(row), u = col - left, v = row - top;
    int c = (int)left, w = (int)top;
    float upper = height(r, c, w), lower = height(r, c, w + 1);
    if (u > 0) {
        upper += u * (height(r, c + 1, w) - upper);
        lower += u * (height(r, c + 1, w + 1) - lower);
    }
    return v > 0 ? upper + v * (lower - upper) : upper;
}

/* Cells to either side that `metres` may take up. */
static void cells_within(const brant_relief *r, double metres, int *cols, int *rows)
{
    const brant_matrix *m = &r->matrix;
    double det = fabs(r->scratch->det);
    *cols = (int)(metres * hypot(m->row_north, m->row_east) / det);
    *rows = (int)(metres * hypot(m->col_north, m->col_east) / det);
}

/* ---- opening ------------------------------------------------------------ */

/* The weights of a least-squares plane's gradient. The cells lie symmetrically around
 * the middle, so that the plane's height there drops out. */
static brant_status prepare_fit(brant_context *ctx, brant_relief *r)
{
    struct brant_relief_scratch *s = r->scratch;
    const brant_matrix *m = &r->matrix;
    int cols, rows;
    double ee = 0, en = 0, nn = 0;
    cells_within(r, FIT_RADIUS_M, &cols, &rows);
    cols = cols < 1 ? 1 : cols;
    rows = rows < 1 ? 1 : rows;
    s->fit = brant_alloc(ctx, (2 * (size_t)cols + 1) * (2 * (size_t)rows + 1), sizeof *s->fit);
    if (!s->fit)
        return BRANT_ERR_MEMORY;
    for (int dr = -rows; dr <= rows; dr++)
        for (int dc = -cols; dc <= cols; dc++) {
            if ((abs(dc) > 1 || abs(dr) > 1) && brant_matrix_distance(m, dc, dr) > FIT_RADIUS_M)
                continue;
            double east = m->col_east * dc + m->row_east * dr;
            double north = m->col_north * dc + m->row_north * dr;
            ee += east * east;
            en += east * north;
            nn += north * north;
            s->fit[s->fits++] = (offset){dc, dr, (float)east, (float)north};
        }
    double det = ee * nn - en * en;
    for (size_t i = 0; i < s->fits; i++) {
        double east = (double)s->fit[i].east, north = (double)s->fit[i].north;
        s->fit[i].east = (float)((nn * east - en * north) / det);
        s->fit[i].north = (float)((ee * north - en * east) / det);
    }
    return BRANT_OK;
}

/* Where a gully's sides are looked for. */
static brant_status prepare_axes(brant_context *ctx, brant_relief *r)
{
    struct brant_relief_scratch *s = r->scratch;
    const brant_matrix *m = &r->matrix;
    double step = fmin(brant_matrix_cell_width(m), brant_matrix_cell_height(m));
    s->steps = (int)ceil(BRANT_GULLY_WIDTH_M / fmax(step / 2, LEAST_STEP_M));
    s->along = brant_alloc(ctx, (size_t)AXES * (size_t)s->steps, sizeof *s->along);
    if (!s->along)
        return BRANT_ERR_MEMORY;
    for (int axis = 0; axis < AXES; axis++)
        for (int i = 0; i < s->steps; i++) {
            double metres = BRANT_GULLY_WIDTH_M * (i + 1) / s->steps;
            double east = metres * sin(axis * M_PI / AXES), north = metres * cos(axis * M_PI / AXES);
            float *at = s->along[axis * s->steps + i];
            at[0] = (float)((east * m->row_north - north * m->row_east) / s->det);
            at[1] = (float)((north * m->col_east - east * m->col_north) / s->det);
        }
    return BRANT_OK;
}

brant_status brant_relief_open(brant_context *ctx, const brant_ground *ground,
                               const brant_window *window, const float *elevation,
                               brant_relief *relief)
{
    size_t cells = (size_t)window->cols * (size_t)window->rows;
    *relief = (brant_relief){.window = *window, .elevation = elevation};
    const brant_matrix *m = &relief->matrix;
    brant_ground_matrix(ground, window->col + window->cols / 2.0, window->row + window->rows / 2.0,
                        &relief->matrix);
    struct brant_relief_scratch *s = relief->scratch = brant_alloc(ctx, 1, sizeof *s);
    if (!s)
        return BRANT_ERR_MEMORY;
    s->det = m->col_east * m->row_north - m->row_east * m->col_north;
    double side = fmin(brant_matrix_cell_width(m), brant_matrix_cell_height(m));
    s->reach = side >= 0.99 * CLIFF_STEP_M ? 1 : (int)ceil(CLIFF_STEP_M / side);
    s->slope = brant_alloc(ctx, cells, sizeof *s->slope);
    s->seen = brant_alloc(ctx, cells, sizeof *s->seen);
    s->queue = brant_alloc(ctx, cells, sizeof *s->queue);
    brant_status status = s->slope && s->seen && s->queue ? BRANT_OK : BRANT_ERR_MEMORY;
    if (status == BRANT_OK)
        status = prepare_fit(ctx, relief);
    if (status == BRANT_OK)
        status = prepare_axes(ctx, relief);
    if (status != BRANT_OK) {
        brant_relief_close(relief);
        return status;
    }
    for (size_t i = 0; i < cells; i++)
        s->slope[i] = NOT_YET;
    return BRANT_OK;
}

void brant_relief_close(brant_relief *relief)
{
    struct brant_relief_scratch *s = relief->scratch;
    if (s) {
        free(s->fit);
        free(s->slope);
        free(s->seen);
        free(s->queue);
        free(s->along);
        free(s);
    }
    *relief = (brant_relief){0};
}

/* ---- walking a patch ---------------------------------------------------- */

static void start_walk(struct brant_relief_scratch *s, size_t *end)
{
    s->stamp++;
    *end = 0;
}

/* Queue a cell of the window once. */
static void visit(brant_relief *r, int col, int row, size_t *end)
{
    struct brant_relief_scratch *s = r->scratch;
    size_t cell = cell_of(r, col, row);
    if (s->seen[cell] == s->stamp)
        return;
    s->seen[cell] = s->stamp;
    s->queue[(*end)++] = (int)cell;
}

/* ---- cliffs ------------------------------------------------------------- */

/* Three cells: a corner, and one in its row and one in its column. */
typedef struct triangle {
    int col[3], row[3];
    float z[3];
} triangle;

/* Triangle 0..11 of those that the cell is part of. */
static triangle triangle_at(const brant_relief *r, int col, int row, int which)
{
    int reach = r->scratch->reach;
    int dc = which & 1 ? reach : -reach, dr = which & 2 ? reach : -reach;
    int corner_col = which >> 2 == 1 ? col - dc : col, corner_row = which >> 2 == 2 ? row - dr : row;
    triangle t = {{corner_col, corner_col + dc, corner_col},
                  {corner_row, corner_row, corner_row + dr}, {0}};
    for (int i = 0; i < 3; i++)
        t.z[i] = height(r, t.col[i], t.row[i]);
    return t;
}

/* The plane's rise over the ground, squared; NaN with a void. */
static double steepness2(const brant_relief *r, const triangle *t)
{
    const brant_matrix *m = &r->matrix;
    double by_col = (double)(t->z[1] - t->z[0]) / (t->col[1] - t->col[0]);
    double by_row = (double)(t->z[2] - t->z[0]) / (t->row[2] - t->row[0]);
    double east = (by_col * m->row_north - by_row * m->col_north) / r->scratch->det;
    double north = (by_row * m->col_east - by_col * m->row_east) / r->scratch->det;
    return east * east + north * north;
}

static bool has_void(const triangle *t)
{
    return isnan(t->z[0]) || isnan(t->z[1]) || isnan(t->z[2]);
}

static bool is_cliff_steep(const brant_relief *r, const triangle *t)
{
    static const double limit = 1.4281480067421144; /* tan 55 degrees */
    return steepness2(r, t) >= limit * limit;        /* false for NaN */
}

/* Walk the connected cliff ground from a cell until it is known to be high enough. What
 * goes on into a void two sides away or nearer may be: 10 m of 55 degrees are 7 m wide. */
static brant_landform_answer is_high(brant_relief *r, int col, int row)
{
    struct brant_relief_scratch *s = r->scratch;
    size_t end;
    bool unknown = false;
    float low = INFINITY, high = -INFINITY;
    start_walk(s, &end);
    visit(r, col, row, &end);
    for (size_t next = 0; next < end; next++) {
        int at_col = r->window.col + s->queue[next] % r->window.cols;
        int at_row = r->window.row + s->queue[next] / r->window.cols;
        float z = r->elevation[s->queue[next]];
        low = fminf(low, z);
        high = fmaxf(high, z);
        if (high - low >= BRANT_CLIFF_HEIGHT_M)
            return BRANT_LANDFORM_YES;
        bool near = abs(at_col - col) <= s->reach && abs(at_row - row) <= s->reach;
        for (int which = 0; which < 12; which++) {
            triangle t = triangle_at(r, at_col, at_row, which);
            unknown |= near && has_void(&t);
            for (int i = 0; i < 3 && is_cliff_steep(r, &t); i++)
                visit(r, t.col[i], t.row[i], &end);
        }
    }
    return unknown ? BRANT_LANDFORM_UNKNOWN : BRANT_LANDFORM_NO;
}

brant_landform_answer brant_relief_cliff(brant_relief *relief, int col, int row)
{
    float z = height(relief, col, row);
    bool brink = false, unknown = isnan(z);
    for (int which = 0; which < 12 && !brink; which++) {
        triangle t = triangle_at(relief, col, row, which);
        float low = fminf(t.z[0], fminf(t.z[1], t.z[2]));
        float high = fmaxf(t.z[0], fmaxf(t.z[1], t.z[2]));
        unknown |= has_void(&t);
        brink = is_cliff_steep(relief, &t) && z - low >= (high - low) / 2;
    }
    brant_landform_answer high = brink ? is_high(relief, col, row) : BRANT_LANDFORM_NO;
    return high == BRANT_LANDFORM_NO && unknown ? BRANT_LANDFORM_UNKNOWN : high;
}

/* ---- gullies ------------------------------------------------------------ */

/* The highest ground to one side of a cell, above it. NaN: it may be higher in the
 * unknown. */
static float side_rise(const brant_relief *r, int col, int row, float z, int axis, float side)
{
    const struct brant_relief_scratch *s = r->scratch;
    bool unknown = false;
    float rise = -INFINITY;
    for (int i = 0; i < s->steps && !(rise >= BRANT_GULLY_RISE_M); i++) {
        const float *by = s->along[axis * s->steps + i];
        float there = height_at(r, (float)col + side * by[0], (float)row + side * by[1]) - z;
        unknown |= isnan(there);
        rise = fmaxf(rise, there); /* fmaxf passes NaN over */
    }
    return unknown && !(rise >= BRANT_GULLY_RISE_M) ? NAN : rise;
}

/* Does the ground fall at the end of one side as it does from a saddle? */
static brant_landform_answer falls(const brant_relief *r, int col, int row, float z, int axis,
                                   float side)
{
    const struct brant_relief_scratch *s = r->scratch;
    const float *by = s->along[axis * s->steps + s->steps - 1];
    float fall = z - height_at(r, (float)col + side * by[0], (float)row + side * by[1]);
    if (isnan(fall))
        return BRANT_LANDFORM_UNKNOWN;
    return fall >= SADDLE_FALL_M ? BRANT_LANDFORM_YES : BRANT_LANDFORM_NO;
}

/* Is a cell that is lower than both sides along an axis a saddle? */
static brant_landform_answer is_saddle(const brant_relief *r, int col, int row, float z, int axis)
{
    int across = (axis + AXES / 2) % AXES;
    brant_landform_answer ahead = falls(r, col, row, z, across, 1);
    if (ahead == BRANT_LANDFORM_NO)
        return BRANT_LANDFORM_NO;
    brant_landform_answer behind = falls(r, col, row, z, across, -1);
    return behind == BRANT_LANDFORM_YES ? ahead : behind;
}

brant_landform_answer brant_relief_gully(brant_relief *relief, int col, int row)
{
    float z = height(relief, col, row);
    bool unknown = isnan(z);
    for (int axis = 0; axis < AXES && !isnan(z); axis++) {
        float left = side_rise(relief, col, row, z, axis, 1);
        if (left < BRANT_GULLY_RISE_M)
            continue;
        float right = side_rise(relief, col, row, z, axis, -1);
        if (right < BRANT_GULLY_RISE_M)
            continue;
        brant_landform_answer saddle = is_saddle(relief, col, row, z, axis);
        if (saddle == BRANT_LANDFORM_YES)
            continue;
        if (saddle == BRANT_LANDFORM_NO && !isnan(left) && !isnan(right))
            return BRANT_LANDFORM_YES;
        unknown = true;
    }
    return unknown ? BRANT_LANDFORM_UNKNOWN : BRANT_LANDFORM_NO;
}

/* ---- flats -------------------------------------------------------------- */

/* Degrees of the plane that fits the ground around a cell; NaN where a cell of it is void. */
static float fitted_slope(brant_relief *r, int col, int row)
{
    struct brant_relief_scratch *s = r->scratch;
    if (!brant_window_has(&r->window, col, row))
        return NAN;
    float *slope = &s->slope[cell_of(r, col, row)], z = height(r, col, row), east = 0, north = 0;
    if (*slope != NOT_YET)
        return *slope;
    for (size_t i = 0; i < s->fits; i++) {
        float dz = height(r, col + s->fit[i].col, row + s->fit[i].row) - z;
        east += s->fit[i].east * dz;
        north += s->fit[i].north * dz;
    }
    *slope = atanf(hypotf(east, north)) * (float)(1.0 / RADIAN);
    return *slope;
}

/* Is the connected (side by side) flat ground around a cell large enough? */
static brant_landform_answer is_large(brant_relief *r, int col, int row)
{
    static const int beside[4][2] = {{0, -1}, {-1, 0}, {1, 0}, {0, 1}};
    struct brant_relief_scratch *s = r->scratch;
    double cell_m2 = brant_matrix_area(&r->matrix);
    bool unknown = false;
    size_t end;
    start_walk(s, &end);
    visit(r, col, row, &end);
    for (size_t next = 0; next < end; next++) {
        if ((double)end * cell_m2 >= BRANT_FLAT_AREA_M2)
            return BRANT_LANDFORM_YES;
        int at_col = r->window.col + s->queue[next] % r->window.cols;
        int at_row = r->window.row + s->queue[next] / r->window.cols;
        for (int i = 0; i < 4; i++) {
            int c = at_col + beside[i][0], w = at_row + beside[i][1];
            float slope = fitted_slope(r, c, w);
            unknown |= isnan(slope);
            if (slope < BRANT_FLAT_DEG)
                visit(r, c, w, &end);
        }
    }
    return unknown ? BRANT_LANDFORM_UNKNOWN : BRANT_LANDFORM_NO;
}

/* Is there steep higher ground near? */
static brant_landform_answer is_abrupt(brant_relief *r, int col, int row, const uint8_t *path)
{
    float z = height(r, col, row);
    bool unknown = false;
    int cols, rows;
    cells_within(r, BRANT_FLAT_WITHIN_M, &cols, &rows);
    for (int w = row - rows; w <= row + rows; w++)
        for (int c = col - cols; c <= col + cols; c++) {
            bool inside = brant_window_has(&r->window, c, w);
            if ((path && !(inside && path[cell_of(r, c, w)])) ||
                brant_matrix_distance(&r->matrix, c - col, w - row) > BRANT_FLAT_WITHIN_M)
                continue;
            float slope = height(r, c, w) > z ? fitted_slope(r, c, w) : 0;
            unknown |= isnan(slope) || isnan(height(r, c, w));
            if (slope > BRANT_FLAT_FROM_DEG)
                return BRANT_LANDFORM_YES;
        }
    return unknown ? BRANT_LANDFORM_UNKNOWN : BRANT_LANDFORM_NO;
}

brant_landform_answer brant_relief_flat(brant_relief *relief, int col, int row,
                                        const uint8_t *path)
{
    float slope = fitted_slope(relief, col, row);
    if (slope >= BRANT_FLAT_DEG)
        return BRANT_LANDFORM_NO;
    brant_landform_answer abrupt = is_abrupt(relief, col, row, path);
    if (abrupt == BRANT_LANDFORM_NO)
        return BRANT_LANDFORM_NO;
    if (isnan(slope))
        return BRANT_LANDFORM_UNKNOWN;
    brant_landform_answer large = is_large(relief, col, row);
    return large == BRANT_LANDFORM_YES ? abrupt : large;
}
