#include "hmic_pack.h"

#include "hmic_planes.h"

enum {
    TABLE_END = HMIC_HEADER_SIZE + 16 * HMIC_SECTIONS,
    FIRST_SECTION = 384,
    ALIGNMENT = 64,
    CRC_AT = 16,
    LARGEST_PACK = 1 << 26,
    LARGEST_SIDE = 4096,
    LARGEST_VALUES = 1 << 24,
    LARGEST_STEPS = 65533,
    LARGEST_POINTER = 2048,
    FURTHEST_CORNER = 32767,
    LONGEST_NAME = 255,
    LONGEST_PITCH = 1024,
    MOST_PLACES = 16,
    MOST_RECORDS = 65534,
    MOST_COLUMNS = 65535
};

static const uint8_t record_sizes[HMIC_SECTIONS + 1] = {0,
                                                        1,
                                                        8,
                                                        3,
                                                        2,
                                                        HMIC_PLANE_SIZE,
                                                        HMIC_PLANE_SIZE,
                                                        HMIC_PICTURE_SIZE,
                                                        1,
                                                        HMIC_FIGURE_SET_SIZE,
                                                        HMIC_LETTER_SET_SIZE,
                                                        HMIC_LETTER_SIZE,
                                                        8,
                                                        HMIC_CORNER_SIZE,
                                                        HMIC_GLYPH_SIZE,
                                                        HMIC_SCREEN_SIZE,
                                                        HMIC_OPERATION_SIZE,
                                                        2,
                                                        HMIC_ZONE_SIZE,
                                                        4};

/* The greatest that is there, in the order of the header; the kinds are bits. */
enum greatest { WIDEST, TALLEST, MOST_OPERATIONS, MOST_LISTED, MOST_ZONES, KINDS, GREATEST };

/* What the records turn out to hold, and how far each list has been used. */
typedef struct tally {
    uint32_t most[GREATEST];
    uint32_t plane, values;
    uint32_t used[HMIC_ZONES + 1];
} tally;

uint32_t hmic_crc32(uint32_t crc, const uint8_t *data, uint32_t size)
{
    /* A bit at a time: no table, and still cheaper than the SHA-256 of the same bytes. */
    uint32_t bits;
    crc = ~crc;
    while (size--) {
        crc ^= *data++;
        for (bits = 8; bits; bits--)
            crc = crc >> 1 ^ (crc & 1u ? 0xEDB88320u : 0);
    }
    return ~crc;
}

static bool leads(uint32_t kind) { return kind >= HMIC_FIGURES && kind != HMIC_PICTURE; }

uint32_t hmic_leading(const uint8_t *operation)
{
    uint32_t kind = operation[0];
    return leads(kind) ? hmic_u16(operation + (kind == HMIC_TRACE ? 24 : 20)) : HMIC_NONE;
}

static bool zeros(const uint8_t *at, uint32_t count)
{
    while (count--)
        if (*at++)
            return false;
    return true;
}

static bool whole(const uint8_t *data, uint32_t size)
{
    static const uint8_t magic[8] = {0x68, 0x6D, 0x69, 0x63, 0xD9, 0x0A, 0x00, 0xFF};
    static const uint8_t none[4] = {0, 0, 0, 0};
    uint32_t crc;
    if (size < FIRST_SECTION || size > LARGEST_PACK || memcmp(data, magic, sizeof magic) != 0)
        return false;
    if (hmic_u16(data + 8) != 1 || hmic_u16(data + 10) != HMIC_HEADER_SIZE || hmic_u32(data + 12) != size)
        return false;
    crc = hmic_crc32(0, data, CRC_AT);
    crc = hmic_crc32(crc, none, sizeof none);
    return hmic_crc32(crc, data + CRC_AT + 4, size - CRC_AT - 4) == hmic_u32(data + CRC_AT);
}

static bool header_sound(hmic_pack *pack)
{
    static const uint8_t counts[] = {30, 32, 34, 36, 38, 54, 56, 58};
    const uint8_t *data = pack->data;
    uint32_t place;
    pack->width = (uint16_t)hmic_u16(data + 20);
    pack->height = (uint16_t)hmic_u16(data + 22);
    pack->depth = data[24];
    pack->themes = data[25];
    pack->colours = (uint16_t)hmic_u16(data + 28);
    pack->channels = (uint16_t)hmic_u16(data + 30);
    pack->screens = (uint16_t)hmic_u16(data + 38);
    for (place = 0; place < sizeof counts; place++)
        if (hmic_u16(data + counts[place]) > MOST_RECORDS)
            return false;
    return pack->width >= 1 && pack->width <= LARGEST_SIDE && pack->height >= 1 &&
           pack->height <= LARGEST_SIDE && (pack->depth == 16 || pack->depth == 24) && pack->themes >= 1 &&
           pack->colours >= 2 && hmic_u16(data + 26) < pack->screens && hmic_u16(data + 52) == HMIC_SECTIONS &&
           hmic_u16(data + 60) < pack->themes;
}

static bool sections_sound(hmic_pack *pack)
{
    uint32_t at = FIRST_SECTION, kind;
    if (!zeros(pack->data + TABLE_END, FIRST_SECTION - TABLE_END))
        return false;
    for (kind = 1; kind <= HMIC_SECTIONS; kind++) {
        const uint8_t *entry = pack->data + HMIC_HEADER_SIZE + 16 * (kind - 1);
        uint32_t length = hmic_u32(entry + 8), records = hmic_u32(entry + 12), filled;
        if (hmic_u16(entry) != kind || hmic_u16(entry + 2) || hmic_u32(entry + 4) != at)
            return false;
        if (length > pack->size - at || records != length / record_sizes[kind] || length % record_sizes[kind])
            return false;
        filled = (length + ALIGNMENT - 1) / ALIGNMENT * ALIGNMENT;
        if (filled > pack->size - at || !zeros(pack->data + at + length, filled - length))
            return false;
        pack->at[kind] = at;
        pack->records[kind] = records;
        at += filled;
    }
    return at == pack->size && !pack->records[HMIC_BLOCK_HASHES];
}

static bool counts_sound(const hmic_pack *pack)
{
    static const uint8_t places[][2] = {{HMIC_CHANNELS, 30},    {HMIC_MASKS, 32},   {HMIC_MAPS, 34},
                                        {HMIC_FIGURE_SETS, 36}, {HMIC_SCREENS, 38}, {HMIC_PICTURES, 54},
                                        {HMIC_LETTER_SETS, 56}, {HMIC_OUTLINES, 58}};
    uint32_t place;
    for (place = 0; place < sizeof places / sizeof *places; place++)
        if (pack->records[places[place][0]] != hmic_u16(pack->data + places[place][1]))
            return false;
    return pack->records[HMIC_THEMES] == pack->themes &&
           pack->records[HMIC_COLOURS] == (uint32_t)pack->themes * pack->colours;
}

/* Parts of a list follow each other: this one begins where the last one ended. */
static bool next_part(const hmic_pack *pack, tally *so_far, enum hmic_section section, uint32_t offset,
                      uint32_t count)
{
    uint32_t *used = &so_far->used[section];
    if (offset != *used || count > pack->records[section] - *used)
        return false;
    *used += count;
    return true;
}

static bool all_used(const hmic_pack *pack, const tally *so_far)
{
    static const uint8_t lists[] = {HMIC_NAMES,      HMIC_LETTERS,         HMIC_CORNERS, HMIC_GLYPHS,
                                    HMIC_OPERATIONS, HMIC_SCREEN_CHANNELS, HMIC_ZONES};
    uint32_t place;
    for (place = 0; place < sizeof lists; place++)
        if (so_far->used[lists[place]] != pack->records[lists[place]])
            return false;
    return true;
}

static void note(tally *so_far, enum greatest which, uint32_t count)
{
    if (count > so_far->most[which])
        so_far->most[which] = count;
}

/* UTF-8 as RFC 3629 has it, without control characters. */
static bool text_sound(const uint8_t *at, uint32_t left)
{
    static const uint32_t least[4] = {0x20, 0xA0, 0x800, 0x10000}; /* that so many further bytes may stand for */
    while (left--) {
        uint32_t first = *at++, value, number;
        uint32_t more = first >= 0xF0 ? 3 : first >= 0xE0 ? 2 : first >= 0xC0 ? 1 : 0;
        value = more ? first & 0x7Fu >> more : first;
        if (more > left || (!more && first >= 0x7F))
            return false;
        left -= more;
        for (number = more; number; number--, at++) {
            if (*at >> 6 != 2)
                return false;
            value = value << 6 | (*at & 0x3Fu);
        }
        if (value < least[more] || value > 0x10FFFF || value >> 11 == 0xD800 >> 11)
            return false;
    }
    return true;
}

static bool name_sound(const hmic_pack *pack, tally *so_far, const uint8_t *record)
{
    uint32_t offset = hmic_u32(record), length = hmic_u16(record + 4);
    return length >= 1 && length <= LONGEST_NAME && next_part(pack, so_far, HMIC_NAMES, offset, length) &&
           text_sound(pack->data + pack->at[HMIC_NAMES] + offset, length);
}

static bool themes_and_channels_sound(const hmic_pack *pack, tally *so_far)
{
    uint32_t number;
    for (number = 0; number < pack->themes; number++) {
        const uint8_t *record = hmic_record(pack, HMIC_THEMES, number, 8);
        if (!name_sound(pack, so_far, record) || record[6] > 100 || record[7])
            return false;
    }
    for (number = 0; number < pack->channels; number++) {
        uint32_t steps = hmic_steps(pack, number);
        if (steps < 1 || steps > LARGEST_STEPS)
            return false;
    }
    return true;
}

/* One run of data: where it must be, and decoded once. `height` is that of the rows that are coded. */
static bool data_sound(const hmic_pack *pack, tally *so_far, const uint8_t *place, uint32_t width,
                       uint32_t height, uint32_t form, bool mask)
{
    uint32_t offset = hmic_u32(place), length = hmic_u32(place + 4), room = pack->records[HMIC_PLANES];
    so_far->values += width * height;
    if (so_far->values > LARGEST_VALUES || offset > room || length > room - offset)
        return false;
    if (length && offset == so_far->plane) {
        uint32_t end = offset + length, filled = (end + 3) / 4 * 4;
        if (filled > room || !zeros(pack->data + pack->at[HMIC_PLANES] + end, filled - end))
            return false;
        so_far->plane = filled;
    } else if (offset % 4 || offset + length > so_far->plane || (offset && !length)) {
        return false;
    }
    return hmic_plane_sound(pack->data + pack->at[HMIC_PLANES] + offset, length, width, height, form, mask);
}

static bool size_sound(tally *so_far, const uint8_t *record)
{
    uint32_t width = hmic_u16(record), height = hmic_u16(record + 2);
    note(so_far, WIDEST, width);
    note(so_far, TALLEST, height);
    return width <= LARGEST_SIDE && height <= LARGEST_SIDE;
}

static bool picture_sound(const hmic_pack *pack, tally *so_far, const uint8_t *record)
{
    uint32_t width = hmic_u16(record), height = hmic_u16(record + 2);
    if (!size_sound(so_far, record) || hmic_u16(record + 6))
        return false;
    if (!data_sound(pack, so_far, record + 8, width, 2 * height, record[4], false))
        return false;
    if (record[5] == HMIC_NO_PLANE)
        return zeros(record + 16, 8);
    return width && height && data_sound(pack, so_far, record + 16, width, height, record[5], true);
}

static bool planes_sound(const hmic_pack *pack, tally *so_far)
{
    uint32_t number, kind;
    for (kind = HMIC_MASKS; kind <= HMIC_MAPS; kind++)
        for (number = 0; number < pack->records[kind]; number++) {
            const uint8_t *record = hmic_record(pack, (enum hmic_section)kind, number, HMIC_PLANE_SIZE);
            if (!size_sound(so_far, record) || record[5] || hmic_u16(record + 6) ||
                !data_sound(pack, so_far, record + 8, hmic_u16(record), hmic_u16(record + 2), record[4],
                            kind == HMIC_MASKS))
                return false;
        }
    for (number = 0; number < pack->records[HMIC_PICTURES]; number++)
        if (!picture_sound(pack, so_far, hmic_record(pack, HMIC_PICTURES, number, HMIC_PICTURE_SIZE)))
            return false;
    return so_far->plane == pack->records[HMIC_PLANES];
}

static bool glyphs_sound(const hmic_pack *pack, const uint8_t *first, uint32_t count, uint32_t apart)
{
    for (; count; count--, first += apart)
        if (hmic_u16(first) >= pack->records[HMIC_MASKS])
            return false;
    return true;
}

static bool letters_sound(const hmic_pack *pack, tally *so_far)
{
    uint32_t number;
    for (number = 0; number < pack->records[HMIC_FIGURE_SETS]; number++) {
        const uint8_t *record = hmic_record(pack, HMIC_FIGURE_SETS, number, HMIC_FIGURE_SET_SIZE);
        if (!glyphs_sound(pack, record + 6, 18, HMIC_GLYPH_SIZE))
            return false;
    }
    for (number = 0; number < pack->records[HMIC_LETTER_SETS]; number++) {
        const uint8_t *record = hmic_record(pack, HMIC_LETTER_SETS, number, HMIC_LETTER_SET_SIZE);
        uint32_t count = hmic_u16(record + 2);
        if (count > LARGEST_STEPS - 1 || !next_part(pack, so_far, HMIC_LETTERS, hmic_u32(record + 4), count) ||
            !glyphs_sound(pack, record + 8, 3, HMIC_LETTER_SIZE))
            return false;
    }
    return glyphs_sound(pack, pack->data + pack->at[HMIC_LETTERS], pack->records[HMIC_LETTERS],
                        HMIC_LETTER_SIZE) &&
           glyphs_sound(pack, pack->data + pack->at[HMIC_GLYPHS], pack->records[HMIC_GLYPHS],
                        HMIC_GLYPH_SIZE);
}

/* Every corner on or to the right of every edge, and not all on one line. All products fit 32 bits. */
static bool convex(const uint8_t *corners, uint32_t count)
{
    uint32_t edge, number;
    int32_t furthest = 0;
    for (number = 0; number < 2 * count; number++)
        if (hmic_u16(corners + 2 * number) > FURTHEST_CORNER)
            return false;
    for (edge = 0; edge < count; edge++) {
        const uint8_t *a = corners + 4 * edge, *b = corners + 4 * ((edge + 1) % count);
        int32_t ax = (int32_t)hmic_u16(a), ay = (int32_t)hmic_u16(a + 2);
        int32_t dx = (int32_t)hmic_u16(b) - ax, dy = (int32_t)hmic_u16(b + 2) - ay;
        for (number = 0; number < count; number++) {
            const uint8_t *corner = corners + 4 * number;
            int32_t side =
                dx * ((int32_t)hmic_u16(corner + 2) - ay) - dy * ((int32_t)hmic_u16(corner) - ax);
            if (side < 0)
                return false;
            furthest = hmic_most(furthest, side);
        }
    }
    return furthest > 0;
}

static bool outlines_sound(const hmic_pack *pack, tally *so_far)
{
    uint32_t number, polygon;
    for (number = 0; number < pack->records[HMIC_OUTLINES]; number++) {
        const uint8_t *record = hmic_record(pack, HMIC_OUTLINES, number, 8);
        uint32_t each = hmic_u16(record), count = hmic_u16(record + 2), first = hmic_u32(record + 4);
        if (each < 3 || each > HMIC_MOST_CORNERS || !next_part(pack, so_far, HMIC_CORNERS, first, each * count))
            return false;
        for (polygon = 0; polygon < count; polygon++, first += each)
            if (!convex(hmic_record(pack, HMIC_CORNERS, first, HMIC_CORNER_SIZE), each))
                return false;
    }
    return true;
}

static bool box_sound(const hmic_pack *pack, const uint8_t *box)
{
    return hmic_u16(box) + hmic_u16(box + 4) <= pack->width &&
           hmic_u16(box + 2) + hmic_u16(box + 6) <= pack->height;
}

/* The channels that a screen lists, a bit each. */
static bool listed(const hmic_pack *pack, const uint8_t *marks, uint32_t channel)
{
    return channel < pack->channels && marks[channel >> 3] >> (channel & 7u) & 1u;
}

/* What is checked of the screen at hand: the channels that it lists, and how many stand in rows. */
typedef struct listing {
    uint8_t *marks;
    uint32_t rows;
} listing;

/* The row of channels of a trace or of letters, each listed and with at most so many steps. */
static bool row_sound(const hmic_pack *pack, listing *screen, const uint8_t *record, uint32_t steps)
{
    uint32_t first = hmic_u16(record + 20), count = hmic_u16(record + 22);
    screen->rows += count;
    if (!count || screen->rows > MOST_COLUMNS)
        return false;
    for (; count; count--, first++)
        if (!listed(pack, screen->marks, first) || hmic_steps(pack, first) > steps)
            return false;
    return true;
}

static bool figures_sound(const hmic_pack *pack, const uint8_t *record, uint32_t steps)
{
    uint32_t point = record[34];
    /* offset + scale x last step, in 64 bits: only here, where time does not matter */
    int64_t last = (int64_t)hmic_i32(record + 24) + (int64_t)hmic_i32(record + 28) * (int64_t)(steps - 1);
    uint32_t set = hmic_u16(record + 22) + (record[1] >> 2); /* the flag for smaller decimals asks for one more */
    return set < pack->records[HMIC_FIGURE_SETS] && last >= -2147483647 - 1 && last <= 2147483647 &&
           record[32] <= MOST_PLACES && record[33] - 1u < MOST_PLACES &&
           (point == 0 || (point >= 15 && point <= 17)) && record[35] <= MOST_PLACES;
}

static bool reveal_sound(const hmic_pack *pack, const uint8_t *record)
{
    uint32_t mask = hmic_u16(record + 26), map = hmic_u16(record + 28);
    return (mask == HMIC_NONE || mask < pack->records[HMIC_MASKS]) &&
           (map == HMIC_NONE ? record[22] != HMIC_MAPPED : map < pack->records[HMIC_MAPS]) &&
           hmic_u16(record + 32) >= 1;
}

static bool pointer_sound(const hmic_pack *pack, const uint8_t *record, uint32_t steps)
{
    return hmic_u16(record + 6) <= LARGEST_POINTER && hmic_u16(record + 8) <= LARGEST_POINTER &&
           steps <= hmic_u16(hmic_record(pack, HMIC_OUTLINES, hmic_u16(record + 22), 8) + 2);
}

static bool trace_sound(const hmic_pack *pack, listing *screen, const uint8_t *record, uint32_t steps)
{
    uint32_t columns = hmic_u16(record + 22), levels = hmic_u16(record + 26), thickness = hmic_u16(record + 28);
    return columns <= hmic_u16(record + 6) && columns <= LARGEST_SIDE && levels - 1 < LARGEST_STEPS &&
           thickness - 1 < hmic_u16(record + 8) && steps <= columns && row_sound(pack, screen, record, levels);
}

static bool flow_sound(const uint8_t *record, uint32_t steps)
{
    uint32_t pitch = hmic_u16(record + 26);
    return pitch - 1 < LONGEST_PITCH && hmic_u16(record + 28) - 1 < pitch &&
           (steps - 1) * hmic_u16(record + 30) <= 3 * pitch;
}

static bool letter_row_sound(const hmic_pack *pack, listing *screen, const uint8_t *record)
{
    const uint8_t *set = hmic_record(pack, HMIC_LETTER_SETS, hmic_u16(record + 24), HMIC_LETTER_SET_SIZE);
    return row_sound(pack, screen, record, hmic_u16(set + 2) + 1u);
}

/* What the kinds have of their own. `steps`: of the channel that is shown. */
static bool kind_sound(const hmic_pack *pack, tally *so_far, listing *screen, const uint8_t *record,
                       uint32_t steps)
{
    switch (record[0]) {
    case HMIC_PICTURE:
        return !hmic_u16(record + 10) && hmic_u16(record + 12) == HMIC_NONE;
    case HMIC_RUN:
        return next_part(pack, so_far, HMIC_GLYPHS, hmic_u32(record + 20), hmic_u16(record + 24));
    case HMIC_FIGURES:
        return figures_sound(pack, record, steps);
    case HMIC_REVEAL:
        return reveal_sound(pack, record);
    case HMIC_POINTER:
        return pointer_sound(pack, record, steps);
    case HMIC_TRACE:
        return trace_sound(pack, screen, record, steps);
    case HMIC_FLOW:
        return flow_sound(record, steps);
    case HMIC_LETTER_ROW:
        return letter_row_sound(pack, screen, record);
    default:
        return true;
    }
}

static bool operation_sound(const hmic_pack *pack, tally *so_far, listing *screen, const uint8_t *record)
{
    /* By kind: flags, the greatest axis + 1, where what is not used begins, where the number of another record
       stands and of which section that is. */
    static const uint8_t facts[HMIC_LETTER_ROW + 1][5] = {
        [HMIC_FILL] = {0, 0, 20, 0, 0},
        [HMIC_STENCIL] = {1, 0, 22, 20, HMIC_MASKS},
        [HMIC_RUN] = {0, 0, 26, 0, 0},
        [HMIC_FRAME] = {0, 0, 22, 20, HMIC_MASKS},
        [HMIC_FIGURES] = {7, 0, 36, 22, HMIC_FIGURE_SETS},
        [HMIC_REVEAL] = {0, HMIC_MAPPED + 1, 34, 0, 0},
        [HMIC_SLIDE] = {0, HMIC_MAPPED, 26, 24, HMIC_MASKS},
        [HMIC_POINTER] = {0, 0, 24, 22, HMIC_OUTLINES},
        [HMIC_TRACE] = {0, 0, 30, 0, 0},
        [HMIC_FLOW] = {0, HMIC_MAPPED, 32, 0, 0},
        [HMIC_PICTURE] = {0, 0, 22, 20, HMIC_PICTURES},
        [HMIC_LETTER_ROW] = {0, 0, 26, 24, HMIC_LETTER_SETS},
    };
    uint32_t kind = record[0], tint = hmic_u16(record + 12), when = hmic_u16(record + 14), steps = 1;
    const uint8_t *fact;
    if (kind < HMIC_FILL || kind > HMIC_LETTER_ROW)
        return false;
    fact = facts[kind];
    if (record[1] & ~fact[0] || !box_sound(pack, record + 2) ||
        !zeros(record + fact[2], (uint32_t)HMIC_OPERATION_SIZE - fact[2]))
        return false;
    if (fact[1] && (record[22] >= fact[1] || record[23]))
        return false;
    if (fact[4] && hmic_u16(record + fact[3]) >= pack->records[fact[4]])
        return false;
    so_far->most[KINDS] |= 1u << kind;
    if (tint != HMIC_NONE) {
        if (!listed(pack, screen->marks, tint))
            return false;
        steps = hmic_steps(pack, tint);
    }
    if (kind != HMIC_PICTURE && hmic_u16(record + 10) + steps > pack->colours)
        return false;
    if (when == HMIC_NONE ? hmic_u32(record + 16) != 0
                          : !listed(pack, screen->marks, when) || hmic_u16(record + 16) > hmic_u16(record + 18))
        return false;
    steps = 1;
    if (leads(kind)) {
        if (!listed(pack, screen->marks, hmic_leading(record)))
            return false;
        steps = hmic_steps(pack, hmic_leading(record));
    }
    return kind_sound(pack, so_far, screen, record, steps);
}

static bool list_sound(const hmic_pack *pack, const uint8_t *channels, uint32_t count, uint8_t *marks)
{
    memset(marks, 0, (size_t)(pack->channels + 7u) / 8);
    for (; count; count--, channels += 2) {
        uint32_t channel = hmic_u16(channels);
        if (channel >= pack->channels || listed(pack, marks, channel))
            return false;
        marks[channel >> 3] = (uint8_t)(marks[channel >> 3] | 1u << (channel & 7u));
    }
    return true;
}

static bool screen_sound(const hmic_pack *pack, tally *so_far, const uint8_t *record, uint8_t *marks)
{
    uint32_t operations = hmic_u16(record + 6), channels = hmic_u16(record + 16), zones = hmic_u16(record + 18);
    uint32_t operation = hmic_u32(record + 8), channel = hmic_u32(record + 12), zone = hmic_u32(record + 20);
    listing screen;
    if (!name_sound(pack, so_far, record) || !next_part(pack, so_far, HMIC_OPERATIONS, operation, operations) ||
        !next_part(pack, so_far, HMIC_SCREEN_CHANNELS, channel, channels) ||
        !next_part(pack, so_far, HMIC_ZONES, zone, zones))
        return false;
    note(so_far, MOST_OPERATIONS, operations);
    note(so_far, MOST_LISTED, channels);
    note(so_far, MOST_ZONES, zones);
    if (!list_sound(pack, hmic_record(pack, HMIC_SCREEN_CHANNELS, channel, 2), channels, marks))
        return false;
    screen.marks = marks;
    screen.rows = 0;
    for (; operations; operations--, operation++)
        if (!operation_sound(pack, so_far, &screen,
                             hmic_record(pack, HMIC_OPERATIONS, operation, HMIC_OPERATION_SIZE)))
            return false;
    for (; zones; zones--, zone++)
        if (!box_sound(pack, hmic_record(pack, HMIC_ZONES, zone, HMIC_ZONE_SIZE)))
            return false;
    return true;
}

static bool greatest_as_told(const hmic_pack *pack, const tally *so_far)
{
    uint32_t which;
    for (which = 0; which < GREATEST; which++)
        if (hmic_u16(pack->data + 40 + 2 * which) != so_far->most[which])
            return false;
    return true;
}

enum hmic_fault hmic_pack_check(hmic_pack *pack, const uint8_t *data, uint32_t size, uint8_t *marks,
                                uint32_t marks_size)
{
    tally so_far;
    uint32_t number;
    memset(&so_far, 0, sizeof so_far);
    memset(pack, 0, sizeof *pack);
    if (!whole(data, size))
        return HMIC_NOT_WHOLE;
    pack->data = data;
    pack->size = size;
    if (!header_sound(pack))
        return HMIC_BAD_HEADER;
    if ((pack->channels + 7u) / 8 > marks_size)
        return HMIC_DOES_NOT_FIT;
    if (!sections_sound(pack))
        return HMIC_BAD_SECTIONS;
    if (!counts_sound(pack))
        return HMIC_BAD_COUNTS;
    if (!themes_and_channels_sound(pack, &so_far) || !letters_sound(pack, &so_far) ||
        !outlines_sound(pack, &so_far))
        return HMIC_BAD_RECORD;
    for (number = 0; number < pack->screens; number++)
        if (!screen_sound(pack, &so_far, hmic_record(pack, HMIC_SCREENS, number, HMIC_SCREEN_SIZE), marks))
            return HMIC_BAD_RECORD;
    if (!all_used(pack, &so_far))
        return HMIC_BAD_ORDER;
    if (!planes_sound(pack, &so_far))
        return HMIC_BAD_PLANE;
    return greatest_as_told(pack, &so_far) ? HMIC_SOUND : HMIC_BAD_COUNTS;
}
