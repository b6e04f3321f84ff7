/* A page on a model: its geometry, and one pass over all of its cells, strip by strip. */
#include "blobs.h"
#include "judge.h"

#include <math.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#define STRIP_ROWS 128
#define STRIPS_CELLS ((int64_t)6 << 20) /* of all workers' strips together: 75 MB */
#define STEEP 30.0f
#define LONE_CELLS 12 /* a lone bump's ring is 8 */

/* ---- geometry ----------------------------------------------------------- */

/* Which corner `col`, `row` is, by true direction from the middle. */
static int corner_of(const brant_dem *dem, int col, int row)
{
    brant_matrix m;
    double dcol = col - dem->grid.cols / 2.0, drow = row - dem->grid.rows / 2.0;
    brant_ground_matrix(dem->ground, dem->grid.cols / 2.0, dem->grid.rows / 2.0, &m);
    double east = m.col_east * dcol + m.row_east * drow;
    double north = m.col_north * dcol + m.row_north * drow;
    return (north >= 0 ? BRANT_AT_NW : BRANT_AT_SW) + (east >= 0);
}

static void measure_cells(brant_check *check)
{
    const brant_grid *grid = &check->dem->grid;
    for (int i = 0; i < BRANT_PLACES; i++)
        check->cell_m[i][0] = check->cell_m[i][1] = NAN;
    for (int i = 0; i <= 4; i++) {
        brant_matrix m;
        double col = i == 4 ? grid->cols / 2.0 : i & 1 ? grid->cols : 0;
        double row = i == 4 ? grid->rows / 2.0 : i & 2 ? grid->rows : 0;
        int place = i == 4 ? BRANT_AT_MIDDLE : corner_of(check->dem, (int)col, (int)row);
        brant_ground_matrix(check->dem->ground, col, row, &m);
        check->cell_m[place][0] = brant_matrix_cell_width(&m);
        check->cell_m[place][1] = brant_matrix_cell_height(&m);
    }
}

/* Where the map's y axis points, degrees east of true north, over a lattice of 9 x 9. */
static void measure_convergence(brant_check *check)
{
    const brant_grid *grid = &check->dem->grid;
    const double *t = grid->transform, determinant = t[1] * t[5] - t[2] * t[4];
    double dcol = -t[2] / determinant, drow = t[1] / determinant; /* of a step in y */
    check->convergence_deg[0] = INFINITY;
    check->convergence_deg[1] = -INFINITY;
    for (int i = 0; i < 81; i++) {
        brant_matrix m;
        brant_ground_matrix(check->dem->ground, grid->cols * (i % 9 / 8.0),
                            grid->rows * (i / 9 / 8.0), &m);
        double angle = atan2(m.col_east * dcol + m.row_east * drow,
                             m.col_north * dcol + m.row_north * drow) * 180 / M_PI;
        check->convergence_deg[0] = fmin(check->convergence_deg[0], angle); /* NaN is passed over */
        check->convergence_deg[1] = fmax(check->convergence_deg[1], angle);
    }
}

static brant_status find_datum(brant_context *ctx, brant_check *check)
{
    brant_locator *locator;
    const char *operation;
    brant_status status = brant_locator_create(ctx, check->dem->name, &check->dem->grid, &locator);
    check->placed = status == BRANT_OK;
    check->datum_accuracy_m = NAN;
    if (status == BRANT_ERR_INPUT) { /* an answer, no failure */
        const char *why = brant_message(ctx);
        size_t name = strlen(check->dem->name);
        if (strncmp(why, check->dem->name, name) == 0 && strncmp(why + name, ": ", 2) == 0)
            why += name + 2;
        snprintf(check->datum_operation, sizeof check->datum_operation, "%s", why);
        brant_forgive(ctx);
        return BRANT_OK;
    }
    if (status != BRANT_OK)
        return status;
    check->datum_accuracy_m = brant_locator_accuracy(locator, &operation);
    snprintf(check->datum_operation, sizeof check->datum_operation, "%s", operation);
    brant_locator_destroy(locator);
    return BRANT_OK;
}

/* ---- all cells ---------------------------------------------------------- */

typedef struct strip {
    brant_field field;
    int64_t undeclared;
} strip;

typedef struct pass {
    brant_check *check;
    brant_dem *dem;
    int rows;                 /* of a strip */
    strip *strips;            /* one a worker */
    brant_blobs holes, steep;
    uint8_t *row;
} pass;

static bool any_void(const brant_field *field)
{
    size_t count = (size_t)field->window.cols * (size_t)field->window.rows;
    for (size_t i = 0; i < count; i++)
        if (isnan(field->elevation[i]))
            return true;
    return false;
}

static brant_status read_strip(brant_context *ctx, void *user, int worker, int64_t item)
{
    pass *p = user;
    strip *s = &p->strips[worker];
    brant_window w = {0, (int)(item * p->rows), p->dem->grid.cols, p->rows};
    w = brant_window_clip(w, p->dem->grid.cols, p->dem->grid.rows);
    brant_field_clear(&s->field);
    s->undeclared = 0;
    brant_status status = brant_field_read(ctx, &p->dem->source, p->dem->ground, &w, false,
                                           &s->field);
    if (status == BRANT_OK && any_void(&s->field))
        status = brant_dem_undeclared(ctx, p->dem, &w, &s->undeclared);
    return status;
}

static void count_row(pass *p, const brant_field *field, int row)
{
    brant_check *c = p->check;
    int cols = field->window.cols, n = 0;
    const float *z = field->elevation + (size_t)row * (size_t)cols;
    const float *slope = field->slope + (size_t)row * (size_t)cols;
    for (int col = 0; col < cols; col += n) {
        brant_matrix m[2], middle;
        n = brant_ground_row(p->dem->ground, col, field->window.row + row, m);
        n = n < cols - col ? n : cols - col;
        middle = (brant_matrix){m[0].col_east + n / 2.0 * m[1].col_east,
                                m[0].row_east + n / 2.0 * m[1].row_east,
                                m[0].col_north + n / 2.0 * m[1].col_north,
                                m[0].row_north + n / 2.0 * m[1].row_north};
        double area = brant_matrix_area(&middle);
        for (int i = col; i < col + n; i++) {
            c->area_m2 += area;
            c->class_m2[brant_class_of(slope[i])] += area;
            c->slopes += !isnan(slope[i]);
            c->steep += slope[i] >= STEEP;
            if (isnan(z[i])) {
                c->voids++;
                continue;
            }
            c->known_m2 += area;
            c->low_m = fmin(c->low_m, (double)z[i]);
            c->high_m = fmax(c->high_m, (double)z[i]);
        }
    }
    for (int col = 0; col < cols; col++)
        p->row[col] = isnan(z[col]);
    brant_blobs_row(&p->holes, p->row);
    for (int col = 0; col < cols; col++)
        p->row[col] = slope[col] >= STEEP;
    brant_blobs_row(&p->steep, p->row);
}

static brant_status count_strip(brant_context *ctx, void *user, int worker, int64_t item)
{
    pass *p = user;
    const strip *s = &p->strips[worker];
    (void)ctx;
    (void)item;
    p->check->undeclared += s->undeclared;
    for (int row = 0; row < s->field.window.rows; row++)
        count_row(p, &s->field, row);
    return BRANT_OK;
}

static void count_hole(void *self, const brant_blob *hole)
{
    brant_check *check = self;
    if (hole->at_border)
        return;
    check->holes++;
    if (hole->cells > check->largest_hole)
        check->largest_hole = hole->cells;
}

static void count_steep(void *self, const brant_blob *patch)
{
    brant_check *check = self;
    if (patch->cells <= LONE_CELLS)
        check->lone_steep += patch->cells;
}

static brant_status count_cells(brant_context *ctx, brant_dem *dem, brant_check *check)
{
    pass p = {.check = check, .dem = dem};
    int cols = dem->grid.cols, rows = dem->grid.rows;
    int64_t fit = STRIPS_CELLS / ctx->threads / cols;
    p.rows = fit < 1 ? 1 : fit > STRIP_ROWS ? STRIP_ROWS : (int)fit;
    check->cells = (int64_t)cols * rows;
    check->low_m = INFINITY;
    check->high_m = -INFINITY;
    p.strips = brant_alloc(ctx, (size_t)ctx->threads, sizeof *p.strips);
    p.row = brant_alloc(ctx, (size_t)cols, 1);
    brant_status status = p.strips && p.row ? BRANT_OK : BRANT_ERR_MEMORY;
    if (status == BRANT_OK)
        status = brant_blobs_begin(ctx, &p.holes, cols, rows, count_hole, check);
    if (status == BRANT_OK)
        status = brant_blobs_begin(ctx, &p.steep, cols, rows, count_steep, check);
    if (status == BRANT_OK)
        status = brant_run(ctx, "model", ((int64_t)rows + p.rows - 1) / p.rows, read_strip,
                           count_strip, &p);
    for (int i = 0; p.strips && i < ctx->threads; i++)
        brant_field_clear(&p.strips[i].field);
    brant_blobs_clear(&p.holes);
    brant_blobs_clear(&p.steep);
    free(p.strips);
    free(p.row);
    return status;
}

/* ---- heights ------------------------------------------------------------ */

/* A unit on the working grid: of the k x k cells averaged a whole row steps at once. */
static void measure_steps(brant_check *check)
{
    const double *cell = check->cell_m[BRANT_AT_MIDDLE];
    check->step_m = check->step_deg = NAN;
    if (!(check->whole_share >= 0.99))
        return;
    check->step_m = fabs(check->dem->to_metres) / check->dem->factor;
    check->step_deg = atan(check->step_m / (2 * fmin(cell[0], cell[1]))) * 180 / M_PI;
}

static void measure_error(brant_check *check)
{
    brant_matrix m;
    const brant_grid *grid = &check->dem->grid;
    brant_ground_matrix(check->dem->ground, grid->cols / 2.0, grid->rows / 2.0, &m);
    check->error_deg = brant_slope_error(&m, 35, NAN, check->vertical_error_m);
}

/* ---- all of it ---------------------------------------------------------- */

brant_status brant_check_run(brant_context *ctx, brant_dem *dem, double vertical_error_m,
                             brant_check *check)
{
    memset(check, 0, sizeof *check);
    check->model = brant_file_name(dem->name);
    check->dem = dem;
    check->vertical_error_m = vertical_error_m;
    brant_status status = brant_dem_facts_read(ctx, dem, &check->facts);
    if (status == BRANT_OK)
        status = find_datum(ctx, check);
    if (status == BRANT_OK)
        status = brant_dem_whole_share(ctx, dem, &check->whole_share);
    if (status == BRANT_OK)
        status = count_cells(ctx, dem, check);
    if (status != BRANT_OK) {
        brant_check_clear(check);
        return status;
    }
    measure_cells(check);
    measure_convergence(check);
    measure_steps(check);
    measure_error(check);
    status = brant_check_judge(ctx, check);
    if (status != BRANT_OK)
        brant_check_clear(check);
    return status;
}

void brant_check_clear(brant_check *check)
{
    brant_dem_facts_clear(&check->facts);
    memset(check, 0, sizeof *check);
}
