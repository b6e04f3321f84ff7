/* Elevation, slope and aspect of a window in memory. */
#include "brant/terrain.h"

#include <math.h>
#include <stdlib.h>
#include <string.h>

/* Rows computed at a time: the strip read (two columns and two rows wider) stays
 * small beside the field. */
#define STRIP 128

/* Rows first..first+n-1 of the field; `z` is the strip with its margin. */
static void fill_strip(const brant_ground *ground, bool edges, brant_field *field, int first,
                       int n, const float *z)
{
    const brant_window *w = &field->window;
    const size_t cols = (size_t)w->cols, wide = cols + 2;
    for (int i = 0; i < n; i++) {
        const size_t at = (size_t)(first + i) * cols;
        const float *const lines[3] = {z + (size_t)i * wide, z + (size_t)(i + 1) * wide,
                                       z + (size_t)(i + 2) * wide};
        memcpy(field->elevation + at, lines[1] + 1, cols * sizeof *z);
        brant_steepness_row(ground, w->col, w->row + first + i, w->cols, lines[0], lines[1],
                            lines[2], edges, field->slope + at, field->aspect + at);
    }
}

brant_status brant_field_read(brant_context *ctx, brant_source *source, const brant_ground *ground,
                              const brant_window *window, bool edges, brant_field *field)
{
    brant_status status = BRANT_ERR_MEMORY;
    const size_t cells = (size_t)window->rows * (size_t)window->cols;
    const size_t wide = (size_t)window->cols + 2;
    const int most = window->rows < STRIP ? window->rows : STRIP;
    float *z = brant_alloc(ctx, wide * (size_t)(most + 2), sizeof *z);
    *field = (brant_field){.window = *window};
    field->elevation = brant_alloc(ctx, cells, sizeof *field->elevation);
    field->slope = brant_alloc(ctx, cells, sizeof *field->slope);
    field->aspect = brant_alloc(ctx, cells, sizeof *field->aspect);
    if (!z || !field->elevation || !field->slope || !field->aspect)
        goto done;
    status = BRANT_OK;
    for (int first = 0; first < window->rows && status == BRANT_OK; first += STRIP) {
        int n = window->rows - first < STRIP ? window->rows - first : STRIP;
        brant_window strip = {window->col - 1, window->row + first - 1, window->cols + 2, n + 2};
        status = brant_check_stop(ctx);
        if (status == BRANT_OK)
            status = source->read(source, ctx, &strip, z);
        if (status == BRANT_OK)
            fill_strip(ground, edges, field, first, n, z);
    }
done:
    free(z);
    if (status != BRANT_OK)
        brant_field_clear(field);
    return status;
}

void brant_field_clear(brant_field *field)
{
    free(field->elevation);
    free(field->slope);
    free(field->aspect);
    *field = (brant_field){0};
}
