"""The invented bulletins against the format's own schema, where it is present
(beside the shared data; its licence is not known, so it is not committed), by a
validator that is not ours. What the schema lets pass and brant refuses is a trap:
it must pass here, or the trap is none."""

import json
import os
import unittest
from pathlib import Path

try:
    import jsonschema
except ImportError:
    jsonschema = None

TESTDATA = Path(os.environ.get('BRANT_TESTDATA', 'testdata'))
SHARED = Path(os.environ.get('BRANT_SHARED_DATA', '../shared/data'))
SCHEMA = SHARED.parent / 'schemas' / 'CAAMLv6_BulletinEAWS.json'

VALID = ['quern_bulletin.json', 'bulletins/halves_treeline.json',
         'bulletins/bands_no_rating.json', 'bulletins/regions.json',
         'bulletins/trap_loose_bounds.json']
INVALID = {'bulletins/bad_enum.json': 2,  # the wrong values in it
           'bulletins/bad_numeric_bound.json': 1}


@unittest.skipIf(jsonschema is None, 'no python3-jsonschema')
@unittest.skipUnless(SCHEMA.is_file(), f'no {SCHEMA}')
class Schema(unittest.TestCase):
    def problems(self, name):
        schema = json.loads(SCHEMA.read_text(encoding='utf-8'))
        bulletin = json.loads((TESTDATA / name).read_text(encoding='utf-8'))
        checker = jsonschema.Draft7Validator(schema, format_checker=jsonschema.FormatChecker())
        return [f'{"/".join(map(str, e.absolute_path))}: {e.message}'
                for e in checker.iter_errors(bulletin)]

    def test_valid(self):
        for name in VALID:
            with self.subTest(file=name):
                self.assertEqual(self.problems(name), [])

    def test_invalid(self):
        for name, count in INVALID.items():
            with self.subTest(file=name):
                self.assertEqual(len(self.problems(name)), count)

    def test_every_fixture_is_named_here(self):
        found = {f'bulletins/{p.name}' for p in (TESTDATA / 'bulletins').glob('*.json')}
        self.assertEqual(found, {*VALID, *INVALID} - {'quern_bulletin.json'})


if __name__ == '__main__':
    unittest.main(verbosity=2)
