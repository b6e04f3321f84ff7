"""The day on the demo: the bulletin, levels by hand, hours, and what is refused.

The levels are held against a reading of the bulletin of its own, in a few lines of
Python: rating by rating, by aspect and elevation, with the margins that the man page
states."""

import json
import math
import os
import re
import shutil
import subprocess
from datetime import datetime, timedelta

from brant_case import DEMO_DEM, DEMO_GPX, TESTDATA, BrantCase, main

BULLETIN = (TESTDATA / 'quern_bulletin.json').resolve()
BULLETINS = (TESTDATA / 'bulletins').resolve()
START = '2027-02-13T06:30+01:00'
DAY = ['--bulletin', BULLETIN, '--start', START]
SECTORS = ['N', 'NE', 'E', 'SE', 'S', 'SW', 'W', 'NW']
NUMBER = {'low': 1, 'moderate': 2, 'considerable': 3, 'high': 4, 'very_high': 5}
# the order of ranks, the first three are one
RANK = {'5': 6, 'no rating': 6, 'not stated': 6, '4': 5, '3': 4, '2': 3, '1': 2, 'no snow': 1}


class Reading:
    """The ratings of the demo's bulletin, read without brant."""

    def __init__(self):
        bulletin = json.loads(BULLETIN.read_text())['bulletins'][0]
        self.ratings = []
        for rating in bulletin['dangerRatings']:
            bounds = rating.get('elevation', {})
            self.ratings.append((NUMBER[rating['mainValue']],
                                 float(bounds.get('lowerBound', -math.inf)),
                                 float(bounds.get('upperBound', math.inf)),
                                 rating.get('aspects', SECTORS)))

    def highest(self, aspect, elevation, degrees, metres):
        """The highest rating within these margins; 0 if there is none."""
        found = [0]
        for level, lower, upper, sectors in self.ratings:
            off = [abs((aspect - 45 * SECTORS.index(s) + 180) % 360 - 180) for s in sectors]
            if min(off) <= 22.5 + degrees and lower - metres <= elevation <= upper + metres:
                found.append(level)
        return max(found)

    def level(self, aspect, elevation):
        """Two levels, equal but where rounding to 0.1 could decide."""
        return (self.highest(aspect, elevation, 10 - 0.11, 100 - 0.11),
                self.highest(aspect, elevation, 10 + 0.11, 100 + 0.11))


class DayCase(BrantCase):
    def plan(self, name, *options, **how):
        """Summary, legs, points, zones above, plan of a run on the demo."""
        folder = self.dir / name
        done = self.run_ok('brant-plan', DEMO_DEM, DEMO_GPX, '-d', folder, *options, **how)
        self.assertEqual(done.complaints(), [])
        tables = [self.read_csv(folder / f'{table}.csv') for table in ('legs', 'points', 'above')]
        return done, *tables, json.loads((folder / 'plan.json').read_text())


class WithBulletin(DayCase):
    """One run, looked at from all sides."""

    @classmethod
    def setUpClass(cls):
        super().setUpClass()
        runner = cls('plan')
        runner.setUp()
        cls.addClassCleanup(runner.doCleanups)
        cls.out = runner.dir / 'out'
        cls.done, cls.legs, cls.points, cls.above, cls.json = runner.plan('out', *DAY)

    def test_points_against_another_reading(self):
        reading, told, checked = Reading(), set(), 0
        for point in self.points:
            if not point['elevation_m'] or not point['aspect_deg']:
                continue
            low, high = reading.level(float(point['aspect_deg']), float(point['elevation_m']))
            if low == high:
                checked += 1
                told.add(point['level'])
                self.assertEqual(point['level'], str(low), point)
        self.assertGreater(checked, 0.9 * len(self.points))
        self.assertEqual(told, {'2', '3'})

    def test_a_leg_takes_the_highest_of_what_it_meets(self):
        some = 0
        for leg in self.legs:
            met = [row['level'] for row in self.above if row['leg'] == leg['leg'] and
                   (row['on'] == '1' or row['edge'] == '1' or row['remote'] == '1' or
                    float(row['reached_at_deg'] or 0) >= 25)]
            for level in met:
                self.assertGreaterEqual(RANK[leg['level']], RANK[level], leg)
                some += 1
            if met:
                self.assertIn(leg['level'], [*met, *self.own(leg)])
        self.assertGreater(some, 20)

    def own(self, leg):
        return {p['level'] for p in self.points
                if float(leg['from_m']) <= float(p['along_m']) <= float(leg['to_m'])}

    def test_zones_against_another_reading(self):
        """A zone whose whole ground is inside or outside a rating is so itself."""
        reading, checked = Reading(), 0
        for row in self.above:
            if not row['aspect_deg'] or row['flags']:
                continue
            aspect = float(row['aspect_deg'])
            # its cells face within some 45 degrees of its octant's middle: only elevation is sure
            if float(row['high_m']) < 2099:
                self.assertEqual(row['level'], '2', row)
                checked += 1
            if float(row['low_m']) > 2200 and reading.highest(aspect, 2300, -10, 0) == 3 and \
                    float(row['area_m2']) > 2000:
                self.assertEqual(row['level'], '3', row)
                checked += 1
        self.assertGreater(checked, 20)

    def test_limits_are_those_of_the_level(self):
        limit = {'2': '40.0', '3': '35.0', '4': '30.0'}
        ground = {'2': 'within 20 m of the track', '3': 'whole slope', '4': 'whole catchment'}
        over = 0
        for leg in self.legs:
            if leg['limit_deg'] == '':  # a rule for dry slabs
                self.assertIn('gliding snow', leg['problems'])
                continue
            self.assertEqual(leg['limit_deg'], limit[leg['level']], leg)
            self.assertEqual(leg['limit_ground'], ground[leg['level']], leg)
            steep = float(leg['limit_steepest_deg'] or 'nan')
            if leg['limit'] == 'over':
                over += 1
                self.assertGreaterEqual(steep, float(leg['limit_deg']) - 0.05)
                self.assertGreater(float(leg['over_limit_m']), 0)
            elif leg['limit'] == 'not over':
                self.assertLessEqual(steep, float(leg['limit_deg']))
                self.assertEqual(float(leg['over_limit_m']), 0)
            else:
                self.assertEqual(leg['limit'], 'not known')
                self.assertEqual(leg['over_limit_m'], '')
        self.assertGreater(over, 0)

    def test_hours_follow_each_other(self):
        start = datetime.fromisoformat(START)
        self.assertEqual(datetime.fromisoformat(self.legs[0]['arrive']), start)
        for leg, after in zip(self.legs, self.legs[1:]):
            self.assertEqual(leg['leave'], after['arrive'])
        for leg in self.legs:
            self.assertEqual(leg['arrive'][-6:], '+01:00')
            for planned, late in (('arrive', 'arrive_late'), ('leave', 'leave_late')):
                after = [datetime.fromisoformat(leg[c]) - start for c in (planned, late)]
                self.assertAlmostEqual(after[1] / timedelta(seconds=1),
                                       1.3 * (after[0] / timedelta(seconds=1)), delta=2)

    def test_sun_is_within_the_day_and_before_one_is_past(self):
        some = 0
        for leg in self.legs:
            if leg['sun_from']:
                some += 1
                first = datetime.fromisoformat(leg['sun_from'])
                self.assertLess(first, datetime.fromisoformat(leg['leave_late']), leg)
                # sunrise there in mid-February is after 7
                self.assertGreater(first, datetime.fromisoformat('2027-02-13T07:00:00+01:00'))
        self.assertGreater(some, 0)

    def test_the_legs_are_in_the_order_of_their_levels(self):
        legs = {int(leg['leg']): leg for leg in self.legs}
        ranked = [legs[number] for number in self.json['tours'][0]['ranked']]
        told = [RANK[leg['level']] for leg in ranked if leg['kind'] not in
                ('unknown', 'none-found')]
        self.assertEqual(told, sorted(told, reverse=True))

    def test_the_summary(self):
        lines = self.done.out.splitlines()
        self.assertEqual(lines[0], 'Ostler Horn from Fallow Hut  Sat 13 Feb 2027, start 06:30')
        text = ' '.join(self.done.out.split())
        self.assertRegex(text, r'High point \d\d:\d\d \(late \d\d:\d\d\), end \d\d:\d\d \(\d\d:\d\d\)')
        for words in ('BULLETIN East Quern, valid Fri 17:00 - Sat 17:00',
                      '3 above 2,200 m W-N-E; 2 elsewhere (stated)',
                      'Persistent weak layer above 2,200 m W-N-E, size 3',
                      'OVER the elementary limit (level 3: whole slope below 35)',
                      '(times planned-late', 'clear-sky sun', 'IF one level more',
                      '[ ] Fresh avalanches', '[ ] Probe'):
            self.assertIn(words, text)
        for line in lines:
            self.assertLessEqual(len(line), 79)
        caution = text.index('Terrain screening only')
        for verdict in ('safe', ' go ', 'danger', ' OK', 'score', 'risk', 'recommend'):
            self.assertNotIn(verdict, text[:caution])

    def test_over_in_the_summary_is_the_sum_of_the_legs(self):
        told = re.findall(r'OVER  the elementary limit \(level (\d)[^)]*\):\s+([\d.]+)\s+km',
                          self.done.out)
        for level, km in told:
            metres = sum(float(leg['over_limit_m']) for leg in self.legs
                         if leg['limit'] == 'over' and leg['level'] == level)
            self.assertAlmostEqual(float(km), metres / 1000, delta=0.06)
        self.assertEqual({level for level, _ in told},
                         {leg['level'] for leg in self.legs if leg['limit'] == 'over'})

    def test_plan_json(self):
        day = self.json['day']
        self.assertEqual(day['start'], '2027-02-13T06:30:00+01:00')
        self.assertEqual(day['bulletin']['regions'],
                         [{'id': 'QQ-05-01', 'name': 'East Quern', 'chosen': False}])
        self.assertEqual([r['level'] for r in day['bulletin']['ratings']], ['3', '2', '2'])
        self.assertEqual(len(day['signs']), 5)
        self.assertGreaterEqual(len(day['kit']), 5)
        self.assertEqual(day['pace'], '4,10,6')
        tour = self.json['tours'][0]
        self.assertEqual([leg['level'] for leg in tour['legs']], [leg['level'] for leg in self.legs])
        self.assertEqual(tour['points']['level'], [point['level'] for point in self.points])
        for leg in tour['legs']:
            if 'persistent weak layer' in (leg['problems'] or ''):
                self.assertIn(1, leg['problem_numbers'])
            self.assertIn(f"level {leg['level']}", leg['limit_reason'])
            if leg['sun_certain_from']:
                self.assertLessEqual(leg['sun_from'], leg['sun_certain_from'])
        for leg in tour['if_one_level_more']['legs']:
            self.assertNotEqual(self.legs[leg - 1]['limit'], 'over')

    def test_waypoints_say_the_level(self):
        text = (self.out / 'waypoints.gpx').read_text()
        self.assertRegex(text, r'level 3 on NE, [\d,]+-[\d,]+ m: persistent weak layer')
        self.assertIn('planned-late ', text)


class Options(DayCase):
    def test_by_hand(self):
        done, legs, points, _, plan = self.plan('hand', '--level', '3', '--above', '2000',
                                                '--aspects', 'NW-NE')
        self.assertIn('BULLETIN by hand\n  3 above 2,000 m NW-N-NE; elsewhere not stated\n',
                      done.out)
        self.assertIn('OVER  not judged (not stated', done.out)
        self.assertEqual({p['level'] for p in points}, {'3', 'not stated'})
        for point in points:
            if point['elevation_m'] and float(point['elevation_m']) < 1899:
                self.assertEqual(point['level'], 'not stated')
        self.assertTrue(plan['day']['bulletin']['by_hand'])
        self.assertEqual({leg['arrive'] for leg in legs}, {''})
        self.assertIsNone(plan['day']['start'])

    def test_outside_core_lower(self):
        done, _, points, _, _ = self.plan('lower', '--level', '3', '--above', '2000',
                                          '--outside-core', 'lower')
        self.assertEqual({p['level'] for p in points}, {'2', '3'})
        self.assertIn('one lower', done.out)

    def test_pace_makes_hours(self):
        _, slow, _, _, _ = self.plan('slow', '--start', START, '--pace', '2,5,3')
        _, usual, _, _, _ = self.plan('usual', '--start', START)
        begin = datetime.fromisoformat(START)
        took = [datetime.fromisoformat(legs[-1]['leave']) - begin for legs in (slow, usual)]
        self.assertAlmostEqual(took[0] / took[1], 2, delta=0.001)  # all rates are half
        self.assertGreater(took[1], timedelta(hours=2))
        self.assertLess(took[1], timedelta(hours=9))

    def test_out_by_gives_the_last_time_to_leave(self):
        done, _, _, _, plan = self.plan('by', *DAY, '--out-by', '13:00')
        self.assertIn('(leave by ', ' '.join(done.out.split()))
        self.assertRegex(done.out, r', end 12:\d\d \(14:\d\d\); out\s+by 13:00, not if late\n')
        sheet = subprocess.run(['pdftotext', '-l', '1', self.dir / 'by/sheet.pdf', '-'],
                               capture_output=True, check=True).stdout.decode('utf-8')
        self.assertRegex(sheet, r'\(late\s14:\d\d\);\sout\sby\s13:00,\snot\sif\slate')
        self.assertEqual(plan['day']['out_by'], '2027-02-13T13:00:00+01:00')
        by = [wait['leave_by'] for wait in plan['tours'][0]['waits']]
        self.assertTrue(all(by))
        self.assertEqual(by, sorted(by))  # further on one may leave later
        self.assertLess(by[-1], '2027-02-13T13:00:00+01:00')

    def test_earlier_and_later(self):
        """Low early and considerable later below the tree line (2,400 m here): where one
        is gone before 11:00 even late it is low; without a clock the higher holds."""
        halves = ['--bulletin', BULLETINS / 'halves_treeline.json', '--treeline', '2400',
                  '--start', '2027-03-06T06:30+00:00']
        done, legs, points, _, _ = self.plan('clock', *halves, '--later-from', '11:00')
        self.assertIn('One hour later: ', ' '.join(done.out.split()))
        _, all_day, higher, _, _ = self.plan('no-clock', *halves)
        for a, b in zip(legs, all_day):
            self.assertLessEqual(RANK[a['level']], RANK[b['level']])
        told = {'1': 0, '3': 0}
        for leg in legs:
            level = ('1' if leg['leave_late'] < '2027-03-06T11:00' else
                     '3' if leg['arrive'] > '2027-03-06T11:00' else None)
            for point, high in zip(points, higher):
                if level and float(leg['from_m']) < float(point['along_m']) < \
                        float(leg['to_m']) and float(point['elevation_m'] or 9999) < 2290:
                    self.assertEqual((point['level'], high['level']), (level, '3'))
                    told[level] += 1
        self.assertGreater(min(told.values()), 50)

    def test_a_region_of_several(self):
        several = ['--bulletin', BULLETINS / 'regions.json', '--region', 'QQ-01']
        done, legs, _, _, plan = self.plan('region', *several)
        self.assertIn('BULLETIN North Tarn, valid time not stated; no start given', done.out)
        self.assertEqual({leg['level'] for leg in legs}, {'2'})
        self.assertEqual([r['chosen'] for r in plan['day']['bulletin']['regions']], [True, False])

    def test_wind_and_signs(self):
        done, legs, _, _, plan = self.plan('wind', '--wind-from', '240-300', '--new-snow', '30',
                                           '--warming')
        self.assertTrue(any(leg['shelter_deg'] for leg in legs))
        for leg in legs:
            if leg['shelter_deg']:
                self.assertEqual(leg['sheltered'], str(int(float(leg['shelter_deg']) > 0)), leg)
        text = ' '.join(done.out.split())
        for words in ('New snow in 24 h: 30 cm (given)', 'Wind: from 240-300 (given)',
                      'a rise is expected (given)'):
            self.assertIn(words, text)
        self.assertEqual(plan['day']['signs'][0]['known'], '30 cm (given)')

    def test_a_table_and_metres_above(self):
        self.run_ok('brant-route', DEMO_DEM, DEMO_GPX, '-o', self.dir / 'l.csv', '--level', '3',
                    '--above', '1800', '--above', self.dir / 'a.csv')
        self.assertGreater(len(self.read_csv(self.dir / 'a.csv')), 10)
        self.assertIn('not stated', {leg['level'] for leg in self.read_csv(self.dir / 'l.csv')})

    def test_the_bulletin_on_standard_input(self):
        command = ['brant-route', DEMO_DEM, DEMO_GPX, '-o', '-', '--start', START, '--bulletin']
        given = self.run_ok(*command, BULLETIN)
        read = self.run_ok(*command, '-', stdin=BULLETIN.read_bytes())
        self.assertEqual(read.out, given.out)

    def test_the_bulletin_of_another_day_is_shown_with_a_warning(self):
        done, legs, _, _, _ = self.plan('late', '--bulletin', BULLETIN, '--start',
                                        '2027-02-15T06:30+01:00')
        both = r'valid Fri 12 Feb 2027 17:00 - Sat 13 Feb 2027 17:00, the tour is Mon 15 Feb 2027'
        self.assertRegex(done.err, r'(?m)^brant-plan: warning: .*does not cover the tour: ' + both)
        self.assertRegex(' '.join(done.out.split()), 'DOES NOT COVER THE TOUR: ' + both)
        self.assertIn('3', {leg['level'] for leg in legs})

    def test_no_day_no_change(self):
        """Without a day its columns are empty, and with one level everywhere the
        terrain's are as they were."""
        done, legs, points, _, plan = self.plan('bare')
        self.assertIn('BULLETIN none given: levels and limits not shown\n', done.out)
        for word in ('SIGNS', 'KIT', 'OVER', 'planned'):
            self.assertNotIn(word, done.out)
        day = ('level', 'problems', 'limit_deg', 'over_limit_m', 'arrive', 'arrive_late',
               'sun_from', 'limit_ground', 'limit', 'limit_steepest_deg', 'leave', 'leave_late',
               'sun_minutes', 'sun_unknown', 'shelter_deg', 'sheltered')
        for leg in legs:
            self.assertEqual({leg[name] for name in day}, {''})
        self.assertEqual({p['level'] for p in points}, {''})
        self.assertIsNone(plan['day']['bulletin'])
        _, level, _, _, _ = self.plan('level', '--level', '2', '--start', START)
        self.assertEqual(len(level), len(legs))
        for a, b in zip(legs, level):
            for name in a:
                if name not in day and not name.startswith('governing_'):
                    self.assertEqual(a[name], b[name], name)

    def test_more_level_never_lowers_a_rank(self):
        before = None
        for level in '1234':
            _, legs, _, _, _ = self.plan('l' + level, '--level', level)
            ranks = [RANK[leg['level']] for leg in legs]
            if before and len(before) == len(ranks):  # at 4 remote triggering reaches further
                self.assertTrue(all(a <= b for a, b in zip(before, ranks)))
            before = ranks

    def test_same_bytes_anywhere(self):
        options = [*DAY, '--out-by', '14:00', '--wind-from', 'W']
        kept = None
        for number, (zone, locale, threads) in enumerate([
                ('UTC', 'C', '1'), ('Asia/Kathmandu', 'C.UTF-8', '2'),
                ('America/St_Johns', 'de_DE.UTF-8', '3')]):
            folder = self.dir / f'same{number}'
            done = self.run_ok('brant-plan', DEMO_DEM, DEMO_GPX, '-d', folder, *options, '--threads',
                               threads, env={'TZ': zone, 'LC_ALL': locale})
            made = [done.out.encode()] + [(folder / name).read_bytes() for name in
                                          ('legs.csv', 'points.csv', 'above.csv', 'plan.json',
                                           'waypoints.gpx', 'tour.gpkg')]
            kept = kept or made
            self.assertEqual(made, kept)


class Refused(DayCase):
    def refuse(self, code, *options, words=()):
        """One line, this exit status, nothing written."""
        out = self.dir / 'here'
        out.mkdir(exist_ok=True)
        for program, target in (('brant-plan', '-d'), ('brant-route', '-o')):
            done = self.run_program(program, DEMO_DEM, DEMO_GPX, target, 'x', *options, cwd=out)
            self.assertEqual(done.code, code, (options, done.err))
            self.assertEqual(len(done.complaints()), 1, done.err)
            self.assertEqual(done.out, '')
            for word in words:
                self.assertIn(word, done.err)
            self.assert_empty(out)

    def test_contradictions(self):
        hand = ['--level', '3']
        for options, words in [
                ([*DAY, *hand], ('--bulletin', '--level')),
                (['--region', 'QQ-05-01'], ('--region', '--bulletin')),
                ([*hand, '--region', 'QQ-05-01'], ('--region', '--bulletin')),
                (['--treeline', '1900'], ('--treeline', '--bulletin')),
                (['--above', '1800'], ('--above', '--level')),
                (['--below', '1800'], ('--below', '--level')),
                (['--aspects', 'N'], ('--aspects', '--level')),
                (['--outside-core', 'lower'], ('--outside-core',)),
                ([*hand, '--above', '1800', '--below', '1800'], ('--above', '--below')),
                (['--pace', 'walk'], ('--pace', '--start')),
                (['--out-by', '12:00'], ('--out-by', '--start')),
                (['--start', START, '--out-by', '06:30'], ('--out-by', 'start')),
                (['--bulletin', BULLETIN, '--later-from', '11:00'], ('--later-from', '--start')),
                (['--start', START, '--later-from', '11:00'], ('--later-from', '--bulletin')),
                ([*hand, '--above', '1800', '--above', '1900'], ('--above', 'twice')),
                (['--start', '2027-02-13T06:30'], ('--start', 'no time zone')),
                (['--level', '6'], ('--level', '1 to 5')),
                ([*hand, '--aspects', 'NNE'], ('--aspects', 'NNE')),
        ]:
            with self.subTest(options):
                self.refuse(2, *options, words=words)

    def test_files_that_are_no_bulletin(self):
        for name, text in [('empty.json', ''), ('text.json', 'avalanche level 3'),
                           ('list.json', '[]'), ('other.json', '{"features": []}'),
                           ('none.json', '{"bulletins": []}'), ('cut.json', BULLETIN.read_text()[:900]),
                           ('level.json', BULLETIN.read_text().replace('"considerable"', '"6"')),
                           ('aspect.json', BULLETIN.read_text().replace('"NE"', '"NNE"')),
                           ('bound.json', BULLETIN.read_text().replace('"2200"', '"2200m"'))]:
            with self.subTest(name):
                path = self.write_text(name, text)
                self.refuse(1, '--bulletin', path, words=(name,))
        self.refuse(1, '--bulletin', 'no-such.json', words=('no-such.json',))
        for name in ('bad_enum', 'bad_numeric_bound', 'trap_loose_bounds'):
            self.refuse(1, '--bulletin', BULLETINS / f'{name}.json', words=(f'{name}.json',))

    def test_an_unknown_region_lists_those_present(self):
        self.refuse(1, '--bulletin', BULLETIN, '--region', 'QQ-09', words=('QQ-09', 'QQ-05-01'))

    def test_several_regions_and_none_chosen(self):
        self.refuse(1, '--bulletin', BULLETINS / 'regions.json', words=('QQ-01', 'QQ-03', '--region'))

    def test_a_tree_line_needs_metres(self):
        path = self.write_text('t.json', BULLETIN.read_text().replace('"2200"', '"treeline"'))
        self.refuse(1, '--bulletin', path, words=('t.json', 'tree line', '--treeline'))
        self.run_ok('brant-route', DEMO_DEM, DEMO_GPX, '-o', self.dir / 'l.csv', '--bulletin', path,
                    '--treeline', '2200')

    def test_a_bulletin_is_no_output(self):
        path = self.dir / 'b.json'
        shutil.copy(BULLETIN, path)
        done = self.run_program('brant-route', DEMO_DEM, DEMO_GPX, '-o', path, '--bulletin', path)
        self.assert_refused(done, 'b.json')
        self.assertEqual(path.read_bytes(), BULLETIN.read_bytes())

    def test_standard_input_is_one_file(self):
        done = self.run_program('brant-route', DEMO_DEM, '-', '-o', 'x', '--bulletin', '-')
        self.assertEqual(done.code, 2)
        self.assertIn('--bulletin', done.err)


if __name__ == '__main__':
    main()
