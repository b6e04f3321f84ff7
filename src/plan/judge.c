/* What a model's numbers mean for its use. The limits stand in brant-check(1).
 *
 * Cells: on models of cell means a pitch of 38 degrees and 20 m length in ground of 28 shows
 * 36.5 degrees at 10 m, 33.1 at 20, 31.5 at 30; one of 30 m in ground of 20 shows 30.9 at 25
 * and 29.4, no release ground, at 30 (computed; mean over the grid's phase). */
#include "judge.h"

#include <math.h>
#include <stdio.h>

#define CELL_CARE 12.0     /* metres, the longer side at the middle */
#define CELL_UNFIT 35.0    /* 1 arc second is 31 m */
#define ERROR_CARE 2.0     /* degrees, of a slope of 35 */
#define ERROR_UNFIT 5.0
#define STEP_CARE 2.0      /* degrees, that a stored unit makes */
#define STEP_UNFIT 5.0
#define DATUM_CARE 10.0    /* metres */
#define DATUM_UNFIT 100.0  /* the widest --edge */
#define VOID_UNFIT 0.9     /* share of the cells */
#define LONE_CARE 0.1      /* share of the steep cells */
#define LONE_STEEP 0.01    /* share of steep cells, below which that is not judged */

/* ---- reasons ------------------------------------------------------------ */

/* Takes `text` (and clears it): the reason that a model is no better than `level`. The
 * worst stand first. */
static void give(brant_check *check, brant_fitness level, brant_text *text)
{
    check->untold |= text->failed;
    if (level != BRANT_FIT && check->reasons < BRANT_REASONS && text->data) {
        int at = check->reasons++;
        for (; at > 0 && check->reason[at - 1].level < level; at--)
            check->reason[at] = check->reason[at - 1];
        check->reason[at].level = level;
        snprintf(check->reason[at].text, sizeof check->reason[at].text, "%s", text->data);
    }
    if (level > check->fitness)
        check->fitness = level;
    brant_text_clear(text);
}

/* Which level two limits make of `value`. */
static brant_fitness level_of(double value, double care, double unfit)
{
    return value > unfit ? BRANT_UNFIT : value > care ? BRANT_FIT_WITH_CARE : BRANT_FIT;
}

static void judge_cell(brant_check *check)
{
    brant_text text = {0};
    const double *side = check->cell_m[BRANT_AT_MIDDLE];
    double cell = fmax(side[0], side[1]);
    brant_fitness level = isnan(cell) ? BRANT_UNFIT : level_of(cell, CELL_CARE, CELL_UNFIT);
    if (isnan(cell))
        brant_text_add(&text, "no direction is known in the middle of it");
    else if (level == BRANT_UNFIT)
        brant_text_add(&text,
                       "cells of %.0f m: start zones shorter than %.0f m may be missed whole", cell,
                       2 * cell);
    else
        brant_text_add(&text, "cells of %.0f m: pitches shorter than %.0f m may be missed", cell,
                       2 * cell);
    give(check, level, &text);
}

static void judge_heights(brant_check *check)
{
    brant_text text = {0};
    if (check->slopes == 0) {
        brant_text_add(&text, "no slope is known anywhere: it takes 3 x 3 cells with an elevation");
        give(check, BRANT_UNFIT, &text);
    } else if (check->low_m == check->high_m) {
        brant_text_add(&text, "all of it has one height, %.0f m", check->low_m);
        give(check, BRANT_UNFIT, &text);
    }
    if (check->dem->unit_doubted) {
        brant_text_add(&text, "its heights do not look like the unit they are read in: is it "
                              "another one? (--vertical-unit)");
        give(check, BRANT_UNFIT, &text);
    }
    brant_text_add(&text,
                   "heights good to %.3g m: a slope of 35 degrees is known to %.1f degrees",
                   check->vertical_error_m, check->error_deg);
    give(check, level_of(check->error_deg, ERROR_CARE, ERROR_UNFIT), &text);
    brant_text_add(&text, "heights in steps: one step makes a slope of %.1f degrees",
                   check->step_deg);
    give(check, level_of(check->step_deg, STEP_CARE, STEP_UNFIT), &text);
}

static void judge_voids(brant_check *check)
{
    brant_text text = {0};
    double share = (double)check->voids / (double)check->cells;
    if (share > VOID_UNFIT) {
        brant_text_add(&text, "%.0f %% of it has no elevation", floor(100 * share));
        give(check, BRANT_UNFIT, &text);
    }
    if (check->holes > 0) {
        brant_text_thousands(&text, (double)check->holes);
        brant_text_add(&text, check->holes == 1 ? " hole" : " holes");
        brant_text_add(&text, " inside it: what lies in or under one is unknown");
        give(check, BRANT_FIT_WITH_CARE, &text);
    }
    if (check->undeclared > 0) {
        brant_text_thousands(&text, (double)check->undeclared);
        brant_text_add(&text, check->undeclared == 1 ? " cell holds" : " cells hold");
        brant_text_add(&text, " no elevation though the file does not say so (--nodata)");
        give(check, BRANT_FIT_WITH_CARE, &text);
    }
}

static void judge_place(brant_check *check)
{
    brant_text text = {0};
    double off = check->datum_accuracy_m;
    if (!check->placed) {
        brant_text_add(&text, "routes cannot be placed on it: %s", check->datum_operation);
        give(check, BRANT_UNFIT, &text);
    } else if (off < 0) {
        brant_text_add(&text, "how well a route is placed on it is not stated (%s)",
                       check->datum_operation);
        give(check, BRANT_FIT_WITH_CARE, &text);
    } else {
        brant_text_add(&text, "a route may be placed %.0f m off (change of datum)", off);
        give(check, level_of(off, DATUM_CARE, DATUM_UNFIT), &text);
    }
    if (check->differences > 0) {
        brant_text_add(&text, "its keys and GDAL's reading differ: see above which was taken");
        give(check, BRANT_FIT_WITH_CARE, &text);
    }
}

/* Lone steep patches on a fine grid: what stands on the ground, or errors. */
static void judge_surface(brant_check *check)
{
    brant_text text = {0};
    const double *side = check->cell_m[BRANT_AT_MIDDLE];
    double steep = (double)check->steep, lone = steep > 0 ? (double)check->lone_steep / steep : 0;
    if (!(fmax(side[0], side[1]) <= CELL_CARE) || steep < LONE_STEEP * (double)check->slopes ||
        lone <= LONE_CARE)
        return;
    brant_text_add(&text,
                   "%.0f %% of the ground from 30 degrees on lies in lone cells: possibly trees or "
                   "buildings in a surface model, or errors",
                   100 * lone);
    give(check, BRANT_FIT_WITH_CARE, &text);
}

/* ---- raw keys against GDAL's reading ------------------------------------ */

static void differ(brant_check *check, const char *key, int value, const char *taken)
{
    if (check->differences < BRANT_DIFFERENCES)
        snprintf(check->difference[check->differences++], sizeof check->difference[0],
                 "%s is %d, GDAL reads %s", key, value, taken);
}

static bool is_code(int key)
{
    return key > 0 && key < 32767;
}

/* Metres in an EPSG unit of length; NaN for one that is not among the common ones. */
static double unit_of(int code)
{
    return code == 9001 ? 1.0 : code == 9002 ? 0.3048 : code == 9003 ? 1200.0 / 3937.0 : NAN;
}

static void differ_unit(brant_check *check, const char *key, int code, double metres)
{
    brant_text taken = {0};
    if (!(fabs(unit_of(code) - metres) > 1e-9)) /* NaN: nothing to compare */
        return;
    brant_text_add(&taken, "units of %.7g m", metres);
    check->untold |= taken.failed;
    differ(check, key, code, taken.data ? taken.data : "another");
    brant_text_clear(&taken);
}

static void compare_keys(brant_check *check)
{
    char taken[64];
    const brant_dem_facts *f = &check->facts;
    const brant_geokeys *k = &f->keys;
    int code = f->projected ? k->projected_type : k->geographic_type;
    if (!k->present)
        return;
    /* where GDAL says neither it places the cells as areas */
    if ((k->raster_type == 1 && f->placement == 2) || (k->raster_type == 2 && f->placement != 2))
        differ(check, "GTRasterTypeGeoKey", k->raster_type,
               f->placement == 2 ? "points" : "areas");
    if ((k->model_type == 1 && !f->projected) || (k->model_type == 2 && f->projected))
        differ(check, "GTModelTypeGeoKey", k->model_type, f->projected ? "a map" : "degrees");
    else if (is_code(code) && code != f->crs_code) {
        snprintf(taken, sizeof taken, f->crs_code ? "EPSG:%d" : "no code", f->crs_code);
        differ(check, f->projected ? "ProjectedCSTypeGeoKey" : "GeographicTypeGeoKey", code, taken);
    }
    if (f->projected)
        differ_unit(check, "ProjLinearUnitsGeoKey", k->projected_linear_units, f->linear_unit_m);
    if (f->unit_m > 0)
        differ_unit(check, "VerticalUnitsGeoKey", k->vertical_units, f->unit_m);
}

brant_status brant_check_judge(brant_context *ctx, brant_check *check)
{
    compare_keys(check);
    judge_cell(check);
    judge_heights(check);
    judge_voids(check);
    judge_place(check);
    judge_surface(check);
    return check->untold ? brant_fail(ctx, BRANT_ERR_MEMORY, "not enough memory to say what is "
                                      "wrong with %s", check->dem->name)
                         : BRANT_OK;
}
