/* Threads that a library starts by itself. */
#include <brant/base.h>

#include <pthread.h>
#include <stdlib.h>

static void *pass_gate(void *gate)
{
    pthread_mutex_lock(gate);
    pthread_mutex_unlock(gate);
    return NULL;
}

bool brant_spare_threads(int count)
{
    pthread_mutex_t gate = PTHREAD_MUTEX_INITIALIZER;
    pthread_t *threads = calloc(count < 1 ? 1 : (size_t)count, sizeof *threads);
    int started = 0;
    if (!threads)
        return false;
    pthread_mutex_lock(&gate); /* none ends before the last has started */
    while (started < count && pthread_create(&threads[started], NULL, pass_gate, &gate) == 0)
        started++;
    pthread_mutex_unlock(&gate);
    for (int i = 0; i < started; i++)
        pthread_join(threads[i], NULL);
    pthread_mutex_destroy(&gate);
    free(threads);
    return started >= count;
}
