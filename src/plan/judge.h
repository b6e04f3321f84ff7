/* What a model's numbers mean for its use. Private to the room. */
#ifndef BRANT_PLAN_JUDGE_H
#define BRANT_PLAN_JUDGE_H

#include "brant/plan.h"

/* Fill the check's differences, reasons and fitness from the rest of it. */
brant_status brant_check_judge(brant_context *ctx, brant_check *check);

#endif
