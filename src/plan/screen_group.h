/* A group of circuits that share ground, while it is at hand. Private to the room. */
#ifndef BRANT_PLAN_SCREEN_GROUP_H
#define BRANT_PLAN_SCREEN_GROUP_H

#include "day.h"
#include "screen.h"

/* One worker's view of the zones: as one circuit alone knows them. */
typedef struct view {
    brant_zone_set set;       /* zones in the group's order */
    bool *wanted;             /* the squares that its faces are over */
    bool made;
} view;

typedef struct group {
    screen *s;
    const brant_plan_request *request;
    circuit **members;
    size_t count;
    brant_plan plan;          /* of all of them; its tours are those of the members at hand,
                                 with gaps */
    bool *wanted;             /* squares: any of theirs */
    bool *only;               /* zones: those within reach of any of them */
    uint8_t *route;
    brant_touch *touches;
    size_t touch_count;
    size_t *truncated;        /* zones so flagged, by place */
    size_t truncated_count;
    double begun;             /* files told before it */
    /* while its tours are built: */
    size_t first, end;        /* members at hand */
    brant_sky *sky;
    view *views;
    float **buffers;          /* one a worker */
} group;

brant_source *brant_group_source(const group *g);
size_t brant_group_squares(const group *g);
/* Would the circuit's plan search this zone? */
bool brant_group_searches(const group *g, const circuit *c, const brant_zone *zone);
/* The rows of `values` (over `from`) that lie in `to`; `size` bytes a cell. */
void brant_cut_out(const brant_window *from, const void *values, size_t size,
                   const brant_window *to, void *out);

/* Of a group's time its ground takes about this; the rest goes by its members. */
#define BRANT_GROUND_SHARE 0.65
/* What comes next takes the group from one share of its time to another. */
void brant_group_progress(brant_context *ctx, const group *g, double from, double to);

/* Once its ground is looked at: build the members' tours, some at a time, and tell them. */
brant_status brant_group_tours(brant_context *ctx, group *g);

#endif
