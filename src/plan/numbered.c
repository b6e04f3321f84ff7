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

/* A run of cells of one number, in the order of rows. */
typedef struct run {
    uint32_t number, cells;
} run;

/* A worker's square. */
typedef struct sheet {
    uint32_t *cells;
    uint32_t *seen;      /* its numbers, some more than once */
    size_t count, capacity;
    run *runs;           /* all of its cells, if they are to be kept */
    size_t run_count, run_capacity;
} sheet;

typedef struct census {
    numbered *n;
    sheet *sheet;
} census;

static brant_status unpack(brant_context *ctx, const numbered *n, const packed *from,
                           uint32_t *cells)
{
    run *runs = brant_alloc(ctx, from->runs, sizeof *runs);
    brant_status status = runs ? brant_scratch_read(ctx, &n->scratch, runs,
                                                    from->runs * sizeof *runs, from->offset)
                               : BRANT_ERR_MEMORY;
    for (size_t i = 0; i < from->runs && status == BRANT_OK; i++)
        for (uint32_t k = 0; k < runs[i].cells; k++)
            *cells++ = runs[i].number;
    free(runs);
    return status;
}

static brant_status read_square(brant_context *ctx, const numbered *n, int square,
                                brant_window *window, uint32_t **cells)
{
    *window = brant_square_window(&n->squares, square, n->cols, n->rows);
    if (!*cells)
        *cells = brant_alloc(ctx, (size_t)BRANT_SQUARE * BRANT_SQUARE, sizeof **cells);
    if (!*cells)
        return BRANT_ERR_MEMORY;
    return n->settled ? unpack(ctx, n, &n->kept[square], *cells)
                      : brant_zone_file_read(n->file, ctx, window, *cells);
}

static brant_status pack(brant_context *ctx, size_t cells, sheet *s)
{
    brant_status status = BRANT_OK;
    s->run_count = 0;
    for (size_t i = 0; i < cells && status == BRANT_OK; i++) {
        if (i > 0 && s->cells[i] == s->cells[i - 1]) {
            s->runs[s->run_count - 1].cells++;
            continue;
        }
        status = brant_grow(ctx, &s->runs, &s->run_capacity, s->run_count + 1, sizeof *s->runs);
        if (status == BRANT_OK)
            s->runs[s->run_count++] = (run){s->cells[i], 1};
    }
    return status;
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
    if (status == BRANT_OK && brant_zone_file_is_drawn(c->n->file))
        status = pack(ctx, (size_t)w.cols * (size_t)w.rows, s);
    return status;
}

static brant_status take_numbers(brant_context *ctx, void *user, int worker, int64_t item)
{
    census *c = user;
    numbered *n = c->n;
    const sheet *s = &c->sheet[worker];
    brant_status status = BRANT_OK;
    for (size_t i = 0; i < s->count && status == BRANT_OK; i++)
        status = found_in(ctx, n, s->seen[i], (int)item);
    if (!brant_zone_file_is_drawn(n->file) || status != BRANT_OK)
        return status;
    n->kept[item] = (packed){n->end, s->run_count};
    n->end += s->run_count * sizeof *s->runs;
    return brant_scratch_write(ctx, &n->scratch, s->runs, s->run_count * sizeof *s->runs,
                               n->kept[item].offset);
}

/* Look at all squares. */
static brant_status take_census(brant_context *ctx, numbered *n)
{
    int64_t squares = (int64_t)n->squares.across * n->squares.down;
    int workers = ctx->threads < 1 ? 1 : ctx->threads;
    census c = {n, brant_alloc(ctx, (size_t)workers, sizeof *c.sheet)};
    n->kept = brant_alloc(ctx, (size_t)squares, sizeof *n->kept);
    brant_status status = BRANT_ERR_MEMORY;
    if (c.sheet && n->kept)
        status = brant_run(ctx, "zones", squares, list_numbers, take_numbers, &c);
    for (int i = 0; c.sheet && i < workers; i++) {
        free(c.sheet[i].cells);
        free(c.sheet[i].seen);
        free(c.sheet[i].runs);
    }
    free(c.sheet);
    return status;
}

brant_status brant_numbered_open(brant_context *ctx, brant_zone_file *file, const brant_dem *dem,
                                 const char *path, numbered *out)
{
    *out = (numbered){.file = file, .cols = dem->grid.cols, .rows = dem->grid.rows,
                      .scratch = {.path = path}};
    brant_status status = brant_squares_of(ctx, out->cols, out->rows, &out->squares);
    if (status == BRANT_OK)
        status = widen(ctx, out);
    if (status == BRANT_OK)
        status = take_census(ctx, out);
    if (status == BRANT_OK && brant_zone_file_is_drawn(file)) {
        brant_zone_file_drop_outlines(file);
        out->settled = true;
    }
    if (status != BRANT_OK)
        brant_numbered_clear(out);
    return status;
}

void brant_numbered_clear(numbered *n)
{
    brant_scratch_close(&n->scratch);
    free(n->number);
    free(n->square);
    free(n->kept);
    *n = (numbered){0};
}

/* ---- a square's cells ---------------------------------------------------- */

/* The zones of a square: by rising number those that are in no other square, then the others. */
typedef struct roll {
    uint64_t *zone;   /* number, and above it whether it is in many squares */
    size_t count, capacity;
    size_t *next;     /* where each zone's next cell goes */
} roll;

#define IN_MANY (UINT64_C(1) << 32)

static int by_value(const void *a, const void *b)
{
    uint64_t x = *(const uint64_t *)a, y = *(const uint64_t *)b;
    return (x > y) - (x < y);
}

static uint64_t zone_of(const numbered *n, uint32_t number)
{
    return number | (n->square[place_of(n, number)] == NUMBERED_MANY ? IN_MANY : 0);
}

/* Each zone once. */
static brant_status list_zones(brant_context *ctx, const numbered *n, const brant_window *w,
                               const uint32_t *numbers, roll *r)
{
    size_t cols = (size_t)w->cols, cells = cols * (size_t)w->rows, listed = 0;
    brant_status status = BRANT_OK;
    for (size_t i = 0; i < cells && status == BRANT_OK; i++) {
        if (numbers[i] == 0 || (i > 0 && numbers[i] == numbers[i - 1]) ||
            (i >= cols && numbers[i] == numbers[i - cols]))
            continue;
        status = brant_grow(ctx, &r->zone, &r->capacity, r->count + 1, sizeof *r->zone);
        if (status == BRANT_OK)
            r->zone[r->count++] = zone_of(n, numbers[i]);
    }
    if (status != BRANT_OK || r->count == 0)
        return status;
    qsort(r->zone, r->count, sizeof *r->zone, by_value);
    for (size_t i = 0; i < r->count; i++)
        if (listed == 0 || r->zone[i] != r->zone[listed - 1])
            r->zone[listed++] = r->zone[i];
    r->count = listed;
    return BRANT_OK;
}

static size_t *next_of(const roll *r, uint64_t zone)
{
    size_t low = 0, high = r->count; /* it is there */
    while (high - low > 1) {
        size_t middle = low + (high - low) / 2;
        if (r->zone[middle] <= zone)
            low = middle;
        else
            high = middle;
    }
    return &r->next[low];
}

/* Count each zone's cells (`cells` NULL), or put them where they go. */
static void deal(const numbered *n, const brant_window *w, const uint32_t *numbers, const roll *r,
                 numbered_cell *cells)
{
    size_t *next = NULL, count = (size_t)w->cols * (size_t)w->rows;
    for (size_t i = 0; i < count; i++) {
        if (numbers[i] == 0)
            continue;
        if (!next || numbers[i] != numbers[i - 1])
            next = next_of(r, zone_of(n, numbers[i]));
        if (cells)
            cells[*next] = (numbered_cell){numbers[i], w->col + (int)(i % (size_t)w->cols),
                                           w->row + (int)(i / (size_t)w->cols)};
        ++*next;
    }
}

/* Counts become places; the cells of zones in this square alone, and of all. */
static void find_places(roll *r, size_t *single, size_t *count)
{
    *single = *count = 0;
    for (size_t i = 0; i < r->count; i++) {
        size_t cells = r->next[i];
        r->next[i] = *count;
        *count += cells;
        *single = r->zone[i] & IN_MANY ? *single : *count;
    }
}

brant_status brant_numbered_cells(brant_context *ctx, const numbered *n, int square,
                                  numbered_cell **cells, size_t *single, size_t *count)
{
    brant_window w;
    uint32_t *numbers = NULL;
    roll r = {0};
    *cells = NULL;
    *single = *count = 0;
    brant_status status = read_square(ctx, n, square, &w, &numbers);
    if (status == BRANT_OK)
        status = list_zones(ctx, n, &w, numbers, &r);
    if (status == BRANT_OK && !(r.next = brant_alloc(ctx, r.count, sizeof *r.next)))
        status = BRANT_ERR_MEMORY;
    if (status == BRANT_OK) {
        deal(n, &w, numbers, &r, NULL);
        find_places(&r, single, count);
        *cells = brant_alloc(ctx, *count, sizeof **cells);
        status = *cells ? BRANT_OK : BRANT_ERR_MEMORY;
    }
    if (status == BRANT_OK)
        deal(n, &w, numbers, &r, *cells);
    free(numbers);
    free(r.zone);
    free(r.next);
    return status;
}

/* ---- cells of several squares -------------------------------------------- */

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
