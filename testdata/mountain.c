/* An invented mountain. The skeleton (ridges, valley floors, gentle ground) is
 * drawn by hand below, a membrane is stretched over it, and weathering noise,
 * a gully, a cliff, a small pitch, a lake and a hole are worked into that.
 *
 * Positions are in km east and north of the model's south-west corner, heights
 * in metres. */
#include "mountain.h"

#include <math.h>
#include <stdbool.h>
#include <stdint.h>
#include <stdlib.h>
#include <string.h>

enum { N = DEMO_CELLS, COARSEST = 8, LINE_MAX_POINTS = 12 };

typedef struct vertex {
    double x, y, z;
} vertex;

/* ---- noise ---------------------------------------------------------------- */

static double clamp01(double t)
{
    return t < 0 ? 0 : t > 1 ? 1 : t;
}

/* 0 up to `low`, 1 from `high` on, smooth between. */
static double ramp(double low, double high, double value)
{
    double t = clamp01((value - low) / (high - low));
    return t * t * (3 - 2 * t);
}

/* A number in 0..1 for a lattice point: integer mixing, no table, no state. */
static double lattice(int x, int y, uint32_t seed)
{
    uint32_t h = (uint32_t)x * 0x8da6b343u ^ (uint32_t)y * 0xd8163841u ^ seed * 0xcb1ab31fu;
    h = (h ^ h >> 15) * 0x2c1b3c6du;
    h = (h ^ h >> 12) * 0x297a2d39u;
    return (double)(h ^ h >> 15) / 4294967295.0;
}

/* Value noise in 0..1, lattice spacing 1. */
static double noise(double x, double y, uint32_t seed)
{
    double fx = floor(x), fy = floor(y);
    int ix = (int)fx, iy = (int)fy;
    double tx = x - fx, ty = y - fy;
    tx = tx * tx * tx * (tx * (6 * tx - 15) + 10);
    ty = ty * ty * ty * (ty * (6 * ty - 15) + 10);
    double low = lattice(ix, iy, seed) * (1 - tx) + lattice(ix + 1, iy, seed) * tx;
    double high = lattice(ix, iy + 1, seed) * (1 - tx) + lattice(ix + 1, iy + 1, seed) * tx;
    return low * (1 - ty) + high * ty;
}

/* ---- the skeleton --------------------------------------------------------- */

/* A drawn line; a height of 0 ends it. */
typedef vertex line[LINE_MAX_POINTS];

static const line skeleton[] = {
    /* main valley in the east, and its far side */
    {{5.30, 6.40, 1490}, {5.50, 4.60, 1465}, {5.30, 3.60, 1455}, {5.45, 2.40, 1445},
     {5.25, 1.20, 1430}, {5.50, -0.40, 1415}},
    {{5.85, 6.40, 1700}, {5.80, 4.80, 1620}, {5.82, 3.00, 1520}, {5.80, -0.40, 1500}},
    /* west ridge of the horn, and the ridges that leave it */
    {{2.35, 3.05, 2752}, {1.90, 3.10, 2660}, {1.50, 2.90, 2600}, {1.00, 2.95, 2560},
     {0.50, 2.60, 2510}, {-0.30, 2.50, 2480}},
    {{1.00, 2.95, 2560}, {0.70, 3.50, 2500}, {0.25, 4.10, 2420}, {-0.30, 4.50, 2380}},
    {{0.50, 2.60, 2510}, {0.40, 1.90, 2410}, {-0.20, 1.00, 2330}},
    {{0.70, 3.50, 2480}, {0.85, 3.85, 2260}, {0.80, 4.20, 2040}},
    {{0.45, 2.20, 2450}, {0.80, 1.95, 2250}, {1.10, 1.65, 2010}},
    /* north ridge and its western spurs */
    {{2.35, 3.05, 2752}, {2.30, 3.45, 2610}, {2.10, 3.95, 2480}, {1.90, 4.50, 2420},
     {1.75, 5.00, 2370}, {1.40, 5.50, 2300}, {1.00, 6.40, 2200}},
    {{1.90, 4.50, 2420}, {1.50, 4.55, 2220}, {1.15, 4.45, 2010}, {0.90, 4.50, 1850}},
    {{1.40, 5.50, 2300}, {1.00, 5.40, 2060}, {0.65, 5.30, 1800}},
    /* east ridge, down to the spur above the hut */
    {{2.35, 3.05, 2752}, {2.70, 3.00, 2610}, {3.10, 3.10, 2500}, {3.50, 3.05, 2400},
     {3.90, 3.20, 2260}, {4.25, 3.30, 2060}, {4.60, 3.45, 1760}},
    /* south shoulder, and its far end in the south */
    {{2.35, 3.05, 2752}, {2.40, 2.70, 2610}, {2.55, 2.30, 2480}, {2.80, 1.95, 2360},
     {2.60, 1.40, 2310}, {2.30, 0.90, 2280}, {2.20, 0.40, 2220}, {1.90, -0.30, 2150}},
    {{2.60, 1.40, 2310}, {2.20, 1.45, 2140}, {1.80, 1.60, 1960}},
    {{2.30, 0.90, 2280}, {1.90, 0.75, 2060}, {1.50, 0.70, 1850}},
    /* the bowl's floor, the lake's valley down to the river */
    {{2.85, 3.52, 2150}, {3.10, 3.80, 2050}, {3.38, 4.06, 1986}, {3.56, 4.29, 1980},
     {3.90, 4.45, 1960}, {4.30, 4.50, 1810}, {4.70, 4.55, 1620}, {5.20, 4.50, 1475}},
    /* the ridge north of the lake, and the valley behind it */
    {{1.95, 4.35, 2430}, {2.40, 4.55, 2370}, {2.90, 4.75, 2340}, {3.40, 4.90, 2290},
     {4.00, 5.00, 2150}, {4.50, 5.15, 1890}, {4.85, 5.25, 1630}},
    {{2.32, 4.92, 1990}, {2.50, 5.45, 1720}, {2.90, 6.30, 1570}},
    {{3.40, 4.90, 2290}, {3.65, 5.40, 2130}, {3.80, 6.30, 1950}},
    {{3.95, 5.35, 1930}, {4.30, 5.75, 1680}, {4.50, 6.30, 1550}},
    /* north-west and south-west valleys */
    {{1.55, 3.60, 2150}, {1.08, 4.15, 1970}, {0.75, 4.90, 1710}, {-0.10, 5.95, 1530}},
    {{1.68, 2.20, 2010}, {1.30, 1.50, 1770}, {1.05, 0.80, 1610}, {0.30, -0.30, 1480}},
    /* the meads: gentle ground south-east of the shoulder */
    {{2.60, 2.60, 2525}, {2.85, 2.25, 2390}, {3.20, 2.35, 2270}, {3.60, 2.35, 2110},
     {3.75, 2.30, 2050}},
    {{3.05, 1.90, 2280}, {3.30, 1.90, 2195}, {3.70, 2.05, 2070}, {3.90, 1.70, 2000}},
    {{2.90, 1.45, 2220}, {3.10, 1.45, 2165}, {3.40, 1.40, 2090}, {3.80, 1.45, 2000}},
    /* down from the meads: the gully's line, and spurs and valleys beside it */
    {{3.75, 2.30, 2050}, {3.98, 2.28, 1960}, {4.12, 2.42, 1890}, {4.30, 2.62, 1800},
     {4.50, 2.58, 1710}, {4.70, 2.75, 1610}, {4.85, 2.90, 1560}},
    {{3.90, 2.60, 2070}, {4.20, 2.85, 1920}, {4.55, 2.95, 1690}},
    {{3.75, 2.00, 2060}, {4.10, 2.00, 2000}, {4.45, 2.15, 1850}, {4.80, 2.20, 1620},
     {5.00, 2.20, 1490}},
    {{3.95, 1.72, 1960}, {4.30, 1.60, 1730}, {4.70, 1.55, 1540}, {5.20, 1.60, 1440}},
    {{3.80, 1.45, 2000}, {4.20, 1.05, 1900}, {4.60, 0.70, 1730}, {4.95, 0.55, 1490}},
    {{2.90, 0.95, 1960}, {3.15, 0.50, 1690}, {3.60, 0.10, 1540}, {3.90, -0.30, 1480}},
    {{4.20, 1.05, 1900}, {4.25, 0.50, 1780}, {4.40, -0.30, 1620}},
    /* the hut's bench round the foot of the east ridge */
    {{4.55, 4.05, 1660}, {4.75, 3.70, 1590}, {4.85, 3.30, 1565}, {4.86, 2.90, 1560}},
};

enum { LINES = sizeof skeleton / sizeof skeleton[0] };

/* A drawn position as nature has it: nothing runs straight for long. */
static vertex bend(double x, double y)
{
    double east = 0, north = 0, spacing = 0.9, size = 0.34;
    for (uint32_t octave = 0; octave < 3; octave++) {
        east += size * (noise(x / spacing, y / spacing, 20 + octave) - 0.5);
        north += size * (noise(x / spacing, y / spacing, 30 + octave) - 0.5);
        spacing *= 0.4;
        size *= 0.45;
    }
    return (vertex){x + east, y + north, 0};
}

/* Where a position of the ground was drawn: bend's inverse, by iteration. */
static vertex unbend(double x, double y)
{
    vertex drawn = {x, y, 0};
    for (int i = 0; i < 8; i++) {
        vertex bent = bend(drawn.x, drawn.y);
        drawn.x -= bent.x - x;
        drawn.y -= bent.y - y;
    }
    return drawn;
}

/* Pin the cells under the skeleton on a grid of n x n cells. */
static void pin_skeleton(int n, double *z, bool *pinned)
{
    double cells_per_km = n / (N * DEMO_CELL / 1000);
    for (int i = 0; i < LINES; i++) {
        for (int j = 1; j < LINE_MAX_POINTS && skeleton[i][j].z > 0; j++) {
            vertex a = skeleton[i][j - 1], b = skeleton[i][j];
            double dx = b.x - a.x, dy = b.y - a.y;
            int steps = 1 + (int)(3 * cells_per_km * sqrt(dx * dx + dy * dy));
            for (int s = 0; s <= steps; s++) {
                double t = (double)s / steps;
                vertex at = bend(a.x + t * dx, a.y + t * dy);
                int col = (int)(at.x * cells_per_km), row = n - 1 - (int)(at.y * cells_per_km);
                if (col < 0 || col >= n || row < 0 || row >= n)
                    continue;
                z[row * n + col] = a.z + t * (b.z - a.z);
                pinned[row * n + col] = true;
            }
        }
    }
}

/* ---- the membrane --------------------------------------------------------- */

/* Relax the cells that are not pinned towards the mean of their neighbours
 * (Laplace's equation, successive over-relaxation; free at the border). */
static void relax(int n, double *z, const bool *pinned, int sweeps)
{
    const double over = 1.9;
    for (int sweep = 0; sweep < sweeps; sweep++) {
        for (int row = 0; row < n; row++) {
            const double *north = z + (row > 0 ? row - 1 : 1) * n;
            const double *south = z + (row < n - 1 ? row + 1 : n - 2) * n;
            double *here = z + row * n;
            for (int col = 0; col < n; col++) {
                if (pinned[row * n + col])
                    continue;
                double west = here[col > 0 ? col - 1 : 1];
                double east = here[col < n - 1 ? col + 1 : n - 2];
                double mean = (north[col] + south[col] + west + east) / 4;
                here[col] += over * (mean - here[col]);
            }
        }
    }
}

/* Stretch the membrane, from coarse cells to fine ones. */
static void stretch(double *z, double *coarse, bool *pinned)
{
    for (int step = COARSEST; step >= 1; step /= 2) {
        int n = N / step;
        for (int row = 0; row < n; row++)
            for (int col = 0; col < n; col++)
                z[row * n + col] =
                    step == COARSEST ? 2000 : coarse[row / 2 * (n / 2) + col / 2];
        memset(pinned, 0, (size_t)n * (size_t)n * sizeof *pinned);
        pin_skeleton(n, z, pinned);
        relax(n, z, pinned, step == COARSEST ? 600 : 120);
        memcpy(coarse, z, (size_t)n * (size_t)n * sizeof *z);
    }
}

/* Round crests and valley floors: the mean of 3 x 3 cells, `passes` times. */
static void smooth(double *z, double *scratch, int passes)
{
    for (int pass = 0; pass < passes; pass++) {
        memcpy(scratch, z, (size_t)N * N * sizeof *z);
        for (int row = 1; row < N - 1; row++) {
            for (int col = 1; col < N - 1; col++) {
                const double *s = scratch + row * N + col;
                z[row * N + col] = (s[-N - 1] + s[-N] + s[-N + 1] + s[-1] + s[0] + s[1] +
                                    s[N - 1] + s[N] + s[N + 1]) / 9;
            }
        }
    }
}

/* ---- weathering ----------------------------------------------------------- */

/* Sharp crests where the noise passes through its middle, 0..1. */
static double ridged(double x, double y, uint32_t seed)
{
    double crest = 1 - fabs(2 * noise(x, y, seed) - 1);
    return crest * crest;
}

/* Octaves of crests, the first `spacing` metres apart and `amplitude` high. */
static double crests(double x, double y, int octaves, double spacing, double amplitude)
{
    double wx = x + 80 * (noise(x / 190, y / 190, 11) - 0.5);
    double wy = y + 80 * (noise(x / 190, y / 190, 12) - 0.5);
    double height = 0;
    for (int octave = 0; octave < octaves; octave++) {
        /* turn each octave so that the lattices do not line up */
        double turn_x = 0.8 * wx - 0.6 * wy, turn_y = 0.6 * wx + 0.8 * wy;
        wx = turn_x, wy = turn_y;
        height += amplitude * (ridged(wx / spacing, wy / spacing, (uint32_t)octave) - 0.33);
        spacing *= 0.5;
        amplitude *= 0.42;
    }
    return height;
}

/* Downhill direction at a cell (unit vector in columns and rows; 0, 0 where it
 * is flat); returns the steepness as a ratio. */
static double fall_line(const double *z, int col, int row, double *dc, double *dr)
{
    int w = col > 0 ? col - 1 : col, e = col < N - 1 ? col + 1 : col;
    int n = row > 0 ? row - 1 : row, s = row < N - 1 ? row + 1 : row;
    double p = (z[row * N + w] - z[row * N + e]) / ((e - w) * DEMO_CELL);
    double q = (z[n * N + col] - z[s * N + col]) / ((s - n) * DEMO_CELL);
    double steepness = sqrt(p * p + q * q);
    *dc = steepness > 0 ? p / steepness : 0;
    *dr = steepness > 0 ? q / steepness : 0;
    return steepness;
}

/* The mean of `relief` along the fall line through a cell, up and down: what was
 * blotches becomes ribs and couloirs. */
static double along_fall_line(const double *z, const double *relief, int col, int row)
{
    enum { STEPS = 20 };
    double sum = relief[row * N + col];
    int count = 1;
    for (int way = -1; way <= 1; way += 2) {
        double x = col + 0.5, y = row + 0.5, dc, dr;
        for (int step = 0; step < STEPS; step++) {
            fall_line(z, (int)x, (int)y, &dc, &dr);
            x += way * dc;
            y += way * dr;
            if (x < 0 || y < 0 || x >= N || y >= N)
                break;
            sum += relief[(int)y * N + (int)x];
            count++;
        }
    }
    return sum / count;
}

/* Swells of gentle ground, metres. */
static double swell(double x, double y)
{
    double height = 0, spacing = 330, size = 20;
    for (uint32_t octave = 0; octave < 4; octave++) {
        double turn_x = 0.8 * x - 0.6 * y, turn_y = 0.6 * x + 0.8 * y;
        x = turn_x, y = turn_y;
        height += size * (noise(x / spacing, y / spacing, 50 + octave) - 0.5);
        spacing *= 0.43;
        size *= 0.35;
    }
    return height;
}

/* Work the relief in: swells where the ground is gentle, crests, ribs and
 * couloirs where it is steep. */
static void weather(double *z, double *base, double *relief)
{
    memcpy(base, z, (size_t)N * N * sizeof *z);
    for (int i = 0; i < N * N; i++)
        relief[i] = crests(i % N * DEMO_CELL, (N - 1 - i / N) * DEMO_CELL, 4, 330, 160);
    for (int row = 0; row < N; row++) {
        for (int col = 0; col < N; col++) {
            double x = col * DEMO_CELL, y = (N - 1 - row) * DEMO_CELL, dc, dr;
            double steep = ramp(0.50, 0.80, fall_line(base, col, row, &dc, &dr));
            z[row * N + col] += swell(x, y) + steep * (crests(x + 5000, y, 4, 230, 16) +
                                along_fall_line(base, relief, col, row));
        }
    }
}

/* ---- places --------------------------------------------------------------- */

/* Where a point lies along a drawn line: metres from it, metres along it, and on
 * which side (positive: to the left, walking along). */
typedef struct beside {
    double distance, along, side;
} beside;

static beside beside_line(const vertex *points, int count, double x, double y)
{
    beside best = {1e9, 0, 0};
    double run = 0;
    for (int i = 1; i < count; i++) {
        double ax = points[i - 1].x * 1000, ay = points[i - 1].y * 1000;
        double dx = points[i].x * 1000 - ax, dy = points[i].y * 1000 - ay;
        double length = sqrt(dx * dx + dy * dy);
        double t = clamp01(((x - ax) * dx + (y - ay) * dy) / (length * length));
        double ox = x - ax - t * dx, oy = y - ay - t * dy;
        double distance = sqrt(ox * ox + oy * oy);
        if (distance < best.distance)
            best = (beside){distance, run + t * length, dx * oy > dy * ox ? distance : -distance};
        run += length;
    }
    return best;
}

/* A step in the ground: `height` metres over `width`, highest on the left of the
 * line, let out again over `reach` metres to each side and at the line's ends. */
static double step_of(const vertex *points, int count, double length, double height, double width,
                      double reach, double x, double y)
{
    beside at = beside_line(points, count, x, y);
    double ends = ramp(0, 0.2 * length, at.along) * ramp(0, 0.2 * length, length - at.along);
    double side = ramp(-0.5 * width, 0.5 * width, at.side) - 0.5;
    return height * ends * side * (1 - ramp(0.5 * width, reach, at.distance));
}

static const vertex gully[] = {{3.72, 2.31, 0}, {3.98, 2.28, 0}, {4.12, 2.42, 0}, {4.30, 2.62, 0},
                               {4.50, 2.58, 0}, {4.72, 2.77, 0}};
static const vertex cliff[] = {{4.02, 3.56, 0}, {3.75, 3.47, 0}, {3.45, 3.50, 0}, {3.20, 3.42, 0}};
static const vertex pitch[] = {{3.46, 2.02, 0}, {3.50, 1.92, 0}, {3.50, 1.82, 0}};

/* What the named places add to the ground at a point, metres. */
static double places(double x, double y)
{
    beside in_gully = beside_line(gully, 6, x, y);
    double open = ramp(150, 420, in_gully.along) * (1 - ramp(1150, 1290, in_gully.along));
    double change = -36 * open * (1 - ramp(8, 88, in_gully.distance));
    change += step_of(cliff, 4, 845, 42, 24, 170, x, y);
    change += step_of(pitch, 3, 208, -11, 20, 95, x, y);
    return change;
}

/* Ground that ends flat: the lake at its level, 0 outside to 1 within. */
static double lake(double x, double y)
{
    double dx = (x - 3560) / 190, dy = (y - 4290) / 120;
    double shore = 0.25 * (noise(x / 90, y / 90, 40) - 0.5);
    return 1 - ramp(0.9, 2.5, sqrt(dx * dx + dy * dy) + shore);
}

/* A hole in the model, as a survey leaves one in deep shade. */
static bool hole(double x, double y)
{
    double dx = (x - 4420) / 55, dy = (y - 4020) / 40;
    return dx * dx + dy * dy + 0.6 * (noise(x / 30, y / 30, 41) - 0.5) < 1;
}

void demo_place(double drawn_x, double drawn_y, double *east, double *north)
{
    vertex at = bend(drawn_x, drawn_y);
    *east = 1000 * at.x;
    *north = 1000 * at.y;
}

float *demo_mountain(void)
{
    double *z = malloc(sizeof(double) * N * N), *scratch = malloc(sizeof(double) * N * N);
    bool *pinned = malloc(sizeof(bool) * N * N);
    double *relief = malloc(sizeof(double) * N * N);
    float *out = malloc(sizeof(float) * N * N);
    if (z && scratch && pinned && relief && out) {
        stretch(z, scratch, pinned);
        smooth(z, scratch, 5);
        weather(z, scratch, relief);
        for (int i = 0; i < N * N; i++) {
            double km = DEMO_CELL / 1000, x = (i % N + 0.5) * km, y = (N - 0.5 - i / N) * km;
            vertex drawn = unbend(x, y);
            x = 1000 * drawn.x, y = 1000 * drawn.y;
            double water = lake(x, y);
            double ground = (z[i] + places(x, y)) * (1 - water) + 1980 * water;
            out[i] = hole(x, y) ? DEMO_NODATA : (float)(floor(ground * 8 + 0.5) / 8);
        }
    } else {
        free(out);
        out = NULL;
    }
    free(relief);
    free(pinned);
    free(scratch);
    free(z);
    return out;
}
