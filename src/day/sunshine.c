/* Direct sun from a clear sky on the cells of a zone.
 *
 * Time goes by in stretches of ten minutes. For each cell that faces the sun in a
 * stretch the terrain horizon is looked up at its two ends and taken as straight
 * between. A stretch's last horizons are the next one's first. */
#include "brant/day.h"

#include <math.h>
#include <stdlib.h>
#include <string.h>

#define RADIANS (M_PI / 180.0)
#define STRETCH 10 /* minutes */
#define MINUTE 60.0
#define PATCH_M2 400.0

/* Of a minute in a course. */
enum { CERTAIN = 1, POSSIBLE = 2 };

/* The sun at each minute of a stretch, both ends included. */
typedef struct stretch {
    brant_sun sun[STRETCH + 1];
    /* cells with sun at each minute, */
    size_t certain[STRETCH];  /* if the unknown hides as much as it can, */
    size_t possible[STRETCH]; /* and if it hides nothing */
} stretch;

/* Horizons of one cell, by the end of a stretch they were looked up for. */
typedef struct looked {
    brant_horizon at[2];
    bool known[2]; /* looked up */
} looked;

static void set_stretch(stretch *s, double start, double lon, double lat)
{
    memset(s, 0, sizeof *s);
    for (int i = 0; i <= STRETCH; i++)
        s->sun[i] = brant_sun_at(start + i * MINUTE, lon, lat);
}

static brant_horizon look(const brant_skyline *relief, const brant_zone_cell *cell,
                          const brant_sun *sun)
{
    if (!relief)
        return (brant_horizon){0.0f, 90.0f};
    return brant_skyline_horizon(relief, cell->col, cell->row, sun->azimuth_deg, 0.0);
}

/* The sun stands over level ground and in front of the cell; a cell that faces no
 * known way may be turned to it. */
static bool may_shine(const brant_zone_cell *cell, const brant_sun *sun)
{
    if (!(sun->apparent_deg > 0.0))
        return false;
    return !(brant_sun_incidence(sun, (double)cell->slope_deg, (double)cell->aspect_deg) <= 0.0);
}

static void shine_on(stretch *s, const brant_skyline *relief, const brant_zone_cell *cell,
                     looked *horizons)
{
    const bool faces = isfinite(brant_sun_incidence(&s->sun[0], (double)cell->slope_deg,
                                                    (double)cell->aspect_deg));
    bool any = false;
    for (int i = 0; i < STRETCH; i++)
        any |= may_shine(cell, &s->sun[i]);
    for (int end = 0; any && end < 2; end++)
        if (!horizons->known[end]) {
            horizons->at[end] = look(relief, cell, &s->sun[end * STRETCH]);
            horizons->known[end] = true;
        }
    for (int i = 0; any && i < STRETCH; i++) {
        double w = (double)i / STRETCH, altitude = s->sun[i].apparent_deg;
        const brant_horizon *a = &horizons->at[0], *b = &horizons->at[1];
        if (!may_shine(cell, &s->sun[i]))
            continue;
        s->possible[i] += altitude > (1.0 - w) * (double)a->known_deg + w * (double)b->known_deg;
        s->certain[i] += faces && altitude > (1.0 - w) * (double)a->possible_deg +
                                                 w * (double)b->possible_deg;
    }
    horizons->at[0] = horizons->at[1];
    horizons->known[0] = horizons->known[1];
    horizons->known[1] = false;
}

/* Whole cells that make up a patch, at least one; 1e-9: 4 of 100 m2 are 400. */
static double cells_of_patch(double area_m2, size_t count)
{
    double patch = fmin(PATCH_M2, area_m2 / 2.0);
    return fmax(1.0, ceil(patch / (area_m2 / (double)count) - 1e-9));
}

brant_status brant_sun_course_follow(brant_context *ctx, const brant_skyline *relief, double lon,
                                     double lat, const brant_zone_cell *cells, size_t count,
                                     double area_m2, double to, brant_sun_course *course)
{
    looked horizons[BRANT_ZONE_CELLS] = {0};
    if (count > BRANT_ZONE_CELLS)
        count = BRANT_ZONE_CELLS;
    while (count > 0 && course->from + course->minutes * MINUTE < to) {
        stretch s;
        double least = cells_of_patch(area_m2, count);
        brant_status status = brant_grow(ctx, &course->shine, &course->capacity,
                                         (size_t)course->minutes + STRETCH, 1);
        if (status != BRANT_OK)
            return status;
        set_stretch(&s, course->from + course->minutes * MINUTE, lon, lat);
        for (size_t i = 0; i < count; i++)
            shine_on(&s, relief, &cells[i], &horizons[i]);
        for (int i = 0; i < STRETCH; i++)
            course->shine[course->minutes + i] =
                (unsigned char)(((double)s.certain[i] >= least ? CERTAIN : 0) |
                                ((double)s.possible[i] >= least ? POSSIBLE : 0));
        course->minutes += STRETCH;
    }
    return BRANT_OK;
}

static void add(brant_sunshine *shine, double minute)
{
    if (isnan(shine->first))
        shine->first = minute;
    shine->seconds += MINUTE;
}

void brant_sun_course_until(const brant_sun_course *course, double to, brant_sun_on *out)
{
    double minutes = to > course->from
                         ? fmin(ceil((to - course->from) / MINUTE), course->minutes) : 0.0;
    *out = (brant_sun_on){.certain = {NAN, 0.0}, .possible = {NAN, 0.0}};
    for (int i = 0; i < minutes; i++) {
        if (course->shine[i] & CERTAIN)
            add(&out->certain, course->from + i * MINUTE);
        if (course->shine[i] & POSSIBLE)
            add(&out->possible, course->from + i * MINUTE);
    }
    out->unknown = out->certain.seconds != out->possible.seconds;
}

void brant_sun_course_clear(brant_sun_course *course)
{
    free(course->shine);
    *course = (brant_sun_course){0};
}
