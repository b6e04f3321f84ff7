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
    char flags[BRANT_FLAGS_MAX];
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
    if (!zone)
        return;
    high_point(zone, lookup->locator, &lon, &lat);
    brant_zone_values(zone, lon, lat, lookup->flags, values);
}

static brant_status add_zone_layer(brant_context *ctx, brant_layers *layers)
{
    return brant_report_layer(ctx, layers, "zones", BRANT_SHAPE_AREA, brant_zone_columns,
                              brant_zone_column_count);
}

/* ---- all squares -------------------------------------------------------- */

/* A square's numbers packed: a row of squares has to wait until it can be written in raster
 * order. A run is one word: cells - 1 in the lower bits, above them the number within the
 * square, 0 for none; so it is never more than the numbers themselves. */
#define RUN_BITS 10
#define RUN_MOST (1u << RUN_BITS)
_Static_assert(BRANT_SQUARE <= RUN_MOST, "a run fits its bits");

typedef struct packed {
    brant_window window;
    uint32_t base;      /* added to numbers within the square */
    uint32_t *run;
    size_t count, capacity;
    size_t first[BRANT_SQUARE]; /* of each row */
} packed;

typedef struct zoning {
    brant_dem *dem;
    const brant_zone_options *options;
    const brant_zone_outputs *outputs;
    brant_squares squares;
    brant_zone_square *done; /* a worker's latest square */
    packed *row;             /* squares.across: the row that is being gathered */
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

static void packed_clear(packed *p)
{
    free(p->run);
    p->run = NULL;
    p->count = p->capacity = 0;
}

static brant_status pack(brant_context *ctx, const brant_zone_square *square, uint32_t base,
                         packed *p)
{
    const int cols = square->window.cols;
    p->window = square->window;
    p->base = base;
    p->count = 0;
    for (int r = 0; r < square->window.rows; r++) {
        const uint32_t *number = square->number + (size_t)r * (size_t)cols;
        p->first[r] = p->count;
        for (int c = 0, end; c < cols; c = end) {
            for (end = c + 1; end < cols && number[end] == number[c]; end++)
                ;
            if (brant_grow(ctx, &p->run, &p->capacity, p->count + 1, sizeof *p->run) != BRANT_OK)
                return BRANT_ERR_MEMORY;
            p->run[p->count++] = (number[c] ? number[c] - base : 0) << RUN_BITS |
                                 (uint32_t)(end - c - 1);
        }
    }
    return BRANT_OK;
}

/* Cells `from` to `end` of a row of the square. */
static void unpack(const packed *p, int row, int from, int end, uint32_t *out)
{
    int at = 0;
    for (const uint32_t *run = p->run + p->first[row]; at < end; run++) {
        int stop = at + (int)(*run & (RUN_MOST - 1)) + 1;
        uint32_t within = *run >> RUN_BITS, number = within ? within + p->base : 0;
        for (int c = at < from ? from : at; c < stop && c < end; c++)
            out[c - from] = number;
        at = stop;
    }
}

static void fill_from_row(const void *self, const brant_window *block, void *cells)
{
    const zoning *z = self;
    const packed *square = &z->row[block->col / BRANT_SQUARE];
    const int from = block->col - square->window.col;
    uint32_t *out = cells;
    for (int r = 0; r < block->rows; r++)
        unpack(square, block->row + r - square->window.row, from, from + block->cols,
               out + r * BRANT_BLOCK);
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
    return status;
}

static brant_status write_table(brant_context *ctx, zoning *z, const brant_zone_square *square)
{
    brant_text rows = {0};
    for (size_t i = 0; i < square->count; i++) {
        double lon, lat;
        high_point(&square->zones[i], z->locator, &lon, &lat);
        brant_zone_csv_row(&square->zones[i], lon, lat, &rows);
    }
    brant_status status = brant_stage_append(ctx, z->outputs->stage, z->outputs->table, &rows);
    brant_text_clear(&rows);
    return status;
}

static brant_status write_vectors(brant_context *ctx, zoning *z, const brant_zone_square *square)
{
    brant_status status = BRANT_OK;
    if (z->outputs->table)
        status = write_table(ctx, z, square);
    if (status == BRANT_OK && z->outputs->layers) {
        zone_lookup lookup = {square->zones, square->count, z->locator, ""};
        status = brant_layers_outlines(ctx, z->outputs->layers, &z->dem->grid, &square->window,
                                       square->number, lookup_values, &lookup);
    }
    return status;
}

static brant_status gather_square(brant_context *ctx, void *user, int worker, int64_t item)
{
    zoning *z = user;
    int across = z->squares.across;
    brant_zone_square *square = &z->done[worker];
    brant_status status = write_vectors(ctx, z, square);
    if (status == BRANT_OK && z->raster)
        status = pack(ctx, square, (uint32_t)item * z->squares.stride, &z->row[item % across]);
    brant_zone_square_clear(square);
    if (status == BRANT_OK && item % across == across - 1 && z->raster)
        status = write_row(ctx, z, (int)(item / across));
    return status;
}

static brant_status begin_table(brant_context *ctx, zoning *z)
{
    brant_text header = {0};
    brant_zone_csv_header(&header);
    brant_status status = brant_stage_append(ctx, z->outputs->stage, z->outputs->table, &header);
    brant_text_clear(&header);
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
    if (status == BRANT_OK && z->outputs->table)
        status = begin_table(ctx, z);
    return status;
}

static void close_zoning(zoning *z, int threads)
{
    for (int i = 0; z->done && i < threads; i++)
        brant_zone_square_clear(&z->done[i]);
    for (int i = 0; z->row && i < z->squares.across; i++)
        packed_clear(&z->row[i]);
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
    close_zoning(&z, ctx->threads);
    return status;
}

/* ---- a plan's zones ----------------------------------------------------- */

/* Does the zone have a cell in the window? */
static bool reaches_into(const brant_zone_set *set, const brant_zone *zone,
                         const brant_window *window)
{
    if (brant_window_common(&zone->box, window).cols == 0)
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
    zone_lookup lookup = {NULL, 0, NULL, ""};
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
    free(numbers);
    free(chosen);
    return status;
}
