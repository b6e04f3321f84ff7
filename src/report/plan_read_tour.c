/* plan.json, read back: a tour. */
#include "plan_members.h"

#include <math.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#define COUNT(list) (sizeof(list) / sizeof *(list))
/* Metres along a route, and of a height. */
#define FAR_M 1e9
#define LOW_M (-20000.0)
#define HIGH_M 20000.0
#define MANY 4294967295.0

#define AT(member) offsetof(brant_read_tour, member)
static const brant_member tour_members[] = {
    {"route", BRANT_MEMBER_TEXT, AT(route), 0, 0},
    {"length_m", BRANT_MEMBER_NUMBER, AT(length_m), 0, FAR_M},
    {"up_m", BRANT_MEMBER_NUMBER, AT(up_m), 0, FAR_M},
    {"down_m", BRANT_MEMBER_NUMBER, AT(down_m), 0, FAR_M},
    {"steeper_m", BRANT_MEMBER_NUMBER, AT(steeper_m), 0, FAR_M},
    {"over_limit_m", BRANT_MEMBER_NUMBER0, AT(over_limit_m), 0, FAR_M},
    {"limit_unknown_m", BRANT_MEMBER_NUMBER0, AT(limit_unknown_m), 0, FAR_M},
    {"timed_as_straight_m", BRANT_MEMBER_NUMBER0, AT(timed_as_straight_m), 0, FAR_M},
};
#undef AT

#define AT(member) offsetof(brant_read_leg, member)
static const brant_member leg_members[] = {
    {"kind", BRANT_MEMBER_KIND, AT(kind), 0, 0},
    {"from_m", BRANT_MEMBER_NUMBER, AT(from_m), 0, FAR_M},
    {"to_m", BRANT_MEMBER_NUMBER, AT(to_m), 0, FAR_M},
    {"steepest_deg", BRANT_MEMBER_NUMBER0, AT(steepest_deg), 0, 90},
    {"low_m", BRANT_MEMBER_NUMBER0, AT(low_m), LOW_M, HIGH_M},
    {"high_m", BRANT_MEMBER_NUMBER0, AT(high_m), LOW_M, HIGH_M},
    {"aspect", BRANT_MEMBER_TEXT0, AT(aspect), 0, 0},
    {"zones_above", BRANT_MEMBER_NUMBER0, AT(zones_above), 0, MANY},
    {"area_above_m2", BRANT_MEMBER_NUMBER0, AT(area_above_m2), 0, 1e15},
    {"reached_at_deg", BRANT_MEMBER_NUMBER0, AT(reached_at_deg), 0, 90},
    {"unknown_above_m", BRANT_MEMBER_NUMBER, AT(unknown_above_m), 0, FAR_M},
    {"unknown_because", BRANT_MEMBER_TEXT0, AT(unknown_because), 0, 0},
    {"governing_zone", BRANT_MEMBER_NUMBER0, AT(governing_zone), 0, MANY},
    {"governing_face_m2", BRANT_MEMBER_NUMBER0, AT(governing_face_m2), 0, 1e15},
    {"governing_steepest_deg", BRANT_MEMBER_NUMBER0, AT(governing_steepest_deg), 0, 90},
    {"governing_low_m", BRANT_MEMBER_NUMBER0, AT(governing_low_m), LOW_M, HIGH_M},
    {"governing_high_m", BRANT_MEMBER_NUMBER0, AT(governing_high_m), LOW_M, HIGH_M},
    {"governing_aspect", BRANT_MEMBER_TEXT0, AT(governing_aspect), 0, 0},
    {"level", BRANT_MEMBER_TEXT0, AT(level), 0, 0},
    {"problems", BRANT_MEMBER_TEXT0, AT(problems), 0, 0},
    {"limit", BRANT_MEMBER_TEXT0, AT(limit), 0, 0},
    {"limit_ground", BRANT_MEMBER_TEXT0, AT(limit_ground), 0, 0},
    {"limit_reason", BRANT_MEMBER_TEXT0, AT(limit_reason), 0, 0},
    {"limit_deg", BRANT_MEMBER_NUMBER0, AT(limit_deg), 0, 90},
    {"over_limit_m", BRANT_MEMBER_NUMBER0, AT(over_limit_m), 0, FAR_M},
    {"limit_steepest_deg", BRANT_MEMBER_NUMBER0, AT(limit_steepest_deg), 0, 90},
    {"arrive", BRANT_MEMBER_TIME0, AT(arrive), 0, 0},
    {"arrive_late", BRANT_MEMBER_TIME0, AT(arrive_late), 0, 0},
    {"leave", BRANT_MEMBER_TIME0, AT(leave), 0, 0},
    {"leave_late", BRANT_MEMBER_TIME0, AT(leave_late), 0, 0},
    {"sun_minutes", BRANT_MEMBER_NUMBER0, AT(sun_minutes), 0, 1e6},
    {"sun_unknown", BRANT_MEMBER_NUMBER0, AT(sun_unknown), 0, 1},
    {"sun_from", BRANT_MEMBER_TIME0, AT(sun_from), 0, 0},
    {"sun_certain_from", BRANT_MEMBER_TIME0, AT(sun_certain_from), 0, 0},
    {"sheltered", BRANT_MEMBER_NUMBER0, AT(sheltered), 0, 1},
    {"below", BRANT_MEMBER_TEXT0, AT(below), 0, 0},
    {"in_gully", BRANT_MEMBER_NUMBER0, AT(in_gully), 0, 1},
    {"above_legs", BRANT_MEMBER_TEXT0, AT(above_legs), 0, 0},
};
#undef AT

#define AT(member) offsetof(brant_read_point, member)
static const brant_member point_columns[] = {
    {"along_m", BRANT_MEMBER_NUMBER, AT(along_m), 0, FAR_M},
    {"lon", BRANT_MEMBER_NUMBER, AT(lon), -180, 180},
    {"lat", BRANT_MEMBER_NUMBER, AT(lat), -90, 90},
    {"elevation_m", BRANT_MEMBER_NUMBER0, AT(elevation_m), LOW_M, HIGH_M},
    {"kind", BRANT_MEMBER_KIND, AT(kind), 0, 0},
};
#undef AT

#define AT(member) offsetof(brant_read_wait, member)
static const brant_member wait_members[] = {
    {"along_m", BRANT_MEMBER_NUMBER, AT(along_m), 0, FAR_M},
    {"lon", BRANT_MEMBER_NUMBER, AT(lon), -180, 180},
    {"lat", BRANT_MEMBER_NUMBER, AT(lat), -90, 90},
    {"leave_by", BRANT_MEMBER_TIME0, AT(leave_by), 0, 0},
};
#undef AT

/* A list of whole numbers from 1 to `most`, as indices from 0; owned by the caller. */
static brant_status read_indices(const brant_plan_reader *r, json_t *object, const char *place,
                                 const char *key, size_t most, uint32_t **into, size_t *count)
{
    char inner[BRANT_PLACE_MAX], element[BRANT_PLACE_MAX];
    json_t *list = NULL;
    brant_status status = brant_member_array(r, object, place, key, false, inner, &list);
    if (status != BRANT_OK)
        return status;
    *count = json_array_size(list);
    *into = brant_alloc(r->ctx, *count, sizeof **into);
    if (!*into)
        return BRANT_ERR_MEMORY;
    for (size_t i = 0; i < *count; i++) {
        json_t *value = json_array_get(list, i);
        json_int_t number = json_integer_value(value);
        brant_element_place(inner, i, element);
        if (!json_is_integer(value) || number < 1 || (uint64_t)number > most)
            return brant_member_fail(r, element, "is no number of a leg or a point");
        (*into)[i] = (uint32_t)(number - 1);
    }
    return BRANT_OK;
}

/* ---- legs --------------------------------------------------------------- */

static brant_status check_leg(const brant_plan_reader *r, json_t *object, const char *place,
                              const brant_read_tour *tour, size_t index)
{
    const brant_read_leg *leg = &tour->legs[index];
    json_t *number = json_object_get(object, "leg");
    if (!json_is_integer(number) || json_integer_value(number) != (json_int_t)index + 1)
        return brant_member_fail(r, place, "leg: is not the leg's place in the list");
    if (leg->from_m > leg->to_m || (index > 0 && leg->from_m < tour->legs[index - 1].to_m))
        return brant_member_fail(r, place, "from_m: lies behind to_m, or before the last leg's");
    if (leg->arrive.has_offset != leg->arrive_late.has_offset)
        return brant_member_fail(r, place, "arrive and arrive_late: only one of them is given");
    return BRANT_OK;
}

static brant_status read_legs(const brant_plan_reader *r, json_t *object, const char *place,
                              brant_read_tour *tour)
{
    static const brant_member lowered = {"level_lowered", BRANT_MEMBER_FLAG,
                                         offsetof(brant_read_leg, level_lowered), 0, 0};
    char inner[BRANT_PLACE_MAX], element[BRANT_PLACE_MAX];
    json_t *list = NULL;
    brant_status status = brant_member_array(r, object, place, "legs", false, inner, &list);
    if (status == BRANT_OK && json_array_size(list) == 0)
        status = brant_member_fail(r, inner, "is empty");
    if (status != BRANT_OK)
        return status;
    tour->leg_count = json_array_size(list);
    tour->legs = brant_alloc(r->ctx, tour->leg_count, sizeof *tour->legs);
    if (!tour->legs)
        return BRANT_ERR_MEMORY;
    for (size_t i = 0; status == BRANT_OK && i < tour->leg_count; i++) {
        json_t *value = json_array_get(list, i);
        brant_element_place(inner, i, element);
        tour->legs[i].number = (uint32_t)i + 1;
        status = brant_members(r, value, element, leg_members, COUNT(leg_members),
                               &tour->legs[i]);
        if (status == BRANT_OK && !json_is_null(json_object_get(value, "level_lowered")))
            status = brant_members(r, value, element, &lowered, 1, &tour->legs[i]);
        if (status == BRANT_OK)
            status = check_leg(r, value, element, tour, i);
    }
    return status;
}

/* Each leg stands in the order of ranks once. */
static brant_status read_ranks(const brant_plan_reader *r, json_t *object, const char *place,
                               brant_read_tour *tour)
{
    char inner[BRANT_PLACE_MAX];
    size_t count = 0;
    brant_member_place(place, "ranked", inner);
    brant_status status = read_indices(r, object, place, "ranked", tour->leg_count, &tour->ranked,
                                       &count);
    bool *seen = status == BRANT_OK ? brant_alloc(r->ctx, tour->leg_count, sizeof *seen) : NULL;
    if (!seen)
        return status == BRANT_OK ? BRANT_ERR_MEMORY : status;
    bool whole = count == tour->leg_count;
    for (size_t i = 0; i < count && whole; i++) {
        whole = !seen[tour->ranked[i]];
        seen[tour->ranked[i]] = true;
    }
    free(seen);
    return whole ? BRANT_OK : brant_member_fail(r, inner, "does not name each leg once");
}

/* ---- points ------------------------------------------------------------- */

static brant_status read_column(const brant_plan_reader *r, json_t *points, const char *place,
                                const brant_member *member, brant_read_tour *tour)
{
    char inner[BRANT_PLACE_MAX], element[BRANT_PLACE_MAX];
    json_t *list = NULL;
    brant_status status = brant_member_array(r, points, place, member->name, false, inner, &list);
    if (status == BRANT_OK && json_array_size(list) != tour->point_count)
        status = brant_member_fail(r, inner, "is not as long as the list of points");
    for (size_t i = 0; status == BRANT_OK && i < tour->point_count; i++) {
        brant_element_place(inner, i, element);
        status = brant_member_value(r, json_array_get(list, i), element, member,
                                    &tour->points[i]);
    }
    return status;
}

static brant_status read_points(const brant_plan_reader *r, json_t *object, const char *place,
                                brant_read_tour *tour)
{
    char inner[BRANT_PLACE_MAX];
    json_t *points = NULL;
    brant_status status = brant_member_object(r, object, place, "points", false, inner, &points);
    if (status != BRANT_OK)
        return status;
    tour->point_count = json_array_size(json_object_get(points, "point"));
    if (tour->point_count < 2)
        return brant_member_fail(r, inner, "are fewer than two");
    tour->points = brant_alloc(r->ctx, tour->point_count, sizeof *tour->points);
    if (!tour->points)
        return BRANT_ERR_MEMORY;
    for (size_t i = 0; status == BRANT_OK && i < COUNT(point_columns); i++)
        status = read_column(r, points, inner, &point_columns[i], tour);
    for (size_t i = 1; status == BRANT_OK && i < tour->point_count; i++)
        if (tour->points[i].along_m < tour->points[i - 1].along_m)
            status = brant_member_fail(r, inner, "along_m: goes backwards");
    return status;
}

static brant_status read_starts(const brant_plan_reader *r, json_t *object, const char *place,
                                brant_read_tour *tour)
{
    uint32_t *starts = NULL;
    size_t count = 0;
    brant_status status = read_indices(r, object, place, "segment_starts", tour->point_count,
                                       &starts, &count);
    for (size_t i = 0; status == BRANT_OK && i < count; i++)
        tour->points[starts[i]].first = true;
    free(starts);
    if (status == BRANT_OK && !tour->points[0].first)
        status = brant_member_fail(r, place, "segment_starts: the first point opens no segment");
    return status;
}

static brant_status read_high_point(const brant_plan_reader *r, json_t *object, const char *place,
                                    brant_read_tour *tour)
{
    const brant_member members[] = {
        {"point", BRANT_MEMBER_NUMBER, 0, 1, (double)tour->point_count},
        {"arrive", BRANT_MEMBER_TIME0, offsetof(brant_read_tour, high_arrive), 0, 0},
        {"arrive_late", BRANT_MEMBER_TIME0, offsetof(brant_read_tour, high_arrive_late), 0, 0},
    };
    double point = 0;
    char inner[BRANT_PLACE_MAX];
    json_t *high = NULL;
    tour->high_point = SIZE_MAX;
    brant_status status = brant_member_object(r, object, place, "high_point", true, inner, &high);
    if (status != BRANT_OK || !high)
        return status;
    status = brant_members(r, high, inner, members, 1, &point);
    if (status == BRANT_OK)
        status = brant_members(r, high, inner, members + 1, 2, tour);
    tour->high_point = status == BRANT_OK ? (size_t)point - 1 : SIZE_MAX;
    return status;
}

/* ---- the rest ----------------------------------------------------------- */

static brant_status read_waits(const brant_plan_reader *r, json_t *object, const char *place,
                               brant_read_tour *tour)
{
    char inner[BRANT_PLACE_MAX], element[BRANT_PLACE_MAX];
    json_t *list = NULL;
    brant_status status = brant_member_array(r, object, place, "waits", true, inner, &list);
    tour->waits_unknown = !list;
    if (status != BRANT_OK || !list)
        return status;
    tour->waits = brant_alloc(r->ctx, json_array_size(list), sizeof *tour->waits);
    if (!tour->waits)
        return BRANT_ERR_MEMORY;
    tour->wait_count = json_array_size(list);
    for (size_t i = 0; status == BRANT_OK && i < tour->wait_count; i++) {
        brant_element_place(inner, i, element);
        status = brant_members(r, json_array_get(list, i), element, wait_members,
                               COUNT(wait_members), &tour->waits[i]);
    }
    return status;
}

/* How many there are is all that is drawn. */
static brant_status read_exposed(const brant_plan_reader *r, json_t *object, const char *place,
                                 brant_read_tour *tour)
{
    char inner[BRANT_PLACE_MAX], element[BRANT_PLACE_MAX];
    json_t *list = NULL;
    brant_status status =
        brant_member_array(r, object, place, "exposed", tour->waits_unknown, inner, &list);
    tour->exposed_count = json_array_size(list);
    for (size_t i = 0; status == BRANT_OK && i < tour->exposed_count; i++) {
        brant_element_place(inner, i, element);
        if (!json_is_object(json_array_get(list, i)))
            status = brant_member_fail(r, element, "is no object");
    }
    return status;
}

static brant_status read_sums(const brant_plan_reader *r, json_t *object, const char *place,
                              brant_read_tour *tour)
{
    char inner[BRANT_PLACE_MAX], angle[16];
    json_t *sums = NULL;
    brant_status status = brant_member_object(r, object, place, "metres", false, inner, &sums);
    for (int kind = 0; kind < BRANT_KINDS && status == BRANT_OK; kind++) {
        brant_member member = {brant_kind_name((brant_kind)kind), BRANT_MEMBER_NUMBER,
                               (size_t)kind * sizeof *tour->metres, 0, FAR_M};
        status = brant_members(r, sums, inner, &member, 1, tour->metres);
    }
    if (status == BRANT_OK)
        status = brant_member_object(r, object, place, "reached_m", false, inner, &sums);
    for (size_t i = 0; i < BRANT_SHOWN_ANGLES && status == BRANT_OK; i++) {
        snprintf(angle, sizeof angle, "%.0f", brant_words_angles[i]);
        brant_member member = {angle, BRANT_MEMBER_NUMBER0, i * sizeof *tour->reached_m, 0, FAR_M};
        status = brant_members(r, sums, inner, &member, 1, tour->reached_m);
    }
    return status;
}

static brant_status read_what_if(const brant_plan_reader *r, json_t *object, const char *place,
                                 const char *key, size_t legs, brant_read_what_if *more)
{
    static const brant_member metres = {"over_limit_m", BRANT_MEMBER_NUMBER,
                                        offsetof(brant_read_what_if, metres), 0, FAR_M};
    char inner[BRANT_PLACE_MAX];
    json_t *value = NULL;
    brant_status status = brant_member_object(r, object, place, key, true, inner, &value);
    if (status != BRANT_OK || !value)
        return status;
    more->known = true;
    status = brant_members(r, value, inner, &metres, 1, more);
    if (status == BRANT_OK)
        status = read_indices(r, value, inner, "legs", legs, &more->leg, &more->legs);
    for (size_t i = 0; status == BRANT_OK && i < more->legs; i++)
        more->leg[i]++; /* numbers, not indices */
    return status;
}

brant_status brant_plan_read_tour(const brant_plan_reader *r, json_t *value, const char *place,
                                  brant_read_tour *tour)
{
    memset(tour, 0, sizeof *tour);
    brant_status status = brant_members(r, value, place, tour_members, COUNT(tour_members), tour);
    if (status == BRANT_OK)
        status = read_sums(r, value, place, tour);
    if (status == BRANT_OK)
        status = read_legs(r, value, place, tour);
    if (status == BRANT_OK)
        status = read_ranks(r, value, place, tour);
    if (status == BRANT_OK)
        status = read_points(r, value, place, tour);
    if (status == BRANT_OK)
        status = read_starts(r, value, place, tour);
    if (status == BRANT_OK)
        status = read_high_point(r, value, place, tour);
    if (status == BRANT_OK)
        status = read_waits(r, value, place, tour);
    if (status == BRANT_OK)
        status = read_exposed(r, value, place, tour);
    if (status == BRANT_OK)
        status = read_what_if(r, value, place, "if_one_level_more", tour->leg_count,
                              &tour->if_one_level_more);
    if (status == BRANT_OK)
        status = read_what_if(r, value, place, "if_one_hour_later", tour->leg_count,
                              &tour->if_one_hour_later);
    return status;
}

void brant_plan_read_tour_clear(brant_read_tour *tour)
{
    free(tour->legs);
    free(tour->ranked);
    free(tour->points);
    free(tour->waits);
    free(tour->if_one_level_more.leg);
    free(tour->if_one_hour_later.leg);
    memset(tour, 0, sizeof *tour);
}
