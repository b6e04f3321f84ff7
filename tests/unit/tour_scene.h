/* A made-up piece of ground for the tour's tests: every cell set by hand, so
 * that what a route meets there is known without any other code. */
#ifndef TOUR_SCENE_H
#define TOUR_SCENE_H

#include "brant/tour.h"

#include <math.h>
#include <setjmp.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include <cmocka.h>

/* cmocka's assert_float_equal compares as float, too coarse for metres. */
#define assert_close(a, b, within) assert_true(fabs((a) - (b)) <= (within))

/* Scale factor on the central meridian; a 10 m cell there is 10 / 0.9996 m. */
#define UTM_SCALE 0.9996
static const char utm_32n[] =
    "PROJCS[\"WGS 84 / UTM zone 32N\",GEOGCS[\"WGS 84\",DATUM[\"WGS_1984\",SPHEROID[\"WGS 84\","
    "6378137,298.257223563]],PRIMEM[\"Greenwich\",0],UNIT[\"degree\",0.0174532925199433]],"
    "PROJECTION[\"Transverse_Mercator\"],PARAMETER[\"latitude_of_origin\",0],"
    "PARAMETER[\"central_meridian\",9],PARAMETER[\"scale_factor\",0.9996],"
    "PARAMETER[\"false_easting\",500000],PARAMETER[\"false_northing\",0],UNIT[\"metre\",1]]";

typedef struct scene {
    brant_context ctx;
    brant_grid grid;
    brant_ground *ground;
    brant_locator *locator;
    brant_field field;
    brant_zone_set zones;
    float *reached_at;
    uint16_t *zones_above;
    uint8_t *unknown;
    brant_meeting meeting;
} scene;

static inline void must(brant_context *ctx, brant_status status)
{
    if (status)
        fail_msg("%s", brant_message(ctx));
}

static inline void *must_have(void *memory)
{
    if (!memory)
        fail_msg("out of memory");
    return memory;
}

static inline size_t scene_cell(const scene *s, int col, int row)
{
    return (size_t)row * (size_t)s->grid.cols + (size_t)col;
}

/* One square without zones. */
static inline void scene_zones(scene *s, int cols, int rows)
{
    s->zones.squares = (brant_squares){.across = 1, .down = 1, .stride = 1u << 20};
    s->zones.square = must_have(calloc(1, sizeof *s->zones.square));
    s->zones.square->window = (brant_window){0, 0, cols, rows};
    s->zones.square->number = must_have(calloc((size_t)cols * (size_t)rows, sizeof(uint32_t)));
}

/* Ground at 1000 m, 5 degrees steep towards south, without zones, hits or voids.
 * `transform` NULL: north-up cells of 10 m on the central meridian. */
static inline void scene_open(scene *s, int cols, int rows, const double *transform)
{
    static const double plain[6] = {500000, 10, 0, 5150000, 0, -10};
    size_t cells = (size_t)cols * (size_t)rows;
    memset(s, 0, sizeof *s);
    brant_context_init(&s->ctx);
    s->grid = (brant_grid){.cols = cols, .rows = rows, .crs = must_have(strdup(utm_32n))};
    memcpy(s->grid.transform, transform ? transform : plain, sizeof plain);
    must(&s->ctx, brant_ground_create(&s->ctx, "scene", &s->grid, &s->ground));
    must(&s->ctx, brant_locator_create(&s->ctx, "scene", &s->grid, &s->locator));
    s->field.window = (brant_window){0, 0, cols, rows};
    s->field.elevation = must_have(malloc(cells * sizeof(float)));
    s->field.slope = must_have(malloc(cells * sizeof(float)));
    s->field.aspect = must_have(malloc(cells * sizeof(float)));
    s->reached_at = must_have(calloc(cells, sizeof(float)));
    s->zones_above = must_have(calloc(cells, sizeof *s->zones_above));
    s->unknown = must_have(calloc(cells, 1));
    for (size_t i = 0; i < cells; i++) {
        s->field.elevation[i] = 1000;
        s->field.slope[i] = 5;
        s->field.aspect[i] = 180;
    }
    scene_zones(s, cols, rows);
    s->meeting = (brant_meeting){.field = &s->field,
                                 .ground = s->ground,
                                 .zones = &s->zones,
                                 .reached_at = s->reached_at,
                                 .zones_above = s->zones_above,
                                 .unknown_above = s->unknown,
                                 .options = BRANT_MEET_OPTIONS_DEFAULT};
}

static inline void scene_close(scene *s)
{
    brant_field_clear(&s->field);
    brant_zone_set_clear(&s->zones);
    brant_locator_destroy(s->locator);
    brant_ground_destroy(s->ground);
    brant_grid_clear(&s->grid);
    free(s->reached_at);
    free(s->zones_above);
    free(s->unknown);
    brant_context_clear(&s->ctx);
}

/* Add a zone; by rising number. */
static inline void scene_zone(scene *s, uint32_t number, double area_m2, double face_m2)
{
    s->zones.zones =
        must_have(realloc(s->zones.zones, (s->zones.count + 1) * sizeof *s->zones.zones));
    s->zones.zones[s->zones.count++] =
        (brant_zone){.number = number, .area_m2 = area_m2, .face = number, .face_m2 = face_m2};
}

/* A rectangle of cells of one slope and zone. */
static inline void scene_patch(scene *s, brant_window patch, float slope, uint32_t zone)
{
    for (int row = patch.row; row < patch.row + patch.rows; row++) {
        for (int col = patch.col; col < patch.col + patch.cols; col++) {
            size_t cell = scene_cell(s, col, row);
            s->field.slope[cell] = slope;
            s->zones.square->number[cell] = zone;
        }
    }
}

static inline void scene_void(scene *s, brant_window patch)
{
    for (int row = patch.row; row < patch.row + patch.rows; row++)
        for (int col = patch.col; col < patch.col + patch.cols; col++)
            s->field.elevation[scene_cell(s, col, row)] = NAN;
    scene_patch(s, patch, NAN, 0);
}

/* The facts at one place. */
static inline brant_fact scene_look(scene *s, double col, double row)
{
    brant_sample sample = {.col = col, .row = row, .first = true};
    brant_track track = {.samples = &sample, .count = 1};
    brant_fact *facts = NULL;
    must(&s->ctx, brant_meet(&s->ctx, &s->meeting, &track, &facts));
    brant_fact fact = facts[0];
    free(facts);
    return fact;
}

/* A one-segment route through `count` grid positions (col, row), sampled. */
static inline void scene_track(scene *s, const double (*at)[2], size_t count, double step_m,
                               brant_track *track)
{
    brant_gpx_point points[16];
    brant_gpx_segment segment = {.count = count};
    brant_gpx_route route = {.segments = 1};
    brant_gpx gpx = {.points = points, .point_count = count, .segments = &segment,
                     .segment_count = 1, .routes = &route, .route_count = 1};
    assert_true(count <= sizeof points / sizeof points[0]);
    for (size_t i = 0; i < count; i++)
        brant_locator_to_lonlat(s->locator, at[i][0], at[i][1], &points[i].lon, &points[i].lat);
    must(&s->ctx, brant_track_sample(&s->ctx, &gpx, 0, s->locator, step_m, track));
}

/* Meet a track and make it a tour. */
static inline void scene_tour(scene *s, brant_track *track, brant_tour *tour)
{
    brant_fact *facts = NULL;
    must(&s->ctx, brant_meet(&s->ctx, &s->meeting, track, &facts));
    must(&s->ctx, brant_tour_build(&s->ctx, &s->meeting, track, &facts, tour));
    assert_null(track->samples);
    assert_null(facts);
}

static inline double random_unit(unsigned *seed)
{
    *seed = *seed * 1103515245u + 12345u;
    return (double)(*seed >> 8 & 0xffff) / 0x10000;
}

#endif
