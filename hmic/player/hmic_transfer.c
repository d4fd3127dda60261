#include "hmic_display.h"
#include "hmic_sha256.h"

/* A pack that arrives (PROTOCOL.md, section 8). What is held stands in flash; nothing is kept of it here. */

enum {
    OFFER = 0x10,
    BLOCK = 0x11,
    FINISH = 0x12,
    DROP = 0x13,
    COMPARE = 0x18,
    SQUEEZED = 0x19,
    COPY = 0x1A,
    CONTINUE = 0x1B,
    NEED = 0x50,
    RESULT = 0x52,
    HASHES = 0x58,
    MOST_RUNS = 24,
    MOST_HASHES = 19, /* as many as make a body of 128 bytes */
    PIECE = 1024,
    SQUEEZED_UNITS = HMIC_UNPACKED / HMIC_UNIT,
    COPY_UNITS = 64,
    REPORT_AFTER = 20
};

enum { ACTIVATED, REFUSED, DIFFERS, NOT_ACTIVATED };

static void end(hmic_transfer *transfer, uint32_t number, uint8_t outcome)
{
    transfer->result_of = (uint8_t)number;
    transfer->outcome = outcome;
    transfer->has_result = transfer->result_due = true;
}

static void report(hmic_display *display, uint32_t after)
{
    hmic_transfer *transfer = &display->transfer;
    uint32_t at = display->now + after;
    if (!transfer->report_due || (int32_t)(at - transfer->report_at) < 0)
        transfer->report_at = at;
    transfer->report_due = true;
}

/* The first unit that is missing, the number of units if none is. */
static uint32_t first_missing(hmic_display *display)
{
    uint32_t *base = &display->transfer.base, units = hmic_store_units(&display->store);
    while (*base < units && hmic_store_has(&display->store, *base))
        ++*base;
    return *base;
}

static void take_offer(hmic_display *display, uint32_t number, uint32_t size, const uint8_t *digest, bool fresh)
{
    hmic_transfer *transfer = &display->transfer;
    if (transfer->offered && transfer->transfer == number && display->store.size == size &&
        !memcmp(transfer->digest, digest, sizeof transfer->digest)) {
        report(display, 0);
        return;
    }
    transfer->offered = false;
    if (!hmic_store_begin(&display->store, size, digest, fresh)) {
        end(transfer, number, REFUSED);
        return;
    }
    memcpy(transfer->digest, digest, sizeof transfer->digest);
    transfer->offered = true;
    transfer->transfer = (uint8_t)number;
    transfer->has_result = transfer->result_due = false;
    transfer->serial = 0;
    transfer->base = 0;
    report(display, 0);
}

/* Unpacks marks into `unpacked`; false if they are not just so many bytes. */
static bool unsqueeze(uint8_t *unpacked, uint32_t length, const uint8_t *at, const uint8_t *end_of)
{
    uint32_t made = 0;
    while (at < end_of) {
        uint32_t mark = *at++, size, back;
        if (mark < 0x80) {
            size = mark + 1;
            if (size > (uint32_t)(end_of - at) || size > length - made)
                return false;
            memcpy(unpacked + made, at, size);
            at += size;
            made += size;
            continue;
        }
        if (at == end_of)
            return false;
        size = (mark >> 2 & 31u) + 3;
        back = ((mark & 3u) << 8 | *at++) + 1;
        if (back > made || size > length - made)
            return false;
        for (; size; size--, made++)
            unpacked[made] = unpacked[made - back];
    }
    return made == length;
}

/* The bytes that `count` units from `unit` on are, 0 if there are none such. */
static uint32_t length_of(const hmic_display *display, uint32_t unit, uint32_t count, uint32_t most)
{
    uint32_t units = hmic_store_units(&display->store);
    if (!count || count > most || unit >= units || count > units - unit)
        return 0;
    return unit + count == units ? display->store.size - unit * HMIC_UNIT : count * HMIC_UNIT;
}

static void take_units(hmic_display *display, uint32_t kind, hmic_reader *reader)
{
    hmic_transfer *transfer = &display->transfer;
    uint32_t number = hmic_read_fixed(reader, 1), serial = hmic_read_fixed(reader, 1);
    uint32_t count = kind == BLOCK ? 0 : hmic_read_fixed(reader, 1), unit = hmic_read_number(reader, 0xFFFFFFFFu);
    uint32_t source = kind == COPY ? hmic_read_number(reader, 0xFFFFFFFFu) : 0, size, length;
    const uint8_t *data = reader->at;
    size = (uint32_t)(reader->end - data);
    if (reader->failed || (kind == COPY ? size > 0 : size == 0)) {
        display->dropped++;
        return;
    }
    if (!transfer->offered || transfer->transfer != number)
        return;
    transfer->serial = (uint8_t)serial;
    report(display, REPORT_AFTER);
    if (kind == BLOCK) {
        length = length_of(display, unit, (size + HMIC_UNIT - 1) / HMIC_UNIT, HMIC_MOST_BODY / HMIC_UNIT);
        if (length != size)
            length = 0;
    } else {
        /* what lies beyond the end of the pack is not sent */
        uint32_t units = hmic_store_units(&display->store);
        uint32_t most = kind == COPY ? COPY_UNITS : SQUEEZED_UNITS;
        if (count <= most && unit < units && count > units - unit)
            count = units - unit;
        length = length_of(display, unit, count, most);
    }
    if (!length)
        return;
    if (kind == SQUEEZED) {
        if (!unsqueeze(display->unpacked, length, data, reader->end))
            length = 0;
        data = display->unpacked;
    } else if (kind == COPY) {
        if (length <= display->store.size_in_use && source <= display->store.size_in_use - length)
            data = hmic_store_in_use(&display->store) + source;
        else
            length = 0;
    }
    hmic_store_keep(&display->store, unit, data, length);
    if (first_missing(display) == hmic_store_units(&display->store))
        report(display, 0);
}

static void send_result(hmic_display *display)
{
    hmic_transfer *transfer = &display->transfer;
    uint8_t body[3];
    body[0] = RESULT;
    body[1] = transfer->result_of;
    body[2] = transfer->outcome;
    transfer->result_due = !hmic_send(display, body, sizeof body, display->seal);
}

static void take_finish(hmic_display *display, uint32_t number)
{
    hmic_transfer *transfer = &display->transfer;
    uint8_t digest[32];
    hmic_pack pack;
    if (!transfer->offered || transfer->transfer != number) {
        transfer->result_due = transfer->has_result && transfer->result_of == number;
        return;
    }
    if (first_missing(display) < hmic_store_units(&display->store)) {
        report(display, 0);
        return;
    }
    transfer->offered = transfer->report_due = false;
    hmic_sha256(digest, hmic_store_arrived(&display->store), display->store.size);
    if (memcmp(digest, transfer->digest, sizeof digest) != 0) {
        hmic_store_discard(&display->store);
        end(transfer, number, DIFFERS);
    } else if (!hmic_acceptable(display, &pack, hmic_store_arrived(&display->store), display->store.size) ||
               !hmic_store_activate(&display->store, digest)) {
        end(transfer, number, NOT_ACTIVATED);
    } else {
        end(transfer, number, ACTIVATED);
        send_result(display);
        hmic_session_forget(display);
        hmic_load(display);
    }
}

void hmic_take_transfer(hmic_display *display, uint32_t kind, hmic_reader *reader)
{
    hmic_transfer *transfer = &display->transfer;
    uint32_t number, value = 0;
    const uint8_t *digest = reader->at;
    if (kind == BLOCK || kind == SQUEEZED || kind == COPY) {
        take_units(display, kind, reader);
        return;
    }
    number = hmic_read_fixed(reader, 1);
    if (kind != FINISH && kind != DROP)
        value = hmic_read_number(reader, 0xFFFFFFFFu);
    if (kind == OFFER || kind == CONTINUE)
        digest = hmic_read_bytes(reader, sizeof transfer->digest);
    if (!hmic_read_all(reader)) {
        display->dropped++;
        return;
    }
    switch (kind) {
    case OFFER:
    case CONTINUE:
        take_offer(display, number, value, digest, kind == OFFER);
        break;
    case COMPARE:
        transfer->compare_due = true;
        transfer->compare_of = (uint8_t)number;
        transfer->compare_first = value;
        break;
    case FINISH:
        take_finish(display, number);
        break;
    default: /* DROP */
        if (transfer->offered && transfer->transfer == number)
            transfer->offered = transfer->report_due = false;
        break;
    }
}

static bool send_need(hmic_display *display)
{
    const hmic_transfer *transfer = &display->transfer;
    uint32_t units = hmic_store_units(&display->store), unit = first_missing(display), runs = 0, begin;
    uint8_t body[16 + 5 * MOST_RUNS], *at = body, *cut;
    *at++ = NEED;
    *at++ = transfer->transfer;
    *at++ = transfer->serial;
    cut = at++;
    at = hmic_write_number(at, unit);
    /* missing and held in turn; the last run of missing ones is not told */
    while (unit < units && runs < MOST_RUNS) {
        bool held = runs % 2;
        for (begin = unit; unit < units && hmic_store_has(&display->store, unit) == held; unit++)
            continue;
        if (unit == units && !held)
            break;
        at = hmic_write_number(at, unit - begin);
        runs++;
    }
    *cut = runs == MOST_RUNS && unit < units;
    return hmic_send(display, body, (uint32_t)(at - body), display->seal);
}

static bool send_hashes(hmic_display *display)
{
    const hmic_transfer *transfer = &display->transfer;
    const uint8_t *pack = hmic_store_in_use(&display->store);
    uint32_t size = display->store.size_in_use, pieces = (size + PIECE - 1) / PIECE, number;
    uint32_t first = transfer->compare_first < pieces ? transfer->compare_first : pieces;
    uint8_t body[12 + 6 * MOST_HASHES], *at = body;
    *at++ = HASHES;
    *at++ = transfer->compare_of;
    at = hmic_write_number(at, size);
    at = hmic_write_number(at, first);
    for (number = first; number < pieces && number < first + MOST_HASHES; number++) {
        uint32_t left = size - number * PIECE, length = left < PIECE ? left : PIECE;
        at = hmic_write_fixed(at, hmic_crc32(0, pack + number * PIECE, length), 4);
        at = hmic_write_fixed(at, hmic_crc16(HMIC_PLAIN_SEAL, pack + number * PIECE, length), 2);
    }
    return hmic_send(display, body, (uint32_t)(at - body), display->seal);
}

void hmic_transfer_compose(hmic_display *display)
{
    hmic_transfer *transfer = &display->transfer;
    if (transfer->compare_due)
        transfer->compare_due = !send_hashes(display);
    if (transfer->result_due)
        send_result(display);
    if (transfer->report_due && transfer->offered && (int32_t)(display->now - transfer->report_at) >= 0)
        transfer->report_due = !send_need(display);
}
