/* Small rasters and folders for the store room's tests. */
#ifndef BRANT_TEST_STORE_FILES_H
#define BRANT_TEST_STORE_FILES_H

#include "brant/store.h"

#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>

#include <cmocka.h>

#include <cpl_conv.h>
#include <cpl_string.h>
#include <dirent.h>
#include <gdal.h>
#include <math.h>
#include <ogr_srs_api.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <sys/stat.h>
#include <unistd.h>

/* A test's own world: a folder, a context, what was logged. */
typedef struct world {
    char folder[64];
    brant_context ctx;
    char logged[4096]; /* lines, "W " or "N " in front */
    int warnings, notes;
    char path[256]; /* of at() */
} world;

static inline void keep_line(void *user, brant_log_level level, const char *text)
{
    world *w = user;
    size_t used = strlen(w->logged);
    snprintf(w->logged + used, sizeof w->logged - used, "%c %s\n",
             level == BRANT_LOG_WARNING ? 'W' : 'N', text);
    *(level == BRANT_LOG_WARNING ? &w->warnings : &w->notes) += 1;
}

static inline int set_up(void **state)
{
    world *w = calloc(1, sizeof *w);
    if (!w)
        return -1;
    GDALAllRegister();
    brant_context_init(&w->ctx);
    w->ctx.log = keep_line;
    w->ctx.user = w;
    snprintf(w->folder, sizeof w->folder, "/tmp/brant-test-XXXXXX");
    *state = w;
    return mkdtemp(w->folder) ? 0 : -1;
}

static inline int tear_down(void **state)
{
    world *w = *state;
    VSIRmdirRecursive(w->folder);
    brant_context_clear(&w->ctx);
    free(w);
    return 0;
}

/* Path of `name` in the folder; valid until the next call. */
static inline const char *at(world *w, const char *name)
{
    snprintf(w->path, sizeof w->path, "%s/%s", w->folder, name);
    return w->path;
}

static inline char *at_copy(world *w, const char *name)
{
    return strdup(at(w, name));
}

/* Names in the folder but . and .. */
static inline int entries(const world *w)
{
    int count = 0;
    DIR *listing = opendir(w->folder);
    assert_non_null(listing);
    for (struct dirent *e; (e = readdir(listing));)
        count += strcmp(e->d_name, ".") != 0 && strcmp(e->d_name, "..") != 0;
    closedir(listing);
    return count;
}

static inline bool is_there(const char *path)
{
    struct stat info;
    return lstat(path, &info) == 0;
}

static inline void put_text(const char *path, const char *text)
{
    FILE *file = fopen(path, "wb");
    assert_non_null(file);
    assert_true(fputs(text, file) >= 0);
    assert_int_equal(fclose(file), 0);
}

/* The whole file, owned by the caller; `*size` may be NULL. */
static inline char *get_bytes(const char *path, size_t *size)
{
    FILE *file = fopen(path, "rb");
    assert_non_null(file);
    fseek(file, 0, SEEK_END);
    long length = ftell(file);
    rewind(file);
    char *data = calloc((size_t)length + 1, 1);
    assert_non_null(data);
    assert_int_equal(fread(data, 1, (size_t)length, file), (size_t)length);
    fclose(file);
    if (size)
        *size = (size_t)length;
    return data;
}

/* A raster in the making, closed by done(). 10 m cells of EPSG:32632 from
 * (600000, 5200000), unless changed. */
static inline GDALDatasetH make_raster(const char *driver, const char *path, int cols, int rows,
                                       int bands, GDALDataType type, char **options)
{
    double t[6] = {600000, 10, 0, 5200000, 0, -10};
    GDALDatasetH dataset = GDALCreate(GDALGetDriverByName(driver), path, cols, rows, bands, type,
                                      options);
    assert_non_null(dataset);
    OGRSpatialReferenceH crs = OSRNewSpatialReference(NULL);
    assert_int_equal(OSRImportFromEPSG(crs, 32632), OGRERR_NONE);
    GDALSetSpatialRef(dataset, crs);
    OSRDestroySpatialReference(crs);
    GDALSetGeoTransform(dataset, t);
    return dataset;
}

static inline GDALDatasetH make_tif(const char *path, int cols, int rows, GDALDataType type)
{
    return make_raster("GTiff", path, cols, rows, 1, type, NULL);
}

static inline void put_cells(GDALDatasetH dataset, int band, const double *cells)
{
    int cols = GDALGetRasterXSize(dataset), rows = GDALGetRasterYSize(dataset);
    assert_int_equal(GDALRasterIO(GDALGetRasterBand(dataset, band), GF_Write, 0, 0, cols, rows,
                                  (void *)(uintptr_t)cells, cols, rows, GDT_Float64, 0, 0),
                     CE_None);
}

static inline void done(GDALDatasetH dataset)
{
    GDALClose(dataset);
}

/* Open as a model with plain options; fails the test if it cannot be. */
static inline void open_dem(world *w, const char *path, const brant_dem_options *options,
                            brant_dem *dem)
{
    static const brant_dem_options plain;
    if (brant_dem_open(&w->ctx, path, options ? options : &plain, dem) != BRANT_OK)
        fail_msg("%s", brant_message(&w->ctx));
}

/* The open must fail with `status` and a message that holds both texts. */
/* A model that falls 7 m a row from 2,000 m. */
static inline void make_slope(world *w, int cols, int rows, brant_dem *dem)
{
    double *z = calloc((size_t)cols * (size_t)rows, sizeof *z);
    assert_non_null(z);
    for (int i = 0; i < cols * rows; i++)
        z[i] = 2000 - i / cols * 7.0;
    char *path = at_copy(w, "dem.tif");
    GDALDatasetH d = make_tif(path, cols, rows, GDT_Float32);
    put_cells(d, 1, z);
    done(d);
    open_dem(w, path, NULL, dem);
    free(path);
    free(z);
}

static inline void refuse_dem(world *w, const char *path, const brant_dem_options *options,
                              brant_status status, const char *text)
{
    static const brant_dem_options plain;
    brant_dem dem;
    char message[BRANT_MESSAGE_MAX];
    assert_int_equal(brant_dem_open(&w->ctx, path, options ? options : &plain, &dem), status);
    snprintf(message, sizeof message, "%s", brant_message(&w->ctx));
    if (strncmp(message, path, strlen(path)) != 0 || !strstr(message, text))
        fail_msg("message is '%s', wanted the file first and '%s'", message, text);
    assert_null(dem.self);
    brant_forgive(&w->ctx);
}

static inline float *read_all(world *w, brant_dem *dem)
{
    brant_window window = {0, 0, dem->grid.cols, dem->grid.rows};
    float *z = calloc((size_t)window.cols * (size_t)window.rows, sizeof *z);
    assert_non_null(z);
    assert_int_equal(dem->source.read(&dem->source, &w->ctx, &window, z), BRANT_OK);
    return z;
}

/* Path of a shared file, NULL where it is absent. */
static inline const char *shared(world *w, const char *name)
{
    const char *folder = getenv("BRANT_SHARED_DATA");
    if (!folder)
        return NULL;
    snprintf(w->path, sizeof w->path, "%s/dem/%s", folder, name);
    return is_there(w->path) ? w->path : NULL;
}

#endif
