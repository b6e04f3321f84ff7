/* A queue for a search whose priorities never rise: what is put in is never above what
 * was last taken out. */
#ifndef BRANT_RUNOUT_QUEUE_H
#define BRANT_RUNOUT_QUEUE_H

#include "brant/base.h"

/* Order: the larger line first, of equals the larger energy, of equals the lower
 * number. */
typedef struct entry {
    float line;   /* tangent; at most the queue's `cap` */
    float energy; /* height of the energy line, metres */
    uint32_t number;
    uint32_t index; /* where who put it in keeps it: of no account here */
} entry;

typedef struct queued {
    entry entry;
    uint32_t next; /* in its list, or of the spare ones: + 1; 0 ends */
} queued;

/* A sequence of buckets, fine enough that many hold one entry alone. Those ahead are lists;
 * the one at hand is a heap. What falls beyond the last bucket stays in it. Bits say which
 * hold something, and bits of a second level which words of the first do, so that the next
 * one is found without a search. */
#define BUCKETS (1 << 19)
#define BUCKET_WORDS (BUCKETS / 64)

typedef struct buckets {
    uint32_t list[BUCKETS]; /* first entry + 1; only where `filled` says so */
    uint64_t filled[BUCKET_WORDS], words[BUCKET_WORDS / 64];
    int at;                 /* the bucket that is the heap */
    size_t listed;          /* entries in lists */
    entry *heap;
    size_t heap_count, heap_capacity;
} buckets;

/* A bucket is a 32nd of a metre of energy, from the top down, or a small step of the line,
 * from the cap down. */
#define QUEUE_TOP_M 14000
#define QUEUE_PER_METRE 32
#define QUEUE_PER_LINE 1048576.0f

/* Entries of the line at hand lie by their energy, those of lower lines by their line: many
 * labels keep the line of the one they come from, and a heap of them all would be deep. */
typedef struct queue {
    float cap;
    float line; /* at hand: the cap, then that of what was last taken out */
    buckets energies, lines;
    queued *queue;
    size_t queued_count, queued_capacity;
    uint32_t spare; /* the first one taken out, + 1; 0 none */
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
uint32_t brant_queue_next(const queue *q);
size_t brant_queue_memory(const queue *q); /* bytes allocated beside itself */

#endif
