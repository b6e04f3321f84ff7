/* The route on the map: lines by kind, numbers of legs, waiting places. */
#include "map_parts.h"

#include <math.h>
#include <stdlib.h>

static void set_dash(cairo_t *cr, const double dash[2])
{
    cairo_set_dash(cr, dash, dash[1] > 0 ? 2 : 0, 0);
}

void brant_map_stroke(cairo_t *cr, brant_kind kind)
{
    const double *rgb = brant_palette_kind[kind];
    cairo_save(cr);
    cairo_set_line_join(cr, CAIRO_LINE_JOIN_ROUND);
    cairo_set_line_cap(cr, brant_palette_line[kind].round ? CAIRO_LINE_CAP_ROUND : CAIRO_LINE_CAP_BUTT);
    cairo_set_source_rgb(cr, rgb[0], rgb[1], rgb[2]);
    cairo_set_line_width(cr, brant_palette_line[kind].width);
    set_dash(cr, brant_palette_line[kind].dash);
    cairo_stroke_preserve(cr);
    if (brant_palette_line[kind].core > 0) {
        cairo_set_source_rgb(cr, 1, 1, 1);
        cairo_set_line_width(cr, brant_palette_line[kind].core);
        set_dash(cr, brant_palette_line[kind].core_dash);
        cairo_stroke_preserve(cr);
    }
    cairo_new_path(cr);
    cairo_restore(cr);
}

/* ---- lines -------------------------------------------------------------- */

/* A leg's points on the page, nearer ones than a quarter of a point left out, and where its
 * number stands. */
typedef struct drawn {
    brant_map_point *points;
    size_t count;
    bool numbered;
    brant_map_box box;
    brant_map_point anchor;
} drawn;

static brant_status draw_points(brant_context *ctx, const brant_map_leg *leg,
                                const brant_map_projection *projection,
                                const brant_map_frame *frame, drawn *d)
{
    d->points = brant_alloc(ctx, leg->count, sizeof *d->points);
    if (!d->points)
        return BRANT_ERR_MEMORY;
    for (size_t i = 0; i < leg->count; i++) {
        double easting, northing, x, y;
        brant_map_forward(projection, leg->points[i].lon, leg->points[i].lat, &easting,
                          &northing);
        brant_map_to_page(frame, easting, northing, &x, &y);
        const brant_map_point *last = d->count > 0 ? &d->points[d->count - 1] : NULL;
        bool near = last && i + 1 < leg->count && hypot(x - last->x, y - last->y) < 0.25;
        if (isfinite(x) && isfinite(y) && !near)
            d->points[d->count++] = (brant_map_point){x, y};
    }
    return BRANT_OK;
}

static void path_of(cairo_t *cr, const drawn *d)
{
    for (size_t i = 0; i < d->count; i++)
        cairo_line_to(cr, d->points[i].x, d->points[i].y);
    if (d->count == 1) /* a dot: as long as a line is wide */
        cairo_rel_line_to(cr, 2.5, 0);
}

static void draw_lines(cairo_t *cr, const brant_map_scene *scene, const drawn *legs)
{
    cairo_set_line_join(cr, CAIRO_LINE_JOIN_ROUND);
    cairo_set_line_cap(cr, CAIRO_LINE_CAP_ROUND);
    cairo_set_source_rgb(cr, 1, 1, 1);
    for (size_t i = 0; i < scene->leg_count; i++) {
        path_of(cr, &legs[i]);
        cairo_set_line_width(cr, brant_palette_line[scene->legs[i].kind].width + 2 * BRANT_PALETTE_CASING);
        cairo_stroke(cr);
    }
    /* what a line passes twice is shown as the graver kind */
    for (int kind = BRANT_KINDS - 1; kind >= 0; kind--)
        for (size_t i = 0; i < scene->leg_count; i++)
            if ((int)scene->legs[i].kind == kind) {
                path_of(cr, &legs[i]);
                brant_map_stroke(cr, scene->legs[i].kind);
            }
}

static void mark_busy(brant_map_labels *labels, const drawn *d)
{
    for (size_t i = 0; i < d->count; i++) {
        const brant_map_point *a = &d->points[i], *b = i > 0 ? a - 1 : a;
        int steps = (int)ceil(hypot(a->x - b->x, a->y - b->y)) + 1;
        for (int k = 0; k < steps; k++)
            brant_map_labels_pass(labels, b->x + (a->x - b->x) * k / steps,
                                  b->y + (a->y - b->y) * k / steps);
        brant_map_labels_pass(labels, a->x, a->y);
    }
}

/* ---- numbers ------------------------------------------------------------ */

static double length_of(const drawn *d)
{
    double length = 0;
    for (size_t i = 1; i < d->count; i++)
        length += hypot(d->points[i].x - d->points[i - 1].x, d->points[i].y - d->points[i - 1].y);
    return length;
}

static brant_map_point point_at(const drawn *d, double along)
{
    for (size_t i = 1; i < d->count; i++) {
        const brant_map_point *a = &d->points[i - 1], *b = &d->points[i];
        double step = hypot(b->x - a->x, b->y - a->y);
        if (along <= step && step > 0)
            return (brant_map_point){a->x + (b->x - a->x) * along / step,
                                     a->y + (b->y - a->y) * along / step};
        along -= step;
    }
    return d->points[d->count - 1];
}

/* The best place for a box of width x BRANT_MAP_LINE beside a point of the line; false if
 * there is none. A label may touch the line, not cover it. */
#define MOST_COVERED 2

static bool find_place(const brant_map_labels *labels, const drawn *d, double width,
                       brant_map_box *best, brant_map_point *anchor)
{
    static const double part[] = {0.5, 0.35, 0.65, 0.2, 0.8, 0.05, 0.95};
    static const double away[] = {5, 10, 17, 26};
    double length = length_of(d), least = INFINITY;
    for (size_t i = 0; i < sizeof part / sizeof *part; i++) {
        brant_map_point at = point_at(d, part[i] * length);
        for (int k = 0; k < 4 * 16; k++) {
            double angle = (k % 16) * M_PI / 8, far = away[k / 16];
            brant_map_box box = {at.x + (far + width / 2) * cos(angle) - width / 2,
                                 at.y + (far + BRANT_MAP_LINE / 2) * sin(angle) -
                                     BRANT_MAP_LINE / 2,
                                 width, BRANT_MAP_LINE};
            int covered = brant_map_labels_cost(labels, &box);
            double cost = 6 * covered + far + 4 * fabs(part[i] - 0.5);
            if (covered < 0 || covered > MOST_COVERED || cost >= least)
                continue;
            least = cost;
            *best = box;
            *anchor = at;
        }
    }
    return isfinite(least);
}

/* A line to a label that stands off. */
static void lead(cairo_t *cr, const brant_map_box *box, const brant_map_point *anchor)
{
    double x = fmin(fmax(anchor->x, box->x), box->x + box->width);
    double y = fmin(fmax(anchor->y, box->y), box->y + box->height);
    if (hypot(x - anchor->x, y - anchor->y) <= 6)
        return;
    cairo_move_to(cr, anchor->x, anchor->y);
    cairo_line_to(cr, x, y);
    cairo_set_line_width(cr, 0.6);
    cairo_stroke(cr);
}

static brant_status set_number(brant_context *ctx, brant_map_labels *labels,
                               const brant_map_leg *leg, double *width)
{
    brant_text text = {0};
    brant_text_add(&text, "%u", (unsigned)leg->number);
    brant_status status = brant_text_status(ctx, &text);
    if (status == BRANT_OK)
        *width = brant_map_words(labels, text.data, true) + 4;
    brant_text_clear(&text);
    return status;
}

static brant_status draw_number(brant_context *ctx, brant_map_labels *labels,
                                const brant_map_leg *leg, const drawn *d)
{
    cairo_t *cr = labels->cr;
    const double *rgb = brant_palette_kind[leg->kind];
    double width;
    brant_status status = set_number(ctx, labels, leg, &width);
    if (status != BRANT_OK)
        return status;
    double paper = leg->grave ? 0 : 1;
    cairo_rectangle(cr, d->box.x + 0.5, d->box.y + 0.5, d->box.width - 1, d->box.height - 1);
    cairo_set_source_rgb(cr, paper, paper, paper);
    cairo_fill_preserve(cr);
    if (leg->grave) /* told from dark ground */
        cairo_set_source_rgb(cr, 1, 1, 1);
    else
        cairo_set_source_rgb(cr, rgb[0], rgb[1], rgb[2]);
    cairo_set_line_width(cr, leg->grave ? 0.6 : 0.8);
    cairo_stroke(cr);
    cairo_set_source_rgb(cr, 1 - paper, 1 - paper, 1 - paper);
    brant_map_write(labels, d->box.x + 2, d->box.y, 0);
    return BRANT_OK;
}

/* Lines to numbers first: none strikes one out. */
static brant_status draw_numbers(brant_context *ctx, const brant_map_scene *scene,
                                 brant_map_labels *labels, const drawn *legs)
{
    brant_status status = BRANT_OK;
    for (size_t i = 0; i < scene->leg_count; i++) {
        const double *rgb = brant_palette_kind[scene->legs[i].kind];
        cairo_set_source_rgb(labels->cr, rgb[0], rgb[1], rgb[2]);
        if (legs[i].numbered)
            lead(labels->cr, &legs[i].box, &legs[i].anchor);
    }
    for (size_t i = 0; i < scene->leg_count && status == BRANT_OK; i++)
        if (legs[i].numbered)
            status = draw_number(ctx, labels, &scene->legs[i], &legs[i]);
    return status;
}

/* The part of a leg that carries its number: the longest; `i` is its first. */
static size_t longest_part(const brant_map_scene *scene, const drawn *legs, size_t i)
{
    size_t best = i;
    for (size_t j = i; j < scene->leg_count && scene->legs[j].number == scene->legs[i].number; j++)
        if (length_of(&legs[j]) > length_of(&legs[best]))
            best = j;
    return best;
}

static brant_status place_number(brant_context *ctx, brant_map_labels *labels,
                                 const brant_map_leg *leg, drawn *d, int *left_out)
{
    double width;
    brant_status status = set_number(ctx, labels, leg, &width);
    if (status != BRANT_OK)
        return status;
    d->numbered = d->count > 0 && find_place(labels, d, width, &d->box, &d->anchor);
    if (d->numbered)
        return brant_map_labels_take(ctx, labels, &d->box);
    ++*left_out;
    return BRANT_OK;
}

/* Legs that matter have the first choice. */
static brant_status place_numbers(brant_context *ctx, const brant_map_scene *scene,
                                  brant_map_labels *labels, drawn *legs, int *left_out)
{
    static const brant_kind order[BRANT_KINDS] = {
        BRANT_KIND_CROSSES, BRANT_KIND_OVER_BAND, BRANT_KIND_UNKNOWN,   BRANT_KIND_EDGE,
        BRANT_KIND_UNDER,   BRANT_KIND_REMOTE,    BRANT_KIND_NONE_FOUND};
    brant_status status = BRANT_OK;
    for (int k = 0; k < BRANT_KINDS; k++)
        for (size_t i = 0; i < scene->leg_count && status == BRANT_OK; i++) {
            const brant_map_leg *leg = &scene->legs[i];
            bool first = i == 0 || scene->legs[i - 1].number != leg->number;
            if (leg->kind == order[k] && first)
                status = place_number(ctx, labels, leg,
                                      &legs[longest_part(scene, legs, i)], left_out);
        }
    return status;
}

/* ---- places ------------------------------------------------------------- */

void brant_map_start_sign(cairo_t *cr, double x, double y)
{
    cairo_rectangle(cr, x - 3, y - 3, 6, 6);
    cairo_set_source_rgb(cr, 0, 0, 0);
    cairo_fill_preserve(cr);
    cairo_set_source_rgb(cr, 1, 1, 1);
    cairo_set_line_width(cr, 0.8);
    cairo_stroke(cr);
}

void brant_map_wait_sign(cairo_t *cr, double x, double y)
{
    cairo_new_path(cr);
    cairo_move_to(cr, x - 4, y - 3.5);
    cairo_line_to(cr, x + 4, y - 3.5);
    cairo_line_to(cr, x - 4, y + 3.5);
    cairo_line_to(cr, x + 4, y + 3.5);
    cairo_close_path(cr);
    cairo_set_line_join(cr, CAIRO_LINE_JOIN_ROUND);
    cairo_set_source_rgb(cr, 1, 1, 1);
    cairo_set_line_width(cr, 2.6);
    cairo_stroke_preserve(cr);
    cairo_fill_preserve(cr);
    cairo_set_source_rgb(cr, 0, 0, 0);
    cairo_set_line_width(cr, 1.0);
    cairo_stroke(cr);
}

static brant_status draw_waits(brant_context *ctx, const brant_map_scene *scene,
                               const drawn *waits, brant_map_labels *labels, bool words)
{
    brant_status status = BRANT_OK;
    for (size_t i = 0; i < scene->wait_count && status == BRANT_OK; i++) {
        brant_map_point at, anchor;
        brant_map_box box;
        if (waits[i].count == 0)
            continue;
        at = waits[i].points[0];
        if (!words) {
            brant_map_wait_sign(labels->cr, at.x, at.y);
            box = (brant_map_box){at.x - 4.5, at.y - 4, 9, 8};
            status = brant_map_labels_take(ctx, labels, &box);
            continue;
        }
        double width = brant_map_words(labels, scene->waits[i].label, false) + 2;
        if (!find_place(labels, &waits[i], width, &box, &anchor))
            continue;
        cairo_set_source_rgb(labels->cr, 0, 0, 0);
        lead(labels->cr, &box, &anchor);
        brant_map_write(labels, box.x + 1, box.y, 1.2);
        status = brant_map_labels_take(ctx, labels, &box);
    }
    return status;
}

/* ---- all of it ---------------------------------------------------------- */

static brant_status draw_all(brant_context *ctx, const brant_map_scene *scene,
                             brant_map_labels *labels, drawn *legs, int *left_out)
{
    brant_status status = BRANT_OK;
    const drawn *waits = legs + scene->leg_count;
    draw_lines(labels->cr, scene, legs);
    for (size_t i = 0; i < scene->leg_count; i++)
        mark_busy(labels, &legs[i]);
    for (size_t i = 0; i < scene->leg_count; i++)
        if (legs[i].count > 0) {
            brant_map_point at = legs[i].points[0];
            brant_map_box box = {at.x - 3.5, at.y - 3.5, 7, 7};
            brant_map_start_sign(labels->cr, at.x, at.y);
            status = brant_map_labels_take(ctx, labels, &box);
            break;
        }
    if (status == BRANT_OK)
        status = draw_waits(ctx, scene, waits, labels, false);
    if (status == BRANT_OK)
        status = place_numbers(ctx, scene, labels, legs, left_out);
    if (status == BRANT_OK)
        status = draw_waits(ctx, scene, waits, labels, true);
    if (status == BRANT_OK)
        status = draw_numbers(ctx, scene, labels, legs);
    return status;
}

brant_status brant_map_route(brant_context *ctx, const brant_map_scene *scene,
                             const brant_map_projection *projection, brant_map_labels *labels,
                             int *left_out)
{
    size_t count = scene->leg_count + scene->wait_count;
    drawn *all = brant_alloc(ctx, count, sizeof *all);
    brant_status status = all ? BRANT_OK : BRANT_ERR_MEMORY;
    for (size_t i = 0; i < count && status == BRANT_OK; i++) {
        brant_gpx_point at = {0};
        brant_map_leg dot = {.points = &at, .count = 1};
        if (i >= scene->leg_count)
            at = (brant_gpx_point){scene->waits[i - scene->leg_count].lon,
                                   scene->waits[i - scene->leg_count].lat};
        status = draw_points(ctx, i < scene->leg_count ? &scene->legs[i] : &dot, projection,
                             labels->frame, &all[i]);
    }
    *left_out = 0;
    if (status == BRANT_OK)
        status = draw_all(ctx, scene, labels, all, left_out);
    for (size_t i = 0; all && i < count; i++)
        free(all[i].points);
    free(all);
    return status;
}
