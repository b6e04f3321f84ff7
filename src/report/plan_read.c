/* plan.json, read back: the whole. */
#include "plan_members.h"

#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#define AT(member) offsetof(brant_read_plan, member)
#define COUNT(list) (sizeof(list) / sizeof *(list))

static const brant_member model_members[] = {
    {"file", BRANT_MEMBER_TEXT, AT(model), 0, 0},
    {"cells_averaged", BRANT_MEMBER_NUMBER, AT(cells_averaged), 1, 1e6},
    {"vertical_unit", BRANT_MEMBER_TEXT0, AT(vertical_unit), 0, 0},
    {"datum_accuracy_m", BRANT_MEMBER_NUMBER0, AT(datum_accuracy_m), 0, 1e6},
};

static const brant_member option_members[] = {
    {"reach_angle_deg", BRANT_MEMBER_NUMBER, AT(reach_angle_deg), 10, 60},
    {"spread_deg", BRANT_MEMBER_NUMBER, AT(spread_deg), 0, 60},
    {"floor_deg", BRANT_MEMBER_NUMBER, AT(floor_deg), 10, 45},
    {"edge_m", BRANT_MEMBER_NUMBER, AT(edge_m), 0, 100},
    {"vertical_error_m", BRANT_MEMBER_NUMBER0, AT(vertical_error_m), 0, 1000},
    {"zones_from", BRANT_MEMBER_TEXT0, AT(zones_from), 0, 0},
    {"zones_with_own_reach_angle", BRANT_MEMBER_NUMBER, AT(own_angles), 0, 1e10},
};

/* A pair of numbers, such as a cell's width and height. */
static brant_status read_pair(const brant_plan_reader *r, json_t *object, const char *place,
                              const char *key, double low, double high, double pair[2])
{
    char inner[BRANT_PLACE_MAX], element[BRANT_PLACE_MAX];
    json_t *list = NULL;
    brant_status status = brant_member_array(r, object, place, key, false, inner, &list);
    if (status == BRANT_OK && json_array_size(list) != 2)
        status = brant_member_fail(r, inner, "is no pair of numbers");
    for (size_t i = 0; i < 2 && status == BRANT_OK; i++) {
        brant_member member = {key, BRANT_MEMBER_NUMBER, i * sizeof *pair, low, high};
        brant_element_place(inner, i, element);
        status = brant_member_value(r, json_array_get(list, i), element, &member, pair);
    }
    return status;
}

static brant_status read_model(const brant_plan_reader *r, json_t *root, brant_read_plan *plan)
{
    char place[BRANT_PLACE_MAX];
    json_t *object = NULL;
    brant_status status = brant_member_object(r, root, "", "model", false, place, &object);
    if (status == BRANT_OK)
        status = brant_members(r, object, place, model_members, COUNT(model_members), plan);
    if (status == BRANT_OK)
        status = read_pair(r, object, place, "cell_m", 1e-3, 1e6, plan->cell_m);
    return status;
}

static brant_status read_options(const brant_plan_reader *r, json_t *root, brant_read_plan *plan)
{
    char place[BRANT_PLACE_MAX];
    json_t *object = NULL;
    brant_status status = brant_member_object(r, root, "", "options", false, place, &object);
    if (status == BRANT_OK)
        status = brant_members(r, object, place, option_members, COUNT(option_members), plan);
    if (status == BRANT_OK)
        status = read_pair(r, object, place, "band_deg", 0, 90, plan->band_deg);
    return status;
}

static brant_status read_tours(const brant_plan_reader *r, json_t *root, brant_read_plan *plan)
{
    char place[BRANT_PLACE_MAX], element[BRANT_PLACE_MAX];
    json_t *list = NULL;
    brant_status status = brant_member_array(r, root, "", "tours", false, place, &list);
    if (status == BRANT_OK && json_array_size(list) == 0)
        status = brant_member_fail(r, place, "is empty");
    if (status == BRANT_OK) {
        plan->tours = brant_alloc(r->ctx, json_array_size(list), sizeof *plan->tours);
        status = plan->tours ? BRANT_OK : BRANT_ERR_MEMORY;
    }
    for (size_t i = 0; status == BRANT_OK && i < json_array_size(list); i++) {
        brant_element_place(place, i, element);
        plan->tour_count = i + 1;
        status = brant_plan_read_tour(r, json_array_get(list, i), element, &plan->tours[i]);
    }
    return status;
}

/* Another version may mean something else by the same name. */
static brant_status check_version(const brant_plan_reader *r, json_t *root)
{
    const char *version = json_string_value(json_object_get(root, "brant"));
    if (!version)
        return brant_member_fail(r, "brant", "is missing, or no text: not a plan of brant");
    if (strcmp(version, brant_version()) != 0)
        return brant_fail(r->ctx, BRANT_ERR_INPUT,
                          "%s: brant: was written by version %.40s, this is %s: make the plan anew",
                          r->name, version, brant_version());
    return BRANT_OK;
}

static brant_status parse(const brant_plan_reader *r, const void *data, size_t size,
                          json_t **root)
{
    json_error_t error;
    *root = json_loadb(data, size, JSON_REJECT_DUPLICATES, &error);
    if (!*root)
        return brant_fail(r->ctx, BRANT_ERR_INPUT, "%s: line %d: no JSON: %s", r->name, error.line,
                          error.text);
    return json_is_object(*root) ? check_version(r, *root)
                                 : brant_member_fail(r, "", "is no JSON object");
}

brant_status brant_plan_read(brant_context *ctx, const char *name, const void *data, size_t size,
                             brant_read_plan *plan)
{
    static const brant_member caution[] = {
        {"caution", BRANT_MEMBER_TEXT, AT(caution), 0, 0}};
    brant_plan_reader r = {ctx, name};
    json_t *root = NULL;
    memset(plan, 0, sizeof *plan);
    plan->name = name;
    brant_status status = parse(&r, data, size, &root);
    plan->root = root;
    if (status == BRANT_OK)
        status = read_model(&r, root, plan);
    if (status == BRANT_OK)
        status = read_options(&r, root, plan);
    if (status == BRANT_OK)
        status = brant_plan_read_day(&r, root, plan);
    if (status == BRANT_OK)
        status = read_tours(&r, root, plan);
    if (status == BRANT_OK)
        status = brant_members(&r, root, "", caution, 1, plan);
    if (status != BRANT_OK)
        brant_plan_read_clear(plan);
    return status;
}

void brant_plan_read_clear(brant_read_plan *plan)
{
    for (size_t i = 0; i < plan->tour_count; i++)
        brant_plan_read_tour_clear(&plan->tours[i]);
    free(plan->tours);
    free(plan->kit);
    brant_bulletin_clear(&plan->bulletin);
    json_decref(plan->root);
    memset(plan, 0, sizeof *plan);
}
