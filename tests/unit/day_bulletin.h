/* Bulletins for tests: read from testdata, or from text in the test. */
#ifndef DAY_BULLETIN_H
#define DAY_BULLETIN_H

#include "brant/day.h"

#include <setjmp.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include <cmocka.h>

#define COUNT(array) (sizeof(array) / sizeof(array)[0])

/* A file of testdata, NUL-terminated; free() it. */
static inline char *read_testdata(const char *name, size_t *size)
{
    char path[4096];
    snprintf(path, sizeof path, "%s/%s", getenv("BRANT_TESTDATA"), name);
    FILE *file = fopen(path, "rb");
    assert_non_null(file);
    char *data = calloc(1, 1 << 20);
    *size = fread(data, 1, (1 << 20) - 1, file);
    fclose(file);
    return data;
}

/* Parse text as bulletin.json; on failure the message goes to `message`. */
static inline brant_status parse_text(const char *text, size_t size,
                                      const brant_bulletin_options *options,
                                      brant_bulletin *bulletin, char message[BRANT_MESSAGE_MAX])
{
    brant_context ctx;
    brant_context_init(&ctx);
    brant_status status = brant_bulletin_parse(&ctx, "bulletin.json", text, size, options,
                                               bulletin);
    strcpy(message, brant_message(&ctx));
    brant_context_clear(&ctx);
    return status;
}

/* A bulletin that must be good. */
static inline brant_bulletin good(const char *name, const brant_bulletin_options *options)
{
    size_t size;
    char message[BRANT_MESSAGE_MAX];
    char *data = read_testdata(name, &size);
    brant_bulletin bulletin;
    if (parse_text(data, size, options, &bulletin, message))
        fail_msg("%s: %s", name, message);
    free(data);
    return bulletin;
}

#endif
