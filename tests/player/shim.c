/* What tests ask of the player beside its own functions: its structs are not for them to lay out. */
#include "hmic_display.h"

enum { STORE_FACTS = 8, DISPLAY_FACTS = 19 };

uint32_t shim_size(void);
uint32_t shim_size(void) { return (uint32_t)sizeof(hmic_display); }

/* Everything there is to say now. */
uint32_t shim_outgoing(hmic_display *display, uint32_t now, uint8_t *to, uint32_t room);
uint32_t shim_outgoing(hmic_display *display, uint32_t now, uint8_t *to, uint32_t room)
{
    uint32_t made = 0;
    display->now = now;
    for (;;) {
        hmic_display_compose(display);
        if (!display->out_count || display->out_count > room - made)
            return made;
        memcpy(to + made, display->out, display->out_count);
        made += display->out_count;
        display->out_count = 0;
    }
}

/* The rate to set once all is on the line; -1 for no change. */
int64_t shim_rate(hmic_display *display);
int64_t shim_rate(hmic_display *display)
{
    if (!display->rate_due)
        return -1;
    display->rate_due = false;
    return display->rate_next;
}

uint32_t shim_said(hmic_display *display, uint8_t *to);
uint32_t shim_said(hmic_display *display, uint8_t *to)
{
    uint32_t count = display->out_count;
    memcpy(to, display->out, count);
    display->out_count = 0;
    return count;
}

/* A finger that lifts, whether or not one came down before. */
bool shim_lift(hmic_display *display, uint16_t x, uint16_t y);
bool shim_lift(hmic_display *display, uint16_t x, uint16_t y)
{
    display->pressed = true;
    return hmic_display_release(display, x, y);
}

/* StoreTold and Told of tests/tools/player_display.py. */
void shim_store(const hmic_store *store, uint32_t told[STORE_FACTS]);
void shim_store(const hmic_store *store, uint32_t told[STORE_FACTS])
{
    const uint8_t *flash = store->port->flash;
    told[0] = store->capacity;
    told[1] = store->sequence;
    told[2] = store->size_in_use;
    told[3] = (uint32_t)(hmic_store_in_use(store) - flash);
    told[4] = store->open ? store->size : 0;
    told[5] = (uint32_t)(hmic_store_arrived(store) - flash);
    told[6] = store->open;
    told[7] = store->failed;
}

void shim_display(const hmic_display *display, uint32_t told[STORE_FACTS + DISPLAY_FACTS]);
void shim_display(const hmic_display *display, uint32_t told[STORE_FACTS + DISPLAY_FACTS])
{
    shim_store(&display->store, told);
    told += STORE_FACTS;
    told[0] = display->packed;
    told[1] = display->screen;
    told[2] = display->theme;
    told[3] = display->brightness;
    told[4] = display->packed ? display->pack.channels : 0;
    told[5] = display->state;
    told[6] = display->sealed;
    told[7] = display->seal;
    told[8] = display->scene;
    told[9] = display->number;
    told[10] = display->dropped;
    told[11] = display->has_show;
    told[12] = display->shown_screen;
    told[13] = display->shown_count;
    told[14] = display->count;
    told[15] = display->touch_count;
    told[16] = display->line.count;
    told[17] = display->doubtful;
    told[18] = display->late;
}
