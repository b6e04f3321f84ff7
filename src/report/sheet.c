/* The printed sheet: a tour on paper. Drawn from plan.json and the plan's rasters. */
#include "sheet.h"

#include "sheet_map.h"

#include <cairo-pdf.h>
#include <cairo-svg.h>
#include <math.h>
#include <string.h>

/* A page's size in points: ISO 216 A4 (210 mm x 297 mm), US letter (8.5 x 11 inch). */
#define MM (72 / 25.4)
#define A4_WIDTH (210 * MM)
#define A4_HEIGHT (297 * MM)
#define LETTER_WIDTH 612.0
#define LETTER_HEIGHT 792.0
/* Of a PNG, and of rasters in the map. */
#define DPI 150.0
/* The map is never lower than this; else the rest goes to a further page. */
#define MAP_LEAST 200.0
#define MAP_GAP 4.0
/* Of the worst legs the front names so many. */
#define FEWEST_FIRST 3
#define MOST_FIRST 8
/* pango starts two for each font of a sheet, 24 at a time by what was tried, and ends the process
 * where it cannot. */
#define PANGO_THREADS 32
/* cairo's images have no more lines. */
#define IMAGE_LINES 32767.0

bool brant_sheet_format_of(const char *path, brant_sheet_format *format)
{
    static const char *const suffix[] = {".pdf", ".svg", ".png"};
    const char *dot = strrchr(path, '.');
    for (int i = 0; dot && i < 3; i++) {
        if (strcmp(dot, suffix[i]) == 0) {
            *format = (brant_sheet_format)i;
            return true;
        }
    }
    return false;
}

brant_status brant_sheet_fonts(brant_context *ctx)
{
    PangoContext *pango = NULL;
    if (!brant_spare_threads(PANGO_THREADS))
        return brant_fail(ctx, BRANT_ERR_MEMORY, "sheet: cannot start the %d threads that "
                                                 "fonts are looked up on", PANGO_THREADS);
    brant_status status = brant_sheet_context(ctx, &pango);
    if (pango)
        g_object_unref(pango);
    return status;
}

/* ---- a tour ------------------------------------------------------------- */

static void draw_map(brant_sheet *s, double height)
{
    if (s->status == BRANT_OK && !s->trial)
        s->status = brant_sheet_map(s, BRANT_SHEET_LEFT, s->y, brant_sheet_inner(s),
                                    height - MAP_GAP);
    s->y += height;
}

static void draw_rest(brant_sheet *s)
{
    brant_sheet_legs(s);
    brant_sheet_notes(s);
    brant_sheet_checks(s);
    brant_sheet_caution(s);
}

static void draw_bearings(brant_sheet *s)
{
    if (s->options->bearings)
        brant_sheet_bearings(s);
}

/* From the second page on. */
static void draw_back(brant_sheet *s)
{
    brant_sheet_new_page(s);
    brant_sheet_profile_strips(s);
    draw_rest(s);
    draw_bearings(s);
}

/* ---- trials ------------------------------------------------------------- */

/* A surface on which nothing is seen. */
static cairo_t *nowhere(void)
{
    cairo_surface_t *surface = cairo_recording_surface_create(CAIRO_CONTENT_COLOR_ALPHA, NULL);
    cairo_t *cr = cairo_create(surface);
    cairo_surface_destroy(surface);
    return cr;
}

/* The sheet as it stands, to go on with where it is not seen. */
static brant_sheet begin_trial(const brant_sheet *s)
{
    brant_sheet trial = *s;
    trial.cr = nowhere();
    trial.trial = true;
    memset(&trial.scratch, 0, sizeof trial.scratch);
    return trial;
}

static void end_trial(brant_sheet *s, brant_sheet *trial)
{
    cairo_destroy(trial->cr);
    brant_text_clear(&trial->scratch);
    s->status = trial->status;
}

/* How high a part is, drawn on a page without an end. */
static double height_of(brant_sheet *s, void (*part)(brant_sheet *))
{
    brant_sheet trial = begin_trial(s);
    trial.bottom = INFINITY;
    part(&trial);
    end_trial(s, &trial);
    return trial.y - s->y;
}

/* The page on which what follows the front ends, with signs and kit in full or by their
 * titles. */
static int last_page(brant_sheet *s, bool compact)
{
    brant_sheet trial = begin_trial(s);
    trial.compact = compact;
    draw_back(&trial);
    end_trial(s, &trial);
    return trial.page;
}

static double first_height(brant_sheet *s, int most)
{
    brant_sheet trial = begin_trial(s);
    brant_sheet_first(&trial, most);
    end_trial(s, &trial);
    return trial.y - s->y;
}

/* How many of the worst legs the front names: as many as leave the map the scale that it has
 * with the fewest. */
static int choose_first(brant_sheet *s, double profile)
{
    double width = brant_sheet_inner(s), room = s->bottom - s->y - profile - MAP_GAP, scale = 0;
    int most = FEWEST_FIRST;
    for (int rows = FEWEST_FIRST; rows <= MOST_FIRST && s->status == BRANT_OK; rows++) {
        double found = brant_sheet_map_scale(s, width, fmax(room - first_height(s, rows),
                                                            MAP_LEAST / 2));
        if (rows > FEWEST_FIRST && found > scale)
            break;
        scale = found;
        most = rows;
    }
    return most;
}

/* ---- the order ---------------------------------------------------------- */

/* Everything on one page if it goes, the map as large as may be; if need be signs and kit by
 * their titles. Else the front holds head, the worst legs, map and profile, and the table
 * begins on the back. */
static void draw_tour(brant_sheet *s)
{
    brant_sheet_new_page(s);
    brant_sheet_head(s);
    double profile = height_of(s, brant_sheet_profile);
    double room = s->bottom - s->y - profile;
    s->compact = false;
    double rest = height_of(s, draw_rest);
    if (room - rest < MAP_LEAST) {
        s->compact = true;
        rest = height_of(s, draw_rest);
    }
    if (room - rest >= MAP_LEAST) {
        draw_map(s, room - rest);
        brant_sheet_profile(s);
        s->bottom = INFINITY; /* it was measured: no part asks for a page of its own */
        draw_rest(s);
        s->bottom = brant_sheet_bottom(s);
        draw_bearings(s);
        return;
    }
    brant_sheet_first(s, choose_first(s, profile));
    draw_map(s, fmax(s->bottom - s->y - profile, MAP_LEAST / 2));
    brant_sheet_profile(s);
    s->compact = last_page(s, true) < last_page(s, false);
    draw_back(s);
}

static void draw_tours(brant_sheet *s)
{
    s->page = 0;
    for (size_t i = 0; i < s->plan->tour_count && s->status == BRANT_OK; i++) {
        s->tour = &s->plan->tours[i];
        s->status = brant_check_stop(s->ctx);
        if (s->status == BRANT_OK)
            draw_tour(s);
    }
}

/* ---- surfaces ----------------------------------------------------------- */

/* What cairo writes is held, so that the stage checks every byte on its way to the disk. */
static cairo_status_t to_text(void *text, const unsigned char *data, unsigned length)
{
    brant_text_add_bytes(text, (const char *)data, length);
    return ((brant_text *)text)->failed ? CAIRO_STATUS_NO_MEMORY : CAIRO_STATUS_SUCCESS;
}

static void set_metadata(brant_sheet *s, cairo_surface_t *surface)
{
    char when[BRANT_FILE_TIME], date[] = "1970-01-01T00:00:00Z";
    brant_text creator = {0}, title = {0};
    brant_file_time(when);
    memcpy(date, when, strlen("1970-01-01T00:00:00"));
    brant_text_add(&creator, "brant %s", brant_version());
    brant_words_clean(&title, s->plan->tours[0].route, " ");
    if (!title.failed && title.data)
        cairo_pdf_surface_set_metadata(surface, CAIRO_PDF_METADATA_TITLE, title.data);
    if (!creator.failed)
        cairo_pdf_surface_set_metadata(surface, CAIRO_PDF_METADATA_CREATOR, creator.data);
    cairo_pdf_surface_set_metadata(surface, CAIRO_PDF_METADATA_CREATE_DATE, date);
    brant_sheet_drop(s, &creator);
    brant_sheet_drop(s, &title);
}

static cairo_surface_t *make_surface(brant_sheet *s, brant_text *out)
{
    double height = s->height * s->pages;
    cairo_surface_t *surface = NULL;
    switch (s->options->format) {
    case BRANT_SHEET_PDF:
        surface = cairo_pdf_surface_create_for_stream(to_text, out, s->width, s->height);
        set_metadata(s, surface);
        break;
    case BRANT_SHEET_SVG:
        surface = cairo_svg_surface_create_for_stream(to_text, out, s->width, height);
        cairo_svg_surface_set_document_unit(surface, CAIRO_SVG_UNIT_PT);
        break;
    case BRANT_SHEET_PNG:
        surface = cairo_image_surface_create(CAIRO_FORMAT_RGB24,
                                             (int)ceil(s->width * DPI / 72),
                                             (int)ceil(height * DPI / 72));
        cairo_surface_set_device_scale(surface, DPI / 72, DPI / 72);
        break;
    }
    return surface;
}

static void paint_white(const brant_sheet *s)
{
    if (s->options->format == BRANT_SHEET_PDF)
        return;
    cairo_set_source_rgb(s->cr, 1, 1, 1);
    cairo_paint(s->cr);
}

static brant_status check_surface(brant_sheet *s, cairo_status_t found)
{
    if (s->status != BRANT_OK || found == CAIRO_STATUS_SUCCESS)
        return s->status;
    return brant_fail(s->ctx, found == CAIRO_STATUS_NO_MEMORY ? BRANT_ERR_MEMORY : BRANT_ERR_IO,
                      "the sheet cannot be drawn: %s", cairo_status_to_string(found));
}

static brant_status draw_file(brant_sheet *s, brant_text *out)
{
    cairo_surface_t *surface = make_surface(s, out);
    cairo_status_t found;
    s->cr = cairo_create(surface);
    paint_white(s);
    draw_tours(s);
    found = cairo_status(s->cr);
    cairo_destroy(s->cr);
    s->cr = NULL;
    if (found == CAIRO_STATUS_SUCCESS && s->options->format == BRANT_SHEET_PNG)
        found = cairo_surface_write_to_png_stream(surface, to_text, out);
    cairo_surface_finish(surface);
    if (found == CAIRO_STATUS_SUCCESS)
        found = cairo_surface_status(surface);
    cairo_surface_destroy(surface);
    return check_surface(s, found);
}

/* ---- the whole ---------------------------------------------------------- */

/* Draw it once where it is not seen: how many pages are there? */
static brant_status count_pages(brant_sheet *s)
{
    s->cr = nowhere();
    s->trial = true;
    draw_tours(s);
    brant_status status = check_surface(s, cairo_status(s->cr));
    cairo_destroy(s->cr);
    s->pages = s->page;
    s->trial = false;
    if (status == BRANT_OK && s->options->format == BRANT_SHEET_PNG &&
        s->height * s->pages * DPI / 72 >= IMAGE_LINES)
        return brant_fail(s->ctx, BRANT_ERR_INPUT,
                          "%s: makes %d pages, too many for a PNG: ask for a PDF", s->plan->name,
                          s->pages);
    return status;
}

static void warn_glyphs(const brant_sheet *s)
{
    if (s->unknown_glyphs > 0)
        brant_warn(s->ctx, "sheet: no font has %zu of the characters in it: they are boxes",
                   s->unknown_glyphs);
}

brant_status brant_report_sheet(brant_context *ctx, const brant_sheet_input *input,
                                const brant_sheet_options *options, brant_text *out)
{
    brant_read_plan plan;
    brant_sheet s = {.ctx = ctx, .input = input, .options = options, .plan = &plan,
                     .width = options->letter ? LETTER_WIDTH : A4_WIDTH,
                     .height = options->letter ? LETTER_HEIGHT : A4_HEIGHT,
                     .stacked = options->format != BRANT_SHEET_PDF};
    brant_status status = brant_plan_read(ctx, input->plan_name, input->plan, input->plan_size,
                                          &plan);
    if (status != BRANT_OK)
        return status;
    status = brant_sheet_context(ctx, &s.pango);
    if (status == BRANT_OK)
        status = count_pages(&s);
    if (status == BRANT_OK)
        status = draw_file(&s, out);
    if (status == BRANT_OK)
        warn_glyphs(&s);
    if (s.pango)
        g_object_unref(s.pango);
    brant_text_clear(&s.scratch);
    brant_plan_read_clear(&plan);
    return status;
}
