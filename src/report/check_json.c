/* The page of brant-check as JSON. Keys stand in a fixed order, numbers are rounded, what
 * is not known is null. */
#include "table.h"
#include "words.h"

#include <jansson.h>
#include <math.h>
#include <stdlib.h>
#include <string.h>

static json_t *number(double value, int decimals)
{
    if (!isfinite(value))
        return json_null();
    value = brant_round(value, decimals);
    return decimals == 0 ? json_integer((json_int_t)value) : json_real(value);
}

static json_t *string(const char *text)
{
    brant_text clean = {0};
    if (!text)
        return json_null();
    brant_text_add(&clean, "%s", "");
    brant_words_clean(&clean, text, " ");
    json_t *value = clean.failed ? NULL : json_stringn(clean.data, clean.length);
    brant_text_clear(&clean);
    return value;
}

static json_t *code(int value)
{
    return value ? json_integer(value) : json_null();
}

/* ---- parts -------------------------------------------------------------- */

static json_t *file_json(const brant_check *c)
{
    const brant_dem_facts *f = &c->facts;
    return json_pack("{so so sI so si si si si so}", "name", string(c->model), "driver",
                     string(c->dem->driver), "tiles", (json_int_t)c->dem->tiles, "type",
                     string(f->type), "columns", f->cols, "rows", f->rows, "band", c->dem->band,
                     "bands", f->bands, "values_of",
                     string(f->placement == 2 ? "points" : f->placement == 1 ? "areas" : NULL));
}

static json_t *reference_json(const brant_check *c)
{
    const brant_dem_facts *f = &c->facts;
    bool stated = c->placed && c->datum_accuracy_m >= 0;
    return json_pack(
        "{so so so so so so so so sb so so}", "name", string(f->crs), "epsg", code(f->crs_code),
        "datum", string(f->datum), "ellipsoid", string(f->ellipsoid), "semi_major_m",
        number(f->semi_major_m, 3), "inverse_flattening", number(f->inverse_flattening, 6),
        "axis_unit_m", number(f->linear_unit_m, 7), "vertical", string(f->vertical_crs), "placed", c->placed,
        "datum_accuracy_m", stated ? number(c->datum_accuracy_m, 3) : json_null(),
        "datum_operation", string(c->datum_operation));
}

static json_t *pair(const double values[2], int decimals)
{
    return json_pack("[oo]", number(values[0], decimals), number(values[1], decimals));
}

static json_t *cells_json(const brant_check *c)
{
    return json_pack("{si sI so so so so so so so so}", "averaged", c->dem->factor, "count",
                     (json_int_t)c->cells, "middle_m", pair(c->cell_m[BRANT_AT_MIDDLE], 3),
                     "northwest_m", pair(c->cell_m[BRANT_AT_NW], 3), "northeast_m",
                     pair(c->cell_m[BRANT_AT_NE], 3), "southwest_m",
                     pair(c->cell_m[BRANT_AT_SW], 3), "southeast_m",
                     pair(c->cell_m[BRANT_AT_SE], 3), "convergence_deg",
                     pair(c->convergence_deg, 4), "area_m2", number(c->area_m2, 0), "known_m2",
                     number(c->known_m2, 0));
}

static json_t *heights_json(const brant_check *c)
{
    return json_pack("{so so so so so so so so so so}", "low_m", number(c->low_m, 1), "high_m",
                     number(c->high_m, 1), "stored_unit_m", number(c->dem->to_metres, 7),
                     "unit_from", string(c->dem->unit_from), "unit_doubted",
                     json_boolean(c->dem->unit_doubted), "whole_share", number(c->whole_share, 4),
                     "step_m", number(c->step_m, 4), "step_deg", number(c->step_deg, 2),
                     "vertical_error_m", number(c->vertical_error_m, 3), "error_at_35_deg",
                     number(c->error_deg, 2));
}

static json_t *values_json(const brant_check *c)
{
    json_t *values = json_array();
    for (size_t i = 0; i < c->facts.implausible_count; i++)
        json_array_append_new(values, number(c->facts.implausible[i], 6));
    for (size_t i = 0; i < c->dem->undeclared_count; i++)
        json_array_append_new(values, number(c->dem->undeclared[i], 6));
    return values;
}

static json_t *voids_json(const brant_check *c)
{
    return json_pack("{sI so sI so so sb sI sI}", "cells", (json_int_t)c->voids, "share",
                     number((double)c->voids / (double)c->cells, 6), "undeclared_file_cells",
                     (json_int_t)c->undeclared, "undeclared_values", values_json(c), "nodata",
                     c->facts.has_nodata ? number(c->facts.nodata, 6) : json_null(), "mask",
                     c->facts.masked, "holes_inside", (json_int_t)c->holes, "largest_hole_cells",
                     (json_int_t)c->largest_hole);
}

static json_t *steepness_json(const brant_check *c)
{
    json_t *shares = json_object();
    double all = 0;
    for (int i = BRANT_CLASS_BELOW_25; i < BRANT_CLASSES; i++)
        all += c->class_m2[i];
    for (int i = BRANT_CLASS_BELOW_25; i < BRANT_CLASSES; i++)
        json_object_set_new(shares, brant_class_name((brant_class)i),
                            number(c->class_m2[i] / all, 5));
    return json_pack("{so sI sI sI}", "shares", shares, "cells_with_slope",
                     (json_int_t)c->slopes, "cells_from_30_deg", (json_int_t)c->steep,
                     "of_these_in_patches_to_12", (json_int_t)c->lone_steep);
}

static json_t *keys_json(const brant_check *c)
{
    json_t *lines = json_array(), *differences = json_array();
    for (size_t i = 0; i < c->facts.keys.line_count; i++)
        json_array_append_new(lines, string(c->facts.keys.lines[i]));
    for (int i = 0; i < c->differences; i++)
        json_array_append_new(differences, string(c->difference[i]));
    return json_pack("{so so}", "raw", lines, "differences", differences);
}

static json_t *fitness_json(const brant_check *c)
{
    json_t *reasons = json_array();
    for (int i = 0; i < c->reasons; i++)
        json_array_append_new(
            reasons, json_pack("{so so}", "level", string(brant_fitness_name(c->reason[i].level)),
                               "text", string(c->reason[i].text)));
    return json_pack("{so so}", "level", string(brant_fitness_name(c->fitness)), "reasons",
                     reasons);
}

static json_t *caution_json(void)
{
    brant_text line = {0};
    brant_text_add(&line, "%.*s", (int)strlen(brant_caution) - 1, brant_caution);
    json_t *value = line.failed ? NULL : string(line.data); /* line ends become blanks */
    brant_text_clear(&line);
    return value;
}

/* ---- the page ----------------------------------------------------------- */

brant_status brant_report_check_json(brant_context *ctx, const brant_check *check,
                                     brant_text *out)
{
    json_t *all = json_pack("{so so so so so so so so so}", "file", file_json(check),
                            "reference", reference_json(check), "cells", cells_json(check),
                            "heights", heights_json(check), "voids", voids_json(check),
                            "steepness", steepness_json(check), "geokeys", keys_json(check),
                            "fitness", fitness_json(check), "caution", caution_json());
    char *text = all ? json_dumps(all, JSON_INDENT(1) | JSON_REAL_PRECISION(12)) : NULL;
    json_decref(all);
    if (!text)
        return brant_fail(ctx, BRANT_ERR_MEMORY, "not enough memory for the page as JSON");
    brant_text_add(out, "%s\n", text);
    free(text);
    return brant_text_status(ctx, out);
}
