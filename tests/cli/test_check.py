"""brant-check: what it says of real models and of made ones, and what it calls them."""

import json
import math

import numpy as np
from osgeo import gdal

from brant_case import DEMO_DEM, LOCAL, BrantCase, crs, main


def hills(cells=120, cell=10.0):
    """Ridges and gullies of up to 40 degrees, 1,000 m up."""
    axis = (np.arange(cells) + 0.5) * cell
    x, y = np.meshgrid(axis, axis)
    return 1000 + 60 * np.sin(x / 110) * np.cos(y / 130) + 0.31 * x + 0.013 * y


class CheckCase(BrantCase):
    def page(self, dem, *options, code=0):
        """The page as JSON; the text page must come to the same end."""
        text = self.run_program('brant-check', dem, '--quiet', *options)
        self.assertEqual(text.code, code, text.err)
        self.assertEqual(text.complaints(), [])
        done = self.run_program('brant-check', dem, '--quiet', '--format', 'json', *options)
        self.assertEqual(done.code, code, done.err)
        page = json.loads(done.out)
        level = page['fitness']['level']
        self.assertEqual(level == 'unfit', code == 3)
        self.assertRegex(text.out, rf'(?m)^{level.upper()}\b')
        self.assertTrue(text.out.endswith('None found is not safe.\n'))
        self.assertTrue(page['caution'].endswith('None found is not safe.'))
        lines = text.out.splitlines()
        self.assertLessEqual(max(map(len, lines)), 79)
        self.assertLessEqual(len(lines), 66, 'more than a page')
        for reason in page['fitness']['reasons']:
            self.assertIn(reason['text'][:30], ' '.join(text.out.split()))
        self.text = ' '.join(text.out.split())
        return page

    def reasons(self, page, level='fit with care'):
        return [r['text'] for r in page['fitness']['reasons'] if r['level'] == level]

    def share(self, page, *classes):
        return 100 * sum(page['steepness']['shares'][c] for c in classes)


class RealModels(CheckCase):
    """Shares of 30-45 degrees and counts of voids: the shared data's provenance notes."""

    BAND = ('30-35', '35-40', '40-45')

    def test_davos(self):
        page = self.page(self.shared('dem/davos_1arcsec_4326_i16.tif'))
        self.assertAlmostEqual(self.share(page, *self.BAND), 31.94, delta=0.1)
        self.assertEqual(page['fitness']['level'], 'fit with care')
        self.assertEqual(self.reasons(page),
                         ['cells of 31 m: pitches shorter than 62 m may be missed'])
        self.assertEqual(page['voids']['cells'], 0)
        self.assertEqual(page['heights']['unit_from'], 'assumed')
        # whole metres over two cells of 21.21 m: atan(1 / 42.4)
        self.assertAlmostEqual(page['heights']['step_deg'], 1.35, delta=0.01)

    def test_ecuador(self):
        dem = self.shared('dem/ecuador_10m_utm17s_f32_band4_nan.tif')
        page = self.page(dem, '--band-number', 4, '--vertical-error', 1)
        self.assertAlmostEqual(self.share(page, *self.BAND), 53.36, delta=0.1)
        self.assertEqual(page['voids']['cells'], 619)
        self.assertEqual(page['fitness'], {'level': 'fit', 'reasons': []})
        # sqrt(3)/4 / 9.998 m / (1 + tan2 35) in degrees
        self.assertAlmostEqual(page['heights']['error_at_35_deg'], 1.67, delta=0.005)
        self.assertIn('FIT: no reason against it was found', self.text)

    def test_gotthard(self):
        page = self.page(self.shared('dem/gotthard_3arcsec_4326_voids.tif'), code=3)
        self.assertAlmostEqual(self.share(page, *self.BAND), 32.94, delta=0.1)
        self.assertEqual(self.reasons(page, 'unfit'),
                         ['cells of 93 m: start zones shorter than 185 m may be missed whole'])
        z = gdal.Open(str(self.shared('dem/gotthard_3arcsec_4326_voids.tif'))).ReadAsArray()
        self.assertEqual(page['voids']['cells'], int((z == -32767).sum()))
        self.assertEqual(page['file']['values_of'], 'points')

    def test_northshore(self):
        page = self.page(self.shared('dem/northshore_3arcsec_4326.tif'), code=3)
        self.assertAlmostEqual(self.share(page, *self.BAND), 13.24, delta=0.1)

    def test_sthelens(self):
        page = self.page(self.shared('dem/sthelens_30m_usgs_nad27.dem'))
        self.assertAlmostEqual(self.share(page, *self.BAND), 12.52, delta=0.1)
        self.assertEqual(page['reference']['datum'], 'NAD27')
        self.assertEqual(page['reference']['ellipsoid'], 'Clarke 1866')
        # UTM zone 10 at 46.2 N 122.2 W: atan(tan(0.8) sin(46.2)) = 0.577 degrees
        low, high = page['cells']['convergence_deg']
        self.assertLess(low, 0.577)
        self.assertGreater(high, 0.577)
        self.assertLess(page['reference']['datum_accuracy_m'], 10)
        self.assertEqual(page['geokeys']['raw'], [])

    def test_craterlake(self):
        page = self.page(self.shared('dem/craterlake_undeclared_nodata.tif'))
        self.assertEqual(page['voids']['undeclared_file_cells'], 39489)
        self.assertEqual(page['voids']['undeclared_values'], [-32767])
        self.assertTrue(any('39,489 cells hold no elevation' in r for r in self.reasons(page)))
        self.assertIn('VerticalUnitsGeoKey = 9001 (Linear_Meter)', page['geokeys']['raw'])
        self.assertEqual(page['heights']['unit_from'], 'GeoKeys')

    def test_declared_by_option(self):
        page = self.page(self.shared('dem/craterlake_undeclared_nodata.tif'), '--nodata', -32767)
        self.assertEqual(page['voids']['undeclared_file_cells'], 0)
        self.assertEqual(page['voids']['cells'], 39489)

    def test_edges(self):
        self.page(self.shared('dem/edge_6x4.tif'))
        page = self.page(self.shared('dem/edge_8_columns.tif'), code=3)
        self.assertTrue(self.reasons(page, 'unfit')[0].startswith('cells of 93 m'))
        for name, words in (('edge_no_crs.tif', 'no coordinate reference system'),
                            ('edge_all_void.tif', 'every cell is void')):
            done = self.run_program('brant-check', self.shared('dem/' + name))
            self.assert_refused(done, name, words)


class MadeModels(CheckCase):
    def check_fit(self, dem, *options):
        page = self.page(dem, *options)
        self.assertEqual(page['fitness'], {'level': 'fit', 'reasons': []})
        return page

    def test_the_demo(self):
        page = self.page(DEMO_DEM)
        self.assertEqual(page['reference']['epsg'], 32632)
        self.assertEqual(self.reasons(page),
                         ['1 hole inside it: what lies in or under one is unknown'])
        self.assertEqual(page['voids']['largest_hole_cells'], page['voids']['cells'])

    def test_a_good_model(self):
        page = self.check_fit(self.write_dem('v.tif', hills(), north=1200), '--vertical-unit', 'm')
        self.assertEqual(page['cells']['middle_m'], [10.0, 10.0])
        self.assertAlmostEqual(page['cells']['area_m2'], 1200 * 1200, delta=5)
        self.assertEqual(page['heights']['step_m'], None)
        self.assertEqual(page['heights']['unit_from'], 'option')

    def test_steepness_is_that_of_brant_slope(self):
        dem = self.write_dem('v.tif', hills(), north=1200)
        page = self.page(dem)
        self.run_ok('brant-slope', dem, '-o', self.dir / 's.tif', '--class', self.dir / 'c.tif')
        classes = self.read_raster(self.dir / 'c.tif')
        known = (classes > 0).sum()
        for number, name in enumerate(page['steepness']['shares'], 1):
            self.assertAlmostEqual(page['steepness']['shares'][name],
                                   (classes == number).sum() / known, delta=1e-4)
        self.assertEqual(page['steepness']['cells_with_slope'], known)

    def test_cells_at_the_corners(self):
        # 1 degree of longitude and latitude, metres: WGS 84, 111412.287 / 55800.002 at 60 N,
        # 111618.384 / 28902.006 at 75 N
        cells = 150
        z = np.resize(hills(cells), (cells, cells))
        dem = self.write_dem('v.tif', z, definition='EPSG:4326',
                             transform=(10, 0.1, 0, 75, 0, -0.1))
        page = self.page(dem, code=3)
        for corner, width, height in (('northwest_m', 2890.2, 11161.8),
                                      ('southeast_m', 5580.0, 11141.2)):
            self.assertAlmostEqual(page['cells'][corner][0], width, delta=0.2)
            self.assertAlmostEqual(page['cells'][corner][1], height, delta=0.2)
        self.assertEqual(page['cells']['convergence_deg'], [0, 0])

    def test_corners_of_a_south_up_model(self):
        z = hills(60)
        for name, t in (('north.tif', (10, 0.5, 0, 70, 0, -0.5)),
                        ('south.tif', (10, 0.5, 0, 40, 0, 0.5))):
            self.write_dem(name, z, definition='EPSG:4326', transform=t)
        pages = [self.page(self.dir / n, code=3) for n in ('north.tif', 'south.tif')]
        for corner in ('northwest_m', 'southwest_m', 'northeast_m', 'southeast_m'):
            self.assertEqual(pages[0]['cells'][corner], pages[1]['cells'][corner])

    def test_convergence_of_a_turned_grid_is_the_map_s(self):
        turn = math.radians(30)
        dem = self.write_dem('v.tif', hills(), definition='EPSG:32632', transform=(
            722517.609, 10 * math.cos(turn), 10 * math.sin(turn), 5153689.881,
            10 * math.sin(turn), -10 * math.cos(turn)))
        low, high = self.page(dem)['cells']['convergence_deg']
        self.assertLess(abs(low - 2.1044452), 0.01)  # at its first corner, from PROJ
        self.assertLess(high - low, 0.02)

    def test_coarse(self):
        page = self.page(self.write_dem('v.tif', 1000 + (hills() - 1000) * 2, cell=20, north=2400))
        self.assertEqual(self.reasons(page),
                         ['cells of 20 m: pitches shorter than 40 m may be missed'])
        dem = self.write_dem('v.tif', 1000 + (hills() - 1000) * 4, cell=40, north=4800)
        self.assertIn('cells of 40 m', self.reasons(self.page(dem, code=3), 'unfit')[0])
        # coarse by the user's wish
        dem = self.write_dem('v.tif', hills(), north=1200)
        self.assertIn('cells of 40 m',
                      self.reasons(self.page(dem, '--scale', 40, code=3), 'unfit')[0])

    def test_a_fine_model_is_averaged(self):
        page = self.check_fit(self.write_dem('v.tif', hills(600, 1.0), cell=1, north=600))
        self.assertEqual(page['cells']['averaged'], 5)
        self.assertEqual(page['cells']['middle_m'], [5.0, 5.0])
        self.assertEqual(page['cells']['count'], 120 * 120)
        self.assertEqual(page['file']['columns'], 600)

    def test_vertical_error(self):
        dem = self.write_dem('v.tif', hills(), north=1200)
        for metres, code, level in ((1, 0, 'fit'), (2, 0, 'fit with care'), (4, 3, 'unfit')):
            page = self.page(dem, '--vertical-error', metres, code=code)
            self.assertEqual(page['fitness']['level'], level)
            self.assertAlmostEqual(page['heights']['error_at_35_deg'], 1.665 * metres, delta=0.01)

    def test_terraces(self):
        dem = self.write_dem('v.tif', np.round(hills()), north=1200, kind=gdal.GDT_Int16,
                             nodata=-32768)
        page = self.page(dem)
        # a metre over two cells of 10 m: atan(1/20) = 2.86 degrees
        self.assertAlmostEqual(page['heights']['step_deg'], 2.86, delta=0.005)
        self.assertEqual(self.reasons(page),
                         ['heights in steps: one step makes a slope of 2.9 degrees'])
        # whole feet in a file of floats
        dem = self.write_dem('v.tif', np.round(hills() / 0.3048), north=1200)
        page = self.check_fit(dem, '--vertical-unit', 'ft')
        self.assertAlmostEqual(page['heights']['step_deg'], math.degrees(math.atan(0.3048 / 20)),
                               delta=0.005)
        self.assertIn('whole feet', self.text)

    def test_holes(self):
        z = hills()
        z[:8] = np.nan          # a collar is none
        z[40:43, 50:52] = np.nan
        z[60, 60] = z[61, 61] = np.nan  # by their corners one
        page = self.page(self.write_dem('v.tif', z, north=1200))
        self.assertEqual(page['voids']['cells'], 8 * 120 + 8)
        self.assertEqual(page['voids']['holes_inside'], 2)
        self.assertEqual(page['voids']['largest_hole_cells'], 6)
        self.assertEqual(self.reasons(page),
                         ['2 holes inside it: what lies in or under one is unknown'])

    def test_a_collar_is_no_hole(self):
        z = hills()
        z[:8] = z[:, :5] = np.nan
        self.assertEqual(self.check_fit(self.write_dem('v.tif', z, north=1200))
                         ['voids']['holes_inside'], 0)

    def test_next_to_nothing(self):
        z = hills()
        z[:, :112] = np.nan
        page = self.page(self.write_dem('v.tif', z, north=1200), code=3)
        self.assertEqual(self.reasons(page, 'unfit'), ['93 % of it has no elevation'])

    def test_undeclared(self):
        z = hills()
        z[40:44, 50:60] = -99
        z[80, 80] = -32678
        page = self.page(self.write_dem('v.tif', z, north=1200, nodata=None))
        self.assertEqual(page['voids']['undeclared_file_cells'], 41)
        self.assertEqual(sorted(page['voids']['undeclared_values']), [-32678, -99])
        self.assertTrue(any('41 cells hold no elevation' in r for r in self.reasons(page)))

    def test_undeclared_of_a_fine_model(self):
        z = 1000 + (hills(200) - 1000) / 10
        z[41:44, 51:61] = -99
        page = self.page(self.write_dem('v.tif', z, cell=1, north=200, nodata=None))
        self.assertEqual(page['voids']['undeclared_file_cells'], 30)
        self.assertEqual(page['voids']['cells'], 1 * 3)

    def test_trees(self):
        z = hills(300)
        rng = np.random.default_rng(1)
        z[rng.random(z.shape) < 0.02] += 15  # the odd tree
        page = self.page(self.write_dem('v.tif', z, north=3000))
        self.assertEqual(len(self.reasons(page)), 1)
        self.assertIn('possibly trees or buildings', self.reasons(page)[0])

    def test_doubtful_unit(self):
        axis = (np.arange(300) + 0.5) * 30.0
        x, y = np.meshgrid(axis, axis)
        z = 1300 + 600 * np.sin(x / 1000) * np.cos(y / 1400) + 100 * np.sin(x / 300 + y / 500)
        dem = self.write_dem('v.tif', z / 0.3048, cell=30.0, north=9000)
        self.assertTrue(any('--vertical-unit' in r
                            for r in self.reasons(self.page(dem, code=3), 'unfit')))
        self.page(dem, '--vertical-unit', 'ft')

    def test_a_unit_that_leaves_nothing(self):
        dem = self.write_dem('v.tif', (hills() + 500) * 10, north=1200)
        done = self.run_program('brant-check', dem)
        self.assert_refused(done, 'every cell is void')
        self.assertRegex(done.err, r'do not look like metres: from 1\d,\d{3} to 1\d,\d{3} m')

    def test_level_and_tiny_models(self):
        page = self.page(self.write_dem('v.tif', np.full((50, 50), 1500.0), north=500), code=3)
        self.assertIn('one height', self.reasons(page, 'unfit')[0])
        page = self.page(self.write_dem('v.tif', hills(2), north=20), code=3)
        self.assertIn('3 x 3 cells', self.reasons(page, 'unfit')[0])
        self.assertEqual(page['steepness']['shares']['30-35'], None)

    def test_no_way_from_gps(self):
        dem = self.write_dem('v.tif', hills(), definition='+proj=tmerc +lat_0=46.5 +lon_0=10 '
                             '+ellps=bessel +units=m +no_defs')
        page = self.page(dem, code=3)
        self.assertIn('routes cannot be placed on it', self.reasons(page, 'unfit')[0])
        self.assertFalse(page['reference']['placed'])

    def test_tiles(self):
        z = hills()
        folder = self.folder('tiles')
        for i in range(3):
            self.write_dem(f'tiles/{i}.tif', z[:, i * 40:(i + 1) * 40], west=i * 400, north=1200)
        page = self.check_fit(folder)
        whole = self.page(self.write_dem('v.tif', z, north=1200))
        self.assertEqual(page['file']['tiles'], 3)
        for part in ('cells', 'heights', 'voids', 'steepness'):
            self.assertEqual(page[part], whole[part])

    def test_threads_and_strips_agree(self):
        z = np.tile(hills(300), (2, 1))
        z[100:160, 40:50] = z[400:405, 200:290] = np.nan
        dem = self.write_dem('v.tif', z, north=6000)
        pages = [self.run_program('brant-check', dem, '--threads', n, '--quiet').out
                 for n in (1, 2, 7)]
        self.assertEqual(pages[0], pages[1])
        self.assertEqual(pages[0], pages[2])


class RawKeys(CheckCase):
    """What GDAL takes from a side-car file, the keys do not say."""

    def with_sidecar(self, xml):
        dem = self.write_dem('v.tif', hills(), west=500000, north=5150000,
                             definition='EPSG:32632')
        (self.dir / 'v.tif.aux.xml').write_text(f'<PAMDataset>{xml}</PAMDataset>')
        return self.page(dem)

    def test_another_zone(self):
        page = self.with_sidecar('<SRS>EPSG:32633</SRS>')
        self.assertEqual(page['geokeys']['differences'],
                         ['ProjectedCSTypeGeoKey is 32632, GDAL reads EPSG:32633'])
        self.assertTrue(any('differ' in reason for reason in self.reasons(page)))
        self.assertIn('differ ProjectedCSTypeGeoKey is 32632', self.text)

    def test_degrees(self):
        dem = self.write_dem('w.tif', hills(), west=10, north=47, cell=1e-4,
                             definition='EPSG:32632')
        (self.dir / 'w.tif.aux.xml').write_text('<PAMDataset><SRS>EPSG:4326</SRS></PAMDataset>')
        page = self.page(dem)
        self.assertEqual(page['geokeys']['differences'],
                         ['GTModelTypeGeoKey is 1, GDAL reads degrees'])

    def test_feet(self):
        data = gdal.GetDriverByName('GTiff').Create(str(self.dir / 'f.tif'), 120, 120, 1,
                                                    gdal.GDT_Float32)
        data.SetSpatialRef(crs('EPSG:2225'))
        data.SetGeoTransform((6400000, 32, 0, 2200000, 0, -32))
        data.GetRasterBand(1).WriteArray(hills())
        del data
        page = self.page(self.dir / 'f.tif')
        self.assertEqual(page['geokeys']['differences'], [])
        self.assertIn('ProjLinearUnitsGeoKey = 9003 (Linear_Foot_US_Survey)',
                      page['geokeys']['raw'])
        self.assertAlmostEqual(page['reference']['axis_unit_m'], 0.3048006, delta=1e-7)

    def test_points(self):
        dem = self.write_dem('p.tif', hills(), west=500000, north=5150000,
                             definition='EPSG:32632', options=['PROFILE=GeoTIFF'])
        data = gdal.Open(str(dem), gdal.GA_Update)
        data.SetMetadataItem('AREA_OR_POINT', 'Point')
        del data
        page = self.page(dem)
        self.assertEqual(page['file']['values_of'], 'points')
        self.assertIn('GTRasterTypeGeoKey = 2 (RasterPixelIsPoint)', page['geokeys']['raw'])
        self.assertEqual(page['geokeys']['differences'], [])

    def test_agreement(self):
        for definition in ('EPSG:32632', 'EPSG:4326', 'EPSG:3035', 'EPSG:3857', LOCAL):
            with self.subTest(definition):
                cell = 1e-4 if definition == 'EPSG:4326' else 10
                west, north = ((10, 47) if definition == 'EPSG:4326' else
                               (4300000, 2700000) if definition == 'EPSG:3035' else
                               (500000, 5150000) if definition == 'EPSG:32632' else
                               (1200000, 5900000) if definition == 'EPSG:3857' else (0, 0))
                dem = self.write_dem('a.tif', hills(), west=west, north=north, cell=cell,
                                     definition=definition)
                self.assertEqual(self.page(dem)['geokeys']['differences'], [])


if __name__ == '__main__':
    main()
