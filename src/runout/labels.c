#include "labels.h"

#include <stdlib.h>
#include <string.h>

void brant_labels_init(labels *l, brant_flow *flow)
{
    memset(l, 0, sizeof *l);
    l->flow = flow;
    l->spare = NO_LABEL;
    brant_queue_init(&l->queue, 0.0f);
}

void brant_labels_clear(labels *l)
{
    for (size_t i = 0; i < l->tile_have; i++)
        free(l->tile[i]);
    free(l->tile);
    free(l->hash);
    free(l->label);
    free(l->touched);
    brant_queue_clear(&l->queue);
}

size_t brant_labels_memory(const labels *l)
{
    return l->label_capacity * sizeof *l->label + l->touched_capacity * sizeof *l->touched +
           l->tile_capacity * sizeof *l->tile +
           l->tile_have * sizeof **l->tile + l->hash_size * sizeof *l->hash +
           brant_queue_memory(&l->queue);
}

void brant_labels_begin(labels *l)
{
    l->label_count = 0;
    l->spare = NO_LABEL;
    l->numbers = 0;
    brant_queue_begin(&l->queue);
}

void brant_labels_end(labels *l)
{
    for (size_t i = 0; i < l->touched_count; i++) {
        tile *t = l->tile[l->touched[i] / PAGE_CELLS];
        t->line[l->touched[i] % PAGE_CELLS] = -INFINITY;
        t->held[l->touched[i] % PAGE_CELLS] = (holding){0};
    }
    for (size_t i = 0; i < l->tile_count; i++)
        brant_flow_unpin(l->flow, l->tile[i]->pcol, l->tile[i]->prow);
    if (l->hash)
        memset(l->hash, 0, l->hash_size * sizeof *l->hash);
    l->touched_count = l->tile_count = 0;
    l->last = NULL;
}

/* ---- tiles -------------------------------------------------------------- */

static size_t hash_place(const labels *l, int pcol, int prow)
{
    uint32_t h = (uint32_t)pcol * 2654435761u ^ (uint32_t)prow * 2246822519u;
    h ^= h >> 15;
    return h & (l->hash_size - 1);
}

static void hash_insert(labels *l, size_t index)
{
    size_t at = hash_place(l, l->tile[index]->pcol, l->tile[index]->prow);
    while (l->hash[at])
        at = (at + 1) & (l->hash_size - 1);
    l->hash[at] = (uint32_t)index + 1;
}

/* Keep the table at most half full. */
static brant_status hash_reserve(brant_context *ctx, labels *l)
{
    if (2 * (l->tile_count + 1) <= l->hash_size)
        return BRANT_OK;
    size_t size = l->hash_size ? 2 * l->hash_size : 256;
    uint32_t *hash = brant_alloc(ctx, size, sizeof *hash);
    if (!hash)
        return BRANT_ERR_MEMORY;
    free(l->hash);
    l->hash = hash;
    l->hash_size = size;
    for (size_t i = 0; i < l->tile_count; i++)
        hash_insert(l, i);
    return BRANT_OK;
}

/* The next spare tile, made if there is none. */
static brant_status spare_tile(brant_context *ctx, labels *l, tile **out)
{
    if (l->tile_count == l->tile_have) {
        if (brant_grow(ctx, &l->tile, &l->tile_capacity, l->tile_have + 1, sizeof *l->tile) !=
            BRANT_OK)
            return BRANT_ERR_MEMORY;
        tile *made = brant_alloc(ctx, 1, sizeof *made);
        if (!made)
            return BRANT_ERR_MEMORY;
        for (size_t i = 0; i < PAGE_CELLS; i++)
            made->line[i] = -INFINITY;
        l->tile[l->tile_have++] = made;
    }
    *out = l->tile[l->tile_count];
    return BRANT_OK;
}

static brant_status add_tile(brant_context *ctx, labels *l, int pcol, int prow, tile **out)
{
    if (l->tile_count > UINT32_MAX / PAGE_CELLS)
        return brant_fail(ctx, BRANT_ERR_MEMORY, "a search over more than %zu squares of %d cells",
                          l->tile_count, PAGE);
    brant_status status = hash_reserve(ctx, l);
    if (status == BRANT_OK)
        status = spare_tile(ctx, l, out);
    if (status == BRANT_OK)
        status = brant_flow_pin(ctx, l->flow, pcol, prow, &(*out)->ground);
    if (status != BRANT_OK)
        return status;
    (*out)->pcol = pcol;
    (*out)->prow = prow;
    (*out)->index = (uint32_t)l->tile_count;
    hash_insert(l, l->tile_count++);
    return BRANT_OK;
}

static tile *find_tile(labels *l, int pcol, int prow)
{
    if (l->last && l->last->pcol == pcol && l->last->prow == prow)
        return l->last;
    if (!l->hash_size)
        return NULL;
    for (size_t at = hash_place(l, pcol, prow); l->hash[at]; at = (at + 1) & (l->hash_size - 1)) {
        tile *t = l->tile[l->hash[at] - 1];
        if (t->pcol == pcol && t->prow == prow)
            return t;
    }
    return NULL;
}

brant_status brant_labels_tile(brant_context *ctx, labels *l, int col, int row, tile **out)
{
    int pcol = col >> PAGE_SHIFT, prow = row >> PAGE_SHIFT;
    brant_status status = BRANT_OK;
    *out = find_tile(l, pcol, prow);
    if (!*out)
        status = add_tile(ctx, l, pcol, prow, out);
    if (status == BRANT_OK)
        l->last = *out;
    return status;
}

/* ---- labels ------------------------------------------------------------- */

/* As brant_grow, but each label on a line of its own: two lines a visit are dear. */
static brant_status grow_labels(brant_context *ctx, labels *l)
{
    size_t capacity = l->label_capacity ? l->label_capacity + l->label_capacity / 2 : 1024;
    label *grown = aligned_alloc(LABEL_BYTES, capacity * LABEL_BYTES);
    if (!grown)
        return brant_fail(ctx, BRANT_ERR_MEMORY, "not enough memory for %zu x %d bytes", capacity,
                          LABEL_BYTES);
    if (l->label_count)
        memcpy(grown, l->label, l->label_count * LABEL_BYTES);
    free(l->label);
    l->label = grown;
    l->label_capacity = capacity;
    return BRANT_OK;
}

/* A label for the cell: a spare one if there is one. */
static brant_status new_label(brant_context *ctx, labels *l, const tile *t, size_t place,
                              uint32_t *index)
{
    if (l->touched_count == l->touched_capacity &&
        brant_grow(ctx, &l->touched, &l->touched_capacity, l->touched_count + 1,
                   sizeof *l->touched) != BRANT_OK)
        return BRANT_ERR_MEMORY;
    if (l->spare != NO_LABEL) {
        *index = l->spare;
        l->spare = l->label[*index].cell;
    } else if (l->label_count == l->label_capacity && grow_labels(ctx, l) != BRANT_OK) {
        return BRANT_ERR_MEMORY;
    } else {
        *index = (uint32_t)l->label_count++;
    }
    l->touched[l->touched_count++] = t->index * PAGE_CELLS + (uint32_t)place;
    l->label[*index].number = l->numbers++;
    l->label[*index].releases = 0;
    return BRANT_OK;
}

brant_status brant_labels_claim(brant_context *ctx, labels *l, tile *t, size_t place,
                                unsigned mode, float line, float energy, label **claimed)
{
    uint32_t index = brant_labels_index(t, place, mode);
    if (index == NO_LABEL && new_label(ctx, l, t, place, &index) != BRANT_OK)
        return BRANT_ERR_MEMORY;
    __builtin_prefetch(&t->ground->east[place]);
    __builtin_prefetch(&t->ground->north[place]);
    label *made = &l->label[index];
    made->tile = t->index;
    made->cell = (uint32_t)place;
    made->mode = (uint8_t)mode;
    if (mode == LABEL_BEAM) {
        t->held[place].beam = index + 1;
    } else {
        t->line[place] = line;
        t->energy[place] = energy;
        t->held[place].free = index;
    }
    *claimed = made;
    return brant_queue_put(ctx, &l->queue, (entry){line, energy, made->number, index});
}
