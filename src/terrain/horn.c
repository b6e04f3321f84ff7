/* Horn's slope and aspect (Horn 1981, Proc. IEEE 69(1):14-47, pp. 18-21) in true
 * metres, row by row, and the one-sided estimate beside voids. */
#include "horn.h"

#define STEP BRANT_GROUND_STEP

/* A stretch of cells over which the matrix is start + i*slope, i counted from
 * the stretch's anchor. Anchors are multiples of STEP (or the lattice's bends
 * after them), never the caller's first cell: so where a caller cuts a row does
 * not change a bit. */
typedef struct stretch {
    brant_matrix m[2];
    int from;   /* i of the first cell wanted */
    int n;      /* cells wanted */
} stretch;

static int floor_to_step(int col)
{
    int rest = col % STEP;
    return col - (rest < 0 ? rest + STEP : rest);
}

static stretch stretch_at(const brant_ground *ground, int col, int row, int n)
{
    stretch s;
    int anchor = floor_to_step(col), end = anchor + STEP;
    int run = brant_ground_row(ground, anchor, row, s.m);
    while (run > 0 && anchor + run <= col) { /* the lattice bends before col */
        anchor += run;
        run = brant_ground_row(ground, anchor, row, s.m);
    }
    if (run < end - anchor)
        end = anchor + run;
    s.from = col - anchor;
    s.n = end - col < n ? end - col : n;
    return s;
}

/* One stretch. Differences before sums: elevations of neighbours subtract
 * exactly in float (they are within a factor of 2 of each other), sums of
 * elevations would cost a millimetre at 8000 m. The rise along the grid, d =
 * (dz/dcol, dz/drow), is J^T g for the true gradient g; Horn leaves the centre
 * out, `hole` (0, or NaN) brings a void centre back in. */
BRANT_BODY void gradient_stretch(const stretch *s, const float *restrict north,
                                 const float *restrict here, const float *restrict south,
                                 float *restrict rise_east, float *restrict rise_north)
{
    const float ce0 = (float)s->m[0].col_east, ce1 = (float)s->m[1].col_east;
    const float re0 = (float)s->m[0].row_east, re1 = (float)s->m[1].row_east;
    const float cn0 = (float)s->m[0].col_north, cn1 = (float)s->m[1].col_north;
    const float rn0 = (float)s->m[0].row_north, rn1 = (float)s->m[1].row_north;
    for (int i = 0; i < s->n; i++) {
        const float at = (float)(s->from + i);
        const float ce = ce0 + at * ce1, re = re0 + at * re1;
        const float cn = cn0 + at * cn1, rn = rn0 + at * rn1;
        const float hole = here[i + 1] - here[i + 1];
        const float falling = south[i + 2] - north[i], rising = north[i + 2] - south[i];
        const float dcol = falling + rising + 2.0f * (here[i + 2] - here[i]) + hole;
        const float drow = falling - rising + 2.0f * (south[i + 1] - north[i + 1]) + hole;
        const float part = 0.125f / (ce * rn - re * cn);
        rise_east[i] = (rn * dcol - cn * drow) * part;
        rise_north[i] = (ce * drow - re * dcol) * part;
    }
}

BRANT_BODY void gradient_row(const brant_ground *ground, int col, int row, int n,
                             const float *north, const float *here, const float *south,
                             float *rise_east, float *rise_north)
{
    for (int done = 0; done < n;) {
        stretch s = stretch_at(ground, col + done, row, n - done);
        gradient_stretch(&s, north + done, here + done, south + done, rise_east + done,
                         rise_north + done);
        done += s.n;
    }
}

void brant_area_row(const brant_ground *ground, int col, int row, int n, double *area)
{
    for (int done = 0; done < n;) {
        stretch s = stretch_at(ground, col + done, row, n - done);
        for (int i = 0; i < s.n; i++) {
            const double at = s.from + i;
            const brant_matrix m = {s.m[0].col_east + at * s.m[1].col_east,
                                    s.m[0].row_east + at * s.m[1].row_east,
                                    s.m[0].col_north + at * s.m[1].col_north,
                                    s.m[0].row_north + at * s.m[1].row_north};
            area[done + i] = brant_matrix_area(&m);
        }
        done += s.n;
    }
}

BRANT_BODY void horn_row(const brant_ground *ground, int col, int row, int n, const float *north,
                         const float *here, const float *south, float *slope, float *aspect)
{
    float rise_east[STEP], rise_north[STEP];
    for (int done = 0; done < n;) {
        stretch s = stretch_at(ground, col + done, row, n - done);
        gradient_stretch(&s, north + done, here + done, south + done, rise_east, rise_north);
        for (int i = 0; i < s.n; i++)
            slope[done + i] = brant_slope_of(rise_east[i], rise_north[i]);
        for (int i = 0; aspect && i < s.n; i++) {
            float azimuth = brant_aspect_of(rise_east[i], rise_north[i]);
            aspect[done + i] = slope[done + i] > 0.0f ? azimuth : NAN;
        }
        done += s.n;
    }
}

/* ---- by instruction set ------------------------------------------------- */

BRANT_WIDE static void gradient_row_wide(const brant_ground *ground, int col, int row, int n,
                                         const float *north, const float *here,
                                         const float *south, float *rise_east, float *rise_north)
{
    gradient_row(ground, col, row, n, north, here, south, rise_east, rise_north);
}

void brant_gradient_row(const brant_ground *ground, int col, int row, int n, const float *north,
                        const float *here, const float *south, float *rise_east,
                        float *rise_north)
{
    if (BRANT_HAS_WIDE())
        gradient_row_wide(ground, col, row, n, north, here, south, rise_east, rise_north);
    else
        gradient_row(ground, col, row, n, north, here, south, rise_east, rise_north);
}

BRANT_WIDE static void horn_row_wide(const brant_ground *ground, int col, int row, int n,
                                     const float *north, const float *here, const float *south,
                                     float *slope, float *aspect)
{
    horn_row(ground, col, row, n, north, here, south, slope, aspect);
}

void brant_horn_row(const brant_ground *ground, int col, int row, int n, const float *north,
                    const float *here, const float *south, float *slope, float *aspect)
{
    if (BRANT_HAS_WIDE())
        horn_row_wide(ground, col, row, n, north, here, south, slope, aspect);
    else
        horn_row(ground, col, row, n, north, here, south, slope, aspect);
}

/* ---- its error ---------------------------------------------------------- */

/* Grid steps in a metre towards `azimuth`. */
static double steps_in_a_metre(const brant_matrix *m, double azimuth)
{
    double east = sin(azimuth), north = cos(azimuth);
    double whole = m->col_east * m->row_north - m->row_east * m->col_north;
    return hypot(m->row_north * east - m->row_east * north,
                 m->col_east * north - m->col_north * east) / fabs(whole);
}

double brant_slope_error(const brant_matrix *matrix, double slope_deg, double aspect_deg,
                         double sigma_m)
{
    double cell = fmin(brant_matrix_cell_width(matrix), brant_matrix_cell_height(matrix));
    double steps = isnan(aspect_deg) ? 1.0 / cell
                                     : steps_in_a_metre(matrix, aspect_deg * M_PI / 180.0);
    double rise = tan(slope_deg * M_PI / 180.0);
    return sqrt(3.0) / 4.0 * sigma_m * steps / (1.0 + rise * rise) * 180.0 / M_PI;
}

/* ---- the one-sided estimate --------------------------------------------- */

/* The three cells of a side, first + k*step, are void. */
static bool side_void(const float *w, int first, int step)
{
    return isnan(w[first]) && isnan(w[first + step]) && isnan(w[first + 2 * step]);
}

/* Continue a void side in a straight line from the two lines beside it. */
static void extend_side(float *w, int side, int middle, int far, int step)
{
    for (int k = 0; k < 3; k++)
        w[side + k * step] = 2.0f * w[middle + k * step] - w[far + k * step];
}

/* The known cells around the centre lie in at least two directions: along one
 * line alone there is no slope to be had, and flat would be a lie. */
static bool spans_plane(const float w[9])
{
    int directions = 0;
    for (int k = 0; k < 4; k++) /* cells k and 8 - k face each other */
        directions += !isnan(w[k]) || !isnan(w[8 - k]);
    return directions >= 2;
}

/* The rule is that of the common reference tool (gdaldem's -compute_edges):
 * a missing row or column is continued in a straight line; at a corner the
 * missing column repeats the centre column before the row is continued; a lone
 * void takes the centre's height. The last two make the estimate gentler than
 * the ground on a plane, which is why it is only an option. */
bool brant_complete_window(float w[9])
{
    if (isnan(w[4]) || !spans_plane(w))
        return false;
    bool top = side_void(w, 0, 1), bottom = side_void(w, 6, 1);
    bool left = side_void(w, 0, 3), right = side_void(w, 2, 3);
    bool row = top != bottom;
    for (int k = 0; k < 3 && row; k++) {
        if (left)
            w[3 * k] = w[3 * k + 1];
        if (right)
            w[3 * k + 2] = w[3 * k + 1];
    }
    if (row)
        extend_side(w, top ? 0 : 6, 3, top ? 6 : 0, 1);
    else if (left != right)
        extend_side(w, left ? 0 : 2, 1, left ? 2 : 0, 3);
    for (int k = 0; k < 9; k++)
        w[k] = isnan(w[k]) ? w[4] : w[k];
    return true;
}

/* The cells of a row that have no slope for a void beside them, once more with
 * the window completed. `lines` as in brant_horn_row. */
static void estimate_edges(const brant_ground *ground, int col, int row, int n,
                           const float *const lines[3], float *slope, float *aspect)
{
    for (int i = 0; i < n; i++) {
        float w[9];
        if (!isnan(slope[i]) || isnan(lines[1][i + 1]))
            continue;
        for (int k = 0; k < 9; k++)
            w[k] = lines[k / 3][i + k % 3];
        if (brant_complete_window(w))
            brant_horn_row(ground, col + i, row, 1, w, w + 3, w + 6, slope + i, aspect + i);
    }
}

void brant_steepness_row(const brant_ground *ground, int col, int row, int n, const float *north,
                         const float *here, const float *south, bool edges, float *slope,
                         float *aspect)
{
    const float *const lines[3] = {north, here, south};
    brant_horn_row(ground, col, row, n, north, here, south, slope, aspect);
    if (edges)
        estimate_edges(ground, col, row, n, lines, slope, aspect);
}
