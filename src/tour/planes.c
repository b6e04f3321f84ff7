/* A bit a cell. */
#include "planes.h"

#include <stdlib.h>
#include <string.h>

brant_status brant_plane_create(brant_context *ctx, const brant_window *window,
                                brant_plane *plane)
{
    *plane = (brant_plane){.window = *window, .words = brant_plane_words(window->cols)};
    plane->bits = brant_alloc(ctx, plane->words * (size_t)window->rows, sizeof *plane->bits);
    return plane->bits ? BRANT_OK : BRANT_ERR_MEMORY;
}

void brant_plane_clear(brant_plane *plane)
{
    free(plane->bits);
    *plane = (brant_plane){0};
}

/* The 64 cells from place `at` of a row on, which may lie before or beyond it. */
static uint64_t word_at(const uint64_t *row, size_t words, int64_t at)
{
    const int64_t word = at >= 0 ? at / 64 : -((63 - at) / 64); /* rounded down */
    const unsigned shift = (unsigned)(at - 64 * word);
    const uint64_t low = word >= 0 && (size_t)word < words ? row[word] : 0;
    const uint64_t high = word + 1 >= 0 && (size_t)(word + 1) < words ? row[word + 1] : 0;
    return shift ? low >> shift | high << (64 - shift) : low;
}

/* Bits of the last word that are cells. */
static uint64_t last_word(int cells)
{
    return cells % 64 ? (UINT64_C(1) << cells % 64) - 1 : ~UINT64_C(0);
}

void brant_plane_get(const brant_plane *plane, int col, int row, int cells, uint64_t *out)
{
    const size_t words = brant_plane_words(cells);
    const brant_window *w = &plane->window;
    if (row < w->row || row - w->row >= w->rows) {
        memset(out, 0, words * sizeof *out);
        return;
    }
    const uint64_t *from = brant_plane_row(plane, row);
    for (size_t i = 0; i < words; i++)
        out[i] = word_at(from, plane->words, (int64_t)col - w->col + 64 * (int64_t)i);
    out[words - 1] &= last_word(cells);
}

void brant_plane_add(const brant_plane *plane, int col, int row, int cells, const uint64_t *in)
{
    const size_t words = brant_plane_words(cells);
    const brant_window *w = &plane->window;
    if (row < w->row || row - w->row >= w->rows)
        return;
    uint64_t *to = brant_plane_row(plane, row);
    const uint64_t kept = plane->words > 0 ? last_word(w->cols) : 0;
    for (size_t i = 0; i < plane->words; i++) {
        uint64_t word = word_at(in, words, (int64_t)w->col - col + 64 * (int64_t)i);
        to[i] |= i + 1 < plane->words ? word : word & kept;
    }
}
