/* Styles as Styled Layer Descriptors. Lengths are pixels of 0.28 mm there (OGC 05-077r4,
 * 10.2), which is how points are converted. */
#include "styles.h"

#include <math.h>

#define PIXELS (25.4 / 72 / 0.28) /* in a point */

static const double black[3] = {0, 0, 0}, white[3] = {1, 1, 1};

/* ---- symbols ------------------------------------------------------------- */

static void colour(brant_text *out, const char *name, const double rgb[3])
{
    brant_text_add(out, "<se:SvgParameter name=\"%s\">#%02x%02x%02x</se:SvgParameter>", name,
                   (unsigned)lround(rgb[0] * 255), (unsigned)lround(rgb[1] * 255),
                   (unsigned)lround(rgb[2] * 255));
}

static void number(brant_text *out, const char *name, double value)
{
    brant_text_add(out, "<se:SvgParameter name=\"%s\">%.4g</se:SvgParameter>", name, value);
}

static void fill(const double rgb[3], double opacity, brant_text *out)
{
    brant_text_add(out, "<se:Fill>");
    colour(out, "fill", rgb);
    number(out, "fill-opacity", opacity);
    brant_text_add(out, "</se:Fill>");
}

static void stroke(const double rgb[3], double width, const double dash[2], bool round,
                   brant_text *out)
{
    brant_text_add(out, "<se:Stroke>");
    colour(out, "stroke", rgb);
    number(out, "stroke-width", width * PIXELS);
    brant_text_add(out, "<se:SvgParameter name=\"stroke-linejoin\">round</se:SvgParameter>"
                        "<se:SvgParameter name=\"stroke-linecap\">%s</se:SvgParameter>",
                   round ? "round" : "butt");
    if (dash[1] > 0)
        brant_text_add(out, "<se:SvgParameter name=\"stroke-dasharray\">%.4g %.4g"
                            "</se:SvgParameter>",
                       fmax(dash[0], 0.01) * PIXELS, dash[1] * PIXELS);
    brant_text_add(out, "</se:Stroke>");
}

static const double solid[2] = {0, 0};

static void line(const double rgb[3], double width, const double dash[2], bool round,
                 brant_text *out)
{
    brant_text_add(out, "     <se:LineSymbolizer>");
    stroke(rgb, width, dash, round, out);
    brant_text_add(out, "</se:LineSymbolizer>\n");
}

static void lines(const brant_style_rule *rule, brant_text *out)
{
    const brant_line_look *look = rule->line;
    line(white, look->width + 2 * BRANT_PALETTE_CASING, solid, true, out);
    line(rule->rgb, look->width, look->dash, look->round, out);
    if (look->core > 0)
        line(white, look->core, look->core_dash, false, out);
}

static void mark(const brant_style_rule *rule, brant_text *out)
{
    const brant_mark_look *look = rule->mark;
    brant_text_add(out, "     <se:PointSymbolizer><se:Graphic><se:Mark><se:WellKnownName>%s"
                        "</se:WellKnownName>", look->sld);
    fill(look->hollow ? white : rule->rgb, 1, out);
    stroke(rule->rgb, 1, solid, false, out);
    brant_text_add(out, "</se:Mark><se:Size>%.4g</se:Size><se:Rotation>%.4g</se:Rotation>"
                        "</se:Graphic></se:PointSymbolizer>\n",
                   look->size * PIXELS, look->turn_deg);
}

static void areas(const brant_style_rule *rule, double opacity, brant_text *out)
{
    const brant_hatch_look *look = rule->hatch;
    brant_text_add(out, "     <se:PolygonSymbolizer>");
    fill(rule->rgb, opacity, out);
    stroke(black, 0.7, solid, false, out);
    brant_text_add(out, "</se:PolygonSymbolizer>\n");
    if (!look->mark)
        return;
    brant_text_add(out, "     <se:PolygonSymbolizer><se:Fill><se:GraphicFill><se:Graphic><se:Mark>"
                        "<se:WellKnownName>%s</se:WellKnownName>", look->mark);
    stroke(brant_style_ink(rule), 0.4, solid, false, out);
    brant_text_add(out, "</se:Mark><se:Size>%.4g</se:Size></se:Graphic></se:GraphicFill></se:Fill>"
                        "</se:PolygonSymbolizer>\n", look->size * PIXELS);
}

static void label(const brant_style *style, bool along, brant_text *out)
{
    brant_text_add(out, "     <se:TextSymbolizer><se:Label>%s<ogc:PropertyName>%s</ogc:PropertyName>"
                        "</se:Label><se:Font><se:SvgParameter name=\"font-size\">10"
                        "</se:SvgParameter><se:SvgParameter name=\"font-weight\">bold"
                        "</se:SvgParameter></se:Font><se:LabelPlacement>", style->label_before,
                   style->label);
    if (along)
        brant_text_add(out, "<se:LinePlacement><se:PerpendicularOffset>6</se:PerpendicularOffset>"
                            "</se:LinePlacement>");
    else
        brant_text_add(out, "<se:PointPlacement><se:Displacement><se:DisplacementX>8"
                            "</se:DisplacementX><se:DisplacementY>8</se:DisplacementY>"
                            "</se:Displacement></se:PointPlacement>");
    brant_text_add(out, "</se:LabelPlacement><se:Halo><se:Radius>1</se:Radius>");
    fill(white, 1, out);
    brant_text_add(out, "</se:Halo>");
    fill(black, 1, out);
    brant_text_add(out, "</se:TextSymbolizer>\n");
}

/* ---- rules --------------------------------------------------------------- */

static void comparison(const char *name, const char *field, const char *word, double value,
                       brant_text *out)
{
    brant_text_add(out, "<ogc:PropertyIs%s><ogc:PropertyName>%s</ogc:PropertyName><ogc:Literal>",
                   name, field);
    if (word)
        brant_text_add(out, "%s", word);
    else
        brant_text_add(out, "%.6g", value);
    brant_text_add(out, "</ogc:Literal></ogc:PropertyIs%s>", name);
}

static bool is_else(const brant_style_rule *rule)
{
    return !rule->word && isnan(rule->low);
}

static void condition(const brant_style *style, const brant_style_rule *rule, brant_text *out)
{
    bool both = isfinite(rule->low) && isfinite(rule->high);
    brant_text_add(out, "%s", both ? "<ogc:And>" : "");
    if (rule->word)
        comparison("EqualTo", style->field, rule->word, NAN, out);
    if (isfinite(rule->low))
        comparison("GreaterThanOrEqualTo", style->field, NULL, rule->low, out);
    if (isfinite(rule->high))
        comparison("LessThan", style->field, NULL, rule->high, out);
    brant_text_add(out, "%s", both ? "</ogc:And>" : "");
}

/* Nothing there, or none of the others. Said at length: a common reader takes an ElseFilter for
 * no filter at all, and would draw everything as unknown. */
static void other_condition(const brant_style *style, brant_text *out)
{
    brant_text_add(out, "<ogc:Or><ogc:PropertyIsNull><ogc:PropertyName>%s</ogc:PropertyName>"
                        "</ogc:PropertyIsNull><ogc:Not><ogc:Or>", style->field);
    for (int i = 0; i < style->rules; i++)
        if (!is_else(&style->rule[i]))
            condition(style, &style->rule[i], out);
    brant_text_add(out, "</ogc:Or></ogc:Not></ogc:Or>");
}

static void filter(const brant_style *style, const brant_style_rule *rule, brant_text *out)
{
    if (!style->field)
        return;
    brant_text_add(out, "     <ogc:Filter>");
    if (is_else(rule))
        other_condition(style, out);
    else
        condition(style, rule, out);
    brant_text_add(out, "</ogc:Filter>\n");
}

static void write_rule(const brant_style *style, int index, brant_text *out)
{
    const brant_style_rule *rule = &style->rule[index];
    brant_text_add(out, "    <se:Rule>\n     <se:Name>%s-%d</se:Name>\n"
                        "     <se:Description><se:Title>%s</se:Title></se:Description>\n",
                   style->name, index, rule->title);
    filter(style, rule, out);
    if (style->scale > 0)
        brant_text_add(out, "     <se:MaxScaleDenominator>%d</se:MaxScaleDenominator>\n",
                       style->scale);
    if (rule->line)
        lines(rule, out);
    else if (rule->mark)
        mark(rule, out);
    else
        areas(rule, style->opacity, out);
    if (style->label)
        label(style, rule->line != NULL, out);
    brant_text_add(out, "    </se:Rule>\n");
}

void brant_style_sld(const brant_style *style, brant_text *out)
{
    brant_text_add(out, "<?xml version=\"1.0\" encoding=\"UTF-8\"?>\n"
                        "<StyledLayerDescriptor xmlns=\"http://www.opengis.net/sld\" "
                        "xmlns:se=\"http://www.opengis.net/se\" "
                        "xmlns:ogc=\"http://www.opengis.net/ogc\" version=\"1.1.0\">\n"
                        " <NamedLayer>\n  <se:Name>%s</se:Name>\n  <UserStyle>\n"
                        "   <se:Name>%s</se:Name>\n   <IsDefault>1</IsDefault>\n"
                        "   <se:FeatureTypeStyle>\n", style->name, style->name);
    for (int i = 0; i < style->rules; i++)
        write_rule(style, i, out);
    brant_text_add(out, "   </se:FeatureTypeStyle>\n  </UserStyle>\n </NamedLayer>\n"
                        "</StyledLayerDescriptor>\n");
}
