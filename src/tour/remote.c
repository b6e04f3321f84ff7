/* Remote triggering: a flood over ground that carries a fracture, 64 cells at once. A tour asks
 * it of every sample, with release ground all around. */
#include "remote.h"

#include <math.h>
#include <stdlib.h>
#include <string.h>

/* ---- the ground --------------------------------------------------------- */

static void fill_planes(const brant_ground_bits *bits, brant_remote *r)
{
    const brant_window *w = &bits->window;
    const uint8_t *is = bits->is;
    for (int row = w->row; row < w->row + w->rows; row++) {
        uint64_t *steep = brant_plane_row(&r->steep, row), *far = brant_plane_row(&r->far, row);
        uint64_t *near = brant_plane_row(&r->near, row);
        for (int i = 0; i < w->cols; i++, is++) {
            steep[i / 64] |= (uint64_t)((*is & BRANT_GROUND_STEEP) != 0) << i % 64;
            near[i / 64] |= (uint64_t)((*is & BRANT_GROUND_RELEASE) != 0) << i % 64;
            far[i / 64] |= (uint64_t)((*is & BRANT_GROUND_FAR) != 0) << i % 64;
        }
    }
}

brant_status brant_remote_create(brant_context *ctx, const brant_ground_bits *bits,
                                 brant_remote *remote)
{
    const double near_m = bits->meeting->options.remote_m;
    *remote = (brant_remote){.meeting = bits->meeting,
                             .far_m = bits->rated ? fmax(near_m, BRANT_REMOTE_FAR_M) : near_m};
    brant_status status = brant_plane_create(ctx, &bits->window, &remote->steep);
    if (status == BRANT_OK)
        status = brant_plane_create(ctx, &bits->window, &remote->far);
    if (status == BRANT_OK)
        status = brant_plane_create(ctx, &bits->window, &remote->near);
    if (status == BRANT_OK)
        fill_planes(bits, remote);
    return status;
}

void brant_remote_clear(brant_remote *remote)
{
    brant_plane_clear(&remote->steep);
    brant_plane_clear(&remote->far);
    brant_plane_clear(&remote->near);
    free(remote->found);
    free(remote->open);
    free(remote->reached);
    free(remote->targets);
    *remote = (brant_remote){0};
}

/* ---- what there is around a place --------------------------------------- */

static brant_status make_room(brant_context *ctx, brant_remote *r)
{
    uint64_t **const part[] = {&r->found, &r->open, &r->reached, &r->targets};
    const size_t words = r->words * ((size_t)r->around.rows + 2);
    brant_status status = BRANT_OK;
    for (int i = 0; i < 4 && status == BRANT_OK; i++)
        status = brant_grow(ctx, part[i], &r->capacity[i], words, sizeof **part[i]);
    if (status == BRANT_OK)
        memset(r->reached, 0, words * sizeof *r->reached);
    return status;
}

/* Clear all but `count` bits from `first` on. */
static void keep_span(uint64_t *words, size_t count_of_words, int first, int count)
{
    for (size_t i = 0; i < count_of_words; i++) {
        const int low = first - 64 * (int)i, high = first + count - 64 * (int)i;
        uint64_t kept = low >= 64 || high <= 0 ? 0 : ~UINT64_C(0);
        if (low > 0 && low < 64)
            kept &= ~UINT64_C(0) << low;
        if (high > 0 && high < 64)
            kept &= ~(~UINT64_C(0) << high);
        words[i] &= kept;
    }
}

/* Columns of a row of `around`. */
typedef struct span {
    int first, count;
} span;

static span span_of(const brant_remote *r, const brant_disc *disc, int row)
{
    span within = {0, 0};
    within.count = brant_disc_span(disc, row, &within.first);
    within.first -= r->around.col;
    return within;
}

/* The cells of a row of the plane that lie in the span. */
static void take_row(const brant_remote *r, const brant_plane *plane, int row, const span *within,
                     uint64_t *out)
{
    brant_plane_get(plane, r->around.col, row, r->around.cols, out);
    keep_span(out, r->words, within->first, within->count);
}

/* Ground to go over, and release ground that counts, connected or not: is there any? */
static bool take_ground(brant_remote *r, const brant_place *place)
{
    const brant_disc far_disc = brant_place_disc(place, r->far_m);
    const brant_disc near_disc = brant_place_disc(place, r->meeting->options.remote_m);
    uint64_t any = 0;
    for (int i = 0; i < r->around.rows; i++) {
        const size_t at = (size_t)i * r->words;
        const int row = r->around.row + i;
        const span far = span_of(r, &far_disc, row), near = span_of(r, &near_disc, row);
        uint64_t *targets = r->targets + at, *nearer = r->found + at; /* not in use yet */
        take_row(r, &r->steep, row, &far, r->open + at);
        take_row(r, &r->far, row, &far, targets);
        take_row(r, &r->near, row, &near, nearer);
        for (size_t k = 0; k < r->words; k++)
            any |= targets[k] |= nearer[k];
    }
    return any != 0;
}

/* ---- the flood ---------------------------------------------------------- */

/* A word of a row with those above and below it. */
static uint64_t stacked(const brant_remote *r, const uint64_t *row, size_t k)
{
    return row[k] | row[k + r->words] | *(row + k - r->words);
}

/* Of word `k` of row `i` the cells that are reached or beside such a cell. */
static uint64_t touched(const brant_remote *r, int i, size_t k)
{
    const uint64_t *row = r->reached + (size_t)(i + 1) * r->words;
    const uint64_t here = stacked(r, row, k);
    const uint64_t before = k > 0 ? stacked(r, row, k - 1) >> 63 : 0;
    const uint64_t after = k + 1 < r->words ? stacked(r, row, k + 1) << 63 : 0;
    return here | here << 1 | here >> 1 | before | after;
}

/* All open cells of a word that hang together with the given ones. */
static uint64_t along(uint64_t cells, uint64_t open)
{
    uint64_t up = cells, down = cells, way_up = open, way_down = open;
    for (int step = 1; step < 64; step *= 2) {
        up |= way_up & up << step;
        way_up &= way_up << step;
        down |= way_down & down >> step;
        way_down &= way_down >> step;
    }
    return up | down;
}

/* What row `i` takes over from those beside it and from itself. True if that is more. */
static bool flood_row(brant_remote *r, int i)
{
    uint64_t *reached = r->reached + (size_t)(i + 1) * r->words;
    const uint64_t *open = r->open + (size_t)i * r->words;
    bool more = false, again = true;
    while (again) {
        again = false;
        for (size_t k = 0; k < r->words; k++) {
            const uint64_t now = reached[k] | along(touched(r, i, k) & open[k], open[k]);
            again |= now != reached[k] && r->words > 1; /* it may go on in the words beside it */
            more |= now != reached[k];
            reached[k] = now;
        }
    }
    return more;
}

/* From the place's own cell, which may be gentle, down and up until no row has more. */
static void flood(brant_remote *r, const brant_place *place)
{
    const int rows = r->around.rows, start = place->row - r->around.row;
    const unsigned at = (unsigned)(place->col - r->around.col);
    r->reached[(size_t)(start + 1) * r->words + at / 64] |= UINT64_C(1) << at % 64;
    for (bool more = true; more;) {
        more = false;
        for (int i = 0; i < rows; i++)
            more |= flood_row(r, i);
        for (int i = rows - 1; more && i >= 0; i--)
            flood_row(r, i);
    }
}

/* Targets beside what was reached, but for the place's own cell. */
static bool find(brant_remote *r, const brant_place *place)
{
    const unsigned col = (unsigned)(place->col - r->around.col);
    const size_t own = (size_t)(place->row - r->around.row) * r->words + col / 64;
    uint64_t any = 0;
    r->targets[own] &= ~(UINT64_C(1) << col % 64);
    for (int i = 0; i < r->around.rows; i++)
        for (size_t k = 0; k < r->words; k++) {
            const size_t at = (size_t)i * r->words + k;
            any |= r->found[at] = touched(r, i, k) & r->targets[at];
        }
    return any != 0;
}

brant_status brant_remote_look(brant_context *ctx, brant_remote *r, const brant_place *place,
                               bool *any)
{
    *any = false;
    r->around = brant_place_around(place, r->far_m);
    r->words = brant_plane_words(r->around.cols);
    if (r->around.cols == 0)
        return BRANT_OK;
    brant_status status = make_room(ctx, r);
    if (status != BRANT_OK || !take_ground(r, place))
        return status;
    flood(r, place);
    *any = find(r, place);
    return BRANT_OK;
}

uint32_t brant_remote_nearest(const brant_remote *remote, const brant_place *place)
{
    const brant_window *around = &remote->around;
    double nearest = INFINITY;
    uint32_t number = 0;
    for (int i = 0; i < around->rows; i++)
        for (size_t k = 0; k < remote->words; k++)
            for (uint64_t left = remote->found[(size_t)i * remote->words + k]; left;
                 left &= left - 1) {
                const int col = around->col + 64 * (int)k + __builtin_ctzll(left);
                const double distance = brant_place_distance(place, col, around->row + i);
                if (distance > nearest)
                    continue;
                const uint32_t here =
                    brant_zone_set_at(remote->meeting->zones, col, around->row + i);
                if (here > 0 && (distance < nearest || here < number)) {
                    nearest = distance;
                    number = here;
                }
            }
    return number;
}
