"""Option table, --help and man page of each program say the same, every option
that they name works, and a wrong command line is told in one line."""

import fcntl
import os
import re
import shutil
import signal
import stat
import struct
import subprocess
import termios
import time
import unittest
from pathlib import Path

from osgeo import gdal

from brant_case import DEMO_DEM, DEMO_GPX, PROGRAMS, TESTDATA, BrantCase, main

MAN = Path(os.environ.get('BRANT_SOURCE', Path(__file__).resolve().parents[2])) / 'man'

F_SETPIPE_SZ = 1031  # of Linux; fcntl has it from Python 3.10 on

BULLETIN = str(TESTDATA.resolve() / 'quern_bulletin.json')
STAGES = ['brant-check', 'brant-slope', 'brant-zones', 'brant-runout', 'brant-route', 'brant-plan',
          'brant-sheet', 'brant-screen']
ALL = ['brant'] + STAGES

# A value that each option takes, other than its default where it has one; FILE
# and DIR are replaced by a new name.
VALUES = {
    '-o': 'FILE', '-d': 'DIR', '--aspect': 'FILE', '--class': 'FILE', '--edges': None,
    '--polygons': 'FILE', '--table': 'FILE', '--points': 'FILE', '--above': 'FILE',
    '--layers': 'FILE', '--waypoints': 'FILE', '--zones': 'ZONES',
    '--others': 'GPX', '--format': 'json',
    '--legs': 'FILE', '--sort': 'under_m',
    '--band': '28:50', '--min-area': '900', '--max-area': '1e5', '--edge': '20',
    '--reach-angle': '28', '--spread': '15', '--floor': '22', '--void-rise': '200',
    '--vertical-error': '1.5',
    '--scale': '20', '--band-number': '1', '--vertical-unit': 'm', '--nodata': '-32768',
    '--compress': 'zstd', '--cog': None, '--threads': '2', '--quiet': None,
    '--bulletin': BULLETIN, '--region': 'QQ-05-01', '--treeline': '1900',
    '--later-from': '11:00', '--outside-core': 'lower', '--level': '4', '--below': '2500',
    '--aspects': 'NW-N-NE,E', '--start': '2027-02-13T06:30+01:00', '--pace': '3,8,5',
    '--paper': 'letter', '--bearings': None, '--declination': '-3.5',
    '--out-by': '14:00', '--wind-from': '240-300', '--new-snow': '30', '--warming': None,
}
START = ['--start', '2027-02-13T06:30+01:00']
# What an option needs beside it.
NEEDS = {'--region': ['--bulletin', BULLETIN], '--treeline': ['--bulletin', BULLETIN],
         '--later-from': ['--bulletin', BULLETIN, *START], '--outside-core': ['--level', '3'],
         '--below': ['--level', '3'], '--aspects': ['--level', '3'], '--pace': START,
         '--out-by': START, '--declination': ['--bearings']}
# brant-plan has --above in metres, brant-route a file or metres
PLAN_ABOVE = ('1500', ['--level', '3'])
SUFFIX = {'--legs': '.csv', '--table': '.csv', '--points': '.csv', '--above': '.csv', '--waypoints': '.gpx',
          '--layers': '.gpkg', '--polygons': '.gpkg'}

# Values that an option must refuse: (value, why).
BAD_VALUES = {
    '--band': ['30-45', '45:30', '30', '30:', ':45', '0:45', '30:91', '30:30', 'a:b', '30:45:60'],
    '--min-area': ['-1', 'x', '1e99', ''],
    '--max-area': ['x', '100', 'nan'],  # 100 is below --min-area
    '--edge': ['-1', '30m', '101', 'inf'],
    '--reach-angle': ['17', '61', '25,5', '0x19'],  # 17 is below --floor
    '--spread': ['-1', '61'],
    '--floor': ['9', '46', '26'],  # 26 is above --reach-angle
    '--void-rise': ['-1', '5001'],
    '--vertical-error': ['-0.1', '1001'],
    '--scale': ['0', '-5', 'Native', '5 m'],
    '--band-number': ['0', '1.5', 'x', '65536'],
    '--vertical-unit': ['km', 'M', 'm|ft', 'ft|', ''],
    '--nodata': ['x', 'nan', ''],
    '--compress': ['lzw', 'DEFLATE', ''],
    '--threads': ['0', '257', '2.0', 'all'],
    '--format': ['xml', 'CSV'],
    '--sort': ['danger', ''],
    '--paper': ['A4', 'a5', ''],
    '--declination': ['-181', '181', '3,5', 'E', ''],
    '--region': [''],
    '--treeline': ['-1', '5001', 'x'],
    '--later-from': ['24:00', '11', '11:0', '11:60', ''],
    '--outside-core': ['higher', ''],
    '--level': ['0', '6', '3.5', 'considerable', ''],
    '--above': ['1800m', '-', '9001', '-501', ''],  # for brant-route, see below
    '--below': ['9001', '-501', '2000m', ''],
    '--aspects': ['X', 'NW-N-X', 'NE-N-NW', 'N,', ''],
    '--start': ['2027-02-13T06:30', '2027-02-13', '06:30', '2027-02-30T06:30Z',
                '2027-02-13T24:00Z', ''],
    '--pace': ['run', '4,10', '4,10,0', '4,10,6,1', '4;10;6', ''],
    '--out-by': ['24:00', '1:00', ''],
    '--wind-from': ['361', 'X', '240-', 'W-W', ''],
    '--new-snow': ['-1', '501', 'x'],
}


def options_of_help(text):
    """{option: argument or None} of the lines of --help."""
    found = {}
    for line in text.splitlines():
        match = re.match(r'  (-\w|--[a-z-]+)(?: (\S+))?(?:  |$)', line)
        if match:
            found[match.group(1)] = match.group(2)
    return found


def options_of_man(text):
    """The same of a man page: the items of OPTIONS."""
    section = text.split('.Sh OPTIONS\n', 1)[1].split('\n.Sh ', 1)[0]
    found = {}
    for match in re.finditer(r'^\.It Fl (\S+)(?: Ar (\S+))?$', section, re.M):
        found['-' + match.group(1)] = match.group(2)
    return found


class OptionCase(BrantCase):
    def small_demo(self):
        """1.2 km x 1.2 km of the demo's model, and a track through it."""
        data = gdal.Translate(str(self.dir / 'dem.tif'), str(DEMO_DEM), srcWin=[200, 240, 120, 120])
        west, cell, _, north, _, _ = data.GetGeoTransform()
        data = None
        gpx = self.write_gpx('tour.gpx', [(west + 30 * cell, north - 90 * cell),
                                          (west + 90 * cell, north - 30 * cell)],
                             definition='EPSG:32632')
        return self.dir / 'dem.tif', gpx


class Documents(BrantCase):
    def test_help_and_man_page_name_the_same_options(self):
        for program in ALL:
            with self.subTest(program):
                shown = options_of_help(self.run_ok(program, '--help').out)
                self.assertGreaterEqual(len(shown), 2)
                self.assertEqual(shown, options_of_man((MAN / f'{program}.1').read_text()))

    def test_readers_see_a_difference(self):
        """The two readers above would notice a missing or renamed option."""
        self.assertEqual(options_of_help('  -o FILE      x\n  --quiet   y\n    --not this\n'),
                         {'-o': 'FILE', '--quiet': None})
        self.assertEqual(options_of_man('.Sh OPTIONS\n.It Fl o Ar FILE\n.It Fl -quiet\n'
                                        '.Sh OUTPUT\n.It Fl -not\n'),
                         {'-o': 'FILE', '--quiet': None})

    def test_purpose_and_operands_are_those_of_the_man_page(self):
        for program in ALL:
            with self.subTest(program):
                lines = self.run_ok(program, '--help').out.splitlines()
                page = (MAN / f'{program}.1').read_text()
                purpose = re.search(r'^\.Nd (.*)$', page, re.M).group(1)
                self.assertEqual(lines[1], f'{program}: {purpose}')
                synopsis = page.split('.Sh SYNOPSIS\n')[1].split('\n.Sh ')[0]
                for operand in re.findall(r'\b[A-Z]{3,}\b', lines[0]):
                    self.assertIn(f'Ar {operand}', synopsis)

    def test_brant_lists_every_program(self):
        text = self.run_ok('brant', '--help').out
        page = (MAN / 'brant.1').read_text()
        for program in STAGES:
            self.assertIn(f"\n  {program.removeprefix('brant-')} ", text)
            self.assertIn(f'.It Xr {program} 1\n', page)

    def test_help_fits_a_terminal_and_ends_with_the_caution(self):
        for program in ALL:
            done = self.run_ok(program, '--help')
            self.assertEqual(done.err, '')
            for line in done.out.splitlines():
                self.assertLessEqual(len(line), 79, line)
            if program in STAGES:
                self.assertTrue(done.out.endswith('None found is not safe.\n'))

    def test_version(self):
        for program in ALL:
            done = self.run_ok(program, '--version')
            self.assertRegex(done.out, rf'^{program} \d+\.\d+\.\d+\n$')
            self.assertEqual(done.err, '')

    def test_man_pages_are_clean(self):
        if not shutil.which('mandoc'):
            self.skipTest('mandoc is absent')
        pages = sorted(MAN.glob('*.1'))
        self.assertEqual(sorted(page.stem for page in pages), sorted(ALL))
        for page in pages:
            # from their folder: the pages that SEE ALSO names are looked for there
            done = subprocess.run(['mandoc', '-T', 'lint', '-W', 'style', page.name],
                                  capture_output=True, text=True, cwd=MAN)
            self.assertEqual(done.stdout + done.stderr, '')

    def test_man_pages_hold_exit_status_examples_and_caution(self):
        for program in ALL:
            page = (MAN / f'{program}.1').read_text()
            for section in ('NAME', 'SYNOPSIS', 'DESCRIPTION', 'OPTIONS', 'EXIT STATUS',
                            'EXAMPLES', 'CAUTION', 'SEE ALSO'):
                self.assertIn(f'.Sh {section}\n', page)
            self.assertIn('None found is not safe.', page)


class Accepted(OptionCase):
    """Every documented option, alone, with a value: the program does its work and
    the file that the option promises is there."""

    def setUp(self):
        super().setUp()
        self.dem, self.gpx = self.small_demo()
        self.zones = self.dir / 'zones.tif'
        self.made = 0

    def new_name(self, suffix):
        self.made += 1
        return str(self.dir / f'out{self.made}{suffix}')

    def value_of(self, option):
        value = VALUES[option]
        if value == 'FILE':
            return self.new_name(SUFFIX.get(option, '.tif'))
        if value == 'DIR':
            return self.new_name('')
        return {'ZONES': str(self.zones), 'GPX': str(self.gpx)}.get(value, value)

    def operands(self, program):
        if program == 'brant-sheet':
            folder = self.dir / 'plan'
            if not folder.exists():
                self.run_ok('brant-plan', self.dem, self.gpx, '-d', folder)
            return [folder]
        second = {'brant-runout': [self.zones], 'brant-route': [self.gpx],
                  'brant-plan': [self.gpx], 'brant-screen': [self.gpx]}.get(program, [])
        return [self.dem, *second]

    def required(self, program, but):
        option = '-d' if program == 'brant-plan' else '-o'
        if program == 'brant-check':
            return []
        suffix = '.pdf' if program == 'brant-sheet' else '.tif'
        return [] if but == option else [option, self.new_name(suffix)]

    def test_columns_are_in_the_man_pages(self):
        names = [self.new_name('.csv') for _ in range(5)]
        self.run_ok('brant-zones', self.dem, '-o', self.zones, '--table', names[0])
        self.run_ok('brant-route', self.dem, self.gpx, '-o', names[1], '--points', names[2],
                    '--above', names[3])
        self.run_ok('brant-screen', self.dem, self.gpx, '-o', names[4])
        pages = {name: (MAN / f'brant-{name}.1').read_text()
                 for name in ('zones', 'route', 'screen')}
        for name, page in zip(names, ['zones', 'route', 'route', 'route', 'screen']):
            columns = self.read_csv(name)[0].keys()
            self.assertGreater(len(columns), 5)
            for column in columns:
                self.assertRegex(pages[page], rf'(?m)^\.(It )?Cm .*\b{column}\b|^{column} ,')

    def accept(self, program, option):
        scale = ['--scale', '20'] if option == '--scale' else []
        self.run_ok('brant-zones', self.dem, '-o', self.zones, *scale)
        value = self.value_of(option)
        if (program, option) == ('brant-sheet', '-o'):
            value = self.new_name('.svg')
        words = [option] if value is None else [option, value]
        words += NEEDS.get(option, [])
        promised = VALUES[option] in ('FILE', 'DIR')
        if program in ('brant-plan', 'brant-screen') and option == '--above':
            words, promised = [option, PLAN_ABOVE[0], *PLAN_ABOVE[1]], False
        done = self.run_ok(program, *self.operands(program), *self.required(program, option),
                           *words)
        self.assertEqual(done.complaints(), [])
        if promised:
            self.assertTrue(os.path.exists(value), f'{program} {option} left no file')

    def check(self, program):
        text = self.run_ok(program, '--help').out
        for option in options_of_help(text):
            if option in ('--help', '--version'):
                continue
            with self.subTest(option):
                self.accept(program, option)

    def test_check(self):
        self.check('brant-check')

    def test_slope(self):
        self.check('brant-slope')

    def test_zones(self):
        self.check('brant-zones')

    def test_runout(self):
        self.check('brant-runout')

    def test_route(self):
        self.check('brant-route')

    def test_plan(self):
        self.check('brant-plan')

    def test_sheet(self):
        self.check('brant-sheet')

    def test_screen(self):
        self.check('brant-screen')

    def test_other_ways_to_write_options(self):
        out = self.dir / 's.tif'
        self.run_ok('brant-slope', f'--aspect={self.dir}/a.tif', '--nodata', '-9999', '--nodata=-1',
                    '-o', out, '--', self.dem)
        self.assertTrue(out.exists() and (self.dir / 'a.tif').exists())

    def test_an_operand_after_the_end_of_options_may_begin_with_a_dash(self):
        shutil.copy(self.dem, self.dir / '-dem.tif')
        self.run_ok('brant-slope', '-o', 's.tif', '--', '-dem.tif')


class TakenOver(OptionCase):
    """A zone raster says how its model was read; a later stage reads it alike."""

    def setUp(self):
        super().setUp()
        z = self.read_raster(DEMO_DEM)[240:360, 200:320]
        self.dem = self.dir / 'bands.tif'
        data = gdal.GetDriverByName('GTiff').Create(str(self.dem), 120, 120, 2, gdal.GDT_Float32)
        demo = gdal.Open(str(DEMO_DEM))
        data.SetSpatialRef(demo.GetSpatialRef())
        west, cell, _, north, _, _ = demo.GetGeoTransform()
        data.SetGeoTransform((west + 200 * cell, cell, 0, north - 240 * cell, 0, -cell))
        z[0:4, 0:4] = -77
        data.GetRasterBand(1).WriteArray(z * 0 + 1000)
        data.GetRasterBand(2).WriteArray(z / 0.3048)
        data = None
        self.zones = self.dir / 'zones.tif'
        self.options = ['--band-number', '2', '--scale', '20', '--vertical-unit', 'ft',
                        '--nodata', repr(-77 / 0.3048), '--quiet']
        self.run_ok('brant-zones', self.dem, '-o', self.zones, '--band', '28:50', *self.options)

    def runout(self, name, *options):
        done = self.run_ok('brant-runout', self.dem, self.zones, '-o', self.dir / name, *options)
        return done, (self.dir / name).read_bytes()

    def test_as_if_the_options_were_given_again(self):
        _, given = self.runout('given.tif', *self.options)
        done, taken = self.runout('taken.tif')
        self.assertEqual(given, taken)
        note = [line for line in done.err.splitlines() if 'taken over' in line]
        self.assertEqual(len(note), 1, done.err)
        for words in ('--scale 20', '--band-number 2', '--vertical-unit ft', '--nodata -252.6'):
            self.assertIn(words, note[0])
        self.assertNotIn('--band 28', note[0])  # brant-runout has no such option

    def test_the_command_line_comes_first(self):
        done = self.run_program('brant-runout', self.dem, self.zones, '-o', self.dir / 'r.tif',
                                '--scale', 'native')
        self.assert_refused(done, 'zones.tif', 'working grid')

    def test_a_raster_that_says_nonsense(self):
        data = gdal.Open(str(self.zones), gdal.GA_Update)
        data.SetMetadataItem('BRANT_SCALE', 'much')
        data = None
        done = self.run_program('brant-runout', self.dem, self.zones, '-o', self.dir / 'r.tif')
        self.assert_refused(done, self.zones, '--scale', 'much')

    def test_the_band_of_a_tour(self):
        _, gpx = self.small_demo()
        done = self.run_ok('brant-route', self.dem, gpx, '--zones', self.zones, '-o',
                           self.dir / 'l.csv')
        self.assertIn('--band 28:50', done.err)


class Refused(BrantCase):
    def assert_usage(self, program, *arguments, word=''):
        """Exit 2, one line that names the program (and `word`), nothing written."""
        out = self.dir / 'here'
        out.mkdir(exist_ok=True)
        done = self.run_program(program, *arguments, cwd=out)
        self.assertEqual(done.code, 2, (arguments, done.err))
        self.assertEqual(done.out, '')
        self.assertRegex(done.err, r'\A' + re.escape(program) + r': [^\n]+\n\Z')
        self.assertIn(word, done.err)
        self.assert_empty(out)

    def base(self, program):
        return {'brant-check': [DEMO_DEM],
                'brant-slope': [DEMO_DEM, '-o', 'x.tif'],
                'brant-zones': [DEMO_DEM, '-o', 'x.tif'],
                'brant-runout': [DEMO_DEM, DEMO_DEM, '-o', 'x.tif'],
                'brant-route': [DEMO_DEM, DEMO_GPX, '-o', 'x.csv'],
                'brant-plan': [DEMO_DEM, DEMO_GPX, '-d', 'x'],
                'brant-screen': [DEMO_DEM, DEMO_GPX],
                'brant-sheet': [TESTDATA, '-o', 'x.pdf']}[program]

    def test_bad_values(self):
        for program in STAGES:
            options = options_of_help(self.run_ok(program, '--help').out)
            for option, argument in options.items():
                if argument is None:
                    self.assert_usage(program, *self.base(program), f'{option}=1', word=option)
                    continue
                for value in BAD_VALUES.get(option, ['']):
                    if (program, option, value) == ('brant-route', '--above', '-'):
                        continue  # standard output
                    if option not in ('-o', '-d'):
                        with self.subTest((program, option, value)):
                            self.assert_usage(program, *self.base(program), f'{option}={value}',
                                              word=option)

    def test_every_checked_option_has_bad_values(self):
        free = {'FILE', 'DIR', 'ZONES', 'GPX', None}
        for program in STAGES:
            for option, argument in options_of_help(self.run_ok(program, '--help').out).items():
                if argument not in free:
                    self.assertIn(option, BAD_VALUES)

    def test_unknown_options(self):
        for program in ALL:
            self.assert_usage(program, '--no-such', word=f"'--no-such' ({program} --help")
            self.assert_usage(program, '-x', word="'-x'")
        base = self.base('brant-slope')
        self.assert_usage('brant-slope', *base, '--asp', 'a.tif', word='--asp')
        self.assert_usage('brant-slope', *base, '--band', '30:45', word='--band')
        self.assert_usage('brant-slope', *base, '-oy.tif', word='-oy.tif')

    def test_missing_values(self):
        for program in STAGES:
            for option, argument in options_of_help(self.run_ok(program, '--help').out).items():
                if argument is not None:
                    self.assert_usage(program, option, word=option)
                    self.assert_usage(program, option, '--quiet', word=option)

    def test_missing_operands_and_outputs(self):
        for program in STAGES:
            with self.subTest(program):
                base = self.base(program)
                first = 'DIR' if program == 'brant-sheet' else 'DEM'
                self.assert_usage(program, word=f'{first} is missing')
                self.assert_usage(program, *base[:1 if program == 'brant-screen' else -2],
                                  word='is missing')
                if len(base) == 4:
                    self.assert_usage(program, base[0], *base[2:], word='is missing')
                if program != 'brant-screen':
                    self.assert_usage(program, *base, 'one-more', word="'one-more'")
                self.assert_usage(program, '', word='empty')

    def test_repeated_options(self):
        self.assert_usage('brant-slope', *self.base('brant-slope'), '-o', 'y.tif', word='twice')
        self.assert_usage('brant-slope', *self.base('brant-slope'), '--quiet', '--quiet',
                          word='twice')
        many = ['--nodata', '1'] * 17
        self.assert_usage('brant-slope', *self.base('brant-slope'), *many, word='--nodata')

    def test_two_outputs_in_one_place(self):
        self.assert_usage('brant-slope', DEMO_DEM, '-o', 'x.tif', '--aspect', 'x.tif',
                          word='x.tif')
        self.assert_usage('brant-route', DEMO_DEM, DEMO_GPX, '-o', '-', '--points', '-', word="'-'")

    def test_a_name_that_promises_another_raster(self):
        for program in ('brant-slope', 'brant-zones', 'brant-runout'):
            for name in ('x.jpg', 'x', '.tif', 'x.tif.png'):
                self.assert_usage(program, *self.base(program)[:-1], name, word=f"'{name}'")
        for name in ('x.TIF', 'x.tiff'):
            self.run_ok('brant-slope', DEMO_DEM, '-o', self.dir / name)

    def test_newlines_in_a_name_do_not_make_lines(self):
        self.assert_usage('brant-slope', '--a\nb')


class Streams(OptionCase):
    def test_a_full_disk_is_an_error(self):
        if not os.path.exists('/dev/full'):
            self.skipTest('/dev/full is absent')
        dem, gpx = self.small_demo()
        with open('/dev/full', 'wb') as full:
            for words in (['brant-slope', '--help'], ['brant', '--version'],
                          ['brant-route', dem, gpx, '-o', '-']):
                done = subprocess.run([PROGRAMS / words[0], *words[1:]], stdout=full,
                                      stderr=subprocess.PIPE, cwd=self.dir)
                self.assertEqual(done.returncode, 1, words)
                self.assertIn(b'standard output', done.stderr)

    def test_notes_are_quiet_and_warnings_are_not(self):
        z = self.read_raster(DEMO_DEM)[:40, :40].copy()
        dem = self.write_dem('dem.tif', z)
        loud = self.run_ok('brant-slope', dem, '-o', self.dir / 's.tif')
        self.assertRegex(loud.err, r'(?m)^brant-slope: note: .*metres assumed')
        quiet = self.run_ok('brant-slope', dem, '-o', self.dir / 's.tif', '--quiet')
        self.assertEqual(quiet.err, '')
        z[5, 5] = -32767
        dem = self.write_dem('dem.tif', z, nodata=None)
        quiet = self.run_ok('brant-slope', dem, '-o', self.dir / 's.tif', '--quiet')
        self.assertRegex(quiet.err, r'(?m)^brant-slope: warning: ')

    def test_no_progress_and_no_bold_in_a_pipe(self):
        done = self.run_ok('brant-plan', *self.small_demo(), '-d', self.dir / 'p')
        self.assertNotIn('\r', done.err)
        self.assertNotIn('\x1b', done.out + done.err)

    def on_terminal(self, env):
        """What brant-plan shows on a terminal."""
        try:
            master, slave = os.openpty()
        except OSError as error:  # a bare chroot has no /dev/pts
            self.skipTest(f'no pseudo-terminal: {error}')
        shown = b''
        process = subprocess.Popen(
            [PROGRAMS / 'brant-plan', *self.small_demo(), '-d', self.dir / 'p'], stdin=slave,
            stdout=slave, stderr=slave, env={**os.environ, **env}, cwd=self.dir)
        os.close(slave)
        while True:
            try:
                part = os.read(master, 65536)
            except OSError:  # EIO: the other end is closed
                break
            if not part:
                break
            shown += part
        os.close(master)
        self.assertEqual(process.wait(), 0)
        return shown

    def test_progress_and_bold_on_a_terminal(self):
        shown = self.on_terminal({'NO_COLOR': ''})
        self.assertRegex(shown, rb'\r *\r')  # drawn and erased
        self.assertIn(b'\x1b[1m', shown)
        self.assertNotIn(b'\x1b', self.on_terminal({'NO_COLOR': '1'}))


class Interrupted(OptionCase):
    def interrupt(self, number, patience=60):
        """Stop brant-route while it waits for a tour on standard input."""
        out = self.folder(f'out{number}')
        dem, gpx = self.small_demo()
        process = subprocess.Popen(
            [PROGRAMS / 'brant-route', dem, '-', '--quiet', '-o', out / 'legs.csv'],
            stdin=subprocess.PIPE, stdout=subprocess.PIPE, stderr=subprocess.PIPE, cwd=self.dir)
        process.stdin.write(gpx.read_bytes()[:200])
        process.stdin.flush()
        while not os.listdir(out):
            self.assertIsNone(process.poll(), 'it ended, and nothing was staged')
            time.sleep(0.02)
        time.sleep(0.3)  # let it come to the read; before that the stop is heard, too
        process.send_signal(number)
        try:
            process.wait(timeout=patience)
        finally:
            process.kill()
            _, err = process.communicate()
        self.assertEqual(process.returncode, 1, err)
        self.assertEqual(err, b'brant-route: interrupted\n')
        self.assert_empty(out)

    def test_sigint(self):
        self.interrupt(signal.SIGINT)

    def test_sigterm(self):
        self.interrupt(signal.SIGTERM)

    def hang_up(self, action, patience=60):
        """SIGHUP to a program that inherits `action`: the tests may run under nohup."""
        before = signal.signal(signal.SIGHUP, action)
        try:
            self.interrupt(signal.SIGHUP, patience)
        finally:
            signal.signal(signal.SIGHUP, before)

    def test_closed_terminal(self):
        self.hang_up(signal.SIG_DFL)

    def test_nohup(self):
        with self.assertRaises(subprocess.TimeoutExpired):
            self.hang_up(signal.SIG_IGN, patience=1)

    def test_nobody_reads(self):
        """Its standard output is a pipe that is full."""
        dem, gpx = self.small_demo()
        out = self.folder()
        ours, theirs = os.pipe()
        size = fcntl.fcntl(ours, F_SETPIPE_SZ, 4096)
        process = subprocess.Popen(
            [PROGRAMS / 'brant-route', dem, gpx, '--quiet', '-o', out / 'legs.csv', '--points', '-'],
            stdout=theirs, stderr=subprocess.PIPE, cwd=self.dir)
        os.close(theirs)
        held = 0
        while held < size and process.poll() is None:
            time.sleep(0.02)
            held, = struct.unpack('i', fcntl.ioctl(ours, termios.FIONREAD, bytes(4)))
        process.send_signal(signal.SIGINT)
        _, err = process.communicate(timeout=60)
        os.close(ours)
        self.assertEqual((process.returncode, err), (1, b'brant-route: interrupted\n'))
        self.assert_empty(out)

    def twice(self, pause):
        """Stop it as it waits for a tour, and again as its last word waits on a terminal that
        was halted: the exit status, and how long that took."""
        try:
            screen, side = os.openpty()
        except OSError as error:  # a bare chroot has no /dev/pts
            self.skipTest(f'no pseudo-terminal: {error}')
        termios.tcflow(side, termios.TCOOFF)
        out = self.folder(f'out{pause}-{time.monotonic_ns()}')
        dem, _ = self.small_demo()
        process = subprocess.Popen(
            [PROGRAMS / 'brant-route', dem, '-', '--quiet', '-o', out / 'legs.csv'],
            stdin=subprocess.PIPE, stdout=subprocess.DEVNULL, stderr=side, cwd=self.dir)
        while not os.listdir(out):
            time.sleep(0.01)
        began = time.monotonic()
        process.send_signal(signal.SIGTERM)
        while os.listdir(out):
            time.sleep(0.01)  # the first was heard when all is removed
        time.sleep(pause)
        process.send_signal(signal.SIGTERM)
        took = time.monotonic() - began
        if pause == 0:
            time.sleep(0.1)
            termios.tcflow(side, termios.TCOON)
        process.communicate(timeout=60)
        os.close(side)
        os.close(screen)
        return process.returncode, took

    def test_the_same_signal_twice_at_once(self):
        # timeout(1) sends two, and so do a terminal that is closed and its shell
        for _ in range(20):
            code, took = self.twice(0)
            if took < 0.9:
                self.assertEqual(code, 1)
                break
        else:
            self.skipTest('two signals were never sent within a second')

    def test_a_second_signal(self):
        self.assertEqual(self.twice(1.1)[0], -signal.SIGTERM)


class Dispatch(BrantCase):
    def test_runs_the_program_beside_it(self):
        done = self.run_ok('brant', 'slope', '--help')
        self.assertEqual(done.out, self.run_ok('brant-slope', '--help').out)

    def test_exit_status_and_arguments_pass_through(self):
        self.assertEqual(self.run_program('brant', 'slope').code, 2)
        done = self.run_program('brant', 'slope', 'a b.tif', '-o', 'x.tif')
        self.assertEqual(done.code, 1)
        self.assertIn('a b.tif', done.err)

    def test_looks_in_path_for_what_is_not_beside_it(self):
        alone = self.folder('alone')
        away = self.folder('away')
        shutil.copy(PROGRAMS / 'brant', alone)
        script = away / 'brant-echo'
        script.write_text('#!/bin/sh\necho "$0" "$@"\n')
        script.chmod(script.stat().st_mode | stat.S_IXUSR)
        path = f'{away}:{os.environ["PATH"]}'
        done = subprocess.run([alone / 'brant', 'echo', '1', '2 3'], capture_output=True, text=True,
                              env={**os.environ, 'PATH': path})
        self.assertEqual((done.returncode, done.stdout), (0, f'{script} 1 2 3\n'))

    def test_unknown_programs(self):
        for word in ('nothing', 'Slope', '../brant-slope', 'slope/', ''):
            with self.subTest(word):
                done = self.run_program('brant', word)
                self.assertEqual(done.code, 2, done.err)
                self.assertEqual(len(done.err.splitlines()), 1)
                self.assertEqual(done.out, '')
        self.assertEqual(self.run_program('brant').code, 2)


if __name__ == '__main__':
    main()
