/* What the option table is made of. Private to the tools. */
#ifndef BRANT_TOOLS_OPTION_TABLE_H
#define BRANT_TOOLS_OPTION_TABLE_H

#include "options.h"

typedef enum option_kind {
    FLAG,    /* bool */
    INPUT,   /* const char *: a file */
    OUTPUT,  /* const char *: a file or a folder that is written */
    RASTER,  /* the same, a GeoTIFF */
    TEXT,    /* const char *: read later, by tool_parse_day */
    ABOVE,   /* an OUTPUT, or, if it is a number, values.level_above_m; so may be given twice */
    CHOICE,  /* const char *: one of the words of `argument` */
    NUMBER,  /* double within [low, high] */
    INTEGER, /* int within [low, high] */
    LIMITS,  /* brant_band: LOW:HIGH */
    CELL,    /* double: metres, or "native" */
    NODATA   /* values.nodata: a number, may be repeated */
} option_kind;

typedef struct option_row {
    const char *name;     /* as typed: "-o", "--aspect" */
    const char *argument; /* as --help and the man pages write it; NULL: none */
    unsigned programs;    /* FOR(...) of those that take it */
    unsigned required;    /* FOR(...) of those that cannot do without */
    option_kind kind;
    size_t where;         /* offset in tool_values */
    double low, high;
    const char *help;
} option_row;

typedef struct operand {
    const char *name, *help;
} operand;

typedef struct description {
    const char *name, *purpose, *synopsis;
    operand operands[TOOL_OPERANDS]; /* all of them required; brant's are its own affair */
} description;

/* A row each option; some stand there several times, for programs that mean other things by it. */
#define TOOL_ROWS_MAX 64 /* tool_values.given has a bit a row */
extern const option_row tool_rows[];
extern const size_t tool_row_count;
extern const description tool_programs[TOOLS];

/* Does the program take the row's option? */
bool tool_row_is_of(const option_row *row, tool_program program);

#endif
