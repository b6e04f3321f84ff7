/* The look at a model before it is used: what it sees, and what it says of the unit. */
#include "store_files.h"

#include "../../src/store/unit.h"

#define NEAR(a, b) assert_true(fabs((a) - (b)) < 1e-12)

/* "Every cell" of a model of up to 8 million: a fill of one cell wherever it lies. */
static void it_sees_every_cell(void **state)
{
    enum { COLS = 2100, ROWS = 300 };
    static const int places[][2] = {{0, 0}, {300, 10}, {1500, 100}, {2047, 255}, {2048, 256},
                                    {2099, 0}, {0, 299}, {2099, 299}};
    world *w = *state;
    brant_dem dem;
    double *z = calloc((size_t)COLS * ROWS, sizeof *z);
    assert_non_null(z);
    for (int i = 0; i < COLS * ROWS; i++)
        z[i] = 1000 + 0.31 * (i % COLS) + 0.7 * (double)(i / COLS);
    for (size_t i = 0; i < sizeof places / sizeof *places; i++)
        z[places[i][1] * COLS + places[i][0]] = -99;
    char *path = at_copy(w, "wide.tif");
    GDALDatasetH d = make_tif(path, COLS, ROWS, GDT_Float32);
    put_cells(d, 1, z);
    done(d);
    open_dem(w, path, NULL, &dem);
    if (!strstr(w->logged, ": 8 cells hold -99, "))
        fail_msg("'%s'", w->logged);
    brant_window one = {2047, 255, 2, 2};
    float seen[4];
    assert_int_equal(dem.source.read(&dem.source, &w->ctx, &one, seen), BRANT_OK);
    assert_true(isnan(seen[0]) && !isnan(seen[1]) && !isnan(seen[2]) && isnan(seen[3]));
    brant_dem_close(&dem);
    free(path);
    free(z);
}

/* Where more than 35 % of the ground is above 45 degrees the unit is in doubt; never where an
 * option gave it. */
static void steep_ground_is_doubted(void **state)
{
    enum { N = 80 };
    static const struct {
        double degrees;
        const char *unit;
        bool doubted;
    } cases[] = {{44, NULL, false}, {46, NULL, true}, {46, "m", false}, {-46, NULL, true}};
    world *w = *state;
    double z[N * N];
    for (size_t k = 0; k < sizeof cases / sizeof *cases; k++) {
        brant_dem dem;
        brant_dem_options options = {.vertical_unit = cases[k].unit};
        for (int i = 0; i < N * N; i++) /* along rows and columns alike, 10 m cells */
            z[i] = 2000 + 10 * tan(cases[k].degrees * M_PI / 180) * (i % N + i / N) / sqrt(2);
        char *path = at_copy(w, "plane.tif");
        unlink(path);
        GDALDatasetH d = make_tif(path, N, N, GDT_Float32);
        put_cells(d, 1, z);
        done(d);
        open_dem(w, path, &options, &dem);
        assert_int_equal(dem.unit_doubted, cases[k].doubted);
        assert_int_equal(strstr(w->logged, "do not look like metres") != NULL, cases[k].doubted);
        w->logged[0] = '\0';
        brant_dem_close(&dem);
        free(path);
    }
}

/* EPSG: 9001 metre, 9002 foot, 9003 US survey foot; and decimal parts. */
static void names_of_units(void **state)
{
    static const struct {
        const char *name;
        double metres;
    } names[] = {
        {"m", 1}, {"metre", 1}, {"metres", 1}, {"meter", 1}, {"METERS", 1}, {"ft", 0.3048},
        {"foot", 0.3048}, {"Feet", 0.3048}, {"international foot", 0.3048},
        {"us-ft", 1200.0 / 3937}, {"ftUS", 1200.0 / 3937}, {"US survey foot", 1200.0 / 3937},
        {"US survey feet", 1200.0 / 3937}, {"foot_us", 1200.0 / 3937}, {"dm", 0.1},
        {"decimetres", 0.1}, {"cm", 0.01}, {"centimetre", 0.01}, {"km", 1000},
        {"kilometres", 1000},
    };
    (void)state;
    for (size_t i = 0; i < sizeof names / sizeof *names; i++) {
        double metres = NAN;
        if (!brant_unit_metres(names[i].name, &metres))
            fail_msg("%s is not known", names[i].name);
        NEAR(metres, names[i].metres);
    }
    double metres;
    assert_false(brant_unit_metres("", &metres));
    assert_false(brant_unit_metres("fathom", &metres));
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test_setup_teardown(it_sees_every_cell, set_up, tear_down),
        cmocka_unit_test_setup_teardown(steep_ground_is_doubted, set_up, tear_down),
        cmocka_unit_test(names_of_units),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
