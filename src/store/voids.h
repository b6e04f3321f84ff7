/* Voids that nobody declared: told from terrain by a survey of the model, by
 * value, so that every window gives the same answer. Private to the room. */
#ifndef BRANT_STORE_VOIDS_H
#define BRANT_STORE_VOIDS_H

#include "brant/store.h"

/* ---- what reading goes by ----------------------------------------------- */

#define BRANT_UNDECLARED_MAX 8

typedef struct brant_void_rules {
    /* stored values within the plausible range that are void all the same */
    double undeclared[BRANT_UNDECLARED_MAX];
    float undeclared_m[BRANT_UNDECLARED_MAX]; /* the same in metres, as read: what counts */
    int undeclared_count;
    bool zero_unmet;   /* one of them is 0, which the survey did not meet: warn when met */
    /* where the rest of the model leaves 0 open (a sea, or parts not surveyed): a
     * cell that stores 0 beside ground more than `cliff_m` higher is void */
    bool watch_zero;
    bool cliff_told;   /* the survey has told of such cells */
    double cliff_m;
    /* values that are no elevation and that the survey has told of */
    double told[16];
    int told_count;
    bool all_told;     /* of so many that the heights themselves are in doubt */
} brant_void_rules;

/* ---- values that are no elevation --------------------------------------- */

#define BRANT_TALLY_MAX 16

typedef struct brant_void_tally {
    double value[BRANT_TALLY_MAX]; /* stored, in the order met */
    int64_t count[BRANT_TALLY_MAX];
    int distinct;                  /* at most BRANT_TALLY_MAX */
    int64_t others;                /* cells with further values */
    double lowest, highest;        /* metres of all of them */
    int64_t fills;                 /* cells void by the survey's rules for plausible values */
} brant_void_tally;

void brant_void_count(brant_void_tally *tally, double stored, double metres);

/* ---- the survey of plausible values ------------------------------------- */

enum { BRANT_SURVEY_BINS = 9500 }; /* of a metre, from BRANT_LOWEST on */

typedef struct brant_void_survey {
    int64_t bin[BRANT_SURVEY_BINS];    /* cells by height */
    float first[BRANT_SURVEY_BINS];    /* the bin's first height */
    bool mixed[BRANT_SURVEY_BINS];     /* it holds others, too */
    int64_t known;                     /* cells with a height */
    int64_t zeros, zero_sides;         /* cells that store 0; their neighbours of other heights */
    int64_t smooth_sides, cliff_sides; /* of these: within near_m, beyond cliff_m */
    float lowest, highest;
    /* set before: */
    float zero;            /* metres of a stored 0 */
    double cell_m, near_m, cliff_m;
} brant_void_survey;

/* `cell_m` is the size of the model's own cells. */
void brant_void_survey_begin(brant_void_survey *survey, double zero, double cell_m);
/* Take in a window of heights in metres (NaN: void), row by row. */
void brant_void_survey_add(brant_void_survey *survey, const float *z, int cols, int rows);
/* Decide. `whole`: every cell was taken in. `scale`, `offset`: metres = stored *
 * scale + offset. `counts[i]` are the cells met that hold undeclared[i]. */
void brant_void_survey_decide(const brant_void_survey *survey, bool whole, double scale,
                              double offset, brant_void_rules *rules,
                              int64_t counts[static BRANT_UNDECLARED_MAX]);

/* Of the sides of cells that store 0, so many must lead to ground of about that
 * height for 0 to be a sea or a lake. From trials: on a fjord coast at 75 m cells 90 %
 * of them do, around a collar next to none. */
#define BRANT_SMOOTH_SHARE 0.1

/* Where 0 is both: each connected patch of it is judged by its own sides, and is a
 * fill if one of them is a cliff, too. fill[i] (zeroed, cols*rows, at most 2^31)
 * becomes 1 in such patches; `*cells` is their number. */
brant_status brant_void_patches(brant_context *ctx, const float *z, int cols, int rows,
                                const brant_void_survey *survey, uint8_t *fill, int64_t *cells);

/* The rule of `watch_zero`: z holds cols x rows cells with a margin of one cell on
 * each side (NaN outside the model). Makes void in `out` what it names; the number
 * of such cells. */
int64_t brant_void_cliffs(const float *z, int cols, int rows, float zero, double cliff_m,
                          float *out, size_t stride);

#endif
