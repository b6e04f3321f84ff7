/* The unit of heights: from an option, the CRS, the band or the GeoKeys. */
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

/* The unit that a band states; `*known` is false for one that is not known. */
static const char *band_unit(GDALRasterBandH band, double *metres, bool *known)
{
    const char *stated = band ? GDALGetRasterUnitType(band) : NULL;
    if (!stated || !stated[0])
        return NULL;
    *known = brant_unit_metres(stated, metres);
    return stated;
}

/* VerticalUnitsGeoKey, an EPSG unit of length. GDAL passes over it where no vertical
 * CRS goes with it. */
static brant_status key_unit(brant_context *ctx, const char *path, double *metres, bool *found)
{
    static const struct {
        int code;
        double metres;
    } codes[] = {{9001, 1.0}, {9002, 0.3048}, {9003, 1200.0 / 3937.0}, {9036, 1000.0},
                 {1025, 0.001}, {1033, 0.01}};
    brant_geokeys keys;
    *found = false;
    brant_status status = brant_geokeys_read(ctx, path, &keys);
    if (status != BRANT_OK)
        return status;
    for (size_t i = 0; i < sizeof codes / sizeof *codes; i++)
        if (keys.vertical_units == codes[i].code) {
            *found = true;
            *metres = codes[i].metres;
        }
    if (keys.vertical_units != 0 && keys.vertical_units != 32767 && !*found)
        status = brant_fail(ctx, BRANT_ERR_INPUT,
                            "%s: its GeoKeys have heights in unit EPSG:%d, not known "
                            "(--vertical-unit)",
                            path, keys.vertical_units);
    brant_geokeys_clear(&keys);
    return status;
}

/* What each place says; `metres` counts where `from` is not NULL. */
typedef struct statement {
    const char *from;
    double metres;
} statement;

static void warn_conflict(brant_context *ctx, const char *name, const statement *taken,
                          const statement *other)
{
    if (fabs(taken->metres - other->metres) > 1e-9)
        brant_warn(ctx,
                   "%s: heights in units of %.7g m by its %s, of %.7g m by its %s: the %s's taken "
                   "(--vertical-unit)",
                   name, taken->metres, taken->from, other->metres, other->from, taken->from);
}

static brant_status collect(brant_context *ctx, const char *name, const brant_unit_places *places,
                            statement s[3])
{
    bool known = false, found = false;
    const char *stated = band_unit(places->band, &s[1].metres, &known);
    if (!stated)
        stated = band_unit(places->tile_band, &s[1].metres, &known);
    s[0].from = crs_unit(places->crs, &s[0].metres) ? "CRS" : NULL;
    if (stated && !known && !s[0].from)
        return brant_fail(ctx, BRANT_ERR_INPUT,
                          "%s: heights in '%s', a unit not known (--vertical-unit)", name, stated);
    s[1].from = stated && known ? "band" : NULL;
    brant_status status = key_unit(ctx, places->geotiff, &s[2].metres, &found);
    s[2].from = found ? "GeoKeys" : NULL;
    /* GDAL hands the GeoKeys' unit on as the band's */
    if (found && s[1].from && fabs(s[1].metres - s[2].metres) < 1e-9)
        s[1].from = NULL;
    return status;
}

brant_status brant_vertical_unit(brant_context *ctx, const char *name, const char *option,
                                 const brant_unit_places *places, double *metres,
                                 const char **from)
{
    statement s[3] = {{NULL, 0}, {NULL, 0}, {NULL, 0}};
    int taken = 0;
    if (option) {
        *from = "option";
        if (brant_unit_metres(option, metres))
            return BRANT_OK;
        return brant_fail(ctx, BRANT_ERR_USAGE, "vertical unit '%s': not m, ft, us-ft or dm",
                          option);
    }
    brant_status status = collect(ctx, name, places, s);
    if (status != BRANT_OK)
        return status;
    while (taken < 3 && !s[taken].from)
        taken++;
    *from = taken < 3 ? s[taken].from : "assumed";
    *metres = taken < 3 ? s[taken].metres : 1.0;
    for (int i = 0; i < 3; i++)
        if (i > taken && s[i].from)
            warn_conflict(ctx, name, &s[taken], &s[i]);
    if (taken == 3)
        brant_note(ctx, "%s: no vertical unit stated, metres assumed", name);
    return BRANT_OK;
}
