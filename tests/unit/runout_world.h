/* Surfaces given by formulas, laid on a grid, for the tests of the runout. */
#ifndef RUNOUT_WORLD_H
#define RUNOUT_WORLD_H

#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>
#include <cmocka.h>

#include "brant/runout.h"

#include <math.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#define RAD (M_PI / 180.0)

typedef struct world {
    brant_context ctx;
    brant_grid grid;
    brant_ground *ground;
    brant_source source;
    brant_flow *flow;
    float *z;
    brant_matrix m;      /* at the middle */
} world;

/* Height in metres at true east, north metres from the middle of the grid. */
typedef double (*surface)(const void *self, double east, double north);

/* Metres from the grid's middle to a cell's centre, true east and north. */
static inline void world_place(const world *w, int col, int row, double *east, double *north)
{
    double dc = col + 0.5 - w->grid.cols / 2.0, dr = row + 0.5 - w->grid.rows / 2.0;
    *east = w->m.col_east * dc + w->m.row_east * dr;
    *north = w->m.col_north * dc + w->m.row_north * dr;
}

static inline void world_open_on(world *w, const char *crs, const double transform[6], int cols,
                                 int rows, surface f, const void *self)
{
    memset(w, 0, sizeof *w);
    brant_context_init(&w->ctx);
    w->grid = (brant_grid){.cols = cols, .rows = rows, .crs = strdup(crs)};
    memcpy(w->grid.transform, transform, sizeof w->grid.transform);
    if (brant_ground_create(&w->ctx, "test", &w->grid, &w->ground) != BRANT_OK)
        fail_msg("%s", brant_message(&w->ctx));
    brant_ground_matrix(w->ground, cols / 2.0, rows / 2.0, &w->m);
    w->z = calloc((size_t)cols * (size_t)rows, sizeof(float));
    for (int r = 0; r < rows; r++)
        for (int c = 0; c < cols; c++) {
            double e, n;
            world_place(w, c, r, &e, &n);
            w->z[(size_t)r * (size_t)cols + (size_t)c] = (float)f(self, e, n);
        }
    brant_source_array(&w->source, w->z, cols, rows);
    assert_int_equal(brant_flow_create(&w->ctx, &w->source, w->ground, 64u << 20, &w->flow), BRANT_OK);
}

/* A square grid of UTM zone 32, centred on its central meridian at 46 N. */
static inline void world_open(world *w, double cell, int size, surface f, const void *self)
{
    double half = cell * size / 2.0;
    double transform[6] = {500000.0 - half, cell, 0.0, 5094000.0 + half, 0.0, -cell};
    world_open_on(w, "EPSG:32632", transform, size, size, f, self);
}

static inline void world_close(world *w)
{
    brant_flow_destroy(w->flow);
    brant_ground_destroy(w->ground);
    free(w->grid.crs);
    free(w->z);
    brant_context_clear(&w->ctx);
}

/* Search from the cells that `starts` picks; the result as a map of reached-at. */
typedef bool (*picker)(const void *self, double east, double north);

typedef struct outcome {
    float *reached; /* by cell, 0 not reached; caller frees */
    size_t count;
    uint64_t visits;
    bool truncated;
} outcome;

static inline outcome world_search_with(world *w, const brant_reach_options *options, picker pick,
                                        const void *self)
{
    int cols = w->grid.cols, rows = w->grid.rows;
    size_t cells = (size_t)cols * (size_t)rows, count = 0;
    brant_start *starts = calloc(cells, sizeof *starts);
    for (int r = 0; r < rows; r++)
        for (int c = 0; c < cols; c++) {
            double e, n;
            world_place(w, c, r, &e, &n);
            if (pick(self, e, n))
                starts[count++] = (brant_start){c, r, 0.0f};
        }
    brant_search *search;
    brant_reach_result result;
    outcome out = {.reached = calloc(cells, sizeof(float))};
    assert_int_equal(brant_search_create(&w->ctx, w->flow, options, &search), BRANT_OK);
    assert_int_equal(brant_search_run(&w->ctx, search, starts, count, &result), BRANT_OK);
    for (size_t i = 0; i < result.count; i++) {
        size_t at = (size_t)result.cells[i].row * (size_t)cols + (size_t)result.cells[i].col;
        assert_true(out.reached[at] == 0.0f); /* each cell once */
        assert_true((double)result.cells[i].reached_at_deg > options->floor_deg - 1e-4);
        out.reached[at] = result.cells[i].reached_at_deg;
    }
    out.count = result.count;
    out.visits = result.visits;
    out.truncated = result.truncated;
    brant_search_destroy(search);
    free(starts);
    return out;
}

static inline outcome world_search(world *w, picker pick, const void *self)
{
    brant_reach_options options = BRANT_REACH_OPTIONS_DEFAULT;
    return world_search_with(w, &options, pick, self);
}

#endif
