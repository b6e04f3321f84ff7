"""What OGC 12-128r17 (GeoPackage 1.3) and RFC 7946 (GeoJSON) ask of a file of layers, as far
as brant's can break it. Each fault begins with the requirement's number or the section."""

import json
import re
import sqlite3
import struct

REQUIRED = {
    (10, 'gpkg_spatial_ref_sys'): ['srs_name', 'srs_id', 'organization',
                                   'organization_coordsys_id', 'definition', 'description'],
    (13, 'gpkg_contents'): ['table_name', 'data_type', 'identifier', 'description', 'last_change',
                            'min_x', 'min_y', 'max_x', 'max_y', 'srs_id'],
    (21, 'gpkg_geometry_columns'): ['table_name', 'column_name', 'geometry_type_name', 'srs_id',
                                    'z', 'm'],
    (58, 'gpkg_extensions'): ['table_name', 'column_name', 'extension_name', 'definition',
                              'scope'],
    (93, 'gpkg_metadata'): ['id', 'md_scope', 'md_standard_uri', 'mime_type', 'metadata'],
    (95, 'gpkg_metadata_reference'): ['reference_scope', 'table_name', 'column_name',
                                      'row_id_value', 'timestamp', 'md_file_id', 'md_parent_id'],
}
COLUMN_TYPES = re.compile(r'(BOOLEAN|TINYINT|SMALLINT|MEDIUMINT|INT|INTEGER|FLOAT|DOUBLE|REAL|'
                          r'(TEXT|BLOB)(\(\d+\))?|DATE|DATETIME)$')
MOMENT = re.compile(r'\d{4}-\d\d-\d\dT\d\d:\d\d:\d\d\.\d{3}Z$')
WKB_TYPES = {1: 'POINT', 2: 'LINESTRING', 3: 'POLYGON', 4: 'MULTIPOINT', 5: 'MULTILINESTRING',
             6: 'MULTIPOLYGON'}


def faults_of_geopackage(path):
    """[] if it keeps what is asked."""
    head = path.read_bytes()[:100]
    if head[:16] != b'SQLite format 3\0':
        return ['1: no SQLite file']
    faults = []
    if head[68:72] != b'GPKG' or struct.unpack('>I', head[60:64])[0] < 10200:
        faults.append(f'2: application {head[68:72]}, version {head[60:64]}')
    if path.suffix != '.gpkg':
        faults.append('3: suffix')
    base = sqlite3.connect(f'file:{path}?mode=ro', uri=True)
    try:
        return faults + faults_of_base(base)
    finally:
        base.close()


def columns_of(base, table):
    """name -> (type, is the primary key)"""
    return {row[1]: (row[2].upper(), row[5])
            for row in base.execute(f'PRAGMA table_info("{table}")')}


def faults_of_base(base):
    faults = []
    if base.execute('PRAGMA integrity_check').fetchall() != [('ok',)]:
        faults.append('6: integrity')
    if base.execute('PRAGMA foreign_key_check').fetchall():
        faults.append('7: foreign keys')
    for (number, table), names in REQUIRED.items():
        if list(columns_of(base, table)) != names:
            faults.append(f'{number}: {table} has {list(columns_of(base, table))}')
    if faults:
        return faults
    known = {row[0]: row[1:] for row in base.execute(
        'SELECT srs_id, organization, organization_coordsys_id FROM gpkg_spatial_ref_sys')}
    for srs, wanted in ((4326, ('EPSG', 4326)), (-1, ('NONE', -1)), (0, ('NONE', 0))):
        if (known.get(srs, ('',))[0].upper(),) + tuple(known.get(srs, (0, 0))[1:]) != wanted:
            faults.append(f'11: no system {srs}')
    for row in base.execute('SELECT table_name, data_type, last_change, srs_id, min_x, min_y, '
                            'max_x, max_y FROM gpkg_contents'):
        faults += faults_of_content(base, known, *row)
    return faults + faults_of_extensions(base) + faults_of_metadata(base)


def faults_of_content(base, known, table, kind, changed, srs, *box):
    faults, columns = [], columns_of(base, table)
    if not columns:
        return [f'14: {table} is missing']
    if not MOMENT.match(changed):
        faults.append(f'15: {table} changed {changed}')
    if srs is not None and srs not in known:
        faults.append(f'12: {table} is in {srs}')
    geometry = base.execute('SELECT column_name, geometry_type_name, srs_id, z, m FROM '
                            'gpkg_geometry_columns WHERE table_name = ?', (table,)).fetchall()
    keys = [(name, form) for name, (form, key) in columns.items() if key]
    if [form for _, form in keys] != ['INTEGER']:
        faults.append(f'{29 if kind == "features" else 119}: {table} has the keys {keys}')
    for name, (form, _) in columns.items():
        if name not in [row[0] for row in geometry] and not COLUMN_TYPES.match(form):
            faults.append(f'5: {table}.{name} is {form}')
    if kind == 'features':
        if len(geometry) != 1:
            return faults + [f'22: {table} has {len(geometry)} columns of geometry']
        faults += faults_of_features(base, known, table, srs, box, *geometry[0])
    elif kind != 'attributes':
        faults.append(f'18: {table} holds {kind}')
    elif geometry:
        faults.append(f'22: {table} is no layer of features')
    return faults


def faults_of_features(base, known, table, contents_srs, box, column, form, srs, z, m):
    faults, columns = [], columns_of(base, table)
    if column not in columns:
        return [f'24: {table} has no {column}']
    if columns[column][0] != form:
        faults.append(f'31: {table}.{column} is {columns[column][0]}, not {form}')
    if form not in WKB_TYPES.values():
        faults.append(f'25: {table} is of {form}')
    if srs not in known:
        faults.append(f'26: {table} is in {srs}')
    if srs != contents_srs:
        faults.append(f'146: {table} is in {srs} and in {contents_srs}')
    if z not in (0, 1, 2) or m not in (0, 1, 2):
        faults.append(f'27: {table} has z {z}, m {m}')
    boxes = {}
    key = next(name for name, (_, is_key) in columns.items() if is_key)
    for number, blob in base.execute(f'SELECT "{key}", "{column}" FROM "{table}"'):
        if blob is None:
            continue
        try:
            boxes[number] = box_of_blob(blob, form, srs)
        except (ValueError, struct.error) as fault:
            faults.append(f'{fault} ({table} {number})')
    whole = [f(b[i] for b in boxes.values())
             for f, i in ((min, 0), (min, 2), (max, 1), (max, 3))] if boxes else []
    # numbers of 15 digits
    if any(abs(said - true) > 1e-14 * abs(true) for said, true in zip(box, whole)):
        faults.append(f'13: {table} is said to be within {box}')
    return faults + faults_of_index(base, table, column, boxes)


def box_of_blob(blob, form, srs):
    """West, east, south, north of its points; ValueError where it is no StandardGeoPackageBinary
    of that type and system."""
    if len(blob) < 8:
        raise ValueError('19: a geometry of some bytes')
    magic, version, flags = struct.unpack_from('<2sBB', blob)
    order = '<' if flags & 1 else '>'
    envelope = (flags >> 1) & 7
    if magic != b'GP' or version != 0 or envelope > 4 or flags & 0x20:
        raise ValueError(f'19: a geometry begins {blob[:4]}')
    if struct.unpack_from(order + 'i', blob, 4)[0] != srs:
        raise ValueError('33: a geometry in another system')
    at = 8 + 8 * (0, 4, 6, 6, 8)[envelope]
    points, end, found = read_wkb(blob, at)
    if found != form:
        raise ValueError(f'32: a {found} among {form}')
    if end != len(blob):
        raise ValueError('19: bytes behind a geometry')
    xs, ys = [p[0] for p in points], [p[1] for p in points]
    box = (min(xs), max(xs), min(ys), max(ys))
    if envelope and struct.unpack_from(order + '4d', blob, 8) != box:
        raise ValueError(f'19: a geometry in {box} is said to be elsewhere')
    return box


def read_wkb(blob, at):
    """ISO well-known binary, two dimensions: its points, where it ends, its type."""
    order = '<' if blob[at] == 1 else '>'
    kind = struct.unpack_from(order + 'I', blob, at + 1)[0]
    at += 5
    if kind == 1:
        return [struct.unpack_from(order + '2d', blob, at)], at + 16, 'POINT'
    if kind not in WKB_TYPES:
        raise ValueError(f'19: well-known binary of type {kind}')
    count = struct.unpack_from(order + 'I', blob, at)[0]
    at += 4
    points = []
    for _ in range(1 if kind == 2 else count):
        if kind > 3:
            more, at, _ = read_wkb(blob, at)
        else:
            if kind == 3:
                count = struct.unpack_from(order + 'I', blob, at)[0]
                at += 4
            flat = struct.unpack_from(f'{order}{2 * count}d', blob, at)
            more, at = list(zip(flat[::2], flat[1::2])), at + 16 * count
            if kind == 3 and (count < 4 or more[0] != more[-1]):
                raise ValueError('19: a ring that is not closed')
        points += more
    return points, at, WKB_TYPES[kind]


def faults_of_index(base, table, column, boxes):
    faults, name = [], f'rtree_{table}_{column}'
    said = base.execute("SELECT scope FROM gpkg_extensions WHERE extension_name = "
                        "'gpkg_rtree_index' AND table_name = ? AND column_name = ?",
                        (table, column)).fetchall()
    if said != [('write-only',)]:
        return [f'75: {table} has no declared index']
    triggers = {row[0] for row in base.execute(
        "SELECT name FROM sqlite_master WHERE type = 'trigger' AND tbl_name = ?", (table,))}
    for end in ('insert', 'update1', 'update2', 'update3', 'update4', 'delete'):
        if f'{name}_{end}' not in triggers:
            faults.append(f'75: no trigger {name}_{end}')
    index = {row[0]: row[1:] for row in base.execute(
        f'SELECT id, minx, maxx, miny, maxy FROM "{name}"')}
    if index.keys() != boxes.keys():
        faults.append(f'77: {name} has {len(index)} entries for {len(boxes)} geometries')
    for number in index.keys() & boxes.keys():
        a, b = index[number], boxes[number]
        # 32 bit floats, rounded outwards
        if not (a[0] <= b[0] and a[1] >= b[1] and a[2] <= b[2] and a[3] >= b[3]):
            faults.append(f'77: {name} {number} is not within its entry')
    if base.execute('SELECT rtreecheck(?)', (name,)).fetchone() != ('ok',):
        faults.append(f'77: {name} is broken')
    return faults


def faults_of_extensions(base):
    faults = []
    for table, column, name, _, scope in base.execute('SELECT * FROM gpkg_extensions'):
        columns = columns_of(base, table) if table else {}
        if table and not columns:
            faults.append(f'60: {name} is of {table}, which is missing')
        elif column and column not in columns:
            faults.append(f'61: {name} is of {table}.{column}, which is missing')
        if not re.match(r'[A-Za-z0-9]+_\w+$', name):
            faults.append(f'62: an extension named {name}')
        if scope not in ('read-write', 'write-only'):
            faults.append(f'64: {name} has the scope {scope}')
    return faults


def faults_of_metadata(base):
    faults = []
    if base.execute("SELECT DISTINCT scope FROM gpkg_extensions WHERE extension_name = "
                    "'gpkg_metadata'").fetchall() != [('read-write',)]:
        faults.append('140: metadata are not declared')
    for scope, table, moment in base.execute('SELECT reference_scope, table_name, timestamp FROM '
                                             'gpkg_metadata_reference'):
        if scope not in ('geopackage', 'table', 'column', 'row', 'row/col'):
            faults.append(f'96: metadata of a {scope}')
        if (scope == 'geopackage') != (table is None):
            faults.append(f'97: metadata of {scope}, {table}')
        if not MOMENT.match(moment):
            faults.append(f'100: metadata of {moment}')
    return faults


# ---- GeoJSON ---------------------------------------------------------------

def twice_area(ring):
    """Positive where it is walked counterclockwise."""
    return sum(a[0] * b[1] - b[0] * a[1] for a, b in zip(ring, ring[1:]))


def faults_of_geojson(path):
    data = path.read_bytes()
    if data[:3] == b'\xef\xbb\xbf':
        return ['RFC 8259 8.1: a byte order mark']
    whole = json.loads(data.decode('utf-8'))
    faults = []
    if whole.get('type') != 'FeatureCollection' or not isinstance(whole.get('features'), list):
        return ['3.3: no collection of features']
    if 'crs' in whole:
        faults.append('4: a coordinate reference system')
    for feature in whole['features']:
        if feature.get('type') != 'Feature' or not {'geometry', 'properties'} <= feature.keys():
            faults.append('3.2: no feature')
        elif not isinstance(feature['properties'], (dict, type(None))):
            faults.append('3.2: properties')
        elif feature['geometry'] is not None:
            faults += faults_of_shape(feature['geometry'])
    return faults


def faults_of_shape(shape):
    kind, where = shape.get('type'), shape.get('coordinates')
    if kind == 'Point':
        return faults_of_positions([where])
    if kind == 'LineString':
        return faults_of_positions(where) + (['3.1.4: a line of one'] if len(where) < 2 else [])
    if kind not in ('Polygon', 'MultiPolygon'):
        return [f'3.1: a {kind}']
    faults = []
    for polygon in [where] if kind == 'Polygon' else where:
        for i, ring in enumerate(polygon):
            faults += faults_of_positions(ring)
            if len(ring) < 4 or ring[0] != ring[-1]:
                faults.append('3.1.6: a ring that is not closed')
            elif (twice_area(ring) > 0) != (i == 0):
                faults.append('3.1.6: a ring walked the wrong way')
    return faults


def faults_of_positions(positions):
    return [f'3.1.1: a position {p}' for p in positions
            if len(p) not in (2, 3) or not (-180 <= p[0] <= 180 and -90 <= p[1] <= 90)]
