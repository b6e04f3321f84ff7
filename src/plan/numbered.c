#include "numbered.h"

#include <stdlib.h>
#include <string.h>

/* ---- which zone is in which square --------------------------------------- */

static size_t place_of(const numbered *n, uint32_t number)
{
    size_t i = (number * UINT32_C(2654435761)) & (n->size - 1);
    while (n->number[i] && n->number[i] != number)
        i = (i + 1) & (n->size - 1);
    return i;
}

static brant_status widen(brant_context *ctx, numbered *n)
{
    uint32_t *number = n->number, *square = n->square; /* the narrow ones */
    size_t narrow = n->size;
    n->size = narrow ? 2 * narrow : 1024;
    n->number = brant_alloc(ctx, n->size, sizeof *n->number);
    n->square = brant_alloc(ctx, n->size, sizeof *n->square);
    bool enough = n->number && n->square;
    for (size_t i = 0; enough && i < narrow; i++)
        if (number[i]) {
            size_t to = place_of(n, number[i]);
            n->number[to] = number[i];
            n->square[to] = square[i];
        }
    free(number);
    free(square);
    if (!enough)
        brant_numbered_clear(n);
    return enough ? BRANT_OK : BRANT_ERR_MEMORY;
}

static brant_status found_in(brant_context *ctx, numbered *n, uint32_t number, int square)
{
    if (2 * (n->count + 1) > n->size && widen(ctx, n) != BRANT_OK)
        return BRANT_ERR_MEMORY;
    size_t at = place_of(n, number);
    uint32_t here = (uint32_t)square + 1;
    if (!n->number[at]) {
        n->number[at] = number;
        n->square[at] = here;
        n->count++;
    } else if (n->square[at] != here) {
        n->square[at] = NUMBERED_MANY;
    }
    return BRANT_OK;
}

/* A worker's square. */
typedef struct sheet {
    uint32_t *cells;
    uint32_t *seen;      /* its numbers, some more than once */
    size_t count, capacity;
} sheet;

typedef struct census {
    numbered *n;
    sheet *sheet;
} census;

static brant_status read_square(brant_context *ctx, const numbered *n, int square,
                                brant_window *window, uint32_t **cells)
{
    *window = brant_square_window(&n->squares, square, n->cols, n->rows);
    if (!*cells)
        *cells = brant_alloc(ctx, (size_t)BRANT_SQUARE * BRANT_SQUARE, sizeof **cells);
    return *cells ? brant_zone_file_read(n->file, ctx, window, *cells) : BRANT_ERR_MEMORY;
}

static brant_status list_numbers(brant_context *ctx, void *user, int worker, int64_t item)
{
    census *c = user;
    sheet *s = &c->sheet[worker];
    brant_window w;
    s->count = 0;
    brant_status status = read_square(ctx, c->n, (int)item, &w, &s->cells);
    for (int row = 0; row < w.rows && status == BRANT_OK; row++)
        for (int col = 0; col < w.cols && status == BRANT_OK; col++) {
            const uint32_t *at = s->cells + (size_t)row * (size_t)w.cols + (size_t)col;
            if (*at == 0 || (col > 0 && at[-1] == *at) || (row > 0 && at[-w.cols] == *at))
                continue;
            status = brant_grow(ctx, &s->seen, &s->capacity, s->count + 1, sizeof *s->seen);
            if (status == BRANT_OK)
                s->seen[s->count++] = *at;
        }
    return status;
}

static brant_status take_numbers(brant_context *ctx, void *user, int worker, int64_t item)
{
    census *c = user;
    const sheet *s = &c->sheet[worker];
    brant_status status = BRANT_OK;
    for (size_t i = 0; i < s->count && status == BRANT_OK; i++)
        status = found_in(ctx, c->n, s->seen[i], (int)item);
    return status;
}

brant_status brant_numbered_open(brant_context *ctx, brant_zone_file *file, const brant_dem *dem,
                                 numbered *out)
{
    int workers = ctx->threads < 1 ? 1 : ctx->threads;
    *out = (numbered){.file = file, .cols = dem->grid.cols, .rows = dem->grid.rows};
    census c = {out, NULL};
    brant_status status = brant_squares_of(ctx, out->cols, out->rows, &out->squares);
    if (status == BRANT_OK)
        status = widen(ctx, out);
    if (status == BRANT_OK) {
        c.sheet = brant_alloc(ctx, (size_t)workers, sizeof *c.sheet);
        status = c.sheet ? brant_run(ctx, "zones", (int64_t)out->squares.across * out->squares.down,
                                     list_numbers, take_numbers, &c)
                         : BRANT_ERR_MEMORY;
    }
    for (int i = 0; c.sheet && i < workers; i++) {
        free(c.sheet[i].cells);
        free(c.sheet[i].seen);
    }
    free(c.sheet);
    if (status != BRANT_OK)
        brant_numbered_clear(out);
    return status;
}

void brant_numbered_clear(numbered *n)
{
    free(n->number);
    free(n->square);
    n->number = n->square = NULL;
    n->count = n->size = 0;
}

/* ---- a square's cells ---------------------------------------------------- */

static int by_number_and_place(const void *a, const void *b)
{
    const numbered_cell *x = a, *y = b;
    if (x->number != y->number)
        return x->number < y->number ? -1 : 1;
    if (x->row != y->row)
        return x->row < y->row ? -1 : 1;
    return (x->col > y->col) - (x->col < y->col);
}

void brant_numbered_sort(numbered_cell *cells, size_t count)
{
    if (count > 1)
        qsort(cells, count, sizeof *cells, by_number_and_place);
}

static bool in_many(const numbered *n, uint32_t number)
{
    return n->square[place_of(n, number)] == NUMBERED_MANY;
}

brant_status brant_numbered_cells(brant_context *ctx, const numbered *n, int square,
                                  numbered_cell **cells, size_t *single, size_t *count)
{
    brant_window w;
    uint32_t *numbers = NULL, latest = 0;
    bool many = false;
    size_t total = 0, front = 0, back;
    *cells = NULL;
    *single = *count = 0;
    brant_status status = read_square(ctx, n, square, &w, &numbers);
    size_t of_square = status == BRANT_OK ? (size_t)w.cols * (size_t)w.rows : 0;
    for (size_t i = 0; i < of_square; i++)
        total += numbers[i] != 0;
    if (status == BRANT_OK && !(*cells = brant_alloc(ctx, total, sizeof **cells)))
        status = BRANT_ERR_MEMORY;
    back = total;
    for (size_t i = 0; i < of_square && status == BRANT_OK; i++) {
        if (numbers[i] == 0)
            continue;
        if (numbers[i] != latest)
            many = in_many(n, numbers[i]);
        latest = numbers[i];
        (*cells)[many ? --back : front++] =
            (numbered_cell){latest, w.col + (int)(i % (size_t)w.cols),
                            w.row + (int)(i / (size_t)w.cols)};
    }
    free(numbers);
    if (status != BRANT_OK)
        return status;
    brant_numbered_sort(*cells, front);
    brant_numbered_sort(*cells + front, total - front);
    *single = front;
    *count = total;
    return BRANT_OK;
}
