/* Circuits that share ground. Private to the room. */
#ifndef BRANT_PLAN_SCREEN_H
#define BRANT_PLAN_SCREEN_H

#include "corridor.h"

/* One file of the request. */
typedef struct circuit {
    size_t file;
    char *error;          /* why it cannot be planned; NULL: it can */
    brant_window window;  /* what brant-plan would look at */
    size_t samples;
    uint64_t order;       /* near ones are near each other in this order */
    bool *empty;          /* by route */
    double *outside_m;    /* by route */
    /* while its group is at hand: */
    brant_track *tracks;  /* one a route */
    corridor corridor;
    bool *wanted;         /* squares that brant-plan would read */
    brant_tour *tours;    /* into the group's; the first tour_count are filled */
    size_t tour_count;
    brant_zone *zones;    /* those that its tours meet, as they are for it alone */
} circuit;

typedef struct screen {
    const brant_screen_request *request;
    circuit *circuits;
    brant_locator **locators; /* one a worker */
    brant_squares squares;
    float *high_m;        /* of each square, once it is looked at; NaN no ground */
    bool *looked_at;      /* squares */
    double tan_floor;
    size_t done;          /* files told */
} screen;

/* Sample the routes of a circuit again; they were sampled for its window before. */
brant_status brant_screen_sample(brant_context *ctx, screen *s, int worker, circuit *c);
void brant_screen_forget(const screen *s, circuit *c);

/* Plan circuits that lie near each other, and tell them. */
brant_status brant_screen_group(brant_context *ctx, screen *s, circuit **members, size_t count);

#endif
