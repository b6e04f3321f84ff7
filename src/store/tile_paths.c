/* Which files a folder of tiles, or a list of them, stands for. */
#include "gather.h"

#include <cpl_conv.h>
#include <cpl_string.h>
#include <dirent.h>
#include <errno.h>
#include <stdlib.h>
#include <string.h>
#include <sys/stat.h>

/* A list longer than this is none. */
#define LIST_BYTES ((size_t)16 << 20)

static bool has_suffix(const char *name, const char *const *suffixes)
{
    const char *suffix = CPLGetExtension(name);
    for (int i = 0; suffixes[i]; i++)
        if (EQUAL(suffix, suffixes[i]))
            return true;
    return false;
}

/* ---- folders ------------------------------------------------------------ */

/* Files that lie beside tiles, and mosaics of them. */
static const char *const beside[] = {"ovr", "msk", "aux", "xml", "hdr", "prj", "vrt", NULL};
/* A file named like a tile has to be one. */
static const char *const tile_names[] = {"tif", "tiff", "hgt", "dt0", "dt1", "dt2", "dem", "asc",
                                         NULL};

/* `path` is folder/name. */
static brant_status consider(brant_context *ctx, const char *path, char ***paths)
{
    struct stat info;
    if (stat(path, &info) != 0 || !S_ISREG(info.st_mode))
        return BRANT_OK;
    bool known = GDALIdentifyDriverEx(path, GDAL_OF_RASTER, brant_elevation_drivers, NULL) != NULL;
    if (!known && has_suffix(path, tile_names))
        return brant_fail(ctx, BRANT_ERR_INPUT,
                          "%s: named like a tile, but not a raster of a kind that is read", path);
    if (known)
        *paths = CSLAddString(*paths, path);
    return BRANT_OK;
}

static int by_name(const void *a, const void *b)
{
    return strcmp(*(const char *const *)a, *(const char *const *)b);
}

/* All names first, in C order: whatever order the file system has them in. */
static brant_status list_names(brant_context *ctx, const char *folder, char ***names)
{
    DIR *listing = opendir(folder);
    if (!listing)
        return brant_fail(ctx, BRANT_ERR_INPUT, "%s: cannot open: %s", folder, strerror(errno));
    char **found = NULL;
    size_t count = 0, capacity = 0;
    brant_status status = BRANT_OK;
    for (struct dirent *e; status == BRANT_OK && (e = readdir(listing));) {
        status = brant_grow(ctx, &found, &capacity, count + 2, sizeof *found);
        if (status == BRANT_OK) {
            found[count++] = CPLStrdup(e->d_name);
            found[count] = NULL;
        }
    }
    closedir(listing);
    if (count > 0)
        qsort(found, count, sizeof *found, by_name);
    *names = found;
    return status;
}

brant_status brant_folder_tiles(brant_context *ctx, const char *folder, char ***paths)
{
    brant_gdal_call call;
    char **names = NULL;
    *paths = NULL;
    brant_status status = list_names(ctx, folder, &names);
    brant_gdal_begin(&call);
    for (int i = 0; status == BRANT_OK && names && names[i]; i++) {
        if (names[i][0] == '.' || has_suffix(names[i], beside))
            continue;
        char *path = CPLStrdup(CPLFormFilename(folder, names[i], NULL)); /* GDAL reuses its own */
        status = consider(ctx, path, paths);
        CPLFree(path);
    }
    brant_gdal_end(&call);
    for (int i = 0; names && names[i]; i++)
        CPLFree(names[i]);
    free(names);
    if (status == BRANT_OK && !*paths)
        status = brant_fail(ctx, BRANT_ERR_INPUT,
                            "%s: no tiles in this folder (folders in it are not looked into; a "
                            "list of tiles may name them)",
                            folder);
    return status;
}

/* ---- lists -------------------------------------------------------------- */

bool brant_is_list(const char *path)
{
    static const char *const suffixes[] = {"txt", "lst", NULL};
    return !brant_is_address(path) && has_suffix(path, suffixes);
}

/* One line of the list, without white space around it. */
static char *trim(char *line)
{
    while (*line == ' ' || *line == '\t')
        line++;
    size_t length = strlen(line);
    while (length > 0 && strchr(" \t\r", line[length - 1]))
        line[--length] = '\0';
    return line;
}

/* What a list has named so far. */
typedef struct list_state {
    const char *list;
    int line;
    char **paths;             /* those that are there */
    int missing, missing_line; /* how many are not; the first one's line and path */
    char *missing_path;
} list_state;

static brant_status take_path(brant_context *ctx, list_state *s, const char *path)
{
    struct stat info;
    if (stat(path, &info) != 0) {
        if (s->missing++ == 0) {
            s->missing_line = s->line;
            s->missing_path = CPLStrdup(path);
        }
        return BRANT_OK;
    }
    if (S_ISDIR(info.st_mode) || EQUAL(CPLGetExtension(path), "vrt") || brant_is_list(path))
        return brant_fail(ctx, BRANT_ERR_INPUT,
                          "%s: line %d: %.300s: a folder, a mosaic or a list; a list names tiles",
                          s->list, s->line, path);
    s->paths = CSLAddString(s->paths, path);
    return BRANT_OK;
}

static brant_status take_line(brant_context *ctx, list_state *s, const char *name)
{
    if (brant_is_address(name))
        return brant_fail(ctx, BRANT_ERR_INPUT,
                          "%s: line %d: names a source that is no file on this machine: %.300s",
                          s->list, s->line, name);
    char *path = CPLStrdup(
        name[0] == '/' ? name : CPLProjectRelativeFilename(CPLGetPath(s->list), name));
    brant_status status = take_path(ctx, s, path);
    CPLFree(path);
    return status;
}

static brant_status take_lines(brant_context *ctx, list_state *s, char *text)
{
    brant_status status = BRANT_OK;
    char *rest;
    for (char *line = text; status == BRANT_OK && line; line = rest) {
        rest = strchr(line, '\n');
        if (rest)
            *rest++ = '\0';
        s->line++;
        line = trim(line);
        if (*line && *line != '#')
            status = take_line(ctx, s, line);
    }
    if (status == BRANT_OK && !s->paths)
        return brant_fail(ctx, BRANT_ERR_INPUT, "%s: this list names no tile that is there%s%.300s",
                          s->list, s->missing ? ": " : "", s->missing ? s->missing_path : "");
    if (status == BRANT_OK && s->missing)
        brant_warn(ctx, "%s: %d of its %d tiles are not there, taken as unknown ground (line %d: "
                   "%.300s%s)", s->list, s->missing, s->missing + CSLCount(s->paths),
                   s->missing_line, s->missing_path, s->missing > 1 ? ", ..." : "");
    return status;
}

brant_status brant_list_tiles(brant_context *ctx, const char *list, char ***paths)
{
    char *text = NULL;
    size_t size = 0;
    list_state s = {.list = list};
    brant_status status = brant_read_file(ctx, list, LIST_BYTES, &text, &size);
    if (status == BRANT_OK && strlen(text) != size)
        status = brant_fail(ctx, BRANT_ERR_INPUT, "%s: no list of tiles: it holds a NUL byte",
                            list);
    if (status == BRANT_OK && strncmp(text, "\xef\xbb\xbf", 3) == 0)
        memset(text, ' ', 3);
    if (status == BRANT_OK)
        status = take_lines(ctx, &s, text);
    free(text);
    CPLFree(s.missing_path);
    *paths = s.paths;
    return status;
}
