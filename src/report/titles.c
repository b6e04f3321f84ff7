/* Columns in words, which a GIS shows instead of their names. */
#include "styles.h"

#include <stdlib.h>
#include <string.h>

typedef struct entry {
    const char *column, *title;
} entry;

/* By name, as strcmp has it. */
static const entry entries[] = {
    {"above45_share", "Share above 45 degrees"},
    {"above_legs", "Legs above this one"},
    {"along_m", "Along the route, m"},
    {"area_above_m2", "Zones above, m2"},
    {"area_m2", "Area, m2"},
    {"arrive", "Arrive"},
    {"arrive_late", "Arrive, late"},
    {"aspect", "Aspect"},
    {"aspect_deg", "Aspect, degrees from true north"},
    {"below", "Below"},
    {"elevation_m", "Elevation, m"},
    {"exposed_m", "Exposed on the way there, m"},
    {"file", "File"},
    {"flags", "Flags"},
    {"from_lat", "From latitude"},
    {"from_lon", "From longitude"},
    {"from_m", "From, m"},
    {"governing_aspect", "Governing slope: aspect"},
    {"governing_face_m2", "Governing slope: face, m2"},
    {"governing_high_m", "Governing slope: up to, m"},
    {"governing_low_m", "Governing slope: from, m"},
    {"governing_mean_deg", "Governing slope: mean, degrees"},
    {"governing_steepest_deg", "Governing slope: steepest, degrees"},
    {"governing_zone", "Governing slope: zone"},
    {"head_m", "Energy line above ground, m"},
    {"high_lat", "Highest point, latitude"},
    {"high_lon", "Highest point, longitude"},
    {"high_m", "Highest, m"},
    {"in_gully", "In a gully"},
    {"kind", "Kind"},
    {"lat", "Latitude"},
    {"leave", "Leave"},
    {"leave_by", "Leave by"},
    {"leave_late", "Leave, late"},
    {"leg", "Leg"},
    {"length_m", "Length, m"},
    {"level", "Danger level"},
    {"limit", "Elementary limit"},
    {"limit_deg", "Limit, degrees"},
    {"limit_ground", "Ground the limit looks at"},
    {"limit_steepest_deg", "Steepest of that ground, degrees"},
    {"lon", "Longitude"},
    {"low_m", "Lowest, m"},
    {"mean_deg", "Mean steepness, degrees"},
    {"next_m", "Next waiting place, m"},
    {"number", "Zone number"},
    {"over_limit_m", "Over the limit, m"},
    {"point", "Point"},
    {"problems", "Avalanche problems"},
    {"reach_angle", "Reach angle of its own, degrees"},
    {"reached_at_deg", "Reached at, degrees"},
    {"route", "Route"},
    {"shelter_deg", "Shelter from wind, degrees"},
    {"sheltered", "Sheltered from wind"},
    {"slope_deg", "Slope, degrees"},
    {"steepest_deg", "Steepest part, degrees"},
    {"steepest_error_deg", "Error of the steepest part, degrees"},
    {"sun_from", "Sun from"},
    {"sun_minutes", "Sun, minutes"},
    {"sun_unknown", "Sun not known"},
    {"to_lat", "To latitude"},
    {"to_lon", "To longitude"},
    {"to_m", "To, m"},
    {"unknown_above", "Unknown above"},
    {"wait", "Waiting place"},
    {"zone", "Zone"},
    {"zones_above", "Zones above"},
};

static int compare(const void *key, const void *element)
{
    const entry *e = element;
    return strcmp(key, e->column);
}

const char *brant_column_title(const char *column)
{
    const entry *found = bsearch(column, entries, sizeof entries / sizeof *entries,
                                 sizeof *entries, compare);
    return found ? found->title : NULL;
}
