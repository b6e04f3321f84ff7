"""Slope, aspect and class against the general tool, side by side in one run.

Generates its rasters (BRANT_BENCH_CELLS across, default 8192). Each round runs every
contender once, in turn (BRANT_BENCH_ROUNDS, default 5), with the disks synced before each;
the figures are medians over the rounds, whole processes, and the ratios are medians of the
rounds' own. brant-slope syncs what it wrote, the general tool does not: `on disk` counts the
sync after each of them as well. The floor is a plain block-by-block copy of the bytes that
are read and written, by the same library.

BRANT_BENCH_LARGE=1 runs, instead, brant-slope over a raster four times as wide and high (14 GB
of disk for 32,768 cells) in tiles, in one-row strips and compressed: time per cell against
the raster of the usual size, and peak memory."""

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
    """Seconds for the commands, in turn or together; until what they wrote is on the disk;
    processor seconds; and the largest peak in MiB (the sum if together)."""
    os.sync()
    start = time.monotonic()
    before = processor_seconds()
    peaks = []
    running = []
    for command, env in commands:
        running.append(subprocess.Popen(command, env={**os.environ, **env},
                                        stdout=subprocess.DEVNULL))
        if not together:
            peaks.append(wait(running.pop()))
    peaks += [wait(process) for process in running]
    took = time.monotonic() - start
    work = processor_seconds() - before
    os.sync()
    return took, time.monotonic() - start, work, sum(peaks) if together else max(peaks)


def processor_seconds():
    """Of all children that have ended."""
    usage = resource.getrusage(resource.RUSAGE_CHILDREN)
    return usage.ru_utime + usage.ru_stime


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


def make(path, cells):
    subprocess.run([sys.executable, __file__, str(path), str(cells)], check=True)


def clear(folder):
    for old in folder.glob('[!d]*.tif*'):
        old.unlink()


def compare(folder, dem):
    rivals = contenders(folder, str(dem))
    took = {name: [] for name in rivals}
    for _ in range(ROUNDS):
        for name, (commands, together) in rivals.items():
            clear(folder)
            took[name].append(run(commands, together))
    print(f'{CELLS} x {CELLS} cells, {ROUNDS} rounds, medians of whole processes')
    print(f'{"":38}{"seconds":>8}{"on disk":>9}{"cpu":>7}{"M cells/s":>11}{"MiB":>6}')
    for name, runs in took.items():
        seconds, synced, work, _ = (statistics.median(column) for column in zip(*runs))
        rate, peak = CELLS * CELLS / seconds / 1e6, max(r[3] for r in runs)
        print(f'{name:38}{seconds:8.2f}{synced:9.2f}{work:7.2f}{rate:11.1f}{peak:6.0f}')
    for ours, theirs, aim in (
            ('brant-slope, uncompressed', 'gdaldem slope, then aspect', 12),
            ('brant-slope, uncompressed', 'both at once, GDAL_CACHEMAX=64', 4),
            ('brant-slope, as it comes', 'gdaldem in turn, DEFLATE, 2 threads', 4)):
        ratios = [statistics.median(b[i] / a[i] for a, b in zip(took[ours], took[theirs]))
                  for i in range(3)]
        print(f'{ratios[0]:5.1f} times as fast as {theirs} (aim {aim}); on disk {ratios[1]:.1f}, '
              f'processor time {ratios[2]:.1f}')


def cut_anew(dem, path, options):
    """The source then leaves the page cache: with both there the kernel's search for free pages
    would be what is measured."""
    subprocess.run(['gdal_translate', '-q', str(dem), str(path), '-co', 'BIGTIFF=YES', *options],
                   check=True)
    os.sync()
    with open(dem, 'rb') as source:
        os.posix_fadvise(source.fileno(), 0, 0, os.POSIX_FADV_DONTNEED)


def large(folder, dem):
    """The same work on a large raster, however it is cut: per cell, and in what memory."""
    def slope(path):
        clear(folder)
        return run([([str(PROGRAMS / 'brant-slope'), str(path), '-o', str(folder / 's.tif'),
                      '--aspect', str(folder / 'a.tif'), '--class', str(folder / 'c.tif'),
                      '--quiet', '--threads', '2', '--compress', 'none'], {})])

    def compared(name, path):
        usual, wide = slope(dem), slope(path)
        print(f'{name:12} {wide[0]:7.2f} s, {wide[0] / usual[0] / 16:5.2f} of the usual time per '
              f'cell (processor time {wide[2] / usual[2] / 16:.2f}), {wide[3]:.0f} MiB '
              f'({usual[3]:.0f})', flush=True)

    tiles = folder / 'dem_large.tif'
    make(tiles, 4 * CELLS)
    compared('tiles', tiles)
    for name, options in (('one-row', ['-co', 'BLOCKYSIZE=1']),
                          ('compressed', [*TILED, '-co', 'COMPRESS=DEFLATE', '-co', 'ZLEVEL=1',
                                          '-co', 'NUM_THREADS=2'])):
        clear(folder)
        other = folder / 'dem_other.tif'
        cut_anew(tiles, other, options)
        compared(name, other)
        other.unlink()


def main():
    with tempfile.TemporaryDirectory() as name:
        folder = Path(name)
        dem = folder / 'dem.tif'
        make(dem, CELLS)
        (large if os.environ.get('BRANT_BENCH_LARGE') == '1' else compare)(folder, dem)


if __name__ == '__main__':
    generate(sys.argv[1], int(sys.argv[2])) if len(sys.argv) > 1 else main()
