"""Rasters for a desktop GIS: statistics, and cloud optimized files.

The rules of a cloud optimized GeoTIFF are those of OGC 21-026, as far as they can be
read off the file's directories; GDAL's own checker, where python3-gdal brings it, is
asked as well."""

import hashlib
import struct

import numpy as np
from osgeo import gdal

from brant_case import DEMO_DEM, DEMO_GPX, BrantCase, main

try:
    from osgeo_utils.samples import validate_cloud_optimized_geotiff as checker
except ImportError:
    checker = None

RASTERS = ['elevation', 'slope', 'aspect', 'class', 'zones', 'runout']
SIZE = {1: 1, 2: 1, 3: 2, 4: 4, 5: 8, 16: 8}  # TIFF 6.0: bytes of a field type


def directories(path):
    """[(offset, {tag: values})] of a classic little-endian TIFF, in the file's order."""
    data = path.read_bytes()
    assert data[:4] == b'II*\0', data[:4]
    found, at = [], struct.unpack_from('<I', data, 4)[0]
    while at:
        tags = {}
        count = struct.unpack_from('<H', data, at)[0]
        for i in range(count):
            tag, kind, length, _ = struct.unpack_from('<HHII', data, at + 2 + 12 * i)
            where = at + 2 + 12 * i + 8
            if SIZE.get(kind, 8) * length > 4:
                where = struct.unpack_from('<I', data, where)[0]
            if kind in (3, 4):
                tags[tag] = struct.unpack_from(f'<{length}{"H" if kind == 3 else "I"}', data, where)
            else:
                tags[tag] = None
        found.append((at, tags))
        at = struct.unpack_from('<I', data, at + 2 + 12 * count)[0]
    return found


def faults_of_cog(path):
    """What OGC 21-026 asks for and the file does not keep; [] if it is one."""
    faults, ifds = [], directories(path)
    for i, (at, tags) in enumerate(ifds):
        if 324 not in tags or 322 not in tags:
            faults.append(f'directory {i} has no tiles')
            continue
        if min(tags[324]) <= max(ifd for ifd, _ in ifds):
            faults.append(f'tiles of directory {i} stand before a directory')
        if i > 0:
            before = ifds[i - 1][1]
            if tags.get(254, (0,))[0] & 1 == 0:
                faults.append(f'directory {i} is not said to be a reduced image')
            if tags[256][0] >= before[256][0] or tags[257][0] >= before[257][0]:
                faults.append(f'directory {i} is not smaller than the one before')
            if at < ifds[i - 1][0]:
                faults.append(f'directory {i} stands before directory {i - 1}')
            if 324 in before and min(tags[324]) > min(before[324]):
                faults.append(f'tiles of directory {i} stand behind those of a larger one')
    last = ifds[-1][1]
    if max(last[256][0], last[257][0]) > 512:
        faults.append('the smallest image is larger than a screenful')
    return faults


class Statistics(BrantCase):
    def test_of_known_cells_alone(self):
        z = self.read_raster(DEMO_DEM)[:300, :280].copy()
        z[40:90, 50:120] = np.nan
        dem = self.write_dem('dem.tif', z)
        self.run_ok('brant-slope', dem, '-o', self.dir / 's.tif', '--aspect', self.dir / 'a.tif')
        for name in ('s', 'a'):
            path = self.dir / f'{name}.tif'
            values = self.read_raster(path)
            known = values[~np.isnan(values)]
            said = self.open(path).GetRasterBand(1).GetMetadata()
            wanted = [known.min(), known.max(), known.mean(), known.std()]
            for key, value in zip(('MINIMUM', 'MAXIMUM', 'MEAN', 'STDDEV'), wanted):
                self.assertAlmostEqual(float(said['STATISTICS_' + key]), value, places=6)
            share = 100 * known.size / values.size
            self.assertAlmostEqual(float(said['STATISTICS_VALID_PERCENT']), share, delta=0.0101)
            self.assertLessEqual(float(said['STATISTICS_VALID_PERCENT']), share)

    def test_of_nothing_known(self):
        z = np.full((40, 40), np.nan)
        z[20, 20] = 1500
        dem = self.write_dem('dem.tif', z)
        self.run_ok('brant-slope', dem, '-o', self.dir / 's.tif')
        said = self.open(self.dir / 's.tif').GetRasterBand(1).GetMetadata()
        self.assertEqual(said, {'STATISTICS_VALID_PERCENT': '0'})


class CloudOptimized(BrantCase):
    def plan(self, name, *options):
        done = self.run_ok('brant-plan', DEMO_DEM, DEMO_GPX, '-d', self.dir / name, '--quiet',
                           *options)
        self.assertEqual(done.err, '')
        return self.dir / name

    def test_files_of_a_plan(self):
        flat, cog = self.plan('flat'), self.plan('cog', '--cog')
        self.assertEqual(sorted(p.name for p in flat.iterdir()),
                         sorted(p.name for p in cog.iterdir()))
        for name in RASTERS:
            with self.subTest(name):
                a, b = self.open(flat / f'{name}.tif'), self.open(cog / f'{name}.tif')
                self.assertEqual(faults_of_cog(cog / f'{name}.tif'), [])
                self.assertNotEqual(faults_of_cog(flat / f'{name}.tif'), [])  # the check can fail
                if checker:
                    self.assertEqual(checker.validate(str(cog / f'{name}.tif'), full_check=True)[:2],
                                     ([], []))
                self.assertTrue(np.array_equal(a.ReadAsArray(), b.ReadAsArray()))
                self.assertEqual(a.GetMetadata(), b.GetMetadata())
                for i in range(1, a.RasterCount + 1):
                    self.same_band(a.GetRasterBand(i), b.GetRasterBand(i))

    def same_band(self, a, b):
        self.assertEqual(a.GetMetadata(), b.GetMetadata())
        for ask in ('GetDescription', 'GetUnitType', 'GetNoDataValue', 'GetCategoryNames'):
            self.assertEqual(getattr(a, ask)(), getattr(b, ask)())
        if a.GetColorTable():
            for i in range(8):
                self.assertEqual(a.GetColorTable().GetColorEntry(i),
                                 b.GetColorTable().GetColorEntry(i))
        self.assertGreater(b.GetOverviewCount(), 0)
        if a.GetDescription() != 'elevation_m':  # whose overviews are averages
            seen = np.unique(b.GetOverview(b.GetOverviewCount() - 1).ReadAsArray())
            self.assertTrue(np.isin(seen, a.ReadAsArray()).all())

    def test_any_number_of_threads(self):
        for name, options in (('s.tif', ()), ('z.tif', ('--compress', 'none'))):
            digests = set()
            for threads in (1, 3):
                self.run_ok('brant-slope', DEMO_DEM, '-o', self.dir / name, '--cog', '--threads',
                            threads, *options)
                digests.add(hashlib.sha256((self.dir / name).read_bytes()).hexdigest())
            self.assertEqual(len(digests), 1)

    def test_the_stages_apart(self):
        self.run_ok('brant-zones', DEMO_DEM, '-o', self.dir / 'z.tif', '--cog')
        self.run_ok('brant-runout', DEMO_DEM, self.dir / 'z.tif', '-o', self.dir / 'r.tif', '--cog')
        for name in ('z', 'r'):
            self.assertEqual(faults_of_cog(self.dir / f'{name}.tif'), [])
        self.assertEqual(sorted(p.name for p in self.dir.iterdir()),
                         ['r.qml', 'r.tif', 'z.qml', 'z.tif'])


if __name__ == '__main__':
    gdal.UseExceptions()
    main()
