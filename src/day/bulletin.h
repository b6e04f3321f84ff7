/* The bulletin's reader, shared by the files of this room only. */
#ifndef BRANT_DAY_BULLETIN_H
#define BRANT_DAY_BULLETIN_H

#include "brant/day.h"

#include <jansson.h>

/* Where a reader stands in a file, for messages: "bulletins[2].regions[0].name". */
typedef struct brant_json_place {
    brant_context *ctx;
    const char *name; /* the file */
    char path[256];   /* of names that the format knows, so it always fits */
    size_t length;
} brant_json_place;

/* Go down to a member, to an item; both return what brant_json_leave wants. */
size_t brant_json_enter(brant_json_place *place, const char *key);
size_t brant_json_enter_item(brant_json_place *place, size_t index);
void brant_json_leave(brant_json_place *place, size_t length);
/* "name: path: problem" */
brant_status brant_json_refuse(const brant_json_place *place, brant_status status,
                               const char *format, ...) BRANT_PRINTF(3, 4);

/* A file's own words inside a message: one line, not too long. */
typedef struct brant_quote {
    char text[64];
} brant_quote;
brant_quote brant_quote_of(const char *text);

/* Is `root` a bulletin file, by the schema and by what the schema means to say? */
brant_status brant_bulletin_check(brant_json_place *place, const json_t *root);

/* The format's enumerations, in the order of ours; NULL ends them. */
extern const char *const brant_words_rating[];  /* brant_level from 1 on */
extern const char *const brant_words_problem[]; /* brant_problem_kind */
extern const char *const brant_words_aspects[]; /* octants, then "n/a" */
extern const char *const brant_words_period[];  /* all_day, earlier, later */
extern const char *const brant_words_stability[];
extern const char *const brant_words_frequency[];
/* The index of `word`, -1. */
int brant_word_index(const char *const *words, const char *word);

/* An elevation bound: "treeline" (metres NaN), "0", whole hundreds up to 9900. */
bool brant_bound_parse(const char *text, double *metres);
/* True unless both are bounds and lower is not below upper. */
bool brant_bounds_in_order(double lower, double upper);

#endif
