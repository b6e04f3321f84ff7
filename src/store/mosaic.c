/* Mosaics: local sources only, gaps told from terrain. */
#include "mosaic.h"

#include <cpl_conv.h>
#include <cpl_minixml.h>
#include <cpl_string.h>
#include <string.h>
#include <strings.h>

/* What gaps read as: beyond every type an elevation is stored in but double. */
#define GAP "-1e300"

bool brant_is_address(const char *name)
{
    return strncasecmp(name, "/vsi", 4) == 0 || strstr(name, "://") || name[0] == '<';
}

/* The first source that is no local file, NULL if all are. */
static const char *remote_source(const CPLXMLNode *node)
{
    for (; node; node = node->psNext) {
        if (node->eType == CXT_Element && (strcasecmp(node->pszValue, "SourceFilename") == 0 ||
                                           strcasecmp(node->pszValue, "SourceDataset") == 0)) {
            const char *name = CPLGetXMLValue(node, "", "");
            if (brant_is_address(name))
                return name;
        }
        const char *within = remote_source(node->psChild);
        if (within)
            return within;
    }
    return NULL;
}

static bool is_band(const CPLXMLNode *node)
{
    return node->eType == CXT_Element && strcasecmp(node->pszValue, "VRTRasterBand") == 0;
}

/* Does a mask or alpha band say what is void? Gaps are 0 there, too. */
static bool has_mask(const CPLXMLNode *root)
{
    for (const CPLXMLNode *node = root->psChild; node; node = node->psNext) {
        if (node->eType == CXT_Element && strcasecmp(node->pszValue, "MaskBand") == 0)
            return true;
        if (is_band(node) && (CPLGetXMLNode((CPLXMLNode *)(uintptr_t)node, "MaskBand") ||
                              strcasecmp(CPLGetXMLValue(node, "ColorInterp", ""), "Alpha") == 0))
            return true;
    }
    return false;
}

/* Give each band made of plain sources that declares no nodata value one, and a
 * type that holds it. False: there is none. A warped mosaic or one computed by a
 * function has its own way with gaps and stays as it is. */
static bool declare_gaps(CPLXMLNode *root)
{
    bool changed = false;
    if (CPLGetXMLNode(root, "subClass") || has_mask(root))
        return false;
    for (CPLXMLNode *band = root->psChild; band; band = band->psNext) {
        if (!is_band(band) || CPLGetXMLNode(band, "NoDataValue"))
            continue;
        const char *kind = CPLGetXMLValue(band, "subClass", "VRTSourcedRasterBand");
        const char *type = CPLGetXMLValue(band, "dataType", "Byte");
        if (strcasecmp(kind, "VRTSourcedRasterBand") != 0 ||
            GDALDataTypeIsComplex(GDALGetDataTypeByName(type)))
            continue;
        CPLSetXMLValue(band, "#dataType", "Float64");
        CPLCreateXMLElementAndValue(band, "NoDataValue", GAP);
        changed = true;
    }
    return changed;
}

/* The same mosaic from XML in memory; the file is not touched. */
static GDALDatasetH open_text(const char *path, CPLXMLNode *tree)
{
    static const char *const drivers[] = {"VRT", NULL};
    char *text = CPLSerializeXMLTree(tree);
    const char *folder = CPLGetPath(path); /* "" for a bare name */
    char **options = CSLSetNameValue(NULL, "ROOT_PATH", folder[0] ? folder : ".");
    GDALDatasetH dataset = NULL;
    if (text)
        dataset = GDALOpenEx(text, GDAL_OF_RASTER | GDAL_OF_READONLY | GDAL_OF_VERBOSE_ERROR,
                             drivers, (const char *const *)options, NULL);
    CSLDestroy(options);
    CPLFree(text);
    return dataset;
}

brant_status brant_mosaic_prepare(brant_context *ctx, const char *path, GDALDatasetH *dataset)
{
    brant_status status = BRANT_OK;
    CPLXMLNode *tree = CPLParseXMLFile(path);
    CPLXMLNode *root = tree ? CPLGetXMLNode(tree, "=VRTDataset") : NULL;
    const char *remote = remote_source(tree);
    if (!root)
        status = brant_fail(ctx, BRANT_ERR_INPUT, "%s: not a mosaic that can be read", path);
    else if (remote)
        status = brant_fail(ctx, BRANT_ERR_INPUT,
                            "%s: names a source that is no file on this machine: %.300s", path,
                            remote);
    else if (declare_gaps(root)) {
        GDALClose(*dataset);
        *dataset = open_text(path, tree);
        if (!*dataset)
            status = brant_fail(ctx, BRANT_ERR_INPUT, "%s: cannot open: %s", path,
                                CPLGetLastErrorMsg());
    }
    CPLDestroyXMLNode(tree);
    return status;
}
