/* What a raster says of itself. */
#include "brant/plan.h"

#include <stdlib.h>
#include <string.h>

/* Hand a finished line over, or clear it. */
static brant_status add_line(brant_context *ctx, brant_tags *tags, brant_text *line)
{
    brant_status status = brant_text_status(ctx, line);
    if (status == BRANT_OK && tags->count == BRANT_TAGS_MAX)
        status = brant_fail(ctx, BRANT_ERR_INTERNAL, "more than %d metadata lines",
                            BRANT_TAGS_MAX);
    if (status == BRANT_OK)
        tags->line[tags->count++] = line->data;
    else
        brant_text_clear(line);
    return status;
}

brant_status brant_tags_add(brant_context *ctx, brant_tags *tags, const char *key,
                            const char *value)
{
    brant_text line = {0};
    brant_text_add(&line, "%s=%s", key, value);
    return add_line(ctx, tags, &line);
}

brant_status brant_tags_number(brant_context *ctx, brant_tags *tags, const char *key,
                               double value)
{
    brant_text line = {0};
    brant_text_add(&line, "%s=%.10g", key, value);
    return add_line(ctx, tags, &line);
}

const char *brant_file_name(const char *path)
{
    const char *slash = strrchr(path, '/');
    return slash && slash[1] ? slash + 1 : path;
}

brant_status brant_tags_begin(brant_context *ctx, brant_tags *tags, const char *program,
                              const brant_dem *dem)
{
    brant_status status = brant_tags_add(ctx, tags, "BRANT_PROGRAM", program);
    if (status == BRANT_OK)
        status = brant_tags_add(ctx, tags, "BRANT_VERSION", brant_version());
    if (status == BRANT_OK)
        status = brant_tags_add(ctx, tags, "BRANT_MODEL", brant_file_name(dem->name));
    if (status == BRANT_OK)
        status = brant_tags_number(ctx, tags, "BRANT_MODEL_BAND", dem->band);
    if (status == BRANT_OK)
        status = brant_tags_number(ctx, tags, "BRANT_FACTOR", dem->factor);
    if (status == BRANT_OK)
        status = brant_tags_number(ctx, tags, "BRANT_TO_METRES", dem->to_metres);
    if (status == BRANT_OK)
        status = brant_tags_add(ctx, tags, "BRANT_UNIT_FROM", dem->unit_from);
    return status;
}

void brant_tags_clear(brant_tags *tags)
{
    for (int i = 0; i < tags->count; i++)
        free(tags->line[i]);
    memset(tags, 0, sizeof *tags);
}
