/* Coded planes (FORMAT.md): rows of masks and maps, read in place a piece at a time. */
#ifndef HMIC_PLANES_H
#define HMIC_PLANES_H

#include "hmic_pack.h"

enum { HMIC_PLAIN = 0, HMIC_RUNS = 1, HMIC_PACKBITS = 2, HMIC_NO_PLANE = 255 /* a mask that covers all */ };

/* A plane, and a place in it once hmic_rows_begin was called. Rows are cheapest from top to bottom. */
typedef struct hmic_rows {
    const uint8_t *data; /* of the plane */
    bool mask;           /* 4 bits a pixel, else 8 */
    uint32_t width, height, form;
    uint32_t next;        /* the row that `at` leads to */
    const uint8_t *at;    /* where the code of row `next` begins */
    const uint8_t *coded; /* the code of the last row that has one */
} hmic_rows;

/* A piece of a row of a mask. */
typedef struct hmic_run {
    uint32_t count;
    enum { HMIC_CLEAR, HMIC_FULL, HMIC_SOFT } kind;
    const uint8_t *soft; /* two coverages a byte, the left one low */
} hmic_run;

typedef struct hmic_runs {
    const uint8_t *at;
    uint32_t left, form; /* left: pixels to come */
} hmic_runs;

/* The values of a row of a map, one after the other. */
typedef struct hmic_values {
    const uint8_t *at;
    uint32_t count; /* of this piece, still to come; a plain row is one piece */
    bool alike;
} hmic_values;

static inline void hmic_rows_begin(hmic_rows *rows) { rows->next = rows->height; }

const uint8_t *hmic_rows_seek(hmic_rows *rows, uint32_t row);

bool hmic_next_run(hmic_runs *runs, hmic_run *run);
uint32_t hmic_next_value(hmic_values *values);
void hmic_skip_values(hmic_values *values, uint32_t count);

static inline uint32_t hmic_coverage(const uint8_t *soft, uint32_t place)
{
    return (uint32_t)soft[place >> 1] >> ((place & 1u) * 4u) & 15u;
}

/* Whether `size` bytes are exactly the plane: it ends with them, and its row starts are right. */
bool hmic_plane_sound(const uint8_t *data, uint32_t size, uint32_t width, uint32_t height, uint32_t form,
                      bool mask);

#endif
