/* Zones over several squares: the same whatever else is read and by however many
 * threads; faces; zones from given numbers. */
#include "terrain_world.h"

/* Two by two squares, the eastern and southern ones narrow. */
#define COLS (BRANT_SQUARE + 120)
#define ROWS (BRANT_SQUARE + 90)

static const bool all_squares[4] = {true, true, true, true};

static void open_large(world *w)
{
    const double t[6] = {560000.0, 10.0, 0.0, 5150000.0, 0.0, -10.0};
    world_open(w, "EPSG:32632", t, COLS, ROWS);
    world_lay_rough(w, 42);
}

static brant_zone_set build_set(world *w, const bool *wanted, int threads)
{
    brant_zone_set set;
    w->ctx.threads = threads;
    if (brant_zone_set_build(&w->ctx, &w->source, w->ground, wanted, &BRANT_ZONE_OPTIONS_DEFAULT,
                             &set) != BRANT_OK)
        fail_msg("%s", brant_message(&w->ctx));
    return set;
}

static size_t cells_of(const brant_zone_square *square)
{
    return (size_t)square->window.cols * (size_t)square->window.rows;
}

static void test_any_number_of_threads(void **state)
{
    world w;
    (void)state;
    open_large(&w);
    brant_zone_set one = build_set(&w, all_squares, 1);
    assert_true(one.count > 1000);
    for (int threads = 2; threads <= 5; threads += 3) {
        brant_zone_set more = build_set(&w, all_squares, threads);
        assert_int_equal(more.count, one.count);
        for (int i = 0; i < 4; i++)
            assert_memory_equal(more.square[i].number, one.square[i].number,
                                cells_of(&one.square[i]) * sizeof(uint32_t));
        for (size_t i = 0; i < one.count; i++) {
            assert_true(same_zone(&more.zones[i], &one.zones[i]));
            assert_int_equal(more.zones[i].face, one.zones[i].face);
            assert_true(more.zones[i].face_m2 == one.zones[i].face_m2);
        }
        brant_zone_set_clear(&more);
    }
    brant_zone_set_clear(&one);
    world_close(&w);
}

/* A square has the same zones alone and among its neighbours; what was not read
 * has none. */
static void test_same_whatever_is_read(void **state)
{
    world w;
    (void)state;
    open_large(&w);
    brant_zone_set whole = build_set(&w, all_squares, 2);
    for (int k = 0; k < 4; k++) {
        bool wanted[4] = {k == 0, k == 1, k == 2, k == 3};
        brant_zone_set part = build_set(&w, wanted, 1);
        assert_int_equal(part.count, whole.square[k].count);
        assert_memory_equal(part.square[k].number, whole.square[k].number,
                            cells_of(&whole.square[k]) * sizeof(uint32_t));
        for (size_t i = 0; i < part.count; i++)
            assert_true(same_zone(&part.zones[i], &whole.square[k].zones[i]));
        assert_null(part.square[(k + 1) % 4].number);
        brant_zone_set_clear(&part);
    }
    brant_zone_set_clear(&whole);
    world_close(&w);
}

static void test_numbers_tell_the_square(void **state)
{
    world w;
    (void)state;
    open_large(&w);
    brant_zone_set set = build_set(&w, all_squares, 2);
    for (int r = 0; r < ROWS; r += 3)
        for (int c = 0; c < COLS; c++) {
            uint32_t number = brant_zone_set_at(&set, c, r);
            if (number == 0)
                continue;
            uint32_t square = (uint32_t)(r / BRANT_SQUARE * 2 + c / BRANT_SQUARE);
            assert_int_equal(number / set.squares.stride, square);
            const brant_zone *zone = brant_zone_set_find(&set, number);
            assert_non_null(zone);
            assert_int_equal(zone->number, number);
            assert_true(brant_window_has(&zone->box, c, r));
        }
    assert_int_equal(brant_zone_set_at(&set, -1, 5), 0);
    assert_int_equal(brant_zone_set_at(&set, COLS, 5), 0);
    assert_int_equal(brant_zone_set_at(&set, 5, -1), 0);
    assert_int_equal(brant_zone_set_at(&set, 5, ROWS), 0);
    for (int r = -1; r <= ROWS; r += r < 0 || r == ROWS - 1 ? 1 : 10)
        for (int c = -7, n; c < COLS + 5; c += n) { /* along a row, squares' lines and all */
            n = 100;
            const uint32_t *number = brant_zone_set_along(&set, c, r, &n);
            assert_true(n > 0 && n <= 100);
            for (int i = 0; i < n; i++) {
                int k = (r >= BRANT_SQUARE) * 2 + (c + i >= BRANT_SQUARE);
                bool on = c + i >= 0 && c + i < COLS && r >= 0 && r < ROWS;
                const brant_window *of = &set.square[on ? k : 0].window;
                assert_int_equal(number != NULL, on);
                if (on)
                    assert_int_equal(number[i], set.square[k].number[(r - of->row) * of->cols + c +
                                                                     i - of->col]);
            }
        }
    assert_null(brant_zone_set_find(&set, 0));
    assert_null(brant_zone_set_find(&set, set.zones[set.count - 1].number + 1));
    brant_zone_set_clear(&set);
    world_close(&w);
}

static int octant_at(const brant_zone_set *set, int col, int row)
{
    const brant_zone *zone = brant_zone_set_find(set, brant_zone_set_at(set, col, row));
    return zone ? brant_octant(zone->aspect_deg) : -2;
}

/* Paint each patch of touching cells (corners too) whose zones face one octant with its
 * lowest zone number; every cell's zone must have that face, and its hectares. */
static void test_faces_are_touching_cells(void **state)
{
    world w;
    (void)state;
    open_large(&w);
    brant_zone_set set = build_set(&w, all_squares, 2);
    bool *seen = calloc((size_t)COLS * ROWS, sizeof *seen);
    int *stack = malloc((size_t)COLS * ROWS * sizeof *stack);
    size_t faces = 0;
    for (int start = 0; start < COLS * ROWS; start++) {
        size_t top = 0, count = 0;
        uint32_t lowest = UINT32_MAX;
        double area = 0.0;
        if (seen[start] || !brant_zone_set_at(&set, start % COLS, start / COLS))
            continue;
        seen[start] = true;
        stack[count++] = start;
        for (; top < count; top++) /* the stack keeps the patch */
            for (int k = 0; k < 9; k++) {
                int c = stack[top] % COLS + k % 3 - 1, r = stack[top] / COLS + k / 3 - 1;
                if (octant_at(&set, c, r) == octant_at(&set, start % COLS, start / COLS) &&
                    !seen[r * COLS + c]) {
                    seen[r * COLS + c] = true;
                    stack[count++] = r * COLS + c;
                }
            }
        for (size_t i = 0; i < count; i++) {
            brant_matrix m;
            uint32_t number = brant_zone_set_at(&set, stack[i] % COLS, stack[i] / COLS);
            brant_ground_matrix(w.ground, stack[i] % COLS + 0.5, stack[i] / COLS + 0.5, &m);
            area += brant_matrix_area(&m);
            lowest = number < lowest ? number : lowest;
        }
        for (size_t i = 0; i < count; i++) {
            const brant_zone *zone = brant_zone_set_find(
                &set, brant_zone_set_at(&set, stack[i] % COLS, stack[i] / COLS));
            assert_int_equal(zone->face, lowest);
            assert_true(fabs(zone->face_m2 - area) < 1e-9 * area);
        }
        faces++;
    }
    assert_true(faces > 50 && faces < set.count);
    free(seen);
    free(stack);
    brant_zone_set_clear(&set);
    world_close(&w);
}

/* A slope across a square's line: both halves are cut and one face; beside the
 * line, neither. */
static void check_strip(int from, int to, bool cut)
{
    world w;
    const double t[6] = {500000.0, 10.0, 0.0, 5150000.0, 0.0, -10.0};
    world_open(&w, "EPSG:32632", t, BRANT_SQUARE + 40, 40);
    for (int r = 0; r < 40; r++)
        for (int c = 0; c < w.grid.cols; c++) {
            double down = c < from ? 0 : c > to ? to - from : c - from;
            *world_z(&w, c, r) = (float)(2000.0 - 8.0 * down);
        }
    brant_zone_set set = build_set(&w, all_squares, 1);
    assert_int_equal(set.count, cut ? 2 : 1);
    for (size_t i = 0; i < set.count; i++) {
        assert_int_equal((set.zones[i].flags & BRANT_ZONE_CUT) != 0, cut);
        assert_int_equal(set.zones[i].face, set.zones[0].number);
    }
    assert_true(set.zones[0].face_m2 > 0.999 * 100.0 * 38.0 * (to - from - 1));
    brant_zone_set_clear(&set);
    world_close(&w);
}

static void test_cut(void **state)
{
    (void)state;
    check_strip(BRANT_SQUARE - 10, BRANT_SQUARE + 10, true);
    check_strip(BRANT_SQUARE - 21, BRANT_SQUARE - 1, false); /* to the line, not beyond */
    check_strip(BRANT_SQUARE + 1, BRANT_SQUARE + 21, false);
}

/* ---- zones from numbers ------------------------------------------------- */

static brant_status read_set(void *self, brant_context *ctx, const brant_window *window,
                             uint32_t *out)
{
    (void)ctx;
    for (int r = 0; r < window->rows; r++)
        for (int c = 0; c < window->cols; c++)
            *out++ = brant_zone_set_at(self, window->col + c, window->row + r);
    return BRANT_OK;
}

static bool near(double a, double b, double relative)
{
    return fabs(a - b) <= relative * fabs(b);
}

/* The numbers that the first stage wrote come back as the same zones. */
static void test_numbers_come_back(void **state)
{
    world w;
    (void)state;
    open_large(&w);
    brant_zone_set made = build_set(&w, all_squares, 2), read;
    w.ctx.threads = 3;
    assert_int_equal(brant_zone_set_from_numbers(&w.ctx, &w.source, w.ground, all_squares,
                                                 &BRANT_ZONE_OPTIONS_DEFAULT, read_set, &made,
                                                 &read),
                     BRANT_OK);
    assert_int_equal(read.count, made.count);
    for (size_t i = 0; i < made.count; i++) {
        assert_true(same_zone(&read.zones[i], &made.zones[i]));
        assert_int_equal(read.zones[i].face, made.zones[i].face);
        assert_true(near(read.zones[i].face_m2, made.zones[i].face_m2, 1e-12));
    }
    for (int i = 0; i < 4; i++)
        assert_memory_equal(read.square[i].number, made.square[i].number,
                            cells_of(&made.square[i]) * sizeof(uint32_t));
    brant_zone_set_clear(&made);
    brant_zone_set_clear(&read);
    world_close(&w);
}

/* A person's zone 7: columns 1020-1029, rows 10-19, over a square's line; zone 9
 * touches it by a corner, zone 8 lies apart. */
static brant_status read_drawn(void *self, brant_context *ctx, const brant_window *window,
                               uint32_t *out)
{
    (void)self;
    (void)ctx;
    for (int r = window->row; r < window->row + window->rows; r++)
        for (int c = window->col; c < window->col + window->cols; c++) {
            bool seven = c >= 1020 && c < 1030 && r >= 10 && r < 20;
            *out++ = seven                                      ? 7
                     : c >= 1030 && c < 1035 && r >= 20 && r < 25 ? 9
                     : c < 3 && r == 3                            ? 8
                                                                  : 0;
        }
    return BRANT_OK;
}

static void test_drawn_zones(void **state)
{
    plane p = {20.0, 90.0, 1000.0};
    brant_zone_set set;
    world w;
    (void)state;
    world_open_local(&w, 10.0, BRANT_SQUARE + 40, 40);
    world_lay_local(&w, plane_at, &p);
    for (int r = 9; r <= 12; r++)
        *world_z(&w, 1026, r) = NAN; /* in zone 7 */
    assert_int_equal(brant_zone_set_from_numbers(&w.ctx, &w.source, w.ground, all_squares,
                                                 &BRANT_ZONE_OPTIONS_DEFAULT, read_drawn, NULL,
                                                 &set),
                     BRANT_OK);
    assert_int_equal(set.count, 3);
    const brant_zone *seven = brant_zone_set_find(&set, 7), *eight = brant_zone_set_find(&set, 8);
    const brant_zone *nine = brant_zone_set_find(&set, 9);
    assert_non_null(seven);
    assert_int_equal(seven->cells, 100);
    assert_true(near(seven->area_m2, 10000.0, 1e-5)); /* unknown slope has an area too */
    assert_true(near(seven->mean_deg, 20.0, 1e-4));   /* and no part in the mean */
    assert_true(turn(seven->aspect_deg, 90.0) < 0.01);
    assert_true(seven->above45 == 0.0f);
    assert_int_equal(seven->flags, BRANT_ZONE_AT_VOID);
    assert_true(seven->high_col == 1020 && seven->high_row == 10);
    assert_true(seven->high_m == *world_z(&w, 1020, 10));
    assert_true(seven->low_m == *world_z(&w, 1029, 10));
    assert_true(seven->box.col == 1020 && seven->box.cols == 10 && seven->box.rows == 10);
    assert_int_equal(nine->face, 7);
    assert_true(near(nine->face_m2, 12500.0, 1e-5));
    assert_int_equal(eight->face, 8);
    assert_int_equal(eight->flags, BRANT_ZONE_AT_VOID | BRANT_ZONE_SMALL); /* at the border */
    assert_int_equal(brant_zone_set_at(&set, 1024, 15), 7);
    brant_zone_cell cells[100];
    size_t count;
    assert_int_equal(brant_zone_cells(&w.ctx, &w.source, w.ground, &set, seven, 100, cells, &count),
                     BRANT_OK);
    assert_int_equal(count, 100);
    for (size_t i = 0; i < count; i++) { /* beside a void nothing is known */
        bool beside = abs(cells[i].col - 1026) <= 1 && cells[i].row <= 13;
        assert_int_equal(isnan(cells[i].slope_deg) != 0, beside);
        assert_int_equal(isnan(cells[i].aspect_deg) != 0, beside);
    }
    brant_zone_set_clear(&set);

    /* in its western square alone */
    world_lay_local(&w, plane_at, &p);
    *world_z(&w, 1021, 15) = NAN; /* known again from 1023 on */
    assert_int_equal(brant_zone_set_from_numbers(&w.ctx, &w.source, w.ground, all_squares,
                                                 &BRANT_ZONE_OPTIONS_DEFAULT, read_drawn, NULL,
                                                 &set),
                     BRANT_OK);
    assert_int_equal(brant_zone_set_find(&set, 7)->flags, BRANT_ZONE_AT_VOID);
    brant_zone_set_clear(&set);

    /* with one square read, the zone goes on where nothing was read: cut */
    const bool western[2] = {true, false};
    assert_int_equal(brant_zone_set_from_numbers(&w.ctx, &w.source, w.ground, western,
                                                 &BRANT_ZONE_OPTIONS_DEFAULT, read_drawn, NULL,
                                                 &set),
                     BRANT_OK);
    assert_int_equal(brant_zone_set_find(&set, 7)->cells, 40);
    assert_true(brant_zone_set_find(&set, 7)->flags & BRANT_ZONE_CUT);
    assert_null(brant_zone_set_find(&set, 9));
    brant_zone_set_clear(&set);
    world_close(&w);
}

/* Pairs of drawn zones, a cell each, that meet by a side or a corner alone: in a square, over
 * the lines between squares, and (the last of them) round the corner of four. Pair i is zones
 * 2i + 1 and 2i + 2. */
static const struct {
    int col, row, other_col, other_row;
    bool cut; /* a square's line lies between */
    bool apart;
} pairs[] = {
    {100, 100, 101, 101, false, false},
    {111, 100, 110, 101, false, false},
    {120, 100, 122, 100, false, true},
    {BRANT_SQUARE - 1, 10, BRANT_SQUARE, 10, true, false},
    {BRANT_SQUARE - 1, 20, BRANT_SQUARE, 21, true, false},
    {BRANT_SQUARE, 30, BRANT_SQUARE - 1, 31, true, false},
    {BRANT_SQUARE - 1, 40, BRANT_SQUARE + 1, 40, false, true},
    {BRANT_SQUARE - 1, 50, BRANT_SQUARE, 52, false, true},
    {10, BRANT_SQUARE - 1, 10, BRANT_SQUARE, true, false},
    {20, BRANT_SQUARE - 1, 21, BRANT_SQUARE, true, false},
    {31, BRANT_SQUARE - 1, 30, BRANT_SQUARE, true, false},
    {40, BRANT_SQUARE - 1, 40, BRANT_SQUARE + 1, false, true},
    {BRANT_SQUARE - 1, BRANT_SQUARE - 1, BRANT_SQUARE, BRANT_SQUARE, true, false},
    {BRANT_SQUARE, BRANT_SQUARE - 1, BRANT_SQUARE - 1, BRANT_SQUARE, true, false},
};
enum { PAIRS = sizeof pairs / sizeof pairs[0] };

/* All pairs but the one round the corner that `self` names. */
static brant_status read_pairs(void *self, brant_context *ctx, const brant_window *window,
                               uint32_t *out)
{
    (void)ctx;
    memset(out, 0, (size_t)window->cols * (size_t)window->rows * sizeof *out);
    for (uint32_t i = 0; i < 2 * PAIRS; i++) {
        int k = (int)i / 2, col = i % 2 ? pairs[k].other_col : pairs[k].col;
        int row = i % 2 ? pairs[k].other_row : pairs[k].row;
        if (k != *(const int *)self && brant_window_has(window, col, row))
            out[(size_t)(row - window->row) * (size_t)window->cols +
                (size_t)(col - window->col)] = i + 1;
    }
    return BRANT_OK;
}

static void test_corners_touch(void **state)
{
    plane p = {30.0, 90.0, 1000.0};
    world w;
    (void)state;
    world_open_local(&w, 10.0, BRANT_SQUARE + 6, BRANT_SQUARE + 6);
    world_lay_local(&w, plane_at, &p);
    for (int without = PAIRS - 2; without < PAIRS; without++) {
        brant_zone_set set;
        assert_int_equal(brant_zone_set_from_numbers(&w.ctx, &w.source, w.ground, all_squares,
                                                     &BRANT_ZONE_OPTIONS_DEFAULT, read_pairs,
                                                     &without, &set),
                         BRANT_OK);
        assert_int_equal(set.count, 2 * (PAIRS - 1));
        for (int k = 0; k < PAIRS; k++) {
            const uint32_t first = 2 * (uint32_t)k + 1;
            const brant_zone *a = brant_zone_set_find(&set, first);
            const brant_zone *b = brant_zone_set_find(&set, first + 1);
            assert_true((a != NULL) == (k != without) && (b != NULL) == (k != without));
            if (k == without)
                continue;
            assert_int_equal(a->face, first);
            assert_int_equal(b->face, pairs[k].apart ? first + 1 : first);
            assert_true(near(a->face_m2, pairs[k].apart ? 100 : 200, 1e-5));
            assert_true(near(b->face_m2, pairs[k].apart ? 100 : 200, 1e-5));
            assert_int_equal((a->flags & BRANT_ZONE_CUT) != 0, pairs[k].cut);
            assert_int_equal((b->flags & BRANT_ZONE_CUT) != 0, pairs[k].cut);
        }
        brant_zone_set_clear(&set);
    }
    world_close(&w);
}

/* A void at (20, 20) and one at (60, 20); around the first eight zones of a cell two cells away,
 * whose own slope is known and a neighbour's is not, around the other three cells away. */
static brant_status read_around(void *self, brant_context *ctx, const brant_window *window,
                                uint32_t *out)
{
    (void)self;
    (void)ctx;
    memset(out, 0, (size_t)window->cols * (size_t)window->rows * sizeof *out);
    for (int k = 0; k < 18; k++) {
        int far = k < 9 ? 2 : 3, col = (k < 9 ? 20 : 60) + (k % 3 - 1) * far;
        int row = 20 + (k % 9 / 3 - 1) * far;
        if (k % 9 != 4 && brant_window_has(window, col, row))
            out[(row - window->row) * window->cols + col - window->col] = (uint32_t)k + 1;
    }
    return BRANT_OK;
}

static void test_at_a_void(void **state)
{
    plane p = {30.0, 90.0, 1000.0};
    brant_zone_set set;
    world w;
    (void)state;
    world_open_local(&w, 10.0, 80, 40);
    world_lay_local(&w, plane_at, &p);
    *world_z(&w, 20, 20) = *world_z(&w, 60, 20) = NAN;
    assert_int_equal(brant_zone_set_from_numbers(&w.ctx, &w.source, w.ground, all_squares,
                                                 &BRANT_ZONE_OPTIONS_DEFAULT, read_around, NULL,
                                                 &set),
                     BRANT_OK);
    assert_int_equal(set.count, 16);
    for (size_t i = 0; i < set.count; i++) {
        assert_true(near(set.zones[i].mean_deg, 30.0, 1e-4));
        assert_int_equal((set.zones[i].flags & BRANT_ZONE_AT_VOID) != 0, set.zones[i].number <= 9);
    }
    brant_zone_set_clear(&set);
    world_close(&w);
}

/* No slope known anywhere in a zone: its figures are unknown, not 0, and its
 * place is its first cell. */
static void test_drawn_on_void(void **state)
{
    brant_zone_set set;
    world w;
    (void)state;
    world_open_local(&w, 10.0, BRANT_SQUARE + 40, 40);
    for (int i = 0; i < (BRANT_SQUARE + 40) * 40; i++)
        w.z[i] = NAN;
    assert_int_equal(brant_zone_set_from_numbers(&w.ctx, &w.source, w.ground, all_squares,
                                                 &BRANT_ZONE_OPTIONS_DEFAULT, read_drawn, NULL,
                                                 &set),
                     BRANT_OK);
    assert_int_equal(set.count, 3); /* 7, 8, 9 */
    for (size_t i = 0; i < set.count; i++) {
        static const int cells[] = {100, 3, 25}, cols[] = {1020, 0, 1030}, rows[] = {10, 3, 20};
        const brant_zone *zone = &set.zones[i];
        assert_int_equal(zone->cells, cells[i]);
        assert_true(isnan(zone->mean_deg) && isnan(zone->steepest_deg));
        assert_true(isnan(zone->low_m) && isnan(zone->high_m));
        assert_true(isnan(zone->above45) && isnan(zone->aspect_deg));
        assert_true(zone->high_col == cols[i] && zone->high_row == rows[i]);
    }
    brant_zone_set_clear(&set);
    world_close(&w);
}

/* A source that fails leaves its message and no set. */
static brant_status read_badly(brant_source *source, brant_context *ctx,
                               const brant_window *window, float *out)
{
    (void)source;
    (void)window;
    (void)out;
    return brant_fail(ctx, BRANT_ERR_IO, "test.tif: read failed");
}

static void test_failure_leaves_nothing(void **state)
{
    brant_zone_set set;
    world w;
    (void)state;
    world_open_local(&w, 10.0, 40, 40);
    w.source.read = read_badly;
    assert_int_equal(brant_zone_set_build(&w.ctx, &w.source, w.ground, all_squares,
                                          &BRANT_ZONE_OPTIONS_DEFAULT, &set),
                     BRANT_ERR_IO);
    assert_string_equal(brant_message(&w.ctx), "test.tif: read failed");
    assert_null(set.zones);
    assert_null(set.square);
    world_close(&w);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(test_any_number_of_threads),
        cmocka_unit_test(test_same_whatever_is_read),
        cmocka_unit_test(test_numbers_tell_the_square),
        cmocka_unit_test(test_faces_are_touching_cells),
        cmocka_unit_test(test_cut),
        cmocka_unit_test(test_numbers_come_back),
        cmocka_unit_test(test_drawn_zones),
        cmocka_unit_test(test_corners_touch),
        cmocka_unit_test(test_at_a_void),
        cmocka_unit_test(test_drawn_on_void),
        cmocka_unit_test(test_failure_leaves_nothing),
    };
    return cmocka_run_group_tests_name("terrain_zone_set", tests, NULL, NULL);
}
