/* The rim of the unknown: where release ground could stand that the model does not
 * show. */
#include "brant/runout.h"

#include <math.h>
#include <stdlib.h>

/* The way from the voids around a cell into the known, true azimuth; NaN if no
 * neighbour is void. Where voids lie on opposite sides and cancel, away from the
 * first: its neighbours on the rim head the other ways. */
static float heading_from_void(const float *z, int stride, const brant_matrix *m)
{
    double east = 0.0, north = 0.0, first_east = 0.0, first_north = 0.0;
    bool found = false;
    for (int dr = -1; dr <= 1; dr++)
        for (int dc = -1; dc <= 1; dc++) {
            if (!isnan(z[dr * stride + dc]))
                continue;
            double e = -(m->col_east * dc + m->row_east * dr);
            double n = -(m->col_north * dc + m->row_north * dr);
            double length = hypot(e, n);
            east += e / length;
            north += n / length;
            if (!found) {
                first_east = e;
                first_north = n;
            }
            found = true;
        }
    if (!found)
        return NAN;
    if (hypot(east, north) < 1e-6) {
        east = first_east;
        north = first_north;
    }
    return (float)(atan2(east, north) * 180.0 / M_PI);
}

brant_status brant_rim_starts(brant_context *ctx, brant_source *source, const brant_ground *ground,
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
    for (int r = 0; r < square->rows && status == BRANT_OK; r++) {
        brant_matrix m;
        brant_ground_matrix(ground, square->col + square->cols / 2.0, square->row + r + 0.5, &m);
        for (int c = 0; c < square->cols && status == BRANT_OK; c++) {
            const float *at = z + (size_t)(r + 1) * (size_t)stride + (size_t)(c + 1);
            if (isnan(*at))
                continue;
            float heading = heading_from_void(at, stride, &m);
            if (isnan(heading))
                continue;
            status = brant_grow(ctx, starts, &capacity, *count + 1, sizeof **starts);
            if (status == BRANT_OK)
                (*starts)[(*count)++] =
                    (brant_start){square->col + c, square->row + r, rise_m, heading};
        }
    }
    free(z);
    if (status != BRANT_OK) {
        free(*starts);
        *starts = NULL;
        *count = 0;
    }
    return status;
}
