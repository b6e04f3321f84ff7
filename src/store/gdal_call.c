/* Calls into GDAL: quiet, offline, by named drivers. */
#include "mosaic.h"

#include <cpl_conv.h>
#include <cpl_error.h>
#include <cpl_string.h>
#include <errno.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <strings.h>
#include <sys/stat.h>
#include <time.h>

const char *const brant_elevation_drivers[] = {"GTiff",   "SRTMHGT", "DTED", "USGSDEM",
                                               "AAIGrid", "ENVI",    "VRT",  NULL};

#define FORMATS "GeoTIFF, HGT, DTED, USGS DEM, ASCII grid, ENVI, VRT"

static pthread_once_t registered = PTHREAD_ONCE_INIT;

static void register_drivers(void)
{
    GDALAllRegister();
}

void brant_gdal_register(void)
{
    pthread_once(&registered, register_drivers);
}

/* A tag that the disk did not give is only a warning of the TIFF library's ("IO error during
 * reading of ...; tag ignored"): a nodata value could be lost so. */
static bool is_failure(CPLErr level, const char *text)
{
    return level >= CE_Failure || (level == CE_Warning && text && strstr(text, "IO error"));
}

static void CPL_STDCALL keep_failure(CPLErr level, CPLErrorNum number, const char *text)
{
    brant_gdal_call *call = CPLGetErrorHandlerUserData();
    (void)number;
    if (!is_failure(level, text) || call->failed)
        return;
    call->failed = true;
    snprintf(call->text, sizeof call->text, "%s", text ? text : "");
}

void brant_file_time(char text[BRANT_FILE_TIME])
{
    long long seconds = 0;
    struct tm when;
    const char *given = getenv("SOURCE_DATE_EPOCH");
    if (!given || !brant_parse_integer(given, 0, 253402300799LL, &seconds)) /* year 9999 */
        seconds = 0;
    time_t at = (time_t)seconds;
    if (!gmtime_r(&at, &when) || strftime(text, BRANT_FILE_TIME, "%Y-%m-%dT%H:%M:%S.000Z", &when) == 0)
        memcpy(text, "1970-01-01T00:00:00.000Z", 25);
}

void brant_gdal_begin(brant_gdal_call *call)
{
    char when[BRANT_FILE_TIME];
    memset(call, 0, sizeof *call);
    brant_gdal_register();
    brant_file_time(when);
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

brant_status brant_gdal_all_read(brant_context *ctx, const char *path,
                                 const brant_gdal_call *call)
{
    return call->failed ? brant_fail(ctx, BRANT_ERR_INPUT, "%s: cannot be read whole: %s", path,
                                     call->text)
                        : BRANT_OK;
}

/* ---- addresses ---------------------------------------------------------- */

bool brant_is_address(const char *name)
{
    return strncasecmp(name, "/vsi", 4) == 0 || strstr(name, "://") || name[0] == '<';
}

static const char *without_prefix(const char *name)
{
    return strncmp(name, "/vsicurl/", 9) == 0 ? name + 9 : name;
}

bool brant_is_remote(const char *name)
{
    const char *address = without_prefix(name);
    return strncmp(address, "http://", 7) == 0 || strncmp(address, "https://", 8) == 0;
}

char *brant_remote_name(brant_context *ctx, const char *name)
{
    const char *address = without_prefix(name);
    size_t size = strlen(address) + 10;
    char *text = brant_alloc(ctx, size, 1);
    if (text)
        snprintf(text, size, "/vsicurl/%s", address);
    return text;
}

static void set_unless_given(const char *key, const char *value)
{
    if (!CPLGetConfigOption(key, NULL))
        CPLSetThreadLocalConfigOption(key, value);
}

void brant_gdal_allow(const char *remote_name)
{
    CPLSetThreadLocalConfigOption("CPL_VSIL_CURL_ALLOWED_FILENAME", remote_name);
    /* no looking around for side-car files, no waiting for ever */
    CPLSetThreadLocalConfigOption("GDAL_DISABLE_READDIR_ON_OPEN", "EMPTY_DIR");
    set_unless_given("GDAL_HTTP_CONNECTTIMEOUT", "20");
    set_unless_given("GDAL_HTTP_TIMEOUT", "60");
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
        return brant_fail(ctx, BRANT_ERR_INPUT, "%s: is a folder, not a raster", path);
    if (!S_ISREG(info.st_mode))
        return brant_fail(ctx, BRANT_ERR_INPUT, "%s: is no regular file", path);
    return BRANT_OK;
}

/* From the network, GeoTIFF only. */
static GDALDatasetH open_any(const char *path, bool remote)
{
    static const char *const remote_drivers[] = {"GTiff", NULL};
    if (remote)
        brant_gdal_allow(path);
    return GDALOpenEx(path, GDAL_OF_RASTER | GDAL_OF_READONLY | GDAL_OF_VERBOSE_ERROR,
                      remote ? remote_drivers : brant_elevation_drivers, NULL, NULL);
}

static brant_status open_checked(brant_context *ctx, const char *path, bool remote,
                                 const brant_gdal_call *call, GDALDatasetH *dataset)
{
    bool mosaic = !remote && brant_is_mosaic(path);
    /* before GDAL opens what it names */
    brant_status status = mosaic ? brant_mosaic_sources(ctx, path, NULL) : BRANT_OK;
    if (status != BRANT_OK)
        return status;
    *dataset = open_any(path, remote);
    if (*dataset && mosaic)
        status = brant_mosaic_prepare(ctx, path, dataset);
    if (*dataset && status == BRANT_OK && !remote)
        status = brant_gdal_check_whole(ctx, path, *dataset);
    if (*dataset)
        return status != BRANT_OK ? status : brant_gdal_all_read(ctx, path, call);
    if (strstr(brant_gdal_text(call, ""), "not recognized as a supported file format"))
        return brant_fail(ctx, BRANT_ERR_INPUT, "%s: not a raster of a kind that is read (%s)",
                          path, remote ? "from a network: GeoTIFF" : FORMATS);
    return brant_fail(ctx, BRANT_ERR_INPUT, "%s: cannot open: %s", path,
                      brant_gdal_text(call, "not a raster"));
}

brant_status brant_gdal_open(brant_context *ctx, const char *path, bool remote,
                             GDALDatasetH *dataset)
{
    brant_gdal_call call;
    *dataset = NULL;
    brant_status status = remote ? BRANT_OK : brant_gdal_check_path(ctx, path);
    if (status != BRANT_OK)
        return status;
    brant_gdal_begin(&call);
    status = open_checked(ctx, path, remote, &call, dataset);
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
