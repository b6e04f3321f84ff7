/* What the files of the map share; map.h is what others need. */
#ifndef BRANT_REPORT_MAP_PARTS_H
#define BRANT_REPORT_MAP_PARTS_H

#include "map.h"
#include "palette.h"

/* ---- map_frame.c: the projection ---------------------------------------- */

/* WGS 84 degrees to map coordinates and back. */
typedef struct brant_map_projection {
    brant_locator *locator;
    double origin[2];
} brant_map_projection;

brant_status brant_map_projection_open(brant_context *ctx, const char *crs, bool polar,
                                       brant_map_projection *projection);
void brant_map_projection_close(brant_map_projection *projection);
void brant_map_forward(const brant_map_projection *projection, double lon, double lat,
                       double *easting, double *northing);
void brant_map_inverse(const brant_map_projection *projection, double easting, double northing,
                       double *lon, double *lat);
/* The UTM zone of a place, by number (0: UPS) and band letter; Norway's and Svalbard's wide
 * zones kept. Source: DMA TM 8358.1 (1990), chapter 3, and NGA.STND.0037 for MGRS, from
 * memory; tests hold it against published examples. */
int brant_map_zone(double lon, double lat, char *letter);

/* ---- map_ground.c: what the rasters say at the picture's pixels --------- */

/* Pixels of the picture below the lines: 200 an inch. */
#define BRANT_MAP_PIXEL (72.0 / 200.0)

/* As brant_class, and what no raster says anything about. */
#define BRANT_MAP_OUTSIDE BRANT_CLASSES

typedef enum brant_map_shadow {
    BRANT_MAP_LIT,           /* not reached at the reach angle */
    BRANT_MAP_UNKNOWN_ABOVE, /* so, but a void or the model's edge may hold release ground */
    BRANT_MAP_REACHED,       /* at the reach angle, not at 30 degrees */
    BRANT_MAP_REACHED_30
} brant_map_shadow;

typedef struct brant_map_ground {
    int cols, rows;   /* pixels; (0, 0) has its corner in the box's corner */
    float *elevation; /* metres at pixel centres, NaN unknown */
    uint8_t *classes; /* brant_class or BRANT_MAP_OUTSIDE */
    uint8_t *shadow;  /* brant_map_shadow */
} brant_map_ground;

brant_status brant_map_ground_read(brant_context *ctx, const brant_map_scene *scene,
                                   const brant_map_frame *frame, brant_map_ground *ground);
void brant_map_ground_clear(brant_map_ground *ground);

/* ---- map_warp.c: pixels to cells ---------------------------------------- */

/* Grid coordinates of a picture's pixel centres: exact on a lattice, bilinear between. */
typedef struct brant_map_warp {
    int across, down; /* nodes */
    double *nodes;    /* col, row of each */
} brant_map_warp;

brant_status brant_map_warp_make(brant_context *ctx, const char *name, const brant_grid *grid,
                                 const brant_map_frame *frame, int cols, int rows,
                                 brant_map_warp *warp);
void brant_map_warp_at(const brant_map_warp *warp, double i, double j, double *col, double *row);
void brant_map_warp_clear(brant_map_warp *warp);

/* ---- map_relief.c: the picture ------------------------------------------ */

/* Shading of each pixel, 1 flat ground, less in the shade; 1 where the slope is not known.
 * `metres`: a pixel on the ground; `turn_deg`: grid north clockwise from true north. */
void brant_map_relief(const brant_map_ground *ground, double metres, double turn_deg, float *out);
/* What a colour is multiplied with. */
double brant_map_light(double relief, uint8_t class);
/* Paint the picture into the frame's box. */
brant_status brant_map_paint(brant_context *ctx, cairo_t *cr, const brant_map_frame *frame,
                             const brant_map_ground *ground);
/* The colour of a pixel, before relief: what the key shows, too. i, j: pixels, for hatchings. */
void brant_map_colour(uint8_t class, uint8_t shadow, int i, int j, double rgb[3]);

/* ---- map_contours.c ------------------------------------------------------ */

typedef struct brant_map_point {
    double x, y;
} brant_map_point;

typedef struct brant_map_line {
    double level;
    size_t first, count; /* into points; a closed one ends where it begins */
} brant_map_line;

typedef struct brant_map_contours {
    brant_map_point *points;
    size_t point_count, point_capacity;
    brant_map_line *lines;
    size_t line_count, line_capacity;
} brant_map_contours;

/* Lines of equal height at the multiples of `interval`, by marching squares over cols x rows
 * heights; x and y in steps of them, (0, 0) at the first. A square with an unknown corner has
 * none. */
brant_status brant_map_trace(brant_context *ctx, const float *z, int cols, int rows,
                             double interval, brant_map_contours *contours);
void brant_map_contours_clear(brant_map_contours *contours);

/* ---- map_labels.c: where there is room for words ------------------------- */

typedef struct brant_map_labels {
    const brant_map_frame *frame;
    cairo_t *cr;
    PangoLayout *layout;
    brant_map_box *taken;
    size_t count, capacity;
    int across, down;   /* of `busy` */
    uint8_t *busy;      /* squares of BUSY points that the route passes */
    bool starved;       /* memory was short for some words */
    bool fontless;      /* some words could not be drawn */
} brant_map_labels;

brant_status brant_map_labels_begin(brant_context *ctx, const brant_map_scene *scene,
                                    const brant_map_frame *frame, cairo_t *cr,
                                    brant_map_labels *labels);
void brant_map_labels_end(brant_map_labels *labels);
/* Route squares that a box covers; negative where it leaves the map or meets a taken box. */
int brant_map_labels_cost(const brant_map_labels *labels, const brant_map_box *box);
brant_status brant_map_labels_take(brant_context *ctx, brant_map_labels *labels,
                                   const brant_map_box *box);
void brant_map_labels_pass(brant_map_labels *labels, double x, double y);
/* Set the words; their width. Lines are BRANT_MAP_LINE high. */
#define BRANT_MAP_TEXT 8.0
#define BRANT_MAP_LINE 10.0
double brant_map_words(brant_map_labels *labels, const char *text, bool bold);
/* Draw the words that were set, top left at x, y; `halo`: with a white rim of so many points. */
void brant_map_write(brant_map_labels *labels, double x, double y, double halo);

/* ---- map_route.c, map_margin.c, map_key.c, map_heights.c ---------------- */

/* A kind's line from the current path, which is used up. */
void brant_map_stroke(cairo_t *cr, brant_kind kind);
brant_status brant_map_route(brant_context *ctx, const brant_map_scene *scene,
                             const brant_map_projection *projection, brant_map_labels *labels,
                             int *left_out);
void brant_map_start_sign(cairo_t *cr, double x, double y);
void brant_map_wait_sign(cairo_t *cr, double x, double y);
/* Contours on the page, thinned; their lines; and last, where there is room, the heights of
 * index ones. */
brant_status brant_map_heights_trace(brant_context *ctx, const brant_map_ground *ground,
                                     const brant_map_frame *frame, brant_map_contours *contours);
void brant_map_heights_draw(cairo_t *cr, const brant_map_contours *contours, double interval);
brant_status brant_map_heights_label(brant_context *ctx, brant_map_labels *labels,
                                     const brant_map_contours *contours);
double brant_map_interval(double scale); /* of contours, metres */

/* Kilometre grid; and its numbers in the margins. */
double brant_map_grid_step(double scale); /* metres */
void brant_map_grid(cairo_t *cr, const brant_map_frame *frame);
void brant_map_margins(const brant_map_frame *frame, brant_map_labels *labels);

/* Height of the key below the map, and the margin to its left and top. */
#define BRANT_MAP_KEY 50.0
#define BRANT_MAP_MARGIN 11.0
void brant_map_key(const brant_map_scene *scene, const brant_map_frame *frame,
                   const brant_map_projection *projection, brant_map_labels *labels,
                   int left_out);
/* The longest of 1, 2, 5 x 10^n metres that takes at most `room` points. */
double brant_map_bar(const brant_map_frame *frame, double room);

#endif
