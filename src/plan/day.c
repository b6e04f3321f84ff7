/* The bulletin's level of each zone, from its cells. */
#include "day.h"

#include <stdlib.h>

typedef struct rating {
    brant_source *source;
    const brant_ground *ground;
    const brant_bulletin *bulletin;
    brant_plan *plan;
    const bool *near;
} rating;

static bool *find_near(brant_context *ctx, const brant_plan *plan)
{
    const brant_zone_set *set = &plan->zones;
    bool *near = brant_alloc(ctx, set->count, sizeof *near);
    if (!near)
        return NULL;
    for (size_t i = 0; i < set->count; i++)
        near[i] = brant_window_common(&set->zones[i].box, &plan->window).cols > 0;
    for (size_t i = 0; i < plan->hit_count; i++) {
        const brant_zone *zone = brant_zone_set_find(set, plan->hits[i].zone);
        if (zone)
            near[zone - set->zones] = true;
    }
    return near;
}

/* Each cell stands for the same area: within a zone they differ by less than a thousandth. */
static brant_status rate_zone(brant_context *ctx, void *user, int worker, int64_t item)
{
    rating *r = user;
    const brant_zone *zone = &r->plan->zones.zones[item];
    const brant_window *box = &zone->box;
    brant_danger_tally tally = {0};
    brant_field field;
    (void)worker;
    if (!r->near[item])
        return BRANT_OK;
    brant_status status = brant_field_read(ctx, r->source, r->ground, box, false, &field);
    if (status != BRANT_OK)
        return status;
    for (int row = 0; row < box->rows; row++)
        for (int col = 0; col < box->cols; col++) {
            size_t at = (size_t)row * (size_t)box->cols + (size_t)col;
            if (brant_zone_set_at(&r->plan->zones, box->col + col, box->row + row) ==
                zone->number)
                brant_danger_add(&tally, r->bulletin, (double)field.aspect[at],
                                 (double)field.elevation[at], zone->area_m2 / zone->cells);
        }
    for (int p = 0; p < BRANT_PERIODS; p++)
        r->plan->zone_danger[item][p] = brant_danger_of(&tally, BRANT_EARLIER << p);
    brant_field_clear(&field);
    return BRANT_OK;
}

brant_status brant_day_dangers(brant_context *ctx, const brant_plan_request *request,
                               brant_plan *plan)
{
    if (!request->day.bulletin)
        return BRANT_OK;
    bool *near = find_near(ctx, plan);
    plan->zone_danger = brant_alloc(ctx, plan->zones.count, sizeof *plan->zone_danger);
    brant_status status = near && plan->zone_danger ? BRANT_OK : BRANT_ERR_MEMORY;
    rating r = {.source = (brant_source *)&request->dem->source, /* reading changes nothing */
                .ground = request->dem->ground, .bulletin = request->day.bulletin, .plan = plan,
                .near = near};
    if (status == BRANT_OK)
        status = brant_run(ctx, "levels", (int64_t)plan->zones.count, rate_zone, NULL, &r);
    free(near);
    return status;
}
