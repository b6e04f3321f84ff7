/* Stored values to metres, voids as NaN: cell by cell, with what is counted and told of
 * them, and the usual row at once: metres as stored, few values that are void, no branch in
 * the loops, so that the compiler does several cells together. */
#include "cells.h"

#include <float.h>
#include <math.h>

/* ---- one cell, with all that may be said of it --------------------------- */

/* One value that nobody declared void, as a sentence, once a model; what the
 * survey met has been told. */
static void warn_implausible(brant_context *ctx, brant_cells *cells, double stored, double metres)
{
    const brant_void_rules *rules = &cells->rules;
    for (int i = 0; i < rules->told_count; i++)
        if (stored == rules->told[i])
            return;
    if (rules->all_told)
        return;
    if (atomic_exchange(&cells->warned, true))
        return;
    brant_warn(ctx,
               "%s: holds %.9g (%.0f m), which is no elevation; such cells are taken as unknown "
               "(--nodata %.9g declares them)",
               cells->name, stored, metres, stored);
}

static bool is_undeclared(brant_context *ctx, brant_cells *cells, float metres)
{
    const brant_void_rules *rules = &cells->rules;
    for (int i = 0; i < rules->undeclared_count; i++)
        if (metres == rules->undeclared_m[i]) {
            if (rules->undeclared[i] == 0 && rules->zero_unmet &&
                !atomic_exchange(&cells->warned_cliff, true))
                brant_warn(ctx,
                           "%s: holds 0 far below all its other ground; such cells are taken as "
                           "unknown (--nodata 0 declares them)",
                           cells->name);
            return true;
        }
    return false;
}

float brant_cells_metres(brant_context *ctx, brant_cells *cells, const brant_handle *handle,
                         double stored, brant_void_tally *tally)
{
    if (!isfinite(stored) || (handle->huge_nodata && fabs(stored) > 1e30))
        return NAN;
    for (size_t i = 0; i < handle->nodata_count; i++)
        if (stored == handle->nodata[i])
            return NAN;
    double metres = stored * cells->scale + cells->offset;
    if (metres >= BRANT_LOWEST && metres <= BRANT_HIGHEST) {
        if (cells->rules.undeclared_count == 0 || !is_undeclared(ctx, cells, (float)metres))
            return (float)metres;
        if (tally)
            tally->fills++;
        return NAN;
    }
    if (tally)
        brant_void_count(tally, stored, metres);
    else
        warn_implausible(ctx, cells, stored, metres);
    return NAN;
}

/* ---- a plain row ---------------------------------------------------------- */

brant_plain_rules brant_plain_of(const brant_cells *cells, const brant_handle *handle)
{
    brant_plain_rules plain = {.holds = cells->scale == 1 && cells->offset == 0};
    const brant_void_rules *rules = &cells->rules;
    plain.largest = handle->huge_nodata ? 1e30f : FLT_MAX;
    for (int i = 0; i < BRANT_PLAIN_NODATA; i++)
        plain.nodata[i] = NAN; /* equals nothing */
    int count = 0;
    for (size_t i = 0; i < handle->nodata_count; i++) {
        double value = handle->nodata[i];
        if (!(fabs(value) <= FLT_MAX) || (double)(float)value != value)
            continue; /* no cell of this type holds it */
        if (count == BRANT_PLAIN_NODATA)
            plain.holds = false;
        else
            plain.nodata[count++] = (float)value;
    }
    plain.undeclared = rules->undeclared_m;
    plain.undeclared_count = rules->undeclared_count;
    return plain;
}

/* A value that the survey found to be a fill. */
BRANT_BODY bool meets(const float *raw, int n, float value)
{
    int met = 0;
    for (int i = 0; i < n; i++)
        met |= raw[i] == value;
    return met != 0;
}

static inline bool implausible(float v, const float nodata[static BRANT_PLAIN_NODATA],
                               float largest)
{
    const int known = (v >= (float)BRANT_LOWEST) & (v <= (float)BRANT_HIGHEST);
    const int hidden = (v == nodata[0]) | (v == nodata[1]);
    return !known & !hidden & (fabsf(v) <= largest); /* neither NaN nor infinite */
}

/* False, and nothing done, where a value must be counted or told of. `out` may be `raw`. */
BRANT_BODY bool plain_row(const brant_plain_rules *plain, const float *raw, int n, float *out)
{
    const float nodata[BRANT_PLAIN_NODATA] = {plain->nodata[0], plain->nodata[1]};
    int odd = 0;
    for (int i = 0; i < n; i++)
        odd |= implausible(raw[i], nodata, plain->largest);
    for (int k = 0; k < plain->undeclared_count; k++)
        odd |= meets(raw, n, plain->undeclared[k]);
    if (odd)
        return false;
    for (int i = 0; i < n; i++) {
        const float v = raw[i];
        const int known = (v >= (float)BRANT_LOWEST) & (v <= (float)BRANT_HIGHEST) &
                          (v != nodata[0]) & (v != nodata[1]);
        out[i] = known ? v : NAN;
    }
    return true;
}

BRANT_WIDE static bool plain_row_wide(const brant_plain_rules *plain, const float *raw, int n,
                                      float *out)
{
    return plain_row(plain, raw, n, out);
}

void brant_cells_row(brant_context *ctx, brant_cells *cells, const brant_handle *handle,
                     const brant_plain_rules *plain, const float *raw, int n, float *out,
                     brant_void_tally *tally)
{
    if (plain->holds && (BRANT_HAS_WIDE() ? plain_row_wide(plain, raw, n, out)
                                          : plain_row(plain, raw, n, out)))
        return;
    for (int i = 0; i < n; i++)
        out[i] = brant_cells_metres(ctx, cells, handle, (double)raw[i], tally);
}
