/* The rasters of the plan room: more than one piece across, off the grid's first
 * cell, from memory and from the model. What is written is read back as a model. */
#include "brant/plan.h"

#include "store_files.h"

/* Wider than the 16 blocks of a piece, no multiple of a block either way. */
enum { COLS = 4400, ROWS = 600 };
static const brant_window part = {37, 41, 4300, 530};

/* Bumps of 10 m cells with a void, every cell's height its own. */
static void make_dem(world *w, brant_dem *dem)
{
    char *wkt = NULL;
    OGRSpatialReferenceH crs = OSRNewSpatialReference(NULL);
    OSRImportFromEPSG(crs, 32632);
    OSRExportToWkt(crs, &wkt);
    memset(dem, 0, sizeof *dem);
    dem->name = brant_strdup(&w->ctx, "elsewhere/bumps.tif");
    dem->driver = brant_strdup(&w->ctx, "none");
    dem->grid = (brant_grid){COLS, ROWS, {600000, 10, 0, 5200000, 0, -10},
                             brant_strdup(&w->ctx, wkt)};
    dem->factor = dem->band = 1;
    dem->to_metres = 1.0;
    dem->unit_from = "assumed";
    CPLFree(wkt);
    OSRDestroySpatialReference(crs);
    float *z = calloc((size_t)COLS * ROWS, sizeof *z);
    assert_non_null(z);
    for (int i = 0; i < COLS * ROWS; i++) {
        double x = i % COLS, y = i / COLS;
        z[i] = (float)(2000 + 60 * sin(x / 9) * cos(y / 13) + 0.01 * x + 0.1 * y);
    }
    z[300 * COLS + 4200] = NAN;
    brant_source_array(&dem->source, z, COLS, ROWS);
    dem->self = z;
    assert_int_equal(brant_ground_create(&w->ctx, dem->name, &dem->grid, &dem->ground), BRANT_OK);
}

static void clear_dem(brant_dem *dem)
{
    free(dem->self);
    free(dem->name);
    free(dem->driver);
    brant_grid_clear(&dem->grid);
    brant_ground_destroy(dem->ground);
}

static float *read_window(world *w, brant_source *source, brant_window window)
{
    float *z = calloc((size_t)window.cols * (size_t)window.rows, sizeof *z);
    assert_non_null(z);
    assert_int_equal(source->read(source, &w->ctx, &window, z), BRANT_OK);
    return z;
}

/* Equal, and void in the same cells. */
static void assert_same(const float *a, const float *b, size_t count)
{
    for (size_t i = 0; i < count; i++)
        if (!(a[i] == b[i] || (isnan(a[i]) && isnan(b[i]))))
            fail_msg("cell %zu: %g and %g", i, (double)a[i], (double)b[i]);
}

static void write_all(world *w, brant_dem *dem, const brant_field *field,
                      const brant_steepness_paths *paths)
{
    brant_tags tags = {0};
    assert_int_equal(brant_tags_begin(&w->ctx, &tags, "test", dem), BRANT_OK);
    assert_int_equal(brant_tags_number(&w->ctx, &tags, "BRANT_FLOOR", 18.5), BRANT_OK);
    if (brant_write_steepness(&w->ctx, dem, &part, field, false, paths, (brant_packing){0},
                              &tags) != BRANT_OK)
        fail_msg("%s", brant_message(&w->ctx));
    brant_tags_clear(&tags);
}

/* Every cell of every piece is in its place. */
static void elevations_come_back(void **state)
{
    world *w = *state;
    brant_dem dem, back = {0};
    brant_steepness_paths paths = {0};
    brant_dem_options options = {0};
    size_t count = (size_t)part.cols * (size_t)part.rows;
    char path[300];
    snprintf(path, sizeof path, "%s/z.tif", w->folder);
    paths.elevation = path;
    make_dem(w, &dem);
    w->ctx.threads = 3;
    write_all(w, &dem, NULL, &paths);
    if (brant_dem_open(&w->ctx, path, &options, &back) != BRANT_OK)
        fail_msg("%s", brant_message(&w->ctx));
    assert_int_equal(back.grid.cols, part.cols);
    assert_int_equal(back.grid.rows, part.rows);
    assert_true(back.grid.transform[0] == 600000 + 10 * part.col);
    assert_true(back.grid.transform[3] == 5200000 - 10 * part.row);
    float *before = read_window(w, &dem.source, part);
    float *after = read_window(w, &back.source, (brant_window){0, 0, part.cols, part.rows});
    assert_same(before, after, count);
    free(before);
    free(after);
    brant_dem_close(&back);
    clear_dem(&dem);
}

static char *read_bytes(world *w, const char *path, size_t *size)
{
    char *data = NULL;
    if (brant_read_file(&w->ctx, path, (size_t)1 << 30, &data, size) != BRANT_OK)
        fail_msg("%s", brant_message(&w->ctx));
    return data;
}

/* From memory on one thread and read piece by piece on three: the same bytes. */
static void memory_and_model_agree(void **state)
{
    static const char *const names[] = {"z", "s", "a", "c"};
    world *w = *state;
    brant_dem dem;
    brant_field field;
    char path[2][4][300];
    make_dem(w, &dem);
    assert_int_equal(brant_field_read(&w->ctx, &dem.source, dem.ground, &part, false, &field),
                     BRANT_OK);
    for (int k = 0; k < 2; k++) {
        for (int i = 0; i < 4; i++)
            snprintf(path[k][i], sizeof path[k][i], "%s/%s%d.tif", w->folder, names[i], k);
        brant_steepness_paths paths = {path[k][0], path[k][1], path[k][2], path[k][3]};
        w->ctx.threads = k ? 3 : 1;
        write_all(w, &dem, k ? NULL : &field, &paths);
    }
    for (int i = 0; i < 4; i++) {
        size_t size[2];
        char *bytes[2] = {read_bytes(w, path[0][i], &size[0]), read_bytes(w, path[1][i], &size[1])};
        assert_int_equal(size[0], size[1]);
        assert_memory_equal(bytes[0], bytes[1], size[0]);
        free(bytes[0]);
        free(bytes[1]);
    }
    brant_field_clear(&field);
    clear_dem(&dem);
}

static void check_tag(world *w, const char *path, const char *key, const char *expected)
{
    brant_text value = {0};
    assert_int_equal(brant_raster_tag(&w->ctx, path, key, &value), BRANT_OK);
    if (expected)
        assert_string_equal(value.data, expected);
    else
        assert_null(value.data);
    brant_text_clear(&value);
}

static void tags_come_back_and_folders_do_not(void **state)
{
    world *w = *state;
    brant_dem dem;
    char path[300];
    snprintf(path, sizeof path, "%s/s.tif", w->folder);
    brant_steepness_paths paths = {.slope = path};
    make_dem(w, &dem);
    write_all(w, &dem, NULL, &paths);
    check_tag(w, path, "BRANT_PROGRAM", "test");
    check_tag(w, path, "BRANT_VERSION", brant_version());
    check_tag(w, path, "BRANT_MODEL", "bumps.tif");
    check_tag(w, path, "BRANT_FACTOR", "1");
    check_tag(w, path, "BRANT_FLOOR", "18.5");
    check_tag(w, path, "BRANT_NOTHING", NULL);
    clear_dem(&dem);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test_setup_teardown(elevations_come_back, set_up, tear_down),
        cmocka_unit_test_setup_teardown(memory_and_model_agree, set_up, tear_down),
        cmocka_unit_test_setup_teardown(tags_come_back_and_folders_do_not, set_up, tear_down),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
