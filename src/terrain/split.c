/* Large parts cut along contours. */
#include "patches.h"

#include <math.h>
#include <stdlib.h>

/* Elevation steps in a part, so that equal areas are found without sorting; the
 * most bands that a part can be cut into. */
#define STEPS 4096

typedef struct slicing {
    double max_area;
    double step_m2[STEPS];   /* area by elevation step */
    uint32_t band[STEPS];    /* band of each step */
} slicing;

/* Cells by part: order[start[i]..start[i+1]-1] are part i's, in raster order. */
static void order_by_part(const brant_patches *p, uint32_t *start, uint32_t *order)
{
    for (uint32_t k = 0; k < p->count; k++)
        start[p->part[k] + 1]++;
    for (uint32_t i = 0; i < p->parts; i++)
        start[i + 1] += start[i];
    for (uint32_t k = 0; k < p->count; k++)
        order[start[p->part[k]]++] = k;
    for (uint32_t i = p->parts; i > 0; i--) /* each start has run on to the next one's */
        start[i] = start[i - 1];
    start[0] = 0;
}

static int step_of(float z, float low, double steps_per_m)
{
    int step = (int)((double)(z - low) * steps_per_m);
    return step < STEPS ? step : STEPS - 1;
}

/* Give each of a part's cells its band, counted from `key` on; returns the key
 * after the last one used. A step goes where its middle lies in the part's area. */
static uint32_t slice(slicing *s, const brant_patches *p, const float *z, const uint32_t *cells,
                      uint32_t count, uint32_t first_key, uint32_t *key)
{
    double area = 0.0, below = 0.0;
    float low = z[cells[0]], high = low;
    for (uint32_t i = 0; i < count; i++) {
        area += p->area[cells[i]];
        low = z[cells[i]] < low ? z[cells[i]] : low;
        high = z[cells[i]] > high ? z[cells[i]] : high;
        key[cells[i]] = first_key;
    }
    if (!(area > s->max_area) || !(high > low))
        return first_key + 1;
    const double bands = fmin(ceil(area / s->max_area), STEPS);
    const double steps_per_m = STEPS / ((double)high - low);
    for (int i = 0; i < STEPS; i++)
        s->step_m2[i] = 0.0;
    for (uint32_t i = 0; i < count; i++)
        s->step_m2[step_of(z[cells[i]], low, steps_per_m)] += p->area[cells[i]];
    for (int i = 0; i < STEPS; i++) {
        double band = floor((below + s->step_m2[i] / 2.0) / area * bands);
        s->band[i] = (uint32_t)fmin(band, bands - 1.0);
        below += s->step_m2[i];
    }
    for (uint32_t i = 0; i < count; i++)
        key[cells[i]] = first_key + s->band[step_of(z[cells[i]], low, steps_per_m)];
    return first_key + (uint32_t)bands;
}

static bool any_above(const brant_patches *p, double max_area, double *area)
{
    bool above = false;
    for (uint32_t k = 0; k < p->count; k++)
        above |= (area[p->part[k]] += p->area[k]) > max_area;
    return above;
}

brant_status brant_patches_split(brant_context *ctx, brant_patches *p, const float *z,
                                 double min_area_m2, double max_area_m2, double width,
                                 double height)
{
    brant_status status = BRANT_ERR_MEMORY;
    uint32_t *start = NULL, *order = NULL, *key = NULL, *owner = NULL;
    slicing *s = NULL;
    double *area = brant_alloc(ctx, p->parts, sizeof *area);
    if (!area)
        return BRANT_ERR_MEMORY;
    if (!any_above(p, max_area_m2, area)) {
        status = BRANT_OK;
        goto done;
    }
    start = brant_alloc(ctx, (size_t)p->parts + 1, sizeof *start);
    order = brant_alloc(ctx, p->count, sizeof *order);
    key = brant_alloc(ctx, p->count, sizeof *key);
    owner = brant_alloc(ctx, p->count, sizeof *owner);
    s = brant_alloc(ctx, 1, sizeof *s);
    if (!start || !order || !key || !owner || !s)
        goto done;
    s->max_area = max_area_m2;
    order_by_part(p, start, order);
    uint32_t next_key = 0;
    for (uint32_t i = 0; i < p->parts; i++)
        next_key = slice(s, p, z, order + start[i], start[i + 1] - start[i], next_key, key);
    for (uint32_t k = 0; k < p->count; k++)
        owner[k] = p->part[k];
    brant_patches_label(p, key);
    status = brant_patches_join(ctx, p, owner, min_area_m2, width, height);
done:
    free(area);
    free(start);
    free(order);
    free(key);
    free(owner);
    free(s);
    return status;
}
