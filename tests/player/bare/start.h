/* What a bare-metal port gives to start.c. */
#ifndef START_H
#define START_H

#include "hmic_display.h"

extern const hmic_port board_port;
void board_begin(void);
/* Neither board has these. */
void board_rate(void *board, uint32_t baud);
bool board_finger(void *board, uint16_t *x, uint16_t *y);
/* Until something may have come. */
void board_wait(void);
/* The core's own timer, where the port lets it run. */
void board_tick(void);

#endif
