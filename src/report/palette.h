/* The colours of the sheet and its map, sRGB from 0 to 1. Steepness and shadow differ in
 * lightness, too, and the shadow in hatching: they are told apart in grey. */
#ifndef BRANT_REPORT_PALETTE_H
#define BRANT_REPORT_PALETTE_H

#include "brant/report.h"

/* A class of steepness in print: brant_class_colours thinned with white, so that lines and
 * words stay readable on the darkest. */
void brant_palette_class(brant_class class, double rgb[3]);
/* Black (0) or white (1), whichever words on it are read better in. */
double brant_palette_ink(brant_class class);
/* WCAG 2.2's relative luminance of an sRGB colour, and the contrast of two of them: 1 to 21. */
double brant_palette_luminance(const double rgb[3]);
double brant_palette_contrast(const double a[3], const double b[3]);

/* Printed colours; each a triple. */
extern const double brant_palette_paper[3];     /* gentle ground, not reached */
extern const double brant_palette_reached[3];   /* runout shadow at the reach angle */
extern const double brant_palette_reached30[3]; /* at 30 degrees */
extern const double brant_palette_shadow_line[3]; /* its hatching */
extern const double brant_palette_unknown[3];
extern const double brant_palette_unknown_line[3];
extern const double brant_palette_outside_line[3]; /* on white */
extern const double brant_palette_contour[3];
extern const double brant_palette_grid[3];
extern const double brant_palette_kind[BRANT_KINDS][3]; /* route lines, on white casing */

extern const uint8_t brant_octant_colours[8][3]; /* of the aspect raster, from north clockwise */

/* A kind is told by width and pattern as well as by colour, in points: `core` is a white line
 * within; a dash is {drawn, left out}, {0, 0} for none. */
typedef struct brant_line_look {
    double width, core;
    double dash[2], core_dash[2];
    bool round; /* ends */
} brant_line_look;

extern const brant_line_look brant_palette_line[BRANT_KINDS];
#define BRANT_PALETTE_CASING 1.1 /* white, on each side of a route line */

#endif
