#include "hmic_display.h"

/* The display's end of a session (PROTOCOL.md, sections 3 to 5). */

enum {
    GREET = 0x01,
    SHOW = 0x02,
    RESUME = 0x03,
    HOST_BEAT = 0x04,
    HEARD = 0x05,
    RATE = 0x06,
    TURN = 0x07,
    FILL = 0x08,
    FIRST_TRANSFER = 0x10,
    BLOCK = 0x11,
    SQUEEZED = 0x19,
    COPY = 0x1A,
    LAST_TRANSFER = 0x1B,
    CHANGE = 0x80,
    ANSWER = 0x41,
    DISPLAY_BEAT = 0x42,
    WANT = 0x44,
    ALONE = 0x45,
    RATED = 0x46,
    OVER = 0x47
};

/* Milliseconds. */
enum { BEAT_EVERY = 250, HOST_SILENT_AFTER = 1000, ASK_EVERY = 50, DOUBT_AFTER = 200, BROKEN_OFF = 30, TURN_REPLY = 12 };

enum { VERSION = 1, WINDOW = 256, LONGEST_OVER = 6 };

bool hmic_send(hmic_display *display, const uint8_t *body, uint32_t size, uint32_t seal)
{
    uint32_t room = HMIC_OUT - LONGEST_OVER, turn, length;
    if (size + 4 > room - display->out_count)
        return false;
    length = hmic_frame(display->out + display->out_count, body, size, seal);
    if (display->port->two_wires) {
        turn = display->port->baud / 10 * TURN_REPLY / 1000;
        if (display->out_count && display->out_count + length > turn)
            return false;
    }
    display->out_count += length;
    return true;
}

static void enter(hmic_display *display, enum hmic_state state)
{
    display->state = (uint8_t)state;
    display->values_due = true;
    if (state == HMIC_ALONE)
        display->sealed = false;
    if ((state == HMIC_ALONE || state == HMIC_SILENT) && display->agreed) {
        display->agreed = false;
        display->rate_next = 0;
        display->rate_due = true;
    }
}

void hmic_session_forget(hmic_display *display)
{
    display->nonce++;
    enter(display, HMIC_ALONE);
    display->host = display->scene = display->number = 0;
    display->session = 0;
    display->has_show = display->answer_due = display->has_last = false;
    hmic_touches_give_up(display);
    display->beat_due = true;
    memset(&display->transfer, 0, sizeof display->transfer);
    hmic_values_reset(display, 0, 0);
}

void hmic_alive(hmic_display *display)
{
    display->heard_at = display->now;
    if (display->state == HMIC_SILENT)
        enter(display, HMIC_SHOWING);
}

static bool send_answer(hmic_display *display, uint32_t host, uint32_t session)
{
    uint8_t body[64], *at = body;
    const hmic_port *port = display->port;
    uint8_t digest[32];
    *at++ = ANSWER;
    *at++ = VERSION;
    at = hmic_write_fixed(at, host, 4);
    at = hmic_write_fixed(at, session, 2);
    at = hmic_write_fixed(at, display->nonce, 4);
    at = hmic_write_number(at, port->width);
    at = hmic_write_number(at, port->height);
    at = hmic_write_number(at, port->depth);
    *at++ = display->packed;
    if (display->packed) {
        memcpy(digest, display->store.port->flash + display->store.record_at + 16, HMIC_IDENTITY);
        memcpy(at, digest, HMIC_IDENTITY);
        at += HMIC_IDENTITY;
    }
    at = hmic_write_number(at, display->store.capacity);
    at = hmic_write_number(at, display->memory.channels);
    at = hmic_write_number(at, display->packed ? display->pack.screens : 0);
    at = hmic_write_number(at, HMIC_MOST_BODY);
    at = hmic_write_number(at, WINDOW);
    at = hmic_write_number(at, port->fastest);
    at = hmic_write_number(at, display->touches_lost);
    return hmic_send(display, body, (uint32_t)(at - body), HMIC_PLAIN_SEAL);
}

static void take_greet(hmic_display *display, hmic_reader *reader)
{
    uint32_t version = hmic_read_fixed(reader, 1), host = hmic_read_fixed(reader, 4);
    uint32_t session = hmic_read_fixed(reader, 2), seal;
    if (!hmic_read_all(reader)) {
        display->dropped++;
        return;
    }
    if (version != VERSION) {
        display->other_version = true;
        display->other_host = host;
        display->other_session = (uint16_t)session;
        return;
    }
    display->answer_due = true;
    if (display->sealed && host == display->host && session == display->session)
        return;
    if (!display->touch_host_known || host != display->touch_host)
        hmic_touches_give_up(display);
    /* A host that comes back must see that its count of touches is void. */
    if (display->touch_host_known && host != display->touch_host)
        display->nonce++;
    display->touch_host = host;
    display->touch_host_known = true;
    display->host = host;
    display->session = (uint16_t)session;
    seal = hmic_crc16_number(HMIC_PLAIN_SEAL, host, 4);
    seal = hmic_crc16_number(seal, display->nonce, 4);
    display->seal = (uint16_t)hmic_crc16_number(seal, session, 2);
    display->sealed = true;
    display->scene = 0;
    hmic_values_reset(display, display->count, 0);
    display->heard_at = display->now;
    display->transfer.offered = display->transfer.report_due = display->transfer.result_due = false;
    enter(display, HMIC_MET);
}

/* The screen, theme and brightness in sight; of another screen no value has been seen. */
static void look_at(hmic_display *display, uint32_t screen, uint32_t theme, uint32_t brightness)
{
    uint32_t channel;
    bool known = display->packed && screen < display->pack.screens;
    if (!known || screen != display->screen)
        for (channel = 0; display->packed && channel < display->pack.channels; channel++)
            display->memory.raw[channel] = HMIC_UNSEEN;
    if (known)
        display->screen = (uint16_t)screen;
    if (display->packed && theme < display->pack.themes)
        display->theme = (uint16_t)theme;
    if (brightness != display->brightness)
        display->port->backlight(display->board, (uint8_t)brightness);
    display->brightness = (uint8_t)brightness;
}

static void take_show(hmic_display *display, hmic_reader *reader)
{
    uint32_t scene = hmic_read_number(reader, 0xFFFFFFFFu), number = hmic_read_number(reader, 0xFFFFFFFFu);
    uint32_t fresh = hmic_read_number(reader, 1), screen = hmic_read_number(reader, 0xFFFFFFFFu);
    uint32_t theme = hmic_read_number(reader, 0xFFFFFFFFu), brightness = hmic_read_number(reader, 100);
    uint32_t count = hmic_read_number(reader, 0xFFFF);
    uint32_t screens = display->packed ? display->pack.screens : 0;
    if (!hmic_read_all(reader) || screen >= screens || count > display->memory.channels) {
        display->dropped++;
        return;
    }
    if (scene < display->scene || (scene == display->scene && number < display->number))
        return;
    if (fresh) {
        hmic_values_reset(display, count, number);
    } else if (!display->has_show || display->shown_screen != screen || display->shown_count != count ||
               !display->scene || scene - display->scene > 1) {
        hmic_ask(display);
        return;
    }
    display->has_show = true;
    display->shown_screen = (uint16_t)screen;
    display->shown_count = (uint16_t)count;
    display->scene = scene;
    if (number != display->number)
        hmic_ask(display);
    display->beat_due = true;
    display->heard_at = display->now;
    enter(display, HMIC_SHOWING);
    look_at(display, screen, theme, brightness);
}

static void take_rate(hmic_display *display, hmic_reader *reader)
{
    uint32_t baud = hmic_read_fixed(reader, 4);
    if (!hmic_read_all(reader)) {
        display->dropped++;
        return;
    }
    display->rated_due = true;
    display->rated = baud && baud <= display->port->fastest ? baud : 0;
    if (display->rated)
        display->heard_at = display->now;
}

static void take_sealed(hmic_display *display, uint32_t kind, hmic_reader *reader)
{
    uint32_t number;
    switch (kind) {
    case SHOW:
        take_show(display, reader);
        return;
    case RATE:
        take_rate(display, reader);
        return;
    case HEARD:
        number = hmic_read_number(reader, 0xFFFFFFFFu);
        if (hmic_read_all(reader)) {
            hmic_touches_heard(display, number);
            return;
        }
        break;
    case HOST_BEAT:
        if (hmic_read_all(reader)) {
            if (display->state == HMIC_MET)
                display->heard_at = display->now;
            return;
        }
        break;
    default:
        if ((kind >= FIRST_TRANSFER && kind <= FIRST_TRANSFER + 3) || (kind >= 0x18 && kind <= LAST_TRANSFER)) {
            hmic_take_transfer(display, kind, reader);
            return;
        }
        break;
    }
    display->dropped++;
}

/* A body of so many bytes stands at the start of the line's memory, its check behind it. */
void hmic_take_frame(hmic_display *display, uint32_t size)
{
    const uint8_t *body = display->line.held;
    uint32_t kind = body[0], check = hmic_u16(body + size);
    hmic_reader reader;
    reader.at = body + 1;
    reader.end = body + size;
    reader.failed = false;
    if (kind == TURN && size == 1 && hmic_crc16(HMIC_PLAIN_SEAL, body, size) == check) {
        display->may_speak = true;
        return;
    }
    if (kind >= CHANGE || kind == FILL || kind == RESUME) {
        hmic_take_values(display, size);
        return;
    }
    if (kind == GREET ? hmic_crc16(HMIC_PLAIN_SEAL, body, size) != check
                      : !display->sealed || hmic_crc16(display->seal, body, size) != check) {
        display->dropped++;
        /* The loss of a piece of a pack is noticed by the transfer; of any other, who knows what it was. */
        if (kind != BLOCK && kind != SQUEEZED && kind != COPY)
            hmic_ask(display);
        return;
    }
    if (kind == GREET) {
        take_greet(display, &reader);
        return;
    }
    /* Sealed with this session: the host has its Answer, and what that says of lost touches. */
    display->touches_lost = 0;
    take_sealed(display, kind, &reader);
}

void hmic_display_pass(hmic_display *display, uint32_t now)
{
    display->now = now;
    if ((display->state == HMIC_MET || display->state == HMIC_SHOWING) &&
        hmic_late(display, display->heard_at, HOST_SILENT_AFTER))
        enter(display, display->state == HMIC_MET ? HMIC_ALONE : HMIC_SILENT);
    if ((display->line.count || display->line.skipping) && hmic_late(display, display->fed_at, BROKEN_OFF))
        hmic_ask(display);
    if (display->asking && !display->doubtful && hmic_late(display, display->asking_since, DOUBT_AFTER))
        display->doubtful = display->values_due = true;
    if (display->values_due)
        hmic_values_show(display);
}

static void send_want(hmic_display *display)
{
    uint8_t body[16], *at = body;
    if (!display->asking || (display->asked && !hmic_late(display, display->asked_at, ASK_EVERY)))
        return;
    *at++ = WANT;
    at = hmic_write_number(at, display->scene);
    at = hmic_write_number(at, display->number);
    if (hmic_send(display, body, (uint32_t)(at - body), display->seal)) {
        display->asked = true;
        display->asked_at = display->now;
    }
}

static void beat(hmic_display *display)
{
    uint8_t body[16], *at = body;
    bool sent = true;
    if (!display->beat_due && !hmic_late(display, display->beat_at, BEAT_EVERY))
        return;
    if (display->sealed) {
        *at++ = DISPLAY_BEAT;
        at = hmic_write_number(at, display->scene);
        at = hmic_write_number(at, display->number);
        at = hmic_write_fixed(at, display->dropped, 2);
        sent = hmic_send(display, body, (uint32_t)(at - body), display->seal);
    }
    body[0] = ALONE;
    if (sent && (display->state == HMIC_ALONE || display->state == HMIC_SILENT))
        sent = hmic_send(display, body, 1, HMIC_PLAIN_SEAL);
    if (sent) {
        display->beat_due = false;
        display->beat_at = display->now;
    }
}

static void answer_rate(hmic_display *display)
{
    uint8_t body[5];
    body[0] = RATED;
    hmic_write_fixed(body + 1, display->rated, 4);
    if (!hmic_send(display, body, sizeof body, display->seal))
        return;
    display->rated_due = false;
    if (display->rated) {
        display->agreed = display->rate_due = true;
        display->rate_next = display->rated;
    }
}

/* Adds what there is to say to `out`, most urgent first, as far as there is place. */
void hmic_display_compose(hmic_display *display)
{
    static const uint8_t over[1] = {OVER};
    if (display->port->two_wires && !display->may_speak)
        return;
    if (display->rated_due && display->sealed)
        answer_rate(display);
    if (!display->rate_due) {
        if (display->other_version)
            display->other_version = !send_answer(display, display->other_host, display->other_session);
        if (display->answer_due)
            display->answer_due = !send_answer(display, display->host, display->session);
        if (display->sealed) {
            hmic_touches_compose(display);
            send_want(display);
            hmic_transfer_compose(display);
        }
        beat(display);
    }
    if (display->port->two_wires) {
        display->out_count += hmic_frame(display->out + display->out_count, over, 1, HMIC_PLAIN_SEAL);
        display->may_speak = false;
    }
}
