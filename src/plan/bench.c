#include "bench.h"

#include <math.h>
#include <stdlib.h>

void brant_benches_destroy(bench *benches, int count)
{
    for (int i = 0; benches && i < count; i++) {
        brant_search_destroy(benches[i].search);
        free(benches[i].starts);
    }
    free(benches);
}

bench *brant_benches_create(brant_context *ctx, brant_flow *flow,
                            const brant_reach_options *options, int count)
{
    bench *benches = brant_alloc(ctx, (size_t)count, sizeof *benches);
    for (int i = 0; benches && i < count; i++)
        if (brant_search_create(ctx, flow, options, &benches[i].search) != BRANT_OK) {
            brant_benches_destroy(benches, count);
            return NULL;
        }
    return benches;
}

brant_reach_options brant_options_of_zone(const brant_reach_options *run, double own_deg)
{
    brant_reach_options options = *run;
    if (own_deg > 0.0)
        options.reach_angle_deg = own_deg;
    options.floor_deg = fmin(options.floor_deg, options.reach_angle_deg);
    return options;
}

/* A rim's own starts stand `rise_m` above the ground, to rounding, and are not to be carried:
 * what is more than this above that came down from higher. */
#define RIM_SLACK_M 0.01

brant_status brant_bench_rim(brant_context *ctx, bench *b, const brant_reach_options *options,
                             brant_source *source, const brant_window *square, float rise_m,
                             brant_reach_result *result)
{
    brant_start *starts;
    size_t count;
    brant_status status = brant_rim_starts(ctx, source, square, rise_m, &starts, &count);
    if (status != BRANT_OK)
        return status;
    brant_search_set(b->search, options);
    brant_search_carry(b->search, rise_m + RIM_SLACK_M);
    status = brant_search_run(ctx, b->search, starts, count, result);
    free(starts);
    return status;
}

#define EVERY_WAY_DEG 180.0

brant_status brant_bench_beyond(brant_context *ctx, bench *b, const brant_reach_options *options,
                                const brant_reach_result *result, brant_reach_result *unknown)
{
    brant_reach_options every = *options;
    *unknown = (brant_reach_result){0};
    if (result->cut_count == 0)
        return BRANT_OK;
    every.spread_deg = EVERY_WAY_DEG;
    every.floor_deg = every.reach_angle_deg;
    brant_search_set(b->search, &every);
    brant_search_cross(b->search);
    return brant_search_run(ctx, b->search, result->cut, result->cut_count, unknown);
}
