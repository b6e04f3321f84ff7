/* Clear-sky sun on the zones that legs meet, and their shelter from the wind. */
#include "day.h"

#include <math.h>
#include <stdlib.h>

/* A zone that is met: its cells and place. */
typedef struct met {
    const brant_zone *zone;
    double lon, lat;
    brant_zone_cell cells[BRANT_ZONE_CELLS];
    size_t count;
    brant_shelter shelter;
} met;

/* A leg under, on, beside or remote from it. */
typedef struct passing {
    brant_above *above;
    size_t met;
    double until; /* the late pace has left the leg, UTC s */
} passing;

typedef struct sky {
    const brant_plan_request *request;
    brant_plan *plan;
    met *met;
    size_t met_count;
    passing *passing;
    size_t passing_count;
    brant_skyline *skyline;
} sky;

static brant_source *source_of(const sky *s)
{
    return (brant_source *)&s->request->dem->source; /* reading changes nothing */
}

/* ---- which -------------------------------------------------------------- */

static bool counts(const sky *s, const brant_above *above)
{
    return above->on || above->edge || above->remote ||
           (double)above->reached_at_deg >=
               brant_zone_reach_angle(above->zone, s->request->meet.reach_angle_deg);
}

static void add_passing(sky *s, size_t *met_of, brant_above *above, double until)
{
    size_t zone = (size_t)(above->zone - s->plan->zones.zones);
    if (met_of[zone] == 0) {
        s->met[s->met_count].zone = above->zone;
        s->met[s->met_count].shelter.mean_deg = NAN;
        met_of[zone] = ++s->met_count;
    }
    s->passing[s->passing_count++] = (passing){above, met_of[zone] - 1, until};
}

static size_t all_aboves(const brant_plan *plan)
{
    size_t count = 0;
    for (size_t t = 0; t < plan->tour_count; t++)
        count += plan->tours[t].above_count;
    return count;
}

static brant_status collect(brant_context *ctx, sky *s)
{
    const brant_plan *plan = s->plan;
    size_t most = all_aboves(plan);
    size_t *met_of = brant_alloc(ctx, plan->zones.count, sizeof *met_of); /* + 1; 0 none */
    s->met = brant_alloc(ctx, most < plan->zones.count ? most : plan->zones.count, sizeof *s->met);
    s->passing = brant_alloc(ctx, most, sizeof *s->passing);
    brant_status status = met_of && s->met && s->passing ? BRANT_OK : BRANT_ERR_MEMORY;
    for (size_t t = 0; t < plan->tour_count && status == BRANT_OK; t++) {
        brant_tour *tour = &plan->tours[t];
        for (size_t k = 0; k < tour->above_count; k++) {
            brant_above *above = &tour->above[k];
            const brant_leg *leg = &tour->legs[above->leg - 1];
            if (counts(s, above))
                add_passing(s, met_of, above,
                            (double)s->request->day.start.utc_s + BRANT_LATE * leg->leave_s);
        }
    }
    free(met_of);
    return status;
}

/* ---- how ---------------------------------------------------------------- */

/* The ground around all the zones that are met: 25 km for the sun, for the wind alone as
 * far as it is looked for. */
static brant_status raise_skyline(brant_context *ctx, sky *s)
{
    const brant_day *day = &s->request->day;
    brant_window box = {0};
    brant_locator *locator = NULL;
    for (size_t i = 0; i < s->met_count; i++)
        box = brant_window_union(box, s->met[i].zone->box);
    brant_status status =
        brant_skyline_create(ctx, source_of(s), s->request->dem->ground, &box,
                             day->start.has_offset ? BRANT_RELIEF_REACH : day->wind->distance_m,
                             &s->skyline);
    if (status == BRANT_OK)
        status = brant_locator_create(ctx, s->request->dem->name, &s->request->dem->grid,
                                      &locator);
    for (size_t i = 0; i < s->met_count && status == BRANT_OK; i++)
        brant_locator_to_lonlat(locator, s->met[i].zone->high_col + 0.5,
                                s->met[i].zone->high_row + 0.5, &s->met[i].lon, &s->met[i].lat);
    brant_locator_destroy(locator);
    return status;
}

static brant_status look_at_zone(brant_context *ctx, void *user, int worker, int64_t item)
{
    sky *s = user;
    met *m = &s->met[item];
    (void)worker;
    brant_status status =
        brant_zone_cells(ctx, source_of(s), s->request->dem->ground, &s->plan->zones, m->zone,
                         BRANT_ZONE_CELLS, m->cells, &m->count);
    if (status == BRANT_OK && s->request->day.wind)
        m->shelter = brant_zone_shelter(s->skyline, m->cells, m->count, s->request->day.wind);
    return status;
}

static brant_status look_at_sun(brant_context *ctx, void *user, int worker, int64_t item)
{
    sky *s = user;
    passing *p = &s->passing[item];
    const met *m = &s->met[p->met];
    double midnight = (double)brant_time_midnight(&s->request->day.start);
    (void)worker;
    p->above->shelter = m->shelter;
    if (!s->request->day.start.has_offset)
        return BRANT_OK;
    /* past two days a sun is not looked for, and not 'none': it stays unsought */
    if (!(p->until - midnight <= 2 * 86400.0))
        return BRANT_OK;
    brant_sun_on_zone(s->skyline, m->lon, m->lat, m->cells, m->count, m->zone->area_m2, midnight,
                      p->until, &p->above->sun);
    p->above->sun_sought = true;
    return brant_check_stop(ctx);
}

static void copy_governing(brant_tour *tour)
{
    for (size_t i = 0; i < tour->leg_count; i++) {
        brant_leg *leg = &tour->legs[i];
        for (size_t k = 0; k < leg->aboves; k++) {
            const brant_above *above = &tour->above[leg->first_above + k];
            if (above->zone == leg->governing) {
                leg->sun_sought = above->sun_sought;
                leg->sun = above->sun;
                leg->shelter = above->shelter;
            }
        }
    }
}

brant_status brant_day_sun(brant_context *ctx, const brant_plan_request *request,
                           brant_plan *plan)
{
    sky s = {.request = request, .plan = plan};
    if (!request->day.start.has_offset && !request->day.wind)
        return BRANT_OK;
    brant_status status = collect(ctx, &s);
    if (status == BRANT_OK && s.met_count > 0) {
        status = raise_skyline(ctx, &s);
        if (status == BRANT_OK)
            status = brant_run(ctx, "zones met", (int64_t)s.met_count, look_at_zone, NULL, &s);
        if (status == BRANT_OK)
            status = brant_run(ctx, "sun and wind", (int64_t)s.passing_count, look_at_sun, NULL,
                               &s);
        for (size_t t = 0; t < plan->tour_count && status == BRANT_OK; t++)
            copy_governing(&plan->tours[t]);
    }
    brant_skyline_destroy(s.skyline);
    free(s.met);
    free(s.passing);
    return status;
}
