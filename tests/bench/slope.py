"""Slope, aspect and class against the general tool, side by side in one run.

Generates its rasters (BRANT_BENCH_CELLS across, default 8192). Each round runs every
contender once, in turn, with the disks synced before each; the figures are medians over
the rounds, whole processes, and the ratios are of these medians. The floor is a plain
block-by-block copy of the bytes that are read and written, by the same library."""

import os
import resource
import statistics
import subprocess
import sys
import tempfile
import time
from pathlib import Path

PROGRAMS = Path(os.environ['BRANT_PROGRAMS'])
CELLS = int(os.environ.get('BRANT_BENCH_CELLS', 8192))
ROUNDS = int(os.environ.get('BRANT_BENCH_ROUNDS', 5))
TILED = ['-co', 'TILED=YES']
DEFLATE = TILED + ['-co', 'COMPRESS=DEFLATE', '-co', 'NUM_THREADS=2']


def generate(path, cells):
    """Relief of five wavelengths on a 10 m grid, written block row by block row. In a process
    of its own: a child's peak memory counts from what its parent has."""
    import numpy as np
    from osgeo import gdal, osr
    gdal.UseExceptions()
    srs = osr.SpatialReference()
    srs.ImportFromEPSG(32632)
    out = gdal.GetDriverByName('GTiff').Create(str(path), cells, cells, 1, gdal.GDT_Float32,
                                               ['TILED=YES', 'BIGTIFF=IF_SAFER'])
    out.SetProjection(srs.ExportToWkt())
    out.SetGeoTransform((400000, 10, 0, 5300000, 0, -10))
    x = np.arange(cells, dtype=np.float32) * 10
    rng = np.random.default_rng(1)
    waves = [(length, height, *rng.uniform(0, 6.28, 2)) for length, height in
             ((9000, 500), (3100, 220), (970, 60), (310, 14), (90, 3))]
    for row in range(0, cells, 256):
        y = (np.arange(row, min(row + 256, cells), dtype=np.float32) * 10)[:, None]
        z = np.full((len(y), cells), 1800, np.float32)
        for length, height, turn, phase in waves:
            along = (x * np.cos(turn) + y * np.sin(turn)) * (6.2832 / length)
            across = (y * np.cos(turn) - x * np.sin(turn)) * (6.2832 / length)
            z += height * np.sin(along + phase) * np.cos(0.7 * across)
        z += rng.standard_normal(z.shape, np.float32) * 0.3
        out.GetRasterBand(1).WriteArray(z, 0, row)


def run(commands, together=False):
    """Seconds for the commands, in turn or together, and the largest peak in MiB (the sum if
    together)."""
    os.sync()
    start = time.monotonic()
    peaks = []
    running = []
    for command, env in commands:
        running.append(subprocess.Popen(command, env={**os.environ, **env},
                                        stdout=subprocess.DEVNULL))
        if not together:
            peaks.append(wait(running.pop()))
    peaks += [wait(process) for process in running]
    return time.monotonic() - start, sum(peaks) if together else max(peaks)


def wait(process):
    _, status, usage = os.wait4(process.pid, 0)
    process.returncode = os.waitstatus_to_exitcode(status)
    if process.returncode != 0:
        sys.exit(f'{process.args}: exit status {process.returncode}')
    return usage.ru_maxrss / 1024


def contenders(folder, dem):
    def path(name):
        return str(folder / name)

    def ours(compress, threads=2):
        return [([str(PROGRAMS / 'brant-slope'), dem, '-o', path('s.tif'), '--aspect',
                  path('a.tif'), '--class', path('c.tif'), '--quiet', '--threads', str(threads),
                  *compress], {})]

    def general(options, env):
        return [(['gdaldem', what, '-q', dem, path(f'g_{what}.tif'), *options], env)
                for what in ('slope', 'aspect')]

    return {
        'brant-slope, uncompressed': (ours(['--compress', 'none']), False),
        'gdaldem slope, then aspect': (general(TILED, {}), False),
        'both at once, GDAL_CACHEMAX=64': (general(TILED, {'GDAL_CACHEMAX': '64'}), True),
        'brant-slope, as it comes': (ours([]), False),
        'gdaldem in turn, DEFLATE, 2 threads': (general(DEFLATE, {}), False),
        'brant-slope, uncompressed, 1 thread': (ours(['--compress', 'none'], 1), False),
        'plain copy of the same bytes': ([([os.environ['BRANT_BENCH_COPY'], dem, path('f1.tif'),
                                           path('f2.tif'), path('f3.tif')], {})], False),
    }


def main():
    with tempfile.TemporaryDirectory() as name:
        folder = Path(name)
        dem = folder / 'dem.tif'
        subprocess.run([sys.executable, __file__, str(dem)], check=True)
        rivals = contenders(folder, str(dem))
        seconds = {name: [] for name in rivals}
        peak = {name: 0 for name in rivals}
        for _ in range(ROUNDS):
            for name, (commands, together) in rivals.items():
                for old in folder.glob('[!d]*.tif*'):
                    old.unlink()
                took, most = run(commands, together)
                seconds[name].append(took)
                peak[name] = max(peak[name], most)
    median = {name: statistics.median(values) for name, values in seconds.items()}
    print(f'{CELLS} x {CELLS} cells, {ROUNDS} rounds, medians of whole processes')
    for name in rivals:
        print(f'{name:38} {median[name]:7.2f} s {CELLS * CELLS / median[name] / 1e6:7.1f} M cells/s'
              f' {peak[name]:6.0f} MiB')
    for ours, theirs, aim in (
            ('brant-slope, uncompressed', 'gdaldem slope, then aspect', 12),
            ('brant-slope, uncompressed', 'both at once, GDAL_CACHEMAX=64', 4),
            ('brant-slope, as it comes', 'gdaldem in turn, DEFLATE, 2 threads', 4)):
        print(f'{median[theirs] / median[ours]:5.1f} times as fast as {theirs} (aim {aim})')


if __name__ == '__main__':
    generate(sys.argv[1], CELLS) if len(sys.argv) > 1 else main()
