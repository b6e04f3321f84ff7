/* Where the cells of a raster lie under the picture's pixels. */
#include "map_parts.h"

#include <math.h>
#include <stdlib.h>

/* Pixels between nodes: 50 m at 1:25,000, 2 km at 1:1,000,000. */
#define STEP 16

brant_status brant_map_warp_make(brant_context *ctx, const char *name, const brant_grid *grid,
                                 const brant_map_frame *frame, int cols, int rows,
                                 brant_map_warp *warp)
{
    brant_locator *locator = NULL;
    warp->across = cols / STEP + 2;
    warp->down = rows / STEP + 2;
    warp->nodes = brant_alloc(ctx, (size_t)warp->across * (size_t)warp->down,
                              2 * sizeof *warp->nodes);
    if (!warp->nodes)
        return BRANT_ERR_MEMORY;
    brant_status status = brant_locator_create_from(ctx, name, grid, frame->crs, &locator);
    if (status != BRANT_OK)
        return status;
    double *node = warp->nodes;
    for (int j = 0; j < warp->down; j++)
        for (int i = 0; i < warp->across; i++, node += 2) {
            double easting, northing;
            brant_map_from_page(frame, frame->box.x + (i * STEP + 0.5) * BRANT_MAP_PIXEL,
                                frame->box.y + (j * STEP + 0.5) * BRANT_MAP_PIXEL, &easting,
                                &northing);
            brant_locator_to_grid(locator, easting, northing, &node[0], &node[1]);
        }
    brant_locator_destroy(locator);
    return BRANT_OK;
}

static double blend(double a, double b, double t)
{
    return a + (b - a) * t;
}

void brant_map_warp_at(const brant_map_warp *warp, double i, double j, double *col, double *row)
{
    int across = (int)floor(i / STEP), down = (int)floor(j / STEP);
    across = across < 0 ? 0 : across > warp->across - 2 ? warp->across - 2 : across;
    down = down < 0 ? 0 : down > warp->down - 2 ? warp->down - 2 : down;
    double s = i / STEP - across, t = j / STEP - down;
    const double *north = warp->nodes + 2 * ((size_t)down * (size_t)warp->across + (size_t)across);
    const double *south = north + 2 * (size_t)warp->across;
    *col = blend(blend(north[0], north[2], s), blend(south[0], south[2], s), t);
    *row = blend(blend(north[1], north[3], s), blend(south[1], south[3], s), t);
}

void brant_map_warp_clear(brant_map_warp *warp)
{
    free(warp->nodes);
    warp->nodes = NULL;
}
