/* The summary's lists along the line: legs that are unknown, legs above others of one's own
 * line, places to wait. */
#include "summary.h"

#include "fold.h"

#include <math.h>

/* Legs told that are below others. */
#define TOLD_OVERS 6

typedef brant_summary summary;

/* ---- unknown ------------------------------------------------------------ */

static bool is_unknown_so(const summary *s, const brant_leg *leg, unsigned reasons)
{
    return leg->kind == BRANT_KIND_UNKNOWN &&
           brant_words_unknown(s->report, s->tour, leg) == reasons;
}

/* "11 (8.10-8.40 km), 14 (9.00-9.02 km; above: ...)": the unknown legs that are so
 * for these reasons. */
static void list_unknown(summary *s, unsigned reasons, size_t count)
{
    size_t told = 0;
    double metres = 0;
    for (size_t i = 0; i < s->tour->leg_count; i++) {
        const brant_leg *leg = &s->tour->legs[i];
        if (!is_unknown_so(s, leg, reasons))
            continue;
        metres += leg->to_m - leg->from_m;
        if (told++ >= BRANT_LISTED_LEGS)
            continue;
        brant_text_add(&s->line, told > 1 ? ", %u" FIRM "(" : "%u" FIRM "(", leg->number);
        brant_words_stretch(&s->line, leg->from_m, leg->to_m);
        brant_words_detail(s->report, s->tour, leg, &s->line);
        brant_text_add(&s->line, ")");
    }
    if (count > BRANT_LISTED_LEGS) {
        brant_text_add(&s->line, " and %zu more, ", count - BRANT_LISTED_LEGS);
        brant_words_km(&s->line, metres);
        brant_text_add(&s->line, FIRM "km in all");
    }
}

static void add_unknown_group(summary *s, unsigned reasons, bool first)
{
    const brant_leg *leg = NULL; /* the last of them */
    size_t count = 0;
    for (size_t i = 0; i < s->tour->leg_count; i++) {
        if (is_unknown_so(s, &s->tour->legs[i], reasons)) {
            leg = &s->tour->legs[i];
            count++;
        }
    }
    brant_text_add(&s->line, "%-7s ", first ? "UNKNOWN" : "");
    if (count == 1) {
        brant_text_add(&s->line, "leg" FIRM "%u, ", leg->number);
        brant_words_stretch(&s->line, leg->from_m, leg->to_m);
        brant_text_add(&s->line, ": ");
        brant_words_reasons(reasons, &s->line);
        brant_words_detail(s->report, s->tour, leg, &s->line);
    } else {
        brant_words_reasons(reasons, &s->line);
        brant_text_add(&s->line, ": legs" FIRM);
        list_unknown(s, reasons, count);
    }
    brant_summary_flush(s, 8, false);
}

void brant_summary_unknown(brant_summary *s)
{
    uint64_t present = 0; /* a bit for each set of reasons */
    bool first = true;
    for (size_t i = 0; i < s->tour->leg_count; i++)
        if (s->tour->legs[i].kind == BRANT_KIND_UNKNOWN)
            present |= UINT64_C(1)
                       << brant_words_unknown(s->report, s->tour, &s->tour->legs[i]);
    for (unsigned reasons = 0; reasons < 64; reasons++) {
        if (present & UINT64_C(1) << reasons) {
            add_unknown_group(s, reasons, first);
            first = false;
        }
    }
}

/* ---- above your own line ------------------------------------------------ */

/* Legs `first`..end-1 of tour->overs, which are above one: "legs 17 21-23 above leg 26".
 * Own legs come before others'. */
static void add_overs_of_one(summary *s, size_t first, size_t end)
{
    const brant_over *overs = s->tour->overs, *lower = &overs[first];
    for (size_t i = first; i < end; i++) {
        size_t last = i;
        while (overs[i].upper_tour == BRANT_OWN && last + 1 < end &&
               overs[last + 1].upper_tour == BRANT_OWN &&
               overs[last + 1].upper == overs[last].upper + 1)
            last++;
        if (overs[i].upper_tour != BRANT_OWN)
            brant_text_add(&s->line, i > first ? ", " : "");
        else if (i > first)
            brant_text_add(&s->line, FIRM);
        else
            brant_text_add(&s->line, end > first + 1 && overs[first + 1].upper_tour == BRANT_OWN
                                         ? "legs" FIRM : "leg" FIRM);
        brant_words_over(s->report, overs[i].upper_tour, overs[i].upper, &s->line);
        if (last > i)
            brant_text_add(&s->line, "-%u", overs[last].upper);
        i = last;
    }
    brant_text_add(&s->line, lower->lower_tour == BRANT_OWN ? " above leg" FIRM : " above ");
    brant_words_over(s->report, lower->lower_tour, lower->lower, &s->line);
}

static bool same_lower(const brant_over *a, const brant_over *b)
{
    return a->lower_tour == b->lower_tour && a->lower == b->lower;
}

/* "LINE  leg 8 above leg 4; legs 22 24 above leg 26" */
void brant_summary_overs(brant_summary *s)
{
    const brant_tour *tour = s->tour;
    size_t lower = 0, first, end;
    if (tour->over_count == 0)
        return;
    brant_text_add(&s->line, "LINE  ");
    for (first = 0; first < tour->over_count; first = end) {
        for (end = first + 1;
             end < tour->over_count && same_lower(&tour->overs[first], &tour->overs[end]);)
            end++;
        if (lower++ >= TOLD_OVERS)
            continue;
        brant_text_add(&s->line, "%s", first > 0 ? "; " : "");
        add_overs_of_one(s, first, end);
    }
    if (lower > TOLD_OVERS)
        brant_text_add(&s->line, "; and above %zu more", lower - TOLD_OVERS);
    brant_summary_flush(s, 6, false);
}

/* ---- where to wait ------------------------------------------------------ */

/* "3.05, 3.80 km"; of many the first and how many more. */
static void list_waits(summary *s)
{
    const brant_tour *tour = s->tour;
    bool told_km = false;
    for (size_t i = 0; i < tour->wait_count && i < BRANT_LISTED_LEGS; i++) {
        brant_text_add(&s->line, "%s", i > 0 ? ", " : "");
        brant_text_number(&s->line, tour->waits[i].along_m / 1000.0, 2);
        told_km = brant_summary_leave_by(s, &tour->waits[i]);
    }
    if (!told_km)
        brant_text_add(&s->line, FIRM "km");
    if (tour->wait_count > BRANT_LISTED_LEGS)
        brant_text_add(&s->line, " and %zu more", tour->wait_count - BRANT_LISTED_LEGS);
    brant_text_add(&s->line, ": outside reach at" FIRM "%.0f", BRANT_WAIT_DEG);
}

/* "; no place before 0.00-1.34 km": the exposed stretches that lack one on this side. Not
 * "none found", which is said of ground. */
static void list_without(summary *s, bool before)
{
    size_t count = 0;
    for (size_t i = 0; i < s->tour->stretch_count; i++) {
        const brant_stretch *stretch = &s->tour->stretches[i];
        if ((before ? stretch->before : stretch->after) != BRANT_NO_WAIT)
            continue;
        if (count++ == 0)
            brant_text_add(&s->line, s->tour->wait_count > 0 ? "; no place %s " : "no place %s ",
                           before ? "before" : "after");
        else if (count <= BRANT_LISTED_LEGS)
            brant_text_add(&s->line, ", ");
        if (count <= BRANT_LISTED_LEGS)
            brant_words_stretch(&s->line, stretch->from_m, stretch->to_m);
    }
    if (count > BRANT_LISTED_LEGS)
        brant_text_add(&s->line, " and %zu more", count - BRANT_LISTED_LEGS);
}

void brant_summary_waits(brant_summary *s)
{
    const brant_tour *tour = s->tour;
    if (tour->waits_unknown) {
        brant_text_add(&s->line, "WAIT  not known: the shadow at" FIRM "%.0f was not searched",
                       BRANT_WAIT_DEG);
    } else {
        size_t nowhere = 0;
        for (size_t i = 0; i < tour->stretch_count; i++)
            nowhere += tour->stretches[i].before == BRANT_NO_WAIT &&
                       tour->stretches[i].after == BRANT_NO_WAIT;
        if (tour->stretch_count == 0)
            return;
        brant_text_add(&s->line, "WAIT  ");
        if (tour->wait_count > 0)
            list_waits(s);
        if (nowhere == tour->stretch_count) {
            brant_text_add(&s->line, "no place found outside reach at" FIRM "%.0f", BRANT_WAIT_DEG);
        } else {
            list_without(s, true);
            list_without(s, false);
        }
    }
    brant_summary_flush(s, 6, false);
}
