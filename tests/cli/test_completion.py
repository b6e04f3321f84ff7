"""bash completion knows every option of every program, and what its values are."""

import os
import shutil
import subprocess
import unittest
from pathlib import Path

from brant_case import PROGRAMS, BrantCase, main
from test_options import ALL, STAGES, options_of_help

SCRIPT = Path(__file__).resolve().parents[2] / 'src' / 'tools' / 'completion.bash'


@unittest.skipUnless(shutil.which('bash'), 'no bash')
class Completion(BrantCase):
    def complete(self, *words):
        """What bash would offer for the last of `words`."""
        done = subprocess.run(
            ['bash', '-c', 'source "$1"; shift; COMP_WORDS=("$@"); COMP_CWORD=$(($# - 1)); '
             '_brant; printf "%s\\n" "${COMPREPLY[@]}"', 'bash', SCRIPT, *words],
            capture_output=True, text=True, cwd=self.dir,
            env={**os.environ, 'PATH': f'{PROGRAMS}:{os.environ["PATH"]}'})
        self.assertEqual((done.returncode, done.stderr), (0, ''))
        return done.stdout.split()

    def test_every_option(self):
        for program in STAGES + ['brant-sheet']:
            options = options_of_help(self.run_ok(program, '--help').out)
            self.assertEqual(sorted(self.complete(program, '-')), sorted(options))
            self.assertEqual(self.complete('brant', program[len('brant-'):], '-'),
                             self.complete(program, '-'))

    def test_values(self):
        (self.dir / 'model of mine.tif').touch()
        self.assertEqual(self.complete('brant-slope', '--compress', ''),
                         ['none', 'deflate', 'zstd'])
        self.assertEqual(self.complete('brant-slope', '--compress', 'z'), ['zstd'])
        self.assertEqual(self.complete('brant-slope', '--threads', ''), [])
        for words in (['-o'], ['--cog'], []):
            self.assertEqual(' '.join(self.complete('brant-slope', *words, 'mod')),
                             'model of mine.tif')

    def test_programs(self):
        names = [name[len('brant-'):] for name in ALL if name != 'brant']
        offered = self.complete('brant', '')
        for name in names:
            self.assertIn(name, offered)
        self.assertEqual(self.complete('brant', 'slo'), ['slope'])

    def test_the_script_serves_every_program(self):
        line = SCRIPT.read_text().rstrip().splitlines()[-1]
        for name in ALL:
            if name != 'brant':
                self.assertIn(name[len('brant-'):], line)


if __name__ == '__main__':
    main()
