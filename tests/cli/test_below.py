"""Where to wait, what is below a leg, and what is above one's own line: what the
demo's files say of them, looked at with other means."""

import json
import re

import numpy as np
from osgeo import ogr, osr

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
        self.assertIn('none found before 0.00-', line)

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


if __name__ == '__main__':
    main()
