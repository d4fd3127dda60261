/* Any bytes as a pack. Invariants of PLAYER.md that are held here:
   1  nothing is read outside the bytes given: they end where the heap's block ends (AddressSanitizer);
   2  nothing is written outside the pixels given: likewise;
   3  a pack that is taken can be painted at any moment, in any band, and by changed areas with the same
      result;
   4  a pack that is refused leaves nothing behind that says otherwise. */
#include "fuzz.h"

#include "hmic_paint.h"

static uint32_t seed;

static uint32_t chance(uint32_t below)
{
    seed = seed * 1664525u + 1013904223u;
    return below ? (seed >> 8) % below : 0;
}

static void scatter(const hmic_pack *pack, uint16_t *raw)
{
    uint32_t channel;
    for (channel = 0; channel < pack->channels; channel++)
        raw[channel] = (uint16_t)(chance(8) ? HMIC_LIVE + chance(hmic_steps(pack, channel)) : chance(65536));
}

/* An area in a block of the heap of just its size. */
static uint8_t *painted(const hmic_pack *pack, const hmic_moment *moment, hmic_area area)
{
    size_t size = (size_t)(area.right - area.left) * (size_t)(area.bottom - area.top) * hmic_pixel_size(pack);
    uint8_t *pixels = malloc(size);
    hmic_paint(pack, moment, area, pixels);
    return pixels;
}

static void compare(const hmic_pack *pack, const hmic_moment *moment, const uint8_t *frame, hmic_area area)
{
    uint8_t *pixels = painted(pack, moment, area);
    size_t row = (size_t)(area.right - area.left) * hmic_pixel_size(pack);
    int32_t y;
    for (y = area.top; y < area.bottom; y++)
        require(!memcmp(pixels + (size_t)(y - area.top) * row,
                        frame + ((size_t)y * pack->width + (size_t)area.left) * hmic_pixel_size(pack), row),
                "3: a part is as in the whole");
    free(pixels);
}

static void mend(const hmic_pack *pack, const hmic_moment *was, const hmic_moment *is, uint8_t *frame)
{
    hmic_areas areas;
    uint32_t number;
    areas.count = 0;
    hmic_changed(pack, was, is, &areas);
    require(areas.count <= HMIC_MOST_AREAS, "3: a few areas");
    for (number = 0; number < areas.count; number++) {
        hmic_area area = areas.list[number];
        size_t row = (size_t)(area.right - area.left) * hmic_pixel_size(pack);
        uint8_t *pixels;
        int32_t y;
        require(area.left >= 0 && area.top >= 0 && area.right <= pack->width && area.bottom <= pack->height,
                "3: areas lie within the panel");
        pixels = painted(pack, is, area);
        for (y = area.top; y < area.bottom; y++)
            memcpy(frame + ((size_t)y * pack->width + (size_t)area.left) * hmic_pixel_size(pack),
                   pixels + (size_t)(y - area.top) * row, row);
        free(pixels);
    }
}

static void use(const hmic_pack *pack)
{
    size_t values = pack->channels ? pack->channels : 1u;
    uint16_t *before = calloc(values, 2), *after = calloc(values, 2);
    hmic_moment was, is;
    hmic_area whole, part;
    uint8_t *frame;
    scatter(pack, before);
    scatter(pack, after);
    was.screen = (uint16_t)chance(pack->screens);
    was.theme = (uint16_t)chance(pack->themes);
    was.raw = before;
    was.clock = chance(100000);
    is = was;
    is.raw = after;
    is.clock += chance(3000);
    whole.left = whole.top = 0;
    whole.right = pack->width;
    whole.bottom = pack->height;
    frame = painted(pack, &was, whole);
    part.left = (int32_t)chance(pack->width);
    part.top = (int32_t)chance(pack->height);
    part.right = part.left + 1 + (int32_t)chance((uint32_t)(pack->width - part.left));
    part.bottom = part.top + 1 + (int32_t)chance((uint32_t)(pack->height - part.top));
    compare(pack, &was, frame, part);
    mend(pack, &was, &is, frame);
    compare(pack, &is, frame, whole);
    free(frame);
    free(before);
    free(after);
}

int LLVMFuzzerTestOneInput(const uint8_t *data, size_t size)
{
    static const uint8_t none[4];
    uint8_t marks[1024], *copy;
    hmic_pack pack;
    enum hmic_fault found;
    if (size > 1u << 20)
        return 0;
    copy = malloc(size ? size : 1);
    memcpy(copy, data, size);
    if (size >= 64) {
        /* A check sum that agrees, so that the fuzzer gets behind it. */
        uint32_t crc = hmic_crc32(0, copy, 16);
        crc = hmic_crc32(hmic_crc32(crc, none, 4), copy + 20, (uint32_t)size - 20);
        copy[16] = (uint8_t)crc;
        copy[17] = (uint8_t)(crc >> 8);
        copy[18] = (uint8_t)(crc >> 16);
        copy[19] = (uint8_t)(crc >> 24);
        seed = crc;
    }
    found = hmic_pack_check(&pack, copy, (uint32_t)size, marks, sizeof marks);
    /* Panels of a fuzzer's size only, so that it gets on. */
    if (found == HMIC_SOUND && (uint32_t)pack.width * pack.height <= 1u << 16)
        use(&pack);
    free(copy);
    return 0;
}
