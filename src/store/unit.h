/* Vertical units. Private to the room. */
#ifndef BRANT_STORE_UNIT_H
#define BRANT_STORE_UNIT_H

#include "gdal_call.h"

/* Metres in one of the unit that `text` names; false if it names none we know. */
bool brant_unit_metres(const char *text, double *metres);

/* Metres in one unit of the band's heights, and where that was read: the option,
 * the CRS, the band, or nowhere (metres, with a note). `from` is static. Call
 * within brant_gdal_begin. */
brant_status brant_vertical_unit(brant_context *ctx, const char *name, const char *option,
                                 OGRSpatialReferenceH crs, GDALRasterBandH band, double *metres,
                                 const char **from);

#endif
