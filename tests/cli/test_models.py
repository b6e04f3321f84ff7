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

    def test_a_sparse_block_of_a_type_without_the_nodata_value(self):
        # whole numbers without a sign have no -9999: GDAL reads the block as 0, here low ground
        path = str(self.dir / 'v.tif')
        data = gdal.GetDriverByName('GTiff').Create(
            path, 64, 64, 1, gdal.GDT_UInt16,
            ['TILED=YES', 'BLOCKXSIZE=16', 'BLOCKYSIZE=16', 'SPARSE_OK=YES'])
        data.SetSpatialRef(crs(LOCAL))
        data.SetGeoTransform((0, 10, 0, 640, 0, -10))
        data.GetRasterBand(1).SetNoDataValue(-9999)
        z = np.mgrid[:64, :64].sum(0) // 4
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

    def test_decimetres_by_option(self):
        self.check(self.write_dem('dm.tif', hill() * 10, north=640), '--vertical-unit', 'dm')

    def test_an_assumed_unit_is_said(self):
        done = self.run_ok('brant-slope', self.write_dem('v.tif', hill(), north=640), '-o',
                           self.dir / 's.tif')
        self.assertRegex(done.err, r'(?i)assum')


class DoubtfulUnits(ModelCase):
    """Heights that are no metres are told by what they would be as metres."""

    def alps(self, factor, cells=300):
        # ridges and valleys of up to 37 degrees, 1,000 m and more between them
        axis = (np.arange(cells) + 0.5) * 30.0
        x, y = np.meshgrid(axis, axis)
        z = 2600 + 600 * np.sin(x / 1000) * np.cos(y / 1400) + 100 * np.sin(x / 300 + y / 500)
        return self.write_dem('v.tif', z * factor, cell=30.0)

    def warned(self, dem, *options):
        done = self.run_ok('brant-slope', dem, '-o', self.dir / 's.tif', *options)
        return [line for line in done.err.splitlines() if '--vertical-unit' in line
                and ': warning: ' in line]

    def test_metres(self):
        self.assertEqual(self.warned(self.alps(1)), [])

    def test_feet(self):
        # no cell as high as 9,000 "metres" beyond the summits': told by steepness
        said = self.warned(self.alps(1 / 0.3048))
        self.assertEqual(len(said), 1, said)
        self.assertRegex(said[0], r'do not look like metres: .* above 45 degrees. Feet')
        self.assertEqual(self.warned(self.alps(1 / 0.3048), '--vertical-unit', 'ft'), [])

    def test_decimetres(self):
        # all of it above 9,000: no heap of values to declare as nodata
        done = self.run_program('brant-slope', self.alps(10), '-o', self.dir / 's.tif')
        said = [line for line in done.err.splitlines() if ': warning: ' in line]
        self.assertEqual(len([line for line in said if '--vertical-unit' in line]), 1, said)
        self.assertEqual([line for line in said if '--nodata' in line], [])

    def test_a_stated_unit_is_doubted_too(self):
        dem = self.alps(1 / 0.3048)
        data = gdal.Open(str(dem), gdal.GA_Update)
        data.GetRasterBand(1).SetUnitType('m')
        del data
        said = self.warned(dem)
        self.assertEqual(len(said), 1, said)
        self.assertIn('the unit that it states', said[0])

    def test_real_models(self):
        for name, band in (('davos_1arcsec_4326_i16', 1), ('gotthard_3arcsec_4326_voids', 1),
                           ('ecuador_10m_utm17s_f32_band4_nan', 4)):
            with self.subTest(name):
                dem = self.shared(f'dem/{name}.tif')
                self.assertEqual(self.warned(dem, '--band-number', band), [])
                data = gdal.Open(str(dem))
                z = data.ReadAsArray()
                z = (z if z.ndim == 2 else z[band - 1]).astype(float)
                z[z < -1000] = np.nan
                feet = self.write_dem('feet.tif', z / 0.3048, definition=data.GetProjection(),
                                      transform=data.GetGeoTransform())
                self.assertEqual(len(self.warned(feet)), 1)
                self.assertEqual(self.warned(feet, '--vertical-unit', 'ft'), [])


class Coarse(ModelCase):
    def test_what_is_missed_is_said_in_numbers(self):
        z = hill(80)
        for cell, scale, words in ((10.0, (), None), (12.5, (), 'cells of 12 m: pitches shorter '
                                   'than 25 m may be missed, and rolls 50 m long'),
                                   (30.0, (), 'cells of 30 m: pitches shorter than 60 m'),
                                   (10.0, ('--scale', 20), 'pitches shorter than 40 m')):
            with self.subTest(cell=cell, scale=scale):
                dem = self.write_dem('v.tif', 1000 + (z - 1000) * cell / 10, cell=cell,
                                     north=cell * 80)
                done = self.run_ok('brant-slope', dem, '-o', self.dir / 's.tif', *scale)
                said = [line for line in done.err.splitlines() if 'may be missed' in line]
                self.assertEqual(len(said), 1 if words else 0, done.err)
                if words:
                    self.assertIn(words, said[0])

    def test_the_share_of_a_roll(self):
        # central differences of a sine over n = 4 cells: sin(2 pi / n) / (2 pi / n) = 0.637
        cell, wave, height = 30.0, 120.0, 5.0
        x = (np.arange(40)) * cell
        z = 1000 + height * np.sin(2 * np.pi * x / wave) + np.zeros((40, 1))
        slope = self.slope(self.write_dem('v.tif', z, cell=cell, north=1200))
        true = height * 2 * np.pi / wave
        self.assertAlmostEqual(np.tan(np.radians(np.nanmax(slope))) / true, 0.64, delta=0.005)


class RealModels(ModelCase):
    """All of the shared models: a right answer, or a right refusal. Shares of 30-45
    degrees and void counts: the shared data's provenance notes."""

    def share(self, name, expected, delta, *options):
        slope = self.slope(self.shared('dem/' + name), *options)
        known = slope[~np.isnan(slope)]
        self.assertAlmostEqual(100 * ((known >= 30) & (known <= 45)).mean(), expected, delta=delta)
        return slope

    def test_davos(self):
        self.share('davos_1arcsec_4326_i16.tif', 31.94, 0.1)

    def test_ecuador(self):
        self.share('ecuador_10m_utm17s_f32_band4_nan.tif', 53.36, 0.1, '--band-number', 4)

    def test_gotthard(self):
        self.share('gotthard_3arcsec_4326_voids.tif', 32.94, 0.1)

    def test_northshore(self):
        self.share('northshore_3arcsec_4326.tif', 13.24, 0.1)

    def test_sthelens(self):
        self.share('sthelens_30m_usgs_nad27.dem', 12.52, 0.1)

    def test_craterlake(self):
        dem = self.shared('dem/craterlake_undeclared_nodata.tif')
        done = self.run_ok('brant-slope', dem, '-o', self.dir / 's.tif')
        self.assertEqual(done.err.count('39,489 cells hold -32767'), 1)
        void = gdal.Open(str(dem)).ReadAsArray() == -32767
        self.assertEqual(void.sum(), 39489)
        self.assertTrue(np.isnan(self.read_raster(self.dir / 's.tif')[void]).all())

    def test_edges(self):
        for name, shape in (('edge_6x4.tif', (4, 6)), ('edge_8_columns.tif', (160, 8))):
            slope = self.slope(self.shared('dem/' + name))
            self.assertEqual(slope.shape, shape)
            self.assertFalse(np.isnan(slope[1:-1, 1:-1]).any())
        for name, words in (('edge_no_crs.tif', 'no coordinate reference system'),
                            ('edge_all_void.tif', 'every cell is void')):
            done = self.run_program('brant-slope', self.shared('dem/' + name), '-o',
                                    self.dir / 'no.tif')
            self.assert_refused(done, name, words)


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
