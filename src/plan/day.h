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

#endif
