/* The page that brant-check prints: what a model is, line by line, and what it is fit
 * for. */
#include "fold.h"
#include "words.h"

#include <math.h>
#include <string.h>

#define WIDTH 79
#define INDENT 15

/* The page as it grows: `line` is what stands beside the label. */
typedef struct page {
    const brant_check *check;
    brant_text *out, line;
} page;

/* Print `label` and the line beside it; an empty line is left out. */
static void flush(page *p, const char *label)
{
    brant_text all = {0};
    if (p->line.length > 0) {
        brant_text_add(&all, "%s", label);
        for (size_t i = all.length; i < INDENT; i++)
            brant_text_add(&all, FIRM);
        brant_words_clean(&all, p->line.data, " ");
        p->out->failed |= all.failed;
        brant_fold(p->out, all.data, WIDTH, INDENT, false);
    }
    p->out->failed |= p->line.failed; /* empty, it may have been meant to be more */
    brant_text_clear(&all);
    brant_text_clear(&p->line);
}

const char *brant_fitness_name(brant_fitness fitness)
{
    return fitness == BRANT_UNFIT ? "unfit" : fitness == BRANT_FIT_WITH_CARE ? "fit with care"
                                                                             : "fit";
}

/* ---- the file ----------------------------------------------------------- */

static void add_file(page *p)
{
    const brant_check *c = p->check;
    const brant_dem_facts *f = &c->facts;
    brant_text_add(&p->line, "%s", c->model);
    flush(p, "MODEL");
    brant_text_add(&p->line, "%s, %s, ", c->dem->driver, f->type);
    if (c->dem->tiles > 1) {
        brant_text_thousands(&p->line, (double)c->dem->tiles);
        brant_text_add(&p->line, " tiles, together ");
    }
    brant_text_thousands(&p->line, f->cols);
    brant_text_add(&p->line, " x ");
    brant_text_thousands(&p->line, f->rows);
    brant_text_add(&p->line, " cells");
    if (f->bands > 1)
        brant_text_add(&p->line, ", band %d of %d", c->dem->band, f->bands);
    flush(p, "File");
}

static void add_reference(page *p)
{
    const brant_check *c = p->check;
    const brant_dem_facts *f = &c->facts;
    brant_text_add(&p->line, "%s", f->crs ? f->crs : "unnamed");
    if (!f->crs_code && f->datum)
        brant_text_add(&p->line, " on %s", f->datum);
    if (f->crs_code)
        brant_text_add(&p->line, " (EPSG:%d)", f->crs_code);
    brant_text_add(&p->line, ", ellipsoid %s", f->ellipsoid ? f->ellipsoid : "unnamed");
    flush(p, "Reference");
    if (!c->placed)
        brant_text_add(&p->line, "not possible: %s", c->datum_operation);
    else if (c->datum_accuracy_m == 0)
        brant_text_add(&p->line, "without a change of datum");
    else {
        if (c->datum_accuracy_m > 0)
            brant_text_add(&p->line, "to %.3g m, ", c->datum_accuracy_m);
        else
            brant_text_add(&p->line, "accuracy not stated, ");
        brant_text_add(&p->line, "%s", c->datum_operation);
    }
    flush(p, "Placing GPS");
}

/* ---- cells -------------------------------------------------------------- */

/* A country is no matter of hectares. */
static void add_area(brant_text *line, double m2)
{
    if (m2 < 1e6) {
        brant_words_area(line, m2);
        return;
    }
    if (m2 < 1e8)
        brant_text_number(line, m2 / 1e6, 1);
    else
        brant_text_thousands(line, m2 / 1e6);
    brant_text_add(line, " km2");
}

static void add_cell(page *p, const char *label, int place)
{
    const double *m = p->check->cell_m[place];
    if (isnan(m[0]))
        brant_text_add(&p->line, "%s not known   ", label);
    else
        brant_text_add(&p->line, "%s %.2f x %.2f   ", label, m[0], m[1]);
}

/* Where grid north points, from one angle to the other. */
static void add_convergence(brant_text *line, double low, double high)
{
    if (!isfinite(low) || !isfinite(high))
        return;
    if (fmax(fabs(low), fabs(high)) < 0.005)
        brant_text_add(line, "true north");
    else if (low < 0 && high > 0)
        brant_text_add(line, "%.2f degrees west to %.2f east of true north", -low, high);
    else if (low >= 0)
        brant_text_add(line, "%.2f to %.2f degrees east of true north", low, high);
    else
        brant_text_add(line, "%.2f to %.2f degrees west of true north", -high, -low);
}

static void add_cells(page *p)
{
    const brant_check *c = p->check;
    const double *middle = c->cell_m[BRANT_AT_MIDDLE];
    brant_text_add(&p->line, "%.2f x %.2f m in the middle", middle[0], middle[1]);
    if (c->dem->factor > 1)
        brant_text_add(&p->line, ": %d x %d of the file's, averaged (--scale)", c->dem->factor,
                       c->dem->factor);
    flush(p, "Cell");
    add_cell(p, "NW", BRANT_AT_NW);
    add_cell(p, "NE", BRANT_AT_NE);
    flush(p, "");
    add_cell(p, "SW", BRANT_AT_SW);
    add_cell(p, "SE", BRANT_AT_SE);
    flush(p, "");
    brant_text_add(&p->line, c->facts.placement == 2   ? "points, at the cells' middles"
                             : c->facts.placement == 1 ? "areas, of the cells"
                                                       : "the file does not say; areas are taken");
    flush(p, "Values of");
    add_convergence(&p->line, c->convergence_deg[0], c->convergence_deg[1]);
    flush(p, "Map's north");
    add_area(&p->line, c->area_m2);
    if (c->known_m2 < 0.9995 * c->area_m2) {
        brant_text_add(&p->line, ", elevation known on ");
        add_area(&p->line, c->known_m2);
    }
    flush(p, "Area");
}

/* ---- heights ------------------------------------------------------------ */

static void add_unit(brant_text *line, double metres)
{
    static const struct {
        double metres;
        const char *name;
    } units[] = {{1, "metres"}, {0.3048, "feet"}, {1200.0 / 3937.0, "US survey feet"},
                 {0.1, "decimetres"}, {0.01, "centimetres"}};
    for (size_t i = 0; i < sizeof units / sizeof *units; i++)
        if (fabs(fabs(metres) - units[i].metres) < 1e-9) {
            brant_text_add(line, "%s", units[i].name);
            return;
        }
    brant_text_add(line, "units of %.7g m", metres);
}

static void add_heights(page *p)
{
    const brant_check *c = p->check;
    const char *from = c->dem->unit_from;
    brant_words_heights(&p->line, c->low_m, c->high_m);
    brant_text_add(&p->line, ", stored in ");
    add_unit(&p->line, c->dem->to_metres);
    if (strcmp(from, "assumed") == 0)
        brant_text_add(&p->line, " (assumed: the file does not say)");
    else
        brant_text_add(&p->line, " (from the %s)", from);
    if (c->facts.vertical_crs)
        brant_text_add(&p->line, ", %s", c->facts.vertical_crs);
    flush(p, "Heights");
    if (!isnan(c->step_deg)) {
        brant_text_add(&p->line, "whole ");
        add_unit(&p->line, c->dem->to_metres);
        brant_text_add(&p->line, "%s: one step of %.3g m makes a slope of %.1f degrees",
                       c->dem->factor > 1 ? ", averaged" : "", c->step_m, c->step_deg);
    }
    flush(p, "Terraces");
}

static void add_values(brant_text *line, const double *values, size_t count)
{
    for (size_t i = 0; i < count && i < 4; i++)
        brant_text_add(line, "%s%.9g", line->length > 0 ? ", " : "", values[i]);
}

static void add_voids(page *p)
{
    const brant_check *c = p->check;
    brant_text values = {0};
    if (c->voids == 0)
        brant_text_add(&p->line, "none");
    else {
        brant_text_thousands(&p->line, (double)c->voids);
        brant_text_add(&p->line, " of ");
        brant_text_thousands(&p->line, (double)c->cells);
        brant_text_add(&p->line, " cells (%.2g %%)", 100.0 * (double)c->voids / (double)c->cells);
    }
    if (c->facts.has_nodata)
        brant_text_add(&p->line, "; nodata %.9g", c->facts.nodata);
    if (c->facts.masked)
        brant_text_add(&p->line, "; a mask");
    flush(p, "Voids");
    if (c->undeclared > 0) {
        add_values(&values, c->facts.implausible, c->facts.implausible_count);
        add_values(&values, c->dem->undeclared, c->dem->undeclared_count);
        brant_text_thousands(&p->line, (double)c->undeclared);
        brant_text_add(&p->line, " of the file's cells are void and nobody says so");
        if (values.length > 0)
            brant_text_add(&p->line, " (%s)", values.data);
    }
    p->line.failed |= values.failed;
    brant_text_clear(&values);
    flush(p, "  undeclared");
    if (c->holes > 0) {
        brant_text_thousands(&p->line, (double)c->holes);
        brant_text_add(&p->line, " inside, the largest of ");
        brant_text_thousands(&p->line, (double)c->largest_hole);
        brant_text_add(&p->line, c->largest_hole == 1 ? " cell (" : " cells (");
        add_area(&p->line, (double)c->largest_hole * c->area_m2 / (double)c->cells);
        brant_text_add(&p->line, ")");
    }
    flush(p, "  holes");
}

/* ---- steepness ---------------------------------------------------------- */

/* Two lines: classes, and their shares below. */
static void add_steepness(page *p)
{
    static const char *const names[BRANT_CLASSES] = {"",      "<25",   "25-30", "30-35",
                                                     "35-40", "40-45", "45-55", ">55"};
    const brant_check *c = p->check;
    double all = 0;
    for (int i = BRANT_CLASS_BELOW_25; i < BRANT_CLASSES; i++)
        all += c->class_m2[i];
    for (int i = BRANT_CLASS_BELOW_25; i < BRANT_CLASSES && all > 0; i++)
        brant_text_add(&p->line, "%s%7s", i == BRANT_CLASS_BELOW_25 ? "degrees" : "", names[i]);
    flush(p, "Steepness");
    for (int i = BRANT_CLASS_BELOW_25; i < BRANT_CLASSES && all > 0; i++)
        brant_text_add(&p->line, "%s%7.1f", i == BRANT_CLASS_BELOW_25 ? "percent" : "",
                       100.0 * c->class_m2[i] / all);
    flush(p, "");
    if (isnan(c->vertical_error_m))
        brant_text_add(&p->line, "not known: --vertical-error says how good the heights are");
    else
        brant_text_add(&p->line, "%.1f degrees at 35, for heights good to %.3g m", c->error_deg,
                       c->vertical_error_m);
    flush(p, "Slope error");
    if (c->steep > 0 && fmax(c->cell_m[BRANT_AT_MIDDLE][0], c->cell_m[BRANT_AT_MIDDLE][1]) <= 12) {
        brant_text_number(&p->line, 100.0 * (double)c->lone_steep / (double)c->steep, 1);
        brant_text_add(&p->line,
                       " %% of the ground from 30 degrees on, in patches of up to 12 cells");
    }
    flush(p, "Lone steep");
}

/* ---- keys, and the end -------------------------------------------------- */

static void add_keys(page *p)
{
    const brant_geokeys *keys = &p->check->facts.keys;
    for (size_t i = 0; i < keys->line_count; i++) {
        brant_text_add(&p->line, "%s", keys->lines[i]);
        flush(p, i == 0 ? "GeoKeys" : "");
    }
    for (int i = 0; i < p->check->differences; i++) {
        brant_text_add(&p->line, "%s", p->check->difference[i]);
        flush(p, "  differ");
    }
}

static void add_fitness(page *p)
{
    const brant_check *c = p->check;
    brant_text_add(p->out, "\n");
    brant_text_add(&p->line, "%s", c->fitness == BRANT_UNFIT           ? "UNFIT"
                                   : c->fitness == BRANT_FIT_WITH_CARE ? "FIT WITH CARE"
                                                                       : "FIT");
    if (c->reasons == 0)
        brant_text_add(&p->line, ": no reason against it was found");
    p->out->failed |= p->line.failed;
    brant_fold(p->out, p->line.data, WIDTH, INDENT, false);
    brant_text_clear(&p->line);
    for (int i = 0; i < c->reasons; i++) {
        brant_text_add(&p->line, "%s", c->reason[i].text);
        flush(p, c->reason[i].level == BRANT_UNFIT ? "  unfit" : "  care");
    }
    brant_text_add(p->out, "\n%s", brant_caution);
}

void brant_report_check(const brant_check *check, brant_text *out)
{
    page p = {check, out, {0}};
    add_file(&p);
    add_reference(&p);
    add_cells(&p);
    add_heights(&p);
    add_voids(&p);
    add_steepness(&p);
    add_keys(&p);
    add_fitness(&p);
}
