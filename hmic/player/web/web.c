/* The player as a WebAssembly module. All memory is the caller's: it is imported, the module's own constants and
   its stack lie below `__heap_base`, and what is given here lies above. Pointers are byte offsets into it. */
#include "hmic_display.h"

#define DOOR(name) __attribute__((export_name(#name))) name

enum { SECTOR = 4096, PAGE = 256 };

/* A display whose line, flash and panel are memory. */
typedef struct web {
    hmic_port port;
    hmic_display display;
    uint8_t *flash, *frame;
    uint32_t nonce;
} web;

static uint32_t read_none(void *board, uint8_t *to, uint32_t room)
{
    (void)board, (void)to, (void)room;
    return 0;
}

static uint32_t write_none(void *board, const uint8_t *from, uint32_t count)
{
    (void)board, (void)from, (void)count;
    return 0;
}

static void set_rate(void *board, uint32_t baud) { (void)board, (void)baud; }

static uint32_t milliseconds(void *board) { return ((web *)board)->display.now; }

static uint32_t some_bits(void *board) { return ((web *)board)->nonce; }

static bool erase(void *board, uint32_t offset)
{
    memset(((web *)board)->flash + offset, 0xFF, SECTOR);
    return true;
}

static bool program(void *board, uint32_t offset, const uint8_t *data, uint32_t size)
{
    uint8_t *at = ((web *)board)->flash + offset;
    for (; size; size--, at++, data++)
        *at = (uint8_t)(*at & *data);
    return true;
}

static void push(void *board, uint16_t left, uint16_t top, uint16_t width, uint16_t height, const void *pixels)
{
    const web *self = board;
    uint32_t pixel = self->port.depth == 16 ? 2 : 3;
    uint8_t *to = self->frame + ((uint32_t)top * self->port.width + left) * pixel;
    const uint8_t *from = pixels;
    for (; height; height--, to += self->port.width * pixel, from += width * pixel)
        memcpy(to, from, width * pixel);
}

static bool no_finger(void *board, uint16_t *x, uint16_t *y)
{
    (void)board, (void)x, (void)y;
    return false;
}

static void backlight(void *board, uint8_t percent) { (void)board, (void)percent; }

/* Bytes that a display takes, for packs of so many channels. */
uint32_t DOOR(web_size)(uint32_t width, uint32_t depth, uint32_t channels)
{
    return (uint32_t)sizeof(web) + 7 * channels + 16 + width * (depth == 16 ? 2 : 3);
}

/* Begins. `flash`, of whole sectors of 4096 bytes, is kept by the caller from one time to the next; `frame` takes the
   panel's pixels. `nonce`: 32 random bits. */
bool DOOR(web_start)(web *self, uint8_t *flash, uint32_t flash_size, uint8_t *frame, uint32_t width, uint32_t height,
                     uint32_t depth, uint32_t channels, uint32_t nonce)
{
    const hmic_port port = {read_none, write_none, set_rate,   milliseconds,    some_bits,        erase,          program,
                            push,      no_finger,  backlight,  flash,           flash_size,       SECTOR,         PAGE,
                            115200,    0,          (uint16_t)width, (uint16_t)height, (uint8_t)depth, false};
    hmic_memory memory;
    memory.raw = (uint16_t *)(self + 1);
    memory.painted = memory.raw + channels;
    memory.held = memory.painted + channels;
    memory.pixels = memory.held + channels;
    memory.pixels_size = width * (depth == 16 ? 2 : 3);
    memory.channels = (uint16_t)channels;
    memset(self, 0, sizeof *self);
    self->port = port;
    self->flash = flash;
    self->frame = frame;
    self->nonce = nonce;
    return hmic_display_start(&self->display, &self->port, self, &memory);
}

bool DOOR(web_install)(web *self, const uint8_t *data, uint32_t size)
{
    return hmic_display_install(&self->display, data, size);
}

void DOOR(web_receive)(web *self, const uint8_t *data, uint32_t size, uint32_t now)
{
    hmic_display_receive(&self->display, data, size, now);
    hmic_display_pass(&self->display, now);
}

/* What there is to say, at most `room` bytes, 512 or more; to be asked until there is nothing. */
uint32_t DOOR(web_outgoing)(web *self, uint8_t *to, uint32_t room)
{
    hmic_display *display = &self->display;
    uint32_t count;
    hmic_display_compose(display);
    count = display->out_count < room ? display->out_count : 0;
    memcpy(to, display->out, count);
    display->out_count -= count;
    return count;
}

/* Brings the frame up to `now` and tells how many areas changed. */
uint32_t DOOR(web_paint)(web *self, uint32_t now)
{
    hmic_display_pass(&self->display, now);
    hmic_display_paint(&self->display);
    return self->display.areas.count;
}

/* The frame as the bytes red, green, blue, 255 of each pixel. */
void DOOR(web_rgba)(const web *self, uint8_t *to)
{
    uint32_t left = (uint32_t)self->port.width * self->port.height;
    const uint8_t *from = self->frame;
    for (; left; left--, to += 4) {
        if (self->port.depth == 16) {
            uint32_t word = hmic_u16(from), red = word >> 11, green = word >> 5 & 63u, blue = word & 31u;
            to[0] = (uint8_t)(red << 3 | red >> 2);
            to[1] = (uint8_t)(green << 2 | green >> 4);
            to[2] = (uint8_t)(blue << 3 | blue >> 2);
            from += 2;
        } else {
            memcpy(to, from, 3);
            from += 3;
        }
        to[3] = 255;
    }
}

/* A finger comes down or lifts; false if no host feels it. */
bool DOOR(web_touch)(web *self, bool down, uint32_t x, uint32_t y, uint32_t now)
{
    self->display.now = now;
    return down ? hmic_display_press(&self->display, (uint16_t)x, (uint16_t)y)
                : hmic_display_release(&self->display, (uint16_t)x, (uint16_t)y);
}

/* For a preview without a line: a pack, a moment, and its whole frame. `pack` is 512 bytes for the module. */
uint32_t DOOR(web_open)(hmic_pack *pack, const uint8_t *data, uint32_t size, uint8_t *marks, uint32_t marks_size)
{
    return hmic_pack_check(pack, data, size, marks, marks_size);
}

void DOOR(web_frame)(const hmic_pack *pack, uint32_t screen, uint32_t theme, const uint16_t *raw, uint32_t clock,
                     uint8_t *pixels)
{
    hmic_moment moment;
    hmic_area area;
    moment.screen = (uint16_t)screen;
    moment.theme = (uint16_t)theme;
    moment.raw = raw;
    moment.clock = clock;
    area.left = area.top = 0;
    area.right = pack->width;
    area.bottom = pack->height;
    hmic_paint(pack, &moment, area, pixels);
}
