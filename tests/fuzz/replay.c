/* A fuzz target as an ordinary test: it is given each file of a corpus in turn, and what is left
 * of each when it is cut off at a few places. */
#include "fuzz.h"

#include <dirent.h>

#define LIMIT ((size_t)1 << 20)
#define CUTS 16

static void replay(const char *folder, const char *name)
{
    char path[4096];
    static uint8_t data[LIMIT];
    snprintf(path, sizeof path, "%s/%s", folder, name);
    FILE *file = fopen(path, "rb");
    FUZZ_CHECK(file);
    size_t size = fread(data, 1, LIMIT, file);
    FUZZ_CHECK(!ferror(file) && size < LIMIT);
    fclose(file);
    fprintf(stderr, "%s, %zu bytes\n", name, size);
    LLVMFuzzerTestOneInput(data, size);
    for (size_t i = 0; i < CUTS; i++)
        LLVMFuzzerTestOneInput(data, size * i / CUTS);
}

int main(int argc, char **argv)
{
    int files = 0;
    FUZZ_CHECK(argc == 2);
    DIR *folder = opendir(argv[1]);
    FUZZ_CHECK(folder);
    for (struct dirent *entry; (entry = readdir(folder));)
        if (entry->d_name[0] != '.') {
            replay(argv[1], entry->d_name);
            files++;
        }
    closedir(folder);
    FUZZ_CHECK(files > 0);
    return 0;
}
