/* Two banks in flash, and records that say which one counts. The layout is that of hmic/display/store.py. */
#ifndef HMIC_STORE_H
#define HMIC_STORE_H

#include "hmic_port.h"

enum { HMIC_UNIT = 64, HMIC_IDENTITY = 8 };

typedef struct hmic_store {
    const hmic_port *port;
    void *board;
    uint8_t bank;      /* of the pack in use */
    bool open, failed; /* a pack arrives */
    uint32_t bank_at[2], directory, capacity;
    /* the pack in use: none with size 0 */
    uint32_t record_at, sequence, size_in_use;
    uint32_t size; /* of the pack that arrives */
} hmic_store;

/* Lays out the flash and looks for the pack that counts. False: the flash is too small or oddly cut. */
bool hmic_store_start(hmic_store *store, const hmic_port *port, void *board);

const uint8_t *hmic_store_in_use(const hmic_store *store);

/* Makes room for a pack; what is there already of the same one is kept. If not `fresh`, only that is gone on with. */
bool hmic_store_begin(hmic_store *store, uint32_t size, const uint8_t *identity, bool fresh);
/* Throws away what has arrived. */
void hmic_store_discard(hmic_store *store);

static inline uint32_t hmic_store_units(const hmic_store *store)
{
    return (store->size + HMIC_UNIT - 1) / HMIC_UNIT;
}

/* Whether a unit is there. Of a flash that fails all are said to be: the hash will tell. */
bool hmic_store_has(const hmic_store *store, uint32_t unit);
/* Keeps `size` bytes from a unit on, the last of which may fill its unit in part. */
void hmic_store_keep(hmic_store *store, uint32_t unit, const uint8_t *data, uint32_t size);

const uint8_t *hmic_store_arrived(const hmic_store *store);

/* Makes what arrived, whose SHA-256 this is, the pack in use: whole or not at all. */
bool hmic_store_activate(hmic_store *store, const uint8_t digest[32]);

#endif
