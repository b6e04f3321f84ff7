/* Patches of cells, row by row. A row can hold half as many patches as cells, two rows
 * as many as cells: after each row the patches that it does not touch are done, and the
 * others are numbered anew. */
#include "blobs.h"

#include <stdlib.h>
#include <string.h>

brant_status brant_blobs_begin(brant_context *ctx, brant_blobs *blobs, int cols, int rows,
                               brant_blob_fn finish, void *self)
{
    size_t count = (size_t)cols;
    *blobs = (brant_blobs){.cols = cols, .rows = rows, .finish = finish, .self = self};
    blobs->above = brant_alloc(ctx, count, sizeof *blobs->above);
    blobs->here = brant_alloc(ctx, count, sizeof *blobs->here);
    blobs->parent = brant_alloc(ctx, 2 * count + 2, sizeof *blobs->parent);
    blobs->number = brant_alloc(ctx, 2 * count + 2, sizeof *blobs->number);
    blobs->blob = brant_alloc(ctx, 2 * count + 2, sizeof *blobs->blob);
    blobs->kept = brant_alloc(ctx, 2 * count + 2, sizeof *blobs->kept);
    if (!blobs->above || !blobs->here || !blobs->parent || !blobs->number || !blobs->blob ||
        !blobs->kept) {
        brant_blobs_clear(blobs);
        return BRANT_ERR_MEMORY;
    }
    for (int col = 0; col < cols; col++)
        blobs->above[col] = -1;
    return BRANT_OK;
}

static int root_of(brant_blobs *b, int patch)
{
    while (b->parent[patch] != patch)
        patch = b->parent[patch] = b->parent[b->parent[patch]];
    return patch;
}

/* The patch of both; -1 is none. */
static int join(brant_blobs *b, int patch, int other)
{
    if (patch < 0 || other < 0)
        return patch < 0 ? other : patch;
    patch = root_of(b, patch);
    other = root_of(b, other);
    if (patch == other)
        return patch;
    b->parent[other] = patch;
    b->blob[patch].cells += b->blob[other].cells;
    b->blob[patch].at_border |= b->blob[other].at_border;
    return patch;
}

static int new_patch(brant_blobs *b)
{
    b->parent[b->count] = b->count;
    b->blob[b->count] = (brant_blob){0, false};
    return b->count++;
}

/* Number the patches that this row touches from 0 on; the others are done. */
static void retire(brant_blobs *b)
{
    int kept = 0;
    for (int patch = 0; patch < b->count; patch++)
        b->number[patch] = -1;
    for (int col = 0; col < b->cols; col++) {
        if (b->here[col] < 0)
            continue;
        int root = root_of(b, b->here[col]);
        if (b->number[root] < 0) {
            b->kept[kept] = b->blob[root];
            b->number[root] = kept++;
        }
        b->here[col] = b->number[root];
    }
    for (int patch = 0; patch < b->count; patch++)
        if (b->parent[patch] == patch && b->number[patch] < 0)
            b->finish(b->self, &b->blob[patch]);
    for (int patch = 0; patch < kept; patch++) {
        b->blob[patch] = b->kept[patch];
        b->parent[patch] = patch;
    }
    b->count = kept;
}

void brant_blobs_row(brant_blobs *b, const uint8_t *in)
{
    bool rim = b->row == 0 || b->row == b->rows - 1;
    for (int col = 0; col < b->cols; col++) {
        int patch = -1;
        if (in[col]) {
            patch = join(b, b->above[col], col > 0 ? b->here[col - 1] : -1);
            patch = join(b, patch, col > 0 ? b->above[col - 1] : -1);
            patch = join(b, patch, col + 1 < b->cols ? b->above[col + 1] : -1);
            if (patch < 0)
                patch = new_patch(b);
            patch = root_of(b, patch);
            b->blob[patch].cells++;
            b->blob[patch].at_border |= rim || col == 0 || col == b->cols - 1;
        }
        b->here[col] = patch;
    }
    retire(b);
    if (++b->row == b->rows)
        for (int patch = 0; patch < b->count; patch++)
            b->finish(b->self, &b->blob[patch]);
    int *row = b->above;
    b->above = b->here;
    b->here = row;
}

void brant_blobs_clear(brant_blobs *blobs)
{
    free(blobs->above);
    free(blobs->here);
    free(blobs->parent);
    free(blobs->number);
    free(blobs->blob);
    free(blobs->kept);
    memset(blobs, 0, sizeof *blobs);
}
