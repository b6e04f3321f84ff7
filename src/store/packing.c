/* Overviews, cloud optimized files, and the check that all is there. */
#include "packing.h"

#include "gdal_call.h"

#include <cpl_string.h>
#include <stdio.h>
#include <string.h>
#include <sys/stat.h>
#include <unistd.h>

static brant_status failed(brant_context *ctx, const brant_packed *file,
                           const brant_gdal_call *call)
{
    return brant_fail(ctx, BRANT_ERR_IO, "%s: cannot write: %s", file->name,
                      brant_gdal_text(call, "unknown failure"));
}

/* ---- options ------------------------------------------------------------ */

static char **set_number(char **options, const char *key, int value)
{
    return CSLSetNameValue(options, key, CPLSPrintf("%d", value));
}

/* Predictor 3 is for floating point, 2 for whole numbers. The lowest level: level 6 takes
 * twice the time for 3 % less. Blocks are compressed on `threads` threads and leave in the
 * order in which they were given. */
static char **set_compression(char **options, const brant_packed *file, const char *level_key,
                              int threads)
{
    bool zstd = file->packing.compress == BRANT_COMPRESS_ZSTD;
    /* GDAL 3.6 prints errors from its own threads, where ours do not catch them, when it
     * reads several bands again for overviews, though all is well */
    if (file->packing.cog && file->bands > 1)
        threads = 1;
    if (file->packing.compress == BRANT_COMPRESS_NONE)
        return CSLSetNameValue(options, "COMPRESS", "NONE");
    /* GDAL waits for ever for a thread of its own that did not start; as many of ours run then */
    if (threads > 1 && !brant_spare_threads(2 * threads))
        threads = 1;
    options = CSLSetNameValue(options, "COMPRESS", zstd ? "ZSTD" : "DEFLATE");
    options = set_number(options, level_key, 1);
    options = set_number(options, "PREDICTOR", file->floating ? 3 : 2);
    return set_number(options, "NUM_THREADS", threads);
}

char **brant_packing_options(const brant_packed *file, int threads)
{
    bool zstd = file->packing.compress == BRANT_COMPRESS_ZSTD;
    char **options = CSLSetNameValue(NULL, "TILED", "YES");
    options = set_number(options, "BLOCKXSIZE", BRANT_BLOCK);
    options = set_number(options, "BLOCKYSIZE", BRANT_BLOCK);
    options = CSLSetNameValue(options, "INTERLEAVE", "BAND");
    options = CSLSetNameValue(options, "BIGTIFF", "IF_SAFER");
    return set_compression(options, file, zstd ? "ZSTD_LEVEL" : "ZLEVEL", threads);
}

static const char *resampling_name(brant_resampling resampling)
{
    return resampling == BRANT_RESAMPLE_AVERAGE ? "AVERAGE" : "NEAREST";
}

char **brant_packing_cog_options(const brant_packed *file, int threads)
{
    char **options = set_number(NULL, "BLOCKSIZE", BRANT_BLOCK);
    options = CSLSetNameValue(options, "BIGTIFF", "IF_SAFER");
    options = CSLSetNameValue(options, "OVERVIEWS", "FORCE_USE_EXISTING");
    return set_compression(options, file, "LEVEL", threads);
}

/* ---- overviews ---------------------------------------------------------- */

/* GDAL asks between pieces whether to go on. */
static int CPL_STDCALL go_on(double fraction, const char *text, void *ctx)
{
    (void)fraction;
    (void)text;
    return brant_check_stop(ctx) == BRANT_OK;
}

#define LEVELS 16

brant_status brant_packing_overviews(brant_context *ctx, const brant_packed *file,
                                     GDALDatasetH dataset)
{
    brant_gdal_call call;
    int level[LEVELS], levels = 0;
    brant_status status = BRANT_OK;
    int larger = file->cols > file->rows ? file->cols : file->rows;
    for (int factor = 2; levels < LEVELS && (larger - 1) / (factor / 2) >= BRANT_BLOCK; factor *= 2)
        level[levels++] = factor;
    if (levels == 0)
        return BRANT_OK;
    brant_gdal_begin(&call);
    CPLSetThreadLocalConfigOption("GDAL_TIFF_OVR_BLOCKSIZE", CPLSPrintf("%d", BRANT_BLOCK));
    if (GDALBuildOverviews(dataset, resampling_name(file->resampling), levels, level, 0, NULL,
                           go_on, ctx) != CE_None || call.failed) {
        status = brant_check_stop(ctx);
        if (status == BRANT_OK)
            status = failed(ctx, file, &call);
    }
    brant_gdal_end(&call);
    return status;
}

/* ---- cloud optimized ---------------------------------------------------- */

void brant_packing_remove_flat(const char *flat)
{
    brant_text side_car = {0};
    brant_text_add(&side_car, "%s.aux.xml", flat);
    unlink(flat);
    if (!side_car.failed)
        unlink(side_car.data);
    brant_text_clear(&side_car);
}

brant_status brant_packing_cog(brant_context *ctx, const brant_packed *file, const char *flat)
{
    static const char *const drivers[] = {"GTiff", NULL};
    brant_gdal_call call;
    GDALDatasetH made = NULL;
    brant_status status = brant_check_stop(ctx);
    if (status != BRANT_OK)
        return status;
    brant_gdal_begin(&call);
    char **options = brant_packing_cog_options(file, ctx->threads);
    GDALDriverH driver = GDALGetDriverByName("COG");
    GDALDatasetH source = GDALOpenEx(flat, GDAL_OF_RASTER | GDAL_OF_READONLY, drivers, NULL, NULL);
    if (driver && source)
        made = GDALCreateCopy(driver, file->path, source, FALSE, options, go_on, ctx);
    bool ok = made != NULL;
    if (made)
        GDALClose(made);
    if (source)
        GDALClose(source);
    CSLDestroy(options);
    if (!ok || call.failed) {
        status = brant_check_stop(ctx);
        if (status == BRANT_OK)
            status = failed(ctx, file, &call);
    }
    brant_gdal_end(&call);
    brant_packing_remove_flat(flat);
    return status;
}

/* ---- whole? ------------------------------------------------------------- */

/* Does the file hold the block? The TIFF directory gives its place and size. */
static bool holds_block(GDALRasterBandH band, int bx, int by, double file_size)
{
    char key[64];
    double offset = 0, size = 0;
    snprintf(key, sizeof key, "BLOCK_OFFSET_%d_%d", bx, by);
    const char *text = GDALGetMetadataItem(band, key, "TIFF");
    if (!text || !brant_parse_number(text, &offset))
        return false;
    snprintf(key, sizeof key, "BLOCK_SIZE_%d_%d", bx, by);
    text = GDALGetMetadataItem(band, key, "TIFF");
    return text && brant_parse_number(text, &size) && offset > 0 && size > 0 &&
           offset + size <= file_size;
}

static bool holds_band(GDALRasterBandH band, double file_size)
{
    int wide = 0, high = 0;
    GDALGetBlockSize(band, &wide, &high);
    if (wide < 1 || high < 1)
        return false;
    for (int by = 0; by <= (GDALGetRasterBandYSize(band) - 1) / high; by++)
        for (int bx = 0; bx <= (GDALGetRasterBandXSize(band) - 1) / wide; bx++)
            if (!holds_block(band, bx, by, file_size))
                return false;
    return true;
}

/* Writes to a full disk have been seen to succeed until here. Once a read has failed, libtiff
 * ends the process if it is asked for more of that directory. */
static bool is_whole(const brant_packed *file, GDALDatasetH dataset, const brant_gdal_call *call)
{
    struct stat info;
    if (stat(file->path, &info) != 0 || GDALGetRasterXSize(dataset) != file->cols ||
        GDALGetRasterYSize(dataset) != file->rows || GDALGetRasterCount(dataset) != file->bands)
        return false;
    bool whole = true;
    for (int b = 1; whole && b <= file->bands; b++) {
        GDALRasterBandH band = GDALGetRasterBand(dataset, b);
        int overviews = GDALGetOverviewCount(band);
        whole = !call->failed && holds_band(band, (double)info.st_size);
        for (int i = 0; whole && i < overviews; i++)
            whole = !call->failed && holds_band(GDALGetOverview(band, i), (double)info.st_size);
    }
    return whole;
}

brant_status brant_packing_names(brant_context *ctx, GDALDatasetH dataset, brant_text *names)
{
    for (int b = 1; b <= GDALGetRasterCount(dataset); b++) {
        char **name = GDALGetRasterCategoryNames(GDALGetRasterBand(dataset, b));
        for (int i = 0; name && name[i]; i++)
            brant_text_add(names, "%d %s\n", b, name[i]);
    }
    return brant_text_status(ctx, names);
}

static bool has_names(brant_context *ctx, GDALDatasetH dataset, const brant_text *names)
{
    brant_text found = {0};
    bool same = brant_packing_names(ctx, dataset, &found) == BRANT_OK &&
                strcmp(found.data ? found.data : "", names->data ? names->data : "") == 0;
    brant_text_clear(&found);
    return same;
}

brant_status brant_packing_check(brant_context *ctx, const brant_packed *file,
                                 const brant_text *names)
{
    static const char *const drivers[] = {"GTiff", NULL};
    brant_gdal_call call;
    brant_status status = BRANT_OK;
    brant_gdal_begin(&call);
    GDALDatasetH dataset = GDALOpenEx(file->path, GDAL_OF_RASTER | GDAL_OF_READONLY, drivers, NULL,
                                      NULL);
    if (!dataset || !is_whole(file, dataset, &call) || !has_names(ctx, dataset, names))
        status = brant_fail(ctx, BRANT_ERR_IO, "%s: cannot write: the file did not come out whole",
                            file->name);
    if (dataset)
        GDALClose(dataset);
    brant_gdal_end(&call);
    return status;
}
