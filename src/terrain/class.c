/* Steepness classes and aspect octants. */
#include "brant/terrain.h"

#include <math.h>

brant_class brant_class_of(float slope)
{
    static const float limits[] = {25.0f, 30.0f, 35.0f, 40.0f, 45.0f, 55.0f};
    if (isnan(slope))
        return BRANT_CLASS_UNKNOWN;
    int c = BRANT_CLASS_BELOW_25;
    for (size_t i = 0; i < sizeof limits / sizeof limits[0]; i++)
        c += slope >= limits[i];
    return (brant_class)c;
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
