/* Mosaics taken apart into the files that they lay side by side. */
#include "mosaic.h"
#include "mosaic_text.h"

#include <cpl_conv.h>
#include <math.h>
#include <stdlib.h>
#include <string.h>
#include <strings.h>
#include <sys/stat.h>

/* Rectangles are whole cells up to this. */
#define SLACK 0.02

typedef struct apart {
    brant_context *ctx;
    const char *top;
    brant_tiles *tiles;
    size_t sources, missing;
    char *first_missing;
    bool plain;
} apart;

/* A mosaic's band, and the part of it that is wanted. */
typedef struct part {
    const char *path;
    int band, depth;
    brant_window area;     /* of its cells */
    int at_col, at_row;    /* where area's first cell lies on the model */
    const double *nodata;
    size_t nodata_count;
    double scale, offset;  /* that the outermost mosaic states; 1 and 0 */
} part;

/* The number of that name; `otherwise` where there is none. */
static double number_or(const CPLXMLNode *node, const char *name, double otherwise)
{
    double value = brant_vrt_number(node, name);
    return isnan(value) ? otherwise : value;
}

static brant_status take_band(apart *a, const part *p);

static bool whole_number(double value, int *out)
{
    *out = fabs(value) < 1e9 ? (int)lround(value) : 0;
    return fabs(value) < 1e9 && fabs(value - *out) <= SLACK;
}

/* The rectangles of a source that is laid down cell by cell: src -> dst. */
static bool read_rects(const CPLXMLNode *source, brant_window *src, brant_window *dst)
{
    const CPLXMLNode *from = brant_vrt_child(source, "SrcRect");
    const CPLXMLNode *to = brant_vrt_child(source, "DstRect");
    return from && to && whole_number(brant_vrt_number(from, "xOff"), &src->col) &&
           whole_number(brant_vrt_number(from, "yOff"), &src->row) &&
           whole_number(brant_vrt_number(from, "xSize"), &src->cols) &&
           whole_number(brant_vrt_number(from, "ySize"), &src->rows) &&
           whole_number(brant_vrt_number(to, "xOff"), &dst->col) &&
           whole_number(brant_vrt_number(to, "yOff"), &dst->row) &&
           whole_number(brant_vrt_number(to, "xSize"), &dst->cols) &&
           whole_number(brant_vrt_number(to, "ySize"), &dst->rows) && src->cols == dst->cols &&
           src->rows == dst->rows && src->col >= 0 && src->row >= 0;
}

/* Nothing said of the source but which cells of which file go where. */
static bool known_source(const CPLXMLNode *source)
{
    static const char *const known[] = {"SourceFilename", "SourceBand", "SourceProperties",
                                        "SrcRect",        "DstRect",    "NODATA",
                                        "UseMaskBand",    NULL};
    for (const CPLXMLNode *n = source->psChild; n; n = n->psNext) {
        bool ours = n->eType != CXT_Element;
        for (int i = 0; known[i] && !ours; i++)
            ours = brant_vrt_is(n, known[i]);
        if (!ours)
            return false;
    }
    return brant_vrt_child(source, "SourceFilename") != NULL;
}

static bool plain_source(const CPLXMLNode *source)
{
    long long band;
    return known_source(source) &&
           brant_parse_integer(brant_vrt_value(source, "SourceBand", "1"), 1, 65535, &band);
}

/* Bring a source's rectangles within the wanted area; false if nothing is left. */
static bool clip_to(const brant_window *area, brant_window *src, brant_window *dst)
{
    brant_window on = {dst->col - area->col, dst->row - area->row, dst->cols, dst->rows};
    on = brant_window_clip(on, area->cols, area->rows);
    if (on.cols < 1 || on.rows < 1)
        return false;
    src->col += on.col + area->col - dst->col;
    src->row += on.row + area->row - dst->row;
    src->cols = on.cols;
    src->rows = on.rows;
    dst->col = on.col + area->col;
    dst->row = on.row + area->row;
    return true;
}

static brant_status take_file(apart *a, const part *p, const char *file, int band,
                              const brant_window *src, const brant_window *dst,
                              const double *nodata, size_t nodata_count)
{
    int col = p->at_col + dst->col - p->area.col, row = p->at_row + dst->row - p->area.row;
    struct stat info;
    a->sources++;
    if (stat(file, &info) != 0) {
        if (a->missing++ == 0)
            a->first_missing = brant_strdup(a->ctx, file);
        return a->first_missing ? BRANT_OK : BRANT_ERR_MEMORY;
    }
    if (brant_is_mosaic(file)) {
        part within = {file, band, p->depth + 1, *src, col, row, nodata, nodata_count,
                       p->scale, p->offset};
        size_t before = a->tiles->count;
        brant_status status = take_band(a, &within);
        if (status != BRANT_OK || a->plain)
            return status;
        a->plain = true; /* read it as a whole */
        while (a->tiles->count > before) {
            brant_tile *last = &a->tiles->tile[--a->tiles->count];
            free(last->path);
            free(last->nodata);
        }
        status = brant_mosaic_check_sources(a->ctx, file);
        if (status != BRANT_OK)
            return status;
    }
    brant_tile tile = {(char *)(uintptr_t)file,
                       false,
                       band,
                       {col, row, src->cols, src->rows},
                       src->col,
                       src->row,
                       (double *)(uintptr_t)nodata,
                       nodata_count};
    return brant_tiles_add(a->ctx, a->tiles, &tile);
}

static brant_status take_source(apart *a, const part *p, const CPLXMLNode *source,
                                const double *nodata, size_t nodata_count)
{
    brant_window src, dst;
    if (!plain_source(source) || !read_rects(source, &src, &dst)) {
        a->plain = false;
        return BRANT_OK;
    }
    if (!clip_to(&p->area, &src, &dst))
        return BRANT_OK;
    double *all = brant_alloc(a->ctx, nodata_count + 1, sizeof *all);
    char *file = brant_vrt_file(p->path, brant_vrt_child(source, "SourceFilename"));
    brant_status status = all ? BRANT_OK : BRANT_ERR_MEMORY;
    if (status == BRANT_OK) {
        double own = brant_vrt_number(source, "NODATA");
        memcpy(all, nodata, nodata_count * sizeof *all);
        if (!isnan(own))
            all[nodata_count++] = own;
        int band = brant_vrt_whole(source, "SourceBand", "1");
        status = take_file(a, p, file, band, &src, &dst, all, nodata_count);
    }
    CPLFree(file);
    free(all);
    return status;
}

/* Does an inner mosaic's band say more about its heights than the outermost? Its tiles may
 * not. */
static bool states_heights(const part *p, const CPLXMLNode *band)
{
    double scale = number_or(band, "Scale", 1), offset = number_or(band, "Offset", 0);
    return brant_vrt_value(band, "UnitType", "")[0] || (scale != 1 && scale != p->scale) ||
           (offset != 0 && offset != p->offset);
}

/* Does the band hold nothing but sources and words? */
static bool lays_down(const CPLXMLNode *band)
{
    static const char *const known[] = {
        "NoDataValue",   "HideNoDataValue", "UnitType",   "Offset",       "Scale",
        "ColorInterp",   "Description",     "Metadata",   "CategoryNames", "Histograms",
        "SimpleSource",  "ComplexSource",   "ColorTable", "Overview",     NULL};
    if (strcasecmp(brant_vrt_value(band, "subClass", "VRTSourcedRasterBand"),
                   "VRTSourcedRasterBand") != 0)
        return false;
    for (const CPLXMLNode *n = band->psChild; n; n = n->psNext) {
        bool ours = n->eType != CXT_Element;
        for (int i = 0; known[i] && !ours; i++)
            ours = brant_vrt_is(n, known[i]);
        if (!ours)
            return false;
    }
    return true;
}

/* The first source from `node` on. */
static const CPLXMLNode *next_source(const CPLXMLNode *node)
{
    while (node && !brant_vrt_is(node, "SimpleSource") && !brant_vrt_is(node, "ComplexSource"))
        node = node->psNext;
    return node;
}

/* Is `mask` the mask of the very cells that `source` lays down? */
static bool is_mask_of(const CPLXMLNode *mask, const CPLXMLNode *source)
{
    static const char *const same[] = {"SourceFilename", "SourceFilename.relativeToVRT"};
    brant_window from, to, mask_from, mask_to;
    const char *number = brant_vrt_value(mask, "SourceBand", "");
    for (size_t i = 0; i < sizeof same / sizeof same[0]; i++)
        if (strcmp(brant_vrt_value(mask, same[i], ""), brant_vrt_value(source, same[i], "")) != 0)
            return false;
    return known_source(mask) && read_rects(source, &from, &to) &&
           read_rects(mask, &mask_from, &mask_to) && memcmp(&from, &mask_from, sizeof from) == 0 &&
           memcmp(&to, &mask_to, sizeof to) == 0 && strncmp(number, "mask,", 5) == 0 &&
           strcmp(number + 5, brant_vrt_value(source, "SourceBand", "1")) == 0;
}

/* The mosaic has no mask, or one that only lays down those of its tiles, which each tile is
 * read with anyway. */
static bool plain_mask(const CPLXMLNode *root, const CPLXMLNode *band)
{
    if (!brant_vrt_has_mask(root))
        return true;
    const CPLXMLNode *mask = brant_vrt_child(root, "MaskBand.VRTRasterBand");
    const CPLXMLNode *other = mask ? next_source(mask->psChild) : NULL;
    const CPLXMLNode *source = next_source(band->psChild);
    if (brant_vrt_has_band_mask(root) || !mask || !lays_down(mask) ||
        brant_vrt_child(mask, "NoDataValue"))
        return false;
    while (source && other && is_mask_of(other, source)) {
        source = next_source(source->psNext);
        other = next_source(other->psNext);
    }
    return !source && !other;
}

/* The n-th band; NULL where the mosaic does more to it than laying files down. */
static const CPLXMLNode *plain_band(const CPLXMLNode *root, int number)
{
    const CPLXMLNode *band = NULL;
    int count = 0;
    if (brant_vrt_child(root, "subClass"))
        return NULL;
    for (const CPLXMLNode *n = root->psChild; n && !band; n = n->psNext)
        if (brant_vrt_is_band(n) && ++count == number)
            band = n;
    return band && lays_down(band) && plain_mask(root, band) ? band : NULL;
}

static brant_status take_sources(apart *a, const part *p, const CPLXMLNode *band)
{
    brant_status status = BRANT_OK;
    double *nodata = brant_alloc(a->ctx, p->nodata_count + 1, sizeof *nodata);
    if (!nodata)
        return BRANT_ERR_MEMORY;
    size_t count = p->nodata_count;
    double own = brant_vrt_number(band, "NoDataValue");
    if (count > 0)
        memcpy(nodata, p->nodata, count * sizeof *nodata);
    if (!isnan(own))
        nodata[count++] = own;
    for (const CPLXMLNode *n = band->psChild; n && status == BRANT_OK && a->plain; n = n->psNext)
        if (brant_vrt_is(n, "SimpleSource") || brant_vrt_is(n, "ComplexSource"))
            status = take_source(a, p, n, nodata, count);
    free(nodata);
    return status;
}

static brant_status take_band(apart *a, const part *p)
{
    CPLXMLNode *tree, *root;
    part here = *p;
    if (p->depth > BRANT_MOSAIC_DEEPEST)
        return brant_fail(a->ctx, BRANT_ERR_INPUT,
                          "%s: mosaics nested deeper than %d: in a circle?", a->top,
                          BRANT_MOSAIC_DEEPEST);
    brant_status status = brant_vrt_parse(a->ctx, p->path, &tree, &root);
    if (status != BRANT_OK)
        return status;
    const CPLXMLNode *band = plain_band(root, p->band);
    int cols = brant_vrt_whole(root, "rasterXSize", "0");
    int rows = brant_vrt_whole(root, "rasterYSize", "0");
    a->plain = band && (p->depth == 0 || (!states_heights(p, band) &&
                                          p->area.col + p->area.cols <= cols &&
                                          p->area.row + p->area.rows <= rows));
    if (p->depth == 0)
        here.area = (brant_window){0, 0, cols, rows};
    if (p->depth == 0 && band) {
        here.scale = number_or(band, "Scale", 1);
        here.offset = number_or(band, "Offset", 0);
    }
    if (a->plain)
        status = take_sources(a, &here, band);
    CPLDestroyXMLNode(tree);
    return status;
}

brant_status brant_mosaic_take_apart(brant_context *ctx, const char *path, int band,
                                     brant_tiles *tiles, bool *apart_)
{
    apart a = {.ctx = ctx, .top = path, .tiles = tiles};
    brant_status status = take_band(&a, &(part){.path = path, .band = band});
    *apart_ = status == BRANT_OK && a.plain;
    if (!*apart_)
        brant_tiles_clear(tiles);
    else if (a.missing == a.sources)
        status = brant_fail(ctx, BRANT_ERR_INPUT, "%s: none of its tiles is there (%.300s)", path,
                            a.first_missing ? a.first_missing : "it names none");
    else if (a.missing > 0)
        brant_warn(ctx,
                   "%s: %zu of its %zu tiles are not there, taken as unknown ground (%.300s%s)",
                   path, a.missing, a.sources, a.first_missing, a.missing > 1 ? ", ..." : "");
    free(a.first_missing);
    return status;
}
