/* The C locale as an object: the library may run inside a program that has set
 * a locale, where printf writes and strtod reads a decimal comma. */
#ifndef BRANT_C_LOCALE_H
#define BRANT_C_LOCALE_H

#include <locale.h>

/* Made once and kept; (locale_t)0 if it cannot be made. */
locale_t brant_c_locale(void);

#endif
