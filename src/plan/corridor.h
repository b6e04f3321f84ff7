/* The corridor: how far from a route ground can matter. */
#ifndef BRANT_PLAN_CORRIDOR_H
#define BRANT_PLAN_CORRIDOR_H

#include "brant/plan.h"

/* A patch of cells that shadows are wanted on, and its lowest ground. */
typedef struct target {
    brant_window box;
    float low_m;
} target;

typedef struct corridor {
    target *targets; /* owned */
    size_t count;
    brant_window box; /* of all of them */
    float low_m;      /* lowest of all of them */
    double cell_m;    /* no step of one cell, in any direction, is shorter */
} corridor;

/* Targets from a field: its blocks of 64 x 64 cells, or only those in which `mask`
 * (a byte a cell of the field's window, NULL: all) has something. */
brant_status brant_corridor_of(brant_context *ctx, const brant_ground *ground,
                               const brant_field *field, const uint8_t *mask, corridor *out);
void brant_corridor_clear(corridor *c);

/* At least this many metres lie between the cells of two windows. */
double brant_corridor_gap(const corridor *c, const brant_window *a, const brant_window *b);

/* Can an energy line from `high_m` somewhere in `box`, falling with tangent
 * `tan_angle`, still be above the ground of a target? */
bool brant_corridor_within_reach(const corridor *c, const brant_window *box, float high_m,
                           double tan_angle);

/* The two questions of brant_corridor_squares: may a square matter, before its ground is read
 * (if it were as high as mountains get); and does it, `high_m` its highest ground (NaN: none). */
bool brant_corridor_may_want(const corridor *c, const brant_window *box, double rise_m,
                             double tan_angle);
bool brant_corridor_wants(const corridor *c, const brant_window *box, float high_m, double rise_m,
                          double tan_angle);
/* The highest ground in `box`, NaN if none is known; `buffer` has room for its cells. */
brant_status brant_square_high(brant_context *ctx, brant_source *source, const brant_window *box,
                               float *buffer, float *high_m);

/* The squares from which something that starts `rise_m` above the ground can reach:
 * `wanted`, squares.across*down flags, caller frees. Reads those that are near enough to
 * matter if they were as high as mountains get. */
brant_status brant_corridor_squares(brant_context *ctx, brant_source *source, const corridor *c,
                              const brant_squares *squares, double rise_m, double tan_angle,
                              bool **wanted);

#endif
