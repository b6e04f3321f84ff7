/* Remote triggering against a plain flood, cell by cell, on random ground: what counts is release
 * ground within the distance that touches what hangs together with the sample's cell over ground
 * steeper than 20 degrees within it (design: Words). Cells of 4 m, so that 300 m around a sample
 * are more than two words of 64 cells. */
#include "tour_scene.h"

#include "../../src/tour/remote.h"

enum { SIZE = 200, ZONES = 4 };

static const brant_danger rated[ZONES][BRANT_PERIODS] = {
    {{.level = BRANT_LEVEL_4}, {.level = BRANT_LEVEL_4}},
    {{.level = BRANT_LEVEL_2}, {.level = BRANT_LEVEL_2}},
    {{.level = BRANT_LEVEL_3}, {.level = BRANT_LEVEL_3}},
    {{.level = BRANT_LEVEL_1}, {.level = BRANT_LEVEL_4}}};

/* About half of the cells carry a fracture, in patches, so that ways are long and many end;
 * release ground here and there, of four zones, or of none. */
static void any_ground(scene *s, unsigned *seed)
{
    static const double transform[6] = {500000, 4, 0, 5150000, 0, -4};
    scene_open(s, SIZE, SIZE, transform);
    for (uint32_t zone = 1; zone <= ZONES; zone++)
        scene_zone(s, zone, 1000, 1000);
    for (int i = 0; i < SIZE * SIZE / 4; i++) {
        const int col = i % (SIZE / 2) * 2, row = i / (SIZE / 2) * 2;
        const double what = random_unit(seed);
        const uint32_t zone = (uint32_t)(random_unit(seed) * (ZONES + 1));
        const bool releases = what > 0.98;
        const float slope = releases ? 35.0f : what < 0.5 ? 10.0f : 25.0f;
        scene_patch(s, (brant_window){col, row, 2, 2}, slope, releases ? zone : 0);
    }
}

static double far_m(const scene *s)
{
    return s->meeting.day ? BRANT_REMOTE_FAR_M : s->meeting.options.remote_m;
}

/* The cells that hang together with the place's own. */
static void plain_flood(const scene *s, const brant_place *place, bool *reached)
{
    static int queue[SIZE * SIZE];
    size_t end = 0;
    memset(reached, 0, SIZE * SIZE);
    queue[end++] = place->row * SIZE + place->col;
    reached[queue[0]] = true;
    for (size_t next = 0; next < end; next++)
        for (int k = 0; k < 9; k++) {
            const int col = queue[next] % SIZE + k % 3 - 1, row = queue[next] / SIZE + k / 3 - 1;
            if (col < 0 || row < 0 || col >= SIZE || row >= SIZE || reached[row * SIZE + col] ||
                !(s->field.slope[row * SIZE + col] > 20) ||
                !brant_place_within(place, col, row, far_m(s)))
                continue;
            reached[row * SIZE + col] = true;
            queue[end++] = row * SIZE + col;
        }
}

static bool is_found(const scene *s, const brant_place *place, const bool *reached, int col,
                     int row)
{
    const uint32_t zone = brant_zone_set_at(&s->zones, col, row);
    const bool far = zone == 0 || zone == 1 || zone == 4;
    if (!(s->field.slope[row * SIZE + col] >= 30) || (col == place->col && row == place->row) ||
        !brant_place_within(place, col, row, far ? far_m(s) : s->meeting.options.remote_m))
        return false;
    for (int k = 0; k < 9; k++) {
        const int c = col + k % 3 - 1, r = row + k / 3 - 1;
        if (c >= 0 && r >= 0 && c < SIZE && r < SIZE && reached[r * SIZE + c])
            return true;
    }
    return false;
}

/* The remote ground of one place; how many cells. */
static int check_place(const scene *s, const brant_remote *remote, const brant_place *place,
                       bool any)
{
    static bool reached[SIZE * SIZE];
    const brant_window *around = &remote->around;
    double nearest = INFINITY;
    uint32_t number = 0;
    int count = 0;
    plain_flood(s, place, reached);
    for (int row = 0; row < SIZE; row++)
        for (int col = 0; col < SIZE; col++) {
            const bool expected = is_found(s, place, reached, col, row);
            const uint32_t zone = brant_zone_set_at(&s->zones, col, row);
            const double distance = brant_place_distance(place, col, row);
            count += expected;
            if (expected && zone > 0 &&
                (distance < nearest || (distance == nearest && zone < number))) {
                nearest = distance;
                number = zone;
            }
            if (!any)
                continue;
            const int c = col - around->col, r = row - around->row;
            const bool found = c >= 0 && r >= 0 && c < around->cols && r < around->rows &&
                               remote->found[(size_t)r * remote->words + (size_t)c / 64] >> c % 64 &
                                   1;
            assert_int_equal(found, expected);
        }
    assert_int_equal(any, count > 0);
    if (any)
        assert_int_equal(brant_remote_nearest(remote, place), number);
    return count;
}

static void test_against_a_plain_flood(void **state)
{
    (void)state;
    const brant_bulletin bulletin = {0};
    brant_day day = BRANT_DAY_NONE;
    unsigned seed = 21;
    int none = 0, some = 0;
    day.bulletin = &bulletin;
    day.zone_danger = rated;
    for (int round = 0; round < 6; round++) {
        brant_sample samples[20];
        brant_track track = {.samples = samples, .count = 20};
        brant_ground_bits bits;
        brant_remote remote;
        scene s;
        any_ground(&s, &seed);
        if (round < 4)
            s.meeting.day = &day;
        else
            s.meeting.options.remote_m = 126; /* 63 to 65 columns: a word, more or less */
        for (size_t i = 0; i < track.count; i++) {
            samples[i] = (brant_sample){.col = random_unit(&seed) * SIZE,
                                        .row = random_unit(&seed) * SIZE, .first = i == 0};
            if (i % 4 == 0) /* on release ground: that is not remote from itself */
                scene_patch(&s, (brant_window){(int)samples[i].col, (int)samples[i].row, 1, 1},
                            35, 1);
        }
        must(&s.ctx, brant_ground_bits_of(&s.ctx, &s.meeting, &track, &bits));
        must(&s.ctx, brant_remote_create(&s.ctx, &bits, &remote));
        for (size_t i = 0; i < track.count; i++) {
            brant_place place;
            bool any;
            brant_place_of(&s.meeting, &samples[i], &place);
            must(&s.ctx, brant_remote_look(&s.ctx, &remote, &place, &any));
            const int count = check_place(&s, &remote, &place, any);
            none += count == 0;
            some += count > 0;
        }
        brant_remote_clear(&remote);
        brant_ground_bits_clear(&bits);
        scene_close(&s);
    }
    assert_true(none > 3 && some > 20);
}

/* ---- a bit a cell ------------------------------------------------------------ */

static bool bit(const uint64_t *words, int at)
{
    return words[at / 64] >> at % 64 & 1;
}

/* Some cells of a row are set; any part of a row is got back, and put into another plane, whole
 * and with nothing beside it, whatever lies on a word's border. */
static void test_planes(void **state)
{
    (void)state;
    static const int widths[] = {1, 5, 63, 64, 65, 127, 128, 130};
    unsigned seed = 9;
    brant_context ctx;
    brant_context_init(&ctx);
    for (size_t i = 0; i < sizeof widths / sizeof *widths; i++)
        for (int round = 0; round < 200; round++) {
            const brant_window window = {-7, 3, widths[i], 2};
            const int col = -80 + (int)(random_unit(&seed) * 160);
            const int row = 2 + round % 4; /* 3 and 4 are on the plane */
            const int cells = round % 3 ? 1 + (int)(random_unit(&seed) * 200)
                                        : 64 + 64 * (int)(random_unit(&seed) * 3);
            brant_plane from, to;
            uint64_t got[5] = {0};
            must(&ctx, brant_plane_create(&ctx, &window, &from));
            must(&ctx, brant_plane_create(&ctx, &window, &to));
            for (int c = 0; c < window.cols; c++)
                if (random_unit(&seed) < 0.6)
                    brant_plane_set(&from, window.col + c, 3 + c % 2);
            brant_plane_get(&from, col, row, cells, got);
            for (int c = 0; c < 64 * 5; c++) {
                const int on = col + c - window.col;
                const bool there = c < cells && on >= 0 && on < window.cols && row >= 3 && row < 5;
                assert_int_equal(bit(got, c), there && bit(brant_plane_row(&from, row), on));
            }
            for (size_t k = 0; k < brant_plane_words(cells); k++)
                got[k] = ~UINT64_C(0); /* all of the part, and what is beyond it */
            if (cells % 64)
                got[cells / 64] = (UINT64_C(1) << cells % 64) - 1;
            brant_plane_add(&to, col, row, cells, got);
            for (int r = 3; r < 5; r++)
                for (int c = 0; c < 64 * (int)to.words; c++) {
                    const int at = window.col + c - col;
                    assert_int_equal(bit(brant_plane_row(&to, r), c),
                                     r == row && c < window.cols && at >= 0 && at < cells);
                }
            brant_plane_clear(&from);
            brant_plane_clear(&to);
        }
    brant_context_clear(&ctx);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(test_against_a_plain_flood),
        cmocka_unit_test(test_planes),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
