/* The bulletin in a report's words. */
#include "brant/day.h"

#include <ctype.h>
#include <string.h>

const char *brant_problem_kind_text(brant_problem_kind kind)
{
    static const char *const names[BRANT_PROBLEM_KINDS] = {
        "new snow",     "wind slab", "persistent weak layer", "wet snow",
        "gliding snow", "cornices",  "no distinct problem",   "favourable situation"};
    return (unsigned)kind < BRANT_PROBLEM_KINDS ? names[kind] : "";
}

void brant_text_kinds(brant_text *text, unsigned kinds)
{
    bool any = false;
    for (int kind = 0; kind < BRANT_PROBLEM_KINDS; kind++) {
        if (!(kinds & BRANT_KIND_BIT(kind)))
            continue;
        brant_text_add(text, "%s%s", any ? ", " : "",
                       brant_problem_kind_text((brant_problem_kind)kind));
        any = true;
    }
}

/* ---- where -------------------------------------------------------------- */

static void add_bound(brant_text *text, double metres, bool treeline)
{
    brant_text_add(text, treeline ? "tree line (" : "");
    brant_text_thousands(text, metres);
    brant_text_add(text, treeline ? " m)" : " m");
}

static void add_elevations(brant_text *text, const brant_extent *extent)
{
    bool lower = !isnan(extent->lower_m), upper = !isnan(extent->upper_m);
    bool plain = !extent->lower_treeline && !extent->upper_treeline;
    if (lower && upper && plain) {
        brant_text_add(text, "at ");
        brant_text_thousands(text, extent->lower_m);
        brant_text_add(text, "-");
        add_bound(text, extent->upper_m, false);
    } else if (lower && upper) {
        brant_text_add(text, "from ");
        add_bound(text, extent->lower_m, extent->lower_treeline);
        brant_text_add(text, " to ");
        add_bound(text, extent->upper_m, extent->upper_treeline);
    } else if (lower || upper) {
        brant_text_add(text, lower ? "above " : "below ");
        add_bound(text, lower ? extent->lower_m : extent->upper_m,
                  lower ? extent->lower_treeline : extent->upper_treeline);
    }
}

static bool is_everywhere(const brant_extent *extent)
{
    return isnan(extent->lower_m) && isnan(extent->upper_m) &&
           extent->aspects == BRANT_ASPECTS_ALL;
}

void brant_text_extent(brant_text *text, const brant_extent *extent)
{
    size_t before = text->length;
    add_elevations(text, extent);
    if (extent->aspects != BRANT_ASPECTS_ALL) {
        brant_text_add(text, text->length > before ? " " : "");
        brant_text_aspects(text, extent->aspects);
    }
}

/* ---- ratings ------------------------------------------------------------ */

static void add_rating(brant_text *text, const brant_rating *rating)
{
    brant_text_add(text, "%s ", brant_level_text(rating->level));
    if (is_everywhere(&rating->extent))
        brant_text_add(text, "everywhere");
    else
        brant_text_extent(text, &rating->extent);
}

/* The level of least rank in a period; `*count` ratings give it. */
static brant_level lowest(const brant_bulletin *bulletin, unsigned period, size_t *count)
{
    brant_level low = BRANT_LEVEL_NONE;
    for (size_t i = 0; i < bulletin->rating_count; i++) {
        const brant_rating *rating = &bulletin->ratings[i];
        if (!(rating->extent.periods & period))
            continue;
        if (low == BRANT_LEVEL_NONE || brant_level_higher(low, rating->level) != rating->level) {
            low = rating->level;
            *count = 0;
        }
        *count += rating->level == low;
    }
    return low;
}

/* The ratings of one level in one period, each after "; " unless it is the first. */
static void add_level(brant_text *text, const brant_bulletin *bulletin, brant_level level,
                      unsigned period, size_t start)
{
    for (size_t i = 0; i < bulletin->rating_count; i++) {
        const brant_rating *rating = &bulletin->ratings[i];
        if (rating->level != level || !(rating->extent.periods & period))
            continue;
        brant_text_add(text, "%s", text->length > start ? "; " : "");
        add_rating(text, rating);
    }
}

static void add_period(brant_text *text, const brant_bulletin *bulletin, unsigned period)
{
    static const brant_level down[] = {BRANT_LEVEL_5, BRANT_LEVEL_NO_RATING, BRANT_LEVEL_4,
                                       BRANT_LEVEL_3, BRANT_LEVEL_2,         BRANT_LEVEL_1,
                                       BRANT_LEVEL_NO_SNOW};
    size_t start = text->length, alike = 0;
    bool whole = brant_bulletin_states_all(bulletin, period);
    brant_level low = lowest(bulletin, period, &alike);
    for (size_t i = 0; i < sizeof down / sizeof down[0]; i++) {
        bool rest = down[i] == low && whole && alike > 1 && text->length > start;
        if (rest)
            brant_text_add(text, "; %s elsewhere (stated)", brant_level_text(low));
        else
            add_level(text, bulletin, down[i], period, start);
    }
    if (low == BRANT_LEVEL_NONE)
        brant_text_add(text, "no level stated");
    else if (!whole)
        brant_text_add(text, "; elsewhere %s",
                       bulletin->outside_core_lower ? "not stated: taken as one lower"
                                                    : "not stated");
}

void brant_text_ratings(brant_text *text, const brant_bulletin *bulletin)
{
    bool differ = false;
    for (size_t i = 0; i < bulletin->rating_count; i++)
        differ = differ || bulletin->ratings[i].extent.periods != BRANT_ALL_DAY;
    brant_text_add(text, differ ? "earlier: " : "");
    add_period(text, bulletin, BRANT_EARLIER);
    if (!differ)
        return;
    brant_text_add(text, "; later: ");
    add_period(text, bulletin, BRANT_LATER);
}

/* ---- problems ----------------------------------------------------------- */

void brant_text_problem(brant_text *text, const brant_problem *problem)
{
    const char *kind = brant_problem_kind_text(problem->kind);
    brant_text_add(text, "%c%s", toupper((unsigned char)kind[0]), kind + 1);
    if (!is_everywhere(&problem->extent))
        brant_text_add(text, " ");
    brant_text_extent(text, &problem->extent);
    if (problem->extent.periods != BRANT_ALL_DAY)
        brant_text_add(text, ", %s",
                       problem->extent.periods == BRANT_EARLIER ? "earlier" : "later");
    if (!isnan(problem->size)) {
        brant_text_add(text, ", size ");
        brant_text_number(text, problem->size, problem->size == floor(problem->size) ? 0 : 1);
    }
    if (problem->stability)
        brant_text_add(text, ", stability %s",
                       strcmp(problem->stability, "very_poor") == 0 ? "very poor"
                                                                    : problem->stability);
    if (problem->frequency)
        brant_text_add(text, ", frequency %s", problem->frequency);
    if (problem->level != BRANT_LEVEL_NONE)
        brant_text_add(text, ", level %s", brant_level_text(problem->level));
}

/* ---- head --------------------------------------------------------------- */

void brant_text_region(brant_text *text, const brant_bulletin *bulletin)
{
    if (bulletin->by_hand || bulletin->region_count == 0) {
        brant_text_add(text, bulletin->by_hand ? "by hand" : "region not stated");
        return;
    }
    for (size_t i = 0; i < bulletin->region_count; i++) {
        const brant_region *region = &bulletin->regions[i];
        bool shown = bulletin->chosen_region < 0 || bulletin->chosen_region == (long long)i;
        bool first = i == 0 || bulletin->chosen_region >= 0;
        if (shown)
            brant_text_add(text, "%s%s", first ? "" : ", ",
                           region->name ? region->name : region->id);
    }
}

static void add_date_clock(brant_text *text, const brant_time *time)
{
    brant_text_day(text, time);
    brant_text_add(text, " ");
    brant_text_clock(text, time);
}

static void add_validity(brant_text *text, const brant_time *from, const brant_time *to,
                         void (*add)(brant_text *text, const brant_time *time))
{
    if (!from->has_offset && !to->has_offset) {
        brant_text_add(text, "valid time not stated");
        return;
    }
    brant_text_add(text, "valid %s", !to->has_offset ? "from " : !from->has_offset ? "until " : "");
    if (from->has_offset)
        add(text, from);
    brant_text_add(text, from->has_offset && to->has_offset ? " - " : "");
    if (to->has_offset)
        add(text, to);
}

void brant_text_validity(brant_text *text, const brant_bulletin *bulletin, int offset_min)
{
    brant_time from = brant_time_at(bulletin->valid_from.utc_s, offset_min);
    brant_time to = brant_time_at(bulletin->valid_to.utc_s, offset_min);
    from.has_offset = bulletin->valid_from.has_offset;
    to.has_offset = bulletin->valid_to.has_offset;
    add_validity(text, &from, &to, brant_text_day_clock);
}

void brant_text_validity_dates(brant_text *text, const brant_bulletin *bulletin)
{
    add_validity(text, &bulletin->valid_from, &bulletin->valid_to, add_date_clock);
}

/* "Fri 12 Feb 2027 17:00 - Sat 13 Feb 2027 17:00" */
static void add_span(brant_text *text, int64_t from, int64_t to, int offset_min)
{
    brant_time a = brant_time_at(from, offset_min), b = brant_time_at(to, offset_min);
    add_date_clock(text, &a);
    brant_text_add(text, " - ");
    if (brant_time_midnight(&a) != brant_time_midnight(&b))
        add_date_clock(text, &b);
    else
        brant_text_clock(text, &b);
}

bool brant_bulletin_covers(const brant_bulletin *bulletin, int64_t from, int64_t to,
                           int offset_min, brant_text *why)
{
    bool start = bulletin->valid_from.has_offset, end = bulletin->valid_to.has_offset;
    if (bulletin->by_hand ||
        (start && end && bulletin->valid_from.utc_s <= from && to <= bulletin->valid_to.utc_s))
        return true;
    if (start && end) {
        brant_text_add(why, "valid ");
        add_span(why, bulletin->valid_from.utc_s, bulletin->valid_to.utc_s, offset_min);
    } else {
        brant_text_validity(why, bulletin, offset_min);
    }
    brant_text_add(why, ", the tour is ");
    add_span(why, from, to, offset_min);
    return false;
}
