/* Names and numbers in words, shared by the summary, the waypoints and the
 * tables. */
#include "words.h"

#include <math.h>
#include <stdio.h>
#include <string.h>

const char brant_caution[] =
    "Terrain screening only. The model misses what its cell size hides. Trees,\n"
    "glaciers, cornices, crevasses: not known. The bulletin, the day's conditions,\n"
    "local rules and a licensed guide's judgement decide. None found is not safe.\n";

/* ---- UTF-8 -------------------------------------------------------------- */

/* Bytes of the sequence that `lead` starts, 0 if none can start so. */
static int sequence_length(unsigned char lead)
{
    if (lead < 0x80)
        return 1;
    if (lead >= 0xC2 && lead <= 0xDF)
        return 2;
    if (lead >= 0xE0 && lead <= 0xEF)
        return 3;
    return lead >= 0xF0 && lead <= 0xF4 ? 4 : 0;
}

/* RFC 3629: no overlong form, no surrogate, nothing above U+10FFFF. */
long brant_words_next(const char **text)
{
    static const long least[] = {0, 0, 0x80, 0x800, 0x10000};
    const unsigned char *byte = (const unsigned char *)*text;
    int length = sequence_length(*byte);
    (*text)++;
    if (length <= 1)
        return length == 1 ? *byte : -1;
    long code = *byte & (0x7F >> length);
    for (int i = 1; i < length; i++) {
        if ((byte[i] & 0xC0) != 0x80) /* stops at the final NUL, too */
            return -1;
        code = code << 6 | (byte[i] & 0x3F);
    }
    if (code < least[length] || (code >= 0xD800 && code <= 0xDFFF) || code > 0x10FFFF)
        return -1;
    *text += length - 1;
    return code;
}

/* C0 and C1 controls, line and paragraph separators, direction marks and the
 * two that are no characters (and not allowed in XML). */
static bool is_control(long code)
{
    return code < 0x20 || (code >= 0x7F && code <= 0x9F) || (code >= 0x2028 && code <= 0x202E) ||
           (code >= 0x2066 && code <= 0x2069) || code == 0xFFFE || code == 0xFFFF;
}

void brant_words_clean(brant_text *out, const char *text, const char *control)
{
    while (*text) {
        const char *start = text;
        long code = brant_words_next(&text);
        if (code < 0)
            brant_text_add(out, "\xEF\xBF\xBD");
        else if (is_control(code))
            brant_text_add(out, "%s", control);
        else
            brant_text_add_bytes(out, start, (size_t)(text - start));
    }
}

/* ---- names -------------------------------------------------------------- */

static const char *track_name(const brant_report *report, size_t tour)
{
    const char *name = report->tours[tour].track.name;
    return name ? name : "";
}

static bool is_a_track_name(const brant_report *report, const char *name)
{
    for (size_t i = 0; i < report->tour_count; i++)
        if (strcmp(track_name(report, i), name) == 0)
            return true;
    return false;
}

/* The `repeat`-th repetition of a name takes the `repeat`-th number from 2 on
 * that makes no other track's name. */
void brant_words_route(const brant_report *report, size_t tour, brant_text *out)
{
    const char *name = track_name(report, tour);
    int repeat = 0;
    for (size_t i = 0; i < tour; i++)
        repeat += strcmp(track_name(report, i), name) == 0;
    brant_text label = {0};
    brant_text_add(&label, "%s", name);
    for (int number = 2; repeat > 0 && !label.failed; number++) {
        label.length = 0;
        brant_text_add(&label, "%s (%d)", name, number);
        if (!label.failed && !is_a_track_name(report, label.data))
            repeat--;
    }
    if (label.failed)
        out->failed = true;
    else
        brant_text_add_bytes(out, label.data, label.length);
    brant_text_clear(&label);
}

/* ---- numbers ------------------------------------------------------------ */

void brant_words_km(brant_text *out, double metres)
{
    if (metres <= 0)
        brant_text_add(out, "0");
    else if (metres < 0.5)
        brant_text_add(out, "<0.001");
    else
        brant_text_number(out, metres / 1000, metres < 9.5 ? 3 : metres < 95 ? 2 : 1);
}

void brant_words_stretch(brant_text *out, double from_m, double to_m)
{
    int decimals = round(from_m / 10) == round(to_m / 10) ? 3 : 2;
    brant_text_number(out, from_m / 1000, decimals);
    if (decimals == 2 || round(from_m) != round(to_m)) {
        brant_text_add(out, "-");
        brant_text_number(out, to_m / 1000, decimals);
    }
    brant_text_add(out, FIRM "km");
}

void brant_words_area(brant_text *out, double m2)
{
    if (m2 < 1) {
        brant_text_add(out, "less than 1" FIRM "m2");
    } else if (m2 < 1000) {
        brant_text_number(out, m2, 0);
        brant_text_add(out, FIRM "m2");
    } else {
        bool whole = fabs(m2 / 1e4 - round(m2 / 1e4)) < 0.05;
        if (m2 < 95000 && !whole)
            brant_text_number(out, m2 / 1e4, 1);
        else
            brant_text_thousands(out, m2 / 1e4);
        brant_text_add(out, FIRM "ha");
    }
}

void brant_words_other_reach(brant_text *out, double reach_angle_deg, bool own_angles,
                             const char *degrees)
{
    if (own_angles || reach_angle_deg < BRANT_RANK_DEG || reach_angle_deg > BRANT_RANK_DEG)
        brant_text_add(out, ". At other reach angles than %.4g%s some of what is reached is missed",
                       BRANT_RANK_DEG, degrees);
}

void brant_words_heights(brant_text *out, double low_m, double high_m)
{
    if (isnan(low_m) || isnan(high_m))
        return;
    brant_text_thousands(out, low_m);
    if (round(low_m) != round(high_m)) {
        /* "-120--80 m" cannot be read */
        brant_text_add(out, low_m < 0 ? FIRM "to" FIRM : "-");
        brant_text_thousands(out, high_m);
    }
    brant_text_add(out, FIRM "m");
}

void brant_words_length(brant_text *out, double metres)
{
    if (metres < 1) {
        brant_text_add(out, "under 1" FIRM "m");
    } else if (metres < 950) {
        brant_text_number(out, metres, 0);
        brant_text_add(out, FIRM "m");
    } else {
        brant_text_number(out, metres / 1000, 1);
        brant_text_add(out, FIRM "km");
    }
}

/* ---- what stands out about a leg ---------------------------------------- */

static bool is_on_release(brant_kind kind)
{
    return kind == BRANT_KIND_CROSSES || kind == BRANT_KIND_OVER_BAND;
}

const brant_zone *brant_words_zone(const brant_tour *tour, const brant_leg *leg)
{
    const brant_zone *best = NULL;
    bool on = is_on_release(leg->kind), edge = leg->kind == BRANT_KIND_EDGE;
    for (size_t i = 0; i < leg->aboves; i++) {
        const brant_above *above = &tour->above[leg->first_above + i];
        bool counts = (on && above->on) || (edge && (above->edge || above->on)) ||
                      (leg->kind == BRANT_KIND_REMOTE && above->remote);
        if (counts && above->zone && (!best || above->zone->face_m2 > best->face_m2))
            best = above->zone;
    }
    return best ? best : leg->governing;
}

const char *brant_words_aspect(const brant_tour *tour, const brant_leg *leg)
{
    if (is_on_release(leg->kind))
        return brant_octant_name(brant_octant(leg->aspect_deg));
    const brant_zone *zone = brant_words_zone(tour, leg);
    return zone ? brant_octant_name(brant_octant(zone->aspect_deg)) : "";
}

/* "38 deg NE" */
static void add_slope(brant_text *out, double slope_deg, double aspect_deg)
{
    brant_text_number(out, brant_text_whole(slope_deg), 0);
    brant_text_add(out, FIRM "deg");
    const char *octant = brant_octant_name(brant_octant((float)aspect_deg));
    if (*octant)
        brant_text_add(out, FIRM "%s", octant);
}

/* True if the face is known to touch ground of unknown slope: it may go on there. */
static bool face_is_open(const brant_tour *tour, const brant_zone *zone)
{
    bool open = zone->flags & BRANT_ZONE_AT_VOID;
    for (size_t i = 0; i < tour->above_count && !open; i++)
        open = tour->above[i].zone->face == zone->face &&
               (tour->above[i].zone->flags & BRANT_ZONE_AT_VOID);
    return open;
}

static void add_face(const brant_tour *tour, const brant_zone *zone, brant_text *out)
{
    brant_text_add(out, "face" FIRM);
    brant_words_area(out, zone->face_m2);
    if (face_is_open(tour, zone))
        brant_text_add(out, FIRM "or" FIRM "more");
}

/* "41 deg N, 2,000-2,360 m, face 14 ha" */
static void add_zone(const brant_tour *tour, const brant_zone *zone, brant_text *out)
{
    add_slope(out, zone->steepest_deg, zone->aspect_deg);
    if (!isnan(zone->low_m) && !isnan(zone->high_m)) {
        brant_text_add(out, ", ");
        brant_words_heights(out, zone->low_m, zone->high_m);
    }
    brant_text_add(out, ", ");
    add_face(tour, zone, out);
}

/* Of the zones that reach a leg that is not on them, the one with the largest
 * face; of equals the first, which reaches it at the steepest angle. */
static const brant_above *zone_above(const brant_report *report, const brant_tour *tour,
                                    const brant_leg *leg)
{
    const brant_above *best = NULL;
    for (size_t i = 0; i < leg->aboves; i++) {
        const brant_above *above = &tour->above[leg->first_above + i];
        if (!above->on &&
            (double)above->reached_at_deg >=
                brant_zone_reach_angle(above->zone, report->reach_angle_deg) &&
            (!best || above->zone->face_m2 > best->zone->face_m2))
            best = above;
    }
    return best;
}

double brant_words_reached_at(double reached_at_deg)
{
    return floor(floor(reached_at_deg * 10 + 1e-4) / 10);
}

/* ", 2 zones and 7 ha in all, reached at up to 36 deg" */
static void add_all_above(const brant_leg *leg, double told_deg, brant_text *out)
{
    brant_text_add(out, "; %u" FIRM "zones and ", leg->zones_above);
    brant_words_area(out, leg->area_above_m2);
    brant_text_add(out, " in all");
    if (brant_words_reached_at(leg->reached_at_deg) > brant_words_reached_at(told_deg)) {
        brant_text_add(out, ", reached" FIRM "at up to" FIRM);
        brant_text_number(out, brant_words_reached_at(leg->reached_at_deg), 0);
        brant_text_add(out, FIRM "deg");
    }
}

/* "above: 41 deg N, 2,000-2,360 m, face 14 ha, reached at 33 deg", and what else there
 * is. `told`: the zone that was told already, NULL if none. `between` goes before it.
 * Nothing if nothing reaches the leg at the reach angle. */
static void add_above(const brant_report *report, const brant_tour *tour, const brant_leg *leg,
                      const char *between, const brant_zone *told, brant_text *out)
{
    const brant_above *above = zone_above(report, tour, leg);
    if (!above)
        return;
    brant_text_add(out, "%s", between);
    if (above->zone != told) {
        brant_text_add(out, "above: ");
        add_zone(tour, above->zone, out);
        brant_text_add(out, ", ");
    }
    brant_text_add(out, "reached" FIRM "at" FIRM);
    brant_text_number(out, brant_words_reached_at(above->reached_at_deg), 0);
    brant_text_add(out, FIRM "deg");
    if (leg->zones_above > 1)
        add_all_above(leg, above->reached_at_deg, out);
}

static void detail_on_release(const brant_tour *tour, const brant_leg *leg,
                              const brant_zone *zone, brant_text *out)
{
    if (!isnan(leg->steepest_deg))
        add_slope(out, leg->steepest_deg, leg->aspect_deg);
    if (zone) {
        brant_text_add(out, "%s", isnan(leg->steepest_deg) ? "" : ", ");
        add_face(tour, zone, out);
    }
}

static void detail_edge(const brant_tour *tour, const brant_zone *zone, brant_text *out)
{
    brant_text_add(out, "beside: ");
    if (zone)
        add_zone(tour, zone, out);
    else
        brant_text_add(out, "release ground");
}

static void detail_remote(const brant_tour *tour, const brant_leg *leg, const brant_zone *zone,
                          brant_text *out)
{
    brant_text_add(out, "remote triggering of ");
    if (zone)
        add_zone(tour, zone, out);
    else
        brant_text_add(out, "release ground");
    brant_text_add(out, ", near and connected");
    if (!isnan(leg->steepest_deg)) {
        brant_text_add(out, "; you on ");
        add_slope(out, leg->steepest_deg, leg->aspect_deg);
    }
}

/* Ground of unknown slope can be beside ground that is known. */
static void detail_unknown(const brant_leg *leg, brant_text *out)
{
    if (leg->is & BRANT_IS(BRANT_KIND_EDGE))
        brant_text_add(out, "; beside release ground");
    else if (leg->is & BRANT_IS(BRANT_KIND_REMOTE))
        brant_text_add(out, "; near release ground");
}

/* ---- below --------------------------------------------------------------- */

/* "gully", on the leg itself; "gully 80 m". Not finer than 10 m: a cell tells no more. */
static void add_below(brant_below_kind kind, float run_m, char text[BRANT_BELOW_MAX])
{
    static const char *const names[BRANT_BELOWS] = {"cliff", "gully", "flat", "unknown"};
    size_t length = strlen(text);
    text += length;
    size_t room = BRANT_BELOW_MAX - length;
    const char *between = length > 0 ? " then " : "";
    if (run_m > 0 && kind != BRANT_BELOW_UNKNOWN)
        snprintf(text, room, "%s%s %.0f m", between, names[kind],
                 fmax(10, round((double)run_m / 10) * 10));
    else
        snprintf(text, room, "%s%s", between, names[kind]);
}

void brant_words_below(const brant_below *below, char text[BRANT_BELOW_MAX])
{
    const float *run_m = below->run_m;
    int first = BRANT_BELOWS; /* of what is known */
    for (int kind = BRANT_BELOW_CLIFF; kind < BRANT_BELOW_UNKNOWN; kind++)
        if (!isnan(run_m[kind]) && (first == BRANT_BELOWS || run_m[kind] < run_m[first]))
            first = kind;
    text[0] = '\0';
    if (!isnan(run_m[BRANT_BELOW_UNKNOWN]) &&
        (first == BRANT_BELOWS || run_m[BRANT_BELOW_UNKNOWN] < run_m[first]))
        add_below(BRANT_BELOW_UNKNOWN, run_m[BRANT_BELOW_UNKNOWN], text);
    if (first == BRANT_BELOWS)
        return;
    add_below((brant_below_kind)first, run_m[first], text);
    if (below->unknown_beyond)
        add_below(BRANT_BELOW_UNKNOWN, 0, text);
    if (first != BRANT_BELOW_CLIFF && !isnan(run_m[BRANT_BELOW_CLIFF]))
        add_below(BRANT_BELOW_CLIFF, run_m[BRANT_BELOW_CLIFF], text);
}

void brant_words_over(const brant_report *report, int tour, uint32_t leg, brant_text *out)
{
    if (tour == BRANT_OWN) {
        brant_text_add(out, "%u", leg);
        return;
    }
    const brant_tour *other = &report->others[tour];
    brant_words_clean(out, other->track.name, " ");
    brant_text_add(out, FIRM);
    brant_words_stretch(out, other->legs[leg - 1].from_m, other->legs[leg - 1].to_m);
}

/* "; below you: cliff 30 m", "; you are in a gully for 80 m". */
static void detail_below(const brant_leg *leg, brant_text *out)
{
    const brant_below *below = &leg->below;
    char text[BRANT_BELOW_MAX];
    if (!below->sought)
        return;
    brant_words_below(below, text);
    if (leg->kind == BRANT_KIND_UNKNOWN && strcmp(text, "unknown") == 0)
        return; /* as its name says */
    if (text[0])
        brant_text_add(out, "; below you: ");
    brant_text_add(out, "%s", text);
    if (below->gully_m > 0) {
        brant_text_add(out, "; you are in a gully");
        if (below->gully_m < 0.99 * (leg->to_m - leg->from_m)) { /* else the whole leg */
            brant_text_add(out, " for ");
            brant_words_length(out, below->gully_m);
        }
    }
}

void brant_words_detail(const brant_report *report, const brant_tour *tour, const brant_leg *leg,
                        brant_text *out)
{
    const brant_zone *zone = brant_words_zone(tour, leg);
    switch (leg->kind) {
    case BRANT_KIND_CROSSES:
    case BRANT_KIND_OVER_BAND: detail_on_release(tour, leg, zone, out); break;
    case BRANT_KIND_EDGE: detail_edge(tour, zone, out); break;
    case BRANT_KIND_REMOTE: detail_remote(tour, leg, zone, out); break;
    case BRANT_KIND_UNKNOWN: detail_unknown(leg, out); break;
    case BRANT_KIND_UNDER: /* what is above is all there is */
    case BRANT_KIND_NONE_FOUND:
    case BRANT_KINDS: break;
    }
    add_above(report, tour, leg, leg->kind == BRANT_KIND_UNDER ? "" : "; ",
              leg->kind == BRANT_KIND_EDGE ? zone : NULL, out);
    if (leg->kind != BRANT_KIND_UNKNOWN && leg->unknown_above_m > 0) {
        brant_text_add(out, "; unknown above");
        if (leg->unknown_above_m < 0.99 * (leg->to_m - leg->from_m)) { /* else the whole leg */
            brant_text_add(out, " for ");
            brant_words_length(out, leg->unknown_above_m);
        }
    }
    detail_below(leg, out);
}

/* ---- metres reached ------------------------------------------------------ */

const double brant_words_angles[BRANT_SHOWN_ANGLES] = {30, 25, 20};

double brant_words_reached(const brant_report *report, const brant_tour *tour, int which)
{
    double metres = 0;
    if (report->floor_deg > brant_words_angles[which])
        return NAN;
    for (size_t leg = 0; leg < tour->leg_count; leg++)
        metres += tour->legs[leg].reached_m[which];
    return metres;
}

/* ---- why unknown -------------------------------------------------------- */

enum { OUTSIDE, HOLE, NO_HEIGHT, BESIDE_EDGE, BESIDE_HOLE, ABOVE, REASONS };

static const char *const reason_text[REASONS] = {
    "outside the model", "hole in the model", "no height in the model", "at the model's edge",
    "beside a hole in the model", "unknown above or beside (a hole or the model's edge)",
};

static bool is_outside(const brant_report *report, const brant_sample *sample, double margin)
{
    if (isnan(sample->col) || isnan(sample->row))
        return true;
    return report->cols > 0 && report->rows > 0 &&
           (sample->col < margin || sample->col >= report->cols - margin ||
            sample->row < margin || sample->row >= report->rows - margin);
}

static int reason_of(const brant_report *report, const brant_sample *sample,
                     const brant_fact *fact)
{
    if (is_outside(report, sample, 0))
        return OUTSIDE;
    if (!isnan(fact->slope_deg))
        return ABOVE;
    if (report->cols <= 0 || report->rows <= 0)
        return NO_HEIGHT;
    if (is_outside(report, sample, 1)) /* Horn's window needs a cell on each side */
        return BESIDE_EDGE;
    return isnan(fact->elevation_m) ? HOLE : BESIDE_HOLE;
}

unsigned brant_words_unknown(const brant_report *report, const brant_tour *tour,
                             const brant_leg *leg)
{
    unsigned reasons = 0;
    for (size_t i = leg->first_sample; i < leg->first_sample + leg->samples; i++)
        reasons |= 1u << reason_of(report, &tour->track.samples[i], &tour->facts[i]);
    /* the rim of what is named already says nothing more */
    if (reasons & 1u << OUTSIDE)
        reasons &= ~(1u << BESIDE_EDGE);
    if (reasons & 1u << HOLE)
        reasons &= ~(1u << BESIDE_HOLE);
    if (reasons & ((1u << ABOVE) - 1))
        reasons &= ~(1u << ABOVE);
    return reasons;
}

void brant_words_reasons(unsigned reasons, brant_text *out)
{
    const char *between = "";
    for (int reason = 0; reason < REASONS; reason++) {
        if (reasons & 1u << reason) {
            brant_text_add(out, "%s%s", between, reason_text[reason]);
            between = " and ";
        }
    }
}
