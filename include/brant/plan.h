/* plan: the stages joined, for one tour. */
#ifndef BRANT_PLAN_H
#define BRANT_PLAN_H

#include "brant/report.h"

#pragma GCC visibility push(default)

typedef struct brant_plan_request {
    const brant_dem *dem;
    const brant_gpx *gpx;
    const char *gpx_name;
    const brant_gpx *others;  /* lines of other parties, NULL: none */
    const char *others_name;
    brant_zone_file *zones;   /* zones made before; NULL: its own */
    const char *zones_name;
    brant_zone_options zone;
    brant_reach_options reach;
    brant_meet_options meet;
    brant_day day;            /* BRANT_DAY_NONE: none; zone_danger is the plan's own */
    float void_rise_m;
    double map_margin_m;      /* the window of rasters: the routes' box and this around it */
    bool shadow_everywhere;   /* the runout shadow over that whole window, not on the route alone */
} brant_plan_request;

/* Everything that the outputs are written from; owned. */
typedef struct brant_plan {
    brant_window window;      /* of field and shadow */
    brant_field field;
    brant_zone_set zones;     /* of all squares read */
    brant_shadow shadow;
    brant_hit *hits;
    size_t hit_count;
    brant_tour *tours;
    size_t tour_count;
    brant_tour *others;       /* what they meet, as far as it is within the window */
    size_t other_count;
    brant_danger (*zone_danger)[BRANT_PERIODS]; /* by index in zones; NULL without a bulletin */
    size_t zones_searched;
    uint64_t visits;
} brant_plan;

brant_status brant_plan_run(brant_context *ctx, const brant_plan_request *request,
                            brant_plan *plan);
void brant_plan_clear(brant_plan *plan);

/* ---- many circuits ------------------------------------------------------ */

/* A GPX file to be screened. */
typedef struct brant_screen_file {
    const char *name;
    const brant_gpx *gpx; /* NULL: passed over */
} brant_screen_file;

/* What became of a file; valid until the call that tells it returns. */
typedef struct brant_screened {
    size_t file;           /* into the request's files */
    const char *error;     /* NULL: it was screened. Else nothing of the rest is there */
    const brant_tour *tours; /* of its routes that have two points, in file order */
    size_t tour_count;
    const bool *empty;     /* by route of the file: it has no two points */
    const double *outside_m; /* by route: metres outside the model */
} brant_screened;

/* Called once a file, from one thread at a time, in an order that depends on the input alone. */
typedef brant_status (*brant_screened_fn)(brant_context *ctx, void *user,
                                          const brant_screened *screened);

typedef struct brant_screen_request {
    brant_plan_request plan; /* what holds for all; gpx, others and zones of a file: NULL */
    const brant_screen_file *files;
    size_t file_count;
    bool below;              /* what lies below the legs is wanted, too */
    brant_screened_fn done;
    void *user;
} brant_screen_request;

/* Stages of its progress, beside those of the work in hand: how much is done as a part of it
 * (the ground of a group of circuits, or some of them) begins, and how much will be once that
 * is done. */
#define BRANT_SCREEN_DONE "circuits done"
#define BRANT_SCREEN_NEXT "circuits next"

/* Plan each file as brant_plan_run does for it alone, with the same numbers: circuits that
 * share ground are taken together, and its zones and shadows are found once for all of
 * them. A file that cannot be planned is told with its error, and the rest goes on.
 * BRANT_ERR_INTERRUPTED: what was told until then is whole. */
brant_status brant_screen_run(brant_context *ctx, const brant_screen_request *request);

/* ---- the runout shadow of a whole model --------------------------------- */

typedef struct brant_runout_request {
    brant_reach_options reach;
    float void_rise_m;
    const char *path;        /* staged; a scratch file may be made beside it, without a name */
    brant_packing packing;
    const struct brant_tags *tags;
    size_t budget_bytes;     /* for pages of ground and shadow in memory; leaves no trace */
} brant_runout_request;

#define BRANT_RUNOUT_BUDGET ((size_t)72 << 20)

typedef struct brant_runout_counts {
    size_t zones, truncated; /* truncated: those whose shadow meets the unknown */
} brant_runout_counts;

/* The runout raster of all zones of the file, and of the unknown, over the whole grid. Polygons'
 * outlines are dropped on the way (brant_zone_file_drop_outlines). */
brant_status brant_plan_runout(brant_context *ctx, brant_dem *dem, brant_zone_file *zones,
                               const brant_runout_request *request, brant_runout_counts *counts);

/* ---- a page on a model -------------------------------------------------- */

/* Read the whole model, strip by strip, and judge it. `vertical_error_m`: standard error of
 * its heights, NaN not known. The check borrows `dem`. Owned; brant_check_clear frees. */
brant_status brant_check_run(brant_context *ctx, brant_dem *dem, double vertical_error_m,
                             brant_check *check);
void brant_check_clear(brant_check *check);

/* ---- rasters ------------------------------------------------------------ */

/* "KEY=value" lines for a raster's metadata; owned. Zero to start. */
#define BRANT_TAGS_MAX 40
typedef struct brant_tags {
    char *line[BRANT_TAGS_MAX + 1]; /* NULL-terminated */
    int count;
} brant_tags;

/* The last part of a path: where a file lies is nobody's business, and the same
 * input gives the same bytes wherever it lies. */
const char *brant_file_name(const char *path);
/* What every raster says of itself: program, version, model (its file name
 * without folders), factor k, band, what the heights are in. */
brant_status brant_tags_begin(brant_context *ctx, brant_tags *tags, const char *program,
                              const brant_dem *dem);
brant_status brant_tags_add(brant_context *ctx, brant_tags *tags, const char *key,
                            const char *value);
brant_status brant_tags_number(brant_context *ctx, brant_tags *tags, const char *key,
                               double value);
void brant_tags_clear(brant_tags *tags);

/* Staged paths; NULL: not wanted. */
typedef struct brant_steepness_paths {
    const char *elevation, *slope, *aspect, *classes;
} brant_steepness_paths;

/* Rasters of steepness over `window`, piece by piece on ctx->threads threads.
 * `field` holds the window already, or is NULL: then it is read from the model. */
brant_status brant_write_steepness(brant_context *ctx, brant_dem *dem, const brant_window *window,
                                   const brant_field *field, bool edges,
                                   const brant_steepness_paths *paths, brant_packing packing,
                                   const brant_tags *tags);
/* Zone numbers over `window`, 0 for none. */
brant_status brant_write_zones(brant_context *ctx, const brant_dem *dem,
                               const brant_window *window, const brant_zone_set *zones,
                               const char *path, brant_packing packing, const brant_tags *tags);
/* The five bands of a runout raster over the shadow's window; nodata where the
 * model has no ground. */
brant_status brant_write_shadow(brant_context *ctx, brant_dem *dem, const brant_shadow *shadow,
                                const char *path, brant_packing packing,
                                const brant_tags *tags);

/* ---- zones of a whole model --------------------------------------------- */

/* Where they go; NULL: not wanted. */
typedef struct brant_zone_outputs {
    const char *raster;     /* staged path */
    brant_layers *layers;   /* open; takes the layer `zones` */
    brant_stage *stage;     /* where the table is announced */
    const char *table;      /* target of zones.csv */
} brant_zone_outputs;

/* Number the zones of all squares, one row of squares after the other. */
brant_status brant_write_all_zones(brant_context *ctx, brant_dem *dem,
                                   const brant_zone_options *options,
                                   const brant_zone_outputs *outputs, brant_packing packing,
                                   const brant_tags *tags);
/* The layer `zones`: whole outlines of those zones of `set` that have a cell in
 * `window`. */
brant_status brant_write_zone_layer(brant_context *ctx, const brant_dem *dem,
                                    const brant_zone_set *set, const brant_window *window,
                                    brant_layers *layers);

#pragma GCC visibility pop

#endif
