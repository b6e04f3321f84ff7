/* One step of a search: a settled label is offered to its cell's eight neighbours. */
#include "search.h"

#include <math.h>
#include <string.h>

static const spread straight = {1.0f, 0.0f};

/* ---- what a label does at its cell -------------------------------------- */

static inline bool no_axis(vec axis)
{
    return axis.east == 0.0f && axis.north == 0.0f;
}

/* Is the offset `v` in the cone of half-angle `to_side` about `axis`, widened by half
 * a cell? Where no direction is known (axis 0, 0), every direction is in it. */
static inline bool in_cone(const brant_search *s, vec v, vec axis, spread to_side)
{
    float along = dot(v, axis), off = fabsf(cross(v, axis));
    return no_axis(axis) |
           ((along > 0.0f) & (off * to_side.cosine - along * to_side.sine <= s->half_cell));
}

typedef struct step {
    vec run;        /* from the anchor to the cell, metres */
    vec flow;       /* direction of flow that holds from here on */
    vec ahead;      /* beam: unit vector from the anchor to the cell; flow at the anchor itself */
    float least_along; /* metres along the flow above which the cone holds */
    /* Words, for three bytes that are written apart and copied together make the processor
     * wait for all that was written before: a tenth of the whole search. */
    unsigned free;  /* goes on from its anchor, spreading about flow */
    unsigned bent;  /* goes on from the cell as a new anchor */
    unsigned beam;  /* goes on straight ahead */
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
    /* steep, and not against the travel */
    bool falls = dot(fall, at_anchor ? l->flow : d.run) > 0.0f;
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

/* Ground where a search crosses voids: as low as a model's may be. At -20,000 m, say, a line in
 * a wide void would be followed for 49 km every way (from 3,000 m at 25 degrees), gigabytes of
 * labels. */
#define BOTTOM_M ((float)BRANT_LOWEST)

static void sink_voids(const brant_search *s, ring *r)
{
    int col0 = brant_tile_col(r->own, r->place), row0 = brant_tile_row(r->own, r->place);
    for (int k = 0; k < LANES; k++) {
        int col = col0 + lane_col(k), row = row0 + lane_row(k);
        bool on_grid = col >= 0 && row >= 0 && col < s->cols && row < s->rows;
        if (isnan(r->ground[k]) && on_grid && (NEIGHBOURS >> k & 1))
            r->ground[k] = BOTTOM_M;
    }
}

static brant_status look_around(brant_context *ctx, brant_search *s, tile *t, size_t place,
                                ring *r)
{
    size_t across = place & PAGE_MASK, down = place >> PAGE_SHIFT;
    r->own = t;
    r->place = place;
    r->rim = across - 1 >= PAGE - 3 || down - 1 >= PAGE - 2;
    if (r->rim)
        return look_over_rim(ctx, s, r);
    for (size_t row = 0; row < 3; row++) {
        size_t from = place + row * PAGE - PAGE - 1;
        memcpy(r->ground + 4 * row, t->ground->elevation + from, 4 * sizeof(float));
        memcpy(r->held_line + 4 * row, t->line + from, 4 * sizeof(float));
        memcpy(r->held_energy + 4 * row, t->energy + from, 4 * sizeof(float));
    }
    return BRANT_OK;
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

/* in_cone() of four offsets; `least_along` below 0 where no direction is known. */
static inline quad_is in_cone_4(const brant_search *s, quad east, quad north, vec axis,
                                float least_along, spread to_side)
{
    quad along = east * axis.east + north * axis.north;
    quad off = east * axis.north - north * axis.east;
    off = (quad)((quad_is)off & INT32_MAX); /* without its sign */
    return (along > least_along) & (off * to_side.cosine - along * to_side.sine <= s->half_cell);
}

/* Does the label, with this bottleneck and run, rank above the free labels of the row? */
static inline quad_is outranks(const brant_search *s, const label *l, const ring *r, int k,
                               quad bottleneck, quad run_m)
{
    quad held = load(r->held_line + k), line = smaller(bottleneck, s->tan_rank);
    quad energy = l->start_m - s->tan_rank * run_m;
    return (line > held) | ((line == held) & (energy > load(r->held_energy + k)));
}

/* The label's bottleneck once it has run `run_m` metres and stands over the row's ground. */
static inline quad lines_over(const label *l, const ring *r, int k, quad run_m)
{
    return smaller((l->start_m - load(r->ground + k) + TOLERANCE_M) / run_m, l->bottleneck);
}

/* The label gone on freely. */
static void go_freely(const brant_search *s, const label *l, const step *d, ring *r)
{
    unsigned in = 0, clear = 0, wins = 0, voids = 0;
    for (int k = 0; k < LANES; k += 4) {
        quad east = d->run.east + load(s->near_east + k);
        quad north = d->run.north + load(s->near_north + k), square = east * east + north * north;
        quad run_m = {sqrtf(square[0]), sqrtf(square[1]), sqrtf(square[2]), sqrtf(square[3])};
        run_m += l->anchor_run_m;
        quad bottleneck = lines_over(l, r, k, run_m), ground = load(r->ground + k);
        memcpy(r->run_m + k, &run_m, sizeof run_m);
        memcpy(r->bottleneck + k, &bottleneck, sizeof bottleneck);
        in |= bits_of(in_cone_4(s, east, north, d->flow, d->least_along, s->spread)) << k;
        /* sideways back towards the anchor is no progress */
        clear |= bits_of((run_m > l->run_m) & (bottleneck >= s->tan_floor)) << k;
        wins |= bits_of(outranks(s, l, r, k, bottleneck, run_m)) << k;
        voids |= bits_of(ground != ground) << k;
    }
    r->in = d->free ? in & NEIGHBOURS : 0;
    r->clears = clear;
    r->wins = r->in & clear & wins;
    r->voids = voids & NEIGHBOURS;
}

/* The neighbours that the label goes on to from the cell as a new anchor, and those that it
 * shoots on to; none that is in the cone seen from its anchor: that needs no bend. */
typedef struct aside {
    float run_m[LANES], bottleneck[LANES]; /* of the bent */
    unsigned bent, wins; /* wins: bent, clears the ground and ranks above the label there */
    unsigned beam;
} aside;

static void go_aside(const brant_search *s, const label *l, const step *d, const ring *r, aside *a)
{
    unsigned out = NEIGHBOURS & ~r->in;
    a->bent = a->beam = a->wins = 0;
    for (int k = 0; k < LANES; k += 4) {
        quad east = load(s->near_east + k), north = load(s->near_north + k);
        quad run_m = l->run_m + load(s->near_m + k), bottleneck = lines_over(l, r, k, run_m);
        memcpy(a->run_m + k, &run_m, sizeof run_m);
        memcpy(a->bottleneck + k, &bottleneck, sizeof bottleneck);
        a->bent |= bits_of(in_cone_4(s, east, north, d->flow, 0.0f, s->spread)) << k;
        a->wins |= bits_of((bottleneck >= s->tan_floor) &
                           outranks(s, l, r, k, bottleneck, run_m)) << k;
        quad_is on = east * d->ahead.east + north * d->ahead.north > 0.0f;
        a->beam |= bits_of(on & in_cone_4(s, d->run.east + east, d->run.north + north, d->ahead,
                                          0.0f, straight)) << k;
    }
    a->bent &= d->bent ? out : 0;
    a->beam &= d->beam ? out : 0;
    a->wins &= a->bent;
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
    int col = brant_tile_col(t, place), row = brant_tile_row(t, place);
    label *next;
    brant_status status = brant_labels_claim(ctx, &s->labels, t, place, by->mode,
                                             brant_search_line(s, by->bottleneck),
                                             brant_search_energy(s, from->start_m, by->run_m),
                                             &next);
    if (status != BRANT_OK)
        return status;
    next->at = brant_search_position(s, col, row);
    next->anchor = by->anchor;
    next->flow = by->flow;
    next->turn_from = by->turn_from;
    next->start_m = from->start_m;
    next->anchor_run_m = by->anchor_run_m;
    next->run_m = by->run_m;
    next->bottleneck = by->bottleneck;
    return BRANT_OK;
}

static brant_status put_free(brant_context *ctx, brant_search *s, const label *l, const step *d,
                             const ring *r, int k)
{
    way by = {LABEL_FREE, l->anchor, d->flow, l->mode == LABEL_BEAM ? d->flow : l->turn_from,
              l->anchor_run_m, r->run_m[k], r->bottleneck[k]};
    return put(ctx, s, l, r, k, &by);
}

static brant_status put_bent(brant_context *ctx, brant_search *s, const label *l, const step *d,
                             const ring *r, const aside *a, int k)
{
    way by = {LABEL_FREE, l->at, d->flow, d->flow, l->run_m, a->run_m[k], a->bottleneck[k]};
    return put(ctx, s, l, r, k, &by);
}

static brant_status offer_beam(brant_context *ctx, brant_search *s, const label *l, const step *d,
                               const ring *r, int k)
{
    way by = {LABEL_BEAM, l->anchor, d->ahead, l->turn_from, l->anchor_run_m, r->run_m[k],
              r->bottleneck[k]};
    const tile *t = lane_tile(r, k);
    if (t->held[lane_place(r, k)].beam == SETTLED_BEAM)
        return BRANT_OK;
    const label *held = brant_labels_held(&s->labels, t, lane_place(r, k), LABEL_BEAM);
    if (held && brant_search_ranks(s, held, brant_search_line(s, by.bottleneck),
                                   brant_search_energy(s, l->start_m, by.run_m)))
        return BRANT_OK;
    return put(ctx, s, l, r, k, &by);
}

/* At the reach angle the label is cut off by what is not known. */
static brant_status cut_off(brant_context *ctx, brant_search *s, const label *l, const tile *own)
{
    s->truncated = true;
    float head = l->start_m - own->ground->elevation[l->cell] - s->tan_reach * l->run_m;
    if (!(head > s->carry_m))
        return BRANT_OK;
    brant_status status = brant_grow(ctx, &s->cut, &s->cut_capacity, s->cut_count + 1,
                                     sizeof *s->cut);
    if (status == BRANT_OK)
        s->cut[s->cut_count++] = (brant_start){brant_tile_col(own, l->cell),
                                               brant_tile_row(own, l->cell), head};
    return status;
}

static brant_status offer_aside(brant_context *ctx, brant_search *s, const label *l,
                                const step *d, const ring *r)
{
    brant_status status = BRANT_OK;
    aside a;
    go_aside(s, l, d, r, &a);
    if (((a.bent | a.beam) & r->voids) && l->bottleneck >= s->tan_reach)
        status = cut_off(ctx, s, l, r->own);
    for (unsigned bent = a.wins; bent && status == BRANT_OK; bent &= bent - 1)
        status = put_bent(ctx, s, l, d, r, &a, __builtin_ctz(bent));
    for (unsigned beam = a.beam & r->clears; beam && status == BRANT_OK; beam &= beam - 1)
        status = offer_beam(ctx, s, l, d, r, __builtin_ctz(beam));
    return status;
}

brant_status brant_search_expand(brant_context *ctx, brant_search *s, const label *l, tile *own)
{
    ring r;
    step d = decide(s, l, (vec){own->ground->east[l->cell], own->ground->north[l->cell]});
    brant_status status = look_around(ctx, s, own, l->cell, &r);
    if (status != BRANT_OK)
        return status;
    if (s->cross)
        sink_voids(s, &r);
    go_freely(s, l, &d, &r);
    if ((r.in & r.voids) && l->bottleneck >= s->tan_reach)
        status = cut_off(ctx, s, l, own);
    for (unsigned wins = r.wins; wins && status == BRANT_OK; wins &= wins - 1)
        status = put_free(ctx, s, l, &d, &r, __builtin_ctz(wins));
    if (status == BRANT_OK && (d.bent || d.beam))
        status = offer_aside(ctx, s, l, &d, &r);
    return status;
}
