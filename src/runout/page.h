#ifndef BRANT_RUNOUT_PAGE_H
#define BRANT_RUNOUT_PAGE_H

#include "flow.h"

brant_status brant_page_compute(brant_context *ctx, brant_source *source,
                                const brant_ground *ground, int pcol, int prow,
                                flow_page *page);

#endif
