/* GPX 1.1 waypoints, for a watch or a handset. Element order is the schema's:
 * ele, name, desc, type. */
#include "table.h"

#include "day_words.h"

#include <ctype.h>
#include <math.h>
#include <stdio.h>
#include <string.h>

#define NAME_MAX_BYTES 15

/* Plain text as XML character data; FIRM blanks become blanks, other controls go. */
static void add_xml(brant_text *out, const char *text)
{
    brant_text clean = {0};
    brant_words_clean(&clean, text, "");
    out->failed |= clean.failed;
    for (const char *c = clean.failed ? "" : clean.data ? clean.data : ""; *c; c++) {
        switch (*c) {
        case '&': brant_text_add(out, "&amp;"); break;
        case '<': brant_text_add(out, "&lt;"); break;
        case '>': brant_text_add(out, "&gt;"); break;
        case '"': brant_text_add(out, "&quot;"); break;
        case '\'': brant_text_add(out, "&apos;"); break;
        default: brant_text_add_bytes(out, c, 1); break;
        }
    }
    brant_text_clear(&clean);
}

static void soften(brant_text *text)
{
    for (size_t i = 0; i < text->length; i++)
        if (text->data[i] == *FIRM || text->data[i] == '\n')
            text->data[i] = ' ';
}

/* Letters that tell tours apart: A, B, ... Z, AA, ...; none for a lone tour. */
static void tour_letters(const brant_report *report, size_t tour, char letters[8])
{
    char turned[8];
    int count = 0;
    if (report->tour_count > 1) {
        for (size_t rest = tour + 1; rest > 0 && count < 7; rest = (rest - 1) / 26)
            turned[count++] = (char)('A' + (rest - 1) % 26);
    }
    for (int i = 0; i < count; i++)
        letters[i] = turned[count - 1 - i];
    letters[count] = '\0';
}

/* "4 UNDER N face", "B12 CROSSES NE": tour and leg first, so that what a small
 * display cuts off is the aspect; too long a name goes without "face", or both. */
static void waypoint_name(const brant_report *report, size_t index, const brant_leg *leg,
                          char name[NAME_MAX_BYTES + 1])
{
    const brant_tour *tour = &report->tours[index];
    const char *octant = leg->kind == BRANT_KIND_UNKNOWN ? "" : brant_words_aspect(tour, leg);
    char letters[8], kind[16], whole[64];
    tour_letters(report, index, letters);
    snprintf(kind, sizeof kind, "%s",
             leg->kind == BRANT_KIND_OVER_BAND ? "over" : brant_kind_name(leg->kind));
    for (char *c = kind; *c; c++)
        *c = (char)toupper((unsigned char)*c);
    int length = snprintf(whole, sizeof whole, "%s%u %s", letters, leg->number, kind);
    int room = NAME_MAX_BYTES - length - 1 - (int)strlen(octant);
    if (*octant && room >= 0)
        snprintf(whole + length, sizeof whole - (size_t)length, " %s%s", octant,
                 room >= (int)strlen(" face") ? " face" : "");
    snprintf(name, NAME_MAX_BYTES + 1, "%.*s", NAME_MAX_BYTES, whole);
}

/* "6.10-6.55 km, you at 2,420-2,590 m: up to 38 deg NE, ..." */
static void waypoint_text(const brant_report *report, size_t index, const brant_leg *leg,
                          brant_text *text)
{
    const brant_tour *tour = &report->tours[index];
    if (report->tour_count > 1) {
        brant_words_route(report, index, text);
        brant_text_add(text, ", ");
    }
    brant_words_stretch(text, leg->from_m, leg->to_m);
    if (!isnan(leg->low_m) && !isnan(leg->high_m)) {
        brant_text_add(text, ", you at ");
        brant_words_heights(text, leg->low_m, leg->high_m);
    }
    brant_text_add(text, ": ");
    if (brant_words_has_hours(report) && !isnan(leg->arrive_s)) {
        brant_text_add(text, "planned-late ");
        brant_words_hours(report, leg, text);
        brant_text_add(text, "; ");
    }
    size_t hours = text->length;
    brant_words_day(report, tour, leg, text);
    if (text->length > hours)
        brant_text_add(text, "; ");
    if (leg->kind == BRANT_KIND_UNKNOWN)
        brant_words_reasons(brant_words_unknown(report, tour, leg), text);
    brant_words_detail(report, tour, leg, text);
}

static void add_degrees(brant_text *out, const char *name, double degrees)
{
    brant_text number = {0};
    brant_text_number(&number, degrees, 7);
    out->failed |= number.failed;
    /* the schema's longitudes end before 180 */
    bool is_lon = strcmp(name, "lon") == 0;
    const char *text = number.failed ? "" : number.data ? number.data : "0";
    if (is_lon && strcmp(text, "180.0000000") == 0)
        text = "-180.0000000";
    brant_text_add(out, " %s=\"%s\"", name, text);
    brant_text_clear(&number);
}

/* `elevation` may be NaN; `text` is taken over. */
static void add_place(double lat, double lon, float elevation, const char *name, brant_text *text,
                      const char *type, brant_text *out)
{
    brant_text_add(out, "  <wpt");
    add_degrees(out, "lat", lat);
    add_degrees(out, "lon", lon);
    brant_text_add(out, ">\n");
    if (!isnan(elevation)) {
        brant_text_add(out, "    <ele>");
        brant_text_number(out, brant_round(elevation, 1), 1);
        brant_text_add(out, "</ele>\n");
    }
    brant_text_add(out, "    <name>%s</name>\n    <desc>", name);
    soften(text);
    add_xml(out, text->data ? text->data : "");
    out->failed |= text->failed;
    brant_text_add(out, "</desc>\n    <type>%s</type>\n  </wpt>\n", type);
    brant_text_clear(text);
}

static void add_waypoint(const brant_report *report, size_t index, const brant_leg *leg,
                         brant_text *out)
{
    char name[NAME_MAX_BYTES + 1];
    brant_text text = {0};
    waypoint_name(report, index, leg, name);
    waypoint_text(report, index, leg, &text);
    add_place(leg->from_lat, leg->from_lon,
              report->tours[index].facts[leg->first_sample].elevation_m, name, &text,
              brant_kind_name(leg->kind), out);
}

/* "WAIT 3.80", of several tours "B WAIT 3.80". */
static void add_wait(const brant_report *report, size_t index, const brant_wait *wait,
                     brant_text *out)
{
    const brant_tour *tour = &report->tours[index];
    const brant_sample *sample = &tour->track.samples[wait->sample];
    char letters[8], name[NAME_MAX_BYTES + 1];
    brant_text km = {0}, text = {0};
    tour_letters(report, index, letters);
    brant_text_number(&km, wait->along_m / 1000.0, 2);
    snprintf(name, sizeof name, "%.3s%sWAIT %.7s", letters, *letters ? " " : "",
             km.failed ? "" : km.data);
    out->failed |= km.failed;
    brant_text_clear(&km);
    if (report->tour_count > 1) {
        brant_words_route(report, index, &text);
        brant_text_add(&text, ", ");
    }
    brant_text_add(&text, "outside reach at %.0f, no release ground found near", BRANT_WAIT_DEG);
    if (wait->exposed_m > 0) {
        brant_text_add(&text, "; next place to wait after ");
        brant_words_length(&text, wait->next_m);
        brant_text_add(&text, ", ");
        brant_words_length(&text, wait->exposed_m);
        brant_text_add(&text, " of it exposed");
    }
    size_t before = text.length;
    brant_text_add(&text, "; ");
    if (!brant_words_leave_by(report, tour, wait, &text) && !text.failed) {
        text.length = before; /* nothing came behind it */
        text.data[before] = '\0';
    }
    add_place(sample->lat, sample->lon, tour->facts[wait->sample].elevation_m, name, &text, "wait",
              out);
}

/* Readers show a file's description first, or not at all: the schema has no
 * place for it at the end. */
static void add_metadata(brant_text *out)
{
    brant_text caution = {0};
    brant_text_add(&caution, "%.*s", (int)strlen(brant_caution) - 1, brant_caution);
    soften(&caution);
    brant_text_add(out, "  <metadata>\n    <desc>");
    add_xml(out, caution.data ? caution.data : "");
    out->failed |= caution.failed;
    brant_text_add(out, "</desc>\n  </metadata>\n");
    brant_text_clear(&caution);
}

void brant_report_waypoints(const brant_report *report, brant_text *out)
{
    brant_text_add(out,
                   "<?xml version=\"1.0\" encoding=\"UTF-8\"?>\n"
                   "<gpx version=\"1.1\" creator=\"brant %s\"\n"
                   "     xmlns=\"http://www.topografix.com/GPX/1/1\"\n"
                   "     xmlns:xsi=\"http://www.w3.org/2001/XMLSchema-instance\"\n"
                   "     xsi:schemaLocation=\"http://www.topografix.com/GPX/1/1 "
                   "http://www.topografix.com/GPX/1/1/gpx.xsd\">\n",
                   brant_version());
    add_metadata(out);
    for (size_t t = 0; t < report->tour_count; t++) {
        const brant_tour *tour = &report->tours[t];
        for (size_t i = 0; i < tour->leg_count; i++)
            if (tour->legs[i].kind != BRANT_KIND_NONE_FOUND)
                add_waypoint(report, t, &tour->legs[i], out);
        for (size_t i = 0; i < tour->wait_count; i++)
            add_wait(report, t, &tour->waits[i], out);
    }
    brant_text_add(out, "</gpx>\n");
}
