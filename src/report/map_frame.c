/* How the map lies on the page: zone, scale, and the way from points to coordinates. */
#include "map_parts.h"

#include <math.h>
#include <stdio.h>
#include <string.h>

/* ---- the zone ----------------------------------------------------------- */

int brant_map_zone(double lon, double lat, char *letter)
{
    static const char bands[] = "CDEFGHJKLMNPQRSTUVWXX"; /* 80 S to 84 N, 8 degrees each */
    if (lat >= 84 || lat < -80) {
        *letter = (lat > 0 ? "ZY" : "BA")[lon < 0];
        return 0;
    }
    *letter = bands[(int)floor((lat + 80) / 8)];
    int zone = (int)floor((lon + 180) / 6) + 1;
    if (*letter == 'V' && lon >= 3 && lon < 6)
        return 32;
    if (*letter == 'X' && lon >= 6 && lon < 36) /* zones 32, 34 and 36 are not used there */
        return lon < 9 ? 31 : lon < 21 ? 33 : lon < 33 ? 35 : 37;
    return zone > 60 ? 60 : zone;
}

static void name_zone(brant_map_frame *frame, double lon, double lat)
{
    char letter;
    int zone = brant_map_zone(lon, lat, &letter);
    frame->polar = zone == 0;
    if (frame->polar) {
        snprintf(frame->zone, sizeof frame->zone, "%c", letter);
        snprintf(frame->crs, sizeof frame->crs, "EPSG:%d", lat > 0 ? 5041 : 5042);
        return;
    }
    snprintf(frame->zone, sizeof frame->zone, "%d%c", zone, letter);
    snprintf(frame->crs, sizeof frame->crs, "EPSG:%d", (lat < 0 ? 32700 : 32600) + zone);
}

/* ---- the projection ----------------------------------------------------- */

brant_status brant_map_projection_open(brant_context *ctx, const char *crs, bool polar,
                                       brant_map_projection *projection)
{
    /* a cell of a metre, somewhere well within the domain */
    double x = polar ? 2100000 : 500000, y = polar ? 2100000 : 4000000;
    brant_grid grid = {1, 1, {x, 1, 0, y, 0, 1}, (char *)(uintptr_t)crs};
    projection->origin[0] = x;
    projection->origin[1] = y;
    return brant_locator_create(ctx, "map", &grid, &projection->locator);
}

void brant_map_projection_close(brant_map_projection *projection)
{
    brant_locator_destroy(projection->locator);
    projection->locator = NULL;
}

void brant_map_forward(const brant_map_projection *projection, double lon, double lat,
                       double *easting, double *northing)
{
    brant_locator_to_grid(projection->locator, lon, lat, easting, northing);
    *easting += projection->origin[0];
    *northing += projection->origin[1];
}

void brant_map_inverse(const brant_map_projection *projection, double easting, double northing,
                       double *lon, double *lat)
{
    brant_locator_to_lonlat(projection->locator, easting - projection->origin[0],
                            northing - projection->origin[1], lon, lat);
}

/* ---- extents ------------------------------------------------------------ */

typedef struct extent {
    double west, south, east, north;
} extent;

static void widen(extent *e, double x, double y)
{
    if (!isfinite(x) || !isfinite(y))
        return;
    e->west = fmin(e->west, x);
    e->east = fmax(e->east, x);
    e->south = fmin(e->south, y);
    e->north = fmax(e->north, y);
}

/* Of the route and its waiting places: in map coordinates, or in degrees with longitudes
 * counted on from the first point's, so that the antimeridian is no edge. */
static extent extent_of(const brant_map_scene *scene, const brant_map_projection *projection)
{
    extent e = {INFINITY, INFINITY, -INFINITY, -INFINITY};
    double first = NAN, x, y;
    for (size_t i = 0; i < scene->leg_count + scene->wait_count; i++) {
        bool wait = i >= scene->leg_count;
        size_t count = wait ? 1 : scene->legs[i].count;
        for (size_t j = 0; j < count; j++) {
            x = wait ? scene->waits[i - scene->leg_count].lon : scene->legs[i].points[j].lon;
            y = wait ? scene->waits[i - scene->leg_count].lat : scene->legs[i].points[j].lat;
            first = isnan(first) ? x : first;
            if (projection)
                brant_map_forward(projection, x, y, &x, &y);
            else
                x = first + remainder(x - first, 360);
            widen(&e, x, y);
        }
    }
    return e;
}

/* ---- scale -------------------------------------------------------------- */

#define POINT_M (0.0254 / 72.0)

/* Room between the route and the map's edge, for numbers. */
#define CLEARANCE 16.0

/* Of the projection at a place: metres of map a metre of ground, along north; and the true
 * azimuth of grid north. A kilometre measures both to 1e-7. */
static void measure(const brant_map_projection *projection, double easting, double northing,
                    double *stretch, double *convergence)
{
    double lon[2], lat[2], azimuth;
    brant_map_inverse(projection, easting, northing - 500, &lon[0], &lat[0]);
    brant_map_inverse(projection, easting, northing + 500, &lon[1], &lat[1]);
    *stretch = 1000 / brant_geodesic(lon[0], lat[0], lon[1], lat[1], NULL);
    brant_map_inverse(projection, easting, northing, &lon[0], &lat[0]);
    brant_geodesic(lon[0], lat[0], lon[1], lat[1], &azimuth);
    *convergence = remainder(azimuth, 360);
}

static brant_status choose_scale(brant_context *ctx, const extent *e, brant_map_frame *frame,
                                 double stretch)
{
    /* thousands, from 100 on times ten */
    static const double steps[] = {10, 15, 20, 25, 30, 40, 50, 75};
    const int count = sizeof steps / sizeof *steps;
    double width = frame->box.width - 2 * CLEARANCE, height = frame->box.height - 2 * CLEARANCE;
    for (int i = 0; i <= 3 * count; i++) {
        double scale = 1000 * steps[i % count] * pow(10, i / count);
        double per_point = scale * POINT_M * stretch;
        if (e->east - e->west <= width * per_point && e->north - e->south <= height * per_point) {
            frame->scale = scale;
            frame->per_point = per_point;
            frame->ground_per_point = scale * POINT_M;
            return BRANT_OK;
        }
    }
    return brant_fail(ctx, BRANT_ERR_INPUT, "map: the route does not fit on it at 1:10,000,000");
}

static brant_status place(brant_context *ctx, const brant_map_scene *scene,
                          const brant_map_projection *projection, brant_map_frame *frame)
{
    double stretch;
    extent e = extent_of(scene, projection);
    if (e.west > e.east)
        return brant_fail(ctx, BRANT_ERR_INPUT, "map: the route has no place in %s", frame->crs);
    double easting = (e.west + e.east) / 2, northing = (e.south + e.north) / 2;
    measure(projection, easting, northing, &stretch, &frame->convergence_deg);
    brant_status status = choose_scale(ctx, &e, frame, stretch);
    frame->easting = easting - frame->box.width / 2 * frame->per_point;
    frame->northing = northing + frame->box.height / 2 * frame->per_point;
    return status;
}

brant_status brant_map_frame_of(brant_context *ctx, const brant_map_scene *scene,
                                const brant_map_box *box, brant_map_frame *frame)
{
    brant_map_projection projection = {0};
    memset(frame, 0, sizeof *frame);
    frame->box = (brant_map_box){box->x + BRANT_MAP_MARGIN, box->y + BRANT_MAP_MARGIN,
                                 box->width - BRANT_MAP_MARGIN,
                                 box->height - BRANT_MAP_MARGIN - BRANT_MAP_KEY};
    if (!(frame->box.width > 4 * CLEARANCE && frame->box.height > 4 * CLEARANCE))
        return brant_fail(ctx, BRANT_ERR_USAGE, "map: no room for it on the page");
    extent degrees = extent_of(scene, NULL);
    if (degrees.west > degrees.east)
        return brant_fail(ctx, BRANT_ERR_INPUT, "map: the route has no point");
    name_zone(frame, remainder((degrees.west + degrees.east) / 2, 360),
              (degrees.south + degrees.north) / 2);
    brant_status status = brant_map_projection_open(ctx, frame->crs, frame->polar, &projection);
    if (status == BRANT_OK)
        status = place(ctx, scene, &projection, frame);
    brant_map_projection_close(&projection);
    return status;
}

void brant_map_from_page(const brant_map_frame *frame, double x, double y, double *easting,
                         double *northing)
{
    *easting = frame->easting + (x - frame->box.x) * frame->per_point;
    *northing = frame->northing - (y - frame->box.y) * frame->per_point;
}

void brant_map_to_page(const brant_map_frame *frame, double easting, double northing, double *x,
                       double *y)
{
    *x = frame->box.x + (easting - frame->easting) / frame->per_point;
    *y = frame->box.y + (frame->northing - northing) / frame->per_point;
}
