/* A sample among the cells around it. */
#ifndef BRANT_TOUR_PLACE_H
#define BRANT_TOUR_PLACE_H

#include "brant/tour.h"

typedef struct brant_place {
    const brant_meeting *meeting;
    bool on_earth;           /* false: the sample has no grid coordinates */
    int col, row;            /* its cell, on the grid or not */
    double at_col, at_row;
    brant_matrix matrix;     /* there, or at the field's nearest point */
    double half_m;           /* from the centre of a cell to its furthest corner */
} brant_place;

void brant_place_of(const brant_meeting *meeting, const brant_sample *sample, brant_place *place);
/* The cells that may lie within `metres`; they may reach over the field. */
brant_window brant_place_around(const brant_place *place, double metres);
/* Metres to the nearest point of a cell, 0 inside. */
double brant_place_distance(const brant_place *place, int col, int row);
/* Is that at most `metres`? The same, faster: by the cell's centre, but where rounding could
 * matter. Asked for every cell around every sample. */
static inline bool brant_place_within(const brant_place *place, int col, int row, double metres)
{
    const brant_matrix *m = &place->matrix;
    double dc = col + 0.5 - place->at_col, dr = row + 0.5 - place->at_row;
    double east = dc * m->col_east + dr * m->row_east;
    double north = dc * m->col_north + dr * m->row_north;
    double square = east * east + north * north, far = metres + place->half_m;
    if (square < 0.999999 * metres * metres)
        return true;
    if (square > 1.000001 * far * far)
        return false;
    return brant_place_distance(place, col, row) <= metres;
}

/* All that lies within some metres of a sample: on the grid an ellipse,
 * a*x*x + 2*b*x*y + c*y*y <= square, x columns and y rows from it. */
typedef struct brant_disc {
    double at_col, at_row;
    double a, b, c, square;
    double right, right_row; /* its easternmost point, from the sample; (-, -) the other */
    double bottom;           /* its last row */
} brant_disc;

brant_disc brant_place_disc(const brant_place *place, double metres);
/* How many cells of a row it touches, and the first: those that are brant_place_within. */
int brant_disc_span(const brant_disc *disc, int row, int *first);

/* A field's value at a cell, NaN outside it. `values` is one of its arrays. */
float brant_cell_value(const brant_field *field, const float *values, int col, int row);
/* Release ground: steep enough (false for NaN), or numbered as a zone. */
static inline bool brant_releases(const brant_meet_options *options, float slope, uint32_t zone)
{
    return zone > 0 || slope >= options->band.low;
}
bool brant_cell_releases(const brant_meeting *meeting, int col, int row);

/* The hits of the sample's cell: `count` from `first` on, into meeting->hits. */
void brant_place_hits(const brant_place *place, size_t *first, size_t *count);

#endif
