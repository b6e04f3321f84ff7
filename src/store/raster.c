/* Rasters out: tiled GeoTIFF, block by block, every step checked. */
#include "gdal_call.h"
#include "packing.h"
#include "stage.h"
#include "statistics.h"

#include <cpl_string.h>
#include <fcntl.h>
#include <math.h>
#include <stdlib.h>
#include <string.h>
#include <unistd.h>

/* What is kept of a band until the file is closed. */
typedef struct band_notes {
    bool measured; /* a quantity: it gets statistics */
    double nodata; /* NaN: none */
    brant_statistics statistics;
} band_notes;

struct brant_raster {
    char *path;
    char *name;         /* in messages */
    char *flat;         /* the file that a cloud optimized one is made of; else NULL */
    GDALDatasetH dataset;
    brant_packed file;  /* at `path` */
    brant_cell_type type;
    int across, down;   /* blocks */
    size_t cell_size;
    void *edge;         /* a block of which the part on the raster is filled */
    band_notes *notes;  /* one a band */
    void (*style)(brant_text *out);
    int sent;           /* the same, for the kernel's ear only; -1 */
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

/* A TIFF's table has 256 entries, opaque ones; left alone the rest would be black, the look of
 * the steepest. */
static void set_colours(GDALRasterBandH band, const brant_band_spec *spec)
{
    GDALColorTableH table = GDALCreateColorTable(GPI_RGB);
    bool named = true;
    for (int i = 0; i < 256; i++) {
        named = named && spec->categories[i];
        const uint8_t *c = spec->colours[named ? i : 0];
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
    char **options = brant_packing_options(&raster->file, ctx->threads);
    GDALDriverH driver = GDALGetDriverByName("GTiff");
    if (driver)
        raster->dataset = GDALCreate(driver, raster->flat ? raster->flat : raster->path,
                                     raster->file.cols, raster->file.rows, raster->file.bands,
                                     gdal_types[spec->type], options);
    CSLDestroy(options);
    if (raster->dataset)
        describe(raster->dataset, grid, window, spec);
    if (!raster->dataset || call.failed)
        status = failed(ctx, raster->name, &call);
    brant_gdal_end(&call);
    return status;
}

static char *flat_name(brant_context *ctx, const char *path)
{
    brant_text text = {0};
    brant_text_add(&text, "%s.flat", path);
    brant_text_status(ctx, &text);
    return text.failed ? NULL : text.data;
}

static void note_bands(brant_raster *raster, const brant_raster_spec *spec)
{
    bool floating = raster->file.floating;
    for (int b = 0; b < spec->bands; b++) {
        const brant_band_spec *band = &spec->band[b];
        raster->notes[b].measured = floating && band->unit && *band->unit;
        raster->notes[b].nodata = band->has_nodata ? band->nodata : (double)NAN;
        brant_statistics_begin(&raster->notes[b].statistics);
    }
}

/* All that the raster owns but its file. */
static brant_status prepare(brant_context *ctx, const char *path, const brant_window *window,
                            const brant_raster_spec *spec, brant_raster *raster)
{
    raster->sent = -1;
    raster->style = spec->style;
    raster->type = spec->type;
    raster->across = (window->cols - 1) / BRANT_BLOCK + 1;
    raster->down = (window->rows - 1) / BRANT_BLOCK + 1;
    raster->cell_size = (size_t)GDALGetDataTypeSizeBytes(gdal_types[spec->type]);
    raster->path = brant_strdup(ctx, path);
    raster->name = brant_stage_shown(ctx, path);
    raster->flat = spec->packing.cog ? flat_name(ctx, path) : NULL;
    raster->edge = brant_alloc(ctx, (size_t)BRANT_BLOCK * BRANT_BLOCK, raster->cell_size);
    raster->notes = brant_alloc(ctx, (size_t)spec->bands, sizeof *raster->notes);
    raster->file = (brant_packed){
        raster->path, raster->name, window->cols, window->rows, spec->bands,
        spec->type == BRANT_CELL_FLOAT32 || spec->type == BRANT_CELL_FLOAT64,
        spec->packing, spec->resampling};
    if (!raster->path || !raster->name || !raster->edge || !raster->notes ||
        (spec->packing.cog && !raster->flat))
        return BRANT_ERR_MEMORY;
    note_bands(raster, spec);
    return BRANT_OK;
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
    brant_status status = prepare(ctx, path, window, spec, raster);
    if (status == BRANT_OK)
        status = create(ctx, grid, window, spec, raster);
    if (status != BRANT_OK) {
        brant_raster_abandon(raster);
        return status;
    }
    raster->sent = open(raster->flat ? raster->flat : raster->path, O_WRONLY | O_CLOEXEC);
    *out = raster;
    return BRANT_OK;
}

/* ---- blocks ------------------------------------------------------------- */

/* How many of the cells of block `index` lie on the raster, along one side. */
static int on_raster(int cells, int index)
{
    int left = cells - index * BRANT_BLOCK;
    return left < BRANT_BLOCK ? left : BRANT_BLOCK;
}

/* A block at the border with zeros beyond it: what the caller left there must
 * not reach the file. */
static const void *clear_beyond(brant_raster *raster, int bx, int by, const void *cells)
{
    int cols = on_raster(raster->file.cols, bx), rows = on_raster(raster->file.rows, by);
    if (cols == BRANT_BLOCK && rows == BRANT_BLOCK)
        return cells;
    size_t line = BRANT_BLOCK * raster->cell_size;
    char *to = raster->edge;
    const char *from = cells;
    memset(to, 0, BRANT_BLOCK * line);
    for (int row = 0; row < rows; row++)
        memcpy(to + (size_t)row * line, from + (size_t)row * line,
               (size_t)cols * raster->cell_size);
    return to;
}

static void measure(brant_raster *raster, int band, int bx, int by, const void *cells)
{
    band_notes *notes = &raster->notes[band - 1];
    int cols = on_raster(raster->file.cols, bx), rows = on_raster(raster->file.rows, by);
    if (notes->measured && raster->type == BRANT_CELL_FLOAT32)
        brant_statistics_floats(&notes->statistics, cells, cols, rows, (float)notes->nodata);
    else if (notes->measured)
        brant_statistics_doubles(&notes->statistics, cells, cols, rows, notes->nodata);
}

/* Set the disk to work on what has been written, so that little is left for the commit to
 * wait for. Only a hint: what comes of it shows there. */
#define SEND_BLOCKS 32
/* Of a raster larger than this, what the disk has is not kept in memory: else the kernel looks
 * for free pages all the time, which took more than all the rest (two rasters of 4 GB on a
 * machine of 23: 18 s of system time). */
#define LARGE_BYTES 1e9

static void send_early(brant_raster *raster)
{
    if (++raster->unsent < SEND_BLOCKS || raster->sent < 0)
        return;
    raster->unsent = 0;
    sync_file_range(raster->sent, 0, 0, SYNC_FILE_RANGE_WRITE);
    double cells = (double)raster->file.cols * raster->file.rows * raster->file.bands;
    if (cells * (double)raster->cell_size > LARGE_BYTES)
        posix_fadvise(raster->sent, 0, 0, POSIX_FADV_DONTNEED);
}

brant_status brant_raster_block(brant_context *ctx, brant_raster *raster, int band, int bx, int by,
                                const void *cells)
{
    brant_gdal_call call;
    if (band < 1 || band > raster->file.bands || bx < 0 || bx >= raster->across || by < 0 ||
        by >= raster->down)
        return brant_fail(ctx, BRANT_ERR_INTERNAL, "%s: no block %d, %d of band %d", raster->name,
                          bx, by, band);
    brant_status status = brant_check_stop(ctx);
    if (status != BRANT_OK)
        return status;
    measure(raster, band, bx, by, cells);
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

static void release(brant_raster *raster)
{
    if (raster->sent >= 0)
        close(raster->sent);
    free(raster->path);
    free(raster->name);
    free(raster->flat);
    free(raster->edge);
    free(raster->notes);
    free(raster);
}

/* What is known of the file only now that all of it was written. `names`: what its side-car
 * is to hold. */
static brant_status finish(brant_context *ctx, brant_raster *raster, brant_text *names)
{
    brant_gdal_call call;
    brant_gdal_begin(&call);
    brant_status status = brant_packing_names(ctx, raster->dataset, names);
    GDALFlushCache(raster->dataset); /* all blocks first, on however many threads */
    for (int b = 0; b < raster->file.bands && status == BRANT_OK; b++)
        if (raster->notes[b].measured)
            status = brant_statistics_say(ctx, &raster->notes[b].statistics,
                                          GDALGetRasterBand(raster->dataset, b + 1));
    if (raster->flat && status == BRANT_OK)
        status = brant_packing_overviews(ctx, &raster->file, raster->dataset);
    GDALFlushCache(raster->dataset);
    GDALClose(raster->dataset);
    raster->dataset = NULL;
    if (call.failed && status == BRANT_OK)
        status = failed(ctx, raster->name, &call);
    brant_gdal_end(&call);
    return status;
}

/* Beside the raster, for the stage to take along. */
static brant_status write_style(brant_context *ctx, const brant_raster *raster)
{
    brant_text path = {0}, text = {0};
    raster->style(&text);
    brant_stage_side_car(raster->path, BRANT_STAGE_STYLE, &path);
    brant_status status = brant_text_status(ctx, &text);
    if (status == BRANT_OK)
        status = brant_text_status(ctx, &path);
    if (status == BRANT_OK)
        status = brant_stage_write_style(ctx, path.data, raster->name,
                                         strcmp(raster->path, raster->name) != 0, &text);
    brant_text_clear(&path);
    brant_text_clear(&text);
    return status;
}

brant_status brant_raster_close(brant_context *ctx, brant_raster *raster)
{
    brant_text names = {0};
    brant_status status = finish(ctx, raster, &names);
    if (status == BRANT_OK && raster->flat)
        status = brant_packing_cog(ctx, &raster->file, raster->flat);
    if (status == BRANT_OK)
        status = brant_packing_check(ctx, &raster->file, &names);
    if (status == BRANT_OK && raster->style)
        status = write_style(ctx, raster);
    brant_text_clear(&names);
    release(raster);
    return status;
}

void brant_raster_abandon(brant_raster *raster)
{
    if (!raster)
        return;
    brant_gdal_close(raster->dataset);
    if (raster->flat)
        brant_packing_remove_flat(raster->flat);
    release(raster);
}

/* ---- a whole array ------------------------------------------------------ */

/* Copy block (bx, by) out of an array of the raster's size. */
static void cut_block(const brant_raster *raster, const void *band, int bx, int by, void *block)
{
    size_t size = raster->cell_size;
    int col = bx * BRANT_BLOCK, row = by * BRANT_BLOCK;
    int cols = on_raster(raster->file.cols, bx), rows = on_raster(raster->file.rows, by);
    const char *from = (const char *)band +
                       ((size_t)row * (size_t)raster->file.cols + (size_t)col) * size;
    for (int i = 0; i < rows; i++)
        memcpy((char *)block + (size_t)i * BRANT_BLOCK * size,
               from + (size_t)i * (size_t)raster->file.cols * size, (size_t)cols * size);
}

static brant_status write_blocks(brant_context *ctx, brant_raster *raster,
                                 const void *const *bands, void *block)
{
    brant_status status = BRANT_OK;
    for (int by = 0; by < raster->down; by++)
        for (int bx = 0; bx < raster->across; bx++)
            for (int b = 0; status == BRANT_OK && b < raster->file.bands; b++) {
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
    if (!raster)
        return status;
    void *block = brant_alloc(ctx, (size_t)BRANT_BLOCK * BRANT_BLOCK, raster->cell_size);
    status = block ? write_blocks(ctx, raster, bands, block) : BRANT_ERR_MEMORY;
    free(block);
    if (status == BRANT_OK)
        return brant_raster_close(ctx, raster);
    brant_raster_abandon(raster);
    return status;
}
