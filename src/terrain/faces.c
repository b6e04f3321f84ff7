/* Faces: zones that belong together.
 *
 * In steep country all release ground hangs together over ridges and round bowls; a
 * face that was all of it would be one figure for a whole massif. A face is therefore
 * what a skier means by it: touching zones that face the same octant, whatever cut or
 * split them. */
#include "set.h"

#include <stdlib.h>

/* ---- which touch -------------------------------------------------------- */

typedef struct touching {
    brant_context *ctx;
    const brant_zone_set *set;
    uint32_t last_a, last_b; /* the numbers looked at last: neighbours come in rows */
    brant_touch *touches;
    size_t count, capacity;
    brant_status status;
} touching;

static void touch(touching *t, uint32_t a, uint32_t b)
{
    if (b == 0 || a == b || (a == t->last_a && b == t->last_b))
        return;
    t->last_a = a;
    t->last_b = b;
    const brant_zone *x = brant_zone_set_find(t->set, a), *y = brant_zone_set_find(t->set, b);
    if (brant_octant(x->aspect_deg) != brant_octant(y->aspect_deg) || t->status != BRANT_OK)
        return;
    t->status = brant_grow(t->ctx, &t->touches, &t->capacity, t->count + 1, sizeof *t->touches);
    if (t->status == BRANT_OK)
        t->touches[t->count++] = (brant_touch){(uint32_t)(x - t->set->zones),
                                               (uint32_t)(y - t->set->zones)};
}

/* Look at what touches a cell on its right and below; the other four neighbours
 * have looked at it already, or will. */
static void touch_across_line(touching *t, uint32_t number, int col, int row)
{
    touch(t, number, brant_zone_set_at(t->set, col + 1, row));
    for (int c = col - 1; c <= col + 1; c++)
        touch(t, number, brant_zone_set_at(t->set, c, row + 1));
}

static void touch_in_square(touching *t, const brant_zone_square *square)
{
    const int cols = square->window.cols, rows = square->window.rows;
    for (int r = 0; r < rows; r++) {
        const uint32_t *number = square->number + (size_t)r * (size_t)cols;
        for (int c = 0; c < cols; c++) {
            if (number[c] == 0)
                continue;
            if (c == 0 || c == cols - 1 || r == rows - 1) {
                touch_across_line(t, number[c], square->window.col + c, square->window.row + r);
                continue;
            }
            touch(t, number[c], number[c + 1]);
            for (int below = cols - 1; below <= cols + 1; below++)
                touch(t, number[c], number[c + below]);
        }
    }
}

brant_status brant_zone_touches(brant_context *ctx, const brant_zone_set *set,
                                brant_touch **touches, size_t *count)
{
    touching t = {.ctx = ctx, .set = set};
    for (int i = 0; i < set->squares.across * set->squares.down; i++)
        if (set->square[i].number)
            touch_in_square(&t, &set->square[i]);
    if (t.status != BRANT_OK) {
        free(t.touches);
        t = (touching){.status = t.status};
    }
    *touches = t.touches;
    *count = t.count;
    return t.status;
}

/* ---- faces -------------------------------------------------------------- */

static size_t find(size_t *parent, size_t i)
{
    while (parent[i] != i) {
        parent[i] = parent[parent[i]];
        i = parent[i];
    }
    return i;
}

static void join(size_t *parent, size_t a, size_t b)
{
    size_t i = find(parent, a), j = find(parent, b); /* a root is the first of its face */
    if (i < j)
        parent[j] = i;
    else
        parent[i] = j;
}

/* Was the square of a zone read? */
static bool is_read(const brant_zone_set *set, const bool *wanted, const brant_zone *zone)
{
    return !wanted || wanted[zone->number / set->squares.stride];
}

brant_status brant_zone_faces(brant_context *ctx, const brant_zone_set *set,
                              const brant_touch *touches, size_t count, const bool *wanted,
                              brant_zone *zones)
{
    size_t *parent = brant_alloc(ctx, set->count, sizeof *parent);
    if (!parent)
        return BRANT_ERR_MEMORY;
    for (size_t i = 0; i < set->count; i++) {
        parent[i] = i;
        zones[i].face_m2 = 0.0;
    }
    for (size_t i = 0; i < count; i++)
        if (is_read(set, wanted, &zones[touches[i].a]) &&
            is_read(set, wanted, &zones[touches[i].b]))
            join(parent, touches[i].a, touches[i].b);
    for (size_t i = 0; i < set->count; i++)
        zones[find(parent, i)].face_m2 += zones[i].area_m2;
    for (size_t i = 0; i < set->count; i++) {
        const brant_zone *first = &zones[find(parent, i)];
        zones[i].face = first->number;
        zones[i].face_m2 = first->face_m2;
    }
    free(parent);
    return BRANT_OK;
}

brant_status brant_set_join_faces(brant_context *ctx, brant_zone_set *set)
{
    brant_touch *touches;
    size_t count;
    brant_status status = brant_zone_touches(ctx, set, &touches, &count);
    if (status == BRANT_OK)
        status = brant_zone_faces(ctx, set, touches, count, NULL, set->zones);
    free(touches);
    return status;
}
