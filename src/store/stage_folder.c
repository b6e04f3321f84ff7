/* Hidden folders: made, locked, swept when their program is gone. */
#include "stage_folder.h"

#include <dirent.h>
#include <errno.h>
#include <fcntl.h>
#include <limits.h>
#include <signal.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <sys/file.h>
#include <sys/stat.h>
#include <time.h>
#include <unistd.h>

#define PREFIX ".brant-"

/* ---- names -------------------------------------------------------------- */

/* .brant-DIGITS-SIX, six letters or digits, as made below; `length` bytes. */
static bool is_stage_name(const char *name, size_t length)
{
    size_t prefix = strlen(PREFIX);
    if (length < prefix + 8 || strncmp(name, PREFIX, prefix) != 0)
        return false;
    size_t digits = strspn(name + prefix, "0123456789");
    if (digits == 0 || length != prefix + digits + 7 || name[prefix + digits] != '-')
        return false;
    for (size_t i = length - 6; i < length; i++)
        if (name[i] == '.' || name[i] == '/')
            return false;
    return true;
}

char *brant_stage_shown(brant_context *ctx, const char *path)
{
    char *shown = brant_strdup(ctx, path);
    char *base = shown ? strrchr(shown, '/') : NULL;
    if (!base)
        return shown;
    char *hidden = base;
    while (hidden > shown && hidden[-1] != '/')
        hidden--;
    if (is_stage_name(hidden, (size_t)(base - hidden)))
        memmove(hidden, base + 1, strlen(base + 1) + 1);
    if (strncmp(shown, "./", 2) == 0 && hidden == shown + 2)
        memmove(shown, shown + 2, strlen(shown + 2) + 1);
    return shown;
}

char *brant_stage_join(brant_context *ctx, const char *folder, const char *base)
{
    size_t size = strlen(folder) + strlen(base) + 2;
    char *path = brant_alloc(ctx, size, 1);
    if (path)
        snprintf(path, size, "%s/%s", folder, base);
    return path;
}

/* ---- removing ----------------------------------------------------------- */

/* Unlink the files in the folder open as `fd` but the lock, which goes last, so
 * that a half-removed stage is still known as one. */
static void empty(int fd)
{
    int again = dup(fd);
    DIR *listing = again < 0 ? NULL : fdopendir(again);
    struct dirent *entry;
    if (!listing) {
        if (again >= 0)
            close(again);
        return;
    }
    rewinddir(listing);
    while ((entry = readdir(listing)))
        if (strcmp(entry->d_name, ".") != 0 && strcmp(entry->d_name, "..") != 0 &&
            strcmp(entry->d_name, BRANT_STAGE_LOCK) != 0)
            unlinkat(fd, entry->d_name, 0);
    closedir(listing);
    unlinkat(fd, BRANT_STAGE_LOCK, 0);
}

void brant_stage_folder_remove(brant_stage_folder *folder)
{
    if (folder->fd >= 0) {
        empty(folder->fd);
        close(folder->fd);
    }
    if (folder->path)
        rmdir(folder->path);
    if (folder->lock >= 0)
        close(folder->lock);
    free(folder->path);
    free(folder->parent);
    *folder = (brant_stage_folder){.lock = -1, .fd = -1};
}

/* ---- sweeping ----------------------------------------------------------- */

/* Is the stage open as `fd` dead? Its lock can be had, or it never got one in an
 * hour. `*lock` is then held (or -1). */
static bool is_dead(int fd, const struct stat *info, int *lock)
{
    *lock = openat(fd, BRANT_STAGE_LOCK, O_RDWR | O_NOFOLLOW | O_CLOEXEC);
    if (*lock < 0)
        return errno == ENOENT && time(NULL) - info->st_mtime > 3600;
    if (flock(*lock, LOCK_EX | LOCK_NB) == 0)
        return true;
    close(*lock);
    *lock = -1;
    return false;
}

/* Is there no program of the number in the folder's name? On another machine that says
 * nothing; a program there that has not locked its new folder yet makes another one. */
static bool is_gone(const char *name)
{
    long long number;
    char digits[32];
    size_t length = strspn(name + strlen(PREFIX), "0123456789");
    if (length >= sizeof digits)
        return false;
    memcpy(digits, name + strlen(PREFIX), length);
    digits[length] = '\0';
    return brant_parse_integer(digits, 1, INT_MAX, &number) && kill((pid_t)number, 0) != 0 &&
           errno == ESRCH;
}

static void sweep_one(int parent, const char *name)
{
    struct stat info;
    int lock = -1;
    int fd = openat(parent, name, O_RDONLY | O_DIRECTORY | O_NOFOLLOW | O_CLOEXEC);
    if (fd < 0)
        return;
    if (fstat(fd, &info) == 0 && info.st_uid == geteuid() && is_dead(fd, &info, &lock)) {
        empty(fd);
        unlinkat(parent, name, AT_REMOVEDIR);
    } else if (lock < 0 && is_gone(name)) {
        unlinkat(parent, name, AT_REMOVEDIR); /* killed before its lock was there: it is empty */
    }
    if (lock >= 0)
        close(lock);
    close(fd);
}

static void sweep(const char *parent)
{
    DIR *listing = opendir(parent);
    struct dirent *entry;
    if (!listing)
        return; /* a folder may be writable and not readable */
    while ((entry = readdir(listing)))
        if (is_stage_name(entry->d_name, strlen(entry->d_name)))
            sweep_one(dirfd(listing), entry->d_name);
    closedir(listing);
}

/* ---- making ------------------------------------------------------------- */

/* Lock the new folder. False: another program's sweep was quicker and has
 * removed it. A file system without locks is never swept, and serves too. */
static bool lock_folder(brant_stage_folder *folder, const char *lock_path)
{
    struct stat info;
    folder->lock = open(lock_path, O_RDWR | O_CREAT | O_EXCL | O_CLOEXEC, 0600);
    if (folder->lock < 0)
        return errno != ENOENT;
    bool taken = flock(folder->lock, LOCK_EX | LOCK_NB) != 0 && errno == EWOULDBLOCK;
    if (!taken && fstat(folder->lock, &info) == 0 && info.st_nlink > 0)
        return true;
    close(folder->lock);
    folder->lock = -1;
    return false;
}

static brant_status try_make(brant_context *ctx, const char *target, brant_stage_folder *folder,
                             bool *made)
{
    char base[64];
    *made = false;
    snprintf(base, sizeof base, PREFIX "%ld-XXXXXX", (long)getpid());
    free(folder->path);
    folder->path = brant_stage_join(ctx, folder->parent, base);
    if (!folder->path)
        return BRANT_ERR_MEMORY;
    if (!mkdtemp(folder->path)) {
        int problem = errno;
        free(folder->path);
        folder->path = NULL;
        return brant_fail(ctx, BRANT_ERR_IO, "%s: cannot write: %s", target, strerror(problem));
    }
    char *lock_path = brant_stage_join(ctx, folder->path, BRANT_STAGE_LOCK);
    if (!lock_path)
        return BRANT_ERR_MEMORY;
    *made = lock_folder(folder, lock_path);
    if (*made && folder->lock >= 0) /* for removing it when no descriptor is left to be had */
        folder->fd = open(folder->path, O_RDONLY | O_DIRECTORY | O_NOFOLLOW | O_CLOEXEC);
    int problem = errno;
    free(lock_path);
    if (*made && (folder->lock < 0 || folder->fd < 0))
        return brant_fail(ctx, BRANT_ERR_IO, "%s: cannot write: %s", target, strerror(problem));
    return BRANT_OK;
}

brant_status brant_stage_folder_make(brant_context *ctx, const char *parent, const char *target,
                                     brant_stage_folder *folder)
{
    struct stat info;
    bool made = false;
    *folder = (brant_stage_folder){.lock = -1, .fd = -1};
    if (stat(parent, &info) != 0)
        return brant_fail(ctx, BRANT_ERR_IO, "%s: cannot write: %s", target, strerror(errno));
    if (!S_ISDIR(info.st_mode))
        return brant_fail(ctx, BRANT_ERR_IO, "%s: cannot write: %s is no folder", target, parent);
    sweep(parent);
    folder->device = info.st_dev;
    folder->inode = info.st_ino;
    folder->parent = brant_strdup(ctx, parent);
    brant_status status = folder->parent ? BRANT_OK : BRANT_ERR_MEMORY;
    for (int attempt = 0; status == BRANT_OK && !made && attempt < 10; attempt++)
        status = try_make(ctx, target, folder, &made);
    if (status == BRANT_OK && !made)
        status = brant_fail(ctx, BRANT_ERR_IO, "%s: cannot write: no lock to be had in %s", target,
                            parent);
    if (status != BRANT_OK)
        brant_stage_folder_remove(folder);
    return status;
}
