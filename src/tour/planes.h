/* A bit a cell: sixty-four cells at once. */
#ifndef BRANT_TOUR_PLANES_H
#define BRANT_TOUR_PLANES_H

#include "brant/grid.h"

/* Cell (col, row) is bit (col - window.col) % 64 of its word; bits beyond the row's end are 0. */
typedef struct brant_plane {
    brant_window window;
    size_t words; /* a row */
    uint64_t *bits;
} brant_plane;

/* All 0. Pair with brant_plane_clear. */
brant_status brant_plane_create(brant_context *ctx, const brant_window *window,
                                brant_plane *plane);
void brant_plane_clear(brant_plane *plane);

/* How many words hold so many cells. */
static inline size_t brant_plane_words(int cells)
{
    return ((size_t)cells + 63) / 64;
}

static inline uint64_t *brant_plane_row(const brant_plane *plane, int row)
{
    return plane->bits + (size_t)(row - plane->window.row) * plane->words;
}

static inline void brant_plane_set(const brant_plane *plane, int col, int row)
{
    const unsigned at = (unsigned)(col - plane->window.col);
    brant_plane_row(plane, row)[at / 64] |= UINT64_C(1) << at % 64;
}

/* `cells` of a row from `col` on, into brant_plane_words(cells) words; 0 beyond the plane. */
void brant_plane_get(const brant_plane *plane, int col, int row, int cells, uint64_t *out);
/* Or them into the plane; what lies beyond it is left out. */
void brant_plane_add(const brant_plane *plane, int col, int row, int cells, const uint64_t *in);

#endif
