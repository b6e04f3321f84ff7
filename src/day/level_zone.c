/* The level of a zone from those of its cells, and the part of the day. */
#include "brant/day.h"

void brant_danger_add(brant_danger_tally *tally, const brant_bulletin *bulletin,
                      double aspect_deg, double elevation_m, double area_m2)
{
    tally->area_m2 += area_m2;
    for (int p = 0; p < BRANT_PERIODS; p++) {
        brant_danger danger =
            brant_bulletin_at(bulletin, aspect_deg, elevation_m, BRANT_EARLIER << p);
        tally->level_m2[p][danger.level] += area_m2;
        if (danger.lowered)
            tally->lowered_m2[p][danger.level] += area_m2;
        for (int i = 0; danger.problems >> i; i++) {
            if (danger.problems >> i & 1u)
                tally->problem_m2[p][i] += area_m2;
            if (i == BRANT_PROBLEMS_MAX - 1)
                break;
        }
    }
}

/* Does what holds on `area` of a zone of `whole` hold on the zone? */
static bool holds(double area, double whole)
{
    return whole < BRANT_LEVEL_AREA_M2 ? area > 0 : area >= BRANT_LEVEL_AREA_M2;
}

/* The levels as their order runs, the highest first. */
static const brant_level falling[] = {
    BRANT_LEVEL_5, BRANT_LEVEL_NO_RATING, BRANT_LEVEL_NOT_STATED, BRANT_LEVEL_4, BRANT_LEVEL_3,
    BRANT_LEVEL_2, BRANT_LEVEL_1,         BRANT_LEVEL_NO_SNOW,    BRANT_LEVEL_NONE};

static brant_danger of_period(const brant_danger_tally *tally, int p)
{
    brant_danger danger = {.level = BRANT_LEVEL_NONE};
    double area = 0, stated = 0;
    for (size_t i = 0; i < sizeof falling / sizeof falling[0]; i++) {
        brant_level level = falling[i];
        area += tally->level_m2[p][level];
        stated += tally->level_m2[p][level] - tally->lowered_m2[p][level];
        if (holds(area, tally->area_m2)) {
            danger.level = level;
            danger.lowered = !holds(stated, tally->area_m2);
            break;
        }
    }
    for (int i = 0; i < BRANT_PROBLEMS_MAX; i++)
        if (holds(tally->problem_m2[p][i], tally->area_m2))
            danger.problems |= (uint32_t)1 << i;
    return danger;
}

brant_danger brant_danger_of(const brant_danger_tally *tally, unsigned periods)
{
    brant_danger danger = {.level = BRANT_LEVEL_NONE};
    for (int p = 0; p < BRANT_PERIODS; p++)
        if (periods >> p & 1u)
            danger = brant_danger_join(danger, of_period(tally, p));
    return danger;
}

unsigned brant_periods_in(const brant_time *start, int later_from, int64_t from, int64_t to)
{
    int64_t midnight = brant_time_midnight(start);
    int64_t later = midnight + (int64_t)later_from * 60;
    if (later_from < 0 || from < midnight || to >= midnight + 86400)
        return BRANT_ALL_DAY;
    return (from < later ? BRANT_EARLIER : 0) | (to >= later ? BRANT_LATER : 0);
}

unsigned brant_problem_kinds(const brant_bulletin *bulletin, uint32_t problems)
{
    unsigned kinds = 0;
    for (size_t i = 0; bulletin && i < bulletin->problem_count; i++)
        if (problems >> i & 1u)
            kinds |= BRANT_KIND_BIT(bulletin->problems[i].kind);
    return kinds;
}

bool brant_danger_remote(const brant_bulletin *bulletin, brant_danger danger)
{
    return danger.level == BRANT_LEVEL_4 || danger.level == BRANT_LEVEL_5 ||
           (brant_problem_kinds(bulletin, danger.problems) &
            BRANT_KIND_BIT(BRANT_PERSISTENT_WEAK_LAYER));
}
