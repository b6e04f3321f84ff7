/* A search's memory: the tiles it stands on, its labels and its queue. */
#ifndef BRANT_RUNOUT_LABELS_H
#define BRANT_RUNOUT_LABELS_H

#include "flow.h"
#include "queue.h"

typedef struct vec {
    float east, north; /* metres from the search's origin, or a unit vector */
} vec;

enum { LABEL_FREE, LABEL_BEAM, LABEL_MODES };

/* See search.c for what the parts mean. 64 bytes, a line of cache. */
typedef struct label {
    int col, row;
    vec at, anchor;      /* centre of the cell; where the straight run began */
    vec flow;            /* direction of flow that brought it here; 0, 0: none known */
    vec turn_from;       /* flow at the anchor */
    float start_m;       /* height of the energy line at the path's start */
    float anchor_run_m;  /* path up to the anchor */
    float run_m;         /* path up to the cell */
    float bottleneck;    /* tangent */
    uint32_t result : 29; /* index of the cell in the result + 1; 0 not in it */
    uint32_t mode : 1;
    uint32_t releases : 1; /* the cell is one of the starts */
    uint32_t settled : 1;
} label;

/* A page of ground under the search, with the labels on it. An id is twice the label's
 * index plus labels.base, plus 1 once the label is settled; one below `base` is left
 * from an earlier search: tiles are handed on without being wiped. */
typedef struct tile {
    int pcol, prow;
    const flow_page *ground;
    uint32_t id[LABEL_MODES][PAGE_CELLS];
} tile;

typedef struct labels {
    brant_flow *flow;
    uint32_t base;
    label *label;
    size_t label_count, label_capacity;
    queue queue;
    tile **tile; /* in use: tile_count, then spare ones */
    size_t tile_count, tile_have, tile_capacity;
    uint32_t *hash; /* tile index + 1 by place; hash_size a power of two */
    size_t hash_size;
    tile *last;
} labels;

/* `cap`: see queue.h. */
void brant_labels_init(labels *l, brant_flow *flow, float cap);
void brant_labels_clear(labels *l);
size_t brant_labels_memory(const labels *l); /* bytes allocated */
void brant_labels_begin(labels *l);
/* Give the pages back. */
void brant_labels_end(labels *l);

/* The tile that a cell of the grid is on, made if need be; and the cell's place in it. */
brant_status brant_labels_tile(brant_context *ctx, labels *l, int col, int row, tile **out);

static inline size_t brant_labels_cell(int col, int row)
{
    return (size_t)(row & PAGE_MASK) * PAGE + (size_t)(col & PAGE_MASK);
}

/* The label that a cell (of a tile, by its place) holds in a mode, NULL if none. */
static inline label *brant_labels_held(const labels *l, const tile *t, size_t cell, unsigned mode)
{
    uint32_t id = t->id[mode][cell];
    return id < l->base ? NULL : &l->label[(id - l->base) / 2];
}

static inline bool brant_labels_is_settled(const labels *l, const tile *t, size_t cell,
                                           unsigned mode)
{
    uint32_t id = t->id[mode][cell];
    return id >= l->base && ((id - l->base) & 1);
}

/* Put the label on its cell in place of the one held there, if any, and queue it by its
 * line and energy; that the cell releases is kept. The caller has seen that it is better
 * and not settled. */
brant_status brant_labels_put(brant_context *ctx, labels *l, tile *t, size_t cell, const label *put,
                        float line, float energy);
/* Mark a label as settled. */
void brant_labels_settle(tile *t, size_t cell, label *settled);

#endif
