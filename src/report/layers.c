/* The vector layers `legs`, `points` and `waits`, in WGS 84, with the columns of the CSV
 * tables. */
#include "table.h"
#include "words.h"

#include <stdlib.h>

size_t brant_leg_line(const brant_tour *tour, const brant_leg *leg, double *line)
{
    size_t count = 1;
    line[0] = leg->from_lon;
    line[1] = leg->from_lat;
    for (size_t i = 0; i <= leg->samples; i++) {
        const brant_sample *sample = &tour->track.samples[leg->first_sample + i];
        bool last = i == leg->samples;
        double lon = last ? leg->to_lon : sample->lon, lat = last ? leg->to_lat : sample->lat;
        const double *before = &line[2 * (count - 1)];
        if ((lon == before[0] && lat == before[1]) && !(last && count == 1))
            continue;
        line[2 * count] = lon;
        line[2 * count + 1] = lat;
        count++;
    }
    return count;
}

static brant_status add_tour_legs(brant_context *ctx, const brant_report *report,
                                  const brant_tour *tour, const char *route,
                                  brant_layers *layers)
{
    brant_value values[BRANT_TABLE_MAX];
    brant_leg_texts texts = {0};
    brant_status status = BRANT_OK;
    double *line = brant_alloc(ctx, tour->track.count + 2, 2 * sizeof *line);
    if (!line)
        return BRANT_ERR_MEMORY;
    for (size_t i = 0; i < tour->leg_count && status == BRANT_OK; i++) {
        const brant_leg *leg = &tour->legs[i];
        size_t count = brant_leg_line(tour, leg, line);
        brant_leg_values(report, tour, route, leg, &texts, values);
        status = texts.above.failed ? BRANT_ERR_MEMORY
                                    : brant_layers_feature(ctx, layers, line, count, values);
    }
    brant_text_clear(&texts.above);
    free(line);
    return status;
}

static brant_status add_tour_points(brant_context *ctx, const brant_report *report,
                                    const brant_tour *tour, const char *route,
                                    brant_layers *layers)
{
    brant_value values[BRANT_TABLE_MAX];
    brant_status status = BRANT_OK;
    for (size_t i = 0; i < tour->track.count && status == BRANT_OK; i++) {
        const brant_sample *sample = &tour->track.samples[i];
        double place[2] = {sample->lon, sample->lat};
        brant_point_values(report, route, tour, i, values);
        status = brant_layers_feature(ctx, layers, place, 1, values);
    }
    return status;
}

static brant_status add_tour_waits(brant_context *ctx, const brant_report *report,
                                   const brant_tour *tour, const char *route,
                                   brant_layers *layers)
{
    brant_value values[BRANT_TABLE_MAX];
    char leave_by[BRANT_TIME_MAX];
    brant_status status = BRANT_OK;
    for (size_t i = 0; i < tour->wait_count && status == BRANT_OK; i++) {
        const brant_sample *sample = &tour->track.samples[tour->waits[i].sample];
        double place[2] = {sample->lon, sample->lat};
        brant_wait_values(report, route, tour, i, leave_by, values);
        status = brant_layers_feature(ctx, layers, place, 1, values);
    }
    return status;
}

typedef brant_status (*add_tour_fn)(brant_context *ctx, const brant_report *report,
                                    const brant_tour *tour, const char *route,
                                    brant_layers *layers);

static brant_status add_tours(brant_context *ctx, const brant_report *report,
                              brant_layers *layers, add_tour_fn add_tour)
{
    brant_text name = {0};
    brant_status status = BRANT_OK;
    for (size_t t = 0; t < report->tour_count && status == BRANT_OK; t++) {
        name.length = 0;
        brant_text_add(&name, "%s", "");
        brant_words_route(report, t, &name);
        status = brant_text_status(ctx, &name);
        if (status == BRANT_OK)
            status = add_tour(ctx, report, &report->tours[t], name.data, layers);
    }
    brant_text_clear(&name);
    return status;
}

brant_status brant_report_layers(brant_context *ctx, const brant_report *report,
                                 brant_layers *layers)
{
    brant_status status = brant_report_layer(ctx, layers, "legs", BRANT_SHAPE_LINE,
                                             brant_leg_table.columns, brant_leg_table.count);
    if (status == BRANT_OK)
        status = add_tours(ctx, report, layers, add_tour_legs);
    if (status == BRANT_OK)
        status = brant_report_layer(ctx, layers, "points", BRANT_SHAPE_POINT,
                                    brant_point_table.columns, brant_point_table.count);
    if (status == BRANT_OK)
        status = add_tours(ctx, report, layers, add_tour_points);
    if (status == BRANT_OK)
        status = brant_report_layer(ctx, layers, "waits", BRANT_SHAPE_POINT,
                                    brant_wait_table.columns, brant_wait_table.count);
    if (status == BRANT_OK)
        status = add_tours(ctx, report, layers, add_tour_waits);
    return status;
}
