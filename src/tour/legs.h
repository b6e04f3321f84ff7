/* The parts of brant_tour_build. Each fills fields of a tour whose track and
 * facts are set; the tour owns what they allocate. */
#ifndef BRANT_TOUR_LEGS_H
#define BRANT_TOUR_LEGS_H

#include "brant/tour.h"

/* Sun that was not sought. */
#define BRANT_NO_SUN {.certain = {.first = NAN}, .possible = {.first = NAN}}

/* Give stretches shorter than `shorter_than` metres between two worse ones the milder
 * of their kinds. `kinds` has one a sample of the track. */
brant_status brant_legs_fill_dips(brant_context *ctx, const brant_track *track,
                                  double shorter_than, brant_kind *kinds);
/* Cut the route into legs: number, kind, samples, from and to. */
brant_status brant_legs_cut(brant_context *ctx, const brant_meeting *meeting, brant_tour *tour);
/* What follows from each leg's own samples, and the sums over the tour. */
brant_status brant_legs_measure(brant_context *ctx, const brant_meeting *meeting,
                                brant_tour *tour);
/* The zones each leg meets: tour->above, and what follows from it. */
brant_status brant_legs_above(brant_context *ctx, const brant_meeting *meeting, brant_tour *tour);
/* Where to wait: tour->waits and tour->stretches. */
brant_status brant_legs_waits(brant_context *ctx, const brant_meeting *meeting, brant_tour *tour);
/* The order of legs, worst first. */
brant_status brant_legs_rank(brant_context *ctx, brant_tour *tour);

#endif
