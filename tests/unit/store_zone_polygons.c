/* Zones from polygons. Which cells a polygon holds is asked of GEOS, point by point;
 * positions in another CRS of OGR's own transformation. */
#include "store_files.h"

#include "near.h"

#include <ogr_api.h>
#include <time.h>

#define COLS 60
#define ROWS 50
#define WEST 600000.0
#define NORTH 5200000.0
#define CELL 10.0

/* A feature: well-known text (NULL: no geometry), and what stands in its columns (NULL:
 * nothing). */
typedef struct drawn {
    const char *wkt, *number, *angle;
} drawn;

typedef struct column_types {
    int number, angle; /* OGRFieldType; -1: no such column */
    const char *number_name;
} column_types;

static const column_types both = {OFTInteger64, OFTReal, "number"};
static const column_types bare = {-1, -1, NULL};

static OGRSpatialReferenceH crs_of(int epsg)
{
    OGRSpatialReferenceH crs = epsg ? OSRNewSpatialReference(NULL) : NULL;
    if (epsg) {
        assert_int_equal(OSRImportFromEPSG(crs, epsg), OGRERR_NONE);
        OSRSetAxisMappingStrategy(crs, OAMS_TRADITIONAL_GIS_ORDER);
    }
    return crs;
}

static void add_column(OGRLayerH layer, const char *name, int type)
{
    OGRFieldDefnH field = OGR_Fld_Create(name, (OGRFieldType)type);
    assert_int_equal(OGR_L_CreateField(layer, field, TRUE), OGRERR_NONE);
    OGR_Fld_Destroy(field);
}

static void add_layer(GDALDatasetH d, const char *name, OGRwkbGeometryType shape, int epsg,
                      const column_types *types, const drawn *features, int count)
{
    OGRSpatialReferenceH crs = crs_of(epsg);
    OGRLayerH layer = GDALDatasetCreateLayer(d, name, crs, shape, NULL);
    assert_non_null(layer);
    if (types->number >= 0)
        add_column(layer, types->number_name, types->number);
    if (types->angle >= 0)
        add_column(layer, "reach_angle", types->angle);
    for (int i = 0; i < count; i++) {
        OGRFeatureH f = OGR_F_Create(OGR_L_GetLayerDefn(layer));
        OGRGeometryH g = NULL;
        char *text = (char *)(uintptr_t)features[i].wkt;
        if (text)
            assert_int_equal(OGR_G_CreateFromWkt(&text, NULL, &g), OGRERR_NONE);
        if (g)
            OGR_F_SetGeometryDirectly(f, g);
        if (types->number >= 0 && features[i].number)
            OGR_F_SetFieldString(f, 0, features[i].number);
        if (types->angle >= 0 && features[i].angle)
            OGR_F_SetFieldString(f, types->number >= 0, features[i].angle);
        assert_int_equal(OGR_L_CreateFeature(layer, f), OGRERR_NONE);
        OGR_F_Destroy(f);
    }
    OSRDestroySpatialReference(crs);
}

static GDALDatasetH new_file(const char *path, const char *driver)
{
    unlink(path);
    GDALDatasetH d = GDALCreate(GDALGetDriverByName(driver), path, 0, 0, 0, GDT_Unknown, NULL);
    assert_non_null(d);
    return d;
}

/* One layer of polygons in the model's CRS. */
static const char *draw(world *w, const column_types *types, const drawn *features, int count)
{
    const char *path = at(w, "z.gpkg");
    GDALDatasetH d = new_file(path, "GPKG");
    add_layer(d, "drawing", wkbUnknown, 32632, types, features, count);
    GDALClose(d);
    return path;
}

static brant_zone_file *open_zones(world *w, const char *path, const brant_dem *dem)
{
    brant_zone_file *file = NULL;
    if (brant_zone_file_open(&w->ctx, path, dem, 25, &file) != BRANT_OK)
        fail_msg("%s", brant_message(&w->ctx));
    return file;
}

static void refuse_zones(world *w, const char *path, const brant_dem *dem, const char *text)
{
    brant_zone_file *file = NULL;
    assert_int_equal(brant_zone_file_open(&w->ctx, path, dem, 25, &file), BRANT_ERR_INPUT);
    const char *message = brant_message(&w->ctx);
    if (strncmp(message, path, strlen(path)) != 0 || !strstr(message, text))
        fail_msg("message is '%s', wanted the file first and '%s'", message, text);
    assert_null(file);
    brant_forgive(&w->ctx);
}

static void assert_logged(const world *w, const char *text)
{
    if (!strstr(w->logged, text))
        fail_msg("logged '%s', wanted '%s'", w->logged, text);
}

static uint32_t cells[COLS * ROWS];

static void read_whole(world *w, brant_zone_file *file)
{
    brant_window all = {0, 0, COLS, ROWS};
    assert_int_equal(brant_zone_file_read(file, &w->ctx, &all, cells), BRANT_OK);
}

static int count_of(uint32_t number)
{
    int count = 0;
    for (int i = 0; i < COLS * ROWS; i++)
        count += cells[i] == number;
    return count;
}

static uint32_t cell(int col, int row)
{
    return cells[row * COLS + col];
}

/* ---- which cells -------------------------------------------------------- */

/* Cells' centres by GEOS; none of the shapes has one on its line. */
static void assert_as_geos(const char *wkt, uint32_t number)
{
    OGRGeometryH shape = NULL, centre = OGR_G_CreateGeometry(wkbPoint);
    char *text = (char *)(uintptr_t)wkt;
    assert_int_equal(OGR_G_CreateFromWkt(&text, NULL, &shape), OGRERR_NONE);
    OGRPreparedGeometryH prepared = OGRCreatePreparedGeometry(shape); /* 100,000 points: indexed */
    assert_non_null(prepared);
    for (int row = 0; row < ROWS; row++)
        for (int col = 0; col < COLS; col++) {
            OGR_G_SetPoint_2D(centre, 0, WEST + (col + 0.5) * CELL, NORTH - (row + 0.5) * CELL);
            bool inside = OGRPreparedGeometryContains(prepared, centre);
            if (inside != (cell(col, row) == number))
                fail_msg("column %d, row %d of %s", col, row, wkt);
        }
    OGRDestroyPreparedGeometry(prepared);
    OGR_G_DestroyGeometry(shape);
    OGR_G_DestroyGeometry(centre);
}

/* A star of 41 rays, a hole in it, and an island in the hole. */
static const char *star(void)
{
    static char text[8192];
    int used = snprintf(text, sizeof text, "MULTIPOLYGON(((");
    for (int i = 0; i <= 41; i++) {
        double turn = 2 * M_PI * (i % 41) / 41, r = i % 41 % 2 ? 90.3 : 231.7;
        used += snprintf(text + used, sizeof text - (size_t)used, "%s%.6f %.6f", i ? "," : "",
                         WEST + 301.3 + r * cos(turn), NORTH - 252.9 + r * sin(turn));
    }
    snprintf(text + used, sizeof text - (size_t)used,
             "),(600261 5199711,600333 5199722,600341 5199781,600261 5199711)),"
             "((600311 5199734,600331 5199741,600332 5199759,600311 5199734)))");
    return text;
}

/* "A part that holds no centre gets the cells it touches": beside their centres, a line of
 * cells along a row, one along a column, one across, and a cell alone. */
static void slivers_take_the_cells_they_touch(void **state)
{
    world *w = *state;
    brant_dem dem;
    drawn features[] = {
        {"POLYGON((600012 5199969,600047 5199969,600047 5199968,600012 5199968,600012 5199969))",
         "7", NULL},
        {"POLYGON((600201 5199888,600202 5199888,600202 5199853,600201 5199853,600201 5199888))",
         "8", NULL},
        {"POLYGON((600301 5199799,600303 5199799,600303 5199798,600301 5199799))", "9", NULL},
        {"POLYGON((600401 5199698.5,600429 5199682.5,600429 5199682.6,600401 5199698.6,"
         "600401 5199698.5))", "10", NULL}, /* from row 30 to row 31 at 600415.9 */
    };
    make_slope(w, COLS, ROWS, &dem);
    brant_zone_file *file = open_zones(w, draw(w, &both, features, 4), &dem);
    read_whole(w, file);
    for (int i = 1; i <= 4; i++)
        assert_int_equal(cell(i, 3), 7);
    for (int i = 11; i <= 14; i++)
        assert_int_equal(cell(20, i), 8);
    assert_int_equal(cell(30, 20), 9);
    assert_int_equal(count_of(7), 4);
    assert_int_equal(count_of(8), 4);
    assert_int_equal(count_of(9), 1);
    assert_true(cell(40, 30) == 10 && cell(41, 30) == 10);
    assert_true(cell(41, 31) == 10 && cell(42, 31) == 10);
    assert_int_equal(count_of(10), 4);
    brant_zone_file_close(file);
    brant_dem_close(&dem);
}

static void cells_are_those_whose_centres_it_holds(void **state)
{
    world *w = *state;
    brant_dem dem;
    drawn features[] = {{star(), "7", NULL}};
    make_slope(w, COLS, ROWS, &dem);
    brant_zone_file *file = open_zones(w, draw(w, &both, features, 1), &dem);
    read_whole(w, file);
    assert_as_geos(star(), 7);
    assert_true(count_of(7) > 300);
    assert_int_equal(w->warnings, 0);
    brant_zone_file_close(file);
    brant_dem_close(&dem);
}

static void a_window_shows_what_the_whole_shows(void **state)
{
    world *w = *state;
    brant_dem dem;
    uint32_t part[COLS * ROWS];
    drawn features[] = {{star(), "7", NULL},
                        {"POLYGON((600012 5199995,600018 5199995,600018 5199993,600012 5199995))",
                         "8", NULL}};
    make_slope(w, COLS, ROWS, &dem);
    brant_zone_file *file = open_zones(w, draw(w, &both, features, 2), &dem);
    read_whole(w, file);
    srand48(1);
    for (int i = 0; i < 200; i++) {
        brant_window win = {(int)(drand48() * COLS) - 5, (int)(drand48() * ROWS) - 5,
                            1 + (int)(drand48() * 40), 1 + (int)(drand48() * 40)};
        assert_int_equal(brant_zone_file_read(file, &w->ctx, &win, part), BRANT_OK);
        for (int r = 0; r < win.rows; r++)
            for (int c = 0; c < win.cols; c++) {
                int col = win.col + c, row = win.row + r;
                bool on = col >= 0 && row >= 0 && col < COLS && row < ROWS;
                assert_int_equal(part[r * win.cols + c], on ? cell(col, row) : 0);
            }
    }
    brant_zone_file_close(file);
    brant_dem_close(&dem);
}

/* Triangles round a point, their sides through cell centres: each cell once. */
static void neighbours_leave_no_gap_and_no_overlap(void **state)
{
    world *w = *state;
    brant_dem dem;
    drawn features[] = {
        {"POLYGON((600100 5199900,600300 5199900,600205 5199795,600100 5199900))", "1", NULL},
        {"POLYGON((600300 5199900,600300 5199700,600205 5199795,600300 5199900))", "2", NULL},
        {"POLYGON((600300 5199700,600100 5199700,600205 5199795,600300 5199700))", "3", NULL},
        {"POLYGON((600100 5199700,600100 5199900,600205 5199795,600100 5199700))", "4", NULL}};
    make_slope(w, COLS, ROWS, &dem);
    brant_zone_file *file = open_zones(w, draw(w, &both, features, 4), &dem);
    read_whole(w, file);
    assert_int_equal(w->warnings, 0);
    assert_int_equal(COLS * ROWS - count_of(0), 400);
    for (int row = 10; row < 30; row++)
        for (int col = 10; col < 30; col++)
            assert_true(cell(col, row) > 0);
    brant_zone_file_close(file);
    brant_dem_close(&dem);
}

/* A gully of 2 m, and a spot, hold no centre; one part of a pair holds some. */
static void what_is_small_is_not_lost(void **state)
{
    world *w = *state;
    brant_dem dem;
    drawn features[] = {
        {"POLYGON((600021 5199928,600079 5199928,600079 5199926,600021 5199928))", "1", NULL},
        {"POLYGON((600201 5199799,600203 5199799,600202 5199797,600201 5199799))", "2", NULL},
        {"MULTIPOLYGON(((600300 5199800,600320 5199800,600320 5199780,600300 5199780,"
         "600300 5199800)),((600401 5199799,600403 5199799,600402 5199797,600401 5199799)))",
         "3", NULL}};
    make_slope(w, COLS, ROWS, &dem);
    brant_zone_file *file = open_zones(w, draw(w, &both, features, 3), &dem);
    read_whole(w, file);
    for (int col = 2; col < 8; col++)
        assert_int_equal(cell(col, 7), 1);
    assert_int_equal(count_of(1), 6);
    assert_int_equal(cell(20, 20), 2);
    assert_int_equal(count_of(2), 1);
    assert_int_equal(cell(40, 20), 3);
    assert_int_equal(count_of(3), 5);
    brant_zone_file_close(file);
    brant_dem_close(&dem);
}

#define BOX(x0, y0, x1, y1)                                                                        \
    "POLYGON((" #x0 " " #y0 "," #x1 " " #y0 "," #x1 " " #y1 "," #x0 " " #y1 "," #x0 " " #y0 "))"

static void the_lower_angle_then_the_lower_number_has_the_cell(void **state)
{
    world *w = *state;
    brant_dem dem;
    drawn features[] = {{BOX(600000, 5200000, 600100, 5199900), "4", "30"},
                        {BOX(600050, 5200000, 600150, 5199900), "5", NULL}, /* the run's 25 */
                        {BOX(600100, 5200000, 600200, 5199900), "3", NULL},
                        {BOX(600150, 5200000, 600250, 5199900), "9", "22.5"},
                        {BOX(600210, 5199950, 600240, 5199910), "10", "22.5"}};
    make_slope(w, COLS, ROWS, &dem);
    brant_zone_file *file = open_zones(w, draw(w, &both, features, 5), &dem);
    read_whole(w, file);
    assert_int_equal(cell(2, 2), 4);
    assert_int_equal(cell(7, 2), 5);
    assert_int_equal(cell(12, 2), 3);
    assert_int_equal(cell(17, 2), 9);
    assert_int_equal(cell(22, 7), 9);
    assert_int_equal(count_of(10), 0);
    assert_int_equal(w->warnings, 1);
    assert_logged(w, "overlap on 162 cells"); /* 3 x 50 and 3 x 4 */
    assert_logged(w, "included: 1");
    assert_logged(w, "3 of 5 zones have a reach angle of their own, 22.5 to 30");
    assert_near(brant_zone_file_flattest(file), 22.5, 0);
    brant_zone_file_close(file);
    brant_dem_close(&dem);
}

static void zones_carry_their_angle(void **state)
{
    world *w = *state;
    brant_dem dem;
    brant_zone_set set;
    bool wanted[1] = {true};
    brant_zone_options options = BRANT_ZONE_OPTIONS_DEFAULT;
    drawn features[] = {{BOX(600000, 5200000, 600100, 5199900), "4", "30"},
                        {BOX(600200, 5200000, 600300, 5199900), "4294967295", NULL}};
    make_slope(w, COLS, ROWS, &dem);
    brant_zone_file *file = open_zones(w, draw(w, &both, features, 2), &dem);
    assert_int_equal(
        brant_zone_file_zones(&w->ctx, file, &dem, wanted, &options, &set), BRANT_OK);
    assert_int_equal(set.count, 2);
    assert_near(brant_zone_reach_angle(brant_zone_set_find(&set, 4), 25), 30, 0);
    assert_near(brant_zone_reach_angle(brant_zone_set_find(&set, UINT32_MAX), 25), 25, 0);
    assert_int_equal(brant_zone_set_find(&set, 4)->cells, 100);
    brant_zone_set_clear(&set);
    brant_zone_file_close(file);
    brant_dem_close(&dem);
    assert_true(isinf(brant_zone_file_flattest(NULL)));
}

/* ---- numbers ------------------------------------------------------------ */

#define ONE BOX(600000, 5200000, 600100, 5199900)
#define TWO BOX(600200, 5200000, 600300, 5199900)
#define THREE BOX(600400, 5200000, 600500, 5199900)

static void without_numbers_they_are_counted(void **state)
{
    world *w = *state;
    brant_dem dem;
    drawn features[] = {{TWO, NULL, NULL}, {ONE, NULL, NULL}, {THREE, NULL, NULL}};
    make_slope(w, COLS, ROWS, &dem);
    brant_zone_file *file = open_zones(w, draw(w, &bare, features, 3), &dem);
    read_whole(w, file);
    assert_int_equal(cell(25, 5), 1);
    assert_int_equal(cell(5, 5), 2);
    assert_int_equal(cell(45, 5), 3);
    assert_logged(w, "N ");
    assert_logged(w, "numbered 1 to 3 in the order of the file");
    brant_zone_file_close(file);
    brant_dem_close(&dem);
}

static void numbers_come_from_their_column(void **state)
{
    static const column_types text = {OFTString, OFTString, "Number"};
    static const column_types real = {OFTReal, -1, "zone"};
    world *w = *state;
    brant_dem dem;
    drawn features[] = {{TWO, "17", "20.5"}, {ONE, NULL, NULL}, {THREE, "4000000000", NULL}};
    const column_types *types[] = {&both, &text, &real};
    make_slope(w, COLS, ROWS, &dem);
    for (int i = 0; i < 3; i++) {
        brant_zone_file *file = open_zones(w, draw(w, types[i], features, 3), &dem);
        read_whole(w, file);
        assert_int_equal(cell(25, 5), 17);
        assert_int_equal(cell(45, 5), 4000000000u);
        assert_int_equal(cell(5, 5), 4000000001u);
        brant_zone_file_close(file);
    }
    assert_logged(w, "1 of 3 polygons have no number and get those from 4000000001 on: feature 2");
    brant_dem_close(&dem);
}

static void bad_columns_are_refused(void **state)
{
    static const column_types text = {OFTString, OFTString, "number"};
    static const struct {
        drawn second;
        const char *message;
    } cases[] = {
        {{TWO, "5", NULL}, "feature 2: number 5 is that of feature 1"},
        {{TWO, "0", NULL}, "feature 2: number '0' is no zone number"},
        {{TWO, "-1", NULL}, "feature 2: number '-1' is no zone number"},
        {{TWO, "1.5", NULL}, "feature 2: number '1.5' is no zone number"},
        {{TWO, "4294967296", NULL}, "feature 2: number '4294967296' is no zone number"},
        {{TWO, "north", NULL}, "feature 2: number 'north' is no zone number"},
        {{TWO, "6", "9.9"}, "feature 2: reach_angle '9.9' is no reach angle"},
        {{TWO, "6", "60.1"}, "feature 2: reach_angle '60.1' is no reach angle"},
        {{TWO, "6", "steep"}, "feature 2: reach_angle 'steep' is no reach angle"},
    };
    world *w = *state;
    brant_dem dem;
    make_slope(w, COLS, ROWS, &dem);
    for (size_t i = 0; i < sizeof cases / sizeof *cases; i++) {
        drawn features[] = {{ONE, "5", "20"}, cases[i].second};
        refuse_zones(w, draw(w, &text, features, 2), &dem, cases[i].message);
    }
    drawn full[] = {{ONE, "4294967295", NULL}, {TWO, NULL, NULL}};
    refuse_zones(w, draw(w, &both, full, 2), &dem, "feature 2: has no number");
    brant_dem_close(&dem);
}

/* ---- shapes ------------------------------------------------------------- */

static void crossed_outlines_are_mended(void **state)
{
    world *w = *state;
    brant_dem dem;
    drawn features[] = {
        /* a bow tie, and a ring that runs round some ground twice */
        {"POLYGON((600000 5200000,600100 5199900,600100 5200000,600000 5199900,600000 5200000))",
         "1", NULL},
        {"POLYGON((600200 5200000,600300 5200000,600300 5199900,600200 5199900,600200 5199990,"
         "600290 5199990,600290 5199910,600210 5199910,600200 5200000))", "2", NULL},
        {THREE, "3", NULL}};
    make_slope(w, COLS, ROWS, &dem);
    brant_zone_file *file = open_zones(w, draw(w, &both, features, 3), &dem);
    read_whole(w, file);
    assert_int_equal(cell(1, 4), 1);
    assert_int_equal(cell(8, 5), 1);
    assert_int_equal(cell(5, 1), 0);
    assert_int_equal(cell(5, 8), 0);
    assert_int_equal(cell(25, 5), 2);
    assert_int_equal(cell(29, 9), 2);
    assert_logged(w, "W ");
    assert_logged(w, "2 of 3 polygons cross themselves and were mended; look at feature 1 and");
    brant_zone_file_close(file);
    brant_dem_close(&dem);
}

static void other_kinds_of_shapes(void **state)
{
    world *w = *state;
    brant_dem dem;
    drawn features[] = {
        {NULL, "1", NULL},
        {"POLYGON EMPTY", "2", NULL},
        {"POLYGON Z((600000 5200000 1,600100 5200000 2,600100 5199900 3,600000 5199900 4,"
         "600000 5200000 1))", "3", NULL},
        /* a disc of 55 m: pi 55^2 / 100 = 95 cells */
        {"CURVEPOLYGON(CIRCULARSTRING(600200 5199800,600310 5199800,600200 5199800))", "4",
         NULL}};
    make_slope(w, COLS, ROWS, &dem);
    brant_zone_file *file = open_zones(w, draw(w, &both, features, 4), &dem);
    read_whole(w, file);
    assert_int_equal(count_of(3), 100);
    assert_near(count_of(4), M_PI * 55 * 55 / 100, 3);
    assert_int_equal(w->warnings, 1);
    assert_logged(w, "2 of 4 features have no outline and are passed over: feature 1 first");
    brant_zone_file_close(file);

    drawn line[] = {{ONE, "1", NULL}, {"LINESTRING(600000 5200000,600100 5199900)", "2", NULL}};
    refuse_zones(w, draw(w, &both, line, 2), &dem, "feature 2: a LINESTRING, no polygon");
    drawn flat[] = {{"POLYGON((600000 5200000,600100 5199900,600000 5200000))", "1", NULL}};
    refuse_zones(w, draw(w, &both, flat, 1), &dem, "feature 1: its outline shuts in no area");
    refuse_zones(w, draw(w, &both, line, 0), &dem, "holds no polygon");
    refuse_zones(w, draw(w, &both, features, 2), &dem, "holds no polygon");
    brant_dem_close(&dem);
}

/* ---- where -------------------------------------------------------------- */

/* A long-sided triangle in another CRS: its straight sides there are none on the model. */
static void sides_are_straight_in_their_own_system(void **state)
{
    static const int systems[] = {4326, 3857, 3035};
    world *w = *state;
    brant_dem dem;
    make_slope(w, COLS, ROWS, &dem);
    for (size_t i = 0; i < sizeof systems / sizeof *systems; i++) {
        double x[3] = {WEST - 300000, WEST + 250000, WEST + 400},
               y[3] = {NORTH + 102, NORTH + 97, NORTH - 400};
        char wkt[512];
        OGRSpatialReferenceH from = crs_of(systems[i]), to = crs_of(32632);
        OGRCoordinateTransformationH there = OCTNewCoordinateTransformation(to, from);
        OGRCoordinateTransformationH back = OCTNewCoordinateTransformation(from, to);
        assert_true(OCTTransform(there, 3, x, y, NULL));
        snprintf(wkt, sizeof wkt, "POLYGON((%.12f %.12f,%.12f %.12f,%.12f %.12f,%.12f %.12f))",
                 x[0], y[0], x[1], y[1], x[2], y[2], x[0], y[0]);
        drawn features[] = {{wkt, "6", NULL}};
        GDALDatasetH d = new_file(at(w, "far.gpkg"), "GPKG");
        add_layer(d, "zones", wkbPolygon, systems[i], &both, features, 1);
        GDALClose(d);
        brant_zone_file *file = open_zones(w, at(w, "far.gpkg"), &dem);
        read_whole(w, file);
        OGRGeometryH shape = NULL;
        char *text = wkt, *moved = NULL;
        assert_int_equal(OGR_G_CreateFromWkt(&text, NULL, &shape), OGRERR_NONE);
        OGR_G_Segmentize(shape, systems[i] == 4326 ? 1e-4 : 10);
        assert_int_equal(OGR_G_Transform(shape, back), OGRERR_NONE);
        OGR_G_ExportToWkt(shape, &moved);
        assert_as_geos(moved, 6);
        assert_true(count_of(6) > 100 && count_of(6) < COLS * ROWS);
        CPLFree(moved);
        OGR_G_DestroyGeometry(shape);
        OCTDestroyCoordinateTransformation(there);
        OCTDestroyCoordinateTransformation(back);
        OSRDestroySpatialReference(from);
        OSRDestroySpatialReference(to);
        brant_zone_file_close(file);
    }
    brant_dem_close(&dem);
}

static void places_outside_are_told(void **state)
{
    world *w = *state;
    brant_dem dem;
    drawn features[] = {{BOX(599950, 5200000, 600050, 5199900), "4", NULL},
                        {BOX(500000, 5200000, 500050, 5199900), "5", NULL},
                        {ONE, "6", NULL}};
    drawn far[] = {features[1]};
    make_slope(w, COLS, ROWS, &dem);
    brant_zone_file *file = open_zones(w, draw(w, &both, features, 3), &dem);
    read_whole(w, file);
    assert_int_equal(count_of(4), 50);
    assert_logged(w, "of 3 polygons 1 lie outside");
    assert_logged(w, "and 1 partly: zone 4 first");
    brant_zone_file_close(file);
    refuse_zones(w, draw(w, &both, far, 1), &dem, "all polygons lie outside");

    GDALDatasetH d = new_file(at(w, "none.gpkg"), "GPKG");
    add_layer(d, "zones", wkbPolygon, 0, &both, features, 1);
    GDALClose(d);
    refuse_zones(w, at(w, "none.gpkg"), &dem, "no coordinate reference system");
    /* a datum that nothing is known of: only a ballpark operation would place it */
    d = new_file(at(w, "none.gpkg"), "GPKG");
    add_layer(d, "zones", wkbPolygon, 4004, &both, features, 1);
    GDALClose(d);
    refuse_zones(w, at(w, "none.gpkg"), &dem, "no datum operation is known here from");
    GDALClose(new_file(at(w, "none.gpkg"), "GPKG"));
    refuse_zones(w, at(w, "none.gpkg"), &dem, "no polygons of a kind that is read");
    brant_dem_close(&dem);
}

/* ---- files -------------------------------------------------------------- */

static void the_layer_is_found(void **state)
{
    world *w = *state;
    brant_dem dem;
    drawn one[] = {{ONE, "1", NULL}}, two[] = {{TWO, "2", NULL}};
    drawn line[] = {{"LINESTRING(600000 5200000,600100 5199900)", "3", NULL}};
    char *path = at_copy(w, "layers.tif"); /* the name tells nothing */
    make_slope(w, COLS, ROWS, &dem);

    GDALDatasetH d = new_file(at(w, "l.gpkg"), "GPKG");
    add_layer(d, "track", wkbLineString, 32632, &both, line, 1);
    add_layer(d, "mine", wkbPolygon, 32632, &both, two, 1);
    GDALClose(d);
    assert_int_equal(rename(at(w, "l.gpkg"), path), 0);
    brant_zone_file *file = open_zones(w, path, &dem);
    read_whole(w, file);
    assert_int_equal(count_of(2), 100);
    brant_zone_file_close(file);

    d = new_file(at(w, "l.gpkg"), "GPKG");
    add_layer(d, "mine", wkbPolygon, 32632, &both, two, 1);
    add_layer(d, "yours", wkbPolygon, 32632, &both, one, 1);
    GDALClose(d);
    refuse_zones(w, at(w, "l.gpkg"), &dem, "mine, yours");

    d = GDALOpenEx(at(w, "l.gpkg"), GDAL_OF_VECTOR | GDAL_OF_UPDATE, NULL, NULL, NULL);
    add_layer(d, "zones", wkbPolygon, 32632, &both, one, 1);
    GDALClose(d);
    file = open_zones(w, at(w, "l.gpkg"), &dem);
    read_whole(w, file);
    assert_int_equal(count_of(1), 100);
    brant_zone_file_close(file);
    free(path);
    brant_dem_close(&dem);
}

static void geojson_is_read(void **state)
{
    world *w = *state;
    brant_dem dem;
    make_slope(w, COLS, ROWS, &dem);
    /* around the middle of the model, 10.3177 E 46.9434 N by `cs2cs EPSG:32632 EPSG:4326`
     * of 600300 5199750; a byte order mark, blanks, no properties */
    put_text(at(w, "j.txt"),
             "\xef\xbb\xbf \n{\"type\":\"FeatureCollection\",\"features\":[{\"type\":\"Feature\","
             "\"properties\":{},\"geometry\":{\"type\":\"Polygon\",\"coordinates\":[[[10.317,46.943],"
             "[10.319,46.943],[10.319,46.944],[10.317,46.944],[10.317,46.943]]]}}]}");
    brant_zone_file *file = open_zones(w, at(w, "j.txt"), &dem);
    read_whole(w, file);
    /* 0.002 x cos(46.94) x 111.4 km = 152 m by 111 m */
    assert_near(count_of(1), 169, 8);
    brant_zone_file_close(file);
    put_text(at(w, "j.txt"), "{\"type\":\"FeatureCollection\",\"features\":[{\"type\":");
    refuse_zones(w, at(w, "j.txt"), &dem, "");
    put_text(at(w, "j.txt"), "{\"hello\":1}");
    refuse_zones(w, at(w, "j.txt"), &dem, "no polygons of a kind that is read");
    put_text(at(w, "j.txt"), "SQLite format 3");
    refuse_zones(w, at(w, "j.txt"), &dem, "");
    refuse_zones(w, "/vsicurl/http://x.example/z.gpkg", &dem, "only files on this machine");
    /* metres where degrees belong */
    put_text(at(w, "j.txt"),
             "{\"type\":\"FeatureCollection\",\"features\":[{\"type\":\"Feature\",\"id\":3,"
             "\"properties\":{},\"geometry\":{\"type\":\"Polygon\",\"coordinates\":[[[600300,5199750],"
             "[600400,5199750],[600400,5199850],[600300,5199750]]]}}]}");
    refuse_zones(w, at(w, "j.txt"), &dem, "feature 3: a point of it, 600300 5199750, has no place");
    brant_dem_close(&dem);
}

/* 10,000 polygons of some 12 cells on a model of 1,200 x 1,000 cells. */
static void ten_thousand_take_no_time(void **state)
{
    world *w = *state;
    brant_dem dem;
    float *z = calloc(1200 * 1000, sizeof *z);
    assert_non_null(z);
    char *model = at_copy(w, "large.tif");
    GDALDatasetH d = make_tif(model, 1200, 1000, GDT_Float32);
    assert_int_equal(GDALRasterIO(GDALGetRasterBand(d, 1), GF_Write, 0, 0, 1200, 1000, z, 1200,
                                  1000, GDT_Float32, 0, 0), CE_None);
    done(d);
    free(z);
    open_dem(w, model, NULL, &dem);
    drawn *features = calloc(10000, sizeof *features);
    char(*wkt)[160] = calloc(10000, sizeof *wkt);
    assert_true(features && wkt);
    for (int i = 0; i < 10000; i++) {
        double x = WEST + i % 100 * 120.0, y = NORTH - i / 100 * 100.0;
        snprintf(wkt[i], sizeof *wkt, "POLYGON((%.1f %.1f,%.1f %.1f,%.1f %.1f,%.1f %.1f))", x, y,
                 x + 50, y, x, y - 50, x, y);
        features[i].wkt = wkt[i];
    }
    const char *path = draw(w, &bare, features, 10000);
    struct timespec begin, end;
    bool wanted[2] = {true, true};
    brant_zone_set set;
    brant_zone_options options = BRANT_ZONE_OPTIONS_DEFAULT;
    clock_gettime(CLOCK_PROCESS_CPUTIME_ID, &begin);
    brant_zone_file *file = open_zones(w, path, &dem);
    assert_int_equal(brant_zone_file_zones(&w->ctx, file, &dem, wanted, &options, &set), BRANT_OK);
    clock_gettime(CLOCK_PROCESS_CPUTIME_ID, &end);
    assert_int_equal(set.count, 10000);
    double seconds = (double)(end.tv_sec - begin.tv_sec) + (end.tv_nsec - begin.tv_nsec) / 1e9;
    print_message("10,000 polygons: %.2f s\n", seconds);
    assert_true(seconds < 20); /* 0.5 s as built for use; under a sanitizer several times that */
    brant_zone_set_clear(&set);
    brant_zone_file_close(file);
    brant_dem_close(&dem);
    free(features);
    free(wkt);
    free(model);
}

#define TEST(f) cmocka_unit_test_setup_teardown(f, set_up, tear_down)

int main(void)
{
    const struct CMUnitTest tests[] = {
        TEST(slivers_take_the_cells_they_touch),
        TEST(cells_are_those_whose_centres_it_holds),
        TEST(a_window_shows_what_the_whole_shows),
        TEST(neighbours_leave_no_gap_and_no_overlap),
        TEST(what_is_small_is_not_lost),
        TEST(the_lower_angle_then_the_lower_number_has_the_cell),
        TEST(zones_carry_their_angle),
        TEST(without_numbers_they_are_counted),
        TEST(numbers_come_from_their_column),
        TEST(bad_columns_are_refused),
        TEST(crossed_outlines_are_mended),
        TEST(other_kinds_of_shapes),
        TEST(sides_are_straight_in_their_own_system),
        TEST(places_outside_are_told),
        TEST(the_layer_is_found),
        TEST(geojson_is_read),
        TEST(ten_thousand_take_no_time),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
