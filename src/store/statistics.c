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

/* ---- floats, sixteen at a time ------------------------------------------ */

/* Slopes of a whole country pass here: one by one they would take a third of the time that
 * computing them takes. */
#define LANES 16

/* Each lane's own, so that the order of adding is the same however wide the vectors are. */
typedef struct lanes {
    float low[LANES], high[LANES];
    int known[LANES];
    double sum[LANES], squares[LANES];
} lanes;

BRANT_BODY void add(lanes *restrict l, const float *restrict cells, float nodata)
{
    for (int k = 0; k < LANES; k++) {
        const float value = cells[k];
        const int known = (value == value) & (value != nodata);
        const double counted = known ? value : 0.0f;
        const float low = known ? value : INFINITY, high = known ? value : -INFINITY;
        l->known[k] += known;
        l->sum[k] += counted;
        l->squares[k] += counted * counted;
        l->low[k] = low < l->low[k] ? low : l->low[k];
        l->high[k] = high > l->high[k] ? high : l->high[k];
    }
}

BRANT_BODY void add_rows(lanes *l, const float *cells, int cols, int rows, float nodata)
{
    for (int r = 0; r < rows; r++) {
        const float *row = cells + (size_t)r * BRANT_BLOCK;
        float rest[LANES];
        int c = 0;
        for (; c + LANES <= cols; c += LANES)
            add(l, row + c, nodata);
        for (int k = 0; k < LANES; k++) /* beyond the row's end: nothing known */
            rest[k] = c + k < cols ? row[c + k] : NAN;
        add(l, rest, nodata);
    }
}

BRANT_WIDE static void add_rows_wide(lanes *l, const float *cells, int cols, int rows,
                                     float nodata)
{
    add_rows(l, cells, cols, rows, nodata);
}

void brant_statistics_floats(brant_statistics *statistics, const float *cells, int cols, int rows,
                             float nodata)
{
    lanes l = {0};
    for (int k = 0; k < LANES; k++) {
        l.low[k] = INFINITY;
        l.high[k] = -INFINITY;
    }
    if (BRANT_HAS_WIDE())
        add_rows_wide(&l, cells, cols, rows, nodata);
    else
        add_rows(&l, cells, cols, rows, nodata);
    for (int k = 0; k < LANES; k++) {
        statistics->known += l.known[k];
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
