#include "hmic_store.h"

#include "hmic_pack.h"
#include "hmic_sha256.h"

enum {
    RECORD_SIZE = 64, /* mark, sequence u32, bank u8, 3 spare, size u32, SHA-256, 12 spare, CRC-32 */
    RECORD_SECTORS = 2,
    ARRIVING_SIZE = 32, /* mark, size u32, identity, 12 spare, CRC-32 */
    ERASED = 0xFF
};

static const uint8_t record_mark[4] = {'b', 'a', 'n', 'k'}, arriving_mark[4] = {'p', 'a', 'c', 'k'};

static bool blank(const uint8_t *at, uint32_t size)
{
    while (size--)
        if (*at++ != ERASED)
            return false;
    return true;
}

static void put_u32(uint8_t *to, uint32_t value)
{
    to[0] = (uint8_t)value;
    to[1] = (uint8_t)(value >> 8);
    to[2] = (uint8_t)(value >> 16);
    to[3] = (uint8_t)(value >> 24);
}

static const uint8_t *read_at(const hmic_store *store, uint32_t offset) { return store->port->flash + offset; }

static bool program(hmic_store *store, uint32_t offset, const uint8_t *data, uint32_t size)
{
    return store->port->program(store->board, offset, data, size);
}

static bool make_blank(hmic_store *store, uint32_t sector_at)
{
    return blank(read_at(store, sector_at), store->port->sector) || store->port->erase(store->board, sector_at);
}

static bool laid_out(hmic_store *store)
{
    const hmic_port *port = store->port;
    uint32_t bank, directory = 1;
    if (!port->page || port->page % RECORD_SIZE || !port->sector || port->sector % port->page ||
        port->flash_size / port->sector <= RECORD_SECTORS)
        return false;
    bank = (port->flash_size / port->sector - RECORD_SECTORS) / 2;
    while (directory < bank &&
           directory * port->sector < ARRIVING_SIZE + (bank - directory) * port->sector / HMIC_UNIT / 8 + 1)
        directory++;
    if (bank <= directory)
        return false;
    store->bank_at[0] = RECORD_SECTORS * port->sector;
    store->bank_at[1] = store->bank_at[0] + bank * port->sector;
    store->directory = directory * port->sector;
    store->capacity = (bank - directory) * port->sector;
    return true;
}

static bool record_sound(const hmic_store *store, const uint8_t *at)
{
    return !memcmp(at, record_mark, 4) && at[8] <= 1 && hmic_u32(at + 12) <= store->capacity &&
           hmic_crc32(0, at, RECORD_SIZE - 4) == hmic_u32(at + RECORD_SIZE - 4);
}

/* The newest record below a sequence number (0 for any) whose check sum agrees; false if there is none. */
static bool newest_record(const hmic_store *store, uint32_t below, uint32_t *found)
{
    uint32_t place, best = 0;
    bool any = false;
    for (place = 0; place < RECORD_SECTORS * store->port->sector; place += RECORD_SIZE) {
        const uint8_t *at = read_at(store, place);
        uint32_t sequence = hmic_u32(at + 4);
        if (record_sound(store, at) && (!below || sequence < below) && (!any || sequence > best)) {
            any = true;
            best = sequence;
            *found = place;
        }
    }
    return any;
}

/* The newest record whose bank holds what it says. */
static void look_up(hmic_store *store)
{
    uint32_t below = 0, place;
    uint8_t digest[32];
    store->size_in_use = 0;
    while (newest_record(store, below, &place)) {
        const uint8_t *record = read_at(store, place);
        uint32_t bank = record[8], size = hmic_u32(record + 12);
        hmic_sha256(digest, read_at(store, store->bank_at[bank] + store->directory), size);
        below = hmic_u32(record + 4);
        if (!memcmp(digest, record + 16, 32) && size) {
            store->record_at = place;
            store->sequence = below;
            store->bank = (uint8_t)bank;
            store->size_in_use = size;
            return;
        }
        if (!below)
            return;
    }
}

bool hmic_store_start(hmic_store *store, const hmic_port *port, void *board)
{
    memset(store, 0, sizeof *store);
    store->port = port;
    store->board = board;
    if (!laid_out(store))
        return false;
    look_up(store);
    return true;
}

const uint8_t *hmic_store_in_use(const hmic_store *store)
{
    return read_at(store, store->bank_at[store->bank] + store->directory);
}

static uint32_t spare_at(const hmic_store *store)
{
    return store->bank_at[store->size_in_use ? 1 - store->bank : 0];
}

const uint8_t *hmic_store_arrived(const hmic_store *store) { return read_at(store, spare_at(store) + store->directory); }

void hmic_store_discard(hmic_store *store)
{
    uint32_t at = spare_at(store), end = at + store->directory;
    store->open = false;
    for (; at < end; at += store->port->sector)
        make_blank(store, at);
}

bool hmic_store_begin(hmic_store *store, uint32_t size, const uint8_t *identity, bool fresh)
{
    uint8_t head[ARRIVING_SIZE];
    uint32_t at = spare_at(store);
    if (!size || size > store->capacity)
        return false;
    memset(head, 0, sizeof head);
    memcpy(head, arriving_mark, 4);
    put_u32(head + 4, size);
    memcpy(head + 8, identity, HMIC_IDENTITY);
    put_u32(head + ARRIVING_SIZE - 4, hmic_crc32(0, head, ARRIVING_SIZE - 4));
    store->failed = false;
    store->size = size;
    store->open = !memcmp(read_at(store, at), head, sizeof head);
    if (!store->open && fresh) {
        hmic_store_discard(store);
        store->open = blank(read_at(store, at), store->directory) && program(store, at, head, sizeof head);
    }
    return store->open;
}

bool hmic_store_has(const hmic_store *store, uint32_t unit)
{
    uint32_t mark = read_at(store, spare_at(store) + ARRIVING_SIZE)[unit / 8];
    return store->failed || !(mark >> unit % 8 & 1u);
}

/* Erases the sector of a unit, unless a unit of it is in already. */
static bool made_room(hmic_store *store, uint32_t unit)
{
    uint32_t each = store->port->sector / HMIC_UNIT, first = unit / each * each, number;
    for (number = first; number < first + each && number < hmic_store_units(store); number++)
        if (hmic_store_has(store, number))
            return true;
    return make_blank(store, spare_at(store) + store->directory + first * HMIC_UNIT);
}

static void keep_unit(hmic_store *store, uint32_t unit, const uint8_t *data, uint32_t size)
{
    uint32_t at = spare_at(store);
    uint8_t mark = (uint8_t)~(1u << unit % 8);
    if (!store->open || hmic_store_has(store, unit))
        return;
    store->failed = !made_room(store, unit) ||
                    !program(store, at + store->directory + unit * HMIC_UNIT, data, size) ||
                    !program(store, at + ARRIVING_SIZE + unit / 8, &mark, 1) || !hmic_store_has(store, unit);
}

void hmic_store_keep(hmic_store *store, uint32_t unit, const uint8_t *data, uint32_t size)
{
    uint32_t part;
    for (; size; size -= part, data += part, unit++) {
        part = size < HMIC_UNIT ? size : HMIC_UNIT;
        keep_unit(store, unit, data, part);
    }
}

/* Where the next record goes: behind the newest one, or at the start of the other sector, made blank. */
static bool record_place(hmic_store *store, uint32_t *place)
{
    uint32_t newest, sector = store->port->sector, end;
    if (!newest_record(store, 0, &newest)) {
        *place = 0;
        return make_blank(store, 0);
    }
    end = (newest / sector + 1) * sector;
    for (*place = newest + RECORD_SIZE; *place < end; *place += RECORD_SIZE)
        if (blank(read_at(store, *place), RECORD_SIZE))
            return true;
    *place = newest < sector ? sector : 0;
    return make_blank(store, *place);
}

bool hmic_store_activate(hmic_store *store, const uint8_t digest[32])
{
    uint8_t record[RECORD_SIZE];
    uint32_t place, newest, bank = store->size_in_use ? 1u - store->bank : 0u, sequence = 1;
    if (!store->open || store->failed)
        return false;
    if (newest_record(store, 0, &newest))
        sequence = hmic_u32(read_at(store, newest) + 4) + 1;
    memset(record, 0, sizeof record);
    memcpy(record, record_mark, 4);
    put_u32(record + 4, sequence);
    record[8] = (uint8_t)bank;
    put_u32(record + 12, store->size);
    memcpy(record + 16, digest, 32);
    put_u32(record + RECORD_SIZE - 4, hmic_crc32(0, record, RECORD_SIZE - 4));
    if (!record_place(store, &place) || !program(store, place, record, sizeof record))
        return false;
    if (memcmp(read_at(store, place), record, sizeof record) != 0)
        return false;
    store->open = false;
    store->record_at = place;
    store->sequence = sequence;
    store->bank = (uint8_t)bank;
    store->size_in_use = store->size;
    return true;
}
