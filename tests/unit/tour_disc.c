/* Discs and rows of bits: which cells of a row a distance touches, against asking each of them;
 * rows of a plane read and added wherever they begin. */
#include "tour_scene.h"

#include "../../src/tour/place.h"
#include "../../src/tour/planes.h"

/* Of each row the cells from `first` on, and no other. */
static void check_disc(const brant_place *place, double metres)
{
    const brant_disc disc = brant_place_disc(place, metres);
    const brant_window around = brant_place_around(place, metres);
    for (int row = around.row - 2; row < around.row + around.rows + 2; row++) {
        int first, count = brant_disc_span(&disc, row, &first);
        for (int col = around.col - 2; col < around.col + around.cols + 2; col++)
            assert_int_equal(count > 0 && col >= first && col < first + count,
                             brant_place_distance(place, col, row) <= metres);
    }
}

static void test_rows_of_a_disc(void **state)
{
    /* upright, turned, sheared, long, mirrored */
    static const double cells[][4] = {
        {10, 0, 0, -10}, {6, 5, 5, -6}, {10, 4, -1, -7}, {3, 0.2, 0, -11}, {-4, 1, 2, 5}};
    unsigned seed = 3;
    (void)state;
    for (size_t i = 0; i < sizeof cells / sizeof cells[0]; i++) {
        const double transform[6] = {500000,  cells[i][0], cells[i][1],
                                     5150000, cells[i][2], cells[i][3]};
        scene s;
        scene_open(&s, 60, 60, transform);
        for (int k = 0; k < 40; k++) {
            const brant_sample at = {.col = 60 * random_unit(&seed), .row = 60 * random_unit(&seed)};
            brant_place place;
            brant_place_of(&s.meeting, &at, &place);
            check_disc(&place, 150 * random_unit(&seed));
            check_disc(&place, 0);
        }
        scene_close(&s);
    }
}

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
        cmocka_unit_test(test_rows_of_a_disc),
        cmocka_unit_test(test_rows_of_a_plane),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
