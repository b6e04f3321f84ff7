/* tour: GPX in, a route sampled on the grid, what it meets, and its legs. */
#ifndef BRANT_TOUR_H
#define BRANT_TOUR_H

#include "brant/day.h"
#include "brant/runout.h"

#include <math.h>

#pragma GCC visibility push(default)

/* ---- GPX ---------------------------------------------------------------- */

/* Tracks and routes of a GPX 1.0 or 1.1 file. Elevations and times in it are
 * not kept: the model's elevations count. Owned; brant_gpx_clear frees. */
typedef struct brant_gpx_point {
    double lon, lat; /* WGS 84 degrees, lon [-180, 180], lat [-90, 90] */
} brant_gpx_point;

typedef struct brant_gpx_segment {
    size_t first, count; /* into points; count may be 0 or 1 */
} brant_gpx_segment;

typedef struct brant_gpx_route {
    char *name;                /* UTF-8, "" if it has none */
    bool planned;              /* rte, not trk */
    size_t first_segment, segments; /* a rte is one segment */
} brant_gpx_route;

typedef struct brant_gpx {
    const char *file; /* its name for messages, borrowed */
    brant_gpx_point *points;
    size_t point_count;
    brant_gpx_segment *segments;
    size_t segment_count;
    brant_gpx_route *routes; /* in file order; one without any two points is kept, too */
    size_t route_count;
    size_t waypoints;        /* how many there were; they are no route */
} brant_gpx;

/* Parse a whole file held in memory. `name` stands in messages, which carry the
 * line number. BRANT_ERR_INPUT: not well-formed, no GPX (root element), a
 * missing or bad coordinate in a track or route, no track or route with two
 * points. `name` must live as long as `gpx`. Limits: 500,000 points, depth 64, no entity
 * declarations. */
brant_status brant_gpx_parse(brant_context *ctx, const char *name, const char *data, size_t size,
                             brant_gpx *gpx);
void brant_gpx_clear(brant_gpx *gpx);

/* ---- sampling ----------------------------------------------------------- */

/* Samples of all routes of a file together: more would not fit the memory that is stated
 * (brant(1)). 750 km at steps of 5 m. */
#define BRANT_SAMPLES_MAX 150000

/* A point of a route as it is looked up in the model. */
typedef struct brant_sample {
    double along_m; /* ground plan on the ellipsoid, from the route's first point;
                       gaps between segments add nothing */
    double lon, lat;
    double col, row; /* grid coordinates; NaN where the CRS has no such place */
    bool first;      /* first of a segment: no leg joins it to the one before */
} brant_sample;

typedef struct brant_track {
    char *name;      /* the route's, or "route N" */
    brant_sample *samples;
    size_t count;
    double length_m;
    size_t points;   /* distinct GPX points it came from */
} brant_track;

/* Sample route `index` along the geodesics between its points, so that no two
 * neighbours are further apart than `step_m`. Repeated points are one. Segments
 * with one point or none are left out. A track with count 0 has no two points.
 * BRANT_ERR_INPUT, naming the file: it would have more than BRANT_SAMPLES_MAX. */
brant_status brant_track_sample(brant_context *ctx, const brant_gpx *gpx, size_t index,
                                brant_locator *locator, double step_m, brant_track *track);
void brant_track_clear(brant_track *track);

/* ---- what a route meets ------------------------------------------------- */

/* The kinds, in the order in which they name a leg. */
typedef enum brant_kind {
    BRANT_KIND_UNKNOWN,
    BRANT_KIND_CROSSES,
    BRANT_KIND_OVER_BAND,
    BRANT_KIND_EDGE,
    BRANT_KIND_UNDER,
    BRANT_KIND_REMOTE,
    BRANT_KIND_NONE_FOUND,
    BRANT_KINDS
} brant_kind;

const char *brant_kind_name(brant_kind kind); /* "none-found", ... */
/* Is it sought what lies below a leg of this kind? Where snow may take one along. */
bool brant_kind_seeks_below(brant_kind kind);

/* Everything true of a sample, as bits 1 << brant_kind, plus unknown above. */
#define BRANT_IS(kind) (1u << (kind))
#define BRANT_UNKNOWN_ABOVE (1u << BRANT_KINDS)

/* A zone that reaches a cell of the route. */
typedef struct brant_hit {
    int col, row;
    uint32_t zone;
    float reached_at_deg, head_m;
} brant_hit;

/* What the model says at a sample. Degrees and metres; NaN not known. */
typedef struct brant_fact {
    float elevation_m;     /* bilinear between cell centres; NaN beside a void */
    float slope_deg, aspect_deg;
    uint32_t is;           /* bits above */
    brant_kind kind;       /* the first that holds */
    uint32_t zone;         /* the zone it is on, or whose edge it is at, or (kind remote) the
                              nearest that can be triggered from it, else the one that
                              reaches it at the steepest angle; 0 none */
    float reached_at_deg;  /* of the zones above it, 0 if none at the floor or more */
    float head_m;          /* the largest at the reach angle, 0 if not under */
    uint32_t first_hit, hits; /* the zones that reach its cell, see brant_meeting.hits */
    brant_level level;     /* of its own ground, at its hour (planned to late) if hours are
                              known; NONE without a bulletin */
} brant_fact;

typedef struct brant_meet_options {
    brant_band band;
    double edge_m;          /* default 30 */
    double remote_m;        /* default 100 */
    double remote_slope_deg; /* default 20 */
    double reach_angle_deg;
    double floor_deg;       /* the shadow is known down to this reach angle */
    double vertical_error_m; /* standard error of the model's heights; NaN not known */
} brant_meet_options;

#define BRANT_MEET_OPTIONS_DEFAULT                                                                 \
    ((brant_meet_options){BRANT_BAND_DEFAULT, 30.0, 100.0, 20.0, 25.0, 18.0, NAN})

/* ---- the day ------------------------------------------------------------ */

/* What the day says, the same for all routes of a run; all borrowed. */
typedef struct brant_day {
    const brant_bulletin *bulletin; /* NULL: none */
    brant_time start;               /* has_offset false: no hours are known */
    int later_from;                 /* minutes of the start's day; negative: no clock known */
    brant_bulletin_options options; /* as the bulletin was read */
    brant_pace pace;
    double out_by;                  /* to be at the route's end by then, UTC s; NaN: not given */
    const brant_wind *wind;         /* NULL: not given */
    /* by index in the zone set, for each period: what the plan tallies of the zones near a
       route; NULL without a bulletin. Level NONE: not tallied */
    const brant_danger (*zone_danger)[BRANT_PERIODS];
} brant_day;

/* No bulletin, no hours, no wind. */
#define BRANT_DAY_NONE ((brant_day){.later_from = -1, .pace = BRANT_PACE_DEFAULT, .out_by = NAN})

/* What all routes of one tour are met with. `hits` is sorted by row, col, then
 * zone; a zone's own ground is not a hit of that zone. */
typedef struct brant_meeting {
    const brant_field *field;      /* covers every sample on the grid and 110 m around */
    const brant_ground *ground;
    const brant_zone_set *zones;
    const brant_hit *hits;
    size_t hit_count;
    /* by field cell: the steepest angle at which any zone reaches it, 0 for none, true within
       options.edge_m of every sample; how many zones reach it at their reach angle; 1 where a
       void or the raster's edge reaches it */
    const float *reached_at;
    const uint16_t *zones_above;
    const uint8_t *unknown_above;
    const brant_day *day;          /* NULL: no bulletin and no hours */
    brant_meet_options options;
} brant_meeting;

/* With a bulletin release ground of level 4 and more, or with a persistent weak layer (in any
 * period), counts as remote from this far, where options.remote_m is less. */
#define BRANT_REMOTE_FAR_M 300.0

/* Facts of each sample of `track` (track->count of them, caller frees). */
brant_status brant_meet(brant_context *ctx, const brant_meeting *meeting, const brant_track *track,
                        brant_fact **facts);

/* ---- legs --------------------------------------------------------------- */

/* A zone that a leg meets. */
typedef struct brant_above {
    uint32_t leg;          /* number of the leg, from 1 */
    const brant_zone *zone;
    float reached_at_deg;  /* the steepest over the leg; 90 where the leg is on it */
    float head_m;          /* the largest over the leg */
    bool on, edge;         /* the leg crosses it, is at its edge */
    bool remote;           /* it is near and connected: remote triggering */
    float high_m;          /* the highest of the leg's ground on it or at its edge; infinite
                              where some height is not known; NaN: neither on nor at its edge */
    float low_m;           /* the lowest of the leg's ground, neither on it nor at its edge,
                              that it reaches at its reach angle; -infinite where some height is
                              not known; NaN: none */
    brant_danger danger;   /* of the zone in the leg's periods; level NONE without a bulletin */
    bool sun_sought;       /* with hours, for zones that the leg is on, at the edge of, remote
                              from, or under at the reach angle */
    brant_sun_on sun;      /* from the start of the start's day until the late pace has left
                              the leg: `first` UTC s, NaN none before; clear sky */
    brant_shelter shelter; /* from the day's wind; mean_deg NaN: no wind given, or not known */
} brant_above;

/* What it would mean to be carried down from a leg. */
typedef enum brant_below_kind {
    BRANT_BELOW_CLIFF,
    BRANT_BELOW_GULLY,
    BRANT_BELOW_FLAT,
    BRANT_BELOW_UNKNOWN, /* a void or the model's edge: what lies there is not known */
    BRANT_BELOWS
} brant_below_kind;

typedef struct brant_below {
    bool sought;            /* on legs of the kinds unknown, crosses, over-band, edge, under */
    float run_m[BRANT_BELOWS]; /* metres run to the first of each, 0: on the leg itself; NaN:
                               none found. Known up to the first cliff; gullies and flats
                               are looked for up to the first of any */
    double gully_m;         /* metres of the leg that lie in a gully; NaN: none found, but some
                               of it may */
    bool unknown_beyond;    /* there is a first known, and past it, before any cliff, it is not
                               known how it goes on */
} brant_below;

/* A stretch of one kind. Boundaries lie half-way between samples. A stretch shorter
 * than twice edge_m between two worse ones is counted with the milder of them, so a
 * leg's kind may be worse than a sample's in it, never milder. NaN or 0: not
 * applicable. */
typedef struct brant_leg {
    uint32_t number;         /* 1..n along the route */
    brant_kind kind;
    uint32_t is;             /* union of its samples' bits */
    size_t first_sample, samples;
    double from_m, to_m;
    float steepest_deg, aspect_deg; /* steepest sample and its aspect */
    float steepest_error_deg; /* standard error of steepest_deg; NaN not known */
    float low_m, high_m;
    uint32_t zone;           /* the zone of most of its samples, 0 none */
    uint32_t zones_above;    /* distinct zones that reach it at the reach angle, its own aside */
    double area_above_m2;    /* their area */
    float reached_at_deg;    /* the steepest over the leg from a zone it is not on; 0 none */
    float head_m;
    double unknown_above_m;  /* metres of it with unknown above */
    double reached_m[3];     /* metres of it reached at 30, 25, 20 degrees or on release ground */
    size_t first_above, aboves; /* into brant_tour.above */
    /* of the day; see brant_day */
    brant_level level;       /* the highest of the ground that it meets, in the hours of its
                                stay; of its own ground where it meets none,
                                and where it crosses release ground without a zone */
    bool level_lowered;      /* 'one lower', not stated there */
    uint32_t problems;       /* of all that it takes its level of: mask over the bulletin's
                                problems */
    unsigned periods;        /* BRANT_EARLIER, BRANT_LATER: those of its stay */
    brant_limit limit;       /* of the elementary reduction; limit_deg NaN: none */
    double over_limit_m;     /* metres of it that exceed the limit */
    double arrive_s, leave_s; /* planned, seconds after the start; NaN: no hours. Late: times
                                BRANT_LATE */
    const brant_zone *governing; /* of all it meets: by level, limit exceeded, largest face, then
                                reach; NULL none. Of remote ones only with a bulletin */
    bool sun_sought;         /* the next two are its governing slope's, see brant_above */
    brant_sun_on sun;
    brant_shelter shelter;
    double from_lon, from_lat, to_lon, to_lat;
    brant_below below;       /* filled by the plan */
} brant_leg;

/* A place to wait: a sample where nothing is found and nothing unknown is above, that no zone
 * reaches at BRANT_WAIT_DEG there or within options.edge_m around, and no leg but none-found
 * is within options.edge_m along the route. */
#define BRANT_WAIT_DEG 20.0
typedef struct brant_wait {
    size_t sample;
    double along_m;
    double next_m, exposed_m; /* along the route to the next place to wait of the same segment,
                                 and how much of that is exposed; NaN if there is none */
    double leave_by_utc;      /* the last moment to leave it, at the late pace: to be at the
                                 route's end by day.out_by, and past the stretch that follows
                                 before a higher level begins there at day.later_from. NaN:
                                 none. May be before the party can be there */
} brant_wait;

/* An exposed stretch: legs that are not none-found, with no place to wait between them. */
#define BRANT_NO_WAIT SIZE_MAX
typedef struct brant_stretch {
    double from_m, to_m;      /* from the first of these legs to the end of the last */
    double exposed_m;         /* metres of these legs */
    size_t before, after;     /* the places to wait that bracket it, into brant_tour.waits;
                                 BRANT_NO_WAIT: none on that side */
} brant_stretch;

/* A zone that the upper leg is on, or at the edge of, reaches ground of the lower leg at the
 * reach angle, which is neither on that zone nor at its edge and is lower than some of the
 * upper's there. Both legs may do both at different places. At least one of the two is a leg of the tour at hand. */
#define BRANT_OWN (-1)
typedef struct brant_over {
    int upper_tour, lower_tour; /* index among the other tours, or BRANT_OWN */
    uint32_t upper, lower;      /* numbers of the legs, two different ones */
} brant_over;

/* What more would exceed the limit if ... */
typedef struct brant_what_if {
    size_t legs;             /* that would be over and are not now */
    double metres;           /* of them, over the limit */
    uint32_t *leg;           /* their numbers, along the route; owned; NULL if none */
} brant_what_if;

typedef struct brant_tour {
    brant_track track;       /* moved in */
    brant_fact *facts;       /* moved in */
    brant_leg *legs;
    size_t leg_count;
    brant_above *above;      /* by leg, then reached_at falling, then zone number */
    size_t above_count;
    uint32_t *rank;          /* leg indices, worst first; none-found last */
    double metres[BRANT_KINDS]; /* by the kind that names the leg */
    double is_metres[BRANT_KINDS + 1]; /* metres where each bit holds, BRANT_UNKNOWN_ABOVE last */
    double steeper_m;        /* metres more that would be on release ground if slopes were
                                steeper by BRANT_STEEPER_DEG, or by one standard error where
                                the heights' error is known */
    double climb_m, descent_m;
    brant_wait *waits;       /* along the route */
    size_t wait_count;
    brant_stretch *stretches; /* along the route */
    size_t stretch_count;
    brant_over *overs;       /* by lower tour and leg, then upper; filled by brant_tour_overs */
    size_t over_count;
    bool waits_unknown;      /* the shadow at BRANT_WAIT_DEG is not known: no waits were sought */
    /* of the day */
    double *seconds;         /* planned, from the start to each sample; NULL: no hours */
    double unknown_pace_m;   /* metres timed without known elevation */
    double over_m;           /* metres over the limit */
    double limit_unknown_m;  /* metres of legs where it is not known whether they are */
    brant_what_if over_if_higher; /* one level more; at 5 there is no limit, so 4 adds none */
    brant_what_if over_if_later;  /* started one hour later; none without hours */
} brant_tour;

#define BRANT_STEEPER_DEG 2.0

/* Build the legs of a met track. Takes track and facts over on success (zeroes
 * the caller's); on failure they stay the caller's. */
brant_status brant_tour_build(brant_context *ctx, const brant_meeting *meeting,
                              brant_track *track, brant_fact **facts, brant_tour *tour);
/* Join the day (meeting->day; NULL: nothing to do) to a tour that is built: hours, levels,
 * limits, what if, when to leave; and order the legs by them. `source` is read around the
 * route for the slopes that the limit considers. Sun and shelter are the plan's to fill. */
brant_status brant_tour_day(brant_context *ctx, const brant_meeting *meeting,
                            brant_source *source, brant_tour *tour);
void brant_tour_clear(brant_tour *tour);
/* Which legs of `tour`, and of `other_count` other tours met in the same meeting, are above
 * which: tour->overs. */
brant_status brant_tour_overs(brant_context *ctx, const brant_tour *others, size_t other_count,
                              brant_tour *tour);
/* Metres of the route that sample `i` stands for: half-way to both neighbours. */
double brant_sample_metres(const brant_track *track, size_t i);

#pragma GCC visibility pop

#endif
