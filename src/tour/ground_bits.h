/* Of each cell around a track one byte, since many samples ask the same of it. */
#ifndef BRANT_TOUR_GROUND_BITS_H
#define BRANT_TOUR_GROUND_BITS_H

#include "brant/tour.h"

enum {
    BRANT_GROUND_UNKNOWN = 1, /* no slope: it may be release ground */
    BRANT_GROUND_RELEASE = 2, /* brant_releases */
    BRANT_GROUND_STEEP = 4,   /* steeper than options.remote_slope_deg */
    BRANT_GROUND_FAR = 8      /* release ground to be reckoned with from BRANT_REMOTE_FAR_M */
};

typedef struct brant_ground_bits {
    const brant_meeting *meeting;
    bool rated; /* there is a day that rates zones */
    brant_window window; /* on the meeting's field; cols 0: none */
    uint8_t *is;
} brant_ground_bits;

/* Of the ground around the samples, as far as remote triggering is looked for. Pair with
 * brant_ground_bits_clear. */
brant_status brant_ground_bits_of(brant_context *ctx, const brant_meeting *meeting,
                                  const brant_track *track, brant_ground_bits *bits);
void brant_ground_bits_clear(brant_ground_bits *bits);

/* Of any cell, also of one outside the window. */
unsigned brant_ground_bits_look(const brant_ground_bits *bits, int col, int row);

static inline unsigned brant_ground_bits_at(const brant_ground_bits *bits, int col, int row)
{
    const brant_window *w = &bits->window;
    if (col < w->col || row < w->row || col - w->col >= w->cols || row - w->row >= w->rows)
        return brant_ground_bits_look(bits, col, row);
    return bits->is[(size_t)(row - w->row) * (size_t)w->cols + (size_t)(col - w->col)];
}

#endif
