/* The rim of the unknown: where release ground could stand that the model does not
 * show. */
#include "brant/runout.h"

#include <math.h>
#include <stdlib.h>

/* Is one of the eight cells around `z` void? */
static bool beside_void(const float *z, int stride)
{
    for (int dr = -1; dr <= 1; dr++)
        for (int dc = -1; dc <= 1; dc++)
            if (isnan(z[dr * stride + dc]))
                return true;
    return false;
}

brant_status brant_rim_starts(brant_context *ctx, brant_source *source,
                              const brant_window *square, float rise_m, brant_start **starts,
                              size_t *count)
{
    brant_window around = {square->col - 1, square->row - 1, square->cols + 2, square->rows + 2};
    int stride = around.cols;
    size_t capacity = 0;
    *starts = NULL;
    *count = 0;
    float *z = brant_alloc(ctx, (size_t)stride * (size_t)around.rows, sizeof *z);
    if (!z)
        return BRANT_ERR_MEMORY;
    brant_status status = source->read(source, ctx, &around, z);
    for (int r = 0; r < square->rows && status == BRANT_OK; r++)
        for (int c = 0; c < square->cols && status == BRANT_OK; c++) {
            const float *at = z + (size_t)(r + 1) * (size_t)stride + (size_t)(c + 1);
            if (isnan(*at) || !beside_void(at, stride))
                continue;
            status = brant_grow(ctx, starts, &capacity, *count + 1, sizeof **starts);
            if (status == BRANT_OK)
                (*starts)[(*count)++] = (brant_start){square->col + c, square->row + r, rise_m};
        }
    free(z);
    if (status != BRANT_OK) {
        free(*starts);
        *starts = NULL;
        *count = 0;
    }
    return status;
}
