/* What a worker searches with. Private to the room. */
#ifndef BRANT_PLAN_BENCH_H
#define BRANT_PLAN_BENCH_H

#include "brant/runout.h"

typedef struct bench {
    brant_search *search;  /* one for all that it does: its scratch may be large */
    brant_start *starts;   /* scratch */
    size_t capacity;
} bench;

/* `count` of them, for the same options; NULL (and ctx's message) if memory is short. */
bench *brant_benches_create(brant_context *ctx, brant_flow *flow,
                            const brant_reach_options *options, int count);
void brant_benches_destroy(bench *benches, int count); /* NULL allowed */

/* The run's options with a zone's own reach angle (0: it has none), and a floor that is not
 * above it. */
brant_reach_options brant_options_of_zone(const brant_reach_options *run, double own_deg);

/* Search from the rim of the unknown in a square, whose starts rise `rise_m`. */
brant_status brant_bench_rim(brant_context *ctx, bench *b, const brant_reach_options *options,
                             brant_source *source, const brant_window *square, float rise_m,
                             brant_reach_result *result);

/* Take the lines that voids cut in the worker's latest search (of a zone or a rim, with these
 * options) up again, every way and over voids: what they reach is unknown. `*unknown` has no
 * cells if there is none. The worker's search then has other options, and that result is gone. */
brant_status brant_bench_beyond(brant_context *ctx, bench *b, const brant_reach_options *options,
                                const brant_reach_result *result, brant_reach_result *unknown);

#endif
