/* Is this JSON a CAAML v6 bulletin file? The tables say what the schema of the
 * profile BulletinEAWS (August 2023) says; the functions beside them what its
 * prose means and its patterns let pass. */
#include "bulletin.h"

#include <stdio.h>
#include <string.h>

/* ---- words -------------------------------------------------------------- */

const char *const brant_words_rating[] = {"low",       "moderate", "considerable", "high",
                                          "very_high", "no_snow",  "no_rating",    NULL};
const char *const brant_words_problem[] = {
    "new_snow",     "wind_slab", "persistent_weak_layers",       "wet_snow",
    "gliding_snow", "cornices",  "no_distinct_avalanche_problem", "favourable_situation",
    NULL};
const char *const brant_words_aspects[] = {"N",  "NE", "E",  "SE",  "S",
                                           "SW", "W",  "NW", "n/a", NULL};
const char *const brant_words_period[] = {"all_day", "earlier", "later", NULL};
const char *const brant_words_stability[] = {"good", "fair", "poor", "very_poor", NULL};
const char *const brant_words_frequency[] = {"none", "few", "some", "many", NULL};
static const char *const tendencies[] = {"decreasing", "steady", "increasing", NULL};

/* What earlier drafts called things. */
static const struct {
    const char *old, *now;
} outdated[] = {
    {"wind_drifted_snow", "wind_slab"},
    {"cornice_failure", "cornices"},
    {"wxSynopsis", "weatherForecast"},
    {"wrSynopsis", "weatherReview"},
};

static const char *name_now(const char *name)
{
    for (size_t i = 0; i < sizeof outdated / sizeof outdated[0]; i++)
        if (strcmp(outdated[i].old, name) == 0)
            return outdated[i].now;
    return NULL;
}

int brant_word_index(const char *const *words, const char *word)
{
    for (int i = 0; words[i]; i++)
        if (strcmp(words[i], word) == 0)
            return i;
    return -1;
}

/* ---- place and message -------------------------------------------------- */

static size_t extend(brant_json_place *place, int written)
{
    size_t before = place->length, room = sizeof place->path - before;
    place->length += (size_t)written < room ? (size_t)written : room - 1;
    return before;
}

size_t brant_json_enter(brant_json_place *place, const char *key)
{
    return extend(place, snprintf(place->path + place->length, sizeof place->path - place->length,
                                  "%s%s", place->length ? "." : "", key));
}

size_t brant_json_enter_item(brant_json_place *place, size_t index)
{
    return extend(place, snprintf(place->path + place->length, sizeof place->path - place->length,
                                  "[%zu]", index));
}

void brant_json_leave(brant_json_place *place, size_t length)
{
    place->length = length;
    place->path[length] = '\0';
}

brant_quote brant_quote_of(const char *text)
{
    brant_quote quote;
    size_t length = strlen(text), most = 48;
    if (length > most) { /* cut before a character, not inside it */
        length = most;
        while (length > 0 && ((unsigned char)text[length] & 0xc0) == 0x80)
            length--;
    }
    memcpy(quote.text, text, length);
    strcpy(quote.text + length, text[length] ? "..." : "");
    for (char *c = quote.text; *c; c++)
        if ((unsigned char)*c < 0x20 || *c == 0x7f)
            *c = '?';
    return quote;
}

brant_status brant_json_refuse(const brant_json_place *place, brant_status status,
                               const char *format, ...)
{
    char problem[BRANT_MESSAGE_MAX];
    va_list args;
    va_start(args, format);
    vsnprintf(problem, sizeof problem, format, args);
    va_end(args);
    return brant_fail(place->ctx, status, "%s: %s%s%s", place->name, place->path,
                      place->length ? ": " : "", problem);
}

#define REFUSE(place, ...) brant_json_refuse(place, BRANT_ERR_INPUT, __VA_ARGS__)

/* ---- the tables --------------------------------------------------------- */

typedef enum kind {
    ANY, TEXT, LANGUAGE, TIME, FLAG, SIZE, WORD, BOUND, OBJECT, OBJECTS, WORDS
} kind;

typedef struct form form;

typedef struct member {
    const char *name; /* NULL ends a table */
    kind kind;
    bool required;
    const form *shape;       /* of OBJECT, and of each item of OBJECTS */
    const char *const *words; /* of WORD, and of each item of WORDS */
} member;

struct form {
    const member *fields;
    bool open; /* other members are allowed */
    brant_status (*also)(const brant_json_place *place, const json_t *object);
};

static brant_status one_source(const brant_json_place *place, const json_t *source)
{
    if (json_object_size(source) != 1)
        return REFUSE(place, "is not either a provider or a person");
    return BRANT_OK;
}

static const char *member_text(const json_t *object, const char *key)
{
    return json_string_value(json_object_get(object, key));
}

static brant_status times_in_order(const brant_json_place *place, const json_t *valid)
{
    const char *start = member_text(valid, "startTime"), *end = member_text(valid, "endTime");
    brant_time from, to;
    if (start && end && brant_time_parse(start, &from) && brant_time_parse(end, &to) &&
        to.utc_s <= from.utc_s)
        return REFUSE(place, "ends (%s) no later than it starts (%s)", end, start);
    return BRANT_OK;
}

static brant_status bounds_in_order(const brant_json_place *place, const json_t *elevation)
{
    const char *lower = member_text(elevation, "lowerBound");
    const char *upper = member_text(elevation, "upperBound");
    double from, to;
    if (lower && upper && brant_bound_parse(lower, &from) && brant_bound_parse(upper, &to) &&
        (strcmp(lower, upper) == 0 || !brant_bounds_in_order(from, to)))
        return REFUSE(place, "lowerBound \"%s\" is not below upperBound \"%s\"", lower, upper);
    return BRANT_OK;
}

#define END {.name = NULL}
#define CUSTOM {"customData", ANY, false, NULL, NULL}
#define EXTRAS {"metaData", OBJECT, false, &meta_data, NULL}, CUSTOM

static const form ext_file = {.fields = (const member[]){
    {"fileType", TEXT, false, NULL, NULL}, {"description", TEXT, false, NULL, NULL},
    {"fileReferenceURI", TEXT, false, NULL, NULL}, END}};
static const form meta_data = {.fields = (const member[]){
    {"extFiles", OBJECTS, false, &ext_file, NULL}, {"comment", TEXT, false, NULL, NULL}, END}};
static const form valid_time = {.also = times_in_order, .fields = (const member[]){
    {"startTime", TIME, false, NULL, NULL}, {"endTime", TIME, false, NULL, NULL}, END}};
static const form texts = {.fields = (const member[]){
    {"highlights", TEXT, false, NULL, NULL}, {"comment", TEXT, false, NULL, NULL}, END}};
/* texts or a tendency: the schema leaves a tendency open, so texts are one, too */
static const form tendency = {.open = true, .fields = (const member[]){
    {"tendencyType", WORD, false, NULL, tendencies},
    {"validTime", OBJECT, false, &valid_time, NULL}, EXTRAS, END}};
static const form person = {.fields = (const member[]){
    {"name", TEXT, false, NULL, NULL}, {"website", TEXT, false, NULL, NULL}, EXTRAS, END}};
static const form provider = {.fields = (const member[]){
    {"name", TEXT, false, NULL, NULL}, {"website", TEXT, false, NULL, NULL},
    {"contactPerson", OBJECT, false, &person, NULL}, EXTRAS, END}};
static const form source = {.also = one_source, .fields = (const member[]){
    {"provider", OBJECT, false, &provider, NULL}, {"person", OBJECT, false, &person, NULL}, END}};
static const form region = {.fields = (const member[]){
    {"regionID", TEXT, true, NULL, NULL}, {"name", TEXT, false, NULL, NULL}, EXTRAS, END}};
static const form elevation = {.also = bounds_in_order, .fields = (const member[]){
    {"lowerBound", BOUND, false, NULL, NULL}, {"upperBound", BOUND, false, NULL, NULL}, END}};
static const form rating = {.fields = (const member[]){
    {"mainValue", WORD, true, NULL, brant_words_rating},
    {"elevation", OBJECT, false, &elevation, NULL},
    {"aspects", WORDS, false, NULL, brant_words_aspects},
    {"validTimePeriod", WORD, false, NULL, brant_words_period}, EXTRAS, END}};
static const form problem = {.fields = (const member[]){
    {"problemType", WORD, true, NULL, brant_words_problem},
    {"comment", TEXT, false, NULL, NULL},
    {"avalancheSize", SIZE, false, NULL, NULL},
    {"snowpackStability", WORD, false, NULL, brant_words_stability},
    {"frequency", WORD, false, NULL, brant_words_frequency},
    {"dangerRatingValue", WORD, false, NULL, brant_words_rating},
    {"elevation", OBJECT, false, &elevation, NULL},
    {"aspects", WORDS, false, NULL, brant_words_aspects},
    {"validTimePeriod", WORD, false, NULL, brant_words_period}, EXTRAS, END}};
static const form bulletin = {.fields = (const member[]){
    {"bulletinID", TEXT, false, NULL, NULL}, {"lang", LANGUAGE, false, NULL, NULL},
    {"publicationTime", TIME, false, NULL, NULL},
    {"validTime", OBJECT, false, &valid_time, NULL},
    {"nextUpdate", TIME, false, NULL, NULL}, {"unscheduled", FLAG, false, NULL, NULL},
    {"source", OBJECT, false, &source, NULL}, {"regions", OBJECTS, false, &region, NULL},
    {"dangerRatings", OBJECTS, false, &rating, NULL},
    {"avalancheProblems", OBJECTS, false, &problem, NULL},
    {"highlights", TEXT, false, NULL, NULL},
    {"weatherForecast", OBJECT, false, &texts, NULL},
    {"weatherReview", OBJECT, false, &texts, NULL},
    {"avalancheActivity", OBJECT, false, &texts, NULL},
    {"snowpackStructure", OBJECT, false, &texts, NULL},
    {"travelAdvisory", OBJECT, false, &texts, NULL},
    {"tendency", OBJECTS, false, &tendency, NULL}, EXTRAS, END}};
static const form collection = {.fields = (const member[]){
    {"bulletins", OBJECTS, true, &bulletin, NULL}, EXTRAS, END}};

/* ---- values ------------------------------------------------------------- */

bool brant_bound_parse(const char *text, double *metres)
{
    *metres = NAN;
    if (strcmp(text, "treeline") == 0)
        return true;
    size_t length = strlen(text);
    bool hundreds = (length == 3 || length == 4) && text[0] != '0' &&
                    strspn(text, "0123456789") == length && strcmp(text + length - 2, "00") == 0;
    return (hundreds || strcmp(text, "0") == 0) && brant_parse_number(text, metres);
}

bool brant_bounds_in_order(double lower, double upper)
{
    return isnan(lower) || isnan(upper) || lower < upper;
}

static const char *type_name(const json_t *value)
{
    switch (json_typeof(value)) {
    case JSON_OBJECT: return "an object";
    case JSON_ARRAY: return "an array";
    case JSON_STRING: return "a string";
    case JSON_INTEGER:
    case JSON_REAL: return "a number";
    case JSON_TRUE:
    case JSON_FALSE: return "true or false";
    case JSON_NULL: break;
    }
    return "null";
}

static brant_status wrong_type(const brant_json_place *place, const json_t *value,
                               const char *wanted)
{
    return REFUSE(place, "is %s, not %s", type_name(value), wanted);
}

static brant_status check_word(const brant_json_place *place, const json_t *value,
                               const char *const *words)
{
    if (!json_is_string(value))
        return wrong_type(place, value, "a string");
    const char *word = json_string_value(value);
    if (brant_word_index(words, word) >= 0)
        return BRANT_OK;
    brant_quote quote = brant_quote_of(word);
    const char *now = name_now(word);
    if (now)
        return REFUSE(place, "\"%s\" is an earlier draft's name: now \"%s\"", quote.text, now);
    brant_text known = {0};
    for (int i = 0; words[i]; i++)
        brant_text_add(&known, "%s%s", i ? ", " : "", words[i]);
    brant_status status = REFUSE(place, "\"%s\" is none of %s", quote.text,
                                 known.failed ? "the known words" : known.data);
    brant_text_clear(&known);
    return status;
}

static brant_status check_bound(const brant_json_place *place, const json_t *value)
{
    double metres;
    if (!json_is_string(value))
        return wrong_type(place, value, "a string such as \"1800\"");
    if (!brant_bound_parse(json_string_value(value), &metres))
        return REFUSE(place,
                      "\"%s\" is neither \"treeline\" nor \"0\" nor whole hundreds of metres up to "
                      "\"9900\"",
                      brant_quote_of(json_string_value(value)).text);
    return BRANT_OK;
}

static brant_status check_time(const brant_json_place *place, const json_t *value)
{
    brant_time time;
    if (!json_is_string(value))
        return wrong_type(place, value, "a string");
    const char *text = json_string_value(value);
    if (!brant_time_parse(text, &time))
        return REFUSE(place, "\"%s\" is no date and time such as 2027-02-13T17:00:00+01:00",
                      brant_quote_of(text).text);
    if (!time.has_offset)
        return REFUSE(place, "\"%s\" has no offset from UTC (Z, +01:00)",
                      brant_quote_of(text).text);
    return BRANT_OK;
}

static brant_status check_size(const brant_json_place *place, const json_t *value)
{
    if (!json_is_number(value))
        return wrong_type(place, value, "a number");
    double size = json_number_value(value);
    if (!(size >= 1 && size <= 5))
        return REFUSE(place, "an avalanche size is 1 to 5");
    return BRANT_OK;
}

/* Two letters of ISO 639-1. */
static brant_status check_language(const brant_json_place *place, const json_t *value)
{
    if (!json_is_string(value))
        return wrong_type(place, value, "a string");
    const char *text = json_string_value(value);
    static const char letters[] = "abcdefghijklmnopqrstuvwxyzABCDEFGHIJKLMNOPQRSTUVWXYZ";
    if (strlen(text) != 2 || strspn(text, letters) != 2)
        return REFUSE(place, "\"%s\" is no two-letter language code", brant_quote_of(text).text);
    return BRANT_OK;
}

/* ---- structure ---------------------------------------------------------- */

static brant_status check_object(brant_json_place *place, const json_t *object,
                                 const form *shape);

static brant_status check_items(brant_json_place *place, const json_t *list, const member *field)
{
    if (json_is_object(list) && field->shape == &tendency)
        return REFUSE(place, "is an object, an earlier draft's form: now an array of objects");
    if (!json_is_array(list))
        return wrong_type(place, list, "an array");
    brant_status status = BRANT_OK;
    for (size_t i = 0; !status && i < json_array_size(list); i++) {
        size_t before = brant_json_enter_item(place, i);
        const json_t *item = json_array_get(list, i);
        status = field->kind == WORDS ? check_word(place, item, field->words)
                                      : check_object(place, item, field->shape);
        brant_json_leave(place, before);
    }
    return status;
}

static brant_status check_value(brant_json_place *place, const json_t *value, const member *field)
{
    switch (field->kind) {
    case ANY: return BRANT_OK;
    case TEXT: return json_is_string(value) ? BRANT_OK : wrong_type(place, value, "a string");
    case LANGUAGE: return check_language(place, value);
    case TIME: return check_time(place, value);
    case FLAG:
        return json_is_boolean(value) ? BRANT_OK : wrong_type(place, value, "true or false");
    case SIZE: return check_size(place, value);
    case WORD: return check_word(place, value, field->words);
    case BOUND: return check_bound(place, value);
    case OBJECT: return check_object(place, value, field->shape);
    case OBJECTS:
    case WORDS: break;
    }
    return check_items(place, value, field);
}

static const member *find_field(const form *shape, const char *name)
{
    for (const member *f = shape->fields; f->name; f++)
        if (strcmp(f->name, name) == 0)
            return f;
    return NULL;
}

static brant_status unknown_member(const brant_json_place *place, const char *key)
{
    brant_quote quote = brant_quote_of(key);
    const char *now = name_now(key);
    if (now)
        return REFUSE(place, "\"%s\" is an earlier draft's name: now \"%s\"", quote.text, now);
    return REFUSE(place, "\"%s\" is no member that the format knows here", quote.text);
}

static brant_status check_member(brant_json_place *place, const char *key, const json_t *value,
                                 const form *shape)
{
    const member *field = find_field(shape, key);
    if (!field)
        return shape->open ? BRANT_OK : unknown_member(place, key);
    size_t before = brant_json_enter(place, field->name);
    brant_status status = check_value(place, value, field);
    brant_json_leave(place, before);
    return status;
}

static brant_status check_object(brant_json_place *place, const json_t *object,
                                 const form *shape)
{
    if (!json_is_object(object))
        return wrong_type(place, object, "an object");
    const char *key;
    json_t *value;
    json_object_foreach((json_t *)object, key, value) {
        brant_status status = check_member(place, key, value, shape);
        if (status)
            return status;
    }
    for (const member *f = shape->fields; f->name; f++)
        if (f->required && !json_object_get(object, f->name))
            return REFUSE(place, "\"%s\" is missing", f->name);
    return shape->also ? shape->also(place, object) : BRANT_OK;
}

brant_status brant_bulletin_check(brant_json_place *place, const json_t *root)
{
    return check_object(place, root, &collection);
}
