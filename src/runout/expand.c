/* One step of a search: a settled label is offered to its cell's eight neighbours. */
#include "search.h"

#include <math.h>

const int brant_search_around[NEIGHBOURS][2] = {{-1, -1}, {0, -1}, {1, -1}, {-1, 0},
                                          {1, 0},   {-1, 1}, {0, 1},  {1, 1}};

static const spread straight = {1.0f, 0.0f};

/* ---- what a label does at its cell -------------------------------------- */

/* Is the offset `v` in the cone of half-angle `to_side` about `axis`, widened by half
 * a cell? Where no direction is known (axis 0, 0), every direction is in it. */
static inline bool in_cone(const brant_search *s, vec v, vec axis, spread to_side)
{
    float along = dot(v, axis), off = fabsf(cross(v, axis));
    bool no_axis = axis.east == 0.0f && axis.north == 0.0f;
    return no_axis |
           ((along > 0.0f) & (off * to_side.cosine - along * to_side.sine <= s->half_cell));
}

typedef struct step {
    vec run;        /* from the anchor to the cell, metres */
    vec flow;       /* direction of flow that holds from here on */
    vec ahead;      /* unit vector from the anchor to the cell; flow at the anchor itself */
    bool free;      /* goes on from its anchor, spreading about flow */
    bool bent;      /* goes on from the cell as a new anchor */
    bool beam;      /* goes on straight ahead */
} step;

static step decide(const brant_search *s, const label *l, vec fall)
{
    step d = {.flow = l->flow, .ahead = l->flow};
    d.run = (vec){l->at.east - l->anchor.east, l->at.north - l->anchor.north};
    if (s->every_way) {
        d.free = true;
        return d;
    }
    float length = sqrtf(dot(d.run, d.run));
    if (length > 0.0f)
        d.ahead = (vec){d.run.east / length, d.run.north / length};
    bool falls = dot(fall, d.ahead) > 0.0f; /* steep, and not against the travel */
    if (falls)
        d.flow = fall;
    bool in = in_cone(s, d.run, d.flow, s->spread) || length == 0.0f;
    if (l->mode == LABEL_BEAM) {
        d.free = falls && in;
        d.bent = falls && !in;
        d.beam = !d.free;
        return d;
    }
    float turn = dot(d.flow, l->turn_from);
    d.free = true;
    d.bent = !in && falls && (l->releases || turn < s->cos_turn);
    d.beam = !in && falls && turn < s->cos_bend;
    return d;
}

/* ---- the eight neighbours ----------------------------------------------- */

/* Eight lanes side by side, so that the compiler computes them four or eight at once. */
typedef struct ring {
    tile *tile[NEIGHBOURS];
    size_t cell[NEIGHBOURS];
    float ground[NEIGHBOURS]; /* NaN: void, or over the grid's border */
    /* the label gone on freely: */
    float run_m[NEIGHBOURS], bottleneck[NEIGHBOURS];
    int in[NEIGHBOURS];       /* in the cone about the flow */
    int clears[NEIGHBOURS];   /* gets further, and its line clears the ground */
} ring;

static brant_status look_around(brant_context *ctx, brant_search *s, const label *l, tile *own,
                                ring *r)
{
    for (int k = 0; k < NEIGHBOURS; k++) {
        int col = l->col + brant_search_around[k][0], row = l->row + brant_search_around[k][1];
        r->cell[k] = brant_labels_cell(col, row);
        r->tile[k] = own;
        r->ground[k] = NAN;
        if (col < 0 || row < 0 || col >= s->cols || row >= s->rows)
            continue;
        if ((col >> PAGE_SHIFT) != own->pcol || (row >> PAGE_SHIFT) != own->prow) {
            brant_status status = brant_labels_tile(ctx, &s->labels, col, row, &r->tile[k]);
            if (status != BRANT_OK)
                return status;
        }
        r->ground[k] = r->tile[k]->ground->elevation[r->cell[k]];
    }
    return BRANT_OK;
}

/* The label's bottleneck once it has run `run_m` metres and stands over `ground`. */
static inline float line_over(const label *l, float run_m, float ground)
{
    float line = (l->start_m - ground + TOLERANCE_M) / run_m;
    return l->bottleneck < line ? l->bottleneck : line;
}

static void go_freely(const brant_search *s, const label *l, const step *d, ring *r)
{
    for (int k = 0; k < NEIGHBOURS; k++) {
        vec far = {d->run.east + s->near_east[k], d->run.north + s->near_north[k]};
        float run_m = l->anchor_run_m + sqrtf(dot(far, far));
        float bottleneck = line_over(l, run_m, r->ground[k]);
        r->run_m[k] = run_m;
        r->bottleneck[k] = bottleneck;
        r->in[k] = in_cone(s, far, d->flow, s->spread);
        /* sideways back towards the anchor is no progress */
        r->clears[k] = (run_m > l->run_m) & (bottleneck >= s->tan_floor);
    }
}

/* ---- offers ------------------------------------------------------------- */

/* How a label goes on to a neighbour. */
typedef struct way {
    unsigned mode;
    vec anchor, flow, turn_from;
    float anchor_run_m, run_m, bottleneck;
} way;

/* Offer neighbour k the label `from` by `way`, unless a better one holds the cell. */
static brant_status offer(brant_context *ctx, brant_search *s, const label *from, const ring *r,
                          int k, const way *by)
{
    float line = brant_search_line(s, by->bottleneck);
    float energy = brant_search_energy(s, from->start_m, by->run_m);
    const label *held = brant_labels_held(&s->labels, r->tile[k], r->cell[k], by->mode);
    if (held && (held->settled || brant_search_ranks(s, held, line, energy)))
        return BRANT_OK;
    int col = from->col + brant_search_around[k][0], row = from->row + brant_search_around[k][1];
    label next = {.col = col, .row = row, .at = brant_search_position(s, col, row),
                  .anchor = by->anchor, .flow = by->flow, .turn_from = by->turn_from,
                  .start_m = from->start_m, .anchor_run_m = by->anchor_run_m,
                  .run_m = by->run_m, .bottleneck = by->bottleneck, .mode = by->mode};
    return brant_labels_put(ctx, &s->labels, r->tile[k], r->cell[k], &next, line, energy);
}

static brant_status offer_free(brant_context *ctx, brant_search *s, const label *l, const step *d,
                               const ring *r, int k)
{
    way by = {LABEL_FREE, l->anchor, d->flow, l->mode == LABEL_BEAM ? d->flow : l->turn_from,
              l->anchor_run_m, r->run_m[k], r->bottleneck[k]};
    return r->clears[k] ? offer(ctx, s, l, r, k, &by) : BRANT_OK;
}

static brant_status offer_bent(brant_context *ctx, brant_search *s, const label *l, const step *d,
                               const ring *r, int k, vec near)
{
    way by = {LABEL_FREE, l->at, d->flow, d->flow, l->run_m, l->run_m + sqrtf(dot(near, near)), 0};
    by.bottleneck = line_over(l, by.run_m, r->ground[k]);
    return by.bottleneck >= s->tan_floor ? offer(ctx, s, l, r, k, &by) : BRANT_OK;
}

static brant_status offer_beam(brant_context *ctx, brant_search *s, const label *l, const step *d,
                               const ring *r, int k)
{
    way by = {LABEL_BEAM, l->anchor, d->ahead, l->turn_from, l->anchor_run_m, r->run_m[k],
              r->bottleneck[k]};
    return r->clears[k] ? offer(ctx, s, l, r, k, &by) : BRANT_OK;
}

/* The ways by which a label goes on to a neighbour, all that hold. A neighbour in the
 * cone seen from the anchor needs no bend. */
static brant_status go_on(brant_context *ctx, brant_search *s, const label *l, const step *d,
                          const ring *r, int k)
{
    vec near = {s->near_east[k], s->near_north[k]};
    vec far = {d->run.east + near.east, d->run.north + near.north};
    bool free = d->free && r->in[k];
    bool bent = !free && d->bent && in_cone(s, near, d->flow, s->spread);
    bool beam = !free && d->beam && dot(near, d->ahead) > 0.0f &&
                in_cone(s, far, d->ahead, straight);
    if (isnan(r->ground[k])) {
        /* cut off by what is not known, at the reach angle */
        if ((free || bent || beam) && l->bottleneck >= s->tan_reach)
            s->truncated = true;
        return BRANT_OK;
    }
    brant_status status = BRANT_OK;
    if (free)
        status = offer_free(ctx, s, l, d, r, k);
    if (bent)
        status = offer_bent(ctx, s, l, d, r, k, near);
    if (beam && status == BRANT_OK)
        status = offer_beam(ctx, s, l, d, r, k);
    return status;
}

brant_status brant_search_expand(brant_context *ctx, brant_search *s, const label *l, tile *own)
{
    ring r;
    size_t cell = brant_labels_cell(l->col, l->row);
    step d = decide(s, l, (vec){own->ground->east[cell], own->ground->north[cell]});
    brant_status status = look_around(ctx, s, l, own, &r);
    if (status == BRANT_OK)
        go_freely(s, l, &d, &r);
    for (int k = 0; k < NEIGHBOURS && status == BRANT_OK; k++) {
        if (!d.beam && brant_labels_is_settled(&s->labels, r.tile[k], r.cell[k], LABEL_FREE) &&
            !isnan(r.ground[k]))
            continue; /* half of all neighbours: nothing to offer there */
        status = go_on(ctx, s, l, &d, &r, k);
    }
    return status;
}
