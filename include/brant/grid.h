/* grid: the working grid, the grid-to-ground matrix, positions on the earth,
 * the source of elevations, and the fixed squares.
 *
 * Grid coordinates: cell (col, row) covers [col, col+1) x [row, row+1); its
 * centre is (col + 0.5, row + 0.5). Column 0, row 0 is the first cell that the
 * file stores, whichever way the raster faces. */
#ifndef BRANT_GRID_H
#define BRANT_GRID_H

#include "brant/base.h"

#pragma GCC visibility push(default)

/* ---- the grid ----------------------------------------------------------- */

/* A raster's geometry. `transform` takes grid coordinates to CRS coordinates,
 * x = t[0] + col*t[1] + row*t[2], y = t[3] + col*t[4] + row*t[5], with (0, 0)
 * the outer corner of the first cell. */
typedef struct brant_grid {
    int cols, rows;
    double transform[6];
    char *crs; /* WKT, x before y (east before north); owned */
} brant_grid;

void brant_grid_clear(brant_grid *grid);

/* Metres outside of which a value is no elevation to ski on, and is read as void: the highest
 * summit is 8849 m, the lowest land -430 m. */
#define BRANT_HIGHEST 9000.0
#define BRANT_LOWEST (-500.0)

/* A rectangle of cells; it may reach over the grid's border. */
typedef struct brant_window {
    int col, row;
    int cols, rows;
} brant_window;

bool brant_window_has(const brant_window *window, int col, int row);
/* The part of `window` that is on a grid of cols x rows (cols, rows 0 if none). */
brant_window brant_window_clip(brant_window window, int cols, int rows);
/* What two windows share (cols, rows 0 if nothing). */
brant_window brant_window_common(const brant_window *a, const brant_window *b);
/* The smallest window that holds both; an empty one (cols 0) counts as nothing. */
brant_window brant_window_union(brant_window a, brant_window b);

/* ---- grid to ground ----------------------------------------------------- */

/* One step of a column and one of a row in metres on the ellipsoid, towards
 * true east and true north: east = col_east*dcol + row_east*drow, and so on. */
typedef struct brant_matrix {
    double col_east, row_east;
    double col_north, row_north;
} brant_matrix;

double brant_matrix_distance(const brant_matrix *m, double dcol, double drow); /* metres */
double brant_matrix_area(const brant_matrix *m);       /* of a cell, m2, positive */
double brant_matrix_cell_width(const brant_matrix *m); /* of a column step, metres */
double brant_matrix_cell_height(const brant_matrix *m);

/* The matrix over the whole grid: exact (PROJ) on a coarse lattice anchored to
 * the grid's first cell, bilinear between. Immutable once made: any number of
 * threads may read it. */
typedef struct brant_ground brant_ground;

/* Fails with BRANT_ERR_INPUT when the CRS is missing or cannot be placed on an
 * ellipsoid. `name` is the file named in messages. */
brant_status brant_ground_create(brant_context *ctx, const char *name, const brant_grid *grid,
                                 brant_ground **ground);
void brant_ground_destroy(brant_ground *ground);
/* At any grid coordinates; outside the grid the nearest border's lattice cell
 * is extended. */
void brant_ground_matrix(const brant_ground *ground, double col, double row, brant_matrix *m);
/* Along the row of cells `row` from cell `col` on, the matrix at cell centres is
 * m[0] + i*m[1] for i = 0..n-1; returns n >= 1, the cells until the lattice
 * bends. Pure function of (col, row): where a caller cuts a row does not change
 * a cell's matrix beyond the last bit, and cuts at multiples of
 * BRANT_GROUND_STEP not at all. */
#define BRANT_GROUND_STEP 256
int brant_ground_row(const brant_ground *ground, int col, int row, brant_matrix m[2]);

/* ---- positions ---------------------------------------------------------- */

/* WGS 84 longitude and latitude to grid coordinates and back. One per thread. */
typedef struct brant_locator brant_locator;

/* Never uses a ballpark operation: where no datum operation is known, fails
 * with BRANT_ERR_INPUT. */
brant_status brant_locator_create(brant_context *ctx, const char *name, const brant_grid *grid,
                                  brant_locator **locator);
/* The same from another CRS: brant_locator_to_grid then takes its x and y (east before
 * north), of its horizontal part; brant_locator_to_lonlat is not for such a one. */
brant_status brant_locator_create_from(brant_context *ctx, const char *name,
                                       const brant_grid *grid, const char *crs,
                                       brant_locator **locator);
void brant_locator_destroy(brant_locator *locator);
/* Degrees to grid coordinates; NaN, NaN where the CRS has no such place. On a
 * geographic grid the longitude is wrapped to the side the grid is on. */
void brant_locator_to_grid(brant_locator *locator, double lon, double lat, double *col,
                           double *row);
/* Grid coordinates to degrees, longitude in [-180, 180). */
void brant_locator_to_lonlat(brant_locator *locator, double col, double row, double *lon,
                             double *lat);
/* The datum operation's accuracy in metres (0: none was needed, negative: it is
 * not stated) and its name (never NULL, owned by the locator). */
double brant_locator_accuracy(const brant_locator *locator, const char **operation);

/* Metres along the WGS 84 geodesic, and the azimuth at its start (degrees from
 * true north, may be NULL). Source: PROJ's geodesic.h (Karney 2013). */
double brant_geodesic(double lon1, double lat1, double lon2, double lat2, double *azimuth);
/* The point `metres` along the geodesic from 1 to 2. */
void brant_geodesic_point(double lon1, double lat1, double lon2, double lat2, double metres,
                          double *lon, double *lat);

/* ---- the source of elevations ------------------------------------------- */

/* Elevations by window. `read` fills out[rows*cols], row by row, with metres,
 * NaN for a void and for everything outside the grid. Safe to call from many
 * threads at once. */
typedef struct brant_source brant_source;
struct brant_source {
    int cols, rows;
    brant_status (*read)(brant_source *source, brant_context *ctx, const brant_window *window,
                         float *out);
    void *self;
};

/* A source over an array of the caller's (tests, small models): cols*rows, kept
 * by reference. */
void brant_source_array(brant_source *source, const float *z, int cols, int rows);

/* ---- squares ------------------------------------------------------------ */

/* The grid is cut into squares of this many cells, counted from cell (0, 0). A
 * zone never crosses a square's line. */
#define BRANT_SQUARE 1024

typedef struct brant_squares {
    int across, down;   /* squares in a row, in a column */
    uint32_t stride;    /* zone number = square * stride + number within, from 1 */
} brant_squares;

/* BRANT_ERR_INPUT when the grid has too many squares for 32-bit zone numbers. */
brant_status brant_squares_of(brant_context *ctx, int cols, int rows, brant_squares *squares);
/* The cells of square `index` (row by row from 0), clipped to the grid. */
brant_window brant_square_window(const brant_squares *squares, int index, int cols, int rows);

#pragma GCC visibility pop

#endif
