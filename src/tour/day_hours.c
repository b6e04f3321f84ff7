/* The hours of a tour: when each leg is reached and left, and when to leave a place to
 * wait. */
#include "day.h"

#include <math.h>
#include <stdlib.h>

/* ---- times -------------------------------------------------------------- */

/* What brant_pace_times asks for, from the tour. */
typedef struct profile {
    double *along_m;
    float *elevation_m;
    bool *first;
} profile;

static brant_status take_profile(brant_context *ctx, const brant_tour *tour, profile *p)
{
    size_t count = tour->track.count;
    p->along_m = brant_alloc(ctx, count, sizeof *p->along_m);
    p->elevation_m = brant_alloc(ctx, count, sizeof *p->elevation_m);
    p->first = brant_alloc(ctx, count, sizeof *p->first);
    if (!p->along_m || !p->elevation_m || !p->first)
        return BRANT_ERR_MEMORY;
    for (size_t i = 0; i < count; i++) {
        p->along_m[i] = tour->track.samples[i].along_m;
        p->elevation_m[i] = tour->facts[i].elevation_m;
        p->first[i] = tour->track.samples[i].first;
    }
    return BRANT_OK;
}

brant_status brant_day_hours(brant_context *ctx, const brant_meeting *meeting, brant_tour *tour)
{
    const brant_day *day = meeting->day;
    size_t count = tour->track.count;
    brant_pace_sums sums;
    profile p = {0};
    if (!day->start.has_offset || count == 0)
        return BRANT_OK;
    brant_status status = take_profile(ctx, tour, &p);
    tour->seconds = brant_alloc(ctx, count, sizeof *tour->seconds);
    if (!tour->seconds)
        status = BRANT_ERR_MEMORY;
    if (status == BRANT_OK)
        status = brant_pace_times(ctx, &day->pace, count, p.along_m, p.elevation_m, p.first,
                                  tour->seconds, &sums);
    if (status == BRANT_OK) {
        tour->unknown_pace_m = sums.unknown_m;
        for (size_t i = 0; i < tour->leg_count; i++) {
            brant_leg *leg = &tour->legs[i];
            leg->arrive_s = brant_pace_at(count, p.along_m, tour->seconds, leg->from_m);
            leg->leave_s = brant_pace_at(count, p.along_m, tour->seconds, leg->to_m);
        }
    }
    free(p.along_m);
    free(p.elevation_m);
    free(p.first);
    return status;
}

unsigned brant_day_periods(const brant_day *day, const brant_tour *tour, double arrive_s,
                           double leave_s, double later_s)
{
    if (!tour->seconds)
        return BRANT_ALL_DAY;
    int64_t start = day->start.utc_s;
    return brant_periods_in(&day->start, day->later_from,
                            start + (int64_t)floor(later_s + arrive_s),
                            start + (int64_t)ceil(later_s + BRANT_LATE * leave_s));
}

/* ---- when to leave ------------------------------------------------------ */

/* Is a zone that the leg meets, or the leg's own ground, rated higher later on? */
static bool rises(const brant_meeting *meeting, const brant_tour *tour, const brant_leg *leg)
{
    const brant_bulletin *bulletin = meeting->day->bulletin;
    for (size_t k = 0; k < leg->aboves; k++) {
        const brant_above *above = &tour->above[leg->first_above + k];
        if (brant_above_counts(meeting, above) &&
            brant_level_rank(brant_day_zone(meeting, above->zone, BRANT_LATER).level) >
                brant_level_rank(brant_day_zone(meeting, above->zone, BRANT_EARLIER).level))
            return true;
    }
    for (size_t k = 0; k < leg->samples; k++) {
        const brant_fact *fact = &tour->facts[leg->first_sample + k];
        double aspect = (double)fact->aspect_deg, elevation = (double)fact->elevation_m;
        if (brant_level_rank(brant_bulletin_at(bulletin, aspect, elevation, BRANT_LATER).level) >
            brant_level_rank(brant_bulletin_at(bulletin, aspect, elevation, BRANT_EARLIER).level))
            return true;
    }
    return false;
}

/* The last sample of the stretch after `wait` on a leg that is rated higher later on;
 * SIZE_MAX if there is none. */
static size_t last_rising(const brant_meeting *meeting, const brant_tour *tour, size_t wait)
{
    size_t last = SIZE_MAX;
    for (size_t k = 0; k < tour->stretch_count; k++) {
        const brant_stretch *stretch = &tour->stretches[k];
        if (stretch->before != wait)
            continue;
        for (size_t i = 0; i < tour->leg_count; i++) {
            const brant_leg *leg = &tour->legs[i];
            if (leg->from_m >= stretch->from_m && leg->to_m <= stretch->to_m &&
                leg->kind != BRANT_KIND_NONE_FOUND && rises(meeting, tour, leg))
                last = leg->first_sample + leg->samples - 1;
        }
    }
    return last;
}

void brant_day_leave(const brant_meeting *meeting, brant_tour *tour)
{
    const brant_day *day = meeting->day;
    if (!tour->seconds)
        return;
    for (size_t i = 0; i < tour->wait_count; i++) {
        brant_wait *wait = &tour->waits[i];
        size_t last = day->bulletin && day->later_from >= 0 ? last_rising(meeting, tour, i)
                                                            : SIZE_MAX;
        if (!isnan(day->out_by))
            wait->leave_by_utc = brant_latest_leave(tour->seconds, wait->sample,
                                                    tour->track.count - 1, day->out_by);
        if (last != SIZE_MAX && last >= wait->sample) {
            double by = (double)(brant_time_midnight(&day->start) + day->later_from * 60);
            wait->leave_by_utc = /* fmin passes NaN over */
                fmin(wait->leave_by_utc,
                     brant_latest_leave(tour->seconds, wait->sample, last, by));
        }
    }
}
