/* What lies below the map: north, scale, and what colours and lines mean. */
#include "map_parts.h"

#include <math.h>
#include <stdio.h>

#define ROW 12.0          /* of the key, points */
#define PATCH_HEIGHT 9.0
#define ARROW 34.0        /* room for north */
#define BAR_ROOM 120.0

/* A place to write from left to right. */
typedef struct cursor {
    brant_map_labels *labels;
    double x, y;
} cursor;

static void words(cursor *c, const char *text)
{
    double width = brant_map_words(c->labels, text, false);
    cairo_set_source_rgb(c->labels->cr, 0, 0, 0);
    brant_map_write(c->labels, c->x, c->y, 0);
    c->x += width;
}

/* ---- north -------------------------------------------------------------- */

/* True north as an arrow that leans as the grid does; grid north as a thin line. */
static void north(cursor *c, const brant_map_frame *frame)
{
    cairo_t *cr = c->labels->cr;
    double foot = c->y + 3 * ROW - 2, middle = c->x + ARROW / 2 - 4;
    cairo_save(cr);
    cairo_set_source_rgb(cr, 0, 0, 0);
    cairo_set_line_width(cr, 0.4);
    cairo_move_to(cr, middle, foot);
    cairo_rel_line_to(cr, 0, -26);
    cairo_stroke(cr);
    cairo_translate(cr, middle, foot);
    cairo_rotate(cr, -frame->convergence_deg * M_PI / 180);
    cairo_set_line_width(cr, 1.1);
    cairo_move_to(cr, 0, 0);
    cairo_line_to(cr, 0, -20);
    cairo_stroke(cr);
    cairo_move_to(cr, 0, -26);
    cairo_line_to(cr, 3.6, -15);
    cairo_line_to(cr, -3.6, -15);
    cairo_close_path(cr);
    cairo_fill(cr);
    double width = brant_map_words(c->labels, "N", true);
    brant_map_write(c->labels, -width / 2, -27 - 0.8 * BRANT_MAP_LINE, 0);
    cairo_restore(cr);
}

/* ---- scale -------------------------------------------------------------- */

double brant_map_bar(const brant_map_frame *frame, double room)
{
    double most = room * frame->ground_per_point, ten = pow(10, floor(log10(most)));
    return most >= 5 * ten ? 5 * ten : most >= 2 * ten ? 2 * ten : ten;
}

static void bar(cursor *c, const brant_map_frame *frame)
{
    cairo_t *cr = c->labels->cr;
    double metres = brant_map_bar(frame, BAR_ROOM), length = metres / frame->ground_per_point;
    double top = c->y + 4;
    char text[32];
    cairo_set_source_rgb(cr, 0, 0, 0);
    cairo_set_line_width(cr, 0.6);
    for (int i = 0; i < 4; i++) {
        cairo_rectangle(cr, c->x + i * length / 4, top, length / 4, 3);
        if (i % 2 == 0)
            cairo_fill_preserve(cr);
        cairo_stroke(cr);
    }
    c->x += length + 4;
    if (metres < 1000)
        snprintf(text, sizeof text, "%.0f m", metres);
    else
        snprintf(text, sizeof text, "%.0f km", metres / 1000);
    words(c, text);
    c->x += 12;
}

/* The start's coordinates, as one reads them out. */
static void start(cursor *c, const brant_map_scene *scene, const brant_map_frame *frame,
                  const brant_map_projection *projection)
{
    double easting, northing;
    char text[64];
    for (size_t i = 0; i < scene->leg_count; i++)
        if (scene->legs[i].count > 0) {
            brant_map_forward(projection, scene->legs[i].points[0].lon,
                              scene->legs[i].points[0].lat, &easting, &northing);
            snprintf(text, sizeof text, "start %s %.0f %.0f", frame->zone, easting, northing);
            brant_map_start_sign(c->labels->cr, c->x + 4, c->y + 5.5);
            c->x += 10;
            words(c, text);
            return;
        }
}

static void scale_row(cursor *c, const brant_map_frame *frame)
{
    brant_text text = {0};
    double off = frame->convergence_deg;
    bar(c, frame);
    brant_text_add(&text, "1:");
    brant_text_thousands(&text, frame->scale);
    brant_text_add(&text, "   contours %.0f m   grid %.0f km, %s %s (WGS 84); grid north ",
                   brant_map_interval(frame->scale), brant_map_grid_step(frame->scale) / 1000,
                   frame->polar ? "UPS" : "UTM", frame->zone);
    if (fabs(off) < 0.05)
        brant_text_add(&text, "is true north");
    else
        brant_text_add(&text, "%.1f\xC2\xB0 %s of true north", fabs(off),
                       off > 0 ? "E" : "W");
    c->labels->starved |= text.failed;
    if (!text.failed)
        words(c, text.data);
    brant_text_clear(&text);
}

/* ---- ground ------------------------------------------------------------- */

/* A patch as the picture has it, hatching and all. */
static void patch(cursor *c, uint8_t class, uint8_t shadow, double width)
{
    cairo_t *cr = c->labels->cr;
    int cols = (int)ceil(width / BRANT_MAP_PIXEL), rows = (int)ceil(PATCH_HEIGHT / BRANT_MAP_PIXEL);
    cairo_surface_t *picture = cairo_image_surface_create(CAIRO_FORMAT_RGB24, cols, rows);
    cairo_surface_flush(picture);
    unsigned char *row = cairo_image_surface_get_data(picture);
    for (int j = 0; row && j < rows; j++, row += cairo_image_surface_get_stride(picture))
        for (int i = 0; i < cols; i++) {
            double rgb[3];
            brant_map_colour(class, shadow, i, j, rgb);
            ((uint32_t *)(void *)row)[i] = (uint32_t)lround(255 * rgb[0]) << 16 |
                                           (uint32_t)lround(255 * rgb[1]) << 8 |
                                           (uint32_t)lround(255 * rgb[2]);
        }
    cairo_surface_mark_dirty(picture);
    cairo_save(cr);
    cairo_rectangle(cr, c->x, c->y + 1, width, PATCH_HEIGHT);
    cairo_clip_preserve(cr);
    cairo_translate(cr, c->x, c->y + 1);
    cairo_scale(cr, BRANT_MAP_PIXEL, BRANT_MAP_PIXEL);
    cairo_set_source_surface(cr, picture, 0, 0);
    cairo_paint(cr);
    cairo_restore(cr);
    cairo_set_source_rgb(cr, 0, 0, 0);
    cairo_set_line_width(cr, 0.4);
    cairo_stroke(cr);
    cairo_surface_destroy(picture);
}

static void class_row(cursor *c, int left_out)
{
    char text[64];
    words(c, "Slope");
    c->x += 4;
    for (int class = BRANT_CLASS_25_30; class < BRANT_CLASSES; class++) {
        const double width = class == BRANT_CLASS_ABOVE_55 ? 40 : 29;
        patch(c, (uint8_t)class, BRANT_MAP_LIT, width);
        double wide = brant_map_words(c->labels, brant_class_name((brant_class)class), false);
        double ink = brant_palette_ink((brant_class)class);
        cairo_set_source_rgb(c->labels->cr, ink, ink, ink);
        brant_map_write(c->labels, c->x + (width - wide) / 2, c->y + 0.5, 0);
        c->x += width;
    }
    c->x += 8;
    patch(c, BRANT_CLASS_UNKNOWN, BRANT_MAP_LIT, 22);
    c->x += 25;
    words(c, "unknown: no slope in the model");
    c->x += 8;
    patch(c, BRANT_MAP_OUTSIDE, BRANT_MAP_LIT, 22);
    c->x += 25;
    words(c, "not read");
    if (left_out > 0) {
        snprintf(text, sizeof text, "; %d legs unnumbered", left_out);
        words(c, text);
    }
}

static void shadow_patch(cursor *c, brant_map_shadow shadow, const char *text)
{
    patch(c, BRANT_CLASS_BELOW_25, (uint8_t)shadow, 22);
    c->x += 25;
    words(c, text);
    c->x += 8;
}

static void shadow_row(cursor *c, const brant_map_scene *scene)
{
    char text[64];
    double angle = scene->reach_angle_deg;
    words(c, "Runout shadow below 30\xC2\xB0:");
    c->x += 4;
    shadow_patch(c, BRANT_MAP_REACHED_30, angle < 30 ? "reached at 30\xC2\xB0" : "reached");
    if (angle < 30) {
        snprintf(text, sizeof text, "at %.4g\xC2\xB0", angle);
        shadow_patch(c, BRANT_MAP_REACHED, text);
    }
    shadow_patch(c, BRANT_MAP_UNKNOWN_ABOVE, "unknown above");
    brant_map_wait_sign(c->labels->cr, c->x + 4, c->y + 5.5);
    c->x += 12;
    words(c, "wait, at km");
    c->x += 10;
}

/* ---- lines -------------------------------------------------------------- */

/* A black number as the route has it. */
static void grave_sign(cursor *c)
{
    cairo_t *cr = c->labels->cr;
    double width = brant_map_words(c->labels, "4", true) + 4;
    cairo_rectangle(cr, c->x, c->y + 0.5, width, BRANT_MAP_LINE - 1);
    cairo_set_source_rgb(cr, 0, 0, 0);
    cairo_fill(cr);
    cairo_set_source_rgb(cr, 1, 1, 1);
    brant_map_write(c->labels, c->x + 2, c->y, 0);
    c->x += width + 3;
}

static void kind_row(cursor *c, const char *grave_words)
{
    static const brant_kind order[BRANT_KINDS] = {
        BRANT_KIND_CROSSES, BRANT_KIND_OVER_BAND, BRANT_KIND_EDGE,      BRANT_KIND_UNDER,
        BRANT_KIND_REMOTE,  BRANT_KIND_UNKNOWN,   BRANT_KIND_NONE_FOUND};
    words(c, "Route");
    c->x += 4;
    for (int i = 0; i < BRANT_KINDS; i++) {
        cairo_move_to(c->labels->cr, c->x, c->y + 5.5);
        cairo_rel_line_to(c->labels->cr, 18, 0);
        brant_map_stroke(c->labels->cr, order[i]);
        c->x += 20;
        words(c, brant_kind_name(order[i]));
        c->x += 6;
    }
    if (grave_words) {
        grave_sign(c);
        words(c, grave_words);
    }
}

/* ---- all of it ---------------------------------------------------------- */

void brant_map_key(const brant_map_scene *scene, const brant_map_frame *frame,
                   const brant_map_projection *projection, brant_map_labels *labels, int left_out)
{
    cursor c = {labels, frame->box.x - BRANT_MAP_MARGIN, frame->box.y + frame->box.height + 2};
    double left = c.x + ARROW;
    north(&c, frame);
    c.x = left;
    scale_row(&c, frame);
    c.x = left;
    c.y += ROW;
    class_row(&c, left_out);
    c.x = left;
    c.y += ROW;
    shadow_row(&c, scene);
    start(&c, scene, frame, projection);
    c.x = left;
    c.y += ROW;
    kind_row(&c, scene->grave_words);
}
