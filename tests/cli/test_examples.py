"""Every command line of the man pages' EXAMPLES and of README.md is run as it stands there,
in a folder that has the demo's files under the names that it uses: of the model 1.6 km
around the place where the tour crosses, for the time it takes."""

import os
import re
import shutil
import subprocess
import unittest
from pathlib import Path

from osgeo import gdal

from brant_case import DEMO_DEM, DEMO_GPX, PROGRAMS, TESTDATA, BrantCase, main

SOURCE = Path(os.environ.get('BRANT_SOURCE', Path(__file__).resolve().parents[2]))
PAGES = sorted((SOURCE / 'man').glob('*.1'))
# Steps for a person at a screen, and the scripts of the continuous integration.
PAGERS = re.compile(r'\|\s*less(?: -S)?\s*$')
SKIPPED = ('sh .ci/',)
OUTPUT = re.compile(r' (?:-o|-d|--[a-z]+) ([a-z][a-z_]*(?:\.[a-z]+)?)(?= |$)')
INPUTS = ('--zones', '--bulletin', '--others', '--sort')


def joined(lines):
    """Lines as commands: a quote, a backslash or a bar at the end goes on."""
    commands, open_command = [], ''
    for line in lines:
        open_command += line.strip() if not open_command else '\n' + line.strip()
        if open_command.count("'") % 2 == 0 and not line.rstrip().endswith(('\\', '|')):
            commands.append(open_command)
            open_command = ''
    return commands + ([open_command] if open_command else [])


def commands_of_man(text):
    """The command lines of EXAMPLES: .Dl lines and literal blocks."""
    section = text.split('.Sh EXAMPLES\n', 1)[1].split('\n.Sh ', 1)[0]
    lines, literal = [], False
    for line in section.splitlines():
        if line.startswith('.Bd -literal') or line == '.Ed':
            literal = line != '.Ed'
        elif literal or line.startswith('.Dl '):
            lines.append((line if literal else line[4:]).replace('\\e', '\\'))
    return joined(lines)


def commands_of_readme(text):
    """Indented lines that begin with a program."""
    return [line.split(' # ')[0].strip() for line in text.splitlines()
            if re.match(r'    (?:brant[ -]|sh |meson |ninja )', line)]


class Examples(BrantCase):
    def setUp(self):
        super().setUp()
        self.dem = self.dir / 'part.tif'
        gdal.Translate(str(self.dem), str(DEMO_DEM), srcWin=[170, 160, 160, 160])

    def place(self, folder, names):
        """The demo's files in a new folder: {name there: file}."""
        place = self.folder(folder)
        for name, file in names.items():
            (place / name).parent.mkdir(exist_ok=True)
            shutil.copy(file, place / name)
        return place

    def run_all(self, place, commands):
        env = dict(os.environ, LC_ALL='C', TZ='UTC', PROJ_NETWORK='OFF',
                   PATH=f'{PROGRAMS.resolve()}:{os.environ["PATH"]}')
        shown = []
        for command in commands:
            if command.startswith(SKIPPED):
                continue
            with self.subTest(command):
                done = subprocess.run(
                    ['bash', '-o', 'pipefail', '-e', '-c', PAGERS.sub('', command)], cwd=place,
                    env=env, stdin=subprocess.DEVNULL, capture_output=True, encoding='utf-8')
                self.assertEqual(done.returncode, 0, done.stderr)
                self.assertEqual([line for line in done.stderr.splitlines()
                                  if not re.search(': (?:note|warning): ', line)], [])
                shown.append(done.stdout)
                written = OUTPUT.findall(command.replace('\\\n', ' '))
                for name in written:
                    if not any(f'{option} {name}' in command for option in INPUTS):
                        self.assertTrue((place / name).exists(), f'{name} was not written')
                self.assertTrue(written or done.stdout.strip(), 'nothing came of it')
        return shown

    def test_man_pages(self):
        self.assertEqual(len(PAGES), 9)
        for page in PAGES:
            commands = commands_of_man(page.read_text(encoding='utf-8'))
            self.assertTrue(commands, page.name)
            self.assertTrue(any(page.stem in c or page.stem == 'brant' for c in commands))
            place = self.place(page.stem, {
                'testdata/quern.tif': self.dem, 'testdata/quern.gpx': DEMO_GPX,
                'testdata/quern_bulletin.json': TESTDATA / 'quern_bulletin.json',
                'circuits/ostler.gpx': DEMO_GPX})
            shown = self.run_all(place, commands)
            if page.stem == 'brant-route':
                legs = shown[-1].splitlines()
                self.assertEqual(legs[0].split(), ['leg', 'kind', 'from_m', 'to_m', 'steepest_deg',
                                                   'aspect'])
                self.assertGreater(len(legs), 1)
                self.assertEqual({leg.split()[1] for leg in legs[1:]}, {'crosses'})
            if page.stem == 'brant':
                self.assertRegex(shown[-1], r'(?m)^ *\d+\.\d\d under$')

    def test_readme(self):
        commands = commands_of_readme((SOURCE / 'README.md').read_text(encoding='utf-8'))
        self.assertGreaterEqual(len(commands), 9)
        self.run_all(self.place('readme', {
            'quern.tif': self.dem, 'quern.gpx': DEMO_GPX,
            'bulletin.json': TESTDATA / 'quern_bulletin.json',
            'circuits/ostler.gpx': DEMO_GPX}), commands)

    def test_the_result_in_readme(self):
        """It is shortened: some lines of the demo's summary, word by word, in their order."""
        text = (SOURCE / 'README.md').read_text(encoding='utf-8').split('\n## A result', 1)[1]
        result = re.search(r'(?m)(?:^    .*\n)+', text).group().splitlines()
        self.assertGreater(len(result), 20)
        summary = iter(self.run_ok(
            'brant-plan', DEMO_DEM, DEMO_GPX, '-d', self.dir / 'tour', '--bulletin',
            TESTDATA / 'quern_bulletin.json', '--start', '2027-02-13T06:30+01:00'
        ).out.splitlines())
        for line in result:
            self.assertIn(line[4:], summary)  # takes from it up to that line

    def test_the_reader_takes_lines_as_a_shell_does(self):
        text = ('.Sh EXAMPLES\nWords.\n.Dl one -o a\n.Bd -literal -offset indent\ntwo \\e\n'
                "    -o b\nthree |\n    awk '{x\n    y}' c\n.Ed\n.Sh CAUTION\n.Dl four\n")
        self.assertEqual(commands_of_man(text), ['one -o a', 'two \\\n-o b',
                                                 "three |\nawk '{x\ny}' c"])
        self.assertEqual(commands_of_readme('    sh .ci/x    # why\n    brant a | b\n    words\n'),
                         ['sh .ci/x', 'brant a | b'])


if __name__ == '__main__':
    main()
