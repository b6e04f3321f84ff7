/* What several reports say of the day in the same words. */
#ifndef BRANT_REPORT_DAY_WORDS_H
#define BRANT_REPORT_DAY_WORDS_H

#include "words.h"

/* The bulletin, and whether hours are known; NULL and false without. */
const brant_bulletin *brant_words_bulletin(const brant_report *report);
bool brant_words_has_hours(const brant_report *report);
/* The moment `seconds` (finite) after the start, in the start's offset. */
brant_time brant_words_moment(const brant_report *report, double seconds);
/* "10:40", with its day where that is not the start's: "Sun 01:20". */
void brant_words_clock(const brant_report *report, double seconds, brant_text *out);
/* "; out by 13:00, not if late": whether one is out by the hour that was asked for, at the
 * planned and at the late pace. `hour` is cleared. */
void brant_words_out_by(brant_text *hour, bool planned, bool late, brant_text *out);
/* "leave by 07:17", to the minute before, of a place to wait; nothing and false where no hour
 * bounds it. */
bool brant_words_leave_by(const brant_report *report, const brant_tour *tour,
                          const brant_wait *wait, brant_text *out);

/* The highest sample; 0 where no height is known. */
size_t brant_words_highest(const brant_tour *tour);

/* "level 3", "level not stated", "level 2 (one lower, not stated)"; nothing without a
 * bulletin. */
void brant_words_level(brant_level level, bool lowered, brant_text *out);
/* "10:40-11:55", the planned and the late arrival; nothing without hours. */
void brant_words_hours(const brant_report *report, const brant_leg *leg, brant_text *out);
/* "clear-sky sun from 08:20; sheltered": what is known of sun and shelter of the
 * slope that governs a leg; nothing where neither was sought. */
void brant_words_sun(const brant_report *report, const brant_leg *leg, brant_text *out);
/* Level and the slope it holds on, problems, limit, sun and shelter of a leg; nothing
 * where nothing is known. "level 3 on NE, 2,145-2,590 m: persistent weak layer; over the
 * limit 35 deg for 0.4 km (whole slope: 40 deg); clear-sky sun from 08:20; sheltered". */
void brant_words_day(const brant_report *report, const brant_tour *tour, const brant_leg *leg,
                     brant_text *out);

#endif
