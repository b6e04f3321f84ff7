/* Calls into GDAL: quiet, offline, by named drivers. */
#include "mosaic.h"

#include <cpl_conv.h>
#include <cpl_error.h>
#include <cpl_string.h>
#include <errno.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <sys/stat.h>
#include <time.h>

static const char *const elevation_drivers[] = {"GTiff",   "SRTMHGT", "DTED", "USGSDEM",
                                                "AAIGrid", "ENVI",    "VRT",  NULL};

#define FORMATS "GeoTIFF, HGT, DTED, USGS DEM, ASCII grid, ENVI, VRT"

static pthread_once_t registered = PTHREAD_ONCE_INIT;

static void register_drivers(void)
{
    GDALAllRegister();
}

static void CPL_STDCALL keep_failure(CPLErr level, CPLErrorNum number, const char *text)
{
    brant_gdal_call *call = CPLGetErrorHandlerUserData();
    (void)number;
    if (level < CE_Failure || call->failed)
        return;
    call->failed = true;
    snprintf(call->text, sizeof call->text, "%s", text ? text : "");
}

/* The time that files carry: SOURCE_DATE_EPOCH's, else the epoch itself, never
 * the clock's, so that the same input gives the same bytes. */
static void file_time(char text[static 32])
{
    long long seconds = 0;
    struct tm when;
    const char *given = getenv("SOURCE_DATE_EPOCH");
    if (!given || !brant_parse_integer(given, 0, 253402300799LL, &seconds)) /* year 9999 */
        seconds = 0;
    time_t at = (time_t)seconds;
    if (!gmtime_r(&at, &when) || strftime(text, 32, "%Y-%m-%dT%H:%M:%S.000Z", &when) == 0)
        memcpy(text, "1970-01-01T00:00:00.000Z", 25);
}

void brant_gdal_begin(brant_gdal_call *call)
{
    char when[32];
    memset(call, 0, sizeof *call);
    pthread_once(&registered, register_drivers);
    file_time(when);
    call->options = CPLGetThreadLocalConfigOptions();
    /* A mosaic's tiles are opened for each handle, not shared between threads. */
    CPLSetThreadLocalConfigOption("VRT_SHARED_SOURCE", "NO");
    /* Nothing comes over a network, not from within a mosaic either: no file has
     * this name. */
    CPLSetThreadLocalConfigOption("CPL_VSIL_CURL_ALLOWED_FILENAME", "/none");
    CPLSetThreadLocalConfigOption("GDAL_VRT_ENABLE_PYTHON", "NO");
    CPLSetThreadLocalConfigOption("OGR_CURRENT_DATE", when);
    /* The stage syncs what it commits; SQLite need not, step by step. */
    CPLSetThreadLocalConfigOption("OGR_SQLITE_SYNCHRONOUS", "OFF");
    CPLPushErrorHandlerEx(keep_failure, call);
    CPLErrorReset();
}

void brant_gdal_end(brant_gdal_call *call)
{
    CPLPopErrorHandler();
    CPLErrorReset();
    CPLSetThreadLocalConfigOptions((const char *const *)call->options);
    CSLDestroy(call->options);
    call->options = NULL;
}

const char *brant_gdal_text(const brant_gdal_call *call, const char *otherwise)
{
    return call->failed && call->text[0] ? call->text : otherwise;
}

/* ---- opening ------------------------------------------------------------ */

brant_status brant_gdal_check_path(brant_context *ctx, const char *path)
{
    struct stat info;
    if (brant_is_address(path))
        return brant_fail(ctx, BRANT_ERR_INPUT,
                          "%s: only files on this machine are read, no addresses", path);
    if (stat(path, &info) != 0)
        return brant_fail(ctx, BRANT_ERR_INPUT, "%s: cannot open: %s", path, strerror(errno));
    if (S_ISDIR(info.st_mode))
        return brant_fail(ctx, BRANT_ERR_INPUT,
                          "%s: is a folder, not an elevation raster (join tiles in a VRT)", path);
    if (!S_ISREG(info.st_mode))
        return brant_fail(ctx, BRANT_ERR_INPUT, "%s: is no regular file", path);
    return BRANT_OK;
}

static bool is_mosaic(GDALDatasetH dataset)
{
    return strcmp(GDALGetDriverShortName(GDALGetDatasetDriver(dataset)), "VRT") == 0;
}

brant_status brant_gdal_open(brant_context *ctx, const char *path, GDALDatasetH *dataset)
{
    brant_gdal_call call;
    *dataset = NULL;
    brant_status status = brant_gdal_check_path(ctx, path);
    if (status != BRANT_OK)
        return status;
    brant_gdal_begin(&call);
    *dataset = GDALOpenEx(path, GDAL_OF_RASTER | GDAL_OF_READONLY | GDAL_OF_VERBOSE_ERROR,
                          elevation_drivers, NULL, NULL);
    if (*dataset) {
        if (is_mosaic(*dataset))
            status = brant_mosaic_prepare(ctx, path, dataset);
    } else if (strstr(brant_gdal_text(&call, ""), "not recognized as a supported file format"))
        status = brant_fail(ctx, BRANT_ERR_INPUT, "%s: not a raster of a kind that is read (%s)",
                            path, FORMATS);
    else
        status = brant_fail(ctx, BRANT_ERR_INPUT, "%s: cannot open: %s", path,
                            brant_gdal_text(&call, "not a raster"));
    if (status != BRANT_OK && *dataset) {
        GDALClose(*dataset);
        *dataset = NULL;
    }
    brant_gdal_end(&call);
    return status;
}

void brant_gdal_close(GDALDatasetH dataset)
{
    brant_gdal_call call;
    if (!dataset)
        return;
    brant_gdal_begin(&call);
    GDALClose(dataset);
    brant_gdal_end(&call);
}

OGRSpatialReferenceH brant_gdal_crs(const char *text)
{
    OGRSpatialReferenceH crs = OSRNewSpatialReference(NULL);
    if (crs && OSRSetFromUserInput(crs, text) != OGRERR_NONE) {
        OSRDestroySpatialReference(crs);
        return NULL;
    }
    if (crs)
        OSRSetAxisMappingStrategy(crs, OAMS_TRADITIONAL_GIS_ORDER);
    return crs;
}

bool brant_gdal_same_crs(OGRSpatialReferenceH theirs, const char *wkt)
{
    OGRSpatialReferenceH ours = brant_gdal_crs(wkt);
    OGRSpatialReferenceH flat = theirs ? OSRClone(theirs) : NULL;
    bool same = false;
    if (ours && flat) {
        OSRSetAxisMappingStrategy(flat, OAMS_TRADITIONAL_GIS_ORDER);
        if (OSRIsCompound(flat))
            OSRStripVertical(flat);
        OSRDemoteTo2D(flat, NULL);
        same = OSRIsSame(ours, flat);
    }
    OSRDestroySpatialReference(ours);
    OSRDestroySpatialReference(flat);
    return same;
}

bool brant_gdal_is_file(const char *path)
{
    struct stat info;
    return !brant_is_address(path) && stat(path, &info) == 0 && S_ISREG(info.st_mode);
}

char **brant_gdal_files(const char *path)
{
    brant_gdal_call call;
    if (!brant_gdal_is_file(path))
        return NULL;
    brant_gdal_begin(&call);
    char **files = NULL;
    GDALDatasetH dataset = GDALOpenEx(path, GDAL_OF_RASTER | GDAL_OF_READONLY, elevation_drivers,
                                      NULL, NULL);
    if (dataset) {
        files = GDALGetFileList(dataset);
        GDALClose(dataset);
    }
    brant_gdal_end(&call);
    return files;
}
