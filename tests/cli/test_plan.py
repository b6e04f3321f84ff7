"""brant-plan: what its files say agrees, from file to file and with the world
outside; and it stands real models and real tours."""

import json
import math
import re
import shutil
import subprocess

import numpy as np
from osgeo import gdal, ogr, osr

from brant_case import DEMO_DEM, DEMO_GPX, SHARED, BrantCase, crs, main

KINDS = ['unknown', 'crosses', 'over-band', 'edge', 'under', 'remote', 'none-found']


def gpx_segments(path):
    """Segments of a clean GPX 1.1 track as lists of (lon, lat)."""
    text = path.read_text(encoding='utf-8')
    return [[(float(lon), float(lat)) for lat, lon in
             re.findall(r'<trkpt lat="([^"]+)" lon="([^"]+)"', segment)]
            for segment in re.findall(r'<trkseg>(.*?)</trkseg>', text, re.S)]


def geodesic(a, b):
    """Metres between two positions: PROJ's azimuthal equidistant projection keeps
    distances from its centre, on the ellipsoid."""
    ground = crs(f'+proj=aeqd +lon_0={a[0]!r} +lat_0={a[1]!r} +datum=WGS84 +units=m')
    x, y, _ = osr.CoordinateTransformation(crs('EPSG:4326'), ground).TransformPoint(*b)
    return math.hypot(x, y)


class PlanCase(BrantCase):
    def check_legs(self, legs):
        """They tile each route, and each says what its numbers allow."""
        for before, leg in zip([None] + legs, legs):
            first = before is None or before['route'] != leg['route']
            self.assertIn(leg['kind'], KINDS)
            self.assertEqual(leg['from_m'], '0.0' if first else before['to_m'])
            self.assertEqual(int(leg['leg']), 1 if first else int(before['leg']) + 1)
            length = float(leg['to_m']) - float(leg['from_m'])
            self.assertAlmostEqual(float(leg['length_m']), length, delta=0.11)
            if leg['kind'] == 'none-found':
                self.assertEqual((leg['unknown_above'], leg['zones_above']), ('0', '0'))
                self.assertLess(float(leg['steepest_deg']), 30)
            if leg['kind'] == 'crosses':
                self.assertGreaterEqual(float(leg['steepest_deg']), 30)


class Demo(PlanCase):
    """One run, looked at from all sides."""

    @classmethod
    def setUpClass(cls):
        super().setUpClass()
        runner = cls('run_ok')
        runner.setUp()
        cls.addClassCleanup(runner.doCleanups)
        cls.out = runner.dir / 'out'
        cls.summary = runner.run_ok('brant-plan', DEMO_DEM, DEMO_GPX, '-d', cls.out).out
        cls.legs = runner.read_csv(cls.out / 'legs.csv')
        cls.points = runner.read_csv(cls.out / 'points.csv')

    def test_legs(self):
        self.check_legs(self.legs)

    def test_length_is_the_geodesics(self):
        track, = gpx_segments(DEMO_GPX)
        length = sum(geodesic(a, b) for a, b in zip(track, track[1:]))
        self.assertAlmostEqual(float(self.legs[-1]['to_m']), length, delta=0.1)
        self.assertAlmostEqual(float(self.points[-1]['along_m']), length, delta=0.1)

    def test_points_are_within_half_a_cell(self):
        along = np.array([float(p['along_m']) for p in self.points])
        self.assertLessEqual(np.diff(along).max(), 5.1)
        self.assertGreater(np.diff(along).min(), 0)

    def test_points_and_legs_agree(self):
        for leg in self.legs:
            inside = [p for p in self.points
                      if float(leg['from_m']) < float(p['along_m']) < float(leg['to_m'])]
            # a short milder stretch between two worse ones counts with them: a leg's
            # kind may be worse than a point's in it, never milder
            ranks = [KINDS.index(p['kind']) for p in inside]
            if ranks:
                self.assertEqual(min(ranks), KINDS.index(leg['kind']))
            steepest = [float(p['slope_deg']) for p in inside if p['slope_deg']]
            if steepest:
                self.assertGreaterEqual(float(leg['steepest_deg']), max(steepest))

    def cells(self, name, band=1):
        """The cell of a raster at each point, NaN where it is nodata."""
        data = self.open(self.out / name)
        z = self.read_raster(self.out / name, band)
        there = osr.CoordinateTransformation(crs('EPSG:4326'), data.GetSpatialRef())
        back = gdal.InvGeoTransform(data.GetGeoTransform())
        found = []
        for p in self.points:
            x, y, _ = there.TransformPoint(float(p['lon']), float(p['lat']))
            col, row = gdal.ApplyGeoTransform(back, x, y)
            # on a cell's line either cell may be meant: seven decimals are a centimetre
            near_line = min(col % 1, 1 - col % 1, row % 1, 1 - row % 1) < 0.005
            found.append(np.nan if near_line else z[int(row), int(col)])
        return np.array(found)

    def column(self, name):
        return np.array([float(p[name]) if p[name] else np.nan for p in self.points])

    def test_points_and_rasters_agree(self):
        slope = self.cells('slope.tif')
        known = ~np.isnan(slope)
        self.assertGreater(known.sum(), 1500)
        self.assertLess(np.abs(slope - self.column('slope_deg'))[known].max(), 0.06)
        kinds = np.array([p['kind'] for p in self.points])
        classes = self.cells('class.tif')
        self.assertTrue((slope[known & (kinds == 'crosses')] >= 30).all())
        self.assertTrue((slope[known & (kinds == 'crosses')] <= 45).all())
        self.assertTrue((slope[known & ~np.isin(kinds, ['crosses', 'over-band'])] < 30).all())
        self.assertTrue((classes[known] > 0).all())

    def test_no_point_of_the_shadow_is_none_found(self):
        reached, unknown = self.cells('runout.tif', 1), self.cells('runout.tif', 5)
        kinds = np.array([p['kind'] for p in self.points])
        self.assertGreater((reached >= 25).sum(), 100)
        self.assertFalse(((kinds == 'none-found') & (reached >= 25)).any())
        self.assertFalse(((kinds == 'none-found') & (unknown == 1)).any())
        below = np.isin(kinds, ['remote', 'none-found'])
        # one decimal: 24.96 is written 25.0
        self.assertFalse((self.column('reached_at_deg')[below] > 25.0).any())

    def test_rasters_are_a_window_of_the_model_s(self):
        self.run_ok('brant-slope', DEMO_DEM, '-o', self.dir / 'whole.tif')
        whole = self.read_raster(self.dir / 'whole.tif')
        model, window = self.open(DEMO_DEM), self.open(self.out / 'slope.tif')
        g, w = model.GetGeoTransform(), window.GetGeoTransform()
        col, row = (w[0] - g[0]) / 10, (g[3] - w[3]) / 10
        self.assertEqual((col % 1, row % 1), (0, 0))
        part = whole[int(row):int(row) + window.RasterYSize,
                     int(col):int(col) + window.RasterXSize]
        self.assertTrue(np.array_equal(part, self.read_raster(self.out / 'slope.tif'),
                                       equal_nan=True))

    def test_zones_are_numbered_alike_everywhere(self):
        zones = set(map(int, np.unique(self.open(self.out / 'zones.tif').ReadAsArray()))) - {0}
        layer = ogr.Open(str(self.out / 'tour.gpkg'))
        outlines = {f.GetField('number') for f in layer.GetLayerByName('zones')}
        above = {int(row['zone']) for row in self.read_csv(self.out / 'above.csv')}
        self.assertGreater(len(above), 10)
        self.assertLessEqual(above, outlines)
        self.assertLessEqual(zones, outlines)
        self.assertEqual(layer.GetLayerByName('legs').GetFeatureCount(), len(self.legs))
        self.assertEqual(layer.GetLayerByName('points').GetFeatureCount(), len(self.points))

    def test_zones_above_are_counted_in_the_table(self):
        rows = self.read_csv(self.out / 'above.csv')
        for leg in self.legs:
            # a zone that reaches the leg at the reach angle has a head; its own has none
            named = [r for r in rows if r['leg'] == leg['leg'] and r['on'] == '0' and r['head_m']]
            self.assertEqual(int(leg['zones_above'] or 0), len(named), leg)
            area = sum(float(r['area_m2']) for r in named)
            self.assertAlmostEqual(float(leg['area_above_m2'] or 0), area,
                                   delta=1 + 0.5 * len(named))

    def test_json_says_the_same(self):
        plan = json.loads((self.out / 'plan.json').read_text(encoding='utf-8'))
        tour, = plan['tours']
        self.assertEqual([leg['kind'] for leg in tour['legs']],
                         [leg['kind'] for leg in self.legs])
        for kind in KINDS:
            metres = sum(float(leg['length_m']) for leg in self.legs if leg['kind'] == kind)
            self.assertAlmostEqual(tour['metres'][kind], metres, delta=2)

    def test_waypoints(self):
        text = (self.out / 'waypoints.gpx').read_text(encoding='utf-8')
        names = re.findall(r'<wpt .*?<name>([^<]*)</name>', text, re.S)
        waits = [name for name in names if name.startswith('WAIT ')]
        self.assertEqual(len(names) - len(waits),
                         sum(leg['kind'] != 'none-found' for leg in self.legs))
        self.assertLessEqual(max(map(len, names)), 15)
        schema = SHARED.parent / 'schemas' / 'gpx11.xsd'
        if not schema.exists() or not shutil.which('xmllint'):
            self.skipTest('no schema or no xmllint: the file is not validated')
        done = subprocess.run(['xmllint', '--noout', '--schema', str(schema),
                               str(self.out / 'waypoints.gpx')], capture_output=True, check=False)
        self.assertEqual(done.returncode, 0, done.stderr)

    def test_summary(self):
        lines = self.summary.splitlines()
        self.assertIn('Ostler Horn from Fallow Hut', lines[0])
        self.assertLessEqual(max(map(len, lines)), 79)
        self.assertTrue(self.summary.endswith('None found is not safe.\n'))
        self.assertNotIn('\x1b', self.summary)  # no terminal, no bold
        self.assertIn('pitches under 20 m may be', self.summary)
        self.assertNotRegex(self.summary, r'(?i)\b(clear|score|go/no-go|green|red)\b')


class RealTours(PlanCase):
    def plan(self, dem, gpx, *options):
        done = self.run_ok('brant-plan', dem, gpx, '-d', self.dir / 'out', *options)
        legs = self.read_csv(self.dir / 'out' / 'legs.csv')
        self.check_legs(legs)
        return done, legs

    def test_a_climb(self):
        # provenance note: 100 points, all inside, at 289-1093 m, 17 % on 30 degrees or more
        _, legs = self.plan(self.shared('dem/northshore_3arcsec_4326.tif'),
                            self.shared('gpx/northshore_climb.gpx'))
        self.assertAlmostEqual(min(float(leg['low_m']) for leg in legs), 289, delta=15)
        self.assertAlmostEqual(max(float(leg['high_m']) for leg in legs), 1093, delta=15)
        self.assertIn('crosses', {leg['kind'] for leg in legs})

    @staticmethod
    def beyond(a, b):
        """Metres from a to b beyond the model's corners (gdalinfo)."""
        share = [(i + 0.5) / 200 for i in range(200)]
        out = sum(not (9.5998611 < a[0] + t * (b[0] - a[0]) < 10.1998611 and
                       46.5001389 < a[1] + t * (b[1] - a[1]) < 47.1001389) for t in share)
        return geodesic(a, b) * out / len(share) if out else 0.0

    def test_two_segments_that_leave_the_model(self):
        gpx = self.shared('gpx/davos_ride_2_segments_leaves_dem.gpx')
        done, legs = self.plan(self.shared('dem/davos_1arcsec_4326_i16.tif'), gpx)
        segments = gpx_segments(gpx)
        self.assertEqual(len(segments), 2)
        length = sum(geodesic(a, b) for track in segments for a, b in zip(track, track[1:]))
        # the way from one segment to the next is no leg
        self.assertAlmostEqual(float(legs[-1]['to_m']), length, delta=0.5)
        outside = sum(self.beyond(a, b) for track in segments for a, b in zip(track, track[1:]))
        warned, = [line for line in done.err.splitlines() if 'lie outside' in line]
        said = float(re.search(r'([\d,]+) m\b', warned).group(1).replace(',', ''))
        self.assertAlmostEqual(said, outside, delta=60)  # a cell at each border met
        unknown = sum(float(leg['length_m']) for leg in legs if leg['kind'] == 'unknown')
        self.assertGreaterEqual(unknown, said - 1)

    def test_a_drawn_tour_on_band_4(self):
        dem = self.shared('dem/ecuador_10m_utm17s_f32_band4_nan.tif')
        data = self.open(dem)
        g = data.GetGeoTransform()
        middle = [(g[0] + 10 * c, g[3] - 10 * r) for c, r in
                  ((120, 120), (160, 170), (200, 200), (240, 260), (280, 300))]
        gpx = self.write_gpx('drawn.gpx', middle, definition=data.GetSpatialRef().ExportToWkt())
        _, legs = self.plan(dem, gpx, '--band-number', 4)
        kinds = {leg['kind'] for leg in legs}
        self.assertTrue({'crosses', 'over-band'} & kinds)
        heights = [float(leg['low_m']) for leg in legs if leg['low_m']]
        self.assertGreater(min(heights), 1711)


if __name__ == '__main__':
    main()
