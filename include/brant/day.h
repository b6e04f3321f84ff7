/* day: what the day adds to the terrain. So far: metres climbed. */
#ifndef BRANT_DAY_H
#define BRANT_DAY_H

#include "brant/base.h"

#pragma GCC visibility push(default)

/* Metres up and down along `count` elevations (NaN: unknown, skipped). A change
 * of direction counts once it exceeds `hysteresis_m`, so that the model's noise
 * does not climb. Common practice, no source; 10 m serves 10-30 m models. */
#define BRANT_CLIMB_HYSTERESIS 10.0
void brant_climb(const float *elevation, size_t count, double hysteresis_m, double *up,
                 double *down);

#pragma GCC visibility pop

#endif
