/* report: a tour as text, CSV, waypoints and JSON. Text only: it fills strings,
 * the caller stores them. Every report ends with the caution. */
#ifndef BRANT_REPORT_H
#define BRANT_REPORT_H

#include "brant/store.h"

#pragma GCC visibility push(default)

/* The caution, in lines of at most 79 columns, each ending in a newline. */
extern const char brant_caution[];

/* Steepness classes as RGBA, colour-blind safe: of the class raster and the map. */
extern const uint8_t brant_class_colours[BRANT_CLASSES][4];

/* What the reports say of the model and the options, beside the tours. */
typedef struct brant_report {
    const char *model;          /* its file name, without folders */
    double cell_m[2];           /* working cell's width and height at the tour, metres */
    int factor;                 /* k */
    int cols, rows;             /* of the working grid, to tell a hole in the model from ground
                                   outside it; 0: not told apart */
    const char *vertical_unit;  /* "m (assumed)", "ft (from CRS)", ... */
    double datum_accuracy_m;    /* see brant_locator_accuracy */
    const char *datum_operation;
    double reach_angle_deg, spread_deg, floor_deg, edge_m, void_rise_m;
    double vertical_error_m;    /* standard error of the model's heights; NaN not known */
    brant_band band;
    const char *zones_from;     /* file of zones, NULL: computed */
    size_t own_angles;          /* zones of that file read with a reach angle of their own */
    const brant_day *day;       /* NULL: no bulletin, no hours, no wind */
    brant_signs_known signs;    /* what the options say of the warning signs */
    bool signs_given;           /* they say something */
    const brant_tour *tours;
    size_t tour_count;
    const brant_tour *others;   /* see brant_tour.overs */
    size_t other_count;
    bool bold;                  /* summary: emphasise with ANSI bold */
    int columns;                /* summary: width to fold at, 0 for 79 */
} brant_report;

/* The summary a guide reads, worst first. */
void brant_report_summary(const brant_report *report, brant_text *out);
/* legs.csv, points.csv, above.csv: header and rows of all tours. `route` is the
 * track's name, with " (2)" and so on where the file repeats it; `zone` is the
 * number that the zone raster, polygons and table carry, so that rows join. */
void brant_report_legs_csv(const brant_report *report, brant_text *out);
void brant_report_points_csv(const brant_report *report, brant_text *out);
void brant_report_above_csv(const brant_report *report, brant_text *out);
/* GPX 1.1 waypoints at each leg that is not none-found; names of at most 15
 * characters. */
void brant_report_waypoints(const brant_report *report, brant_text *out);
/* plan.json. */
brant_status brant_report_json(brant_context *ctx, const brant_report *report, brant_text *out);
/* brant_layers_add with the style that a layer so called has: `zones`, `legs`, `points`,
 * `waits`. */
brant_status brant_report_layer(brant_context *ctx, brant_layers *layers, const char *name,
                                brant_shape shape, const brant_column *columns, int count);
/* How the rasters are shown, for brant_raster_spec.style. What is not known of slope and runout
 * has a colour of its own; the map below shows through where there is no zone, no aspect, or
 * nothing known reaches. */
void brant_style_classes(brant_text *out);
void brant_style_slope(brant_text *out);
void brant_style_aspect(brant_text *out);
void brant_style_zones(brant_text *out);
void brant_style_runout(brant_text *out);
/* Layers `legs`, `points` and `waits`, into open layers; `zones` is the plan's. */
brant_status brant_report_layers(brant_context *ctx, const brant_report *report,
                                 brant_layers *layers);

/* The table of zones: header line, then a row a zone (zones.csv). */
void brant_zone_csv_header(brant_text *out);
void brant_zone_csv_row(const brant_zone *zone, double lon, double lat, brant_text *out);
/* The same columns for the layer `zones`. */
extern const brant_column brant_zone_columns[];
extern const int brant_zone_column_count;
/* Bytes that hold every text of flags. */
#define BRANT_FLAGS_MAX 64
/* Fills brant_zone_column_count values; they point into `flags`. */
void brant_zone_values(const brant_zone *zone, double lon, double lat,
                       char flags[BRANT_FLAGS_MAX], brant_value *values);

/* ---- the sheet ---------------------------------------------------------- */

typedef enum brant_sheet_format {
    BRANT_SHEET_PDF,
    BRANT_SHEET_SVG,
    BRANT_SHEET_PNG
} brant_sheet_format;

/* What a sheet is drawn from: a plan.json in memory, and rasters of the same plan. */
typedef struct brant_sheet_input {
    const char *plan_name; /* as messages name it */
    const char *plan;
    size_t plan_size;
    const char *elevation, *classes, *runout; /* paths: elevation.tif, class.tif, runout.tif */
} brant_sheet_input;

typedef struct brant_sheet_options {
    brant_sheet_format format;
    bool letter;            /* US letter instead of A4 */
    bool bearings;          /* a table of bearings, too */
    double declination_deg; /* magnetic, east positive; NaN: not given */
} brant_sheet_options;

/* By the suffix .pdf, .svg or .png of a path; false for another. */
bool brant_sheet_format_of(const char *path, brant_sheet_format *format);
/* To ask before brant_report_sheet, and before long work that ends in it. BRANT_ERR_IO with a
 * message where there is no font to write with, BRANT_ERR_MEMORY where pango could not start
 * the threads on which it looks for fonts: it would end the process. */
brant_status brant_sheet_fonts(brant_context *ctx);
/* Draw the sheets of all tours, the bytes of a file appended to `out`: pages of a PDF, or below
 * each other in an SVG or PNG. Text is 8 points or more. BRANT_ERR_INPUT: a plan that is none,
 * or of another version; rasters that cannot be read. */
brant_status brant_report_sheet(brant_context *ctx, const brant_sheet_input *input,
                                const brant_sheet_options *options, brant_text *out);

/* ---- a page on a model --------------------------------------------------- */

typedef enum brant_fitness { BRANT_FIT, BRANT_FIT_WITH_CARE, BRANT_UNFIT } brant_fitness;

/* Why a model is not simply fit: one line with its numbers. */
typedef struct brant_reason {
    brant_fitness level; /* never BRANT_FIT */
    char text[240];
} brant_reason;

#define BRANT_REASONS 16
#define BRANT_DIFFERENCES 8

/* Corners by true direction as seen from the middle. */
enum { BRANT_AT_NW, BRANT_AT_NE, BRANT_AT_SW, BRANT_AT_SE, BRANT_AT_MIDDLE, BRANT_PLACES };

/* What brant-check found; cells are the working grid's, but where said. NaN: not known. */
typedef struct brant_check {
    const char *model;         /* its file name, without folders */
    const brant_dem *dem;
    brant_dem_facts facts;     /* owned */
    double cell_m[BRANT_PLACES][2]; /* width (a step of a column), height, metres */
    double convergence_deg[2]; /* lowest and highest: of the map's north, east of true north */
    bool placed;               /* GPS positions can be placed on it */
    double datum_accuracy_m;   /* see brant_locator_accuracy */
    char datum_operation[256]; /* its name; where not placed, why */
    int64_t cells, voids, slopes; /* all, void, with a known slope */
    int64_t undeclared;        /* cells of the file that are void though nobody declared it */
    int64_t holes;             /* patches of void that do not reach the border */
    int64_t largest_hole;      /* cells of the largest of them */
    double area_m2, known_m2;  /* of all cells, of those with an elevation */
    double low_m, high_m;
    double class_m2[BRANT_CLASSES];
    int64_t steep, lone_steep; /* cells of 30 degrees and more; in patches of up to 12 cells */
    double whole_share;        /* see brant_dem_whole_share */
    double step_m, step_deg;   /* where heights are stored in whole units: a unit on the working
                                  grid, and the slope that it makes over two cells; else NaN */
    double vertical_error_m, error_deg; /* given; of a slope of 35 degrees */
    char difference[BRANT_DIFFERENCES][200]; /* raw keys against GDAL's reading */
    int differences;
    brant_reason reason[BRANT_REASONS]; /* the worst first */
    int reasons;
    brant_fitness fitness;
    bool untold; /* there was no memory to word one of them: no page then */
} brant_check;

/* "fit", "fit with care", "unfit". */
const char *brant_fitness_name(brant_fitness fitness);
/* One page, at most 79 columns wide; and the same as JSON. */
void brant_report_check(const brant_check *check, brant_text *out);
brant_status brant_report_check_json(brant_context *ctx, const brant_check *check,
                                     brant_text *out);

/* ---- many circuits ------------------------------------------------------- */

/* A row of the table of circuits: a track or route of a file, or a file that cannot be
 * screened. Owned; brant_circuit_clear frees. */
#define BRANT_CIRCUIT_COLUMNS 37
typedef struct brant_circuit {
    brant_value value[BRANT_CIRCUIT_COLUMNS]; /* by brant_circuit_columns; its texts are owned */
    bool failed;             /* it was not screened: `status` says why */
    bool unjudged;           /* it meets level 5, no rating, not stated or unknown ground */
    int level_rank;          /* of the highest level met */
    size_t place;            /* private to brant_circuits_sort, as the next */
    int column;
} brant_circuit;

extern const brant_column brant_circuit_columns[BRANT_CIRCUIT_COLUMNS];
/* The column so called, -1: none. */
int brant_circuit_column(const char *name);

/* Fill a row from one tour of a report. `same_as`: a file whose points are the same, or NULL. */
brant_status brant_circuit_of(brant_context *ctx, const brant_report *report, size_t tour,
                              const char *file, const char *same_as, brant_circuit *circuit);
/* A row of what was not screened. `route`: its name, or "". */
brant_status brant_circuit_failed(brant_context *ctx, const char *file, const char *route,
                                  const char *status, brant_circuit *circuit);
void brant_circuit_clear(brant_circuit *circuit);
/* Rank them. `column` -1: first what was not screened, then what cannot be judged, each by
 * metres over the limit, on or beside release ground, and under it; else by that column, what
 * is empty first, then numbers from the largest, texts from A. */
void brant_circuits_sort(brant_circuit *circuits, size_t count, int column);

/* All of them. */
typedef struct brant_circuits {
    const brant_report *report; /* model, options, day; its tours are not looked at */
    const brant_circuit *circuits;
    size_t count;
    size_t failed, waiting;  /* of them: with an error; not come to when it was stopped */
    bool ranked;             /* in the order of brant_circuits_sort without a column */
} brant_circuits;

void brant_report_circuits_csv(const brant_circuits *all, brant_text *out);
brant_status brant_report_circuits_json(brant_context *ctx, const brant_circuits *all,
                                        brant_text *out);
/* A table of at most 100 columns, each row with its governing leg in words. */
void brant_report_circuits_text(const brant_circuits *all, brant_text *out);

/* legs.csv with the file before each row: the header, then the rows of a report's tours. */
void brant_circuit_legs_header(brant_text *out);
void brant_circuit_legs_rows(const brant_report *report, const char *file, brant_text *out);
/* The same as a layer `legs`: begun once, then each report's tours. */
brant_status brant_circuit_layer(brant_context *ctx, brant_layers *layers);
brant_status brant_circuit_layer_legs(brant_context *ctx, const brant_report *report,
                                      const char *file, brant_layers *layers);

#pragma GCC visibility pop

#endif
