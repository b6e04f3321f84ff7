/* make_demo FOLDER: writes the demo into it: quern.tif, an invented mountain, and
 * quern.gpx, an invented ski tour across it. The place is open sea, so that
 * nobody mistakes the mountain for one that is there. The same files every time:
 * a test compares them with those that are checked in. */
#include "mountain.h"

#include <cpl_string.h>
#include <gdal.h>
#include <math.h>
#include <ogr_srs_api.h>
#include <stdbool.h>
#include <stdio.h>
#include <stdlib.h>

/* EPSG:32632, WGS 84 / UTM zone 32N: the model's south-west corner, metres. */
static const double WEST = 441000, SOUTH = 4803000;
enum { EPSG = 32632 };

/* ---- the model ------------------------------------------------------------ */

static OGRSpatialReferenceH reference(int epsg)
{
    OGRSpatialReferenceH crs = OSRNewSpatialReference(NULL);
    if (OSRImportFromEPSG(crs, epsg) != OGRERR_NONE) {
        OSRDestroySpatialReference(crs);
        return NULL;
    }
    OSRSetAxisMappingStrategy(crs, OAMS_TRADITIONAL_GIS_ORDER);
    return crs;
}

static bool describe_model(GDALDatasetH model)
{
    double transform[6] = {WEST, DEMO_CELL, 0, SOUTH + DEMO_CELLS * DEMO_CELL, 0, -DEMO_CELL};
    OGRSpatialReferenceH crs = reference(EPSG);
    GDALRasterBandH band = GDALGetRasterBand(model, 1);
    bool done = crs && GDALSetSpatialRef(model, crs) == CE_None &&
                GDALSetGeoTransform(model, transform) == CE_None &&
                GDALSetMetadataItem(model, "TIFFTAG_IMAGEDESCRIPTION",
                                    "Quern, an invented mountain", NULL) == CE_None &&
                GDALSetRasterNoDataValue(band, DEMO_NODATA) == CE_None &&
                GDALSetRasterUnitType(band, "metre") == CE_None;
    OSRDestroySpatialReference(crs);
    return done;
}

static bool write_model(const char *path, float *z)
{
    GDALDriverH driver = GDALGetDriverByName("GTiff");
    char **options = NULL;
    options = CSLSetNameValue(options, "TILED", "YES");
    options = CSLSetNameValue(options, "COMPRESS", "DEFLATE");
    options = CSLSetNameValue(options, "PREDICTOR", "3");
    options = CSLSetNameValue(options, "ZLEVEL", "9");
    GDALDatasetH model = GDALCreate(driver, path, DEMO_CELLS, DEMO_CELLS, 1, GDT_Float32, options);
    CSLDestroy(options);
    if (!model)
        return false;
    bool done = describe_model(model) &&
                GDALRasterIO(GDALGetRasterBand(model, 1), GF_Write, 0, 0, DEMO_CELLS, DEMO_CELLS, z,
                             DEMO_CELLS, DEMO_CELLS, GDT_Float32, 0, 0) == CE_None;
    CPLErrorReset();
    GDALClose(model);
    return done && CPLGetLastErrorType() < CE_Failure;
}

/* ---- the tour ------------------------------------------------------------- */

/* A position of the drawing, km. */
typedef struct place {
    double x, y;
} place;

static const place hut = {4.86, 2.90}, summit = {2.368, 3.124};

/* Up from the hut by the gully and the meads to the summit, down the north ridge
 * and across the bowl to the lake, under the wall and round the spur, back. */
static const place tour[] = {
    {4.86, 2.90},
    /* the gully */
    {4.78, 2.82}, {4.71, 2.76}, {4.60, 2.66}, {4.50, 2.58}, {4.40, 2.60}, {4.30, 2.62},
    {4.21, 2.52}, {4.12, 2.42}, {4.05, 2.35}, {3.98, 2.28}, {3.86, 2.29}, {3.77, 2.29},
    /* the meads, below the small pitch */
    {3.70, 2.18}, {3.72, 2.04}, {3.64, 1.92}, {3.60, 1.76}, {3.66, 1.60}, {3.62, 1.44},
    {3.50, 1.26}, {3.37, 1.33}, {3.32, 1.52}, {3.22, 1.64}, {3.12, 1.64}, {3.06, 1.72},
    {3.10, 1.84}, {3.06, 1.96}, {2.98, 2.05}, {2.90, 2.10}, {2.82, 2.06},
    /* the shoulder, in wide turns */
    {2.74, 2.10}, {2.76, 2.20}, {2.68, 2.27}, {2.58, 2.28}, {2.55, 2.38}, {2.60, 2.46},
    {2.52, 2.52}, {2.44, 2.56}, {2.46, 2.66}, {2.41, 2.75}, {2.42, 2.84}, {2.35, 2.95},
    {2.368, 3.124},
    /* the north ridge, the bowl */
    {2.36, 3.21}, {2.32, 3.27}, {2.30, 3.38}, {2.34, 3.48}, {2.44, 3.55}, {2.54, 3.60},
    {2.62, 3.67}, {2.72, 3.70}, {2.84, 3.67}, {2.96, 3.70}, {3.07, 3.79}, {3.18, 3.90},
    {3.28, 4.01},
    /* along the lake and under the wall */
    {3.39, 4.07}, {3.50, 4.07}, {3.60, 4.03}, {3.70, 3.97}, {3.80, 3.98}, {3.90, 4.05},
    {4.00, 4.14}, {4.10, 4.22}, {4.22, 4.27}, {4.34, 4.26}, {4.46, 4.20}, {4.56, 4.12},
    /* the bench round the spur */
    {4.64, 3.99}, {4.72, 3.84}, {4.78, 3.70}, {4.82, 3.55}, {4.86, 3.42}, {4.88, 3.28},
    {4.88, 3.15}, {4.87, 3.02}, {4.86, 2.90},
};

enum { TURNS = sizeof tour / sizeof tour[0], PIECES = 64, VERTICES_MAX = 1000 };

static const double SPACING = 42; /* metres from vertex to vertex */

/* A position on the smooth curve (Catmull-Rom) from tour[i] to tour[i + 1]. */
static place on_curve(int i, double t)
{
    place a = tour[i > 0 ? i - 1 : 0], b = tour[i], c = tour[i + 1];
    place d = tour[i + 2 < TURNS ? i + 2 : TURNS - 1];
    double wa = ((2 - t) * t - 1) * t / 2, wb = ((3 * t - 5) * t * t + 2) / 2;
    double wc = ((4 - 3 * t) * t + 1) * t / 2, wd = (t - 1) * t * t / 2;
    return (place){wa * a.x + wb * b.x + wc * c.x + wd * d.x,
                   wa * a.y + wb * b.y + wc * c.y + wd * d.y};
}

/* The model's place on the map. */
static void on_map(place drawn, double *x, double *y)
{
    demo_place(drawn.x, drawn.y, x, y);
    *x += WEST;
    *y += SOUTH;
}

/* Walk the curve and drop a vertex every SPACING metres, and at both ends. */
static int walk(double *x, double *y)
{
    on_map(tour[0], &x[0], &y[0]);
    int count = 1;
    double at_x = x[0], at_y = y[0], since = 0;
    for (int piece = 0; piece < (TURNS - 1) * PIECES; piece++) {
        double to_x, to_y;
        int turn = piece / PIECES;
        on_map(on_curve(turn, (double)(piece % PIECES + 1) / PIECES), &to_x, &to_y);
        since += hypot(to_x - at_x, to_y - at_y);
        at_x = to_x, at_y = to_y;
        if (since >= SPACING && count < VERTICES_MAX - 1) {
            x[count] = at_x, y[count] = at_y;
            count++;
            since = 0;
        }
    }
    if (since < 0.75 * SPACING)
        count--;
    x[count] = at_x, y[count] = at_y;
    return count + 1;
}

static void write_waypoint(FILE *file, OGRCoordinateTransformationH to_degrees, place at,
                           const char *name)
{
    double x, y;
    on_map(at, &x, &y);
    OCTTransform(to_degrees, 1, &x, &y, NULL);
    fprintf(file, "  <wpt lat=\"%.6f\" lon=\"%.6f\"><name>%s</name></wpt>\n", y, x, name);
}

static bool write_tour(const char *path)
{
    double x[VERTICES_MAX], y[VERTICES_MAX];
    int count = walk(x, y);
    OGRSpatialReferenceH utm = reference(EPSG), degrees = reference(4326);
    OGRCoordinateTransformationH to_degrees =
        utm && degrees ? OCTNewCoordinateTransformation(utm, degrees) : NULL;
    bool done = to_degrees && OCTTransform(to_degrees, count, x, y, NULL);
    FILE *file = done ? fopen(path, "w") : NULL;
    if (file) {
        fputs("<?xml version=\"1.0\" encoding=\"UTF-8\"?>\n"
              "<gpx version=\"1.1\" creator=\"make_demo\""
              " xmlns=\"http://www.topografix.com/GPX/1/1\">\n"
              "  <metadata><name>Quern</name><desc>An invented tour on an invented mountain"
              "</desc></metadata>\n", file);
        write_waypoint(file, to_degrees, hut, "Fallow Hut");
        write_waypoint(file, to_degrees, summit, "Ostler Horn");
        fputs("  <trk>\n    <name>Ostler Horn from Fallow Hut</name>\n    <trkseg>\n", file);
        for (int i = 0; i < count; i++)
            fprintf(file, "      <trkpt lat=\"%.6f\" lon=\"%.6f\"/>\n", y[i], x[i]);
        fputs("    </trkseg>\n  </trk>\n</gpx>\n", file);
        done = !ferror(file);
        done = fclose(file) == 0 && done;
    } else {
        done = false;
    }
    OCTDestroyCoordinateTransformation(to_degrees);
    OSRDestroySpatialReference(degrees);
    OSRDestroySpatialReference(utm);
    return done;
}

int main(int argc, char **argv)
{
    char path[4096];
    if (argc != 2 || snprintf(path, sizeof path, "%s/quern.tif", argv[1]) >= (int)sizeof path) {
        fputs("usage: make_demo FOLDER\n", stderr);
        return 2;
    }
    GDALAllRegister();
    float *z = demo_mountain();
    bool done = z && write_model(path, z);
    free(z);
    if (!done) {
        fprintf(stderr, "make_demo: %s: not written\n", path);
        return 1;
    }
    snprintf(path, sizeof path, "%s/quern.gpx", argv[1]);
    if (!write_tour(path)) {
        fprintf(stderr, "make_demo: %s: not written\n", path);
        return 1;
    }
    return 0;
}
