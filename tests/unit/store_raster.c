/* Rasters out, and zone rasters in. What is written is read back through GDAL. */
#include "store_files.h"

#include "near.h"

#include <signal.h>
#include <sys/resource.h>
#include <sys/wait.h>

enum { COLS = 600, ROWS = 300 };

/* The grid of make_raster. */
static void make_grid(world *w, brant_grid *grid)
{
    char *wkt = NULL;
    OGRSpatialReferenceH crs = OSRNewSpatialReference(NULL);
    OSRImportFromEPSG(crs, 32632);
    OSRExportToWkt(crs, &wkt);
    *grid = (brant_grid){COLS, ROWS, {600000, 10, 0, 5200000, 0, -10}, NULL};
    grid->crs = brant_strdup(&w->ctx, wkt);
    CPLFree(wkt);
    OSRDestroySpatialReference(crs);
}

static void write_raster(world *w, const char *path, const brant_window *window,
                         const brant_raster_spec *spec, const void *const *bands)
{
    brant_grid grid;
    make_grid(w, &grid);
    if (brant_raster_write(&w->ctx, path, &grid, window, spec, bands) != BRANT_OK)
        fail_msg("%s", brant_message(&w->ctx));
    brant_grid_clear(&grid);
}

static const brant_band_spec two_bands[] = {
    {.description = "reached_at_deg", .unit = "deg", .has_nodata = true, .nodata = -9999},
    {.description = "head_m", .unit = "m", .has_nodata = true, .nodata = -9999},
};

static const char *const metadata[] = {"BRANT_FACTOR=2", "BRANT_BAND=30:45", NULL};

static float *make_values(void)
{
    float *values = calloc((size_t)COLS * ROWS, sizeof *values);
    assert_non_null(values);
    for (int i = 0; i < COLS * ROWS; i++)
        values[i] = i % 97 == 0 ? -9999.0f : 0.25f * (float)(i % 5003);
    return values;
}

static void check_values(GDALDatasetH d, int band, const float *values)
{
    float *back = calloc((size_t)COLS * ROWS, sizeof *back);
    assert_non_null(back);
    assert_int_equal(GDALRasterIO(GDALGetRasterBand(d, band), GF_Read, 0, 0, COLS, ROWS, back,
                                  COLS, ROWS, GDT_Float32, 0, 0),
                     CE_None);
    assert_memory_equal(back, values, (size_t)COLS * ROWS * sizeof *back);
    free(back);
}

static void check_structure(GDALDatasetH d, const char *compression)
{
    int bx = 0, by = 0;
    const char *found = GDALGetMetadataItem(d, "COMPRESSION", "IMAGE_STRUCTURE");
    GDALGetBlockSize(GDALGetRasterBand(d, 1), &bx, &by);
    assert_int_equal(bx, BRANT_BLOCK);
    assert_int_equal(by, BRANT_BLOCK);
    if (compression)
        assert_string_equal(found, compression);
    else
        assert_null(found);
    assert_string_equal(GDALGetMetadataItem(d, "INTERLEAVE", "IMAGE_STRUCTURE"), "BAND");
}

static void floats_come_back(void **state)
{
    static const struct {
        brant_compress compress;
        const char *name;
    } ways[] = {{BRANT_COMPRESS_DEFLATE, "DEFLATE"},
                {BRANT_COMPRESS_ZSTD, "ZSTD"},
                {BRANT_COMPRESS_NONE, NULL}};
    world *w = *state;
    float *values = make_values();
    const void *bands[] = {values, values};
    brant_window whole = {0, 0, COLS, ROWS};
    assert_int_equal(brant_compress_default(), BRANT_COMPRESS_ZSTD); /* this GDAL has it */
    for (int i = 0; i < 3; i++) {
        brant_raster_spec spec = {.title = "shadow", .type = BRANT_CELL_FLOAT32, .bands = 2,
                                  .band = two_bands, .packing = {.compress = ways[i].compress},
                                  .metadata = metadata};
        write_raster(w, at(w, "a.tif"), &whole, &spec, bands);
        GDALDatasetH d = GDALOpen(at(w, "a.tif"), GA_ReadOnly);
        assert_non_null(d);
        check_structure(d, ways[i].name);
        check_values(d, 1, values);
        check_values(d, 2, values);
        assert_string_equal(GDALGetMetadataItem(d, "BRANT_FACTOR", NULL), "2");
        assert_string_equal(GDALGetMetadataItem(d, "BRANT_BAND", NULL), "30:45");
        assert_null(GDALGetMetadataItem(d, "TIFFTAG_DATETIME", NULL));
        GDALRasterBandH band = GDALGetRasterBand(d, 2);
        assert_string_equal(GDALGetDescription(band), "head_m");
        assert_string_equal(GDALGetRasterUnitType(band), "m");
        assert_near(GDALGetRasterNoDataValue(band, NULL), -9999, 0);
        GDALClose(d);
    }
    assert_int_equal(entries(w), 1);
    free(values);
}

/* Zone numbers of 32 bits beside heights, as in runout rasters. */
static void doubles_hold_zone_numbers(void **state)
{
    world *w = *state;
    double heights[4] = {1.5, -9999, 2.25, 3}, numbers[4] = {4294967295.0, 0, 1, 16777217};
    double back[4];
    const void *bands[] = {heights, numbers};
    brant_window window = {0, 0, 2, 2};
    brant_raster_spec spec = {.type = BRANT_CELL_FLOAT64, .bands = 2, .band = two_bands};
    write_raster(w, at(w, "a.tif"), &window, &spec, bands);
    GDALDatasetH d = GDALOpen(at(w, "a.tif"), GA_ReadOnly);
    assert_non_null(d);
    for (int b = 0; b < 2; b++) {
        assert_int_equal(GDALRasterIO(GDALGetRasterBand(d, b + 1), GF_Read, 0, 0, 2, 2, back, 2, 2,
                                      GDT_Float64, 0, 0),
                         CE_None);
        assert_memory_equal(back, bands[b], sizeof back);
    }
    GDALClose(d);
}

/* A window's raster lies where its cells are. */
static void a_window_is_placed(void **state)
{
    world *w = *state;
    double t[6];
    float values[6] = {1, 2, 3, 4, 5, 6};
    const void *bands[] = {values};
    brant_window window = {100, 50, 3, 2};
    brant_raster_spec spec = {.type = BRANT_CELL_FLOAT32, .bands = 1, .band = two_bands};
    write_raster(w, at(w, "a.tif"), &window, &spec, bands);
    GDALDatasetH d = GDALOpen(at(w, "a.tif"), GA_ReadOnly);
    assert_non_null(d);
    assert_int_equal(GDALGetGeoTransform(d, t), CE_None);
    assert_near(t[0], 601000, 0);
    assert_near(t[3], 5199500, 0);
    assert_near(t[1], 10, 0);
    assert_near(t[5], -10, 0);
    assert_string_equal(OSRGetAuthorityCode(GDALGetSpatialRef(d), NULL), "32632");
    GDALClose(d);
}

static void classes_have_colours_and_names(void **state)
{
    static const char *const names[] = {"unknown", "below 25", "25-30", NULL};
    static const uint8_t colours[][4] = {{1, 2, 3, 255}, {40, 50, 60, 255}, {70, 80, 90, 255}};
    static const brant_band_spec band = {.description = "class", .categories = names,
                                         .colours = colours};
    world *w = *state;
    uint8_t values[4] = {0, 1, 2, 1};
    const void *bands[] = {values};
    brant_window window = {0, 0, 2, 2};
    brant_raster_spec spec = {.type = BRANT_CELL_BYTE, .bands = 1, .band = &band};
    write_raster(w, at(w, "a.tif"), &window, &spec, bands);
    GDALDatasetH d = GDALOpen(at(w, "a.tif"), GA_ReadOnly);
    assert_non_null(d);
    GDALRasterBandH b = GDALGetRasterBand(d, 1);
    /* GDAL 3.6 loads the side-car when the georeference is asked for */
    assert_non_null(GDALGetSpatialRef(d));
    char **back = GDALGetRasterCategoryNames(b);
    assert_int_equal(CSLCount(back), 3);
    assert_string_equal(back[2], "25-30");
    GDALColorTableH table = GDALGetRasterColorTable(b);
    assert_non_null(table);
    const GDALColorEntry *entry = GDALGetColorEntry(table, 1);
    assert_int_equal(entry->c1, 40);
    assert_int_equal(entry->c2, 50);
    assert_int_equal(entry->c3, 60);
    GDALClose(d);
    assert_true(is_there(at(w, "a.tif.aux.xml"))); /* for the stage to take along */
}

/* What a caller leaves beyond the border must not reach the file. */
static void the_same_cells_give_the_same_bytes(void **state)
{
    world *w = *state;
    brant_grid grid;
    brant_window window = {0, 0, 300, 10};
    brant_raster_spec spec = {.type = BRANT_CELL_UINT32, .bands = 1, .band = two_bands,
                              .packing.compress = BRANT_COMPRESS_NONE};
    uint32_t *block = calloc((size_t)BRANT_BLOCK * BRANT_BLOCK, sizeof *block);
    char *bytes[2];
    size_t size[2];
    assert_non_null(block);
    make_grid(w, &grid);
    for (uint32_t run = 0; run < 2; run++) {
        brant_raster *raster = NULL;
        assert_int_equal(brant_raster_create(&w->ctx, at(w, run ? "b.tif" : "a.tif"), &grid,
                                             &window, &spec, &raster),
                         BRANT_OK);
        for (int bx = 0; bx < 2; bx++) {
            for (int i = 0; i < BRANT_BLOCK * BRANT_BLOCK; i++) {
                bool on = i / BRANT_BLOCK < 10 && bx * BRANT_BLOCK + i % BRANT_BLOCK < 300;
                block[i] = on ? 4000000000u - (uint32_t)i : run;
            }
            assert_int_equal(brant_raster_block(&w->ctx, raster, 1, bx, 0, block), BRANT_OK);
        }
        assert_int_equal(brant_raster_block(&w->ctx, raster, 1, 2, 0, block),
                         BRANT_ERR_INTERNAL);
        brant_forgive(&w->ctx);
        assert_int_equal(brant_raster_close(&w->ctx, raster), BRANT_OK);
        bytes[run] = get_bytes(at(w, run ? "b.tif" : "a.tif"), &size[run]);
    }
    assert_int_equal(size[0], size[1]);
    assert_memory_equal(bytes[0], bytes[1], size[0]);
    free(bytes[0]);
    free(bytes[1]);
    free(block);
    brant_grid_clear(&grid);
}

/* In a child, because the limit cannot be raised again: 0 when every write up to
 * and with the close failed as it should and nothing is left, else a step. */
static int fill_disk(world *w, rlim_t limit, brant_compress compress)
{
    brant_grid grid;
    brant_stage *stage = NULL;
    const char *path;
    float *values = make_values();
    const void *bands[] = {values, values};
    brant_window whole = {0, 0, COLS, ROWS};
    brant_raster_spec spec = {.type = BRANT_CELL_FLOAT32, .bands = 2, .band = two_bands,
                              .packing.compress = compress};
    struct rlimit size = {limit, limit};
    make_grid(w, &grid);
    signal(SIGXFSZ, SIG_IGN);
    if (setrlimit(RLIMIT_FSIZE, &size) != 0 ||
        brant_stage_create(&w->ctx, &stage) != BRANT_OK ||
        brant_stage_output(&w->ctx, stage, at(w, "a.tif"), false, &path) != BRANT_OK)
        return 1;
    if (brant_raster_write(&w->ctx, path, &grid, &whole, &spec, bands) != BRANT_ERR_IO)
        return 2;
    if (strncmp(brant_message(&w->ctx), at(w, "a.tif"), strlen(w->path)) != 0 ||
        !strstr(brant_message(&w->ctx), "cannot write"))
        return 3;
    brant_stage_destroy(stage);
    brant_grid_clear(&grid);
    free(values);
    return is_there(at(w, "a.tif")) ? 4 : 0;
}

static void a_full_disk_is_an_error(void **state)
{
    /* at the header, within the blocks, within the last block or the directory */
    static const rlim_t share[] = {0, 2, 1};
    world *w = *state;
    float *values = make_values();
    const void *bands[] = {values, values};
    brant_window whole = {0, 0, COLS, ROWS};
    for (int c = 0; c < 2; c++) {
        struct stat info;
        brant_compress compress = c ? BRANT_COMPRESS_DEFLATE : BRANT_COMPRESS_NONE;
        brant_raster_spec spec = {.type = BRANT_CELL_FLOAT32, .bands = 2, .band = two_bands,
                                  .packing.compress = compress};
        write_raster(w, at(w, "whole.tif"), &whole, &spec, bands);
        assert_int_equal(stat(at(w, "whole.tif"), &info), 0);
        unlink(at(w, "whole.tif"));
        for (int i = 0; i < 3; i++) {
            rlim_t limit = share[i] ? (rlim_t)info.st_size / share[i] - 1 : 4;
            int result = -1;
            pid_t child = fork();
            assert_true(child >= 0);
            if (child == 0)
                _exit(fill_disk(w, limit, compress));
            assert_int_equal(waitpid(child, &result, 0), child);
            if (!WIFEXITED(result) || WEXITSTATUS(result) != 0)
                fail_msg("limit %lu, compression %d: step %d", (unsigned long)limit, c,
                         WIFEXITED(result) ? WEXITSTATUS(result) : -1);
            assert_int_equal(entries(w), 0);
        }
    }
    free(values);
}

/* ---- zone rasters ------------------------------------------------------- */

static void make_model(world *w, brant_dem *dem)
{
    double cells[12] = {1, 2, 3, 4, 5, 6, 7, 8, 9, 10, 11, 12};
    GDALDatasetH d = make_tif(at(w, "dem.tif"), 4, 3, GDT_Float32);
    put_cells(d, 1, cells);
    done(d);
    open_dem(w, at(w, "dem.tif"), NULL, dem);
}

static void refuse_zones(world *w, const brant_dem *dem, const char *words)
{
    brant_zone_file *file = NULL;
    assert_int_equal(brant_zone_file_open(&w->ctx, at(w, "z.tif"), dem, 25, &file), BRANT_ERR_INPUT);
    if (!strstr(brant_message(&w->ctx), words))
        fail_msg("message is '%s', wanted '%s'", brant_message(&w->ctx), words);
    assert_null(file);
    brant_forgive(&w->ctx);
}

static void zone_numbers_come_back(void **state)
{
    static const GDALDataType types[] = {GDT_UInt32, GDT_Float64, GDT_Int64};
    world *w = *state;
    brant_dem dem;
    double cells[12] = {0, 1, 2, 4294967295.0, 0, 0, 7, 7, 9, 9, 9, 9};
    brant_window window = {-1, 1, 6, 3};
    uint32_t out[18], expected[18] = {0, 0, 0, 7, 7, 0, 0, 9, 9, 9, 9, 0, 0, 0, 0, 0, 0, 0};
    make_model(w, &dem);
    for (int i = 0; i < 3; i++) {
        brant_zone_file *file = NULL;
        GDALDatasetH d = make_tif(at(w, "z.tif"), 4, 3, types[i]);
        put_cells(d, 1, cells);
        done(d);
        if (brant_zone_file_open(&w->ctx, at(w, "z.tif"), &dem, 25, &file) != BRANT_OK)
            fail_msg("%s", brant_message(&w->ctx));
        assert_int_equal(brant_zone_file_read(file, &w->ctx, &window, out), BRANT_OK);
        assert_memory_equal(out, expected, sizeof out);
        assert_int_equal(
            brant_zone_file_read(file, &w->ctx, &(brant_window){3, 0, 1, 1}, out), BRANT_OK);
        assert_int_equal(out[0], 4294967295u);
        brant_zone_file_close(file);
    }
    brant_dem_close(&dem);
}

static void odd_zone_numbers_are_refused(void **state)
{
    static const double odd[] = {-1, 1.5, 4294967296.0};
    world *w = *state;
    brant_dem dem;
    brant_zone_file *file = NULL;
    uint32_t out[12];
    make_model(w, &dem);
    for (int i = 0; i < 3; i++) {
        double cells[12] = {0, 0, 0, 0, 0, 0, odd[i]};
        GDALDatasetH d = make_tif(at(w, "z.tif"), 4, 3, GDT_Float64);
        put_cells(d, 1, cells);
        done(d);
        assert_int_equal(brant_zone_file_open(&w->ctx, at(w, "z.tif"), &dem, 25, &file), BRANT_OK);
        assert_int_equal(brant_zone_file_read(file, &w->ctx, &(brant_window){0, 0, 4, 3}, out),
                         BRANT_ERR_INPUT);
        assert_non_null(strstr(brant_message(&w->ctx), "column 2, row 1"));
        brant_forgive(&w->ctx);
        brant_zone_file_close(file);
    }
    brant_dem_close(&dem);
}

static void zones_on_another_grid_are_refused(void **state)
{
    world *w = *state;
    brant_dem dem;
    make_model(w, &dem);
    done(make_tif(at(w, "z.tif"), 3, 4, GDT_UInt32));
    refuse_zones(w, &dem, "not on the working grid");
    refuse_zones(w, &dem, "3 x 4 cells, not 4 x 3");
    GDALDatasetH d = make_tif(at(w, "z.tif"), 4, 3, GDT_UInt32);
    GDALSetGeoTransform(d, (double[]){600005, 10, 0, 5200000, 0, -10});
    done(d);
    refuse_zones(w, &dem, "0.5 cells off");
    d = make_tif(at(w, "z.tif"), 4, 3, GDT_UInt32);
    OGRSpatialReferenceH crs = OSRNewSpatialReference(NULL);
    OSRImportFromEPSG(crs, 32633);
    GDALSetSpatialRef(d, crs);
    OSRDestroySpatialReference(crs);
    done(d);
    refuse_zones(w, &dem, "another coordinate reference system");
    brant_dem_close(&dem);
}

/* What we write for a model is on its grid when read back, averaged models on
 * geographic cells included. */
static void our_own_zones_fit(void **state)
{
    world *w = *state;
    brant_dem dem;
    enum { SIDE = 900 };
    double *cells = calloc((size_t)SIDE * SIDE, sizeof *cells);
    uint32_t *numbers = calloc((size_t)SIDE * SIDE, sizeof *numbers);
    assert_non_null(cells);
    assert_non_null(numbers);
    OGRSpatialReferenceH crs = OSRNewSpatialReference(NULL);
    OSRImportFromEPSG(crs, 4326);
    GDALDatasetH d = make_tif(at(w, "dem.tif"), SIDE, SIDE, GDT_Float32);
    GDALSetSpatialRef(d, crs);
    GDALSetGeoTransform(d, (double[]){9.1, 1 / 108000.0, 0, 46.7, 0, -1 / 108000.0});
    put_cells(d, 1, cells);
    done(d);
    OSRDestroySpatialReference(crs);
    open_dem(w, at(w, "dem.tif"), NULL, &dem);
    assert_int_equal(dem.factor, 6); /* cells of 0.71 m x 1.03 m: 0.86 m on average */
    brant_window whole = {0, 0, dem.grid.cols, dem.grid.rows};
    brant_raster_spec spec = {.type = BRANT_CELL_UINT32, .bands = 1, .band = two_bands};
    numbers[0] = 77;
    assert_int_equal(brant_raster_write(&w->ctx, at(w, "z.tif"), &dem.grid, &whole, &spec,
                                        (const void *const[]){numbers}),
                     BRANT_OK);
    brant_zone_file *file = NULL;
    if (brant_zone_file_open(&w->ctx, at(w, "z.tif"), &dem, 25, &file) != BRANT_OK)
        fail_msg("%s", brant_message(&w->ctx));
    uint32_t back = 0;
    assert_int_equal(brant_zone_file_read(file, &w->ctx, &(brant_window){0, 0, 1, 1}, &back),
                     BRANT_OK);
    assert_int_equal(back, 77);
    brant_zone_file_close(file);
    brant_dem_close(&dem);
    free(cells);
    free(numbers);
}

#define TEST(f) cmocka_unit_test_setup_teardown(f, set_up, tear_down)

int main(void)
{
    const struct CMUnitTest tests[] = {
        TEST(floats_come_back),
        TEST(doubles_hold_zone_numbers),
        TEST(a_window_is_placed),
        TEST(classes_have_colours_and_names),
        TEST(the_same_cells_give_the_same_bytes),
        TEST(a_full_disk_is_an_error),
        TEST(zone_numbers_come_back),
        TEST(odd_zone_numbers_are_refused),
        TEST(zones_on_another_grid_are_refused),
        TEST(our_own_zones_fit),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
