/* Outputs appear together or not at all; files are read whole. */
#include "store_files.h"

#include <errno.h>
#include <fcntl.h>
#include <signal.h>
#include <sys/file.h>
#include <sys/resource.h>
#include <sys/wait.h>
#include <time.h>

static brant_stage *new_stage(world *w)
{
    brant_stage *stage = NULL;
    assert_int_equal(brant_stage_create(&w->ctx, &stage), BRANT_OK);
    return stage;
}

static const char *announce(world *w, brant_stage *stage, const char *target, bool text)
{
    const char *path = NULL;
    if (brant_stage_output(&w->ctx, stage, target, text, &path) != BRANT_OK)
        fail_msg("%s", brant_message(&w->ctx));
    return path;
}

static void put(world *w, brant_stage *stage, const char *target, const char *words)
{
    brant_text text = {0};
    brant_text_add(&text, "%s", words);
    if (brant_stage_text(&w->ctx, stage, target, &text) != BRANT_OK)
        fail_msg("%s", brant_message(&w->ctx));
    brant_text_clear(&text);
}

static void commit(world *w, brant_stage *stage)
{
    if (brant_stage_commit(&w->ctx, stage) != BRANT_OK)
        fail_msg("%s", brant_message(&w->ctx));
}

static void assert_holds(const char *path, const char *words)
{
    char *data = get_bytes(path, NULL);
    assert_string_equal(data, words);
    free(data);
}

/* The announcement must fail and its message start with `target`, if given. */
static void refuse_output(world *w, brant_stage *stage, const char *target, bool text,
                          brant_status status, const char *words)
{
    const char *path;
    assert_int_equal(brant_stage_output(&w->ctx, stage, target, text, &path), status);
    if (strncmp(brant_message(&w->ctx), target, strlen(target)) != 0 ||
        !strstr(brant_message(&w->ctx), words))
        fail_msg("message is '%s', wanted '%s'", brant_message(&w->ctx), words);
    brant_forgive(&w->ctx);
}

/* ---- whole or not at all ------------------------------------------------ */

static void outputs_appear_at_commit(void **state)
{
    world *w = *state;
    brant_stage *stage = new_stage(w);
    char *a = at_copy(w, "a.csv"), *b = at_copy(w, "sub/b.csv");
    assert_int_equal(mkdir(at(w, "sub"), 0777), 0);
    put_text(a, "old");
    announce(w, stage, a, true);
    announce(w, stage, b, true);
    put(w, stage, a, "new a\n");
    put(w, stage, b, "new b\n");
    assert_holds(a, "old");
    assert_false(is_there(b));
    commit(w, stage);
    assert_holds(a, "new a\n");
    assert_holds(b, "new b\n");
    brant_stage_destroy(stage);
    assert_int_equal(entries(w), 2); /* a.csv, sub: no hidden folder is left */
    free(a);
    free(b);
}

static void nothing_appears_without_commit(void **state)
{
    world *w = *state;
    brant_stage *stage = new_stage(w);
    char *a = at_copy(w, "a.csv");
    announce(w, stage, a, true);
    put(w, stage, a, "words");
    assert_int_equal(entries(w), 1); /* the hidden folder */
    brant_stage_destroy(stage);
    assert_int_equal(entries(w), 0);
    free(a);
}

/* One promise not kept: nothing appears. */
static void a_missing_output_stops_the_commit(void **state)
{
    world *w = *state;
    brant_stage *stage = new_stage(w);
    char *a = at_copy(w, "a.csv"), *b = at_copy(w, "b.tif");
    announce(w, stage, a, true);
    announce(w, stage, b, false);
    put(w, stage, a, "words");
    assert_int_equal(brant_stage_commit(&w->ctx, stage), BRANT_ERR_INTERNAL);
    assert_non_null(strstr(brant_message(&w->ctx), "b.tif"));
    brant_stage_destroy(stage);
    assert_int_equal(entries(w), 0);
    free(a);
    free(b);
}

static void side_cars_go_along(void **state)
{
    world *w = *state;
    brant_stage *stage = new_stage(w);
    char *a = at_copy(w, "a.tif"), side[512];
    put_text(at(w, "a.tif.ovr"), "of an older a.tif");
    put_text(at(w, "a.tif.txt"), "somebody's note");
    const char *path = announce(w, stage, a, false);
    put_text(path, "raster");
    snprintf(side, sizeof side, "%s.aux.xml", path);
    put_text(side, "names");
    commit(w, stage);
    brant_stage_destroy(stage);
    assert_holds(a, "raster");
    assert_holds(at(w, "a.tif.aux.xml"), "names");
    assert_false(is_there(at(w, "a.tif.ovr")));
    assert_holds(at(w, "a.tif.txt"), "somebody's note");
    free(a);
}

static void a_link_stays_a_link(void **state)
{
    world *w = *state;
    brant_stage *stage = new_stage(w);
    char *link = at_copy(w, "link.csv"), *real = at_copy(w, "sub/real.csv");
    struct stat info;
    assert_int_equal(mkdir(at(w, "sub"), 0777), 0);
    put_text(real, "old");
    assert_int_equal(symlink("sub/real.csv", link), 0);
    announce(w, stage, link, true);
    put(w, stage, link, "new");
    commit(w, stage);
    brant_stage_destroy(stage);
    assert_int_equal(lstat(link, &info), 0);
    assert_true(S_ISLNK(info.st_mode));
    assert_holds(real, "new");
    assert_int_equal(symlink("nowhere", at(w, "lost.csv")), 0);
    stage = new_stage(w);
    refuse_output(w, stage, at(w, "lost.csv"), true, BRANT_ERR_USAGE, "leads nowhere");
    brant_stage_destroy(stage);
    free(link);
    free(real);
}

static void relative_targets_work(void **state)
{
    world *w = *state;
    char before[4096];
    assert_non_null(getcwd(before, sizeof before));
    assert_int_equal(chdir(w->folder), 0);
    brant_stage *stage = new_stage(w);
    announce(w, stage, "r.csv", true);
    put(w, stage, "r.csv", "words");
    commit(w, stage);
    brant_stage_destroy(stage);
    assert_int_equal(chdir(before), 0);
    assert_holds(at(w, "r.csv"), "words");
    assert_int_equal(entries(w), 1);
}

/* ---- refusals ----------------------------------------------------------- */

static void bad_targets_are_refused_at_once(void **state)
{
    world *w = *state;
    brant_stage *stage = new_stage(w);
    char *twice = at_copy(w, "x.csv"), *again = at_copy(w, "sub/../x.csv");
    assert_int_equal(mkdir(at(w, "sub"), 0777), 0);
    refuse_output(w, stage, at(w, "none/x.csv"), true, BRANT_ERR_IO,
                  "cannot write: No such file or directory");
    refuse_output(w, stage, at(w, "sub"), true, BRANT_ERR_USAGE, "it is a folder");
    refuse_output(w, stage, at(w, "new/"), true, BRANT_ERR_USAGE, "it names a folder");
    refuse_output(w, stage, "-", false, BRANT_ERR_USAGE, "only text");
    refuse_output(w, stage, "/dev/null", false, BRANT_ERR_USAGE, "no regular file");
    put_text(at(w, "file"), "");
    refuse_output(w, stage, at(w, "file/x.csv"), true, BRANT_ERR_IO, "cannot write");
    announce(w, stage, twice, true);
    refuse_output(w, stage, again, true, BRANT_ERR_USAGE, "two outputs");
    announce(w, stage, "-", true);
    refuse_output(w, stage, "-", true, BRANT_ERR_USAGE, "two outputs");
    brant_stage_destroy(stage);
    free(twice);
    free(again);
}

static void a_folder_without_permission_is_refused(void **state)
{
    world *w = *state;
    brant_stage *stage = new_stage(w);
    assert_int_equal(mkdir(at(w, "sub"), 0555), 0);
    if (access(at(w, "sub"), W_OK) == 0) {
        brant_stage_destroy(stage);
        print_message("skipped: this user may write everywhere\n");
        skip();
    }
    refuse_output(w, stage, at(w, "sub/x.csv"), true, BRANT_ERR_IO, "Permission denied");
    brant_stage_destroy(stage);
}

static void an_input_is_never_an_output(void **state)
{
    world *w = *state;
    char *in = at_copy(w, "in.gpx"), *link = at_copy(w, "link.gpx");
    put_text(in, "gpx");
    assert_int_equal(symlink(in, link), 0);
    brant_stage *stage = new_stage(w);
    assert_int_equal(brant_stage_input(&w->ctx, stage, in), BRANT_OK);
    refuse_output(w, stage, in, true, BRANT_ERR_USAGE, "overwrite an input");
    refuse_output(w, stage, link, true, BRANT_ERR_USAGE, "overwrite an input");
    brant_stage_destroy(stage);
    stage = new_stage(w); /* the other way round */
    announce(w, stage, in, true);
    assert_int_equal(brant_stage_input(&w->ctx, stage, link), BRANT_ERR_USAGE);
    brant_forgive(&w->ctx);
    brant_stage_destroy(stage);
    assert_holds(in, "gpx");
    free(in);
    free(link);
}

/* A mosaic's tiles are inputs, too. */
static void a_tile_is_never_an_output(void **state)
{
    world *w = *state;
    double cell = 3;
    char *tile = at_copy(w, "t.tif");
    GDALDatasetH d = make_tif(tile, 1, 1, GDT_Int16);
    put_cells(d, 1, &cell);
    GDALClose(GDALCreateCopy(GDALGetDriverByName("VRT"), at(w, "m.vrt"), d, FALSE, NULL, NULL,
                             NULL));
    done(d);
    brant_stage *stage = new_stage(w);
    assert_int_equal(brant_stage_input(&w->ctx, stage, at(w, "m.vrt")), BRANT_OK);
    refuse_output(w, stage, tile, false, BRANT_ERR_USAGE, "overwrite an input");
    brant_stage_destroy(stage);
    free(tile);
}

/* ---- pipes and devices -------------------------------------------------- */

static void text_goes_through_a_pipe(void **state)
{
    world *w = *state;
    char *pipe_path = at_copy(w, "pipe"), got[64] = "";
    assert_int_equal(mkfifo(pipe_path, 0600), 0);
    int fd = open(pipe_path, O_RDONLY | O_NONBLOCK);
    assert_true(fd >= 0);
    brant_stage *stage = new_stage(w);
    assert_null(announce(w, stage, pipe_path, true));
    put(w, stage, pipe_path, "through");
    assert_true(read(fd, got, sizeof got - 1) <= 0); /* nothing before the commit */
    commit(w, stage);
    assert_int_equal(read(fd, got, sizeof got - 1), 7);
    assert_string_equal(got, "through");
    close(fd);
    brant_stage_destroy(stage);
    assert_int_equal(entries(w), 1);
    free(pipe_path);
}

/* Standard output closed at the other end: an error, no signal, no file. */
static void a_broken_pipe_is_an_error(void **state)
{
    world *w = *state;
    int ends[2];
    char *a = at_copy(w, "a.csv");
    assert_int_equal(pipe(ends), 0);
    brant_stage *stage = new_stage(w);
    announce(w, stage, a, true);
    announce(w, stage, "-", true);
    put(w, stage, a, "file");
    put(w, stage, "-", "out");
    fflush(stdout);
    int kept = dup(STDOUT_FILENO);
    close(ends[0]);
    dup2(ends[1], STDOUT_FILENO);
    brant_status status = brant_stage_commit(&w->ctx, stage);
    dup2(kept, STDOUT_FILENO);
    close(kept);
    close(ends[1]);
    assert_int_equal(status, BRANT_ERR_IO);
    assert_string_equal(brant_message(&w->ctx), "standard output: cannot write: Broken pipe");
    brant_stage_destroy(stage);
    assert_int_equal(entries(w), 0);
    free(a);
}

/* The kernel's own full device. */
static void a_full_device_is_an_error(void **state)
{
    world *w = *state;
    if (!is_there("/dev/full")) {
        print_message("skipped: no /dev/full\n");
        skip();
    }
    brant_stage *stage = new_stage(w);
    announce(w, stage, "/dev/full", true);
    put(w, stage, "/dev/full", "words");
    assert_int_equal(brant_stage_commit(&w->ctx, stage), BRANT_ERR_IO);
    assert_string_equal(brant_message(&w->ctx),
                        "/dev/full: cannot write: No space left on device");
    brant_stage_destroy(stage);
}

/* ---- dead stages -------------------------------------------------------- */

static void make_dead(world *w, const char *name, bool lock)
{
    char path[512];
    assert_int_equal(mkdir(at(w, name), 0700), 0);
    snprintf(path, sizeof path, "%s/zones.tif", at(w, name));
    put_text(path, "half");
    snprintf(path, sizeof path, "%s/.lock", at(w, name));
    if (lock)
        put_text(path, "");
}

/* The number of a program that is no more. */
static pid_t ended_child(void)
{
    pid_t child = fork();
    assert_true(child >= 0);
    if (child == 0)
        _exit(0);
    assert_int_equal(waitpid(child, NULL, 0), child);
    return child;
}

static void dead_stages_are_swept_and_live_ones_not(void **state)
{
    world *w = *state;
    struct timespec old[2] = {{time(NULL) - 7200, 0}, {time(NULL) - 7200, 0}};
    make_dead(w, ".brant-4711-abcDEF", true);
    make_dead(w, ".brant-4712-abcDEF", true); /* in use: locked below */
    make_dead(w, ".brant-4713-abcDEF", false); /* just made, no lock yet */
    make_dead(w, ".brant-4714-abcDEF", false); /* never locked for two hours */
    make_dead(w, ".brant-x-abcDEF", true);     /* not one of ours */
    char starting[64], killed[64]; /* both without a lock, and empty */
    snprintf(starting, sizeof starting, ".brant-%ld-abcDEF", (long)getpid());
    snprintf(killed, sizeof killed, ".brant-%ld-abcDEF", (long)ended_child());
    assert_int_equal(mkdir(at(w, starting), 0700), 0);
    assert_int_equal(mkdir(at(w, killed), 0700), 0);
    assert_int_equal(utimensat(AT_FDCWD, at(w, ".brant-4714-abcDEF"), old, 0), 0);
    int live = open(at(w, ".brant-4712-abcDEF/.lock"), O_RDWR);
    assert_true(live >= 0);
    assert_int_equal(flock(live, LOCK_EX), 0);
    brant_stage *stage = new_stage(w);
    announce(w, stage, at(w, "a.csv"), true);
    brant_stage *second = new_stage(w); /* a living one of our own */
    announce(w, second, at(w, "b.csv"), true);
    put(w, stage, at(w, "a.csv"), "a");
    put(w, second, at(w, "b.csv"), "b");
    commit(w, stage);
    commit(w, second);
    brant_stage_destroy(stage);
    brant_stage_destroy(second);
    close(live);
    assert_false(is_there(at(w, ".brant-4711-abcDEF")));
    assert_true(is_there(at(w, ".brant-4712-abcDEF/zones.tif")));
    assert_true(is_there(at(w, ".brant-4713-abcDEF/zones.tif")));
    assert_false(is_there(at(w, ".brant-4714-abcDEF")));
    assert_true(is_there(at(w, ".brant-x-abcDEF/zones.tif")));
    assert_true(is_there(at(w, starting)));
    assert_false(is_there(at(w, killed)));
    assert_int_equal(entries(w), 6); /* those four, a.csv, b.csv */
}

/* A program that is killed leaves a stage; the next run sweeps it. */
static void a_killed_program_leaves_nothing_for_long(void **state)
{
    world *w = *state;
    int ends[2];
    char one;
    assert_int_equal(pipe(ends), 0);
    pid_t child = fork();
    assert_true(child >= 0);
    if (child == 0) {
        brant_stage *stage = NULL;
        const char *path;
        bool ok = brant_stage_create(&w->ctx, &stage) == BRANT_OK &&
                  brant_stage_output(&w->ctx, stage, at(w, "a.csv"), true, &path) == BRANT_OK;
        ok = ok && write(ends[1], "x", 1) == 1;
        for (;;)
            pause();
    }
    assert_int_equal(read(ends[0], &one, 1), 1);
    brant_stage *stage = new_stage(w);
    announce(w, stage, at(w, "b.csv"), true);
    brant_stage_destroy(stage);
    assert_int_equal(entries(w), 1); /* it lives: its stage stays */
    kill(child, SIGKILL);
    waitpid(child, NULL, 0);
    close(ends[0]);
    close(ends[1]);
    stage = new_stage(w);
    announce(w, stage, at(w, "b.csv"), true);
    brant_stage_destroy(stage);
    assert_int_equal(entries(w), 0);
}

/* ---- reading files ------------------------------------------------------ */

static void a_file_is_read_whole_or_refused(void **state)
{
    world *w = *state;
    char *data = NULL;
    size_t size = 0;
    put_text(at(w, "f"), "0123456789");
    assert_int_equal(brant_read_file(&w->ctx, at(w, "f"), 10, &data, &size), BRANT_OK);
    assert_int_equal(size, 10);
    assert_string_equal(data, "0123456789");
    free(data);
    assert_int_equal(brant_read_file(&w->ctx, at(w, "f"), 9, &data, &size), BRANT_ERR_INPUT);
    assert_non_null(strstr(brant_message(&w->ctx), "limit of 9 bytes"));
    assert_null(data);
    brant_forgive(&w->ctx);
    assert_int_equal(brant_read_file(&w->ctx, w->folder, 10, &data, &size), BRANT_ERR_INPUT);
    assert_non_null(strstr(brant_message(&w->ctx), "is a folder"));
    brant_forgive(&w->ctx);
    assert_int_equal(brant_read_file(&w->ctx, at(w, "none"), 10, &data, &size), BRANT_ERR_INPUT);
    assert_non_null(strstr(brant_message(&w->ctx), "No such file"));
    brant_forgive(&w->ctx);
    put_text(at(w, "f"), "");
    assert_int_equal(brant_read_file(&w->ctx, at(w, "f"), 10, &data, &size), BRANT_OK);
    assert_int_equal(size, 0);
    assert_string_equal(data, "");
    free(data);
}

static void standard_input_is_read(void **state)
{
    world *w = *state;
    int ends[2];
    char *data = NULL;
    size_t size = 0;
    assert_int_equal(pipe(ends), 0);
    assert_int_equal(write(ends[1], "<gpx/>", 6), 6);
    close(ends[1]);
    int kept = dup(STDIN_FILENO);
    dup2(ends[0], STDIN_FILENO);
    brant_status status = brant_read_file(&w->ctx, "-", 100, &data, &size);
    if (kept >= 0) {
        dup2(kept, STDIN_FILENO);
        close(kept);
    }
    close(ends[0]);
    assert_int_equal(status, BRANT_OK);
    assert_string_equal(data, "<gpx/>");
    free(data);
}

#define TEST(f) cmocka_unit_test_setup_teardown(f, set_up, tear_down)

int main(void)
{
    const struct CMUnitTest tests[] = {
        TEST(outputs_appear_at_commit),
        TEST(nothing_appears_without_commit),
        TEST(a_missing_output_stops_the_commit),
        TEST(side_cars_go_along),
        TEST(a_link_stays_a_link),
        TEST(relative_targets_work),
        TEST(bad_targets_are_refused_at_once),
        TEST(a_folder_without_permission_is_refused),
        TEST(an_input_is_never_an_output),
        TEST(a_tile_is_never_an_output),
        TEST(text_goes_through_a_pipe),
        TEST(a_broken_pipe_is_an_error),
        TEST(a_full_device_is_an_error),
        TEST(dead_stages_are_swept_and_live_ones_not),
        TEST(a_killed_program_leaves_nothing_for_long),
        TEST(a_file_is_read_whole_or_refused),
        TEST(standard_input_is_read),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
