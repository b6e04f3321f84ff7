/* What is behind brant_dem.self. Private to the room. */
#ifndef BRANT_STORE_MODEL_H
#define BRANT_STORE_MODEL_H

#include "cells.h"

typedef struct brant_model {
    brant_cells cells;
    int factor;
} brant_model;

#endif
