/* One step of a search: a settled label is offered to its cell's eight neighbours. */
#include "search.h"

#include <math.h>
#include <string.h>

static const spread straight = {1.0f, 0.0f};

/* ---- what a label does at its cell -------------------------------------- */

/* Is the offset `v` in the cone of half-angle `to_side` about `axis`, widened by half
 * a cell? Where no direction is known (axis 0, 0), every direction is in it. */
static inline bool no_axis(vec axis)
{
    return axis.east == 0.0f && axis.north == 0.0f;
}

static inline bool in_cone(const brant_search *s, vec v, vec axis, spread to_side)
{
    float along = dot(v, axis), off = fabsf(cross(v, axis));
    return no_axis(axis) ||
           (along > 0.0f && off * to_side.cosine - along * to_side.sine <= s->half_cell);
}

typedef struct step {
    vec run;        /* from the anchor to the cell, metres */
    vec flow;       /* direction of flow that holds from here on */
    vec ahead;      /* beam: unit vector from the anchor to the cell; flow at the anchor itself */
    float least_along; /* metres along the flow above which the cone holds */
    bool free;      /* goes on from its anchor, spreading about flow */
    bool bent;      /* goes on from the cell as a new anchor */
    bool beam;      /* goes on straight ahead */
} step;

static vec unit(vec v)
{
    float length = sqrtf(dot(v, v));
    return (vec){v.east / length, v.north / length};
}

static step decide(const brant_search *s, const label *l, vec fall)
{
    step d = {.flow = l->flow, .free = true};
    d.run = (vec){l->at.east - l->anchor.east, l->at.north - l->anchor.north};
    if (s->every_way) {
        d.least_along = -1.0f;
        return d;
    }
    bool at_anchor = d.run.east == 0.0f && d.run.north == 0.0f;
    bool falls = dot(fall, at_anchor ? l->flow : d.run) > 0.0f; /* steep, and not against the travel */
    if (falls)
        d.flow = fall;
    bool in = at_anchor || in_cone(s, d.run, d.flow, s->spread);
    if (l->mode == LABEL_BEAM) {
        d.free = falls && in;
        d.bent = falls && !in;
        d.beam = !d.free;
    } else if (falls && !in) {
        float turn = dot(d.flow, l->turn_from);
        d.bent = l->releases || turn < s->cos_turn;
        d.beam = turn < s->cos_bend;
    }
    if (d.beam)
        d.ahead = at_anchor ? l->flow : unit(d.run);
    d.least_along = no_axis(d.flow) ? -1.0f : 0.0f;
    return d;
}

/* ---- the eight neighbours ----------------------------------------------- */

typedef struct ring {
    tile *tile[LANES]; /* where the cell is on its tile's rim; else all on `own` */
    tile *own;
    size_t place;      /* of the cell in the middle */
    bool rim;
    float ground[LANES]; /* NaN: void, or over the grid's border */
    float held_line[LANES], held_energy[LANES]; /* rank of the free label there */
    /* the label gone on freely: */
    float run_m[LANES], bottleneck[LANES];
    unsigned in;     /* a bit for each neighbour: in the cone about the flow */
    unsigned clears; /* ... gets further, and the line clears the ground */
    unsigned wins;   /* ... all of these, and ranks above the free label there */
    unsigned voids;  /* ... no ground is known there */
} ring;

static tile *lane_tile(const ring *r, int k)
{
    return r->rim ? r->tile[k] : r->own;
}

/* The lane's place on its tile. */
static size_t lane_place(const ring *r, int k)
{
    size_t col = (r->place & PAGE_MASK) + (size_t)lane_col(k);
    size_t row = (r->place >> PAGE_SHIFT) + (size_t)lane_row(k);
    return (row & PAGE_MASK) * PAGE + (col & PAGE_MASK);
}

static brant_status look_over_rim(brant_context *ctx, brant_search *s, ring *r)
{
    int col0 = brant_tile_col(r->own, r->place), row0 = brant_tile_row(r->own, r->place);
    for (int k = 0; k < LANES; k++) {
        int col = col0 + lane_col(k), row = row0 + lane_row(k);
        r->tile[k] = r->own;
        r->ground[k] = NAN;
        r->held_line[k] = -INFINITY;
        r->held_energy[k] = 0.0f;
        if (!(NEIGHBOURS >> k & 1) || col < 0 || row < 0 || col >= s->cols || row >= s->rows)
            continue;
        brant_status status = brant_labels_tile(ctx, &s->labels, col, row, &r->tile[k]);
        if (status != BRANT_OK)
            return status;
        size_t place = lane_place(r, k);
        r->ground[k] = r->tile[k]->ground->elevation[place];
        r->held_line[k] = r->tile[k]->line[place];
        r->held_energy[k] = r->tile[k]->energy[place];
    }
    return BRANT_OK;
}

static brant_status look_around(brant_context *ctx, brant_search *s, ring *r)
{
    const tile *t = r->own;
    size_t across = r->place & PAGE_MASK, down = r->place >> PAGE_SHIFT;
    r->rim = across - 1 >= PAGE - 3 || down - 1 >= PAGE - 2;
    if (r->rim)
        return look_over_rim(ctx, s, r);
    for (size_t row = 0; row < 3; row++) {
        size_t from = r->place + row * PAGE - PAGE - 1;
        memcpy(r->ground + 4 * row, t->ground->elevation + from, 4 * sizeof(float));
        memcpy(r->held_line + 4 * row, t->line + from, 4 * sizeof(float));
        memcpy(r->held_energy + 4 * row, t->energy + from, 4 * sizeof(float));
    }
    return BRANT_OK;
}

/* The label's bottleneck once it has run `run_m` metres and stands over `ground`. */
static inline float line_over(const label *l, float run_m, float ground)
{
    float line = (l->start_m - ground + TOLERANCE_M) / run_m;
    return l->bottleneck < line ? l->bottleneck : line;
}

/* Four lanes: a vector of the smallest kind that every machine has. What is computed in
 * it is what would be computed lane by lane, to the last bit. */
typedef float quad __attribute__((vector_size(16)));
typedef int32_t quad_is __attribute__((vector_size(16))); /* by lane -1 true, 0 false */

static inline quad load(const float *from)
{
    quad q;
    memcpy(&q, from, sizeof q);
    return q;
}

static inline quad smaller(quad a, float b)
{
    quad_is is = b < a;
    quad every = {b, b, b, b};
    return (quad)(((quad_is)every & is) | ((quad_is)a & ~is)); /* NaN stays NaN */
}

/* A bit for each lane that is true. */
static inline unsigned bits_of(quad_is is)
{
#ifdef __SSE__
    return (unsigned)__builtin_ia32_movmskps((quad)is);
#else
    return (unsigned)((is[0] & 1) | (is[1] & 2) | (is[2] & 4) | (is[3] & 8));
#endif
}

/* Row `row` of the label gone on freely. */
static inline void go_row(const brant_search *s, const label *l, const step *d, ring *r, int row)
{
    int k = 4 * row;
    quad ground = load(r->ground + k), held = load(r->held_line + k);
    quad east = d->run.east + load(s->near_east + k), north = d->run.north + load(s->near_north + k);
    quad square = east * east + north * north;
    quad run_m = {sqrtf(square[0]), sqrtf(square[1]), sqrtf(square[2]), sqrtf(square[3])};
    run_m += l->anchor_run_m;
    quad bottleneck = smaller((l->start_m - ground + TOLERANCE_M) / run_m, l->bottleneck);
    quad line = smaller(bottleneck, s->tan_rank), energy = l->start_m - s->tan_rank * run_m;
    quad along = east * d->flow.east + north * d->flow.north;
    quad off = east * d->flow.north - north * d->flow.east;
    off = (quad)((quad_is)off & INT32_MAX); /* without its sign */
    quad_is in = (along > d->least_along) &
                 (off * s->spread.cosine - along * s->spread.sine <= s->half_cell);
    /* sideways back towards the anchor is no progress */
    quad_is clears = (run_m > l->run_m) & (bottleneck >= s->tan_floor);
    quad_is wins = (line > held) | ((line == held) & (energy > load(r->held_energy + k)));
    memcpy(r->run_m + k, &run_m, sizeof run_m);
    memcpy(r->bottleneck + k, &bottleneck, sizeof bottleneck);
    r->in |= bits_of(in) << k;
    r->clears |= bits_of(clears) << k;
    r->wins |= bits_of(wins) << k;
    r->voids |= bits_of(ground != ground) << k;
}

static void go_freely(const brant_search *s, const label *l, const step *d, ring *r)
{
    r->in = r->clears = r->wins = r->voids = 0;
    for (int row = 0; row < 3; row++)
        go_row(s, l, d, r, row);
    r->in &= d->free ? NEIGHBOURS : 0;
    r->voids &= NEIGHBOURS;
    r->wins &= r->in & r->clears;
}

/* ---- offers ------------------------------------------------------------- */

/* How a label goes on to a neighbour. */
typedef struct way {
    unsigned mode;
    vec anchor, flow, turn_from;
    float anchor_run_m, run_m, bottleneck;
} way;

static brant_status put(brant_context *ctx, brant_search *s, const label *from, const ring *r,
                        int k, const way *by)
{
    tile *t = lane_tile(r, k);
    size_t place = lane_place(r, k);
    label next = {.at = brant_search_position(s, brant_tile_col(t, place), brant_tile_row(t, place)),
                  .anchor = by->anchor, .flow = by->flow, .turn_from = by->turn_from,
                  .start_m = from->start_m, .anchor_run_m = by->anchor_run_m,
                  .run_m = by->run_m, .bottleneck = by->bottleneck, .mode = by->mode};
    return brant_labels_put(ctx, &s->labels, t, place, &next,
                            brant_search_line(s, by->bottleneck),
                            brant_search_energy(s, from->start_m, by->run_m));
}

static brant_status put_free(brant_context *ctx, brant_search *s, const label *l, const step *d,
                             const ring *r, int k)
{
    way by = {LABEL_FREE, l->anchor, d->flow, l->mode == LABEL_BEAM ? d->flow : l->turn_from,
              l->anchor_run_m, r->run_m[k], r->bottleneck[k]};
    return put(ctx, s, l, r, k, &by);
}

/* Put the label on neighbour k by `way`, unless it ends there or a better one holds the
 * cell. */
static brant_status offer(brant_context *ctx, brant_search *s, const label *l, const ring *r, int k,
                          const way *by)
{
    const label *held = brant_labels_held(&s->labels, lane_tile(r, k), lane_place(r, k),
                                          by->mode);
    if (!(by->bottleneck >= s->tan_floor) ||
        (held && (held->settled ||
                  brant_search_ranks(s, held, brant_search_line(s, by->bottleneck),
                                     brant_search_energy(s, l->start_m, by->run_m)))))
        return BRANT_OK;
    return put(ctx, s, l, r, k, by);
}

static brant_status offer_bent(brant_context *ctx, brant_search *s, const label *l, const step *d,
                               const ring *r, int k, vec near)
{
    way by = {LABEL_FREE, l->at, d->flow, d->flow, l->run_m, l->run_m + sqrtf(dot(near, near)), 0};
    by.bottleneck = line_over(l, by.run_m, r->ground[k]);
    return offer(ctx, s, l, r, k, &by);
}

static brant_status offer_beam(brant_context *ctx, brant_search *s, const label *l, const step *d,
                               const ring *r, int k)
{
    way by = {LABEL_BEAM, l->anchor, d->ahead, l->turn_from, l->anchor_run_m, r->run_m[k],
              r->bottleneck[k]};
    return r->clears >> k & 1 ? offer(ctx, s, l, r, k, &by) : BRANT_OK;
}

/* The ways by which a label goes on to a neighbour that is not in the cone seen from its
 * anchor: that one needs no bend. */
static brant_status go_aside(brant_context *ctx, brant_search *s, const label *l, const step *d,
                             const ring *r, int k)
{
    vec near = {s->near_east[k], s->near_north[k]};
    vec far = {d->run.east + near.east, d->run.north + near.north};
    bool bent = d->bent && in_cone(s, near, d->flow, s->spread);
    bool beam = d->beam && dot(near, d->ahead) > 0.0f && in_cone(s, far, d->ahead, straight);
    if (r->voids >> k & 1) {
        if ((bent || beam) && l->bottleneck >= s->tan_reach)
            s->truncated = true;
        return BRANT_OK;
    }
    brant_status status = BRANT_OK;
    if (bent)
        status = offer_bent(ctx, s, l, d, r, k, near);
    if (beam && status == BRANT_OK)
        status = offer_beam(ctx, s, l, d, r, k);
    return status;
}

brant_status brant_search_expand(brant_context *ctx, brant_search *s, const label *l, tile *own)
{
    ring r;
    r.own = own;
    r.place = l->cell;
    step d = decide(s, l, (vec){own->ground->east[l->cell], own->ground->north[l->cell]});
    brant_status status = look_around(ctx, s, &r);
    if (status != BRANT_OK)
        return status;
    go_freely(s, l, &d, &r);
    if ((r.in & r.voids) && l->bottleneck >= s->tan_reach)
        s->truncated = true; /* cut off by what is not known, at the reach angle */
    for (unsigned wins = r.wins; wins && status == BRANT_OK; wins &= wins - 1)
        status = put_free(ctx, s, l, &d, &r, __builtin_ctz(wins));
    unsigned aside = d.bent || d.beam ? NEIGHBOURS & ~r.in : 0;
    for (; aside && status == BRANT_OK; aside &= aside - 1)
        status = go_aside(ctx, s, l, &d, &r, __builtin_ctz(aside));
    return status;
}
