/* The zones of a square: what they promise, on rough ground and on surfaces whose
 * zones are known. Rules: the project's own words for zones (terrain.h); there
 * is no outside source for them, so they are checked against a plain, slow
 * reading of the same rules and against geometry. */
#include "terrain_world.h"

/* ---- rough ground ------------------------------------------------------- */

#define SIDE 180

static void open_rough(world *w, uint64_t seed)
{
    world_open_local(w, 10.0, SIDE, SIDE);
    world_lay_rough(w, seed);
}

static uint32_t number_at(const brant_zone_square *square, int col, int row)
{
    if (!brant_window_has(&square->window, col, row))
        return 0;
    return square->number[(row - square->window.row) * square->window.cols + col -
                          square->window.col];
}

/* Every release cell is in a zone, no other cell is, and the areas add up. */
static void test_release_ground_complete(void **state)
{
    world w;
    double release = 0.0, zones = 0.0;
    (void)state;
    open_rough(&w, 1);
    brant_field f = world_field(&w, false);
    brant_zone_square s = world_square(&w, 0, &BRANT_ZONE_OPTIONS_DEFAULT);
    for (int i = 0; i < SIDE * SIDE; i++) {
        brant_matrix m;
        brant_ground_matrix(w.ground, i % SIDE + 0.5, i / SIDE + 0.5, &m);
        assert_int_equal(s.number[i] != 0, f.slope[i] >= 30.0f);
        release += f.slope[i] >= 30.0f ? brant_matrix_area(&m) : 0.0;
    }
    for (size_t i = 0; i < s.count; i++)
        zones += s.zones[i].area_m2;
    assert_true(s.count > 20 && release > 0.2 * SIDE * SIDE * 100.0);
    assert_true(fabs(zones - release) < 1e-9 * release);
    brant_zone_square_clear(&s);
    brant_field_clear(&f);
    world_close(&w);
}

/* From the lower limit on (design: Words): a cell exactly as steep as that releases. */
static void test_lower_limit_releases(void **state)
{
    world w;
    (void)state;
    open_rough(&w, 1);
    brant_field f = world_field(&w, false);
    for (int at = SIDE * 40 + 10; at < SIDE * 41 - 10; at += 17) {
        brant_zone_options options = BRANT_ZONE_OPTIONS_DEFAULT;
        options.band.low = f.slope[at];
        brant_zone_square s = world_square(&w, 0, &options);
        assert_true(s.number[at] != 0);
        for (int i = 0; i < SIDE * SIDE; i++)
            assert_int_equal(s.number[i] != 0, f.slope[i] >= f.slope[at]);
        brant_zone_square_clear(&s);
    }
    brant_field_clear(&f);
    world_close(&w);
}

/* Cells of `number` that are connected, side by side, with the cell `at`. */
static uint32_t flood(const brant_zone_square *s, int at, uint32_t number)
{
    static int stack[4 * SIDE * SIDE];
    static bool seen[SIDE * SIDE];
    uint32_t count = 0;
    size_t top = 0;
    memset(seen, 0, sizeof seen);
    stack[top++] = at;
    while (top > 0) {
        int cell = stack[--top], c = cell % SIDE, r = cell / SIDE;
        if (seen[cell] || s->number[cell] != number)
            continue;
        seen[cell] = true;
        count++;
        if (c > 0)
            stack[top++] = cell - 1;
        if (c < SIDE - 1)
            stack[top++] = cell + 1;
        if (r > 0)
            stack[top++] = cell - SIDE;
        if (r < SIDE - 1)
            stack[top++] = cell + SIDE;
    }
    return count;
}

/* Zones are connected and numbered from 1 by their first cells. */
static void test_connected_and_in_order(void **state)
{
    world w;
    uint32_t next = 1;
    (void)state;
    open_rough(&w, 2);
    brant_zone_options options = BRANT_ZONE_OPTIONS_DEFAULT;
    options.max_area_m2 = 10000.0;
    brant_zone_square s = world_square(&w, 0, &options);
    for (int i = 0; i < SIDE * SIDE; i++)
        if (s.number[i] >= next) {
            assert_int_equal(s.number[i], next);
            assert_int_equal(s.zones[next - 1].number, next);
            assert_int_equal(flood(&s, i, next), s.zones[next - 1].cells);
            next++;
        }
    assert_int_equal(next - 1, s.count);
    brant_zone_square_clear(&s);
    world_close(&w);
}

static void test_small_zones_are_alone(void **state)
{
    world w;
    size_t small = 0;
    (void)state;
    open_rough(&w, 3);
    brant_zone_square s = world_square(&w, 0, &BRANT_ZONE_OPTIONS_DEFAULT);
    for (size_t i = 0; i < s.count; i++) {
        bool flagged = (s.zones[i].flags & BRANT_ZONE_SMALL) != 0;
        assert_int_equal(flagged, s.zones[i].area_m2 < 400.0);
        small += flagged;
    }
    assert_true(small > 3);
    for (int r = 0; r < SIDE; r++)
        for (int c = 0; c < SIDE; c++) {
            uint32_t n = number_at(&s, c, r), right = number_at(&s, c + 1, r);
            uint32_t below = number_at(&s, c, r + 1);
            if (n && right && n != right)
                assert_false((s.zones[n - 1].flags | s.zones[right - 1].flags) & BRANT_ZONE_SMALL);
            if (n && below && n != below)
                assert_false((s.zones[n - 1].flags | s.zones[below - 1].flags) & BRANT_ZONE_SMALL);
        }
    brant_zone_square_clear(&s);
    world_close(&w);
}

/* Where one cell is more than min_area, three cells and fewer join all the same. */
static void test_few_large_cells_are_alone(void **state)
{
    world w;
    size_t few = 0;
    (void)state;
    world_open_local(&w, 30.0, SIDE, SIDE);
    world_lay_rough(&w, 3);
    brant_zone_square s = world_square(&w, 0, &BRANT_ZONE_OPTIONS_DEFAULT);
    for (int r = 0; r < SIDE; r++)
        for (int c = 0; c < SIDE; c++) {
            uint32_t n = number_at(&s, c, r);
            uint32_t beside[] = {number_at(&s, c + 1, r), number_at(&s, c, r + 1)};
            if (n == 0)
                continue;
            few += s.zones[n - 1].cells <= 3;
            for (int i = 0; i < 2; i++)
                if (beside[i] && beside[i] != n)
                    assert_true(s.zones[n - 1].cells > 3 && s.zones[beside[i] - 1].cells > 3);
        }
    assert_true(few > 0);
    brant_zone_square_clear(&s);
    world_close(&w);
}

/* The figures of each zone, summed up again from the field. */
static void check_figures(const brant_zone_square *s, const brant_field *f, const brant_zone *z)
{
    double slope = 0, east = 0, north = 0, steep = 0;
    float steepest = 0, low = INFINITY, high = -INFINITY;
    int cells = 0, high_cell = -1, c0 = SIDE, c1 = -1, r0 = SIDE, r1 = -1;
    for (int i = 0; i < SIDE * SIDE; i++) {
        if (s->number[i] != z->number)
            continue;
        cells++; /* cells of equal area: the local map's scale is 1 */
        slope += f->slope[i];
        steep += f->slope[i] > 45.0f;
        east += sin(f->aspect[i] * RADIANS);
        north += cos(f->aspect[i] * RADIANS);
        steepest = fmaxf(steepest, f->slope[i]);
        low = fminf(low, f->elevation[i]);
        if (f->elevation[i] > high) {
            high = f->elevation[i];
            high_cell = i;
        }
        c0 = i % SIDE < c0 ? i % SIDE : c0;
        c1 = i % SIDE > c1 ? i % SIDE : c1;
        r0 = i / SIDE < r0 ? i / SIDE : r0;
        r1 = i / SIDE > r1 ? i / SIDE : r1;
    }
    assert_int_equal(z->cells, cells);
    assert_true(fabs(z->area_m2 - 100.0 * cells) < 1e-4 * cells);
    assert_true(fabs(z->mean_deg - slope / cells) < 1e-3);
    assert_true(fabs(z->above45 - steep / cells) < 1e-6);
    assert_true(turn(z->aspect_deg, atan2(east, north) / RADIANS) < 0.01);
    assert_true(z->steepest_deg == steepest && z->low_m == low && z->high_m == high);
    assert_int_equal(z->high_row * SIDE + z->high_col, high_cell);
    assert_true(z->box.col == c0 && z->box.row == r0);
    assert_true(z->box.cols == c1 - c0 + 1 && z->box.rows == r1 - r0 + 1);
}

static void test_figures(void **state)
{
    world w;
    (void)state;
    open_rough(&w, 4);
    brant_field f = world_field(&w, false);
    brant_zone_square s = world_square(&w, 0, &BRANT_ZONE_OPTIONS_DEFAULT);
    for (size_t i = 0; i < s.count; i++)
        check_figures(&s, &f, &s.zones[i]);
    brant_zone_square_clear(&s);
    brant_field_clear(&f);
    world_close(&w);
}

/* ---- a plain reading of the rules --------------------------------------- */

#define PLAIN 60

/* Octants from the mean of the gradients in 5 x 5 cells (50 m at 10 m), on release
 * ground; -1 elsewhere. */
static void plain_octants(world *w, const brant_field *f, int octant[PLAIN][PLAIN])
{
    static float east[PLAIN][PLAIN], north[PLAIN][PLAIN];
    for (int r = 0; r < PLAIN; r++)
        for (int c = 0; c < PLAIN; c++) {
            east[r][c] = north[r][c] = NAN;
            if (r > 0 && c > 0 && r < PLAIN - 1 && c < PLAIN - 1)
                brant_gradient_row(w->ground, c, r, 1, world_z(w, c - 1, r - 1),
                                   world_z(w, c - 1, r), world_z(w, c - 1, r + 1), &east[r][c],
                                   &north[r][c]);
        }
    for (int r = 0; r < PLAIN; r++)
        for (int c = 0; c < PLAIN; c++) {
            double e = 0, n = 0;
            octant[r][c] = -1;
            if (!(f->slope[r * PLAIN + c] >= 30.0f))
                continue;
            for (int y = r - 2; y <= r + 2; y++)
                for (int x = c - 2; x <= c + 2; x++)
                    if (x >= 0 && y >= 0 && x < PLAIN && y < PLAIN && !isnan(east[y][x])) {
                        e += east[y][x];
                        n += north[y][x];
                    }
            double aspect = fmod(atan2(-e, -n) / RADIANS + 360.0, 360.0);
            octant[r][c] = (int)floor((aspect + 22.5) / 45.0) % 8;
        }
}

/* Label by sweeping until nothing changes: each bit's label is its first cell. */
static void plain_label(int octant[PLAIN][PLAIN], int label[PLAIN][PLAIN])
{
    bool changed = true;
    for (int i = 0; i < PLAIN * PLAIN; i++)
        label[i / PLAIN][i % PLAIN] = octant[i / PLAIN][i % PLAIN] < 0 ? -1 : i;
    while (changed) {
        changed = false;
        for (int r = 0; r < PLAIN; r++)
            for (int c = 0; c < PLAIN; c++)
                for (int k = 0; k < 4; k++) {
                    int x = c + (k == 0) - (k == 1), y = r + (k == 2) - (k == 3);
                    if (x >= 0 && y >= 0 && x < PLAIN && y < PLAIN && octant[r][c] >= 0 &&
                        octant[y][x] == octant[r][c] && label[y][x] < label[r][c]) {
                        label[r][c] = label[y][x];
                        changed = true;
                    }
                }
    }
}

/* Join the smallest bit below `min_cells` that has a neighbour; false if none. */
static bool plain_join(int label[PLAIN][PLAIN], int min_cells)
{
    static int cells[PLAIN * PLAIN], shared[PLAIN * PLAIN];
    bool passed[PLAIN * PLAIN] = {false};
    memset(cells, 0, sizeof cells);
    for (int i = 0; i < PLAIN * PLAIN; i++)
        if (label[i / PLAIN][i % PLAIN] >= 0)
            cells[label[i / PLAIN][i % PLAIN]]++;
    for (;;) {
        int bit = -1, best = -1;
        for (int i = 0; i < PLAIN * PLAIN; i++)
            if (cells[i] > 0 && cells[i] < min_cells && !passed[i] &&
                (bit < 0 || cells[i] < cells[bit]))
                bit = i;
        if (bit < 0)
            return false;
        memset(shared, 0, sizeof shared);
        for (int r = 0; r < PLAIN; r++)
            for (int c = 0; c < PLAIN; c++)
                for (int k = 0; k < 4 && label[r][c] == bit; k++) {
                    int x = c + (k == 0) - (k == 1), y = r + (k == 2) - (k == 3);
                    if (x >= 0 && y >= 0 && x < PLAIN && y < PLAIN && label[y][x] >= 0 &&
                        label[y][x] != bit)
                        shared[label[y][x]]++;
                }
        for (int i = 0; i < PLAIN * PLAIN; i++)
            if (shared[i] > 0 && (best < 0 || shared[i] > shared[best]))
                best = i;
        passed[bit] = true; /* alone: leave it and look at the next one */
        for (int i = 0; i < PLAIN * PLAIN && best >= 0; i++)
            if (label[i / PLAIN][i % PLAIN] == bit || label[i / PLAIN][i % PLAIN] == best)
                label[i / PLAIN][i % PLAIN] = bit < best ? bit : best;
        if (best >= 0)
            return true;
    }
}

static void test_against_plain_reading(void **state)
{
    (void)state;
    for (uint64_t seed = 21; seed < 33; seed++) {
        static int octant[PLAIN][PLAIN], label[PLAIN][PLAIN];
        int first_of[PLAIN * PLAIN] = {0};
        world w;
        brant_zone_options options = BRANT_ZONE_OPTIONS_DEFAULT;
        options.min_area_m2 = 2050.0; /* up to 20 cells join */
        options.max_area_m2 = INFINITY;
        world_open_local(&w, 10.0, PLAIN, PLAIN);
        world_lay_rough(&w, seed);
        for (int i = 0; i < PLAIN * PLAIN; i++) /* more bits: shake it */
            w.z[i] += (float)(8.0 * next_random(&seed));
        brant_field f = world_field(&w, false);
        brant_zone_square s = world_square(&w, 0, &options);
        plain_octants(&w, &f, octant);
        plain_label(octant, label);
        while (plain_join(label, 21))
            ;
        for (int i = 0; i < PLAIN * PLAIN; i++) {
            int bit = label[i / PLAIN][i % PLAIN];
            assert_int_equal(bit >= 0, s.number[i] > 0);
            if (bit == i)
                first_of[i] = (int)s.number[i];
            if (bit >= 0)
                assert_int_equal(s.number[i], first_of[bit]);
        }
        brant_zone_square_clear(&s);
        brant_field_clear(&f);
        world_close(&w);
    }
}

/* ---- surfaces whose zones are known ------------------------------------- */

/* Two slopes of 35 degrees that fall south, 78 ha above and some 7 ha below a flat: what is too
 * large is split, wherever it comes, and its bands are alike; the other stays whole. */
static void test_split_of_the_large_alone(void **state)
{
    world w;
    (void)state;
    for (int turned = 0; turned < 2; turned++) { /* the small one first */
        size_t whole = 0, bands = 0;
        double z = 3000.0;
        world_open_local(&w, 10.0, SIDE, SIDE);
        for (int r = 0; r < SIDE; r++) {
            int from_top = turned ? SIDE - 1 - r : r;
            bool steep = (from_top >= 10 && from_top < 54) || (from_top >= 100 && from_top < 104);
            for (int c = 0; c < SIDE; c++)
                *world_z(&w, c, r) = (float)z;
            z -= steep ? 10.0 * tan(35.0 * RADIANS) : 0.0;
        }
        brant_zone_square s = world_square(&w, 0, &BRANT_ZONE_OPTIONS_DEFAULT);
        for (size_t i = 0; i < s.count; i++) {
            assert_true(s.zones[i].area_m2 <= 200000.0 * 1.1);
            whole += s.zones[i].area_m2 < 100000.0;
            bands += s.zones[i].area_m2 >= 100000.0;
        }
        assert_int_equal(whole, 1);
        assert_int_equal(bands, 4);
        brant_zone_square_clear(&s);
        world_close(&w);
    }
}

/* A plane of 100 ha, at most 20 ha a zone: five, cut along contours, alike. */
static void test_split_along_contours(void **state)
{
    plane p = {35.0, 180.0, 2000.0};
    world w;
    (void)state;
    world_open_local(&w, 10.0, 102, 102); /* 100 x 100 cells with a slope */
    world_lay_local(&w, plane_at, &p);
    brant_zone_options options = BRANT_ZONE_OPTIONS_DEFAULT;
    options.max_area_m2 = 200001.0; /* areas differ in the ninth digit */
    brant_zone_square s = world_square(&w, 0, &options);
    assert_int_equal(s.count, 5);
    for (size_t i = 0; i < s.count; i++) {
        assert_true(fabs(s.zones[i].area_m2 - 200000.0) < 1.0);
        assert_true(fabs(s.zones[i].mean_deg - 35.0) < 1e-3);
        assert_true(turn(s.zones[i].aspect_deg, 180.0) < 1e-3);
        assert_int_equal(s.zones[i].flags, BRANT_ZONE_AT_VOID); /* they reach the border */
        if (i > 0)
            assert_true(s.zones[i].high_m < s.zones[i - 1].low_m);
    }
    brant_zone_square_clear(&s);
    world_close(&w);
}

/* Cut parts stay near the limit: a band is at most the limit and one step of
 * elevation, and only bits below the least area are joined to it again. */
static void test_no_zone_far_above_limit(void **state)
{
    world w;
    (void)state;
    open_rough(&w, 6);
    brant_zone_options options = BRANT_ZONE_OPTIONS_DEFAULT;
    options.max_area_m2 = 20000.0;
    brant_zone_square whole = world_square(&w, 0, &BRANT_ZONE_OPTIONS_DEFAULT);
    brant_zone_square s = world_square(&w, 0, &options);
    size_t above = 0;
    for (size_t i = 0; i < whole.count; i++)
        above += whole.zones[i].area_m2 > 20000.0;
    assert_true(above > 3);
    for (size_t i = 0; i < s.count; i++)
        assert_true(s.zones[i].area_m2 < 1.2 * 20000.0);
    brant_zone_square_clear(&whole);
    brant_zone_square_clear(&s);
    world_close(&w);
}

/* A slope on an octant's edge, with noise, is not shredded: unsmoothed it falls
 * to pieces. */
static void test_octant_edge_not_shredded(void **state)
{
    plane p = {38.0, 24.5, 2000.0}; /* 2 degrees past the edge of N and NE */
    uint64_t seed = 3;
    size_t facing_other = 0;
    world w;
    (void)state;
    world_open_local(&w, 10.0, 100, 100);
    world_lay_local(&w, plane_at, &p);
    for (int i = 0; i < 100 * 100; i++)
        w.z[i] += (float)(2.0 * next_random(&seed) - 1.0);
    brant_field f = world_field(&w, false);
    for (int i = 0; i < 100 * 100; i++)
        facing_other += brant_octant(f.aspect[i]) == 0;
    brant_zone_square s = world_square(&w, 0, &BRANT_ZONE_OPTIONS_DEFAULT);
    assert_true(facing_other > 300);
    for (size_t i = 0; i < s.count; i++)
        if (s.zones[i].area_m2 < 100000.0)
            assert_true(s.zones[i].cells < 40);
    assert_true(s.count < 12);
    brant_zone_square_clear(&s);
    brant_field_clear(&f);
    world_close(&w);
}

/* A pyramid of 38 degrees faces four octants: four zones, each facing its way. */
static double pyramid_at(const void *self, double east, double north)
{
    (void)self;
    return 3000.0 - tan(38.0 * RADIANS) * fmax(fabs(east), fabs(north));
}

static void test_pyramid(void **state)
{
    static const double facing[4] = {0.0, 270.0, 90.0, 180.0}; /* by first cell */
    world w;
    (void)state;
    world_open_local(&w, 10.0, 61, 61);
    world_lay_local(&w, pyramid_at, NULL);
    brant_zone_square s = world_square(&w, 0, &BRANT_ZONE_OPTIONS_DEFAULT);
    size_t large = 0;
    for (size_t i = 0; i < s.count; i++) {
        bool fits = false;
        if (s.zones[i].area_m2 < 20000.0)
            continue; /* the ridges' own octants */
        for (int k = 0; k < 4; k++)
            fits |= turn(s.zones[i].aspect_deg, facing[k]) < 2.0;
        assert_true(fits);
        large++;
    }
    assert_int_equal(large, 4);
    brant_zone_square_clear(&s);
    world_close(&w);
}

/* A steep pitch 15 m wide and 20 m long in gentle ground, cells of 5 m: it is a
 * zone, by itself, flagged small. */
static double pitch_at(const void *self, double east, double north)
{
    double wide = fmax(0.0, 1.0 - fmax(0.0, fabs(east) - 7.5) / 15.0);
    double pitch = 16.0 * fmin(fmax(0.5 - north / 20.0, 0.0), 1.0);
    double spread = 16.0 * fmin(fmax(0.5 - north / 60.0, 0.0), 1.0);
    (void)self;
    return 1500.0 + 0.25 * north - wide * (pitch - spread);
}

static void test_small_pitch(void **state)
{
    world w;
    (void)state;
    world_open_local(&w, 5.0, 81, 81);
    world_lay_local(&w, pitch_at, NULL);
    brant_zone_square s = world_square(&w, 0, &BRANT_ZONE_OPTIONS_DEFAULT);
    assert_int_equal(s.count, 1);
    assert_int_equal(s.zones[0].flags, BRANT_ZONE_SMALL);
    assert_true(s.zones[0].area_m2 >= 100.0 && s.zones[0].area_m2 < 400.0);
    assert_int_equal(number_at(&s, 40, 40), 1);
    brant_zone_square_clear(&s);
    world_close(&w);
}

static void test_nothing_steep(void **state)
{
    plane p = {29.9, 45.0, 2000.0};
    world w;
    (void)state;
    world_open_local(&w, 10.0, 50, 50);
    world_lay_local(&w, plane_at, &p);
    brant_zone_square s = world_square(&w, 0, &BRANT_ZONE_OPTIONS_DEFAULT);
    assert_int_equal(s.count, 0);
    for (int i = 0; i < 50 * 50; i++)
        assert_int_equal(s.number[i], 0);
    brant_zone_square_clear(&s);
    world_close(&w);
}

/* A void in the middle of a slope: the zone around it is flagged. */
static void test_at_void(void **state)
{
    plane p = {29.0, 180.0, 2000.0};
    world w;
    (void)state;
    world_open_local(&w, 10.0, 60, 60);
    world_lay_local(&w, plane_at, &p);
    for (int r = 20; r < 40; r++) /* a steep field in gentle ground, off the border */
        for (int c = 20; c < 40; c++)
            *world_z(&w, c, r) -= 3.0f * (float)(r - 20);
    brant_zone_square s = world_square(&w, 0, &BRANT_ZONE_OPTIONS_DEFAULT);
    uint32_t number = number_at(&s, 30, 30);
    assert_true(number > 0);
    assert_int_equal(s.zones[number - 1].flags & BRANT_ZONE_AT_VOID, 0);
    brant_zone_square_clear(&s);
    *world_z(&w, 30, 30) = NAN;
    s = world_square(&w, 0, &BRANT_ZONE_OPTIONS_DEFAULT);
    assert_int_equal(number_at(&s, 30, 30), 0);
    assert_int_equal(number_at(&s, 29, 29), 0);
    number = number_at(&s, 28, 28);
    assert_true(number > 0);
    assert_true(s.zones[number - 1].flags & BRANT_ZONE_AT_VOID);
    brant_zone_square_clear(&s);
    world_close(&w);
}

/* More zones than numbers: one line, and nothing kept. */
static void test_too_many_zones(void **state)
{
    brant_squares squares = {1, 1, 10};
    brant_zone_square s;
    world w;
    (void)state;
    open_rough(&w, 7);
    assert_int_equal(brant_zones_of_square(&w.ctx, &w.source, w.ground, &squares, 0,
                                           &BRANT_ZONE_OPTIONS_DEFAULT, &s),
                     BRANT_ERR_INPUT);
    assert_non_null(strstr(brant_message(&w.ctx), "9 can be numbered"));
    assert_null(s.number);
    assert_null(s.zones);
    world_close(&w);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(test_release_ground_complete),
        cmocka_unit_test(test_lower_limit_releases),
        cmocka_unit_test(test_connected_and_in_order),
        cmocka_unit_test(test_small_zones_are_alone),
        cmocka_unit_test(test_few_large_cells_are_alone),
        cmocka_unit_test(test_figures),
        cmocka_unit_test(test_against_plain_reading),
        cmocka_unit_test(test_split_along_contours),
        cmocka_unit_test(test_split_of_the_large_alone),
        cmocka_unit_test(test_no_zone_far_above_limit),
        cmocka_unit_test(test_octant_edge_not_shredded),
        cmocka_unit_test(test_pyramid),
        cmocka_unit_test(test_small_pitch),
        cmocka_unit_test(test_nothing_steep),
        cmocka_unit_test(test_at_void),
        cmocka_unit_test(test_too_many_zones),
    };
    return cmocka_run_group_tests_name("terrain_zones", tests, NULL, NULL);
}
