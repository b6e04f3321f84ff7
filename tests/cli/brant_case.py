"""What the program tests share: running a program, small elevation models and
tours to run it on, and reading back what it wrote.

Set by the build:
  BRANT_PROGRAMS     folder of the programs
  BRANT_TESTDATA     folder of the demo
  BRANT_SHARED_DATA  real models and tours; tests that want them skip where it is absent
"""

import csv
import math
import os
import shutil
import subprocess
import tempfile
import unittest
from pathlib import Path

import numpy as np
from osgeo import gdal, osr

gdal.UseExceptions()
osr.UseExceptions()

PROGRAMS = Path(os.environ.get('BRANT_PROGRAMS', 'build/src/tools'))
TESTDATA = Path(os.environ.get('BRANT_TESTDATA', 'testdata'))
SHARED = Path(os.environ.get('BRANT_SHARED_DATA', '../shared/data'))

NODATA = -9999.0

# A plane on which a metre of the map is a metre on the ground (at its middle).
LOCAL = ('+proj=tmerc +lat_0=46.5 +lon_0=10 +k=1 +x_0=0 +y_0=0 +ellps=WGS84 '
         '+datum=WGS84 +units=m +no_defs')

DEMO_DEM = TESTDATA / 'quern.tif'
DEMO_GPX = TESTDATA / 'quern.gpx'


def crs(definition):
    """A CRS from 'EPSG:n' or a PROJ string, x before y."""
    reference = osr.SpatialReference()
    reference.SetFromUserInput(definition)
    reference.SetAxisMappingStrategy(osr.OAMS_TRADITIONAL_GIS_ORDER)
    return reference


class Done:
    """A program's end: exit status, and both streams as text."""

    def __init__(self, finished):
        self.code = finished.returncode
        self.out = finished.stdout.decode('utf-8')
        self.err = finished.stderr.decode('utf-8')

    def complaints(self):
        """Lines of standard error that are neither notes nor warnings."""
        return [line for line in self.err.splitlines()
                if ': note: ' not in line and ': warning: ' not in line]


class BrantCase(unittest.TestCase):
    def setUp(self):
        self.dir = Path(tempfile.mkdtemp(prefix='brant-test-'))
        self.addCleanup(self.remove_dir)
        self.opened = []

    def remove_dir(self):
        self.opened.clear()
        for folder, _, _ in os.walk(self.dir):
            os.chmod(folder, 0o700)
        shutil.rmtree(self.dir)

    # ---- running ----------------------------------------------------------

    def run_program(self, program, *arguments, env=None, stdin=b'', cwd=None, prefix=(),
                    timeout=300):
        """Run a program in the C locale and UTC, unless `env` says otherwise."""
        surroundings = dict(os.environ, LC_ALL='C', TZ='UTC', PROJ_NETWORK='OFF')
        surroundings.update(env or {})
        finished = subprocess.run(
            [*prefix, str(PROGRAMS / program), *map(str, arguments)], input=stdin,
            capture_output=True, env=surroundings, cwd=cwd or self.dir, timeout=timeout)
        return Done(finished)

    def run_ok(self, program, *arguments, **how):
        done = self.run_program(program, *arguments, **how)
        self.assertEqual(done.code, 0, done.err)
        return done

    def assert_refused(self, done, *words):
        """Exit 1 with one line that holds every one of `words`."""
        self.assertEqual(done.code, 1, (done.out, done.err))
        self.assertEqual(len(done.complaints()), 1, done.err)
        for word in words:
            self.assertIn(str(word), done.complaints()[0])
        self.assertEqual(done.out, '')

    def assert_empty(self, folder):
        """Nothing in it, hidden files included."""
        self.assertEqual(sorted(os.listdir(folder)), [])

    def folder(self, name='out'):
        path = self.dir / name
        path.mkdir()
        return path

    def shared(self, name):
        path = SHARED / name
        if not path.exists():
            self.skipTest(f'{name}: shared data is absent')
        return path

    # ---- making inputs ----------------------------------------------------

    def write_dem(self, name, z, cell=10.0, west=0.0, north=0.0, definition=LOCAL,
                  nodata=NODATA, kind=gdal.GDT_Float32, transform=None, options=()):
        """A GeoTIFF of the array `z`, northernmost row first; NaN becomes nodata."""
        z = np.asarray(z, dtype=np.float64)
        path = self.dir / name
        data = gdal.GetDriverByName('GTiff').Create(
            str(path), z.shape[1], z.shape[0], 1, kind, list(options))
        if definition:
            data.SetSpatialRef(crs(definition))
        data.SetGeoTransform(transform or (west, cell, 0, north, 0, -cell))
        band = data.GetRasterBand(1)
        if nodata is not None:
            band.SetNoDataValue(nodata)
            z = np.where(np.isnan(z), nodata, z)
        band.WriteArray(z)
        data.FlushCache()
        return path

    def centred_dem(self, name, height, cells, cell=10.0, holes=None, **how):
        """A model of height(x, y) with (0, 0) at its middle, x east and y north in
        metres on LOCAL; `holes`(x, y) is true where it has none."""
        axis = (np.arange(cells) + 0.5 - cells / 2) * cell
        x, y = np.meshgrid(axis, -axis)
        z = np.asarray(height(x, y), dtype=np.float64)
        if holes is not None:
            z = np.where(holes(x, y), np.nan, z)
        return self.write_dem(name, z, cell=cell, west=-cells * cell / 2,
                              north=cells * cell / 2, **how)

    def to_degrees(self, points, definition=LOCAL):
        transform = osr.CoordinateTransformation(crs(definition), crs('EPSG:4326'))
        return [transform.TransformPoint(x, y)[:2] for x, y in points]

    def write_gpx(self, name, *segments, definition=LOCAL):
        """A track of segments, each a list of (x, y) in the CRS."""
        text = ['<?xml version="1.0" encoding="UTF-8"?>\n<gpx version="1.1" creator="test" '
                'xmlns="http://www.topografix.com/GPX/1/1"><trk><name>tour</name>\n']
        for segment in segments:
            text.append('<trkseg>\n')
            for lon, lat in self.to_degrees(segment, definition):
                text.append(f'<trkpt lat="{lat:.9f}" lon="{lon:.9f}"/>\n')
            text.append('</trkseg>\n')
        text.append('</trk></gpx>\n')
        return self.write_text(name, ''.join(text))

    def write_text(self, name, text):
        path = self.dir / name
        path.write_text(text, encoding='utf-8')
        return path

    # ---- reading outputs --------------------------------------------------

    def open(self, path):
        """A raster, kept open until the test ends: its bands lean on it."""
        data = gdal.Open(str(path))
        self.opened.append(data)
        return data

    def read_raster(self, path, band=1):
        """A band as floats, NaN where it is nodata."""
        data = gdal.Open(str(path))
        source = data.GetRasterBand(band)
        z = source.ReadAsArray().astype(np.float64)
        nodata = source.GetNoDataValue()
        if nodata is not None and not math.isnan(nodata):
            z[z == nodata] = np.nan
        return z

    def read_csv(self, path):
        with open(path, newline='', encoding='utf-8') as file:
            return list(csv.DictReader(file))


def main():
    unittest.main(verbosity=2)
