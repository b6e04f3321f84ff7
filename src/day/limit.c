/* The elementary reduction rule: how steep at which level, on which ground. */
#include "brant/day.h"

#define WET (BRANT_KIND_BIT(BRANT_WET_SNOW) | BRANT_KIND_BIT(BRANT_GLIDING_SNOW))
#define NO_SLAB (WET | BRANT_KIND_BIT(BRANT_CORNICES)) /* nothing the rule is made for */

typedef struct rule {
    double limit_deg; /* NaN: none */
    brant_limit_ground ground;
    bool first;
    const char *reason;
} rule;

static const rule rules[BRANT_LEVELS] = {
    [BRANT_LEVEL_NONE] = {NAN, BRANT_LIMIT_NOWHERE, false, "no bulletin"},
    [BRANT_LEVEL_1] = {NAN, BRANT_LIMIT_NOWHERE, false, "level 1: the rule sets no limit"},
    [BRANT_LEVEL_2] = {40, BRANT_LIMIT_TRACK, false, "level 2: the track below 40"},
    [BRANT_LEVEL_3] = {35, BRANT_LIMIT_SLOPE, false, "level 3: whole slope below 35"},
    [BRANT_LEVEL_4] = {30, BRANT_LIMIT_CATCHMENT, false, "level 4: whole catchment below 30"},
    [BRANT_LEVEL_5] = {NAN, BRANT_LIMIT_NOWHERE, true, "level 5: beyond the rule"},
    [BRANT_LEVEL_NO_SNOW] = {NAN, BRANT_LIMIT_NOWHERE, false, "no snow in the bulletin"},
    [BRANT_LEVEL_NO_RATING] = {NAN, BRANT_LIMIT_NOWHERE, true,
                               "no rating: the rule needs a level"},
    [BRANT_LEVEL_NOT_STATED] = {NAN, BRANT_LIMIT_NOWHERE, true,
                                "not stated: the rule needs a level"},
};

const char *brant_limit_ground_text(brant_limit_ground ground)
{
    static const char *const names[] = {"", "within 20 m of the track", "whole slope",
                                        "whole catchment"};
    return (unsigned)ground < sizeof names / sizeof names[0] ? names[ground] : "";
}

/* The steepest of the grounds up to `ground`; `*known`: none of them is NaN. */
static double steepest_on(const brant_steepest *steepest, brant_limit_ground ground, bool *known)
{
    const double degrees[] = {steepest->track_deg, steepest->slope_deg, steepest->catchment_deg};
    double most = NAN;
    *known = true;
    for (int i = 0; i < (int)ground && i < (int)BRANT_LIMIT_CATCHMENT; i++) {
        *known = *known && !isnan(degrees[i]);
        most = fmax(most, degrees[i]); /* of a number and NaN the number */
    }
    return most;
}

brant_limit brant_limit_of(brant_level level, unsigned kinds, const brant_steepest *steepest)
{
    const rule *r = &rules[level];
    brant_limit limit = {.limit_deg = r->limit_deg, .steepest_deg = NAN, .ground = r->ground,
                         .first = r->first, .reason = r->reason};
    if (isnan(r->limit_deg))
        return limit;
    if ((kinds & WET) && !(kinds & ~NO_SLAB)) {
        limit.limit_deg = NAN;
        limit.ground = BRANT_LIMIT_NOWHERE;
        limit.reason = "wet or gliding snow: the rule is for dry slabs, not applied";
        return limit;
    }
    if (kinds & WET)
        limit.note = "the limit says nothing of the wet or gliding snow that is named, too";
    bool known;
    limit.steepest_deg = steepest_on(steepest, r->ground, &known);
    limit.over = limit.steepest_deg >= r->limit_deg;
    limit.unknown = !known && !limit.over;
    return limit;
}
