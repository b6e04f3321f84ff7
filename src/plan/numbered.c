#include "numbered.h"

#include <stdlib.h>
#include <string.h>

/* ---- which zones are in several squares ---------------------------------- */

static int by_number(const void *a, const void *b)
{
    uint32_t x = *(const uint32_t *)a, y = *(const uint32_t *)b;
    return (x > y) - (x < y);
}

typedef struct number_list {
    uint32_t *number;
    size_t count, capacity;
} number_list;

/* Sort, and drop what is there already. */
static void each_once(number_list *list)
{
    size_t kept = 0;
    if (list->count > 1)
        qsort(list->number, list->count, sizeof *list->number, by_number);
    for (size_t i = 0; i < list->count; i++)
        if (kept == 0 || list->number[i] != list->number[kept - 1])
            list->number[kept++] = list->number[i];
    list->count = kept;
}

/* The numbers of a window's cells, each once, by rising number; the caller frees them. */
static brant_status list_numbers(brant_context *ctx, const brant_window *w, const uint32_t *cells,
                                 number_list *list)
{
    brant_status status = BRANT_OK;
    list->count = 0;
    for (int row = 0; row < w->rows; row++)
        for (int col = 0; col < w->cols && status == BRANT_OK; col++) {
            const uint32_t *at = cells + (size_t)row * (size_t)w->cols + (size_t)col;
            if (*at == 0 || (col > 0 && at[-1] == *at) || (row > 0 && at[-w->cols] == *at))
                continue;
            status = brant_grow(ctx, &list->number, &list->capacity, list->count + 1,
                                sizeof *list->number);
            if (status == BRANT_OK)
                list->number[list->count++] = *at;
        }
    each_once(list);
    return status;
}

static bool in_many(const numbered *n, uint32_t number)
{
    return n->many_count > 0 &&
           bsearch(&number, n->many, n->many_count, sizeof *n->many, by_number) != NULL;
}

/* A run of cells of one number, in the order of rows. */
typedef struct run {
    uint32_t number, cells;
} run;

/* A worker's square. */
typedef struct sheet {
    uint32_t *cells;
    number_list seen;
    run *runs;           /* all of its cells, if they are to be kept */
    size_t run_count, run_capacity;
} sheet;

typedef struct census {
    numbered *n;
    sheet *sheet;
    number_list all; /* each square's, one square after the other */
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

static brant_status read_numbers(brant_context *ctx, void *user, int worker, int64_t item)
{
    census *c = user;
    sheet *s = &c->sheet[worker];
    brant_window w;
    brant_status status = read_square(ctx, c->n, (int)item, &w, &s->cells);
    if (status == BRANT_OK)
        status = list_numbers(ctx, &w, s->cells, &s->seen);
    if (status == BRANT_OK && brant_zone_file_is_drawn(c->n->file))
        status = pack(ctx, (size_t)w.cols * (size_t)w.rows, s);
    return status;
}

static brant_status take_numbers(brant_context *ctx, void *user, int worker, int64_t item)
{
    census *c = user;
    numbered *n = c->n;
    const sheet *s = &c->sheet[worker];
    number_list *all = &c->all;
    brant_status status = brant_grow(ctx, &all->number, &all->capacity,
                                     all->count + s->seen.count, sizeof *all->number);
    for (size_t i = 0; i < s->seen.count && status == BRANT_OK; i++)
        all->number[all->count++] = s->seen.number[i];
    if (!brant_zone_file_is_drawn(n->file) || status != BRANT_OK)
        return status;
    n->kept[item] = (packed){n->end, s->run_count};
    n->end += s->run_count * sizeof *s->runs;
    return brant_scratch_write(ctx, &n->scratch, s->runs, s->run_count * sizeof *s->runs,
                               n->kept[item].offset);
}

/* Numbers that stand there twice are in several squares. */
static brant_status find_many(brant_context *ctx, numbered *n, const number_list *all)
{
    const uint32_t *number = all->number;
    size_t capacity = 0;
    brant_status status = BRANT_OK;
    if (all->count > 1)
        qsort(all->number, all->count, sizeof *number, by_number);
    for (size_t i = 0; i < all->count && status == BRANT_OK; i++) {
        bool first = i == 0 || number[i] != number[i - 1];
        n->count += first;
        if (first && i + 1 < all->count && number[i] == number[i + 1]) {
            status = brant_grow(ctx, &n->many, &capacity, n->many_count + 1, sizeof *n->many);
            if (status == BRANT_OK)
                n->many[n->many_count++] = number[i];
        }
    }
    return status;
}

/* Look at all squares. */
static brant_status take_census(brant_context *ctx, numbered *n)
{
    int64_t squares = (int64_t)n->squares.across * n->squares.down;
    int workers = ctx->threads < 1 ? 1 : ctx->threads;
    census c = {.n = n, .sheet = brant_alloc(ctx, (size_t)workers, sizeof *c.sheet)};
    n->kept = brant_alloc(ctx, (size_t)squares, sizeof *n->kept);
    brant_status status = BRANT_ERR_MEMORY;
    if (c.sheet && n->kept)
        status = brant_run(ctx, "zones", squares, read_numbers, take_numbers, &c);
    if (status == BRANT_OK)
        status = find_many(ctx, n, &c.all);
    for (int i = 0; c.sheet && i < workers; i++) {
        free(c.sheet[i].cells);
        free(c.sheet[i].seen.number);
        free(c.sheet[i].runs);
    }
    free(c.sheet);
    free(c.all.number);
    return status;
}

brant_status brant_numbered_open(brant_context *ctx, brant_zone_file *file, const brant_dem *dem,
                                 const char *path, numbered *out)
{
    *out = (numbered){.file = file, .cols = dem->grid.cols, .rows = dem->grid.rows,
                      .scratch = {.path = path}};
    brant_status status = brant_squares_of(ctx, out->cols, out->rows, &out->squares);
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
    free(n->many);
    free(n->kept);
    *n = (numbered){0};
}

/* ---- a square's cells ---------------------------------------------------- */

/* Where the next cell of each of `numbers` goes. */
static size_t *next_of(size_t *next, const number_list *numbers, uint32_t number)
{
    size_t low = 0, high = numbers->count; /* it is there */
    while (high - low > 1) {
        size_t middle = low + (high - low) / 2;
        if (numbers->number[middle] <= number)
            low = middle;
        else
            high = middle;
    }
    return &next[low];
}

/* Count each zone's cells (`out` NULL), or put them where they go. */
static void deal(const brant_window *w, const uint32_t *cells, const number_list *numbers,
                 size_t *next, numbered_cell *out)
{
    size_t *at = NULL, count = (size_t)w->cols * (size_t)w->rows;
    for (size_t i = 0; i < count; i++) {
        if (cells[i] == 0)
            continue;
        if (!at || cells[i] != cells[i - 1])
            at = next_of(next, numbers, cells[i]);
        if (out)
            out[*at] = (numbered_cell){cells[i], w->col + (int)(i % (size_t)w->cols),
                                       w->row + (int)(i / (size_t)w->cols)};
        ++*at;
    }
}

/* Counts become places, of zones in this square alone first; what these hold, and all. */
static void find_places(const numbered *n, const number_list *numbers, size_t *next,
                        size_t *single, size_t *count)
{
    *count = 0;
    for (int many = 0; many < 2; many++) {
        for (size_t i = 0; i < numbers->count; i++)
            if (in_many(n, numbers->number[i]) == (many == 1)) {
                size_t cells = next[i];
                next[i] = *count;
                *count += cells;
            }
        if (!many)
            *single = *count;
    }
}

brant_status brant_numbered_cells(brant_context *ctx, const numbered *n, int square,
                                  numbered_cell **cells, size_t *single, size_t *count)
{
    brant_window w;
    uint32_t *numbers = NULL;
    number_list zones = {0};
    size_t *next = NULL;
    *cells = NULL;
    *single = *count = 0;
    brant_status status = read_square(ctx, n, square, &w, &numbers);
    if (status == BRANT_OK)
        status = list_numbers(ctx, &w, numbers, &zones);
    if (status == BRANT_OK && !(next = brant_alloc(ctx, zones.count, sizeof *next)))
        status = BRANT_ERR_MEMORY;
    if (status == BRANT_OK) {
        deal(&w, numbers, &zones, next, NULL);
        find_places(n, &zones, next, single, count);
        *cells = brant_alloc(ctx, *count, sizeof **cells);
        status = *cells ? BRANT_OK : BRANT_ERR_MEMORY;
    }
    if (status == BRANT_OK)
        deal(&w, numbers, &zones, next, *cells);
    free(numbers);
    free(zones.number);
    free(next);
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
