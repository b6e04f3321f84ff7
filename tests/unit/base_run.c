/* Items over threads: order of finish, first failure, stop, few items. */
#include "brant/base.h"

#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>

#include <cmocka.h>

#include <stdlib.h>
#include <string.h>
#include <time.h>

#define ITEMS 500
#define WORKERS_MAX 64

typedef struct load {
    int threads;                     /* workers that may appear */
    int64_t bad_work, bad_finish;    /* items that fail, -1 for none */
    int64_t stop_at;                 /* item whose work asks for a stop, -1 for none */
    atomic_int work_done[ITEMS];     /* how often each item's work ran */
    int finish_done[ITEMS];          /* only ever touched in turn */
    int64_t holding[WORKERS_MAX];    /* the item a worker holds */
    int64_t next;                    /* the item whose finish is due */
    atomic_int in_finish;
    atomic_int asked;                /* to stop */
    double fraction;
    int steps;
} load;

static void init_load(load *l, int threads)
{
    memset(l, 0, sizeof *l);
    l->threads = threads;
    l->bad_work = l->bad_finish = l->stop_at = -1;
    for (int i = 0; i < WORKERS_MAX; i++)
        l->holding[i] = -1;
}

/* Uneven work, so that items end out of order. */
static void dawdle(int64_t item)
{
    struct timespec t = {0, (long)((item * 7919) % 13) * 20000};
    nanosleep(&t, NULL);
}

/* Does a count get to `wanted`, however slow the machine (ten seconds at least)? */
static bool comes_to(const atomic_int *count, int wanted)
{
    for (int i = 0; i < 200000 && atomic_load(count) < wanted; i++)
        dawdle(1);
    return atomic_load(count) >= wanted;
}

static brant_status work(brant_context *ctx, void *user, int worker, int64_t item)
{
    load *l = user;
    if (worker < 0 || worker >= l->threads || item < 0 || item >= ITEMS)
        return brant_fail(ctx, BRANT_ERR_INTERNAL, "worker %d, item %lld", worker,
                          (long long)item);
    l->holding[worker] = item;
    dawdle(item);
    atomic_fetch_add(&l->work_done[item], 1);
    if (item == l->stop_at)
        atomic_store(&l->asked, 1);
    if (item == l->bad_work)
        return brant_fail(ctx, BRANT_ERR_INPUT, "item %lld is bad", (long long)item);
    return BRANT_OK;
}

static brant_status finish(brant_context *ctx, void *user, int worker, int64_t item)
{
    load *l = user;
    if (atomic_fetch_add(&l->in_finish, 1) != 0)
        return brant_fail(ctx, BRANT_ERR_INTERNAL, "two finish at once");
    if (item != l->next++)
        return brant_fail(ctx, BRANT_ERR_INTERNAL, "item %lld out of turn", (long long)item);
    if (l->holding[worker] != item) /* its buffers must still be its own */
        return brant_fail(ctx, BRANT_ERR_INTERNAL, "item %lld finished by another worker",
                          (long long)item);
    l->finish_done[item]++;
    atomic_fetch_sub(&l->in_finish, 1);
    if (item == l->bad_finish)
        return brant_fail(ctx, BRANT_ERR_IO, "cannot write item %lld", (long long)item);
    return BRANT_OK;
}

static void progress(void *user, const char *stage, double fraction)
{
    load *l = user;
    if (strcmp(stage, "stage") == 0 && fraction > l->fraction)
        l->steps++;
    l->fraction = fraction;
}

static void every_item_is_finished_once_and_in_order(void **state)
{
    static const int threads[] = {1, 2, 3, 8};
    static load l;
    (void)state;
    for (size_t t = 0; t < sizeof threads / sizeof *threads; t++) {
        brant_context ctx;
        brant_context_init(&ctx);
        init_load(&l, threads[t]);
        ctx.threads = threads[t];
        ctx.progress = progress;
        ctx.user = &l;
        assert_int_equal(brant_run(&ctx, "stage", ITEMS, work, finish, &l), BRANT_OK);
        assert_string_equal(brant_message(&ctx), "");
        for (int i = 0; i < ITEMS; i++) {
            assert_int_equal(atomic_load(&l.work_done[i]), 1);
            assert_int_equal(l.finish_done[i], 1);
        }
        assert_int_equal(l.steps, ITEMS); /* rising all the way */
        assert_true(l.fraction == 1.0);
        brant_context_clear(&ctx);
    }
}

#define STEPS 3

typedef struct relay {
    atomic_llong next[STEPS]; /* the item whose turn it is */
    atomic_int inside[STEPS];
    atomic_int most, now;     /* steps under way at once */
    atomic_int met;           /* item 0 at its second step, item 1 at its first */
    int64_t bad_item;
    atomic_int after_bad;     /* later items at the bad step, or beyond it */
} relay;

static brant_status no_work(brant_context *ctx, void *user, int worker, int64_t item)
{
    (void)ctx, (void)user, (void)worker;
    dawdle(item);
    return BRANT_OK;
}

static brant_status run_leg(brant_context *ctx, void *user, int worker, int64_t item, int step)
{
    relay *r = user;
    (void)worker;
    if (atomic_fetch_add(&r->inside[step], 1) != 0 || item != r->next[step]++)
        return brant_fail(ctx, BRANT_ERR_INTERNAL, "item %lld out of turn", (long long)item);
    if (step > 0 && r->next[step] > r->next[step - 1])
        return brant_fail(ctx, BRANT_ERR_INTERNAL, "step %d before its time", step);
    int now = atomic_fetch_add(&r->now, 1) + 1;
    if (now > atomic_load(&r->most))
        atomic_store(&r->most, now);
    if (item + step == 1 && ctx->threads > 1) {
        atomic_fetch_add(&r->met, 1);
        if (!comes_to(&r->met, 2))
            return brant_fail(ctx, BRANT_ERR_INTERNAL, "one step waits for another's end");
    }
    dawdle(3);
    atomic_fetch_sub(&r->now, 1);
    if (r->bad_item >= 0 && step == 1 && item > r->bad_item)
        atomic_fetch_add(&r->after_bad, 1);
    atomic_fetch_sub(&r->inside[step], 1);
    if (step == 1 && item == r->bad_item)
        return brant_fail(ctx, BRANT_ERR_IO, "cannot write item %lld", (long long)item);
    return BRANT_OK;
}

/* Each step takes the items in order, one at a time; two steps run at once. */
static void steps_are_relays(void **state)
{
    (void)state;
    for (int threads = 1; threads <= 4; threads++) {
        static relay r;
        brant_context ctx;
        brant_context_init(&ctx);
        memset(&r, 0, sizeof r);
        r.bad_item = -1;
        ctx.threads = threads;
        if (brant_run_steps(&ctx, NULL, 100, no_work, run_leg, STEPS, &r) != BRANT_OK)
            fail_msg("%s", brant_message(&ctx));
        for (int step = 0; step < STEPS; step++)
            assert_int_equal(r.next[step], 100);
        if (threads == 1)
            assert_int_equal(atomic_load(&r.most), 1);
        memset(&r, 0, sizeof r);
        r.bad_item = 40;
        assert_int_equal(brant_run_steps(&ctx, NULL, 100, no_work, run_leg, STEPS, &r),
                         BRANT_ERR_IO);
        assert_string_equal(brant_message(&ctx), "cannot write item 40");
        assert_int_equal(atomic_load(&r.after_bad), 0);
        assert_true(r.next[2] <= 40); /* no step after one that failed */
        brant_context_clear(&ctx);
    }
}

/* Each of the first four items waits for the other three. */
static brant_status wait_for_four(brant_context *ctx, void *user, int worker, int64_t item)
{
    load *l = user;
    (void)worker;
    if (item < 4)
        atomic_fetch_add(&l->work_done[0], 1);
    if (!comes_to(&l->work_done[0], 4))
        return brant_fail(ctx, BRANT_ERR_INTERNAL, "fewer than four at work");
    return BRANT_OK;
}

static void threads_do_share_the_work(void **state)
{
    static load l;
    brant_context ctx;
    (void)state;
    brant_context_init(&ctx);
    init_load(&l, 4);
    ctx.threads = 4;
    assert_int_equal(brant_run(&ctx, NULL, ITEMS, wait_for_four, NULL, &l), BRANT_OK);
    brant_context_clear(&ctx);
}

/* Item 0 waits for all the others: only a run without a `finish` lets them pass. */
static brant_status wait_for_the_rest(brant_context *ctx, void *user, int worker, int64_t item)
{
    load *l = user;
    (void)worker;
    if (item > 0) {
        atomic_fetch_add(&l->work_done[0], 1);
        return BRANT_OK;
    }
    if (!comes_to(&l->work_done[0], 19))
        return brant_fail(ctx, BRANT_ERR_INTERNAL, "the others wait for item 0");
    return BRANT_OK;
}

static void without_a_finish_nobody_waits(void **state)
{
    static load l;
    brant_context ctx;
    (void)state;
    brant_context_init(&ctx);
    init_load(&l, 2);
    ctx.threads = 2;
    ctx.progress = progress;
    ctx.user = &l;
    assert_int_equal(brant_run(&ctx, "stage", 20, wait_for_the_rest, NULL, &l), BRANT_OK);
    assert_int_equal(l.steps, 20); /* progress rises all the same */
    assert_true(l.fraction == 1.0);
    brant_context_clear(&ctx);
}

static void more_threads_than_items(void **state)
{
    static load l;
    brant_context ctx;
    (void)state;
    for (int items = 0; items <= 3; items++) {
        brant_context_init(&ctx);
        /* workers beyond the items are not started */
        init_load(&l, items > 0 ? items : 1);
        ctx.threads = 50;
        assert_int_equal(brant_run(&ctx, NULL, items, work, finish, &l), BRANT_OK);
        assert_int_equal(l.next, items);
        brant_context_clear(&ctx);
    }
    brant_context_init(&ctx);
    init_load(&l, 1);
    ctx.threads = 0; /* at least one works */
    assert_int_equal(brant_run(&ctx, NULL, 3, work, finish, &l), BRANT_OK);
    assert_int_equal(l.next, 3);
    brant_context_clear(&ctx);
}

static void a_failure_stops_everything(void **state)
{
    static const int threads[] = {1, 4};
    static load l;
    (void)state;
    for (size_t t = 0; t < 2; t++) {
        brant_context ctx;
        brant_context_init(&ctx);
        init_load(&l, threads[t]);
        ctx.threads = threads[t];
        l.bad_work = 100;
        assert_int_equal(brant_run(&ctx, NULL, ITEMS, work, finish, &l), BRANT_ERR_INPUT);
        assert_string_equal(brant_message(&ctx), "item 100 is bad");
        assert_true(l.next <= 100);                            /* nothing at or past the bad one */
        assert_int_equal(l.finish_done[100], 0);
        assert_int_equal(atomic_load(&l.work_done[ITEMS - 1]), 0); /* and no new work */
        brant_context_clear(&ctx);

        brant_context_init(&ctx);
        init_load(&l, threads[t]);
        ctx.threads = threads[t];
        l.bad_finish = 100;
        assert_int_equal(brant_run(&ctx, NULL, ITEMS, work, finish, &l), BRANT_ERR_IO);
        assert_string_equal(brant_message(&ctx), "cannot write item 100");
        assert_int_equal(l.next, 101);
        brant_context_clear(&ctx);
    }
}

static brant_status fail_all(brant_context *ctx, void *user, int worker, int64_t item)
{
    (void)user;
    (void)worker;
    return brant_fail(ctx, BRANT_ERR_INPUT, "item %lld", (long long)item);
}

static void of_many_failures_one_is_told(void **state)
{
    brant_context ctx;
    (void)state;
    brant_context_init(&ctx);
    ctx.threads = 8;
    assert_int_equal(brant_run(&ctx, NULL, ITEMS, fail_all, NULL, NULL), BRANT_ERR_INPUT);
    assert_memory_equal(brant_message(&ctx), "item ", 5);
    brant_context_clear(&ctx);
}

static void the_stop_flag_stops(void **state)
{
    static const int threads[] = {1, 4};
    static load l;
    (void)state;
    for (size_t t = 0; t < 2; t++) {
        brant_context ctx;
        brant_context_init(&ctx);
        init_load(&l, threads[t]);
        ctx.threads = threads[t];
        ctx.stop = &l.asked;
        l.stop_at = 100;
        assert_int_equal(brant_run(&ctx, NULL, ITEMS, work, finish, &l), BRANT_ERR_INTERRUPTED);
        assert_string_equal(brant_message(&ctx), "interrupted");
        assert_int_equal(atomic_load(&l.work_done[ITEMS - 1]), 0);
        brant_context_clear(&ctx);
    }
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(every_item_is_finished_once_and_in_order),
        cmocka_unit_test(steps_are_relays),
        cmocka_unit_test(threads_do_share_the_work),
        cmocka_unit_test(without_a_finish_nobody_waits),
        cmocka_unit_test(more_threads_than_items),
        cmocka_unit_test(a_failure_stops_everything),
        cmocka_unit_test(of_many_failures_one_is_told),
        cmocka_unit_test(the_stop_flag_stops),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
