/* What stands below the table: waiting, what if, reach, signs and kit, caution. */
#include "sheet.h"

#include <math.h>
#include <string.h>

#define BOX 6.5
#define LISTED 24

/* ---- waiting, what if, reach -------------------------------------------- */

static void add_waits(brant_sheet *s)
{
    const brant_read_tour *tour = s->tour;
    brant_text line = {0};
    if (tour->waits_unknown) {
        brant_sheet_paragraph(s, "WAIT", "not sought: the shadow at 20\u00B0 is not known");
        return;
    }
    if (tour->exposed_count == 0) /* nothing to wait for */
        return;
    for (size_t i = 0; i < tour->wait_count; i++) {
        const brant_read_wait *wait = &tour->waits[i];
        brant_text_add(&line, i > 0 ? ", " : "km" FIRM);
        brant_text_number(&line, wait->along_m / 1000, 2);
        if (wait->leave_by.has_offset) {
            brant_text_add(&line, FIRM "(leave by" FIRM);
            brant_time floored = brant_time_at(wait->leave_by.utc_s / 60 * 60,
                                               wait->leave_by.offset_min);
            brant_sheet_clock(s, &floored, &line);
            brant_text_add(&line, ")");
        }
    }
    brant_text_add(&line, tour->wait_count > 0 ? ": outside reach at 20\u00B0"
                                               : "no place found that is outside reach at 20\u00B0");
    brant_sheet_paragraph_of(s, "WAIT", &line);
}

static void add_what_if(const char *what, const brant_read_what_if *more, brant_text *line)
{
    if (!more->known)
        return;
    brant_text_add(line, "%s%s: ", line->length > 0 ? ". " : "", what);
    if (more->legs == 0) {
        brant_text_add(line, "no further leg found over the limit");
        return;
    }
    brant_text_add(line, "leg%s", more->legs > 1 ? "s" : "");
    for (size_t i = 0; i < more->legs && i < LISTED; i++)
        brant_text_add(line, " %u", more->leg[i]);
    if (more->legs > LISTED)
        brant_text_add(line, " and %zu more", more->legs - LISTED);
    brant_text_add(line, " over the limit, too, ");
    brant_words_km(line, more->metres);
    brant_text_add(line, FIRM "km");
}

static void add_if(brant_sheet *s)
{
    const brant_read_tour *tour = s->tour;
    brant_text line = {0};
    add_what_if("One level more", &tour->if_one_level_more, &line);
    if (s->plan->later_from)
        add_what_if("One hour later", &tour->if_one_hour_later, &line);
    brant_text_add(&line, "%sSlopes ", line.length > 0 ? ". " : "");
    if (isnan(s->plan->vertical_error_m))
        brant_text_add(&line, "%.0f\u00B0 steeper: ", BRANT_STEEPER_DEG);
    else
        brant_text_add(&line, "steeper by one error (heights \u00B1%.4g" FIRM "m): ",
                       s->plan->vertical_error_m);
    brant_words_km(&line, tour->steeper_m);
    brant_text_add(&line, FIRM "km more crosses");
    brant_sheet_paragraph_of(s, "IF", &line);
}

static void add_reach(brant_sheet *s)
{
    brant_text line = {0};
    brant_text_add(&line, "on release ground or under it");
    for (int i = 0; i < BRANT_SHOWN_ANGLES; i++) {
        double metres = s->tour->reached_m[i];
        brant_text_add(&line, "%s at" FIRM "%.0f\u00B0:" FIRM, i > 0 ? "," : "",
                       brant_words_angles[i]);
        if (isnan(metres)) {
            brant_text_add(&line, "not searched");
        } else {
            brant_words_km(&line, metres);
            brant_text_add(&line, FIRM "km");
        }
    }
    brant_sheet_paragraph_of(s, "REACH", &line);
}

static bool is_sun_unknown(const brant_read_tour *tour)
{
    for (size_t i = 0; i < tour->leg_count; i++)
        if (tour->legs[i].sun_unknown > 0)
            return true;
    return false;
}

void brant_sheet_notes(brant_sheet *s)
{
    brant_sheet_need(s, 40);
    add_waits(s);
    add_if(s);
    add_reach(s);
    if (is_sun_unknown(s->tour))
        brant_sheet_paragraph(s, "SUN", "by a clear sky, at the earliest; in brackets from when it is "
                                        "certain, where what lies beyond the model or in a hole of "
                                        "it could hide it");
    s->y += 2;
}

/* ---- signs and kit ------------------------------------------------------ */

static void draw_box(brant_sheet *s, double x, double y)
{
    cairo_rectangle(s->cr, x, y, BOX, BOX);
    cairo_set_source_rgb(s->cr, 0, 0, 0);
    cairo_set_line_width(s->cr, 0.8);
    cairo_stroke(s->cr);
}

/* "[ ] Title: what to look for (known)" at x, y; its height. */
static double draw_item(brant_sheet *s, const brant_read_item *item, double x, double y,
                        double width)
{
    brant_text text = {0};
    brant_text_add(&text, "%s", item->title);
    if (item->known)
        brant_text_add(&text, ": %s", item->known);
    brant_text_add(&text, ". %s", item->check);
    draw_box(s, x, y + 1.5);
    double height = text.failed ? 0
                                : brant_sheet_text(s, &brant_style_body, x + BOX + 4, y,
                                                   width - BOX - 4, text.data);
    brant_sheet_drop(s, &text);
    return height + 1.5;
}

/* Titles alone, one after the other. */
static void draw_titles(brant_sheet *s, const char *title, const brant_read_item *items,
                        size_t count)
{
    double left = BRANT_SHEET_LEFT + 34, x = left, right = s->width - BRANT_SHEET_MARGIN;
    brant_sheet_label(s, &brant_style_bold, BRANT_SHEET_LEFT, s->y, title, true);
    for (size_t i = 0; i < count; i++) {
        brant_text text = {0};
        brant_text_add(&text, "%s%s%s", items[i].title, items[i].known ? ": " : "",
                       items[i].known ? items[i].known : "");
        const char *words = text.failed ? items[i].title : text.data;
        double width = BOX + 3 + brant_sheet_label(s, &brant_style_body, 0, 0, words, false);
        if (x > left && x + width > right) {
            x = left;
            s->y += 11;
        }
        draw_box(s, x, s->y + 1.5);
        brant_sheet_label(s, &brant_style_body, x + BOX + 3, s->y, words, true);
        x += width + 12;
        brant_sheet_drop(s, &text);
    }
    s->y += 12;
}

static double draw_items(brant_sheet *s, const char *title, const brant_read_item *items,
                         size_t count, double x, double width)
{
    double y = s->y + brant_sheet_text(s, &brant_style_bold, x, s->y, width, title) + 1;
    for (size_t i = 0; i < count; i++)
        y += draw_item(s, &items[i], x, y, width);
    return y - s->y;
}

/* Side by side: signs on the left, kit on the right. */
void brant_sheet_checks(brant_sheet *s)
{
    if (s->compact) {
        draw_titles(s, "SIGNS", s->plan->signs, BRANT_SIGNS);
        draw_titles(s, "KIT", s->plan->kit, s->plan->kit_count);
        s->y += 2;
        return;
    }
    double half = (brant_sheet_inner(s) - 12) / 2, right = BRANT_SHEET_LEFT + half + 12;
    brant_sheet_need(s, 140);
    brant_sheet_rule(s, s->y, 0.5);
    s->y += 3;
    double signs = draw_items(s, "FIVE WARNING SIGNS, to check on the way", s->plan->signs,
                              BRANT_SIGNS, BRANT_SHEET_LEFT, half);
    double kit = draw_items(s, "KIT, to check before the start", s->plan->kit, s->plan->kit_count,
                            right, half);
    s->y += fmax(signs, kit) + 3;
}

void brant_sheet_caution(brant_sheet *s)
{
    brant_style bold = brant_style_bold;
    bold.size = 9;
    brant_sheet_need(s, 26);
    brant_sheet_rule(s, s->y, 1.0);
    s->y += 3;
    s->y += brant_sheet_text(s, &bold, BRANT_SHEET_LEFT, s->y, brant_sheet_inner(s),
                             s->plan->caution);
}
