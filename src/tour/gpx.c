/* A strict reader of GPX 1.0 and 1.1: tracks and routes, names and coordinates,
 * nothing else. Every failure names the line. */
#include "brant/tour.h"
#include "encoding.h"

#include <expat.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#define POINTS_MAX 500000
#define DEPTH_MAX 64
#define NAME_MAX_BYTES 200 /* of a route's name; longer ones are cut */
#define CHUNK (1 << 20)

/* What an open element is to us. Everything below an OTHER is OTHER, so that a
 * look-alike inside `extensions` is none. */
typedef enum element { OTHER, GPX, TRK, TRKSEG, RTE, NAME } element;

typedef struct reader {
    brant_context *ctx;
    const char *file;
    XML_Parser parser;
    brant_gpx *gpx;
    size_t point_capacity, segment_capacity, route_capacity;
    element open[DEPTH_MAX];
    int depth;
    char *prefix; /* of the root element, with its colon; "" for none */
    brant_text text; /* of the NAME that is open */
    brant_status status;
} reader;

/* ---- failures ----------------------------------------------------------- */

/* Record `problem` at the current line and stop parsing. */
static void refuse(reader *r, const char *format, ...) BRANT_PRINTF(2, 3);
static void refuse(reader *r, const char *format, ...)
{
    char problem[256];
    va_list args;
    va_start(args, format);
    vsnprintf(problem, sizeof problem, format, args);
    va_end(args);
    r->status = brant_fail(r->ctx, BRANT_ERR_INPUT, "%s:%lu: %s", r->file,
                           (unsigned long)XML_GetCurrentLineNumber(r->parser), problem);
    XML_StopParser(r->parser, XML_FALSE);
}

/* A failure that is not the file's, already recorded. */
static void give_up(reader *r, brant_status status)
{
    r->status = status;
    XML_StopParser(r->parser, XML_FALSE);
}

/* How much of `text` fits `limit` bytes without cutting a UTF-8 character. */
static int cut(const char *text, size_t limit)
{
    size_t length = strlen(text);
    if (length > limit)
        for (length = limit; length > 0 && ((unsigned char)text[length] & 0xc0) == 0x80;)
            length--;
    return (int)length;
}

/* ---- points, segments, routes ------------------------------------------- */

/* The value of a coordinate attribute; false if refused. */
static bool coordinate(reader *r, const char *tag, const char **attributes, const char *name,
                       double limit, double *value)
{
    const char *text = NULL;
    for (; attributes[0]; attributes += 2)
        if (strcmp(attributes[0], name) == 0)
            text = attributes[1];
    if (!text)
        refuse(r, "%s without %s", tag, name);
    else if (!brant_parse_number(text, value))
        refuse(r, "%s=\"%.*s\" is not a number", name, cut(text, 40), text);
    else if (*value < -limit || *value > limit)
        refuse(r, "%s=\"%.*s\" is outside -%.0f to %.0f", name, cut(text, 40), text, limit, limit);
    return r->status == BRANT_OK;
}

static void add_point(reader *r, const char *tag, const char **attributes)
{
    brant_gpx *gpx = r->gpx;
    brant_gpx_point point;
    if (!coordinate(r, tag, attributes, "lat", 90, &point.lat) ||
        !coordinate(r, tag, attributes, "lon", 180, &point.lon))
        return;
    if (gpx->point_count == POINTS_MAX) {
        refuse(r, "more than %d points", POINTS_MAX);
        return;
    }
    brant_status status = brant_grow(r->ctx, &gpx->points, &r->point_capacity,
                                     gpx->point_count + 1, sizeof *gpx->points);
    if (status) {
        give_up(r, status);
        return;
    }
    gpx->points[gpx->point_count++] = point;
    gpx->segments[gpx->segment_count - 1].count++;
}

static void add_segment(reader *r)
{
    brant_gpx *gpx = r->gpx;
    brant_status status = brant_grow(r->ctx, &gpx->segments, &r->segment_capacity,
                                     gpx->segment_count + 1, sizeof *gpx->segments);
    if (status) {
        give_up(r, status);
        return;
    }
    gpx->segments[gpx->segment_count++] = (brant_gpx_segment){.first = gpx->point_count};
    gpx->routes[gpx->route_count - 1].segments++;
}

static void add_route(reader *r, bool planned)
{
    brant_gpx *gpx = r->gpx;
    brant_status status = brant_grow(r->ctx, &gpx->routes, &r->route_capacity,
                                     gpx->route_count + 1, sizeof *gpx->routes);
    if (status) {
        give_up(r, status);
        return;
    }
    gpx->routes[gpx->route_count++] =
        (brant_gpx_route){.planned = planned, .first_segment = gpx->segment_count};
    if (planned)
        add_segment(r);
}

/* ---- names -------------------------------------------------------------- */

/* Bytes of the control character or white space at `c`, 0 if it is neither:
 * C0, space, delete, and C1 as UTF-8 has it (a terminal may obey those). */
static size_t blank(const char *c)
{
    const unsigned char *u = (const unsigned char *)c;
    if (u[0] && (u[0] <= 0x20 || u[0] == 0x7f))
        return 1;
    return u[0] == 0xc2 && u[1] >= 0x80 && u[1] <= 0x9f ? 2 : 0;
}

/* Trim `text` in place, and make each run of blanks in it one space. */
static void tidy(char *text)
{
    char *to = text;
    bool gap = false;
    for (const char *from = text; *from;) {
        size_t skip = blank(from);
        if (skip == 0 && gap && to != text)
            *to++ = ' ';
        if (skip == 0)
            *to++ = *from++;
        gap = skip > 0;
        from += skip;
    }
    *to = '\0';
    text[cut(text, NAME_MAX_BYTES)] = '\0';
}

static void end_name(reader *r)
{
    brant_gpx_route *route = &r->gpx->routes[r->gpx->route_count - 1];
    brant_status status = brant_text_status(r->ctx, &r->text);
    if (status == BRANT_OK && r->text.data) {
        tidy(r->text.data);
        route->name = brant_strdup(r->ctx, r->text.data);
        if (!route->name)
            status = BRANT_ERR_MEMORY;
    }
    brant_text_clear(&r->text);
    if (status)
        give_up(r, status);
}

/* ---- expat's calls ------------------------------------------------------ */

/* The tag without the root's prefix; "" without that prefix: not GPX. */
static const char *local_name(const reader *r, const char *tag)
{
    size_t length = strlen(r->prefix);
    return strncmp(tag, r->prefix, length) == 0 ? tag + length : "";
}

static element start_root(reader *r, const char *tag)
{
    const char *colon = strchr(tag, ':');
    const char *local = colon ? colon + 1 : tag;
    if (strcmp(local, "gpx") != 0) {
        refuse(r, "not GPX: the root element is <%.*s>", cut(tag, 40), tag);
        return OTHER;
    }
    r->prefix = brant_strdup(r->ctx, tag);
    if (r->prefix)
        r->prefix[local - tag] = '\0';
    else
        give_up(r, BRANT_ERR_MEMORY);
    return GPX;
}

static element start_in_gpx(reader *r, const char *local)
{
    if (strcmp(local, "wpt") == 0)
        r->gpx->waypoints++;
    if (strcmp(local, "trk") == 0) {
        add_route(r, false);
        return TRK;
    }
    if (strcmp(local, "rte") == 0) {
        add_route(r, true);
        return RTE;
    }
    return OTHER;
}

static element start_in_route(reader *r, element parent, const char *local,
                              const char **attributes)
{
    if (strcmp(local, "name") == 0 && !r->gpx->routes[r->gpx->route_count - 1].name)
        return NAME;
    if (parent == TRK && strcmp(local, "trkseg") == 0) {
        add_segment(r);
        return TRKSEG;
    }
    if (parent == RTE && strcmp(local, "rtept") == 0)
        add_point(r, local, attributes);
    return OTHER;
}

static void XMLCALL on_start(void *user, const XML_Char *tag, const XML_Char **attributes)
{
    reader *r = user;
    element self = OTHER;
    if (r->status)
        return;
    if (r->depth == DEPTH_MAX) {
        refuse(r, "elements nested more than %d deep", DEPTH_MAX);
        return;
    }
    element parent = r->depth > 0 ? r->open[r->depth - 1] : OTHER;
    const char *local = r->depth > 0 ? local_name(r, tag) : "";
    if (r->depth == 0)
        self = start_root(r, tag);
    else if (parent == GPX)
        self = start_in_gpx(r, local);
    else if (parent == TRK || parent == RTE)
        self = start_in_route(r, parent, local, attributes);
    else if (parent == TRKSEG && strcmp(local, "trkpt") == 0)
        add_point(r, local, attributes);
    r->open[r->depth++] = self;
}

static void XMLCALL on_end(void *user, const XML_Char *tag)
{
    reader *r = user;
    (void)tag;
    if (r->status)
        return;
    if (r->open[--r->depth] == NAME)
        end_name(r);
}

static void XMLCALL on_text(void *user, const XML_Char *text, int length)
{
    reader *r = user;
    bool wanted = r->status == BRANT_OK && r->depth > 0 && r->open[r->depth - 1] == NAME;
    if (wanted && r->text.length < 16 * NAME_MAX_BYTES) /* tidy() cuts far below */
        brant_text_add_bytes(&r->text, text, (size_t)length);
}

static void XMLCALL on_entity(void *user, const XML_Char *name, int is_parameter,
                              const XML_Char *value, int value_length, const XML_Char *base,
                              const XML_Char *system_id, const XML_Char *public_id,
                              const XML_Char *notation)
{
    reader *r = user;
    (void)is_parameter, (void)value, (void)value_length, (void)base;
    (void)system_id, (void)public_id, (void)notation;
    if (r->status == BRANT_OK)
        refuse(r, "declares the entity \"%.*s\": GPX has none", cut(name, 40), name);
}

/* A DTD outside the file could declare entities; expat would then drop an unknown
 * one from lat="4&x;6" without a word. */
static void XMLCALL on_doctype(void *user, const XML_Char *name, const XML_Char *system_id,
                               const XML_Char *public_id, int has_internal_subset)
{
    reader *r = user;
    (void)name, (void)has_internal_subset;
    if (system_id || public_id)
        refuse(r, "refers to a DTD outside the file: GPX has none");
}

/* ---- the whole file ----------------------------------------------------- */

static brant_status open_reader(reader *r)
{
    r->parser = XML_ParserCreate(NULL);
    if (!r->parser)
        return brant_fail(r->ctx, BRANT_ERR_MEMORY, "%s: not enough memory to parse it", r->file);
    XML_SetUserData(r->parser, r);
    XML_SetElementHandler(r->parser, on_start, on_end);
    XML_SetCharacterDataHandler(r->parser, on_text);
    XML_SetEntityDeclHandler(r->parser, on_entity);
    XML_SetStartDoctypeDeclHandler(r->parser, on_doctype);
    XML_SetUnknownEncodingHandler(r->parser, brant_gpx_encoding, NULL);
    return BRANT_OK;
}

static brant_status feed(reader *r, const char *data, size_t size)
{
    enum XML_Status parsed;
    do {
        int length = size > CHUNK ? CHUNK : (int)size;
        bool last = (size_t)length == size;
        brant_status status = brant_check_stop(r->ctx);
        if (status)
            return status;
        parsed = XML_Parse(r->parser, data, length, last);
        data += length;
        size -= (size_t)length;
    } while (size > 0 && parsed == XML_STATUS_OK);
    if (r->status || parsed == XML_STATUS_OK)
        return r->status;
    enum XML_Error error = XML_GetErrorCode(r->parser);
    if (error == XML_ERROR_NO_MEMORY)
        return brant_fail(r->ctx, BRANT_ERR_MEMORY, "%s: not enough memory to parse it", r->file);
    refuse(r, "not readable as XML: %s", XML_ErrorString(error));
    return r->status;
}

/* A route without a name is named "". */
static brant_status name_all(brant_context *ctx, brant_gpx *gpx)
{
    for (size_t i = 0; i < gpx->route_count; i++)
        if (!gpx->routes[i].name && !(gpx->routes[i].name = brant_strdup(ctx, "")))
            return BRANT_ERR_MEMORY;
    return BRANT_OK;
}

static bool has_two_points(const brant_gpx *gpx, const brant_gpx_segment *segment)
{
    const brant_gpx_point *p = segment->count > 0 ? &gpx->points[segment->first] : NULL;
    for (size_t i = 1; i < segment->count; i++)
        if (p[i].lon != p[0].lon || p[i].lat != p[0].lat)
            return true;
    return false;
}

static brant_status check_route(brant_context *ctx, const char *name, const brant_gpx *gpx)
{
    for (size_t i = 0; i < gpx->segment_count; i++)
        if (has_two_points(gpx, &gpx->segments[i]))
            return BRANT_OK;
    if (gpx->route_count == 0 && gpx->waypoints == 0)
        return brant_fail(ctx, BRANT_ERR_INPUT, "%s: no track or route in it", name);
    if (gpx->route_count == 0)
        return brant_fail(ctx, BRANT_ERR_INPUT, "%s: no track or route in it (%zu waypoint%s only)",
                          name, gpx->waypoints, gpx->waypoints == 1 ? "" : "s");
    return brant_fail(ctx, BRANT_ERR_INPUT,
                      "%s: no track or route with two different points in it (%zu point%s)", name,
                      gpx->point_count, gpx->point_count == 1 ? "" : "s");
}

brant_status brant_gpx_parse(brant_context *ctx, const char *name, const char *data, size_t size,
                             brant_gpx *gpx)
{
    memset(gpx, 0, sizeof *gpx);
    gpx->file = name;
    reader r = {.ctx = ctx, .file = name, .gpx = gpx};
    brant_status status = open_reader(&r);
    if (status)
        goto out;
    status = feed(&r, data, size);
    if (status)
        goto out;
    status = name_all(ctx, gpx);
    if (status)
        goto out;
    status = check_route(ctx, name, gpx);
out:
    if (r.parser)
        XML_ParserFree(r.parser);
    brant_text_clear(&r.text);
    free(r.prefix);
    if (status)
        brant_gpx_clear(gpx);
    return status;
}

void brant_gpx_clear(brant_gpx *gpx)
{
    for (size_t i = 0; i < gpx->route_count; i++)
        free(gpx->routes[i].name);
    free(gpx->routes);
    free(gpx->segments);
    free(gpx->points);
    memset(gpx, 0, sizeof *gpx);
}
