/* plan.json, read back: the day. */
#include "plan_members.h"

#include <string.h>

#define COUNT(list) (sizeof(list) / sizeof *(list))

#define AT(member) offsetof(brant_read_plan, member)
static const brant_member day_members[] = {
    {"start", BRANT_MEMBER_TIME0, AT(start), 0, 0},
    {"out_by", BRANT_MEMBER_TIME0, AT(out_by), 0, 0},
    {"later_from", BRANT_MEMBER_TEXT0, AT(later_from), 0, 0},
    {"wind_from", BRANT_MEMBER_TEXT0, AT(wind_from), 0, 0},
    {"new_snow_cm", BRANT_MEMBER_NUMBER0, AT(new_snow_cm), 0, 500},
    {"warming", BRANT_MEMBER_FLAG, AT(warming), 0, 0},
};
#undef AT

#define AT(member) offsetof(brant_bulletin, member)
static const brant_member bulletin_members[] = {
    {"by_hand", BRANT_MEMBER_FLAG, AT(by_hand), 0, 0},
    {"valid_from", BRANT_MEMBER_TIME0, AT(valid_from), 0, 0},
    {"valid_to", BRANT_MEMBER_TIME0, AT(valid_to), 0, 0},
    {"outside_core_lower", BRANT_MEMBER_FLAG, AT(outside_core_lower), 0, 0},
};
#undef AT

#define AT(member) offsetof(brant_read_item, member)
static const brant_member item_members[] = {
    {"title", BRANT_MEMBER_TEXT, AT(title), 0, 0},
    {"check", BRANT_MEMBER_TEXT, AT(check), 0, 0},
    {"known", BRANT_MEMBER_TEXT0, AT(known), 0, 0}, /* signs alone */
};
#undef AT

/* ---- words -------------------------------------------------------------- */

static const char *level_name(int level)
{
    return level < BRANT_LEVELS ? brant_level_text((brant_level)level) : NULL;
}

static const char *problem_name(int kind)
{
    return kind < BRANT_PROBLEM_KINDS ? brant_problem_kind_text((brant_problem_kind)kind) : NULL;
}

static const char *stability_name(int which)
{
    static const char *const names[] = {"very_poor", "poor", "fair", "good", NULL};
    return names[which];
}

static const char *frequency_name(int which)
{
    static const char *const names[] = {"many", "some", "few", "none", NULL};
    return names[which];
}

/* The word's index, by the names that `name_of` gives until NULL; the member is a text. */
static brant_status read_word(const brant_plan_reader *r, json_t *object, const char *place,
                              const char *key, const char *(*name_of)(int), bool null, int *index)
{
    const char *text = NULL;
    char inner[BRANT_PLACE_MAX];
    brant_member member = {key, null ? BRANT_MEMBER_TEXT0 : BRANT_MEMBER_TEXT, 0, 0, 0};
    brant_status status = brant_members(r, object, place, &member, 1, &text);
    *index = -1;
    if (status != BRANT_OK || !text)
        return status;
    for (int i = 0; name_of(i); i++)
        if (strcmp(name_of(i), text) == 0 && *text)
            *index = i;
    brant_member_place(place, key, inner);
    return *index >= 0 ? BRANT_OK : brant_member_fail(r, inner, "is a word not known here");
}

/* ---- ratings and problems ----------------------------------------------- */

typedef struct extent_parts {
    const char *aspects;
    double above_m, below_m;
    bool above_treeline, below_treeline, earlier, later;
} extent_parts;

#define AT(member) offsetof(extent_parts, member)
static const brant_member extent_members[] = {
    {"aspects", BRANT_MEMBER_TEXT, AT(aspects), 0, 0},
    {"above_m", BRANT_MEMBER_NUMBER0, AT(above_m), -500, 9900},
    {"below_m", BRANT_MEMBER_NUMBER0, AT(below_m), -500, 9900},
    {"above_treeline", BRANT_MEMBER_FLAG, AT(above_treeline), 0, 0},
    {"below_treeline", BRANT_MEMBER_FLAG, AT(below_treeline), 0, 0},
    {"earlier", BRANT_MEMBER_FLAG, AT(earlier), 0, 0},
    {"later", BRANT_MEMBER_FLAG, AT(later), 0, 0},
};
#undef AT

/* What brant_text_aspects writes for all of them. */
static bool parse_aspects(const char *text, brant_aspects *aspects)
{
    brant_text all = {0};
    brant_text_aspects(&all, BRANT_ASPECTS_ALL);
    bool is_all = !all.failed && strcmp(text, all.data ? all.data : "") == 0;
    brant_text_clear(&all);
    *aspects = BRANT_ASPECTS_ALL;
    return is_all || brant_aspects_parse(text, aspects);
}

static brant_status read_extent(const brant_plan_reader *r, json_t *object, const char *place,
                                brant_extent *extent)
{
    extent_parts parts = {0};
    char inner[BRANT_PLACE_MAX];
    brant_status status = brant_members(r, object, place, extent_members, COUNT(extent_members),
                                        &parts);
    if (status != BRANT_OK)
        return status;
    brant_member_place(place, "aspects", inner);
    if (!parse_aspects(parts.aspects, &extent->aspects))
        return brant_member_fail(r, inner, "are no sectors");
    if (!parts.earlier && !parts.later)
        return brant_member_fail(r, place, "is neither earlier nor later");
    extent->lower_m = parts.above_m;
    extent->upper_m = parts.below_m;
    extent->lower_treeline = parts.above_treeline;
    extent->upper_treeline = parts.below_treeline;
    extent->periods = (parts.earlier ? BRANT_EARLIER : 0) | (parts.later ? BRANT_LATER : 0);
    return BRANT_OK;
}

static brant_status read_rating(const brant_plan_reader *r, json_t *object, const char *place,
                                brant_rating *rating)
{
    int level = 0;
    brant_status status = read_word(r, object, place, "level", level_name, false, &level);
    rating->level = (brant_level)level;
    return status == BRANT_OK ? read_extent(r, object, place, &rating->extent) : status;
}

static brant_status read_problem(const brant_plan_reader *r, json_t *object, const char *place,
                                 brant_problem *problem)
{
    static const brant_member size = {"size", BRANT_MEMBER_NUMBER0, offsetof(brant_problem, size),
                                      1, 5};
    int kind = 0, stability = -1, frequency = -1, level = -1;
    brant_status status = read_word(r, object, place, "problem", problem_name, false, &kind);
    if (status == BRANT_OK)
        status = read_extent(r, object, place, &problem->extent);
    if (status == BRANT_OK)
        status = brant_members(r, object, place, &size, 1, problem);
    if (status == BRANT_OK)
        status = read_word(r, object, place, "stability", stability_name, true, &stability);
    if (status == BRANT_OK)
        status = read_word(r, object, place, "frequency", frequency_name, true, &frequency);
    if (status == BRANT_OK)
        status = read_word(r, object, place, "level", level_name, true, &level);
    problem->kind = (brant_problem_kind)kind;
    problem->stability = stability >= 0 ? stability_name(stability) : NULL;
    problem->frequency = frequency >= 0 ? frequency_name(frequency) : NULL;
    problem->level = level >= 0 ? (brant_level)level : BRANT_LEVEL_NONE;
    return status;
}

/* ---- lists -------------------------------------------------------------- */

/* The list `key` of objects: room for its elements of `size` bytes in *array (owned by the
 * caller). `most`: no longer than that. */
static brant_status open_list(const brant_plan_reader *r, json_t *object, const char *place,
                              const char *key, size_t most, size_t size,
                              char inner[BRANT_PLACE_MAX], json_t **list, void *array)
{
    void *made = NULL;
    brant_status status = brant_member_array(r, object, place, key, false, inner, list);
    if (status == BRANT_OK && json_array_size(*list) > most)
        status = brant_member_fail(r, inner, "is too long");
    for (size_t i = 0; status == BRANT_OK && i < json_array_size(*list); i++)
        if (!json_is_object(json_array_get(*list, i)))
            status = brant_member_fail(r, inner, "holds what is no object");
    if (status == BRANT_OK) {
        made = brant_alloc(r->ctx, json_array_size(*list), size);
        status = made ? BRANT_OK : BRANT_ERR_MEMORY;
    }
    memcpy(array, &made, sizeof made);
    return status;
}

static brant_status read_ratings(const brant_plan_reader *r, json_t *object, const char *place,
                                 brant_bulletin *bulletin)
{
    char inner[BRANT_PLACE_MAX], element[BRANT_PLACE_MAX];
    json_t *list = NULL;
    brant_status status = open_list(r, object, place, "ratings", 256, sizeof *bulletin->ratings,
                                    inner, &list, &bulletin->ratings);
    for (size_t i = 0; status == BRANT_OK && i < json_array_size(list); i++) {
        brant_element_place(inner, i, element);
        bulletin->rating_count = i + 1;
        status = read_rating(r, json_array_get(list, i), element, &bulletin->ratings[i]);
    }
    if (status == BRANT_OK)
        status = open_list(r, object, place, "problems", BRANT_PROBLEMS_MAX,
                           sizeof *bulletin->problems, inner, &list, &bulletin->problems);
    for (size_t i = 0; status == BRANT_OK && i < json_array_size(list); i++) {
        brant_element_place(inner, i, element);
        bulletin->problem_count = i + 1;
        status = read_problem(r, json_array_get(list, i), element, &bulletin->problems[i]);
    }
    return status;
}

static brant_status read_regions(const brant_plan_reader *r, json_t *object, const char *place,
                                 brant_bulletin *bulletin)
{
    struct parts {
        const char *id, *name;
        bool chosen;
    } parts = {0};
    static const brant_member members[] = {
        {"id", BRANT_MEMBER_TEXT, offsetof(struct parts, id), 0, 0},
        {"name", BRANT_MEMBER_TEXT0, offsetof(struct parts, name), 0, 0},
        {"chosen", BRANT_MEMBER_FLAG, offsetof(struct parts, chosen), 0, 0},
    };
    char inner[BRANT_PLACE_MAX], element[BRANT_PLACE_MAX];
    json_t *list = NULL;
    bulletin->chosen_region = -1;
    brant_status status = open_list(r, object, place, "regions", 100000,
                                    sizeof *bulletin->regions, inner, &list, &bulletin->regions);
    for (size_t i = 0; status == BRANT_OK && i < json_array_size(list); i++) {
        brant_element_place(inner, i, element);
        status = brant_members(r, json_array_get(list, i), element, members, COUNT(members),
                               &parts);
        if (status != BRANT_OK)
            break;
        bulletin->region_count = i + 1;
        bulletin->regions[i].id = brant_strdup(r->ctx, parts.id);
        bulletin->regions[i].name = parts.name ? brant_strdup(r->ctx, parts.name) : NULL;
        if (!bulletin->regions[i].id || (parts.name && !bulletin->regions[i].name))
            status = BRANT_ERR_MEMORY;
        if (parts.chosen)
            bulletin->chosen_region = (long long)i;
    }
    return status;
}

static brant_status read_bulletin(const brant_plan_reader *r, json_t *day, const char *place,
                                  brant_read_plan *plan)
{
    char inner[BRANT_PLACE_MAX];
    json_t *object = NULL;
    brant_status status = brant_member_object(r, day, place, "bulletin", true, inner, &object);
    if (status != BRANT_OK || !object)
        return status;
    plan->has_bulletin = true;
    status = brant_members(r, object, inner, bulletin_members, COUNT(bulletin_members),
                           &plan->bulletin);
    if (status == BRANT_OK)
        status = read_regions(r, object, inner, &plan->bulletin);
    return status == BRANT_OK ? read_ratings(r, object, inner, &plan->bulletin) : status;
}

static brant_status read_items(const brant_plan_reader *r, json_t *day, const char *place,
                               brant_read_plan *plan)
{
    char inner[BRANT_PLACE_MAX], element[BRANT_PLACE_MAX];
    json_t *signs = NULL, *kit = NULL;
    brant_status status = brant_member_array(r, day, place, "signs", false, inner, &signs);
    if (status == BRANT_OK && json_array_size(signs) != BRANT_SIGNS)
        status = brant_member_fail(r, inner, "has not five elements");
    for (size_t i = 0; status == BRANT_OK && i < BRANT_SIGNS; i++) {
        brant_element_place(inner, i, element);
        status = brant_members(r, json_array_get(signs, i), element, item_members, 3,
                               &plan->signs[i]);
    }
    if (status == BRANT_OK)
        status = open_list(r, day, place, "kit", 1000, sizeof *plan->kit, inner, &kit,
                           &plan->kit);
    for (size_t i = 0; status == BRANT_OK && i < json_array_size(kit); i++) {
        brant_element_place(inner, i, element);
        plan->kit_count = i + 1;
        status = brant_members(r, json_array_get(kit, i), element, item_members, 2,
                               &plan->kit[i]);
    }
    return status;
}

brant_status brant_plan_read_day(const brant_plan_reader *r, json_t *root, brant_read_plan *plan)
{
    char place[BRANT_PLACE_MAX];
    json_t *day = NULL;
    brant_status status = brant_member_object(r, root, "", "day", false, place, &day);
    if (status == BRANT_OK)
        status = brant_members(r, day, place, day_members, COUNT(day_members), plan);
    if (status == BRANT_OK)
        status = read_bulletin(r, day, place, plan);
    return status == BRANT_OK ? read_items(r, day, place, plan) : status;
}
