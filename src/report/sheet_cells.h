/* What the sheet says of a leg, in a cell of a table. A line end in it is one on paper. */
#ifndef BRANT_REPORT_SHEET_CELLS_H
#define BRANT_REPORT_SHEET_CELLS_H

#include "sheet.h"

typedef void (*brant_cell)(const brant_sheet *s, const brant_read_leg *leg, brant_text *out);

void brant_cell_kind(const brant_sheet *s, const brant_read_leg *leg, brant_text *out);
void brant_cell_km(const brant_sheet *s, const brant_read_leg *leg, brant_text *out);
/* Kilometres, and below them the hours that one comes there, planned and late. */
void brant_cell_place(const brant_sheet *s, const brant_read_leg *leg, brant_text *out);
/* The hours in and out: by the planned pace and by the late one. */
void brant_cell_planned(const brant_sheet *s, const brant_read_leg *leg, brant_text *out);
void brant_cell_late(const brant_sheet *s, const brant_read_leg *leg, brant_text *out);
/* Where one is oneself, and how steep it is at the steepest. */
void brant_cell_ground(const brant_sheet *s, const brant_read_leg *leg, brant_text *out);
/* The same in one line. */
void brant_cell_ground_line(const brant_sheet *s, const brant_read_leg *leg, brant_text *out);
/* Level and problems, below them the limit; and both in short. */
void brant_cell_level(const brant_sheet *s, const brant_read_leg *leg, brant_text *out);
void brant_cell_level_short(const brant_sheet *s, const brant_read_leg *leg, brant_text *out);
void brant_cell_sun(const brant_sheet *s, const brant_read_leg *leg, brant_text *out);
void brant_cell_wind(const brant_sheet *s, const brant_read_leg *leg, brant_text *out);
/* The slope that counts most, and all that hangs above; and the same in short. */
void brant_cell_above(const brant_sheet *s, const brant_read_leg *leg, brant_text *out);
void brant_cell_above_short(const brant_sheet *s, const brant_read_leg *leg, brant_text *out);
void brant_cell_below(const brant_sheet *s, const brant_read_leg *leg, brant_text *out);

#endif
