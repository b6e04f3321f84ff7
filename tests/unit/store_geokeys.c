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
    static const char *const names[] = {"none.tif", "text.tif", "plain.tif", "/vsimem/a.tif"};
    put_text(at(w, "text.tif"), "II*");
    done(GDALCreate(GDALGetDriverByName("GTiff"), at(w, "plain.tif"), 1, 1, 1, GDT_Byte, NULL));
    for (int i = 0; i < 4; i++) {
        read_keys(w, names[i], &keys);
        assert_false(keys.present);
        assert_int_equal(keys.line_count, 0);
        brant_geokeys_clear(&keys);
    }
    assert_int_equal(w->warnings + w->notes, 0);
}

/* A file cut short gives keys, or none, and never a message of its own. */
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
        read_keys(w, "cut.tif", &keys);
        brant_geokeys_clear(&keys);
    }
    free(bytes);
}

#define TEST(f) cmocka_unit_test_setup_teardown(f, set_up, tear_down)

int main(void)
{
    const struct CMUnitTest tests[] = {
        TEST(projected_keys_are_read), TEST(geographic_points_are_read),
        TEST(vertical_keys_are_read),  TEST(other_files_have_none),
        TEST(a_cut_file_does_no_harm),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
