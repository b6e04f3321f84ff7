/* Clock times: RFC 3339 read and written by calendar arithmetic alone, so that
 * neither the machine's time zone nor its locale can move an hour. */
#include "brant/day.h"

#include <stdio.h>
#include <stdlib.h>
#include <string.h>

enum {
    DAY_S = 86400,
    FIRST_YEAR = 1970,
    LAST_YEAR = 2200,
    OFFSET_MAX = 14 * 60, /* the largest civil offset, +14:00 */
    DAYS_TO_1970 = 719468 /* from 0000-03-01 to 1970-01-01 */
};

static bool is_leap(int year)
{
    return (year % 4 == 0 && year % 100 != 0) || year % 400 == 0;
}

static int days_in_month(int year, int month)
{
    static const int days[] = {31, 28, 31, 30, 31, 30, 31, 31, 30, 31, 30, 31};
    return month == 2 && is_leap(year) ? 29 : days[month - 1];
}

/* Days since 1970-01-01. Years are taken to begin in March, so that the leap day
 * is the last: the days before month m of such a year are (153 m + 2) / 5. */
static int64_t days_of(int year, int month, int day)
{
    int64_t y = month > 2 ? year : year - 1;
    int64_t m = (month + 9) % 12;
    return 365 * y + y / 4 - y / 100 + y / 400 + (153 * m + 2) / 5 + day - 1 - DAYS_TO_1970;
}

/* The quotient rounded down, for moments before 1970, too. */
static int64_t floor_div(int64_t a, int64_t b)
{
    return a / b - (a % b < 0);
}

/* ---- reading ------------------------------------------------------------ */

/* Exactly `count` digits at `*at`, within [low, high]; moves on. */
static bool take_digits(const char **at, int count, int low, int high, int *value)
{
    *value = 0;
    for (int i = 0; i < count; i++, (*at)++) {
        if (**at < '0' || **at > '9')
            return false;
        *value = *value * 10 + (**at - '0');
    }
    return *value >= low && *value <= high;
}

static bool take(const char **at, char wanted)
{
    if (**at != wanted)
        return false;
    (*at)++;
    return true;
}

static bool take_date(const char **at, brant_date *date)
{
    return take_digits(at, 4, FIRST_YEAR, LAST_YEAR, &date->year) && take(at, '-') &&
           take_digits(at, 2, 1, 12, &date->month) && take(at, '-') &&
           take_digits(at, 2, 1, days_in_month(date->year, date->month), &date->day);
}

static bool take_clock(const char **at, int *hour, int *minute)
{
    return take_digits(at, 2, 0, 23, hour) && take(at, ':') &&
           take_digits(at, 2, 0, 59, minute);
}

/* [:SS[.fraction]] */
static bool take_seconds(const char **at, int *second)
{
    *second = 0;
    if (**at != ':')
        return true;
    (*at)++;
    if (!take_digits(at, 2, 0, 59, second))
        return false;
    if (**at != '.')
        return true;
    size_t digits = strspn(*at + 1, "0123456789");
    *at += 1 + digits;
    return digits > 0;
}

/* [Z | +HH:MM | -HH:MM] */
static bool take_offset(const char **at, brant_time *time)
{
    time->offset_min = 0;
    time->has_offset = **at != '\0';
    if (!time->has_offset)
        return true;
    if (take(at, 'Z') || take(at, 'z'))
        return true;
    bool west = **at == '-';
    int hour, minute;
    if ((!take(at, '+') && !take(at, '-')) || !take_clock(at, &hour, &minute))
        return false;
    int offset = hour * 60 + minute;
    time->offset_min = west ? -offset : offset;
    return offset <= OFFSET_MAX;
}

bool brant_time_parse(const char *text, brant_time *time)
{
    brant_date d;
    brant_time read;
    const char *at = text;
    if (!take_date(&at, &d) || (!take(&at, 'T') && !take(&at, 't')) ||
        !take_clock(&at, &d.hour, &d.minute) || !take_seconds(&at, &d.second) ||
        !take_offset(&at, &read) || *at)
        return false;
    read.utc_s = days_of(d.year, d.month, d.day) * DAY_S + d.hour * 3600 + d.minute * 60 +
                 d.second - read.offset_min * 60;
    *time = read;
    return true;
}

bool brant_clock_parse(const char *text, int *minutes)
{
    int hour, minute;
    if (!take_clock(&text, &hour, &minute) || *text)
        return false;
    *minutes = hour * 60 + minute;
    return true;
}

/* ---- telling ------------------------------------------------------------ */

brant_time brant_time_at(int64_t utc_s, int offset_min)
{
    return (brant_time){.utc_s = utc_s, .offset_min = offset_min, .has_offset = true};
}

static int64_t local_s(const brant_time *time)
{
    return time->utc_s + (int64_t)time->offset_min * 60;
}

brant_date brant_time_date(const brant_time *time)
{
    int64_t days = floor_div(local_s(time), DAY_S);
    int second = (int)(local_s(time) - days * DAY_S);
    /* the year (from March) whose first day is the last not after this one */
    int64_t from_0000 = days + DAYS_TO_1970;
    int year = (int)(from_0000 / 366);
    while (days_of(year + 1, 3, 1) <= days)
        year++;
    int day_of_year = (int)(days - days_of(year, 3, 1));
    int m = (5 * day_of_year + 2) / 153;
    return (brant_date){
        .year = m >= 10 ? year + 1 : year,
        .month = m >= 10 ? m - 9 : m + 3,
        .day = day_of_year - (153 * m + 2) / 5 + 1,
        .hour = second / 3600,
        .minute = second / 60 % 60,
        .second = second % 60,
        .weekday = (int)((days % 7 + 10) % 7), /* 1970-01-01 was a Thursday */
    };
}

int brant_time_clock(const brant_time *time)
{
    brant_date d = brant_time_date(time);
    return d.hour * 60 + d.minute;
}

int64_t brant_time_midnight(const brant_time *time)
{
    return floor_div(local_s(time), DAY_S) * DAY_S - (int64_t)time->offset_min * 60;
}

const char *brant_weekday_name(int weekday)
{
    static const char *const names[] = {"Mon", "Tue", "Wed", "Thu", "Fri", "Sat", "Sun"};
    return weekday >= 0 && weekday < 7 ? names[weekday] : "?";
}

const char *brant_month_name(int month)
{
    static const char *const names[] = {"Jan", "Feb", "Mar", "Apr", "May", "Jun",
                                        "Jul", "Aug", "Sep", "Oct", "Nov", "Dec"};
    return month >= 1 && month <= 12 ? names[month - 1] : "?";
}

void brant_iso_time(char text[BRANT_TIME_MAX], const brant_time *time)
{
    brant_date d = brant_time_date(time);
    int offset = abs(time->offset_min);
    int length = snprintf(text, BRANT_TIME_MAX, "%04d-%02d-%02dT%02d:%02d:%02d", d.year, d.month,
                          d.day, d.hour, d.minute, d.second);
    if (time->has_offset && length > 0 && length < BRANT_TIME_MAX)
        snprintf(text + length, (size_t)(BRANT_TIME_MAX - length), "%c%02d:%02d",
                 time->offset_min < 0 ? '-' : '+', offset / 60, offset % 60);
}

void brant_text_iso_time(brant_text *text, const brant_time *time)
{
    char iso[BRANT_TIME_MAX];
    brant_iso_time(iso, time);
    brant_text_add(text, "%s", iso);
}

void brant_text_clock(brant_text *text, const brant_time *time)
{
    brant_date d = brant_time_date(time);
    brant_text_add(text, "%02d:%02d", d.hour, d.minute);
}

void brant_text_day(brant_text *text, const brant_time *time)
{
    brant_date d = brant_time_date(time);
    brant_text_add(text, "%s %d %s %d", brant_weekday_name(d.weekday), d.day,
                   brant_month_name(d.month), d.year);
}

void brant_text_day_clock(brant_text *text, const brant_time *time)
{
    brant_text_add(text, "%s ", brant_weekday_name(brant_time_date(time).weekday));
    brant_text_clock(text, time);
}
