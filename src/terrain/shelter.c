/* Shelter from wind: maximum upwind slope. */
#include "skyline.h"

#include <math.h>
#include <string.h>

#define DEGREES (180.0 / M_PI)
#define DIRECTION_MAX 20 /* characters of one end of a sector */

/* ---- the option ---------------------------------------------------------- */

/* A point of the compass or degrees, as [0, 360). */
static bool parse_direction(const char *text, double *degrees)
{
    static const char *const points[] = {"N", "NNE", "NE", "ENE", "E", "ESE", "SE", "SSE",
                                         "S", "SSW", "SW", "WSW", "W", "WNW", "NW", "NNW"};
    for (int i = 0; i < 16; i++)
        if (strcmp(text, points[i]) == 0) {
            *degrees = i * 22.5;
            return true;
        }
    if (!brant_parse_number(text, degrees) || *degrees < 0.0 || *degrees > 360.0)
        return false;
    *degrees = fmod(*degrees, 360.0);
    return true;
}

bool brant_wind_parse(const char *text, brant_wind *wind)
{
    char first[DIRECTION_MAX];
    const char *dash = strchr(text, '-');
    size_t length = dash ? (size_t)(dash - text) : strlen(text);
    double from, to;
    if (length >= sizeof first)
        return false;
    memcpy(first, text, length);
    first[length] = '\0';
    if (!parse_direction(first, &from))
        return false;
    if (!dash)
        to = from + BRANT_WIND_WINDOW / 2.0, from -= BRANT_WIND_WINDOW / 2.0;
    else if (!parse_direction(dash + 1, &to) || to == from)
        return false;
    *wind = (brant_wind){.from_deg = fmod(from + 360.0, 360.0),
                         .width_deg = fmod(to - from + 360.0, 360.0),
                         .distance_m = BRANT_WIND_DISTANCE,
                         .offset_m = BRANT_WIND_OFFSET};
    return true;
}

/* ---- Sx ------------------------------------------------------------------ */

/* The maximum upwind slope along one ray, degrees; NaN not known. */
static double along_ray(const brant_skyline *relief, int col, int row, double azimuth,
                        const brant_wind *wind)
{
    relief_ray ray = brant_skyline_ray(relief, col, row, azimuth);
    double best = -INFINITY, z;
    if (isnan(ray.here) || wind->distance_m > relief->reach_m)
        return NAN;
    while (brant_skyline_next(&ray, wind->distance_m, &z)) {
        double slope = (z - wind->offset_m - ray.here) / ray.distance_m;
        if (isnan(slope))
            return NAN;
        best = fmax(best, slope);
    }
    return isinf(best) ? NAN : atan(best) * DEGREES;
}

float brant_skyline_shelter(const brant_skyline *relief, int col, int row, const brant_wind *wind)
{
    int steps = (int)ceil(wind->width_deg / BRANT_WIND_RAY - 1e-9);
    double sum = 0.0;
    for (int i = 0; i <= steps; i++) /* one NaN makes the mean NaN */
        sum += along_ray(relief, col, row,
                         wind->from_deg + (steps > 0 ? wind->width_deg * i / steps : 0.0), wind);
    return (float)(sum / (steps + 1));
}

brant_shelter brant_zone_shelter(const brant_skyline *relief, const brant_zone_cell *cells,
                                 size_t count, const brant_wind *wind)
{
    brant_shelter s = {0};
    double sum = 0.0;
    for (size_t i = 0; i < count; i++) {
        float sx = brant_skyline_shelter(relief, cells[i].col, cells[i].row, wind);
        if (isnan(sx)) {
            s.unknown++;
            continue;
        }
        sum += (double)sx;
        s.known++;
    }
    s.mean_deg = s.known > 0 ? (float)(sum / (double)s.known) : NAN;
    s.sheltered = (double)s.mean_deg > wind->sheltered_deg; /* false for NaN */
    return s;
}
