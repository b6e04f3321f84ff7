/* What the library tells of each cell's landforms, for test_landforms.py:
 * `landform_cells COLS ROWS CRS TRANSFORM...` reads float elevations, NaN void, row by row,
 * and writes two bytes a cell: gully, flat, each a brant_landform_answer. */
#include "brant/terrain.h"

#include <stdio.h>
#include <stdlib.h>

static bool tell(brant_relief *relief)
{
    const brant_window *w = &relief->window;
    bool written = true;
    for (int row = 0; row < w->rows; row++)
        for (int col = 0; col < w->cols; col++) {
            written &= putchar((int)brant_relief_gully(relief, col, row)) != EOF;
            written &= putchar((int)brant_relief_flat(relief, col, row, NULL)) != EOF;
        }
    return written && fflush(stdout) == 0;
}

int main(int count, char **words)
{
    brant_context ctx;
    brant_ground *ground = NULL;
    brant_relief relief = {0};
    if (count != 10)
        return 2;
    brant_grid grid = {.cols = atoi(words[1]), .rows = atoi(words[2]), .crs = words[3]};
    for (int i = 0; i < 6; i++)
        grid.transform[i] = strtod(words[4 + i], NULL);
    brant_window all = {0, 0, grid.cols, grid.rows};
    size_t cells = (size_t)grid.cols * (size_t)grid.rows;
    float *z = malloc(cells * sizeof *z);
    brant_context_init(&ctx);
    bool told = z && fread(z, sizeof *z, cells, stdin) == cells &&
                brant_ground_create(&ctx, "standard input", &grid, &ground) == BRANT_OK &&
                brant_relief_open(&ctx, ground, &all, z, &relief) == BRANT_OK && tell(&relief);
    if (!told)
        fprintf(stderr, "landform_cells: %s\n", ctx.message);
    brant_relief_close(&relief);
    brant_ground_destroy(ground);
    brant_context_clear(&ctx);
    free(z);
    return told ? 0 : 1;
}
