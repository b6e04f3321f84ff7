"""Tiles as one raster: folders, lists, mosaics and mosaics of mosaics; and every
format that is read, written by GDAL."""

import functools
import gzip
import http.server
import os
import threading

import numpy as np
from osgeo import gdal

from brant_case import LOCAL, BrantCase, crs, main

CELLS = 120


def ground(rows=CELLS, cols=CELLS, cell=10.0):
    y, x = np.mgrid[:rows, :cols] * cell
    return 1500 + 0.5 * x + 40 * np.sin(x / 90) * np.cos(y / 70)


class QuietServer(http.server.SimpleHTTPRequestHandler):
    """Serves a folder, byte ranges included, and keeps what was asked for."""

    def do_HEAD(self):
        self.answer(False)

    def do_GET(self):
        self.answer(True)

    def answer(self, body):
        self.server.asked.append(self.path)
        try:
            with open(self.translate_path(self.path), 'rb') as file:
                data = file.read()
        except OSError:
            self.send_error(404)
            return
        first, last, code = 0, len(data) - 1, 200
        asked = self.headers.get('Range')
        if asked:
            low, high = asked.split('=')[1].split('-')
            first, last, code = int(low), min(int(high or last), last), 206
        self.send_response(code)
        self.send_header('Accept-Ranges', 'bytes')
        self.send_header('Content-Length', str(last - first + 1))
        if code == 206:
            self.send_header('Content-Range', f'bytes {first}-{last}/{len(data)}')
        self.end_headers()
        if body:
            self.wfile.write(data[first:last + 1])

    def log_message(self, *_):
        pass


class MosaicCase(BrantCase):
    def setUp(self):
        super().setUp()
        self.tiles = self.folder('tiles')

    def slope(self, dem, *options, **how):
        self.said = self.run_ok('brant-slope', dem, '-o', self.dir / 's.tif', '--scale', 'native',
                                *options, **how).err
        return self.read_raster(self.dir / 's.tif')

    def warnings(self):
        return [line for line in self.said.splitlines() if ': warning: ' in line]

    def tile(self, name, z, row=0, col=0, cell=10.0, **how):
        """A tile whose first cell is at (row, col) of the whole."""
        return self.write_dem('tiles/' + name, z, cell=cell, west=col * cell,
                              north=CELLS * cell - row * cell, **how)

    def cut(self, z, size=60, overlap=0, **how):
        """Cut into square tiles, which share `overlap` rows and columns."""
        paths = []
        for row in range(0, z.shape[0], size):
            for col in range(0, z.shape[1], size):
                part = z[row:row + size + overlap, col:col + size + overlap]
                paths.append(self.tile(f't_{row:03}_{col:03}.tif', part, row, col, **how))
        return paths

    def whole(self, z, **how):
        return self.slope(self.write_dem('whole.tif', z, north=CELLS * 10.0, **how))

    def scale(self, paths, scales):
        for path, scale in zip(paths, scales):
            data = gdal.Open(str(path), gdal.GA_Update)
            data.GetRasterBand(1).SetScale(scale)
            del data

    def vrt(self, name, files, **how):
        data = gdal.BuildVRT(str(self.dir / name), [str(f) for f in files], **how)
        del data
        return self.dir / name

    def assert_same(self, a, b):
        self.assertEqual(a.shape, b.shape)
        self.assertTrue(np.array_equal(a, b, equal_nan=True))

    def refuse(self, dem, *words):
        done = self.run_program('brant-slope', dem, '-o', self.dir / 'no.tif')
        self.assert_refused(done, *words)
        self.assertFalse((self.dir / 'no.tif').exists())


class Folders(MosaicCase):
    def test_no_seams(self):
        z = ground()
        self.cut(z)
        self.assert_same(self.whole(z), self.slope(self.tiles))
        self.assertEqual(self.warnings(), [])

    def test_shared_edges(self):
        # tiles that repeat their neighbour's first row and column, as points do
        z = ground()
        self.cut(z, overlap=1)
        self.assert_same(self.whole(z), self.slope(self.tiles))
        self.assertEqual(self.warnings(), [])

    def test_no_seams_when_averaged(self):
        # 2 m cells are averaged by twos; tiles of an odd number of cells
        z = ground()
        for row in range(0, 120, 15):
            for col in range(0, 120, 25):
                self.tile(f't{row}_{col}.tif', z[row:row + 15, col:col + 25], row, col, cell=2.0)
        whole = self.write_dem('whole.tif', z, cell=2.0, north=CELLS * 2.0)
        self.run_ok('brant-slope', whole, '-o', self.dir / 'a.tif')
        self.run_ok('brant-slope', self.tiles, '-o', self.dir / 'b.tif')
        self.assertEqual(self.open(self.dir / 'b.tif').GetGeoTransform()[1], 4.0)
        self.assert_same(self.read_raster(self.dir / 'a.tif'), self.read_raster(self.dir / 'b.tif'))

    def test_a_missing_tile_is_void(self):
        z = ground()
        paths = self.cut(z, 40)
        paths[4].unlink()
        z[40:80, 40:80] = np.nan
        self.assert_same(self.slope(self.tiles), self.whole(z))

    def test_each_tile_has_its_own_voids(self):
        z = ground()
        holes = z.copy()
        holes[5:8, 5:8] = holes[70:75, 70:75] = holes[62:64, 10:12] = np.nan
        for row, col, nodata in ((0, 0, -9999), (0, 60, None), (60, 0, 1), (60, 60, -32768)):
            self.tile(f't{row}{col}.tif', holes[row:row + 60, col:col + 60], row, col,
                      nodata=nodata)
        self.assert_same(self.whole(holes), self.slope(self.tiles))
        self.assertEqual(self.warnings(), [])

    def test_other_files_do_not_count(self):
        z = ground()
        self.cut(z)
        for name in ('README', 'notes.pdf', 'a.tfw', '.hidden.tif'):
            self.write_text('tiles/' + name, 'no tile')
        self.write_text('tiles/t_000_000.tif.aux.xml', '<PAMDataset></PAMDataset>')
        (self.tiles / 'subfolder').mkdir()
        self.tile('subfolder/other.tif', z + 500)
        self.vrt('tiles/all.vrt', sorted(self.tiles.glob('*.tif')))
        gdal.Open(str(self.tiles / 't_000_000.tif')).BuildOverviews('AVERAGE', [2])
        self.assertTrue((self.tiles / 't_000_000.tif.ovr').exists())
        self.assert_same(self.slope(self.tiles), self.whole(z))

    def test_of_overlapping_tiles_the_last_by_name_counts(self):
        z = ground()
        self.tile('b.tif', z[:, :90] + 7)
        self.tile('a.tif', z[:, 60:], 0, 60)
        hole = z[:, :90] + 9
        hole[20:40, 20:40] = np.nan
        self.tile('c.tif', hole)
        expected = z.copy()
        expected[:, :90] += 9
        expected[20:40, 20:40] -= 2
        self.assert_same(self.whole(expected), self.slope(self.tiles))
        self.assertEqual(len(self.warnings()), 1)
        for words in ('same ground', 'b.tif', 'c.tif', 'later'):
            self.assertIn(words, self.warnings()[0])

    def test_mixed_tiles_are_refused_by_name(self):
        z = ground(40, 40)
        self.tile('a.tif', z)
        mixed = {
            'cells of': lambda: self.tile('b.tif', z, 0, 20, cell=5.0),
            'CRS': lambda: self.tile('b.tif', z, 0, 40, definition='EPSG:32632'),
            'alignment': lambda: self.write_dem('tiles/b.tif', z, west=405, north=1200),
            'heights in': lambda: self.with_unit('b.tif', z, 'ft'),
        }
        for words, make in mixed.items():
            with self.subTest(words):
                make()
                self.refuse(self.tiles, self.tiles, 'a.tif', 'b.tif', words)

    def with_unit(self, name, z, unit):
        path = self.tile(name, z, 0, 40)
        data = gdal.Open(str(path), gdal.GA_Update)
        data.GetRasterBand(1).SetUnitType(unit)
        del data

    def test_a_broken_tile_is_named(self):
        z = ground()
        paths = self.cut(z)
        paths[1].write_bytes(b'no raster')
        self.refuse(self.tiles, 't_000_060.tif')

    def test_a_torn_tile_is_named(self):
        z = ground()
        paths = self.cut(z, options=['COMPRESS=DEFLATE'])
        data = paths[3].read_bytes()
        paths[3].write_bytes(data[:800] + bytes(len(data) - 800))
        done = self.run_program('brant-slope', self.tiles, '-o', self.dir / 'no.tif')
        self.assert_refused(done, 't_060_060.tif')

    def test_what_the_programs_wrote_is_no_tile(self):
        z = ground()
        self.cut(z)
        self.run_ok('brant-zones', self.tiles, '-o', self.tiles / 'zones.tif')
        self.refuse(self.tiles, 'zones.tif', 'no elevation tile')

    def test_a_folder_without_tiles(self):
        self.refuse(self.tiles, 'tiles', 'no tiles')

    def test_a_tile_is_no_output(self):
        path = self.cut(ground())[2]
        before = path.read_bytes()
        done = self.run_program('brant-slope', self.tiles, '-o', path)
        self.assertNotEqual(done.code, 0)
        self.assertIn(path.name, done.complaints()[0])
        self.assertEqual(path.read_bytes(), before)

    def test_many_tiles(self):
        # more than stay open at once; a route opens only those around it
        z = ground(240, 240)
        for row in range(0, 240, 10):
            for col in range(0, 240, 10):
                self.write_dem(f'tiles/{row}_{col}.tif', z[row:row + 10, col:col + 10],
                               west=col * 10, north=2400 - row * 10)
        whole = self.slope(self.write_dem('whole.tif', z, north=2400))
        self.assert_same(self.slope(self.tiles, '--threads', 2), whole)

    def test_both_sides_of_the_antimeridian(self):
        z = ground(40, 80)
        step = 0.0001
        half = {'definition': 'EPSG:4326', 'nodata': None}
        self.write_dem('tiles/e.tif', z[:, :40],
                       transform=(180 - 40 * step, step, 0, 46, 0, -step), **half)
        self.write_dem('tiles/w.tif', z[:, 40:], transform=(-180, step, 0, 46, 0, -step), **half)
        whole = self.slope(self.write_dem(
            'whole.tif', z, transform=(180 - 40 * step, step, 0, 46, 0, -step), **half))
        self.assertLess(np.abs(self.slope(self.tiles) - whole)[1:-1, 1:-1].max(), 1e-4)


class Lists(MosaicCase):
    def test_a_list(self):
        z = ground()
        paths = self.cut(z)
        text = '# tiles\r\n\r\n' + '\r\n'.join(f'  tiles/{p.name} ' for p in paths[:3])
        for name in ('tiles.txt', 'tiles.lst'):
            dem = self.write_text(name, text + f'\r\n{paths[3]}\r\n')
            self.assert_same(self.whole(z), self.slope(dem))
            self.assertEqual(self.warnings(), [])

    def test_the_last_of_the_list_counts(self):
        z = ground()
        self.tile('a.tif', z + 5)
        self.tile('b.tif', z)
        dem = self.write_text('t.txt', 'tiles/b.tif\ntiles/a.tif\n')
        self.assert_same(self.slope(dem), self.whole(z + 5))

    def test_a_missing_tile_is_void_and_said(self):
        z = ground()
        paths = self.cut(z)
        dem = self.write_text('t.txt', '\n'.join(str(p) for p in paths))
        paths[1].unlink()
        z[:60, 60:] = np.nan
        self.assert_same(self.whole(z), self.slope(dem))
        self.assertEqual(len(self.warnings()), 1)
        for words in ('line 2', 't_000_060.tif', 'unknown'):
            self.assertIn(words, self.warnings()[0])

    def test_what_a_list_may_not_name(self):
        self.cut(ground())
        for line in ('/vsicurl/http://localhost/a.tif', 'http://localhost/a.tif', 'tiles',
                     '/vsizip/a.zip/a.tif'):
            with self.subTest(line):
                self.refuse(self.write_text('t.txt', f'tiles/t_000_000.tif\n{line}\n'), 't.txt',
                            'line 2', line)
        self.refuse(self.write_text('t.txt', '# nothing\n'), 't.txt', 'no tile')
        self.refuse(self.write_text('t.txt', 'ncols 40\nnrows 30\n'), 't.txt', 'ncols 40')
        (self.dir / 't.txt').write_bytes(b'a\0b')
        self.refuse(self.dir / 't.txt', 't.txt')


class Mosaics(MosaicCase):
    def test_a_mosaic_in_a_mosaic(self):
        # a gap between the two inner ones, and one within each; no nodata anywhere
        z = ground()
        paths = self.cut(z, 40, nodata=None)
        keep = [p for i, p in enumerate(paths) if i not in (1, 3, 4, 5)]
        inner = [self.vrt('i0.vrt', keep[:2]), self.vrt('i1.vrt', keep[2:])]
        outer = self.vrt('o.vrt', inner)
        z[40:80] = z[:40, 40:80] = np.nan
        self.assert_same(self.whole(z), self.slope(outer))
        self.assertEqual(self.warnings(), [])

    def test_sparse_tiles(self):
        z = ground(128, 128)
        data = gdal.GetDriverByName('GTiff').Create(
            str(self.dir / 'v.tif'), 128, 128, 1, gdal.GDT_Float32,
            ['TILED=YES', 'BLOCKXSIZE=32', 'BLOCKYSIZE=32', 'SPARSE_OK=YES'])
        data.SetSpatialRef(crs(LOCAL))
        data.SetGeoTransform((0, 10, 0, CELLS * 10.0, 0, -10))
        data.GetRasterBand(1).WriteArray(z[:64], 0, 0)
        del data
        z[64:] = np.nan
        dem = self.vrt('o.vrt', [self.vrt('i.vrt', [self.dir / 'v.tif'])])
        self.assert_same(self.slope(dem), self.whole(z))
        # a warped mosaic would read 0 there, whatever nodata value it declares
        warped = gdal.Warp(str(self.dir / 'w.vrt'), str(self.dir / 'v.tif'), format='VRT',
                           dstNodata=-9999, xRes=11, yRes=11)
        del warped
        self.refuse(self.dir / 'w.vrt', 'w.vrt', 'v.tif', 'gaps')

    def test_a_scaled_mosaic_over_a_mosaic_with_gaps_is_refused(self):
        paths = self.cut(ground(), 40, nodata=None)
        inner = self.vrt('i.vrt', paths[:2] + paths[4:])
        data = gdal.Translate(str(self.dir / 's.vrt'), str(inner), format='VRT', xRes=20, yRes=20)
        del data
        self.refuse(self.dir / 's.vrt', 's.vrt', 'i.vrt', 'gaps')

    def test_a_part_of_a_mosaic(self):
        z = ground()
        inner = self.vrt('i.vrt', self.cut(z, 40, nodata=None))
        data = gdal.Translate(str(self.dir / 'p.vrt'), str(inner), format='VRT',
                              srcWin=[33, 21, 50, 70])
        del data
        part = self.write_dem('part.tif', z[21:91, 33:83], west=330, north=1200 - 210)
        self.assert_same(self.slope(self.dir / 'p.vrt'), self.slope(part))

    def mask_tile(self, path, hole):
        data = gdal.Open(str(path), gdal.GA_Update)
        data.CreateMaskBand(gdal.GMF_PER_DATASET)
        mask = np.full((data.RasterYSize, data.RasterXSize), 255, np.uint8)
        mask[hole] = 0
        data.GetRasterBand(1).GetMaskBand().WriteArray(mask)

    def test_a_mosaic_of_masked_tiles_is_taken_apart(self):
        # GDAL reads a source without its mask where that cannot be opened; a tile alone is asked
        z = ground()
        paths = self.cut(z, nodata=None)
        self.mask_tile(paths[0], np.s_[10:20, 30:40])
        self.mask_tile(paths[3], np.s_[50:60, 5:20])
        dem = self.vrt('m.vrt', paths)
        self.assertIn('<MaskBand>', dem.read_text())
        z[10:20, 30:40] = z[110:120, 65:80] = np.nan
        self.assert_same(self.slope(dem), self.whole(z))
        self.assertIn('4 tiles', self.run_ok('brant-check', dem).out)

    def test_a_mask_of_other_cells_counts(self):
        # one of the tiles has another's mask, which the file holds
        z = ground()
        paths = self.cut(z, nodata=None)
        gdal.SetConfigOption('GDAL_TIFF_INTERNAL_MASK', 'YES')
        self.addCleanup(gdal.SetConfigOption, 'GDAL_TIFF_INTERNAL_MASK', None)
        self.mask_tile(paths[0], np.s_[10:20, 30:40])
        head, mask = self.vrt('m.vrt', paths).read_text().split('<MaskBand>')
        dem = self.write_text('o.vrt', head + '<MaskBand>' +
                              mask.replace(paths[3].name, paths[0].name))
        z[10:20, 30:40] = z[70:80, 90:100] = np.nan
        self.assert_same(self.slope(dem), self.whole(z))

    def test_a_warped_mosaic_of_a_masked_tile_is_refused(self):
        path = self.cut(ground(), nodata=None)[0]
        self.mask_tile(path, np.s_[10:20, 30:40])
        warped = gdal.Warp(str(self.dir / 'w.vrt'), str(path), format='VRT', dstNodata=-9999,
                           xRes=11, yRes=11)
        del warped
        self.refuse(self.dir / 'w.vrt', 'w.vrt', path.name, 'mask')

    def test_missing_tiles_are_void_and_said(self):
        z = ground()
        paths = self.cut(z, 40)
        dem = self.vrt('m.vrt', paths)
        paths[0].unlink()
        paths[8].unlink()
        z[:40, :40] = z[80:, 80:] = np.nan
        self.assert_same(self.whole(z), self.slope(dem))
        self.assertEqual(len(self.warnings()), 1)
        for words in ('m.vrt', '2 of its 9 tiles', 't_000_000.tif'):
            self.assertIn(words, self.warnings()[0])
        for path in paths[1:8]:
            path.unlink()
        self.refuse(dem, 'm.vrt', 'none of its tiles')

    def test_a_mosaic_s_own_nodata(self):
        z = ground()
        paths = self.cut(z, nodata=None)
        data = gdal.Open(str(paths[0]), gdal.GA_Update)
        part = z[:60, :60].copy()
        part[10:20, 10:20] = 17
        data.GetRasterBand(1).WriteArray(part)
        del data
        dem = self.vrt('m.vrt', paths, srcNodata=17, VRTNodata=17)
        z[10:20, 10:20] = np.nan
        self.assert_same(self.slope(dem), self.whole(z))

    def test_a_mosaic_speaks_for_its_tiles_unit(self):
        z = ground()
        for path in self.cut(z / 0.3048):
            data = gdal.Open(str(path), gdal.GA_Update)
            data.GetRasterBand(1).SetUnitType('ft')
            del data
        dem = self.vrt('m.vrt', sorted(self.tiles.glob('*.tif')))
        text = dem.read_text().replace('<UnitType>ft</UnitType>', '')
        dem.write_text(text)
        self.assertLess(np.nanmax(np.abs(self.slope(dem) - self.whole(z))), 0.01)

    def test_a_mosaic_of_two_units_is_refused(self):
        paths = self.cut(ground())
        for path, unit in zip(paths, ('m', 'm', 'm', 'ft')):
            data = gdal.Open(str(path), gdal.GA_Update)
            data.GetRasterBand(1).SetUnitType(unit)
            del data
        dem = self.vrt('m.vrt', paths)
        self.refuse(dem, 'm.vrt', 't_060_060.tif', "'ft'", '--vertical-unit')
        self.slope(dem, '--vertical-unit', 'm')

    def test_a_mosaic_of_two_scales_is_refused(self):
        paths = self.cut(ground() * 10, kind=gdal.GDT_Int32)
        self.scale(paths, (0.1, 0.1, 0.1, 0.1))
        dem = self.vrt('m.vrt', paths)
        self.assertEqual(np.count_nonzero(np.isnan(self.slope(dem))), 4 * CELLS - 4)
        self.scale(paths, (0.1, 0.1, 0.1, 1))
        self.slope(dem)  # the mosaic states it for all
        self.scale(paths, (0.1, 0.1, 0.1, 0.2))
        self.refuse(dem, 'm.vrt', 't_060_060.tif', 'x 0.2', 'x 0.1')
        self.scale(paths, (0.1, 0.1, 0.1, 1))
        dem.write_text(dem.read_text().replace('<Scale>0.1</Scale>', ''))
        self.refuse(dem, 'm.vrt', 't_060_060.tif', 'x 1 +', 'x 0.1 +')

    def test_a_mosaic_in_a_mosaic_keeps_its_unit_and_scale(self):
        z = ground()
        for feet, scale in ((0.3048, 1), (1, 0.1), (0.3048, 0.1)):
            with self.subTest(feet=feet, scale=scale):
                inner = self.vrt('i.vrt', self.cut(z / feet / scale))
                data = gdal.Open(str(inner), gdal.GA_Update)
                data.GetRasterBand(1).SetUnitType('ft' if feet < 1 else 'm')
                data.GetRasterBand(1).SetScale(scale)
                del data
                outer = self.vrt('o.vrt', [inner])
                outer.write_text(outer.read_text().replace('<Scale>0.1</Scale>', ''))
                self.assertLess(np.nanmax(np.abs(self.slope(outer) - self.whole(z))), 0.02)

    def test_mosaics_in_a_mosaic_of_one_scale_are_taken_apart(self):
        # else a block that was never written could not be told from 0
        z = ground()
        paths = []
        for col in (0, 60):
            path = self.tiles / f's{col}.tif'
            data = gdal.GetDriverByName('GTiff').Create(
                str(path), 60, CELLS, 1, gdal.GDT_Int32,
                ['TILED=YES', 'BLOCKXSIZE=16', 'BLOCKYSIZE=16', 'SPARSE_OK=YES'])
            data.SetSpatialRef(crs(LOCAL))
            data.SetGeoTransform((col * 10, 10, 0, CELLS * 10, 0, -10))
            data.GetRasterBand(1).SetScale(0.1)
            data.GetRasterBand(1).WriteArray(np.round(z[:96, col:col + 60] * 10))
            del data
            paths.append(self.vrt(f'i{col}.vrt', [path]))
        z[96:] = np.nan
        got, expected = self.slope(self.vrt('o.vrt', paths)), self.whole(z)
        self.assertTrue(np.array_equal(np.isnan(got), np.isnan(expected)))
        self.assertLess(np.nanmax(np.abs(got - expected)), 0.5)

    def test_a_mosaic_that_averages_is_refused(self):
        # GDAL 3.6.2 gives heights that depend on the window; cubic does not
        whole = self.dir / 'whole.vrt'
        gdal.BuildVRT(str(whole), [str(path) for path in self.cut(ground())])
        for way in ('average', 'gauss', 'mode', 'cubic'):
            scaled = self.dir / f'{way}.vrt'
            gdal.Translate(str(scaled), str(whole), format='VRT', widthPct=70, heightPct=70,
                           resampleAlg=way)
            with self.subTest(way):
                if way == 'cubic':
                    self.run_ok('brant-slope', scaled, '-o', self.dir / 'c.tif')
                else:
                    done = self.run_program('brant-slope', scaled, '-o', self.dir / 'no.tif')
                    self.assert_refused(done, 'other heights in other windows')

    def test_a_pipe_in_a_mosaic_is_refused(self):
        dem = self.vrt('a.vrt', self.cut(ground()))
        (self.tiles / 't_000_000.tif').unlink()
        os.mkfifo(self.tiles / 't_000_000.tif')
        done = self.run_program('brant-slope', dem, '-o', self.dir / 'no.tif')
        self.assert_refused(done, 'a.vrt', 't_000_000.tif', 'no regular file')

    def test_a_circle_is_refused(self):
        dem = self.vrt('a.vrt', self.cut(ground()))
        text = dem.read_text()
        dem.write_text(text.replace('tiles/t_000_000.tif', 'a.vrt'))
        done = self.run_program('brant-slope', dem, '-o', self.dir / 'no.tif')
        self.assert_refused(done, 'a.vrt')

    def test_other_file_systems_are_refused_at_any_depth(self):
        for source in ('/vsicurl/http://127.0.0.1:9/a.tif', 'http://127.0.0.1:9/a.tif',
                       '/vsizip/a.zip/a.tif', '/vsimem/a.tif', '/vsigzip/a.tif.gz', '/vsis3/b/a',
                       'WMTS:layer', 'GTIFF_DIR:1:tiles/t_000_060.tif'):
            with self.subTest(source):
                inner = self.vrt('i.vrt', self.cut(ground()))
                inner.write_text(inner.read_text().replace(
                    'relativeToVRT="1">tiles/t_000_000.tif', f'relativeToVRT="0">{source}'))
                outer = self.vrt('o.vrt', [inner])
                self.refuse(inner, 'i.vrt', source)
                self.refuse(outer, source)


class Formats(MosaicCase):
    """Every format named in the man pages, written by its driver and read back."""

    def check(self, driver, name, z, options=(), definition='EPSG:4326', transform=None,
              kind=gdal.GDT_Int16, delta=0.01):
        source = self.write_dem('source.tif', z, definition=definition, transform=transform,
                                nodata=-32767, kind=kind)
        made = gdal.GetDriverByName(driver).CreateCopy(
            str(self.dir / name), gdal.Open(str(source)), 0, list(options))
        del made
        got, expected = self.slope(self.dir / name), self.slope(source)
        self.assertEqual(got.shape, expected.shape)
        self.assertTrue(np.array_equal(np.isnan(got), np.isnan(expected)))
        self.assertLess(np.nanmax(np.abs(got - expected)), delta)
        self.assertGreater(np.isnan(z).sum(), 0)

    def holed(self, rows=CELLS, cols=CELLS):
        z = np.round(ground(rows, cols, 30.0) / 3)
        z[20:30, 40:60] = np.nan
        return z

    # the corner of a tile of points at whole degrees
    def degree(self, cells):
        step = 1 / (cells - 1)
        return (10 - step / 2, step, 0, 47 + step / 2, 0, -step)

    def test_geotiff(self):
        self.check('GTiff', 'v.tif', self.holed(), definition=LOCAL)

    def test_cog(self):
        self.check('COG', 'v.tif', self.holed(), definition=LOCAL)

    def test_hgt(self):
        z = np.round(1500 + 400 * np.sin(np.arange(1201) / 40)[None, :]
                     * np.cos(np.arange(1201) / 30)[:, None])
        z[100:200, 300:310] = np.nan
        self.check('SRTMHGT', 'N46E010.hgt', z, transform=self.degree(1201))

    def test_dted(self):
        z = np.round(1500 + 400 * np.sin(np.arange(121) / 4)[None, :]
                     * np.cos(np.arange(121) / 3)[:, None])
        z[10:20, 30:40] = np.nan
        self.check('DTED', 'n46.dt0', z, transform=self.degree(121))

    def test_usgs_dem(self):
        # arc seconds; the writer resamples unless cells fit its raster
        step = 3 / 3600
        z = self.holed(121, 121)
        self.check('USGSDEM', 'v.dem', z,
                   transform=(10 - step / 2, step, 0, 46.1 + step / 2, 0, -step), delta=0.05)

    def test_ascii_grid(self):
        self.check('AAIGrid', 'v.asc', self.holed(), definition='EPSG:32632',
                   transform=(5e5, 10, 0, 5.2e6, 0, -10))

    def test_envi(self):
        self.check('ENVI', 'v.img', self.holed(), definition='EPSG:32632',
                   transform=(5e5, 10, 0, 5.2e6, 0, -10))

    def test_a_cut_off_envi_file_is_refused(self):
        # GDAL reads 0 past its end, here low ground
        y, x = np.mgrid[:50, :40]
        source = self.write_dem('s.tif', x * 2.0 + y, north=500)
        dem = self.dir / 'v.img'
        gdal.GetDriverByName('ENVI').CreateCopy(str(dem), gdal.Open(str(source)))
        scaled = self.dir / 'v.vrt'
        gdal.Translate(str(scaled), str(dem), format='VRT', widthPct=150, heightPct=150)
        plain = self.vrt('p.vrt', [dem])
        whole = [self.slope(each) for each in (dem, scaled, plain)]
        self.assertFalse(np.isnan(whole[0][1:-1, 1:-1]).any())
        data = dem.read_bytes()
        dem.write_bytes(data[:len(data) // 2])
        for each in (dem, scaled, plain):
            self.refuse(each, 'v.img', 'cut off', len(data) // 2, len(data))
        dem.write_bytes(bytes(64) + data)
        (self.dir / 'v.img.aux.xml').unlink()  # repeats the header
        header = dem.with_suffix('.hdr')
        header.write_text(header.read_text().replace('header offset = 0', 'header offset = 64'))
        self.assert_same(self.slope(dem), whole[0])
        dem.write_bytes(data)
        self.refuse(dem, 'v.img', 'cut off')
        header.write_text(header.read_text().replace('header offset = 64', 'header offset = 0')
                          + 'file compression = 1\n')
        dem.write_bytes(gzip.compress(data))
        self.assert_same(self.slope(dem), whole[0])

    def test_vrt(self):
        self.check('VRT', 'v.vrt', self.holed(), definition=LOCAL)

    def test_other_formats_are_refused(self):
        source = self.write_dem('source.tif', ground(), nodata=None)
        for driver, name in (('PNG', 'v.png'), ('HFA', 'v.img'), ('GSBG', 'v.grd')):
            with self.subTest(driver):
                made = gdal.GetDriverByName(driver).CreateCopy(
                    str(self.dir / name), gdal.Translate('', str(source), format='MEM',
                                                         outputType=gdal.GDT_UInt16)
                    if driver == 'PNG' else gdal.Open(str(source)))
                del made
                self.refuse(self.dir / name, name, 'GeoTIFF, HGT, DTED, USGS DEM, ASCII grid, '
                            'ENVI, VRT')

    def test_a_folder_of_each(self):
        # two tiles of points that share a column, by three drivers
        for driver, names in (('SRTMHGT', ('N46E010.hgt', 'N46E011.hgt')),
                              ('AAIGrid', ('a.asc', 'b.asc')), ('ENVI', ('a.img', 'b.img'))):
            with self.subTest(driver):
                for path in self.tiles.iterdir():
                    path.unlink()
                z = np.round(1500 + 400 * np.sin(np.arange(2401) / 40)[None, :]
                             * np.cos(np.arange(1201) / 30)[:, None])
                step = 1 / 1200
                for i, name in enumerate(names):
                    made = gdal.GetDriverByName(driver).CreateCopy(
                        str(self.tiles / name), gdal.Open(str(self.write_dem(
                            'one.tif', z[:, 1200 * i:1200 * i + 1201], definition='EPSG:4326',
                            nodata=-32768, kind=gdal.GDT_Int16,
                            transform=(10 + i - step / 2, step, 0, 47 + step / 2, 0, -step)))))
                    del made
                whole = self.slope(self.write_dem(
                    'whole.tif', z, definition='EPSG:4326', kind=gdal.GDT_Int16,
                    transform=(10 - step / 2, step, 0, 47 + step / 2, 0, -step)))
                joined = self.slope(self.tiles)
                self.assertEqual(joined.shape, whole.shape)
                self.assertLess(np.nanmax(np.abs(joined - whole)), 1e-3)


class Addresses(MosaicCase):
    def setUp(self):
        super().setUp()
        self.z = ground()
        self.write_dem('tiles/v.tif', self.z, north=CELLS * 10.0,
                       options=['TILED=YES', 'BLOCKXSIZE=16', 'BLOCKYSIZE=16'])
        self.server = http.server.ThreadingHTTPServer(
            ('127.0.0.1', 0), functools.partial(QuietServer, directory=str(self.tiles)))
        self.server.asked = []
        thread = threading.Thread(target=self.server.serve_forever, daemon=True)
        thread.start()
        self.addCleanup(thread.join)
        self.addCleanup(self.server.server_close)
        self.addCleanup(self.server.shutdown)
        self.address = f'http://127.0.0.1:{self.server.server_address[1]}'
        self.env = {'no_proxy': '127.0.0.1', 'NO_PROXY': '127.0.0.1'}

    def test_an_address_that_is_typed(self):
        for prefix in ('', '/vsicurl/'):
            with self.subTest(prefix):
                slope = self.slope(f'{prefix}{self.address}/v.tif', env=self.env)
                self.assert_same(slope, self.whole(self.z))
        self.assertEqual({p for p in self.server.asked}, {'/v.tif'})

    def test_a_page_on_it(self):
        done = self.run_program('brant-check', f'{self.address}/v.tif', '--quiet', env=self.env)
        self.assertIn(done.code, (0, 3), done.err)
        self.assertRegex(done.out, r'(?m)^MODEL +v\.tif$')
        self.assertEqual({p for p in self.server.asked}, {'/v.tif'})

    def test_a_missing_one(self):
        done = self.run_program('brant-slope', self.address + '/none.tif', '-o',
                                self.dir / 'no.tif', env=self.env)
        self.assert_refused(done, self.address + '/none.tif')

    def test_no_mosaic_at_an_address(self):
        self.vrt('tiles/v.vrt', [self.tiles / 'v.tif'])
        done = self.run_program('brant-slope', self.address + '/v.vrt', '-o',
                                self.dir / 'no.tif', env=self.env)
        self.assert_refused(done, self.address + '/v.vrt')

    def test_no_side_car_fetches(self):
        # GDAL would open these by any driver that it has, to list the model's files or to
        # read a scaled mosaic
        host = self.address[len('http://'):]
        dem = self.tiles / 'v.tif'
        scaled = self.dir / 's.vrt'
        gdal.Translate(str(scaled), str(dem), format='VRT', widthPct=50, heightPct=50)
        for elsewhere in (f'http://{host}/x.tif', f'WMTS:http://{host}/x.xml',
                          f'/vsicurl/http://{host}/x.tif'):
            with self.subTest(elsewhere):
                self.write_text('tiles/v.tif.aux.xml', f'''<PAMDataset><Metadata domain="OVERVIEWS">
                    <MDI key="OVERVIEW_FILE">{elsewhere}</MDI></Metadata></PAMDataset>''')
                self.slope(dem, env=self.env)
                self.slope(scaled, env=self.env)
                self.assertEqual(self.server.asked, [])

    def test_no_file_that_fetches_in_a_mosaic(self):
        # a local description of a server, as some drivers take it: plain, and warped
        service = self.write_text('service.xml', f'''<GDAL_WMS><Service name="TMS">
            <ServerUrl>{self.address}/${{z}}/${{x}}/${{y}}</ServerUrl></Service><DataWindow>
            <UpperLeftX>0</UpperLeftX><UpperLeftY>1200</UpperLeftY><LowerRightX>1200</LowerRightX>
            <LowerRightY>0</LowerRightY><TileLevel>0</TileLevel><TileCountX>1</TileCountX>
            <TileCountY>1</TileCountY><YOrigin>top</YOrigin></DataWindow>
            <Projection>EPSG:32632</Projection><BlockSizeX>120</BlockSizeX>
            <BlockSizeY>120</BlockSizeY><BandsCount>1</BandsCount></GDAL_WMS>''')
        plain = self.vrt('m.vrt', [self.tiles / 'v.tif'])
        warped = gdal.Warp(str(self.dir / 'w.vrt'), str(self.tiles / 'v.tif'), format='VRT',
                           xRes=11, yRes=11)
        del warped
        for dem in (plain, self.dir / 'w.vrt'):
            dem.write_text(dem.read_text().replace('tiles/v.tif', service.name))
            self.refuse(dem, dem.name, 'service.xml', 'not a raster of a kind that is read')
            # nor while only its files are listed, to tell inputs from outputs
            self.run_program('brant-zones', dem, '-o', self.dir / 'z.tif', env=self.env)
        self.assertEqual(self.server.asked, [])

    def test_no_address_in_a_mosaic_or_a_list(self):
        dem = self.vrt('m.vrt', [self.tiles / 'v.tif'])
        text = dem.read_text()
        for source in (f'/vsicurl/{self.address}/v.tif', f'{self.address}/v.tif'):
            dem.write_text(text.replace('relativeToVRT="1">tiles/v.tif',
                                        f'relativeToVRT="0">{source}'))
            self.refuse(dem, 'm.vrt', source)
            self.refuse(self.write_text('t.txt', source + '\n'), 't.txt', source)
        self.assertEqual(self.server.asked, [])


if __name__ == '__main__':
    main()
