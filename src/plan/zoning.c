/* The zones of a whole model, one row of squares after the other; and the layer
 * `zones` of a plan. */
#include "rasters.h"

#include <stdlib.h>
#include <string.h>

/* ---- a zone's attributes as a layer's columns ---------------------------- */

/* Looks zones up by number as outlines ask for them. */
typedef struct zone_lookup {
    const brant_zone *zones; /* by rising number */
    size_t count;
    brant_locator *locator;
    brant_text scratch;
} zone_lookup;

static int compare_number(const void *key, const void *element)
{
    uint32_t number = *(const uint32_t *)key;
    const brant_zone *zone = element;
    return number < zone->number ? -1 : number > zone->number;
}

static void high_point(const brant_zone *zone, brant_locator *locator, double *lon, double *lat)
{
    brant_locator_to_lonlat(locator, zone->high_col + 0.5, zone->high_row + 0.5, lon, lat);
}

static void lookup_values(void *self, uint32_t number, brant_value *values)
{
    zone_lookup *lookup = self;
    double lon, lat;
    const brant_zone *zone = bsearch(&number, lookup->zones, lookup->count, sizeof *zone,
                                     compare_number);
    brant_text_clear(&lookup->scratch);
    if (!zone)
        return;
    high_point(zone, lookup->locator, &lon, &lat);
    brant_zone_values(zone, lon, lat, &lookup->scratch, values);
}

static brant_status add_zone_layer(brant_context *ctx, brant_layers *layers)
{
    return brant_layers_add(ctx, layers, "zones", BRANT_SHAPE_AREA, brant_zone_columns,
                            brant_zone_column_count);
}

/* ---- all squares -------------------------------------------------------- */

typedef struct zoning {
    brant_dem *dem;
    const brant_zone_options *options;
    const brant_zone_outputs *outputs;
    brant_squares squares;
    brant_zone_square *done; /* a worker's latest square */
    brant_zone_square *row;  /* squares.across: the row that is being gathered */
    brant_raster *raster;
    brant_locator *locator;
    uint32_t *cells;
} zoning;

static brant_status number_square(brant_context *ctx, void *user, int worker, int64_t item)
{
    zoning *z = user;
    brant_zone_square_clear(&z->done[worker]);
    return brant_zones_of_square(ctx, &z->dem->source, z->dem->ground, &z->squares, (int)item,
                                 z->options, &z->done[worker]);
}

static void fill_from_row(const void *self, const brant_window *block, void *cells)
{
    const zoning *z = self;
    const brant_zone_square *square = &z->row[block->col / BRANT_SQUARE];
    uint32_t *out = cells;
    for (int r = 0; r < block->rows; r++) {
        size_t from = (size_t)(block->row + r - square->window.row) *
                          (size_t)square->window.cols +
                      (size_t)(block->col - square->window.col);
        memcpy(out + r * BRANT_BLOCK, square->number + from,
               (size_t)block->cols * sizeof *square->number);
    }
}

/* The block rows of the gathered row of squares. A square's side is a whole
 * number of blocks, so that no block lies in two squares. */
static brant_status write_row(brant_context *ctx, zoning *z, int square_row)
{
    brant_window all = {0, 0, z->dem->grid.cols, z->dem->grid.rows};
    pieces p = brant_pieces_of(&all);
    int64_t in_row = (int64_t)p.across * (BRANT_SQUARE / BRANT_BLOCK);
    int64_t end = (square_row + 1) * in_row < p.count ? (square_row + 1) * in_row : p.count;
    brant_status status = BRANT_OK;
    for (int64_t item = square_row * in_row; item < end && status == BRANT_OK; item++)
        status = brant_write_piece(ctx, z->raster, 1, &p, item, fill_from_row, z, z->cells);
    for (int i = 0; i < z->squares.across; i++)
        brant_zone_square_clear(&z->row[i]);
    return status;
}

static brant_status write_vectors(brant_context *ctx, zoning *z, const brant_zone_square *square)
{
    brant_status status = BRANT_OK;
    if (z->outputs->table)
        for (size_t i = 0; i < square->count; i++) {
            double lon, lat;
            high_point(&square->zones[i], z->locator, &lon, &lat);
            brant_zone_csv_row(&square->zones[i], lon, lat, z->outputs->table);
        }
    if (z->outputs->layers) {
        zone_lookup lookup = {square->zones, square->count, z->locator, {0}};
        status = brant_layers_outlines(ctx, z->outputs->layers, &z->dem->grid, &square->window,
                                       square->number, lookup_values, &lookup);
        brant_text_clear(&lookup.scratch);
    }
    return status;
}

static brant_status gather_square(brant_context *ctx, void *user, int worker, int64_t item)
{
    zoning *z = user;
    int across = z->squares.across;
    brant_zone_square *square = &z->row[item % across];
    brant_status status = write_vectors(ctx, z, &z->done[worker]);
    *square = z->done[worker]; /* moved */
    memset(&z->done[worker], 0, sizeof z->done[worker]);
    if (status == BRANT_OK && item % across == across - 1 && z->raster)
        status = write_row(ctx, z, (int)(item / across));
    else if (!z->raster)
        brant_zone_square_clear(square);
    return status;
}

static brant_status open_zoning(brant_context *ctx, zoning *z, brant_packing packing,
                                const brant_tags *tags)
{
    brant_window all = {0, 0, z->dem->grid.cols, z->dem->grid.rows};
    brant_raster_spec spec = brant_zones_spec(packing, tags);
    brant_status status = brant_squares_of(ctx, all.cols, all.rows, &z->squares);
    if (status != BRANT_OK)
        return status;
    z->done = brant_alloc(ctx, (size_t)ctx->threads, sizeof *z->done);
    z->row = brant_alloc(ctx, (size_t)z->squares.across, sizeof *z->row);
    z->cells = brant_alloc(ctx, (size_t)BRANT_BLOCK * BRANT_BLOCK, sizeof *z->cells);
    if (!z->done || !z->row || !z->cells)
        return BRANT_ERR_MEMORY;
    status = brant_locator_create(ctx, z->dem->name, &z->dem->grid, &z->locator);
    if (status == BRANT_OK && z->outputs->raster)
        status = brant_raster_create(ctx, z->outputs->raster, &z->dem->grid, &all, &spec,
                                     &z->raster);
    if (status == BRANT_OK && z->outputs->layers)
        status = add_zone_layer(ctx, z->outputs->layers);
    if (z->outputs->table)
        brant_zone_csv_header(z->outputs->table);
    return status;
}

static void close_zoning(zoning *z, int threads)
{
    for (int i = 0; z->done && i < threads; i++)
        brant_zone_square_clear(&z->done[i]);
    for (int i = 0; z->row && i < z->squares.across; i++)
        brant_zone_square_clear(&z->row[i]);
    brant_raster_abandon(z->raster);
    brant_locator_destroy(z->locator);
    free(z->done);
    free(z->row);
    free(z->cells);
}

brant_status brant_write_all_zones(brant_context *ctx, brant_dem *dem,
                                   const brant_zone_options *options,
                                   const brant_zone_outputs *outputs, brant_packing packing,
                                   const brant_tags *tags)
{
    zoning z = {.dem = dem, .options = options, .outputs = outputs};
    brant_status status = open_zoning(ctx, &z, packing, tags);
    if (status == BRANT_OK)
        status = brant_run(ctx, "zones", (int64_t)z.squares.across * z.squares.down,
                           number_square, gather_square, &z);
    if (status == BRANT_OK && z.raster) {
        status = brant_raster_close(ctx, z.raster);
        z.raster = NULL;
    }
    if (status == BRANT_OK && outputs->table)
        status = brant_text_status(ctx, outputs->table);
    close_zoning(&z, ctx->threads);
    return status;
}

/* ---- a plan's zones ----------------------------------------------------- */

static bool overlap(const brant_window *a, const brant_window *b)
{
    return a->col < b->col + b->cols && b->col < a->col + a->cols && a->row < b->row + b->rows &&
           b->row < a->row + a->rows;
}

/* Does the zone have a cell in the window? */
static bool reaches_into(const brant_zone_set *set, const brant_zone *zone,
                         const brant_window *window)
{
    if (!overlap(&zone->box, window))
        return false;
    for (int r = zone->box.row; r < zone->box.row + zone->box.rows; r++)
        for (int c = zone->box.col; c < zone->box.col + zone->box.cols; c++)
            if (brant_window_has(window, c, r) && brant_zone_set_at(set, c, r) == zone->number)
                return true;
    return false;
}

/* The zones to draw, and the window that holds all of them. */
static size_t choose_zones(const brant_zone_set *set, const brant_window *window,
                           brant_zone *chosen, brant_window *box)
{
    size_t count = 0;
    memset(box, 0, sizeof *box);
    for (size_t i = 0; i < set->count; i++)
        if (reaches_into(set, &set->zones[i], window)) {
            *box = brant_window_union(*box, set->zones[i].box);
            chosen[count++] = set->zones[i];
        }
    return count;
}

static void copy_numbers(const brant_zone_set *set, const brant_zone *chosen, size_t count,
                         const brant_window *box, uint32_t *numbers)
{
    uint32_t latest = 0;
    bool wanted = false;
    for (int r = 0; r < box->rows; r++)
        for (int c = 0; c < box->cols; c++) {
            uint32_t number = brant_zone_set_at(set, box->col + c, box->row + r);
            if (number != latest) {
                latest = number;
                wanted = number && bsearch(&number, chosen, count, sizeof *chosen, compare_number);
            }
            numbers[(size_t)r * (size_t)box->cols + (size_t)c] = wanted ? number : 0;
        }
}

brant_status brant_write_zone_layer(brant_context *ctx, const brant_dem *dem,
                                    const brant_zone_set *set, const brant_window *window,
                                    brant_layers *layers)
{
    zone_lookup lookup = {NULL, 0, NULL, {0}};
    uint32_t *numbers = NULL;
    brant_window box;
    brant_status status = add_zone_layer(ctx, layers);
    brant_zone *chosen = brant_alloc(ctx, set->count, sizeof *chosen);
    if (status == BRANT_OK && !chosen)
        status = BRANT_ERR_MEMORY;
    if (status != BRANT_OK)
        goto done;
    lookup.zones = chosen;
    lookup.count = choose_zones(set, window, chosen, &box);
    if (lookup.count == 0)
        goto done;
    numbers = brant_alloc(ctx, (size_t)box.rows * (size_t)box.cols, sizeof *numbers);
    status = numbers ? brant_locator_create(ctx, dem->name, &dem->grid, &lookup.locator)
                     : BRANT_ERR_MEMORY;
    if (status != BRANT_OK)
        goto done;
    copy_numbers(set, chosen, lookup.count, &box, numbers);
    status = brant_layers_outlines(ctx, layers, &dem->grid, &box, numbers, lookup_values, &lookup);
done:
    brant_locator_destroy(lookup.locator);
    brant_text_clear(&lookup.scratch);
    free(numbers);
    free(chosen);
    return status;
}
