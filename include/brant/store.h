/* store: files. Elevation models through GDAL, outputs that appear whole or not
 * at all, rasters and vectors. The only room that knows GDAL. */
#ifndef BRANT_STORE_H
#define BRANT_STORE_H

#include "brant/tour.h"

#pragma GCC visibility push(default)

/* GDAL keeps blocks of files in a cache that all of the process shares; by itself it grows
 * to a twentieth of the machine's memory. Everything here reads a piece once, in order, so a
 * small one serves, and fresh memory costs time. For programs, before any file is opened; a
 * library does not decide this. The user's own GDAL_CACHEMAX is left alone. */
#define BRANT_CACHE ((size_t)32 << 20)
void brant_store_cache_limit(size_t bytes);

/* GDAL has drivers that fetch things, and takes any of them for what lies beside a file (masks,
 * overviews, side-cars that name others). Leave the process only those that brant needs. For
 * programs, before any file is opened; a library does not decide this. */
void brant_store_own_drivers(void);

/* ---- elevation models --------------------------------------------------- */

typedef struct brant_dem_options {
    int band;              /* 1..; 0: the only band, or the first (with a warning if several) */
    double scale_m;        /* working grid's cell, metres: 0 default (about 5 m if finer than
                              4 m), negative: native */
    const char *vertical_unit; /* "m", "ft", "us-ft", "dm"; NULL: what the file says, else metres */
    const double *nodata;  /* further values that are void */
    size_t nodata_count;
} brant_dem_options;

/* An open elevation model: its working grid, matrix and source. */
typedef struct brant_dem {
    char *name;            /* the path as given */
    brant_grid grid;       /* the working grid */
    int factor;            /* k: the working grid is k x k cells of the file averaged */
    int block_cols, block_rows; /* working cells that are cheap to read together: the (first)
                                   file's tiles or strips */
    int band;              /* used */
    double to_metres;      /* factor from stored to metres (unit, scale) */
    const char *unit_from; /* "option", "CRS", "band", "GeoKeys", "assumed" */
    char *driver;          /* GDAL's short name; of a folder or list, its first tile's */
    size_t tiles;          /* files that it is made of */
    const double *undeclared; /* stored values taken as void that nobody declared (besides those
                                 outside of -500..9000 m) */
    size_t undeclared_count;
    bool unit_doubted;     /* the heights look like another unit's; never where an option gave it */
    brant_ground *ground;
    brant_source source;   /* thread-safe, of working-grid elevations in metres */
    void *self;            /* private */
} brant_dem;

/* Open a model, read-only, by a fixed list of drivers: a file, a mosaic (VRT), a
 * folder of tiles, a list of tiles (.txt, .lst), or a GeoTIFF at an address
 * (http://, https://, /vsicurl/...); nothing else is taken from the network. The
 * model is surveyed for voids that nobody declared and for a wrong unit, with
 * warnings. Refuses (BRANT_ERR_INPUT, one line): not a raster, tiles that do not go
 * together, no CRS, no geotransform, complex band, no valid cell. */
brant_status brant_dem_open(brant_context *ctx, const char *path, const brant_dem_options *options,
                            brant_dem *dem);
void brant_dem_close(brant_dem *dem);

/* A GeoTIFF's keys as stored (OGC 19-008r4), read by libgeotiff. Codes are 0
 * where the key is not there; 32767 is 'user-defined'. */
typedef struct brant_geokeys {
    bool present;                     /* false: no GeoTIFF on this machine, or without keys */
    int version, revision, minor_revision;
    int model_type;                   /* 1 projected, 2 geographic, 3 geocentric */
    int raster_type;                  /* 1 PixelIsArea, 2 PixelIsPoint */
    int geographic_type;              /* EPSG code */
    int geographic_linear_units, geographic_angular_units; /* EPSG unit codes */
    int projected_type;               /* EPSG code */
    int projected_linear_units;       /* EPSG unit code */
    double projected_linear_unit_size; /* metres, where user-defined; else NaN */
    int vertical_type;                /* EPSG code */
    int vertical_units;               /* EPSG unit: 9001 metre, 9002 foot, 9003 US survey foot */
    char *citation, *geographic_citation, *projected_citation, *vertical_citation; /* or NULL */
    char **lines;                     /* every key as "name = value", by rising key */
    size_t line_count, line_capacity;
} brant_geokeys;

/* A raster that is no GeoTIFF is no error: `present` is false. Clear it when done. */
brant_status brant_geokeys_read(brant_context *ctx, const char *path, brant_geokeys *keys);
void brant_geokeys_clear(brant_geokeys *keys);

/* What a model's file says of itself, as GDAL reads it, and its raw keys; of a folder,
 * list or mosaic, what its first tile says. Owned; clear it when done. */
typedef struct brant_dem_facts {
    int cols, rows;        /* the model's own cells, before averaging */
    int bands;             /* of the file */
    const char *type;      /* "Int16", static */
    char *crs;             /* name */
    int crs_code;          /* EPSG; 0 none known */
    bool projected;        /* else geographic */
    double linear_unit_m;  /* metres in a unit of the axes; NaN for angles */
    char *datum;           /* name of its geographic base */
    char *ellipsoid;
    double semi_major_m, inverse_flattening; /* the latter 0 for a sphere */
    char *vertical_crs;    /* name, NULL none */
    int placement;         /* 1 values stand for areas, 2 for points, 0 the file does not say */
    bool has_nodata;
    double nodata;         /* stored value */
    bool masked;           /* a mask or an alpha band hides cells */
    double unit_m;         /* metres in the unit of heights that was taken; 0: the user's */
    double offset_m;       /* metres of a stored 0 */
    const double *implausible; /* stored values outside of -500..9000 m that the survey met;
                                  the model's own */
    size_t implausible_count;
    brant_geokeys keys;
} brant_dem_facts;

brant_status brant_dem_facts_read(brant_context *ctx, const brant_dem *dem,
                                  brant_dem_facts *facts);
void brant_dem_facts_clear(brant_dem_facts *facts);
/* Cells of the file in `window` (of the working grid) that are void though nobody
 * declared it, added to *cells. Any number of threads at once. */
brant_status brant_dem_undeclared(brant_context *ctx, const brant_dem *dem,
                                  const brant_window *window, int64_t *cells);
/* Share of up to half a million of the file's known cells, spread over the model, whose
 * stored value is a whole number; NaN where none was known. */
brant_status brant_dem_whole_share(brant_context *ctx, const brant_dem *dem, double *share);

/* Zones made by a person or an earlier stage: a raster of numbers on the model's
 * working grid (another size, transform or CRS is refused), or polygons in a
 * GeoPackage or GeoJSON file in any CRS, which become cells of that grid
 * (src/store/polygons.c says how). Told by content, not by suffix.
 * reach_angle_deg: the run's; where polygons overlap, the one of the lower reach
 * angle keeps the cell. */
typedef struct brant_zone_file brant_zone_file;
brant_status brant_zone_file_open(brant_context *ctx, const char *path, const brant_dem *dem,
                                  double reach_angle_deg, brant_zone_file **file);
/* As brant_numbers_read: the same numbers whatever the window. */
brant_status brant_zone_file_read(void *file, brant_context *ctx, const brant_window *window,
                                  uint32_t *out);
/* Its zones in the squares that `wanted` names, each with the reach angle of its own
 * that the file gives it; see brant_zone_set_from_numbers. */
brant_status brant_zone_file_zones(brant_context *ctx, brant_zone_file *file,
                                   const brant_dem *dem, const bool *wanted,
                                   const brant_zone_options *options, brant_zone_set *set);
/* The lowest reach angle that a zone has of its own; INFINITY if none has, or for NULL. */
double brant_zone_file_flattest(const brant_zone_file *file);
/* The reach angle that the file gives zone `number`; 0 if none. */
double brant_zone_file_reach_angle(const brant_zone_file *file, uint32_t number);
/* Are they polygons? */
bool brant_zone_file_is_drawn(const brant_zone_file *file);
/* Give back the memory of polygons' outlines, once all cells have been read: from then on the
 * file tells reach angles alone. Nothing of a raster. */
void brant_zone_file_drop_outlines(brant_zone_file *file);
void brant_zone_file_close(brant_zone_file *file);

/* A whole file in memory, "-" for standard input; NUL-terminated; at most
 * `limit` bytes. */
brant_status brant_read_file(brant_context *ctx, const char *path, size_t limit, char **data,
                             size_t *size);

/* ---- staged outputs ----------------------------------------------------- */

/* A set of outputs that appear together or not at all: each is written in a
 * hidden folder beside its place (locked while in use; a dead one is swept), then
 * synced and renamed by brant_stage_commit. */
typedef struct brant_stage brant_stage;

brant_status brant_stage_create(brant_context *ctx, brant_stage **stage);
/* Inputs: an output that is one of them is refused. */
brant_status brant_stage_input(brant_context *ctx, brant_stage *stage, const char *path);
/* Announce an output. `*path` (owned by the stage) is where to write it. `text`
 * allows a target that is no regular file ("-", a pipe, a device): then it is
 * written through on commit. Fails at once when the folder cannot be written. */
brant_status brant_stage_output(brant_context *ctx, brant_stage *stage, const char *target,
                                bool text, const char **path);
/* Write a text output (staged, or held for standard output) whole. */
brant_status brant_stage_text(brant_context *ctx, brant_stage *stage, const char *target,
                              const brant_text *text);
/* The same piece by piece, for a text that memory should not hold. What goes through (standard
 * output, a pipe) is held until the commit all the same. */
brant_status brant_stage_append(brant_context *ctx, brant_stage *stage, const char *target,
                                const brant_text *text);
/* Sync, rename into place with side-car files, write what goes to pipes. */
brant_status brant_stage_commit(brant_context *ctx, brant_stage *stage);
/* Remove what was not committed; frees. */
void brant_stage_destroy(brant_stage *stage);

/* The time that files carry, "1970-01-01T00:00:00.000Z": SOURCE_DATE_EPOCH's, else the epoch
 * itself, never the clock's, so that the same input gives the same bytes. */
#define BRANT_FILE_TIME 32
void brant_file_time(char text[BRANT_FILE_TIME]);

/* ---- rasters out -------------------------------------------------------- */

typedef enum brant_compress {
    BRANT_COMPRESS_DEFLATE,
    BRANT_COMPRESS_ZSTD,
    BRANT_COMPRESS_NONE
} brant_compress;
/* Zstandard, where GDAL has it: of slope and aspect 2 % smaller than deflated, written with
 * 40 % less work and read with 15 % less (level 1 both, 8,192 x 8,192 cells). Else deflate. */
brant_compress brant_compress_default(void);

typedef enum brant_cell_type {
    BRANT_CELL_FLOAT32,
    BRANT_CELL_BYTE,
    BRANT_CELL_UINT16,
    BRANT_CELL_UINT32,
    BRANT_CELL_FLOAT64 /* runout rasters: a GeoTIFF has one type for all its bands, and a zone
                          number of 32 bits does not fit a float32 */
} brant_cell_type;

/* How cells become one cell of an overview, the picture that a map shows from afar. Nearest
 * takes one of them: no overview shows an angle or a number that no cell has, and each class
 * and the unknown keep their share, where an average would make slopes gentler and the most
 * frequent class would make narrow slopes vanish. */
typedef enum brant_resampling {
    BRANT_RESAMPLE_NEAREST,
    BRANT_RESAMPLE_AVERAGE /* of those that are known: heights */
} brant_resampling;

/* How a raster lies in its file. */
typedef struct brant_packing {
    brant_compress compress;
    bool cog; /* cloud optimized (OGC 21-026): overviews, and in front what is read first */
} brant_packing;

typedef struct brant_band_spec {
    const char *description;  /* "reached_at_deg" */
    const char *unit;         /* "deg", "m", ""; a quantity, which has one, gets statistics */
    bool has_nodata;
    double nodata;
    const char *const *categories; /* names of values 0..n-1, NULL-terminated, or NULL */
    const uint8_t (*colours)[4];   /* RGBA of values 0..n-1, with categories; byte bands only;
                                      any other value has that of 0 */
} brant_band_spec;

typedef struct brant_raster_spec {
    const char *title;
    brant_cell_type type;
    int bands;
    const brant_band_spec *band;
    brant_packing packing;
    brant_resampling resampling; /* of overviews */
    const char *const *metadata; /* "KEY=value", NULL-terminated: model, options, factor */
    void (*style)(brant_text *out); /* how desktop GIS show it, written to a side-car that is
                                       named as the raster but ends in .qml; NULL: none */
} brant_raster_spec;

/* A tiled (256 x 256) GeoTIFF over `window` of `grid`, to be written in raster
 * order of its blocks. Written at `path` (a staged one), where a cloud optimized one is
 * made of another file beside it on closing. */
typedef struct brant_raster brant_raster;
#define BRANT_BLOCK 256
brant_status brant_raster_create(brant_context *ctx, const char *path, const brant_grid *grid,
                                 const brant_window *window, const brant_raster_spec *spec,
                                 brant_raster **raster);
/* Block (bx, by) of band `band` (from 1): BRANT_BLOCK*BRANT_BLOCK cells of the
 * spec's type, row by row, those over the border ignored. */
brant_status brant_raster_block(brant_context *ctx, brant_raster *raster, int band, int bx, int by,
                                const void *cells);
/* Flush and close, every step checked. */
brant_status brant_raster_close(brant_context *ctx, brant_raster *raster);
void brant_raster_abandon(brant_raster *raster); /* NULL allowed */

/* The metadata item `key` of the raster or GeoPackage at `path`; nothing is added to
 * `value` where it has none. */
brant_status brant_raster_tag(brant_context *ctx, const char *path, const char *key,
                              brant_text *value);

/* A raster that brant wrote, read again: its values as they stand, NaN for its nodata and
 * outside of it. One thread at a time. `grid` is borrowed. */
typedef struct brant_raster_file brant_raster_file;
brant_status brant_raster_file_open(brant_context *ctx, const char *path,
                                    brant_raster_file **file);
const brant_grid *brant_raster_file_grid(const brant_raster_file *file);
/* Band `band` (from 1) over `window`, row by row. */
brant_status brant_raster_file_read(brant_context *ctx, brant_raster_file *file, int band,
                                    const brant_window *window, float *out);
void brant_raster_file_close(brant_raster_file *file); /* NULL allowed */

/* A whole array (window.rows*window.cols cells a band) as one raster. */
brant_status brant_raster_write(brant_context *ctx, const char *path, const brant_grid *grid,
                                const brant_window *window, const brant_raster_spec *spec,
                                const void *const *bands);

/* ---- vectors out -------------------------------------------------------- */

/* Vector layers in one GeoPackage (all layers), or one GeoJSON file by suffix
 * .geojson or .json (RFC 7946: WGS 84; one layer). */
typedef struct brant_layers brant_layers;

typedef enum brant_field_type {
    BRANT_FIELD_TEXT,
    BRANT_FIELD_INTEGER,
    BRANT_FIELD_REAL
} brant_field_type;

typedef struct brant_column {
    const char *name;
    brant_field_type type;
} brant_column;
typedef struct brant_value {
    const char *text; /* NULL: not set */
    double number;    /* NaN: not set; integers too */
} brant_value;

typedef enum brant_shape { BRANT_SHAPE_POINT, BRANT_SHAPE_LINE, BRANT_SHAPE_AREA } brant_shape;

brant_status brant_layers_create(brant_context *ctx, const char *path, const char *target,
                                 brant_layers **layers);
/* "KEY=value" lines, NULL-terminated, that a GeoPackage carries as a raster does; a GeoJSON
 * file has no place for them. */
brant_status brant_layers_metadata(brant_context *ctx, brant_layers *layers,
                                   const char *const *lines);
/* Start a layer; columns are kept by reference until the next. */
brant_status brant_layers_add(brant_context *ctx, brant_layers *layers, const char *name,
                              brant_shape shape, const brant_column *columns, int column_count);
/* How the layer under way is shown where nobody said anything else: written on closing to the
 * table `layer_styles`, from which desktop GIS take it. GeoJSON has no place for it. */
typedef struct brant_layer_style {
    const char *description; /* one line on the layer */
    const char *qml, *sld;   /* the style, twice */
} brant_layer_style;
/* Before the layer's first feature; the texts are copied. */
brant_status brant_layers_style(brant_context *ctx, brant_layers *layers,
                                const brant_layer_style *style);
/* A point or a line in WGS 84 degrees, lon, lat pairs. */
brant_status brant_layers_feature(brant_context *ctx, brant_layers *layers, const double *lonlat,
                                  size_t points, const brant_value *values);
/* The outlines of all zones in `numbers` (which covers `window`), one
 * multipolygon a number, holes kept, by rising number, in the grid's own CRS
 * (GeoPackage) or WGS 84 (GeoJSON). `values` fills the columns of a number. */
typedef void (*brant_values_fn)(void *self, uint32_t number, brant_value *values);
brant_status brant_layers_outlines(brant_context *ctx, brant_layers *layers,
                                   const brant_grid *grid, const brant_window *window,
                                   const uint32_t *numbers, brant_values_fn values, void *self);
brant_status brant_layers_close(brant_context *ctx, brant_layers *layers);
void brant_layers_abandon(brant_layers *layers);

#pragma GCC visibility pop

#endif
