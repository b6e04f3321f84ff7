/* The runout search as it was first written, straightforwardly: the yardstick of the
 * benchmark and an oracle for the search of src/runout. Same algorithm (told at the top
 * of src/runout/search.c) but for a search every way, which it does not know. */
#ifndef BENCH_PLAIN_H
#define BENCH_PLAIN_H

#include "brant/runout.h"

typedef struct plain_search plain_search;

brant_status plain_search_create(brant_context *ctx, brant_flow *flow,
                                 const brant_reach_options *options, plain_search **search);
void plain_search_destroy(plain_search *search);
/* As brant_search_run. */
brant_status plain_search_run(brant_context *ctx, plain_search *search, const brant_start *starts,
                              size_t count, brant_reach_result *result);

#endif
