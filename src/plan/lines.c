#include "lines.h"

#include <math.h>

/* Of a window: it is held in memory, some 31 bytes a cell. */
#define CELLS_MAX 64000000

bool brant_on_grid(const brant_grid *grid, const brant_sample *sample)
{
    return sample->col >= 0.0 && sample->row >= 0.0 && sample->col < grid->cols &&
           sample->row < grid->rows; /* false for NaN */
}

double brant_metres_outside(const brant_grid *grid, const brant_track *track)
{
    double outside = 0.0;
    for (size_t i = 1; i < track->count; i++) {
        const brant_sample *a = &track->samples[i - 1], *b = &track->samples[i];
        if (!b->first)
            outside += (b->along_m - a->along_m) *
                       (!brant_on_grid(grid, a) + !brant_on_grid(grid, b)) / 2.0;
    }
    return outside;
}

/* ---- sampling ----------------------------------------------------------- */

/* The shorter side of a cell at grid coordinates, metres. */
static double shorter_side(const brant_ground *ground, double col, double row)
{
    brant_matrix m;
    brant_ground_matrix(ground, col, row, &m);
    return fmin(brant_matrix_cell_width(&m), brant_matrix_cell_height(&m));
}

double brant_lines_step(const brant_dem *dem, const brant_gpx *gpx, brant_locator *locator)
{
    const brant_grid *grid = &dem->grid;
    double least = INFINITY;
    for (size_t i = 0; i < gpx->point_count; i++) {
        double col, row;
        brant_locator_to_grid(locator, gpx->points[i].lon, gpx->points[i].lat, &col, &row);
        if (col >= 0.0 && row >= 0.0 && col < grid->cols && row < grid->rows)
            least = fmin(least, shorter_side(dem->ground, col, row)); /* NaN is passed over */
    }
    if (isinf(least))
        least = shorter_side(dem->ground, grid->cols / 2.0, grid->rows / 2.0);
    return least / 2.0;
}

brant_status brant_lines_sample(brant_context *ctx, const brant_gpx *gpx, brant_locator *locator,
                                double step_m, brant_track *tracks)
{
    brant_status status = BRANT_OK;
    size_t samples = 0;
    for (size_t i = 0; i < gpx->route_count && status == BRANT_OK; i++) {
        status = brant_track_sample(ctx, gpx, i, locator, step_m, &tracks[i]);
        samples += tracks[i].count;
        if (samples > BRANT_SAMPLES_MAX)
            return brant_fail(ctx, BRANT_ERR_INPUT, "%s: too long: its routes need more than %d "
                              "samples %.3g m apart", gpx->file, BRANT_SAMPLES_MAX, step_m);
    }
    return status;
}

/* ---- the window --------------------------------------------------------- */

static int clamp_cell(double at, int cells)
{
    return at < 0.0 ? 0 : at >= cells ? cells - 1 : (int)at;
}

brant_status brant_lines_window(brant_context *ctx, const brant_dem *dem, const char *name,
                                const brant_track *tracks, size_t count, double margin_m,
                                brant_window *window)
{
    const brant_grid *grid = &dem->grid;
    double low_col = INFINITY, low_row = INFINITY, high_col = -INFINITY, high_row = -INFINITY;
    for (size_t t = 0; t < count; t++)
        for (size_t i = 0; i < tracks[t].count; i++) {
            const brant_sample *s = &tracks[t].samples[i];
            if (!brant_on_grid(grid, s))
                continue;
            low_col = fmin(low_col, s->col);
            high_col = fmax(high_col, s->col);
            low_row = fmin(low_row, s->row);
            high_row = fmax(high_row, s->row);
        }
    if (low_col > high_col)
        return brant_fail(ctx, BRANT_ERR_INPUT, "%s: the route lies wholly outside %s", name,
                          dem->name);
    brant_matrix m;
    brant_ground_matrix(dem->ground, (low_col + high_col) / 2.0, (low_row + high_row) / 2.0, &m);
    double dc = ceil(margin_m / brant_matrix_cell_width(&m)) + 2.0;
    double dr = ceil(margin_m / brant_matrix_cell_height(&m)) + 2.0;
    int col = clamp_cell(low_col - dc, grid->cols), row = clamp_cell(low_row - dr, grid->rows);
    *window = (brant_window){col, row, clamp_cell(high_col + dc, grid->cols) - col + 1,
                             clamp_cell(high_row + dr, grid->rows) - row + 1};
    if ((int64_t)window->cols * window->rows > CELLS_MAX)
        return brant_fail(ctx, BRANT_ERR_INPUT, "%s: too wide: its routes lie in %d x %d cells of "
                          "%s, more than %d", name, window->cols, window->rows, dem->name,
                          CELLS_MAX);
    return BRANT_OK;
}

void brant_lines_mark(const brant_grid *grid, const brant_track *tracks, size_t count,
                      const brant_window *window, uint8_t *cells)
{
    for (size_t t = 0; t < count; t++)
        for (size_t i = 0; i < tracks[t].count; i++) {
            const brant_sample *s = &tracks[t].samples[i];
            if (brant_on_grid(grid, s) && brant_window_has(window, (int)s->col, (int)s->row))
                cells[(size_t)((int)s->row - window->row) * (size_t)window->cols +
                      (size_t)((int)s->col - window->col)] = 1;
        }
}
