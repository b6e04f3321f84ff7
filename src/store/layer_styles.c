/* The table `layer_styles`: a style for each layer of a GeoPackage. No standard has it; desktop
 * GIS agree on its columns, write it themselves and take a layer's style from the row that is
 * the default. The GeoPackage registers it as attributes. */
#include "layer_styles.h"

#include <cpl_string.h>
#include <ogr_api.h>
#include <stdlib.h>
#include <string.h>

brant_status brant_kept_styles_add(brant_context *ctx, brant_kept_styles *styles,
                                   const char *layer, const brant_layer_style *style)
{
    brant_status status = brant_grow(ctx, &styles->style, &styles->capacity, styles->count + 1,
                                     sizeof *styles->style);
    if (status != BRANT_OK)
        return status;
    brant_kept_style *kept = &styles->style[styles->count++];
    *kept = (brant_kept_style){brant_strdup(ctx, layer), brant_strdup(ctx, style->description),
                               brant_strdup(ctx, style->qml), brant_strdup(ctx, style->sld)};
    return kept->layer && kept->description && kept->qml && kept->sld ? BRANT_OK
                                                                      : BRANT_ERR_MEMORY;
}

const char *brant_kept_description(const brant_kept_styles *styles, const char *layer)
{
    for (size_t i = 0; i < styles->count; i++)
        if (strcmp(styles->style[i].layer, layer) == 0)
            return styles->style[i].description;
    return NULL;
}

void brant_kept_styles_clear(brant_kept_styles *styles)
{
    for (size_t i = 0; i < styles->count; i++) {
        free(styles->style[i].layer);
        free(styles->style[i].description);
        free(styles->style[i].qml);
        free(styles->style[i].sld);
    }
    free(styles->style);
    *styles = (brant_kept_styles){NULL, 0, 0};
}

/* ---- the table ---------------------------------------------------------- */

enum {
    CATALOG, SCHEMA, TABLE, GEOMETRY, NAME, QML, SLD, DEFAULT, DESCRIPTION, OWNER, UI, TIME,
    COLUMNS
};

/* `width`: characters, 0 any number. */
static const struct {
    const char *name;
    OGRFieldType type;
    int width;
} columns[COLUMNS] = {
    [CATALOG] = {"f_table_catalog", OFTString, 256},
    [SCHEMA] = {"f_table_schema", OFTString, 256},
    [TABLE] = {"f_table_name", OFTString, 256},
    [GEOMETRY] = {"f_geometry_column", OFTString, 256},
    [NAME] = {"styleName", OFTString, 30},
    [QML] = {"styleQML", OFTString, 0},
    [SLD] = {"styleSLD", OFTString, 0},
    [DEFAULT] = {"useAsDefault", OFTInteger, 0},
    [DESCRIPTION] = {"description", OFTString, 0},
    [OWNER] = {"owner", OFTString, 30},
    [UI] = {"ui", OFTString, 30},
    [TIME] = {"update_time", OFTDateTime, 0},
};

static bool add_columns(OGRLayerH table)
{
    bool ok = true;
    for (int i = 0; ok && i < COLUMNS; i++) {
        OGRFieldDefnH field = OGR_Fld_Create(columns[i].name, columns[i].type);
        OGR_Fld_SetWidth(field, columns[i].width);
        if (i == DEFAULT)
            OGR_Fld_SetSubType(field, OFSTBoolean);
        ok = OGR_L_CreateField(table, field, FALSE) == OGRERR_NONE;
        OGR_Fld_Destroy(field);
    }
    return ok;
}

/* Readers ask for an empty schema, not for none. */
static bool add_row(OGRLayerH table, const brant_kept_style *style, const char *geometry,
                    const char *when)
{
    OGRFeatureH row = OGR_F_Create(OGR_L_GetLayerDefn(table));
    if (!row)
        return false;
    OGR_F_SetFieldString(row, CATALOG, "");
    OGR_F_SetFieldString(row, SCHEMA, "");
    OGR_F_SetFieldString(row, TABLE, style->layer);
    OGR_F_SetFieldString(row, GEOMETRY, geometry);
    OGR_F_SetFieldString(row, NAME, style->layer);
    OGR_F_SetFieldString(row, QML, style->qml);
    OGR_F_SetFieldString(row, SLD, style->sld);
    OGR_F_SetFieldInteger(row, DEFAULT, 1);
    OGR_F_SetFieldString(row, DESCRIPTION, style->description);
    OGR_F_SetFieldString(row, OWNER, "");
    OGR_F_SetFieldString(row, TIME, when);
    bool ok = OGR_L_CreateFeature(table, row) == OGRERR_NONE;
    OGR_F_Destroy(row);
    return ok;
}

bool brant_kept_styles_write(const brant_kept_styles *styles, GDALDatasetH dataset)
{
    char when[BRANT_FILE_TIME];
    if (styles->count == 0)
        return true;
    brant_file_time(when);
    char **options = CSLSetNameValue(NULL, "FID", "id");
    options = CSLSetNameValue(options, "DESCRIPTION", "How the layers are shown");
    OGRLayerH table = GDALDatasetCreateLayer(dataset, "layer_styles", NULL, wkbNone, options);
    CSLDestroy(options);
    bool ok = table && add_columns(table);
    for (size_t i = 0; ok && i < styles->count; i++) {
        OGRLayerH layer = GDALDatasetGetLayerByName(dataset, styles->style[i].layer);
        ok = layer && add_row(table, &styles->style[i], OGR_L_GetGeometryColumn(layer), when);
    }
    return ok;
}
