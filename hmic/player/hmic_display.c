#include "hmic_display.h"

#include "hmic_sha256.h"

enum { READ_AT_ONCE = 128, MOST_CHANNELS = 8 * HMIC_UNPACKED };

bool hmic_acceptable(hmic_display *display, hmic_pack *pack, const uint8_t *data, uint32_t size)
{
    const hmic_port *port = display->port;
    return hmic_pack_check(pack, data, size, display->unpacked, sizeof display->unpacked) == HMIC_SOUND &&
           pack->width == port->width && pack->height == port->height && pack->depth == port->depth &&
           pack->channels <= display->memory.channels && size <= display->store.capacity &&
           !(hmic_u16(data + 50) & ~HMIC_KINDS);
}

/* Takes up the pack in use, or none. */
void hmic_load(hmic_display *display)
{
    const hmic_port *port = display->port;
    const hmic_store *store = &display->store;
    uint32_t channel;
    display->packed = store->size_in_use && hmic_acceptable(display, &display->pack, hmic_store_in_use(store),
                                                            store->size_in_use);
    display->screen = display->theme = 0;
    display->brightness = 100;
    display->painted = display->has_show = false;
    if (display->packed) {
        display->screen = (uint16_t)hmic_u16(display->pack.data + 26);
        display->theme = (uint16_t)hmic_u16(display->pack.data + 60);
        display->brightness = hmic_record(&display->pack, HMIC_THEMES, display->theme, 8)[6];
        for (channel = 0; channel < display->pack.channels; channel++)
            display->memory.raw[channel] = HMIC_UNSEEN;
    }
    port->backlight(display->board, display->brightness);
}

bool hmic_display_start(hmic_display *display, const hmic_port *port, void *board, const hmic_memory *memory)
{
    uint32_t pixel = port->depth == 16 ? 2 : 3;
    memset(display, 0, sizeof *display);
    display->port = port;
    display->board = board;
    display->memory = *memory;
    if (!port->width || !port->height || memory->channels > MOST_CHANNELS ||
        memory->pixels_size < port->width * pixel || !hmic_store_start(&display->store, port, board))
        return false;
    display->nonce = port->random(board);
    display->now = port->milliseconds(board);
    display->beat_due = true;
    hmic_load(display);
    return true;
}

bool hmic_display_install(hmic_display *display, const uint8_t *data, uint32_t size)
{
    hmic_store *store = &display->store;
    uint8_t digest[32];
    hmic_pack pack;
    if (display->packed && store->size_in_use == size && !memcmp(hmic_store_in_use(store), data, size))
        return true;
    if (!hmic_acceptable(display, &pack, data, size))
        return false;
    hmic_sha256(digest, data, size);
    if (!hmic_store_begin(store, size, digest, true))
        return false;
    hmic_store_keep(store, 0, data, size);
    if (memcmp(hmic_store_arrived(store), data, size) != 0 || !hmic_store_activate(store, digest))
        return false;
    hmic_session_forget(display);
    hmic_load(display);
    return true;
}

void hmic_display_receive(hmic_display *display, const uint8_t *data, uint32_t size, uint32_t now)
{
    display->now = now;
    if (size)
        display->fed_at = now;
    for (; size; size--) {
        int32_t body = hmic_line_take(&display->line, *data++);
        if (body < 0) {
            display->dropped++;
            hmic_ask(display);
        } else if (body > 0)
            hmic_take_frame(display, (uint32_t)body);
    }
}

static void read_line(hmic_display *display)
{
    uint8_t data[READ_AT_ONCE];
    uint32_t count = display->port->read(display->board, data, sizeof data);
    while (count) {
        hmic_display_receive(display, data, count, display->now);
        count = display->port->read(display->board, data, sizeof data);
    }
}

static void write_line(hmic_display *display)
{
    uint32_t taken = 0;
    if (display->out_count)
        taken = display->port->write(display->board, display->out, display->out_count);
    display->out_count -= taken;
    memmove(display->out, display->out + taken, display->out_count);
    if (display->rate_due && !display->out_count) {
        display->rate_due = false;
        display->port->rate(display->board, display->rate_next);
    }
}

static void look_for_finger(hmic_display *display)
{
    uint16_t x = 0, y = 0;
    bool down = display->port->finger(display->board, &x, &y);
    if (down) {
        display->finger_x = x;
        display->finger_y = y;
    }
    if (down && !display->fingered)
        hmic_display_press(display, x, y);
    else if (!down && display->fingered)
        hmic_display_release(display, display->finger_x, display->finger_y);
    display->fingered = down;
}

/* ---- the panel ---- */

/* Paints an area in as few bands as the memory for pixels allows. */
static void paint_area(hmic_display *display, const hmic_moment *moment, hmic_area band)
{
    uint32_t width = (uint32_t)(band.right - band.left), row = width * (display->port->depth / 8u);
    int32_t bottom = band.bottom, lines = (int32_t)(display->memory.pixels_size / row);
    for (; band.top < bottom; band.top = band.bottom) {
        uint32_t height;
        band.bottom = hmic_least(band.top + lines, bottom);
        height = (uint32_t)(band.bottom - band.top);
        if (display->packed)
            hmic_paint(&display->pack, moment, band, display->memory.pixels);
        else
            memset(display->memory.pixels, 0, height * row);
        display->port->push(display->board, (uint16_t)band.left, (uint16_t)band.top, (uint16_t)width,
                            (uint16_t)height, display->memory.pixels);
    }
}

static void gather_changes(hmic_display *display, const hmic_moment *moment)
{
    hmic_moment before = *moment;
    hmic_area panel = {0, 0, 0, 0};
    panel.right = display->port->width;
    panel.bottom = display->port->height;
    before.raw = display->memory.painted;
    before.clock = display->painted_clock;
    display->areas.count = 0;
    if (!display->painted || display->painted_screen != moment->screen || display->painted_theme != moment->theme)
        hmic_areas_add(&display->areas, &panel);
    else if (display->packed)
        hmic_changed(&display->pack, &before, moment, &display->areas);
}

void hmic_display_paint(hmic_display *display)
{
    hmic_moment moment;
    uint32_t number;
    moment.screen = display->screen;
    moment.theme = display->theme;
    moment.raw = display->memory.raw;
    moment.clock = display->now;
    gather_changes(display, &moment);
    for (number = 0; number < display->areas.count; number++)
        paint_area(display, &moment, display->areas.list[number]);
    if (display->packed)
        memcpy(display->memory.painted, display->memory.raw, display->pack.channels * sizeof *display->memory.raw);
    display->painted = true;
    display->painted_clock = moment.clock;
    display->painted_screen = moment.screen;
    display->painted_theme = moment.theme;
}

void hmic_display_turn(hmic_display *display)
{
    display->now = display->port->milliseconds(display->board);
    read_line(display);
    look_for_finger(display);
    hmic_display_pass(display, display->now);
    if (!display->out_count)
        hmic_display_compose(display);
    write_line(display);
    hmic_display_paint(display);
}
