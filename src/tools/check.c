/* brant-check: can this elevation model carry the question? */
#include "program.h"

#include <string.h>

#define UNFIT 3 /* exit status, of this program alone */

static brant_status print_page(brant_context *ctx, const tool_values *values,
                               const brant_check *check)
{
    brant_text text = {0};
    brant_stage *stage = NULL;
    const char *path;
    brant_status status = BRANT_OK;
    if (values->format && strcmp(values->format, "json") == 0)
        status = brant_report_check_json(ctx, check, &text);
    else
        brant_report_check(check, &text);
    if (status == BRANT_OK)
        status = brant_text_status(ctx, &text);
    if (status == BRANT_OK)
        status = brant_stage_create(ctx, &stage);
    if (status == BRANT_OK)
        status = brant_stage_output(ctx, stage, "-", true, &path);
    if (status == BRANT_OK)
        status = brant_stage_text(ctx, stage, "-", &text);
    if (status == BRANT_OK)
        status = brant_stage_commit(ctx, stage);
    brant_stage_destroy(stage);
    brant_text_clear(&text);
    return status;
}

static brant_status check_model(brant_context *ctx, const tool_values *values, bool *unfit)
{
    brant_dem_options options = tool_dem_options(values);
    brant_dem dem = {0};
    brant_check check = {0};
    brant_status status = brant_dem_open(ctx, values->operand[0], &options, &dem);
    if (status == BRANT_OK)
        status = brant_check_run(ctx, &dem, values->vertical_error_m, &check);
    if (status == BRANT_OK)
        status = print_page(ctx, values, &check);
    *unfit = status == BRANT_OK && check.fitness == BRANT_UNFIT;
    brant_check_clear(&check);
    brant_dem_close(&dem);
    return status;
}

int main(int argc, char **argv)
{
    tool t;
    bool unfit = false;
    if (tool_begin(&t, TOOL_CHECK, argc, argv))
        t.status = check_model(&t.ctx, &t.values, &unfit);
    int code = tool_end(&t);
    return code == 0 && unfit ? UNFIT : code;
}
