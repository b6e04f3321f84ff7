/* Options are data: the parser and --help read one table, and a test holds the
 * man pages against it. */
#include "options.h"

#include <math.h>
#include <stddef.h>
#include <string.h>

#define FOR(program) (1u << TOOL_##program)
#define STAGES (FOR(CHECK) | FOR(SLOPE) | FOR(ZONES) | FOR(RUNOUT) | FOR(ROUTE) | FOR(PLAN) | FOR(SCREEN))
#define RASTERS (FOR(SLOPE) | FOR(ZONES) | FOR(RUNOUT) | FOR(PLAN))
#define NUMBERING (FOR(ZONES) | FOR(PLAN) | FOR(SCREEN))
#define BANDED (FOR(ZONES) | FOR(ROUTE) | FOR(PLAN) | FOR(SCREEN))
#define REACH (FOR(RUNOUT) | FOR(ROUTE) | FOR(PLAN) | FOR(SCREEN))
#define TOUR (FOR(ROUTE) | FOR(PLAN))
#define TOURS (TOUR | FOR(SCREEN))

typedef enum option_kind {
    FLAG,    /* bool */
    PATH,    /* const char *: a file or a folder */
    TEXT,    /* const char *: read later, by tool_parse_day */
    ABOVE,   /* a PATH, or, if it is a number, values.level_above_m; so may be given twice */
    CHOICE,  /* const char *: one of the words of `argument` */
    NUMBER,  /* double within [low, high] */
    INTEGER, /* int within [low, high] */
    LIMITS,  /* brant_band: LOW:HIGH */
    CELL,    /* double: metres, or "native" */
    NODATA   /* values.nodata: a number, may be repeated */
} option_kind;

typedef struct option_row {
    const char *name;     /* as typed: "-o", "--aspect" */
    const char *argument; /* as --help and the man pages write it; NULL: none */
    unsigned programs;    /* FOR(...) of those that take it */
    unsigned required;    /* FOR(...) of those that cannot do without */
    option_kind kind;
    size_t where;         /* offset in tool_values */
    double low, high;
    const char *help;
} option_row;

#define AT(member) offsetof(tool_values, member)

static const option_row table[] = {
    {"-o", "FILE", FOR(SLOPE), FOR(SLOPE), PATH, AT(output), 0, 0,
     "slope in degrees (GeoTIFF)"},
    {"-o", "FILE", FOR(ZONES), FOR(ZONES), PATH, AT(output), 0, 0,
     "zone numbers, 0 where there is none (GeoTIFF)"},
    {"-o", "FILE", FOR(RUNOUT), FOR(RUNOUT), PATH, AT(output), 0, 0,
     "runout shadow in five bands (GeoTIFF)"},
    {"-o", "FILE", FOR(ROUTE), FOR(ROUTE), PATH, AT(output), 0, 0,
     "the legs (CSV), - for standard output"},
    {"-d", "DIR", FOR(PLAN), FOR(PLAN), PATH, AT(folder), 0, 0,
     "folder that takes all files; made if it is not there"},
    {"-o", "FILE", FOR(SHEET), FOR(SHEET), PATH, AT(output), 0, 0,
     "the sheet (.pdf, .svg or .png)"},
    {"--paper", "a4|letter", FOR(SHEET), 0, CHOICE, AT(paper), 0, 0,
     "size of the pages (default a4)"},
    {"--bearings", NULL, FOR(SHEET), 0, FLAG, AT(bearings), 0, 0,
     "a table for bad visibility, too: bearing, distance and height from turn to turn"},
    {"--declination", "DEG", FOR(SHEET), 0, NUMBER, AT(declination_deg), -180, 180,
     "magnetic declination, east positive: gives magnetic bearings, too; needs --bearings"},
    {"-o", "FILE", FOR(SCREEN), 0, PATH, AT(output), 0, 0,
     "the table of circuits (CSV), - for standard output instead of the table there"},
    {"--legs", "FILE", FOR(SCREEN), 0, PATH, AT(legs), 0, 0,
     "every leg of every circuit (CSV), - for standard output"},
    {"--layers", "FILE", FOR(SCREEN), 0, PATH, AT(layers), 0, 0,
     "the same legs as lines (GeoPackage)"},
    {"--sort", "COLUMN", FOR(SCREEN), 0, TEXT, AT(sort), 0, 0,
     "order the table by one of its columns; without it what cannot be judged comes first"},
    {"--format", "text|csv|json", FOR(SCREEN), 0, CHOICE, AT(format), 0, 0,
     "of the table on standard output (default text)"},
    {"--format", "text|json", FOR(CHECK), 0, CHOICE, AT(format), 0, 0,
     "of the page on standard output (default text)"},
    {"--format", "text|json", FOR(PLAN), 0, CHOICE, AT(format), 0, 0,
     "of the summary on standard output (default text)"},

    {"--aspect", "FILE", FOR(SLOPE), 0, PATH, AT(aspect), 0, 0,
     "aspect in degrees from true north (GeoTIFF)"},
    {"--class", "FILE", FOR(SLOPE), 0, PATH, AT(classes), 0, 0,
     "steepness classes with their colours (GeoTIFF)"},
    {"--edges", NULL, FOR(SLOPE), 0, FLAG, AT(edges), 0, 0,
     "estimate slope from one side beside voids and at the border"},

    {"--polygons", "FILE", FOR(ZONES), 0, PATH, AT(polygons), 0, 0,
     "outlines (GeoPackage; GeoJSON if it ends in .geojson or .json)"},
    {"--table", "FILE", FOR(ZONES), 0, PATH, AT(table), 0, 0,
     "one row a zone (CSV), - for standard output"},

    {"--points", "FILE", FOR(ROUTE), 0, PATH, AT(points), 0, 0,
     "the points looked up along the route (CSV), - for standard output"},
    {"--above", "FILE|M", FOR(ROUTE), 0, ABOVE, AT(above), -500, 9000,
     "FILE: every zone that a leg meets (CSV), - for standard output; a number: metres that "
     "--level holds above"},
    {"--layers", "FILE", FOR(ROUTE), 0, PATH, AT(layers), 0, 0,
     "legs, points, places to wait and zones (GeoPackage)"},
    {"--waypoints", "FILE", FOR(ROUTE), 0, PATH, AT(waypoints), 0, 0,
     "a waypoint at each leg that is not none-found (GPX), - for standard output"},
    {"--zones", "ZONES", TOUR, 0, PATH, AT(zones), 0, 0,
     "take these zones, a raster or polygons, instead of finding them"},
    {"--others", "GPX", TOUR, 0, PATH, AT(others), 0, 0,
     "lines of other parties: what of theirs is above yours, and of yours above theirs"},

    {"--band", "LOW:HIGH", BANDED, 0, LIMITS, AT(zone.band), 0, 90,
     "start-zone band in degrees (default 30:45)"},
    {"--min-area", "M2", NUMBERING, 0, NUMBER, AT(zone.min_area_m2), 0, 1e9,
     "smaller bits join a neighbour (default 400)"},
    {"--max-area", "M2", NUMBERING, 0, NUMBER, AT(zone.max_area_m2), 0, 1e12,
     "larger zones are split along contours (default 200000)"},
    {"--edge", "M", TOURS, 0, NUMBER, AT(edge_m), 0, 100,
     "within this distance a route is at the edge of release ground (default 30)"},
    {"--reach-angle", "DEG", REACH, 0, NUMBER, AT(reach.reach_angle_deg), 10, 60,
     "angle of the energy line (default 25)"},
    {"--spread", "DEG", REACH, 0, NUMBER, AT(reach.spread_deg), 0, 60,
     "to each side of the flow (default 20)"},
    {"--floor", "DEG", REACH, 0, NUMBER, AT(reach.floor_deg), 10, 45,
     "the shadow is kept down to this reach angle (default 18)"},
    {"--void-rise", "M", REACH, 0, NUMBER, AT(void_rise_m), 0, 5000,
     "ground behind a void or the model's edge rises this much (default 300)"},
    {"--vertical-error", "M", FOR(CHECK) | TOURS, 0, NUMBER, AT(vertical_error_m), 0, 1000,
     "standard error of the model's heights, for the error of slopes"},

    {"--bulletin", "FILE", TOURS, 0, PATH, AT(bulletin), 0, 0,
     "avalanche bulletin (CAAML v6 JSON), - for standard input"},
    {"--region", "ID", TOURS, 0, TEXT, AT(region), 0, 0,
     "of a bulletin file with several"},
    {"--treeline", "M", TOURS, 0, NUMBER, AT(treeline_m), 0, 5000,
     "metres of the tree line, where the bulletin names it"},
    {"--later-from", "HH:MM", TOURS, 0, TEXT, AT(later_text), 0, 0,
     "when the bulletin's 'later' begins; without it the higher of earlier and later"},
    {"--outside-core", "lower", TOURS, 0, CHOICE, AT(outside_core), 0, 0,
     "ground that the bulletin does not rate is one level lower; without it not stated"},
    {"--level", "N", TOURS, 0, INTEGER, AT(level), 1, 5,
     "danger level by hand, instead of --bulletin"},
    {"--above", "M", FOR(PLAN) | FOR(SCREEN), 0, NUMBER, AT(level_above_m), -500, 9000,
     "--level holds above so many metres"},
    {"--below", "M", TOURS, 0, NUMBER, AT(level_below_m), -500, 9000,
     "--level holds below so many metres"},
    {"--aspects", "SECTORS", TOURS, 0, TEXT, AT(aspects), 0, 0,
     "--level holds on these, such as NW-N-NE,E"},
    {"--start", "TIME", TOURS, 0, TEXT, AT(start_text), 0, 0,
     "start with its time zone, such as 2027-02-13T06:30+01:00: gives hours and sun"},
    {"--pace", "UP,DOWN,FLAT|walk", TOURS, 0, TEXT, AT(pace_text), 0, 0,
     "units an hour (default 4,10,6); walk: on foot"},
    {"--out-by", "HH:MM", TOUR, 0, TEXT, AT(out_by_text), 0, 0,
     "be out by then: the last time to leave each place to wait"},
    {"--wind-from", "DEG|SECTOR", TOURS, 0, TEXT, AT(wind_text), 0, 0,
     "wind, such as 270, W or 240-300: which slopes lie sheltered"},
    {"--new-snow", "CM", TOUR, 0, NUMBER, AT(new_snow_cm), 0, 500,
     "new snow in 24 h, for the warning signs"},
    {"--warming", NULL, TOUR, 0, FLAG, AT(warming), 0, 0,
     "a marked rise in temperature is expected, for the warning signs"},

    {"--scale", "M|native", STAGES, 0, CELL, AT(scale_m), 0.1, 1000,
     "working cell; by default about 5 m where the model is finer than 4 m"},
    {"--band-number", "N", STAGES, 0, INTEGER, AT(band_number), 1, 65535,
     "elevation band of a file with several"},
    {"--vertical-unit", "m|ft|us-ft|dm", STAGES, 0, CHOICE, AT(vertical_unit), 0, 0,
     "unit of the elevations, whatever the file says"},
    {"--nodata", "V", STAGES, 0, NODATA, AT(nodata), 0, 0,
     "a further value that is void; may be repeated"},
    {"--compress", "none|deflate|zstd", RASTERS, 0, CHOICE, AT(compress), 0, 0,
     "of the rasters written (default zstd; deflate where GDAL lacks it)"},
    {"--cog", NULL, RASTERS, 0, FLAG, AT(cog), 0, 0,
     "rasters written are cloud optimized GeoTIFFs"},
    {"--threads", "N", STAGES, 0, INTEGER, AT(threads), 1, 256,
     "worker threads (default: all processors)"},
    {"--quiet", NULL, STAGES | FOR(SHEET), 0, FLAG, AT(quiet), 0, 0, "no notes and no progress"},
    {"--help", NULL, ~0u, 0, FLAG, AT(help), 0, 0, "print this and stop"},
    {"--version", NULL, ~0u, 0, FLAG, AT(version), 0, 0, "print the version and stop"},
};
#define ROWS (sizeof table / sizeof *table)
_Static_assert(ROWS <= 64, "tool_values.given has a bit a row");

typedef struct operand {
    const char *name, *help;
} operand;

typedef struct description {
    const char *name, *purpose, *synopsis;
    operand operands[TOOL_OPERANDS]; /* all of them required; brant's are its own affair */
} description;

#define DEM {"DEM", "elevation model, in a format named in the man page"}
#define GPX {"GPX", "tracks or routes, - for standard input"}

static const description programs[TOOLS] = {
    [TOOL_BRANT] = {"brant", "run the programs of brant", "PROGRAM [argument ...]",
                    {{NULL, NULL}, {NULL, NULL}}},
    [TOOL_CHECK] = {"brant-check", "whether an elevation model can carry the question",
                    "DEM [option ...]",
                    {DEM, {NULL, NULL}}},
    [TOOL_SLOPE] = {"brant-slope", "slope, aspect and steepness classes of an elevation model",
                    "DEM -o FILE [option ...]",
                    {DEM, {NULL, NULL}}},
    [TOOL_ZONES] = {"brant-zones", "where avalanches can start: zones of an elevation model",
                    "DEM -o FILE [option ...]",
                    {DEM, {NULL, NULL}}},
    [TOOL_RUNOUT] = {"brant-runout", "how far avalanches can come: the runout shadow of zones",
                     "DEM ZONES -o FILE [option ...]",
                     {DEM, {"ZONES", "raster of zone numbers, or polygons (GeoPackage, GeoJSON)"}}},
    [TOOL_ROUTE] = {"brant-route", "what a route meets, leg by leg",
                    "DEM GPX -o FILE [option ...]",
                    {DEM, GPX}},
    [TOOL_SHEET] = {"brant-sheet", "a printed sheet of a tour that brant-plan planned",
                    "DIR -o FILE [option ...]",
                    {{"DIR", "folder that brant-plan wrote"}, {NULL, NULL}}},
    [TOOL_PLAN] = {"brant-plan", "all stages for one tour, into one folder",
                   "DEM GPX -d DIR [option ...]",
                   {DEM, GPX}},
    [TOOL_SCREEN] = {"brant-screen", "many circuits in one go, ranked",
                     "DEM GPX ... [-o FILE] [option ...]",
                     {DEM, {"GPX ...", "files, folders of them, or - for a list of paths on "
                                       "standard input"}}},
};

const char *tool_name(tool_program program)
{
    return programs[program].name;
}

/* ---- values ------------------------------------------------------------- */

static void set_defaults(tool_values *values)
{
    brant_meet_options meet = BRANT_MEET_OPTIONS_DEFAULT;
    memset(values, 0, sizeof *values);
    values->zone = BRANT_ZONE_OPTIONS_DEFAULT;
    values->reach = BRANT_REACH_OPTIONS_DEFAULT;
    values->edge_m = meet.edge_m;
    values->void_rise_m = BRANT_VOID_RISE;
    values->vertical_error_m = NAN;
    values->threads = brant_processors();
    values->treeline_m = values->level_above_m = values->level_below_m = NAN;
    values->new_snow_cm = NAN;
    values->declination_deg = NAN;
    values->later_from = values->out_by = -1;
    values->pace = BRANT_PACE_DEFAULT;
}

static brant_status bad_value(brant_context *ctx, const option_row *row, const char *value,
                              const char *wanted)
{
    return brant_fail(ctx, BRANT_ERR_USAGE, "%s: '%s' is not %s", row->name, value, wanted);
}

static bool is_word_of(const char *words, const char *value)
{
    size_t length = strlen(value);
    for (const char *word = words; length > 0; word++) {
        size_t end = strcspn(word, "|");
        if (end == length && strncmp(word, value, length) == 0)
            return true;
        word += end;
        if (!*word)
            break;
    }
    return false;
}

static brant_status set_number(brant_context *ctx, const option_row *row, const char *value,
                               double *number)
{
    if (!brant_parse_number(value, number))
        return bad_value(ctx, row, value, "a number");
    if (*number < row->low || *number > row->high)
        return brant_fail(ctx, BRANT_ERR_USAGE, "%s: %s is not within %.10g and %.10g", row->name,
                          value, row->low, row->high);
    return BRANT_OK;
}

static brant_status set_integer(brant_context *ctx, const option_row *row, const char *value,
                                int *number)
{
    long long parsed;
    if (!brant_parse_integer(value, (long long)row->low, (long long)row->high, &parsed))
        return brant_fail(ctx, BRANT_ERR_USAGE, "%s: '%s' is not a whole number from %.0f to %.0f",
                          row->name, value, row->low, row->high);
    *number = (int)parsed;
    return BRANT_OK;
}

static brant_status set_limits(brant_context *ctx, const option_row *row, const char *value,
                               brant_band *band)
{
    char low_text[64];
    double low, high;
    size_t length = strcspn(value, ":");
    if (length < sizeof low_text && value[length] == ':') {
        memcpy(low_text, value, length);
        low_text[length] = '\0';
        if (brant_parse_number(low_text, &low) && brant_parse_number(value + length + 1, &high) &&
            row->low < low && low < high && high <= row->high) {
            *band = (brant_band){(float)low, (float)high};
            return BRANT_OK;
        }
    }
    return bad_value(ctx, row, value, "LOW:HIGH with 0 < LOW < HIGH <= 90");
}

static brant_status set_cell(brant_context *ctx, const option_row *row, const char *value,
                             double *metres)
{
    if (strcmp(value, "native") == 0) {
        *metres = -1.0;
        return BRANT_OK;
    }
    return set_number(ctx, row, value, metres);
}

static brant_status add_nodata(brant_context *ctx, const option_row *row, const char *value,
                               tool_values *values)
{
    if (values->nodata_count == TOOL_NODATA)
        return brant_fail(ctx, BRANT_ERR_USAGE, "%s: more than %d values", row->name, TOOL_NODATA);
    if (!brant_parse_number(value, &values->nodata[values->nodata_count]))
        return bad_value(ctx, row, value, "a number");
    values->nodata_count++;
    return BRANT_OK;
}

/* "1800m" is no file that anyone means. */
static brant_status set_above(brant_context *ctx, const option_row *row, const char *value,
                              tool_values *values)
{
    double number;
    bool is_metres = brant_parse_number(value, &number);
    if (is_metres ? !isnan(values->level_above_m) : values->above != NULL)
        return brant_fail(ctx, BRANT_ERR_USAGE, "%s is given twice as %s", row->name,
                          is_metres ? "metres" : "a file");
    if (is_metres)
        return set_number(ctx, row, value, &values->level_above_m);
    if (!*value || (strspn(value, "+-.0123456789") > 0 && strcmp(value, "-") != 0 &&
                    !strpbrk(value, "/.")))
        return bad_value(ctx, row, value, "a file's name, nor metres");
    values->above = value;
    return BRANT_OK;
}

static brant_status set_value(brant_context *ctx, const option_row *row, const char *value,
                              tool_values *values)
{
    void *where = (char *)values + row->where;
    switch (row->kind) {
    case FLAG:
        *(bool *)where = true;
        return BRANT_OK;
    case PATH:
        if (!*value)
            return brant_fail(ctx, BRANT_ERR_USAGE, "%s: the file name is empty", row->name);
        *(const char **)where = value;
        return BRANT_OK;
    case TEXT:
        *(const char **)where = value;
        return BRANT_OK;
    case ABOVE:
        return set_above(ctx, row, value, values);
    case CHOICE:
        if (!is_word_of(row->argument, value))
            return bad_value(ctx, row, value, row->argument);
        *(const char **)where = value;
        return BRANT_OK;
    case NUMBER:
        return set_number(ctx, row, value, where);
    case INTEGER:
        return set_integer(ctx, row, value, where);
    case LIMITS:
        return set_limits(ctx, row, value, where);
    case CELL:
        return set_cell(ctx, row, value, where);
    case NODATA:
        return add_nodata(ctx, row, value, values);
    }
    return brant_fail(ctx, BRANT_ERR_INTERNAL, "%s: an option of no kind", row->name);
}

static uint64_t bit_of(const option_row *row)
{
    return UINT64_C(1) << (row - table);
}

static bool is_given(const tool_values *values, const option_row *row)
{
    return (values->given & bit_of(row)) != 0;
}

brant_status tool_take(brant_context *ctx, tool_program program, const char *option,
                       const char *value, tool_values *values, bool *taken)
{
    *taken = false;
    for (size_t i = 0; i < ROWS; i++) {
        const option_row *row = &table[i];
        if (strcmp(row->name, option) != 0 || !(row->programs & (1u << program)) ||
            is_given(values, row))
            continue;
        *taken = true;
        return set_value(ctx, row, value, values);
    }
    return BRANT_OK;
}

/* ---- the command line --------------------------------------------------- */

typedef struct parser {
    brant_context *ctx;
    tool_program program;
    int argc, next;
    char **argv;
    tool_values *values;
    int operands;
} parser;

/* The row of the option that `word` begins with; *inline_value: after '='. */
static const option_row *find_row(const parser *p, const char *word, const char **inline_value)
{
    bool is_long = word[1] == '-';
    size_t length = is_long ? strcspn(word, "=") : strlen(word);
    *inline_value = word[length] == '=' ? word + length + 1 : NULL;
    for (size_t i = 0; i < ROWS; i++)
        if ((table[i].programs & (1u << p->program)) && strlen(table[i].name) == length &&
            strncmp(table[i].name, word, length) == 0)
            return &table[i];
    return NULL;
}

/* A negative number and "-" are values; another word with a dash is an option,
 * and the value before it was forgotten. */
static bool looks_like_option(const char *word)
{
    double number;
    return word[0] == '-' && word[1] && !brant_parse_number(word, &number);
}

static brant_status take_option(parser *p, const char *word)
{
    const char *value;
    const option_row *row = find_row(p, word, &value);
    if (!row)
        return brant_fail(p->ctx, BRANT_ERR_USAGE, "unknown option '%s' (%s --help lists them)",
                          word, programs[p->program].name);
    if (row->kind == FLAG && value)
        return brant_fail(p->ctx, BRANT_ERR_USAGE, "%s takes no value", row->name);
    if (is_given(p->values, row) && row->kind != NODATA && row->kind != ABOVE)
        return brant_fail(p->ctx, BRANT_ERR_USAGE, "%s is given twice", row->name);
    p->values->given |= bit_of(row);
    if (row->kind != FLAG && !value) {
        if (p->next == p->argc || looks_like_option(p->argv[p->next]))
            return brant_fail(p->ctx, BRANT_ERR_USAGE, "%s needs a value: %s", row->name,
                              row->argument);
        value = p->argv[p->next++];
    }
    return set_value(p->ctx, row, value ? value : "", p->values);
}

static brant_status take_operand(parser *p, const char *word)
{
    if (p->program == TOOL_SCREEN && p->operands > 0) { /* words that were read make room */
        if (p->values->more_count == 0)
            p->values->more = p->argv;
        p->values->more[p->values->more_count++] = (char *)word;
        p->operands = TOOL_OPERANDS;
        return *word ? BRANT_OK
                     : brant_fail(p->ctx, BRANT_ERR_USAGE, "GPX: the file name is empty");
    }
    if (p->operands == TOOL_OPERANDS || !programs[p->program].operands[p->operands].name)
        return brant_fail(p->ctx, BRANT_ERR_USAGE, "unexpected operand '%s'", word);
    if (!*word)
        return brant_fail(p->ctx, BRANT_ERR_USAGE, "%s: the file name is empty",
                          programs[p->program].operands[p->operands].name);
    p->values->operand[p->operands++] = word;
    return BRANT_OK;
}

static brant_status take_words(parser *p)
{
    brant_status status = BRANT_OK;
    bool options = true;
    while (status == BRANT_OK && p->next < p->argc) {
        const char *word = p->argv[p->next++];
        if (options && strcmp(word, "--") == 0)
            options = false;
        else if (options && word[0] == '-' && word[1])
            status = take_option(p, word);
        else
            status = take_operand(p, word);
        if (p->values->help || p->values->version)
            break;
    }
    return status;
}

static brant_status check_complete(const parser *p)
{
    if (p->operands < TOOL_OPERANDS && programs[p->program].operands[p->operands].name)
        return brant_fail(p->ctx, BRANT_ERR_USAGE, "%s is missing (usage: %s %s)",
                          programs[p->program].operands[p->operands].name,
                          programs[p->program].name, programs[p->program].synopsis);
    for (size_t i = 0; i < ROWS; i++)
        if ((table[i].required & (1u << p->program)) && !is_given(p->values, &table[i]))
            return brant_fail(p->ctx, BRANT_ERR_USAGE, "%s %s is missing (usage: %s %s)",
                              table[i].name, table[i].argument, programs[p->program].name,
                              programs[p->program].synopsis);
    return BRANT_OK;
}

static brant_status check_sense(brant_context *ctx, const tool_values *values)
{
    if (!isnan(values->declination_deg) && !values->bearings)
        return brant_fail(ctx, BRANT_ERR_USAGE, "--declination needs --bearings");
    if (values->reach.floor_deg > values->reach.reach_angle_deg)
        return brant_fail(ctx, BRANT_ERR_USAGE, "--reach-angle %g is below --floor %g",
                          values->reach.reach_angle_deg, values->reach.floor_deg);
    if (values->zone.min_area_m2 > values->zone.max_area_m2)
        return brant_fail(ctx, BRANT_ERR_USAGE, "--min-area %g is above --max-area %g",
                          values->zone.min_area_m2, values->zone.max_area_m2);
    return BRANT_OK;
}

/* Two outputs in one place would leave one of them. */
static brant_status check_outputs(const parser *p)
{
    brant_sheet_format format;
    if (p->program == TOOL_SHEET && !brant_sheet_format_of(p->values->output, &format))
        return brant_fail(p->ctx, BRANT_ERR_USAGE, "-o: '%s' ends in none of .pdf, .svg, .png",
                          p->values->output);
    const char *taken[ROWS] = {NULL};
    size_t count = 0;
    for (size_t i = 0; i < ROWS; i++) {
        if (!is_given(p->values, &table[i]) ||
            (table[i].kind != PATH && table[i].kind != ABOVE) || table[i].where == AT(zones) ||
            table[i].where == AT(bulletin))
            continue;
        const char *path = *(const char *const *)((const char *)p->values + table[i].where);
        if (!path) /* --above as metres */
            continue;
        for (size_t k = 0; k < count; k++)
            if (strcmp(taken[k], path) == 0)
                return brant_fail(p->ctx, BRANT_ERR_USAGE, "%s: '%s' is another output's",
                                  table[i].name, path);
        taken[count++] = path;
    }
    return BRANT_OK;
}

brant_status tool_parse(brant_context *ctx, tool_program program, int argc, char **argv,
                        tool_values *values)
{
    parser p = {.ctx = ctx, .program = program, .argc = argc, .next = 1, .argv = argv,
                .values = values};
    set_defaults(values);
    brant_status status = take_words(&p);
    if (status != BRANT_OK || values->help || values->version)
        return status;
    status = check_complete(&p);
    if (status == BRANT_OK)
        status = check_sense(ctx, values);
    if (status == BRANT_OK)
        status = tool_parse_day(ctx, values);
    if (status == BRANT_OK)
        status = check_outputs(&p);
    return status;
}

/* ---- --help ------------------------------------------------------------- */

#define HELP_COLUMN 33
#define HELP_WIDTH 79

/* `left` in its column, `right` folded beside it. */
static void add_entry(brant_text *out, const char *left, const char *right)
{
    size_t column = HELP_COLUMN;
    brant_text_add(out, "  %-*s", HELP_COLUMN - 2, left);
    while (*right) {
        size_t length = strcspn(right, " ");
        if (column > HELP_COLUMN && column + 1 + length > HELP_WIDTH) {
            brant_text_add(out, "\n%*s", HELP_COLUMN, "");
            column = HELP_COLUMN;
        } else if (column > HELP_COLUMN) {
            brant_text_add_bytes(out, " ", 1);
            column++;
        }
        brant_text_add_bytes(out, right, length);
        column += length;
        right += length;
        right += strspn(right, " ");
    }
    brant_text_add(out, "\n");
}

static void add_programs(brant_text *out)
{
    for (int i = TOOL_BRANT + 1; i < TOOLS; i++)
        add_entry(out, programs[i].name + strlen("brant-"), programs[i].purpose);
    brant_text_add(out, "\n");
}

void tool_help(tool_program program, brant_text *out)
{
    const description *d = &programs[program];
    brant_text_add(out, "usage: %s %s\n%s: %s\n\n", d->name, d->synopsis, d->name, d->purpose);
    if (program == TOOL_BRANT)
        add_programs(out);
    for (int i = 0; i < TOOL_OPERANDS && d->operands[i].name; i++)
        add_entry(out, d->operands[i].name, d->operands[i].help);
    for (size_t i = 0; i < ROWS; i++) {
        brant_text left = {0};
        if (!(table[i].programs & (1u << program)))
            continue;
        brant_text_add(&left, table[i].argument ? "%s %s" : "%s", table[i].name,
                       table[i].argument);
        add_entry(out, left.data ? left.data : table[i].name, table[i].help);
        brant_text_clear(&left);
    }
    if (program != TOOL_BRANT)
        brant_text_add(out, "\n%s", brant_caution);
}
