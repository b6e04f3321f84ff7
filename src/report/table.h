/* The tables: legs, points, what is above each leg, zones. One list of columns
 * and one filler each; CSV, JSON and vector layers are written from them, so
 * that a name, an order and a rounding are stated once. */
#ifndef BRANT_REPORT_TABLE_H
#define BRANT_REPORT_TABLE_H

#include "words.h"

typedef struct brant_table {
    const brant_column *columns;
    const signed char *decimals; /* of numbers; values are rounded to them */
    int count;
} brant_table;

extern const brant_table brant_leg_table, brant_point_table, brant_above_table, brant_wait_table,
    brant_zone_table;

/* The file, then the columns of brant_leg_table. */
extern const brant_column brant_file_leg_columns[];

/* The most columns of a table. */
#define BRANT_TABLE_MAX 48

/* Holds a leg's texts; zero to start, may be used again. */
typedef struct brant_leg_texts {
    char below[BRANT_BELOW_MAX];
    char problems[256];
    char arrive[BRANT_TIME_MAX], arrive_late[BRANT_TIME_MAX];
    char leave[BRANT_TIME_MAX], leave_late[BRANT_TIME_MAX];
    char sun_from[BRANT_TIME_MAX];
    brant_text above; /* the owner clears it, and looks at its `failed` */
} brant_leg_texts;

/* Fill a row: table.count values. Texts point to constants, to `route`, to
 * `texts` and to `flags`. NaN and NULL: not applicable. */
void brant_leg_values(const brant_report *report, const brant_tour *tour, const char *route,
                      const brant_leg *leg, brant_leg_texts *texts, brant_value *values);
void brant_point_values(const brant_report *report, const char *route, const brant_tour *tour,
                        size_t point, brant_value *values);
void brant_above_values(const brant_report *report, const char *route, const brant_above *above,
                        char flags[BRANT_FLAGS_MAX], brant_value *values);

void brant_wait_values(const brant_report *report, const char *route, const brant_tour *tour,
                       size_t wait, char leave_by[BRANT_TIME_MAX], brant_value *values);

/* A leg's line: from its start over its samples to its end, which lie half-way
 * to the neighbouring legs' samples. Points on top of each other are one, but a
 * line has two. `line` has room for leg->samples + 2 points; returns how many. */
size_t brant_leg_line(const brant_tour *tour, const brant_leg *leg, double *line);

/* `value` to so many decimals. */
double brant_round(double value, int decimals);
/* One row as CSV, line end included. */
void brant_table_row(const brant_table *table, const brant_value *values, brant_text *out);
void brant_table_header(const brant_table *table, brant_text *out);

#endif
