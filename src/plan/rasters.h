/* Blocks of rasters in raster order: what the writers of this room share. */
#ifndef BRANT_PLAN_RASTERS_H
#define BRANT_PLAN_RASTERS_H

#include "brant/plan.h"

/* A window in pieces: runs of at most PIECE_BLOCKS blocks of one block row, so
 * that a piece's memory does not grow with the raster. Piece by piece in rising
 * order is raster order. */
#define PIECE_BLOCKS 16

typedef struct pieces {
    brant_window window;
    int across; /* in a block row */
    int64_t count;
} pieces;

pieces brant_pieces_of(const brant_window *window);
/* The cells of piece `item`, in grid coordinates. */
brant_window brant_piece_window(const pieces *p, int64_t item);

/* Write the blocks of one piece: `fill` sets the cells of one block (`block`, in
 * grid coordinates, within the piece; row by row, BRANT_BLOCK cells apart). */
typedef void (*brant_fill_fn)(const void *self, const brant_window *block, void *cells);
brant_status brant_write_piece(brant_context *ctx, brant_raster *raster, int band,
                               const pieces *p, int64_t item, brant_fill_fn fill,
                               const void *self, void *cells);

/* A runout raster over `window`, from shadows that `of` gives piece by piece, each valid until
 * the next and covering its piece. */
typedef brant_status (*brant_shadow_fn)(brant_context *ctx, void *self, const brant_window *piece,
                                        const brant_shadow **shadow);
brant_status brant_write_shadow_pieces(brant_context *ctx, brant_dem *dem,
                                       const brant_window *window, brant_shadow_fn of, void *self,
                                       const char *path, brant_packing packing,
                                       const brant_tags *tags);

/* A raster's spec; owns nothing. */
brant_raster_spec brant_spec_of(const char *title, brant_cell_type type, int bands,
                                const brant_band_spec *band, brant_packing packing,
                                brant_resampling resampling, const brant_tags *tags);
/* The zone raster's. */
brant_raster_spec brant_zones_spec(brant_packing packing, const brant_tags *tags);

#endif
