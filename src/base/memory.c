/* Memory with overflow checks and one message. */
#include "brant/base.h"

#include <stdlib.h>
#include <string.h>

void *brant_alloc(brant_context *ctx, size_t count, size_t size)
{
    if (count == 0)
        count = 1;
    void *memory = calloc(count, size); /* calloc checks the product */
    if (!memory)
        brant_fail(ctx, BRANT_ERR_MEMORY, "not enough memory for %zu x %zu bytes", count, size);
    return memory;
}

brant_status brant_grow(brant_context *ctx, void *array, size_t *capacity, size_t need, size_t size)
{
    void *old, *grown;
    size_t wanted;
    if (need <= *capacity)
        return BRANT_OK;
    wanted = *capacity + *capacity / 2;
    if (wanted < need)
        wanted = need;
    if (wanted < 16)
        wanted = 16;
    memcpy(&old, array, sizeof old); /* *array's own type is the caller's */
    grown = wanted > SIZE_MAX / size ? NULL : realloc(old, wanted * size);
    if (!grown)
        return brant_fail(ctx, BRANT_ERR_MEMORY, "not enough memory for %zu x %zu bytes", wanted,
                          size);
    memcpy(array, &grown, sizeof grown);
    *capacity = wanted;
    return BRANT_OK;
}

char *brant_strdup(brant_context *ctx, const char *text)
{
    size_t length = strlen(text);
    char *copy = brant_alloc(ctx, length + 1, 1);
    if (copy)
        memcpy(copy, text, length + 1);
    return copy;
}
