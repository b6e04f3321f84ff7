/* Steepness classes and aspect octants. */
#include "brant/terrain.h"

#include <math.h>

BRANT_BODY void class_row(const float *restrict slope, int n, uint8_t *restrict classes)
{
    for (int i = 0; i < n; i++) {
        const float s = slope[i];
        int c = BRANT_CLASS_BELOW_25 + (s >= 25.0f) + (s >= 30.0f) + (s >= 35.0f) + (s >= 40.0f) +
                (s >= 45.0f) + (s >= 55.0f);
        classes[i] = (uint8_t)(s == s ? c : BRANT_CLASS_UNKNOWN); /* NaN is not itself */
    }
}

BRANT_WIDE static void class_row_wide(const float *slope, int n, uint8_t *classes)
{
    class_row(slope, n, classes);
}

void brant_class_row(const float *slope, int n, uint8_t *classes)
{
    if (BRANT_HAS_WIDE())
        class_row_wide(slope, n, classes);
    else
        class_row(slope, n, classes);
}

brant_class brant_class_of(float slope)
{
    uint8_t c;
    class_row(&slope, 1, &c);
    return (brant_class)c;
}

#define STEPS 128.0f

BRANT_BODY void kept_row(float *angles, int n)
{
    for (int i = 0; i < n; i++) /* NaN is greater than nothing */
        angles[i] = angles[i] > BRANT_NODATA ? angles[i] : BRANT_NODATA;
    for (int i = 0; i < n; i++) /* nodata is a whole number of steps and stays */
        angles[i] = (float)(int)(angles[i] * STEPS) * (1.0f / STEPS);
}

BRANT_WIDE static void kept_row_wide(float *angles, int n)
{
    kept_row(angles, n);
}

void brant_kept_row(float *angles, int n)
{
    if (BRANT_HAS_WIDE())
        kept_row_wide(angles, n);
    else
        kept_row(angles, n);
}

const char *brant_class_name(brant_class c)
{
    static const char *const names[BRANT_CLASSES] = {
        "unknown", "below 25", "25-30", "30-35", "35-40", "40-45", "45-55", "above 55"};
    return (unsigned)c < BRANT_CLASSES ? names[c] : names[BRANT_CLASS_UNKNOWN];
}

int brant_octant(float aspect)
{
    if (isnan(aspect))
        return -1;
    return (int)floorf((aspect + 22.5f) / 45.0f) & 7;
}

const char *brant_octant_name(int octant)
{
    static const char *const names[8] = {"N", "NE", "E", "SE", "S", "SW", "W", "NW"};
    return octant >= 0 && octant < 8 ? names[octant] : "";
}
