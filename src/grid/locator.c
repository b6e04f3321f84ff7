/* WGS 84 positions to grid coordinates and back.
 *
 * One operation for all points: where PROJ knows several datum operations it
 * would choose one point by point, and a track would jump by metres where the
 * choice changes. The locator takes the one that PROJ chooses for the middle of
 * the grid and keeps it; a point that this operation cannot serve has no place. */
#include "brant/grid.h"
#include "crs.h"

#include <math.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <strings.h>

struct brant_locator {
    brant_proj proj;
    PJ *operation;       /* WGS 84 degrees (or another CRS), x first, to CRS coordinates */
    double transform[6];
    double period;       /* CRS units in a full turn of longitude; 0: not angular */
    double from_period;  /* the same of what positions are given in: 360 for degrees */
    double middle_x;     /* of the grid, CRS units */
    double accuracy;     /* metres; 0 none needed, negative not stated */
    char name[256];      /* of the operation */
};

/* ---- the grid's place --------------------------------------------------- */

/* The grid's bounding box in CRS coordinates: west, south, east, north. */
static void bounds(const brant_grid *grid, double box[4])
{
    box[0] = box[1] = INFINITY;
    box[2] = box[3] = -INFINITY;
    for (int corner = 0; corner < 4; corner++) {
        double x, y;
        brant_transform_apply(grid->transform, corner & 1 ? grid->cols : 0,
                              corner & 2 ? grid->rows : 0, &x, &y);
        box[0] = fmin(box[0], x);
        box[1] = fmin(box[1], y);
        box[2] = fmax(box[2], x);
        box[3] = fmax(box[3], y);
    }
}

/* The grid's middle in the CRS `from`. Here and in the extent a datum shift plays no
 * part, so any operation will do. */
static bool find_middle(brant_proj *proj, const brant_crs *crs, PJ *from, const double box[4],
                        PJ_COORD *middle)
{
    PJ *as_defined = proj_create_crs_to_crs_from_pj(proj->pj, crs->full, from, NULL, NULL);
    PJ *rough = as_defined ? proj_normalize_for_visualization(proj->pj, as_defined) : NULL;
    if (rough)
        *middle = proj_trans(rough, PJ_FWD,
                             proj_coord((box[0] + box[2]) / 2, (box[1] + box[3]) / 2, 0, 0));
    bool ok = rough && isfinite(middle->xy.x) && isfinite(middle->xy.y);
    proj_destroy(rough);
    proj_destroy(as_defined);
    return ok;
}

/* The grid's extent (degrees: west, south, east, north; west > east across the
 * antimeridian), as PROJ's area of interest. */
static bool find_extent(brant_proj *proj, const brant_crs *crs, PJ *wgs84, const double box[4],
                        PJ_AREA *area)
{
    double west, south, east, north;
    PJ *as_defined = proj_create_crs_to_crs_from_pj(proj->pj, crs->full, wgs84, NULL, NULL);
    PJ *rough = as_defined ? proj_normalize_for_visualization(proj->pj, as_defined) : NULL;
    bool ok = rough && proj_trans_bounds(proj->pj, rough, PJ_FWD, box[0], box[1], box[2], box[3],
                                         &west, &south, &east, &north, 21);
    if (ok && east - west >= 360) {
        west = -180;
        east = 180;
    }
    if (ok) /* PROJ knows its operations' areas in -180 to 180; a grid may count from 0 to 360 */
        proj_area_set_bbox(area, remainder(west, 360), south, remainder(east, 360), north);
    proj_destroy(rough);
    proj_destroy(as_defined);
    return ok;
}

/* ---- the operation ------------------------------------------------------ */

/* True where every step is a conversion: the datum stays, nothing is lost. */
static bool is_conversion(PJ_CONTEXT *context, const PJ *operation)
{
    PJ_TYPE type = proj_get_type(operation);
    if (type != PJ_TYPE_CONCATENATED_OPERATION)
        return type == PJ_TYPE_CONVERSION;
    int steps = proj_concatoperation_get_step_count(context, operation);
    for (int i = 0; i < steps; i++) {
        PJ *step = proj_concatoperation_get_step(context, operation, i);
        bool conversion = step && is_conversion(context, step);
        proj_destroy(step);
        if (!conversion)
            return false;
    }
    return steps > 0;
}

/* Fix the operation that serves `middle`. */
static PJ *choose(brant_proj *proj, const brant_crs *crs, const PJ *from, PJ_AREA *area,
                  PJ_COORD middle)
{
    static const char *const options[] = {"ALLOW_BALLPARK=NO", NULL};
    PJ *chosen = NULL;
    PJ *as_defined = proj_create_crs_to_crs_from_pj(proj->pj, from, crs->full, area, options);
    PJ *any = as_defined ? proj_normalize_for_visualization(proj->pj, as_defined) : NULL;
    if (any) {
        PJ_COORD there = proj_trans(any, PJ_FWD, middle);
        if (isfinite(there.xy.x) && isfinite(there.xy.y))
            chosen = proj_trans_get_last_used_operation(any);
    }
    proj_destroy(any);
    proj_destroy(as_defined);
    return chosen;
}

/* PROJ joins the names of an operation's steps by " + "; a reader does not care
 * for the swaps of axes among them. */
static void copy_name(const char *from, char *to, size_t room)
{
    static const char swap[] = "axis order change (2D)", join[] = " + ";
    size_t length = 0;
    to[0] = '\0';
    while (*from && length < room) {
        const char *end = strstr(from, join);
        size_t part = end ? (size_t)(end - from) : strlen(from);
        if (part != sizeof swap - 1 || strncmp(from, swap, part) != 0)
            length += (size_t)snprintf(to + length, room - length, "%s%.*s", length ? join : "",
                                       (int)part, from);
        from += part + (end ? sizeof join - 1 : 0);
    }
}

static void describe(brant_locator *l)
{
    const char *name = proj_get_name(l->operation);
    copy_name(name ? name : "", l->name, sizeof l->name);
    l->accuracy = proj_coordoperation_get_accuracy(l->proj.pj, l->operation);
    if (l->accuracy < 0 && is_conversion(l->proj.pj, l->operation))
        l->accuracy = 0;
}

static brant_status no_operation(brant_context *ctx, const char *name, brant_proj *proj,
                                 const brant_crs *from, const brant_crs *crs)
{
    PJ *datum = proj_crs_get_datum_forced(proj->pj, crs->plain);
    const char *title = datum ? proj_get_name(datum) : NULL;
    char kept[128];
    snprintf(kept, sizeof kept, "%s", title && title[0] ? title : "unknown");
    proj_destroy(datum);
    if (strncasecmp(kept, "unknown", 7) == 0 || strncasecmp(kept, "not specified", 13) == 0 ||
        strncasecmp(kept, "not_specified", 13) == 0)
        return brant_fail(ctx, BRANT_ERR_INPUT,
                          "%s: the datum of coordinate reference system '%s' is unknown: %s "
                          "positions cannot be placed on it",
                          name, crs->name, from->full ? from->name : "WGS 84");
    return brant_fail(ctx, BRANT_ERR_INPUT,
                      "%s: no datum operation is known here from %s to '%s' (datum '%s')", name,
                      from->full ? from->name : "WGS 84", crs->name, kept);
}

static brant_status open_operation(brant_context *ctx, const char *name, const brant_grid *grid,
                                   const brant_crs *from, const brant_crs *crs,
                                   brant_locator *l)
{
    double box[4];
    PJ_COORD middle;
    brant_status status = BRANT_OK;
    bounds(grid, box);
    l->middle_x = (box[0] + box[2]) / 2;
    PJ *wgs84 = proj_create(l->proj.pj, "EPSG:4326");
    PJ_AREA *area = proj_area_create();
    if (!wgs84 || !area)
        status = brant_fail(ctx, BRANT_ERR_IO, "PROJ's database is not usable: %s",
                            brant_proj_error(&l->proj, "EPSG:4326 is not in it"));
    else if (!find_extent(&l->proj, crs, wgs84, box, area) ||
             !find_middle(&l->proj, crs, from->full ? from->full : wgs84, box, &middle))
        status = brant_fail(ctx, BRANT_ERR_INPUT,
                            "%s: the grid lies outside the domain of '%s'", name, crs->name);
    else {
        l->operation = choose(&l->proj, crs, from->full ? from->full : wgs84, area, middle);
        if (!l->operation)
            status = no_operation(ctx, name, &l->proj, from, crs);
        else
            describe(l);
    }
    proj_area_destroy(area);
    proj_destroy(wgs84);
    return status;
}

brant_status brant_locator_create(brant_context *ctx, const char *name, const brant_grid *grid,
                                  brant_locator **locator)
{
    return brant_locator_create_from(ctx, name, grid, NULL, locator);
}

brant_status brant_locator_create_from(brant_context *ctx, const char *name,
                                       const brant_grid *grid, const char *given,
                                       brant_locator **locator)
{
    brant_crs crs = {0}, from = {0}; /* from.full NULL: WGS 84 */
    *locator = NULL;
    brant_locator *l = brant_alloc(ctx, 1, sizeof *l);
    if (!l)
        return BRANT_ERR_MEMORY;
    for (int i = 0; i < 6; i++)
        l->transform[i] = grid->transform[i];
    brant_status status = brant_proj_open(ctx, &l->proj);
    if (status == BRANT_OK)
        status = brant_crs_open(ctx, &l->proj, name, grid, &crs);
    if (status == BRANT_OK && given) {
        brant_grid any = {1, 1, {0, 1, 0, 0, 0, 1}, (char *)(uintptr_t)given};
        status = brant_crs_open(ctx, &l->proj, name, &any, &from);
    }
    if (status == BRANT_OK)
        status = open_operation(ctx, name, grid, &from, &crs, l);
    if (status == BRANT_OK) {
        l->from_period = !given ? 360 : from.angular ? 2 * M_PI / from.unit : 0;
        l->period = crs.angular ? 2 * M_PI / crs.unit : 0;
        *locator = l;
        l = NULL;
    }
    brant_crs_close(&from);
    brant_crs_close(&crs);
    brant_locator_destroy(l);
    return status;
}

void brant_locator_destroy(brant_locator *locator)
{
    if (!locator)
        return;
    proj_destroy(locator->operation);
    brant_proj_close(&locator->proj);
    free(locator);
}

/* ---- positions ---------------------------------------------------------- */

static bool convert(brant_locator *l, PJ_DIRECTION direction, double *x, double *y)
{
    if (!isfinite(*x) || !isfinite(*y))
        return false;
    PJ_COORD to = proj_trans(l->operation, direction, proj_coord(*x, *y, 0, 0));
    *x = to.xy.x;
    *y = to.xy.y;
    return isfinite(*x) && isfinite(*y);
}

/* `angle` plus whole turns, in [middle - period/2, middle + period/2). */
static double wrap(double angle, double middle, double period)
{
    double turned = angle - period * floor((angle - middle) / period + 0.5);
    return turned - middle < period / 2 ? turned : turned - period; /* rounding */
}

void brant_locator_to_grid(brant_locator *locator, double lon, double lat, double *col,
                           double *row)
{
    *col = *row = NAN;
    const double turn = locator->from_period;
    if (!isfinite(lon) || !(turn == 0 || fabs(lat) <= turn / 4))
        return;
    double x = turn > 0 ? wrap(lon, 0, turn) : lon, y = lat;
    if (!convert(locator, PJ_FWD, &x, &y))
        return;
    if (locator->period > 0)
        x = wrap(x, locator->middle_x, locator->period);
    brant_transform_invert(locator->transform, x, y, col, row);
}

void brant_locator_to_lonlat(brant_locator *locator, double col, double row, double *lon,
                             double *lat)
{
    double x, y;
    *lon = *lat = NAN;
    brant_transform_apply(locator->transform, col, row, &x, &y);
    if (!convert(locator, PJ_INV, &x, &y))
        return;
    *lon = wrap(x, 0, 360);
    *lat = y;
}

double brant_locator_accuracy(const brant_locator *locator, const char **operation)
{
    if (operation)
        *operation = locator->name;
    return locator->accuracy;
}
