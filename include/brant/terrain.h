/* terrain: Horn's slope and aspect, steepness classes, start-zone bands, and
 * the zones of a square. */
#ifndef BRANT_TERRAIN_H
#define BRANT_TERRAIN_H

#include "brant/grid.h"

#pragma GCC visibility push(default)

/* ---- slope and aspect --------------------------------------------------- */

/* Standard error in degrees of Horn's slope where heights have independent errors of
 * `sigma_m` (standard deviation, metres): sqrt(3)/4 sigma / w / (1 + tan2 slope), with w the
 * cell along the fall line. For an anisotropic cell, sigma counts per grid step and goes to
 * the ground by `matrix` along the fall line `aspect_deg`; NaN (flat): along the shorter side,
 * the worst. Errors that neighbours share make less. First-order propagation (form:
 * Florinsky 1998, IJGIS 12(1):47-62, from memory); tests/numeric draws it by lot. NaN where
 * slope or sigma is. */
double brant_slope_error(const brant_matrix *matrix, double slope_deg, double aspect_deg,
                         double sigma_m);

/* Nodata of slope and aspect in files; in memory it is NaN. */
#define BRANT_NODATA (-9999.0f)

/* Horn's 3 x 3 gradient over one row of cells (Horn 1981, Proc. IEEE 69(1):14-47),
 * taken from grid steps to true metres by each cell's matrix.
 *
 * north, here, south: elevations in metres of the rows row-1, row, row+1 (by
 *   row number, whatever way the raster faces), each n + 2 long: element i + 1
 *   belongs to column col + i. NaN is void: a window that holds one has no slope.
 * slope, aspect: n out. Degrees; slope [0, 90), aspect the downslope azimuth from
 *   true north [0, 360), NaN where slope is NaN or exactly 0. aspect may be NULL. */
void brant_horn_row(const brant_ground *ground, int col, int row, int n, const float *north,
                    const float *here, const float *south, float *slope, float *aspect);

/* Horn's gradient itself: metres of rise per metre towards true east and towards
 * true north, n out each, NaN where there is no slope. The rows as above. */
void brant_gradient_row(const brant_ground *ground, int col, int row, int n, const float *north,
                        const float *here, const float *south, float *rise_east,
                        float *rise_north);

/* Fill the voids of a 3 x 3 window (row by row) as the one-sided estimate does
 * (gdaldem's -compute_edges): a missing row or column continues in a straight
 * line, a lone void takes the centre's height. False if the centre is void or
 * the cells around it lie on one line. */
bool brant_complete_window(float window[9]);

/* brant_horn_row, with `edges` also the one-sided estimate where a void is in the
 * window. aspect may not be NULL. */
void brant_steepness_row(const brant_ground *ground, int col, int row, int n, const float *north,
                         const float *here, const float *south, bool edges, float *slope,
                         float *aspect);

/* Elevation, slope and aspect of a window, in memory, window.rows*window.cols
 * floats each, NaN for void; owned, brant_field_clear frees. Cells outside the
 * grid are void. */
typedef struct brant_field {
    brant_window window;
    float *elevation, *slope, *aspect;
} brant_field;

/* `edges`: use the one-sided estimate beside voids and at the border. */
brant_status brant_field_read(brant_context *ctx, brant_source *source, const brant_ground *ground,
                              const brant_window *window, bool edges, brant_field *field);
void brant_field_clear(brant_field *field);

/* ---- steepness ---------------------------------------------------------- */

/* Steepness classes as stored in class rasters. */
typedef enum brant_class {
    BRANT_CLASS_UNKNOWN = 0, /* no slope known */
    BRANT_CLASS_BELOW_25,
    BRANT_CLASS_25_30,
    BRANT_CLASS_30_35,
    BRANT_CLASS_35_40,
    BRANT_CLASS_40_45,
    BRANT_CLASS_45_55,
    BRANT_CLASS_ABOVE_55,
    BRANT_CLASSES
} brant_class;

brant_class brant_class_of(float slope);       /* a limit belongs to the class above it */
void brant_class_row(const float *slope, int n, uint8_t *classes); /* n of them */
/* Slopes or aspects as files keep them, in place: steps of 1/128 degree, rounded down (so
 * that no slope comes up to a whole degree that it does not have: 29.999 stays below 30),
 * BRANT_NODATA for NaN. A hundredth of what a metre of height error makes of a slope at
 * 10 m cells, and a file half the size. */
void brant_kept_row(float *angles, int n);
const char *brant_class_name(brant_class c);   /* "30-35", "unknown", ... */

/* The start-zone band: from `low` on, up to and with `high`, degrees. Release
 * ground: from `low` on. */
typedef struct brant_band {
    float low, high;
} brant_band;

#define BRANT_BAND_DEFAULT ((brant_band){30.0f, 45.0f})

/* Eight aspect octants, 0 N, 1 NE, ... 7 NW; -1 for NaN. */
int brant_octant(float aspect);
const char *brant_octant_name(int octant); /* "N" ... "NW", "" for -1 */

/* ---- landforms ---------------------------------------------------------- */

/* What makes it worse to be carried down: told from elevations, in metres on the ground.
 * The numbers are common practice, without a source. */
#define BRANT_CLIFF_DEG 55.0f      /* a cliff: connected ground this steep over 5 m or a cell, */
#define BRANT_CLIFF_HEIGHT_M 10.0f /* this high or more */
#define BRANT_GULLY_RISE_M 10.0f   /* a gully: on two opposite sides ground this much higher */
#define BRANT_GULLY_WIDTH_M 50.0   /* within this distance */
#define BRANT_FLAT_DEG 10.0f       /* an abrupt flat: ground gentler than this over 40 m, */
#define BRANT_FLAT_AREA_M2 1000.0  /* this large or more, */
#define BRANT_FLAT_FROM_DEG 20.0f  /* with higher ground steeper than this over 40 m */
#define BRANT_FLAT_WITHIN_M 60.0   /* within this distance */

/* Elevations of a window, looked at cell by cell. Zero to start; one thread. */
typedef struct brant_relief {
    brant_window window;
    const float *elevation; /* the caller's; NaN void */
    brant_matrix matrix;    /* at the window's middle */
    struct brant_relief_scratch *scratch; /* private */
} brant_relief;

typedef enum brant_landform_answer {
    BRANT_LANDFORM_NO,
    BRANT_LANDFORM_YES,
    BRANT_LANDFORM_UNKNOWN /* a void or the window's edge is too near to tell */
} brant_landform_answer;

/* `elevation` is kept by reference. */
brant_status brant_relief_open(brant_context *ctx, const brant_ground *ground,
                               const brant_window *window, const float *elevation,
                               brant_relief *relief);
void brant_relief_close(brant_relief *relief);
/* Is the cell (of the window, in grid coordinates) part of a cliff and not its foot?
 * Steepness is that of planes through three cells' centres, 5 m or one cell apart. */
brant_landform_answer brant_relief_cliff(brant_relief *relief, int col, int row);
/* Does it lie in a gully or a narrow valley bottom? A saddle, from which the ground falls
 * to both sides across, is none. */
brant_landform_answer brant_relief_gully(brant_relief *relief, int col, int row);
/* Does it lie on a lake or another abrupt flat? With `path` (a byte a cell of the window,
 * or NULL) only the steep ground where it is set counts. */
brant_landform_answer brant_relief_flat(brant_relief *relief, int col, int row,
                                        const uint8_t *path);

/* ---- zones -------------------------------------------------------------- */

enum {
    BRANT_ZONE_SMALL = 1,    /* below min_area, with no neighbour to join */
    BRANT_ZONE_CUT = 2,      /* on a square's line, with release ground beyond it */
    BRANT_ZONE_TRUNCATED = 4, /* its shadow met a void or the raster's edge */
    BRANT_ZONE_AT_VOID = 8   /* touches ground of unknown slope: it may go on there */
};

/* A numbered patch of connected (side by side) release ground that faces one
 * octant, inside one square. Angles in degrees, heights in metres. */
typedef struct brant_zone {
    uint32_t number;       /* see brant_squares */
    uint32_t cells;
    double area_m2;        /* map area, true m2 */
    float mean_deg, steepest_deg;
    float aspect_deg;      /* mean aspect of the cells, as vectors */
    float low_m, high_m;   /* lowest and highest elevation */
    int high_col, high_row; /* its highest cell; of equals the first */
    float above45;         /* share of the area above 45 degrees, 0..1 */
    uint32_t flags;        /* BRANT_ZONE_... */
    brant_window box;      /* the cells it lies in */
    uint32_t face;         /* the lowest zone number of its face; its own until faces are joined */
    double face_m2;        /* the face's area over the ground read */
    double reach_angle_deg; /* its own, that a person gave it; 0: the run's */
} brant_zone;

/* The reach angle that holds for a zone: its own, else the run's. */
double brant_zone_reach_angle(const brant_zone *zone, double run_deg);

typedef struct brant_zone_options {
    brant_band band;
    double min_area_m2; /* default 400 */
    double max_area_m2; /* default 200000 (20 ha) */
} brant_zone_options;

#define BRANT_ZONE_OPTIONS_DEFAULT ((brant_zone_options){BRANT_BAND_DEFAULT, 400.0, 200000.0})

/* The zones of one square; owned. */
typedef struct brant_zone_square {
    brant_window window;
    uint32_t *number;   /* window.rows*window.cols zone numbers, 0 none */
    brant_zone *zones;  /* by rising number */
    size_t count;
} brant_zone_square;

/* Number the zones of square `index`. Depends on the ground within the square
 * and about 50 m around it, on nothing else: the same in a corridor and in the
 * whole. */
brant_status brant_zones_of_square(brant_context *ctx, brant_source *source,
                                   const brant_ground *ground, const brant_squares *squares,
                                   int index, const brant_zone_options *options,
                                   brant_zone_square *out);
void brant_zone_square_clear(brant_zone_square *square);

/* Zones over several squares, faces joined. */
typedef struct brant_zone_set {
    brant_squares squares;
    brant_zone_square *square; /* squares.across*squares.down; number NULL where not read;
                                  its zones point into `zones`, NULL for numbers given */
    brant_zone *zones;         /* all of them by rising number; owned */
    size_t count;
} brant_zone_set;

/* Number the zones of the squares that `wanted` (across*down flags) names, on
 * ctx->threads threads, and join faces: zones whose mean aspects lie in the same octant
 * and whose cells touch (corners too, across square lines as well). */
brant_status brant_zone_set_build(brant_context *ctx, brant_source *source,
                                  const brant_ground *ground, const bool *wanted,
                                  const brant_zone_options *options, brant_zone_set *set);
/* The same from zone numbers made by a person or an earlier stage: `read` fills
 * a window with zone numbers, 0 for none; a number's cells are one zone wherever
 * they lie, over square lines too, and on ground of any steepness. */
typedef brant_status (*brant_numbers_read)(void *self, brant_context *ctx,
                                           const brant_window *window, uint32_t *out);
brant_status brant_zone_set_from_numbers(brant_context *ctx, brant_source *source,
                                         const brant_ground *ground, const bool *wanted,
                                         const brant_zone_options *options,
                                         brant_numbers_read read, void *self,
                                         brant_zone_set *set);
/* Two zones, by place in set->zones, that touch and are of one face. */
typedef struct brant_touch {
    uint32_t a, b;
} brant_touch;
/* Those of a set; a pair may be there more than once. The caller frees. */
brant_status brant_zone_touches(brant_context *ctx, const brant_zone_set *set,
                                brant_touch **touches, size_t *count);
/* Give the zones their faces anew, as if only the squares that `wanted` names (NULL: all of
 * the set's) had been read. `zones` is set->zones, or a copy in the same order. */
brant_status brant_zone_faces(brant_context *ctx, const brant_zone_set *set,
                              const brant_touch *touches, size_t count, const bool *wanted,
                              brant_zone *zones);
uint32_t brant_zone_set_at(const brant_zone_set *set, int col, int row); /* 0 none */
/* The numbers of up to *n >= 1 cells along a row, from a cell on: *n of them (no further than a
 * square's border), the set's own; NULL: no zone on any of these. */
const uint32_t *brant_zone_set_along(const brant_zone_set *set, int col, int row, int *n);
brant_zone *brant_zone_set_find(const brant_zone_set *set, uint32_t number); /* NULL if absent */
void brant_zone_set_clear(brant_zone_set *set);

/* ---- ground seen from a cell: relief, horizon, shelter from wind --------- */

/* A few cells that stand for a zone: its cells in raster order, evenly thinned. */
#define BRANT_ZONE_CELLS 64
typedef struct brant_zone_cell {
    int col, row;
    float slope_deg, aspect_deg; /* Horn; NaN: not known (aspect also on flat ground) */
} brant_zone_cell;
/* Up to `max` cells of `zone` into `cells`: of its n cells in raster order those
 * numbered i*n/count, so the same ones whatever was read. Reads the zone's box. */
brant_status brant_zone_cells(brant_context *ctx, brant_source *source, const brant_ground *ground,
                              const brant_zone_set *set, const brant_zone *zone, size_t max,
                              brant_zone_cell *cells, size_t *count);

/* The ground around a window in memory, coarser with distance: as it is up to 100
 * cells from the window, then averaged over 2 x 2 cells up to 200, over 4 x 4 up to
 * 400, and so on: seen from the window a cell is 1.2 degrees wide at most (by its
 * shorter side), and what is averaged is cut at multiples of the cells averaged, so
 * a height is the same whatever the window. Of four cells, two void ones make a void.
 * Immutable once made: any number of threads may read it. */
typedef struct brant_skyline brant_skyline;

/* Metres that horizons are searched to: ground 1,500 m higher stands 3.2 degrees
 * high there. What is further away is not looked at. */
#define BRANT_RELIEF_REACH 25000.0

/* Read `window` and `reach_m` metres around it (all of it is read once, on
 * ctx->threads threads; 25 km around a tour at 10 m cells: 30-40 million cells,
 * 10-20 MB kept; a model that is averaged from finer cells costs all of those, so ask
 * for less). Horizons and shelter may be asked for in cells of `window`.
 * The window may reach over the grid's border; relief is the caller's to destroy. */
brant_status brant_skyline_create(brant_context *ctx, brant_source *source,
                                 const brant_ground *ground, const brant_window *window,
                                 double reach_m, brant_skyline **relief);
void brant_skyline_destroy(brant_skyline *relief);

/* How high the ground stands above the level in one direction, degrees. */
typedef struct brant_horizon {
    float known_deg;    /* of the ground that is known */
    float possible_deg; /* if voids on the way, and the ground beyond the raster, were as high
                           as the highest ground read; equals known_deg where nothing is
                           missing that could matter */
} brant_horizon;

/* From the ground at the centre of a cell of the relief's window towards `azimuth`
 * (degrees from true north). Ground lower than `least_deg` is not searched for:
 * neither figure is below it. Along a straight line on the grid, bilinear, at every
 * cell of the relief (every half a cell up to 40 away). Ground at distance d is seen
 * lower by d^2 (1 - k) / 2R for curvature and refraction, k = 0.13, R = 6371 km
 * (Gauss's coefficient, the usual one of levelling). Horizon as in Dozier & Frew
 * 1990, IEEE TGRS 28:963-969 (from memory). Measured against all the cells on the way,
 * 7,800 directions on a 10 m model: 0.04 degrees too low on average, 0.3 in one of a
 * hundred, 0.5 at worst, which is three minutes of sun. Where the cell is void or
 * outside the window: known `least_deg`, possible 90. */
brant_horizon brant_skyline_horizon(const brant_skyline *relief, int col, int row, double azimuth,
                                   double least_deg);

/* Where the wind comes FROM, and how shelter from it is measured: maximum upwind
 * slope Sx (Winstral, Elder & Davis 2002, J. Hydrometeorol. 3:524-538). The defaults
 * are those of Winstral, Jonas & Helbig 2017, JHM 18:335-348: window 30 degrees, a ray
 * every 5, 300 m, 8 m of height offset. */
typedef struct brant_wind {
    double from_deg;      /* the first ray, [0, 360); rays go on clockwise */
    double width_deg;     /* [0, 360): the last ray is at from_deg + width_deg */
    double distance_m;    /* dmax, above 0 and at most 2,000; default 300 */
    double offset_m;      /* upwind ground counts this much lower; default 8, 0 as in 2002 */
    double sheltered_deg; /* above this Sx ground is called sheltered; default 0 (the sign's
                             meaning in both papers: positive is sheltered) */
} brant_wind;

#define BRANT_WIND_WINDOW 30.0
#define BRANT_WIND_RAY 5.0
#define BRANT_WIND_DISTANCE 300.0
#define BRANT_WIND_OFFSET 8.0

/* "W" or "270": a window of 30 degrees around it; "240-300" or "W-NNW": from the
 * first clockwise to the second, so that "300-20" goes through north. Sixteen points
 * of the compass in capitals, or degrees 0 to 360. False if `text` is neither, or
 * both ends are the same; the other fields become the defaults. */
bool brant_wind_parse(const char *text, brant_wind *wind);

/* Sx of a cell of the relief's window, in degrees: for each ray (no more than 5
 * degrees apart) the largest atan((ground there - offset - ground here) / distance)
 * up to dmax, averaged over the rays. Positive: higher ground stands upwind;
 * negative: exposed. NaN where a ray meets a void or leaves the raster within dmax:
 * what stands there is not known. NaN, too, if dmax is beyond the relief's reach. */
float brant_skyline_shelter(const brant_skyline *relief, int col, int row, const brant_wind *wind);

/* Sx of a zone, over the cells of brant_zone_cells. Never 'unloaded': snow is also
 * carried across a slope, and by other winds. */
typedef struct brant_shelter {
    float mean_deg;        /* of the cells whose Sx is known; NaN if none is */
    size_t known, unknown; /* cells with and without an Sx: say so where unknown > 0 */
    bool sheltered;        /* mean_deg > sheltered_deg; false where NaN, which is not 'exposed' */
} brant_shelter;
brant_shelter brant_zone_shelter(const brant_skyline *relief, const brant_zone_cell *cells,
                                 size_t count, const brant_wind *wind);

#pragma GCC visibility pop

#endif
