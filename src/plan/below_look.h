/* Reached cells of a leg's search, looked at for landforms. */
#ifndef BRANT_PLAN_BELOW_LOOK_H
#define BRANT_PLAN_BELOW_LOOK_H

#include "brant/plan.h"

/* A cell reached, or a start. */
typedef struct reached {
    int col, row;
    float run_m;
    float from_m; /* the highest ground that its piece of the leg stands on */
} reached;

/* Runs of cells where a cliff may be and is not known. Owned. */
typedef struct unknown_runs {
    float *run_m;
    size_t count, capacity;
} unknown_runs;

/* The ground around the reached cells. Zero to start. */
typedef struct look {
    brant_relief relief;
    float *elevation;
    uint8_t *path;   /* 1: reached */
    uint8_t *unsure; /* 1: unknown ground has a part in the cell's flow */
} look;

/* Read the ground of `count` cells, 1 or more, and around them; `box` holds them. To be
 * closed whatever the status. */
brant_status brant_look_open(brant_context *ctx, brant_source *source, const brant_ground *ground,
                             const brant_window *box, const reached *cells, size_t count, look *l);
void brant_look_close(look *l);
/* Sort the cells by their run, and enter the first of each landform into `below`, and into
 * `unknown` what is not known, up to the first cliff. Calls for several sets of cells add
 * up, in any order. */
brant_status brant_look_down(brant_context *ctx, look *l, reached *cells, size_t count,
                             brant_below *below, unknown_runs *unknown);
/* Enter what lies at `run_m`, if nothing of its kind is nearer. */
void brant_below_found(brant_below *below, brant_below_kind kind, float run_m);
/* The nearest known landform, metres; NaN none. */
float brant_below_first_known(const brant_below *below);

#endif
