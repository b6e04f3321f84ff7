/* The zones of a file by squares, with the memory of a few squares (and, while the file is looked
 * at, 8 to 12 bytes a zone): which lie in one square alone, and the cells of a square's. Private
 * to the room. */
#ifndef BRANT_PLAN_NUMBERED_H
#define BRANT_PLAN_NUMBERED_H

#include "scratch.h"

/* Where a square's numbers are kept, once read. */
typedef struct packed {
    uint64_t offset;
    size_t runs;
} packed;

typedef struct numbered {
    brant_zone_file *file;
    brant_squares squares;
    int cols, rows;        /* of the grid */
    size_t count;          /* zones */
    uint32_t *many;        /* those that are in several squares, by rising number */
    size_t many_count;
    scratch scratch;       /* of drawn zones, the numbers of all squares */
    packed *kept;          /* where, by square */
    bool settled;          /* they are all there, and no more read from the zones' file */
    uint64_t end;          /* of the scratch file */
} numbered;

/* A cell of a zone. */
typedef struct numbered_cell {
    uint32_t number;
    int col, row;
} numbered_cell;

/* Read the whole file once, square by square. Polygons are painted then, for good: their
 * outlines, which may be larger than all else, are dropped, and the numbers kept in a scratch
 * file (`path`, valid until brant_numbered_clear). */
brant_status brant_numbered_open(brant_context *ctx, brant_zone_file *file, const brant_dem *dem,
                                 const char *path, numbered *out);
void brant_numbered_clear(numbered *n);

/* The cells of a square, by rising number, then row, then column: those of zones that are
 * in no other square, then (from `*single` on) the others. The caller frees `*cells`. */
brant_status brant_numbered_cells(brant_context *ctx, const numbered *n, int square,
                                  numbered_cell **cells, size_t *single, size_t *count);
/* By rising number, then row, then column. */
void brant_numbered_sort(numbered_cell *cells, size_t count);

#endif
