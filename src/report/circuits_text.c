/* The table of circuits for a terminal: a row each, and below it what governs it. */
#include "circuits.h"

#include "day_words.h"
#include "fold.h"

#include <math.h>
#include <string.h>

#define COLUMNS 100
#define NAME_COLUMNS 22
#define INDENT 6 /* of what stands below a row */

static const char head[] =
    "    # circuit                   km  up m     h  over cross  edge under  unkn deg    ha lvl   sun\n";

/* ---- cells -------------------------------------------------------------- */

/* `name` cleaned, at most `columns` code points, padded. */
static void add_name(brant_text *out, const char *name, int columns)
{
    brant_text clean = {0};
    const char *next, *at;
    int used = 0;
    brant_text_add(&clean, "%s", "");
    brant_words_clean(&clean, name, " ");
    out->failed |= clean.failed;
    for (at = next = clean.data; !clean.failed && *next && used < columns; at = next) {
        bool last = used == columns - 1;
        brant_words_next(&next);
        if (last && *next)
            brant_text_add(out, "~"); /* it goes on */
        else
            brant_text_add_bytes(out, at, (size_t)(next - at));
        used++;
    }
    brant_text_add(out, "%*s", columns - used, "");
    brant_text_clear(&clean);
}

/* " 12.3"; what is there is never 0.0, and what is not known is "-". */
static void add_km(brant_text *out, double metres)
{
    brant_text cell = {0};
    if (isnan(metres))
        brant_text_add(&cell, "-");
    else if (metres > 0 && metres < 50)
        brant_text_add(&cell, "<0.1");
    else if (!(metres > 0))
        brant_text_add(&cell, "0");
    else
        brant_text_number(&cell, metres / 1000, 1);
    brant_text_add(out, " %5s", cell.data ? cell.data : "");
    out->failed |= cell.failed;
    brant_text_clear(&cell);
}

static void add_number(brant_text *out, int width, double value, int decimals)
{
    brant_text cell = {0};
    if (isnan(value))
        brant_text_add(&cell, "-");
    else
        brant_text_number(&cell, value, decimals);
    brant_text_add(out, " %*s", width, cell.data ? cell.data : "");
    out->failed |= cell.failed;
    brant_text_clear(&cell);
}

/* What is not stated and what is not rated are both "?". */
static const char *short_level(const brant_circuit *c)
{
    const char *level = c->value[CIRCUIT_level].text;
    return !level ? "-" : strlen(level) == 1 ? level : c->level_rank >= BRANT_RANK_FIRST ? "?" : "0";
}

/* "08:20" of "2027-02-13T08:20:00+01:00". */
static void add_sun(brant_text *out, const brant_circuit *c)
{
    const char *sun = c->value[CIRCUIT_sun_from].text, *clock = sun ? strchr(sun, 'T') : NULL;
    brant_text_add(out, " %5.5s", clock ? clock + 1 : "-");
}

static const char *title_of(const brant_circuit *c)
{
    const char *route = c->value[CIRCUIT_route].text, *file = c->value[CIRCUIT_file].text;
    const char *slash = file ? strrchr(file, '/') : NULL;
    return route ? route : slash ? slash + 1 : file ? file : "";
}

static void add_numbers(brant_text *out, const brant_circuit *c)
{
    const brant_value *v = c->value;
    add_km(out, v[CIRCUIT_length_m].number);
    add_number(out, 5, v[CIRCUIT_climb_m].number, 0);
    add_number(out, 5, v[CIRCUIT_hours].number, 1);
    add_km(out, v[CIRCUIT_over_limit_m].number);
    add_km(out, v[CIRCUIT_crosses_m].number + v[CIRCUIT_over_band_m].number);
    add_km(out, v[CIRCUIT_edge_m].number);
    add_km(out, v[CIRCUIT_under_m].number);
    add_km(out, v[CIRCUIT_unknown_m].number);
    add_number(out, 3, v[CIRCUIT_steepest_deg].number, 0);
    add_number(out, 5, v[CIRCUIT_largest_face_m2].number / 1e4, 0);
    brant_text_add(out, " %3s", short_level(c));
    add_sun(out, c);
}

/* ---- rows --------------------------------------------------------------- */

static void add_line(brant_text *out, brant_text *line)
{
    brant_text clean = {0};
    if (line->data)
        brant_words_clean(&clean, line->data, " ");
    out->failed |= line->failed || clean.failed;
    brant_fold(out, clean.data, COLUMNS, INDENT, false);
    brant_text_clear(&clean);
    brant_text_clear(line);
}

/* Below the numbers: what governs, and what is odd about the circuit. */
static void add_words(brant_text *out, const brant_circuit *c)
{
    const char *status = c->value[CIRCUIT_status].text, *same = c->value[CIRCUIT_same_as].text;
    const char *words = c->value[CIRCUIT_governing].text;
    bool odd = status && strcmp(status, "ok") != 0;
    brant_text line = {0};
    brant_text_add(&line, "%*s", INDENT, "");
    if (odd)
        brant_text_add(&line, "%s", status);
    if (same)
        brant_text_add(&line, "%ssame line as %s", odd ? "; " : "", same);
    if (odd || same)
        brant_text_add(&line, ". ");
    if (words)
        brant_text_add(&line, "leg %.0f %s", c->value[CIRCUIT_governing_leg].number, words);
    else
        brant_text_add(&line, "no release ground found on, beside or above it");
    add_line(out, &line);
}

static void add_failed(brant_text *out, const brant_circuit *c)
{
    const char *route = c->value[CIRCUIT_route].text;
    brant_text line = {0};
    brant_text_add(&line, "%*s%s%s%s: %s", INDENT, "", c->value[CIRCUIT_file].text,
                   route ? ", " : "", route ? route : "", c->value[CIRCUIT_status].text);
    add_line(out, &line);
}

static void add_row(brant_text *out, const brant_circuit *c, size_t number)
{
    brant_text_add(out, "%5zu ", number);
    add_name(out, title_of(c), NAME_COLUMNS);
    add_numbers(out, c);
    brant_text_add(out, "\n");
    add_words(out, c);
}

/* ---- the table ---------------------------------------------------------- */

static void add_title(brant_text *out, const brant_circuits *all)
{
    const brant_bulletin *bulletin = brant_words_bulletin(all->report);
    brant_text line = {0};
    brant_text_add(&line, "%zu circuit%s", all->count, all->count == 1 ? "" : "s");
    if (all->failed > 0)
        brant_text_add(&line, ", %zu with an error", all->failed);
    if (all->waiting > 0)
        brant_text_add(&line, ", PARTIAL: %zu not come to", all->waiting);
    brant_text_add(&line, ". Model %s", all->report->model);
    if (bulletin)
        brant_text_add(&line, ", bulletin %s", bulletin->name);
    else
        brant_text_add(&line, ", no bulletin");
    if (brant_words_has_hours(all->report)) {
        brant_text_add(&line, ", start ");
        brant_text_iso_time(&line, &all->report->day->start);
    }
    add_line(out, &line);
}

/* Which part of the ranked table a row belongs to. */
static int part_of(const brant_circuit *c)
{
    return c->failed ? 0 : c->unjudged ? 1 : 2;
}

static void add_part(brant_text *out, const brant_circuits *all, int part)
{
    static const char *const names[] = {
        "NOT SCREENED\n",
        "CANNOT BE JUDGED (level 5, not rated or not stated, or ground that is not known)\n",
        "JUDGED BY THE MODEL, what is over the limit first, then crossing, then under\n"};
    if (all->ranked)
        brant_text_add(out, "\n%s", names[part]);
    if (part > 0)
        brant_text_add(out, "%s", head);
}

void brant_report_circuits_text(const brant_circuits *all, brant_text *out)
{
    int part = -1;
    brant_text key = {0};
    add_title(out, all);
    for (size_t i = 0; i < all->count; i++) {
        const brant_circuit *c = &all->circuits[i];
        int now = part_of(c);
        if (all->ranked ? now != part : part < 0 && now > 0)
            add_part(out, all, now);
        part = all->ranked || now > 0 ? now : part;
        if (c->failed)
            add_failed(out, c);
        else
            add_row(out, c, i + 1);
    }
    brant_text_add(out, "\n");
    brant_text_add(&key, "km: whole, over the limit, crossing, at an edge, under, unknown. deg: "
                         "steepest. ha: largest face. lvl: highest met, ? not rated or not stated. "
                         "sun: first clear-sky sun above. -: not known or not asked.");
    add_line(out, &key);
    brant_text_add(out, "%s", brant_caution);
}
