/* What the ground and the locator both need from PROJ: a quiet context, and the
 * horizontal part of a grid's CRS. Private to the room. */
#ifndef BRANT_GRID_CRS_H
#define BRANT_GRID_CRS_H

#include "brant/grid.h"

#include <proj.h>

/* A PROJ context that is silent, never goes online, and keeps PROJ's last error
 * line for a message. Not shared between threads. */
typedef struct brant_proj {
    PJ_CONTEXT *pj;
    char error[256];
} brant_proj;

/* `proj` must stay where it is: PROJ keeps its address for the error line. */
brant_status brant_proj_open(brant_context *ctx, brant_proj *proj);
void brant_proj_close(brant_proj *proj);
/* PROJ's last error line, else `otherwise`. */
const char *brant_proj_error(const brant_proj *proj, const char *otherwise);

/* A grid's CRS, reduced to what horizontal positions need. */
typedef struct brant_crs {
    PJ *full;       /* horizontal; keeps a datum shift that the file itself states (BOUNDCRS) */
    PJ *plain;      /* the same without it */
    bool angular;   /* coordinates are angles, not lengths */
    double unit;    /* metres or radians in one unit of its axes */
    char name[128];
} brant_crs;

/* Refuses, with BRANT_ERR_INPUT and `name` in front: a missing CRS, one without
 * a place on an ellipsoid (local, engineering, geocentric), and a geotransform
 * that cannot be inverted. */
brant_status brant_crs_open(brant_context *ctx, brant_proj *proj, const char *name,
                            const brant_grid *grid, brant_crs *crs);
void brant_crs_close(brant_crs *crs);

/* Metres or radians in one unit of a CRS's first axis; false if it has none. */
bool brant_crs_unit(PJ_CONTEXT *context, const PJ *crs, double *unit);

/* Grid coordinates to CRS coordinates. */
void brant_transform_apply(const double t[6], double col, double row, double *x, double *y);
/* CRS coordinates to grid coordinates; `t` must be invertible. */
void brant_transform_invert(const double t[6], double x, double y, double *col, double *row);

#endif
