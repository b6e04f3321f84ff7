/* A file for what does not fit memory: without a name once it is made, so that it is gone when
 * the run is, however it ends. Private to the room. */
#ifndef BRANT_PLAN_SCRATCH_H
#define BRANT_PLAN_SCRATCH_H

#include "brant/plan.h"

typedef struct scratch {
    const char *path; /* where it may be made, in a folder of the run's own; the caller's */
    bool made;
    int file;
} scratch;

/* Write at an offset, making the file at the first call; one thread at a time. */
brant_status brant_scratch_write(brant_context *ctx, scratch *s, const void *data, size_t size,
                                 uint64_t offset);
/* Read what was written there. Any thread. */
brant_status brant_scratch_read(brant_context *ctx, const scratch *s, void *data, size_t size,
                                uint64_t offset);
void brant_scratch_close(scratch *s);

#endif
