/* Short dips in a route's kinds, filled.
 *
 * A line drawn to about 30 m that runs along a slope's edge is on it, beside it and on
 * it again every few cells. Legs cut at each change would be a hundred, and none of
 * them could be acted on. So a stretch shorter than a given length that lies between
 * two worse ones is counted with the milder of the two. It only ever makes a stretch
 * worse; a short stretch that is worse than its neighbours stays. What the model says
 * at a point is not touched. */
#include "legs.h"

#include <stdlib.h>

/* The lower the worse. Unknown ground is worse than none found, and no reason to take
 * the name from anything that was found. */
static int severity(brant_kind kind)
{
    switch (kind) {
    case BRANT_KIND_CROSSES: return 1;
    case BRANT_KIND_OVER_BAND: return 2;
    case BRANT_KIND_EDGE: return 3;
    case BRANT_KIND_UNDER: return 4;
    case BRANT_KIND_REMOTE: return 5;
    case BRANT_KIND_UNKNOWN: return 6;
    default: return 7;
    }
}

typedef struct stretch {
    size_t first, after; /* samples */
    double metres;
    brant_kind kind;
} stretch;

/* The stretches of equal kind between samples first and after, one segment's. */
static size_t cut(const brant_track *track, const brant_kind *kinds, size_t first, size_t after,
                  stretch *out)
{
    size_t count = 0;
    for (size_t i = first; i < after; i++) {
        if (i == first || kinds[i] != kinds[i - 1])
            out[count++] = (stretch){.first = i, .kind = kinds[i]};
        out[count - 1].after = i + 1;
        out[count - 1].metres += brant_sample_metres(track, i);
    }
    return count;
}

/* Dips are never neighbours, so all of them can be filled at once and a route read
 * backwards gives the same. */
static bool fill(const stretch *s, size_t count, double shorter_than, brant_kind *kinds)
{
    bool filled = false;
    for (size_t i = 1; i + 1 < count; i++) {
        int own = severity(s[i].kind);
        int before = severity(s[i - 1].kind), after = severity(s[i + 1].kind);
        if (s[i].kind == BRANT_KIND_UNKNOWN || s[i].metres >= shorter_than || before >= own ||
            after >= own)
            continue;
        for (size_t k = s[i].first; k < s[i].after; k++)
            kinds[k] = before > after ? s[i - 1].kind : s[i + 1].kind;
        filled = true;
    }
    return filled;
}

brant_status brant_legs_fill_dips(brant_context *ctx, const brant_track *track,
                                  double shorter_than, brant_kind *kinds)
{
    stretch *stretches = brant_alloc(ctx, track->count, sizeof *stretches);
    if (!stretches)
        return BRANT_ERR_MEMORY;
    for (size_t first = 0, after; first < track->count; first = after) {
        for (after = first + 1; after < track->count && !track->samples[after].first;)
            after++;
        while (fill(stretches, cut(track, kinds, first, after, stretches), shorter_than, kinds))
            continue;
    }
    free(stretches);
    return BRANT_OK;
}
