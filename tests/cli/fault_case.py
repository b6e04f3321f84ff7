"""What test_faults.py and test_breaks.py share: a small world of a mosaic, a mask and a
tour, a command for every program, and what must hold however a run ends."""

import os
import shutil
import subprocess

import numpy as np

from brant_case import PROGRAMS, BrantCase, gdal

# A program's outputs go into the folder OUT.
COMMANDS = {
    'check': ('brant-check', 'dem.vrt'),
    'slope': ('brant-slope', 'dem.vrt', '-o', 'OUT/slope.tif', '--aspect', 'OUT/aspect.tif',
              '--class', 'OUT/class.tif'),
    'zones': ('brant-zones', 'dem.vrt', '-o', 'OUT/zones.tif', '--polygons', 'OUT/zones.gpkg',
              '--table', 'OUT/zones.csv'),
    'runout': ('brant-runout', 'dem.vrt', 'zones.gpkg', '-o', 'OUT/runout.tif'),
    'route': ('brant-route', 'dem.vrt', 'tour.gpx', '--zones', 'zones.tif', '-o', 'OUT/legs.csv',
              '--points', 'OUT/points.csv', '--above', 'OUT/above.csv', '--layers',
              'OUT/tour.gpkg', '--waypoints', 'OUT/tour.gpx'),
    'plan': ('brant-plan', 'dem.vrt', 'tour.gpx', '-d', 'OUT/plan', '--level', '3', '--above',
             '1200', '--start', '2027-02-13T07:30+01:00'),
    'screen': ('brant-screen', 'dem.vrt', 'tour.gpx', '-o', 'OUT/circuits.csv', '--legs',
               'OUT/legs.csv', '--level', '3', '--start', '2027-02-13T07:30+01:00'),
    'sheet': ('brant-sheet', 'plan', '-o', 'OUT/sheet.pdf'),
}


def contents(folder):
    """Every file below a folder, hidden ones too: name to bytes."""
    return {str(path.relative_to(folder)): path.read_bytes()
            for path in sorted(folder.rglob('*')) if path.is_file()}


def is_hidden(name):
    return any(part.startswith('.') for part in name.split(os.sep))


# What is no complaint of the program's: the last two are of libraries that draw the sheet.
NOISE = (': warning: ', ': note: ', 'Fontconfig ', 'Pango-')


def complaints(done):
    # at line feeds alone: fontconfig puts bytes of freed memory into its words
    return [line for line in done.stderr.decode(errors='replace').split('\n')
            if line and not any(word in line for word in NOISE)]


class FaultCase(BrantCase):
    def setUp(self):
        super().setUp()
        self.inputs = self.folder('in')
        # a hill of 35 degrees, level ground that it does not reach, a hole
        axis = (np.arange(200) + 0.5 - 100) * 10.0
        x, y = np.meshgrid(axis, -axis)
        z = 1300 + np.maximum(0, 200 - 0.7 * np.hypot(x + 450, y - 450)) + 3 * np.sin(x / 90)
        z[20:24, 30:33] = np.nan
        west = self.write_dem('in/west.tif', z[:, :110], west=-1000, north=1000)
        z[170:173, 180:183] = 1777  # void, as a side-car says
        self.write_dem('in/east.tif', z[:, 110:], west=100, north=1000, nodata=None)
        self.write_text('in/east.tif.aux.xml', '<PAMDataset><PAMRasterBand band="1">'
                        '<NoDataValue>1777</NoDataValue></PAMRasterBand></PAMDataset>')
        self.write_mask(west)
        gdal.BuildVRT(str(self.inputs / 'dem.vrt'),  # with a mask of its own
                      [str(self.inputs / name) for name in ('west.tif', 'east.tif')])
        self.write_gpx('in/tour.gpx', [(-600, 300), (-200, 300), (50, -50), (250, -200)])
        self.run_ok('brant-zones', self.inputs / 'dem.vrt', '-o', self.inputs / 'zones.tif',
                    '--polygons', self.inputs / 'zones.gpkg')
        self.run_ok('brant-plan', self.inputs / 'dem.vrt', self.inputs / 'tour.gpx', '-d',
                    self.inputs / 'plan', '--level', '3', '--quiet')
        self.before = contents(self.inputs)

    @staticmethod
    def write_mask(path):
        """A mask in a file of its own, which must not get lost."""
        data = gdal.Open(str(path), gdal.GA_Update)
        data.CreateMaskBand(gdal.GMF_PER_DATASET)
        mask = np.full((data.RasterYSize, data.RasterXSize), 255, np.uint8)
        mask[80:84, 40:44] = 0
        data.GetRasterBand(1).GetMaskBand().WriteArray(mask)

    def words(self, command, out, threads=1):
        return [str(PROGRAMS / command[0]),
                *(str(word).replace('OUT', str(out)) for word in command[1:]), '--quiet',
                *([] if command[0] == 'brant-sheet' else ['--threads', str(threads)])]

    def attempt(self, command, out, threads=1, env=None, **how):
        """Run once into the folder `out`."""
        surroundings = dict(os.environ, LC_ALL='C', TZ='UTC', PROJ_NETWORK='OFF', **(env or {}))
        return subprocess.run(self.words(command, out, threads), capture_output=True,
                              env=surroundings, cwd=self.inputs, timeout=120, **how)

    def clean(self, command, threads=1, env=None):
        """A run that nothing disturbs: its standard output, its files."""
        out = self.folder('clean')
        done = self.attempt(command, out, threads, env)
        self.assertEqual(done.returncode, 0, done.stderr)
        return done.stdout, contents(out)

    def problem(self, command, out, done, reference, threads=1):
        """What is wrong with a run that something disturbed, or None; `out` is removed."""
        wrong = self.wrong_end(done, reference) or self.wrong_files(done, out, reference)
        if not wrong and any(is_hidden(name) for name in self.entries(out)):
            again = self.attempt(command, out, threads)
            if again.returncode != 0 or contents(out) != reference[1]:
                wrong = f'the next run ends with {again.returncode}: {self.entries(out)}'
            elif any(is_hidden(name) for name in self.entries(out)):
                wrong = f'the next run left {self.entries(out)}'
        shutil.rmtree(out)
        return wrong

    @staticmethod
    def entries(out):
        return [str(path.relative_to(out)) for path in out.rglob('*')]

    @staticmethod
    def wrong_end(done, reference):
        lines = complaints(done)
        if done.returncode < 0:
            return None  # killed: no last word is possible
        if done.returncode == 0:
            if done.stdout != reference[0]:
                return 'exit 0 with another standard output'
            return f'exit 0 with {lines}' if lines else None
        if done.returncode != 1:
            return f'exit {done.returncode}'
        return f'exit 1 with {lines}' if len(lines) != 1 else None

    @staticmethod
    def wrong_files(done, out, reference):
        files = reference[1]
        found = contents(out)
        if done.returncode == 0:
            other = [n for n in set(found) | set(files) if found.get(n) != files.get(n)]
            return f'exit 0 with other bytes in {sorted(other)}' if other else None
        broken = [n for n, data in found.items() if not is_hidden(n) and files.get(n) != data]
        if b'see the table' in done.stderr:
            # brant-screen could not read a tour, and its one row says that
            table = found['circuits.csv'].decode().splitlines()
            if len(table) == 2 and ',error: ' in table[1] and found['legs.csv'].count(b'\n') == 1:
                return None
        return f'not whole: {broken}' if broken else None
