/* The text of a mosaic (VRT). Private to the room. */
#ifndef BRANT_STORE_MOSAIC_TEXT_H
#define BRANT_STORE_MOSAIC_TEXT_H

#include "brant/store.h"

#include <cpl_minixml.h>

/* Parse the file; `*root` is in `*tree`, for CPLDestroyXMLNode. */
brant_status brant_vrt_parse(brant_context *ctx, const char *path, CPLXMLNode **tree,
                             CPLXMLNode **root);
bool brant_vrt_is(const CPLXMLNode *node, const char *name);
bool brant_vrt_is_band(const CPLXMLNode *node);
CPLXMLNode *brant_vrt_child(const CPLXMLNode *node, const char *name); /* or NULL */
const char *brant_vrt_value(const CPLXMLNode *node, const char *name, const char *otherwise);
double brant_vrt_number(const CPLXMLNode *node, const char *name); /* or NaN */
/* As GDAL reads it: digits, whatever follows them; 0 where there are none. */
int brant_vrt_whole(const CPLXMLNode *node, const char *name, const char *otherwise);
/* Where the file is that a source of the mosaic names (CPLFree). */
char *brant_vrt_file(const char *mosaic, const CPLXMLNode *file);
/* Does a mask or alpha band say what is void? Gaps are 0 there, too. */
bool brant_vrt_has_mask(const CPLXMLNode *root);
/* ... of one band, not of all. */
bool brant_vrt_has_band_mask(const CPLXMLNode *root);

#endif
