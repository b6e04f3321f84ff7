"""Elevation models as they come: holes that hide, units, corners and centres,
mosaics. What is not known must come out as not known, never as flat."""

import numpy as np
from osgeo import gdal

from brant_case import DEMO_DEM, LOCAL, BrantCase, crs, main

HOLE = (slice(20, 24), slice(30, 36))  # rows, columns


def hill(cells=64, cell=10.0):
    """A slope of 30 degrees to the west, ribbed so that no cell is level."""
    axis = (np.arange(cells) + 0.5) * cell
    x, y = np.meshgrid(axis, axis)
    return 1000 + 0.57735 * x + 8 * np.sin(x / 60) * np.cos(y / 45)


def around(hole, shape):
    """The cells whose 3 x 3 window touches the hole, and the border's."""
    unknown = np.zeros(shape, dtype=bool)
    rows, cols = hole
    unknown[rows.start - 1:rows.stop + 1, cols.start - 1:cols.stop + 1] = True
    unknown[0] = unknown[-1] = unknown[:, 0] = unknown[:, -1] = True
    return unknown


class ModelCase(BrantCase):
    def slope(self, dem, *options):
        self.run_ok('brant-slope', dem, '-o', self.dir / 's.tif', '--scale', 'native', *options)
        return self.read_raster(self.dir / 's.tif')

    def create(self, name, z, driver_options=(), kind=gdal.GDT_Float32):
        """An open GeoTIFF on LOCAL with 10 m cells, for further describing."""
        data = gdal.GetDriverByName('GTiff').Create(
            str(self.dir / name), z.shape[1], z.shape[0], 1, kind, list(driver_options))
        data.SetSpatialRef(crs(LOCAL))
        data.SetGeoTransform((0, 10, 0, 640, 0, -10))
        data.GetRasterBand(1).WriteArray(z)
        return data


class HiddenHoles(ModelCase):
    def check(self, dem, *options):
        slope = self.slope(dem, *options)
        self.assertTrue(np.array_equal(np.isnan(slope), around(HOLE, slope.shape)))

    def holed(self, value):
        z = hill()
        z[HOLE] = value
        return z

    def test_nodata(self):
        self.check(self.write_dem('v.tif', self.holed(np.nan), nodata=-32768))

    def test_nan_without_nodata(self):
        self.check(self.write_dem('v.tif', self.holed(np.nan), nodata=None))

    def test_nan_beside_another_nodata(self):
        data = self.create('v.tif', self.holed(np.nan))
        data.GetRasterBand(1).SetNoDataValue(-9999)
        del data
        self.check(self.dir / 'v.tif')

    def test_nodata_that_float32_cannot_hold(self):
        # -3.4e38 as text, as some programs declare it
        data = self.create('v.tif', self.holed(np.float32(-3.4028234663852886e38)))
        data.GetRasterBand(1).SetNoDataValue(-3.4028234663852886e38)
        del data
        self.check(self.dir / 'v.tif')

    def test_infinity(self):
        self.check(self.write_dem('v.tif', self.holed(np.inf), nodata=None))

    def test_an_option(self):
        self.check(self.write_dem('v.tif', self.holed(-32767), nodata=None),
                   '--nodata', -32767)

    def test_nodata_of_0(self):
        self.check(self.write_dem('v.tif', self.holed(0), nodata=0))

    def test_a_mask(self):
        gdal.SetConfigOption('GDAL_TIFF_INTERNAL_MASK', 'YES')
        try:
            data = self.create('v.tif', hill())
            data.CreateMaskBand(gdal.GMF_PER_DATASET)
            mask = np.full((64, 64), 255, dtype=np.uint8)
            mask[HOLE] = 0
            data.GetRasterBand(1).GetMaskBand().WriteArray(mask)
            del data
        finally:
            gdal.SetConfigOption('GDAL_TIFF_INTERNAL_MASK', None)
        self.check(self.dir / 'v.tif')

    def test_a_sparse_block(self):
        # a block that was never written reads as 0, which is no elevation
        path = str(self.dir / 'v.tif')
        data = gdal.GetDriverByName('GTiff').Create(
            path, 64, 64, 1, gdal.GDT_Float32,
            ['TILED=YES', 'BLOCKXSIZE=16', 'BLOCKYSIZE=16', 'SPARSE_OK=YES'])
        data.SetSpatialRef(crs(LOCAL))
        data.SetGeoTransform((0, 10, 0, 640, 0, -10))
        z = hill()
        for row in range(0, 64, 16):
            for col in range(0, 64, 16):
                if (row, col) != (16, 32):
                    data.GetRasterBand(1).WriteArray(z[row:row + 16, col:col + 16], col, row)
        del data
        slope = self.slope(path)
        hole = (slice(16, 32), slice(32, 48))
        self.assertTrue(np.array_equal(np.isnan(slope), around(hole, slope.shape)))

    def test_a_gap_in_a_mosaic(self):
        # two tiles with a gap between them, in a mosaic that declares no nodata
        z = hill()
        for name, cols in (('west.tif', slice(0, 30)), ('east.tif', slice(36, 64))):
            self.write_dem(name, z[:, cols], west=cols.start * 10, north=640, nodata=None)
        vrt = gdal.BuildVRT(str(self.dir / 'gap.vrt'),
                            [str(self.dir / 'west.tif'), str(self.dir / 'east.tif')])
        del vrt
        slope = self.slope(self.dir / 'gap.vrt')
        self.assertTrue(np.array_equal(np.isnan(slope),
                                       around((slice(1, 63), slice(30, 36)), slope.shape)))

    def test_a_mosaic_s_missing_tile(self):
        # known or refused, never taken for level ground
        z = hill()
        for name, cols in (('west.tif', slice(0, 32)), ('east.tif', slice(32, 64))):
            self.write_dem(name, z[:, cols], west=cols.start * 10, north=640)
        vrt = gdal.BuildVRT(str(self.dir / 'm.vrt'),
                            [str(self.dir / 'west.tif'), str(self.dir / 'east.tif')])
        del vrt
        (self.dir / 'east.tif').unlink()
        done = self.run_program('brant-slope', self.dir / 'm.vrt', '-o', self.dir / 's.tif')
        if done.code == 0:
            self.assertTrue(np.isnan(self.read_raster(self.dir / 's.tif')[:, 31:]).all())
        else:
            self.assert_refused(done, 'm.vrt')


class SeamsAndSizes(ModelCase):
    def test_a_mosaic_is_one_raster(self):
        z = self.read_raster(DEMO_DEM)
        tiles = []
        for row in (0, 250):
            for col in (0, 333):
                part = z[row:row + 250 if row == 0 else 600, col:col + 333 if col == 0 else 600]
                tiles.append(str(self.write_dem(f'{row}_{col}.tif', part, west=441000 + col * 10,
                                                north=4809000 - row * 10,
                                                definition='EPSG:32632')))
        vrt = gdal.BuildVRT(str(self.dir / 'all.vrt'), tiles)
        del vrt
        seamed = self.slope(self.dir / 'all.vrt')
        whole = self.slope(DEMO_DEM)
        self.assertTrue(np.array_equal(seamed, whole, equal_nan=True))

    def test_small_models(self):
        # smaller than a window: read, and nothing known of its slope
        for shape in ((1, 1), (2, 2), (1, 40), (40, 2)):
            with self.subTest(shape=shape):
                dem = self.write_dem('small.tif', np.full(shape, 1000.0))
                self.assertTrue(np.isnan(self.slope(dem)).all())

    def test_a_fine_model_is_averaged(self):
        # 1 m cells: the working grid is 5 x 5 of them, and says so
        x, y = np.meshgrid(np.arange(203) + 0.5, np.arange(101) + 0.5)
        z = 1000 + x * np.tan(np.radians(33.0)) + 0.4 * np.sign(np.sin(x * 3.1) * np.sin(y * 2.9))
        z[50, 100] = np.nan
        dem = self.write_dem('fine.tif', z, cell=1.0, north=101)
        self.run_ok('brant-slope', dem, '-o', self.dir / 's.tif')
        made = self.open(self.dir / 's.tif')
        self.assertEqual(made.GetGeoTransform()[1], 5.0)
        slope = self.read_raster(self.dir / 's.tif')
        self.assertAlmostEqual(float(np.nanmedian(slope)), 33.0, delta=0.5)
        self.assertTrue(any('5' == value for key, value in made.GetMetadata().items()
                            if 'FACTOR' in key), made.GetMetadata())


    def test_samples_on_a_tall_geographic_model(self):
        # from 58 to 71 N cells grow a third narrower: half a cell is half of those there
        dem = self.write_dem('tall.tif', np.full((5200, 40), 1000.0), definition='EPSG:4326',
                             transform=(10.0, 0.0025, 0, 71.0, 0, -0.0025))
        for lat in (58.2, 70.8):
            gpx = self.write_gpx('t.gpx', [(10.01, lat), (10.09, lat)], definition='EPSG:4326')
            self.run_ok('brant-route', dem, gpx, '-o', self.dir / 'legs.csv', '--points',
                        self.dir / 'points.csv', '--quiet')
            lon = np.array([float(row['lon']) for row in self.read_csv(self.dir / 'points.csv')])
            steps = np.diff(lon) / 0.0025
            self.assertLessEqual(steps.max(), 0.5001)
            self.assertGreater(steps.max(), 0.45)


class Units(ModelCase):
    def check(self, dem, *options):
        z = hill()
        expected = self.slope(self.write_dem('metres.tif', z, north=640))
        slope = self.slope(dem, *options)
        known = ~np.isnan(expected)
        self.assertTrue(np.array_equal(np.isnan(slope), ~known))
        self.assertLess(np.abs(slope - expected)[known].max(), 0.01)

    def test_feet_by_option(self):
        self.check(self.write_dem('feet.tif', hill() / 0.3048, north=640),
                   '--vertical-unit', 'ft')

    def test_survey_feet_by_option(self):
        self.check(self.write_dem('feet.tif', hill() / (1200 / 3937), north=640),
                   '--vertical-unit', 'us-ft')

    def test_feet_by_the_band(self):
        data = self.create('feet.tif', hill() / 0.3048)
        data.GetRasterBand(1).SetUnitType('foot')
        del data
        self.check(self.dir / 'feet.tif')

    def test_feet_by_the_crs(self):
        data = self.create('feet.tif', hill() / 0.3048)
        # EPSG:32632 + NAVD88 height (ftUS) is no sensible pair, but a lawful one
        data.SetSpatialRef(crs('EPSG:32632+6360'))
        data.SetGeoTransform((500000, 10, 0, 5100000, 0, -10))
        del data
        slope = self.slope(self.dir / 'feet.tif')
        self.assertLess(np.nanmax(slope), 50)  # as metres it would be about 62

    def test_scaled_millimetres(self):
        data = self.create('mm.tif', np.round((hill() - 500) * 1000), kind=gdal.GDT_Int32)
        data.GetRasterBand(1).SetScale(0.001)
        data.GetRasterBand(1).SetOffset(500)
        del data
        self.check(self.dir / 'mm.tif')

    def test_an_assumed_unit_is_said(self):
        done = self.run_ok('brant-slope', self.write_dem('v.tif', hill(), north=640), '-o',
                           self.dir / 's.tif')
        self.assertRegex(done.err, r'(?i)assum')


class CornersAndCentres(ModelCase):
    """A cliff 100 m high along x = 320; a route crosses it. Pixel is point or pixel
    is area: the map's place of the cliff is the same, and so is the route's."""

    def crossing(self, name, point):
        z = np.where(np.arange(64)[None, :] < 32, 1000.0, 1100.0) + np.zeros((64, 1))
        path = self.dir / name
        data = gdal.GetDriverByName('GTiff').Create(str(path), 64, 64, 1, gdal.GDT_Float32)
        data.SetSpatialRef(crs(LOCAL))
        data.SetGeoTransform((0, 10, 0, 640, 0, -10))
        if point:
            data.SetMetadataItem('AREA_OR_POINT', 'Point')
        data.GetRasterBand(1).WriteArray(z)
        del data
        gpx = self.write_gpx('tour.gpx', [(250, 320), (390, 320)])
        self.run_ok('brant-route', path, gpx, '-o', self.dir / 'l.csv', '--points',
                    self.dir / 'p.csv')
        points = [(250 + float(p['along_m']), float(p['elevation_m']))
                  for p in self.read_csv(self.dir / 'p.csv') if p['elevation_m']]
        return float(np.interp(1050, [z for _, z in points], [x for x, _ in points]))

    def test_the_cliff_is_where_it_is(self):
        self.assertAlmostEqual(self.crossing('area.tif', False), 320, delta=0.5)
        self.assertAlmostEqual(self.crossing('point.tif', True), 320, delta=0.5)


if __name__ == '__main__':
    main()
