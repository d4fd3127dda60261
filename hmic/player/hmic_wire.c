#include "hmic_wire.h"

uint32_t hmic_crc16(uint32_t crc, const uint8_t *data, uint32_t size)
{
    while (size--) {
        /* Eight bits at once, without a table: the polynomial is x^16 + x^12 + x^5 + 1. */
        uint32_t mixed = (crc >> 8 ^ *data++) & 0xFFu;
        mixed ^= mixed >> 4;
        crc = (crc << 8 ^ mixed << 12 ^ mixed << 5 ^ mixed) & 0xFFFFu;
    }
    return crc;
}

uint32_t hmic_crc16_number(uint32_t crc, uint32_t number, uint32_t bytes)
{
    uint8_t least[4];
    hmic_write_fixed(least, number, bytes);
    return hmic_crc16(crc, least, bytes);
}

/* Unstuffs `count` bytes in place, reduced or not; -1 if they are no stuffed form. */
static int32_t unstuffed(uint8_t *data, uint32_t count)
{
    uint32_t at = 0, made = 0;
    while (at < count) {
        uint32_t code = data[at], left = count - at - 1;
        uint32_t length = code - 1 < left ? code - 1 : left;
        memmove(data + made, data + at + 1, length);
        made += length;
        at += length + 1;
        if (length < code - 1)
            data[made++] = (uint8_t)code; /* reduced: the code is the last byte of data */
        else if (code != 0xFF && at < count)
            data[made++] = 0;
    }
    return (int32_t)made;
}

int32_t hmic_line_take(hmic_line *line, uint8_t byte)
{
    uint32_t count = line->count;
    int32_t made;
    if (byte) {
        if (line->skipping || count == HMIC_MOST_STUFFED) {
            line->skipping = true;
            line->count = 0;
        } else {
            line->held[line->count++] = byte;
        }
        return 0;
    }
    line->count = 0;
    if (line->skipping) {
        line->skipping = false;
        return -1;
    }
    if (!count)
        return 0;
    made = unstuffed(line->held, count);
    return made < 3 || made > HMIC_MOST_BODY + 2 ? -1 : made - 2;
}

/* Adds one byte of data to a frame whose last code byte is at *code. */
static uint8_t *stuff(uint8_t *to, uint8_t **code, uint8_t byte)
{
    if (**code == 0xFF) {
        *code = to++;
        **code = 1;
    }
    if (!byte) {
        *code = to++;
        **code = 1;
    } else {
        *to++ = byte;
        ++**code;
    }
    return to;
}

uint32_t hmic_frame(uint8_t *to, const uint8_t *body, uint32_t size, uint32_t seal)
{
    uint32_t check = hmic_crc16(seal, body, size), place;
    uint8_t *at = to + 1, *code = to;
    *code = 1;
    for (place = 0; place < size; place++)
        at = stuff(at, &code, body[place]);
    at = stuff(at, &code, (uint8_t)check);
    at = stuff(at, &code, (uint8_t)(check >> 8));
    if (*code > 1 && at[-1] >= *code)
        *code = *--at;
    *at++ = 0;
    return (uint32_t)(at - to);
}

const uint8_t *hmic_read_bytes(hmic_reader *reader, uint32_t count)
{
    const uint8_t *at = reader->at;
    if (reader->failed || count > (uint32_t)(reader->end - at)) {
        reader->failed = true;
        return reader->end;
    }
    reader->at += count;
    return at;
}

uint32_t hmic_read_fixed(hmic_reader *reader, uint32_t bytes)
{
    const uint8_t *at = hmic_read_bytes(reader, bytes);
    uint32_t value = 0, place;
    for (place = 0; !reader->failed && place < bytes; place++)
        value |= (uint32_t)at[place] << 8 * place;
    return value;
}

uint32_t hmic_read_number(hmic_reader *reader, uint32_t limit)
{
    uint32_t value = 0, shift, byte;
    for (shift = 0; shift < 35; shift += 7) {
        const uint8_t *at = hmic_read_bytes(reader, 1);
        if (reader->failed)
            return 0;
        byte = *at;
        if (shift == 28 && (byte & 0x7Fu) > 15)
            break; /* more than 32 bits */
        value |= (byte & 0x7Fu) << shift;
        if (byte < 0x80) {
            reader->failed = (!byte && shift) || value > limit;
            return reader->failed ? 0 : value;
        }
    }
    reader->failed = true;
    return 0;
}

uint8_t *hmic_write_fixed(uint8_t *to, uint32_t value, uint32_t bytes)
{
    for (; bytes; bytes--, value >>= 8)
        *to++ = (uint8_t)value;
    return to;
}

uint8_t *hmic_write_number(uint8_t *to, uint32_t value)
{
    for (; value > 0x7F; value >>= 7)
        *to++ = (uint8_t)(value | 0x80);
    *to++ = (uint8_t)value;
    return to;
}
