/* brant-runout: DEM and zones -> the runout shadow. */
#include "program.h"

static brant_status announce(brant_context *ctx, const tool_values *values, brant_stage *stage,
                             const char **path)
{
    brant_status status = brant_stage_input(ctx, stage, values->operand[0]);
    if (status == BRANT_OK)
        status = brant_stage_input(ctx, stage, values->operand[1]);
    if (status == BRANT_OK)
        status = tool_output(ctx, stage, values->output, false, path);
    return status;
}

/* No zones, no shadow; a shadow that runs into the unknown may go on there. */
static void warn_of(brant_context *ctx, const tool_values *values,
                    const brant_runout_counts *counts)
{
    if (counts->zones == 0)
        brant_warn(ctx, "%s: no zones in it, so no shadow", values->operand[1]);
    if (counts->truncated > 0)
        brant_warn(ctx, "%s: the shadows of %zu of %zu zones meet a void or the model's edge and "
                   "may go on there", values->operand[0], counts->truncated, counts->zones);
}

static brant_status write_shadow(brant_context *ctx, const tool_values *values, brant_dem *dem,
                                 const char *path)
{
    brant_zone_file *zones = NULL;
    brant_tags tags = {0};
    brant_runout_request request = {.reach = values->reach, .path = path, .tags = &tags,
                                    .void_rise_m = (float)values->void_rise_m,
                                    .packing = tool_packing(values),
                                    .budget_bytes = BRANT_RUNOUT_BUDGET};
    brant_runout_counts counts;
    brant_status status = brant_zone_file_open(ctx, values->operand[1], dem,
                                               values->reach.reach_angle_deg, &zones);
    if (status == BRANT_OK)
        status = tool_reach_tags(ctx, values, TOOL_RUNOUT, dem, values->operand[1], &tags);
    if (status == BRANT_OK)
        status = brant_plan_runout(ctx, dem, zones, &request, &counts);
    if (status == BRANT_OK)
        warn_of(ctx, values, &counts);
    brant_zone_file_close(zones);
    brant_tags_clear(&tags);
    return status;
}

static brant_status runout(brant_context *ctx, tool_values *values)
{
    const char *path = NULL;
    brant_dem dem = {0};
    brant_stage *stage = NULL;

    brant_status status = brant_stage_create(ctx, &stage);
    if (status == BRANT_OK)
        status = tool_take_over(ctx, TOOL_RUNOUT, values->operand[1], values);
    brant_dem_options options = tool_dem_options(values);
    if (status == BRANT_OK)
        status = brant_dem_open(ctx, values->operand[0], &options, &dem);
    if (status == BRANT_OK)
        status = announce(ctx, values, stage, &path);
    if (status == BRANT_OK)
        tool_note_reach(ctx, values);
    if (status == BRANT_OK)
        status = write_shadow(ctx, values, &dem, path);
    if (status == BRANT_OK)
        status = brant_stage_commit(ctx, stage);

    brant_dem_close(&dem);
    brant_stage_destroy(stage);
    return status;
}

int main(int argc, char **argv)
{
    tool t;
    if (tool_begin(&t, TOOL_RUNOUT, argc, argv))
        t.status = runout(&t.ctx, &t.values);
    return tool_end(&t);
}
