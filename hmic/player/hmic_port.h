/* What a board must do for the player: ten functions and some facts.
 *
 * All are called from hmic_display_turn and hmic_display_start only, never from an interrupt, and never inside
 * each other. `board` is whatever the port gave; the player only hands it on. Where nothing is said a function
 * should return within 1 ms, since the line waits meanwhile. */
#ifndef HMIC_PORT_H
#define HMIC_PORT_H

#include "hmic_bytes.h"

typedef struct hmic_port {
    /* Bytes from the line that have come so far, at most `room`; does not wait. What comes while a whole frame is
       painted and pushed, or a sector erased, must be kept, by interrupt or DMA. */
    uint32_t (*read)(void *board, uint8_t *to, uint32_t room);
    /* Takes bytes for the line, as many as there is place for, and says how many; does not wait. */
    uint32_t (*write)(void *board, const uint8_t *from, uint32_t count);
    /* The line's rate from now on in Bd, 0 for the one it starts with. Waits until all that was written has left the
       wire. Called only if `fastest` is not 0. */
    void (*rate)(void *board, uint32_t baud);
    /* A clock that counts on and starts again at 0 after 2^32 ms. */
    uint32_t (*milliseconds)(void *board);
    /* 32 bits that are most likely others after each start: noise of a converter, a counter in flash. */
    uint32_t (*random)(void *board);
    /* Sets every bit of the sector that begins at `offset` of the flash. May take as long as the flash does, 0.05 to
       0.4 s; bytes from the line must still be kept, or the host sends them again. False: it failed. */
    bool (*erase)(void *board, uint32_t offset);
    /* Clears the bits that are clear in `data`, within one page. Returns once they are safe from a loss of power, and
       `flash` shows them. False: it failed. */
    bool (*program)(void *board, uint32_t offset, const uint8_t *data, uint32_t size);
    /* Puts pixels onto the panel: rows one after the other without gaps, a uint16_t each of 5-6-5 bits, or three bytes
       red, green, blue. Once it returns the same memory is painted anew: DMA must be done reading it, or have a copy. */
    void (*push)(void *board, uint16_t left, uint16_t top, uint16_t width, uint16_t height, const void *pixels);
    /* Whether a finger is on the glass, and where, in pixels. Debounced. */
    bool (*finger)(void *board, uint16_t *x, uint16_t *y);
    /* The backlight in percent. 0 is dark. */
    void (*backlight)(void *board, uint8_t percent);

    const uint8_t *flash; /* the flash for packs, where it can be read as memory */
    uint32_t flash_size;  /* bytes, whole sectors */
    uint32_t sector;      /* bytes erased at once, whole pages */
    uint32_t page;        /* bytes programmed at most at once, a multiple of 64 */
    uint32_t baud;        /* the rate in Bd that the line starts with */
    uint32_t fastest;     /* the highest rate in Bd that `rate` can set; 0 if it cannot */
    uint16_t width, height;
    uint8_t depth;  /* 16 or 24 */
    bool two_wires; /* both ends share the wires: answer only when given the turn */
} hmic_port;

#endif
