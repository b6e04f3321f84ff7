/* Faults on demand, for test_faults.py: a library to preload that makes one call of a
 * program fail.
 *
 *   BRANT_FAULT=KIND:N      the Nth call of that kind fails (N from 1); KIND:N+ it and all later
 *   BRANT_FAULT=limit:N     no more than N threads besides the first at a time, libraries' too
 *   BRANT_FAULT=late:N      signal N comes after main() has ended; the process ends with 99 if
 *                           that changes the stack, which is others' by then
 *   BRANT_FAULT_COUNT=FILE  at the end, a line "KIND CALLS" for each kind, and "failed CALLS"
 *
 * Kinds: alloc (malloc, calloc, realloc), open (files, folders), read, write, sync, close (the
 * last write of a buffer), rename, thread. Of alloc and thread only the program's own calls
 * count, not those of libraries: many of them end the process when they are short of memory.
 * Standard error is left alone, and what the loader and the C library do inside themselves
 * cannot be reached. */
#undef _FILE_OFFSET_BITS /* else open is open64, and both stand here */
#include <dlfcn.h>
#include <errno.h>
#include <fcntl.h>
#include <link.h>
#include <pthread.h>
#include <signal.h>
#include <stdarg.h>
#include <stdatomic.h>
#include <stdbool.h>
#include <stdint.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <sys/stat.h>
#include <sys/types.h>
#include <unistd.h>

enum { ALLOC, OPEN, READ, WRITE, SYNC, CLOSE, RENAME, THREAD, KINDS };

static const char *const kind_names[KINDS] = {"alloc", "open", "read",   "write",
                                              "sync",  "close", "rename", "thread"};
static atomic_long calls[KINDS], failed;
static atomic_long threads;
static long thread_limit = -1; /* none */
static int late_signal;
static int fault_kind = -1;
static long fault_call;
static bool fault_stays;
static uintptr_t program_begin, program_end;

/* glibc's own, for use before dlsym() works. */
void *__libc_malloc(size_t size);
void *__libc_calloc(size_t count, size_t size);
void *__libc_realloc(void *memory, size_t size);

static int find_program(struct dl_phdr_info *info, size_t size, void *unused)
{
    (void)size, (void)unused;
    for (int i = 0; i < info->dlpi_phnum; i++) {
        const ElfW(Phdr) *part = &info->dlpi_phdr[i];
        uintptr_t begin = info->dlpi_addr + part->p_vaddr;
        if (part->p_type != PT_LOAD)
            continue;
        if (program_end == 0)
            program_begin = begin;
        program_end = begin + part->p_memsz;
    }
    return 1; /* the first one is the program */
}

__attribute__((constructor)) static void begin(void)
{
    const char *wish = getenv("BRANT_FAULT");
    dl_iterate_phdr(find_program, NULL);
    if (wish && strncmp(wish, "limit:", 6) == 0)
        thread_limit = strtol(wish + 6, NULL, 10);
    if (wish && strncmp(wish, "late:", 5) == 0)
        late_signal = (int)strtol(wish + 5, NULL, 10);
    for (int i = 0; wish && i < KINDS; i++) {
        size_t length = strlen(kind_names[i]);
        if (strncmp(wish, kind_names[i], length) == 0 && wish[length] == ':') {
            char *end;
            fault_call = strtol(wish + length + 1, &end, 10);
            fault_stays = *end == '+';
            fault_kind = i;
        }
    }
}

/* Where main() had its variables others have theirs now. */
static void send_late(void)
{
    volatile char theirs[65536] = {0};
    raise(late_signal);
    for (size_t i = 0; i < sizeof theirs; i++)
        if (theirs[i] != 0)
            _exit(99);
}

__attribute__((destructor)) static void end(void)
{
    const char *path = getenv("BRANT_FAULT_COUNT");
    fault_kind = -1;
    if (late_signal)
        send_late();
    FILE *file = path ? fopen(path, "w") : NULL;
    for (int i = 0; file && i < KINDS; i++)
        fprintf(file, "%s %ld\n", kind_names[i], (long)calls[i]);
    if (file) {
        fprintf(file, "failed %ld\n", (long)failed);
        fclose(file);
    }
}

static bool fails(int kind, int error)
{
    long call = atomic_fetch_add(&calls[kind], 1) + 1;
    if (kind != fault_kind || (fault_stays ? call < fault_call : call != fault_call))
        return false;
    atomic_fetch_add(&failed, 1);
    errno = error;
    return true;
}

static bool by_program(const void *caller)
{
    return (uintptr_t)caller >= program_begin && (uintptr_t)caller < program_end;
}

#define CALLER __builtin_return_address(0)

/* The call that this one stands before. */
#define NEXT(result, name, ...) \
    static result (*next)(__VA_ARGS__); \
    if (!next) \
        *(void **)&next = dlsym(RTLD_NEXT, #name)

/* ---- memory ------------------------------------------------------------- */

void *malloc(size_t size)
{
    return by_program(CALLER) && fails(ALLOC, ENOMEM) ? NULL : __libc_malloc(size);
}

void *calloc(size_t count, size_t size)
{
    return by_program(CALLER) && fails(ALLOC, ENOMEM) ? NULL : __libc_calloc(count, size);
}

void *realloc(void *memory, size_t size)
{
    return by_program(CALLER) && fails(ALLOC, ENOMEM) ? NULL : __libc_realloc(memory, size);
}

/* ---- files -------------------------------------------------------------- */

static mode_t mode_of(int flags, va_list rest)
{
    return flags & (O_CREAT | O_TMPFILE) ? va_arg(rest, mode_t) : 0;
}

#define OPENS(name) \
    int name(const char *path, int flags, ...) \
    { \
        NEXT(int, name, const char *, int, ...); \
        va_list rest; \
        va_start(rest, flags); \
        mode_t mode = mode_of(flags, rest); \
        va_end(rest); \
        return fails(OPEN, EMFILE) ? -1 : next(path, flags, mode); \
    }
OPENS(open)
OPENS(open64)

#define OPENS_AT(name) \
    int name(int folder, const char *path, int flags, ...) \
    { \
        NEXT(int, name, int, const char *, int, ...); \
        va_list rest; \
        va_start(rest, flags); \
        mode_t mode = mode_of(flags, rest); \
        va_end(rest); \
        return fails(OPEN, EMFILE) ? -1 : next(folder, path, flags, mode); \
    }
OPENS_AT(openat)
OPENS_AT(openat64)

#define OPENS_STREAM(name) \
    FILE *name(const char *path, const char *mode) \
    { \
        NEXT(FILE *, name, const char *, const char *); \
        return fails(OPEN, EMFILE) ? NULL : next(path, mode); \
    }
OPENS_STREAM(fopen)
OPENS_STREAM(fopen64)

int mkdir(const char *path, mode_t mode)
{
    NEXT(int, mkdir, const char *, mode_t);
    return fails(OPEN, ENOSPC) ? -1 : next(path, mode);
}

ssize_t read(int fd, void *data, size_t size)
{
    NEXT(ssize_t, read, int, void *, size_t);
    return fails(READ, EIO) ? -1 : next(fd, data, size);
}

#define READS_AT(name, offset_type) \
    ssize_t name(int fd, void *data, size_t size, offset_type offset) \
    { \
        NEXT(ssize_t, name, int, void *, size_t, offset_type); \
        return fails(READ, EIO) ? -1 : next(fd, data, size, offset); \
    }
READS_AT(pread, off_t)
READS_AT(pread64, off64_t)

size_t fread(void *data, size_t size, size_t count, FILE *file)
{
    NEXT(size_t, fread, void *, size_t, size_t, FILE *);
    return fails(READ, EIO) ? 0 : next(data, size, count, file);
}

ssize_t write(int fd, const void *data, size_t size)
{
    NEXT(ssize_t, write, int, const void *, size_t);
    return fd != STDERR_FILENO && fails(WRITE, ENOSPC) ? -1 : next(fd, data, size);
}

#define WRITES_AT(name, offset_type) \
    ssize_t name(int fd, const void *data, size_t size, offset_type offset) \
    { \
        NEXT(ssize_t, name, int, const void *, size_t, offset_type); \
        return fails(WRITE, ENOSPC) ? -1 : next(fd, data, size, offset); \
    }
WRITES_AT(pwrite, off_t)
WRITES_AT(pwrite64, off64_t)

size_t fwrite(const void *data, size_t size, size_t count, FILE *file)
{
    NEXT(size_t, fwrite, const void *, size_t, size_t, FILE *);
    return file != stderr && fails(WRITE, ENOSPC) ? 0 : next(data, size, count, file);
}

#define CUTS(name, offset_type) \
    int name(int fd, offset_type size) \
    { \
        NEXT(int, name, int, offset_type); \
        return fails(WRITE, ENOSPC) ? -1 : next(fd, size); \
    }
CUTS(ftruncate, off_t)
CUTS(ftruncate64, off64_t)

int fsync(int fd)
{
    NEXT(int, fsync, int);
    return fails(SYNC, EIO) ? -1 : next(fd);
}

int fdatasync(int fd)
{
    NEXT(int, fdatasync, int);
    return fails(SYNC, EIO) ? -1 : next(fd);
}

int fflush(FILE *file)
{
    NEXT(int, fflush, FILE *);
    return file != stderr && fails(CLOSE, ENOSPC) ? EOF : next(file);
}

/* The file is closed; its last buffer is told to be lost. */
int fclose(FILE *file)
{
    NEXT(int, fclose, FILE *);
    bool lost = file != stderr && fails(CLOSE, ENOSPC);
    int result = next(file);
    if (!lost)
        return result;
    errno = ENOSPC;
    return EOF;
}

int close(int fd)
{
    NEXT(int, close, int);
    bool lost = fails(CLOSE, EIO);
    int result = next(fd);
    if (!lost)
        return result;
    errno = EIO;
    return -1;
}

int rename(const char *from, const char *to)
{
    NEXT(int, rename, const char *, const char *);
    return fails(RENAME, EACCES) ? -1 : next(from, to);
}

int pthread_create(pthread_t *thread, const pthread_attr_t *how, void *(*start)(void *),
                   void *argument)
{
    NEXT(int, pthread_create, pthread_t *, const pthread_attr_t *, void *(*)(void *), void *);
    if (by_program(CALLER) && fails(THREAD, EAGAIN))
        return EAGAIN;
    if (atomic_fetch_add(&threads, 1) >= thread_limit && thread_limit >= 0) {
        atomic_fetch_sub(&threads, 1);
        return EAGAIN;
    }
    return next(thread, how, start, argument);
}

int pthread_join(pthread_t thread, void **result)
{
    NEXT(int, pthread_join, pthread_t, void **);
    atomic_fetch_sub(&threads, 1);
    return next(thread, result);
}
