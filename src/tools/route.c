/* brant-route: DEM and GPX -> legs, points, what lies above, waypoints. */
#include "touring.h"

static brant_status announce(brant_context *ctx, const tool_values *values, brant_stage *stage,
                             const char **layers)
{
    const char *texts[] = {values->output, values->points, values->above, values->waypoints};
    brant_status status = touring_inputs(ctx, values, stage);
    for (size_t i = 0; i < sizeof texts / sizeof *texts && status == BRANT_OK; i++) {
        const char *path;
        status = tool_output(ctx, stage, texts[i], true, &path);
    }
    if (status == BRANT_OK)
        status = tool_output(ctx, stage, values->layers, false, layers);
    return status;
}

static brant_status write_outputs(brant_context *ctx, const tool_values *values,
                                  const touring *tour, brant_stage *stage, const char *layers)
{
    brant_status status = touring_text(ctx, tour, stage, values->output, brant_report_legs_csv);
    if (status == BRANT_OK)
        status = touring_text(ctx, tour, stage, values->points, brant_report_points_csv);
    if (status == BRANT_OK)
        status = touring_text(ctx, tour, stage, values->above, brant_report_above_csv);
    if (status == BRANT_OK)
        status = touring_text(ctx, tour, stage, values->waypoints, brant_report_waypoints);
    if (status == BRANT_OK)
        status = touring_layers(ctx, TOOL_ROUTE, values, tour, layers, values->layers);
    return status;
}

static brant_status route(brant_context *ctx, tool_values *values)
{
    const char *layers = NULL;
    touring tour = {0};
    brant_stage *stage = NULL;

    brant_status status = brant_stage_create(ctx, &stage);
    if (status == BRANT_OK)
        status = announce(ctx, values, stage, &layers);
    if (status == BRANT_OK)
        status = touring_open(ctx, TOOL_ROUTE, values, &tour);
    if (status == BRANT_OK)
        status = touring_run(ctx, values, false, &tour);
    if (status == BRANT_OK)
        status = write_outputs(ctx, values, &tour, stage, layers);
    if (status == BRANT_OK)
        status = brant_stage_commit(ctx, stage);

    touring_clear(&tour);
    brant_stage_destroy(stage);
    return status;
}

int main(int argc, char **argv)
{
    tool t;
    if (tool_begin(&t, TOOL_ROUTE, argc, argv))
        t.status = route(&t.ctx, &t.values);
    return tool_end(&t);
}
