/* brant-screen: DEM and many GPX files -> a ranked table, one row a circuit. */
#include "gpx_list.h"
#include "touring.h"

#include <errno.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <time.h>
#include <unistd.h>

/* One GPX file. */
typedef struct entry {
    brant_gpx gpx;
    bool read, told;
    char *error;        /* owned */
    const char *same_as; /* the first file with the same points */
    brant_text legs;    /* its rows of --legs */
} entry;

typedef struct screening {
    const tool_values *values;
    touring tour;
    gpx_list list;
    entry *entries;
    brant_layers *layers;
    brant_circuit *circuits;
    size_t count, capacity;
    size_t failed, waiting;
} screening;

/* ---- rows --------------------------------------------------------------- */

static brant_status room_for_one(brant_context *ctx, screening *s)
{
    return brant_grow(ctx, &s->circuits, &s->capacity, s->count + 1, sizeof *s->circuits);
}

static brant_status add_failed(brant_context *ctx, screening *s, size_t file, const char *route,
                               const char *what, const char *why)
{
    brant_text status_text = {0};
    brant_text_add(&status_text, "%s%s", what, why);
    brant_status status = brant_text_status(ctx, &status_text);
    if (status == BRANT_OK)
        status = room_for_one(ctx, s);
    if (status == BRANT_OK)
        status = brant_circuit_failed(ctx, s->list.path[file], route, status_text.data,
                                      &s->circuits[s->count]);
    s->count += status == BRANT_OK;
    brant_text_clear(&status_text);
    return status;
}

static brant_status add_error(brant_context *ctx, screening *s, size_t file, const char *route,
                              const char *why)
{
    size_t digits = strspn(why, "0123456789"); /* the row has the file: a line stands alone */
    s->failed++;
    return add_failed(ctx, s, file, route,
                      digits > 0 && why[digits] == ':' ? "error: line " : "error: ", why);
}

static brant_status add_tours(brant_context *ctx, screening *s, const brant_screened *screened)
{
    entry *e = &s->entries[screened->file];
    const char *path = s->list.path[screened->file];
    brant_report *report = &s->tour.report;
    brant_status status = BRANT_OK;
    report->tours = screened->tours;
    report->tour_count = screened->tour_count;
    for (size_t t = 0; t < screened->tour_count && status == BRANT_OK; t++) {
        status = room_for_one(ctx, s);
        if (status == BRANT_OK)
            status = brant_circuit_of(ctx, report, t, path, e->same_as, &s->circuits[s->count]);
        s->count += status == BRANT_OK;
    }
    if (status == BRANT_OK && s->values->legs) {
        brant_circuit_legs_rows(report, path, &e->legs);
        status = brant_text_status(ctx, &e->legs);
    }
    if (status == BRANT_OK && s->layers)
        status = brant_circuit_layer_legs(ctx, report, path, s->layers);
    report->tours = NULL;
    report->tour_count = 0;
    return status;
}

/* What a message says behind the file's name, which the row has anyway. */
static const char *without_name(const char *message, const char *path)
{
    size_t length = strlen(path);
    if (strncmp(message, path, length) != 0 || message[length] != ':')
        return message;
    return message[length + 1] == ' ' ? message + length + 2 : message + length + 1;
}

static brant_status on_screened(brant_context *ctx, void *user, const brant_screened *screened)
{
    screening *s = user;
    entry *e = &s->entries[screened->file];
    brant_status status = BRANT_OK;
    e->told = true;
    if (screened->error)
        return add_error(ctx, s, screened->file, "",
                         without_name(screened->error, s->list.path[screened->file]));
    status = add_tours(ctx, s, screened);
    for (size_t i = 0; i < e->gpx.route_count && status == BRANT_OK; i++)
        if (screened->empty[i])
            status = add_error(ctx, s, screened->file, e->gpx.routes[i].name,
                               "the route has no two points");
    return status;
}

/* ---- reading ------------------------------------------------------------ */

/* A file that cannot be read is a row, and no end. */
static brant_status read_entry(brant_context *ctx, screening *s, size_t i)
{
    entry *e = &s->entries[i];
    const char *path = s->list.path[i];
    if (s->list.why[i])
        e->error = brant_strdup(ctx, s->list.why[i]);
    if (s->list.why[i])
        return e->error ? BRANT_OK : BRANT_ERR_MEMORY;
    brant_status status = touring_gpx(ctx, path, path, &e->gpx);
    e->read = status == BRANT_OK;
    if (status != BRANT_ERR_INPUT && status != BRANT_ERR_IO)
        return status;
    e->error = strdup(without_name(brant_message(ctx), path));
    brant_forgive(ctx);
    return e->error ? BRANT_OK : BRANT_ERR_MEMORY;
}

static bool same_points(const brant_gpx *a, const brant_gpx *b)
{
    if (a->point_count != b->point_count || a->segment_count != b->segment_count ||
        a->route_count != b->route_count || a->point_count == 0)
        return false;
    return memcmp(a->points, b->points, a->point_count * sizeof *a->points) == 0 &&
           memcmp(a->segments, b->segments, a->segment_count * sizeof *a->segments) == 0;
}

/* FNV-1a: files are compared where this is the same. */
static uint64_t hash_of(const brant_gpx *gpx)
{
    const unsigned char *bytes = (const unsigned char *)gpx->points;
    uint64_t hash = UINT64_C(14695981039346656037);
    for (size_t i = 0; i < gpx->point_count * sizeof *gpx->points; i++)
        hash = (hash ^ bytes[i]) * UINT64_C(1099511628211);
    return hash;
}

static brant_status find_same(brant_context *ctx, screening *s)
{
    uint64_t *hash = brant_alloc(ctx, s->list.count, sizeof *hash);
    if (!hash)
        return BRANT_ERR_MEMORY;
    for (size_t i = 0; i < s->list.count; i++) {
        hash[i] = s->entries[i].read ? hash_of(&s->entries[i].gpx) : 0;
        for (size_t k = 0; k < i && s->entries[i].read && !s->entries[i].same_as; k++)
            if (hash[k] == hash[i] && s->entries[k].read &&
                same_points(&s->entries[k].gpx, &s->entries[i].gpx))
                s->entries[i].same_as = s->list.path[k];
    }
    free(hash);
    return BRANT_OK;
}

static brant_status read_all(brant_context *ctx, screening *s)
{
    brant_status status = BRANT_OK;
    s->entries = brant_alloc(ctx, s->list.count, sizeof *s->entries);
    if (!s->entries)
        return BRANT_ERR_MEMORY;
    for (size_t i = 0; i < s->list.count && status == BRANT_OK; i++)
        status = read_entry(ctx, s, i);
    return status == BRANT_OK ? find_same(ctx, s) : status;
}

/* ---- screening ---------------------------------------------------------- */

static brant_status run(brant_context *ctx, screening *s)
{
    brant_status status = BRANT_OK;
    brant_screen_file *files = brant_alloc(ctx, s->list.count, sizeof *files);
    if (!files)
        return BRANT_ERR_MEMORY;
    for (size_t i = 0; i < s->list.count && status == BRANT_OK; i++) {
        entry *e = &s->entries[i];
        files[i] = (brant_screen_file){s->list.path[i], e->read ? &e->gpx : NULL};
        if (e->error)
            status = add_error(ctx, s, i, "", e->error);
        e->told = e->error != NULL;
    }
    brant_screen_request request = {.plan = touring_request(s->values, true, &s->tour),
                                    .files = files, .file_count = s->list.count,
                                    .below = s->values->legs || s->values->layers,
                                    .done = on_screened, .user = s};
    if (status == BRANT_OK)
        status = brant_screen_run(ctx, &request);
    free(files);
    return status;
}

/* Stopped on request: what is finished is kept, and the rest is told to be missing. */
static brant_status mark_waiting(brant_context *ctx, screening *s)
{
    brant_status status = BRANT_OK;
    brant_forgive(ctx);
    ctx->stop = NULL; /* it was heard */
    for (size_t i = 0; i < s->list.count && status == BRANT_OK; i++) {
        if (s->entries[i].told)
            continue;
        s->waiting++;
        status = add_failed(ctx, s, i, "", "partial: ", "stopped before it was screened");
    }
    return status;
}

/* ---- outputs ------------------------------------------------------------ */

typedef struct outputs {
    const char *table, *legs, *layers; /* staged */
    bool standard;                     /* a table goes to standard output by itself */
} outputs;

static bool is_standard(const char *target)
{
    return target && strcmp(target, "-") == 0;
}

static brant_status announce(brant_context *ctx, const screening *s, brant_stage *stage,
                             outputs *out)
{
    const tool_values *v = s->values;
    const char *standard;
    brant_status status = brant_stage_input(ctx, stage, v->operand[0]);
    if (status == BRANT_OK && v->bulletin && !is_standard(v->bulletin))
        status = brant_stage_input(ctx, stage, v->bulletin);
    for (size_t i = 0; i < s->list.count && status == BRANT_OK; i++)
        if (access(s->list.path[i], F_OK) == 0)
            status = brant_stage_input(ctx, stage, s->list.path[i]);
    if (status == BRANT_OK)
        status = tool_output(ctx, stage, v->output, true, &out->table);
    if (status == BRANT_OK)
        status = tool_output(ctx, stage, v->legs, true, &out->legs);
    if (status == BRANT_OK)
        status = tool_output(ctx, stage, v->layers, false, &out->layers);
    out->standard = !is_standard(v->output) && !is_standard(v->legs);
    if (status == BRANT_OK && out->standard)
        status = brant_stage_output(ctx, stage, "-", true, &standard);
    return status;
}

static brant_status open_layers(brant_context *ctx, screening *s, const outputs *out)
{
    brant_tags tags = {0};
    if (!out->layers)
        return BRANT_OK;
    brant_status status = brant_layers_create(ctx, out->layers, s->values->layers, &s->layers);
    if (status == BRANT_OK)
        status = tool_tour_tags(ctx, s->values, TOOL_SCREEN, &s->tour.dem, &tags);
    if (status == BRANT_OK)
        status = brant_layers_metadata(ctx, s->layers, (const char *const *)tags.line);
    brant_tags_clear(&tags);
    return status == BRANT_OK ? brant_circuit_layer(ctx, s->layers) : status;
}

static brant_status write_legs(brant_context *ctx, const screening *s, brant_stage *stage)
{
    brant_text text = {0};
    brant_circuit_legs_header(&text);
    for (size_t i = 0; i < s->list.count; i++)
        if (s->entries[i].legs.length > 0)
            brant_text_add_bytes(&text, s->entries[i].legs.data, s->entries[i].legs.length);
    brant_status status = brant_text_status(ctx, &text);
    if (status == BRANT_OK)
        status = brant_stage_text(ctx, stage, s->values->legs, &text);
    brant_text_clear(&text);
    return status;
}

static brant_status write_table(brant_context *ctx, const brant_circuits *all,
                                brant_stage *stage, const char *target, const char *format)
{
    brant_text text = {0};
    brant_status status = BRANT_OK;
    if (strcmp(format, "csv") == 0)
        brant_report_circuits_csv(all, &text);
    else if (strcmp(format, "json") == 0)
        status = brant_report_circuits_json(ctx, all, &text);
    else
        brant_report_circuits_text(all, &text);
    if (status == BRANT_OK)
        status = brant_text_status(ctx, &text);
    if (status == BRANT_OK)
        status = brant_stage_text(ctx, stage, target, &text);
    brant_text_clear(&text);
    return status;
}

/* Is standard output a terminal that was closed? Files are wanted all the same. */
static bool nobody_looks(const tool_values *v)
{
    return (v->output || v->legs || v->layers) && !isatty(STDOUT_FILENO) && errno == EIO;
}

static brant_status write_standard(brant_context *ctx, const screening *s,
                                   const brant_circuits *all, brant_stage *stage)
{
    const brant_text nothing = {0};
    const char *format = s->values->format;
    if (nobody_looks(s->values))
        return brant_stage_text(ctx, stage, "-", &nothing);
    return write_table(ctx, all, stage, "-", format ? format : "text");
}

static brant_status write_outputs(brant_context *ctx, screening *s, brant_stage *stage,
                                  const outputs *out)
{
    const tool_values *v = s->values;
    brant_circuits_sort(s->circuits, s->count, v->sort ? brant_circuit_column(v->sort) : -1);
    brant_circuits all = {&s->tour.report, s->circuits, s->count, s->failed, s->waiting, !v->sort};
    brant_status status = BRANT_OK;
    if (v->output)
        status = write_table(ctx, &all, stage, v->output, "csv");
    if (status == BRANT_OK && out->standard)
        status = write_standard(ctx, s, &all, stage);
    if (status == BRANT_OK && v->legs)
        status = write_legs(ctx, s, stage);
    if (status == BRANT_OK && s->layers) {
        status = brant_layers_close(ctx, s->layers);
        s->layers = NULL;
    }
    return status == BRANT_OK ? brant_stage_commit(ctx, stage) : status;
}

/* ---- all of it ---------------------------------------------------------- */

static brant_status check_options(brant_context *ctx, const tool_values *v)
{
    bool listed = false;
    for (int i = 0; i < v->more_count; i++)
        listed |= is_standard(v->more[i]);
    if (listed && is_standard(v->bulletin))
        return brant_fail(ctx, BRANT_ERR_USAGE, "--bulletin -: standard input is the list of GPX "
                          "files");
    if (v->sort && brant_circuit_column(v->sort) < 0)
        return brant_fail(ctx, BRANT_ERR_USAGE, "--sort: '%s' is no column of the table (the man "
                          "page lists them)", v->sort);
    if (v->format && (is_standard(v->output) || is_standard(v->legs)))
        return brant_fail(ctx, BRANT_ERR_USAGE, "--format: standard output has another table");
    return BRANT_OK;
}

static void clear(screening *s)
{
    for (size_t i = 0; s->entries && i < s->list.count; i++) {
        brant_gpx_clear(&s->entries[i].gpx);
        brant_text_clear(&s->entries[i].legs);
        free(s->entries[i].error);
    }
    for (size_t i = 0; i < s->count; i++)
        brant_circuit_clear(&s->circuits[i]);
    free(s->circuits);
    free(s->entries);
    brant_layers_abandon(s->layers);
    gpx_list_clear(&s->list);
    touring_clear(&s->tour);
}

/* The table is whole, and yet something was not screened: exit 1 says so. */
static brant_status end(brant_context *ctx, const screening *s)
{
    if (s->waiting > 0)
        return brant_fail(ctx, BRANT_ERR_INTERRUPTED, "stopped: %zu of %zu files screened, the "
                          "table is partial", s->list.count - s->waiting, s->list.count);
    if (s->failed > 0)
        return brant_fail(ctx, BRANT_ERR_INPUT, "%zu of %zu circuits could not be screened: see "
                          "the table", s->failed, s->count);
    return BRANT_OK;
}

static brant_status screen(brant_context *ctx, tool_values *values)
{
    screening s = {.values = values};
    outputs out = {0};
    brant_stage *stage = NULL;
    brant_status status = brant_stage_create(ctx, &stage);
    if (status == BRANT_OK)
        status = gpx_list_fill(ctx, values->more, values->more_count, &s.list);
    if (status == BRANT_OK)
        status = touring_open(ctx, TOOL_SCREEN, values, &s.tour);
    if (status == BRANT_OK)
        status = announce(ctx, &s, stage, &out);
    if (status == BRANT_OK)
        status = touring_report(ctx, values, &s.tour);
    if (status == BRANT_OK)
        status = read_all(ctx, &s);
    if (status == BRANT_OK)
        status = open_layers(ctx, &s, &out);
    if (status == BRANT_OK) {
        status = run(ctx, &s);
        if (status == BRANT_ERR_INTERRUPTED)
            status = mark_waiting(ctx, &s);
    }
    if (status == BRANT_OK)
        status = write_outputs(ctx, &s, stage, &out);
    if (status == BRANT_OK)
        status = end(ctx, &s);
    clear(&s);
    brant_stage_destroy(stage);
    return status;
}

/* ---- progress ----------------------------------------------------------- */

/* What the program's own progress line is given instead: the whole, and how long it may
 * still take by what has passed. */
typedef struct watched {
    tool tool; /* first: messages go to it */
    brant_progress_fn draw;
    double done, next, began_s;
    char text[64];
} watched;

/* How the time for a group's ground, and for some of its circuits, is spent, about: the
 * share that is over when a stage begins. */
static const struct {
    const char *stage;
    double from, to;
} shares[] = {
    {"looking for high ground", 0.0, 0.15}, {"zones", 0.15, 0.4},   {"runout", 0.4, 0.92},
    {"unknown ground", 0.92, 0.95},         {"levels", 0.95, 1.0},  {"legs", 0.0, 0.45},
    {"below the legs", 0.45, 0.75},         {"sun and wind", 0.75, 1.0},
};

static double now_s(void)
{
    struct timespec now;
    clock_gettime(CLOCK_MONOTONIC, &now);
    return (double)now.tv_sec + 1e-9 * (double)now.tv_nsec;
}

static void draw_whole(watched *w, double whole)
{
    double left = (now_s() - w->began_s) * (1.0 - whole) / whole;
    const char *unit = left < 90 ? "s" : "min";
    if (whole < 0.02)
        return; /* nothing can be said yet */
    snprintf(w->text, sizeof w->text, "circuits, about %.0f %s left,", left < 90 ? left : left / 60,
             unit);
    w->draw(w, w->text, whole);
}

static void on_progress(void *user, const char *stage, double fraction)
{
    watched *w = user;
    if (strcmp(stage, BRANT_SCREEN_DONE) == 0)
        w->done = fraction;
    if (strcmp(stage, BRANT_SCREEN_NEXT) == 0)
        w->next = fraction;
    for (size_t i = 0; i < sizeof shares / sizeof *shares; i++)
        if (strcmp(stage, shares[i].stage) == 0)
            draw_whole(w, w->done + (w->next - w->done) * (shares[i].from + (shares[i].to -
                                                           shares[i].from) * fraction));
}

int main(int argc, char **argv)
{
    watched w = {.began_s = now_s()};
    tool *t = &w.tool;
    if (tool_begin(t, TOOL_SCREEN, argc, argv)) {
        w.draw = t->ctx.progress;
        t->ctx.progress = on_progress;
        t->working = false; /* these are a matter of usage */
        t->status = check_options(&t->ctx, &t->values);
        t->working = t->status == BRANT_OK;
        if (t->working)
            t->status = screen(&t->ctx, &t->values);
    }
    return tool_end(t);
}
