/* How fast is the runout search? All zones of 15 km x 15 km at 10 m, reach angle 25: of
 * an alpine model where there is one in BRANT_SHARED_DATA, else of the demo's mountain,
 * mirrored. The straightforward first version (plain.c) runs in turn with the search in
 * use, since the machine's mood changes from minute to minute: only the ratio counts. */
#include "../../src/runout/search.h"
#include "plain.h"
#include "scene.h"

#include <gdal.h>
#include <gdal_utils.h>

#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <sys/resource.h>
#include <time.h>

enum { SIZE = 1500, ROUNDS = 5 };

static const brant_reach_options reach = {25.0, 20.0, 25.0};

/* ---- ground --------------------------------------------------------------- */

/* A window of the 1 arc second model, by the warp that its provenance file gives. */
static float *read_model(const char *folder)
{
    static char *const arguments[] = {
        "-of", "MEM", "-t_srs", "EPSG:32632", "-r", "cubicspline", "-ot", "Float32", "-te",
        "560519.449539", "5176990.702700", "575519.449539", "5191990.702700", "-tr", "10", "10",
        NULL};
    char path[4096];
    snprintf(path, sizeof path, "%s/dem/davos_1arcsec_4326_i16.tif", folder);
    GDALAllRegister();
    GDALDatasetH from = GDALOpenEx(path, GDAL_OF_RASTER | GDAL_OF_READONLY, NULL, NULL, NULL);
    if (!from)
        return NULL;
    float *z = malloc((size_t)SIZE * SIZE * sizeof *z);
    GDALWarpAppOptions *options = GDALWarpAppOptionsNew((char **)arguments, NULL);
    GDALDatasetH to = GDALWarp("", NULL, 1, &from, options, NULL);
    if (!z || !to || GDALGetRasterXSize(to) != SIZE || GDALGetRasterYSize(to) != SIZE ||
        GDALRasterIO(GDALGetRasterBand(to, 1), GF_Read, 0, 0, SIZE, SIZE, z, SIZE, SIZE,
                     GDT_Float32, 0, 0) != CE_None) {
        free(z);
        z = NULL;
    }
    GDALWarpAppOptionsFree(options);
    if (to)
        GDALClose(to);
    GDALClose(from);
    return z;
}

static float *read_ground(void)
{
    const char *folder = getenv("BRANT_SHARED_DATA");
    float *z = folder ? read_model(folder) : NULL;
    printf("ground: %s, %d x %d cells of 10 m\n", z ? "alpine model" : "demo's mountain, mirrored",
           SIZE, SIZE);
    return z ? z : scene_mountains(SIZE, SIZE);
}

/* ---- runs ----------------------------------------------------------------- */

/* Seconds. Processor time does not count what other processes take. */
typedef struct seconds {
    double wall, processor;
} seconds;

static double read_clock(clockid_t clock)
{
    struct timespec t;
    clock_gettime(clock, &t);
    return (double)t.tv_sec + 1e-9 * (double)t.tv_nsec;
}

static seconds since(seconds from)
{
    return (seconds){read_clock(CLOCK_MONOTONIC) - from.wall,
                     read_clock(CLOCK_PROCESS_CPUTIME_ID) - from.processor};
}

static int by_value(const void *a, const void *b)
{
    double x = *(const double *)a, y = *(const double *)b;
    return (x > y) - (x < y);
}

static double median(double *values, int count)
{
    qsort(values, (size_t)count, sizeof *values, by_value);
    return values[count / 2];
}

typedef struct worker {
    brant_search *search;
    uint64_t visits;
} worker;

typedef struct job {
    const scene *s;
    worker workers[2];
} job;

static brant_status search_zone(brant_context *ctx, void *user, int number, int64_t item)
{
    job *j = user;
    worker *w = &j->workers[number];
    const size_t *first = j->s->first + item;
    brant_reach_result result;
    brant_status status = brant_search_run(ctx, w->search, j->s->starts + first[0],
                                           first[1] - first[0], &result);
    w->visits += result.visits;
    return status;
}

/* All zones on `threads` threads. */
static seconds run_ours(scene *s, job *j, int threads, uint64_t *visits)
{
    s->ctx.threads = threads;
    j->workers[0].visits = j->workers[1].visits = 0;
    seconds from = since((seconds){0.0, 0.0});
    brant_run(&s->ctx, NULL, (int64_t)s->zones.count, search_zone, NULL, j);
    *visits = j->workers[0].visits + j->workers[1].visits;
    return since(from);
}

static seconds run_plain(scene *s, plain_search *search, uint64_t *visits)
{
    brant_reach_result result;
    *visits = 0;
    seconds from = since((seconds){0.0, 0.0});
    for (size_t i = 0; i < s->zones.count; i++) {
        if (plain_search_run(&s->ctx, search, s->starts + s->first[i],
                             s->first[i + 1] - s->first[i], &result) != BRANT_OK)
            break;
        *visits += result.visits;
    }
    return since(from);
}

static void measure(scene *s, plain_search *plain, job *j)
{
    double plain_ns[ROUNDS], ours_ns[ROUNDS], ratio[ROUNDS];
    double speed_up[ROUNDS], could[ROUNDS];
    uint64_t plain_visits, visits;
    run_ours(s, j, 1, &visits); /* pages are computed once */
    for (int i = 0; i < ROUNDS; i++) {
        seconds first = run_plain(s, plain, &plain_visits);
        seconds one = run_ours(s, j, 1, &visits), two = run_ours(s, j, 2, &visits);
        plain_ns[i] = 1e9 * first.processor / (double)plain_visits;
        ours_ns[i] = 1e9 * one.processor / (double)visits;
        ratio[i] = plain_ns[i] / ours_ns[i];
        speed_up[i] = one.wall / two.wall;
        could[i] = 2.0 * one.processor / two.processor;
        printf("round %d: plain %.0f, ours %.0f ns a visit; two threads %.2f times\n", i + 1,
               plain_ns[i], ours_ns[i], speed_up[i]);
        fflush(stdout);
    }
    printf("visits: plain %.2f million, ours %.2f million\n", (double)plain_visits / 1e6,
           (double)visits / 1e6);
    printf("median of %d: plain %.0f ns of processor time a visit, ours %.0f; ratio %.2f\n", ROUNDS,
           median(plain_ns, ROUNDS), median(ours_ns, ROUNDS), median(ratio, ROUNDS));
    double middle = median(speed_up, ROUNDS); /* sorted now: the last is the best */
    printf("two threads: %.2f times, at best %.2f; by processor time, on an idle machine, %.2f\n",
           middle, speed_up[ROUNDS - 1], median(could, ROUNDS));
}

int main(void)
{
    scene s;
    job j = {.s = &s};
    plain_search *plain = NULL;
    float *z = read_ground();
    bool good = z && scene_open(&s, z, SIZE, SIZE) &&
                plain_search_create(&s.ctx, s.flow, &reach, &plain) == BRANT_OK &&
                brant_search_create(&s.ctx, s.flow, &reach, &j.workers[0].search) == BRANT_OK &&
                brant_search_create(&s.ctx, s.flow, &reach, &j.workers[1].search) == BRANT_OK;
    if (!good) {
        fprintf(stderr, "runout_bench: %s\n", z ? brant_message(&s.ctx) : "no ground");
        return 1;
    }
    printf("zones: %zu, release cells: %zu\n", s.zones.count, s.first[s.zones.count]);
    measure(&s, plain, &j);
    struct rusage usage;
    getrusage(RUSAGE_SELF, &usage);
    printf("memory: a search's scratch %.1f MB; the whole process at its peak %.0f MB\n",
           (double)brant_search_memory(j.workers[0].search) / 1e6, (double)usage.ru_maxrss / 1e3);
    brant_search_destroy(j.workers[0].search);
    brant_search_destroy(j.workers[1].search);
    plain_search_destroy(plain);
    scene_close(&s);
    return 0;
}
