/* The shadow of a whole model in memory, which plans and runs in strips must agree with. */
#ifndef BRANT_TEST_PLAN_WHOLE_H
#define BRANT_TEST_PLAN_WHOLE_H

#include "../../src/plan/searches.h"

static inline void whole_shadow(brant_context *ctx, const brant_dem *dem, brant_zone_set *zones,
                                const brant_reach_options *reach, float void_rise_m,
                                brant_shadow *shadow)
{
    brant_window all = {0, 0, dem->grid.cols, dem->grid.rows};
    assert_int_equal(brant_shadow_create(ctx, &all, reach->reach_angle_deg, shadow), BRANT_OK);
    searches s = {.source = (brant_source *)&dem->source, .ground = dem->ground, .reach = *reach,
                  .void_rise_m = void_rise_m, .zones = zones, .shadow = shadow};
    assert_int_equal(brant_searches_run(ctx, &s), BRANT_OK);
}

#endif
