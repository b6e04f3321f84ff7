/* Pages, their footers, and what is ruled on them. */
#include "sheet.h"

#include <stdio.h>

#define FOOTER 14.0

double brant_sheet_inner(const brant_sheet *s)
{
    return s->width - 2 * BRANT_SHEET_MARGIN;
}

double brant_sheet_bottom(const brant_sheet *s)
{
    return s->height - BRANT_SHEET_MARGIN - FOOTER;
}

void brant_sheet_rule(brant_sheet *s, double y, double line_width)
{
    double grey = line_width > 0 ? 0 : 0.65;
    cairo_set_source_rgb(s->cr, grey, grey, grey);
    cairo_set_line_width(s->cr, line_width > 0 ? line_width : 0.4);
    cairo_move_to(s->cr, BRANT_SHEET_LEFT, y);
    cairo_line_to(s->cr, s->width - BRANT_SHEET_MARGIN, y);
    cairo_stroke(s->cr);
}

/* On every page: which tour and day, which page, and that none found is not safe: a sheet
 * is cut and folded. */
static void draw_footer(brant_sheet *s)
{
    brant_style style = brant_style_body, right = brant_style_body;
    char page[64];
    brant_text day = {0};
    double room = brant_sheet_inner(s) - 160, y = s->height - BRANT_SHEET_MARGIN - FOOTER + 4;
    style.lines = right.lines = 1;
    right.right = true;
    if (s->plan->start.has_offset) {
        brant_text_add(&day, s->tour->route[0] ? ", " : "");
        brant_text_day(&day, &s->plan->start);
    }
    snprintf(page, sizeof page, "None found is not safe. Page" FIRM "%d of" FIRM "%d", s->page,
             s->pages);
    brant_sheet_rule(s, y - 2, 0.5);
    if (day.length > 0 && !day.failed) { /* a long name leaves it room */
        room -= brant_sheet_label(s, &style, 0, 0, day.data, false);
        double name = brant_sheet_label(s, &style, 0, 0, s->tour->route, false);
        brant_sheet_label(s, &style, BRANT_SHEET_LEFT + (name < room ? name : room), y, day.data,
                          true);
    }
    brant_sheet_text(s, &style, BRANT_SHEET_LEFT, y, room, s->tour->route);
    brant_sheet_text(s, &right, s->width - BRANT_SHEET_MARGIN - 155, y, 155, page);
    brant_sheet_drop(s, &day);
}

static void start_page(brant_sheet *s)
{
    s->page++;
    s->y = BRANT_SHEET_MARGIN;
    s->bottom = brant_sheet_bottom(s);
    draw_footer(s);
}

void brant_sheet_new_page(brant_sheet *s)
{
    if (s->page > 0 && s->stacked)
        cairo_translate(s->cr, 0, s->height);
    else if (s->page > 0)
        cairo_show_page(s->cr);
    start_page(s);
}

bool brant_sheet_need(brant_sheet *s, double height)
{
    if (s->y + height <= s->bottom)
        return false;
    brant_sheet_new_page(s);
    return true;
}
