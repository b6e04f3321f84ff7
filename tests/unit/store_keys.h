/* Raw GeoKeys put into a GeoTIFF, past GDAL, by libgeotiff. */
#ifndef BRANT_TEST_STORE_KEYS_H
#define BRANT_TEST_STORE_KEYS_H

#include "store_files.h"

#include <geotiff/geotiff.h>
#include <geotiff/xtiffio.h>

/* Add the short key `key` to the file's keys. */
static inline void put_key(const char *path, geokey_t key, int value)
{
    TIFF *tiff = XTIFFOpen(path, "r+");
    assert_non_null(tiff);
    GTIF *keys = GTIFNew(tiff);
    assert_non_null(keys);
    GTIFKeySet(keys, key, TYPE_SHORT, 1, value);
    assert_int_equal(GTIFWriteKeys(keys), 1);
    GTIFFree(keys);
    assert_int_equal(TIFFRewriteDirectory(tiff), 1);
    XTIFFClose(tiff);
}

#endif
