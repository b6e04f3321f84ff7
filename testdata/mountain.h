/* The demo's mountain: an invented one, made from a drawn skeleton of ridges
 * and valleys. Arrays only; make_demo.c writes it out. */
#ifndef DEMO_MOUNTAIN_H
#define DEMO_MOUNTAIN_H

#define DEMO_CELLS 600      /* columns, and rows */
#define DEMO_CELL 10.0      /* metres */
#define DEMO_NODATA -9999.0f

/* The whole model: DEMO_CELLS x DEMO_CELLS elevations in metres, rounded to
 * 1/8 m, northernmost row first, DEMO_NODATA in the hole. The caller frees;
 * NULL when memory is short. Only + - * / and square roots are used: every
 * IEEE machine makes the same mountain. */
float *demo_mountain(void);

/* A drawn position (km) to metres east and north of the model's south-west
 * corner: the drawing is bent a little before it becomes ground. */
void demo_place(double drawn_x, double drawn_y, double *east, double *north);

#endif
