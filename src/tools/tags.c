/* How a raster was made stands in it, and a later stage takes it over. */
#include "program.h"

#include <math.h>
#include <stdlib.h>
#include <string.h>

/* ---- written ------------------------------------------------------------ */

/* Options of reading that are not at their default; the numbers as text. */
static brant_status add_reading(brant_context *ctx, const tool_values *values, brant_tags *tags)
{
    brant_text nodata = {0};
    brant_status status = BRANT_OK;
    if (values->scale_m < 0)
        status = brant_tags_add(ctx, tags, "BRANT_SCALE", "native");
    else if (values->scale_m > 0)
        status = brant_tags_number(ctx, tags, "BRANT_SCALE", values->scale_m);
    if (status == BRANT_OK && values->vertical_unit)
        status = brant_tags_add(ctx, tags, "BRANT_VERTICAL_UNIT", values->vertical_unit);
    for (size_t i = 0; i < values->nodata_count; i++)
        brant_text_add(&nodata, i ? " %.17g" : "%.17g", values->nodata[i]);
    if (status == BRANT_OK)
        status = brant_text_status(ctx, &nodata);
    if (status == BRANT_OK && nodata.data)
        status = brant_tags_add(ctx, tags, "BRANT_NODATA", nodata.data);
    brant_text_clear(&nodata);
    return status;
}

brant_status tool_model_tags(brant_context *ctx, const tool_values *values, tool_program program,
                             const brant_dem *dem, brant_tags *tags)
{
    brant_status status = brant_tags_begin(ctx, tags, tool_name(program), dem);
    return status == BRANT_OK ? add_reading(ctx, values, tags) : status;
}

static brant_status add_zone_options(brant_context *ctx, const tool_values *values,
                                     brant_tags *tags)
{
    const brant_zone_options *zone = &values->zone;
    brant_status status = brant_tags_number(ctx, tags, "BRANT_BAND_LOW", zone->band.low);
    if (status == BRANT_OK)
        status = brant_tags_number(ctx, tags, "BRANT_BAND_HIGH", zone->band.high);
    if (status == BRANT_OK)
        status = brant_tags_number(ctx, tags, "BRANT_MIN_AREA", zone->min_area_m2);
    if (status == BRANT_OK)
        status = brant_tags_number(ctx, tags, "BRANT_MAX_AREA", zone->max_area_m2);
    return status;
}

brant_status tool_zone_tags(brant_context *ctx, const tool_values *values, tool_program program,
                            const brant_dem *dem, brant_tags *tags)
{
    brant_status status = tool_model_tags(ctx, values, program, dem, tags);
    return status == BRANT_OK ? add_zone_options(ctx, values, tags) : status;
}

static brant_status add_reach_options(brant_context *ctx, const tool_values *values,
                                      brant_tags *tags)
{
    const brant_reach_options *reach = &values->reach;
    brant_status status = brant_tags_number(ctx, tags, "BRANT_REACH_ANGLE",
                                            reach->reach_angle_deg);
    if (status == BRANT_OK)
        status = brant_tags_number(ctx, tags, "BRANT_SPREAD", reach->spread_deg);
    if (status == BRANT_OK)
        status = brant_tags_number(ctx, tags, "BRANT_FLOOR", reach->floor_deg);
    if (status == BRANT_OK)
        status = brant_tags_number(ctx, tags, "BRANT_VOID_RISE", values->void_rise_m);
    return status;
}

brant_status tool_reach_tags(brant_context *ctx, const tool_values *values, tool_program program,
                             const brant_dem *dem, const char *zones_from, brant_tags *tags)
{
    brant_status status = tool_model_tags(ctx, values, program, dem, tags);
    if (status == BRANT_OK && zones_from)
        status = brant_tags_add(ctx, tags, "BRANT_ZONES", brant_file_name(zones_from));
    else if (status == BRANT_OK)
        status = add_zone_options(ctx, values, tags);
    return status == BRANT_OK ? add_reach_options(ctx, values, tags) : status;
}

/* What the reports say of levels, hours and wind depends on these. */
static brant_status add_day(brant_context *ctx, const tool_values *values, brant_tags *tags)
{
    const struct {
        const char *key, *text;
    } texts[] = {
        {"BRANT_BULLETIN", values->bulletin ? brant_file_name(values->bulletin) : NULL},
        {"BRANT_REGION", values->region},
        {"BRANT_OUTSIDE_CORE", values->outside_core},
        {"BRANT_ASPECTS", values->aspects},
        {"BRANT_START", values->start_text},
        {"BRANT_LATER_FROM", values->later_text},
        {"BRANT_PACE", values->pace_text},
        {"BRANT_WIND_FROM", values->wind_text},
    };
    const struct {
        const char *key;
        double value;
    } numbers[] = {
        {"BRANT_LEVEL", values->level > 0 ? values->level : (double)NAN},
        {"BRANT_LEVEL_ABOVE", values->level_above_m},
        {"BRANT_LEVEL_BELOW", values->level_below_m},
        {"BRANT_TREELINE", values->treeline_m},
    };
    brant_status status = BRANT_OK;
    for (size_t i = 0; i < sizeof texts / sizeof *texts && status == BRANT_OK; i++)
        if (texts[i].text)
            status = brant_tags_add(ctx, tags, texts[i].key, texts[i].text);
    for (size_t i = 0; i < sizeof numbers / sizeof *numbers && status == BRANT_OK; i++)
        if (!isnan(numbers[i].value))
            status = brant_tags_number(ctx, tags, numbers[i].key, numbers[i].value);
    return status;
}

brant_status tool_tour_tags(brant_context *ctx, const tool_values *values, tool_program program,
                            const brant_dem *dem, brant_tags *tags)
{
    brant_status status = tool_zone_tags(ctx, values, program, dem, tags);
    if (status == BRANT_OK && values->zones)
        status = brant_tags_add(ctx, tags, "BRANT_ZONES", brant_file_name(values->zones));
    if (status == BRANT_OK)
        status = add_reach_options(ctx, values, tags);
    if (status == BRANT_OK)
        status = brant_tags_number(ctx, tags, "BRANT_EDGE", values->edge_m);
    return status == BRANT_OK ? add_day(ctx, values, tags) : status;
}

/* ---- taken over --------------------------------------------------------- */

/* The item of the zone raster as an option; what was taken joins `said`, unless
 * it is `usual`. */
static brant_status take(brant_context *ctx, tool_program program, const char *zones,
                         const char *key, const char *option, const char *usual,
                         tool_values *values, brant_text *said)
{
    brant_text value = {0};
    bool taken = false;
    brant_status status = brant_raster_tag(ctx, zones, key, &value);
    if (status == BRANT_OK && value.data) {
        status = tool_take(ctx, program, option, value.data, values, &taken);
        if (taken && !(usual && strcmp(value.data, usual) == 0))
            brant_text_add(said, " %s %s", option, value.data);
    }
    brant_text_clear(&value);
    return status;
}

/* The unit is kept by reference: its text moves into the values. */
static brant_status take_unit(brant_context *ctx, tool_program program, const char *zones,
                              tool_values *values, brant_text *said)
{
    const char *before = values->vertical_unit;
    brant_text value = {0};
    bool taken = false;
    brant_status status = brant_raster_tag(ctx, zones, "BRANT_VERTICAL_UNIT", &value);
    if (status == BRANT_OK && value.data && value.length < sizeof values->taken_unit) {
        memcpy(values->taken_unit, value.data, value.length + 1);
        status = tool_take(ctx, program, "--vertical-unit", values->taken_unit, values, &taken);
    }
    if (status != BRANT_OK)
        values->vertical_unit = before;
    else if (taken)
        brant_text_add(said, " --vertical-unit %s", values->taken_unit);
    brant_text_clear(&value);
    return status;
}

static brant_status take_nodata(brant_context *ctx, tool_program program, const char *zones,
                                tool_values *values, brant_text *said)
{
    brant_text list = {0};
    char *rest = NULL;
    brant_status status = brant_raster_tag(ctx, zones, "BRANT_NODATA", &list);
    char *word = status == BRANT_OK && list.data ? strtok_r(list.data, " ", &rest) : NULL;
    for (; word && status == BRANT_OK; word = strtok_r(NULL, " ", &rest)) {
        bool taken = false;
        status = tool_take(ctx, program, "--nodata", word, values, &taken);
        if (taken)
            brant_text_add(said, " --nodata %s", word);
    }
    brant_text_clear(&list);
    return status;
}

static brant_status take_band(brant_context *ctx, tool_program program, const char *zones,
                              tool_values *values, brant_text *said)
{
    brant_text low = {0}, high = {0};
    bool taken = false;
    brant_status status = brant_raster_tag(ctx, zones, "BRANT_BAND_LOW", &low);
    if (status == BRANT_OK)
        status = brant_raster_tag(ctx, zones, "BRANT_BAND_HIGH", &high);
    if (status == BRANT_OK && low.data && high.data) {
        brant_text_add(&low, ":%s", high.data);
        status = brant_text_status(ctx, &low);
        if (status == BRANT_OK)
            status = tool_take(ctx, program, "--band", low.data, values, &taken);
        if (taken && strcmp(low.data, "30:45") != 0)
            brant_text_add(said, " --band %s", low.data);
    }
    brant_text_clear(&low);
    brant_text_clear(&high);
    return status;
}

/* Shadows that come from further off would be missed without a word. */
static brant_status warn_of_part(brant_context *ctx, const char *zones)
{
    brant_text value = {0};
    brant_status status = brant_raster_tag(ctx, zones, TOOL_PART_TAG, &value);
    if (status == BRANT_OK && value.data)
        brant_warn(ctx, "%s: holds the zones near a route alone; what comes from further off is "
                   "not found (brant-zones --polygons writes all zones)", zones);
    brant_text_clear(&value);
    return status;
}

/* What failed is the file's, not the command line's. */
static brant_status blame(brant_context *ctx, const char *zones)
{
    char message[BRANT_MESSAGE_MAX];
    strcpy(message, brant_message(ctx));
    brant_forgive(ctx);
    return brant_fail(ctx, BRANT_ERR_INPUT, "%s: its metadata: %s", zones, message);
}

brant_status tool_take_over(brant_context *ctx, tool_program program, const char *zones,
                            tool_values *values)
{
    brant_text said = {0};
    brant_status status = take(ctx, program, zones, "BRANT_SCALE", "--scale", NULL, values, &said);
    if (status == BRANT_OK)
        status = take(ctx, program, zones, "BRANT_MODEL_BAND", "--band-number", "1", values,
                      &said);
    if (status == BRANT_OK)
        status = take_unit(ctx, program, zones, values, &said);
    if (status == BRANT_OK)
        status = take_nodata(ctx, program, zones, values, &said);
    if (status == BRANT_OK)
        status = take_band(ctx, program, zones, values, &said);
    if (status == BRANT_OK)
        status = brant_text_status(ctx, &said);
    if (status == BRANT_ERR_USAGE)
        status = blame(ctx, zones);
    if (status == BRANT_OK && said.data)
        brant_note(ctx, "%s: made with%s: taken over", zones, said.data);
    if (status == BRANT_OK)
        status = warn_of_part(ctx, zones);
    brant_text_clear(&said);
    return status;
}
