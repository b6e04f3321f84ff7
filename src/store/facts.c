/* What a model's file says of itself, and what was found in it that it does not say. */
#include "model.h"

#include <cpl_conv.h>
#include <math.h>
#include <stdlib.h>
#include <string.h>

static brant_cells *cells_of(const brant_dem *dem)
{
    return &((brant_model *)dem->self)->cells;
}

/* ---- as GDAL reads it --------------------------------------------------- */

static brant_status copy(brant_context *ctx, const char *text, char **to)
{
    *to = text ? brant_strdup(ctx, text) : NULL;
    return text && !*to ? BRANT_ERR_MEMORY : BRANT_OK;
}

static int epsg_of(OGRSpatialReferenceH crs)
{
    long long code;
    const char *authority = OSRGetAuthorityName(crs, NULL);
    const char *text = OSRGetAuthorityCode(crs, NULL);
    return authority && text && strcmp(authority, "EPSG") == 0 &&
                   brant_parse_integer(text, 1, 1 << 30, &code)
               ? (int)code
               : 0;
}

static brant_status describe_crs(brant_context *ctx, const brant_dem *dem, brant_dem_facts *facts)
{
    OGRSpatialReferenceH crs = brant_gdal_crs(dem->grid.crs);
    if (!crs)
        return brant_fail(ctx, BRANT_ERR_INTERNAL, "%s: its coordinate reference system is gone",
                          dem->name);
    facts->projected = OSRIsProjected(crs) != 0;
    facts->crs_code = epsg_of(crs);
    facts->linear_unit_m = facts->projected ? OSRGetLinearUnits(crs, NULL) : NAN;
    facts->semi_major_m = OSRGetSemiMajor(crs, NULL);
    facts->inverse_flattening = OSRGetInvFlattening(crs, NULL);
    brant_status status = copy(ctx, OSRGetName(crs), &facts->crs);
    if (status == BRANT_OK)
        status = copy(ctx, OSRGetAttrValue(crs, "GEOGCS", 0), &facts->datum);
    if (status == BRANT_OK)
        status = copy(ctx, OSRGetAttrValue(crs, "SPHEROID", 0), &facts->ellipsoid);
    OSRDestroySpatialReference(crs);
    return status;
}

static brant_status describe_file(brant_context *ctx, GDALDatasetH file, int band_number,
                                  brant_dem_facts *facts)
{
    int has = 0;
    GDALRasterBandH band = GDALGetRasterBand(file, band_number);
    OGRSpatialReferenceH crs = GDALGetSpatialRef(file);
    const char *placement = GDALGetMetadataItem(file, "AREA_OR_POINT", NULL);
    facts->bands = GDALGetRasterCount(file);
    facts->type = GDALGetDataTypeName(GDALGetRasterDataType(band));
    facts->placement = !placement ? 0 : strcmp(placement, "Point") == 0 ? 2 : 1;
    facts->nodata = GDALGetRasterNoDataValue(band, &has);
    facts->has_nodata = has != 0;
    facts->masked = (GDALGetMaskFlags(band) & GMF_PER_DATASET) != 0;
    return copy(ctx, crs && OSRIsCompound(crs) ? OSRGetAttrValue(crs, "VERT_CS", 0) : NULL,
                &facts->vertical_crs);
}

brant_status brant_dem_facts_read(brant_context *ctx, const brant_dem *dem,
                                  brant_dem_facts *facts)
{
    brant_gdal_call call;
    brant_handle *handle = NULL;
    brant_cells *cells = cells_of(dem);
    const brant_tile *tile = &cells->tiles.tile[0];
    memset(facts, 0, sizeof *facts);
    facts->cols = cells->tiles.cols;
    facts->rows = cells->tiles.rows;
    facts->unit_m = cells->unit_m;
    facts->offset_m = cells->offset;
    facts->implausible = cells->rules.told;
    facts->implausible_count = (size_t)cells->rules.told_count;
    brant_gdal_begin(&call);
    if (tile->remote)
        brant_gdal_allow(tile->path);
    brant_status status = brant_pool_take(ctx, &cells->pool, tile, &handle);
    if (status == BRANT_OK)
        status = describe_crs(ctx, dem, facts);
    if (status == BRANT_OK)
        status = describe_file(ctx, handle->dataset, tile->band, facts);
    if (handle)
        brant_pool_give(&cells->pool, handle);
    brant_gdal_end(&call);
    if (status == BRANT_OK)
        status = brant_geokeys_read(ctx, tile->path, &facts->keys);
    if (status != BRANT_OK)
        brant_dem_facts_clear(facts);
    return status;
}

void brant_dem_facts_clear(brant_dem_facts *facts)
{
    free(facts->crs);
    free(facts->datum);
    free(facts->ellipsoid);
    free(facts->vertical_crs);
    brant_geokeys_clear(&facts->keys);
    memset(facts, 0, sizeof *facts);
}

/* ---- what it does not say ----------------------------------------------- */

brant_status brant_dem_undeclared(brant_context *ctx, const brant_dem *dem,
                                  const brant_window *window, int64_t *cells)
{
    int k = dem->factor;
    brant_void_tally tally = {0};
    brant_status status = BRANT_OK;
    const brant_window all = {window->col * k, window->row * k, window->cols * k,
                              window->rows * k};
    int rows = (2 << 20) / all.cols; /* 8 MB at once */
    rows = rows < 1 ? 1 : rows > all.rows ? all.rows : rows;
    float *z = brant_alloc(ctx, (size_t)all.cols * (size_t)rows, sizeof *z);
    if (!z)
        return BRANT_ERR_MEMORY;
    for (int row = 0; status == BRANT_OK && row < all.rows; row += rows) {
        brant_window part = {all.col, all.row + row, all.cols,
                             all.rows - row < rows ? all.rows - row : rows};
        status = brant_cells_read(ctx, cells_of(dem), &part, z, (size_t)part.cols, &tally);
    }
    *cells += tally.fills + tally.others;
    for (int i = 0; i < tally.distinct; i++)
        *cells += tally.count[i];
    free(z);
    return status;
}

/* Known cells of a window, and those of them that store whole numbers. */
static void count_whole(const brant_cells *cells, const float *z, size_t count, int64_t *known,
                        int64_t *whole)
{
    for (size_t i = 0; i < count; i++) {
        double stored = ((double)z[i] - cells->offset) / cells->scale;
        if (isnan(stored))
            continue;
        *known += 1;
        /* the float holds metres, the file perhaps feet */
        *whole += fabs(stored - round(stored)) <= 2e-3;
    }
}

brant_status brant_dem_whole_share(brant_context *ctx, const brant_dem *dem, double *share)
{
    enum { ACROSS = 6, SIZE = 120 };
    brant_cells *cells = cells_of(dem);
    const brant_window all = {0, 0, cells->tiles.cols, cells->tiles.rows};
    int64_t known = 0, whole = 0;
    brant_status status = BRANT_OK;
    float *z = brant_alloc(ctx, SIZE * SIZE, sizeof *z);
    if (!z)
        return BRANT_ERR_MEMORY;
    for (int i = 0; status == BRANT_OK && i < ACROSS * ACROSS; i++) {
        brant_window w = {(int)((int64_t)all.cols * (i % ACROSS) / ACROSS),
                          (int)((int64_t)all.rows * (i / ACROSS) / ACROSS), SIZE, SIZE};
        w = brant_window_clip(w, all.cols, all.rows);
        status = brant_cells_read(ctx, cells, &w, z, (size_t)w.cols, NULL);
        if (status == BRANT_OK)
            count_whole(cells, z, (size_t)w.cols * (size_t)w.rows, &known, &whole);
    }
    *share = known > 0 ? (double)whole / (double)known : NAN;
    free(z);
    return status;
}
