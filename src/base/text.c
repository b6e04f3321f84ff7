/* Growing strings and numbers as text, the same in every locale. */
#include "brant/base.h"
#include "c_locale.h"

#include <math.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <strings.h>

static bool reserve(brant_text *text, size_t more)
{
    if (text->failed)
        return false;
    if (more > SIZE_MAX / 4 - text->length) {
        text->failed = true;
        return false;
    }
    size_t need = text->length + more + 1;
    if (need <= text->capacity)
        return true;
    size_t capacity = text->capacity ? text->capacity : 256;
    while (capacity < need)
        capacity *= 2;
    char *data = realloc(text->data, capacity);
    if (!data) {
        text->failed = true;
        return false;
    }
    text->data = data;
    text->capacity = capacity;
    return true;
}

void brant_text_add(brant_text *text, const char *format, ...)
{
    va_list args, again;
    if (!reserve(text, 64))
        return;
    locale_t c_locale = brant_c_locale();
    locale_t before = c_locale ? uselocale(c_locale) : (locale_t)0;
    va_start(args, format);
    va_copy(again, args);
    size_t room = text->capacity - text->length;
    int length = vsnprintf(text->data + text->length, room, format, args);
    if (length < 0)
        text->failed = true;
    else if ((size_t)length >= room && reserve(text, (size_t)length))
        length = vsnprintf(text->data + text->length, (size_t)length + 1, format, again);
    va_end(again);
    va_end(args);
    if (c_locale)
        uselocale(before);
    if (!text->failed)
        text->length += (size_t)length;
}

void brant_text_add_bytes(brant_text *text, const char *bytes, size_t count)
{
    if (!reserve(text, count))
        return;
    memcpy(text->data + text->length, bytes, count);
    text->length += count;
    text->data[text->length] = '\0';
}

/* "-0", "-0.00" read as errors: drop the sign of a number that rounds to zero. */
static bool is_negative_zero(const char *number)
{
    return number[0] == '-' && strspn(number + 1, "0.") == strlen(number + 1);
}

void brant_text_number(brant_text *text, double value, int decimals)
{
    if (isnan(value))
        return;
    size_t start = text->length;
    brant_text_add(text, "%.*f", decimals, value);
    if (!text->failed && is_negative_zero(text->data + start)) {
        memmove(text->data + start, text->data + start + 1, text->length - start);
        text->length--;
    }
}

double brant_text_whole(double value)
{
    return fabs(value) < 1e12 ? round(round(value * 10) / 10) : value;
}

void brant_text_thousands(brant_text *text, double value)
{
    if (isnan(value))
        return;
    char digits[400]; /* a double has at most 309 digits before the point */
    snprintf(digits, sizeof digits, "%.0f", fabs(brant_text_whole(value)));
    if (value < 0 && strcmp(digits, "0") != 0)
        brant_text_add_bytes(text, "-", 1);
    size_t count = strlen(digits);
    for (size_t i = 0; i < count; i++) {
        if (i > 0 && (count - i) % 3 == 0)
            brant_text_add_bytes(text, ",", 1);
        brant_text_add_bytes(text, digits + i, 1);
    }
}

void brant_text_csv(brant_text *text, const char *field)
{
    if (!field[strcspn(field, ",\"\r\n")]) {
        brant_text_add_bytes(text, field, strlen(field));
        return;
    }
    brant_text_add_bytes(text, "\"", 1);
    for (const char *c = field; *c; c++) {
        if (*c == '"')
            brant_text_add_bytes(text, "\"", 1);
        brant_text_add_bytes(text, c, 1);
    }
    brant_text_add_bytes(text, "\"", 1);
}

brant_status brant_text_status(brant_context *ctx, const brant_text *text)
{
    if (text->failed)
        return brant_fail(ctx, BRANT_ERR_MEMORY, "not enough memory for %zu bytes of text",
                          text->length);
    return BRANT_OK;
}

void brant_text_clear(brant_text *text)
{
    free(text->data);
    memset(text, 0, sizeof *text);
}

bool brant_ends_in(const char *name, const char *suffix)
{
    size_t length = strlen(name), tail = strlen(suffix);
    return length > tail && strcasecmp(name + length - tail, suffix) == 0;
}
