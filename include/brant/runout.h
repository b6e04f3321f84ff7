/* runout: what snow from release ground reaches before the energy line meets
 * the ground. One search is one zone, alone; a shadow is the union of searches,
 * by maximum, so that order, tiles and threads leave no trace. */
#ifndef BRANT_RUNOUT_H
#define BRANT_RUNOUT_H

#include "brant/terrain.h"

#pragma GCC visibility push(default)

typedef struct brant_reach_options {
    double reach_angle_deg; /* default 25: head and zones_above are for this angle */
    double spread_deg;      /* default 20: to each side of the flow; 180: every way, and
                               no flow is followed */
    double floor_deg;       /* default 18: searched down to this reach angle */
} brant_reach_options;

/* Where paths compete for a cell, the one wins that reaches furthest at this angle, whatever is
 * asked: so shadows nest. At other angles some of what is reached is missed. */
#define BRANT_RANK_DEG 25.0

#define BRANT_REACH_OPTIONS_DEFAULT ((brant_reach_options){BRANT_RANK_DEG, 20.0, 18.0})

/* The ground as the search wants it (elevation, direction of flow), computed
 * page by page from the source on first use and kept within a budget; shared by
 * all threads. */
typedef struct brant_flow brant_flow;
brant_status brant_flow_create(brant_context *ctx, brant_source *source,
                               const brant_ground *ground, size_t budget_bytes, brant_flow **flow);
void brant_flow_destroy(brant_flow *flow);
/* Elevations this many cells to each side, where cells are so long, have a part in the flow
 * of a cell. */
int brant_flow_around(double cell_m);

/* A cell that releases. */
typedef struct brant_start {
    int col, row;
    float rise_m; /* the energy line starts this far above the ground: 0 for snow */
} brant_start;

/* A cell reached. */
typedef struct brant_reached {
    int col, row;
    float reached_at_deg; /* floor..90; 90 on the starts themselves */
    float head_m;         /* energy line above ground at the reach angle; below 0
                             where reached_at is below the reach angle */
    float run_m;          /* metres run over the ground plan along the path that reaches
                             it at reached_at; 0 on the starts themselves */
} brant_reached;

/* Scratch for searches, one per thread. */
typedef struct brant_search brant_search;
brant_status brant_search_create(brant_context *ctx, brant_flow *flow,
                                 const brant_reach_options *options, brant_search **search);
void brant_search_destroy(brant_search *search);
/* Search with these options from now on, nothing carried or crossed. */
void brant_search_set(brant_search *search, const brant_reach_options *options);
/* Leave cells outside `window` out of results from now on; searches run over them all the
 * same. Without this every cell reached is in the result. */
void brant_search_keep(brant_search *search, const brant_window *window);
/* From now on results hold, as starts, the cells from which a path goes on into a void with its
 * energy line at the reach angle more than `above_m` over the ground: where the line is to be
 * taken up again, by a search every way that crosses voids. */
void brant_search_carry(brant_search *search, double above_m);
/* Let paths cross voids from now on, as if the ground there lay lower than any dry land. */
void brant_search_cross(brant_search *search);
/* One zone's search. Afterwards cells[0..count-1] are the cells reached, each
 * once, in an order that depends on the input alone; valid until the next run. */
typedef struct brant_reach_result {
    const brant_reached *cells;
    size_t count;
    uint64_t visits;  /* cells settled, all labels: the measure of work */
    bool truncated;   /* at the reach angle, it met a void or the raster's edge */
    const brant_start *cut; /* where it did, and how high its line was: see brant_search_carry */
    size_t cut_count;
} brant_reach_result;
brant_status brant_search_run(brant_context *ctx, brant_search *search, const brant_start *starts,
                              size_t count, brant_reach_result *result);

/* The union of shadows over a window. */
typedef struct brant_shadow {
    brant_window window;
    float *reached_at;      /* degrees; 0 not reached */
    float *head;            /* metres, the largest; 0 where reached_at is below the reach angle */
    uint32_t *zone;         /* reached at the steepest angle; of equals the lowest number */
    uint16_t *zones_above;  /* how many reach the cell at the reach angle; stays at 65535 */
    uint8_t *unknown_above; /* 1: a void or the raster's edge reaches it */
    double reach_angle_deg;
    pthread_mutex_t lock;   /* private */
} brant_shadow;

brant_status brant_shadow_create(brant_context *ctx, const brant_window *window,
                                 double reach_angle_deg, brant_shadow *shadow);
void brant_shadow_clear(brant_shadow *shadow);
/* Both may be called from any thread, in any order, with the same result. `reach_angle_deg` is
 * the shadow's or the zone's own, which its result was searched for. */
void brant_shadow_add_at(brant_shadow *shadow, uint32_t zone, double reach_angle_deg,
                         const brant_reach_result *result);
/* `reach_angle_deg` is the shadow's, or the lowest that a zone has of its own: a void may cut
 * its path, so the unknown reaches as far. */
void brant_shadow_add_unknown_at(brant_shadow *shadow, double reach_angle_deg,
                                 const brant_reach_result *result);

/* The rim of the unknown in a square: cells of known elevation with a void or
 * the raster's border beside them (corners too), as starts that rise `rise_m`
 * (default 300). To be searched with a spread of 180: what comes from there has no
 * known direction. `starts` is the caller's to free. */
#define BRANT_VOID_RISE 300.0f
brant_status brant_rim_starts(brant_context *ctx, brant_source *source,
                              const brant_window *square, float rise_m, brant_start **starts,
                              size_t *count);

#pragma GCC visibility pop

#endif
