/* Status, messages, calls back, memory. */
#include "brant/base.h"

#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>

#include <cmocka.h>

#include <stdlib.h>
#include <string.h>

/* memory_is_zeroed_and_checked wants NULL for too much memory, as in libc */
#define NULL_FOR_TOO_MUCH "allocator_may_return_null=1"
#ifdef __SANITIZE_ADDRESS__
const char *__asan_default_options(void);
const char *__asan_default_options(void)
{
    return NULL_FOR_TOO_MUCH;
}
#endif
#ifdef __SANITIZE_THREAD__
const char *__tsan_default_options(void);
const char *__tsan_default_options(void)
{
    return NULL_FOR_TOO_MUCH;
}
#endif

typedef struct heard {
    int notes, warnings, steps;
    char last[BRANT_MESSAGE_MAX];
    double fraction;
} heard;

static void hear(void *user, brant_log_level level, const char *text)
{
    heard *h = user;
    if (level == BRANT_LOG_WARNING)
        h->warnings++;
    else
        h->notes++;
    strcpy(h->last, text);
}

static void watch(void *user, const char *stage, double fraction)
{
    heard *h = user;
    assert_string_equal(stage, "stage");
    h->steps++;
    h->fraction = fraction;
}

static void the_first_failure_wins(void **state)
{
    brant_context ctx;
    (void)state;
    brant_context_init(&ctx);
    assert_int_equal(ctx.threads, 1);
    assert_string_equal(brant_message(&ctx), "");
    assert_int_equal(brant_fail(&ctx, BRANT_ERR_INPUT, "%s, line %d", "a.gpx", 7),
                     BRANT_ERR_INPUT);
    assert_int_equal(brant_fail(&ctx, BRANT_ERR_IO, "later"), BRANT_ERR_IO);
    assert_string_equal(brant_message(&ctx), "a.gpx, line 7");
    brant_forgive(&ctx);
    assert_string_equal(brant_message(&ctx), "");
    brant_fail(&ctx, BRANT_ERR_IO, "again");
    assert_string_equal(brant_message(&ctx), "again");
    brant_context_clear(&ctx);
}

static void a_message_is_one_line(void **state)
{
    brant_context ctx;
    char name[3 * BRANT_MESSAGE_MAX];
    (void)state;
    brant_context_init(&ctx);
    brant_fail(&ctx, BRANT_ERR_INPUT, "a\nb\tc\x1b[31m\x7f: problem \n");
    assert_string_equal(brant_message(&ctx), "a b c [31m : problem");
    brant_forgive(&ctx);

    memset(name, 'x', sizeof name - 1); /* a long one is cut, not overrun */
    name[sizeof name - 1] = '\0';
    brant_fail(&ctx, BRANT_ERR_INPUT, "%s", name);
    assert_int_equal(strlen(brant_message(&ctx)), BRANT_MESSAGE_MAX - 1);
    brant_context_clear(&ctx);
}

static void callers_hear_notes_and_progress(void **state)
{
    brant_context ctx;
    heard h = {0};
    (void)state;
    brant_context_init(&ctx);
    brant_warn(&ctx, "nobody listens");
    brant_progress(&ctx, "stage", 0.1);
    ctx.log = hear;
    ctx.progress = watch;
    ctx.user = &h;
    brant_note(&ctx, "note %d\n", 1);
    assert_string_equal(h.last, "note 1");
    brant_warn(&ctx, "warning");
    brant_progress(&ctx, "stage", 0.5);
    assert_int_equal(h.notes, 1);
    assert_int_equal(h.warnings, 1);
    assert_int_equal(h.steps, 1);
    assert_true(h.fraction == 0.5);
    assert_string_equal(brant_message(&ctx), ""); /* a warning is no failure */
    brant_context_clear(&ctx);
}

static void a_stop_is_a_failure(void **state)
{
    brant_context ctx;
    (void)state;
    brant_context_init(&ctx);
    assert_int_equal(brant_check_stop(&ctx), BRANT_OK);
    atomic_int asked = 0;
    ctx.stop = &asked;
    assert_int_equal(brant_check_stop(&ctx), BRANT_OK);
    atomic_store(&asked, 1);
    assert_int_equal(brant_check_stop(&ctx), BRANT_ERR_INTERRUPTED);
    assert_string_equal(brant_message(&ctx), "interrupted");
    brant_context_clear(&ctx);
}

static void memory_is_zeroed_and_checked(void **state)
{
    brant_context ctx;
    (void)state;
    brant_context_init(&ctx);
    unsigned char *bytes = brant_alloc(&ctx, 1000, 3);
    assert_non_null(bytes);
    for (int i = 0; i < 3000; i++)
        assert_int_equal(bytes[i], 0);
    free(bytes);
    void *nothing = brant_alloc(&ctx, 0, 8);
    assert_non_null(nothing);
    free(nothing);
    assert_string_equal(brant_message(&ctx), "");
    assert_null(brant_alloc(&ctx, SIZE_MAX / 2, 4)); /* the product overflows */
    assert_non_null(strstr(brant_message(&ctx), "memory"));
    brant_context_clear(&ctx);
}

static void arrays_grow_and_keep(void **state)
{
    brant_context ctx;
    int *numbers = NULL;
    size_t capacity = 0;
    int grown = 0;
    (void)state;
    brant_context_init(&ctx);
    for (size_t i = 0; i < 10000; i++) {
        size_t before = capacity;
        assert_int_equal(brant_grow(&ctx, &numbers, &capacity, i + 1, sizeof *numbers), BRANT_OK);
        assert_true(capacity > i);
        grown += capacity != before;
        numbers[i] = (int)i;
    }
    assert_in_range(grown, 1, 20); /* by half each time, not one by one */
    for (size_t i = 0; i < 10000; i++)
        assert_int_equal(numbers[i], (int)i);
    /* a failed growth leaves the array usable */
    size_t before = capacity;
    assert_int_equal(brant_grow(&ctx, &numbers, &capacity, SIZE_MAX / 2, sizeof *numbers),
                     BRANT_ERR_MEMORY);
    assert_int_equal(capacity, before);
    assert_int_equal(numbers[9999], 9999);
    free(numbers);
    brant_context_clear(&ctx);
}

static void strings_are_copied(void **state)
{
    brant_context ctx;
    const char *text = "text";
    (void)state;
    brant_context_init(&ctx);
    char *copy = brant_strdup(&ctx, text);
    assert_non_null(copy);
    assert_ptr_not_equal(copy, text);
    assert_string_equal(copy, text);
    free(copy);
    brant_context_clear(&ctx);
}

static void the_version_is_that_of_the_build(void **state)
{
    (void)state;
    assert_string_equal(brant_version(), BRANT_VERSION);
    assert_true(brant_processors() >= 1);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(the_first_failure_wins),
        cmocka_unit_test(a_message_is_one_line),
        cmocka_unit_test(callers_hear_notes_and_progress),
        cmocka_unit_test(a_stop_is_a_failure),
        cmocka_unit_test(memory_is_zeroed_and_checked),
        cmocka_unit_test(arrays_grow_and_keep),
        cmocka_unit_test(strings_are_copied),
        cmocka_unit_test(the_version_is_that_of_the_build),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
