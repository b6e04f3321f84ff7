/* brant-zones: DEM -> numbered start zones: raster, outlines, table. */
#include "program.h"

typedef struct zones_paths {
    const char *raster, *polygons;
} zones_paths;

static brant_status announce(brant_context *ctx, const tool_values *values, brant_stage *stage,
                             zones_paths *paths)
{
    const char *table; /* a text goes to its target by name, which may be a pipe */
    brant_status status = brant_stage_input(ctx, stage, values->operand[0]);
    if (status == BRANT_OK)
        status = tool_output(ctx, stage, values->output, false, &paths->raster);
    if (status == BRANT_OK)
        status = tool_output(ctx, stage, values->polygons, false, &paths->polygons);
    if (status == BRANT_OK)
        status = tool_output(ctx, stage, values->table, true, &table);
    return status;
}

static brant_status write_zones(brant_context *ctx, const tool_values *values, brant_dem *dem,
                                brant_stage *stage, const zones_paths *paths)
{
    brant_zone_outputs outputs = {paths->raster, NULL, stage, values->table};
    brant_tags tags = {0};
    brant_status status = tool_zone_tags(ctx, values, TOOL_ZONES, dem, &tags);
    if (status == BRANT_OK && paths->polygons)
        status = brant_layers_create(ctx, paths->polygons, values->polygons, &outputs.layers);
    if (status == BRANT_OK && outputs.layers)
        status = brant_layers_metadata(ctx, outputs.layers, (const char *const *)tags.line);
    if (status == BRANT_OK)
        status = brant_write_all_zones(ctx, dem, &values->zone, &outputs, tool_packing(values),
                                       &tags);
    if (status == BRANT_OK && outputs.layers) {
        status = brant_layers_close(ctx, outputs.layers);
        outputs.layers = NULL;
    }
    brant_layers_abandon(outputs.layers);
    brant_tags_clear(&tags);
    return status;
}

static brant_status zones(brant_context *ctx, const tool_values *values)
{
    brant_dem_options options = tool_dem_options(values);
    zones_paths paths = {0};
    brant_dem dem = {0};
    brant_stage *stage = NULL;

    brant_status status = brant_stage_create(ctx, &stage);
    if (status == BRANT_OK)
        status = brant_dem_open(ctx, values->operand[0], &options, &dem);
    if (status == BRANT_OK)
        status = announce(ctx, values, stage, &paths);
    if (status == BRANT_OK)
        status = write_zones(ctx, values, &dem, stage, &paths);
    if (status == BRANT_OK)
        status = brant_stage_commit(ctx, stage);

    brant_dem_close(&dem);
    brant_stage_destroy(stage);
    return status;
}

int main(int argc, char **argv)
{
    tool t;
    if (tool_begin(&t, TOOL_ZONES, argc, argv))
        t.status = zones(&t.ctx, &t.values);
    return tool_end(&t);
}
