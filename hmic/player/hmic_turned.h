/* For a panel that is mounted turned: from the upright picture that the player paints to the panel's own pixels, and
 * back for fingers. `turned` is 0, 90, 180 or 270: degrees clockwise, as the driver sees it, from the way in which the
 * panel's own top edge is up. `width` and `height` are those of the upright picture. Only a port uses this. */
#ifndef HMIC_TURNED_H
#define HMIC_TURNED_H

#include <stdint.h>

typedef struct hmic_window {
    uint16_t left, top, width, height;
} hmic_window;

/* Where a part of the upright picture lies on the panel. */
static inline hmic_window hmic_turned_window(unsigned turned, uint16_t width, uint16_t height, hmic_window part)
{
    hmic_window on = part;
    if (turned == 90 || turned == 180)
        on.left = (uint16_t)(width - part.left - part.width);
    if (turned == 180 || turned == 270)
        on.top = (uint16_t)(height - part.top - part.height);
    if (turned == 90 || turned == 270) {
        hmic_window across = {on.top, on.left, part.height, part.width};
        on = across;
    }
    return on;
}

/* The number, among the pixels of such a part, of the one that stands at column x and row y of its window on the
 * panel: a port sends them row by row and needs no second copy. */
static inline uint32_t hmic_turned_pixel(unsigned turned, hmic_window part, uint16_t x, uint16_t y)
{
    uint32_t column = x, row = y;
    if (turned == 90)
        column = part.width - 1u - y, row = x;
    else if (turned == 180)
        column = part.width - 1u - x, row = part.height - 1u - y;
    else if (turned == 270)
        column = y, row = part.height - 1u - x;
    return row * part.width + column;
}

/* Where in the upright picture a finger is that the glass feels at x and y of the panel. */
static inline void hmic_upright_finger(unsigned turned, uint16_t width, uint16_t height, uint16_t *x, uint16_t *y)
{
    uint16_t across = *x, down = *y;
    if (turned == 90)
        *x = (uint16_t)(width - 1u - down), *y = across;
    else if (turned == 180)
        *x = (uint16_t)(width - 1u - across), *y = (uint16_t)(height - 1u - down);
    else if (turned == 270)
        *x = down, *y = (uint16_t)(height - 1u - across);
}

#endif
