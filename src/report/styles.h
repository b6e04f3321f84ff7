/* How layers and rasters look in a desktop GIS: one description, from which both forms of a
 * style are written. Kinds and classes differ in pattern as well as in colour. */
#ifndef BRANT_REPORT_STYLES_H
#define BRANT_REPORT_STYLES_H

#include "palette.h"

/* Names of a mark in either form; `hollow`: white within. Sizes in points. */
typedef struct brant_mark_look {
    const char *qml, *sld;
    double size, turn_deg;
    bool hollow;
} brant_mark_look;

/* Hatching: `lines` directions, degrees, none to two; lines are `apart` points. The other form
 * knows no hatching and takes marks of `size` points instead, of which readers tile a cross and
 * an x alone. */
typedef struct brant_hatch_look {
    double angle[2];
    int lines;
    double apart;
    const char *mark;
    double size;
} brant_hatch_look;

/* Where a rule holds: the field is `word`; or low <= field < high; or, where both are NaN,
 * whatever no other rule takes. One of the looks is set. */
typedef struct brant_style_rule {
    const char *title;
    const char *word;
    double low, high; /* may be infinite */
    int above;        /* drawn over rules of a lower one */
    double rgb[3];
    const brant_line_look *line;
    const brant_mark_look *mark;
    const brant_hatch_look *hatch;
} brant_style_rule;

#define BRANT_STYLE_RULES 8

typedef struct brant_style {
    const char *name;
    const char *field; /* that rules ask for; NULL: there is one rule, for all */
    brant_style_rule rule[BRANT_STYLE_RULES];
    int rules;
    int scale;         /* shown where the map's scale is 1:scale or larger; 0: always */
    double opacity;
    const char *label; /* column that stands beside each feature; NULL: none */
    const char *label_before, *label_qml; /* a word before it; both as the first form has them */
    const brant_column *columns; /* of the layer; the first form shows their titles */
    int column_count;
} brant_style;

/* The style of the layer so called; false if it has none. */
bool brant_style_of(const char *layer, brant_style *style);

/* As a document for desktop GIS; as a Styled Layer Descriptor 1.1.0 (OGC 05-078r4, with the
 * Symbology Encoding 1.1.0 of OGC 05-077r4). */
void brant_style_qml(const brant_style *style, brant_text *out);
void brant_style_sld(const brant_style *style, brant_text *out);

/* White or black, whichever is seen better on the rule's colour. */
const double *brant_style_ink(const brant_style_rule *rule);

/* A column in words ("Steepest part, degrees"); NULL where there are none. */
const char *brant_column_title(const char *column);

#endif
