/* Horn's gradient, and the angles made of it: one arithmetic for slope rasters,
 * fields and zones, so that a cell's slope has the same bits in all of them. */
#ifndef BRANT_HORN_H
#define BRANT_HORN_H

#include "brant/terrain.h"

#include <math.h>

#define BRANT_DEGREES 57.29577951308232f /* in a radian */

/* True areas of a row of cells in m2, n out. */
void brant_area_row(const brant_ground *ground, int col, int row, int n, double *area);

/* Degrees, [0, 90): an absurd rise must not round up to a right angle. */
static inline float brant_slope_of(float rise_east, float rise_north)
{
    float slope =
        atanf(sqrtf(rise_east * rise_east + rise_north * rise_north)) * BRANT_DEGREES;
    return slope > 89.99999f ? 89.99999f : slope; /* NaN stays */
}

/* The downslope azimuth in degrees, [0, 360), NaN for NaN; 0 on the flat, which
 * the caller rules out. */
static inline float brant_aspect_of(float rise_east, float rise_north)
{
    float aspect = atan2f(-rise_east, -rise_north) * BRANT_DEGREES;
    aspect = aspect < 0.0f ? aspect + 360.0f : aspect;
    return aspect >= 360.0f ? 0.0f : aspect; /* -1e-6 + 360 rounds to 360 */
}

#endif
