/* Commit: check and sync all, write what goes through, then rename into place. */
#include "stage.h"

#include <errno.h>
#include <fcntl.h>
#include <signal.h>
#include <stdio.h>
#include <string.h>
#include <sys/stat.h>
#include <time.h>
#include <unistd.h>

/* ---- commit: what can fail before anything shows ------------------------ */

static brant_status sync_path(brant_context *ctx, const char *path, const char *target)
{
    int fd = open(path, O_RDONLY | O_CLOEXEC);
    int problem = fd < 0 ? errno : 0;
    if (fd >= 0) {
        /* some file systems have nothing to sync and say so */
        if (fsync(fd) != 0 && errno != EINVAL && errno != EROFS)
            problem = errno;
        close(fd);
    }
    if (problem)
        return brant_fail(ctx, BRANT_ERR_IO, "%s: cannot write: %s", target, strerror(problem));
    return BRANT_OK;
}

static brant_status check_output(brant_context *ctx, const brant_stage *stage,
                                 const brant_stage_file *out)
{
    struct stat info;
    brant_status status = brant_stage_refuse_input(ctx, stage, out);
    if (status != BRANT_OK || out->through)
        return status;
    if (stat(out->work, &info) != 0 || !S_ISREG(info.st_mode))
        return brant_fail(ctx, BRANT_ERR_INTERNAL, "%s: announced and not written", out->target);
    if (stat(out->place, &info) == 0)
        return brant_stage_refuse_odd(ctx, out, info.st_mode);
    return BRANT_OK;
}

/* Write to standard output, a pipe or a device. SIGPIPE would end the program
 * without a word: it is held back and taken off this thread, EPIPE is the error. */
static int write_quietly(brant_context *ctx, int fd, const brant_text *text)
{
    sigset_t pipe_only, before, pending;
    struct timespec now = {0, 0};
    sigemptyset(&pipe_only);
    sigaddset(&pipe_only, SIGPIPE);
    sigpending(&pending);
    bool was_pending = sigismember(&pending, SIGPIPE) == 1;
    pthread_sigmask(SIG_BLOCK, &pipe_only, &before);
    int problem = brant_stage_write_all(ctx, fd, text->data ? text->data : "", text->length);
    if (problem == EPIPE && !was_pending)
        while (sigtimedwait(&pipe_only, NULL, &now) < 0 && errno == EINTR)
            ;
    pthread_sigmask(SIG_SETMASK, &before, NULL);
    return problem;
}

static brant_status write_through(brant_context *ctx, const brant_stage_file *out)
{
    const char *name = out->place ? out->target : "standard output";
    int problem = 0;
    if (!out->written)
        return brant_fail(ctx, BRANT_ERR_INTERNAL, "%s: announced and not written", name);
    if (!out->place && fflush(stdout) != 0) /* what the program printed before comes first */
        problem = errno;
    int fd = out->place ? open(out->place, O_WRONLY | O_CLOEXEC | O_NOCTTY) : STDOUT_FILENO;
    if (fd < 0)
        problem = errno;
    if (!problem)
        problem = write_quietly(ctx, fd, &out->held);
    if (out->place && fd >= 0 && close(fd) != 0 && !problem)
        problem = errno;
    if (problem == EINTR && brant_check_stop(ctx) != BRANT_OK) /* nobody read, or even opened it */
        return BRANT_ERR_INTERRUPTED;
    if (problem)
        return brant_fail(ctx, BRANT_ERR_IO, "%s: cannot write: %s", name, strerror(problem));
    return BRANT_OK;
}

/* ---- commit: side-cars -------------------------------------------------- */

static bool exists(const char *path)
{
    struct stat info;
    return lstat(path, &info) == 0;
}

typedef brant_status (*on_side_car)(brant_context *ctx, const brant_stage_file *out,
                                    const char *staged, const char *placed);

static brant_status each_side_car(brant_context *ctx, const brant_stage_file *out, on_side_car act)
{
    brant_status status = BRANT_OK;
    for (int i = 0; status == BRANT_OK && !out->text && brant_stage_side_cars[i]; i++) {
        brant_text staged = {0}, placed = {0};
        brant_stage_side_car(out->work, brant_stage_side_cars[i], &staged);
        brant_stage_side_car(out->place, brant_stage_side_cars[i], &placed);
        status = brant_text_status(ctx, &staged);
        if (status == BRANT_OK)
            status = brant_text_status(ctx, &placed);
        if (status == BRANT_OK)
            status = act(ctx, out, staged.data, placed.data);
        brant_text_clear(&staged);
        brant_text_clear(&placed);
    }
    return status;
}

static brant_status sync_side_car(brant_context *ctx, const brant_stage_file *out,
                                  const char *staged, const char *placed)
{
    (void)placed;
    return exists(staged) ? sync_path(ctx, staged, out->target) : BRANT_OK;
}

static brant_status rename_to(brant_context *ctx, const char *target, const char *from,
                              const char *to)
{
    if (rename(from, to) != 0)
        return brant_fail(ctx, BRANT_ERR_IO, "%s: cannot rename into place: %s", target,
                          strerror(errno));
    return BRANT_OK;
}

static bool is_style(const char *path)
{
    size_t length = strlen(path), tail = strlen(BRANT_STAGE_STYLE);
    return length > tail && strcmp(path + length - tail, BRANT_STAGE_STYLE) == 0;
}

/* The new side-car takes the old one's place; an old one without a successor
 * belongs to the file that is being replaced, and would be read with the new. But a style may
 * be another file's of the same name, and says nothing of values. */
static brant_status place_side_car(brant_context *ctx, const brant_stage_file *out,
                                   const char *staged, const char *placed)
{
    if (exists(staged))
        return rename_to(ctx, out->target, staged, placed);
    if (!is_style(placed) && unlink(placed) != 0 && errno != ENOENT)
        return brant_fail(ctx, BRANT_ERR_IO, "%s: cannot remove the old %s: %s", out->target,
                          placed, strerror(errno));
    return BRANT_OK;
}

/* ---- commit ------------------------------------------------------------- */

static brant_status prepare(brant_context *ctx, brant_stage *stage)
{
    brant_status status = BRANT_OK;
    for (size_t i = 0; status == BRANT_OK && i < stage->output_count; i++)
        status = check_output(ctx, stage, &stage->outputs[i]);
    for (size_t i = 0; status == BRANT_OK && i < stage->output_count; i++) {
        const brant_stage_file *out = &stage->outputs[i];
        if (out->through)
            continue;
        status = sync_path(ctx, out->work, out->target);
        if (status == BRANT_OK)
            status = each_side_car(ctx, out, sync_side_car);
    }
    for (size_t i = 0; status == BRANT_OK && i < stage->output_count; i++)
        if (stage->outputs[i].through)
            status = write_through(ctx, &stage->outputs[i]);
    return status;
}

brant_status brant_stage_commit(brant_context *ctx, brant_stage *stage)
{
    brant_status status = prepare(ctx, stage);
    for (size_t i = 0; status == BRANT_OK && i < stage->output_count; i++) {
        const brant_stage_file *out = &stage->outputs[i];
        if (out->through)
            continue;
        status = each_side_car(ctx, out, place_side_car);
        if (status == BRANT_OK)
            status = rename_to(ctx, out->target, out->work, out->place);
    }
    for (size_t i = 0; status == BRANT_OK && i < stage->folder_count; i++)
        status = sync_path(ctx, stage->folders[i].parent, stage->folders[i].parent);
    for (size_t i = 0; i < stage->folder_count; i++)
        brant_stage_folder_remove(&stage->folders[i]);
    stage->folder_count = 0;
    return status;
}
