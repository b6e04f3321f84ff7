/* Words on the map, and where there is room for them. */
#include "map_parts.h"

#include <math.h>
#include <stdlib.h>
#include <string.h>

#define BUSY 2.0 /* points a side */

brant_status brant_map_labels_begin(brant_context *ctx, const brant_map_scene *scene,
                                    const brant_map_frame *frame, cairo_t *cr,
                                    brant_map_labels *labels)
{
    *labels = (brant_map_labels){.frame = frame, .cr = cr};
    labels->across = (int)ceil(frame->box.width / BUSY);
    labels->down = (int)ceil(frame->box.height / BUSY);
    labels->busy = brant_alloc(ctx, (size_t)labels->across, (size_t)labels->down);
    labels->layout = pango_layout_new(scene->pango);
    return labels->busy ? BRANT_OK : BRANT_ERR_MEMORY;
}

void brant_map_labels_end(brant_map_labels *labels)
{
    if (labels->layout)
        g_object_unref(labels->layout);
    free(labels->taken);
    free(labels->busy);
    memset(labels, 0, sizeof *labels);
}

/* ---- room --------------------------------------------------------------- */

static bool apart(const brant_map_box *a, const brant_map_box *b)
{
    return a->x >= b->x + b->width || b->x >= a->x + a->width || a->y >= b->y + b->height ||
           b->y >= a->y + a->height;
}

int brant_map_labels_cost(const brant_map_labels *labels, const brant_map_box *box)
{
    const brant_map_box *map = &labels->frame->box;
    if (box->x < map->x + 2 || box->y < map->y + 2 ||
        box->x + box->width > map->x + map->width - 2 ||
        box->y + box->height > map->y + map->height - 2)
        return -1;
    for (size_t i = 0; i < labels->count; i++)
        if (!apart(box, &labels->taken[i]))
            return -1;
    int cost = 0;
    int last_col = (int)((box->x + box->width - map->x) / BUSY);
    int last_row = (int)((box->y + box->height - map->y) / BUSY);
    for (int row = (int)((box->y - map->y) / BUSY); row <= last_row; row++)
        for (int col = (int)((box->x - map->x) / BUSY); col <= last_col; col++)
            cost += labels->busy[(size_t)row * (size_t)labels->across + (size_t)col];
    return cost;
}

brant_status brant_map_labels_take(brant_context *ctx, brant_map_labels *labels,
                                   const brant_map_box *box)
{
    brant_status status = brant_grow(ctx, &labels->taken, &labels->capacity, labels->count + 1,
                                     sizeof *labels->taken);
    if (status == BRANT_OK)
        labels->taken[labels->count++] = *box;
    return status;
}

void brant_map_labels_pass(brant_map_labels *labels, double x, double y)
{
    double col = floor((x - labels->frame->box.x) / BUSY);
    double row = floor((y - labels->frame->box.y) / BUSY);
    if (col >= 0 && row >= 0 && col < labels->across && row < labels->down)
        labels->busy[(size_t)row * (size_t)labels->across + (size_t)col] = 1;
}

/* ---- words -------------------------------------------------------------- */

double brant_map_words(brant_map_labels *labels, const char *text, bool bold)
{
    int width, height;
    PangoFontDescription *font = pango_font_description_new();
    pango_font_description_set_family_static(font, "Sans");
    pango_font_description_set_stretch(font, PANGO_STRETCH_CONDENSED);
    pango_font_description_set_weight(font, bold ? PANGO_WEIGHT_BOLD : PANGO_WEIGHT_NORMAL);
    pango_font_description_set_absolute_size(font, BRANT_MAP_TEXT * PANGO_SCALE);
    pango_layout_set_font_description(labels->layout, font);
    pango_font_description_free(font);
    pango_layout_set_text(labels->layout, text, -1);
    pango_layout_get_size(labels->layout, &width, &height);
    return (double)width / PANGO_SCALE;
}

bool brant_map_can_draw(PangoLayout *layout)
{
    bool can = true;
    PangoLayoutIter *at = pango_layout_get_iter(layout);
    do {
        const PangoLayoutRun *run = pango_layout_iter_get_run_readonly(at);
        PangoFont *font = run ? run->item->analysis.font : NULL;
        cairo_scaled_font_t *scaled =
            font ? pango_cairo_font_get_scaled_font(PANGO_CAIRO_FONT(font)) : NULL;
        can = !font || (scaled && cairo_scaled_font_status(scaled) == CAIRO_STATUS_SUCCESS);
    } while (can && pango_layout_iter_next_run(at));
    pango_layout_iter_free(at);
    return can;
}

void brant_map_write(brant_map_labels *labels, double x, double y, double halo)
{
    cairo_t *cr = labels->cr;
    /* lines of every font stand alike: by their base line */
    double base = y + 0.78 * BRANT_MAP_LINE;
    double top = base - (double)pango_layout_get_baseline(labels->layout) / PANGO_SCALE;
    labels->fontless |= !brant_map_can_draw(labels->layout);
    if (halo > 0) {
        cairo_save(cr);
        cairo_move_to(cr, x, top);
        pango_cairo_layout_path(cr, labels->layout);
        cairo_set_source_rgb(cr, 1, 1, 1);
        cairo_set_line_width(cr, 2 * halo);
        cairo_set_line_join(cr, CAIRO_LINE_JOIN_ROUND);
        cairo_stroke(cr);
        cairo_restore(cr);
    }
    cairo_move_to(cr, x, top);
    pango_cairo_show_layout(cr, labels->layout);
}
