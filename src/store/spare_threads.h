/* Threads that a library starts by itself. Private to the room. */
#ifndef BRANT_STORE_SPARE_THREADS_H
#define BRANT_STORE_SPARE_THREADS_H

#include <stdbool.h>

/* Could `count` threads be running besides those there are? They are started, and ended. */
bool brant_spare_threads(int count);

#endif
