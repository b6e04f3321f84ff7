/* The printed sheet's parts share a page that is drawn from top to bottom. Lengths are
 * points (1/72 inch), y grows downwards. */
#ifndef BRANT_REPORT_SHEET_H
#define BRANT_REPORT_SHEET_H

#include "plan_read.h"

#include <cairo.h>
#include <pango/pangocairo.h>

/* No text is smaller. */
#define BRANT_SHEET_SMALL 8.0
#define BRANT_SHEET_MARGIN 24.0

typedef struct brant_sheet {
    brant_context *ctx;
    const brant_sheet_input *input;
    const brant_sheet_options *options;
    const brant_read_plan *plan;
    const brant_read_tour *tour;
    cairo_t *cr;
    PangoContext *pango;
    double width, height; /* of a page */
    double y;             /* where the next part begins */
    double bottom;        /* where it must end; above the footer */
    int page, pages;      /* from 1; all of them, 0 while they are counted */
    bool stacked;         /* pages below each other in one picture (SVG, PNG) */
    bool compact;         /* signs and kit by their titles alone */
    bool trial;           /* nothing of it is seen: the map is left out */
    size_t unknown_glyphs; /* characters that no font has */
    brant_text scratch;
    brant_status status;  /* the first failure; later calls do nothing */
} brant_sheet;

/* Left edge and width of what is drawn. */
#define BRANT_SHEET_LEFT BRANT_SHEET_MARGIN
double brant_sheet_inner(const brant_sheet *s);
/* Where a page ends, above its footer. */
double brant_sheet_bottom(const brant_sheet *s);

/* ---- sheet_text.c ------------------------------------------------------- */

typedef struct brant_style {
    double size;  /* points, BRANT_SHEET_SMALL or more */
    bool bold, right, centred;
    int lines;    /* at most so many, then an ellipsis; 0: as many as it takes */
    double grey;  /* 0 black .. 1 white */
} brant_style;

extern const brant_style brant_style_body, brant_style_bold, brant_style_head;

/* Draw `text` (UTF-8, may hold FIRM and what files hold) folded to `width`, its top left at
 * x, y; its height. */
double brant_sheet_text(brant_sheet *s, const brant_style *style, double x, double y,
                        double width, const char *text);
/* One line, not folded; its width. Nothing is drawn where `draw` is false. */
double brant_sheet_label(brant_sheet *s, const brant_style *style, double x, double y,
                         const char *text, bool draw);
/* A paragraph at s->y, over the whole width, begun with the bold word `title` ("" for none);
 * moves s->y. */
void brant_sheet_paragraph(brant_sheet *s, const char *title, const char *text);
/* The same of a brant_text, which is cleared; nothing if it is empty. */
void brant_sheet_paragraph_of(brant_sheet *s, const char *title, brant_text *text);
/* Clear a text that was drawn; if it ran out of memory, so does the sheet. */
void brant_sheet_drop(brant_sheet *s, brant_text *text);
/* What text is laid out with; g_object_unref frees. Refused where no font is installed. */
brant_status brant_sheet_context(brant_context *ctx, PangoContext **pango);

/* ---- sheet_page.c ------------------------------------------------------- */

void brant_sheet_new_page(brant_sheet *s);
/* Go on on a new page if `height` does not fit on this one. True: it did. */
bool brant_sheet_need(brant_sheet *s, double height);
/* Across the page; of width 0 a faint one. */
void brant_sheet_rule(brant_sheet *s, double y, double line_width);

/* ---- sheet_kinds.c ------------------------------------------------------ */

/* Fill the current path by a kind's colour and hatching; the path is used up. */
void brant_kind_fill(cairo_t *cr, brant_kind kind);
/* A small field of it with an outline. */
void brant_kind_swatch(cairo_t *cr, brant_kind kind, double x, double y, double width,
                       double height);

/* Does the leg come first for what the limit says: over it, not judged, not known; or is its
 * ground unknown? Its number is white on black then. */
bool brant_sheet_is_grave(const brant_read_leg *leg);
/* What black numbers mean on this tour's sheet; NULL if it has none. */
const char *brant_sheet_grave_words(const brant_sheet *s);
double brant_sheet_number_width(brant_sheet *s, const brant_read_leg *leg);
/* A leg's number, its top left or top middle at x, y; its width. */
double brant_sheet_number(brant_sheet *s, const brant_read_leg *leg, double x, double y,
                          bool centred);

/* The sign of a place to wait, its upper edge's middle at x, y. */
void brant_wait_sign(cairo_t *cr, double x, double y);

/* ---- the parts ---------------------------------------------------------- */

void brant_sheet_head(brant_sheet *s);
void brant_sheet_profile(brant_sheet *s);       /* the whole tour */
void brant_sheet_profile_strips(brant_sheet *s); /* of a long tour, in pieces */
/* A piece of it, over `part` of the width; the plot itself is `height` high. */
void brant_sheet_plot(brant_sheet *s, double from_m, double to_m, double part, double height);
void brant_sheet_first(brant_sheet *s, int most); /* the worst legs, in short */
void brant_sheet_legs(brant_sheet *s);
void brant_sheet_notes(brant_sheet *s);  /* waits, what if, reach */
void brant_sheet_checks(brant_sheet *s); /* signs and kit */
void brant_sheet_caution(brant_sheet *s);
void brant_sheet_bearings(brant_sheet *s);

/* "10:40", with the day where that is not the start's; "" for no time. */
void brant_sheet_clock(const brant_sheet *s, const brant_time *time, brant_text *out);

/* ---- sections of a line ------------------------------------------------- */

/* Indices of the points at which the line from `first` to `end` - 1 turns, both ends among
 * them: no point of the line is further than `tolerance_m` from the straight sections
 * (Douglas and Peucker 1973). `turns` has room for end - first. The number of them. */
brant_status brant_sections(brant_context *ctx, const brant_read_point *points, size_t first,
                            size_t end, double tolerance_m, size_t *turns, size_t *count);

#endif
