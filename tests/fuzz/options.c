/* Any words as a command line: the first line names the program, each further one is a word. */
#include "fuzz.h"

#include "../../src/tools/options.h"

#include <math.h>

#define WORDS_MAX 256

/* Lines become words, in place; what lies between a NUL and the line's end is lost, as in a
 * command line. */
static int split(char *text, char **words)
{
    int count = 0;
    for (char *line = strtok(text, "\n"); line && count < WORDS_MAX; line = strtok(NULL, "\n"))
        words[count++] = line;
    words[count] = NULL;
    return count;
}

static tool_program find_program(const char *word)
{
    for (int i = TOOL_BRANT; i < TOOLS; i++)
        if (strcmp(tool_name((tool_program)i), word) == 0)
            return (tool_program)i;
    return TOOL_PLAN;
}

static bool within(double value, double low, double high)
{
    return value >= low && value <= high;
}

/* What the programs count on without looking again. */
static void check_values(const tool_values *v)
{
    FUZZ_CHECK(within(v->zone.band.low, 0, v->zone.band.high));
    FUZZ_CHECK(v->zone.band.high <= 90);
    FUZZ_CHECK(within(v->zone.min_area_m2, 0, v->zone.max_area_m2));
    FUZZ_CHECK(within(v->reach.reach_angle_deg, v->reach.floor_deg, 60));
    FUZZ_CHECK(within(v->reach.floor_deg, 10, 45) && within(v->reach.spread_deg, 0, 60));
    FUZZ_CHECK(within(v->edge_m, 0, 100) && within(v->void_rise_m, 0, 5000));
    FUZZ_CHECK(isnan(v->vertical_error_m) || within(v->vertical_error_m, 0, 1000));
    FUZZ_CHECK(isnan(v->treeline_m) || within(v->treeline_m, 0, 5000));
    FUZZ_CHECK(isnan(v->new_snow_cm) || within(v->new_snow_cm, 0, 500));
    FUZZ_CHECK(v->level >= 0 && v->level <= 5 && v->threads >= 1 && v->threads <= 256);
    FUZZ_CHECK(v->scale_m == -1 || v->scale_m == 0 || within(v->scale_m, 0.1, 1000));
    FUZZ_CHECK(v->band_number >= 0 && v->nodata_count <= TOOL_NODATA);
    for (size_t i = 0; i < v->nodata_count; i++)
        FUZZ_CHECK(isfinite(v->nodata[i]));
    FUZZ_CHECK(within(v->pace.up, 0.1, 100) && within(v->pace.down, 0.1, 100));
    FUZZ_CHECK(within(v->later_from, -1, 1439) && within(v->out_by, -1, 1439));
    FUZZ_CHECK(!v->start_text || v->start.has_offset);
}

int LLVMFuzzerTestOneInput(const uint8_t *data, size_t size)
{
    brant_context ctx;
    tool_values values;
    char *words[WORDS_MAX + 1];
    char *text = malloc(size + 1);
    if (!text)
        abort();
    memcpy(text, data, size);
    text[size] = '\0';
    int count = split(text, words);
    fuzz_begin(&ctx);
    if (count > 0) {
        brant_status status = tool_parse(&ctx, find_program(words[0]), count, words, &values);
        if (status != BRANT_OK) {
            fuzz_check_refusal(&ctx, status, "");
            FUZZ_CHECK(status == BRANT_ERR_USAGE);
        } else if (!values.help && !values.version) {
            check_values(&values);
        }
    }
    brant_context_clear(&ctx);
    free(text);
    return 0;
}
