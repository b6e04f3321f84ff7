/* The zones of one square: release ground, octants, parts, figures. */
#include "horn.h"
#include "patches.h"
#include "tally.h"

#include <inttypes.h>
#include <stdlib.h>

/* Aspect is smoothed over about this length before it is cut into octants. */
#define SMOOTHED_M 50.0

/* Half the odd number of cells that comes nearest to SMOOTHED_M, less one half:
 * the cells to each side of the middle one. */
static int half_box(double cell_m)
{
    return cell_m > 0.0 ? (int)fmin(SMOOTHED_M / cell_m / 2.0, BRANT_SQUARE) : 0;
}

typedef struct work {
    brant_square_ground ground;
    double width, height;      /* of a cell at the square's centre, metres */
    int half_cols, half_rows;  /* of the smoothing box */
    brant_patches patches;
    uint32_t *cell, *octant;   /* of each release cell */
    double *area;
    float *z;
} work;

static void work_clear(work *w)
{
    brant_square_ground_clear(&w->ground);
    free(w->cell);
    free(w->octant);
    free(w->area);
    free(w->z);
    free(w->patches.part);
}

/* ---- release ground ----------------------------------------------------- */

static bool releases(const brant_square_ground *g, int col, int row, float low)
{
    return g->slope[brant_square_at(g, col, row)] >= low; /* false for NaN */
}

/* List the release cells; number[] becomes 1 + each one's place in the list. */
static brant_status list_release(brant_context *ctx, work *w, const brant_ground *ground,
                                 float low, uint32_t *number)
{
    const brant_window *s = &w->ground.square;
    double row_area[BRANT_SQUARE];
    uint32_t count = 0;
    for (int r = 0; r < s->rows; r++)
        for (int c = 0; c < s->cols; c++)
            if (releases(&w->ground, c, r, low))
                number[(size_t)r * (size_t)s->cols + (size_t)c] = ++count;
    w->cell = brant_alloc(ctx, count, sizeof *w->cell);
    w->octant = brant_alloc(ctx, count, sizeof *w->octant);
    w->area = brant_alloc(ctx, count, sizeof *w->area);
    w->z = brant_alloc(ctx, count, sizeof *w->z);
    w->patches.part = brant_alloc(ctx, count, sizeof *w->patches.part);
    if (!w->cell || !w->octant || !w->area || !w->z || !w->patches.part)
        return BRANT_ERR_MEMORY;
    for (int r = 0; r < s->rows; r++) {
        brant_area_row(ground, s->col, s->row + r, s->cols, row_area);
        for (int c = 0; c < s->cols; c++) {
            const uint32_t cell = (uint32_t)r * (uint32_t)s->cols + (uint32_t)c;
            if (number[cell] == 0)
                continue;
            w->cell[number[cell] - 1] = cell;
            w->area[number[cell] - 1] = row_area[c];
            w->z[number[cell] - 1] = w->ground.z[brant_square_at(&w->ground, c, r)];
        }
    }
    w->patches = (brant_patches){.cols = s->cols, .rows = s->rows, .at = number, .count = count,
                                 .cell = w->cell, .area = w->area, .part = w->patches.part};
    return BRANT_OK;
}

/* ---- octants ------------------------------------------------------------ */

/* Sums over the box's rows of each column of `wide`, voids left out. */
static void sum_columns(const work *w, int row, const float *rise, float *restrict sum)
{
    const brant_square_ground *g = &w->ground;
    const int cols = g->wide.cols;
    const float *from = rise + brant_square_at(g, g->wide.col - g->square.col, row - w->half_rows);
    for (int c = 0; c < cols; c++)
        sum[c] = 0.0f;
    for (int r = 0; r <= 2 * w->half_rows; r++, from += cols)
        for (int c = 0; c < cols; c++)
            sum[c] += isnan(from[c]) ? 0.0f : from[c];
}

/* The octant of the mean gradient in the box around a cell; where the gradients
 * cancel out, of the cell's own. `east` and `north` are the columns' sums. */
static uint32_t octant_at(const work *w, int col, int row, const float *east, const float *north)
{
    const brant_square_ground *g = &w->ground;
    const int middle = col + g->square.col - g->wide.col;
    float sum_east = 0.0f, sum_north = 0.0f;
    for (int c = middle - w->half_cols; c <= middle + w->half_cols; c++) {
        sum_east += east[c];
        sum_north += north[c];
    }
    if (sum_east == 0.0f && sum_north == 0.0f) {
        sum_east = g->rise_east[brant_square_at(g, col, row)];
        sum_north = g->rise_north[brant_square_at(g, col, row)];
    }
    return (uint32_t)brant_octant(brant_aspect_of(sum_east, sum_north));
}

static brant_status find_octants(brant_context *ctx, work *w)
{
    const size_t wide = (size_t)w->ground.wide.cols;
    const uint32_t cols = (uint32_t)w->patches.cols;
    float *east = brant_alloc(ctx, wide, sizeof *east);
    float *north = brant_alloc(ctx, wide, sizeof *north);
    brant_status status = east && north ? BRANT_OK : BRANT_ERR_MEMORY;
    int summed = -1; /* the row that the columns' sums are for */
    for (uint32_t k = 0; k < w->patches.count && status == BRANT_OK; k++) {
        const int row = (int)(w->cell[k] / cols), col = (int)(w->cell[k] % cols);
        if (row != summed) {
            sum_columns(w, row, w->ground.rise_east, east);
            sum_columns(w, row, w->ground.rise_north, north);
            summed = row;
        }
        w->octant[k] = octant_at(w, col, row, east, north);
    }
    free(east);
    free(north);
    return status;
}

/* ---- figures ------------------------------------------------------------ */

/* Release ground goes on beyond the square's line at this cell. */
static bool is_cut(const brant_square_ground *g, int col, int row, float low)
{
    const int last_col = g->square.cols - 1, last_row = g->square.rows - 1;
    if (col > 0 && row > 0 && col < last_col && row < last_row)
        return false;
    for (int r = row - 1; r <= row + 1; r++)
        for (int c = col - 1; c <= col + 1; c++)
            if ((c < 0 || r < 0 || c > last_col || r > last_row) && releases(g, c, r, low))
                return true;
    return false;
}

/* Sum up the parts as zones, and turn number[] from places in the list into zone
 * numbers, `base` + 1 and so on. */
static brant_status number_zones(brant_context *ctx, const work *w,
                                 const brant_zone_options *options, uint32_t base,
                                 brant_zone_square *out)
{
    const brant_patches *p = &w->patches;
    const uint32_t cols = (uint32_t)p->cols;
    brant_tally *tallies = brant_alloc(ctx, p->parts, sizeof *tallies);
    out->zones = brant_alloc(ctx, p->parts, sizeof *out->zones);
    if (!tallies || !out->zones) {
        free(tallies);
        return BRANT_ERR_MEMORY;
    }
    for (uint32_t i = 0; i < p->parts; i++)
        tallies[i] = brant_tally_start(base + i + 1);
    for (uint32_t k = 0; k < p->count; k++) {
        const int row = (int)(p->cell[k] / cols), col = (int)(p->cell[k] % cols);
        brant_tally *tally = &tallies[p->part[k]];
        brant_tally_cell(tally, &w->ground, col, row, p->area[k]);
        if (is_cut(&w->ground, col, row, options->band.low))
            tally->zone.flags |= BRANT_ZONE_CUT;
        out->number[p->cell[k]] = tally->zone.number;
    }
    for (uint32_t i = 0; i < p->parts; i++)
        out->zones[i] = brant_tally_zone(&tallies[i], options);
    out->count = p->parts;
    free(tallies);
    return BRANT_OK;
}

/* ---- a square ----------------------------------------------------------- */

/* What a zone needs to stand alone. Where a cell is larger than min_area_m2 the octant
 * of a single cell is mostly noise: three cells and fewer join a neighbour all the
 * same. (A zone's size is a matter of numbering; every cell releases.) */
static double least_area(const work *w, const brant_zone_options *options)
{
    return fmax(options->min_area_m2, 3.5 * w->width * w->height);
}

static brant_status find_parts(brant_context *ctx, work *w, const brant_zone_options *options)
{
    double least = least_area(w, options), most = fmax(options->max_area_m2, 2.0 * least);
    brant_status status = find_octants(ctx, w);
    if (status != BRANT_OK)
        return status;
    brant_patches_label(&w->patches, w->octant);
    status = brant_patches_join(ctx, &w->patches, NULL, least, w->width, w->height);
    if (status == BRANT_OK)
        status = brant_patches_split(ctx, &w->patches, w->z, least, most, w->width, w->height);
    return status;
}

/* The box and the margin that it needs, from the matrix at the square's centre. */
static brant_status read_ground(brant_context *ctx, brant_source *source,
                                const brant_ground *ground, const brant_window *s, work *w)
{
    brant_matrix m;
    brant_ground_matrix(ground, s->col + s->cols / 2.0, s->row + s->rows / 2.0, &m);
    w->width = brant_matrix_cell_width(&m);
    w->height = brant_matrix_cell_height(&m);
    w->half_cols = half_box(w->width);
    w->half_rows = half_box(w->height);
    return brant_square_ground_read(ctx, source, ground, s, w->half_cols > 1 ? w->half_cols : 1,
                                    w->half_rows > 1 ? w->half_rows : 1, &w->ground);
}

brant_status brant_zones_of_square(brant_context *ctx, brant_source *source,
                                   const brant_ground *ground, const brant_squares *squares,
                                   int index, const brant_zone_options *options,
                                   brant_zone_square *out)
{
    work w = {0};
    brant_status status;
    *out = (brant_zone_square){
        .window = brant_square_window(squares, index, source->cols, source->rows)};
    const brant_window *s = &out->window;
    out->number = brant_alloc(ctx, (size_t)s->cols * (size_t)s->rows, sizeof *out->number);
    status = out->number ? read_ground(ctx, source, ground, s, &w) : BRANT_ERR_MEMORY;
    if (status == BRANT_OK)
        status = list_release(ctx, &w, ground, options->band.low, out->number);
    if (status == BRANT_OK)
        status = find_parts(ctx, &w, options);
    if (status == BRANT_OK && w.patches.parts >= squares->stride)
        status = brant_fail(ctx, BRANT_ERR_INPUT,
                            "columns %d-%d, rows %d-%d: %" PRIu32 " zones, but only %" PRIu32
                            " can be numbered there; a larger --min-area leaves fewer",
                            s->col, s->col + s->cols - 1, s->row, s->row + s->rows - 1,
                            w.patches.parts, squares->stride - 1);
    if (status == BRANT_OK)
        status = number_zones(ctx, &w, options, (uint32_t)index * squares->stride, out);
    work_clear(&w);
    if (status != BRANT_OK)
        brant_zone_square_clear(out);
    return status;
}

void brant_zone_square_clear(brant_zone_square *square)
{
    free(square->number);
    free(square->zones);
    *square = (brant_zone_square){0};
}
