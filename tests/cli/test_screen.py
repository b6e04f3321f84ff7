"""brant-screen: the numbers are those of brant-plan, what is wrong with one file stops no
other, and the table says so."""

import csv
import fcntl
import json
import os
import pty
import re
import shutil
import signal
import subprocess
import termios
import time

import numpy as np
from osgeo import gdal

from brant_case import DEMO_DEM, DEMO_GPX, PROGRAMS, TESTDATA, BrantCase, main

BULLETIN = TESTDATA.resolve() / 'quern_bulletin.json'
DAY = ['--bulletin', BULLETIN, '--start', '2027-02-13T06:30+01:00', '--wind-from', 'W']
FIRST = ['route', 'file', 'status', 'length_m', 'climb_m', 'descent_m', 'hours', 'hours_late']


class ScreenCase(BrantCase):
    def small(self):
        """1.5 km x 1.5 km of the demo's model, and where it begins."""
        data = gdal.Translate(str(self.dir / 'dem.tif'), str(DEMO_DEM),
                              srcWin=[200, 240, 150, 150])
        west, cell, _, north, _, _ = data.GetGeoTransform()
        self.west, self.north, self.cell = west, north, cell
        return self.dir / 'dem.tif'

    def track(self, name, *cells):
        """A track through (col, row) of the small model."""
        (self.dir / name).parent.mkdir(exist_ok=True)
        return self.write_gpx(name, [(self.west + c * self.cell, self.north - r * self.cell)
                                     for c, r in cells], definition='EPSG:32632')

    def rows(self, path):
        with open(path, newline='', encoding='utf-8') as file:
            return list(csv.reader(file))

    def legs_of(self, path):
        """{file: rows of legs.csv}."""
        found = {}
        for row in self.rows(path)[1:]:
            found.setdefault(row[0], []).append(row[1:])
        return found

    def assert_same_as_plans(self, dem, files, *options):
        """Legs and sums are those of brant-plan for each file alone."""
        self.run_ok('brant-screen', dem, *files, '-o', 'table.csv', '--legs', 'legs.csv',
                    *options)
        legs = self.legs_of(self.dir / 'legs.csv')
        table = {row['file']: row for row in self.read_csv(self.dir / 'table.csv')}
        for file in files:
            self.run_ok('brant-plan', dem, file, '-d', 'alone', '--compress', 'none', *options)
            self.assertEqual(self.rows(self.dir / 'alone/legs.csv')[1:], legs[str(file)])
            tour = json.loads((self.dir / 'alone/plan.json').read_text())['tours'][0]
            row = table[str(file)]
            for kind in ('unknown', 'crosses', 'edge', 'under', 'none_found'):
                given = tour['metres'][kind] if kind in tour['metres'] \
                    else tour['metres'][kind.replace('_', '-')]
                self.assertAlmostEqual(float(row[kind + '_m']), given, delta=0.11)


class Numbers(ScreenCase):
    def test_small_model(self):
        dem = self.small()
        files = [self.track('a.gpx', (20, 120), (110, 30)), self.track('b.gpx', (30, 30), (120, 120)),
                 self.track('c.gpx', (60, 100), (190, 90))]  # leaves the model
        self.assert_same_as_plans(dem, files)
        self.assert_same_as_plans(dem, files, *DAY)

    def test_squares_that_only_one_of_them_wants(self):
        """Two in one group, 56 km apart, on faces that run on through all squares: no ground
        that the other could want is as high."""
        wave = np.abs((np.arange(240) + 10) % 40 - 20.0)[:, np.newaxis]
        dem = self.write_dem('far.tif', 3000 + 30 * 0.7 * np.tile(wave, (1, 2100)), cell=30)
        files = [self.write_gpx(name, [(col * 30, -3300), (col * 30 + 900, -3900)])
                 for name, col in (('west.gpx', 60), ('east.gpx', 1930))]
        self.assert_same_as_plans(dem, files, '--threads', '1')  # one looks at both
        for row in self.read_csv(self.dir / 'table.csv'):
            self.assertGreater(float(row['crosses_m']), 500)

    def test_a_void_on_a_flat_in_another_square(self):
        """No ground there is higher than the circuit's, but what the void hides may be."""
        z = np.full((200, 1100), 1500.0)
        z[90:110, 1025:1035] = np.nan  # 1,850 m away, the square 1,820
        dem = self.write_dem('flat.tif', z, cell=30)
        file = self.write_gpx('a.gpx', [(27200, -3000), (28900, -3000)])
        self.assert_same_as_plans(dem, [file], '--void-rise', '1200')
        row, = self.read_csv(self.dir / 'table.csv')
        self.assertGreater(float(row['unknown_m']), 200)
        self.assertGreater(float(row['none_found_m']), 500)

    def test_several_squares_of_a_real_model(self):
        dem = self.shared('dem/davos_1arcsec_4326_i16.tif')
        west, cell, _, north, _, _ = gdal.Open(str(dem)).GetGeoTransform()

        def line(name, *cells):
            return self.write_gpx(name, [(west + c * cell, north + -r * cell) for c, r in cells],
                                  definition='EPSG:4326')
        # across the lines between squares, and over the model's edge
        files = [line('a.gpx', (1000, 980), (1060, 1060)), line('b.gpx', (1100, 940), (1010, 1040)),
                 line('c.gpx', (1030, 800), (1090, 860))]
        self.assert_same_as_plans(dem, files, *DAY)


class Rows(ScreenCase):
    def batch(self):
        """A folder with a circuit of every fate."""
        dem = self.small()
        folder = self.folder('circuits')
        self.track('circuits/good.gpx', (20, 120), (110, 30))
        self.track('circuits/other.gpx', (60, 100), (90, 60))
        self.track('circuits/leaves.gpx', (100, 100), (190, 90))
        self.track('circuits/outside.gpx', (400, 400), (450, 400))
        shutil.copy(folder / 'good.gpx', folder / 'twin.gpx')
        (folder / 'empty.gpx').write_bytes(b'')
        (folder / 'bad.gpx').write_text('<gpx version="1.1"><trk>')
        (folder / 'point.gpx').write_text(
            '<gpx version="1.1" creator="t" xmlns="http://www.topografix.com/GPX/1/1"><wpt '
            'lat="46" lon="9"/></gpx>')
        (folder / 'gone.gpx').symlink_to('nowhere')
        (folder / 'notes.txt').write_text('no circuit')
        return dem, folder

    def test_every_fate_is_a_row(self):
        dem, folder = self.batch()
        done = self.run_program('brant-screen', dem, folder, folder / 'good.gpx', '-o', 'table.csv',
                                '--legs', 'legs.csv', '--layers', 'all.gpkg')
        self.assertEqual(done.code, 1)
        self.assertIn('5 of 9 circuits could not be screened', done.complaints()[0])
        self.assertIn('good.gpx: named more than once', done.err)
        rows = self.read_csv(self.dir / 'table.csv')
        self.assertEqual(list(rows[0])[:len(FIRST)], FIRST)
        status = {os.path.basename(row['file']): row['status'] for row in rows}
        self.assertEqual(len(rows), 9)
        self.assertEqual({name for name, text in status.items() if text.startswith('error: ')},
                         {'bad.gpx', 'empty.gpx', 'gone.gpx', 'outside.gpx', 'point.gpx'})
        self.assertEqual(status['outside.gpx'], f'error: the route lies wholly outside {dem}')
        self.assertIn('error: line 1: not readable', status['bad.gpx'])
        self.assertIn('cannot open', status['gone.gpx'])
        self.assertIn('unknown parts', status['leaves.gpx'])
        # what was not screened stands first, then what cannot be judged
        self.assertTrue(all(row['status'].startswith('error') for row in rows[:5]))
        unknown = [float(row['unknown_m']) > 0 for row in rows[5:]]
        self.assertEqual(unknown, sorted(unknown, reverse=True))
        good, twin = ({os.path.basename(row['file']): row for row in rows}[name]
                      for name in ('good.gpx', 'twin.gpx'))
        self.assertTrue(twin['same_as'].endswith('good.gpx'))
        for key in set(good) - {'file', 'same_as'}:
            self.assertEqual(good[key], twin[key], key)
        layers = gdal.OpenEx(str(self.dir / 'all.gpkg'))  # a layer leans on its file
        self.assertEqual(layers.GetLayerByName('legs').GetFeatureCount(), len(self.rows(self.dir / 'legs.csv')) - 1)

    def test_same_bytes_whatever_the_threads_and_the_order(self):
        dem, folder = self.batch()
        files = sorted(folder.glob('*.gpx'))
        outputs = []
        for threads, given in (('1', [folder]), ('3', [folder]), ('2', files[::-1])):
            self.run_program('brant-screen', dem, *given, '-o', 'table.csv', *DAY,
                             '--threads', threads)
            rows = self.rows(self.dir / 'table.csv')
            # which of two equal files comes first is a matter of the order given
            outputs.append([row[:-1] for row in rows])
        self.assertEqual(outputs[0], outputs[1])
        self.assertEqual(outputs[0], outputs[2])

    def test_list_on_standard_input(self):
        dem, folder = self.batch()
        names = f'{folder}/good.gpx\r\n\n{folder}/other.gpx\n'
        done = self.run_ok('brant-screen', dem, '-', '-o', '-', stdin=names.encode())
        self.assertEqual(len(done.out.splitlines()), 3)
        done = self.run_program('brant-screen', dem, '-', stdin=b'\n')
        self.assert_refused(done, 'standard input', 'no file')

    def test_folder_without_gpx(self):
        dem = self.small()
        done = self.run_program('brant-screen', dem, self.folder('nothing'), '-o', 'table.csv')
        self.assertEqual(done.code, 1)
        self.assertIn('without a .gpx file', self.read_csv(self.dir / 'table.csv')[0]['status'])

    def test_order(self):
        dem, folder = self.batch()
        done = self.run_program('brant-screen', dem, folder, '--sort', 'length_m', '--format',
                                'csv')
        lengths = [row['length_m'] for row in csv.DictReader(done.out.splitlines())]
        self.assertEqual(lengths[:5], [''] * 5)
        self.assertEqual(lengths[5:], sorted(lengths[5:], key=float, reverse=True))
        done = self.run_program('brant-screen', dem, folder, '--sort', 'danger')
        self.assertEqual(done.code, 2)

    def test_terminal_table_and_json(self):
        dem, folder = self.batch()
        done = self.run_program('brant-screen', dem, folder, *DAY)
        self.assertLessEqual(max(map(len, done.out.splitlines())), 100)
        for word in ('NOT SCREENED', 'CANNOT BE JUDGED', 'wholly outside', 'same line as',
                     'None found is not safe'):
            self.assertIn(word, done.out)
        self.assertNotIn('; ;', ' '.join(done.out.split()))
        data = json.loads(self.run_program('brant-screen', dem, folder, '--format', 'json').out)
        self.assertEqual((data['failed'], data['partial'], len(data['circuits'])), (5, False, 9))

    def test_stopped(self):
        """What is finished stays, the rest is marked, and the exit is not 0."""
        for _ in range(5):  # it may be over before it is stopped
            work = subprocess.Popen(
                [str(PROGRAMS / 'brant-screen'), str(DEMO_DEM.resolve()), str(DEMO_GPX.resolve()),
                 '-o', 'table.csv', '--quiet', '--threads', '1'],
                cwd=self.dir, stdout=subprocess.PIPE, stderr=subprocess.PIPE)
            while not os.listdir(self.dir) and work.poll() is None:
                time.sleep(0.02)  # until something is staged
            work.send_signal(signal.SIGINT)
            out, err = work.communicate(timeout=120)
            if work.returncode != 0:
                break
            (self.dir / 'table.csv').unlink()
        self.assertEqual(work.returncode, 1)
        if not (self.dir / 'table.csv').exists():  # it had not begun
            self.assertEqual((out, err), (b'', b'brant-screen: interrupted\n'))
            self.assert_empty(self.dir)
            return
        self.assertIn(b'0 of 1 files screened, the table is partial', err)
        self.assertIn('partial: stopped', self.read_csv(self.dir / 'table.csv')[0]['status'])
        self.assertIn(b'PARTIAL', out)

    def stop_when(self, command, percent, hang_up=False):
        """Interrupt it once its progress line says so much, or close its terminal, which is
        then its standard output, too: exit status, standard error."""
        try:
            screen, side = pty.openpty()
        except OSError as why:  # a folder that is no whole system
            self.skipTest(f'no terminal to be had ({why}): is /dev/pts mounted?')

        def take_terminal():
            fcntl.ioctl(0, termios.TIOCSCTTY, 0)
            signal.signal(signal.SIGHUP, signal.SIG_DFL)  # the tests may run under nohup

        own = {'start_new_session': True, 'stdin': side, 'stdout': side,
               'preexec_fn': take_terminal}
        work = subprocess.Popen(command, cwd=self.dir, stderr=side,
                                **(own if hang_up else {'stdout': subprocess.PIPE}))
        os.close(side)
        told, sent = b'', False
        while not (sent and hang_up):
            try:
                told += os.read(screen, 4096)
            except OSError:  # the other side is closed
                break
            found = re.findall(rb' (\d+) %', told)
            if found and int(found[-1]) >= percent and not sent:
                if not hang_up:
                    work.send_signal(signal.SIGINT)
                sent = True
        os.close(screen)
        work.communicate(timeout=120)
        return work.returncode, told

    def many(self):
        """150 circuits on a small model: a command, without the name of its table."""
        dem = self.small()
        self.folder('many')
        for i in range(150):
            self.track(f'many/{i:03}.gpx', (20 + i / 3, 120), (110, 30 + i / 2))
        return [str(PROGRAMS / 'brant-screen'), str(dem), 'many', '--threads', '1', '--level', '3',
                '-o']

    def test_stopped_among_the_circuits(self):
        """Circuits of the group in hand that are finished stay, and are those of a whole run."""
        command = [*self.many(), 'table.csv']
        self.run_ok(*command[:-1], 'whole.csv')
        whole = {row['file']: row for row in self.read_csv(self.dir / 'whole.csv')}
        for _ in range(5):  # it may be over before it is stopped
            code, told = self.stop_when(command, 78)
            if code != 0:
                break
        self.assertEqual(code, 1)
        rows = self.read_csv(self.dir / 'table.csv')
        done = [row for row in rows if not row['status'].startswith('partial: ')]
        self.assertEqual(len(rows), 150)
        self.assertGreater(len(done), 0)
        self.assertLess(len(done), 150)
        self.assertIn(b'%d of 150 files screened, the table is partial' % len(done), told)
        for row in done:
            self.assertEqual(row, whole[row['file']])

    def test_the_terminal_is_closed(self):
        """Nobody is there for the table on standard output, but the file is as promised."""
        command = [*self.many(), 'table.csv']
        for _ in range(5):  # it may be over before it is stopped
            code, told = self.stop_when(command, 5, hang_up=True)
            rows = self.read_csv(self.dir / 'table.csv')
            self.assertEqual(len(rows), 150, told)
            if code != 0:
                break
        self.assertEqual(code, 1)
        self.assertTrue(any(row['status'].startswith('partial: ') for row in rows))
        self.assertEqual([name for name in os.listdir(self.dir) if name[0] == '.'], [])


if __name__ == '__main__':
    main()
