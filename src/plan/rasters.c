/* The rasters that programs write: what is in them, and block after block. */
#include "rasters.h"

#include <math.h>
#include <stdlib.h>
#include <string.h>

/* ---- what is in them ---------------------------------------------------- */

static const brant_band_spec zones_band = {"zone", "", true, 0, NULL, NULL};

#define SHADOW_BANDS 5
static const brant_band_spec shadow_bands[SHADOW_BANDS] = {
    {"reached_at_deg", "deg", true, BRANT_NODATA, NULL, NULL},
    {"head_m", "m", true, BRANT_NODATA, NULL, NULL},
    {"zone", "", true, BRANT_NODATA, NULL, NULL},
    {"zones_above", "", true, BRANT_NODATA, NULL, NULL},
    {"unknown_above", "", true, BRANT_NODATA, NULL, NULL},
};

brant_raster_spec brant_spec_of(const char *title, brant_cell_type type, int bands,
                                const brant_band_spec *band, brant_packing packing,
                                brant_resampling resampling, const brant_tags *tags)
{
    return (brant_raster_spec){title, type, bands, band, packing, resampling,
                               tags ? (const char *const *)tags->line : NULL, NULL};
}

brant_raster_spec brant_zones_spec(brant_packing packing, const brant_tags *tags)
{
    brant_raster_spec spec = brant_spec_of("Avalanche start zones", BRANT_CELL_UINT32, 1,
                                           &zones_band, packing, BRANT_RESAMPLE_NEAREST, tags);
    spec.style = brant_style_zones;
    return spec;
}

/* ---- pieces ------------------------------------------------------------- */

static int blocks_in(int cells)
{
    return (cells + BRANT_BLOCK - 1) / BRANT_BLOCK;
}

pieces brant_pieces_of(const brant_window *window)
{
    pieces p = {*window, (blocks_in(window->cols) + PIECE_BLOCKS - 1) / PIECE_BLOCKS, 0};
    p.count = (int64_t)p.across * blocks_in(window->rows);
    return p;
}

static int least(int a, int b)
{
    return a < b ? a : b;
}

brant_window brant_piece_window(const pieces *p, int64_t item)
{
    int col = (int)(item % p->across) * PIECE_BLOCKS * BRANT_BLOCK;
    int row = (int)(item / p->across) * BRANT_BLOCK;
    return (brant_window){p->window.col + col, p->window.row + row,
                          least(PIECE_BLOCKS * BRANT_BLOCK, p->window.cols - col),
                          least(BRANT_BLOCK, p->window.rows - row)};
}

brant_status brant_write_piece(brant_context *ctx, brant_raster *raster, int band,
                               const pieces *p, int64_t item, brant_fill_fn fill,
                               const void *self, void *cells)
{
    brant_window piece = brant_piece_window(p, item);
    int first = (piece.col - p->window.col) / BRANT_BLOCK;
    int by = (piece.row - p->window.row) / BRANT_BLOCK;
    brant_status status = BRANT_OK;
    for (int i = 0; i < blocks_in(piece.cols) && status == BRANT_OK; i++) {
        brant_window block = {piece.col + i * BRANT_BLOCK, piece.row,
                              least(BRANT_BLOCK, piece.cols - i * BRANT_BLOCK), piece.rows};
        fill(self, &block, cells);
        status = brant_raster_block(ctx, raster, band, first + i, by, cells);
    }
    return status;
}

/* One block of the widest cell type, zeroed. */
static void *block_buffer(brant_context *ctx)
{
    return brant_alloc(ctx, (size_t)BRANT_BLOCK * BRANT_BLOCK, sizeof(double));
}

/* ---- zones -------------------------------------------------------------- */

static void fill_zones(const void *self, const brant_window *block, void *cells)
{
    const brant_zone_set *zones = self;
    uint32_t *out = cells;
    for (int r = 0; r < block->rows; r++)
        for (int c = 0; c < block->cols; c++)
            out[r * BRANT_BLOCK + c] =
                brant_zone_set_at(zones, block->col + c, block->row + r);
}

brant_status brant_write_zones(brant_context *ctx, const brant_dem *dem,
                               const brant_window *window, const brant_zone_set *zones,
                               const char *path, brant_packing packing, const brant_tags *tags)
{
    pieces p = brant_pieces_of(window);
    brant_raster_spec spec = brant_zones_spec(packing, tags);
    brant_raster *raster = NULL;
    void *cells = block_buffer(ctx);
    brant_status status = BRANT_ERR_MEMORY;
    if (!cells)
        goto done;
    status = brant_raster_create(ctx, path, &dem->grid, window, &spec, &raster);
    for (int64_t item = 0; item < p.count && status == BRANT_OK; item++) {
        status = brant_check_stop(ctx);
        if (status == BRANT_OK)
            status = brant_write_piece(ctx, raster, 1, &p, item, fill_zones, zones, cells);
    }
    if (status == BRANT_OK) {
        status = brant_raster_close(ctx, raster);
        raster = NULL;
    }
done:
    brant_raster_abandon(raster);
    free(cells);
    return status;
}

/* ---- runout ------------------------------------------------------------- */

typedef struct shadow_part {
    const brant_shadow *shadow;
    const float *elevation; /* of the piece */
    brant_window piece;
    int band;
} shadow_part;

static double shadow_value(const brant_shadow *shadow, int band, size_t i)
{
    switch (band) {
    case 1:
        return shadow->reached_at[i];
    case 2:
        return shadow->head[i];
    case 3:
        return shadow->zone[i];
    case 4:
        return shadow->zones_above[i];
    default:
        return shadow->unknown_above[i];
    }
}

static void fill_shadow(const void *self, const brant_window *block, void *cells)
{
    const shadow_part *part = self;
    const brant_window *window = &part->shadow->window;
    double *out = cells;
    for (int r = 0; r < block->rows; r++) {
        size_t from = (size_t)(block->row + r - window->row) * (size_t)window->cols +
                      (size_t)(block->col - window->col);
        size_t ground = (size_t)(block->row + r - part->piece.row) * (size_t)part->piece.cols +
                        (size_t)(block->col - part->piece.col);
        for (int c = 0; c < block->cols; c++)
            out[r * BRANT_BLOCK + c] = isnan(part->elevation[ground + (size_t)c])
                                           ? (double)BRANT_NODATA
                                           : shadow_value(part->shadow, part->band,
                                                          from + (size_t)c);
    }
}

/* All bands of one piece. */
static brant_status write_shadow_piece(brant_context *ctx, brant_dem *dem, brant_raster *raster,
                                       const brant_shadow *shadow, const pieces *p, int64_t item,
                                       float *elevation, void *cells)
{
    shadow_part part = {shadow, elevation, brant_piece_window(p, item), 0};
    brant_status status = brant_check_stop(ctx);
    if (status == BRANT_OK)
        status = dem->source.read(&dem->source, ctx, &part.piece, elevation);
    for (part.band = 1; part.band <= SHADOW_BANDS && status == BRANT_OK; part.band++)
        status = brant_write_piece(ctx, raster, part.band, p, item, fill_shadow, &part, cells);
    return status;
}

brant_status brant_write_shadow_pieces(brant_context *ctx, brant_dem *dem,
                                       const brant_window *window, brant_shadow_fn of, void *self,
                                       const char *path, brant_packing packing,
                                       const brant_tags *tags)
{
    pieces p = brant_pieces_of(window);
    const brant_shadow *shadow;
    brant_raster_spec spec = brant_spec_of("Runout shadow", BRANT_CELL_FLOAT64, SHADOW_BANDS,
                                           shadow_bands, packing, BRANT_RESAMPLE_NEAREST, tags);
    brant_raster *raster = NULL;
    spec.style = brant_style_runout;
    float *elevation = brant_alloc(ctx, (size_t)PIECE_BLOCKS * BRANT_BLOCK * BRANT_BLOCK,
                                   sizeof *elevation);
    void *cells = block_buffer(ctx);
    brant_status status = BRANT_ERR_MEMORY;
    if (!elevation || !cells)
        goto done;
    status = brant_raster_create(ctx, path, &dem->grid, window, &spec, &raster);
    for (int64_t item = 0; item < p.count && status == BRANT_OK; item++) {
        brant_window piece = brant_piece_window(&p, item);
        status = of(ctx, self, &piece, &shadow);
        if (status == BRANT_OK)
            status = write_shadow_piece(ctx, dem, raster, shadow, &p, item, elevation, cells);
    }
    if (status == BRANT_OK) {
        status = brant_raster_close(ctx, raster);
        raster = NULL;
    }
done:
    brant_raster_abandon(raster);
    free(elevation);
    free(cells);
    return status;
}

static brant_status same_shadow(brant_context *ctx, void *self, const brant_window *piece,
                                const brant_shadow **shadow)
{
    (void)ctx;
    (void)piece;
    *shadow = self;
    return BRANT_OK;
}

brant_status brant_write_shadow(brant_context *ctx, brant_dem *dem, const brant_shadow *shadow,
                                const char *path, brant_packing packing, const brant_tags *tags)
{
    return brant_write_shadow_pieces(ctx, dem, &shadow->window, same_shadow,
                                     (void *)(uintptr_t)shadow, path, packing, tags);
}
