"""The printed sheet: what stands on it, read back with poppler's tools and from the PDF's
own page streams; and what is refused."""

import json
import math
import re
import shutil
import subprocess
import tempfile
import zlib
from datetime import datetime, timedelta
from pathlib import Path

from brant_case import DEMO_DEM, DEMO_GPX, PROGRAMS, TESTDATA, BrantCase, main

A4, LETTER = (595.276, 841.89), (612.0, 792.0)
DAY = ['--bulletin', TESTDATA / 'quern_bulletin.json', '--start', '2027-02-13T06:30+01:00']

NAMES = ['Käsgrat – Größtes "Øyfjellet" <&>, Пик Кристалл',
         '雪山 縦走 \U0001F3BF הר השלג جبل الثلج e' + '\u0301' * 40 + ' ' + 'x' * 200]


def geodesic(lon1, lat1, lon2, lat2):
    """Metres and azimuth on WGS 84 by Vincenty's inverse formula (Survey Review 23, 1975)."""
    a, f = 6378137.0, 1 / 298.257223563
    b = a * (1 - f)
    u1, u2 = (math.atan((1 - f) * math.tan(math.radians(x))) for x in (lat1, lat2))
    length = lam = math.radians(lon2 - lon1)
    for _ in range(50):
        sin_s = math.hypot(math.cos(u2) * math.sin(lam), math.cos(u1) * math.sin(u2) -
                           math.sin(u1) * math.cos(u2) * math.cos(lam))
        cos_s = math.sin(u1) * math.sin(u2) + math.cos(u1) * math.cos(u2) * math.cos(lam)
        sigma = math.atan2(sin_s, cos_s)
        sin_a = math.cos(u1) * math.cos(u2) * math.sin(lam) / sin_s
        cos2 = 1 - sin_a ** 2
        cos_m = cos_s - 2 * math.sin(u1) * math.sin(u2) / cos2 if cos2 else 0
        c = f / 16 * cos2 * (4 + f * (4 - 3 * cos2))
        lam = length + (1 - c) * f * sin_a * (sigma + c * sin_s * (
            cos_m + c * cos_s * (2 * cos_m ** 2 - 1)))
    k = cos2 * (a * a - b * b) / (b * b)
    big_a = 1 + k / 16384 * (4096 + k * (-768 + k * (320 - 175 * k)))
    big_b = k / 1024 * (256 + k * (-128 + k * (74 - 47 * k)))
    delta = big_b * sin_s * (cos_m + big_b / 4 * (
        cos_s * (2 * cos_m ** 2 - 1) - big_b / 6 * cos_m * (4 * sin_s ** 2 - 3) *
        (4 * cos_m ** 2 - 3)))
    azimuth = math.atan2(math.cos(u2) * math.sin(lam), math.cos(u1) * math.sin(u2) -
                         math.sin(u1) * math.cos(u2) * math.cos(lam))
    return b * big_a * (sigma - delta), math.degrees(azimuth) % 360


def pages_of(pdf):
    """Its text, page by page, firm blanks as blanks."""
    text = subprocess.run(['pdftotext', '-layout', pdf, '-'], capture_output=True, check=True)
    return text.stdout.decode('utf-8', 'replace').replace('\xa0', ' ').split('\f')[:-1]


def text_of(pdf):
    return '\n'.join(pages_of(pdf))


def words_of(pdf):
    """[(page, left, top, word)]."""
    html = subprocess.run(['pdftotext', '-bbox', pdf, '-'], capture_output=True, check=True)
    found, page = [], 0
    for line in html.stdout.decode('utf-8', 'replace').splitlines():
        page += '<page ' in line
        match = re.search(r'<word xMin="([\d.]+)" yMin="([\d.]+)".*?>(.*)</word>', line)
        if match:
            found.append((page, float(match.group(1)), float(match.group(2)), match.group(3)))
    return found


def words_with_boxes(pdf):
    """[(page, (left, top, right, bottom), word)] of the pages without a map, whose heights
    lie aslant."""
    html = subprocess.run(['pdftotext', '-bbox', '-f', '2', pdf, '-'], capture_output=True,
                          check=True).stdout.decode('utf-8', 'replace')
    found, page = [], 1
    for line in html.splitlines():
        page += '<page ' in line
        match = re.search(r'xMin="(.*?)" yMin="(.*?)" xMax="(.*?)" yMax="(.*?)">(.*)</word>', line)
        if match:
            found.append((page, tuple(map(float, match.groups()[:4])), match.group(5)))
    return found


def page_size(pdf):
    info = subprocess.run(['pdfinfo', pdf], capture_output=True, check=True).stdout.decode()
    width, height = re.search(r'Page size: +([\d.]+) x ([\d.]+)', info).groups()
    return (float(width), float(height)), int(re.search(r'Pages: +(\d+)', info).group(1))


def font_sizes(pdf):
    """The heights of all text shown, in points: the font's size, times the length of the
    text matrix's and the current matrix's y axis (ISO 32000: Tf, Tm, cm), as the page
    streams have them."""
    sizes = set()
    for stream in re.findall(rb'stream\r?\n(.*?)\r?\nendstream', Path(pdf).read_bytes(), re.S):
        try:
            content = zlib.decompress(stream).decode('latin-1')
        except zlib.error:
            continue
        if ' Tf' not in content:
            continue
        scale, height, kept, numbers = 1.0, 1.0, [], []
        for word in re.sub(r'<[0-9a-f]*>|\((?:\\.|[^)\\])*\)', ' ', content).split():
            if re.fullmatch(r'-?\d*\.?\d+', word):
                numbers.append(float(word))
                continue
            if word == 'q':
                kept.append(scale)
            elif word == 'Q':
                scale = kept.pop()
            elif word == 'cm':
                scale *= math.hypot(*numbers[-4:-2])
            elif word == 'Tm':
                height = math.hypot(*numbers[-4:-2])
            elif word == 'Tf':
                sizes.add(round(numbers[-1] * height * scale, 3))
            if not word.startswith('/'):
                numbers = []
    return sizes


def setUpModule():
    """The demo's plan, with a day and without, for all tests."""
    SheetCase.top = Path(tempfile.mkdtemp(prefix='brant-test-'))
    SheetCase.tour, SheetCase.bare = SheetCase.top / 'tour', SheetCase.top / 'bare'
    for folder, day in ((SheetCase.tour, DAY), (SheetCase.bare, [])):
        subprocess.run([PROGRAMS / 'brant-plan', DEMO_DEM, DEMO_GPX, '-d', folder, '--quiet',
                        *day], check=True, stdout=subprocess.DEVNULL)
    SheetCase.plan = json.loads((SheetCase.tour / 'plan.json').read_text())


def tearDownModule():
    shutil.rmtree(SheetCase.top)


class SheetCase(BrantCase):
    def sheet(self, folder, name, *options, **how):
        self.run_ok('brant-sheet', folder, '-o', self.dir / name, *options, **how)
        return self.dir / name

    def changed(self, change):
        """A copy of the tour's folder with its plan changed."""
        folder = self.dir / 'changed'
        shutil.copytree(self.tour, folder)
        plan = json.loads((folder / 'plan.json').read_text())
        change(plan)
        (folder / 'plan.json').write_text(json.dumps(plan, ensure_ascii=False), 'utf-8')
        return folder


class Content(SheetCase):
    def test_each_leg_and_hour_in_the_table(self):
        pdf = self.tour / 'sheet.pdf'
        rows = {}  # leg number: words of its row, from the words at the left margin
        for page, left, top, word in words_of(pdf):
            if page > 1 and left < 45 and word.isdigit():
                rows[int(word)] = (page, top)
        legs = self.plan['tours'][0]['legs']
        self.assertEqual(sorted(rows), [leg['leg'] for leg in legs])
        text = text_of(pdf)
        for leg in legs:
            hours = []
            for key in ('arrive', 'arrive_late'):
                moment = datetime.fromisoformat(leg[key]) + timedelta(seconds=30)
                hours.append(moment.strftime('%H:%M'))
            self.assertIn('-'.join(hours), text)
            if leg['below']:
                self.assertIn(leg['below'].split()[0], text)

    def test_order_and_words(self):
        pages = pages_of(self.tour / 'sheet.pdf')
        text = '\n'.join(pages)
        at = -1
        for words in ('Ostler Horn from Fallow Hut', 'MODEL', 'BULLETIN', 'ROUTE', 'UNKNOWN', 'FIRST',
                      'km, hours', 'WAIT', 'REACH', 'SIGNS', 'KIT', 'Terrain screening'):
            self.assertGreater(text.find(words, at + 1), at, words)
            at = text.find(words, at + 1)
        caution = ' '.join(text[at:].split())
        self.assertTrue(caution.startswith(self.plan['caution']), caution)
        for page in pages:
            self.assertIn('None found is not safe.', page)
            self.assertNotIn('clear ', page.replace('a clear sky', ''))
        for item in self.plan['day']['signs'] + self.plan['day']['kit']:
            self.assertIn(item['title'], text)
        self.assertIn('leg 26 (7.81-8.03 km). Above legs of another kind: 1.7 km, legs', pages[0])
        self.assertIn('(a hole or the', text)  # why leg 26 is unknown

    def test_where_to_wait(self):
        """Not sought, none found, nothing to wait for: each says something else."""
        for waits, exposed, words in ((None, None, 'not sought: the shadow at 20'),
                                      ([], [{}], 'no place found that is outside reach'),
                                      ([], [], None)):
            def change(plan, waits=waits, exposed=exposed):
                plan['tours'][0].update(waits=waits, exposed=exposed)
            folder = self.changed(change)
            text = text_of(self.sheet(folder, 'x.pdf'))
            shutil.rmtree(folder)
            self.assertEqual('WAIT' in text, words is not None)
            self.assertIn(words or '', text)

    def test_the_worst_on_the_front(self):
        tour = self.plan['tours'][0]
        legs = {leg['leg']: leg for leg in tour['legs']}
        worst = [legs[n] for n in tour['ranked'] if legs[n]['kind'] not in ('none-found', 'unknown')]
        front = pages_of(self.tour / 'sheet.pdf')[0]
        shown, of = re.search(r'FIRST (\d) of (\d+)', front).groups()
        self.assertEqual(int(of), len(worst))
        rows = front[front.index('FIRST'):].splitlines()[1:]
        rows = [row for row in rows if re.match(r' *\d+ +[a-z]', row)][:int(shown)]
        self.assertEqual(len(rows), int(shown))
        for row, leg in zip(rows, worst):
            self.assertEqual(row.split()[:2], [str(leg['leg']), leg['kind']])
            for pair in (('arrive', 'leave'), ('arrive_late', 'leave_late')):
                hours = [(datetime.fromisoformat(leg[key]) + timedelta(seconds=30)).strftime('%H:%M')
                         for key in pair]
                self.assertIn('-'.join(hours), row)
            self.assertIn(f"{leg['zones_above']} zone", row)
            self.assertIn('OVER', row)

    def test_black_numbers(self):
        """White on black in the table: over the limit, not judged or not known, and no other."""
        pdf = self.tour / 'sheet.pdf'
        gray = subprocess.run(['pdftoppm', '-r', '144', '-gray', '-f', '2', '-l', '2', pdf],
                              capture_output=True, check=True).stdout
        width, height = map(int, gray.split(maxsplit=4)[1:3])
        pixels = gray[-width * height:]
        black = set()
        for page, left, top, word in words_of(pdf):
            if page == 2 and left < 45 and word.isdigit():  # a point left of the digits
                row, col = round(2 * (top + 5)), round(2 * (left - 1))
                if pixels[row * width + col] < 60:
                    black.add(int(word))
        self.assertEqual(black, {
            leg['leg'] for leg in self.plan['tours'][0]['legs'] if leg['kind'] == 'unknown' or
            leg['limit'] in ('over', 'not known') or
            (leg['limit'] == 'not judged' and leg['kind'] != 'none-found')})
        self.assertIn('over limit, or unknown', pages_of(pdf)[0])

    def test_a_limit_of_another_word(self):
        """What somebody wrote into the plan is not taken for 'not over'."""
        def spoil(plan):
            for leg in plan['tours'][0]['legs']:
                leg['limit'] = leg['limit'] and 'Not over'
                leg['limit_deg'] = leg['limit_deg'] or (leg['limit'] and 35)
        text = text_of(self.sheet(self.changed(spoil), 'x.pdf')).replace('\xa0', ' ')
        table = text[text.index('km, hours'):text.index('SIGNS')]
        self.assertNotIn('not over', table)
        self.assertIn('not known', table)

    def test_no_word_on_another(self):
        for name, options in (('a4.pdf', ()), ('letter.pdf', ('--paper', 'letter', '--bearings'))):
            words = words_with_boxes(self.sheet(self.tour, name, *options))
            for i, (page, box, word) in enumerate(words):
                for other_page, other, second in words[i + 1:]:
                    if page == other_page:
                        apart = (box[0] >= other[2] or other[0] >= box[2] or
                                 box[1] + 2.5 > other[3] or other[1] + 2.5 > box[3])
                        self.assertTrue(apart, f'{name}, page {page}: {word}, {second}')

    def test_no_day_no_columns(self):
        text = text_of(self.bare / 'sheet.pdf')
        self.assertIn('none given: levels and limits not shown', text)
        for words in ('hours', 'planned', 'level, problem', 'sun on', 'wind', 'LIMIT', 'OVER'):
            self.assertNotIn(words, text)

    def test_nothing_below_8_points(self):
        sizes = font_sizes(self.sheet(self.tour, 'a.pdf', '--bearings', '--paper', 'letter'))
        self.assertGreaterEqual(min(sizes), 8, sizes)
        self.assertIn(8, sizes)

    def test_paper(self):
        letter = self.sheet(self.bare, 'letter.pdf', '--paper', 'letter')
        for pdf, size in ((self.bare / 'sheet.pdf', A4), (letter, LETTER)):
            found, pages = page_size(pdf)
            self.assertAlmostEqual(found[0], size[0], 1)
            self.assertAlmostEqual(found[1], size[1], 1)
            self.assertEqual(pages, 2)  # front and back
            self.assertIn('Page 2 of 2', text_of(pdf))

    def test_a_short_tour_is_one_page(self):
        def shorten(plan):
            tour = plan['tours'][0]
            tour['legs'], tour['ranked'] = tour['legs'][:4], [4, 2, 1, 3]
            tour['if_one_level_more'] = None
        _, pages = page_size(self.sheet(self.changed(shorten), 'short.pdf'))
        self.assertEqual(pages, 1)

    def test_strips_of_a_long_tour(self):
        """Ten times as long: strips of 12 km, and a line where leg 7 alone would fill one."""
        def stretch(plan):
            tour = plan['tours'][0]
            for leg in tour['legs']:
                leg['from_m'], leg['to_m'] = 10 * leg['from_m'], 10 * leg['to_m']
            tour['length_m'] *= 10
            tour['points']['along_m'] = [10 * x for x in tour['points']['along_m']]
            tour['legs'][6]['kind'] = 'unknown'
        text = text_of(self.sheet(self.changed(stretch), 'long.pdf'))
        self.assertIn('24.00-36.00 km: leg 7, unknown ground', text)
        for km in ('24', '36', '37', '96', '97'):  # ticks of the strips before and behind
            self.assertRegex(text, rf'(?m)^ *km .*\b{km}\b')
        self.assertNotRegex(text, r'(?m)^ *km .*\b(25|31|35)\b')

    def test_pictures(self):
        svg = self.sheet(self.tour, 'tour.svg').read_text()
        height = float(re.search(r'<svg [^>]*height="([\d.]+)pt"', svg).group(1))
        self.assertAlmostEqual(height, 2 * A4[1], 1)
        picture = self.open(self.sheet(self.tour, 'tour.png'))
        self.assertEqual((picture.RasterXSize, picture.RasterYSize),
                         (math.ceil(A4[0] * 150 / 72), math.ceil(2 * A4[1] * 150 / 72)))
        cells = picture.ReadAsArray()
        self.assertLess(cells.min(), 30)
        self.assertEqual(cells[:, :20].min(), 255)  # the margin is white

    def test_several_routes(self):
        second = DEMO_GPX.read_text().replace('Ostler Horn from Fallow Hut', 'Second line')
        track = re.search(r'<trk>.*</trk>', second, re.S).group(0)
        gpx = self.write_text('two.gpx', DEMO_GPX.read_text().replace('</gpx>', track + '</gpx>'))
        self.run_ok('brant-plan', DEMO_DEM, gpx, '-d', self.dir / 'two')
        pages = pages_of(self.dir / 'two' / 'sheet.pdf')
        heads = [page for page in pages if 'MODEL' in page]
        self.assertEqual(len(heads), 2)
        self.assertIn('Second line', heads[1])
        self.assertEqual(len(pages), int(re.search(r'Page 1 of (\d+)', pages[0]).group(1)))

    def test_names_in_any_script(self):
        for i, name in enumerate(NAMES):
            def rename(plan, name=name):
                plan['tours'][0]['route'] = name
            with self.subTest(name):
                folder = self.changed(rename)
                pdf = self.sheet(folder, f'{i}.pdf')
                shutil.rmtree(folder)
                self.assertEqual(page_size(pdf)[1], 2)
                for _, left, _, word in words_of(pdf):
                    self.assertGreaterEqual(left, 23.9, word)
                    self.assertLess(left, A4[0] - 24, word)
                if i == 0:  # scripts of the font that CI installs
                    self.assertIn(name, text_of(pdf))


class Bearings(SheetCase):
    ROW = re.compile(r'(\d+\.\d\d)\s+(\d{3})°\s+(?:(\d{3})°\s+)?(\d+)\s+(\d+|\?)\s+(\d+|\?)')

    def rows(self, pdf):
        text = text_of(pdf)
        return sorted((float(km), int(true), magnetic and int(magnetic), int(metres))
                      for km, true, magnetic, metres, _, _ in
                      self.ROW.findall(text[text.index('BEARINGS'):]))

    def test_against_geodesics(self):
        pdf = self.sheet(self.tour, 'b.pdf', '--bearings', '--declination', '3.5')
        rows = self.rows(pdf)
        self.assertGreater(len(rows), 10)
        points = self.plan['tours'][0]['points']
        ends = [row[0] for row in rows[1:]] + [points['along_m'][-1] / 1000]
        total = 0
        for (km, true, magnetic, metres), end in zip(rows, ends):
            # the point is known to 5 m of the line only: try those that round to it
            found = []
            for a in [i for i, m in enumerate(points['along_m']) if round(m / 1000, 2) == km]:
                for b in [i for i, m in enumerate(points['along_m'])
                          if abs(m / 1000 - end) < 0.0051]:
                    found.append(geodesic(points['lon'][a], points['lat'][a], points['lon'][b],
                                          points['lat'][b]))
            self.assertTrue(any(abs(m - metres) <= 0.5 and abs((z - true + 180) % 360 - 180) <= 0.5
                                for m, z in found), (km, true, metres, found))
            self.assertIn((true - magnetic) % 360, (3, 4))
            total += metres
        self.assertLess(total, points['along_m'][-1])
        self.assertGreater(total, 0.9 * points['along_m'][-1])

    def test_without_declination(self):
        pdf = self.sheet(self.tour, 'b.pdf', '--bearings')
        self.assertTrue(all(row[2] == '' for row in self.rows(pdf)))
        self.assertNotIn('magn', text_of(pdf))
        done = self.run_program('brant-sheet', self.tour, '-o', self.dir / 'x.pdf',
                                '--declination', '3')
        self.assertEqual(done.code, 2)


class Bytes(SheetCase):
    def test_the_plan_writes_the_same(self):
        self.assertEqual((self.tour / 'sheet.pdf').read_bytes(),
                         self.sheet(self.tour, 'tour.pdf').read_bytes())

    def test_any_locale_time_zone_and_thread_count(self):
        here = {'LC_ALL': 'de_DE.UTF-8', 'TZ': 'Asia/Tokyo'}
        there = {'LANG': 'ar_EG.UTF-8', 'LC_ALL': '', 'TZ': 'America/Lima', 'LANGUAGE': 'ja'}
        for suffix in ('pdf', 'svg'):
            self.assertEqual(self.sheet(self.tour, f'a.{suffix}', env=here).read_bytes(),
                             self.sheet(self.tour, f'b.{suffix}', env=there).read_bytes())
        self.run_ok('brant-plan', DEMO_DEM, DEMO_GPX, '-d', self.dir / 'one', '--threads', '1',
                    *DAY)
        self.assertEqual((self.dir / 'one' / 'sheet.pdf').read_bytes(),
                         (self.tour / 'sheet.pdf').read_bytes())

    def test_source_date_epoch(self):
        later = self.sheet(self.bare, 'a.pdf', env={'SOURCE_DATE_EPOCH': '1800000000'})
        for pdf, date in ((later, '20270115080000Z'),
                          (self.bare / 'sheet.pdf', '19700101000000Z')):
            info = subprocess.run(['pdfinfo', '-rawdates', pdf], capture_output=True, check=True)
            self.assertIn(date, info.stdout.decode())


class Refused(SheetCase):
    def refuse(self, folder, *words, **how):
        done = self.run_program('brant-sheet', folder, '-o', self.dir / 'out.pdf', **how)
        self.assert_refused(done, *words)
        self.assertFalse((self.dir / 'out.pdf').exists())
        self.assertEqual([x for x in self.dir.iterdir() if x.name.startswith('.brant')], [])

    def copy(self):
        folder = self.dir / 'copy'
        shutil.copytree(self.tour, folder)
        return folder

    def test_a_folder_that_is_none(self):
        self.refuse(self.dir / 'nowhere', 'nowhere/plan.json')
        self.refuse(DEMO_GPX, 'quern.gpx/plan.json')

    def test_a_plan_cut_off(self):
        folder = self.copy()
        plan = (folder / 'plan.json').read_bytes()
        for size in (0, 1, 1000, len(plan) // 2, len(plan) - 3):
            (folder / 'plan.json').write_bytes(plan[:size])
            self.refuse(folder, 'plan.json', 'JSON')

    def test_a_raster_missing_or_cut_off(self):
        folder = self.copy()
        for name in ('elevation.tif', 'class.tif', 'runout.tif'):
            whole = (folder / name).read_bytes()
            (folder / name).unlink()
            self.refuse(folder, name)
            (folder / name).write_bytes(whole[:len(whole) // 2])
            self.refuse(folder, name)
            (folder / name).write_bytes(whole)

    def test_another_version(self):
        self.refuse(self.changed(lambda plan: plan.update(brant='9.9.9')), '9.9.9', 'plan.json')

    def test_a_member_of_another_type(self):
        def spoil(plan):
            plan['tours'][0]['legs'][4]['level'] = 3
        self.refuse(self.changed(spoil), 'plan.json', 'tours[0].legs[4].level')

    def test_no_font(self):
        config = self.write_text('fonts.conf', '<?xml version="1.0"?><fontconfig></fontconfig>')
        env = {'FONTCONFIG_FILE': str(config), 'XDG_CACHE_HOME': str(self.dir)}
        self.refuse(self.tour, 'font', env=env)
        done = self.run_program('brant-plan', DEMO_DEM, DEMO_GPX, '-d', self.dir / 'no', env=env)
        self.assert_refused(done, 'font')
        self.assertFalse((self.dir / 'no').exists())

    def test_a_suffix_that_is_none(self):
        for name in ('tour.txt', 'tour', '-'):
            done = self.run_program('brant-sheet', self.tour, '-o', name)
            self.assertEqual(done.code, 2, name)
            self.assertEqual(len(done.complaints()), 1)

    def test_an_output_that_is_an_input(self):
        folder = self.copy()
        (folder / 'x.pdf').symlink_to('plan.json')
        done = self.run_program('brant-sheet', folder, '-o', folder / 'x.pdf')
        self.assert_refused(done, 'x.pdf')

    def test_a_full_disk(self):
        done = self.run_program('brant-sheet', self.tour, '-o', '/dev/full')
        self.assertEqual(done.code, 2)
        (self.dir / 'full.pdf').symlink_to('/dev/full')
        done = self.run_program('brant-sheet', self.tour, '-o', self.dir / 'full.pdf')
        self.assert_refused(done, 'full')


if __name__ == '__main__':
    main()
