/* plan.json read back: the one reader of what json.c writes. The sheet is drawn from it.
 * Numbers are as written (rounded); NaN, NULL and a time without offset stand for null. */
#ifndef BRANT_REPORT_PLAN_READ_H
#define BRANT_REPORT_PLAN_READ_H

#include "words.h"

typedef struct brant_read_leg {
    uint32_t number; /* 1..n */
    brant_kind kind;
    double from_m, to_m;
    double steepest_deg, low_m, high_m;
    const char *aspect; /* of the steepest sample; this and all texts point into the file */
    double zones_above, area_above_m2, reached_at_deg;
    double unknown_above_m;
    const char *unknown_because;
    double governing_zone, governing_face_m2, governing_steepest_deg;
    double governing_low_m, governing_high_m;
    const char *governing_aspect;
    const char *level, *problems;
    bool level_lowered;
    const char *limit, *limit_ground, *limit_reason;
    double limit_deg, over_limit_m, limit_steepest_deg;
    brant_time arrive, arrive_late, leave, leave_late;
    double sun_minutes; /* NaN: not sought */
    double sun_unknown;
    brant_time sun_from, sun_certain_from;
    double sheltered; /* NaN: not known */
    const char *below, *above_legs;
    double in_gully; /* NaN: not known, or not sought */
} brant_read_leg;

typedef struct brant_read_point {
    double along_m, lon, lat, elevation_m;
    brant_kind kind;
    bool first; /* opens a segment */
} brant_read_point;

typedef struct brant_read_wait {
    double along_m, lon, lat;
    brant_time leave_by;
} brant_read_wait;

/* What more would be over the limit. */
typedef struct brant_read_what_if {
    bool known;
    double metres;
    uint32_t *leg; /* their numbers; owned */
    size_t legs;
} brant_read_what_if;

typedef struct brant_read_tour {
    const char *route;
    double length_m, up_m, down_m, steeper_m, over_limit_m, limit_unknown_m;
    double timed_as_straight_m;
    double metres[BRANT_KINDS], reached_m[BRANT_SHOWN_ANGLES];
    brant_read_what_if if_one_level_more, if_one_hour_later;
    size_t high_point; /* index into points; SIZE_MAX where no height is known */
    brant_time high_arrive, high_arrive_late;
    brant_read_leg *legs;
    size_t leg_count; /* at least 1 */
    uint32_t *ranked; /* indices into legs, worst first; a leg each */
    brant_read_point *points;
    size_t point_count; /* at least 2 */
    brant_read_wait *waits;
    size_t wait_count;
    size_t exposed_count; /* stretches to wait before or after; 0 if not known */
    bool waits_unknown;
} brant_read_tour;

/* A sign to check, or a piece of kit. */
typedef struct brant_read_item {
    const char *title, *check, *known;
} brant_read_item;

typedef struct brant_read_plan {
    void *root;       /* the parsed file */
    const char *name; /* as messages name it */
    const char *model;
    double cell_m[2], cells_averaged;
    const char *vertical_unit;
    double datum_accuracy_m; /* NaN: not stated */
    double band_deg[2], reach_angle_deg, spread_deg, floor_deg, edge_m, vertical_error_m;
    const char *zones_from;
    double own_angles;
    bool has_bulletin;
    brant_bulletin bulletin;
    brant_time start, out_by;
    const char *later_from, *wind_from;
    double new_snow_cm;
    bool warming;
    brant_read_item signs[BRANT_SIGNS];
    brant_read_item *kit;
    size_t kit_count;
    brant_read_tour *tours;
    size_t tour_count; /* at least 1 */
    const char *caution;
} brant_read_plan;

/* Read `size` bytes. `name` stands in messages and must outlive the plan. Refused in one line
 * that names the place: no JSON, a member that is missing, of another type or out of range, a
 * file of another version of brant. Members that it does not know are passed over. On failure
 * `plan` is empty. */
brant_status brant_plan_read(brant_context *ctx, const char *name, const void *data, size_t size,
                             brant_read_plan *plan);
void brant_plan_read_clear(brant_read_plan *plan);

#endif
