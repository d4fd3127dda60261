/* A display on a bare core: what the core loads at power-up, and the loop. */
#include "start.h"

enum { LINES = 16, PIXEL = HMIC_DEPTH == 16 ? 2 : 3, TICK = 15 };

extern uint32_t stack_top[];
void reset(void);

static hmic_display display;
static uint16_t values[3][HMIC_MOST_CHANNELS];
static uint16_t pixels[HMIC_WIDTH * LINES * PIXEL / 2];

void board_rate(void *board, uint32_t baud) { (void)board, (void)baud; }

bool board_finger(void *board, uint16_t *x, uint16_t *y)
{
    (void)board, (void)x, (void)y;
    return false;
}

void reset(void)
{
    const hmic_memory memory = {values[0], values[1], values[2], HMIC_MOST_CHANNELS, pixels, sizeof pixels};
    board_begin();
    hmic_display_start(&display, &board_port, NULL, &memory);
    for (;;) {
        hmic_display_turn(&display);
        board_wait();
    }
}

/* The stack, where it begins, and on a Cortex-M the handlers of its own exceptions. */
extern const void *const vectors[TICK + 1];
__attribute__((section(".vectors"), used)) const void *const vectors[TICK + 1] = {
    [0] = stack_top, [1] = (const void *)reset, [TICK] = (const void *)board_tick};
