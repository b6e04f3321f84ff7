/* The styles of rasters: one band, a colour a step, and one for what is not known. Without them
 * a GIS shows several bands as red, green and blue. */
#include "palette.h"

#include <math.h>

/* ---- the document -------------------------------------------------------- */

#define ZONE_COLOUR brant_class_colours[BRANT_CLASS_40_45]
#define ZONES_OPACITY 0.65
#define SHADOW_OPACITY 0.8

/* `empty`: the colour of nodata; NULL: the map below is seen there. */
static void begin(brant_text *out, const char *type, double opacity, const uint8_t *empty)
{
    brant_text_add(out, "<!DOCTYPE qgis PUBLIC 'http://mrcc.com/qgis.dtd' 'SYSTEM'>\n"
                        "<qgis version=\"3.22.16\" styleCategories=\"Symbology\">\n <pipe>\n"
                        "  <rasterrenderer type=\"%s\" band=\"1\" alphaBand=\"-1\" "
                        "opacity=\"%.6g\" nodataColor=\"",
                   type, opacity);
    if (empty)
        brant_text_add(out, "#%02x%02x%02x", empty[0], empty[1], empty[2]);
    brant_text_add(out, "\">\n   <rasterTransparency/>\n");
}

static void end(brant_text *out)
{
    brant_text_add(out, "  </rasterrenderer>\n </pipe>\n <blendMode>0</blendMode>\n</qgis>\n");
}

static void begin_steps(brant_text *out, double opacity, const uint8_t *empty, double low,
                        double high)
{
    begin(out, "singlebandpseudocolor", opacity, empty);
    brant_text_add(out, "   <rastershader>\n    <colorrampshader colorRampType=\"DISCRETE\" "
                        "classificationMode=\"1\" clip=\"0\" minimumValue=\"%.6g\" "
                        "maximumValue=\"%.6g\">\n", low, high);
}

/* Of values below `limit`; a shader takes them up to and with, so the last one below is named. */
static void step(brant_text *out, double limit, const uint8_t colour[3], int alpha,
                 const char *label)
{
    brant_text_add(out, "     <item value=\"");
    if (isinf(limit))
        brant_text_add(out, "inf");
    else
        brant_text_add(out, "%.9g", (double)nextafterf((float)limit, 0));
    brant_text_add(out, "\" color=\"#%02x%02x%02x\" alpha=\"%d\" label=\"%s\"/>\n", colour[0],
                   colour[1], colour[2], alpha, label);
}

static void end_steps(brant_text *out)
{
    brant_text_add(out, "    </colorrampshader>\n   </rastershader>\n");
    end(out);
}

/* ---- rasters ------------------------------------------------------------- */

void brant_style_classes(brant_text *out)
{
    begin(out, "paletted", 1, NULL);
    brant_text_add(out, "   <colorPalette>\n");
    for (int class = 0; class < BRANT_CLASSES; class++) {
        const uint8_t *colour = brant_class_colours[class];
        brant_text_add(out, "    <paletteEntry value=\"%d\" color=\"#%02x%02x%02x\" alpha=\"255\" "
                            "label=\"%s%s\"/>\n", class, colour[0], colour[1], colour[2],
                       brant_class_name((brant_class)class),
                       class == BRANT_CLASS_UNKNOWN ? "" : " degrees");
    }
    brant_text_add(out, "   </colorPalette>\n");
    end(out);
}

void brant_style_slope(brant_text *out)
{
    static const double limit[BRANT_CLASSES] = {0, 25, 30, 35, 40, 45, 55, INFINITY};
    begin_steps(out, 1, brant_class_colours[BRANT_CLASS_UNKNOWN], 0, 90);
    for (int class = BRANT_CLASS_BELOW_25; class < BRANT_CLASSES; class++)
        step(out, limit[class], brant_class_colours[class], 255,
             brant_class_name((brant_class)class));
    end_steps(out);
}

void brant_style_aspect(brant_text *out)
{
    begin_steps(out, 1, NULL, 0, 360); /* flat ground has none */
    for (int octant = 0; octant < 8; octant++)
        step(out, 22.5 + 45 * octant, brant_octant_colours[octant], 255,
             brant_octant_name(octant));
    step(out, INFINITY, brant_octant_colours[0], 255, brant_octant_name(0));
    end_steps(out);
}

void brant_style_zones(brant_text *out)
{
    begin_steps(out, ZONES_OPACITY, NULL, 1, 4294967295.0);
    step(out, INFINITY, ZONE_COLOUR, 255, "start zone; elsewhere none, or slope unknown");
    end_steps(out);
}

/* From the shadow's printed colour to that of its hatching: `part` of 1 is the latter. */
static void shadow_step(brant_text *out, double limit, double part, const char *label)
{
    uint8_t colour[3];
    for (int i = 0; i < 3; i++)
        colour[i] = (uint8_t)lround(255 * (brant_palette_reached[i] * (1 - part) +
                                           brant_palette_shadow_line[i] * part));
    step(out, limit, colour, 255, label);
}

/* Nothing is reached at 1 degree: there stands 0, not reached, and the map below is seen. A style
 * of one band cannot show what reaches from the unknown: the legend says where that stands. */
void brant_style_runout(brant_text *out)
{
    begin_steps(out, SHADOW_OPACITY, brant_class_colours[BRANT_CLASS_UNKNOWN], 0, 90);
    step(out, 1, brant_class_colours[BRANT_CLASS_BELOW_25], 0,
         "not reached by what is known; unknown above: band 5");
    shadow_step(out, 20, 0.15, "reached below 20 degrees");
    shadow_step(out, 25, 0.35, "reached at 20-25");
    shadow_step(out, 30, 0.6, "reached at 25-30");
    shadow_step(out, 90, 0.85, "reached at 30 and more");
    step(out, INFINITY, ZONE_COLOUR, 255, "release ground");
    end_steps(out);
}
