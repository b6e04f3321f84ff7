/* From what the user names to the files that make the model up. */
#include "gather.h"
#include "mosaic.h"

#include <cpl_conv.h>
#include <cpl_string.h>
#include <stdlib.h>
#include <string.h>
#include <sys/stat.h>

static bool is_mosaic(GDALDatasetH dataset)
{
    return strcmp(GDALGetDriverShortName(GDALGetDatasetDriver(dataset)), "VRT") == 0;
}

static brant_status one_tile(brant_context *ctx, const char *path, bool remote, int band,
                             brant_gathered *g)
{
    brant_tile tile = {.path = (char *)(uintptr_t)path,
                       .remote = remote,
                       .band = band,
                       .on = {0, 0, g->tiles.cols, g->tiles.rows}};
    return brant_tiles_add(ctx, &g->tiles, &tile);
}

/* A mosaic is taken apart, so that each tile's own voids count. */
static brant_status mosaic(brant_context *ctx, const char *path, int band, brant_gathered *g)
{
    brant_gdal_call call;
    bool apart = false;
    brant_gdal_begin(&call);
    brant_status status = brant_mosaic_take_apart(ctx, path, band, &g->tiles, &apart);
    if (status == BRANT_OK && !apart)
        status = brant_mosaic_check_sources(ctx, path);
    brant_gdal_end(&call);
    g->tiles.cols = GDALGetRasterXSize(g->lead);
    g->tiles.rows = GDALGetRasterYSize(g->lead);
    if (status != BRANT_OK)
        return status;
    if (!apart)
        return one_tile(ctx, path, false, band, g);
    return brant_gdal_open(ctx, g->tiles.tile[0].path, false, &g->tile);
}

static brant_status file(brant_context *ctx, const char *path, int band, brant_gathered *g)
{
    bool remote = brant_is_remote(path);
    char *name = remote ? brant_remote_name(ctx, path) : brant_strdup(ctx, path);
    brant_status status = name ? brant_gdal_open(ctx, name, remote, &g->lead) : BRANT_ERR_MEMORY;
    if (status == BRANT_OK) {
        g->tiles.cols = GDALGetRasterXSize(g->lead);
        g->tiles.rows = GDALGetRasterYSize(g->lead);
        g->placed = GDALGetGeoTransform(g->lead, g->transform) == CE_None;
        status = is_mosaic(g->lead) && band <= GDALGetRasterCount(g->lead)
                     ? mosaic(ctx, path, band, g)
                     : one_tile(ctx, name, remote, band, g);
    }
    free(name);
    return status;
}

static bool is_folder(const char *path)
{
    struct stat info;
    return stat(path, &info) == 0 && S_ISDIR(info.st_mode);
}

brant_status brant_gather(brant_context *ctx, const char *path, int band, brant_gathered *g)
{
    char **paths = NULL;
    brant_status status;
    memset(g, 0, sizeof *g);
    bool folder = !brant_is_remote(path) && is_folder(path);
    if (!folder && !brant_is_list(path))
        return file(ctx, path, band, g);
    status = folder ? brant_folder_tiles(ctx, path, &paths) : brant_list_tiles(ctx, path, &paths);
    if (status == BRANT_OK)
        status = brant_join(ctx, path, paths, band, g);
    CSLDestroy(paths);
    return status;
}

void brant_gathered_clear(brant_gathered *g)
{
    brant_tiles_clear(&g->tiles);
    brant_gdal_close(g->lead);
    brant_gdal_close(g->tile);
    memset(g, 0, sizeof *g);
}

/* ---- the files behind a name -------------------------------------------- */

static char **mosaic_files(const char *path)
{
    char **files = NULL;
    brant_context quiet;
    brant_context_init(&quiet);
    brant_mosaic_sources(&quiet, path, &files); /* what it found until it stopped */
    brant_context_clear(&quiet);
    return files;
}

static char **own_files(const char *path)
{
    GDALDatasetH dataset = GDALOpenEx(path, GDAL_OF_RASTER | GDAL_OF_READONLY,
                                      brant_elevation_drivers, NULL, NULL);
    char **files = dataset ? GDALGetFileList(dataset) : NULL;
    if (dataset)
        GDALClose(dataset);
    return files;
}

static char **tile_files(const char *path)
{
    char **paths = NULL;
    brant_context quiet;
    brant_context_init(&quiet);
    if (is_folder(path))
        brant_folder_tiles(&quiet, path, &paths);
    else
        brant_list_tiles(&quiet, path, &paths);
    brant_context_clear(&quiet);
    return paths;
}

char **brant_gdal_files(const char *path)
{
    brant_gdal_call call;
    struct stat info;
    if (brant_is_address(path) || stat(path, &info) != 0)
        return NULL;
    if (S_ISDIR(info.st_mode) || brant_is_list(path))
        return tile_files(path);
    if (!S_ISREG(info.st_mode))
        return NULL;
    brant_gdal_begin(&call);
    char **files = brant_is_mosaic(path) ? mosaic_files(path) : own_files(path);
    brant_gdal_end(&call);
    return files;
}
