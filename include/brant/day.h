/* day: what the day adds to the terrain. So far: metres climbed. */
#ifndef BRANT_DAY_H
#define BRANT_DAY_H

#include "brant/base.h"

#pragma GCC visibility push(default)

/* ---- clock times -------------------------------------------------------- */

/* A moment, and the offset from UTC in which people there read it. No time zone
 * data, no daylight saving: the offset is what the text said. */
typedef struct brant_time {
    int64_t utc_s;   /* seconds since 1970-01-01T00:00:00Z, no leap seconds */
    int offset_min;  /* minutes east of UTC, -840..840; 0 without an offset */
    bool has_offset; /* false: the text named none, and utc_s reads it as UTC */
} brant_time;

/* The same moment as date and clock in its own offset (Gregorian calendar). */
typedef struct brant_date {
    int year, month, day;     /* month 1-12, day 1-31 */
    int hour, minute, second; /* 0-23, 0-59, 0-59 */
    int weekday;              /* 0 Monday .. 6 Sunday */
} brant_date;

/* RFC 3339 date-time, seconds optional: 2027-02-13T07:30+01:00, ...T06:30:00Z; a
 * fraction of a second is dropped. Without offset `has_offset` is false: the
 * caller decides whether that will do. False for anything else: a day that is
 * none, 24:00, a leap second, a year outside 1970-2200, an offset beyond 14 h. */
bool brant_time_parse(const char *text, brant_time *time);
/* HH:MM, 00:00 to 23:59, as minutes of the day. */
bool brant_clock_parse(const char *text, int *minutes);
brant_time brant_time_at(int64_t utc_s, int offset_min); /* has_offset: true */
brant_date brant_time_date(const brant_time *time);
/* Minutes of the day at `time` in its own offset, 0..1439. */
int brant_time_clock(const brant_time *time);
/* The start (00:00) of its day in its own offset, UTC seconds. */
int64_t brant_time_midnight(const brant_time *time);

const char *brant_weekday_name(int weekday); /* "Mon".."Sun" */
const char *brant_month_name(int month);     /* "Jan".."Dec" */
/* In the time's own offset, whatever locale and TZ are: */
void brant_text_iso_date(brant_text *text, const brant_time *time); /* 2027-02-13 */
void brant_text_iso_time(brant_text *text, const brant_time *time); /* 2027-02-13T07:30:00+01:00 */
void brant_text_clock(brant_text *text, const brant_time *time);    /* 07:30 */
void brant_text_day(brant_text *text, const brant_time *time);      /* Sat 13 Feb 2027 */
void brant_text_day_clock(brant_text *text, const brant_time *time); /* Sat 07:30 */

/* Metres up and down along `count` elevations (NaN: unknown, skipped). A change
 * of direction counts once it exceeds `hysteresis_m`, so that the model's noise
 * does not climb. Common practice, no source; 10 m serves 10-30 m models. */
#define BRANT_CLIMB_HYSTERESIS 10.0
void brant_climb(const float *elevation, size_t count, double hysteresis_m, double *up,
                 double *down);

#pragma GCC visibility pop

#endif
