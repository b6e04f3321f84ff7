/* The ground in pages: elevation and direction of flow. */
#ifndef BRANT_RUNOUT_FLOW_H
#define BRANT_RUNOUT_FLOW_H

#include "brant/runout.h"

#define PAGE_SHIFT 7
#define PAGE (1 << PAGE_SHIFT) /* cells along a page's side */
#define PAGE_CELLS (PAGE * PAGE)
#define PAGE_MASK (PAGE - 1)

typedef struct flow_page {
    float elevation[PAGE_CELLS]; /* metres; NaN void or outside the grid */
    /* Unit vector down the fall line, true east and north; 0, 0 where the ground
     * is gentler than FLOW_SLOPE_DEG or its slope is unknown. */
    float east[PAGE_CELLS], north[PAGE_CELLS];
} flow_page;

/* Below this the ground does not turn snow: it keeps its direction of travel. */
#define FLOW_SLOPE_DEG 10.0

/* Pin the page (page column, page row >= 0); computed on first use. Pair with
 * brant_flow_unpin. Any thread. */
brant_status brant_flow_pin(brant_context *ctx, brant_flow *flow, int pcol, int prow,
                      const flow_page **page);
void brant_flow_unpin(brant_flow *flow, int pcol, int prow);

const brant_ground *brant_flow_ground(const brant_flow *flow);
void brant_flow_size(const brant_flow *flow, int *cols, int *rows);

#endif
