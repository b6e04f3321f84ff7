"""The rules of the house that a compiler does not know: which room may use
which, that each public header compiles alone, and what no room may do.

Run with BRANT_SOURCE (the source folder) and BRANT_LIBRARY (libbrant as built, to
look at what it exports); CC is the C compiler (default cc).
The checks are also run against planted faults, so that they are known to bite.
"""

import os
import re
import subprocess
import tempfile
import unittest
from pathlib import Path

SOURCE = Path(os.environ.get('BRANT_SOURCE', Path(__file__).resolve().parents[2]))

# Data flows down the list; no room uses one below it.
ROOMS = ['base', 'grid', 'terrain', 'runout', 'day', 'tour', 'store', 'report', 'plan', 'tools']

# The rooms that may know a library, by the beginning of its headers' names.
KNOWN_BY = {
    'gdal': ['store'], 'cpl_': ['store'], 'ogr': ['store'],
    'proj': ['grid'], 'geodesic': ['grid'], 'expat': ['tour'],
    'geo_': ['store'], 'geotiff': ['store'], 'cairo': ['report'], 'pango': ['report'],
}

# What no room of the library may call: it prints nothing, never ends the
# process, and changes no state that is its caller's.
# (GDALSetCacheMax64 has one place, which only programs call: src/store/cache.c.)
FORBIDDEN_CALLS = [
    'setlocale', 'printf', 'puts', 'putchar', 'vprintf', 'perror',
    'exit', '_exit', '_Exit', 'quick_exit', 'abort',
    'CPLSetConfigOption', 'CPLSetConfigOptions', 'CPLSetErrorHandler', 'GDALSetCacheMax',
    'GDALSetCacheMax64', 'GDALDestroyDriverManager', 'OSRSetPROJSearchPaths',
    'chdir', 'umask', 'putenv', 'setenv', 'unsetenv', 'strtok', 'rand', 'srand',
]

# Flags that make a NaN void pass for terrain, or results differ by machine.
FORBIDDEN_FLAGS = ['-ffast-math', '-Ofast', '-funsafe-math-optimizations',
                   '-ffinite-math-only', '-fassociative-math', '-march=native']


def code_only(text):
    """The text of a C file without comments; literals emptied."""
    pattern = re.compile(r'//[^\n]*|/\*.*?\*/|"(?:\\.|[^"\\\n])*"|\'(?:\\.|[^\'\\\n])*\'', re.S)

    def blank(match):
        found = match.group(0)
        if found[0] == '/':
            return '\n' * found.count('\n') or ' '
        return found[0] * 2

    return pattern.sub(blank, text)


def includes(text):
    """(line number, name, quoted) of each #include."""
    for number, line in enumerate(text.splitlines(), 1):
        match = re.match(r'\s*#\s*include\s*(["<])([^">]+)[">]', line)
        if match:
            yield number, match.group(2), match.group(1) == '"'


def files_of(source, room):
    files = sorted(p for p in (source / 'src' / room).glob('**/*') if p.suffix in ('.c', '.h'))
    header = source / 'include' / 'brant' / (room + '.h')
    return files + ([header] if header.exists() else [])


def wrong_include(source, room, path, name, quoted):
    """What is wrong with an include, or None."""
    if name.startswith('brant/'):
        other = name[len('brant/'):-len('.h')]
        if other not in ROOMS:
            return f'{name} is no room'
        if ROOMS.index(other) > ROOMS.index(room):
            return f'room {room} uses {other}, which is below it'
        return None
    if quoted and not (path.parent / name).exists():
        return f'"{name}" is not in its own room'
    if quoted and (path.parent / name).resolve().parent != path.parent.resolve():
        return f'"{name}" is in another folder'
    for beginning, rooms in KNOWN_BY.items():
        if not quoted and name.startswith(beginning) and room not in rooms:
            return f'<{name}> is for {" and ".join(rooms)} only'
    return None


def room_faults(source):
    faults = []
    for room in ROOMS:
        for path in files_of(source, room):
            for number, name, quoted in includes(path.read_text(encoding='utf-8')):
                wrong = wrong_include(source, room, path, name, quoted)
                if wrong:
                    faults.append(f'{path.relative_to(source)}:{number}: {wrong}')
    return faults


def call_faults(source):
    faults = []
    call = re.compile(r'(?<![\w.>])(' + '|'.join(FORBIDDEN_CALLS) + r')\s*\(')
    stream = re.compile(r'\b(stdout|stderr)\b')
    for room in ROOMS:
        if room == 'tools':
            continue
        for path in files_of(source, room):
            code = code_only(path.read_text(encoding='utf-8'))
            for number, line in enumerate(code.splitlines(), 1):
                found = [name for name in call.findall(line)
                         if (name, path.name) != ('GDALSetCacheMax64', 'cache.c')]
                # standard output is a target like any other for the store room
                if room != 'store':
                    found += stream.findall(line)
                faults += [f'{path.relative_to(source)}:{number}: {name}' for name in found]
    return faults


def flag_faults(source):
    faults = []
    for path in [p for p in source.glob('**/meson.build') if '.git' not in p.parts] + \
            [p for p in (source / '.ci').glob('*') if p.is_file()]:
        for number, line in enumerate(path.read_text(encoding='utf-8').splitlines(), 1):
            line = line.split('#')[0]
            faults += [f'{path.relative_to(source)}:{number}: {flag}'
                       for flag in FORBIDDEN_FLAGS if flag in line]
    return faults


def compile_alone(source, header, extra=()):
    """Compile a public header on its own, twice over; the compiler's complaint."""
    with tempfile.TemporaryDirectory() as folder:
        unit = Path(folder) / 'alone.c'
        unit.write_text(f'#include "brant/{header}"\n#include "brant/{header}"\n'
                        'extern int alone;\n')
        done = subprocess.run(
            os.environ.get('CC', 'cc').split() +
            ['-std=c11', '-Wall', '-Wextra', '-Werror', '-Wpedantic', '-Wundef',
             '-Wstrict-prototypes', '-fsyntax-only', '-I', str(source / 'include'), *extra,
             str(unit)], capture_output=True, text=True)
        return done.stderr if done.returncode else ''


def declared_names(source):
    """Functions and variables that the public headers declare."""
    names = set()
    for header in (source / 'include' / 'brant').glob('*.h'):
        code = code_only(header.read_text(encoding='utf-8'))
        code = re.sub(r'typedef[^;{]*;', '', code)
        names.update(re.findall(r'\b(brant_\w+)\s*\((?!\*)', code))
        names.update(re.findall(r'^extern [^;(]*?(brant_\w+)(?:\[[^]]*\])*;', code, re.M))
    return names


def exported_names(library):
    """What a shared library defines for others; the tool chain's own names begin
    with an underscore."""
    done = subprocess.run(['nm', '-D', '--defined-only', str(library)], capture_output=True,
                          text=True, check=True)
    names = {line.split()[-1] for line in done.stdout.splitlines()}
    return {name for name in names if not name.startswith('_')}


class House(unittest.TestCase):
    def test_no_room_uses_one_below_it(self):
        self.assertEqual(room_faults(SOURCE), [])

    def test_every_folder_is_a_room(self):
        folders = sorted(p.name for p in (SOURCE / 'src').iterdir() if p.is_dir())
        self.assertEqual([f for f in folders if f not in ROOMS], [])
        headers = sorted(p.stem for p in (SOURCE / 'include' / 'brant').glob('*.h'))
        self.assertEqual([h for h in headers if h not in ROOMS], [])

    def test_the_build_has_the_same_order(self):
        text = (SOURCE / 'src' / 'meson.build').read_text(encoding='utf-8')
        order = re.search(r'room_order\s*=\s*\[([^\]]*)\]', text).group(1)
        self.assertEqual(re.findall(r"'(\w+)'", order), ROOMS[:-1])

    def test_library_rooms_print_nothing_and_end_nothing(self):
        self.assertEqual(call_faults(SOURCE), [])

    def test_no_flag_loses_a_void(self):
        self.assertEqual(flag_faults(SOURCE), [])

    def test_each_public_header_compiles_alone(self):
        headers = sorted(p.name for p in (SOURCE / 'include' / 'brant').glob('*.h'))
        self.assertGreater(len(headers), 0)
        for header in headers:
            with self.subTest(header=header):
                self.assertEqual(compile_alone(SOURCE, header), '')


    def test_the_library_exports_what_the_headers_declare(self):
        exported = exported_names(os.environ['BRANT_LIBRARY'])
        self.assertEqual(sorted(exported ^ declared_names(SOURCE)), [])


class TheChecksBite(unittest.TestCase):
    """The same checks on a small house with one fault in it."""

    def setUp(self):
        folder = tempfile.TemporaryDirectory()
        self.addCleanup(folder.cleanup)
        self.source = Path(folder.name)
        for room in ROOMS:
            (self.source / 'src' / room).mkdir(parents=True)
        (self.source / 'include' / 'brant').mkdir(parents=True)
        (self.source / '.ci').mkdir()

    def plant(self, path, text):
        (self.source / path).write_text(text, encoding='utf-8')

    def test_a_sound_house_passes(self):
        self.plant('include/brant/grid.h', '#include "brant/base.h"\n')
        self.plant('src/tour/x.h', '')
        self.plant('src/tour/x.c', '#include "x.h"\n#include "brant/day.h"\n#include <expat.h>\n'
                   '/* never exit() */ const char *s = "printf(";\nfprint_exit(1);\n')
        self.plant('src/tools/t.c', 'int main(void) { exit(0); }\n')
        self.assertEqual(room_faults(self.source), [])
        self.assertEqual(call_faults(self.source), [])

    def test_upward_call_of_a_header(self):
        self.plant('include/brant/grid.h', '#include "brant/terrain.h"\n')
        self.assertEqual(room_faults(self.source), [
            'include/brant/grid.h:1: room grid uses terrain, which is below it'])

    def test_upward_call_of_a_source(self):
        self.plant('src/runout/r.c', '\n#  include <brant/store.h>\n')
        self.assertEqual(room_faults(self.source), [
            'src/runout/r.c:2: room runout uses store, which is below it'])

    def test_a_neighbour_s_private_header(self):
        self.plant('src/grid/private.h', '')
        self.plant('src/terrain/t.c', '#include "../grid/private.h"\n')
        self.assertEqual(len(room_faults(self.source)), 1)

    def test_gdal_outside_the_store(self):
        self.plant('src/plan/p.c', '#include <gdal.h>\n')
        self.assertEqual(len(room_faults(self.source)), 1)

    def test_printing_and_ending(self):
        self.plant('src/day/d.c', 'printf("x");\nexit (1);\nfputs(t, stderr);\n'
                   'setlocale(LC_ALL, "");\n')
        self.assertEqual(call_faults(self.source), [
            'src/day/d.c:1: printf', 'src/day/d.c:2: exit', 'src/day/d.c:3: stderr',
            'src/day/d.c:4: setlocale'])

    def test_fast_math(self):
        self.plant('src/meson.build', "add_project_arguments('-ffast-math')\n# -Ofast\n")
        self.assertEqual(flag_faults(self.source), ['src/meson.build:1: -ffast-math'])

    def test_declared_names(self):
        self.plant('include/brant/base.h', 'typedef int (*brant_fn)(int);\n'
                   'typedef struct brant_s { brant_t (*read)(int); } brant_s;\n'
                   'extern const char brant_text[];\n'
                   '/* brant_gone(x) */\nint brant_count(brant_s *s)\n    BRANT_PRINTF(3, 4);\n')
        self.assertEqual(declared_names(self.source), {'brant_text', 'brant_count'})

    def test_a_header_that_leans_on_another(self):
        self.plant('include/brant/base.h', 'size_t brant_count(void);\n')
        self.assertIn('size_t', compile_alone(self.source, 'base.h'))


if __name__ == '__main__':
    unittest.main(verbosity=2)
