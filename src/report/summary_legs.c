/* The summary's legs: those told in full, and the rest by their numbers. */
#include "summary.h"

#include "day_words.h"
#include "fold.h"

#include <math.h>

/* Legs told in full; the rest are listed. */
#define FULL_LEGS 8

typedef brant_summary summary;

static bool is_told(const brant_leg *leg)
{
    return leg->kind != BRANT_KIND_NONE_FOUND && leg->kind != BRANT_KIND_UNKNOWN;
}

static size_t count_told(const brant_tour *tour)
{
    size_t count = 0;
    for (size_t i = 0; i < tour->leg_count; i++)
        count += is_told(&tour->legs[i]);
    return count;
}

/* Digits of the largest leg number, at least 2. */
static int number_width(const brant_tour *tour)
{
    int width = 1;
    for (size_t count = tour->leg_count; count >= 10; count /= 10)
        width++;
    return width < 2 ? 2 : width;
}

static void add_leg(summary *s, const brant_leg *leg)
{
    int width = number_width(s->tour);
    int indent = width + 11; /* number, blank, kind of at most 9 letters, blank */
    brant_text_add(&s->line, "%*u %-9s ", width, leg->number, brant_kind_name(leg->kind));
    brant_words_stretch(&s->line, leg->from_m, leg->to_m);
    if (brant_words_has_hours(s->report) && !isnan(leg->arrive_s)) {
        brant_text_add(&s->line, ", ");
        brant_words_hours(s->report, leg, &s->line);
    }
    if (!isnan(leg->low_m) && !isnan(leg->high_m)) {
        brant_text_add(&s->line, ", you at" FIRM);
        brant_words_heights(&s->line, leg->low_m, leg->high_m);
    }
    brant_summary_flush(s, indent, s->report->bold);
    brant_text_add(&s->line, "%*s", indent, "");
    size_t before = s->line.length;
    brant_words_day(s->report, s->tour, leg, &s->line);
    if (s->line.length > before)
        brant_summary_flush(s, indent, false);
    brant_summary_start(s);
    brant_text_add(&s->line, "%*s", indent, "");
    before = s->line.length;
    brant_words_detail(s->report, s->tour, leg, &s->line);
    if (s->line.length > before)
        brant_summary_flush(s, indent, false);
    brant_summary_start(s);
}

/* Legs that are not told in full, gathered for one line. */
typedef struct gathered {
    brant_text numbers; /* " 2 6 15", at most BRANT_LISTED_LEGS */
    size_t count;
    double metres;
    float low_deg, high_deg; /* reached at */
    brant_level level;       /* the highest */
} gathered;

static void gather(gathered *g, const brant_leg *leg, double metres)
{
    if (g->count++ < BRANT_LISTED_LEGS)
        brant_text_add(&g->numbers, " %u", leg->number);
    g->metres += metres;
    g->low_deg = fminf(g->low_deg, leg->reached_at_deg);
    g->high_deg = fmaxf(g->high_deg, leg->reached_at_deg);
    g->level = brant_level_higher(g->level, leg->level);
}

/* "Also under: legs 2 6 15, reached at 25-27 deg"; of many "Also under: 57 legs,
 * 3.1 km, reached at 25-46 deg, first 2 6 15 ..." */
static void add_gathered(summary *s, const char *what, gathered *g, bool reached)
{
    bool many = g->count > BRANT_LISTED_LEGS;
    if (g->count > 0 && !g->numbers.failed) {
        brant_text_add(&s->line, "Also %s: ", what);
        if (many) {
            brant_text_add(&s->line, "%zu" FIRM "legs, ", g->count);
            brant_words_km(&s->line, g->metres);
            brant_text_add(&s->line, FIRM "km");
        } else {
            brant_text_add(&s->line, "leg%s%s", g->count > 1 ? "s" : "", g->numbers.data);
        }
        if (reached) {
            double low = brant_words_reached_at((double)g->low_deg);
            double high = brant_words_reached_at((double)g->high_deg);
            brant_text_add(&s->line, ", reached at" FIRM "%.0f", low);
            if (high > low)
                brant_text_add(&s->line, "-%.0f", high);
            brant_text_add(&s->line, FIRM "deg");
        }
        if (brant_words_bulletin(s->report) && g->level != BRANT_LEVEL_NONE) {
            brant_text_add(&s->line, g->count > 1 ? ", highest" FIRM : ", ");
            brant_words_level(g->level, false, &s->line);
        }
        brant_text_add(&s->line, "%s%s", many ? ", first" : "", many ? g->numbers.data : "");
        brant_summary_flush(s, 2, false);
    }
    s->out->failed |= g->numbers.failed;
    brant_text_clear(&g->numbers);
}

/* Those of one kind from rank `from` on. */
static void add_also(summary *s, size_t from, brant_kind kind)
{
    gathered g = {.low_deg = INFINITY};
    for (size_t i = from; i < s->tour->leg_count; i++) {
        const brant_leg *leg = &s->tour->legs[s->tour->rank[i]];
        if (leg->kind == kind)
            gather(&g, leg, leg->to_m - leg->from_m);
    }
    add_gathered(s, brant_kind_name(kind), &g, kind == BRANT_KIND_UNDER);
}

/* Unknown above legs that are named by another kind, from rank `from` on: those
 * before it say so themselves. */
static void add_unknown_above(summary *s, size_t from)
{
    gathered g = {.low_deg = INFINITY};
    for (size_t i = from; i < s->tour->leg_count; i++) {
        const brant_leg *leg = &s->tour->legs[s->tour->rank[i]];
        if (is_told(leg) && leg->unknown_above_m > 0)
            gather(&g, leg, leg->unknown_above_m);
    }
    add_gathered(s, "unknown above", &g, false);
}

void brant_summary_first(brant_summary *s)
{
    const brant_tour *tour = s->tour;
    size_t told = count_told(tour), full = 0, rank = 0;
    if (told == 0 && !(tour->metres[BRANT_KIND_NONE_FOUND] > 0))
        return; /* all unknown, which was said */
    if (told == 0) {
        brant_text_add(&s->line, "FIRST no release ground found on, beside or above the route");
        if (tour->metres[BRANT_KIND_UNKNOWN] > 0)
            brant_text_add(&s->line, " where the ground is known");
        brant_summary_flush(s, 2, false);
        return;
    }
    brant_text_add(&s->line, "FIRST");
    if (told > FULL_LEGS)
        brant_text_add(&s->line, " %d of %zu legs", FULL_LEGS, told);
    brant_text_add(&s->line, brant_words_has_hours(s->report)
                                 ? " (times planned-late; slopes by their steepest part)"
                                 : " (slopes by their steepest part)");
    brant_summary_flush(s, 2, false);
    for (; rank < tour->leg_count && full < FULL_LEGS; rank++) {
        const brant_leg *leg = &tour->legs[tour->rank[rank]];
        if (is_told(leg)) {
            add_leg(s, leg);
            full++;
        }
    }
    for (brant_kind kind = BRANT_KIND_CROSSES; kind <= BRANT_KIND_REMOTE; kind++)
        add_also(s, rank, kind);
    add_unknown_above(s, rank);
    brant_summary_sun_note(s);
}
