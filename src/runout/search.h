/* What a search keeps, shared by its driver (search.c) and its step (expand.c). The
 * algorithm is told at the top of search.c. */
#ifndef BRANT_RUNOUT_SEARCH_H
#define BRANT_RUNOUT_SEARCH_H

#include "labels.h"

#define TURN_DEG 10.0
#define BEND_DEG 30.0
#define TOLERANCE_M 1.0f

/* The cells around a cell: three rows of four lanes, so that a row is one load and one
 * vector. Lane 5 is the cell itself; 3, 7 and 11 are two columns off, and not looked at. */
#define LANES 12
#define NEIGHBOURS 0x757u /* a bit for each lane that is a neighbour */

static inline int lane_col(int k)
{
    return k % 4 - 1;
}

static inline int lane_row(int k)
{
    return k / 4 - 1;
}

typedef struct spread {
    float cosine, sine;
} spread;

struct brant_search {
    brant_flow *flow;
    brant_reach_options options;
    float tan_floor, tan_reach, tan_rank, cos_turn, cos_bend;
    spread spread;
    bool every_way;              /* no flow is followed */
    bool cross;                  /* voids stop nothing */
    float carry_m;               /* INFINITY: `cut` stays empty */
    int cols, rows;              /* of the grid */
    brant_window keep;           /* cells that results hold */
    labels labels;               /* tiles, labels and the queue */
    brant_reached *cells;        /* result */
    size_t cell_count, cell_capacity;
    brant_start *cut;            /* the result's */
    size_t cut_count, cut_capacity;
    /* of the zone at hand: */
    brant_matrix m;
    double col0, row0;           /* origin of positions, grid coordinates */
    float near_east[LANES], near_north[LANES], near_m[LANES]; /* from a cell to those around it,
                                                                 metres; how far that is */
    float half_cell;             /* metres */
    bool truncated;
};

static inline vec brant_search_position(const brant_search *s, int col, int row)
{
    double dc = col + 0.5 - s->col0, dr = row + 0.5 - s->row0;
    return (vec){(float)(s->m.col_east * dc + s->m.row_east * dr),
                 (float)(s->m.col_north * dc + s->m.row_north * dr)};
}

static inline float dot(vec a, vec b)
{
    return a.east * b.east + a.north * b.north;
}

static inline float cross(vec a, vec b)
{
    return a.east * b.north - a.north * b.east;
}

/* A label's rank: its line, which is its bottleneck up to BRANT_RANK_DEG, then the height of its
 * energy line at BRANT_RANK_DEG. */
static inline float brant_search_line(const brant_search *s, float bottleneck)
{
    return bottleneck < s->tan_rank ? bottleneck : s->tan_rank;
}

static inline float brant_search_energy(const brant_search *s, float start_m, float run_m)
{
    return start_m - s->tan_rank * run_m;
}

/* Does the label rank as high as this, or higher? */
static inline bool brant_search_ranks(const brant_search *s, const label *l, float line,
                                      float energy)
{
    float own = brant_search_line(s, l->bottleneck);
    return own > line || (own == line && brant_search_energy(s, l->start_m, l->run_m) >= energy);
}

/* Bytes of scratch that the search holds: what its largest zone so far needed. */
size_t brant_search_memory(const brant_search *s);

/* Offer a settled label, on its tile, to its eight neighbours. */
brant_status brant_search_expand(brant_context *ctx, brant_search *s, const label *l, tile *own);

#endif
