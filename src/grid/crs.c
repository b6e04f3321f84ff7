/* The horizontal part of a grid's CRS, and a quiet PROJ. */
#include "crs.h"

#include <math.h>
#include <stdio.h>
#include <string.h>

/* ---- context ------------------------------------------------------------ */

static void keep_error(void *user, int level, const char *text)
{
    brant_proj *proj = user;
    if (level == PJ_LOG_ERROR)
        snprintf(proj->error, sizeof proj->error, "%s", text);
}

brant_status brant_proj_open(brant_context *ctx, brant_proj *proj)
{
    memset(proj, 0, sizeof *proj);
    proj->pj = proj_context_create();
    if (!proj->pj)
        return brant_fail(ctx, BRANT_ERR_MEMORY, "not enough memory for a PROJ context");
    proj_log_func(proj->pj, proj, keep_error);
    proj_log_level(proj->pj, PJ_LOG_ERROR);
    /* a result must not depend on what a server holds today */
    proj_context_set_enable_network(proj->pj, 0);
    return BRANT_OK;
}

void brant_proj_close(brant_proj *proj)
{
    proj_context_destroy(proj->pj); /* NULL is PROJ's default context, which it keeps */
    memset(proj, 0, sizeof *proj);
}

const char *brant_proj_error(const brant_proj *proj, const char *otherwise)
{
    return proj->error[0] ? proj->error : otherwise;
}

/* ---- the horizontal CRS ------------------------------------------------- */

/* Replace *pj by `next`. */
static void step_to(PJ **pj, PJ *next)
{
    proj_destroy(*pj);
    *pj = next;
}

/* Strip compound parts (and with `plain`, bound datum shifts) until a single
 * CRS is left; NULL if PROJ cannot. Owned by the caller. */
static PJ *horizontal(PJ_CONTEXT *context, const PJ *crs, bool plain)
{
    PJ *pj = proj_clone(context, crs);
    while (pj) {
        PJ_TYPE type = proj_get_type(pj);
        if (type == PJ_TYPE_COMPOUND_CRS)
            step_to(&pj, proj_crs_get_sub_crs(context, pj, 0));
        else if (type == PJ_TYPE_BOUND_CRS && plain)
            step_to(&pj, proj_get_source_crs(context, pj));
        else
            break;
    }
    return pj;
}

static bool is_geographic(const PJ *crs)
{
    PJ_TYPE type = proj_get_type(crs);
    return type == PJ_TYPE_GEOGRAPHIC_2D_CRS || type == PJ_TYPE_GEOGRAPHIC_3D_CRS;
}

bool brant_crs_unit(PJ_CONTEXT *context, const PJ *crs, double *unit)
{
    PJ *axes = proj_crs_get_coordinate_system(context, crs);
    bool ok = axes && proj_cs_get_axis_info(context, axes, 0, NULL, NULL, NULL, unit, NULL, NULL,
                                            NULL);
    proj_destroy(axes);
    return ok && isfinite(*unit) && *unit > 0;
}

static brant_status check_transform(brant_context *ctx, const char *name, const double t[6])
{
    double size = hypot(t[1], t[4]) * hypot(t[2], t[5]);
    double determinant = t[1] * t[5] - t[2] * t[4];
    bool finite = isfinite(t[0]) && isfinite(t[3]) && isfinite(determinant) && isfinite(size);
    /* relative: cell sizes in degrees are small, their product smaller */
    if (!finite || !(fabs(determinant) > 1e-9 * size))
        return brant_fail(ctx, BRANT_ERR_INPUT,
                          "%s: geotransform %g, %g, %g, %g, %g, %g does not span a plane", name,
                          t[0], t[1], t[2], t[3], t[4], t[5]);
    return BRANT_OK;
}

brant_status brant_crs_open(brant_context *ctx, brant_proj *proj, const char *name,
                            const brant_grid *grid, brant_crs *crs)
{
    memset(crs, 0, sizeof *crs);
    if (!grid->crs || !grid->crs[0])
        return brant_fail(ctx, BRANT_ERR_INPUT, "%s: no coordinate reference system", name);
    brant_status status = check_transform(ctx, name, grid->transform);
    if (status != BRANT_OK)
        return status;
    PJ *given = proj_create(proj->pj, grid->crs);
    if (!given)
        return brant_fail(ctx, BRANT_ERR_INPUT,
                          "%s: coordinate reference system not understood: %s", name,
                          brant_proj_error(proj, "PROJ does not know it"));
    const char *title = proj_get_name(given);
    snprintf(crs->name, sizeof crs->name, "%s", title && title[0] ? title : "unnamed");
    crs->full = horizontal(proj->pj, given, false);
    crs->plain = horizontal(proj->pj, given, true);
    proj_destroy(given);
    crs->angular = crs->plain && is_geographic(crs->plain);
    bool projected = crs->plain && proj_get_type(crs->plain) == PJ_TYPE_PROJECTED_CRS;
    if (!crs->full || !(crs->angular || projected) ||
        !brant_crs_unit(proj->pj, crs->plain, &crs->unit))
        return brant_fail(ctx, BRANT_ERR_INPUT,
                          "%s: coordinate reference system '%s' has no place on an ellipsoid "
                          "(neither geographic nor projected)",
                          name, crs->name);
    return BRANT_OK;
}

void brant_crs_close(brant_crs *crs)
{
    proj_destroy(crs->full);
    proj_destroy(crs->plain);
    memset(crs, 0, sizeof *crs);
}

/* ---- geotransform ------------------------------------------------------- */

void brant_transform_apply(const double t[6], double col, double row, double *x, double *y)
{
    *x = t[0] + col * t[1] + row * t[2];
    *y = t[3] + col * t[4] + row * t[5];
}

void brant_transform_invert(const double t[6], double x, double y, double *col, double *row)
{
    double determinant = t[1] * t[5] - t[2] * t[4];
    double dx = x - t[0], dy = y - t[3];
    *col = (dx * t[5] - dy * t[2]) / determinant;
    *row = (dy * t[1] - dx * t[4]) / determinant;
}
