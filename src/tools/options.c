/* The command line, read by the option table. */
#include "option_table.h"

#include <math.h>
#include <string.h>

const char *tool_name(tool_program program)
{
    return tool_programs[program].name;
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
    case INPUT:
    case OUTPUT:
    case RASTER:
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
    return UINT64_C(1) << (row - tool_rows);
}

static bool is_given(const tool_values *values, const option_row *row)
{
    return (values->given & bit_of(row)) != 0;
}

brant_status tool_take(brant_context *ctx, tool_program program, const char *option,
                       const char *value, tool_values *values, bool *taken)
{
    *taken = false;
    for (size_t i = 0; i < tool_row_count; i++) {
        const option_row *row = &tool_rows[i];
        if (strcmp(row->name, option) != 0 || !tool_row_is_of(row, program) ||
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
    for (size_t i = 0; i < tool_row_count; i++)
        if (tool_row_is_of(&tool_rows[i], p->program) && strlen(tool_rows[i].name) == length &&
            strncmp(tool_rows[i].name, word, length) == 0)
            return &tool_rows[i];
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
                          word, tool_programs[p->program].name);
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
    if (p->operands == TOOL_OPERANDS || !tool_programs[p->program].operands[p->operands].name)
        return brant_fail(p->ctx, BRANT_ERR_USAGE, "unexpected operand '%s'", word);
    if (!*word)
        return brant_fail(p->ctx, BRANT_ERR_USAGE, "%s: the file name is empty",
                          tool_programs[p->program].operands[p->operands].name);
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
    if (p->operands < TOOL_OPERANDS && tool_programs[p->program].operands[p->operands].name)
        return brant_fail(p->ctx, BRANT_ERR_USAGE, "%s is missing (usage: %s %s)",
                          tool_programs[p->program].operands[p->operands].name,
                          tool_programs[p->program].name, tool_programs[p->program].synopsis);
    for (size_t i = 0; i < tool_row_count; i++)
        if ((tool_rows[i].required & (1u << p->program)) && !is_given(p->values, &tool_rows[i]))
            return brant_fail(p->ctx, BRANT_ERR_USAGE, "%s %s is missing (usage: %s %s)",
                              tool_rows[i].name, tool_rows[i].argument,
                              tool_programs[p->program].name, tool_programs[p->program].synopsis);
    return BRANT_OK;
}

static brant_status check_sense(brant_context *ctx, const tool_values *values)
{
    if (values->others && strcmp(values->others, "-") == 0)
        return brant_fail(ctx, BRANT_ERR_USAGE, "--others is a file, not standard input");
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

/* A name that promises what is not written would mislead. */
static brant_status check_suffix(const parser *p, const option_row *row, const char *path)
{
    brant_sheet_format format;
    if (row->kind == RASTER && !brant_ends_in(path, ".tif") && !brant_ends_in(path, ".tiff"))
        return brant_fail(p->ctx, BRANT_ERR_USAGE, "%s: '%s' ends in neither .tif nor .tiff",
                          row->name, path);
    if (p->program == TOOL_SHEET && !brant_sheet_format_of(path, &format))
        return brant_fail(p->ctx, BRANT_ERR_USAGE, "%s: '%s' ends in none of .pdf, .svg, .png",
                          row->name, path);
    return BRANT_OK;
}

/* Two outputs in one place would leave one of them. */
static brant_status check_outputs(const parser *p)
{
    const char *taken[TOOL_ROWS_MAX] = {NULL};
    size_t count = 0;
    brant_status status = BRANT_OK;
    for (size_t i = 0; i < tool_row_count && status == BRANT_OK; i++) {
        const option_row *row = &tool_rows[i];
        if (!is_given(p->values, row) ||
            (row->kind != OUTPUT && row->kind != RASTER && row->kind != ABOVE))
            continue;
        const char *path = *(const char *const *)((const char *)p->values + row->where);
        if (!path) /* --above as metres */
            continue;
        for (size_t k = 0; k < count; k++)
            if (strcmp(taken[k], path) == 0)
                return brant_fail(p->ctx, BRANT_ERR_USAGE, "%s: '%s' is another output's",
                                  row->name, path);
        taken[count++] = path;
        status = check_suffix(p, row, path);
    }
    return status;
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
