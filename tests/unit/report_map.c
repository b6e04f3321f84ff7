/* The sheet's map: zone, scale, coordinates, contours, and what is shown of unknown ground. */
#include "../../src/report/map_parts.h"

#include "store_files.h"

#include <proj.h>

/* ---- a plan's rasters ---------------------------------------------------- */

typedef struct ground {
    int epsg, cols, rows;
    double transform[6];
    double (*height)(int col, int row);  /* NaN: void */
    int (*class)(int col, int row);
    double (*reached)(int col, int row); /* NaN: no ground */
} ground;

typedef struct scene {
    brant_map_scene map;
    char *path[3];
    brant_gpx_point points[8];
    brant_map_leg legs[4];
    brant_map_wait wait;
} scene;

static void write_raster(const ground *g, const char *path, int bands, GDALDataType type,
                         const double *cells)
{
    GDALDatasetH raster = make_raster("GTiff", path, g->cols, g->rows, bands, type, NULL);
    OGRSpatialReferenceH crs = OSRNewSpatialReference(NULL);
    assert_int_equal(OSRImportFromEPSG(crs, g->epsg), OGRERR_NONE);
    OSRSetAxisMappingStrategy(crs, OAMS_TRADITIONAL_GIS_ORDER);
    GDALSetSpatialRef(raster, crs);
    OSRDestroySpatialReference(crs);
    GDALSetGeoTransform(raster, (double *)(uintptr_t)g->transform);
    for (int band = 1; band <= bands; band++) {
        if (type != GDT_Byte)
            GDALSetRasterNoDataValue(GDALGetRasterBand(raster, band), -9999);
        put_cells(raster, band, cells + (size_t)(band - 1) * (size_t)g->cols * (size_t)g->rows);
    }
    done(raster);
}

static double or_nodata(double value)
{
    return isnan(value) ? -9999 : value;
}

static void make_plan(world *w, scene *s, const ground *g)
{
    static const char *const names[3] = {"elevation.tif", "class.tif", "runout.tif"};
    size_t count = (size_t)g->cols * (size_t)g->rows;
    double *cells = calloc(7 * count, sizeof *cells);
    assert_non_null(cells);
    for (size_t i = 0; i < count; i++) {
        int col = (int)(i % (size_t)g->cols), row = (int)(i / (size_t)g->cols);
        cells[i] = or_nodata(g->height(col, row));
        cells[count + i] = g->class(col, row);
        cells[2 * count + i] = or_nodata(g->reached(col, row)); /* the other bands are 0 */
    }
    for (int i = 0; i < 3; i++)
        s->path[i] = at_copy(w, names[i]);
    write_raster(g, s->path[0], 1, GDT_Float32, cells);
    write_raster(g, s->path[1], 1, GDT_Byte, cells + count);
    write_raster(g, s->path[2], 5, GDT_Float64, cells + 2 * count);
    s->map.elevation = s->path[0];
    s->map.classes = s->path[1];
    s->map.runout = s->path[2];
    free(cells);
}

static void begin_scene(scene *s)
{
    memset(s, 0, sizeof *s);
    PangoFontMap *fonts = pango_cairo_font_map_new();
    pango_cairo_font_map_set_resolution(PANGO_CAIRO_FONT_MAP(fonts), 72);
    s->map.pango = pango_font_map_create_context(fonts);
    g_object_unref(fonts);
    s->map.reach_angle_deg = 25;
    s->map.legs = s->legs;
}

static void end_scene(scene *s)
{
    g_object_unref(s->map.pango);
    for (int i = 0; i < 3; i++)
        free(s->path[i]);
}

/* A leg from one place to another. */
static void add_leg(scene *s, brant_kind kind, double lon1, double lat1, double lon2, double lat2)
{
    size_t n = s->map.leg_count++;
    s->points[2 * n] = (brant_gpx_point){lon1, lat1};
    s->points[2 * n + 1] = (brant_gpx_point){lon2, lat2};
    s->legs[n] = (brant_map_leg){(uint32_t)n + 1, kind, s->points + 2 * n, 2, false};
}

static const brant_map_box box = {30, 40, 520, 400};

static brant_map_frame frame_of(world *w, const scene *s)
{
    brant_map_frame frame;
    if (brant_map_frame_of(&w->ctx, &s->map, &box, &frame) != BRANT_OK)
        fail_msg("%s", brant_message(&w->ctx));
    return frame;
}

/* PROJ itself, from one CRS to another, x before y. */
static void by_proj(const char *from, const char *to, double *x, double *y)
{
    PJ *raw = proj_create_crs_to_crs(NULL, from, to, NULL);
    assert_non_null(raw);
    PJ *pj = proj_normalize_for_visualization(NULL, raw);
    PJ_COORD there = proj_trans(pj, PJ_FWD, proj_coord(*x, *y, 0, 0));
    *x = there.xy.x;
    *y = there.xy.y;
    proj_destroy(pj);
    proj_destroy(raw);
}

/* ---- zone ---------------------------------------------------------------- */

/* Zones of well-known places, from memory: 31U Paris, 32T Davos, 34H Cape Town, 60 ends at the
 * antimeridian; 32V reaches west to Bergen, 33X holds Longyearbyen. */
static void test_zones(void **state)
{
    static const struct {
        double lon, lat;
        int zone;
        char letter;
    } places[] = {{2.29, 48.86, 31, 'U'},  {9.84, 46.80, 32, 'T'},   {18.42, -33.92, 34, 'H'},
                  {5.32, 60.39, 32, 'V'},  {15.6, 78.2, 33, 'X'},    {179.9, 1, 60, 'N'},
                  {-180, 1, 1, 'N'},       {8, 83.9, 31, 'X'},       {35, 72, 37, 'X'},
                  {10, 84.5, 0, 'Z'},      {-10, 84.5, 0, 'Y'},      {10, -80.5, 0, 'B'},
                  {-10, -80.5, 0, 'A'},    {0, -80, 31, 'C'},        {-0.001, -0.001, 30, 'M'}};
    (void)state;
    for (size_t i = 0; i < sizeof places / sizeof *places; i++) {
        char letter;
        assert_int_equal(brant_map_zone(places[i].lon, places[i].lat, &letter), places[i].zone);
        assert_int_equal(letter, places[i].letter);
    }
}

/* ---- scale --------------------------------------------------------------- */

/* A route east along 46.8 N around 9.84 E. */
static void route_of(scene *s, double metres)
{
    double half[2], lat, lon = 9.84;
    brant_geodesic_point(lon, 46.8, lon + 1, 46.8, metres / 2, &half[0], &lat);
    s->map.leg_count = 0;
    add_leg(s, BRANT_KIND_UNDER, 2 * lon - half[0], 46.8, half[0], 46.8);
}

/* The scale is the largest of the list at which the route fits, whatever its length. */
static void test_scale(void **state)
{
    world *w = *state;
    static const double scales[] = {10000, 15000,  20000,  25000,  30000,   40000,
                                    50000, 75000, 100000, 150000, 1000000, 1500000};
    scene s;
    begin_scene(&s);
    for (size_t i = 0; i < sizeof scales / sizeof *scales; i++)
        for (int over = 0; over < 2; over++) {
            route_of(&s, 520); /* for the room: a box of 520 points less margins */
            double room = frame_of(w, &s).box.width - 2 * 16;
            double metres = room * 0.0254 / 72 * scales[i] * (over ? 1.004 : 0.996);
            route_of(&s, metres);
            if (over && (i + 1 == sizeof scales / sizeof *scales || scales[i + 1] > 2 * scales[i]))
                continue;
            assert_true(frame_of(w, &s).scale == scales[i + (over != 0)]);
        }
    s.map.leg_count = 0;
    brant_map_frame frame;
    assert_int_equal(brant_map_frame_of(&w->ctx, &s.map, &box, &frame), BRANT_ERR_INPUT);
    brant_forgive(&w->ctx);
    end_scene(&s);
}

/* ---- north --------------------------------------------------------------- */

/* Convergence of UTM: tan c = tan(lon - lon0) sin lat (Snyder 1987, USGS Professional Paper
 * 1395, on the sphere; from memory. The ellipsoid's next term is below 1e-5
 * degrees here); of UPS north it is the longitude. */
static void test_convergence(void **state)
{
    world *w = *state;
    static const double places[][3] = {{6.2, 46, 9}, {11.7, 61, 9}, {170.1, -43.6, 171}};
    scene s;
    begin_scene(&s);
    for (size_t i = 0; i < 3; i++) {
        s.map.leg_count = 0;
        add_leg(&s, BRANT_KIND_UNDER, places[i][0], places[i][1], places[i][0], places[i][1]);
        double wanted = atan(tan((places[i][0] - places[i][2]) * M_PI / 180) *
                             sin(places[i][1] * M_PI / 180)) * 180 / M_PI;
        assert_true(fabs(frame_of(w, &s).convergence_deg - wanted) < 1e-4);
    }
    s.map.leg_count = 0;
    add_leg(&s, BRANT_KIND_UNDER, 25, 86, 25, 86);
    brant_map_frame frame = frame_of(w, &s);
    assert_true(frame.polar && fabs(frame.convergence_deg - 25) < 1e-4);
    assert_string_equal(frame.zone, "Z");
    end_scene(&s);
}

/* ---- the drawn map ------------------------------------------------------- */

static double flat_height(int col, int row)
{
    return 1500.0 + 0.2 * col + 0.1 * row;
}

static int flat_class(int col, int row)
{
    (void)col;
    (void)row;
    return BRANT_CLASS_BELOW_25;
}

static double not_reached(int col, int row)
{
    (void)col;
    (void)row;
    return 0;
}

/* 3 arc seconds around 9.84 E, 46.8 N. */
static const ground arc = {.epsg = 4326, .cols = 120, .rows = 90,
                           .transform = {9.79, 3 / 3600.0, 0, 46.84, 0, -3 / 3600.0},
                           .height = flat_height, .class = flat_class, .reached = not_reached};

#define DPI 300.0

static cairo_surface_t *draw(world *w, const scene *s)
{
    int width = (int)ceil((box.x + box.width) * DPI / 72), height =
        (int)ceil((box.y + box.height) * DPI / 72);
    cairo_surface_t *picture = cairo_image_surface_create(CAIRO_FORMAT_RGB24, width, height);
    cairo_t *cr = cairo_create(picture);
    cairo_set_source_rgb(cr, 1, 1, 1);
    cairo_paint(cr);
    cairo_scale(cr, DPI / 72, DPI / 72);
    if (brant_map_draw(&w->ctx, &s->map, cr, &box) != BRANT_OK)
        fail_msg("%s", brant_message(&w->ctx));
    cairo_destroy(cr);
    cairo_surface_flush(picture);
    return picture;
}

static bool dark(cairo_surface_t *picture, int x, int y)
{
    const unsigned char *row = cairo_image_surface_get_data(picture) +
                               y * cairo_image_surface_get_stride(picture);
    uint32_t pixel = ((const uint32_t *)(const void *)row)[x];
    return (pixel >> 16 & 255) + (pixel >> 8 & 255) + (pixel & 255) < 150;
}

/* Page to degrees: the frame's affine, then PROJ. */
static void place_of(const brant_map_frame *frame, double x, double y, double *lon, double *lat)
{
    brant_map_from_page(frame, x, y, lon, lat);
    by_proj(frame->crs, "EPSG:4326", lon, lat);
}

/* The middle of the start's black square, found in the picture, is where the route begins. */
static void test_point_back(void **state)
{
    world *w = *state;
    scene s;
    double sum[3] = {0}, lon, lat;
    begin_scene(&s);
    make_plan(w, &s, &arc);
    add_leg(&s, BRANT_KIND_NONE_FOUND, 9.8123, 46.8234, 9.8623, 46.7834);
    brant_map_frame frame = frame_of(w, &s);
    cairo_surface_t *picture = draw(w, &s);
    double easting = 9.8123, northing = 46.8234, x, y;
    by_proj("EPSG:4326", frame.crs, &easting, &northing);
    brant_map_to_page(&frame, easting, northing, &x, &y);
    int reach = (int)(4 * DPI / 72), at[2] = {(int)(x * DPI / 72), (int)(y * DPI / 72)};
    for (int j = -reach; j <= reach; j++)
        for (int i = -reach; i <= reach; i++)
            if (dark(picture, at[0] + i, at[1] + j)) {
                sum[0]++;
                sum[1] += at[0] + i + 0.5;
                sum[2] += at[1] + j + 0.5;
            }
    double pixels = 5.2 * DPI / 72; /* a square of 6 points less its white rim */
    assert_true(fabs(sqrt(sum[0]) - pixels) < 1.5);
    place_of(&frame, sum[1] / sum[0] * 72 / DPI, sum[2] / sum[0] * 72 / DPI, &lon, &lat);
    assert_true(brant_geodesic(lon, lat, 9.8123, 46.8234, NULL) <
                frame.ground_per_point * 72 / DPI);
    cairo_surface_destroy(picture);
    end_scene(&s);
}

/* The scale bar's upper edge in pixels, against the geodesic of that length across the map. */
static void test_scale_bar(void **state)
{
    world *w = *state;
    scene s;
    begin_scene(&s);
    make_plan(w, &s, &arc);
    add_leg(&s, BRANT_KIND_NONE_FOUND, 9.8123, 46.8234, 9.8623, 46.7834);
    brant_map_frame frame = frame_of(w, &s);
    cairo_surface_t *picture = draw(w, &s);
    int y = (int)((frame.box.y + frame.box.height + 6) * DPI / 72), first = -1, last = -1;
    for (int x = (int)((box.x + 20) * DPI / 72); x < (int)(300 * DPI / 72); x++) {
        if (first < 0 && dark(picture, x, y) && dark(picture, x + 20, y))
            first = x;
        if (first >= 0 && !dark(picture, x, y))
            break;
        last = x;
    }
    double points = (last - first + 1) * 72 / DPI - 0.6, lon[2], lat[2]; /* less the line */
    double middle = frame.box.x + frame.box.width / 2;
    for (int i = 0; i < 2; i++)
        place_of(&frame, middle + (i - 0.5) * points, frame.box.y + frame.box.height / 2, &lon[i],
                 &lat[i]);
    double metres = brant_geodesic(lon[0], lat[0], lon[1], lat[1], NULL);
    assert_true(fabs(metres - brant_map_bar(&frame, 120)) < frame.ground_per_point * 72 / DPI);
    assert_true(metres > 100);
    cairo_surface_destroy(picture);
    end_scene(&s);
}

static void test_same_bytes(void **state)
{
    world *w = *state;
    scene s;
    begin_scene(&s);
    make_plan(w, &s, &arc);
    add_leg(&s, BRANT_KIND_CROSSES, 9.8123, 46.8234, 9.84, 46.80);
    add_leg(&s, BRANT_KIND_UNKNOWN, 9.84, 46.80, 9.8623, 46.7834);
    s.wait = (brant_map_wait){9.83, 46.81, "3.80"};
    s.map.waits = &s.wait;
    s.map.wait_count = 1;
    cairo_surface_t *a = draw(w, &s), *b = draw(w, &s);
    size_t size = (size_t)cairo_image_surface_get_stride(a) *
                  (size_t)cairo_image_surface_get_height(a);
    assert_memory_equal(cairo_image_surface_get_data(a), cairo_image_surface_get_data(b), size);
    cairo_surface_destroy(a);
    cairo_surface_destroy(b);
    end_scene(&s);
}

/* ---- cells under pixels -------------------------------------------------- */

static int one_steep(int col, int row)
{
    return col == 70 && row == 31 ? BRANT_CLASS_ABOVE_55 : BRANT_CLASS_BELOW_25;
}

/* The pixels of one steep cell of a geographic grid lie within a pixel of that cell. */
static void test_cell_placed(void **state)
{
    world *w = *state;
    scene s;
    ground g = arc;
    brant_map_ground pixels;
    double sum[3] = {0}, lon, lat;
    g.class = one_steep;
    begin_scene(&s);
    make_plan(w, &s, &g);
    add_leg(&s, BRANT_KIND_NONE_FOUND, 9.82, 46.82, 9.86, 46.79);
    brant_map_frame frame = frame_of(w, &s);
    assert_int_equal(brant_map_ground_read(&w->ctx, &s.map, &frame, &pixels), BRANT_OK);
    for (int j = 0; j < pixels.rows; j++)
        for (int i = 0; i < pixels.cols; i++)
            if (pixels.classes[j * pixels.cols + i] == BRANT_CLASS_ABOVE_55) {
                sum[0]++;
                sum[1] += i + 0.5;
                sum[2] += j + 0.5;
            }
    assert_true(sum[0] > 50);
    place_of(&frame, frame.box.x + sum[1] / sum[0] * BRANT_MAP_PIXEL,
             frame.box.y + sum[2] / sum[0] * BRANT_MAP_PIXEL, &lon, &lat);
    assert_true(brant_geodesic(lon, lat, g.transform[0] + 70.5 * g.transform[1],
                               g.transform[3] + 31.5 * g.transform[5], NULL) <
                frame.ground_per_point * BRANT_MAP_PIXEL);
    brant_map_ground_clear(&pixels);
    end_scene(&s);
}

static bool is_hole(int col, int row)
{
    return (col / 9 + row / 7) % 5 == 0;
}

static double holed_height(int col, int row)
{
    return is_hole(col, row) ? NAN : flat_height(col, row);
}

static int holed_class(int col, int row)
{
    return is_hole(col, row) ? BRANT_CLASS_UNKNOWN : one_steep(col % 90, row % 60);
}

static double holed_reached(int col, int row)
{
    return is_hole(col, row) ? NAN : 0;
}

/* Cells of `metres` in 32N, much of them void. */
static ground holed(double metres)
{
    return (ground){.epsg = 32632, .cols = 600, .rows = 500,
                    .transform = {563000, metres, 0, 5185000, 0, -metres},
                    .height = holed_height, .class = holed_class, .reached = holed_reached};
}

/* Of a pixel whose middle is void: never gentle, never a height; of one off the grid: never
 * anything. Whether pixels hold a part of a cell or many cells. Every steep cell is seen. */
static void check_unknown(world *w, double metres)
{
    scene s;
    ground g = holed(metres);
    brant_map_ground pixels;
    int steep[2] = {0}, unknown = 0;
    double e = g.transform[0], n = g.transform[3];
    begin_scene(&s);
    make_plan(w, &s, &g);
    double ends[4] = {e + 50 * metres, n - 50 * metres, e + 550 * metres, n - 450 * metres};
    by_proj("EPSG:32632", "EPSG:4326", &ends[0], &ends[1]);
    by_proj("EPSG:32632", "EPSG:4326", &ends[2], &ends[3]);
    add_leg(&s, BRANT_KIND_NONE_FOUND, ends[0], ends[1], ends[2], ends[3]);
    brant_map_frame frame = frame_of(w, &s);
    assert_int_equal(brant_map_ground_read(&w->ctx, &s.map, &frame, &pixels), BRANT_OK);
    for (int j = 0; j < pixels.rows; j++)
        for (int i = 0; i < pixels.cols; i++) {
            double x, y;
            int at = j * pixels.cols + i, class = pixels.classes[at];
            brant_map_from_page(&frame, frame.box.x + (i + 0.5) * BRANT_MAP_PIXEL,
                                frame.box.y + (j + 0.5) * BRANT_MAP_PIXEL, &x, &y);
            double col = (x - e) / metres, row = (n - y) / metres;
            double margin = 1e-6 * g.cols; /* of the warp, cells */
            if (col < -margin || row < -margin || col > g.cols + margin || row > g.rows + margin)
                assert_true(class == BRANT_MAP_OUTSIDE && isnan(pixels.elevation[at]));
            if (!(col > 0 && row > 0 && col < g.cols && row < g.rows) ||
                fabs(col - round(col)) < margin || fabs(row - round(row)) < margin)
                continue;
            if (is_hole((int)col, (int)row)) {
                assert_true(class == BRANT_CLASS_UNKNOWN || class >= BRANT_CLASS_30_35);
                assert_true(isnan(pixels.elevation[at]));
                unknown++;
            }
            steep[0] += class == BRANT_CLASS_ABOVE_55;
        }
    for (int row = 0; row < g.rows; row++)
        for (int col = 0; col < g.cols; col++)
            steep[1] += holed_class(col, row) == BRANT_CLASS_ABOVE_55;
    double a_cell = fmax(pow(metres / (frame.ground_per_point * BRANT_MAP_PIXEL), 2), 0.99);
    assert_true(unknown > 1000 && steep[1] > 10);
    assert_true(steep[0] > 0.5 * steep[1] * a_cell);
    brant_map_ground_clear(&pixels);
    end_scene(&s);
}

static void test_unknown(void **state)
{
    check_unknown(*state, 5);  /* 1:25,000: a pixel is 3.2 m */
    check_unknown(*state, 20); /* 1:100,000, 12.7 m */
}

static void test_unknown_many(void **state)
{
    check_unknown(*state, 1.3); /* 1:10,000, 1.27 m */
}

/* Rasters of two runs do not go together. */
static void test_other_grid(void **state)
{
    world *w = *state;
    scene s;
    ground g = arc;
    begin_scene(&s);
    make_plan(w, &s, &g);
    add_leg(&s, BRANT_KIND_NONE_FOUND, 9.82, 46.82, 9.86, 46.79);
    char *elevation = at_copy(w, "other.tif");
    assert_int_equal(rename(s.path[0], elevation), 0);
    for (int i = 0; i < 3; i++)
        free(s.path[i]);
    g.rows--;
    make_plan(w, &s, &g);
    s.map.elevation = elevation;
    brant_map_frame frame = frame_of(w, &s);
    brant_map_ground pixels;
    assert_int_equal(brant_map_ground_read(&w->ctx, &s.map, &frame, &pixels), BRANT_ERR_INPUT);
    assert_non_null(strstr(brant_message(&w->ctx), "class.tif: not on the grid of"));
    brant_map_ground_clear(&pixels);
    free(elevation);
    end_scene(&s);
}

/* ---- contours ------------------------------------------------------------ */

enum { SIDE = 121 };

static float *surface(double (*height)(double x, double y))
{
    float *z = calloc(SIDE * SIDE, sizeof *z);
    assert_non_null(z);
    for (int i = 0; i < SIDE * SIDE; i++)
        z[i] = (float)height(i % SIDE, i / SIDE);
    return z;
}

static double cone(double x, double y)
{
    return 3001 - 5 * hypot(x - 60.3, y - 60.6);
}

/* A level of a cone is a circle; a chord of one step leaves it by 1/(8 r). */
static void test_cone(void **state)
{
    world *w = *state;
    brant_map_contours c = {0};
    float *z = surface(cone);
    assert_int_equal(brant_map_trace(&w->ctx, z, SIDE, SIDE, 20, &c), BRANT_OK);
    int rings = 0;
    for (size_t i = 0; i < c.line_count; i++) {
        const brant_map_line *line = &c.lines[i];
        const brant_map_point *p = c.points + line->first;
        double radius = (3001 - line->level) / 5;
        if (radius < 3)
            continue;
        for (size_t j = 0; j < line->count; j++)
            assert_true(fabs(hypot(p[j].x - 60.3, p[j].y - 60.6) - radius) < 1 / (8 * radius) + 1e-3);
        bool closed = p[0].x == p[line->count - 1].x && p[0].y == p[line->count - 1].y;
        if (radius < 59) {
            assert_true(closed && (double)line->count > 6 * radius);
            rings++;
        }
    }
    assert_int_equal(rings, 14); /* 2980 at 4.2 down to 2720 at 56.2, one ring each */
    brant_map_contours_clear(&c);
    free(z);
}

static double plane(double x, double y)
{
    return 1000 + 3 * x + 1.5 * y;
}

/* A plane's levels are straight, exactly; a void cuts them, and its squares stay empty. */
static void test_plane_with_void(void **state)
{
    world *w = *state;
    brant_map_contours c = {0};
    float *z = surface(plane);
    size_t whole;
    assert_int_equal(brant_map_trace(&w->ctx, z, SIDE, SIDE, 50, &c), BRANT_OK);
    whole = c.line_count;
    assert_int_equal(whole, 10); /* from 1000 at a corner to 1540: 1050, 1100 ... 1500 */
    brant_map_contours_clear(&c);
    z[60 * SIDE + 60] = NAN; /* 1270: between levels; its squares span 1265.5 to 1274.5 */
    z[60 * SIDE + 70] = NAN; /* 1300: on one */
    assert_int_equal(brant_map_trace(&w->ctx, z, SIDE, SIDE, 50, &c), BRANT_OK);
    assert_int_equal(c.line_count, whole + 1);
    for (size_t i = 0; i < c.line_count; i++)
        for (size_t j = 0; j < c.lines[i].count; j++) {
            const brant_map_point *p = &c.points[c.lines[i].first + j];
            assert_true(fabs(plane(p->x, p->y) - c.lines[i].level) < 1e-3);
            assert_false(fabs(p->x - 70) < 1 && fabs(p->y - 60) < 1);
        }
    brant_map_contours_clear(&c);
    free(z);
}

static double pass(double x, double y)
{
    return 1000.3 + 0.5 * (x - 60.5) * (y - 60.5);
}

/* A saddle's two lines at each level do not cross: along each, one side stays higher. */
static void test_saddle(void **state)
{
    world *w = *state;
    brant_map_contours c = {0};
    float *z = surface(pass);
    assert_int_equal(brant_map_trace(&w->ctx, z, SIDE, SIDE, 1000, &c), BRANT_OK);
    for (size_t i = 0; i < c.line_count; i++) {
        const brant_map_point *p = c.points + c.lines[i].first;
        for (size_t j = 1; c.lines[i].level == 1000 && j < c.lines[i].count; j++)
            assert_true((p[j].x > 60.5) == (p[0].x > 60.5) && (p[j].y > 60.5) == (p[0].y > 60.5));
    }
    assert_true(c.line_count >= 2);
    brant_map_contours_clear(&c);
    free(z);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(test_zones),
        cmocka_unit_test_setup_teardown(test_scale, set_up, tear_down),
        cmocka_unit_test_setup_teardown(test_convergence, set_up, tear_down),
        cmocka_unit_test_setup_teardown(test_point_back, set_up, tear_down),
        cmocka_unit_test_setup_teardown(test_scale_bar, set_up, tear_down),
        cmocka_unit_test_setup_teardown(test_same_bytes, set_up, tear_down),
        cmocka_unit_test_setup_teardown(test_cell_placed, set_up, tear_down),
        cmocka_unit_test_setup_teardown(test_unknown, set_up, tear_down),
        cmocka_unit_test_setup_teardown(test_unknown_many, set_up, tear_down),
        cmocka_unit_test_setup_teardown(test_other_grid, set_up, tear_down),
        cmocka_unit_test_setup_teardown(test_cone, set_up, tear_down),
        cmocka_unit_test_setup_teardown(test_plane_with_void, set_up, tear_down),
        cmocka_unit_test_setup_teardown(test_saddle, set_up, tear_down),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
