"""Broken off: a disk that is full, signals at random moments, models cut short. However a
run ends, a file under its final name is whole, inputs are untouched, and the next run
sweeps what a killed one left.

BRANT_BREAKS sets how many moments and places of each kind are tried (default 20)."""

import os
import random
import resource
import shutil
import signal
import subprocess
import time

from brant_case import main
from fault_case import COMMANDS, FaultCase, contents

TRIES = int(os.environ.get('BRANT_BREAKS', '20'))


def sizes_up_to(most):
    """TRIES sizes of a file, each block of a small file once at the most."""
    return sorted({most * i // TRIES for i in range(TRIES)})


class FullDisk(FaultCase):
    """A limit on the size of a file ends a write in its middle, like a full disk."""

    def check(self, name):
        command = COMMANDS[name]
        reference = self.clean(command)
        refused = 0
        for number, size in enumerate(sizes_up_to(max(map(len, reference[1].values())))):
            out = self.folder(f'out{number}')
            done = self.attempt(
                command, out,
                preexec_fn=lambda: resource.setrlimit(resource.RLIMIT_FSIZE, (size, size)))
            self.assertGreaterEqual(done.returncode, 0, f'{name}, {size} bytes')
            refused += done.returncode == 1
            self.assertIsNone(self.problem(command, out, done, reference), f'{name}, {size} bytes')
        self.assertGreater(refused, 0)
        self.assertEqual(contents(self.inputs), self.before)

    def test_slope(self):
        self.check('slope')

    def test_zones(self):
        self.check('zones')

    def test_runout(self):
        self.check('runout')

    def test_route(self):
        self.check('route')

    def test_plan(self):
        self.check('plan')

    def test_screen(self):
        self.check('screen')

    def test_sheet(self):
        self.check('sheet')

    def test_a_small_disk(self):
        disk = self.folder('disk')
        mounted = subprocess.run(['mount', '-t', 'tmpfs', '-o', 'size=64k', 'tmpfs', str(disk)],
                                 capture_output=True, check=False)
        if mounted.returncode != 0:
            self.skipTest('a small tmpfs cannot be mounted here')
        try:
            done = self.attempt(COMMANDS['plan'], disk)
            self.assertEqual(done.returncode, 1, done.stderr)
            self.assertEqual(contents(disk), {})
            self.assertIn(b'No space left', done.stderr)
        finally:
            subprocess.run(['umount', str(disk)], check=True)


class Signals(FaultCase):
    def check(self, sent):
        rng = random.Random(2027)
        # brant-check has no file; brant-screen, asked to stop, leaves a table that says how far
        # it came (test_screen.py)
        left_out = ('check',) if sent == signal.SIGKILL else ('check', 'screen')
        names = [name for name in COMMANDS if name not in left_out]
        references, lasts = {}, {}
        for name in names:
            began = time.monotonic()
            references[name] = self.clean(COMMANDS[name])
            lasts[name] = time.monotonic() - began
            shutil.rmtree(self.dir / 'clean')
        number = ended = 0
        while number < TRIES or ended == 0:
            name = names[number % len(names)]
            out = self.folder(f'out{number}')
            began = time.monotonic()
            job = subprocess.Popen(self.words(COMMANDS[name], out), stdout=subprocess.PIPE,
                                   stderr=subprocess.PIPE, cwd=self.inputs)
            time.sleep(rng.uniform(0, lasts[name]))
            if job.poll() is not None:  # the machine has become quicker
                lasts[name] = min(lasts[name], time.monotonic() - began) * 0.8
            job.send_signal(sent)
            stdout, stderr = job.communicate(timeout=60)
            ended += job.returncode != 0
            number += 1
            done = subprocess.CompletedProcess(job.args, job.returncode, stdout, stderr)
            self.assertIsNone(self.problem(COMMANDS[name], out, done, references[name]), name)
        self.assertEqual(contents(self.inputs), self.before)

    def test_interrupted(self):
        self.check(signal.SIGINT)

    def test_terminated(self):
        self.check(signal.SIGTERM)

    def test_killed(self):
        self.check(signal.SIGKILL)


class CutShort(FaultCase):
    """A model that lacks its end, or a tile, makes nothing better than it is."""

    def kinds(self, folder):
        done = self.attempt(('brant-route', str(folder / 'dem.vrt'), 'tour.gpx', '-o', '-',
                             '--points', str(folder / 'points.csv')), folder)
        if done.returncode != 0:
            self.assertEqual(done.returncode, 1, done.stderr)
            self.assertFalse((folder / 'points.csv').exists())
            return None
        return [point['kind'] for point in self.read_csv(folder / 'points.csv')]

    def check(self, folder, whole):
        found = self.kinds(folder)
        if found is not None:
            self.assertEqual(len(found), len(whole))
            for before, after in zip(whole, found):
                self.assertFalse(after == 'none-found' and before != 'none-found')
        return found is None

    def world(self, name):
        """The model in a folder of its own."""
        folder = self.folder(name)
        for file in ('west.tif', 'west.tif.msk', 'east.tif', 'east.tif.aux.xml', 'dem.vrt'):
            shutil.copy(self.inputs / file, folder)
        return folder

    def cut(self, file, whole):
        """How often a shorter `file` is refused."""
        refused = 0
        for size in sizes_up_to((self.inputs / file).stat().st_size):
            folder = self.world(f'{file}-{size}')
            os.truncate(folder / file, size)
            refused += self.check(folder, whole)
            shutil.rmtree(folder)
        return refused

    def test_a_tile_cut_short(self):
        whole = self.kinds(self.world('whole'))
        self.assertIn('none-found', whole)
        for file in ('west.tif', 'east.tif'):
            self.assertGreater(self.cut(file, whole), 0)

    def test_a_side_car_cut_short(self):
        # the mask and the nodata value are said beside the files
        whole = self.kinds(self.world('whole'))
        for file in ('west.tif.msk', 'east.tif.aux.xml'):
            cuts = sizes_up_to((self.inputs / file).stat().st_size)
            self.assertEqual(self.cut(file, whole), len(cuts))

    def test_a_tile_missing(self):
        whole = self.kinds(self.world('whole'))
        for file in ('west.tif', 'east.tif', 'dem.vrt'):
            folder = self.world(file)
            (folder / file).unlink()
            self.check(folder, whole)


if __name__ == '__main__':
    main()
