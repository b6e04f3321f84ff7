/* Legs: a route cut where its kind changes, and what each stretch amounts to. */
#include "legs.h"
#include "place.h"

#include <math.h>
#include <stdlib.h>

#define ON_RELEASE (BRANT_IS(BRANT_KIND_CROSSES) | BRANT_IS(BRANT_KIND_OVER_BAND))

/* ---- cutting ------------------------------------------------------------ */

/* True if samples i - 1 and i are neighbours on one segment. */
static bool joined(const brant_track *track, size_t i)
{
    return i > 0 && i < track->count && !track->samples[i].first;
}

/* Half-way between samples i - 1 and i, from the route's start. */
static double middle_m(const brant_track *track, size_t i)
{
    double before = track->samples[i - 1].along_m;
    return before + (track->samples[i].along_m - before) / 2;
}

/* Where a leg that starts (`i` its first sample) or ends (`i` the first sample
 * after it) does so: half-way, or at the segment's end point `end`. */
static double boundary(const brant_track *track, size_t i, size_t end, double *lon, double *lat)
{
    const brant_sample *at = &track->samples[end];
    *lon = at->lon;
    *lat = at->lat;
    if (!joined(track, i))
        return at->along_m;
    const brant_sample *a = &track->samples[i - 1], *b = &track->samples[i];
    brant_geodesic_point(a->lon, a->lat, b->lon, b->lat, (b->along_m - a->along_m) / 2, lon, lat);
    return middle_m(track, i);
}

double brant_sample_metres(const brant_track *track, size_t i)
{
    double at = track->samples[i].along_m;
    double from = joined(track, i) ? middle_m(track, i) : at;
    double to = joined(track, i + 1) ? middle_m(track, i + 1) : at;
    return to - from;
}

static void place_leg(const brant_track *track, brant_leg *leg)
{
    size_t first = leg->first_sample, after = first + leg->samples;
    leg->from_m = boundary(track, first, first, &leg->from_lon, &leg->from_lat);
    leg->to_m = boundary(track, after, after - 1, &leg->to_lon, &leg->to_lat);
}

/* Runs of equal kinds, a leg each. */
static brant_status cut_runs(brant_context *ctx, const brant_kind *kinds, brant_tour *tour)
{
    size_t capacity = 0;
    for (size_t i = 0; i < tour->track.count; i++) {
        if (joined(&tour->track, i) && kinds[i] == kinds[i - 1]) {
            tour->legs[tour->leg_count - 1].samples++;
            continue;
        }
        brant_status status = brant_grow(ctx, &tour->legs, &capacity, tour->leg_count + 1,
                                         sizeof *tour->legs);
        if (status)
            return status;
        tour->legs[tour->leg_count] = (brant_leg){.number = (uint32_t)(tour->leg_count + 1),
                                                  .kind = kinds[i],
                                                  .first_sample = i,
                                                  .samples = 1,
                                                  .limit = {.limit_deg = NAN,
                                                            .steepest_deg = NAN},
                                                  .arrive_s = NAN,
                                                  .leave_s = NAN,
                                                  .sun = BRANT_NO_SUN,
                                                  .shelter = {.mean_deg = NAN}};
        tour->leg_count++;
    }
    return BRANT_OK;
}

brant_status brant_legs_cut(brant_context *ctx, const brant_meeting *meeting, brant_tour *tour)
{
    const brant_track *track = &tour->track;
    brant_kind *kinds = brant_alloc(ctx, track->count, sizeof *kinds);
    if (!kinds)
        return BRANT_ERR_MEMORY;
    for (size_t i = 0; i < track->count; i++)
        kinds[i] = tour->facts[i].kind;
    /* a drawn line is good to the edge's width on either side */
    brant_status status = brant_legs_fill_dips(ctx, track, 2.0 * meeting->options.edge_m, kinds);
    if (status == BRANT_OK)
        status = cut_runs(ctx, kinds, tour);
    for (size_t i = 0; i < tour->leg_count; i++)
        place_leg(track, &tour->legs[i]);
    free(kinds);
    return status;
}

/* ---- measuring ---------------------------------------------------------- */

/* Keep the steepest sample's slope and aspect, and the elevations' range. */
static void add_ground(brant_leg *leg, const brant_fact *fact)
{
    if (fact->slope_deg > leg->steepest_deg || (isnan(leg->steepest_deg))) {
        leg->steepest_deg = fact->slope_deg;
        leg->aspect_deg = fact->aspect_deg;
    }
    leg->low_m = fminf(leg->low_m, fact->elevation_m); /* fminf passes NaN over */
    leg->high_m = fmaxf(leg->high_m, fact->elevation_m);
}

/* Standard error of the slope at a sample's cell, degrees; NaN not known. */
static double slope_error(const brant_meeting *meeting, const brant_place *place,
                          const brant_fact *fact)
{
    brant_matrix m;
    brant_ground_matrix(meeting->ground, place->col + 0.5, place->row + 0.5, &m);
    return brant_slope_error(&m, (double)fact->slope_deg, (double)fact->aspect_deg,
                             meeting->options.vertical_error_m);
}

static void add_metres(const brant_meeting *meeting, const brant_sample *sample,
                       const brant_fact *fact, double metres, brant_leg *leg, brant_tour *tour)
{
    static const float angles[3] = {30, 25, 20};
    brant_place place;
    brant_place_of(meeting, sample, &place);
    double error = place.on_earth ? slope_error(meeting, &place, fact) : (double)NAN;
    if (fact->slope_deg == leg->steepest_deg && isnan(leg->steepest_error_deg))
        leg->steepest_error_deg = (float)error;
    double steeper = isnan(error) ? BRANT_STEEPER_DEG : error;
    if (!(fact->is & ON_RELEASE) &&
        (double)fact->slope_deg + steeper >= (double)meeting->options.band.low)
        tour->steeper_m += metres;
    bool on = place.on_earth && brant_cell_releases(meeting, place.col, place.row);
    for (int i = 0; i < 3; i++)
        if (on || fact->reached_at_deg >= angles[i])
            leg->reached_m[i] += metres;
    if (fact->is & BRANT_UNKNOWN_ABOVE)
        leg->unknown_above_m += metres;
    for (int bit = 0; bit <= BRANT_KINDS; bit++)
        if (fact->is & BRANT_IS(bit))
            tour->is_metres[bit] += metres;
}

static int by_number(const void *a, const void *b)
{
    uint32_t x, y;
    x = *(const uint32_t *)a;
    y = *(const uint32_t *)b;
    return (x > y) - (x < y);
}

/* The number that occurs most often; of equals the lowest; 0 is none. Sorts. */
static uint32_t most_frequent(uint32_t *numbers, size_t count)
{
    size_t most = 0;
    uint32_t best = 0;
    qsort(numbers, count, sizeof *numbers, by_number);
    for (size_t first = 0, next; first < count; first = next) {
        for (next = first; next < count && numbers[next] == numbers[first];)
            next++;
        if (numbers[first] > 0 && next - first > most) {
            most = next - first;
            best = numbers[first];
        }
    }
    return best;
}

static void measure(const brant_meeting *meeting, brant_tour *tour, brant_leg *leg,
                    uint32_t *numbers)
{
    leg->steepest_deg = leg->aspect_deg = leg->low_m = leg->high_m = NAN;
    leg->steepest_error_deg = NAN;
    for (size_t k = 0; k < leg->samples; k++)
        add_ground(leg, &tour->facts[leg->first_sample + k]);
    for (size_t k = 0; k < leg->samples; k++) {
        size_t i = leg->first_sample + k;
        const brant_fact *fact = &tour->facts[i];
        leg->is |= fact->is;
        numbers[k] = fact->zone;
        add_metres(meeting, &tour->track.samples[i], fact, brant_sample_metres(&tour->track, i),
                   leg, tour);
    }
    leg->zone = most_frequent(numbers, leg->samples);
    tour->metres[leg->kind] += leg->to_m - leg->from_m;
}

/* Up and down, segment by segment: a gap in the track is not climbed. */
static void climb(brant_tour *tour, float *elevations)
{
    const brant_track *track = &tour->track;
    for (size_t first = 0, next; first < track->count; first = next) {
        double up, down;
        for (next = first; next == first || joined(track, next); next++)
            elevations[next - first] = tour->facts[next].elevation_m;
        brant_climb(elevations, next - first, BRANT_CLIMB_HYSTERESIS, &up, &down);
        tour->climb_m += up;
        tour->descent_m += down;
    }
}

brant_status brant_legs_measure(brant_context *ctx, const brant_meeting *meeting,
                                brant_tour *tour)
{
    uint32_t *numbers = brant_alloc(ctx, tour->track.count, sizeof *numbers);
    float *elevations = brant_alloc(ctx, tour->track.count, sizeof *elevations);
    brant_status status = numbers && elevations ? BRANT_OK : BRANT_ERR_MEMORY;
    if (status == BRANT_OK) {
        for (size_t i = 0; i < tour->leg_count; i++)
            measure(meeting, tour, &tour->legs[i], numbers);
        climb(tour, elevations);
    }
    free(numbers);
    free(elevations);
    return status;
}
