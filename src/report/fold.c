/* Folding text to a width. */
#include "fold.h"
#include "words.h"

#include <string.h>

typedef struct folder {
    brant_text *out;
    int columns, indent;
    int column;   /* where the next character goes */
    bool at_start; /* nothing but the indent on this line */
    bool bold;
} folder;

/* Columns of a code point: East Asian wide and fullwidth characters take two.
 * Ranges after Unicode's UAX #11, shortened, from memory; marks that combine
 * count as one, which folds early, never late. */
static int code_width(long code)
{
    static const long wide[][2] = {
        {0x1100, 0x115F}, {0x2E80, 0xA4CF},   {0xAC00, 0xD7A3},   {0xF900, 0xFAFF},
        {0xFE30, 0xFE6F}, {0xFF00, 0xFF60},   {0xFFE0, 0xFFE6},   {0x1F300, 0x1FAFF},
        {0x20000, 0x3FFFD},
    };
    for (size_t i = 0; i < sizeof wide / sizeof wide[0]; i++)
        if (code >= wide[i][0] && code <= wide[i][1])
            return 2;
    return 1;
}

static void start_line(folder *f, int indent)
{
    if (f->bold)
        brant_text_add(f->out, "\x1b[1m");
    brant_text_add(f->out, "%*s", indent, "");
    f->column = indent;
    f->at_start = true;
}

static void end_line(folder *f)
{
    brant_text_add(f->out, f->bold ? "\x1b[0m\n" : "\n");
}

/* The word from `word` to `end`, wherever the line stands; breaks it only where
 * it is longer than a line. */
static void add_word(folder *f, const char *word, const char *end)
{
    while (word < end) {
        const char *start = word;
        int width = code_width(brant_words_next(&word));
        if (f->column + width > f->columns) {
            end_line(f);
            start_line(f, f->indent);
        }
        if (*start == *FIRM)
            brant_text_add(f->out, " ");
        else
            brant_text_add_bytes(f->out, start, (size_t)(word - start));
        f->column += width;
        f->at_start = false;
    }
}

static int width_between(const char *text, const char *end)
{
    int width = 0;
    while (text < end)
        width += code_width(brant_words_next(&text));
    return width;
}

void brant_fold(brant_text *out, const char *line, int columns, int indent, bool bold)
{
    folder f = {.out = out, .columns = columns, .indent = indent, .bold = bold};
    if (!line)
        return;
    start_line(&f, 0);
    while (*line) {
        size_t blanks = strspn(line, " ");
        const char *word = line + blanks;
        const char *end = word + strcspn(word, " ");
        int width = width_between(word, end);
        if (width == 0) /* blanks at the end */
            break;
        if (!f.at_start && f.column + (int)blanks + width > columns) {
            end_line(&f);
            start_line(&f, indent);
        } else {
            brant_text_add(out, "%*s", (int)blanks, "");
            f.column += (int)blanks;
        }
        add_word(&f, word, end);
        line = end;
    }
    end_line(&f);
}
