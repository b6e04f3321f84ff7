"""One terrain on many grids: the programs, from a file in its coordinate reference
system to the numbers they print, agree whatever the grid."""

import math

import numpy as np
from osgeo import gdal, osr

from brant_case import DEMO_DEM, DEMO_GPX, BrantCase, crs, main

LON, LAT = 11.2, 46.8
GROUND = f'+proj=aeqd +lat_0={LAT} +lon_0={LON} +datum=WGS84 +units=m'
HALF = 2600.0  # metres to each side of the middle


def ground(east, north):
    """Hills with release ground on every side, and level towards the border."""
    z = np.full(east.shape, 1500.0)
    for x, y, height, radius in ((-700, 500, 420, 420), (800, 300, 560, 520),
                                 (100, -900, 380, 360), (-900, -1000, 300, 300)):
        z += height * np.exp(-((east - x) ** 2 + (north - y) ** 2) / (2 * radius ** 2))
    return z


class SameGround(BrantCase):
    """Ten-metre models of one terrain: a base model warped (GDAL) into five reference
    systems, and the same terrain computed on each grid."""

    GRIDS = {
        'geographic': ('EPSG:4326', 10 / 111200),
        'UTM': ('EPSG:32633', 10.0),  # the wrong zone: 3.8 degrees off its meridian
        'Web Mercator': ('EPSG:3857', 14.6),
        'Lambert azimuthal equal-area': ('EPSG:3035', 10.0),
        'Lambert conformal': ('EPSG:3034', 10.0),
    }

    def base(self):
        axis = np.arange(-HALF + 5, HALF, 10)
        east, north = np.meshgrid(axis, -axis)
        return self.write_dem('base.tif', ground(east, north), west=-HALF, north=HALF,
                              definition=GROUND)

    def release_area(self, dem):
        self.run_ok('brant-zones', dem, '-o', self.dir / 'z.tif', '--table', self.dir / 'z.csv',
                    '--quiet')
        return sum(float(row['area_m2']) for row in self.read_csv(self.dir / 'z.csv'))

    def test_release_ground_has_one_area(self):
        base = self.base()
        expected = self.release_area(base)
        self.assertGreater(expected, 500_000)
        for name, (definition, cell) in self.GRIDS.items():
            with self.subTest(grid=name):
                path = self.dir / 'warped.tif'
                gdal.Warp(str(path), str(base), dstSRS=definition, xRes=cell, yRes=cell,
                          resampleAlg='cubicspline', dstNodata=-9999)
                warped = self.release_area(path)
                self.assertLess(abs(warped / expected - 1), 0.01)
                # and without a resampling's smoothing: tighter
                self.assertLess(abs(self.release_area(self.computed(path)) / expected - 1), 0.003)

    def computed(self, like):
        """The terrain itself at the centres of the cells of `like`."""
        data = gdal.Open(str(like))
        t = data.GetGeoTransform()
        cols, rows = np.meshgrid(np.arange(data.RasterXSize) + 0.5,
                                 np.arange(data.RasterYSize) + 0.5)
        x, y = t[0] + cols * t[1], t[3] + rows * t[5]
        change = osr.CoordinateTransformation(crs(data.GetProjection()), crs(GROUND))
        places = np.array(change.TransformPoints(np.column_stack([x.ravel(), y.ravel()]).tolist()))
        z = ground(places[:, 0], places[:, 1]).reshape(x.shape)
        return self.write_dem('computed.tif', z, definition=data.GetProjection(), transform=t)


class PlanesInFiles(BrantCase):
    """A plane of 35 degrees, from the file to the slope raster, where a file's form
    matters; tests/numeric has planes on forty kinds of grid."""

    def plane(self, definition, lon, lat, steps, azimuth, options=(), point=False):
        cells = 15
        x0, y0, _ = osr.CoordinateTransformation(
            crs('EPSG:4326'), crs(definition)).TransformPoint(lon, lat)
        a, b, c, d = steps
        t = (x0 - cells / 2 * (a + b), a, b, y0 - cells / 2 * (c + d), c, d)
        cols, rows = np.meshgrid(np.arange(cells) + 0.5, np.arange(cells) + 0.5)
        x, y = t[0] + cols * t[1] + rows * t[2], t[3] + cols * t[4] + rows * t[5]
        there = crs(f'+proj=aeqd +lat_0={lat} +lon_0={lon} +datum=WGS84 +units=m')
        places = np.array(osr.CoordinateTransformation(crs(definition), there).TransformPoints(
            np.column_stack([x.ravel(), y.ravel()]).tolist()))
        towards = math.radians(azimuth)
        down = places[:, 0] * math.sin(towards) + places[:, 1] * math.cos(towards)
        z = (2000 - down * math.tan(math.radians(35.0))).reshape(x.shape)
        path = self.dir / 'plane.tif'
        data = gdal.GetDriverByName('GTiff').Create(str(path), cells, cells, 1, gdal.GDT_Float32,
                                                    list(options))
        data.SetSpatialRef(crs(definition))
        data.SetGeoTransform(t)
        if point:
            data.SetMetadataItem('AREA_OR_POINT', 'Point')
        data.GetRasterBand(1).WriteArray(z)
        del data
        return path

    def test_planes(self):
        turned = (20 * math.cos(0.4), 20 * math.sin(0.4), 20 * math.sin(0.4), -20 * math.cos(0.4))
        metre = 1 / 111000
        cases = {
            'polar': ('EPSG:3413', -25, 72, (30, 0, 0, -30), False),
            'polar south, south-up': ('EPSG:3031', -85.6, -78.5, (30, 0, 0, 30), False),
            'rotated': ('EPSG:32632', 11.9, 46.5, turned, False),
            'oblong': ('EPSG:32632', 11.9, 46.5, (12, 0, 0, -40), False),
            'antimeridian': ('EPSG:4326', 179.9999, 66, (60 * metre, 0, 0, -25 * metre), False),
            'feet': ('EPSG:2225', -122.2, 41.4, (60, 0, 0, -60), False),
            'points': ('EPSG:32632', 11.9, 46.5, (20, 0, 0, -20), True),
            'Albers': ('EPSG:5070', -121, 46.2, (20, 0, 0, -20), False),
        }
        for name, (definition, lon, lat, steps, point) in cases.items():
            for azimuth in (20.0, 235.0):
                with self.subTest(grid=name, azimuth=azimuth):
                    dem = self.plane(definition, lon, lat, steps, azimuth, point=point)
                    self.run_ok('brant-slope', dem, '-o', self.dir / 's.tif', '--aspect',
                                self.dir / 'a.tif', '--scale', 'native', '--vertical-unit', 'm')
                    slope = self.read_raster(self.dir / 's.tif')[7, 7]
                    aspect = self.read_raster(self.dir / 'a.tif')[7, 7]
                    self.assertAlmostEqual(slope, 35.0, delta=0.02)
                    self.assertAlmostEqual((aspect - azimuth + 180) % 360 - 180, 0, delta=0.05)


class PointsAndAreas(BrantCase):
    def test_twins_give_the_same_legs(self):
        """A PixelIsPoint file and its PixelIsArea twin, told apart by the raw tag: the
        tie point is half a cell further in (OGC 19-008r4, 7.1.2.2)."""
        ties = []
        for name, word in (('area.tif', 'Area'), ('point.tif', 'Point')):
            gdal.Translate(str(self.dir / name), str(DEMO_DEM),
                           metadataOptions=[f'AREA_OR_POINT={word}'])
            self.run_ok('brant-route', self.dir / name, DEMO_GPX, '-o',
                        self.dir / f'{word}.csv', '--points', self.dir / f'{word}_points.csv')
            self.assertEqual(gdal.Open(str(self.dir / name)).GetMetadataItem('AREA_OR_POINT'),
                             word)
            gdal.SetConfigOption('GTIFF_POINT_GEO_IGNORE', 'TRUE')
            self.addCleanup(gdal.SetConfigOption, 'GTIFF_POINT_GEO_IGNORE', None)
            ties.append(gdal.Open(str(self.dir / name)).GetGeoTransform()[0])
            gdal.SetConfigOption('GTIFF_POINT_GEO_IGNORE', None)
        self.assertEqual(ties[1] - ties[0], 5.0)
        for what in ('.csv', '_points.csv'):
            self.assertEqual((self.dir / f'Area{what}').read_bytes(),
                             (self.dir / f'Point{what}').read_bytes())
        self.assertGreater(len(self.read_csv(self.dir / 'Area.csv')), 3)


if __name__ == '__main__':
    main()
