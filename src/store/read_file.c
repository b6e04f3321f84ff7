/* A whole file in memory. */
#include "brant/store.h"

#include <errno.h>
#include <fcntl.h>
#include <poll.h>
#include <stdlib.h>
#include <string.h>
#include <sys/stat.h>
#include <unistd.h>

static brant_status too_large(brant_context *ctx, const char *name, size_t limit)
{
    return brant_fail(ctx, BRANT_ERR_INPUT, "%s: larger than the limit of %zu bytes", name, limit);
}

/* Until there is something to read: what nobody writes to may be stopped, and a signal
 * that came just before read(2) would not wake it. */
#define LOOK_UP_MS 200

static brant_status wait_for(brant_context *ctx, int fd)
{
    struct pollfd one = {.fd = fd, .events = POLLIN};
    brant_status status;
    int ready = 0;
    while ((status = brant_check_stop(ctx)) == BRANT_OK && ready == 0) {
        ready = poll(&one, 1, LOOK_UP_MS);
        if (ready < 0 && errno == EINTR)
            ready = 0;
    }
    return status;
}

/* Read all of `fd`; one byte more than the limit tells that there is more. */
static brant_status slurp(brant_context *ctx, const char *name, int fd, size_t limit, char **data,
                          size_t *size)
{
    size_t capacity = 0;
    for (;;) {
        brant_status status = brant_grow(ctx, data, &capacity, *size + 65536 + 1, 1);
        if (status == BRANT_OK)
            status = wait_for(ctx, fd);
        if (status != BRANT_OK)
            return status;
        ssize_t got = read(fd, *data + *size, capacity - *size - 1);
        if (got < 0 && errno == EINTR)
            continue;
        if (got < 0)
            return brant_fail(ctx, BRANT_ERR_IO, "%s: cannot read: %s", name, strerror(errno));
        *size += (size_t)got;
        if (*size > limit)
            return too_large(ctx, name, limit);
        if (got == 0)
            break;
    }
    (*data)[*size] = '\0';
    return BRANT_OK;
}

brant_status brant_read_file(brant_context *ctx, const char *path, size_t limit, char **data,
                             size_t *size)
{
    struct stat info;
    bool standard = strcmp(path, "-") == 0;
    const char *name = standard ? "standard input" : path;
    *data = NULL;
    *size = 0;
    int fd = standard ? STDIN_FILENO : open(path, O_RDONLY | O_CLOEXEC | O_NOCTTY);
    if (fd < 0) {
        int problem = errno; /* a pipe that nobody writes to waits here */
        brant_status status = problem == EINTR ? brant_check_stop(ctx) : BRANT_OK;
        return status != BRANT_OK ? status
                                  : brant_fail(ctx, BRANT_ERR_INPUT, "%s: cannot open: %s", name,
                                               strerror(problem));
    }
    brant_status status = BRANT_OK;
    bool told = fstat(fd, &info) == 0;
    if (told && S_ISDIR(info.st_mode))
        status = brant_fail(ctx, BRANT_ERR_INPUT, "%s: is a folder, not a file", name);
    else if (told && S_ISREG(info.st_mode) && (uintmax_t)info.st_size > limit)
        status = too_large(ctx, name, limit);
    if (status == BRANT_OK)
        status = slurp(ctx, name, fd, limit, data, size);
    if (!standard)
        close(fd);
    if (status != BRANT_OK) {
        free(*data);
        *data = NULL;
        *size = 0;
    }
    return status;
}
