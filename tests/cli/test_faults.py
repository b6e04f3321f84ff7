"""Nothing lost, nothing half-written, nothing silently other: every program with one call
that fails (faults.c: allocations, opens, reads, writes, syncs, closes, renames, thread
starts), alone and with all that follow it.

After each: exit 0 with the very bytes of the run without a fault, or exit 1 with one line
that says why; under a final name nothing or the whole; inputs untouched; a staging folder
that had to be left is gone after the next run.

BRANT_FAULTS=all tries every call (an hour on two cores); else some calls of each kind,
spread over the run."""

import os
import shutil
import signal
from collections import Counter
from concurrent.futures import ThreadPoolExecutor

import numpy as np

from brant_case import main
from fault_case import COMMANDS, FaultCase, contents

LIBRARY = {'LD_PRELOAD': os.environ['BRANT_FAULTS_LIBRARY']}
TRIES = os.environ.get('BRANT_FAULTS', '4')
KINDS = ('alloc', 'open', 'read', 'write', 'sync', 'close', 'rename', 'thread')


def spread(count, tries):
    """The calls to fail: all, or `tries` of them evenly over 1..count."""
    if tries == 'all' or count <= int(tries):
        return range(1, count + 1)
    return sorted({round(x) for x in np.linspace(1, count, int(tries))})


class Faults(FaultCase):
    def judge(self, command, reference, fault, threads, number):
        """One fault; what is wrong, or None."""
        out = self.folder(f'out{number}')
        done = self.attempt(command, out, threads, {**LIBRARY, 'BRANT_FAULT': fault})
        wrong = self.problem(command, out, done, reference, threads)
        if not wrong and done.returncode < 0:
            wrong = f'signal {-done.returncode}'
        return wrong and f'{command[0]} {fault}: {wrong}\n{done.stderr.decode(errors="replace")}'

    def check(self, name, threads=1, kinds=KINDS, tries=TRIES, lasting=('', '+')):
        command = COMMANDS[name]
        count = self.dir / 'count'
        reference = self.clean(command, threads, {**LIBRARY, 'BRANT_FAULT_COUNT': str(count)})
        counts = {kind: int(calls) for kind, calls in
                  (line.split() for line in count.read_text().splitlines())}
        self.assertGreater(counts['open'], 0, 'the faults are not in the program')
        faults = [f'{kind}:{n}{stays}' for kind in kinds for n in spread(counts[kind], tries)
                  for stays in lasting]
        with ThreadPoolExecutor(os.cpu_count()) as pool:
            problems = [p for p in pool.map(
                lambda job: self.judge(command, reference, job[1], threads, job[0]),
                enumerate(faults)) if p]
        tried = Counter(fault.split(':')[0] for fault in faults)
        print(f'{name}: {len(faults)} faults in {sum(counts.values())} calls: ' +
              ', '.join(f'{kind} {tried[kind]} in {counts[kind]}' for kind in kinds), flush=True)
        self.assertEqual(problems, [], '\n'.join(problems[:20]))
        self.assertEqual(contents(self.inputs), self.before)

    def test_each_write_of_steepness(self):
        # class names go into a side-car at closing, and nobody is told if that fails
        self.check('slope', kinds=('write',), tries='all')

    def test_each_open_of_a_masked_mosaic(self):
        # a mask that cannot be opened just then is no error to GDAL
        self.check('check', kinds=('open',), tries='all', lasting=('',))

    def test_each_open_of_the_sheet(self):
        # without a font's file pango draws nothing and goes on
        self.check('sheet', kinds=('open',), tries='all', lasting=('',))

    def test_check(self):
        self.check('check')

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

    def test_a_signal_at_the_very_end(self):
        for name, command in COMMANDS.items():
            reference = self.clean(command, 1, LIBRARY)
            shutil.rmtree(self.dir / 'clean')
            for number in (signal.SIGINT, signal.SIGTERM, signal.SIGHUP):
                fault = f'late:{int(number)}'
                self.assertIsNone(self.judge(command, reference, fault, 1, fault), name)

    def test_few_threads(self):
        # GDAL waits for ever for a thread of its own that could not be started
        reference = self.clean(COMMANDS['slope'], 2, LIBRARY)
        for limit in range(6):
            self.assertIsNone(self.judge(COMMANDS['slope'], reference, f'limit:{limit}', 2, limit))

    def check_few_threads_for_fonts(self, command):
        # pango ends the process where it cannot start one
        reference = self.clean(command, 1, LIBRARY)
        refused = self.attempt(command, self.folder('out'), 1,
                               {**LIBRARY, 'BRANT_FAULT': 'limit:0'})
        self.assertEqual(refused.returncode, 1, refused.stderr)
        for limit in (1, 12, 24, 31, 32, 40):
            self.assertIsNone(self.judge(command, reference, f'limit:{limit}', 1, limit))

    def test_few_threads_for_fonts(self):
        self.check_few_threads_for_fonts(COMMANDS['sheet'])

    def test_few_threads_for_fonts_of_plan(self):
        self.check_few_threads_for_fonts(COMMANDS['plan'])

    def test_plan_on_two_threads(self):
        self.check('plan', threads=2)


if __name__ == '__main__':
    main()
