/* Tiles of one CRS, cell size and alignment, put on one grid. */
#include "gather.h"

#include <limits.h>
#include <math.h>
#include <stdlib.h>
#include <string.h>

/* Cells lie on each other within this part of a cell: what a corner loses that is
 * stored with six decimals of a degree, at cells of an arc second. */
#define SLACK 0.02

/* The tile that the others are held against. */
typedef struct lead {
    const char *path;
    GDALDatasetH dataset;
    double t[6], inverse[6];
    int band;
} lead;

/* A tile's first cell on the lead's grid, before all are known. */
typedef struct place {
    int64_t col, row;
    int cols, rows;
} place;

static OGRSpatialReferenceH crs_of(GDALDatasetH dataset)
{
    return GDALGetSpatialRef(dataset);
}

static const char *crs_name(GDALDatasetH dataset)
{
    const char *name = crs_of(dataset) ? OSRGetName(crs_of(dataset)) : NULL;
    return name ? name : "none";
}

static brant_status differ(brant_context *ctx, const char *name, const lead *l, const char *path,
                           const char *one, const char *other)
{
    return brant_fail(ctx, BRANT_ERR_INPUT,
                      "%s: tiles that do not go together: %.200s has %s, %.200s %s", name, l->path,
                      one, path, other);
}

static brant_status check_crs(brant_context *ctx, const char *name, const lead *l, const char *path,
                              GDALDatasetH dataset)
{
    static const char *const how[] = {"IGNORE_DATA_AXIS_TO_SRS_AXIS_MAPPING=YES", NULL};
    char one[200], other[200];
    OGRSpatialReferenceH a = crs_of(l->dataset), b = crs_of(dataset);
    if ((!a && !b) || (a && b && OSRIsSameEx(a, b, how)))
        return BRANT_OK;
    snprintf(one, sizeof one, "the CRS '%.150s'", crs_name(l->dataset));
    snprintf(other, sizeof other, "'%.150s'", crs_name(dataset));
    return differ(ctx, name, l, path, one, other);
}

static const char *stated(const char *unit)
{
    return unit && unit[0] ? unit : "none stated";
}

/* One unit and scale must do for all. */
static brant_status check_heights(brant_context *ctx, const char *name, const lead *l,
                                  const char *path, GDALDatasetH dataset)
{
    char one[200], other[200];
    GDALRasterBandH a = GDALGetRasterBand(l->dataset, l->band);
    if (l->band > GDALGetRasterCount(dataset))
        return brant_fail(ctx, BRANT_ERR_INPUT, "%s: has no band %d", path, l->band);
    GDALRasterBandH b = GDALGetRasterBand(dataset, l->band);
    const char *unit_a = GDALGetRasterUnitType(a), *unit_b = GDALGetRasterUnitType(b);
    double scale_a = GDALGetRasterScale(a, NULL), scale_b = GDALGetRasterScale(b, NULL);
    double offset_a = GDALGetRasterOffset(a, NULL), offset_b = GDALGetRasterOffset(b, NULL);
    if (strcmp(stated(unit_a), stated(unit_b)) == 0 && scale_a == scale_b && offset_a == offset_b)
        return BRANT_OK;
    snprintf(one, sizeof one, "heights in '%.50s' x %g + %g", stated(unit_a), scale_a, offset_a);
    snprintf(other, sizeof other, "'%.50s' x %g + %g", stated(unit_b), scale_b, offset_b);
    return differ(ctx, name, l, path, one, other);
}

static brant_status check_cell(brant_context *ctx, const char *name, const lead *l,
                               const char *path, const double t[6], int cols, int rows)
{
    char one[200], other[200];
    double worst = 0;
    const double *inverse = l->inverse;
    /* how far the tile's two edges drift over its size, in cells */
    for (int edge = 0; edge < 2; edge++) {
        double n = edge ? rows : cols;
        double dx = t[1 + edge] - l->t[1 + edge], dy = t[4 + edge] - l->t[4 + edge];
        worst = fmax(worst, fabs(n * (inverse[1] * dx + inverse[2] * dy)));
        worst = fmax(worst, fabs(n * (inverse[4] * dx + inverse[5] * dy)));
    }
    if (worst <= SLACK)
        return BRANT_OK;
    snprintf(one, sizeof one, "cells of %.9g x %.9g", hypot(l->t[1], l->t[4]),
             hypot(l->t[2], l->t[5]));
    snprintf(other, sizeof other, "of %.9g x %.9g", hypot(t[1], t[4]), hypot(t[2], t[5]));
    return differ(ctx, name, l, path, one, other);
}

/* Where it lies on the lead's grid; refused where that is not on whole cells. */
static brant_status find_place(brant_context *ctx, const char *name, const lead *l,
                               const char *path, GDALDatasetH dataset, place *p)
{
    char other[200];
    double t[6];
    p->cols = GDALGetRasterXSize(dataset);
    p->rows = GDALGetRasterYSize(dataset);
    if (GDALGetGeoTransform(dataset, t) != CE_None)
        return brant_fail(ctx, BRANT_ERR_INPUT, "%s: no geotransform, its cells have no place",
                          path);
    brant_status status = check_cell(ctx, name, l, path, t, p->cols, p->rows);
    if (status != BRANT_OK)
        return status;
    double col = l->inverse[0] + t[0] * l->inverse[1] + t[3] * l->inverse[2];
    double row = l->inverse[3] + t[0] * l->inverse[4] + t[3] * l->inverse[5];
    if (!(fabs(col) < 1e9) || !(fabs(row) < 1e9))
        return brant_fail(ctx, BRANT_ERR_INPUT, "%s: %.200s lies too far from %.200s", name, path,
                          l->path);
    p->col = llround(col);
    p->row = llround(row);
    if (fabs(col - (double)p->col) <= SLACK && fabs(row - (double)p->row) <= SLACK)
        return BRANT_OK;
    snprintf(other, sizeof other,
             "another alignment: its corner lies %.3g, %.3g cells off the grid",
             col - (double)p->col, row - (double)p->row);
    return differ(ctx, name, l, path, "one alignment of cells", other);
}

/* A raster that these programs wrote beside the tiles is none. */
static brant_status check_origin(brant_context *ctx, const char *path, GDALDatasetH dataset)
{
    const char *program = GDALGetMetadataItem(dataset, "BRANT_PROGRAM", NULL);
    const char *what = GDALGetDescription(GDALGetRasterBand(dataset, 1));
    if (!program || strcmp(what, "elevation_m") == 0)
        return BRANT_OK;
    return brant_fail(ctx, BRANT_ERR_INPUT, "%s: written by %s, no elevation tile", path, program);
}

static brant_status take_lead(brant_context *ctx, const char *name, const char *path, int band,
                              GDALDatasetH dataset, lead *l)
{
    l->path = path;
    l->dataset = dataset;
    l->band = band;
    if (GDALGetGeoTransform(dataset, l->t) != CE_None || !GDALInvGeoTransform(l->t, l->inverse))
        return brant_fail(ctx, BRANT_ERR_INPUT, "%s: no geotransform, its cells have no place",
                          path);
    if (band > GDALGetRasterCount(dataset))
        return brant_fail(ctx, BRANT_ERR_USAGE, "%s: %.300s has no band %d", name, path, band);
    return BRANT_OK;
}

static brant_status compare(brant_context *ctx, const char *name, const lead *l, const char *path,
                            GDALDatasetH dataset, place *p)
{
    brant_gdal_call call;
    brant_gdal_begin(&call);
    brant_status status = check_origin(ctx, path, dataset);
    if (status == BRANT_OK)
        status = check_crs(ctx, name, l, path, dataset);
    if (status == BRANT_OK)
        status = find_place(ctx, name, l, path, dataset, p);
    if (status == BRANT_OK)
        status = check_heights(ctx, name, l, path, dataset);
    brant_gdal_end(&call);
    return status;
}

/* Look at every tile once; only the first stays open. */
static brant_status look_at_tiles(brant_context *ctx, const char *name, char **paths, int band,
                                  brant_gathered *g, lead *l, place *places)
{
    brant_status status = BRANT_OK;
    for (int i = 0; status == BRANT_OK && paths[i]; i++) {
        GDALDatasetH dataset = NULL;
        status = brant_check_stop(ctx);
        if (status == BRANT_OK)
            status = brant_gdal_open(ctx, paths[i], false, &dataset);
        if (status == BRANT_OK && i == 0) {
            g->lead = dataset;
            status = take_lead(ctx, name, paths[0], band, dataset, l);
        }
        if (status == BRANT_OK)
            status = compare(ctx, name, l, paths[i], dataset, &places[i]);
        if (dataset && dataset != g->lead)
            brant_gdal_close(dataset);
    }
    return status;
}

/* ---- one grid ----------------------------------------------------------- */

/* A tile's column, once round the earth for those west of `middle`. */
static int64_t column(const place *p, int64_t middle, int64_t round)
{
    return p->col + (p->col < middle ? round : 0);
}

static void extent(const place *places, size_t count, int64_t middle, int64_t round,
                   int64_t low[2], int64_t high[2])
{
    for (size_t i = 0; i < count; i++) {
        const place *p = &places[i];
        int64_t col = column(p, middle, round);
        low[0] = i == 0 || col < low[0] ? col : low[0];
        low[1] = i == 0 || p->row < low[1] ? p->row : low[1];
        high[0] = i == 0 || col + p->cols > high[0] ? col + p->cols : high[0];
        high[1] = i == 0 || p->row + p->rows > high[1] ? p->row + p->rows : high[1];
    }
}

/* Cells once round the earth on a grid of degrees; 0 on any other. */
static int64_t round_the_earth(const lead *l)
{
    OGRSpatialReferenceH crs = crs_of(l->dataset);
    double round = l->t[1] > 0 ? 360 / l->t[1] : 0;
    bool degrees = crs && OSRIsGeographic(crs) && l->t[2] == 0 && l->t[4] == 0 &&
                   fabs(OSRGetAngularUnits(crs, NULL) * 180 / M_PI - 1) < 1e-9;
    return degrees && fabs(round - nearbyint(round)) <= SLACK ? llround(round) : 0;
}

/* Tiles on both sides of the antimeridian are neighbours: those of the west half go
 * once round the earth, where that brings all closer together. */
static void close_the_circle(const lead *l, place *places, size_t count)
{
    int64_t low[2] = {0}, high[2] = {0}, low2[2] = {0}, high2[2] = {0};
    int64_t round = round_the_earth(l);
    extent(places, count, 0, 0, low, high);
    int64_t middle = low[0] + round / 2;
    extent(places, count, middle, round, low2, high2);
    if (round == 0 || high2[0] - low2[0] >= high[0] - low[0])
        return;
    for (size_t i = 0; i < count; i++)
        places[i].col = column(&places[i], middle, round);
}

static brant_status add_tiles(brant_context *ctx, const char *name, char **paths, const lead *l,
                              const place *places, size_t count, brant_gathered *g)
{
    int64_t low[2] = {0}, high[2] = {0};
    brant_status status = BRANT_OK;
    extent(places, count, 0, 0, low, high);
    if (high[0] - low[0] > INT_MAX / 2 || high[1] - low[1] > INT_MAX / 2)
        return brant_fail(ctx, BRANT_ERR_INPUT, "%s: its tiles lie too far apart for one raster",
                          name);
    g->tiles.cols = (int)(high[0] - low[0]);
    g->tiles.rows = (int)(high[1] - low[1]);
    memcpy(g->transform, l->t, sizeof l->t);
    for (int axis = 0; axis < 2; axis++)
        g->transform[axis * 3] += (double)low[0] * l->t[axis * 3 + 1] +
                                  (double)low[1] * l->t[axis * 3 + 2];
    g->placed = true;
    for (size_t i = 0; status == BRANT_OK && i < count; i++) {
        brant_tile tile = {.path = paths[i],
                           .band = l->band,
                           .on = {(int)(places[i].col - low[0]), (int)(places[i].row - low[1]),
                                  places[i].cols, places[i].rows}};
        status = brant_tiles_add(ctx, &g->tiles, &tile);
    }
    return status;
}

/* Do two tiles share more than half of the smaller one's cells? Neighbours share a
 * row or a column; a surface model beside a terrain model shares all. */
static bool same_ground(const brant_window *a, const brant_window *b)
{
    brant_window both = brant_window_common(a, b);
    int64_t cells_a = (int64_t)a->cols * a->rows, cells_b = (int64_t)b->cols * b->rows;
    return (int64_t)both.cols * both.rows * 2 > (cells_a < cells_b ? cells_a : cells_b);
}

static void warn_same_ground(brant_context *ctx, const char *name, const brant_tiles *tiles)
{
    for (size_t i = 0; i < tiles->count; i++)
        for (size_t k = 0; k < i; k++)
            if (same_ground(&tiles->tile[i].on, &tiles->tile[k].on)) {
                brant_warn(ctx,
                           "%s: %.300s and %.300s cover the same ground; where both have an "
                           "elevation, the later one counts",
                           name, tiles->tile[k].path, tiles->tile[i].path);
                return;
            }
}

brant_status brant_join(brant_context *ctx, const char *name, char **paths, int band,
                        brant_gathered *g)
{
    lead l = {0};
    size_t count = 0;
    while (paths[count])
        count++;
    place *places = brant_alloc(ctx, count, sizeof *places);
    if (!places)
        return BRANT_ERR_MEMORY;
    brant_status status = look_at_tiles(ctx, name, paths, band, g, &l, places);
    if (status == BRANT_OK) {
        close_the_circle(&l, places, count);
        status = add_tiles(ctx, name, paths, &l, places, count, g);
    }
    if (status == BRANT_OK)
        warn_same_ground(ctx, name, &g->tiles);
    free(places);
    return status;
}
