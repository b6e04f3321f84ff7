/* The option table that all programs share, its parser and its --help. */
#ifndef BRANT_TOOLS_OPTIONS_H
#define BRANT_TOOLS_OPTIONS_H

#include "brant/plan.h"

typedef enum tool_program {
    TOOL_BRANT,
    TOOL_CHECK,
    TOOL_SLOPE,
    TOOL_ZONES,
    TOOL_RUNOUT,
    TOOL_ROUTE,
    TOOL_PLAN,
    TOOL_SCREEN,
    TOOL_SHEET,
    TOOLS
} tool_program;

#define TOOL_OPERANDS 2
#define TOOL_NODATA 16

/* What the command line says; texts are the command line's own. NULL: not given. */
typedef struct tool_values {
    const char *operand[TOOL_OPERANDS];
    char **more; /* brant-screen: the operands from the second on, in argv itself */
    int more_count;
    /* where results go */
    const char *output, *folder;
    const char *aspect, *classes;
    const char *polygons, *table;
    const char *legs, *sort;
    const char *points, *above, *layers, *waypoints;
    const char *format, *compress;
    bool cog;
    const char *paper;
    bool bearings;
    double declination_deg; /* NaN: not given */
    /* what is asked of the terrain */
    bool edges;
    const char *zones, *others;
    brant_zone_options zone;
    brant_reach_options reach;
    double edge_m, void_rise_m, vertical_error_m; /* the last NaN: not known */
    /* the day: as typed, then (tool_parse_day) read; NaN, 0 or negative: not given */
    const char *bulletin, *region, *outside_core, *aspects;
    const char *start_text, *later_text, *out_by_text, *pace_text, *wind_text;
    double treeline_m, level_above_m, level_below_m, new_snow_cm;
    int level;
    bool warming;
    brant_time start;       /* has_offset false: none */
    int later_from, out_by; /* minutes of the start's day */
    brant_pace pace;
    brant_wind wind;
    /* how the model is read */
    double scale_m; /* as brant_dem_options.scale_m */
    int band_number;
    const char *vertical_unit;
    double nodata[TOOL_NODATA];
    size_t nodata_count;
    char taken_unit[16]; /* holds vertical_unit where it was taken over */
    /* how the program behaves */
    int threads;
    bool quiet, help, version;
    uint64_t given; /* private: a bit a row of the table */
} tool_values;

/* "brant-slope". */
const char *tool_name(tool_program program);

/* Defaults, then the command line. Stops early, all well, at --help or
 * --version. BRANT_ERR_USAGE with a message that names the option. */
brant_status tool_parse(brant_context *ctx, tool_program program, int argc, char **argv,
                        tool_values *values);

/* Read the options of the day, and refuse those that contradict each other or
 * lack what they need. Part of tool_parse. */
brant_status tool_parse_day(brant_context *ctx, tool_values *values);

/* Set an option from elsewhere, as if it were on the command line, unless it is
 * there or the program has no such option; *taken says whether it was set.
 * `value` must outlive the values. */
brant_status tool_take(brant_context *ctx, tool_program program, const char *option,
                       const char *value, tool_values *values, bool *taken);

/* The text of --help, from the same table. */
void tool_help(tool_program program, brant_text *out);

#endif
