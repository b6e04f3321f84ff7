/* Zones from polygons that a person drew or edited.
 *
 * A polygon's cells are those whose centres it holds. A part of it that holds none within
 * the model still gets the cells it touches: what a person drew is never lost. Where
 * polygons overlap, a cell goes to the one of the lower reach angle, of equals to the
 * lowest number. All of that is decided cell by cell on the working grid, so that it is
 * the same in a window and in the whole. */
#include "polygons.h"
#include "polygon_layer.h"

#include <math.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

/* A polygon may reach over the model's edge by this much unsaid, in cells: what is lost in
 * writing coordinates down. */
#define OVER_CELLS 0.01

struct brant_polygons {
    brant_polygon_layer layer;
    const brant_polygon **order;  /* as they are painted: the last has the cell */
    const brant_polygon **number; /* by rising number */
    int cols, rows;
};

/* ---- is it one? --------------------------------------------------------- */

brant_polygon_format brant_polygons_format(const char *path)
{
    char begin[64] = {0};
    FILE *file = brant_gdal_is_file(path) ? fopen(path, "rb") : NULL;
    if (!file)
        return BRANT_POLYGONS_NONE;
    size_t count = fread(begin, 1, sizeof begin - 1, file);
    fclose(file);
    if (count >= 16 && memcmp(begin, "SQLite format 3", 16) == 0)
        return BRANT_POLYGONS_GEOPACKAGE;
    const char *text = strncmp(begin, "\xef\xbb\xbf", 3) == 0 ? begin + 3 : begin;
    bool object = text[strspn(text, " \t\r\n")] == '{';
    return object ? BRANT_POLYGONS_GEOJSON : BRANT_POLYGONS_NONE;
}

/* ---- numbers ------------------------------------------------------------ */

static int by_number(const void *a, const void *b)
{
    const brant_polygon *x = *(const brant_polygon *const *)a;
    const brant_polygon *y = *(const brant_polygon *const *)b;
    if (x->number != y->number)
        return x->number < y->number ? -1 : 1;
    return x < y ? -1 : x > y; /* as in the file */
}

/* Number what has none after the highest number there is. */
static brant_status give_numbers(brant_context *ctx, const char *path, brant_polygon_layer *layer)
{
    uint32_t highest = 0;
    size_t bare = 0, first = 0;
    for (size_t i = layer->count; i-- > 0;) {
        brant_polygon *polygon = &layer->polygons[i];
        highest = polygon->number > highest ? polygon->number : highest;
        if (polygon->number == 0) {
            first = i;
            bare++;
        }
    }
    if (bare == 0)
        return BRANT_OK;
    if (bare > UINT32_MAX - highest)
        return brant_fail(ctx, BRANT_ERR_INPUT,
                          "%s: feature %lld: has no number, and there is none above %lu", path,
                          layer->polygons[first].feature, (unsigned long)highest);
    if (!layer->numbered)
        brant_note(ctx, "%s: no column number: its polygons are numbered 1 to %zu in the order "
                   "of the file", path, bare);
    else
        brant_note(ctx, "%s: %zu of %zu polygons have no number and get those from %lu on: "
                   "feature %lld%s", path, bare, layer->count, (unsigned long)highest + 1,
                   layer->polygons[first].feature, bare > 1 ? " first" : "");
    for (size_t i = first; i < layer->count; i++)
        if (layer->polygons[i].number == 0)
            layer->polygons[i].number = ++highest;
    return BRANT_OK;
}

static brant_status check_unique(brant_context *ctx, const char *path, const brant_polygons *p)
{
    for (size_t i = 1; i < p->layer.count; i++) {
        const brant_polygon *a = p->number[i - 1], *b = p->number[i];
        if (a->number == b->number)
            return brant_fail(ctx, BRANT_ERR_INPUT,
                              "%s: feature %lld: number %lu is that of feature %lld, too (left "
                              "empty, it gets one of its own)", path, b->feature,
                              (unsigned long)b->number, a->feature);
    }
    return BRANT_OK;
}

static const brant_polygon *find(const brant_polygons *p, uint32_t number)
{
    size_t low = 0, high = p->layer.count;
    while (low < high) {
        size_t middle = low + (high - low) / 2;
        if (p->number[middle]->number < number)
            low = middle + 1;
        else
            high = middle;
    }
    return low < p->layer.count && p->number[low]->number == number ? p->number[low] : NULL;
}

/* ---- painting ----------------------------------------------------------- */

/* Where a window is painted with places in `order`, from 1. */
typedef struct canvas {
    const brant_window *window;
    uint32_t *cells;
    uint8_t *shared; /* NULL: not asked; 1 where more than one polygon has the cell */
    uint32_t colour;
} canvas;

static void paint_span(void *self, int row, int from, int to)
{
    canvas *c = self;
    size_t at = (size_t)(row - c->window->row) * (size_t)c->window->cols +
                (size_t)(from - c->window->col);
    for (int i = from; i < to; i++, at++) {
        if (c->shared && c->cells[at] != 0 && c->cells[at] != c->colour)
            c->shared[at] = 1;
        c->cells[at] = c->colour;
    }
}

/* `window` lies on the grid. */
static brant_status paint(brant_context *ctx, const brant_polygons *p, const brant_window *window,
                          uint32_t *cells, uint8_t *shared)
{
    canvas c = {window, cells, shared, 0};
    brant_status status = BRANT_OK;
    for (size_t i = 0; i < p->layer.count && status == BRANT_OK; i++) {
        const brant_polygon *polygon = p->order[i];
        c.colour = (uint32_t)i + 1;
        for (size_t k = 0; k < polygon->count && status == BRANT_OK; k++)
            status = brant_patch_cells(ctx, &p->layer.patches.patch[polygon->first + k], window,
                                       paint_span, &c);
    }
    return status;
}

brant_status brant_polygons_read(const brant_polygons *p, brant_context *ctx,
                                 const brant_window *window, uint32_t *out)
{
    brant_window on = brant_window_clip(*window, p->cols, p->rows);
    memset(out, 0, (size_t)window->cols * (size_t)window->rows * sizeof *out);
    if (!p->order)
        return brant_fail(ctx, BRANT_ERR_INTERNAL, "the outlines of the zones are dropped");
    if (on.cols < 1 || on.rows < 1)
        return BRANT_OK;
    uint32_t *cells = brant_alloc(ctx, (size_t)on.cols * (size_t)on.rows, sizeof *cells);
    brant_status status = cells ? paint(ctx, p, &on, cells, NULL) : BRANT_ERR_MEMORY;
    for (int r = 0; status == BRANT_OK && r < on.rows; r++) {
        const uint32_t *from = cells + (size_t)r * (size_t)on.cols;
        uint32_t *to = out + (size_t)(on.row + r - window->row) * (size_t)window->cols +
                       (size_t)(on.col - window->col);
        for (int c = 0; c < on.cols; c++)
            to[c] = from[c] ? p->order[from[c] - 1]->number : 0;
    }
    free(cells);
    return status;
}

/* ---- what the polygons are like ----------------------------------------- */

static void count_span(void *self, int row, int from, int to)
{
    uint64_t *count = self;
    (void)row;
    *count += (uint64_t)(to - from);
}

static bool reaches_over(const brant_polygons *p, const brant_patch *patch)
{
    return patch->low_col < -OVER_CELLS || patch->low_row < -OVER_CELLS ||
           patch->high_col > p->cols + OVER_CELLS || patch->high_row > p->rows + OVER_CELLS;
}

/* A polygon's cells, those of parts that hold no centre included, which are marked. */
static brant_status measure(brant_context *ctx, brant_polygons *p, const brant_polygon *polygon,
                            uint64_t *cells, bool *over)
{
    brant_window all = {0, 0, p->cols, p->rows};
    brant_status status = BRANT_OK;
    *cells = 0;
    *over = false;
    for (size_t k = 0; k < polygon->count && status == BRANT_OK; k++) {
        brant_patch *patch = &p->layer.patches.patch[polygon->first + k];
        uint64_t before = *cells;
        *over |= reaches_over(p, patch);
        status = brant_patch_cells(ctx, patch, &all, count_span, cells);
        if (status == BRANT_OK && *cells == before) {
            patch->touched = true;
            status = brant_patch_cells(ctx, patch, &all, count_span, cells);
        }
    }
    return status;
}

/* Mark what is too small, and say what lies outside the model. */
static brant_status look_at_all(brant_context *ctx, const char *path, const brant_dem *dem,
                                brant_polygons *p)
{
    size_t over = 0, outside = 0;
    const brant_polygon *first = NULL;
    brant_status status = BRANT_OK;
    for (size_t i = 0; i < p->layer.count && status == BRANT_OK; i++) {
        uint64_t cells;
        bool is_over;
        const brant_polygon *polygon = p->number[i];
        status = measure(ctx, p, polygon, &cells, &is_over);
        if ((is_over || cells == 0) && !first)
            first = polygon;
        outside += cells == 0;
        over += is_over && cells > 0;
    }
    if (status == BRANT_OK && outside == p->layer.count)
        return brant_fail(ctx, BRANT_ERR_INPUT, "%s: all polygons lie outside %s", path,
                          dem->name);
    if (status == BRANT_OK && first)
        brant_warn(ctx, "%s: of %zu polygons %zu lie outside %s and %zu partly: zone %lu%s",
                   path, p->layer.count, outside, dem->name, over, (unsigned long)first->number,
                   outside + over > 1 ? " first" : "");
    return status;
}

/* The part of the grid that the polygons lie in. */
static brant_window box_of(const brant_polygons *p)
{
    brant_window box = {0};
    for (size_t i = 0; i < p->layer.patches.count; i++) {
        const brant_patch *patch = &p->layer.patches.patch[i];
        double low_col = fmax(floor(patch->low_col), 0), low_row = fmax(floor(patch->low_row), 0);
        double end_col = fmin(floor(patch->high_col) + 1, p->cols);
        double end_row = fmin(floor(patch->high_row) + 1, p->rows);
        if (low_col < end_col && low_row < end_row)
            box = brant_window_union(box, (brant_window){(int)low_col, (int)low_row,
                                                         (int)(end_col - low_col),
                                                         (int)(end_row - low_row)});
    }
    return box;
}

/* Count the window's cells that polygons share, and those each of them keeps. */
static brant_status count_shared(brant_context *ctx, const brant_polygons *p,
                                 const brant_window *window, uint64_t *kept, uint64_t *total)
{
    size_t cells = (size_t)window->cols * (size_t)window->rows;
    uint32_t *colour = brant_alloc(ctx, cells, sizeof *colour);
    uint8_t *shared = brant_alloc(ctx, cells, sizeof *shared);
    brant_status status =
        colour && shared ? paint(ctx, p, window, colour, shared) : BRANT_ERR_MEMORY;
    for (size_t i = 0; status == BRANT_OK && i < cells; i++) {
        *total += shared[i];
        if (colour[i])
            kept[colour[i] - 1]++;
    }
    free(colour);
    free(shared);
    return status;
}

static brant_status warn_of_overlaps(brant_context *ctx, const char *path,
                                     const brant_polygons *p)
{
    brant_window box = box_of(p);
    uint64_t shared = 0;
    size_t covered = 0;
    uint64_t *kept = brant_alloc(ctx, p->layer.count, sizeof *kept);
    brant_status status = kept ? BRANT_OK : BRANT_ERR_MEMORY;
    for (int row = box.row; row < box.row + box.rows && status == BRANT_OK; row += BRANT_SQUARE)
        for (int col = box.col; col < box.col + box.cols && status == BRANT_OK;
             col += BRANT_SQUARE) {
            brant_window w = {col, row, BRANT_SQUARE, BRANT_SQUARE};
            w = brant_window_clip(w, box.col + box.cols, box.row + box.rows);
            status = brant_check_stop(ctx);
            if (status == BRANT_OK)
                status = count_shared(ctx, p, &w, kept, &shared);
        }
    for (size_t i = 0; status == BRANT_OK && i < p->layer.count; i++)
        covered += kept[i] == 0;
    if (status == BRANT_OK && shared > 0)
        brant_warn(ctx, "%s: polygons overlap on %llu cells, which go to the zone of the lower "
                   "reach angle, of equals to the lowest number; zones left without a cell, "
                   "those outside the model included: %zu", path, (unsigned long long)shared,
                   covered);
    free(kept);
    return status;
}

static void tell_angles(brant_context *ctx, const char *path, const brant_polygons *p)
{
    size_t count = 0;
    double low = INFINITY, high = 0;
    for (size_t i = 0; i < p->layer.count; i++) {
        double angle = p->layer.polygons[i].reach_angle_deg;
        if (angle > 0) {
            count++;
            low = fmin(low, angle);
            high = fmax(high, angle);
        }
    }
    if (count > 0)
        brant_note(ctx, "%s: %zu of %zu zones have a reach angle of their own, %.4g to %.4g "
                   "degrees", path, count, p->layer.count, low, high);
}

/* ---- opening ------------------------------------------------------------ */

/* A polygon with the reach angle that holds for it. */
typedef struct rank {
    double reach_angle_deg;
    const brant_polygon *polygon;
} rank;

/* Higher angles, then higher numbers, are painted first. */
static int by_rank(const void *a, const void *b)
{
    const rank *x = a, *y = b;
    if (x->reach_angle_deg != y->reach_angle_deg)
        return x->reach_angle_deg > y->reach_angle_deg ? -1 : 1;
    return x->polygon->number > y->polygon->number ? -1 : x->polygon->number <
                                                              y->polygon->number;
}

static brant_status put_in_order(brant_context *ctx, double reach_angle_deg, brant_polygons *p)
{
    size_t count = p->layer.count;
    rank *ranks = brant_alloc(ctx, count, sizeof *ranks);
    p->order = brant_alloc(ctx, count, sizeof *p->order);
    p->number = brant_alloc(ctx, count, sizeof *p->number);
    if (!ranks || !p->order || !p->number) {
        free(ranks);
        return BRANT_ERR_MEMORY;
    }
    for (size_t i = 0; i < count; i++) {
        const brant_polygon *polygon = &p->layer.polygons[i];
        p->number[i] = polygon;
        ranks[i].polygon = polygon;
        ranks[i].reach_angle_deg =
            polygon->reach_angle_deg > 0 ? polygon->reach_angle_deg : reach_angle_deg;
    }
    qsort(p->number, count, sizeof *p->number, by_number);
    qsort(ranks, count, sizeof *ranks, by_rank);
    for (size_t i = 0; i < count; i++)
        p->order[i] = ranks[i].polygon;
    free(ranks);
    return BRANT_OK;
}

brant_status brant_polygons_open(brant_context *ctx, const char *path, const brant_dem *dem,
                                 double reach_angle_deg, brant_polygons **out)
{
    *out = NULL;
    brant_polygons *p = brant_alloc(ctx, 1, sizeof *p);
    if (!p)
        return BRANT_ERR_MEMORY;
    p->cols = dem->grid.cols;
    p->rows = dem->grid.rows;
    brant_status status = brant_polygon_layer_read(ctx, path, dem, &p->layer);
    if (status == BRANT_OK)
        status = give_numbers(ctx, path, &p->layer);
    if (status == BRANT_OK)
        status = put_in_order(ctx, reach_angle_deg, p);
    if (status == BRANT_OK)
        status = check_unique(ctx, path, p);
    if (status == BRANT_OK)
        status = look_at_all(ctx, path, dem, p);
    if (status == BRANT_OK)
        status = warn_of_overlaps(ctx, path, p);
    if (status == BRANT_OK) {
        tell_angles(ctx, path, p);
        *out = p;
    } else
        brant_polygons_close(p);
    return status;
}

double brant_polygons_reach_angle(const brant_polygons *p, uint32_t number)
{
    const brant_polygon *polygon = find(p, number);
    return polygon ? polygon->reach_angle_deg : 0;
}

void brant_polygons_drop_outlines(brant_polygons *p)
{
    brant_patches_clear(&p->layer.patches);
    free(p->order);
    p->order = NULL;
}

double brant_polygons_flattest(const brant_polygons *p)
{
    double flattest = INFINITY;
    for (size_t i = 0; i < p->layer.count; i++)
        if (p->layer.polygons[i].reach_angle_deg > 0)
            flattest = fmin(flattest, p->layer.polygons[i].reach_angle_deg);
    return flattest;
}

void brant_polygons_close(brant_polygons *p)
{
    if (!p)
        return;
    brant_polygon_layer_clear(&p->layer);
    free(p->order);
    free(p->number);
    free(p);
}
