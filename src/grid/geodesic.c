/* Distances and points along WGS 84 geodesics: PROJ's geodesic.h, after
 * C. F. F. Karney, Algorithms for geodesics, J. Geodesy 87, 43-55 (2013). */
#include "brant/grid.h"

#include <geodesic.h>

/* Source: EPSG ellipsoid 7030 (WGS 84). */
#define WGS84_A 6378137.0
#define WGS84_F (1.0 / 298.257223563)

double brant_geodesic(double lon1, double lat1, double lon2, double lat2, double *azimuth)
{
    struct geod_geodesic earth;
    double metres, start;
    geod_init(&earth, WGS84_A, WGS84_F);
    geod_inverse(&earth, lat1, lon1, lat2, lon2, &metres, &start, NULL);
    if (azimuth)
        *azimuth = start < 0 ? start + 360 : start;
    return metres;
}

void brant_geodesic_point(double lon1, double lat1, double lon2, double lat2, double metres,
                          double *lon, double *lat)
{
    struct geod_geodesic earth;
    struct geod_geodesicline line;
    geod_init(&earth, WGS84_A, WGS84_F);
    /* two equal points have no direction between them: Karney's azimuth is then
     * due north or south, and any distance but 0 is the caller's to explain */
    geod_inverseline(&line, &earth, lat1, lon1, lat2, lon2, GEOD_LATITUDE | GEOD_LONGITUDE |
                     GEOD_DISTANCE_IN);
    geod_position(&line, metres, lat, lon, NULL);
    if (*lon >= 180) /* the library's [-180, 180) */
        *lon -= 360;
}
