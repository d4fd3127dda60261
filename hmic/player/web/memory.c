/* The four functions asked of a C library, where there is none: words where both ends lie alike on words. */
#include "hmic_bytes.h"

static bool alike_on_words(const void *one, const void *other) { return (((uintptr_t)one ^ (uintptr_t)other) & 3u) == 0; }

static bool on_words(const void *one) { return ((uintptr_t)one & 3u) == 0; }

void *memcpy(void *to, const void *from, size_t size)
{
    uint8_t *at = to;
    const uint8_t *place = from;
    if (alike_on_words(to, from))
        for (; size && !on_words(at); size--)
            *at++ = *place++;
    if (on_words(at) && on_words(place))
        for (; size >= 4; size -= 4, at += 4, place += 4)
            *(uint32_t *)(void *)at = *(const uint32_t *)(const void *)place;
    for (; size; size--)
        *at++ = *place++;
    return to;
}

void *memmove(void *to, const void *from, size_t size)
{
    uint8_t *at = to;
    const uint8_t *place = from;
    if (at <= place)
        return memcpy(to, from, size);
    while (size--)
        at[size] = place[size];
    return to;
}

void *memset(void *to, int value, size_t size)
{
    uint8_t *at = to;
    if (on_words(to))
        for (; size >= 4; size -= 4, at += 4)
            *(uint32_t *)(void *)at = (uint32_t)(uint8_t)value * 0x01010101u;
    for (; size; size--)
        *at++ = (uint8_t)value;
    return to;
}

int memcmp(const void *one, const void *other, size_t size)
{
    const uint8_t *a = one, *b = other;
    for (; size; size--, a++, b++)
        if (*a != *b)
            return *a - *b;
    return 0;
}
