/* A hidden folder in which outputs of one target folder wait. Private to the
 * room. */
#ifndef BRANT_STORE_STAGE_FOLDER_H
#define BRANT_STORE_STAGE_FOLDER_H

#include "brant/store.h"

#include <sys/types.h>

/* .brant-PID-XXXXXX beside the outputs, with a lock file in it that is locked
 * while its program lives. */
typedef struct brant_stage_folder {
    char *parent;  /* the folder that the outputs go to */
    dev_t device;  /* of parent, to know it by another name */
    ino_t inode;
    char *path;    /* the hidden one, NULL before it is made */
    int lock, fd;  /* descriptors of the lock and of the hidden one, -1 */
} brant_stage_folder;

#define BRANT_STAGE_LOCK ".lock"

/* Sweep dead stages out of `parent` (owned by the caller), make one. `target` is
 * the output named when it cannot be. */
brant_status brant_stage_folder_make(brant_context *ctx, const char *parent, const char *target,
                                     brant_stage_folder *folder);
/* Remove the hidden folder with all in it; frees. */
void brant_stage_folder_remove(brant_stage_folder *folder);

/* A staged path as the reader of a message knows it, without the hidden folder:
 * DIR/.brant-PID-XXXXXX/zones.tif is DIR/zones.tif. Another path stays as it is.
 * The caller frees. */
char *brant_stage_shown(brant_context *ctx, const char *path);

/* folder/base; the caller frees. */
char *brant_stage_join(brant_context *ctx, const char *folder, const char *base);

#endif
