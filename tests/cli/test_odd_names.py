"""Names of tours in any script, with quotes, commas and line breaks: the CSV files stay
tables by RFC 4180 (with LF, which every reader takes), the waypoints valid GPX 1.1."""

import csv
import io
import re
import shutil
import subprocess
import unittest
from xml.etree import ElementTree
from xml.sax.saxutils import escape

import numpy as np

from brant_case import DEMO_DEM, DEMO_GPX, SHARED, TESTDATA, BrantCase, main

NAMES = ['Hôtel à l’Épaule', 'Снежный хребет', '雪山縦走', 'جبل الثلج', 'Ridge, "the long", side',
         "&<>';=|", 'two\nlines\r\nand\ttabs', 'N' * 200, '"', ',', '', '-1+1']
GPX = '{http://www.topografix.com/GPX/1/1}'
# RFC 4180, 2: a field is bare, or in quotes with quotes doubled; our lines end in LF.
FIELD = r'(?:"(?:[^"]|"")*"|[^",\r\n]*)'
LINES = re.compile(rf'(?:{FIELD}(?:,{FIELD})*\n)*')


class OddNames(BrantCase):
    def setUp(self):
        super().setUp()
        self.dem = self.centred_dem(
            's.tif', lambda x, y: 2000 - np.abs(y) * np.tan(np.radians(36)), 60)
        (lon, lat), (lon2, lat2) = self.to_degrees([(-200, -250), (200, -150)])
        text = '<gpx version="1.1" creator="test" xmlns="http://www.topografix.com/GPX/1/1">'
        for name in NAMES:
            text += (f'<trk><name>{escape(name)}</name><trkseg><trkpt lat="{lat}" lon="{lon}"/>'
                     f'<trkpt lat="{lat2}" lon="{lon2}"/></trkseg></trk>')
        self.gpx = self.write_text('ünö, "q".gpx', text + '</gpx>')

    def assert_table(self, text):
        """One header and rows as long; what a reader makes of it is written the same again."""
        self.assertIsNotNone(LINES.fullmatch(text))
        rows = list(csv.reader(io.StringIO(text, newline=''), strict=True))
        header = rows[0]
        self.assertEqual(len(set(header)), len(header))
        for name in header:
            self.assertRegex(name, r'\A[a-z][a-z0-9_]*\Z')
        self.assertEqual({len(row) for row in rows}, {len(header)})
        self.assertNotIn(header, rows[1:])
        again = io.StringIO(newline='')
        csv.writer(again, lineterminator='\n').writerows(rows)
        self.assertEqual(list(csv.reader(io.StringIO(again.getvalue(), newline=''))), rows)
        return [dict(zip(header, row)) for row in rows[1:]]

    def table_of(self, path):
        return self.assert_table(path.read_bytes().decode('utf-8'))

    def test_the_check_notices(self):
        for broken in ('a,b\n1\n', 'a,b\n1,"2\n', 'a,b\n1,2"3\n', 'a,b\r\n1,2\r\n', 'a,b\n1,2',
                       'a,a\n1,2\n', 'a,b\na,b\n'):
            with self.subTest(broken), self.assertRaises((AssertionError, csv.Error)):
                self.assert_table(broken)

    def test_tables_of_tours(self):
        self.run_ok('brant-plan', self.dem, self.gpx, '-d', self.dir / 'plan', '--quiet')
        for name in ('legs', 'points', 'above'):
            with self.subTest(name):
                rows = self.table_of(self.dir / 'plan' / f'{name}.csv')
                routes = list(dict.fromkeys(row['route'] for row in rows))
                self.assertEqual(len(routes), len(NAMES))
                for given, told in zip(NAMES, routes):
                    self.assertTrue(told)
                    self.assertTrue(told.startswith(' '.join(given.split())), (given, told))

    def test_waypoints(self):
        self.run_ok('brant-route', self.dem, self.gpx, '-o', self.dir / 'l.csv', '--waypoints',
                    self.dir / 'w.gpx', '--quiet')
        names = [point.findtext(GPX + 'name')
                 for point in ElementTree.parse(self.dir / 'w.gpx').iter(GPX + 'wpt')]
        self.assertGreaterEqual(len(names), len(NAMES))
        self.assertEqual(len(set(names)), len(names))
        for name in names:
            self.assertRegex(name, r'\A[A-L]\d? ?[A-Z0-9 -]+[.\d]*(?: face)?\Z')
            self.assertLessEqual(len(name), 15)
        self.assert_schema(self.dir / 'w.gpx')

    def assert_schema(self, path):
        schema = SHARED.parent / 'schemas' / 'gpx11.xsd'
        if not schema.exists() or not shutil.which('xmllint'):
            self.skipTest('no schema or no xmllint: the file is not validated')
        done = subprocess.run(['xmllint', '--noout', '--schema', schema, path],
                              capture_output=True, check=False)
        self.assertEqual(done.returncode, 0, done.stderr)

    def test_tables_of_the_other_programs(self):
        self.run_ok('brant-zones', self.dem, '-o', self.dir / 'z.tif', '--table',
                    self.dir / 'z.csv', '--quiet')
        self.assertTrue(self.table_of(self.dir / 'z.csv'))
        self.run_ok('brant-screen', self.dem, self.gpx, '-o', self.dir / 'c.csv', '--legs',
                    self.dir / 'cl.csv', '--quiet')
        for name in ('c.csv', 'cl.csv'):
            files = {row['file'] for row in self.table_of(self.dir / name)}
            self.assertEqual({file.rsplit('/', 1)[-1] for file in files}, {self.gpx.name})


class Demo(BrantCase):
    """What a person sees of the demo: in columns, and on a watch."""

    DAY = ['--bulletin', TESTDATA / 'quern_bulletin.json', '--start', '2027-02-13T06:30+01:00',
           '--out-by', '13:00']

    def test_columns(self):
        if not shutil.which('column'):
            self.skipTest('no column')
        text = self.run_ok('brant-route', DEMO_DEM, DEMO_GPX, '-o', '-', '--quiet').out
        table = list(csv.reader(io.StringIO(text)))
        shown = subprocess.run(['column', '-s', ',', '-t', '-o', '|'], input=text, check=True,
                               capture_output=True, encoding='utf-8').stdout
        self.assertEqual([[cell.strip() for cell in line.split('|')]
                          for line in shown.splitlines()], table)
        self.assertTrue(any('' in row for row in table))  # empty cells keep their place

    def test_waypoints_of_a_day(self):
        self.run_ok('brant-route', DEMO_DEM, DEMO_GPX, '-o', self.dir / 'l.csv', '--waypoints',
                    self.dir / 'w.gpx', '--quiet', *self.DAY)
        legs = {int(leg['leg']): leg for leg in self.read_csv(self.dir / 'l.csv')}
        points = [(p.findtext(GPX + 'name'), p.findtext(GPX + 'desc'))
                  for p in ElementTree.parse(self.dir / 'w.gpx').iter(GPX + 'wpt')]
        waits = [text for name, text in points if name.startswith('WAIT ')]
        self.assertTrue(waits)
        for text in waits:
            self.assertRegex(text, r'; leave by \d\d:\d\d(, before you are there)?\Z')
        told = {int(name.split()[0]): (name, text) for name, text in points
                if not name.startswith('WAIT ')}
        self.assertEqual(sorted(told), [n for n, leg in legs.items()
                                        if leg['kind'] != 'none-found'])
        for number, (name, text) in told.items():
            self.assertIn(f"planned-late {legs[number]['arrive'][11:13]}:", text)
            if legs[number]['kind'] == 'under':
                self.assertRegex(name, r'\A\d+ UNDER [NESW]{1,2}( face)?\Z')
                self.assertIn('above: ', text)
                self.assertIn(f"level {legs[number]['level']} ", text)
            if legs[number]['limit'] == 'over':
                self.assertIn('over the limit', text)
            if legs[number]['below'] and legs[number]['kind'] != 'unknown':
                self.assertIn(f"below you: {legs[number]['below']}", text)
        self.assertTrue(any(name.endswith(' face') for name, _ in told.values()))


if __name__ == '__main__':
    main()
