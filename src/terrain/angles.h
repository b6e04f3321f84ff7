/* Angles of a gradient, in arithmetic that the compiler can do on many cells at
 * once: no branch, no library call. The same steps in the same order for one cell
 * and for a row, on every instruction set (IEEE single precision, nothing
 * contracted), so a cell's slope has the same bits wherever it is computed.
 *
 * The arc tangent is formula 4.4.49 of Abramowitz and Stegun, Handbook of
 * Mathematical Functions (1964), p. 81: |error| <= 2e-8 radians for |x| <= 1. With the
 * rounding of single precision slope comes within 0.00001 and aspect within 0.00003 degrees
 * of the angle of their gradient (tests/unit/terrain_horn.c), far below any model's error. */
#ifndef BRANT_ANGLES_H
#define BRANT_ANGLES_H

#include <math.h>

#define BRANT_DEGREES 57.29577951308232f /* in a radian */

/* atan(x) in degrees for x in [0, 1]; NaN for NaN. */
static inline float brant_atan_of(float x)
{
    const float q = x * x;
    float p = 0.0028662257f;
    p = p * q + -0.0161657367f;
    p = p * q + 0.0429096138f;
    p = p * q + -0.0752896400f;
    p = p * q + 0.1065626393f;
    p = p * q + -0.1420889944f;
    p = p * q + 0.1999355085f;
    p = p * q + -0.3333314528f;
    p = p * q + 1.0f;
    return p * x * BRANT_DEGREES;
}

/* Degrees, [0, 90): an absurd rise must not round up to a right angle. */
static inline float brant_slope_of(float rise_east, float rise_north)
{
    const float rise = sqrtf(rise_east * rise_east + rise_north * rise_north);
    const float over = rise > 1.0f ? 1.0f : rise, under = rise > 1.0f ? rise : 1.0f;
    const float angle = brant_atan_of(over / under);
    const float slope = rise > 1.0f ? 90.0f - angle : angle;
    return slope > 89.99999f ? 89.99999f : slope; /* NaN stays */
}

/* The downslope azimuth in degrees, [0, 360), NaN for NaN and on the flat. */
static inline float brant_aspect_of(float rise_east, float rise_north)
{
    const float east = fabsf(rise_east), north = fabsf(rise_north);
    const float less = east > north ? north : east, more = east > north ? east : north;
    float angle = brant_atan_of(less / more);       /* 0 / 0 on the flat */
    angle = east > north ? 90.0f - angle : angle;   /* from north, in the first quadrant */
    angle = rise_north > 0.0f ? 180.0f - angle : angle;
    angle = rise_east > 0.0f ? 360.0f - angle : angle;
    return angle >= 360.0f ? 0.0f : angle;          /* 360 - 1e-6 rounds to 360 */
}

#endif
