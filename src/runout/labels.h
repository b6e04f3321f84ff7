/* A search's memory: the tiles it stands on, its labels and its queue. */
#ifndef BRANT_RUNOUT_LABELS_H
#define BRANT_RUNOUT_LABELS_H

#include "flow.h"
#include "queue.h"

#include <math.h>

typedef struct vec {
    float east, north; /* metres from the search's origin, or a unit vector */
} vec;

#define LABEL_BYTES 64

enum { LABEL_FREE, LABEL_BEAM, LABEL_MODES };

#define NO_LABEL UINT32_MAX

/* See search.c for what the parts mean. */
typedef struct label {
    vec at, anchor;      /* centre of the cell; where the straight run began */
    vec flow;            /* direction of flow that brought it here; 0, 0: none known */
    vec turn_from;       /* flow at the anchor */
    float start_m;       /* height of the energy line at the path's start */
    float anchor_run_m;  /* path up to the anchor */
    float run_m;         /* path up to the cell */
    float bottleneck;    /* tangent */
    uint32_t tile;       /* index in labels.tile */
    uint32_t cell;       /* place on the tile; of a spare label: the next spare one */
    uint32_t number;     /* counts a search's labels; NO_LABEL: a spare one */
    uint8_t mode;
    uint8_t releases;    /* the cell is one of the starts */
} label;

_Static_assert(sizeof(label) == LABEL_BYTES, "one line of the processor's cache");

#define SETTLED_BEAM UINT32_MAX

/* What a cell holds. */
typedef struct holding {
    uint32_t free;   /* the free label's index, if it is not settled */
    uint32_t beam;   /* the beam's index + 1; 0 none; SETTLED_BEAM */
    uint32_t result; /* index of the cell in the result + 1; 0 not in it */
} holding;

/* A page of ground under the search, with the labels on it. The rank of a cell's free label
 * lies apart from the label: most offers fail by it. */
typedef struct tile {
    int pcol, prow;
    uint32_t index; /* in labels.tile */
    const flow_page *ground;
    float line[PAGE_CELLS];    /* -INFINITY: no free label; INFINITY: it is settled */
    float energy[PAGE_CELLS];
    holding held[PAGE_CELLS];
} tile;

typedef struct labels {
    brant_flow *flow;
    /* Of labels that are not settled yet: a settled one's place is the next one's, so that
     * they stay in the processor's cache however far the search goes. */
    label *label;
    size_t label_count, label_capacity;
    uint32_t spare;   /* the first spare label, NO_LABEL if none */
    uint32_t numbers; /* given to labels so far */
    uint32_t *touched; /* cells with labels, to be cleared: tile x PAGE_CELLS + place */
    size_t touched_count, touched_capacity;
    queue queue;
    tile **tile; /* in use: tile_count, then spare ones without labels */
    size_t tile_count, tile_have, tile_capacity;
    uint32_t *hash; /* tile index + 1 by place; hash_size a power of two */
    size_t hash_size;
    tile *last;
} labels;

/* The queue's cap is the caller's to set. */
void brant_labels_init(labels *l, brant_flow *flow);
void brant_labels_clear(labels *l);
size_t brant_labels_memory(const labels *l); /* bytes allocated */
void brant_labels_begin(labels *l);
/* Take the labels off the tiles and give the pages back. */
void brant_labels_end(labels *l);

/* The tile that a cell of the grid is on, made if need be; and the cell's place in it. */
brant_status brant_labels_tile(brant_context *ctx, labels *l, int col, int row, tile **out);

static inline size_t brant_labels_cell(int col, int row)
{
    return (size_t)(row & PAGE_MASK) * PAGE + (size_t)(col & PAGE_MASK);
}

static inline int brant_tile_col(const tile *t, size_t place)
{
    return t->pcol * PAGE + (int)(place & PAGE_MASK);
}

static inline int brant_tile_row(const tile *t, size_t place)
{
    return t->prow * PAGE + (int)(place >> PAGE_SHIFT);
}

/* The index of the unsettled label that a cell (of a tile, by its place) holds in a mode,
 * NO_LABEL if none; the caller has seen that none is settled there. */
static inline uint32_t brant_labels_index(const tile *t, size_t place, unsigned mode)
{
    if (mode == LABEL_BEAM)
        return t->held[place].beam ? t->held[place].beam - 1 : NO_LABEL;
    return t->line[place] == -INFINITY ? NO_LABEL : t->held[place].free;
}

/* That label, NULL if none. */
static inline label *brant_labels_held(const labels *l, const tile *t, size_t place, unsigned mode)
{
    uint32_t index = brant_labels_index(t, place, mode);
    return index == NO_LABEL ? NULL : &l->label[index];
}

/* Make room for a label on its cell, in place of the one held there, if any, and queue it
 * by its line and energy. The caller has seen that it is better and not settled, and fills
 * in what it says of the path, from `at` to `bottleneck`; that the cell releases is kept. */
brant_status brant_labels_claim(brant_context *ctx, labels *l, tile *t, size_t place,
                                unsigned mode, float line, float energy, label **claimed);
/* A label that is settled, of which the caller has a copy, gives its place back. */
static inline void brant_labels_spare(labels *l, uint32_t index)
{
    l->label[index].number = NO_LABEL;
    l->label[index].cell = l->spare;
    l->spare = index;
}

/* Mark its cell. */
static inline void brant_labels_settle(tile *t, const label *settled)
{
    if (settled->mode == LABEL_FREE)
        t->line[settled->cell] = INFINITY;
    else
        t->held[settled->cell].beam = SETTLED_BEAM;
}

#endif
