/* What the two makers of a zone set share. */
#ifndef BRANT_SET_H
#define BRANT_SET_H

#include "brant/terrain.h"

/* Empty squares for the source's grid, and the indices of the wanted ones in
 * rising order; the caller frees *indices. */
brant_status brant_set_begin(brant_context *ctx, brant_zone_set *set, const brant_source *source,
                             const bool *wanted, int **indices, int *count);
/* Give the zones of set->zones their faces. */
brant_status brant_set_join_faces(brant_context *ctx, brant_zone_set *set);

#endif
