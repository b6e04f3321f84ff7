/* The search: how far can snow from one zone come?
 *
 * Best first over cells. A label says: the cell is reached by a path whose energy
 * line started at `start_m`, that has run `run_m` metres over the ground plan, and
 * on which no cell stood above a line falling at atan(b): `b` is the bottleneck of
 * (start height - ground) / distance along the path. A cell's 'reached at' is the
 * bottleneck up to and with itself, so a smaller reach angle can only add cells.
 *
 * Distance is any-angle: a label carries an anchor, the path's last bend, and the
 * run from there is the straight line, so the grid's eight directions leave no
 * mark. From a cell the label goes on to each of the eight neighbours that is
 *   free:   within `spread` of the flow, seen from the anchor (half a cell is
 *           allowed to each side, or a cone narrower than a cell would break off);
 *   bent:   the same seen from the cell itself, as a new anchor, where the cell lies
 *           outside the cone about its own flow and the flow has turned by TURN_DEG
 *           from what it was at the anchor. Turning is measured flow against flow,
 *           not flow against bearing: on a plane the flow never turns, so a fan's
 *           rim, however ragged, is no bend and cannot widen it;
 *   beam:   straight ahead on the line from the anchor, without spread, in the same
 *           case when the turn is BEND_DEG or more: at a sharp bend snow also shoots
 *           on while the energy line is above the ground.
 * The flow is the fall line where the ground is steeper than FLOW_SLOPE_DEG and
 * does not point against the direction of travel; elsewhere (flats, pits, roads,
 * counter-slopes) the last flow holds. So flats are crossed in the direction of
 * travel and counter-slopes climbed until the line meets the ground.
 *
 * Which label a cell keeps. Among labels whose bottleneck is RANK_DEG or more the
 * one with the highest energy line at RANK_DEG, which is what reaches furthest at
 * that angle; below it the one with the largest bottleneck. All release cells start
 * at once, the highest first: on ground of 30 degrees and more a path from above
 * always arrives with the higher line, so lower starts are mostly taken over before
 * they are looked at. Free labels and beams do not compete: a cell can hold both.
 *
 * Height error. A model's noise beside the start would make a path look too flat on
 * its first step and end it for good. The bottleneck therefore forgives
 * TOLERANCE_M of height; the value reported at a cell does not.
 *
 * Positions are metres from the middle of the starts by the grid-to-ground matrix
 * there, held for the whole search: over 5 km a geographic grid at 47 degrees north
 * scales by 0.09 %, 4 m. */
#include "labels.h"

#include <math.h>
#include <stdlib.h>
#include <string.h>

#define RANK_DEG 25.0
#define TURN_DEG 10.0
#define BEND_DEG 30.0
#define TOLERANCE_M 1.0
#define RADIANS (M_PI / 180.0)

typedef struct spread {
    float cosine, sine;
} spread;

static const spread straight = {1.0f, 0.0f};

struct brant_search {
    brant_flow *flow;
    brant_reach_options options;
    float tan_floor, tan_reach, tan_rank, cos_turn, cos_bend;
    spread spread;
    int cols, rows;              /* of the grid */
    labels labels;               /* tiles, labels and the queue */
    brant_reached *cells;        /* result */
    size_t cell_count, cell_capacity;
    /* of the zone at hand: */
    brant_matrix m;
    double col0, row0;           /* origin of positions, grid coordinates */
    float half_cell;             /* metres */
    bool truncated;
};

brant_status brant_search_create(brant_context *ctx, brant_flow *flow,
                                 const brant_reach_options *options, brant_search **search)
{
    brant_search *s = brant_alloc(ctx, 1, sizeof *s);
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
    flow_size(flow, &s->cols, &s->rows);
    labels_init(&s->labels, flow);
    *search = s;
    return BRANT_OK;
}

void brant_search_destroy(brant_search *search)
{
    if (!search)
        return;
    labels_clear(&search->labels);
    free(search->cells);
    free(search);
}

static vec position(const brant_search *s, int col, int row)
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
static bool in_cone(const brant_search *s, vec v, vec axis, spread to_side)
{
    float along = dot(v, axis), off = fabsf(cross(v, axis));
    if (axis.east == 0.0f && axis.north == 0.0f)
        return true;
    return along > 0.0f && off * to_side.cosine - along * to_side.sine <= s->half_cell;
}

/* Priority: the higher the sooner. */
static uint64_t priority(const brant_search *s, float bottleneck, float start_m, float run_m)
{
    return labels_priority(bottleneck < s->tan_rank ? bottleneck : s->tan_rank,
                           start_m - s->tan_rank * run_m);
}

static uint64_t priority_of(const brant_search *s, const label *l)
{
    return priority(s, l->bottleneck, l->start_m, l->run_m);
}

/* A neighbour that a label is offered to. */
typedef struct place {
    tile *tile;
    size_t cell; /* in the tile */
    int col, row;
    vec at, near; /* its position; its offset from the label's cell */
    float ground;
} place;

/* How a label goes on to a neighbour. */
typedef struct way {
    unsigned mode;
    vec anchor, flow, turn_from;
    float anchor_run_m;
} way;

/* Offer a neighbour the label `from` by `way`, if the energy line still clears the
 * ground there and no better label holds the cell. */
static brant_status offer(brant_context *ctx, brant_search *s, const label *from,
                          const place *to, const way *by)
{
    vec v = {to->at.east - by->anchor.east, to->at.north - by->anchor.north};
    float run_m = by->anchor_run_m + sqrtf(dot(v, v));
    if (run_m <= from->run_m)
        return BRANT_OK; /* sideways back towards the anchor: no progress */
    float line = (from->start_m - to->ground + (float)TOLERANCE_M) / run_m;
    float bottleneck = from->bottleneck < line ? from->bottleneck : line;
    if (!(bottleneck >= s->tan_floor))
        return BRANT_OK;
    uint64_t rank = priority(s, bottleneck, from->start_m, run_m);
    const label *held = labels_held(&s->labels, to->tile, to->cell, by->mode);
    if (held && (held->settled || priority_of(s, held) >= rank))
        return BRANT_OK;
    label next = {.col = to->col, .row = to->row, .at = to->at, .anchor = by->anchor,
                  .flow = by->flow, .turn_from = by->turn_from, .start_m = from->start_m,
                  .anchor_run_m = by->anchor_run_m, .run_m = run_m, .bottleneck = bottleneck,
                  .mode = by->mode};
    return labels_put(ctx, &s->labels, to->tile, to->cell, &next, rank);
}

/* What a label does at its cell. */
typedef struct step {
    vec flow;       /* direction of flow that holds from here on */
    vec ahead;      /* unit vector from the anchor to the cell; flow at the anchor itself */
    bool free;      /* goes on from its anchor, spreading about flow */
    bool bent;      /* goes on from the cell as a new anchor */
    bool beam;      /* goes on straight ahead */
} step;

static step decide(const brant_search *s, const label *l, vec fall)
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
    if (l->mode == LABEL_BEAM) {
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

static brant_status relax(brant_context *ctx, brant_search *s, const label *l, const step *d,
                          const place *to)
{
    brant_status status = BRANT_OK;
    vec far = {to->at.east - l->anchor.east, to->at.north - l->anchor.north};
    if (d->free && in_cone(s, far, d->flow, s->spread)) {
        way by = {LABEL_FREE, l->anchor, d->flow, l->mode == LABEL_BEAM ? d->flow : l->turn_from,
                  l->anchor_run_m};
        return offer(ctx, s, l, to, &by);
    }
    if (d->bent && in_cone(s, to->near, d->flow, s->spread)) {
        way by = {LABEL_FREE, l->at, d->flow, d->flow, l->run_m};
        status = offer(ctx, s, l, to, &by);
    }
    if (status == BRANT_OK && d->beam && dot(to->near, d->ahead) > 0.0f &&
        in_cone(s, far, d->ahead, straight)) {
        way by = {LABEL_BEAM, l->anchor, d->ahead, l->turn_from, l->anchor_run_m};
        status = offer(ctx, s, l, to, &by);
    }
    return status;
}

/* Would the label go to this void, or over the raster's edge? Then the shadow is
 * cut off by what is not known, at the reach angle. */
static void meet_void(brant_search *s, const label *l, const step *d, const place *to)
{
    vec far = {to->at.east - l->anchor.east, to->at.north - l->anchor.north};
    if (l->bottleneck >= s->tan_reach &&
        ((d->free && in_cone(s, far, d->flow, s->spread)) ||
         (d->bent && in_cone(s, to->near, d->flow, s->spread)) ||
         (d->beam && in_cone(s, far, d->ahead, straight))))
        s->truncated = true;
}

static const int around[8][2] = {{-1, -1}, {0, -1}, {1, -1}, {-1, 0},
                                 {1, 0},   {-1, 1}, {0, 1},  {1, 1}};

/* The neighbour's tile and cell, if the grid has it. */
static brant_status find_place(brant_context *ctx, brant_search *s, tile *own, place *to)
{
    bool inside = to->col >= 0 && to->row >= 0 && to->col < s->cols && to->row < s->rows;
    to->cell = labels_cell(to->col, to->row);
    to->ground = NAN;
    if (!inside)
        return BRANT_OK;
    to->tile = own;
    if ((to->col >> PAGE_SHIFT) != own->pcol || (to->row >> PAGE_SHIFT) != own->prow) {
        brant_status status = labels_tile(ctx, &s->labels, to->col, to->row, &to->tile);
        if (status != BRANT_OK)
            return status;
    }
    to->ground = to->tile->ground->elevation[to->cell];
    return BRANT_OK;
}

static brant_status expand(brant_context *ctx, brant_search *s, const label *l, tile *own)
{
    size_t cell = labels_cell(l->col, l->row);
    step d = decide(s, l, (vec){own->ground->east[cell], own->ground->north[cell]});
    for (int k = 0; k < 8; k++) {
        place to = {.col = l->col + around[k][0], .row = l->row + around[k][1]};
        brant_status status = find_place(ctx, s, own, &to);
        if (status != BRANT_OK)
            return status;
        bool known = !isnan(to.ground);
        if (known && !d.beam && labels_is_settled(&s->labels, to.tile, to.cell, LABEL_FREE))
            continue; /* half of all neighbours: nothing to offer there */
        to.at = position(s, to.col, to.row);
        to.near = (vec){to.at.east - l->at.east, to.at.north - l->at.north};
        if (known)
            status = relax(ctx, s, l, &d, &to);
        else
            meet_void(s, l, &d, &to);
        if (status != BRANT_OK)
            return status;
    }
    return BRANT_OK;
}

static brant_status start_at(brant_context *ctx, brant_search *s, const brant_start *start)
{
    tile *t;
    brant_status status = labels_tile(ctx, &s->labels, start->col, start->row, &t);
    if (status != BRANT_OK)
        return status;
    size_t cell = labels_cell(start->col, start->row);
    vec fall = {t->ground->east[cell], t->ground->north[cell]};
    label l = {.col = start->col, .row = start->row, .mode = LABEL_FREE, .releases = 1,
               .flow = fall, .bottleneck = INFINITY};
    l.at = l.anchor = position(s, start->col, start->row);
    l.start_m = t->ground->elevation[cell] + start->rise_m;
    if (isnan(l.start_m))
        return BRANT_OK; /* no elevation, no energy: whoever numbers zones flags it */
    if (!isnan(start->heading_deg)) {
        vec heading = {(float)sin(start->heading_deg * RADIANS),
                       (float)cos(start->heading_deg * RADIANS)};
        if (!(dot(fall, heading) > 0.0f))
            l.flow = heading;
    }
    l.turn_from = l.flow;
    uint64_t rank = priority_of(s, &l);
    const label *held = labels_held(&s->labels, t, cell, LABEL_FREE);
    if (held && priority_of(s, held) >= rank)
        return BRANT_OK; /* the same cell given twice */
    return labels_put(ctx, &s->labels, t, cell, &l, rank);
}

/* Put a settled label's cell into the result, or raise the entry that the cell has
 * from its other mode. The result holds tangents until the search ends. */
static brant_status report_cell(brant_context *ctx, brant_search *s, label *l, const tile *t)
{
    size_t cell = labels_cell(l->col, l->row);
    float reached = l->run_m > 0.0f ? (l->start_m - t->ground->elevation[cell]) / l->run_m
                                    : INFINITY;
    float tangent = l->bottleneck < reached ? l->bottleneck : reached;
    if (!(tangent >= s->tan_floor))
        return BRANT_OK; /* kept going by the tolerance alone */
    float head = l->run_m > 0.0f ? (reached - s->tan_reach) * l->run_m : 0.0f;
    if (l->releases)
        tangent = INFINITY; /* 90 degrees */
    const label *twin = labels_held(&s->labels, t, cell, 1 - l->mode);
    if (twin && twin->result) {
        brant_reached *held = &s->cells[twin->result - 1];
        held->reached_at_deg = fmaxf(held->reached_at_deg, tangent);
        held->head_m = fmaxf(held->head_m, head);
        l->result = twin->result;
        return BRANT_OK;
    }
    brant_status status = brant_grow(ctx, &s->cells, &s->cell_capacity, s->cell_count + 1,
                                     sizeof *s->cells);
    if (status != BRANT_OK)
        return status;
    s->cells[s->cell_count++] = (brant_reached){l->col, l->row, tangent, head};
    l->result = (uint32_t)s->cell_count & 0x1fffffffu;
    return BRANT_OK;
}

static void tangents_to_degrees(brant_search *s)
{
    for (size_t i = 0; i < s->cell_count; i++)
        s->cells[i].reached_at_deg = atanf(s->cells[i].reached_at_deg) * (float)(1.0 / RADIANS);
}

/* Settle the queue's best label: report its cell, and go on from it. */
static brant_status settle(brant_context *ctx, brant_search *s, entry best, uint64_t *visits)
{
    tile *t;
    label *l = &s->labels.label[best.index];
    if (l->settled || priority_of(s, l) != best.priority)
        return BRANT_OK; /* overtaken since it was queued */
    brant_status status = labels_tile(ctx, &s->labels, l->col, l->row, &t);
    if (status != BRANT_OK)
        return status;
    labels_settle(&s->labels, t, labels_cell(l->col, l->row), l);
    if (((*visits)++ & 0xfff) == 0)
        status = brant_check_stop(ctx);
    if (status == BRANT_OK)
        status = report_cell(ctx, s, l, t);
    label copy = *l; /* labels move as they grow */
    return status == BRANT_OK ? expand(ctx, s, &copy, t) : status;
}

/* Positions count from the middle of the starts, not from the first, so that a turned
 * raster rounds the same. */
static void open_zone(brant_search *s, const brant_start *starts, size_t count)
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
    brant_ground_matrix(flow_ground(s->flow), s->col0, s->row0, &s->m);
    double width = brant_matrix_cell_width(&s->m), height = brant_matrix_cell_height(&s->m);
    s->half_cell = (float)((width > height ? width : height) / 2.0);
    s->cell_count = 0;
    s->truncated = false;
}

brant_status brant_search_run(brant_context *ctx, brant_search *search, const brant_start *starts,
                              size_t count, brant_reach_result *result)
{
    brant_status status = BRANT_OK;
    entry best;
    memset(result, 0, sizeof *result);
    if (count == 0)
        return BRANT_OK;
    open_zone(search, starts, count);
    labels_begin(&search->labels);
    for (size_t i = 0; i < count && status == BRANT_OK; i++)
        status = start_at(ctx, search, &starts[i]);
    while (status == BRANT_OK && labels_next(&search->labels, &best))
        status = settle(ctx, search, best, &result->visits);
    labels_end(&search->labels);
    tangents_to_degrees(search);
    result->truncated = search->truncated;
    result->cells = search->cells;
    result->count = search->cell_count;
    return status;
}
