"""Outputs: no input is touched, pipes are written through, and the same input
gives the same bytes with any number of threads, in any locale and time zone."""

import hashlib
import os
import shutil
import subprocess
import threading
import time

from brant_case import DEMO_DEM, DEMO_GPX, PROGRAMS, BrantCase, main

# class.tif.aux.xml: the class names, which GeoTIFF itself has no place for; .qml: styles
PLAN_FILES = ['above.csv', 'aspect.qml', 'aspect.tif', 'class.qml', 'class.tif',
              'class.tif.aux.xml', 'elevation.tif', 'legs.csv', 'plan.json', 'points.csv',
              'runout.qml', 'runout.tif', 'slope.qml', 'slope.tif', 'tour.gpkg', 'waypoints.gpx',
              'zones.qml', 'zones.tif']


def digest(path):
    return hashlib.sha256(path.read_bytes()).hexdigest()


class Inputs(BrantCase):
    def setUp(self):
        super().setUp()
        self.dem = self.dir / 'dem.tif'
        self.gpx = self.dir / 'tour.gpx'
        shutil.copy(DEMO_DEM, self.dem)
        shutil.copy(DEMO_GPX, self.gpx)

    def refuse(self, *arguments):
        before = {p.name: digest(p) for p in self.dir.iterdir() if p.is_file()}
        done = self.run_program(*arguments, '--quiet')
        self.assert_refused(done)
        after = {p.name: digest(p) for p in self.dir.iterdir() if p.is_file()}
        self.assertEqual(after, before)

    def test_an_output_that_is_the_model(self):
        self.refuse('brant-slope', self.dem, '-o', self.dem)
        self.refuse('brant-slope', self.dem, '-o', self.dir / 's.tif', '--aspect', self.dem)
        self.refuse('brant-zones', self.dem, '-o', self.dem)
        self.refuse('brant-route', self.dem, self.gpx, '-o', self.dem)

    def test_by_another_name(self):
        (self.dir / 'link.tif').symlink_to('dem.tif')
        os.link(self.dem, self.dir / 'same.tif')
        self.folder('sub')
        for name in ('link.tif', 'same.tif', './sub/../dem.tif'):
            with self.subTest(name=name):
                self.refuse('brant-slope', self.dem, '-o', f'{self.dir}/{name}')

    def test_an_output_that_is_the_tour(self):
        self.refuse('brant-route', self.dem, self.gpx, '-o', self.gpx)
        self.refuse('brant-route', self.dem, self.gpx, '-o', self.dir / 'l.csv', '--waypoints',
                    self.gpx)

    def test_an_output_that_is_the_zones(self):
        zones = self.dir / 'zones.tif'
        self.run_ok('brant-zones', self.dem, '-o', zones)
        self.refuse('brant-runout', self.dem, zones, '-o', zones)

    def test_one_output_twice(self):
        done = self.run_program('brant-slope', self.dem, '-o', self.dir / 'x.tif', '--aspect',
                                self.dir / 'x.tif')
        self.assertEqual(done.code, 2, done.err)
        self.assertEqual(sorted(os.listdir(self.dir)), ['dem.tif', 'tour.gpx'])

    def test_inputs_are_not_touched(self):
        os.chmod(self.dem, 0o444)
        before = digest(self.dem), digest(self.gpx), self.dem.stat().st_mtime_ns
        self.run_ok('brant-plan', self.dem, self.gpx, '-d', self.dir / 'out')
        self.assertEqual((digest(self.dem), digest(self.gpx), self.dem.stat().st_mtime_ns), before)
        self.assertEqual(sorted(os.listdir(self.dir)), ['dem.tif', 'out', 'tour.gpx'])


class Places(BrantCase):
    def test_a_plan_is_whole_and_leaves_nothing_else(self):
        done = self.run_ok('brant-plan', DEMO_DEM, DEMO_GPX, '-d', self.dir / 'out')
        names = sorted(os.listdir(self.dir / 'out'))
        self.assertEqual([n for n in names if n != 'sheet.pdf'], PLAN_FILES)
        self.assertIn('None found is not safe', done.out.replace('\n', ' '))

    def test_again_over_what_is_there(self):
        for _ in range(2):
            self.run_ok('brant-slope', DEMO_DEM, '-o', self.dir / 's.tif')
        self.assertEqual(sorted(os.listdir(self.dir)), ['s.qml', 's.tif'])

    def test_a_failed_run_keeps_what_was_there(self):
        out = self.write_text('legs.csv', 'yesterday\n')
        bad = self.write_text('bad.gpx', '')
        self.assert_refused(self.run_program('brant-route', DEMO_DEM, bad, '-o', out, '--quiet'))
        self.assertEqual(out.read_text(), 'yesterday\n')
        self.assertEqual(sorted(os.listdir(self.dir)), ['bad.gpx', 'legs.csv'])

    def test_standard_input_and_output(self):
        self.run_ok('brant-route', DEMO_DEM, DEMO_GPX, '-o', self.dir / 'legs.csv')
        through = self.run_ok('brant-route', DEMO_DEM, '-', '-o', '-',
                              stdin=DEMO_GPX.read_bytes())
        self.assertEqual(through.out, (self.dir / 'legs.csv').read_text())

    def test_a_named_pipe(self):
        pipe = self.dir / 'pipe'
        os.mkfifo(pipe)
        got = []
        reader = threading.Thread(target=lambda: got.append(pipe.read_bytes()), daemon=True)
        reader.start()
        self.run_ok('brant-route', DEMO_DEM, DEMO_GPX, '-o', pipe)
        reader.join(10)
        self.assertTrue(got and got[0].startswith(b'route,leg,kind,from_m,to_m,length_m,'))
        self.assertEqual(sorted(os.listdir(self.dir)), ['pipe'])

    def test_a_raster_into_a_pipe_is_refused(self):
        pipe = self.dir / 'pipe.tif'
        os.mkfifo(pipe)
        self.assert_refused(self.run_program('brant-slope', DEMO_DEM, '-o', pipe), 'pipe.tif')
        self.assertEqual(sorted(os.listdir(self.dir)), ['pipe.tif'])

    def test_a_full_disk_is_noticed(self):
        if not os.path.exists('/dev/full'):
            self.skipTest('no /dev/full')
        done = self.run_program('brant-route', DEMO_DEM, DEMO_GPX, '-o', '/dev/full', '--quiet')
        self.assert_refused(done, '/dev/full')

    def test_a_full_standard_output_is_noticed(self):
        if not os.path.exists('/dev/full'):
            self.skipTest('no /dev/full')
        with open('/dev/full', 'wb') as full:
            done = subprocess.run([str(PROGRAMS / 'brant-slope'), '--help'], stdout=full,
                                  stderr=subprocess.PIPE, check=False)
        self.assertEqual(done.returncode, 1)

    def test_interrupted(self):
        dem = self.shared('dem/davos_1arcsec_4326_i16.tif')
        for attempt in range(5):  # it may be done before it is interrupted
            out = self.folder(f'out{attempt}')
            job = subprocess.Popen([str(PROGRAMS / 'brant-zones'), str(dem), '-o',
                                    str(out / 'z.tif')], stderr=subprocess.PIPE)
            while not os.listdir(out) and job.poll() is None:
                time.sleep(0.02)  # until something is staged
            job.terminate()
            _, err = job.communicate(timeout=60)
            if job.returncode != 0:
                break
        self.assertEqual(job.returncode, 1, err)
        self.assert_empty(out)


class SameBytes(BrantCase):
    once = None  # what a plain run gives, made by the first test that asks

    def plan(self, name, *options, env=None):
        out = self.dir / name
        done = self.run_ok('brant-plan', DEMO_DEM, DEMO_GPX, '-d', out, *options, env=env)
        found = {p.name: digest(p) for p in sorted(out.iterdir())}
        found['standard output'] = done.out.replace(str(out), 'DIR')
        return found

    def compare(self, *options, env=None):
        if SameBytes.once is None:
            SameBytes.once = self.plan('once')
        self.assertEqual(self.plan('again', *options, env=env), SameBytes.once)

    def test_one_thread(self):
        self.compare('--threads', 1)

    def test_seven_threads(self):
        self.compare('--threads', 7)

    def test_another_time_zone(self):
        self.compare(env={'TZ': 'EAST-14'})

    def test_a_locale_with_a_decimal_comma(self):
        made = subprocess.run(['localedef', '-i', 'de_DE', '-f', 'UTF-8',
                               str(self.dir / 'de_DE.UTF-8')], capture_output=True, check=False)
        if made.returncode != 0:
            self.skipTest('localedef cannot make de_DE (package locales)')
        comma = {'LC_ALL': 'de_DE.UTF-8', 'LANG': 'de_DE.UTF-8', 'LOCPATH': str(self.dir)}
        said = subprocess.run(['locale', 'decimal_point'], capture_output=True, text=True,
                              env=dict(os.environ, **comma), check=False)
        self.assertEqual(said.stdout.strip(), ',')
        self.compare(env=comma)

    def stages(self, name, *options, env=None):
        """Every program but brant-plan, once: its standard output and its files."""
        out = self.folder(name)
        runs = [('brant-check', DEMO_DEM),
                ('brant-slope', DEMO_DEM, '-o', 's.tif', '--aspect', 'a.tif', '--class', 'c.tif'),
                ('brant-zones', DEMO_DEM, '-o', 'z.tif', '--polygons', 'z.gpkg', '--table', 'z.csv'),
                ('brant-runout', DEMO_DEM, 'z.gpkg', '-o', 'r.tif'),
                ('brant-route', DEMO_DEM, DEMO_GPX, '--zones', 'z.gpkg', '-o', 'l.csv',
                 '--points', 'p.csv', '--layers', 't.gpkg', '--waypoints', 'w.gpx'),
                ('brant-screen', DEMO_DEM, DEMO_GPX, '-o', 'circuits.csv')]
        said = [self.run_ok(*run, *options, env=env, cwd=out).out for run in runs]
        self.run_ok('brant-plan', DEMO_DEM, DEMO_GPX, '-d', out / 'plan')
        said.append(self.run_ok('brant-sheet', 'plan', '-o', 'sheet.pdf', env=env, cwd=out).out)
        return said, {p.name: digest(p) for p in out.iterdir() if p.is_file()}

    def test_every_stage(self):
        once = self.stages('once', '--threads', 1)
        self.assertEqual(len(once[1]), 19)
        self.assertEqual(self.stages('again', '--threads', 3,
                                     env={'TZ': 'EAST-14', 'LC_ALL': 'C.UTF-8'}), once)

    def test_stages_apart_are_the_plan_s(self):
        # zones and their shadow, one stage at a time over the whole model, are what
        # brant-plan found for its corridor
        self.run_ok('brant-zones', DEMO_DEM, '-o', self.dir / 'z.tif')
        self.run_ok('brant-route', DEMO_DEM, DEMO_GPX, '-o', self.dir / 'l.csv')
        self.run_ok('brant-route', DEMO_DEM, DEMO_GPX, '-o', self.dir / 'lz.csv', '--zones',
                    self.dir / 'z.tif')
        self.run_ok('brant-plan', DEMO_DEM, DEMO_GPX, '-d', self.dir / 'out')
        legs = (self.dir / 'out' / 'legs.csv').read_bytes()
        self.assertEqual((self.dir / 'l.csv').read_bytes(), legs)
        self.assertEqual((self.dir / 'lz.csv').read_bytes(), legs)


if __name__ == '__main__':
    main()
