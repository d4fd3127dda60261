/* Any bytes as a line, and any bytes as a body. Invariants of PLAYER.md that are held here:
   1, 2  nothing is read or written outside the frame's memory (AddressSanitizer): it is a block of its own;
   6     a frame is what was framed: the body that comes out is the one that went in, whatever came before it;
   9     numbers have one form: what is read, written again, gives the same bytes. */
#include "fuzz.h"

#include "hmic_wire.h"

/* The bytes of a body as numbers, as far as they are some. */
static void numbers(const uint8_t *body, uint32_t size)
{
    hmic_reader reader;
    uint8_t again[8];
    reader.at = body;
    reader.end = body + size;
    reader.failed = false;
    while (!reader.failed && reader.at < reader.end) {
        const uint8_t *at = reader.at;
        uint32_t number = hmic_read_number(&reader, 0xFFFFFFFFu);
        size_t length = (size_t)(reader.at - at);
        require(reader.at <= reader.end, "1: a number ends within its body");
        if (!reader.failed)
            require(hmic_write_number(again, number) == again + length && !memcmp(again, at, length),
                    "9: a number has one form");
    }
}

/* Frames a body, and takes it from a line on which something else came before. */
static void round_trip(hmic_line *line, const uint8_t *body, uint32_t size, uint32_t seal)
{
    uint8_t *framed = malloc(size + 5 + (size + 2) / 254), *kept = malloc(size);
    uint32_t length = hmic_frame(framed, body, size, seal), at;
    int32_t taken = 0;
    memcpy(kept, body, size);
    require(length <= size + 4 + (size + 2) / 254, "6: framing costs little");
    hmic_line_take(line, 0);
    for (at = 0; at < length; at++) {
        require(at + 1 == length || framed[at], "6: one delimiter, at the end");
        taken = hmic_line_take(line, framed[at]);
    }
    require(taken == (int32_t)size && !memcmp(line->held, kept, size), "6: what went in comes out");
    require(hmic_u16(line->held + size) == hmic_crc16(seal, kept, size), "6: its check behind it");
    free(framed);
    free(kept);
}

int LLVMFuzzerTestOneInput(const uint8_t *data, size_t size)
{
    hmic_line *line = malloc(sizeof *line);
    uint8_t body[HMIC_MOST_BODY];
    size_t at;
    memset(line, 0, sizeof *line);
    if (size && size <= HMIC_MOST_BODY)
        round_trip(line, data, (uint32_t)size, size > 1 ? hmic_u16(data) : 0xFFFF);
    for (at = 0; at < size; at++) {
        int32_t taken = hmic_line_take(line, data[at]);
        require(taken <= HMIC_MOST_BODY, "2: a body fits");
        if (taken > 0) {
            memcpy(body, line->held, (size_t)taken);
            numbers(body, (uint32_t)taken);
            round_trip(line, body, (uint32_t)taken, 0);
        }
    }
    free(line);
    return 0;
}
