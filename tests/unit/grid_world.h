/* Grids in named coordinate reference systems, for the tests of the grid room. */
#ifndef GRID_WORLD_H
#define GRID_WORLD_H

#include "brant/grid.h"

#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>

#include <cmocka.h>

#include "near.h"

#include <proj.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

/* Degrees, minutes, seconds to degrees. */
static inline double dms(double degrees, double minutes, double seconds)
{
    return degrees + minutes / 60 + seconds / 3600;
}

/* WKT of anything that PROJ knows by name, as a raster would carry it. The
 * caller's to free. */
static inline char *wkt_of(const char *definition)
{
    PJ_CONTEXT *context = proj_context_create();
    PJ *crs = proj_create(context, definition);
    if (!crs)
        fail_msg("PROJ does not know %s", definition);
    const char *wkt = proj_as_wkt(context, crs, PJ_WKT2_2019, NULL);
    char *copy = wkt ? strdup(wkt) : NULL;
    if (!copy)
        fail_msg("no WKT for %s", definition);
    proj_destroy(crs);
    proj_context_destroy(context);
    return copy;
}

/* A north-up grid with cell (0, 0)'s outer corner at x, y. */
static inline brant_grid north_up(const char *definition, double x, double y, double cell, int cols,
                                  int rows)
{
    return (brant_grid){.cols = cols,
                        .rows = rows,
                        .transform = {x, cell, 0, y, 0, -cell},
                        .crs = wkt_of(definition)};
}

#endif
