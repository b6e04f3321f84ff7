/* The map of the sheet, from bottom to top. */
#include "map_parts.h"

/* What stands in the frame: all but the key. */
static brant_status draw_inside(brant_context *ctx, const brant_map_scene *scene,
                                const brant_map_projection *projection,
                                const brant_map_ground *ground, brant_map_labels *labels,
                                int *left_out)
{
    cairo_t *cr = labels->cr;
    const brant_map_frame *frame = labels->frame;
    brant_map_contours contours = {0};
    brant_status status = brant_map_paint(ctx, cr, frame, ground);
    if (status == BRANT_OK)
        status = brant_map_heights_trace(ctx, ground, frame, &contours);
    if (status == BRANT_OK) {
        cairo_save(cr);
        cairo_rectangle(cr, frame->box.x, frame->box.y, frame->box.width, frame->box.height);
        cairo_clip(cr);
        brant_map_heights_draw(cr, &contours, brant_map_interval(frame->scale));
        brant_map_grid(cr, frame);
        status = brant_map_route(ctx, scene, projection, labels, left_out);
        if (status == BRANT_OK)
            status = brant_map_heights_label(ctx, labels, &contours);
        cairo_restore(cr);
    }
    brant_map_contours_clear(&contours);
    return status;
}

static brant_status draw(brant_context *ctx, const brant_map_scene *scene,
                         const brant_map_frame *frame, const brant_map_projection *projection,
                         cairo_t *cr)
{
    int left_out = 0;
    brant_map_ground ground = {0};
    brant_map_labels labels = {0};
    brant_status status = brant_map_labels_begin(ctx, scene, frame, cr, &labels);
    if (status == BRANT_OK)
        status = brant_map_ground_read(ctx, scene, frame, &ground);
    if (status == BRANT_OK)
        status = draw_inside(ctx, scene, projection, &ground, &labels, &left_out);
    if (status == BRANT_OK) {
        brant_map_margins(frame, &labels);
        brant_map_key(scene, frame, projection, &labels, left_out);
        if (labels.starved)
            status = brant_fail(ctx, BRANT_ERR_MEMORY, "not enough memory for the map");
        else if (labels.fontless)
            status = brant_fail(ctx, BRANT_ERR_IO, "map: a font's file cannot be read");
    }
    brant_map_ground_clear(&ground);
    brant_map_labels_end(&labels);
    return status;
}

brant_status brant_map_draw(brant_context *ctx, const brant_map_scene *scene, cairo_t *cr,
                            const brant_map_box *box)
{
    brant_map_frame frame;
    brant_map_projection projection = {0};
    brant_status status = brant_map_frame_of(ctx, scene, box, &frame);
    if (status == BRANT_OK)
        status = brant_map_projection_open(ctx, frame.crs, frame.polar, &projection);
    if (status == BRANT_OK) {
        cairo_save(cr);
        cairo_new_path(cr);
        status = draw(ctx, scene, &frame, &projection, cr);
        cairo_restore(cr);
    }
    if (status == BRANT_OK && cairo_status(cr) != CAIRO_STATUS_SUCCESS)
        status = brant_fail(ctx, BRANT_ERR_IO, "map: %s",
                            cairo_status_to_string(cairo_status(cr)));
    brant_map_projection_close(&projection);
    return status;
}
