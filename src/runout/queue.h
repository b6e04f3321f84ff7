/* A queue for a search whose priorities never rise: what is put in is never above what
 * was last taken out. */
#ifndef BRANT_RUNOUT_QUEUE_H
#define BRANT_RUNOUT_QUEUE_H

#include "brant/base.h"

/* Order: the larger line first, of equals the larger energy, of equals the lower
 * index. */
typedef struct entry {
    float line;   /* tangent; at most the queue's `cap` */
    float energy; /* height of the energy line, metres */
    uint32_t index;
} entry;

typedef struct queued {
    entry entry;
    uint32_t next; /* + 1; 0 ends */
} queued;

/* The order is a sequence of buckets: where the line is at its cap, one for each metre
 * of energy from QUEUE_TOP_M down; below the cap, one for each small step of the line.
 * Only the bucket at hand is kept as a heap; the others are lists. */
#define QUEUE_TOP_M 14000
#define QUEUE_ENERGIES 16384
#define QUEUE_LINES 1024
#define QUEUE_BUCKETS (QUEUE_ENERGIES + QUEUE_LINES)

typedef struct queue {
    float cap;
    uint32_t list[QUEUE_BUCKETS]; /* first link + 1; 0 empty */
    int first, last;              /* buckets that may hold something */
    int at;                       /* the bucket that is the heap, -1 none yet */
    queued *links;
    size_t link_count, link_capacity;
    entry *heap;
    size_t heap_count, heap_capacity;
} queue;

void brant_queue_init(queue *q, float cap);
void brant_queue_clear(queue *q);
/* Empty it. */
void brant_queue_begin(queue *q);
brant_status brant_queue_put(brant_context *ctx, queue *q, entry e);
/* Take the first entry out; false (and *out as it was) when the queue is empty, or
 * *status is a failure. */
bool brant_queue_take(brant_context *ctx, queue *q, entry *out, brant_status *status);

#endif
