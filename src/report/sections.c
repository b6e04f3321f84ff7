/* A line in straight sections. */
#include "sheet.h"

#include <math.h>
#include <stdlib.h>
#include <string.h>

/* Metres a degree of the meridian, near enough to tell a distance across a section. */
#define DEGREE_M 111200.0
#define RADIANS (3.14159265358979323846 / 180)

typedef struct flat {
    double x, y; /* metres east and north of a section's start */
} flat;

static flat flatten(const brant_read_point *from, const brant_read_point *to)
{
    double degrees = to->lon - from->lon;
    degrees -= 360 * round(degrees / 360); /* across the antimeridian */
    double middle = (from->lat + to->lat) / 2;
    return (flat){degrees * cos(middle * RADIANS) * DEGREE_M, (to->lat - from->lat) * DEGREE_M};
}

/* Metres from `p` to the section from the origin to `end`, not to its line. */
static double distance_to(flat end, flat p)
{
    double length2 = end.x * end.x + end.y * end.y;
    double part = length2 > 0 ? (p.x * end.x + p.y * end.y) / length2 : 0;
    part = fmin(1, fmax(0, part));
    return hypot(p.x - part * end.x, p.y - part * end.y);
}

/* The point between `a` and `b` that is furthest from the section; 0 if none is further
 * than the tolerance. */
static size_t furthest(const brant_read_point *points, size_t a, size_t b, double tolerance_m)
{
    flat end = flatten(&points[a], &points[b]);
    double most = tolerance_m;
    size_t found = 0;
    for (size_t i = a + 1; i < b; i++) {
        double metres = distance_to(end, flatten(&points[a], &points[i]));
        if (metres > most) {
            most = metres;
            found = i;
        }
    }
    return found;
}

/* With a stack of ends still to be reached, not by recursion: a line may have many turns. */
brant_status brant_sections(brant_context *ctx, const brant_read_point *points, size_t first,
                            size_t end, double tolerance_m, size_t *turns, size_t *count)
{
    size_t depth = 0, at = first;
    *count = 0;
    if (end - first < 2)
        return BRANT_OK;
    size_t *ends = brant_alloc(ctx, end - first, sizeof *ends);
    if (!ends)
        return BRANT_ERR_MEMORY;
    ends[depth++] = end - 1;
    turns[(*count)++] = first;
    while (depth > 0) {
        size_t split = furthest(points, at, ends[depth - 1], tolerance_m);
        if (split > 0) {
            ends[depth++] = split;
        } else {
            at = ends[--depth];
            turns[(*count)++] = at;
        }
    }
    free(ends);
    return BRANT_OK;
}
