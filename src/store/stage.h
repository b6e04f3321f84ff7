/* The parts of a stage. Private to the room. */
#ifndef BRANT_STORE_STAGE_H
#define BRANT_STORE_STAGE_H

#include "stage_folder.h"

typedef struct brant_stage_file {
    char *target;      /* as given */
    char *place;       /* where it goes, links followed; NULL for standard output */
    char *base;        /* name within its folder */
    char *work;        /* where it is written; NULL when written through */
    size_t folder;     /* index into folders, unless through */
    bool through;      /* standard output, a pipe, a device */
    bool text;
    bool written;      /* by brant_stage_text or _append */
    brant_text held;   /* what goes through on commit */
} brant_stage_file;

typedef struct brant_stage_source {
    char *path;
    dev_t device;
    ino_t inode;
} brant_stage_source;

struct brant_stage {
    brant_stage_file *outputs;
    size_t output_count, output_capacity;
    brant_stage_source *inputs;
    size_t input_count, input_capacity;
    brant_stage_folder *folders;
    size_t folder_count, folder_capacity;
};

/* What may lie beside a raster or database and would be read with it; ends with
 * NULL. */
extern const char *const brant_stage_side_cars[];
#define BRANT_STAGE_STYLE ".qml"

/* Where the side-car of `path` lies: its name with the suffix behind it; a style's stands in
 * the place of the name's own suffix. */
void brant_stage_side_car(const char *path, const char *suffix, brant_text *out);

/* Refuse an output that is, or whose side-car is, an input. */
brant_status brant_stage_refuse_input(brant_context *ctx, const brant_stage *stage,
                                      const brant_stage_file *out);
/* Refuse an output whose place is a folder, a socket, or (but for text) no
 * regular file. */
brant_status brant_stage_refuse_odd(brant_context *ctx, const brant_stage_file *out, mode_t mode);
/* 0, or the errno of the write that failed; EINTR: asked to stop. */
int brant_stage_write_all(brant_context *ctx, int fd, const char *data, size_t size);
/* The style at `path` of the raster that messages call `name`. What lies there in a stage is
 * another output, or its style: refused. */
brant_status brant_stage_write_style(brant_context *ctx, const char *path, const char *name,
                                     bool staged, const brant_text *text);

#endif
