/* Colours. */
#include "palette.h"

#include <math.h>

/* Pale to dark, even steps of lightness from L* 96 to 11, so that the order can
 * be read without colours. Cubehelix (Green 2011, Bull. Astr. Soc. India
 * 39:289-295), start 0, rotations -0.3, hue 1.3, gamma 1, at lambda = 0.94 - 0.83
 * i/6. Unknown is a warm grey, apart from every step also under simulated
 * protanopia, deuteranopia and tritanopia. */
const uint8_t brant_class_colours[BRANT_CLASSES][4] = {
    {168, 160, 150, 255}, {224, 249, 236, 255}, {157, 228, 208, 255}, {105, 198, 192, 255},
    {69, 159, 179, 255},  {48, 114, 156, 255},  {34, 68, 118, 255},   {20, 26, 59, 255}};

const double brant_palette_paper[3] = {0.985, 0.985, 0.975};
const double brant_palette_reached[3] = {0.97, 0.945, 0.86};
const double brant_palette_reached30[3] = {0.93, 0.875, 0.71};
const double brant_palette_shadow_line[3] = {0.36, 0.27, 0.06};
const double brant_palette_unknown[3] = {0.80, 0.78, 0.76};
const double brant_palette_unknown_line[3] = {0.20, 0.18, 0.17};
const double brant_palette_outside_line[3] = {0.62, 0.62, 0.62};
const double brant_palette_contour[3] = {0.33, 0.27, 0.22};
const double brant_palette_grid[3] = {0.15, 0.15, 0.15};

/* Twilight (B. Bechtold, with matplotlib, CC0), an even circle of lightness: dark to the north,
 * light to the south, blue to the east and brown to the west. */
const uint8_t brant_octant_colours[8][3] = {{48, 20, 55},    {90, 43, 144},   {98, 119, 187},
                                            {149, 181, 199}, {226, 217, 226}, {204, 162, 135},
                                            {178, 86, 82},   {116, 30, 79}};

/* After Tol's muted scheme (technical note SRON/EPS/TN/09-002), darkened where a thin line
 * on white needs it. */
const double brant_palette_kind[BRANT_KINDS][3] = {
    [BRANT_KIND_UNKNOWN] = {0.10, 0.10, 0.10},   [BRANT_KIND_CROSSES] = {0.53, 0.13, 0.33},
    [BRANT_KIND_OVER_BAND] = {0.20, 0.13, 0.53}, [BRANT_KIND_EDGE] = {0.72, 0.28, 0.40},
    [BRANT_KIND_UNDER] = {0.43, 0.36, 0.05},     [BRANT_KIND_REMOTE] = {0.05, 0.42, 0.38},
    [BRANT_KIND_NONE_FOUND] = {0, 0, 0}};

const brant_line_look brant_palette_line[BRANT_KINDS] = {
    [BRANT_KIND_UNKNOWN] = {3.0, 1.8, {0, 0}, {2.5, 2.5}, false},
    [BRANT_KIND_CROSSES] = {3.0, 0, {0, 0}, {0, 0}, false},
    [BRANT_KIND_OVER_BAND] = {3.4, 1.2, {0, 0}, {0, 0}, false},
    [BRANT_KIND_EDGE] = {2.4, 0, {7, 2.5}, {0, 0}, false},
    [BRANT_KIND_UNDER] = {1.9, 0, {3, 2}, {0, 0}, false},
    [BRANT_KIND_REMOTE] = {2.0, 0, {0, 3.2}, {0, 0}, true},
    [BRANT_KIND_NONE_FOUND] = {1.1, 0, {0, 0}, {0, 0}, false},
};

#define INK 0.70 /* of the classes' colours */

void brant_palette_class(brant_class class, double rgb[3])
{
    for (int i = 0; i < 3; i++)
        rgb[i] = 1 - INK * (1 - brant_class_colours[class][i] / 255.0);
}

double brant_palette_luminance(const double rgb[3])
{
    static const double weight[3] = {0.2126, 0.7152, 0.0722};
    double sum = 0;
    for (int i = 0; i < 3; i++)
        sum += weight[i] * (rgb[i] <= 0.04045 ? rgb[i] / 12.92 : pow((rgb[i] + 0.055) / 1.055, 2.4));
    return sum;
}

double brant_palette_contrast(const double a[3], const double b[3])
{
    double l = brant_palette_luminance(a), m = brant_palette_luminance(b);
    return (fmax(l, m) + 0.05) / (fmin(l, m) + 0.05);
}

double brant_palette_ink(brant_class class)
{
    static const double black[3] = {0, 0, 0}, white[3] = {1, 1, 1};
    double rgb[3];
    brant_palette_class(class, rgb);
    return brant_palette_contrast(rgb, black) >= brant_palette_contrast(rgb, white) ? 0 : 1;
}
