/* Danger levels: names, order, the level of one piece of ground. */
#include "brant/day.h"
#include "brant/terrain.h"

const char *brant_level_text(brant_level level)
{
    static const char *const names[BRANT_LEVELS] = {
        "", "1", "2", "3", "4", "5", "no snow", "no rating", "not stated"};
    return (unsigned)level < BRANT_LEVELS ? names[level] : "";
}

/* Place in the one order of all levels; the last three share a rank. */
static int order(brant_level level)
{
    static const int places[BRANT_LEVELS] = {
        [BRANT_LEVEL_NONE] = 0, [BRANT_LEVEL_NO_SNOW] = 1,   [BRANT_LEVEL_1] = 2,
        [BRANT_LEVEL_2] = 3,    [BRANT_LEVEL_3] = 4,         [BRANT_LEVEL_4] = 5,
        [BRANT_LEVEL_NOT_STATED] = 6, [BRANT_LEVEL_NO_RATING] = 7, [BRANT_LEVEL_5] = 8};
    return places[level];
}

int brant_level_rank(brant_level level)
{
    int place = order(level);
    return place < BRANT_RANK_FIRST ? place : BRANT_RANK_FIRST;
}

brant_level brant_level_higher(brant_level a, brant_level b)
{
    return order(a) >= order(b) ? a : b;
}

brant_level brant_level_more(brant_level level)
{
    return level >= BRANT_LEVEL_1 && level < BRANT_LEVEL_5 ? level + 1 : level;
}

/* ---- the ground --------------------------------------------------------- */

/* An aspect's own sector. */
static brant_aspects sector_of(double aspect_deg)
{
    return 1u << brant_octant((float)aspect_deg);
}

/* The sectors whose edges lie within the margin of an aspect, and its own. */
static brant_aspects sectors_near(double aspect_deg)
{
    brant_aspects near = sector_of(aspect_deg);
    for (int i = 0; i < 8; i++)
        if (fabs(remainder(aspect_deg - 45.0 * i, 360.0)) <= 22.5 + BRANT_MARGIN_ASPECT_DEG)
            near |= 1u << i;
    return near;
}

/* A place: its own sector, those within the margin, its elevation. */
typedef struct place {
    brant_aspects own, near;
    double elevation_m;
} place;

static bool reaches(const brant_extent *extent, double elevation_m, double margin)
{
    return !(elevation_m < extent->lower_m - margin) && !(elevation_m > extent->upper_m + margin);
}

static bool is_near(const brant_extent *extent, const place *at)
{
    return (extent->aspects & at->near) &&
           reaches(extent, at->elevation_m, BRANT_MARGIN_ELEVATION_M);
}

static bool covers(const brant_extent *extent, const place *at)
{
    return (extent->aspects & at->own) && reaches(extent, at->elevation_m, 0);
}

static bool is_number(brant_level level)
{
    return level >= BRANT_LEVEL_1 && level <= BRANT_LEVEL_5;
}

/* The ratings alone, one place, one period. */
static brant_danger rated(const brant_bulletin *bulletin, const place *at, unsigned period)
{
    brant_level near = BRANT_LEVEL_NONE, highest = BRANT_LEVEL_NONE;
    bool covered = false;
    for (size_t i = 0; i < bulletin->rating_count; i++) {
        const brant_rating *rating = &bulletin->ratings[i];
        if (!(rating->extent.periods & period))
            continue;
        highest = brant_level_higher(highest, rating->level);
        if (is_near(&rating->extent, at))
            near = brant_level_higher(near, rating->level);
        covered = covered || covers(&rating->extent, at);
    }
    if (covered)
        return (brant_danger){.level = near};
    if (!bulletin->outside_core_lower || !is_number(highest))
        return (brant_danger){.level = brant_level_higher(near, BRANT_LEVEL_NOT_STATED)};
    brant_level lower = highest > BRANT_LEVEL_1 ? highest - 1 : BRANT_LEVEL_1;
    brant_level level = brant_level_higher(near, lower);
    return (brant_danger){.level = level, .lowered = level != near};
}

brant_danger brant_danger_join(brant_danger a, brant_danger b)
{
    brant_danger join = a;
    join.level = brant_level_higher(a.level, b.level);
    /* lowered only if no part states the level as it stands */
    join.lowered = (a.lowered || a.level != join.level) && (b.lowered || b.level != join.level);
    join.problems |= b.problems;
    return join;
}

static brant_danger at_place(const brant_bulletin *bulletin, const place *at, unsigned period)
{
    brant_danger danger = rated(bulletin, at, period);
    for (size_t i = 0; i < bulletin->problem_count; i++) {
        const brant_extent *extent = &bulletin->problems[i].extent;
        if ((extent->periods & period) && is_near(extent, at))
            danger.problems |= (uint32_t)1 << i;
    }
    return danger;
}

/* Any aspect: the highest of the eight sectors. */
static brant_danger at_elevation(const brant_bulletin *bulletin, double aspect_deg,
                                 double elevation_m, unsigned period)
{
    place at = {.elevation_m = elevation_m};
    brant_danger danger = {.level = BRANT_LEVEL_NONE};
    if (!isfinite(aspect_deg)) {
        for (int i = 0; i < 8; i++) {
            at.own = at.near = 1u << i;
            danger = brant_danger_join(danger, at_place(bulletin, &at, period));
        }
        return danger;
    }
    at.own = sector_of(aspect_deg);
    at.near = sectors_near(aspect_deg);
    return at_place(bulletin, &at, period);
}

/* Any elevation: what is rated changes at the bounds only, so a place on either
 * side of each bound (and one anywhere, if there is none) stands for all. */
static brant_danger at_any_elevation(const brant_bulletin *bulletin, double aspect_deg,
                                     unsigned period)
{
    brant_danger danger = at_elevation(bulletin, aspect_deg, 0, period);
    for (size_t i = 0; i < bulletin->rating_count + bulletin->problem_count; i++) {
        const brant_extent *extent = i < bulletin->rating_count
                                         ? &bulletin->ratings[i].extent
                                         : &bulletin->problems[i - bulletin->rating_count].extent;
        const double bounds[] = {extent->lower_m, extent->upper_m};
        for (int k = 0; k < 4; k++) {
            double bound = bounds[k / 2];
            if (!isnan(bound))
                danger = brant_danger_join(
                    danger, at_elevation(bulletin, aspect_deg, bound + (k % 2 ? 1 : -1), period));
        }
    }
    return danger;
}

brant_danger brant_bulletin_at(const brant_bulletin *bulletin, double aspect_deg,
                               double elevation_m, unsigned periods)
{
    brant_danger danger = {.level = BRANT_LEVEL_NONE};
    for (unsigned period = BRANT_EARLIER; bulletin && period <= BRANT_LATER; period <<= 1)
        if (periods & period)
            danger = brant_danger_join(
                danger, isnan(elevation_m)
                            ? at_any_elevation(bulletin, aspect_deg, period)
                            : at_elevation(bulletin, aspect_deg, elevation_m, period));
    return danger;
}

/* ---- gaps --------------------------------------------------------------- */

static bool is_rated(const brant_bulletin *bulletin, int sector, double elevation_m,
                     unsigned period)
{
    const place at = {.own = 1u << sector, .elevation_m = elevation_m};
    for (size_t i = 0; i < bulletin->rating_count; i++)
        if ((bulletin->ratings[i].extent.periods & period) &&
            covers(&bulletin->ratings[i].extent, &at))
            return true;
    return false;
}

/* Gaps begin and end at bounds: looking on either side of each is enough. */
static bool is_sector_rated(const brant_bulletin *bulletin, int sector, unsigned period)
{
    bool rated_all = is_rated(bulletin, sector, 0, period);
    for (size_t i = 0; rated_all && i < bulletin->rating_count; i++) {
        const brant_extent *extent = &bulletin->ratings[i].extent;
        rated_all = is_rated(bulletin, sector, extent->lower_m - 1, period) &&
                    is_rated(bulletin, sector, extent->lower_m + 1, period) &&
                    is_rated(bulletin, sector, extent->upper_m - 1, period) &&
                    is_rated(bulletin, sector, extent->upper_m + 1, period);
    }
    return rated_all;
}

bool brant_bulletin_states_all(const brant_bulletin *bulletin, unsigned periods)
{
    for (unsigned period = BRANT_EARLIER; period <= BRANT_LATER; period <<= 1)
        for (int sector = 0; (periods & period) && sector < 8; sector++)
            if (!is_sector_rated(bulletin, sector, period))
                return false;
    return true;
}
