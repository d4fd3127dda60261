/* What tests ask of a display beside its own functions: its struct is not for them to lay out. */
#include "hmic_display.h"

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

void shim_told(const hmic_display *display, uint32_t told[8]);
void shim_told(const hmic_display *display, uint32_t told[8])
{
    told[0] = display->packed;
    told[1] = display->screen;
    told[2] = display->theme;
    told[3] = display->brightness;
    told[4] = display->store.size_in_use;
    told[5] = display->store.record_at;
    told[6] = display->packed ? display->pack.channels : 0;
    told[7] = display->state;
}

uint32_t shim_held(const hmic_display *display, uint32_t told[4]);
uint32_t shim_held(const hmic_display *display, uint32_t told[4])
{
    told[0] = display->seal;
    told[1] = display->scene;
    told[2] = display->number;
    told[3] = display->dropped;
    return display->sealed;
}

uint32_t shim_said(hmic_display *display, uint8_t *to);
uint32_t shim_said(hmic_display *display, uint8_t *to)
{
    uint32_t count = display->out_count;
    memcpy(to, display->out, count);
    display->out_count = 0;
    return count;
}
