#include "queue.h"

#include <stdlib.h>
#include <string.h>

void brant_queue_init(queue *q, float cap)
{
    memset(q, 0, sizeof *q);
    q->cap = cap;
}

void brant_queue_clear(queue *q)
{
    free(q->queue);
    free(q->energies.heap);
    free(q->lines.heap);
}

size_t brant_queue_memory(const queue *q)
{
    return q->queued_capacity * sizeof *q->queue +
           (q->energies.heap_capacity + q->lines.heap_capacity) * sizeof(entry);
}

static void empty(buckets *b)
{
    if (b->listed > 0) { /* a search that failed */
        memset(b->filled, 0, sizeof b->filled);
        memset(b->words, 0, sizeof b->words);
    }
    b->at = -1;
    b->listed = b->heap_count = 0;
}

void brant_queue_begin(queue *q)
{
    empty(&q->energies);
    empty(&q->lines);
    q->queued_count = q->spare = 0;
    q->line = q->cap;
}

/* ---- buckets ------------------------------------------------------------ */

static inline bool before(entry a, entry b)
{
    if (a.line != b.line)
        return a.line > b.line;
    if (a.energy != b.energy)
        return a.energy > b.energy;
    return a.number < b.number;
}

static brant_status push(brant_context *ctx, buckets *b, entry e)
{
    if (b->heap_count == b->heap_capacity &&
        brant_grow(ctx, &b->heap, &b->heap_capacity, b->heap_count + 1, sizeof *b->heap) !=
            BRANT_OK)
        return BRANT_ERR_MEMORY;
    size_t i = b->heap_count++;
    while (i > 0 && before(e, b->heap[(i - 1) / 2])) {
        b->heap[i] = b->heap[(i - 1) / 2];
        i = (i - 1) / 2;
    }
    b->heap[i] = e;
    return BRANT_OK;
}

static entry pop(buckets *b)
{
    entry top = b->heap[0], e = b->heap[--b->heap_count];
    size_t i = 0;
    for (;;) {
        size_t best = 2 * i + 1;
        if (best >= b->heap_count)
            break;
        if (best + 1 < b->heap_count && before(b->heap[best + 1], b->heap[best]))
            best++;
        if (!before(b->heap[best], e))
            break;
        b->heap[i] = b->heap[best];
        i = best;
    }
    b->heap[i] = e;
    return top;
}

/* How many buckets from the first one: `below` that. */
static inline int bucket_of(float below)
{
    return below <= 0.0f ? 0 : below >= BUCKETS - 1 ? BUCKETS - 1 : (int)below;
}

static brant_status put(brant_context *ctx, queue *q, buckets *b, int bucket, entry e)
{
    if (bucket <= b->at)
        return push(ctx, b, e);
    uint32_t place = q->spare;
    if (place)
        q->spare = q->queue[place - 1].next;
    else if (q->queued_count == q->queued_capacity &&
             brant_grow(ctx, &q->queue, &q->queued_capacity, q->queued_count + 1,
                        sizeof *q->queue) != BRANT_OK)
        return BRANT_ERR_MEMORY;
    else
        place = (uint32_t)++q->queued_count;
    uint64_t *filled = &b->filled[bucket / 64], bit = (uint64_t)1 << (bucket % 64);
    q->queue[place - 1] = (queued){e, *filled & bit ? b->list[bucket] : 0};
    b->list[bucket] = place;
    *filled |= bit;
    b->words[bucket / 4096] |= (uint64_t)1 << (bucket / 64 % 64);
    b->listed++;
    return BRANT_OK;
}

/* The first list that holds something, taken out: there is one, and none lies before the
 * bucket at hand. */
static inline uint32_t next_list(buckets *b)
{
    int i = b->at < 0 ? 0 : b->at / 4096;
    while (!b->words[i])
        i++;
    int word = 64 * i + __builtin_ctzll(b->words[i]);
    uint64_t left = b->filled[word] & (b->filled[word] - 1);
    b->at = 64 * word + __builtin_ctzll(b->filled[word]);
    b->filled[word] = left;
    b->words[i] &= ~((uint64_t)!left << (word % 64));
    return b->list[b->at];
}

/* Take the first entry: there is one. */
static brant_status take(brant_context *ctx, queue *q, buckets *b, entry *out)
{
    brant_status status = BRANT_OK;
    if (b->heap_count == 0) {
        uint32_t first = next_list(b), last = first;
        b->listed--;
        if (!q->queue[first - 1].next) { /* the most frequent case */
            *out = q->queue[first - 1].entry;
            q->queue[first - 1].next = q->spare;
            q->spare = first;
            return BRANT_OK;
        }
        status = push(ctx, b, q->queue[first - 1].entry);
        while (q->queue[last - 1].next && status == BRANT_OK) {
            last = q->queue[last - 1].next;
            b->listed--;
            status = push(ctx, b, q->queue[last - 1].entry);
        }
        q->queue[last - 1].next = q->spare;
        q->spare = first;
    }
    if (status == BRANT_OK)
        *out = pop(b);
    return status;
}

/* ---- the queue ---------------------------------------------------------- */

static inline int bucket_of_energy(float energy)
{
    return bucket_of(((float)QUEUE_TOP_M - energy) * QUEUE_PER_METRE);
}

brant_status brant_queue_put(brant_context *ctx, queue *q, entry e)
{
    if (e.line >= q->line)
        return put(ctx, q, &q->energies, bucket_of_energy(e.energy), e);
    return put(ctx, q, &q->lines, bucket_of((q->cap - e.line) * QUEUE_PER_LINE), e);
}

/* The next line is at hand: with its first entry come the others of that line. */
static brant_status next_line(brant_context *ctx, queue *q, entry *out)
{
    brant_status status = take(ctx, q, &q->lines, out);
    q->line = out->line;
    q->energies.at = bucket_of_energy(out->energy);
    while (status == BRANT_OK && q->lines.heap_count > 0 && q->lines.heap[0].line == q->line)
        status = brant_queue_put(ctx, q, pop(&q->lines));
    return status;
}

bool brant_queue_take(brant_context *ctx, queue *q, entry *out, brant_status *status)
{
    if (*status != BRANT_OK)
        return false;
    if (q->energies.heap_count + q->energies.listed > 0)
        *status = take(ctx, q, &q->energies, out);
    else if (q->lines.heap_count + q->lines.listed > 0)
        *status = next_line(ctx, q, out);
    else
        return false;
    return *status == BRANT_OK;
}

uint32_t brant_queue_next(const queue *q)
{
    const buckets *b = q->energies.heap_count + q->energies.listed > 0 ? &q->energies : &q->lines;
    if (b->heap_count > 0)
        return b->heap[0].index;
    uint64_t words = b->words[b->at < 0 ? 0 : b->at / 4096];
    if (!words)
        return 0;
    int word = b->at / 4096 * 64 + __builtin_ctzll(words);
    return q->queue[b->list[64 * word + __builtin_ctzll(b->filled[word])] - 1].entry.index;
}
