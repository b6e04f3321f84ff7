/* What a fuzz target is: bytes in, and a check of what comes out. It stops the process where a
 * promise is broken, as a sanitizer does. libFuzzer calls it with what it makes up, replay.c with
 * the files of a corpus. */
#ifndef FUZZ_H
#define FUZZ_H

#include "brant/base.h"

#include <stdio.h>
#include <stdlib.h>
#include <string.h>

int LLVMFuzzerTestOneInput(const uint8_t *data, size_t size);

#define FUZZ_CHECK(holds)                                                                          \
    do {                                                                                           \
        if (!(holds)) {                                                                            \
            fprintf(stderr, "%s:%d: broken promise: %s\n", __FILE__, __LINE__, #holds);            \
            abort();                                                                               \
        }                                                                                          \
    } while (0)

static inline void fuzz_check_line(const char *text)
{
    FUZZ_CHECK(*text);
    for (; *text; text++)
        FUZZ_CHECK((unsigned char)*text >= ' ' && *text != 0x7f);
}

static inline void fuzz_on_log(void *user, brant_log_level level, const char *text)
{
    (void)user;
    (void)level;
    fuzz_check_line(text);
}

static inline void fuzz_begin(brant_context *ctx)
{
    brant_context_init(ctx);
    ctx->log = fuzz_on_log;
}

/* A refusal is one line that begins with `begin`, and none of ours to answer for. */
static inline void fuzz_check_refusal(const brant_context *ctx, brant_status status,
                                      const char *begin)
{
    FUZZ_CHECK(status == BRANT_ERR_INPUT || status == BRANT_ERR_USAGE);
    fuzz_check_line(brant_message(ctx));
    FUZZ_CHECK(strncmp(brant_message(ctx), begin, strlen(begin)) == 0);
}

/* A copy with nothing after it, so that a byte read too many shows; free() it. */
static inline char *fuzz_copy(const uint8_t *data, size_t size)
{
    char *copy = malloc(size ? size : 1);
    if (!copy)
        abort();
    if (size)
        memcpy(copy, data, size);
    return copy;
}

#endif
