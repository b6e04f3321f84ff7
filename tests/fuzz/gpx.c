/* Anything as a GPX file. */
#include "fuzz.h"

#include "brant/tour.h"

/* What a reader of the result counts on. */
static void check_gpx(const brant_gpx *gpx)
{
    bool two = false;
    size_t segments = 0;
    for (size_t i = 0; i < gpx->point_count; i++) {
        const brant_gpx_point *p = &gpx->points[i];
        FUZZ_CHECK(p->lon >= -180 && p->lon <= 180 && p->lat >= -90 && p->lat <= 90);
    }
    for (size_t i = 0; i < gpx->segment_count; i++) {
        const brant_gpx_segment *s = &gpx->segments[i];
        FUZZ_CHECK(s->first <= gpx->point_count && s->count <= gpx->point_count - s->first);
        two |= s->count >= 2;
    }
    for (size_t i = 0; i < gpx->route_count; i++) {
        const brant_gpx_route *r = &gpx->routes[i];
        FUZZ_CHECK(r->name && r->first_segment == segments);
        FUZZ_CHECK(!r->planned || r->segments == 1);
        segments += r->segments;
    }
    FUZZ_CHECK(segments == gpx->segment_count && two);
}

int LLVMFuzzerTestOneInput(const uint8_t *data, size_t size)
{
    brant_context ctx;
    brant_gpx gpx;
    char *copy = fuzz_copy(data, size);
    fuzz_begin(&ctx);
    brant_status status = brant_gpx_parse(&ctx, "t.gpx", copy, size, &gpx);
    if (status == BRANT_OK)
        check_gpx(&gpx);
    else
        fuzz_check_refusal(&ctx, status, "t.gpx");
    FUZZ_CHECK(status == BRANT_OK || (!gpx.points && !gpx.segments && !gpx.routes));
    brant_gpx_clear(&gpx);
    brant_context_clear(&ctx);
    free(copy);
    return 0;
}
