#include "spill.h"

#include "scratch.h"

#include <stdlib.h>
#include <string.h>

#define TILE BRANT_BLOCK
#define TILE_CELLS ((size_t)TILE * TILE)
/* The arrays of a shadow. */
#define CELL_BYTES (2 * sizeof(float) + sizeof(uint32_t) + sizeof(uint16_t) + sizeof(uint8_t))
#define TILE_BYTES (TILE_CELLS * CELL_BYTES)

/* A tile in memory. */
typedef struct slot {
    brant_shadow shadow;
    size_t tile;   /* its place on the grid */
    int pins;
    uint64_t used; /* clock of its last pin */
} slot;

struct spill {
    double reach_angle_deg;
    int across;          /* tiles */
    size_t limit;        /* tiles in memory */
    slot **at;           /* by place: in memory, or NULL */
    bool *in_file;       /* by place: the file holds it (as it was when it last left memory) */
    slot **slots;        /* those in memory */
    size_t count, capacity;
    uint64_t clock;
    char *path;
    scratch file;
    pthread_mutex_t lock;
};

/* ---- to the file and back ------------------------------------------------ */

typedef struct part {
    void *data;
    size_t size;
} part;

#define PARTS 5

static void parts_of(const brant_shadow *s, part *parts)
{
    parts[0] = (part){s->reached_at, TILE_CELLS * sizeof *s->reached_at};
    parts[1] = (part){s->head, TILE_CELLS * sizeof *s->head};
    parts[2] = (part){s->zone, TILE_CELLS * sizeof *s->zone};
    parts[3] = (part){s->zones_above, TILE_CELLS * sizeof *s->zones_above};
    parts[4] = (part){s->unknown_above, TILE_CELLS * sizeof *s->unknown_above};
}

/* All of a tile's arrays, one way or the other. */
static brant_status transfer(brant_context *ctx, spill *s, const slot *held, bool out)
{
    part parts[PARTS];
    uint64_t offset = held->tile * TILE_BYTES;
    brant_status status = BRANT_OK;
    parts_of(&held->shadow, parts);
    for (int i = 0; i < PARTS && status == BRANT_OK; i++) {
        status = out ? brant_scratch_write(ctx, &s->file, parts[i].data, parts[i].size, offset)
                     : brant_scratch_read(ctx, &s->file, parts[i].data, parts[i].size, offset);
        offset += parts[i].size;
    }
    return status;
}

/* ---- tiles --------------------------------------------------------------- */

/* The tile in memory that nobody holds and that was used longest ago; NULL if all are
 * held. */
static slot *oldest(const spill *s)
{
    slot *found = NULL;
    for (size_t i = 0; i < s->count; i++)
        if (s->slots[i]->pins == 0 && (!found || s->slots[i]->used < found->used))
            found = s->slots[i];
    return found;
}

static void blank(const slot *held)
{
    part parts[PARTS];
    parts_of(&held->shadow, parts);
    for (int i = 0; i < PARTS; i++)
        memset(parts[i].data, 0, parts[i].size);
}

/* A slot for another tile, its arrays as they may be: an old one put away, or a new one. */
static brant_status free_slot(brant_context *ctx, spill *s, slot **out)
{
    static const brant_window any = {0, 0, TILE, TILE};
    slot *held = s->count >= s->limit ? oldest(s) : NULL;
    brant_status status = BRANT_OK;
    *out = NULL;
    if (held) {
        status = transfer(ctx, s, held, true);
        if (status != BRANT_OK)
            return status;
        s->in_file[held->tile] = true;
        s->at[held->tile] = NULL;
        *out = held;
        return BRANT_OK;
    }
    status = brant_grow(ctx, &s->slots, &s->capacity, s->count + 1, sizeof *s->slots);
    held = status == BRANT_OK ? brant_alloc(ctx, 1, sizeof *held) : NULL;
    if (!held)
        return BRANT_ERR_MEMORY;
    status = brant_shadow_create(ctx, &any, s->reach_angle_deg, &held->shadow);
    if (status != BRANT_OK) {
        free(held);
        return status;
    }
    s->slots[s->count++] = held;
    *out = held;
    return BRANT_OK;
}

/* A slot whose tile could not be had holds none: it is taken next. */
static void let_go(spill *s, slot *held)
{
    for (size_t i = 0; i < s->count; i++)
        if (s->slots[i] == held)
            s->slots[i] = s->slots[--s->count];
    brant_shadow_clear(&held->shadow);
    free(held);
}

static brant_status pin(brant_context *ctx, spill *s, size_t tile, slot **out)
{
    brant_status status = BRANT_OK;
    pthread_mutex_lock(&s->lock);
    *out = s->at[tile];
    if (!*out) {
        status = free_slot(ctx, s, out);
        if (status == BRANT_OK) {
            (*out)->tile = tile;
            (*out)->shadow.window = (brant_window){(int)(tile % (size_t)s->across) * TILE,
                                                   (int)(tile / (size_t)s->across) * TILE, TILE,
                                                   TILE};
            if (s->in_file[tile])
                status = transfer(ctx, s, *out, false);
            else
                blank(*out);
            if (status == BRANT_OK)
                s->at[tile] = *out;
            else
                let_go(s, *out);
        }
    }
    if (status == BRANT_OK) {
        (*out)->pins++;
        (*out)->used = ++s->clock;
    }
    pthread_mutex_unlock(&s->lock);
    return status;
}

static void unpin(spill *s, slot *held)
{
    pthread_mutex_lock(&s->lock);
    held->pins--;
    pthread_mutex_unlock(&s->lock);
}

/* ---- a search's cells, tile by tile -------------------------------------- */

/* A result's cells sorted by tile. */
typedef struct sorted {
    brant_window tiles;   /* in tiles */
    size_t *end;          /* of each tile's cells */
    brant_reached *cells;
} sorted;

static size_t place_of(const sorted *o, const brant_reached *cell)
{
    return (size_t)(cell->row / TILE - o->tiles.row) * (size_t)o->tiles.cols +
           (size_t)(cell->col / TILE - o->tiles.col);
}

static brant_window tiles_of(const brant_reach_result *result)
{
    int west = INT32_MAX, east = 0, north = INT32_MAX, south = 0;
    for (size_t i = 0; i < result->count; i++) {
        int col = result->cells[i].col / TILE, row = result->cells[i].row / TILE;
        west = col < west ? col : west;
        east = col > east ? col : east;
        north = row < north ? row : north;
        south = row > south ? row : south;
    }
    return (brant_window){west, north, east - west + 1, south - north + 1};
}

static brant_status sort_cells(brant_context *ctx, const brant_reach_result *result, sorted *o)
{
    o->tiles = tiles_of(result);
    size_t places = (size_t)o->tiles.cols * (size_t)o->tiles.rows, sum = 0;
    o->end = brant_alloc(ctx, places, sizeof *o->end);
    o->cells = brant_alloc(ctx, result->count, sizeof *o->cells);
    if (!o->end || !o->cells)
        return BRANT_ERR_MEMORY;
    for (size_t i = 0; i < result->count; i++)
        o->end[place_of(o, &result->cells[i])]++;
    for (size_t i = 0; i < places; i++) {
        size_t count = o->end[i];
        o->end[i] = sum;
        sum += count;
    }
    for (size_t i = 0; i < result->count; i++)
        o->cells[o->end[place_of(o, &result->cells[i])]++] = result->cells[i];
    return BRANT_OK;
}

static brant_status add_tile(brant_context *ctx, spill *s, size_t tile, uint32_t zone,
                             double reach_angle_deg, const brant_reach_result *cells)
{
    slot *held;
    brant_status status = pin(ctx, s, tile, &held);
    if (status != BRANT_OK)
        return status;
    if (zone)
        brant_shadow_add_at(&held->shadow, zone, reach_angle_deg, cells);
    else
        brant_shadow_add_unknown_at(&held->shadow, reach_angle_deg, cells);
    unpin(s, held);
    return BRANT_OK;
}

brant_status brant_spill_add(brant_context *ctx, spill *s, uint32_t zone, double reach_angle_deg,
                             const brant_reach_result *result)
{
    sorted o = {0};
    if (result->count == 0)
        return BRANT_OK;
    brant_status status = sort_cells(ctx, result, &o);
    size_t places = (size_t)o.tiles.cols * (size_t)o.tiles.rows, from = 0;
    for (size_t i = 0; i < places && status == BRANT_OK; from = o.end[i++]) {
        brant_reach_result some = {.cells = o.cells + from, .count = o.end[i] - from};
        size_t row = (size_t)o.tiles.row + i / (size_t)o.tiles.cols;
        size_t col = (size_t)o.tiles.col + i % (size_t)o.tiles.cols;
        if (some.count > 0)
            status = add_tile(ctx, s, row * (size_t)s->across + col, zone, reach_angle_deg, &some);
    }
    free(o.end);
    free(o.cells);
    return status;
}

/* ---- reading ------------------------------------------------------------- */

/* Copy what tile and piece have in common; nothing was added to a tile that is nowhere. */
static void copy_tile(const brant_shadow *tile, brant_shadow *to)
{
    const brant_window *a = &tile->window, *b = &to->window, both = brant_window_common(a, b);
    size_t count = (size_t)both.cols;
    for (int row = both.row; row < both.row + both.rows; row++) {
        size_t i = (size_t)(row - a->row) * (size_t)a->cols + (size_t)(both.col - a->col);
        size_t j = (size_t)(row - b->row) * (size_t)b->cols + (size_t)(both.col - b->col);
        memcpy(to->reached_at + j, tile->reached_at + i, count * sizeof *to->reached_at);
        memcpy(to->head + j, tile->head + i, count * sizeof *to->head);
        memcpy(to->zone + j, tile->zone + i, count * sizeof *to->zone);
        memcpy(to->zones_above + j, tile->zones_above + i, count * sizeof *to->zones_above);
        memcpy(to->unknown_above + j, tile->unknown_above + i, count * sizeof *to->unknown_above);
    }
}

static void blank_piece(brant_shadow *shadow)
{
    size_t cells = (size_t)shadow->window.cols * (size_t)shadow->window.rows;
    memset(shadow->reached_at, 0, cells * sizeof *shadow->reached_at);
    memset(shadow->head, 0, cells * sizeof *shadow->head);
    memset(shadow->zone, 0, cells * sizeof *shadow->zone);
    memset(shadow->zones_above, 0, cells * sizeof *shadow->zones_above);
    memset(shadow->unknown_above, 0, cells * sizeof *shadow->unknown_above);
}

brant_status brant_spill_read(brant_context *ctx, spill *s, const brant_window *piece,
                              brant_shadow *shadow)
{
    brant_status status = BRANT_OK;
    shadow->window = *piece;
    blank_piece(shadow);
    for (int row = piece->row / TILE; row <= (piece->row + piece->rows - 1) / TILE; row++)
        for (int col = piece->col / TILE; col <= (piece->col + piece->cols - 1) / TILE; col++) {
            size_t tile = (size_t)row * (size_t)s->across + (size_t)col;
            slot *held;
            if (!s->at[tile] && !s->in_file[tile])
                continue;
            status = pin(ctx, s, tile, &held);
            if (status != BRANT_OK)
                return status;
            copy_tile(&held->shadow, shadow);
            unpin(s, held);
        }
    return status;
}

/* ---- the whole ----------------------------------------------------------- */

brant_status brant_spill_create(brant_context *ctx, const brant_grid *grid,
                                double reach_angle_deg, size_t budget_bytes, const char *path,
                                spill **out)
{
    spill *s = brant_alloc(ctx, 1, sizeof *s);
    *out = s;
    if (!s)
        return BRANT_ERR_MEMORY;
    pthread_mutex_init(&s->lock, NULL);
    s->reach_angle_deg = reach_angle_deg;
    s->across = (grid->cols + TILE - 1) / TILE;
    s->limit = budget_bytes / TILE_BYTES;
    size_t tiles = (size_t)s->across * (size_t)((grid->rows + TILE - 1) / TILE);
    s->at = brant_alloc(ctx, tiles, sizeof *s->at);
    s->in_file = brant_alloc(ctx, tiles, sizeof *s->in_file);
    s->file.path = s->path = brant_strdup(ctx, path);
    if (s->at && s->in_file && s->path)
        return BRANT_OK;
    brant_spill_destroy(s);
    *out = NULL;
    return BRANT_ERR_MEMORY;
}

void brant_spill_destroy(spill *s)
{
    if (!s)
        return;
    for (size_t i = 0; i < s->count; i++) {
        brant_shadow_clear(&s->slots[i]->shadow);
        free(s->slots[i]);
    }
    brant_scratch_close(&s->file);
    pthread_mutex_destroy(&s->lock);
    free(s->slots);
    free(s->at);
    free(s->in_file);
    free(s->path);
    free(s);
}
