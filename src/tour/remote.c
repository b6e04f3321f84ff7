#include "remote.h"

#include <math.h>
#include <stdlib.h>
#include <string.h>

double brant_remote_far(const brant_ground_bits *bits)
{
    const double near_m = bits->meeting->options.remote_m;
    return bits->rated ? fmax(near_m, BRANT_REMOTE_FAR_M) : near_m;
}

static brant_status make_room(brant_remote *r, const brant_window *around)
{
    size_t across = (size_t)around->cols + 2, rows = (size_t)around->rows + 2;
    size_t cells = across * rows;
    brant_status status = brant_grow(r->ctx, &r->seen, &r->seen_capacity, cells, sizeof *r->seen);
    if (status == BRANT_OK)
        status = brant_grow(r->ctx, &r->queue, &r->queue_capacity, cells, sizeof *r->queue);
    if (status != BRANT_OK)
        return status;
    memset(r->seen, 1, cells);
    for (size_t row = 1; row + 1 < rows; row++)
        memset(r->seen + row * across + 1, 0, across - 2);
    return BRANT_OK;
}

/* May there be any remote release ground around? Most places are told by this. */
static bool may_be_remote(const brant_remote *r, const brant_place *place,
                          const brant_window *around)
{
    if (brant_ground_bits_within(r->bits, around) & BRANT_GROUND_FAR)
        return true;
    const brant_window near = brant_place_around(place, r->meeting->options.remote_m);
    return brant_ground_bits_within(r->bits, &near) & BRANT_GROUND_RELEASE;
}

static brant_status add_zone(brant_remote *r, uint32_t zone)
{
    for (size_t i = r->zone_count; i-- > 0;)
        if (r->zones[i] == zone)
            return BRANT_OK;
    brant_status status =
        brant_grow(r->ctx, &r->zones, &r->zone_capacity, r->zone_count + 1, sizeof *r->zones);
    if (status == BRANT_OK)
        r->zones[r->zone_count++] = zone;
    return status;
}

/* A neighbour of a connected cell: release ground is kept, what is steep joins the queue's
 * end. */
static brant_status look_at_neighbour(brant_remote *r, const brant_place *place, int col, int row,
                                      int cell, size_t *end)
{
    const unsigned is = brant_ground_bits_at(r->bits, col, row);
    if (!(is & (BRANT_GROUND_RELEASE | BRANT_GROUND_STEEP)) ||
        !brant_place_within(place, col, row, r->far_m))
        return BRANT_OK;
    if (is & BRANT_GROUND_STEEP)
        r->queue[(*end)++] = cell;
    if ((is & BRANT_GROUND_FAR) ||
        ((is & BRANT_GROUND_RELEASE) &&
         brant_place_within(place, col, row, r->meeting->options.remote_m)))
        return add_zone(r, brant_zone_set_at(r->meeting->zones, col, row));
    return BRANT_OK;
}

/* Breadth first over ground that is steep enough to carry a fracture, from the place's cell
 * on (which may be gentler) and no further than the distance. */
brant_status brant_remote_look(brant_remote *r, const brant_place *place, bool all)
{
    const brant_window around = brant_place_around(place, r->far_m);
    const int across = around.cols + 2;
    r->zone_count = 0;
    if (around.cols == 0 || !may_be_remote(r, place, &around))
        return BRANT_OK;
    brant_status status = make_room(r, &around);
    if (status)
        return status;
    size_t end = 0;
    const int start = (place->row - around.row + 1) * across + place->col - around.col + 1;
    r->seen[start] = 1;
    r->queue[end++] = start;
    for (size_t next = 0; next < end; next++) {
        const int at = r->queue[next];
        const int col = around.col + at % across - 1, row = around.row + at / across - 1;
        for (int i = 0; i < 9 && status == BRANT_OK; i++) {
            const int cell = at + (i / 3 - 1) * across + i % 3 - 1;
            if (r->seen[cell])
                continue;
            r->seen[cell] = 1;
            status = look_at_neighbour(r, place, col + i % 3 - 1, row + i / 3 - 1, cell, &end);
            if (!all && r->zone_count > 0)
                return status;
        }
    }
    return status;
}

void brant_remote_clear(brant_remote *r)
{
    free(r->seen);
    free(r->queue);
    free(r->zones);
    *r = (brant_remote){0};
}
