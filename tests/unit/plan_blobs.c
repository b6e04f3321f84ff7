/* Patches counted row by row against a flood fill of the whole. */
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>

#include <cmocka.h>

#include "../../src/plan/blobs.h"

#include <stdlib.h>
#include <string.h>

enum { COLS = 37, ROWS = 41, CELLS = COLS * ROWS };

typedef struct tally {
    int64_t patches, cells, largest, inner;
} tally;

static void count(void *self, const brant_blob *blob)
{
    tally *t = self;
    t->patches++;
    t->cells += blob->cells;
    t->inner += !blob->at_border;
    t->largest = blob->cells > t->largest ? blob->cells : t->largest;
}

static tally by_rows(const uint8_t *in, int cols, int rows)
{
    tally t = {0};
    brant_context ctx;
    brant_blobs blobs;
    brant_context_init(&ctx);
    assert_int_equal(brant_blobs_begin(&ctx, &blobs, cols, rows, count, &t), BRANT_OK);
    for (int row = 0; row < rows; row++)
        brant_blobs_row(&blobs, in + row * cols);
    brant_blobs_clear(&blobs);
    brant_context_clear(&ctx);
    return t;
}

/* Takes the patch at `at` out of `left`. */
static void flood(uint8_t *left, int at, brant_blob *blob)
{
    int col = at % COLS, row = at / COLS;
    left[at] = 0;
    blob->cells++;
    blob->at_border |= col == 0 || row == 0 || col == COLS - 1 || row == ROWS - 1;
    for (int r = row - 1; r <= row + 1; r++)
        for (int c = col - 1; c <= col + 1; c++)
            if (r >= 0 && r < ROWS && c >= 0 && c < COLS && left[r * COLS + c])
                flood(left, r * COLS + c, blob);
}

static void rows_agree_with_a_flood(void **state)
{
    uint64_t seed = 3;
    (void)state;
    for (int trial = 0; trial < 400; trial++) {
        uint8_t in[CELLS], left[CELLS];
        tally expected = {0};
        for (int i = 0; i < CELLS; i++) {
            seed = seed * 6364136223846793005u + 1442695040888963407u; /* Knuth, TAOCP 3.3.4 */
            in[i] = (int)(seed >> 57) < 10 + trial % 100;
        }
        memcpy(left, in, sizeof in);
        for (int i = 0; i < CELLS; i++)
            if (left[i]) {
                brant_blob blob = {0, false};
                flood(left, i, &blob);
                count(&expected, &blob);
            }
        tally t = by_rows(in, COLS, ROWS);
        assert_memory_equal(&t, &expected, sizeof t);
    }
}

static void shapes(void **state)
{
    static const uint8_t ring[] = {0, 1, 1, 1, 0,  1, 0, 0, 0, 1,  0, 1, 0, 1, 0,  0, 0, 1, 0, 0};
    static const uint8_t one[] = {1};
    static const uint8_t inner[] = {0, 0, 0, 0,  0, 1, 1, 0,  0, 0, 0, 0};
    (void)state;
    tally t = by_rows(ring, 5, 4);
    assert_int_equal(t.patches, 1);
    assert_int_equal(t.cells, 8);
    t = by_rows(one, 1, 1);
    assert_int_equal(t.patches, 1);
    assert_int_equal(t.inner, 0);
    t = by_rows(inner, 4, 3);
    assert_int_equal(t.inner, 1);
    assert_int_equal(t.largest, 2);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(rows_agree_with_a_flood),
        cmocka_unit_test(shapes),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
