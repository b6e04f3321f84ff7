/* A layer of polygons as its file holds it. Private to the room. */
#ifndef BRANT_STORE_POLYGON_LAYER_H
#define BRANT_STORE_POLYGON_LAYER_H

#include "polygon_shape.h"

typedef struct brant_polygon {
    long long feature;         /* its id in the file */
    uint32_t number;           /* 0: it has none */
    double reach_angle_deg;    /* of its own; 0: none */
    size_t first, count;       /* its patches */
} brant_polygon;

typedef struct brant_polygon_layer {
    brant_polygon *polygons;   /* in the file's order; owned */
    size_t count, capacity;
    brant_patches patches;
    bool numbered;             /* there is a column of numbers */
} brant_polygon_layer;

brant_status brant_polygon_layer_read(brant_context *ctx, const char *path, const brant_dem *dem,
                                      brant_polygon_layer *layer);
void brant_polygon_layer_clear(brant_polygon_layer *layer);

#endif
