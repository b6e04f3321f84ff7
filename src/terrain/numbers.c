/* Zones from numbers that a person or an earlier stage gave to cells. */
#include "horn.h"
#include "set.h"
#include "tally.h"

#include <stdlib.h>

/* A square's tallies, found by zone number through a table with open addresses. */
typedef struct ledger {
    brant_tally *tallies;
    size_t count, capacity;
    uint32_t *slots;       /* 1 + a place in tallies, 0 free */
    size_t slot_count;     /* a power of two, at most half full */
} ledger;

static void ledger_clear(ledger *l)
{
    free(l->tallies);
    free(l->slots);
    *l = (ledger){0};
}

static size_t slot_of(const ledger *l, uint32_t number)
{
    size_t i = (number * UINT32_C(2654435761)) & (l->slot_count - 1);
    while (l->slots[i] && l->tallies[l->slots[i] - 1].zone.number != number)
        i = (i + 1) & (l->slot_count - 1);
    return i;
}

static brant_status widen(brant_context *ctx, ledger *l)
{
    const size_t wanted = l->slot_count ? 2 * l->slot_count : 64;
    uint32_t *slots = brant_alloc(ctx, wanted, sizeof *slots);
    if (!slots)
        return BRANT_ERR_MEMORY;
    free(l->slots);
    l->slots = slots;
    l->slot_count = wanted;
    for (size_t i = 0; i < l->count; i++)
        l->slots[slot_of(l, l->tallies[i].zone.number)] = (uint32_t)i + 1;
    return BRANT_OK;
}

/* The tally of `number`, made if it is new; NULL when memory is short. Valid
 * until the next call. */
static brant_tally *tally_of(brant_context *ctx, ledger *l, uint32_t number)
{
    if (2 * (l->count + 1) > l->slot_count && widen(ctx, l) != BRANT_OK)
        return NULL;
    size_t slot = slot_of(l, number);
    if (l->slots[slot] == 0) {
        if (brant_grow(ctx, &l->tallies, &l->capacity, l->count + 1, sizeof *l->tallies) !=
            BRANT_OK)
            return NULL;
        l->tallies[l->count++] = brant_tally_start(number);
        l->slots[slot] = (uint32_t)l->count;
    }
    return &l->tallies[l->slots[slot] - 1];
}

/* ---- a square ----------------------------------------------------------- */

typedef struct census {
    brant_zone_set *set;
    brant_source *source;
    const brant_ground *ground;
    const bool *wanted;
    brant_numbers_read read;
    void *self;
    const int *indices;
    ledger *square;  /* by worker: the square in hand */
    ledger all;
} census;

/* Whether what lies at (col, row), beyond the square's line, cuts zone `number`:
 * another zone goes on there, or the same one in a square that is not read. */
static bool cuts(const census *n, uint32_t number, uint32_t beyond, int col, int row)
{
    int square = row / BRANT_SQUARE * n->set->squares.across + col / BRANT_SQUARE;
    return beyond != 0 && (beyond != number || !n->wanted[square]);
}

/* `numbers` covers `wide`, the square and what the grid has of one cell around. */
static bool is_cut(const census *n, const brant_window *square, const brant_window *wide,
                   const uint32_t *numbers, uint32_t number, int col, int row)
{
    if (col > square->col && row > square->row && col < square->col + square->cols - 1 &&
        row < square->row + square->rows - 1)
        return false;
    for (int r = row - 1; r <= row + 1; r++)
        for (int c = col - 1; c <= col + 1; c++)
            if (!brant_window_has(square, c, r) && brant_window_has(wide, c, r) &&
                cuts(n, number,
                     numbers[(size_t)(r - wide->row) * (size_t)wide->cols +
                             (size_t)(c - wide->col)],
                     c, r))
                return true;
    return false;
}

static brant_status count_cells(brant_context *ctx, const census *n, ledger *l,
                                const brant_square_ground *g, const brant_window *wide,
                                const uint32_t *numbers, uint32_t *kept)
{
    const brant_window *s = &g->square;
    double area[BRANT_SQUARE];
    for (int r = 0; r < s->rows; r++) {
        const uint32_t *from = numbers +
                               (size_t)(s->row + r - wide->row) * (size_t)wide->cols +
                               (size_t)(s->col - wide->col);
        brant_area_row(n->ground, s->col, s->row + r, s->cols, area);
        for (int c = 0; c < s->cols; c++) {
            kept[(size_t)r * (size_t)s->cols + (size_t)c] = from[c];
            if (from[c] == 0)
                continue;
            brant_tally *tally = tally_of(ctx, l, from[c]);
            if (!tally)
                return BRANT_ERR_MEMORY;
            brant_tally_cell(tally, g, c, r, area[c]);
            if (is_cut(n, s, wide, numbers, from[c], s->col + c, s->row + r))
                tally->zone.flags |= BRANT_ZONE_CUT;
        }
    }
    return BRANT_OK;
}

static brant_status count_square(brant_context *ctx, void *user, int worker, int64_t item)
{
    census *n = user;
    brant_zone_square *square = &n->set->square[n->indices[item]];
    const brant_window *s = &square->window;
    const brant_window wide = brant_window_clip(
        (brant_window){s->col - 1, s->row - 1, s->cols + 2, s->rows + 2}, n->source->cols,
        n->source->rows);
    brant_square_ground g = {0};
    brant_status status = BRANT_ERR_MEMORY;
    uint32_t *numbers =
        brant_alloc(ctx, (size_t)wide.cols * (size_t)wide.rows, sizeof *numbers);
    square->number = brant_alloc(ctx, (size_t)s->cols * (size_t)s->rows, sizeof *square->number);
    if (numbers && square->number)
        status = n->read(n->self, ctx, &wide, numbers);
    if (status == BRANT_OK)
        status = brant_square_ground_read(ctx, n->source, n->ground, s, 1, 1, &g);
    if (status == BRANT_OK)
        status = count_cells(ctx, n, &n->square[worker], &g, &wide, numbers, square->number);
    brant_square_ground_clear(&g);
    free(numbers);
    return status;
}

/* Put a square's tallies into the ledger of all; squares come in rising order. */
static brant_status add_square(brant_context *ctx, void *user, int worker, int64_t item)
{
    census *n = user;
    ledger *from = &n->square[worker];
    (void)item;
    for (size_t i = 0; i < from->count; i++) {
        brant_tally *tally = tally_of(ctx, &n->all, from->tallies[i].zone.number);
        if (!tally)
            return BRANT_ERR_MEMORY;
        if (tally->zone.cells == 0)
            *tally = from->tallies[i];
        else
            brant_tally_add(tally, &from->tallies[i]);
    }
    ledger_clear(from);
    return BRANT_OK;
}

static int by_number(const void *a, const void *b)
{
    uint32_t x = ((const brant_zone *)a)->number, y = ((const brant_zone *)b)->number;
    return (x > y) - (x < y);
}

static brant_status close_ledger(brant_context *ctx, const ledger *all,
                                 const brant_zone_options *options, brant_zone_set *set)
{
    set->zones = brant_alloc(ctx, all->count, sizeof *set->zones);
    if (!set->zones)
        return BRANT_ERR_MEMORY;
    set->count = all->count;
    for (size_t i = 0; i < all->count; i++)
        set->zones[i] = brant_tally_zone(&all->tallies[i], options);
    qsort(set->zones, set->count, sizeof *set->zones, by_number);
    return BRANT_OK;
}

brant_status brant_zone_set_from_numbers(brant_context *ctx, brant_source *source,
                                         const brant_ground *ground, const bool *wanted,
                                         const brant_zone_options *options,
                                         brant_numbers_read read, void *self,
                                         brant_zone_set *set)
{
    int *indices, count;
    const size_t threads = ctx->threads < 1 ? 1 : (size_t)ctx->threads;
    census n = {.set = set, .source = source, .ground = ground, .wanted = wanted, .read = read,
                .self = self};
    brant_status status = brant_set_begin(ctx, set, source, wanted, &indices, &count);
    n.indices = indices;
    n.square = brant_alloc(ctx, threads, sizeof *n.square);
    if (status == BRANT_OK)
        status = n.square ? brant_run(ctx, "zones", count, count_square, add_square, &n)
                          : BRANT_ERR_MEMORY;
    if (status == BRANT_OK)
        status = close_ledger(ctx, &n.all, options, set);
    if (status == BRANT_OK)
        status = brant_set_join_faces(ctx, set);
    if (status != BRANT_OK)
        brant_zone_set_clear(set);
    for (size_t i = 0; n.square && i < threads; i++)
        ledger_clear(&n.square[i]);
    ledger_clear(&n.all);
    free(n.square);
    free(indices);
    return status;
}
