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

/* What the records turn out to hold, and how far each list has been used. */
typedef struct tally {
    uint32_t name, letter, corner, glyph, operation, listed, zone; /* used so far */
    uint32_t plane, values;
    uint32_t widest, tallest, most_operations, most_listed, most_zones, kinds;
} tally;

uint32_t hmic_crc32(uint32_t crc, const uint8_t *data, uint32_t size)
{
    /* Four bits at a time: 64 bytes of table. */
    static const uint32_t table[16] = {0x00000000u, 0x1DB71064u, 0x3B6E20C8u, 0x26D930ACu,
                                       0x76DC4190u, 0x6B6B51F4u, 0x4DB26158u, 0x5005713Cu,
                                       0xEDB88320u, 0xF00F9344u, 0xD6D6A3E8u, 0xCB61B38Cu,
                                       0x9B64C2B0u, 0x86D3D2D4u, 0xA00AE278u, 0xBDBDF21Cu};
    crc = ~crc;
    while (size--) {
        crc ^= *data++;
        crc = crc >> 4 ^ table[crc & 15u];
        crc = crc >> 4 ^ table[crc & 15u];
    }
    return ~crc;
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
           zeros(data + 60, 4);
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

/* UTF-8 as RFC 3629 has it, without control characters. */
static bool text_sound(const uint8_t *at, uint32_t left)
{
    while (left) {
        uint32_t head = at[0], more, low = 0x80, high = 0xBF, place;
        if (head < 0x80)
            more = 0;
        else if (head >= 0xC2 && head <= 0xDF)
            more = 1;
        else if (head >= 0xE0 && head <= 0xEF)
            more = 2;
        else if (head >= 0xF0 && head <= 0xF4)
            more = 3;
        else
            return false;
        if (head < 0x20 || head == 0x7F || more >= left)
            return false;
        if (head == 0xC2 || head == 0xE0)
            low = 0xA0; /* C2: the control characters U+0080 to U+009F; E0: longer forms */
        if (head == 0xED)
            high = 0x9F; /* surrogates */
        if (head == 0xF0)
            low = 0x90;
        if (head == 0xF4)
            high = 0x8F;
        for (place = 1; place <= more; place++) {
            if (at[place] < low || at[place] > high)
                return false;
            low = 0x80;
            high = 0xBF;
        }
        at += more + 1;
        left -= more + 1;
    }
    return true;
}

static bool name_sound(const hmic_pack *pack, tally *so_far, const uint8_t *record)
{
    uint32_t offset = hmic_u32(record), length = hmic_u16(record + 4);
    if (offset != so_far->name || length < 1 || length > LONGEST_NAME ||
        length > pack->records[HMIC_NAMES] - offset)
        return false;
    so_far->name += length;
    return text_sound(pack->data + pack->at[HMIC_NAMES] + offset, length);
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
    if (width > so_far->widest)
        so_far->widest = width;
    if (height > so_far->tallest)
        so_far->tallest = height;
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
        if (hmic_u32(record + 4) != so_far->letter || count > LARGEST_STEPS - 1 ||
            count > pack->records[HMIC_LETTERS] - so_far->letter ||
            !glyphs_sound(pack, record + 8, 3, HMIC_LETTER_SIZE))
            return false;
        so_far->letter += count;
    }
    return so_far->letter == pack->records[HMIC_LETTERS] &&
           glyphs_sound(pack, pack->data + pack->at[HMIC_LETTERS], so_far->letter, HMIC_LETTER_SIZE) &&
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
        uint32_t each = hmic_u16(record), count = hmic_u16(record + 2);
        if (hmic_u32(record + 4) != so_far->corner || each < 3 || each > HMIC_MOST_CORNERS ||
            each * count > pack->records[HMIC_CORNERS] - so_far->corner)
            return false;
        for (polygon = 0; polygon < count; polygon++, so_far->corner += each)
            if (!convex(hmic_record(pack, HMIC_CORNERS, so_far->corner, HMIC_CORNER_SIZE), each))
                return false;
    }
    return so_far->corner == pack->records[HMIC_CORNERS];
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

/* A row of channels, each listed and with at most so many steps. */
static bool row_sound(const hmic_pack *pack, const uint8_t *marks, uint32_t first, uint32_t count,
                      uint32_t steps)
{
    for (; count; count--, first++)
        if (!listed(pack, marks, first) || hmic_steps(pack, first) > steps)
            return false;
    return true;
}

static bool figures_sound(const hmic_pack *pack, const uint8_t *record)
{
    uint32_t steps = hmic_steps(pack, hmic_u16(record + 20));
    uint32_t point = record[34];
    /* offset + scale x last step, in 64 bits: only here, where time does not matter */
    int64_t last = (int64_t)hmic_i32(record + 24) + (int64_t)hmic_i32(record + 28) * (int64_t)(steps - 1);
    return hmic_u16(record + 22) < pack->records[HMIC_FIGURE_SETS] && last >= -2147483647 - 1 &&
           last <= 2147483647 && record[32] <= MOST_PLACES && record[33] >= 1 && record[33] <= MOST_PLACES &&
           (point == 0 || (point >= 15 && point <= 17)) && record[35] <= MOST_PLACES;
}

static bool reveal_sound(const hmic_pack *pack, const uint8_t *record)
{
    uint32_t axis = record[22], mask = hmic_u16(record + 26), map = hmic_u16(record + 28);
    return axis <= HMIC_MAPPED && !record[23] && (mask == HMIC_NONE || mask < pack->records[HMIC_MASKS]) &&
           (map == HMIC_NONE ? axis != HMIC_MAPPED : map < pack->records[HMIC_MAPS]) &&
           hmic_u16(record + 32) >= 1 && zeros(record + 34, 2);
}

static bool pointer_sound(const hmic_pack *pack, const uint8_t *record)
{
    uint32_t outline = hmic_u16(record + 22);
    return outline < pack->records[HMIC_OUTLINES] && hmic_u16(record + 6) <= LARGEST_POINTER &&
           hmic_u16(record + 8) <= LARGEST_POINTER && zeros(record + 24, 12) &&
           hmic_steps(pack, hmic_u16(record + 20)) <=
               hmic_u16(hmic_record(pack, HMIC_OUTLINES, outline, 8) + 2);
}

static bool trace_sound(const hmic_pack *pack, const uint8_t *record, const uint8_t *marks, uint32_t *rows)
{
    uint32_t columns = hmic_u16(record + 22), head = hmic_u16(record + 24), levels = hmic_u16(record + 26);
    uint32_t thickness = hmic_u16(record + 28);
    if (columns < 1 || columns > hmic_u16(record + 6) || columns > LARGEST_SIDE || levels < 1 ||
        levels > LARGEST_STEPS || thickness < 1 || thickness > hmic_u16(record + 8) || !zeros(record + 30, 6))
        return false;
    *rows += columns;
    return *rows <= MOST_COLUMNS && listed(pack, marks, head) && hmic_steps(pack, head) <= columns &&
           row_sound(pack, marks, hmic_u16(record + 20), columns, levels);
}

static bool flow_sound(const hmic_pack *pack, const uint8_t *record)
{
    uint32_t pitch = hmic_u16(record + 26), mark = hmic_u16(record + 28);
    return record[22] < HMIC_MAPPED && !record[23] && pitch >= 1 && pitch <= LONGEST_PITCH && mark >= 1 &&
           mark <= pitch && zeros(record + 32, 4) &&
           (hmic_steps(pack, hmic_u16(record + 20)) - 1) * hmic_u16(record + 30) <= 3 * pitch;
}

static bool letter_row_sound(const hmic_pack *pack, const uint8_t *record, const uint8_t *marks,
                             uint32_t *rows)
{
    uint32_t count = hmic_u16(record + 22), set = hmic_u16(record + 24);
    if (count < 1 || set >= pack->records[HMIC_LETTER_SETS] || !zeros(record + 26, 10))
        return false;
    *rows += count;
    return *rows <= MOST_COLUMNS &&
           row_sound(pack, marks, hmic_u16(record + 20), count,
                     hmic_u16(hmic_record(pack, HMIC_LETTER_SETS, set, HMIC_LETTER_SET_SIZE) + 2) + 1u);
}

static bool tail_sound(const hmic_pack *pack, tally *so_far, const uint8_t *record, const uint8_t *marks,
                       uint32_t *rows)
{
    uint32_t mask = hmic_u16(record + 20), masks = pack->records[HMIC_MASKS];
    switch (record[0]) {
    case HMIC_FILL:
        return zeros(record + 20, 16);
    case HMIC_STENCIL:
    case HMIC_FRAME:
        return mask < masks && zeros(record + 22, 14);
    case HMIC_PICTURE:
        return mask < pack->records[HMIC_PICTURES] && zeros(record + 22, 14) && !hmic_u16(record + 10) &&
               hmic_u16(record + 12) == HMIC_NONE;
    case HMIC_RUN:
        if (hmic_u32(record + 20) != so_far->glyph ||
            hmic_u16(record + 24) > pack->records[HMIC_GLYPHS] - so_far->glyph)
            return false;
        so_far->glyph += hmic_u16(record + 24);
        return zeros(record + 26, 10);
    case HMIC_TRACE:
        return trace_sound(pack, record, marks, rows);
    case HMIC_LETTER_ROW:
        return letter_row_sound(pack, record, marks, rows);
    default:
        break;
    }
    if (!listed(pack, marks, hmic_u16(record + 20)))
        return false;
    switch (record[0]) {
    case HMIC_FIGURES:
        return figures_sound(pack, record);
    case HMIC_REVEAL:
        return reveal_sound(pack, record);
    case HMIC_SLIDE:
        return record[22] < HMIC_MAPPED && !record[23] && hmic_u16(record + 24) < masks &&
               zeros(record + 26, 10);
    case HMIC_POINTER:
        return pointer_sound(pack, record);
    default:
        return flow_sound(pack, record);
    }
}

static bool operation_sound(const hmic_pack *pack, tally *so_far, const uint8_t *record,
                            const uint8_t *marks, uint32_t *rows)
{
    static const uint8_t flags[HMIC_LETTER_ROW + 1] = {0, 0, 1, 0, 0, 3, 0, 0, 0, 0, 0, 0, 0};
    uint32_t kind = record[0], tint = hmic_u16(record + 12), when = hmic_u16(record + 14), steps = 1;
    if (kind < HMIC_FILL || kind > HMIC_LETTER_ROW || record[1] & ~flags[kind] || !box_sound(pack, record + 2))
        return false;
    so_far->kinds |= 1u << kind;
    if (tint != HMIC_NONE) {
        if (!listed(pack, marks, tint))
            return false;
        steps = hmic_steps(pack, tint);
    }
    if (kind != HMIC_PICTURE && hmic_u16(record + 10) + steps > pack->colours)
        return false;
    if (when == HMIC_NONE ? hmic_u32(record + 16) != 0
                          : !listed(pack, marks, when) || hmic_u16(record + 16) > hmic_u16(record + 18))
        return false;
    return tail_sound(pack, so_far, record, marks, rows);
}

static bool list_sound(const hmic_pack *pack, const tally *so_far, uint32_t count, uint8_t *marks)
{
    uint32_t place;
    memset(marks, 0, (size_t)(pack->channels + 7u) / 8);
    for (place = 0; place < count; place++) {
        uint32_t channel = hmic_u16(hmic_record(pack, HMIC_SCREEN_CHANNELS, so_far->listed + place, 2));
        if (channel >= pack->channels || listed(pack, marks, channel))
            return false;
        marks[channel >> 3] = (uint8_t)(marks[channel >> 3] | 1u << (channel & 7u));
    }
    return true;
}

static void note(uint32_t *most, uint32_t count)
{
    if (count > *most)
        *most = count;
}

static bool screen_sound(const hmic_pack *pack, tally *so_far, const uint8_t *record, uint8_t *marks)
{
    uint32_t operations = hmic_u16(record + 6), channels = hmic_u16(record + 16);
    uint32_t zones = hmic_u16(record + 18), rows = 0, place;
    if (!name_sound(pack, so_far, record) || hmic_u32(record + 8) != so_far->operation ||
        hmic_u32(record + 12) != so_far->listed || hmic_u32(record + 20) != so_far->zone ||
        operations > pack->records[HMIC_OPERATIONS] - so_far->operation ||
        channels > pack->records[HMIC_SCREEN_CHANNELS] - so_far->listed ||
        zones > pack->records[HMIC_ZONES] - so_far->zone)
        return false;
    note(&so_far->most_operations, operations);
    note(&so_far->most_listed, channels);
    note(&so_far->most_zones, zones);
    if (!list_sound(pack, so_far, channels, marks))
        return false;
    for (place = 0; place < operations; place++)
        if (!operation_sound(pack, so_far,
                             hmic_record(pack, HMIC_OPERATIONS, so_far->operation + place,
                                         HMIC_OPERATION_SIZE),
                             marks, &rows))
            return false;
    for (place = 0; place < zones; place++)
        if (!box_sound(pack, hmic_record(pack, HMIC_ZONES, so_far->zone + place, HMIC_ZONE_SIZE)))
            return false;
    so_far->operation += operations;
    so_far->listed += channels;
    so_far->zone += zones;
    return true;
}

static bool greatest_as_told(const hmic_pack *pack, const tally *so_far)
{
    const uint8_t *data = pack->data;
    return hmic_u16(data + 40) == so_far->widest && hmic_u16(data + 42) == so_far->tallest &&
           hmic_u16(data + 44) == so_far->most_operations && hmic_u16(data + 46) == so_far->most_listed &&
           hmic_u16(data + 48) == so_far->most_zones && hmic_u16(data + 50) == so_far->kinds;
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
    if (so_far.name != pack->records[HMIC_NAMES] || so_far.glyph != pack->records[HMIC_GLYPHS] ||
        so_far.operation != pack->records[HMIC_OPERATIONS] ||
        so_far.listed != pack->records[HMIC_SCREEN_CHANNELS] || so_far.zone != pack->records[HMIC_ZONES])
        return HMIC_BAD_ORDER;
    if (!planes_sound(pack, &so_far))
        return HMIC_BAD_PLANE;
    return greatest_as_told(pack, &so_far) ? HMIC_SOUND : HMIC_BAD_COUNTS;
}

enum hmic_fault hmic_pack_fits(const hmic_pack *pack, const hmic_limits *limits)
{
    bool fits = pack->width == limits->width && pack->height == limits->height &&
                pack->depth == limits->depth && pack->channels <= limits->channels &&
                !(hmic_u16(pack->data + 50) & ~HMIC_KINDS) &&
                pack->size <= limits->room;
    return fits ? HMIC_SOUND : HMIC_DOES_NOT_FIT;
}
