/* Elevations of a window, band after band. */
#include "bands.h"

#include <stdlib.h>
#include <string.h>

#define BUDGET ((size_t)72 << 20) /* bytes of the two units, if they need be no larger */
#define GROUP 16                  /* rows of small strips read at once */

/* ---- panels ------------------------------------------------------------- */

/* Columns are counted from the window's left margin. */
static int panel_start(const brant_bands *b, int panel)
{
    if (panel == 0)
        return 0;
    return panel == b->panels - 1 ? b->window.cols + 1 : 1 + (panel - 1) * b->panel;
}

static int panel_of(const brant_bands *b, int at)
{
    if (at == 0)
        return 0;
    return at > b->window.cols ? b->panels - 1 : 1 + (at - 1) / b->panel;
}

static int panel_end(const brant_bands *b, int panel)
{
    return panel == b->panels - 1 ? b->window.cols + 2 : panel_start(b, panel + 1);
}

static float *panel_row(const brant_bands *b, int unit, int panel, int row)
{
    int start = panel_start(b, panel), wide = panel_end(b, panel) - start;
    return b->unit[unit % 2] + (size_t)start * (size_t)b->height + (size_t)row * (size_t)wide;
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
    return 2 * ((size_t)b->window.cols + 2) * (size_t)b->height * sizeof(float);
}

static void choose_shape(const brant_dem *dem, brant_bands *b)
{
    /* of a source without a file nothing is known */
    int rows = dem->block_rows > 0 ? dem->block_rows : BRANT_BLOCK;
    int cols = least(dem->block_cols > 0 ? dem->block_cols : BRANT_BLOCK, b->window.cols);
    int blocks = (rows - 1) / BRANT_BLOCK + 1, all = (b->window.rows - 1) / BRANT_BLOCK + 1;
    b->panel = at_least(cols, BRANT_BLOCK);
    b->panels = (b->window.cols - 1) / b->panel + 3;
    b->height = least(blocks, all) * BRANT_BLOCK;
    if (bytes_of(b) > BUDGET)
        b->height = BRANT_BLOCK;
    b->group = least(at_least(rows, GROUP), b->height);
}

brant_status brant_bands_open(brant_context *ctx, brant_dem *dem, const brant_window *window,
                              brant_bands *bands)
{
    *bands = (brant_bands){.source = &dem->source, .window = *window, .band = -1};
    choose_shape(dem, bands);
    for (int i = 0; i < 2; i++)
        bands->unit[i] = brant_alloc(ctx, bytes_of(bands) / 2, 1);
    bands->above = brant_alloc(ctx, (size_t)window->cols + 2, sizeof *bands->above);
    if (!bands->unit[0] || !bands->unit[1] || !bands->above)
        return BRANT_ERR_MEMORY;
    brant_window row = {window->col - 1, window->row - 1, window->cols + 2, 1};
    return bands->source->read(bands->source, ctx, &row, bands->above);
}

void brant_bands_close(brant_bands *bands)
{
    free(bands->unit[0]);
    free(bands->unit[1]);
    free(bands->above);
    *bands = (brant_bands){0};
}

/* ---- reading ------------------------------------------------------------ */

static brant_status read_part(brant_context *ctx, void *user, int worker, int64_t item)
{
    const brant_bands *b = user;
    (void)worker;
    int panel = (int)(item % b->panels), row = (int)(item / b->panels) * b->group;
    int start = panel_start(b, panel), first = b->reading * b->height + row;
    int left = b->window.rows + 1 - first; /* with the row below the window */
    brant_window part = {b->window.col - 1 + start, b->window.row + first,
                         panel_end(b, panel) - start,
                         least(least(b->group, left), b->height - row)};
    return b->source->read(b->source, ctx, &part, panel_row(b, b->reading, panel, row));
}

static brant_status read_unit(brant_context *ctx, brant_bands *b, int unit)
{
    int rows = least(b->height, b->window.rows + 1 - unit * b->height);
    int64_t groups = (rows - 1) / b->group + 1;
    b->reading = unit;
    return brant_run(ctx, NULL, groups * b->panels, read_part, NULL, b);
}

brant_status brant_bands_next(brant_context *ctx, brant_bands *b)
{
    int in_unit = b->height / BRANT_BLOCK;
    brant_status status = b->band < 0 ? read_unit(ctx, b, 0) : BRANT_OK;
    b->band++;
    if (b->band > 0 && b->band % in_unit == 0) /* before its place is taken */
        for (int panel = 0; panel < b->panels; panel++) {
            int start = panel_start(b, panel), n = panel_end(b, panel) - start;
            memcpy(b->above + start, panel_row(b, b->band / in_unit - 1, panel, b->height - 1),
                   (size_t)n * sizeof(float));
        }
    bool last = (b->band + 1) % in_unit == 0; /* of its unit */
    if (status == BRANT_OK && last && (b->band + 1) * BRANT_BLOCK <= b->window.rows)
        status = read_unit(ctx, b, (b->band + 1) / in_unit);
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
    for (col++; n > 0; n -= left, out += left, col += left) {
        int panel = panel_of(b, col);
        left = least(n, panel_end(b, panel) - col);
        memcpy(out, panel_row(b, unit, panel, at % b->height) + (col - panel_start(b, panel)),
               (size_t)left * sizeof *out);
    }
}
