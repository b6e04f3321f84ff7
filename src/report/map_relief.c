/* The picture below the map's lines: steepness, shadow and the unknown as colours and
 * hatchings, darkened by relief. */
#include "map_parts.h"

#include <math.h>
#include <stdlib.h>

/* ---- relief ------------------------------------------------------------- */

#define LIGHT_HEIGHT 50.0 /* degrees */

/* Lit from four sides, each slope mostly from those across its fall line, so that ridges stand
 * out whichever way they run (Mark 1992, USGS Open-File Report 92-422: weights by the squared
 * sine of the angle between aspect and light; from memory). East, north: rise per metre. No
 * angle is needed for that, only the lights' directions. */
typedef struct lights {
    double east[4], north[4]; /* of length 1 */
    double sine, cosine;      /* of their height */
} lights;

static void set_lights(lights *l, double turn_deg)
{
    for (int i = 0; i < 4; i++) {
        double azimuth = (225 + 45 * i - turn_deg) * M_PI / 180;
        l->east[i] = sin(azimuth);
        l->north[i] = cos(azimuth);
    }
    l->sine = sin(LIGHT_HEIGHT * M_PI / 180);
    l->cosine = cos(LIGHT_HEIGHT * M_PI / 180);
}

static double shade(const lights *l, double east, double north)
{
    double square = east * east + north * north, sum = 0;
    if (square <= 0)
        return 1;
    for (int i = 0; i < 4; i++) {
        /* cosine of the angle from the aspect, times the gradient; the same of its sine */
        double along = -(east * l->east[i] + north * l->north[i]);
        double across = east * l->north[i] - north * l->east[i];
        double lit = l->sine + l->cosine * along; /* times the cosine of the slope */
        sum += across * across * fmax(lit, 0);
    }
    return sum / (2 * square * sqrt(1 + square) * l->sine); /* the weights sum to 2 */
}

void brant_map_relief(const brant_map_ground *ground, double metres, double turn_deg, float *out)
{
    int cols = ground->cols;
    lights l;
    set_lights(&l, turn_deg);
    for (int j = 0; j < ground->rows; j++)
        for (int i = 0; i < cols; i++) {
            size_t at = (size_t)j * (size_t)cols + (size_t)i;
            const float *z = ground->elevation + at;
            bool inner = i > 0 && j > 0 && i < cols - 1 && j < ground->rows - 1;
            double east = inner ? ((double)z[1] - (double)z[-1]) / (2 * metres) : NAN;
            double north = inner ? ((double)z[-cols] - (double)z[cols]) / (2 * metres) : NAN;
            double value = shade(&l, east, north);
            out[at] = isnan(value) ? 1.0f : (float)value;
        }
}

/* ---- colours ------------------------------------------------------------ */

/* Ink of lines `step` pixels apart, `width` wide, along a value that grows across them. */
static double ruled(double across, double step, double width)
{
    double off = fabs(remainder(across, step));
    return fmin(fmax((width + 1) / 2 - off, 0), 1);
}

static void ink(double rgb[3], const double colour[3], double amount)
{
    for (int i = 0; i < 3; i++)
        rgb[i] += (colour[i] - rgb[i]) * amount;
}

static void ground_colour(uint8_t class, uint8_t shadow, int i, int j, double rgb[3])
{
    double rising = (i + j) * M_SQRT1_2;
    if (class >= BRANT_CLASS_30_35) {
        brant_palette_class((brant_class)class, rgb);
        return;
    }
    ink(rgb, brant_palette_paper, 1);
    if (class == BRANT_CLASS_25_30)
        brant_palette_class(BRANT_CLASS_25_30, rgb);
    if (shadow == BRANT_MAP_REACHED_30)
        ink(rgb, brant_palette_reached30, class == BRANT_CLASS_25_30 ? 0.5 : 1);
    if (shadow == BRANT_MAP_REACHED)
        ink(rgb, brant_palette_reached, class == BRANT_CLASS_25_30 ? 0.5 : 1);
    if (shadow == BRANT_MAP_REACHED_30)
        ink(rgb, brant_palette_shadow_line, 0.8 * ruled(rising, 8, 1.6));
    if (shadow == BRANT_MAP_REACHED)
        ink(rgb, brant_palette_shadow_line, 0.7 * ruled(rising, 24, 1.2));
    if (shadow == BRANT_MAP_UNKNOWN_ABOVE && (j / 6) % 2 == 0)
        ink(rgb, brant_palette_unknown_line,
            ruled(i + (j / 12) % 2 * 6, 12, 1.4) * ruled(j - 3, 12, 1.4));
}

void brant_map_colour(uint8_t class, uint8_t shadow, int i, int j, double rgb[3])
{
    rgb[0] = rgb[1] = rgb[2] = 1;
    if (class == BRANT_MAP_OUTSIDE)
        ink(rgb, brant_palette_outside_line, ruled(j, 9, 1));
    else if (class == BRANT_CLASS_UNKNOWN) {
        ink(rgb, brant_palette_unknown, 1);
        ink(rgb, brant_palette_unknown_line,
            0.8 * fmax(ruled((i + j) * M_SQRT1_2, 8, 0.9), ruled((i - j) * M_SQRT1_2, 8, 0.9)));
    } else
        ground_colour(class, shadow, i, j, rgb);
}

/* ---- the picture -------------------------------------------------------- */

#define RELIEF 0.55        /* how strongly it darkens */
#define DARKEST 0.75
#define DARKEST_STEEP 0.96 /* classes are told by lightness, too */
#define LEVELS 64.0        /* of darkening: a smaller file */

double brant_map_light(double relief, uint8_t class)
{
    double darkest = class >= BRANT_CLASS_25_30 ? DARKEST_STEEP : DARKEST;
    if (class == BRANT_CLASS_UNKNOWN || class == BRANT_MAP_OUTSIDE)
        return 1;
    return round(fmin(fmax(1 + RELIEF * (relief - 1), darkest), 1) * LEVELS) / LEVELS;
}

static uint32_t pixel_of(const brant_map_ground *ground, const float *relief, int i, int j)
{
    size_t at = (size_t)j * (size_t)ground->cols + (size_t)i;
    double rgb[3], light = brant_map_light((double)relief[at], ground->classes[at]);
    brant_map_colour(ground->classes[at], ground->shadow[at], i, j, rgb);
    uint32_t pixel = 0;
    for (int k = 0; k < 3; k++)
        pixel = pixel << 8 | (uint32_t)lround(255 * rgb[k] * light);
    return pixel;
}

static void paint(cairo_t *cr, const brant_map_frame *frame, cairo_surface_t *picture)
{
    const brant_map_box *box = &frame->box;
    cairo_save(cr);
    cairo_rectangle(cr, box->x, box->y, box->width, box->height);
    cairo_clip(cr);
    cairo_translate(cr, box->x, box->y);
    cairo_scale(cr, BRANT_MAP_PIXEL, BRANT_MAP_PIXEL);
    cairo_set_source_surface(cr, picture, 0, 0);
    cairo_paint(cr);
    cairo_restore(cr);
}

brant_status brant_map_paint(brant_context *ctx, cairo_t *cr, const brant_map_frame *frame,
                             const brant_map_ground *ground)
{
    size_t count = (size_t)ground->cols * (size_t)ground->rows;
    float *relief = brant_alloc(ctx, count, sizeof *relief);
    cairo_surface_t *picture =
        cairo_image_surface_create(CAIRO_FORMAT_RGB24, ground->cols, ground->rows);
    brant_status status = relief ? BRANT_OK : BRANT_ERR_MEMORY;
    if (relief && cairo_surface_status(picture) != CAIRO_STATUS_SUCCESS)
        status = brant_fail(ctx, BRANT_ERR_MEMORY, "map: no memory for a picture of %d x %d",
                            ground->cols, ground->rows);
    if (status == BRANT_OK) {
        brant_map_relief(ground, frame->ground_per_point * BRANT_MAP_PIXEL,
                         frame->convergence_deg, relief);
        cairo_surface_flush(picture);
        unsigned char *row = cairo_image_surface_get_data(picture);
        for (int j = 0; j < ground->rows; j++, row += cairo_image_surface_get_stride(picture))
            for (int i = 0; i < ground->cols; i++)
                ((uint32_t *)(void *)row)[i] = pixel_of(ground, relief, i, j);
        cairo_surface_mark_dirty(picture);
        paint(cr, frame, picture);
    }
    cairo_surface_destroy(picture);
    free(relief);
    return status;
}
