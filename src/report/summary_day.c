/* The summary's day: hours, bulletin, what is over the limit, signs and kit. */
#include "day_words.h"
#include "summary.h"

#include <math.h>
#include <string.h>

/* What `add` puts into `text`, cleaned: names come from files. */
static void add_clean(brant_summary *s, const brant_text *text)
{
    if (text->failed)
        s->line.failed = true;
    else if (text->data)
        brant_words_clean(&s->line, text->data, " ");
}

void brant_summary_title_day(brant_summary *s)
{
    if (!brant_words_has_hours(s->report))
        return;
    brant_text_add(&s->line, "  ");
    brant_text day = {0};
    brant_text_day(&day, &s->report->day->start);
    for (size_t i = 0; i < day.length; i++) /* "Sat 13 Feb 2027" stays together */
        if (day.data[i] == ' ')
            day.data[i] = *FIRM;
    brant_text_add(&s->line, "%s, start" FIRM, day.failed ? "" : day.data);
    brant_text_clock(&s->line, &s->report->day->start);
    s->line.failed |= day.failed;
    brant_text_clear(&day);
}

/* "high point 11:20 (late 12:50)" */
static void add_hour(brant_summary *s, const char *what, double seconds, const char *late)
{
    brant_text_add(&s->line, "%s" FIRM, what);
    brant_words_clock(s->report, seconds, &s->line);
    brant_text_add(&s->line, FIRM "(%s", late);
    brant_words_clock(s->report, seconds * BRANT_LATE, &s->line);
    brant_text_add(&s->line, ")");
}

static void add_out_by(brant_summary *s, double end)
{
    const brant_day *day = s->report->day;
    if (isnan(day->out_by))
        return;
    double room = day->out_by - (double)day->start.utc_s;
    brant_text hour = {0};
    brant_words_clock(s->report, room, &hour);
    brant_words_out_by(&hour, end <= room, end * BRANT_LATE <= room, &s->line);
}

void brant_summary_hours(brant_summary *s)
{
    const brant_tour *tour = s->tour;
    if (!brant_words_has_hours(s->report) || !tour->seconds || tour->track.count == 0)
        return;
    size_t top = brant_words_highest(tour), last = tour->track.count - 1;
    if (top > 0 && top < last) {
        add_hour(s, "High point", tour->seconds[top], "late" FIRM);
        brant_text_add(&s->line, ", ");
        add_hour(s, "end", tour->seconds[last], "");
    } else {
        add_hour(s, "End", tour->seconds[last], "late" FIRM);
    }
    add_out_by(s, tour->seconds[last]);
    if (tour->unknown_pace_m > 0) {
        brant_text_add(&s->line, "; ");
        brant_words_km(&s->line, tour->unknown_pace_m);
        brant_text_add(&s->line, FIRM "km of unknown height timed as if straight");
    }
    brant_summary_flush(s, 2, false);
}

/* ---- the bulletin ------------------------------------------------------- */

/* With a start the weekday tells which day is meant, or the warning does; without,
 * the date must. */
static void add_validity(brant_summary *s, const brant_bulletin *bulletin)
{
    if (bulletin->by_hand)
        return;
    brant_text_add(&s->line, ", ");
    if (brant_words_has_hours(s->report)) {
        brant_text_validity(&s->line, bulletin, s->report->day->start.offset_min);
        return;
    }
    brant_text_validity_dates(&s->line, bulletin);
    brant_text_add(&s->line, "; no start given: whether that covers the tour is not known");
}

/* From the start to the late end. */
static void add_not_covered(brant_summary *s, const brant_bulletin *bulletin)
{
    if (!brant_words_has_hours(s->report) || !s->tour->seconds || s->tour->track.count == 0)
        return;
    const brant_time *start = &s->report->day->start;
    double end = s->tour->seconds[s->tour->track.count - 1] * BRANT_LATE;
    brant_text why = {0};
    if (!brant_bulletin_covers(bulletin, start->utc_s, start->utc_s + (int64_t)ceil(end),
                               start->offset_min, &why)) {
        brant_text_add(&s->line, "  DOES NOT COVER THE TOUR: ");
        add_clean(s, &why);
        brant_summary_flush(s, 4, s->report->bold);
    }
    s->line.failed |= why.failed;
    brant_text_clear(&why);
}

static void add_problems(brant_summary *s, const brant_bulletin *bulletin)
{
    for (size_t i = 0; i < bulletin->problem_count; i++) {
        brant_text_add(&s->line, "  ");
        brant_text_problem(&s->line, &bulletin->problems[i]);
        brant_summary_flush(s, 4, false);
    }
}

void brant_summary_bulletin(brant_summary *s)
{
    const brant_bulletin *bulletin = brant_words_bulletin(s->report);
    brant_text region = {0};
    if (!bulletin) {
        brant_text_add(&s->line, "BULLETIN none given: levels and limits not shown");
        brant_summary_flush(s, 2, false);
        return;
    }
    brant_text_add(&s->line, "BULLETIN ");
    brant_text_region(&region, bulletin);
    add_clean(s, &region);
    brant_text_clear(&region);
    add_validity(s, bulletin);
    brant_summary_flush(s, 2, false);
    add_not_covered(s, bulletin);
    brant_text_add(&s->line, "  ");
    brant_text_ratings(&s->line, bulletin);
    brant_summary_flush(s, 4, false);
    add_problems(s, bulletin);
}

/* ---- over the limit ----------------------------------------------------- */

typedef enum judged { NO_LIMIT, NOT_JUDGED, IN_PART, OVER, NOT_OVER } judged;

/* A leg where nothing is met has a level, too, but is not held against what is not
 * stated: it would only hide those that are. */
static judged judge(const brant_leg *leg)
{
    if (leg->limit.first)
        return leg->kind == BRANT_KIND_NONE_FOUND ? NO_LIMIT : NOT_JUDGED;
    if (isnan(leg->limit.limit_deg))
        return NO_LIMIT;
    return leg->limit.over ? OVER : leg->limit.unknown ? IN_PART : NOT_OVER;
}

static bool is_judged_so(const brant_leg *leg, judged how, const char *reason)
{
    return judge(leg) == how && strcmp(leg->limit.reason, reason) == 0;
}

/* ", legs 8 4", worst first, of many the first. */
static void list_legs(brant_summary *s, judged how, const char *reason)
{
    size_t count = 0, told = 0;
    for (size_t i = 0; i < s->tour->leg_count; i++)
        count += is_judged_so(&s->tour->legs[i], how, reason);
    brant_text_add(&s->line, count > 1 ? ", legs" : ", leg");
    for (size_t i = 0; i < s->tour->leg_count && told < BRANT_LISTED_LEGS; i++) {
        const brant_leg *leg = &s->tour->legs[s->tour->rank[i]];
        if (is_judged_so(leg, how, reason))
            brant_text_add(&s->line, told++ > 0 ? " %u" : FIRM "%u", leg->number);
    }
    if (count > told)
        brant_text_add(&s->line, " and %zu more", count - told);
}

static double metres_of(const brant_summary *s, judged how, const char *reason)
{
    double metres = 0;
    for (size_t i = 0; i < s->tour->leg_count; i++) {
        const brant_leg *leg = &s->tour->legs[i];
        if (is_judged_so(leg, how, reason))
            metres += how == OVER ? leg->over_limit_m : leg->to_m - leg->from_m;
    }
    return metres;
}

/* One line: "OVER  the elementary limit (level 3: whole slope below 35): 0.9 km, legs 8 4". */
static void add_judged(brant_summary *s, judged how, const char *reason)
{
    static const char *const what[] = {
        [NOT_JUDGED] = "not judged (",
        [IN_PART] = "not known, as steepness is not (",
        [OVER] = "the elementary limit (",
    };
    brant_text_add(&s->line, "OVER  %s%s): ", what[how], reason);
    brant_words_km(&s->line, metres_of(s, how, reason));
    brant_text_add(&s->line, FIRM "km");
    list_legs(s, how, reason);
    brant_summary_flush(s, 6, false);
}

/* Each reason once, in the order in which the legs rank. */
static size_t add_all_judged(brant_summary *s, judged how)
{
    size_t count = 0;
    for (size_t i = 0; i < s->tour->leg_count; i++) {
        const brant_leg *leg = &s->tour->legs[s->tour->rank[i]];
        bool told = false;
        if (judge(leg) != how)
            continue;
        for (size_t k = 0; k < i && !told; k++) {
            const brant_leg *before = &s->tour->legs[s->tour->rank[k]];
            told = is_judged_so(before, how, leg->limit.reason);
        }
        if (!told)
            add_judged(s, how, leg->limit.reason);
        count++;
    }
    return count;
}

/* The limit is for dry slabs: where wet or gliding snow is named, too, it is half of
 * what there is to say. */
static void add_notes(brant_summary *s)
{
    size_t count = 0;
    for (size_t i = 0; i < s->tour->leg_count; i++) {
        const brant_leg *leg = &s->tour->legs[s->tour->rank[i]];
        if (!leg->limit.note || isnan(leg->limit.limit_deg))
            continue;
        if (count == 0)
            brant_text_add(&s->line, "      %s: legs", leg->limit.note);
        if (count++ < BRANT_LISTED_LEGS)
            brant_text_add(&s->line, " %u", leg->number);
    }
    if (count > BRANT_LISTED_LEGS)
        brant_text_add(&s->line, " and %zu more", count - BRANT_LISTED_LEGS);
    if (count > 0)
        brant_summary_flush(s, 6, false);
}

/* What could not be judged comes first: it is not what is not over. */
void brant_summary_over(brant_summary *s)
{
    if (!brant_words_bulletin(s->report))
        return;
    add_all_judged(s, NOT_JUDGED);
    add_all_judged(s, IN_PART);
    size_t over = add_all_judged(s, OVER), limited = 0;
    for (size_t i = 0; i < s->tour->leg_count; i++)
        limited += judge(&s->tour->legs[i]) == NOT_OVER;
    if (over > 0) {
        add_notes(s);
        return;
    }
    brant_text_add(&s->line, limited > 0 ? "OVER  no leg found over the elementary limit, of those "
                                           "that have one and could be judged"
                                         : "OVER  no leg has an elementary limit that could be "
                                           "judged");
    brant_summary_flush(s, 6, false);
    add_notes(s);
}

void brant_summary_sun_note(brant_summary *s)
{
    size_t count = 0;
    for (size_t i = 0; i < s->tour->leg_count; i++)
        count += s->tour->legs[i].sun_sought && s->tour->legs[i].sun.unknown;
    if (count == 0 || !brant_words_has_hours(s->report))
        return;
    brant_text_add(&s->line, "Sun 'possible': beyond the model or in a hole of it could stand what "
                             "hides it");
    brant_summary_flush(s, 2, false);
}

/* ---- what if ------------------------------------------------------------ */

/* "one level more: legs 2 6 over too (0.4 km)" */
static void add_what_if(brant_summary *s, const char *what, const brant_what_if *more)
{
    brant_text_add(&s->line, "%s: ", what);
    if (more->legs == 0) {
        brant_text_add(&s->line, "no further leg found over");
        return;
    }
    brant_text_add(&s->line, more->legs > 1 ? "legs" : "leg");
    for (size_t i = 0; i < more->legs && i < BRANT_LISTED_LEGS; i++)
        brant_text_add(&s->line, FIRM "%u", more->leg[i]);
    if (more->legs > BRANT_LISTED_LEGS)
        brant_text_add(&s->line, " and %zu more", more->legs - BRANT_LISTED_LEGS);
    brant_text_add(&s->line, " over too, ");
    brant_words_km(&s->line, more->metres);
    brant_text_add(&s->line, FIRM "km");
}

void brant_summary_what_if(brant_summary *s)
{
    const brant_report *report = s->report;
    if (!brant_words_bulletin(report))
        return;
    add_what_if(s, "one level more", &s->tour->over_if_higher);
    brant_text_add(&s->line, ". ");
    if (brant_words_has_hours(report) && report->day->later_from >= 0) {
        add_what_if(s, "One hour later", &s->tour->over_if_later);
        brant_text_add(&s->line, ". ");
    }
}

bool brant_summary_leave_by(brant_summary *s, const brant_wait *wait)
{
    brant_text text = {0};
    bool told = brant_words_leave_by(s->report, s->tour, wait, &text);
    if (told)
        brant_text_add(&s->line, FIRM "km" FIRM "(%s)", text.failed ? "" : text.data);
    s->line.failed |= text.failed;
    brant_text_clear(&text);
    return told;
}

/* ---- signs and kit ------------------------------------------------------ */

/* " [ ] Fresh avalanches", kept together. */
static void add_box(brant_summary *s, const char *title, const brant_text *known)
{
    brant_text_add(&s->line, " [" FIRM "]");
    for (const char *word = title; *word;) {
        size_t length = strcspn(word, " ");
        brant_text_add(&s->line, FIRM);
        brant_text_add_bytes(&s->line, word, length);
        word += length + (word[length] == ' ');
    }
    if (known && known->length > 0)
        brant_text_add(&s->line, ": %s", known->data);
}

void brant_summary_signs(brant_summary *s)
{
    if (!s->report->day && !s->report->signs_given)
        return;
    brant_text_add(&s->line, "SIGNS");
    for (int i = 0; i < BRANT_SIGNS; i++) {
        brant_text known = {0};
        brant_text_sign_known(&known, i, &s->report->signs);
        s->line.failed |= known.failed;
        add_box(s, brant_signs[i].title, &known);
        brant_text_clear(&known);
    }
    brant_summary_flush(s, 6, false);
    brant_text_add(&s->line, "KIT  ");
    for (const brant_check_item *item = brant_kit; item->title; item++)
        add_box(s, item->title, NULL);
    brant_summary_flush(s, 6, false);
}
