/* The layers `legs`, `points` and `waits`, written to a GeoPackage and read back with
 * GDAL. */
#include "report_tour.h"

#include <gdal.h>
#include <ogr_api.h>
#include <stdio.h>
#include <unistd.h>

typedef struct scene {
    made m;
    brant_zone zone;
    brant_wait wait;
} scene;

static void make_scene(scene *s)
{
    s->zone = made_zone(4000000000u, 140000, 41, 350, 2000, 2360);
    made_begin(&s->m, "K\xC3\xA4sgrat");
    made_leg(&s->m, BRANT_KIND_NONE_FOUND, 1000);
    made_leg(&s->m, BRANT_KIND_UNDER, 1400);
    made_above(&s->m, &s->zone, 33.26, 80, false, false);
    brant_leg *dot = made_leg(&s->m, BRANT_KIND_UNKNOWN, 1400); /* no length at all */
    made_void(&s->m, true);
    dot->samples = 1;
    s->m.tour.track.count -= MADE_SAMPLES - 1;
    s->wait = (brant_wait){3, 875, NAN, NAN, NAN};
    s->m.tour.waits = &s->wait;
    s->m.tour.wait_count = 1;
}

static void write_layers(const brant_report *report, const char *path)
{
    brant_context ctx;
    brant_layers *layers = NULL;
    brant_context_init(&ctx);
    assert_int_equal(brant_layers_create(&ctx, path, path, &layers), BRANT_OK);
    assert_int_equal(brant_report_layers(&ctx, report, layers), BRANT_OK);
    assert_int_equal(brant_layers_close(&ctx, layers), BRANT_OK);
    brant_context_clear(&ctx);
}

static OGRFeatureH feature_at(OGRLayerH layer, int index)
{
    OGR_L_ResetReading(layer);
    for (int i = 0; i < index; i++)
        OGR_F_Destroy(OGR_L_GetNextFeature(layer));
    OGRFeatureH feature = OGR_L_GetNextFeature(layer);
    assert_non_null(feature);
    return feature;
}

static int field(OGRFeatureH feature, const char *name)
{
    int index = OGR_F_GetFieldIndex(feature, name);
    assert_true(index >= 0);
    return index;
}

static void assert_legs(OGRLayerH legs)
{
    assert_non_null(legs);
    assert_int_equal(OGR_L_GetFeatureCount(legs, 1), 3);
    assert_int_equal(OGR_FD_GetFieldCount(OGR_L_GetLayerDefn(legs)), 48);
    OGRFeatureH leg = feature_at(legs, 1);
    assert_string_equal(OGR_F_GetFieldAsString(leg, field(leg, "route")), "K\xC3\xA4sgrat");
    assert_string_equal(OGR_F_GetFieldAsString(leg, field(leg, "kind")), "under");
    assert_true(OGR_F_GetFieldAsDouble(leg, field(leg, "reached_at_deg")) == 33.2);
    assert_true(OGR_F_GetFieldAsInteger64(leg, field(leg, "governing_zone")) == 4000000000);
    assert_false(OGR_F_IsFieldSetAndNotNull(leg, field(leg, "level")));
    OGRGeometryH line = OGR_F_GetGeometryRef(leg); /* from, four samples, to */
    assert_int_equal(OGR_G_GetPointCount(line), 6);
    assert_true(OGR_G_GetX(line, 0) == 10.01 && OGR_G_GetY(line, 0) == 46.5);
    assert_true(OGR_G_GetX(line, 1) == 10.0105);
    assert_true(OGR_G_GetX(line, 5) == 10.014);
    OGR_F_Destroy(leg);
    leg = feature_at(legs, 2);
    assert_int_equal(OGR_G_GetPointCount(OGR_F_GetGeometryRef(leg)), 2);
    assert_false(OGR_F_IsFieldSetAndNotNull(leg, field(leg, "steepest_deg")));
    assert_false(OGR_F_IsFieldSetAndNotNull(leg, field(leg, "zones_above")));
    OGR_F_Destroy(leg);
}

static void assert_points(OGRLayerH points)
{
    assert_non_null(points);
    assert_int_equal(OGR_L_GetFeatureCount(points, 1), 2 * MADE_SAMPLES + 1);
    OGRFeatureH point = feature_at(points, 4);
    assert_true(OGR_F_GetFieldAsInteger64(point, field(point, "point")) == 5);
    assert_string_equal(OGR_F_GetFieldAsString(point, field(point, "kind")), "under");
    assert_true(OGR_G_GetX(OGR_F_GetGeometryRef(point), 0) == 10.0105);
    OGR_F_Destroy(point);
    point = feature_at(points, 8);
    assert_false(OGR_F_IsFieldSetAndNotNull(point, field(point, "elevation_m")));
    OGR_F_Destroy(point);
}

static void assert_waits(OGRLayerH waits)
{
    assert_non_null(waits);
    assert_int_equal(OGR_L_GetFeatureCount(waits, 1), 1);
    OGRFeatureH wait = feature_at(waits, 0);
    assert_true(OGR_F_GetFieldAsDouble(wait, field(wait, "along_m")) == 875);
    assert_false(OGR_F_IsFieldSetAndNotNull(wait, field(wait, "next_m")));
    assert_true(OGR_G_GetX(OGR_F_GetGeometryRef(wait), 0) == 10.00875);
    OGR_F_Destroy(wait);
}

static void test_geopackage(void **state)
{
    (void)state;
    static scene s;
    char folder[] = "/tmp/brant-layers-XXXXXX", path[64];
    assert_non_null(mkdtemp(folder));
    snprintf(path, sizeof path, "%s/tour.gpkg", folder);
    make_scene(&s);
    brant_report report = made_report(&s.m.tour, 1);
    write_layers(&report, path);
    GDALDatasetH file = GDALOpenEx(path, GDAL_OF_VECTOR | GDAL_OF_READONLY, NULL, NULL, NULL);
    assert_non_null(file);
    assert_int_equal(GDALDatasetGetLayerCount(file), 4);
    assert_int_equal(
        OGR_L_GetFeatureCount(GDALDatasetGetLayerByName(file, "layer_styles"), TRUE), 3);
    assert_legs(GDALDatasetGetLayerByName(file, "legs"));
    assert_points(GDALDatasetGetLayerByName(file, "points"));
    assert_waits(GDALDatasetGetLayerByName(file, "waits"));
    GDALClose(file);
    unlink(path);
    rmdir(folder);
}

int main(void)
{
    const struct CMUnitTest tests[] = {cmocka_unit_test(test_geopackage)};
    GDALAllRegister();
    return cmocka_run_group_tests(tests, NULL, NULL);
}
