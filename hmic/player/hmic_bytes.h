/* Little endian numbers in a row of bytes, at any address, and the four functions asked of a C library. */
#ifndef HMIC_BYTES_H
#define HMIC_BYTES_H

#include <stdbool.h>
#include <stddef.h>
#include <stdint.h>

#ifdef __cplusplus
#include <string.h>
#else
void *memcpy(void *to, const void *from, size_t size);
void *memmove(void *to, const void *from, size_t size);
void *memset(void *to, int value, size_t size);
int memcmp(const void *one, const void *other, size_t size);
#endif

static inline uint32_t hmic_u16(const uint8_t *at) { return (uint32_t)at[0] | (uint32_t)at[1] << 8; }

static inline uint32_t hmic_u32(const uint8_t *at) { return hmic_u16(at) | hmic_u16(at + 2) << 16; }

static inline int32_t hmic_i16(const uint8_t *at)
{
    return (int32_t)((hmic_u16(at) ^ 0x8000u)) - 0x8000;
}

/* Two's complement, by arithmetic that no compiler may see otherwise. */
static inline int32_t hmic_i32(const uint8_t *at)
{
    uint32_t value = hmic_u32(at);
    return value < 0x80000000u ? (int32_t)value : -(int32_t)(0xFFFFFFFFu - value) - 1;
}

static inline int32_t hmic_least(int32_t one, int32_t other) { return one < other ? one : other; }

static inline int32_t hmic_most(int32_t one, int32_t other) { return one > other ? one : other; }

#endif
