"""Zones from polygons: drawn or edited in a GIS, they stand wherever a zone raster does."""

import json
import math
import re
import shutil

import numpy as np
from osgeo import gdal, ogr, osr

from brant_case import DEMO_DEM, DEMO_GPX, LOCAL, BrantCase, crs, main

ogr.UseExceptions()


class PolygonCase(BrantCase):
    def edit(self, path, change, name='edited.gpkg'):
        """A copy of the layer `zones`, each feature through change(feature), which tells
        whether it stays."""
        out = self.dir / name
        source = ogr.Open(str(path))
        layer = source.GetLayerByName('zones')
        copy = ogr.GetDriverByName('GPKG').CreateDataSource(str(out))
        copy.CopyLayer(layer, 'zones')
        edited = copy.GetLayerByName('zones')
        for feature in list(edited):
            if change(feature):
                edited.SetFeature(feature)
            else:
                edited.DeleteFeature(feature.GetFID())
        return out

    def rows(self, path):
        """The columns of the layer `zones`, one dictionary a feature."""
        data = ogr.Open(str(path))
        return [feature.items() for feature in data.GetLayerByName('zones')]

    def draw(self, name, shapes, definition=LOCAL, **columns):
        """A layer of WKT; columns: name=(type, values)."""
        path = self.dir / name
        driver = 'GeoJSON' if name.endswith('json') else 'GPKG'
        data = ogr.GetDriverByName(driver).CreateDataSource(str(path))
        layer = data.CreateLayer('zones', crs(definition), ogr.wkbUnknown)
        for column, (kind, _) in columns.items():
            layer.CreateField(ogr.FieldDefn(column, kind))
        for i, wkt in enumerate(shapes):
            feature = ogr.Feature(layer.GetLayerDefn())
            feature.SetGeometry(ogr.CreateGeometryFromWkt(wkt))
            for column, (_, values) in columns.items():
                if values[i] is not None:
                    feature.SetField(column, values[i])
            layer.CreateFeature(feature)
        return path

    def bands(self, zones, *options, dem=DEMO_DEM, quiet=True):
        """The five bands of the runout raster, nodata as NaN; self.said is what it told."""
        out = self.dir / 'runout.tif'
        done = self.run_ok('brant-runout', dem, zones, '-o', out, *options,
                           *(['--quiet'] if quiet else []))
        self.said = done.err
        return [self.read_raster(out, band) for band in range(1, 6)]

    def assert_same(self, a, b):
        for x, y in zip(a, b):
            np.testing.assert_array_equal(x, y)

    def assert_union(self, whole, parts):
        """`whole` is the union of shadows."""
        reached = np.fmax.reduce([p[0] for p in parts])
        np.testing.assert_array_equal(whole[0], reached)
        np.testing.assert_array_equal(whole[1], np.fmax.reduce([p[1] for p in parts]))
        np.testing.assert_array_equal(whole[3], sum(p[3] for p in parts))
        # the unknown reaches as far as the lowest angle says
        np.testing.assert_array_equal(whole[4], np.fmax.reduce([p[4] for p in parts]))


def rectangle(west, south, east, north):
    return (f'POLYGON(({west} {south},{east} {south},{east} {north},{west} {north},'
            f'{west} {south}))')


class Demo(PolygonCase):
    """What brant-zones writes, read back and edited."""

    @classmethod
    def setUpClass(cls):
        super().setUpClass()
        runner = cls('run_ok')
        runner.setUp()
        cls.addClassCleanup(runner.doCleanups)
        cls.raster = runner.dir / 'zones.tif'
        cls.gpkg = runner.dir / 'zones.gpkg'
        runner.run_ok('brant-zones', DEMO_DEM, '-o', cls.raster, '--polygons', cls.gpkg,
                      '--quiet')
        cls.whole = runner.bands(cls.gpkg)
        # without the largest zone
        cls.large = max(runner.rows(cls.gpkg), key=lambda row: row['area_m2'])['number']
        cls.without = runner.bands(runner.edit(cls.gpkg, lambda f: f['number'] != cls.large))

    def test_read_back_they_are_the_raster(self):
        geojson = self.dir / 'zones.geojson'
        self.run_ok('brant-zones', DEMO_DEM, '-o', self.dir / 'z2.tif', '--polygons', geojson,
                    '--quiet')
        expected = self.bands(self.raster)
        self.assertGreater((expected[0] > 0).sum(), 100000)
        self.assert_same(self.whole, expected)
        self.assert_same(self.bands(geojson), expected)
        once = (self.dir / 'runout.tif').read_bytes()
        self.bands(geojson, '--threads', 1)
        self.assertEqual((self.dir / 'runout.tif').read_bytes(), once)

    def test_the_name_tells_nothing(self):
        odd = self.dir / 'zones.raster'
        shutil.copy(self.gpkg, odd)
        self.assert_same(self.bands(odd), self.whole)

    def test_a_route_meets_the_same(self):
        files = []
        for zones in (self.raster, self.gpkg):
            folder = self.dir / zones.suffix[1:]
            self.run_ok('brant-plan', DEMO_DEM, DEMO_GPX, '-d', folder, '--zones', zones,
                        '--quiet')
            files.append([(folder / name).read_bytes()
                          for name in ('legs.csv', 'above.csv', 'points.csv')])
            with open(folder / 'plan.json', encoding='utf-8') as file:
                options = json.load(file)['options']
            self.assertEqual(options['zones_with_own_reach_angle'], 0)
        self.assertEqual(files[0], files[1])

    def test_one_taken_away_takes_its_shadow_alone(self):
        whole, without = self.whole, self.without
        alone = self.bands(self.edit(self.gpkg, lambda f: f['number'] == self.large))
        self.assert_union(whole, [without, alone])
        known = ~np.isnan(whole[0])
        changed = known & ((whole[0] != without[0]) | (whole[3] != without[3]))
        self.assertGreater(changed.sum(), 100)
        self.assertTrue((alone[0][changed] > 0).all())

    def test_one_moved_moves_its_shadow_alone(self):
        def move(feature):
            if feature['number'] == self.large:
                shape = ogr.CreateGeometryFromWkt(
                    feature.GetGeometryRef().Buffer(-15).ExportToWkt())
                feature.SetGeometry(ogr.ForceToMultiPolygon(shape))
            return True

        smaller = self.edit(self.gpkg, move)
        whole = self.bands(smaller)
        alone = self.bands(self.edit(smaller, lambda f: f['number'] == self.large, 'one.gpkg'))
        self.assertGreater((alone[0] == 90).sum(), 10)
        self.assert_union(whole, [self.without, alone])

    def test_one_drawn_joins_without_a_number(self):
        drawn = rectangle(445240, 4805570, 445320, 4805620)
        edited = self.edit(self.gpkg, lambda f: True)
        data = ogr.Open(str(edited), 1)
        layer = data.GetLayer(0)
        highest = max(f['number'] for f in layer)
        feature = ogr.Feature(layer.GetLayerDefn())
        feature.SetGeometry(ogr.ForceToMultiPolygon(ogr.CreateGeometryFromWkt(drawn)))
        layer.CreateFeature(feature)
        del feature, layer, data
        bands = self.bands(edited, quiet=False)
        self.assertIn(f'1 of 664 polygons have no number and get those from {highest + 1} on',
                      self.said)
        self.assertNotIn('overlap', self.said)
        alone = self.bands(self.draw('own.gpkg', [drawn], 'EPSG:32632'))
        self.assertEqual((alone[0] == 90).sum(), 40)
        self.assert_union(bands, [self.whole, alone])

    def test_an_angle_of_its_own_holds_for_its_zone(self):
        others = self.bands(self.edit(self.gpkg, lambda f: f['number'] != self.large, 'v.gpkg'),
                            '--reach-angle', 40)
        for angle in (15, 32.5):
            def give(feature):
                if feature['number'] == self.large:
                    feature['reach_angle'] = angle
                return True

            edited = self.edit(self.gpkg, give, f'a{angle}.gpkg')
            one = self.edit(self.gpkg, lambda f: f['number'] == self.large, f'o{angle}.gpkg')
            alone = self.bands(one, '--reach-angle', angle, '--floor', min(18, angle))
            self.assert_union(self.bands(edited, quiet=False), [self.without, alone])
            self.assertIn('a reach angle of their own', self.said)
            # it comes before --reach-angle, for its zone alone
            steep = self.bands(edited, '--reach-angle', 40, '--floor', 18)
            self.assert_union(steep, [others, alone])

    def test_how_the_model_was_read_is_taken_over(self):
        coarse, gpkg = self.dir / 'c.tif', self.dir / 'c.gpkg'
        self.run_ok('brant-zones', DEMO_DEM, '-o', coarse, '--polygons', gpkg, '--scale', 20,
                    '--band', '28:50', '--quiet')
        bands = self.bands(gpkg, quiet=False)
        self.assertIn('made with --scale 20: taken over', self.said)
        self.assertEqual(bands[0].shape, (300, 300))
        self.assert_same(bands, self.bands(coarse))
        finer = self.bands(gpkg, '--scale', 'native')
        self.assertEqual(finer[0].shape, (600, 600))
        self.run_ok('brant-route', DEMO_DEM, DEMO_GPX, '-o', self.dir / 'a.csv', '--zones', gpkg)
        self.run_ok('brant-route', DEMO_DEM, DEMO_GPX, '-o', self.dir / 'b.csv', '--zones', coarse)
        self.assertEqual((self.dir / 'a.csv').read_bytes(), (self.dir / 'b.csv').read_bytes())

    def test_the_zones_of_a_route_are_said_to_be_a_part(self):
        layers = self.dir / 'tour.gpkg'
        self.run_ok('brant-route', DEMO_DEM, DEMO_GPX, '-o', self.dir / 'a.csv', '--layers',
                    layers, '--quiet')
        done = self.run_ok('brant-route', DEMO_DEM, DEMO_GPX, '-o', self.dir / 'b.csv',
                           '--zones', layers, '--quiet')
        self.assertIn('holds the zones near a route alone', done.err)

    def test_an_output_in_its_place_is_refused(self):
        before = self.gpkg.read_bytes()
        done = self.run_program('brant-route', DEMO_DEM, DEMO_GPX, '-o', self.dir / 'a.csv',
                                '--zones', self.gpkg, '--layers', self.gpkg)
        self.assertIn(done.code, (1, 2))
        self.assertIn('zones.gpkg', done.complaints()[0])
        self.assertEqual(self.gpkg.read_bytes(), before)


class RealModels(PolygonCase):
    """Read back on other grids: UTM with voids, and NAD27 with elevations of its own datum
    (GeoJSON goes to WGS 84 and back)."""

    def check(self, model, *options):
        dem = self.shared('dem/' + model)
        raster = self.dir / 'zones.tif'
        expected = None
        for name in ('zones.gpkg', 'zones.geojson'):
            self.run_ok('brant-zones', dem, '-o', raster, '--polygons', self.dir / name,
                        '--quiet', *options)
            if expected is None:
                expected = self.bands(raster, dem=dem)
            self.assert_same(self.bands(self.dir / name, *options, dem=dem), expected)
        self.assertGreater((expected[0] > 0).sum(), 10000)

    def test_nad27(self):
        self.check('sthelens_30m_usgs_nad27.dem')

    def test_utm_with_voids(self):
        self.check('ecuador_10m_utm17s_f32_band4_nan.tif', '--band-number', 4)


class Ramp(PolygonCase):
    """A ramp of 35 degrees down to y = 0, flat beyond: geometry tells the reach."""

    TOP = 700.0

    def setUp(self):
        super().setUp()
        self.dem = self.centred_dem('ramp.tif', lambda x, y: np.where(
            y > 0, y * math.tan(math.radians(35)), 0.0), 440)
        self.strip = rectangle(-60, 600, 60, self.TOP)

    def angle_at(self, y):
        height = (self.TOP - 5) * math.tan(math.radians(35)) - max(0, y) * math.tan(
            math.radians(35))
        return math.degrees(math.atan(height / (self.TOP - 5 - y)))

    def legs(self, zones, *options, y=-500, half=1500):
        gpx = self.write_gpx('tour.gpx', [(-half, y), (half, y)])
        done = self.run_ok('brant-route', self.dem, gpx, '-o', self.dir / 'legs.csv', '--above',
                           self.dir / 'above.csv', '--layers', self.dir / 'tour.gpkg', '--zones',
                           zones, *options)
        self.said = done.err
        return (self.read_csv(self.dir / 'legs.csv'), self.read_csv(self.dir / 'above.csv'))

    def test_a_leg_lies_under_a_zone_at_the_zone_s_angle(self):
        self.assertTrue(21.5 < self.angle_at(-500) < 22.5)
        plain = self.draw('plain.gpkg', [self.strip])
        legs, above = self.legs(plain)
        self.assertNotIn('under', {leg['kind'] for leg in legs})
        self.assertEqual([row['head_m'] for row in above if row['reached_at_deg']],
                         [''] * len(above))
        own = self.draw('own.gpkg', [self.strip], reach_angle=(ogr.OFTReal, [21]))
        legs, above = self.legs(own)
        under, = [leg for leg in legs if leg['kind'] == 'under']
        self.assertEqual((under['zones_above'], under['governing_zone']), ('1', '1'))
        self.assertAlmostEqual(float(under['reached_at_deg']), self.angle_at(-500), delta=0.3)
        head = (math.tan(math.radians(self.angle_at(-500))) - math.tan(math.radians(21))) * 1195
        self.assertAlmostEqual(float(under['head_m']), head, delta=8)
        row, = [row for row in above if row['leg'] == under['leg']]
        self.assertAlmostEqual(float(row['head_m']), head, delta=8)
        self.assertIn('1 of 1 zones have a reach angle of their own, 21 to 21', self.said)
        # the run's angle does not hold for it
        legs, _ = self.legs(own, '--reach-angle', 30)
        self.assertIn('under', {leg['kind'] for leg in legs})
        steep = self.draw('steep.gpkg', [self.strip], reach_angle=(ogr.OFTReal, [30]))
        legs, above = self.legs(steep, '--reach-angle', 20)
        self.assertNotIn('under', {leg['kind'] for leg in legs})

    def test_what_lies_below_is_looked_for_at_the_zone_s_angle(self):
        """Below the line 35 degrees, then 22, to a cliff after 600 m. From a zone's top 140 m
        up the slope the line at 25 runs on for 525 m of the 22 degrees, at 20 all the way."""
        self.dem = self.centred_dem('step.tif', lambda x, y: np.where(
            y > 0, y * math.tan(math.radians(35)), y * math.tan(math.radians(22))) -
            60.0 * (y < -600), 300)
        slope = rectangle(-1400, 40, 1400, 140)
        plain, _ = self.legs(self.draw('plain.gpkg', [slope]), y=100, half=500)
        self.assertEqual({(leg['kind'], leg['below']) for leg in plain if leg['zone']},
                         {('crosses', 'unknown')})  # the model's edge stands above: never empty
        own = self.draw('own.gpkg', [slope], reach_angle=(ogr.OFTReal, [20]))
        own, _ = self.legs(own, y=100, half=500)
        told, = {leg['below'] for leg in own if leg['kind'] == 'crosses'}
        self.assertAlmostEqual(float(re.fullmatch(r'cliff (\d+) m', told).group(1)), 700, delta=20)
        # from a top 200 m up the slope, 750 m at 25: a leg on the zone has that height, too
        higher, _ = self.legs(self.draw('higher.gpkg', [rectangle(-1400, 40, 1400, 200)]), y=100,
                              half=500)
        told, = {leg['below'] for leg in higher if leg['kind'] == 'crosses'}
        self.assertAlmostEqual(float(re.fullmatch(r'cliff (\d+) m', told).group(1)), 700, delta=20)

    def test_no_reach_is_lost_below_the_floor(self):
        self.assertTrue(12.5 < self.angle_at(-1400) < 14)
        own = self.draw('own.gpkg', [self.strip], reach_angle=(ogr.OFTReal, [12]))
        legs, _ = self.legs(own, y=-1400)
        under, = [leg for leg in legs if leg['kind'] == 'under']
        self.assertAlmostEqual(float(under['reached_at_deg']), self.angle_at(-1400), delta=0.3)

    def test_the_summary_says_that_angles_are_their_own(self):
        own = self.draw('own.gpkg', [self.strip], reach_angle=(ogr.OFTReal, [21]))
        gpx = self.write_gpx('tour.gpx', [(-300, -200), (300, -200)])
        done = self.run_ok('brant-plan', self.dem, gpx, '-d', self.dir / 'p', '--zones', own,
                           '--quiet')
        self.assertIn('1 with its own reach angle', ' '.join(done.out.split()))
        with open(self.dir / 'p' / 'plan.json', encoding='utf-8') as file:
            self.assertEqual(json.load(file)['options']['zones_with_own_reach_angle'], 1)
        self.assertEqual([row['reach_angle'] for row in self.rows(self.dir / 'p' / 'tour.gpkg')],
                         [21])

    def test_degrees_in_geojson(self):
        corners = self.to_degrees([(-60, 600), (60, 600), (60, 700), (-60, 700), (-60, 600)])
        text = json.dumps({'type': 'FeatureCollection', 'features': [
            {'type': 'Feature', 'properties': {}, 'geometry': {
                'type': 'Polygon', 'coordinates': [corners]}}]})
        drawn = self.write_text('drawn.geojson', text)
        bands = self.bands(drawn, dem=self.dem, quiet=False)
        self.assertIn('no column number: its polygons are numbered 1 to 1', self.said)
        self.assert_same(bands, self.bands(self.draw('m.gpkg', [self.strip]), dem=self.dem))
        self.assertEqual((bands[0] == 90).sum(), 120)

    def test_ground_within_a_hole_does_not_start(self):
        ring = ('POLYGON((-200 300,200 300,200 700,-200 700,-200 300),'
                '(-100 400,100 400,100 600,-100 600,-100 400))')
        bands = self.bands(self.draw('ring.gpkg', [ring]), dem=self.dem)
        self.assertEqual((bands[0] == 90).sum(), 1600 - 400)
        self.assertLess(bands[0][220 - 50, 220], 90)

    def test_gentle_ground_starts_where_it_is_drawn(self):
        flat = self.draw('flat.gpkg', [rectangle(-50, -300, 50, -200)])
        bands = self.bands(flat, dem=self.dem)
        self.assertEqual((bands[0] == 90).sum(), 100)
        legs, _ = self.legs(flat, y=-250)
        self.assertIn('crosses', {leg['kind'] for leg in legs})

    def test_refusals_leave_nothing(self):
        line = 'LINESTRING(0 600,50 700)'
        cases = {
            'line.gpkg': ([self.strip, line], {}, 'feature 2: a LINESTRING, no polygon'),
            'twice.gpkg': ([self.strip, self.strip], {'number': (ogr.OFTInteger, [3, 3])},
                           'feature 2: number 3 is that of feature 1'),
            'flat.gpkg': ([self.strip], {'reach_angle': (ogr.OFTReal, [9])},
                          "feature 1: reach_angle '9' is no reach angle"),
            'none.gpkg': ([], {}, 'layer zones holds no polygon'),
            'far.gpkg': ([rectangle(90000, 0, 90100, 100)], {}, 'all polygons lie outside'),
        }
        gpx = self.write_gpx('tour.gpx', [(-300, -500), (300, -500)])
        out = self.folder()
        for name, (shapes, columns, message) in cases.items():
            zones = self.draw(name, shapes, **columns)
            done = self.run_program('brant-runout', self.dem, zones, '-o', out / 'r.tif')
            self.assert_refused(done, name, message)
            done = self.run_program('brant-route', self.dem, gpx, '-o', out / 'l.csv', '--zones',
                                    zones)
            self.assert_refused(done, name, message)
        self.assert_empty(out)


class Squares(PolygonCase):
    def test_a_polygon_over_a_square_s_line_is_one_zone(self):
        """Columns 1,014 to 1,033: the same as from a raster of the same cells."""
        slope = math.tan(math.radians(34))
        rows, cols = 120, 1100
        z = np.repeat((rows - np.arange(rows))[:, None] * 10 * slope, cols, axis=1)
        dem = self.write_dem('wide.tif', z)
        numbers = np.zeros((rows, cols))
        numbers[10:20, 1014:1034] = 7
        raster = self.write_dem('numbers.tif', numbers, nodata=None, kind=gdal.GDT_UInt32)
        drawn = self.draw('drawn.gpkg', [rectangle(10140, -200, 10340, -100)],
                          number=(ogr.OFTInteger64, [7]))
        bands = self.bands(drawn, dem=dem)
        self.assert_same(bands, self.bands(raster, dem=dem))
        self.assertEqual((bands[0] == 90).sum(), 200)
        self.assertEqual(bands[3].max(), 1)

    def test_numbers_of_every_square(self):
        """The raster holds each row of the table with as many cells as its area says, and no
        other; ground outside of the zones is 0."""
        z = np.repeat(np.maximum(80 - np.arange(120), 0)[:, None] * 7.0, 1100, axis=1)
        dem = self.write_dem('wide.tif', z)
        self.run_ok('brant-zones', dem, '-o', 'zones.tif', '--table', 'zones.csv')
        held, cells = np.unique(gdal.Open(str(self.dir / 'zones.tif')).ReadAsArray(),
                                return_counts=True)
        table = {int(row['number']): float(row['area_m2']) / 100
                 for row in self.read_csv(self.dir / 'zones.csv')}
        held = dict(zip(held.tolist(), cells.tolist()))
        self.assertGreater(held.pop(0), 1100 * 38)
        self.assertEqual(set(held), set(table))
        self.assertGreater(max(table), 1000000)  # of the second square
        for number, area in table.items():
            self.assertAlmostEqual(held[number], area, delta=1 + 0.001 * area)


if __name__ == '__main__':
    main()
