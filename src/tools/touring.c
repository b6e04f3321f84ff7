#include "touring.h"

#include <math.h>
#include <stdlib.h>
#include <string.h>

/* A GPX file larger than this is no tour. */
#define GPX_BYTES ((size_t)128 << 20)
/* The maps reach this far beyond the routes' box, metres. */
#define MAP_MARGIN 1000.0

brant_status touring_inputs(brant_context *ctx, const tool_values *values, brant_stage *stage)
{
    brant_status status = brant_stage_input(ctx, stage, values->operand[0]);
    if (status == BRANT_OK && strcmp(values->operand[1], "-") != 0)
        status = brant_stage_input(ctx, stage, values->operand[1]);
    if (status == BRANT_OK && values->zones)
        status = brant_stage_input(ctx, stage, values->zones);
    if (status == BRANT_OK && values->others)
        status = brant_stage_input(ctx, stage, values->others);
    if (status == BRANT_OK && values->bulletin && strcmp(values->bulletin, "-") != 0)
        status = brant_stage_input(ctx, stage, values->bulletin);
    return status;
}

static const char *gpx_name(const tool_values *values)
{
    return strcmp(values->operand[1], "-") == 0 ? "standard input" : values->operand[1];
}

brant_status touring_gpx(brant_context *ctx, const char *path, const char *name, brant_gpx *gpx)
{
    char *data = NULL;
    size_t size = 0;
    brant_status status = brant_read_file(ctx, path, GPX_BYTES, &data, &size);
    if (status == BRANT_OK)
        status = brant_gpx_parse(ctx, name, data, size, gpx);
    free(data);
    return status;
}

/* ---- the day ------------------------------------------------------------ */

static const char *bulletin_name(const tool_values *values)
{
    return strcmp(values->bulletin, "-") == 0 ? "standard input"
                                              : brant_file_name(values->bulletin);
}

static brant_bulletin_options bulletin_options(const tool_values *values)
{
    return (brant_bulletin_options){values->region, values->treeline_m,
                                    values->outside_core != NULL};
}

static brant_status read_bulletin(brant_context *ctx, const tool_values *values,
                                  brant_bulletin *bulletin)
{
    brant_bulletin_options options = bulletin_options(values);
    char *data = NULL;
    size_t size = 0;
    if (!values->bulletin)
        return brant_bulletin_by_hand(ctx, values->level, values->level_above_m,
                                      values->level_below_m, values->aspects, &options, bulletin);
    brant_status status = brant_read_file(ctx, values->bulletin, BRANT_BULLETIN_MAX_BYTES, &data,
                                          &size);
    if (status == BRANT_OK)
        status = brant_bulletin_parse(ctx, bulletin_name(values), data, size, &options, bulletin);
    free(data);
    return status;
}

/* Nothing given: no day. */
static brant_status open_day(brant_context *ctx, const tool_values *values, touring *tour)
{
    brant_status status = BRANT_OK;
    tour->day = BRANT_DAY_NONE;
    tour->day.options = bulletin_options(values);
    if (values->bulletin || values->level > 0) {
        status = read_bulletin(ctx, values, &tour->bulletin);
        tour->day.bulletin = &tour->bulletin;
    }
    tour->day.start = values->start;
    tour->day.later_from = values->later_from;
    tour->day.pace = values->pace;
    if (values->out_by >= 0)
        tour->day.out_by = (double)brant_time_midnight(&values->start) + 60.0 * values->out_by;
    if (values->wind_text)
        tour->day.wind = &values->wind;
    return status;
}

static bool has_day(const touring *tour)
{
    return tour->day.bulletin || tour->day.start.has_offset || tour->day.wind;
}

/* The bulletin is for another day: said in the report, and here, where nobody misses it. */
static void warn_not_covered(brant_context *ctx, const touring *tour)
{
    const brant_day *day = &tour->day;
    double end = 0;
    brant_text why = {0};
    if (!day->bulletin || !day->start.has_offset)
        return;
    for (size_t i = 0; i < tour->plan.tour_count; i++) {
        const brant_tour *t = &tour->plan.tours[i];
        if (t->seconds && t->track.count > 0)
            end = fmax(end, t->seconds[t->track.count - 1] * BRANT_LATE);
    }
    if (!brant_bulletin_covers(day->bulletin, day->start.utc_s,
                               day->start.utc_s + (int64_t)ceil(end), day->start.offset_min,
                               &why) && !why.failed)
        brant_warn(ctx, "%s: the bulletin does not cover the tour: %s", day->bulletin->name,
                   why.data);
    brant_text_clear(&why);
}

brant_status touring_open(brant_context *ctx, tool_program program, tool_values *values,
                          touring *tour)
{
    brant_status status = open_day(ctx, values, tour); /* small, and soon told if it is bad */
    if (status == BRANT_OK && values->zones)
        status = tool_take_over(ctx, program, values->zones, values);
    brant_dem_options options = tool_dem_options(values);
    if (status == BRANT_OK)
        status = brant_dem_open(ctx, values->operand[0], &options, &tour->dem);
    if (status == BRANT_OK && program != TOOL_SCREEN)
        status = touring_gpx(ctx, values->operand[1], gpx_name(values), &tour->gpx);
    if (status == BRANT_OK && values->others)
        status = touring_gpx(ctx, values->others, values->others, &tour->others);
    if (status == BRANT_OK && values->zones)
        status = brant_zone_file_open(ctx, values->zones, &tour->dem,
                                      values->reach.reach_angle_deg, &tour->zones);
    if (status == BRANT_OK)
        status = brant_locator_create(ctx, tour->dem.name, &tour->dem.grid, &tour->locator);
    if (status == BRANT_OK)
        tool_note_reach(ctx, values);
    return status;
}

/* ---- the report's header ------------------------------------------------ */

/* The working cell's size in the middle of the window that the tour lies in. */
static void cell_size(const touring *tour, double cell_m[2])
{
    const brant_window *window = &tour->plan.window;
    brant_matrix matrix;
    brant_ground_matrix(tour->dem.ground, window->col + window->cols / 2.0,
                        window->row + window->rows / 2.0, &matrix);
    cell_m[0] = brant_matrix_cell_width(&matrix);
    cell_m[1] = brant_matrix_cell_height(&matrix);
}

/* "m (assumed)", "ft (from CRS)". */
static void name_unit(const brant_dem *dem, brant_text *out)
{
    static const struct {
        const char *name;
        double metres;
    } units[] = {{"m", 1.0}, {"ft", 0.3048}, {"us-ft", 1200.0 / 3937.0}};
    for (size_t i = 0; i < sizeof units / sizeof *units && !out->data; i++)
        if (fabs(dem->to_metres - units[i].metres) < 1e-9)
            brant_text_add(out, "%s", units[i].name);
    if (!out->data)
        brant_text_add(out, "%.6g m", dem->to_metres);
    brant_text_add(out, strcmp(dem->unit_from, "assumed") == 0 ? " (%s)" : " (from %s)",
                   dem->unit_from);
}

brant_status touring_report(brant_context *ctx, const tool_values *values, touring *tour)
{
    brant_report *report = &tour->report;
    report->model = brant_file_name(tour->dem.name);
    cell_size(tour, report->cell_m);
    report->factor = tour->dem.factor;
    report->cols = tour->dem.grid.cols;
    report->rows = tour->dem.grid.rows;
    name_unit(&tour->dem, &tour->vertical_unit);
    report->vertical_unit = tour->vertical_unit.data;
    report->datum_accuracy_m = brant_locator_accuracy(tour->locator, &report->datum_operation);
    report->reach_angle_deg = values->reach.reach_angle_deg;
    report->spread_deg = values->reach.spread_deg;
    report->floor_deg = values->reach.floor_deg;
    report->edge_m = values->edge_m;
    report->vertical_error_m = values->vertical_error_m;
    report->void_rise_m = values->void_rise_m;
    report->band = values->zone.band;
    report->zones_from = values->zones;
    for (size_t i = 0; i < tour->plan.zones.count; i++)
        report->own_angles += tour->plan.zones.zones[i].reach_angle_deg > 0.0;
    report->day = has_day(tour) ? &tour->day : NULL;
    report->signs = (brant_signs_known){values->new_snow_cm, values->wind_text, values->warming};
    report->signs_given = !isnan(values->new_snow_cm) || values->wind_text || values->warming;
    report->tours = tour->plan.tours;
    report->tour_count = tour->plan.tour_count;
    report->others = tour->plan.others;
    report->other_count = tour->plan.other_count;
    return brant_text_status(ctx, &tour->vertical_unit);
}

/* ---- the stages --------------------------------------------------------- */

brant_plan_request touring_request(const tool_values *values, bool maps, const touring *tour)
{
    brant_meet_options meet = BRANT_MEET_OPTIONS_DEFAULT;
    meet.band = values->zone.band;
    meet.edge_m = values->edge_m;
    meet.vertical_error_m = values->vertical_error_m;
    meet.reach_angle_deg = values->reach.reach_angle_deg;
    meet.floor_deg = values->reach.floor_deg;
    return (brant_plan_request){
        .dem = &tour->dem,
        .others = values->others ? &tour->others : NULL,
        .others_name = values->others,
        .zones = tour->zones,
        .zones_name = values->zones,
        .zone = values->zone,
        .reach = values->reach,
        .meet = meet,
        .day = tour->day,
        .void_rise_m = (float)values->void_rise_m,
        .map_margin_m = maps ? MAP_MARGIN : 0.0,
        .shadow_everywhere = maps,
    };
}

brant_status touring_run(brant_context *ctx, const tool_values *values, bool maps, touring *tour)
{
    brant_plan_request request = touring_request(values, maps, tour);
    request.gpx = &tour->gpx;
    request.gpx_name = gpx_name(values);
    brant_status status = brant_plan_run(ctx, &request, &tour->plan);
    if (status == BRANT_OK)
        warn_not_covered(ctx, tour);
    return status == BRANT_OK ? touring_report(ctx, values, tour) : status;
}

void touring_clear(touring *tour)
{
    brant_plan_clear(&tour->plan);
    brant_locator_destroy(tour->locator);
    brant_zone_file_close(tour->zones);
    brant_bulletin_clear(&tour->bulletin);
    brant_gpx_clear(&tour->gpx);
    brant_gpx_clear(&tour->others);
    brant_dem_close(&tour->dem);
    brant_text_clear(&tour->vertical_unit);
    memset(tour, 0, sizeof *tour);
}

/* ---- outputs ------------------------------------------------------------ */

brant_status touring_text(brant_context *ctx, const touring *tour, brant_stage *stage,
                          const char *target, touring_text_fn make)
{
    brant_text text = {0};
    brant_status status;
    if (!target)
        return BRANT_OK;
    make(&tour->report, &text);
    status = brant_text_status(ctx, &text);
    if (status == BRANT_OK)
        status = brant_stage_text(ctx, stage, target, &text);
    brant_text_clear(&text);
    return status;
}

brant_status touring_layers(brant_context *ctx, tool_program program, const tool_values *values,
                            const touring *tour, const char *path, const char *target)
{
    brant_layers *layers = NULL;
    brant_tags tags = {0};
    brant_status status;
    if (!path)
        return BRANT_OK;
    status = brant_layers_create(ctx, path, target, &layers);
    if (status == BRANT_OK) /* its zones may be read back */
        status = tool_tour_tags(ctx, values, program, &tour->dem, &tags);
    if (status == BRANT_OK)
        status = brant_tags_add(ctx, &tags, TOOL_PART_TAG, "route");
    if (status == BRANT_OK)
        status = brant_layers_metadata(ctx, layers, (const char *const *)tags.line);
    if (status == BRANT_OK)
        status = brant_write_zone_layer(ctx, &tour->dem, &tour->plan.zones, &tour->plan.window,
                                        layers);
    if (status == BRANT_OK)
        status = brant_report_layers(ctx, &tour->report, layers);
    if (status == BRANT_OK) {
        status = brant_layers_close(ctx, layers);
        layers = NULL;
    }
    brant_layers_abandon(layers);
    brant_tags_clear(&tags);
    return status;
}
