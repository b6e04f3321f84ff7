"""Unknown stays unknown: voids poked into the model and into zones at random bring no point,
no leg and no circuit nearer to 'none-found', in any table, in plan.json or on the sheet.

A void may hide ground; it is searched from its rim as if the ground rose 300 m behind it
(--void-rise). So the voids poked here hide no ground that rises more.

BRANT_POKES sets how many worlds are tried (default 4)."""

import json
import math
import os
import re
import subprocess

import numpy as np
from osgeo import ogr

from brant_case import BrantCase, main

POKES = int(os.environ.get('BRANT_POKES', '4'))
FIRST = int(os.environ.get('BRANT_POKES_FROM', '1'))
CELLS, CELL = 160, 10.0
RISE = 60


def world(rng):
    """A long slope of 30 to 42 degrees, ribbed, over rolling ground, seen from random sides."""
    axis = (np.arange(CELLS) + 0.5 - CELLS / 2) * CELL
    x, y = np.meshgrid(axis, -axis)
    turn = rng.uniform(0, 2 * np.pi)
    along = x * np.cos(turn) + y * np.sin(turn)
    across = y * np.cos(turn) - x * np.sin(turn)
    height = rng.uniform(100, 500)
    ribs = 25 * np.sin(across / rng.uniform(60, 140) + rng.uniform(0, 6))
    z = 1000 + np.clip((along - 100 + ribs) * rng.uniform(0.6, 0.9), 0, height)
    z += rng.uniform(1, 8) * np.sin(x / 90 + rng.uniform(0, 6)) * np.cos(y / 70)
    return z + rng.uniform(0, 0.3, z.shape)


def poke(rng, z):
    """Voids of all sizes up to a lake's that hide less height than RISE."""
    z = z.copy()
    for _ in range(rng.integers(1, 6)):
        rows, cols = rng.integers(1, rng.choice([2, 5, 30]), 2)
        row, col = rng.integers(0, CELLS - rows), rng.integers(0, CELLS - cols)
        hidden = z[row:row + rows, col:col + cols]
        if np.isnan(hidden).all() or np.nanmax(hidden) - np.nanmin(hidden) < RISE - 10:
            hidden[:] = np.nan
    return z


class Unknown(BrantCase):
    def track(self, rng):
        across = CELLS * CELL / 2 - 60
        return [tuple(rng.uniform(-across, across, 2)) for _ in range(4)]

    def own_angles(self, rng, zones):
        """Some zones get a reach angle of their own."""
        data = ogr.Open(str(zones), 1)
        layer = data.GetLayerByName('zones')
        layer.CreateField(ogr.FieldDefn('reach_angle', ogr.OFTReal))
        for feature in layer:
            if rng.random() < 0.5:
                feature.SetField('reach_angle', float(rng.uniform(15, 32)))
                layer.SetFeature(feature)

    def plan(self, name, dem, zones):
        out = self.dir / name
        self.run_ok('brant-plan', dem, self.dir / 'tour.gpx', '-d', out, '--scale', 'native',
                    '--level', '3', '--void-rise', RISE, '--quiet', *(['--zones', zones] if zones else []))
        return out

    @staticmethod
    def quiet(out):
        """What is none-found in a plan: by points, by legs, by plan.json; metres on the sheet."""
        case = BrantCase()
        points = {p['point'] for p in case.read_csv(out / 'points.csv')
                  if p['kind'] == 'none-found'}
        legs = [(float(leg['from_m']), float(leg['to_m']))
                for leg in case.read_csv(out / 'legs.csv') if leg['kind'] == 'none-found']
        tour = json.loads((out / 'plan.json').read_text(encoding='utf-8'))['tours'][0]
        told = [(leg['from_m'], leg['to_m']) for leg in tour['legs']
                if leg['kind'] == 'none-found']
        return points, legs, told

    def spans_within(self, inner, outer, told):
        """Every none-found stretch lies on such stretches of the run without voids."""
        joined = []
        for low, high in sorted(outer):
            if joined and low <= joined[-1][1] + 0.1:
                joined[-1][1] = max(high, joined[-1][1])
            else:
                joined.append([low, high])
        for low, high in inner:
            self.assertTrue(any(a <= low + 0.1 and high - 0.1 <= b for a, b in joined),
                            f'{told}: {low}-{high} m none-found, was {joined}')

    def on_the_sheet(self, out):
        """The stretches that the sheet's table calls none found."""
        self.run_ok('brant-sheet', out, '-o', out / 'page.pdf')
        text = subprocess.run(['pdftotext', '-layout', str(out / 'page.pdf'), '-'],
                              capture_output=True, check=True).stdout.decode()
        rows = re.findall(r'(?m)^ *\d+ +([0-9.]+)-([0-9.]+) .*\n *none found',
                          text.replace('\xa0', ' '))  # the kind stands below the number
        return [(1000 * float(low), 1000 * float(high)) for low, high in rows]

    def compare(self, seed, before, after):
        was, now = self.quiet(before), self.quiet(after)
        self.assertEqual(sorted(now[0] - was[0], key=int), [], f'world {seed}: points none-found')
        self.spans_within(now[1], was[1], f'world {seed}, legs.csv')
        self.spans_within(now[2], was[2], f'world {seed}, plan.json')
        shown = self.on_the_sheet(after)
        self.assertEqual(len(shown), len(now[1]), f'world {seed}: the sheet has other legs')
        for low, high in shown: # it rounds to 10 m
            self.spans_within([(low + 5, high - 5)], was[1], f'world {seed}, sheet')

    def screen(self, name, dem, seed):
        """Of three circuits, by file: metres of none-found, of all, and where none-found."""
        rng = np.random.default_rng(1000 + seed)
        files = [self.dir / 'tour.gpx'] + [self.write_gpx(f'other{i}.gpx', self.track(rng))
                                           for i in range(2)]
        self.run_ok('brant-screen', dem, *files, '--scale', 'native', '--level', '3',
                    '--void-rise', RISE, '--quiet', '-o', f'{name}.csv', '--legs',
                    f'{name}_legs.csv')
        legs = self.read_csv(self.dir / f'{name}_legs.csv')
        return {row['file']: (float(row['none_found_m']), float(row['length_m']),
                              [(float(leg['from_m']), float(leg['to_m'])) for leg in legs
                               if leg['file'] == row['file'] and leg['kind'] == 'none-found'])
                for row in self.read_csv(self.dir / f'{name}.csv')}

    def compare_circuits(self, seed, before, after):
        was, now = (self.screen(name, dem, seed) for name, dem in
                    (('before', before), ('after', after)))
        self.assertEqual(len(now), 3)
        for file, (none_found, length, spans) in now.items():
            told = f'world {seed}, {os.path.basename(file)}'
            self.assertLessEqual(none_found, was[file][0] + 0.1, told)
            self.assertEqual(length, was[file][1], told)
            self.spans_within(spans, was[file][2], told)

    def try_world(self, seed):
        rng = np.random.default_rng(seed)
        z = world(rng)
        dem = self.write_dem('dem.tif', z, west=-CELLS * CELL / 2, north=CELLS * CELL / 2)
        self.write_gpx('tour.gpx', self.track(rng))
        zones = None
        if seed % 2 == 0:
            zones = self.dir / 'zones.gpkg'
            self.run_ok('brant-zones', dem, '-o', self.dir / 'z.tif', '--polygons', zones,
                        '--scale', 'native')
            self.own_angles(rng, zones)
        before = self.plan(f'before{seed}', dem, zones)
        poked = self.write_dem('poked.tif', poke(rng, z), west=-CELLS * CELL / 2,
                               north=CELLS * CELL / 2)
        after = self.plan(f'after{seed}', poked, zones)
        if os.environ.get('BRANT_TELL'): print(seed, len(self.quiet(before)[0]), len(self.quiet(after)[0]))
        self.compare(seed, before, after)
        if zones:
            zones.unlink()
        else:
            self.compare_circuits(seed, dem, poked)

    def test_a_void_in_the_way_of_a_flat_reach_angle(self):
        # 200 m of 36 degrees to the west, then flat: at 15 degrees it reaches to x = 346,
        # past a void whose own rim, 60 m up, reaches 129 m at the run's 25
        dem = self.centred_dem('dem.tif', lambda x, y: 1000 + np.clip(-0.73 * (x + 126), 0, 200) +
                               0 * y, 240)
        zones = self.dir / 'zones.gpkg'
        self.run_ok('brant-zones', dem, '-o', self.dir / 'z.tif', '--polygons', zones, '--scale',
                    'native')
        data = ogr.Open(str(zones), 1)
        layer = data.GetLayerByName('zones')
        layer.CreateField(ogr.FieldDefn('reach_angle', ogr.OFTReal))
        for feature in layer:
            feature.SetField('reach_angle', 15.0)
            layer.SetFeature(feature)
        data = layer = None
        self.write_gpx('tour.gpx', [(230, -300), (230, 300)])
        before = self.plan('before', dem, zones)
        self.assertEqual({p['kind'] for p in self.read_csv(before / 'points.csv')}, {'under'})
        poked = self.centred_dem('poked.tif', lambda x, y: 1000 +
                                 np.clip(-0.73 * (x + 126), 0, 200) + 0 * y, 240,
                                 holes=lambda x, y: (x > 0) & (x < 60))
        after = self.plan('after', poked, zones)
        kinds = {p['kind'] for p in self.read_csv(after / 'points.csv')}
        self.assertNotIn('none-found', kinds)
        raster = self.dir / 'runout.tif'
        self.run_ok('brant-runout', poked, zones, '-o', raster, '--void-rise', RISE, '--scale',
                    'native')
        unknown = self.read_raster(raster, band=5)
        self.assertTrue((unknown[90:150, 143] == 1).all())

    def test_a_void_under_a_high_line(self):
        # 400 m of 36 degrees, then flat: over the void the line is up to 145 m high, and
        # reaches to x = 310; from the void's rim, 60 m up, only to x = 189
        def height(x, y):
            return 1000 + np.clip(-0.73 * x, 0, 400) + 0 * y
        dem = self.centred_dem('dem.tif', height, 240)
        self.write_gpx('tour.gpx', [(260, -300), (260, 300)])
        before = self.plan('before', dem, None)
        self.assertEqual({p['kind'] for p in self.read_csv(before / 'points.csv')}, {'under'})
        poked = self.centred_dem('poked.tif', height, 240, holes=lambda x, y: (x > 20) & (x < 60))
        after = self.plan('after', poked, None)
        self.assertEqual({p['kind'] for p in self.read_csv(after / 'points.csv')}, {'unknown'})

    def test_voids_make_nothing_better(self):
        for seed in range(FIRST, FIRST + POKES):
            with self.subTest(world=seed):
                self.try_world(seed)



class Beyond(BrantCase):
    def test_from_the_edge_over_a_void(self):
        """A slope of 28 degrees, no release ground, from the model's edge to a flat, a void
        across its foot. What comes from beyond the edge at 25 degrees is higher over the void
        than --void-rise above its rim: tan 25 = (rise + height) / way."""
        length, rise = 500, 40
        steep, line = math.tan(math.radians(28)), math.tan(math.radians(25))
        way = (rise + length * steep) / line  # from the edge; from the void's rim 86 m
        dem = self.centred_dem('dem.tif', lambda x, y: 1000 + steep * np.maximum(y - 250, 0), 150,
                               holes=lambda x, y: abs(y - 260) < 15)
        self.write_gpx('tour.gpx', [(0, 230), (0, -600)])
        self.run_ok('brant-route', dem, 'tour.gpx', '-o', 'legs.csv', '--void-rise', rise)
        first, second = self.read_csv(self.dir / 'legs.csv')[:2]
        self.assertEqual((first['kind'], second['kind']), ('unknown', 'none-found'))
        self.assertAlmostEqual(230 - float(first['to_m']), 750 - way, delta=20)


if __name__ == '__main__':
    main()
