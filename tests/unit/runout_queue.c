/* The search's queue against sorting: never out of order, nothing lost. */
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>
#include <cmocka.h>

#include "../../src/runout/queue.h"

#include <stdlib.h>

#define CAP 0.4663f

static uint32_t seed = 7;
static float unit_random(void)
{
    seed = seed * 1664525u + 1013904223u;
    return (float)(seed >> 8) / 16777216.0f;
}

/* Does `a` come no later than `b`? */
static bool in_order(entry a, entry b)
{
    if (a.line != b.line)
        return a.line > b.line;
    if (a.energy != b.energy)
        return a.energy > b.energy;
    return a.number < b.number;
}

/* Half of them at the cap, the others below it; some on one priority, some far below the
 * last bucket of energies. */
static entry any_entry(uint32_t index)
{
    entry e = {CAP, 2500.0f - 900.0f * unit_random(), index, 0};
    if (unit_random() < 0.5f)
        e.line = CAP * (1.0f - 0.9f * unit_random());
    if (unit_random() < 0.1f)
        e.energy = 2000.0f;
    if (unit_random() < 0.05f)
        e.energy = -30000.0f * unit_random();
    return e;
}

static void test_order(void **state)
{
    (void)state;
    brant_context ctx;
    brant_context_init(&ctx);
    queue *q = malloc(sizeof *q);
    brant_queue_init(q, CAP);
    for (int round = 0; round < 20; round++) { /* a queue serves many searches */
        brant_status status = BRANT_OK;
        uint32_t put = 0, taken = 0;
        entry last = {0}, e;
        brant_queue_begin(q);
        for (; put < 500; put++)
            assert_int_equal(brant_queue_put(&ctx, q, any_entry(put)), BRANT_OK);
        while (brant_queue_take(&ctx, q, &e, &status)) {
            assert_true(taken == 0 || in_order(last, e));
            last = e;
            taken++;
            for (int k = 0; k < 3 && put < 5000; k++) { /* what follows is never above */
                entry next = any_entry(put);
                if (!in_order(e, next))
                    next = (entry){e.line, e.energy - 0.3f * unit_random(), put, 0};
                assert_int_equal(brant_queue_put(&ctx, q, next), BRANT_OK);
                put++;
            }
        }
        assert_int_equal(status, BRANT_OK);
        assert_int_equal(taken, put);
        assert_int_equal(put, 5000);
    }
    brant_queue_clear(q);
    free(q);
    brant_context_clear(&ctx);
}

int main(void)
{
    const struct CMUnitTest tests[] = {cmocka_unit_test(test_order)};
    return cmocka_run_group_tests(tests, NULL, NULL);
}
