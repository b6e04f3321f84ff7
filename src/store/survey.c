/* A look at a model before it is used. */
#include "survey.h"

#include <math.h>
#include <stdlib.h>
#include <string.h>

#define WHOLE ((int64_t)8 << 20) /* cells that are looked at, all of them */
#define SAMPLES 64               /* windows, where there are more */
#define REMOTE_SAMPLES 9
#define SAMPLE 256               /* cells a side */

typedef struct survey {
    brant_context *ctx;
    brant_cells *cells;
    brant_matrix matrix; /* of a working cell */
    int factor;
    bool whole;
    brant_void_tally tally;
    brant_void_survey *voids;
    bool doubted;          /* the unit is */
    int64_t slopes, steep; /* places with a slope; those above 45 degrees */
    float *z;
    size_t capacity;
} survey;

/* ---- steepness ---------------------------------------------------------- */

/* Above 45 degrees by central differences over two working cells, so that a fine
 * model's boulders do not count; false where one is void. */
static bool slope_at(const survey *s, const float *at, int cols, bool *steep)
{
    const brant_matrix *m = &s->matrix;
    ptrdiff_t k = s->factor, down = k * cols;
    double by_col = ((double)at[k] - (double)at[-k]) / 2;
    double by_row = ((double)at[down] - (double)at[-down]) / 2;
    double area = m->col_east * m->row_north - m->row_east * m->col_north;
    double east = (by_col * m->row_north - by_row * m->col_north) / area;
    double north = (by_row * m->col_east - by_col * m->row_east) / area;
    *steep = east * east + north * north > 1;
    return isfinite(east) && isfinite(north);
}

static void count_slopes(survey *s, int cols, int rows)
{
    bool steep;
    int k = s->factor;
    for (int row = k; row < rows - k; row++)
        for (int col = k; col < cols - k; col++)
            if (slope_at(s, s->z + (size_t)row * (size_t)cols + (size_t)col, cols, &steep)) {
                s->slopes++;
                s->steep += steep;
            }
}

/* ---- which cells -------------------------------------------------------- */

static brant_status look(survey *s, const brant_window *w)
{
    size_t count = (size_t)w->cols * (size_t)w->rows;
    brant_status status = brant_check_stop(s->ctx);
    if (status == BRANT_OK && count > s->capacity)
        status = brant_grow(s->ctx, &s->z, &s->capacity, count, sizeof *s->z);
    if (status == BRANT_OK)
        status = brant_cells_read(s->ctx, s->cells, w, s->z, (size_t)w->cols, &s->tally);
    if (status != BRANT_OK)
        return status;
    brant_void_survey_add(s->voids, s->z, w->cols, w->rows);
    count_slopes(s, w->cols, w->rows);
    return BRANT_OK;
}

static bool touches_a_tile(const brant_tiles *tiles, const brant_window *w)
{
    for (size_t i = 0; i < tiles->count; i++) {
        const brant_window *on = &tiles->tile[i].on;
        if (w->col < on->col + on->cols && on->col < w->col + w->cols &&
            w->row < on->row + on->rows && on->row < w->row + w->rows)
            return true;
    }
    return false;
}

static brant_status look_at_all(survey *s)
{
    enum { WIDTH = 2048, HEIGHT = 256 };
    const brant_tiles *tiles = &s->cells->tiles;
    brant_status status = BRANT_OK;
    for (int64_t row = 0; status == BRANT_OK && row < tiles->rows; row += HEIGHT)
        for (int64_t col = 0; status == BRANT_OK && col < tiles->cols; col += WIDTH) {
            brant_window w = {(int)col, (int)row, WIDTH, HEIGHT};
            w = brant_window_clip(w, tiles->cols, tiles->rows);
            if (touches_a_tile(tiles, &w))
                status = look(s, &w);
        }
    return status;
}

/* The i-th of n places for `size` out of `length` cells, evenly from one end to the
 * other, on a multiple of `step`. */
static int spread(int i, int n, int length, int size, int step)
{
    int64_t room = length - size;
    int64_t at = n > 1 ? room * i / (n - 1) : room / 2;
    return (int)(at - at % step);
}

/* n x n samples of a tile; of a striped one, n*n strips over its whole width. */
static brant_status look_into(survey *s, const brant_tile *tile, int n)
{
    int block_cols = 1, block_rows = 1;
    brant_status status = brant_cells_blocks(s->ctx, s->cells, tile, &block_cols, &block_rows);
    bool striped = block_cols >= tile->on.cols;
    int across = striped ? 1 : n, down = striped ? n * n : n;
    int cols = striped || tile->on.cols < SAMPLE ? tile->on.cols : SAMPLE;
    int strip = block_rows > 4 ? block_rows : 4;
    int rows = striped && strip < SAMPLE ? strip : SAMPLE;
    if (rows > tile->on.rows)
        rows = tile->on.rows;
    for (int i = 0; status == BRANT_OK && i < across * down; i++) {
        brant_window w = {
            tile->on.col + spread(i % across, across, tile->on.cols, cols,
                                  striped || block_cols > SAMPLE ? 1 : block_cols),
            tile->on.row + spread(i / across, down, tile->on.rows, rows,
                                  block_rows > SAMPLE ? 1 : block_rows),
            cols, rows};
        status = look(s, &w);
    }
    return status;
}

static brant_status look_at_samples(survey *s)
{
    const brant_tiles *tiles = &s->cells->tiles;
    size_t samples = tiles->tile[0].remote ? REMOTE_SAMPLES : SAMPLES;
    size_t looked = tiles->count < samples ? tiles->count : samples;
    int n = (int)floor(sqrt((double)samples / (double)looked) + 1e-9);
    brant_status status = BRANT_OK;
    for (size_t i = 0; status == BRANT_OK && i < looked; i++) {
        size_t tile = looked > 1 ? i * (tiles->count - 1) / (looked - 1) : 0;
        status = look_into(s, &tiles->tile[tile], n);
    }
    return status;
}

static bool small_enough(const brant_tiles *tiles)
{
    int64_t cells = 0, all = (int64_t)tiles->cols * tiles->rows;
    for (size_t i = 0; i < tiles->count; i++)
        cells += (int64_t)tiles->tile[i].on.cols * tiles->tile[i].on.rows;
    return cells <= WHOLE && all <= 64 * WHOLE && !tiles->tile[0].remote;
}

/* ---- what is said ------------------------------------------------------- */

static void add_cells(brant_text *text, const survey *s, int64_t cells)
{
    brant_text_add(text, s->whole ? "" : "at least ");
    brant_text_thousands(text, (double)cells);
    brant_text_add(text, cells == 1 ? " cell holds " : " cells hold ");
}

static void say(const survey *s, brant_text *text)
{
    if (text->data && !text->failed)
        brant_warn(s->ctx, "%s: %s", s->cells->name, text->data);
    brant_text_clear(text);
}

/* The values that are no elevation, in one line. */
static void tell_implausible(survey *s)
{
    brant_text text = {0};
    brant_void_rules *rules = &s->cells->rules;
    const brant_void_tally *t = &s->tally;
    int shown = t->distinct < 4 ? t->distinct : 4;
    int64_t rest = t->others;
    if (t->distinct == 0)
        return;
    for (int i = 0; i < t->distinct; i++)
        rules->told[rules->told_count++] = t->value[i];
    for (int i = shown; i < t->distinct; i++)
        rest += t->count[i];
    rules->all_told = t->others > 0;
    for (int i = 0; i < shown; i++) {
        brant_text_add(&text, i > 0 ? ", " : "");
        add_cells(&text, s, t->count[i]);
        brant_text_add(&text, "%.9g", t->value[i]);
    }
    if (rest > 0) {
        brant_text_add(&text, ", ");
        brant_text_thousands(&text, (double)rest);
        brant_text_add(&text, " more between %.0f and %.0f m", t->lowest, t->highest);
    }
    brant_text_add(&text, ": no elevation, and not declared as nodata; taken as unknown (");
    for (int i = 0; i < shown; i++)
        brant_text_add(&text, "%s--nodata %.9g", i > 0 ? " " : "", t->value[i]);
    brant_text_add(&text, shown > 1 ? " declare them)" : " declares it)");
    say(s, &text);
}

static void tell_fills(survey *s, const int64_t *counts, int64_t filled)
{
    brant_text text = {0};
    const brant_void_rules *rules = &s->cells->rules;
    for (int i = 0; i < rules->undeclared_count; i++) {
        if (counts[i] == 0)
            continue;
        add_cells(&text, s, counts[i]);
        brant_text_add(&text,
                       "%.7g, far from the ground beside it, and not declared as nodata; taken as "
                       "unknown (--nodata %.7g declares it)",
                       rules->undeclared[i], rules->undeclared[i]);
        say(s, &text);
    }
    if (!rules->cliff_told)
        return;
    brant_text_add(&text, "holds 0 beside ground more than %.0f m higher as well as beside low "
                   "ground; the cells of the first kind ", rules->cliff_m);
    if (filled > 0) {
        brant_text_add(&text, "and their patches (");
        brant_text_thousands(&text, (double)filled);
        brant_text_add(&text, " cells) ");
    }
    brant_text_add(&text, "are taken as unknown (--nodata 0, if 0 is no sea)");
    say(s, &text);
}

/* Do the heights look like another unit's? Real ground: shares above 45 degrees of
 * 0.2 and less even of steep models; feet read as metres make ground of 17 degrees
 * one of 45, decimetres ground of 6. No ground is as high as the model is wide. */
static bool tell_unit(survey *s, const char *unit_from)
{
    brant_text text = {0};
    const brant_tiles *tiles = &s->cells->tiles;
    const brant_void_survey *v = s->voids;
    double low = (double)v->lowest, high = (double)v->highest;
    bool too_high = s->tally.distinct >= 8 && s->tally.highest > BRANT_HIGHEST;
    if (too_high) {
        low = fmin(low, s->tally.lowest); /* where nothing else is left, low is no number */
        high = fmax(high, s->tally.highest);
    }
    double across = brant_matrix_distance(&s->matrix, (double)tiles->cols / s->factor,
                                          (double)tiles->rows / s->factor);
    bool steep = s->slopes >= 2500 && (double)s->steep > 0.35 * (double)s->slopes;
    bool tall = across >= 3000 && high - low > 0.8 * across;
    if (!too_high && !steep && !tall)
        return false;
    s->doubted = true;
    brant_text_add(&text, "its heights do not look like %s: from ",
                   strcmp(unit_from, "assumed") == 0 ? "metres" : "the unit that it states");
    brant_text_thousands(&text, low);
    brant_text_add(&text, " to ");
    brant_text_thousands(&text, high);
    brant_text_add(&text, " m over ");
    brant_text_thousands(&text, across / 1000);
    brant_text_add(&text, " km");
    if (s->slopes > 0)
        brant_text_add(&text, ", %.0f %% of the ground above 45 degrees",
                       100.0 * (double)s->steep / (double)s->slopes);
    brant_text_add(&text, ". Feet, decimetres? (--vertical-unit)");
    say(s, &text);
    return too_high;
}

/* ---- all of it ---------------------------------------------------------- */

/* Where 0 is both a sea and a fill, and the model is small, tell them apart patch by
 * patch. */
static brant_status judge_patches(survey *s, int64_t *filled)
{
    brant_cells *cells = s->cells;
    brant_window all = {0, 0, cells->tiles.cols, cells->tiles.rows};
    size_t count = (size_t)all.cols * (size_t)all.rows;
    if (!s->whole || !cells->rules.cliff_told || count > (size_t)WHOLE)
        return BRANT_OK;
    float *z = brant_alloc(s->ctx, count, sizeof *z);
    uint8_t *fills = brant_alloc(s->ctx, count, 1);
    brant_status status = z && fills ? BRANT_OK : BRANT_ERR_MEMORY;
    cells->rules.watch_zero = false; /* for this read */
    if (status == BRANT_OK)
        status = brant_cells_read(s->ctx, cells, &all, z, (size_t)all.cols, &s->tally);
    cells->rules.watch_zero = true;
    if (status == BRANT_OK)
        status = brant_void_patches(s->ctx, z, all.cols, all.rows, s->voids, fills, filled);
    free(z);
    if (status == BRANT_OK)
        cells->fills = fills;
    else
        free(fills);
    return status;
}

static brant_status conclude(survey *s, const char *unit_from)
{
    int64_t counts[BRANT_UNDECLARED_MAX] = {0}, filled = 0;
    brant_cells *cells = s->cells;
    brant_void_survey_decide(s->voids, s->whole, cells->scale, cells->offset, &cells->rules,
                             counts);
    if (unit_from && tell_unit(s, unit_from))
        cells->rules.all_told = true;
    else
        tell_implausible(s);
    brant_status status = judge_patches(s, &filled);
    if (status == BRANT_OK)
        tell_fills(s, counts, filled);
    return status;
}

brant_status brant_survey_run(brant_context *ctx, brant_cells *cells, const brant_matrix *matrix,
                              int factor, const char *unit_from, bool *doubted)
{
    survey s = {.ctx = ctx, .cells = cells, .matrix = *matrix, .factor = factor};
    s.voids = brant_alloc(ctx, 1, sizeof *s.voids);
    if (!s.voids)
        return BRANT_ERR_MEMORY;
    brant_void_survey_begin(s.voids, cells->offset, sqrt(brant_matrix_area(matrix)) / factor);
    s.whole = small_enough(&cells->tiles);
    brant_status status = s.whole ? look_at_all(&s) : look_at_samples(&s);
    if (status == BRANT_OK)
        status = conclude(&s, unit_from);
    *doubted = s.doubted;
    free(s.z);
    free(s.voids);
    return status;
}
