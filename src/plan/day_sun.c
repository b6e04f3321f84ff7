/* Clear-sky sun on the zones that legs meet, and their shelter from the wind. */
#include "day.h"

#include <math.h>
#include <stdlib.h>

/* A zone that is met. */
typedef struct met {
    const brant_zone *zone;
    double lon, lat;
    size_t first, passings; /* into sky.passing, once sorted */
} met;

/* A leg under, on, beside or remote from it. */
typedef struct passing {
    brant_above *above;
    size_t met;
    double until; /* the late pace has left the leg, UTC s */
} passing;

#define LONGEST_S (2 * 86400.0) /* of brant_sun_on_zone */

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
    /* by number: a tour may have copies of its zones */
    const brant_zone_set *set = &s->plan->zones;
    size_t zone = (size_t)(brant_zone_set_find(set, above->zone->number) - set->zones);
    if (met_of[zone] == 0) {
        s->met[s->met_count].zone = above->zone;
        met_of[zone] = ++s->met_count;
    }
    s->passing[s->passing_count++] = (passing){above, met_of[zone] - 1,
                                               isnan(until) ? INFINITY : until};
}

static int by_zone_and_time(const void *a, const void *b)
{
    const passing *x = a, *y = b;
    if (x->met != y->met)
        return x->met < y->met ? -1 : 1;
    return (x->until > y->until) - (x->until < y->until);
}

static void sort_passings(sky *s)
{
    if (s->passing_count > 0)
        qsort(s->passing, s->passing_count, sizeof *s->passing, by_zone_and_time);
    for (size_t i = s->passing_count; i-- > 0;) {
        met *m = &s->met[s->passing[i].met];
        m->first = i;
        m->passings++;
    }
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
    if (status == BRANT_OK)
        sort_passings(s);
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

/* From midnight to each passing. Those too far off are not sought, which is not 'none'. */
static brant_status sun_on(brant_context *ctx, const sky *s, const met *m,
                           const brant_zone_cell *cells, size_t count)
{
    double midnight = (double)brant_time_midnight(&s->request->day.start);
    double *until = brant_alloc(ctx, m->passings, sizeof *until);
    brant_sun_on *on = brant_alloc(ctx, m->passings, sizeof *on);
    brant_status status = until && on ? BRANT_OK : BRANT_ERR_MEMORY;
    size_t times = 0;
    while (status == BRANT_OK && times < m->passings &&
           s->passing[m->first + times].until - midnight <= LONGEST_S) {
        until[times] = s->passing[m->first + times].until;
        times++;
    }
    if (times > 0)
        brant_sun_on_zone_by(s->skyline, m->lon, m->lat, cells, count, m->zone->area_m2, midnight,
                             until, times, on);
    for (size_t i = 0; i < times; i++) {
        s->passing[m->first + i].above->sun = on[i];
        s->passing[m->first + i].above->sun_sought = true;
    }
    free(until);
    free(on);
    return status;
}

static brant_status look_at_zone(brant_context *ctx, void *user, int worker, int64_t item)
{
    const sky *s = user;
    const brant_day *day = &s->request->day;
    const met *m = &s->met[item];
    brant_zone_cell cells[BRANT_ZONE_CELLS];
    size_t count;
    (void)worker;
    brant_status status = brant_zone_cells(ctx, source_of(s), s->request->dem->ground,
                                           &s->plan->zones, m->zone, BRANT_ZONE_CELLS, cells,
                                           &count);
    if (status != BRANT_OK)
        return status;
    if (day->wind) {
        brant_shelter shelter = brant_zone_shelter(s->skyline, cells, count, day->wind);
        for (size_t i = m->first; i < m->first + m->passings; i++)
            s->passing[i].above->shelter = shelter;
    }
    if (day->start.has_offset)
        status = sun_on(ctx, s, m, cells, count);
    return status == BRANT_OK ? brant_check_stop(ctx) : status;
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
            status = brant_run(ctx, "sun and wind", (int64_t)s.met_count, look_at_zone, NULL, &s);
        for (size_t t = 0; t < plan->tour_count && status == BRANT_OK; t++)
            copy_governing(&plan->tours[t]);
    }
    brant_skyline_destroy(s.skyline);
    free(s.met);
    free(s.passing);
    return status;
}
