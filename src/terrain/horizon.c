/* The terrain horizon. */
#include "skyline.h"

#include <math.h>

#define DEGREES (180.0 / M_PI)
/* Curvature of the earth less that of light near the ground, halved: metres of drop
 * a metre squared. 6.8 m at 10 km, 171 m at 50 km. */
#define DROP ((1.0 - 0.13) / (2.0 * 6371000.0))

brant_horizon brant_skyline_horizon(const brant_skyline *relief, int col, int row, double azimuth,
                                   double least_deg)
{
    relief_ray ray = brant_skyline_ray(relief, col, row, azimuth);
    double best = tan(least_deg / DEGREES), missing = -INFINITY, z;
    if (isnan(ray.here))
        return (brant_horizon){(float)least_deg, 90.0f};
    while (brant_skyline_next(&ray, relief->reach_m, &z)) {
        double d = ray.distance_m, level = ray.here + DROP * d * d;
        /* falls with distance: once the highest ground cannot matter, nothing does */
        double at_most = (ray.highest - level) / d;
        if (at_most <= best)
            break;
        if (isnan(z))
            missing = fmax(missing, at_most);
        else
            best = fmax(best, (z - level) / d);
    }
    return (brant_horizon){(float)(atan(best) * DEGREES),
                           (float)(atan(fmax(best, missing)) * DEGREES)};
}
