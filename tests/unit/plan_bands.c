/* Elevations band after band: the same cells as read at once, however the file is cut. */
#include "../../src/plan/bands.h"

#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>

#include <cmocka.h>

#include <math.h>
#include <stdlib.h>

enum { COLS = 700, ROWS = 1300 };

/* A source that counts how often each of its cells is read. */
typedef struct counted {
    brant_source array;
    float *z;
    atomic_uchar *times;
} counted;

static brant_status read_counted(brant_source *source, brant_context *ctx,
                                 const brant_window *window, float *out)
{
    counted *c = source->self;
    brant_window on = brant_window_clip(*window, COLS, ROWS);
    for (int row = on.row; row < on.row + on.rows; row++)
        for (int col = on.col; col < on.col + on.cols; col++)
            atomic_fetch_add(&c->times[row * COLS + col], 1);
    return c->array.read(&c->array, ctx, window, out);
}

static int make(void **state)
{
    counted *c = calloc(1, sizeof *c);
    c->z = malloc(sizeof *c->z * COLS * ROWS);
    c->times = calloc((size_t)COLS * ROWS, sizeof *c->times);
    for (int i = 0; i < COLS * ROWS; i++)
        c->z[i] = (float)i;
    brant_source_array(&c->array, c->z, COLS, ROWS);
    *state = c;
    return 0;
}

static int unmake(void **state)
{
    counted *c = *state;
    free(c->z);
    free(c->times);
    free(c);
    return 0;
}

static void compare(const counted *c, const brant_window *w, int row, int col, int n,
                    const float *got)
{
    for (int i = 0; i < n; i++) {
        int r = w->row + row, k = w->col + col + i;
        bool on = r >= 0 && r < ROWS && k >= 0 && k < COLS;
        if (on ? got[i] != c->z[r * COLS + k] : !isnan(got[i]))
            fail_msg("row %d, col %d: %g", r, k, (double)got[i]);
    }
}

/* What can be asked for at the moment: a band, or a span of it. */
static void compare_span(const counted *c, const brant_window *w, const brant_bands *b, int first)
{
    float got[COLS + 2];
    int end = b->col + b->cols;
    for (int row = -1; row <= BRANT_BLOCK && first + row <= w->rows; row++) {
        brant_bands_row(b, row, b->col - 1, b->cols + 2, got); /* a whole row */
        compare(c, w, first + row, b->col - 1, b->cols + 2, got);
        for (int col = b->col; col < end; col += 256) { /* and as blocks want it */
            int n = end - col < 256 ? end - col : 256;
            brant_bands_row(b, row, col - 1, n + 2, got);
            compare(c, w, first + row, col - 1, n + 2, got);
        }
    }
}

/* `most`: how often a cell may be read. */
static void check(counted *c, brant_window w, int block_cols, int block_rows, int threads,
                  size_t budget, int most)
{
    brant_context ctx;
    brant_bands b;
    brant_dem dem = {.source = {COLS, ROWS, read_counted, c},
                     .block_cols = block_cols, .block_rows = block_rows};
    brant_context_init(&ctx);
    ctx.threads = threads;
    for (int i = 0; i < COLS * ROWS; i++)
        atomic_store(&c->times[i], 0);
    assert_int_equal(brant_bands_open(&ctx, &dem, &w, budget, &b), BRANT_OK);
    for (int first = 0; first < w.rows; first += BRANT_BLOCK)
        for (int col = 0; col < w.cols; col += b.cols) {
            assert_int_equal(brant_bands_next(&ctx, &b), BRANT_OK);
            assert_int_equal(b.col, col);
            compare_span(c, &w, &b, first);
        }
    for (int i = 0; i < COLS * ROWS; i++)
        if (atomic_load(&c->times[i]) > most)
            fail_msg("cell %d was read %d times", i, (int)atomic_load(&c->times[i]));
    brant_bands_close(&b);
    brant_context_clear(&ctx);
}

static void check_shapes(counted *c, size_t budget, int most)
{
    static const int blocks[][2] = {{256, 256}, {128, 128}, {512, 512}, {700, 1},   {700, 7},
                                    {700, 600}, {700, 1300}, {100, 64}, {1024, 300}, {1, 1},
                                    {0, 0}};
    static const brant_window windows[] = {
        {0, 0, COLS, ROWS}, {37, 41, 600, 530}, {0, 0, 256, 256}, {5, 5, 257, 512}, {10, 20, 1, 1},
        {-3, -2, COLS, 300}};
    for (size_t i = 0; i < sizeof blocks / sizeof *blocks; i++)
        for (size_t k = most == 1 ? 0 : i % 4; k < sizeof windows / sizeof *windows;
             k += most == 1 ? 1 : 4)
            check(c, windows[k], blocks[i][0], blocks[i][1], 1 + (int)(i + k) % 3, budget, most);
}

static void each_cell_is_read_once_and_in_its_place(void **state)
{
    check_shapes(*state, BRANT_BANDS_BUDGET, 1);
}

/* A band and the first row of the next one; then bands in spans of 512 and 256 columns, whose
 * margins are read for both sides. */
static void and_in_its_place_where_less_is_held(void **state)
{
    check_shapes(*state, (size_t)BRANT_BLOCK * COLS * sizeof(float), 2);
    check_shapes(*state, (size_t)BRANT_BLOCK * 600 * sizeof(float), 4);
    check_shapes(*state, (size_t)BRANT_BLOCK * BRANT_BLOCK * sizeof(float), 4);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test_setup_teardown(each_cell_is_read_once_and_in_its_place, make, unmake),
        cmocka_unit_test_setup_teardown(and_in_its_place_where_less_is_held, make, unmake),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
