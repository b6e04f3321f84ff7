"""What bad input gets: exit 1, one line that names the file and the problem (and
the line in a GPX), nothing half-written, not even a hidden file."""

import os

import numpy as np
from osgeo import gdal

from brant_case import DEMO_DEM, DEMO_GPX, BrantCase, main

GPX = ('<?xml version="1.0" encoding="UTF-8"?>\n'
       '<gpx version="1.1" creator="test" xmlns="http://www.topografix.com/GPX/1/1">\n'
       '{}\n</gpx>\n')
TRACK = ('<trk><trkseg>\n<trkpt lat="43.40" lon="8.30"/>\n'
         '<trkpt lat="{}" lon="{}"/>\n</trkseg></trk>')


class Refused(BrantCase):
    def refuse(self, program, dem, *others, words=(), options=(), env=None):
        """Run it with an output in an empty folder; it must refuse and leave nothing."""
        out = self.folder(f'out{len(os.listdir(self.dir))}')
        target = {'brant-plan': ('-d', out)}.get(program, ('-o', out / 'out.tif'))
        done = self.run_program(program, dem, *others, *target, '--quiet', *options, env=env)
        self.assert_refused(done, *words)
        self.assert_empty(out)
        return done

    def refuse_gpx(self, text, *words, name='tour.gpx'):
        path = self.write_text(name, text)
        for program in ('brant-route', 'brant-plan'):
            with self.subTest(program=program):
                self.refuse(program, DEMO_DEM, path, words=(name, *words))


class BadTours(Refused):
    def test_no_track_or_route(self):
        self.refuse_gpx(GPX.format('<wpt lat="43.4" lon="8.3"><name>x</name></wpt>'))

    def test_empty_segment(self):
        self.refuse_gpx(GPX.format('<trk><trkseg/></trk>'))

    def test_one_point(self):
        self.refuse_gpx(GPX.format('<trk><trkseg><trkpt lat="43.4" lon="8.3"/></trkseg></trk>'))

    def test_not_well_formed(self):
        self.refuse_gpx(GPX.format(TRACK.format(43.41, 8.31)).replace('</trkseg>', ''), ':6')

    def test_cut_off(self):
        self.refuse_gpx(GPX.format(TRACK.format(43.41, 8.31))[:-20])

    def test_empty_file(self):
        self.refuse_gpx('')

    def test_not_gpx(self):
        self.refuse_gpx('<?xml version="1.0"?>\n<kml><trk/></kml>\n')

    def test_no_number(self):
        for bad in ('undefined', '46,5', '', 'nan', 'inf', '0x2B', '43.4N', '1e999'):
            with self.subTest(lat=bad):
                self.refuse_gpx(GPX.format(TRACK.format(bad, 8.31)), ':5')
                self.refuse_gpx(GPX.format(TRACK.format(43.41, bad)), ':5')

    def test_out_of_range(self):
        for lat, lon in ((90.5, 8.3), (-91, 8.3), (43.4, 180.5), (43.4, -181)):
            with self.subTest(lat=lat, lon=lon):
                self.refuse_gpx(GPX.format(TRACK.format(lat, lon)), ':5')

    def test_no_longitude(self):
        self.refuse_gpx(GPX.format(TRACK.format(43.41, 8.31)).replace('lon="8.31"', ''), ':5')

    def test_wholly_outside_the_model(self):
        text = GPX.format(TRACK.format(43.41, 8.31)).replace('43.4', '46.4')
        self.refuse_gpx(text)

    def test_missing_file(self):
        for program in ('brant-route', 'brant-plan'):
            self.refuse(program, DEMO_DEM, self.dir / 'absent.gpx', words=('absent.gpx',))

    def test_a_folder(self):
        self.refuse('brant-route', DEMO_DEM, self.folder('folder.gpx'), words=('folder.gpx',))

    def test_files_from_elsewhere(self):
        for name in ('bad_lat_undefined.gpx', 'bad_not_well_formed.gpx', 'waypoints_only.gpx'):
            with self.subTest(name=name):
                self.refuse('brant-route', DEMO_DEM, self.shared('gpx/' + name), words=(name,))


class BadModels(Refused):
    def refuse_dem(self, dem, *words, options=()):
        """Every program that reads a model refuses it."""
        name = os.path.basename(dem)
        zones = self.write_dem('zones.tif', np.ones((600, 600)), west=441000, north=4809000,
                               definition='EPSG:32632', nodata=None, kind=gdal.GDT_UInt32)
        for program, others in (('brant-slope', ()), ('brant-zones', ()),
                                ('brant-runout', (zones,)), ('brant-route', (DEMO_GPX,)),
                                ('brant-plan', (DEMO_GPX,))):
            with self.subTest(program=program, name=name):
                self.refuse(program, dem, *others, words=(name, *words), options=options)

    def test_no_crs(self):
        self.refuse_dem(self.write_dem('no_crs.tif', np.full((30, 30), 5.0), definition=None))

    def test_no_position(self):
        path = self.dir / 'nowhere.tif'
        data = gdal.GetDriverByName('GTiff').Create(str(path), 30, 30, 1, gdal.GDT_Float32)
        data.SetSpatialRef(self.open(DEMO_DEM).GetSpatialRef())
        data.GetRasterBand(1).Fill(5)
        del data
        self.refuse_dem(path)

    def test_all_void(self):
        self.refuse_dem(self.write_dem('void.tif', np.full((30, 30), np.nan)))

    def test_all_nan(self):
        self.refuse_dem(self.write_dem('nan.tif', np.full((30, 30), np.nan), nodata=None))

    def test_empty_file(self):
        self.refuse_dem(self.write_text('empty.tif', ''))

    def test_no_raster(self):
        self.refuse_dem(self.write_text('text.tif', 'this is no raster\n'))

    def test_missing(self):
        self.refuse_dem(self.dir / 'absent.tif')

    def test_cut_off(self):
        whole = DEMO_DEM.read_bytes()
        path = self.dir / 'cut.tif'
        path.write_bytes(whole[:len(whole) // 2])
        self.refuse_dem(path)

    def test_band_that_is_not_there(self):
        self.refuse_dem(DEMO_DEM, options=('--band-number', '2'))

    def test_local_crs(self):
        local = ('ENGCRS["a site",EDATUM["a peg"],CS[Cartesian,2],AXIS["x",east],'
                 'AXIS["y",north],LENGTHUNIT["metre",1]]')
        self.refuse_dem(self.write_dem('site.tif', np.full((30, 30), 5.0), definition=local))

    def test_files_from_elsewhere(self):
        for name in ('edge_no_crs.tif', 'edge_all_void.tif'):
            with self.subTest(name=name):
                self.refuse_dem(self.shared('dem/' + name))


class BadZones(Refused):
    def test_other_grids(self):
        z = np.ones((600, 600))
        there = {'west': 441000, 'north': 4809000, 'definition': 'EPSG:32632', 'nodata': None,
                 'kind': gdal.GDT_UInt32}
        for name, array, change in (
                ('shifted.tif', z, {'west': 441010}), ('smaller.tif', z[1:], {}),
                ('coarser.tif', z, {'cell': 20.0}), ('elsewhere.tif', z,
                                                     {'definition': 'EPSG:32633'})):
            zones = self.write_dem(name, array, **{**there, **change})
            with self.subTest(name=name):
                self.refuse('brant-runout', DEMO_DEM, zones, words=(name,))
                self.refuse('brant-route', DEMO_DEM, DEMO_GPX, words=(name,),
                            options=('--zones', zones))

    def test_missing(self):
        self.refuse('brant-runout', DEMO_DEM, self.dir / 'absent.tif', words=('absent.tif',))


class BadOutputs(BrantCase):
    def test_folder_that_is_not_there(self):
        done = self.run_program('brant-slope', DEMO_DEM, '-o', self.dir / 'no' / 's.tif')
        self.assert_refused(done, 's.tif')

    def test_folder_that_cannot_be_written(self):
        out = self.folder()
        os.chmod(out, 0o500)
        if os.access(out, os.W_OK):  # root may write everywhere: a file in the way serves
            out = self.write_text('file', 'kept')
        for program, arguments in (('brant-slope', (DEMO_DEM, '-o', out / 's.tif')),
                                   ('brant-route', (DEMO_DEM, DEMO_GPX, '-o', out / 'l.csv')),
                                   ('brant-plan', (DEMO_DEM, DEMO_GPX, '-d', out))):
            with self.subTest(program=program):
                self.assert_refused(self.run_program(program, *arguments, '--quiet'), out.name)
        if out.is_file():
            self.assertEqual(out.read_text(), 'kept')

    def test_a_plan_s_folder_is_taken_away_again(self):
        bad = self.write_text('bad.gpx', '')
        done = self.run_program('brant-plan', DEMO_DEM, bad, '-d', self.dir / 'new', '--quiet')
        self.assert_refused(done, 'bad.gpx')
        self.assertEqual(sorted(os.listdir(self.dir)), ['bad.gpx'])


class Usage(BrantCase):
    """Exit 2, a line on standard error, nothing on standard output."""

    def test_usage(self):
        for arguments in (('brant-slope',), ('brant-slope', DEMO_DEM),
                          ('brant-slope', DEMO_DEM, '-o'),
                          ('brant-slope', DEMO_DEM, '-o', 'x.tif', '--nonsense'),
                          ('brant-zones', DEMO_DEM, '-o', 'x.tif', '--band', '45:30'),
                          ('brant-zones', DEMO_DEM, '-o', 'x.tif', '--threads', '0'),
                          ('brant-zones', DEMO_DEM, '-o', 'x.tif', '--min-area', '4,5'),
                          ('brant-runout', DEMO_DEM, '-o', 'x.tif'),
                          ('brant-plan', DEMO_DEM, DEMO_GPX),
                          ('brant', 'nonsense')):
            with self.subTest(arguments=arguments):
                done = self.run_program(*arguments)
                self.assertEqual(done.code, 2, done.err)
                self.assertEqual(done.out, '')
                self.assertGreater(len(done.err), 0)
                self.assert_empty(self.dir)

    def test_help_and_version(self):
        for program in ('brant', 'brant-check', 'brant-slope', 'brant-zones', 'brant-runout',
                        'brant-route', 'brant-plan'):
            for option in ('--help', '--version'):
                with self.subTest(program=program, option=option):
                    done = self.run_ok(program, option)
                    self.assertIn(program, done.out)
                    self.assertEqual(done.err, '')


class PartlyOutside(BrantCase):
    def test_unknown_legs_and_a_warning_with_metres(self):
        dem = self.centred_dem('dem.tif', lambda x, y: 1000 + 0 * x, 100)
        gpx = self.write_gpx('out.gpx', [(0, 0), (900, 0)])  # the model ends at x = 500
        done = self.run_ok('brant-route', dem, gpx, '-o', self.dir / 'legs.csv')
        legs = self.read_csv(self.dir / 'legs.csv')
        self.assertEqual(legs[-1]['kind'], 'unknown')
        self.assertAlmostEqual(float(legs[-1]['to_m']), 900, delta=0.5)
        warnings = [line for line in done.err.splitlines() if 'warning' in line]
        self.assertEqual(len(warnings), 1, done.err)
        self.assertRegex(warnings[0], r'\b(39\d|40\d|41\d) m\b')

    def test_elevations_of_the_gpx_are_not_trusted(self):
        dem = self.centred_dem('dem.tif', lambda x, y: 1000 + 0 * x, 100)
        gpx = self.write_gpx('tour.gpx', [(-200, 0), (200, 0)])
        gpx.write_text(gpx.read_text().replace('/>', '><ele>0.0</ele></trkpt>'))
        self.run_ok('brant-route', dem, gpx, '-o', self.dir / 'legs.csv')
        for leg in self.read_csv(self.dir / 'legs.csv'):
            self.assertEqual(float(leg['low_m']), 1000)


if __name__ == '__main__':
    main()
