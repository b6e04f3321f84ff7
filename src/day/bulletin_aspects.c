/* Sets of aspect sectors, from and as text. */
#include "brant/day.h"

#include <string.h>
#include <strings.h>

enum { SECTORS = 8 };
static const char *const sectors[SECTORS] = {"N", "NE", "E", "SE", "S", "SW", "W", "NW"};

/* The sector at `*at`, which moves on; -1 if there is none. */
static int take_sector(const char **at)
{
    size_t length = strspn(*at, "NESWnesw");
    for (int i = 0; i < SECTORS; i++) {
        if (strlen(sectors[i]) == length && strncasecmp(sectors[i], *at, length) == 0) {
            *at += length;
            return i;
        }
    }
    return -1;
}

/* A sector, or a clockwise run: W-E, W-N-E. */
static bool take_run(const char **at, brant_aspects *aspects)
{
    int here = take_sector(at), steps = 0;
    if (here < 0)
        return false;
    *aspects |= 1u << here;
    while (**at == '-') {
        (*at)++;
        int to = take_sector(at);
        if (to < 0 || to == here)
            return false;
        for (; here != to; steps++) {
            here = (here + 1) % SECTORS;
            *aspects |= 1u << here;
        }
    }
    return steps < SECTORS - 1; /* seven steps are NE-N or a full circle */
}

bool brant_aspects_parse(const char *text, brant_aspects *aspects)
{
    brant_aspects read = 0;
    while (take_run(&text, &read)) {
        if (!*text) {
            *aspects = read;
            return true;
        }
        if (*text++ != ',')
            return false;
        text += strspn(text, " ");
    }
    return false;
}

static bool holds(brant_aspects aspects, int sector)
{
    return aspects >> ((sector + SECTORS) % SECTORS) & 1u;
}

/* Three and more are told by first, middle and last: W-N-E, not W-E, which two
 * readers may take for two ways round. */
static void add_run(brant_text *text, int first, int length)
{
    brant_text_add(text, "%s", sectors[first]);
    if (length >= 3)
        brant_text_add(text, "-%s", sectors[(first + (length - 1) / 2) % SECTORS]);
    if (length >= 2)
        brant_text_add(text, "-%s", sectors[(first + length - 1) % SECTORS]);
}

void brant_text_aspects(brant_text *text, brant_aspects aspects)
{
    bool any = false;
    if ((aspects & BRANT_ASPECTS_ALL) == BRANT_ASPECTS_ALL) {
        brant_text_add(text, "all aspects");
        return;
    }
    /* from the west on, so that a run over north is told before one in the south */
    for (int i = 0; i < SECTORS; i++) {
        int first = (i + 5) % SECTORS, length = 1;
        if (!holds(aspects, first) || holds(aspects, first - 1))
            continue;
        while (holds(aspects, first + length))
            length++;
        brant_text_add(text, "%s", any ? ", " : "");
        add_run(text, first, length);
        any = true;
    }
}
