/* Files that are not all there, which GDAL would read without a word: one that is cut off, and
 * side-cars that it cannot read. A mask or a nodata value that got lost would make ground of
 * voids. */
#include "gdal_call.h"
#include "mosaic_text.h"

#include <cpl_minixml.h>
#include <cpl_string.h>
#include <stdlib.h>
#include <string.h>
#include <sys/stat.h>

/* GDAL reads 0 past the end of an ENVI file that is shorter than its header says. */
static brant_status check_size(brant_context *ctx, const char *path, GDALDatasetH dataset)
{
    long long header = 0;
    struct stat info;
    const char *driver = GDALGetDriverShortName(GDALGetDatasetDriver(dataset));
    const char *packed = GDALGetMetadataItem(dataset, "file_compression", "ENVI");
    const char *offset = GDALGetMetadataItem(dataset, "header_offset", "ENVI");
    int bands = GDALGetRasterCount(dataset);
    if (strcmp(driver, "ENVI") != 0 || bands < 1 || (packed && strcmp(packed, "0") != 0) ||
        stat(path, &info) != 0)
        return BRANT_OK;
    if (offset && !brant_parse_integer(offset, 0, INT32_MAX, &header))
        header = 0; /* GDAL, too */
    double bytes = (double)GDALGetRasterXSize(dataset) * GDALGetRasterYSize(dataset) * bands *
                       GDALGetDataTypeSizeBytes(
                           GDALGetRasterDataType(GDALGetRasterBand(dataset, 1))) +
                   (double)header;
    if ((double)info.st_size >= bytes)
        return BRANT_OK;
    return brant_fail(ctx, BRANT_ERR_INPUT, "%s: cut off: %lld bytes, its header says %.0f", path,
                      (long long)info.st_size, bytes);
}

/* `path` and `ending` if that is a file, for CPLFree; else NULL. */
static char *side_car(const char *path, const char *ending)
{
    char *name = CPLStrdup(CPLSPrintf("%s%s", path, ending));
    if (brant_gdal_is_file(name))
        return name;
    CPLFree(name);
    return NULL;
}

/* The mask beside the file (PATH.msk) is read and says which cells are void. */
static bool uses_mask(GDALDatasetH dataset, const char *mask)
{
    char **files = GDALGetFileList(dataset);
    bool read = CSLFindString(files, mask) >= 0;
    CSLDestroy(files);
    if (!read || GDALGetRasterCount(dataset) < 1)
        return false;
    int flags = GDALGetMaskFlags(GDALGetRasterBand(dataset, 1));
    return !(flags & GMF_ALL_VALID) && flags != GMF_NODATA;
}

static brant_status check_mask(brant_context *ctx, const char *path, GDALDatasetH dataset)
{
    brant_status status = BRANT_OK;
    char *mask = side_car(path, ".msk");
    if (mask && !uses_mask(dataset, mask))
        status = brant_fail(ctx, BRANT_ERR_INPUT, "%s: the mask beside it, %s, cannot be read",
                            path, mask);
    CPLFree(mask);
    return status;
}

static bool says(const CPLXMLNode *band, const char *what)
{
    return *CPLGetXMLValue((CPLXMLNode *)(void *)band, what, "") != '\0';
}

/* What the side-car says of a band, the band says. */
static bool band_took_over(const CPLXMLNode *said, GDALRasterBandH band)
{
    int has_nodata = 0, has_scale = 0, has_offset = 0;
    GDALGetRasterNoDataValue(band, &has_nodata);
    GDALGetRasterScale(band, &has_scale);
    GDALGetRasterOffset(band, &has_offset);
    return (has_nodata || !says(said, "NoDataValue")) && (has_scale || !says(said, "Scale")) &&
           (has_offset || !says(said, "Offset")) &&
           (*GDALGetRasterUnitType(band) || !says(said, "UnitType"));
}

static bool took_over(const CPLXMLNode *root, GDALDatasetH dataset)
{
    for (const CPLXMLNode *node = root->psChild; node; node = node->psNext) {
        if (node->eType != CXT_Element || strcmp(node->pszValue, "PAMRasterBand") != 0)
            continue;
        int band = brant_vrt_whole(node, "band", "0");
        if (band >= 1 && band <= GDALGetRasterCount(dataset) &&
            !band_took_over(node, GDALGetRasterBand(dataset, band)))
            return false;
    }
    return true;
}

/* PATH.aux.xml may declare nodata, a unit, a scale. */
static brant_status check_notes(brant_context *ctx, const char *path, GDALDatasetH dataset)
{
    brant_status status = BRANT_OK;
    char *notes = side_car(path, ".aux.xml");
    if (!notes)
        return BRANT_OK;
    CPLXMLNode *tree = CPLParseXMLFile(notes);
    const CPLXMLNode *root = CPLGetXMLNode(tree, "=PAMDataset");
    if (!root || !took_over(root, dataset))
        status = brant_fail(ctx, BRANT_ERR_INPUT,
                            "%s: the file beside it, %s, cannot be read: it may say which cells "
                            "are void", path, notes);
    CPLDestroyXMLNode(tree);
    CPLFree(notes);
    return status;
}

brant_status brant_gdal_check_whole(brant_context *ctx, const char *path, GDALDatasetH dataset)
{
    brant_status status = check_size(ctx, path, dataset);
    if (status == BRANT_OK)
        status = check_mask(ctx, path, dataset);
    return status == BRANT_OK ? check_notes(ctx, path, dataset) : status;
}
