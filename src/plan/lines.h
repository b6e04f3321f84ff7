/* Lines on the grid: sampling the routes of a GPX file, their box and their cells. */
#ifndef BRANT_PLAN_LINES_H
#define BRANT_PLAN_LINES_H

#include "brant/plan.h"

/* Ground looked at around every sample, whatever the margin: remote triggering looks
 * 100 m far, a cell more is for the slope there. */
#define BRANT_AROUND_ROUTE_M 120.0
/* With a bulletin remote triggering may look further. */
#define BRANT_AROUND_ROUTE_RATED_M (BRANT_REMOTE_FAR_M + 20.0)

bool brant_on_grid(const brant_grid *grid, const brant_sample *sample);

/* Half of the smallest cell that the GPX file's points stand on: on a geographic grid
 * from 58 to 71 N cells are a third narrower at its top. Samples are no further apart. */
double brant_lines_step(const brant_dem *dem, const brant_gpx *gpx, brant_locator *locator);
/* Fill `tracks`, one a route of the GPX file; the caller clears them, also on failure. */
brant_status brant_lines_sample(brant_context *ctx, const brant_gpx *gpx, brant_locator *locator,
                                double step_m, brant_track *tracks);
double brant_metres_outside(const brant_grid *grid, const brant_track *track);

/* The window of the samples that are on the grid, `margin_m` around it. BRANT_ERR_INPUT,
 * naming `name`: none is, or it has more than 64 million cells. */
brant_status brant_lines_window(brant_context *ctx, const brant_dem *dem, const char *name,
                                const brant_track *tracks, size_t count, double margin_m,
                                brant_window *window);
/* Set the cells of `window` that a sample stands on. */
void brant_lines_mark(const brant_grid *grid, const brant_track *tracks, size_t count,
                      const brant_window *window, uint8_t *cells);

#endif
