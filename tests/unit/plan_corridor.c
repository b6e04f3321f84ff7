/* A plan reads and searches only what can matter to its window. What it leaves out must
 * not matter: over the window its shadow is that of the whole model, to the bit. */
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>
#include <cmocka.h>

#include "plan_whole.h"

#include <stdio.h>
#include <stdlib.h>
#include <string.h>

typedef struct demo {
    brant_context ctx;
    brant_dem dem;
    brant_gpx gpx;
} demo;

static void open_demo(demo *d)
{
    const char *folder = getenv("BRANT_TESTDATA");
    brant_dem_options options = {0};
    char path[4096];
    char *text;
    size_t size;
    assert_non_null(folder);
    brant_context_init(&d->ctx);
    d->ctx.threads = 2;
    snprintf(path, sizeof path, "%s/quern.tif", folder);
    assert_int_equal(brant_dem_open(&d->ctx, path, &options, &d->dem), BRANT_OK);
    snprintf(path, sizeof path, "%s/quern.gpx", folder);
    assert_int_equal(brant_read_file(&d->ctx, path, 1 << 20, &text, &size), BRANT_OK);
    assert_int_equal(brant_gpx_parse(&d->ctx, "quern.gpx", text, size, &d->gpx), BRANT_OK);
    free(text);
}

static void close_demo(demo *d)
{
    brant_gpx_clear(&d->gpx);
    brant_dem_close(&d->dem);
    brant_context_clear(&d->ctx);
}

static void run(demo *d, double margin_m, bool everywhere, brant_plan *plan)
{
    brant_plan_request request = {.dem = &d->dem, .gpx = &d->gpx, .gpx_name = "quern.gpx",
                                  .zone = BRANT_ZONE_OPTIONS_DEFAULT,
                                  .reach = BRANT_REACH_OPTIONS_DEFAULT,
                                  .meet = BRANT_MEET_OPTIONS_DEFAULT,
                                  .void_rise_m = BRANT_VOID_RISE, .map_margin_m = margin_m,
                                  .shadow_everywhere = everywhere};
    if (brant_plan_run(&d->ctx, &request, plan) != BRANT_OK)
        fail_msg("%s", brant_message(&d->ctx));
}

static void test_window_equals_whole(void **state)
{
    (void)state;
    demo d;
    brant_plan plan;
    brant_zone_set zones;
    brant_shadow whole;
    bool wanted[] = {true};
    brant_zone_options zone = BRANT_ZONE_OPTIONS_DEFAULT;
    brant_reach_options reach = BRANT_REACH_OPTIONS_DEFAULT;
    open_demo(&d);
    assert_true(d.dem.grid.cols <= BRANT_SQUARE && d.dem.grid.rows <= BRANT_SQUARE);
    run(&d, 200.0, true, &plan);
    assert_int_equal(brant_zone_set_build(&d.ctx, &d.dem.source, d.dem.ground, wanted, &zone,
                                          &zones), BRANT_OK);
    whole_shadow(&d.ctx, &d.dem, &zones, &reach, BRANT_VOID_RISE, &whole);
    assert_true(plan.zones_searched < zones.count); /* it did leave something out */
    const brant_window *w = &plan.window;
    assert_true(w->cols < d.dem.grid.cols || w->rows < d.dem.grid.rows);
    for (int r = 0; r < w->rows; r++) {
        size_t here = (size_t)r * (size_t)w->cols, cols = (size_t)w->cols;
        size_t there = (size_t)(w->row + r) * (size_t)d.dem.grid.cols + (size_t)w->col;
        assert_memory_equal(plan.shadow.reached_at + here, whole.reached_at + there,
                            cols * sizeof(float));
        assert_memory_equal(plan.shadow.head + here, whole.head + there, cols * sizeof(float));
        assert_memory_equal(plan.shadow.zone + here, whole.zone + there, cols * sizeof(uint32_t));
        assert_memory_equal(plan.shadow.zones_above + here, whole.zones_above + there,
                            cols * sizeof(uint16_t));
        assert_memory_equal(plan.shadow.unknown_above + here, whole.unknown_above + there, cols);
    }
    brant_shadow_clear(&whole);
    brant_zone_set_clear(&zones);
    brant_plan_clear(&plan);
    close_demo(&d);
}

/* The legs do not depend on how much around the route is looked at. */
static void test_legs_need_no_map(void **state)
{
    (void)state;
    demo d;
    brant_plan narrow, wide;
    open_demo(&d);
    run(&d, 0.0, false, &narrow);
    run(&d, 800.0, true, &wide);
    assert_true(narrow.zones_searched < wide.zones_searched);
    assert_int_equal(narrow.tour_count, wide.tour_count);
    for (size_t t = 0; t < narrow.tour_count; t++) {
        const brant_tour *a = &narrow.tours[t], *b = &wide.tours[t];
        assert_int_equal(a->leg_count, b->leg_count);
        assert_int_equal(a->above_count, b->above_count);
        for (size_t i = 0; i < a->leg_count; i++) {
            assert_int_equal(a->legs[i].kind, b->legs[i].kind);
            assert_int_equal(a->legs[i].is, b->legs[i].is);
            assert_true(a->legs[i].from_m == b->legs[i].from_m);
            assert_true(a->legs[i].reached_at_deg == b->legs[i].reached_at_deg);
            assert_true(a->legs[i].area_above_m2 == b->legs[i].area_above_m2);
        }
        for (size_t i = 0; i < a->above_count; i++)
            assert_int_equal(a->above[i].zone->number, b->above[i].zone->number);
    }
    brant_plan_clear(&narrow);
    brant_plan_clear(&wide);
    close_demo(&d);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(test_window_equals_whole),
        cmocka_unit_test(test_legs_need_no_map),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
