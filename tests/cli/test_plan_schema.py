"""plan.json against the schema that is installed with the program, by a validator that is
not ours: what brant-plan writes fits it, and spoilt copies do not."""

import copy
import json
import os
import unittest
from pathlib import Path

import numpy as np

from brant_case import DEMO_DEM, DEMO_GPX, TESTDATA, BrantCase, main

try:
    import jsonschema
except ImportError:
    jsonschema = None

SOURCE = Path(os.environ.get('BRANT_SOURCE', Path(__file__).resolve().parents[2]))
SCHEMA = json.loads((SOURCE / 'src/report/plan.schema.json').read_text(encoding='utf-8'))
BULLETIN = TESTDATA / 'quern_bulletin.json'
DAY = ['--start', '2027-02-13T06:30+01:00', '--out-by', '13:00', '--wind-from', '240-300',
       '--new-snow', '30', '--warming', '--vertical-error', '1']


@unittest.skipIf(jsonschema is None, 'no python3-jsonschema')
class PlanSchema(BrantCase):
    def problems(self, plan):
        checker = jsonschema.Draft202012Validator(SCHEMA)
        return [f'{"/".join(map(str, e.absolute_path))}: {e.message[:200]}'
                for e in checker.iter_errors(plan)]

    def plan(self, *arguments):
        done = self.run_ok('brant-plan', *arguments, '-d', self.dir / 'plan', '--quiet')
        self.assertNotEqual(done.out, '')
        return json.loads((self.dir / 'plan' / 'plan.json').read_text(encoding='utf-8'))

    def assert_fits(self, *arguments):
        plan = self.plan(*arguments)
        self.assertEqual(self.problems(plan), [])
        return plan

    def slope(self, name='s.tif', holes=None):
        return self.centred_dem(name, lambda x, y: 2000 - np.abs(y) * np.tan(np.radians(36)), 80,
                                holes=holes)

    def test_the_schema_is_one(self):
        jsonschema.Draft202012Validator.check_schema(SCHEMA)

    def test_every_object_is_closed_and_asks_for_all_its_members(self):
        def look(node, place):
            if isinstance(node, dict):
                if 'properties' in node and node.get('type') == 'object':
                    self.assertIs(node.get('additionalProperties'), False, place)
                    self.assertEqual(sorted(node['required']), sorted(node['properties']), place)
                    objects.append(place)
                for key, value in node.items():
                    look(value, f'{place}/{key}')
            elif isinstance(node, list):
                for i, value in enumerate(node):
                    look(value, f'{place}/{i}')
        objects = []
        look(SCHEMA, '')
        self.assertGreater(len(objects), 15)

    def test_without_a_day_and_spoilt(self):
        plan = self.assert_fits(DEMO_DEM, DEMO_GPX)
        spoils = {
            'a member away': lambda p: p['tours'][0]['legs'][0].pop('unknown_above'),
            'a wrong type': lambda p: p['tours'][0]['legs'][0].update(length_m='163.3'),
            'an unknown member': lambda p: p['day'].update(score=1),
            'unknown as nothing': lambda p: p['tours'][0]['legs'][0].update(kind=None),
            'a new kind': lambda p: p['tours'][0]['points']['kind'].append('safe'),
            'a low level': lambda p: p['tours'][0]['legs'][0].update(level='0'),
            'an hour without its offset':
                lambda p: p['day'].update(start='2027-02-13T06:30:00'),
            'no tour': lambda p: p.update(tours=[]),
            'metres away': lambda p: p['tours'][0]['metres'].pop('unknown'),
            'a member of a zone away': lambda p: p['tours'][0]['legs'][0]['above'][0].pop('remote'),
        }
        for name, spoil in spoils.items():
            with self.subTest(name):
                spoilt = copy.deepcopy(plan)
                spoil(spoilt)
                self.assertEqual(len(self.problems(spoilt)), 1)

    def test_bulletin_and_hours(self):
        plan = self.assert_fits(DEMO_DEM, DEMO_GPX, '--bulletin', BULLETIN, *DAY)
        legs = plan['tours'][0]['legs']
        self.assertIn('over', {leg['limit'] for leg in legs})
        self.assertTrue(any(leg['unknown_because'] for leg in legs))
        self.assertTrue(plan['tours'][0]['waits'][0]['leave_by'])

    def test_level_by_hand_walking_and_others(self):
        dem = self.slope()
        tour = self.write_gpx('tour.gpx', [(-200, -250), (200, -250)])
        other = self.write_gpx('other.gpx', [(-200, -100), (200, -100)])
        plan = self.assert_fits(dem, tour, '--others', other, '--level', '3', '--above', '1500',
                                '--below', '2500', '--aspects', 'NW-N-NE,S', '--start',
                                '2027-02-13T06:30+01:00', '--pace', 'walk', '--outside-core',
                                'lower')
        self.assertTrue(plan['tours'][0]['above_own_line'])

    def test_several_tours_in_a_model_with_holes(self):
        dem = self.slope(holes=lambda x, y: (abs(x) < 60) & (abs(y + 150) < 60))
        text = '<gpx version="1.1" creator="test" xmlns="http://www.topografix.com/GPX/1/1">'
        for y in (-250, -150):
            (lon, lat), (lon2, lat2) = self.to_degrees([(-200, y), (200, y)])
            text += (f'<rte><name>Öst, "lich"</name><rtept lat="{lat}" lon="{lon}"/>'
                     f'<rtept lat="{lat2}" lon="{lon2}"/></rte>')
        plan = self.assert_fits(dem, self.write_text('two.gpx', text + '</gpx>'))
        self.assertEqual(len(plan['tours']), 2)
        self.assertTrue(any(leg['kind'] == 'unknown' for leg in plan['tours'][1]['legs']))

    def test_a_tour_where_the_model_knows_nothing(self):
        dem = self.slope(holes=lambda x, y: y < 200)
        tour = self.write_gpx('tour.gpx', [(-200, -250), (200, -250)])
        plan = self.assert_fits(dem, tour)
        self.assertIsNone(plan['tours'][0]['high_point'])
        self.assertEqual({leg['kind'] for leg in plan['tours'][0]['legs']}, {'unknown'})


if __name__ == '__main__':
    main()
