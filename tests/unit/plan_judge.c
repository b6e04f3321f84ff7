/* What is fit, with care or unfit: the table of brant-check(1), at and beside each limit. */
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>

#include <cmocka.h>

#include "../../src/plan/judge.h"

#include <math.h>
#include <stdlib.h>
#include <string.h>

#define COUNT(a) (sizeof(a) / sizeof((a)[0]))

/* A model against which nothing is found, of 10,000 cells. */
typedef struct model {
    brant_dem dem;
    brant_check check;
} model;

static model *good(void)
{
    model *m = calloc(1, sizeof *m);
    brant_check *c = &m->check;
    assert_non_null(m);
    c->dem = &m->dem;
    c->cell_m[BRANT_AT_MIDDLE][0] = c->cell_m[BRANT_AT_MIDDLE][1] = 10;
    c->cells = c->slopes = 10000;
    c->low_m = 1000;
    c->high_m = 2000;
    c->placed = true;
    c->step_deg = c->error_deg = c->vertical_error_m = NAN;
    return m;
}

/* Judges, frees: the level, and that a model not fit has one reason that says `word`. */
static brant_fitness judge(model *m, const char *word)
{
    brant_context ctx;
    brant_context_init(&ctx);
    assert_int_equal(brant_check_judge(&ctx, &m->check), BRANT_OK);
    brant_context_clear(&ctx);
    brant_fitness level = m->check.fitness;
    assert_int_equal(m->check.reasons, level != BRANT_FIT);
    if (level != BRANT_FIT) {
        assert_int_equal(m->check.reason[0].level, level);
        if (!strstr(m->check.reason[0].text, word))
            fail_msg("'%s' does not say '%s'", m->check.reason[0].text, word);
    }
    free(m);
    return level;
}

static void set_cell(brant_check *c, double value)
{
    c->cell_m[BRANT_AT_MIDDLE][1] = value;
}

static void set_error(brant_check *c, double value)
{
    c->error_deg = value;
}

static void set_step(brant_check *c, double value)
{
    c->step_deg = value;
}

static void set_datum(brant_check *c, double value)
{
    c->datum_accuracy_m = value;
}

/* "longer side of a cell, middle: above 12 m, above 35 m" and so on. */
static void test_limits(void **state)
{
    (void)state;
    static const struct {
        void (*set)(brant_check *c, double value);
        double care, unfit;
        const char *word;
    } rows[] = {
        {set_cell, 12, 35, "cells of"},
        {set_error, 2, 5, "heights good to"},
        {set_step, 2, 5, "heights in steps"},
        {set_datum, 10, 100, "change of datum"},
    };
    for (size_t i = 0; i < COUNT(rows); i++) {
        const double values[] = {rows[i].care, rows[i].care + 0.01, rows[i].unfit,
                                 rows[i].unfit + 0.01};
        static const brant_fitness levels[] = {BRANT_FIT, BRANT_FIT_WITH_CARE,
                                               BRANT_FIT_WITH_CARE, BRANT_UNFIT};
        for (size_t k = 0; k < COUNT(values); k++) {
            model *m = good();
            rows[i].set(&m->check, values[k]);
            assert_int_equal(judge(m, rows[i].word), levels[k]);
        }
    }
}

/* Two cells: a pitch must be as long to show (summary's MODEL line says the same). */
static void test_what_a_cell_hides(void **state)
{
    (void)state;
    model *m = good();
    set_cell(&m->check, 20);
    assert_int_equal(judge(m, "cells of 20 m: pitches shorter than 40 m"), BRANT_FIT_WITH_CARE);
    m = good();
    set_cell(&m->check, 40);
    assert_int_equal(judge(m, "cells of 40 m: start zones shorter than 80 m"), BRANT_UNFIT);
}

static void test_what_is_not_known(void **state)
{
    (void)state;
    model *m = good();
    m->check.datum_accuracy_m = -1;
    assert_int_equal(judge(m, "not stated"), BRANT_FIT_WITH_CARE);
    m = good();
    m->check.placed = false;
    assert_int_equal(judge(m, "cannot be placed"), BRANT_UNFIT);
    m = good(); /* no direction, no size */
    m->check.cell_m[BRANT_AT_MIDDLE][0] = m->check.cell_m[BRANT_AT_MIDDLE][1] = NAN;
    assert_int_equal(judge(m, "no direction"), BRANT_UNFIT);
    m = good();
    m->check.slopes = 0;
    assert_int_equal(judge(m, "no slope"), BRANT_UNFIT);
    m = good();
    m->check.high_m = m->check.low_m;
    assert_int_equal(judge(m, "one height"), BRANT_UNFIT);
    m = good();
    m->dem.unit_doubted = true;
    assert_int_equal(judge(m, "--vertical-unit"), BRANT_UNFIT);
}

static void test_voids(void **state)
{
    (void)state;
    for (int64_t voids = 9000; voids <= 9001; voids++) { /* "above 90 %" */
        model *m = good();
        m->check.voids = voids;
        assert_int_equal(judge(m, "no elevation"), voids > 9000 ? BRANT_UNFIT : BRANT_FIT);
    }
    for (int64_t count = 1; count <= 2; count++) { /* "any" */
        model *m = good();
        m->check.holes = count;
        assert_int_equal(judge(m, count == 1 ? "1 hole inside" : "2 holes inside"),
                         BRANT_FIT_WITH_CARE);
        m = good();
        m->check.undeclared = count;
        assert_int_equal(judge(m, count == 1 ? "1 cell holds" : "2 cells hold"),
                         BRANT_FIT_WITH_CARE);
    }
}

/* "above 10 %", "on cells up to 12 m", "where a 100th of the cells is steep". */
static void test_lone_steep_ground(void **state)
{
    (void)state;
    static const struct {
        int64_t steep, lone;
        double cell_m;
        brant_fitness level;
    } cases[] = {
        {100, 11, 12, BRANT_FIT_WITH_CARE},
        {100, 10, 12, BRANT_FIT},
        {99, 99, 12, BRANT_FIT}, /* too little of it */
    };
    for (size_t i = 0; i < COUNT(cases); i++) {
        model *m = good();
        m->check.steep = cases[i].steep;
        m->check.lone_steep = cases[i].lone;
        m->check.cell_m[BRANT_AT_MIDDLE][0] = cases[i].cell_m;
        assert_int_equal(judge(m, "lone cells"), cases[i].level);
    }
    model *m = good(); /* coarse: that is the only reason */
    m->check.steep = m->check.lone_steep = 5000;
    m->check.cell_m[BRANT_AT_MIDDLE][0] = 12.5;
    assert_int_equal(judge(m, "cells of"), BRANT_FIT_WITH_CARE);
}

/* The worst first, whatever they are found in. */
static void test_the_worst_first(void **state)
{
    (void)state;
    brant_context ctx;
    model *m = good();
    brant_context_init(&ctx);
    set_cell(&m->check, 20);
    set_error(&m->check, 6);
    m->check.holes = 1;
    m->check.placed = false;
    assert_int_equal(brant_check_judge(&ctx, &m->check), BRANT_OK);
    brant_context_clear(&ctx);
    static const char *const words[] = {"heights good to", "cannot be placed", "cells of",
                                        "1 hole"};
    assert_int_equal(m->check.fitness, BRANT_UNFIT);
    assert_int_equal(m->check.reasons, COUNT(words));
    for (size_t i = 0; i < COUNT(words); i++) {
        assert_non_null(strstr(m->check.reason[i].text, words[i]));
        assert_int_equal(m->check.reason[i].level, i < 2 ? BRANT_UNFIT : BRANT_FIT_WITH_CARE);
    }
    free(m);
}

/* ---- raw keys ------------------------------------------------------------ */

/* Keys and GDAL's reading that agree: EPSG:32632, areas, metres. */
static model *keyed(void)
{
    model *m = good();
    m->check.facts = (brant_dem_facts){
        .projected = true, .crs_code = 32632, .linear_unit_m = 1, .placement = 1, .unit_m = 0.3048};
    m->check.facts.keys = (brant_geokeys){
        .present = true, .raster_type = 1, .model_type = 1, .projected_type = 32632,
        .projected_linear_units = 9001, .vertical_units = 9002};
    return m;
}

/* GeoTIFF 1.0 and EPSG: RasterPixelIsArea 1, Point 2; ModelTypeProjected 1, Geographic 2;
 * 32767 user-defined; 9001 metre, 9002 foot (0.3048 m), 9003 US survey foot. */
static void test_keys(void **state)
{
    (void)state;
    assert_int_equal(judge(keyed(), ""), BRANT_FIT);
    for (int i = 0; i < 8; i++) {
        model *m = keyed();
        brant_dem_facts *f = &m->check.facts;
        switch (i) {
        case 0: f->placement = 2; break;
        case 1: f->keys.raster_type = 2; break;
        case 2: f->keys.model_type = 2; break;
        case 3: f->keys.projected_type = 32633; break;
        case 4: f->keys.projected_linear_units = 9003; break;
        case 5: f->keys.vertical_units = 9003; break;
        case 6: f->projected = false; break;
        case 7:
            f->projected = false;
            f->keys.model_type = 2;
            f->keys.geographic_type = 4258;
            f->crs_code = 4326;
            break;
        }
        assert_int_equal(judge(m, "keys"), BRANT_FIT_WITH_CARE);
    }
    for (int i = 0; i < 7; i++) { /* nothing to compare, or nothing that differs */
        model *m = keyed();
        brant_dem_facts *f = &m->check.facts;
        switch (i) {
        case 0: f->keys = (brant_geokeys){.projected_type = 32633}; break; /* not present */
        case 1: f->keys.projected_type = 32767; break;
        case 2: f->keys.projected_type = 0; break;
        case 3: f->keys.vertical_units = 9099; break; /* none of the common ones */
        case 4:
            f->keys.vertical_units = 9001; /* the user's word counts */
            f->unit_m = 0;
            break;
        case 5:
            f->keys.projected_linear_units = 9003;
            f->linear_unit_m = 0.304800609601219; /* EPSG */
            break;
        case 6: f->placement = 0; break; /* GDAL places as areas then */
        }
        assert_int_equal(judge(m, "keys"), BRANT_FIT);
    }
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(test_limits),
        cmocka_unit_test(test_what_a_cell_hides),
        cmocka_unit_test(test_what_is_not_known),
        cmocka_unit_test(test_voids),
        cmocka_unit_test(test_lone_steep_ground),
        cmocka_unit_test(test_the_worst_first),
        cmocka_unit_test(test_keys),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
