/* Searches from zones and from the rim of the unknown, over the threads. */
#ifndef BRANT_PLAN_SEARCHES_H
#define BRANT_PLAN_SEARCHES_H

#include "corridor.h"

/* For the ground that a plan's searches look at. A box of 20 km x 20 km at 10 m takes as long
 * with half of it; twice as much was 55 MiB for nothing. */
#define BRANT_FLOW_BUDGET ((size_t)64 << 20)

typedef struct searches {
    brant_source *source;
    const brant_ground *ground;
    brant_reach_options reach;
    float void_rise_m;
    double flattest_deg;          /* the lowest reach angle that a zone has of its own; 0: none */
    const corridor *corridor;     /* what the shadows are wanted on; NULL: everything */
    const bool *only;             /* zones to search, by place in the set; NULL: all */
    brant_zone_set *zones;        /* zones that are cut off by the unknown get their flag */
    const bool *wanted;           /* squares whose rims count; NULL: all */
    brant_shadow *shadow;         /* filled */
    const uint8_t *route;         /* cells of the shadow's window that hits are kept of, or NULL */
    brant_hit *hits;              /* filled: by row, column, zone; the caller frees */
    size_t hit_count, hit_capacity;
    size_t zones_searched;
    uint64_t visits;
} searches;

brant_status brant_searches_run(brant_context *ctx, searches *s);

#endif
