/* Voids that nobody declared. */
#include "voids.h"

#include <math.h>
#include <string.h>

/* What programs fill voids with, besides 0; as stored. */
static const double fills[] = {-1,    -9,    -99,    -999,   -9999,  -99999, -32767, -32768,
                               -32678, 99,   255,    999,    9999,   32767,  32768,  65535};

/* ---- values that are no elevation --------------------------------------- */

void brant_void_count(brant_void_tally *tally, double stored, double metres)
{
    int i = 0;
    bool first = tally->distinct == 0;
    tally->lowest = first ? metres : fmin(tally->lowest, metres);
    tally->highest = first ? metres : fmax(tally->highest, metres);
    while (i < tally->distinct && tally->value[i] != stored)
        i++;
    if (i == BRANT_TALLY_MAX) {
        tally->others++;
        return;
    }
    tally->value[i] = stored;
    tally->count[i]++;
    if (i == tally->distinct)
        tally->distinct++;
}

/* ---- the survey --------------------------------------------------------- */

void brant_void_survey_begin(brant_void_survey *survey, double zero, double cell_m)
{
    memset(survey, 0, sizeof *survey);
    survey->zero = (float)zero;
    survey->cell_m = cell_m;
    survey->near_m = fmax(30, 0.5 * cell_m);
    survey->cliff_m = fmax(150, 5 * cell_m);
    survey->lowest = INFINITY;
    survey->highest = -INFINITY;
}

static int bin_of(double metres)
{
    int bin = (int)floor(metres - BRANT_LOWEST);
    return bin < 0 ? 0 : bin >= BRANT_SURVEY_BINS ? BRANT_SURVEY_BINS - 1 : bin;
}

/* What lies beside a cell that stores 0. */
static void look_around(brant_void_survey *survey, const float *z, int cols, int rows, int col,
                        int row)
{
    for (int r = row > 0 ? row - 1 : 0; r <= row + 1 && r < rows; r++)
        for (int c = col > 0 ? col - 1 : 0; c <= col + 1 && c < cols; c++) {
            float other = z[(size_t)r * (size_t)cols + (size_t)c];
            if (isnan(other) || other == survey->zero)
                continue;
            double jump = fabs((double)other - (double)survey->zero);
            survey->zero_sides++;
            survey->smooth_sides += jump <= survey->near_m;
            survey->cliff_sides += jump > survey->cliff_m;
        }
}

void brant_void_survey_add(brant_void_survey *survey, const float *z, int cols, int rows)
{
    for (int row = 0; row < rows; row++)
        for (int col = 0; col < cols; col++) {
            float here = z[(size_t)row * (size_t)cols + (size_t)col];
            if (isnan(here))
                continue;
            survey->known++;
            if (here == survey->zero) {
                survey->zeros++;
                look_around(survey, z, cols, rows, col, row);
                continue;
            }
            int bin = bin_of(here);
            if (survey->bin[bin]++ == 0)
                survey->first[bin] = here;
            survey->mixed[bin] |= here != survey->first[bin];
            survey->lowest = fminf(survey->lowest, here);
            survey->highest = fmaxf(survey->highest, here);
        }
}

/* ---- decisions ---------------------------------------------------------- */

/* Cells whose height is within `metres` of `height`, those of bin `but` left out
 * (-1: none). */
static int64_t ground_near(const brant_void_survey *survey, double height, double metres, int but)
{
    int64_t cells = 0;
    for (int bin = bin_of(height - metres); bin <= bin_of(height + metres); bin++)
        if (bin != but)
            cells += survey->bin[bin];
    return cells;
}

static void add_rule(brant_void_rules *rules, int64_t *counts, double stored, float metres,
                     int64_t count)
{
    if (rules->undeclared_count == BRANT_UNDECLARED_MAX)
        return;
    counts[rules->undeclared_count] = count;
    rules->undeclared_m[rules->undeclared_count] = metres;
    rules->undeclared[rules->undeclared_count++] = stored;
}

/* 0 is a sea or a lake where the ground beside it comes down to it. Where it does
 * not, or where nothing of the model is within 300 m of it, it is a fill. */
static void decide_zero(const brant_void_survey *survey, bool whole, brant_void_rules *rules,
                        int64_t *counts)
{
    double zero = (double)survey->zero;
    bool far = survey->known > survey->zeros && ground_near(survey, zero, 300, -1) == 0;
    bool torn = survey->zero_sides > 0 &&
                (double)survey->smooth_sides < BRANT_SMOOTH_SHARE * (double)survey->zero_sides;
    rules->cliff_m = survey->cliff_m;
    if (!(zero >= BRANT_LOWEST && zero <= BRANT_HIGHEST))
        return;
    if (survey->zeros > 0 && (torn || far))
        add_rule(rules, counts, 0, survey->zero, survey->zeros);
    else if (survey->zeros == 0 && !whole && far) {
        rules->zero_unmet = true;
        add_rule(rules, counts, 0, survey->zero, 0);
    } else
        rules->watch_zero = !whole || survey->cliff_sides > 0;
    rules->cliff_told = rules->watch_zero && survey->cliff_sides > 0;
}

/* The bin holds one height only, and nothing else of the model is within `metres`. */
static bool lone_bin(const brant_void_survey *survey, int bin, double metres, bool zero_counts)
{
    double height = (double)survey->first[bin];
    if (survey->bin[bin] == 0 || survey->mixed[bin])
        return false;
    if (zero_counts && survey->zeros > 0 && fabs(height - (double)survey->zero) <= metres)
        return false;
    return ground_near(survey, height, metres, bin) == 0;
}

static void decide_fills(const brant_void_survey *survey, double scale, double offset,
                         bool zero_counts, brant_void_rules *rules, int64_t *counts)
{
    for (size_t i = 0; i < sizeof fills / sizeof *fills; i++) {
        double metres = fills[i] * scale + offset;
        int bin = bin_of(metres);
        if (!(metres >= BRANT_LOWEST && metres <= BRANT_HIGHEST))
            continue;
        if (survey->bin[bin] < survey->known && survey->first[bin] == (float)metres &&
            lone_bin(survey, bin, fmax(100, 2 * survey->cell_m), zero_counts))
            add_rule(rules, counts, fills[i], (float)metres, survey->bin[bin]);
    }
}

/* Is there ground of many heights besides this bin? */
static bool varied_elsewhere(const brant_void_survey *survey, int but)
{
    int heights = 0;
    for (int bin = 0; bin < BRANT_SURVEY_BINS && heights < 10; bin++)
        if (bin != but && survey->bin[bin] > 0)
            heights += survey->mixed[bin] ? 2 : 1;
    return heights >= 10;
}

/* Any other constant: a fiftieth of the model and more, 300 m below or above all
 * the rest. */
static void decide_constant(const brant_void_survey *survey, double scale, double offset,
                            bool zero_counts, brant_void_rules *rules, int64_t *counts)
{
    float extremes[2] = {survey->lowest, survey->highest};
    for (int i = 0; i < 2; i++) {
        int bin = isfinite(extremes[i]) ? bin_of((double)extremes[i]) : -1;
        bool known = false;
        if (bin < 0 || survey->bin[bin] < 100 || survey->bin[bin] * 50 < survey->known ||
            !lone_bin(survey, bin, 300, zero_counts) || !varied_elsewhere(survey, bin))
            continue;
        double stored = ((double)extremes[i] - offset) / scale;
        if (fabs(stored - round(stored)) < 1e-3)
            stored = round(stored);
        for (int r = 0; r < rules->undeclared_count; r++)
            known |= rules->undeclared_m[r] == extremes[i];
        if (!known)
            add_rule(rules, counts, stored, extremes[i], survey->bin[bin]);
    }
}

void brant_void_survey_decide(const brant_void_survey *survey, bool whole, double scale,
                              double offset, brant_void_rules *rules,
                              int64_t counts[static BRANT_UNDECLARED_MAX])
{
    memset(rules, 0, sizeof *rules);
    decide_zero(survey, whole, rules, counts);
    bool zero_counts = rules->undeclared_count == 0;
    decide_fills(survey, scale, offset, zero_counts, rules, counts);
    decide_constant(survey, scale, offset, zero_counts, rules, counts);
}

/* ---- zeros beside high ground ------------------------------------------- */

int64_t brant_void_cliffs(const float *z, int cols, int rows, float zero, double cliff_m,
                          float *out, size_t stride)
{
    int64_t cells = 0;
    size_t width = (size_t)cols + 2;
    for (int row = 0; row < rows; row++)
        for (int col = 0; col < cols; col++) {
            const float *corner = z + (size_t)row * width + (size_t)col;
            bool cliff = false;
            if (corner[width + 1] != zero)
                continue;
            for (int i = 0; i < 9; i++)
                cliff |= fabs((double)corner[(size_t)(i / 3) * width + (size_t)(i % 3)] -
                              (double)zero) > cliff_m;
            if (cliff) {
                out[(size_t)row * stride + (size_t)col] = NAN;
                cells++;
            }
        }
    return cells;
}
