/* brant: run the program of one stage. `brant X ...` is `brant-X ...`. */
#include "program.h"

#include <errno.h>
#include <limits.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <sys/auxv.h>
#include <unistd.h>

/* A program's name is letters and dashes: never a path. */
static bool is_name(const char *word)
{
    return *word && !word[strspn(word, "abcdefghijklmnopqrstuvwxyz-")];
}

/* Where this program is; as it was called where /proc is not mounted. "" if not known. */
static void own_path(char path[static PATH_MAX])
{
    const char *called = (const char *)getauxval(AT_EXECFN);
    ssize_t length = readlink("/proc/self/exe", path, PATH_MAX - 1);
    path[length > 0 ? length : 0] = '\0';
    if (length < 0 && called && strlen(called) < PATH_MAX)
        memcpy(path, called, strlen(called) + 1);
}

/* Beside this program first, so that a build or an installation keeps together;
 * then in PATH. Returns only if neither worked. */
static brant_status run(brant_context *ctx, char **argv)
{
    char beside[PATH_MAX];
    brant_text path = {0}, name = {0};
    brant_status status;
    own_path(beside);
    char *slash = strrchr(beside, '/');
    if (slash)
        slash[1] = '\0';
    brant_text_add(&name, "brant-%s", argv[0]);
    brant_text_add(&path, "%s%s", beside, name.data ? name.data : "");
    status = brant_text_status(ctx, &path);
    if (status == BRANT_OK)
        status = brant_text_status(ctx, &name);
    if (status == BRANT_OK) {
        argv[0] = name.data;
        if (slash)
            execv(path.data, argv);
        if (!slash || errno == ENOENT)
            execvp(name.data, argv);
        status = errno == ENOENT
                     ? brant_fail(ctx, BRANT_ERR_USAGE,
                                  "no program '%s' (brant --help lists them)", name.data)
                     : brant_fail(ctx, BRANT_ERR_IO, "%s: %s", name.data, strerror(errno));
    }
    brant_text_clear(&path);
    brant_text_clear(&name);
    return status;
}

int main(int argc, char **argv)
{
    tool t;
    bool named = argc > 1 && is_name(argv[1]) && argv[1][0] != '-';
    if (tool_begin(&t, TOOL_BRANT, named ? 1 : argc, argv)) {
        t.working = false; /* a program that is not there is a matter of usage */
        t.status = named ? run(&t.ctx, argv + 1)
                         : brant_fail(&t.ctx, BRANT_ERR_USAGE,
                                      "no program named (brant --help lists them)");
    }
    return tool_end(&t);
}
