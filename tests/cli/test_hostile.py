"""Input made to hurt: refused within the limits that brant(1) states, soon, in little memory,
and without a trace. The fuzzers (tests/fuzz) look for more of it."""

import os
import struct
import subprocess
from pathlib import Path

import numpy as np

from brant_case import (DEMO_DEM, DEMO_GPX, NODATA, PROGRAMS, BrantCase, Done, crs, gdal,
                        main)

HEAD = '<gpx version="1.1" xmlns="http://www.topografix.com/GPX/1/1">'
TRACK = HEAD + '<trk><trkseg>{}</trkseg></trk></gpx>'
POINTS = '<trkpt lat="43.4" lon="8.3"/><trkpt lat="43.41" lon="8.31"/>'

# Plain builds take a fraction of these; a sanitizer takes the rest.
SECONDS, MEBIBYTES = 60, 1000


class Hostile(BrantCase):
    def watch(self, program, *arguments, stdin=None):
        """Run it, its processor time and the most memory it had bounded."""
        with open(stdin or os.devnull, 'rb') as given:
            job = subprocess.Popen([PROGRAMS / program, *map(str, arguments)], stdin=given,
                                   stdout=subprocess.PIPE, stderr=subprocess.PIPE, cwd=self.dir,
                                   env={**os.environ, 'LC_ALL': 'C', 'TZ': 'UTC'})
            out, err = job.stdout.read(), job.stderr.read()
            _, status, used = os.wait4(job.pid, 0)
        job.returncode = os.waitstatus_to_exitcode(status)
        job.stdout.close()
        job.stderr.close()
        self.assertLess(used.ru_utime + used.ru_stime, SECONDS)
        self.assertLess(used.ru_maxrss / 1024, MEBIBYTES)
        return Done(subprocess.CompletedProcess([], job.returncode, out, err))

    def refuse(self, program, *arguments, words=()):
        out = self.dir / 'out'
        out.mkdir(exist_ok=True)
        target = {'brant-plan': ('-d', out), 'brant-check': ()}.get(program, ('-o', out / 'x.tif'))
        done = self.watch(program, *arguments, *target, '--quiet')
        self.assert_refused(done, *words)
        self.assert_empty(out)

    def refuse_gpx(self, text, *words):
        path = self.write_text('t.gpx', text)
        self.refuse('brant-route', DEMO_DEM, path, words=('t.gpx', *words))


class Tours(Hostile):
    def test_entities(self):
        bomb = '<!ENTITY a0 "ha">' + ''.join(
            f'<!ENTITY a{i} "{f"&a{i - 1};" * 10}">' for i in range(1, 12))
        for declared in (bomb, '<!ENTITY a11 SYSTEM "file:///etc/hostname">',
                         '<!ENTITY % x SYSTEM "http://127.0.0.1:9/x.dtd">%x;'):
            self.refuse_gpx(f'<?xml version="1.0"?>\n<!DOCTYPE gpx [{declared}]>\n' +
                            HEAD + f'<trk><name>&a11;</name><trkseg>{POINTS}</trkseg></trk></gpx>')

    def test_nested(self):
        self.refuse_gpx(HEAD + '<a>' * 100000, ':1', '64')

    def test_more_points_than_the_limit(self):
        point = '<trkpt lat="43.4" lon="8.3"/>'
        self.refuse_gpx(TRACK.format(point * 500001), '500000')

    def test_larger_than_the_limit(self):
        path = self.write_text('t.gpx', TRACK.format(POINTS))
        os.truncate(path, 129 << 20)  # a hole: takes no disk
        self.refuse('brant-route', DEMO_DEM, path, words=('t.gpx', str(128 << 20)))

    def test_more_samples_than_the_limit(self):
        """A recording of two days without a break; two routes that are too long together."""
        walk = ''.join(f'<trkpt lat="43.{4200000 + i}" lon="8.3"/>' for i in range(150001))
        self.refuse_gpx(TRACK.format(walk), 'too long', '150000')
        half = walk[:walk.index('<trkpt lat="43.4280000"')]
        self.refuse_gpx(HEAD + f'<trk><trkseg>{half}</trkseg></trk>' * 2 + '</gpx>', 'too long',
                        '150000')

    def test_a_wider_box_than_the_limit(self):
        data = gdal.GetDriverByName('GTiff').Create(
            str(self.dir / 'wide.tif'), 20000, 20000, 1, gdal.GDT_Float32,
            ['TILED=YES', 'BLOCKXSIZE=512', 'BLOCKYSIZE=512', 'SPARSE_OK=TRUE'])
        data.SetSpatialRef(crs('EPSG:32632'))
        data.SetGeoTransform((400000, 10, 0, 4900000, 0, -10))
        data.GetRasterBand(1).WriteArray(np.full((8, 8), 500, np.float32), 9000, 9000)
        del data
        path = self.write_text('t.gpx', TRACK.format(
            '<trkpt lat="43.4" lon="8.3"/><trkpt lat="44.1" lon="9.4"/>'))
        self.refuse('brant-plan', self.dir / 'wide.tif', path,
                    words=('t.gpx', 'too wide', '64000000'))

    def test_a_long_recording(self):
        """20,000 points of a receiver that lay still: one leg, or a few."""
        lat, lon = 43.4256, 8.2915
        path = self.write_text('t.gpx', TRACK.format(''.join(
            f'<trkpt lat="{lat + i % 7 * 1e-5:.6f}" lon="{lon + i % 11 * 1e-5:.6f}"/>'
            for i in range(20000))))
        done = self.watch('brant-route', DEMO_DEM, path, '-o', self.dir / 'legs.csv', '--quiet')
        self.assertEqual(done.code, 0, done.err)
        self.assertGreater(len(self.read_csv(self.dir / 'legs.csv')), 0)

    def test_from_pole_to_pole(self):
        poles = '<trkpt lat="-90" lon="180"/><trkpt lat="90" lon="-180"/>'
        path = self.write_text('t.gpx', TRACK.format(poles * 50))
        self.refuse('brant-route', DEMO_DEM, path, words=('too long',))


class Json(Hostile):
    def test_nested(self):
        for opened in ('[', '{"a":', '{"bulletins":['):
            path = self.write_text('b.json', opened * 200000)
            self.refuse('brant-route', DEMO_DEM, DEMO_GPX, '--bulletin', path, words=('b.json',))
        path = self.write_text('z.geojson', '{"type":"Polygon","coordinates":' + '[' * 200000)
        self.refuse('brant-runout', DEMO_DEM, path, words=('z.geojson',))

    def test_larger_than_the_limit(self):
        path = self.write_text('b.json', '{"bulletins": [')
        os.truncate(path, 17 << 20)
        self.refuse('brant-route', DEMO_DEM, DEMO_GPX, '--bulletin', path,
                    words=('b.json', str(16 << 20)))

    def test_polygons_beyond_the_world(self):
        for name, crs, far in (('nan', 'EPSG::32632', 'NaN'), ('inf', 'EPSG::32632', 'Infinity'),
                               ('far', 'EPSG::32632', '1e300'),
                               ('over', 'EPSG::32633', '999999999')):
            path = self.write_text(f'{name}.geojson', '{"type":"FeatureCollection",'
                f'"crs":{{"type":"name","properties":{{"name":"urn:ogc:def:crs:{crs}"}}}},'
                '"features":[{"type":"Feature","properties":{},"geometry":{"type":"Polygon",'
                f'"coordinates":[[[443000,4807000],[443100,4807000],[443100,{far}],'
                '[443000,4807000]]]}}]}')
            self.refuse('brant-runout', DEMO_DEM, path, words=(f'{name}.geojson', 'feature 0'))


class Rasters(Hostile):
    def claim(self, name, cols, rows, transform='441000,10,0,4809000,0,-10'):
        return self.write_text(name, f'''<VRTDataset rasterXSize="{cols}" rasterYSize="{rows}">
            <SRS>EPSG:32632</SRS><GeoTransform>{transform}</GeoTransform>
            <VRTRasterBand dataType="Float32" band="1"><NoDataValue>-9999</NoDataValue>
            <SimpleSource><SourceFilename>{DEMO_DEM.resolve()}</SourceFilename>
            <SourceBand>1</SourceBand><SrcRect xOff="0" yOff="0" xSize="600" ySize="600"/>
            <DstRect xOff="0" yOff="0" xSize="600" ySize="600"/></SimpleSource></VRTRasterBand>
            </VRTDataset>''')

    def refuse_model(self, path, *words):
        for program, others in (('brant-check', ()), ('brant-slope', ()), ('brant-zones', ()),
                                ('brant-plan', (DEMO_GPX,))):
            with self.subTest(program=program, path=path.name):
                self.refuse(program, path, *others, words=(path.name, *words))

    def test_claims(self):
        most = 2**31 - 1
        for cols, rows in ((most, most), (most, 600), (600, most), (2**24 + 1, 1),
                           (2**21, 2**20)):
            self.refuse_model(self.claim('claim.vrt', cols, rows), f'{cols} x {rows}', '16777216')

    @staticmethod
    def values_elsewhere(data):
        """Where a TIFF's directory says that a tag's values lie: (tag, place of that offset)."""
        sizes = {1: 1, 2: 1, 3: 2, 4: 4, 5: 8, 12: 8}
        at = int.from_bytes(data[4:8], 'little')
        for entry in range(at + 2, at + 2 + 12 * int.from_bytes(data[at:at + 2], 'little'), 12):
            tag, kind, count = struct.unpack_from('<HHI', data, entry)
            if sizes[kind] * count > 4:
                yield tag, entry + 8

    def test_tags_out_of_reach(self):
        """What the disk does not give of a model's directory is not left out without a word:
        its nodata value, its place, where its cells lie."""
        z = np.full((200, 200), 500, np.float32)  # several strips
        z[10:14, 10:14] = NODATA
        whole = Path(self.write_dem('m.tif', z)).read_bytes()
        tags = dict(self.values_elsewhere(whole))
        self.assertLessEqual({273, 279, 33550, 33922, 34735, 42113}, set(tags))
        for tag, place in tags.items():
            path = self.dir / f'tag{tag}.tif'
            path.write_bytes(whole[:place] + struct.pack('<I', 0x7fffff00) + whole[place + 4:])
            with self.subTest(tag=tag):
                self.refuse('brant-slope', path, words=(path.name,))

    def test_places(self):
        for i, transform in enumerate((
                'nan,10,0,4809000,0,-10', '441000,inf,0,4809000,0,-10', '441000,0,0,4809000,0,-10',
                '441000,1e-300,0,4809000,0,-1e-300', '441000,1e300,0,4809000,0,-1e300')):
            self.refuse_model(self.claim(f'place{i}.vrt', 600, 600, transform))


if __name__ == '__main__':
    main()
