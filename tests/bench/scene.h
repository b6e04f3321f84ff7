/* Ground with its zones, ready to be searched: for the benchmark and for tests that need
 * real or mountain-like ground. */
#ifndef BENCH_SCENE_H
#define BENCH_SCENE_H

#include "brant/runout.h"

typedef struct scene {
    brant_context ctx;
    brant_grid grid;
    brant_ground *ground;
    brant_source source;
    brant_flow *flow;
    brant_zone_set zones;
    float *z;             /* owned */
    brant_start *starts;  /* of all zones, zone by zone */
    size_t *first;        /* zone i's starts: first[i] .. first[i + 1] - 1 */
} scene;

/* Lay `z` (cols x rows cells of 10 m, NaN void; taken over) out on UTM zone 32 and number
 * its zones. False on failure, with the message in scene->ctx. */
bool scene_open(scene *s, float *z, int cols, int rows);
void scene_close(scene *s);

/* cols x rows cells of the demo's mountain, mirrored at its borders to fill them; NULL
 * when memory is short. */
float *scene_mountains(int cols, int rows);

#endif
