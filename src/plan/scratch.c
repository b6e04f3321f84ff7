#include "scratch.h"

#include <errno.h>
#include <fcntl.h>
#include <string.h>
#include <unistd.h>

static brant_status failed(brant_context *ctx, const scratch *s, const char *what, int problem)
{
    return brant_fail(ctx, BRANT_ERR_IO, "%s: cannot %s the scratch file: %s", s->path, what,
                      problem ? strerror(problem) : "it ends too soon");
}

static brant_status make(brant_context *ctx, scratch *s)
{
    if (s->made)
        return BRANT_OK;
    s->file = open(s->path, O_RDWR | O_CREAT | O_EXCL | O_CLOEXEC, 0600);
    s->made = s->file >= 0;
    if (!s->made || unlink(s->path) != 0)
        return failed(ctx, s, "make", errno);
    return BRANT_OK;
}

brant_status brant_scratch_write(brant_context *ctx, scratch *s, const void *data, size_t size,
                                 uint64_t offset)
{
    brant_status status = make(ctx, s);
    for (size_t done = 0; done < size && status == BRANT_OK;) {
        ssize_t moved = pwrite(s->file, (const char *)data + done, size - done,
                               (off_t)(offset + done));
        if (moved < 0 && errno == EINTR)
            continue;
        if (moved <= 0)
            return failed(ctx, s, "write", moved < 0 ? errno : 0);
        done += (size_t)moved;
    }
    return status;
}

brant_status brant_scratch_read(brant_context *ctx, const scratch *s, void *data, size_t size,
                                uint64_t offset)
{
    for (size_t done = 0; done < size;) {
        ssize_t moved = pread(s->file, (char *)data + done, size - done, (off_t)(offset + done));
        if (moved < 0 && errno == EINTR)
            continue;
        if (moved <= 0)
            return failed(ctx, s, "read", moved < 0 ? errno : 0);
        done += (size_t)moved;
    }
    return BRANT_OK;
}

void brant_scratch_close(scratch *s)
{
    if (s->made)
        close(s->file);
    s->made = false;
}
