/* Anything as a bulletin: with a tree line and without, for a region and for none; then all that
 * is said of one, and asked of it. */
#include "fuzz.h"

#include "brant/day.h"

#include <math.h>

static void check_extent(const brant_extent *extent)
{
    FUZZ_CHECK(extent->aspects >= 1 && extent->aspects <= BRANT_ASPECTS_ALL);
    FUZZ_CHECK(extent->periods >= 1 && extent->periods <= BRANT_ALL_DAY);
    FUZZ_CHECK(isnan(extent->lower_m) || (extent->lower_m >= 0 && extent->lower_m <= 9900));
    FUZZ_CHECK(isnan(extent->upper_m) || (extent->upper_m >= 0 && extent->upper_m <= 9900));
    FUZZ_CHECK(!(extent->lower_m > extent->upper_m));
}

static void say_all(const brant_bulletin *b)
{
    brant_text text = {0};
    brant_text_region(&text, b);
    brant_text_validity(&text, b, 60);
    brant_text_ratings(&text, b);
    for (size_t i = 0; i < b->problem_count; i++) {
        check_extent(&b->problems[i].extent);
        brant_text_problem(&text, &b->problems[i]);
    }
    brant_bulletin_covers(b, 1802448000, 1802534400, 60, &text);
    FUZZ_CHECK(!text.failed);
    brant_text_clear(&text);
}

/* Ground that no rating is near has no level, and no ground is without an answer. */
static void ask_all(const brant_bulletin *b)
{
    bool all = brant_bulletin_states_all(b, BRANT_ALL_DAY);
    for (double elevation = -100; elevation <= 9900; elevation += 500)
        for (double aspect = 0; aspect < 360; aspect += 45) {
            brant_danger danger = brant_bulletin_at(b, aspect, elevation, BRANT_ALL_DAY);
            FUZZ_CHECK(danger.level > BRANT_LEVEL_NONE && danger.level < BRANT_LEVELS);
            FUZZ_CHECK(!all || danger.level != BRANT_LEVEL_NOT_STATED);
            FUZZ_CHECK(b->rating_count > 0 || danger.level == BRANT_LEVEL_NOT_STATED);
            FUZZ_CHECK(!danger.lowered || b->outside_core_lower);
        }
}

static void read_one(const char *data, size_t size, const brant_bulletin_options *options)
{
    brant_context ctx;
    brant_bulletin bulletin;
    fuzz_begin(&ctx);
    brant_status status = brant_bulletin_parse(&ctx, "b.json", data, size, options, &bulletin);
    if (status == BRANT_OK) {
        FUZZ_CHECK(bulletin.problem_count <= BRANT_PROBLEMS_MAX);
        for (size_t i = 0; i < bulletin.rating_count; i++)
            check_extent(&bulletin.ratings[i].extent);
        say_all(&bulletin);
        ask_all(&bulletin);
    } else {
        fuzz_check_refusal(&ctx, status, "b.json");
        FUZZ_CHECK(!bulletin.ratings && bulletin.rating_count == 0);
    }
    brant_bulletin_clear(&bulletin);
    brant_context_clear(&ctx);
}

int LLVMFuzzerTestOneInput(const uint8_t *data, size_t size)
{
    static const brant_bulletin_options options[] = {
        {.treeline_m = NAN}, {.region = "QQ-01", .treeline_m = 1900, .outside_core_lower = true}};
    char *copy = fuzz_copy(data, size);
    for (size_t i = 0; i < sizeof options / sizeof options[0]; i++)
        read_one(copy, size, &options[i]);
    free(copy);
    return 0;
}
