/* The day in words: clocks, levels, limits, sun. */
#include "day_words.h"

#include <math.h>

const brant_bulletin *brant_words_bulletin(const brant_report *report)
{
    return report->day ? report->day->bulletin : NULL;
}

bool brant_words_has_hours(const brant_report *report)
{
    return report->day && report->day->start.has_offset;
}

brant_time brant_words_moment(const brant_report *report, double seconds)
{
    const brant_time *start = &report->day->start;
    return brant_time_at(start->utc_s + llround(seconds), start->offset_min);
}

/* To the minute, rounded: a plan to the second would be none. */
void brant_words_clock(const brant_report *report, double seconds, brant_text *out)
{
    brant_time moment = brant_words_moment(report, round(seconds / 60) * 60);
    if (brant_time_midnight(&moment) != brant_time_midnight(&report->day->start))
        brant_text_day_clock(out, &moment);
    else
        brant_text_clock(out, &moment);
}

void brant_words_out_by(brant_text *hour, bool planned, bool late, brant_text *out)
{
    brant_text_add(out, "; %sout" FIRM "by" FIRM "%s%s", planned ? "" : "NOT" FIRM,
                   hour->data ? hour->data : "",
                   !planned ? ""
                   : late   ? ", late" FIRM "too"
                            : ", not" FIRM "if" FIRM "late");
    out->failed |= hour->failed;
    brant_text_clear(hour);
}

bool brant_words_leave_by(const brant_report *report, const brant_tour *tour,
                          const brant_wait *wait, brant_text *out)
{
    if (!brant_words_has_hours(report) || isnan(wait->leave_by_utc))
        return false;
    double seconds = wait->leave_by_utc - (double)report->day->start.utc_s;
    brant_text_add(out, "leave by" FIRM);
    brant_words_clock(report, floor(seconds / 60) * 60, out);
    if (tour->seconds && seconds < tour->seconds[wait->sample])
        brant_text_add(out, ", before you are there");
    return true;
}

size_t brant_words_highest(const brant_tour *tour)
{
    size_t top = 0;
    for (size_t i = 1; i < tour->track.count; i++)
        if (tour->facts[i].elevation_m > tour->facts[top].elevation_m ||
            isnan(tour->facts[top].elevation_m))
            top = i;
    return top;
}

void brant_words_level(brant_level level, bool lowered, brant_text *out)
{
    if (level == BRANT_LEVEL_NONE)
        return;
    brant_text_add(out, "level" FIRM "%s", brant_level_text(level));
    if (lowered)
        brant_text_add(out, " (one lower, not stated)");
}

void brant_words_hours(const brant_report *report, const brant_leg *leg, brant_text *out)
{
    if (!brant_words_has_hours(report) || isnan(leg->arrive_s))
        return;
    brant_words_clock(report, leg->arrive_s, out);
    brant_text_add(out, "-");
    brant_words_clock(report, leg->arrive_s * BRANT_LATE, out);
}

static double since_start(const brant_report *report, double utc_s)
{
    return utc_s - (double)report->day->start.utc_s;
}

/* The earliest that the sun can be there counts: the sun that is missed is the worse
 * mistake. */
static void add_sun(const brant_report *report, const brant_sun_on *sun, brant_text *out)
{
    double first = sun->possible.first;
    if (isnan(first)) {
        brant_text_add(out, "no clear-sky sun on it before you are past");
        return;
    }
    brant_text_add(out, "clear-sky sun%s" FIRM "from" FIRM, sun->unknown ? " possible" : "");
    brant_words_clock(report, since_start(report, first), out);
    if (sun->unknown && !isnan(sun->certain.first)) {
        brant_text_add(out, ", certain" FIRM "from" FIRM);
        brant_words_clock(report, since_start(report, sun->certain.first), out);
    }
}

void brant_words_sun(const brant_report *report, const brant_leg *leg, brant_text *out)
{
    bool sun = leg->sun_sought && brant_words_has_hours(report);
    if (sun)
        add_sun(report, &leg->sun, out);
    if (!report->day || !report->day->wind || !leg->governing)
        return;
    brant_text_add(out, "%s", sun ? "; " : "");
    if (isnan(leg->shelter.mean_deg))
        brant_text_add(out, "shelter from wind not known");
    else
        brant_text_add(out, "%s" FIRM "(Sx" FIRM "%.0f%s)",
                       leg->shelter.sheltered ? "sheltered" : "not sheltered",
                       round((double)leg->shelter.mean_deg) + 0.0, /* no -0 */
                       leg->shelter.unknown > 0 ? ", of what is known" : "");
}

/* "over the limit 35 deg for 0.4 km (whole slope: 40 deg)" */
static void add_limit(const brant_leg *leg, brant_text *out)
{
    const brant_limit *limit = &leg->limit;
    if (limit->first) {
        brant_text_add(out, "; limit not judged");
    } else if (limit->unknown) {
        brant_text_add(out, "; limit" FIRM "%.0f" FIRM "deg: not known whether over",
                       limit->limit_deg);
    } else if (limit->over) {
        brant_text_add(out, "; over the limit" FIRM "%.0f" FIRM "deg", limit->limit_deg);
        if (leg->over_limit_m > 0) {
            brant_text_add(out, " for ");
            brant_words_length(out, leg->over_limit_m);
        }
        brant_text_add(out, " (%s", brant_limit_ground_text(limit->ground));
        brant_text_add(out, ":" FIRM "%.0f" FIRM "deg)",
                       brant_text_whole(limit->steepest_deg));
    } else if (isnan(limit->limit_deg) && leg->level >= BRANT_LEVEL_2 &&
               leg->level <= BRANT_LEVEL_4) {
        brant_text_add(out, "; limit not applied (no dry slab named)");
    }
}

/* " on NE, 2,145-2,590 m" */
static void add_ground(const brant_zone *zone, brant_text *out)
{
    const char *octant = brant_octant_name(brant_octant(zone->aspect_deg));
    brant_text_add(out, " on %s%s", octant, *octant ? "," FIRM : "");
    brant_words_heights(out, zone->low_m, zone->high_m);
}

/* "; level 4 on NE, 2,145-2,590 m, too": what is not stated ranks first, and must not
 * hide the highest level that is. */
static void add_highest_stated(const brant_report *report, const brant_tour *tour,
                               const brant_leg *leg, brant_text *out)
{
    const brant_above *best = NULL;
    if (leg->level != BRANT_LEVEL_NOT_STATED && leg->level != BRANT_LEVEL_NO_RATING)
        return;
    for (size_t i = 0; i < leg->aboves; i++) {
        const brant_above *above = &tour->above[leg->first_above + i];
        brant_level level = above->danger.level;
        bool met = above->on || above->edge || above->remote ||
                   (double)above->reached_at_deg >=
                       brant_zone_reach_angle(above->zone, report->reach_angle_deg);
        if (met && level >= BRANT_LEVEL_1 && level <= BRANT_LEVEL_5 &&
            (!best || level > best->danger.level ||
             (level == best->danger.level && above->zone->face_m2 > best->zone->face_m2)))
            best = above;
    }
    if (!best)
        return;
    brant_text_add(out, "; ");
    brant_words_level(best->danger.level, best->danger.lowered, out);
    add_ground(best->zone, out);
    brant_text_add(out, ", too");
}

/* The slope that governs, where it is that which has the level; NULL where it is not. */
static const brant_above *governing_of(const brant_tour *tour, const brant_leg *leg)
{
    for (size_t i = 0; leg->governing && i < leg->aboves; i++) {
        const brant_above *above = &tour->above[leg->first_above + i];
        if (above->zone == leg->governing && above->danger.level == leg->level)
            return above;
    }
    return NULL;
}

/* "level 3 on NE, 2,145-2,590 m: wind slab; other ground: gliding snow" */
static void add_level(const brant_bulletin *bulletin, const brant_tour *tour,
                      const brant_leg *leg, brant_text *out)
{
    const brant_above *governing = governing_of(tour, leg);
    const unsigned all = brant_problem_kinds(bulletin, leg->problems);
    const unsigned there =
        governing ? brant_problem_kinds(bulletin, governing->danger.problems) : all;
    brant_words_level(leg->level, leg->level_lowered, out);
    if (governing)
        add_ground(governing->zone, out);
    brant_text_add(out, "%s", there ? ": " : "");
    brant_text_kinds(out, there);
    if (!(all & ~there))
        return;
    brant_text_add(out, "; other ground: ");
    brant_text_kinds(out, all & ~there);
}

void brant_words_day(const brant_report *report, const brant_tour *tour, const brant_leg *leg,
                     brant_text *out)
{
    const brant_bulletin *bulletin = brant_words_bulletin(report);
    size_t before = out->length;
    if (bulletin && leg->level != BRANT_LEVEL_NONE) {
        add_level(bulletin, tour, leg, out);
        add_highest_stated(report, tour, leg, out);
        add_limit(leg, out);
    }
    size_t said = out->length;
    brant_text_add(out, "%s", said > before ? "; " : "");
    size_t between = out->length;
    brant_words_sun(report, leg, out);
    if (!out->failed && out->length == between && between > said) { /* nothing came behind it */
        out->length = said;
        out->data[said] = '\0';
    }
}
