/* Clock times. The examples of RFC 3339 section 5.8; every day from 1970 to 2200
 * against the C library's gmtime_r; day counts of known dates. */
#include "brant/day.h"

#include <setjmp.h>
#include <stdlib.h>
#include <string.h>
#include <time.h>

#include <cmocka.h>

#define COUNT(array) (sizeof(array) / sizeof(array)[0])

static void test_reads(void **state)
{
    (void)state;
    static const struct {
        const char *text;
        int64_t utc_s;
        int offset;
        bool has_offset;
    } cases[] = {
        {"1970-01-01T00:00:00Z", 0, 0, true},
        {"1970-01-01T00:00", 0, 0, false},
        {"2000-03-01T00:00:00Z", 951868800, 0, true},
        {"2027-02-13T07:30+01:00", 1802500200, 60, true},
        {"2027-02-13T06:30Z", 1802500200, 0, true},
        {"2027-02-13t06:30:00z", 1802500200, 0, true},
        {"2027-02-12T23:00:00-07:30", 1802500200, -450, true},
        /* RFC 3339, 5.8; the first with the fraction dropped */
        {"1985-04-12T23:20:50.52Z", 482196050, 0, true},
        {"1996-12-19T16:39:57-08:00", 851042397, -480, true},
        {"1996-12-20T00:39:57Z", 851042397, 0, true},
        {"2200-12-31T23:59:59Z", 7289654399, 0, true},
    };
    for (size_t i = 0; i < COUNT(cases); i++) {
        brant_time time;
        assert_true(brant_time_parse(cases[i].text, &time));
        assert_int_equal(time.utc_s, cases[i].utc_s);
        assert_int_equal(time.offset_min, cases[i].offset);
        assert_int_equal(time.has_offset, cases[i].has_offset);
    }
}

static void test_refuses(void **state)
{
    (void)state;
    static const char *const bad[] = {
        "", "2027", "2027-02-13", "2027-02-13T", "2027-02-13T07", "2027-02-13T7:30",
        "2027-02-13 07:30", "13.02.2027T07:30", "2027-02-29T07:30", "2100-02-29T00:00Z",
        "2027-00-10T00:00", "2027-13-10T00:00", "2027-04-31T00:00", "2027-04-00T00:00",
        "1969-12-31T23:59Z", "2201-01-01T00:00Z", "2027-02-13T24:00", "2027-02-13T23:60",
        "2027-02-13T23:59:60Z", "2027-02-13T07:30:0", "2027-02-13T07:30:00.Z",
        "2027-02-13T07:30+1:00", "2027-02-13T07:30+01", "2027-02-13T07:30+0100",
        "2027-02-13T07:30+14:01", "2027-02-13T07:30+01:60", "2027-02-13T07:30 Z",
        "2027-02-13T07:30Zulu", " 2027-02-13T07:30", "2027-02-13T07:30 ", "+027-02-13T07:30",
    };
    for (size_t i = 0; i < COUNT(bad); i++) {
        brant_time time = {.utc_s = 5};
        assert_false(brant_time_parse(bad[i], &time));
        assert_int_equal(time.utc_s, 5); /* untouched */
    }
    brant_time time;
    assert_true(brant_time_parse("2028-02-29T00:00", &time));
    assert_true(brant_time_parse("2000-02-29T00:00", &time));
}

static void test_clock(void **state)
{
    (void)state;
    int minutes = -1;
    assert_true(brant_clock_parse("00:00", &minutes) && minutes == 0);
    assert_true(brant_clock_parse("23:59", &minutes) && minutes == 1439);
    static const char *const bad[] = {"", "7:30", "24:00", "12:60", "12:3", "12:30:00", "noon",
                                      "12.30", "-1:00", "12:30 "};
    for (size_t i = 0; i < COUNT(bad); i++)
        assert_false(brant_clock_parse(bad[i], &minutes));
    assert_int_equal(minutes, 1439);
}

/* Every third hour or so of 231 years, against the C library. */
static void test_dates(void **state)
{
    (void)state;
    for (int64_t s = -86400; s < 7289654400; s += 86399) {
        brant_time time = brant_time_at(s, 0);
        brant_date d = brant_time_date(&time);
        time_t moment = (time_t)s;
        struct tm tm;
        assert_non_null(gmtime_r(&moment, &tm));
        assert_int_equal(d.year, tm.tm_year + 1900);
        assert_int_equal(d.month, tm.tm_mon + 1);
        assert_int_equal(d.day, tm.tm_mday);
        assert_int_equal(d.hour, tm.tm_hour);
        assert_int_equal(d.minute, tm.tm_min);
        assert_int_equal(d.second, tm.tm_sec);
        assert_int_equal(d.weekday, (tm.tm_wday + 6) % 7);
    }
}

static void assert_text(void (*add)(brant_text *, const brant_time *), const brant_time *time,
                        const char *expected)
{
    brant_text text = {0};
    add(&text, time);
    assert_string_equal(text.data, expected);
    brant_text_clear(&text);
}

static void test_tells_in_its_offset(void **state)
{
    (void)state;
    brant_time time;
    assert_true(brant_time_parse("2027-02-13T00:30+01:00", &time));
    assert_text(brant_text_iso_time, &time, "2027-02-13T00:30:00+01:00");
    assert_text(brant_text_clock, &time, "00:30");
    assert_text(brant_text_day, &time, "Sat 13 Feb 2027");
    assert_text(brant_text_day_clock, &time, "Sat 00:30");
    assert_int_equal(brant_time_clock(&time), 30);
    assert_int_equal(brant_time_midnight(&time), time.utc_s - 30 * 60);
    time = brant_time_at(time.utc_s, -210);
    assert_text(brant_text_iso_time, &time, "2027-02-12T20:00:00-03:30");
    assert_text(brant_text_day_clock, &time, "Fri 20:00");
    assert_int_equal(brant_time_clock(&time), 20 * 60);
    assert_int_equal(brant_time_midnight(&time), time.utc_s - 20 * 3600);
    time.has_offset = false;
    time.offset_min = 0;
    assert_text(brant_text_iso_time, &time, "2027-02-12T23:30:00");
}

/* What is written reads back as the same moment. */
static void test_round_trip(void **state)
{
    (void)state;
    for (int64_t s = 0; s < 7289654400; s += 7654321) {
        for (int offset = -840; offset <= 840; offset += 105) {
            brant_time time = brant_time_at(s + 86400, offset), back;
            brant_text text = {0};
            brant_text_iso_time(&text, &time);
            if (strncmp(text.data, "2201", 4) != 0) {
                assert_true(brant_time_parse(text.data, &back));
                assert_int_equal(back.utc_s, time.utc_s);
                assert_int_equal(back.offset_min, offset);
            }
            brant_text_clear(&text);
        }
    }
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(test_reads), cmocka_unit_test(test_refuses),
        cmocka_unit_test(test_clock), cmocka_unit_test(test_dates),
        cmocka_unit_test(test_tells_in_its_offset), cmocka_unit_test(test_round_trip),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
