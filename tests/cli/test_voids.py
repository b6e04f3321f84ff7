"""Voids that nobody declared: told from terrain, said with their count and the
option that declares them, the same in every window."""

import numpy as np
from osgeo import gdal

from brant_case import LOCAL, BrantCase, crs, main


def mountain(cells=200, cell=10.0, base=1500.0):
    """Ribbed slopes of about 30 degrees around a summit, `base` at the corners."""
    axis = (np.arange(cells) + 0.5 - cells / 2) * cell
    x, y = np.meshgrid(axis, axis)
    far = np.hypot(axis[0], axis[0])
    return base + 0.55 * (far - np.hypot(x, y)) + 8 * np.sin(x / 60) * np.cos(y / 45)


def coast(cells=200, cell=10.0):
    """Ground of up to 37 degrees that comes down to a sea at 0: bays and valleys."""
    axis = (np.arange(cells) + 0.5 - cells / 2) * cell
    x, y = np.meshgrid(axis, axis)
    shore = 200 * np.sin(y / 400) + 30 * np.sin(y / 120)
    return np.maximum(0, 0.6 * (x - shore))


def grown(mask):
    """The cells whose 3 x 3 window touches the mask, and the border's."""
    wide = np.pad(mask, 1, constant_values=True)
    out = np.zeros_like(mask)
    for row in range(3):
        for col in range(3):
            out |= wide[row:row + mask.shape[0], col:col + mask.shape[1]]
    return out


class VoidCase(BrantCase):
    def slope(self, dem, *options):
        self.said = self.run_ok('brant-slope', dem, '-o', self.dir / 's.tif', '--scale', 'native',
                                *options).err
        return self.read_raster(self.dir / 's.tif')

    def warnings(self):
        return [line for line in self.said.splitlines() if ': warning: ' in line]

    def check_void(self, dem, hole, *options):
        slope = self.slope(dem, *options)
        self.assertTrue(np.array_equal(np.isnan(slope), grown(hole)))

    def check_told(self, dem, hole, value, count=None):
        """Void, with one warning that names count, value and option; silent with it."""
        self.check_void(dem, hole)
        self.assertEqual(len(self.warnings()), 1, self.said)
        number = format(int(hole.sum()) if count is None else count, ',')
        for words in (f'{number} cells hold {value}', 'unknown', f'--nodata {value} '):
            self.assertIn(words, self.warnings()[0])
        self.check_void(dem, hole, '--nodata', value)
        self.assertEqual(self.warnings(), [])

    def check_terrain(self, dem):
        slope = self.slope(dem)
        self.assertTrue(np.array_equal(np.isnan(slope), grown(np.zeros(slope.shape, bool))))
        self.assertEqual(self.warnings(), [])


class NoElevation(VoidCase):
    def check(self, value, kind):
        z = mountain()
        hole = np.zeros(z.shape, bool)
        hole[:30, :50] = hole[100:103, 80:90] = True
        z[hole] = value
        self.check_told(self.write_dem('v.tif', z, nodata=None, kind=kind), hole, value)

    def test_minus_32767(self):
        self.check(-32767, gdal.GDT_Int16)

    def test_swapped_digits(self):
        self.check(-32678, gdal.GDT_Int16)

    def test_65535(self):
        self.check(65535, gdal.GDT_Float32)

    def test_swapped_digits_beside_the_declared(self):
        z = mountain()
        hole = np.zeros(z.shape, bool)
        hole[:30, :50] = hole[100:103, 80:90] = True
        z[hole] = -32678
        z[50:60, 150:160] = np.nan
        dem = self.write_dem('v.tif', z, nodata=-32768, kind=gdal.GDT_Int16)
        count = int(hole.sum())
        hole[50:60, 150:160] = True
        self.check_told(dem, hole, -32678, count)

    def test_two_values_in_one_line(self):
        z = mountain()
        hole = np.zeros(z.shape, bool)
        hole[:10] = hole[-10:] = True
        z[:10], z[-10:] = -9999, 1e6
        self.check_void(self.write_dem('v.tif', z, nodata=None), hole)
        self.assertEqual(len(self.warnings()), 1)
        self.assertIn('2,000 cells hold -9999, 2,000 cells hold 1000000: ', self.warnings()[0])
        self.check_void(self.dir / 'v.tif', hole, '--nodata', -9999, '--nodata', '1e6')
        self.assertEqual(self.warnings(), [])


class Collars(VoidCase):
    def collar(self, shape):
        """A turned rectangle of ground, as warping leaves it."""
        row, col = np.mgrid[:shape[0], :shape[1]] / shape[0] - 0.5
        return np.maximum(abs(0.9 * row - 0.4 * col), abs(0.4 * row + 0.9 * col)) > 0.38

    def check(self, value, base=1500.0, **how):
        z = mountain(base=base)
        hole = self.collar(z.shape)
        z[hole] = value
        self.check_told(self.write_dem('v.tif', z, nodata=None, **how), hole, value)

    def test_0_around_high_ground(self):
        self.check(0)

    def test_0_around_low_ground(self):
        # its lowest cell beside the collar is at 69 m
        self.check(0, base=-90)

    def test_0_of_whole_numbers(self):
        self.check(0, kind=gdal.GDT_Int16)

    def test_minus_99(self):
        self.check(-99)

    def test_any_other_constant(self):
        self.check(123.5)

    def test_a_hole_of_0(self):
        z = mountain()
        hole = np.zeros(z.shape, bool)
        hole[60:63, 140:141] = True
        z[hole] = 0
        self.check_told(self.write_dem('v.tif', z, nodata=None), hole, 0)

    def test_0_in_feet(self):
        z = mountain() / 0.3048
        hole = self.collar(z.shape)
        z[hole] = 0
        dem = self.write_dem('v.tif', z, nodata=None)
        self.check_void(dem, hole, '--vertical-unit', 'ft')
        self.assertIn('--nodata 0 ', self.said)

    def test_any_other_constant_in_feet(self):
        z = mountain() / 0.3048
        hole = self.collar(z.shape)
        z[hole] = 123.456
        dem = self.write_dem('v.tif', z, nodata=None)
        self.check_void(dem, hole, '--vertical-unit', 'ft')
        self.assertIn('--nodata 123.456 ', self.said)
        self.check_void(dem, hole, '--vertical-unit', 'ft', '--nodata', 123.456)
        self.assertEqual(self.warnings(), [])

    def test_the_same_in_every_window(self):
        # a route far inside and one along the collar: what is void does not depend on it
        z = mountain()
        hole = self.collar(z.shape)
        z[hole] = 0
        dem = self.write_dem('v.tif', z, nodata=None, north=2000)
        for y in (1000, 1700):
            gpx = self.write_gpx('t.gpx', [(100, y), (1900, y)])
            self.run_ok('brant-route', dem, gpx, '-o', self.dir / 'l.csv', '--points',
                        self.dir / 'p.csv')
            heights = [p['elevation_m'] for p in self.read_csv(self.dir / 'p.csv')]
            self.assertTrue(any(heights) and not all(heights))
            self.assertGreater(min(float(h) for h in heights if h), 1400)


class Seas(VoidCase):
    def test_a_sea_is_terrain(self):
        z = coast()
        self.assertGreater((z == 0).mean(), 0.3)
        self.assertGreater(z.max(), 500)
        self.check_terrain(self.write_dem('v.tif', z, nodata=None))

    def test_a_sea_of_whole_numbers_is_terrain(self):
        self.check_terrain(self.write_dem('v.tif', np.round(coast()), nodata=None,
                                          kind=gdal.GDT_Int16))

    def test_a_lake_at_the_border_is_terrain(self):
        self.check_terrain(self.write_dem('v.tif', coast() + 1234.5, nodata=None))

    def test_level_ground_is_terrain(self):
        self.check_terrain(self.write_dem('v.tif', np.zeros((40, 40)), nodata=None))

    def test_a_plateau_above_a_cliff_is_terrain(self):
        z = np.where(np.arange(100)[None, :] < 50, 1000.0, 1100.0) + np.zeros((100, 1))
        self.check_terrain(self.write_dem('v.tif', z, nodata=None))

    def test_a_sea_and_a_fill(self):
        # 0 is both: where it stands beside high ground it is a void, and that is said
        z = coast()
        hole = np.zeros(z.shape, bool)
        hole[90:110, 185:] = True
        z[hole] = 0
        self.assertGreater(z[80:120, 180:184].min(), 300)
        dem = self.write_dem('v.tif', z, nodata=None)
        self.check_void(dem, hole)  # and the sea is none
        self.assertEqual(len(self.warnings()), 1)
        for words in (f'their patches ({int(hole.sum())} cells)', '--nodata 0'):
            self.assertIn(words, self.warnings()[0])
        # a window that ends at the rim of the fill judges it alike
        gpx = self.write_gpx('t.gpx', [(1700, -1000), (1850, -1000)])
        self.run_ok('brant-route', dem, gpx, '-o', self.dir / 'l.csv', '--points',
                    self.dir / 'p.csv')
        self.assertIn('unknown', [p['kind'] for p in self.read_csv(self.dir / 'p.csv')])

    def test_a_sea_that_runs_into_a_collar(self):
        # one patch of 0: the wall beside high ground is a void, no wall of 0 stands
        z = coast()
        hole = np.zeros(z.shape, bool)
        hole[150:] = True
        z[hole] = 0
        slope = self.slope(self.write_dem('v.tif', z, nodata=None))
        self.assertEqual(len(self.warnings()), 1)
        self.assertIn('--nodata 0', self.warnings()[0])
        self.assertTrue(np.isnan(slope[149:152, 180:]).all())
        self.assertLess(np.nanmax(slope[:, 180:]), 46)

    def test_a_real_sea_is_terrain(self):
        dem = self.shared('dem/northshore_3arcsec_4326.tif')
        z = gdal.Open(str(dem)).ReadAsArray()
        slope = self.slope(dem)
        self.assertTrue(np.array_equal(np.isnan(slope), grown(z == -32767)))
        self.assertEqual(len(self.warnings()), 1)  # of the cell size

    def test_a_collar_around_a_real_model(self):
        # the terrain's own lowest ground is at 556 m
        dem = self.shared('dem/davos_1arcsec_4326_i16.tif')
        data = gdal.Warp(str(self.dir / 'w.tif'), str(dem), dstSRS='EPSG:2056', xRes=30, yRes=30,
                         srcNodata='None', format='GTiff')
        z = data.ReadAsArray()
        nodata = data.GetRasterBand(1).GetNoDataValue()
        del data
        self.assertIsNone(nodata)
        self.assertGreater((z == 0).sum(), 10000)
        slope = self.slope(self.dir / 'w.tif')
        self.assertTrue(np.array_equal(np.isnan(slope), grown(z == 0)))
        self.assertIn(f'{int((z == 0).sum()):,} cells hold 0', self.said)


class Masks(VoidCase):
    def setUp(self):
        super().setUp()
        self.z = mountain(64)
        self.hole = np.zeros(self.z.shape, bool)
        self.hole[20:30, 40:] = True
        self.z[self.hole] = 1  # low, but a lawful height

    def create(self, name, bands=1, options=()):
        data = gdal.GetDriverByName('GTiff').Create(str(self.dir / name), 64, 64, bands,
                                                    gdal.GDT_Float32, list(options))
        data.SetSpatialRef(crs(LOCAL))
        data.SetGeoTransform((0, 10, 0, 640, 0, -10))
        data.GetRasterBand(1).WriteArray(self.z)
        return data

    def test_a_mask_beside_the_file(self):
        data = self.create('v.tif')
        gdal.SetConfigOption('GDAL_TIFF_INTERNAL_MASK', 'NO')
        try:
            data.CreateMaskBand(gdal.GMF_PER_DATASET)
            data.GetRasterBand(1).GetMaskBand().WriteArray(np.where(self.hole, 0, 255))
            del data
        finally:
            gdal.SetConfigOption('GDAL_TIFF_INTERNAL_MASK', None)
        self.assertTrue((self.dir / 'v.tif.msk').exists())
        self.check_void(self.dir / 'v.tif', self.hole)

    def test_an_alpha_band(self):
        data = self.create('v.tif', 2, ['ALPHA=YES'])
        data.GetRasterBand(2).SetColorInterpretation(gdal.GCI_AlphaBand)
        data.GetRasterBand(2).WriteArray(np.where(self.hole, 0, 255))
        del data
        self.check_void(self.dir / 'v.tif', self.hole)
        self.assertEqual(self.warnings(), [])

    def test_a_mask_in_a_mosaic_in_a_mosaic(self):
        self.test_a_mask_beside_the_file()
        inner = gdal.BuildVRT(str(self.dir / 'inner.vrt'), [str(self.dir / 'v.tif')])
        del inner
        outer = gdal.BuildVRT(str(self.dir / 'outer.vrt'), [str(self.dir / 'inner.vrt')])
        del outer
        self.check_void(self.dir / 'outer.vrt', self.hole)


class LargeModels(VoidCase):
    """More cells than are all looked at before use."""

    ROWS, COLS = 3000, 3400

    def large(self, name, base, change):
        z = np.tile(mountain(200, base=base), (15, 17)).astype(np.float32)
        change(z)
        return self.write_dem(name, z, nodata=None, options=['TILED=YES', 'COMPRESS=DEFLATE']), z

    def test_a_small_hole_of_0_that_no_sample_meets(self):
        def change(z):
            z[1401:1404, 1131:1135] = 0
        dem, z = self.large('v.tif', 1500, change)
        self.check_void(dem, z == 0)
        self.assertEqual(len(self.warnings()), 1, self.said)
        self.assertIn('--nodata 0 ', self.warnings()[0])

    def test_a_value_that_no_sample_meets(self):
        def change(z):
            z[1401:1404, 1131:1135] = -32678
        dem, z = self.large('v.tif', 1500, change)
        self.check_void(dem, z < 0)
        self.assertEqual(len(self.warnings()), 1, self.said)
        self.assertIn('--nodata -32678 ', self.warnings()[0])

    def test_a_collar_is_counted_as_far_as_it_was_seen(self):
        def change(z):
            z[:600] = 0
        dem, z = self.large('v.tif', 1500, change)
        self.check_void(dem, z == 0)
        self.assertEqual(len(self.warnings()), 1, self.said)
        self.assertRegex(self.warnings()[0], r'at least [0-9,]+ cells hold 0, ')

    def test_threads_agree_beside_zeros(self):
        # low ground is near, so 0 stays open; walls of 0 are judged across blocks
        def change(z):
            z[255:513, 255:513] = 0
            z[2000:, :] = np.maximum(0, z[2000:, :] - 1500)
        dem, z = self.large('v.tif', 1500, change)
        one = self.slope(dem, '--threads', 1)
        first = (self.dir / 's.tif').read_bytes()
        self.slope(dem, '--threads', 2)
        self.assertEqual(first, (self.dir / 's.tif').read_bytes())
        self.assertLess(np.nanmax(one[:1900]), 46)
        self.assertTrue(np.isnan(one[254, 254:514]).all() and np.isnan(one[513, 254:514]).all())


if __name__ == '__main__':
    main()
