/* Release ground near a place and connected to it: an avalanche can be triggered from there. */
#ifndef BRANT_TOUR_REMOTE_H
#define BRANT_TOUR_REMOTE_H

#include "ground_bits.h"
#include "place.h"
#include "planes.h"

/* Made for a track's ground, asked for its places one after the other. */
typedef struct brant_remote {
    const brant_meeting *meeting;
    double far_m;       /* release ground is looked for up to here */
    brant_plane steep;  /* carries a fracture */
    brant_plane far;    /* release ground to be reckoned with from far_m */
    brant_plane near;   /* and from options.remote_m: all of it */
    /* of the latest place: */
    brant_window around;
    size_t words;       /* a row */
    uint64_t *found;    /* connected release ground, its own cell aside; a row after the other */
    /* scratch, of the same shape; around `reached` lies an empty row more */
    uint64_t *open, *reached, *targets;
    size_t capacity[4];
} brant_remote;

/* Of the ground that the bits tell of. Pair with brant_remote_clear. */
brant_status brant_remote_create(brant_context *ctx, const brant_ground_bits *bits,
                                 brant_remote *remote);
void brant_remote_clear(brant_remote *remote);

/* Look from a place: is there any? It is in remote->found then, until the next call. */
brant_status brant_remote_look(brant_context *ctx, brant_remote *remote, const brant_place *place,
                               bool *any);
/* The number of the nearest of it, the lowest if several are as near; 0 where it has none. */
uint32_t brant_remote_nearest(const brant_remote *remote, const brant_place *place);

#endif
