/* brant-sheet: the folder that brant-plan wrote -> a printed sheet. */
#include "program.h"

#include <stdlib.h>
#include <string.h>

/* A plan.json larger than this is none. */
#define PLAN_BYTES ((size_t)1 << 30)

enum { PLAN, ELEVATION, CLASSES, RUNOUT, FILES };
static const char *const names[FILES] = {"plan.json", "elevation.tif", "class.tif", "runout.tif"};

static brant_status find_files(brant_context *ctx, const char *folder, brant_stage *stage,
                               brant_text paths[FILES])
{
    brant_status status = BRANT_OK;
    for (int i = 0; i < FILES && status == BRANT_OK; i++) {
        brant_text_add(&paths[i], "%s/%s", folder, names[i]);
        status = brant_text_status(ctx, &paths[i]);
        if (status == BRANT_OK)
            status = brant_stage_input(ctx, stage, paths[i].data);
    }
    return status;
}

static brant_status draw(brant_context *ctx,
                         const brant_sheet_options *options, const brant_text paths[FILES],
                         brant_text *out)
{
    char *plan = NULL;
    brant_sheet_input input = {.plan_name = paths[PLAN].data, .elevation = paths[ELEVATION].data,
                               .classes = paths[CLASSES].data, .runout = paths[RUNOUT].data};
    brant_status status = brant_sheet_fonts(ctx);
    if (status == BRANT_OK)
        status = brant_read_file(ctx, paths[PLAN].data, PLAN_BYTES, &plan, &input.plan_size);
    input.plan = plan;
    if (status == BRANT_OK)
        status = brant_report_sheet(ctx, &input, options, out);
    free(plan);
    return status;
}

static brant_status sheet(brant_context *ctx, const tool_values *values)
{
    brant_sheet_options options = {
        .letter = values->paper && strcmp(values->paper, "letter") == 0,
        .bearings = values->bearings,
        .declination_deg = values->declination_deg,
    };
    brant_text paths[FILES] = {{0}}, out = {0};
    brant_stage *stage = NULL;
    const char *staged;

    brant_sheet_format_of(values->output, &options.format); /* tool_parse saw that it is one */
    brant_status status = brant_stage_create(ctx, &stage);
    if (status == BRANT_OK)
        status = find_files(ctx, values->operand[0], stage, paths);
    if (status == BRANT_OK)
        status = brant_stage_output(ctx, stage, values->output, true, &staged);
    if (status == BRANT_OK)
        status = draw(ctx, &options, paths, &out);
    if (status == BRANT_OK)
        status = brant_stage_text(ctx, stage, values->output, &out);
    if (status == BRANT_OK)
        status = brant_stage_commit(ctx, stage);

    brant_stage_destroy(stage);
    brant_text_clear(&out);
    for (int i = 0; i < FILES; i++)
        brant_text_clear(&paths[i]);
    return status;
}

int main(int argc, char **argv)
{
    tool t;
    if (tool_begin(&t, TOOL_SHEET, argc, argv))
        t.status = sheet(&t.ctx, &t.values);
    return tool_end(&t);
}
