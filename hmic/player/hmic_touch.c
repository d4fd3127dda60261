#include "hmic_display.h"

/* Touches: numbered, kept until heard (PROTOCOL.md, section 7). */

enum { TOUCH = 0x43, AGAIN = 150 };

/* The smallest zone under a point, the first of equal ones: its number + 1, or 0. */
static uint32_t zone_at(const hmic_display *display, uint32_t x, uint32_t y)
{
    const uint8_t *screen = hmic_record(&display->pack, HMIC_SCREENS, display->screen, HMIC_SCREEN_SIZE);
    const uint8_t *zone = hmic_record(&display->pack, HMIC_ZONES, hmic_u32(screen + 20), HMIC_ZONE_SIZE);
    uint32_t count = hmic_u16(screen + 18), number, found = 0, least = 0xFFFFFFFFu;
    for (number = 1; number <= count; number++, zone += HMIC_ZONE_SIZE) {
        uint32_t width = hmic_u16(zone + 4), height = hmic_u16(zone + 6);
        /* what lies left of or above the zone wraps around and is large */
        if (x - hmic_u16(zone) < width && y - hmic_u16(zone + 2) < height && width * height < least) {
            least = width * height;
            found = number;
        }
    }
    return found;
}

static bool feel(hmic_display *display, uint8_t phase, uint16_t x, uint16_t y)
{
    hmic_touch *touch = &display->touches[display->touch_count];
    if (display->state != HMIC_SHOWING || display->touch_count == HMIC_MOST_TOUCHES)
        return false;
    touch->number = display->next_touch++;
    touch->at = display->now;
    touch->screen = display->shown_screen;
    touch->zone = (uint16_t)(display->packed ? zone_at(display, x, y) : 0);
    touch->x = x;
    touch->y = y;
    touch->phase = phase;
    touch->sent = false;
    display->touch_count++;
    return true;
}

bool hmic_display_press(hmic_display *display, uint16_t x, uint16_t y)
{
    display->pressed = true;
    return feel(display, HMIC_PRESS, x, y);
}

bool hmic_display_release(hmic_display *display, uint16_t x, uint16_t y)
{
    if (!display->pressed)
        return false;
    display->pressed = false;
    return feel(display, HMIC_RELEASE, x, y);
}

static bool send_touch(hmic_display *display, hmic_touch *touch)
{
    uint8_t body[32], *at = body;
    uint32_t age = (display->now - touch->at + 5) / 10;
    *at++ = TOUCH;
    at = hmic_write_number(at, touch->number);
    at = hmic_write_number(at, touch->screen);
    at = hmic_write_number(at, touch->zone);
    at = hmic_write_number(at, touch->phase);
    at = hmic_write_number(at, touch->x);
    at = hmic_write_number(at, touch->y);
    *at++ = (uint8_t)(age > 255 ? 255 : age);
    return hmic_send(display, body, (uint32_t)(at - body), display->seal);
}

void hmic_touches_compose(hmic_display *display)
{
    uint32_t number;
    bool again = display->touch_due && hmic_late(display, display->touch_at, AGAIN);
    if (again || !display->touch_due)
        display->touch_at = display->now;
    if (again)
        for (number = 0; number < display->touch_count; number++)
            display->touches[number].sent = false;
    display->touch_due = display->touch_count > 0;
    for (number = 0; number < display->touch_count; number++)
        if (!display->touches[number].sent) {
            if (!send_touch(display, &display->touches[number]))
                return;
            display->touches[number].sent = true;
        }
}

/* Numbering begins anew; what no host has heard is lost, which the next one is told. */
void hmic_touches_give_up(hmic_display *display)
{
    display->touches_lost += display->touch_count;
    display->touch_count = display->next_touch = 0;
    display->touch_due = false;
}

void hmic_touches_heard(hmic_display *display, uint32_t number)
{
    uint32_t heard = 0;
    while (heard < display->touch_count && display->touches[heard].number < number)
        heard++;
    display->touch_count -= heard;
    memmove(display->touches, display->touches + heard, display->touch_count * sizeof *display->touches);
    if (!display->touch_count)
        display->touch_due = false;
}
