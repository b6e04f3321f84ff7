/* The styles of the layers: which rules there are, and their looks. */
#include "styles.h"

#include <math.h>
#include <string.h>

/* ---- legs and points: by kind -------------------------------------------- */

static const char *const kind_titles[BRANT_KINDS] = {
    [BRANT_KIND_UNKNOWN] = "unknown",
    [BRANT_KIND_CROSSES] = "crosses a start zone",
    [BRANT_KIND_OVER_BAND] = "on ground above the band",
    [BRANT_KIND_EDGE] = "at the edge of release ground",
    [BRANT_KIND_UNDER] = "under a runout shadow",
    [BRANT_KIND_REMOTE] = "remote release may reach it",
    [BRANT_KIND_NONE_FOUND] = "none found",
};

static const brant_mark_look kind_marks[BRANT_KINDS] = {
    [BRANT_KIND_UNKNOWN] = {"cross2", "x", 5, 0, false},
    [BRANT_KIND_CROSSES] = {"square", "square", 5, 0, false},
    [BRANT_KIND_OVER_BAND] = {"triangle", "triangle", 6, 0, false},
    [BRANT_KIND_EDGE] = {"square", "square", 5, 0, true},
    [BRANT_KIND_UNDER] = {"circle", "circle", 4.5, 0, false},
    [BRANT_KIND_REMOTE] = {"cross", "cross", 5, 0, false},
    [BRANT_KIND_NONE_FOUND] = {"circle", "circle", 3.5, 0, true},
};

/* Severer kinds are drawn above others. A kind that the style does not know, as somebody may
 * write it, is shown as unknown: it must not vanish. */
static void add_kinds(brant_style *style, bool lines)
{
    for (int kind = BRANT_KINDS - 1; kind >= 0; kind--) {
        brant_style_rule *rule = &style->rule[style->rules++];
        *rule = (brant_style_rule){.title = kind_titles[kind], .low = NAN, .high = NAN,
                                   .above = BRANT_KINDS - kind};
        if (kind != BRANT_KIND_UNKNOWN)
            rule->word = brant_kind_name((brant_kind)kind);
        memcpy(rule->rgb, brant_palette_kind[kind], sizeof rule->rgb);
        if (lines)
            rule->line = &brant_palette_line[kind];
        else
            rule->mark = &kind_marks[kind];
    }
    style->field = "kind";
}

/* ---- zones: by the steepest part ----------------------------------------- */

static const struct {
    const char *title;
    double low, high;
    brant_hatch_look hatch;
} zone_classes[BRANT_CLASSES] = {
    {"steepness unknown", NAN, NAN, {{45, 135}, 2, 4, "x", 6}},
    {"steepest part below 25 degrees", -INFINITY, 25, {{0, 0}, 0, 0, NULL, 0}},
    {"25-30 degrees", 25, 30, {{0, 0}, 1, 9, "x", 11}},
    {"30-35 degrees", 30, 35, {{45, 0}, 1, 7, "cross", 9}},
    {"35-40 degrees", 35, 40, {{135, 0}, 1, 6, "x", 8}},
    {"40-45 degrees", 40, 45, {{0, 0}, 1, 5, "cross", 6}},
    {"45-55 degrees", 45, 55, {{90, 0}, 1, 4, "x", 5}},
    {"above 55 degrees", 55, INFINITY, {{0, 90}, 2, 4, "cross", 4}},
};

static void add_classes(brant_style *style)
{
    for (int class = BRANT_CLASSES - 1; class >= 0; class--) {
        brant_style_rule *rule = &style->rule[style->rules++];
        *rule = (brant_style_rule){.title = zone_classes[class].title,
                                   .low = zone_classes[class].low,
                                   .high = zone_classes[class].high,
                                   .hatch = &zone_classes[class].hatch};
        for (int i = 0; i < 3; i++)
            rule->rgb[i] = brant_class_colours[class][i] / 255.0;
    }
    style->field = "steepest_deg";
}

/* ---- layers -------------------------------------------------------------- */

static const brant_mark_look wait_mark = {"diamond", "square", 9, 45, true};

static void add_wait(brant_style *style)
{
    style->rule[style->rules++] =
        (brant_style_rule){.title = "waiting place", .low = NAN, .high = NAN, .mark = &wait_mark};
}

const double *brant_style_ink(const brant_style_rule *rule)
{
    static const double black[3] = {0, 0, 0}, white[3] = {1, 1, 1};
    return brant_palette_contrast(rule->rgb, black) < brant_palette_contrast(rule->rgb, white)
               ? white
               : black;
}

static void set_label(brant_style *style, const char *column, const char *before, const char *qml)
{
    style->label = column;
    style->label_before = before;
    style->label_qml = qml;
}

bool brant_style_of(const char *layer, brant_style *style)
{
    *style = (brant_style){.name = layer, .opacity = 1};
    if (strcmp(layer, "legs") == 0) {
        add_kinds(style, true);
        set_label(style, "leg", "", "&quot;leg&quot;");
    } else if (strcmp(layer, "points") == 0) {
        add_kinds(style, false);
        style->scale = 10000; /* they lie 5 m apart */
    } else if (strcmp(layer, "waits") == 0) {
        add_wait(style);
        set_label(style, "along_m", "WAIT at m ",
                  "'WAIT ' || format_number(&quot;along_m&quot; / 1000, 2)");
    } else if (strcmp(layer, "zones") == 0) {
        add_classes(style);
        style->opacity = 0.65; /* the map below stays readable */
    } else
        return false;
    return true;
}

static const char *description_of(const char *layer)
{
    return strcmp(layer, "legs") == 0     ? "Legs of the route, by what each meets"
           : strcmp(layer, "points") == 0 ? "Points along the route, by what each meets"
           : strcmp(layer, "waits") == 0  ? "Places to wait outside every runout shadow found"
                                          : "Numbered start zones, by their steepest part";
}

brant_status brant_report_layer(brant_context *ctx, brant_layers *layers, const char *name,
                                brant_shape shape, const brant_column *columns, int count)
{
    brant_style style;
    brant_text qml = {0}, sld = {0};
    brant_status status = brant_layers_add(ctx, layers, name, shape, columns, count);
    if (status != BRANT_OK || !brant_style_of(name, &style))
        return status;
    style.columns = columns;
    style.column_count = count;
    brant_style_qml(&style, &qml);
    brant_style_sld(&style, &sld);
    status = brant_text_status(ctx, &qml);
    if (status == BRANT_OK)
        status = brant_text_status(ctx, &sld);
    if (status == BRANT_OK) {
        brant_layer_style written = {description_of(name), qml.data, sld.data};
        status = brant_layers_style(ctx, layers, &written);
    }
    brant_text_clear(&qml);
    brant_text_clear(&sld);
    return status;
}
