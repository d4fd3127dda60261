/* A board of your own: fill in what each function must do (hmic_port.h says how). It compiles as it is and shows
   nothing. Give the linker a `main` that calls board_setup once and board_loop again and again. */
#include "hmic_display.h"
#include "hmic_turned.h"

void board_setup(void);
void board_loop(void);

enum {
    LINES = 16, /* of the panel painted at a time; fewer take less memory and more time */
    PIXEL = HMIC_DEPTH == 16 ? 2 : 3,
    FLASH_SIZE = 1 << 19,
    SECTOR = 4096,
    PAGE = 256
};

static uint32_t read_line(void *board, uint8_t *to, uint32_t room)
{
    /* Bytes that the UART's interrupt or DMA has gathered. */
    (void)board, (void)to, (void)room;
    return 0;
}

static uint32_t write_line(void *board, const uint8_t *from, uint32_t count)
{
    /* What fits into the UART's buffer. */
    (void)board, (void)from, (void)count;
    return 0;
}

static void set_rate(void *board, uint32_t baud) { (void)board, (void)baud; }

static uint32_t milliseconds(void *board)
{
    (void)board;
    return 0;
}

static uint32_t some_bits(void *board)
{
    (void)board;
    return 0;
}

static bool erase(void *board, uint32_t offset)
{
    (void)board, (void)offset;
    return false;
}

static bool program(void *board, uint32_t offset, const uint8_t *data, uint32_t size)
{
    (void)board, (void)offset, (void)data, (void)size;
    return false;
}

static void push(void *board, uint16_t left, uint16_t top, uint16_t width, uint16_t height, const void *pixels)
{
    hmic_window part = {left, top, width, height};
    hmic_window on = hmic_turned_window(HMIC_TURNED, HMIC_WIDTH, HMIC_HEIGHT, part);
    /* Set the panel's window to `on`, then send its pixels row by row: the one at column x and row y is number
       hmic_turned_pixel(HMIC_TURNED, part, x, y) of `pixels`. Upright they are sent as they lie there. */
    (void)board, (void)on, (void)pixels;
}

static bool finger(void *board, uint16_t *x, uint16_t *y)
{
    bool down = false; /* ask the glass's controller, and set x and y */
    if (down)
        hmic_upright_finger(HMIC_TURNED, HMIC_WIDTH, HMIC_HEIGHT, x, y);
    (void)board;
    return down;
}

static void backlight(void *board, uint8_t percent) { (void)board, (void)percent; }

/* Where the flash for packs is seen in memory. Here a dummy that is never written. */
static const uint8_t flash[1];

static const hmic_port port = {
    .read = read_line,
    .write = write_line,
    .rate = set_rate,
    .milliseconds = milliseconds,
    .random = some_bits,
    .erase = erase,
    .program = program,
    .push = push,
    .finger = finger,
    .backlight = backlight,
    .flash = flash,
    .flash_size = FLASH_SIZE,
    .sector = SECTOR,
    .page = PAGE,
    .baud = HMIC_BAUD,
    .fastest = 0,
    .width = HMIC_WIDTH,
    .height = HMIC_HEIGHT,
    .depth = HMIC_DEPTH,
    .two_wires = false,
};

static hmic_display display;
static uint16_t values[3][HMIC_MOST_CHANNELS];
static uint16_t pixels[HMIC_WIDTH * LINES * PIXEL / 2];

void board_setup(void)
{
    const hmic_memory memory = {values[0], values[1], values[2], HMIC_MOST_CHANNELS, pixels, sizeof pixels};
    /* Before this: clocks, UART, panel, and the flash mapped. */
    hmic_display_start(&display, &port, NULL, &memory);
#if HMIC_WITH_PACK
    if (!display.packed)
        hmic_display_install(&display, hmic_design_pack, hmic_design_pack_size);
#endif
}

void board_loop(void) { hmic_display_turn(&display); }
