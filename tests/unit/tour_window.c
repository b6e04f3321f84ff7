/* A plan reads a part of the grid only. What a route meets does not depend on which, as long as
 * all around the route is in it. */
#include "tour_scene.h"

#include "../../src/tour/ground_bits.h"

enum { SIZE = 100, PATCHES = 12, HITS = 400 };

static int pick(unsigned *seed, int from, int end)
{
    return from + (int)(random_unit(seed) * (end - from));
}

static int by_cell(const void *a, const void *b)
{
    const brant_hit *x = a, *y = b;
    if (x->row != y->row)
        return x->row < y->row ? -1 : 1;
    return x->col != y->col ? (x->col > y->col) - (x->col < y->col) : (int)x->zone - (int)y->zone;
}

/* Patches of any steepness, some of them zones, some void; and zones that reach cells. */
static void any_ground(scene *s, unsigned *seed, brant_hit *hits)
{
    uint32_t zones = 0;
    scene_open(s, SIZE, SIZE, NULL);
    for (int i = 0; i < PATCHES; i++) {
        brant_window patch = {pick(seed, 0, 90), pick(seed, 0, 90), pick(seed, 1, 16),
                              pick(seed, 1, 16)};
        patch = brant_window_clip(patch, SIZE, SIZE);
        if (i % 4 == 0)
            scene_zone(s, ++zones, 1000 * i + 1000, 1000 * i + 1000);
        scene_patch(s, patch, (float)pick(seed, 15, 50), i % 4 == 0 ? zones : 0);
    }
    scene_void(s, (brant_window){pick(seed, 5, 95), pick(seed, 5, 95), 2, 1});
    for (int i = 0; i < HITS; i++) {
        const uint32_t zone = (uint32_t)pick(seed, 1, (int)zones + 1);
        hits[i] = (brant_hit){pick(seed, 0, SIZE), pick(seed, 0, SIZE), zone,
                              (float)pick(seed, 18, 34), 1};
        size_t cell = scene_cell(s, hits[i].col, hits[i].row);
        s->reached_at[cell] = fmaxf(s->reached_at[cell], hits[i].reached_at_deg);
        s->zones_above[cell] += hits[i].reached_at_deg >= 25;
        s->unknown[cell] = i % 40 == 0;
    }
    qsort(hits, HITS, sizeof *hits, by_cell);
    s->meeting.hits = hits;
    s->meeting.hit_count = HITS;
}

static void *part_of(void *whole, size_t size, const brant_window *w)
{
    char *part = must_have(malloc((size_t)w->cols * (size_t)w->rows * size));
    for (int row = 0; row < w->rows; row++)
        memcpy(part + (size_t)row * (size_t)w->cols * size,
               (char *)whole + ((size_t)(row + w->row) * SIZE + (size_t)w->col) * size,
               (size_t)w->cols * size);
    free(whole);
    return part;
}

/* Nothing is held of the ground outside `w` from now on, but for zones. */
static void cut_to(scene *s, const brant_window *w)
{
    s->field.window = *w;
    s->field.elevation = part_of(s->field.elevation, sizeof(float), w);
    s->field.slope = part_of(s->field.slope, sizeof(float), w);
    s->field.aspect = part_of(s->field.aspect, sizeof(float), w);
    s->meeting.reached_at = s->reached_at = part_of(s->reached_at, sizeof(float), w);
    s->meeting.zones_above = s->zones_above = part_of(s->zones_above, sizeof(uint16_t), w);
    s->meeting.unknown_above = s->unknown = part_of(s->unknown, 1, w);
}

static void walk(scene *s, const double (*at)[2], brant_tour *tour)
{
    brant_track track;
    scene_track(s, at, 4, 5, &track);
    scene_tour(s, &track, tour);
}

static void check_same(const brant_tour *a, const brant_tour *b)
{
    assert_int_equal(a->track.count, b->track.count);
    for (size_t i = 0; i < a->track.count; i++) {
        const brant_fact *x = &a->facts[i], *y = &b->facts[i];
        assert_int_equal(x->is, y->is);
        assert_int_equal(x->kind, y->kind);
        assert_int_equal(x->zone, y->zone);
        assert_true(x->first_hit == y->first_hit && x->hits == y->hits);
        assert_memory_equal(&x->elevation_m, &y->elevation_m, sizeof x->elevation_m);
        assert_memory_equal(&x->slope_deg, &y->slope_deg, sizeof x->slope_deg);
    }
    assert_int_equal(a->leg_count, b->leg_count);
    assert_int_equal(a->above_count, b->above_count);
    for (size_t i = 0; i < a->above_count; i++) {
        const brant_above *x = &a->above[i], *y = &b->above[i];
        assert_int_equal(x->zone->number, y->zone->number);
        assert_true(x->leg == y->leg && x->on == y->on && x->edge == y->edge);
        assert_true(x->remote == y->remote && x->reached_at_deg == y->reached_at_deg);
    }
    assert_int_equal(a->wait_count, b->wait_count);
    for (size_t i = 0; i < a->wait_count; i++)
        assert_int_equal(a->waits[i].sample, b->waits[i].sample);
}

/* 12 cells are 120 m: the widest that is looked at around a sample is 100 m. */
static void test_part_of_the_grid(void **state)
{
    (void)state;
    static brant_hit hits[HITS];
    unsigned seed = 11;
    size_t waits = 0;
    int kinds[BRANT_KINDS] = {0};
    for (int round = 0; round < 30; round++) {
        const int c = pick(&seed, 15, 40), r = pick(&seed, 15, 40);
        const brant_window part = {c - 12, r - 12, 64, 54};
        const double at[4][2] = {{c, r}, {c + 40, r}, {c + 40, r + 30}, {c, r + 30}};
        brant_tour whole, of_part;
        scene s;
        any_ground(&s, &seed, hits);
        walk(&s, at, &whole);
        cut_to(&s, &part);
        walk(&s, at, &of_part);
        check_same(&whole, &of_part);
        for (size_t i = 0; i < whole.leg_count; i++)
            kinds[whole.legs[i].kind]++;
        waits += whole.wait_count;
        brant_tour_clear(&whole);
        brant_tour_clear(&of_part);
        scene_close(&s);
    }
    for (int kind = 0; kind < BRANT_KINDS; kind++)
        assert_true(kinds[kind] > 0);
    assert_true(waits > 0);
}

/* A square whose zones were not read, or that has none, has no release ground but what is
 * steep. */
static void test_square_without_numbers(void **state)
{
    (void)state;
    scene s;
    scene_open(&s, SIZE, SIZE, NULL);
    free(s.zones.square->number);
    s.zones.square->number = NULL;
    s.field.slope[scene_cell(&s, 50, 50)] = 35;
    assert_int_equal(scene_look(&s, 50.5, 50.5).kind, BRANT_KIND_CROSSES);
    assert_int_equal(scene_look(&s, 52.5, 50.5).kind, BRANT_KIND_EDGE);
    assert_int_equal(scene_look(&s, 54.5, 50.5).kind, BRANT_KIND_NONE_FOUND);
    scene_close(&s);
}

/* Cell by cell: what is kept says what a look says, near the route and far.
 * Release ground of level 4 counts from afar, and so does what belongs to no zone. */
static void test_bits(void **state)
{
    (void)state;
    static brant_hit hits[HITS];
    static const brant_danger rated[3][BRANT_PERIODS] = {
        {{.level = BRANT_LEVEL_4}, {.level = BRANT_LEVEL_4}},
        {{.level = BRANT_LEVEL_2}, {.level = BRANT_LEVEL_2}},
        {{.level = BRANT_LEVEL_3}, {.level = BRANT_LEVEL_3}}};
    const brant_bulletin bulletin = {0};
    brant_day day = BRANT_DAY_NONE;
    unsigned seed = 4, seen = 0;
    day.bulletin = &bulletin;
    day.zone_danger = rated;
    for (int round = 0; round < 10; round++) {
        const double at[2][2] = {{40, 20}, {55, 25}}; /* near the part's border */
        const brant_window part = {10, 4, 80, 90};
        brant_ground_bits bits;
        brant_track track;
        scene s;
        any_ground(&s, &seed, hits);
        cut_to(&s, &part);
        s.meeting.day = &day;
        scene_track(&s, at, 2, 5, &track);
        must(&s.ctx, brant_ground_bits_of(&s.ctx, &s.meeting, &track, &bits));
        const brant_window held = brant_window_common(&bits.window, &part);
        assert_memory_equal(&held, &bits.window, sizeof held);
        assert_true(held.cols > 30 && held.rows > 30);
        for (int i = 0; i < 4000; i++) {
            const int col = pick(&seed, -5, SIZE + 5), row = pick(&seed, -5, SIZE + 5);
            const uint32_t zone = brant_zone_set_at(&s.zones, col, row);
            unsigned is = brant_ground_bits_look(&bits, col, row);
            assert_int_equal(brant_ground_bits_at(&bits, col, row), is);
            if (is & BRANT_GROUND_RELEASE)
                assert_int_equal(!!(is & BRANT_GROUND_FAR), zone < 2);
            seen |= is;
        }
        brant_ground_bits_clear(&bits);
        brant_track_clear(&track);
        scene_close(&s);
    }
    assert_int_equal(seen, BRANT_GROUND_UNKNOWN | BRANT_GROUND_RELEASE | BRANT_GROUND_STEEP |
                               BRANT_GROUND_FAR);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(test_part_of_the_grid),
        cmocka_unit_test(test_square_without_numbers),
        cmocka_unit_test(test_bits),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
