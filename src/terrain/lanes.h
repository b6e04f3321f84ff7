/* Run-time choice of instruction set: a loop is written once, as an inline body, and
 * compiled for what every machine of its kind has and for wider lanes. Both do the same
 * operations in single precision, and nothing is contracted, so both give the same bytes. */
#ifndef BRANT_LANES_H
#define BRANT_LANES_H

#define BRANT_BODY static inline __attribute__((always_inline))

#if defined(__x86_64__) && defined(__GNUC__)
#define BRANT_WIDE __attribute__((target("avx2")))
#define BRANT_HAS_WIDE() (__builtin_cpu_supports("avx2") != 0)
#else
#define BRANT_WIDE
#define BRANT_HAS_WIDE() 0
#endif

#endif
