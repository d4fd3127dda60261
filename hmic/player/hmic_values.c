#include "hmic_display.h"

/* Values and belief (PROTOCOL.md, section 6). */

enum { PULSE = 0xFF, MOST_REFRESHED = 32, LARGEST = 0xFFFF };

static bool believed(const hmic_display *display, uint32_t place)
{
    return display->memory.believed[place >> 3] >> (place & 7u) & 1u;
}

static void believe(hmic_display *display, uint32_t place)
{
    uint8_t *byte = &display->memory.believed[place >> 3];
    *byte = (uint8_t)(*byte | 1u << (place & 7u));
}

static void doubt_all(hmic_display *display)
{
    memset(display->memory.believed, 0, (size_t)(display->count + 7u) / 8);
    display->values_due = true;
}

void hmic_values_reset(hmic_display *display, uint32_t count, uint32_t number, bool all_believed)
{
    display->count = (uint16_t)count;
    display->number = number;
    memset(display->memory.held, 0, count * sizeof *display->memory.held);
    memset(display->memory.believed, all_believed ? 0xFF : 0, (size_t)(count + 7) / 8);
    display->values_due = true;
}

bool hmic_values_doubtful(const hmic_display *display, uint32_t *first, uint32_t *end)
{
    uint32_t place;
    bool any = false;
    for (place = 0; place < display->count; place++)
        if (!believed(display, place)) {
            if (!any)
                *first = place;
            *end = place + 1;
            any = true;
        }
    return any;
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
                     display->count == listed && believed(display, place);
        display->memory.raw[channel] = shown ? display->memory.held[place] : HMIC_STALE;
    }
}

/* ---- changes: a string of bits, the most significant of a byte first ---- */

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

/* Reads ones up to a zero. False at the end of the bits; then `ones` is how many there were. */
static bool ones_to_zero(bits *from, uint32_t *ones)
{
    for (*ones = 0; from->at < from->end; ++*ones)
        if (!bit(from))
            return true;
    return false;
}

/* One item: how many positions are left out, and the change. False at the end, or if it fails. */
static bool next_item(bits *from, uint32_t width, uint32_t *skip, int32_t *change)
{
    uint32_t ones, size;
    if (!ones_to_zero(from, &ones)) {
        if (ones > 7)
            from->failed = true;
        return false;
    }
    *skip = ones << width | some_bits(from, width);
    if (!ones_to_zero(from, &size) || size > 15) {
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

/* Whether the body is a Change of at least one item for the list. */
static bool items_sound(const hmic_display *display, uint32_t size)
{
    uint32_t width, skip, place = 0, items = 0;
    int32_t change;
    bits from = items_of(display, size, &width);
    while (next_item(&from, width, &skip, &change)) {
        if (skip >= display->count - place)
            return false;
        place += skip + 1;
        items++;
    }
    return !from.failed && items;
}

static void apply_items(hmic_display *display, uint32_t size)
{
    uint32_t width, skip, place = 0;
    int32_t change;
    bits from = items_of(display, size, &width);
    while (next_item(&from, width, &skip, &change)) {
        int32_t value;
        place += skip;
        value = (int32_t)display->memory.held[place] + change;
        if (value < 0 || value > LARGEST) {
            doubt_all(display);
            return;
        }
        display->memory.held[place++] = (uint16_t)value;
    }
}

static uint32_t change_seal(const hmic_display *display, uint32_t number)
{
    uint32_t seal = hmic_crc16_number(display->seal, display->scene, 4), place;
    seal = hmic_crc16_number(seal, number, 4);
    for (place = 0; place < display->count; place++)
        seal = hmic_crc16_number(seal, display->memory.held[place], 2);
    return seal;
}

void hmic_take_change(hmic_display *display, uint32_t size)
{
    const uint8_t *body = display->line.held;
    bool pulse = size == 1 && *body == PULSE;
    uint32_t print, first, end;
    if (!display->sealed || !display->scene) {
        display->dropped++;
        return;
    }
    print = hmic_crc32(size, body, size + 2);
    if ((display->has_last && print == display->last_change) || hmic_values_doubtful(display, &first, &end))
        return;
    if ((!pulse && display->number == 0xFFFFFFFFu) ||
        hmic_crc16(change_seal(display, display->number + (pulse ? 0 : 1)), body, size) !=
            hmic_u16(body + size) ||
        (!pulse && !items_sound(display, size))) {
        display->dropped++;
        if (display->suspect || !pulse)
            doubt_all(display);
        display->suspect = pulse;
        return;
    }
    display->suspect = false;
    if (!pulse) {
        display->number++;
        apply_items(display, size);
        display->last_change = print;
        display->has_last = true;
        display->values_due = true;
    }
    hmic_alive(display);
}

void hmic_take_refresh(hmic_display *display, hmic_reader *reader)
{
    uint32_t scene = hmic_read_number(reader, 0xFFFFFFFFu), number = hmic_read_number(reader, 0xFFFFFFFFu);
    uint32_t first = hmic_read_number(reader, LARGEST), count = 0;
    hmic_reader values = *reader;
    bool fits = true;
    for (; !reader->failed && reader->at < reader->end; count++)
        if (hmic_read_number(reader, 0xFFFFFFFFu) > LARGEST)
            fits = false;
    if (!hmic_read_all(reader) || count > MOST_REFRESHED) {
        display->dropped++;
        return;
    }
    display->wants_show = display->wants_show || scene != display->scene;
    if (!display->has_show || scene != display->scene || number <= display->number)
        return;
    if (!fits || first + count > display->count) {
        display->dropped++;
        return;
    }
    if (number != display->number + 1)
        doubt_all(display);
    display->number = number;
    for (; count; count--, first++) {
        display->memory.held[first] = (uint16_t)hmic_read_number(&values, LARGEST);
        believe(display, first);
    }
    display->suspect = false;
    display->values_due = true;
    hmic_alive(display);
}
