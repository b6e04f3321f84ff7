/* Items over threads, with an ordered end. */
#include "brant/base.h"

#include <sched.h>
#include <stdlib.h>

typedef struct job {
    brant_context *ctx;
    const char *stage;
    int64_t count;
    brant_work_fn work, finish;
    brant_step_fn step; /* in place of `finish` */
    int steps;          /* 0: neither */
    void *user;
    pthread_mutex_t lock;
    pthread_cond_t turn_passed;
    int64_t next;        /* the next item to hand out */
    int64_t turn[BRANT_STEPS_MAX]; /* of each step, the item whose turn it is */
    int64_t done;        /* items */
    brant_status status; /* the first failure */
} job;

typedef struct worker {
    job *job;
    int index;
    pthread_t thread;
} worker;

/* The next item, or -1: none left, or the job has failed. */
static int64_t take_item(job *j)
{
    pthread_mutex_lock(&j->lock);
    int64_t item = j->status == BRANT_OK && j->next < j->count ? j->next++ : -1;
    pthread_mutex_unlock(&j->lock);
    return item;
}

static void give_up(job *j, brant_status status)
{
    pthread_mutex_lock(&j->lock);
    if (j->status == BRANT_OK)
        j->status = status;
    pthread_cond_broadcast(&j->turn_passed);
    pthread_mutex_unlock(&j->lock);
}

/* Wait until it is the item's turn; false if the job has failed meanwhile. */
static bool await_turn(job *j, int step, int64_t item)
{
    pthread_mutex_lock(&j->lock);
    while (j->status == BRANT_OK && j->turn[step] != item)
        pthread_cond_wait(&j->turn_passed, &j->lock);
    bool ours = j->status == BRANT_OK;
    pthread_mutex_unlock(&j->lock);
    return ours;
}

static void pass_turn(job *j, int step)
{
    pthread_mutex_lock(&j->lock);
    j->turn[step]++;
    pthread_cond_broadcast(&j->turn_passed);
    pthread_mutex_unlock(&j->lock);
}

static void count_item(job *j)
{
    pthread_mutex_lock(&j->lock);
    j->done++;
    if (j->stage)
        brant_progress(j->ctx, j->stage, (double)j->done / (double)j->count);
    pthread_mutex_unlock(&j->lock);
}

static brant_status do_item(job *j, int index, int64_t item)
{
    brant_status status = brant_check_stop(j->ctx);
    if (status == BRANT_OK)
        status = j->work(j->ctx, j->user, index, item);
    /* without a step nobody waits for a slower neighbour */
    for (int step = 0; step < j->steps && status == BRANT_OK; step++) {
        if (!await_turn(j, step, item))
            return BRANT_OK; /* somebody else's failure is already recorded */
        status = j->step ? j->step(j->ctx, j->user, index, item, step)
                         : j->finish(j->ctx, j->user, index, item);
        if (status == BRANT_OK)
            pass_turn(j, step);
    }
    if (status == BRANT_OK)
        count_item(j);
    return status;
}

static void *work_loop(void *argument)
{
    worker *w = argument;
    int64_t item;
    while ((item = take_item(w->job)) >= 0) {
        brant_status status = do_item(w->job, w->index, item);
        if (status != BRANT_OK)
            give_up(w->job, status);
    }
    return NULL;
}

/* Start workers 1..threads-1; the calling thread is worker 0. */
static int start_workers(job *j, worker *workers, int threads)
{
    int started = 1;
    for (; started < threads; started++) {
        workers[started] = (worker){.job = j, .index = started};
        if (pthread_create(&workers[started].thread, NULL, work_loop, &workers[started])) {
            give_up(j, brant_fail(j->ctx, BRANT_ERR_THREAD, "cannot start thread %d of %d",
                                  started + 1, threads));
            break;
        }
    }
    return started;
}

static brant_status run(job *j)
{
    int threads = j->ctx->threads < 1 ? 1 : j->ctx->threads;
    if (threads > j->count)
        threads = j->count > 0 ? (int)j->count : 1;
    worker *workers = brant_alloc(j->ctx, (size_t)threads, sizeof *workers);
    if (!workers)
        return BRANT_ERR_MEMORY;
    pthread_mutex_init(&j->lock, NULL);
    pthread_cond_init(&j->turn_passed, NULL);
    int started = start_workers(j, workers, threads);
    workers[0] = (worker){.job = j, .index = 0};
    work_loop(&workers[0]);
    for (int i = 1; i < started; i++)
        pthread_join(workers[i].thread, NULL);
    pthread_cond_destroy(&j->turn_passed);
    pthread_mutex_destroy(&j->lock);
    free(workers);
    return j->status;
}

brant_status brant_run(brant_context *ctx, const char *stage, int64_t count, brant_work_fn work,
                       brant_work_fn finish, void *user)
{
    return run(&(job){.ctx = ctx, .stage = stage, .count = count, .work = work, .finish = finish,
                      .steps = finish ? 1 : 0, .user = user});
}

brant_status brant_run_steps(brant_context *ctx, const char *stage, int64_t count,
                             brant_work_fn work, brant_step_fn step, int steps, void *user)
{
    if (steps > BRANT_STEPS_MAX)
        return brant_fail(ctx, BRANT_ERR_INTERNAL, "%d steps", steps);
    return run(&(job){.ctx = ctx, .stage = stage, .count = count, .work = work, .step = step,
                      .steps = steps, .user = user});
}

int brant_processors(void)
{
    cpu_set_t set;
    if (sched_getaffinity(0, sizeof set, &set) != 0)
        return 1;
    int count = CPU_COUNT(&set);
    return count < 1 ? 1 : count;
}
