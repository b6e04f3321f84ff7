/* The page cache: computed on first use, pinned while a search stands on it,
 * dropped least recently used when the budget is full. A page's content depends
 * on its place alone, so what is dropped and computed again is the same. */
#include "page.h"

#include <stdlib.h>

typedef struct slot {
    int pcol, prow;
    int pins;
    bool ready;          /* computed, or failed with `status` */
    brant_status status;
    uint64_t used;      /* clock of its last pin */
    flow_page *page;
    struct slot *next;  /* in its bucket */
} slot;

#define BUCKETS 4096

struct brant_flow {
    brant_source *source;
    const brant_ground *ground;
    size_t limit, count; /* pages */
    uint64_t clock;
    pthread_mutex_t lock;
    pthread_cond_t ready;
    slot *bucket[BUCKETS];
};

const brant_ground *brant_flow_ground(const brant_flow *flow)
{
    return flow->ground;
}

void brant_flow_size(const brant_flow *flow, int *cols, int *rows)
{
    *cols = flow->source->cols;
    *rows = flow->source->rows;
}

brant_status brant_flow_create(brant_context *ctx, brant_source *source,
                               const brant_ground *ground, size_t budget_bytes, brant_flow **flow)
{
    brant_flow *f = brant_alloc(ctx, 1, sizeof *f);
    if (!f)
        return BRANT_ERR_MEMORY;
    f->source = source;
    f->ground = ground;
    f->limit = budget_bytes / sizeof(flow_page);
    pthread_mutex_init(&f->lock, NULL);
    pthread_cond_init(&f->ready, NULL);
    *flow = f;
    return BRANT_OK;
}

void brant_flow_destroy(brant_flow *flow)
{
    if (!flow)
        return;
    for (int b = 0; b < BUCKETS; b++)
        while (flow->bucket[b]) {
            slot *s = flow->bucket[b];
            flow->bucket[b] = s->next;
            free(s->page);
            free(s);
        }
    pthread_cond_destroy(&flow->ready);
    pthread_mutex_destroy(&flow->lock);
    free(flow);
}

static slot **bucket_of(brant_flow *flow, int pcol, int prow)
{
    uint32_t hash = (uint32_t)pcol * 2654435761u ^ (uint32_t)prow * 2246822519u;
    return &flow->bucket[(hash >> 16) % BUCKETS];
}

static slot *find(brant_flow *flow, int pcol, int prow)
{
    slot *s = *bucket_of(flow, pcol, prow);
    while (s && (s->pcol != pcol || s->prow != prow))
        s = s->next;
    return s;
}

static void unlink_slot(brant_flow *flow, slot *gone)
{
    slot **link = bucket_of(flow, gone->pcol, gone->prow);
    while (*link != gone)
        link = &(*link)->next;
    *link = gone->next;
    flow->count--;
}

/* The unpinned page that was used longest ago, taken out; NULL if all are pinned. */
static flow_page *evict(brant_flow *flow)
{
    slot *oldest = NULL;
    for (int b = 0; b < BUCKETS; b++)
        for (slot *s = flow->bucket[b]; s; s = s->next)
            if (s->pins == 0 && s->ready && (!oldest || s->used < oldest->used))
                oldest = s;
    if (!oldest)
        return NULL;
    flow_page *page = oldest->page;
    unlink_slot(flow, oldest);
    free(oldest);
    return page;
}

/* A new slot, pinned, not ready. Over the budget it takes an old page's place;
 * when every page is pinned it goes over the budget rather than fail. */
static slot *add(brant_context *ctx, brant_flow *flow, int pcol, int prow)
{
    flow_page *page = flow->count >= flow->limit ? evict(flow) : NULL;
    slot *s = brant_alloc(ctx, 1, sizeof *s);
    if (s && !page)
        page = brant_alloc(ctx, 1, sizeof *page);
    if (!s || !page) {
        free(page);
        free(s);
        return NULL;
    }
    slot **head = bucket_of(flow, pcol, prow);
    *s = (slot){.pcol = pcol, .prow = prow, .pins = 1, .page = page, .next = *head};
    *head = s;
    flow->count++;
    return s;
}

static void fill(brant_context *ctx, brant_flow *flow, slot *s)
{
    pthread_mutex_unlock(&flow->lock);
    brant_status status = brant_page_compute(ctx, flow->source, flow->ground, s->pcol, s->prow,
                                             s->page);
    pthread_mutex_lock(&flow->lock);
    s->status = status;
    s->ready = true;
    pthread_cond_broadcast(&flow->ready);
}

brant_status brant_flow_pin(brant_context *ctx, brant_flow *flow, int pcol, int prow,
                      const flow_page **page)
{
    brant_status status = BRANT_ERR_MEMORY;
    pthread_mutex_lock(&flow->lock);
    slot *s = find(flow, pcol, prow);
    if (s) {
        s->pins++;
        while (!s->ready)
            pthread_cond_wait(&flow->ready, &flow->lock);
    } else if ((s = add(ctx, flow, pcol, prow))) {
        fill(ctx, flow, s);
    }
    if (s) {
        s->used = ++flow->clock;
        *page = s->page;
        status = s->status;
        if (status != BRANT_OK)
            s->pins--;
    }
    pthread_mutex_unlock(&flow->lock);
    return status;
}

void brant_flow_unpin(brant_flow *flow, int pcol, int prow)
{
    pthread_mutex_lock(&flow->lock);
    slot *s = find(flow, pcol, prow);
    if (s)
        s->pins--;
    pthread_mutex_unlock(&flow->lock);
}
