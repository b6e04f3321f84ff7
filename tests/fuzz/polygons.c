/* Anything as a file of zones that a person drew, on a small model: read whole, in a window, and
 * as a set of zones. What GDAL would take for a raster is left to GDAL. */
#include "fuzz.h"

#include "../../src/store/polygons.h"

#include <math.h>
#include <unistd.h>

enum { COLS = 40, ROWS = 30 };

static float ground[COLS * ROWS];
static char path[64]; /* one file a process, written anew for each input */
static brant_dem dem;

static void remove_file(void)
{
    unlink(path);
    brant_ground_destroy(dem.ground);
}

/* A slope of 35 degrees in cells of 10 m, near 9 E 46.95 N. */
static void make_model(void)
{
    static char name[] = "dem.tif", crs[] = "EPSG:32632";
    brant_context ctx;
    brant_context_init(&ctx);
    for (int i = 0; i < COLS * ROWS; i++)
        ground[i] = 2000.0f - (float)(i / COLS) * 7.0f;
    dem = (brant_dem){.name = name, .factor = 1, .band = 1, .to_metres = 1,
                      .grid = {COLS, ROWS, {500000, 10, 0, 5200000, 0, -10}, crs}};
    brant_source_array(&dem.source, ground, COLS, ROWS);
    FUZZ_CHECK(brant_ground_create(&ctx, name, &dem.grid, &dem.ground) == BRANT_OK);
    brant_context_clear(&ctx);
    brant_store_own_drivers();
    int file = -1;
    strcpy(path, "/tmp/brant-fuzz-XXXXXX.geojson");
    file = mkstemps(path, (int)strlen(".geojson"));
    FUZZ_CHECK(file >= 0);
    close(file);
    atexit(remove_file);
}

static void check_window(brant_context *ctx, brant_zone_file *file, const uint32_t *whole)
{
    static uint32_t part[20 * 20];
    brant_window window = {-5, 17, 20, 20};
    FUZZ_CHECK(brant_zone_file_read(file, ctx, &window, part) == BRANT_OK);
    for (int i = 0; i < 20 * 20; i++) {
        int col = window.col + i % 20, row = window.row + i / 20;
        bool on = col >= 0 && col < COLS && row < ROWS;
        FUZZ_CHECK(part[i] == (on ? whole[row * COLS + col] : 0));
    }
}

/* Each cell with a number belongs to a zone of it, whose reach angle can be searched at. */
static void check_set(brant_context *ctx, brant_zone_file *file, const uint32_t *whole)
{
    const bool wanted[1] = {true};
    brant_zone_options options = BRANT_ZONE_OPTIONS_DEFAULT;
    brant_zone_set set;
    FUZZ_CHECK(brant_zone_file_zones(ctx, file, &dem, wanted, &options, &set) == BRANT_OK);
    for (int i = 0; i < COLS * ROWS; i++) {
        brant_zone *zone = whole[i] ? brant_zone_set_find(&set, whole[i]) : NULL;
        FUZZ_CHECK(!whole[i] == !zone);
        FUZZ_CHECK(!zone || (zone->area_m2 > 0 && isfinite(zone->area_m2)));
    }
    brant_zone_set_clear(&set);
    double flattest = brant_zone_file_flattest(file);
    FUZZ_CHECK(flattest == INFINITY || (flattest >= 10 && flattest <= 60));
}

static void read_file(brant_context *ctx)
{
    static uint32_t whole[COLS * ROWS];
    brant_window all = {0, 0, COLS, ROWS};
    brant_zone_file *file = NULL;
    brant_status status = brant_zone_file_open(ctx, path, &dem, 25, &file);
    if (status != BRANT_OK) {
        fuzz_check_refusal(ctx, status, path);
        FUZZ_CHECK(!file);
        return;
    }
    FUZZ_CHECK(brant_zone_file_read(file, ctx, &all, whole) == BRANT_OK);
    check_window(ctx, file, whole);
    check_set(ctx, file, whole);
    brant_zone_file_close(file);
}

int LLVMFuzzerTestOneInput(const uint8_t *data, size_t size)
{
    brant_context ctx;
    if (!*path)
        make_model();
    FILE *file = fopen(path, "wb");
    FUZZ_CHECK(file && fwrite(data, 1, size, file) == size && fclose(file) == 0);
    if (brant_polygons_format(path) == BRANT_POLYGONS_NONE)
        return 0;
    fuzz_begin(&ctx);
    read_file(&ctx);
    brant_context_clear(&ctx);
    return 0;
}
