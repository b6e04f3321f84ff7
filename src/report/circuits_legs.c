/* The legs of many circuits: one table, one layer. The columns are those of legs.csv, with
 * the file before them. */
#include "circuits.h"

#include <math.h>
#include <stdlib.h>
#include <string.h>

void brant_circuit_legs_header(brant_text *out)
{
    brant_text_add(out, "%s,", brant_file_leg_columns[0].name);
    brant_table_header(&brant_leg_table, out);
}

/* Told each leg of each tour of a report, with its values (the leg table's). */
typedef brant_status (*leg_fn)(void *self, const brant_tour *tour, const brant_leg *leg,
                               const brant_value *values);

static brant_status each_leg(const brant_report *report, leg_fn tell, void *self)
{
    brant_value values[BRANT_TABLE_MAX];
    brant_leg_texts texts = {0};
    brant_text name = {0};
    brant_status status = BRANT_OK;
    for (size_t t = 0; t < report->tour_count && status == BRANT_OK; t++) {
        const brant_tour *tour = &report->tours[t];
        name.length = 0;
        brant_text_add(&name, "%s", "");
        brant_words_route(report, t, &name);
        for (size_t i = 0; i < tour->leg_count && status == BRANT_OK; i++) {
            brant_leg_values(report, tour, name.data, &tour->legs[i], &texts, values);
            status = name.failed || texts.above.failed ? BRANT_ERR_MEMORY
                                                       : tell(self, tour, &tour->legs[i], values);
        }
    }
    brant_text_clear(&texts.above);
    brant_text_clear(&name);
    return status;
}

/* ---- CSV ---------------------------------------------------------------- */

typedef struct rows {
    const char *file;
    brant_text *out;
} rows;

static brant_status add_row(void *self, const brant_tour *tour, const brant_leg *leg,
                            const brant_value *values)
{
    rows *r = self;
    (void)tour;
    (void)leg;
    brant_text_csv(r->out, r->file);
    brant_text_add(r->out, ",");
    brant_table_row(&brant_leg_table, values, r->out);
    return BRANT_OK;
}

void brant_circuit_legs_rows(const brant_report *report, const char *file, brant_text *out)
{
    rows r = {file, out};
    if (each_leg(report, add_row, &r) != BRANT_OK)
        out->failed = true;
}

/* ---- the layer ---------------------------------------------------------- */

brant_status brant_circuit_layer(brant_context *ctx, brant_layers *layers)
{
    return brant_report_layer(ctx, layers, "legs", BRANT_SHAPE_LINE, brant_file_leg_columns,
                              1 + brant_leg_table.count);
}

typedef struct features {
    brant_context *ctx;
    const char *file;
    brant_layers *layers;
} features;

static brant_status add_feature(void *self, const brant_tour *tour, const brant_leg *leg,
                                const brant_value *values)
{
    features *f = self;
    brant_value all[1 + BRANT_TABLE_MAX];
    double *line = brant_alloc(f->ctx, leg->samples + 2, 2 * sizeof *line);
    if (!line)
        return BRANT_ERR_MEMORY;
    all[0] = (brant_value){f->file, NAN};
    memcpy(all + 1, values, (size_t)brant_leg_table.count * sizeof *values);
    brant_status status = brant_layers_feature(f->ctx, f->layers, line,
                                               brant_leg_line(tour, leg, line), all);
    free(line);
    return status;
}

brant_status brant_circuit_layer_legs(brant_context *ctx, const brant_report *report,
                                      const char *file, brant_layers *layers)
{
    features f = {ctx, file, layers};
    return each_leg(report, add_feature, &f);
}
