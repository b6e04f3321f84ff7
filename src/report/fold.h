/* Lines that fit a page or a terminal. */
#ifndef BRANT_REPORT_FOLD_H
#define BRANT_REPORT_FOLD_H

#include "brant/base.h"

/* Add `line` (clean UTF-8, no newline, may be NULL) folded at blanks to `columns`
 * columns, each line ended; lines after the first are indented by `indent`. A
 * FIRM blank (words.h) is written as a blank and is no place to fold, unless the
 * word is longer than a line. `bold`: ANSI bold on each line. */
void brant_fold(brant_text *out, const char *line, int columns, int indent, bool bold);

#endif
