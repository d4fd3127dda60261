/* A whole display: a pack in flash, a line to a host, a panel, a finger. All its state is one struct of the
   caller's; several may live in one program. */
#ifndef HMIC_DISPLAY_H
#define HMIC_DISPLAY_H

#include "hmic_bytes.h"

#ifdef __cplusplus
extern "C" {
#endif

#include "hmic_paint.h"
#include "hmic_port.h"
#include "hmic_store.h"
#include "hmic_wire.h"

enum {
    HMIC_MOST_TOUCHES = 32,
    HMIC_UNPACKED = 1024, /* bytes of one Squeezed; meanwhile also one bit a channel of a pack that is checked */
    HMIC_OUT = 320
};

/* Memory whose size follows from the largest design that the display is for. */
typedef struct hmic_memory {
    uint16_t *raw;     /* one for each channel of a pack: what is shown */
    uint16_t *painted; /* likewise: what is on the panel */
    uint16_t *held;    /* one for each channel of a screen: what the host said */
    uint16_t channels; /* of each of these; at most 8192 */
    void *pixels;      /* for painting: aligned to 2, one line of the panel or more */
    uint32_t pixels_size;
} hmic_memory;

enum hmic_state { HMIC_ALONE, HMIC_MET, HMIC_SHOWING, HMIC_SILENT };

enum hmic_phase { HMIC_PRESS, HMIC_RELEASE, HMIC_SLIDING, HMIC_HOLDING };

typedef struct hmic_touch {
    uint32_t number, at;
    uint16_t screen, zone, x, y; /* zone: its number + 1, 0 outside all */
    uint8_t phase;
    bool sent;
} hmic_touch;

/* A pack that arrives (PROTOCOL.md, section 8). */
typedef struct hmic_transfer {
    bool offered, report_due, result_due, compare_due, has_result;
    uint8_t transfer, serial, result_of, outcome, compare_of;
    uint32_t base, report_at, compare_first;
    uint8_t digest[32];
} hmic_transfer;

/* Small things first: the nearer to the start, the shorter the code that reaches them. */
typedef struct hmic_display {
    /* the session */
    uint8_t state;
    bool packed, sealed, answer_due, other_version, asking, asked, doubtful, beat_due, has_last, may_speak;
    bool rated_due, rate_due, agreed, values_due;
    /* what is shown, what is on the panel */
    bool has_show, painted;
    uint8_t brightness;
    /* touches */
    bool touch_host_known, touch_due, pressed, fingered;

    uint16_t session, seal, count, place, late, dropped, other_session;
    uint16_t screen, theme, shown_screen, shown_count, painted_screen, painted_theme;
    uint16_t finger_x, finger_y;

    uint32_t now, nonce, host, scene, number, heard_at, asking_since, asked_at, fed_at, beat_at, rate_next;
    uint32_t last_taken, rated, other_host;
    uint32_t out_count, painted_clock, touch_count, next_touch, touch_host, touch_at, touches_lost;

    const hmic_port *port;
    void *board;
    hmic_memory memory;
    hmic_pack pack; /* sound if `packed` */
    hmic_store store;
    hmic_transfer transfer;
    hmic_areas areas;
    hmic_touch touches[HMIC_MOST_TOUCHES];
    uint8_t out[HMIC_OUT];
    hmic_line line;
    uint8_t unpacked[HMIC_UNPACKED];
} hmic_display;

/* Begins, or begins anew: after power-up, with `display`, `memory` and `board` still there as long as it is used.
   False: the port's facts do not fit together. Reads the whole pack some times: 0.1 to 1 s on a small core. */
bool hmic_display_start(hmic_display *display, const hmic_port *port, void *board, const hmic_memory *memory);

/* Stores a pack that came another way than over the line, say as part of the program, and shows it. False: it does
   not fit, breaks the format, or the flash fails. */
bool hmic_display_install(hmic_display *display, const uint8_t *data, uint32_t size);

/* One round: reads, thinks, answers, paints what changed. To be called again and again, each 10 ms at least; takes as
   long as what changed takes to be painted and pushed. */
void hmic_display_turn(hmic_display *display);

/* The parts of a round, for a port that does more between them. */
void hmic_display_receive(hmic_display *display, const uint8_t *data, uint32_t size, uint32_t now);
void hmic_display_pass(hmic_display *display, uint32_t now);
void hmic_display_compose(hmic_display *display);
void hmic_display_paint(hmic_display *display);

/* A finger comes down, or lifts; false if no host feels it. A port calls them between two turns for what is no glass: a
   click of a knob is a press and a release at half height, from one edge of the panel to the other (PROTOCOL.md,
   section 7). */
bool hmic_display_press(hmic_display *display, uint16_t x, uint16_t y);
bool hmic_display_release(hmic_display *display, uint16_t x, uint16_t y);

/* For the sources of the player. */
bool hmic_send(hmic_display *display, const uint8_t *body, uint32_t size, uint32_t seal);
void hmic_take_frame(hmic_display *display, uint32_t size);
void hmic_values_reset(hmic_display *display, uint32_t count, uint32_t number);
void hmic_values_show(hmic_display *display);
void hmic_take_values(hmic_display *display, uint32_t size);
void hmic_ask(hmic_display *display);
void hmic_alive(hmic_display *display);
void hmic_take_transfer(hmic_display *display, uint32_t kind, hmic_reader *reader);
void hmic_transfer_compose(hmic_display *display);
void hmic_touches_compose(hmic_display *display);
void hmic_touches_give_up(hmic_display *display);
void hmic_touches_heard(hmic_display *display, uint32_t number);
void hmic_session_forget(hmic_display *display);
void hmic_load(hmic_display *display);
bool hmic_acceptable(hmic_display *display, hmic_pack *pack, const uint8_t *data, uint32_t size);

static inline bool hmic_late(const hmic_display *display, uint32_t since, uint32_t after)
{
    return display->now - since >= after;
}

#ifdef __cplusplus
}
#endif

#endif
