/* The profile of a long tour once more, in strips. */
#include "sheet.h"

#include <math.h>

/* A tour longer than this, or of more legs, has them. */
#define LONG_M 25000.0
#define MANY_LEGS 45
#define STRIP_M 12000.0
#define PLOT_HEIGHT 58.0
#define STRIP_HEIGHT (PLOT_HEIGHT + 50)
#define LINE_HEIGHT 12.0
#define GAP 6.0

/* The leg of unknown ground on which all of a strip is: there is nothing to draw. */
static const brant_read_leg *unknown_leg(const brant_read_tour *tour, double from, double to)
{
    for (size_t i = 0; i < tour->leg_count; i++) {
        const brant_read_leg *leg = &tour->legs[i];
        if (leg->kind == BRANT_KIND_UNKNOWN && leg->from_m <= from && leg->to_m >= to)
            return leg;
    }
    return NULL;
}

static void tell_unknown(brant_sheet *s, const brant_read_leg *leg, double from, double to)
{
    brant_text line = {0};
    brant_words_stretch(&line, from, to);
    brant_text_add(&line, ": leg %u, unknown ground", (unsigned)leg->number);
    brant_sheet_need(s, LINE_HEIGHT);
    brant_sheet_paragraph_of(s, "", &line);
    s->y += GAP;
}

/* All strips have one scale; the last may be shorter. */
void brant_sheet_profile_strips(brant_sheet *s)
{
    double length = s->tour->length_m, to;
    if (length <= LONG_M && s->tour->leg_count <= MANY_LEGS)
        return;
    double strip = fmin(STRIP_M, ceil(length / 2 / 1000) * 1000);
    for (double from = 0; from < length; from = to) {
        to = fmin(from + strip, length);
        const brant_read_leg *unknown = unknown_leg(s->tour, from, to);
        if (!unknown) {
            brant_sheet_need(s, STRIP_HEIGHT);
            brant_sheet_plot(s, from, to, (to - from) / strip, PLOT_HEIGHT);
            s->y += GAP;
            continue;
        }
        while (to < length && unknown->to_m >= fmin(to + strip, length))
            to = fmin(to + strip, length);
        tell_unknown(s, unknown, from, to);
    }
}
