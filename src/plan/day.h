/* What the day says of the zones around the routes. */
#ifndef BRANT_PLAN_DAY_H
#define BRANT_PLAN_DAY_H

#include "brant/plan.h"

/* plan->zone_danger: cell by cell over each zone that reaches the routes or has its box in
 * the plan's window. Nothing without a bulletin. */
brant_status brant_day_dangers(brant_context *ctx, const brant_plan_request *request,
                               brant_plan *plan);

/* Sun (with a start) and shelter (with a wind) of the zones that the legs meet. */
brant_status brant_day_sun(brant_context *ctx, const brant_plan_request *request,
                           brant_plan *plan);

/* The same for the tours of many plans over the same zones, some at a time: what is known of
 * a zone is kept, and is the same whatever else was asked for. `around`: cells around which
 * the ground is wanted in any case. NULL, if neither start nor wind is given; the zones must
 * outlive it. */
typedef struct brant_sky brant_sky;
brant_status brant_sky_create(brant_context *ctx, const brant_plan_request *request,
                              const brant_zone_set *zones, const brant_window *around,
                              brant_sky **sky);
brant_status brant_sky_look(brant_context *ctx, brant_sky *sky, brant_tour *tours, size_t count);
void brant_sky_destroy(brant_sky *sky);

#endif
