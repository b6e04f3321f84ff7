"""Programs as they are built for use: mistakes that slip through are stopped, not exploited.

Run with BRANT_PROGRAMS (the folder of the programs) and BRANT_LIBRARY (libbrant as built);
CC is the C compiler (default cc). What readelf tells is also asked of a program that was
built without any of it, so that each check is known to bite."""

import os
import re
import shlex
import subprocess
import tempfile
import unittest
from pathlib import Path

PROGRAMS = Path(os.environ.get('BRANT_PROGRAMS', 'build/src/tools'))
LIBRARY = Path(os.environ.get('BRANT_LIBRARY', 'build/src/libbrant.so'))

# What is missing, and how its presence is told: by readelf's option, a pattern, and whether
# that must be there. Stack clash and control-flow protection leave no such mark.
MARKS = (
    ('load address of its own choice (PIE)', '-d', r'\(FLAGS_1\).*\bPIE\b', True),
    ('all symbols bound at the start', '-d', r'\(FLAGS_1\).*\bNOW\b', True),
    ('relocations read-only', '-l', r'\bGNU_RELRO\b', True),
    ('stack without code', '-l', r'\bGNU_STACK\b.*\bRWE\b', False),
    ('stack protector', '--dyn-syms', r'\b__stack_chk_fail\b', True),
    ('checked copies (_FORTIFY_SOURCE)', '--dyn-syms', r'\b__(?!stack)\w+_chk\b', True),
)


def missing(path, marks=MARKS):
    found = {option: subprocess.run(['readelf', '--wide', option, str(path)], check=True,
                                    capture_output=True, text=True).stdout
             for option in {mark[1] for mark in marks}}
    return [name for name, option, pattern, wanted in marks
            if bool(re.search(pattern, found[option])) != wanted]


class Hardening(unittest.TestCase):
    def test_programs(self):
        programs = [path for path in sorted(PROGRAMS.glob('brant*')) if path.is_file()]
        self.assertIn('brant-plan', [path.name for path in programs])
        for path in programs:
            with self.subTest(program=path.name):
                self.assertEqual(missing(path), [])

    def test_library(self):
        self.assertEqual(missing(LIBRARY, MARKS[1:]), [])

    def test_a_program_without(self):
        with tempfile.TemporaryDirectory() as folder:
            source = Path(folder) / 'plain.c'
            source.write_text('int main(void) { return 0; }\n')
            subprocess.run([*shlex.split(os.environ.get('CC', 'cc')), str(source), '-o',
                            f'{folder}/plain', '-no-pie', '-fno-stack-protector',
                            '-Wl,-z,norelro', '-Wl,-z,lazy', '-Wl,-z,execstack'], check=True,
                           capture_output=True)
            told = missing(f'{folder}/plain')
        self.assertEqual(told, [mark[0] for mark in MARKS])


if __name__ == '__main__':
    unittest.main()
