#include "gpx_list.h"

#include "brant/store.h"

#include <dirent.h>
#include <errno.h>
#include <stdlib.h>
#include <string.h>
#include <sys/stat.h>

#define LIST_BYTES ((size_t)64 << 20)

/* Keep a path; `why`: it names no file. */
static brant_status add(brant_context *ctx, gpx_list *list, const char *path, const char *why)
{
    brant_status status =
        brant_grow(ctx, &list->path, &list->capacity, list->count + 1, sizeof *list->path);
    if (status == BRANT_OK)
        status = brant_grow(ctx, &list->why, &list->why_capacity, list->count + 1,
                            sizeof *list->why);
    if (status != BRANT_OK)
        return status;
    list->path[list->count] = brant_strdup(ctx, path);
    list->why[list->count] = why ? brant_strdup(ctx, why) : NULL;
    if (!list->path[list->count] || (why && !list->why[list->count])) {
        free(list->path[list->count]);
        free(list->why[list->count]);
        return BRANT_ERR_MEMORY;
    }
    list->count++;
    return BRANT_OK;
}

/* ---- folders ------------------------------------------------------------ */

static bool is_gpx(const char *name)
{
    return name[0] != '.' && brant_ends_in(name, ".gpx");
}

static int by_path(const void *a, const void *b)
{
    return strcmp(*(char *const *)a, *(char *const *)b);
}

static brant_status add_folder(brant_context *ctx, gpx_list *list, const char *path)
{
    size_t first = list->count, length = strlen(path);
    brant_status status = BRANT_OK;
    struct dirent *entry;
    DIR *folder = opendir(path);
    if (!folder)
        return add(ctx, list, path, strerror(errno));
    while (status == BRANT_OK && (entry = readdir(folder))) {
        brant_text file = {0};
        if (!is_gpx(entry->d_name))
            continue;
        brant_text_add(&file, "%s%s%s", path, path[length - 1] == '/' ? "" : "/", entry->d_name);
        status = brant_text_status(ctx, &file);
        if (status == BRANT_OK)
            status = add(ctx, list, file.data, NULL);
        brant_text_clear(&file);
    }
    closedir(folder);
    if (status == BRANT_OK && list->count == first)
        return add(ctx, list, path, "a folder without a .gpx file");
    if (list->count > first) /* none of them has a reason yet */
        qsort(list->path + first, list->count - first, sizeof *list->path, by_path);
    return status;
}

/* ---- operands ----------------------------------------------------------- */

static brant_status add_operand(brant_context *ctx, gpx_list *list, const char *path)
{
    struct stat info;
    if (stat(path, &info) == 0 && S_ISDIR(info.st_mode))
        return add_folder(ctx, list, path);
    return add(ctx, list, path, NULL);
}

/* Empty lines are passed over; a line may end in CR LF. */
static brant_status add_lines(brant_context *ctx, gpx_list *list)
{
    char *data, *rest = NULL;
    size_t size;
    brant_status status = brant_read_file(ctx, "-", LIST_BYTES, &data, &size);
    if (status != BRANT_OK)
        return status;
    if (strlen(data) != size)
        status = brant_fail(ctx, BRANT_ERR_INPUT, "standard input: is no list of paths");
    for (char *line = strtok_r(data, "\n", &rest); line && status == BRANT_OK;
         line = strtok_r(NULL, "\n", &rest)) {
        size_t length = strlen(line);
        if (length > 0 && line[length - 1] == '\r')
            line[length - 1] = '\0';
        if (*line)
            status = add_operand(ctx, list, line);
    }
    free(data);
    return status;
}

/* ---- once each ---------------------------------------------------------- */

typedef struct identity {
    size_t at;
    dev_t device;
    ino_t inode;
} identity;

static int by_identity(const void *a, const void *b)
{
    const identity *x = a, *y = b;
    if (x->device != y->device)
        return x->device < y->device ? -1 : 1;
    if (x->inode != y->inode)
        return x->inode < y->inode ? -1 : 1;
    return (x->at > y->at) - (x->at < y->at);
}

/* The first naming of a file stays. Pipes and what cannot be looked at are left alone. */
static brant_status drop_repeated(brant_context *ctx, gpx_list *list)
{
    identity *known = brant_alloc(ctx, list->count, sizeof *known);
    size_t count = 0, kept = 0;
    struct stat info;
    if (!known)
        return BRANT_ERR_MEMORY;
    for (size_t i = 0; i < list->count; i++)
        if (stat(list->path[i], &info) == 0 && S_ISREG(info.st_mode))
            known[count++] = (identity){i, info.st_dev, info.st_ino};
    if (count > 0)
        qsort(known, count, sizeof *known, by_identity);
    for (size_t i = 1; i < count; i++)
        if (known[i].device == known[i - 1].device && known[i].inode == known[i - 1].inode) {
            brant_note(ctx, "%s: named more than once, taken once", list->path[known[i].at]);
            free(list->path[known[i].at]);
            list->path[known[i].at] = NULL;
        }
    for (size_t i = 0; i < list->count; i++)
        if (list->path[i]) {
            list->path[kept] = list->path[i];
            list->why[kept++] = list->why[i];
        }
    list->count = kept;
    free(known);
    return BRANT_OK;
}

brant_status gpx_list_fill(brant_context *ctx, char *const *operands, int count, gpx_list *list)
{
    brant_status status = BRANT_OK;
    bool listed = false;
    for (int i = 0; i < count && status == BRANT_OK; i++) {
        if (strcmp(operands[i], "-") != 0) {
            status = add_operand(ctx, list, operands[i]);
        } else if (!listed) {
            listed = true;
            status = add_lines(ctx, list);
        }
    }
    if (status == BRANT_OK && list->count == 0)
        status = brant_fail(ctx, BRANT_ERR_INPUT, "standard input: names no file");
    return status == BRANT_OK ? drop_repeated(ctx, list) : status;
}

void gpx_list_clear(gpx_list *list)
{
    for (size_t i = 0; i < list->count; i++) {
        free(list->path[i]);
        free(list->why[i]);
    }
    free(list->path);
    free(list->why);
    memset(list, 0, sizeof *list);
}
