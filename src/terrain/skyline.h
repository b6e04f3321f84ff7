/* Heights around a window, coarser with distance. Private to the room. */
#ifndef BRANT_TERRAIN_SKYLINE_H
#define BRANT_TERRAIN_SKYLINE_H

#include "brant/terrain.h"

#define RELIEF_LEVELS 12
#define RELIEF_STEPS 100 /* a level serves up to this many of its cells away */
#define RELIEF_FINE 40   /* up to this many cells away heights are half a cell apart */
#define RELIEF_BLOCK 64  /* a block of cells has one bound of the ground around */

/* Heights averaged over 2^level x 2^level cells; cell (i, j) of a level covers the
 * grid's cells from (i, j) * 2^level on. */
typedef struct relief_level {
    brant_window window; /* in cells of the level */
    float *z;            /* NaN: void, or outside the grid */
} relief_level;

struct brant_skyline {
    const brant_ground *ground;
    brant_window window; /* cells that may be asked for */
    double reach_m;
    brant_window blocks; /* those of the window, in blocks of RELIEF_BLOCK x RELIEF_BLOCK cells */
    float *highest;      /* by block: known ground within reach of it; -INFINITY if none */
    int levels;          /* the last one serves up to reach_m */
    relief_level level[RELIEF_LEVELS];
};

/* A straight line on the grid from a cell's centre, walked outwards. */
typedef struct relief_ray {
    const brant_skyline *relief;
    double col, row;   /* where it starts */
    double cell_m;     /* the shorter side of the cell there: the step of the first level */
    double dcol, drow; /* grid steps a metre */
    double here;       /* height of the ground at its start; NaN not known */
    double highest;    /* known ground within reach; the same whatever else the relief holds */
    int level, halves; /* of the next height: half cells of the level away */
    double distance_m; /* of the height last given */
} relief_ray;

relief_ray brant_skyline_ray(const brant_skyline *relief, int col, int row, double azimuth);
/* The next height outwards, NaN where it is not known; false beyond `end_m`. */
bool brant_skyline_next(relief_ray *ray, double end_m, double *z);

#endif
