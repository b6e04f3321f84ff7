/* Where a profile turns. Private to the room. */
#ifndef BRANT_DAY_CLIMB_H
#define BRANT_DAY_CLIMB_H

#include "brant/day.h"

/* Indices of the turning points of `count` elevations, none of them NaN, into `at`
 * (room for count + 1): the first, each point at which brant_climb turns round, the
 * last. Returns how many; 0 for count 0. From one to the next the ground rises, or
 * falls, or neither, but for what the hysteresis calls noise. */
size_t brant_turning_points(const float *elevation, size_t count, double hysteresis_m,
                            size_t *at);

#endif
