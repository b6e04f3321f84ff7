/* --help, from the option table. */
#include "option_table.h"

#include <string.h>

#define HELP_COLUMN 33
#define HELP_WIDTH 79

/* `left` in its column, `right` folded beside it. */
static void add_entry(brant_text *out, const char *left, const char *right)
{
    size_t column = HELP_COLUMN;
    brant_text_add(out, "  %-*s", HELP_COLUMN - 2, left);
    while (*right) {
        size_t length = strcspn(right, " ");
        if (column > HELP_COLUMN && column + 1 + length > HELP_WIDTH) {
            brant_text_add(out, "\n%*s", HELP_COLUMN, "");
            column = HELP_COLUMN;
        } else if (column > HELP_COLUMN) {
            brant_text_add_bytes(out, " ", 1);
            column++;
        }
        brant_text_add_bytes(out, right, length);
        column += length;
        right += length;
        right += strspn(right, " ");
    }
    brant_text_add(out, "\n");
}

static void add_programs(brant_text *out)
{
    for (int i = TOOL_BRANT + 1; i < TOOLS; i++)
        add_entry(out, tool_programs[i].name + strlen("brant-"), tool_programs[i].purpose);
    brant_text_add(out, "\n");
}

void tool_help(tool_program program, brant_text *out)
{
    const description *d = &tool_programs[program];
    brant_text_add(out, "usage: %s %s\n%s: %s\n\n", d->name, d->synopsis, d->name, d->purpose);
    if (program == TOOL_BRANT)
        add_programs(out);
    for (int i = 0; i < TOOL_OPERANDS && d->operands[i].name; i++)
        add_entry(out, d->operands[i].name, d->operands[i].help);
    for (size_t i = 0; i < tool_row_count; i++) {
        const option_row *row = &tool_rows[i];
        brant_text left = {0};
        if (!tool_row_is_of(row, program))
            continue;
        brant_text_add(&left, row->argument ? "%s %s" : "%s", row->name, row->argument);
        add_entry(out, left.data ? left.data : row->name, row->help);
        brant_text_clear(&left);
    }
    if (program != TOOL_BRANT)
        brant_text_add(out, "\n%s", brant_caution);
}
