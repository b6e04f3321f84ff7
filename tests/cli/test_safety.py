"""No false none-found. Each ground has something above the route that brant must
not miss, and a twin without it on which the same place is none-found, so that the
test is of the thing and not of the surroundings.

Figures are by geometry: snow from a height H above a point reaches it when H over
the distance exceeds tan(reach angle), 25 degrees by default."""

import math

import numpy as np
from osgeo import osr

from brant_case import LOCAL, BrantCase, crs, main


def tan(degrees):
    return math.tan(math.radians(degrees))


def profile(*points):
    """Height by distance north, straight between (y, z) pairs, level beyond."""
    ys, zs = zip(*sorted(points))
    return lambda x, y: np.interp(y, ys, zs)


class NoFalseNoneFound(BrantCase):
    def kinds(self, dem, track, within=None):
        """The kinds of the points of an east-west route; `within` metres of x = 0."""
        gpx = self.write_gpx('tour.gpx', track)
        self.run_ok('brant-route', dem, gpx, '-o', self.dir / 'legs.csv', '--points',
                    self.dir / 'points.csv', '--quiet')
        half = (track[-1][0] - track[0][0]) / 2
        kinds = {p['kind'] for p in self.read_csv(self.dir / 'points.csv')
                 if within is None or abs(float(p['along_m']) - half) <= within}
        if within is None:  # the legs say no less than the points
            self.assertEqual(kinds, {leg['kind'] for leg in self.read_csv(self.dir / 'legs.csv')})
        self.assertTrue(kinds)
        return kinds

    def check(self, dem, twin, track, within=None):
        self.assertEqual(self.kinds(twin, track, within), {'none-found'})
        kinds = self.kinds(dem, track, within)
        self.assertNotIn('none-found', kinds)
        return kinds

    def test_a_50_degree_wall_above_an_apron(self):
        # wall 120 m high: reaches 120/tan(25) - 120/tan(50) = 156 m beyond its foot
        foot, run = 0, 120 / tan(50)
        wall = profile((-400, 965), (foot, 1000), (run, 1120))
        without = profile((-400, 965), (foot, 1000), (run, 1000))
        dem = self.centred_dem('dem.tif', wall, 300)
        twin = self.centred_dem('twin.tif', without, 300)
        for y in (-60, -110):
            kinds = self.check(dem, twin, [(-300, y), (300, y)])
            self.assertEqual(kinds, {'under'})

    def test_a_wall_s_foot_from_every_side(self):
        # a round tower, 50 degrees all round: no azimuth is missed
        def tower(x, y):
            return 1000 + np.clip((220 - np.hypot(x, y)) * tan(50), 0, 120)

        dem = self.centred_dem('dem.tif', tower, 300)
        ring = [(300 * math.cos(a), 300 * math.sin(a)) for a in np.linspace(0, 2 * math.pi, 90)]
        gpx = self.write_gpx('ring.gpx', ring)
        self.run_ok('brant-route', dem, gpx, '-o', self.dir / 'legs.csv')
        self.assertEqual({leg['kind'] for leg in self.read_csv(self.dir / 'legs.csv')}, {'under'})

    def test_a_pitch_of_15_m_by_20_m_above_a_path(self):
        # on a 20 degree slope, cells of 5 m: the pitch drops 15 tan(40) = 12.6 m in
        # 15 m, so its energy line meets the slope 54 m below its foot; the path is
        # 40 m below it, outside the edge of 30 m
        def slope(x, y):
            return 1000 + np.interp(y, (-150, 150), (0, 300 * tan(20)))

        def pitch(x, y):
            drop = 15 * (tan(40) - tan(20)) * np.clip(y / 15, 0, 1)
            here = np.abs(x) < 10
            fade = np.clip((150 - y) / 135, 0, 1)  # back to the slope, above
            return slope(x, y) + np.where(here & (y > 0), drop * fade, 0)

        dem = self.centred_dem('dem.tif', pitch, 360, cell=5.0)
        twin = self.centred_dem('twin.tif', slope, 360, cell=5.0)
        self.check(dem, twin, [(-100, -40), (100, -40)], within=5)

    def test_a_void_above(self):
        # 15 degrees: ground behind the void may rise 300 m
        ground = profile((-400, 1000), (400, 1000 + 800 * tan(15)))
        hole = {'holes': lambda x, y: (np.abs(x) < 30) & (np.abs(y - 150) < 30)}
        dem = self.centred_dem('dem.tif', ground, 400, **hole)
        twin = self.centred_dem('twin.tif', ground, 400)
        track = [(-100, -100), (100, -100)]
        self.assertEqual(self.check(dem, twin, track, within=20), {'unknown'})
        legs = self.read_csv(self.dir / 'legs.csv')
        self.assertTrue(any(leg['unknown_above'] not in ('', '0') for leg in legs))

    def test_one_void_cell_above(self):
        ground = profile((-400, 1000), (400, 1000 + 800 * tan(15)))
        hole = {'holes': lambda x, y: (np.abs(x - 5) < 5) & (np.abs(y - 155) < 5)}
        dem = self.centred_dem('dem.tif', ground, 400, **hole)
        twin = self.centred_dem('twin.tif', ground, 400)
        self.assertEqual(self.check(dem, twin, [(-50, -100), (50, -100)], within=5), {'unknown'})

    def test_the_raster_s_edge_above(self):
        ground = profile((-2000, 1000), (2000, 1000 + 4000 * tan(15)))
        whole = self.centred_dem('twin.tif', ground, 400)
        # the same ground, cut off 150 m above the path
        axis = (np.arange(400) + 0.5 - 200) * 10.0
        x, y = np.meshgrid(axis, -axis)
        z = ground(x, y)
        cut = self.write_dem('dem.tif', z[185:], west=-2000, north=150)
        track = [(-200, 0), (200, 0)]
        self.assertEqual(self.kinds(whole, track), {'none-found'})
        self.assertEqual(self.kinds(cut, track), {'unknown'})

    def test_far_from_the_edge_is_found_out(self):
        # level ground: 300 m behind the edge reach 300/tan(25) = 643 m
        flat = self.centred_dem('flat.tif', lambda x, y: 1000 + 0 * x, 300)
        self.assertEqual(self.kinds(flat, [(-200, 0), (200, 0)]), {'none-found'})
        self.assertEqual(self.kinds(flat, [(-200, 1000), (200, 1000)]), {'unknown'})

    def test_the_opposite_side_of_a_valley(self):
        # 200 m of 35 degrees across a 50 m floor: the energy line meets this side's
        # 10 degrees 67 m up; the path is 40 m up, and faces the slope
        run = 200 / tan(35)
        near = (-450, 1000 + 400 * tan(10))
        valley = profile(near, (-50, 1000), (0, 1000), (run, 1200))
        without = profile(near, (-50, 1000), (0, 1000))
        dem = self.centred_dem('dem.tif', valley, 300)
        twin = self.centred_dem('twin.tif', without, 300)
        self.assertEqual(self.check(dem, twin, [(-300, -90), (300, -90)]), {'under'})

    def test_beyond_a_lake(self):
        # 150 m of 38 degrees above 100 m of flat water: 150/tan(25) - 150/tan(38) = 130 m
        run = 150 / tan(38)
        dem = self.centred_dem('dem.tif', profile((0, 1000), (run, 1150)), 300)
        twin = self.centred_dem('twin.tif', profile((0, 1000), (run, 1000)), 300)
        self.assertEqual(self.check(dem, twin, [(-300, -110), (300, -110)]), {'under'})

    def test_a_mountain_far_above(self):
        # 1,500 m of 35 degrees: 1500/tan(25) = 3217 m from its top, 1075 m from its
        # foot; the top lies in another 1,024-cell square than the route
        cells, cell = (1400, 400), 10.0
        y = (np.arange(cells[0])[::-1] + 0.5) * cell
        run = 1500 / tan(35)
        foot = 6000.0
        for name, high, expected in (('twin.tif', 0, 'none-found'), ('dem.tif', 1500, 'under')):
            z = np.interp(y, (foot, foot + run), (1000, 1000 + high))[:, None] + np.zeros(cells)
            dem = self.write_dem(name, z, west=-2000, north=cells[0] * cell,
                                 definition=LOCAL)
            at = [(-100, foot - 1000), (100, foot - 1000)]
            with self.subTest(high=high):
                self.assertEqual(self.kinds(dem, at), {expected})

    def test_a_wall_on_a_geographic_grid(self):
        # the 120 m wall again, on cells of one arc second that are 21 m x 31 m
        run = 120 / tan(50)
        wall = profile((-900, 1000), (0, 1000), (run, 1120))
        cells, cell = 300, 1 / 3600
        west, north = 10 - cells / 2 * cell, 46.5 + cells / 2 * cell
        ground = osr.CoordinateTransformation(crs('EPSG:4326'), crs(LOCAL))
        z = np.empty((cells, cells))
        for row in range(cells):
            lat = north - (row + 0.5) * cell
            places = [(west + (col + 0.5) * cell, lat) for col in range(cells)]
            z[row] = [wall(x, y) for x, y, _ in ground.TransformPoints(places)]
        dem = self.write_dem('dem.tif', z, definition='EPSG:4326',
                             transform=(west, cell, 0, north, 0, -cell))
        self.assertEqual(self.kinds(dem, [(-300, -60), (300, -60)]), {'under'})

    def test_a_hole_under_the_route(self):
        flat = {'cells': 300}
        hole = {'holes': lambda x, y: (np.abs(x) < 30) & (np.abs(y) < 30)}
        dem = self.centred_dem('dem.tif', lambda x, y: 1000 + 0 * x, **flat, **hole)
        self.assertEqual(self.kinds(dem, [(-300, 0), (300, 0)], within=25), {'unknown'})

    def test_on_a_slope_and_under_the_slope_above(self):
        # 800 m of 35 degrees, split into bands of 20 ha (67 m across): a leg on the
        # second from below is under those above it, one on the uppermost under none
        slope = profile((0, 1000), (800, 1000 + 800 * tan(35)))
        dem = self.centred_dem('dem.tif', slope, 300)
        for y, above in ((100, True), (790, False)):
            self.assertEqual(self.kinds(dem, [(-300, y), (300, y)]), {'crosses'})
            leg, = self.read_csv(self.dir / 'legs.csv')
            self.assertEqual(int(leg['zones_above']) > 0, above)
            self.assertEqual(float(leg['area_above_m2']) > 1e5, above)
            self.assertEqual(leg['reached_at_deg'] != '', above)

    def test_at_other_reach_angles_something_is_said(self):
        """The search ranks at 25 degrees (brant-runout(1)): all outputs that are read say so."""
        dem = self.write_dem('dem.tif', np.zeros((60, 60)), west=-300, north=300)
        gpx = self.write_gpx('tour.gpx', [(-100, 0), (100, 0)])
        for angle, said in ((25, False), (32, True), (20, True)):
            plan = self.run_ok('brant-plan', dem, gpx, '-d', self.dir / f'plan{angle}',
                               '--reach-angle', angle)
            route = self.run_ok('brant-route', dem, gpx, '-o', '-', '--reach-angle', angle)
            for text in (plan.out, plan.err, route.err):
                self.assertEqual('what is reached is missed' in ' '.join(text.split()), said)

    def test_above_a_slope_and_connected_to_it(self):
        # 24 degrees above a pitch of 40: nothing reaches up, but within 100 m the
        # pitch can be triggered; not over a flat of 30 m between, nor from afar
        pitch = ((-100, 1000), (-40, 1000 + 60 * tan(40)))
        top = pitch[-1][1]
        joined = profile(*pitch, (200, top + 240 * tan(24)))
        apart = profile(*pitch, (-10, top), (200, top + 210 * tan(24)))
        dem = self.centred_dem('dem.tif', joined, 300)
        twin = self.centred_dem('twin.tif', apart, 300)
        self.assertEqual(self.check(dem, twin, [(-300, 55), (300, 55)]), {'remote'})
        self.assertEqual(self.kinds(dem, [(-300, 75), (300, 75)]), {'none-found'})


if __name__ == '__main__':
    main()
