/* A GeoTIFF's keys as they are stored, read by libgeotiff: a second reader
 * beside GDAL, which interprets them and mends what it thinks is wrong. */
#include "gdal_call.h"

#include <math.h>
#include <stdlib.h>
#include <string.h>

/* after the system's headers: it wants off_t */
#include <geotiff/geotiff.h>
#include <geotiff/geovalues.h>
#include <geotiff/xtiffio.h>

/* libgeotiff would print what it dislikes of a key directory. */
static void GTIF_PRINT_FUNC_FORMAT(3, 4) drop(GTIF *keys, int level, const char *text, ...)
{
    (void)keys;
    (void)level;
    (void)text;
}

/* ---- single keys -------------------------------------------------------- */

static int short_key(GTIF *keys, geokey_t key)
{
    unsigned short value = 0;
    return GTIFKeyGetSHORT(keys, key, &value, 0, 1) == 1 ? value : 0;
}

static double double_key(GTIF *keys, geokey_t key)
{
    double value = NAN;
    return GTIFKeyGetDOUBLE(keys, key, &value, 0, 1) == 1 ? value : NAN;
}

/* A text key without its closing '|' into `to`; NULL where it is not there. */
static brant_status text_key(brant_context *ctx, GTIF *keys, geokey_t key, char **to)
{
    tagtype_t type;
    int count = GTIFKeyInfo(keys, key, NULL, &type);
    *to = NULL;
    if (count < 1 || type != TYPE_ASCII)
        return BRANT_OK;
    char *text = brant_alloc(ctx, (size_t)count + 1, 1);
    if (!text)
        return BRANT_ERR_MEMORY;
    if (!GTIFKeyGetASCII(keys, key, text, count)) {
        free(text);
        return BRANT_OK;
    }
    size_t length = strlen(text);
    if (length > 0 && text[length - 1] == '|')
        text[length - 1] = '\0';
    for (char *c = text; *c; c++) /* a line must stay one */
        if ((unsigned char)*c < ' ')
            *c = ' ';
    *to = text;
    return BRANT_OK;
}

/* ---- all keys as lines -------------------------------------------------- */

static void add_numbers(brant_text *line, GTIF *keys, geokey_t key, tagtype_t type, int count)
{
    for (int i = 0; i < count; i++) {
        unsigned short whole = 0;
        double real = NAN;
        if (i > 0)
            brant_text_add(line, ", ");
        if (type == TYPE_SHORT && GTIFKeyGetSHORT(keys, key, &whole, i, 1) == 1)
            brant_text_add(line, "%u", whole);
        else if (type == TYPE_DOUBLE && GTIFKeyGetDOUBLE(keys, key, &real, i, 1) == 1)
            brant_text_add(line, "%.15g", real);
        else
            brant_text_add(line, "?");
    }
    if (type == TYPE_SHORT && count == 1) {
        const char *name = GTIFValueNameEx(keys, key, short_key(keys, key));
        if (name && strncmp(name, "Code-", 5) == 0) /* "Code-32632 (name)" */
            brant_text_add(line, "%s", strchr(name, ' ') ? strchr(name, ' ') : "");
        else if (name && strncmp(name, "Unknown", 7) != 0)
            brant_text_add(line, " (%s)", name);
    }
}

static brant_status add_line(brant_context *ctx, GTIF *keys, geokey_t key, brant_geokeys *out)
{
    tagtype_t type = TYPE_UNKNOWN;
    brant_text line = {0};
    int count = GTIFKeyInfo(keys, key, NULL, &type);
    if (count < 1)
        return BRANT_OK;
    brant_status status = brant_grow(ctx, &out->lines, &out->line_capacity, out->line_count + 1,
                                     sizeof *out->lines);
    if (status != BRANT_OK)
        return status;
    brant_text_add(&line, "%s = ", GTIFKeyNameEx(keys, key));
    if (type == TYPE_ASCII) {
        char *text = NULL;
        status = text_key(ctx, keys, key, &text);
        brant_text_add(&line, "%s", text ? text : "?");
        free(text);
    } else
        add_numbers(&line, keys, key, type, count);
    if (status == BRANT_OK)
        status = brant_text_status(ctx, &line);
    if (status != BRANT_OK) {
        brant_text_clear(&line);
        return status;
    }
    out->lines[out->line_count++] = line.data; /* free() frees */
    return BRANT_OK;
}

static brant_status take_keys(brant_context *ctx, GTIF *keys, brant_geokeys *out)
{
    int version[3] = {0}, count = 0;
    GTIFDirectoryInfo(keys, version, &count);
    out->present = count > 0;
    out->version = version[0];
    out->revision = version[1];
    out->minor_revision = version[2];
    out->model_type = short_key(keys, GTModelTypeGeoKey);
    out->raster_type = short_key(keys, GTRasterTypeGeoKey);
    out->geographic_type = short_key(keys, GeographicTypeGeoKey);
    out->geographic_linear_units = short_key(keys, GeogLinearUnitsGeoKey);
    out->geographic_angular_units = short_key(keys, GeogAngularUnitsGeoKey);
    out->projected_type = short_key(keys, ProjectedCSTypeGeoKey);
    out->projected_linear_units = short_key(keys, ProjLinearUnitsGeoKey);
    out->projected_linear_unit_size = double_key(keys, ProjLinearUnitSizeGeoKey);
    out->vertical_type = short_key(keys, VerticalCSTypeGeoKey);
    out->vertical_units = short_key(keys, VerticalUnitsGeoKey);
    brant_status status = text_key(ctx, keys, GTCitationGeoKey, &out->citation);
    if (status == BRANT_OK)
        status = text_key(ctx, keys, GeogCitationGeoKey, &out->geographic_citation);
    if (status == BRANT_OK)
        status = text_key(ctx, keys, PCSCitationGeoKey, &out->projected_citation);
    if (status == BRANT_OK)
        status = text_key(ctx, keys, VerticalCitationGeoKey, &out->vertical_citation);
    for (int key = 0; status == BRANT_OK && key < EndGeoKey; key++)
        status = add_line(ctx, keys, (geokey_t)key, out);
    return status;
}

/* ---- the file ----------------------------------------------------------- */

/* GDAL's own opening says whether it is a GeoTIFF, and sets the TIFF library's
 * handlers, so that this reader prints nothing either. A raster that does not open (now)
 * is an error: without its keys, heights in feet would pass for metres. */
static brant_status look_at(brant_context *ctx, const char *path, bool *geotiff)
{
    *geotiff = false;
    if (brant_is_address(path))
        return BRANT_OK;
    GDALDatasetH dataset = GDALOpenEx(path, GDAL_OF_RASTER | GDAL_OF_READONLY,
                                      brant_elevation_drivers, NULL, NULL);
    if (!dataset)
        return brant_fail(ctx, BRANT_ERR_INPUT, "%s: cannot be opened to read its keys", path);
    *geotiff = strcmp(GDALGetDriverShortName(GDALGetDatasetDriver(dataset)), "GTiff") == 0;
    GDALClose(dataset);
    return BRANT_OK;
}

static brant_status read_keys(brant_context *ctx, const char *path, brant_geokeys *keys)
{
    brant_status status;
    TIFF *tiff = XTIFFOpen(path, "r");
    GTIF *raw = tiff ? GTIFNewEx(tiff, drop, NULL) : NULL;
    if (raw) {
        status = take_keys(ctx, raw, keys);
        GTIFFree(raw);
    } else {
        status = brant_fail(ctx, BRANT_ERR_INPUT, "%s: cannot read its keys", path);
    }
    if (tiff)
        XTIFFClose(tiff);
    return status;
}

brant_status brant_geokeys_read(brant_context *ctx, const char *path, brant_geokeys *keys)
{
    brant_gdal_call call;
    bool geotiff;
    memset(keys, 0, sizeof *keys);
    keys->projected_linear_unit_size = NAN;
    brant_gdal_begin(&call);
    brant_status status = look_at(ctx, path, &geotiff);
    if (status == BRANT_OK && geotiff)
        status = read_keys(ctx, path, keys);
    if (status == BRANT_OK)
        status = brant_gdal_all_read(ctx, path, &call);
    brant_gdal_end(&call);
    if (status != BRANT_OK)
        brant_geokeys_clear(keys);
    return status;
}

void brant_geokeys_clear(brant_geokeys *keys)
{
    for (size_t i = 0; i < keys->line_count; i++)
        free(keys->lines[i]);
    free(keys->lines);
    free(keys->citation);
    free(keys->geographic_citation);
    free(keys->projected_citation);
    free(keys->vertical_citation);
    memset(keys, 0, sizeof *keys);
}
