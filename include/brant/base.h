/* base: status, messages, memory, numbers as text, threads.
 *
 * The first room: everything else may use it, it uses nothing but libc and
 * POSIX threads. */
#ifndef BRANT_BASE_H
#define BRANT_BASE_H

#include <pthread.h>
#include <stdarg.h>
#include <stdatomic.h>
#include <stdbool.h>
#include <stddef.h>
#include <stdint.h>

/* libbrant exports what the public headers declare, and nothing else. */
#pragma GCC visibility push(default)

#ifdef __GNUC__
#define BRANT_PRINTF(text, first) __attribute__((format(printf, text, first)))
#else
#define BRANT_PRINTF(text, first)
#endif

/* Run-time choice of instruction set: a loop is written once, as an inline body, and
 * compiled for what every machine of its kind has and for wider lanes. Both do the same
 * operations in single precision, and nothing is contracted, so both give the same bytes. */
#define BRANT_BODY static inline __attribute__((always_inline))
#if defined(__x86_64__) && defined(__GNUC__)
#define BRANT_WIDE __attribute__((target("avx2")))
#define BRANT_HAS_WIDE() (__builtin_cpu_supports("avx2") != 0)
#else
#define BRANT_WIDE
#define BRANT_HAS_WIDE() 0
#endif

/* The program's version, "0.1.0". */
const char *brant_version(void);

/* ---- status and messages ------------------------------------------------ */

/* What a library call returns, grouped by whose fault a failure is. */
typedef enum brant_status {
    BRANT_OK = 0,
    /* the caller's: */
    BRANT_ERR_INPUT,       /* a file or a value in it that cannot be used */
    BRANT_ERR_USAGE,       /* options that contradict each other or the input */
    /* the machine's: */
    BRANT_ERR_IO,          /* open, read, write, sync or rename failed */
    BRANT_ERR_MEMORY,      /* an allocation failed */
    BRANT_ERR_THREAD,      /* a thread could not be started */
    /* nobody's: */
    BRANT_ERR_INTERRUPTED, /* stopped on request, see brant_context.stop */
    /* ours: */
    BRANT_ERR_INTERNAL     /* a broken promise inside brant */
} brant_status;

#define BRANT_MESSAGE_MAX 1024

typedef enum brant_log_level {
    BRANT_LOG_NOTE,   /* worth a line: an assumption made, a datum shift used */
    BRANT_LOG_WARNING /* the result stands, but the reader must know this */
} brant_log_level;

/* Called from one thread at a time. `text` is one line without a newline. */
typedef void (*brant_log_fn)(void *user, brant_log_level level, const char *text);
/* `fraction` runs from 0 to 1 within a stage. Called from one thread at a time. */
typedef void (*brant_progress_fn)(void *user, const char *stage, double fraction);

/* What a call needs from its caller: owned by the caller, may be shared by the
 * threads of one job. The library never prints; it calls `log`. */
typedef struct brant_context {
    int threads;                /* worker threads a stage may use, at least 1 */
    brant_log_fn log;           /* NULL: warnings are dropped */
    brant_progress_fn progress; /* NULL: no progress */
    void *user;                 /* handed to log and progress */
    const atomic_int *stop;     /* the caller's flag, NULL: none; non-zero (also from a signal
                                 * handler) stops the work */

    /* private: use brant_fail, brant_message */
    pthread_mutex_t lock;
    brant_status status;
    char message[BRANT_MESSAGE_MAX];
} brant_context;

/* Zero the context, threads 1. Pair with brant_context_clear. */
void brant_context_init(brant_context *ctx);
void brant_context_clear(brant_context *ctx);

/* Record a failure and return `status`. The first failure wins: later ones
 * (other threads, clean-up) return their status and leave the message alone.
 * The message is one line: file, place, problem. */
brant_status brant_fail(brant_context *ctx, brant_status status, const char *format, ...)
    BRANT_PRINTF(3, 4);
/* The first failure's message, "" if none. Valid until the context changes. */
const char *brant_message(const brant_context *ctx);
/* Forget a failure that was handled. */
void brant_forgive(brant_context *ctx);

void brant_warn(brant_context *ctx, const char *format, ...) BRANT_PRINTF(2, 3);
void brant_note(brant_context *ctx, const char *format, ...) BRANT_PRINTF(2, 3);
void brant_progress(brant_context *ctx, const char *stage, double fraction);
/* BRANT_ERR_INTERRUPTED (with a message) once *ctx->stop is set, else BRANT_OK. */
brant_status brant_check_stop(brant_context *ctx);

/* ---- memory ------------------------------------------------------------- */

/* `count` elements of `size` bytes, zeroed; NULL and a recorded failure when the
 * product overflows or memory is short. Never NULL for count 0. free() frees. */
void *brant_alloc(brant_context *ctx, size_t count, size_t size);
/* Make `*array` (a pointer to elements of `size` bytes) hold at least `need`
 * elements, growing by half; new elements are not initialised. */
brant_status brant_grow(brant_context *ctx, void *array, size_t *capacity, size_t need,
                        size_t size);
char *brant_strdup(brant_context *ctx, const char *text);

/* ---- text --------------------------------------------------------------- */

/* A growing string. Zero it to start, brant_text_clear to end. The first
 * failed allocation sets `failed` and later additions do nothing, so that a
 * writer checks once, at the end (brant_text_status). */
typedef struct brant_text {
    char *data; /* NUL-terminated once anything was added, else NULL */
    size_t length;
    size_t capacity;
    bool failed;
} brant_text;

/* printf in the C locale, whatever the caller's locale is. */
void brant_text_add(brant_text *text, const char *format, ...) BRANT_PRINTF(2, 3);
void brant_text_add_bytes(brant_text *text, const char *bytes, size_t count);
/* `value` with `decimals` decimals, dot as the decimal sign, "-0" as "0";
 * nothing for NaN (a field that does not apply is empty). */
void brant_text_number(brant_text *text, double value, int decimals);
/* `value` in whole units by way of tenths, which tables and plan.json hold: what is read
 * back from them is then the same whole number (3506.52, and 3506.5: 3507). */
double brant_text_whole(double value);
/* brant_text_whole with commas between thousands: 12,345. */
void brant_text_thousands(brant_text *text, double value);
/* `field` as a field of RFC 4180: quoted only where it must be. */
void brant_text_csv(brant_text *text, const char *field);
brant_status brant_text_status(brant_context *ctx, const brant_text *text);
void brant_text_clear(brant_text *text);

/* The whole of `text` as a decimal number: [+-]digits[.digits][e[+-]digits],
 * surrounding XML white space allowed, nothing else: no hex, no nan, no inf, no
 * comma. False if it is not one or overflows. Locale plays no part. */
bool brant_parse_number(const char *text, double *value);
/* The same for a whole number within [low, high]. */
bool brant_parse_integer(const char *text, long long low, long long high, long long *value);

/* Does a file's name end in a suffix such as ".gpkg", in any case, with something before it? */
bool brant_ends_in(const char *name, const char *suffix);

/* ---- threads ------------------------------------------------------------ */

/* Do item `item` on worker `worker` (0..threads-1). */
typedef brant_status (*brant_work_fn)(brant_context *ctx, void *user, int worker, int64_t item);

/* Run `work` for items 0..count-1 on ctx->threads threads; then, for each item
 * in rising order and never two at once, `finish` (may be NULL) on the worker
 * that did the work. A worker holds one item at a time, so its buffers need no
 * copies. Results that leave through `finish` are the same for every number of
 * threads. The first failure stops everything and is returned. `stage` names
 * the progress, NULL for none. */
brant_status brant_run(brant_context *ctx, const char *stage, int64_t count, brant_work_fn work,
                       brant_work_fn finish, void *user);

/* The same with an end of several steps (0.., at most BRANT_STEPS_MAX): each goes through the
 * items in rising order, never two at once, but one thread may be at an item's second step
 * while another is at the next item's first: several files fill at once. */
#define BRANT_STEPS_MAX 8
typedef brant_status (*brant_step_fn)(brant_context *ctx, void *user, int worker, int64_t item,
                                      int step);
brant_status brant_run_steps(brant_context *ctx, const char *stage, int64_t count,
                             brant_work_fn work, brant_step_fn step, int steps, void *user);

/* Could `count` threads run besides those there are? They are started, and ended. For
 * libraries that start their own and hang, or end the process, where they cannot. */
bool brant_spare_threads(int count);

/* Processors this process may use, at least 1. */
int brant_processors(void);

#pragma GCC visibility pop

#endif
