/* brant-plan: DEM and GPX -> every file of one tour in a folder, and the summary
 * on standard output. */
#include "touring.h"

#include <errno.h>
#include <stdlib.h>
#include <string.h>
#include <sys/stat.h>
#include <unistd.h>

enum {
    LEGS,
    POINTS,
    ABOVE,
    WAYPOINTS,
    JSON,
    LAYERS,
    ELEVATION,
    SLOPE,
    ASPECT,
    CLASSES,
    ZONES,
    RUNOUT,
    SHEET,
    FILES
};

static const struct {
    const char *name;
    bool text;
} files[FILES] = {
    [LEGS] = {"legs.csv", true},
    [POINTS] = {"points.csv", true},
    [ABOVE] = {"above.csv", true},
    [WAYPOINTS] = {"waypoints.gpx", true},
    [JSON] = {"plan.json", true},
    [LAYERS] = {"tour.gpkg", false},
    [ELEVATION] = {"elevation.tif", false},
    [SLOPE] = {"slope.tif", false},
    [ASPECT] = {"aspect.tif", false},
    [CLASSES] = {"class.tif", false},
    [ZONES] = {"zones.tif", false},
    [RUNOUT] = {"runout.tif", false},
    [SHEET] = {"sheet.pdf", true},
};

/* Where each file goes, and where it is staged. */
typedef struct folder {
    const char *path; /* DIR */
    bool made;        /* by us: taken away again if nothing comes of it */
    brant_text target[FILES];
    const char *staged[FILES];
    const char *summary; /* "-" */
} folder;

static brant_status make_folder(brant_context *ctx, folder *f)
{
    struct stat info;
    if (mkdir(f->path, 0777) == 0) {
        f->made = true;
        return BRANT_OK;
    }
    if (errno != EEXIST)
        return brant_fail(ctx, BRANT_ERR_IO, "%s: cannot make the folder: %s", f->path,
                          strerror(errno));
    if (stat(f->path, &info) != 0 || !S_ISDIR(info.st_mode))
        return brant_fail(ctx, BRANT_ERR_IO, "%s: is not a folder", f->path);
    return BRANT_OK;
}

static brant_status announce(brant_context *ctx, const tool_values *values, brant_stage *stage,
                             folder *f)
{
    brant_status status = touring_inputs(ctx, values, stage);
    if (status == BRANT_OK)
        status = make_folder(ctx, f);
    for (int i = 0; i < FILES && status == BRANT_OK; i++) {
        brant_text_add(&f->target[i], "%s/%s", f->path, files[i].name);
        status = brant_text_status(ctx, &f->target[i]);
        if (status == BRANT_OK)
            status = brant_stage_output(ctx, stage, f->target[i].data, files[i].text,
                                        &f->staged[i]);
    }
    if (status == BRANT_OK)
        status = brant_stage_output(ctx, stage, "-", true, &f->summary);
    return status;
}

/* From the rasters as they are staged, and the plan as its file holds it: the sheet that
 * brant-sheet draws. */
static brant_status write_sheet(brant_context *ctx, const touring *tour, brant_stage *stage,
                                const folder *f)
{
    brant_text plan = {0}, out = {0};
    brant_sheet_options options = {.format = BRANT_SHEET_PDF, .declination_deg = NAN};
    brant_status status = brant_report_json(ctx, &tour->report, &plan);
    if (status == BRANT_OK) {
        brant_sheet_input input = {f->target[JSON].data, plan.data, plan.length,
                                   f->staged[ELEVATION], f->staged[CLASSES], f->staged[RUNOUT]};
        status = brant_report_sheet(ctx, &input, &options, &out);
    }
    if (status == BRANT_OK)
        status = brant_stage_text(ctx, stage, f->target[SHEET].data, &out);
    brant_text_clear(&plan);
    brant_text_clear(&out);
    return status;
}

/* plan.json, also the summary on standard output if that is asked for. */
static brant_status write_json(brant_context *ctx, const touring *tour, brant_stage *stage,
                               const char *target, bool summary)
{
    brant_text text = {0};
    brant_status status = brant_report_json(ctx, &tour->report, &text);
    if (status == BRANT_OK)
        status = brant_stage_text(ctx, stage, target, &text);
    if (status == BRANT_OK && summary)
        status = brant_stage_text(ctx, stage, "-", &text);
    brant_text_clear(&text);
    return status;
}

static brant_status write_texts(brant_context *ctx, const tool_values *values, touring *tour,
                                brant_stage *stage, const folder *f)
{
    bool json = values->format && strcmp(values->format, "json") == 0;
    const char *no_color = getenv("NO_COLOR");
    brant_status status = touring_text(ctx, tour, stage, f->target[LEGS].data,
                                       brant_report_legs_csv);
    if (status == BRANT_OK)
        status = touring_text(ctx, tour, stage, f->target[POINTS].data, brant_report_points_csv);
    if (status == BRANT_OK)
        status = touring_text(ctx, tour, stage, f->target[ABOVE].data, brant_report_above_csv);
    if (status == BRANT_OK)
        status = touring_text(ctx, tour, stage, f->target[WAYPOINTS].data,
                              brant_report_waypoints);
    if (status == BRANT_OK)
        status = write_json(ctx, tour, stage, f->target[JSON].data, json);
    tour->report.bold = isatty(STDOUT_FILENO) && !(no_color && *no_color);
    if (status == BRANT_OK && !json)
        status = touring_text(ctx, tour, stage, "-", brant_report_summary);
    return status;
}

static brant_status write_rasters(brant_context *ctx, const tool_values *values, touring *tour,
                                  const folder *f)
{
    brant_steepness_paths paths = {f->staged[ELEVATION], f->staged[SLOPE], f->staged[ASPECT],
                                   f->staged[CLASSES]};
    brant_packing packing = tool_packing(values);
    const brant_plan *plan = &tour->plan;
    brant_tags model = {0}, zones = {0}, reach = {0};
    brant_status status = tool_model_tags(ctx, values, TOOL_PLAN, &tour->dem, &model);
    if (status == BRANT_OK)
        status = tool_zone_tags(ctx, values, TOOL_PLAN, &tour->dem, &zones);
    if (status == BRANT_OK)
        status = tool_reach_tags(ctx, values, TOOL_PLAN, &tour->dem, values->zones, &reach);
    if (status == BRANT_OK)
        status = brant_write_steepness(ctx, &tour->dem, &plan->window, &plan->field, false,
                                       &paths, packing, &model);
    if (status == BRANT_OK)
        status = brant_write_zones(ctx, &tour->dem, &plan->window, &plan->zones, f->staged[ZONES],
                                   packing, &zones);
    if (status == BRANT_OK)
        status = brant_write_shadow(ctx, &tour->dem, &plan->shadow, f->staged[RUNOUT], packing,
                                    &reach);
    brant_tags_clear(&model);
    brant_tags_clear(&zones);
    brant_tags_clear(&reach);
    return status;
}

static brant_status plan(brant_context *ctx, tool_values *values)
{
    folder f = {.path = values->folder};
    touring tour = {0};
    brant_stage *stage = NULL;

    brant_status status = brant_stage_create(ctx, &stage);
    if (status == BRANT_OK)
        status = touring_open(ctx, TOOL_PLAN, values, &tour);
    if (status == BRANT_OK)
        status = brant_sheet_fonts(ctx); /* before the work, not after it */
    if (status == BRANT_OK)
        status = announce(ctx, values, stage, &f);
    if (status == BRANT_OK)
        status = touring_run(ctx, values, true, &tour);
    if (status == BRANT_OK)
        status = write_texts(ctx, values, &tour, stage, &f);
    if (status == BRANT_OK)
        status = write_rasters(ctx, values, &tour, &f);
    if (status == BRANT_OK)
        status = write_sheet(ctx, &tour, stage, &f);
    if (status == BRANT_OK)
        status = touring_layers(ctx, TOOL_PLAN, values, &tour, f.staged[LAYERS],
                                f.target[LAYERS].data);
    if (status == BRANT_OK)
        status = brant_stage_commit(ctx, stage);

    touring_clear(&tour);
    brant_stage_destroy(stage);
    for (int i = 0; i < FILES; i++)
        brant_text_clear(&f.target[i]);
    if (status != BRANT_OK && f.made)
        rmdir(f.path); /* only if it is empty */
    return status;
}

int main(int argc, char **argv)
{
    tool t;
    if (tool_begin(&t, TOOL_PLAN, argc, argv))
        t.status = plan(&t.ctx, &t.values);
    return tool_end(&t);
}
