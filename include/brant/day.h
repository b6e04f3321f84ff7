/* day: what the day adds to the terrain: clock times, the bulletin, the level of
 * the ground, the steepness limit, warning signs and kit, metres climbed. */
#ifndef BRANT_DAY_H
#define BRANT_DAY_H

#include <math.h> /* NAN, for options that are not given */

#include "brant/terrain.h"

#pragma GCC visibility push(default)

/* ---- clock times -------------------------------------------------------- */

/* A moment, and the offset from UTC in which people there read it. No time zone
 * data, no daylight saving: the offset is what the text said. */
typedef struct brant_time {
    int64_t utc_s;   /* seconds since 1970-01-01T00:00:00Z, no leap seconds */
    int offset_min;  /* minutes east of UTC, -840..840; 0 without an offset */
    bool has_offset; /* false: the text named none, and utc_s reads it as UTC */
} brant_time;

/* The same moment as date and clock in its own offset (Gregorian calendar). */
typedef struct brant_date {
    int year, month, day;     /* month 1-12, day 1-31 */
    int hour, minute, second; /* 0-23, 0-59, 0-59 */
    int weekday;              /* 0 Monday .. 6 Sunday */
} brant_date;

/* RFC 3339 date-time, seconds optional: 2027-02-13T07:30+01:00, ...T06:30:00Z; a
 * fraction of a second is dropped. Without offset `has_offset` is false: the
 * caller decides whether that will do. False for anything else: a day that is
 * none, 24:00, a leap second, a year outside 1970-2200, an offset beyond 14 h. */
bool brant_time_parse(const char *text, brant_time *time);
/* HH:MM, 00:00 to 23:59, as minutes of the day. */
bool brant_clock_parse(const char *text, int *minutes);
brant_time brant_time_at(int64_t utc_s, int offset_min); /* has_offset: true */
brant_date brant_time_date(const brant_time *time);
/* Minutes of the day at `time` in its own offset, 0..1439. */
int brant_time_clock(const brant_time *time);
/* The start (00:00) of its day in its own offset, UTC seconds. */
int64_t brant_time_midnight(const brant_time *time);

const char *brant_weekday_name(int weekday); /* "Mon".."Sun" */
const char *brant_month_name(int month);     /* "Jan".."Dec" */
/* In the time's own offset, whatever locale and TZ are: */
void brant_text_iso_time(brant_text *text, const brant_time *time); /* 2027-02-13T07:30:00+01:00 */
/* The same into bytes that the caller has. */
#define BRANT_TIME_MAX 32
void brant_iso_time(char text[BRANT_TIME_MAX], const brant_time *time);
void brant_text_clock(brant_text *text, const brant_time *time);    /* 07:30 */
void brant_text_day(brant_text *text, const brant_time *time);      /* Sat 13 Feb 2027 */
void brant_text_day_clock(brant_text *text, const brant_time *time); /* Sat 07:30 */

/* ---- danger levels ------------------------------------------------------ */

/* The danger level of a piece of ground. Numbers are the EAWS scale's. */
typedef enum brant_level {
    BRANT_LEVEL_NONE = 0, /* there is no bulletin (also: a problem that states no level) */
    BRANT_LEVEL_1,
    BRANT_LEVEL_2,
    BRANT_LEVEL_3,
    BRANT_LEVEL_4,
    BRANT_LEVEL_5,
    BRANT_LEVEL_NO_SNOW,
    BRANT_LEVEL_NO_RATING,  /* the bulletin declines to rate it */
    BRANT_LEVEL_NOT_STATED, /* the bulletin is silent on it: never low */
    BRANT_LEVELS
} brant_level;

const char *brant_level_text(brant_level level); /* "", "1".."5", "no snow", "no rating", ... */
/* For ordering: greater comes first. 5, no rating and not stated share the first
 * rank (BRANT_RANK_FIRST, the caller's for 'unknown', too); then 4, 3, 2, 1, no
 * snow, none. So a missing rating never lowers a rank. */
#define BRANT_RANK_FIRST 6
int brant_level_rank(brant_level level);
/* The one of greater rank; of equal rank 5 before no rating before not stated. */
brant_level brant_level_higher(brant_level a, brant_level b);
/* One level more, for a 'what if': 5 and what is no number stay. */
brant_level brant_level_more(brant_level level);

/* ---- the bulletin ------------------------------------------------------- */

/* A set of aspect sectors of 45 degrees: bit 0 N, 1 NE, .. 7 NW (brant_octant). */
typedef unsigned brant_aspects;
#define BRANT_ASPECTS_ALL 0xffu

/* "NW-N-NE,E": sectors and clockwise runs of them ("NW-NE" is NW, N, NE), split
 * by commas, any case. False for what is none, and for a run that comes round to
 * where it began ("NE-N-NW": anticlockwise, or a mistake). */
bool brant_aspects_parse(const char *text, brant_aspects *aspects);
void brant_text_aspects(brant_text *text, brant_aspects aspects); /* "NW-N-NE, S" */

/* Parts of the day. They carry no clock: brant_periods_in. A mask. */
#define BRANT_EARLIER 1u
#define BRANT_LATER 2u
#define BRANT_ALL_DAY 3u
#define BRANT_PERIODS 2 /* index 0 earlier, 1 later */

/* The ground, and the part of the day, that a rating or a problem names. */
typedef struct brant_extent {
    brant_aspects aspects;               /* BRANT_ASPECTS_ALL: none named */
    double lower_m, upper_m;             /* both ends within; NaN: no bound */
    bool lower_treeline, upper_treeline; /* the bound is the tree line, metres by option */
    unsigned periods;                    /* BRANT_EARLIER, BRANT_LATER or both */
} brant_extent;

typedef struct brant_rating {
    brant_level level; /* never NONE or NOT_STATED */
    brant_extent extent;
} brant_rating;

typedef enum brant_problem_kind {
    BRANT_NEW_SNOW,
    BRANT_WIND_SLAB,
    BRANT_PERSISTENT_WEAK_LAYER,
    BRANT_WET_SNOW,
    BRANT_GLIDING_SNOW,
    BRANT_CORNICES,
    BRANT_NO_DISTINCT_PROBLEM,
    BRANT_FAVOURABLE_SITUATION,
    BRANT_PROBLEM_KINDS
} brant_problem_kind;
#define BRANT_KIND_BIT(kind) (1u << (kind)) /* in a mask of kinds */
const char *brant_problem_kind_text(brant_problem_kind kind); /* "persistent weak layer" */

typedef struct brant_problem {
    brant_problem_kind kind;
    brant_extent extent;
    double size;           /* avalanche size 1-5, NaN not stated */
    const char *stability; /* "very_poor", "poor", "fair", "good"; NULL not stated; static */
    const char *frequency; /* "many", "some", "few", "none"; NULL not stated; static */
    brant_level level;     /* NONE: not stated */
    char *comment;         /* NULL: none */
} brant_problem;

typedef struct brant_region {
    char *id;
    char *name; /* NULL: none given */
} brant_region;

/* One bulletin, for one region or for the several that it treats alike. Strings
 * are UTF-8 as the file holds them, NULL where it says nothing; a time is not
 * stated where has_offset is false. Owned: brant_bulletin_clear frees. */
typedef struct brant_bulletin {
    bool by_hand; /* made from options: no name, region, times or problems */
    char *name;   /* the file, as messages name it */
    char *id, *lang, *source, *highlights;
    brant_time published, next_update, valid_from, valid_to;
    brant_region *regions;
    size_t region_count;
    long long chosen_region; /* index into regions, -1: none was asked for */
    brant_rating *ratings;
    size_t rating_count;
    brant_problem *problems; /* bit i of a problem mask is problems[i] */
    size_t problem_count;
    bool outside_core_lower; /* from the options */
} brant_bulletin;

#define BRANT_BULLETIN_MAX_BYTES (16 << 20) /* of a file */
#define BRANT_BULLETIN_MAX_DEPTH 64         /* of nested objects and arrays */
#define BRANT_PROBLEMS_MAX 32               /* of one bulletin; ratings: 256 */

typedef struct brant_bulletin_options {
    const char *region; /* a regionID; NULL: the file's only bulletin */
    double treeline_m;  /* NaN: not given, and `treeline` is refused */
    bool outside_core_lower; /* ground that no rating covers: one lower, see brant_bulletin_at */
} brant_bulletin_options;
/* No region, no tree line, outside: not stated. */
#define BRANT_BULLETIN_OPTIONS ((brant_bulletin_options){.treeline_m = NAN})

/* Read `size` bytes of CAAML v6 JSON (profile BulletinEAWS, schema of 2023-08),
 * all of it strictly: unknown, repeated and outdated names are refused, and so is
 * what the schema's loose patterns let pass: a bound is "treeline", "0" or whole
 * hundreds of metres up to 9900, a time has an offset, bounds are in order.
 * Missing (or empty, or only "n/a") aspects are all aspects, a missing bound is
 * none, a missing period the whole day; "n/a" beside aspects adds nothing.
 * Messages name `name`, the JSON path and the problem. INPUT: the file; USAGE:
 * options.region (missing where the file holds several bulletins, or not in it:
 * those present are listed) and a treeline without metres (in the chosen
 * bulletin only). On failure `bulletin` is empty. */
brant_status brant_bulletin_parse(brant_context *ctx, const char *name, const void *data,
                                  size_t size, const brant_bulletin_options *options,
                                  brant_bulletin *bulletin);
/* By hand: `level` 1-5 above and/or below metres (NaN: no bound) on `aspects`
 * (brant_aspects_parse; NULL: all). All else is not stated (or one lower). USAGE
 * on a level, aspects or bounds that are none. Of `options` only
 * outside_core_lower counts. */
brant_status brant_bulletin_by_hand(brant_context *ctx, long long level, double above_m,
                                    double below_m, const char *aspects,
                                    const brant_bulletin_options *options,
                                    brant_bulletin *bulletin);
void brant_bulletin_clear(brant_bulletin *bulletin);

/* Does the valid time cover [from, to] (UTC s)? By hand: yes. If not, `why` gets
 * both: "valid Fri 12 Feb 2027 17:00 - Sat 13 Feb 2027 17:00, the tour is Mon 15
 * Feb 2027 07:00 - 13:00" or "valid time not stated"; clocks in `offset_min`. */
bool brant_bulletin_covers(const brant_bulletin *bulletin, int64_t from, int64_t to,
                           int offset_min, brant_text *why);
/* Is every aspect and elevation rated, in each of `periods`? */
bool brant_bulletin_states_all(const brant_bulletin *bulletin, unsigned periods);

/* Lines for a report's head, without a line end:
 * "East Quern", or the regions joined, or their IDs; "region not stated"; "by hand". */
void brant_text_region(brant_text *text, const brant_bulletin *bulletin);
/* "valid Fri 17:00 - Sat 17:00" in `offset_min`; "valid time not stated". */
void brant_text_validity(brant_text *text, const brant_bulletin *bulletin, int offset_min);
/* The same for a tour without a start, whose day nothing tells: "valid Fri 12 Feb 2027 17:00 -
 * Sat 13 Feb 2027 17:00", each as the bulletin has it. */
void brant_text_validity_dates(brant_text *text, const brant_bulletin *bulletin);
/* "3 above 2,200 m W-N-E; 2 below 2,200 m; 2 above 2,200 m SE-S-SW" with the two of
 * level 2 said as "2 elsewhere (stated)" where they cover all the rest; "...; elsewhere
 * not stated" (or "one lower"); "earlier: ...; later: ..." where the two differ. */
void brant_text_ratings(brant_text *text, const brant_bulletin *bulletin);
/* "Persistent weak layer above 2,200 m W-N-E, size 3, stability poor, some places". */
void brant_text_problem(brant_text *text, const brant_problem *problem);
/* "above 2,200 m W-N-E", "below treeline (1,900 m)"; nothing if it is everywhere. */
void brant_text_extent(brant_text *text, const brant_extent *extent);

/* ---- the level of the ground -------------------------------------------- */

#define BRANT_MARGIN_ASPECT_DEG 10.0 /* beyond a sector's edge a rating still counts */
#define BRANT_MARGIN_ELEVATION_M 100.0
#define BRANT_LEVEL_AREA_M2 400.0    /* a level holds on a zone from this area on */

/* What the bulletin says of a piece of ground. */
typedef struct brant_danger {
    brant_level level;
    bool lowered;      /* the level is the services' usual 'one lower', not stated there */
    uint32_t problems; /* mask over bulletin->problems */
} brant_danger;

/* Ground of one aspect (degrees from north; NaN: flat, any aspect) and elevation
 * (metres; NaN: not known, any) in `periods`. The highest of the ratings whose
 * ground lies within both margins, if a rating covers the place itself in each
 * of the periods; else NOT_STATED (or 5 or no rating within the margins). With
 * outside_core_lower, uncovered ground gets one below the highest rating of the
 * period (at least 1), or a higher one within the margins; NOT_STATED where
 * that period's highest is no number. Problems count with the same margins.
 * Without a bulletin (NULL) NONE. */
brant_danger brant_bulletin_at(const brant_bulletin *bulletin, double aspect_deg,
                               double elevation_m, unsigned periods);

/* The level and problems of a zone, cell by cell: zero it, add the cells, ask. */
typedef struct brant_danger_tally {
    double area_m2;
    double level_m2[BRANT_PERIODS][BRANT_LEVELS];
    double lowered_m2[BRANT_PERIODS][BRANT_LEVELS];
    double problem_m2[BRANT_PERIODS][BRANT_PROBLEMS_MAX];
} brant_danger_tally;
void brant_danger_add(brant_danger_tally *tally, const brant_bulletin *bulletin,
                      double aspect_deg, double elevation_m, double area_m2);
/* The highest level that holds (it or a higher one) on 400 m2, and each problem
 * that does; in a zone smaller than that, the highest of any cell and each problem
 * of any; over `periods` the higher, and either's problems. Without cells: NONE. */
brant_danger brant_danger_of(const brant_danger_tally *tally, unsigned periods);
/* The higher level, and either's problems: a leg under two zones. */
brant_danger brant_danger_join(brant_danger a, brant_danger b);

/* The periods that a stay [from, to] (UTC s) on a tour that starts at `start`
 * falls in. Later begins at `later_from` (minutes of the start's day in the
 * start's offset); negative: no clock is known, both. Past that day's end or
 * before its beginning: both. */
unsigned brant_periods_in(const brant_time *start, int later_from, int64_t from, int64_t to);
/* The kinds (BRANT_KIND_BIT) of the problems in a problem mask. */
unsigned brant_problem_kinds(const brant_bulletin *bulletin, uint32_t problems);
/* Kinds by name, each once, in the enumeration's order: "wind slab, wet snow". */
void brant_text_kinds(brant_text *text, unsigned kinds);
/* Is triggering from afar to be reckoned with: a persistent weak layer, or level 4 or
 * more? The caller then looks for release ground within 300 m, not 100 m. */
bool brant_danger_remote(const brant_bulletin *bulletin, brant_danger danger);

/* ---- the limit ---------------------------------------------------------- */

typedef enum brant_limit_ground {
    BRANT_LIMIT_NOWHERE,   /* no limit */
    BRANT_LIMIT_TRACK,     /* within 20 m of the track */
    BRANT_LIMIT_SLOPE,     /* the whole slope */
    BRANT_LIMIT_CATCHMENT, /* the whole catchment with its runouts */
} brant_limit_ground;
const char *brant_limit_ground_text(brant_limit_ground ground); /* "whole slope", ... */

/* The steepest degrees on each ground; each holds the one before. NaN: not known. */
typedef struct brant_steepest {
    double track_deg, slope_deg, catchment_deg;
} brant_steepest;

typedef struct brant_limit {
    double limit_deg;          /* 40, 35, 30: from here on it is over. NaN: no limit */
    double steepest_deg;       /* on the ground considered; NaN not known or no limit */
    bool over;                 /* the limit is reached or exceeded */
    bool unknown;              /* there is a limit; whether it is exceeded is not known */
    bool first;                /* no limit because the level ranks first: 5, not stated, ... */
    brant_limit_ground ground; /* considered */
    const char *reason;        /* one phrase, why this limit or none; static */
    const char *note;          /* a reservation (wet snow named, too), or NULL; static */
} brant_limit;

/* Munter's elementary reduction (1995, as cited by a South Tyrolean avalanche
 * course page): level 2 below 40 degrees, 3 below 35, 4 below 30; ground at 2 the
 * track, at 3 the whole slope, at 4 the whole catchment. None at 1, none at 5, no
 * rating and not stated. It is a rule for dry slabs: not applied where wet or
 * gliding snow is the only problem (cornices aside). `kinds`: the problems that
 * hold there, brant_problem_kinds. */
brant_limit brant_limit_of(brant_level level, unsigned kinds, const brant_steepest *steepest);

/* ---- warning signs and kit ---------------------------------------------- */

/* What the options say of the signs. */
typedef struct brant_signs_known {
    double new_snow_cm; /* in 24 h; NaN: not given */
    const char *wind;   /* as given ("W", "240-300"); NULL: not given */
    bool warming;       /* a marked rise is expected */
} brant_signs_known;

/* A box to tick on the way or before it, never a verdict. Common practice of the
 * trade, no source. */
typedef struct brant_check_item {
    const char *title; /* "New snow in 24 h" */
    const char *text;  /* what to look for; one sentence */
} brant_check_item;

enum { BRANT_SIGNS = 5 };
extern const brant_check_item brant_signs[]; /* to check on the way; BRANT_SIGNS */
extern const brant_check_item brant_kit[];              /* the kit; ends with title NULL */
/* What is known of sign `index` before setting out: "30 cm (given)"; nothing if
 * nothing is. */
void brant_text_sign_known(brant_text *text, int index, const brant_signs_known *known);

/* ---- metres climbed ------------------------------------------------------ */

/* Metres up and down along `count` elevations (NaN: unknown, skipped). A change
 * of direction counts once it exceeds `hysteresis_m`, so that the model's noise
 * does not climb. Common practice, no source; 10 m serves 10-30 m models. */
#define BRANT_CLIMB_HYSTERESIS 10.0
void brant_climb(const float *elevation, size_t count, double hysteresis_m, double *up,
                 double *down);

/* ---- hours: how long a route takes --------------------------------------- */

/* How fast a party moves. Either by the trade's units, hours = (km + m/100) / rate,
 * with a rate each for ground that rises, falls or is flat (the units of Munter:
 * 4 up on skins or foot, 10 down on ski, 6 flat or down on foot); or walking by
 * DIN 33466: 300 m up, 500 m down, 4 km an hour, the larger of the height's and the
 * distance's time and half of the smaller. */
typedef struct brant_pace {
    bool walk;             /* DIN 33466; the rates are not used */
    double up, down, flat; /* units an hour, 0.1 to 100 */
} brant_pace;

#define BRANT_PACE_DEFAULT ((brant_pace){false, 4.0, 10.0, 6.0})

/* "UP,DOWN,FLAT", three rates of 0.1 to 100, or "walk". False if `text` is neither. */
bool brant_pace_parse(const char *text, brant_pace *pace);

/* What was timed: sums over the route. */
typedef struct brant_pace_sums {
    double up_m, down_m;             /* height, as brant_climb counts it a segment */
    double rising_m, falling_m, flat_m; /* ground plan timed as each */
    double unknown_m;                /* ground plan without known elevation, part of the above:
                                        bridged, say so where it is not 0 */
} brant_pace_sums;

/* Seconds from the start at each sample of a route: never falling, 0 at the first.
 *
 * along_m: ground plan from the route's first point, never falling; elevation_m: NaN
 * unknown; first: true where a sample opens a segment (NULL: sample 0 only). `count`
 * each. The gap between two segments takes no time and is not climbed.
 *
 * Each segment's elevations are levelled as brant_climb does with 10 m: between
 * turning points the ground only rises or only falls, so the model's noise does not
 * climb and the sums agree with brant_climb. Ground is flat where it lies in a stretch of
 * 500 m or more that stays within 10 m; else it is rising or falling (the two
 * figures: common practice, no source). Unknown elevations are bridged by a straight
 * line between their known neighbours; at a segment's ends, and where none is known,
 * they are flat.
 *
 * DIN 33466 is meant for a whole stretch, and each stretch between two turning points
 * is one: a route that only rises or only falls gets the published total whatever its
 * profile, one with turning points that of the whole or more (the same where height
 * takes longer than distance on all its stretches, or on none). Within a stretch time
 * goes with distance and height as they come. `sums` may be NULL. */
brant_status brant_pace_times(brant_context *ctx, const brant_pace *pace, size_t count,
                              const double *along_m, const float *elevation_m, const bool *first,
                              double *seconds, brant_pace_sums *sums);

/* Seconds at `along` metres, linear between samples; outside the route its nearest
 * end. count > 0. */
double brant_pace_at(size_t count, const double *along_m, const double *seconds, double along);

/* The late column: every time from the start times this. Common practice, no source. */
#define BRANT_LATE 1.3

/* The last moment to leave sample `from` so that a party at the late pace is at sample
 * `to` (from <= to) at the moment `by`: the route's last sample by the hour to be out,
 * or the last sample on ground whose rating changes, by the hour it does. Moments in any
 * one clock of seconds, such as Unix time. A moment before the party can be at `from` is
 * the caller's to see: compare with start + BRANT_LATE * seconds[from]. */
double brant_latest_leave(const double *seconds, size_t from, size_t to, double by);

/* ---- sun ----------------------------------------------------------------- */

/* Where the sun stands: degrees. Moments are Unix time (UTC, seconds since 1970). */
typedef struct brant_sun {
    double altitude_deg; /* of its centre, without refraction */
    double apparent_deg; /* the same with the refraction of a standard atmosphere at sea level */
    double azimuth_deg;  /* from true north, [0, 360) */
} brant_sun;

/* The equations of Meeus (Astronomical Algorithms, 1998, ch. 25) behind NOAA's solar
 * calculator: within 0.01 degrees of the full theory in the years 2000 to 2100, which
 * is an order better than any horizon from a model. Longitude and latitude in
 * degrees, east and north positive. */
brant_sun brant_sun_at(double utc, double lon, double lat);

/* Cosine of the angle between the sun and the ground's normal: cos I = cos z cos s +
 * sin s sin z cos(azimuth - aspect) with the apparent sun. Below 0 the ground turns
 * its back to the sun; NaN aspect is flat only where slope is 0, else NaN. */
double brant_sun_incidence(const brant_sun *sun, double slope_deg, double aspect_deg);

/* Sunrise and sunset over level ground: the upper limb with standard refraction
 * (altitude -0.833 degrees, NOAA). */
typedef enum brant_daylight {
    BRANT_DAYLIGHT_RISES_OR_SETS,
    BRANT_DAYLIGHT_ALL, /* polar day */
    BRANT_DAYLIGHT_NONE /* polar night */
} brant_daylight;

/* The first sunrise and the last sunset within [from, to), to the second; NaN: none.
 * An interval of at most two days. */
brant_daylight brant_sun_daylight(double from, double to, double lon, double lat, double *rise,
                                  double *set);

/* When direct sun from a clear sky falls on a zone. Say 'clear-sky sun': cloud, air
 * temperature and refreezing are not known. Two answers, `certain` and `possible`,
 * that differ where it is not known what stands on the horizon (voids, the raster's
 * edge) or which way a cell faces: certain if the unknown hides as much as it can,
 * possible if it hides nothing. For wet snow the possible one is the cautious one. */
typedef struct brant_sunshine {
    double first;   /* the first minute with sun; NaN none. Equals `from`: there already */
    double seconds; /* with sun, to the minute */
} brant_sunshine;

typedef struct brant_sun_on {
    brant_sunshine certain, possible;
    bool unknown; /* the two differ: say so */
} brant_sun_on;

/* Sun on a zone, minute by minute from a time on (such as midnight), as far as it was
 * followed. To start: `from` set, the rest zero. Owned; brant_sun_course_clear frees. */
typedef struct brant_sun_course {
    double from;
    int minutes;          /* known */
    unsigned char *shine; /* a minute each; private */
    size_t capacity;
} brant_sun_course;

/* Follow the sun to `to` at least (at most two days). `cells` as brant_zone_cells gives them,
 * each standing for area_m2 / count, at most BRANT_ZONE_CELLS (later ones are not looked at);
 * one position of the sun serves them all, that at lon, lat of the zone.
 *
 * A minute has sun when 400 m2 of the zone have it (half of a zone smaller than 800):
 * the centre of the sun's disc stands above the level, above the terrain's horizon
 * and in front of the slope. Horizons are looked up at the sun's azimuth every ten
 * minutes and are straight between; measured against every minute on 460 zones of a
 * real model, the first minute was the same within 1 in 440 of them and within 5 in
 * all. With 64 cells of a large zone a patch is a 64th of it. No relief (NULL): all
 * horizons are unknown. Zones may be followed on many threads (brant_run). */
brant_status brant_sun_course_follow(brant_context *ctx, const brant_skyline *relief, double lon,
                                     double lat, const brant_zone_cell *cells, size_t count,
                                     double area_m2, double to, brant_sun_course *course);
/* Sun in [from, to), of a course that was followed that far: how far beyond makes no
 * difference. */
void brant_sun_course_until(const brant_sun_course *course, double to, brant_sun_on *out);
void brant_sun_course_clear(brant_sun_course *course);

#pragma GCC visibility pop

#endif
