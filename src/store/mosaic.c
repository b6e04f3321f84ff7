/* Mosaics: local sources only, gaps told from terrain. */
#include "mosaic.h"
#include "mosaic_text.h"

#include <cpl_conv.h>
#include <cpl_string.h>
#include <math.h>
#include <stdlib.h>
#include <string.h>
#include <strings.h>
#include <sys/stat.h>

/* What gaps read as: beyond every type an elevation is stored in but double. */
#define GAP "-1e300"

bool brant_is_mosaic(const char *path)
{
    static const char *const drivers[] = {"VRT", NULL};
    return GDALIdentifyDriverEx(path, GDAL_OF_RASTER, drivers, NULL) != NULL;
}

/* ---- sources ------------------------------------------------------------ */

static brant_status walk_file(brant_context *ctx, const char *top, const char *path, int depth,
                              char ***files);

/* GDAL opens a mosaic's sources by any driver it has, some of which fetch things: only
 * files of the kinds that are read may be named. One that is not there does no harm,
 * unless its name means something else than a file. */
static brant_status check_source(brant_context *ctx, const char *path, const char *name,
                                 const char *file)
{
    struct stat info;
    bool there = stat(file, &info) == 0;
    if (brant_is_address(name) || (!there && strchr(name, ':')))
        return brant_fail(ctx, BRANT_ERR_INPUT,
                          "%s: names a source that is no file on this machine: %.300s", path, name);
    if (there && !S_ISREG(info.st_mode)) /* a pipe would be waited for */
        return brant_fail(ctx, BRANT_ERR_INPUT, "%s: its source %.300s is no regular file", path,
                          file);
    if (there && !GDALIdentifyDriverEx(file, GDAL_OF_RASTER, brant_elevation_drivers, NULL))
        return brant_fail(ctx, BRANT_ERR_INPUT,
                          "%s: its source %.300s is not a raster of a kind that is read", path,
                          file);
    return BRANT_OK;
}

static brant_status walk(brant_context *ctx, const char *top, const char *path,
                         const CPLXMLNode *node, int depth, char ***files)
{
    brant_status status = BRANT_OK;
    for (; node && status == BRANT_OK; node = node->psNext) {
        if (brant_vrt_is(node, "SourceFilename") || brant_vrt_is(node, "SourceDataset")) {
            const char *name = CPLGetXMLValue((CPLXMLNode *)(uintptr_t)node, "", "");
            char *file = brant_vrt_file(path, node);
            status = check_source(ctx, path, name, file);
            if (status == BRANT_OK && files)
                *files = CSLAddString(*files, file);
            if (status == BRANT_OK)
                status = walk_file(ctx, top, file, depth + 1, files);
            CPLFree(file);
        }
        if (status == BRANT_OK)
            status = walk(ctx, top, path, node->psChild, depth, files);
    }
    return status;
}

/* A source that is a mosaic itself. */
static brant_status walk_file(brant_context *ctx, const char *top, const char *path, int depth,
                              char ***files)
{
    CPLXMLNode *tree, *root;
    if (depth > 0 && !brant_is_mosaic(path))
        return BRANT_OK;
    if (depth > BRANT_MOSAIC_DEEPEST)
        return brant_fail(ctx, BRANT_ERR_INPUT, "%s: mosaics nested deeper than %d: in a circle?",
                          top, BRANT_MOSAIC_DEEPEST);
    brant_status status = brant_vrt_parse(ctx, path, &tree, &root);
    if (status == BRANT_OK)
        status = walk(ctx, top, path, root, depth, files);
    CPLDestroyXMLNode(tree);
    return status;
}

brant_status brant_mosaic_sources(brant_context *ctx, const char *path, char ***files)
{
    return walk_file(ctx, path, path, 0, files);
}

/* ---- gaps of a mosaic that is read as a whole --------------------------- */

/* Give each band made of plain sources that declares no nodata value one, and a
 * type that holds it. False: there is none. A warped mosaic or one computed by a
 * function has its own way with gaps and stays as it is. */
static bool declare_gaps(CPLXMLNode *root)
{
    bool changed = false;
    if (brant_vrt_child(root, "subClass") || brant_vrt_has_mask(root))
        return false;
    for (CPLXMLNode *band = root->psChild; band; band = band->psNext) {
        if (!brant_vrt_is_band(band) || brant_vrt_child(band, "NoDataValue"))
            continue;
        const char *kind = brant_vrt_value(band, "subClass", "VRTSourcedRasterBand");
        const char *type = brant_vrt_value(band, "dataType", "Byte");
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
    CPLXMLNode *tree, *root;
    brant_status status = brant_vrt_parse(ctx, path, &tree, &root);
    if (status == BRANT_OK && declare_gaps(root)) {
        GDALClose(*dataset);
        *dataset = open_text(path, tree);
        if (!*dataset)
            status = brant_fail(ctx, BRANT_ERR_INPUT, "%s: cannot open: %s", path,
                                CPLGetLastErrorMsg());
    }
    CPLDestroyXMLNode(tree);
    return status;
}

/* ---- sources that hide voids -------------------------------------------- */

/* A GeoTIFF without nodata value and mask, with a block that was never written. */
static bool has_holes(GDALDatasetH dataset)
{
    char key[64];
    for (int b = 1; b <= GDALGetRasterCount(dataset); b++) {
        int has = 0, across, down;
        GDALRasterBandH band = GDALGetRasterBand(dataset, b);
        GDALGetRasterNoDataValue(band, &has);
        if (has || !(GDALGetMaskFlags(band) & GMF_ALL_VALID))
            continue;
        GDALGetBlockSize(band, &across, &down);
        int bx = (GDALGetRasterBandXSize(band) - 1) / across;
        int by = (GDALGetRasterBandYSize(band) - 1) / down;
        for (int y = 0; y <= by; y++)
            for (int x = 0; x <= bx; x++) {
                snprintf(key, sizeof key, "BLOCK_OFFSET_%d_%d", x, y);
                if (!GDALGetMetadataItem(band, key, "TIFF"))
                    return true;
            }
    }
    return false;
}

/* A mosaic in a mosaic hands its gaps on as 0, if it declares no nodata value. */
static bool hides_gaps(GDALDatasetH dataset)
{
    int has = 0;
    GDALRasterBandH band = GDALGetRasterBand(dataset, 1);
    GDALGetRasterNoDataValue(band, &has);
    return !has && (GDALGetMaskFlags(band) & GMF_ALL_VALID) != 0;
}

static bool hides_voids(const char *path)
{
    static const char *const drivers[] = {"GTiff", "VRT", NULL};
    GDALDatasetH dataset = GDALOpenEx(path, GDAL_OF_RASTER | GDAL_OF_READONLY, drivers, NULL, NULL);
    if (!dataset)
        return false; /* another format, or the read will say */
    bool mosaic = strcmp(GDALGetDriverShortName(GDALGetDatasetDriver(dataset)), "VRT") == 0;
    bool hides = GDALGetRasterCount(dataset) > 0 &&
                 (mosaic ? hides_gaps(dataset) : has_holes(dataset));
    GDALClose(dataset);
    return hides;
}

/* Each as a file of its own would be refused, too. */
static brant_status check_whole(brant_context *ctx, const char *path)
{
    GDALDatasetH dataset = GDALOpenEx(path, GDAL_OF_RASTER | GDAL_OF_READONLY,
                                      brant_elevation_drivers, NULL, NULL);
    brant_status status = dataset ? brant_gdal_check_whole(ctx, path, dataset) : BRANT_OK;
    if (dataset)
        GDALClose(dataset);
    return status;
}

/* GDAL reads a source without its mask, and says nothing, where the mask cannot be opened just
 * then; files that are not within a mosaic are asked for it each time they are opened. */
static brant_status check_mask(brant_context *ctx, const char *path, const char *file)
{
    const char *mask = CPLSPrintf("%s.msk", file);
    if (!brant_gdal_is_file(mask))
        return BRANT_OK;
    return brant_fail(ctx, BRANT_ERR_INPUT,
                      "%s: its source %.300s has its mask in a file beside it, which a warped, "
                      "scaled or computed mosaic may lose; warp it to a file first",
                      path, file);
}

/* The way of resampling of a source here or below whose result depends on the window that
 * is read (seen with GDAL 3.6.2: heights 10 m apart); NULL: none. */
static const char *unsteady(const CPLXMLNode *node)
{
    static const char *const ways[] = {"average", "gauss", "mode", "rms"};
    for (; node; node = node->psNext) {
        const char *way = brant_vrt_is(node, "SimpleSource") || brant_vrt_is(node, "ComplexSource")
                              ? brant_vrt_value(node, "resampling", "")
                              : "";
        for (size_t i = 0; i < sizeof ways / sizeof ways[0]; i++)
            if (strcasecmp(way, ways[i]) == 0)
                return ways[i];
        const char *within = unsteady(node->psChild);
        if (within)
            return within;
    }
    return NULL;
}

static brant_status check_resampling(brant_context *ctx, const char *path)
{
    CPLXMLNode *tree = NULL, *root = NULL;
    brant_status status = brant_vrt_parse(ctx, path, &tree, &root);
    const char *way = status == BRANT_OK ? unsteady(root) : NULL;
    if (way)
        status = brant_fail(ctx, BRANT_ERR_INPUT,
                            "%s: resamples its sources by '%s', which gives other heights in other "
                            "windows; warp them to a file first",
                            path, way);
    CPLDestroyXMLNode(tree);
    return status;
}

brant_status brant_mosaic_check_sources(brant_context *ctx, const char *path)
{
    char **files = NULL;
    brant_status status = brant_mosaic_sources(ctx, path, &files);
    if (status == BRANT_OK)
        status = check_resampling(ctx, path);
    for (int i = 0; status == BRANT_OK && files && files[i]; i++) {
        if (brant_is_mosaic(files[i]))
            status = check_resampling(ctx, files[i]);
        if (status == BRANT_OK)
            status = check_whole(ctx, files[i]);
        if (status == BRANT_OK)
            status = check_mask(ctx, path, files[i]);
        if (status == BRANT_OK && hides_voids(files[i]))
            status = brant_fail(ctx, BRANT_ERR_INPUT,
                                "%s: its source %.300s has gaps and no nodata value: a warped, "
                                "scaled or computed mosaic reads them as 0",
                                path, files[i]);
    }
    CSLDestroy(files);
    return status;
}
