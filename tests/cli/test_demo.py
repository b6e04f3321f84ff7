"""The demo that is checked in is what make_demo makes, and it shows what it is
meant to show."""

import os
import subprocess

import numpy as np

from brant_case import DEMO_DEM, DEMO_GPX, BrantCase, main


class Demo(BrantCase):
    def setUp(self):
        super().setUp()
        if 'BRANT_MAKE_DEMO' not in os.environ:
            self.skipTest('BRANT_MAKE_DEMO is not set')
        subprocess.run([os.environ['BRANT_MAKE_DEMO'], str(self.dir)], check=True)

    def test_the_tour_byte_by_byte(self):
        self.assertEqual((self.dir / 'quern.gpx').read_bytes(), DEMO_GPX.read_bytes())

    def test_the_model_cell_by_cell(self):
        # the bytes are the TIFF library's affair, the cells are ours
        made, kept = self.open(self.dir / 'quern.tif'), self.open(DEMO_DEM)
        self.assertTrue(np.array_equal(made.ReadAsArray(), kept.ReadAsArray()))
        self.assertEqual(made.GetGeoTransform(), kept.GetGeoTransform())
        self.assertTrue(made.GetSpatialRef().IsSame(kept.GetSpatialRef()))
        self.assertEqual(made.GetRasterBand(1).GetNoDataValue(),
                         kept.GetRasterBand(1).GetNoDataValue())
        self.assertEqual(made.GetRasterBand(1).GetUnitType(), 'metre')

    def test_small_enough_to_ship(self):
        self.assertLess(DEMO_DEM.stat().st_size + DEMO_GPX.stat().st_size, 2_000_000)


class DemoPlan(BrantCase):
    def test_the_tour_meets_what_it_should(self):
        self.run_ok('brant-plan', DEMO_DEM, DEMO_GPX, '-d', self.dir / 'out')
        legs = self.read_csv(self.dir / 'out' / 'legs.csv')
        kinds = {leg['kind'] for leg in legs}
        for kind in ('crosses', 'edge', 'under', 'unknown', 'none-found'):
            self.assertIn(kind, kinds)
        length = float(legs[-1]['to_m'])
        self.assertGreater(length, 10_000)
        self.assertLess(length, 14_000)


if __name__ == '__main__':
    main()
