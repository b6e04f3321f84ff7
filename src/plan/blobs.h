/* Patches of cells, counted row by row with the memory of two rows. Private to the
 * room. */
#ifndef BRANT_PLAN_BLOBS_H
#define BRANT_PLAN_BLOBS_H

#include "brant/base.h"

/* A finished patch: cells that touch, corners too. */
typedef struct brant_blob {
    int64_t cells;
    bool at_border; /* it has a cell in the first or last row or column */
} brant_blob;

typedef void (*brant_blob_fn)(void *self, const brant_blob *blob);

typedef struct brant_blobs {
    int cols, rows, row;   /* the next row to come */
    int *above, *here;     /* patch of each cell of the last row and of this one, -1 none */
    int *parent;           /* union of patches that have met */
    int *number;           /* of a patch among those that go on, -1: it is done */
    brant_blob *blob, *kept;
    int count;
    brant_blob_fn finish;  /* told of each patch once it can grow no more */
    void *self;
} brant_blobs;

brant_status brant_blobs_begin(brant_context *ctx, brant_blobs *blobs, int cols, int rows,
                               brant_blob_fn finish, void *self);
/* The rows in order, all `rows` of them; cell c belongs to a patch where in[c] is not 0. */
void brant_blobs_row(brant_blobs *blobs, const uint8_t *in);
void brant_blobs_clear(brant_blobs *blobs);

#endif
