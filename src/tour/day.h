/* The parts of brant_tour_day. Each fills fields of a tour that is built. */
#ifndef BRANT_TOUR_DAY_H
#define BRANT_TOUR_DAY_H

#include "slope_ground.h"

/* tour->seconds; when each leg is reached and left. Nothing without a start. */
brant_status brant_day_hours(brant_context *ctx, const brant_meeting *meeting, brant_tour *tour);
/* The parts of the day that a stay falls in, seconds after the start (planned; the end is
 * late), if the start were `later_s` later. Without hours: all day. */
unsigned brant_day_periods(const brant_day *day, const brant_tour *tour, double arrive_s,
                           double leave_s, double later_s);
/* Does the zone count for the leg: is it on it, at its edge, remote from it, or reached at
 * the zone's reach angle? */
bool brant_above_counts(const brant_meeting *meeting, const brant_above *above);
/* What the bulletin says of a zone that is met; not stated if it was not tallied. */
brant_danger brant_day_zone(const brant_meeting *meeting, const brant_zone *zone,
                            unsigned periods);
/* Levels, governing slopes, limits, and what if. */
brant_status brant_day_levels(brant_context *ctx, const brant_meeting *meeting,
                              const brant_leg_ground *grounds, const float *track_deg,
                              brant_tour *tour);
/* When to leave the places to wait. Needs hours. */
void brant_day_leave(const brant_meeting *meeting, brant_tour *tour);

#endif
