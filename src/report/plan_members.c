/* Members of JSON objects, typed and checked. */
#include "plan_members.h"

#include <math.h>
#include <stdio.h>
#include <string.h>

brant_status brant_member_fail(const brant_plan_reader *r, const char *place, const char *what)
{
    return brant_fail(r->ctx, BRANT_ERR_INPUT, "%s: %s%s%s", r->name, place, *place ? ": " : "",
                      what);
}

/* snprintf cuts a place that is too long, which is no harm in a message. */
void brant_member_place(const char *place, const char *key, char into[BRANT_PLACE_MAX])
{
    snprintf(into, BRANT_PLACE_MAX, "%.100s%s%.50s", place, *place ? "." : "", key);
}

void brant_element_place(const char *place, size_t index, char into[BRANT_PLACE_MAX])
{
    snprintf(into, BRANT_PLACE_MAX, "%.120s[%zu]", place, index);
}

static brant_status find(const brant_plan_reader *r, json_t *object, const char *place,
                         const char *key, char inner[BRANT_PLACE_MAX], json_t **value)
{
    brant_member_place(place, key, inner);
    *value = json_object_get(object, key);
    return *value ? BRANT_OK : brant_member_fail(r, inner, "is missing");
}

brant_status brant_member_object(const brant_plan_reader *r, json_t *object, const char *place,
                                 const char *key, bool null, char inner[BRANT_PLACE_MAX],
                                 json_t **value)
{
    brant_status status = find(r, object, place, key, inner, value);
    if (status == BRANT_OK && null && json_is_null(*value))
        *value = NULL;
    else if (status == BRANT_OK && !json_is_object(*value))
        status = brant_member_fail(r, inner, "is no object");
    return status;
}

brant_status brant_member_array(const brant_plan_reader *r, json_t *object, const char *place,
                                const char *key, bool null, char inner[BRANT_PLACE_MAX],
                                json_t **value)
{
    brant_status status = find(r, object, place, key, inner, value);
    if (status == BRANT_OK && null && json_is_null(*value))
        *value = NULL;
    else if (status == BRANT_OK && !json_is_array(*value))
        status = brant_member_fail(r, inner, "is no list");
    return status;
}

/* ---- values ------------------------------------------------------------- */

static brant_status take_number(const brant_plan_reader *r, json_t *value, const char *place,
                                const brant_member *member, double *into)
{
    char range[80];
    if (!json_is_number(value))
        return brant_member_fail(r, place, "is no number");
    *into = json_number_value(value);
    if (*into >= member->low && *into <= member->high)
        return BRANT_OK;
    snprintf(range, sizeof range, "is not within %.10g and %.10g", member->low, member->high);
    return brant_member_fail(r, place, range);
}

static brant_status take_kind(const brant_plan_reader *r, json_t *value, const char *place,
                              brant_kind *into)
{
    const char *text = json_string_value(value);
    for (*into = 0; text && *into < BRANT_KINDS; ++*into)
        if (strcmp(text, brant_kind_name(*into)) == 0)
            return BRANT_OK;
    return brant_member_fail(r, place, "is no kind of leg");
}

static brant_status take_text(const brant_plan_reader *r, json_t *value, const char *place,
                              const char **into)
{
    *into = json_string_value(value);
    if (!*into)
        return brant_member_fail(r, place, "is no text");
    for (const char *c = *into; *c; c++)
        if ((unsigned char)*c < ' ') /* the writer leaves none */
            return brant_member_fail(r, place, "holds control characters");
    return BRANT_OK;
}

static brant_status take_time(const brant_plan_reader *r, json_t *value, const char *place,
                              brant_time *into)
{
    const char *text = json_string_value(value);
    if (text && brant_time_parse(text, into) && into->has_offset)
        return BRANT_OK;
    return brant_member_fail(r, place, "is no time with its time zone");
}

static brant_status take_null(const brant_member *member, void *where)
{
    if (member->kind == BRANT_MEMBER_NUMBER0)
        *(double *)where = NAN;
    else if (member->kind == BRANT_MEMBER_TEXT0)
        *(const char **)where = NULL;
    else
        *(brant_time *)where = (brant_time){.has_offset = false};
    return BRANT_OK;
}

brant_status brant_member_value(const brant_plan_reader *r, json_t *value, const char *place,
                                const brant_member *member, void *into)
{
    void *where = (char *)into + member->offset;
    bool may_be_null = member->kind == BRANT_MEMBER_NUMBER0 ||
                       member->kind == BRANT_MEMBER_TEXT0 || member->kind == BRANT_MEMBER_TIME0;
    if (json_is_null(value) && may_be_null)
        return take_null(member, where);
    switch (member->kind) {
    case BRANT_MEMBER_NUMBER:
    case BRANT_MEMBER_NUMBER0: return take_number(r, value, place, member, where);
    case BRANT_MEMBER_TEXT:
    case BRANT_MEMBER_TEXT0: return take_text(r, value, place, where);
    case BRANT_MEMBER_TIME0: return take_time(r, value, place, where);
    case BRANT_MEMBER_KIND: return take_kind(r, value, place, where);
    case BRANT_MEMBER_FLAG:
        if (!json_is_boolean(value))
            return brant_member_fail(r, place, "is neither true nor false");
        *(bool *)where = json_is_true(value);
        return BRANT_OK;
    }
    return brant_member_fail(r, place, "is a member of no kind");
}

brant_status brant_members(const brant_plan_reader *r, json_t *object, const char *place,
                           const brant_member *members, size_t count, void *into)
{
    char inner[BRANT_PLACE_MAX];
    brant_status status = BRANT_OK;
    for (size_t i = 0; i < count && status == BRANT_OK; i++) {
        json_t *value = NULL;
        status = find(r, object, place, members[i].name, inner, &value);
        if (status == BRANT_OK)
            status = brant_member_value(r, value, inner, &members[i], into);
    }
    return status;
}
