/* Of each cell around a track one byte. */
#include "ground_bits.h"
#include "place.h"

#include <math.h>
#include <stdlib.h>

/* Is release ground of this zone (0: of none) to be reckoned with from afar? */
static bool is_far(const brant_meeting *meeting, uint32_t zone)
{
    const brant_zone *found = brant_zone_set_find(meeting->zones, zone);
    if (!found)
        return true; /* nothing is known of it */
    const brant_danger *danger = meeting->day->zone_danger[found - meeting->zones->zones];
    for (int p = 0; p < BRANT_PERIODS; p++)
        if (brant_danger_remote(meeting->day->bulletin, danger[p]))
            return true;
    return false;
}

static unsigned bits_of(const brant_meet_options *options, float slope, uint32_t zone)
{
    return (isnan(slope) ? BRANT_GROUND_UNKNOWN : 0u) |
           (brant_releases(options, slope, zone) ? BRANT_GROUND_RELEASE : 0u) |
           ((double)slope > options->remote_slope_deg ? BRANT_GROUND_STEEP : 0u);
}

unsigned brant_ground_bits_look(const brant_ground_bits *bits, int col, int row)
{
    const brant_meeting *meeting = bits->meeting;
    const brant_field *field = meeting->field;
    const uint32_t zone = brant_zone_set_at(meeting->zones, col, row);
    unsigned is = bits_of(&meeting->options, brant_cell_value(field, field->slope, col, row), zone);
    if (bits->rated && (is & BRANT_GROUND_RELEASE) && is_far(meeting, zone))
        is |= BRANT_GROUND_FAR;
    return is;
}

/* The box of all that lies on the field and near enough to a sample. */
static brant_window window_of(const brant_meeting *meeting, const brant_track *track)
{
    const double metres = fmax(meeting->options.remote_m, BRANT_REMOTE_FAR_M);
    brant_window box = {0};
    brant_place place;
    for (size_t i = 0; i < track->count; i++) {
        brant_place_of(meeting, &track->samples[i], &place);
        const brant_window around = brant_place_around(&place, metres);
        box = brant_window_union(box, brant_window_common(&around, &meeting->field->window));
    }
    return box;
}

/* Zones lie in runs, so the last one's answer serves most cells. */
static void add_far(const brant_ground_bits *bits, const uint32_t *zone, uint8_t *is, int n)
{
    uint32_t last = 0;
    bool far = true;
    for (int i = 0; i < n; i++) {
        if (!(is[i] & BRANT_GROUND_RELEASE))
            continue;
        const uint32_t here = zone ? zone[i] : 0;
        if (here != last)
            far = is_far(bits->meeting, here);
        last = here;
        is[i] |= far ? BRANT_GROUND_FAR : 0;
    }
}

static void fill_row(const brant_ground_bits *bits, int row)
{
    const brant_meeting *meeting = bits->meeting;
    const brant_window *w = &bits->window, *field = &meeting->field->window;
    const float *slope = meeting->field->slope +
                         (size_t)(row - field->row) * (size_t)field->cols +
                         (size_t)(w->col - field->col);
    uint8_t *is = bits->is + (size_t)(row - w->row) * (size_t)w->cols;
    for (int done = 0, n; done < w->cols; done += n) {
        n = w->cols - done;
        const uint32_t *zone = brant_zone_set_along(meeting->zones, w->col + done, row, &n);
        for (int i = 0; i < n; i++)
            is[done + i] =
                (uint8_t)bits_of(&meeting->options, slope[done + i], zone ? zone[i] : 0);
        if (bits->rated)
            add_far(bits, zone, is + done, n);
    }
}

brant_status brant_ground_bits_of(brant_context *ctx, const brant_meeting *meeting,
                                  const brant_track *track, brant_ground_bits *bits)
{
    const brant_day *day = meeting->day;
    *bits = (brant_ground_bits){.meeting = meeting, .window = window_of(meeting, track),
                                .rated = day && day->bulletin && day->zone_danger};
    bits->is = brant_alloc(ctx, (size_t)bits->window.cols * (size_t)bits->window.rows, 1);
    if (!bits->is)
        return BRANT_ERR_MEMORY;
    for (int row = bits->window.row; row < bits->window.row + bits->window.rows; row++)
        fill_row(bits, row);
    return BRANT_OK;
}

void brant_ground_bits_clear(brant_ground_bits *bits)
{
    free(bits->is);
    *bits = (brant_ground_bits){0};
}
