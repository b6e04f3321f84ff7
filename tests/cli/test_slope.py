"""brant-slope against published figures, a general reference tool, and planes."""

import math

import numpy as np
from osgeo import gdal, osr

from brant_case import DEMO_DEM, NODATA, BrantCase, crs, main


def share(slope, low=30.0, high=45.0):
    """Percent of the cells of known slope that are within [low, high]."""
    known = slope[~np.isnan(slope)]
    return 100.0 * np.mean((known >= low) & (known <= high))


def turn(a, b):
    """Degrees between two azimuths."""
    return np.abs((a - b + 180.0) % 360.0 - 180.0)


class Slope(BrantCase):
    def slope(self, dem, *options):
        self.run_ok('brant-slope', dem, '-o', self.dir / 's.tif', '--aspect', self.dir / 'a.tif',
                    '--class', self.dir / 'c.tif', *options)
        return self.read_raster(self.dir / 's.tif'), self.read_raster(self.dir / 'a.tif')


class RealModels(Slope):
    """Shares of cells at 30-45 degrees: the data's own provenance note (Horn, cell
    sizes in metres by the ellipsoid at each row)."""

    def test_davos(self):
        slope, _ = self.slope(self.shared('dem/davos_1arcsec_4326_i16.tif'))
        self.assertAlmostEqual(share(slope), 31.9, delta=0.1)

    def test_ecuador_band_4_with_nan_voids(self):
        dem = self.shared('dem/ecuador_10m_utm17s_f32_band4_nan.tif')
        slope, _ = self.slope(dem, '--band-number', 4)
        self.assertAlmostEqual(share(slope), 53.4, delta=0.2)
        z = self.read_raster(dem, 4)
        self.assertEqual(int(np.isnan(z).sum()), 619)
        self.assertTrue(np.isnan(slope[np.isnan(z)]).all())


class AgainstGdaldem(Slope):
    """gdaldem (GDAL) takes map metres for ground metres and the grid's north for
    true north; on UTM's central meridian the first is off by the known factor
    0.9996 and the second is right."""

    def setUp(self):
        super().setUp()
        z = self.read_raster(DEMO_DEM)
        self.dem = self.write_dem('dem.tif', z, west=500000 - 3000, north=4809000,
                                  definition='EPSG:32632')

    def reference(self, what, **options):
        path = str(self.dir / f'reference_{what}.tif')
        gdal.DEMProcessing(path, str(self.dem), what, **options)
        z = gdal.Open(path).ReadAsArray().astype(np.float64)
        return np.where(z == NODATA, np.nan, z)

    def compare(self, slope, aspect, **options):
        expected = self.reference('slope', scale=1 / 0.9996, **options)
        self.assertTrue(np.array_equal(np.isnan(slope), np.isnan(expected)))
        known = ~np.isnan(slope) & ~self.beside_void()
        self.assertLess(np.abs(slope - expected)[known].max(), 0.01)
        expected = self.reference('aspect', **options)
        steep = known & (slope > 5)
        self.assertGreater(steep.sum(), 300_000)
        self.assertLess(turn(aspect, expected)[steep].max(), 0.05)

    def beside_void(self):
        """Windows that hold a void: how to complete one is each program's choice, and
        only the model's border is compared."""
        void = np.pad(np.isnan(self.read_raster(self.dem)), 1)
        rows, cols = void.shape[0] - 2, void.shape[1] - 2
        return np.any([void[i:i + rows, j:j + cols] for i in range(3) for j in range(3)], axis=0)

    def test_cell_by_cell(self):
        self.compare(*self.slope(self.dem))

    def test_cell_by_cell_with_edges(self):
        slope, aspect = self.slope(self.dem, '--edges')
        self.assertFalse(np.isnan(slope[0]).any())
        self.compare(slope, aspect, computeEdges=True)


class WorkedExample(Slope):
    def test_edges_of_a_3_x_3_window(self):
        # the window of a general GIS vendor's page "How Slope works" (cell 5 m); the
        # centre is the page's, the border is gdaldem's with its edge option
        dem = self.write_dem('w.tif', [[50, 45, 50], [30, 30, 30], [8, 10, 10]], cell=5.0,
                             west=-7.5, north=7.5)
        slope, aspect = self.slope(dem, '--edges', '--scale', 'native')
        expected = [[75.19379, 74.05460, 75.19379], [76.61573, 75.25766, 75.99001],
                    [76.92176, 76.30871, 75.96375]]
        # files hold steps of 1/128 degree, rounded down
        self.assertLess(np.abs(slope - np.floor(np.array(expected) * 128) / 128).max(), 1e-9)
        self.assertEqual(aspect[1, 1], math.floor(180.75385 * 128) / 128)


class EveryGrid(Slope):
    """One and the same plane, 35 degrees steep, stored on different grids: the slope
    in true metres and the aspect from true north are the same on all of them."""

    GRIDS = {
        'geographic': ('EPSG:4326', 1 / 3600),
        'UTM, 3 degrees off its meridian': ('EPSG:32632', 25.0),
        'Web Mercator': ('EPSG:3857', 30.0),
        'equal area': ('EPSG:3035', 25.0),
        'US survey feet': ('+proj=tmerc +lat_0=45 +lon_0=11 +datum=WGS84 +units=us-ft', 90.0),
    }

    def plane(self, definition, cell, azimuth, south_up=False, quarter=False):
        lon, lat, cells = 12.0, 46.5, 25
        there = osr.CoordinateTransformation(crs('EPSG:4326'), crs(definition))
        x0, y0, _ = there.TransformPoint(lon, lat)
        transform = [x0 - cells / 2 * cell, cell, 0, y0 + cells / 2 * cell, 0, -cell]
        if south_up:
            transform[3], transform[5] = y0 - cells / 2 * cell, cell
        if quarter:  # columns run north, rows run east
            transform = [x0 - cells / 2 * cell, 0, cell, y0 - cells / 2 * cell, cell, 0]
        ground = f'+proj=aeqd +lat_0={lat} +lon_0={lon} +datum=WGS84 +units=m'
        back = osr.CoordinateTransformation(crs(definition), crs(ground))
        z = np.empty((cells, cells))
        towards = math.radians(azimuth)
        for row in range(cells):
            for col in range(cells):
                x = transform[0] + (col + 0.5) * transform[1] + (row + 0.5) * transform[2]
                y = transform[3] + (col + 0.5) * transform[4] + (row + 0.5) * transform[5]
                east, north, _ = back.TransformPoint(x, y)
                down = east * math.sin(towards) + north * math.cos(towards)
                z[row, col] = 2000 - down * math.tan(math.radians(35.0))
        return self.write_dem('plane.tif', z, definition=definition, transform=transform)

    def check(self, dem, azimuth):
        # heights are metres, whatever the map's unit is
        slope, aspect = self.slope(dem, '--scale', 'native', '--vertical-unit', 'm')
        self.assertAlmostEqual(slope[12, 12], 35.0, delta=0.01)
        self.assertLess(turn(aspect[12, 12], azimuth), 0.02)

    def test_grids(self):
        for name, (definition, cell) in self.GRIDS.items():
            for azimuth in (20.0, 140.0, 270.0):
                with self.subTest(grid=name, azimuth=azimuth):
                    self.check(self.plane(definition, cell, azimuth), azimuth)

    def test_south_up(self):
        self.check(self.plane('EPSG:32632', 25.0, 20.0, south_up=True), 20.0)

    def test_turned_by_a_quarter(self):
        self.check(self.plane('EPSG:32632', 25.0, 140.0, quarter=True), 140.0)


class Cells(Slope):
    LIMITS = [25, 30, 35, 40, 45, 55]

    def test_void_flat_and_border(self):
        z = np.full((40, 40), 1500.0)
        z[10, 10] = np.nan
        slope, aspect = self.slope(self.write_dem('flat.tif', z))
        unknown = np.zeros_like(z, dtype=bool)
        unknown[9:12, 9:12] = True
        unknown[0] = unknown[-1] = unknown[:, 0] = unknown[:, -1] = True
        self.assertTrue(np.array_equal(np.isnan(slope), unknown))
        self.assertTrue((slope[~unknown] == 0).all())
        self.assertTrue(np.isnan(aspect).all())  # flat ground faces nowhere
        stored = self.open(self.dir / 's.tif').GetRasterBand(1)
        self.assertEqual(stored.GetNoDataValue(), NODATA)
        self.assertEqual(stored.DataType, gdal.GDT_Float32)

    def test_classes(self):
        slope, _ = self.slope(DEMO_DEM)
        expected = np.where(np.isnan(slope), 0, 1 + np.digitize(slope, self.LIMITS))
        stored = self.open(self.dir / 'c.tif').GetRasterBand(1)
        classes = stored.ReadAsArray()
        self.assertTrue(np.array_equal(classes, expected))
        self.assertEqual(stored.DataType, gdal.GDT_Byte)
        self.assertEqual(stored.GetColorInterpretation(), gdal.GCI_PaletteIndex)
        names = stored.GetRasterCategoryNames()
        self.assertEqual(names[:8], ['unknown', 'below 25', '25-30', '30-35', '35-40', '40-45',
                                     '45-55', 'above 55'])
        colours = {stored.GetColorTable().GetColorEntry(i) for i in range(8)}
        self.assertEqual(len(colours), 8)

    def test_grid_is_the_model_s(self):
        self.slope(DEMO_DEM)
        model, made = self.open(DEMO_DEM), self.open(self.dir / 's.tif')
        self.assertEqual(model.GetGeoTransform(), made.GetGeoTransform())
        self.assertTrue(model.GetSpatialRef().IsSame(made.GetSpatialRef()))
        self.assertEqual(made.GetRasterBand(1).GetBlockSize(), [256, 256])


if __name__ == '__main__':
    main()
