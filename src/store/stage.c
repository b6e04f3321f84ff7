/* Outputs that appear together or not at all: announced and checked. */
#include "gdal_call.h"
#include "stage.h"

#include <cpl_string.h>
#include <errno.h>
#include <fcntl.h>
#include <stdlib.h>
#include <string.h>
#include <sys/stat.h>
#include <unistd.h>

const char *const brant_stage_side_cars[] = {".aux.xml", ".msk", ".ovr", "-journal",
                                             "-wal",     "-shm", BRANT_STAGE_STYLE, NULL};

void brant_stage_side_car(const char *path, const char *suffix, brant_text *out)
{
    const char *slash = strrchr(path, '/'), *name = slash ? slash + 1 : path;
    const char *dot = strcmp(suffix, BRANT_STAGE_STYLE) == 0 ? strrchr(name, '.') : NULL;
    brant_text_add_bytes(out, path, dot && dot > name ? (size_t)(dot - path) : strlen(path));
    brant_text_add(out, "%s", suffix);
}

brant_status brant_stage_create(brant_context *ctx, brant_stage **stage)
{
    *stage = brant_alloc(ctx, 1, sizeof **stage);
    return *stage ? BRANT_OK : BRANT_ERR_MEMORY;
}

static void clear_output(brant_stage_file *out)
{
    free(out->target);
    free(out->place);
    free(out->base);
    free(out->work);
    brant_text_clear(&out->held);
}

void brant_stage_destroy(brant_stage *stage)
{
    if (!stage)
        return;
    for (size_t i = 0; i < stage->output_count; i++)
        clear_output(&stage->outputs[i]);
    for (size_t i = 0; i < stage->input_count; i++)
        free(stage->inputs[i].path);
    for (size_t i = 0; i < stage->folder_count; i++)
        brant_stage_folder_remove(&stage->folders[i]);
    free(stage->outputs);
    free(stage->inputs);
    free(stage->folders);
    free(stage);
}

/* ---- inputs ------------------------------------------------------------- */

/* The input that `place` with `suffix` is, NULL if none. */
static const brant_stage_source *input_at(const brant_stage *stage, const char *place,
                                          const char *suffix)
{
    struct stat info;
    brant_text path = {0};
    const brant_stage_source *found = NULL;
    brant_stage_side_car(place, suffix, &path);
    if (!path.failed && stat(path.data, &info) == 0 && S_ISREG(info.st_mode))
        for (size_t i = 0; i < stage->input_count && !found; i++)
            if (stage->inputs[i].device == info.st_dev && stage->inputs[i].inode == info.st_ino)
                found = &stage->inputs[i];
    brant_text_clear(&path);
    return found;
}

brant_status brant_stage_refuse_input(brant_context *ctx, const brant_stage *stage,
                                      const brant_stage_file *out)
{
    if (!out->place)
        return BRANT_OK;
    const brant_stage_source *in = input_at(stage, out->place, "");
    for (int i = 0; !in && !out->text && brant_stage_side_cars[i]; i++)
        in = input_at(stage, out->place, brant_stage_side_cars[i]);
    if (in)
        return brant_fail(ctx, BRANT_ERR_USAGE, "%s: would overwrite an input (%s)", out->target,
                          in->path);
    return BRANT_OK;
}

static brant_status refuse_inputs(brant_context *ctx, const brant_stage *stage)
{
    brant_status status = BRANT_OK;
    for (size_t i = 0; status == BRANT_OK && i < stage->output_count; i++)
        status = brant_stage_refuse_input(ctx, stage, &stage->outputs[i]);
    return status;
}

/* A path that is not there is the reader's to complain about. */
static brant_status add_input(brant_context *ctx, brant_stage *stage, const char *path)
{
    struct stat info;
    if (stat(path, &info) != 0)
        return BRANT_OK;
    brant_status status = brant_grow(ctx, &stage->inputs, &stage->input_capacity,
                                     stage->input_count + 1, sizeof *stage->inputs);
    if (status != BRANT_OK)
        return status;
    char *copy = brant_strdup(ctx, path);
    if (!copy)
        return BRANT_ERR_MEMORY;
    stage->inputs[stage->input_count++] = (brant_stage_source){copy, info.st_dev, info.st_ino};
    return BRANT_OK;
}

/* A raster's side-car files and a mosaic's tiles are inputs with it. */
brant_status brant_stage_input(brant_context *ctx, brant_stage *stage, const char *path)
{
    if (strcmp(path, "-") == 0)
        return BRANT_OK;
    brant_status status = add_input(ctx, stage, path);
    char **files = status == BRANT_OK ? brant_gdal_files(path) : NULL;
    for (int i = 0; status == BRANT_OK && files && files[i]; i++)
        status = add_input(ctx, stage, files[i]);
    CSLDestroy(files);
    return status == BRANT_OK ? refuse_inputs(ctx, stage) : status;
}

/* ---- announcing outputs ------------------------------------------------- */

brant_status brant_stage_refuse_odd(brant_context *ctx, const brant_stage_file *out, mode_t mode)
{
    if (S_ISDIR(mode))
        return brant_fail(ctx, BRANT_ERR_USAGE, "%s: cannot write: it is a folder", out->target);
    if (S_ISSOCK(mode))
        return brant_fail(ctx, BRANT_ERR_USAGE, "%s: cannot write: it is a socket", out->target);
    if (!S_ISREG(mode) && !out->text)
        return brant_fail(ctx, BRANT_ERR_USAGE,
                          "%s: cannot write: it is no regular file, only text goes there",
                          out->target);
    return BRANT_OK;
}

/* Where the output goes: links followed, so that a link stays one. */
static brant_status resolve(brant_context *ctx, brant_stage_file *out)
{
    struct stat info;
    const char *target = out->target;
    if (strcmp(target, "-") == 0) {
        out->through = true;
        if (out->text)
            return BRANT_OK;
        return brant_fail(ctx, BRANT_ERR_USAGE,
                          "-: only text goes to standard output; name a file");
    }
    size_t length = strlen(target);
    if (length == 0)
        return brant_fail(ctx, BRANT_ERR_USAGE, "an output's name is empty");
    if (stat(target, &info) == 0) {
        brant_status status = brant_stage_refuse_odd(ctx, out, info.st_mode);
        if (status != BRANT_OK)
            return status;
        out->through = !S_ISREG(info.st_mode);
        out->place = realpath(target, NULL);
    } else if (lstat(target, &info) == 0)
        return brant_fail(ctx, BRANT_ERR_USAGE, "%s: cannot write: a link that leads nowhere",
                          target);
    else if (target[length - 1] == '/')
        return brant_fail(ctx, BRANT_ERR_USAGE, "%s: cannot write: it names a folder", target);
    else
        out->place = brant_strdup(ctx, target);
    if (!out->place)
        return brant_fail(ctx, BRANT_ERR_IO, "%s: cannot write: %s", target, strerror(errno));
    return BRANT_OK;
}

/* The folder part of `place`; the caller frees. */
static char *parent_of(brant_context *ctx, const char *place)
{
    const char *slash = strrchr(place, '/');
    if (!slash)
        return brant_strdup(ctx, ".");
    if (slash == place)
        return brant_strdup(ctx, "/");
    char *parent = brant_strdup(ctx, place);
    if (parent)
        parent[slash - place] = '\0';
    return parent;
}

/* The stage folder for `parent`, made on first use. */
static brant_status find_folder(brant_context *ctx, brant_stage *stage, const char *parent,
                                const char *target, size_t *index)
{
    struct stat info;
    if (stat(parent, &info) == 0)
        for (size_t i = 0; i < stage->folder_count; i++)
            if (stage->folders[i].device == info.st_dev &&
                stage->folders[i].inode == info.st_ino) {
                *index = i;
                return BRANT_OK;
            }
    brant_status status = brant_grow(ctx, &stage->folders, &stage->folder_capacity,
                                     stage->folder_count + 1, sizeof *stage->folders);
    if (status != BRANT_OK)
        return status;
    *index = stage->folder_count;
    status = brant_stage_folder_make(ctx, parent, target, &stage->folders[*index]);
    if (status == BRANT_OK)
        stage->folder_count++;
    return status;
}

static brant_status place_output(brant_context *ctx, brant_stage *stage, brant_stage_file *out)
{
    if (out->through)
        return BRANT_OK;
    const char *slash = strrchr(out->place, '/');
    out->base = brant_strdup(ctx, slash ? slash + 1 : out->place);
    char *parent = parent_of(ctx, out->place);
    brant_status status = out->base && parent ? BRANT_OK : BRANT_ERR_MEMORY;
    if (status == BRANT_OK && strcmp(out->base, BRANT_STAGE_LOCK) == 0)
        status = brant_fail(ctx, BRANT_ERR_USAGE, "%s: a name that is taken", out->target);
    if (status == BRANT_OK)
        status = find_folder(ctx, stage, parent, out->target, &out->folder);
    if (status == BRANT_OK)
        out->work = brant_stage_join(ctx, stage->folders[out->folder].path, out->base);
    free(parent);
    return status == BRANT_OK && !out->work ? BRANT_ERR_MEMORY : status;
}

static bool same_place(const brant_stage_file *a, const brant_stage_file *b)
{
    if (!a->place || !b->place)
        return !a->place && !b->place; /* standard output twice */
    if (a->through || b->through)
        return false; /* a device may be named twice */
    return a->folder == b->folder && strcmp(a->base, b->base) == 0;
}

static brant_status refuse_twice(brant_context *ctx, const brant_stage *stage,
                                 const brant_stage_file *out)
{
    for (size_t i = 0; i < stage->output_count; i++)
        if (same_place(&stage->outputs[i], out))
            return brant_fail(ctx, BRANT_ERR_USAGE, "%s: two outputs go there", out->target);
    return BRANT_OK;
}

brant_status brant_stage_output(brant_context *ctx, brant_stage *stage, const char *target,
                                bool text, const char **path)
{
    brant_stage_file out = {.text = text};
    brant_status status = brant_grow(ctx, &stage->outputs, &stage->output_capacity,
                                     stage->output_count + 1, sizeof *stage->outputs);
    if (path)
        *path = NULL;
    if (status != BRANT_OK)
        return status;
    out.target = brant_strdup(ctx, target);
    status = out.target ? resolve(ctx, &out) : BRANT_ERR_MEMORY;
    if (status == BRANT_OK)
        status = brant_stage_refuse_input(ctx, stage, &out);
    if (status == BRANT_OK)
        status = place_output(ctx, stage, &out);
    if (status == BRANT_OK)
        status = refuse_twice(ctx, stage, &out);
    if (status != BRANT_OK) {
        clear_output(&out);
        return status;
    }
    stage->outputs[stage->output_count++] = out;
    if (path)
        *path = out.work;
    return BRANT_OK;
}

/* ---- text --------------------------------------------------------------- */

int brant_stage_write_all(brant_context *ctx, int fd, const char *data, size_t size)
{
    while (size > 0) {
        ssize_t done = write(fd, data, size);
        if (done < 0 && errno != EINTR)
            return errno;
        if (done > 0) {
            data += done;
            size -= (size_t)done;
        }
        if (size > 0 && brant_check_stop(ctx) != BRANT_OK) /* a pipe that nobody reads */
            return EINTR;
    }
    return 0;
}

/* `how`: O_TRUNC, O_APPEND or O_EXCL. */
static brant_status write_file(brant_context *ctx, const char *path, const char *name,
                               const brant_text *text, int how)
{
    int fd = open(path, O_WRONLY | O_CREAT | how | O_CLOEXEC, 0666);
    int problem = fd < 0 ? errno : 0;
    if (fd >= 0) {
        problem = brant_stage_write_all(ctx, fd, text->data ? text->data : "", text->length);
        if (close(fd) != 0 && !problem)
            problem = errno;
    }
    if (problem)
        return brant_fail(ctx, BRANT_ERR_IO, "%s: cannot write: %s", name, strerror(problem));
    return BRANT_OK;
}

brant_status brant_stage_write_style(brant_context *ctx, const char *path, const char *name,
                                     bool staged, const brant_text *text)
{
    struct stat info;
    if (staged && lstat(path, &info) == 0)
        return brant_fail(ctx, BRANT_ERR_IO, "%s: cannot write: its style (%s) would lie where "
                          "another output does", name, BRANT_STAGE_STYLE);
    return write_file(ctx, path, name, text, staged ? O_EXCL : O_TRUNC);
}

static brant_status write_text(brant_context *ctx, brant_stage_file *out, const brant_text *text)
{
    int how = out->written ? O_APPEND : O_TRUNC;
    out->written = true;
    if (!out->through)
        return write_file(ctx, out->work, out->target, text, how);
    if (text->length)
        brant_text_add_bytes(&out->held, text->data, text->length);
    return brant_text_status(ctx, &out->held);
}

brant_status brant_stage_text(brant_context *ctx, brant_stage *stage, const char *target,
                              const brant_text *text)
{
    brant_status status = brant_text_status(ctx, text);
    if (status != BRANT_OK)
        return status;
    for (size_t i = 0; i < stage->output_count; i++) {
        brant_stage_file *out = &stage->outputs[i];
        if (!out->written && strcmp(out->target, target) == 0)
            return write_text(ctx, out, text);
    }
    return brant_fail(ctx, BRANT_ERR_INTERNAL, "%s: written without being announced", target);
}

brant_status brant_stage_append(brant_context *ctx, brant_stage *stage, const char *target,
                                const brant_text *text)
{
    brant_status status = brant_text_status(ctx, text);
    if (status != BRANT_OK)
        return status;
    for (size_t i = 0; i < stage->output_count; i++)
        if (strcmp(stage->outputs[i].target, target) == 0)
            return write_text(ctx, &stage->outputs[i], text);
    return brant_fail(ctx, BRANT_ERR_INTERNAL, "%s: written without being announced", target);
}
