/* A sample among the cells around it: distances and the cells' values. */
#include "place.h"

#include <math.h>

/* Grid coordinates beyond this are no cell of any raster, and would not fit an int. */
#define FAR 1e9
/* A search this many cells wide happens beside a pole of a geographic grid only. */
#define WIDE 5000.0

/* Of metres and cells: nothing that overflows, and a third of hypot's time. */
static double length(double x, double y)
{
    return sqrt(x * x + y * y);
}

static double clamp(double value, double low, double high)
{
    return value < low ? low : value > high ? high : value;
}

void brant_place_of(const brant_meeting *meeting, const brant_sample *sample, brant_place *place)
{
    const brant_window *window = &meeting->field->window;
    *place = (brant_place){.meeting = meeting};
    place->on_earth = fabs(sample->col) < FAR && fabs(sample->row) < FAR;
    if (!place->on_earth)
        return;
    place->at_col = sample->col;
    place->at_row = sample->row;
    place->col = (int)floor(sample->col);
    place->row = (int)floor(sample->row);
    /* far outside the grid the lattice means nothing */
    brant_ground_matrix(meeting->ground,
                        clamp(sample->col, window->col, (double)window->col + window->cols),
                        clamp(sample->row, window->row, (double)window->row + window->rows),
                        &place->matrix);
    place->half_m = 0.5 * fmax(brant_matrix_distance(&place->matrix, 1, 1),
                               brant_matrix_distance(&place->matrix, 1, -1));
}

/* The circle of `metres` is an ellipse on the grid; its box comes from the rows
 * of the inverse matrix. */
brant_window brant_place_around(const brant_place *place, double metres)
{
    const brant_matrix *m = &place->matrix;
    double det = fabs(m->col_east * m->row_north - m->row_east * m->col_north);
    if (!place->on_earth || !(det > 0))
        return (brant_window){0};
    double cols = fmin(metres * length(m->row_north, m->row_east) / det, WIDE);
    double rows = fmin(metres * length(m->col_north, m->col_east) / det, WIDE);
    brant_window around = {.col = (int)floor(place->at_col - cols),
                           .row = (int)floor(place->at_row - rows)};
    around.cols = (int)floor(place->at_col + cols) - around.col + 1;
    around.rows = (int)floor(place->at_row + rows) - around.row + 1;
    return around;
}

/* The number in [low, high] that is nearest to zero; the interval's end towards
 * it if zero is outside. */
static double nearest_to_zero(double low, double high)
{
    return low > 0 ? low : high < 0 ? high : 0;
}

/* The least distance to the points of a parallelogram's side: grid step `fixed`
 * along (fe, fn), and any step in [low, high] along (ve, vn). */
static double to_side(double fixed, double fe, double fn, double low, double high, double ve,
                      double vn)
{
    double best = -fixed * (fe * ve + fn * vn) / (ve * ve + vn * vn);
    double step = clamp(best, low, high);
    return length(fixed * fe + step * ve, fixed * fn + step * vn);
}

double brant_place_distance(const brant_place *place, int col, int row)
{
    const brant_matrix *m = &place->matrix;
    double left = col - place->at_col, top = row - place->at_row;
    double right = left + 1, bottom = top + 1;
    double dcol = nearest_to_zero(left, right), drow = nearest_to_zero(top, bottom);
    double distance = INFINITY;
    if (dcol == 0 && drow == 0)
        return 0;
    /* only the sides that face the sample can hold the nearest point */
    if (dcol != 0)
        distance = to_side(dcol, m->col_east, m->col_north, top, bottom, m->row_east,
                           m->row_north);
    if (drow != 0)
        distance = fmin(distance, to_side(drow, m->row_east, m->row_north, left, right,
                                          m->col_east, m->col_north));
    return distance;
}

brant_disc brant_place_disc(const brant_place *place, double metres)
{
    const brant_matrix *m = &place->matrix;
    brant_disc disc = {.at_col = place->at_col, .at_row = place->at_row,
                       .a = m->col_east * m->col_east + m->col_north * m->col_north,
                       .b = m->col_east * m->row_east + m->col_north * m->row_north,
                       .c = m->row_east * m->row_east + m->row_north * m->row_north,
                       .square = metres * metres};
    const double det = disc.a * disc.c - disc.b * disc.b;
    disc.right = fmin(metres * sqrt(disc.c / det), WIDE);
    disc.right_row = -disc.b / disc.c * disc.right;
    disc.bottom = metres * sqrt(disc.a / det);
    return disc;
}

/* How far it goes on row y in the direction of `sign`. */
static double reach_on(const brant_disc *d, double y, double sign)
{
    const double under = d->b * d->b * y * y - d->a * (d->c * y * y - d->square);
    return (-d->b * y + sign * sqrt(fmax(under, 0))) / d->a;
}

/* Of the strip of a row the disc has one piece, whose ends lie on the strip's borders but
 * where it is widest. */
int brant_disc_span(const brant_disc *d, int row, int *first)
{
    const double low = row - d->at_row, high = low + 1;
    *first = 0;
    if (!(low <= d->bottom && high >= -d->bottom))
        return 0;
    double right = d->right, left = -d->right;
    if (d->right_row < low || d->right_row > high)
        right = reach_on(d, d->right_row < low ? low : high, 1);
    if (-d->right_row < low || -d->right_row > high)
        left = reach_on(d, -d->right_row < low ? low : high, -1);
    *first = (int)ceil(d->at_col + fmax(left, -WIDE)) - 1;
    return (int)floor(d->at_col + fmin(right, WIDE)) - *first + 1;
}

float brant_cell_value(const brant_field *field, const float *values, int col, int row)
{
    const brant_window *window = &field->window;
    if (!brant_window_has(window, col, row))
        return NAN;
    return values[(size_t)(row - window->row) * (size_t)window->cols +
                  (size_t)(col - window->col)];
}

bool brant_cell_releases(const brant_meeting *meeting, int col, int row)
{
    const brant_field *field = meeting->field;
    return brant_releases(&meeting->options, brant_cell_value(field, field->slope, col, row),
                          brant_zone_set_at(meeting->zones, col, row));
}

/* True if `hit` comes before the hits of cell (col, row). */
static bool comes_before(const brant_hit *hit, int col, int row)
{
    return hit->row < row || (hit->row == row && hit->col < col);
}

void brant_place_hits(const brant_place *place, size_t *first, size_t *count)
{
    const brant_hit *hits = place->meeting->hits;
    size_t low = 0, high = place->meeting->hit_count;
    *first = *count = 0;
    if (!place->on_earth)
        return;
    while (low < high) {
        size_t middle = low + (high - low) / 2;
        if (comes_before(&hits[middle], place->col, place->row))
            low = middle + 1;
        else
            high = middle;
    }
    *first = low;
    while (low < place->meeting->hit_count && hits[low].row == place->row &&
           hits[low].col == place->col)
        low++;
    *count = low - *first;
}
