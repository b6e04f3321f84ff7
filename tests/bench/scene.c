#include "scene.h"

#include "../../testdata/mountain.h"

#include <math.h>
#include <stdlib.h>
#include <string.h>

float *scene_mountains(int cols, int rows)
{
    float *demo = demo_mountain();
    float *z = demo ? malloc((size_t)cols * (size_t)rows * sizeof *z) : NULL;
    for (int r = 0; r < rows && z; r++)
        for (int c = 0; c < cols; c++) {
            int i = r % (2 * DEMO_CELLS), j = c % (2 * DEMO_CELLS);
            i = i < DEMO_CELLS ? i : 2 * DEMO_CELLS - 1 - i;
            j = j < DEMO_CELLS ? j : 2 * DEMO_CELLS - 1 - j;
            float at = demo[i * DEMO_CELLS + j];
            z[(size_t)r * (size_t)cols + (size_t)c] = at == DEMO_NODATA ? NAN : at;
        }
    free(demo);
    return z;
}

static brant_status list_starts(scene *s)
{
    size_t total = 0, at = 0;
    for (size_t i = 0; i < s->zones.count; i++)
        total += s->zones.zones[i].cells;
    s->starts = brant_alloc(&s->ctx, total, sizeof *s->starts);
    s->first = brant_alloc(&s->ctx, s->zones.count + 1, sizeof *s->first);
    if (!s->starts || !s->first)
        return BRANT_ERR_MEMORY;
    for (size_t i = 0; i < s->zones.count; i++) {
        const brant_zone *zone = &s->zones.zones[i];
        const brant_window *box = &zone->box;
        for (int r = box->row; r < box->row + box->rows; r++)
            for (int c = box->col; c < box->col + box->cols; c++)
                if (brant_zone_set_at(&s->zones, c, r) == zone->number && at < total)
                    s->starts[at++] = (brant_start){c, r, 0.0f};
        s->first[i + 1] = at;
    }
    return BRANT_OK;
}

bool scene_open(scene *s, float *z, int cols, int rows)
{
    memset(s, 0, sizeof *s);
    brant_context_init(&s->ctx);
    s->z = z;
    s->grid = (brant_grid){.cols = cols, .rows = rows, .crs = strdup("EPSG:32632"),
                           .transform = {560520.0, 10.0, 0.0, 5191990.0, 0.0, -10.0}};
    brant_zone_options options = BRANT_ZONE_OPTIONS_DEFAULT;
    brant_squares squares;
    bool *wanted = NULL;
    brant_status status = brant_squares_of(&s->ctx, cols, rows, &squares);
    size_t count = (size_t)squares.across * (size_t)squares.down;
    if (status == BRANT_OK && !(wanted = brant_alloc(&s->ctx, count, sizeof *wanted)))
        status = BRANT_ERR_MEMORY;
    if (status == BRANT_OK) {
        memset(wanted, 1, count * sizeof *wanted);
        brant_source_array(&s->source, z, cols, rows);
        status = brant_ground_create(&s->ctx, "scene", &s->grid, &s->ground);
    }
    if (status == BRANT_OK)
        status = brant_zone_set_build(&s->ctx, &s->source, s->ground, wanted, &options, &s->zones);
    if (status == BRANT_OK)
        status = brant_flow_create(&s->ctx, &s->source, s->ground, (size_t)128 << 20, &s->flow);
    if (status == BRANT_OK)
        status = list_starts(s);
    free(wanted);
    return status == BRANT_OK;
}

void scene_close(scene *s)
{
    brant_flow_destroy(s->flow);
    brant_zone_set_clear(&s->zones);
    brant_ground_destroy(s->ground);
    brant_grid_clear(&s->grid);
    free(s->starts);
    free(s->first);
    free(s->z);
    brant_context_clear(&s->ctx);
}
