/* Comparing doubles in unit tests, with both values in the message. */
#ifndef BRANT_TEST_NEAR_H
#define BRANT_TEST_NEAR_H

#include <math.h>

/* Needs cmocka's headers before it. NaN is near nothing. */
#define assert_near(value, expected, tolerance)                                                    \
    do {                                                                                           \
        double value_ = (value), expected_ = (expected);                                           \
        if (!(fabs(value_ - expected_) <= (tolerance)))                                            \
            fail_msg("%s is %.12g, not %.12g within %g", #value, value_, expected_,                \
                     (double)(tolerance));                                                         \
    } while (0)

#define assert_nan(value)                                                                          \
    do {                                                                                           \
        double nan_ = (value);                                                                     \
        if (!isnan(nan_))                                                                          \
            fail_msg("%s is %.12g, not NaN", #value, nan_);                                        \
    } while (0)

#endif
