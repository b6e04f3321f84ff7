/* Zones over several squares. */
#include "set.h"

#include <stdlib.h>
#include <string.h>

brant_status brant_set_begin(brant_context *ctx, brant_zone_set *set, const brant_source *source,
                             const bool *wanted, int **indices, int *count)
{
    *set = (brant_zone_set){0};
    *indices = NULL;
    *count = 0;
    brant_status status = brant_squares_of(ctx, source->cols, source->rows, &set->squares);
    if (status != BRANT_OK)
        return status;
    const int squares = set->squares.across * set->squares.down;
    set->square = brant_alloc(ctx, (size_t)squares, sizeof *set->square);
    *indices = brant_alloc(ctx, (size_t)squares, sizeof **indices);
    if (!set->square || !*indices)
        return BRANT_ERR_MEMORY;
    for (int i = 0; i < squares; i++) {
        set->square[i].window = brant_square_window(&set->squares, i, source->cols, source->rows);
        if (wanted[i])
            (*indices)[(*count)++] = i;
    }
    return BRANT_OK;
}

/* ---- look-up ------------------------------------------------------------ */

const uint32_t *brant_zone_set_along(const brant_zone_set *set, int col, int row, int *n)
{
    if (col < 0 && *n > -col)
        *n = -col;
    if (col < 0 || row < 0 || col / BRANT_SQUARE >= set->squares.across ||
        row / BRANT_SQUARE >= set->squares.down)
        return NULL;
    const int border = (col / BRANT_SQUARE + 1) * BRANT_SQUARE;
    const brant_zone_square *square =
        &set->square[row / BRANT_SQUARE * set->squares.across + col / BRANT_SQUARE];
    const brant_window *w = &square->window;
    const bool on = brant_window_has(w, col, row); /* else over the grid's border */
    const int end = on ? w->col + w->cols : border;
    if (*n > end - col)
        *n = end - col;
    if (!square->number || !on)
        return NULL;
    return square->number + (size_t)(row - w->row) * (size_t)w->cols + (size_t)(col - w->col);
}

uint32_t brant_zone_set_at(const brant_zone_set *set, int col, int row)
{
    int n = 1;
    const uint32_t *number = brant_zone_set_along(set, col, row, &n);
    return number ? *number : 0;
}

brant_zone *brant_zone_set_find(const brant_zone_set *set, uint32_t number)
{
    size_t low = 0, high = set->count;
    while (low < high) {
        size_t middle = low + (high - low) / 2;
        if (set->zones[middle].number < number)
            low = middle + 1;
        else
            high = middle;
    }
    return low < set->count && set->zones[low].number == number ? &set->zones[low] : NULL;
}

void brant_zone_set_clear(brant_zone_set *set)
{
    for (int i = 0; set->square && i < set->squares.across * set->squares.down; i++)
        free(set->square[i].number); /* their zones lie in set->zones */
    free(set->square);
    free(set->zones);
    *set = (brant_zone_set){0};
}

double brant_zone_reach_angle(const brant_zone *zone, double run_deg)
{
    return zone->reach_angle_deg > 0.0 ? zone->reach_angle_deg : run_deg;
}

/* ---- from the ground ---------------------------------------------------- */

typedef struct build {
    brant_zone_set *set;
    brant_source *source;
    const brant_ground *ground;
    const brant_zone_options *options;
    const int *indices;
} build;

static brant_status build_square(brant_context *ctx, void *user, int worker, int64_t item)
{
    build *b = user;
    const int index = b->indices[item];
    (void)worker;
    return brant_zones_of_square(ctx, b->source, b->ground, &b->set->squares, index, b->options,
                                 &b->set->square[index]);
}

/* Move the squares' zones into one array, the squares then point into it. */
static brant_status gather_zones(brant_context *ctx, brant_zone_set *set, const int *indices,
                                 int count)
{
    size_t total = 0;
    for (int i = 0; i < count; i++)
        total += set->square[indices[i]].count;
    set->zones = brant_alloc(ctx, total, sizeof *set->zones);
    for (int i = 0; i < count; i++) {
        brant_zone_square *square = &set->square[indices[i]];
        brant_zone *moved = set->zones ? set->zones + set->count : NULL;
        if (moved && square->count > 0)
            memcpy(moved, square->zones, square->count * sizeof *moved);
        free(square->zones);
        square->zones = moved;
        set->count += set->zones ? square->count : 0;
    }
    return set->zones ? BRANT_OK : BRANT_ERR_MEMORY;
}

brant_status brant_zone_set_build(brant_context *ctx, brant_source *source,
                                  const brant_ground *ground, const bool *wanted,
                                  const brant_zone_options *options, brant_zone_set *set)
{
    int *indices, count;
    brant_status status = brant_set_begin(ctx, set, source, wanted, &indices, &count);
    if (status == BRANT_OK) {
        build b = {set, source, ground, options, indices};
        status = brant_run(ctx, "zones", count, build_square, NULL, &b);
        brant_status gathered = gather_zones(ctx, set, indices, count);
        status = status != BRANT_OK ? status : gathered;
    }
    if (status == BRANT_OK)
        status = brant_set_join_faces(ctx, set);
    if (status != BRANT_OK)
        brant_zone_set_clear(set);
    free(indices);
    return status;
}
