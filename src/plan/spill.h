/* A shadow larger than memory: tiles of a block's size, as many in memory as a budget
 * allows, the others in a scratch file. What is added commutes, so that neither the budget
 * nor the order leaves a trace. Private to the room. */
#ifndef BRANT_PLAN_SPILL_H
#define BRANT_PLAN_SPILL_H

#include "brant/plan.h"

typedef struct spill spill;

/* For a whole grid. `path`: where the scratch file may be made, in a folder of the run's
 * own; it is made when the budget is first exceeded, and has no name from then on. */
brant_status brant_spill_create(brant_context *ctx, const brant_grid *grid,
                                double reach_angle_deg, size_t budget_bytes, const char *path,
                                spill **out);
void brant_spill_destroy(spill *s); /* NULL allowed */

/* A zone's search, as brant_shadow_add_at; `zone` 0: a search from the unknown. Any
 * thread. */
brant_status brant_spill_add(brant_context *ctx, spill *s, uint32_t zone, double reach_angle_deg,
                             const brant_reach_result *result);

/* What is known of `piece`, which `shadow` (of that size or larger) is to cover: its window
 * is set. One thread, once all is added. */
brant_status brant_spill_read(brant_context *ctx, spill *s, const brant_window *piece,
                              brant_shadow *shadow);

#endif
