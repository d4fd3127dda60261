/* Operations to pixels (PIXELS.md), any part of the panel at a time. */
#ifndef HMIC_PAINT_H
#define HMIC_PAINT_H

#include "hmic_pack.h"

/* Pixels left <= x < right, top <= y < bottom of the panel. */
typedef struct hmic_area {
    int32_t left, top, right, bottom;
} hmic_area;

/* What is shown. `raw` has one value for each channel of the pack. */
typedef struct hmic_moment {
    uint16_t screen, theme;
    const uint16_t *raw;
    uint32_t clock; /* milliseconds, of which flashes and flows live */
} hmic_moment;

enum { HMIC_MOST_AREAS = 8 };

/* A few areas that together hold all that changed. */
typedef struct hmic_areas {
    uint32_t count;
    hmic_area list[HMIC_MOST_AREAS];
} hmic_areas;

/* Paints an area, which lies within the panel and is not empty, of a moment of a sound pack. `pixels` takes
   its rows one after the other without gaps: with a depth of 16 a uint16_t each, with 24 the bytes red, green,
   blue. */
void hmic_paint(const hmic_pack *pack, const hmic_moment *moment, hmic_area area, void *pixels);

/* Adds to `areas` all that may differ between two moments of the same screen and theme. */
void hmic_changed(const hmic_pack *pack, const hmic_moment *before, const hmic_moment *after,
                  hmic_areas *areas);

/* Adds one area: to one of the list where little is lost by it, in its own place, or where least is lost. */
void hmic_areas_add(hmic_areas *areas, const hmic_area *added);

static inline uint32_t hmic_pixel_size(const hmic_pack *pack) { return pack->depth == 16 ? 2 : 3; }

#endif
