/* Options are data: the parser and --help read one table, and a test holds the
 * man pages against it. */
#include "option_table.h"

#include <stddef.h>

#define FOR(program) (1u << TOOL_##program)
#define STAGES \
    (FOR(CHECK) | FOR(SLOPE) | FOR(ZONES) | FOR(RUNOUT) | FOR(ROUTE) | FOR(PLAN) | FOR(SCREEN))
#define RASTERS (FOR(SLOPE) | FOR(ZONES) | FOR(RUNOUT) | FOR(PLAN))
#define NUMBERING (FOR(ZONES) | FOR(PLAN) | FOR(SCREEN))
#define BANDED (FOR(ZONES) | FOR(ROUTE) | FOR(PLAN) | FOR(SCREEN))
#define REACH (FOR(RUNOUT) | FOR(ROUTE) | FOR(PLAN) | FOR(SCREEN))
#define TOUR (FOR(ROUTE) | FOR(PLAN))
#define TOURS (TOUR | FOR(SCREEN))

#define AT(member) offsetof(tool_values, member)

const option_row tool_rows[] = {
    {"-o", "FILE", FOR(SLOPE), FOR(SLOPE), RASTER, AT(output), 0, 0,
     "slope in degrees (GeoTIFF)"},
    {"-o", "FILE", FOR(ZONES), FOR(ZONES), RASTER, AT(output), 0, 0,
     "zone numbers, 0 where there is none (GeoTIFF)"},
    {"-o", "FILE", FOR(RUNOUT), FOR(RUNOUT), RASTER, AT(output), 0, 0,
     "runout shadow in five bands (GeoTIFF)"},
    {"-o", "FILE", FOR(ROUTE), FOR(ROUTE), OUTPUT, AT(output), 0, 0,
     "the legs (CSV), - for standard output"},
    {"-d", "DIR", FOR(PLAN), FOR(PLAN), OUTPUT, AT(folder), 0, 0,
     "folder that takes all files; made if it is not there"},
    {"-o", "FILE", FOR(SHEET), FOR(SHEET), OUTPUT, AT(output), 0, 0,
     "the sheet (.pdf, .svg or .png)"},
    {"--paper", "a4|letter", FOR(SHEET), 0, CHOICE, AT(paper), 0, 0,
     "size of the pages (default a4)"},
    {"--bearings", NULL, FOR(SHEET), 0, FLAG, AT(bearings), 0, 0,
     "a table for bad visibility, too: bearing, distance and height from turn to turn"},
    {"--declination", "DEG", FOR(SHEET), 0, NUMBER, AT(declination_deg), -180, 180,
     "magnetic declination, east positive: gives magnetic bearings, too; needs --bearings"},
    {"-o", "FILE", FOR(SCREEN), 0, OUTPUT, AT(output), 0, 0,
     "the table of circuits (CSV), - for standard output instead of the table there"},
    {"--legs", "FILE", FOR(SCREEN), 0, OUTPUT, AT(legs), 0, 0,
     "every leg of every circuit (CSV), - for standard output"},
    {"--layers", "FILE", FOR(SCREEN), 0, OUTPUT, AT(layers), 0, 0,
     "the same legs as lines (GeoPackage)"},
    {"--sort", "COLUMN", FOR(SCREEN), 0, TEXT, AT(sort), 0, 0,
     "order the table by one of its columns; without it what cannot be judged comes first"},
    {"--format", "text|csv|json", FOR(SCREEN), 0, CHOICE, AT(format), 0, 0,
     "of the table on standard output (default text)"},
    {"--format", "text|json", FOR(CHECK), 0, CHOICE, AT(format), 0, 0,
     "of the page on standard output (default text)"},
    {"--format", "text|json", FOR(PLAN), 0, CHOICE, AT(format), 0, 0,
     "of the summary on standard output (default text)"},

    {"--aspect", "FILE", FOR(SLOPE), 0, RASTER, AT(aspect), 0, 0,
     "aspect in degrees from true north (GeoTIFF)"},
    {"--class", "FILE", FOR(SLOPE), 0, RASTER, AT(classes), 0, 0,
     "steepness classes with their colours (GeoTIFF)"},
    {"--edges", NULL, FOR(SLOPE), 0, FLAG, AT(edges), 0, 0,
     "estimate slope from one side beside voids and at the border"},

    {"--polygons", "FILE", FOR(ZONES), 0, OUTPUT, AT(polygons), 0, 0,
     "outlines (GeoPackage; GeoJSON if it ends in .geojson or .json)"},
    {"--table", "FILE", FOR(ZONES), 0, OUTPUT, AT(table), 0, 0,
     "one row a zone (CSV), - for standard output"},

    {"--points", "FILE", FOR(ROUTE), 0, OUTPUT, AT(points), 0, 0,
     "the points looked up along the route (CSV), - for standard output"},
    {"--above", "FILE|M", FOR(ROUTE), 0, ABOVE, AT(above), -500, 9000,
     "FILE: every zone that a leg meets (CSV), - for standard output; a number: metres that "
     "--level holds above"},
    {"--layers", "FILE", FOR(ROUTE), 0, OUTPUT, AT(layers), 0, 0,
     "legs, points, places to wait and zones (GeoPackage)"},
    {"--waypoints", "FILE", FOR(ROUTE), 0, OUTPUT, AT(waypoints), 0, 0,
     "a waypoint at each leg that is not none-found (GPX), - for standard output"},
    {"--zones", "ZONES", TOUR, 0, INPUT, AT(zones), 0, 0,
     "take these zones, a raster or polygons, instead of finding them"},
    {"--others", "GPX", TOUR, 0, INPUT, AT(others), 0, 0,
     "lines of other parties: what of theirs is above yours, and of yours above theirs"},

    {"--band", "LOW:HIGH", BANDED, 0, LIMITS, AT(zone.band), 0, 90,
     "start-zone band in degrees (default 30:45)"},
    {"--min-area", "M2", NUMBERING, 0, NUMBER, AT(zone.min_area_m2), 0, 1e9,
     "smaller bits join a neighbour (default 400)"},
    {"--max-area", "M2", NUMBERING, 0, NUMBER, AT(zone.max_area_m2), 0, 1e12,
     "larger zones are split along contours (default 200000)"},
    {"--edge", "M", TOURS, 0, NUMBER, AT(edge_m), 0, 100,
     "within this distance a route is at the edge of release ground (default 30)"},
    {"--reach-angle", "DEG", REACH, 0, NUMBER, AT(reach.reach_angle_deg), 10, 60,
     "angle of the energy line (default 25)"},
    {"--spread", "DEG", REACH, 0, NUMBER, AT(reach.spread_deg), 0, 60,
     "to each side of the flow (default 20)"},
    {"--floor", "DEG", REACH, 0, NUMBER, AT(reach.floor_deg), 10, 45,
     "the shadow is kept down to this reach angle (default 18)"},
    {"--void-rise", "M", REACH, 0, NUMBER, AT(void_rise_m), 0, 5000,
     "ground behind a void or the model's edge rises this much (default 300)"},
    {"--vertical-error", "M", FOR(CHECK) | TOURS, 0, NUMBER, AT(vertical_error_m), 0, 1000,
     "standard error of the model's heights, for the error of slopes"},

    {"--bulletin", "FILE", TOURS, 0, INPUT, AT(bulletin), 0, 0,
     "avalanche bulletin (CAAML v6 JSON), - for standard input"},
    {"--region", "ID", TOURS, 0, TEXT, AT(region), 0, 0,
     "of a bulletin file with several"},
    {"--treeline", "M", TOURS, 0, NUMBER, AT(treeline_m), 0, 5000,
     "metres of the tree line, where the bulletin names it"},
    {"--later-from", "HH:MM", TOURS, 0, TEXT, AT(later_text), 0, 0,
     "when the bulletin's 'later' begins; without it the higher of earlier and later"},
    {"--outside-core", "lower", TOURS, 0, CHOICE, AT(outside_core), 0, 0,
     "ground that the bulletin does not rate is one level lower; without it not stated"},
    {"--level", "N", TOURS, 0, INTEGER, AT(level), 1, 5,
     "danger level by hand, instead of --bulletin"},
    {"--above", "M", FOR(PLAN) | FOR(SCREEN), 0, NUMBER, AT(level_above_m), -500, 9000,
     "--level holds above so many metres"},
    {"--below", "M", TOURS, 0, NUMBER, AT(level_below_m), -500, 9000,
     "--level holds below so many metres"},
    {"--aspects", "SECTORS", TOURS, 0, TEXT, AT(aspects), 0, 0,
     "--level holds on these, such as NW-N-NE,E"},
    {"--start", "TIME", TOURS, 0, TEXT, AT(start_text), 0, 0,
     "start with its time zone, such as 2027-02-13T06:30+01:00: gives hours and sun"},
    {"--pace", "UP,DOWN,FLAT|walk", TOURS, 0, TEXT, AT(pace_text), 0, 0,
     "units an hour (default 4,10,6); walk: on foot"},
    {"--out-by", "HH:MM", TOUR, 0, TEXT, AT(out_by_text), 0, 0,
     "be out by then: the last time to leave each place to wait"},
    {"--wind-from", "DEG|SECTOR", TOURS, 0, TEXT, AT(wind_text), 0, 0,
     "wind, such as 270, W or 240-300: which slopes lie sheltered"},
    {"--new-snow", "CM", TOUR, 0, NUMBER, AT(new_snow_cm), 0, 500,
     "new snow in 24 h, for the warning signs"},
    {"--warming", NULL, TOUR, 0, FLAG, AT(warming), 0, 0,
     "a marked rise in temperature is expected, for the warning signs"},

    {"--scale", "M|native", STAGES, 0, CELL, AT(scale_m), 0.1, 1000,
     "working cell; by default about 5 m where the model is finer than 4 m"},
    {"--band-number", "N", STAGES, 0, INTEGER, AT(band_number), 1, 65535,
     "elevation band of a file with several"},
    {"--vertical-unit", "m|ft|us-ft|dm", STAGES, 0, CHOICE, AT(vertical_unit), 0, 0,
     "unit of the elevations, whatever the file says"},
    {"--nodata", "V", STAGES, 0, NODATA, AT(nodata), 0, 0,
     "a further value that is void; may be repeated"},
    {"--compress", "none|deflate|zstd", RASTERS, 0, CHOICE, AT(compress), 0, 0,
     "of the rasters written (default zstd; deflate where GDAL lacks it)"},
    {"--cog", NULL, RASTERS, 0, FLAG, AT(cog), 0, 0,
     "rasters written are cloud optimized GeoTIFFs"},
    {"--threads", "N", STAGES, 0, INTEGER, AT(threads), 1, 256,
     "worker threads (default: all processors)"},
    {"--quiet", NULL, STAGES | FOR(SHEET), 0, FLAG, AT(quiet), 0, 0, "no notes and no progress"},
    {"--help", NULL, ~0u, 0, FLAG, AT(help), 0, 0, "print this and stop"},
    {"--version", NULL, ~0u, 0, FLAG, AT(version), 0, 0, "print the version and stop"},
};
const size_t tool_row_count = sizeof tool_rows / sizeof *tool_rows;
_Static_assert(sizeof tool_rows / sizeof *tool_rows <= TOOL_ROWS_MAX, "more rows than bits");

#define DEM {"DEM", "elevation model, in a format named in the man page"}
#define GPX {"GPX", "tracks or routes, - for standard input"}

const description tool_programs[TOOLS] = {
    [TOOL_BRANT] = {"brant", "run the programs of brant", "PROGRAM [argument ...]",
                    {{NULL, NULL}, {NULL, NULL}}},
    [TOOL_CHECK] = {"brant-check", "whether an elevation model can carry the question",
                    "DEM [option ...]",
                    {DEM, {NULL, NULL}}},
    [TOOL_SLOPE] = {"brant-slope", "slope, aspect and steepness classes of an elevation model",
                    "DEM -o FILE [option ...]",
                    {DEM, {NULL, NULL}}},
    [TOOL_ZONES] = {"brant-zones", "where avalanches can start: zones of an elevation model",
                    "DEM -o FILE [option ...]",
                    {DEM, {NULL, NULL}}},
    [TOOL_RUNOUT] = {"brant-runout", "how far avalanches can come: the runout shadow of zones",
                     "DEM ZONES -o FILE [option ...]",
                     {DEM, {"ZONES", "raster of zone numbers, or polygons (GeoPackage, GeoJSON)"}}},
    [TOOL_ROUTE] = {"brant-route", "what a route meets, leg by leg",
                    "DEM GPX -o FILE [option ...]",
                    {DEM, GPX}},
    [TOOL_SHEET] = {"brant-sheet", "a printed sheet of a tour that brant-plan planned",
                    "DIR -o FILE [option ...]",
                    {{"DIR", "folder that brant-plan wrote"}, {NULL, NULL}}},
    [TOOL_PLAN] = {"brant-plan", "all stages for one tour, into one folder",
                   "DEM GPX -d DIR [option ...]",
                   {DEM, GPX}},
    [TOOL_SCREEN] = {"brant-screen", "many circuits in one go, ranked",
                     "DEM GPX ... [-o FILE] [option ...]",
                     {DEM, {"GPX ...", "files, folders of them, or - for a list of paths on "
                                       "standard input"}}},
};

bool tool_row_is_of(const option_row *row, tool_program program)
{
    return (row->programs & (1u << program)) != 0;
}
