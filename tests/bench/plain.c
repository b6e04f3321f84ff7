#include "plain.h"

#include "../../src/runout/flow.h"

#include <math.h>
#include <stdlib.h>
#include <string.h>

#define RADIANS (M_PI / 180.0)
#define RANK_DEG 25.0
#define TURN_DEG 10.0
#define BEND_DEG 30.0
#define TOLERANCE_M 1.0f

typedef struct vec {
    float east, north;
} vec;

enum { FREE, BEAM, MODES };

typedef struct label {
    int col, row;
    vec at, anchor, flow, turn_from;
    float start_m, anchor_run_m, run_m;
    float bottleneck, reached;
    uint32_t result; /* index in the result + 1 */
    uint8_t mode;
    bool releases, settled;
    uint64_t priority;
} label;

typedef struct tile {
    int pcol, prow;
    const flow_page *ground;
    uint32_t id[MODES][PAGE_CELLS]; /* label's index + base; below base: of an earlier search */
} tile;

typedef struct entry {
    uint64_t priority;
    uint32_t index;
} entry;

typedef struct cone {
    float cosine, sine;
} cone;

struct plain_search {
    brant_flow *flow;
    brant_reach_options options;
    float tan_floor, tan_reach, tan_rank, cos_turn, cos_bend;
    cone spread;
    int cols, rows;
    brant_matrix m;
    double col0, row0;
    float half_cell;
    bool truncated;
    label *labels;
    size_t label_count, label_capacity;
    entry *heap;
    size_t heap_count, heap_capacity;
    uint32_t base;
    tile **tiles; /* in use: tile_count, then spare ones; looked through one by one */
    size_t tile_count, tile_have, tile_capacity;
    tile *last;
    brant_reached *cells;
    size_t cell_count, cell_capacity;
};

static const cone straight = {1.0f, 0.0f};

static vec position(const plain_search *s, int col, int row)
{
    double dc = col + 0.5 - s->col0, dr = row + 0.5 - s->row0;
    return (vec){(float)(s->m.col_east * dc + s->m.row_east * dr),
                 (float)(s->m.col_north * dc + s->m.row_north * dr)};
}

static float dot(vec a, vec b)
{
    return a.east * b.east + a.north * b.north;
}

static float cross(vec a, vec b)
{
    return a.east * b.north - a.north * b.east;
}

/* Is the offset `v` in the cone of half-angle `spread` about `axis`, widened by half
 * a cell? Where no direction is known (axis 0, 0), every direction is in it. */
static bool in_cone(const plain_search *s, vec v, vec axis, cone to_side)
{
    float along = dot(v, axis), off = fabsf(cross(v, axis));
    if (axis.east == 0.0f && axis.north == 0.0f)
        return true;
    return along > 0.0f && off * to_side.cosine - along * to_side.sine <= s->half_cell;
}

/* ---- tiles and labels ---------------------------------------------------- */

static tile *find_tile(plain_search *s, int pcol, int prow)
{
    if (s->last && s->last->pcol == pcol && s->last->prow == prow)
        return s->last;
    for (size_t i = 0; i < s->tile_count; i++)
        if (s->tiles[i]->pcol == pcol && s->tiles[i]->prow == prow)
            return s->tiles[i];
    return NULL;
}

static brant_status add_tile(brant_context *ctx, plain_search *s, int pcol, int prow, tile **out)
{
    if (s->tile_count == s->tile_have) {
        brant_status status = brant_grow(ctx, &s->tiles, &s->tile_capacity, s->tile_have + 1,
                                         sizeof *s->tiles);
        tile *made = status == BRANT_OK ? brant_alloc(ctx, 1, sizeof *made) : NULL;
        if (!made)
            return BRANT_ERR_MEMORY;
        s->tiles[s->tile_have++] = made;
    }
    *out = s->tiles[s->tile_count];
    (*out)->pcol = pcol;
    (*out)->prow = prow;
    brant_status status = brant_flow_pin(ctx, s->flow, pcol, prow, &(*out)->ground);
    if (status == BRANT_OK)
        s->tile_count++;
    return status;
}

static brant_status tile_of(brant_context *ctx, plain_search *s, int col, int row, tile **out)
{
    int pcol = col >> PAGE_SHIFT, prow = row >> PAGE_SHIFT;
    *out = find_tile(s, pcol, prow);
    brant_status status = *out ? BRANT_OK : add_tile(ctx, s, pcol, prow, out);
    if (status == BRANT_OK)
        s->last = *out;
    return status;
}

static size_t cell_of(int col, int row)
{
    return (size_t)(row & PAGE_MASK) * PAGE + (size_t)(col & PAGE_MASK);
}

typedef struct ground_cell {
    float elevation;
    vec fall; /* 0, 0: gentle or unknown */
} ground_cell;

static brant_status ground_at(brant_context *ctx, plain_search *s, int col, int row,
                              ground_cell *out)
{
    tile *t;
    brant_status status = tile_of(ctx, s, col, row, &t);
    if (status != BRANT_OK)
        return status;
    size_t at = cell_of(col, row);
    *out = (ground_cell){t->ground->elevation[at], {t->ground->east[at], t->ground->north[at]}};
    return BRANT_OK;
}

/* ---- queue: one heap ------------------------------------------------------ */

/* Bits of a float, reordered so that unsigned comparison is comparison. */
static uint32_t ordered(float value)
{
    uint32_t bits;
    memcpy(&bits, &value, sizeof bits);
    return bits & 0x80000000u ? ~bits : bits | 0x80000000u;
}

/* The line, up to RANK_DEG, then the height of the energy line at RANK_DEG. */
static uint64_t priority_of(const plain_search *s, const label *l)
{
    float line = l->bottleneck < s->tan_rank ? l->bottleneck : s->tan_rank;
    return (uint64_t)ordered(line) << 32 | ordered(l->start_m - s->tan_rank * l->run_m);
}

static bool before(entry a, entry b)
{
    return a.priority > b.priority || (a.priority == b.priority && a.index < b.index);
}

static brant_status push(brant_context *ctx, plain_search *s, entry e)
{
    brant_status status = brant_grow(ctx, &s->heap, &s->heap_capacity, s->heap_count + 1,
                                     sizeof *s->heap);
    if (status != BRANT_OK)
        return status;
    size_t i = s->heap_count++;
    while (i > 0 && before(e, s->heap[(i - 1) / 2])) {
        s->heap[i] = s->heap[(i - 1) / 2];
        i = (i - 1) / 2;
    }
    s->heap[i] = e;
    return BRANT_OK;
}

static entry pop(plain_search *s)
{
    entry top = s->heap[0], e = s->heap[--s->heap_count];
    size_t i = 0;
    for (;;) {
        size_t best = 2 * i + 1;
        if (best >= s->heap_count)
            break;
        if (best + 1 < s->heap_count && before(s->heap[best + 1], s->heap[best]))
            best++;
        if (!before(s->heap[best], e))
            break;
        s->heap[i] = s->heap[best];
        i = best;
    }
    s->heap[i] = e;
    return top;
}

/* Keep the label if its cell has none of its mode or a lesser, unsettled one; that the
 * cell releases is kept. */
static brant_status keep(brant_context *ctx, plain_search *s, const label *offered)
{
    tile *t;
    brant_status status = tile_of(ctx, s, offered->col, offered->row, &t);
    if (status != BRANT_OK)
        return status;
    uint32_t *id = &t->id[offered->mode][cell_of(offered->col, offered->row)];
    uint64_t priority = priority_of(s, offered);
    bool releases = offered->releases;
    if (*id < s->base) {
        status = brant_grow(ctx, &s->labels, &s->label_capacity, s->label_count + 1,
                            sizeof *s->labels);
        if (status != BRANT_OK)
            return status;
        *id = s->base + (uint32_t)s->label_count++;
    } else {
        const label *held = &s->labels[*id - s->base];
        if (held->settled || held->priority >= priority)
            return BRANT_OK;
        releases = releases || held->releases;
    }
    label *kept = &s->labels[*id - s->base];
    *kept = *offered;
    kept->releases = releases;
    kept->settled = false;
    kept->result = 0;
    kept->priority = priority;
    return push(ctx, s, (entry){priority, *id - s->base});
}

/* The settled label of the other mode on the same cell, NULL if none. */
static const label *twin_of(plain_search *s, const label *of)
{
    tile *t = find_tile(s, of->col >> PAGE_SHIFT, of->row >> PAGE_SHIFT);
    uint32_t id = t ? t->id[1 - of->mode][cell_of(of->col, of->row)] : 0;
    return id >= s->base && s->labels[id - s->base].settled ? &s->labels[id - s->base] : NULL;
}

/* ---- the step ------------------------------------------------------------- */

/* Offer a neighbour the label `next`, its anchor and direction set, if the energy
 * line still clears the ground there. */
static brant_status offer(brant_context *ctx, plain_search *s, const label *from, label *next,
                          float ground)
{
    vec v = {next->at.east - next->anchor.east, next->at.north - next->anchor.north};
    next->run_m = next->anchor_run_m + sqrtf(dot(v, v));
    if (next->run_m <= from->run_m)
        return BRANT_OK; /* sideways back towards the anchor: no progress */
    float drop = next->start_m - ground;
    float line = (drop + TOLERANCE_M) / next->run_m;
    next->bottleneck = from->bottleneck < line ? from->bottleneck : line;
    if (!(next->bottleneck >= s->tan_floor))
        return BRANT_OK;
    next->reached = drop / next->run_m;
    return keep(ctx, s, next);
}

/* What a label does at its cell. */
typedef struct step {
    vec flow;       /* direction of flow that holds from here on */
    vec ahead;      /* unit vector from the anchor to the cell; flow at the anchor itself */
    bool free;      /* goes on from its anchor, spreading about flow */
    bool bent;      /* goes on from the cell as a new anchor */
    bool beam;      /* goes on straight ahead */
} step;

static step decide(const plain_search *s, const label *l, vec fall)
{
    step d = {.flow = l->flow, .ahead = l->flow};
    vec v = {l->at.east - l->anchor.east, l->at.north - l->anchor.north};
    float length = sqrtf(dot(v, v));
    if (length > 0.0f)
        d.ahead = (vec){v.east / length, v.north / length};
    bool falls = dot(fall, d.ahead) > 0.0f; /* steep, and not against the travel */
    if (falls)
        d.flow = fall;
    bool in = in_cone(s, v, d.flow, s->spread) || length == 0.0f;
    float turn = dot(d.flow, l->turn_from);
    bool turned = falls && turn < s->cos_turn;
    if (l->mode == BEAM) {
        d.free = falls && in;
        d.bent = falls && !in;
        d.beam = !d.free;
        return d;
    }
    d.free = true;
    d.bent = !in && (turned || (l->releases && falls));
    d.beam = !in && falls && turn < s->cos_bend;
    return d;
}

static brant_status relax(brant_context *ctx, plain_search *s, const label *l, const step *d,
                          int col, int row, float ground)
{
    brant_status status = BRANT_OK;
    vec at = position(s, col, row);
    vec far = {at.east - l->anchor.east, at.north - l->anchor.north};
    vec near = {at.east - l->at.east, at.north - l->at.north};
    label next = *l;
    next.col = col;
    next.row = row;
    next.at = at;
    next.releases = false;
    next.flow = d->flow;
    next.mode = FREE;
    if (d->free && in_cone(s, far, d->flow, s->spread)) {
        if (l->mode == BEAM)
            next.turn_from = d->flow;
        return offer(ctx, s, l, &next, ground);
    }
    if (d->bent && in_cone(s, near, d->flow, s->spread)) {
        label bent = next;
        bent.anchor = l->at;
        bent.anchor_run_m = l->run_m;
        bent.turn_from = d->flow;
        status = offer(ctx, s, l, &bent, ground);
    }
    if (status == BRANT_OK && d->beam && dot(near, d->ahead) > 0.0f &&
        in_cone(s, far, d->ahead, straight)) {
        next.mode = BEAM;
        next.flow = d->ahead;
        status = offer(ctx, s, l, &next, ground);
    }
    return status;
}

/* Would the label go to this void, or over the raster's edge? Then the shadow is
 * cut off by what is not known, at the reach angle. */
static void meet_void(plain_search *s, const label *l, const step *d, int col, int row)
{
    vec at = position(s, col, row);
    vec far = {at.east - l->anchor.east, at.north - l->anchor.north};
    vec near = {at.east - l->at.east, at.north - l->at.north};
    if (l->bottleneck >= s->tan_reach &&
        ((d->free && in_cone(s, far, d->flow, s->spread)) ||
         (d->bent && in_cone(s, near, d->flow, s->spread)) ||
         (d->beam && in_cone(s, far, d->ahead, straight))))
        s->truncated = true;
}

static brant_status expand(brant_context *ctx, plain_search *s, const label *l)
{
    static const int around[8][2] = {{-1, -1}, {0, -1}, {1, -1}, {-1, 0},
                                     {1, 0},   {-1, 1}, {0, 1},  {1, 1}};
    ground_cell here, there;
    brant_status status = ground_at(ctx, s, l->col, l->row, &here);
    if (status != BRANT_OK)
        return status;
    step d = decide(s, l, here.fall);
    for (int k = 0; k < 8 && status == BRANT_OK; k++) {
        int col = l->col + around[k][0], row = l->row + around[k][1];
        there.elevation = NAN;
        if (col >= 0 && row >= 0 && col < s->cols && row < s->rows)
            status = ground_at(ctx, s, col, row, &there);
        if (status != BRANT_OK)
            break;
        if (isnan(there.elevation))
            meet_void(s, l, &d, col, row);
        else
            status = relax(ctx, s, l, &d, col, row, there.elevation);
    }
    return status;
}

/* ---- the search ----------------------------------------------------------- */

static brant_status start_at(brant_context *ctx, plain_search *s, const brant_start *start)
{
    ground_cell here;
    brant_status status = ground_at(ctx, s, start->col, start->row, &here);
    if (status != BRANT_OK || isnan(here.elevation))
        return status;
    label l = {.col = start->col, .row = start->row, .mode = FREE, .releases = true};
    l.at = l.anchor = position(s, start->col, start->row);
    l.start_m = here.elevation + start->rise_m;
    l.bottleneck = l.reached = INFINITY;
    l.flow = l.turn_from = here.fall;
    return keep(ctx, s, &l);
}

/* Put a settled label's cell into the result, or raise the entry that the cell has
 * from its other mode. */
static brant_status report_cell(brant_context *ctx, plain_search *s, label *l)
{
    float tangent = l->bottleneck < l->reached ? l->bottleneck : l->reached;
    if (!(tangent >= s->tan_floor))
        return BRANT_OK; /* kept going by the tolerance alone */
    float deg = l->releases ? 90.0f : (float)(atan(tangent) / RADIANS);
    float head = isinf(l->reached) ? 0.0f : (l->reached - s->tan_reach) * l->run_m;
    const label *twin = twin_of(s, l);
    if (twin && twin->result) {
        brant_reached *held = &s->cells[twin->result - 1];
        if (deg > held->reached_at_deg)
            held->run_m = l->run_m;
        held->reached_at_deg = fmaxf(held->reached_at_deg, deg);
        held->head_m = fmaxf(held->head_m, head);
        l->result = twin->result;
        return BRANT_OK;
    }
    if (brant_grow(ctx, &s->cells, &s->cell_capacity, s->cell_count + 1, sizeof *s->cells) !=
        BRANT_OK)
        return BRANT_ERR_MEMORY;
    s->cells[s->cell_count++] = (brant_reached){l->col, l->row, deg, head, l->run_m};
    l->result = (uint32_t)s->cell_count;
    return BRANT_OK;
}

/* Positions count from the middle of the starts, not from the first, so that a turned
 * raster rounds the same. */
static void open_zone(plain_search *s, const brant_start *starts, size_t count)
{
    int west = starts[0].col, east = west, north = starts[0].row, south = north;
    for (size_t i = 1; i < count; i++) {
        west = starts[i].col < west ? starts[i].col : west;
        east = starts[i].col > east ? starts[i].col : east;
        north = starts[i].row < north ? starts[i].row : north;
        south = starts[i].row > south ? starts[i].row : south;
    }
    s->col0 = (west + east + 1) / 2.0;
    s->row0 = (north + south + 1) / 2.0;
    brant_ground_matrix(brant_flow_ground(s->flow), s->col0, s->row0, &s->m);
    double width = brant_matrix_cell_width(&s->m), height = brant_matrix_cell_height(&s->m);
    s->half_cell = (float)((width > height ? width : height) / 2.0);
    s->cell_count = s->label_count = s->heap_count = 0;
    s->truncated = false;
}

static brant_status settle(brant_context *ctx, plain_search *s, uint64_t *visits)
{
    entry best = pop(s);
    label *l = &s->labels[best.index];
    if (l->settled || l->priority != best.priority)
        return BRANT_OK; /* overtaken since it was queued */
    l->settled = true;
    ++*visits;
    brant_status status = report_cell(ctx, s, l);
    label copy = *l; /* labels move as they grow */
    return status == BRANT_OK ? expand(ctx, s, &copy) : status;
}

static void close_zone(plain_search *s)
{
    for (size_t i = 0; i < s->tile_count; i++)
        brant_flow_unpin(s->flow, s->tiles[i]->pcol, s->tiles[i]->prow);
    s->tile_count = 0;
    s->last = NULL;
    s->base += (uint32_t)s->label_count;
    if (s->base < UINT32_MAX / 2)
        return;
    for (size_t i = 0; i < s->tile_have; i++)
        memset(s->tiles[i]->id, 0, sizeof s->tiles[i]->id);
    s->base = 1;
}

brant_status plain_search_run(brant_context *ctx, plain_search *s, const brant_start *starts,
                              size_t count, brant_reach_result *result)
{
    brant_status status = BRANT_OK;
    memset(result, 0, sizeof *result);
    if (count == 0)
        return BRANT_OK;
    open_zone(s, starts, count);
    for (size_t i = 0; i < count && status == BRANT_OK; i++)
        status = start_at(ctx, s, &starts[i]);
    while (status == BRANT_OK && s->heap_count > 0)
        status = settle(ctx, s, &result->visits);
    close_zone(s);
    result->truncated = s->truncated;
    result->cells = s->cells;
    result->count = s->cell_count;
    return status;
}

brant_status plain_search_create(brant_context *ctx, brant_flow *flow,
                                 const brant_reach_options *options, plain_search **search)
{
    plain_search *s = brant_alloc(ctx, 1, sizeof *s);
    if (!s)
        return BRANT_ERR_MEMORY;
    s->flow = flow;
    s->options = *options;
    s->tan_floor = (float)tan(options->floor_deg * RADIANS);
    s->tan_reach = (float)tan(options->reach_angle_deg * RADIANS);
    s->tan_rank = (float)tan(RANK_DEG * RADIANS);
    s->cos_turn = (float)cos(TURN_DEG * RADIANS);
    s->cos_bend = (float)cos(BEND_DEG * RADIANS);
    s->spread.cosine = (float)cos(options->spread_deg * RADIANS);
    s->spread.sine = (float)sin(options->spread_deg * RADIANS);
    s->base = 1; /* 0 in a fresh tile is "never" */
    brant_flow_size(flow, &s->cols, &s->rows);
    *search = s;
    return BRANT_OK;
}

void plain_search_destroy(plain_search *search)
{
    if (!search)
        return;
    for (size_t i = 0; i < search->tile_have; i++)
        free(search->tiles[i]);
    free(search->tiles);
    free(search->labels);
    free(search->heap);
    free(search->cells);
    free(search);
}
