/* Statistics of a band: known cells alone count, and how many are known is said. */
#include "statistics.h"

#include <math.h>
#include <string.h>

void brant_statistics_begin(brant_statistics *statistics)
{
    *statistics = (brant_statistics){.low = INFINITY, .high = -INFINITY};
}

void brant_statistics_doubles(brant_statistics *statistics, const double *cells, int cols,
                              int rows, double nodata)
{
    brant_statistics *s = statistics;
    for (int r = 0; r < rows; r++)
        for (int c = 0; c < cols; c++) {
            const double value = cells[(size_t)r * BRANT_BLOCK + (size_t)c];
            if (isnan(value) || value == nodata)
                continue;
            s->known++;
            s->sum += value;
            s->squares += value * value;
            s->low = value < s->low ? value : s->low;
            s->high = value > s->high ? value : s->high;
        }
    s->cells += (double)cols * rows;
}

/* ---- floats, four at a time --------------------------------------------- */

/* Slopes of a whole country pass here: one by one they would take a third of the time that
 * computing them takes. */
#define LANES 4
typedef float floats __attribute__((vector_size(4 * LANES)));
typedef int masks __attribute__((vector_size(4 * LANES))); /* -1 or 0 */
typedef double doubles __attribute__((vector_size(8 * LANES)));

typedef struct lanes {
    floats low, high;
    masks known; /* negative: masks added up */
    doubles sum, squares;
} lanes;

/* `a` where the mask is set, else `b`. */
#define CHOOSE(mask, a, b) ((floats)(((masks)(a) & (mask)) | ((masks)(b) & ~(mask))))

static inline void add(lanes *l, floats value, floats nodata)
{
    const masks known = (value == value) & (value != nodata);
    const doubles counted = __builtin_convertvector((floats)((masks)value & known), doubles);
    l->known += known;
    l->sum += counted;
    l->squares += counted * counted;
    l->low = CHOOSE(known & (value < l->low), value, l->low);
    l->high = CHOOSE(known & (value > l->high), value, l->high);
}

static void add_row(lanes *l, const float *row, int cols, floats nodata)
{
    lanes sums = *l; /* in registers */
    floats value;
    int c = 0;
    for (; c + LANES <= cols; c += LANES) {
        memcpy(&value, row + c, sizeof value);
        add(&sums, value, nodata);
    }
    value = nodata; /* beyond the row's end */
    for (int k = 0; c + k < cols; k++)
        value[k] = row[c + k];
    add(&sums, value, nodata);
    *l = sums;
}

void brant_statistics_floats(brant_statistics *statistics, const float *cells, int cols, int rows,
                             float nodata)
{
    lanes l = {0};
    floats absent = {0};
    for (int k = 0; k < LANES; k++) {
        l.low[k] = INFINITY;
        l.high[k] = -INFINITY;
        absent[k] = nodata;
    }
    for (int r = 0; r < rows; r++)
        add_row(&l, cells + (size_t)r * BRANT_BLOCK, cols, absent);
    for (int k = 0; k < LANES; k++) {
        statistics->known -= l.known[k];
        statistics->sum += l.sum[k];
        statistics->squares += l.squares[k];
        statistics->low = fmin(statistics->low, (double)l.low[k]);
        statistics->high = fmax(statistics->high, (double)l.high[k]);
    }
    statistics->cells += (double)cols * rows;
}

/* ---- said --------------------------------------------------------------- */

static brant_status say(brant_context *ctx, GDALRasterBandH band, const char *key, double value)
{
    brant_text text = {0};
    brant_text_add(&text, "%.14g", value);
    brant_status status = brant_text_status(ctx, &text);
    if (status == BRANT_OK)
        GDALSetMetadataItem(band, key, text.data, NULL);
    brant_text_clear(&text);
    return status;
}

brant_status brant_statistics_say(brant_context *ctx, const brant_statistics *statistics,
                                  GDALRasterBandH band)
{
    const brant_statistics *s = statistics;
    double mean = s->sum / s->known;
    const struct {
        const char *key;
        double value;
    } said[] = {
        /* rounded down: what is not quite all is not 100 */
        {"STATISTICS_VALID_PERCENT", floor(1e4 * s->known / s->cells) / 100.0},
        {"STATISTICS_MINIMUM", s->low},
        {"STATISTICS_MAXIMUM", s->high},
        {"STATISTICS_MEAN", mean},
        {"STATISTICS_STDDEV", sqrt(fmax(0.0, s->squares / s->known - mean * mean))},
    };
    const size_t count = s->known > 0 ? sizeof said / sizeof *said : 1;
    brant_status status = BRANT_OK;
    for (size_t i = 0; i < count && status == BRANT_OK; i++)
        status = say(ctx, band, said[i].key, said[i].value);
    return status;
}
