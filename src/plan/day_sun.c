/* Clear-sky sun on the zones that legs meet, and their shelter from the wind. */
#include "day.h"

#include <math.h>
#include <stdlib.h>

/* What is known of a zone, once a leg has met it. */
typedef struct zone_sky {
    double lon, lat;         /* of its highest cell */
    bool looked_at;          /* place and shelter are known */
    brant_shelter shelter;
    brant_sun_course course; /* from midnight on */
} zone_sky;

/* A leg under, on, beside or remote from it. */
typedef struct passing {
    brant_above *above;
    size_t zone;
    double until; /* the late pace has left the leg, UTC s */
} passing;

#define LONGEST_S (2 * 86400.0) /* of brant_sun_course_follow */

struct brant_sky {
    const brant_plan_request *request;
    const brant_zone_set *zones;
    zone_sky *of_zone;   /* by index in zones */
    brant_window around; /* of the skyline, at least */
    brant_skyline *skyline;
    brant_locator *locator;
    passing *passing;    /* of the tours at hand */
    size_t passing_count;
    size_t *met;         /* the first passing of each zone they meet, and the end */
    size_t met_count;
};

static brant_source *source_of(const brant_sky *s)
{
    return (brant_source *)&s->request->dem->source; /* reading changes nothing */
}

/* ---- which -------------------------------------------------------------- */

static bool counts(const brant_sky *s, const brant_above *above)
{
    return above->on || above->edge || above->remote ||
           (double)above->reached_at_deg >=
               brant_zone_reach_angle(above->zone, s->request->meet.reach_angle_deg);
}

static void add_passing(brant_sky *s, brant_above *above, const brant_leg *leg)
{
    /* by number: a tour may have copies of its zones */
    size_t zone = (size_t)(brant_zone_set_find(s->zones, above->zone->number) - s->zones->zones);
    double until = (double)s->request->day.start.utc_s + BRANT_LATE * leg->leave_s;
    s->passing[s->passing_count++] = (passing){above, zone, isnan(until) ? INFINITY : until};
}

static int by_zone_and_time(const void *a, const void *b)
{
    const passing *x = a, *y = b;
    if (x->zone != y->zone)
        return x->zone < y->zone ? -1 : 1;
    return (x->until > y->until) - (x->until < y->until);
}

static void list_met(brant_sky *s)
{
    if (s->passing_count > 0)
        qsort(s->passing, s->passing_count, sizeof *s->passing, by_zone_and_time);
    for (size_t i = 0; i < s->passing_count; i++)
        if (i == 0 || s->passing[i].zone != s->passing[i - 1].zone)
            s->met[s->met_count++] = i;
    s->met[s->met_count] = s->passing_count;
}

static brant_status collect(brant_context *ctx, brant_sky *s, brant_tour *tours, size_t count)
{
    size_t most = 0;
    for (size_t t = 0; t < count; t++)
        most += tours[t].above_count;
    s->passing_count = s->met_count = 0;
    s->passing = brant_alloc(ctx, most, sizeof *s->passing);
    s->met = brant_alloc(ctx, most + 1, sizeof *s->met);
    if (!s->passing || !s->met)
        return BRANT_ERR_MEMORY;
    for (size_t t = 0; t < count; t++)
        for (size_t k = 0; k < tours[t].above_count; k++) {
            brant_above *above = &tours[t].above[k];
            if (counts(s, above))
                add_passing(s, above, &tours[t].legs[above->leg - 1]);
        }
    list_met(s);
    return BRANT_OK;
}

/* ---- the ground around --------------------------------------------------- */

static bool is_within(const brant_window *inner, const brant_window *outer)
{
    brant_window both = brant_window_union(*inner, *outer);
    return both.col == outer->col && both.row == outer->row && both.cols == outer->cols &&
           both.rows == outer->rows;
}

/* The ground around all the zones that are met: 25 km for the sun, for the wind alone as
 * far as it is looked for. What is told of a zone does not depend on how much it is. */
static brant_status raise_skyline(brant_context *ctx, brant_sky *s)
{
    const brant_day *day = &s->request->day;
    brant_window box = {0};
    for (size_t i = 0; i < s->met_count; i++)
        box = brant_window_union(box, s->zones->zones[s->passing[s->met[i]].zone].box);
    if (s->skyline && is_within(&box, &s->around))
        return BRANT_OK;
    brant_skyline_destroy(s->skyline);
    s->skyline = NULL;
    s->around = brant_window_union(s->around, box);
    return brant_skyline_create(ctx, source_of(s), s->request->dem->ground, &s->around,
                                day->start.has_offset ? BRANT_RELIEF_REACH : day->wind->distance_m,
                                &s->skyline);
}

/* ---- how ---------------------------------------------------------------- */

/* The latest passing of which sun is sought; false: none. Those too far off are not sought,
 * which is not 'none'. */
static bool last_sought(const brant_sky *s, size_t first, size_t end, double *until)
{
    double midnight = (double)brant_time_midnight(&s->request->day.start);
    while (end > first && !(s->passing[end - 1].until - midnight <= LONGEST_S))
        end--;
    *until = end > first ? s->passing[end - 1].until : NAN;
    return end > first;
}

/* What the passings first..end-1 of a zone need to be known of it. */
static brant_status look_at_zone(brant_context *ctx, const brant_sky *s, size_t first, size_t end)
{
    const brant_day *day = &s->request->day;
    const brant_zone *zone = &s->zones->zones[s->passing[first].zone];
    zone_sky *of = &s->of_zone[s->passing[first].zone];
    brant_zone_cell cells[BRANT_ZONE_CELLS];
    size_t count;
    double until;
    bool sought = day->start.has_offset && last_sought(s, first, end, &until);
    if (of->looked_at && !(sought && until > of->course.from + 60.0 * of->course.minutes))
        return BRANT_OK;
    brant_status status = brant_zone_cells(ctx, source_of(s), s->request->dem->ground, s->zones,
                                           zone, BRANT_ZONE_CELLS, cells, &count);
    if (status != BRANT_OK)
        return status;
    if (day->wind && !of->looked_at)
        of->shelter = brant_zone_shelter(s->skyline, cells, count, day->wind);
    of->looked_at = true;
    if (!sought)
        return BRANT_OK;
    return brant_sun_course_follow(ctx, s->skyline, of->lon, of->lat, cells, count, zone->area_m2,
                                   until, &of->course);
}

static brant_status look_at_met(brant_context *ctx, void *user, int worker, int64_t item)
{
    const brant_sky *s = user;
    size_t first = s->met[item], end = s->met[item + 1];
    const zone_sky *of = &s->of_zone[s->passing[first].zone];
    double until;
    (void)worker;
    brant_status status = look_at_zone(ctx, s, first, end);
    if (status != BRANT_OK)
        return status;
    for (size_t i = first; i < end; i++) {
        brant_above *above = s->passing[i].above;
        above->shelter = s->request->day.wind ? of->shelter : above->shelter;
        above->sun_sought = s->request->day.start.has_offset &&
                            last_sought(s, i, i + 1, &until);
        if (above->sun_sought)
            brant_sun_course_until(&of->course, until, &above->sun);
    }
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

/* ---- all of it ---------------------------------------------------------- */

brant_status brant_sky_create(brant_context *ctx, const brant_plan_request *request,
                              const brant_zone_set *zones, const brant_window *around,
                              brant_sky **sky)
{
    *sky = NULL;
    if (!request->day.start.has_offset && !request->day.wind)
        return BRANT_OK;
    brant_sky *s = brant_alloc(ctx, 1, sizeof *s);
    if (!s)
        return BRANT_ERR_MEMORY;
    s->request = request;
    s->zones = zones;
    s->around = *around;
    s->of_zone = brant_alloc(ctx, zones->count, sizeof *s->of_zone);
    brant_status status = s->of_zone ? BRANT_OK : BRANT_ERR_MEMORY;
    if (status == BRANT_OK)
        status = brant_locator_create(ctx, request->dem->name, &request->dem->grid, &s->locator);
    if (status != BRANT_OK) {
        brant_sky_destroy(s);
        return status;
    }
    *sky = s;
    return BRANT_OK;
}

void brant_sky_destroy(brant_sky *s)
{
    if (!s)
        return;
    for (size_t i = 0; s->of_zone && i < s->zones->count; i++)
        brant_sun_course_clear(&s->of_zone[i].course);
    free(s->of_zone);
    brant_skyline_destroy(s->skyline);
    brant_locator_destroy(s->locator);
    free(s);
}

/* Where the zones that are new are. */
static void place_zones(brant_sky *s)
{
    for (size_t i = 0; i < s->met_count; i++) {
        const brant_zone *zone = &s->zones->zones[s->passing[s->met[i]].zone];
        zone_sky *of = &s->of_zone[s->passing[s->met[i]].zone];
        if (of->looked_at)
            continue;
        of->course.from = (double)brant_time_midnight(&s->request->day.start);
        brant_locator_to_lonlat(s->locator, zone->high_col + 0.5, zone->high_row + 0.5, &of->lon,
                                &of->lat);
    }
}

brant_status brant_sky_look(brant_context *ctx, brant_sky *s, brant_tour *tours, size_t count)
{
    if (!s)
        return BRANT_OK;
    brant_status status = collect(ctx, s, tours, count);
    if (status == BRANT_OK && s->met_count > 0) {
        place_zones(s);
        status = raise_skyline(ctx, s);
        if (status == BRANT_OK)
            status = brant_run(ctx, "sun and wind", (int64_t)s->met_count, look_at_met, NULL, s);
        for (size_t t = 0; t < count && status == BRANT_OK; t++)
            copy_governing(&tours[t]);
    }
    free(s->passing);
    free(s->met);
    s->passing = NULL;
    s->met = NULL;
    return status;
}

brant_status brant_day_sun(brant_context *ctx, const brant_plan_request *request,
                           brant_plan *plan)
{
    brant_sky *sky;
    brant_window around = {0};
    brant_status status = brant_sky_create(ctx, request, &plan->zones, &around, &sky);
    if (status == BRANT_OK)
        status = brant_sky_look(ctx, sky, plan->tours, plan->tour_count);
    brant_sky_destroy(sky);
    return status;
}
