/* day: what the day adds to the terrain. So far: metres climbed. */
#ifndef BRANT_DAY_H
#define BRANT_DAY_H

#include "brant/terrain.h"

#pragma GCC visibility push(default)

/* Metres up and down along `count` elevations (NaN: unknown, skipped). A change
 * of direction counts once it exceeds `hysteresis_m`, so that the model's noise
 * does not climb. Common practice, no source; 10 m serves 10-30 m models. */
#define BRANT_CLIMB_HYSTERESIS 10.0
void brant_climb(const float *elevation, size_t count, double hysteresis_m, double *up,
                 double *down);

/* ---- hours: how long a route takes --------------------------------------- */

/* How fast a party moves. Either by the trade's units, hours = (km + m/100) / rate,
 * with a rate each for ground that rises, falls or is flat (the units of Munter:
 * 4 up on skins or foot, 10 down on ski, 6 flat or down on foot); or walking by
 * DIN 33466: 300 m up, 500 m down, 4 km an hour, the larger of the height's and the
 * distance's time and half of the smaller. */
typedef struct brant_pace {
    bool walk;             /* DIN 33466; the rates are not used */
    double up, down, flat; /* units an hour, 0.1 to 100 */
} brant_pace;

#define BRANT_PACE_DEFAULT ((brant_pace){false, 4.0, 10.0, 6.0})

/* "UP,DOWN,FLAT", three rates of 0.1 to 100, or "walk". False if `text` is neither. */
bool brant_pace_parse(const char *text, brant_pace *pace);

/* What was timed: sums over the route. */
typedef struct brant_pace_sums {
    double up_m, down_m;             /* height, as brant_climb counts it a segment */
    double rising_m, falling_m, flat_m; /* ground plan timed as each */
    double unknown_m;                /* ground plan without known elevation, part of the above:
                                        bridged, say so where it is not 0 */
} brant_pace_sums;

/* Seconds from the start at each sample of a route: never falling, 0 at the first.
 *
 * along_m: ground plan from the route's first point, never falling; elevation_m: NaN
 * unknown; first: true where a sample opens a segment (NULL: sample 0 only). `count`
 * each. The gap between two segments takes no time and is not climbed.
 *
 * Each segment's elevations are levelled as brant_climb does with 10 m: between
 * turning points the ground only rises or only falls, so the model's noise does not
 * climb and the sums agree with brant_climb. Ground is flat where it lies in a stretch of
 * 500 m or more that stays within 10 m; else it is rising or falling (the two
 * figures: common practice, no source). Unknown elevations are bridged by a straight
 * line between their known neighbours; at a segment's ends, and where none is known,
 * they are flat.
 *
 * DIN 33466 is meant for a whole stretch, and each stretch between two turning points
 * is one: a route that only rises or only falls gets the published total whatever its
 * profile, one with turning points that of the whole or more (the same where height
 * takes longer than distance on all its stretches, or on none). Within a stretch time
 * goes with distance and height as they come. `sums` may be NULL. */
brant_status brant_pace_times(brant_context *ctx, const brant_pace *pace, size_t count,
                              const double *along_m, const float *elevation_m, const bool *first,
                              double *seconds, brant_pace_sums *sums);

/* Seconds at `along` metres, linear between samples; outside the route its nearest
 * end. count > 0. */
double brant_pace_at(size_t count, const double *along_m, const double *seconds, double along);

/* The late column: every time from the start times this. Common practice, no source. */
#define BRANT_LATE 1.3

/* The last moment to leave sample `from` so that a party at the late pace is at sample
 * `to` (from <= to) at the moment `by`: the route's last sample by the hour to be out,
 * or the last sample on ground whose rating changes, by the hour it does. Moments in any
 * one clock of seconds, such as Unix time. A moment before the party can be at `from` is
 * the caller's to see: compare with start + BRANT_LATE * seconds[from]. */
double brant_latest_leave(const double *seconds, size_t from, size_t to, double by);

/* ---- sun ----------------------------------------------------------------- */

/* Where the sun stands: degrees. Moments are Unix time (UTC, seconds since 1970). */
typedef struct brant_sun {
    double altitude_deg; /* of its centre, without refraction */
    double apparent_deg; /* the same with the refraction of a standard atmosphere at sea level */
    double azimuth_deg;  /* from true north, [0, 360) */
} brant_sun;

/* The equations of Meeus (Astronomical Algorithms, 1998, ch. 25) behind NOAA's solar
 * calculator: within 0.01 degrees of the full theory in the years 2000 to 2100, which
 * is an order better than any horizon from a model. Longitude and latitude in
 * degrees, east and north positive. */
brant_sun brant_sun_at(double utc, double lon, double lat);

/* Cosine of the angle between the sun and the ground's normal: cos I = cos z cos s +
 * sin s sin z cos(azimuth - aspect) with the apparent sun. Below 0 the ground turns
 * its back to the sun; NaN aspect is flat only where slope is 0, else NaN. */
double brant_sun_incidence(const brant_sun *sun, double slope_deg, double aspect_deg);

/* Sunrise and sunset over level ground: the upper limb with standard refraction
 * (altitude -0.833 degrees, NOAA). */
typedef enum brant_daylight {
    BRANT_DAYLIGHT_RISES_OR_SETS,
    BRANT_DAYLIGHT_ALL, /* polar day */
    BRANT_DAYLIGHT_NONE /* polar night */
} brant_daylight;

/* The first sunrise and the last sunset within [from, to), to the second; NaN: none.
 * An interval of at most two days. */
brant_daylight brant_sun_daylight(double from, double to, double lon, double lat, double *rise,
                                  double *set);

/* When direct sun from a clear sky falls on a zone. Say 'clear-sky sun': cloud, air
 * temperature and refreezing are not known. Two answers, `certain` and `possible`,
 * that differ where it is not known what stands on the horizon (voids, the raster's
 * edge) or which way a cell faces: certain if the unknown hides as much as it can,
 * possible if it hides nothing. For wet snow the possible one is the cautious one. */
typedef struct brant_sunshine {
    double first;   /* the first minute with sun; NaN none. Equals `from`: there already */
    double seconds; /* with sun, to the minute */
} brant_sunshine;

typedef struct brant_sun_on {
    brant_sunshine certain, possible;
    bool unknown; /* the two differ: say so */
} brant_sun_on;

/* Sun on a zone in [from, to) (such as midnight to the minute one passes beneath;
 * at most two days), minute by minute. `cells` as brant_zone_cells gives them, each
 * standing for area_m2 / count, at most BRANT_ZONE_CELLS (later ones are not looked at);
 * one position of the sun serves them all, that at lon, lat of the zone.
 *
 * A minute has sun when 400 m2 of the zone have it (half of a zone smaller than 800):
 * the centre of the sun's disc stands above the level, above the terrain's horizon
 * and in front of the slope. Horizons are looked up at the sun's azimuth every ten
 * minutes and are straight between; measured against every minute on 460 zones of a
 * real model, the first minute was the same within 1 in 440 of them and within 5 in
 * all. With 64 cells of a large zone a patch is a 64th of it. No relief (NULL): all
 * horizons are unknown. Pure: zones may be asked for on many threads (brant_run). */
void brant_sun_on_zone(const brant_relief *relief, double lon, double lat,
                       const brant_zone_cell *cells, size_t count, double area_m2, double from,
                       double to, brant_sun_on *out);

#pragma GCC visibility pop

#endif
