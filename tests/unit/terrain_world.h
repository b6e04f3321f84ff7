/* Grids for the tests of the terrain room, and surfaces laid on them by true
 * position. */
#ifndef TERRAIN_WORLD_H
#define TERRAIN_WORLD_H

#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>
#include <cmocka.h>

#include "brant/terrain.h"

#include <math.h>
#include <proj.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#define RADIANS (M_PI / 180.0)

/* A plane map of the ground at 9 E on the equator, where grid north is true
 * north: true to scale at its origin, 3e-8 off at 1.5 km. */
#define LOCAL_CRS "+proj=tmerc +lat_0=0 +lon_0=9 +k=1 +ellps=WGS84 +units=m +type=crs"

typedef struct world {
    brant_context ctx;
    brant_grid grid;
    brant_ground *ground;
    brant_source source;
    float *z;
} world;

static inline float *world_z(world *w, int col, int row)
{
    return &w->z[(size_t)row * (size_t)w->grid.cols + (size_t)col];
}

/* All elevations 0. */
static inline void world_open(world *w, const char *crs, const double transform[6], int cols,
                              int rows)
{
    memset(w, 0, sizeof *w);
    brant_context_init(&w->ctx);
    w->grid = (brant_grid){.cols = cols, .rows = rows, .crs = strdup(crs)};
    memcpy(w->grid.transform, transform, sizeof w->grid.transform);
    if (brant_ground_create(&w->ctx, "test", &w->grid, &w->ground) != BRANT_OK)
        fail_msg("%s", brant_message(&w->ctx));
    w->z = calloc((size_t)cols * (size_t)rows, sizeof *w->z);
    assert_non_null(w->z);
    brant_source_array(&w->source, w->z, cols, rows);
}

/* On the local plane map, the corner of its four middle cells (or the centre of
 * its middle cell) at the origin. */
static inline void world_open_local(world *w, double cell, int cols, int rows)
{
    const double t[6] = {-cell * cols / 2.0, cell, 0.0, cell * rows / 2.0, 0.0, -cell};
    world_open(w, LOCAL_CRS, t, cols, rows);
}

static inline void world_close(world *w)
{
    brant_ground_destroy(w->ground);
    free(w->grid.crs);
    free(w->z);
    brant_context_clear(&w->ctx);
}

/* Height in metres at true east, north metres from the origin. */
typedef double (*surface)(const void *self, double east, double north);

static inline void world_lay_local(world *w, surface f, const void *self)
{
    const double *t = w->grid.transform;
    for (int r = 0; r < w->grid.rows; r++)
        for (int c = 0; c < w->grid.cols; c++)
            *world_z(w, c, r) =
                (float)f(self, t[0] + (c + 0.5) * t[1], t[3] + (r + 0.5) * t[5]);
}

/* Where the cells of any grid are: each centre goes through PROJ to a plane map
 * with its origin at `lat`, `lon`; east and north of each cell. */
static inline void world_places(const world *w, double lat, double lon, double *places)
{
    char local[200];
    snprintf(local, sizeof local,
             "+proj=tmerc +lat_0=%.9f +lon_0=%.9f +k=1 +ellps=WGS84 +units=m +type=crs", lat, lon);
    PJ_CONTEXT *pc = proj_context_create();
    PJ *raw = proj_create_crs_to_crs(pc, w->grid.crs, local, NULL);
    assert_non_null(raw);
    PJ *pj = proj_normalize_for_visualization(pc, raw);
    const double *t = w->grid.transform;
    for (int r = 0; r < w->grid.rows; r++)
        for (int c = 0; c < w->grid.cols; c++, places += 2) {
            double x = c + 0.5, y = r + 0.5;
            PJ_COORD at = proj_coord(t[0] + x * t[1] + y * t[2], t[3] + x * t[4] + y * t[5], 0, 0);
            at = proj_trans(pj, PJ_FWD, at);
            places[0] = at.xy.x;
            places[1] = at.xy.y;
        }
    proj_destroy(pj);
    proj_destroy(raw);
    proj_context_destroy(pc);
}

static inline void world_lay_at(world *w, const double *places, surface f, const void *self)
{
    for (size_t i = 0; i < (size_t)w->grid.cols * (size_t)w->grid.rows; i++)
        w->z[i] = (float)f(self, places[2 * i], places[2 * i + 1]);
}

/* A plane of `slope` degrees that falls towards `azimuth`, `height` at the origin. */
typedef struct plane {
    double slope, azimuth, height;
} plane;

static inline double plane_at(const void *self, double east, double north)
{
    const plane *p = self;
    return p->height - tan(p->slope * RADIANS) * (east * sin(p->azimuth * RADIANS) +
                                                  north * cos(p->azimuth * RADIANS));
}

static inline double turn(double a, double b) /* degrees between azimuths */
{
    return fabs(remainder(a - b, 360.0));
}

static inline brant_field world_field(world *w, bool edges)
{
    brant_field field;
    brant_window all = {0, 0, w->grid.cols, w->grid.rows};
    assert_int_equal(
        brant_field_read(&w->ctx, &w->source, w->ground, &all, edges, &field), BRANT_OK);
    return field;
}

/* Numbers in [0, 1) from a fixed sequence (Marsaglia's xorshift, 2003). */
static inline double next_random(uint64_t *state)
{
    *state ^= *state << 13;
    *state ^= *state >> 7;
    *state ^= *state << 17;
    return (double)(*state >> 11) / 9007199254740992.0;
}

/* Hills of several sizes with 2 m of noise and some voids: about a third of it
 * release ground, in patches of every size. */
static inline void world_lay_rough(world *w, uint64_t seed)
{
    const double *t = w->grid.transform;
    for (int r = 0; r < w->grid.rows; r++)
        for (int c = 0; c < w->grid.cols; c++) {
            double x = c * t[1], y = -r * t[5];
            double z = 2000.0 + 220.0 * sin(x / 290.0) * cos(y / 330.0) +
                       60.0 * sin(x / 97.0 + y / 121.0) + 9.0 * sin(x / 27.0) * sin(y / 31.0) +
                       2.0 * next_random(&seed);
            *world_z(w, c, r) = next_random(&seed) < 2e-4 ? NAN : (float)z;
        }
}

static inline brant_zone_square world_square(world *w, int index,
                                             const brant_zone_options *options)
{
    brant_squares squares;
    brant_zone_square square;
    assert_int_equal(brant_squares_of(&w->ctx, w->grid.cols, w->grid.rows, &squares), BRANT_OK);
    if (brant_zones_of_square(&w->ctx, &w->source, w->ground, &squares, index, options,
                              &square) != BRANT_OK)
        fail_msg("%s", brant_message(&w->ctx));
    return square;
}

static inline bool same_number(float a, float b)
{
    return a == b || (isnan(a) && isnan(b));
}

/* Two zones alike to the last bit, their faces aside. */
static inline bool same_zone(const brant_zone *a, const brant_zone *b)
{
    return a->number == b->number && a->cells == b->cells && a->area_m2 == b->area_m2 &&
           same_number(a->mean_deg, b->mean_deg) &&
           same_number(a->steepest_deg, b->steepest_deg) &&
           same_number(a->aspect_deg, b->aspect_deg) && same_number(a->low_m, b->low_m) &&
           same_number(a->high_m, b->high_m) && a->high_col == b->high_col &&
           a->high_row == b->high_row && same_number(a->above45, b->above45) &&
           a->flags == b->flags && a->box.col == b->box.col && a->box.row == b->box.row &&
           a->box.cols == b->box.cols && a->box.rows == b->box.rows;
}

#endif
