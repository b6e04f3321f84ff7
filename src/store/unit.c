/* The unit of heights: from an option, the CRS or the band. */
#include "unit.h"

#include <math.h>
#include <string.h>
#include <strings.h>

/* EPSG units 9001 metre, 9002 foot, 9003 US survey foot (1200/3937 m), and the
 * decimal ones. */
static const struct {
    double metres;
    const char *names[12];
} units[] = {
    {1.0, {"m", "metre", "metres", "meter", "meters", NULL}},
    {0.3048,
     {"ft", "foot", "feet", "international foot", "international feet", "foot (International)",
      "foot_international", NULL}},
    {1200.0 / 3937.0,
     {"us-ft", "us_ft", "ftus", "us survey foot", "us survey feet", "us survey foot (ftus)",
      "us_survey_foot", "us_survey_feet", "survey foot", "foot_us", "us foot", NULL}},
    {0.1, {"dm", "decimetre", "decimetres", "decimeter", "decimeters", NULL}},
    {0.01, {"cm", "centimetre", "centimetres", "centimeter", "centimeters", NULL}},
    {1000.0, {"km", "kilometre", "kilometres", "kilometer", "kilometers", NULL}},
};

bool brant_unit_metres(const char *text, double *metres)
{
    for (size_t u = 0; u < sizeof units / sizeof units[0]; u++)
        for (size_t n = 0; units[u].names[n]; n++)
            if (strcasecmp(text, units[u].names[n]) == 0) {
                *metres = units[u].metres;
                return true;
            }
    return false;
}

/* The unit of a compound CRS's vertical axis; false if it has none. */
static bool crs_unit(OGRSpatialReferenceH crs, double *metres)
{
    if (!crs || !OSRIsCompound(crs))
        return false;
    *metres = OSRGetTargetLinearUnits(crs, "VERT_CS", NULL);
    return isfinite(*metres) && *metres > 0;
}

brant_status brant_vertical_unit(brant_context *ctx, const char *name, const char *option,
                                 OGRSpatialReferenceH crs, GDALRasterBandH band, double *metres,
                                 const char **from)
{
    double of_crs = 0, of_band = 0;
    const char *stated = GDALGetRasterUnitType(band);
    bool in_band = stated && stated[0];
    bool band_known = in_band && brant_unit_metres(stated, &of_band);
    bool crs_known = crs_unit(crs, &of_crs);
    if (option) {
        *from = "option";
        if (brant_unit_metres(option, metres))
            return BRANT_OK;
        return brant_fail(ctx, BRANT_ERR_USAGE, "vertical unit '%s': not m, ft or us-ft", option);
    }
    if (crs_known) {
        *from = "CRS";
        *metres = of_crs;
        if (band_known && fabs(of_band - of_crs) > 1e-9)
            brant_warn(ctx,
                       "%s: its CRS has heights in units of %.7g m, its band in '%s'; the CRS's "
                       "taken (--vertical-unit)",
                       name, of_crs, stated);
        return BRANT_OK;
    }
    if (in_band && !band_known)
        return brant_fail(ctx, BRANT_ERR_INPUT,
                          "%s: heights in '%s', a unit not known (--vertical-unit)", name, stated);
    *from = in_band ? "band" : "assumed";
    *metres = in_band ? of_band : 1.0;
    if (!in_band)
        brant_note(ctx, "%s: no vertical unit stated, metres assumed", name);
    return BRANT_OK;
}
