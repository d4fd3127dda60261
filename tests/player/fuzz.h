/* What the fuzz targets share. With HMIC_FUZZER libFuzzer calls them; else a program replays files of rows, each row a
   u32 length and as many bytes; a target with OWN_MAIN does so itself. */
#ifndef FUZZ_H
#define FUZZ_H

#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include "hmic_bytes.h"

int LLVMFuzzerTestOneInput(const uint8_t *data, size_t size);

static inline void require(int holds, const char *what)
{
    if (!holds) {
        fprintf(stderr, "invariant broken: %s\n", what);
        abort();
    }
}

/* A file's bytes in a block of the heap. */
static inline uint8_t *whole(const char *path, size_t *size)
{
    FILE *file = fopen(path, "rb");
    uint8_t *data;
    long end;
    if (!file || fseek(file, 0, SEEK_END) || (end = ftell(file)) < 0 || fseek(file, 0, SEEK_SET))
        exit(1);
    *size = (size_t)end;
    data = malloc(*size ? *size : 1);
    if (fread(data, 1, *size, file) != *size)
        exit(1);
    fclose(file);
    return data;
}

/* Each row of a file to the target, in a block of just its size. */
static inline void replay(const char *path)
{
    size_t at = 0, size;
    uint8_t *data = whole(path, &size);
    while (at + 4 <= size) {
        size_t length = hmic_u32(data + at);
        uint8_t *row = malloc(length ? length : 1);
        require(length <= size - at - 4, "the file's rows are whole");
        memcpy(row, data + at + 4, length);
        LLVMFuzzerTestOneInput(row, length);
        free(row);
        at += 4 + length;
    }
    free(data);
}

#if !defined HMIC_FUZZER && !defined OWN_MAIN
int main(int count, char **names)
{
    for (; count > 1; count--)
        replay(names[count - 1]);
    return 0;
}
#endif

#endif
