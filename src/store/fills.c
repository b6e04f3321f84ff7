/* Where 0 is both a sea and a fill: each patch of it judged by itself. */
#include "voids.h"

#include <math.h>
#include <stdlib.h>

enum { UNSEEN, SEEN, FILL };

typedef struct patch {
    const float *z;
    int cols, rows;
    float zero;
    double near_m, cliff_m;
    uint8_t *state;
    uint32_t *cell; /* those of the patch, in the order met */
    size_t count;
    int64_t sides, smooth, cliffs;
} patch;

/* Take in what lies beside the cell `at`: more of the patch, or its shore. */
static void spread(patch *p, uint32_t at)
{
    int col = (int)(at % (uint32_t)p->cols), row = (int)(at / (uint32_t)p->cols);
    for (int r = row > 0 ? row - 1 : 0; r <= row + 1 && r < p->rows; r++)
        for (int c = col > 0 ? col - 1 : 0; c <= col + 1 && c < p->cols; c++) {
            uint32_t beside = (uint32_t)r * (uint32_t)p->cols + (uint32_t)c;
            float height = p->z[beside];
            double jump = fabs((double)height - (double)p->zero);
            if (isnan(height))
                continue;
            if (height != p->zero) {
                p->sides++;
                p->smooth += jump <= p->near_m;
                p->cliffs += jump > p->cliff_m;
            } else if (p->state[beside] == UNSEEN) {
                p->state[beside] = SEEN;
                p->cell[p->count++] = beside;
            }
        }
}

/* The patch that holds `first`; true if it is a fill. */
static bool follow(patch *p, uint32_t first)
{
    p->count = 0;
    p->sides = p->smooth = p->cliffs = 0;
    p->state[first] = SEEN;
    p->cell[p->count++] = first;
    for (size_t i = 0; i < p->count; i++)
        spread(p, p->cell[i]);
    return p->cliffs > 0 &&
           (double)p->smooth < BRANT_SMOOTH_SHARE * (double)p->sides;
}

brant_status brant_void_patches(brant_context *ctx, const float *z, int cols, int rows,
                                const brant_void_survey *survey, uint8_t *fill, int64_t *cells)
{
    uint32_t count = (uint32_t)cols * (uint32_t)rows;
    patch p = {.z = z,
               .cols = cols,
               .rows = rows,
               .zero = survey->zero,
               .near_m = survey->near_m,
               .cliff_m = survey->cliff_m,
               .state = fill};
    *cells = 0;
    p.cell = brant_alloc(ctx, count, sizeof *p.cell);
    if (!p.cell)
        return BRANT_ERR_MEMORY;
    for (uint32_t i = 0; i < count; i++)
        if (z[i] == p.zero && fill[i] == UNSEEN && follow(&p, i)) {
            for (size_t k = 0; k < p.count; k++)
                fill[p.cell[k]] = FILL;
            *cells += (int64_t)p.count;
        }
    for (uint32_t i = 0; i < count; i++)
        fill[i] = fill[i] == FILL;
    free(p.cell);
    return BRANT_OK;
}
