/* The table of circuits. Private to the room. */
#ifndef BRANT_REPORT_CIRCUITS_H
#define BRANT_REPORT_CIRCUITS_H

#include "table.h"

/* X(name, type, decimals), as in table.c. */
#define BRANT_CIRCUIT_LIST(X)                                                                      \
    X(route, TEXT, 0) X(file, TEXT, 0) X(status, TEXT, 0) X(length_m, REAL, 1)                     \
    X(climb_m, REAL, 0) X(descent_m, REAL, 0) X(hours, REAL, 2) X(hours_late, REAL, 2)             \
    X(unknown_m, REAL, 1) X(crosses_m, REAL, 1) X(over_band_m, REAL, 1) X(edge_m, REAL, 1)         \
    X(under_m, REAL, 1) X(remote_m, REAL, 1) X(none_found_m, REAL, 1) X(steepest_deg, REAL, 1)     \
    X(on_30_35_m, REAL, 1) X(on_35_40_m, REAL, 1) X(on_40_45_m, REAL, 1) X(on_over_45_m, REAL, 1)  \
    X(under_at_30_m, REAL, 1) X(under_at_25_m, REAL, 1) X(under_at_20_m, REAL, 1)                  \
    X(area_above_m2, REAL, 0) X(largest_face_m2, REAL, 0) X(unknown_above_m, REAL, 1)              \
    X(level, TEXT, 0) X(problems, TEXT, 0) X(over_limit_m, REAL, 1) X(limit_unknown_m, REAL, 1)    \
    X(sun_from, TEXT, 0) X(legs, INTEGER, 0) X(governing_leg, INTEGER, 0) X(governing, TEXT, 0)    \
    X(start_lon, REAL, 7) X(start_lat, REAL, 7) X(same_as, TEXT, 0)

#define BRANT_AS_CIRCUIT(name, type, decimals) CIRCUIT_##name,
enum { BRANT_CIRCUIT_LIST(BRANT_AS_CIRCUIT) CIRCUIT_COUNT };

extern const brant_table brant_circuit_table;

#endif
