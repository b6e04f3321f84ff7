/* Mosaics whose sources are cut, stretched, nested, masked: what is read of them, taken apart
 * or not, is what GDAL reads of them as a whole. */
#include "store_files.h"

enum { TILE = 40, COLS = 70, ROWS = 60 };

/* TILE x TILE cells of two bands, no height twice; one void. */
static void make_tile(world *w, const char *name, double base)
{
    double cells[TILE * TILE];
    GDALDatasetH d = make_raster("GTiff", at(w, name), TILE, TILE, 2, GDT_Float32, NULL);
    for (int band = 1; band <= 2; band++) {
        for (int i = 0; i < TILE * TILE; i++)
            cells[i] = base + (band - 1) * 2000 + i * 0.25;
        cells[17 * TILE + 23] = -9999;
        put_cells(d, band, cells);
        GDALSetRasterNoDataValue(GDALGetRasterBand(d, band), -9999);
    }
    done(d);
}

/* Cells at x, y of the file, cols x rows of them, to those at on_x, on_y of the mosaic. */
#define SOURCE(kind, file, band, x, y, cols, rows, on_x, on_y, on_cols, on_rows, extra)            \
    "<" kind "><SourceFilename relativeToVRT=\"1\">" file "</SourceFilename>"                      \
    "<SourceBand>" band "</SourceBand><SrcRect xOff=\"" #x "\" yOff=\"" #y "\" xSize=\"" #cols    \
    "\" ySize=\"" #rows "\"/><DstRect xOff=\"" #on_x "\" yOff=\"" #on_y "\" xSize=\"" #on_cols    \
    "\" ySize=\"" #on_rows "\"/>" extra "</" kind ">"
#define SIMPLE(file, x, y, cols, rows, on_x, on_y, on_cols, on_rows)                               \
    SOURCE("SimpleSource", file, "1", x, y, cols, rows, on_x, on_y, on_cols, on_rows, "")
#define NODATA "<NoDataValue>-9999</NoDataValue>"
#define BAND(number, inside)                                                                       \
    "<VRTRasterBand dataType=\"Float32\" band=\"" number "\">" inside "</VRTRasterBand>"

static void write_mosaic(world *w, const char *name, int cols, int rows, const char *bands)
{
    char text[8192];
    int size = snprintf(text, sizeof text,
                        "<VRTDataset rasterXSize=\"%d\" rasterYSize=\"%d\"><SRS>EPSG:32632</SRS>"
                        "<GeoTransform>600000, 10, 0, 5200000, 0, -10</GeoTransform>"
                        "%s</VRTDataset>", cols, rows, bands);
    assert_true(size > 0 && (size_t)size < sizeof text);
    put_text(at(w, name), text);
}

/* The cells of m.vrt as GDAL gives them, void where its mask says so. */
static float *read_by_gdal(world *w, int band)
{
    float *z = calloc((size_t)COLS * ROWS, sizeof *z);
    unsigned char *mask = calloc((size_t)COLS * ROWS, 1);
    GDALDatasetH d = GDALOpen(at(w, "m.vrt"), GA_ReadOnly);
    assert_non_null(d);
    GDALRasterBandH b = GDALGetRasterBand(d, band);
    assert_int_equal(GDALRasterIO(b, GF_Read, 0, 0, COLS, ROWS, z, COLS, ROWS, GDT_Float32, 0, 0),
                     CE_None);
    assert_int_equal(GDALRasterIO(GDALGetMaskBand(b), GF_Read, 0, 0, COLS, ROWS, mask, COLS, ROWS,
                                  GDT_Byte, 0, 0), CE_None);
    for (int i = 0; i < COLS * ROWS; i++)
        if (mask[i] == 0)
            z[i] = NAN;
    free(mask);
    GDALClose(d);
    return z;
}

/* Both read the same of band `band` of m.vrt; the cells that hold a height. */
static int assert_as_gdal(world *w, int band, const char *what)
{
    const brant_dem_options options = {.band = band, .scale_m = -1};
    brant_dem dem;
    int heights = 0;
    open_dem(w, at(w, "m.vrt"), &options, &dem);
    assert_true(dem.grid.cols == COLS && dem.grid.rows == ROWS);
    float *given = read_all(w, &dem), *wanted = read_by_gdal(w, band);
    for (int i = 0; i < COLS * ROWS; i++) {
        heights += !isnan(wanted[i]);
        if (isnan(given[i]) ? !isnan(wanted[i]) : !(given[i] == wanted[i]))
            fail_msg("%s, cell %d, %d: %g, not %g", what, i % COLS, i / COLS, (double)given[i],
                     (double)wanted[i]);
    }
    free(given);
    free(wanted);
    brant_dem_close(&dem);
    return heights;
}

static void cells_are_where_gdal_has_them(void **state)
{
    world *w = *state;
    static const struct {
        const char *what, *sources;
        int heights; /* at least */
    } cases[] = {
        {"a part", SIMPLE("a.tif", 7, 5, 20, 18, 3, 31, 20, 18), 359},
        {"over the edges", SIMPLE("a.tif", 0, 0, 40, 40, -6, -9, 40, 40)
                           SIMPLE("b.tif", 0, 0, 40, 40, 38, 35, 40, 40), 1800},
        {"beside", SIMPLE("b.tif", 0, 0, 40, 40, 70, 5, 40, 40)
                   SIMPLE("b.tif", 0, 0, 40, 40, 5, 60, 40, 40)
                   SIMPLE("a.tif", 0, 0, 40, 40, 5, 5, 40, 40), 1599},
        {"wider", SIMPLE("a.tif", 0, 0, 20, 20, 4, 4, 40, 20), 790},
        {"higher", SIMPLE("a.tif", 0, 0, 20, 20, 4, 4, 20, 40), 790},
        {"half a cell", SIMPLE("a.tif", 0.5, 0, 20, 20, 4, 4, 20, 20), 399},
        {"half a cell down", SIMPLE("a.tif", 0, 0, 20, 20, 4, 4.5, 20, 20), 380},
        {"from before", SIMPLE("a.tif", -5, 0, 30, 30, 4, 4, 30, 30), 700},
        {"from above", SIMPLE("a.tif", 0, -5, 30, 30, 4, 4, 30, 30), 700},
        {"band 2", SOURCE("SimpleSource", "a.tif", "2", 0, 0, 40, 40,
                          4, 4, 40, 40, ""), 1599},
        {"scaled", SOURCE("ComplexSource", "a.tif", "1", 0, 0, 40, 40,
                          4, 4, 40, 40, "<ScaleOffset>5</ScaleOffset><ScaleRatio>2"
                          "</ScaleRatio><NODATA>-9999</NODATA>"), 1599},
        {"its own void", SOURCE("ComplexSource", "a.tif", "1", 0, 0, 40, 40,
                                4, 4, 40, 40, "<NODATA>1100</NODATA>"), 1597},
        {"filtered", SOURCE("KernelFilteredSource", "a.tif", "1", 0, 0, 40, 40,
                            4, 4, 40, 40, "<Kernel normalized=\"1\"><Size>3</Size><Coefs>"
                            "1 1 1 1 1 1 1 1 1</Coefs></Kernel>"), 1500},
    };
    make_tile(w, "a.tif", 1000);
    make_tile(w, "b.tif", 5000);
    for (size_t i = 0; i < sizeof cases / sizeof *cases; i++) {
        char bands[4096];
        snprintf(bands, sizeof bands, BAND("1", NODATA "%s"), cases[i].sources);
        write_mosaic(w, "m.vrt", COLS, ROWS, bands);
        assert_in_range(assert_as_gdal(w, 1, cases[i].what), cases[i].heights, COLS * ROWS);
    }
}

/* A mosaic of 70 x 50 of both tiles and a gap, of which another takes parts. */
static void cells_of_a_mosaic_in_a_mosaic(void **state)
{
    world *w = *state;
    static const struct {
        const char *what, *source;
        int heights;
    } cases[] = {
        {"a part", SIMPLE("i.vrt", 10, 6, 50, 30, 4, 3, 50, 30), 1100},
        {"over the edges", SIMPLE("i.vrt", 0, 0, 70, 50, -12, -7, 70, 50), 1500},
        {"band 2", SOURCE("SimpleSource", "i.vrt", "2", 10, 6, 50, 30,
                          4, 3, 50, 30, ""), 1100},
        {"stretched", SIMPLE("i.vrt", 10, 6, 20, 20, 4, 3, 40, 40), 1100},
        {"of one that stretches", SIMPLE("s.vrt", 3, 2, 40, 40, 4, 3, 40, 40)
                                  SIMPLE("i.vrt", 0, 0, 20, 50, 48, 3, 20, 50), 1900},
        {"of a part", SIMPLE("p.vrt", 5, 4, 30, 20, 11, 13, 30, 20), 400},
    };
    make_tile(w, "a.tif", 1000);
    make_tile(w, "b.tif", 5000);
    write_mosaic(w, "i.vrt", 70, 50,
                 BAND("1", NODATA SIMPLE("a.tif", 0, 0, 40, 40, 0, 2, 40, 40)
                               SIMPLE("b.tif", 5, 0, 28, 40, 42, 10, 28, 40))
                 BAND("2", NODATA SIMPLE("b.tif", 0, 0, 40, 40, 20, 2, 40, 40)));
    write_mosaic(w, "s.vrt", 70, 50,
                 BAND("1", NODATA SIMPLE("b.tif", 0, 0, 40, 40, 0, 0, 40, 40)
                               SIMPLE("a.tif", 15, 0, 10, 40, 0, 2, 20, 40)));
    write_mosaic(w, "p.vrt", 50, 40,
                 BAND("1", NODATA SIMPLE("i.vrt", 9, 3, 45, 36, 2, 1, 45, 36)));
    for (size_t i = 0; i < sizeof cases / sizeof *cases; i++) {
        char bands[4096];
        snprintf(bands, sizeof bands, BAND("1", NODATA "%s"), cases[i].source);
        write_mosaic(w, "m.vrt", COLS, ROWS, bands);
        assert_in_range(assert_as_gdal(w, 1, cases[i].what), cases[i].heights, COLS * ROWS);
    }
}

/* Cells that an inner mosaic does not have: refused, never void in silence. */
static void cells_past_the_end_of_an_inner_mosaic(void **state)
{
    world *w = *state;
    static const char *const sources[] = {SIMPLE("i.vrt", 10, 0, 31, 30, 4, 3, 31, 30),
                                          SIMPLE("i.vrt", 0, 20, 30, 21, 4, 3, 30, 21)};
    const brant_dem_options options = {.scale_m = -1};
    make_tile(w, "a.tif", 1000);
    write_mosaic(w, "i.vrt", TILE, TILE,
                 BAND("1", NODATA SIMPLE("a.tif", 0, 0, 40, 40, 0, 0, 40, 40)));
    for (int i = 0; i < 2; i++) {
        char bands[4096];
        brant_dem dem;
        snprintf(bands, sizeof bands, BAND("1", NODATA "%s"), sources[i]);
        write_mosaic(w, "m.vrt", COLS, ROWS, bands);
        assert_int_equal(brant_dem_open(&w->ctx, at(w, "m.vrt"), &options, &dem), BRANT_ERR_INPUT);
        assert_non_null(strstr(brant_message(&w->ctx), "fewer than its mosaic takes"));
        brant_forgive(&w->ctx);
    }
}

static void each_band_of_a_mosaic(void **state)
{
    world *w = *state;
    make_tile(w, "a.tif", 1000);
    make_tile(w, "b.tif", 5000);
    write_mosaic(w, "m.vrt", COLS, ROWS,
                 BAND("1", NODATA SIMPLE("a.tif", 0, 0, 40, 40, 0, 2, 40, 40))
                 BAND("2", NODATA SIMPLE("b.tif", 0, 0, 40, 40, 20, 2, 40, 40)));
    assert_int_equal(assert_as_gdal(w, 1, "band 1"), 1599);
    assert_int_equal(assert_as_gdal(w, 2, "band 2"), 1599);
}

static void a_missing_tile_is_void_and_said(void **state)
{
    world *w = *state;
    brant_dem dem;
    make_tile(w, "a.tif", 1000);
    write_mosaic(w, "m.vrt", COLS, ROWS,
                 BAND("1", NODATA SIMPLE("a.tif", 0, 0, 30, 40, 0, 0, 30, 40)
                               SIMPLE("gone.tif", 0, 0, 40, 40, 30, 0, 40, 40)));
    open_dem(w, at(w, "m.vrt"), NULL, &dem);
    assert_non_null(strstr(w->logged, "1 of its 2 tiles are not there"));
    float *z = read_all(w, &dem);
    assert_true(z[29] == 1000 + 29 * 0.25 && isnan(z[30]));
    free(z);
    brant_dem_close(&dem);
    write_mosaic(w, "m.vrt", COLS, ROWS,
                 BAND("1", NODATA SIMPLE("gone.tif", 0, 0, 40, 40, 30, 0, 40, 40)));
    refuse_dem(w, at(w, "m.vrt"), NULL, BRANT_ERR_INPUT, "none of its tiles is there");
}

/* Values that only an inner mosaic declares void: GDAL hands them on as heights. */
static void an_inner_mosaics_voids_are_void(void **state)
{
    world *w = *state;
    const brant_dem_options options = {.scale_m = -1};
    brant_dem dem;
    make_tile(w, "a.tif", 1000);
    write_mosaic(w, "i.vrt", TILE, TILE,
                 BAND("1", "<NoDataValue>1100</NoDataValue>"
                      SOURCE("ComplexSource", "a.tif", "1", 0, 0, 40, 40,
                             0, 0, 40, 40, "<NODATA>1200</NODATA>")));
    write_mosaic(w, "m.vrt", COLS, ROWS,
                 BAND("1", "<NoDataValue>1300</NoDataValue>"
                      SOURCE("ComplexSource", "i.vrt", "1", 0, 0, 40, 40,
                             4, 3, 40, 40, "<NODATA>1350</NODATA>")));
    open_dem(w, at(w, "m.vrt"), &options, &dem);
    float *z = read_all(w, &dem);
    for (int i = 0; i < TILE * TILE; i++) {
        float height = 1000 + (float)i / 4, found = z[(i / TILE + 3) * COLS + i % TILE + 4];
        if (i == 17 * TILE + 23 || i == 400 || i == 800 || i == 1200 || i == 1400)
            assert_true(isnan(found));
        else
            assert_true(found == height);
    }
    free(z);
    brant_dem_close(&dem);
}

/* What an inner mosaic says of its heights holds where the outer one says nothing. */
static void an_inner_mosaics_offset_and_scale(void **state)
{
    world *w = *state;
    static const struct {
        const char *inner, *outer;
        float first; /* 1,000 as stored */
    } cases[] = {
        {"", "", 1000},
        {"<Offset>100</Offset>", "", 1100},
        {"", "<Offset>100</Offset>", 1100},
        {"<Offset>100</Offset>", "<Offset>100</Offset>", 1100},
        {"<Scale>0.5</Scale>", "", 500},
        {"<Scale>0.5</Scale><Offset>100</Offset>", "", 600},
        {"", "<Scale>0.5</Scale><Offset>100</Offset>", 600},
        {"<Scale>0.5</Scale>", "<Scale>0.5</Scale><Offset>100</Offset>", 600},
        {"<Offset>100</Offset>", "<Scale>0.5</Scale><Offset>100</Offset>", 600},
    };
    const brant_dem_options options = {.scale_m = -1};
    make_tile(w, "a.tif", 1000);
    for (size_t i = 0; i < sizeof cases / sizeof *cases; i++) {
        char bands[4096];
        brant_dem dem;
        snprintf(bands, sizeof bands, BAND("1", "%s" NODATA
                 SIMPLE("a.tif", 0, 0, 40, 40, 0, 0, 40, 40)), cases[i].inner);
        write_mosaic(w, "i.vrt", TILE, TILE, bands);
        snprintf(bands, sizeof bands, BAND("1", "%s" NODATA
                 SIMPLE("i.vrt", 0, 0, 40, 40, 0, 0, 40, 40)), cases[i].outer);
        write_mosaic(w, "m.vrt", TILE, TILE, bands);
        open_dem(w, at(w, "m.vrt"), &options, &dem);
        float *z = read_all(w, &dem);
        assert_true(z[0] == cases[i].first);
        assert_true(isnan(z[17 * TILE + 23]));
        free(z);
        brant_dem_close(&dem);
    }
}

/* TILE x TILE cells in blocks of 16 x 16, all written but one; -1: all. */
static void make_sparse(world *w, const char *name, int but)
{
    double cells[16 * 16];
    char **sparse = CSLSetNameValue(NULL, "SPARSE_OK", "YES");
    sparse = CSLSetNameValue(sparse, "TILED", "YES");
    sparse = CSLSetNameValue(sparse, "BLOCKXSIZE", "16");
    sparse = CSLSetNameValue(sparse, "BLOCKYSIZE", "16");
    GDALDatasetH d = make_raster("GTiff", at(w, name), TILE, TILE, 1, GDT_Float32, sparse);
    CSLDestroy(sparse);
    for (int i = 0; i < 16 * 16; i++)
        cells[i] = 1000 + i;
    for (int block = 0; block < 9; block++) {
        int x = block % 3 * 16, y = block / 3 * 16;
        int cols = x + 16 > TILE ? TILE - x : 16, rows = y + 16 > TILE ? TILE - y : 16;
        if (block != but)
            assert_int_equal(GDALRasterIO(GDALGetRasterBand(d, 1), GF_Write, x, y, cols, rows,
                                          cells, cols, rows, GDT_Float64, 0, 0), CE_None);
    }
    done(d);
}

/* A mosaic that is read as a whole, of a tile with a block that was never written: it would
 * hand on 0 there, and is refused; in a mosaic, too. */
static void a_block_that_was_never_written(void **state)
{
    world *w = *state;
    const brant_dem_options options = {.scale_m = -1};
    const char *stretched = BAND("1", NODATA SIMPLE("a.tif", 0, 0, 20, 20, 0, 0, 40, 40));
    make_tile(w, "b.tif", 5000);
    write_mosaic(w, "i.vrt", TILE, TILE, stretched);
    for (int but = -1; but < 9; but++)
        for (int inner = 0; inner < 2; inner++) {
            brant_dem dem;
            make_sparse(w, "a.tif", but);
            write_mosaic(w, "m.vrt", COLS, ROWS,
                         inner ? BAND("1", NODATA SIMPLE("b.tif", 0, 0, 20, 40, 45, 0, 20, 40)
                                               SIMPLE("i.vrt", 0, 0, 40, 40, 0, 0, 40, 40))
                               : stretched);
            assert_int_equal(brant_dem_open(&w->ctx, at(w, "m.vrt"), &options, &dem),
                             but < 0 ? BRANT_OK : BRANT_ERR_INPUT);
            if (but < 0)
                brant_dem_close(&dem);
            else
                assert_non_null(strstr(brant_message(&w->ctx), "has gaps and no nodata value"));
            brant_forgive(&w->ctx);
        }
}

/* Gaps and voids where the mosaic declares no nodata value, of every kind of number. */
static void gaps_of_every_type(void **state)
{
    world *w = *state;
    static const char *const types[] = {"Byte", "UInt16", "Int16", "Int32", "Float32", "Float64"};
    const brant_dem_options options = {.scale_m = -1};
    make_tile(w, "a.tif", 0);
    for (size_t i = 0; i < sizeof types / sizeof *types; i++)
        for (int whole = 0; whole < 2; whole++) {
            char bands[4096];
            brant_dem dem;
            snprintf(bands, sizeof bands,
                     "<VRTRasterBand dataType=\"%s\" band=\"1\">%s</VRTRasterBand>", types[i],
                     whole ? SOURCE("ComplexSource", "a.tif", "1", 0, 0, 20, 20, 10, 10, 40, 40,
                                    "<NODATA>-9999</NODATA>")
                           : SIMPLE("a.tif", 0, 0, 20, 20, 10, 10, 20, 20));
            write_mosaic(w, "m.vrt", COLS, ROWS, bands);
            open_dem(w, at(w, "m.vrt"), &options, &dem);
            float *z = read_all(w, &dem);
            assert_true(z[10 * COLS + 10] == 0); /* no void: at sea level */
            for (int k = 0; k < COLS * ROWS; k++) {
                int edge = whole ? 50 : 30, col = k % COLS, row = k / COLS;
                bool in = col >= 10 && col < edge && row >= 10 && row < edge;
                assert_int_equal(!isnan(z[k]), in);
            }
            free(z);
            brant_dem_close(&dem);
        }
}

/* TILE x TILE cells with one void, by a mask within the file. */
static void make_masked(world *w, const char *name)
{
    double cells[TILE * TILE], mask[TILE * TILE];
    CPLSetConfigOption("GDAL_TIFF_INTERNAL_MASK", "YES");
    GDALDatasetH d = make_tif(at(w, name), TILE, TILE, GDT_Float32);
    for (int i = 0; i < TILE * TILE; i++) {
        cells[i] = 1000 + i * 0.25;
        mask[i] = i == 17 * TILE + 23 ? 0 : 255;
    }
    put_cells(d, 1, cells);
    assert_int_equal(GDALCreateDatasetMaskBand(d, GMF_PER_DATASET), CE_None);
    assert_int_equal(GDALRasterIO(GDALGetMaskBand(GDALGetRasterBand(d, 1)), GF_Write, 0, 0, TILE,
                                  TILE, mask, TILE, TILE, GDT_Float64, 0, 0), CE_None);
    done(d);
    CPLSetConfigOption("GDAL_TIFF_INTERNAL_MASK", NULL);
}

/* A mask that is not just that of the cells laid down takes away what it does not cover. */
static void a_mosaics_mask_counts(void **state)
{
    world *w = *state;
    static const struct {
        const char *what, *laid, *mask;
        int heights;
    } cases[] = {
        {"the same", SIMPLE("a.tif", 0, 0, 40, 40, 4, 3, 40, 40),
         SOURCE("SimpleSource", "a.tif", "mask,1", 0, 0, 40, 40, 4, 3, 40, 40, ""), 1599},
        {"fewer cells", SIMPLE("a.tif", 0, 0, 40, 40, 4, 3, 40, 40),
         SOURCE("SimpleSource", "a.tif", "mask,1", 0, 0, 30, 40, 14, 3, 30, 40, ""), 1199},
        {"elsewhere", SIMPLE("a.tif", 0, 0, 40, 40, 30, 20, 40, 40),
         SOURCE("SimpleSource", "a.tif", "mask,1", 0, 0, 40, 40, 35, 20, 40, 40, ""), 1399},
        {"of other cells", SIMPLE("a.tif", 0, 0, 39, 39, 4, 3, 39, 39),
         SOURCE("SimpleSource", "a.tif", "mask,1", 1, 1, 39, 39, 4, 3, 39, 39, ""), 1520},
        {"of one of two", SIMPLE("a.tif", 0, 0, 20, 40, 4, 3, 20, 40)
                          SIMPLE("a.tif", 20, 0, 20, 40, 24, 3, 20, 40),
         SOURCE("SimpleSource", "a.tif", "mask,1", 0, 0, 20, 40, 4, 3, 20, 40, ""), 800},
        {"none", SIMPLE("a.tif", 0, 0, 40, 40, 4, 3, 40, 40), "", 0},
    };
    make_masked(w, "a.tif");
    for (size_t i = 0; i < sizeof cases / sizeof *cases; i++) {
        char bands[4096];
        snprintf(bands, sizeof bands,
                 BAND("1", "%s")
                 "<MaskBand><VRTRasterBand dataType=\"Byte\">%s</VRTRasterBand></MaskBand>",
                 cases[i].laid, cases[i].mask);
        write_mosaic(w, "m.vrt", COLS, ROWS, bands);
        if (cases[i].heights > 0)
            assert_in_range(assert_as_gdal(w, 1, cases[i].what), cases[i].heights, 1599);
        else
            refuse_dem(w, at(w, "m.vrt"), NULL, BRANT_ERR_INPUT, "every cell is void");
    }
}

/* As a band of its own, or of one band. */
static void a_band_that_masks(void **state)
{
    world *w = *state;
#define LAID SIMPLE("a.tif", 0, 0, 40, 40, 30, 20, 40, 40)
#define MASK SOURCE("SimpleSource", "a.tif", "mask,1", 0, 0, 40, 40, 35, 20, 40, 40, "")
    static const char *const bands[] = {
        BAND("1", LAID) "<VRTRasterBand dataType=\"Byte\" band=\"2\"><ColorInterp>Alpha"
        "</ColorInterp>" MASK "</VRTRasterBand>",
        BAND("1", LAID "<MaskBand><VRTRasterBand dataType=\"Byte\">" MASK
             "</VRTRasterBand></MaskBand>"),
    };
    make_masked(w, "a.tif");
    for (int i = 0; i < 2; i++) {
        write_mosaic(w, "m.vrt", COLS, ROWS, bands[i]);
        assert_int_equal(assert_as_gdal(w, 1, i == 0 ? "alpha" : "of a band"), 1399);
    }
}

/* Resampled in a way that depends on the window: refused by name, however deep. */
static void ways_of_resampling_that_are_refused(void **state)
{
    world *w = *state;
    static const char *const ways[] = {"average", "Gauss", "mode", "rms"};
    static const char *const outer[] = {
        SIMPLE("i.vrt", 0, 0, 40, 40, 4, 3, 40, 40), SIMPLE("i.vrt", 0, 0, 20, 20, 4, 3, 40, 40)};
    const brant_dem_options options = {.scale_m = -1};
    make_tile(w, "a.tif", 1000);
    for (int i = 0; i < 24; i++) {
        const char *kind = i % 2 ? "SimpleSource" : "ComplexSource";
        char bands[4096];
        brant_dem dem;
        snprintf(bands, sizeof bands,
                 BAND("1", NODATA "<%s resampling=\"%s\"><SourceFilename relativeToVRT=\"1\">a.tif"
                      "</SourceFilename><SourceBand>1</SourceBand><SrcRect xOff=\"0\" yOff=\"0\" "
                      "xSize=\"40\" ySize=\"40\"/><DstRect xOff=\"0\" yOff=\"0\" xSize=\"30\" "
                      "ySize=\"30\"/></%s>"), kind, ways[i / 2 % 4], kind);
        write_mosaic(w, i < 8 ? "m.vrt" : "i.vrt", TILE, TILE, bands);
        if (i >= 8) {
            snprintf(bands, sizeof bands, BAND("1", NODATA "%s"), outer[i / 8 - 1]);
            write_mosaic(w, "m.vrt", COLS, ROWS, bands);
        }
        assert_int_equal(brant_dem_open(&w->ctx, at(w, "m.vrt"), &options, &dem), BRANT_ERR_INPUT);
        assert_non_null(strstr(brant_message(&w->ctx), "resamples its sources by"));
        brant_forgive(&w->ctx);
    }
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test_setup_teardown(cells_are_where_gdal_has_them, set_up, tear_down),
        cmocka_unit_test_setup_teardown(cells_of_a_mosaic_in_a_mosaic, set_up, tear_down),
        cmocka_unit_test_setup_teardown(cells_past_the_end_of_an_inner_mosaic, set_up, tear_down),
        cmocka_unit_test_setup_teardown(each_band_of_a_mosaic, set_up, tear_down),
        cmocka_unit_test_setup_teardown(a_missing_tile_is_void_and_said, set_up, tear_down),
        cmocka_unit_test_setup_teardown(an_inner_mosaics_voids_are_void, set_up, tear_down),
        cmocka_unit_test_setup_teardown(an_inner_mosaics_offset_and_scale, set_up, tear_down),
        cmocka_unit_test_setup_teardown(a_block_that_was_never_written, set_up, tear_down),
        cmocka_unit_test_setup_teardown(gaps_of_every_type, set_up, tear_down),
        cmocka_unit_test_setup_teardown(a_band_that_masks, set_up, tear_down),
        cmocka_unit_test_setup_teardown(ways_of_resampling_that_are_refused, set_up, tear_down),
        cmocka_unit_test_setup_teardown(a_mosaics_mask_counts, set_up, tear_down),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
