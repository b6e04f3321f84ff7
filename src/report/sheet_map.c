/* The sheet's map: a tour's legs and places to wait as the map wants them. */
#include "sheet_map.h"

#include "map.h"

#include <math.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

/* The scene's lists, owned. A leg's points are told by index until all are there, for the
 * list moves while it grows. */
typedef struct scene {
    brant_map_scene map;
    brant_gpx_point *points;
    size_t point_count, point_capacity;
    brant_map_leg *legs;
    size_t *first; /* of each leg, index into points */
    size_t leg_count, leg_capacity, first_capacity;
    brant_map_wait *waits;
    char (*labels)[16];
} scene;

static brant_status add_point(brant_context *ctx, scene *made, double lon, double lat)
{
    brant_status status = brant_grow(ctx, &made->points, &made->point_capacity,
                                     made->point_count + 1, sizeof *made->points);
    if (status != BRANT_OK)
        return status;
    made->points[made->point_count++] = (brant_gpx_point){lon, lat};
    made->legs[made->leg_count - 1].count++;
    return BRANT_OK;
}

/* Begin a leg, or a part of it behind a break. */
static brant_status begin_part(brant_context *ctx, scene *made, const brant_read_leg *leg)
{
    brant_status status = brant_grow(ctx, &made->legs, &made->leg_capacity, made->leg_count + 1,
                                     sizeof *made->legs);
    if (status == BRANT_OK)
        status = brant_grow(ctx, &made->first, &made->first_capacity, made->leg_count + 1,
                            sizeof *made->first);
    if (status != BRANT_OK)
        return status;
    made->first[made->leg_count] = made->point_count;
    made->legs[made->leg_count++] = (brant_map_leg){
        .number = leg->number, .kind = leg->kind, .grave = brant_sheet_is_grave(leg)};
    return BRANT_OK;
}

/* The place `along_m` between two points; neighbours are too close for a curve to show. */
static brant_status add_between(brant_context *ctx, scene *made, const brant_read_point *a,
                                const brant_read_point *b, double along_m)
{
    double span = b->along_m - a->along_m, degrees = b->lon - a->lon;
    double part = span > 0 ? (along_m - a->along_m) / span : 0;
    if (degrees > 180)
        degrees -= 360;
    else if (degrees < -180)
        degrees += 360;
    double lon = a->lon + part * degrees;
    lon = lon > 180 ? lon - 360 : lon < -180 ? lon + 360 : lon;
    return add_point(ctx, made, lon, a->lat + part * (b->lat - a->lat));
}

/* The line from leg->from_m to leg->to_m; *at: the point that the last leg ended at. */
static brant_status add_leg(brant_context *ctx, scene *made, const brant_read_tour *tour,
                            const brant_read_leg *leg, size_t *at)
{
    brant_status status = BRANT_OK;
    bool open = false;
    for (size_t i = *at; i < tour->point_count && status == BRANT_OK; i++) {
        const brant_read_point *a = &tour->points[i - 1], *b = &tour->points[i];
        if (b->first || b->along_m <= leg->from_m) {
            open = false;
            continue;
        }
        if (a->along_m >= leg->to_m)
            break;
        *at = i;
        double from = a->along_m > leg->from_m ? a->along_m : leg->from_m;
        double to = b->along_m < leg->to_m ? b->along_m : leg->to_m;
        if (!open) {
            status = begin_part(ctx, made, leg);
            if (status == BRANT_OK)
                status = add_between(ctx, made, a, b, from);
        }
        if (status == BRANT_OK)
            status = add_between(ctx, made, a, b, to);
        open = true;
    }
    return status;
}

static brant_status add_waits(brant_context *ctx, scene *made, const brant_read_tour *tour)
{
    made->waits = brant_alloc(ctx, tour->wait_count, sizeof *made->waits);
    made->labels = brant_alloc(ctx, tour->wait_count, sizeof *made->labels);
    if (!made->waits || !made->labels)
        return BRANT_ERR_MEMORY;
    brant_status status = BRANT_OK;
    for (size_t i = 0; i < tour->wait_count && status == BRANT_OK; i++) {
        brant_text km = {0};
        brant_text_number(&km, tour->waits[i].along_m / 1000, 2);
        snprintf(made->labels[i], sizeof made->labels[i], "%s", km.failed ? "" : km.data);
        status = brant_text_status(ctx, &km);
        brant_text_clear(&km);
        made->waits[i] = (brant_map_wait){tour->waits[i].lon, tour->waits[i].lat,
                                          made->labels[i]};
    }
    return status;
}

static brant_status make_scene(const brant_sheet *s, scene *made)
{
    brant_status status = add_waits(s->ctx, made, s->tour);
    size_t at = 1;
    for (size_t i = 0; i < s->tour->leg_count && status == BRANT_OK; i++)
        status = add_leg(s->ctx, made, s->tour, &s->tour->legs[i], &at);
    for (size_t i = 0; i < made->leg_count; i++)
        made->legs[i].points = made->points + made->first[i];
    made->map = (brant_map_scene){
        .elevation = s->input->elevation,
        .classes = s->input->classes,
        .runout = s->input->runout,
        .reach_angle_deg = s->plan->reach_angle_deg,
        .legs = made->legs,
        .leg_count = made->leg_count,
        .waits = made->waits,
        .wait_count = s->tour->wait_count,
        .grave_words = brant_sheet_grave_words(s),
        .pango = s->pango,
    };
    return status;
}

static void clear_scene(scene *made)
{
    free(made->points);
    free(made->legs);
    free(made->first);
    free(made->waits);
    free(made->labels);
}

double brant_sheet_map_scale(brant_sheet *s, double width, double height)
{
    scene made;
    brant_map_frame frame;
    brant_map_box box = {0, 0, width, height};
    memset(&made, 0, sizeof made);
    brant_status status = make_scene(s, &made);
    if (status == BRANT_OK)
        status = brant_map_frame_of(s->ctx, &made.map, &box, &frame);
    clear_scene(&made);
    if (s->status == BRANT_OK)
        s->status = status;
    return status == BRANT_OK ? frame.scale : INFINITY;
}

brant_status brant_sheet_map(brant_sheet *s, double x, double y, double width, double height)
{
    scene made;
    brant_map_box box = {x, y, width, height};
    memset(&made, 0, sizeof made);
    brant_status status = make_scene(s, &made);
    if (status == BRANT_OK) {
        cairo_save(s->cr);
        status = brant_map_draw(s->ctx, &made.map, s->cr, &box);
        cairo_restore(s->cr);
    }
    clear_scene(&made);
    return status;
}
