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

/* The order is a sequence of buckets: where the line is at its cap, one for each eighth of
 * a metre of energy from QUEUE_TOP_M down; below the cap, one for each small step of the
 * line. Only the bucket at hand is kept as a heap, mostly of one or two entries; the others
 * are lists. */
#define QUEUE_TOP_M 14000
#define QUEUE_PER_METRE 8
#define QUEUE_ENERGIES (QUEUE_PER_METRE * (QUEUE_TOP_M + 2384))
#define QUEUE_PER_LINE 65536.0f
#define QUEUE_LINES 32768
#define QUEUE_BUCKETS (QUEUE_ENERGIES + QUEUE_LINES)

typedef struct queue {
    float cap;
    uint32_t list[QUEUE_BUCKETS];      /* first entry + 1; only where `filled` says so */
    uint64_t filled[QUEUE_BUCKETS / 64]; /* a bit for each list that holds something */
    int at;                            /* the bucket that is the heap, -1 none yet */
    int last;                          /* no list beyond this one holds anything */
    queued *queue;
    size_t queued_count, queued_capacity;
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

/* Who will probably be next: an index to fetch ahead; 0 where unknown. */
static inline uint32_t brant_queue_next(const queue *q)
{
    return q->heap_count ? q->heap[0].index : 0;
}

#endif
