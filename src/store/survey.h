/* A look at a model before it is used: voids that nobody declared, heights that
 * cannot be metres. Private to the room. */
#ifndef BRANT_STORE_SURVEY_H
#define BRANT_STORE_SURVEY_H

#include "cells.h"

/* Look at the model's own cells: all of them up to 8 million, else samples spread
 * over it. Sets cells->rules and warns. `matrix` is that of a working cell in the
 * middle, `factor` cells wide. `unit_from`: where the vertical unit was stated; NULL
 * if the user did, who is not asked again. *doubted: the heights look like another
 * unit's. */
brant_status brant_survey_run(brant_context *ctx, brant_cells *cells, const brant_matrix *matrix,
                              int factor, const char *unit_from, bool *doubted);

#endif
