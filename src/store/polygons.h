/* Zones from polygons that a person drew or edited. Private to the room. */
#ifndef BRANT_STORE_POLYGONS_H
#define BRANT_STORE_POLYGONS_H

#include "gdal_call.h"

/* What a file of polygons is, by how it begins; none, too, for what cannot be read: opening
 * it tells why. */
typedef enum brant_polygon_format {
    BRANT_POLYGONS_NONE,
    BRANT_POLYGONS_GEOPACKAGE,
    BRANT_POLYGONS_GEOJSON
} brant_polygon_format;
brant_polygon_format brant_polygons_format(const char *path);

/* Open such a file read-only; one line on refusal. Closed with brant_gdal_close. */
brant_status brant_polygons_dataset(brant_context *ctx, const char *path, GDALDatasetH *dataset);

/* Immutable once open: any number of threads may read. */
typedef struct brant_polygons brant_polygons;
brant_status brant_polygons_open(brant_context *ctx, const char *path, const brant_dem *dem,
                                 double reach_angle_deg, brant_polygons **polygons);
brant_status brant_polygons_read(const brant_polygons *polygons, brant_context *ctx,
                                 const brant_window *window, uint32_t *out);
/* The reach angle that the polygon of this number has of its own, 0 if none. */
double brant_polygons_reach_angle(const brant_polygons *polygons, uint32_t number);
/* Forget where they lie, once all cells have been read: numbers and angles stay. */
void brant_polygons_drop_outlines(brant_polygons *polygons);
double brant_polygons_flattest(const brant_polygons *polygons); /* INFINITY if none has one */
void brant_polygons_close(brant_polygons *polygons);

#endif
