/* The ground that the steepness limit considers: beside the track, the whole slope, the
 * catchment. */
#ifndef BRANT_TOUR_SLOPE_GROUND_H
#define BRANT_TOUR_SLOPE_GROUND_H

#include "brant/tour.h"

#define BRANT_SLOPE_DEG 28.0f      /* a slope is connected ground this steep */
#define BRANT_SLOPE_FLAT_M 50.0    /* a flat this wide parts a leg from the slope above; flat
                                      is gentler than BRANT_FLAT_DEG */
#define BRANT_TRACK_M 20.0         /* beside the track */

/* Marks of a window's cells for brant_whole_slope_of. */
enum {
    BRANT_MARK_NEAR = 1,   /* the leg is on it or at its edge */
    BRANT_MARK_WAY = 2,    /* the leg stands here, with slopes above that reach it */
    BRANT_MARK_TARGET = 4  /* part of a zone that reaches the leg */
};

typedef struct brant_whole_slope {
    double steepest_deg; /* 0: the leg has no such slope */
    bool unknown;        /* ground of unknown slope is part of it, or touches it */
    bool cut;            /* it goes on beyond the window */
} brant_whole_slope;

/* Connected (corners too) ground of 28 degrees and more that holds a cell marked near, or
 * a target to which a way leads from a cell marked way with no flat of 50 m on it.
 * `slope`: window.rows*window.cols, NaN unknown: it hinders no way. */
brant_status brant_whole_slope_of(brant_context *ctx, const brant_window *window,
                                  const brant_matrix *matrix, const float *slope,
                                  const uint8_t *marks, brant_whole_slope *out);

/* The steepest known ground, by brant_limit_ground less 1, and whether there is unknown
 * ground that may be steeper. Each ground holds the one before. */
typedef struct brant_leg_ground {
    double steepest_deg[3];
    bool unknown[3];
} brant_leg_ground;

/* Of every leg, and of every sample its steepest ground beside the track. Reads the model
 * around each stretch of a leg and as far as its slope goes, up to a limit (then unknown).
 * The caller frees both. */
brant_status brant_leg_grounds(brant_context *ctx, const brant_meeting *meeting,
                               brant_source *source, const brant_tour *tour,
                               brant_leg_ground **legs, float **track_deg);

#endif
