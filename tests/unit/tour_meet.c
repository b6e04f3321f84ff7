/* What a sample meets, on ground set by hand. Distances are those of a 10 m grid
 * on the central meridian: a cell is 10 / 0.9996 m on the ellipsoid. */
#include "tour_scene.h"

#define IS(kind) BRANT_IS(BRANT_KIND_##kind)

static int setup(void **state)
{
    scene *s = malloc(sizeof *s);
    if (!s)
        return -1;
    scene_open(s, 100, 100, NULL);
    *state = s;
    return 0;
}

static int teardown(void **state)
{
    scene_close(*state);
    free(*state);
    return 0;
}

/* Metres as grid steps. */
static double steps(double metres)
{
    return metres * UTM_SCALE / 10;
}

static void check(const brant_fact *fact, brant_kind kind, uint32_t is)
{
    assert_string_equal(brant_kind_name(fact->kind), brant_kind_name(kind));
    assert_int_equal(fact->is, is);
}

static void check_at(scene *s, double col, double row, brant_kind kind, uint32_t is)
{
    brant_fact fact = scene_look(s, col, row);
    check(&fact, kind, is);
}

/* ---- the cell itself ---------------------------------------------------- */

static void test_names(void **state)
{
    (void)state;
    static const char *const names[BRANT_KINDS] = {"unknown", "crosses", "over-band", "edge",
                                                   "under",   "remote",  "none-found"};
    for (int kind = 0; kind < BRANT_KINDS; kind++)
        assert_string_equal(brant_kind_name((brant_kind)kind), names[kind]);
}

/* From the band's lower limit on, up to and with the upper (design: Words). */
static void test_band_limits(void **state)
{
    scene *s = *state;
    static const struct {
        float slope;
        brant_kind kind;
        uint32_t is;
    } rows[] = {{29.999f, BRANT_KIND_NONE_FOUND, IS(NONE_FOUND)},
                {30, BRANT_KIND_CROSSES, IS(CROSSES)},
                {45, BRANT_KIND_CROSSES, IS(CROSSES)},
                {45.001f, BRANT_KIND_OVER_BAND, IS(OVER_BAND)},
                {0, BRANT_KIND_NONE_FOUND, IS(NONE_FOUND)}};
    for (size_t i = 0; i < sizeof rows / sizeof rows[0]; i++) {
        scene_patch(s, (brant_window){50, 50, 1, 1}, rows[i].slope, 0);
        brant_fact fact = scene_look(s, 50.9, 50.1);
        check(&fact, rows[i].kind, rows[i].is);
        assert_true(fact.slope_deg == rows[i].slope && fact.aspect_deg == 180);
    }
}

static void test_unknown_slope_loses_nothing(void **state)
{
    scene *s = *state;
    scene_patch(s, (brant_window){50, 50, 1, 1}, NAN, 0);
    scene_patch(s, (brant_window){52, 50, 1, 1}, 35, 3);
    scene_zone(s, 3, 100, 100);
    brant_hit hits[] = {{50, 50, 3, 28, 4}};
    s->meeting.hits = hits;
    s->meeting.hit_count = 1;
    brant_fact fact = scene_look(s, 50.5, 50.5);
    check(&fact, BRANT_KIND_UNKNOWN, IS(UNKNOWN) | IS(EDGE) | IS(UNDER) | BRANT_UNKNOWN_ABOVE);
    assert_true(isnan(fact.slope_deg));
    assert_int_equal(fact.zone, 3);
}

/* A zone that a person drew on gentle or unknown ground is a zone. */
static void test_drawn_zones(void **state)
{
    scene *s = *state;
    scene_zone(s, 8, 100, 100);
    scene_patch(s, (brant_window){50, 50, 1, 1}, 12, 8);
    brant_fact fact = scene_look(s, 50.5, 50.5);
    check(&fact, BRANT_KIND_CROSSES, IS(CROSSES));
    assert_int_equal(fact.zone, 8);
    check_at(s, 53.5, 50.5, BRANT_KIND_EDGE, IS(EDGE));
    scene_patch(s, (brant_window){50, 50, 1, 1}, NAN, 8);
    fact = scene_look(s, 50.5, 50.5);
    assert_int_equal(fact.kind, BRANT_KIND_UNKNOWN);
    assert_true(fact.is & IS(EDGE));
    assert_int_equal(fact.zone, 8);
}

/* Bilinear interpolation gives a plane back exactly. */
static void test_elevation(void **state)
{
    scene *s = *state;
    for (int row = 0; row < 100; row++)
        for (int col = 0; col < 100; col++)
            s->field.elevation[scene_cell(s, col, row)] =
                (float)(1000 + 2 * (col + 0.5) - 3 * (row + 0.5));
    unsigned seed = 3;
    for (int i = 0; i < 200; i++) {
        double col = 0.5 + random_unit(&seed) * 99, row = 0.5 + random_unit(&seed) * 99;
        assert_close((double)scene_look(s, col, row).elevation_m, 1000 + 2 * col - 3 * row, 1e-3);
    }
    s->field.elevation[scene_cell(s, 50, 50)] = NAN;
    assert_true(isnan(scene_look(s, 49.6, 49.6).elevation_m));
    assert_true(isnan(scene_look(s, 51.4, 50.5).elevation_m));
    assert_false(isnan(scene_look(s, 49.5, 50.5).elevation_m)); /* on a known centre */
    assert_false(isnan(scene_look(s, 49.4, 50.5).elevation_m));
    assert_true(isnan(scene_look(s, 0.4, 10).elevation_m)); /* half a cell from the border */
}

/* ---- the edge ----------------------------------------------------------- */

static void test_edge_distance(void **state)
{
    scene *s = *state;
    scene_zone(s, 4, 100, 100);
    scene_patch(s, (brant_window){50, 50, 1, 1}, 38, 4);
    brant_fact fact = scene_look(s, 50 - steps(29.99), 50.5);
    check(&fact, BRANT_KIND_EDGE, IS(EDGE));
    assert_int_equal(fact.zone, 4);
    fact = scene_look(s, 50 - steps(30.01), 50.5);
    check(&fact, BRANT_KIND_NONE_FOUND, IS(NONE_FOUND));
    assert_int_equal(fact.zone, 0);
    check_at(s, 51 + steps(29.99), 50.1, BRANT_KIND_EDGE, IS(EDGE));
    check_at(s, 50.3, 51 + steps(29.99), BRANT_KIND_EDGE, IS(EDGE));
    check_at(s, 50.3, 51 + steps(30.01), BRANT_KIND_NONE_FOUND, IS(NONE_FOUND));
    /* to the corner: 18 and 24 m make 30 */
    check_at(s, 51 + steps(17.99), 51 + steps(23.99), BRANT_KIND_EDGE, IS(EDGE));
    check_at(s, 51 + steps(18.01), 51 + steps(24.01), BRANT_KIND_NONE_FOUND, IS(NONE_FOUND));
    s->meeting.options.edge_m = 0;
    check_at(s, 48.9, 50.5, BRANT_KIND_NONE_FOUND, IS(NONE_FOUND));
}

static void test_nearest_zone(void **state)
{
    scene *s = *state;
    scene_zone(s, 2, 100, 100);
    scene_zone(s, 5, 100, 100);
    scene_patch(s, (brant_window){50, 50, 1, 5}, 38, 5);
    scene_patch(s, (brant_window){55, 50, 1, 5}, 50, 2);
    assert_int_equal(scene_look(s, 52.9, 52.5).zone, 5);
    assert_int_equal(scene_look(s, 53.1, 52.5).zone, 2);
    assert_int_equal(scene_look(s, 53, 52.5).zone, 2); /* of equals the lowest number */
    assert_int_equal(scene_look(s, 50.5, 52.5).zone, 5);
    check_at(s, 55.5, 52.5, BRANT_KIND_OVER_BAND, IS(OVER_BAND));
    /* the same along a column */
    scene_patch(s, (brant_window){20, 50, 5, 1}, 38, 5);
    scene_patch(s, (brant_window){20, 55, 5, 1}, 38, 2);
    assert_int_equal(scene_look(s, 22.5, 52.9).zone, 5);
    assert_int_equal(scene_look(s, 22.5, 53.1).zone, 2);
    assert_int_equal(scene_look(s, 22.5, 53).zone, 2);
}

/* The least distance to a cell, from points along its outline. */
static double outline_distance(const brant_matrix *m, double col, double row, int cell_col,
                               int cell_row)
{
    double best = INFINITY;
    for (int i = 0; i <= 400; i++) {
        double t = i / 400.0, u[4] = {t, t, 0, 1}, v[4] = {0, 1, t, t};
        for (int side = 0; side < 4; side++)
            best = fmin(best, brant_matrix_distance(m, cell_col + u[side] - col,
                                                    cell_row + v[side] - row));
    }
    return best;
}

/* On a turned and sheared grid with oblong cells, a lone steep cell's edge is a
 * circle on the ground, and so is a void's. */
static void test_edge_on_any_grid(void **state)
{
    (void)state;
    static const double transforms[][6] = {{500000, 8, 3, 5150000, 2, -9},
                                           {500000, 0, 12, 5150000, 5, 0},
                                           {500000, 6, 5, 5150000, -1, 7}};
    unsigned seed = 5;
    for (size_t t = 0; t < sizeof transforms / sizeof transforms[0]; t++) {
        scene s;
        int inside = 0;
        scene_open(&s, 60, 60, transforms[t]);
        scene_patch(&s, (brant_window){30, 30, 1, 1}, 40, 0);
        scene_void(&s, (brant_window){20, 30, 1, 1});
        for (int i = 0; i < 300; i++) {
            double col = 16 + random_unit(&seed) * 20, row = 24 + random_unit(&seed) * 13;
            brant_matrix m;
            brant_ground_matrix(s.ground, col, row, &m);
            double steep = outline_distance(&m, col, row, 30, 30);
            double hole = outline_distance(&m, col, row, 20, 30);
            bool in_steep = floor(col) == 30 && floor(row) == 30;
            if (in_steep || fabs(steep - 30) < 0.05 || fabs(hole - 30) < 0.05)
                continue;
            brant_fact fact = scene_look(&s, col, row);
            bool in_hole = floor(col) == 20 && floor(row) == 30;
            assert_int_equal(!!(fact.is & IS(EDGE)), steep < 30);
            assert_int_equal(!!(fact.is & BRANT_UNKNOWN_ABOVE), in_hole || hole < 30);
            inside += steep < 30;
        }
        assert_true(inside > 20 && inside < 280);
        scene_close(&s);
    }
}

/* ---- unknown ground ----------------------------------------------------- */

static void test_void_near(void **state)
{
    scene *s = *state;
    scene_void(s, (brant_window){50, 50, 2, 2});
    check_at(s, 50 - steps(29.99), 51, BRANT_KIND_UNKNOWN, BRANT_UNKNOWN_ABOVE);
    check_at(s, 50 - steps(30.01), 51, BRANT_KIND_NONE_FOUND, IS(NONE_FOUND));
    check_at(s, 50.5, 50.5, BRANT_KIND_UNKNOWN, IS(UNKNOWN) | BRANT_UNKNOWN_ABOVE);
    /* ground beside it that has a height and no slope may be steep as well */
    scene_patch(s, (brant_window){49, 49, 4, 4}, NAN, 0);
    check_at(s, 49 - steps(29.99), 51, BRANT_KIND_UNKNOWN, BRANT_UNKNOWN_ABOVE);
}

static void test_raster_edge_near(void **state)
{
    scene *s = *state;
    check_at(s, steps(29.99), 50, BRANT_KIND_UNKNOWN, BRANT_UNKNOWN_ABOVE);
    check_at(s, steps(30.01), 50, BRANT_KIND_NONE_FOUND, IS(NONE_FOUND));
    check_at(s, 50, 100 - steps(29.99), BRANT_KIND_UNKNOWN, BRANT_UNKNOWN_ABOVE);
    check_at(s, 50, 100 - steps(30.01), BRANT_KIND_NONE_FOUND, IS(NONE_FOUND));
}

static void test_outside(void **state)
{
    scene *s = *state;
    uint32_t both = IS(UNKNOWN) | BRANT_UNKNOWN_ABOVE;
    check_at(s, -0.1, 50, BRANT_KIND_UNKNOWN, both);
    check_at(s, 50, 100, BRANT_KIND_UNKNOWN, both);
    check_at(s, 1e7, -1e7, BRANT_KIND_UNKNOWN, both);
    check_at(s, 1e300, 50, BRANT_KIND_UNKNOWN, both);
    check_at(s, NAN, NAN, BRANT_KIND_UNKNOWN, both);
    check_at(s, INFINITY, 50, BRANT_KIND_UNKNOWN, both);
    scene_patch(s, (brant_window){0, 50, 1, 1}, 33, 0);
    check_at(s, -1, 50.5, BRANT_KIND_UNKNOWN, both | IS(EDGE) | IS(REMOTE));
    brant_fact fact = scene_look(s, NAN, NAN);
    assert_true(isnan(fact.slope_deg) && isnan(fact.elevation_m) && isnan(fact.aspect_deg));
}

/* Something unknown above is never 'none found', and hides nothing else. */
static void test_unknown_above(void **state)
{
    scene *s = *state;
    s->unknown[scene_cell(s, 50, 50)] = s->unknown[scene_cell(s, 60, 50)] = 1;
    check_at(s, 50.5, 50.5, BRANT_KIND_UNKNOWN, BRANT_UNKNOWN_ABOVE);
    scene_patch(s, (brant_window){60, 50, 1, 1}, 31, 0);
    check_at(s, 60.5, 50.5, BRANT_KIND_CROSSES, IS(CROSSES) | BRANT_UNKNOWN_ABOVE);
}

/* ---- from above --------------------------------------------------------- */

static void test_hits(void **state)
{
    scene *s = *state;
    brant_hit hits[] = {{49, 50, 9, 40, 40},  {50, 50, 2, 24.99f, -1}, {50, 50, 3, 28, 6},
                        {50, 50, 4, 28, 3},   {50, 50, 7, 25, 0},      {51, 50, 2, 24.99f, -1},
                        {50, 51, 9, 41, 41}};
    for (uint32_t zone = 1; zone < 10; zone++)
        scene_zone(s, zone, 100, 100);
    s->meeting.hits = hits;
    s->meeting.hit_count = sizeof hits / sizeof hits[0];
    brant_fact fact = scene_look(s, 50.5, 50.5);
    check(&fact, BRANT_KIND_UNDER, IS(UNDER));
    assert_int_equal(fact.first_hit, 1);
    assert_int_equal(fact.hits, 4);
    assert_true(fact.reached_at_deg == 28 && fact.head_m == 6);
    assert_int_equal(fact.zone, 3); /* 3 and 4 at 28 degrees */

    fact = scene_look(s, 51.5, 50.5); /* reached, but not at the reach angle */
    check(&fact, BRANT_KIND_NONE_FOUND, IS(NONE_FOUND));
    assert_true(fact.reached_at_deg == 24.99f && fact.head_m == 0);
    assert_int_equal(fact.zone, 2);
    s->meeting.options.reach_angle_deg = 20;
    check_at(s, 51.5, 50.5, BRANT_KIND_UNDER, IS(UNDER));

    fact = scene_look(s, 52.5, 50.5);
    check(&fact, BRANT_KIND_NONE_FOUND, IS(NONE_FOUND));
    assert_int_equal(fact.hits, 0);
    assert_true(fact.reached_at_deg == 0 && fact.head_m == 0);

    /* on one zone, and under another */
    scene_patch(s, (brant_window){50, 50, 1, 1}, 36, 1);
    fact = scene_look(s, 50.5, 50.5);
    check(&fact, BRANT_KIND_CROSSES, IS(CROSSES) | IS(UNDER));
    assert_int_equal(fact.zone, 1);
    assert_true(fact.reached_at_deg == 28);
}

/* Wherever a hit lies in the list, it is found, and no other. */
static void test_hits_of_any_cell(void **state)
{
    scene *s = *state;
    static brant_hit hits[3 * 40 * 40];
    scene_zone(s, 1, 100, 100);
    s->meeting.hits = hits;
    for (int row = 30; row < 70; row++)
        for (int col = 30; col < 70; col++)
            for (int k = 0; k < (col * 7 + row * 3) % 5 - 1; k++)
                hits[s->meeting.hit_count++] = (brant_hit){col, row, 1, 30, 1};
    for (int row = 28; row < 72; row += 3)
        for (int col = 28; col < 72; col++) {
            brant_fact fact = scene_look(s, col + 0.5, row + 0.5);
            int count = col >= 30 && col < 70 && row >= 30 && row < 70 ? (col * 7 + row * 3) % 5 - 1
                                                                       : 0;
            check(&fact, count > 0 ? BRANT_KIND_UNDER : BRANT_KIND_NONE_FOUND,
                  count > 0 ? IS(UNDER) : IS(NONE_FOUND));
            assert_int_equal(fact.hits, count > 0 ? count : 0);
            for (uint32_t i = fact.first_hit; i < fact.first_hit + fact.hits; i++)
                assert_true(hits[i].col == col && hits[i].row == row);
        }
}

/* A zone's own reach angle comes before the run's, either way. */
static void test_own_reach_angle(void **state)
{
    scene *s = *state;
    brant_hit hits[] = {{50, 50, 1, 22, 5}, {60, 50, 2, 28, 5}};
    scene_zone(s, 1, 100, 100);
    scene_zone(s, 2, 100, 100);
    s->zones.zones[0].reach_angle_deg = 21;
    s->zones.zones[1].reach_angle_deg = 29;
    s->meeting.hits = hits;
    s->meeting.hit_count = 2;
    check_at(s, 50.5, 50.5, BRANT_KIND_UNDER, IS(UNDER));
    check_at(s, 60.5, 50.5, BRANT_KIND_NONE_FOUND, IS(NONE_FOUND));
}

/* ---- remote ------------------------------------------------------------- */

static void test_remote(void **state)
{
    scene *s = *state;
    uint32_t remote = IS(REMOTE), none = IS(NONE_FOUND);
    scene_patch(s, (brant_window){50, 40, 3, 3}, 35, 0);  /* rows 40-42 are release ground */
    scene_patch(s, (brant_window){50, 43, 3, 10}, 22, 0); /* rows 43-52 carry a fracture */
    check_at(s, 51.5, 48.5, BRANT_KIND_REMOTE, remote);
    check_at(s, 51.5, 43 + steps(99.9), BRANT_KIND_REMOTE, remote); /* stands on row 52 */
    check_at(s, 51.5, 43 + steps(100.1), BRANT_KIND_NONE_FOUND, none);
    check_at(s, 49.5, 48.5, BRANT_KIND_REMOTE, remote);     /* gentle, steep beside it */
    check_at(s, 49.5, 42.5 + 4, BRANT_KIND_REMOTE, remote); /* more than 30 m from the patch */
    check_at(s, 48.5, 48.5, BRANT_KIND_NONE_FOUND, none);   /* gentle all round */
    scene_patch(s, (brant_window){50, 46, 3, 1}, 20, 0);    /* not over 20: a flat between */
    check_at(s, 51.5, 48.5, BRANT_KIND_NONE_FOUND, none);
    check_at(s, 51.5, 46.5, BRANT_KIND_REMOTE, remote); /* on the flat, steep beside it */
    scene_patch(s, (brant_window){53, 46, 1, 1}, 20.1f, 0); /* corners connect round it */
    check_at(s, 51.5, 48.5, BRANT_KIND_REMOTE, remote);
    s->meeting.options.remote_m = 50;
    check_at(s, 51.5, 48.5, BRANT_KIND_NONE_FOUND, none);
    s->meeting.options.remote_m = 100;
    s->meeting.options.remote_slope_deg = 25;
    check_at(s, 51.5, 48.5, BRANT_KIND_NONE_FOUND, none);
    check_at(s, 51.5, 41.5, BRANT_KIND_CROSSES, IS(CROSSES));
}

/* The distance is a circle on the ground: 70 and 70 m make 99, 72 and 72 make 102. */
static void test_remote_distance(void **state)
{
    scene *s = *state;
    scene_patch(s, (brant_window){4, 4, 92, 92}, 25, 0);
    scene_patch(s, (brant_window){50, 50, 1, 1}, 40, 0);
    check_at(s, 51 + steps(70), 51 + steps(70), BRANT_KIND_REMOTE, IS(REMOTE));
    check_at(s, 51 + steps(72), 51 + steps(72), BRANT_KIND_NONE_FOUND, IS(NONE_FOUND));
    check_at(s, 50 - steps(70), 51 + steps(70), BRANT_KIND_REMOTE, IS(REMOTE));
    check_at(s, 50 - steps(72), 51 + steps(72), BRANT_KIND_NONE_FOUND, IS(NONE_FOUND));
}

/* Unknown ground does not connect, and is reported where it is near. */
static void test_remote_across_a_void(void **state)
{
    scene *s = *state;
    scene_patch(s, (brant_window){50, 40, 1, 3}, 35, 0);
    scene_patch(s, (brant_window){50, 43, 1, 8}, 22, 0);
    scene_void(s, (brant_window){49, 46, 3, 1});
    check_at(s, 50.5, 48.5, BRANT_KIND_UNKNOWN, BRANT_UNKNOWN_ABOVE);
}

/* ---- ground from elevations --------------------------------------------- */

/* Horn's window mixes two rows at the brink and at the foot: the slope of row 39
 * is atan(0.25 tan 50) = 16.6, of row 40 atan(0.75 tan 50) = 41.8, of row 59
 * atan(0.75 tan 50 + 0.25 tan 10) = 43.2, of row 60 atan(0.25 tan 50 +
 * 0.75 tan 10) = 23.3 degrees. So release ground is rows 40 to 59, and its edge
 * reaches 30 m, 2.9988 cells, beyond. */
static brant_kind kind_at_wall(double row)
{
    if (row >= 41 && row < 59)
        return BRANT_KIND_OVER_BAND;
    if (row >= 40 && row < 60)
        return BRANT_KIND_CROSSES;
    if (row >= 37.0012 && row <= 62.9988)
        return BRANT_KIND_EDGE;
    return BRANT_KIND_NONE_FOUND;
}

/* A terrace, a wall of 50 degrees falling south over rows 40-59, an apron of 10
 * degrees; walked from top to bottom. Every kind in its place. */
static void test_wall(void **state)
{
    (void)state;
    scene s;
    brant_source source;
    const bool wanted[1] = {true};
    const brant_zone_options options = BRANT_ZONE_OPTIONS_DEFAULT;
    float z[100 * 100];
    double cell = 10 / UTM_SCALE, wall = tan(50 * M_PI / 180), apron = tan(10 * M_PI / 180);
    scene_open(&s, 100, 100, NULL);
    for (int i = 0; i < 100 * 100; i++) {
        double down = i / 100 + 0.5 - 40; /* rows below the brink */
        double on_wall = fmin(fmax(down, 0), 20), below = fmax(down - 20, 0);
        z[i] = (float)(2000 - cell * (on_wall * wall + below * apron));
    }
    brant_field_clear(&s.field);
    brant_zone_set_clear(&s.zones);
    brant_source_array(&source, z, 100, 100);
    must(&s.ctx, brant_field_read(&s.ctx, &source, s.ground,
                                  &(brant_window){0, 0, 100, 100}, false, &s.field));
    must(&s.ctx, brant_zone_set_build(&s.ctx, &source, s.ground, wanted, &options, &s.zones));
    for (double row = 5.125; row < 95; row += 0.25) {
        brant_fact fact = scene_look(&s, 50.3, row);
        assert_string_equal(brant_kind_name(fact.kind), brant_kind_name(kind_at_wall(row)));
        if (row > 41 && row < 59)
            assert_close((double)fact.slope_deg, 50, 0.01);
        if (row > 37.1 && row < 62.9)
            assert_true(fact.zone > 0);
    }
    scene_close(&s);
}

#define CASE(name) cmocka_unit_test_setup_teardown(name, setup, teardown)

int main(void)
{
    const struct CMUnitTest tests[] = {
        CASE(test_names),
        CASE(test_band_limits),
        CASE(test_unknown_slope_loses_nothing),
        CASE(test_drawn_zones),
        CASE(test_elevation),
        CASE(test_edge_distance),
        CASE(test_nearest_zone),
        CASE(test_edge_on_any_grid),
        CASE(test_void_near),
        CASE(test_raster_edge_near),
        CASE(test_outside),
        CASE(test_unknown_above),
        CASE(test_hits),
        CASE(test_hits_of_any_cell),
        CASE(test_own_reach_angle),
        CASE(test_remote),
        CASE(test_remote_distance),
        CASE(test_remote_across_a_void),
        CASE(test_wall),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
