/* Any bytes, and any frames with a right check, to a whole display. Invariants of PLAYER.md that are held here:
   1, 2  nothing is read or written outside the memory that was given: each part is a block of the heap of just
         its size (AddressSanitizer);
   5     no value is shown as live unless a host said so: before the first Show none is, nor when nothing has come
         for a second;
   6     what it says are whole frames, and no more than its buffer;
   7     a sound pack is in use after whatever comes, once one was there;
   8     the flash is only erased and programmed within its bounds, a pack in use never. */
#define OWN_MAIN
#include "fuzz.h"

#include "hmic_display.h"

enum { FILL = 8, RESUME = 3, CHANNELS = 64, SECTOR = 512, PAGE = 128, FLASH = 96 * SECTOR, WIDTH = 40, HEIGHT = 20 };

typedef struct bench {
    hmic_port port;
    hmic_display *display;
    uint8_t *flash;
    hmic_memory memory;
    uint32_t now, heard, frames; /* heard: when something came last */
    int showed;
} bench;

static uint32_t none_read(void *board, uint8_t *to, uint32_t room)
{
    (void)board, (void)to, (void)room;
    return 0;
}

static uint32_t some_written(void *board, const uint8_t *from, uint32_t count)
{
    bench *self = board;
    uint32_t taken = self->now % 7 ? count : count / 2;
    require(count <= HMIC_OUT, "6: no more than its buffer");
    require(!count || !from[count - 1], "6: whole frames");
    return count == taken ? count : 0;
}

static void rate(void *board, uint32_t baud) { (void)board, (void)baud; }

static uint32_t clock_of(void *board) { return ((bench *)board)->now; }

static uint32_t bits(void *board)
{
    (void)board;
    return 77;
}

static void outside_use(const bench *self, uint32_t offset, uint32_t size)
{
    const hmic_store *store = &self->display->store;
    uint32_t begin = store->bank_at[store->bank] + store->directory;
    require(offset <= FLASH && size <= FLASH - offset, "8: within the flash");
    require(!store->size_in_use || offset + size <= begin || offset >= begin + store->size_in_use,
            "8: not the pack in use");
}

static bool erase(void *board, uint32_t offset)
{
    bench *self = board;
    require(offset % SECTOR == 0, "8: whole sectors");
    outside_use(self, offset, SECTOR);
    memset(self->flash + offset, 0xFF, SECTOR);
    return self->now % 97 != 0;
}

static bool program(void *board, uint32_t offset, const uint8_t *data, uint32_t size)
{
    bench *self = board;
    uint32_t place;
    outside_use(self, offset, size);
    require(offset / PAGE == (offset + size - 1) / PAGE, "8: within a page");
    for (place = 0; place < size; place++)
        self->flash[offset + place] = (uint8_t)(self->flash[offset + place] & data[place]);
    return self->now % 101 != 0;
}

static void push(void *board, uint16_t left, uint16_t top, uint16_t width, uint16_t height, const void *pixels)
{
    (void)board;
    require(left + width <= WIDTH && top + height <= HEIGHT && width && height, "2: within the panel");
    require(((const uint8_t *)pixels)[width * height * 2 - 1] + 1, "2: its pixels can be read");
}

static bool finger(void *board, uint16_t *x, uint16_t *y)
{
    bench *self = board;
    *x = (uint16_t)(self->now % 60);
    *y = (uint16_t)(self->now % 30);
    return self->now % 13 < 3;
}

static void light(void *board, uint8_t percent)
{
    (void)board;
    require(percent <= 100, "5: a percentage");
}

static void frame(bench *self, const uint8_t *body, uint32_t size, uint32_t seal)
{
    uint8_t line[HMIC_MOST_STUFFED + 8], *exact;
    uint32_t length = hmic_frame(line, body, size, seal);
    exact = malloc(length);
    self->frames++;
    self->heard = self->now;
    memcpy(exact, line, length);
    hmic_display_receive(self->display, exact, length, self->now);
    free(exact);
}

/* The number that a value frame has if it follows on what the display holds. */
static uint32_t number_of(const hmic_display *display, const uint8_t *body, uint32_t size)
{
    if (size == 1 && *body == 0xFF)
        return display->number;
    return *body == RESUME && size == 3 ? body[1] : display->number + 1;
}

/* A value frame's seal: that of what the display holds. */
static uint32_t value_seal(const hmic_display *display, uint32_t number)
{
    uint32_t seal = hmic_crc16_number(display->seal, display->scene, 4), place;
    seal = hmic_crc16_number(seal, number, 4);
    seal = hmic_crc16_number(seal, display->late, 2);
    for (place = 0; place < display->count; place++)
        seal = hmic_crc16_number(seal, display->memory.held[place], 2);
    return seal;
}

static void nothing_live(const hmic_display *display, const char *what)
{
    uint32_t channel;
    for (channel = 0; channel < display->pack.channels; channel++)
        require(display->memory.raw[channel] < HMIC_LIVE, what);
}

static void late_not_live(const hmic_display *display)
{
    const hmic_pack *screens = &display->pack;
    const uint8_t *screen = hmic_record(screens, HMIC_SCREENS, display->screen, HMIC_SCREEN_SIZE);
    uint32_t listed = hmic_u16(screen + 16), place;
    require(display->late <= display->count, "5: no more is late than the list has");
    for (place = listed > display->late ? listed - display->late : 0; display->has_show && place < listed; place++) {
        uint32_t channel = hmic_u16(hmic_record(screens, HMIC_SCREEN_CHANNELS, hmic_u32(screen + 12) + place, 2));
        require(display->memory.raw[channel] < HMIC_LIVE, "5: nothing is live that the host calls late");
    }
}

/* One step of the input: how many bytes it took. */
static size_t step(bench *self, const uint8_t *data, size_t size)
{
    hmic_display *display = self->display;
    size_t length = size > 2 ? data[1] + (data[0] & 1 ? 256u : 0u) : 0;
    const uint8_t *body = data + 2;
    if (size <= 2)
        return size;
    if (length > size - 2)
        length = size - 2;
    if (length > HMIC_MOST_BODY)
        length = HMIC_MOST_BODY;
    self->now += data[0] >> 4 == 15 ? 700 : data[0] >> 4;
    switch (data[0] >> 1 & 7) {
    case 0:
        self->frames++;
        self->heard = self->now;
        hmic_display_receive(display, body, (uint32_t)length, self->now);
        break;
    case 1:
    case 2:
    case 3:
        if (length && (body[0] == 1 || body[0] == 7))
            frame(self, body, (uint32_t)length, HMIC_PLAIN_SEAL);
        else if (length)
            frame(self, body, (uint32_t)length, display->seal);
        self->showed = self->showed || display->has_show;
        break;
    case 4:
        if (length && display->sealed) {
            uint8_t change[HMIC_MOST_BODY];
            memcpy(change, body, length);
            if (change[0] != FILL && change[0] != RESUME)
                change[0] = (uint8_t)(change[0] | 0x80);
            frame(self, change, (uint32_t)length, value_seal(display, number_of(display, change, (uint32_t)length)));
        }
        break;
    default:
        hmic_display_turn(display);
        if (self->now - self->heard >= 1000)
            nothing_live(display, "5: nothing is live after a second of silence");
        late_not_live(display);
        break;
    }
    require(display->packed, "7: a sound pack is in use");
    if (!self->showed)
        nothing_live(display, "5: nothing is live before a Show");
    return length + 2;
}

static const uint8_t *pack;
static uint32_t pack_size;

static void begin(bench *self, bool two_wires)
{
    const hmic_port port = {none_read, some_written, rate,   clock_of, bits, erase, program, push, finger, light,
                            NULL,      FLASH,        SECTOR, PAGE,     9600, 57600, WIDTH,   HEIGHT, 16, two_wires};
    memset(self, 0, sizeof *self);
    self->port = port;
    self->port.flash = self->flash = malloc(FLASH);
    memset(self->flash, 0xFF, FLASH);
    self->now = 1;
    self->display = malloc(sizeof *self->display);
    self->memory.raw = malloc(2 * CHANNELS);
    self->memory.painted = malloc(2 * CHANNELS);
    self->memory.held = malloc(2 * CHANNELS);
    self->memory.channels = CHANNELS;
    self->memory.pixels_size = 2 * WIDTH * 3;
    self->memory.pixels = malloc(self->memory.pixels_size);
    require(hmic_display_start(self->display, &self->port, self, &self->memory), "7: it starts");
    require(hmic_display_install(self->display, pack, pack_size), "7: the pack is taken");
}

/* Power-up on what is left. */
static void end(bench *self)
{
    require(hmic_display_start(self->display, &self->port, self, &self->memory) && self->display->packed,
            "7: a sound pack is in use after power-up");
    free(self->memory.raw);
    free(self->memory.painted);
    free(self->memory.held);
    free(self->memory.pixels);
    free(self->display);
    free(self->flash);
}

int LLVMFuzzerTestOneInput(const uint8_t *data, size_t size)
{
    bench self;
    /* The first byte: which kind of line. */
    begin(&self, size && data[0] & 1);
    if (size)
        data++, size--;
    while (size) {
        size_t took = step(&self, data, size);
        data += took;
        size -= took;
    }
    end(&self);
    return 0;
}

#ifdef HMIC_FUZZER
int LLVMFuzzerInitialize(int *count, char ***names)
{
    size_t size;
    (void)count, (void)names;
    pack = whole(getenv("HMIC_PACK"), &size);
    pack_size = (uint32_t)size;
    return 0;
}
#else
/* One display that hears so many frames: stretches of the rows of a file, each row a u32 length and as many bytes. */
static void hear(const uint8_t *data, size_t size, uint32_t frames)
{
    uint32_t seed = 1, left = 0;
    size_t at = 0, row = 0;
    bench self;
    begin(&self, false);
    while (self.frames < frames) {
        size_t took;
        if (!left || at + 2 >= row) {
            size_t place;
            seed = seed * 1664525u + 1013904223u;
            place = (seed >> 4) % (size - 4);
            left = 1 + (seed >> 2) % 128;
            for (at = 0; at + 4 + hmic_u32(data + at) <= place;)
                at += 4 + hmic_u32(data + at);
            row = at + 4 + hmic_u32(data + at);
            at += 5;
        }
        took = step(&self, data + at, row - at);
        at += took;
        left--;
    }
    end(&self);
}

/* Without a fuzzer: a pack, a file of rows, and how many frames one display hears of it once each row was one
   display's. */
int main(int count, char **names)
{
    size_t size;
    uint8_t *data, *pack_data;
    if (count < 3)
        return 2;
    pack = pack_data = whole(names[1], &size);
    pack_size = (uint32_t)size;
    replay(names[2]);
    if (count > 3) {
        data = whole(names[2], &size);
        hear(data, size, (uint32_t)strtoul(names[3], NULL, 10));
        free(data);
    }
    free(pack_data);
    return 0;
}
#endif
