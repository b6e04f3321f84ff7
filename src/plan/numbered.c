#include "numbered.h"

#include <stdlib.h>
#include <string.h>

/* ---- which zones are in several squares ---------------------------------- */

static int by_number(const void *a, const void *b)
{
    uint32_t x = *(const uint32_t *)a, y = *(const uint32_t *)b;
    return (x > y) - (x < y);
}

/* Sort, and drop what is there already. */
static size_t each_once(uint32_t *number, size_t count)
{
    size_t kept = 0;
    if (count > 1)
        qsort(number, count, sizeof *number, by_number);
    for (size_t i = 0; i < count; i++)
        if (kept == 0 || number[i] != number[kept - 1])
            number[kept++] = number[i];
    return kept;
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
    uint32_t *seen;      /* its numbers, some more than once */
    size_t count, capacity;
    run *runs;           /* all of its cells, if they are to be kept */
    size_t run_count, run_capacity;
} sheet;

typedef struct census {
    numbered *n;
    sheet *sheet;
    uint32_t *number; /* each square's numbers, one square after the other */
    size_t count, capacity;
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
    s->count = each_once(s->seen, s->count);
    if (status == BRANT_OK && brant_zone_file_is_drawn(c->n->file))
        status = pack(ctx, (size_t)w.cols * (size_t)w.rows, s);
    return status;
}

static brant_status take_numbers(brant_context *ctx, void *user, int worker, int64_t item)
{
    census *c = user;
    numbered *n = c->n;
    const sheet *s = &c->sheet[worker];
    brant_status status = brant_grow(ctx, &c->number, &c->capacity, c->count + s->count,
                                     sizeof *c->number);
    for (size_t i = 0; i < s->count && status == BRANT_OK; i++)
        c->number[c->count++] = s->seen[i];
    if (!brant_zone_file_is_drawn(n->file) || status != BRANT_OK)
        return status;
    n->kept[item] = (packed){n->end, s->run_count};
    n->end += s->run_count * sizeof *s->runs;
    return brant_scratch_write(ctx, &n->scratch, s->runs, s->run_count * sizeof *s->runs,
                               n->kept[item].offset);
}

/* Numbers that stand there twice are in several squares. */
static brant_status find_many(brant_context *ctx, census *c)
{
    numbered *n = c->n;
    size_t capacity = 0;
    brant_status status = BRANT_OK;
    if (c->count > 1)
        qsort(c->number, c->count, sizeof *c->number, by_number);
    for (size_t i = 0; i < c->count && status == BRANT_OK; i++) {
        bool first = i == 0 || c->number[i] != c->number[i - 1];
        n->count += first;
        if (first && i + 1 < c->count && c->number[i] == c->number[i + 1]) {
            status = brant_grow(ctx, &n->many, &capacity, n->many_count + 1, sizeof *n->many);
            if (status == BRANT_OK)
                n->many[n->many_count++] = c->number[i];
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
        status = brant_run(ctx, "zones", squares, list_numbers, take_numbers, &c);
    if (status == BRANT_OK)
        status = find_many(ctx, &c);
    for (int i = 0; c.sheet && i < workers; i++) {
        free(c.sheet[i].cells);
        free(c.sheet[i].seen);
        free(c.sheet[i].runs);
    }
    free(c.sheet);
    free(c.number);
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
    return number | (in_many(n, number) ? IN_MANY : 0);
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
