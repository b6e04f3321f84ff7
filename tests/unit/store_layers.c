/* Vector layers out. What is written is read back through OGR; areas are known
 * from the cells drawn. */
#include "store_files.h"

#include "near.h"

#include <ogr_api.h>
#include <signal.h>
#include <sys/resource.h>
#include <sys/wait.h>
#include <time.h>

static const brant_column columns[] = {{"zone", BRANT_FIELD_INTEGER},
                                       {"name", BRANT_FIELD_TEXT},
                                       {"mean_deg", BRANT_FIELD_REAL}};

static void make_grid(world *w, brant_grid *grid, int epsg)
{
    char *wkt = NULL;
    OGRSpatialReferenceH crs = OSRNewSpatialReference(NULL);
    OSRImportFromEPSG(crs, epsg);
    OSRExportToWkt(crs, &wkt);
    *grid = (brant_grid){100, 100, {600000, 10, 0, 5200000, 0, -10}, NULL};
    grid->crs = brant_strdup(&w->ctx, wkt);
    CPLFree(wkt);
    OSRDestroySpatialReference(crs);
}

static brant_layers *new_layers(world *w, const char *path)
{
    brant_layers *layers = NULL;
    if (brant_layers_create(&w->ctx, path, path, &layers) != BRANT_OK)
        fail_msg("%s", brant_message(&w->ctx));
    return layers;
}

static void ok(world *w, brant_status status)
{
    if (status != BRANT_OK)
        fail_msg("%s", brant_message(&w->ctx));
}

static GDALDatasetH open_back(const char *path)
{
    GDALDatasetH d = GDALOpenEx(path, GDAL_OF_VECTOR, NULL, NULL, NULL);
    assert_non_null(d);
    return d;
}

/* ---- points and lines --------------------------------------------------- */

static void write_tour(world *w, const char *path)
{
    brant_layers *layers = new_layers(w, path);
    double line[] = {9.5, 46.5, 9.6, 46.6, 9.7, 46.5};
    brant_value full[] = {{NULL, 7}, {"N\xc3\xb6rd", 0}, {NULL, 33.5}};
    brant_value bare[] = {{NULL, NAN}, {NULL, 0}, {NULL, NAN}};
    ok(w, brant_layers_add(&w->ctx, layers, "legs", BRANT_SHAPE_LINE, columns, 3));
    ok(w, brant_layers_feature(&w->ctx, layers, line, 3, full));
    ok(w, brant_layers_feature(&w->ctx, layers, line, 1, bare));
    ok(w, brant_layers_add(&w->ctx, layers, "points", BRANT_SHAPE_POINT, columns, 3));
    ok(w, brant_layers_feature(&w->ctx, layers, line, 1, full));
    ok(w, brant_layers_add(&w->ctx, layers, "nothing", BRANT_SHAPE_POINT, columns, 3));
    ok(w, brant_layers_close(&w->ctx, layers));
}

static void layers_of_a_geopackage_come_back(void **state)
{
    world *w = *state;
    write_tour(w, at(w, "t.gpkg"));
    assert_int_equal(entries(w), 1);
    GDALDatasetH d = open_back(at(w, "t.gpkg"));
    assert_int_equal(GDALDatasetGetLayerCount(d), 3);
    OGRLayerH legs = GDALDatasetGetLayerByName(d, "legs");
    assert_int_equal(OGR_L_GetFeatureCount(legs, TRUE), 2);
    assert_string_equal(OSRGetAuthorityCode(OGR_L_GetSpatialRef(legs), NULL), "4326");
    OGRFeatureH f = OGR_L_GetNextFeature(legs);
    assert_int_equal(OGR_F_GetFieldAsInteger64(f, 0), 7);
    assert_string_equal(OGR_F_GetFieldAsString(f, 1), "N\xc3\xb6rd");
    assert_near(OGR_F_GetFieldAsDouble(f, 2), 33.5, 0);
    assert_int_equal(OGR_G_GetPointCount(OGR_F_GetGeometryRef(f)), 3);
    assert_near(OGR_G_GetX(OGR_F_GetGeometryRef(f), 1), 9.6, 0);
    assert_near(OGR_G_GetY(OGR_F_GetGeometryRef(f), 1), 46.6, 0);
    OGR_F_Destroy(f);
    f = OGR_L_GetNextFeature(legs); /* no values, and no line of one point */
    for (int i = 0; i < 3; i++)
        assert_false(OGR_F_IsFieldSetAndNotNull(f, i));
    assert_null(OGR_F_GetGeometryRef(f));
    OGR_F_Destroy(f);
    assert_int_equal(OGR_L_GetFeatureCount(GDALDatasetGetLayerByName(d, "points"), TRUE), 1);
    assert_int_equal(OGR_L_GetFeatureCount(GDALDatasetGetLayerByName(d, "nothing"), TRUE), 0);
    GDALClose(d);
}

static void a_geojson_holds_one_layer(void **state)
{
    world *w = *state;
    double place[] = {9.123456789, 46.5};
    brant_value values[] = {{NULL, 1}, {"a", 0}, {NULL, 2.5}};
    brant_layers *layers = new_layers(w, at(w, "p.geojson"));
    ok(w, brant_layers_add(&w->ctx, layers, "points", BRANT_SHAPE_POINT, columns, 3));
    ok(w, brant_layers_feature(&w->ctx, layers, place, 1, values));
    assert_int_equal(
        brant_layers_add(&w->ctx, layers, "legs", BRANT_SHAPE_LINE, columns, 3),
        BRANT_ERR_USAGE);
    brant_forgive(&w->ctx);
    ok(w, brant_layers_close(&w->ctx, layers));
    char *text = get_bytes(at(w, "p.geojson"), NULL);
    assert_null(strstr(text, "\"crs\"")); /* RFC 7946, 4: no crs member */
    assert_non_null(strstr(text, "9.1234568, 46.5"));
    free(text);
    assert_int_equal(brant_layers_create(&w->ctx, at(w, "p.shp"), "p.shp", &layers),
                     BRANT_ERR_USAGE);
    brant_forgive(&w->ctx);
}

/* ---- outlines ----------------------------------------------------------- */

static void number_value(void *self, uint32_t number, brant_value *values)
{
    (void)self;
    values[0].number = number;
    values[1].text = number > 1000000 ? "large" : "small";
}

/* Two pieces, a hole, a diagonal touch, a number beyond 2^31. */
#define BIG 4000000001u
static const uint32_t drawing[6 * 8] = {
    5, 5, 5, 0, BIG, 0,   0, 5, /**/
    5, 0, 5, 0, 0,   BIG, 0, 5, /**/
    5, 5, 5, 2, 0,   0,   0, 0, /**/
    0, 0, 2, 0, 2,   0,   0, 0, /**/
    0, 2, 2, 2, 2,   0,   0, 0, /**/
    0, 0, 0, 0, 0,   0,   0, 0, /**/
};
static const brant_window drawn = {10, 20, 8, 6};

static void write_outlines(world *w, const char *path, const brant_grid *grid)
{
    brant_layers *layers = new_layers(w, path);
    ok(w, brant_layers_add(&w->ctx, layers, "zones", BRANT_SHAPE_AREA, columns, 3));
    ok(w, brant_layers_outlines(&w->ctx, layers, grid, &drawn, drawing, number_value, NULL));
    ok(w, brant_layers_close(&w->ctx, layers));
}

static void outlines_have_the_cells_area(void **state)
{
    static const struct {
        uint32_t number;
        int cells, polygons;
    } expected[] = {{2, 7, 2}, {5, 10, 2}, {BIG, 2, 2}};
    world *w = *state;
    brant_grid grid;
    make_grid(w, &grid, 32632);
    write_outlines(w, at(w, "z.gpkg"), &grid);
    GDALDatasetH d = open_back(at(w, "z.gpkg"));
    OGRLayerH zones = GDALDatasetGetLayerByName(d, "zones");
    assert_string_equal(OSRGetAuthorityCode(OGR_L_GetSpatialRef(zones), NULL), "32632");
    assert_int_equal(OGR_L_GetFeatureCount(zones, TRUE), 3);
    for (int i = 0; i < 3; i++) { /* by rising number */
        OGRFeatureH f = OGR_L_GetNextFeature(zones);
        OGRGeometryH shape = OGR_F_GetGeometryRef(f);
        assert_int_equal(OGR_F_GetFieldAsInteger64(f, 0), expected[i].number);
        assert_int_equal(OGR_G_GetGeometryType(shape), wkbMultiPolygon);
        assert_true(OGR_G_IsValid(shape));
        assert_near(OGR_G_Area(shape), expected[i].cells * 100.0, 1e-6);
        assert_int_equal(OGR_G_GetGeometryCount(shape), expected[i].polygons);
        if (expected[i].number == 5) { /* columns 10..12 and 17, rows 20..22 */
            OGREnvelope box;
            OGR_G_GetEnvelope(shape, &box);
            assert_near(box.MinX, 600100, 0);
            assert_near(box.MaxX, 600180, 0);
            assert_near(box.MaxY, 5199800, 0);
            assert_near(box.MinY, 5199770, 0);
            assert_int_equal(OGR_G_GetGeometryCount(OGR_G_GetGeometryRef(shape, 0)), 2);
        }
        OGR_F_Destroy(f);
    }
    GDALClose(d);
    brant_grid_clear(&grid);
}

/* The upper left corner, 600100 E 5199800 N of EPSG:32632, is at 10.3153004738 E,
 * 46.9441739420 N by `cs2cs -f %.10f EPSG:32632 EPSG:4326`. */
static void outlines_go_to_degrees_in_geojson(void **state)
{
    world *w = *state;
    brant_grid grid;
    bool found = false;
    int count = 0;
    OGRFeatureH f;
    make_grid(w, &grid, 32632);
    write_outlines(w, at(w, "z.geojson"), &grid);
    GDALDatasetH d = open_back(at(w, "z.geojson"));
    OGRLayerH zones = GDALDatasetGetLayer(d, 0);
    while ((f = OGR_L_GetNextFeature(zones))) {
        OGRGeometryH shape = OGR_F_GetGeometryRef(f);
        assert_true(OGR_G_IsValid(shape));
        OGRGeometryH ring = OGR_G_GetGeometryRef(OGR_G_GetGeometryRef(shape, 0), 0);
        for (int i = 0; i < OGR_G_GetPointCount(ring); i++)
            found |= fabs(OGR_G_GetX(ring, i) - 10.3153004738) < 1e-7 &&
                     fabs(OGR_G_GetY(ring, i) - 46.9441739420) < 1e-7;
        count++;
        OGR_F_Destroy(f);
    }
    assert_int_equal(count, 3);
    assert_true(found);
    GDALClose(d);
    brant_grid_clear(&grid);
}

/* A random patchwork: for each number the outline has the cells' area, none
 * missing, all valid. */
static uint32_t next_random(uint32_t *seed)
{
    *seed = *seed * 1664525u + 1013904223u;
    return *seed >> 16;
}

static void a_patchwork_is_outlined_whole(void **state)
{
    world *w = *state;
    enum { SIDE = 60, NUMBERS = 6 };
    static uint32_t cells[SIDE * SIDE];
    int counts[NUMBERS] = {0};
    uint32_t seed = 1;
    brant_grid grid;
    brant_window window = {0, 0, SIDE, SIDE};
    make_grid(w, &grid, 32632);
    for (int i = 0; i < SIDE * SIDE; i++) {
        cells[i] = next_random(&seed) % NUMBERS;
        counts[cells[i]]++;
    }
    brant_layers *layers = new_layers(w, at(w, "z.gpkg"));
    ok(w, brant_layers_add(&w->ctx, layers, "zones", BRANT_SHAPE_AREA, columns, 3));
    ok(w, brant_layers_outlines(&w->ctx, layers, &grid, &window, cells, number_value, NULL));
    ok(w, brant_layers_close(&w->ctx, layers));
    GDALDatasetH d = open_back(at(w, "z.gpkg"));
    OGRLayerH zones = GDALDatasetGetLayer(d, 0);
    for (int i = 1; i < NUMBERS; i++) {
        OGRFeatureH f = OGR_L_GetNextFeature(zones);
        assert_non_null(f);
        assert_int_equal(OGR_F_GetFieldAsInteger64(f, 0), i);
        assert_true(OGR_G_IsValid(OGR_F_GetGeometryRef(f)));
        assert_near(OGR_G_Area(OGR_F_GetGeometryRef(f)), counts[i] * 100.0, 1e-6);
        OGR_F_Destroy(f);
    }
    GDALClose(d);
    brant_grid_clear(&grid);
}

/* ---- the same bytes ----------------------------------------------------- */

static void assert_same_bytes(world *w, const char *a, const char *b)
{
    size_t size_a, size_b;
    char *bytes_a = get_bytes(at(w, a), &size_a), *bytes_b = get_bytes(at(w, b), &size_b);
    assert_int_equal(size_a, size_b);
    assert_memory_equal(bytes_a, bytes_b, size_a);
    free(bytes_a);
    free(bytes_b);
}

static void the_same_layers_give_the_same_bytes(void **state)
{
    world *w = *state;
    struct timespec pause_for = {0, 20000000}; /* GeoPackage times count milliseconds */
    write_tour(w, at(w, "a.gpkg"));
    nanosleep(&pause_for, NULL);
    write_tour(w, at(w, "b.gpkg"));
    assert_same_bytes(w, "a.gpkg", "b.gpkg");
    assert_int_equal(setenv("SOURCE_DATE_EPOCH", "1800000000", 1), 0);
    write_tour(w, at(w, "c.gpkg"));
    unsetenv("SOURCE_DATE_EPOCH");
    size_t size;
    char *bytes = get_bytes(at(w, "c.gpkg"), &size); /* 1800000000 by `date -u -d @...` */
    assert_non_null(memmem(bytes, size, "2027-01-15T08:00:00.000Z", 24));
    free(bytes);
}

/* ---- a full disk -------------------------------------------------------- */

static int fill_disk(world *w, const char *name, rlim_t limit)
{
    struct rlimit size = {limit, limit};
    brant_layers *layers = NULL;
    double line[] = {9.5, 46.5, 9.6, 46.6};
    brant_value values[] = {{NULL, 7}, {"a leg", 0}, {NULL, 33.5}};
    signal(SIGXFSZ, SIG_IGN);
    if (setrlimit(RLIMIT_FSIZE, &size) != 0)
        return 1;
    brant_status status = brant_layers_create(&w->ctx, at(w, name), name, &layers);
    if (status == BRANT_OK)
        status = brant_layers_add(&w->ctx, layers, "legs", BRANT_SHAPE_LINE, columns, 3);
    for (int i = 0; status == BRANT_OK && i < 5000; i++)
        status = brant_layers_feature(&w->ctx, layers, line, 2, values);
    if (status != BRANT_OK)
        brant_layers_abandon(layers);
    else
        status = brant_layers_close(&w->ctx, layers);
    if (status != BRANT_ERR_IO)
        return 2;
    return strstr(brant_message(&w->ctx), "cannot write") ? 0 : 3;
}

static void a_full_disk_is_an_error(void **state)
{
    static const struct {
        const char *name;
        rlim_t limit;
    } cases[] = {{"a.gpkg", 0},       {"a.gpkg", 50000}, {"a.gpkg", 150000},
                 {"a.gpkg", 400000},  {"a.geojson", 0},  {"a.geojson", 100},
                 {"a.geojson", 100000}, {"a.geojson", 700000}};
    world *w = *state;
    for (size_t i = 0; i < sizeof cases / sizeof cases[0]; i++) {
        int result = -1;
        pid_t child = fork();
        assert_true(child >= 0);
        if (child == 0)
            _exit(fill_disk(w, cases[i].name, cases[i].limit));
        assert_int_equal(waitpid(child, &result, 0), child);
        if (!WIFEXITED(result) || WEXITSTATUS(result) != 0)
            fail_msg("%s, limit %lu: step %d", cases[i].name, (unsigned long)cases[i].limit,
                     WIFEXITED(result) ? WEXITSTATUS(result) : -1);
        unlink(at(w, cases[i].name));
    }
}

#define TEST(f) cmocka_unit_test_setup_teardown(f, set_up, tear_down)

int main(void)
{
    const struct CMUnitTest tests[] = {
        TEST(layers_of_a_geopackage_come_back),
        TEST(a_geojson_holds_one_layer),
        TEST(outlines_have_the_cells_area),
        TEST(outlines_go_to_degrees_in_geojson),
        TEST(a_patchwork_is_outlined_whole),
        TEST(the_same_layers_give_the_same_bytes),
        TEST(a_full_disk_is_an_error),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
