/* Statistics of a band while its blocks pass by. Private to the room. */
#ifndef BRANT_STORE_STATISTICS_H
#define BRANT_STORE_STATISTICS_H

#include "brant/store.h"

#include <gdal.h>

typedef struct brant_statistics {
    double cells;        /* all of them */
    double known;        /* neither NaN nor nodata; the rest is of these */
    double low, high;    /* none: INFINITY and -INFINITY */
    double sum, squares;
} brant_statistics;

void brant_statistics_begin(brant_statistics *statistics);
/* Take `rows` rows of `cols` cells, BRANT_BLOCK apart. `nodata` NaN: none is declared. */
void brant_statistics_floats(brant_statistics *statistics, const float *cells, int cols, int rows,
                             float nodata);
void brant_statistics_doubles(brant_statistics *statistics, const double *cells, int cols,
                              int rows, double nodata);
/* Say them in the band's metadata, by GDAL's names. Without a known cell only how many are
 * known, none. Call within brant_gdal_begin. */
brant_status brant_statistics_say(brant_context *ctx, const brant_statistics *statistics,
                                  GDALRasterBandH band);

#endif
