/* The day through the whole plan, on two planes: a face to the north and one to the south of
 * a flat top, whose levels, limits, sun and shelter are known. */
#include "brant/plan.h"

#include "../../src/plan/day.h"

#include "store_files.h"

enum { COLS = 300, ROWS = 340 };
#define NORTH_DEG 36.0 /* rows 110-149: above the limit of level 3 */
#define SOUTH_DEG 33.0 /* rows 190-229: below it */
enum { N = 1, NE = 2, SE = 8, S = 16, SW = 32, NW = 128 };

typedef struct planes {
    brant_context ctx;
    brant_dem dem;
    brant_gpx gpx;
    brant_gpx_point points[2];
    brant_gpx_segment segment;
    brant_gpx_route route;
    brant_bulletin bulletin;
    brant_rating ratings[3];
    brant_plan_request request;
    brant_plan plan;
} planes;

static float height(int row)
{
    double n = tan(NORTH_DEG * M_PI / 180) * 10, s = tan(SOUTH_DEG * M_PI / 180) * 10;
    double up = row < 110 ? 0 : row < 150 ? row - 110 : 40;
    double down = row < 190 ? 0 : row < 230 ? row - 190 : 40;
    return (float)(2000 + n * up - s * down);
}

static void make_dem(planes *p)
{
    char *wkt = NULL;
    OGRSpatialReferenceH crs = OSRNewSpatialReference(NULL);
    OSRImportFromEPSG(crs, 32632);
    OSRExportToWkt(crs, &wkt);
    p->dem.name = brant_strdup(&p->ctx, "planes.tif");
    p->dem.grid = (brant_grid){COLS, ROWS, {500000, 10, 0, 5200000, 0, -10},
                               brant_strdup(&p->ctx, wkt)};
    p->dem.factor = p->dem.band = 1;
    p->dem.to_metres = 1.0;
    CPLFree(wkt);
    OSRDestroySpatialReference(crs);
    float *z = malloc(sizeof *z * COLS * ROWS);
    assert_non_null(z);
    for (int i = 0; i < COLS * ROWS; i++)
        z[i] = height(i / COLS);
    brant_source_array(&p->dem.source, z, COLS, ROWS);
    p->dem.self = z;
    assert_int_equal(brant_ground_create(&p->ctx, p->dem.name, &p->dem.grid, &p->dem.ground),
                     BRANT_OK);
}

/* Straight from the northern flat over the top to the southern one. */
static void make_route(planes *p)
{
    brant_locator *locator;
    assert_int_equal(brant_locator_create(&p->ctx, "planes", &p->dem.grid, &locator), BRANT_OK);
    brant_locator_to_lonlat(locator, 150.5, 60.5, &p->points[0].lon, &p->points[0].lat);
    brant_locator_to_lonlat(locator, 150.5, 280.5, &p->points[1].lon, &p->points[1].lat);
    brant_locator_destroy(locator);
    p->segment = (brant_gpx_segment){.count = 2};
    p->route = (brant_gpx_route){.name = (char *)"over", .segments = 1};
    p->gpx = (brant_gpx){.points = p->points, .point_count = 2, .segments = &p->segment,
                         .segment_count = 1, .routes = &p->route, .route_count = 1};
}

static void add(planes *p, brant_level level, brant_aspects aspects, unsigned periods)
{
    p->ratings[p->bulletin.rating_count++] =
        (brant_rating){level, {aspects, NAN, NAN, false, false, periods}};
    p->bulletin.ratings = p->ratings;
}

static int setup(void **state)
{
    planes *p = calloc(1, sizeof *p);
    if (!p)
        return -1;
    brant_context_init(&p->ctx);
    p->ctx.threads = 2;
    make_dem(p);
    make_route(p);
    add(p, BRANT_LEVEL_3, NW | N | NE, BRANT_ALL_DAY);
    add(p, BRANT_LEVEL_2, SE | S | SW, BRANT_EARLIER);
    add(p, BRANT_LEVEL_4, SE | S | SW, BRANT_LATER);
    brant_meet_options meet = BRANT_MEET_OPTIONS_DEFAULT;
    p->request = (brant_plan_request){.dem = &p->dem, .gpx = &p->gpx, .gpx_name = "over.gpx",
                                      .zone = BRANT_ZONE_OPTIONS_DEFAULT,
                                      .reach = BRANT_REACH_OPTIONS_DEFAULT, .meet = meet,
                                      .day = BRANT_DAY_NONE, .void_rise_m = 0};
    *state = p;
    return 0;
}

static int teardown(void **state)
{
    planes *p = *state;
    free(p->dem.self);
    free(p->dem.name);
    brant_grid_clear(&p->dem.grid);
    brant_ground_destroy(p->dem.ground);
    brant_context_clear(&p->ctx);
    free(p);
    return 0;
}

static const brant_tour *run(planes *p)
{
    if (brant_plan_run(&p->ctx, &p->request, &p->plan) != BRANT_OK)
        fail_msg("%s", brant_message(&p->ctx));
    assert_int_equal(p->plan.tour_count, 1);
    return &p->plan.tours[0];
}

/* The leg that crosses the face, north (0) or south (1). */
static const brant_leg *face(const brant_tour *tour, int which)
{
    int seen = 0;
    for (size_t i = 0; i < tour->leg_count; i++)
        if (tour->legs[i].kind == BRANT_KIND_CROSSES && seen++ == which)
            return &tour->legs[i];
    fail_msg("no such leg");
    return NULL;
}

static void start_at(planes *p, const char *time)
{
    p->request.day.bulletin = &p->bulletin;
    assert_true(brant_time_parse(time, &p->request.day.start));
    p->request.day.later_from = 9 * 60;
}

/* Some three hours on the way; later begins at 9:00. */
static void test_levels_by_the_hour(void **state)
{
    planes *p = *state;
    static const struct {
        const char *start;
        unsigned north, south;
        brant_level south_level;
    } cases[] = {
        {"2027-02-13T05:00+01:00", BRANT_EARLIER, BRANT_EARLIER, BRANT_LEVEL_2},
        {"2027-02-13T05:00+00:00", BRANT_EARLIER, BRANT_EARLIER, BRANT_LEVEL_2},
        {"2027-02-13T08:59:59+01:00", BRANT_LATER, BRANT_LATER, BRANT_LEVEL_4},
        {"2027-02-13T09:00+01:00", BRANT_LATER, BRANT_LATER, BRANT_LEVEL_4},
        {"2027-02-13T23:50+01:00", BRANT_ALL_DAY, BRANT_ALL_DAY, BRANT_LEVEL_4},
    };
    for (size_t i = 0; i < sizeof cases / sizeof cases[0]; i++) {
        start_at(p, cases[i].start);
        const brant_tour *tour = run(p);
        const brant_leg *north = face(tour, 0), *south = face(tour, 1);
        assert_int_equal(north->periods, cases[i].north);
        assert_int_equal(south->periods, cases[i].south);
        assert_int_equal(north->level, BRANT_LEVEL_3);
        assert_int_equal(south->level, cases[i].south_level);
        assert_true(north->limit.over && north->limit.limit_deg == 35);
        assert_true(fabs(north->limit.steepest_deg - NORTH_DEG) < 0.1);
        bool late = cases[i].south_level == BRANT_LEVEL_4;
        assert_int_equal(south->limit.over, late);
        assert_true(fabs(south->limit.steepest_deg - SOUTH_DEG) < 0.1);
        assert_true(north->arrive_s < north->leave_s && north->leave_s < south->arrive_s);
        assert_false(north->level_lowered);
        brant_plan_clear(&p->plan);
    }
}

/* 4 above 2,225 m, 1 below, and 4 within 100 m of it: a slope that rises from 2,000 to 2,290 m
 * has it where it reaches 2,125 m, be it at its upper end alone. */
static void test_levels_by_elevation(void **state)
{
    planes *p = *state;
    int high = 0, low = 0, spanning = 0;
    p->ratings[0].level = BRANT_LEVEL_1;
    p->ratings[0].extent.upper_m = 2225;
    p->ratings[1] = (brant_rating){BRANT_LEVEL_4, {NW | N | NE, 2225, NAN, false, false,
                                                   BRANT_ALL_DAY}};
    p->request.day.bulletin = &p->bulletin;
    const brant_tour *tour = run(p);
    for (size_t i = 0; i < tour->above_count; i++) {
        const brant_zone *zone = tour->above[i].zone;
        if (cos((double)zone->aspect_deg * M_PI / 180) < 0.99) /* the southern face */
            continue;
        bool reaches = (double)zone->high_m > 2132;
        if (reaches || (double)zone->high_m < 2118)
            assert_int_equal(tour->above[i].danger.level,
                             reaches ? BRANT_LEVEL_4 : BRANT_LEVEL_1);
        high += reaches;
        low += (double)zone->high_m < 2118;
        spanning += reaches && (double)zone->low_m < 2118;
    }
    assert_true(high > 0 && low > 0 && spanning > 0);
    brant_plan_clear(&p->plan);
}

/* A level that holds on the highest row alone of a zone, which is the first of its box on the
 * southern face and the last on the northern one, is the zone's: it is 300 cells. */
static void test_level_of_a_row(void **state)
{
    planes *p = *state;
    const double step_m[2] = {10 * tan(NORTH_DEG * M_PI / 180), 10 * tan(SOUTH_DEG * M_PI / 180)};
    float high_m[2];
    p->request.day.bulletin = &p->bulletin;
    for (int which = 0; which < 2; which++) {
        high_m[which] = face(run(p), which)->governing->high_m;
        brant_plan_clear(&p->plan);
    }
    for (int which = 0; which < 2; which++)
        for (int row = 0; row < 2; row++) { /* on it; above it, on none */
            double from = (double)high_m[which] + (row - 0.5) * step_m[which];
            int seen = 0;
            p->bulletin.rating_count = 0;
            add(p, BRANT_LEVEL_1, BRANT_ASPECTS_ALL, BRANT_ALL_DAY);
            add(p, BRANT_LEVEL_4, BRANT_ASPECTS_ALL, BRANT_ALL_DAY);
            p->ratings[1].extent.lower_m = from + 100; /* and within 100 m of it */
            const brant_leg *leg = face(run(p), which);
            for (size_t k = 0; k < leg->aboves; k++) {
                const brant_above *above = &p->plan.tours[0].above[leg->first_above + k];
                if (above->zone->high_m != high_m[which])
                    continue;
                assert_int_equal(above->danger.level, row ? BRANT_LEVEL_1 : BRANT_LEVEL_4);
                seen++;
            }
            assert_true(seen > 0);
            brant_plan_clear(&p->plan);
        }
}

/* A level that holds on less than 400 m2 of a zone is not the zone's: three cells and four of its
 * highest row stand 3 m out. */
static void test_level_on_400_m2(void **state)
{
    planes *p = *state;
    float *z = p->dem.self;
    p->request.day.bulletin = &p->bulletin;
    const brant_zone highest = *face(run(p), 1)->governing;
    brant_plan_clear(&p->plan);
    p->bulletin.rating_count = 0;
    add(p, BRANT_LEVEL_1, BRANT_ASPECTS_ALL, BRANT_ALL_DAY);
    add(p, BRANT_LEVEL_4, BRANT_ASPECTS_ALL, BRANT_ALL_DAY);
    p->ratings[1].extent.lower_m = (double)highest.high_m + 1.5 + 100; /* and 100 m below */
    for (int out = 3; out < 5; out++) {
        size_t above = 0;
        for (int i = 0; i < out; i++)
            z[highest.high_row * COLS + 148 + i] = highest.high_m + 3;
        run(p);
        const brant_zone_set *set = &p->plan.zones;
        const uint32_t number = brant_zone_set_at(set, 149, highest.high_row);
        for (int i = 0; i < COLS * ROWS; i++)
            above += z[i] > highest.high_m + 2 &&
                     brant_zone_set_at(set, i % COLS, i / COLS) == number;
        const brant_zone *zone = brant_zone_set_find(set, number);
        assert_non_null(zone);
        assert_int_equal(above, out); /* nothing else of it is as high */
        assert_int_equal(p->plan.zone_danger[zone - set->zones][0].level,
                         out < 4 ? BRANT_LEVEL_1 : BRANT_LEVEL_4);
        brant_plan_clear(&p->plan);
    }
}

/* Each zone that the window meets or that reaches the route has the level of its face, and no
 * other is rated. The route runs along the foot of the northern face: the window ends on it,
 * and what reaches the route from further up counts. With a margin of 5 km all are. */
static void test_rated_zones(void **state)
{
    planes *p = *state;
    brant_locator *locator;
    assert_int_equal(brant_locator_create(&p->ctx, "planes", &p->dem.grid, &locator), BRANT_OK);
    brant_locator_to_lonlat(locator, 140.5, 100.5, &p->points[0].lon, &p->points[0].lat);
    brant_locator_to_lonlat(locator, 160.5, 100.5, &p->points[1].lon, &p->points[1].lat);
    brant_locator_destroy(locator);
    p->request.day.bulletin = &p->bulletin;
    for (int all = 0; all < 2; all++) {
        size_t within = 0, reaching = 0;
        p->request.map_margin_m = all ? 5000 : 0;
        run(p);
        for (size_t i = 0; i < p->plan.zones.count; i++) {
            const brant_zone *zone = &p->plan.zones.zones[i];
            const brant_danger *danger = p->plan.zone_danger[i];
            bool north = zone->high_row < 170, reaches = false;
            bool meets = brant_window_common(&zone->box, &p->plan.window).cols > 0;
            for (size_t k = 0; k < p->plan.hit_count; k++)
                reaches |= p->plan.hits[k].zone == zone->number;
            bool rated = meets || reaches;
            assert_int_equal(danger[0].level,
                             !rated ? BRANT_LEVEL_NONE : north ? BRANT_LEVEL_3 : BRANT_LEVEL_2);
            assert_int_equal(danger[1].level,
                             !rated ? BRANT_LEVEL_NONE : north ? BRANT_LEVEL_3 : BRANT_LEVEL_4);
            within += meets;
            reaching += reaches && !meets;
        }
        assert_true(all ? within == p->plan.zones.count : within > 0 && reaching > 0);
        assert_true(all || within + reaching < p->plan.zones.count);
        brant_plan_clear(&p->plan);
    }
}

/* A clock is not known: both parts of the day. */
static void test_no_hours(void **state)
{
    planes *p = *state;
    p->request.day.bulletin = &p->bulletin;
    const brant_tour *tour = run(p);
    assert_int_equal(face(tour, 1)->level, BRANT_LEVEL_4);
    assert_null(tour->seconds);
    assert_false(face(tour, 1)->sun_sought);
    for (size_t i = 0; i < tour->leg_count; i++)
        assert_true(tour->legs[i].level != BRANT_LEVEL_NONE);
    brant_plan_clear(&p->plan);
}

/* 47 degrees north, 13 February: the sun stands 29.6 degrees high at noon and never shines
 * on the northern face (36 degrees); it is on the southern one from sunrise on. North wind
 * blows onto the northern face. */
static void test_sun_and_wind(void **state)
{
    planes *p = *state;
    brant_wind wind;
    double rise, set;
    assert_true(brant_wind_parse("N", &wind));
    p->request.day.wind = &wind;
    start_at(p, "2027-02-13T10:00+01:00");
    const brant_tour *tour = run(p);
    const brant_leg *north = face(tour, 0), *south = face(tour, 1);
    int edges = 0;
    for (size_t i = 0; i < tour->leg_count; i++) { /* at its edge, too, above it and below */
        edges += tour->legs[i].kind == BRANT_KIND_EDGE;
        assert_int_equal(tour->legs[i].sun_sought, tour->legs[i].governing != NULL);
        assert_int_equal(isnan(tour->legs[i].shelter.mean_deg) != 0, !tour->legs[i].governing);
    }
    assert_true(edges >= 2);
    for (size_t i = 0; i < tour->above_count; i++) { /* each until its own leg is left */
        const brant_above *above = &tour->above[i];
        bool counts = above->on || above->edge || above->remote || above->reached_at_deg >= 25;
        double left = (double)p->request.day.start.utc_s +
                      BRANT_LATE * tour->legs[above->leg - 1].leave_s;
        assert_int_equal(above->sun_sought, counts);
        if (above->zone == south->governing && above->sun_sought)
            assert_true(fabs(above->sun.possible.seconds -
                             (left - above->sun.possible.first)) <= 120);
    }
    assert_true(isnan(north->sun.possible.first) && isnan(north->sun.certain.first));
    double midnight = (double)brant_time_midnight(&p->request.day.start);
    brant_sun_daylight(midnight, midnight + 86400, p->points[0].lon, p->points[0].lat, &rise,
                       &set);
    assert_true(south->sun.possible.first >= rise);
    assert_true(south->sun.possible.first < rise + 600);
    double until = (double)p->request.day.start.utc_s + BRANT_LATE * south->leave_s;
    assert_true(fabs(south->sun.possible.seconds - (until - south->sun.possible.first)) <= 120);
    assert_true((double)north->shelter.mean_deg < 0);
    assert_false(north->shelter.sheltered);
    assert_true(south->shelter.sheltered);
    brant_plan_clear(&p->plan);
}

static void assert_same_sky(const brant_above *a, const brant_above *b)
{
    assert_int_equal(a->sun_sought, b->sun_sought);
    assert_true(a->shelter.mean_deg == b->shelter.mean_deg || !b->shelter.known);
    assert_int_equal(a->shelter.known, b->shelter.known);
    assert_int_equal(a->shelter.unknown, b->shelter.unknown);
    if (a->sun_sought) {
        assert_memory_equal(&a->sun.certain, &b->sun.certain, sizeof a->sun.certain);
        assert_memory_equal(&a->sun.possible, &b->sun.possible, sizeof a->sun.possible);
    }
}

/* From the northern face on, so that its first leg is on a slope. Looked at again for more
 * zones and later hours, a zone's sun and shelter are those of a look at all at once. */
static void test_looked_at_again(void **state)
{
    planes *p = *state;
    brant_locator *locator;
    brant_wind wind;
    brant_sky *sky;
    const brant_window none = {0};
    assert_int_equal(brant_locator_create(&p->ctx, "planes", &p->dem.grid, &locator), BRANT_OK);
    brant_locator_to_lonlat(locator, 150.5, 130.5, &p->points[0].lon, &p->points[0].lat);
    brant_locator_destroy(locator);
    assert_true(brant_wind_parse("N", &wind));
    p->request.day.wind = &wind;
    start_at(p, "2027-02-13T06:00+01:00");
    run(p);
    brant_tour *tour = &p->plan.tours[0];
    const size_t count = tour->above_count;
    assert_true(tour->legs[0].kind == BRANT_KIND_CROSSES && tour->legs[0].sun_sought);
    assert_false(isnan(tour->legs[0].shelter.mean_deg));
    brant_above *once = malloc(count * sizeof *once);
    assert_non_null(once);
    memcpy(once, tour->above, count * sizeof *once);

    for (size_t k = 0; k < count; k += count - 1) { /* the first zone or the last, in its place */
        assert_int_equal(brant_sky_create(&p->ctx, &p->request, &p->plan.zones, &none, &sky),
                         BRANT_OK);
        for (int look = 0; look < 3; look++) { /* it, for a while; all; again */
            for (size_t i = 0; i < tour->leg_count && look < 2; i++)
                tour->legs[i].leave_s *= look ? 50 : 0.02;
            for (size_t i = 0; i < count; i++)
                tour->above[i].sun_sought = false;
            tour->above[0] = once[look ? 0 : k];
            tour->above_count = look ? count : 1;
            assert_int_equal(brant_sky_look(&p->ctx, sky, tour, 1), BRANT_OK);
        }
        for (size_t i = 0; i < count; i++)
            assert_same_sky(&tour->above[i], &once[i]);
        brant_sky_destroy(sky);
    }
    free(once);
    brant_plan_clear(&p->plan);
}

/* Sun is sought for two days from midnight on: of a tour that takes longer, on the zones of the
 * legs that are left before. Those of the others are not said to have none. */
static void test_longer_than_two_days(void **state)
{
    planes *p = *state;
    int sought = 0, late = 0;
    start_at(p, "2027-02-13T10:00+01:00");
    p->request.day.pace = (brant_pace){false, 0.12, 0.12, 0.12};
    const brant_tour *tour = run(p);
    double midnight = (double)brant_time_midnight(&p->request.day.start);
    for (size_t i = 0; i < tour->above_count; i++) {
        const brant_above *above = &tour->above[i];
        double left = (double)p->request.day.start.utc_s +
                      BRANT_LATE * tour->legs[above->leg - 1].leave_s;
        bool counts = above->on || above->edge || above->remote || above->reached_at_deg >= 25;
        assert_int_equal(above->sun_sought, counts && left - midnight <= 2 * 86400);
        sought += above->sun_sought;
        late += counts && left - midnight > 2 * 86400;
    }
    assert_true(sought > 0 && late > 0);
    brant_plan_clear(&p->plan);
}

/* Without a bulletin the ground alone orders the legs, whatever hours are given. */
static void test_without_bulletin(void **state)
{
    planes *p = *state, with;
    const brant_tour *plain = run(p);
    with = *p;
    start_at(&with, "2027-02-13T08:00+01:00");
    with.request.day.bulletin = NULL;
    const brant_tour *timed = run(&with);
    assert_int_equal(plain->leg_count, timed->leg_count);
    assert_memory_equal(plain->rank, timed->rank, plain->leg_count * sizeof *plain->rank);
    for (size_t i = 0; i < plain->leg_count; i++) {
        assert_int_equal(timed->legs[i].level, BRANT_LEVEL_NONE);
        assert_true(isnan(timed->legs[i].limit.limit_deg));
        assert_int_equal(plain->legs[i].kind, timed->legs[i].kind);
        assert_int_equal(plain->legs[i].is, timed->legs[i].is);
        assert_true(isnan(plain->legs[i].arrive_s) && timed->legs[i].arrive_s >= 0);
    }
    assert_null(plain->seconds);
    brant_plan_clear(&with.plan);
    brant_plan_clear(&p->plan);
}

#define CASE(test) cmocka_unit_test_setup_teardown(test, setup, teardown)

int main(void)
{
    const struct CMUnitTest tests[] = {
        CASE(test_levels_by_the_hour),
        CASE(test_levels_by_elevation),
        CASE(test_level_of_a_row),
        CASE(test_level_on_400_m2),
        CASE(test_rated_zones),
        CASE(test_no_hours),
        CASE(test_sun_and_wind),
        CASE(test_looked_at_again),
        CASE(test_longer_than_two_days),
        CASE(test_without_bulletin),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
