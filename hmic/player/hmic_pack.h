/* The screen pack (FORMAT.md): checked once, then read in place. */
#ifndef HMIC_PACK_H
#define HMIC_PACK_H

#include "hmic_bytes.h"
#include "hmic_settings.h"

enum {
    HMIC_NONE = 0xFFFF, /* no channel, mask or map */
    HMIC_UNSEEN = 0,
    HMIC_STALE = 1,
    HMIC_OUT_OF_RANGE = 2,
    HMIC_LIVE = 3, /* raw value of step 0 */
    HMIC_SECTIONS = 19,
    HMIC_HEADER_SIZE = 64,
    HMIC_OPERATION_SIZE = 36,
    HMIC_FIGURE_SET_SIZE = 114,
    HMIC_LETTER_SET_SIZE = 32,
    HMIC_LETTER_SIZE = 8,
    HMIC_GLYPH_SIZE = 6,
    HMIC_CORNER_SIZE = 4,
    HMIC_SCREEN_SIZE = 24,
    HMIC_ZONE_SIZE = 8,
    HMIC_PLANE_SIZE = 16,
    HMIC_PICTURE_SIZE = 24,
    HMIC_MOST_CORNERS = 16
};

enum hmic_section {
    HMIC_NAMES = 1,
    HMIC_THEMES,
    HMIC_COLOURS,
    HMIC_CHANNELS,
    HMIC_MASKS,
    HMIC_MAPS,
    HMIC_PICTURES,
    HMIC_PLANES,
    HMIC_FIGURE_SETS,
    HMIC_LETTER_SETS,
    HMIC_LETTERS,
    HMIC_OUTLINES,
    HMIC_CORNERS,
    HMIC_GLYPHS,
    HMIC_SCREENS,
    HMIC_OPERATIONS,
    HMIC_SCREEN_CHANNELS,
    HMIC_ZONES,
    HMIC_BLOCK_HASHES
};

enum hmic_kind {
    HMIC_FILL = 1,
    HMIC_STENCIL,
    HMIC_RUN,
    HMIC_FRAME,
    HMIC_FIGURES,
    HMIC_REVEAL,
    HMIC_SLIDE,
    HMIC_POINTER,
    HMIC_TRACE,
    HMIC_FLOW,
    HMIC_PICTURE,
    HMIC_LETTER_ROW
};

enum hmic_axis { HMIC_RIGHTWARD, HMIC_LEFTWARD, HMIC_UPWARD, HMIC_DOWNWARD, HMIC_MAPPED };

/* Why a pack is refused; the numbers of FORMAT.md, Reading safely. */
enum hmic_fault {
    HMIC_SOUND = 0,
    HMIC_NOT_WHOLE = 1,
    HMIC_BAD_HEADER = 2,
    HMIC_DOES_NOT_FIT = 3,
    HMIC_BAD_SECTIONS = 4,
    HMIC_BAD_COUNTS = 5,
    HMIC_BAD_ORDER = 6,
    HMIC_BAD_RECORD = 7,
    HMIC_BAD_PLANE = 8
};

typedef struct hmic_pack {
    const uint8_t *data;
    uint32_t size;
    uint8_t depth, themes;
    uint16_t width, height, colours, channels, screens;
    uint32_t at[HMIC_SECTIONS + 1];      /* offset of each section, by its kind */
    uint32_t records[HMIC_SECTIONS + 1]; /* records of each section, by its kind */
} hmic_pack;

/* Checks all of FORMAT.md's list but what a display has; fills in `pack` and gives HMIC_SOUND, or says what
   is wrong. `marks` is memory for one bit a channel, used only meanwhile; with more channels than bits the
   pack does not fit. Time: that of reading every byte a few times. Recursion and heap: none. */
enum hmic_fault hmic_pack_check(hmic_pack *pack, const uint8_t *data, uint32_t size, uint8_t *marks,
                                uint32_t marks_size);

/* The channel whose value an operation shows, HMIC_NONE if it has none. */
uint32_t hmic_leading(const uint8_t *operation);

/* CRC-32/ISO-HDLC, from `crc` (0 at first) on over more bytes. */
uint32_t hmic_crc32(uint32_t crc, const uint8_t *data, uint32_t size);

static inline const uint8_t *hmic_record(const hmic_pack *pack, enum hmic_section section, uint32_t number,
                                         uint32_t size)
{
    return pack->data + pack->at[section] + number * size;
}

static inline uint32_t hmic_steps(const hmic_pack *pack, uint32_t channel)
{
    return hmic_u16(hmic_record(pack, HMIC_CHANNELS, channel, 2));
}

#endif
