#include "hmic_planes.h"

enum { ROWS_PER_START = 16, ONE = 0x80, SOME = 0x90, AGAIN = 0xFF, FULL = 0x40, ALIKE = 64, UNUSED = 128 };

/* The length in bytes of a piece of a row by its first byte, and the pixels that it stands for. */
static uint32_t piece(uint32_t head, bool mask, uint32_t *pixels)
{
    if (mask && head < ONE) {
        *pixels = head % ALIKE + 1;
        return 1;
    }
    if (mask && head < SOME) {
        *pixels = 1;
        return 1;
    }
    if (mask) {
        *pixels = head - SOME + 2;
        return 1 + (*pixels + 1) / 2;
    }
    if (head < UNUSED) {
        *pixels = head + 1;
        return 2 + head;
    }
    *pixels = 257 - head;
    return 2;
}

static uint32_t plain_row(uint32_t width, bool mask) { return mask ? (width + 1) / 2 : width; }

static const uint8_t *after_row(const hmic_rows *rows, const uint8_t *at)
{
    uint32_t done = 0, pixels;
    while (done < rows->width) {
        at += piece(*at, rows->mask, &pixels);
        done += pixels;
    }
    return at;
}

static const uint8_t *step(hmic_rows *rows)
{
    const uint8_t *at = rows->at;
    bool again = rows->mask && rows->next % ROWS_PER_START && *at == AGAIN;
    rows->next++;
    if (again) {
        rows->at = at + 1;
        return rows->coded;
    }
    rows->at = after_row(rows, at);
    return rows->coded = at;
}

/* Where the code of a row begins. The row exists and has pixels. */
const uint8_t *hmic_rows_seek(hmic_rows *rows, uint32_t row)
{
    const uint8_t *code;
    if (rows->form == HMIC_NO_PLANE)
        return rows->data;
    if (rows->form == HMIC_PLAIN)
        return rows->data + row * plain_row(rows->width, rows->mask);
    if (row < rows->next || row / ROWS_PER_START > rows->next / ROWS_PER_START) {
        uint32_t group = row / ROWS_PER_START;
        uint32_t start = 4 * ((rows->height - 1) / ROWS_PER_START);
        rows->next = group * ROWS_PER_START;
        rows->at = rows->data + (group ? hmic_u32(rows->data + 4 * (group - 1)) : start);
    }
    do
        code = step(rows);
    while (rows->next <= row);
    return code;
}

bool hmic_next_run(hmic_runs *runs, hmic_run *run)
{
    if (!runs->left)
        return false;
    if (runs->form != HMIC_RUNS) {
        run->kind = runs->form == HMIC_PLAIN ? HMIC_SOFT : HMIC_FULL;
        run->soft = runs->at;
        run->count = runs->left;
    } else {
        uint32_t head = *runs->at;
        run->kind = head >= ONE ? HMIC_SOFT : head & FULL ? HMIC_FULL : HMIC_CLEAR;
        run->soft = head < SOME ? runs->at : runs->at + 1; /* one pixel: its coverage is in the low half */
        runs->at += piece(head, true, &run->count);
    }
    runs->left -= run->count;
    return true;
}

static void begin_piece(hmic_values *values)
{
    uint32_t head = *values->at++;
    values->alike = head > UNUSED;
    values->count = values->alike ? 257 - head : head + 1;
}

uint32_t hmic_next_value(hmic_values *values)
{
    uint32_t value;
    if (!values->count)
        begin_piece(values);
    value = *values->at;
    if (!--values->count || !values->alike)
        values->at++;
    return value;
}

void hmic_skip_values(hmic_values *values, uint32_t count)
{
    uint32_t now;
    for (; count; count -= now) {
        if (!values->count)
            begin_piece(values);
        now = count < values->count ? count : values->count;
        values->count -= now;
        if (!values->alike)
            values->at += now;
        else if (!values->count)
            values->at++;
    }
}

static bool plain_sound(const uint8_t *data, uint32_t size, uint32_t width, uint32_t height, bool mask)
{
    uint32_t row = plain_row(width, mask), number;
    if (size != row * height)
        return false;
    if (mask && width & 1u)
        for (number = 1; number <= height; number++)
            if (data[number * row - 1] >> 4)
                return false;
    return true;
}

/* One row from `*at` on, up to `size`: moves `*at` behind it. */
static bool row_sound(const uint8_t *data, uint32_t *at, uint32_t size, uint32_t width, bool mask)
{
    uint32_t done = 0, pixels, length, head;
    while (done < width) {
        if (*at >= size)
            return false;
        head = data[*at];
        if (head == (mask ? (uint32_t)AGAIN : (uint32_t)UNUSED))
            return false;
        length = piece(head, mask, &pixels);
        if (length > size - *at)
            return false;
        *at += length;
        if (mask && head >= SOME && pixels & 1u && data[*at - 1] >> 4)
            return false;
        done += pixels;
    }
    return done == width;
}

bool hmic_plane_sound(const uint8_t *data, uint32_t size, uint32_t width, uint32_t height, uint32_t form,
                      bool mask)
{
    uint32_t row, at;
    if (!width || !height)
        return form == HMIC_PLAIN && !size;
    if (form == HMIC_PLAIN)
        return plain_sound(data, size, width, height, mask);
    if (form != (mask ? (uint32_t)HMIC_RUNS : (uint32_t)HMIC_PACKBITS))
        return false;
    at = 4 * ((height - 1) / ROWS_PER_START);
    if (at > size)
        return false;
    for (row = 0; row < height; row++) {
        bool first = row % ROWS_PER_START == 0;
        if (first && row && hmic_u32(data + 4 * (row / ROWS_PER_START - 1)) != at)
            return false;
        if (mask && !first && at < size && data[at] == AGAIN)
            at++;
        else if (!row_sound(data, &at, size, width, mask))
            return false;
    }
    return at == size;
}
