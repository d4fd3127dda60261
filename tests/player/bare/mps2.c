/* Arm's MPS2 board with the image AN386 (Cortex-M4), as QEMU has it: UART and timer are real, flash and panel are
   memory that a test reads. Addresses: Arm DAI0386, and the armv7-m SysTick. */
#include "start.h"

enum { FLASH_SIZE = 1 << 20, SECTOR = 4096, PAGE = 256, PIXEL = HMIC_DEPTH == 16 ? 2 : 3, CLOCK = 25000000 };
enum { FULL = 1, READY = 2, ENABLED = 3, PATIENCE = 20000 };

typedef struct uart {
    uint32_t data, state, control, interrupts, divider;
} uart;

typedef struct timer {
    uint32_t control, reload, value;
} timer;

#define UART ((volatile uart *)0x40004000u)
#define TIMER ((volatile timer *)0xE000E010u)
#define FLASH ((uint8_t *)0x21000000u)
#define FRAME ((uint8_t *)0x21200000u)

static volatile uint32_t elapsed;
static bool heard;

static uint32_t read_line(void *board, uint8_t *to, uint32_t room)
{
    uint32_t count = 0, tries = 0;
    (void)board;
    /* The UART holds one byte; the next comes soon after it was taken. Where none has come the core goes to sleep. */
    for (; count < room && tries < (count || heard ? PATIENCE : 1); tries++)
        if (UART->state & READY) {
            to[count++] = (uint8_t)UART->data;
            tries = 0;
        }
    heard = count > 0;
    return count;
}

static uint32_t write_line(void *board, const uint8_t *from, uint32_t count)
{
    uint32_t taken = 0;
    (void)board;
    for (; taken < count && !(UART->state & FULL); taken++)
        UART->data = from[taken];
    return taken;
}

static uint32_t milliseconds(void *board)
{
    (void)board;
    return elapsed;
}

static uint32_t some_bits(void *board)
{
    (void)board;
    return TIMER->value;
}

static bool erase(void *board, uint32_t offset)
{
    (void)board;
    memset(FLASH + offset, 0xFF, SECTOR);
    return true;
}

static bool program(void *board, uint32_t offset, const uint8_t *data, uint32_t size)
{
    uint8_t *at = FLASH + offset;
    (void)board;
    for (; size; size--, at++, data++)
        *at = (uint8_t)(*at & *data);
    return true;
}

static void push(void *board, uint16_t left, uint16_t top, uint16_t width, uint16_t height, const void *pixels)
{
    uint8_t *to = FRAME + ((uint32_t)top * HMIC_WIDTH + left) * PIXEL;
    const uint8_t *from = pixels;
    (void)board;
    for (; height; height--, to += HMIC_WIDTH * PIXEL, from += width * PIXEL)
        memcpy(to, from, (size_t)width * PIXEL);
}

static void backlight(void *board, uint8_t percent) { (void)board, (void)percent; }

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

void board_begin(void)
{
    elapsed = 0;
    heard = false;
    memset(FLASH, 0xFF, FLASH_SIZE);
    UART->divider = CLOCK / HMIC_BAUD;
    UART->control = ENABLED;
    TIMER->reload = CLOCK / 1000 - 1;
    TIMER->value = 0;
    TIMER->control = 7; /* on, with its interrupt, by the core's clock */
}

void board_wait(void)
{
    if (!heard)
        __asm__ volatile("wfi");
}

void board_tick(void) { elapsed++; }
