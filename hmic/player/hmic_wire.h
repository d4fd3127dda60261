/* Frames, seals and numbers (PROTOCOL.md, sections 1 and 2). */
#ifndef HMIC_WIRE_H
#define HMIC_WIRE_H

#include "hmic_bytes.h"

enum { HMIC_MOST_BODY = 512, HMIC_MOST_STUFFED = 517, HMIC_PLAIN_SEAL = 0xFFFF };

/* CRC-16/IBM-3740, going on from `crc` over more bytes. */
uint32_t hmic_crc16(uint32_t crc, const uint8_t *data, uint32_t size);
uint32_t hmic_crc16_number(uint32_t crc, uint32_t number, uint32_t bytes);

/* What has come of the frame that is arriving. */
typedef struct hmic_line {
    uint8_t held[HMIC_MOST_STUFFED];
    uint16_t count;
    bool skipping;
} hmic_line;

/* Takes one byte. 0: no frame has ended; below 0: one that is none; else the length of a body, which stands at
   the start of `held` with its check of two bytes behind it until the next byte is taken. */
int32_t hmic_line_take(hmic_line *line, uint8_t byte);

/* Writes a frame of a body and its check, delimiter included, and gives its length: at most body + 4 for
   bodies up to 252 bytes. */
uint32_t hmic_frame(uint8_t *to, const uint8_t *body, uint32_t size, uint32_t seal);

/* Reads the fields of a body. What is not there makes it fail, and everything after it. */
typedef struct hmic_reader {
    const uint8_t *at, *end;
    bool failed;
} hmic_reader;

uint32_t hmic_read_fixed(hmic_reader *reader, uint32_t bytes);
uint32_t hmic_read_number(hmic_reader *reader, uint32_t limit);
const uint8_t *hmic_read_bytes(hmic_reader *reader, uint32_t count);

static inline bool hmic_read_all(const hmic_reader *reader) { return !reader->failed && reader->at == reader->end; }

uint8_t *hmic_write_fixed(uint8_t *to, uint32_t value, uint32_t bytes);
uint8_t *hmic_write_number(uint8_t *to, uint32_t value);

#endif
