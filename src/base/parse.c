/* Numbers from text, strictly. strtod alone takes "0x1p3", "nan", "inf" and, in
 * some locales, "46,5"; none of them is a coordinate. */
#include "brant/base.h"
#include "c_locale.h"

#include <errno.h>
#include <math.h>
#include <stdlib.h>
#include <string.h>

static const char *skip_space(const char *c)
{
    return c + strspn(c, " \t\r\n");
}

static const char *skip_digits(const char *c, size_t *count)
{
    size_t n = strspn(c, "0123456789");
    *count += n;
    return c + n;
}

/* The end of the decimal number at `c`, NULL if there is none. */
static const char *decimal_end(const char *c)
{
    size_t digits = 0, exponent = 0;
    if (*c == '+' || *c == '-')
        c++;
    c = skip_digits(c, &digits);
    if (*c == '.')
        c = skip_digits(c + 1, &digits);
    if (digits == 0)
        return NULL;
    if (*c == 'e' || *c == 'E') {
        c++;
        if (*c == '+' || *c == '-')
            c++;
        c = skip_digits(c, &exponent);
        if (exponent == 0)
            return NULL;
    }
    return c;
}

bool brant_parse_number(const char *text, double *value)
{
    const char *start = skip_space(text);
    const char *end = decimal_end(start);
    if (!end || *skip_space(end))
        return false;
    locale_t c_locale = brant_c_locale();
    if (!c_locale)
        return false;
    *value = strtod_l(start, NULL, c_locale);
    return isfinite(*value);
}

bool brant_parse_integer(const char *text, long long low, long long high, long long *value)
{
    const char *start = skip_space(text);
    const char *digits = *start == '+' || *start == '-' ? start + 1 : start;
    size_t count = strspn(digits, "0123456789");
    if (count == 0 || *skip_space(digits + count))
        return false;
    errno = 0;
    *value = strtoll(start, NULL, 10);
    return errno == 0 && *value >= low && *value <= high;
}
