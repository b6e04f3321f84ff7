"""Where to wait, what is below a leg, and what is above one's own line: what the
demo's files say of them, looked at with other means."""

import json
import math
import re

import numpy as np
from osgeo import gdal, ogr, osr

from brant_case import DEMO_DEM, DEMO_GPX, BrantCase, crs, main

WORSE = ['unknown', 'crosses', 'over-band', 'edge', 'under', 'remote']


class Demo(BrantCase):
    @classmethod
    def setUpClass(cls):
        super().setUpClass()
        runner = cls('run_ok')
        runner.setUp()
        cls.addClassCleanup(runner.doCleanups)
        cls.out = runner.dir / 'out'
        cls.summary = runner.run_ok('brant-plan', DEMO_DEM, DEMO_GPX, '-d', cls.out).out
        cls.legs = runner.read_csv(cls.out / 'legs.csv')
        cls.tour, = json.loads((cls.out / 'plan.json').read_text(encoding='utf-8'))['tours']

    def line(self, word):
        """A line of the summary, unfolded."""
        text = re.search(rf'^{word} .*(?:\n +.*)*', self.summary, re.M)
        return re.sub(r'\s+', ' ', text.group(0)) if text else None

    # ---- where to wait ----

    def around(self, name, band, lon, lat, metres):
        """The cells of a raster (10 m) whose centres are that near, NaN for nodata."""
        data = self.open(self.out / name)
        z = self.read_raster(self.out / name, band)
        there = osr.CoordinateTransformation(crs('EPSG:4326'), data.GetSpatialRef())
        x, y, _ = there.TransformPoint(lon, lat)
        g = data.GetGeoTransform()
        rows, cols = np.indices(z.shape)
        away = np.hypot(g[0] + (cols + 0.5) * g[1] - x, g[3] + (rows + 0.5) * g[5] - y)
        return z[away <= metres]

    def test_waits_are_outside_the_shadow(self):
        self.assertGreater(len(self.tour['waits']), 3)
        for wait in self.tour['waits']:
            place = wait['lon'], wait['lat']
            self.assertLess(np.nanmax(self.around('runout.tif', 1, *place, 30)), 20)
            self.assertEqual(np.nanmax(self.around('runout.tif', 5, *place, 30)), 0)
            self.assertLess(np.nanmax(self.around('slope.tif', 1, *place, 30)), 30)

    def test_waits_bracket_every_exposed_leg(self):
        waits = {wait['wait']: wait['along_m'] for wait in self.tour['waits']}
        exposed = 0
        for leg in self.legs:
            if leg['kind'] not in WORSE:
                continue
            stretch, = [s for s in self.tour['exposed']
                        if s['from_m'] <= float(leg['from_m']) and s['to_m'] >= float(leg['to_m'])]
            exposed += float(leg['to_m']) - float(leg['from_m'])
            if stretch['wait_before']:
                self.assertLessEqual(waits[stretch['wait_before']], float(leg['from_m']) - 30)
            if stretch['wait_after']:
                self.assertGreaterEqual(waits[stretch['wait_after']], float(leg['to_m']) + 30)
        self.assertAlmostEqual(sum(s['exposed_m'] for s in self.tour['exposed']), exposed, delta=1)
        for leg in self.legs:
            inside = [at for at in waits.values()
                      if float(leg['from_m']) < at < float(leg['to_m'])]
            self.assertFalse(inside and leg['kind'] in WORSE)

    def test_waits_are_told_alike(self):
        tour = ogr.Open(str(self.out / 'tour.gpkg'))
        self.assertEqual([f.GetField('along_m') for f in tour.GetLayerByName('waits')],
                         [wait['along_m'] for wait in self.tour['waits']])
        text = (self.out / 'waypoints.gpx').read_text(encoding='utf-8')
        km = re.findall(r'<name>WAIT ([^<]*)</name>', text)
        self.assertEqual(len(km), len(self.tour['waits']))
        for at, wait in zip(km, self.tour['waits']):
            self.assertAlmostEqual(float(at), wait['along_m'] / 1000, delta=0.0052)
        line = self.line('WAIT')
        self.assertIn(', '.join(km), line)
        self.assertIn('outside reach at 20', line)
        # the demo starts and ends under release ground
        self.assertIsNone(self.tour['exposed'][0]['wait_before'])
        self.assertIn('no place before 0.00-', line)
        self.assertNotIn('none found', line)  # which is said of ground

    def test_a_shadow_that_stops_above_20_has_no_waits(self):
        done = self.run_ok('brant-plan', DEMO_DEM, DEMO_GPX, '-d', self.dir / 'out', '--floor', 21)
        self.assertIn('WAIT  not known', done.out)
        tour, = json.loads((self.dir / 'out' / 'plan.json').read_text())['tours']
        self.assertIsNone(tour['waits'])
        self.assertNotIn('WAIT', (self.dir / 'out' / 'waypoints.gpx').read_text())

    def test_route_says_the_same(self):
        self.run_ok('brant-route', DEMO_DEM, DEMO_GPX, '-o', self.dir / 'legs.csv', '--waypoints',
                    self.dir / 'w.gpx')
        for mine, plan in (('legs.csv', 'legs.csv'), ('w.gpx', 'waypoints.gpx')):
            self.assertEqual((self.dir / mine).read_bytes(), (self.out / plan).read_bytes())


    # ---- above ----

    def test_every_zone_of_the_shadow_is_in_the_table(self):
        """The runout raster's zone at each point is among those of the point's leg, and no
        more zones reach a cell of it than the leg's row says."""
        rows = self.read_csv(self.out / 'above.csv')
        points = self.read_csv(self.out / 'points.csv')
        data = self.open(self.out / 'runout.tif')
        there = osr.CoordinateTransformation(crs('EPSG:4326'), data.GetSpatialRef())
        back = gdal.InvGeoTransform(data.GetGeoTransform())
        zone, count = (data.GetRasterBand(b).ReadAsArray() for b in (3, 4))
        looked = 0
        for leg in self.legs:
            met = {int(r['zone']) for r in rows if r['leg'] == leg['leg']}
            reaching = {r['zone'] for r in rows if r['leg'] == leg['leg'] and r['head_m']}
            for p in points:
                if not float(leg['from_m']) < float(p['along_m']) < float(leg['to_m']):
                    continue
                x, y, _ = there.TransformPoint(float(p['lon']), float(p['lat']))
                col, row = gdal.ApplyGeoTransform(back, x, y)
                if min(col % 1, 1 - col % 1, row % 1, 1 - row % 1) < 0.005:
                    continue  # on a cell's line
                at = int(row), int(col)
                if zone[at] > 0:
                    looked += 1
                    self.assertIn(int(zone[at]), met)
                    # its own zone counts in the raster
                    self.assertLessEqual(count[at], len(reaching) + bool(p['zone']))
        self.assertGreater(looked, 500)

    def test_the_governing_slope_has_the_largest_face(self):
        rows = self.read_csv(self.out / 'above.csv')
        for leg in self.legs:
            met = [r for r in rows if r['leg'] == leg['leg'] and
                   (r['head_m'] or '1' in (r['on'], r['edge']))]
            if not met:
                self.assertEqual(leg['governing_zone'], '')
                continue
            self.assertEqual(float(leg['governing_face_m2']),
                             max(float(r['face_m2']) for r in met))
            self.assertIn(leg['governing_zone'], {r['zone'] for r in met})

    # ---- below, and above one's own line ----

    def test_a_leg_in_a_gully_says_so(self):
        inside = [leg for leg in self.legs if leg['in_gully'] == '1']
        self.assertGreater(len(inside), 0)
        for leg in self.legs:
            sought = leg['kind'] in ('unknown', 'crosses', 'over-band', 'edge', 'under')
            self.assertFalse(leg['in_gully'] and not sought)
            self.assertFalse(leg['below'] and not sought)
            # the demo's voids and edge: what is not known is never nothing
            self.assertTrue(leg['kind'] != 'unknown' or 'unknown' in leg['below'] or
                            'cliff' in leg['below'])
            self.assertTrue(leg['in_gully'] or not sought or 'unknown' in leg['below'] or
                            leg['kind'] == 'unknown')
            self.assertEqual(bool(re.match('(cliff then )?gully( then|$)', leg['below'])),
                             leg['in_gully'] == '1', leg)
            self.assertRegex(leg['below'],
                             r'^(((unknown then )?(cliff|gully|flat)( \d+0 m)?'
                             r'( then unknown)?( then cliff \d+0 m)?)|unknown|)$')
        self.assertIn('you are in a gully', re.sub(r'\s+', ' ', self.summary))
        self.assertEqual([leg['below'] or None for leg in self.legs],
                         [leg['below'] for leg in self.tour['legs']])

    def own_pairs(self):
        pairs = {(int(upper), int(leg['leg'])) for leg in self.legs
                 for upper in leg['above_legs'].split(';') if upper}
        self.assertGreater(len(pairs), 5)
        return pairs

    def test_above_own_line(self):
        """Between what above.csv says is so and what it says may be: a zone under or beside
        one leg reaches another below, or a part of it."""
        rows = self.read_csv(self.out / 'above.csv')
        legs = {int(leg['leg']): leg for leg in self.legs}
        crossed = {(r['zone'], int(r['leg'])) for r in rows if '1' in (r['on'], r['edge'])}
        reached = {(r['zone'], int(r['leg'])) for r in rows if r['head_m']}

        def pairs(lowers, upper_height, lower_height):
            return {(upper, lower) for z, upper in crossed for y, lower in lowers
                    if z == y and upper != lower and
                    float(legs[upper][upper_height]) > float(legs[lower][lower_height])}

        sure = pairs(reached - crossed, 'low_m', 'high_m')
        self.assertGreater(len(sure), 5)
        self.assertLessEqual(sure, self.own_pairs())
        self.assertLessEqual(self.own_pairs(), pairs(reached, 'high_m', 'low_m'))
        # a leg at the zone's edge at one end and under it at the other
        self.assertTrue(self.own_pairs() - pairs(reached - crossed, 'high_m', 'low_m'))
        told = {(o['above'], o['below']) for o in self.tour['above_own_line']}
        self.assertEqual(told, self.own_pairs())
        self.assertRegex(self.line('LINE'), r'^LINE legs? [\d -]+ above leg \d+')

    def test_others(self):
        """The same line as another party's: what is above is so both ways."""
        away = '<wpt lat="43" lon="8"/><trk><name>Away</name><trkseg>' + ''.join(
            f'<trkpt lat="{lat}" lon="8.9"/>' for lat in (43.4, 43.41)) + '</trkseg></trk>'
        others = self.write_text('others.gpx', DEMO_GPX.read_text(encoding='utf-8').replace(
            '</gpx>', away + '</gpx>'))
        done = self.run_ok('brant-plan', DEMO_DEM, DEMO_GPX, '-d', self.dir / 'out', '--others',
                           others)
        warned, = [line for line in done.err.splitlines() if 'Away' in line]
        self.assertIn('not looked at', warned)
        tours = json.loads((self.dir / 'out' / 'plan.json').read_text(encoding='utf-8'))['tours']
        self.assertEqual(len(tours), 1)
        place = {(leg['from_m'], leg['to_m']): leg['leg'] for leg in tours[0]['legs']}
        told = {'own': set(), 'upper': set(), 'lower': set()}
        for over in tours[0]['above_own_line']:
            ends, who = [], 'own'
            for end in ('above', 'below'):
                leg = over[end]
                if isinstance(leg, dict):
                    who = 'upper' if end == 'above' else 'lower'
                    leg = place[leg['from_m'], leg['to_m']]
                ends.append(leg)
            told[who].add(tuple(ends))
        self.assertEqual(told['own'], self.own_pairs())
        # both on one long leg, one can be above the other
        both = {(leg['leg'], leg['leg']) for leg in tours[0]['legs']}
        self.assertEqual(told['upper'] - both, self.own_pairs())
        self.assertEqual(told['lower'], told['upper'])
        # nothing else has changed
        for mine, leg in zip(self.read_csv(self.dir / 'out' / 'legs.csv'), self.legs):
            self.assertEqual({**mine, 'above_legs': ''}, {**leg, 'above_legs': ''})
        self.run_ok('brant-route', DEMO_DEM, DEMO_GPX, '-o', self.dir / 'l.csv', '--others', others)
        self.assertEqual((self.dir / 'l.csv').read_bytes(),
                         (self.dir / 'out' / 'legs.csv').read_bytes())

    def test_others_from_nowhere(self):
        self.assert_refused(self.run_program('brant-route', DEMO_DEM, DEMO_GPX, '-o', '-',
                                             '--others', self.dir / 'no.gpx', '--quiet'), 'no.gpx')
        self.assertEqual(self.run_program('brant-route', DEMO_DEM, DEMO_GPX, '-o', '-',
                                          '--others', '-').code, 2)


class Made(BrantCase):
    """A line across a slope of 36 degrees, and what is at a known distance below it."""

    def below(self, azimuth, cell, ground, holes=None, kind='crosses', gully='0'):
        """What is told; heights and holes by metres uphill of the line and along it."""
        sine, cosine = math.sin(math.radians(azimuth)), math.cos(math.radians(azimuth))

        def up(x, y):
            return x * sine + y * cosine

        dem = self.centred_dem('made.tif', lambda x, y: 3000 + ground(up(x, y)),
                               2 * int(900 / cell), cell=cell,
                               holes=holes and (lambda x, y: holes(up(x, y), x * cosine - y * sine)))
        gpx = self.write_gpx('line.gpx', [(-100 * cosine, 100 * sine), (100 * cosine, -100 * sine)])
        out = self.dir / 'legs.csv'
        self.run_ok('brant-route', dem, gpx, '-o', out, '--scale', 'native', '--quiet')
        leg, = self.read_csv(out)
        self.assertEqual((leg['kind'], leg['in_gully']), (kind, gully))
        return leg['below']

    def test_a_cliff(self):
        for azimuth, cell, away in ((0, 10, 100), (33, 10, 150), (250, 5, 100), (70, 30, 200)):
            with self.subTest(azimuth=azimuth, cell=cell):
                told = self.below(azimuth, cell,
                                  lambda up: math.tan(math.radians(36)) * up - 60 * (up < -away))
                metres = float(re.fullmatch(r'cliff (\d+) m', told).group(1))
                # from a cell that the line is in to one at the brink
                self.assertAlmostEqual(metres, away, delta=5 + 1.5 * cell)

    def test_a_flat(self):
        for azimuth, cell in ((0, 10), (33, 10), (250, 5)):
            with self.subTest(azimuth=azimuth, cell=cell):
                told = self.below(azimuth, cell, lambda up: math.tan(math.radians(36)) *
                                  np.clip(up, -150, 100))
                metres = float(re.fullmatch(r'flat (\d+) m', told).group(1))
                self.assertGreaterEqual(metres, 150 - cell)
                self.assertLessEqual(metres, 150 + 25 + cell)

    def test_a_void_on_the_way(self):
        told = self.below(33, 10, lambda up: math.tan(math.radians(36)) * up - 60 * (up < -200),
                          holes=lambda up, _: (up < -120) & (up > -160))
        self.assertTrue(told.startswith('unknown'), told)

    @staticmethod
    def terrace(up, cliff=0):
        """36 degrees from 100 m above the line to 450 m below it, with a terrace of 60 m from
        150 m down on, and a cliff of 60 m 350 m down."""
        up = np.clip(up, -450, 100)
        return math.tan(math.radians(36)) * (np.maximum(up, -150) + np.minimum(up + 210, 0)) - \
            60.0 * (up < -350) * cliff

    def test_a_void_further_down(self):
        """Past the first that is told, it is said where it is not known how it goes on."""
        for azimuth, cell in ((0, 10), (33, 10), (250, 5)):
            with self.subTest(azimuth=azimuth, cell=cell):
                self.assertRegex(self.below(azimuth, cell, self.terrace), r'^flat \d+ m$')
                self.assertRegex(self.below(azimuth, cell, self.terrace,
                                            holes=lambda up, _: (up < -260) & (up > -310)),
                                 r'^flat \d+ m then unknown$')
                # beside the line's middle, so that the snow passes it
                beside = self.below(azimuth, cell, lambda up: self.terrace(up, 1),
                                    holes=lambda up, along: (up < -260) & (up > -310) & (along > 0))
                self.assertRegex(beside, r'^flat \d+ m then unknown then cliff \d+ m$')
                # past the cliff it does not matter
                self.assertRegex(self.below(azimuth, cell, lambda up: self.terrace(up, 1),
                                            holes=lambda up, _: up < -500),
                                 r'^flat \d+ m then cliff \d+ m$')

    def test_a_void_above(self):
        """How high it comes is not known, nor how far down it goes."""
        above = {'holes': lambda up, _: (up > 200) & (up < 260)}
        self.assertRegex(self.below(33, 10, self.terrace, **above), r'^flat \d+ m then unknown$')
        self.assertRegex(self.below(33, 10, lambda up: self.terrace(up, 1), **above),
                         r'^flat \d+ m then cliff \d+ m$')

    def test_from_unknown_ground(self):
        """A leg named unknown, too: all that is above it is a hole."""
        def ground(up):
            return math.tan(math.radians(28)) * up - 60.0 * (up < -300)

        told = self.below(33, 10, ground, holes=lambda up, _: up > 120, kind='unknown')
        self.assertRegex(told, r'^cliff \d+ m$')
        told = self.below(33, 10, ground, holes=lambda up, _: up > 25, kind='unknown')
        self.assertRegex(told, r'^unknown then cliff \d+ m$')
        # the line's own heights are not known, nor what could be above them
        told = self.below(33, 10, ground, holes=lambda up, _: up > 0, kind='unknown', gully='')
        self.assertRegex(told, r'^unknown then cliff \d+ m$')
        # a gully has two sides
        self.assertEqual(self.below(33, 10, ground, holes=lambda up, _: abs(up) > 40,
                                    kind='unknown', gully=''), 'unknown')


if __name__ == '__main__':
    main()
