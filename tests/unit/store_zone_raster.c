/* Zones from a raster of numbers: it must lie on the model's working grid, "another size,
 * transform or CRS is refused" (store.h), and hold whole numbers, 0 for none. */
#include "store_files.h"

enum { COLS = 40, ROWS = 30 };

/* A raster like the model's but for what is given. */
typedef struct kind {
    int cols, rows;
    GDALDataType type;
    double east, north, cell; /* moved by, in cells; the cell's side times this */
    int epsg;                 /* 0: the model's */
} kind;

static const kind same = {COLS, ROWS, GDT_Float64, 0, 0, 1, 0};

static void move_grid(GDALDatasetH d, const kind *k)
{
    double t[6];
    assert_int_equal(GDALGetGeoTransform(d, t), CE_None);
    t[0] += k->east * t[1];
    t[3] += k->north * t[5];
    t[1] *= k->cell;
    t[5] *= k->cell;
    assert_int_equal(GDALSetGeoTransform(d, t), CE_None);
}

static const char *make_zones(world *w, const kind *k, const double *values, const double *nodata)
{
    const char *path = at(w, "zones.tif");
    unlink(path);
    GDALDatasetH d = make_tif(path, k->cols, k->rows, k->type);
    move_grid(d, k);
    if (k->epsg) {
        OGRSpatialReferenceH crs = OSRNewSpatialReference(NULL);
        assert_int_equal(OSRImportFromEPSG(crs, k->epsg), OGRERR_NONE);
        assert_int_equal(GDALSetSpatialRef(d, crs), CE_None);
        OSRDestroySpatialReference(crs);
    }
    if (nodata)
        GDALSetRasterNoDataValue(GDALGetRasterBand(d, 1), *nodata);
    if (values)
        put_cells(d, 1, values);
    done(d);
    return path;
}

static void on_the_working_grid(void **state)
{
    world *w = *state;
    brant_dem dem;
    make_slope(w, COLS, ROWS, &dem);
    static const struct {
        kind k;
        const char *says; /* NULL: it is on it */
    } cases[] = {
        {{COLS, ROWS, GDT_UInt32, 0, 0, 1, 0}, NULL},
        {{COLS, ROWS, GDT_Float64, 1e-6, -1e-6, 1, 0}, NULL}, /* lost in storing */
        {{COLS + 1, ROWS, GDT_UInt32, 0, 0, 1, 0}, "41 x 30 cells, not 40 x 30"},
        {{COLS, ROWS - 1, GDT_UInt32, 0, 0, 1, 0}, "40 x 29 cells, not 40 x 30"},
        {{COLS, ROWS, GDT_UInt32, 0.5, 0, 1, 0}, "corners are up to 0.5 cells off"},
        {{COLS, ROWS, GDT_UInt32, 0, -1, 1, 0}, "corners are up to 1 cells off"},
        {{COLS, ROWS, GDT_UInt32, 0, 0, 1.01, 0}, "corners are up to 0.4 cells off"},
        {{COLS, ROWS, GDT_UInt32, 0, 0, 1, 32633}, "another coordinate reference system"},
        {{COLS, ROWS, GDT_CFloat32, 0, 0, 1, 0}, "complex"},
    };
    for (size_t i = 0; i < sizeof cases / sizeof *cases; i++) {
        brant_zone_file *file = NULL;
        const char *path = make_zones(w, &cases[i].k, NULL, NULL);
        brant_status status = brant_zone_file_open(&w->ctx, path, &dem, 25, &file);
        const char *message = status == BRANT_OK ? "" : brant_message(&w->ctx);
        assert_int_equal(status, cases[i].says ? BRANT_ERR_INPUT : BRANT_OK);
        if (cases[i].says && !strstr(message, cases[i].says))
            fail_msg("'%s' does not say '%s'", message, cases[i].says);
        assert_int_equal(file == NULL, cases[i].says != NULL);
        brant_zone_file_close(file);
        brant_forgive(&w->ctx);
    }
    brant_dem_close(&dem);
}

/* Void is no zone, as 0 is. */
static void numbers_as_they_are(void **state)
{
    world *w = *state;
    brant_dem dem;
    const double nodata = 99;
    static double values[COLS * ROWS];
    uint32_t out[12 * 8];
    make_slope(w, COLS, ROWS, &dem);
    for (int i = 0; i < COLS * ROWS; i++)
        values[i] = i % 3 ? 1000 + i : 0;
    values[1] = nodata;
    values[2] = NAN;
    values[4] = UINT32_MAX;
    brant_zone_file *file = NULL;
    const char *path = make_zones(w, &same, values, &nodata);
    assert_int_equal(brant_zone_file_open(&w->ctx, path, &dem, 25, &file), BRANT_OK);
    assert_true(brant_zone_file_reach_angle(file, 1000) == 0); /* none has one of its own */
    assert_true(isinf(brant_zone_file_flattest(file)));
    assert_false(brant_zone_file_is_drawn(file));
    static const brant_window windows[] = {{-2, -3, 12, 8}, {33, 26, 12, 8}, {5, 5, 12, 8},
                                           {50, 0, 12, 8}};
    for (size_t i = 0; i < sizeof windows / sizeof *windows; i++) {
        const brant_window *v = &windows[i];
        memset(out, 255, sizeof out);
        assert_int_equal(brant_zone_file_read(file, &w->ctx, v, out), BRANT_OK);
        for (int r = 0; r < v->rows; r++)
            for (int c = 0; c < v->cols; c++) {
                int col = v->col + c, row = v->row + r, cell = row * COLS + col;
                bool in = col >= 0 && row >= 0 && col < COLS && row < ROWS;
                uint32_t wanted = !in || cell == 1 || cell == 2 ? 0 : (uint32_t)values[cell];
                assert_int_equal(out[r * v->cols + c], wanted);
            }
    }
    brant_zone_file_close(file);
    brant_dem_close(&dem);
}

static void what_is_no_number(void **state)
{
    world *w = *state;
    brant_dem dem;
    static const double wrong[] = {-1, 0.5, 4294967296.0, INFINITY};
    static double values[COLS * ROWS];
    uint32_t out[COLS * ROWS];
    const brant_window all = {0, 0, COLS, ROWS};
    make_slope(w, COLS, ROWS, &dem);
    for (size_t i = 0; i < sizeof wrong / sizeof *wrong; i++) {
        brant_zone_file *file = NULL;
        values[7 * COLS + 5] = wrong[i];
        const char *path = make_zones(w, &same, values, NULL);
        assert_int_equal(brant_zone_file_open(&w->ctx, path, &dem, 25, &file), BRANT_OK);
        assert_int_equal(brant_zone_file_read(file, &w->ctx, &all, out), BRANT_ERR_INPUT);
        assert_non_null(strstr(brant_message(&w->ctx), "column 5, row 7 holds"));
        brant_forgive(&w->ctx);
        brant_zone_file_close(file);
    }
    brant_dem_close(&dem);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test_setup_teardown(on_the_working_grid, set_up, tear_down),
        cmocka_unit_test_setup_teardown(numbers_as_they_are, set_up, tear_down),
        cmocka_unit_test_setup_teardown(what_is_no_number, set_up, tear_down),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
