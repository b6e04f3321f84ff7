/* The elevation profile, by leg number and kind. */
#include "sheet.h"

#include <math.h>
#include <stdlib.h>

#define PLOT_HEIGHT 70.0
#define LABEL_ROWS 2
#define LABEL_HEIGHT 10.0
#define AXIS_WIDTH 40.0  /* heights on the left */
#define UNDER_HEIGHT 21.0 /* kilometres and hours below */
/* Room between two labels of a row. */
#define BETWEEN 3.0

/* A stretch of the tour in its place on the page. */
typedef struct plot {
    brant_sheet *s;
    double from_m, to_m;
    double left, top, width, height; /* of the plot itself */
    double low, high;                /* heights at bottom and top, metres */
} plot;

static double x_of(const plot *p, double along_m)
{
    return p->left + (along_m - p->from_m) / (p->to_m - p->from_m) * p->width;
}

static double y_of(const plot *p, double elevation_m)
{
    return p->top + p->height * (p->high - elevation_m) / (p->high - p->low);
}

/* 1, 2 or 5 times a power of ten: the least that gives no more than `most` steps. */
static double round_step(double range, int most)
{
    static const double steps[] = {1, 2, 5, 10};
    double power = pow(10, floor(log10(fmax(range, 1e-3) / most)));
    for (int i = 0; i < 4; i++)
        if (range / (steps[i] * power) <= most)
            return steps[i] * power;
    return 10 * power;
}

static void find_heights(plot *p)
{
    const brant_read_tour *tour = p->s->tour;
    double low = INFINITY, high = -INFINITY;
    for (size_t i = 0; i < tour->point_count; i++) {
        low = fmin(low, tour->points[i].elevation_m);
        high = fmax(high, tour->points[i].elevation_m);
    }
    if (!(high >= low))
        low = 0, high = 100; /* no height is known */
    double margin = fmax(10, 0.06 * (high - low));
    p->low = low - margin;
    p->high = high + margin / 2;
}

/* ---- what is drawn ------------------------------------------------------ */

static double height_at(const brant_read_point *a, const brant_read_point *b, double along_m)
{
    double span = b->along_m - a->along_m;
    double part = span > 0 ? (along_m - a->along_m) / span : 0;
    return a->elevation_m + part * (b->elevation_m - a->elevation_m);
}

/* Does a line with known heights join point `i` to the one before, within [from, to]? */
static bool is_drawn(const brant_read_tour *tour, size_t i, double from, double to)
{
    const brant_read_point *a = &tour->points[i - 1], *b = &tour->points[i];
    return !b->first && b->along_m > from && a->along_m < to && !isnan(a->elevation_m) &&
           !isnan(b->elevation_m);
}

/* The ground under the line from `from` to `to`, in one piece for each known stretch. */
static void ground_path(const plot *p, double from, double to)
{
    const brant_read_tour *tour = p->s->tour;
    cairo_t *cr = p->s->cr;
    double bottom = p->top + p->height, end = 0;
    bool open = false;
    for (size_t i = 1; i < tour->point_count; i++) {
        const brant_read_point *a = &tour->points[i - 1], *b = &tour->points[i];
        if (!is_drawn(tour, i, from, to)) {
            if (open)
                cairo_line_to(cr, end, bottom);
            open = false;
            continue;
        }
        double start = fmax(a->along_m, from), stop = fmin(b->along_m, to);
        if (!open) {
            cairo_move_to(cr, x_of(p, start), bottom);
            cairo_line_to(cr, x_of(p, start), y_of(p, height_at(a, b, start)));
        }
        end = x_of(p, stop);
        cairo_line_to(cr, end, y_of(p, height_at(a, b, stop)));
        open = true;
    }
    if (open)
        cairo_line_to(cr, end, bottom);
}

/* Where no height is known: the whole height of the plot. */
static void unknown_path(const plot *p)
{
    const brant_read_tour *tour = p->s->tour;
    for (size_t i = 1; i < tour->point_count; i++) {
        const brant_read_point *a = &tour->points[i - 1], *b = &tour->points[i];
        double from = fmax(a->along_m, p->from_m), to = fmin(b->along_m, p->to_m);
        if (b->first || to <= from || (!isnan(a->elevation_m) && !isnan(b->elevation_m)))
            continue;
        cairo_rectangle(p->s->cr, x_of(p, from), p->top, x_of(p, to) - x_of(p, from), p->height);
    }
}

static void draw_ground(const plot *p)
{
    const brant_read_tour *tour = p->s->tour;
    cairo_t *cr = p->s->cr;
    unknown_path(p);
    brant_kind_fill(cr, BRANT_KIND_UNKNOWN);
    for (size_t i = 0; i < tour->leg_count; i++) {
        const brant_read_leg *leg = &tour->legs[i];
        if (leg->to_m <= p->from_m || leg->from_m >= p->to_m)
            continue;
        ground_path(p, fmax(leg->from_m, p->from_m), fmin(leg->to_m, p->to_m));
        brant_kind_fill(cr, leg->kind);
    }
}

static void draw_line(const plot *p)
{
    const brant_read_tour *tour = p->s->tour;
    cairo_t *cr = p->s->cr;
    bool open = false;
    for (size_t i = 1; i < tour->point_count; i++) {
        const brant_read_point *a = &tour->points[i - 1], *b = &tour->points[i];
        if (!is_drawn(tour, i, p->from_m, p->to_m)) {
            open = false;
            continue;
        }
        double start = fmax(a->along_m, p->from_m), stop = fmin(b->along_m, p->to_m);
        if (!open)
            cairo_move_to(cr, x_of(p, start), y_of(p, height_at(a, b, start)));
        cairo_line_to(cr, x_of(p, stop), y_of(p, height_at(a, b, stop)));
        open = true;
    }
    cairo_set_source_rgb(cr, 0, 0, 0);
    cairo_set_line_width(cr, 1.1);
    cairo_set_line_join(cr, CAIRO_LINE_JOIN_ROUND);
    cairo_stroke(cr);
}

/* Ends of legs, thin; breaks of the route, dashed and through. */
static void draw_bounds(const plot *p)
{
    const brant_read_tour *tour = p->s->tour;
    cairo_t *cr = p->s->cr;
    const double dash[] = {3, 2};
    cairo_set_source_rgb(cr, 0, 0, 0);
    cairo_set_line_width(cr, 0.8);
    cairo_set_dash(cr, dash, 2, 0);
    for (size_t i = 1; i < tour->point_count; i++) {
        double along = tour->points[i].along_m;
        if (!tour->points[i].first || along < p->from_m || along > p->to_m)
            continue;
        cairo_move_to(cr, x_of(p, along), p->top);
        cairo_line_to(cr, x_of(p, along), p->top + p->height);
    }
    cairo_stroke(cr);
    cairo_set_dash(cr, NULL, 0, 0);
}

/* ---- axes --------------------------------------------------------------- */

static void draw_heights(const plot *p)
{
    brant_style right = brant_style_body;
    cairo_t *cr = p->s->cr;
    double step = round_step(p->high - p->low, 5);
    right.right = true;
    for (double z = ceil(p->low / step) * step; z <= p->high; z += step) {
        brant_text label = {0};
        double y = y_of(p, z);
        cairo_move_to(cr, p->left, y);
        cairo_line_to(cr, p->left + p->width, y);
        cairo_set_source_rgb(cr, 0.6, 0.6, 0.6);
        cairo_set_line_width(cr, 0.3);
        cairo_stroke(cr);
        brant_text_thousands(&label, z);
        if (!label.failed && y + 5 < p->top + p->height + 2)
            brant_sheet_label(p->s, &right, p->left - 3, y - 5, label.data, true);
        brant_sheet_drop(p->s, &label);
    }
}

/* The planned hour at a place, along the leg that it is on. */
static bool hour_at(const brant_sheet *s, double along_m, brant_time *hour)
{
    for (size_t i = 0; i < s->tour->leg_count; i++) {
        const brant_read_leg *leg = &s->tour->legs[i];
        if (along_m > leg->to_m || !leg->arrive.has_offset || !leg->leave.has_offset)
            continue;
        double length = leg->to_m - leg->from_m;
        double part = length > 0 ? fmax(0, along_m - leg->from_m) / length : 0;
        double seconds = part * (double)(leg->leave.utc_s - leg->arrive.utc_s);
        *hour = brant_time_at(leg->arrive.utc_s + llround(seconds), leg->arrive.offset_min);
        return true;
    }
    return false;
}

static void draw_tick(const plot *p, double along_m, int decimals)
{
    brant_style centred = brant_style_body;
    cairo_t *cr = p->s->cr;
    brant_text km = {0}, clock = {0};
    brant_time hour;
    double x = x_of(p, along_m), y = p->top + p->height;
    centred.centred = true;
    cairo_move_to(cr, x, y);
    cairo_line_to(cr, x, y + 2.5);
    cairo_set_source_rgb(cr, 0, 0, 0);
    cairo_set_line_width(cr, 0.7);
    cairo_stroke(cr);
    brant_text_number(&km, along_m / 1000, decimals);
    if (hour_at(p->s, along_m, &hour))
        brant_sheet_clock(p->s, &hour, &clock);
    if (!km.failed)
        brant_sheet_label(p->s, &centred, x, y + 2, km.data, true);
    if (!clock.failed && clock.data)
        brant_sheet_label(p->s, &centred, x, y + 11, clock.data, true);
    brant_sheet_drop(p->s, &km);
    brant_sheet_drop(p->s, &clock);
}

static void draw_kilometres(const plot *p)
{
    cairo_t *cr = p->s->cr;
    double step = 1000 * round_step((p->to_m - p->from_m) / 1000, 12);
    int decimals = step < 100 ? 2 : step < 1000 ? 1 : 0;
    cairo_move_to(cr, p->left, p->top + p->height);
    cairo_line_to(cr, p->left + p->width, p->top + p->height);
    cairo_set_source_rgb(cr, 0, 0, 0);
    cairo_set_line_width(cr, 0.8);
    cairo_stroke(cr);
    for (double along = ceil(p->from_m / step - 1e-9) * step; along <= p->to_m + 1e-6;
         along += step)
        draw_tick(p, along, decimals);
    double left = BRANT_SHEET_LEFT, y = p->top + p->height;
    brant_sheet_label(p->s, &brant_style_body, left, y + 2, "km", true);
    if (p->s->plan->start.has_offset)
        brant_sheet_label(p->s, &brant_style_body, left, y + 11, "hour", true);
}

/* ---- numbers and places to wait ----------------------------------------- */

/* A leg's number above its middle. */
typedef struct placed {
    const brant_read_leg *leg;
    double x, half; /* middle, half its width */
    int row;        /* from below */
} placed;

static bool is_free(const placed *all, size_t count, const placed *one)
{
    for (size_t i = 0; i < count; i++)
        if (all[i].row == one->row && fabs(all[i].x - one->x) < all[i].half + one->half + BETWEEN)
            return false;
    return true;
}

/* Worst first, so that of those without room for all the mildest are left out. */
static size_t place_numbers(const plot *p, placed *all)
{
    const brant_read_tour *tour = p->s->tour;
    size_t count = 0;
    for (size_t i = 0; i < tour->leg_count; i++) {
        const brant_read_leg *leg = &tour->legs[tour->ranked[i]];
        double from = fmax(leg->from_m, p->from_m), to = fmin(leg->to_m, p->to_m);
        if (to <= from)
            continue;
        placed one = {leg, x_of(p, (from + to) / 2), brant_sheet_number_width(p->s, leg) / 2, 0};
        while (one.row < LABEL_ROWS && !is_free(all, count, &one))
            one.row++;
        if (one.row < LABEL_ROWS)
            all[count++] = one;
    }
    return count;
}

/* Lines to the ground first, the numbers over them: none is struck out. */
static void draw_numbers(const plot *p)
{
    cairo_t *cr = p->s->cr;
    placed *all = brant_alloc(p->s->ctx, p->s->tour->leg_count, sizeof *all);
    if (!all) {
        p->s->status = p->s->status == BRANT_OK ? BRANT_ERR_MEMORY : p->s->status;
        return;
    }
    size_t count = place_numbers(p, all);
    for (size_t i = 0; i < count; i++) {
        cairo_move_to(cr, all[i].x, p->top - all[i].row * LABEL_HEIGHT - 1);
        cairo_line_to(cr, all[i].x, p->top + 2);
    }
    cairo_set_source_rgb(cr, 0, 0, 0);
    cairo_set_line_width(cr, 0.4);
    cairo_stroke(cr);
    for (size_t i = 0; i < count; i++) {
        double y = p->top - (all[i].row + 1) * LABEL_HEIGHT - 1;
        cairo_rectangle(cr, all[i].x - all[i].half - 0.5, y + 1, 2 * all[i].half + 1,
                        LABEL_HEIGHT - 1.5);
        cairo_set_source_rgb(cr, 1, 1, 1);
        cairo_fill(cr);
        brant_sheet_number(p->s, all[i].leg, all[i].x, y, true);
    }
    free(all);
}

/* The sign hangs from the line. */
static void draw_waits(const plot *p)
{
    const brant_read_tour *tour = p->s->tour;
    size_t point = 1;
    for (size_t i = 0; i < tour->wait_count; i++) {
        double along = tour->waits[i].along_m;
        while (point + 1 < tour->point_count && tour->points[point].along_m < along)
            point++;
        if (along < p->from_m || along > p->to_m)
            continue;
        const brant_read_point *b = &tour->points[point], *a = b - 1;
        double x = x_of(p, along), y = y_of(p, height_at(a, b, along));
        if (isnan(y))
            continue;
        brant_wait_sign(p->s->cr, x, y);
    }
}

/* ---- the whole ---------------------------------------------------------- */

void brant_sheet_plot(brant_sheet *s, double from_m, double to_m, double part, double height)
{
    double width = part * (brant_sheet_inner(s) - AXIS_WIDTH - 8);
    plot p = {.s = s, .from_m = from_m, .to_m = to_m, .left = BRANT_SHEET_LEFT + AXIS_WIDTH,
              .top = s->y + LABEL_ROWS * LABEL_HEIGHT + 2, .width = width, .height = height};
    find_heights(&p);
    draw_ground(&p);
    draw_heights(&p);
    draw_line(&p);
    draw_bounds(&p);
    draw_kilometres(&p);
    draw_waits(&p);
    draw_numbers(&p);
    s->y = p.top + height + (s->plan->start.has_offset ? UNDER_HEIGHT : UNDER_HEIGHT - 9) + 2;
}

/* What the hatchings stand for: the kinds of this tour. */
static void draw_legend(brant_sheet *s)
{
    double x = BRANT_SHEET_LEFT, right = s->width - BRANT_SHEET_MARGIN;
    for (int kind = 0; kind < BRANT_KINDS; kind++) {
        if (!(s->tour->metres[kind] > 0))
            continue;
        brant_kind_swatch(s->cr, (brant_kind)kind, x, s->y + 1, 16, 8);
        x += 19;
        x += 10 + brant_sheet_label(s, &brant_style_body, x, s->y,
                                    kind == BRANT_KIND_NONE_FOUND
                                        ? "none found"
                                        : brant_kind_name((brant_kind)kind),
                                    true);
    }
    if (s->tour->wait_count > 0 && x + 80 < right) {
        brant_wait_sign(s->cr, x + 3, s->y + 1.5);
        brant_sheet_label(s, &brant_style_body, x + 10, s->y, "place to wait", true);
    }
    s->y += 13;
}

void brant_sheet_profile(brant_sheet *s)
{
    brant_sheet_plot(s, 0, fmax(s->tour->length_m, 1), 1, PLOT_HEIGHT);
    draw_legend(s);
}
