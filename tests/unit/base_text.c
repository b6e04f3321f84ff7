/* Text and numbers: the same in every locale, strict on input. */
#include "brant/base.h"

#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>

#include <cmocka.h>

#include "near.h"

#include <locale.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

/* Free the text after comparing it. */
static void expect(brant_text *text, const char *expected)
{
    assert_false(text->failed);
    assert_string_equal(text->data, expected);
    assert_int_equal(text->length, strlen(expected));
    brant_text_clear(text);
    assert_null(text->data);
    assert_int_equal(text->length, 0);
}

static void takes(const char *text, double expected)
{
    double value = -12345;
    if (!brant_parse_number(text, &value))
        fail_msg("'%s' was refused", text);
    assert_near(value, expected, 0);
}

static void refuses(const char *text)
{
    double value;
    if (brant_parse_number(text, &value))
        fail_msg("'%s' was taken for %g", text, value);
}

/* ---- reading ------------------------------------------------------------ */

static void numbers_are_taken(void **state)
{
    (void)state;
    takes("0", 0);
    takes("46.5", 46.5);
    takes("+46.5", 46.5);
    takes("-9.0E-4", -9.0e-4);
    takes("1e3", 1000);
    takes("1.e+3", 1000);
    takes(".5", 0.5);
    takes("5.", 5);
    takes("00012", 12);
    takes(" \t\r\n46.5\n ", 46.5); /* white space of XML 1.0, production 3 */
    takes("1e-400", 0);             /* below the smallest double: rounds to 0 */
}

static void everything_else_is_refused(void **state)
{
    static const char *const texts[] = {
        "",      " ",      "46,5",  "1,000",   "0x10",   "0x1p3", "nan",  "NaN",   "nan(1)",
        "inf",   "-inf",   "1e999", "-1e999",  "1e",     "1e+",   "e3",   ".",     "+",
        "-",     "--1",    "+-1",   "46.5.1",  "46.5 N", "46 5",  "1d3",  "\xc2\xa0" "46",
        "46\v5", "\v46",   "46\f",  "undefined", "1_000", "\xe2\x88\x92" "1",
    };
    (void)state;
    for (size_t i = 0; i < sizeof texts / sizeof *texts; i++)
        refuses(texts[i]);
}

static void integers_are_strict_and_bounded(void **state)
{
    static const char *const bad[] = {"", "-", "1.0", "1e3", "0x10", "12a", "1 2",
                                      "9223372036854775808", "99999999999999999999"};
    long long value;
    (void)state;
    assert_true(brant_parse_integer(" -12\n", -20, 20, &value));
    assert_int_equal(value, -12);
    assert_true(brant_parse_integer("010", 0, 20, &value));
    assert_int_equal(value, 10); /* decimal, never octal */
    assert_true(brant_parse_integer("9223372036854775807", 0, INT64_MAX, &value));
    assert_true(value == INT64_MAX);
    assert_true(brant_parse_integer("20", -20, 20, &value));
    assert_false(brant_parse_integer("21", -20, 20, &value));
    assert_false(brant_parse_integer("-21", -20, 20, &value));
    for (size_t i = 0; i < sizeof bad / sizeof *bad; i++)
        if (brant_parse_integer(bad[i], INT64_MIN, INT64_MAX, &value))
            fail_msg("'%s' was taken for %lld", bad[i], value);
}

/* ---- writing ------------------------------------------------------------ */

static void numbers_are_written(void **state)
{
    brant_text text = {0};
    (void)state;
    brant_text_number(&text, 46.5, 3);
    brant_text_add(&text, "|");
    brant_text_number(&text, -0.0, 0);
    brant_text_add(&text, "|");
    brant_text_number(&text, -0.0004, 2); /* "-0.00" would read as an error */
    brant_text_add(&text, "|");
    brant_text_number(&text, -0.5, 1);
    brant_text_add(&text, "|");
    brant_text_number(&text, NAN, 2); /* does not apply: empty */
    brant_text_add(&text, "|");
    expect(&text, "46.500|0|0.00|-0.5||");
}

static void thousands_are_marked(void **state)
{
    static const struct {
        double value;
        const char *text;
    } cases[] = {{0, "0"},          {-0.4, "0"},           {7, "7"},
                 {999, "999"},      {999.6, "1,000"},      {12345, "12,345"},
                 {3506.52, "3,507"}, {3506.5, "3,507"},  {3506.44, "3,506"},
                 {-1234567, "-1,234,567"}, {1e15, "1,000,000,000,000,000"}};
    (void)state;
    for (size_t i = 0; i < sizeof cases / sizeof *cases; i++) {
        brant_text text = {0};
        brant_text_thousands(&text, cases[i].value);
        expect(&text, cases[i].text);
    }
    brant_text none = {0};
    brant_text_thousands(&none, NAN);
    assert_int_equal(none.length, 0);
    brant_text_clear(&none);
}

/* RFC 4180, section 2: rule 5 (quotes are optional), rule 6 (line breaks, double
 * quotes and commas need them), rule 7 (a double quote inside is doubled). */
static void fields_are_quoted_where_they_must_be(void **state)
{
    static const char *const cases[][2] = {
        {"", ""},
        {"plain", "plain"},
        {"two words", "two words"},
        {"aaa,bbb", "\"aaa,bbb\""},
        {"b\"bb", "\"b\"\"bb\""}, /* the example of rule 7 */
        {"\"", "\"\"\"\""},
        {"b\r\nbb", "\"b\r\nbb\""}, /* the example of rule 6 */
        {"b\nbb", "\"b\nbb\""},
        {"b\rbb", "\"b\rbb\""},
        {"M\xc3\xbcnster; 5'", "M\xc3\xbcnster; 5'"},
    };
    (void)state;
    for (size_t i = 0; i < sizeof cases / sizeof *cases; i++) {
        brant_text text = {0};
        brant_text_add(&text, "<");
        brant_text_csv(&text, cases[i][0]);
        brant_text_add(&text, ">");
        size_t length = strlen(cases[i][1]);
        assert_int_equal(text.length, length + 2);
        assert_memory_equal(text.data + 1, cases[i][1], length);
        brant_text_clear(&text);
    }
}

static void long_texts_grow(void **state)
{
    brant_text text = {0};
    (void)state;
    for (int i = 0; i < 5000; i++)
        brant_text_add(&text, "%04d %s\n", i, i % 1000 ? "" : "thousand");
    assert_false(text.failed);
    assert_int_equal(text.length, 5000 * 6 + 5 * 8);
    assert_string_equal(text.data + text.length - 6, "4999 \n");

    /* one addition longer than everything before it */
    char *big = malloc(100001);
    assert_non_null(big);
    memset(big, 'x', 100000);
    big[100000] = '\0';
    size_t before = text.length;
    brant_text_add(&text, "%s", big);
    assert_int_equal(text.length, before + 100000);
    assert_int_equal(strlen(text.data), text.length);
    brant_text_add_bytes(&text, "", 0);
    assert_int_equal(strlen(text.data), before + 100000);
    free(big);
    brant_text_clear(&text);
}

static void a_failed_text_stays_failed(void **state)
{
    brant_text text = {0};
    brant_context ctx;
    (void)state;
    brant_context_init(&ctx);
    assert_int_equal(brant_text_status(&ctx, &text), BRANT_OK);
    brant_text_add(&text, "kept");
    brant_text_add_bytes(&text, "", SIZE_MAX / 2); /* refused before anything is read */
    assert_true(text.failed);
    brant_text_add(&text, "dropped");
    brant_text_number(&text, -0.0, 1);
    brant_text_csv(&text, "a,b");
    assert_string_equal(text.data, "kept");
    assert_int_equal(brant_text_status(&ctx, &text), BRANT_ERR_MEMORY);
    assert_non_null(strstr(brant_message(&ctx), "memory"));
    brant_text_clear(&text);
    assert_false(text.failed);
    brant_context_clear(&ctx);
}

/* ---- locale ------------------------------------------------------------- */

/* A locale whose decimal sign is a comma, if the machine has one. */
static bool set_comma_locale(void)
{
    static const char *const names[] = {"de_DE.UTF-8", "de_DE.utf8", "de_DE", "fr_FR.UTF-8",
                                        "de_AT.UTF-8", "it_IT.UTF-8", "sv_SE.UTF-8"};
    char sample[8];
    for (size_t i = 0; i < sizeof names / sizeof *names; i++)
        if (setlocale(LC_ALL, names[i])) {
            snprintf(sample, sizeof sample, "%.1f", 0.5);
            if (strcmp(sample, "0,5") == 0)
                return true;
        }
    setlocale(LC_ALL, "C");
    return false;
}

static void the_locale_plays_no_part(void **state)
{
    brant_text text = {0};
    double value;
    (void)state;
    if (!set_comma_locale()) {
        print_message("skipped: no locale with a decimal comma here\n");
        skip();
    }
    takes("46.5", 46.5);
    refuses("46,5");
    brant_text_add(&text, "%.2f ", 1234.5);
    brant_text_number(&text, 46.5, 1);
    brant_text_add(&text, " ");
    brant_text_thousands(&text, 12345);
    /* and the caller's locale is left as it was */
    char sample[8];
    snprintf(sample, sizeof sample, "%.1f", 0.5);
    value = strtod("0,5", NULL);
    setlocale(LC_ALL, "C");
    expect(&text, "1234.50 46.5 12,345");
    assert_string_equal(sample, "0,5");
    assert_near(value, 0.5, 0);
}

static void names_end_in_suffixes(void **state)
{
    (void)state;
    assert_true(brant_ends_in("a.tif", ".tif"));
    assert_true(brant_ends_in("in a.folder/A.TIF", ".tif"));
    assert_false(brant_ends_in("a.tif.png", ".tif"));
    assert_false(brant_ends_in("a.tiff", ".tif"));
    assert_false(brant_ends_in(".tif", ".tif")); /* all of it, no name before it */
    assert_false(brant_ends_in("f", ".tif"));
    assert_false(brant_ends_in("", ".tif"));
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(numbers_are_taken),
        cmocka_unit_test(everything_else_is_refused),
        cmocka_unit_test(integers_are_strict_and_bounded),
        cmocka_unit_test(numbers_are_written),
        cmocka_unit_test(thousands_are_marked),
        cmocka_unit_test(fields_are_quoted_where_they_must_be),
        cmocka_unit_test(long_texts_grow),
        cmocka_unit_test(a_failed_text_stays_failed),
        cmocka_unit_test(the_locale_plays_no_part),
        cmocka_unit_test(names_end_in_suffixes),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
