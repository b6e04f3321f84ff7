/* What lies below the legs of tours. */
#ifndef BRANT_PLAN_BELOW_H
#define BRANT_PLAN_BELOW_H

#include "brant/plan.h"

/* Fill in leg->below of `count` tours: searches at the reach angle, or a
 * lower one that a zone which the leg meets has of its own, over the threads; from as
 * high as the head in `shadow`, which covers the routes. */
brant_status brant_below_run(brant_context *ctx, brant_source *source, const brant_ground *ground,
                             const brant_reach_options *reach, const brant_shadow *shadow,
                             brant_tour *tours, size_t count);

#endif
