"""Many circuits: how many a second, what a further one over known ground costs, in what
memory, and how long a loop of brant-plan would take, with a bulletin and without.

The range is the demo's mountain mirrored over and over on a tilted plain, BRANT_BENCH_CELLS
across (default 3000, cells of 10 m); over it lie BRANT_BENCH_CIRCUITS invented loops of 10 km
(default 1000). Of these brant-plan does BRANT_BENCH_PLANS (default 8) one by one, each into
a folder of its own. What a circuit costs once its ground is computed is told from loops all
around one place, 5 km by 5 km: the time of all less that of half of them. On a shared machine
only processor time says something: it stands beside the seconds."""

import math
import os
import random
import subprocess
import sys
import tempfile
from pathlib import Path

from plan import run

PROGRAMS = Path(os.environ['BRANT_PROGRAMS'])
TESTDATA = Path(os.environ['BRANT_TESTDATA'])
CELLS = int(os.environ.get('BRANT_BENCH_CELLS', 3000))
CIRCUITS = int(os.environ.get('BRANT_BENCH_CIRCUITS', 1000))
PLANS = int(os.environ.get('BRANT_BENCH_PLANS', 8))
NEAR = 100  # circuits around one place
DAYS = {'no bulletin': [],
        'bulletin and start': ['--bulletin', str(TESTDATA / 'quern_bulletin.json'), '--start',
                               '2027-02-13T06:30+01:00']}


def make(folder):
    """In a process of its own: a child's peak memory counts from what its parent has."""
    import numpy as np
    from osgeo import gdal
    gdal.UseExceptions()
    demo = gdal.Open(str(TESTDATA / 'quern.tif'))
    z = demo.ReadAsArray()
    z[z == demo.GetRasterBand(1).GetNoDataValue()] = np.median(z)  # the demo's hole
    z = np.pad(z, ((0, max(0, CELLS - z.shape[0])), (0, max(0, CELLS - z.shape[1]))), 'symmetric')
    z += np.add.outer(np.arange(z.shape[0]), 0.5 * np.arange(z.shape[1])) * 0.05
    out = gdal.GetDriverByName('GTiff').Create(str(folder / 'dem.tif'), z.shape[1], z.shape[0], 1,
                                               gdal.GDT_Float32, ['TILED=YES'])
    out.SetProjection(demo.GetProjection())
    out.SetGeoTransform(demo.GetGeoTransform())
    out.GetRasterBand(1).WriteArray(z)
    side, rng = 10.0 * z.shape[0], random.Random(1)
    (folder / 'all').mkdir()
    (folder / 'near').mkdir()
    for i in range(CIRCUITS):
        at = [rng.uniform(2200, side - 2200) for _ in range(2)]
        write_loop(folder / 'all' / f'{i:05}.gpx', out, at, rng)
    for i in range(NEAR):
        at = [side / 2 + rng.uniform(-500, 500) for _ in range(2)]
        write_loop(folder / 'near' / f'{i:05}.gpx', out, at, rng)


def write_loop(path, model, at, rng):
    """A wavy loop of 10 km around metres `at` from the model's north-west corner."""
    from osgeo import osr
    to = osr.SpatialReference()
    to.ImportFromEPSG(4326)
    to.SetAxisMappingStrategy(osr.OAMS_TRADITIONAL_GIS_ORDER)
    turn = osr.CoordinateTransformation(model.GetSpatialRef(), to)
    t = model.GetGeoTransform()
    phase, waves = rng.uniform(0, 2 * math.pi), rng.randint(3, 7)
    points = []
    for i in range(201):
        a = i / 200 * 2 * math.pi
        r = 1450 + 200 * math.sin(waves * a + phase)
        points.append(turn.TransformPoint(t[0] + at[0] + r * math.cos(a),
                                          t[3] - at[1] + r * math.sin(a)))
    path.write_text('<gpx version="1.1" creator="bench" '
                    'xmlns="http://www.topografix.com/GPX/1/1"><trk><name>Loop</name><trkseg>' +
                    ''.join(f'<trkpt lat="{p[1]:.7f}" lon="{p[0]:.7f}"/>' for p in points) +
                    '</trkseg></trk></gpx>')


def screen(folder, circuits, threads, day):
    """Seconds, processor seconds, peak MiB."""
    return run([str(PROGRAMS / 'brant-screen'), str(folder / 'dem.tif'), *map(str, circuits),
                '-o', str(folder / 'table.csv'), '--quiet', '--threads', str(threads), *day])


def further(folder, day):
    """What the first circuit around one place costs, and each one after it."""
    near = sorted((folder / 'near').iterdir())
    first, half, many = (screen(folder, near[:count], 1, day) for count in (1, NEAR // 2, NEAR))
    each = (many[1] - half[1]) / (NEAR - NEAR // 2)
    print(f'  around one place: the first {first[1]:.2f} s of processor time, a further one '
          f'{1000 * each:.1f} ms, {100 * each / first[1]:.1f} % (aim 10), {1 / each:.0f} a second '
          f'a core (aim 50), {many[2]:.0f} MiB')


def all_of_them(folder, day):
    for threads in (1, 2):
        wall, processor, peak = screen(folder, [folder / 'all'], threads, day)
        print(f'  {CIRCUITS} over the range, {threads} thread{"s"[:threads - 1]}: {wall:.1f} s, '
              f'{processor:.1f} of processor, {CIRCUITS / wall:.1f} a second, '
              f'{CIRCUITS / processor:.1f} a second of processor, {peak:.0f} MiB (aim 500)',
              flush=True)
    return processor / CIRCUITS


def loop_of_plans(folder, day):
    """Processor seconds a plan, by a sample of the circuits."""
    sample = sorted((folder / 'all').iterdir())[:PLANS]
    return sum(run([str(PROGRAMS / 'brant-plan'), str(folder / 'dem.tif'), str(path), '-d',
                    str(folder / path.stem), '--quiet', '--threads', '1', *day])[1]
               for path in sample) / len(sample)


def main():
    with tempfile.TemporaryDirectory() as name:
        folder = Path(name)
        subprocess.run([sys.executable, __file__, name], check=True)
        print(f'{CELLS} x {CELLS} cells of 10 m')
        for day, options in DAYS.items():
            print(f'{day}:', flush=True)
            further(folder, options)
            each = all_of_them(folder, options)
            alone = loop_of_plans(folder, options)
            print(f'  brant-plan {alone:.2f} s of processor a circuit: {alone / each:.1f} times '
                  f'as long (aim 5)', flush=True)


if __name__ == '__main__':
    make(Path(sys.argv[1])) if len(sys.argv) > 1 else main()
