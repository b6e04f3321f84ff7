/* Elevations of a window, band after band. */
#include "bands.h"

#include <stdlib.h>
#include <string.h>

#define GROUP 16 /* rows of small strips read at once */

/* ---- panels ------------------------------------------------------------- */

/* Columns are counted from the span's left margin. */

static int panel_count(const brant_bands *b)
{
    return (b->cols - 1) / b->panel + 3;
}

static int panel_start(const brant_bands *b, int panel)
{
    if (panel == 0)
        return 0;
    return panel == panel_count(b) - 1 ? b->cols + 1 : 1 + (panel - 1) * b->panel;
}

static int panel_of(const brant_bands *b, int at)
{
    if (at == 0)
        return 0;
    return at > b->cols ? panel_count(b) - 1 : 1 + (at - 1) / b->panel;
}

static int panel_end(const brant_bands *b, int panel)
{
    return panel == panel_count(b) - 1 ? b->cols + 2 : panel_start(b, panel + 1);
}

static float *panel_row(const brant_bands *b, int unit, int panel, int row)
{
    int start = panel_start(b, panel), wide = panel_end(b, panel) - start;
    bool next = b->tight && unit != b->band;
    int height = next ? 1 : b->height;
    return b->unit[b->tight ? next : unit % 2] + (size_t)start * (size_t)height +
           (size_t)row * (size_t)wide;
}

/* ---- opening ------------------------------------------------------------ */

static int least(int a, int b)
{
    return a < b ? a : b;
}

/* Of what is narrow, several together. */
static int at_least(int size, int wanted)
{
    return size < wanted ? size * (wanted / size) : size;
}

static size_t bytes_of(const brant_bands *b)
{
    return 2 * ((size_t)b->span + 2) * (size_t)b->height * sizeof(float);
}

static void choose_shape(const brant_dem *dem, size_t budget_bytes, brant_bands *b)
{
    /* of a source without a file nothing is known */
    int rows = dem->block_rows > 0 ? dem->block_rows : BRANT_BLOCK;
    int cols = least(dem->block_cols > 0 ? dem->block_cols : BRANT_BLOCK, b->window.cols);
    int blocks = (rows - 1) / BRANT_BLOCK + 1, all = (b->window.rows - 1) / BRANT_BLOCK + 1;
    b->span = b->window.cols;
    b->panel = at_least(cols, BRANT_BLOCK);
    b->height = least(blocks, all) * BRANT_BLOCK;
    if (bytes_of(b) > budget_bytes)
        b->height = BRANT_BLOCK;
    b->tight = bytes_of(b) > budget_bytes;
    if (b->tight) {
        size_t most = budget_bytes / (BRANT_BLOCK * sizeof(float));
        if (most < (size_t)b->span)
            b->span = (int)(most / BRANT_BLOCK * BRANT_BLOCK);
        b->panel = least(b->panel, b->span);
    }
    b->group = least(at_least(rows, GROUP), b->height);
}

brant_status brant_bands_open(brant_context *ctx, brant_dem *dem, const brant_window *window,
                              size_t budget_bytes, brant_bands *bands)
{
    *bands = (brant_bands){.source = &dem->source, .window = *window, .band = -1};
    choose_shape(dem, budget_bytes, bands);
    bands->cols = bands->span;
    size_t row = ((size_t)window->cols + 2) * sizeof(float), unit = bytes_of(bands) / 2;
    bands->unit[0] = brant_alloc(ctx, unit, 1);
    bands->unit[1] = brant_alloc(ctx, bands->tight ? row : unit, 1);
    bands->above = brant_alloc(ctx, row, 1);
    bands->last = brant_alloc(ctx, bands->tight ? row : 1, 1);
    if (!bands->unit[0] || !bands->unit[1] || !bands->above || !bands->last)
        return BRANT_ERR_MEMORY;
    brant_window above = {window->col - 1, window->row - 1, window->cols + 2, 1};
    return bands->source->read(bands->source, ctx, &above, bands->above);
}

void brant_bands_close(brant_bands *bands)
{
    free(bands->unit[0]);
    free(bands->unit[1]);
    free(bands->above);
    free(bands->last);
    *bands = (brant_bands){0};
}

/* ---- reading ------------------------------------------------------------ */

/* The first row of a panel of the next unit: of all rows that its blocks hold together, for
 * what is no whole block comes by GDAL's cache and fills it. */
static brant_status read_first(brant_context *ctx, const brant_bands *b, const brant_window *row,
                               float *out)
{
    brant_window all = *row;
    all.rows = least(b->group, b->window.row + b->window.rows + 1 - row->row);
    float *z = brant_alloc(ctx, (size_t)all.cols * (size_t)all.rows, sizeof *z);
    if (!z)
        return BRANT_ERR_MEMORY;
    brant_status status = b->source->read(b->source, ctx, &all, z);
    memcpy(out, z, (size_t)all.cols * sizeof *z);
    free(z);
    return status;
}

static brant_status read_part(brant_context *ctx, void *user, int worker, int64_t item)
{
    const brant_bands *b = user;
    (void)worker;
    int panels = panel_count(b);
    int panel = (int)(item % panels), row = (int)(item / panels) * b->group;
    int start = panel_start(b, panel);
    brant_window part = {b->window.col + b->col - 1 + start,
                         b->window.row + b->reading * b->height + row,
                         panel_end(b, panel) - start, least(b->group, b->rows - row)};
    float *to = panel_row(b, b->reading, panel, row);
    if (b->tight && b->reading != b->band)
        return read_first(ctx, b, &part, to);
    return b->source->read(b->source, ctx, &part, to);
}

/* So many rows of a unit, or those up to the one below the window. */
static brant_status read_unit(brant_context *ctx, brant_bands *b, int unit, int rows)
{
    b->reading = unit;
    b->rows = least(rows, b->window.rows + 1 - unit * b->height);
    int64_t groups = (b->rows - 1) / b->group + 1;
    return brant_run(ctx, NULL, groups * panel_count(b), read_part, NULL, b);
}

/* The last row of a unit, what is at hand of it. */
static void keep_last(const brant_bands *b, int unit, float *row)
{
    for (int panel = 0; panel < panel_count(b); panel++) {
        int start = panel_start(b, panel), n = panel_end(b, panel) - start;
        memcpy(row + b->col + start, panel_row(b, unit, panel, b->height - 1),
               (size_t)n * sizeof(float));
    }
}

static brant_status next_span(brant_context *ctx, brant_bands *b)
{
    float *above = b->above;
    if (b->band >= 0)
        keep_last(b, b->band, b->last);
    b->col += b->span;
    if (b->band < 0 || b->col >= b->window.cols) {
        if (b->band >= 0) {
            b->above = b->last;
            b->last = above;
        }
        b->band++;
        b->col = 0;
    }
    b->cols = least(b->span, b->window.cols - b->col);
    brant_status status = read_unit(ctx, b, b->band, b->height);
    if (status == BRANT_OK && (b->band + 1) * BRANT_BLOCK <= b->window.rows)
        status = read_unit(ctx, b, b->band + 1, 1);
    return status;
}

brant_status brant_bands_next(brant_context *ctx, brant_bands *b)
{
    int in_unit = b->height / BRANT_BLOCK;
    if (b->tight)
        return next_span(ctx, b);
    brant_status status = b->band < 0 ? read_unit(ctx, b, 0, b->height) : BRANT_OK;
    b->band++;
    if (b->band > 0 && b->band % in_unit == 0) /* before its place is taken */
        keep_last(b, b->band / in_unit - 1, b->above);
    bool last = (b->band + 1) % in_unit == 0; /* of its unit */
    if (status == BRANT_OK && last && (b->band + 1) * BRANT_BLOCK <= b->window.rows)
        status = read_unit(ctx, b, (b->band + 1) / in_unit, b->height);
    return status;
}

void brant_bands_row(const brant_bands *b, int row, int col, int n, float *out)
{
    int at = b->band * BRANT_BLOCK + row, unit = at / b->height, left;
    int own = b->band * BRANT_BLOCK / b->height;
    if (at < own * b->height) {
        memcpy(out, b->above + col + 1, (size_t)n * sizeof *out);
        return;
    }
    for (col += 1 - b->col; n > 0; n -= left, out += left, col += left) {
        int panel = panel_of(b, col);
        left = least(n, panel_end(b, panel) - col);
        memcpy(out, panel_row(b, unit, panel, at % b->height) + (col - panel_start(b, panel)),
               (size_t)left * sizeof *out);
    }
}
