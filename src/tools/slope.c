/* brant-slope: DEM -> slope, aspect, steepness classes. */
#include "program.h"

static brant_status announce(brant_context *ctx, const tool_values *values, brant_stage *stage,
                             brant_steepness_paths *paths)
{
    brant_status status = brant_stage_input(ctx, stage, values->operand[0]);
    if (status == BRANT_OK)
        status = tool_output(ctx, stage, values->output, false, &paths->slope);
    if (status == BRANT_OK)
        status = tool_output(ctx, stage, values->aspect, false, &paths->aspect);
    if (status == BRANT_OK)
        status = tool_output(ctx, stage, values->classes, false, &paths->classes);
    return status;
}

static brant_status describe(brant_context *ctx, const tool_values *values, const brant_dem *dem,
                             brant_tags *tags)
{
    brant_status status = tool_model_tags(ctx, values, TOOL_SLOPE, dem, tags);
    if (status == BRANT_OK)
        status = brant_tags_add(ctx, tags, "BRANT_METHOD", "Horn 1981, 3 x 3 cells");
    if (status == BRANT_OK)
        status = brant_tags_add(ctx, tags, "BRANT_EDGES",
                                values->edges ? "one-sided" : "unknown");
    return status;
}

static brant_status slope(brant_context *ctx, const tool_values *values)
{
    brant_dem_options options = tool_dem_options(values);
    brant_steepness_paths paths = {0};
    brant_dem dem = {0};
    brant_tags tags = {0};
    brant_stage *stage = NULL;

    brant_status status = brant_stage_create(ctx, &stage);
    if (status == BRANT_OK)
        status = brant_dem_open(ctx, values->operand[0], &options, &dem);
    if (status == BRANT_OK)
        status = announce(ctx, values, stage, &paths);
    if (status == BRANT_OK)
        status = describe(ctx, values, &dem, &tags);
    if (status == BRANT_OK) {
        brant_window all = {0, 0, dem.grid.cols, dem.grid.rows};
        status = brant_write_steepness(ctx, &dem, &all, NULL, values->edges, &paths,
                                       tool_packing(values), &tags);
    }
    if (status == BRANT_OK)
        status = brant_stage_commit(ctx, stage);

    brant_tags_clear(&tags);
    brant_dem_close(&dem);
    brant_stage_destroy(stage);
    return status;
}

int main(int argc, char **argv)
{
    tool t;
    if (tool_begin(&t, TOOL_SLOPE, argc, argv))
        t.status = slope(&t.ctx, &t.values);
    return tool_end(&t);
}
