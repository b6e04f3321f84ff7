/* Remote ground: what a flood of whole words finds is what a search cell by cell finds, on
 * ground of random patches, in windows of one word a row and of several. */
#include "tour_scene.h"

#include "../../src/tour/remote.h"

#define COLS 150
#define ROWS 130

static double unit(unsigned *seed)
{
    *seed = *seed * 1664525u + 1013904223u;
    return (*seed >> 8) / 16777216.0;
}

/* Winding ground: rectangles of every steepness, of zones and of nothing. */
static void scatter(scene *s, unsigned *seed)
{
    for (size_t i = 0; i < (size_t)COLS * ROWS; i++) {
        s->field.slope[i] = unit(seed) < 0.55f ? 24 : 10;
        s->zones.square->number[i] = 0;
    }
    for (int k = 0; k < 60; k++) {
        const int col = (int)(unit(seed) * COLS), row = (int)(unit(seed) * ROWS);
        const int wide = 1 + (int)(unit(seed) * 20), high = 1 + (int)(unit(seed) * 20);
        const double what = unit(seed);
        for (int r = row; r < row + high && r < ROWS; r++)
            for (int c = col; c < col + wide && c < COLS; c++) {
                const size_t cell = scene_cell(s, c, r);
                const bool zone = what > 0.8;
                s->field.slope[cell] = what < 0.3 ? 5 : what < 0.6 ? 27 : zone ? 38 : NAN;
                s->zones.square->number[cell] = zone ? (uint32_t)k + 1 : 0;
            }
    }
}

typedef struct plain_search {
    bool seen[ROWS][COLS], found[ROWS][COLS];
    int queue[ROWS * COLS];
} plain_search;

/* By the words of brant-plan(1): release ground within the distance, connected over ground
 * steeper than 20 degrees that is within it, too. */
static void search(const scene *s, const brant_place *place, plain_search *plain)
{
    const double far = s->meeting.options.remote_m;
    int count = 0;
    memset(plain, 0, sizeof *plain);
    plain->seen[place->row][place->col] = true;
    plain->queue[count++] = place->row * COLS + place->col;
    for (int next = 0; next < count; next++)
        for (int i = 0; i < 9; i++) {
            const int row = plain->queue[next] / COLS + i / 3 - 1;
            const int col = plain->queue[next] % COLS + i % 3 - 1;
            if (row < 0 || col < 0 || row >= ROWS || col >= COLS || plain->seen[row][col] ||
                brant_place_distance(place, col, row) > far)
                continue;
            const size_t cell = scene_cell(s, col, row);
            const float slope = s->field.slope[cell];
            plain->seen[row][col] = true;
            plain->found[row][col] = slope >= 30 || s->zones.square->number[cell] > 0;
            if (slope > 20)
                plain->queue[count++] = row * COLS + col;
        }
}

static bool is_found(const brant_remote *remote, int col, int row)
{
    const brant_window *around = &remote->around;
    if (!brant_window_has(around, col, row))
        return false;
    const int at = col - around->col;
    return remote->found[(size_t)(row - around->row) * remote->words + (size_t)at / 64] >>
               at % 64 & 1;
}

static void compare(scene *s, const brant_remote *remote, const brant_place *place, bool any,
                    size_t *found)
{
    static plain_search plain;
    double nearest = INFINITY;
    uint32_t number = 0;
    bool some = false;
    search(s, place, &plain);
    for (int row = 0; row < ROWS; row++)
        for (int col = 0; col < COLS; col++) {
            const uint32_t zone = s->zones.square->number[scene_cell(s, col, row)];
            const double distance = brant_place_distance(place, col, row);
            assert_int_equal(any && is_found(remote, col, row), plain.found[row][col]);
            some |= plain.found[row][col];
            if (plain.found[row][col] && zone > 0 &&
                (distance < nearest || (distance == nearest && zone < number))) {
                nearest = distance;
                number = zone;
            }
        }
    assert_int_equal(any, some);
    *found += some;
    if (any)
        assert_int_equal(brant_remote_nearest(remote, place), number);
}

/* Cells of `cell_m`, sheared a little: 300 m are 30, 86 or 200 of them to each side. */
static void check(double cell_m, double remote_m)
{
    const double transform[6] = {500000, cell_m, 0.1 * cell_m, 5150000, 0.05 * cell_m, -cell_m};
    unsigned seed = 7;
    size_t found = 0, looked = 0;
    for (int world = 0; world < 12; world++) {
        scene s;
        brant_ground_bits bits;
        brant_remote remote;
        brant_sample samples[24];
        scene_open(&s, COLS, ROWS, transform);
        s.meeting.options.remote_m = remote_m;
        scatter(&s, &seed);
        for (int i = 0; i < 24; i++)
            samples[i] = (brant_sample){.col = unit(&seed) * COLS, .row = unit(&seed) * ROWS};
        must(&s.ctx, brant_ground_bits_of(&s.ctx, &s.meeting,
                                          &(brant_track){.samples = samples, .count = 24}, &bits));
        must(&s.ctx, brant_remote_create(&s.ctx, &bits, &remote));
        for (int i = 0; i < 24; i++, looked++) {
            brant_place place;
            bool any;
            brant_place_of(&s.meeting, &samples[i], &place);
            must(&s.ctx, brant_remote_look(&s.ctx, &remote, &place, &any));
            compare(&s, &remote, &place, any, &found);
        }
        brant_remote_clear(&remote);
        brant_ground_bits_clear(&bits);
        scene_close(&s);
    }
    assert_true(found > looked / 4 && found < looked);
}

static void test_one_word_a_row(void **state)
{
    (void)state;
    check(10, 100);
    check(10, 300);
}

static void test_several_words_a_row(void **state)
{
    (void)state;
    check(3.5, 300);
    check(1.5, 130);
}

/* ---- planes ------------------------------------------------------------- */

static void test_rows_of_a_plane(void **state)
{
    brant_context ctx;
    brant_plane plane;
    (void)state;
    brant_context_init(&ctx);
    must(&ctx, brant_plane_create(&ctx, &(brant_window){-5, 3, 150, 2}, &plane));
    for (int col = -5; col < 145; col += 7)
        brant_plane_set(&plane, col, 4);
    for (int from = -140; from < 220; from += 3)
        for (int cells = 1; cells < 140; cells += 13) {
            uint64_t row[3] = {1, 1, 1}, above[3] = {1, 1, 1};
            brant_plane_get(&plane, from, 4, cells, row);
            brant_plane_get(&plane, from, 3, cells, above);
            for (int i = 0; i < 64 * (int)brant_plane_words(cells); i++) {
                const int col = from + i;
                const bool set = i < cells && col >= -5 && col < 145 && (col + 5) % 7 == 0;
                assert_int_equal(row[i / 64] >> i % 64 & 1, set);
                assert_int_equal(above[i / 64] >> i % 64 & 1, 0);
            }
            /* what was read can be added where it lay, and nothing comes of it */
            brant_plane_add(&plane, from, 4, cells, row);
            brant_plane_add(&plane, from, 9, cells, row);
        }
    for (int col = -5; col < 145; col++)
        assert_int_equal(brant_plane_row(&plane, 4)[(col + 5) / 64] >> (col + 5) % 64 & 1,
                         (col + 5) % 7 == 0);
    const uint64_t all[3] = {~UINT64_C(0), ~UINT64_C(0), 7};
    brant_plane_add(&plane, 100, 3, 131, all);
    for (int i = 0; i < 192; i++)
        assert_int_equal(brant_plane_row(&plane, 3)[i / 64] >> i % 64 & 1, i >= 105 && i < 150);
    brant_plane_clear(&plane);
    brant_context_clear(&ctx);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(test_one_word_a_row),
        cmocka_unit_test(test_several_words_a_row),
        cmocka_unit_test(test_rows_of_a_plane),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
