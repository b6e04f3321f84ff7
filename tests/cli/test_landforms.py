"""Gullies and abrupt flats by the definition in brant-route(1), Below, worked out here with
other means: the whole of every line of sight instead of some points on it, planes fitted by a
library, patches filled over the whole raster. What the library tells of each cell is held
against it, on made ground and on the demo; then what legs.csv tells of the demo's legs.

What is void may be anything: an answer is yes or no where it holds whatever lies there.

BRANT_LANDFORM_CELLS is the program that asks the library (tests/numeric/landform_cells.c)."""

import math
import os
import subprocess

import numpy as np
from osgeo import gdal, osr

from brant_case import DEMO_DEM, DEMO_GPX, LOCAL, BrantCase, crs, main

NO, YES, UNKNOWN = 0, 1, 2

WITHIN_M = 50.0   # a gully's sides
RISE_M = 10.0     # above the cell
FALL_M = 2.5      # of a saddle, over WITHIN_M
GENTLE_DEG = 10.0
STEEP_DEG = 20.0
FIT_M = 20.0      # around a cell: "over 40 m"
AREA_M2 = 1000.0
NEAR_M = 60.0


class Ground:
    """Heights, north up or not, with the metres east and north of a step to the next column
    and to the next row."""

    def __init__(self, z, by_col, by_row):
        self.z, self.by_col, self.by_row = z, by_col, by_row
        self.to_cells = np.linalg.inv(np.array([by_col, by_row]).T)

    def heights(self, col, row):
        """The surface through the cells' centres; NaN past the edge or beside a void."""
        rows, cols = self.z.shape
        left, top = np.floor(col).astype(int), np.floor(row).astype(int)
        total = np.zeros(col.shape)
        for down in (0, 1):
            for right in (0, 1):
                c, r = left + right, top + down
                weight = (1 - abs(col - c)) * (1 - abs(row - r))
                inside = (c >= 0) & (c < cols) & (r >= 0) & (r < rows)
                z = np.where(inside, self.z[r.clip(0, rows - 1), c.clip(0, cols - 1)], np.nan)
                total += np.where(weight > 1e-9, weight * z, 0)
        return total

    def offsets(self, metres):
        """Steps (columns, rows) to cells whose centres are that near, with metres east, north."""
        most = int(metres / min(math.hypot(*self.by_col), math.hypot(*self.by_row)) * 2) + 1
        for dr in range(-most, most + 1):
            for dc in range(-most, most + 1):
                east = dc * self.by_col[0] + dr * self.by_row[0]
                north = dc * self.by_col[1] + dr * self.by_row[1]
                if math.hypot(east, north) <= metres:
                    yield dc, dr, east, north

    def shifted(self, values, dc, dr):
        """For each cell the value `dc` columns and `dr` rows on; NaN past the edge."""
        rows, cols = values.shape
        out = np.full(values.shape, np.nan)
        out[max(0, -dr):min(rows, rows - dr), max(0, -dc):min(cols, cols - dc)] = \
            values[max(0, dr):min(rows, rows + dr), max(0, dc):min(cols, cols + dc)]
        return out


def answer(yes, maybe):
    return np.where(yes, YES, np.where(maybe, UNKNOWN, NO))


def gullies(ground, col, row, azimuths, rise_m, fall_m):
    """Of the cells named, with that many directions in the half circle."""
    z = ground.z[row, col]
    yes, maybe = np.zeros(z.shape, bool), np.isnan(z)
    steps = np.arange(2.5, WITHIN_M + 0.1, 2.5)

    def along(azimuth):
        way = ground.to_cells @ [math.sin(azimuth), math.cos(azimuth)]
        return ground.heights(col[:, None] + steps * way[0], row[:, None] + steps * way[1]) - \
            z[:, None]

    lines = [along(2 * math.pi * i / (2 * azimuths)) for i in range(2 * azimuths)]
    high = [(line >= rise_m).any(1) for line in lines]
    may_be_high = [side | np.isnan(line).any(1) for side, line in zip(high, lines)]
    falls = [line[:, -1] <= -fall_m for line in lines]
    may_fall = [side | np.isnan(line[:, -1]) for side, line in zip(falls, lines)]
    for i in range(azimuths):
        across = (i + azimuths // 2) % azimuths
        saddle = falls[across] & falls[across + azimuths]
        may_be_saddle = may_fall[across] & may_fall[across + azimuths]
        yes |= high[i] & high[i + azimuths] & ~may_be_saddle
        maybe |= may_be_high[i] & may_be_high[i + azimuths] & ~saddle
    return answer(yes, maybe)


def fitted_slope(ground):
    """Degrees of the plane of least squares, NaN where one of its cells is void."""
    near = {(dc, dr): (east, north) for dc, dr, east, north in ground.offsets(FIT_M)}
    for dc in (-1, 0, 1):
        for dr in (-1, 0, 1):
            near[dc, dr] = (dc * ground.by_col[0] + dr * ground.by_row[0],
                            dc * ground.by_col[1] + dr * ground.by_row[1])
    plane = np.linalg.pinv([(1, *at) for at in near.values()])
    base = np.nanmean(ground.z)
    east, north = (sum(weight * ground.shifted(ground.z - base, *step)
                       for weight, step in zip(plane[part], near)) for part in (1, 2))
    return np.degrees(np.arctan(np.hypot(east, north)))


def patch_areas(cells, cell_m2):
    """The area of the patch, connected side by side, that each cell set is part of."""
    area = np.zeros(cells.shape)
    seen = ~cells
    for start in zip(*np.nonzero(cells)):
        if seen[start]:
            continue
        seen[start] = True
        patch, next_cell = [start], 0
        while next_cell < len(patch):
            r, c = patch[next_cell]
            next_cell += 1
            for at in ((r - 1, c), (r + 1, c), (r, c - 1), (r, c + 1)):
                if 0 <= at[0] < cells.shape[0] and 0 <= at[1] < cells.shape[1] and not seen[at]:
                    seen[at] = True
                    patch.append(at)
        area[tuple(np.transpose(patch))] = len(patch) * cell_m2
    return area


def flats(ground, slope, gentle_deg, steep_deg, area_m2):
    """Of every cell."""
    z, unknown = ground.z, np.isnan(slope)
    cell_m2 = abs(np.linalg.det([ground.by_col, ground.by_row]))
    gentle = slope < gentle_deg
    large = patch_areas(gentle, cell_m2) >= area_m2
    may_be_large = patch_areas(gentle | unknown, cell_m2) >= area_m2
    steep, may_be_steep = np.zeros(z.shape, bool), np.zeros(z.shape, bool)
    for dc, dr, _, _ in ground.offsets(NEAR_M):
        there, height = ground.shifted(slope, dc, dr), ground.shifted(z, dc, dr)
        steep |= (there > steep_deg) & (height > z)
        may_be_steep |= ~(there <= steep_deg) & ~(height <= z)
    return answer(gentle & large & steep, (gentle | unknown) & may_be_large & may_be_steep)


def random_ground(cells, metres, rng, terraces):
    """Hills of all sizes by a spectrum (height over size to the power of 1.2), about 25 degrees
    steep; with terraces, flat treads between steep risers instead."""
    size = np.hypot(*np.meshgrid(np.fft.fftfreq(cells), np.fft.fftfreq(cells)))
    size[0, 0] = np.inf
    z = np.fft.ifft2(np.fft.fft2(rng.standard_normal((cells, cells))) / size ** 2.2).real
    z *= 0.45 * metres / np.hypot(*np.gradient(z)).mean()
    if terraces:
        step = 5 * metres
        tread = np.round(z / step)
        z = step * (tread + np.clip(3 * (z / step - tread), -0.5, 0.5))
    for _ in range(4):
        col, row = rng.integers(cells, size=2)
        z[row:row + 3, col:col + 2] = np.nan
    return (1500 + z).astype(np.float32)


def metres_of_steps(transform, definition, col, row):
    """East and north metres of a step along each axis of a grid, by way of geocentric places."""
    there = osr.CoordinateTransformation(crs(definition), crs('EPSG:4979'))
    space = osr.CoordinateTransformation(crs('EPSG:4979'), crs('EPSG:4978'))

    def place(c, r):
        return there.TransformPoint(*gdal.ApplyGeoTransform(list(transform), c, r), 0)

    lon, lat = np.radians(place(col, row)[:2])
    east = (-math.sin(lon), math.cos(lon), 0)
    north = (-math.sin(lat) * math.cos(lon), -math.sin(lat) * math.sin(lon), math.cos(lat))
    steps = []
    for dc, dr in ((1, 0), (0, 1)):
        step = np.subtract(space.TransformPoint(*place(col + dc, row + dr)),
                           space.TransformPoint(*place(col - dc, row - dr))) / 2
        steps.append((step @ east, step @ north))
    return steps


PAD = 24  # cells: beyond the edge lies the unknown, as in a void


class Landforms(BrantCase):
    def tell(self, z, transform, definition):
        """What the library says: gully, flat."""
        asked = subprocess.run(
            [os.environ['BRANT_LANDFORM_CELLS'], str(z.shape[1]), str(z.shape[0]),
             crs(definition).ExportToWkt(), *map(str, transform)],
            input=np.ascontiguousarray(z, np.float32).tobytes(), capture_output=True, check=True)
        told = np.frombuffer(asked.stdout, np.uint8).reshape(*z.shape, 2)
        return told[..., 0], told[..., 1]

    def check_gullies(self, ground, told, rng):
        """The library looks in 36 directions at points 5 m apart, here is twice of each: nothing
        is told a gully that is none by a centimetre, and what is one, or may be, by a metre is
        missed in one cell of a hundred at the most."""
        pick = rng.choice(told.size, min(told.size, 800), replace=False)
        row, col = np.divmod(pick, told.shape[1])
        told = told[row, col]
        narrow, wide = (gullies(ground, col + PAD, row + PAD, 72, RISE_M + by, FALL_M - by)
                        for by in (1, -0.01))
        self.assertEqual(np.count_nonzero((told == YES) & (wide != YES)), 0)
        hardly = pick.size // 100
        self.assertLessEqual(np.count_nonzero((narrow == YES) & (told != YES)), hardly)
        self.assertLessEqual(np.count_nonzero((narrow == UNKNOWN) & (told == NO)), hardly)
        self.assertLessEqual(np.count_nonzero((wide == NO) & (told == UNKNOWN)), hardly)
        return np.count_nonzero(narrow == YES)

    def check_flats(self, ground, told):
        slope, inner = fitted_slope(ground), (slice(PAD, -PAD),) * 2
        narrow, wide = (flats(ground, slope, GENTLE_DEG - by, STEEP_DEG + by,
                              AREA_M2 * (1 + by))[inner] for by in (1e-3, -1e-3))
        for answer_, other in ((YES, narrow), (NO, wide)):
            self.assertEqual(np.count_nonzero((other == answer_) & (told != answer_)), 0)
        self.assertEqual(np.count_nonzero((told == YES) & (wide != YES)), 0)
        self.assertEqual(np.count_nonzero((told == NO) & (narrow != NO)), 0)
        return np.count_nonzero(narrow == YES)

    def check(self, z, by_col, by_row, told, rng):
        ground = Ground(np.pad(z.astype(float), PAD, constant_values=np.nan), by_col, by_row)
        return self.check_gullies(ground, told[0], rng), self.check_flats(ground, told[1])

    def test_made_ground(self):
        rng = np.random.default_rng(17)
        cells, found = 70, []
        for by_col, by_row in (((10, 0), (0, -10)), ((5, 0), (0, -5)), ((20, 0), (0, -20)),
                               ((9, 4), (4, -9)), ((8, 0), (0, 13))):
            for terraces in (False, True):
                z = random_ground(cells, math.hypot(*by_col), rng, terraces)
                west, north = (-cells / 2 * (by_col[i] + by_row[i]) for i in (0, 1))
                transform = (west, by_col[0], by_row[0], north, by_col[1], by_row[1])
                with self.subTest(by_col=by_col, terraces=terraces):
                    found.append(self.check(z, by_col, by_row, self.tell(z, transform, LOCAL),
                                            rng))
        self.assertTrue(all(gully >= 10 and flat >= 100 for gully, flat in found), found)

    def window_around_tour(self, legs):
        """The demo's model around the legs: its heights, transform and CRS."""
        data = self.open(DEMO_DEM)
        transform, reference = data.GetGeoTransform(), data.GetSpatialRef().ExportToWkt()
        there = osr.CoordinateTransformation(crs('EPSG:4326'), crs(reference))
        back = gdal.InvGeoTransform(transform)
        at = [gdal.ApplyGeoTransform(back, *there.TransformPoint(float(p['lon']),
                                                                 float(p['lat']))[:2])
              for p in legs]
        first = np.floor(np.min(at, 0)).astype(int) - 40
        last = np.floor(np.max(at, 0)).astype(int) + 40
        first, last = first.clip(0), last.clip(None, (data.RasterXSize, data.RasterYSize))
        z = self.read_raster(DEMO_DEM)[first[1]:last[1], first[0]:last[0]]
        west, north = gdal.ApplyGeoTransform(transform, *map(float, first))
        cells = np.floor(at).astype(int) - first
        return z, (west, *transform[1:3], north, *transform[4:]), reference, cells

    def test_demo(self):
        """The cells, and what the legs' columns below and in_gully make of them."""
        self.run_ok('brant-route', DEMO_DEM, DEMO_GPX, '-o', self.dir / 'legs.csv', '--points',
                    self.dir / 'points.csv')
        points = self.read_csv(self.dir / 'points.csv')
        z, transform, reference, cells = self.window_around_tour(points)
        by_col, by_row = metres_of_steps(transform, reference, z.shape[1] / 2, z.shape[0] / 2)
        self.check(z, by_col, by_row, self.tell(z, transform, reference),
                   np.random.default_rng(5))
        ground = Ground(np.pad(z, PAD, constant_values=np.nan), by_col, by_row)
        slope, col, row = fitted_slope(ground), *(cells.T + PAD)
        said = {'gully': [gullies(ground, col, row, 72, RISE_M + by, FALL_M - by)
                          for by in (1, -0.01)],
                'flat': [flats(ground, slope, GENTLE_DEG - by, STEEP_DEG + by,
                               AREA_M2 * (1 + by))[row, col] for by in (1e-3, -1e-3)]}
        along = np.array([float(p['along_m']) for p in points])
        told = {'gully': 0, 'flat': 0, '': 0}
        for leg in self.read_csv(self.dir / 'legs.csv'):
            if leg['kind'] in ('remote', 'none-found'):
                continue
            on = (along > float(leg['from_m'])) & (along < float(leg['to_m']))
            (gully, wide_gully), (flat, wide_flat) = ((a[on], b[on]) for a, b in said.values())
            with self.subTest(leg=leg['leg'], below=leg['below']):
                if leg['in_gully'] == '1':
                    self.assertIn(YES, wide_gully)
                else:
                    self.assertNotIn(YES, gully)
                if leg['in_gully'] == '0':
                    self.assertNotIn(UNKNOWN, gully)
                if leg['below'] == 'flat':
                    self.assertIn(YES, wide_flat)
                if leg['below'] == '':
                    self.assertFalse((gully != NO).any() or (flat != NO).any())
                for name in told:
                    told[name] += leg['below'] == name
        self.assertTrue(told['gully'] and told[''], told)


if __name__ == '__main__':
    main()
