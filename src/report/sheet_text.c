/* Text on the sheet: pango's, whatever the script. */
#include "map.h"
#include "sheet.h"

#include <string.h>

const brant_style brant_style_body = {.size = BRANT_SHEET_SMALL};
const brant_style brant_style_bold = {.size = BRANT_SHEET_SMALL, .bold = true};
const brant_style brant_style_head = {.size = 15, .bold = true, .lines = 2};

#define PARAGRAPH_GAP 1.5

/* Room between a title and its text. */
#define TITLE_GAP 4.0

static PangoFontDescription *describe(const brant_style *style)
{
    PangoFontDescription *font = pango_font_description_new();
    pango_font_description_set_family_static(font, "Sans");
    pango_font_description_set_stretch(font, PANGO_STRETCH_CONDENSED);
    pango_font_description_set_weight(font, style->bold ? PANGO_WEIGHT_BOLD : PANGO_WEIGHT_NORMAL);
    pango_font_description_set_absolute_size(font, style->size * PANGO_SCALE);
    return font;
}

/* Latin letters and digits in the body's font? Without any font pango would draw boxes. */
static bool can_write(PangoContext *pango)
{
    PangoFontDescription *description = describe(&brant_style_body);
    PangoFont *font = pango_context_load_font(pango, description);
    bool can = font && pango_font_has_char(font, 'A') && pango_font_has_char(font, '0');
    pango_font_description_free(description);
    if (font)
        g_object_unref(font);
    return can;
}

/* A map of its own: the default one is shared by the process. Sizes are points whatever the
 * device, and nothing is rounded to its pixels: the page is the same in every format. */
brant_status brant_sheet_context(brant_context *ctx, PangoContext **pango)
{
    PangoFontMap *map = pango_cairo_font_map_new();
    pango_cairo_font_map_set_resolution(PANGO_CAIRO_FONT_MAP(map), 72);
    *pango = pango_font_map_create_context(map);
    g_object_unref(map);
    if (!can_write(*pango)) {
        g_object_unref(*pango);
        *pango = NULL;
        return brant_fail(ctx, BRANT_ERR_IO, "sheet: no font is installed (any TrueType or "
                                             "OpenType font with Latin letters will do)");
    }
    cairo_font_options_t *options = cairo_font_options_create();
    cairo_font_options_set_hint_style(options, CAIRO_HINT_STYLE_NONE);
    cairo_font_options_set_hint_metrics(options, CAIRO_HINT_METRICS_OFF);
    cairo_font_options_set_antialias(options, CAIRO_ANTIALIAS_GRAY);
    pango_cairo_context_set_font_options(*pango, options);
    cairo_font_options_destroy(options);
    pango_context_set_language(*pango, pango_language_from_string("en"));
    pango_context_set_base_dir(*pango, PANGO_DIRECTION_LTR);
    pango_context_set_round_glyph_positions(*pango, FALSE);
    return BRANT_OK;
}

/* Firm blanks as Unicode has them; of controls the line ends of the sheet's own words alone. */
static const char *clean(brant_sheet *s, const char *text)
{
    brant_text part = {0};
    s->scratch.length = 0;
    brant_text_add(&s->scratch, "%s", "");
    for (;;) {
        size_t length = strcspn(text, FIRM "\n");
        part.length = 0;
        brant_text_add(&part, "%s", "");
        brant_text_add_bytes(&part, text, length);
        if (part.failed)
            break;
        brant_words_clean(&s->scratch, part.data, " ");
        if (!text[length])
            break;
        brant_text_add(&s->scratch, "%s", text[length] == '\n' ? "\n" : "\xC2\xA0");
        text += length + 1;
    }
    if ((part.failed || s->scratch.failed) && s->status == BRANT_OK)
        s->status = brant_fail(s->ctx, BRANT_ERR_MEMORY, "not enough memory for the sheet");
    brant_text_clear(&part);
    return s->status == BRANT_OK ? s->scratch.data : "";
}

/* A layout of `text`; width below 0: one line as long as it is. */
static PangoLayout *lay_out(brant_sheet *s, const brant_style *style, double width,
                            const char *text)
{
    PangoLayout *layout = pango_layout_new(s->pango);
    PangoFontDescription *font = describe(style);
    pango_layout_set_font_description(layout, font);
    pango_font_description_free(font);
    pango_layout_set_auto_dir(layout, FALSE); /* a name's script does not move it */
    pango_layout_set_text(layout, clean(s, text), -1);
    if (width >= 0) {
        pango_layout_set_width(layout, (int)(width * PANGO_SCALE));
        pango_layout_set_wrap(layout, PANGO_WRAP_WORD_CHAR);
        if (style->lines > 0) {
            pango_layout_set_height(layout, -style->lines);
            pango_layout_set_ellipsize(layout, PANGO_ELLIPSIZE_END);
        }
        if (style->right || style->centred)
            pango_layout_set_alignment(layout,
                                       style->right ? PANGO_ALIGN_RIGHT : PANGO_ALIGN_CENTER);
    }
    return layout;
}

static void show(brant_sheet *s, const brant_style *style, PangoLayout *layout, double x, double y)
{
    cairo_set_source_rgb(s->cr, style->grey, style->grey, style->grey);
    cairo_move_to(s->cr, x, y);
    pango_cairo_show_layout(s->cr, layout);
    if (!brant_map_can_draw(layout) && s->status == BRANT_OK)
        s->status = brant_fail(s->ctx, BRANT_ERR_IO, "sheet: a font's file cannot be read");
    if (!s->trial)
        s->unknown_glyphs += (size_t)pango_layout_get_unknown_glyphs_count(layout);
}

static double pixels(int units)
{
    return (double)units / PANGO_SCALE;
}

double brant_sheet_text(brant_sheet *s, const brant_style *style, double x, double y,
                        double width, const char *text)
{
    int height = 0;
    if (s->status != BRANT_OK || !text || !*text)
        return 0;
    PangoLayout *layout = lay_out(s, style, width, text);
    show(s, style, layout, x, y);
    pango_layout_get_size(layout, NULL, &height);
    g_object_unref(layout);
    return pixels(height);
}

double brant_sheet_label(brant_sheet *s, const brant_style *style, double x, double y,
                         const char *text, bool draw)
{
    int width = 0;
    if (s->status != BRANT_OK)
        return 0;
    PangoLayout *layout = lay_out(s, style, -1, text);
    pango_layout_get_size(layout, &width, NULL);
    double left = style->right ? x - pixels(width) : style->centred ? x - pixels(width) / 2 : x;
    if (draw)
        show(s, style, layout, left, y);
    g_object_unref(layout);
    return pixels(width);
}

void brant_sheet_paragraph(brant_sheet *s, const char *title, const char *text)
{
    double indent = 0, left = BRANT_SHEET_LEFT;
    if (*title)
        indent = brant_sheet_label(s, &brant_style_bold, left, s->y, title, true) + TITLE_GAP;
    s->y += brant_sheet_text(s, &brant_style_body, left + indent, s->y,
                             brant_sheet_inner(s) - indent, text) +
            PARAGRAPH_GAP;
}

void brant_sheet_drop(brant_sheet *s, brant_text *text)
{
    if (text->failed && s->status == BRANT_OK)
        s->status = brant_fail(s->ctx, BRANT_ERR_MEMORY, "not enough memory for the sheet");
    brant_text_clear(text);
}

void brant_sheet_paragraph_of(brant_sheet *s, const char *title, brant_text *text)
{
    if (text->length > 0 && !text->failed)
        brant_sheet_paragraph(s, title, text->data);
    brant_sheet_drop(s, text);
}
