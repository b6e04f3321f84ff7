/* What brant-route and brant-plan share: from model and GPX to tours and their
 * report. */
#ifndef BRANT_TOOLS_TOURING_H
#define BRANT_TOOLS_TOURING_H

#include "program.h"

/* Zero to start. `report` points into the rest and into the options. */
typedef struct touring {
    brant_dem dem;
    brant_gpx gpx, others;
    brant_zone_file *zones;
    brant_plan plan;
    brant_locator *locator;
    brant_text vertical_unit;
    brant_bulletin bulletin; /* from the file or by hand; without ratings where none is given */
    brant_day day;           /* filled by touring_open */
    brant_report report;
} touring;

/* Tell the stage of the inputs, so that no output takes the place of one. */
brant_status touring_inputs(brant_context *ctx, const tool_values *values, brant_stage *stage);
/* Read a GPX file; `name` stands in messages. */
brant_status touring_gpx(brant_context *ctx, const char *path, const char *name, brant_gpx *gpx);
/* What the options ask of a plan; without routes. */
brant_plan_request touring_request(const tool_values *values, bool maps, const touring *tour);
/* Fill in the report's header, and its tours from tour->plan. */
brant_status touring_report(brant_context *ctx, const tool_values *values, touring *tour);
/* Open and read the inputs. What a zone file says of its making goes into
 * `values` first. */
brant_status touring_open(brant_context *ctx, tool_program program, tool_values *values,
                          touring *tour);
/* Run the stages and fill in the report. `maps`: rasters around the routes will
 * be written, so the shadow is wanted everywhere. */
brant_status touring_run(brant_context *ctx, const tool_values *values, bool maps, touring *tour);
void touring_clear(touring *tour);

/* A report as a text output: what brant_report_legs_csv and its like make. */
typedef void (*touring_text_fn)(const brant_report *report, brant_text *out);
brant_status touring_text(brant_context *ctx, const touring *tour, brant_stage *stage,
                          const char *target, touring_text_fn make);
/* zones, legs and points into the vector file staged at `path`. */
brant_status touring_layers(brant_context *ctx, tool_program program, const tool_values *values,
                            const touring *tour, const char *path, const char *target);

#endif
