/* Contours on the map, and the heights of the index ones. */
#include "map_parts.h"

#include <math.h>
#include <stdlib.h>

#define SKIP 2               /* pixels between the heights that are traced */
#define TOLERANCE 0.08       /* points that a line may be off: 0.03 mm */
#define BETWEEN_LABELS 330.0 /* points along a line */
#define SHORTEST 5.0         /* points; shorter lines are specks: noise of flat ground */

double brant_map_interval(double scale)
{
    return scale < 20000 ? 10 : scale < 40000 ? 20 : scale < 200000 ? 50 :
           scale < 500000 ? 100 : scale < 1000000 ? 200 : 500;
}

/* Between index contours: a round hundred or more. */
static double index_interval(double interval)
{
    return interval == 50 ? 200 : 5 * interval;
}

/* ---- thinning ----------------------------------------------------------- */

static double off_line(const brant_map_point *a, const brant_map_point *b,
                       const brant_map_point *p)
{
    double x = b->x - a->x, y = b->y - a->y, length = hypot(x, y);
    if (length < 1e-9)
        return hypot(p->x - a->x, p->y - a->y);
    return fabs((p->x - a->x) * y - (p->y - a->y) * x) / length;
}

/* Keep the points that a line needs (Douglas and Peucker 1973), in place; their number. */
static brant_status thin(brant_context *ctx, brant_map_point *p, size_t *count)
{
    size_t n = *count, kept = 0, top = 0;
    uint8_t *keep = brant_alloc(ctx, n, 1);
    size_t(*stack)[2] = brant_alloc(ctx, n, sizeof *stack);
    if (keep && stack && n > 2) {
        keep[0] = keep[n - 1] = 1;
        stack[top][0] = 0;
        stack[top++][1] = n - 1;
        while (top > 0) {
            size_t a = stack[--top][0], b = stack[top][1], worst = a;
            double most = TOLERANCE;
            for (size_t i = a + 1; i < b; i++)
                if (off_line(&p[a], &p[b], &p[i]) > most) {
                    most = off_line(&p[a], &p[b], &p[i]);
                    worst = i;
                }
            if (worst == a)
                continue;
            keep[worst] = 1;
            stack[top][0] = a;
            stack[top++][1] = worst;
            stack[top][0] = worst;
            stack[top++][1] = b;
        }
        for (size_t i = 0; i < n; i++)
            if (keep[i])
                p[kept++] = p[i];
        *count = kept;
    }
    brant_status status = keep && stack ? BRANT_OK : BRANT_ERR_MEMORY;
    free(keep);
    free(stack);
    return status;
}

/* ---- heights ------------------------------------------------------------ */

/* Where a label of `width` may stand on a line from point `at` on: straight enough, and room.
 * Its middle and direction. */
static bool stands(const brant_map_labels *labels, const brant_map_point *p, size_t count,
                   size_t at, double width, brant_map_point *middle, double *angle,
                   brant_map_box *box)
{
    double length = 0;
    size_t end = at;
    while (end + 1 < count && length < width + 4) {
        length += hypot(p[end + 1].x - p[end].x, p[end + 1].y - p[end].y);
        end++;
    }
    double x = p[end].x - p[at].x, y = p[end].y - p[at].y, chord = hypot(x, y);
    if (length < width + 4 || length > 2 * width || chord < 0.96 * length)
        return false;
    for (size_t i = at + 1; i < end; i++)
        if (off_line(&p[at], &p[end], &p[i]) > 1.5)
            return false;
    *middle = (brant_map_point){(p[at].x + p[end].x) / 2, (p[at].y + p[end].y) / 2};
    *angle = atan2(y, x);
    if (fabs(*angle) > M_PI / 2)
        *angle += *angle > 0 ? -M_PI : M_PI;
    double wide = width * fabs(cos(*angle)) + BRANT_MAP_LINE * fabs(sin(*angle));
    double high = width * fabs(sin(*angle)) + BRANT_MAP_LINE * fabs(cos(*angle));
    *box = (brant_map_box){middle->x - wide / 2, middle->y - high / 2, wide, high};
    return brant_map_labels_cost(labels, box) == 0;
}

static void write_along(brant_map_labels *labels, const brant_map_point *middle, double angle,
                        double width)
{
    cairo_t *cr = labels->cr;
    cairo_save(cr);
    cairo_translate(cr, middle->x, middle->y);
    cairo_rotate(cr, angle);
    cairo_set_source_rgb(cr, brant_palette_contour[0], brant_palette_contour[1],
                         brant_palette_contour[2]);
    brant_map_write(labels, -width / 2, -BRANT_MAP_LINE / 2, 1.2);
    cairo_restore(cr);
}

static brant_status label_line(brant_context *ctx, brant_map_labels *labels,
                               const brant_map_contours *c, const brant_map_line *line)
{
    const brant_map_point *p = c->points + line->first;
    double since = BETWEEN_LABELS - 40, angle;
    brant_text text = {0};
    brant_map_point middle;
    brant_map_box box;
    brant_text_number(&text, line->level, 0);
    brant_status status = brant_text_status(ctx, &text);
    double width = status == BRANT_OK ? brant_map_words(labels, text.data, false) : 0;
    for (size_t i = 0; i + 1 < line->count && status == BRANT_OK; i++) {
        if (since >= BETWEEN_LABELS &&
            stands(labels, p, line->count, i, width, &middle, &angle, &box)) {
            write_along(labels, &middle, angle, width);
            status = brant_map_labels_take(ctx, labels, &box);
            since = 0;
        }
        since += hypot(p[i + 1].x - p[i].x, p[i + 1].y - p[i].y);
    }
    brant_text_clear(&text);
    return status;
}

/* ---- all of them -------------------------------------------------------- */

static bool is_index(const brant_map_line *line, double interval)
{
    return remainder(line->level, index_interval(interval)) == 0;
}

void brant_map_heights_draw(cairo_t *cr, const brant_map_contours *c, double interval)
{
    cairo_set_source_rgb(cr, brant_palette_contour[0], brant_palette_contour[1],
                         brant_palette_contour[2]);
    cairo_set_line_join(cr, CAIRO_LINE_JOIN_ROUND);
    for (int index = 0; index < 2; index++) {
        cairo_set_line_width(cr, index ? 0.55 : 0.22);
        for (size_t i = 0; i < c->line_count; i++) {
            if (is_index(&c->lines[i], interval) != (index == 1))
                continue;
            for (size_t j = 0; j < c->lines[i].count; j++) {
                const brant_map_point *p = &c->points[c->lines[i].first + j];
                cairo_line_to(cr, p->x, p->y);
            }
            cairo_stroke(cr);
        }
    }
}

/* Every SKIP-th height, the first at the first pixel. */
static float *take_heights(brant_context *ctx, const brant_map_ground *g, int *cols, int *rows)
{
    *cols = (g->cols + SKIP - 1) / SKIP;
    *rows = (g->rows + SKIP - 1) / SKIP;
    float *z = brant_alloc(ctx, (size_t)*cols * (size_t)*rows, sizeof *z);
    for (int j = 0; z && j < *rows; j++)
        for (int i = 0; i < *cols; i++)
            z[(size_t)j * (size_t)*cols + (size_t)i] =
                g->elevation[(size_t)j * SKIP * (size_t)g->cols + (size_t)i * SKIP];
    return z;
}

/* Drop what is too short to be read. */
static void drop_speck(const brant_map_contours *c, brant_map_line *line)
{
    double length = 0;
    const brant_map_point *p = c->points + line->first;
    for (size_t i = 1; i < line->count; i++)
        length += hypot(p[i].x - p[i - 1].x, p[i].y - p[i - 1].y);
    if (length < SHORTEST)
        line->count = 0;
}

static brant_status to_page(brant_context *ctx, const brant_map_box *box, brant_map_contours *c)
{
    brant_status status = BRANT_OK;
    for (size_t i = 0; i < c->point_count; i++) {
        c->points[i].x = box->x + (c->points[i].x * SKIP + 0.5) * BRANT_MAP_PIXEL;
        c->points[i].y = box->y + (c->points[i].y * SKIP + 0.5) * BRANT_MAP_PIXEL;
    }
    for (size_t i = 0; i < c->line_count && status == BRANT_OK; i++) {
        status = thin(ctx, c->points + c->lines[i].first, &c->lines[i].count);
        drop_speck(c, &c->lines[i]);
    }
    return status;
}

brant_status brant_map_heights_trace(brant_context *ctx, const brant_map_ground *ground,
                                     const brant_map_frame *frame, brant_map_contours *contours)
{
    int cols, rows;
    float *z = take_heights(ctx, ground, &cols, &rows);
    brant_status status = z ? BRANT_OK : BRANT_ERR_MEMORY;
    if (status == BRANT_OK)
        status = brant_map_trace(ctx, z, cols, rows, brant_map_interval(frame->scale), contours);
    if (status == BRANT_OK)
        status = to_page(ctx, &frame->box, contours);
    free(z);
    return status;
}

brant_status brant_map_heights_label(brant_context *ctx, brant_map_labels *labels,
                                     const brant_map_contours *contours)
{
    brant_status status = BRANT_OK;
    double interval = brant_map_interval(labels->frame->scale);
    for (size_t i = 0; i < contours->line_count && status == BRANT_OK; i++)
        if (is_index(&contours->lines[i], interval))
            status = label_line(ctx, labels, contours, &contours->lines[i]);
    return status;
}
