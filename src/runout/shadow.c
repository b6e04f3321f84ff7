/* The union of shadows. Maximum, lowest number among equals, count and flag: each
 * commutes, so the order in which zones arrive leaves no trace. */
#include "brant/runout.h"

#include <math.h>
#include <stdlib.h>
#include <string.h>

brant_status brant_shadow_create(brant_context *ctx, const brant_window *window,
                                 double reach_angle_deg, brant_shadow *shadow)
{
    size_t cells = (size_t)window->cols * (size_t)window->rows;
    memset(shadow, 0, sizeof *shadow);
    shadow->window = *window;
    shadow->reach_angle_deg = reach_angle_deg;
    pthread_mutex_init(&shadow->lock, NULL);
    shadow->reached_at = brant_alloc(ctx, cells, sizeof *shadow->reached_at);
    shadow->head = brant_alloc(ctx, cells, sizeof *shadow->head);
    shadow->zone = brant_alloc(ctx, cells, sizeof *shadow->zone);
    shadow->zones_above = brant_alloc(ctx, cells, sizeof *shadow->zones_above);
    shadow->unknown_above = brant_alloc(ctx, cells, sizeof *shadow->unknown_above);
    if (shadow->reached_at && shadow->head && shadow->zone && shadow->zones_above &&
        shadow->unknown_above)
        return BRANT_OK;
    brant_shadow_clear(shadow);
    return BRANT_ERR_MEMORY;
}

void brant_shadow_clear(brant_shadow *shadow)
{
    if (shadow->reach_angle_deg > 0.0)
        pthread_mutex_destroy(&shadow->lock);
    free(shadow->reached_at);
    free(shadow->head);
    free(shadow->zone);
    free(shadow->zones_above);
    free(shadow->unknown_above);
    memset(shadow, 0, sizeof *shadow);
}

static size_t cell_at(const brant_window *w, int col, int row)
{
    return (size_t)(row - w->row) * (size_t)w->cols + (size_t)(col - w->col);
}

static void add_cell(brant_shadow *s, uint32_t zone, float reach_angle, const brant_reached *cell)
{
    size_t at = cell_at(&s->window, cell->col, cell->row);
    float held = s->reached_at[at];
    if (cell->reached_at_deg > held || (cell->reached_at_deg == held && zone < s->zone[at])) {
        s->reached_at[at] = cell->reached_at_deg;
        s->zone[at] = zone;
    }
    if (cell->reached_at_deg < reach_angle)
        return;
    s->head[at] = fmaxf(s->head[at], cell->head_m);
    if (s->zones_above[at] < UINT16_MAX)
        s->zones_above[at]++;
}

void brant_shadow_add_at(brant_shadow *shadow, uint32_t zone, double reach_angle_deg,
                         const brant_reach_result *result)
{
    pthread_mutex_lock(&shadow->lock);
    for (size_t i = 0; i < result->count; i++)
        if (brant_window_has(&shadow->window, result->cells[i].col, result->cells[i].row))
            add_cell(shadow, zone, (float)reach_angle_deg, &result->cells[i]);
    pthread_mutex_unlock(&shadow->lock);
}

void brant_shadow_add_unknown_at(brant_shadow *shadow, double reach_angle_deg,
                                 const brant_reach_result *result)
{
    pthread_mutex_lock(&shadow->lock);
    for (size_t i = 0; i < result->count; i++) {
        const brant_reached *cell = &result->cells[i];
        if (cell->reached_at_deg >= (float)reach_angle_deg &&
            brant_window_has(&shadow->window, cell->col, cell->row))
            shadow->unknown_above[cell_at(&shadow->window, cell->col, cell->row)] = 1;
    }
    pthread_mutex_unlock(&shadow->lock);
}
