/* Labelling and joining. Parts are union-find sets whose root is always the
 * member that comes first, so a root's rank is its first cell's. */
#include "patches.h"

#include <math.h>
#include <stdlib.h>

#define NONE UINT32_MAX

static uint32_t find(uint32_t *parent, uint32_t i)
{
    while (parent[i] != i) {
        parent[i] = parent[parent[i]];
        i = parent[i];
    }
    return i;
}

static void unite(uint32_t *parent, uint32_t a, uint32_t b)
{
    a = find(parent, a);
    b = find(parent, b);
    if (a < b)
        parent[b] = a;
    else
        parent[a] = b;
}

/* The list's place of the cell before `k` in its row and in its column, or NONE. */
static uint32_t left_of(const brant_patches *p, uint32_t k)
{
    uint32_t cell = p->cell[k];
    return cell % (uint32_t)p->cols && p->at[cell - 1] ? p->at[cell - 1] - 1 : NONE;
}

static uint32_t above_of(const brant_patches *p, uint32_t k)
{
    uint32_t cell = p->cell[k], cols = (uint32_t)p->cols;
    return cell >= cols && p->at[cell - cols] ? p->at[cell - cols] - 1 : NONE;
}

void brant_patches_label(brant_patches *p, const uint32_t *key)
{
    uint32_t *part = p->part; /* first each cell's parent in the list, then its part */
    for (uint32_t k = 0; k < p->count; k++) {
        uint32_t left = left_of(p, k), above = above_of(p, k);
        part[k] = k;
        if (left != NONE && key[left] == key[k])
            part[k] = find(part, left);
        if (above != NONE && key[above] == key[k])
            unite(part, k, above);
    }
    p->parts = 0;
    for (uint32_t k = 0; k < p->count; k++) /* a parent comes before its child */
        part[k] = part[k] == k ? p->parts++ : part[part[k]];
}

/* ---- joining ------------------------------------------------------------ */

/* Edges that a part shares with another, a linked list a part. */
typedef struct joint {
    uint32_t to, next;
    uint32_t upright, level; /* cell sides along the columns, along the rows */
} joint;

/* A part that waits to be joined. Its size is counted in cells: areas differ in
 * their last digits, and those must not decide an order. */
typedef struct small_part {
    uint32_t cells, part;
} small_part;

typedef struct joining {
    double min_area;
    uint64_t width_mm, height_mm; /* of a cell; whole, so that equal edges are equal */
    double *area;              /* by root */
    uint32_t *cells;           /* by root */
    uint32_t *parent;
    uint32_t *first, *last;    /* list of joints, by root */
    joint *joints;
    size_t joint_count, joint_capacity;
    small_part *heap;          /* smallest on top; entries go stale when parts grow */
    size_t waiting;
    uint32_t *seen;            /* by root: the round in which the sums below were begun */
    uint64_t *shared;          /* mm shared with the part looked at */
    uint32_t round;
} joining;

static bool smaller(const small_part *a, const small_part *b)
{
    return a->cells < b->cells || (a->cells == b->cells && a->part < b->part);
}

static void heap_push(joining *j, uint32_t part)
{
    small_part entry = {j->cells[part], part};
    size_t i = j->waiting++;
    for (; i > 0 && smaller(&entry, &j->heap[(i - 1) / 2]); i = (i - 1) / 2)
        j->heap[i] = j->heap[(i - 1) / 2];
    j->heap[i] = entry;
}

static small_part heap_pop(joining *j)
{
    small_part top = j->heap[0], entry = j->heap[--j->waiting];
    size_t i = 0, child;
    while ((child = 2 * i + 1) < j->waiting) {
        if (child + 1 < j->waiting && smaller(&j->heap[child + 1], &j->heap[child]))
            child++;
        if (!smaller(&j->heap[child], &entry))
            break;
        j->heap[i] = j->heap[child];
        i = child;
    }
    j->heap[i] = entry;
    return top;
}

/* One cell side that `from` shares with `to`; consecutive ones add up. */
static brant_status add_joint(brant_context *ctx, joining *j, uint32_t from, uint32_t to,
                              bool upright)
{
    uint32_t top = j->first[from];
    /* NOLINTNEXTLINE(clang-analyzer-core.NullDereference): a top is one of the joints */
    if (top == NONE || j->joints[top].to != to) {
        brant_status status = brant_grow(ctx, &j->joints, &j->joint_capacity, j->joint_count + 1,
                                         sizeof *j->joints);
        if (status != BRANT_OK)
            return status;
        j->first[from] = (uint32_t)j->joint_count++;
        if (top == NONE)
            j->last[from] = j->first[from];
        j->joints[j->first[from]] = (joint){.to = to, .next = top};
        top = j->first[from];
    }
    j->joints[top].upright += upright;
    j->joints[top].level += !upright;
    return BRANT_OK;
}

static brant_status join_cells(brant_context *ctx, const brant_patches *p, joining *j,
                               const uint32_t *owner, uint32_t k, uint32_t other, bool upright)
{
    if (other == NONE || p->part[k] == p->part[other] || (owner && owner[k] != owner[other]))
        return BRANT_OK;
    brant_status status = add_joint(ctx, j, p->part[k], p->part[other], upright);
    if (status == BRANT_OK)
        status = add_joint(ctx, j, p->part[other], p->part[k], upright);
    return status;
}

/* Is `a` the better neighbour: the longer shared edge, of equals the first? */
static bool is_better(const joining *j, uint32_t a, uint32_t b)
{
    return j->shared[a] != j->shared[b] ? j->shared[a] > j->shared[b] : a < b;
}

/* Among a part's neighbours the one with the longest shared edge, NONE if none. */
static uint32_t best_neighbour(joining *j, uint32_t part)
{
    uint32_t best = NONE;
    j->round++;
    for (uint32_t i = j->first[part]; i != NONE; i = j->joints[i].next) {
        joint *edge = &j->joints[i];
        edge->to = find(j->parent, edge->to);
        if (edge->to == part)
            continue;
        if (j->seen[edge->to] != j->round) {
            j->seen[edge->to] = j->round;
            j->shared[edge->to] = 0;
        }
        j->shared[edge->to] += edge->upright * j->height_mm + edge->level * j->width_mm;
    }
    for (uint32_t i = j->first[part]; i != NONE; i = j->joints[i].next) {
        uint32_t to = j->joints[i].to;
        if (to != part && (best == NONE || is_better(j, to, best)))
            best = to;
    }
    return best;
}

static void merge(joining *j, uint32_t a, uint32_t b)
{
    uint32_t root = a < b ? a : b, other = a < b ? b : a;
    j->parent[other] = root;
    j->area[root] += j->area[other];
    j->cells[root] += j->cells[other];
    if (j->first[other] != NONE) {
        j->joints[j->last[other]].next = j->first[root];
        if (j->first[root] == NONE)
            j->last[root] = j->last[other];
        j->first[root] = j->first[other];
    }
    if (j->area[root] < j->min_area)
        heap_push(j, root);
}

static void join_smallest_first(joining *j, uint32_t parts)
{
    for (uint32_t i = 0; i < parts; i++)
        if (j->area[i] < j->min_area)
            heap_push(j, i);
    while (j->waiting > 0) {
        small_part next = heap_pop(j);
        if (j->parent[next.part] != next.part || j->cells[next.part] != next.cells)
            continue; /* stale: it has grown since */
        uint32_t neighbour = best_neighbour(j, next.part);
        if (neighbour != NONE)
            merge(j, next.part, neighbour);
    }
}

/* Roots keep their order and close ranks. */
static void renumber(brant_patches *p, joining *j)
{
    uint32_t parts = 0;
    for (uint32_t i = 0; i < p->parts; i++) /* `first` is done with: the new rank */
        j->first[i] = j->parent[i] == i ? parts++ : 0;
    for (uint32_t k = 0; k < p->count; k++)
        p->part[k] = j->first[find(j->parent, p->part[k])];
    p->parts = parts;
}

static brant_status joining_begin(brant_context *ctx, joining *j, const brant_patches *p,
                                  const uint32_t *owner)
{
    const size_t parts = p->parts;
    brant_status status = BRANT_OK;
    j->area = brant_alloc(ctx, parts, sizeof *j->area);
    j->cells = brant_alloc(ctx, parts, sizeof *j->cells);
    j->parent = brant_alloc(ctx, parts, sizeof *j->parent);
    j->first = brant_alloc(ctx, parts, sizeof *j->first);
    j->last = brant_alloc(ctx, parts, sizeof *j->last);
    j->seen = brant_alloc(ctx, parts, sizeof *j->seen);
    j->shared = brant_alloc(ctx, parts, sizeof *j->shared);
    j->heap = brant_alloc(ctx, 2 * parts, sizeof *j->heap); /* one a part, one a merger */
    if (!j->area || !j->cells || !j->parent || !j->first || !j->last || !j->seen || !j->shared ||
        !j->heap)
        return BRANT_ERR_MEMORY;
    for (uint32_t i = 0; i < p->parts; i++) {
        j->parent[i] = i;
        j->first[i] = j->last[i] = NONE;
    }
    for (uint32_t k = 0; k < p->count && status == BRANT_OK; k++) {
        j->area[p->part[k]] += p->area[k];
        j->cells[p->part[k]]++;
        status = join_cells(ctx, p, j, owner, k, left_of(p, k), true);
        if (status == BRANT_OK)
            status = join_cells(ctx, p, j, owner, k, above_of(p, k), false);
    }
    return status;
}

static void joining_end(joining *j)
{
    free(j->area);
    free(j->cells);
    free(j->parent);
    free(j->first);
    free(j->last);
    free(j->seen);
    free(j->shared);
    free(j->heap);
    free(j->joints);
}

static uint64_t whole_mm(double metres)
{
    return (uint64_t)fmin(fmax(round(metres * 1000.0), 1.0), 1e9);
}

brant_status brant_patches_join(brant_context *ctx, brant_patches *p, const uint32_t *owner,
                                double min_area_m2, double width, double height)
{
    joining j = {.min_area = min_area_m2, .width_mm = whole_mm(width),
                 .height_mm = whole_mm(height)};
    brant_status status = joining_begin(ctx, &j, p, owner);
    if (status == BRANT_OK) {
        join_smallest_first(&j, p->parts);
        renumber(p, &j);
    }
    joining_end(&j);
    return status;
}
