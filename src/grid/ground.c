/* The grid-to-ground matrix: exact on a coarse lattice, bilinear between.
 *
 * Lattice node (i, j) lies at grid coordinates (i*step_cols, j*step_rows). Its
 * matrix is the central difference of PROJ's longitude and latitude, on the
 * CRS's own ellipsoid, times the radii of curvature: north = M dphi,
 * east = N cos(phi) dlambda (Snyder 1987, USGS PP 1395, eq. 4-18 to 4-21). So
 * scale factor, meridian convergence, units, south-up and rotated transforms
 * all come out of one rule and none is a special case. */
#include "brant/grid.h"
#include "crs.h"

#include <math.h>
#include <stdlib.h>

/* Bilinear interpolation between nodes this far apart is good to 2e-5 of a
 * step, except near the poles of polar projections. */
#define NODE_DISTANCE 20000.0 /* metres */
/* Where an edge between two nodes is off by more than this part of a cell, the
 * lattice is made finer. In both directions together, less than 2e-5. */
#define EDGE_TOLERANCE 8e-6
/* The lattice is not made finer beyond this (8 MB, some 0.5 s of PROJ); such a grid is
 * warned of. Only grids around a pole get here, where no lattice is fine enough: with a
 * whole polar continent in it 13 km remain, and errors of 0.001 degrees of slope and azimuth
 * at 83 degrees of latitude, 0.006 at 87 (tests/numeric). */
#define NODES_MAX 250000
#define DIFFERENCE 100.0 /* metres to each side, for the central difference */
/* No east this close to a pole: cos(phi) is lost in rounding, and a step east
 * turns with every step. */
#define LATITUDE_MAX 89.9
#define EARTH_RADIUS 6371000.0 /* metres; for choosing steps only */
#define RADIANS (M_PI / 180)

struct brant_ground {
    int across, down;         /* nodes, at least 2 x 2 */
    int step_cols, step_rows; /* cells between nodes, powers of two */
    brant_matrix *nodes;      /* row by row; NaN where PROJ has no position */
};

/* All that it takes to work out one node. */
typedef struct survey {
    const brant_grid *grid;
    PJ *to_lonlat;                 /* CRS to longitude and latitude on its own datum */
    double degrees;                /* in one unit of those: 1, or 0.9 for grads */
    double a, e2;                  /* the ellipsoid: metres, first eccentricity squared */
    double col_metres, row_metres; /* a step's length, roughly: for choosing distances */
    double col_step, row_step;     /* cells in the central difference's half width */
    bool same_columns;             /* the matrix is the same along a row */
} survey;

/* ---- the matrix --------------------------------------------------------- */

double brant_matrix_distance(const brant_matrix *m, double dcol, double drow)
{
    double east = m->col_east * dcol + m->row_east * drow;
    double north = m->col_north * dcol + m->row_north * drow;
    return sqrt(east * east + north * north);
}

double brant_matrix_area(const brant_matrix *m)
{
    return fabs(m->col_east * m->row_north - m->row_east * m->col_north);
}

double brant_matrix_cell_width(const brant_matrix *m)
{
    return sqrt(m->col_east * m->col_east + m->col_north * m->col_north);
}

double brant_matrix_cell_height(const brant_matrix *m)
{
    return sqrt(m->row_east * m->row_east + m->row_north * m->row_north);
}

static brant_matrix no_matrix(void)
{
    return (brant_matrix){NAN, NAN, NAN, NAN};
}

/* (1 - w) a + w b */
static brant_matrix between(const brant_matrix *a, const brant_matrix *b, double w)
{
    return (brant_matrix){
        .col_east = a->col_east + (b->col_east - a->col_east) * w,
        .row_east = a->row_east + (b->row_east - a->row_east) * w,
        .col_north = a->col_north + (b->col_north - a->col_north) * w,
        .row_north = a->row_north + (b->row_north - a->row_north) * w,
    };
}

/* ---- exact -------------------------------------------------------------- */

/* Half of the longitude and latitude (degrees) gained from one place to another,
 * and their mean latitude; false where PROJ has no position. */
static bool difference(const survey *s, double col, double row, double dcol, double drow,
                       double *dlon, double *dlat, double *lat)
{
    PJ_COORD p[2];
    for (int i = 0; i < 2; i++) {
        double sign = i ? 1 : -1, x, y;
        brant_transform_apply(s->grid->transform, col + sign * dcol, row + sign * drow, &x, &y);
        p[i] = proj_trans(s->to_lonlat, PJ_FWD, proj_coord(x, y, 0, 0));
        p[i].xy.x *= s->degrees;
        p[i].xy.y *= s->degrees;
        if (!isfinite(p[i].xy.x) || !isfinite(p[i].xy.y) || fabs(p[i].xy.y) > 90)
            return false;
    }
    /* two sides of the antimeridian are neighbours */
    *dlon = remainder(p[1].xy.x - p[0].xy.x, 360) / 2;
    *dlat = (p[1].xy.y - p[0].xy.y) / 2;
    *lat = (p[0].xy.y + p[1].xy.y) / 2;
    return true;
}

static brant_matrix exact(const survey *s, double col, double row)
{
    double col_lon, col_lat, row_lon, row_lat, lat_a, lat_b;
    if (!difference(s, col, row, s->col_step, 0, &col_lon, &col_lat, &lat_a) ||
        !difference(s, col, row, 0, s->row_step, &row_lon, &row_lat, &lat_b))
        return no_matrix();
    double lat = (lat_a + lat_b) / 2;
    if (!(fabs(lat) <= LATITUDE_MAX))
        return no_matrix();
    double sine = sin(lat * RADIANS), w = sqrt(1 - s->e2 * sine * sine);
    double north = s->a * (1 - s->e2) / (w * w * w) * RADIANS; /* metres a degree */
    double east = s->a / w * cos(lat * RADIANS) * RADIANS;
    return (brant_matrix){
        .col_east = east * col_lon / s->col_step,
        .row_east = east * row_lon / s->row_step,
        .col_north = north * col_lat / s->col_step,
        .row_north = north * row_lat / s->row_step,
    };
}

/* ---- the lattice -------------------------------------------------------- */

/* The largest power of two of cells within NODE_DISTANCE, but no further than
 * the grid's end. */
static int first_step(double cell_metres, int cells)
{
    int step = 1;
    while (step < cells && step <= INT32_MAX / 4 && 2.0 * step * cell_metres <= NODE_DISTANCE)
        step *= 2;
    return step;
}

/* Nodes it takes to reach the far border, at least two. */
static int node_count(int cells, int step)
{
    int64_t count = ((int64_t)cells + step - 1) / step + 1;
    return count < 2 ? 2 : (int)count;
}

/* The nodes at the present steps; `usable` counts those with a matrix. */
static brant_status fill(brant_context *ctx, const survey *s, brant_ground *g, int64_t *usable)
{
    free(g->nodes);
    g->nodes = brant_alloc(ctx, (size_t)g->across * (size_t)g->down, sizeof *g->nodes);
    if (!g->nodes)
        return BRANT_ERR_MEMORY;
    *usable = 0;
    for (int j = 0; j < g->down; j++) {
        brant_matrix *row = g->nodes + (size_t)j * (size_t)g->across;
        brant_status status = brant_check_stop(ctx);
        if (status != BRANT_OK)
            return status;
        for (int i = 0; i < g->across; i++) {
            row[i] = s->same_columns && i > 0
                         ? row[0]
                         : exact(s, (double)i * g->step_cols, (double)j * g->step_rows);
            *usable += !isnan(row[i].col_east);
        }
    }
    return BRANT_OK;
}

/* How far, in parts of a cell, the mean of nodes a and b is from the truth
 * halfway. 0 where there is no truth. */
static double edge_error(const survey *s, const brant_matrix *a, const brant_matrix *b, double col,
                         double row)
{
    brant_matrix guess = between(a, b, 0.5), truth = exact(s, col, row);
    double width = brant_matrix_cell_width(&truth), height = brant_matrix_cell_height(&truth);
    double col_off = hypot(guess.col_east - truth.col_east, guess.col_north - truth.col_north);
    double row_off = hypot(guess.row_east - truth.row_east, guess.row_north - truth.row_north);
    double off = fmax(col_off / width, row_off / height);
    return isnan(off) ? 0 : off;
}

/* The largest error along a lattice's edges. Edges, not middles: the matrices of
 * conformal projections are harmonic functions, whose errors along the two
 * directions cancel in the middle. A large lattice is looked at in rows and
 * columns far enough apart to keep the look short. */
static double largest_error(const survey *s, const brant_ground *g)
{
    int skip_i = s->same_columns ? g->across : 1 + g->across / 64, skip_j = 1 + g->down / 64;
    double worst = 0;
    for (int j = 0; j + 1 < g->down; j += skip_j)
        for (int i = 0; i + 1 < g->across; i += skip_i) {
            const brant_matrix *node = g->nodes + (size_t)j * (size_t)g->across + i;
            double col = (double)i * g->step_cols, row = (double)j * g->step_rows;
            double right = s->same_columns ? 0
                                           : edge_error(s, node, node + 1, col + g->step_cols / 2.0,
                                                        row);
            double below = edge_error(s, node, node + g->across, col, row + g->step_rows / 2.0);
            worst = fmax(worst, fmax(right, below));
        }
    return worst;
}

static void count_nodes(brant_ground *g, const brant_grid *grid)
{
    g->across = node_count(grid->cols, g->step_cols);
    g->down = node_count(grid->rows, g->step_rows);
}

/* Halve the steps; false if the lattice cannot be made finer. */
static bool halve(const survey *s, brant_ground *g)
{
    brant_ground finer = *g;
    if (g->step_rows == 1 && (s->same_columns || g->step_cols == 1))
        return false;
    if (!s->same_columns && finer.step_cols > 1)
        finer.step_cols /= 2;
    if (finer.step_rows > 1)
        finer.step_rows /= 2;
    count_nodes(&finer, s->grid);
    if ((int64_t)finer.across * finer.down > NODES_MAX)
        return false;
    *g = finer;
    return true;
}

/* Halve the steps as often as `error` surely wants: it falls by four each time. */
static bool refine(const survey *s, brant_ground *g, double error)
{
    if (!halve(s, g))
        return false;
    while ((error /= 4) > 4 * EDGE_TOLERANCE && halve(s, g))
        ;
    return true;
}

static brant_status build(brant_context *ctx, const char *name, const survey *s, brant_ground *g)
{
    int64_t usable;
    g->step_cols = first_step(s->same_columns ? 0 : s->col_metres, s->grid->cols);
    g->step_rows = first_step(s->row_metres, s->grid->rows);
    count_nodes(g, s->grid);
    for (;;) {
        brant_status status = fill(ctx, s, g, &usable);
        if (status != BRANT_OK)
            return status;
        double error = largest_error(s, g);
        if (error <= EDGE_TOLERANCE)
            break;
        if (!refine(s, g, error)) {
            brant_warn(ctx, "%s: directions and cell sizes are good to %.1g of a cell only", name,
                       error);
            break;
        }
    }
    if (usable == 0)
        return brant_fail(ctx, BRANT_ERR_INPUT,
                          "%s: the grid lies outside its coordinate reference system's domain",
                          name);
    return BRANT_OK;
}

/* ---- PROJ --------------------------------------------------------------- */

/* The CRS's own geographic CRS; NULL if PROJ has none. */
static PJ *own_geographic(PJ_CONTEXT *context, const brant_crs *crs)
{
    /* a rotated pole is geographic too: its base has the true poles */
    if (crs->angular && proj_crs_is_derived(context, crs->plain))
        return proj_get_source_crs(context, crs->plain);
    return proj_crs_get_geodetic_crs(context, crs->plain);
}

static bool read_ellipsoid(PJ_CONTEXT *context, const PJ *geographic, survey *s)
{
    double b;
    PJ *ellipsoid = proj_get_ellipsoid(context, geographic);
    bool ok = ellipsoid &&
              proj_ellipsoid_get_parameters(context, ellipsoid, &s->a, &b, NULL, NULL) &&
              s->a > 0 && b > 0;
    proj_destroy(ellipsoid);
    if (ok)
        s->e2 = 1 - b / s->a * (b / s->a);
    return ok;
}

/* How far apart to look, and whether a row is all the same. */
static void choose_steps(PJ_CONTEXT *context, const brant_crs *crs, survey *s)
{
    const double *t = s->grid->transform;
    double unit = crs->angular ? crs->unit * EARTH_RADIUS : crs->unit;
    s->col_metres = hypot(t[1], t[4]) * unit;
    s->row_metres = hypot(t[2], t[5]) * unit;
    s->col_step = DIFFERENCE / s->col_metres;
    s->row_step = DIFFERENCE / s->row_metres;
    s->same_columns = crs->angular && !proj_crs_is_derived(context, crs->plain) && t[2] == 0 &&
                      t[4] == 0;
}

static brant_status open_survey(brant_context *ctx, const char *name, const brant_proj *proj,
                                const brant_crs *crs, survey *s)
{
    PJ *geographic = own_geographic(proj->pj, crs);
    PJ *as_defined = NULL;
    double unit;
    if (geographic && read_ellipsoid(proj->pj, geographic, s) &&
        brant_crs_unit(proj->pj, geographic, &unit)) {
        s->degrees = unit / RADIANS;
        as_defined = proj_create_crs_to_crs_from_pj(proj->pj, crs->plain, geographic, NULL, NULL);
    }
    if (as_defined)
        s->to_lonlat = proj_normalize_for_visualization(proj->pj, as_defined);
    proj_destroy(as_defined);
    proj_destroy(geographic);
    if (!s->to_lonlat)
        return brant_fail(ctx, BRANT_ERR_INPUT,
                          "%s: coordinate reference system '%s' cannot be placed on its ellipsoid: "
                          "%s",
                          name, crs->name, brant_proj_error(proj, "no reason given by PROJ"));
    choose_steps(proj->pj, crs, s);
    return BRANT_OK;
}

brant_status brant_ground_create(brant_context *ctx, const char *name, const brant_grid *grid,
                                 brant_ground **ground)
{
    brant_proj proj = {0};
    brant_crs crs = {0};
    survey s = {.grid = grid};
    brant_ground *g = NULL;
    *ground = NULL;
    brant_status status = brant_proj_open(ctx, &proj);
    if (status == BRANT_OK)
        status = brant_crs_open(ctx, &proj, name, grid, &crs);
    if (status == BRANT_OK)
        status = open_survey(ctx, name, &proj, &crs, &s);
    if (status != BRANT_OK)
        goto done;
    g = brant_alloc(ctx, 1, sizeof *g);
    if (!g) {
        status = BRANT_ERR_MEMORY;
        goto done;
    }
    status = build(ctx, name, &s, g);
    if (status == BRANT_OK) {
        *ground = g;
        g = NULL;
    }
done:
    brant_ground_destroy(g);
    proj_destroy(s.to_lonlat);
    brant_crs_close(&crs);
    brant_proj_close(&proj);
    return status;
}

void brant_ground_destroy(brant_ground *ground)
{
    if (!ground)
        return;
    free(ground->nodes);
    free(ground);
}

/* ---- reading ------------------------------------------------------------ */

/* The lattice cell that holds `at`, the outermost for what lies beyond. */
static int lattice_cell(double at, int step, int nodes)
{
    double cell = floor(at / step);
    if (!(cell > 0)) /* NaN too: it comes out again as a NaN matrix */
        return 0;
    return cell > nodes - 2 ? nodes - 2 : (int)cell;
}

/* The matrix at the left and right ends of a lattice cell, at grid row `row`. */
static void ends(const brant_ground *g, int i, double row, brant_matrix *left, brant_matrix *right)
{
    int j = lattice_cell(row, g->step_rows, g->down);
    double v = row / g->step_rows - j;
    const brant_matrix *node = g->nodes + (size_t)j * (size_t)g->across + i;
    *left = between(node, node + g->across, v);
    *right = between(node + 1, node + 1 + g->across, v);
}

void brant_ground_matrix(const brant_ground *ground, double col, double row, brant_matrix *m)
{
    brant_matrix left, right;
    int i = lattice_cell(col, ground->step_cols, ground->across);
    ends(ground, i, row, &left, &right);
    *m = between(&left, &right, col / ground->step_cols - i);
}

int brant_ground_row(const brant_ground *ground, int col, int row, brant_matrix m[2])
{
    brant_matrix left, right;
    int step = ground->step_cols;
    /* to the next multiple of the step or of BRANT_GROUND_STEP; both are powers
     * of two, so a cut at a multiple of BRANT_GROUND_STEP is one anyway */
    int stride = step < BRANT_GROUND_STEP ? step : BRANT_GROUND_STEP;
    int within = col % stride;
    int i = lattice_cell(col + 0.5, step, ground->across);
    ends(ground, i, row + 0.5, &left, &right);
    m[0] = between(&left, &right, (col + 0.5) / step - i);
    m[1] = (brant_matrix){
        .col_east = (right.col_east - left.col_east) / step,
        .row_east = (right.row_east - left.row_east) / step,
        .col_north = (right.col_north - left.col_north) / step,
        .row_north = (right.row_north - left.row_north) / step,
    };
    return within < 0 ? -within : stride - within;
}
