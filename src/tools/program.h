/* What every program does around its work: messages, progress, signals, exit
 * status. A main() is: begin, work, end. */
#ifndef BRANT_TOOLS_PROGRAM_H
#define BRANT_TOOLS_PROGRAM_H

#include "options.h"

typedef struct tool {
    brant_context ctx;
    tool_values values;
    tool_program program;
    bool progress;   /* standard error is a terminal and may be drawn on */
    int drawn;       /* columns of the progress line that stands there now */
    int percent;     /* last shown, to draw only what changed */
    const char *stage;
    bool working;    /* the command line is understood: what fails now is not its form */
    brant_status status;
} tool;

/* Parse the command line and get ready. True: there is work to do. False: it
 * was --help, --version or a usage error; go to tool_end. */
bool tool_begin(tool *t, tool_program program, int argc, char **argv);
/* Print the failure if there was one, close standard output; the exit status. */
int tool_end(tool *t);

/* How the command line wants the model read; points into `values`. */
brant_dem_options tool_dem_options(const tool_values *values);
/* Says what is missed at the reach angle, if it is another than 25 degrees. */
void tool_note_reach(brant_context *ctx, const tool_values *values);
brant_packing tool_packing(const tool_values *values);

/* Announce an output if it is asked for (`target` not NULL); *path is where to
 * write it, NULL if it is not. */
brant_status tool_output(brant_context *ctx, brant_stage *stage, const char *target, bool text,
                         const char **path);

/* Metadata lines of any raster: program, model, and how the model was read. */
brant_status tool_model_tags(brant_context *ctx, const tool_values *values, tool_program program,
                             const brant_dem *dem, brant_tags *tags);
/* On a file that holds but the zones near a route. */
#define TOOL_PART_TAG "BRANT_ZONES_PART"

/* A zone raster or GeoPackage says how its model was read and what band it is for; take that
 * over where the command line says nothing, so that stages fit each other. */
brant_status tool_take_over(brant_context *ctx, tool_program program, const char *zones,
                            tool_values *values);
/* Metadata lines of a zone raster, and of a runout raster (`zones_from`: the
 * zone raster, NULL if they were found on the way). Options stand in them, so
 * that a raster says how it was made. */
brant_status tool_zone_tags(brant_context *ctx, const tool_values *values, tool_program program,
                            const brant_dem *dem, brant_tags *tags);
brant_status tool_reach_tags(brant_context *ctx, const tool_values *values, tool_program program,
                             const brant_dem *dem, const char *zones_from, brant_tags *tags);
/* And of the layers of tours: those of zones, reach, edge distance and the day. */
brant_status tool_tour_tags(brant_context *ctx, const tool_values *values, tool_program program,
                            const brant_dem *dem, brant_tags *tags);

#endif
