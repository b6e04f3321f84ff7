#include "program.h"

#include <errno.h>
#include <signal.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <time.h>
#include <unistd.h>

/* ---- signals ------------------------------------------------------------ */

/* static: a signal may come when main() has ended */
static atomic_int stop_asked;
static atomic_llong asked_ms; /* when it first was; 0: never */

/* timeout(1) sends its signal twice at once, and so do a closed terminal and its shell:
 * what comes that soon is the same wish. */
#define SAME_MS 1000

static void on_signal(int number)
{
    struct timespec now = {0, 0};
    long long first = 0;
    clock_gettime(CLOCK_MONOTONIC, &now);
    long long ms = 1 + now.tv_sec * 1000LL + now.tv_nsec / 1000000;
    atomic_store(&stop_asked, 1);
    if (!atomic_compare_exchange_strong(&asked_ms, &first, ms) && ms - first > SAME_MS) {
        signal(number, SIG_DFL);
        raise(number); /* ends the program as this handler returns */
    }
}

/* The first SIGINT, SIGTERM or SIGHUP (a closed terminal) asks the work to stop,
 * and what is staged is removed; one that comes later ends the program on the spot.
 * Under nohup a closed terminal stays ignored. A closed pipe, and a limit on a file's
 * size, are errors of the write that met them. */
static void catch_signals(tool *t)
{
    struct sigaction action, hangup;
    t->ctx.stop = &stop_asked;
    memset(&action, 0, sizeof action);
    action.sa_handler = on_signal; /* no SA_RESTART: what waits must wake up */
    sigemptyset(&action.sa_mask);
    sigaction(SIGINT, &action, NULL);
    sigaction(SIGTERM, &action, NULL);
    if (sigaction(SIGHUP, NULL, &hangup) == 0 && hangup.sa_handler != SIG_IGN)
        sigaction(SIGHUP, &action, NULL);
    signal(SIGPIPE, SIG_IGN);
    signal(SIGXFSZ, SIG_IGN);
}

/* ---- standard error ----------------------------------------------------- */

static void erase_progress(tool *t)
{
    if (t->drawn > 0)
        fprintf(stderr, "\r%*s\r", t->drawn, "");
    t->drawn = 0;
}

static void on_log(void *user, brant_log_level level, const char *text)
{
    tool *t = user;
    if (level == BRANT_LOG_NOTE && t->values.quiet)
        return;
    erase_progress(t);
    fprintf(stderr, "%s: %s: %s\n", tool_name(t->program),
            level == BRANT_LOG_NOTE ? "note" : "warning", text);
}

static void on_progress(void *user, const char *stage, double fraction)
{
    tool *t = user;
    int percent = (int)(100.0 * fraction);
    if (!t->progress || (percent == t->percent && stage == t->stage))
        return;
    erase_progress(t);
    t->drawn = fprintf(stderr, "%s %d %%", stage, percent);
    t->percent = percent;
    t->stage = stage;
    fflush(stderr);
}

/* ---- begin and end ------------------------------------------------------ */

static void print_help_or_version(tool *t)
{
    brant_text text = {0};
    if (t->values.help)
        tool_help(t->program, &text);
    else
        brant_text_add(&text, "%s %s\n", tool_name(t->program), brant_version());
    t->status = brant_text_status(&t->ctx, &text);
    if (t->status == BRANT_OK)
        fputs(text.data, stdout);
    brant_text_clear(&text);
}

bool tool_begin(tool *t, tool_program program, int argc, char **argv)
{
    memset(t, 0, sizeof *t);
    brant_context_init(&t->ctx);
    t->program = program;
    t->status = tool_parse(&t->ctx, program, argc, argv, &t->values);
    if (t->status != BRANT_OK)
        return false;
    if (t->values.help || t->values.version) {
        print_help_or_version(t);
        return false;
    }
    t->ctx.threads = t->values.threads;
    t->ctx.user = t;
    t->ctx.log = on_log;
    t->ctx.progress = on_progress;
    t->progress = !t->values.quiet && isatty(STDERR_FILENO);
    brant_store_cache_limit(BRANT_CACHE);
    brant_store_own_drivers();
    catch_signals(t);
    t->working = true;
    return true;
}

/* The last write is a write too: a full disk or a closed pipe shows here. */
static void close_stdout(tool *t)
{
    errno = 0;
    bool failed = ferror(stdout) || fflush(stdout) != 0;
    if (fclose(stdout) != 0 && errno != EBADF) /* EBADF: closed by the caller, nothing written */
        failed = true;
    if (failed && t->status == BRANT_OK)
        t->status = brant_fail(&t->ctx, BRANT_ERR_IO, "standard output: %s",
                               errno ? strerror(errno) : "write failed");
}

int tool_end(tool *t)
{
    int code = EXIT_SUCCESS;
    erase_progress(t);
    close_stdout(t);
    if (t->status != BRANT_OK) {
        const char *message = brant_message(&t->ctx);
        fprintf(stderr, "%s: %s\n", tool_name(t->program),
                *message ? message : "failed without a message");
        code = t->status == BRANT_ERR_USAGE && !t->working ? 2 : 1;
    }
    brant_context_clear(&t->ctx);
    return code;
}

/* ---- from options to the library ---------------------------------------- */

brant_dem_options tool_dem_options(const tool_values *values)
{
    return (brant_dem_options){
        .band = values->band_number,
        .scale_m = values->scale_m,
        .vertical_unit = values->vertical_unit,
        .nodata = values->nodata,
        .nodata_count = values->nodata_count,
    };
}

brant_packing tool_packing(const tool_values *values)
{
    brant_packing packing = {brant_compress_default(), values->cog};
    if (values->compress && strcmp(values->compress, "none") == 0)
        packing.compress = BRANT_COMPRESS_NONE;
    else if (values->compress)
        packing.compress = strcmp(values->compress, "zstd") == 0 ? BRANT_COMPRESS_ZSTD
                                                                 : BRANT_COMPRESS_DEFLATE;
    return packing;
}

brant_status tool_output(brant_context *ctx, brant_stage *stage, const char *target, bool text,
                         const char **path)
{
    *path = NULL;
    return target ? brant_stage_output(ctx, stage, target, text, path) : BRANT_OK;
}

void tool_note_reach(brant_context *ctx, const tool_values *values)
{
    const double angle = values->reach.reach_angle_deg;
    if (angle < BRANT_RANK_DEG || angle > BRANT_RANK_DEG)
        brant_note(ctx, "--reach-angle %g: at others than %g some of what is reached is missed",
                   angle, BRANT_RANK_DEG);
}
