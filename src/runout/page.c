/* One page of ground from the source: elevation and the direction of flow.
 *
 * The flow is the fall line of the gradient averaged over about 30 m: half a
 * metre of noise in a 10 m model turns a single cell's fall line by 2 degrees,
 * which would fray a fan's edge; over nine cells it turns by half a degree. Where
 * that mean is gentle but the cell itself is steep (a short pitch, a ridge whose
 * sides cancel), the cell's own fall line counts. */
#include "page.h"

#include <math.h>
#include <stdlib.h>
#include <string.h>

#define FLOW_SMOOTH_M 30.0

/* Cells to each side of an odd box of about FLOW_SMOOTH_M. */
static int half_box(double cell_m)
{
    int half = (int)floor(FLOW_SMOOTH_M / cell_m / 2.0);
    return half < 0 ? 0 : half > 15 ? 15 : half;
}

int brant_flow_around(double cell_m)
{
    return half_box(0.99 * cell_m) + 1; /* Horn's window is a cell more; grids vary a little */
}

typedef struct halo {
    brant_window window;  /* the page and the box around it */
    float *elevation;     /* window and one cell more to each side */
    float *east, *north;  /* uphill gradient by cell of the window; NaN unknown */
} halo;

static void halo_clear(halo *h)
{
    free(h->elevation);
    free(h->east);
    free(h->north);
}

static brant_status halo_read(brant_context *ctx, brant_source *source,
                              const brant_ground *ground, halo *h)
{
    int cols = h->window.cols, rows = h->window.rows, stride = cols + 2;
    size_t cells = (size_t)cols * (size_t)rows;
    brant_window around = {h->window.col - 1, h->window.row - 1, stride, rows + 2};
    h->elevation = brant_alloc(ctx, (size_t)stride * (size_t)(rows + 2), sizeof(float));
    h->east = brant_alloc(ctx, cells, sizeof(float));
    h->north = brant_alloc(ctx, cells, sizeof(float));
    if (!h->elevation || !h->east || !h->north)
        return BRANT_ERR_MEMORY;
    brant_status status = source->read(source, ctx, &around, h->elevation);
    if (status != BRANT_OK)
        return status;
    for (int r = 0; r < rows; r++) {
        const float *above = h->elevation + (size_t)r * (size_t)stride;
        size_t at = (size_t)r * (size_t)cols;
        brant_gradient_row(ground, h->window.col, h->window.row + r, cols, above, above + stride,
                           above + 2 * stride, h->east + at, h->north + at);
    }
    return BRANT_OK;
}

typedef struct vector {
    double east, north;
} vector;

/* Mean gradient of the known cells of the box around (c, r) of the window. */
static vector mean_gradient(const halo *h, int c, int r, int half_cols, int half_rows)
{
    vector sum = {0.0, 0.0};
    int known = 0;
    for (int i = r - half_rows; i <= r + half_rows; i++)
        for (int j = c - half_cols; j <= c + half_cols; j++) {
            size_t at = (size_t)i * (size_t)h->window.cols + (size_t)j;
            if (isnan(h->east[at]))
                continue;
            sum.east += h->east[at];
            sum.north += h->north[at];
            known++;
        }
    if (known > 0) {
        sum.east /= known;
        sum.north /= known;
    }
    return sum;
}

/* Downhill unit vector of a gradient steep enough to turn snow; false if not. */
static bool downhill(vector gradient, float *east, float *north)
{
    double steep = hypot(gradient.east, gradient.north);
    if (!(steep > tan(FLOW_SLOPE_DEG * M_PI / 180.0)))
        return false;
    *east = (float)(-gradient.east / steep);
    *north = (float)(-gradient.north / steep);
    return true;
}

brant_status brant_page_compute(brant_context *ctx, brant_source *source,
                                const brant_ground *ground, int pcol, int prow,
                                flow_page *page)
{
    brant_matrix m;
    int col = pcol << PAGE_SHIFT, row = prow << PAGE_SHIFT;
    brant_ground_matrix(ground, col + PAGE / 2, row + PAGE / 2, &m);
    int hc = half_box(brant_matrix_cell_width(&m)), hr = half_box(brant_matrix_cell_height(&m));
    halo h = {.window = {col - hc, row - hr, PAGE + 2 * hc, PAGE + 2 * hr}};
    brant_status status = halo_read(ctx, source, ground, &h);
    if (status != BRANT_OK)
        goto done;
    memset(page->east, 0, sizeof page->east);
    memset(page->north, 0, sizeof page->north);
    for (int r = 0; r < PAGE; r++)
        for (int c = 0; c < PAGE; c++) {
            size_t at = (size_t)r * PAGE + (size_t)c;
            size_t own = (size_t)(r + hr) * (size_t)h.window.cols + (size_t)(c + hc);
            page->elevation[at] = h.elevation[(size_t)(r + hr + 1) * (size_t)(h.window.cols + 2) +
                                              (size_t)(c + hc + 1)];
            if (isnan(h.east[own]))
                continue;
            if (!downhill(mean_gradient(&h, c + hc, r + hr, hc, hr), &page->east[at],
                          &page->north[at]))
                downhill((vector){h.east[own], h.north[own]}, &page->east[at], &page->north[at]);
        }
done:
    halo_clear(&h);
    return status;
}
