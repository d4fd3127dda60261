#include "hmic_display.h"

/* Values, and what proves them (PROTOCOL.md, section 6). */

enum { FILL = 0x08, RESUME = 0x03, PULSE = 0xFF, LARGEST = 0xFFFF, MOST_ONES = 8 };

void hmic_values_reset(hmic_display *display, uint32_t count, uint32_t number)
{
    display->count = (uint16_t)count;
    display->number = number;
    display->place = display->late = 0;
    memset(display->memory.held, 0, count * sizeof *display->memory.held);
    display->asking = display->doubtful = false;
    display->values_due = true;
}

/* Brings what is held to what is shown, by the list of the screen in sight. */
void hmic_values_show(hmic_display *display)
{
    const hmic_pack *pack = &display->pack;
    const uint8_t *screen;
    uint32_t place, listed;
    display->values_due = false;
    if (!display->packed || !display->has_show)
        return;
    /* In silence even what no list names is stale: its sender is not there. */
    for (place = 0; display->state == HMIC_SILENT && place < pack->channels; place++)
        display->memory.raw[place] = HMIC_STALE;
    screen = hmic_record(pack, HMIC_SCREENS, display->screen, HMIC_SCREEN_SIZE);
    listed = hmic_u16(screen + 16);
    for (place = 0; place < listed; place++) {
        uint32_t channel = hmic_u16(hmic_record(pack, HMIC_SCREEN_CHANNELS, hmic_u32(screen + 12) + place, 2));
        bool shown = display->state == HMIC_SHOWING && display->shown_screen == display->screen &&
                     display->count == listed && !display->doubtful && place + display->late < listed;
        display->memory.raw[channel] = shown ? display->memory.held[place] : HMIC_STALE;
    }
}

/* ---- strings of bits, the most significant of a byte first ---- */

typedef struct bits {
    const uint8_t *data;
    uint32_t at, end;
    bool failed;
} bits;

static uint32_t bit(bits *from)
{
    uint32_t place = from->at;
    if (place >= from->end) {
        from->failed = true;
        return 0;
    }
    from->at++;
    return (uint32_t)from->data[place >> 3] >> (7 - (place & 7u)) & 1u;
}

static uint32_t some_bits(bits *from, uint32_t count)
{
    uint32_t value = 0;
    while (count--)
        value = value << 1 | bit(from);
    return value;
}

/* Reads ones up to a zero, or `most` of them. False at the end of the bits, which up to 7 ones may fill. */
static bool ones_to_zero(bits *from, uint32_t most, uint32_t *ones)
{
    for (*ones = 0; *ones < most; ++*ones) {
        if (from->at == from->end) {
            from->failed = from->failed || *ones > 7;
            return false;
        }
        if (!bit(from))
            return true;
    }
    return true;
}

/* A number in its high and its low part, or whole. False at the end, or if it fails. */
static bool parted(bits *from, uint32_t low, uint32_t *number)
{
    uint32_t ones;
    if (!ones_to_zero(from, MOST_ONES, &ones))
        return false;
    *number = ones < MOST_ONES ? ones << low | some_bits(from, low) : some_bits(from, 16);
    return true;
}

/* One item: how many positions are left out, and the change. False at the end, or if it fails. */
static bool next_item(bits *from, uint32_t width, uint32_t *skip, int32_t *change)
{
    uint32_t size;
    if (!parted(from, width, skip))
        return false;
    if (!ones_to_zero(from, from->end, &size) || size > 15) {
        from->failed = true;
        return false;
    }
    *change = (int32_t)(1u << size | some_bits(from, size));
    if (bit(from))
        *change = -*change;
    return !from->failed;
}

static bits items_of(const hmic_display *display, uint32_t size, uint32_t *width)
{
    static const uint8_t widths[4] = {0, 2, 4, 7};
    bits from;
    from.data = display->line.held;
    from.at = 1;
    from.end = 8 * size;
    from.failed = false;
    *width = widths[some_bits(&from, 2)];
    return from;
}

/* Whether the body is a Change of at least one item for the list, from which no value leaves its range; with
   `apply` it is made. */
static bool change(hmic_display *display, uint32_t size, bool apply)
{
    uint32_t width, skip, place = 0, items = 0;
    int32_t difference, value;
    bits from = items_of(display, size, &width);
    while (next_item(&from, width, &skip, &difference)) {
        if (skip >= display->count - place)
            return false;
        place += skip;
        value = (int32_t)display->memory.held[place] + difference;
        if (value < 0 || value > LARGEST)
            return false;
        if (apply)
            display->memory.held[place] = (uint16_t)value;
        place++;
        items++;
    }
    if (apply)
        display->place = (uint16_t)place;
    return !from.failed && items;
}

/* Whether the body is a Fill of at least one value for the list; with `apply` it is made. */
static bool fill(hmic_display *display, uint32_t size, bool apply)
{
    uint32_t place = display->place, begin, low, step, value;
    bits from;
    from.data = display->line.held;
    from.at = 8;
    from.end = 8 * size;
    from.failed = false;
    if (!bit(&from))
        place = some_bits(&from, 16);
    low = some_bits(&from, 4);
    if (from.failed || place >= display->count)
        return false;
    value = place ? display->memory.held[place - 1] : 0;
    begin = place;
    while (parted(&from, low, &step) && !from.failed) {
        if (place >= display->count)
            return false;
        value = (value + (step & 1 ? LARGEST - (step >> 1) : step >> 1)) & LARGEST;
        if (apply)
            display->memory.held[place] = (uint16_t)value;
        place++;
    }
    if (apply)
        display->place = (uint16_t)place;
    return !from.failed && place > begin;
}

static uint32_t value_seal(const hmic_display *display, uint32_t number)
{
    uint32_t seal = hmic_crc16_number(display->seal, display->scene, 4), place;
    seal = hmic_crc16_number(seal, number, 4);
    seal = hmic_crc16_number(seal, display->late, 2);
    for (place = 0; place < display->count; place++)
        seal = hmic_crc16_number(seal, display->memory.held[place], 2);
    return seal;
}

void hmic_ask(hmic_display *display)
{
    if (!display->scene || display->asking)
        return;
    display->asking = true;
    display->asked = false;
    display->asking_since = display->now;
}

/* The number that the frame in the line's memory has if it follows on what is held, and how many positions are
   late after it. False: none follows. */
static bool number_of(const hmic_display *display, uint32_t size, uint32_t *number, uint32_t *late)
{
    const uint8_t *body = display->line.held;
    hmic_reader reader;
    *late = display->late;
    if (size == 1 && *body == PULSE) {
        *number = display->number;
        return true;
    }
    *number = display->number + 1;
    if (*body != RESUME)
        return *number != 0;
    reader.at = body + 1;
    reader.end = body + size;
    reader.failed = false;
    *number = hmic_read_number(&reader, 0xFFFFFFFFu);
    *late = hmic_read_number(&reader, display->count);
    return hmic_read_all(&reader) && *number > display->number;
}

static bool makes(hmic_display *display, uint32_t size, bool apply)
{
    uint32_t kind = display->line.held[0];
    return kind == RESUME || (size == 1 && kind == PULSE) ||
           (kind == FILL ? fill(display, size, apply) : change(display, size, apply));
}

void hmic_take_values(hmic_display *display, uint32_t size)
{
    const uint8_t *body = display->line.held;
    uint32_t print, number, late;
    if (!display->sealed || !display->scene) {
        display->dropped++;
        return;
    }
    print = hmic_crc32(size, body, size + 2);
    if ((display->has_last && print == display->last_taken) || (display->asking && *body != RESUME))
        return;
    if (!number_of(display, size, &number, &late) ||
        hmic_crc16(value_seal(display, number), body, size) != hmic_u16(body + size) || !makes(display, size, false)) {
        display->dropped++;
        hmic_ask(display);
        return;
    }
    if (number != display->number) {
        makes(display, size, true);
        display->number = number;
        display->late = (uint16_t)late;
        display->last_taken = print;
        display->has_last = true;
        display->values_due = true;
    }
    if (display->doubtful)
        display->values_due = true;
    display->asking = display->doubtful = false;
    hmic_alive(display);
}
