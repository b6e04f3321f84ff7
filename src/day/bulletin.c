/* A bulletin from a CAAML v6 file, or by hand. */
#include "bulletin.h"

#include <stdio.h>
#include <stdlib.h>
#include <string.h>

enum { RATINGS_MAX = 256, REGIONS_LISTED = 20 };

void brant_bulletin_clear(brant_bulletin *bulletin)
{
    free(bulletin->name);
    free(bulletin->id);
    free(bulletin->lang);
    free(bulletin->source);
    free(bulletin->highlights);
    for (size_t i = 0; i < bulletin->region_count; i++) {
        free(bulletin->regions[i].id);
        free(bulletin->regions[i].name);
    }
    for (size_t i = 0; i < bulletin->problem_count; i++)
        free(bulletin->problems[i].comment);
    free(bulletin->regions);
    free(bulletin->ratings);
    free(bulletin->problems);
    memset(bulletin, 0, sizeof *bulletin);
}

/* ---- from bytes to JSON ------------------------------------------------- */

/* The deepest nesting of objects and arrays, strings skipped; stops past `most`. */
static int nesting(const char *bytes, size_t size, int most)
{
    int depth = 0, deepest = 0;
    bool in_string = false;
    for (size_t i = 0; i < size && deepest <= most; i++) {
        char c = bytes[i];
        if (in_string && c == '\\')
            i++;
        else if (c == '"')
            in_string = !in_string;
        else if (!in_string && (c == '{' || c == '['))
            depth++;
        else if (!in_string && (c == '}' || c == ']'))
            depth--;
        if (depth > deepest)
            deepest = depth;
    }
    return deepest;
}

static brant_status load(const brant_json_place *place, const char *bytes, size_t size,
                         json_t **root)
{
    if (size > BRANT_BULLETIN_MAX_BYTES)
        return brant_json_refuse(place, BRANT_ERR_INPUT, "larger than %d MiB: no bulletin",
                                 BRANT_BULLETIN_MAX_BYTES >> 20);
    if (size >= 3 && memcmp(bytes, "\xef\xbb\xbf", 3) == 0) { /* a byte order mark */
        bytes += 3;
        size -= 3;
    }
    if (nesting(bytes, size, BRANT_BULLETIN_MAX_DEPTH) > BRANT_BULLETIN_MAX_DEPTH)
        return brant_json_refuse(place, BRANT_ERR_INPUT, "nested deeper than %d: no bulletin",
                                 BRANT_BULLETIN_MAX_DEPTH);
    json_error_t error;
    *root = json_loadb(bytes, size, JSON_REJECT_DUPLICATES, &error);
    if (*root)
        return BRANT_OK;
    if (json_error_code(&error) == json_error_out_of_memory)
        return brant_json_refuse(place, BRANT_ERR_MEMORY, "not enough memory to read it");
    return brant_json_refuse(place, BRANT_ERR_INPUT, "line %d, column %d: not JSON: %s",
                             error.line, error.column, brant_quote_of(error.text).text);
}

/* ---- which bulletin ----------------------------------------------------- */

static bool has_region(const json_t *bulletin, const char *id)
{
    const json_t *regions = json_object_get(bulletin, "regions");
    for (size_t i = 0; i < json_array_size(regions); i++) {
        const json_t *region = json_array_get(regions, i);
        if (strcmp(json_string_value(json_object_get(region, "regionID")), id) == 0)
            return true;
    }
    return false;
}

/* "XX-01 (East Quern), XX-02, and 12 more" */
static void list_regions(brant_text *text, const json_t *bulletins)
{
    size_t listed = 0, more = 0;
    for (size_t b = 0; b < json_array_size(bulletins); b++) {
        const json_t *regions = json_object_get(json_array_get(bulletins, b), "regions");
        for (size_t i = 0; i < json_array_size(regions); i++) {
            const json_t *region = json_array_get(regions, i);
            const char *id = json_string_value(json_object_get(region, "regionID"));
            const char *name = json_string_value(json_object_get(region, "name"));
            if (listed == REGIONS_LISTED) {
                more++;
                continue;
            }
            brant_text_add(text, "%s%s", listed++ ? ", " : "", brant_quote_of(id).text);
            if (name)
                brant_text_add(text, " (%s)", brant_quote_of(name).text);
        }
    }
    if (more > 0)
        brant_text_add(text, ", and %zu more", more);
    if (listed == 0)
        brant_text_add(text, "none is named");
}

static brant_status wrong_region(const brant_json_place *place, const json_t *bulletins,
                                 const char *region)
{
    brant_text list = {0};
    list_regions(&list, bulletins);
    brant_status status = brant_text_status(place->ctx, &list);
    if (!status && region)
        status = brant_json_refuse(place, BRANT_ERR_USAGE, "no region %s; regions: %s",
                                   brant_quote_of(region).text, list.data);
    else if (!status)
        status = brant_json_refuse(place, BRANT_ERR_USAGE,
                                   "%zu bulletins: choose one by its region (--region): %s",
                                   json_array_size(bulletins), list.data);
    brant_text_clear(&list);
    return status;
}

/* The index of the bulletin for `region`; NULL: of the only one. */
static brant_status choose(const brant_json_place *place, const json_t *bulletins,
                           const char *region, size_t *chosen)
{
    size_t count = json_array_size(bulletins), found = 0;
    if (count == 0)
        return brant_json_refuse(place, BRANT_ERR_INPUT, "holds no bulletin");
    *chosen = 0;
    if (!region)
        return count == 1 ? BRANT_OK : wrong_region(place, bulletins, NULL);
    for (size_t i = 0; i < count; i++) {
        if (!has_region(json_array_get(bulletins, i), region))
            continue;
        if (found++ > 0)
            return brant_json_refuse(place, BRANT_ERR_INPUT,
                                     "region %s is in bulletins[%zu] and bulletins[%zu]: which "
                                     "one holds is not said",
                                     brant_quote_of(region).text, *chosen, i);
        *chosen = i;
    }
    return found ? BRANT_OK : wrong_region(place, bulletins, region);
}

/* ---- from JSON to ours -------------------------------------------------- */

/* A copy of a string member; NULL where there is none. */
static brant_status copy_text(brant_context *ctx, const json_t *object, const char *key,
                              char **text)
{
    const char *value = json_string_value(json_object_get(object, key));
    if (!value)
        return BRANT_OK;
    *text = brant_strdup(ctx, value);
    return *text ? BRANT_OK : BRANT_ERR_MEMORY;
}

/* A time member, checked before; has_offset stays false where there is none. */
static void read_time(const json_t *object, const char *key, brant_time *time)
{
    const char *value = json_string_value(json_object_get(object, key));
    if (value)
        brant_time_parse(value, time);
}

static brant_aspects read_aspects(const json_t *list)
{
    brant_aspects aspects = 0;
    for (size_t i = 0; i < json_array_size(list); i++) {
        int index = brant_word_index(brant_words_aspects,
                                     json_string_value(json_array_get(list, i)));
        if (index < 8) /* n/a names no sector */
            aspects |= 1u << index;
    }
    return aspects ? aspects : BRANT_ASPECTS_ALL;
}

static brant_status read_bound(brant_json_place *place, const json_t *elevation, const char *key,
                               double treeline_m, double *metres, bool *treeline)
{
    *metres = NAN;
    const char *text = json_string_value(json_object_get(elevation, key));
    if (!text)
        return BRANT_OK;
    brant_bound_parse(text, metres);
    *treeline = isnan(*metres);
    if (!*treeline)
        return BRANT_OK;
    *metres = treeline_m;
    if (isfinite(treeline_m))
        return BRANT_OK;
    size_t before = brant_json_enter(place, key);
    brant_status status = brant_json_refuse(place, BRANT_ERR_USAGE,
                                            "the tree line's metres must be given (--treeline)");
    brant_json_leave(place, before);
    return status;
}

static brant_status read_elevation(brant_json_place *place, const json_t *elevation,
                                   double treeline_m, brant_extent *extent)
{
    size_t before = brant_json_enter(place, "elevation");
    brant_status status = read_bound(place, elevation, "lowerBound", treeline_m, &extent->lower_m,
                                     &extent->lower_treeline);
    if (!status)
        status = read_bound(place, elevation, "upperBound", treeline_m, &extent->upper_m,
                            &extent->upper_treeline);
    if (!status && !brant_bounds_in_order(extent->lower_m, extent->upper_m))
        status = brant_json_refuse(place, BRANT_ERR_USAGE,
                                   "with the tree line at %.0f m its lower bound is not below its "
                                   "upper one",
                                   treeline_m);
    brant_json_leave(place, before);
    return status;
}

static brant_status read_extent(brant_json_place *place, const json_t *object, double treeline_m,
                                brant_extent *extent)
{
    static const unsigned periods[] = {BRANT_ALL_DAY, BRANT_EARLIER, BRANT_LATER};
    const char *period = json_string_value(json_object_get(object, "validTimePeriod"));
    extent->periods = period ? periods[brant_word_index(brant_words_period, period)]
                             : BRANT_ALL_DAY;
    extent->aspects = read_aspects(json_object_get(object, "aspects"));
    return read_elevation(place, json_object_get(object, "elevation"), treeline_m, extent);
}

static brant_level read_level(const json_t *object, const char *key)
{
    const char *word = json_string_value(json_object_get(object, key));
    return word ? (brant_level)(BRANT_LEVEL_1 + brant_word_index(brant_words_rating, word))
                : BRANT_LEVEL_NONE;
}

/* A member that is one of `words`, as one of those (static); NULL: not stated. */
static const char *read_word(const json_t *object, const char *key, const char *const *words)
{
    const char *word = json_string_value(json_object_get(object, key));
    return word ? words[brant_word_index(words, word)] : NULL;
}

static brant_status read_ratings(brant_json_place *place, const json_t *list, double treeline_m,
                                 brant_bulletin *bulletin)
{
    size_t count = json_array_size(list);
    if (count > RATINGS_MAX)
        return brant_json_refuse(place, BRANT_ERR_INPUT, "more than %d", RATINGS_MAX);
    bulletin->ratings = brant_alloc(place->ctx, count, sizeof *bulletin->ratings);
    if (!bulletin->ratings)
        return BRANT_ERR_MEMORY;
    brant_status status = BRANT_OK;
    for (size_t i = 0; !status && i < count; i++) {
        const json_t *item = json_array_get(list, i);
        brant_rating *rating = &bulletin->ratings[bulletin->rating_count++];
        rating->level = read_level(item, "mainValue");
        size_t before = brant_json_enter_item(place, i);
        status = read_extent(place, item, treeline_m, &rating->extent);
        brant_json_leave(place, before);
    }
    return status;
}

static brant_status read_problem(brant_json_place *place, const json_t *item, double treeline_m,
                                 brant_problem *problem)
{
    const char *kind = json_string_value(json_object_get(item, "problemType"));
    const json_t *size = json_object_get(item, "avalancheSize");
    problem->kind = (brant_problem_kind)brant_word_index(brant_words_problem, kind);
    problem->size = size ? json_number_value(size) : NAN;
    problem->stability = read_word(item, "snowpackStability", brant_words_stability);
    problem->frequency = read_word(item, "frequency", brant_words_frequency);
    problem->level = read_level(item, "dangerRatingValue");
    brant_status status = copy_text(place->ctx, item, "comment", &problem->comment);
    return status ? status : read_extent(place, item, treeline_m, &problem->extent);
}

static brant_status read_problems(brant_json_place *place, const json_t *list, double treeline_m,
                                  brant_bulletin *bulletin)
{
    size_t count = json_array_size(list);
    if (count > BRANT_PROBLEMS_MAX)
        return brant_json_refuse(place, BRANT_ERR_INPUT, "more than %d", BRANT_PROBLEMS_MAX);
    bulletin->problems = brant_alloc(place->ctx, count, sizeof *bulletin->problems);
    if (!bulletin->problems)
        return BRANT_ERR_MEMORY;
    brant_status status = BRANT_OK;
    for (size_t i = 0; !status && i < count; i++) {
        size_t before = brant_json_enter_item(place, i);
        status = read_problem(place, json_array_get(list, i), treeline_m,
                              &bulletin->problems[bulletin->problem_count++]);
        brant_json_leave(place, before);
    }
    return status;
}

static brant_status read_regions(brant_context *ctx, const json_t *list, const char *chosen,
                                 brant_bulletin *bulletin)
{
    bulletin->regions = brant_alloc(ctx, json_array_size(list), sizeof *bulletin->regions);
    if (!bulletin->regions)
        return BRANT_ERR_MEMORY;
    bulletin->chosen_region = -1;
    brant_status status = BRANT_OK;
    for (size_t i = 0; !status && i < json_array_size(list); i++) {
        const json_t *item = json_array_get(list, i);
        brant_region *region = &bulletin->regions[bulletin->region_count++];
        status = copy_text(ctx, item, "regionID", &region->id);
        if (!status)
            status = copy_text(ctx, item, "name", &region->name);
        if (!status && chosen && bulletin->chosen_region < 0 && strcmp(region->id, chosen) == 0)
            bulletin->chosen_region = (long long)i;
    }
    return status;
}

/* What the report's head says. */
static brant_status read_head(brant_context *ctx, const json_t *from, brant_bulletin *bulletin)
{
    const json_t *source = json_object_get(from, "source");
    const json_t *issuer = json_object_get(source, "provider");
    const json_t *valid = json_object_get(from, "validTime");
    read_time(from, "publicationTime", &bulletin->published);
    read_time(from, "nextUpdate", &bulletin->next_update);
    read_time(valid, "startTime", &bulletin->valid_from);
    read_time(valid, "endTime", &bulletin->valid_to);
    brant_status status = copy_text(ctx, from, "bulletinID", &bulletin->id);
    if (!status)
        status = copy_text(ctx, from, "lang", &bulletin->lang);
    if (!status)
        status = copy_text(ctx, from, "highlights", &bulletin->highlights);
    if (!status)
        status = copy_text(ctx, issuer ? issuer : json_object_get(source, "person"), "name",
                           &bulletin->source);
    return status;
}

static brant_status read_bulletin(brant_json_place *place, const json_t *from,
                                  const brant_bulletin_options *options, brant_bulletin *bulletin)
{
    bulletin->outside_core_lower = options->outside_core_lower;
    bulletin->name = brant_strdup(place->ctx, place->name);
    brant_status status = bulletin->name ? BRANT_OK : BRANT_ERR_MEMORY;
    if (!status)
        status = read_head(place->ctx, from, bulletin);
    if (!status)
        status = read_regions(place->ctx, json_object_get(from, "regions"), options->region,
                              bulletin);
    size_t before = brant_json_enter(place, "dangerRatings");
    if (!status)
        status = read_ratings(place, json_object_get(from, "dangerRatings"), options->treeline_m,
                              bulletin);
    brant_json_leave(place, before);
    brant_json_enter(place, "avalancheProblems");
    if (!status)
        status = read_problems(place, json_object_get(from, "avalancheProblems"),
                               options->treeline_m, bulletin);
    brant_json_leave(place, before);
    return status;
}

brant_status brant_bulletin_parse(brant_context *ctx, const char *name, const void *data,
                                  size_t size, const brant_bulletin_options *options,
                                  brant_bulletin *bulletin)
{
    brant_json_place place = {.ctx = ctx, .name = name};
    json_t *root = NULL;
    size_t chosen = 0;
    memset(bulletin, 0, sizeof *bulletin);
    brant_status status = load(&place, data, size, &root);
    if (!status)
        status = brant_bulletin_check(&place, root);
    const json_t *bulletins = json_object_get(root, "bulletins");
    if (!status)
        status = choose(&place, bulletins, options->region, &chosen);
    if (!status) {
        brant_json_enter(&place, "bulletins");
        brant_json_enter_item(&place, chosen);
        status = read_bulletin(&place, json_array_get(bulletins, chosen), options, bulletin);
    }
    json_decref(root);
    if (status)
        brant_bulletin_clear(bulletin);
    return status;
}

/* ---- by hand ------------------------------------------------------------ */

brant_status brant_bulletin_by_hand(brant_context *ctx, long long level, double above_m,
                                    double below_m, const char *aspects,
                                    const brant_bulletin_options *options,
                                    brant_bulletin *bulletin)
{
    brant_extent extent = {.aspects = BRANT_ASPECTS_ALL, .lower_m = above_m, .upper_m = below_m,
                           .periods = BRANT_ALL_DAY};
    memset(bulletin, 0, sizeof *bulletin);
    if (level < 1 || level > 5)
        return brant_fail(ctx, BRANT_ERR_USAGE, "level %lld: the danger scale runs from 1 to 5",
                          level);
    if (aspects && !brant_aspects_parse(aspects, &extent.aspects))
        return brant_fail(ctx, BRANT_ERR_USAGE,
                          "aspects '%s': not sectors and clockwise runs such as NW-N-NE,E",
                          brant_quote_of(aspects).text);
    if (!brant_bounds_in_order(above_m, below_m))
        return brant_fail(ctx, BRANT_ERR_USAGE, "level above %.0f m and below %.0f m: nowhere",
                          above_m, below_m);
    bulletin->ratings = brant_alloc(ctx, 1, sizeof *bulletin->ratings);
    if (!bulletin->ratings)
        return BRANT_ERR_MEMORY;
    bulletin->ratings[0] = (brant_rating){.level = (brant_level)level, .extent = extent};
    bulletin->rating_count = 1;
    bulletin->by_hand = true;
    bulletin->chosen_region = -1;
    bulletin->outside_core_lower = options->outside_core_lower;
    return BRANT_OK;
}
