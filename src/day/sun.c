/* The sun's position, sunrise and sunset: the equations of Meeus, Astronomical
 * Algorithms, 1998, ch. 12, 22 and 25 (its solar coordinates of low accuracy: 0.01
 * degrees), which NOAA's solar calculator rests on; refraction as NOAA's. The hour
 * angle comes from sidereal time: NOAA's series for the equation of time adds up to
 * 0.01 degrees of its own. That the earth's turning is a minute or two behind the
 * clock of the orbits (70 s now) is left out: 0.001 degrees. */
#include "brant/day.h"

#include <math.h>

#define RADIANS (M_PI / 180.0)
#define J2000 946728000.0 /* 2000-01-01 12:00 UTC as Unix time */
#define CENTURY (36525.0 * 86400.0)
#define DAY 86400.0
#define PARALLAX_DEG (8.794 / 3600.0) /* seen from the earth's surface, not its centre */
#define SUNRISE_DEG (-0.833)

static double sind(double degrees)
{
    return sin(degrees * RADIANS);
}

static double cosd(double degrees)
{
    return cos(degrees * RADIANS);
}

/* Declination and hour angle at Greenwich, radians. */
static void ephemeris(double utc, double *declination, double *hour)
{
    double t = (utc - J2000) / CENTURY;
    double anomaly = 357.52911 + t * (35999.05029 - 0.0001537 * t);
    double center = sind(anomaly) * (1.914602 - t * (0.004817 + 0.000014 * t)) +
                    sind(2.0 * anomaly) * (0.019993 - 0.000101 * t) +
                    sind(3.0 * anomaly) * 0.000289;
    double node = 125.04 - 1934.136 * t, nutation = -0.00478 * sind(node);
    double longitude = 280.46646 + t * (36000.76983 + t * 0.0003032) + center - 0.00569 + nutation;
    double obliquity = 23.0 + (26.0 + (21.448 - t * (46.815 + t * (0.00059 - t * 0.001813))) /
                                          60.0) / 60.0 + 0.00256 * cosd(node);
    double ascension = atan2(cosd(obliquity) * sind(longitude), cosd(longitude));
    double sidereal = 280.46061837 + 360.98564736629 * (utc - J2000) / DAY +
                      t * t * 0.000387933 + nutation * cosd(obliquity);
    *declination = asin(sind(obliquity) * sind(longitude));
    *hour = fmod(sidereal, 360.0) * RADIANS - ascension;
}

/* Degrees by which the air lifts the sun at altitude h (degrees). */
static double refraction(double h)
{
    double tangent = tan(h * RADIANS), seconds;
    if (h > 85.0)
        return 0.0;
    if (h > 5.0)
        seconds = 58.1 / tangent - 0.07 / pow(tangent, 3) + 0.000086 / pow(tangent, 5);
    else if (h > -0.575)
        seconds = 1735.0 + h * (-518.2 + h * (103.4 + h * (-12.79 + h * 0.711)));
    else
        seconds = -20.774 / tangent;
    return seconds / 3600.0;
}

brant_sun brant_sun_at(double utc, double lon, double lat)
{
    double declination, hour;
    ephemeris(utc, &declination, &hour);
    hour += lon * RADIANS;
    double sine = sind(lat) * sin(declination) + cosd(lat) * cos(declination) * cos(hour);
    /* towards true east and north */
    double east = -cos(declination) * sin(hour);
    double north = cosd(lat) * sin(declination) - sind(lat) * cos(declination) * cos(hour);
    double level = hypot(east, north);
    brant_sun sun = {.altitude_deg = atan2(sine, level) / RADIANS - PARALLAX_DEG * level};
    sun.apparent_deg = sun.altitude_deg + refraction(sun.altitude_deg);
    sun.azimuth_deg = fmod(atan2(east, north) / RADIANS + 360.0, 360.0);
    return sun;
}

double brant_sun_incidence(const brant_sun *sun, double slope_deg, double aspect_deg)
{
    double upright = sind(sun->apparent_deg) * cosd(slope_deg);
    if (slope_deg == 0.0)
        return upright;
    return upright + sind(slope_deg) * cosd(sun->apparent_deg) *
                         cosd(sun->azimuth_deg - aspect_deg);
}

/* ---- sunrise and sunset -------------------------------------------------- */

static bool is_up(double utc, double lon, double lat)
{
    return brant_sun_at(utc, lon, lat).altitude_deg > SUNRISE_DEG;
}

/* The second between `a` and `b` from which it is as at `b`. */
static double change(double a, double b, double lon, double lat)
{
    bool after = is_up(b, lon, lat);
    while (b - a > 1.0) {
        double middle = floor((a + b) / 2.0);
        if (is_up(middle, lon, lat) == after)
            b = middle;
        else
            a = middle;
    }
    return b;
}

brant_daylight brant_sun_daylight(double from, double to, double lon, double lat, double *rise,
                                  double *set)
{
    bool before = is_up(from, lon, lat);
    const bool at_first = before;
    *rise = *set = NAN;
    for (double t = from; t < to; t += 60.0) {
        double next = fmin(t + 60.0, to);
        bool up = is_up(next, lon, lat);
        if (up && !before && isnan(*rise))
            *rise = change(t, next, lon, lat);
        if (!up && before)
            *set = change(t, next, lon, lat);
        before = up;
    }
    if (!isnan(*rise) || !isnan(*set))
        return BRANT_DAYLIGHT_RISES_OR_SETS;
    return at_first ? BRANT_DAYLIGHT_ALL : BRANT_DAYLIGHT_NONE;
}
