/* The map of the printed sheet. Lengths on the page are points (1/72 inch), y downwards; the
 * map is drawn in the UTM zone of the tour's middle (UPS beyond 84 N and 80 S), grid north
 * up. */
#ifndef BRANT_REPORT_MAP_H
#define BRANT_REPORT_MAP_H

#include "brant/report.h"

#include <cairo.h>
#include <pango/pangocairo.h>

typedef struct brant_map_box {
    double x, y, width, height;
} brant_map_box;

/* A leg, or a part of one between two breaks of the line: parts of a leg follow each other
 * and carry the same number, which is written once. */
typedef struct brant_map_leg {
    uint32_t number;
    brant_kind kind;
    const brant_gpx_point *points;
    size_t count; /* 1: a dot */
    bool grave;   /* its number is white on black */
} brant_map_leg;

typedef struct brant_map_wait {
    double lon, lat;
    const char *label; /* UTF-8, short: "3.80" */
} brant_map_wait;

/* What is drawn; all borrowed. */
typedef struct brant_map_scene {
    const char *elevation, *classes, *runout; /* paths of a plan's rasters, of one grid */
    double reach_angle_deg;
    const brant_map_leg *legs; /* along the route, at least one with a point */
    size_t leg_count;
    const brant_map_wait *waits;
    size_t wait_count;
    const char *grave_words;   /* what black numbers mean; NULL: there are none */
    PangoContext *pango;       /* that text is laid out with, in points */
} brant_map_scene;

/* How the map lies on the page. */
typedef struct brant_map_frame {
    brant_map_box box;        /* the map itself, inside of its margins */
    double scale;             /* 25000 for 1:25,000, true at the middle */
    double easting, northing; /* of the box's top left corner */
    double per_point;         /* map coordinates (metres of the projection) in a point */
    double ground_per_point;  /* true metres in a point, at the middle */
    double convergence_deg;   /* of grid north, clockwise from true north, at the middle */
    bool polar;               /* UPS */
    char zone[16];            /* "32T"; of UPS "Z" */
    char crs[24];             /* "EPSG:32632" */
} brant_map_frame;

/* The frame of the map that brant_map_draw puts into `box`: the largest of 1:10,000,
 * 1:15,000, 20, 25, 30, 40, 50, 75, 100, 150 thousand ... at which the whole route fits. BRANT_ERR_INPUT where the
 * route has no point, or is too long for 1:10,000,000. */
brant_status brant_map_frame_of(brant_context *ctx, const brant_map_scene *scene,
                                const brant_map_box *box, brant_map_frame *frame);
/* Page points to map coordinates (easting, northing) and back. */
void brant_map_from_page(const brant_map_frame *frame, double x, double y, double *easting,
                         double *northing);
void brant_map_to_page(const brant_map_frame *frame, double easting, double northing, double *x,
                       double *y);

/* Can the fonts of the laid out text be drawn with? Where a font's file could not be opened
 * pango draws nothing and goes on. */
bool brant_map_can_draw(PangoLayout *layout);

/* Draw map, margins and key into `box`. The same bytes for the same input. */
brant_status brant_map_draw(brant_context *ctx, const brant_map_scene *scene, cairo_t *cr,
                            const brant_map_box *box);

#endif
