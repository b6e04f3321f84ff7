/* A route as points to look up in the model, evenly along its geodesics. */
#include "brant/tour.h"

#include <math.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

typedef struct sampler {
    brant_context *ctx;
    const char *file;
    brant_locator *locator;
    double step_m;
    brant_track *track;
    size_t capacity;
} sampler;

static brant_status make_room(sampler *s, double more)
{
    brant_track *track = s->track;
    if (more > (double)(BRANT_SAMPLES_MAX - track->count))
        return brant_fail(s->ctx, BRANT_ERR_INPUT,
                          "%s: %s: too long: it needs more than %d samples %.3g m apart", s->file,
                          track->name, BRANT_SAMPLES_MAX, s->step_m);
    return brant_grow(s->ctx, &track->samples, &s->capacity, track->count + (size_t)more,
                      sizeof *track->samples);
}

static void add_sample(sampler *s, double along, double lon, double lat, bool first)
{
    brant_sample *sample = &s->track->samples[s->track->count++];
    *sample = (brant_sample){.along_m = along, .lon = lon, .lat = lat, .first = first};
    brant_locator_to_grid(s->locator, lon, lat, &sample->col, &sample->row);
}

/* The samples after `a`, up to and with `b`, `length` metres on. The last one is
 * the GPX point itself, at the plain sum of geodesic lengths. */
static brant_status add_stretch(sampler *s, const brant_gpx_point *a, const brant_gpx_point *b,
                                double length)
{
    double start = s->track->length_m, lon, lat;
    double parts = ceil(length / s->step_m);
    brant_status status = make_room(s, parts);
    if (status)
        return status;
    for (double i = 1; i < parts; i++) {
        double part = length * (i / parts);
        brant_geodesic_point(a->lon, a->lat, b->lon, b->lat, part, &lon, &lat);
        add_sample(s, start + part, lon, lat, false);
    }
    s->track->length_m = start + length;
    add_sample(s, s->track->length_m, b->lon, b->lat, false);
    return BRANT_OK;
}

/* The first sample of a segment, once it is known that the segment goes anywhere. */
static brant_status start_segment(sampler *s, const brant_gpx_point *at)
{
    brant_status status = make_room(s, 1);
    if (status)
        return status;
    add_sample(s, s->track->length_m, at->lon, at->lat, true);
    s->track->points++;
    return BRANT_OK;
}

/* Points that do not move on from the one before are left out. */
static brant_status add_segment(sampler *s, const brant_gpx_point *points, size_t count)
{
    brant_status status = brant_check_stop(s->ctx);
    const brant_gpx_point *at = points;
    bool started = false;
    for (size_t i = 1; i < count && status == BRANT_OK; i++) {
        const brant_gpx_point *to = &points[i];
        double length = brant_geodesic(at->lon, at->lat, to->lon, to->lat, NULL);
        if (!(length > 0))
            continue;
        if (!started)
            status = start_segment(s, at);
        if (status == BRANT_OK)
            status = add_stretch(s, at, to, length);
        started = true;
        s->track->points++;
        at = to;
    }
    return status;
}

static char *track_name(brant_context *ctx, const brant_gpx_route *route, size_t index)
{
    char number[32];
    snprintf(number, sizeof number, "route %zu", index + 1);
    return brant_strdup(ctx, route->name && route->name[0] ? route->name : number);
}

brant_status brant_track_sample(brant_context *ctx, const brant_gpx *gpx, size_t index,
                                brant_locator *locator, double step_m, brant_track *track)
{
    memset(track, 0, sizeof *track);
    if (index >= gpx->route_count || !(step_m > 0))
        return brant_fail(ctx, BRANT_ERR_INTERNAL, "route %zu cannot be sampled at %g m", index,
                          step_m);
    const brant_gpx_route *route = &gpx->routes[index];
    sampler s = {.ctx = ctx, .file = gpx->file, .locator = locator, .step_m = step_m, .track = track};
    track->name = track_name(ctx, route, index);
    brant_status status = track->name ? BRANT_OK : BRANT_ERR_MEMORY;
    for (size_t i = 0; i < route->segments && status == BRANT_OK; i++) {
        const brant_gpx_segment *segment = &gpx->segments[route->first_segment + i];
        if (segment->count >= 2)
            status = add_segment(&s, gpx->points + segment->first, segment->count);
    }
    if (status)
        brant_track_clear(track);
    return status;
}

void brant_track_clear(brant_track *track)
{
    free(track->name);
    free(track->samples);
    memset(track, 0, sizeof *track);
}
