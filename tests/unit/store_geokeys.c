/* Raw GeoKeys. Files are written by GDAL with CRS of known EPSG codes; the codes
 * of units are EPSG's (OGC 19-008r4, 7.3: 9001 metre, 9002 foot, 9102 degree). */
#include "store_keys.h"

static void read_keys(world *w, const char *name, brant_geokeys *keys)
{
    if (brant_geokeys_read(&w->ctx, at(w, name), keys) != BRANT_OK)
        fail_msg("%s", brant_message(&w->ctx));
}

static void make(world *w, const char *name, const char *crs, bool point, const char *version)
{
    char option[32], *options[] = {option, NULL};
    snprintf(option, sizeof option, "GEOTIFF_VERSION=%s", version);
    GDALDatasetH d = make_raster("GTiff", at(w, name), 2, 2, 1, GDT_Int16, options);
    OGRSpatialReferenceH srs = OSRNewSpatialReference(NULL);
    assert_int_equal(OSRSetFromUserInput(srs, crs), OGRERR_NONE);
    GDALSetSpatialRef(d, srs);
    OSRDestroySpatialReference(srs);
    if (point)
        GDALSetMetadataItem(d, "AREA_OR_POINT", "Point", NULL);
    done(d);
}

static bool has_line(const brant_geokeys *keys, const char *line)
{
    for (size_t i = 0; i < keys->line_count; i++)
        if (strcmp(keys->lines[i], line) == 0)
            return true;
    return false;
}

static void projected_keys_are_read(void **state)
{
    world *w = *state;
    brant_geokeys keys;
    make(w, "a.tif", "EPSG:32632", false, "1.0");
    read_keys(w, "a.tif", &keys);
    assert_true(keys.present);
    assert_int_equal(keys.version, 1);
    assert_int_equal(keys.model_type, 1);
    assert_int_equal(keys.raster_type, 1);
    assert_int_equal(keys.projected_type, 32632);
    assert_int_equal(keys.projected_linear_units, 9001);
    assert_int_equal(keys.vertical_type, 0);
    assert_int_equal(keys.vertical_units, 0);
    assert_true(isnan(keys.projected_linear_unit_size));
    assert_string_equal(keys.citation, "WGS 84 / UTM zone 32N");
    assert_null(keys.vertical_citation);
    assert_true(has_line(&keys, "GTModelTypeGeoKey = 1 (ModelTypeProjected)"));
    assert_true(has_line(&keys, "GTRasterTypeGeoKey = 1 (RasterPixelIsArea)"));
    assert_true(has_line(&keys, "ProjLinearUnitsGeoKey = 9001 (Linear_Meter)"));
    assert_true(has_line(&keys, "GTCitationGeoKey = WGS 84 / UTM zone 32N"));
    brant_geokeys_clear(&keys);
    assert_null(keys.lines);
}

static void geographic_points_are_read(void **state)
{
    world *w = *state;
    brant_geokeys keys;
    make(w, "a.tif", "EPSG:4258", true, "1.0");
    read_keys(w, "a.tif", &keys);
    assert_int_equal(keys.model_type, 2);
    assert_int_equal(keys.raster_type, 2);
    assert_int_equal(keys.geographic_type, 4258);
    assert_int_equal(keys.geographic_angular_units, 9102);
    assert_int_equal(keys.projected_type, 0);
    brant_geokeys_clear(&keys);
}

/* EPSG:8228: NAVD88 height (ft). */
static void vertical_keys_are_read(void **state)
{
    world *w = *state;
    brant_geokeys keys;
    make(w, "a.tif", "EPSG:26912+8228", false, "1.1");
    read_keys(w, "a.tif", &keys);
    assert_int_equal(keys.vertical_units, 0); /* the code of the CRS says it */
    brant_geokeys_clear(&keys);
    put_key(at(w, "a.tif"), VerticalUnitsGeoKey, 9002);
    read_keys(w, "a.tif", &keys);
    assert_int_equal(keys.projected_type, 26912);
    assert_int_equal(keys.vertical_type, 8228);
    assert_int_equal(keys.vertical_units, 9002);
    brant_geokeys_clear(&keys);
}

static void other_files_have_none(void **state)
{
    world *w = *state;
    brant_geokeys keys;
    static const char *const names[] = {"plain.tif", "grid.asc"};
    static const char *const unread[] = {"none.tif", "text.tif"};
    put_text(at(w, "text.tif"), "II*");
    put_text(at(w, "grid.asc"), "ncols 1\nnrows 1\nxllcorner 0\nyllcorner 0\ncellsize 1\n7\n");
    done(GDALCreate(GDALGetDriverByName("GTiff"), at(w, "plain.tif"), 1, 1, 1, GDT_Byte, NULL));
    for (int i = 0; i < 2; i++) {
        read_keys(w, names[i], &keys);
        assert_false(keys.present);
        assert_int_equal(keys.line_count, 0);
        brant_geokeys_clear(&keys);
    }
    /* what does not open may have had a unit of heights */
    for (int i = 0; i < 2; i++) {
        assert_int_equal(brant_geokeys_read(&w->ctx, at(w, unread[i]), &keys), BRANT_ERR_INPUT);
        assert_false(keys.present);
    }
    assert_int_equal(w->warnings + w->notes, 0);
}

/* A file cut short gives keys or is refused, and no library prints a message of its own. */
static void a_cut_file_does_no_harm(void **state)
{
    world *w = *state;
    size_t size;
    brant_geokeys keys;
    make(w, "a.tif", "EPSG:26912+8228", true, "1.1");
    char *bytes = get_bytes(at(w, "a.tif"), &size);
    for (size_t cut = 1; cut < size; cut += 7) {
        FILE *file = fopen(at(w, "cut.tif"), "wb");
        assert_non_null(file);
        assert_int_equal(fwrite(bytes, 1, cut, file), cut);
        assert_int_equal(fclose(file), 0);
        brant_status status = brant_geokeys_read(&w->ctx, at(w, "cut.tif"), &keys);
        assert_true(status == BRANT_OK || status == BRANT_ERR_INPUT);
        brant_geokeys_clear(&keys);
    }
    free(bytes);
}

/* ---- what we write ------------------------------------------------------ */

/* A 3 x 2 raster of ours in `crs`, its first corner at `transform`. */
static void write_ours(world *w, const char *crs, const double transform[6])
{
    static const float cells[6] = {1, 2, 3, 4, 5, 6};
    static const brant_band_spec band = {"slope_deg", "deg", true, BRANT_NODATA, NULL, NULL};
    const brant_raster_spec spec = {.title = "Slope", .type = BRANT_CELL_FLOAT32, .bands = 1,
                                    .band = &band, .packing.compress = BRANT_COMPRESS_NONE};
    const brant_window all = {0, 0, 3, 2};
    const void *bands[] = {cells};
    brant_grid grid = {.cols = 3, .rows = 2};
    memcpy(grid.transform, transform, sizeof grid.transform);
    OGRSpatialReferenceH srs = OSRNewSpatialReference(NULL);
    assert_int_equal(OSRSetFromUserInput(srs, crs), OGRERR_NONE);
    assert_int_equal(OSRExportToWkt(srs, &grid.crs), OGRERR_NONE);
    if (brant_raster_write(&w->ctx, at(w, "ours.tif"), &grid, &all, &spec, bands) != BRANT_OK)
        fail_msg("%s", brant_message(&w->ctx));
    CPLFree(grid.crs);
    OSRDestroySpatialReference(srs);
}

/* Every key of `lines` (NULL-terminated) is there; of the others only citations. */
static void holds_keys(const brant_geokeys *keys, const char *const *lines)
{
    size_t expected = 0, others = 0;
    for (; lines[expected]; expected++)
        if (!has_line(keys, lines[expected])) {
            for (size_t i = 0; i < keys->line_count; i++)
                print_message("%s\n", keys->lines[i]);
            fail_msg("no '%s'", lines[expected]);
        }
    for (size_t i = 0; i < keys->line_count; i++)
        others += strstr(keys->lines[i], "CitationGeoKey = ") != NULL;
    if (keys->line_count != expected + others)
        for (size_t i = 0; i < keys->line_count; i++)
            print_message("%s\n", keys->lines[i]);
    assert_int_equal(keys->line_count, expected + others);
}

/* Codes: OGC 19-008r4, annex B and 7.5 (CT_TransverseMercator 1, Linear_Meter 9001,
 * Angular_Degree 9102); EPSG for the rest. */
static void our_keys_say_what_we_mean(void **state)
{
    static const struct {
        const char *crs, *lines[20];
    } cases[] = {
        {"EPSG:32632",
         {"GTModelTypeGeoKey = 1 (ModelTypeProjected)",
          "GTRasterTypeGeoKey = 1 (RasterPixelIsArea)",
          "GeogAngularUnitsGeoKey = 9102 (Angular_Degree)",
          "ProjectedCSTypeGeoKey = 32632 (PCS_WGS84_UTM_zone_32N)",
          "ProjLinearUnitsGeoKey = 9001 (Linear_Meter)", NULL}},
        {"EPSG:4326",
         {"GTModelTypeGeoKey = 2 (ModelTypeGeographic)",
          "GTRasterTypeGeoKey = 1 (RasterPixelIsArea)", "GeographicTypeGeoKey = 4326 (GCS_WGS_84)",
          "GeogAngularUnitsGeoKey = 9102 (Angular_Degree)",
          "GeogSemiMajorAxisGeoKey = 6378137", "GeogInvFlatteningGeoKey = 298.257223563", NULL}},
        {"EPSG:2225",
         {"GTModelTypeGeoKey = 1 (ModelTypeProjected)",
          "GTRasterTypeGeoKey = 1 (RasterPixelIsArea)",
          "GeogAngularUnitsGeoKey = 9102 (Angular_Degree)",
          "ProjectedCSTypeGeoKey = 2225 (NAD83 / California zone 1 (ftUS))",
          "ProjLinearUnitsGeoKey = 9003 (Linear_Foot_US_Survey)", NULL}},
        {"+proj=tmerc +lat_0=47.25 +lon_0=11.5 +k=0.99995 +x_0=1000 +y_0=-5000 +ellps=GRS80 "
         "+units=m +no_defs",
         {"GTModelTypeGeoKey = 1 (ModelTypeProjected)",
          "GTRasterTypeGeoKey = 1 (RasterPixelIsArea)",
          "GeographicTypeGeoKey = 32767 (User-Defined)",
          "GeogGeodeticDatumGeoKey = 32767 (User-Defined)",
          "GeogAngularUnitsGeoKey = 9102 (Angular_Degree)",
          "GeogEllipsoidGeoKey = 7019 (Ellipse_GRS_1980)",
          "GeogSemiMajorAxisGeoKey = 6378137", "GeogInvFlatteningGeoKey = 298.257222101",
          "GeogPrimeMeridianLongGeoKey = 0",
          "ProjectedCSTypeGeoKey = 32767 (User-Defined)",
          "ProjectionGeoKey = 32767 (User-Defined)",
          "ProjCoordTransGeoKey = 1 (CT_TransverseMercator)",
          "ProjLinearUnitsGeoKey = 9001 (Linear_Meter)", "ProjNatOriginLongGeoKey = 11.5",
          "ProjNatOriginLatGeoKey = 47.25", "ProjFalseEastingGeoKey = 1000",
          "ProjFalseNorthingGeoKey = -5000", "ProjScaleAtNatOriginGeoKey = 0.99995", NULL}},
    };
    world *w = *state;
    for (size_t i = 0; i < sizeof cases / sizeof *cases; i++) {
        static const double transform[6] = {10, 0.25, 0, 46, 0, -0.25};
        brant_geokeys keys;
        write_ours(w, cases[i].crs, transform);
        read_keys(w, "ours.tif", &keys);
        holds_keys(&keys, cases[i].lines);
        brant_geokeys_clear(&keys);
    }
}

/* Tie point and pixel scale, or the whole matrix where the grid is turned or south-up
 * (OGC 19-008r4, 7.3: the tie point's raster 0, 0 is the first cell's outer corner). */
static void our_cells_are_where_they_should(void **state)
{
    static const double upright[6] = {500000, 10, 0, 5150000, 0, -20};
    static const double turned[6] = {500000, 8, 6, 5150000, 6, -8};
    world *w = *state;
    uint16_t count = 0;
    double *values = NULL;
    write_ours(w, "EPSG:32632", upright);
    TIFF *tiff = XTIFFOpen(at(w, "ours.tif"), "r");
    assert_non_null(tiff);
    assert_int_equal(TIFFGetField(tiff, TIFFTAG_GEOTIEPOINTS, &count, &values), 1);
    assert_int_equal(count, 6);
    static const double tie[6] = {0, 0, 0, 500000, 5150000, 0};
    assert_memory_equal(values, tie, sizeof tie);
    assert_int_equal(TIFFGetField(tiff, TIFFTAG_GEOPIXELSCALE, &count, &values), 1);
    static const double scale[3] = {10, 20, 0};
    assert_int_equal(count, 3);
    assert_memory_equal(values, scale, sizeof scale);
    XTIFFClose(tiff);

    write_ours(w, "EPSG:32632", turned);
    tiff = XTIFFOpen(at(w, "ours.tif"), "r");
    assert_non_null(tiff);
    assert_int_equal(TIFFGetField(tiff, TIFFTAG_GEOTRANSMATRIX, &count, &values), 1);
    static const double matrix[16] = {8, 6, 0, 500000, 6, -8, 0, 5150000, 0, 0, 0, 0, 0, 0, 0, 1};
    assert_int_equal(count, 16);
    assert_memory_equal(values, matrix, sizeof matrix);
    XTIFFClose(tiff);
}

#define TEST(f) cmocka_unit_test_setup_teardown(f, set_up, tear_down)

int main(void)
{
    const struct CMUnitTest tests[] = {
        TEST(projected_keys_are_read), TEST(geographic_points_are_read),
        TEST(vertical_keys_are_read),  TEST(other_files_have_none),
        TEST(a_cut_file_does_no_harm), TEST(our_keys_say_what_we_mean),
        TEST(our_cells_are_where_they_should),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
