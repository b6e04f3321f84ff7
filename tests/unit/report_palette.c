/* The sheet's colours by numbers: contrast, colour blindness, grey print. */
#include "../../src/report/map_parts.h"

#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>

#include <cmocka.h>

#include <math.h>
#include <stdio.h>
#include <string.h>

enum { NORMAL, PROTAN, DEUTAN, TRITAN, GREY, VISIONS };

/* Machado, Oliveira and Fernandes 2009 (IEEE TVCG 15(6):1291-1298), severity 1, on linear RGB;
 * from memory. Their rows sum to 1: white stays white. */
static const double simulated[GREY][3][3] = {
    {{1, 0, 0}, {0, 1, 0}, {0, 0, 1}},
    {{0.152286, 1.052583, -0.204868}, {0.114503, 0.786281, 0.099216},
     {-0.003882, -0.048116, 1.051998}},
    {{0.367322, 0.860646, -0.227968}, {0.280085, 0.672501, 0.047413},
     {-0.011820, 0.042940, 0.968881}},
    {{1.255528, -0.076749, -0.178779}, {-0.078411, 0.930809, 0.147602},
     {0.004733, 0.691367, 0.303900}}};

static double linear(double c)
{
    return c <= 0.04045 ? c / 12.92 : pow((c + 0.055) / 1.055, 2.4);
}

static double lab_f(double t)
{
    return t > 216.0 / 24389 ? cbrt(t) : (24389.0 / 27 * t + 16) / 116;
}

/* CIE L*a*b* (D65, 2 degrees) of an sRGB colour (IEC 61966-2-1) as it is seen. */
static void lab_of(const double rgb[3], int vision, double lab[3])
{
    static const double to_xyz[3][3] = {{0.4124, 0.3576, 0.1805},
                                        {0.2126, 0.7152, 0.0722},
                                        {0.0193, 0.1192, 0.9505}};
    static const double white[3] = {0.9505, 1, 1.089};
    double seen[3] = {0}, f[3] = {0};
    for (int i = 0; i < 3; i++)
        for (int j = 0; j < 3; j++)
            seen[i] += (vision == GREY ? to_xyz[1][j] : simulated[vision][i][j]) * linear(rgb[j]);
    for (int i = 0; i < 3; i++) {
        double sum = 0;
        for (int j = 0; j < 3; j++)
            sum += to_xyz[i][j] * fmin(fmax(seen[j], 0), 1);
        f[i] = lab_f(sum / white[i]);
    }
    lab[0] = 116 * f[1] - 16;
    lab[1] = 500 * (f[0] - f[1]);
    lab[2] = 200 * (f[1] - f[2]);
}

/* CIE 1976 difference. */
static double difference(const double a[3], const double b[3], int vision)
{
    double p[3], q[3];
    lab_of(a, vision, p);
    lab_of(b, vision, q);
    return sqrt(pow(p[0] - q[0], 2) + pow(p[1] - q[1], 2) + pow(p[2] - q[2], 2));
}

/* Published: WCAG 2.2 gives black on white as 21; #767676 on white is the lightest grey of
 * 4.5 (4.54, common knowledge, no source). L* of sRGB's middle grey #777777 is 50.03 (from
 * memory). */
static void test_formulas(void **state)
{
    static const double black[3] = {0, 0, 0}, white[3] = {1, 1, 1};
    static const double grey[3] = {0x76 / 255.0, 0x76 / 255.0, 0x76 / 255.0};
    static const double middle[3] = {0x77 / 255.0, 0x77 / 255.0, 0x77 / 255.0};
    double lab[3];
    (void)state;
    assert_true(fabs(brant_palette_contrast(black, white) - 21) < 1e-6);
    assert_true(fabs(brant_palette_contrast(grey, white) - 4.54) < 0.005);
    lab_of(middle, NORMAL, lab);
    assert_true(fabs(lab[0] - 50.03) < 0.05 && fabs(lab[1]) < 0.05 && fabs(lab[2]) < 0.05);
    for (int vision = 0; vision < GREY; vision++)
        for (int i = 0; i < 3; i++) {
            const double *row = simulated[vision][i];
            assert_true(fabs(row[0] + row[1] + row[2] - 1) < 1e-5);
        }
}

/* Words: 4.5 (WCAG 2.2, 1.4.3). Lines: 3 (1.4.11). */
static void test_contrast(void **state)
{
    static const double white[3] = {1, 1, 1};
    (void)state;
    for (int class = BRANT_CLASS_25_30; class < BRANT_CLASSES; class++) {
        double rgb[3], ink = brant_palette_ink((brant_class)class);
        const double on[3] = {ink, ink, ink};
        brant_palette_class((brant_class)class, rgb);
        assert_true(brant_palette_contrast(rgb, on) >= 4.5);
    }
    for (int kind = 0; kind < BRANT_KINDS; kind++)
        assert_true(brant_palette_contrast(brant_palette_kind[kind], white) >= 3);
    assert_true(brant_palette_contrast(brant_palette_contour, white) >= 4.5);
    assert_true(brant_palette_contrast(brant_palette_shadow_line, brant_palette_reached30) >= 3);
    assert_true(brant_palette_contrast(brant_palette_unknown_line, brant_palette_unknown) >= 3);
}

/* Classes: neighbours apart by three times what is just noticed (2.3: Mahy, Van Eycken and
 * Oosterlinck 1994, from memory), others by five times, and darker with steepness, however
 * they are seen. */
#define NOTICED 2.3

static void test_classes(void **state)
{
    (void)state;
    for (int vision = 0; vision < VISIONS; vision++)
        for (int a = BRANT_CLASS_BELOW_25; a < BRANT_CLASSES; a++)
            for (int b = a + 1; b < BRANT_CLASSES; b++) {
                double p[3], q[3], low[3], high[3];
                brant_map_colour((uint8_t)a, BRANT_MAP_LIT, 0, 0, p);
                brant_map_colour((uint8_t)b, BRANT_MAP_LIT, 0, 0, q);
                assert_true(difference(p, q, vision) >= (b == a + 1 ? 3 : 5) * NOTICED);
                lab_of(p, vision, low);
                lab_of(q, vision, high);
                assert_true(high[0] < low[0] - 2 * NOTICED);
            }
}

/* Relief darkens by less than half a step between classes. */
static void test_relief(void **state)
{
    (void)state;
    for (int class = BRANT_CLASS_25_30; class < BRANT_CLASS_ABOVE_55; class++) {
        double here[3], next[3], shaded[3], lab[3][3];
        brant_map_colour((uint8_t)class, BRANT_MAP_LIT, 0, 0, here);
        brant_map_colour((uint8_t)(class + 1), BRANT_MAP_LIT, 0, 0, next);
        for (int k = 0; k < 3; k++)
            shaded[k] = here[k] * brant_map_light(0, (uint8_t)class);
        lab_of(here, GREY, lab[0]);
        lab_of(shaded, GREY, lab[1]);
        lab_of(next, GREY, lab[2]);
        assert_true(lab[1][0] < lab[0][0] && lab[0][0] - lab[1][0] < (lab[0][0] - lab[2][0]) / 2);
    }
    assert_true(brant_map_light(0, BRANT_CLASS_UNKNOWN) == 1); /* no slope, no relief */
}

/* A field of 72 x 72 pixels as the picture has it: mean colour (light mixed, not code values)
 * and how far its lightness swings. */
static void look(uint8_t class, uint8_t shadow, double mean[3], double *swing)
{
    double low = 100, high = 0, lab[3], rgb[3], sum[3] = {0};
    for (int j = 0; j < 72; j++)
        for (int i = 0; i < 72; i++) {
            brant_map_colour(class, shadow, i, j, rgb);
            lab_of(rgb, GREY, lab);
            low = fmin(low, lab[0]);
            high = fmax(high, lab[0]);
            for (int k = 0; k < 3; k++)
                sum[k] += linear(rgb[k]) / (72 * 72);
        }
    for (int k = 0; k < 3; k++)
        mean[k] = sum[k] <= 0.0031308 ? 12.92 * sum[k] : 1.055 * pow(sum[k], 1 / 2.4) - 0.055;
    *swing = high - low;
}

/* Shadow and the unknown are hatched, steepness is not; the steps of the shadow, the unknown
 * and gentle ground differ in tone, too. */
static void test_hatchings(void **state)
{
    static const uint8_t fields[][2] = {{BRANT_CLASS_BELOW_25, BRANT_MAP_LIT},
                                        {BRANT_CLASS_BELOW_25, BRANT_MAP_REACHED},
                                        {BRANT_CLASS_BELOW_25, BRANT_MAP_REACHED_30},
                                        {BRANT_CLASS_UNKNOWN, BRANT_MAP_LIT}};
    double mean[4][3], swing[4], any[3];
    (void)state;
    for (int i = 0; i < 4; i++)
        look(fields[i][0], fields[i][1], mean[i], &swing[i]);
    assert_true(swing[0] < 1e-9);
    for (int i = 1; i < 4; i++)
        assert_true(swing[i] > 25);
    for (int vision = 0; vision < VISIONS; vision++)
        for (int i = 0; i < 4; i++)
            for (int j = i + 1; j < 4; j++)
                assert_true(difference(mean[i], mean[j], vision) >= 2 * NOTICED);
    for (uint8_t class = BRANT_CLASS_30_35; class < BRANT_CLASSES; class++) {
        look(class, BRANT_MAP_REACHED_30, any, &swing[0]);
        assert_true(swing[0] < 1e-9); /* steep ground says so, in a shadow too */
    }
    look(BRANT_CLASS_BELOW_25, BRANT_MAP_UNKNOWN_ABOVE, any, &swing[0]);
    assert_true(swing[0] > 25);
    look(BRANT_MAP_OUTSIDE, BRANT_MAP_LIT, any, &swing[0]);
    assert_true(swing[0] > 25);
    /* the unknown looks the same in every shadow */
    for (uint8_t shadow = 0; shadow <= BRANT_MAP_REACHED_30; shadow++) {
        look(BRANT_CLASS_UNKNOWN, shadow, any, &swing[0]);
        assert_memory_equal(any, mean[3], sizeof any);
    }
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(test_formulas),
        cmocka_unit_test(test_contrast),
        cmocka_unit_test(test_classes),
        cmocka_unit_test(test_relief),
        cmocka_unit_test(test_hatchings),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
