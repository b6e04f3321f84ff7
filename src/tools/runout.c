/* brant-runout: DEM and zones -> the runout shadow. */
#include "program.h"

#include <stdlib.h>

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

/* The zones of the whole file. */
static brant_status read_zones(brant_context *ctx, const tool_values *values, brant_dem *dem,
                               brant_zone_set *set)
{
    brant_zone_file *file = NULL;
    brant_squares squares;
    bool *wanted = NULL;
    brant_status status = brant_zone_file_open(ctx, values->operand[1], dem,
                                               values->reach.reach_angle_deg, &file);
    if (status == BRANT_OK)
        status = brant_squares_of(ctx, dem->grid.cols, dem->grid.rows, &squares);
    if (status != BRANT_OK)
        goto done;
    wanted = brant_alloc(ctx, (size_t)squares.across * (size_t)squares.down, sizeof *wanted);
    status = BRANT_ERR_MEMORY;
    if (!wanted)
        goto done;
    for (int i = 0; i < squares.across * squares.down; i++)
        wanted[i] = true;
    status = brant_zone_file_zones(ctx, file, dem, wanted, &values->zone, set);
    if (status == BRANT_OK && set->count == 0)
        brant_warn(ctx, "%s: no zones in it, so no shadow", values->operand[1]);
done:
    free(wanted);
    brant_zone_file_close(file);
    return status;
}

/* A shadow that runs into the unknown may go on there. */
static void warn_of_truncated(brant_context *ctx, const char *model, const brant_zone_set *set)
{
    size_t truncated = 0;
    for (size_t i = 0; i < set->count; i++)
        truncated += (set->zones[i].flags & BRANT_ZONE_TRUNCATED) != 0;
    if (truncated > 0)
        brant_warn(ctx, "%s: the shadows of %zu of %zu zones meet a void or the model's edge and "
                   "may go on there", model, truncated, set->count);
}

static brant_status write_shadow(brant_context *ctx, const tool_values *values, brant_dem *dem,
                                 brant_zone_set *set, const char *path)
{
    brant_shadow shadow = {0};
    brant_tags tags = {0};
    brant_status status = tool_reach_tags(ctx, values, TOOL_RUNOUT, dem, values->operand[1],
                                          &tags);
    if (status == BRANT_OK)
        status = brant_plan_shadow(ctx, dem, set, &values->reach, (float)values->void_rise_m,
                                   &shadow);
    if (status == BRANT_OK)
        warn_of_truncated(ctx, values->operand[0], set);
    if (status == BRANT_OK)
        status = brant_write_shadow(ctx, dem, &shadow, path, tool_packing(values), &tags);
    brant_shadow_clear(&shadow);
    brant_tags_clear(&tags);
    return status;
}

static brant_status runout(brant_context *ctx, tool_values *values)
{
    const char *path = NULL;
    brant_dem dem = {0};
    brant_zone_set set = {0};
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
        status = read_zones(ctx, values, &dem, &set);
    if (status == BRANT_OK)
        status = write_shadow(ctx, values, &dem, &set, path);
    if (status == BRANT_OK)
        status = brant_stage_commit(ctx, stage);

    brant_zone_set_clear(&set);
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
