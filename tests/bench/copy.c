/* The floor of any slope program: read a tiled Float32 raster block by block, write as many
 * bytes as slope, aspect and class take (two rasters of floats, one of bytes), and compute
 * nothing. copy IN OUT OUT OUT */
#include <gdal.h>
#include <stdio.h>
#include <stdlib.h>

#define BLOCK 256

static GDALDatasetH create(const char *path, GDALDatasetH like, GDALDataType type)
{
    const char *const options[] = {"TILED=YES", "BIGTIFF=IF_SAFER", NULL};
    return GDALCreate(GDALGetDriverByName("GTiff"), path, GDALGetRasterXSize(like),
                      GDALGetRasterYSize(like), 1, type, (char **)(uintptr_t)options);
}

int main(int argc, char **argv)
{
    static float block[BLOCK * BLOCK];
    GDALDatasetH in, out[3];
    if (argc != 5)
        return 2;
    GDALAllRegister();
    GDALSetCacheMax(16 << 20);
    in = GDALOpen(argv[1], GA_ReadOnly);
    for (int i = 0; i < 3; i++)
        out[i] = in ? create(argv[i + 2], in, i < 2 ? GDT_Float32 : GDT_Byte) : NULL;
    if (!in || !out[0] || !out[1] || !out[2])
        return 1;
    int across = (GDALGetRasterXSize(in) + BLOCK - 1) / BLOCK;
    int down = (GDALGetRasterYSize(in) + BLOCK - 1) / BLOCK;
    int failed = 0;
    for (int y = 0; y < down && !failed; y++)
        for (int x = 0; x < across && !failed; x++) {
            failed |= GDALReadBlock(GDALGetRasterBand(in, 1), x, y, block) != CE_None;
            for (int i = 0; i < 3; i++)
                failed |= GDALWriteBlock(GDALGetRasterBand(out[i], 1), x, y, block) != CE_None;
        }
    GDALClose(in);
    for (int i = 0; i < 3; i++)
        GDALClose(out[i]);
    return failed;
}
