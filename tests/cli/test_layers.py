"""Layers and rasters in a desktop GIS: a GeoPackage and GeoJSON by the rules (layer_rules.py,
and GDAL's own checker where python3-gdal brings it), and styles that show each thing once, the
same in every form, and apart from all others without colour, too."""

import json
import re
import shutil
import sqlite3
import tempfile
import xml.etree.ElementTree as xml
from pathlib import Path

import numpy as np
from osgeo import gdal, ogr

from brant_case import DEMO_DEM, DEMO_GPX, BrantCase, main
from layer_rules import faults_of_geojson, faults_of_geopackage

try:
    from osgeo_utils.samples import validate_gpkg as checker
except ImportError:
    checker = None

LAYERS = {'zones': 'fill', 'legs': 'line', 'points': 'marker', 'waits': 'marker'}
KINDS = ['unknown', 'crosses', 'over-band', 'edge', 'under', 'remote', 'none-found']
# OGC 05-077r4 (Symbology Encoding 1.1.0) 11.3.2: the marks that every reader knows
WELL_KNOWN = {'square', 'circle', 'triangle', 'star', 'cross', 'x'}
SLD = {'sld': 'http://www.opengis.net/sld', 'se': 'http://www.opengis.net/se',
       'ogc': 'http://www.opengis.net/ogc'}
# The order of parts in a rule, same document 10.1
RULE_PARTS = ['Name', 'Description', 'Filter', 'MinScaleDenominator', 'MaxScaleDenominator',
              'LineSymbolizer', 'PolygonSymbolizer', 'PointSymbolizer',
              'TextSymbolizer']


def rows(path, query):
    base = sqlite3.connect(path)
    try:
        return base.execute(query).fetchall()
    finally:
        base.close()


# ---- reading the two forms of a style: [(title, does it hold, look)] --------

COMPARE = {'=': lambda v, limit: v == limit, '<': lambda v, limit: v < limit,
           '>=': lambda v, limit: v >= limit}
NAMES = {'PropertyIsEqualTo': '=', 'PropertyIsLessThan': '<',
         'PropertyIsGreaterThanOrEqualTo': '>='}


def compare(value, sign, limit):
    """What is not there is neither equal, more nor less."""
    if value is None:
        return False
    return COMPARE[sign](value, float(limit) if isinstance(value, float) else limit)


def qml_rules(text):
    """The rules, and the column that they ask for. A rule's test is None where it is for what
    comes under no other."""
    top, field, found = xml.fromstring(text), None, []
    renderer = top.find('renderer-v2')
    symbols = {s.get('name'): s for s in renderer.find('symbols')}
    for rule in renderer.find('rules'):
        test, expression = None, rule.get('filter')
        if expression not in (None, 'ELSE'):
            parts = [re.fullmatch(r'"(\w+)" (=|<|>=) \'?([^\']+)\'?', part).groups()
                     for part in expression.split(' AND ')]
            field = parts[0][0]
            test = lambda v, parts=parts: all(compare(v, *part[1:]) for part in parts)
        found.append((rule.get('label'), test, symbols[rule.get('symbol')]))
    assert len(found) == len(symbols)
    return found, field


def sld_holds(part, value):
    name = part.tag.split('}')[1]
    if name == 'And':
        return all(sld_holds(p, value) for p in part)
    if name == 'Or':
        return any(sld_holds(p, value) for p in part)
    if name == 'Not':
        return not sld_holds(part[0], value)
    if name == 'PropertyIsNull':
        return value is None
    return compare(value, NAMES[name], part.find('ogc:Literal', SLD).text)


def sld_rules(text):
    top, fields, found = xml.fromstring(text), set(), []
    for rule in top.findall('sld:NamedLayer/sld:UserStyle/se:FeatureTypeStyle/se:Rule', SLD):
        part, test = rule.find('ogc:Filter', SLD), None
        if part is not None:
            assert len(part) == 1
            fields |= {p.text for p in part.iter(f'{{{SLD["ogc"]}}}PropertyName')}
            test = lambda v, part=part: sld_holds(part[0], v)
        found.append((rule.find('se:Description/se:Title', SLD).text, test, rule))
    assert len(fields) < 2
    return found, next(iter(fields), None)


def chosen(rules, value):
    """Titles of the rules that a value comes under."""
    hit = [title for title, test, _ in rules if test and test(value)]
    return hit or [title for title, test, _ in rules if not test]


def options(layer):
    return {o.get('name'): o.get('value') for o in layer.find('Option')}


def drawn_qml(symbol):
    """What is drawn, colours left out."""
    what = []
    for layer in symbol.iter('layer'):
        own = options(layer)
        what.append((layer.get('class'),) + tuple(
            own.get(k) for k in ('name', 'size', 'line_width', 'customdash', 'angle', 'distance')))
        if own.get('name'):
            what.append(own['color'] == '255,255,255,255')  # hollow
    return tuple(what)


def drawn_sld(rule):
    what = []
    for e in rule.iter():
        name = e.tag.split('}')[1]
        if name in ('WellKnownName', 'Size') or e.get('name') in ('stroke-width',
                                                                  'stroke-dasharray'):
            what.append(e.text)
        if name == 'Mark':
            what.append(e.find('se:Fill/se:SvgParameter', SLD) is not None and
                        e.find('se:Fill/se:SvgParameter', SLD).text == '#ffffff')
    return tuple(what)


# ---- tests -----------------------------------------------------------------

OUT = Path(tempfile.mkdtemp(prefix='brant-layers-'))


def setUpModule():
    """One plan, and what else writes layers, for all tests."""
    case = BrantCase('run_ok')
    case.dir = OUT
    case.run_ok('brant-plan', DEMO_DEM, DEMO_GPX, '-d', 'plan', '--quiet', '--level', '3',
                '--start', '2027-02-13T07:30+01:00', '--edge', '25')
    case.run_ok('brant-zones', DEMO_DEM, '-o', 'z.tif', '--polygons', 'z.geojson')
    case.run_ok('brant-screen', DEMO_DEM, DEMO_GPX, '-o', 'c.csv', '--layers', 's.gpkg', '--quiet',
                env={'SOURCE_DATE_EPOCH': '1800000000', 'TZ': 'EAST-14'})
    case.run_ok('brant-screen', DEMO_DEM, DEMO_GPX, '-o', 'c.csv', '--layers', 's.geojson',
                '--quiet')


def tearDownModule():
    shutil.rmtree(OUT)


class Made(BrantCase):
    out, tour = OUT, OUT / 'plan' / 'tour.gpkg'

    def styles(self, path=None):
        """layer -> (QML, SLD)"""
        return {row[0]: row[1:] for row in rows(
            path or self.tour, 'SELECT f_table_name, styleQML, styleSLD FROM layer_styles')}


class Rules(Made):
    def test_geopackages(self):
        for path in (self.tour, self.out / 's.gpkg'):
            self.assertEqual(faults_of_geopackage(path), [])
            if checker:
                self.assertEqual(checker.check(str(path), abort_at_first_error=False), [])

    def test_the_rules_find_faults(self):
        for number, change in (
                ('2', 'PRAGMA application_id = 7'),
                ('2', 'PRAGMA user_version = 10100'),
                ('5', 'ALTER TABLE legs ADD COLUMN more VARCHAR'),
                ('11', 'UPDATE gpkg_spatial_ref_sys SET organization = "NONE" WHERE srs_id = 4326'),
                ('14', 'DROP TABLE layer_styles'),
                ('15', 'UPDATE gpkg_contents SET last_change = "13 Feb 2027"'),
                ('22', 'DELETE FROM gpkg_geometry_columns WHERE table_name = "waits"'),
                ('13', 'UPDATE gpkg_contents SET min_x = 0'),
                ('31', 'UPDATE gpkg_geometry_columns SET geometry_type_name = "POLYGON"'),
                ('75', 'DROP TRIGGER rtree_waits_geom_insert'),
                ('75', 'DELETE FROM gpkg_extensions WHERE table_name = "legs"'),
                ('77', 'DELETE FROM rtree_legs_geom WHERE id = 3'),
                ('77', 'UPDATE rtree_legs_geom SET minx = maxx WHERE id = 3'),
                ('100', 'UPDATE gpkg_metadata_reference SET timestamp = "now"'),
                ('140', 'UPDATE gpkg_extensions SET scope = "all"'),
                ('146', 'UPDATE gpkg_contents SET srs_id = 0 WHERE table_name = "legs"'),
                ('19', 'DROP TRIGGER rtree_waits_geom_update1; UPDATE waits SET geom = x\'4750\'')):
            with self.subTest(change):
                path = self.dir / 'broken.gpkg'
                shutil.copy(self.tour, path)
                base = sqlite3.connect(path)
                for function, value in (('ST_IsEmpty', 0), ('ST_MinX', 0), ('ST_MaxX', 0),
                                        ('ST_MinY', 0), ('ST_MaxY', 0)):  # what triggers call
                    base.create_function(function, 1, lambda _, value=value: value)
                base.executescript(change)
                base.commit()
                base.close()
                self.assertIn(number, [f.split(':')[0] for f in faults_of_geopackage(path)])

    def test_geojson(self):
        for name in ('z.geojson', 's.geojson'):
            whole = json.loads((self.out / name).read_text(encoding='utf-8'))
            self.assertGreater(len(whole['features']), 20)
            self.assertEqual(faults_of_geojson(self.out / name), [])
        whole = json.loads((self.out / 'z.geojson').read_text(encoding='utf-8'))
        polygons = [p for f in whole['features'] for p in f['geometry']['coordinates']]
        self.assertTrue(any(len(p) > 1 for p in polygons))  # there are holes to be walked round
        polygons[0][0].reverse()
        whole['crs'] = {}
        broken = self.write_text('broken.geojson', json.dumps(whole))
        self.assertEqual([f.split(':')[0] for f in faults_of_geojson(broken)], ['4', '3.1.6'])


class Metadata(Made):
    def test_layers_explain_themselves(self):
        for path, program, more in ((self.tour, 'brant-plan', {
                'BRANT_EDGE': '25', 'BRANT_LEVEL': '3', 'BRANT_ZONES_PART': 'route',
                'BRANT_START': '2027-02-13T07:30+01:00'}),
                (self.out / 's.gpkg', 'brant-screen', {'BRANT_EDGE': '30'})):
            said = gdal.OpenEx(str(path)).GetMetadata()
            version = self.run_ok(program, '--version').out.split()[-1]
            wanted = {'BRANT_PROGRAM': program, 'BRANT_VERSION': version,
                      'BRANT_MODEL': 'quern.tif', 'BRANT_BAND_LOW': '30', 'BRANT_BAND_HIGH': '45',
                      'BRANT_REACH_ANGLE': '25', 'BRANT_SPREAD': '20', 'BRANT_FLOOR': '18', **more}
            self.assertEqual({key: said.get(key) for key in wanted}, wanted)

    def test_dates_are_the_source_s(self):
        table = 'SELECT DISTINCT update_time FROM layer_styles'
        self.assertEqual(rows(self.tour, table), [('1970-01-01T00:00:00.000Z',)])
        self.assertEqual(rows(self.out / 's.gpkg', table), [('2027-01-15T08:00:00.000Z',)])

    def test_columns_have_titles(self):
        for layer, (qml, _) in self.styles().items():
            said = {a.get('field'): a.get('name') for a in xml.fromstring(qml).find('aliases')}
            names = [row[1] for row in rows(self.tour, f'PRAGMA table_info("{layer}")')]
            self.assertEqual(set(said), set(names) - {'fid', 'geom'})
            self.assertEqual(len(set(said.values())), len(said), layer)


class Styles(Made):
    def test_the_table_as_a_gis_asks_for_it(self):
        data = ogr.Open(str(self.tour))
        table = data.GetLayerByName('layer_styles')
        self.assertEqual([f.GetName() for f in table.schema], [
            'f_table_catalog', 'f_table_schema', 'f_table_name', 'f_geometry_column', 'styleName',
            'styleQML', 'styleSLD', 'useAsDefault', 'description', 'owner', 'ui', 'update_time'])
        self.assertEqual(table.GetFIDColumn(), 'id')
        for layer in LAYERS:
            table.SetAttributeFilter(f"f_table_schema='' AND f_table_name='{layer}' AND "
                                     "f_geometry_column='geom' AND useAsDefault")
            self.assertEqual(table.GetFeatureCount(), 1, layer)
            self.assertEqual(next(iter(table)).GetField('styleName'), layer)
        table.SetAttributeFilter(None)
        self.assertEqual(table.GetFeatureCount(), len(LAYERS))
        self.assertEqual(list(self.styles(self.out / 's.gpkg')), ['legs'])

    def test_documents(self):
        for layer, (qml, sld) in self.styles().items():
            top, form = xml.fromstring(sld), xml.fromstring(qml)
            self.assertEqual(top.tag, f'{{{SLD["sld"]}}}StyledLayerDescriptor')
            self.assertEqual(top.get('version'), '1.1.0')
            self.assertEqual(top.find('sld:NamedLayer/se:Name', SLD).text, layer)
            for rule in top.iter(f'{{{SLD["se"]}}}Rule'):
                parts = [RULE_PARTS.index(e.tag.split('}')[1]) for e in rule]
                self.assertEqual(parts, sorted(parts))
            marks = {e.text for e in top.iter(f'{{{SLD["se"]}}}WellKnownName')}
            self.assertLessEqual(marks, WELL_KNOWN)
            self.assertEqual((form.tag, form.find('renderer-v2').get('type')),
                             ('qgis', 'RuleRenderer'))
            for symbol in form.find('renderer-v2/symbols'):
                self.assertEqual(symbol.get('type'), LAYERS[layer])

    def test_each_thing_has_one_rule_the_same_in_both_forms(self):
        seen = {'kind': KINDS + [None, 'a word of somebody'],
                'steepest_deg': [None, 0.0, 24.9, 25.0, 29.9, 30.0, 34.9, 35.0, 39.9, 40.0, 44.9,
                                 45.0, 54.9, 55.0, 90.0], None: [None]}
        for layer, (qml, sld) in self.styles().items():
            (first, field), (second, other) = qml_rules(qml), sld_rules(sld)
            self.assertEqual(field, other)
            self.assertEqual([r[0] for r in first], [r[0] for r in second])
            values = list(seen[field])
            if field:
                values += [v for v, in rows(self.tour, f'SELECT DISTINCT {field} FROM {layer}')]
            used = set()
            for value in values:
                self.assertEqual(len(chosen(first, value)), 1, (layer, value))
                self.assertEqual(chosen(first, value), chosen(second, value), (layer, value))
                used |= set(chosen(first, value))
            self.assertEqual(used, {r[0] for r in first})  # and no rule is idle

    def test_kinds_by_their_names(self):
        for layer in ('legs', 'points'):
            rules, _ = qml_rules(self.styles()[layer][0])
            for kind, words in (('crosses', 'crosses'), ('over-band', 'above the band'),
                                ('edge', 'at the edge'), ('under', 'under'), ('remote', 'remote'),
                                ('none-found', 'none found'), ('unknown', 'unknown'),
                                (None, 'unknown'), ('a word of somebody', 'unknown')):
                self.assertIn(words, chosen(rules, kind)[0])  # nothing vanishes

    def test_zones_by_the_classes_of_the_raster(self):
        data = self.open(self.out / 'plan' / 'class.tif')
        data.GetGeoTransform()  # GDAL 3.6 looks at side-cars only when asked for this
        band = data.GetRasterBand(1)
        names, colours = band.GetCategoryNames(), band.GetColorTable()
        rules, _ = qml_rules(self.styles()['zones'][0])
        self.assertEqual(len(rules), len(names))
        for i, (title, _, symbol) in enumerate(reversed(rules)):
            self.assertIn(names[i], title.replace('steepness ', ''))
            self.assertEqual(options(symbol.find('layer'))['color'],
                             ','.join(map(str, colours.GetColorEntry(i))))
        for value in np.arange(0, 90, 0.5):
            i = 1 + np.digitize(value, [25, 30, 35, 40, 45, 55])
            self.assertIn(names[i], chosen(rules, value)[0])

    def test_apart_without_colour(self):
        for layer, (qml, sld) in self.styles().items():
            for rules, drawn in ((qml_rules(qml)[0], drawn_qml), (sld_rules(sld)[0], drawn_sld)):
                self.assertEqual(len({drawn(look) for _, _, look in rules}), len(rules), layer)


class Rasters(Made):
    def style(self, name):
        return xml.parse(self.out / 'plan' / f'{name}.qml').getroot().find('pipe/rasterrenderer')

    def shown(self, name):
        """Colour and alpha of each cell by the raster's style: '#rrggbb', 0-255; nodata's."""
        style, band = self.style(name), self.open(self.out / 'plan' / f'{name}.tif').GetRasterBand(1)
        values = band.ReadAsArray()
        items = style.find('rastershader/colorrampshader')
        self.assertEqual((style.get('type'), style.get('band'), items.get('colorRampType')),
                         ('singlebandpseudocolor', '1', 'DISCRETE'))
        limits = [float(i.get('value')) for i in items]
        self.assertEqual((limits, limits[-1]), (sorted(limits), np.inf))
        at = np.searchsorted(limits, values)  # the first that is not below
        colours = np.array([i.get('color') for i in items])[at]
        alpha = np.array([int(i.get('alpha')) for i in items])[at]
        return values, np.where(values == band.GetNoDataValue(), style.get('nodataColor'),
                                colours), alpha

    def test_class_table(self):
        path = self.out / 'plan' / 'class.tif'
        band = self.open(path).GetRasterBand(1)
        table = [band.GetColorTable().GetColorEntry(i) for i in range(256)]
        self.assertEqual(len(set(table[:8])), 8)
        self.assertEqual(set(table[8:]), {table[0]})  # drawn as unknown, not in black
        rgb = gdal.Translate('', str(path), format='MEM', rgbExpand='rgb').ReadAsArray()
        values = band.ReadAsArray()
        self.assertTrue((rgb == np.array(table)[values, :3].transpose(2, 0, 1)).all())
        entries = self.style('class').findall('colorPalette/paletteEntry')
        self.assertEqual([(e.get('value'), e.get('color'), e.get('label').split(' deg')[0])
                          for e in entries],
                         [(str(i), '#%02x%02x%02x' % table[i][:3], name)
                          for i, name in enumerate(band.GetCategoryNames())])

    def test_slope_looks_like_its_classes(self):
        _, colours, alpha = self.shown('slope')
        band = self.open(self.out / 'plan' / 'class.tif').GetRasterBand(1)
        table = np.array(['#%02x%02x%02x' % band.GetColorTable().GetColorEntry(i)[:3]
                          for i in range(8)])
        self.assertTrue((colours == table[band.ReadAsArray()]).all())
        self.assertTrue((alpha == 255).all())

    def test_aspect_by_octants(self):
        values, colours, _ = self.shown('aspect')
        known = values >= 0
        octant = np.floor((values[known] + 22.5) / 45).astype(int) % 8
        for i in range(8):
            self.assertEqual(len(set(colours[known][octant == i])), 1)
        self.assertEqual(len(set(colours[known])), 8)

    def test_runout_is_one_band(self):
        values, colours, alpha = self.shown('runout')
        steps = np.digitize(values, [1, 20, 25, 30, 90])
        for step in range(6):
            here = (steps == step) & (values >= 0)
            self.assertTrue(here.any())
            self.assertEqual(len(set(colours[here])), 1)
            self.assertEqual(set(alpha[here]), {255 if step else 0})
        self.assertEqual(len(set(colours[values >= 0])), 6)
        void = set(colours[values < 0])  # apart from what is not reached
        self.assertEqual(len(void), 1)
        self.assertFalse(void & (set(colours[values >= 0]) | {''}))
        # where nothing is drawn, something unknown may reach: the legend says so
        above = self.open(self.out / 'plan' / 'runout.tif').GetRasterBand(5)
        self.assertTrue(((above.ReadAsArray() == 1) & (alpha == 0)).any())
        items = self.style('runout').find('rastershader/colorrampshader')
        self.assertTrue(items[0].get('label').endswith('unknown above: band 5'))
        self.assertEqual(above.GetDescription(), 'unknown_above')
        for i in range(2, 6):  # not taken for red, green and blue
            meaning = self.open(self.out / 'plan' / 'runout.tif').GetRasterBand(i)
            self.assertEqual(meaning.GetColorInterpretation(), gdal.GCI_Undefined)

    def test_zones_hide_nothing_else(self):
        values, colours, _ = self.shown('zones')
        self.assertEqual(set(colours[values == 0]), {''})
        self.assertEqual(len(set(colours[values > 0])), 1)
        slope = self.open(self.out / 'plan' / 'slope.tif').GetRasterBand(1).ReadAsArray()
        self.assertTrue(((slope < 0) & (values == 0)).any())  # and that is not 'none'
        items = self.style('zones').find('rastershader/colorrampshader')
        self.assertIn('slope unknown', items[0].get('label'))

    def test_side_cars_of_a_person(self):
        kept = self.write_text('elevation.qml', '<qgis/>')
        replaced = self.write_text('s.qml', '<qgis/>')
        dem = self.dir / 'slope.qml'  # a model by an odd name
        shutil.copy(DEMO_DEM, dem)
        self.run_ok('brant-slope', dem, '-o', 's.tif')
        self.assertEqual(kept.read_text(), '<qgis/>')
        self.assertIn('colorrampshader', replaced.read_text())
        self.assert_refused(self.run_program('brant-slope', dem, '-o', 'slope.tif', '--quiet'),
                            'would overwrite an input')
        done = self.run_program('brant-slope', dem, '-o', 't.tif', '--aspect', 't.tiff', '--quiet')
        self.assert_refused(done, 't.tif', '.qml')
        self.assertEqual(sorted(p.name for p in self.dir.iterdir()),
                         ['elevation.qml', 's.qml', 's.tif', 'slope.qml'])


if __name__ == '__main__':
    gdal.UseExceptions()
    ogr.UseExceptions()
    main()
