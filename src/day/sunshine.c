/* Direct sun from a clear sky on the cells of a zone.
 *
 * Time goes by in stretches of ten minutes. For each cell that faces the sun in a
 * stretch the terrain horizon is looked up at its two ends and taken as straight
 * between. A stretch's last horizons are the next one's first. */
#include "brant/day.h"

#include <math.h>
#include <string.h>

#define RADIANS (M_PI / 180.0)
#define STRETCH 10 /* minutes */
#define MINUTE 60.0
#define PATCH_M2 400.0

/* The sun at each minute of a stretch, both ends included. */
typedef struct stretch {
    int minutes; /* of it that count */
    brant_sun sun[STRETCH + 1];
    /* cells with sun at each minute, */
    size_t certain[STRETCH + 1];  /* if the unknown hides as much as it can, */
    size_t possible[STRETCH + 1]; /* and if it hides nothing */
} stretch;

/* Horizons of one cell, by the end of a stretch they were looked up for. */
typedef struct looked {
    brant_horizon at[2];
    bool known[2]; /* looked up */
} looked;

/* Of a stretch, those before `to`. */
static int minutes_of(double start, double to)
{
    return (int)fmin(STRETCH, ceil((to - start) / MINUTE));
}

static void set_stretch(stretch *s, double start, double to, double lon, double lat)
{
    memset(s, 0, sizeof *s);
    s->minutes = minutes_of(start, to);
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
    for (int i = 0; i < s->minutes; i++)
        any |= may_shine(cell, &s->sun[i]);
    for (int end = 0; any && end < 2; end++)
        if (!horizons->known[end]) {
            horizons->at[end] = look(relief, cell, &s->sun[end * STRETCH]);
            horizons->known[end] = true;
        }
    for (int i = 0; any && i < s->minutes; i++) {
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

/* Minutes of the stretch with sun on at least `least` cells. */
static void add(brant_sunshine *shine, const size_t *cells, int minutes, double least,
                double start)
{
    for (int i = 0; i < minutes; i++) {
        if ((double)cells[i] < least)
            continue;
        if (isnan(shine->first))
            shine->first = start + i * MINUTE;
        shine->seconds += MINUTE;
    }
}

static void add_stretch(brant_sun_on *on, const stretch *s, double start, double to, double least)
{
    int minutes = minutes_of(start, to);
    add(&on->certain, s->certain, minutes, least, start);
    add(&on->possible, s->possible, minutes, least, start);
    on->unknown = on->certain.seconds != on->possible.seconds;
}

/* Whole cells that make up a patch, at least one; 1e-9: 4 of 100 m2 are 400. */
static double cells_of_patch(double area_m2, size_t count)
{
    double patch = fmin(PATCH_M2, area_m2 / 2.0);
    return fmax(1.0, ceil(patch / (area_m2 / (double)count) - 1e-9));
}

void brant_sun_on_zone_by(const brant_skyline *relief, double lon, double lat,
                          const brant_zone_cell *cells, size_t count, double area_m2, double from,
                          const double *to, size_t times, brant_sun_on *out)
{
    looked horizons[BRANT_ZONE_CELLS] = {0};
    brant_sun_on sum = {.certain = {NAN, 0.0}, .possible = {NAN, 0.0}};
    size_t next = 0;
    for (size_t i = 0; i < times; i++)
        out[i] = sum;
    if (count > BRANT_ZONE_CELLS)
        count = BRANT_ZONE_CELLS;
    while (next < times && !(to[next] > from))
        next++;
    for (double start = from; count > 0 && next < times; start += STRETCH * MINUTE) {
        stretch s;
        double least = cells_of_patch(area_m2, count);
        set_stretch(&s, start, to[times - 1], lon, lat);
        for (size_t i = 0; i < count; i++)
            shine_on(&s, relief, &cells[i], &horizons[i]);
        for (; next < times && to[next] <= start + STRETCH * MINUTE; next++) {
            out[next] = sum;
            add_stretch(&out[next], &s, start, to[next], least);
        }
        add_stretch(&sum, &s, start, to[times - 1], least);
    }
}

void brant_sun_on_zone(const brant_skyline *relief, double lon, double lat,
                       const brant_zone_cell *cells, size_t count, double area_m2, double from,
                       double to, brant_sun_on *out)
{
    brant_sun_on_zone_by(relief, lon, lat, cells, count, area_m2, from, &to, 1, out);
}
