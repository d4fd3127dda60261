/* UART, panel, flash and clock are registers. What stands behind them is tests/tools/player_board.py. */
#include "start.h"

enum { FLASH_SIZE = 1 << 20, SECTOR = 4096, PAGE = 256 };

/* Reading `waiting` or `result`, and writing `send`, `erase`, `program`, `show` or `wait`, is what acts. */
typedef struct registers {
    uint32_t waiting, received, send;          /* UART: bytes that have come, the next of them, one to go */
    uint32_t clock, noise;                     /* milliseconds, 32 random bits */
    uint32_t offset, size, erase, program;     /* flash: `program` takes an address */
    uint32_t left, top, width, height, show;   /* panel: `show` takes the pixels' address */
    uint32_t light, wait;                      /* backlight; the core sleeps until something may have come */
} registers;

#define REGISTERS ((volatile registers *)0x40000000u)
#define FLASH ((const uint8_t *)0x10000000u)

static uint32_t read_line(void *board, uint8_t *to, uint32_t room)
{
    uint32_t count = REGISTERS->waiting, at;
    (void)board;
    if (count > room)
        count = room;
    for (at = 0; at < count; at++)
        to[at] = (uint8_t)REGISTERS->received;
    return count;
}

static uint32_t write_line(void *board, const uint8_t *from, uint32_t count)
{
    uint32_t at;
    (void)board;
    for (at = 0; at < count; at++)
        REGISTERS->send = from[at];
    return count;
}

static uint32_t milliseconds(void *board)
{
    (void)board;
    return REGISTERS->clock;
}

static uint32_t some_bits(void *board)
{
    (void)board;
    return REGISTERS->noise;
}

static bool erase(void *board, uint32_t offset)
{
    (void)board;
    REGISTERS->erase = offset;
    return true;
}

static bool program(void *board, uint32_t offset, const uint8_t *data, uint32_t size)
{
    (void)board;
    REGISTERS->offset = offset;
    REGISTERS->size = size;
    REGISTERS->program = (uint32_t)(uintptr_t)data;
    return true;
}

static void push(void *board, uint16_t left, uint16_t top, uint16_t width, uint16_t height, const void *pixels)
{
    (void)board;
    REGISTERS->left = left;
    REGISTERS->top = top;
    REGISTERS->width = width;
    REGISTERS->height = height;
    REGISTERS->show = (uint32_t)(uintptr_t)pixels;
}

static void backlight(void *board, uint8_t percent)
{
    (void)board;
    REGISTERS->light = percent;
}

const hmic_port board_port = {
    .read = read_line,
    .write = write_line,
    .rate = board_rate,
    .milliseconds = milliseconds,
    .random = some_bits,
    .erase = erase,
    .program = program,
    .push = push,
    .finger = board_finger,
    .backlight = backlight,
    .flash = FLASH,
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

void board_begin(void) {}

void board_wait(void) { REGISTERS->wait = 1; }

void board_tick(void) {}
