/* What several reports say in the same words: names, distances, areas, and what
 * stands out about a leg. */
#ifndef BRANT_REPORT_WORDS_H
#define BRANT_REPORT_WORDS_H

#include "brant/report.h"

/* A blank at which no line is folded: between a number and its unit. Text from
 * files never holds it (brant_words_clean). */
#define FIRM "\x01"

/* `text` as valid UTF-8 without control characters: a byte that is no UTF-8
 * becomes U+FFFD; controls, line separators and marks that turn the writing
 * direction become `control` ("" or " "): a name must not move a cursor. */
void brant_words_clean(brant_text *out, const char *text, const char *control);
/* The code point at `*text`, which moves on; -1 (one byte on) if it is no UTF-8. */
long brant_words_next(const char **text);

/* What a tour is called in reports: its track's name; the second of the same
 * name "name (2)", and so on. Unique within the report. */
void brant_words_route(const brant_report *report, size_t tour, brant_text *out);

/* Kilometres without a unit: one decimal, more below 0.1 km, "<0.001" for what
 * is less than half a metre: never 0.0 for what is there. "0" for 0. */
void brant_words_km(brant_text *out, double metres);
/* "6.10-6.55 km", with as many decimals as keep the two apart. */
void brant_words_stretch(brant_text *out, double from_m, double to_m);
/* "6 ha", "1.4 ha", "400 m2", "less than 1 m2". */
void brant_words_area(brant_text *out, double m2);
/* ". At other reach angles than 25<degrees> some of what is reached is missed", where there are
 * others; else nothing. */
void brant_words_other_reach(brant_text *out, double reach_angle_deg, bool own_angles,
                             const char *degrees);
/* "2,420-2,590 m"; nothing if either is NaN. */
void brant_words_heights(brant_text *out, double low_m, double high_m);
/* "1.2 km" or "120 m" or "under 1 m". */
void brant_words_length(brant_text *out, double metres);

/* The zone that speaks for a leg: of those it is on (crosses, over-band) or at
 * the edge of (edge) the one with the largest face, else the governing one.
 * NULL if there is none. */
const brant_zone *brant_words_zone(const brant_tour *tour, const brant_leg *leg);
/* The octant that names the slope of a leg: its own where it is on release
 * ground, else that of brant_words_zone; "" if there is none. */
const char *brant_words_aspect(const brant_tour *tour, const brant_leg *leg);
/* What there is to say of a leg beside its kind and place: "38 deg NE, face 6 ha;
 * above: ..."; degrees of slope are the steepest part's. For an unknown leg it is
 * empty or begins with "; ", to stand behind the reasons. */
void brant_words_detail(const brant_report *report, const brant_tour *tour, const brant_leg *leg,
                        brant_text *out);
/* What lies below a leg: "gully then unknown"; "" for nothing found. */
#define BRANT_BELOW_MAX 64
void brant_words_below(const brant_below *below, char text[BRANT_BELOW_MAX]);
/* A leg in a brant_over: "4", or of another tour "Second party 3.20-3.65 km". */
void brant_words_over(const brant_report *report, int tour, uint32_t leg, brant_text *out);
/* The reach angles at which reports show metres, degrees: those of
 * brant_leg.reached_m. */
#define BRANT_SHOWN_ANGLES 3
extern const double brant_words_angles[BRANT_SHOWN_ANGLES];
/* Reached at in whole degrees, down: what is reached at 24.96 is not reached at 25. By way
 * of tenths as the tables have them (a float a hair below 33 is 33). */
double brant_words_reached_at(double reached_at_deg);
/* Metres of a tour reached at the `which`-th of them; NaN below the floor, where
 * nothing was searched. */
double brant_words_reached(const brant_report *report, const brant_tour *tour, int which);

/* Why the ground of an unknown leg is not known, as a set of bits (below 64), and
 * the set in words: "hole in the model and at the model's edge". */
unsigned brant_words_unknown(const brant_report *report, const brant_tour *tour,
                             const brant_leg *leg);
void brant_words_reasons(unsigned reasons, brant_text *out);

#endif
