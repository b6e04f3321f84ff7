/* The ground of a square, and the sums that make a zone's figures. */
#include "tally.h"

#include "horn.h"

#include <stdlib.h>

/* ---- the ground --------------------------------------------------------- */

/* Read into rows of wide.cols cells; z keeps its outermost ring, where no
 * gradient can be had. */
static void fill_gradients(const brant_ground *ground, brant_square_ground *g)
{
    const brant_window *w = &g->wide;
    const size_t cols = (size_t)w->cols;
    for (size_t i = 0; i < cols; i++) { /* first and last row */
        size_t last = (size_t)(w->rows - 1) * cols + i;
        g->rise_east[i] = g->rise_north[i] = g->slope[i] = NAN;
        g->rise_east[last] = g->rise_north[last] = g->slope[last] = NAN;
    }
    for (int r = 1; r < w->rows - 1; r++) {
        const size_t at = (size_t)r * cols;
        const float *z = g->z + at;
        g->rise_east[at] = g->rise_north[at] = g->slope[at] = NAN;
        g->rise_east[at + cols - 1] = g->rise_north[at + cols - 1] = g->slope[at + cols - 1] = NAN;
        brant_gradient_row(ground, w->col + 1, w->row + r, w->cols - 2, z - cols, z, z + cols,
                           g->rise_east + at + 1, g->rise_north + at + 1);
        for (size_t i = at + 1; i < at + cols - 1; i++)
            g->slope[i] = brant_slope_of(g->rise_east[i], g->rise_north[i]);
    }
}

brant_status brant_square_ground_read(brant_context *ctx, brant_source *source,
                                      const brant_ground *ground, const brant_window *square,
                                      int margin_cols, int margin_rows, brant_square_ground *out)
{
    /* one more for the windows of the outermost cells that need a gradient */
    const int more_cols = margin_cols + 1, more_rows = margin_rows + 1;
    brant_status status = BRANT_ERR_MEMORY;
    *out = (brant_square_ground){
        .square = *square,
        .wide = {square->col - more_cols, square->row - more_rows, square->cols + 2 * more_cols,
                 square->rows + 2 * more_rows}};
    const size_t cells = (size_t)out->wide.cols * (size_t)out->wide.rows;
    out->z = brant_alloc(ctx, cells, sizeof *out->z);
    out->rise_east = brant_alloc(ctx, cells, sizeof *out->rise_east);
    out->rise_north = brant_alloc(ctx, cells, sizeof *out->rise_north);
    out->slope = brant_alloc(ctx, cells, sizeof *out->slope);
    if (out->z && out->rise_east && out->rise_north && out->slope)
        status = source->read(source, ctx, &out->wide, out->z);
    if (status == BRANT_OK)
        fill_gradients(ground, out);
    else
        brant_square_ground_clear(out);
    return status;
}

void brant_square_ground_clear(brant_square_ground *g)
{
    free(g->z);
    free(g->rise_east);
    free(g->rise_north);
    free(g->slope);
    *g = (brant_square_ground){0};
}

bool brant_square_at_void(const brant_square_ground *g, int col, int row)
{
    for (int r = row - 1; r <= row + 1; r++) {
        const float *slope = g->slope + brant_square_at(g, col, r);
        if (isnan(slope[-1]) || isnan(slope[0]) || isnan(slope[1]))
            return true;
    }
    return false;
}

/* ---- the sums ----------------------------------------------------------- */

brant_tally brant_tally_start(uint32_t number)
{
    return (brant_tally){.zone = {.number = number, .face = number, .low_m = NAN, .high_m = NAN,
                                  .steepest_deg = NAN}};
}

static void count_height(brant_zone *zone, float z, int col, int row)
{
    if (isnan(z))
        return;
    if (isnan(zone->low_m) || z < zone->low_m)
        zone->low_m = z;
    if (isnan(zone->high_m) || z > zone->high_m) {
        zone->high_m = z;
        zone->high_col = col;
        zone->high_row = row;
    }
}

static void count_slope(brant_tally *tally, float slope, float rise_east, float rise_north,
                        double area)
{
    if (isnan(slope))
        return;
    double rise = sqrt((double)rise_east * rise_east + (double)rise_north * rise_north);
    tally->known_m2 += area;
    tally->slope_m2 += slope * area;
    tally->steep_m2 += slope > 45.0f ? area : 0.0;
    if (isnan(tally->zone.steepest_deg) || slope > tally->zone.steepest_deg)
        tally->zone.steepest_deg = slope;
    if (rise > 0.0) {
        tally->aspect_east -= rise_east / rise;
        tally->aspect_north -= rise_north / rise;
    }
}

static void stretch_box(brant_window *box, int col, int row)
{
    if (col < box->col) {
        box->cols += box->col - col;
        box->col = col;
    }
    if (col >= box->col + box->cols)
        box->cols = col - box->col + 1;
    if (row >= box->row + box->rows) /* rows come in rising order */
        box->rows = row - box->row + 1;
}

void brant_tally_cell(brant_tally *tally, const brant_square_ground *g, int col, int row,
                      double area)
{
    const size_t at = brant_square_at(g, col, row);
    const int grid_col = g->square.col + col, grid_row = g->square.row + row;
    brant_zone *zone = &tally->zone;
    if (zone->cells == 0) {
        zone->box = (brant_window){grid_col, grid_row, 1, 1};
        zone->high_col = grid_col;
        zone->high_row = grid_row;
    }
    zone->cells++;
    zone->area_m2 += area;
    stretch_box(&zone->box, grid_col, grid_row);
    count_height(zone, g->z[at], grid_col, grid_row);
    count_slope(tally, g->slope[at], g->rise_east[at], g->rise_north[at], area);
    if (!(zone->flags & BRANT_ZONE_AT_VOID) && brant_square_at_void(g, col, row))
        zone->flags |= BRANT_ZONE_AT_VOID;
}

void brant_tally_add(brant_tally *tally, const brant_tally *later)
{
    brant_zone *zone = &tally->zone;
    const brant_zone *more = &later->zone;
    zone->cells += more->cells;
    zone->area_m2 += more->area_m2;
    zone->flags |= more->flags;
    zone->box = brant_window_union(zone->box, more->box);
    if (!(zone->steepest_deg >= more->steepest_deg))
        zone->steepest_deg = isnan(more->steepest_deg) ? zone->steepest_deg : more->steepest_deg;
    count_height(zone, more->low_m, more->high_col, more->high_row);
    count_height(zone, more->high_m, more->high_col, more->high_row);
    tally->known_m2 += later->known_m2;
    tally->slope_m2 += later->slope_m2;
    tally->steep_m2 += later->steep_m2;
    tally->aspect_east += later->aspect_east;
    tally->aspect_north += later->aspect_north;
}

brant_zone brant_tally_zone(const brant_tally *tally, const brant_zone_options *options)
{
    brant_zone zone = tally->zone;
    const bool known = tally->known_m2 > 0.0;
    const bool faces = tally->aspect_east != 0.0 || tally->aspect_north != 0.0;
    zone.mean_deg = known ? (float)(tally->slope_m2 / tally->known_m2) : NAN;
    zone.above45 = known ? (float)(tally->steep_m2 / tally->known_m2) : NAN;
    zone.aspect_deg =
        faces ? brant_aspect_of((float)-tally->aspect_east, (float)-tally->aspect_north) : NAN;
    zone.face_m2 = zone.area_m2;
    if (zone.area_m2 < options->min_area_m2)
        zone.flags |= BRANT_ZONE_SMALL;
    return zone;
}
