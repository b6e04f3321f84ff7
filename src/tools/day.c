/* The options of the day: read, and held against each other. */
#include "options.h"

#include <math.h>
#include <string.h>

static brant_status needs(brant_context *ctx, bool given, const char *option, bool has,
                          const char *other)
{
    if (!given || has)
        return BRANT_OK;
    return brant_fail(ctx, BRANT_ERR_USAGE, "%s needs %s", option, other);
}

static brant_status refuse(brant_context *ctx, const char *option, const char *value,
                           const char *wanted)
{
    return brant_fail(ctx, BRANT_ERR_USAGE, "%s: '%s' is not %s", option, value, wanted);
}

static brant_status check_bulletin(brant_context *ctx, const tool_values *v)
{
    bool by_hand = v->level > 0;
    if (v->bulletin && by_hand)
        return brant_fail(ctx, BRANT_ERR_USAGE, "--bulletin and --level: one or the other");
    if (v->region && !*v->region)
        return brant_fail(ctx, BRANT_ERR_USAGE, "--region is empty");
    if (v->bulletin && v->operand[1] && strcmp(v->bulletin, "-") == 0 &&
        strcmp(v->operand[1], "-") == 0)
        return brant_fail(ctx, BRANT_ERR_USAGE, "--bulletin: standard input is the GPX file's");
    const struct {
        const char *option, *other;
        bool given, has;
    } rules[] = {
        {"--region", "--bulletin", v->region, v->bulletin},
        {"--treeline", "--bulletin", !isnan(v->treeline_m), v->bulletin},
        {"--later-from", "--bulletin", v->later_text, v->bulletin},
        {"--later-from", "--start", v->later_text, v->start_text},
        {"--outside-core", "--bulletin or --level", v->outside_core, v->bulletin || by_hand},
        {"--above", "--level where it is metres", !isnan(v->level_above_m), by_hand},
        {"--below", "--level", !isnan(v->level_below_m), by_hand},
        {"--aspects", "--level", v->aspects, by_hand},
        {"--pace", "--start", v->pace_text, v->start_text},
        {"--out-by", "--start", v->out_by_text, v->start_text},
    };
    brant_status status = BRANT_OK;
    for (size_t i = 0; i < sizeof rules / sizeof rules[0] && status == BRANT_OK; i++)
        status = needs(ctx, rules[i].given, rules[i].option, rules[i].has, rules[i].other);
    return status;
}

static brant_status parse_start(brant_context *ctx, tool_values *v)
{
    if (!v->start_text)
        return BRANT_OK;
    if (!brant_time_parse(v->start_text, &v->start))
        return refuse(ctx, "--start", v->start_text, "a time such as 2027-02-13T06:30+01:00");
    if (!v->start.has_offset)
        return brant_fail(ctx, BRANT_ERR_USAGE,
                          "--start: '%s' has no time zone (such as +01:00 or Z at its end)",
                          v->start_text);
    return BRANT_OK;
}

static brant_status parse_clock(brant_context *ctx, const char *option, const char *text,
                                int *minutes)
{
    if (text && !brant_clock_parse(text, minutes))
        return refuse(ctx, option, text, "HH:MM from 00:00 to 23:59");
    return BRANT_OK;
}

static brant_status parse_aspects(brant_context *ctx, const tool_values *v)
{
    brant_aspects aspects;
    if (v->aspects && !brant_aspects_parse(v->aspects, &aspects))
        return refuse(ctx, "--aspects", v->aspects,
                      "sectors (N NE E SE S SW W NW) and clockwise runs of them, such as NW-N-NE,E");
    if (v->level_above_m >= v->level_below_m)
        return brant_fail(ctx, BRANT_ERR_USAGE, "--above %g is not below --below %g",
                          v->level_above_m, v->level_below_m);
    return BRANT_OK;
}

brant_status tool_parse_day(brant_context *ctx, tool_values *v)
{
    brant_status status = parse_start(ctx, v);
    if (status == BRANT_OK)
        status = parse_clock(ctx, "--later-from", v->later_text, &v->later_from);
    if (status == BRANT_OK)
        status = parse_clock(ctx, "--out-by", v->out_by_text, &v->out_by);
    if (status == BRANT_OK && v->pace_text && !brant_pace_parse(v->pace_text, &v->pace))
        status = refuse(ctx, "--pace", v->pace_text,
                        "UP,DOWN,FLAT with rates of 0.1 to 100, nor walk");
    if (status == BRANT_OK && v->wind_text && !brant_wind_parse(v->wind_text, &v->wind))
        status = refuse(ctx, "--wind-from", v->wind_text,
                        "degrees, a direction or a sector, such as 270, W or 240-300");
    if (status == BRANT_OK)
        status = parse_aspects(ctx, v);
    if (status == BRANT_OK)
        status = check_bulletin(ctx, v);
    if (status == BRANT_OK && v->out_by_text && v->out_by <= brant_time_clock(&v->start))
        status = brant_fail(ctx, BRANT_ERR_USAGE,
                            "--out-by %s is not after the start (on the start's day)",
                            v->out_by_text);
    return status;
}
