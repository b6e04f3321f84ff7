/* Zones and the runout raster of a whole model: the same bytes whatever the budget and the number of
 * threads, and those of the shadow held in memory; also where a zone is cut by the line
 * between two squares. */
#include "brant/plan.h"

#include "store_files.h"

#include "plan_whole.h"

#include "../bench/scene.h"

#include <fcntl.h>

/* Two squares across. */
enum { COLS = 1120, ROWS = 260 };

static const brant_reach_options reach = {25.0, 20.0, 23.0};

/* The demo's mountain, mirrored, as a model in memory. */
static void make_dem(world *w, brant_dem *dem)
{
    char *wkt = NULL;
    OGRSpatialReferenceH crs = OSRNewSpatialReference(NULL);
    OSRImportFromEPSG(crs, 32632);
    OSRExportToWkt(crs, &wkt);
    memset(dem, 0, sizeof *dem);
    dem->name = brant_strdup(&w->ctx, "mirrored.tif");
    dem->driver = brant_strdup(&w->ctx, "none");
    dem->grid = (brant_grid){COLS, ROWS, {600000, 10, 0, 5200000, 0, -10},
                             brant_strdup(&w->ctx, wkt)};
    dem->factor = dem->band = 1;
    dem->to_metres = 1.0;
    dem->unit_from = "assumed";
    CPLFree(wkt);
    OSRDestroySpatialReference(crs);
    float *z = scene_mountains(COLS, ROWS);
    assert_non_null(z);
    z[100 * COLS + 500] = NAN;
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

/* Zones as the model has them, but around the line between the squares two alone: one on
 * even rows of release ground, one on odd. Written as a raster. */
static void write_zones(world *w, brant_dem *dem, const char *path)
{
    static const brant_band_spec band = {"zone", "", true, 0, NULL, NULL};
    brant_raster_spec spec = {
        .title = "zones", .type = BRANT_CELL_UINT32, .bands = 1, .band = &band};
    brant_zone_options options = BRANT_ZONE_OPTIONS_DEFAULT;
    brant_window all = {0, 0, COLS, ROWS};
    brant_zone_set set;
    bool wanted[] = {true, true};
    size_t on_line[2] = {0, 0};
    uint32_t *number = calloc((size_t)COLS * ROWS, sizeof *number);
    assert_non_null(number);
    assert_int_equal(brant_zone_set_build(&w->ctx, &dem->source, dem->ground, wanted, &options,
                                          &set), BRANT_OK);
    for (int i = 0; i < COLS * ROWS; i++) {
        int col = i % COLS, row = i / COLS;
        number[i] = brant_zone_set_at(&set, col, row);
        if (number[i] == 0 || col < 1000 || col >= 1050)
            continue;
        number[i] = 900000001u + (uint32_t)(row % 2);
        on_line[col >= BRANT_SQUARE]++;
    }
    assert_true(set.count > 100 && on_line[0] > 20 && on_line[1] > 20);
    const void *bands[] = {number};
    assert_int_equal(brant_raster_write(&w->ctx, path, &dem->grid, &all, &spec, bands), BRANT_OK);
    brant_zone_set_clear(&set);
    free(number);
}

/* The file's bytes, and a name for it. */
typedef struct bytes {
    char *data;
    size_t size;
} bytes;

static bytes read_bytes(world *w, const char *path)
{
    bytes b;
    if (brant_read_file(&w->ctx, path, (size_t)1 << 30, &b.data, &b.size) != BRANT_OK)
        fail_msg("%s", brant_message(&w->ctx));
    return b;
}

static bytes run(world *w, brant_dem *dem, brant_zone_file *zones, int threads, size_t budget,
                 brant_runout_counts *counts)
{
    char path[300], scratch[320];
    snprintf(path, sizeof path, "%s/runout.tif", w->folder);
    snprintf(scratch, sizeof scratch, "%s.shadow", path);
    brant_runout_request request = {.reach = reach, .void_rise_m = 100.0f, .path = path,
                                    .budget_bytes = budget};
    w->ctx.threads = threads;
    if (brant_plan_runout(&w->ctx, dem, zones, &request, counts) != BRANT_OK)
        fail_msg("%s", brant_message(&w->ctx));
    assert_int_equal(access(scratch, F_OK), -1); /* the scratch file has no name */
    return read_bytes(w, path);
}

/* All zones and the whole shadow in memory. */
static bytes run_in_memory(world *w, brant_dem *dem, brant_zone_file *zones, size_t *truncated)
{
    brant_zone_options options = BRANT_ZONE_OPTIONS_DEFAULT;
    brant_zone_set set;
    brant_shadow shadow;
    bool wanted[] = {true, true};
    char path[300];
    snprintf(path, sizeof path, "%s/whole.tif", w->folder);
    assert_int_equal(brant_zone_file_zones(&w->ctx, zones, dem, wanted, &options, &set), BRANT_OK);
    whole_shadow(&w->ctx, dem, &set, &reach, 100.0f, &shadow);
    assert_int_equal(brant_write_shadow(&w->ctx, dem, &shadow, path, (brant_packing){0},
                                        NULL),
                     BRANT_OK);
    *truncated = 0;
    for (size_t i = 0; i < set.count; i++)
        *truncated += (set.zones[i].flags & BRANT_ZONE_TRUNCATED) != 0;
    brant_shadow_clear(&shadow);
    brant_zone_set_clear(&set);
    return read_bytes(w, path);
}

static void bytes_do_not_depend_on_memory(void **state)
{
    /* nothing stays in memory; three tiles; all */
    static const struct { int threads; size_t budget; } ways[] = {
        {1, 0}, {3, 6 << 20}, {2, (size_t)256 << 20}};
    world *w = *state;
    char path[300];
    brant_dem dem;
    brant_zone_file *zones;
    brant_runout_counts counts;
    size_t truncated;
    snprintf(path, sizeof path, "%s/zones.tif", w->folder);
    make_dem(w, &dem);
    write_zones(w, &dem, path);
    if (brant_zone_file_open(&w->ctx, path, &dem, 25.0, &zones) != BRANT_OK)
        fail_msg("%s", brant_message(&w->ctx));
    bytes whole = run_in_memory(w, &dem, zones, &truncated);
    assert_true(truncated > 0);
    for (size_t i = 0; i < sizeof ways / sizeof *ways; i++) {
        bytes some = run(w, &dem, zones, ways[i].threads, ways[i].budget, &counts);
        assert_int_equal(counts.truncated, truncated);
        assert_int_equal(some.size, whole.size);
        assert_memory_equal(some.data, whole.data, whole.size);
        free(some.data);
    }
    free(whole.data);
    brant_zone_file_close(zones);
    clear_dem(&dem);
}

/* A scratch file that cannot be made is one line, not a crash or a hole. */
static void no_place_for_the_scratch_file(void **state)
{
    world *w = *state;
    char zone_path[300], path[300], taken[320];
    brant_dem dem;
    brant_zone_file *zones;
    brant_runout_counts counts;
    brant_runout_request request = {.reach = reach, .void_rise_m = 100.0f, .path = path};
    snprintf(zone_path, sizeof zone_path, "%s/zones.tif", w->folder);
    snprintf(path, sizeof path, "%s/runout.tif", w->folder);
    snprintf(taken, sizeof taken, "%s.shadow", path);
    make_dem(w, &dem);
    write_zones(w, &dem, zone_path);
    assert_int_equal(brant_zone_file_open(&w->ctx, zone_path, &dem, 25.0, &zones), BRANT_OK);
    int file = open(taken, O_CREAT | O_WRONLY, 0600);
    assert_true(file >= 0 && close(file) == 0);
    assert_int_equal(brant_plan_runout(&w->ctx, &dem, zones, &request, &counts), BRANT_ERR_IO);
    assert_non_null(strstr(brant_message(&w->ctx), ".shadow: cannot make the scratch file"));
    assert_int_equal(access(path, F_OK), -1);
    brant_zone_file_close(zones);
    clear_dem(&dem);
}

/* Zones over two squares, packed until their row of squares is whole: every cell's number is
 * the set's, in the same bytes from any number of threads; the table has a line a zone. */
static bytes write_all_zones(world *w, brant_dem *dem, int threads, bytes *table)
{
    brant_zone_options options = BRANT_ZONE_OPTIONS_DEFAULT;
    brant_stage *stage;
    char raster[300], csv[300];
    snprintf(raster, sizeof raster, "%s/all.tif", w->folder);
    snprintf(csv, sizeof csv, "%s/all.csv", w->folder);
    w->ctx.threads = threads;
    assert_int_equal(brant_stage_create(&w->ctx, &stage), BRANT_OK);
    assert_int_equal(brant_stage_output(&w->ctx, stage, csv, true, NULL), BRANT_OK);
    brant_zone_outputs outputs = {raster, NULL, stage, csv};
    brant_packing packing = {.compress = BRANT_COMPRESS_DEFLATE};
    if (brant_write_all_zones(&w->ctx, dem, &options, &outputs, packing, NULL) != BRANT_OK ||
        brant_stage_commit(&w->ctx, stage) != BRANT_OK)
        fail_msg("%s", brant_message(&w->ctx));
    brant_stage_destroy(stage);
    *table = read_bytes(w, csv);
    return read_bytes(w, raster);
}

static void zones_come_back(world *w, brant_dem *dem, size_t *count)
{
    static uint32_t number[COLS * ROWS];
    brant_zone_options options = BRANT_ZONE_OPTIONS_DEFAULT;
    brant_window all = {0, 0, COLS, ROWS};
    brant_zone_set set;
    brant_zone_file *file;
    bool wanted[] = {true, true};
    char path[300];
    snprintf(path, sizeof path, "%s/all.tif", w->folder);
    assert_int_equal(brant_zone_set_build(&w->ctx, &dem->source, dem->ground, wanted, &options,
                                          &set), BRANT_OK);
    assert_int_equal(brant_zone_file_open(&w->ctx, path, dem, 25.0, &file), BRANT_OK);
    assert_int_equal(brant_zone_file_read(file, &w->ctx, &all, number), BRANT_OK);
    for (int i = 0; i < COLS * ROWS; i++)
        if (number[i] != brant_zone_set_at(&set, i % COLS, i / COLS))
            fail_msg("cell %d: %u", i, number[i]);
    *count = set.count;
    brant_zone_file_close(file);
    brant_zone_set_clear(&set);
}

static void zones_of_all_squares(void **state)
{
    world *w = *state;
    brant_dem dem;
    bytes table, again;
    size_t lines = 0, count;
    make_dem(w, &dem);
    bytes one = write_all_zones(w, &dem, 1, &table);
    bytes three = write_all_zones(w, &dem, 3, &again);
    assert_int_equal(one.size, three.size);
    assert_memory_equal(one.data, three.data, one.size);
    assert_int_equal(table.size, again.size);
    assert_memory_equal(table.data, again.data, table.size);
    zones_come_back(w, &dem, &count);
    for (size_t i = 0; i < table.size; i++)
        lines += table.data[i] == '\n';
    assert_int_equal(lines, count + 1);
    free(one.data);
    free(three.data);
    free(table.data);
    free(again.data);
    clear_dem(&dem);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test_setup_teardown(bytes_do_not_depend_on_memory, set_up, tear_down),
        cmocka_unit_test_setup_teardown(zones_of_all_squares, set_up, tear_down),
        cmocka_unit_test_setup_teardown(no_place_for_the_scratch_file, set_up, tear_down),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
