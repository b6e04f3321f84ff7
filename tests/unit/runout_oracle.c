/* The search against the straightforward first version (tests/bench/plain.c), on the
 * demo's mountain: all zones, down to the floor. */
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>
#include <cmocka.h>

#include "../bench/plain.h"
#include "../bench/scene.h"
#include "../../testdata/mountain.h"

#include <math.h>
#include <stdlib.h>

enum { CELLS = DEMO_CELLS * DEMO_CELLS };

static void test_against_plain(void **state)
{
    (void)state;
    static const double angles[] = {18.0, 20.0, 25.0, 30.0};
    brant_reach_options options = BRANT_REACH_OPTIONS_DEFAULT;
    brant_window all = {0, 0, DEMO_CELLS, DEMO_CELLS};
    brant_shadow ours, theirs;
    brant_reach_result result;
    brant_search *search;
    plain_search *plain;
    size_t truncated = 0;
    scene s;
    assert_true(scene_open(&s, scene_mountains(DEMO_CELLS, DEMO_CELLS), DEMO_CELLS, DEMO_CELLS));
    assert_int_equal(brant_shadow_create(&s.ctx, &all, 25.0, &ours), BRANT_OK);
    assert_int_equal(brant_shadow_create(&s.ctx, &all, 25.0, &theirs), BRANT_OK);
    assert_int_equal(brant_search_create(&s.ctx, s.flow, &options, &search), BRANT_OK);
    assert_int_equal(plain_search_create(&s.ctx, s.flow, &options, &plain), BRANT_OK);
    for (size_t i = 0; i < s.zones.count; i++) {
        const brant_start *starts = s.starts + s.first[i];
        size_t count = s.first[i + 1] - s.first[i];
        assert_int_equal(brant_search_run(&s.ctx, search, starts, count, &result), BRANT_OK);
        brant_shadow_add_at(&ours, s.zones.zones[i].number, 25.0, &result);
        bool cut = result.truncated;
        assert_int_equal(plain_search_run(&s.ctx, plain, starts, count, &result), BRANT_OK);
        brant_shadow_add_at(&theirs, s.zones.zones[i].number, 25.0, &result);
        truncated += cut != result.truncated;
    }
    for (int a = 0; a < 4; a++) {
        size_t both = 0, only_ours = 0, only_theirs = 0;
        for (size_t i = 0; i < CELLS; i++) {
            bool mine = ours.reached_at[i] >= (float)angles[a];
            bool its = theirs.reached_at[i] >= (float)angles[a];
            both += mine && its;
            only_ours += mine && !its;
            only_theirs += its && !mine;
        }
        print_message("at %.0f: %zu cells in both, %zu in ours alone, %zu in plain's alone\n",
                      angles[a], both, only_ours, only_theirs);
        assert_true(both > 100000);
        assert_true(only_theirs <= both / 1000 && only_ours <= both / 1000);
    }
    print_message("%zu of %zu zones: truncated in one alone\n", truncated, s.zones.count);
    assert_true(truncated <= s.zones.count / 200);
    brant_search_destroy(search);
    plain_search_destroy(plain);
    brant_shadow_clear(&ours);
    brant_shadow_clear(&theirs);
    scene_close(&s);
}

int main(void)
{
    const struct CMUnitTest tests[] = {cmocka_unit_test(test_against_plain)};
    return cmocka_run_group_tests(tests, NULL, NULL);
}
