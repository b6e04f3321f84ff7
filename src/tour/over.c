/* Legs above one's own line: ground that one leg releases reaches another. */
#include "brant/tour.h"

#include <math.h>
#include <stdlib.h>

/* A leg that meets a zone. */
typedef struct meets {
    uint32_t zone;
    int tour;
    uint32_t leg;
    float high_m, low_m; /* of the leg's ground on it, and of that which it reaches, as in
                            brant_above; NaN none */
} meets;

typedef struct list {
    meets *meets;
    size_t count, capacity;
    size_t over_capacity;
} list;

static brant_status add_tour(brant_context *ctx, const brant_tour *tour, int index, list *l)
{
    brant_status status = brant_grow(ctx, &l->meets, &l->capacity, l->count + tour->above_count,
                                     sizeof *l->meets);
    for (size_t i = 0; i < tour->above_count && status == BRANT_OK; i++) {
        const brant_above *above = &tour->above[i];
        if (!isnan(above->high_m) || !isnan(above->low_m))
            l->meets[l->count++] = (meets){above->zone->number, index, above->leg, above->high_m,
                                           above->low_m};
    }
    return status;
}

static int by_zone(const void *a, const void *b)
{
    const meets *x = a, *y = b;
    if (x->zone != y->zone)
        return x->zone < y->zone ? -1 : 1;
    if (x->tour != y->tour)
        return x->tour < y->tour ? -1 : 1;
    return (x->leg > y->leg) - (x->leg < y->leg);
}

static int by_lower(const void *a, const void *b)
{
    const brant_over *x = a, *y = b;
    if (x->lower_tour != y->lower_tour)
        return x->lower_tour < y->lower_tour ? -1 : 1;
    if (x->lower != y->lower)
        return x->lower < y->lower ? -1 : 1;
    if (x->upper_tour != y->upper_tour)
        return x->upper_tour < y->upper_tour ? -1 : 1;
    return (x->upper > y->upper) - (x->upper < y->upper);
}

/* What other tours do to each other is theirs. And what is nowhere higher is not above,
 * though its zone is; where a height is not known, it may be. */
static bool is_over(const meets *upper, const meets *lower)
{
    return (upper->tour != lower->tour || upper->leg != lower->leg) &&
           (upper->tour == BRANT_OWN || lower->tour == BRANT_OWN) &&
           upper->high_m > lower->low_m; /* false for NaN */
}

/* The pairs among the legs first..end-1, which meet one zone. */
static brant_status pair(brant_context *ctx, list *l, size_t first, size_t end, brant_tour *tour)
{
    brant_status status = BRANT_OK;
    for (size_t i = first; i < end; i++)
        for (size_t k = first; k < end && status == BRANT_OK; k++) {
            const meets *upper = &l->meets[i], *lower = &l->meets[k];
            if (!is_over(upper, lower))
                continue;
            status = brant_grow(ctx, &tour->overs, &l->over_capacity, tour->over_count + 1,
                                sizeof *tour->overs);
            if (status == BRANT_OK)
                tour->overs[tour->over_count++] =
                    (brant_over){upper->tour, lower->tour, upper->leg, lower->leg};
        }
    return status;
}

static void sort_out(brant_tour *tour)
{
    size_t kept = 0;
    if (tour->over_count > 0)
        qsort(tour->overs, tour->over_count, sizeof *tour->overs, by_lower);
    for (size_t i = 0; i < tour->over_count; i++)
        if (kept == 0 || by_lower(&tour->overs[kept - 1], &tour->overs[i]) != 0)
            tour->overs[kept++] = tour->overs[i];
    tour->over_count = kept;
}

brant_status brant_tour_overs(brant_context *ctx, const brant_tour *others, size_t other_count,
                              brant_tour *tour)
{
    list l = {0};
    brant_status status = add_tour(ctx, tour, BRANT_OWN, &l);
    for (size_t i = 0; i < other_count && status == BRANT_OK; i++)
        status = add_tour(ctx, &others[i], (int)i, &l);
    if (l.count > 0)
        qsort(l.meets, l.count, sizeof *l.meets, by_zone);
    for (size_t first = 0, end; first < l.count && status == BRANT_OK; first = end) {
        for (end = first + 1; end < l.count && l.meets[end].zone == l.meets[first].zone;)
            end++;
        status = pair(ctx, &l, first, end, tour);
    }
    sort_out(tour);
    free(l.meets);
    return status;
}
