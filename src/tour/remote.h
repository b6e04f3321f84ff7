/* Release ground near a place and connected to it: an avalanche can be triggered from there. */
#ifndef BRANT_TOUR_REMOTE_H
#define BRANT_TOUR_REMOTE_H

#include "ground_bits.h"
#include "place.h"

/* Kept from place to place. Zero it, set the first four; pair with brant_remote_clear. */
typedef struct brant_remote {
    brant_context *ctx;
    const brant_meeting *meeting;
    const brant_ground_bits *bits;
    double far_m;    /* release ground is looked for up to here; brant_remote_far */
    uint8_t *seen;   /* the window with a frame of one cell, which counts as seen */
    int *queue;      /* cells of it, row by row */
    size_t seen_capacity, queue_capacity;
    uint32_t *zones; /* found from the last place: each once, 0 for ground without a number */
    size_t zone_count, zone_capacity;
} brant_remote;

/* How far release ground is looked for. */
double brant_remote_far(const brant_ground_bits *bits);
/* What is there from a place on the grid: remote->zones. With `all` every zone, else the
 * first that is come to. The place's own cell is not asked. */
brant_status brant_remote_look(brant_remote *remote, const brant_place *place, bool all);
void brant_remote_clear(brant_remote *remote);

#endif
