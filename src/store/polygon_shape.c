/* A feature's geometry as patches on the grid. */
#include "polygon_shape.h"

#include <cpl_string.h>
#include <math.h>
#include <ogr_api.h>
#include <stdlib.h>

#define CHORD_DEG 1.0
/* An edge from another CRS is halved until a piece is this short and its middle this near
 * its place, in cells; never more often than DEEPEST. All edges of a file may be cut this often
 * (a country's border at a cell of 1 m takes some 100,000): those of a polygon as large as a
 * world would never come to an end. */
#define LONGEST_CELLS 64.0
#define NEAR_CELLS 0.01
#define DEEPEST 24
#define CUTS_MAX 1000000
/* No system has coordinates beyond: GEOS is not asked about such. */
#define FURTHEST 1e9

void brant_patches_clear(brant_patches *patches)
{
    for (size_t i = 0; i < patches->count; i++)
        brant_patch_clear(&patches->patch[i]);
    free(patches->patch);
    *patches = (brant_patches){0};
}

/* ---- a sound polygon ---------------------------------------------------- */

static bool is_polygonal(OGRGeometryH shape)
{
    OGRwkbGeometryType type = wkbFlatten(OGR_G_GetGeometryType(shape));
    return type == wkbPolygon || type == wkbMultiPolygon;
}

static bool is_sound(OGRGeometryH shape)
{
    brant_gdal_call call; /* GEOS reports what it cannot read as a failure */
    brant_gdal_begin(&call);
    bool sound = OGR_G_IsValid(shape);
    brant_gdal_end(&call);
    return sound;
}

/* What GEOS makes of a shape that crosses itself: rings made sound, shells joined, holes
 * taken off. (Its other method would make ground that a ring runs round twice a hole.) */
static OGRGeometryH repair(OGRGeometryH shape)
{
    brant_gdal_call call;
    brant_gdal_begin(&call);
    char **how = CSLSetNameValue(NULL, "METHOD", "STRUCTURE");
    OGRGeometryH sound = OGR_G_MakeValidEx(shape, how);
    CSLDestroy(how);
    brant_gdal_end(&call);
    return sound;
}

static brant_status refuse(brant_context *ctx, const brant_placing *placing, long long feature,
                           const char *what)
{
    return brant_fail(ctx, BRANT_ERR_INPUT, "%s: feature %lld: %s", placing->path, feature, what);
}

typedef struct spot {
    double x, y;     /* as in the file */
    double col, row;
} spot;

static brant_status no_place(brant_context *ctx, const brant_placing *placing, long long feature,
                             const spot *s)
{
    char what[128];
    snprintf(what, sizeof what, "a point of it, %.9g %.9g, has no place in the model's "
             "coordinate reference system", s->x, s->y);
    return refuse(ctx, placing, feature, what);
}

/* The first vertex that is absurd (NaN, too). */
static bool find_absurd(OGRGeometryH shape, spot *s)
{
    bool found = false;
    for (int i = 0; i < OGR_G_GetGeometryCount(shape) && !found; i++)
        found = find_absurd(OGR_G_GetGeometryRef(shape, i), s);
    for (int i = 0; i < OGR_G_GetPointCount(shape) && !found; i++) {
        *s = (spot){.x = OGR_G_GetX(shape, i), .y = OGR_G_GetY(shape, i)};
        found = !(fabs(s->x) <= FURTHEST && fabs(s->y) <= FURTHEST);
    }
    return found;
}

/* Bring *shape to sound, flat, straight polygons. */
static brant_status make_sound(brant_context *ctx, const brant_placing *placing,
                               long long feature, OGRGeometryH *shape, brant_shape_fate *fate)
{
    char what[96];
    spot absurd;
    *fate = BRANT_SHAPE_EMPTY;
    if (!*shape || OGR_G_IsEmpty(*shape))
        return BRANT_OK;
    if (find_absurd(*shape, &absurd))
        return no_place(ctx, placing, feature, &absurd);
    if (OGR_G_HasCurveGeometry(*shape, TRUE)) {
        OGRGeometryH straight = OGR_G_GetLinearGeometry(*shape, CHORD_DEG, NULL);
        OGR_G_DestroyGeometry(*shape);
        *shape = straight;
        if (!straight)
            return refuse(ctx, placing, feature, "its curves cannot be read");
    }
    if (!is_polygonal(*shape)) {
        snprintf(what, sizeof what, "a %s, no polygon", OGR_G_GetGeometryName(*shape));
        return refuse(ctx, placing, feature, what);
    }
    OGR_G_FlattenTo2D(*shape);
    OGR_G_CloseRings(*shape);
    *fate = BRANT_SHAPE_TAKEN;
    if (!is_sound(*shape)) {
        OGRGeometryH sound = repair(*shape);
        OGR_G_DestroyGeometry(*shape);
        *shape = sound;
        *fate = BRANT_SHAPE_REPAIRED;
    }
    if (!*shape || !(OGR_G_Area(*shape) > 0.0))
        return refuse(ctx, placing, feature, "its outline shuts in no area");
    return BRANT_OK;
}

/* ---- on the grid -------------------------------------------------------- */

static bool place(const brant_placing *placing, spot *s)
{
    if (placing->locator)
        brant_locator_to_grid(placing->locator, s->x, s->y, &s->col, &s->row);
    else {
        const double *t = placing->grid->transform;
        double determinant = t[1] * t[5] - t[2] * t[4], dx = s->x - t[0], dy = s->y - t[3];
        s->col = (dx * t[5] - dy * t[2]) / determinant;
        s->row = (dy * t[1] - dx * t[4]) / determinant;
    }
    return isfinite(s->col) && isfinite(s->row);
}

/* The edge from a to b, cut where a straight line of the file is none on the grid. Halving
 * gives the same cuts from b to a, so that neighbours keep a side in common. */
static brant_status add_edge(brant_context *ctx, brant_placing *placing, long long feature,
                             const spot *a, const spot *b, int depth, brant_patch *patch)
{
    if (placing->locator && depth < DEEPEST) {
        spot m = {.x = (a->x + b->x) / 2.0, .y = (a->y + b->y) / 2.0};
        if (!place(placing, &m))
            return no_place(ctx, placing, feature, &m);
        double off = hypot(m.col - (a->col + b->col) / 2.0, m.row - (a->row + b->row) / 2.0);
        if (off > NEAR_CELLS || hypot(a->col - b->col, a->row - b->row) > LONGEST_CELLS) {
            if (++placing->cuts > CUTS_MAX)
                return refuse(ctx, placing, feature, "its edges are too long for this model");
            brant_status status = add_edge(ctx, placing, feature, a, &m, depth + 1, patch);
            return status == BRANT_OK
                       ? add_edge(ctx, placing, feature, &m, b, depth + 1, patch)
                       : status;
        }
    }
    return brant_patch_add(ctx, patch, (brant_edge){a->col, a->row, b->col, b->row});
}

static brant_status add_ring(brant_context *ctx, brant_placing *placing, long long feature,
                             OGRGeometryH ring, brant_patch *patch)
{
    int count = OGR_G_GetPointCount(ring);
    brant_status status = BRANT_OK;
    spot last = {0};
    for (int i = 0; i < count && status == BRANT_OK; i++) {
        spot next = {.x = OGR_G_GetX(ring, i), .y = OGR_G_GetY(ring, i)};
        if (!place(placing, &next))
            status = no_place(ctx, placing, feature, &next);
        else if (i > 0)
            status = add_edge(ctx, placing, feature, &last, &next, 0, patch);
        last = next;
    }
    return status;
}

static brant_status add_polygon(brant_context *ctx, brant_placing *placing, long long feature,
                                OGRGeometryH polygon, brant_patches *patches)
{
    brant_status status = brant_grow(ctx, &patches->patch, &patches->capacity,
                                     patches->count + 1, sizeof *patches->patch);
    if (status != BRANT_OK)
        return status;
    brant_patch *patch = &patches->patch[patches->count++];
    *patch = (brant_patch){0};
    for (int i = 0; i < OGR_G_GetGeometryCount(polygon) && status == BRANT_OK; i++)
        status = add_ring(ctx, placing, feature, OGR_G_GetGeometryRef(polygon, i), patch);
    brant_patch_fit(patch);
    return status;
}

/* The polygons in a shape; a repaired one may hold lines beside them, which have no area. */
static brant_status add_polygons(brant_context *ctx, brant_placing *placing, long long feature,
                                 OGRGeometryH shape, brant_patches *patches)
{
    brant_status status = BRANT_OK;
    OGRwkbGeometryType type = wkbFlatten(OGR_G_GetGeometryType(shape));
    if (type == wkbPolygon)
        return add_polygon(ctx, placing, feature, shape, patches);
    if (type != wkbMultiPolygon && type != wkbGeometryCollection)
        return BRANT_OK;
    for (int i = 0; i < OGR_G_GetGeometryCount(shape) && status == BRANT_OK; i++)
        status = add_polygons(ctx, placing, feature, OGR_G_GetGeometryRef(shape, i), patches);
    return status;
}

brant_status brant_shape_patches(brant_context *ctx, brant_placing *placing, long long feature,
                                 OGRGeometryH shape, brant_patches *patches,
                                 brant_shape_fate *fate)
{
    brant_status status = make_sound(ctx, placing, feature, &shape, fate);
    if (status == BRANT_OK && *fate != BRANT_SHAPE_EMPTY)
        status = add_polygons(ctx, placing, feature, shape, patches);
    OGR_G_DestroyGeometry(shape);
    return status;
}
