/* The GPX files that operands name: files, folders of them, a list on standard input. */
#ifndef BRANT_TOOLS_GPX_LIST_H
#define BRANT_TOOLS_GPX_LIST_H

#include "brant/base.h"

typedef struct gpx_list {
    char **path; /* owned */
    char **why;  /* owned; not NULL: an operand that names no file, and why */
    size_t count, capacity, why_capacity;
} gpx_list;

/* Folders give their *.gpx files in the order of their names, "-" a path a line. A file that
 * is named twice is taken once, with a note. Zero to start. */
brant_status gpx_list_fill(brant_context *ctx, char *const *operands, int count, gpx_list *list);
void gpx_list_clear(gpx_list *list);

#endif
