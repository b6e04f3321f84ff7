/* Hand-made tours for the tests of the report room: structures as the tour room
 * would build them, figures invented. */
#ifndef BRANT_TEST_REPORT_TOUR_H
#define BRANT_TEST_REPORT_TOUR_H

#include "brant/report.h"

#include <math.h>
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>
#include <stdlib.h>
#include <string.h>

#include <cmocka.h>

enum { MADE_LEGS = 64, MADE_SAMPLES = 4 }; /* samples of a leg */

typedef struct made {
    brant_tour tour;
    brant_sample samples[MADE_LEGS * MADE_SAMPLES];
    brant_fact facts[MADE_LEGS * MADE_SAMPLES];
    brant_leg legs[MADE_LEGS];
    brant_above above[MADE_LEGS * 4];
    uint32_t rank[MADE_LEGS];
    char name[600];
} made;

static inline void made_begin(made *m, const char *name)
{
    memset(m, 0, sizeof *m);
    strncpy(m->name, name, sizeof m->name - 1);
    m->tour.track.name = m->name;
    m->tour.track.samples = m->samples;
    m->tour.facts = m->facts;
    m->tour.legs = m->legs;
    m->tour.above = m->above;
    m->tour.rank = m->rank;
}

/* A leg from where the last one ended to `to_m`: at 1,000 m + along/10, 20 degrees
 * east, on a line along the 46.5th parallel. Grid: row 5.5, col 10 + along/10. */
static inline brant_leg *made_leg(made *m, brant_kind kind, double to_m)
{
    brant_tour *tour = &m->tour;
    brant_leg *leg = &m->legs[tour->leg_count];
    assert_true(tour->leg_count < MADE_LEGS);
    double from_m = tour->track.length_m;
    *leg = (brant_leg){
        .number = (uint32_t)++tour->leg_count,
        .kind = kind,
        .is = BRANT_IS(kind),
        .first_sample = tour->track.count,
        .samples = MADE_SAMPLES,
        .from_m = from_m,
        .to_m = to_m,
        .steepest_deg = 20,
        .steepest_error_deg = NAN,
        .aspect_deg = 90,
        .low_m = (float)(1000 + from_m / 10),
        .high_m = (float)(1000 + to_m / 10),
        .first_above = tour->above_count,
        .from_lon = 10 + from_m / 100000,
        .from_lat = 46.5,
        .to_lon = 10 + to_m / 100000,
        .to_lat = 46.5,
    };
    for (int i = 0; i < MADE_SAMPLES; i++) {
        double along = from_m + (to_m - from_m) * (i + 0.5) / MADE_SAMPLES;
        size_t n = tour->track.count++;
        m->samples[n] = (brant_sample){along, 10 + along / 100000, 46.5, 10 + along / 10, 5.5,
                                       n == 0};
        m->facts[n] = (brant_fact){.elevation_m = (float)(1000 + along / 10), .slope_deg = 20,
                                   .aspect_deg = 90, .is = BRANT_IS(kind), .kind = kind};
    }
    tour->track.length_m = to_m;
    tour->metres[kind] += to_m - from_m;
    tour->is_metres[kind] += to_m - from_m;
    return leg;
}

/* `zone` reaches, carries (`on`) or borders (`edge`) the last leg made. */
static inline void made_above(made *m, const brant_zone *zone, double reached_at_deg,
                              double head_m, bool on, bool edge)
{
    brant_leg *leg = &m->legs[m->tour.leg_count - 1];
    m->above[m->tour.above_count++] = (brant_above){.leg = leg->number, .zone = zone,
                                                    .reached_at_deg = (float)reached_at_deg,
                                                    .head_m = (float)head_m, .on = on,
                                                    .edge = edge};
    leg->aboves++;
    if (!leg->governing || zone->face_m2 > leg->governing->face_m2)
        leg->governing = zone;
    if (!on && reached_at_deg >= 25) {
        leg->zones_above++;
        leg->area_above_m2 += zone->area_m2;
    }
    if (!on && reached_at_deg > leg->reached_at_deg) {
        leg->reached_at_deg = (float)reached_at_deg;
        leg->head_m = (float)head_m;
    }
}

/* The last leg is unknown ground: no slope, and no height if `hole`. */
static inline void made_void(made *m, bool hole)
{
    brant_leg *leg = &m->legs[m->tour.leg_count - 1];
    leg->steepest_deg = leg->aspect_deg = leg->steepest_error_deg = NAN;
    if (hole)
        leg->low_m = leg->high_m = NAN;
    for (size_t i = leg->first_sample; i < leg->first_sample + leg->samples; i++) {
        m->facts[i].slope_deg = m->facts[i].aspect_deg = NAN;
        if (hole)
            m->facts[i].elevation_m = NAN;
    }
}

/* Rank: told legs in the order of `numbers` (0 ends), then the others. */
static inline void made_rank(made *m, const uint32_t *numbers)
{
    size_t count = 0;
    for (; numbers && numbers[count]; count++)
        m->rank[count] = numbers[count] - 1;
    for (uint32_t i = 0; i < m->tour.leg_count; i++) {
        bool ranked = false;
        for (size_t k = 0; numbers && numbers[k]; k++)
            ranked |= numbers[k] == i + 1;
        if (!ranked)
            m->rank[count++] = i;
    }
}

static inline brant_zone made_zone(uint32_t number, double face_m2, double steepest_deg,
                                   double aspect_deg, double low_m, double high_m)
{
    return (brant_zone){.number = number, .cells = 40, .area_m2 = face_m2 / 2,
                        .mean_deg = (float)(steepest_deg - 4), .steepest_deg = (float)steepest_deg,
                        .aspect_deg = (float)aspect_deg, .low_m = (float)low_m,
                        .high_m = (float)high_m, .above45 = 0.25f, .face = number,
                        .face_m2 = face_m2};
}

static inline brant_report made_report(const brant_tour *tours, size_t count)
{
    return (brant_report){.model = "quern.tif", .cell_m = {10, 10}, .factor = 1,
                          .cols = 5000, .rows = 400, .vertical_unit = "m (from CRS)",
                          .datum_operation = "none", .reach_angle_deg = 25, .spread_deg = 20,
                          .floor_deg = 18, .edge_m = 30, .void_rise_m = 300,
                          .vertical_error_m = NAN,
                          .band = BRANT_BAND_DEFAULT, .tours = tours, .tour_count = count};
}

/* The caution ends `text`, and stands in it once. */
static inline void assert_ends_with_caution(const char *text)
{
    size_t length = strlen(text), tail = strlen(brant_caution);
    assert_true(length >= tail);
    assert_string_equal(text + length - tail, brant_caution);
    assert_ptr_equal(strstr(text, "Terrain screening only"), text + length - tail);
}

#endif
