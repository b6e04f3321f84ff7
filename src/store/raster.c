/* Rasters out: tiled GeoTIFF, block by block, every step checked. */
#include "gdal_call.h"
#include "stage_folder.h"

#include <cpl_string.h>
#include <fcntl.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <sys/stat.h>
#include <unistd.h>

struct brant_raster {
    char *path;
    char *name;         /* in messages */
    GDALDatasetH dataset;
    int cols, rows, bands;
    int across, down;   /* blocks */
    size_t cell_size;
    void *edge;         /* a block of which the part on the raster is filled */
    int file;           /* the same, for the kernel's ear only; -1 */
    int unsent;         /* blocks written since the disk was last set to work */
};

static const GDALDataType gdal_types[] = {
    [BRANT_CELL_FLOAT32] = GDT_Float32,
    [BRANT_CELL_BYTE] = GDT_Byte,
    [BRANT_CELL_UINT16] = GDT_UInt16,
    [BRANT_CELL_UINT32] = GDT_UInt32,
    [BRANT_CELL_FLOAT64] = GDT_Float64,
};

static brant_status failed(brant_context *ctx, const char *name, const brant_gdal_call *call)
{
    return brant_fail(ctx, BRANT_ERR_IO, "%s: cannot write: %s", name,
                      brant_gdal_text(call, "unknown failure"));
}

/* ---- creating ----------------------------------------------------------- */

brant_compress brant_compress_default(void)
{
    brant_gdal_register();
    GDALDriverH driver = GDALGetDriverByName("GTiff");
    const char *options = driver ? GDALGetMetadataItem(driver, GDAL_DMD_CREATIONOPTIONLIST, NULL)
                                 : NULL;
    return options && strstr(options, "<Value>ZSTD</Value>") ? BRANT_COMPRESS_ZSTD
                                                             : BRANT_COMPRESS_DEFLATE;
}

/* For CSLDestroy. Predictor 3 is for floating point, 2 for whole numbers. The lowest level:
 * level 6 takes twice the time for 3 % less. Blocks are compressed on `threads` threads and
 * leave in the order in which they were given. */
static char **creation_options(const brant_raster_spec *spec, int threads)
{
    char **options = NULL;
    options = CSLSetNameValue(options, "TILED", "YES");
    options = CSLSetNameValue(options, "BLOCKXSIZE", CPLSPrintf("%d", BRANT_BLOCK));
    options = CSLSetNameValue(options, "BLOCKYSIZE", CPLSPrintf("%d", BRANT_BLOCK));
    options = CSLSetNameValue(options, "INTERLEAVE", "BAND");
    options = CSLSetNameValue(options, "BIGTIFF", "IF_SAFER");
    if (spec->compress == BRANT_COMPRESS_NONE)
        return options;
    bool zstd = spec->compress == BRANT_COMPRESS_ZSTD;
    options = CSLSetNameValue(options, "COMPRESS", zstd ? "ZSTD" : "DEFLATE");
    if (!zstd)
        options = CSLSetNameValue(options, "ZLEVEL", "1");
    else
        options = CSLSetNameValue(options, "ZSTD_LEVEL", "1");
    options = CSLSetNameValue(options, "NUM_THREADS", CPLSPrintf("%d", threads));
    bool floating = spec->type == BRANT_CELL_FLOAT32 || spec->type == BRANT_CELL_FLOAT64;
    return CSLSetNameValue(options, "PREDICTOR", floating ? "3" : "2");
}

static void set_place(GDALDatasetH dataset, const brant_grid *grid, const brant_window *window)
{
    double t[6];
    memcpy(t, grid->transform, sizeof t);
    t[0] += window->col * t[1] + window->row * t[2];
    t[3] += window->col * t[4] + window->row * t[5];
    GDALSetGeoTransform(dataset, t);
    OGRSpatialReferenceH crs = brant_gdal_crs(grid->crs);
    if (crs) {
        GDALSetSpatialRef(dataset, crs);
        OSRDestroySpatialReference(crs);
    } else
        CPLError(CE_Failure, CPLE_AppDefined, "coordinate reference system not understood");
}

static void set_colours(GDALRasterBandH band, const brant_band_spec *spec)
{
    GDALColorTableH table = GDALCreateColorTable(GPI_RGB);
    for (int i = 0; spec->categories[i]; i++) {
        const uint8_t *c = spec->colours[i];
        GDALColorEntry entry = {c[0], c[1], c[2], c[3]};
        GDALSetColorEntry(table, i, &entry);
    }
    GDALSetRasterColorTable(band, table);
    GDALDestroyColorTable(table);
}

static void set_band(GDALRasterBandH band, const brant_band_spec *spec, bool byte)
{
    if (spec->description)
        GDALSetDescription(band, spec->description);
    if (spec->unit && spec->unit[0])
        GDALSetRasterUnitType(band, spec->unit);
    if (spec->has_nodata)
        GDALSetRasterNoDataValue(band, spec->nodata);
    if (!spec->categories)
        return;
    if (spec->colours && byte)
        set_colours(band, spec);
    /* kept in a side-car: GeoTIFF has no place for names */
    GDALSetRasterCategoryNames(band, (char **)(uintptr_t)spec->categories);
}

static void describe(GDALDatasetH dataset, const brant_grid *grid, const brant_window *window,
                     const brant_raster_spec *spec)
{
    set_place(dataset, grid, window);
    if (spec->title)
        GDALSetMetadataItem(dataset, "TIFFTAG_IMAGEDESCRIPTION", spec->title, NULL);
    for (int i = 0; spec->metadata && spec->metadata[i]; i++) {
        char *key = NULL;
        const char *value = CPLParseNameValue(spec->metadata[i], &key);
        if (key && value)
            GDALSetMetadataItem(dataset, key, value, NULL);
        CPLFree(key);
    }
    for (int b = 0; b < spec->bands; b++)
        set_band(GDALGetRasterBand(dataset, b + 1), &spec->band[b],
                 spec->type == BRANT_CELL_BYTE);
}

static brant_status create(brant_context *ctx, const brant_grid *grid, const brant_window *window,
                           const brant_raster_spec *spec, brant_raster *raster)
{
    brant_gdal_call call;
    brant_status status = BRANT_OK;
    brant_gdal_begin(&call);
    char **options = creation_options(spec, ctx->threads);
    GDALDriverH driver = GDALGetDriverByName("GTiff");
    if (driver)
        raster->dataset = GDALCreate(driver, raster->path, raster->cols, raster->rows,
                                     raster->bands, gdal_types[spec->type], options);
    CSLDestroy(options);
    if (raster->dataset)
        describe(raster->dataset, grid, window, spec);
    if (!raster->dataset || call.failed)
        status = failed(ctx, raster->name, &call);
    brant_gdal_end(&call);
    return status;
}

brant_status brant_raster_create(brant_context *ctx, const char *path, const brant_grid *grid,
                                 const brant_window *window, const brant_raster_spec *spec,
                                 brant_raster **out)
{
    *out = NULL;
    if (window->cols < 1 || window->rows < 1 || spec->bands < 1)
        return brant_fail(ctx, BRANT_ERR_INTERNAL, "%s: a raster of %d x %d cells, %d bands", path,
                          window->cols, window->rows, spec->bands);
    brant_raster *raster = brant_alloc(ctx, 1, sizeof *raster);
    if (!raster)
        return BRANT_ERR_MEMORY;
    raster->file = -1;
    raster->cols = window->cols;
    raster->rows = window->rows;
    raster->bands = spec->bands;
    raster->across = (window->cols - 1) / BRANT_BLOCK + 1;
    raster->down = (window->rows - 1) / BRANT_BLOCK + 1;
    raster->cell_size = (size_t)GDALGetDataTypeSizeBytes(gdal_types[spec->type]);
    raster->path = brant_strdup(ctx, path);
    raster->name = brant_stage_shown(ctx, path);
    raster->edge = brant_alloc(ctx, (size_t)BRANT_BLOCK * BRANT_BLOCK, raster->cell_size);
    bool enough = raster->path && raster->name && raster->edge;
    brant_status status = enough ? BRANT_OK : BRANT_ERR_MEMORY;
    if (status == BRANT_OK)
        status = create(ctx, grid, window, spec, raster);
    if (status != BRANT_OK) {
        brant_raster_abandon(raster);
        return status;
    }
    raster->file = open(raster->path, O_WRONLY | O_CLOEXEC);
    *out = raster;
    return BRANT_OK;
}

/* ---- blocks ------------------------------------------------------------- */

/* A block at the border with zeros beyond it: what the caller left there must
 * not reach the file. */
static const void *clear_beyond(brant_raster *raster, int bx, int by, const void *cells)
{
    int cols = raster->cols - bx * BRANT_BLOCK;
    int rows = raster->rows - by * BRANT_BLOCK;
    if (cols >= BRANT_BLOCK && rows >= BRANT_BLOCK)
        return cells;
    cols = cols < BRANT_BLOCK ? cols : BRANT_BLOCK;
    rows = rows < BRANT_BLOCK ? rows : BRANT_BLOCK;
    size_t line = BRANT_BLOCK * raster->cell_size;
    char *to = raster->edge;
    const char *from = cells;
    memset(to, 0, BRANT_BLOCK * line);
    for (int row = 0; row < rows; row++)
        memcpy(to + (size_t)row * line, from + (size_t)row * line,
               (size_t)cols * raster->cell_size);
    return to;
}

/* Set the disk to work on what has been written, so that little is left for the commit to
 * wait for. Only a hint: what comes of it shows there. */
#define SEND_BLOCKS 32

static void send_early(brant_raster *raster)
{
    if (++raster->unsent < SEND_BLOCKS || raster->file < 0)
        return;
    raster->unsent = 0;
    sync_file_range(raster->file, 0, 0, SYNC_FILE_RANGE_WRITE);
}

brant_status brant_raster_block(brant_context *ctx, brant_raster *raster, int band, int bx, int by,
                                const void *cells)
{
    brant_gdal_call call;
    if (band < 1 || band > raster->bands || bx < 0 || bx >= raster->across || by < 0 ||
        by >= raster->down)
        return brant_fail(ctx, BRANT_ERR_INTERNAL, "%s: no block %d, %d of band %d", raster->name,
                          bx, by, band);
    brant_status status = brant_check_stop(ctx);
    if (status != BRANT_OK)
        return status;
    const void *block = clear_beyond(raster, bx, by, cells);
    brant_gdal_begin(&call);
    CPLErr result = GDALWriteBlock(GDALGetRasterBand(raster->dataset, band), bx, by,
                                   (void *)(uintptr_t)block);
    if (result != CE_None || call.failed)
        status = failed(ctx, raster->name, &call);
    brant_gdal_end(&call);
    send_early(raster);
    return status;
}

/* ---- closing ------------------------------------------------------------ */

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

/* Read the directory back: every block must lie within the file. Writes to a
 * full disk have been seen to succeed until here. */
static bool is_whole(const brant_raster *raster, GDALDatasetH dataset)
{
    struct stat info;
    if (stat(raster->path, &info) != 0 || GDALGetRasterXSize(dataset) != raster->cols ||
        GDALGetRasterYSize(dataset) != raster->rows ||
        GDALGetRasterCount(dataset) != raster->bands)
        return false;
    for (int b = 1; b <= raster->bands; b++)
        for (int by = 0; by < raster->down; by++)
            for (int bx = 0; bx < raster->across; bx++)
                if (!holds_block(GDALGetRasterBand(dataset, b), bx, by, (double)info.st_size))
                    return false;
    return true;
}

/* All category names. They are in a side-car, which GDAL writes at closing and whose loss it
 * tells nobody. */
static brant_status names_of(brant_context *ctx, GDALDatasetH dataset, brant_text *names)
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
    bool same = names_of(ctx, dataset, &found) == BRANT_OK &&
                strcmp(found.data ? found.data : "", names->data ? names->data : "") == 0;
    brant_text_clear(&found);
    return same;
}

static brant_status check_whole(brant_context *ctx, const brant_raster *raster,
                                const brant_text *names)
{
    static const char *const drivers[] = {"GTiff", NULL};
    brant_gdal_call call;
    brant_status status = BRANT_OK;
    brant_gdal_begin(&call);
    GDALDatasetH dataset = GDALOpenEx(raster->path, GDAL_OF_RASTER | GDAL_OF_READONLY, drivers,
                                      NULL, NULL);
    if (!dataset || !is_whole(raster, dataset) || !has_names(ctx, dataset, names))
        status = brant_fail(ctx, BRANT_ERR_IO, "%s: cannot write: the file did not come out whole",
                            raster->name);
    if (dataset)
        GDALClose(dataset);
    brant_gdal_end(&call);
    return status;
}

static void release(brant_raster *raster)
{
    if (raster->file >= 0)
        close(raster->file);
    free(raster->path);
    free(raster->name);
    free(raster->edge);
    free(raster);
}

brant_status brant_raster_close(brant_context *ctx, brant_raster *raster)
{
    brant_gdal_call call;
    brant_text names = {0};
    brant_gdal_begin(&call);
    brant_status status = names_of(ctx, raster->dataset, &names);
    GDALFlushCache(raster->dataset);
    GDALClose(raster->dataset);
    if (status == BRANT_OK && call.failed)
        status = failed(ctx, raster->name, &call);
    brant_gdal_end(&call);
    if (status == BRANT_OK)
        status = check_whole(ctx, raster, &names);
    brant_text_clear(&names);
    release(raster);
    return status;
}

void brant_raster_abandon(brant_raster *raster)
{
    if (!raster)
        return;
    brant_gdal_close(raster->dataset);
    release(raster);
}

/* ---- a whole array ------------------------------------------------------ */

/* Copy block (bx, by) out of an array of the raster's size. */
static void cut_block(const brant_raster *raster, const void *band, int bx, int by, void *block)
{
    size_t size = raster->cell_size;
    int col = bx * BRANT_BLOCK, row = by * BRANT_BLOCK;
    int cols = raster->cols - col < BRANT_BLOCK ? raster->cols - col : BRANT_BLOCK;
    int rows = raster->rows - row < BRANT_BLOCK ? raster->rows - row : BRANT_BLOCK;
    const char *from = (const char *)band +
                       ((size_t)row * (size_t)raster->cols + (size_t)col) * size;
    for (int i = 0; i < rows; i++)
        memcpy((char *)block + (size_t)i * BRANT_BLOCK * size,
               from + (size_t)i * (size_t)raster->cols * size, (size_t)cols * size);
}

static brant_status write_blocks(brant_context *ctx, brant_raster *raster,
                                 const void *const *bands, void *block)
{
    brant_status status = BRANT_OK;
    for (int by = 0; by < raster->down; by++)
        for (int bx = 0; bx < raster->across; bx++)
            for (int b = 0; status == BRANT_OK && b < raster->bands; b++) {
                cut_block(raster, bands[b], bx, by, block);
                status = brant_raster_block(ctx, raster, b + 1, bx, by, block);
            }
    return status;
}

brant_status brant_raster_write(brant_context *ctx, const char *path, const brant_grid *grid,
                                const brant_window *window, const brant_raster_spec *spec,
                                const void *const *bands)
{
    brant_raster *raster = NULL;
    brant_status status = brant_raster_create(ctx, path, grid, window, spec, &raster);
    if (status != BRANT_OK)
        return status;
    void *block = brant_alloc(ctx, (size_t)BRANT_BLOCK * BRANT_BLOCK, raster->cell_size);
    status = block ? write_blocks(ctx, raster, bands, block) : BRANT_ERR_MEMORY;
    free(block);
    if (status == BRANT_OK)
        return brant_raster_close(ctx, raster);
    brant_raster_abandon(raster);
    return status;
}
