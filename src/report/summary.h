/* The summary's parts share a line that is put together, folded and begun anew. */
#ifndef BRANT_REPORT_SUMMARY_H
#define BRANT_REPORT_SUMMARY_H

#include "words.h"

/* The most leg numbers in a list. */
#define BRANT_LISTED_LEGS 12

typedef struct brant_summary {
    const brant_report *report;
    const brant_tour *tour;
    brant_text *out;
    brant_text line; /* the logical line being put together */
    int columns;
} brant_summary;

/* Begin the line anew. */
void brant_summary_start(brant_summary *s);
/* Fold what was put together and start anew. */
void brant_summary_flush(brant_summary *s, int indent, bool bold);

/* Of one tour; each writes nothing where there is nothing to say. */
void brant_summary_unknown(brant_summary *s);
void brant_summary_first(brant_summary *s); /* the legs, worst first */
void brant_summary_overs(brant_summary *s); /* above one's own line */
void brant_summary_waits(brant_summary *s);

/* What the day adds; each writes nothing where nothing is known of it. */
void brant_summary_title_day(brant_summary *s); /* behind the name, on the same line */
void brant_summary_hours(brant_summary *s);
void brant_summary_bulletin(brant_summary *s);
void brant_summary_over(brant_summary *s);
void brant_summary_sun_note(brant_summary *s);
void brant_summary_what_if(brant_summary *s);   /* on the line, each with ". " behind it */
/* " km (leave by 11:20)" on the line; false if there is no such time. */
bool brant_summary_leave_by(brant_summary *s, const brant_wait *wait);
void brant_summary_signs(brant_summary *s);

#endif
