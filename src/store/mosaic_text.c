/* The text of a mosaic (VRT). */
#include "mosaic_text.h"

#include <cpl_conv.h>
#include <math.h>
#include <stdlib.h>
#include <string.h>
#include <strings.h>

bool brant_vrt_is(const CPLXMLNode *node, const char *name)
{
    return node->eType == CXT_Element && strcasecmp(node->pszValue, name) == 0;
}

/* GDAL's XML calls do not change the tree they look at, but want it mutable. */
CPLXMLNode *brant_vrt_child(const CPLXMLNode *node, const char *name)
{
    return CPLGetXMLNode((CPLXMLNode *)(uintptr_t)node, name);
}

const char *brant_vrt_value(const CPLXMLNode *node, const char *name, const char *otherwise)
{
    return CPLGetXMLValue((CPLXMLNode *)(uintptr_t)node, name, otherwise);
}

double brant_vrt_number(const CPLXMLNode *node, const char *name)
{
    const char *text = brant_vrt_value(node, name, NULL);
    return text ? CPLAtof(text) : NAN;
}

int brant_vrt_whole(const CPLXMLNode *node, const char *name, const char *otherwise)
{
    return (int)strtol(brant_vrt_value(node, name, otherwise), NULL, 10);
}

bool brant_vrt_is_band(const CPLXMLNode *node)
{
    return brant_vrt_is(node, "VRTRasterBand");
}

char *brant_vrt_file(const char *mosaic, const CPLXMLNode *file)
{
    const char *name = CPLGetXMLValue((CPLXMLNode *)(uintptr_t)file, "", "");
    if (strcmp(brant_vrt_value(file, "relativeToVRT", "0"), "1") == 0)
        return CPLStrdup(CPLProjectRelativeFilename(CPLGetPath(mosaic), name));
    return CPLStrdup(name);
}

brant_status brant_vrt_parse(brant_context *ctx, const char *path, CPLXMLNode **tree,
                             CPLXMLNode **root)
{
    *tree = CPLParseXMLFile(path);
    *root = *tree ? CPLGetXMLNode(*tree, "=VRTDataset") : NULL;
    if (*root)
        return BRANT_OK;
    CPLDestroyXMLNode(*tree);
    *tree = NULL;
    return brant_fail(ctx, BRANT_ERR_INPUT, "%s: not a mosaic that can be read", path);
}

bool brant_vrt_has_mask(const CPLXMLNode *root)
{
    return brant_vrt_child(root, "MaskBand") || brant_vrt_has_band_mask(root);
}

bool brant_vrt_has_band_mask(const CPLXMLNode *root)
{
    for (const CPLXMLNode *node = root->psChild; node; node = node->psNext) {
        if (brant_vrt_is_band(node) && (brant_vrt_child(node, "MaskBand") ||
                              strcasecmp(brant_vrt_value(node, "ColorInterp", ""), "Alpha") == 0))
            return true;
    }
    return false;
}
