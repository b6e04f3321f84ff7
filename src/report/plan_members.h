/* Members of JSON objects, typed and checked: what the reader of plan.json is made of. */
#ifndef BRANT_REPORT_PLAN_MEMBERS_H
#define BRANT_REPORT_PLAN_MEMBERS_H

#include "plan_read.h"

#include <jansson.h>

typedef enum brant_member_kind {
    BRANT_MEMBER_NUMBER,  /* double */
    BRANT_MEMBER_NUMBER0, /* double; null: NaN */
    BRANT_MEMBER_FLAG,    /* bool */
    BRANT_MEMBER_TEXT,    /* const char *, into the file */
    BRANT_MEMBER_TEXT0,   /* the same; null: NULL */
    BRANT_MEMBER_TIME0,   /* brant_time; null: has_offset false */
    BRANT_MEMBER_KIND,    /* brant_kind by its name */
} brant_member_kind;

typedef struct brant_member {
    const char *name;
    brant_member_kind kind;
    size_t offset;
    double low, high; /* of a number, both ends within */
} brant_member;

/* Where the reader is. */
#define BRANT_PLACE_MAX 160
typedef struct brant_plan_reader {
    brant_context *ctx;
    const char *name;
} brant_plan_reader;

/* "NAME: PLACE: WHAT". */
brant_status brant_member_fail(const brant_plan_reader *r, const char *place, const char *what);
/* "PLACE.KEY" and "PLACE[INDEX]". */
void brant_member_place(const char *place, const char *key, char into[BRANT_PLACE_MAX]);
void brant_element_place(const char *place, size_t index, char into[BRANT_PLACE_MAX]);
/* The member `key` of `object`, an object or an array; `null`: it may be null (then *value is
 * NULL). `place` is the object's and `inner` receives the member's. */
brant_status brant_member_object(const brant_plan_reader *r, json_t *object, const char *place,
                                 const char *key, bool null, char inner[BRANT_PLACE_MAX],
                                 json_t **value);
brant_status brant_member_array(const brant_plan_reader *r, json_t *object, const char *place,
                                const char *key, bool null, char inner[BRANT_PLACE_MAX],
                                json_t **value);
/* All `count` members of `object` into the structure `into`. */
brant_status brant_members(const brant_plan_reader *r, json_t *object, const char *place,
                           const brant_member *members, size_t count, void *into);
/* One value by a member's kind, range and offset. */
brant_status brant_member_value(const brant_plan_reader *r, json_t *value, const char *place,
                                const brant_member *member, void *into);

/* plan_read_day.c: the member `day`. */
brant_status brant_plan_read_day(const brant_plan_reader *r, json_t *root, brant_read_plan *plan);
/* plan_read_tour.c: one element of `tours`, and its end. */
brant_status brant_plan_read_tour(const brant_plan_reader *r, json_t *value, const char *place,
                                  brant_read_tour *tour);
void brant_plan_read_tour_clear(brant_read_tour *tour);

#endif
