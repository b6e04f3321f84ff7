#include "c_locale.h"

#include <pthread.h>

static locale_t c_locale;
static pthread_once_t once = PTHREAD_ONCE_INIT;

static void make(void)
{
    c_locale = newlocale(LC_ALL_MASK, "C", (locale_t)0);
}

locale_t brant_c_locale(void)
{
    pthread_once(&once, make);
    return c_locale;
}
