/* A few cells that stand for a zone. */
#include "brant/terrain.h"

brant_status brant_zone_cells(brant_context *ctx, brant_source *source, const brant_ground *ground,
                              const brant_zone_set *set, const brant_zone *zone, size_t max,
                              brant_zone_cell *cells, size_t *count)
{
    const brant_window *box = &zone->box;
    brant_field field;
    brant_status status = brant_field_read(ctx, source, ground, box, false, &field);
    const uint64_t n = zone->cells, wanted = n < max ? n : max;
    uint64_t seen = 0;
    *count = 0;
    if (status != BRANT_OK)
        return status;
    for (int r = 0; r < box->rows; r++)
        for (int c = 0; c < box->cols; c++) {
            size_t at = (size_t)r * (size_t)box->cols + (size_t)c;
            if (brant_zone_set_at(set, box->col + c, box->row + r) != zone->number)
                continue;
            if (*count < wanted && seen == *count * n / wanted)
                cells[(*count)++] = (brant_zone_cell){box->col + c, box->row + r,
                                                      field.slope[at], field.aspect[at]};
            seen++;
        }
    brant_field_clear(&field);
    return BRANT_OK;
}
