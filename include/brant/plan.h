/* plan: the stages joined, for one tour. */
#ifndef BRANT_PLAN_H
#define BRANT_PLAN_H

#include "brant/report.h"

typedef struct brant_plan_request {
    const brant_dem *dem;
    const brant_gpx *gpx;
    const char *gpx_name;
    brant_zone_file *zones;   /* zones made before; NULL: its own */
    const char *zones_name;
    brant_zone_options zone;
    brant_reach_options reach;
    brant_meet_options meet;
    float void_rise_m;
    double map_margin_m;      /* the window of rasters: the routes' box and this around it */
    bool shadow_everywhere;   /* the runout shadow over that whole window, not on the route alone */
} brant_plan_request;

/* Everything that the outputs are written from; owned. */
typedef struct brant_plan {
    brant_window window;      /* of field and shadow */
    brant_field field;
    brant_zone_set zones;     /* of all squares read */
    brant_shadow shadow;
    brant_hit *hits;
    size_t hit_count;
    brant_tour *tours;
    size_t tour_count;
    size_t zones_searched;
    uint64_t visits;
} brant_plan;

brant_status brant_plan_run(brant_context *ctx, const brant_plan_request *request,
                            brant_plan *plan);
void brant_plan_clear(brant_plan *plan);

#endif
