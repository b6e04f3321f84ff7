#include "queue.h"

#include <stdlib.h>
#include <string.h>

void brant_queue_init(queue *q, float cap)
{
    memset(q, 0, sizeof *q);
    q->cap = cap;
    q->last = q->at = -1;
}

void brant_queue_clear(queue *q)
{
    free(q->queue);
    free(q->heap);
}

void brant_queue_begin(queue *q)
{
    if (q->last >= 0)
        memset(q->filled, 0, ((size_t)q->last / 64 + 1) * sizeof *q->filled);
    q->last = q->at = -1;
    q->queued_count = q->heap_count = 0;
}

/* A bucket's order is the entries' order, so only entries of one bucket need sorting.
 * What falls beyond the last bucket of its kind stays in it. */
static int bucket_of(const queue *q, entry e)
{
    if (e.line >= q->cap) {
        float below = ((float)QUEUE_TOP_M - e.energy) * QUEUE_PER_METRE;
        return below <= 0.0f ? 0 : below >= QUEUE_ENERGIES ? QUEUE_ENERGIES - 1 : (int)below;
    }
    float below = (q->cap - e.line) * QUEUE_PER_LINE;
    return QUEUE_ENERGIES + (below >= QUEUE_LINES ? QUEUE_LINES - 1 : (int)below);
}

static bool before(entry a, entry b)
{
    if (a.line != b.line)
        return a.line > b.line;
    if (a.energy != b.energy)
        return a.energy > b.energy;
    return a.index < b.index;
}

static brant_status push(brant_context *ctx, queue *q, entry e)
{
    if (q->heap_count == q->heap_capacity &&
        brant_grow(ctx, &q->heap, &q->heap_capacity, q->heap_count + 1, sizeof *q->heap) !=
            BRANT_OK)
        return BRANT_ERR_MEMORY;
    size_t i = q->heap_count++;
    while (i > 0 && before(e, q->heap[(i - 1) / 2])) {
        q->heap[i] = q->heap[(i - 1) / 2];
        i = (i - 1) / 2;
    }
    q->heap[i] = e;
    return BRANT_OK;
}

static entry pop(queue *q)
{
    entry top = q->heap[0], e = q->heap[--q->heap_count];
    size_t i = 0;
    for (;;) {
        size_t best = 2 * i + 1;
        if (best >= q->heap_count)
            break;
        if (best + 1 < q->heap_count && before(q->heap[best + 1], q->heap[best]))
            best++;
        if (!before(q->heap[best], e))
            break;
        q->heap[i] = q->heap[best];
        i = best;
    }
    q->heap[i] = e;
    return top;
}

brant_status brant_queue_put(brant_context *ctx, queue *q, entry e)
{
    int bucket = bucket_of(q, e);
    if (bucket <= q->at)
        return push(ctx, q, e);
    if (q->queued_count == q->queued_capacity &&
        brant_grow(ctx, &q->queue, &q->queued_capacity, q->queued_count + 1, sizeof *q->queue) !=
            BRANT_OK)
        return BRANT_ERR_MEMORY;
    uint64_t *filled = &q->filled[bucket / 64], bit = (uint64_t)1 << (bucket % 64);
    q->queue[q->queued_count++] = (queued){e, *filled & bit ? q->list[bucket] : 0};
    q->list[bucket] = (uint32_t)q->queued_count;
    *filled |= bit;
    q->last = bucket > q->last ? bucket : q->last;
    return BRANT_OK;
}

/* The first list after the bucket at hand that holds something; beyond `last` if none. */
static int next_filled(const queue *q)
{
    int word = (q->at + 1) / 64;
    uint64_t bits = q->filled[word] & (~(uint64_t)0 << ((q->at + 1) % 64));
    while (!bits && 64 * (word + 1) <= q->last)
        bits = q->filled[++word];
    return bits ? 64 * word + __builtin_ctzll(bits) : q->last + 1;
}

/* Make the next bucket that holds something the heap. */
static brant_status next_bucket(brant_context *ctx, queue *q)
{
    int i = next_filled(q);
    if (i > q->last)
        return BRANT_OK;
    q->at = i;
    q->filled[i / 64] &= ~((uint64_t)1 << (i % 64));
    for (uint32_t k = q->list[i]; k; k = q->queue[k - 1].next) {
        brant_status status = push(ctx, q, q->queue[k - 1].entry);
        if (status != BRANT_OK)
            return status;
    }
    return BRANT_OK;
}

bool brant_queue_take(brant_context *ctx, queue *q, entry *out, brant_status *status)
{
    if (*status == BRANT_OK && q->heap_count == 0)
        *status = next_bucket(ctx, q);
    if (*status != BRANT_OK || q->heap_count == 0)
        return false;
    *out = pop(q);
    return true;
}
