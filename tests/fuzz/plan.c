/* Anything as plan.json, the file that the sheet is drawn from. */
#include "fuzz.h"

#include "../../src/report/plan_read.h"

/* What the sheet counts on without looking again. */
static void check_tour(const brant_read_tour *tour)
{
    FUZZ_CHECK(tour->leg_count >= 1 && tour->point_count >= 2);
    FUZZ_CHECK(tour->high_point == SIZE_MAX || tour->high_point < tour->point_count);
    for (size_t i = 0; i < tour->leg_count; i++) {
        FUZZ_CHECK(tour->ranked[i] < tour->leg_count);
        FUZZ_CHECK(tour->legs[i].number == i + 1);
        FUZZ_CHECK((unsigned)tour->legs[i].kind < BRANT_KINDS);
    }
    for (size_t i = 0; i < tour->point_count; i++)
        FUZZ_CHECK((unsigned)tour->points[i].kind < BRANT_KINDS);
}

int LLVMFuzzerTestOneInput(const uint8_t *data, size_t size)
{
    brant_context ctx;
    brant_read_plan plan;
    char *copy = fuzz_copy(data, size);
    fuzz_begin(&ctx);
    brant_status status = brant_plan_read(&ctx, "plan.json", copy, size, &plan);
    if (status == BRANT_OK) {
        FUZZ_CHECK(plan.tour_count >= 1);
        for (size_t i = 0; i < plan.tour_count; i++)
            check_tour(&plan.tours[i]);
    } else {
        fuzz_check_refusal(&ctx, status, "plan.json");
        FUZZ_CHECK(!plan.root && !plan.tours);
    }
    brant_plan_read_clear(&plan);
    brant_context_clear(&ctx);
    free(copy);
    return 0;
}
