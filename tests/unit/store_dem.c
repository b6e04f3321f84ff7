/* Elevation models: placed, given a unit, voids told from terrain. Expected
 * values are what the test itself stored. */
#include "store_keys.h"

#include "near.h"

#include <float.h>
#include <gdalwarper.h>

/* ---- what is void ------------------------------------------------------- */

static void nodata_of_the_bands_own_type_is_void(void **state)
{
    world *w = *state;
    brant_dem dem;
    /* -3.4028235e38 as text is nearer to another double than the float stored */
    double cells[4] = {-FLT_MAX, 100.5, 2000, -9999};
    GDALDatasetH d = make_tif(at(w, "a.tif"), 2, 2, GDT_Float32);
    put_cells(d, 1, cells);
    GDALSetRasterNoDataValue(GDALGetRasterBand(d, 1), -3.4028235e38);
    done(d);
    brant_dem_options options = {.nodata = (double[]){-9999}, .nodata_count = 1};
    open_dem(w, at(w, "a.tif"), &options, &dem);
    float *z = read_all(w, &dem);
    assert_nan(z[0]);
    assert_near(z[1], 100.5, 0);
    assert_near(z[2], 2000, 0);
    assert_nan(z[3]);
    assert_int_equal(w->warnings, 0);
    free(z);
    brant_dem_close(&dem);
}

static void whole_number_nodata_is_void(void **state)
{
    world *w = *state;
    brant_dem dem;
    double cells[4] = {-32768, 7, 0, -32767};
    GDALDatasetH d = make_tif(at(w, "a.tif"), 2, 2, GDT_Int16);
    put_cells(d, 1, cells);
    GDALSetRasterNoDataValue(GDALGetRasterBand(d, 1), -32768);
    done(d);
    open_dem(w, at(w, "a.tif"), NULL, &dem);
    float *z = read_all(w, &dem);
    assert_nan(z[0]);
    assert_near(z[1], 7, 0);
    assert_near(z[2], 0, 0); /* the sea is no void */
    assert_nan(z[3]);        /* nobody declared it: void with a warning */
    assert_int_equal(w->warnings, 1);
    assert_non_null(strstr(w->logged, "--nodata -32767"));
    free(z);
    z = read_all(w, &dem);
    assert_int_equal(w->warnings, 1); /* once a model */
    free(z);
    brant_dem_close(&dem);
}

static void nan_and_infinity_are_void_in_doubles(void **state)
{
    world *w = *state;
    brant_dem dem;
    double cells[6] = {NAN, INFINITY, -INFINITY, 1234.125, -1.79e308, 8849};
    GDALDatasetH d = make_tif(at(w, "a.tif"), 3, 2, GDT_Float64);
    put_cells(d, 1, cells);
    GDALSetRasterNoDataValue(GDALGetRasterBand(d, 1), -1.79e308);
    done(d);
    open_dem(w, at(w, "a.tif"), NULL, &dem);
    float *z = read_all(w, &dem);
    assert_nan(z[0]);
    assert_nan(z[1]);
    assert_nan(z[2]);
    assert_near(z[3], 1234.125, 0);
    assert_nan(z[4]);
    assert_near(z[5], 8849, 0);
    assert_int_equal(w->warnings, 0);
    free(z);
    brant_dem_close(&dem);
}

static void a_mask_band_hides_cells(void **state)
{
    world *w = *state;
    brant_dem dem;
    double cells[4] = {10, 20, 30, 40};
    uint8_t mask[4] = {255, 0, 255, 255};
    CPLSetThreadLocalConfigOption("GDAL_TIFF_INTERNAL_MASK", "YES");
    GDALDatasetH d = make_tif(at(w, "a.tif"), 2, 2, GDT_Int16);
    GDALCreateDatasetMaskBand(d, GMF_PER_DATASET);
    put_cells(d, 1, cells);
    assert_int_equal(GDALRasterIO(GDALGetMaskBand(GDALGetRasterBand(d, 1)), GF_Write, 0, 0, 2, 2,
                                  mask, 2, 2, GDT_Byte, 0, 0),
                     CE_None);
    done(d);
    CPLSetThreadLocalConfigOption("GDAL_TIFF_INTERNAL_MASK", NULL);
    open_dem(w, at(w, "a.tif"), NULL, &dem);
    float *z = read_all(w, &dem);
    assert_near(z[0], 10, 0);
    assert_nan(z[1]);
    assert_near(z[3], 40, 0);
    free(z);
    brant_dem_close(&dem);
}

/* Blocks never written read as 0; they are no sea. */
static void sparse_blocks_are_void(void **state)
{
    world *w = *state;
    brant_dem dem;
    char *options[] = {"TILED=YES", "BLOCKXSIZE=16", "BLOCKYSIZE=16", "SPARSE_OK=YES", NULL};
    float block[256];
    for (int i = 0; i < 256; i++)
        block[i] = (float)i;
    GDALDatasetH d = make_raster("GTiff", at(w, "a.tif"), 40, 40, 1, GDT_Float32, options);
    assert_int_equal(GDALWriteBlock(GDALGetRasterBand(d, 1), 1, 1, block), CE_None);
    done(d);
    open_dem(w, at(w, "a.tif"), NULL, &dem);
    float *z = read_all(w, &dem);
    for (int row = 0; row < 40; row++)
        for (int col = 0; col < 40; col++) {
            bool data = row >= 16 && row < 32 && col >= 16 && col < 32;
            float value = z[row * 40 + col];
            if (data)
                assert_near(value, (row - 16) * 16 + col - 16, 0);
            else
                assert_nan(value);
        }
    free(z);
    brant_dem_close(&dem);
}

static void write_mosaic(world *w, const char *band_extra, const char *source)
{
    char text[4096];
    snprintf(text, sizeof text,
             "<VRTDataset rasterXSize=\"70\" rasterYSize=\"30\"><SRS>EPSG:32632</SRS>"
             "<GeoTransform>600000, 10, 0, 5200000, 0, -10</GeoTransform>"
             "<VRTRasterBand dataType=\"Float32\" band=\"1\">%s%s</VRTRasterBand></VRTDataset>",
             band_extra, source);
    put_text(at(w, "m.vrt"), text);
}

#define SOURCE(kind, file, x, extra)                                                               \
    "<" kind "><SourceFilename relativeToVRT=\"1\">" file                                          \
    "</SourceFilename><SourceBand>1</SourceBand>"                                                  \
    "<SrcRect xOff=\"0\" yOff=\"0\" xSize=\"20\" ySize=\"20\"/>"                                   \
    "<DstRect xOff=\"" x "\" yOff=\"3\" xSize=\"20\" ySize=\"20\"/>" extra "</" kind ">"

static void make_tile(world *w, const char *name, double value)
{
    double cells[400];
    for (int i = 0; i < 400; i++)
        cells[i] = value;
    GDALDatasetH d = make_tif(at(w, name), 20, 20, GDT_Float32);
    put_cells(d, 1, cells);
    done(d);
}

static void gaps_of_a_mosaic_are_void(void **state)
{
    world *w = *state;
    brant_dem dem;
    make_tile(w, "t1.tif", 100);
    make_tile(w, "t2.tif", 200);
    write_mosaic(w, "", SOURCE("SimpleSource", "t1.tif", "0", "")
                            SOURCE("SimpleSource", "t2.tif", "37", ""));
    open_dem(w, at(w, "m.vrt"), NULL, &dem);
    assert_string_equal(dem.driver, "VRT");
    float *z = read_all(w, &dem);
    for (int row = 0; row < 30; row++)
        for (int col = 0; col < 70; col++) {
            bool in = row >= 3 && row < 23;
            float value = z[row * 70 + col];
            if (in && col < 20)
                assert_near(value, 100, 0);
            else if (in && col >= 37 && col < 57)
                assert_near(value, 200, 0);
            else
                assert_nan(value);
        }
    free(z);
    brant_dem_close(&dem);
}

/* A source's voids leave 0 in a mosaic that declares no nodata value itself. */
static void voids_of_a_mosaics_source_are_void(void **state)
{
    world *w = *state;
    brant_dem dem;
    static const char *const declared[] = {"", "<NoDataValue>-9999</NoDataValue>"};
    double cells[400];
    for (int i = 0; i < 400; i++)
        cells[i] = i == 0 ? -9999 : 100;
    GDALDatasetH d = make_tif(at(w, "t1.tif"), 20, 20, GDT_Int16);
    put_cells(d, 1, cells);
    done(d);
    for (int i = 0; i < 2; i++) {
        write_mosaic(w, declared[i],
                     SOURCE("ComplexSource", "t1.tif", "0", "<NODATA>-9999</NODATA>"));
        open_dem(w, at(w, "m.vrt"), NULL, &dem);
        float *z = read_all(w, &dem);
        assert_nan(z[0]);
        assert_nan(z[3 * 70]);
        assert_near(z[3 * 70 + 1], 100, 0);
        assert_nan(z[3 * 70 + 20]);
        free(z);
        brant_dem_close(&dem);
    }
    assert_int_equal(w->warnings, 0);
}

static void a_mosaic_that_hides_its_voids_is_refused(void **state)
{
    world *w = *state;
    make_tile(w, "t1.tif", 100);
    GDALDatasetH tile = GDALOpen(at(w, "t1.tif"), GA_ReadOnly);
    GDALDatasetH warped = GDALAutoCreateWarpedVRT(tile, NULL, NULL, GRA_Bilinear, 0, NULL);
    assert_non_null(warped);
    GDALSetDescription(warped, at(w, "m.vrt"));
    GDALClose(warped);
    GDALClose(tile);
    refuse_dem(w, at(w, "m.vrt"), NULL, BRANT_ERR_INPUT, "without a nodata value");
}

/* ---- the network -------------------------------------------------------- */

static void nothing_is_taken_from_the_network(void **state)
{
    world *w = *state;
    static const char *const names[] = {"ftp://localhost:1/a.tif", "/vsimem/a.tif",
                                        "/vsicurl?url=http://localhost:1/a.tif",
                                        "/vsizip//vsicurl/http://localhost:1/a.zip/a.tif",
                                        "/vsis3/a/a.tif", "<VRTDataset/>", NULL};
    for (int i = 0; names[i]; i++)
        refuse_dem(w, names[i], NULL, BRANT_ERR_INPUT, "no addresses");
    write_mosaic(w, "",
                 SOURCE("SimpleSource", "/vsicurl/http://localhost:1/t.tif", "0", ""));
    refuse_dem(w, at(w, "m.vrt"), NULL, BRANT_ERR_INPUT, "no file on this machine");
    write_mosaic(w, "", SOURCE("ComplexSource", "HTTPS://localhost:1/t.tif", "0", ""));
    refuse_dem(w, at(w, "m.vrt"), NULL, BRANT_ERR_INPUT, "no file on this machine");
}

/* ---- refusals ----------------------------------------------------------- */

static void a_file_that_is_no_model_is_refused(void **state)
{
    world *w = *state;
    double cell = 5, nodata[4] = {-1, -1, -1, -1};
    refuse_dem(w, at(w, "none.tif"), NULL, BRANT_ERR_INPUT, "No such file");
    refuse_dem(w, w->folder, NULL, BRANT_ERR_INPUT, "no tiles in this folder");
    put_text(at(w, "text.tif"), "not a raster");
    refuse_dem(w, at(w, "text.tif"), NULL, BRANT_ERR_INPUT, "not a raster");
    put_text(at(w, "empty.tif"), "");
    refuse_dem(w, at(w, "empty.tif"), NULL, BRANT_ERR_INPUT, "not a raster");

    GDALDatasetH d = GDALCreate(GDALGetDriverByName("GTiff"), at(w, "nocrs.tif"), 1, 1, 1,
                                GDT_Int16, NULL);
    GDALSetGeoTransform(d, (double[]){0, 1, 0, 0, 0, -1});
    put_cells(d, 1, &cell);
    done(d);
    refuse_dem(w, at(w, "nocrs.tif"), NULL, BRANT_ERR_INPUT, "no coordinate reference system");

    d = make_tif(at(w, "void.tif"), 2, 2, GDT_Int16);
    put_cells(d, 1, nodata);
    GDALSetRasterNoDataValue(GDALGetRasterBand(d, 1), -1);
    done(d);
    refuse_dem(w, at(w, "void.tif"), NULL, BRANT_ERR_INPUT, "every cell is void");

    d = make_tif(at(w, "complex.tif"), 1, 1, GDT_CFloat32);
    done(d);
    refuse_dem(w, at(w, "complex.tif"), NULL, BRANT_ERR_INPUT, "complex");
}

static void a_raster_without_a_place_is_refused(void **state)
{
    world *w = *state;
    double cells[4] = {1, 2, 3, 4};
    GDALDatasetH d = GDALCreate(GDALGetDriverByName("GTiff"), at(w, "noplace.tif"), 2, 2, 1,
                                GDT_Int16, NULL);
    OGRSpatialReferenceH crs = OSRNewSpatialReference(NULL);
    OSRImportFromEPSG(crs, 4326);
    GDALSetSpatialRef(d, crs);
    put_cells(d, 1, cells);
    done(d);
    refuse_dem(w, at(w, "noplace.tif"), NULL, BRANT_ERR_INPUT, "no geotransform");
    OSRDestroySpatialReference(crs);
}

static void bands_are_counted(void **state)
{
    world *w = *state;
    brant_dem dem;
    double one[4] = {1, 1, 1, 1}, two[4] = {2, 2, 2, 2};
    GDALDatasetH d = make_raster("GTiff", at(w, "a.tif"), 2, 2, 2, GDT_Int16, NULL);
    put_cells(d, 1, one);
    put_cells(d, 2, two);
    done(d);
    refuse_dem(w, at(w, "a.tif"), &(brant_dem_options){.band = 3}, BRANT_ERR_USAGE, "no band 3");
    open_dem(w, at(w, "a.tif"), &(brant_dem_options){.band = 2}, &dem);
    assert_int_equal(w->warnings, 0);
    float *z = read_all(w, &dem);
    assert_near(z[0], 2, 0);
    free(z);
    brant_dem_close(&dem);
    open_dem(w, at(w, "a.tif"), NULL, &dem);
    assert_int_equal(dem.band, 1);
    assert_int_equal(w->warnings, 1);
    assert_non_null(strstr(w->logged, "2 bands"));
    brant_dem_close(&dem);
}

/* ---- vertical units ----------------------------------------------------- */

static float first_cell(world *w, const brant_dem_options *options, const char *from)
{
    brant_dem dem;
    open_dem(w, at(w, "u.tif"), options, &dem);
    assert_string_equal(dem.unit_from, from);
    float *z = read_all(w, &dem);
    float value = z[0];
    free(z);
    brant_dem_close(&dem);
    return value;
}

static GDALDatasetH make_thousand(world *w, const char *unit, int epsg)
{
    double cell = 1000;
    GDALDatasetH d = make_tif(at(w, "u.tif"), 1, 1, GDT_Float32);
    put_cells(d, 1, &cell);
    if (unit)
        GDALSetRasterUnitType(GDALGetRasterBand(d, 1), unit);
    if (epsg) {
        OGRSpatialReferenceH crs = OSRNewSpatialReference(NULL);
        assert_int_equal(OSRImportFromEPSG(crs, epsg), OGRERR_NONE);
        GDALSetSpatialRef(d, crs);
        OSRDestroySpatialReference(crs);
    }
    return d;
}

/* EPSG: 9002 is 0.3048 m, 9003 is 12/39.37 m. */
static void heights_become_metres(void **state)
{
    world *w = *state;
    brant_dem_options feet = {.vertical_unit = "ft"}, us = {.vertical_unit = "us-ft"},
                      bad = {.vertical_unit = "yards"};
    done(make_thousand(w, NULL, 0));
    assert_near(first_cell(w, NULL, "assumed"), 1000, 0);
    assert_non_null(strstr(w->logged, "no vertical unit stated, metres assumed"));
    assert_int_equal(w->notes, 1);
    assert_near(first_cell(w, &feet, "option"), 304.8, 1e-4);
    assert_near(first_cell(w, &us, "option"), 12000 / 39.37, 1e-4);
    brant_dem dem;
    assert_int_equal(brant_dem_open(&w->ctx, at(w, "u.tif"), &bad, &dem), BRANT_ERR_USAGE);
    assert_string_equal(brant_message(&w->ctx), "vertical unit 'yards': not m, ft, us-ft or dm");
}

static void the_bands_unit_counts(void **state)
{
    world *w = *state;
    done(make_thousand(w, "US survey foot", 0));
    assert_near(first_cell(w, NULL, "band"), 12000 / 39.37, 1e-4);
    done(make_thousand(w, "ft", 0));
    assert_near(first_cell(w, NULL, "band"), 304.8, 1e-4);
    done(make_thousand(w, "m", 0));
    assert_near(first_cell(w, NULL, "band"), 1000, 0);
    done(make_thousand(w, "fathom", 0));
    refuse_dem(w, at(w, "u.tif"), NULL, BRANT_ERR_INPUT, "'fathom'");
    assert_int_equal(w->notes, 0);
    assert_int_equal(w->warnings, 0);
}

/* EPSG:8228 is NAVD88 height in international feet. */
static void the_crs_vertical_axis_counts(void **state)
{
    world *w = *state;
    brant_dem dem;
    double cell = 1000;
    char *options[] = {"GEOTIFF_VERSION=1.1", NULL};
    GDALDatasetH d = make_raster("GTiff", at(w, "u.tif"), 1, 1, 1, GDT_Float32, options);
    OGRSpatialReferenceH crs = OSRNewSpatialReference(NULL);
    assert_int_equal(OSRSetFromUserInput(crs, "EPSG:26912+8228"), OGRERR_NONE);
    GDALSetSpatialRef(d, crs);
    OSRDestroySpatialReference(crs);
    put_cells(d, 1, &cell);
    done(d);
    assert_near(first_cell(w, NULL, "CRS"), 304.8, 1e-4);
    open_dem(w, at(w, "u.tif"), NULL, &dem);
    /* what we write is in metres: the vertical part must be gone */
    assert_null(strstr(dem.grid.crs, "COMPOUND"));
    assert_null(strstr(dem.grid.crs, "VERT"));
    brant_dem_close(&dem);
}

/* GeoKeys alone: a VerticalUnitsGeoKey without a vertical CRS. */
static void the_raw_geokeys_count(void **state)
{
    world *w = *state;
    static const struct {
        int code;
        double metres;
    } cases[] = {{9001, 1000}, {9002, 304.8}, {9003, 12000 / 39.37}};
    for (size_t i = 0; i < sizeof cases / sizeof cases[0]; i++) {
        done(make_thousand(w, NULL, 0));
        put_key(at(w, "u.tif"), VerticalUnitsGeoKey, cases[i].code);
        assert_near(first_cell(w, NULL, "GeoKeys"), cases[i].metres, 1e-4);
    }
    assert_int_equal(w->notes + w->warnings, 0);
    put_key(at(w, "u.tif"), VerticalUnitsGeoKey, 9014); /* fathom */
    refuse_dem(w, at(w, "u.tif"), NULL, BRANT_ERR_INPUT, "'fathom'");
    assert_near(first_cell(w, &(brant_dem_options){.vertical_unit = "m"}, "option"), 1000, 0);
}

/* Two statements that differ: said, with the one that was taken. */
static void conflicts_of_units_are_said(void **state)
{
    world *w = *state;
    done(make_thousand(w, "ft", 0));
    put_key(at(w, "u.tif"), VerticalUnitsGeoKey, 9001);
    assert_near(first_cell(w, NULL, "band"), 304.8, 1e-4);
    assert_int_equal(w->warnings, 1);
    assert_non_null(strstr(w->logged, "0.3048 m by its band, of 1 m by its GeoKeys: the band's "
                                      "taken (--vertical-unit)"));
    assert_near(first_cell(w, &(brant_dem_options){.vertical_unit = "m"}, "option"), 1000, 0);
    assert_int_equal(w->warnings, 1);
    put_key(at(w, "u.tif"), VerticalUnitsGeoKey, 9002);
    assert_near(first_cell(w, NULL, "GeoKeys"), 304.8, 1e-4);
    assert_int_equal(w->warnings, 1);
}

static void scale_and_offset_of_the_band_count(void **state)
{
    world *w = *state;
    GDALDatasetH d = make_thousand(w, "ft", 0);
    GDALSetRasterScale(GDALGetRasterBand(d, 1), 0.5);
    GDALSetRasterOffset(GDALGetRasterBand(d, 1), 100);
    done(d);
    assert_near(first_cell(w, NULL, "band"), 600 * 0.3048, 1e-4);
}

/* ---- the working grid --------------------------------------------------- */

static int factor_for(world *w, double cell, double scale_m, brant_dem *dem)
{
    double *z = calloc(101 * 53, sizeof *z);
    assert_non_null(z);
    for (int i = 0; i < 101 * 53; i++)
        z[i] = 200 + i % 101 + 1000.0 * (i / 101 % 2);
    GDALDatasetH d = make_tif(at(w, "g.tif"), 101, 53, GDT_Float32);
    GDALSetGeoTransform(d, (double[]){600000, cell, 0, 5200000, 0, -cell});
    put_cells(d, 1, z);
    done(d);
    free(z);
    open_dem(w, at(w, "g.tif"), &(brant_dem_options){.scale_m = scale_m}, dem);
    return dem->factor;
}

static void fine_models_are_averaged_to_about_five_metres(void **state)
{
    static const struct {
        double cell, scale;
        int factor;
    } cases[] = {{1, 0, 5},    {2, 0, 2},   {2.5, 0, 2}, {0.5, 0, 10}, {3, 0, 2}, {3.9, 0, 1},
                 {5, 0, 1},    {10, 0, 1},  {1, -1, 1},  {1, 10, 10},  {2, 1, 1}, {2, 6, 3},
                 {1.25, 0, 4}, {10, 20, 2}, {10, 4, 1}};
    world *w = *state;
    brant_dem dem;
    for (size_t i = 0; i < sizeof cases / sizeof cases[0]; i++) {
        int factor = factor_for(w, cases[i].cell, cases[i].scale, &dem);
        if (factor != cases[i].factor)
            fail_msg("cell %g, scale %g: factor %d", cases[i].cell, cases[i].scale, factor);
        assert_int_equal(dem.grid.cols, 101 / factor);
        assert_int_equal(dem.grid.rows, 53 / factor);
        assert_near(dem.grid.transform[0], 600000, 0);
        assert_near(dem.grid.transform[1], cases[i].cell * factor, 1e-9);
        assert_near(dem.grid.transform[5], -cases[i].cell * factor, 1e-9);
        brant_dem_close(&dem);
    }
}

static void a_working_cell_that_was_not_asked_for_is_noted(void **state)
{
    world *w = *state;
    brant_dem dem;
    assert_int_equal(factor_for(w, 10, 1, &dem), 1);
    brant_dem_close(&dem);
    assert_non_null(strstr(w->logged, "g.tif: working cell 10 m, not 1 m: "));
    assert_int_equal(factor_for(w, 10, 15, &dem), 1);
    brant_dem_close(&dem);
    assert_non_null(strstr(w->logged, "g.tif: working cell 10 m, not 15 m: "));
    w->logged[0] = '\0';
    assert_int_equal(factor_for(w, 2, 6.5, &dem), 3); /* 6 m: close enough */
    brant_dem_close(&dem);
    assert_int_equal(factor_for(w, 3.9, 0, &dem), 1); /* the default asks for nothing */
    brant_dem_close(&dem);
    assert_null(strstr(w->logged, "working cell"));
}

static void a_working_cell_is_the_mean_of_its_cells(void **state)
{
    world *w = *state;
    brant_dem dem;
    assert_int_equal(factor_for(w, 1, 4, &dem), 4);
    /* columns 0..3: mean 201.5 + 4c; rows alternate by 1000: mean 500 */
    brant_window window = {-1, 5, 4, 2};
    float z[8];
    assert_int_equal(dem.source.read(&dem.source, &w->ctx, &window, z), BRANT_OK);
    for (int row = 0; row < 2; row++) {
        assert_nan(z[row * 4]);
        for (int col = 1; col < 4; col++)
            assert_near(z[row * 4 + col], 701.5 + 4 * (col - 1), 0);
    }
    brant_dem_close(&dem);
}

static void a_working_cell_with_a_void_is_void(void **state)
{
    world *w = *state;
    brant_dem dem;
    double cells[36];
    for (int i = 0; i < 36; i++)
        cells[i] = 10;
    cells[2 * 6 + 2] = -9999;
    GDALDatasetH d = make_tif(at(w, "a.tif"), 6, 6, GDT_Int16);
    put_cells(d, 1, cells);
    GDALSetRasterNoDataValue(GDALGetRasterBand(d, 1), -9999);
    done(d);
    open_dem(w, at(w, "a.tif"), &(brant_dem_options){.scale_m = 30}, &dem);
    assert_int_equal(dem.factor, 3);
    float *z = read_all(w, &dem);
    assert_nan(z[0]);
    assert_near(z[1], 10, 0);
    assert_near(z[3], 10, 0);
    free(z);
    brant_dem_close(&dem);
    refuse_dem(w, at(w, "a.tif"), &(brant_dem_options){.scale_m = 500}, BRANT_ERR_INPUT,
               "less than one working cell");
}

/* ---- reading ------------------------------------------------------------ */

static void outside_the_grid_is_void(void **state)
{
    world *w = *state;
    brant_dem dem;
    double cells[6] = {1, 2, 3, 4, 5, 6};
    float z[25];
    GDALDatasetH d = make_tif(at(w, "a.tif"), 3, 2, GDT_Int16);
    put_cells(d, 1, cells);
    done(d);
    open_dem(w, at(w, "a.tif"), NULL, &dem);
    brant_window window = {-1, -1, 5, 5}, away = {100, -50, 5, 5};
    assert_int_equal(dem.source.read(&dem.source, &w->ctx, &window, z), BRANT_OK);
    for (int row = 0; row < 5; row++)
        for (int col = 0; col < 5; col++)
            if (row >= 1 && row < 3 && col >= 1 && col < 4)
                assert_near(z[row * 5 + col], cells[(row - 1) * 3 + col - 1], 0);
            else
                assert_nan(z[row * 5 + col]);
    assert_int_equal(dem.source.read(&dem.source, &w->ctx, &away, z), BRANT_OK);
    for (int i = 0; i < 25; i++)
        assert_nan(z[i]);
    brant_dem_close(&dem);
}

/* A PixelIsPoint file says where cell centres are, its twin where cells begin:
 * the same grid. Source: OGC 19-008r4, 7.1.2.2 (GTRasterTypeGeoKey). The raw
 * tiepoint is read back to show that the two files differ. */
static void points_and_areas_are_the_same_place(void **state)
{
    world *w = *state;
    brant_dem point, area;
    double cells[4] = {1, 2, 3, 4};
    GDALDatasetH d = make_tif(at(w, "area.tif"), 2, 2, GDT_Int16);
    put_cells(d, 1, cells);
    done(d);
    d = make_tif(at(w, "point.tif"), 2, 2, GDT_Int16);
    GDALSetMetadataItem(d, "AREA_OR_POINT", "Point", NULL);
    put_cells(d, 1, cells);
    done(d);
    size_t sizes[2];
    char *a = get_bytes(at(w, "area.tif"), &sizes[0]);
    char *p = get_bytes(at(w, "point.tif"), &sizes[1]);
    double tiepoint = 600005; /* x of the first centre, stored only by the point file */
    assert_null(memmem(a, sizes[0], &tiepoint, sizeof tiepoint));
    assert_non_null(memmem(p, sizes[1], &tiepoint, sizeof tiepoint));
    free(a);
    free(p);
    open_dem(w, at(w, "area.tif"), NULL, &area);
    open_dem(w, at(w, "point.tif"), NULL, &point);
    for (int i = 0; i < 6; i++)
        assert_near(point.grid.transform[i], area.grid.transform[i], 1e-9);
    assert_near(point.grid.transform[0], 600000, 1e-9);
    brant_dem_close(&area);
    brant_dem_close(&point);
}

/* Many threads over one mosaic see what one thread sees. */
typedef struct crowd {
    brant_dem *dem;
    const float *alone;
    float buffer[8][64 * 64];
} crowd;

static brant_status look(brant_context *ctx, void *user, int worker, int64_t item)
{
    crowd *c = user;
    int cols = c->dem->grid.cols;
    brant_window window = {(int)(item * 37 % (cols - 64)), (int)(item * 17 % 60), 64, 64};
    float *z = c->buffer[worker];
    brant_status status = c->dem->source.read(&c->dem->source, ctx, &window, z);
    for (int row = 0; status == BRANT_OK && row < 64; row++)
        if (memcmp(z + row * 64, c->alone + (window.row + row) * cols + window.col,
                   64 * sizeof *z) != 0)
            return brant_fail(ctx, BRANT_ERR_INTERNAL, "window %d differs", (int)item);
    return status;
}

static void threads_read_the_same(void **state)
{
    world *w = *state;
    brant_dem dem;
    enum { COLS = 300, ROWS = 130 };
    double *cells = calloc((size_t)COLS * ROWS, sizeof *cells);
    assert_non_null(cells);
    for (int i = 0; i < COLS * ROWS; i++)
        cells[i] = (i * 7919LL) % 3001;
    char *tiled[] = {"TILED=YES", "BLOCKXSIZE=64", "BLOCKYSIZE=64", "COMPRESS=DEFLATE", NULL};
    GDALDatasetH d = make_raster("GTiff", at(w, "a.tif"), COLS, ROWS, 1, GDT_Float32, tiled);
    put_cells(d, 1, cells);
    done(d);
    free(cells);
    d = GDALOpen(at(w, "a.tif"), GA_ReadOnly);
    GDALClose(GDALCreateCopy(GDALGetDriverByName("VRT"), at(w, "a.vrt"), d, FALSE, NULL, NULL,
                             NULL));
    GDALClose(d);
    open_dem(w, at(w, "a.vrt"), NULL, &dem);
    float *alone = read_all(w, &dem);
    crowd *c = calloc(1, sizeof *c);
    assert_non_null(c);
    c->dem = &dem;
    c->alone = alone;
    w->ctx.threads = 8;
    if (brant_run(&w->ctx, NULL, 400, look, NULL, c) != BRANT_OK)
        fail_msg("%s", brant_message(&w->ctx));
    free(c);
    free(alone);
    brant_dem_close(&dem);
}

/* Opening and reading leaves nothing beside the model. */
static void the_input_is_not_touched(void **state)
{
    world *w = *state;
    brant_dem dem;
    done(make_thousand(w, "ft", 0));
    assert_int_equal(chmod(at(w, "u.tif"), 0444), 0);
    assert_int_equal(entries(w), 1);
    open_dem(w, at(w, "u.tif"), NULL, &dem);
    free(read_all(w, &dem));
    brant_dem_close(&dem);
    assert_int_equal(entries(w), 1);
}

/* ---- real files --------------------------------------------------------- */

/* Counts and ranges: PROVENANCE.md of the shared data, and `gdalinfo -stats`
 * for the ranges of whole-number files. */
static void real_models_hold_what_they_should(void **state)
{
    static const struct {
        const char *name, *driver;
        int band, cols, rows, voids;
        double low, high;
        int warnings; /* one of a cell above 12 m, one of undeclared voids */
    } files[] = {
        {"davos_1arcsec_4326_i16.tif", "GTiff", 0, 2160, 2160, 0, 556, 3373, 1},
        {"ecuador_10m_utm17s_f32_band4_nan.tif", "GTiff", 4, 383, 415, 619, 1711, 3164, 0},
        {"gotthard_3arcsec_4326_voids.tif", "GTiff", 0, 1201, 1201, 103743, 187, 4173, 1},
        {"craterlake_undeclared_nodata.tif", "GTiff", 0, 429, 279, 39489, 1289, 1880, 2},
        {"sthelens_30m_usgs_nad27.dem", "USGSDEM", 0, 327, 468, 4151, 682, 2543, 1},
    };
    world *w = *state;
    if (!shared(w, files[0].name)) {
        print_message("skipped: no shared data\n");
        skip();
    }
    for (size_t i = 0; i < sizeof files / sizeof files[0]; i++) {
        brant_dem dem;
        int voids = 0, before = w->warnings;
        float low = INFINITY, high = -INFINITY;
        open_dem(w, shared(w, files[i].name), &(brant_dem_options){.band = files[i].band}, &dem);
        float *z = read_all(w, &dem);
        for (int c = 0; c < dem.grid.cols * dem.grid.rows; c++) {
            voids += isnan(z[c]) != 0;
            low = fminf(low, z[c]);
            high = fmaxf(high, z[c]);
        }
        free(z);
        assert_string_equal(dem.driver, files[i].driver);
        assert_int_equal(dem.factor, 1);
        assert_int_equal(dem.grid.cols, files[i].cols);
        assert_int_equal(dem.grid.rows, files[i].rows);
        assert_int_equal(voids, files[i].voids);
        assert_near(low, files[i].low, 0.5);
        assert_near(high, files[i].high, 0.5);
        assert_int_equal(w->warnings - before, files[i].warnings);
        brant_dem_close(&dem);
    }
    refuse_dem(w, shared(w, "edge_no_crs.tif"), NULL, BRANT_ERR_INPUT, "no coordinate reference");
    refuse_dem(w, shared(w, "edge_all_void.tif"), NULL, BRANT_ERR_INPUT, "every cell is void");
}

#define TEST(f) cmocka_unit_test_setup_teardown(f, set_up, tear_down)

int main(void)
{
    const struct CMUnitTest tests[] = {
        TEST(nodata_of_the_bands_own_type_is_void),
        TEST(whole_number_nodata_is_void),
        TEST(nan_and_infinity_are_void_in_doubles),
        TEST(a_mask_band_hides_cells),
        TEST(sparse_blocks_are_void),
        TEST(gaps_of_a_mosaic_are_void),
        TEST(voids_of_a_mosaics_source_are_void),
        TEST(a_mosaic_that_hides_its_voids_is_refused),
        TEST(nothing_is_taken_from_the_network),
        TEST(a_file_that_is_no_model_is_refused),
        TEST(a_raster_without_a_place_is_refused),
        TEST(bands_are_counted),
        TEST(heights_become_metres),
        TEST(the_bands_unit_counts),
        TEST(the_crs_vertical_axis_counts),
        TEST(the_raw_geokeys_count),
        TEST(conflicts_of_units_are_said),
        TEST(scale_and_offset_of_the_band_count),
        TEST(fine_models_are_averaged_to_about_five_metres),
        TEST(a_working_cell_that_was_not_asked_for_is_noted),
        TEST(a_working_cell_is_the_mean_of_its_cells),
        TEST(a_working_cell_with_a_void_is_void),
        TEST(outside_the_grid_is_void),
        TEST(points_and_areas_are_the_same_place),
        TEST(threads_read_the_same),
        TEST(the_input_is_not_touched),
        TEST(real_models_hold_what_they_should),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
