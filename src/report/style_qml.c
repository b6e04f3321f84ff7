/* Styles as the document that desktop GIS keep beside a layer: a renderer of rules, a symbol a
 * rule, marks and lines in points. What is left out is at its default there. */
#include "styles.h"

#include <math.h>

/* ---- values -------------------------------------------------------------- */

static void option(brant_text *out, const char *name, const char *value)
{
    brant_text_add(out, "     <Option type=\"QString\" name=\"%s\" value=\"%s\"/>\n", name, value);
}

static void number_option(brant_text *out, const char *name, double value)
{
    brant_text_add(out, "     <Option type=\"QString\" name=\"%s\" value=\"%.6g\"/>\n", name, value);
}

/* A length in points. */
static void length_option(brant_text *out, const char *name, const char *unit, double value)
{
    number_option(out, name, value);
    option(out, unit, "Point");
}

static void colour_option(brant_text *out, const char *name, const double rgb[3])
{
    brant_text_add(out, "     <Option type=\"QString\" name=\"%s\" value=\"%.0f,%.0f,%.0f,255\"/>\n",
                   name, rgb[0] * 255, rgb[1] * 255, rgb[2] * 255);
}

static const double white[3] = {1, 1, 1}, black[3] = {0, 0, 0};

static void begin_layer(brant_text *out, const char *class, int pass)
{
    brant_text_add(out, "    <layer class=\"%s\" enabled=\"1\" locked=\"0\" pass=\"%d\">\n"
                        "    <Option type=\"Map\">\n", class, pass);
}

static void end_options(brant_text *out)
{
    brant_text_add(out, "    </Option>\n");
}

static void end_layer(brant_text *out)
{
    brant_text_add(out, "    </layer>\n");
}

/* ---- symbols ------------------------------------------------------------- */

static void line(brant_text *out, const double rgb[3], double width, const double dash[2],
                 bool round, int pass)
{
    begin_layer(out, "SimpleLine", pass);
    colour_option(out, "line_color", rgb);
    length_option(out, "line_width", "line_width_unit", width);
    option(out, "capstyle", round ? "round" : "flat");
    option(out, "joinstyle", "round");
    if (dash[1] > 0) { /* a dash of no length would be left out */
        brant_text_add(out, "     <Option type=\"QString\" name=\"customdash\" "
                            "value=\"%.6g;%.6g\"/>\n", fmax(dash[0], 0.01), dash[1]);
        option(out, "customdash_unit", "Point");
        option(out, "use_custom_dash", "1");
    }
    end_options(out);
    end_layer(out);
}

/* The casing of all lines first, then rule above rule. */
static void line_layers(const brant_style_rule *rule, brant_text *out)
{
    static const double solid[2] = {0, 0};
    const brant_line_look *look = rule->line;
    line(out, white, look->width + 2 * BRANT_PALETTE_CASING, solid, true, 0);
    line(out, rule->rgb, look->width, look->dash, look->round, rule->above);
    if (look->core > 0)
        line(out, white, look->core, look->core_dash, false, rule->above);
}

static void mark_layer(const brant_style_rule *rule, brant_text *out)
{
    const brant_mark_look *look = rule->mark;
    begin_layer(out, "SimpleMarker", rule->above);
    option(out, "name", look->qml);
    colour_option(out, "color", look->hollow ? white : rule->rgb);
    colour_option(out, "outline_color", rule->rgb);
    length_option(out, "outline_width", "outline_width_unit", 1);
    length_option(out, "size", "size_unit", look->size);
    end_options(out);
    end_layer(out);
}

static void hatch_layer(const brant_style_rule *rule, int symbol, int number, int direction,
                        brant_text *out)
{
    static const double solid[2] = {0, 0};
    const double *ink = brant_style_ink(rule);
    begin_layer(out, "LinePatternFill", 0);
    number_option(out, "angle", rule->hatch->angle[direction]);
    length_option(out, "distance", "distance_unit", rule->hatch->apart);
    end_options(out);
    brant_text_add(out, "    <symbol type=\"line\" name=\"@%d@%d\" alpha=\"1\">\n", symbol, number);
    line(out, ink, 0.4, solid, false, 0);
    brant_text_add(out, "    </symbol>\n");
    end_layer(out);
}

static void area_layers(const brant_style_rule *rule, int symbol, brant_text *out)
{
    begin_layer(out, "SimpleFill", 0);
    option(out, "style", "solid");
    colour_option(out, "color", rule->rgb);
    option(out, "outline_style", "solid");
    colour_option(out, "outline_color", black);
    length_option(out, "outline_width", "outline_width_unit", 0.7);
    end_options(out);
    end_layer(out);
    for (int i = 0; i < rule->hatch->lines; i++)
        hatch_layer(rule, symbol, 1 + i, i, out);
}

static void symbol(const brant_style_rule *rule, int number, brant_text *out)
{
    brant_text_add(out, "   <symbol type=\"%s\" name=\"%d\" alpha=\"1\">\n",
                   rule->line ? "line" : rule->mark ? "marker" : "fill", number);
    if (rule->line)
        line_layers(rule, out);
    else if (rule->mark)
        mark_layer(rule, out);
    else
        area_layers(rule, number, out);
    brant_text_add(out, "   </symbol>\n");
}

/* ---- rules --------------------------------------------------------------- */

static void filter(const brant_style *style, const brant_style_rule *rule, brant_text *out)
{
    const char *field = style->field;
    if (!field)
        return;
    brant_text_add(out, " filter=\"");
    if (rule->word)
        brant_text_add(out, "&quot;%s&quot; = '%s'", field, rule->word);
    else if (isnan(rule->low))
        brant_text_add(out, "ELSE");
    else if (isinf(rule->low))
        brant_text_add(out, "&quot;%s&quot; &lt; %.6g", field, rule->high);
    else if (isinf(rule->high))
        brant_text_add(out, "&quot;%s&quot; >= %.6g", field, rule->low);
    else
        brant_text_add(out, "&quot;%s&quot; >= %.6g AND &quot;%s&quot; &lt; %.6g", field, rule->low,
                       field, rule->high);
    brant_text_add(out, "\"");
}

static void renderer(const brant_style *style, brant_text *out)
{
    brant_text_add(out, " <renderer-v2 type=\"RuleRenderer\" symbollevels=\"1\" "
                        "enableorderby=\"0\" forceraster=\"0\">\n  <rules key=\"%s\">\n",
                   style->name);
    for (int i = 0; i < style->rules; i++) {
        brant_text_add(out, "   <rule key=\"%s-%d\" symbol=\"%d\" label=\"%s\"", style->name, i, i,
                       style->rule[i].title);
        filter(style, &style->rule[i], out);
        brant_text_add(out, "/>\n");
    }
    brant_text_add(out, "  </rules>\n  <symbols>\n");
    for (int i = 0; i < style->rules; i++)
        symbol(&style->rule[i], i, out);
    brant_text_add(out, "  </symbols>\n </renderer-v2>\n");
}

/* Along a line, beside a point. */
static void labels(const brant_style *style, brant_text *out)
{
    bool lines = style->rule[0].line != NULL;
    brant_text_add(out,
                   " <labeling type=\"simple\">\n  <settings>\n"
                   "   <text-style fieldName=\"%s\" isExpression=\"1\" fontSize=\"8\" "
                   "fontSizeUnit=\"Point\" fontWeight=\"75\" textColor=\"0,0,0,255\" "
                   "textOpacity=\"1\">\n"
                   "    <text-buffer bufferDraw=\"1\" bufferSize=\"1\" bufferSizeUnits=\"Point\" "
                   "bufferColor=\"255,255,255,255\" bufferOpacity=\"1\"/>\n"
                   "   </text-style>\n"
                   "   <placement placement=\"%d\" placementFlags=\"%d\" dist=\"%d\" "
                   "distUnits=\"Point\"/>\n"
                   "   <rendering drawLabels=\"1\"/>\n"
                   "  </settings>\n </labeling>\n",
                   style->label_qml, lines ? 2 : 6, lines ? 10 : 0, lines ? 3 : 2);
}

static void titles(const brant_style *style, brant_text *out)
{
    brant_text_add(out, " <aliases>\n");
    for (int i = 0; i < style->column_count; i++) {
        const char *title = brant_column_title(style->columns[i].name);
        if (title) /* index 0 is the feature's number */
            brant_text_add(out, "  <alias field=\"%s\" index=\"%d\" name=\"%s\"/>\n",
                           style->columns[i].name, i + 1, title);
    }
    brant_text_add(out, " </aliases>\n");
}

void brant_style_qml(const brant_style *style, brant_text *out)
{
    brant_text_add(out, "<!DOCTYPE qgis PUBLIC 'http://mrcc.com/qgis.dtd' 'SYSTEM'>\n"
                        "<qgis version=\"3.22.16\" styleCategories=\"Symbology|Labeling|Fields|Rendering\" "
                        "labelsEnabled=\"%d\" hasScaleBasedVisibilityFlag=\"%d\" minScale=\"%d\" "
                        "maxScale=\"0\">\n",
                   style->label != NULL, style->scale > 0, style->scale);
    renderer(style, out);
    if (style->label)
        labels(style, out);
    titles(style, out);
    brant_text_add(out, " <blendMode>0</blendMode>\n <featureBlendMode>0</featureBlendMode>\n"
                        " <layerOpacity>%.6g</layerOpacity>\n</qgis>\n", style->opacity);
}
