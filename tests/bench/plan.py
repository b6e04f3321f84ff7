"""A whole plan against one pass of the general tool's slope over the same model, side by
side in one run, alternating; and the same plan on a mosaic of a thousand tiles against one
on the tiles around the route.

The model is an alpine one at 10 m, 4,655 x 6,720 cells, where the shared data holds it, else
relief of that size is generated (BRANT_BENCH_CELLS across). The route is a loop of 15 km. On
a shared machine only processor time says something: it stands beside the seconds."""

import math
import os
import statistics
import subprocess
import sys
import tempfile
import time
from pathlib import Path

PROGRAMS = Path(os.environ['BRANT_PROGRAMS'])
SHARED = Path(os.environ.get('BRANT_SHARED_DATA', '/nowhere'))
ROUNDS = int(os.environ.get('BRANT_BENCH_ROUNDS', 3))
CELLS = int(os.environ.get('BRANT_BENCH_CELLS', 4655))
ALPINE = SHARED / 'dem' / 'davos_1arcsec_4326_i16.tif'
TILES = (25, 40)  # across, down


def make(folder):
    """In a process of its own: a child's peak memory counts from what its parent has."""
    from osgeo import gdal, osr
    gdal.UseExceptions()
    dem = folder / 'dem.tif'
    if ALPINE.exists():
        gdal.Warp(str(dem), str(ALPINE), dstSRS='EPSG:32632', xRes=10, yRes=10,
                  resampleAlg='cubicspline', outputType=gdal.GDT_Float32)
    else:
        from slope import generate
        generate(dem, CELLS)
    model = gdal.Open(str(dem))
    across, down = model.RasterXSize, model.RasterYSize
    print(f'{"alpine model" if ALPINE.exists() else "generated relief"}, {across} x {down} cells',
          flush=True)
    write_loop(folder / 'loop.gpx', model, osr)
    cut(folder, model, gdal)


def write_loop(path, model, osr):
    """A loop of 15 km in the model's middle, wavy, so that it climbs and falls."""
    to = osr.SpatialReference()
    to.ImportFromEPSG(4326)
    to.SetAxisMappingStrategy(osr.OAMS_TRADITIONAL_GIS_ORDER)
    turn = osr.CoordinateTransformation(model.GetSpatialRef(), to)
    t = model.GetGeoTransform()
    x0 = t[0] + t[1] * model.RasterXSize / 2
    y0 = t[3] + t[5] * model.RasterYSize / 2
    points = []
    for i in range(301):
        a = i / 300 * 2 * math.pi
        r = 2200 + 250 * math.sin(5 * a)
        points.append(turn.TransformPoint(x0 + r * math.cos(a), y0 + r * math.sin(a)))
    path.write_text('<gpx version="1.1" creator="bench" '
                    'xmlns="http://www.topografix.com/GPX/1/1"><trk><name>Loop</name><trkseg>' +
                    ''.join(f'<trkpt lat="{p[1]:.7f}" lon="{p[0]:.7f}"/>' for p in points) +
                    '</trkseg></trk></gpx>')


def cut(folder, model, gdal):
    """A thousand tiles and their mosaic; and a mosaic of those around the middle alone."""
    width = -(-model.RasterXSize // TILES[0])
    height = -(-model.RasterYSize // TILES[1])
    names, near = [], []
    (folder / 'tiles').mkdir()
    for row in range(TILES[1]):
        for col in range(TILES[0]):
            box = [col * width, row * height, min(width, model.RasterXSize - col * width),
                   min(height, model.RasterYSize - row * height)]
            if box[2] < 1 or box[3] < 1:
                continue
            name = str(folder / 'tiles' / f'{row:02}_{col:02}.tif')
            gdal.Translate(name, model, srcWin=box)
            names.append(name)
            if abs(2 * col + 1 - TILES[0]) <= 14 and abs(2 * row + 1 - TILES[1]) <= 16:
                near.append(name)
    gdal.BuildVRT(str(folder / 'all.vrt'), names)
    gdal.BuildVRT(str(folder / 'near.vrt'), near)
    print(f'{len(names)} tiles, {len(near)} around the route', flush=True)


def run(command):
    """Seconds, processor seconds, peak MiB."""
    os.sync()
    start = time.monotonic()
    process = subprocess.Popen(command, stdout=subprocess.DEVNULL, stderr=subprocess.DEVNULL)
    _, status, usage = os.wait4(process.pid, 0)
    process.returncode = os.waitstatus_to_exitcode(status)
    if process.returncode != 0:
        sys.exit(f'{command}: exit status {process.returncode}')
    return (time.monotonic() - start, usage.ru_utime + usage.ru_stime, usage.ru_maxrss / 1024)


def main():
    with tempfile.TemporaryDirectory() as name:
        folder = Path(name)
        subprocess.run([sys.executable, __file__, name], check=True)

        def plan(dem):
            return [str(PROGRAMS / 'brant-plan'), str(folder / dem), str(folder / 'loop.gpx'),
                    '-d', str(folder / 'out'), '--quiet', '--threads', '2']

        rivals = {'gdaldem slope': ['gdaldem', 'slope', '-q', str(folder / 'dem.tif'),
                                    str(folder / 'slope.tif')],
                  'brant-plan': plan('dem.tif'),
                  'brant-plan, all tiles': plan('all.vrt'),
                  'brant-plan, tiles around': plan('near.vrt')}
        figures = {name: [] for name in rivals}
        for _ in range(ROUNDS):
            for name, command in rivals.items():
                figures[name].append(run(command))
        median = {name: [statistics.median(column) for column in zip(*rows)]
                  for name, rows in figures.items()}
    print(f'{ROUNDS} rounds, medians of whole processes')
    for name, (wall, processor, peak) in median.items():
        print(f'{name:26} {wall:7.2f} s {processor:7.2f} s of processor {peak:6.0f} MiB')
    for name, other in (('brant-plan', 'gdaldem slope'),
                        ('brant-plan, all tiles', 'brant-plan, tiles around')):
        print(f'{name}: {median[name][0] / median[other][0]:.2f} times the time of {other}, '
              f'{median[name][1] / median[other][1]:.2f} times its processor time')


if __name__ == '__main__':
    make(Path(sys.argv[1])) if len(sys.argv) > 1 else main()
