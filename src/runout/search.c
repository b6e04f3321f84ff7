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
 * A search every way (spread 180) follows no flow: all that counts is that the energy
 * line clears the ground. That is how the unknown is searched from its rim. There the
 * floor takes BRANT_RANK_DEG's place below: one question is asked, what is reached at the
 * floor, and the highest line at that angle answers it, so that more starts never reach
 * less.
 *
 * Which label a cell keeps. Among labels whose bottleneck is BRANT_RANK_DEG or more the
 * one with the highest energy line at BRANT_RANK_DEG, which is what reaches furthest at
 * that angle; below it the one with the largest bottleneck. All release cells start
 * at once, the highest first: on ground of 30 degrees and more a path from above
 * always arrives with the higher line, so lower starts are mostly taken over before
 * they are looked at. Free labels and beams do not compete: a cell can hold both.
 *
 * What that loses. A label's way on depends on its anchor and, where the ground does not
 * fall, on the flow it brings; the one that wins a cell may not go where one that it
 * displaced would have gone. A zone searched as a whole therefore reaches less than its
 * cells one by one: DEVELOPERS.md has figures, and what was tried against it.
 *
 * Height error. A model's noise beside the start would make a path look too flat on
 * its first step and end it for good. The bottleneck therefore forgives
 * TOLERANCE_M of height; the value reported at a cell does not.
 *
 * Speed. Most offers fail: their rank is compared, for the eight neighbours at once, with
 * ranks that lie beside the ground (expand.c, labels.h), before a label is looked at. The
 * queue is a row of fine buckets by energy, and one by line (queue.h). Tiles, labels
 * and queue serve zone after zone and hold what the largest zone so far needed.
 *
 * Positions are metres from the middle of the starts by the grid-to-ground matrix
 * there, held for the whole search: over 5 km a geographic grid at 47 degrees north
 * scales by 0.09 %, 4 m. */
#include "search.h"

#include <math.h>
#include <stdlib.h>
#include <string.h>

#define RADIANS (M_PI / 180.0)

void brant_search_set(brant_search *s, const brant_reach_options *options)
{
    s->options = *options;
    s->tan_floor = (float)tan(options->floor_deg * RADIANS);
    s->tan_reach = (float)tan(options->reach_angle_deg * RADIANS);
    s->every_way = options->spread_deg >= 180.0;
    s->tan_rank = s->every_way ? s->tan_floor : (float)tan(BRANT_RANK_DEG * RADIANS);
    s->cos_turn = (float)cos(TURN_DEG * RADIANS);
    s->cos_bend = (float)cos(BEND_DEG * RADIANS);
    s->spread.cosine = (float)cos(options->spread_deg * RADIANS);
    s->spread.sine = (float)sin(options->spread_deg * RADIANS);
    s->cross = false;
    s->carry_m = INFINITY;
    s->labels.queue.cap = s->tan_rank;
}

brant_status brant_search_create(brant_context *ctx, brant_flow *flow,
                                 const brant_reach_options *options, brant_search **search)
{
    brant_search *s = brant_alloc(ctx, 1, sizeof *s);
    if (!s)
        return BRANT_ERR_MEMORY;
    s->flow = flow;
    brant_flow_size(flow, &s->cols, &s->rows);
    s->keep = (brant_window){0, 0, s->cols, s->rows};
    brant_labels_init(&s->labels, flow);
    brant_search_set(s, options);
    *search = s;
    return BRANT_OK;
}

void brant_search_destroy(brant_search *search)
{
    if (!search)
        return;
    brant_labels_clear(&search->labels);
    free(search->cells);
    free(search->cut);
    free(search);
}

void brant_search_keep(brant_search *search, const brant_window *window)
{
    search->keep = *window;
}

void brant_search_carry(brant_search *search, double above_m)
{
    search->carry_m = (float)above_m;
}

void brant_search_cross(brant_search *search)
{
    search->cross = true;
}

size_t brant_search_memory(const brant_search *s)
{
    return sizeof *s + brant_labels_memory(&s->labels) + s->cell_capacity * sizeof *s->cells +
           s->cut_capacity * sizeof *s->cut;
}

static brant_status start_at(brant_context *ctx, brant_search *s, const brant_start *start)
{
    tile *t;
    brant_status status = brant_labels_tile(ctx, &s->labels, start->col, start->row, &t);
    if (status != BRANT_OK)
        return status;
    size_t place = brant_labels_cell(start->col, start->row);
    vec fall = {t->ground->east[place], t->ground->north[place]};
    float start_m = t->ground->elevation[place] + start->rise_m;
    if (isnan(start_m))
        return BRANT_OK; /* no elevation, no energy: whoever numbers zones flags it */
    label *l = brant_labels_held(&s->labels, t, place, LABEL_FREE);
    if (l && brant_search_ranks(s, l, s->tan_rank, start_m))
        return BRANT_OK; /* the same cell given twice */
    status = brant_labels_claim(ctx, &s->labels, t, place, LABEL_FREE, s->tan_rank, start_m, &l);
    if (status != BRANT_OK)
        return status;
    l->at = l->anchor = brant_search_position(s, start->col, start->row);
    l->flow = l->turn_from = s->every_way ? (vec){0.0f, 0.0f} : fall;
    l->start_m = start_m;
    l->anchor_run_m = l->run_m = 0.0f;
    l->bottleneck = INFINITY;
    l->releases = 1;
    return BRANT_OK;
}

/* Put a settled label's cell into the result, or raise the entry that the cell has
 * from its other mode. The result holds tangents until the search ends. */
static brant_status report_cell(brant_context *ctx, brant_search *s, const label *l, tile *t)
{
    int col = brant_tile_col(t, l->cell), row = brant_tile_row(t, l->cell);
    if (col < s->keep.col || col >= s->keep.col + s->keep.cols || row < s->keep.row ||
        row >= s->keep.row + s->keep.rows)
        return BRANT_OK;
    float ground = t->ground->elevation[l->cell];
    float reached = l->run_m > 0.0f ? (l->start_m - ground) / l->run_m : INFINITY;
    float tangent = l->bottleneck < reached ? l->bottleneck : reached;
    if (!(tangent >= s->tan_floor))
        return BRANT_OK; /* kept going by the tolerance alone */
    float head = l->run_m > 0.0f ? (reached - s->tan_reach) * l->run_m : 0.0f;
    if (l->releases)
        tangent = INFINITY; /* 90 degrees */
    uint32_t at = t->held[l->cell].result;
    if (at) {
        brant_reached *held = &s->cells[at - 1];
        held->run_m = tangent > held->reached_at_deg ? l->run_m : held->run_m;
        held->reached_at_deg = fmaxf(held->reached_at_deg, tangent);
        held->head_m = fmaxf(held->head_m, head);
        return BRANT_OK;
    }
    if (s->cell_count == s->cell_capacity &&
        brant_grow(ctx, &s->cells, &s->cell_capacity, s->cell_count + 1, sizeof *s->cells) !=
            BRANT_OK)
        return BRANT_ERR_MEMORY;
    s->cells[s->cell_count++] = (brant_reached){col, row, tangent, head, l->run_m};
    t->held[l->cell].result = (uint32_t)s->cell_count;
    return BRANT_OK;
}

static void tangents_to_degrees(brant_search *s)
{
    for (size_t i = 0; i < s->cell_count; i++)
        s->cells[i].reached_at_deg = atanf(s->cells[i].reached_at_deg) * (float)(1.0 / RADIANS);
}

/* Have the processor fetch what is around the cell that will probably be next. */
static void fetch_ahead(const brant_search *s)
{
    const label *next = &s->labels.label[brant_queue_next(&s->labels.queue)];
    const tile *t = s->labels.tile[next->tile];
    for (size_t row = 0; row < 3; row++) {
        size_t place = (next->cell + row * PAGE - PAGE) % PAGE_CELLS;
        __builtin_prefetch(&t->ground->elevation[place]);
        __builtin_prefetch(&t->line[place]);
        __builtin_prefetch(&t->energy[place]);
    }
}

/* Settle the queue's best label: report its cell, and go on from it. */
static brant_status settle(brant_context *ctx, brant_search *s, entry best, uint64_t *visits)
{
    label l = s->labels.label[best.index];
    if (l.number != best.number || brant_search_energy(s, l.start_m, l.run_m) != best.energy ||
        brant_search_line(s, l.bottleneck) != best.line)
        return BRANT_OK; /* overtaken since it was queued */
    tile *t = s->labels.tile[l.tile];
    brant_status status = BRANT_OK;
    brant_labels_spare(&s->labels, best.index);
    fetch_ahead(s);
    if (((*visits)++ & 0xfff) == 0)
        status = brant_check_stop(ctx);
    if (status == BRANT_OK)
        status = report_cell(ctx, s, &l, t);
    if (status == BRANT_OK)
        status = brant_search_expand(ctx, s, &l, t);
    brant_labels_settle(t, &l);
    return status;
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
    brant_ground_matrix(brant_flow_ground(s->flow), s->col0, s->row0, &s->m);
    double width = brant_matrix_cell_width(&s->m), height = brant_matrix_cell_height(&s->m);
    s->half_cell = (float)((width > height ? width : height) / 2.0);
    for (int k = 0; k < LANES; k++) {
        s->near_east[k] = (float)(s->m.col_east * lane_col(k) + s->m.row_east * lane_row(k));
        s->near_north[k] = (float)(s->m.col_north * lane_col(k) + s->m.row_north * lane_row(k));
        vec near = {s->near_east[k], s->near_north[k]};
        s->near_m[k] = sqrtf(dot(near, near));
    }
    s->cell_count = s->cut_count = 0;
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
    brant_labels_begin(&search->labels);
    for (size_t i = 0; i < count && status == BRANT_OK; i++)
        status = start_at(ctx, search, &starts[i]);
    while (brant_queue_take(ctx, &search->labels.queue, &best, &status))
        status = settle(ctx, search, best, &result->visits);
    brant_labels_end(&search->labels);
    tangents_to_degrees(search);
    result->truncated = search->truncated;
    result->cells = search->cells;
    result->count = search->cell_count;
    result->cut = search->cut;
    result->cut_count = search->cut_count;
    return status;
}
