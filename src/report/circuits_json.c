/* The table of circuits as JSON. */
#include "circuits.h"

#include <jansson.h>
#include <math.h>
#include <string.h>

#define DIGITS 12

/* Takes the reference of `value`; false: no memory. */
static bool put(json_t *object, const char *key, json_t *value)
{
    return value && json_object_set_new(object, key, value) == 0;
}

/* JSON must be UTF-8, and names of files need not be. */
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

static json_t *cell(const brant_circuit *circuit, int column)
{
    const brant_value *value = &circuit->value[column];
    if (brant_circuit_columns[column].type == BRANT_FIELD_TEXT)
        return string(value->text);
    if (isnan(value->number))
        return json_null();
    return brant_circuit_table.decimals[column] == 0 ? json_integer((json_int_t)value->number)
                                                     : json_real(value->number);
}

static json_t *row(const brant_circuit *circuit)
{
    json_t *object = json_object();
    bool done = object != NULL;
    for (int i = 0; i < CIRCUIT_COUNT && done; i++)
        done = put(object, brant_circuit_columns[i].name, cell(circuit, i));
    if (!done) {
        json_decref(object);
        return NULL;
    }
    return object;
}

static int to_text(const char *bytes, size_t count, void *text)
{
    brant_text_add_bytes(text, bytes, count);
    return ((brant_text *)text)->failed ? -1 : 0;
}

brant_status brant_report_circuits_json(brant_context *ctx, const brant_circuits *all,
                                        brant_text *out)
{
    json_t *root = json_object(), *rows = json_array();
    brant_text caution = {0};
    bool done = root && rows;
    brant_text_add(&caution, "%.*s", (int)strlen(brant_caution) - 1, brant_caution);
    done = done && !caution.failed && put(root, "brant", string(brant_version())) &&
           put(root, "model", string(all->report->model)) &&
           put(root, "failed", json_integer((json_int_t)all->failed)) &&
           put(root, "partial", json_boolean(all->waiting > 0));
    for (size_t i = 0; i < all->count && done; i++)
        done = json_array_append_new(rows, row(&all->circuits[i])) == 0; /* also false for NULL */
    done = done && put(root, "circuits", json_incref(rows)) &&
           put(root, "caution", string(caution.data)) &&
           json_dump_callback(root, to_text, out,
                              JSON_INDENT(1) | JSON_REAL_PRECISION(DIGITS)) == 0;
    brant_text_add(out, "\n");
    json_decref(rows);
    json_decref(root);
    brant_text_clear(&caution);
    return done && !out->failed
               ? BRANT_OK
               : brant_fail(ctx, BRANT_ERR_MEMORY, "not enough memory for the circuits as JSON");
}
